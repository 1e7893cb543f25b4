"""Place the rows of a block one under the other, the block in the middle of its area, each row on its axis."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from shapely.geometry.base import BaseGeometry

from pipeline.core.config.order import LineConfig
from pipeline.core.model import Piece, SetRow, ShapedRow
from pipeline.geometry.curves import Array
from pipeline.layout.available_area import AvailableArea
from pipeline.layout.shape_hulls import ShapeHulls

PITCH = 1.9
"""Baseline to baseline in cap heights: ISO 3098-1:2015 type B, capitals and lower case with accents, 19/10 h.

Between rows of unequal size what is left above the lower row's capitals is that part of their mean, because the
descenders of the one and the accents of the other have to pass each other. Equal rows get exactly 19/10.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class LineSetting:
    """Setting chosen for one line: size (mm), tracking (thousandths of an em), the text of its rows, and the width its
    letters are drawn at (percent of normal; None: as designed)."""

    cap_height: float
    tracking: int
    rows: tuple[str, ...]
    width: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlacedRow:
    """A row with its place; `hulls` are the convex hulls of its pieces in mm."""

    row: ShapedRow
    set_row: SetRow
    hulls: tuple[Array, ...]
    over: float = 0.0  # mm by which the line is longer than the arc allows; 0 off arcs


def compute_line_pitch(upper: float, lower: float, leading: float | None, before: float | None) -> float:
    """Distance of two baselines in mm, for cap heights of the upper and the lower row."""
    distance = leading if leading is not None else lower + (PITCH - 1.0) * (upper + lower) / 2
    return distance + (before or 0.0)


@dataclass(frozen=True, slots=True)
class BlockRow:
    """A row of a block: its line, cap height (mm), whether it is its line's first; the baseline (mm) its line shares
    with a line of another zone, if it does."""

    line: LineConfig
    cap_height: float
    first: bool
    tied: float | None = None


def compute_baselines(rows: Sequence[BlockRow], low: float, high: float) -> list[float]:
    """Baselines of a block in a room from `low` to `high` (y, mm), in the rows' order.

    In the middle the first capitals and the last baseline are equally far from the room's middle. At the top and the
    bottom half of what the pitch leaves between two rows stays free above the first capitals or below the last
    baseline, for accents and descenders. Counting from the capitals rather than from the ink keeps a batch even: an
    accent or a descender in one name does not shift that plaque against the others.

    A line that shares a baseline stands on it; what is above the first such line moves with it, what is below follows.
    """
    drops = [0.0]
    for upper, lower in pairwise(rows):
        before = lower.line.space_before if lower.first else None
        drops.append(drops[-1] + compute_line_pitch(upper.cap_height, lower.cap_height, lower.line.leading, before))
    first, last = rows[0].cap_height, rows[-1].cap_height
    where = rows[0].line.vertical
    if where == "top":
        top = high - first - (PITCH - 1.0) / 2 * first
    elif where == "bottom":
        top = low + drops[-1] + (PITCH - 1.0) / 2 * last
    else:
        top = (low + high) / 2 + (first + drops[-1]) / 2 - first
    levels = [top - drop for drop in drops]
    seen = False
    for n, row in enumerate(rows):
        if row.tied is not None and row.first:
            by = row.tied - levels[n]
            levels = [level + by if k >= n or not seen else level for k, level in enumerate(levels)]
            seen = True
    return levels


def place_row(
    row: ShapedRow, cap_height: float, baseline: float, align: str, limits: tuple[float, float], hulls: ShapeHulls
) -> PlacedRow:
    """One straight row. limits: left and right end of the room for left and right alignment; centred rows are centred
    by their ink between the two."""
    scale = cap_height / row.cap_units
    left, right = hulls.measure_hanging(row)
    if align == "left":
        x = limits[0] - (row.ink[0] if row.ink else 0.0) * scale
    elif align == "right":
        x = limits[1] - (row.ink[2] if row.ink else 0.0) * scale
    else:
        x = (limits[0] + limits[1]) / 2 - (left + right) / 2 * scale
    pieces = tuple(
        Piece(shape=p.shape, scale=scale * p.scale, x=x + p.x * scale, y=baseline + p.y * scale) for p in row.shapes
    )
    width = (row.ink[2] - row.ink[0]) * scale if row.ink else 0.0
    return PlacedRow(
        row=row,
        set_row=SetRow(text=row.text, pieces=pieces, x=x, baseline=baseline, width=width),
        hulls=tuple(hulls.place_hull(piece) for piece in pieces),
    )


def build_placed_outline(placed: PlacedRow, hulls: ShapeHulls) -> Callable[[int], BaseGeometry]:
    """The exact area of a row's n-th letter on the blank, mm."""
    return lambda n: hulls.area(placed.set_row.pieces[n])


def row_fits(placed: PlacedRow, room: AvailableArea, hulls: ShapeHulls) -> bool:
    """Return whether all ink of the row is inside its room, and within its sweep on an arc; a row without ink is."""
    if placed.over > 0:
        return False
    return not placed.hulls or room.holds(placed.hulls, build_placed_outline(placed, hulls))


def measure_row_slack(placed: PlacedRow, room: AvailableArea, hulls: ShapeHulls) -> float:
    """Clear distance left, mm; 0 for a row without ink."""
    if placed.over > 0:
        return -placed.over
    return room.measure_slack(placed.hulls, build_placed_outline(placed, hulls)) if placed.hulls else 0.0
