"""Every value on the shop sheet states its source: by a mark after it, in its row, or in its own sentence."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

import pytest

from pipeline.core.config.order import CutterConfig, FilesConfig, FinishConfig, LimitsConfig
from pipeline.core.config.shop_tables import (
    BoardConfig,
    BoardSize,
    ClearingConfig,
    EndMillConfig,
    JigConfig,
    PocketConfig,
    SpareConfig,
    StockConfig,
)
from pipeline.core.stated_values import MARKS, StatedValue, get_mark, replace_stated, say_computed, state
from pipeline.outputs.shop_sheet.shop_page import ShopPages, TableColumn
from pipeline.outputs.shop_sheet.shop_sheet import write_sheet
from pipeline.shopfloor.shop_plan import plan_shop
from tests.builders import KEPT, folder, outcome, some_plaques
from tests.outputs.shop_sheet.test_pour_card import ENTERED
from tests.shopfloor.shop_shapes import resin

BOARD = BoardConfig(size=(BoardSize(length=1200.0, width=190.0, name="long"),), grain="upright")
ORDERS: dict[str, dict[str, Any]] = {
    "walnut with resin": {
        "stock": StockConfig(material="walnut", rough=25.0, sawn_off=6.0, moisture=12.0, moisture_in_use=8.0),
        "pocket": PocketConfig(depth=14.0, fine=EndMillConfig(use="endmill-3")),
        "pour": resin(**ENTERED),
        "board": BOARD,
        "finish": FinishConfig(sanded_off=0.1, compensate=True),
        "spare": SpareConfig(blanks=2, test_piece=True),
    },
    "brass in a jig": {
        "stock": StockConfig(material="brass"),
        "jig": JigConfig(columns=3, across=160.0, turn=90, bed=(600.0, 400.0), first=(5.0, 5.0)),
        "cutter": CutterConfig(use="endmill-1-5"),
        "limits": LimitsConfig(deepest=0.4),
    },
    "slate in inches": {"units": "in", "stock": StockConfig(material="slate"), "board": BOARD},
    "acrylic by laser": {
        "stock": StockConfig(material="acrylic"),
        "cutter": CutterConfig(use="laser-fine"),
        "board": BOARD.model_copy(update={"grain": None}),
    },
    "steep grooves, cleared": {
        "stock": StockConfig(material="oak", rough=24.0),
        "cutter": CutterConfig(use="vbit-60", depth_per_pass=0.2),
        "limits": LimitsConfig(deepest=0.5),
        "clearing": ClearingConfig(use="endmill-0-8"),
        "files": FilesConfig(grooves=True),
        "pour": resin(fills="lettering", levelled_off=0.3),
    },
}
NUMBER = r"(?<![\w.\-–/])\d+(?:[.,]\d+)*"
STANDARD = r"\b(?:ISO|OSHA|EN|CFR) \d+"
MEASURED = NUMBER + r" ?(?:mm|in|min|h|ml|g|%|°|s)\b"
PAPER = re.compile(r"OSHA|HSE|EH40|NIOSH|CPWR|\[[a-z]+\.[a-z-]+\]")
TELLING = ("order.toml", "shop.toml", "common practice", "computed", "[")


def unstated(text: str) -> list[str]:
    """Return the numbers of a text without a source."""
    return re.findall(NUMBER, re.sub(STANDARD, "", replace_stated(text, lambda _: "")))


def walk(monkeypatch: pytest.MonkeyPatch, tables: dict[str, Any]) -> tuple[list[str], list[str]]:
    """Return every text of a shop sheet with a number without a source, and every source."""
    faults, origins = list[str](), list[str]()

    def seen(text: str) -> None:
        faults.extend(f"{number} in: {text}" for number in unstated(text))
        replace_stated(text, lambda value: origins.append(value.origin) or "")

    cautions = ShopPages.add_cautions
    facts, table, paragraph, note = (
        ShopPages.add_facts,
        ShopPages.add_table,
        ShopPages.add_paragraph,
        ShopPages.add_note,
    )

    def of_facts(self: ShopPages, pairs: Sequence[tuple[str, str]], columns: int = 2) -> None:
        for pair in pairs:
            for text in pair:
                seen(text)
        facts(self, pairs, columns)

    def of_table(self: ShopPages, columns: Sequence[TableColumn], rows: Sequence[Sequence[str]]) -> None:
        tells = [k for k, column in enumerate(columns) if column.tells]
        for row in rows:
            faults.extend(f"no origin in the row of {row[0]}" for k in tells if not row[k].strip())
            for column, text in zip(columns, row, strict=True):
                if not column.names and not tells:
                    seen(text)
        table(self, columns, rows)

    def of_paragraph(self: ShopPages, text: str, *style: Any) -> None:
        seen(text)
        paragraph(self, text, *style)

    def of_note(self: ShopPages, text: str, *style: Any) -> None:
        if re.search(MEASURED, text) and not any(word in text for word in TELLING):
            faults.append(f"a note without a source: {text}")
        note(self, text, *style)

    def of_cautions(self: ShopPages, texts: Sequence[str]) -> None:
        faults.extend(
            f"a caution without a source: {t}" for t in texts if re.search(MEASURED, t) and not PAPER.search(t)
        )
        cautions(self, texts)

    monkeypatch.setattr(ShopPages, "add_cautions", of_cautions)
    for name, method in (
        ("add_facts", of_facts),
        ("add_table", of_table),
        ("add_paragraph", of_paragraph),
        ("add_note", of_note),
    ):
        monkeypatch.setattr(ShopPages, name, method)
    order, run = folder(**tables), outcome(some_plaques()[:2])
    plan, _ = plan_shop(order, run.blank, run.plaques, cache=KEPT)
    write_sheet(run, order, plan)
    return faults, origins


@pytest.mark.parametrize("kind", ORDERS)
def test_every_value_of_the_shop_sheet_has_its_source(kind: str, monkeypatch: pytest.MonkeyPatch) -> None:
    faults, origins = walk(monkeypatch, ORDERS[kind])
    assert not faults, "\n".join(faults)
    assert origins
    for origin in origins:
        assert any(
            word in origin for word in (*TELLING, "counted", "measured on", "see ", "below", "nothing says", "Handbook")
        ), origin


def test_the_check_finds_a_value_that_lost_its_source(monkeypatch: pytest.MonkeyPatch) -> None:
    """The check itself: one caption, one cell and one sentence of a sheet without marks are found."""
    monkeypatch.setattr("pipeline.outputs.shop_sheet.saw_card.state", lambda text, origin: str(text))
    faults, _ = walk(monkeypatch, ORDERS["slate in inches"])
    assert any("each side" in fault for fault in faults) and any(fault.endswith(" in") for fault in faults)


def test_a_value_without_a_source_cannot_be_stated() -> None:
    with pytest.raises(ValueError, match="without an origin"):
        StatedValue("3 mm", " ")
    assert state("", "order.toml") == ""
    told = f"Take {state('3 mm', 'order.toml')} off, {state(2, say_computed('two others'))} times"
    assert replace_stated(told, lambda value: f"{value.text} ({value.origin})") == (
        "Take 3 mm (order.toml) off, 2 (computed from two others) times"
    )
    assert unstated(told) == [] and unstated("Take 3 mm off") == ["3"]


def test_marks_continue_after_the_last_letter() -> None:
    assert [get_mark(0), get_mark(len(MARKS)), get_mark(2 * len(MARKS) + 1)] == ["ᵃ", "ᵃᵃ", "ᵇᵇᵇ"]
