"""Grooves, what a cutter leaves, and what it can't reach: exact shapes, published residues, real letters."""

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import shapely

from pipeline.core.model import Piece
from pipeline.cutting.corner_reach import find_unreached
from pipeline.cutting.cutters import VBit, load_cutter_shelf
from pipeline.cutting.simulated_cut import (
    FINE,
    compare_cut,
    compare_line_cut,
    find_reachable,
    sweep,
)
from pipeline.cutting.v_carving import GroovePlanner, measure_travel, order_by_travel
from pipeline.geometry.curves import Chain
from pipeline.geometry.medial.centre_lines import simplify_line, trace_branches, trace_centre_lines
from pipeline.geometry.medial.medial_axis import compute_medial_axis
from pipeline.geometry.offset import offset_outline
from pipeline.geometry.regions import build_chain_polygon, build_polygon_from_outline
from tests.checks.setting import artwork, set_line
from tests.geometry.shapes import ellipse, rectangle, ring

BIT = load_cutter_shelf()["vbit-60"]
SHARP = VBit(name="sharp", angle=60.0, tip=0.0, diameter=50.0)
TAN = math.tan(math.radians(30))


def length(line):
    return float(np.hypot(*np.diff(line[:, :2], axis=0).T).sum())


# --- centre lines -------------------------------------------------------------------------------------------------


def test_bar_has_one_spine_and_four_corners():
    lines = trace_centre_lines(shapely.box(0, 0, 40, 6), 0.01)
    assert sum(length(line) for line in lines) == pytest.approx(34 + 4 * 3 * math.sqrt(2))
    assert len(lines) == 3  # six points where one or three lines meet
    ends = {tuple(np.round(p, 6)) for line in lines for p in (line[0], line[-1])}
    assert ends >= {(0, 0, 0), (40, 0, 0), (40, 6, 0), (0, 6, 0)}


def test_round_shapes_have_no_spikes():
    (disc,) = trace_centre_lines(build_polygon_from_outline(ellipse(10, 10), 0.002), 0.01)
    assert len(disc) == 1
    assert disc[0] == pytest.approx([0, 0, 10], abs=0.01)
    (circle,) = trace_centre_lines(build_polygon_from_outline((ellipse(10, 10), ellipse(8, 8, -1)), 0.002), 0.01)
    assert tuple(circle[0]) == tuple(circle[-1])
    assert np.hypot(*circle[:, :2].T) == pytest.approx(9, abs=0.01)
    assert circle[:, 2] == pytest.approx(1, abs=0.01)
    lines = trace_centre_lines(build_polygon_from_outline(ellipse(5, 3), 0.0005), 0.004)
    assert sum(length(line) for line in lines) == pytest.approx(2 * 3.2, rel=0.05)


def test_a_round_dot_beside_other_parts_keeps_its_middle():
    dot = build_polygon_from_outline(ellipse(1, 1), 0.002)
    lines = trace_centre_lines(shapely.union_all([dot, shapely.box(-3, -6, 3, -5), shapely.box(-3, 5, 3, 6)]), 0.01)
    (middle,) = [line for line in lines if abs(line[0, 1]) < 1]
    assert middle[0] == pytest.approx([0, 0, 1], abs=0.01)


@pytest.mark.parametrize("face", ["montserrat", "eb-garamond", "bodoni-moda"])
def test_the_dot_of_an_i_is_grooved_however_coarse_the_file(face):
    piece = set_line("i", face, 3.0).rows[0].pieces[0]
    dot = max(
        shapely.get_parts(build_polygon_from_outline(piece.build_outline(), 0.001)), key=lambda part: part.bounds[3]
    )
    grooves = GroovePlanner(BIT, 0.05).plan_piece(piece)
    assert any(dot.contains(shapely.Point(groove[0, :2])) for groove in grooves)


@pytest.mark.parametrize("character", "BR&8g")
def test_every_stretch_is_cut_once_and_none_is_left_out(character):
    shape = set_line(character, "eb-garamond", 8.0).rows[0].pieces[0].shape
    axis = compute_medial_axis(build_polygon_from_outline(shape.outline, 1.0))
    edges = list(range(len(axis.ends)))
    runs = trace_branches(axis, edges)
    assert sorted(k for run in runs for k, _ in run) == edges
    for run in runs:
        for (k, node), (_, then) in pairwise(run):
            assert {node, then} == set(axis.ends[k].tolist())
    degree = np.bincount(axis.ends.ravel())
    assert len(runs) == max(1, int((degree % 2).sum()) // 2)


def test_simplified_keeps_ends_and_tolerance():
    t = np.linspace(0, 3, 400)
    line = np.column_stack((t, np.sin(t), t * t / 9))
    few = simplify_line(line, 0.01)
    assert len(few) < 30
    assert (few[[0, -1]] == line[[0, -1]]).all()
    index = np.searchsorted(few[:, 0], line[:, 0]).clip(1, len(few) - 1)
    a, b = few[index - 1], few[index]
    u = ((line[:, 0] - a[:, 0]) / (b[:, 0] - a[:, 0]))[:, None]
    assert np.abs(a + u * (b - a) - line).max() < 0.02


# --- grooves ------------------------------------------------------------------------------------------------------


def test_depth_along_a_bar_and_up_into_its_corners():
    lines = GroovePlanner(SHARP, 0.01).plan_region(shapely.box(0, 0, 40, 6))
    z = np.concatenate(lines)[:, 2]
    assert z.min() == pytest.approx(-3 / TAN)
    assert z.max() == pytest.approx(0)
    lines = GroovePlanner(BIT, 0.01).plan_region(shapely.box(0, 0, 40, 6))
    points = np.concatenate(lines)
    assert points[:, 2].min() == pytest.approx(-(3 - 0.05) / TAN)
    # They end where the flat tip touches both sides: .05 from each.
    ends = np.array([p for line in lines for p in (line[0], line[-1]) if p[2] > -1])
    assert len(ends) == 4
    assert ends[:, 2] == pytest.approx(0, abs=1e-12)
    assert np.minimum(ends[:, 0], 40 - ends[:, 0]) == pytest.approx(0.05)


def test_stroke_narrower_than_the_tip_is_not_cut():
    thin = ring([(0, 0), (4, 0), (4, 4), (7, 4), (7, 4.06), (4, 4.06), (4, 8), (0, 8)])
    lines = GroovePlanner(BIT, 0.005).plan_region(build_polygon_from_outline(thin, 0.001))
    assert max(p[0] for line in lines for p in line) < 4.2
    assert GroovePlanner(BIT, 0.005).plan_region(shapely.box(0, 0, 5, 0.08)) == []


def test_stroke_wider_than_the_bit_is_cut_as_deep_as_the_bit_allows():
    lines = GroovePlanner(BIT, 0.01).plan_region(shapely.box(0, 0, 40, 10))
    assert np.concatenate(lines)[:, 2].min() == pytest.approx(-BIT.compute_depth(6.0))


def test_a_closed_groove_interrupted_by_a_thin_place_runs_through_its_start():
    """An eccentric ring: too thin on one side only, wherever the run happens to start."""
    off = (ellipse(5, 5), ellipse(4.5, 4.5, -1).transform(dx=0.48))
    for turn in (0.0, 1.0, 2.0, 3.0):
        region = build_polygon_from_outline(tuple(p.transform(turn=turn) for p in off), 0.001)
        assert len(GroovePlanner(BIT, 0.005).plan_region(region)) == 1


def test_grooves_are_rotated_moved_and_scaled_like_their_pieces():
    line = set_line("R", "eb-garamond", 8.0, turn=0.7)
    piece = line.rows[0].pieces[0]
    g = GroovePlanner(BIT, 0.01)
    there, here = g.plan_piece(piece), g.plan_region(build_polygon_from_outline(piece.build_outline(), FINE))
    assert sum(map(length, there)) == pytest.approx(sum(map(length, here)), rel=0.02)
    assert np.concatenate(there).min(axis=0) == pytest.approx(np.concatenate(here).min(axis=0), abs=0.02)
    big = g.plan_piece(Piece(shape=piece.shape, scale=piece.scale * 2, x=0, y=0))
    assert sum(map(length, big)) == pytest.approx(2 * sum(map(length, there)), rel=0.03)


def test_a_line_is_cut_in_reading_order_with_little_travel():
    art = artwork(set_line("Marrow", "eb-garamond", 8.0))
    grooves = GroovePlanner(BIT, 0.01).plan(art)
    firsts = [g[:, 0].mean() for g in grooves]
    assert firsts[0] < firsts[-1]
    moved = measure_travel(grooves)
    assert moved.cutting > 2 * moved.in_air
    assert moved.lifts <= len(grooves)
    assert measure_travel(grooves[::2] + grooves[1::2]).in_air > 1.5 * moved.in_air
    assert GroovePlanner(BIT, 0.01).plan(art, "back") == ()
    with pytest.raises(ValueError, match="no grooves"):
        GroovePlanner(load_cutter_shelf()["endmill-3"], 0.01)


def test_rows_start_at_their_nearer_end_and_letters_are_computed_once():
    a, b = set_line("Marrow", "noto-sans", 8.0), set_line("Marrow", "noto-sans", 8.0, baseline=5.0, number=2)
    g = GroovePlanner(BIT, 0.01)
    there = g.plan(artwork(a, b))
    upper, lower = g.plan(artwork(a)), g.plan(artwork(b))
    assert all((x == y).all() for x, y in zip(there, upper, strict=False))
    assert all((x == y[::-1]).all() for x, y in zip(there[len(upper) :], lower[::-1], strict=True))
    assert measure_travel(there).in_air < measure_travel([*upper, *lower]).in_air


def test_grown_letters_are_cut_along_their_own_axis():
    """The groove of a bar grown by g on all sides is as deep as that of a bar 2 g wider."""
    line = set_line("l", "noto-sans", 10.0)
    piece = line.rows[0].pieces[0]
    by = 0.2 * TAN
    made = offset_outline(piece.shape.outline, by / piece.scale, 0.01 / piece.scale)
    bare, deep = (
        np.concatenate(g)[:, 2].min()
        for g in (GroovePlanner(BIT, 0.01).plan_piece(piece), GroovePlanner(BIT, 0.01).plan_piece(piece, made))
    )
    assert deep - bare == pytest.approx(-0.2, abs=0.005)
    whole = GroovePlanner(BIT, 0.01).plan(artwork(replace(line, grown=(made,))))
    assert np.concatenate(whole)[:, 2].min() == deep


def test_ordering_reverses_lines_and_enters_loops_at_the_nearest_point():
    a, b = np.array([[0, 0, 0], [10, 0, 0]], float), np.array([[20, 0, 0], [11, 0, 0]], float)
    loop = np.array([[30, 0, 0], [25, 5, 0], [21, 0, 0], [25, -5, 0], [30, 0, 0]], float)
    order = order_by_travel([loop, b, a])
    assert [tuple(g[0, :2]) for g in order] == [(0, 0), (11, 0), (21, 0)]
    assert tuple(order[2][-1]) == (21, 0, 0)


# --- the simulated cut --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("name", "cap"), [("eb-garamond", 8.0), ("noto-sans", 5.0), ("great-vibes", 14.0)])
def test_simulated_width_is_the_designed_stroke(name, cap):
    """Within .02 mm wherever the bit fits; in fact within .005."""
    for character in "Rag&":
        piece = set_line(character, name, cap).rows[0].pieces[0]
        art = build_polygon_from_outline(piece.build_outline(), FINE)
        grooves = GroovePlanner(BIT, 0.01).plan_piece(piece)
        surface = sweep(grooves, BIT)
        cut = compare_cut(art, surface, find_reachable(art, BIT.tip / 2))
        assert cut.overcut < 0.005
        assert cut.undercut < 0.005
        assert cut.uncut < 0.01 * art.area
        # At every step along every groove: the stroke across the letter as drawn, and across the simulated cut.
        along = np.concatenate(
            [shapely.get_coordinates(shapely.segmentize(shapely.LineString(g[:, :2]), 0.1)) for g in grooves]
        )
        places = shapely.points(along)
        designed, left = (2 * shapely.distance(region.boundary, places) for region in (art, surface))
        assert len(places) > 100
        assert np.abs(designed - left).max() < 0.01


def test_wrong_depth_wrong_place_and_a_missing_groove_are_detected():
    piece = set_line("R", "eb-garamond", 8.0).rows[0].pieces[0]
    art = build_polygon_from_outline(piece.build_outline(), FINE)
    fits = find_reachable(art, BIT.tip / 2)
    good = GroovePlanner(BIT, 0.01).plan_piece(piece)
    deep = [g - (0, 0, 0.1) for g in good]
    assert compare_cut(art, sweep(deep, BIT), fits).overcut == pytest.approx(0.1 * TAN, abs=0.005)
    aside = [g + (0.05, 0, 0) for g in good]
    assert compare_cut(art, sweep(aside, BIT), fits).overcut == pytest.approx(0.05, abs=0.005)
    missing = compare_cut(art, sweep(good[1:], BIT), fits)
    assert missing.undercut > 0.2
    assert missing.undercut_at is not None


BAR = Chain(np.array([(0, 0, 0), (40, 0, 0), (40, 4, 0), (0, 4, 0)], float))


def test_outlines_are_matched_with_their_grooves():
    """A bar as in a file, and one drawn .03 mm off."""
    box = shapely.box(0, 0, 40, 4)

    def cut(chain):
        cut = sweep(GroovePlanner(BIT, 0.01).plan_region(build_chain_polygon(chain, FINE)), BIT)
        return compare_cut(box, cut, find_reachable(box, BIT.tip / 2))

    found = cut(BAR)
    assert found.overcut < 0.001
    assert found.undercut < 0.003
    assert found.uncut == pytest.approx(4 * compute_corner_area(math.pi / 2, 0.05), abs=0.01)
    assert cut(BAR.transform(dx=0.03)).overcut == pytest.approx(0.03, abs=0.002)


def test_upright_cutter_and_single_lines():
    box, radius = shapely.box(0, 0, 40, 4), load_cutter_shelf()["endmill-3"].line_width / 2
    cut = compare_cut(box, find_reachable(build_chain_polygon(BAR, FINE), radius), find_reachable(box, radius))
    assert cut.uncut == pytest.approx((4 - math.pi) * 1.5**2, rel=0.01)
    assert (cut.overcut, cut.undercut) == pytest.approx((0, 0), abs=1e-3)
    line = np.array([(0, 0), (5, 0), (5, 5)], float)
    written = Chain(np.array([(0, 0.02, 0), (5, 0, 0), (5, 5, 0)], float), closed=False)
    off = compare_line_cut([line], [written])
    assert off.overcut == pytest.approx(0.02, abs=1e-4)
    assert compare_line_cut([line], []).undercut == math.inf


# --- reach --------------------------------------------------------------------------------------------------------

# Area left / r² and distance left / r in a corner of angle θ, computed from the formulas; the 90° case is published.
RESIDUE = {30: (2.423054, 2.863703), 45: (1.236116, 1.613126), 60: (0.684853, 1.0), 90: (0.214602, 0.414214),
           120: (0.053751, 0.154701), 135: (0.021514, 0.082392)}  # fmt: skip


def compute_corner_area(angle: float, radius: float) -> float:
    """Compute the area that a round cutter leaves in a corner of this angle (radians): r² (cot a − (π/2 − a)), with a
    half the angle."""
    a = angle / 2
    return radius * radius * (1 / math.tan(a) - (math.pi / 2 - a))


def compute_corner_reach(angle: float, radius: float) -> float:
    """Compute its distance from the corner along the bisector: r (1 / sin a − 1)."""
    return radius * (1 / math.sin(angle / 2) - 1)


@pytest.mark.parametrize(("angle", "area", "reach"), [(a, *v) for a, v in RESIDUE.items()])
def test_corner_residues(angle, area, reach):
    theta, r = math.radians(angle), 1.5
    assert compute_corner_area(theta, 1.0) == pytest.approx(area, abs=1e-6)
    assert compute_corner_reach(theta, 1.0) == pytest.approx(reach, abs=1e-6)
    # Measured: a long rhombus with this angle at two ends and its supplement at the others.
    h, v = 60 * math.cos(theta / 2), 60 * math.sin(theta / 2)
    rhomb = shapely.Polygon([(h, 0), (0, v), (-h, 0), (0, -v)])
    found = find_unreached(rhomb, r)
    assert found.area == pytest.approx(
        2 * compute_corner_area(theta, r) + 2 * compute_corner_area(math.pi - theta, r), rel=2e-3
    )
    assert found.reach == pytest.approx(
        max(compute_corner_reach(theta, r), compute_corner_reach(math.pi - theta, r)), rel=2e-3
    )


def test_a_rectangle_with_two_cutters_and_one_that_fits_nowhere():
    """A rectangle opened by r loses (4 − π) r²; 1/4 in leaves 2.163348 mm² a corner, 1/16 in .135209, computed."""
    box = shapely.box(0, 0, 60, 40)
    big, small = find_unreached(box, 25.4 / 8), find_unreached(box, 25.4 / 32)
    assert big.area == pytest.approx(4 * 2.163348, rel=1e-3)
    assert small.area == pytest.approx(4 * 0.135209, rel=1e-3)
    assert find_unreached(build_polygon_from_outline(rectangle(0, 0, 60, 2), 0.1), 1.5).reach == math.inf
    assert find_unreached(shapely.Point(0, 0).buffer(5, quad_segs=64), 2).area == pytest.approx(0, abs=0.02)


def test_the_sweep_is_the_union_of_hulls_of_successive_circles():
    """Compared with GEOS's hulls of the corners of both circles; also circles inside each other, of zero size, or
    equal."""
    random = np.random.default_rng(3)
    lines = [np.column_stack((random.uniform(0, 2, (4, 2)), -random.uniform(0, 1.5, 4))) for _ in range(20)]
    lines += [np.array([(0, 0, -1), (0.1, 0, -0.1)]), np.array([(1, 1, 0), (1, 1, 0), (2, 1, -0.5)], float)]
    for line in lines:
        rounds = [sweep([place[None]], BIT) for place in line]
        hulls = [shapely.convex_hull(shapely.union(a, b)) for a, b in pairwise(rounds)]
        wanted, found = shapely.union_all(hulls), sweep([line], BIT)
        assert found.is_valid
        assert found.symmetric_difference(wanted).area == pytest.approx(0, abs=1e-9)
