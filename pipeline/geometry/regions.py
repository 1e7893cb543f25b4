"""Contours to polygons (shapely), honouring the non-zero winding rule."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
import shapely

from pipeline.geometry.curves import Array, Chain, Path
from pipeline.geometry.flatten import flatten, flatten_chain, ring_area

Region = Any
"""A shapely Polygon or MultiPolygon, valid, possibly empty."""


def group_nearby(shapes: Sequence[Region] | Array, reach: float) -> list[list[int]]:
    """Group shapes that come within `reach` of one another: lists of their indices, each ascending, ordered by first
    index."""
    all_of_them = np.array(shapes, dtype=object)
    left, right = shapely.STRtree(all_of_them).query(all_of_them, predicate="dwithin", distance=reach)
    parent = list(range(len(shapes)))

    def find_root(n: int) -> int:
        while parent[n] != n:
            parent[n] = parent[parent[n]]
            n = parent[n]
        return n

    for a, b in zip(left.tolist(), right.tolist(), strict=True):
        one, other = find_root(a), find_root(b)
        parent[max(one, other)] = min(one, other)
    groups: dict[int, list[int]] = {}
    for n in range(len(shapes)):
        groups.setdefault(find_root(n), []).append(n)
    return list(groups.values())


def build_polygon_from_outline(outline: Path | Sequence[Path], tolerance: float | Array) -> Region:
    """The area inside closed contours by the non-zero winding rule; open contours enclose nothing.

    tolerance: one for all, or one for each segment of closed contours. Contours may overlap, touch or cross. The
    result is valid. Empty outline: an empty polygon.
    """
    paths = (outline,) if isinstance(outline, Path) else tuple(outline)
    return build_polygon_from_rings(flatten([p for p in paths if p.closed], tolerance))


def build_chain_polygon(chain: Chain | Iterable[Chain], tolerance: float) -> Region:
    """The area inside closed chains by the non-zero winding rule."""
    chains = (chain,) if isinstance(chain, Chain) else tuple(chain)
    return build_polygon_from_rings([flatten_chain(c, tolerance) for c in chains if c.closed])


def build_polygon_from_rings(rings: Iterable[Array]) -> Region:
    """The area inside rings by the non-zero winding rule."""
    kept = [ring for ring in rings if len(ring) >= 3]
    if not kept:
        return shapely.Polygon()
    region = _nest_rings(kept)
    return _build_by_winding(kept) if region is None else region


def _nest_rings(rings: list[Array]) -> Region | None:
    """Build the region quickly from rings that don't cross, by which ring lies in which. None when they cross or
    overlap."""
    areas = np.array([ring_area(r) for r in rings])
    polygons = shapely.polygons([shapely.linearrings(r) for r in rings])
    if not shapely.is_valid(polygons).all() or _rings_meet(rings):
        return None
    order = np.argsort(-np.abs(areas))
    winding: dict[int, int] = {}
    shells: dict[int, list[Array]] = {}
    home: dict[int, int] = {}  # the shell whose solid part lies just outside or inside this ring
    seen: list[int] = []
    for i in order.tolist():
        parent = next((j for j in reversed(seen) if shapely.contains_properly(polygons[j], polygons[i])), None)
        before = 0 if parent is None else winding[parent]
        winding[i] = before + (1 if areas[i] > 0 else -1)
        if winding[i] and not before:
            shells[i] = []
            home[i] = i
        elif before and parent is not None:
            home[i] = home[parent]
            if not winding[i]:
                shells[home[parent]].append(rings[i])
        seen.append(i)
    region = (
        shapely.union_all([])
        if not shells
        else shapely.multipolygons([shapely.Polygon(rings[i], holes) for i, holes in shells.items()])
    )
    if not shapely.is_valid(region):
        return None
    return region.geoms[0] if len(shells) == 1 else region


def _rings_meet(rings: list[Array]) -> bool:
    """Return whether any two rings cross or touch: a bar lying half over a hole of another ring adds ink to it."""
    if len(rings) < 2:
        return False
    lines = [shapely.linearrings(r) for r in rings]
    first, second = shapely.STRtree(lines).query(lines, predicate="intersects")
    return bool((first != second).any())


def _build_by_winding(rings: list[Array]) -> Region:
    """Build the region reliably: cut the plane along all rings and keep the faces they wind round."""
    lines = shapely.union_all([shapely.linearrings(r) for r in rings], grid_size=None)
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(lines)))
    low, high = np.array([r.min(axis=0) for r in rings]), np.array([r.max(axis=0) for r in rings])

    def is_inside(point: Any) -> bool:
        at = np.array((point.x, point.y))
        near = np.flatnonzero(((low <= at) & (at <= high)).all(axis=1))  # no other ring surrounds it
        return bool(_compute_winding(point, [rings[k] for k in near]))

    inside = [f for f in faces if is_inside(shapely.point_on_surface(f))]
    return shapely.union_all(inside) if inside else shapely.Polygon()


def _compute_winding(point: Any, rings: list[Array]) -> int:
    """Return the winding number of the rings about a point, anticlockwise positive (crossings of the ray to the
    right)."""
    x, y, total = point.x, point.y, 0
    for ring in rings:
        a, b = ring, np.roll(ring, -1, axis=0)
        side = (b[:, 0] - a[:, 0]) * (y - a[:, 1]) - (x - a[:, 0]) * (b[:, 1] - a[:, 1])
        up, down = (a[:, 1] <= y) & (b[:, 1] > y), (a[:, 1] > y) & (b[:, 1] <= y)
        total += int(np.sum(up & (side > 0))) - int(np.sum(down & (side < 0)))
    return total


def list_region_rings(region: Region) -> list[Array]:
    """The rings of a region, outer anticlockwise, holes clockwise, none repeating its first corner."""
    rings = []
    for part in shapely.get_parts(shapely.orient_polygons(region)):
        for ring in (part.exterior, *part.interiors):
            if not ring.is_empty:
                rings.append(shapely.get_coordinates(ring)[:-1])
    return rings


def measure_point_distances(points: Array, of: Any) -> Array:
    """Return how far each point (n, 2) lies from a region or from lines, (n,); 0 inside. `of` must not be empty.

    The nearest stretch is looked up in a tree of stretches, so that many points cost little more than few.
    """
    off = np.zeros(len(points))
    lines = of
    outside = np.arange(len(points))
    if shapely.get_dimensions(of) == 2:
        shapely.prepare(of)
        outside = np.flatnonzero(~shapely.intersects_xy(of, points[:, 0], points[:, 1]))
        lines = shapely.boundary(of)
    corners, owner = shapely.get_coordinates(shapely.get_parts(lines), return_index=True)
    stretches = np.stack((corners[:-1], corners[1:]), axis=1)[owner[:-1] == owner[1:]]
    tree = shapely.STRtree(shapely.linestrings(stretches))
    found, far = tree.query_nearest(shapely.points(points[outside]), return_distance=True, all_matches=False)
    off[outside[found[0]]] = far
    return off
