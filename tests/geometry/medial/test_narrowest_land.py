"""The narrowest land round and inside a shape."""

import pytest

from tests.geometry.medial.narrowest import find_narrowest_land
from tests.geometry.shapes import ellipse, rectangle, ring

EM, CAP = 1000.0, 700.0


def test_gap_between_two_parts():
    found = find_narrowest_land((rectangle(0, 0, 100, 400), ellipse(50, 50).transform(dx=50, dy=480)), CAP, EM)
    assert (found.kind, found.width) == ("gap", pytest.approx(30, rel=2e-3))
    assert (found.x, found.y) == pytest.approx((50, 415), abs=0.5)


def test_counter_of_a_ring():
    found = find_narrowest_land((ellipse(100, 100), ellipse(40, 40, -1)), CAP, EM)
    assert (found.kind, found.width) == ("counter", pytest.approx(80, rel=5e-3))


def test_counter_that_is_a_slit():
    found = find_narrowest_land(
        (rectangle(0, 0, 400, 200), ring([(50, 90), (50, 110), (350, 110), (350, 90)])), CAP, EM
    )
    assert (found.kind, found.width) == ("counter", pytest.approx(20))


def test_aperture_opens_into_something_wider():
    """A box with a mouth of 24 in its side."""
    box = ring(
        [(0, 0), (300, 0), (300, 138), (260, 138), (260, 40), (40, 40), (40, 260), (260, 260), (260, 162), (300, 162),
         (300, 300), (0, 300)]
    )  # fmt: skip
    found = find_narrowest_land((box,), CAP, EM)
    assert (found.kind, found.width) == ("aperture", pytest.approx(24, rel=1e-3))
    assert found.x == pytest.approx(280, abs=21)


def test_an_acute_crotch_does_not_count():
    v = ring([(0, 400), (90, 0), (110, 0), (200, 400), (170, 400), (100, 60), (30, 400)])
    assert find_narrowest_land((v,), CAP, EM) is None


def test_turning_and_scaling():
    outline = (rectangle(0, 0, 100, 400), ellipse(50, 50).transform(dx=50, dy=480))
    turned = tuple(p.transform(2.5, 10, 20, 0.7) for p in outline)
    assert find_narrowest_land(turned, CAP * 2.5, EM * 2.5).width == pytest.approx(75, rel=2e-3)


def test_an_empty_outline_has_no_land():
    assert find_narrowest_land((), CAP, EM) is None
    assert find_narrowest_land((ellipse(100, 100),), CAP, EM) is None
