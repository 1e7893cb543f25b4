"""Reach of an upright round cutter (end mill, point, laser) in a shape, and what stays in its corners.

The region it reaches is the opening of the shape by its radius. In a corner of angle θ, a = θ/2, it leaves
r² (cot a − (π/2 − a)) and stays r (1/sin a − 1) away from the corner itself.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from pipeline.cutting.simulated_cut import QUARTER
from pipeline.geometry.regions import Region, measure_point_distances

CORNER = 1.02
"""Points of an outline farther than this many radii from the cutter's middle are measured first: corners."""


@dataclass(frozen=True, slots=True)
class Unreached:
    """The part that stays uncut, in the region's unit: its area; how far its farthest point lies from what is reached;
    where."""

    area: float
    reach: float
    at: tuple[float, float] | None


def find_unreached(region: Region, radius: float) -> Unreached:
    """Return what a disc of this radius cannot reach of a region. A region in which it fits nowhere is lost entirely.

    The disc reaches every place within its radius of where its centre may go, which gives the distance of any place
    from the reached area; the farthest places are corners of the region.
    """
    middles = shapely.buffer(region, -radius, quad_segs=QUARTER)
    if middles.is_empty:
        if region.is_empty:
            return Unreached(0.0, 0.0, None)
        place = shapely.point_on_surface(region)
        return Unreached(float(region.area), math.inf, (place.x, place.y))
    left = float(region.area - shapely.buffer(middles, radius, quad_segs=QUARTER).area)
    points = shapely.get_coordinates(region)
    shapely.prepare(middles)
    far = points[~shapely.dwithin(middles, shapely.points(points), radius * CORNER)]
    points = far if len(far) else points  # most lie along straight strokes, and one that is farther settles it
    off = measure_point_distances(points, middles) - radius
    k = int(np.argmax(off))
    if off[k] <= 0:
        return Unreached(max(left, 0.0), 0.0, None)
    return Unreached(max(left, 0.0), float(off[k]), (float(points[k, 0]), float(points[k, 1])))
