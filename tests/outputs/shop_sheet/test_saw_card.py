"""The saw card: the guide for each side suits the material and the size of the piece."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from pipeline.core.config.order import CutterConfig, LimitsConfig
from pipeline.core.config.shop_tables import BoardConfig, BoardSize, StockConfig
from pipeline.core.errors import CannotRun
from pipeline.cutting.cutters import load_cutter_shelf
from pipeline.cutting.cutting_data import choose_outline_depth, choose_saw_allowance
from pipeline.cutting.materials import find_material
from pipeline.outputs.shop_sheet.cautions import describe_datum_edge
from pipeline.outputs.shop_sheet.saw_card import describe_guide, describe_pieces, explain_sawing
from pipeline.shopfloor.saw import SawCut, find_straight_sides
from pipeline.shopfloor.shop_plan import ShopPlan, plan_shop
from tests.builders import KEPT, folder, outcome, rectangle, slanted_blank


@pytest.mark.parametrize("name", ["brass", "aluminium", "acrylic", "plywood", "slate", "horn", ""])
def test_only_material_that_is_planed_is_jointed(name: str) -> None:
    """A jointer is for wood; metal or plastic in it causes accidents (common practice, no source)."""
    material = find_material(name)
    assert "oint" not in describe_datum_edge(material, 1200.0)
    assert "oint" not in explain_sawing(find_straight_sides(rectangle(0, 0, 60, 400), "none")[0], material)


def test_a_short_datum_side_is_not_jointed_and_a_long_end_goes_on_the_sled() -> None:
    """400 wide, 60 high, grain upright: the datum side is 60 long; on the mitre gauge, an end of 400 mm would pivot
    on its 60 mm and be thrown (common practice, no source, as is the 300 mm minimum for the jointer)."""
    wood = find_material("walnut")
    low = find_straight_sides(rectangle(0, 0, 400, 60), "upright")
    told = [explain_sawing(side, wood) for side in low]
    assert told[0] == "plane or sand it by hand to the line (too short to joint): the datum side"
    assert not any("gauge" in how or "joint it" in how for how in told)
    assert told[1:3] == [
        "sled, datum side against its fence, clamped: square it",
        "sled, datum side against its fence, clamped, squared end against the stop block",
    ]
    tall = find_straight_sides(rectangle(0, 0, 60, 400), "upright")
    assert [explain_sawing(side, wood) for side in tall] == [
        "joint it: the datum side",
        "rip along the fence, datum side against it",
        "square it on the mitre gauge, datum side against the gauge",
        "mitre gauge, squared end against the stop block",
    ]


@pytest.mark.parametrize(("length", "jointed"), [(299.0, False), (300.0, True)])
def test_a_board_or_a_side_is_jointed_from_300_mm(length: float, jointed: bool) -> None:
    wood = find_material("oak")
    side = find_straight_sides(rectangle(0, 0, 100, length), "upright")[0]
    assert ("joint it" in explain_sawing(side, wood)) == jointed
    assert describe_datum_edge(wood, length).startswith("Joint") == jointed


@pytest.mark.parametrize(("length", "fed"), [(299.0, False), (300.0, True)])
def test_nothing_short_is_fed_along_the_fence_by_hand(length: float, fed: bool) -> None:
    """A push stick for the last 300 mm of every cut (HSE WIS16): a shorter piece leaves nothing to hold. For a side
    of a piece and for a cut of a board."""
    side = find_straight_sides(rectangle(0, 0, 100, length), "upright")[1]
    assert side.kind == "rip" and ("fence, datum" in explain_sawing(side, find_material("oak"))) == fed
    assert ("sled" in explain_sawing(side, find_material("oak"))) != fed
    cut = SawCut(
        board=1, stage=1, kind="rip", setting=100.0, lean=0.0, part="1", off="1.1", rest="1'", waste=False,
        line=(0.0, 101.6, length, 101.6),
    )  # fmt: skip
    assert describe_guide(cut) == ("fence" if fed else "sled, stop block")
    on_a_long_board = replace(cut, board=2, line=(*cut.line[:2], cut.line[0] + 900.0, cut.line[1]))
    assert (on_a_long_board.key == cut.key) == fed  # one row of the card has one guide


def test_the_finishing_allowance_is_removed_down_to_the_line() -> None:
    """By hand, 150 × 180 with the right side leaning in by 10°, 0.4 left on every sawn side and none on the datum:
    the end at 180 + 2 × 0.4; the slanted side 0.4 further off perpendicular to it, at the squared end's own 0.4
    below the line."""
    lean = math.radians(10)
    plain, left = (find_straight_sides(slanted_blank().edge, "upright", by) for by in (0.0, 0.4))
    assert [s.kind for s in plain] == [s.kind for s in left] == ["datum", "square", "stop", "sled"]
    assert left[2].setting == pytest.approx(180.8) and plain[2].setting == pytest.approx(180.0)
    at_bottom = 150 + 0.4 / math.cos(lean) + 0.4 * math.tan(lean)
    assert left[3].setting == pytest.approx(at_bottom)
    assert left[3].far == pytest.approx(at_bottom - 180.8 * math.tan(lean))
    ripped = find_straight_sides(rectangle(0, 0, 100, 400), "upright", 0.4)
    assert [s.setting for s in ripped] == pytest.approx([0.0, 100.4, 0.0, 400.8])


@pytest.mark.parametrize(
    ("material", "trim", "value", "source"),
    [
        ("walnut", 1.5, 0.4, "saw marks sanded out"),
        ("walnut", 0.3, 0.3, "no more than [board] trim"),
        ("brass", 1.5, 0.0, "brass is not sanded"),
        ("", 1.5, 0.0, "nothing is known of the material"),
    ],
)
def test_the_finishing_allowance_depends_on_the_material(material: str, trim: float, value: float, source: str) -> None:
    board = BoardConfig(size=(BoardSize(length=1200.0, width=190.0),), trim=trim)
    order = folder(stock=StockConfig(material=material), board=board).order
    told = choose_saw_allowance(order)
    assert told.value == value and source in told.source
    entered = order.model_copy(update={"board": board.model_copy(update={"allowance": 0.25})})
    assert choose_saw_allowance(entered).value == 0.25


def test_a_finishing_allowance_larger_than_the_trim_is_a_fault() -> None:
    with pytest.raises(CannotRun, match=r"allowance: 2.00 mm, but trim leaves 1.50 mm beside a blank"):
        planned_with(BoardConfig(size=(BoardSize(length=1200.0, width=190.0),), allowance=2.0))


@pytest.mark.parametrize(
    ("material", "cutter", "limits", "thickness", "depth", "source"),
    [
        ("walnut", "vbit-60", {}, 19.0, 1.0, "deep enough to follow"),
        ("brass", "vbit-60", {}, 5.0, 0.2, "one pass of vbit-60"),
        ("walnut", "endmill-0-8", {}, 19.0, 0.4, "one pass of endmill-0-8"),
        ("oak", "endmill-3", {"deepest": 0.6}, 19.0, 0.6, "as deep as the lettering"),
        ("walnut", "vbit-60", {}, 3.5, 0.5, "what leaves the least floor"),
    ],
)
def test_the_outline_is_as_deep_as_cutter_and_material_allow(
    material: str, cutter: str, limits: dict[str, float], thickness: float, depth: float, source: str
) -> None:
    board = BoardConfig(size=(BoardSize(length=1200.0, width=190.0),))
    order = folder(
        stock=StockConfig(material=material),
        board=board,
        cutter=CutterConfig(use=cutter),
        limits=LimitsConfig(**limits),
    ).order
    told = choose_outline_depth(order, load_cutter_shelf()[cutter], thickness)
    assert told is not None and told.value == pytest.approx(depth) and source in told.source
    for own in (0.7, 0.0):
        entered = order.model_copy(update={"board": board.model_copy(update={"outline": own})})
        said = choose_outline_depth(entered, load_cutter_shelf()[cutter], thickness)
        assert (said.value if said else 0.0) == own


def planned_with(board: BoardConfig) -> ShopPlan:
    run = outcome()
    return plan_shop(folder(board=board), run.blank, run.plaques, cache=KEPT)[0]


def planned(signed: dict[int, int] | None = None, **tables: Any) -> ShopPlan:
    run = outcome()
    board = BoardConfig(size=(BoardSize(length=1200.0, width=190.0),))
    return plan_shop(folder(board=board, **tables), run.blank, run.plaques, signed, cache=KEPT)[0]


def test_material_without_grain_has_no_grain_anywhere() -> None:
    """Plywood and no [board] grain: any direction on the paper is any direction on the board, and the sides get
    their settings."""
    plywood, walnut = (planned(stock=StockConfig(material=name)).boards for name in ("plywood", "walnut"))
    assert plywood is not None and walnut is not None
    assert {side.kind for side in walnut.sides} == {"line"}
    assert plywood.sides[0].kind == "datum" and any(side.setting for side in plywood.sides)


def test_movement_is_given_only_where_the_grain_is_known() -> None:
    damp = StockConfig(material="walnut", moisture=12.0, moisture_in_use=8.0)
    assert planned(stock=damp).movement is None
    run, size = outcome(), (BoardSize(length=1200.0, width=190.0),)
    for grain, width in (("upright", run.blank.width), ("across", run.blank.height)):
        order = folder(stock=damp, board=BoardConfig(size=size, grain=grain))  # type: ignore[arg-type]
        plan, _ = plan_shop(order, run.blank, run.plaques, cache=KEPT)
        assert plan.movement == pytest.approx(-4 * 0.00274 * width)  # USDA Wood Handbook, table 13-5: black walnut


def test_unsigned_pieces_are_marked_as_such() -> None:
    boards = planned({5: 1, 7: 1}).boards
    assert boards is not None
    told = [describe_pieces(board) for board in boards.boards]
    assert told[0].startswith("5, 7 (1 of 2); not signed: 6, ")
    assert " ".join(told).count("not signed: ") == len(told)
    everything = planned(dict.fromkeys(range(5, 11), 2)).boards
    assert everything is not None and not any("signed" in describe_pieces(board) for board in everything.boards)
