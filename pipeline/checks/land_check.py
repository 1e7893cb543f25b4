"""Checks the land of a line: the narrowest material left inside its letters, between them, and between them and
anything else.

Every pair of letters counts, not only neighbours; the distance of their boxes is a lower bound, so only the few pairs
that could be the narrowest are measured, and those are cached. A bound is never cached in place of a distance.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np
import shapely

from pipeline.checks.glyph_metrics import GlyphMetrics
from pipeline.checks.line_context import get_letters_at, list_others, locate_on_blank
from pipeline.checks.placed_glyphs import PlacedGlyph, place_glyphs
from pipeline.checks.stroke_remedies import StrokeContext, round_up_size, suggest_larger
from pipeline.core.catalogue import cut_kinds, ways
from pipeline.core.findings import Edit, Finding, Way, build_finding, build_way
from pipeline.core.measured_values import LAND, Measurement
from pipeline.core.model import Blank, Piece, SetFigure, SetLine, SetRow
from pipeline.core.units import Units
from pipeline.cutting.cutters import CutLimits
from pipeline.geometry.curves import Array, Chain
from pipeline.geometry.flatten import flatten_chain
from pipeline.geometry.regions import build_chain_polygon

MOST_TRACKING = 120
"""Spacing wider by more than this many thousandths of an em is another design, not a remedy."""

FINENESS = 0.002
"""Flattening of the blank's outlines for distances, mm."""

WHERE = {
    "gap": "between the parts of “{a}”",
    "aperture": "in the opening of “{a}”",
    "counter": "inside “{a}”",
    "neighbour": "between “{a}” and “{b}”",
    "row": "between “{a}” and “{b}” of another row",
    "artwork": "between “{a}” and “{b}”",
    "keep-out": "between “{a}” and a keep-out",
    "pocket": "between “{a}” and the pocket",
    "hole": "between “{a}” and a hole",
    "edge": "between “{a}” and the edge",
}
"""Kinds of land, worded for findings."""

CLOSE = {
    "row": "two rows stand too close together",
    "artwork": "“{a}” stands too close to the artwork",
    "keep-out": "“{a}” stands too close to a place that is to stay free",
    "pocket": "“{a}” stands too close to the pocket",
    "hole": "“{a}” stands too close to a hole",
    "edge": "“{a}” stands too close to the edge",
}
"""The same for the client. Other kinds lie within the lettering, whose parts are too close together at this size."""


@dataclass(frozen=True, slots=True)
class LandPlace:
    """A narrow land in mm, its kind, its middle on the blank, and the letters (or letter and nothing) beside it."""

    width: float
    kind: str
    at: tuple[float, float]
    a: str
    b: str = ""
    taken: float = 0.0  # width lost to cuts that go beyond their outlines; it doesn't grow with the size

    @property
    def grows(self) -> bool:
        """Return whether it is part of the lettering, and so wider at a larger size."""
        return self.kind in ("gap", "aperture", "counter", "neighbour") and self.width + self.taken > 0

    def to_measurement(self) -> Measurement:
        return Measurement(name=LAND.key, value=self.width, kind=self.kind, at=self.at, glyph=self.a + self.b)


@dataclass(frozen=True, slots=True, eq=False)
class Obstacles:
    """Areas that lettering must keep land from, as (kind, region or line) on the blank seen from one side."""

    things: tuple[tuple[str, Any], ...]

    @staticmethod
    def from_blank(blank: Blank, side: str = "front") -> Obstacles:
        """The back is seen from behind: x runs the other way, and pockets are on the front."""
        things: list[tuple[str, Any]] = [("edge", _build_ring(blank.edge))]
        things += [("hole", build_chain_polygon(c, FINENESS)) for c in blank.holes]
        if side == "front":
            things += [("keep-out", build_chain_polygon(c, FINENESS)) for c in blank.keep_outs]
            things += [("pocket", build_chain_polygon(c, FINENESS)) for c in blank.pockets]
        else:
            things = [(kind, _mirror_thing(thing, blank.width)) for kind, thing in things]
        for _, thing in things:
            shapely.prepare(thing)
        return Obstacles(tuple(things))


def _mirror_thing(thing: Any, width: float) -> Any:
    return shapely.transform(thing, lambda p: np.column_stack((width - p[:, 0], p[:, 1])))


def _build_ring(chain: Chain) -> Any:
    return shapely.linearrings(flatten_chain(chain, FINENESS))


@dataclass(frozen=True, slots=True)
class CutSpread:
    """Reach of a cut beyond its outline, mm: with grown outlines, or half the width of a point's line round single
    lines."""

    grown: float = 0.0
    line_width: float = 0.0
    slope: float = 0.0  # tan(A/2), for lines cut to a fixed depth

    def measure(self, piece: Piece) -> float:
        if not piece.shape.single_line:
            return self.grown
        return self.line_width / 2 + (piece.shape.depth or 0.0) * self.slope

    @property
    def most(self) -> float:
        """The spread of any piece that has no depth."""
        return max(self.grown, self.line_width / 2)


def measure_lands(
    lines: Sequence[SetLine],
    blank: Blank,
    spread: CutSpread,
    measures: GlyphMetrics,
    figures: Sequence[SetFigure] = (),
) -> dict[int, list[LandPlace]]:
    """For each line (by its number) its narrowest places, the least first: inside the rows, to other rows and lines of
    its side, to figures, holes, keep-outs, pockets and the edge."""
    known = measures.recent
    found: dict[int, list[LandPlace]] = {}
    for line in lines:
        obstacles = measures.get_obstacles(blank, line.side, Obstacles.from_blank)
        key, given = ("alone", line, obstacles, spread), (line, obstacles, spread, measures)
        found[line.line] = list(known.get_or_compute(key, partial(_measure_alone, *given)))
    rows = [(line, row) for line in lines for row in line.rows]
    for i, (one, upper) in enumerate(rows):
        for other, lower in rows[i + 1 :]:
            if one.side != other.side:
                continue
            least = max(min((s.width for s in found[n.line]), default=math.inf) for n in (one, other))
            spot = _measure_between(upper, lower, spread, measures, least)
            if spot is not None:
                for number in {one.line, other.line}:
                    found[number].append(spot)
    for line in lines:
        for figure in figures:
            least = min((s.width for s in found[line.line]), default=math.inf)
            for row in line.rows if line.side == figure.side else ():
                spot = _measure_between(row, figure.rows[0], spread, measures, least)
                if spot is not None:
                    least = spot.width
                    found[line.line].append(replace(spot, kind="artwork"))
    return {number: sorted(spots, key=lambda s: s.width) for number, spots in found.items()}


def measure_figure_lands(
    figure: SetFigure, others: Sequence[SetFigure], blank: Blank, spread: CutSpread, measures: GlyphMetrics
) -> list[LandPlace]:
    """The narrowest places of a figure, the least first: inside it, to other figures of its side, to holes, keep-outs,
    pockets and the edge. Those to lettering are reported with the lettering."""
    obstacles = measures.get_obstacles(blank, figure.side, Obstacles.from_blank)
    found = [*_measure_alone(figure, obstacles, spread, measures)]
    for other in others:
        if other is not figure and other.side == figure.side:
            least = min((s.width for s in found), default=math.inf)
            spot = _measure_between(figure.rows[0], other.rows[0], spread, measures, least)
            found += [] if spot is None else [replace(spot, kind="artwork")]
    return sorted(found, key=lambda s: s.width)


def _measure_alone(
    line: SetLine, obstacles: Obstacles, spread: CutSpread, measures: GlyphMetrics
) -> tuple[LandPlace, ...]:
    """Measure a line regardless of other lines: inside its rows, and to obstacles."""
    spots = [s for row in line.rows for s in _measure_in_row(row, spread, measures)]
    least = min((s.width for s in spots), default=math.inf)
    return (*spots, *_measure_to_obstacles(line, obstacles, spread, measures, least))


# --- inside a row -------------------------------------------------------------------------------------------------


def _measure_in_row(row: SetRow, spread: CutSpread, measures: GlyphMetrics) -> Iterator[LandPlace]:
    """Measure the land inside each piece, and the narrowest between two pieces."""
    for piece in row.pieces:
        m = measures.measure(piece.shape)
        if m.land is not None:
            at = locate_on_blank(piece, m.land.x, m.land.y)
            taken = 2 * spread.measure(piece)
            width = m.land.width * piece.scale - taken
            if m.land.kind == "neighbour":
                a, b = (get_letters_at(piece.shape, (k,)) for k in m.land_who)
                yield LandPlace(width, "neighbour", at, a, b, taken)
            else:
                yield LandPlace(width, m.land.kind, at, get_letters_at(piece.shape, m.land_who), taken=taken)
    known = measures.find_least_between(row.pieces)
    if known is not None:
        first = row.pieces[0]
        value, x, y, (i, k), (j, n) = known
        one, other = row.pieces[i], row.pieces[j]
        taken = spread.measure(one) + spread.measure(other)
        a, b = get_letters_at(one.shape, (k,)), get_letters_at(other.shape, (n,))
        yield LandPlace(value * first.scale - taken, "neighbour", locate_on_blank(first, x, y), a, b, taken)


# --- between rows, and to the blank -------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, eq=False)
class _RowPieces:
    """Every atom of a row on the blank, its piece, boxes (n, 4), and the box round all of them."""

    atoms: list[PlacedGlyph]
    pieces: list[Piece]
    boxes: Array
    box: tuple[float, float, float, float]

    @property
    def widened(self) -> float:
        """Return how far a cut may go beyond its outline for a depth of its own, mm: of a V-bit of up to 180° no more
        than fits the blank."""
        return 100.0 if any(p.shape.depth for p in self.pieces) else 0.0


def _get_row_pieces(row: SetRow, measures: GlyphMetrics) -> _RowPieces | None:
    """Return the pieces of a row; None for one without area."""
    return measures.recent.get_or_compute(("placed", row), lambda: _build_row_pieces(row, measures))  # type: ignore[no-any-return]


def _build_row_pieces(row: SetRow, measures: GlyphMetrics) -> _RowPieces | None:
    atoms, pieces = [], []
    for piece in row.pieces:
        for atom in place_glyphs(piece.shape, piece.x, piece.y, scale=piece.scale, turn=piece.turn):
            if measures.get_box(atom.shape) is not None:
                atoms.append(atom)
                pieces.append(piece)
    if not atoms:
        return None
    boxes = measures.get_boxes(atoms)
    x0, y0 = boxes[:, :2].min(axis=0).tolist()
    x1, y1 = boxes[:, 2:].max(axis=0).tolist()
    return _RowPieces(atoms, pieces, boxes, (x0, y0, x1, y1))


def _measure_between(
    one: SetRow, other: SetRow, spread: CutSpread, measures: GlyphMetrics, least: float
) -> LandPlace | None:
    """The narrowest land between two rows, when it is narrower than `least`."""
    first, second = _get_row_pieces(one, measures), _get_row_pieces(other, measures)
    if first is None or second is None:
        return None
    p, q = first.box, second.box
    apart = math.hypot(max(0.0, p[0] - q[2], q[0] - p[2]), max(0.0, p[1] - q[3], q[1] - p[3]))
    if apart - first.widened - second.widened - 2 * spread.most >= least:
        return None
    key = ("between", one, other, spread, least)
    return measures.recent.get_or_compute(key, lambda: _find_narrowest(first, second, spread, measures, least))  # type: ignore[no-any-return]


def _find_narrowest(
    one: _RowPieces, other: _RowPieces, spread: CutSpread, measures: GlyphMetrics, least: float
) -> LandPlace | None:
    atoms_a, pieces_a, a = one.atoms, one.pieces, one.boxes
    atoms_b, pieces_b, b = other.atoms, other.pieces, other.boxes
    across = np.maximum(0, np.maximum(b[None, :, 0] - a[:, None, 2], a[:, None, 0] - b[None, :, 2]))
    up = np.maximum(0, np.maximum(b[None, :, 1] - a[:, None, 3], a[:, None, 1] - b[None, :, 3]))
    bound = np.hypot(across, up)
    best: LandPlace | None = None
    for flat in np.argsort(bound, axis=None, kind="stable").tolist():
        i, j = divmod(flat, len(b))
        slack = spread.measure(pieces_a[i]) + spread.measure(pieces_b[j])
        if bound[i, j] - slack >= least:
            break
        value, at = measures.distance(atoms_a[i], atoms_b[j])
        if value - slack < least:
            least = value - slack
            best = LandPlace(
                least, "row", at, _name_letter(pieces_a[i], atoms_a[i]), _name_letter(pieces_b[j], atoms_b[j])
            )
    return best


def _name_letter(piece: Piece, atom: PlacedGlyph) -> str:
    return get_letters_at(piece.shape, atom.who)


def _measure_to_obstacles(
    line: SetLine, obstacles: Obstacles, spread: CutSpread, measures: GlyphMetrics, least: float
) -> list[LandPlace]:
    """The narrowest land to each kind of obstacle, where it is narrower than `least`."""
    out = []
    for row in line.rows:
        placed = _get_row_pieces(row, measures)
        if placed is None:
            continue
        atoms, pieces = placed.atoms, placed.pieces
        hull = shapely.box(*placed.box)
        slack = max(spread.measure(p) for p in pieces)
        for kind, thing in obstacles.things:
            if shapely.distance(thing, hull) - slack >= least:
                continue
            corners = shapely.box(*placed.boxes.T)
            bound = shapely.distance(thing, corners) - slack
            for k in np.argsort(bound, kind="stable").tolist():
                if bound[k] >= least:
                    break
                own = measures.place_polygon(atoms[k])
                ends = shapely.get_coordinates(shapely.shortest_line(thing, own))
                width = float(np.hypot(*(ends[1] - ends[0]))) - spread.measure(pieces[k])
                if width < least:
                    least = width
                    x, y = ends.mean(axis=0).tolist()
                    out.append(LandPlace(width, kind, (x, y), _name_letter(pieces[k], atoms[k])))
    return out


# --- findings -----------------------------------------------------------------------------------------------------


def find_land_size(line: SetLine, spot: LandPlace, least: float) -> float:
    """Return the cap height at which a place that grows has this much land: the distance of the outlines grows with the
    letters, what the cuts take of it doesn't."""
    return line.cap_height * (least + spot.taken) / (spot.width + spot.taken)


def find_sufficient_size(line: SetLine, spots: Sequence[LandPlace], limits: CutLimits, units: Units) -> float:
    """Return the cap height from which all growing places of the line have enough land; 0 where they have it
    already."""
    least = limits.land.value or 0.0
    sizes = [find_land_size(line, spot, least) for spot in spots if spot.width < least and spot.grows]
    return round_up_size(units, max(sizes)) if sizes else 0.0


def check_lands(line: SetLine, spots: Sequence[LandPlace], by: StrokeContext, most: float = math.inf) -> list[Finding]:
    """land.too-thin at the narrowest place of the line; one finding, naming the other places' letters. most: the
    largest cap height its strokes allow."""
    limits, units = by.limits, by.order.unit
    least = limits.land.value or 0.0
    thin = [s for s in spots if s.width < least]
    if not thin:
        return []
    worst = thin[0]
    size = find_sufficient_size(line, thin, limits, units) if worst.grows else None
    x, y = worst.at
    return [
        build_finding(
            cut_kinds.LAND_TOO_THIN,
            line=line.line,
            glyph=worst.a + worst.b,
            at=worst.at,
            measured=max(0.0, worst.width),
            limit=least,
            unit="mm",
            facts={
                "text": line.text,
                "x": x,
                "y": y,
                "finer": 1,
                "close": CLOSE.get(worst.kind, "some parts stand too close together at this size").format(a=worst.a),
                "where": WHERE[worst.kind].format(a=worst.a, b=worst.b),
                "source": limits.land.source,
                "also": list_others([s.a + s.b for s in thin[1:] if s.a + s.b != worst.a + worst.b]),
            },
            ways=_find_ways(worst, size, line, by, most),
        )
    ]


def _find_ways(worst: LandPlace, size: float | None, line: SetLine, by: StrokeContext, most: float) -> tuple[Way, ...]:
    """Return what helps at this kind of place. A size is named, with the room it takes, only where it is sensible."""
    larger = None if size is None else suggest_larger(line, size, by, most)
    grows = () if larger is None else (larger,)
    if worst.kind in ("gap", "aperture", "counter"):
        return (*grows, build_way(ways.OPEN_FACE))
    if worst.kind == "neighbour":
        return (*_suggest_spacing(worst, line, by), *grows, build_way(ways.OPEN_FACE))
    return (build_way(ways.ROWS_APART if worst.kind == "row" else ways.MOVE_AWAY),)


def _suggest_spacing(worst: LandPlace, line: SetLine, by: StrokeContext) -> tuple[Way, ...]:
    """Suggest wider spacing that makes up for what two neighbours lack. Several values, the least first: the gap
    between letters that overlap in height grows by less than they are moved."""
    piece = next(piece for row in line.rows for piece in row.pieces)
    em = piece.scale * piece.shape.units_per_em
    if by.order.line[line.line - 1].arc is not None or em <= 0:
        return ()
    lacks = ((by.limits.land.value or 0.0) - worst.width) / em * 1000
    out = []
    for more in dict.fromkeys(math.ceil(lacks * part) for part in (1.0, 1.25, 1.6, 2.2)):
        tracking = line.tracking + more
        if more <= MOST_TRACKING:
            own = [key for key in ("tracking", "tightest") if key == "tracking" or _may_tighten(line, by)]
            edits = [Edit(table="line", number=line.line, key=key, value=tracking) for key in own]
            out.append(build_way(ways.TRACKING, *edits, facts={"tracking": tracking}))
    return tuple(out)


def _may_tighten(line: SetLine, by: StrokeContext) -> bool:
    """Return whether tracking may go below the designed one."""
    part = by.order.line[line.line - 1]
    return "tightest" in part.model_fields_set or part.tightest < part.tracking
