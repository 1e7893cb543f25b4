"""What an upright round cutter (end mill, point, laser) reaches of a shape, and what stays in its corners.

The region it reaches is the opening of the shape by its radius. In a corner of angle θ, a = θ/2, it leaves
r² (cot a − (π/2 − a)) and stays r (1/sin a − 1) away from the corner itself.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from pipeline.cutting.simulate import reachable
from pipeline.geometry.regions import Region


@dataclass(frozen=True, slots=True)
class Lost:
    """What stays uncut, in the region's unit: its area; how far its farthest point lies from what is reached; where."""

    area: float
    reach: float
    at: tuple[float, float] | None


def lost(region: Region, radius: float) -> Lost:
    """What a disc of this radius cannot reach of a region. A region it fits nowhere is lost whole."""
    reached = reachable(region, radius)
    left = shapely.difference(region, reached)
    if left.is_empty:
        return Lost(0.0, 0.0, None)
    points = shapely.get_coordinates(left)
    if reached.is_empty:
        middle = shapely.point_on_surface(region)
        return Lost(float(region.area), math.inf, (middle.x, middle.y))
    shapely.prepare(reached)
    off = shapely.distance(reached, shapely.points(points))
    k = int(np.argmax(off))
    return Lost(float(left.area), float(off[k]), (float(points[k, 0]), float(points[k, 1])))


def corner_area(angle: float, radius: float) -> float:
    """Area a round cutter leaves in one corner of this angle (radians): r² (cot a − (π/2 − a)), a half the angle."""
    a = angle / 2
    return radius * radius * (1 / math.tan(a) - (math.pi / 2 - a))


def corner_reach(angle: float, radius: float) -> float:
    """How far it stays from the corner, along the bisector: r (1 / sin a − 1)."""
    return radius * (1 / math.sin(angle / 2) - 1)
