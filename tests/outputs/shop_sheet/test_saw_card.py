"""The saw card: what guides each side suits the material and the size of the piece."""

from __future__ import annotations

from typing import Any

import pytest

from pipeline.core.shop_tables import BoardConfig, BoardSize, StockConfig
from pipeline.cutting.materials import find_material
from pipeline.outputs.shop_sheet.cautions import datum_edge
from pipeline.outputs.shop_sheet.saw_card import how_sawn, pieces_on
from pipeline.shopfloor.saw import straight_sides
from pipeline.shopfloor.shop_plan import ShopPlan, plan_shop
from tests.builders import KEPT, folder, outcome, rectangle


@pytest.mark.parametrize("name", ["brass", "aluminium", "acrylic", "plywood", "slate", "horn", ""])
def test_only_what_is_planed_is_jointed(name: str) -> None:
    """A jointer is for wood; metal or plastic in it is an accident (common practice, no source)."""
    material = find_material(name)
    assert "oint" not in datum_edge(material, 1200.0)
    assert "oint" not in how_sawn(straight_sides(rectangle(0, 0, 60, 400), "none")[0], material)


def test_a_short_datum_side_is_not_jointed_and_a_long_end_goes_on_the_sled() -> None:
    """400 wide, 60 high, grain upright: the datum side is 60 long; on the mitre gauge an end of 400 mm would turn round
    its 60 mm and be thrown (common practice, no source, as is a least length of 300 mm for the jointer)."""
    wood = find_material("walnut")
    low = straight_sides(rectangle(0, 0, 400, 60), "upright")
    told = [how_sawn(side, wood) for side in low]
    assert told[0] == "plane or sand it by hand to the line (too short to joint): the datum side"
    assert not any("gauge" in how or "joint it" in how for how in told)
    assert told[1:3] == [
        "sled, datum side against its fence, clamped: square it",
        "sled, datum side against its fence, clamped, squared end against the stop block",
    ]
    tall = straight_sides(rectangle(0, 0, 60, 400), "upright")
    assert [how_sawn(side, wood) for side in tall] == [
        "joint it: the datum side",
        "rip along the fence, datum side against it",
        "square it on the mitre gauge, datum side against the gauge",
        "mitre gauge, squared end against the stop block",
    ]


@pytest.mark.parametrize(("length", "jointed"), [(299.0, False), (300.0, True)])
def test_a_board_or_a_side_is_jointed_from_300_mm(length: float, jointed: bool) -> None:
    wood = find_material("oak")
    side = straight_sides(rectangle(0, 0, 100, length), "upright")[0]
    assert ("joint it" in how_sawn(side, wood)) == jointed
    assert datum_edge(wood, length).startswith("Joint") == jointed


def planned(signed: dict[int, int] | None = None, **tables: Any) -> ShopPlan:
    run = outcome()
    board = BoardConfig(size=(BoardSize(length=1200.0, width=190.0),))
    return plan_shop(folder(board=board, **tables), run.blank, run.plaques, signed, cache=KEPT)[0]


def test_material_without_grain_has_no_grain_anywhere() -> None:
    """Plywood and no [board] grain: any way on the paper is any way on the board, and the sides get their settings."""
    plywood, walnut = (planned(stock=StockConfig(material=name)).boards for name in ("plywood", "walnut"))
    assert plywood is not None and walnut is not None
    assert {side.kind for side in walnut.sides} == {"line"}
    assert plywood.sides[0].kind == "datum" and any(side.setting for side in plywood.sides)


def test_movement_is_told_only_where_the_grain_is() -> None:
    damp = StockConfig(material="walnut", moisture=12.0, moisture_in_use=8.0)
    assert planned(stock=damp).movement is None
    run, size = outcome(), (BoardSize(length=1200.0, width=190.0),)
    for grain, width in (("upright", run.blank.width), ("across", run.blank.height)):
        order = folder(stock=damp, board=BoardConfig(size=size, grain=grain))  # type: ignore[arg-type]
        plan, _ = plan_shop(order, run.blank, run.plaques, cache=KEPT)
        assert plan.movement == pytest.approx(-4 * 0.00274 * width)  # USDA Wood Handbook, table 13-5: black walnut


def test_pieces_that_are_not_signed_say_so() -> None:
    boards = planned({5: 1, 7: 1}).boards
    assert boards is not None
    told = [pieces_on(board) for board in boards.boards]
    assert told[0].startswith("5, 7 (1 of 2); not signed: 6, ")
    assert " ".join(told).count("not signed: ") == len(told)
    everything = planned(dict.fromkeys(range(5, 11), 2)).boards
    assert everything is not None and not any("signed" in pieces_on(board) for board in everything.boards)
