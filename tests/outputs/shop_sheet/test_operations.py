"""The order of work: every layer that is cut is named, and no step that the material rules out."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from pipeline.core.config.order import CutterConfig, FilesConfig, FinishConfig, LimitsConfig
from pipeline.core.config.shop_tables import BoardConfig, BoardSize, JigConfig, PocketConfig, StockConfig
from pipeline.core.stated_values import replace_stated
from pipeline.cutting.cutting_data import choose_passes
from pipeline.cutting.materials import get_material
from pipeline.outputs.shop_sheet import cautions
from pipeline.outputs.shop_sheet.operations import Operation, list_operations
from pipeline.outputs.shop_sheet.tick_list import list_boxes
from pipeline.shopfloor.shop_plan import plan_shop
from tests.builders import KEPT, disc_blank, folder, outcome
from tests.shopfloor.shop_shapes import resin

BOARD = BoardConfig(size=(BoardSize(length=1200.0, width=190.0),))


def steps(blank: Any = None, **tables: Any) -> dict[str, Operation]:
    order, run = folder(**tables), outcome()
    plan, _ = plan_shop(order, blank or run.blank, run.plaques, cache=KEPT)
    made = list_operations(plan, order.order)
    return {o.name: replace(o, what=replace_stated(o.what, lambda value: value.text)) for o in made}


def test_grooves_deeper_than_one_pass_name_both_layers_by_the_shop_s_names() -> None:
    """The builders' grooves are 0.9 mm deep at most."""
    files = FilesConfig(grooves=True, layers={"ROUGH": "V 1", "GROOVE": "V 2"})
    told = steps(cutter=CutterConfig(use="vbit-60", depth_per_pass=0.4), files=files)["Letter"].what
    assert "First layer V 1, then V 2: no pass is deeper than 0.4 mm." in told
    order = folder(cutter=CutterConfig(use="vbit-60", depth_per_pass=0.4)).order
    assert choose_passes(order, plan_cutter(), 0.9).count == 3
    for cutter, grooves in ((CutterConfig(use="vbit-60", depth_per_pass=2.0), True), (order.cutter, False)):
        assert "layer ROUGH" not in steps(cutter=cutter, files=FilesConfig(grooves=grooves))["Letter"].what


def plan_cutter() -> Any:
    run = outcome()
    return plan_shop(folder(), run.blank, run.plaques, cache=KEPT)[0].cutter


def test_a_rough_board_that_is_not_faced_is_still_planed() -> None:
    told = steps(stock=StockConfig(material="walnut", rough=25.0, faced=0.0))
    assert told["Plane the stock"].what.startswith("Plane the back to 19 mm; nothing comes off the face.")
    assert "Plane the back to 19 mm" in steps(stock=StockConfig(rough=25.0))["Plane the stock"].what
    assert "Plane the stock" not in steps(stock=StockConfig(material="walnut", rough=19.0, faced=0.0))


def test_the_depth_of_a_mill_is_the_deeper_of_drawn_lines_and_letters() -> None:
    """An end mill letters at [limits] deepest; a drawn line of 0.9 mm doesn't make the letters shallower."""
    told = steps(cutter=CutterConfig(use="endmill-1-5"), limits=LimitsConfig(deepest=2.0))["Letter"].what
    assert "Line 1.5 mm wide, 2 mm deep at most." in told
    told = steps(cutter=CutterConfig(use="endmill-1-5"), limits=LimitsConfig(deepest=0.5))["Letter"].what
    assert "0.9 mm deep at most." in told and "not entered" not in told
    told = steps(cutter=CutterConfig(use="endmill-1-5"))["Letter"].what  # the drawn line's depth isn't the letters'
    assert "The depth of the letters has not been entered (`deepest` of [limits])" in told


def test_unsigned_pieces_have_no_file_in_the_jig() -> None:
    jig = JigConfig(columns=2, across=170.0)
    assert "loads of unsigned pieces have no file" in steps(jig=jig)["Letter"].what
    assert "unsigned" not in steps(jig=jig.model_copy(update={"unsigned": True}))["Letter"].what


@pytest.mark.parametrize(("material", "word"), [("walnut", "wood beside"), ("acrylic", "face beside")])
def test_only_wood_is_called_wood(material: str, word: str) -> None:
    told = steps(stock=StockConfig(material=material), pour=resin(fills="lettering", levelled_off=0.3))
    assert word in told["Mask"].what
    assert told["Level the resin"].what.count("This may remove at most 0.3 mm of the face.") == 1
    filled = steps(stock=StockConfig(material=material), pocket=PocketConfig(depth=5.0), pour=resin())
    assert ("air comes out of the wood" in filled["Seal and dam"].what) == (material == "walnut")


def test_the_jointer_is_used_only_for_material_that_is_planed() -> None:
    """A jointer's knives are for wood: metal breaks them, and they throw it (common practice, no source)."""
    walnut = steps(stock=StockConfig(material="walnut", rough=25.0), board=BOARD)
    assert "Joint one long-grain edge" in walnut["Face the stock"].what
    brass = steps(stock=StockConfig(material="brass", rough=25.0, faced=1.0), board=BOARD)
    assert "oint" not in brass["Face the stock"].what


def test_material_that_is_not_sanded_is_finished_to_the_line() -> None:
    disc = replace(disc_blank(), thickness=19.0)
    for material, word in (("walnut", "and sand to the line"), ("brass", "and finish to the line")):
        assert word in steps(disc, stock=StockConfig(material=material), board=BOARD)["Saw"].what


def test_the_guide_line_states_how_much_of_the_piece_it_removes() -> None:
    """Half of a 60° groove 1 mm deep with a tip of 0.1: 0.05 + tan 30° = 0.627."""
    assert (
        "Half of its width, 0.63 mm, lies on the piece and bevels its edge."
        in steps(board=BOARD)["Cut the outline"].what
    )
    mill = steps(board=BOARD, cutter=CutterConfig(use="endmill-1-5"))["Cut the outline"].what
    assert "Half of its width, 0.75 mm, lies on the piece and leaves a step" in mill


@pytest.mark.parametrize(("material", "told"), [("walnut", True), ("plywood", False)])
def test_the_last_grit_is_used_along_the_grain_if_there_is_one(material: str, told: bool) -> None:
    made = steps(stock=StockConfig(material=material), finish=FinishConfig(sanded_off=0.1))
    assert ("along the grain" in made["Sand"].what) == told


def test_sawing_at_the_band_saw_has_its_own_caution() -> None:
    resawn = steps(stock=StockConfig(material="walnut", rough=25.0, sawn_off=3.0), board=BOARD)
    assert cautions.BAND_SAW in resawn["Saw the back off"].cautions
    assert cautions.SAW not in resawn["Saw the back off"].cautions
    disc = replace(disc_blank(), thickness=19.0)
    assert cautions.BAND_SAW in steps(disc, board=BOARD)["Saw"].cautions
    assert cautions.BAND_SAW not in resawn["Saw"].cautions


def test_a_beam_leaves_no_burr() -> None:
    """Metal that is cut has one (common practice, no source); what a shop says of its own material stays."""
    brass = StockConfig(material="brass")
    assert steps(stock=brass)["Finish"].what.startswith("Deburr, clean")
    assert steps(stock=brass, cutter=CutterConfig(use="laser"))["Finish"].what.startswith("Clean, lacquer")
    sawn = steps(stock=brass, cutter=CutterConfig(use="laser"), board=BOARD)
    assert sawn["Finish"].what.startswith("Deburr")
    own = replace(get_material(folder(stock=brass).order), finish="deburr and wax", sources={"finish": "shop.toml"})
    assert cautions.describe_finish_of_beam(own) == "deburr and wax"


@pytest.mark.parametrize(("material", "sanded"), [("walnut", True), ("brass", False)])
def test_step_box_and_time_of_sanding_go_together(material: str, sanded: bool) -> None:
    order, run = folder(stock=StockConfig(material=material), pour=resin(fills="lettering")), outcome()
    plan, _ = plan_shop(order, run.blank, run.plaques, cache=KEPT)
    assert ("Sand" in [o.name for o in list_operations(plan, order.order)]) == sanded
    assert ("sanded" in list_boxes(plan, order)) == sanded
    assert ("sanding" in [item.name for item in plan.estimate.items]) == sanded
