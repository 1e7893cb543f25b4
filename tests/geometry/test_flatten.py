"""Flattening, exact areas and boxes, polygons by the non-zero rule."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.geometry.curves import Chain, Path
from pipeline.geometry.flatten import (
    chain_area,
    chain_box,
    flatten,
    flatten_chain,
    outline_area,
    outline_box,
    path_area,
    ring_area,
)
from pipeline.geometry.regions import (
    build_chain_polygon,
    build_polygon_from_outline,
    build_polygon_from_rings,
    list_region_rings,
)

K = 4 / 3 * math.tan(math.pi / 8)  # the usual cubic quarter circle


def square(x, y, side, turn=1):
    p = [(x, y), (x + side, y), (x + side, y + side), (x, y + side), (x, y)]
    return Path(np.array(p[::turn], float), (1, 1, 1, 1))


def circle(r, cx=0.0, cy=0.0, turn=1):
    p = [
        (1, 0),
        (1, K),
        (K, 1),
        (0, 1),
        (-K, 1),
        (-1, K),
        (-1, 0),
        (-1, -K),
        (-K, -1),
        (0, -1),
        (K, -1),
        (1, -K),
        (1, 0),
    ]
    return Path(np.array(p[::turn]) * r + (cx, cy), (3, 3, 3, 3))


def bezier(points, t):
    n = len(points) - 1
    return sum(
        math.comb(n, i) * (1 - t)[:, None] ** (n - i) * t[:, None] ** i * points[i][None, :] for i in range(n + 1)
    )


def farthest(curve, line):
    a, b = line[:-1], line[1:]
    d = b - a
    t = np.einsum("pij,ij->pi", curve[:, None] - a, d) / np.maximum((d * d).sum(1), 1e-30)
    near = a + np.clip(t, 0, 1)[..., None] * d
    return np.sqrt(((curve[:, None] - near) ** 2).sum(-1)).min(1).max()


coordinate = st.floats(-100, 100).map(lambda v: round(v, 3))
point = st.tuples(coordinate, coordinate)


@settings(max_examples=60, deadline=None)
@given(st.lists(point, min_size=2, max_size=4), st.sampled_from([1.0, 0.1, 0.003]))
def test_no_chord_is_farther_than_the_tolerance(points, tolerance):
    p = np.array(points)
    (line,) = flatten(Path(p, (len(p) - 1,), closed=False), tolerance)
    if len(line) > 1:
        assert farthest(bezier(p, np.linspace(0, 1, 401)), line) <= tolerance * (1 + 1e-9)


def test_corners_lie_on_the_curve():
    (ring,) = flatten(circle(10), 0.01)
    assert np.abs(np.hypot(*ring.T) - 10).max() < 10 * 2.8e-4  # the cubic's own deviation from the circle


def test_equal_neighbours_are_dropped_and_tolerance_must_be_positive():
    path = Path(np.array([(0, 0), (1, 0), (1, 0), (1, 1), (0, 0)], float), (1, 1, 1, 1))
    assert len(flatten(path, 0.1)[0]) == 3
    with pytest.raises(ValueError, match="not positive"):
        flatten(path, 0)


def test_area_of_curves_is_exact():
    assert path_area(square(3, 4, 5)) == pytest.approx(25)
    assert path_area(square(3, 4, 5, -1)) == pytest.approx(-25)
    # A parabola's arch has two thirds of base times height; its control point is twice as high.
    arch = Path(np.array([(4, 0), (2, 6), (0, 0), (4, 0)], float), (2, 1))
    assert path_area(arch) == pytest.approx(2 / 3 * 4 * 3)
    fine = ring_area(flatten(circle(10, 7, -3), 1e-6)[0])
    assert path_area(circle(10, 7, -3)) == pytest.approx(fine, rel=3e-7)
    assert outline_area((circle(10), circle(4, turn=-1))) == pytest.approx(math.pi * 84, rel=4e-4)


@settings(max_examples=40, deadline=None)
@given(st.lists(point, min_size=4, max_size=4))
def test_box_of_curves_is_exact(points):
    p = np.array(points)
    dense = bezier(p, np.linspace(0, 1, 4001))
    box = np.array(outline_box(Path(p, (3,), closed=False)))
    assert np.all(box[:2] <= dense.min(0) + 1e-9)
    assert np.all(box[2:] >= dense.max(0) - 1e-9)
    assert np.allclose(box, [*dense.min(0), *dense.max(0)], atol=1e-3)


def test_an_empty_outline_has_no_box():
    assert outline_box(()) is None
    assert chain_box(Chain(np.zeros((0, 3)))) is None


def test_chain_of_two_half_circles():
    """Published DXF reference: a circle is two vertices with bulge 1."""
    disc = Chain(np.array([(0, 0, 1), (10, 0, 1)], float))
    assert chain_area(disc) == pytest.approx(math.pi * 25)
    assert chain_box(disc) == pytest.approx((0, -5, 10, 5))
    ring = flatten_chain(disc, 0.01)
    assert np.allclose(np.hypot(*(ring - (5, 0)).T), 5)
    assert math.pi * 25 - ring_area(ring) < 0.01 * math.pi * 10
    assert chain_area(Chain(np.array([(0, 0, -1), (10, 0, -1)], float))) == pytest.approx(-math.pi * 25)


def test_published_bulge():
    """Published DXF reference: (0,0) to (10,0) with bulge tan(22.5°): centre (5, 5), radius 7.0710678."""
    arc = Chain(np.array([(0, 0, math.tan(math.radians(22.5))), (10, 0, 0)]), closed=False)
    line = flatten_chain(arc, 0.001)
    assert np.allclose(np.hypot(*(line - (5, 5)).T), 7.0710678)
    assert tuple(line[0]) == (0, 0)
    assert tuple(line[-1]) == (10, 0)


def test_chord_error_of_arcs():
    """r (1 − cos(π / n)): 64 sides on radius 50 are off by .0602."""
    disc = Chain(np.array([(-50, 0, 1), (50, 0, 1)], float))
    assert len(flatten_chain(disc, 0.0603)) == 64
    assert len(flatten_chain(disc, 0.0600)) > 64


def test_polygon_with_hole_and_island():
    region = build_polygon_from_outline((circle(10), circle(6, turn=-1), circle(2)), 0.001)
    assert region.is_valid
    assert region.area == pytest.approx(math.pi * (100 - 36 + 4), rel=1e-3)
    assert [ring_area(r) > 0 for r in list_region_rings(region)].count(False) == 1


@pytest.mark.parametrize("turn", [1, -1])
def test_overlaps_count_once(turn):
    outline = (square(0, 0, 4, turn), square(2, 2, 4, turn))
    assert build_polygon_from_outline(outline, 0.01).area == pytest.approx(28)
    assert build_polygon_from_outline((square(0, 0, 4, turn), square(1, 1, 1, turn)), 0.01).area == pytest.approx(16)


def test_figure_of_eight_is_filled_on_both_sides():
    eight = Path(np.array([(0, 0), (4, 4), (4, 0), (0, 4), (0, 0)], float), (1, 1, 1, 1))
    assert build_polygon_from_outline(eight, 0.01).area == pytest.approx(8)


def test_opposite_overlaps_cancel():
    """Winding +1 and −1 add up to 0: not filled."""
    assert build_polygon_from_outline((square(0, 0, 4), square(2, 2, 4, -1)), 0.01).area == pytest.approx(24)


def test_empty_and_open_outlines_enclose_nothing():
    assert build_polygon_from_outline((), 0.1).is_empty
    assert build_polygon_from_outline(
        Path(np.array([(0, 0), (3, 0), (3, 3)], float), (1, 1), closed=False), 0.1
    ).is_empty


def test_a_bar_over_the_rim_of_a_hole_adds_its_ink():
    """A ring with a crossbar that ends inside the ring, as fonts draw the letter ɵ."""

    def box(x0, y0, x1, y1, turn):
        ring = np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], dtype=float)
        return ring if turn > 0 else ring[::-1]

    for turn in (1, -1):
        rings = [box(0, 0, 100, 100, turn), box(20, 20, 80, 80, -turn), box(10, 45, 90, 55, turn)]
        assert build_polygon_from_rings(rings).area == 100 * 100 - 60 * 60 + 60 * 10


def test_chain_polygon():
    disc = Chain(np.array([(0, 0, 1), (10, 0, 1)], float))
    hole = Chain(np.array([(4, 0, -1), (6, 0, -1)], float))
    assert build_chain_polygon((disc, hole), 1e-4).area == pytest.approx(math.pi * 24, rel=1e-4)


@settings(max_examples=30, deadline=None)
@given(st.floats(-3, 3), st.floats(0.1, 9), coordinate, coordinate)
def test_area_moves_with_the_shape(turn, scale, dx, dy):
    moved = circle(3, 1, 2).transform(scale, dx, dy, turn)
    assert path_area(moved) == pytest.approx(path_area(circle(3, 1, 2)) * scale**2, rel=1e-9)


def test_two_holes_of_unequal_corners():
    region = build_polygon_from_outline((circle(20), circle(4, -8, turn=-1), square(5, -2, 4, -1)), 0.001)
    assert region.area == pytest.approx(math.pi * 384 - 16, rel=1e-3)


def test_each_segment_may_have_a_tolerance_of_its_own():
    """A circle whose first quarter is flattened finely has as many chords there as a fine circle, and as few elsewhere
    as a coarse one."""
    path, fine, coarse = circle(100), 0.001, 1.0
    mixed = flatten(path, np.array([fine, coarse, coarse, coarse]))[0]
    per_quarter = [len(flatten(path, t)[0]) // 4 for t in (fine, coarse)]
    assert len(mixed) == per_quarter[0] + 3 * per_quarter[1]
    assert build_polygon_from_outline(path, np.full(4, fine)).equals(build_polygon_from_outline(path, fine))
    with pytest.raises(ValueError, match="not positive"):
        flatten(path, np.array([1.0, 1.0, 0.0, 1.0]))
