"""The blank from a drawing. Arcs and bulges are checked against the definitions of the published DXF reference."""

import math
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1]))
from drawings import EDGE, ZONE, lines, new, plate, read, read_file, words

from pipeline.core.config.order import Order, OrderFolder
from pipeline.core.errors import CannotRun
from pipeline.geometry.flatten import chain_area, chain_box
from pipeline.intake.drawing.blank_drawing import read_blank


def order_of(blank, folder=Path(), **more):
    order = Order.model_validate(
        {
            "title": "t",
            "list": {"file": "l.xlsx"},
            "blank": blank,
            "line": [{"text": "x", "face": "f", "cap_height": 5.0}],
        }
        | more,
        context={"mm": 25.4 if more.get("units") == "in" else 1.0},
    )
    return OrderFolder(order=order, folder=folder, file=folder / "order.toml", sha256="0")


def refused(doc, folder, **blank):
    with pytest.raises(CannotRun) as stopped:
        read(doc, folder, **blank)
    return [str(f).replace(f"{folder}/", "") for f in stopped.value.faults]


# --- shapes from the order -------------------------------------------------------------------------------------


def test_a_rectangle():
    blank, findings = read_blank(order_of({"shape": "rectangle", "width": 100.0, "height": 25.0, "thickness": 1.5}))
    assert (blank.width, blank.height, blank.thickness, findings) == (100, 25, 1.5, ())
    assert chain_area(blank.edge) == 2500
    assert blank.get_zone(None) is blank.edge
    assert blank.source == "rectangle 100.00 × 25.00 mm"


@pytest.mark.parametrize("radius", [2.0, 12.5])
def test_a_rectangle_with_round_corners(radius):
    blank, _ = read_blank(order_of({"shape": "rectangle", "width": 100.0, "height": 25.0, "corner_radius": radius}))
    assert chain_area(blank.edge) == pytest.approx(2500 - (4 - math.pi) * radius**2)  # four corners, (1 − π/4) r² each
    assert chain_box(blank.edge) == pytest.approx((0, 0, 100, 25))


def test_a_disc():
    blank, _ = read_blank(order_of({"shape": "disc", "diameter": 70.0}))
    assert chain_area(blank.edge) == pytest.approx(math.pi * 35**2)
    assert chain_box(blank.edge) == pytest.approx((0, 0, 70, 70))


def test_a_disc_in_inches():
    blank, _ = read_blank(order_of({"shape": "disc", "diameter": 3.0}, units="in"))
    assert blank.width == pytest.approx(76.2)
    assert blank.source == "disc 3.0000 in"


# --- contours --------------------------------------------------------------------------------------------------


def test_a_plate_of_lines(tmp_path):
    blank, findings = read(plate()[0], tmp_path)
    assert (blank.width, blank.height) == (100, 60)
    assert chain_area(blank.edge) == 6000
    assert [name for name, _ in blank.zones] == ["LETTERING"]
    assert chain_box(blank.get_zone("LETTERING")) == (10, 10, 90, 50)
    assert findings == ()
    assert blank.source == "plate.dxf"
    assert len(blank.sha256) == 64


def test_the_blank_is_moved_to_the_origin(tmp_path):
    doc, space = new()
    lines(space, [(x - 400, y + 73) for x, y in EDGE], "EDGE")
    lines(space, [(x - 400, y + 73) for x, y in ZONE], "LETTERING")
    blank, _ = read(doc, tmp_path)
    assert chain_box(blank.edge) == (0, 0, 100, 60)
    assert chain_box(blank.get_zone(None)) == (10, 10, 90, 50)


def test_lines_in_any_order_and_direction(tmp_path):
    doc, space = plate(edge=False)
    a, b, c, d = EDGE
    for p, q in ((c, d), (b, a), (b, c), (a, d)):
        space.add_line(p, q, dxfattribs={"layer": "EDGE"})
    blank, _ = read(doc, tmp_path)
    assert chain_area(blank.edge) == 6000  # positive: anticlockwise, however it was drawn


def test_lines_and_arcs_joined_arcs_stay_exact(tmp_path):
    """A stadium of two lines and two half circles: area 40 · 20 + π 10²."""
    doc, space = plate(edge=False, zone=False)
    at = {"layer": "EDGE"}
    space.add_line((10, 0), (50, 0), dxfattribs=at)
    space.add_arc((50, 10), 10, -90, 90, dxfattribs=at)
    space.add_line((50, 20), (10, 20), dxfattribs=at)
    space.add_arc((10, 10), 10, 90, 270, dxfattribs=at)
    space.add_circle((30, 10), 6, dxfattribs={"layer": "LETTERING"})
    blank, findings = read(doc, tmp_path)
    assert len(blank.edge.vertices) == 4
    assert chain_area(blank.edge) == pytest.approx(800 + math.pi * 100, abs=1e-9)
    assert chain_area(blank.get_zone(None)) == pytest.approx(math.pi * 36, abs=1e-9)
    assert findings == ()


@pytest.mark.parametrize(
    ("angle", "bulge"),
    # Published DXF reference: bulge = tan(included angle / 4).
    [(30, 0.131652498), (45, 0.198912367), (90, 0.414213562), (180, 1.0), (270, 2.414213562)],
)
@pytest.mark.parametrize("kind", ["LWPOLYLINE", "POLYLINE"])
def test_bulges_of_polylines(tmp_path, angle, bulge, kind):
    doc, space = plate(edge=False)
    points = [(0, 0, 0), (100, 0, bulge), (100, 60, 0), (0, 60, 0)]
    if kind == "LWPOLYLINE":
        space.add_lwpolyline(points, format="xyb", close=True, dxfattribs={"layer": "EDGE"})
    else:
        space.add_polyline2d(points, format="xyb", close=True, dxfattribs={"layer": "EDGE"})
    blank, _ = read(doc, tmp_path)
    theta, chord = math.radians(angle), 60.0
    radius = chord / (2 * math.sin(theta / 2))
    beyond = radius**2 * (theta - math.sin(theta)) / 2  # area of the segment beyond the chord
    assert chain_area(blank.edge) == pytest.approx(6000 + beyond, rel=1e-8)
    assert blank.width == pytest.approx(100 + bulge * chord / 2, rel=1e-8)  # sagitta = bulge · chord / 2


def test_an_ellipse_becomes_arcs_within_a_thousandth(tmp_path):
    doc, space = plate(edge=False, zone=False)
    space.add_ellipse((50, 30), (50, 0), 0.6, dxfattribs={"layer": "EDGE"})
    space.add_circle((50, 30), 20, dxfattribs={"layer": "LETTERING"})
    blank, _ = read(doc, tmp_path)
    assert chain_area(blank.edge) == pytest.approx(math.pi * 50 * 30, abs=0.001 * 260)  # within 0.001 all around
    assert chain_box(blank.edge) == pytest.approx((0, 0, 100, 60), abs=0.001)


def test_a_spline_that_is_a_circle(tmp_path):
    """A rational quadratic spline of a full circle (weights 1 and √2/2): area π r²."""
    doc, space = plate(edge=False, zone=False)
    w = math.sqrt(0.5)
    points = [(100, 50), (100, 100), (50, 100), (0, 100), (0, 50), (0, 0), (50, 0), (100, 0), (100, 50)]
    space.add_rational_spline(
        [(*p, 0) for p in points], [1, w, 1, w, 1, w, 1, w, 1], degree=2,
        knots=[0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4], dxfattribs={"layer": "EDGE"},
    )  # fmt: skip
    space.add_circle((50, 50), 20, dxfattribs={"layer": "LETTERING"})
    blank, _ = read(doc, tmp_path)
    assert chain_area(blank.edge) == pytest.approx(math.pi * 2500, abs=0.001 * math.pi * 100)


def test_half_an_ellipse_and_a_line(tmp_path):
    doc, space = plate(edge=False, zone=False)
    space.add_ellipse((50, 0), (50, 0), 0.9, 0, math.pi, dxfattribs={"layer": "EDGE"})
    space.add_line((0, 0), (100, 0), dxfattribs={"layer": "EDGE"})
    lines(space, [(40, 10), (60, 10), (60, 30), (40, 30)], "LETTERING")
    blank, _ = read(doc, tmp_path)
    assert chain_area(blank.edge) == pytest.approx(math.pi * 50 * 45 / 2, abs=0.3)


# --- units -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("code", "mm"),
    # Published DXF reference, $INSUNITS.
    [(1, 25.4), (2, 304.8), (4, 1.0), (5, 10.0), (6, 1000.0), (9, 0.0254), (13, 0.001), (14, 100.0)],
)
def test_units_of_the_drawing(tmp_path, code, mm):
    size = 120.0 / mm
    doc, space = new(units=code)
    lines(space, [(0, 0), (size, 0), (size, size), (0, size)], "EDGE")
    lines(space, [(size * k, size * m) for k, m in ((0.1, 0.1), (0.9, 0.1), (0.9, 0.9), (0.1, 0.9))], "LETTERING")
    blank, _ = read(doc, tmp_path)
    assert blank.width == pytest.approx(120.0)


def test_a_drawing_without_a_unit_needs_one_from_the_order(tmp_path):
    doc, _ = plate(units=0)
    assert refused(doc, tmp_path) == [
        "plate.dxf: the drawing does not say its unit; it is 100 × 60 in whatever unit; expected $INSUNITS in its "
        'header. Write drawing_units = "mm" (or "in") under [blank] in order.toml, or save it with its unit'
    ]
    assert read(doc, tmp_path, drawing_units="mm")[0].width == 100
    blank, findings = read(doc, tmp_path, drawing_units="in")
    assert blank.width == 2540
    assert [f.code for f in findings] == ["drawing.odd-size"]


def test_an_edge_longer_than_any_piece_is_refused(tmp_path):
    """Ten kilometres instead of ten metres: the unit is wrong, and no proof scale could show it."""
    doc, space = new(units=4)
    lines(space, [(0, 0), (10_001, 0), (10_001, 60), (0, 60)], "EDGE")
    lines(space, [(10, 10), (90, 10), (90, 50), (10, 50)], "LETTERING")
    assert refused(doc, tmp_path) == [
        "plate.dxf, layer EDGE: an edge of 10001.00 × 60.00 mm; expected a piece of at most 10000.00 mm. Check one "
        "known length; save the drawing with the right unit"
    ]


def test_an_old_drawing_has_no_unit(tmp_path):
    doc, _ = plate("R12")
    assert "does not say its unit" in refused(doc, tmp_path)[0]
    assert read(doc, tmp_path, drawing_units="mm")[0].width == 100


def test_a_drawing_without_a_header_is_not_in_metres(tmp_path):
    path = tmp_path / "bare.dxf"
    body = "".join(
        f"0\nLINE\n8\n{layer}\n10\n{p[0]}\n20\n{p[1]}\n11\n{q[0]}\n21\n{q[1]}\n"
        for layer, ring in (("EDGE", EDGE), ("LETTERING", ZONE))
        for p, q in zip(ring, ring[1:] + ring[:1], strict=True)
    )
    path.write_text(f"0\nSECTION\n2\nENTITIES\n{body}0\nENDSEC\n0\nEOF\n")
    with pytest.raises(CannotRun, match="does not say its unit"):
        read_file(path)
    assert read_file(path, drawing_units="mm")[0].width == 100


def test_two_units_are_refused(tmp_path):
    assert refused(plate()[0], tmp_path, drawing_units="in") == [
        'order.toml, [blank], drawing_units: drawing_units is "in" but the drawing says millimetres; expected one '
        "unit. Take drawing_units out; if the drawing is wrong, save it with the right unit"
    ]


def test_light_years_are_refused(tmp_path):
    assert "the drawing's unit is number 19 of $INSUNITS" in refused(plate(units=19)[0], tmp_path)[0]


# --- what is wrong with a drawing ------------------------------------------------------------------------------


def test_an_open_contour_names_layer_place_and_gap(tmp_path):
    doc, space = plate(edge=False)
    lines(space, [(0, 0), (100, 0), (100, 60), (0, 60), (0, 0.8)], "EDGE", closed=False)
    assert refused(doc, tmp_path) == [
        "plate.dxf, layer EDGE: the contour does not close: an open end at x 0.00, y 0.00 (millimetres), the nearest "
        "other end at x 0.00, y 0.80 (millimetres), a gap of 0.800 mm; expected ends no farther apart than 0.05 mm. "
        "Close the contour in the drawing, or raise `gap` under [blank] if this is as good as closed"
    ]


def test_a_gap_just_inside_the_limit_is_closed_and_reported(tmp_path):
    doc, space = plate(edge=False)
    lines(space, [(0, 0), (100, 0), (100, 60), (0, 60), (0, 0.049)], "EDGE", closed=False)
    blank, findings = read(doc, tmp_path)
    assert chain_area(blank.edge) == pytest.approx(6000, abs=0.049 * 60)
    assert words(findings) == [
        "drawing.gap-mended: 1 gap closed on layer EDGE, the widest 0.05 mm, at x 0.00, y 0.02 (millimetres) in "
        "the drawing"
    ]
    doc, space = plate(edge=False)
    lines(space, [(0, 0), (100, 0), (100, 60), (0, 60), (0, 0.051)], "EDGE", closed=False)
    assert "a gap of 0.051 mm" in refused(doc, tmp_path)[0]
    assert read(doc, tmp_path, gap=0.06)[0].height == pytest.approx(60)


def test_places_are_reported_in_the_drawing_s_own_unit(tmp_path):
    doc, space = new(units=1)
    lines(space, [(0, 0), (4, 0), (4, 3), (0, 3), (0, 0.5)], "EDGE", closed=False)
    lines(space, [(1, 1), (3, 1), (3, 2), (1, 2)], "LETTERING")
    (said,) = refused(doc, tmp_path)
    assert "x 0.0000, y 0.5000 (inches), a gap of 12.700 mm" in said


def test_a_missing_layer_lists_the_layers_there_are(tmp_path):
    doc, space = plate(zone=False)
    lines(space, ZONE, "TEXT AREA")
    assert [f.code for f in read(doc, tmp_path)[1] if "zone" in f.code] == ["drawing.zone-unsure"]
    assert refused(doc, tmp_path, layers={"zone": "LETTERING"}) == [
        "plate.dxf: there is no contour on layer “LETTERING”; expected lines, arcs or curves on it; [blank] layers in "
        "order.toml says which layer is what. Layers with contours in this drawing: EDGE (4), TEXT AREA (4)"
    ]
    assert read(doc, tmp_path, layers={"zone": "text area"})[0].get_zone("text area") is not None


def test_all_layers_that_are_missing_at_once(tmp_path):
    doc, space = new()
    lines(space, EDGE, "0")
    said = refused(doc, tmp_path, layers={"edge": "OUTLINE", "zone": ["A", "B"], "pocket": "P"})
    assert [s.split(";")[0] for s in said] == [
        f"plate.dxf: the drawing has no layer “{n}”" for n in ("OUTLINE", "A", "B", "P")
    ]


def test_a_layer_with_nothing_but_text(tmp_path):
    doc, space = plate(zone=False)
    space.add_text("HERE", dxfattribs={"layer": "LETTERING"})
    assert "there is no contour on layer “LETTERING”, only 1 TEXT" in refused(doc, tmp_path)[0]


def test_layers_that_the_order_does_not_name_may_be_missing(tmp_path):
    doc, _ = plate()
    for name in ("KEEP_OUT", "POCKET"):
        doc.layers.remove(name)
    assert read(doc, tmp_path)[0].keep_outs == ()
    assert "no layer “KEEP_OUT”" in refused(doc, tmp_path, layers={"keep_out": "KEEP_OUT"})[0]


def test_two_outlines(tmp_path):
    doc, space = plate()
    lines(space, [(x + 200, y) for x, y in EDGE], "EDGE")
    assert "2 outlines that are not holes of one another; expected one edge" in refused(doc, tmp_path)[0]


def test_two_zones_on_one_layer(tmp_path):
    doc, space = plate(zone=False)
    lines(space, [(5, 5), (45, 5), (45, 50), (5, 50)], "LETTERING")
    lines(space, [(55, 5), (95, 5), (95, 50), (55, 50)], "LETTERING")
    assert "2 zones beside one another; expected one zone on each zone layer" in refused(doc, tmp_path)[0]


def test_several_zone_layers(tmp_path):
    doc, space = plate(zone=False)
    lines(space, [(5, 5), (45, 5), (45, 50), (5, 50)], "NAME")
    lines(space, [(55, 5), (95, 5), (95, 50), (55, 50)], "YEAR")
    blank, _ = read(doc, tmp_path, layers={"zone": ["NAME", "YEAR"]})
    assert [(name, chain_box(zone)[0]) for name, zone in blank.zones] == [("NAME", 5), ("YEAR", 55)]


def test_a_zone_smaller_than_its_margin(tmp_path):
    doc, space = plate(zone=False)
    lines(space, [(10, 10), (90, 10), (90, 14), (10, 14)], "LETTERING")
    assert refused(doc, tmp_path, margin=2.01) == [
        "plate.dxf, layer LETTERING: the zone (80.00 × 4.00 mm) is smaller than twice its margin of 2.01 mm; expected "
        "room inside the margin. Widen the zone or lower `margin` under [blank]"
    ]
    assert read(doc, tmp_path, margin=1.99)[0].width == 100


def test_a_zone_outside_the_edge(tmp_path):
    doc, space = plate(zone=False)
    lines(space, [(10, 10), (103, 10), (103, 50), (10, 50)], "LETTERING")
    assert "the zone reaches 3.00 mm outside the edge" in refused(doc, tmp_path)[0]


def test_a_contour_that_crosses_itself(tmp_path):
    doc, space = plate(zone=False)
    lines(space, [(10, 10), (90, 50), (90, 10), (10, 50)], "LETTERING")
    assert "a contour crosses or touches itself at x 50.00, y 30.00" in refused(doc, tmp_path)[0]


def test_three_ends_in_one_place(tmp_path):
    doc, space = plate()
    space.add_line((0, 0), (50, 30), dxfattribs={"layer": "EDGE"})
    said = refused(doc, tmp_path)
    assert any("3 ends meet at x 0.00, y 0.00" in s for s in said)


def test_a_contour_of_no_area(tmp_path):
    doc, space = plate(zone=False)
    space.add_lwpolyline([(10, 10), (50, 10)], close=True, dxfattribs={"layer": "LETTERING"})
    said = refused(doc, tmp_path)
    assert said and all("layer LETTERING" in s for s in said)


# --- holes, keep-outs, pockets ---------------------------------------------------------------------------------


def test_loops_inside_the_edge_are_holes(tmp_path):
    doc, space = plate()
    for x in (5, 95):
        space.add_circle((x, 30), 1.6, dxfattribs={"layer": "EDGE"})
    blank, _ = read(doc, tmp_path)
    assert [chain_area(h) for h in blank.holes] == pytest.approx([-math.pi * 2.56] * 2)  # clockwise: a hole


def test_keep_outs_pockets_and_their_islands(tmp_path):
    doc, space = plate()
    space.add_circle((20, 20), 3, dxfattribs={"layer": "KEEP_OUT"})
    space.add_circle((22, 20), 3, dxfattribs={"layer": "KEEP_OUT"})  # overlapping keep-outs are unambiguous
    space.add_circle((50, 54), 5, dxfattribs={"layer": "POCKET"})
    space.add_circle((50, 54), 2, dxfattribs={"layer": "POCKET"})
    blank, _ = read(doc, tmp_path)
    assert len(blank.keep_outs) == 2
    assert [round(chain_area(p), 6) for p in blank.pockets] == [round(math.pi * 25, 6), round(-math.pi * 4, 6)]


def test_a_hole_in_a_zone_is_kept_free(tmp_path):
    doc, space = plate()
    space.add_circle((50, 30), 5, dxfattribs={"layer": "LETTERING"})
    blank, _ = read(doc, tmp_path)
    assert [chain_area(k) for k in blank.keep_outs] == pytest.approx([math.pi * 25])


def test_a_pocket_over_the_edge_is_asked_about(tmp_path):
    doc, space = plate()
    space.add_circle((98, 30), 5, dxfattribs={"layer": "POCKET"})
    _, findings = read(doc, tmp_path)
    assert words(findings) == [
        "drawing.pocket-outside: a pocket reaches 3.00 mm outside the edge, at x 103.00, y 30.00 mm from the "
        "lower left corner"
    ]


def test_pockets_that_cross(tmp_path):
    doc, space = plate()
    space.add_circle((50, 30), 5, dxfattribs={"layer": "POCKET"})
    space.add_circle((55, 30), 5, dxfattribs={"layer": "POCKET"})
    assert "two contours cross or touch at" in refused(doc, tmp_path)[0]


def test_ignored_entities_are_listed(tmp_path):
    doc, space = plate()
    space.add_text("walnut", dxfattribs={"layer": "NOTES"})
    space.add_text("edge", dxfattribs={"layer": "EDGE"})
    space.add_point((1, 1), dxfattribs={"layer": "EDGE"})
    _, findings = read(doc, tmp_path)
    assert words(findings) == [
        "drawing.ignored: ignored in the drawing: 1 POINT on layer EDGE, 1 TEXT on layer EDGE, 1 on layer NOTES"
    ]


def test_a_layer_that_is_switched_off_is_used_and_reported(tmp_path):
    doc, _ = plate()
    doc.layers.get("LETTERING").off()
    assert words(read(doc, tmp_path)[1]) == [
        "drawing.layer-hidden: layer LETTERING is switched off or frozen in the drawing; it is used all the same"
    ]


# --- files that are no drawings --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "the file is empty"),
        (b"AC1032\x00\x00\x00", "this is a DWG drawing"),
        (b"%PDF-1.7\n", "this is a PDF"),
        (b"<svg></svg>", "this is an SVG"),
        (b"PK\x03\x04....", "this is a zipped file"),
        (b"hello\nworld\n", "cannot be read as a drawing"),
        (b"\x00\xff" * 500, "cannot be read as a drawing"),
        (b"0\nSECTION\n2\nENTITIES\n0\nLINE\n", "x.dxf"),
    ],
)
def test_files_that_are_no_drawings(tmp_path, data, said):
    path = tmp_path / "x.dxf"
    path.write_bytes(data)
    with pytest.raises(CannotRun, match=said):
        read_file(path)
    assert path.read_bytes() == data


def test_a_truncated_drawing_is_read_as_far_as_it_goes(tmp_path):
    doc, _ = plate()
    path = tmp_path / "cut.dxf"
    doc.saveas(path)
    text = path.read_text()
    path.write_text(text[: text.rindex("ENDSEC")])
    try:
        blank, findings = read_file(path)
    except CannotRun as reason:
        assert "cut.dxf" in str(reason)
    else:
        assert blank.width == 100
        assert "drawing.repaired" in [f.code for f in findings]


def test_the_same_drawing_twice_is_the_same_blank(tmp_path):
    doc, space = plate()
    space.add_ellipse((50, 30), (20, 0), 0.5, dxfattribs={"layer": "KEEP_OUT"})
    one, two = read(doc, tmp_path)[0], read_file(tmp_path / "plate.dxf")[0]
    assert one.sha256 == two.sha256
    assert one.keep_outs[0].vertices.tobytes() == two.keep_outs[0].vertices.tobytes()
