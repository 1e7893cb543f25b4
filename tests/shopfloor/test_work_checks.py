"""Operations that don't suit the order's material; an unknown material is reported, and nothing is assumed about it."""

from __future__ import annotations

from typing import Any

import pytest

from pipeline.core.catalogue import format_message
from pipeline.core.config.order import CutterConfig, FinishConfig
from pipeline.core.config.shop_tables import BoardConfig, BoardSize, PourConfig, StockConfig, WorkConfig
from pipeline.core.model import Blank
from pipeline.cutting.cutters import choose_cutter
from pipeline.shopfloor.thickness import plan_thickness
from pipeline.shopfloor.work_checks import check_work
from tests.builders import folder, rectangle

PIECE = Blank(edge=rectangle(0, 0, 120, 60), width=120.0, height=60.0, thickness=19.0, zones=())
BOARD = BoardConfig(size=(BoardSize(length=600.0, width=190.0),))


def told(**tables: Any) -> list[tuple[str, str]]:
    order = folder(**tables).order
    found = check_work(order, PIECE, choose_cutter(order.cutter))
    return [(f.code, format_message(f, order.unit)) for f in found]


@pytest.mark.parametrize(
    ("tables", "word"),
    [
        ({"stock": StockConfig(material="brass", faced=1.5)}, "faced"),
        ({"stock": StockConfig(material="brass", rough=40.0)}, "planed"),
        ({"stock": StockConfig(material="slate", sawn_off=2.0)}, "resawn"),
        ({"stock": StockConfig(material="slate"), "finish": FinishConfig(sanded_off=0.1)}, "sanded"),
        ({"stock": StockConfig(material="glass"), "pour": PourConfig(fills="lettering")}, "poured with resin"),
        ({"stock": StockConfig(material="glass")}, "cut with a v-bit"),
        ({"stock": StockConfig(material="slate"), "board": BOARD}, "slate is not sawn"),
        ({"stock": StockConfig(material="limestone"), "board": BOARD}, "limestone is not sawn"),
        ({"stock": StockConfig(material="glass"), "board": BOARD}, "glass is not sawn"),
        ({"stock": StockConfig(material="walnut"), "cutter": CutterConfig(use="point")}, "cut with a point"),
    ],
)
def test_an_operation_unsuited_to_the_material_is_reported(tables, word):
    assert any(code == "stock.not-done" and word in text for code, text in told(**tables))


def test_an_operation_suited_to_the_material_is_not_reported():
    assert (
        told(stock=StockConfig(material="walnut", faced=1.5, sawn_off=2.0), finish=FinishConfig(sanded_off=0.1)) == []
    )
    assert told(stock=StockConfig(material="brass"), cutter=CutterConfig(use="point")) == []
    assert told(stock=StockConfig(material="walnut"), board=BOARD) == told(board=BOARD) == told() == []


def test_an_unknown_material_is_reported_and_nothing_is_assumed():
    assert [code for code, _ in told(stock=StockConfig(material="horn", faced=1.5))] == ["stock.material-unknown"]
    order = folder(stock=StockConfig(material="horn", rough=25.0)).order
    budget, _ = plan_thickness(order, 19.0, deepest=None, least_groove=0.1)
    assert budget.faced == 0.0 and [s.name for s in budget.steps] == ["rough stock", "back planed to thickness"]


def test_a_plate_is_neither_faced_nor_planed():
    order = folder(stock=StockConfig(material="brass", rough=1.5)).order
    budget, found = plan_thickness(order, 1.5, deepest=0.15, least_groove=0.1)
    assert [s.name for s in budget.steps] == ["as bought", "lettering cut"] and budget.finished == 1.5 and found == ()


def test_a_contradiction_of_the_steps_is_a_finding():
    found = told(pour=PourConfig(fills="lettering"), work=WorkConfig(steps=("pour", "letter")))
    assert ("work.steps-conflict", "pouring stands before lettering: there are no letters to fill yet") in found
