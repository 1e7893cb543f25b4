"""The saw: which straight cuts separate the blanks of the boards, in which order, at which settings; and a saw to try
them with.

Words: *setting*, distance from the fence or the stop to the near side of the kerf · *stage* 1 cuts a board into strips,
stage 2 a strip into pieces · *lean*, how far a mitre cut is turned from square, positive when its far end lies further
from the stop. Lengths mm, angles degrees.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely
from shapely import affinity

from pipeline.geometry.curves import Array, Chain
from pipeline.geometry.flatten import chain_area
from pipeline.geometry.regions import Region
from pipeline.shopfloor.nesting import EPS, BlankSlot, SawLane, Strip, StripLayout, turn_blank

SMALL = 0.05
"""Offcuts narrower than this, mm, are dust."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SawCut:
    """One straight cut right through one part of a board."""

    board: int  # number of the board, from 1
    stage: int
    kind: str  # "rip" "crosscut" "mitre" "taper rip"
    setting: float
    lean: float  # degrees; 0: square
    part: str  # the part being sawn
    off: str  # the part that comes off at the fence or stop
    rest: str  # the part that remains
    waste: bool  # the part that comes off is neither a blank nor a strip
    line: tuple[float, float, float, float]  # centre line of the kerf on the board, from the datum side
    slot: int | None = None  # index among the board's slots of the blank that comes off

    @property
    def along_fence(self) -> bool:
        """Return whether the part is fed along the fence, where one wider than the cut is long would jam, and a short
        one can't be held."""
        x0, y0, x1, y1 = self.line
        return self.kind == "rip" and math.hypot(x1 - x0, y1 - y0) >= max(self.setting, FED_FROM)

    @property
    def key(self) -> tuple[int, str, float, float, bool]:
        """Return the key shared by cuts with the same setting of the saw and the same guide."""
        return self.stage, self.kind, round(self.setting, 2) + 0.0, round(self.lean, 2) + 0.0, self.along_fence


def list_board_cuts(layout: StripLayout, saw: SawLane, blank: Region, board: int) -> list[SawCut]:
    """List every cut of one board, parents before children."""
    cuts: list[SawCut] = []
    sheet = layout.sheet
    length, width = (sheet.length, sheet.width) if layout.ripped else (sheet.width, sheet.length)
    here, part = 0.0, f"{board}"
    slot = 0
    for number, strip in enumerate(layout.strips, 1):
        name = f"{board}.{number}"
        if strip.start - here > SMALL:
            setting = max(0.0, strip.start - saw.kerf - here)
            cuts.append(_cut_across(layout, board, setting, strip.start - saw.kerf / 2, part, f"{name}w", True))
            part, here = cuts[-1].rest, strip.start
        end = strip.start + strip.thick
        if width - end > SMALL:
            cuts.append(_cut_across(layout, board, strip.thick, end + saw.kerf / 2, part, name, False))
            sawn_on, part, here = name, cuts[-1].rest, end + saw.kerf
        else:
            sawn_on = part  # the rest of the board is the strip
        cuts += _strip_cuts(layout, strip, saw, blank, board, sawn_on, name, slot, length)
        slot += len(strip.slots)
    return cuts


def _cut_across(
    layout: StripLayout, board: int, setting: float, middle: float, part: str, off: str, waste: bool
) -> SawCut:
    """A first-stage cut: it separates a strip, or waste beside one."""
    x1 = layout.sheet.length if layout.ripped else layout.sheet.width
    line = (0.0, middle, x1, middle) if layout.ripped else (middle, 0.0, middle, x1)
    return SawCut(
        board=board,
        stage=1,
        kind="rip" if layout.ripped else "crosscut",
        setting=setting,
        lean=0.0,
        part=part,
        off=off,
        rest=f"{part}'",
        waste=waste,
        line=line,
    )


@dataclass(frozen=True, slots=True)
class _CutLine:
    """A line across the strip: the kerf's middle at the strip's datum side, and its lean (radians)."""

    at: float
    lean: float

    def compute_point(self, t: float) -> float:
        return self.at + t * math.tan(self.lean)


def _strip_cuts(
    layout: StripLayout,
    strip: Strip,
    saw: SawLane,
    blank: Region,
    board: int,
    part: str,
    label: str,
    slot: int,
    length: float,
) -> list[SawCut]:
    """The cuts of one strip, which is the part `part` by then; its pieces are named after `label`."""
    hulls = [_build_in_strip(blank, s, strip, layout.ripped) for s in strip.slots]
    todo: list[tuple[_CutLine, int | None]] = []  # with the blank whose right side it cuts
    first = hulls[0].bounds[0] - saw.trim
    if first > SMALL:
        todo.append((_CutLine(first - saw.kerf / 2, 0.0), None))
    for k, hull in enumerate(hulls):
        if k + 1 < len(hulls):
            todo += [(e, k if i == 0 else None) for i, e in enumerate(_find_between(hull, hulls[k + 1], saw))]
        elif length - hull.bounds[2] - saw.trim > SMALL:
            todo.append((_CutLine(hull.bounds[2] + saw.trim + saw.kerf / 2, 0.0), k))
    # square cuts clear of all blanks first: then every mitre is on a short piece, at one setting of the stop
    square = [e.lean == 0.0 and _is_clear(e, hulls, saw) for e, _ in todo]
    cuts: list[SawCut] = []

    def add_cut(
        stage: int, edge: _CutLine, which: int | None, name: str, off: str, rest: str, waste: bool, ref: float
    ) -> None:
        half = saw.kerf / 2 / math.cos(edge.lean)
        cuts.append(
            SawCut(
                board=board,
                stage=stage,
                kind=_name_kind(layout.ripped, edge.lean),
                setting=max(0.0, edge.at - half - ref),
                lean=math.degrees(edge.lean),
                part=name,
                off=off,
                rest=rest,
                waste=waste,
                line=_locate_line(layout, strip, edge),
                slot=None if which is None else slot + which,
            )
        )

    name, ended, group = part, 0.0, 0
    inner: list[tuple[_CutLine, int | None]] = []
    runs: list[tuple[str, float, list[tuple[_CutLine, int | None]], int | None]] = []
    for (edge, which), is_square in zip(todo, square, strict=True):
        if not is_square:
            inner.append((edge, which))
            continue
        group += 1
        waste = which is None and not inner
        alone = not inner and which is not None
        off = f"{label}w{group}" if waste else (f"{label}-{(which or 0) + 1}" if alone else f"{label}g{group}")
        add_cut(2, edge, which if alone else None, name, off, f"{name}'", waste, ended)
        if inner:
            runs.append((off, ended, inner, which))
            inner = []
        name, ended = cuts[-1].rest, edge.at + saw.kerf / 2
    if inner:
        runs.append((name, ended, inner, len(hulls) - 1))
    for piece, start, edges, last in runs:
        here, ref = piece, start
        for i, (edge, which) in enumerate(edges):
            off = f"{label}-{which + 1}" if which is not None else f"{piece}w{i + 1}"
            end = i == len(edges) - 1
            rest = f"{label}-{last + 1}" if end and last is not None else f"{here}'"
            add_cut(3, edge, which, here, off, rest, which is None, ref)
            here, ref = rest, edge.at + saw.kerf / 2 / math.cos(edge.lean)
    return cuts


def _is_clear(edge: _CutLine, hulls: Sequence[Region], saw: SawLane) -> bool:
    """Return whether a square cut here goes past every blank of the strip."""
    low, high = edge.at - saw.kerf / 2, edge.at + saw.kerf / 2
    return all(h.bounds[2] <= low + EPS or h.bounds[0] >= high - EPS for h in hulls)


def _name_kind(ripped: bool, lean: float) -> str:
    if ripped:
        return "mitre" if abs(lean) > 1e-6 else "crosscut"
    return "taper rip" if abs(lean) > 1e-6 else "rip"


def _locate_line(layout: StripLayout, strip: Strip, edge: _CutLine) -> tuple[float, float, float, float]:
    a, b = edge.at, edge.compute_point(strip.thick)
    low, high = strip.start, strip.start + strip.thick
    return (a, low, b, high) if layout.ripped else (low, a, high, b)


def _build_in_strip(blank: Region, slot: BlankSlot, strip: Strip, ripped: bool) -> Region:
    """The blank's hull in the strip's frame: along it from the board's end, across it from the strip's datum side."""
    hull = affinity.translate(turn_blank(blank, slot.turn), slot.x, slot.y)
    if not ripped:
        hull = shapely.transform(hull, lambda p: p[:, ::-1])
    return affinity.translate(hull, 0, -strip.start)


def _find_between(a: Region, b: Region, saw: SawLane) -> list[_CutLine]:
    """The lane between two neighbours: one cut, or two with waste between them where there is room for it."""
    p, q = shapely.get_coordinates(shapely.shortest_line(a, b))
    gap = math.hypot(*(q - p))
    nx, ny = (q - p) / gap

    def build_edge(off: float) -> _CutLine:  # the line at distance `off` from p towards q, perpendicular to pq
        lean = math.atan2(-ny, nx)
        return _CutLine(float((p[0] * nx + p[1] * ny + off) / nx), lean if abs(lean) > 1e-7 else 0.0)

    if gap < saw.lane + saw.kerf + SMALL:
        return [build_edge(saw.trim + saw.kerf / 2)]
    return [build_edge(saw.trim + saw.kerf / 2), build_edge(gap - saw.trim - saw.kerf / 2)]


def order_cuts(cuts: Iterable[SawCut]) -> list[SawCut]:
    """All cuts of all boards so that the saw is set as seldom as may be: what can be cut at the present setting is cut
    first; then the setting with most cuts waiting is taken, first stages before second ones."""
    waiting = list(cuts)
    made = {c.off for c in waiting} | {c.rest for c in waiting}
    ready = {c.part for c in waiting if c.part not in made}
    out: list[SawCut] = []
    key: tuple[int, str, float, float, bool] | None = None
    while waiting:
        can = [c for c in waiting if c.part in ready]
        now = [c for c in can if c.key == key]
        if not now:
            counts: dict[tuple[int, str, float, float, bool], int] = {}
            for c in can:
                counts[c.key] = counts.get(c.key, 0) + 1
            key = min(counts, key=lambda k: (k[0], -counts[k], k))
            continue
        for c in now:
            out.append(c)
            ready |= {c.off, c.rest}
        done = set(map(id, now))
        waiting = [c for c in waiting if id(c) not in done]
    return out


def group_fence_settings(cuts: Sequence[SawCut]) -> list[list[SawCut]]:
    """Cuts in saw order, grouped by the setting they are made at."""
    groups: list[list[SawCut]] = []
    for c in cuts:
        if groups and groups[-1][0].key == c.key:
            groups[-1].append(c)
        else:
            groups.append([c])
    return groups


# --- to the line -----------------------------------------------------------------------------------------------

Grain = Literal["upright", "across", "none"]
SideKind = Literal["datum", "rip", "square", "stop", "sled", "line"]
"""How a side is sawn: jointed as the datum · ripped along the fence · squared on the mitre gauge · on the mitre gauge
to a stop block · on a sled · to its line, where nothing is known of the grain."""
JOINTED_FROM = 300.0
"""Least length of a side that is jointed, mm (common practice, no source)."""
FED_FROM = 300.0
"""Least length that is fed along the fence by hand, mm: the last 300 mm of a cut are for the push stick (HSE WIS16),
and of a shorter piece nothing is left to hold. It goes on a sled."""
SQUARE = 0.005
"""Degrees: a side turned by less than this counts as square or parallel."""
_COMPASS = ("right", "upper right", "top", "upper left", "left", "lower left", "bottom", "lower right")


@dataclass(frozen=True, slots=True, kw_only=True)
class SawnSide:
    """One straight side of the blank, sawn to the line after the pour."""

    name: str  # "bottom" "right" …
    kind: SideKind
    setting: float  # from the datum side (rip) or squared end (stop); for a slanted side the distance at one end
    far: float  # for a slanted side the distance at the other end; otherwise equal to `setting`
    lean: float  # degrees: a slanted side from the datum, a slanted end from square
    length: float
    along: bool | None  # along the grain rather than across it; None: not known
    bearing: float = 0.0  # for a squared end: length of the datum side against the gauge

    @property
    def short_to_joint(self) -> bool:
        """Return whether it is too short to go over a jointer."""
        return self.kind == "datum" and self.length < JOINTED_FROM

    @property
    def short_to_rip(self) -> bool:
        """Return whether it is too short to be fed along the fence by hand."""
        return self.kind == "rip" and self.length < FED_FROM - EPS

    @property
    def outreaches(self) -> bool:
        """Return whether it is an end longer than the side against the gauge: the piece would turn while it is cut."""
        return self.kind in ("square", "stop") and self.length > self.bearing + EPS


def find_straight_sides(edge: Chain, grain: Grain | None, allowance: float = 0.0) -> tuple[SawnSide, ...]:
    """The sides of a straight-sided, convex blank in the order they are sawn. allowance: what every sawn side keeps
    beyond its line for finishing, mm; a side that is jointed or planed by hand, the datum, keeps nothing.

    The datum is the longest side along the grain. What is parallel to it is ripped along the fence, where it is not
    wider than long; ends are squared on the mitre gauge, the second to a stop block; slanted sides go on a sled.
    Material without grain has its longest side for the datum. Empty when the edge has curves or hollows: it is sawn
    along the guide line.
    """
    sides = _list_straight_runs(edge)
    if not sides or grain is None:
        return tuple(
            SawnSide(
                name=_name_direction(q - p),
                kind="line",
                setting=0.0,
                far=0.0,
                lean=0.0,
                length=_measure_length(q - p),
                along=None,
            )
            for p, q in sides
        )
    runs = [q - p for p, q in sides]
    way = (
        max(runs, key=_measure_length)
        if grain == "none"
        else np.array((0.0, 1.0) if grain == "upright" else (1.0, 0.0))
    )
    turned = [_turn_run(run, way) for run in runs]
    long = [k for k, angle in enumerate(turned) if angle < SQUARE]
    if not long:
        return tuple(
            SawnSide(
                name=_name_direction(run),
                kind="sled",
                setting=0.0,
                far=0.0,
                lean=min(a, 90 - a),
                length=_measure_length(run),
                along=a < 45,
            )
            for run, a in zip(runs, turned, strict=True)
        )
    datum = max(long, key=lambda k: (round(_measure_length(runs[k]), 6), -k))
    sides = _move_outwards(sides, [0.0 if k == datum else allowance for k in range(len(sides))])
    runs = [q - p for p, q in sides]
    along = runs[datum] / _measure_length(runs[datum])
    across = np.array((-along[1], along[0]))  # into the piece: sides run anticlockwise
    origin = sides[datum][0]
    ends = sorted(
        (k for k, angle in enumerate(turned) if abs(angle - 90) < SQUARE),
        key=lambda k: (-round(_measure_length(runs[k]), 6), k),
    )
    end_at = float((sides[ends[0]][0] - origin) @ along) if ends else None
    out = []
    for k, ((p, q), angle) in enumerate(zip(sides, turned, strict=True)):
        near, far = (float((v - origin) @ across) for v in (p, q))
        kind: SideKind = "sled"
        lean = 0.0
        if k == datum:
            kind = "datum"
        elif angle < SQUARE:
            kind = "rip" if near <= _measure_length(runs[datum]) else "sled"
        elif abs(angle - 90) < SQUARE:
            kind = "square" if k == ends[0] else "stop"
            near = far = 0.0 if kind == "square" or end_at is None else abs(float((p - origin) @ along) - end_at)
        elif angle < 45:
            lean = angle
        else:
            lean = 90 - angle
            near, far = (0.0, 0.0)
            if end_at is not None:
                near, far = (abs(float((v - origin) @ along) - end_at) for v in (p, q))
        out.append(
            SawnSide(
                name=_name_direction(runs[k]),
                kind=kind,
                setting=0.0 if near < EPS else near,
                far=0.0 if far < EPS else far,
                lean=lean,
                length=_measure_length(runs[k]),
                along=angle < 45,
                bearing=_measure_length(runs[datum]) if kind in ("square", "stop") else 0.0,
            )
        )
    rank = {"datum": 0, "rip": 1, "square": 2, "stop": 3, "sled": 4, "line": 5}
    return tuple(sorted(out, key=lambda s: (rank[s.kind], s.name)))


def _list_straight_runs(edge: Chain) -> list[tuple[Array, Array]]:
    """The sides of a convex edge of straight lines, anticlockwise; none of any other."""
    v = edge.vertices if chain_area(edge) > 0 else edge.vertices[::-1]
    if len(v) < 3 or edge.vertices[:, 2].any():
        return []
    n, out = len(v), []
    for i in range(n):
        p, q, r = v[i, :2], v[(i + 1) % n, :2], v[(i + 2) % n, :2]
        if (q[0] - p[0]) * (r[1] - q[1]) - (q[1] - p[1]) * (r[0] - q[0]) <= 0:
            return []
        out.append((p, q))
    return out


def _move_outwards(sides: list[tuple[Array, Array]], off: list[float]) -> list[tuple[Array, Array]]:
    """The sides of a convex blank, anticlockwise, each moved outwards by its own length and met with its neighbours."""
    if not any(off):
        return sides
    lines = []
    for (p, q), by in zip(sides, off, strict=True):
        way = (q - p) / _measure_length(q - p)
        lines.append((p + by * np.array((way[1], -way[0])), way))
    corners = []
    for k, (p, way) in enumerate(lines):  # intersection of each line with the next
        q, other = lines[(k + 1) % len(lines)]
        across = way[0] * other[1] - way[1] * other[0]
        corners.append(p + way * ((q[0] - p[0]) * other[1] - (q[1] - p[1]) * other[0]) / across)
    return [(corners[k - 1], corners[k]) for k in range(len(corners))]


def _measure_length(run: Array) -> float:
    return math.hypot(*run)


def _turn_run(run: Array, way: Array) -> float:
    """Measure the angle between a side and a direction, degrees, 0 to 90."""
    cross, dot = float(run[0] * way[1] - run[1] * way[0]), float(run @ way)
    return math.degrees(math.atan2(abs(cross), abs(dot)))


def _name_direction(run: Array) -> str:
    """Name the side of the blank by the direction it faces."""
    angle = math.degrees(math.atan2(-run[0], run[1])) % 360
    return _COMPASS[round(angle / 45) % 8]
