"""Outlines fitted with arcs and chords: distances, breaks, corners, counts; published arc values."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import KDTree

from pipeline.geometry.arcs.arc_fitting import (
    SWING,
    _find_all_spans,
    fit_arcs,
    fit_lines,
    measure_deviation,
)
from pipeline.geometry.arcs.bulges import WIDEST, compute_bulge_from_area, find_bulges_within
from pipeline.geometry.arcs.curve_samples import CORNER, sample_curve, wrap_angle
from pipeline.geometry.contour_order import find_tangent_breaks
from pipeline.geometry.curves import Chain, Path
from pipeline.geometry.flatten import chain_area, compute_arc_from_bulge, flatten, path_area
from tests.builders import shape

KAPPA = 0.5522847498307936  # 4/3 (√2 - 1): the cubic that misses a quarter circle by 2.7e-4 of its radius

LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz"


def ellipse(a: float, b: float, x: float = 0.0, y: float = 0.0) -> Path:
    k = KAPPA
    p = [(a, 0), (a, k * b), (k * a, b), (0, b), (-k * a, b), (-a, k * b), (-a, 0), (-a, -k * b), (-k * a, -b)]
    p += [(0, -b), (k * a, -b), (a, -k * b), (a, 0)]
    return Path(np.array(p, float) + (x, y), (3, 3, 3, 3))


def polygon(*corners: tuple[float, float], closed: bool = True) -> Path:
    points = [*corners, corners[0]] if closed else list(corners)
    return Path(np.array(points, float), (1,) * (len(points) - 1), closed)


def distance_to(path: Path, points: np.ndarray, fine: float) -> float:
    """Return the distance of the points from the path, by searching densely sampled points: independent of our measure,
    and too large by √(d² + (10 fine)²) - d at most."""
    (ring,) = flatten(path, fine)
    run = np.vstack((ring, ring[:1])) if path.closed else ring
    steps = np.maximum(1, np.ceil(np.hypot(*np.diff(run, axis=0).T) / (20 * fine))).astype(int)
    owner = np.repeat(np.arange(len(steps)), steps)
    t = (np.arange(len(owner)) - (np.cumsum(steps) - steps)[owner]) / steps[owner]
    strewn = np.vstack((run[owner] + t[:, None] * (run[owner + 1] - run[owner]), run[-1:]))
    return float(KDTree(strewn).query(points)[0].max())


def on_chain(chain: Chain, per_piece: int = 40) -> np.ndarray:
    """Return points on a chain, from the published definition of the bulge."""
    v = chain.vertices
    pieces = list(zip(v, np.roll(v, -1, axis=0), strict=True))
    out = []
    for p, q in pieces if chain.closed else pieces[:-1]:
        t = np.linspace(0, 1, per_piece)
        if p[2] == 0:
            out.append(p[:2] + t[:, None] * (q[:2] - p[:2]))
        else:
            (cx, cy), radius, start, sweep = compute_arc_from_bulge(p[:2], q[:2], p[2])
            out.append(
                np.column_stack((cx + radius * np.cos(start + t * sweep), cy + radius * np.sin(start + t * sweep)))
            )
    return np.concatenate(out)


@pytest.mark.parametrize("stem", ["NotoSans", "EBGaramond", "GreatVibes", "GFSDidot"])
@pytest.mark.parametrize("fit", [fit_arcs, fit_lines])
def test_no_place_is_farther_off_than_the_tolerance_either_way(stem, fit):
    for char in "agR&":
        letter = shape(char, stem)
        tolerance = 0.01 * letter.cap_units / 8
        for path in letter.outline:
            done = fit(path, tolerance)
            assert done.deviation <= tolerance
            assert distance_to(path, on_chain(done.chain, 16), tolerance / 100) <= tolerance * 1.01
            (there,) = flatten(path, tolerance / 20)
            back = on_chain(done.chain, 1000)
            assert KDTree(back).query(there)[0].max() <= tolerance * 1.1 + np.ptp(path.points) / 2000


@pytest.mark.parametrize("stem", ["NotoSans", "Montserrat", "EBGaramond"])
def test_pieces_meet_within_two_degrees_where_the_outline_is_smooth(stem):
    for char in "BCGOQSaegs&":
        letter = shape(char, stem)
        tolerance = 0.01 * letter.cap_units / 11
        for path in letter.outline:
            along = sample_curve(path, tolerance, 10.0)
            kinks = np.abs(wrap_angle(along.after - along.before))
            chain = fit_arcs(path, tolerance).chain
            for vertex, turn in zip(chain.vertices, find_tangent_breaks(chain), strict=True):
                kink = kinks[np.argmin(np.hypot(*(along.points - vertex[:2]).T))]
                assert turn <= kink + math.radians(2) + 1e-9, (char, vertex, math.degrees(turn))


def test_corners_and_straight_sides_stay_exactly():
    for char in "AEHKMVZ":
        for path in shape(char, "NotoSans").outline:
            if set(path.degrees) != {1}:
                continue
            vertices = fit_arcs(path, 5.0).chain.vertices
            assert {tuple(p) for p in vertices[:, :2]} == {tuple(p) for p in path.points}
            assert not vertices[:, 2].any()


def test_a_corner_just_over_the_limit_is_kept_and_one_just_under_may_be_rounded_away():
    for off, kept in ((0.5, True), (-0.5, False)):
        turn = CORNER + math.radians(off)
        bent = Path(
            np.array(
                [[-30, 0], [-15, 0.02], [0, 0], [15 * math.cos(turn), 15 * math.sin(turn)], [30, 30 * math.tan(turn)]]
            ),
            (2, 2),
            closed=False,
        )
        found = any((v[:2] == (0, 0)).all() for v in fit_arcs(bent, 2.5).chain.vertices)
        assert found == kept


@pytest.mark.parametrize("radius", [0.5, 5.0, 60.0])
def test_a_circle_drawn_with_cubics_becomes_few_arcs_of_its_radius(radius):
    chain = fit_arcs(ellipse(radius, radius), 0.01).chain
    assert len(chain.vertices) <= 4
    v = chain.vertices
    for p, q in zip(v, np.roll(v, -1, axis=0), strict=True):
        centre, r, _, sweep = compute_arc_from_bulge(p[:2], q[:2], p[2])
        assert r == pytest.approx(radius, abs=0.01 + 8e-4 * radius)  # the error of the cubics, and that of the fit
        assert np.hypot(*centre) < 0.011 + 8e-4 * radius
        assert sweep > 0


def test_chords_of_a_circle_are_as_many_as_the_chord_error_asks():
    """Chord error of an n-sided polyline on radius r: r (1 - cos(π/n)); n 64, r 50: .0602 (engineering handbooks)."""
    fewest = math.ceil(math.pi / math.acos(1 - 0.0602 / 50))
    assert fewest == 65  # .0602 is the 64-sided error rounded down
    count = len(fit_lines(ellipse(50, 50), 0.0602).chain.vertices)
    assert fewest - 1 <= count <= fewest * 1.1


def test_arcs_need_half_the_vertices_of_chords():
    """Limits: 50 % in Noto Sans and Cinzel, 40 % in Montserrat, 80 % in EB Garamond, at 11 mm and 0.01 mm."""
    for stem, limit in (("NotoSans", 0.50), ("Cinzel", 0.50), ("Montserrat", 0.40), ("EBGaramond", 0.80)):
        arcs = lines = 0
        for char in LETTERS[:: 2 if stem == "Cinzel" else 5]:
            letter = shape(char, stem)
            for path in letter.outline:
                arcs += len(fit_arcs(path, 0.01 * letter.cap_units / 11).chain.vertices)
                lines += len(fit_lines(path, 0.01 * letter.cap_units / 11).chain.vertices)
        assert arcs <= limit * lines, (stem, arcs / lines)


def test_fitting_preserves_the_area():
    for stem in ("NotoSans", "EBGaramond"):
        was = now = 0.0
        for char in "Wardens of the Shore".replace(" ", ""):
            letter = shape(char, stem)
            for path in letter.outline:
                was += path_area(path)
                now += chain_area(fit_arcs(path, 0.01 * letter.cap_units / 8).chain)
        assert now == pytest.approx(was, rel=1e-3)


@settings(max_examples=60, deadline=None)
@given(st.floats(0.05, 0.85), st.floats(0.2, 0.8), st.floats(-1, 1), st.sampled_from([1, -1]))
def test_bulges_within_are_those_whose_circle_passes_within_the_tolerance(bulge, where, off, sign):
    """Compare with the circle itself, computed from the published definition of the bulge."""
    tolerance, half = 0.01, 5.0
    centre, radius, start, sweep = compute_arc_from_bulge(np.array([-half, 0.0]), np.array([half, 0.0]), sign * bulge)
    angle = start + where * sweep
    far = radius + off * tolerance
    x, y = centre[0] + far * math.cos(angle), centre[1] + far * math.sin(angle)
    low, high = find_bulges_within(np.array([x]), np.array([-y]), np.array([half]), tolerance)
    assert low[0] <= sign * bulge + 1e-9
    assert high[0] >= sign * bulge - 1e-9
    for edge in (low[0], high[0]):
        if 1e-3 < abs(edge) < 0.99:
            (cx, cy), r, _, _ = compute_arc_from_bulge(np.array([-half, 0.0]), np.array([half, 0.0]), edge)
            assert abs(math.hypot(x - cx, y - cy) - r) == pytest.approx(tolerance, rel=1e-5)


def test_a_bulge_from_its_area():
    """r² (θ - sin θ) / 2 beyond the chord (published DXF reference): chord 10, 90°: bulge .414213562."""
    r = 5 * math.sqrt(2)
    area = r * r * (math.pi / 2 - 1) / 2
    assert compute_bulge_from_area(np.array([area / 25, -area / 25])) == pytest.approx(
        [0.414213562, -0.414213562], abs=1e-6
    )


def test_open_strokes_stay_open_and_keep_their_ends():
    stroke = Path(np.array([[0, 0], [3, 9], [9, 9], [12, 0], [18, 0]], float), (3, 1), closed=False)
    for fit in (fit_arcs, fit_lines):
        done = fit(stroke, 0.01)
        assert not done.chain.closed
        assert done.chain.vertices[0, :2].tolist() == [0, 0]
        assert done.chain.vertices[-1, :2].tolist() == [18, 0]
        assert done.deviation <= 0.01


def test_an_outline_without_area_is_handled():
    dot = Path(np.zeros((2, 2)), (1,))
    assert len(fit_arcs(dot, 0.01).chain.vertices) == 0
    assert len(fit_lines(Path(np.zeros((1, 2)), ()), 0.01).chain.vertices) == 0
    with pytest.raises(ValueError, match="not positive"):
        fit_arcs(polygon((0, 0), (1, 0), (0, 1)), 0.0)


def test_a_curve_doubling_back_on_itself_is_fitted_and_ends():
    """A cubic with a cusp, as found in unions of outlines."""
    cusp = Path(np.array([[0, 0], [100, 60], [0, 60], [100, 0], [0, 0]], float), (3, 1))
    done = fit_arcs(cusp, 0.05)
    assert done.deviation <= 0.05
    back = Path(np.array([[0, 0], [100, 0], [-40, 0.001], [60, 0], [60, 30], [0, 0]], float), (3, 1, 1))
    assert fit_arcs(back, 0.05).deviation <= 0.05


def test_moving_scaling_and_turning_the_path_moves_the_chain():
    path = shape("S", "NotoSans").outline[0]
    chain = fit_arcs(path, 2.0).chain
    moved = fit_arcs(path.transform(0.5, 30, -7, 0.3), 1.0).chain
    assert len(moved.vertices) == pytest.approx(len(chain.vertices), abs=1)
    off = measure_deviation(path.transform(0.5, 30, -7, 0.3), chain.transform(0.5, 30, -7, 0.3), 0.01)
    assert max(off) <= 1.0


@pytest.mark.parametrize(
    ("stem", "arcs", "chords"),
    [("NotoSans", 261, 610), ("EBGaramond", 570, 899), ("GreatVibes", 547, 1055), ("GFSDidot", 339, 742)],
)
def test_pieces_of_letters_are_as_few_as_a_search_of_all_spans_found(stem, arcs, chords):
    """Counts of eight letters at 8 mm and 0.01 mm, from trying every span against every station it passes over."""
    outlines = [(shape(char, stem), path) for char in "aegRSW8&" for path in shape(char, stem).outline]
    for fit, most in ((fit_arcs, arcs), (fit_lines, chords)):
        assert sum(len(fit(path, 0.01 * x.cap_units / 8).chain.vertices) for x, path in outlines) <= most


@pytest.mark.parametrize(
    ("a", "b", "tolerance", "arcs", "chords"),
    [(0.5, 0.5, 0.01, 3, 18), (5, 5, 0.01, 3, 54), (60, 60, 0.01, 4, 184), (40, 25, 0.01, 16, 134)],
)
def test_pieces_of_exact_shapes_are_as_few_as_a_search_of_all_spans_found(a, b, tolerance, arcs, chords):
    assert len(fit_arcs(ellipse(a, b), tolerance).chain.vertices) <= arcs
    assert len(fit_lines(ellipse(a, b), tolerance).chain.vertices) <= chords


def every_possible_span(along, tolerance: float, swing: float | None, most: int) -> set[tuple[int, int]]:
    """Return every span up to a number of stretches, tested against each station it passes over."""
    n, found = len(along.points) - 1, set()
    for i in range(n):
        for reach in range(1, most + 1):
            j = i + reach
            if (not along.closed and j > n) or (reach > 1 and along.fixed[(j - 1) % n]):
                break
            p, q = along.points[i], along.points[j % n if along.closed else j]
            half = float(np.hypot(*(q - p))) / 2
            if not half:
                continue
            e = (q - p) / (2 * half)
            low, high = -WIDEST, WIDEST
            for k in range(i + 1, j):
                d = along.points[k % n] - (p + q) / 2
                x, u = d @ e, d @ (e[1], -e[0])
                lows, highs = find_bulges_within(np.array([x]), np.array([u]), np.array([half]), tolerance)
                low, high = max(low, lows[0]), min(high, highs[0])
            if swing is None:
                possible = low <= 0 <= high
            else:
                heading = math.atan2(e[1], e[0])
                end = j % n if along.closed else j
                leave = -wrap_angle(along.after[i] - heading) + kinks(along, i)
                arrive = wrap_angle(along.before[end] - heading) + kinks(along, end)
                low = max(low, math.tan(max(-3.0, max(leave[0], arrive[0]) - swing) / 2))
                high = min(high, math.tan(min(3.0, min(leave[1], arrive[1]) + swing) / 2))
                possible = low <= high
            if possible or reach == 1:
                found.add((i, reach))
    return found


def kinks(along, at: int) -> np.ndarray:
    """Return bounds for what a kink adds; nothing at a corner."""
    kink = float(wrap_angle(along.after[at] - along.before[at]))
    return np.array([min(kink, 0), max(kink, 0)]) if abs(kink) <= CORNER else np.zeros(2)


@pytest.mark.parametrize(("char", "fineness", "swing"), [("e", 10.0, SWING), ("R", 50.0, None)])
def test_testing_few_stations_first_finds_the_same_spans(char, fineness, swing):
    letter = shape(char, "NotoSans")
    for path in letter.outline:
        along = sample_curve(path, 0.05 * letter.cap_units / 8, fineness)
        found = _find_all_spans(along, 0.05 * letter.cap_units / 8, swing)
        mine = {(i, r) for i, r in zip(found.start.tolist(), found.reach.tolist(), strict=True)}
        theirs = every_possible_span(along, 0.05 * letter.cap_units / 8, swing, 24)
        assert {(i, r) for i, r in mine if r <= 24} <= theirs
        assert {(i, r) for i, r in theirs if r <= 12} <= mine
