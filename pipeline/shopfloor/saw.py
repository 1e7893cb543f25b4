"""The saw: which straight cuts separate the blanks of the boards, in which order, at which settings; and a saw to try
them with.

Words: *setting*, distance from the fence or the stop to the near side of the kerf · *stage* 1 cuts a board into strips,
stage 2 a strip into pieces · *lean*, how far a mitre cut is turned from square, positive when its far end lies further
from the stop. Lengths mm, angles degrees.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import shapely
from shapely import affinity

from pipeline.geometry.curves import Chain
from pipeline.geometry.flatten import chain_area
from pipeline.geometry.regions import Region
from pipeline.shopfloor.nesting import EPS, BlankSlot, SawLane, Strip, StripLayout, turn_blank

SMALL = 0.05
"""An offcut narrower than this is dust, mm."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SawCut:
    """One straight cut right through one part of a board."""

    board: int  # counts the boards from 1
    stage: int
    kind: str  # "rip" "crosscut" "mitre" "taper rip"
    setting: float
    lean: float  # degrees; 0: square
    part: str  # what is sawn
    off: str  # what comes off at the fence or the stop
    rest: str  # what stays in the hand
    waste: bool  # what comes off is not a blank nor a strip
    line: tuple[float, float, float, float]  # middle of the kerf on the board, from the datum side
    slot: int | None = None  # of the blank that comes off, counting the board's slots from 0

    @property
    def key(self) -> tuple[int, str, float, float]:
        """Cuts of one key are made with one setting of the saw."""
        return self.stage, self.kind, round(self.setting, 2) + 0.0, round(self.lean, 2) + 0.0


def board_cuts(layout: StripLayout, saw: SawLane, blank: Region, board: int) -> list[SawCut]:
    """Every cut of one board, parents before children."""
    cuts: list[SawCut] = []
    sheet = layout.sheet
    length, width = (sheet.length, sheet.width) if layout.ripped else (sheet.width, sheet.length)
    here, part = 0.0, f"{board}"
    slot = 0
    for number, strip in enumerate(layout.strips, 1):
        name = f"{board}.{number}"
        if strip.start - here > SMALL:
            setting = max(0.0, strip.start - saw.kerf - here)
            cuts.append(_across(layout, saw, board, setting, strip.start - saw.kerf / 2, part, f"{name}w", True))
            part, here = cuts[-1].rest, strip.start
        end = strip.start + strip.thick
        if width - end > SMALL:
            cuts.append(_across(layout, saw, board, strip.thick, end + saw.kerf / 2, part, name, False))
            sawn_on, part, here = name, cuts[-1].rest, end + saw.kerf
        else:
            sawn_on = part  # what is left of the board is the strip
        cuts += _strip_cuts(layout, strip, saw, blank, board, sawn_on, name, slot, length)
        slot += len(strip.slots)
    return cuts


def _across(
    layout: StripLayout, saw: SawLane, board: int, setting: float, middle: float, part: str, off: str, waste: bool
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

    def point(self, t: float) -> float:
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
    hulls = [_in_strip(blank, s, strip, layout.ripped) for s in strip.slots]
    todo: list[tuple[_CutLine, int | None]] = []  # with the blank whose right side it is
    first = hulls[0].bounds[0] - saw.trim
    if first > SMALL:
        todo.append((_CutLine(first - saw.kerf / 2, 0.0), None))
    for k, hull in enumerate(hulls):
        if k + 1 < len(hulls):
            todo += [(e, k if i == 0 else None) for i, e in enumerate(_between(hull, hulls[k + 1], saw))]
        elif length - hull.bounds[2] - saw.trim > SMALL:
            todo.append((_CutLine(hull.bounds[2] + saw.trim + saw.kerf / 2, 0.0), k))
    # square cuts that meet no blank come first: then every mitre is made on a short piece, at one setting of the stop
    square = [e.lean == 0.0 and _meets_none(e, hulls, saw) for e, _ in todo]
    cuts: list[SawCut] = []

    def cut(
        stage: int, edge: _CutLine, which: int | None, name: str, off: str, rest: str, waste: bool, ref: float
    ) -> None:
        half = saw.kerf / 2 / math.cos(edge.lean)
        cuts.append(
            SawCut(
                board=board,
                stage=stage,
                kind=_kind(layout.ripped, edge.lean),
                setting=max(0.0, edge.at - half - ref),
                lean=math.degrees(edge.lean),
                part=name,
                off=off,
                rest=rest,
                waste=waste,
                line=_line(layout, strip, edge),
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
        cut(2, edge, which if alone else None, name, off, f"{name}'", waste, ended)
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
            cut(3, edge, which, here, off, rest, which is None, ref)
            here, ref = rest, edge.at + saw.kerf / 2 / math.cos(edge.lean)
    return cuts


def _meets_none(edge: _CutLine, hulls: Sequence[Region], saw: SawLane) -> bool:
    """Whether a square cut here goes past every blank of the strip."""
    low, high = edge.at - saw.kerf / 2, edge.at + saw.kerf / 2
    return all(h.bounds[2] <= low + EPS or h.bounds[0] >= high - EPS for h in hulls)


def _kind(ripped: bool, lean: float) -> str:
    if ripped:
        return "mitre" if abs(lean) > 1e-6 else "crosscut"
    return "taper rip" if abs(lean) > 1e-6 else "rip"


def _line(layout: StripLayout, strip: Strip, edge: _CutLine) -> tuple[float, float, float, float]:
    a, b = edge.at, edge.point(strip.thick)
    low, high = strip.start, strip.start + strip.thick
    return (a, low, b, high) if layout.ripped else (low, a, high, b)


def _in_strip(blank: Region, slot: BlankSlot, strip: Strip, ripped: bool) -> Region:
    """The blank's hull in the strip's frame: along it from the board's end, across it from the strip's datum side."""
    hull = affinity.translate(turn_blank(blank, slot.turn), slot.x, slot.y)
    if not ripped:
        hull = shapely.transform(hull, lambda p: p[:, ::-1])
    return affinity.translate(hull, 0, -strip.start)


def _between(a: Region, b: Region, saw: SawLane) -> list[_CutLine]:
    """The lane between two neighbours: one cut, or two with waste between them where there is room for it."""
    p, q = shapely.get_coordinates(shapely.shortest_line(a, b))
    gap = math.hypot(*(q - p))
    nx, ny = (q - p) / gap

    def edge(off: float) -> _CutLine:  # the line at distance `off` from p towards q, square to the shortest way
        lean = math.atan2(-ny, nx)
        return _CutLine(float((p[0] * nx + p[1] * ny + off) / nx), lean if abs(lean) > 1e-7 else 0.0)

    if gap < saw.lane + saw.kerf + SMALL:
        return [edge(saw.trim + saw.kerf / 2)]
    return [edge(saw.trim + saw.kerf / 2), edge(gap - saw.trim - saw.kerf / 2)]


def order_cuts(cuts: Iterable[SawCut]) -> list[SawCut]:
    """All cuts of all boards so that the saw is set as seldom as may be: what can be cut at the present setting is cut
    first; then the setting with most cuts waiting is taken, first stages before second ones."""
    waiting = list(cuts)
    made = {c.off for c in waiting} | {c.rest for c in waiting}
    ready = {c.part for c in waiting if c.part not in made}
    out: list[SawCut] = []
    key: tuple[int, str, float, float] | None = None
    while waiting:
        can = [c for c in waiting if c.part in ready]
        now = [c for c in can if c.key == key]
        if not now:
            counts: dict[tuple[int, str, float, float], int] = {}
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


def fence_settings(cuts: Sequence[SawCut]) -> list[list[SawCut]]:
    """Cuts in saw order, grouped by the setting they are made at."""
    groups: list[list[SawCut]] = []
    for c in cuts:
        if groups and groups[-1][0].key == c.key:
            groups[-1].append(c)
        else:
            groups.append([c])
    return groups


# --- a saw to try the list with --------------------------------------------------------------------------------


def simulate_sawing(boards: dict[str, Region], cuts: Iterable[SawCut], kerf: float) -> dict[str, Region]:
    """Saw the boards (by part name) as the list says and give every part there is at the end.

    Each cut goes in a straight line right through its part, wherever the part ends, and takes a kerf away. ValueError
    when a part is not there yet, or a cut does not leave what comes off in one piece.
    """
    parts = dict(boards)
    for c in cuts:
        if c.part not in parts:
            raise ValueError(f"cut of {c.part}, which is not there")
        part = parts.pop(c.part)
        x0, y0, x1, y1 = c.line
        dx, dy = x1 - x0, y1 - y0
        far = 10 * (sum(abs(v) for v in part.bounds) + 1) / math.hypot(dx, dy)
        through = shapely.LineString([(x0 - dx * far, y0 - dy * far), (x1 + dx * far, y1 + dy * far)])
        kerfed = part.difference(through.buffer(kerf / 2, cap_style="flat"))
        # what lies towards the fence or the stop: left of a line drawn away from the datum side, below a rip
        near: list[Region] = []
        rest: list[Region] = []
        for piece in shapely.get_parts(kerfed):
            point = piece.representative_point()
            side = dx * (point.y - y0) - dy * (point.x - x0)
            (near if (side < 0) == (abs(dx) > abs(dy)) else rest).append(piece)
        if len(near) > 1 or len(rest) > 1:
            raise ValueError(f"cut of {c.part} at {c.setting:g} leaves {len(near)} and {len(rest)} pieces")
        if near:
            parts[c.off] = near[0]
        if rest:
            parts[c.rest] = rest[0]
    return parts


# --- to the line -----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class SawnSide:
    """One straight side of the blank, sawn to the line after the pour."""

    name: str  # "bottom" "right" …
    kind: str  # "datum" "rip" "crosscut" "mitre"
    setting: float  # from the datum side (rip) or from the stop (crosscut, mitre)
    lean: float  # degrees from square
    length: float


def straight_sides(edge: Chain) -> tuple[SawnSide, ...]:
    """The sides of a straight-sided, convex blank in the order they are sawn, the lowest side being the datum.

    Empty when the edge has curves or hollows: it is sawn along the guide line by hand or with a band saw.
    """
    v = edge.vertices if chain_area(edge) > 0 else edge.vertices[::-1]
    if len(v) < 3 or edge.vertices[:, 2].any():
        return ()
    n = len(v)
    runs = []
    for i in range(n):
        p, q, r = v[i, :2], v[(i + 1) % n, :2], v[(i + 2) % n, :2]
        if (q[0] - p[0]) * (r[1] - q[1]) - (q[1] - p[1]) * (r[0] - q[0]) <= 0:
            return ()
        runs.append((p, q))
    datum = min(range(n), key=lambda i: (round(runs[i][0][1] + runs[i][1][1], 6), -abs(runs[i][1][0] - runs[i][0][0])))
    (ax, ay), (bx, by) = runs[datum]
    ux, uy = (bx - ax) / math.hypot(bx - ax, by - ay), (by - ay) / math.hypot(bx - ax, by - ay)
    sides = [SawnSide(name="bottom", kind="datum", setting=0.0, lean=0.0, length=math.hypot(bx - ax, by - ay))]
    others = [runs[(datum + k) % n] for k in range(1, n)]
    left = min(((p[0] - ax) * ux + (p[1] - ay) * uy) for p, _ in runs)
    for p, q in others:
        length = math.hypot(*(q - p))
        along = ((q[0] - p[0]) * ux + (q[1] - p[1]) * uy) / length
        up = ((q[1] - p[1]) * ux - (q[0] - p[0]) * uy) / length
        height = (p[1] - ay) * ux - (p[0] - ax) * uy
        if abs(up) < 1e-6:
            sides.append(SawnSide(name="top", kind="rip", setting=float(height), lean=0.0, length=length))
            continue
        lean = math.degrees(math.atan2(along, up)) if up > 0 else math.degrees(math.atan2(-along, -up))
        foot = (p[0] - ax) * ux + (p[1] - ay) * uy - height * math.tan(math.radians(lean))
        kind = "crosscut" if abs(lean) < 0.005 else "mitre"
        sides.append(
            SawnSide(
                name="right" if up > 0 else "left",
                kind=kind,
                setting=float(abs(foot - left)),
                lean=0.0 if kind == "crosscut" else lean,
                length=length,
            )
        )
    order = {"datum": 0, "rip": 1, "crosscut": 2, "mitre": 3}
    squared = sorted(sides, key=lambda s: (order[s.kind], s.name))
    return tuple(replace(s, setting=0.0 if s.setting < EPS else s.setting) for s in squared)
