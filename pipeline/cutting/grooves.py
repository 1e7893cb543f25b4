"""Grooves of a V-bit: the centre lines of the lettering with depth, as 3-D polylines in the order they are cut.

z is 0 on the face and negative in the material. The bit follows the medial axis, as deep as its cone is wide there,
and rises into corners until its flat tip touches both sides.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from pipeline.core.model import Artwork, Piece, SetLine, Shape
from pipeline.cutting.cutters import Cutter
from pipeline.geometry.centrelines import centre_lines
from pipeline.geometry.curves import Array, Chain
from pipeline.geometry.narrowest import SPECK
from pipeline.geometry.regions import Region, chain_polygon, polygon_of

STEP = 1.1
"""Centre lines are worked out once for sizes this close together, at the tolerance of the largest of them."""
TRIED = 16
"""Up to so many lines every end is tried as the beginning of the way."""
MEETS = 1e-9
"""mm. Ends of lines this close are one place: no lifting between them."""


@dataclass(frozen=True, slots=True)
class Travel:
    """How a bit moves over all grooves, mm."""

    cutting: float
    in_air: float
    lifts: int


class Grooves:
    """The grooves of one order's lettering. tolerance: how far, in mm, what is cut may lie from the artwork."""

    def __init__(self, cutter: Cutter, tolerance: float) -> None:
        if not cutter.slope:
            raise ValueError(f"{cutter.name} cuts no grooves")
        self.cutter, self.tolerance = cutter, tolerance
        self._lines: dict[tuple[str, int], list[Array]] = {}

    def of(self, artwork: Artwork, side: str = "front") -> tuple[Array, ...]:
        """Every groove of one side as (n, 3) of x, y, z in mm, letter by letter, each near where the last ended. Rows
        are run forwards or backwards, whichever end is nearer."""
        out: list[Array] = []
        for line in artwork.lines:
            for row in self._rows(line) if line.side == side else ():
                at = out[-1][-1, :2] if out else None
                if at is not None and _nearest(row[-1], at) < _nearest(row[0], at):
                    row.reverse()
                for lines in row:
                    out += short_way(lines, out[-1][-1, :2] if out else None)
        return tuple(out)

    def _rows(self, line: SetLine) -> Iterable[list[list[Array]]]:
        """The grooves of each row that has any, piece by piece. `grown` replaces outlines, over all rows."""
        grown = iter(line.grown)
        for row in line.rows:
            pieces = [(p, next(grown, ())) for p in row.pieces]
            found = [self.of_chains(g) if g else self.of_piece(p) for p, g in pieces if not p.shape.single_line]
            made = [lines for lines in found if lines]
            if made:
                yield made

    def of_piece(self, piece: Piece) -> list[Array]:
        """The grooves of one piece, mm."""
        c, s = math.cos(piece.turn) * piece.scale, math.sin(piece.turn) * piece.scale
        turn = np.array([[c, s], [-s, c]])
        out = []
        for line in self._known(piece.shape, piece.scale):
            placed = np.column_stack((line[:, :2] @ turn + (piece.x, piece.y), line[:, 2] * piece.scale))
            out += self._deep(placed)
        return out

    def of_chains(self, chains: Sequence[Chain]) -> list[Array]:
        """The grooves of outlines of lines and arcs in mm, as read back from a file or grown before cutting."""
        region = chain_polygon(chains, self.tolerance / 4)
        return self.of_region(region)

    def of_region(self, region: Region) -> list[Array]:
        """The grooves of a flattened region, mm."""
        return [g for line in centre_lines(region, self.tolerance / 2) for g in self._deep(line)]

    def _known(self, shape: Shape, scale: float) -> list[Array]:
        step = math.ceil(math.log(scale) / math.log(STEP))
        key = (shape.key, step)
        if key not in self._lines:
            tolerance = self.tolerance / STEP**step
            region = polygon_of(shape.outline, tolerance / 4)
            self._lines[key] = centre_lines(region, tolerance / 2, (shape.cap_units * SPECK) ** 2)
        return self._lines[key]

    def _deep(self, line: Array) -> list[Array]:
        """x, y, radius to x, y, z; what is narrower than the flat tip is left out, what is wider than the bit is cut as
        deep as the bit allows."""
        tip = self.cutter.tip / 2
        most = self.cutter.widest / 2 if self.cutter.widest is not None else math.inf
        out = []
        for run in _wide_enough(line, tip):
            x, y, r = run[:, 0], run[:, 1], run[:, 2]
            out.append(np.column_stack((x, y, (tip - np.clip(r, tip, most)) / self.cutter.slope + 0.0)))
        return out


def _wide_enough(line: Array, least: float) -> list[Array]:
    """The stretches of a polyline of x, y, radius whose radius is at least this, cut where it passes it."""
    r = line[:, 2]
    inside = r >= least
    if inside.all():
        return [line]
    if len(line) == 1 or not inside.any():
        return []
    out: list[Array] = []
    run: list[Array] = []
    for i in range(len(line)):
        if inside[i]:
            if not run and i > 0:
                run.append(_crossing(line[i - 1], line[i], least))
            run.append(line[i])
        elif run:
            run.append(_crossing(run[-1], line[i], least))
            out.append(np.array(run))
            run = []
    if run:
        out.append(np.array(run))
    closed = len(out) > 1 and inside[0] and inside[-1] and bool((line[0] == line[-1]).all())
    if closed:  # a closed run that was cut open goes through its first point
        out[0] = np.vstack((out.pop(), out[0][1:]))
    return [g for g in out if len(g) > 1 or len(line) == 1]


def _crossing(p: Array, q: Array, least: float) -> Array:
    if p[2] == q[2]:
        return q
    t = (least - p[2]) / (q[2] - p[2])
    return np.array([*(p[:2] + t * (q[:2] - p[:2])), least])


def short_way(lines: Sequence[Array], start: Array | None = None) -> list[Array]:
    """The lines in an order, and each in a direction, that keeps travel short: always the nearest end next, begun with
    whichever end makes the whole way shortest. A closed line is entered where it is nearest. Without a start the way to
    the first line costs nothing."""
    if not lines:
        return []
    begins: list[Array] = [start] if start is not None else []
    if len(lines) <= TRIED:
        begins += [end[:2] for line in lines for end in (line[0], line[-1])]
    elif start is None:
        ends = np.array([p[:2] for line in lines for p in (line[0], line[-1])])
        begins = [ends[np.lexsort((ends[:, 1], ends[:, 0]))[0]]]
    ways = [_nearest_next(lines, at) for at in begins]
    return min(ways, key=lambda way: round(_in_air(way, start), 6))


def _nearest(lines: Sequence[Array], at: Array) -> float:
    return min(_gap(line, at)[0] for line in lines)


def _in_air(way: Sequence[Array], start: Array | None) -> float:
    hops = [math.hypot(*(b[0, :2] - a[-1, :2])) for a, b in pairwise(way)]
    return sum(hops) + (math.hypot(*(way[0][0, :2] - start)) if start is not None else 0.0)


def _nearest_next(lines: Sequence[Array], at: Array) -> list[Array]:
    left, out = list(lines), []
    while left:
        gaps = [(round(_gap(line, at)[0], 9), k) for k, line in enumerate(left)]
        line = left.pop(min(gaps)[1])
        _, k, back = _gap(line, at)
        if k:
            line = np.vstack((line[k:-1], line[: k + 1]))
        elif back:
            line = line[::-1]
        out.append(line)
        at = line[-1, :2]
    return out


def _gap(line: Array, at: Array) -> tuple[float, int, bool]:
    """(distance, point to enter a closed line at, whether to run it backwards)."""
    if len(line) > 2 and bool((line[0] == line[-1]).all()):
        off = np.hypot(*(line[:, :2] - at).T)
        k = int(off.argmin())
        return float(off[k]), k % (len(line) - 1), False
    first, last = (float(np.hypot(*(p[:2] - at))) for p in (line[0], line[-1]))
    return min(first, last), 0, last < first


def travel(grooves: Sequence[Array]) -> Travel:
    """How far the bit moves in the material and above it, and how often it is lifted."""
    cutting = sum(float(np.sqrt((np.diff(g, axis=0) ** 2).sum(axis=1)).sum()) for g in grooves)
    hops = [float(np.hypot(*(b[0, :2] - a[-1, :2]))) for a, b in pairwise(grooves)]
    return Travel(cutting, sum(hops), sum(h > MEETS for h in hops) + bool(grooves))
