"""The pour card: values entered, values computed from them, and no other figure of the resin."""

from __future__ import annotations

import math
import re
from typing import Any

import pytest

from pipeline.core.config.shop_tables import PocketConfig, PourConfig, StockConfig
from pipeline.outputs.shop_sheet import cautions
from pipeline.outputs.shop_sheet.shop_sheet import write_sheet
from pipeline.shopfloor.pour import PourPlan, measure_out
from pipeline.shopfloor.shop_plan import plan_shop
from tests.builders import KEPT, folder, outcome
from tests.outputs.papers import read_text, strip_origin_marks

ENTERED: dict[str, Any] = {
    "data_sheet": "Sheet of an invented resin",
    "overfill": 0.7,
    "waste": 0.13,
    "density": 1.23,
    "by_volume": (3.1, 1.0),
    "by_weight": (100.0, 29.0),
    "layer": 17.0,
    "working_time": 333.0,
    "stirring": 11.0,
    "rate": 7.7,
    "largest_mix": 987.0,
    "between_layers": 13.5,
    "demould": 47.0,
    "machine": 95.0,
}
"""Figures that stand nowhere else on the card, so that each can be looked for."""

SHOWN = {
    "data_sheet": "invented resin",
    "overfill": "0.7 mm of it",
    "waste": "13 % waste",
    "density": r"\bg\b",
    "by_volume": r"3\.1 : 1",
    "by_weight": "100 : 29",
    "layer": r"Layers?\s*\d",
    "working_time": "333 min",
    "stirring": "11 of them",
    "between_layers": r"13\.5 h",
    "demould": "47 h",
    "machine": "95 h",
    "rate": "Pouring alone",
}
"""What the card shows of a value, and only if it is entered."""


def sheet(parts: dict[str, Any]) -> tuple[str, str, list[str], PourPlan]:
    """Return the text of the whole sheet and of its pour card, the codes found, and the plan."""
    tables = {"stock": StockConfig(material="walnut", rough=25.0), "pocket": PocketConfig(depth=30.0)}
    order, run = folder(**tables, pour=PourConfig(**parts)), outcome()
    plan, found = plan_shop(order, run.blank, run.plaques, cache=KEPT)
    data, _ = write_sheet(run, order, plan)
    whole = read_text(data)
    plain = re.sub(
        r"order \w+ page \d+ of \d+|Wardens of the Shore 2026 · Tidewrack Seabird Trust Shop sheet", "", whole
    )
    plain = strip_origin_marks(plain)
    card = plain.split("Pour card")[-1].split("Time and cost")[0].split(cautions.FIRST, 1)[1]
    assert plan.pour is not None
    return whole, card, [f.code for f in found], plan.pour


def without(*keys: str) -> dict[str, Any]:
    return {key: value for key, value in ENTERED.items() if key not in keys}


def numbers(text: str) -> set[float]:
    return {float(n) for n in re.findall(r"(?<![\w.])\d+(?:\.\d+)?", text)}


def computed(e: dict[str, Any], pour: PourPlan) -> set[float]:
    """Recompute every figure that follows from the entered values; of the plan only what the drawing determines is
    used: area and number of pockets, and the wall around them."""
    out: set[float] = set()
    depth = 30.0 + e.get("overfill", 0.0)
    one = pour.area * depth / 1000
    whole = one * pour.pieces
    for ml in (one, whole):
        out.add(round(ml, 0 if ml >= 100 else 1))
    out |= {round(depth, 2), round(pour.dam.wall, 2), round(pour.dam.line, 2)}
    out |= {float(pour.pieces), *(e[key] for key in ("overfill", "stirring", "demould", "machine") if key in e)}
    if "waste" in e:
        wasted = whole * (1 + e["waste"])
        out |= {100 * e["waste"], round(wasted, 0 if wasted >= 100 else 1)}
        if "density" in e:
            mass = wasted * e["density"]
            out.add(round(mass, 0 if mass >= 100 else 1))
    if "working_time" in e:
        out.add(e["working_time"])
    if "rate" in e:
        out.add(float(round(whole / e["rate"])))
    for key in ("by_volume", "by_weight"):
        out |= {*e.get(key, ())}
    if "layer" not in e:
        return out
    layers = math.ceil(depth / e["layer"])
    out |= {float(n) for n in range(1, layers + 1)}
    if "between_layers" in e:
        out.add(e["between_layers"])
    ends = [e["largest_mix"]] if "largest_mix" in e else []
    if "working_time" in e and "rate" in e:
        ends.append((e["working_time"] - e.get("stirring", 0.0)) * e["rate"])
    share = one / layers * (1 + e.get("waste", 0.0))
    cups = math.ceil(pour.pieces / math.floor(min(ends) / share)) if ends else 1
    sums = {"by_volume": 0.0, "by_weight": 0.0}
    for layer in range(layers):
        for cup in range(cups):
            plaques = pour.pieces // cups + (cup < pour.pieces % cups) if ends else 1
            out |= {
                float(layer * cups + cup + 1),
                float(plaques),
                round(plaques * share, 0 if plaques * share >= 100 else 1),
            }
            for key in sums:
                if key in e and (key == "by_volume" or "density" in e):
                    mix = measure_out(plaques * share * (1 if key == "by_volume" else e["density"]), e[key])
                    out |= {mix.whole, mix.first, mix.second}
                    sums[key] += mix.whole
    return out | {round(value, 1) for value in sums.values()}


def test_every_entered_value_is_on_the_card_with_its_source():
    _, card, codes, pour = sheet(ENTERED)
    assert "pour.data-sheet-incomplete" not in codes
    for key, shown in SHOWN.items():
        assert re.search(shown, card), key
    assert re.search(r"\[pocket\] depth; ratio by volume, .*density, .*: order\.toml\.", card)
    assert "common practice" not in card
    assert numbers(card) <= computed(ENTERED, pour)


@pytest.mark.parametrize("key", ENTERED)
def test_removing_a_value_removes_every_figure_derived_from_it(key):
    """Every figure left on the card follows from what is still entered; the removed value isn't mentioned there or
    on the rest of the sheet."""
    whole, card, codes, pour = sheet(without(key))
    assert numbers(card) - computed(without(key), pour) == set()
    if key in SHOWN and key != "density":
        assert not re.search(SHOWN[key], card), f"{key} is still told"
    if key == "density":
        assert not re.search(r"\d g\b", card)
    if key in ("demould", "machine", "between_layers"):
        assert f"{ENTERED[key]:g} h" not in whole
    assert "common practice" not in card
    needed = key in ("layer", "working_time", "between_layers", "demould", "machine")
    assert ("pour.data-sheet-incomplete" in codes) == needed
    assert ("Read it off the data sheet" in card) == needed


def test_the_ratio_is_missing_only_when_neither_is_entered():
    _, card, codes, pour = sheet(without("by_volume", "by_weight"))
    assert "pour.data-sheet-incomplete" in codes and "the mixing ratio (by volume or by weight)" in card
    assert "Hardener" not in card and numbers(card) <= computed(without("by_volume", "by_weight"), pour)
    _, card, codes, _ = sheet(without("by_volume", "density"))
    assert "pour.data-sheet-incomplete" in codes and "the density of the mix" in card and not re.search(r"\d g\b", card)


def test_without_entered_values_only_the_volumes_are_left():
    _, card, codes, pour = sheet({})
    assert {"pour.data-sheet-incomplete", "pour.no-data-sheet"} <= {*codes}
    assert numbers(card) - computed({}, pour) == set()
    assert f"{pour.pocket_ml:.1f} ml" in card
    for word in ("Hardener", "Layers", "Working time", "%"):
        assert word not in card, word


def test_the_check_itself_finds_a_figure_that_is_not_entered():
    """If the old density of 1.1 were still printed, or 25 mm a layer, it would be found."""
    _, _, _, pour = sheet(without("layer"))
    assert not {1.1, 25.0, 96.0, 48.0, 15.0} & computed(without("layer"), pour)


def test_without_a_limit_per_cup_amounts_are_for_one_plaque():
    _, card, _, pour = sheet(without("largest_mix", "rate"))
    assert "Amounts are for one plaque" in card and pour.each
    assert numbers(card) <= computed(without("largest_mix", "rate"), pour)


def test_a_data_sheet_that_is_only_named_is_no_figure_s_source():
    _, card, codes, _ = sheet({"data_sheet": "Sheet of an invented resin"})
    assert "pour.data-sheet-incomplete" in codes
    assert "Hardener" not in card and not re.search(r"\d h\b", card)
