"""Packing list, labels, and the comparison of options."""

from __future__ import annotations

import json
from dataclasses import replace
from io import BytesIO
from typing import Any

import pdfplumber
import pytest

from pipeline.core.catalogue import list_kinds
from pipeline.core.config.order import ListConfig, ProofConfig
from pipeline.core.config.shop_tables import BoardConfig, BoardSize, LabelsConfig, RatesConfig
from pipeline.core.errors import CannotRun
from pipeline.core.findings import build_finding
from pipeline.core.model import Plaque
from pipeline.cutting.cutting_data import estimate_feed
from pipeline.cutting.materials import find_material
from pipeline.outputs.comparison import OrderOption, compute_option_figures, format_option_table, list_option_rows
from pipeline.outputs.delivery_papers import (
    NO_ADDRESS,
    Parcel,
    group_by_address,
    write_label_sheets,
    write_packing_list,
)
from pipeline.outputs.pdf.fonts import PT
from pipeline.shopfloor.shop_plan import plan_shop
from tests.builders import KEPT, folder, outcome, plaque, stopped_unset
from tests.outputs.papers import read_text
from tests.reference.shop_values import FEED


def parcels() -> list[Parcel]:
    """Return two plaques of one design, and one of two pieces of which one was released."""
    going = [p for p in outcome().plaques if p.state != "stopped"]
    twins = [p for p in going if p.text[0] == "Ada Kittiwake"]
    couple = next(p for p in going if p.recipient.copies == 2)
    return [Parcel(plaques=tuple(twins), pieces=2), Parcel(plaques=(couple,), pieces=1)]


def text_of(data: bytes) -> str:
    return read_text(data)


def test_the_packing_list_has_each_piece_once() -> None:
    data = write_packing_list(folder(), parcels())
    text = text_of(data)
    assert text.count("Ada Kittiwake") == 2 and "3 of 2 designs" in text and "Addresses" not in text
    for p in parcels():
        assert p.fingerprint in text
    assert "Featherstonehaugh" not in text  # not released
    assert write_packing_list(folder(), parcels()) == data


def test_pieces_are_packed_by_address_each_with_its_count_and_a_tick() -> None:
    def at(row: int, name: str, address: str, copies: int = 1) -> Plaque:
        made = plaque(row, name, copies=copies)
        values = (*made.recipient.values, ("address", address))
        return replace(made, recipient=replace(made.recipient, values=values))

    order = folder(list=ListConfig(file="recipients.xlsx", columns={"name": "Recipient", "address": "Where"}))
    twins = (at(5, "Ada", "Light House"), at(9, "Ada", "Bird Hide"))
    others = (at(6, "Bo", " Light  House ", copies=2), at(7, "Cy", ""))
    going = [Parcel(plaques=twins, pieces=2), *(Parcel(plaques=(p,), pieces=p.recipient.copies) for p in others)]
    held = {where: [p.place for p in own] for where, own in group_by_address(order, going).items()}
    assert held == {
        "Light House": [(5, 1, 1), (6, 1, 2), (6, 2, 2)],
        "Bird Hide": [(9, 1, 1)],  # same design as row 5, for another recipient
        "": [(7, 1, 1)],
    }
    text = text_of(write_packing_list(order, going))
    assert "Light House: 3 pieces" in text and "Bird Hide: 1 piece " in text and f"{NO_ADDRESS}: 1 piece" in text
    assert "2 of 2" in text and "Addresses" in text


def test_one_label_a_piece_where_the_sheet_says() -> None:
    """Twelve pieces on a sheet of 2 × 3: two sheets; each name is inside its own label."""
    part = LabelsConfig(columns=2, rows=3, width=80.0, height=40.0, left=10.0, top=12.0, across=90.0, down=45.0)
    many = [Parcel(plaques=(plaque(r, f"Recipient {chr(64 + r)}", copies=1),), pieces=1) for r in range(1, 11)]
    many.append(Parcel(plaques=(plaque(11, "Two Pieces", copies=2),), pieces=2))
    with pdfplumber.open(BytesIO(write_label_sheets(folder(labels=part), many))) as pdf:
        assert len(pdf.pages) == 2
        names = [w for w in pdf.pages[0].extract_words() if w["text"] == "Recipient"]
        assert len(names) == 6
        for k, word in enumerate(names):
            left = 10.0 + (k % 2) * 90.0
            top = 12.0 + (k // 2) * 45.0
            assert left < word["x0"] * PT and word["x1"] * PT < left + 80.0
            assert top < word["top"] * PT and word["bottom"] * PT < top + 40.0
        assert "piece 2 of 2" in pdf.pages[1].extract_text()


def test_there_are_as_many_labels_as_released_pieces() -> None:
    assert text_of(write_label_sheets(folder(), parcels())).count("Jory & Tamsin Pellow") == 1


@pytest.mark.parametrize(
    "part",
    [
        LabelsConfig(columns=4),
        LabelsConfig(rows=9),
        LabelsConfig(across=60.0),
        LabelsConfig(left=20.0),
    ],
)
def test_labels_that_do_not_fit_their_sheet_are_refused(part: LabelsConfig) -> None:
    with pytest.raises(CannotRun, match=r"\[labels\]"):
        write_label_sheets(folder(labels=part), parcels())


def test_the_usual_sheet_fits_exactly() -> None:
    """3 × 7 labels of 63.5 × 38.1 on A4: left and right margins are equal, and so are top and bottom ones."""
    part = LabelsConfig()
    assert 2 * part.left + 2 * part.across + part.width == pytest.approx(210.0)
    assert 2 * part.top + 6 * part.down + part.height == pytest.approx(297.0)
    assert write_label_sheets(folder(labels=part, proof=ProofConfig()), [])


# --- compare ------------------------------------------------------------------------------------------------------


def option(name: str, **tables: Any) -> OrderOption:
    order, run = folder(**tables), outcome()
    plan, said = plan_shop(order, run.blank, run.plaques, cache=KEPT)
    return OrderOption(name=name, folder=order, outcome=run, plan=plan, findings=tuple(f.code for f in said))


def test_two_options_are_compared_figure_by_figure() -> None:
    sizes = (BoardSize(length=1200.0, width=190.0),)
    rates = RatesConfig(hour=60.0, stock_price=100.0, currency="EUR")
    plain = option("plain", rates=rates)
    sawn = option("sawn", board=BoardConfig(size=sizes), rates=rates)
    a, b = compute_option_figures(plain), compute_option_figures(sawn)
    assert a["boards"] is None and b["boards"] == 2
    # by hand: manual work costs 1 a minute; a board is 1.2 × 0.19 m² at 100
    assert a["cost"] == pytest.approx(a["hand_minutes"], abs=0.06)
    assert b["cost"] == pytest.approx(b["hand_minutes"] + 2 * 0.228 * 100, abs=0.06)
    assert a["too_long"] and a["pieces"] == b["pieces"] == 7
    rows = dict(list_option_rows([plain, sawn]))
    assert rows["boards"][0] == "" and rows["boards"][1].startswith("2 (")
    assert "resin" not in rows  # neither has resin
    json.dumps([a, b])


def test_held_up_plaques_are_listed_with_reasons() -> None:
    """By reason with counts and names; what applies to all options alike is stated once, anything else by option."""
    plain, fewer = option("plain"), option("fewer")
    kept = tuple(p for p in fewer.outcome.plaques if p.recipient.row != 12)
    odd = stopped_unset(
        13, "#REF!", build_finding(list_kinds.CELL_ERROR, row=13, cell="B13", facts={"text": "#REF!", "shown": "#REF!"})
    )
    fewer = replace(fewer, outcome=replace(fewer.outcome, plaques=(*kept, odd)))
    rows = dict(list_option_rows([plain, fewer]))
    assert rows["cannot be cut"] == ["2", "2"]
    assert rows["  name does not fit"] == ["2", "1"] and rows["  list.cell-error"] == ["0", "1"]
    assert compute_option_figures(fewer)["stopped_for"]["list.cell-error"] == ["row 13 (#REF!)"]
    told = format_option_table([plain, fewer])
    assert "  name does not fit in plain (2): Professor Emerita Wilhelmina Featherstonehaugh-… ·" in told
    assert "  list.cell-error in fewer (1): row 13 (#REF!)" in told
    assert "  name does not fit (2): " in format_option_table([plain, plain])
    assert max(map(len, told.splitlines())) <= 100


def test_an_option_that_cannot_be_made_is_reported_with_its_reason() -> None:
    small = option("small", board=BoardConfig(size=(BoardSize(length=150.0, width=100.0),)))
    assert dict(list_option_rows([small, small]))["to put right first"] == ["board.no-room"] * 2


def test_the_feed_formula() -> None:
    rpm, flutes, chip, feed = FEED
    rates = RatesConfig(rpm=rpm, flutes=flutes, fastest=10_000.0)
    low, _ = find_material("hardwood").chip_load or (0.0, 0.0)
    wide = chip / low  # of a mill with this smallest chip
    assert estimate_feed(rates, wide, wide / 3) == pytest.approx(feed)
    assert estimate_feed(rates, wide, wide * 2) == pytest.approx(feed * 0.75)
    assert estimate_feed(rates, wide, wide * 3) == pytest.approx(feed * 0.5)
    assert estimate_feed(RatesConfig(fastest=3000.0), 6.0, 2.0) == 3000.0
    # low end for hardwood: 1/8 in .002 in, 1/4 in .005 in (common practice, no source); ours is between
    assert pytest.approx(0.002 * 25.4, rel=0.01) == low * 3.175 and low * 6.35 < 0.005 * 25.4
