"""The whole shop floor of an order, and of the sample orders."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
import shapely

from pipeline.core.catalogue import KINDS, format_message, format_remedy
from pipeline.core.config.order import BlankConfig, CutterConfig
from pipeline.core.config.shop_tables import (
    BoardConfig,
    BoardSize,
    EndMillConfig,
    PocketConfig,
    PourConfig,
    RatesConfig,
    StockConfig,
)
from pipeline.core.errors import CannotRun
from pipeline.geometry.regions import build_chain_polygon
from pipeline.intake.drawing.blank_drawing import read_blank
from pipeline.intake.order.order_file import read_order
from pipeline.shopfloor.board_layout import PieceToPlace, get_grain, plan_boards
from pipeline.shopfloor.pocket import plan_pocket
from pipeline.shopfloor.shop_plan import check_order, plan_shop, resolve_end_mill
from tests.builders import KEPT, disc_blank, folder, lettered_behind, outcome
from tests.shopfloor.sawing import simulate_sawing
from tests.shopfloor.shop_shapes import resin
from tests.shopfloor.test_pocket import Raster

SAMPLES = Path(__file__).resolve().parents[2] / "sample_orders"


def planned(**tables: Any) -> Any:
    run = outcome()
    return plan_shop(folder(**tables), run.blank, run.plaques, cache=KEPT)


def test_pieces_are_counted_and_stopped_plaques_are_not() -> None:
    plan, findings = planned()
    assert plan.pieces == 7 and findings == ()  # five rows of one and one of two
    assert plan.thickness is None and plan.pocket is None and plan.pour is None and plan.boards is None


def test_the_estimate_adds_up_and_names_its_assumptions() -> None:
    plan, _ = planned(rates=RatesConfig(hour=60.0, machine_hour=30.0), stock=StockConfig())
    told = plan.estimate
    assert told.minutes == pytest.approx(sum(i.minutes for i in told.items))
    assert told.cost == pytest.approx(told.hand + told.machine / 2)
    assert all(re.search(r"\d", i.how) for i in told.items)
    assert planned()[0].estimate.cost is None


@pytest.mark.parametrize(
    ("tables", "words"),
    [
        ({"pocket": PocketConfig(depth=5.0, rough=EndMillConfig(use="endmil-6"))}, "no end mill “endmil-6”"),
        ({"pocket": PocketConfig(depth=5.0, rough=EndMillConfig(use="vbit-60"))}, "no end mill “vbit-60”"),
        ({"pocket": PocketConfig(depth=5.0, rough=EndMillConfig(reach=5.0))}, "names no cutter"),
        (
            {
                "pocket": PocketConfig(
                    depth=5.0, rough=EndMillConfig(use="endmill-3"), fine=EndMillConfig(use="endmill-6")
                )
            },
            "wider than endmill-3",
        ),
        ({"pour": PourConfig()}, r"no \[pocket\] to pour into"),
    ],
)
def test_an_order_that_cannot_be_planned_names_the_key(tables: dict[str, Any], words: str) -> None:
    with pytest.raises(CannotRun, match=words):
        check_order(folder(**tables), outcome().blank)
    with pytest.raises(CannotRun, match=words):
        planned(**tables)


def test_a_pocket_table_needs_a_pocket() -> None:
    with pytest.raises(CannotRun, match="the blank has no pocket"):
        check_order(folder(pocket=PocketConfig(depth=2.0)), disc_blank())


def test_a_cutter_of_ones_own() -> None:
    made = resolve_end_mill(EndMillConfig(diameter=8.0, reach=30.0), "[pocket] rough")
    assert (made.kind, made.diameter, made.reach) == ("end-mill", 8.0, 30.0)
    assert resolve_end_mill(EndMillConfig(use="endmill-6", reach=12.0), "").reach == 12.0


def test_a_lack_of_room_is_reported_with_a_remedy() -> None:
    small = BoardConfig(size=(BoardSize(length=200.0, width=100.0),))
    plan, findings = planned(board=small)
    assert [f.code for f in findings] == ["board.no-room"] and plan.boards is None
    assert "fits none of the boards" in format_remedy(findings[0])
    few = BoardConfig(size=(BoardSize(length=700.0, width=190.0, count=1),))
    plan, findings = planned(board=few)
    assert "room for 3 of 7" in format_message(findings[0]) and "more boards" in format_remedy(findings[0])
    enough = BoardConfig(size=(BoardSize(length=700.0, width=190.0, count=3),))
    assert planned(board=enough)[1] == ()


def test_every_kind_of_the_shop_floor_can_be_worded() -> None:
    shop = [k for c, k in KINDS.items() if c.split(".")[0] in ("pocket", "stock", "pour", "board")]
    assert len(shop) >= 16
    for kind in shop:
        assert kind.why and (kind.remedy or kind.ways) and kind.source


def test_brass_with_a_point_needs_no_boards_and_no_resin() -> None:
    plan, findings = planned(cutter=CutterConfig(use="point"), blank=BlankConfig(drawing="plate.dxf", thickness=1.5))
    assert findings == () and plan.thickness is None
    assert {i.name for i in plan.estimate.items} == {
        "first set-up",
        "fixing and zeroing",
        "changing cutters",
        "lettering",
        "checking and packing",
    }


def fixing(plaques: Any = None, **tables: Any) -> dict[str, tuple[float, str]]:
    run = outcome(plaques) if plaques else outcome()
    plan, _ = plan_shop(folder(**tables), run.blank, run.plaques, cache=KEPT)
    return {i.name: (i.minutes, i.how) for i in plan.estimate.items}


def test_a_poured_piece_is_on_the_machine_twice() -> None:
    """Seven pieces on two boards of six places. Two mills, the pour, then the lettering: fixed four times at 8 min;
    two mills for each board, then the V-bit once for all, at 3 min. Resin in the letters comes after all cutting."""
    board = BoardConfig(size=(BoardSize(length=1200.0, width=190.0),), grain="upright")
    pocket = PocketConfig(depth=5.0, rough=EndMillConfig(use="endmill-6"), fine=EndMillConfig(use="endmill-3"))
    told = fixing(board=board, pocket=pocket, pour=resin())
    assert told["fixing and zeroing"] == (4 * 8.0, "4 × 8 min a board, 2 times on the machine")
    assert told["changing cutters"] == (5 * 3.0, "5 × 3 min")
    told = fixing(board=board, pocket=pocket, pour=resin(fills="both"))
    assert told["fixing and zeroing"] == (2 * 8.0, "2 × 8 min a board")
    assert told["changing cutters"] == (6 * 3.0, "6 × 3 min")  # V-bit and two mills for each board


def test_a_lettered_back_is_fixed_again() -> None:
    """Four blanks, each fixed once per side; when the board has been sawn apart before that, piece by piece."""
    assert fixing(lettered_behind())["fixing and zeroing"][0] == 8 * 8.0
    board = BoardConfig(size=(BoardSize(length=1200.0, width=190.0),), grain="upright")
    assert fixing(lettered_behind(), board=board)["fixing and zeroing"][0] == 2 * 8.0
    resawn = fixing(lettered_behind(), board=board, stock=StockConfig(material="walnut", rough=25.0, sawn_off=3.0))
    assert resawn["fixing and zeroing"][1] == "1 × 8 min a board, 4 × 8 min a piece, 2 times on the machine"
    assert resawn["changing cutters"][0] == 3.0


def test_a_laser_beam_needs_no_change_of_cutter() -> None:
    assert "changing cutters" not in fixing(cutter=CutterConfig(use="laser-fine"))


# --- the sample order ---------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def seabird() -> Any:
    order = read_order(SAMPLES / "seabird-trust")
    return order, read_blank(order)[0]


def test_the_feather_pocket_matches_a_count_of_pixels(seabird: Any) -> None:
    """Roughed, rest and unreachable area of the sample's pocket, counted without our geometry, within 1 % (for areas
    close to zero: within 0.1 % of the pocket)."""
    order, blank = seabird
    part = order.order.pocket
    rough, fine = resolve_end_mill(part.rough, ""), resolve_end_mill(part.fine, "")
    plan, findings = plan_pocket(blank, part, rough, fine)
    assert findings == ()
    raster = Raster(plan.drawn.rings[0])
    open_rough, last = raster.opened(rough.diameter / 2), raster.opened(fine.diameter / 2)
    whole = raster.area(raster.image)
    assert plan.drawn.area == pytest.approx(whole, rel=1e-2)
    assert plan.rough.area == pytest.approx(raster.area(open_rough), rel=1e-2)
    single = raster.area(raster.image & ~last)  # single pixels along the wall, in every cutter's region
    rest = raster.area(last & ~open_rough)
    assert plan.rest.area == pytest.approx(rest, rel=1e-2, abs=single)
    assert plan.unreachable.area == pytest.approx(0.0, abs=1e-3 * whole) and single < 5e-3 * whole


def test_its_forty_eight_blanks_are_sawn_free(seabird: Any) -> None:
    """All boards, all cuts in the order of the list: every blank ends up whole in its own piece."""
    order, blank = seabird
    pieces = [PieceToPlace(row=r, copy=1, copies=1, name="", fingerprint="", signed=False) for r in range(48)]
    boards, findings = plan_boards(blank, order.order.board, pieces, get_grain(order.order))
    assert findings == () and len(boards.boards) == 8 and boards.placed == 48
    stock = {str(b.number): shapely.box(0, 0, b.layout.sheet.length, b.layout.sheet.width) for b in boards.boards}
    parts = simulate_sawing(stock, boards.cuts, boards.saw.kerf)
    homes = set()
    for board in boards.boards:
        for place in board.places:
            turn, dx, dy = place.compute_placing(blank.edge)
            one = build_chain_polygon(blank.edge.transform(turn=turn, dx=dx, dy=dy), 0.01)
            own = [
                n
                for n, p in parts.items()
                if n.split(".")[0].rstrip("'") == str(board.number) and p.intersects(one.buffer(-0.01))
            ]
            assert len(own) == 1 and parts[own[0]].buffer(1e-6).covers(one)
            homes.add(own[0])
    assert len(homes) == 48
    assert len(boards.groups) == 3  # fence settings for the whole order
