"""The shop sheet: only what the order has, every plaque, cautions with their titles, equal bytes."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace
from io import BytesIO
from typing import Any

import pdfplumber
import pytest
from pypdf import PdfReader

from pipeline.core.config.order import CutterConfig, FinishConfig
from pipeline.core.config.shop_tables import (
    BoardConfig,
    BoardSize,
    EndMillConfig,
    PocketConfig,
    PourConfig,
    RatesConfig,
    StockConfig,
)
from pipeline.outputs.shop_sheet import cautions
from pipeline.outputs.shop_sheet.cautions import FEPA_P, FINER_BY, list_grits
from pipeline.outputs.shop_sheet.piece_card import _format_area
from pipeline.outputs.shop_sheet.saw_card import _format_runs
from pipeline.outputs.shop_sheet.shop_sheet import write_sheet
from pipeline.outputs.shop_sheet.tick_list import list_boxes
from pipeline.shopfloor.shop_plan import plan_shop
from tests.builders import KEPT, folder, lettered_behind, outcome, some_plaques
from tests.outputs.papers import read_text, strip_origin_marks
from tests.reference.shop_values import GRITS
from tests.shopfloor.shop_shapes import resin

WHOLE: dict[str, Any] = {
    "stock": StockConfig(material="walnut", rough=25.0, sawn_off=6.0),
    "pocket": PocketConfig(depth=14.0, fine=EndMillConfig(use="endmill-3")),
    "pour": PourConfig(data_sheet="Sheet 7"),
    "board": BoardConfig(size=(BoardSize(length=1200.0, width=190.0),)),
    "finish": FinishConfig(sanded_off=0.1),
    "rates": RatesConfig(hour=40.0, currency="EUR"),
}


def made(**tables: Any) -> tuple[bytes, int, Any, Any]:
    order, run = folder(**tables), outcome()
    plan, _ = plan_shop(order, run.blank, run.plaques, cache=KEPT)
    return (*write_sheet(run, order, plan), plan, run)


def text_of(data: bytes) -> str:
    """Return the text without source marks."""
    return strip_origin_marks(read_text(data))


@pytest.fixture(scope="module")
def whole() -> tuple[bytes, int, Any, Any]:
    return made(**WHOLE)


def test_every_plaque_to_be_made_has_a_line_and_stopped_ones_have_none(whole: Any) -> None:
    data, _, plan, run = whole
    text = text_of(data)
    going = [p for p in run.plaques if p.state != "stopped"]
    assert plan.pieces == sum(p.recipient.copies for p in going)
    for p in going:
        assert p.fingerprint in text and p.cut_file.split("/")[1][:12] in text
    assert "Not to be cut, see check.xlsx: row 11, row 12." in text


def test_two_readers_agree_and_pages_are_counted(whole: Any) -> None:
    data, pages, _, _ = whole
    with pdfplumber.open(BytesIO(data)) as pdf:
        assert len(pdf.pages) == pages
        last = pdf.pages[-1].extract_text()
        assert f"page {pages} of {pages}" in last
        assert "Saw card" in " ".join(p.extract_text() for p in pdf.pages)
    titles = [str(e.title) for e in PdfReader(BytesIO(data)).outline if not isinstance(e, list)]
    assert titles == [
        "Shop sheet",
        "Order of work",
        "Cutters, in order of use",
        "Thickness",
        "Pocket",
        "Pour card",
        "Boards",
        "Saw card",
        "Time and cost",
        "Tick list",
    ]


TITLES = ("OSHA 3157", "29 CFR 1910.213", "HSE WIS23", "HSE WIS13", "EH40", "HSE RR079", "CPWR", "HETA 2011-0180")


def test_cautions_name_their_papers_and_defer(whole: Any) -> None:
    text = text_of(whole[0])
    assert [title for title in (*TITLES, cautions.FIRST) if title not in text] == []


def test_an_order_without_resin_has_no_pour_card() -> None:
    data, _, plan, _ = made()
    text = text_of(data)
    assert plan.pocket is None and plan.pour is None and plan.boards is None and plan.thickness is None
    for word in ("resin", "Resin", "Pocket", "Pour", "Boards", "Saw", "poured", "trimmed", "sanded", "Finish"):
        assert word not in text, word
    assert "engraved" in text and "packed" in text and "Order of work" in text


def test_each_table_of_the_order_adds_its_own_part_only() -> None:
    data, *_ = made(board=WHOLE["board"])
    text = text_of(data)
    assert "Saw card" in text and "trimmed" in text
    assert "Pour card" not in text and "resin" not in text


def test_equal_input_gives_equal_bytes(whole: Any) -> None:
    assert made(**WHOLE)[0] == whole[0]


def test_grits_are_those_of_the_standard_and_step_evenly() -> None:
    assert {k: float(v) for k, v in GRITS.items()} == FEPA_P
    for last in (240, 1500):
        order = list_grits(last)
        assert order[0] == 120 and order[-1] == last and order == sorted(set(order))
        steps = [FEPA_P[a] / FEPA_P[b] for a, b in itertools.pairwise(order)]
        assert max(steps) <= FINER_BY + 1e-9


def test_cautions_are_once_at_the_top_of_each_card_local_rules_first(whole: Any) -> None:
    text = text_of(whole[0])
    for card, told in (("Order of work", "HSE WIS23"), ("Pour card", "HSE RR079"), ("Saw card", "OSHA 3157")):
        head = text.split(card, 1)[1].split(told, 1)[0]
        assert head.strip().startswith(cautions.FIRST), card
    assert text.count("EH40/2005") == text.count("HSE RR079") == 1
    assert cautions.merge_cautions(()) == () and cautions.merge_cautions((cautions.OIL, cautions.OIL)) == (
        cautions.FIRST,
        cautions.OIL,
    )


def test_a_lettered_back_is_a_separate_step() -> None:
    """Before the pour with the whole board; where the back is sawn off, afterwards and piece by piece."""

    def text(**tables: Any) -> str:
        order, run = folder(**tables), outcome(lettered_behind())
        plan, _ = plan_shop(order, run.blank, run.plaques, cache=KEPT)
        return text_of(write_sheet(run, order, plan)[0])

    assert "Letter the back" not in text_of(made(board=WHOLE["board"])[0])
    boards = text(board=WHOLE["board"])
    assert "from the board's file that ends in -back" in boards and boards.index("Letter the back") < boards.index(
        "Saw"
    )
    later = text(board=WHOLE["board"], stock=WHOLE["stock"])
    assert "each piece from its own file that ends in -back" in later
    assert later.index("Saw the back off") < later.index("Letter the back")


def test_a_laser_has_no_depth_and_no_z() -> None:
    order, run = (
        folder(cutter=CutterConfig(use="laser-fine")),
        outcome(tuple(replace(p, measures=()) for p in some_plaques())),
    )
    plan, _ = plan_shop(order, run.blank, run.plaques, cache=KEPT)
    text = text_of(write_sheet(run, order, plan)[0])
    assert "Focus on the face" in text and "Z zero" not in text and "Stick-out" not in text and "A pass" not in text
    assert "try the path with the beam off first" in text and "cutter raised" not in text


def test_open_points_come_first() -> None:
    order, run = folder(board=BoardConfig(size=(BoardSize(length=150.0, width=100.0),))), outcome()
    plan, found = plan_shop(order, run.blank, run.plaques, cache=KEPT)
    text = text_of(write_sheet(replace(run, findings=found), order, plan)[0])
    assert text.index("[board.no-room]") < text.index("Order of work")


def test_parts_are_listed_in_ranges() -> None:
    assert _format_runs(["1-1", "1-2", "1-3", "2-1", "2-2", "1w1"]) == "1-1 to 1-3, 1w1, 2-1, 2-2"
    assert _format_runs(["1-9", "1-10", "1-11"]) == "1-9 to 1-11" and _format_runs(["1"]) == "1"


def test_the_section_states_that_the_pocket_is_wider_than_shown(whole: Any) -> None:
    """The builders' pocket is 30 mm wide, more than half the picture: it is drawn narrower, and the sheet says so."""
    assert re.search(r"scale 1\.\d : 1; broken off .* the pocket is wider than shown", text_of(whole[0]))


def test_a_sharp_pocket_and_an_outline_deeper_than_the_letters(whole: Any) -> None:
    """The pocket's corners are sharp; letters are .9 deep, the guide line 1.0: each cut has its own depth."""
    text = text_of(whole[0])
    assert "no cutter clears a sharp corner" in text
    assert "vbit-60 lettering 0.9 mm 1 18000/min 900 mm/min 300 mm/min 3.9 mm" in text
    assert "vbit-60 outline 1 mm 1 18000/min 900 mm/min 300 mm/min 4 mm" in text


def test_the_shop_sheet_of_an_order_in_inches_is_in_inches() -> None:
    text = text_of(made(**WHOLE, units="in")[0])
    assert re.search(r"[\d.]+ ft at 35.4 in/min", text) and "mm/min" not in text and " mm²" not in text


def test_a_saw_card_for_stone_says_that_no_saw_for_wood_cuts_it() -> None:
    for material, said in (("slate", True), ("brass", False), ("walnut", False)):
        text = text_of(made(stock=StockConfig(material=material), board=WHOLE["board"])[0])
        assert ("Slate is not sawn on a saw for wood." in text) == said


def test_tick_boxes_are_in_the_order_of_work() -> None:
    """Resin in a pocket is poured before lettering, resin in the letters after it."""

    def boxes(**tables: Any) -> list[str]:
        order, run = folder(**tables), outcome()
        return list_boxes(plan_shop(order, run.blank, run.plaques, cache=KEPT)[0], order)

    assert boxes(**WHOLE) == ["poured", "engraved", "trimmed", "sanded", "checked", "packed"]
    assert boxes(pour=resin(fills="lettering")) == ["engraved", "poured", "sanded", "checked", "packed"]


def test_steps_without_a_time_are_listed_by_name(whole: Any) -> None:
    """They are covered by no row of the estimate and no rate, so the sum must not be read as the whole work."""
    told = f"{cautions.UNTIMED} face the stock, seal and dam, level the resin, saw the back off. {cautions.ADD_OWN}"
    assert told in text_of(whole[0])
    assert cautions.UNTIMED not in text_of(made()[0])
    assert f"{cautions.UNTIMED} mask" in text_of(made(pour=resin(fills="lettering"))[0])


def test_areas_are_rounded_to_their_accuracy() -> None:
    order = folder()
    shown = [_format_area(value, order) for value in (972.07, 91.93, 7.216, 0.41, 0.01)]
    assert shown == ["972 mm²", "91.9 mm²", "7.2 mm²", "0.4 mm²", "0.0 mm²"]
    inches = folder(units="in")
    assert [_format_area(v * 25.4**2, inches) for v in (1.50672, 0.1425, 12.3456)] == [
        "1.51 in²",
        "0.142 in²",
        "12.3 in²",
    ]
