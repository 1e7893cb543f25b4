"""Every number of an order file has limits: a value beyond them is refused by name, in this process and immediately."""

import copy
import itertools
import json
import time
import tomllib

import pytest
from annotated_types import Ge, Gt, Le, Lt
from pydantic import BaseModel

from pipeline.core.config.order import Order
from pipeline.core.errors import CannotRun
from pipeline.intake.order.order_file import read_order

WHOLE = """
title = "Keepers of the Reef"
[list]
file = "keepers.csv"
header = 1
limits = {}
[blank]
shape = "rectangle"
width = 120.0
height = 60.0
corner_radius = 2.0
thickness = 19.0
[cutter]
kind = "v-bit"
angle = 60.0
[limits]
[[line]]
text = "{name}"
face = "noto-sans"
cap_height = 8.0
axes = { wght = 500.0 }
arc = { radius = 40.0, centre = [60.0, 0.0] }
[[line]]
text = "Skerry"
face = "noto-sans"
cap_height = 4.0
side = "back"
[[artwork]]
file = "crest.svg"
at = [20.0, 30.0]
cut = "line"
[finish]
[reading]
[files]
registration = { at = [[-9.0, 30.0], [129.0, 30.0]], sheet = 20.0 }
[stock]
[pocket]
depth = 6.0
rough = { diameter = 6.0 }
fine = { diameter = 3.0 }
[pour]
by_volume = [2.0, 1.0]
by_weight = [100.0, 47.0]
[jig]
columns = 1
[board]
size = [{ length = 2000.0, width = 200.0, defects = [{ at = [100.0, 50.0], diameter = 20.0 }] }]
screws = [{ at = [10.0, 10.0], diameter = 5.0 }]
[rates]
[labels]
"""
BAD = (
    "nan", "inf", "-inf", "1e308", "-1e308", "1e30", "1e12", "-1e12", "1" + "0" * 18, "-1" + "0" * 18, "1e-300",
    "1" + "0" * 200, "[]",
)  # fmt: skip
"""What no key takes: each is beyond any limit, or no number. 1e-300 is only too small where a length is meant."""


def numbers(model: type[BaseModel] | object, raw: object, place: tuple = ()) -> list[tuple]:
    """Return the places of all numbers of an order, by its models: for tables and lists, every one in `WHOLE`."""
    found = []
    if isinstance(model, type) and issubclass(model, BaseModel):
        for key, info in model.model_fields.items():
            inner = raw.get(key) if isinstance(raw, dict) else None
            found += numbers((info.annotation, info.metadata), inner, (*place, key))
        return found
    annotation, _ = model
    parts = inner_types(annotation)
    table = next((p for p in parts if isinstance(p, type) and issubclass(p, BaseModel)), None)
    if table is not None:
        held = raw if isinstance(raw, list) else [raw]
        for number, one in enumerate(held):
            found += numbers(table, one or {}, (*place, number) if isinstance(raw, list) else place)
        return found
    if float in parts or (int in parts and bool not in parts):
        if isinstance(raw, list):
            flat = [(n,) for n, one in enumerate(raw) if not isinstance(one, list)]
            flat += [(n, m) for n, one in enumerate(raw) if isinstance(one, list) for m in range(len(one))]
            return [(*place, *where) for where in flat]
        if dict in parts and isinstance(raw, dict):
            return [(*place, key) for key in raw]
        return [place]
    return []


def inner_types(annotation: object) -> set:
    """Return all classes an annotation names, at any depth."""
    args = getattr(annotation, "__args__", ())
    origin = getattr(annotation, "__origin__", None)
    out = {annotation} if isinstance(annotation, type) and not args else set()
    if isinstance(origin, type):
        out.add(origin)
    for arg in args:
        out |= inner_types(arg)
    return out


def toml(value: object) -> str:
    """Format a value as TOML; `Raw` texts are used as they are."""
    if isinstance(value, Raw):
        return str(value)
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {toml(inner)}" for key, inner in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(map(toml, value)) + "]"
    return json.dumps(value)


class Raw(str):
    """Text that goes into the file unchanged."""


ORDER = tomllib.loads(WHOLE)
# the line on the back is like the first
PLACES = [place for place in numbers(Order, ORDER) if place[:2] != ("line", 1)]


def with_value(place: tuple, value: str, units: str = "mm") -> str:
    """Return the order file with this value in this place."""
    order: dict = {"units": units, **copy.deepcopy(ORDER)}
    here = order
    for part, after in itertools.pairwise(place):
        if isinstance(here, dict) and part not in here:
            here[part] = [0.0, 0.0] if isinstance(after, int) else {}
        here = here[part]
    here[place[-1]] = Raw(value)
    return "\n".join(f"{key} = {toml(inner)}" for key, inner in order.items())


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "keepers.csv").write_text("Keeper\nIda Vex\n", encoding="utf-8")
    (tmp_path / "crest.svg").write_text("<svg/>", encoding="utf-8")
    return tmp_path


def refused(folder, text: str) -> str:
    (folder / "order.toml").write_text(text, encoding="utf-8")
    with pytest.raises(CannotRun) as stopped:
        read_order(folder)
    return str(stopped.value)


def test_the_order_of_this_test_is_good_and_has_every_table(folder):
    (folder / "order.toml").write_text(WHOLE, encoding="utf-8")
    read_order(folder)
    assert len(PLACES) > 95


def try_bad_numbers(folder, step):
    """Write every step-th of the impossible numbers, another one first at each key; return how many were refused."""
    tried, slow = 0, 0.0
    for number, place in enumerate(PLACES):
        key = next(part for part in reversed(place) if isinstance(part, str))
        for value in BAD[number % step :: step]:
            begun = time.process_time()
            text = with_value(place, value)
            if value == "1e-300" and not refuses_the_smallest(place):
                continue
            message = refused(folder, text)
            slow = max(slow, time.process_time() - begun)
            assert key in message, (place, value, message)
            assert len(message) < 1200, (place, value, message)
            tried += 1
    assert slow < 2.0
    return tried


def test_no_key_accepts_an_impossible_number(folder):
    """A quarter of them at each key; all at all: `python -m tests.long.bad_numbers`."""
    assert try_bad_numbers(folder, 4) > 375


def refuses_the_smallest(place: tuple) -> bool:
    """Return whether 1e-300 is refused at `place`: by all lengths, by whole numbers, and by divisors."""
    try:
        Order.model_validate(tomllib.loads(with_value(place, "1e-300")), context={"mm": 1.0})
    except ValueError:
        return True
    info = bounds_of(place)
    assert info["least"] is not None and info["least"] <= 0, place  # zero itself is allowed there
    return False


def bounds_of(place: tuple) -> dict:
    """Return the limits of a number as the models state them."""
    model, info = Order, None
    for part in place:
        if isinstance(part, int) or model is None:
            continue
        info = model.model_fields[part]
        model = next((p for p in inner_types(info.annotation) if issubclass(p, BaseModel)), None)
    marks = list(info.metadata) + [m for arg in every_arg(info.annotation) for m in getattr(arg, "__metadata__", ())]
    for mark in list(marks):
        marks += list(getattr(mark, "metadata", ()))
    least = [m.ge if isinstance(m, Ge) else m.gt for m in marks if isinstance(m, Ge | Gt)]
    most = [m.le if isinstance(m, Le) else m.lt for m in marks if isinstance(m, Le | Lt)]
    return {"least": max(least, default=None), "most": min(most, default=None)}


def every_arg(annotation: object) -> list:
    args = list(getattr(annotation, "__args__", ()))
    return [annotation, *args, *[inner for arg in args for inner in every_arg(arg)]]


@pytest.mark.parametrize(
    ("units", "value", "limit"),
    [("mm", "10000.1", "at most 10,000"), ("in", "394.0", "at most 393.701"), ("mm", "0.00001", "at least 0.0001")],
)
def test_a_length_is_compared_with_its_limit_in_the_unit_of_the_order(folder, units, value, limit):
    assert limit in refused(folder, with_value(("blank", "width"), value, units))


def test_an_endlessly_nested_file_is_refused(folder):
    for text in (
        "a = " + "[" * 5000 + "]" * 5000,
        "a = " + "{a=" * 5000 + "1" + "}" * 5000,
        ".".join(["a"] * 5000) + " = 1",
        "[" + ".".join(["a"] * 5000) + "]",
        "settled.a = [[[[[[[[[[[[[[[[[[1]]]]]]]]]]]]]]]]]]",
    ):
        assert "16 deep" in refused(folder, text)


def test_a_number_of_thousands_of_digits_is_refused(folder):
    assert "thousands of digits" in refused(folder, with_value(("list", "header"), "1" * 5000))
    message = refused(folder, with_value(("list", "header"), "1" * 4000))
    assert "header" in message
    assert len(message) < 1000


def test_texts_have_limits_too(folder):
    assert "title" in (message := refused(folder, with_value(("title",), json.dumps("a" * 100_000))))
    assert "at most 300 characters" in message
    assert len(message) < 1000
    assert "at most 2,000 characters" in refused(folder, with_value(("proof", "message"), json.dumps("a" * 3000)))


def test_a_file_of_megabytes_is_refused(folder):
    assert "at most 1 MB" in refused(folder, WHOLE + "#" * 2**20)
