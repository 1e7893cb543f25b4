"""Plaques as text and back: nothing is lost, nothing is believed that is not whole."""

from __future__ import annotations

import json
from dataclasses import fields, is_dataclass, replace

import numpy as np
import pytest

from pipeline.core.model import Artwork, Plaque, Shape, SizesTried
from pipeline.core.plain import Plain, Unknown
from pipeline.geometry.curves import Chain
from pipeline.geometry.grow import Grown
from tests import builders


@pytest.fixture(scope="module")
def plaque() -> Plaque:
    """With every field filled: grown outlines, a turned cluster with parts, an empty and a full finding."""
    made = builders.plaque(5, "Ada Kittiwake", stem="NotoSans")
    first, *others = made.artwork.lines
    row = first.rows[0]
    parts = (row.pieces[0].shape, row.pieces[1].shape)
    cluster = replace(
        parts[0],
        key="ab",
        glyphs=tuple(g for part in parts for g in part.glyphs),
        parts=parts,
        single_line=True,
        joins=True,
    )
    pieces = (replace(row.pieces[0], shape=cluster, turn=0.25), *row.pieces[1:])
    chains = (Chain(np.array([[0.1, 1 / 3, -0.5], [2, 3, 0], [4, 5, 1]]), False),)
    first = replace(
        first, rows=(replace(row, pieces=pieces),), grown=(Grown(chains, 0.5, 0.001),) * len(pieces), letter_width=87.5
    )
    return replace(
        made,
        artwork=Artwork(lines=(first, *others)),
        cut_file="cut/a.dxf",
        back_file="cut/a-back.dxf",
        also_files=("cut/a.svg",),
        proved=(("area", 1 / 7), ("bytes", 5.0)),
        sizes=(SizesTried(1, "Ada Kittiwake", 8.0, None),),
    )


def alike(a: object, b: object) -> bool:
    """Equal in every field, however deep."""
    if is_dataclass(a):
        return type(a) is type(b) and all(alike(getattr(a, f.name), getattr(b, f.name)) for f in fields(a))
    if isinstance(a, np.ndarray):
        return np.array_equal(a, b)
    if isinstance(a, tuple):
        return isinstance(b, tuple) and len(a) == len(b) and all(map(alike, a, b))
    return type(a) is type(b) and a == b


@pytest.mark.parametrize("shared", [(), (2, 3), (1, 2, 3)])
def test_a_plaque_comes_back_as_it_was(plaque, shared):
    written = Plain(shared, lambda name: None)
    text = written.write(plaque)
    assert "\n" not in text and text.isascii()
    back = Plain(shared, dict(written.texts).get).read(text, plaque.recipient)
    assert alike(back, plaque)
    # lines and their measures; only the first line has its sizes filled in
    named = {mark: sum(name.startswith(mark) for name in written.texts) for mark in "lmz"}
    assert named == {"l": len(shared), "m": len(shared), "z": len({1} & set(shared))}


def test_places_keep_the_sign_of_a_nought_and_may_differ(plaque):
    line = plaque.artwork.lines[1]
    row = line.rows[0]
    for ys in ([0.0, -0.0], [-0.0, -0.0], [0.0, 0.0], [4.5, 4.5], [4.5, 4.25]):
        pieces = tuple(replace(p, y=y) for p, y in zip(row.pieces[:2], ys, strict=True))
        made = replace(plaque, artwork=Artwork(lines=(replace(line, rows=(replace(row, pieces=pieces),)),)))
        written = Plain((), lambda name: None)
        text = written.write(made)
        back = Plain((), dict(written.texts).get).read(text, made.recipient)
        assert [str(p.y) for p in back.artwork.pieces()] == [str(y) for y in ys]


def test_every_field_is_carried(plaque):
    """A field added to the model is added here and to what is written."""
    bare = Plaque(recipient=plaque.recipient, text=(), artwork=None)
    filled = {f.name for f in fields(Plaque) if getattr(plaque, f.name) != getattr(bare, f.name)}
    assert filled | {"recipient", "findings", "measures"} == {f.name for f in fields(Plaque)}
    (line, *_) = plaque.artwork.lines
    for thing in (line, line.rows[0], line.rows[0].pieces[0], line.rows[0].pieces[0].shape):
        for f in fields(thing):
            if f.name not in ("side", "tracking"):
                assert getattr(thing, f.name) not in (None, (), False, 0), f.name


def test_what_is_the_same_is_written_once(plaque):
    plain = Plain((), lambda name: None)
    plain.write(plaque)
    keys = [json.loads(text)[0][0] for name, text in plain.texts.items() if name.startswith("s")]
    assert len(keys) == len(set(keys))
    plain.texts.clear()
    plain.write(plaque)
    assert plain.texts == {}


@pytest.mark.parametrize(
    "spoil",
    [
        lambda text, texts: (text[:-5], texts),
        lambda text, texts: ("[]", texts),
        lambda text, texts: ("null", texts),
        lambda text, texts: (text, {}),
        lambda text, texts: (text, {name: t.replace("0", "1") for name, t in texts.items()}),
        lambda text, texts: (text, dict(zip(texts, [*list(texts.values())[1:], "[]"], strict=True))),
    ],
)
def test_what_is_not_whole_is_not_believed(plaque, spoil):
    written = Plain((2,), lambda name: None)
    text, texts = spoil(written.write(plaque), dict(written.texts))
    with pytest.raises(Unknown):
        Plain((2,), texts.get).read(text, plaque.recipient)


def test_shapes_are_one_object_again(plaque):
    written = Plain((), lambda name: None)
    text = written.write(plaque)
    reader = Plain((), dict(written.texts).get)
    one, other = reader.read(text, plaque.recipient), reader.read(text, plaque.recipient)
    shapes = [[p.shape for p in made.artwork.pieces()] for made in (one, other)]
    assert all(a is b and isinstance(a, Shape) for a, b in zip(*shapes, strict=True))
