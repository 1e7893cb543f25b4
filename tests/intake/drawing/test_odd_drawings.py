"""Oddly made drawings: each is read as the blank it clearly means, or refused with a reason; never a traceback.

Every case draws the edge of a 100 × 60 plate (area 6000 unless stated otherwise) on layer EDGE in a different way;
the zone is always the same. Half circles, sectors and ellipses are compared with textbook areas.
"""

import io
import math
import random
import sys
import time
from pathlib import Path

import pytest
from ezdxf.math import Matrix44, closed_uniform_bspline

sys.path.insert(0, str(Path(__file__).parents[1]))
from drawings import EDGE, ZONE, lines, new, read, read_file, words

from pipeline.core.errors import CannotRun
from pipeline.geometry.flatten import chain_area, chain_box
from pipeline.intake.drawing import dxf_file

AT = {"layer": "EDGE"}
CASES = {}


def case(area=6000.0, codes=(), version="R2010", close=1e-6, **blank):
    """Register a way of drawing: expected area, codes of findings in order, DXF version, tolerance of the area."""

    def register(draw):
        CASES[draw.__name__] = (draw, area, codes, version, close, blank)
        return draw

    return register


def block(doc, points=EDGE, layer="EDGE", name="PLATE"):
    made = doc.blocks.new(name)
    lines(made, points, layer)
    return made


# --- blocks ----------------------------------------------------------------------------------------------------


@case()
def a_block(doc, space):
    block(doc)
    space.add_blockref("PLATE", (0, 0), dxfattribs={"layer": "0"})


@case()
def a_block_of_layer_0_takes_its_reference_s_layer(doc, space):
    block(doc, layer="0")
    space.add_blockref("PLATE", (0, 0), dxfattribs=AT)


@case()
def a_block_with_a_base_point(doc, space):
    block(doc).block.dxf.base_point = (20, 20)
    space.add_blockref("PLATE", (20, 20), dxfattribs=AT)


@case()
def a_block_in_a_block_in_a_block(doc, space):
    block(doc, layer="0", name="A")
    doc.blocks.new("B").add_blockref("A", (0, 0), dxfattribs={"layer": "0"})
    doc.blocks.new("C").add_blockref("B", (0, 0), dxfattribs={"layer": "0"})
    space.add_blockref("C", (0, 0), dxfattribs=AT)


@case()
def a_block_scaled(doc, space):
    block(doc, [(x / 4, y / 4) for x, y in EDGE])
    space.add_blockref("PLATE", (0, 0), dxfattribs={"xscale": 4, "yscale": 4, "zscale": 4})


@case()
def a_block_scaled_unevenly(doc, space):
    block(doc, [(0, 0), (1, 0), (1, 1), (0, 1)])
    space.add_blockref("PLATE", (0, 0), dxfattribs={"xscale": 100, "yscale": 60})


@case()
def a_block_mirrored_left_to_right(doc, space):
    block(doc)
    space.add_blockref("PLATE", (100, 0), dxfattribs={"xscale": -1})


@case()
def a_block_mirrored_both_ways(doc, space):
    block(doc)
    space.add_blockref("PLATE", (100, 60), dxfattribs={"xscale": -1, "yscale": -1})


@case()
def a_block_turned(doc, space):
    block(doc, [(0, 0), (60, 0), (60, 100), (0, 100)])
    space.add_blockref("PLATE", (100, 0), dxfattribs={"rotation": 90})


@case(area=6000 - (4 - math.pi) * 100)
def a_mirrored_block_with_bulges(doc, space):
    b = math.tan(math.pi / 8)
    doc.blocks.new("PLATE").add_lwpolyline(
        [(10, 0, 0), (90, 0, b), (100, 10, 0), (100, 50, b), (90, 60, 0), (10, 60, b), (0, 50, 0), (0, 10, b)],
        format="xyb",
        close=True,
        dxfattribs=AT,
    )
    space.add_blockref("PLATE", (100, 0), dxfattribs={"xscale": -1})


@case(area=math.pi * 50 * 30, close=0.3)
def a_circle_in_a_block_scaled_unevenly_is_an_ellipse(doc, space):
    doc.blocks.new("PLATE").add_circle((0, 0), 10, dxfattribs=AT)
    space.add_blockref("PLATE", (50, 30), dxfattribs={"xscale": 5, "yscale": 3})


@case(area=math.pi * 50 * 30 / 2 + 100 * 30, close=0.3)
def arcs_in_a_block_scaled_unevenly_and_mirrored(doc, space):
    made = doc.blocks.new("PLATE")
    made.add_arc((0, 0), 10, 0, 180, dxfattribs=AT)
    lines(made, [(-10, 0), (-10, -10), (10, -10), (10, 0)], "EDGE", closed=False)
    space.add_blockref("PLATE", (50, 30), dxfattribs={"xscale": -5, "yscale": 3})


@case()
def a_row_of_references(doc, space):
    block(doc, [(0, 0), (100, 0)], name="SIDE")  # there and back: the same line twice
    doc.blocks.new("BAR").add_line((0, 0), (100, 0), dxfattribs=AT)
    space.add_blockref("BAR", (0, 0), dxfattribs={"row_count": 2, "row_spacing": 60})
    space.add_line((0, 0), (0, 60), dxfattribs=AT)
    space.add_line((100, 0), (100, 60), dxfattribs=AT)


@case(codes=["drawing.ignored"])
def a_reference_to_a_block_that_is_not_there(doc, space):
    lines(space, EDGE, "EDGE")
    space.add_blockref("NOBODY", (0, 0), dxfattribs=AT)


@case(codes=["drawing.ignored"])
def a_block_that_contains_itself(doc, space):
    made = block(doc, layer="0")
    made.add_blockref("PLATE", (0, 0))
    space.add_blockref("PLATE", (0, 0), dxfattribs=AT)


@case(codes=["drawing.ignored"])
def a_block_with_texts_and_attributes(doc, space):
    made = block(doc, layer="0")
    made.add_text("OAK", dxfattribs={"layer": "0"})
    made.add_attdef("NO", (1, 1), dxfattribs={"layer": "0"})
    space.add_blockref("PLATE", (0, 0), dxfattribs=AT).add_attrib("NO", "7", (1, 1))


@case(codes=["drawing.ignored"])
def a_block_of_another_file(doc, space):
    lines(space, EDGE, "EDGE")
    doc.add_xref_def("other.dxf", "OTHER")
    space.add_blockref("OTHER", (0, 0), dxfattribs=AT)


# --- doubles and overlaps --------------------------------------------------------------------------------------


@case(codes=["drawing.repeated"])
def every_line_twice(doc, space):
    lines(space, EDGE, "EDGE")
    lines(space, EDGE, "EDGE")


@case(codes=["drawing.repeated"])
def every_line_twice_the_second_time_backwards(doc, space):
    lines(space, EDGE, "EDGE")
    lines(space, EDGE[::-1], "EDGE")


@case(codes=["drawing.repeated"])
def a_polyline_and_lines_over_it(doc, space):
    space.add_lwpolyline(EDGE, close=True, dxfattribs=AT)
    lines(space, EDGE, "EDGE")


@case(codes=["drawing.repeated"])
def a_polyline_and_part_of_a_line_over_it(doc, space):
    space.add_lwpolyline(EDGE, close=True, dxfattribs=AT)
    space.add_line((20, 0), (70, 0), dxfattribs=AT)


@case(codes=["drawing.repeated"])
def two_polylines_from_different_corners(doc, space):
    space.add_lwpolyline(EDGE, close=True, dxfattribs=AT)
    space.add_lwpolyline([*EDGE[2:], *EDGE[:2]], close=True, dxfattribs=AT)


@case(codes=["drawing.repeated"])
def lines_that_overlap_partly(doc, space):
    lines(space, EDGE[1:] + EDGE[:1], "EDGE", closed=False)
    space.add_line((0, 0), (60, 0), dxfattribs=AT)
    space.add_line((40, 0), (100, 0), dxfattribs=AT)


@case(codes=["drawing.repeated"])
def a_line_within_a_line(doc, space):
    lines(space, EDGE, "EDGE")
    space.add_line((30, 60), (50, 60), dxfattribs=AT)


@case()
def a_side_in_two_pieces(doc, space):
    lines(space, EDGE[1:] + EDGE[:1], "EDGE", closed=False)
    space.add_line((0, 0), (60, 0), dxfattribs=AT)
    space.add_line((60, 0), (100, 0), dxfattribs=AT)


@case(area=math.pi * 900, codes=["drawing.repeated"])
def a_circle_twice(doc, space):
    for _ in range(2):
        space.add_circle((50, 30), 30, dxfattribs=AT)


@case(area=math.pi * 900)
def a_circle_of_two_arcs(doc, space):
    space.add_arc((50, 30), 30, 10, 100, dxfattribs=AT)
    space.add_arc((50, 30), 30, 100, 10, dxfattribs=AT)


@case(area=math.pi * 900, codes=["drawing.repeated"])
def a_circle_of_two_arcs_that_overlap(doc, space):
    space.add_arc((50, 30), 30, 0, 200, dxfattribs=AT)
    space.add_arc((50, 30), 30, 180, 20, dxfattribs=AT)


@case(area=math.pi * 900, codes=["drawing.repeated"])
def a_circle_of_three_arcs_that_overlap(doc, space):
    for start, end in ((0, 130), (120, 250), (240, 10)):
        space.add_arc((50, 30), 30, start, end, dxfattribs=AT)


@case(area=math.pi * 900, codes=["drawing.repeated"])
def a_circle_and_an_arc_on_it(doc, space):
    space.add_circle((50, 30), 30, dxfattribs=AT)
    space.add_arc((50, 30), 30, 350, 80, dxfattribs=AT)


@case(area=math.pi * 900)
def an_arc_all_the_way_round(doc, space):
    space.add_arc((50, 30), 30, 45, 405, dxfattribs=AT)


@case(area=800 + math.pi * 100 + 0, codes=["drawing.repeated"])
def a_stadium_with_an_arc_in_overlapping_halves(doc, space):
    space.add_line((40, 20), (80, 20), dxfattribs=AT)
    space.add_line((80, 40), (40, 40), dxfattribs=AT)
    space.add_arc((80, 30), 10, 270, 20, dxfattribs=AT)
    space.add_arc((80, 30), 10, 340, 90, dxfattribs=AT)
    space.add_arc((40, 30), 10, 90, 270, dxfattribs=AT)


# --- ends that do not quite meet -------------------------------------------------------------------------------


@case(codes=["drawing.gap-mended"], close=3.0)
def four_gaps(doc, space):
    for (x0, y0), (x1, y1) in zip(EDGE, EDGE[1:] + EDGE[:1], strict=True):
        dx, dy = (x1 - x0) / 5000, (y1 - y0) / 5000
        space.add_line((x0 + dx, y0 + dy), (x1 - dx, y1 - dy), dxfattribs=AT)


@case(close=0.05)
def ends_rounded_to_three_decimals(doc, space):
    corners = [(0.0004, 0), (100.0003, 0.0004), (99.9996, 60), (0, 59.9997)]
    for p, q in zip(EDGE, corners[1:] + corners[:1], strict=True):
        space.add_line(p, q, dxfattribs=AT)


@case(codes=["drawing.gap-mended"], close=0.5)
def a_speck_at_a_corner(doc, space):
    lines(space, EDGE, "EDGE")
    space.add_line((0, 0), (0.02, 0.01), dxfattribs=AT)


@case(close=4.0, codes=["drawing.gap-mended"])
def overshooting_corners(doc, space):
    space.add_line((-0.02, 0), (100.02, 0), dxfattribs=AT)
    space.add_line((100, -0.02), (100, 60.02), dxfattribs=AT)
    space.add_line((100.02, 60), (-0.02, 60), dxfattribs=AT)
    space.add_line((0, 60.02), (0, -0.02), dxfattribs=AT)


@case(close=0.01)
def a_thousand_short_lines(doc, space):
    """A circle of radius 15 as a polygon of 2000 sides, each shorter than the gap that is closed."""
    ring = [(50 + 15 * math.cos(k * math.tau / 2000), 30 + 15 * math.sin(k * math.tau / 2000)) for k in range(2000)]
    lines(space, ring, "EDGE")


CASES["a_thousand_short_lines"] = (
    a_thousand_short_lines,
    2000 / 2 * 225 * math.sin(math.tau / 2000),
    (),
    "R2010",
    0.01,
    {},
)


# --- polylines -------------------------------------------------------------------------------------------------


@case()
def a_polyline_that_repeats_its_first_point_unflagged(doc, space):
    space.add_lwpolyline([*EDGE, EDGE[0]], dxfattribs=AT)


@case()
def a_polyline_that_repeats_its_first_point_and_is_flagged(doc, space):
    space.add_lwpolyline([*EDGE, EDGE[0]], close=True, dxfattribs=AT)


@case()
def a_polyline_with_points_three_times(doc, space):
    space.add_lwpolyline([p for p in EDGE for _ in range(3)], close=True, dxfattribs=AT)


@case()
def a_bulge_on_a_step_without_length(doc, space):
    points = [(0, 0, 0), (100, 0, 1.0), (100, 0, 0), (100, 60, 0), (0, 60, 0)]
    space.add_lwpolyline(points, format="xyb", close=True, dxfattribs=AT)


@case(codes=["drawing.width-ignored"])
def a_polyline_with_a_width(doc, space):
    space.add_lwpolyline(EDGE, close=True, dxfattribs={**AT, "const_width": 2.0})


@case(codes=["drawing.width-ignored"])
def a_polyline_that_tapers(doc, space):
    space.add_lwpolyline([(*p, 0.5, 1.5) for p in EDGE], format="xyse", close=True, dxfattribs=AT)


@case(codes=["drawing.width-ignored"])
def an_old_polyline_with_a_width(doc, space):
    space.add_polyline2d(EDGE, close=True, dxfattribs={**AT, "default_start_width": 1.0, "default_end_width": 1.0})


@case()
def an_old_polyline(doc, space):
    space.add_polyline2d(EDGE, close=True, dxfattribs=AT)


@case()
def a_polyline_in_space_that_lies_flat(doc, space):
    space.add_polyline3d([(*p, 0) for p in EDGE], close=True, dxfattribs=AT)


@case()
def two_open_polylines(doc, space):
    space.add_lwpolyline(EDGE[:3], dxfattribs=AT)
    space.add_lwpolyline([EDGE[0], EDGE[3], EDGE[2]], dxfattribs=AT)


@case(area=math.pi * 900)
def a_circle_of_two_bulges(doc, space):
    space.add_lwpolyline([(20, 30, 1), (80, 30, 1)], format="xyb", close=True, dxfattribs=AT)


@case(area=math.pi * 900)
def a_circle_of_two_bulges_clockwise(doc, space):
    space.add_lwpolyline([(20, 30, -1), (80, 30, -1)], format="xyb", close=True, dxfattribs=AT)


@case(area=math.pi * 900 * 3 / 4 + 900 / 2)
def three_quarters_of_a_circle_by_one_bulge(doc, space):
    r = 30.0
    space.add_lwpolyline(
        [(50 + r, 30, math.tan(math.radians(270) / 4)), (50, 30 - r, 0)], format="xyb", close=True, dxfattribs=AT
    )


# --- drawn on the underside ------------------------------------------------------------------------------------

DOWN = {**AT, "extrusion": (0, 0, -1)}


@case()
def a_polyline_on_the_underside(doc, space):
    space.add_lwpolyline([(-x, y) for x, y in EDGE], close=True, dxfattribs=DOWN)


@case(area=math.pi * 900)
def a_circle_on_the_underside(doc, space):
    space.add_circle((-50, 30), 30, dxfattribs=DOWN)


@case(area=3000 + math.pi * 900 / 2)
def an_arc_on_the_underside(doc, space):
    space.add_arc((-50, 30), 30, 0, 180, dxfattribs=DOWN)
    lines(space, [(20, 30), (20, -20), (80, -20), (80, 30)], "EDGE", closed=False)


@case(area=6000 + math.pi * 900 / 2)
def bulges_on_the_underside(doc, space):
    space.add_lwpolyline(
        [(0, 0, 0), (-100, 0, -1), (-100, 60, 0), (0, 60, 0)], format="xyb", close=True, dxfattribs=DOWN
    )


@case(area=math.pi * 50 * 30, close=0.3)
def an_ellipse_on_the_underside(doc, space):
    space.add_ellipse((50, 30), (50, 0), 0.6, dxfattribs=DOWN)


@case()
def a_hatch_on_the_underside(doc, space):
    hatch = space.add_hatch(dxfattribs=DOWN)
    hatch.paths.add_polyline_path([(-x, y) for x, y in EDGE], is_closed=True)


# --- hatches ---------------------------------------------------------------------------------------------------


@case()
def a_hatch_alone(doc, space):
    space.add_hatch(dxfattribs=AT).paths.add_polyline_path(EDGE, is_closed=True)


@case()
def a_hatch_and_its_outline(doc, space):
    lines(space, EDGE, "EDGE")
    space.add_hatch(dxfattribs=AT).paths.add_polyline_path(EDGE, is_closed=True)


@case()
def a_hatch_of_edges(doc, space):
    path = space.add_hatch(dxfattribs=AT).paths.add_edge_path()
    for p, q in zip(EDGE, EDGE[1:] + EDGE[:1], strict=True):
        path.add_line(p, q)


@case(area=800 + math.pi * 100)
def a_hatch_of_lines_and_arcs(doc, space):
    path = space.add_hatch(dxfattribs=AT).paths.add_edge_path()
    path.add_line((40, 20), (80, 20))
    path.add_arc((80, 30), 10, 270, 90, ccw=True)
    path.add_line((80, 40), (40, 40))
    path.add_arc((40, 30), 10, 90, 270, ccw=True)


@case(area=800 + math.pi * 100)
def a_hatch_of_arcs_run_clockwise(doc, space):
    path = space.add_hatch(dxfattribs=AT).paths.add_edge_path()
    path.add_line((40, 40), (80, 40))
    path.add_arc((80, 30), 10, 270, 90, ccw=False)
    path.add_line((80, 20), (40, 20))
    path.add_arc((40, 30), 10, 90, 270, ccw=False)


@case(area=math.pi * 50 * 30, close=0.3)
def a_hatch_of_an_ellipse(doc, space):
    path = space.add_hatch(dxfattribs=AT).paths.add_edge_path()
    path.add_ellipse((50, 30), (50, 0), 0.6, 0, 360)


@case(area=6000)
def a_hatch_with_a_hole(doc, space):
    hatch = space.add_hatch(dxfattribs=AT)
    hatch.paths.add_polyline_path(EDGE, is_closed=True)
    hatch.paths.add_polyline_path([(3, 27), (6, 27), (6, 33), (3, 33)], is_closed=True, flags=16)


@case(area=math.pi * 900)
def a_hatch_with_bulges(doc, space):
    space.add_hatch(dxfattribs=AT).paths.add_polyline_path([(20, 30, 1), (80, 30, 1)], is_closed=True)


# --- splines ---------------------------------------------------------------------------------------------------


@case()
def a_spline_of_degree_one(doc, space):
    space.add_open_spline([*[(*p, 0) for p in EDGE], (0, 0, 0)], degree=1, dxfattribs=AT)


@case(area=None)
def a_spline_through_points(doc, space):
    ring = [(50 + 50 * math.cos(t), 30 + 30 * math.sin(t), 0) for t in (k * math.tau / 16 for k in range(17))]
    space.add_spline(ring, dxfattribs=AT)


@case(area=None)
def a_closed_uniform_spline(doc, space):
    points = [(0, 0), (50, -10), (100, 0), (110, 30), (100, 60), (50, 70), (0, 60)]
    space.add_spline(dxfattribs=AT).apply_construction_tool(closed_uniform_bspline(points))


@case(area=math.pi * 900, close=0.2)
def a_rational_closed_circle(doc, space):
    w = math.sqrt(0.5)
    r = 30
    ring = [(r, 0), (r, r), (0, r), (-r, r), (-r, 0), (-r, -r), (0, -r), (r, -r), (r, 0)]
    space.add_rational_spline(
        [(50 + x, 30 + y, 0) for x, y in ring], [1, w, 1, w, 1, w, 1, w, 1], degree=2,
        knots=[0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4], dxfattribs=AT,
    )  # fmt: skip


@case()
def a_spline_with_corners(doc, space):
    """Four straight cubic pieces in one spline: every inner knot three times."""
    points = []
    for (x0, y0), (x1, y1) in zip(EDGE, EDGE[1:] + EDGE[:1], strict=True):
        points += [(x0 + (x1 - x0) * k / 3, y0 + (y1 - y0) * k / 3, 0) for k in range(3)]
    points.append((0, 0, 0))
    knots = [0] * 4 + [1] * 3 + [2] * 3 + [3] * 3 + [4] * 4
    space.add_spline(degree=3, dxfattribs=AT).control_points = points
    space[-1].knots = knots


@case(area=math.pi * 50 * 30 / 2, close=0.3)
def half_an_ellipse_and_a_line(doc, space):
    space.add_ellipse((50, 30), (50, 0), 0.6, 0, math.pi, dxfattribs=AT)
    space.add_line((0, 30), (100, 30), dxfattribs=AT)


CASES.pop("half_an_ellipse_and_a_line")  # its zone would not be inside; one with a foot below is drawn instead


@case(area=math.pi * 60 * 60 / 2 + 120 * 20, close=0.5)
def half_an_ellipse_on_a_foot(doc, space):
    space.add_ellipse((50, 10), (60, 0), 1.0, 0, math.pi, dxfattribs=AT)
    lines(space, [(-10, 10), (-10, -10), (110, -10), (110, 10)], "EDGE", closed=False)


@case(area=math.pi * 60 * 90 / 2 + 120 * 20, close=0.5)
def half_an_ellipse_whose_short_axis_lies(doc, space):
    space.add_ellipse((50, 10), (0, 90), 60 / 90, -math.pi / 2, math.pi / 2, dxfattribs=AT)
    lines(space, [(-10, 10), (-10, -10), (110, -10), (110, 10)], "EDGE", closed=False)


# --- heights and planes ----------------------------------------------------------------------------------------


@case(codes=["drawing.flattened"])
def lines_at_a_height(doc, space):
    for p, q in zip(EDGE, EDGE[1:] + EDGE[:1], strict=True):
        space.add_line((*p, 12), (*q, 12), dxfattribs=AT)


@case(codes=["drawing.flattened"])
def a_polyline_at_a_height(doc, space):
    space.add_lwpolyline(EDGE, close=True, dxfattribs={**AT, "elevation": -7.5})


@case(codes=["drawing.flattened"])
def a_polyline_in_space_at_a_height(doc, space):
    space.add_polyline3d([(*p, 5) for p in EDGE], close=True, dxfattribs=AT)


@case(area=math.pi * 900, codes=["drawing.flattened"])
def a_circle_at_a_height_on_the_underside(doc, space):
    space.add_circle((-50, 30, 4), 30, dxfattribs=DOWN)


# --- versions and names ----------------------------------------------------------------------------------------

for _version in ("R2000", "R2004", "R2007", "R2010", "R2013", "R2018"):

    @case(version=_version)
    def _versioned(doc, space):
        space.add_lwpolyline(EDGE, close=True, dxfattribs=AT)

    CASES[f"a_polyline_of_{_version}"] = CASES.pop("_versioned")


@case(version="R12", drawing_units="mm")
def the_oldest_version(doc, space):
    lines(space, EDGE, "EDGE")


@case(version="R12", drawing_units="mm")
def the_oldest_version_s_polyline(doc, space):
    space.add_polyline2d(EDGE, close=True, dxfattribs=AT)


@case()
def a_layer_in_other_case(doc, space):
    lines(space, EDGE, "Edge")


@case(layers={"edge": "RÄND Ž 木"})
def a_layer_of_many_alphabets(doc, space):
    lines(space, EDGE, "RÄND Ž 木")


@case(layers={"edge": "0"})
def the_edge_on_layer_0(doc, space):
    lines(space, EDGE, "0")


@case(codes=["drawing.ignored"])
def an_invisible_circle(doc, space):
    lines(space, EDGE, "EDGE")
    space.add_circle((50, 30), 100, dxfattribs={**AT, "invisible": 1})


@case(codes=["drawing.ignored"])
def things_that_are_no_contours(doc, space):
    lines(space, EDGE, "EDGE")
    space.add_text("A", dxfattribs=AT)
    space.add_mtext("B", dxfattribs=AT)
    space.add_point((3, 3), dxfattribs=AT)
    space.add_ray((0, 0), (1, 1), dxfattribs=AT)
    space.add_xline((0, 0), (1, 1), dxfattribs=AT)
    space.add_solid([(0, 0), (1, 0), (0, 1)], dxfattribs=AT)
    space.add_3dface([(0, 0), (1, 0), (1, 1)], dxfattribs=AT)
    space.add_leader([(0, 0), (1, 1)], dxfattribs=AT)
    space.add_linear_dim(base=(0, -5), p1=(0, 0), p2=(100, 0), dxfattribs=AT).render()


@case(codes=["drawing.ignored"])
def a_sheet_of_paper_with_a_frame(doc, space):
    lines(space, EDGE, "EDGE")
    lines(doc.layout("Layout1"), [(0, 0), (420, 0), (420, 297), (0, 297)], "EDGE")


@case(codes=["drawing.ignored"])
def a_mesh(doc, space):
    lines(space, EDGE, "EDGE")
    space.add_polymesh((4, 4), dxfattribs=AT)


@case(codes=["drawing.ignored"])
def lines_of_no_length(doc, space):
    lines(space, EDGE, "EDGE")
    space.add_line((5, 5), (5, 5), dxfattribs=AT)
    space.add_circle((5, 5), 0, dxfattribs=AT)
    space.add_lwpolyline([(5, 5)], dxfattribs=AT)
    space.add_lwpolyline([], dxfattribs=AT)


@case(close=1e-3)
def far_from_the_origin(doc, space):
    lines(space, EDGE, "EDGE")
    for entity in list(space):
        entity.transform(Matrix44.translate(4.5e6, -3.2e6, 0))


@case(area=101 * 61)
def a_multi_line(doc, space):
    """Its style has two lines 1 apart: the outer one is 101 × 61, the inner one, as drawn, a hole in it."""
    space.add_mline([(0.5, 0.5), (99.5, 0.5), (99.5, 59.5), (0.5, 59.5)], close=True, dxfattribs=AT)


def draw(name):
    how, area, codes, version, close, blank = CASES[name]
    doc, space = new(version)
    how(doc, space)
    far = name == "far_from_the_origin"
    lines(space, [(x + 4.5e6 * far, y - 3.2e6 * far) for x, y in _zone_of(name)], "LETTERING")
    return doc, area, list(codes), close, blank


def _zone_of(name):
    return ZONE if CASES[name][1] == 6000 else [(48, 28), (60, 28), (60, 34), (48, 34)]


@pytest.mark.parametrize("name", CASES)
def test_each_odd_drawing_is_read_as_meant(name, tmp_path):
    doc, area, codes, close, blank = draw(name)
    made, findings = read(doc, tmp_path, margin=0.5, **blank)
    if area is not None:
        assert chain_area(made.edge) == pytest.approx(area, abs=close)
    assert [f.code for f in findings] == codes, words(findings)
    x0, y0, _, _ = chain_box(made.edge)
    assert (x0, y0) == pytest.approx((0, 0), abs=1e-6)
    if area == 6000:
        assert (made.width, made.height) == pytest.approx((100, 60), abs=0.05)


@pytest.mark.parametrize("name", [n for n in CASES if CASES[n][3] == "R2010"][1::4])
def test_the_same_from_a_binary_file(name, tmp_path):
    """Every fourth of them: the library that reads both kinds gives the same entities."""
    doc, _, _, _, blank = draw(name)
    one, _ = read(doc, tmp_path, margin=0.5, **blank)
    doc.saveas(tmp_path / "binary.dxf", fmt="bin")
    two, _ = read_file(tmp_path / "binary.dxf", margin=0.5, **blank)
    assert two.edge.vertices == pytest.approx(one.edge.vertices, abs=1e-9)


# --- tilted planes ---------------------------------------------------------------------------------------------

FRONT = Matrix44.x_rotate(math.pi / 2)  # the drawing upright, seen from the front
SIDE = FRONT @ Matrix44.z_rotate(math.pi / 2)  # and rotated to be seen from the right
SLOPE = Matrix44.y_rotate(-0.4)


@pytest.mark.parametrize(("matrix", "side"), [(FRONT, "the front"), (SIDE, "the right"), (SLOPE, "above")])
@pytest.mark.parametrize("how", ["lines", "polyline", "stadium"])
def test_a_drawing_in_an_upright_or_sloping_plane(matrix, side, how, tmp_path):
    doc, space = new()
    area = 6000.0
    if how == "lines":
        lines(space, EDGE, "EDGE")
    elif how == "polyline":
        space.add_lwpolyline(EDGE, close=True, dxfattribs=AT)
    else:
        area = 100 * 60 + math.pi * 900
        space.add_line((0, 0), (100, 0), dxfattribs=AT)
        space.add_arc((100, 30), 30, -90, 90, dxfattribs=AT)
        space.add_line((100, 60), (0, 60), dxfattribs=AT)
        space.add_arc((0, 30), 30, 90, 270, dxfattribs=AT)
    # wider at the top than at the bottom: reveals a flip
    lines(space, [(10, 10), (90, 10), (90, 40), (10, 40)], "LETTERING")
    for entity in space:
        entity.transform(matrix)
    blank, findings = read(doc, tmp_path)
    assert chain_area(blank.edge) == pytest.approx(area, abs=1e-6)
    assert words(findings) == [
        f"drawing.tilted: the drawing lies in an upright or tilted plane; it is taken as seen from {side}"
    ]
    x0, y0, x1, y1 = chain_box(blank.get_zone(None))
    assert (y0, y1) == pytest.approx((10, 40), abs=1e-6)  # not upside down
    assert x1 - x0 == pytest.approx(80, abs=1e-6)


def test_a_drawing_that_is_not_flat(tmp_path):
    doc, space = new()
    space.add_polyline3d([(0, 0, 0), (100, 0, 5), (100, 60, 0), (0, 60, 5)], close=True, dxfattribs=AT)
    lines(space, ZONE, "LETTERING")
    with pytest.raises(CannotRun, match="the drawing is not flat: its contours leave their best plane by up to"):
        read(doc, tmp_path)


# --- refused, with a reason ------------------------------------------------------------------------------------

REFUSED = {
    "two loops that touch in a point": (
        lambda doc, space: [lines(space, r, "EDGE") for r in (EDGE, [(100, 60), (120, 60), (120, 80), (100, 80)])],
        "4 ends meet at x 100.00, y 60.00",
    ),
    "a spiral": (
        lambda doc, space: space.add_lwpolyline([(0, 0, 1), (100, 0, 1), (10, 0, 0)], format="xyb", dxfattribs=AT),
        "the contour does not close",
    ),
    "only texts": (lambda doc, space: space.add_text("x", dxfattribs=AT), "no contour on layer “EDGE”, only 1 TEXT"),
    "only a face in space": (
        lambda doc, space: space.add_3dface([(0, 0), (1, 0), (1, 1)], dxfattribs=AT),
        "no contour on layer “EDGE”, only 1 3DFACE",
    ),
    "a figure of eight": (
        lambda doc, space: space.add_lwpolyline([(0, 0), (100, 60), (100, 0), (0, 60)], close=True, dxfattribs=AT),
        "crosses or touches itself at x 50.00, y 30.00",
    ),
    "two overlapping plates": (
        lambda doc, space: [
            space.add_lwpolyline([(x + d, y + d) for x, y in EDGE], close=True, dxfattribs=AT) for d in (0, 5)
        ],
        "two contours cross or touch",
    ),
    "places that are not numbers": (
        lambda doc, space: space.add_line((0, 0), (math.nan, 1), dxfattribs=AT),
        "no contour",
    ),
    "everything on paper": (
        lambda doc, space: lines(doc.layout("Layout1"), EDGE, "EDGE"),
        "no contour on layer “EDGE”",
    ),
    "blocks in blocks in blocks": (
        lambda doc, space: _bomb(doc, space),
        "more than 2000 pieces",
    ),
}  # fmt: skip


def _bomb(doc, space):
    doc.blocks.new("B0").add_line((0, 0), (1, 0), dxfattribs=AT)
    for k in range(1, 7):
        made = doc.blocks.new(f"B{k}")
        for n in range(10):
            made.add_blockref(f"B{k - 1}", (n * 10**k, 0))
    space.add_blockref("B6", (0, 0))


@pytest.mark.parametrize("name", REFUSED)
def test_each_impossible_drawing_is_refused_with_a_reason(name, tmp_path, monkeypatch):
    monkeypatch.setattr(dxf_file, "MOST_ENTITIES", 2000)
    how, said = REFUSED[name]
    doc, space = new()
    how(doc, space)
    lines(space, ZONE, "LETTERING")
    with pytest.raises(CannotRun, match=said):
        read(doc, tmp_path)


# --- damaged files ---------------------------------------------------------------------------------------------


def _whole():
    doc, space = new()
    space.add_lwpolyline(EDGE, close=True, dxfattribs=AT)
    lines(space, ZONE, "LETTERING")
    space.add_spline([(20, 20), (30, 25), (40, 20), (20, 20)], dxfattribs={"layer": "POCKET"})
    space.add_hatch(dxfattribs={"layer": "KEEP_OUT"}).paths.add_polyline_path([(5, 5), (8, 5), (8, 8)], is_closed=True)
    text = io.StringIO()
    doc.write(text)
    return text.getvalue()


def _try(path):
    """Read as a blank or refuse with a reason; anything else fails the test."""
    try:
        blank, _ = read_file(path)
    except CannotRun as reason:
        assert str(path.name) in str(reason)
        return "refused"
    assert blank.width > 0
    return "read"


@pytest.mark.parametrize("part", [k / 12 for k in range(1, 12)])
def test_a_truncated_file_is_read_or_refused(part, tmp_path):
    text = _whole()
    path = tmp_path / "broken.dxf"
    path.write_text(text[: int(len(text) * part)], encoding="utf-8")
    _try(path)


@pytest.mark.parametrize("seed", range(20))
def test_a_file_with_missing_or_damaged_lines_is_read_or_refused(seed, tmp_path):
    dice = random.Random(seed)
    rows = _whole().split("\n")
    start = rows.index("ENTITIES")
    for _ in range(3):
        k = dice.randrange(start, len(rows) - 3)
        match dice.randrange(4):
            case 0:
                del rows[k]
            case 1:
                rows[k] = "nonsense"
            case 2:
                rows[k] = "1e400"
            case _:
                rows.insert(k, str(dice.randrange(-5, 300)))
    path = tmp_path / "spoilt.dxf"
    path.write_text("\n".join(rows), encoding="utf-8")
    _try(path)


def test_blocks_within_blocks_and_arrays_are_counted_before_they_are_exploded(tmp_path):
    """2 ** 30 lines in thirty nested blocks, and 9 · 10 ** 8 in one array: refused at once, not after a minute."""
    nested, space = new()
    for n in range(30):
        inner = nested.blocks.new(f"B{n}")
        for at in ((0, 0), (1, 0)) if n else ():
            inner.add_blockref(f"B{n - 1}", at)
        if not n:
            inner.add_line((0, 0), (1, 1))
    space.add_blockref("B29", (0, 0))
    array, space = new()
    array.blocks.new("Q").add_line((0, 0), (1, 1))
    space.add_blockref("Q", (0, 0), dxfattribs={"row_count": 30000, "column_count": 30000, "row_spacing": 1.0})
    for document in (nested, array):
        lines(document.modelspace(), EDGE, "EDGE")
        start = time.process_time()
        with pytest.raises(CannotRun, match="more than 200000 pieces"):
            read(document, tmp_path)
        assert time.process_time() - start < 5


def test_coordinates_out_of_range_make_no_contour(tmp_path):
    document, space = new()
    space.add_lwpolyline([(0, 0), (1e308, 0), (1e308, 60), (0, 60)], close=True, dxfattribs={"layer": "EDGE"})
    with pytest.raises(CannotRun, match="more than 1000 km from the origin"):
        read(document, tmp_path)


@pytest.mark.parametrize("bulge", [1e-17, -1e-17, 1e-13, 1e-200, 5e-324])
def test_a_bulge_that_is_only_rounding_is_a_straight_side(tmp_path, bulge):
    """Its circle has a radius of 10¹⁸ mm and more, of which the box of an arc came out twice too wide."""
    document, space = new()
    corners = [(x, y, 0.0, 0.0, bulge) for x, y in EDGE]
    space.add_lwpolyline(corners, close=True, dxfattribs={"layer": "EDGE"})
    blank, _ = read(document, tmp_path)
    xs, ys = zip(*EDGE, strict=True)
    assert (blank.width, blank.height) == pytest.approx((max(xs) - min(xs), max(ys) - min(ys)))
    assert not blank.edge.vertices[:, 2].any()


@pytest.mark.parametrize("kind", ["spline", "ellipse"])
def test_a_curve_beyond_reckoning_is_not_fitted(tmp_path, kind):
    document, space = new()
    if kind == "spline":
        points = [(n % 7 * 1e9, n % 5 * -1e9, 0) for n in range(300)]
        space.add_open_spline(points, dxfattribs={"layer": "EDGE"})
    else:
        space.add_ellipse((0, 0), (1e12, 0), 0.5, dxfattribs={"layer": "EDGE"})
    start = time.process_time()
    with pytest.raises(CannotRun, match="more than 1000 km from the origin"):
        read(document, tmp_path)
    assert time.process_time() - start < 5


def test_an_arc_beyond_reckoning_is_no_contour(tmp_path):
    document, space = new()
    space.add_lwpolyline([(0, 0, 0, 0, 1e300), (90, 0, 0, 0, -1e300)], close=True, dxfattribs={"layer": "EDGE"})
    with pytest.raises(CannotRun, match="more than 1000 km high"):
        read(document, tmp_path)


def test_there_are_a_hundred_of_them():
    tilted = 9
    assert len(CASES) + tilted + len(REFUSED) + 11 + 20 >= 100
