"""Every key of the order has values to try, and each of them makes a readable order."""

from __future__ import annotations

from typing import Annotated

import pytest
from pydantic import BaseModel, Field

from pipeline.core.config.order_table import Length, OrderTable
from pipeline.core.storage.cache import Cache
from pipeline.intake.drawing.blank_drawing import read_blank
from pipeline.intake.order.order_file import read_order
from pipeline.intake.recipients.read_list import read_list
from pipeline.outputs.cut_files.registration_marks import place_marks
from pipeline.shopfloor.shop_plan import check_order
from tests.order_keys import BASE, OUT, SAMPLES, in_inches, order_keys, to_toml, write_folder, write_order


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return write_folder(tmp_path_factory.mktemp("small")).parent


@pytest.fixture(scope="module")
def drawings():
    """Read each drawing once for the same keys of `[blank]`."""
    return Cache(None)


@pytest.fixture(scope="module")
def as_read():
    """Return the values of an order without the key that is tried: the same for most keys, so read once."""
    read = {}

    def values(folder, raw):
        text = to_toml(raw)
        if text not in read:
            read[text] = read_order(write_order(folder, raw)).order.model_dump()
        return read[text]

    return values


@pytest.fixture(scope="module")
def recipients():
    """Read each list once for the same keys of `[list]` and the same texts of the lines."""
    listed = {}

    def read_once(folder):
        asked = repr((folder.order.list, [line.text for line in folder.order.line]))
        if asked not in listed:
            listed[asked] = read_list(folder).recipients
        return listed[asked]

    return read_once


def test_every_key_of_the_order_has_values_to_try():
    assert {sample.key for sample in SAMPLES} == set(order_keys())


class Inner(OrderTable, check="size"):
    size: Length = 1.0


class Outer(BaseModel):
    plain: str
    one: Inner = Inner()
    maybe: Inner | None = None
    several: Annotated[tuple[Inner, ...], Field(min_length=1)]


def test_keys_are_found_in_every_kind_of_table():
    assert order_keys(Outer) == ("plain", "one.size", "maybe.size", "several.size")


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda s: f"{s.key}={'out' if s.value is OUT else s.value}")
def test_each_value_makes_a_valid_order_of_its_own(folder, drawings, recipients, as_read, sample):
    """Valid as a whole: order file, drawing, list, typefaces and shop floor; and different from the order without
    it."""
    before = as_read(folder, sample.before())
    read = read_order(write_order(folder, sample.after()))
    blank, _ = read_blank(read, drawings)
    check_order(read, blank)
    place_marks(read, blank)
    assert recipients(read)
    assert read.order.model_dump() != before or sample.key in {"list.header", "proof.language", "units"}


def test_inches_change_no_length(folder):
    assert to_toml(in_inches(BASE)) != to_toml(BASE)
    again = read_order(write_order(folder, in_inches(BASE))).order
    assert again.line[0].cap_height == pytest.approx(6.0)
    assert again.line[0].tracking == 0 and again.limits.stroke == pytest.approx(0.2)
    assert again.board is not None and again.board.size[0].length == pytest.approx(900.0)
