"""The segment Voronoi diagram of a polygon's boundary: the only module that knows pyvoronoi.

pyvoronoi (Boost.Polygon) works on 32-bit integers and silently returns a wrong diagram when its input crosses itself,
so only polygons that are valid on its grid are accepted. Its own check of the input isn't used: it reports parallel
sides as crossing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pyvoronoi
import shapely
from numpy.typing import NDArray

from pipeline.geometry.curves import Array

Index = NDArray[np.intp]

LINEAR, PARABOLA, BISECTOR = 0, 1, 2
"""An axis edge between two sides · between a side and a corner · between two corners."""

_START_POINT = 1
"""pyvoronoi's source category for the first end of a segment."""


@dataclass(frozen=True, slots=True, eq=False)
class VoronoiDiagram:
    """The finite primary edges on one side of a boundary: its whole medial axis there, nothing filtered.

    points (n, 2) and radius (n,): the diagram's vertices and their distance from the boundary, in the caller's unit;
    those of the other side are among them.
    ends (m, 2): vertex indices. kind (m,): LINEAR, PARABOLA or BISECTOR. For the latter two, focus (m, 2) is the
    corner and base (m, 2) the nearest point of the opposite side's line, or the opposite corner.
    """

    points: Array
    radius: Array
    ends: Index
    kind: Index
    focus: Array
    base: Array


def find_boundary_edges(polygons: Sequence[Any]) -> tuple[VoronoiDiagram, VoronoiDiagram]:
    """The medial axes inside and outside shapely polygons whose corners are whole numbers within 32 bits.

    Together they have to be a valid multipolygon. What lies outside is bounded by nothing but them. OverflowError for
    coordinates beyond 32 bits.
    """
    rings: list[Array] = []
    for polygon in polygons:
        for k, ring in enumerate((polygon.exterior, *polygon.interiors)):
            r = shapely.get_coordinates(ring)[:-1]
            rings.append(r if _is_anticlockwise(r) == (k == 0) else r[::-1])
    a = np.concatenate(rings)
    b = np.concatenate([np.roll(r, -1, axis=0) for r in rings])
    builder = pyvoronoi.Pyvoronoi(1)
    for p, q in zip(a.astype(np.int64).tolist(), b.astype(np.int64).tolist(), strict=True):
        builder.AddSegment([p, q])
    builder.Construct()
    points = np.array([(v.X, v.Y) for v in map(builder.GetVertex, range(builder.CountVertices()))])
    cells = [builder.GetCell(k) for k in range(builder.CountCells())]
    site = np.array([c.site for c in cells], dtype=np.intp)
    is_point = np.array([c.contains_point for c in cells], dtype=bool)
    corner = np.where(
        np.array([c.source_category == _START_POINT for c in cells])[:, None], a[site], b[site]
    )  # only meaningful where is_point

    # Half-edges come in pairs, one per side.
    raw = []
    for k in range(0, builder.CountEdges(), 2):
        e = builder.GetEdge(k)
        if e.is_primary and e.start >= 0 and e.end >= 0:
            raw.append((e.start, e.end, e.cell, builder.GetEdge(k + 1).cell))
    table = np.array(raw, dtype=np.intp).reshape(-1, 4)
    # The cell of a side before that of a corner, so that column 2 is a side wherever there is one.
    swap = is_point[table[:, 2]] & ~is_point[table[:, 3]]
    table[swap] = table[swap][:, [0, 1, 3, 2]]
    ends, first, second = table[:, :2], table[:, 2], table[:, 3]
    kind = np.where(is_point[first], BISECTOR, np.where(is_point[second], PARABOLA, LINEAR))

    side_a, side_b = a[site[first]], b[site[first]]
    along = side_b - side_a
    length = np.hypot(along[:, 0], along[:, 1])
    along = along / length[:, None]
    offset = points[ends] - side_a[:, None]
    left = along[:, None, 0] * offset[..., 1] - along[:, None, 1] * offset[..., 0]
    wider = np.abs(left).argmax(axis=1)
    inside = left[np.arange(len(left)), wider] > 0
    pairs = np.nonzero(kind == BISECTOR)[0]
    if len(pairs):
        middle = points[ends[pairs]].mean(axis=1)
        region = shapely.multipolygons(list(polygons))
        shapely.prepare(region)
        inside[pairs] = shapely.contains_xy(region, middle[:, 0], middle[:, 1])

    focus = np.where((kind == PARABOLA)[:, None], corner[second], corner[first])
    rise = along[:, 0] * (focus[:, 1] - side_a[:, 1]) - along[:, 1] * (focus[:, 0] - side_a[:, 0])
    foot = focus - np.column_stack((-along[:, 1], along[:, 0])) * rise[:, None]
    base = np.where((kind == BISECTOR)[:, None], corner[second], foot)

    from_corner = points[ends] - focus[:, None]
    distance = np.where((kind == LINEAR)[:, None], np.abs(left), np.hypot(from_corner[..., 0], from_corner[..., 1]))
    sides = []
    for side in (inside, ~inside):
        radius = np.zeros(len(points))
        radius[ends[side].ravel()] = distance[side].ravel()
        sides.append(VoronoiDiagram(points, radius, ends[side], kind[side], focus[side], base[side]))
    return sides[0], sides[1]


def _is_anticlockwise(ring: Array) -> bool:
    d = ring - ring[0]
    return float(np.sum(d[:-1, 0] * d[1:, 1] - d[1:, 0] * d[:-1, 1])) > 0
