"""Create lists and drawings of the six small sample orders, each of them one common design.

Run from the project's root: `python tests/make_samples/small_designs.py`. Equal bytes every time; a test compares.
All sizes are invented (common practice, no source); so are the clubs and everybody named.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Sequence
from datetime import date, datetime
from pathlib import Path

import ezdxf
import xlsxwriter

SAMPLES = Path(__file__).resolve().parents[2] / "sample_orders"
Row = Sequence[object]

TREES: list[Row] = [
    ("In memory of", "Born", "Died", "Tree"),
    ("Perpetua Larkrise", date(1938, 5, 4), date(2025, 11, 19), "Field maple"),
    ("Petrus Alexander Kastner-Pryke", date(1947, 1, 30), date(2024, 8, 2), "Silver birch"),
    ("Ruth and Peter Karlsen", None, None, "Rowan"),
    ("Lupin, a terrier", date(2010, 3, 6), date(2024, 10, 27), "Crab apple"),
]
CAPTAINS: list[Row] = [
    ("Year", "Captain"),
    ("2019", "Hester Ollerenshaw"),
    ("2020", "No play"),
    ("2021", "Cuthbert Amberley"),
    ("2022", "Márta Kövesdi"),
    ("2024", "Idris Pendlebury"),
    ("2025", "Wilfred Jute"),
]
SINGERS: list[Row] = [
    ("Singer", "Part", "Since", "Plates"),
    ("Dilys Ravenscroft", "Soprano", "2011", "1"),
    ("Ngozi Ferrars", "Alto", "2018", "1"),
    ("Bartholomew Applegate-Quill", "Bass", "1987", "1"),
    ("Jens Kvist", "Tenor", "", "1"),
    ("Conductor", "", "", "2"),
]
WALKERS: list[Row] = [
    ("Walker", "Miles", "Route"),
    ("Una Thistlewood", "100", "The Drovers’ Round"),
    ("Osric & Bel Hathersage", "130", "Alder Fen to Skerry Head"),
    ("Siôn Bryncoed", "212", "Three Rivers Way"),
    ("Maud Pettigrew", "100", "The Drovers’ Round"),
]
DOORS: list[Row] = [
    ("Room", "Name on the door", "What they do"),
    ("201", "Dr. Lucinda Marchbanks", "General medicine"),
    ("202", "Tobias Okonjo, RN", "Nurse"),
    ("204", "Ximena Duarte-Holloway", "Physical therapy"),
    ("205", "Linen", ""),
]
WINNERS: list[Row] = [
    ("Year", "Winner", "Boat"),
    ("1971", "Ottoline Brackwater", "Sandpiper"),
    ("1972", "Jory & Tamsin Pellow", "Whimbrel"),
    ("1973", "Ottoline Brackwater", "Sandpiper"),
    ("1974", "Björn Ærøskarv", "Eider"),
    ("1975", "Not sailed", ""),
]
"""The lists, their headings first."""

SHIELD_WIDTH, SHIELD_HEIGHT = 44.0, 52.0
PLATE_WIDTH, PLATE_HEIGHT, PLATE_CORNER = 140.0, 40.0, 3.0


def text_list(rows: Sequence[Row]) -> bytes:
    """Return a list as comma-separated text."""
    out = io.StringIO()
    csv.writer(out, lineterminator="\r\n").writerows(rows)
    return ("\ufeff" + out.getvalue()).encode()


def workbook(rows: Sequence[Row], sheet: str) -> bytes:
    """Return a list as a workbook with dates as a spreadsheet stores them."""
    out = io.BytesIO()
    with xlsxwriter.Workbook(out, {"in_memory": True}) as book:
        book.set_properties({"created": datetime(2026, 2, 2)})
        page = book.add_worksheet(sheet)
        bold, day = book.add_format({"bold": True}), book.add_format({"num_format": "dd/mm/yyyy"})
        for number, row in enumerate(rows):
            for column, value in enumerate(row):
                if isinstance(value, date):
                    page.write_datetime(number, column, datetime(value.year, value.month, value.day), day)
                elif value is not None:
                    page.write(number, column, value, bold if number == 0 else None)
        page.set_column(0, 0, 28)
        page.set_column(1, 3, 16)
    return out.getvalue()


def _drawing(layers: Sequence[tuple[str, int]]) -> ezdxf.document.Drawing:
    ezdxf.options.write_fixed_meta_data_for_testing = True
    doc = ezdxf.new("R2000", units=4)
    for name, colour in layers:
        doc.layers.add(name, color=colour)
    return doc


def _bytes(doc: ezdxf.document.Drawing) -> bytes:
    doc.classes.add_required_classes(doc.dxfversion)  # the library lists classes in the order of a set
    doc.classes.classes = dict(sorted(doc.classes.classes.items()))
    out = io.StringIO()
    doc.write(out)
    return out.getvalue().encode()


def plate() -> bytes:
    """Draw a plate with round corners, a zone for the name and one for the part, and a rule between them."""
    doc = _drawing([("EDGE", 7), ("NAME", 3), ("PART", 3), ("RULE", 1)])
    space = doc.modelspace()
    w, h, r, b = PLATE_WIDTH, PLATE_HEIGHT, PLATE_CORNER, math.tan(math.pi / 8)
    edge = [(r, 0, 0), (w - r, 0, b), (w, r, 0), (w, h - r, b), (w - r, h, 0), (r, h, b), (0, h - r, 0), (0, r, b)]
    space.add_lwpolyline(edge, format="xyb", close=True, dxfattribs={"layer": "EDGE"})
    for layer, (x0, x1) in {"NAME": (5, 97), "PART": (103, 136)}.items():
        space.add_lwpolyline([(x0, 4), (x1, 4), (x1, h - 4), (x0, h - 4)], close=True, dxfattribs={"layer": layer})
    x0, x1 = 99.6, 100.4
    space.add_lwpolyline([(x0, 8), (x1, 8), (x1, h - 8), (x0, h - 8)], close=True, dxfattribs={"layer": "RULE"})
    return _bytes(doc)


def shield() -> bytes:
    """Draw a shield with two holes for pins, all on layer 0."""
    doc = _drawing([])
    space = doc.modelspace()
    w, h = SHIELD_WIDTH, SHIELD_HEIGHT
    shoulder = 22.0  # from here down the sides are arcs, tangent to the straight sides
    radius = ((w / 2) ** 2 + shoulder**2) / w
    bulge = math.tan(math.asin(shoulder / radius) / 4)
    edge = [(0, shoulder, bulge), (w / 2, 0, bulge), (w, shoulder, 0), (w, h, 0), (0, h, 0)]
    space.add_lwpolyline(edge, format="xyb", close=True)
    for x in (4.0, w - 4.0):
        space.add_circle((x, h - 4.0), 0.8)
    return _bytes(doc)


def files() -> dict[str, dict[str, bytes]]:
    """Return what is created, by sample and name."""
    return {
        "memorial-plaques": {"trees.xlsx": workbook(TREES, "Trees")},
        "honours-board": {"captains.csv": text_list(CAPTAINS)},
        "choir-plates": {"singers.csv": text_list(SINGERS), "plate.dxf": plate()},
        "walkers-discs": {"walkers.csv": text_list(WALKERS)},
        "door-signs": {"doors.csv": text_list(DOORS)},
        "trophy-shields": {"winners.csv": text_list(WINNERS), "shield.dxf": shield()},
    }


def main() -> None:
    for sample, made in files().items():
        (SAMPLES / sample).mkdir(exist_ok=True)
        for name, data in made.items():
            (SAMPLES / sample / name).write_bytes(data)


if __name__ == "__main__":
    main()
