"""The farthest of many points from a polyline, compared with GEOS measuring every one."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.cutting.contours import fit_contours
from pipeline.geometry.arcs.arc_fitting import fit_arcs, fit_lines
from pipeline.geometry.arcs.deviation import measure_deviation, measure_largest_distance
from pipeline.geometry.curves import Array, Chain, Path
from pipeline.geometry.flatten import flatten, flatten_chain
from tests.builders import shape


def of_all(a: Array, b: Array) -> float:
    return float(shapely.distance(shapely.points(a), shapely.linestrings(b)).max())


@settings(max_examples=150, deadline=None)
@given(
    st.integers(2, 200),
    st.integers(2, 200),
    st.booleans(),
    st.floats(0, 1),
    st.integers(0, 2**32 - 1),
)
def test_the_farthest_point_is_the_one_a_full_search_finds(n, m, closed, unlike, seed):
    """Runs in sequence, unrelated runs, and everything in between."""
    random = np.random.default_rng(seed)
    way = np.cumsum(random.normal(size=(n, 2)), axis=0)
    at = np.sort(random.uniform(0, n - 1, m))
    other = np.column_stack([np.interp(at, np.arange(n), way[:, k]) for k in (0, 1)])
    other += unlike * random.normal(scale=5, size=(m, 2))
    if closed:
        way, other = np.vstack((way, way[:1])), np.roll(other, m // 3, axis=0)
        other = np.vstack((other, other[:1]))
    assert measure_largest_distance(way, other, closed) == pytest.approx(of_all(way, other), rel=0, abs=1e-13)
    assert measure_largest_distance(other, way, closed) == pytest.approx(of_all(other, way), rel=0, abs=1e-13)


@pytest.mark.parametrize("stem", ["NotoSans", "EBGaramond", "GreatVibes"])
def test_the_deviation_of_letters_is_that_of_all_their_points(stem):
    for char in "agBS&":
        for path in shape(char, stem).outline:
            for fit in (fit_arcs(path, 1.0), fit_lines(path, 1.0)):
                a, b = flatten((path,), 0.02)[0], flatten_chain(fit.chain, 0.02)
                a, b = np.vstack((a, a[:1])), np.vstack((b, b[:1]))
                assert (fit.off_path, fit.off_chain) == (of_all(a, b), of_all(b, a))


def test_the_deviation_of_a_shifted_or_reversed_chain():
    square = np.array([[0, 0], [10, 0], [10, 10], [0, 10], [0, 0]], float)
    path = Path(square, (1, 1, 1, 1))
    for corners in (square[:-1], square[:-1][::-1], np.roll(square[:-1], 2, axis=0)):
        chain = Chain(np.column_stack((corners, np.zeros(4))))
        assert measure_deviation(path, chain, 0.1) == (0.0, 0.0)
        assert measure_deviation(path, chain.transform(dx=25), 0.1) == (25.0, 25.0)
    nothing = np.zeros((2, 2))
    assert measure_largest_distance(square, nothing, True) == of_all(square, nothing)
    assert measure_largest_distance(nothing, square + 3, True) == of_all(nothing, square + 3)


def test_a_fit_reports_the_deviation_of_the_chains_that_are_cut():
    """The fitted chains start at another point than those that were measured."""
    for char in "aegRSW8":
        letter = shape(char, "EBGaramond")
        fit = fit_contours(letter, "arcs", 1.5)
        off = [min(max(measure_deviation(path, chain, 1.5 / 50)) for path in letter.outline) for chain in fit.contours]
        assert fit.deviation == max(off)
