"""The available area of a zone: exact for polygons, discs, keep-outs."""

import math

import numpy as np
import pytest
import shapely
from shapely.geometry import Point, Polygon, box

from pipeline.layout.available_area import compute_available_area

RECTANGLE = box(0, 0, 100, 40)


def square(x: float, y: float, half: float) -> np.ndarray:
    return np.array([[x - half, y - half], [x + half, y - half], [x + half, y + half], [x - half, y + half]], float)


def judge(room, hull):
    def outline(_):
        return shapely.polygons(hull)

    return room.holds([hull], outline), room.measure_slack([hull], outline)


@pytest.mark.parametrize(("x", "inside"), [(7.0, True), (6.9999, False)])
def test_margin_of_a_rectangle_is_exact(x, inside):
    holds, slack = judge(compute_available_area(RECTANGLE, [], 2.0), square(x, 20, 5))
    assert holds is inside
    assert slack == pytest.approx(x - 7.0, abs=1e-9)


def test_slack_of_a_disc_is_the_gap_to_its_rim():
    disc = Point(0, 0).buffer(30, quad_segs=2000)
    hull = square(0, 0, 10)
    _, slack = judge(compute_available_area(disc, [], 3.0), hull)
    assert slack == pytest.approx(27 - 10 * math.sqrt(2), abs=1e-3)


def test_the_margin_of_a_keep_out_is_round_at_its_corners():
    keep_out = box(40, 15, 60, 25)
    room = compute_available_area(RECTANGLE, [keep_out], 2.0)
    clear = 2.0 / math.sqrt(2)  # diagonal to the corner at (60, 25): exactly the margin away
    assert judge(room, square(60 + clear + 1 + 1e-4, 25 + clear + 1 + 1e-4, 1))[0]
    assert not judge(room, square(60 + clear + 1 - 1e-3, 25 + clear + 1 - 1e-3, 1))[0]


def test_slack_near_a_keep_out_counts_the_keep_out():
    room = compute_available_area(RECTANGLE, [box(40, 15, 60, 25)], 2.0)
    assert judge(room, square(70, 20, 5))[1] == pytest.approx(5 - 2, abs=1e-9)


def test_slack_outside_a_room_with_a_keep_out_is_negative():
    room = compute_available_area(RECTANGLE, [box(40, 15, 60, 25)], 2.0)
    assert judge(room, square(95, 20, 5))[1] == pytest.approx(-2.0, abs=1e-6)


def test_a_letter_may_curve_round_a_keep_out():
    """The hull of a C covers a dowel in its aperture; the letter itself doesn't touch it."""
    outer, inner = box(20, 5, 50, 35), box(25, 10, 51, 30)
    letter = outer.difference(inner)
    room = compute_available_area(RECTANGLE, [Point(42, 20).buffer(3, quad_segs=64)], 2.0)
    hull = np.asarray(letter.convex_hull.exterior.coords)
    assert room.holds([hull], lambda _: letter)


def test_a_slanted_zone_is_not_its_bounding_box():
    slanted = Polygon([(0, 0), (100, 0), (80, 40), (0, 40)])
    room = compute_available_area(slanted, [], 2.0)
    assert judge(room, square(70, 8, 5))[0]
    assert not judge(room, square(78, 32, 5))[0]  # inside the bounding box of the zone


def test_a_span_is_free_over_its_whole_height():
    room = compute_available_area(Polygon([(0, 0), (100, 0), (80, 40), (0, 40)]), [], 0.0)
    assert room.find_span(10, 20) == pytest.approx((0, 90), abs=1e-6)


def test_a_span_runs_beside_a_keep_out():
    room = compute_available_area(RECTANGLE, [box(60, 15, 70, 25)], 1.0)
    assert room.find_span(18, 22) == pytest.approx((1, 59), abs=1e-6)


def test_a_zone_smaller_than_its_margin_is_empty():
    assert compute_available_area(box(0, 0, 3, 40), [], 2.0).empty


def test_a_concave_zone_is_compared_with_outlines_not_hulls():
    """An L-shaped zone: a hull would span its corner, the letter doesn't."""
    zone = Polygon([(0, 0), (60, 0), (60, 20), (20, 20), (20, 60), (0, 60)])
    room = compute_available_area(zone, [], 2.0)
    letter = Polygon([(4, 4), (50, 4), (50, 10), (10, 10), (10, 50), (4, 50)])
    hull = np.asarray(letter.convex_hull.exterior.coords)
    assert room.holds([hull], lambda _: letter)
    assert room.measure_slack([hull], lambda _: letter) == pytest.approx(2.0, abs=1e-9)
    assert not room.holds([hull], lambda _: letter.convex_hull)


def test_the_slack_of_ink_in_a_keep_out_is_its_depth():
    room = compute_available_area(RECTANGLE, [box(40, 10, 60, 30)], 2.0)
    assert judge(room, square(50, 20, 1))[1] == pytest.approx(-9 - 2, abs=1e-9)
