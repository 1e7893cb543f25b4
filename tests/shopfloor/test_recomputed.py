"""Times and costs of one order recomputed: from the letters in its cut files as another reader flattens them, and
from the numbers in the order file, by hand; none of the tool's own calculations are used."""

from __future__ import annotations

import math
import re
from pathlib import Path

import ezdxf
import ezdxf.path
import pytest
import shapely
from shapely.geometry import Polygon

from pipeline.run import run_order
from tests.advised import MadeUp
from tests.outputs.papers import read_text, strip_origin_marks

NAMES = ("Una Larkhill", "Edwin Hollin", "Nils Northcote", "Rhona Pell", "Piers Quarry", "Ada Kelding", "Wren Saltram",
         "Gwen Ravensby")  # fmt: skip
HOUR, MACHINE_HOUR, STOCK_PRICE = 40.0, 22.0, 50.0
FEED, PLUNGE, LIFT, TIP, DEEP, LINE, PASS = 600.0, 200.0, 1.5, 0.15, 0.2, 0.25, 0.15


def order() -> MadeUp:
    """Write an order for eight plates of 120 × 40 from one sheet of 600 × 300, lettered with a point."""
    return MadeUp(
        {
            "title": "Plates",
            "list": {"file": "list.csv", "columns": {"name": "Name"}},
            "blank": {"shape": "rectangle", "width": 120.0, "height": 40.0, "thickness": 1.6, "margin": 4.0},
            "cutter": {"use": "point-fine"},
            "limits": {"deepest": DEEP},
            "stock": {"material": "brass"},
            "board": {"size": [{"length": 600.0, "width": 300.0, "name": "sheet"}], "grain": "across", "outline": LINE},
            "rates": {
                "currency": "EUR", "hour": HOUR, "machine_hour": MACHINE_HOUR, "stock_price": STOCK_PRICE, "feed": FEED,
                "plunge": PLUNGE,
            },
            "line": [{"text": "{name}", "face": "noto-sans", "cap_height": 8.0}],
        },
        [["Name"], *([name] for name in NAMES)],
    )  # fmt: skip


def way_of(file: Path) -> tuple[float, int]:
    """Return length and number of starts of a point's path around the letters of a cut file: each outline once, half
    the point's width inside. Flattened by ezdxf, offset inwards by GEOS."""
    drawing = ezdxf.readfile(file)
    area = shapely.Polygon()
    for entity in drawing.modelspace():
        if entity.dxf.layer.startswith("ENGRAVE"):
            ring = Polygon([(p.x, p.y) for p in ezdxf.path.make_path(entity).flattening(0.001)])
            area = area.symmetric_difference(ring.buffer(0))
    inside = shapely.buffer(area, -TIP / 2, quad_segs=16)
    rings = [r for part in shapely.get_parts(inside) for r in (part.exterior, *part.interiors)]
    return sum(ring.length for ring in rings), len(rings)


def minutes(told: str) -> float:
    """Convert `2 h 05` or `35 min` to minutes."""
    hours = re.fullmatch(r"(\d+) h (\d\d)", told)
    return int(hours[1]) * 60 + int(hours[2]) if hours else float(told.removesuffix(" min"))


@pytest.fixture(scope="module")
def sheet(tmp_path_factory: pytest.TempPathFactory) -> tuple[str, Path]:
    folder = order().write(tmp_path_factory.mktemp("recomputed"))
    run_order(folder)
    text = read_text((folder / "out" / "shop.pdf").read_bytes())
    return strip_origin_marks(text), folder


def row(text: str, name: str) -> float:
    """Return the time of a row of the table."""
    found = re.search(rf"{name} (?:hand |machine )?(\d+ h \d\d|\d+ min)", text.rsplit("Time and cost", maxsplit=1)[-1])
    assert found, name
    return minutes(found[1])


def test_every_time_and_cost_follows_from_the_cut_files_and_the_order(sheet: tuple[str, Path]) -> None:
    """Across the width (300 + 3.2) / (40 + 3 + 3.2) = 6.6 plates, so two columns of six and two: a waste cut, two
    crosscuts and eight rips, at three settings. Two equal passes of at most 0.15 (the shelf's value for a point in
    brass); the outline, 0.25 deep, in two as well."""
    text, folder = sheet
    ways = [way_of(file) for file in sorted((folder / "out" / "cut").glob("*.dxf"))]
    assert len(ways) == 8
    length, begun, passes = 2 * sum(w for w, _ in ways), sum(n for _, n in ways), math.ceil(DEEP / PASS)
    lettering = length / FEED + 2 * begun * LIFT / 60 + passes * begun * 0.1 / PLUNGE
    outline = 8 * math.ceil(LINE / PASS) * ((2 * (120 + 40)) / FEED + LIFT / 60)
    sawing = 11 * 0.75 + 3 * 3.0
    to_line = 8 * 4 * 0.75 + 4 * 3.0
    hand = 20.0 + 8.0 + 3.0 + sawing + to_line + 8 * 3.0
    machine = lettering + outline
    assert row(text, "lettering") == pytest.approx(lettering, abs=0.5 + 0.01 * lettering)  # shown in whole minutes
    for name, value in (
        ("outline", outline), ("sawing boards apart", sawing), ("sawing to the line", to_line),
        ("checking and packing", 24.0), ("fixing and zeroing", 8.0), ("Together", hand + machine),
    ):  # fmt: skip
        assert row(text, name) == pytest.approx(value, abs=0.5 + 0.01 * value), name
    work = hand / 60 * HOUR + machine / 60 * MACHINE_HOUR
    boards = 0.6 * 0.3 * STOCK_PRICE
    money = re.findall(r"(\d+\.\d\d) EUR", text)
    assert float(money[0]) == pytest.approx(work, rel=0.01) and float(money[1]) == pytest.approx(boards, abs=0.005)
    assert {f"{float(m):.2f}" for m in money} >= {f"{float(money[0]) + boards:.2f}"}


def test_board_totals_are_those_of_the_layout_by_hand(sheet: tuple[str, Path]) -> None:
    """Eight of 4,800 mm² out of 180,000: 21.3 %. A column is 120 + 2 × 1.5 = 123, a plate is ripped at 43; the part
    under the clamps comes off at 25 − 3.2 = 21.8. Nothing 123 long is fed along the fence."""
    text, _ = sheet
    assert "8 of 8" in text and "21.3 % becomes pieces" in text and "by area alone, 1 would do" in text
    for setting in ("43 mm", "21.8 mm", "123 mm"):
        assert setting in text.split("Saw card")[1], setting
    assert "sled, stop block 43 mm" in text and "fence 43 mm" not in text
