"""Arcs along curves, compared with exact areas (ellipse: π a b) and with dense samples of the curve."""

import math

import numpy as np
import pytest
import shapely

from pipeline.geometry.arcs.biarcs import fit_biarcs
from pipeline.geometry.curves import Chain
from pipeline.geometry.flatten import chain_area, flatten_chain


def ellipse(a, b, turn=0.0):
    c, s = math.cos(turn), math.sin(turn)
    matrix = np.array([[c, s], [-s, c]])

    def curve(t):
        return (
            np.column_stack((a * np.cos(t), b * np.sin(t))) @ matrix,
            np.column_stack((-a * np.sin(t), b * np.cos(t))) @ matrix,
        )

    return curve


QUARTERS = [[k * math.pi / 2 for k in range(5)]]


@pytest.mark.parametrize(("a", "b"), [(50.0, 20.0), (3.0, 2.9), (100.0, 1.0), (0.5, 0.4)])
@pytest.mark.parametrize("turn", [0.0, 0.7])
@pytest.mark.parametrize("tolerance", [0.01, 0.001])
def test_an_ellipse_stays_within_its_tolerance(a, b, turn, tolerance):
    curve = ellipse(a, b, turn)
    vertices = fit_biarcs(curve, QUARTERS, tolerance)
    assert vertices[0, :2] == pytest.approx(vertices[-1, :2], abs=1e-12)
    chain = Chain(vertices[:-1])
    around = 4 * (a + b)  # at least the circumference
    assert chain_area(chain) == pytest.approx(math.pi * a * b, abs=tolerance * around)
    ring = shapely.LinearRing(flatten_chain(chain, tolerance / 50))
    dense, _ = curve(np.linspace(0, math.tau, 5000))
    assert shapely.distance(shapely.points(dense), ring).max() <= tolerance * 1.05
    other_way = shapely.LinearRing(dense[:-1])
    assert shapely.distance(shapely.points(shapely.get_coordinates(ring)), other_way).max() <= tolerance * 1.05 + (
        (a + b) * (1 - math.cos(math.pi / 5000))
    )


def test_a_circle_is_its_own_arcs_exactly():
    vertices = fit_biarcs(ellipse(20, 20), QUARTERS, 1e-6)
    assert len(vertices) == 5
    assert vertices[:-1, 2] == pytest.approx(math.tan(math.pi / 8), abs=1e-8)  # four arcs of 90°


def test_neighbouring_arcs_meet_without_a_kink():
    vertices = fit_biarcs(ellipse(50, 20), QUARTERS, 0.001)
    for p, q, r in zip(vertices, vertices[1:], vertices[2:], strict=False):
        arrive = math.atan2(q[1] - p[1], q[0] - p[0]) + 2 * math.atan(p[2])
        leave = math.atan2(r[1] - q[1], r[0] - q[0]) - 2 * math.atan(q[2])
        assert math.remainder(arrive - leave, math.tau) == pytest.approx(0, abs=1e-6)


def test_a_finer_tolerance_never_needs_fewer_arcs():
    counts = [len(fit_biarcs(ellipse(50, 20), QUARTERS, t)) for t in (0.1, 0.01, 0.001, 0.0001)]
    assert counts == sorted(counts)


def test_a_straight_curve_is_one_line():
    def curve(t):
        return np.column_stack((t**2 * 10, t**2 * 5)), np.column_stack((t * 20, t * 10))

    vertices = fit_biarcs(curve, [[0.0, 1.0]], 0.001)  # zero speed at its start
    assert vertices.tolist() == [[0.0, 0.0, 0.0], [10.0, 5.0, 0.0]]


def test_a_curve_that_turns_back_on_itself_is_followed():
    """y = x^1.5 doubled: a cusp at the origin (semicubical parabola)."""

    def curve(t):
        return np.column_stack((t**2, t**3)), np.column_stack((2 * t, 3 * t**2))

    vertices = fit_biarcs(curve, [[-1.0, 1.0]], 0.001)
    line = shapely.LineString(flatten_chain(Chain(vertices, closed=False), 1e-5))
    dense, _ = curve(np.linspace(-1, 1, 2001))
    assert shapely.distance(shapely.points(dense), line).max() < 0.0012


def test_invalid_arguments_are_refused():
    with pytest.raises(ValueError, match="not positive"):
        fit_biarcs(ellipse(2, 1), QUARTERS, 0.0)
    with pytest.raises(ValueError, match="rise"):
        fit_biarcs(ellipse(2, 1), [[1.0, 1.0]], 0.1)
