"""The area available to a line: its zone less the margin, less keep-outs and pockets with their margins.

What counts is ink inside this room, exact for any polygon, not a box round it. A convex zone is a set of half-planes
that the hulls of the letters are held against; any other zone, and every keep-out a letter comes near, is held against
the outlines themselves.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from pipeline.geometry.curves import Array

ROUNDING_SEGMENTS = 90
"""Segments of a quarter circle where a margin goes round a corner: a 2 mm margin is then off by less than 0.0001 mm.
Only the free span of a block and the fault of an empty room are read from this region; fit is a measured distance."""

TOUCHING = 1e-7
"""mm. Ink this close to the limit of its room counts as inside: the rounding of double arithmetic."""

Outlines = Callable[[int], BaseGeometry]
"""The exact area of the n-th letter of a row, made when asked for."""


@dataclass(frozen=True, slots=True, eq=False)
class AvailableArea:
    """The area where ink may be. A convex zone has `normals` and `offsets`: n·p <= offset inside the zone less its
    margin."""

    region: BaseGeometry  # the zone minus everything kept free
    zone: Polygon
    forbidden: tuple[Polygon, ...]  # keep-outs and pockets near the zone, without margin
    boxes: Array  # (n, 4), bounds of `forbidden`
    margin: float
    normals: Array
    offsets: Array

    @property
    def empty(self) -> bool:
        return bool(self.region.is_empty)

    @property
    def box(self) -> tuple[float, float, float, float]:
        x0, y0, x1, y1 = self.region.bounds
        return float(x0), float(y0), float(x1), float(y1)

    def holds(self, hulls: Sequence[Array], outline: Outlines) -> bool:
        """Return whether all ink of a row is inside. hulls: the convex hull of each letter, mm."""
        return self.measure_slack(hulls, outline, enough=0.0) >= -TOUCHING

    def measure_slack(self, hulls: Sequence[Array], outline: Outlines, enough: float | None = None) -> float:
        """Return the clearance between ink and the limits of the area, mm; negative where ink is outside.

        With `enough` the search stops where there is more clearance than that.
        """
        least = self.measure_zone_slack(hulls, outline)
        if not len(self.boxes) or least < -TOUCHING:
            return least
        stop = least if enough is None else min(least, enough)
        lows, highs = np.array([h.min(axis=0) for h in hulls]), np.array([h.max(axis=0) for h in hulls])
        near = np.flatnonzero(
            self._bound_clearance(lows.min(axis=0), highs.max(axis=0)) < stop
        )  # keep-outs the row comes near
        for k in near:
            for i in np.flatnonzero(self._bound_clearance(lows, highs, int(k)) < stop):
                least = min(least, self._measure_clearance(self.forbidden[k], outline(int(i))))
                stop = min(stop, least)
        return least

    def _bound_clearance(self, low: Array, high: Array, k: int | slice = slice(None)) -> Array:
        """Return a lower bound of the clearance of boxes low..high from the forbidden areas (or one of them), less the
        margin, mm."""
        box = self.boxes[k]
        gaps = np.maximum(np.maximum(box[..., :2] - high, low - box[..., 2:]), 0.0)
        return np.asarray(np.hypot(gaps[..., 0], gaps[..., 1]) - self.margin)

    def _measure_clearance(self, forbidden: Polygon, area: BaseGeometry) -> float:
        distance = float(area.distance(forbidden))
        if distance > 0.0:
            return distance - self.margin
        inside = shapely.get_coordinates(area.intersection(forbidden))
        deepest = shapely.distance(shapely.points(inside), forbidden.exterior).max() if len(inside) else 0.0
        return -float(deepest) - self.margin

    def measure_zone_slack(self, hulls: Sequence[Array], outline: Outlines) -> float:
        """Return the same, ignoring keep-outs."""
        if len(self.normals):
            return self._measure_convex_slack(np.concatenate(hulls))
        least = np.inf
        for i, hull in enumerate(hulls):
            quick = shapely.convex_hull(shapely.multipoints(hull))
            area = quick if self.zone.covers(quick) and quick.distance(self.zone.exterior) >= least else outline(i)
            outside = area.difference(self.zone)
            if outside.is_empty or outside.length < TOUCHING:
                least = min(least, float(area.distance(self.zone.exterior)) - self.margin)
            else:
                points = shapely.points(shapely.get_coordinates(outside))
                least = min(least, -float(shapely.distance(points, self.zone).max()) - self.margin)
        return float(least)

    def _measure_convex_slack(self, points: Array) -> float:
        """Return the same for a convex zone. Only sides that the bounding box may come as near to as the points do are
        considered."""
        outer = np.where(self.normals > 0, points.max(axis=0), points.min(axis=0))
        least = self.offsets - np.einsum("ij,ij->i", outer, self.normals)
        k = least.argmin()
        near = least <= self.offsets[k] - (points @ self.normals[k]).max()
        near[k] = True
        return float((self.offsets[near] - (points @ self.normals[near].T).max(axis=0)).min())

    def find_span(self, low: float, high: float) -> tuple[float, float]:
        """Return the widest interval of x that is free over the whole height low..high; (middle, middle) when there is
        none."""
        x0, _, x1, _ = self.box
        band = box(x0 - 1, low, x1 + 1, high)
        taken = sorted((b[0], b[2]) for b in (p.bounds for p in _list_polygons(band.difference(self.region))))
        best, at = (0.5 * (x0 + x1), 0.5 * (x0 + x1)), x0 - 1
        for left, right in [*taken, (x1 + 1, x1 + 1)]:
            if left - at > best[1] - best[0]:
                best = (at, left)
            at = max(at, right)
        return float(best[0]), float(best[1])


def _list_polygons(shape: BaseGeometry) -> list[Polygon]:
    return [p for p in shapely.get_parts(shape) if isinstance(p, Polygon) and not p.is_empty]


def compute_available_area(zone: Polygon, forbidden: Iterable[Polygon], margin: float) -> AvailableArea:
    """The room of a zone. Keep-outs farther than the margin from the zone do not count."""
    region: BaseGeometry = zone.buffer(-margin, quad_segs=ROUNDING_SEGMENTS) if margin else zone
    near = tuple(part for part in forbidden if part.distance(zone) < margin or part.intersects(zone))
    for part in near:
        region = region.difference(part.buffer(margin, quad_segs=ROUNDING_SEGMENTS) if margin else part)
    normals, offsets = _compute_half_planes(zone)
    boxes = np.array([part.bounds for part in near]).reshape(-1, 4)
    return AvailableArea(
        region=region, zone=zone, forbidden=near, boxes=boxes, margin=margin, normals=normals, offsets=offsets - margin
    )


def _compute_half_planes(zone: Polygon) -> tuple[Array, Array]:
    """Outward unit normals and offsets of a convex polygon's sides; empty arrays for any other."""
    hull = zone.convex_hull
    if zone.is_empty or zone.interiors or not isinstance(hull, Polygon) or hull.area - zone.area > 1e-9 * zone.area:
        return np.empty((0, 2)), np.empty(0)
    ring = np.asarray(shapely.get_coordinates(shapely.geometry.polygon.orient(hull).exterior))
    sides = np.diff(ring, axis=0)
    lengths = np.hypot(sides[:, 0], sides[:, 1])
    keep = lengths > 0
    sides, starts = sides[keep] / lengths[keep, None], ring[:-1][keep]
    normals = np.column_stack([sides[:, 1], -sides[:, 0]])
    return normals, np.einsum("ij,ij->i", normals, starts)
