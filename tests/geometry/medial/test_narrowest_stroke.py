"""The axis and the narrowest stroke, compared with shapes whose exact answer is known."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.geometry.curves import Path
from pipeline.geometry.medial.axis_reach import measure_reach
from pipeline.geometry.medial.medial_axis import compute_medial_axis
from pipeline.geometry.regions import build_polygon_from_outline
from tests.geometry.medial.narrowest import find_narrowest_stroke
from tests.geometry.shapes import EXACT, candidates, ellipse, letter_l, plus, rectangle, ring

EM, CAP = 1000.0, 700.0


def moved(outline, *, scale=1.0, turn=0.0, dx=0.0, dy=0.0):
    return tuple(p.transform(scale, dx, dy, turn) for p in outline)


@pytest.mark.parametrize("turn", [0.0, 0.3, math.pi / 2])
@pytest.mark.parametrize("scale", [1.0, 0.013, 37.0])
@pytest.mark.parametrize(("name", "outline", "stroke", "widest"), EXACT, ids=[e[0] for e in EXACT])
def test_exact_shapes(*, name, outline, stroke, widest, scale, turn):
    """Within 0.5 % for a bar, ring, ellipse, square, triangle, L, T, plus and hourglass, at any rotation and size."""
    here = moved(outline, scale=scale, turn=turn, dx=31 * scale, dy=-7 * scale)
    found = find_narrowest_stroke(here, CAP * scale, EM * scale)
    assert found.width / scale == pytest.approx(stroke, rel=5e-3)
    if widest is not None:
        axis = compute_medial_axis(build_polygon_from_outline(here, EM * scale / 20_000))
        assert axis.radius.max() / scale == pytest.approx(widest, rel=1e-3)


@pytest.mark.parametrize("fine", [1, 3, 10, 40])
def test_ellipse_radii_along_the_axis(fine):
    """r(x) = b √(1 − x² / (a² − b²)), ending at |x| = (a² − b²) / a with b² / a (definition Hildebrand & Rüegsegger
    1997, values computed from it): a 5, b 3 has 3, 2.904738 and 2.598076 at x = 0, 1, 2 and 1.8 at its end, 3.2."""
    axis = compute_medial_axis(build_polygon_from_outline(ellipse(5, 3), 0.001 / fine))
    spine = np.abs(axis.points[:, 1]) < 1e-6
    x, r = axis.points[spine, 0], axis.radius[spine]
    order = np.argsort(x)
    for at, want in ((0, 3.0), (1, 2.904738), (2, 2.598076), (-2, 2.598076)):
        assert np.interp(at, x[order], r[order]) == pytest.approx(want, rel=2e-3 / fine + 1e-5)
    inner = np.abs(x) <= 3.2
    assert r[inner].min() == pytest.approx(1.8, rel=0.02 / fine + 2e-3)


def test_wedge_radius():
    """A wedge of angle θ at distance s from its apex along the axis: s sin(θ / 2)."""
    angle = math.radians(40)
    axis = compute_medial_axis(shapely.Polygon([(0, 0), (100, 100 * math.tan(angle)), (100, 0)]))
    x, y = axis.points.T
    bisector = np.abs(x * math.sin(angle / 2) - y * math.cos(angle / 2)) < 1e-6
    assert bisector.sum() >= 2
    for p, r in zip(axis.points[bisector], axis.radius[bisector], strict=True):
        assert r == pytest.approx(np.hypot(*p) * math.sin(angle / 2), abs=1e-5)


def test_narrowest_place_may_lie_inside_an_edge():
    """Two facing notches: the least radius is between two corners, not at a vertex of the diagram."""
    notched = ring(
        [(0, 0), (190, 0), (200, 48), (210, 0), (400, 0), (400, 120), (210, 120), (200, 72), (190, 120), (0, 120)]
    )
    found = find_narrowest_stroke((notched,), CAP, EM)
    assert found.width == pytest.approx(24)
    assert (found.x, found.y) == pytest.approx((200, 60), abs=0.01)


def test_kinds_and_places():
    bar = find_narrowest_stroke((rectangle(0, 0, 400, 50),), CAP, EM)
    assert bar.kind == "piece"
    hair = find_narrowest_stroke(EXACT[-1][1], CAP, EM)
    assert hair.kind == "neck"
    assert (hair.x, hair.y) == pytest.approx((240, 350), abs=1)
    assert find_narrowest_stroke((letter_l(60, 400),), CAP, EM).kind == "branch"
    assert find_narrowest_stroke((), CAP, EM) is None


def test_the_thinnest_of_several_pieces():
    found = find_narrowest_stroke((rectangle(0, 0, 300, 60), ellipse(20, 20).transform(dx=150, dy=200)), CAP, EM)
    assert found.kind == "piece"
    assert found.width == pytest.approx(40, rel=5e-3)
    assert (found.x, found.y) == pytest.approx((150, 200), abs=0.5)


def test_a_serif_counts_when_long_and_not_when_short():
    """Beyond the narrow place, the axis must extend more than two widths and cap / 50."""
    long = ring([(0, 0), (100, 0), (100, 280), (180, 280), (180, 300), (0, 300)])
    short = ring([(0, 0), (100, 0), (100, 280), (125, 280), (125, 300), (0, 300)])
    assert find_narrowest_stroke((long,), CAP, EM).width == pytest.approx(20, rel=1e-3)
    assert find_narrowest_stroke((short,), CAP, EM).width == pytest.approx(100, rel=1e-3)


def test_outlines_that_merely_touch_lose_nothing():
    """Two diamonds sharing one corner: no stroke of zero width."""
    two = (ring([(0, 0), (50, -50), (100, 0), (50, 50)]), ring([(100, 0), (150, -50), (200, 0), (150, 50)]))
    assert find_narrowest_stroke(two, CAP, EM).width == pytest.approx(math.sqrt(2) * 50, rel=1e-3)
    hole = (rectangle(0, 0, 200, 200), ring([(200, 100), (150, 60), (100, 100), (150, 140)]))
    assert find_narrowest_stroke(hole, CAP, EM).width > 5


def test_a_speck_is_dropped_and_a_crossing_outline_is_read_by_winding():
    assert find_narrowest_stroke(
        (rectangle(0, 0, 300, 60), rectangle(400, 0, 400.5, 0.5)), CAP, EM
    ).width == pytest.approx(60)
    eight = Path(np.array([(0, 0), (200, 200), (200, 0), (0, 200), (0, 0)], float), (1, 1, 1, 1))
    assert find_narrowest_stroke((eight,), CAP, EM).width > 50


def test_walk_splits_core_and_branches():
    region = build_polygon_from_outline((ellipse(100, 100), ellipse(60, 60, -1)), 1)
    axis = compute_medial_axis(region)
    w = measure_reach(axis)
    assert w.core.any()
    assert not w.middles
    tree = measure_reach(compute_medial_axis(shapely.box(0, 0, 300, 40)))
    assert not tree.core.any()
    (middle,) = tree.middles
    assert middle.place == pytest.approx((150, 20), abs=1e-6)
    assert middle.half == pytest.approx(130 + 20 * math.sqrt(2))


numbers = st.floats(-500, 500).map(lambda v: round(v, 2))


@settings(max_examples=25, deadline=None)
@given(st.sampled_from(EXACT), st.floats(0, 7), numbers, numbers)
def test_moving_and_rotating_change_nothing(case, turn, dx, dy):
    before = find_narrowest_stroke(case[1], CAP, EM)
    after = find_narrowest_stroke(moved(case[1], turn=turn, dx=dx, dy=dy), CAP, EM)
    assert after.width == pytest.approx(before.width, rel=2e-3)
    assert after.kind == before.kind


@settings(max_examples=25, deadline=None)
@given(st.sampled_from(EXACT), st.floats(0.001, 1000))
def test_scaling_scales(case, scale):
    before = find_narrowest_stroke(case[1], CAP, EM)
    after = find_narrowest_stroke(moved(case[1], scale=scale), CAP * scale, EM * scale)
    assert after.width == pytest.approx(before.width * scale, rel=1e-4)


@settings(max_examples=20, deadline=None)
@given(st.sampled_from([e for e in EXACT if e[0] in ("disc", "ring", "ellipse")]), st.floats(0.02, 2))
def test_refining_converges(case, tolerance):
    """Halving the tolerance eight times brings the width within a hundredth of the coarse error."""
    exact = case[2]
    coarse = candidates(build_polygon_from_outline(case[1], tolerance), CAP).find_narrowest().width
    fine = candidates(build_polygon_from_outline(case[1], tolerance / 256), CAP).find_narrowest().width
    assert abs(fine - exact) <= tolerance / 50 + 2e-5 * exact
    assert abs(coarse - exact) <= 4 * tolerance + 2e-5 * exact


@settings(max_examples=20, deadline=None)
@given(st.floats(5, 55), st.floats(50, 350))
def test_removing_material_never_widens_a_stroke(depth, at):
    whole = build_polygon_from_outline((rectangle(0, 0, 400, 60),), 0.1)
    less = whole.difference(shapely.Polygon([(at - 8, -1), (at + 8, -1), (at, depth)]))
    assert candidates(less, CAP).find_narrowest().width <= candidates(whole, CAP).find_narrowest().width * (1 + 1e-6)


def test_plus_stroke_is_its_arm():
    assert find_narrowest_stroke((plus(60, 400),), CAP, EM).width == pytest.approx(60, rel=1e-3)
