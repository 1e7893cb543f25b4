"""The thickness budget and the pour, compared with worked examples and published tables."""

from __future__ import annotations

import math
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.core.catalogue import format_message
from pipeline.core.config.shop_tables import PocketConfig, PourConfig, StockConfig
from pipeline.core.model import Blank
from pipeline.shopfloor.pocket import plan_pocket
from pipeline.shopfloor.pour import MORE, Measured, measure_out, plan_dam, plan_pour
from pipeline.shopfloor.thickness import estimate_width_change, plan_thickness
from tests.builders import folder, rectangle
from tests.reference.shop_values import GALLON, MAPLE, MAPLE_TANGENTIAL, POUR, RESIN_RATIOS, WEIGHED
from tests.shopfloor.shop_shapes import holding, mill, resin, rounded


def order(**tables: Any) -> Any:
    return folder(**tables).order


# --- thickness ----------------------------------------------------------------------------------------------------


def budget(cut_at: float = 19.0, deepest: float | None = 1.2, **tables: Any) -> Any:
    return plan_thickness(order(**tables), cut_at, deepest=deepest, least_groove=0.1)


FEATHER: dict[str, Any] = {
    "stock": StockConfig(material="walnut", rough=25.0, sawn_off=6.0),
    "pocket": PocketConfig(depth=14.0),
    "pour": PourConfig(data_sheet="sheet"),
}


def test_from_rough_board_to_finished_piece() -> None:
    """By hand: 25 − 1.5 faced − 4.5 planed = 19; skin 19 − 14 = 5; 19 − 6 sawn − 0.4 sanded = 12.6; removing 6.4
    from the back goes through the skin of 5, so that of 14 mm of resin 19 − 6.4 = 12.6 stay."""
    plan, findings = budget(**FEATHER)
    assert [(s.name, round(s.left, 3)) for s in plan.steps] == [
        ("rough stock", 25.0),
        ("face made flat", 23.5),
        ("back planed to thickness", 19.0),
        ("pocket milled", 19.0),
        ("resin poured, cured", 19.0),
        ("resin levelled", 19.0),
        ("lettering cut", 19.0),
        ("back sawn off", 13.0),
        ("back sanded", 12.6),
    ]
    assert (plan.skin, plan.finished, plan.resin) == pytest.approx((5.0, 12.6, 12.6))
    assert plan.shows_through and findings == ()
    assert math.fsum(s.off for s in plan.steps) == pytest.approx(25.0 - plan.finished)
    assert all(s.source for s in plan.steps)


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"stock": StockConfig(material="walnut", rough=21.9, sawn_off=6.0)}, "stock.too-thin"),
        ({"pocket": PocketConfig(depth=16.1)}, "stock.skin-thin"),
        ({"pocket": PocketConfig(depth=19.0)}, "stock.too-thin"),
        ({"stock": StockConfig(rough=25.0, sawn_off=4.5)}, "stock.resin-hidden"),
        ({"stock": StockConfig(rough=25.0, sawn_off=6.0, finished=13.2)}, "stock.finished-differs"),
    ],
)
def test_each_limit_of_the_budget(change: dict[str, Any], code: str) -> None:
    _, findings = budget(**{**FEATHER, **change})
    assert [f.code for f in findings] == [code]
    assert "{" not in format_message(findings[0])


@pytest.mark.parametrize(
    "change",
    [
        {"stock": StockConfig(material="walnut", rough=22.0, sawn_off=6.0)},
        {"pocket": PocketConfig(depth=16.0)},
        {"stock": StockConfig(rough=25.0, sawn_off=4.6)},
        {"stock": StockConfig(rough=25.0, sawn_off=6.0, finished=13.1)},
    ],
)
def test_just_inside_each_limit(change: dict[str, Any]) -> None:
    assert budget(**{**FEATHER, **change})[1] == ()


def test_lettering_must_outlast_the_sanding() -> None:
    from pipeline.core.config.order import FinishConfig

    _, lost = budget(deepest=0.3, finish=FinishConfig(sanded_off=0.21), **FEATHER)
    assert [f.code for f in lost] == ["stock.engraving-lost"]
    assert budget(deepest=0.3, finish=FinishConfig(sanded_off=0.2), **FEATHER)[1] == ()


@pytest.mark.parametrize(("width", "before", "after", "change"), MAPLE)
def test_movement_of_maple(width: float, before: float, after: float, change: float) -> None:
    assert estimate_width_change(width, MAPLE_TANGENTIAL, before, after) == pytest.approx(change, abs=5e-4)


PIECE = Blank(
    edge=rectangle(0, 0, 50, 40), width=50, height=40, thickness=19, zones=(), pockets=(rectangle(5, 5, 45, 35),)
)


# --- pour ---------------------------------------------------------------------------------------------------------


def test_the_worked_pour() -> None:
    blank = holding(rounded(60, 40, 0.79375))
    pocket, _ = plan_pocket(blank, PocketConfig(depth=6.0), mill(6.35), mill(1.5875))
    part = resin(density=1.108, overfill=0.0, data_sheet="worked")
    pour, findings = plan_pour(blank, part, area=pocket.cut_area, depth=6.0, pieces=1, outside=9.0)
    assert pour.area == pytest.approx(POUR["area"], rel=1e-4)
    assert pour.volume == pytest.approx(POUR["volume"], rel=1e-4)
    assert pour.with_waste == pytest.approx(POUR["with_waste"], rel=1e-4)
    assert pour.mass == pytest.approx(POUR["mass"], rel=5e-4)
    assert findings == () and pour.layers == 1 and len(pour.mixes) == 1


@pytest.mark.parametrize(("by_volume", "by_weight"), RESIN_RATIOS)
def test_by_volume_is_not_by_weight(by_volume, by_weight) -> None:
    """Two published data sheets: the same mix by cup and by scale. The hardener weighs less than the resin, volume
    for volume, so weighing by the ratio of volumes is wrong by that much."""
    cups, scale = measure_out(300.0, by_volume), measure_out(330.0, by_weight)
    assert cups.first / cups.second == pytest.approx(by_volume[0] / by_volume[1], rel=0.01)
    assert scale.first / scale.second == pytest.approx(by_weight[0] / by_weight[1], rel=0.01)
    assert scale.second / scale.first < cups.second / cups.first
    _, findings = plan_pour(
        PIECE, resin(by_volume=by_volume, by_weight=by_weight), area=1200.0, depth=6.0, pieces=1, outside=9.0
    )
    assert findings == ()


@pytest.mark.parametrize(("first", "second"), WEIGHED)
def test_worked_figures_of_a_mixing_guide(first, second) -> None:
    mix = measure_out(first + second, (100.0, 60.0))
    assert (mix.first, mix.second) == (first, second)


def test_the_weight_of_a_gallon() -> None:
    """A gallon at the density of the pour above has the weight stated in a public guide."""
    ml, grams = GALLON
    part = resin(density=POUR["mass"] / POUR["with_waste"], waste=0.0, overfill=0.0)
    pour, _ = plan_pour(PIECE, part, area=1000.0, depth=ml, pieces=1, outside=9.0)
    assert pour.mass == pytest.approx(grams, rel=1e-3)


def test_layers_and_mixes() -> None:
    """30.5 mm at 12 mm a layer is three layers; 20 pieces of 1200 mm² take 36.6 ml each, a layer with waste 14.03
    ml; cups of 100 ml hold seven of these, so each layer takes three cups for 7, 7 and 6 plaques."""
    blank = holding(rectangle(0, 0, 40, 30))
    part = resin(layer=12.0, largest_mix=100.0)
    pour, findings = plan_pour(blank, part, area=1200.0, depth=30.0, pieces=20, outside=9.0)
    assert pour.layers == 3
    assert [m.plaques for m in pour.mixes] == [7, 7, 6] * 3
    assert [m.layer for m in pour.mixes] == [1] * 3 + [2] * 3 + [3] * 3
    assert all(m.volume <= 100.0 for m in pour.mixes)
    assert math.fsum(m.volume for m in pour.mixes) == pytest.approx(pour.with_waste)
    assert math.fsum(m.mass for m in pour.mixes) == pytest.approx(pour.mass)
    assert [f.code for f in findings] == ["pour.too-deep"]
    assert pour.hours == 2 * 12.0 + 96.0


def test_letters_are_filled_with_the_last_layer_of_the_pocket() -> None:
    """Pocket 36.6 ml in three layers, letters 2 ml a piece; by hand, 4 pieces, no waste: 48.8, 48.8, 56.8 ml."""
    blank = Blank(
        edge=rectangle(0, 0, 50, 40), width=50, height=40, thickness=40, zones=(), pockets=(rectangle(5, 5, 45, 35),)
    )
    part = resin(layer=12.0, fills="both", waste=0.0, overfill=0.5)
    pour, _ = plan_pour(blank, part, area=1200.0, depth=30.0, pieces=4, lettering_ml=8.0, outside=9.0)
    assert [(m.layer, m.volume) for m in pour.mixes] == [
        (1, pytest.approx(48.8)),
        (2, pytest.approx(48.8)),
        (3, pytest.approx(56.8)),
    ]
    assert math.fsum(m.volume for m in pour.mixes) == pytest.approx(pour.with_waste)


def test_resin_in_the_lettering_alone_has_its_own_depth() -> None:
    """4 mm of letters in layers of 3 are two layers, and the amount of each is left open."""
    for layer, layers, mixes in ((3.0, 2, 0), (10.0, 1, 1), (None, None, 0)):
        part = resin(fills="lettering", layer=layer, overfill=0.0)
        pour, found = plan_pour(PIECE, part, area=0.0, depth=0.0, pieces=2, lettering_ml=8.0, lettering_depth=4.0)
        assert (pour.depth, pour.layers, len(pour.mixes)) == (4.0, layers, mixes)
        assert (
            ("layer" in pour.missing) == (layer is None) == any(f.code == "pour.data-sheet-incomplete" for f in found)
        )


@pytest.mark.parametrize(
    ("part", "outside", "code"),
    [
        (resin(working_time=16.0), 9.0, "pour.working-time"),
        (resin(by_weight=(100.0, 80.0)), 9.0, "pour.ratios-disagree"),
        (resin(data_sheet=""), 9.0, "pour.no-data-sheet"),
        (resin(), 0.9, "pour.dam-thin"),
        (resin(layer=None), 9.0, "pour.data-sheet-incomplete"),
    ],
)
def test_each_limit_of_the_pour(part: PourConfig, outside: float, code: str) -> None:
    blank = Blank(
        edge=rectangle(0, 0, 50, 40), width=50, height=40, thickness=19, zones=(), pockets=(rectangle(5, 5, 45, 35),)
    )
    pour, findings = plan_pour(blank, part, area=1200.0, depth=20.0, pieces=3, outside=outside)
    assert [f.code for f in findings] == [code]
    assert "{" not in format_message(findings[0])
    assert pour.dam.wall == pytest.approx(5.0)


def test_the_dam() -> None:
    """A pocket 20 × 10 that extends over the right side of a blank: its outline closer than 6 mm to the edge is the
    last 6 mm of both long sides (on the blank), what is outside it, and the end."""
    edge, pocket = rectangle(0, 0, 60, 40), rectangle(45, 15, 65, 25)
    blank = Blank(edge=edge, width=60, height=40, thickness=19, zones=(), pockets=(pocket,))
    dam = plan_dam(blank, 6.0, 1.5)
    assert dam.wall == 0.0
    assert dam.line == pytest.approx(2 * (6 + 5) + 10)
    clear = Blank(edge=edge, width=60, height=40, thickness=19, zones=(), pockets=(rectangle(10, 10, 50, 30),))
    assert plan_dam(clear, 6.0, 1.5).line == 0.0 and plan_dam(clear, 6.0, 1.5).wall == pytest.approx(10.0)


@given(
    whole=st.floats(0.05, 5000.0),
    ratio=st.sampled_from([(1.0, 1.0), (2.0, 1.0), (100.0, 45.0), (4.0, 1.0), (100.0, 8.0), (3.0, 2.0), (1.0, 3.0)]),
)
def test_the_printed_amounts_of_a_mix_keep_ratio_and_sum(whole, ratio):
    """A cup measured by the printed figures is the mix: its parts have the ratio within a hundredth, add up to the
    whole, and are enough."""
    said = measure_out(whole, ratio)
    total, first, second = (Decimal(f"{v:.{said.decimals}f}") for v in (said.whole, said.first, said.second))
    assert first + second == total
    assert float(second / first) == pytest.approx(ratio[1] / ratio[0], rel=0.0101)
    step = 10.0**-said.decimals
    assert whole - step / 2 - 1e-9 <= float(total) <= max(1.1 * whole, whole + MORE) + 1e-9
    assert said.decimals == 0 or whole < 100 or ratio == (100.0, 8.0)


def test_large_mixes_are_in_whole_ml_and_small_ones_in_tenths():
    """By hand: 7.3 ml at 2:1 would be 4.9 + 2.4, which is 2 % off; 5.0 + 2.5 has the ratio."""
    assert measure_out(300.0, (2.0, 1.0)) == Measured(0, 300.0, 200.0, 100.0)
    assert measure_out(7.3, (2.0, 1.0)) == Measured(1, 7.5, 5.0, 2.5)
    assert measure_out(1.0, (1.0, 1.0)) == Measured(1, 1.0, 0.5, 0.5)
    assert measure_out(0.7, (100.0, 47.0)) == Measured(1, 2.2, 1.5, 0.7)  # the least within 1 %, in tenths
    assert measure_out(40.0, (1e5, 1e-3)).first > 0  # terminates whatever the ratio
