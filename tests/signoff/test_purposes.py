"""Every key of the order declares what it decides, and has that effect: what is signed is what the client gets."""

from __future__ import annotations

import random

import pytest

from pipeline.core.config.order import Order
from pipeline.core.config.order_table import PURPOSES, OrderTable, find_table_in
from pipeline.core.fingerprint import list_cutting_values, list_earlier_values, list_making_values
from pipeline.cutting.cutters import list_pocket_values, list_resolved_values, resolve_cutter
from tests.long.signed_keys import try_samples
from tests.order_keys import SAMPLES, order_keys


def purposes(model: type[OrderTable] = Order, above: str = "") -> dict[str, str]:
    out: dict[str, str] = {}
    for name, field in model.model_fields.items():
        table = find_table_in(field.annotation)
        out |= {above + name: model.purposes[name]} if table is None else purposes(table, f"{above}{name}.")
    return out


PURPOSE = purposes()


def test_every_key_has_one_purpose():
    assert PURPOSE.keys() == set(order_keys())
    assert set(PURPOSE.values()) == set(PURPOSES)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ({}, "depth has no purpose"),
        ({"piece": "depth", "making": "depth"}, "depth has 2 purposes"),
        ({"piece": "depth width"}, "width is none of its plain keys"),
        ({"piece": "depth inner"}, "inner is none of its plain keys"),
    ],
)
def test_a_key_without_a_purpose_is_an_error_at_import(words, told):
    class Inner(OrderTable, check="size"):
        size: float = 1.0

    with pytest.raises(TypeError, match=told):

        class Outer(OrderTable, **words):
            depth: float = 1.0
            inner: Inner | None = None


def words_of(raw):
    order = Order.model_validate(raw, context={"mm": 25.4 if raw.get("units") == "in" else 1.0})
    cutter, limits = resolve_cutter(order, order.blank.thickness)
    resolved = list_resolved_values(order, cutter, limits)
    return list_cutting_values(order, resolved), list_making_values(order)


def sound(sample):
    return sample.key != "blank.drawing_units" and "no-unit" not in str(sample.before())


@pytest.mark.parametrize("sample", [s for s in SAMPLES if sound(s)], ids=lambda s: f"{s.key}={s.value}")
def test_each_key_is_in_the_values_of_its_purpose(sample):
    (words, making), (words_now, making_now) = words_of(sample.before()), words_of(sample.after())
    purpose = PURPOSE[sample.key]
    if purpose == "piece":
        assert words != words_now
    elif purpose == "making":
        assert making != making_now or sample.value == ["LETTERING"]  # a list of what was a single value before
    elif purpose in ("shop", "check", "paper"):
        assert (words, making) == (words_now, making_now)
    elif purpose == "drawn":
        assert {w for w in words if not w[0].startswith("cutter.")} == {
            w for w in words_now if not w[0].startswith("cutter.")
        }


def test_a_slice_of_all_keys_shows_in_fingerprint_file_or_nowhere():
    """For all of it: `python -m tests.long.signed_keys`."""
    chosen = random.Random(72).sample(SAMPLES, 7)
    assert {PURPOSE[s.key] for s in chosen} == set(PURPOSES)  # one of each purpose
    tried = try_samples(chosen)
    assert tried.silent == [] and sum(tried.shown.values()) == len(chosen)


def test_unused_keys_add_nothing_so_that_codes_stay():
    raw = {
        "title": "Small",
        "list": {"file": "list.csv"},
        "blank": {"shape": "disc", "diameter": 50.0},
        "line": [{"text": "{name}", "face": "noto-sans", "cap_height": 5.0}],
    }
    order = Order.model_validate(raw)
    cutter, limits = resolve_cutter(order, None)
    resolved = list_resolved_values(order, cutter, limits)
    assert list_cutting_values(order, resolved) == list_earlier_values(order, resolved)
    bare = Order.model_validate({**raw, "stock": {}, "finish": {"sanded_off": 0.0}})
    assert list_cutting_values(bare, resolved) == list_earlier_values(order, resolved)


def test_the_pocket_s_last_cutter_is_in_the_fingerprint_and_the_roughing_one_is_not():
    def said(**pocket):
        raw = {
            "title": "Small",
            "list": {"file": "list.csv"},
            "blank": {"drawing": "plate.dxf"},
            "line": [{"text": "{name}", "face": "noto-sans", "cap_height": 5.0}],
            "pocket": {"depth": 6.0, **pocket},
        }
        order = Order.model_validate(raw)
        return dict(list_cutting_values(order, list_pocket_values(order))), dict(list_making_values(order))

    alone, _ = said(rough={"use": "endmill-6"})
    assert alone["pocket.cutter"] == 6.0 and alone["pocket.depth"] == 6.0
    words, making = said(rough={"use": "endmill-6"}, fine={"use": "endmill-3"})
    other, rougher = said(rough={"diameter": 8.0}, fine={"use": "endmill-3"})
    assert words["pocket.cutter"] == 3.0 and words == other
    assert making["pocket.rough"] == "endmill-6" and rougher["pocket.rough"] == "8"
