"""The medial axis of a region: every point that is nearest to two or more places of the boundary, with its radius.

Words: *node*, a point of the axis where edges meet, end, or pass through their least radius; *radius*, a node's
distance from the boundary; *edge*, a stretch of axis between two nodes along which the radius only grows or only
falls. The whole axis is kept: pruning it by angle would cut it apart where stroke meets stroke.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from pipeline.geometry.curves import Array
from pipeline.geometry.medial.voronoi import BISECTOR, LINEAR, PARABOLA, Index, VoronoiDiagram, find_boundary_edges

GRID_BITS = 26
"""Bits of the largest coordinate on the diagram's integer grid: a letter of 1,000 units is placed to 1/65,000 unit
(1/32,000 together with its surroundings), and the library stays well within its 32 bits."""


@dataclass(frozen=True, slots=True, eq=False)
class MedialAxis:
    """The medial axis of a region, in the region's unit.

    points (n, 2), radius (n,): the nodes. ends (m, 2): the nodes of each edge. length (m,): along the curve.
    kind (m,), spread (m,), x (m, 2): the edge's curve, see `compute_radius_on`. repaired: the outline was not a valid
    polygon on the grid and was mended before it was measured.
    """

    points: Array
    radius: Array
    ends: Index
    length: Array
    kind: Index
    spread: Array
    x: Array
    focus: Array
    base: Array
    repaired: bool = False


def compute_radius_on(kind: int, spread: float, x: float) -> float:
    """Radius at x on a parabola (`spread` d between corner and side, x along the side from its least radius) or on the
    bisector of two corners (`spread` half their distance)."""
    return (x * x + spread * spread) / (2 * spread) if kind == PARABOLA else math.hypot(spread, x)


def _compute_arc_length(kind: Index, spread: Array, x: Array) -> Array:
    """Signed length along the edge's curve from its least radius to x."""
    u = x / np.where(kind == PARABOLA, spread, 1.0)
    return np.where(kind == PARABOLA, (x * np.sqrt(1 + u * u) + spread * np.arcsinh(u)) / 2, x)


def compute_length_to(kind: int, spread: float, x: float) -> float:
    """Length along a parabola or bisector from its least radius to x."""
    if kind == PARABOLA:
        u = x / spread
        return (x * math.sqrt(1 + u * u) + spread * math.asinh(u)) / 2
    return x


def compute_medial_axis(region: Any, speck: float = 0.0) -> MedialAxis:
    """The medial axis of a shapely region (Polygon or MultiPolygon; several parts give several unconnected axes).

    Parts and holes smaller than `speck` (an area) are dropped first. An invalid region is repaired, and `repaired` says
    so. An empty region has an empty axis.
    """
    grid = _choose_grid(region)
    if grid is None:
        return _concatenate_axes([])
    parts, repaired = _snap_to_grid(region, *grid, speck)
    return _concatenate_axes([_build_axis(find_boundary_edges([part])[0], *grid) for part in parts], repaired)


def find_outer_axes(region: Any, margin: float, speck: float = 0.0) -> tuple[MedialAxis, MedialAxis]:
    """The medial axes of a region and of what lies round and inside it, up to `margin` from its box; of one diagram.

    As axis_of; parts of what lies round smaller than `speck` belong to the region.
    """
    solid = [
        shapely.Polygon(part.exterior, [h for h in part.interiors if shapely.Polygon(h).area >= speck])
        for part in shapely.get_parts(region)
        if part.area >= speck and not part.is_empty
    ]
    if not solid:
        return _concatenate_axes([]), _concatenate_axes([])
    region = shapely.multipolygons(solid)
    x0, y0, x1, y1 = region.bounds
    free = shapely.difference(shapely.box(x0 - margin, y0 - margin, x1 + margin, y1 + margin), region)
    grid = _choose_grid(free)
    if grid is None:
        raise ValueError("nothing is left round the shapes")
    parts, repaired = _snap_to_grid(free, *grid, speck)
    inside, outside = find_boundary_edges(parts)
    return _concatenate_axes([_build_axis(outside, *grid)], repaired), _concatenate_axes(
        [_build_axis(inside, *grid)], repaired
    )


def _choose_grid(region: Any) -> tuple[Array, float] | None:
    """The middle of a region, and grid units to one of its own; None when it has no extent."""
    box = shapely.bounds(region)
    middle = (box[:2] + box[2:]) / 2
    reach = float(np.nanmax(np.abs(box - np.tile(middle, 2)))) if not region.is_empty else 0.0
    return (middle, 2.0 ** (GRID_BITS - math.ceil(math.log2(reach)))) if reach > 0 else None


def _snap_to_grid(region: Any, middle: Array, scale: float, speck: float) -> tuple[list[Any], bool]:
    """The region's parts with whole-number corners, valid together, and whether they had to be mended for it."""
    parts = []
    for part in shapely.get_parts(region):
        if part.area < speck or part.is_empty:
            continue
        holes = [h for h in part.interiors if shapely.Polygon(h).area >= speck]
        rings = [np.rint((shapely.get_coordinates(r) - middle) * scale) for r in (part.exterior, *holes)]
        rings = [r[np.r_[True, (np.diff(r, axis=0) != 0).any(axis=1)]] for r in rings]
        rings = [r for r in rings if len(r) >= 4]
        if rings:
            parts.append(shapely.Polygon(rings[0], rings[1:]))
    if all(shapely.is_valid(parts)) and (len(parts) < 2 or shapely.is_valid(shapely.multipolygons(parts))):
        return parts, False
    mended = shapely.set_precision(shapely.union_all([shapely.make_valid(part) for part in parts]), 1.0)
    floor = max(speck * scale * scale, 1.0)
    return [p for p in shapely.get_parts(mended) if p.geom_type == "Polygon" and p.area >= floor], True


def _build_axis(d: VoronoiDiagram, middle: Array, scale: float) -> MedialAxis:
    points, radius = d.points, d.radius
    # Where along its curve each edge begins and ends, measured from its least radius.
    across = d.focus - d.base
    gap = np.hypot(across[:, 0], across[:, 1])
    gap = np.where(gap > 0, gap, 1.0)
    unit = across / gap[:, None]
    along = np.column_stack((unit[:, 1], -unit[:, 0]))
    apex = (d.focus + d.base) / 2
    x = np.einsum("mki,mi->mk", points[d.ends] - np.where((d.kind == LINEAR)[:, None], 0.0, apex)[:, None], along)
    x[d.kind == LINEAR] = 0.0
    spread = np.where(d.kind == PARABOLA, gap, np.where(d.kind == BISECTOR, gap / 2, 0.0))

    through = np.nonzero((d.kind != LINEAR) & (x[:, 0] * x[:, 1] < 0))[0]
    new = len(points) + np.arange(len(through))
    points = np.vstack((points, apex[through]))
    radius = np.concatenate((radius, gap[through] / 2))
    ends = np.vstack((d.ends, np.column_stack((new, d.ends[through, 1]))))
    x = np.vstack((x, np.column_stack((np.zeros(len(through)), x[through, 1]))))
    ends[through, 1] = new
    x[through, 1] = 0.0
    twice = np.concatenate((np.arange(len(d.kind)), through))
    kind, spread = d.kind[twice], spread[twice]
    step = points[ends[:, 1]] - points[ends[:, 0]]
    straight = np.hypot(step[:, 0], step[:, 1])
    safe = np.where(spread > 0, spread, 1.0)
    curve = np.abs(_compute_arc_length(kind, safe, x[:, 1]) - _compute_arc_length(kind, safe, x[:, 0]))
    length = np.where(kind == LINEAR, straight, np.maximum(curve, straight))

    used, flat = np.unique(ends, return_inverse=True)
    return MedialAxis(
        points=points[used] / scale + middle,
        radius=radius[used] / scale,
        ends=flat.reshape(ends.shape),
        length=length / scale,
        kind=kind,
        spread=spread / scale,
        x=np.abs(x) / scale,
        focus=d.focus[twice] / scale + middle,
        base=d.base[twice] / scale + middle,
    )


def _concatenate_axes(parts: list[MedialAxis], repaired: bool = False) -> MedialAxis:
    if len(parts) == 1 and not repaired:
        return parts[0]
    if not parts:
        none, pair = np.zeros(0), np.zeros((0, 2))
        whole = np.zeros(0, dtype=np.intp)
        return MedialAxis(pair, none, whole.reshape(0, 2), none, whole, none, pair, pair, pair, repaired)
    first = np.cumsum([0] + [len(p.points) for p in parts[:-1]])
    return MedialAxis(
        points=np.concatenate([p.points for p in parts]),
        radius=np.concatenate([p.radius for p in parts]),
        ends=np.concatenate([p.ends + k for p, k in zip(parts, first, strict=True)]),
        length=np.concatenate([p.length for p in parts]),
        kind=np.concatenate([p.kind for p in parts]),
        spread=np.concatenate([p.spread for p in parts]),
        x=np.concatenate([p.x for p in parts]),
        focus=np.concatenate([p.focus for p in parts]),
        base=np.concatenate([p.base for p in parts]),
        repaired=repaired,
    )
