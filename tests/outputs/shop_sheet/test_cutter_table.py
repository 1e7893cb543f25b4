"""The table of cutters: in order of use, each pass with the source of its depth."""

from __future__ import annotations

from typing import Any

from pipeline.core.config.order import CutterConfig, LimitsConfig
from pipeline.core.config.shop_tables import BoardConfig, BoardSize, EndMillConfig, PocketConfig, StockConfig
from pipeline.outputs.shop_sheet.cutter_table import CutterUse, list_cutter_uses
from pipeline.shopfloor.shop_plan import ShopPlan, plan_shop
from tests.builders import KEPT, folder, outcome
from tests.shopfloor.shop_shapes import resin

BOARD = BoardConfig(size=(BoardSize(length=1200.0, width=190.0),))
POCKET = PocketConfig(depth=6.0, rough=EndMillConfig(use="endmill-3"))


def uses(**tables: Any) -> tuple[list[CutterUse], ShopPlan]:
    order, run = folder(**tables), outcome()
    plan, _ = plan_shop(order, run.blank, run.plaques, cache=KEPT)
    return list(list_cutter_uses(order.order, plan)), plan


def test_a_pocket_filled_with_resin_is_milled_before_the_face_is_lettered() -> None:
    assert [u.role for u in uses(pocket=POCKET)[0]] == ["lettering", "pocket, rough"]
    assert [u.role for u in uses(pocket=POCKET, pour=resin())[0]] == ["pocket, rough", "lettering"]


def test_the_passes_shown_are_those_planned_with_their_own_source() -> None:
    """The same mill letters and clears the pocket: its own depth per pass applies to both; [pocket] comes first."""
    mill = {"cutter": CutterConfig(use="endmill-3", depth_per_pass=0.5), "limits": LimitsConfig(deepest=1.0)}
    own = PocketConfig(depth=6.0, rough=EndMillConfig(use="endmill-3"), depth_per_pass=2.0)
    cases: list[tuple[dict[str, Any], int, str]] = [
        ({**mill, "pocket": POCKET}, 12, "[cutter] depth_per_pass in order.toml"),
        ({**mill, "pocket": own}, 3, "order.toml"),
        ({"pocket": POCKET}, 4, "half the cutter's diameter: common practice, no source"),
        ({"pocket": POCKET, "stock": StockConfig(material="slate")}, 8, "common practice, no source"),
    ]
    for tables, count, source in cases:
        found, plan = uses(**tables)
        told = next(u for u in found if u.role == "pocket, rough")
        assert plan.pocket is not None and told.passes is not None
        assert (told.passes.count, told.passes.source) == (count, source)
        assert (plan.pocket.tools[0].passes, plan.pocket.tools[0].step) == (count, told.passes.step)


def test_letters_without_a_stated_depth_never_use_that_of_the_outline() -> None:
    """Letters and the guide line for the saw are two cuts: each has its own depth, or is reported as having none."""
    for limits in (LimitsConfig(), LimitsConfig(deepest=0.95)):
        told, plan = uses(cutter=CutterConfig(use="endmill-1-5"), board=BOARD, limits=limits)
        assert plan.boards is not None and plan.boards.outline is not None
        assert [(u.role, u.depth) for u in told] == [
            ("lettering", plan.deepest),
            ("outline", plan.boards.outline.value),
        ]


def test_the_stick_out_of_a_mill_suits_the_deeper_of_drawn_lines_and_letters() -> None:
    for deepest, depth in ((2.0, 2.0), (0.5, 0.9)):
        (use,), _ = uses(cutter=CutterConfig(use="endmill-1-5"), limits=LimitsConfig(deepest=deepest))
        assert use.depth == depth
