"""Grooves of a V-bit: the centre lines of the lettering with depth, as 3-D polylines in the order they are cut.

z is 0 on the face and negative in the material. The bit follows the medial axis, as deep as its cone is wide there,
and rises into corners until its flat tip touches both sides. If the face is sanded afterwards, the path is the same,
but deeper by what is taken off.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np
import shapely

from pipeline.core.config.order import Order
from pipeline.core.model import Artwork, Piece, SetLine, Shape
from pipeline.core.required import require_value
from pipeline.cutting.cutters import Cutter, compute_lowering
from pipeline.cutting.flat_floor import (
    FlatFloor,
    FloorGeometry,
    build_flat_floor,
    find_narrow_stretches,
    find_wide_stretches,
)
from pipeline.geometry.curves import Array
from pipeline.geometry.medial.centre_lines import trace_centre_lines
from pipeline.geometry.medial.stroke_width import SPECK
from pipeline.geometry.offset import OffsetOutline
from pipeline.geometry.regions import Region, build_chain_polygon, build_polygon_from_outline

STEP = 1.1
"""Sizes within this factor share centre lines, computed at the tolerance of the largest."""
ENTRY_HEIGHT = 0.35
"""The path through a letter begins at its left and ends at its right, near this fraction of the cap height, so that
moves between letters are short and level (common practice, no source)."""
TRIED = 24
"""Number of line ends, from the left, that are tried as the start of the path."""
MEETS = 1e-9
"""mm. Ends of lines this close coincide: the bit isn't lifted between them."""


@dataclass(frozen=True, slots=True)
class BitTravel:
    """Travel of a bit over all grooves, mm."""

    cutting: float
    in_air: float
    lifts: int


class GroovePlanner:
    """The grooves of one order's lettering. tolerance: how far, in mm, what is cut may lie from the artwork. lowered:
    how much deeper all of them are cut, mm; see `compute_lowering`.

    The lines of a letter, their order and their directions are worked out once for its shape and size.
    """

    def __init__(self, cutter: Cutter, tolerance: float, lowered: float = 0.0, floor: FlatFloor | None = None) -> None:
        if not cutter.cuts_grooves:
            raise ValueError(f"{cutter.name} cuts no grooves")
        self.cutter, self.tolerance, self.lowered = cutter, tolerance, lowered
        self.floor = None
        if floor is not None:
            self.floor = FloorGeometry(floor=floor, cutter=cutter, lowered=lowered, tolerance=tolerance)
        self._lines: dict[tuple[str, float], list[Array]] = {}
        self._floored: dict[tuple[str, float, bool], list[Array]] = {}
        self._cleared: dict[tuple[str, float], Region] = {}

    def plan(self, artwork: Artwork, side: str = "front") -> tuple[Array, ...]:
        """Every groove of one side as (n, 3) of x, y, z in mm, letter by letter. Rows are run forwards or backwards,
        whichever end is nearer."""
        return tuple(groove for _, grooves in self.plan_by_piece(artwork, side) for groove in grooves)

    def plan_by_piece(self, artwork: Artwork, side: str = "front") -> list[tuple[Piece, list[Array]]]:
        """The same in the same order, with the piece that each groove belongs to."""
        out: list[tuple[Piece, list[Array]]] = []
        for line in artwork.parts:
            for row in self._plan_rows(line) if line.side == side else ():
                back = out and _is_nearer_end([g for _, grooves in row for g in grooves], out[-1][1][-1][-1, :2])
                out += [(piece, [g[::-1] for g in grooves[::-1]]) for piece, grooves in row[::-1]] if back else row
        return out

    def _plan_rows(self, line: SetLine) -> Iterable[list[tuple[Piece, list[Array]]]]:
        """The pieces of each row with their grooves, from its left to its right; those that have any."""
        grown = iter(line.grown)
        for row in line.rows:
            found = [(piece, self.plan_piece(piece, next(grown, None))) for piece in row.pieces]
            found = [(piece, grooves) for piece, grooves in found if grooves]
            if found:
                yield found

    def plan_piece(self, piece: Piece, grown: OffsetOutline | None = None) -> list[Array]:
        """The grooves of one piece, mm; none of single lines. grown: what replaces its outline."""
        if piece.shape.single_line:
            return []
        if self.floor is not None:
            return [_put(line, piece) for line in self._plan_with_floor(piece.shape, piece.scale, grown)]
        c, s = math.cos(piece.turn) * piece.scale, math.sin(piece.turn) * piece.scale
        turn = np.array([[c, s], [-s, c]])
        out = []
        for line in self._get_or_plan(piece.shape, piece.scale, grown):
            placed = np.column_stack((line[:, :2] @ turn + (piece.x, piece.y), line[:, 2] * piece.scale))
            out += self._lower_line(placed)
        return out

    def compute_cleared(self, shape: Shape, scale: float) -> Region:
        """Return what a flat cutter clears of a shape's floors, drawn at the origin at this scale, mm; an empty area
        where the order clears none."""
        if self.floor is None or shape.single_line:
            return shapely.Polygon()
        key = (shape.key, scale)
        if key not in self._cleared:
            self._cleared[key] = self.floor.compute_cleared(self._build_region(shape, scale, None))
        return self._cleared[key]

    def _build_region(self, shape: Shape, scale: float, grown: OffsetOutline | None) -> Region:
        """A shape at this scale, drawn at the origin, mm."""
        if grown is not None:
            return build_chain_polygon([chain.transform(scale) for chain in grown.chains], self.tolerance / 4)
        return build_polygon_from_outline(
            Piece(shape=shape, scale=scale, x=0.0, y=0.0).build_outline(), self.tolerance / 4
        )

    def _plan_with_floor(self, shape: Shape, scale: float, grown: OffsetOutline | None) -> list[Array]:
        """The grooves of a shape whose wide strokes get a flat floor, drawn at the origin, mm."""
        floor = require_value(self.floor, "a flat floor")
        key = (shape.key, scale, grown is not None)
        if key not in self._floored:
            axis = [line * scale for line in self._get_or_plan(shape, scale, grown)]
            plain = [run for line in axis for run in find_narrow_stretches(line, floor.track)]
            lines = [groove for run in plain for groove in self._lower_line(run)]
            tracks = floor.plan_tracks(self._build_region(shape, scale, grown), axis)
            xs = [float(line[:, 0].min()) for line in (*lines, *tracks)]
            start = np.array([min(xs, default=0.0), shape.cap_units * scale * ENTRY_HEIGHT])
            way = _order_by_nearest(lines, start)
            self._floored[key] = way + _order_by_nearest(tracks, way[-1][-1] if way else start)
        return self._floored[key]

    def finish_grooves(self, grooves: Iterable[Array]) -> list[Array]:
        """Grooves as they lie below the face when it is sanded."""
        return [groove + (0.0, 0.0, self.lowered) for groove in grooves]

    def plan_region(self, region: Region) -> list[Array]:
        """The grooves of a flattened region, mm."""
        axis = trace_centre_lines(region, self.tolerance / 2)
        if self.floor is None:
            return [g for line in axis for g in self._lower_line(line)]
        plain = [
            g for line in axis for run in find_narrow_stretches(line, self.floor.track) for g in self._lower_line(run)
        ]
        return plain + self.floor.plan_tracks(region, axis)

    def _get_or_plan(self, shape: Shape, scale: float, grown: OffsetOutline | None) -> list[Array]:
        """Centre lines in font units, x, y, radius, from the left of the shape to its right."""
        step = math.ceil(math.log(scale) / math.log(STEP))
        key = (shape.key, step if grown is None else scale)
        if key not in self._lines:
            tolerance = self.tolerance / (STEP**step if grown is None else scale)
            if grown is None:
                region = build_polygon_from_outline(shape.outline, tolerance / 4)
            else:
                region = build_chain_polygon(grown.chains, tolerance / 4)
            lines = trace_centre_lines(region, tolerance / 2, (shape.cap_units * SPECK) ** 2)
            level = shape.cap_units * ENTRY_HEIGHT
            ends = [np.array([x, level]) for x in (region.bounds[0], region.bounds[2])] if lines else [None, None]
            self._lines[key] = order_by_travel(lines, *ends)
        return self._lines[key]

    def _lower_line(self, line: Array) -> list[Array]:
        """x, y, radius to x, y, z; what is narrower than the flat tip is left out, what is wider than the bit is cut as
        deep as the bit allows (the checks stop such a line, but its times and papers still need a figure)."""
        tip, slope = self.cutter.tip / 2, self.cutter.slope
        most = self.cutter.widest / 2 - self.lowered * slope if self.cutter.widest is not None else math.inf
        out = []
        for run in find_wide_stretches(line, tip):
            x, y, r = run[:, 0], run[:, 1], run[:, 2]
            out.append(np.column_stack((x, y, (tip - np.clip(r, tip, max(tip, most))) / slope + (0.0 - self.lowered))))
        return out


def plan_roughing(grooves: Sequence[Array], step: float) -> list[Array]:
    """Plan the passes before the finishing pass, so that none is deeper than `step`: level by level, the stretches that
    go deeper, cut at that level. The finishing pass is the grooves."""
    deepest = max((-float(groove[:, 2].min()) for groove in grooves), default=0.0)
    out: list[Array] = []
    down = np.array([1.0, 1.0, -1.0])
    for number in range(1, math.ceil(deepest / step - MEETS)):
        level = number * step
        for groove in grooves:
            for run in find_wide_stretches(groove * down, level + MEETS):
                out.append(np.column_stack((run[:, :2], np.full(len(run), -level))))
    return out


def _put(line: Array, piece: Piece) -> Array:
    """A line drawn at the origin to the piece's scale, x, y, z, in the piece's place."""
    c, s = math.cos(piece.turn), math.sin(piece.turn)
    return np.column_stack((line[:, :2] @ np.array([[c, s], [-s, c]]) + (piece.x, piece.y), line[:, 2]))


@lru_cache(maxsize=2)
def build_groove_planner(
    cutter: Cutter, tolerance: float, lowered: float, floor: FlatFloor | None = None
) -> GroovePlanner:
    """The grooves for these values; what checks, files and papers of one process work out of a letter they share."""
    return GroovePlanner(cutter, tolerance, lowered, floor)


def build_order_planner(order: Order, cutter: Cutter) -> GroovePlanner:
    """The grooves of an order. CannotRun where its flat cutter can't be used."""
    return build_groove_planner(
        cutter, order.files.tolerance, compute_lowering(order, cutter), build_flat_floor(order, cutter)
    )


def _is_nearer_end(row: Sequence[Array], at: Array) -> bool:
    """Return whether the end of a row is nearer than its beginning."""
    return math.dist(row[-1][-1, :2], at) < math.dist(row[0][0, :2], at)


def order_by_travel(lines: Sequence[Array], start: Array | None = None, end: Array | None = None) -> list[Array]:
    """The lines in an order, and each in a direction, that keeps travel short. Without a start (or an end) the way to
    the first line (or from the last) costs nothing.

    Nearest neighbour from several starts, then 2-opt: stretches are reversed as long as that shortens the path. Loops
    are inserted last, where they cost least, entered at the best point.
    """
    loops = [line for line in lines if len(line) > 1 and bool((line[0] == line[-1]).all())]
    held = {id(line) for line in loops}
    opened = [line for line in lines if id(line) not in held]
    firsts = sorted(p[:2].tolist() for line in opened for p in (line[0], line[-1]))
    begins = [np.array(p) for p in firsts[:TRIED]] if start is None else [start, *map(np.array, firsts[:TRIED])]
    ways = [_reverse_where_shorter(_order_by_nearest(opened, at), start, end) for at in begins]
    way = min(ways, key=lambda w: round(_measure_air_travel(w, start, end), 6), default=[])
    for loop in loops:
        _put_in(way, loop, start, end)
    return way


def _measure_air_travel(way: Sequence[Array], start: Array | None, end: Array | None) -> float:
    if not way:
        return 0.0
    hops = (_measure_hop(a[-1], b[0]) for a, b in pairwise(way))
    return _measure_hop(start, way[0][0]) + sum(hops) + _measure_hop(way[-1][-1], end)


def _get_ends(line: Array) -> tuple[Sequence[float], Sequence[float]]:
    """Return both ends as plain numbers, which are ten times faster to measure with than array elements."""
    return line[0, :2].tolist(), line[-1, :2].tolist()


def _order_by_nearest(lines: Sequence[Array], at: Array) -> list[Array]:
    left, out = [(line, *_get_ends(line)) for line in lines], []
    here: Sequence[float] = at[:2].tolist()
    while left:
        gaps = []
        for k, (_, first, last) in enumerate(left):
            gaps += [(round(math.dist(first, here), 9), k, 0), (round(math.dist(last, here), 9), k, 1)]
        _, k, back = min(gaps)
        line, first, last = left.pop(k)
        out.append(line[:: -1 if back else 1])
        here = first if back else last
    return out


def _reverse_where_shorter(way: list[Array], start: Array | None, end: Array | None) -> list[Array]:
    """Return the path with stretches reversed until no reversal shortens it (2-opt)."""
    ends = [_get_ends(line) for line in way]
    begin, done = (None if p is None else p[:2].tolist() for p in (start, end))
    better = True
    while better:
        better = False
        for i in range(len(way)):
            before = ends[i - 1][1] if i else begin
            for j in range(i, len(way)):
                after = ends[j + 1][0] if j + 1 < len(way) else done
                now = _measure_hop(before, ends[i][0]) + _measure_hop(ends[j][1], after)
                then = _measure_hop(before, ends[j][1]) + _measure_hop(ends[i][0], after)
                if then < now - MEETS:
                    way[i : j + 1] = [line[::-1] for line in way[i : j + 1][::-1]]
                    ends[i : j + 1] = [(b, a) for a, b in ends[i : j + 1][::-1]]
                    better = True
    return way


def _put_in(way: list[Array], loop: Array, start: Array | None, end: Array | None) -> None:
    """Insert a loop between two lines, or at an end, where it costs least."""
    best: tuple[float, int, int] | None = None
    for i in range(len(way) + 1):
        before, after = way[i - 1][-1] if i else start, way[i][0] if i < len(way) else end
        cost = -_measure_hop(before, after) + sum(
            np.hypot(*(loop[:-1, :2] - p[:2]).T) for p in (before, after) if p is not None
        )
        costs = np.broadcast_to(cost, len(loop) - 1)
        k = int(costs.argmin())
        tried = (round(float(costs[k]), 9), i, k)
        best = tried if best is None else min(best, tried)
    _, i, k = require_value(best, "a place for the loop")
    way.insert(i, np.vstack((loop[k:-1], loop[: k + 1])) if k else loop)


def _measure_hop(a: Array | Sequence[float] | None, b: Array | Sequence[float] | None) -> float:
    return 0.0 if a is None or b is None else math.dist(a[:2], b[:2])


def measure_travel(grooves: Sequence[Array]) -> BitTravel:
    """Return how far the bit moves in the material and above it, and how often it is lifted."""
    cutting = sum(float(np.sqrt((np.diff(g, axis=0) ** 2).sum(axis=1)).sum()) for g in grooves)
    hops = [float(np.hypot(*(b[0, :2] - a[-1, :2]))) for a, b in pairwise(grooves)]
    return BitTravel(cutting, sum(hops), sum(h > MEETS for h in hops) + bool(grooves))
