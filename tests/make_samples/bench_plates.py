"""Create the drawing and the list of `sample_orders/bench-plates`: brass plates for the benches of an invented
parish.

Run from the project's root: `python tests/make_samples/bench_plates.py`. Equal bytes every time; a test compares.
All sizes are invented (common practice, no source); so is everybody named.
"""

from __future__ import annotations

import math
from datetime import datetime
from pathlib import Path

import ezdxf
import xlsxwriter

TARGET = Path(__file__).resolve().parents[2] / "sample_orders" / "bench-plates"

WIDTH, HEIGHT, CORNER = 100.0, 25.0, 2.0
HOLE, HOLE_FROM_END = 3.2, 6.0
ZONE_FROM_END = 8.0  # lettering stays between the screws

WORDINGS: list[tuple[str, str, int]] = [
    ("Tideside, by the slip", "In memory of Odalys Fernwright, who fed the sparrows here", 1),
    ("Tideside, by the slip", "For Bertram Quillfeather, sixty years a ferryman", 1),
    ("Harbour wall", "Sit a while and watch the tide", 2),
    ("Harbour wall", "Ingrid Håvardsen 1931-2019. She loved this view", 1),
    ("Gull Lane", "Given by the Friends of Gull Lane Allotments", 1),
    ("Gull Lane", "Prudence & Wendell Applegarth, married on this quay, 1958", 1),
    ("Gull Lane", "Tomasz Żurawski, who mended everything", 1),
    ("Bus shelter", "For all who wait for the last bus", 3),
    ("Lime walk", "Nguyễn Thị Sương Mai, who planted these limes", 1),
    (
        "Bandstand",
        "In loving memory of Cordelia Anstruther-Whitlock, lifelong secretary of the Lower Saltmarsh Brass Band, the "
        "Gardening Circle, the Choral Society, the Lantern Parade and the Regatta Committee",
        1,
    ),
    ("Bandstand", "Wren 🐦 and her grandfather", 1),
    ("Rowing club", "The Lower Saltmarsh Rowing Club, first afloat 1921", 1),
    ("Rowing club", "Eleni Κυμάκη, who came by sea and stayed", 1),
    ("Chapel green", "Oskar & Ylva, who met on this bench, 3 May 1974", 1),
    ("Chapel green", "For all who wait for the last bus", 1),
    ("Chapel green", "Mr  Jolyon Peascod, verger", 1),
]


def draw() -> ezdxf.document.Drawing:
    """Draw the plate: round corners as bulges, the two holes as references to one block."""
    ezdxf.options.write_fixed_meta_data_for_testing = True
    doc = ezdxf.new("R2000", units=4)
    for name, colour in (("PLATE", 7), ("LETTERING", 3), ("SCREWS", 1)):
        doc.layers.add(name, color=colour)
    space = doc.modelspace()
    w, h, r, b = WIDTH, HEIGHT, CORNER, math.tan(math.pi / 8)
    edge = [(r, 0, 0), (w - r, 0, b), (w, r, 0), (w, h - r, b), (w - r, h, 0), (r, h, b), (0, h - r, 0), (0, r, b)]
    space.add_lwpolyline(edge, format="xyb", close=True, dxfattribs={"layer": "PLATE"})
    x0, x1 = ZONE_FROM_END, w - ZONE_FROM_END
    space.add_lwpolyline([(x0, 0), (x1, 0), (x1, h), (x0, h)], close=True, dxfattribs={"layer": "LETTERING"})
    doc.blocks.new("SCREW").add_circle((0, 0), HOLE / 2, dxfattribs={"layer": "0"})
    for x in (HOLE_FROM_END, w - HOLE_FROM_END):
        space.add_blockref("SCREW", (x, h / 2), dxfattribs={"layer": "SCREWS"})
    doc.classes.add_required_classes(doc.dxfversion)  # the library lists classes in the order of a set
    doc.classes.classes = dict(sorted(doc.classes.classes.items()))
    return doc


def write_list(path: Path) -> None:
    """Write the parish clerk's list."""
    with xlsxwriter.Workbook(path) as book:
        book.set_properties({"created": datetime(2026, 1, 5)})
        sheet = book.add_worksheet("Benches")
        bold = book.add_format({"bold": True})
        sheet.write_string("A1", "Parish of Lower Saltmarsh: bench plates, third order", bold)
        for column, heading in enumerate(("Where", "Wording on the plate", "Plates")):
            sheet.write_string(2, column, heading, bold)
        for row, (where, wording, plates) in enumerate(WORDINGS, 3):
            sheet.write_string(row, 0, where)
            sheet.write_string(row, 1, wording)
            sheet.write_number(row, 2, plates)
        sheet.set_column(0, 0, 22)
        sheet.set_column(1, 1, 70)


def main() -> None:
    TARGET.mkdir(parents=True, exist_ok=True)
    draw().saveas(TARGET / "plate.dxf")
    write_list(TARGET / "dedications.xlsx")


if __name__ == "__main__":
    main()
