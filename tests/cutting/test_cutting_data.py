"""Speeds, feeds, passes and floors against published formulas and worked examples; unknown figures stay unknown."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from pipeline.checks.glyph_metrics import GlyphMetrics
from pipeline.checks.plaque_checks import check_all
from pipeline.core import catalogue
from pipeline.core.config.order import CutterConfig, FilesConfig, FinishConfig, LimitsConfig, LineConfig
from pipeline.core.config.order_edits import apply_edits
from pipeline.core.config.shop_tables import PourConfig, RatesConfig, StockConfig
from pipeline.core.units import SpokenUnits, Units
from pipeline.cutting.cutters import EndMill, EngravingPoint, load_cutter_shelf, resolve_cutter
from pipeline.cutting.cutting_data import (
    choose_passes,
    compute_depth_left,
    compute_feed,
    compute_long_cutter_share,
    compute_spindle_speed,
    compute_table_feed,
    find_pass_depth,
    get_chip_load,
)
from pipeline.cutting.simulated_cut import sweep
from pipeline.cutting.v_carving import GroovePlanner, plan_roughing
from pipeline.shopfloor.time_estimate import choose_mill_feed, estimate_lettering_feed
from tests.checks.setting import artwork, blank, order, set_line

MILL = load_cutter_shelf()["endmill-3"]
BIT = load_cutter_shelf()["vbit-60"]
BRASS = StockConfig(material="brass")


@pytest.mark.parametrize(
    ("vc", "diameter", "rpm"),
    [
        (25.0, 12.0, 663),  # worked example of a public page on milling speeds: 25 × 1000 / (3.14 × 12) = 663
        (200 * 0.3048, 0.375 * 25.4, 2037),  # “Milling Procedures” (public page), brass 200 sfm: 12 × 200 / (π × .375)
        (300 * 0.3048, 0.375 * 25.4, 3056),  # the same, aluminium 300 sfm: it prints 3056
    ],
)
def test_spindle_speed_is_that_of_published_examples(vc: float, diameter: float, rpm: int) -> None:
    assert compute_spindle_speed(vc, diameter) == pytest.approx(rpm, rel=1e-3)


def test_feed_is_that_of_published_examples() -> None:
    """The same pages: .065 mm × 2 and × 3 flutes at 663/min are 86 and 129 mm/min, .06 × 4 are 159; .001 in × 2 at
    3056/min are 6.1 in/min."""
    assert [round(compute_table_feed(663, z, fz)) for z, fz in ((2, 0.065), (3, 0.065), (4, 0.06))] == [86, 129, 159]
    assert compute_table_feed(3056, 2, 0.001) == pytest.approx(6.1, abs=0.02)


@pytest.mark.parametrize(("length", "share"), [(8.0, 1.0), (12.0, 1.0), (18.0, 2 / 3), (24.0, 0.5), (36.0, 1 / 3)])
def test_a_long_cutter_has_no_more_bending_stress_than_a_short_one(length: float, share: float) -> None:
    """32 F L / (π D³), with a force proportional to the chip: from a length of four diameters, chip times length is
    constant."""
    assert compute_long_cutter_share(length, 3.0) == pytest.approx(share)
    stress = [32 * compute_long_cutter_share(at, 3.0) * at / (math.pi * 27) for at in (12.0, length)]
    assert stress[1] <= stress[0] * (1 + 1e-12)


def test_every_figure_names_its_source() -> None:
    """By hand for a 3 mm mill in brass, 2 mm deep: n = 1000 × 90 / (π 3) = 9549; fz = .004 × 3 = .012; vf = 9549 × 2 ×
    .012 = 229; it sticks out 5 mm, less than 12. Ten millimetres deep it sticks out 13: × 12 / 13 = 212."""
    made = order(stock=BRASS, rates=RatesConfig(surface_speed=90.0))
    told = compute_feed(made, MILL, 2.0, 0.3)
    assert (round(told.rpm or 0), round(told.feed or 0), told.stick_out) == (9549, 229, 5.0)
    assert "n = 1000 × 90 m/min / (π × 3 mm) = 9549/min (vc: order.toml)" in told.how
    assert any("fz: 0.004 D for brass, common practice, no source" in how for how in told.how)
    assert any("z: of the pocket cutters: common practice, no source" in how for how in told.how)
    deep = compute_feed(made, MILL, 10.0, 0.3)
    assert round(deep.feed or 0) == 212 and any("12 / 13" in how for how in deep.how)
    capped = compute_feed(order(stock=BRASS, rates=RatesConfig(surface_speed=900.0, rpm=18000.0)), MILL, 2.0, 0.3)
    assert capped.rpm == 18000.0 and any("at most 18000/min (order.toml)" in how for how in capped.how)


def test_the_speed_of_a_v_bit_is_taken_at_its_edge_at_the_face() -> None:
    """0.5 mm deep a 60° bit of tip 0.1 is 0.1 + 2 × 0.5 × tan 30° = 0.677 mm wide, and n = 1000 × 20 / (π 0.677)."""
    told = compute_feed(order(rates=RatesConfig(surface_speed=20.0, rpm=30000.0)), BIT, 0.5, 0.5)
    assert told.rpm == pytest.approx(20000 / math.pi / (0.1 + math.tan(math.radians(30))), rel=1e-9)


def test_a_figure_that_nobody_entered_is_missing() -> None:
    """No mill feed for a material that is unknown or isn't milled; the maker's own chip load gives one."""
    for material in ("", "moon rock", "glass"):
        told = compute_feed(order(stock=StockConfig(material=material)), MILL, 2.0, 1.0)
        assert told.feed is None and any("no feed" in how for how in told.how)
    own = order(stock=StockConfig(material="moon rock"), rates=RatesConfig(chip_load=0.01, rpm=10000.0, flutes=1))
    assert compute_feed(own, MILL, 2.0, 1.0).feed == pytest.approx(100.0)
    laser = compute_feed(order(), load_cutter_shelf()["laser"], None, None)
    assert laser.rpm is None and laser.stick_out is None


def test_a_chip_load_beyond_the_material_is_reduced_and_reported() -> None:
    """0.05 mm for all cutters is too much for a 0.8 mm mill in brass: by hand 0.008 × 0.8 = 0.0064 mm, and 18000 × 2 ×
    0.0064 = 230 mm/min instead of 1800. A 10 mm mill may use it, its greatest being 0.08."""
    made = order(stock=BRASS, rates=RatesConfig(chip_load=0.05, rpm=18_000.0))
    told = compute_feed(made, load_cutter_shelf()["endmill-0-8"], 0.1, 0.08)
    assert told.feed == pytest.approx(230.4)
    assert any("at most 0.008 D for brass" in how and "the 0.05 of order.toml is too much" in how for how in told.how)
    wide = get_chip_load(made, EndMill(name="mill", diameter=10.0))
    assert wide is not None and (wide.value, wide.source) == (0.05, "order.toml")
    inch = made.model_copy(update={"units": "in"})
    assert any(
        "the 0.001969 of" in how for how in compute_feed(inch, load_cutter_shelf()["endmill-0-8"], 0.5, 0.08).how
    )


@pytest.mark.parametrize("material", ["", "brass", "glass", "moon rock", "acrylic"])
def test_feeds_of_a_bit_are_known_only_in_wood_unless_entered(material: str) -> None:
    point = EngravingPoint(name="point", tip=0.2)
    for cutter in (BIT, point):
        told = compute_feed(order(stock=StockConfig(material=material)), cutter, 0.5, 0.5)
        assert told.feed is told.plunge is told.rpm is None
        what = "spindle and feed not known: rpm and feed" if cutter is BIT else "feed not known: feed"
        assert len(told.how) == 1 and told.how[0].startswith(f"{what} of [rates] ")
        half = compute_feed(order(stock=StockConfig(material=material), rates=RatesConfig(rpm=9e3)), cutter, 0.5, 0.5)
        assert half.how[-1] == "feed not known: feed of [rates] is not entered, and the usual figure is for wood only"
        own = RatesConfig(feed=200.0, plunge=50.0, rpm=9000.0)
        entered = compute_feed(order(stock=StockConfig(material=material), rates=own), cutter, 0.5, 0.5)
        assert (entered.feed, entered.plunge, entered.rpm) == (200.0, 50.0, 9000.0 if cutter is BIT else None)
    wood = compute_feed(order(stock=StockConfig(material="oiled walnut")), BIT, 0.5, 0.5)
    assert (wood.feed, wood.plunge, wood.rpm) == (900.0, 300.0, 18000.0)
    assert any("lettering wood: common practice, no source" in how for how in wood.how)


def test_an_estimate_states_whether_its_feed_is_known() -> None:
    unknown, known = order(stock=BRASS), order(stock=BRASS, rates=RatesConfig(feed=200.0))
    bit = load_cutter_shelf()["vbit-60"]
    assert estimate_lettering_feed(unknown, bit, 0.5).describe(Units()) == "assuming 900 mm/min, usual in wood"
    assert estimate_lettering_feed(known, bit, 0.5).describe(Units()) == "at 200 mm/min"
    assert estimate_lettering_feed(known, bit, 0.5).describe(SpokenUnits("in")) == "at 7.9 in/min"
    assert choose_mill_feed(order(), MILL, 1.0, 1.0).describe(Units()).startswith("assuming")
    assert choose_mill_feed(unknown, MILL, 1.0, 0.3).describe(Units()).startswith("assuming")
    turning = order(stock=BRASS, rates=RatesConfig(rpm=9_000.0))
    assert choose_mill_feed(turning, MILL, 1.0, 0.3).describe(Units()).startswith("at ")


def test_no_mill_uses_the_spindle_speed_of_wood_in_metal_or_stone() -> None:
    """18,000 rpm is 339 m/min for a 6 mm mill: far more than brass, slate or glass tolerate."""
    for material in ("brass", "slate", "moon rock"):
        told = compute_feed(order(stock=StockConfig(material=material)), EndMill(name="mill", diameter=6.0), 1.0, 0.5)
        assert told.rpm is told.feed is None and told.how[0].startswith("spindle not known: rpm of [rates] ")
    assert compute_feed(order(stock=StockConfig(material="walnut")), MILL, 1.0, 1.0).rpm == 18_000


def test_passes_are_those_of_the_order_or_the_material() -> None:
    """Brass: 0.2 mm a pass with a V-bit; 0.9 mm deep is five passes of 0.18. The order's own figure comes first."""
    told = choose_passes(order(stock=BRASS), BIT, 0.9)
    assert (told.count, round(told.step, 6)) == (5, 0.18) and "no source" in told.source
    own = order(stock=BRASS, cutter=CutterConfig(use="vbit-60", depth_per_pass=0.5))
    assert choose_passes(own, BIT, 0.9).count == 2 and "depth_per_pass" in choose_passes(own, BIT, 0.9).source
    assert find_pass_depth(order(), BIT) is None and choose_passes(order(), BIT, 5.0).count == 1
    half = find_pass_depth(order(), MILL)
    assert half is not None and half.value == 1.5
    assert choose_passes(order(stock=BRASS), EndMill(name="mill", diameter=2.0), 1.0).count == 5  # 0.1 D a pass


def test_roughing_never_cuts_beyond_the_grooves_nor_deeper_than_a_pass() -> None:
    """Level by level: each pass removes at most one step below the one before, and all of it lies in the groove."""
    piece = set_line("R", "roboto-slab", 12.0).rows[0].pieces[0]
    grooves = GroovePlanner(BIT, 0.01).plan_piece(piece)
    rough = plan_roughing(grooves, 0.4)
    deepest = -min(float(g[:, 2].min()) for g in grooves)
    levels = [round(-float(line[0, 2]), 9) for line in rough]
    assert levels == sorted(levels) and set(levels) == {round(0.4 * k, 9) for k in range(1, math.ceil(deepest / 0.4))}
    assert all(np.ptp(line[:, 2]) == 0 for line in rough)
    assert sweep(rough, BIT).difference(sweep(grooves, BIT)).area < 1e-6
    assert deepest - max(levels) <= 0.4 + 1e-9
    assert plan_roughing(grooves, deepest) == [] == plan_roughing([], 0.4)


# --- what stays under a cut -------------------------------------------------------------------------------------------


def check(line: Any, thickness: float, **parts: Any) -> Any:
    designed = (LineConfig(text="{name}", face="roboto-slab", cap_height=line.cap_height),)
    made = order(**parts).model_copy(update={"line": designed})
    cutter, limits = resolve_cutter(made, thickness)
    return made, check_all(
        artwork(line), replace(blank(), thickness=thickness), cutter, limits, GlyphMetrics(), made
    ).findings


def test_a_groove_that_leaves_too_little_of_a_plate_stops_it() -> None:
    """The widest place of this I is 1.57 mm: 1.27 mm deep with a 60° bit of tip 0.1; of a 1.3 mm brass plate, 0.5 mm
    have to stay."""
    line = set_line("I", "roboto-slab", 10.48)
    made, said = check(line, 1.3, stock=BRASS)
    (found,) = [f for f in said if f.code == "stock.floor-too-thin"]
    depth = float(dict(found.facts)["depth"])
    assert depth == pytest.approx(1.27, abs=0.005)
    assert found.limit == 0.5 and found.measured == pytest.approx(1.3 - depth)
    assert "0.5" in catalogue.format_message(found) and "common practice, no source" in catalogue.format_message(found)
    assert [f.code for f in check(line, 1.3)[1]] == []  # nothing is assumed about an unknown material
    assert [f.code for f in check(line, 1.3, stock=StockConfig(material="brass", least_floor=0.01))[1]] == []
    smaller = next(w for w in found.ways if w.code.startswith("smaller"))
    size = float(dict(smaller.facts)["size"])
    after = check(set_line("I", "roboto-slab", size), 1.3, stock=BRASS)[1]
    assert "stock.floor-too-thin" not in [f.code for f in after]
    bit = next((w for w in found.ways if w.code == "bit-deep"), None)
    if bit is not None:
        mended = apply_edits(made, bit.edits)
        assert "stock.floor-too-thin" not in [f.code for f in check(line, 1.3, stock=BRASS, cutter=mended.cutter)[1]]


def test_material_removed_from_the_back_counts() -> None:
    """12 mm minus 6 sawn off and 0.4 sanded leave 5.6; a floor of 3 leaves 2.6 for the cut."""
    stock = StockConfig(material="hardwood", sawn_off=6.0)
    told = compute_depth_left(order(stock=stock), 12.0)
    assert told is not None and told.value == pytest.approx(12 - 6 - 0.4 - 3)
    assert compute_depth_left(order(), 12.0) is None and compute_depth_left(order(stock=stock), None) is None
    stays = compute_depth_left(order(stock=StockConfig(material="hardwood"), pour=PourConfig(fills="pocket")), 12.0)
    assert stays is not None and stays.value == 9.0  # a back that isn't sawn off is planed, not sanded


def test_material_removed_from_the_face_before_lettering_counts() -> None:
    """Resin in a pocket is levelled before lettering: 12 − 0.5 − 3 leave 8.5. Resin in the letters is levelled after,
    which reduces the groove, not what stays under it."""
    stock = StockConfig(material="hardwood")
    for fills, left in (("pocket", 8.5), ("lettering", 9.0)):
        told = compute_depth_left(order(stock=stock, pour=PourConfig(fills=fills, levelled_off=0.5)), 12.0)
        assert told is not None and told.value == left
    line = set_line("I", "roboto-slab", 10.48)  # 1.27 mm deep
    poured = PourConfig(fills="pocket", levelled_off=0.5)
    assert "stock.floor-too-thin" not in [f.code for f in check(line, 2.0, stock=BRASS)[1]]
    (found,) = [f for f in check(line, 2.0, stock=BRASS, pour=poured)[1] if f.code == "stock.floor-too-thin"]
    assert "; of 2.00 mm, 0.50 mm off the face before it are taken" in catalogue.format_message(found)


def test_a_cutter_of_one_depth_stops_every_plaque_and_its_advice_is_right() -> None:
    parts = {"stock": BRASS, "cutter": CutterConfig(use="endmill-0-8"), "finish": FinishConfig()}
    line = set_line("I", "roboto-slab", 12.0)
    made, said = check(line, 1.5, limits=LimitsConfig(deepest=1.2), files=FilesConfig(), **parts)
    (found,) = [f for f in said if f.code == "stock.floor-too-thin"]
    (way,) = found.ways
    assert way.edits[0].value == 1.0 and "deepest = 1" in catalogue.format_remedy(found)
    mended = apply_edits(made, way.edits)
    assert not [f for f in check(line, 1.5, limits=mended.limits, files=FilesConfig(), **parts)[1] if "floor" in f.code]


def test_the_time_of_a_lettering_mill_uses_the_feed_of_the_table() -> None:
    """The lettering feed of 900 mm/min is for bits: by hand, 18000 × 2 × 0.016 × 1.5 = 864 mm/min for the mill."""
    mill = load_cutter_shelf()["endmill-1-5"]
    wood = order(stock=StockConfig(material="walnut"))
    told = compute_feed(wood, mill, 0.5, 0.5).feed
    assert told == pytest.approx(864.0)
    assert estimate_lettering_feed(wood, mill, 0.5).value == told
    assert estimate_lettering_feed(order(stock=BRASS), mill, 0.5).describe(Units()).startswith("assuming")
