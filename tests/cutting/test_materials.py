"""The shelf of materials: every value has its source, and every name matches one material or none."""

from __future__ import annotations

import json
import tomllib
from importlib.resources import files
from pathlib import Path

import pytest

from pipeline.commands.materials_command import list_materials
from pipeline.core.config.shop_config import OwnMaterial, ShopConfig
from pipeline.core.errors import CannotRun
from pipeline.cutting.cutters import CUTTER_KINDS
from pipeline.cutting.materials import STEPS, Material, find_material, list_other_names, load_material_shelf

RAW = tomllib.loads(files("pipeline.cutting").joinpath("materials.toml").read_text(encoding="utf-8"))
SHELF = load_material_shelf()

WANTED = (
    "hardwood", "softwood", "plywood", "mdf", "bamboo", "acrylic", "two-layer laminate", "brass", "aluminium",
    "stainless steel", "slate", "limestone", "glass",
)  # fmt: skip


def without_source(raw):
    """Return the values of a material without a source."""
    return sorted({*raw} - {"sources"} - {key for key, said in raw["sources"].items() if said.strip()})


def test_every_value_has_a_source_line():
    assert {name: without_source(raw) for name, raw in RAW.items()} == {name: [] for name in RAW}
    for name, raw in RAW.items():
        assert {*raw["sources"]} <= {*raw}, f"{name}: a source of nothing"


def test_a_value_without_one_is_found():
    raw = {**RAW["slate"], "weight": 2.7}
    assert without_source(raw) == ["weight"]
    assert without_source({**raw, "sources": {**RAW["slate"]["sources"], "weight": " "}}) == ["weight"]


@pytest.mark.parametrize("name", WANTED)
def test_the_materials_of_the_trade_are_there(name):
    assert find_material(name).known


@pytest.mark.parametrize("material", SHELF.values(), ids=SHELF)
def test_the_values_of_materials_are_plausible(material: Material):
    assert material.operations <= {*STEPS} and material.operations
    assert {*material.passes} <= {*CUTTER_KINDS}
    assert material.look is not None and material.floor is not None and material.floor > 0
    assert ("end-mill" in material.passes) == (material.chip_load is not None)
    if material.chip_load is not None:
        assert 0 < material.chip_load[0] < material.chip_load[1] < 0.1
    assert bool(material.look.grain) == material.grain, "a material without grain is drawn without"


def test_a_plate_is_not_faced_planed_or_oiled():
    for name in ("brass", "aluminium", "stainless steel", "glass", "slate", "acrylic"):
        assert not {"face", "plane", "oil", "sand"} & find_material(name).operations, name


def test_every_name_matches_one_material():
    words = [word for name, raw in RAW.items() for word in {name, *raw["also"]}]
    assert len(words) == len(set(words)) == len(list_other_names())
    assert all(find_material(word).family in RAW for word in words)


@pytest.mark.parametrize(
    ("said", "family"),
    [
        ("Walnut", "hardwood"),
        ("oiled black  walnut", "hardwood"),
        ("Welsh slate, riven", "slate"),
        ("ANODISED ALUMINIUM", "aluminium"),
        ("walnut-look acrylic", ""),  # two at once
        ("oak veneer on mdf", ""),
        ("engineered stone", ""),
        ("walnuts", ""),
        ("unobtainium", ""),
        ("", ""),
    ],
)
def test_only_whole_words_match_and_two_materials_match_none(said, family):
    found = find_material(said)
    assert (found.family, found.name) == (family, said)
    assert found.known == bool(family)


def test_nothing_is_assumed_about_an_unknown_material():
    unknown = find_material("unobtainium")
    assert unknown.find_pass_depth("v-bit") is unknown.find_pass_depth("end-mill", 6.0) is unknown.least_floor is None
    assert unknown.look is unknown.grain is unknown.bought is unknown.may_be_cut_by("v-bit") is None
    assert not any(unknown.does(step) for step in STEPS)


@pytest.mark.parametrize(
    "name", ["oak-effect PVC", "walnut vinyl", "walnut-look board", "faux slate", "Brass-Coloured sheet", "oak style"]
)
def test_an_imitation_does_not_match_what_it_imitates(name):
    assert not find_material(name).known


def test_passes_of_end_mills_follow_their_diameter():
    wood = find_material("walnut")
    assert wood.find_pass_depth("end-mill", 6.0).value == 3.0  # half the diameter
    assert wood.find_pass_depth("v-bit").value == 3.0
    assert wood.find_pass_depth("laser") is None and wood.may_be_cut_by("laser")
    assert find_material("stainless").may_be_cut_by("end-mill") is False


def test_movement_is_the_wood_handbook_s():
    """USDA Wood Handbook, FPL-GTR-190, table 13-5: black walnut .00274, sugar maple .00353 tangential; its worked rule
    ΔD = D · C · ΔM: 300 mm of hard maple from 6 to 12 % grow by 6.354 mm."""
    assert find_material("walnut").change_per_moisture("oiled black walnut").value == 0.00274
    maple = find_material("hard maple").change_per_moisture("hard maple")
    assert 300 * maple.value * 6 == pytest.approx(6.354)
    assert find_material("teak").change_per_moisture("teak") is None  # not in that table


def test_dark_materials_have_light_letters():
    dark = {name for name, material in SHELF.items() if material.look and material.look.is_dark}
    assert dark == {"slate", "laminate"}


# --- the shop's own -------------------------------------------------------------------------------------------------


def test_an_own_material_changes_one_of_the_shelf_and_names_it():
    own = OwnMaterial(name="Reclaimed oak", like="oak", floor=5.0, pass_v_bit=1.0, hazard="Old nails.")
    found = find_material("reclaimed  OAK", ShopConfig(material=(own,)))
    assert (found.family, found.floor, found.passes["v-bit"], found.passes["end-mill"]) == ("hardwood", 5.0, 1.0, 0.5)
    assert found.least_floor.source == "[[material]] “Reclaimed oak” in shop.toml"
    assert found.describe_source("finish") == "common practice, no source"


def test_an_own_material_without_a_base_has_only_its_own_values():
    found = find_material("horn", ShopConfig(material=(OwnMaterial(name="horn", floor=1.0),)))
    assert found.known and found.floor == 1.0
    assert found.look is found.bought is found.chip_load is None and not found.operations


def test_the_shop_s_own_comes_before_the_shelf():
    shop = ShopConfig(material=(OwnMaterial(name="slate", like="slate", floor=8.0),))
    assert find_material("slate", shop).floor == 8.0


# --- the command ----------------------------------------------------------------------------------------------------


def test_the_command_lists_the_shelf_and_shows_one_material_with_sources(tmp_path: Path):
    said: list[str] = []
    assert list_materials(None, here=tmp_path, as_json=False, say=said.append) == 0
    assert len([line for line in said if line.split()[:1] and line.split("  ")[0] in SHELF]) == len(SHELF)
    assert max(len(line) for text in said for line in text.splitlines()) <= 100
    said.clear()
    list_materials("walnut", here=tmp_path, as_json=False, say=said.append)
    assert "walnut (hardwood)" in said[0] and "table 13-5" in said[0]
    assert max(len(line) for line in said[0].splitlines()) <= 102
    said.clear()
    list_materials("slate", here=tmp_path, as_json=True, say=said.append)
    assert json.loads(said[0])["sources"]["hazards"].startswith("EH40")
    with pytest.raises(CannotRun, match="Did you mean “brass”"):
        list_materials("bras", here=tmp_path, as_json=False, say=said.append)


def test_the_command_shows_the_shop_s_own_first(tmp_path: Path):
    (tmp_path / "shop.toml").write_text('[[material]]\nname = "horn"\nfloor = 1.0\n')
    said: list[str] = []
    list_materials(None, here=tmp_path, as_json=True, say=said.append)
    names = [entry["name"] for entry in json.loads(said[0])]
    assert names[0] == "horn" and len(names) == len(SHELF) + 1
