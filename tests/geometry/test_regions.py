"""Distances of many points from a region, compared with GEOS point by point."""

import time

import numpy as np
import pytest
import shapely

from pipeline.geometry.regions import build_polygon_from_outline, build_polygon_from_rings, measure_point_distances
from tests.builders import shape


@pytest.mark.parametrize("char", ["g", "8", "i"])
def test_distances_are_those_of_each_point_alone(char):
    region = build_polygon_from_outline(shape(char).outline, 0.5)
    x0, y0, x1, y1 = region.bounds
    random = np.random.default_rng(7)
    points = np.vstack(
        (random.uniform((x0 - 90, y0 - 90), (x1 + 90, y1 + 90), (300, 2)), shapely.get_coordinates(region))
    )
    alone = [shapely.Point(p).distance(region) for p in points]
    assert measure_point_distances(points, region) == pytest.approx(alone, abs=1e-9)
    assert (measure_point_distances(points[:300], region) == 0).any()


def test_distances_from_lines_are_not_zero_inside():
    ring = shapely.LineString([(0, 0), (4, 0), (4, 4), (0, 4), (0, 0)])
    both = shapely.MultiLineString([ring, [(10, 0), (10, 5)]])
    assert measure_point_distances(np.array([(2.0, 1.0), (9.0, 2.0), (10.0, 9.0)]), both).tolist() == [1.0, 1.0, 4.0]


def test_a_long_row_of_touching_rings_does_not_take_quadratic_time():
    ring = np.array([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)])
    rings = [ring + (0.75 * k, 0.0) for k in range(400)]
    started = time.process_time()
    region = build_polygon_from_rings(rings)
    assert region.bounds == (0, 0, 399 * 0.75 + 1, 1) and region.area == pytest.approx(399 * 0.75 + 1)
    assert time.process_time() - started < 3
