"""Drawings with little structure: one layer for everything, an edge and no zone, layers the order doesn't name."""

from __future__ import annotations

import ezdxf
import numpy as np
import pytest

from pipeline.core.catalogue import format_message
from pipeline.core.errors import CannotRun
from pipeline.intake.drawing.blank_drawing import read_blank
from pipeline.intake.order.order_file import read_order

PLATE = (0.0, 0.0, 120.0, 80.0)


def folder(tmp_path, shapes, layers=""):
    """Return an order whose drawing has these (layer, box) or (layer, (x, y, radius))."""
    doc = ezdxf.new("R2010", units=4)
    for layer, shape in shapes:
        if len(shape) == 3:
            doc.modelspace().add_circle(shape[:2], shape[2], dxfattribs={"layer": layer})
        else:
            x0, y0, x1, y1 = shape
            corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
            doc.modelspace().add_lwpolyline(corners, close=True, dxfattribs={"layer": layer})
    doc.saveas(tmp_path / "plate.dxf")
    (tmp_path / "list.csv").write_text("Name\nAda Tern\n", encoding="utf-8")
    (tmp_path / "order.toml").write_text(
        f"""title = "Plates"
[list]
file = "list.csv"
columns = {{ name = "Name" }}
[blank]
drawing = "plate.dxf"
{layers}
[[line]]
text = "{{name}}"
face = "noto-sans"
cap_height = 6.0
""",
        encoding="utf-8",
    )
    return read_blank(read_order(tmp_path))


def anywhere(blank):
    """Return whether the only zone is everything inside the edge."""
    ((_, zone),) = blank.zones
    return np.array_equal(zone.vertices, blank.edge.vertices)


def said(found):
    return {f.code: format_message(f) for f in found}


def test_one_outline_on_layer_0_needs_no_layers(tmp_path):
    blank, found = folder(tmp_path, [("0", PLATE), ("0", (15.0, 15.0, 3.0)), ("0", (105.0, 15.0, 3.0))])
    assert (blank.width, blank.height) == (120.0, 80.0)
    assert len(blank.holes) == 2 and blank.zones[0][0] == "LETTERING" and anywhere(blank)
    words = said(found)
    assert words["drawing.one-layer"] == (
        "the drawing has one layer, “0”: its largest loop is the edge, 120.00 mm × 80.00 mm; the 2 loops inside it are "
        "holes"
    )
    assert "anywhere inside the edge" in words["drawing.no-zone"]


def test_a_border_on_the_only_layer_is_not_taken_for_a_hole(tmp_path):
    with pytest.raises(CannotRun, match="too large for a hole"):
        folder(tmp_path, [("OUTLINE", PLATE), ("OUTLINE", (5.0, 5.0, 115.0, 75.0))])


def test_two_outlines_on_the_only_layer_are_not_one_blank(tmp_path):
    with pytest.raises(CannotRun, match="2 outlines"):
        folder(tmp_path, [("0", PLATE), ("0", (200.0, 0.0, 250.0, 50.0))])


def test_an_edge_without_a_zone(tmp_path):
    blank, found = folder(tmp_path, [("EDGE", PLATE), ("POCKET", (10.0, 50.0, 60.0, 70.0))])
    assert anywhere(blank) and len(blank.pockets) == 1
    assert set(said(found)) == {"drawing.no-zone"}


def test_a_zone_on_a_layer_of_another_name_is_asked_about(tmp_path):
    shapes = [("EDGE", PLATE), ("TEXT AREA", (10.0, 10.0, 110.0, 70.0))]
    _, found = folder(tmp_path, shapes)
    assert "is its zone on “TEXT AREA”?" in said(found)["drawing.zone-unsure"]
    for number, answer in enumerate(("TEXT AREA", "EDGE")):
        again = tmp_path / str(number)
        again.mkdir()
        blank, found = folder(again, shapes, f'layers = {{ zone = "{answer}" }}')
        assert "drawing.zone-unsure" not in said(found)
        assert anywhere(blank) is (answer == "EDGE")


def test_a_zone_the_order_names_has_to_be_there(tmp_path):
    with pytest.raises(CannotRun, match="no layer “WORDS”"):
        folder(tmp_path, [("EDGE", PLATE)], 'layers = { zone = "WORDS" }')


def test_several_layers_without_an_edge_are_a_fault(tmp_path):
    with pytest.raises(CannotRun, match="no layer “EDGE”"):
        folder(tmp_path, [("PLATE", PLATE), ("HOLES", (15.0, 15.0, 3.0))])
