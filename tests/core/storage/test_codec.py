"""Values encoded as text and decoded: nothing is lost, nothing of another form is accepted."""

from __future__ import annotations

import contextlib
import json
import random
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Literal

import numpy as np
import pytest

from pipeline.core.findings import Edit, Severity
from pipeline.core.model import Artwork, LineMeasure, Plaque, PolicySizes, SetLine, Shape
from pipeline.core.storage.codec import CodecError, SharedParts, decode_text, encode_text
from pipeline.geometry.curves import Array, Chain
from pipeline.geometry.offset import OffsetOutline
from tests import builders

BY_NAME, IN_PLACE = (Shape, OffsetOutline), (SetLine, LineMeasure, PolicySizes)


@pytest.fixture(scope="module")
def plaque() -> Plaque:
    """Return a plaque with grown outlines, a rotated cluster with parts, findings, and every field that a run fills."""
    made = builders.plaque(5, "Ada Kittiwake", stem="NotoSans", findings=(builders.too_long(5, "Ada"),))
    first, *others = made.artwork.lines
    row = first.rows[0]
    parts = (row.pieces[0].shape, row.pieces[1].shape)
    cluster = replace(parts[0], key="ab", glyphs=tuple(g for p in parts for g in p.glyphs), parts=parts, joins=True)
    pieces = (replace(row.pieces[0], shape=cluster, turn=0.25), *row.pieces[1:])
    chains = (Chain(np.array([[0.1, 1 / 3, -0.5], [2, 3, -0.0], [4, 5, 1]]), False),)
    grown = (OffsetOutline(chains, 0.5, 0.001),) * len(pieces)
    first = replace(first, rows=(replace(row, pieces=pieces),), grown=grown, letter_width=87.5)
    sizes = (PolicySizes(1, "Ada Kittiwake", 8.0, None),)
    return replace(made, artwork=Artwork(lines=(first, *others)), proved=(("area", 1 / 7),), sizes=sizes)


def alike(a: object, b: object) -> bool:
    """Return whether they are equal in every field, at any depth, including the sign of zero."""
    if is_dataclass(a):
        return type(a) is type(b) and all(alike(getattr(a, f.name), getattr(b, f.name)) for f in fields(a))
    if isinstance(a, np.ndarray):
        return a.tobytes() == b.tobytes() and a.shape == b.shape and a.dtype == b.dtype
    if isinstance(a, tuple):
        return isinstance(b, tuple) and len(a) == len(b) and all(map(alike, a, b))
    return type(a) is type(b) and repr(a) == repr(b)


def test_a_plaque_is_decoded_unchanged(plaque):
    written = SharedParts(BY_NAME, IN_PLACE)
    text = encode_text(Plaque, plaque, written)
    assert "\n" not in text and text.isascii()
    assert alike(decode_text(Plaque, text, SharedParts(BY_NAME, IN_PLACE, written.new.get)), plaque)
    assert alike(decode_text(Plaque, encode_text(Plaque, plaque)), plaque)


@pytest.mark.parametrize("value", ["a", 3, 3.0, 1 / 3, True, (), ("a", "b"), ("3",), None])
def test_an_edit_is_decoded_with_a_value_of_any_kind(value):
    edit = Edit(table="list", key="columns.name", value=value, number=None)
    assert alike(decode_text(Edit, encode_text(Edit, edit)), edit)


@pytest.mark.parametrize("value", [[1], [["a"]], {"a": 1}, [None]])
def test_an_edit_with_a_malformed_value_is_rejected(value):
    plain = json.loads(encode_text(Edit, Edit(table="list", key="header", value="here")))
    text = json.dumps([value if part == "here" else part for part in plain])
    with pytest.raises(CodecError):
        decode_text(Edit, text)


def test_shared_values_are_written_once_and_decoded_as_one_object(plaque):
    written = SharedParts(BY_NAME, IN_PLACE)
    text = encode_text(Plaque, plaque, written)
    shapes = {p.shape.key for p in plaque.artwork.list_pieces()} | {"ab"}
    assert len(written.new) >= len(shapes)
    texts = dict(written.new)
    written.new.clear()
    assert encode_text(Plaque, plaque, written) == text and not written.new
    reading = SharedParts(BY_NAME, IN_PLACE, texts.get)
    one, other = decode_text(Plaque, text, reading), decode_text(Plaque, text, reading)
    assert one.artwork.lines[1] is other.artwork.lines[1]
    assert all(a.shape is b.shape for a, b in zip(one.artwork.list_pieces(), other.artwork.list_pieces(), strict=True))


@dataclass(frozen=True)
class Every:
    """One field of each kind."""

    whole: int
    real: float
    word: str
    yes: bool
    maybe: float | None
    fact: str | float | int
    side: Literal["front", "back"]
    severity: Severity
    pair: tuple[float, str]
    many: tuple[tuple[int, ...], ...]
    numbers: Array


EVERY = Every(3, -0.0, "Ä\n", True, None, 7, "back", Severity.ASK, (1e-300, ""), ((1, 2), ()), np.eye(2))


def test_every_kind_of_value_is_decoded():
    assert alike(decode_text(Every, encode_text(Every, EVERY)), EVERY)
    assert decode_text(Every, encode_text(Every, replace(EVERY, real=float("inf")))).real == float("inf")


@pytest.mark.parametrize(
    ("at", "wrong"),
    [
        (0, [1.0, True, None, "1", []]),
        (1, [True, None, "1.5", [1.5]]),
        (2, [None, 1, ["a"]]),
        (3, [0, 1, None, "true"]),
        (4, ["x", True, []]),
        (5, [None, True, []]),
        (6, ["left", None, 1, []]),
        (7, ["worse", None, {}]),
        (8, [[], [1.5], ["", 1.5], [1.5, "", ""], None]),
        (9, [None, 3, [3], [["a"]]]),
        (10, [None, [], [[2, 2], "AAAA"], [[2, 2], "not base64!"], [[-1], 5], [["x"], ""], [[2, 2], ""]]),
    ],
)
def test_a_value_of_another_kind_is_rejected(at, wrong):
    plain = json.loads(encode_text(Every, EVERY))
    for value in wrong:
        with pytest.raises(CodecError):
            decode_text(Every, json.dumps([*plain[:at], value, *plain[at + 1 :]]))


@pytest.mark.parametrize("text", ["", "null", "[]", "{}", "[1", "3", '"x"', "[" * 100_000])
def test_text_that_is_not_a_value_is_rejected(text):
    with pytest.raises(CodecError):
        decode_text(Every, text)


def test_missing_or_changed_parts_are_rejected(plaque):
    written = SharedParts(BY_NAME, IN_PLACE)
    text = encode_text(Plaque, plaque, written)
    turned = dict(zip(written.new, [*list(written.new.values())[1:], "[]"], strict=True))
    for find in ({}.get, lambda name: written.new[name].replace("0", "1"), turned.get):
        with pytest.raises(CodecError):
            decode_text(Plaque, text, SharedParts(BY_NAME, IN_PLACE, find))


def test_damage_anywhere_is_a_mismatch_or_another_value_never_a_crash(plaque):
    text, chance = encode_text(Plaque, plaque), random.Random(5)
    for _ in range(300):
        k = chance.randrange(len(text))
        with contextlib.suppress(CodecError):
            decode_text(Plaque, text[:k] + chance.choice('0"[]{},a') + text[k + 1 :])


def test_union_values_are_decoded_and_unencodable_ones_refused():
    assert decode_text(Chain | OffsetOutline, encode_text(Chain | OffsetOutline, OffsetOutline((), 1.0, 0.5))).by == 1.0
    with pytest.raises(TypeError, match="cannot be written"):
        encode_text(dict[str, int], {})
