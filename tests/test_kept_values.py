"""What a run keeps, put out of shape: whole files of sound JSON in which no value is of the form it was. They are made
anew, and nothing else shows."""

from __future__ import annotations

import json
import random
import shutil
import zlib
from collections import Counter
from pathlib import Path

import pytest

from pipeline.run import run_order

ROOT = Path(__file__).parents[1]

ORDER = """\
title  = "Wardens of the Shore"
client = "Tidewrack Seabird Trust"

[list]
file    = "names.csv"
columns = { name = "Name" }

[blank]
drawing   = "plaque.dxf"
layers    = { edge = "EDGE", zone = "LETTERING", keep_out = "KEEP_OUT", pocket = "POCKET" }
thickness = 19.0
margin    = 4.0

[cutter]
use = "vbit-60"

[limits]
stroke  = 0.02
land    = 0.01
deepest = 3.0

[[line]]
text       = "{name}"
face       = "roboto-slab"
cap_height = 8.0

[[line]]
text       = "{name}"
face       = "great-vibes"
cap_height = 9.0

[[line]]
text       = "Shore"
face       = "hershey-futural"
cap_height = 5.0

[finish]
sanded_off = 0.05
compensate = true

[pocket]
depth          = 14.0
rough          = { use = "endmill-6" }
fine           = { use = "endmill-3" }
depth_per_pass = 2.0

[files]
also = ["svg"]
"""

KINDS = {
    ("blank", "blank"),
    ("fits", "arcs"),
    ("frame", "frame"),
    ("grown", "chains"),
    ("letters", "places"),
    ("measures", "distance"),
    ("measures", "joint"),
    ("measures", "shape"),
    ("outlines", "cluster"),
    ("outlines", "glyph"),
    ("plaques", "letters"),
    ("plaques", "plaques"),
    ("rest", "loop"),
    ("ways", "ways"),
}
"""Every kind of file and every space in it that a run makes."""


@pytest.fixture(scope="module")
def whole(tmp_path_factory) -> tuple[Path, dict[str, bytes], dict[str, bytes]]:
    """An order that keeps values of every kind; its files; what it kept."""
    folder = tmp_path_factory.mktemp("whole")
    (folder / "order").mkdir()
    (folder / "order" / "order.toml").write_text(ORDER, encoding="utf-8")
    (folder / "order" / "names.csv").write_text("Name\nIlin Ten\nLin Nil\n", encoding="utf-8")
    shutil.copy(ROOT / "sample_orders" / "seabird-trust" / "plaque.dxf", folder / "order")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CACHE_HOME", str(folder / "kept"))
        done = run_order(folder / "order", out=folder / "out", workers=1)
    assert [p.state for p in done.outcome.plaques] != ["stopped", "stopped"]
    return folder / "order", files_of(folder / "out"), files_of(folder / "kept" / "plaques")


def files_of(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def lines_of(data: bytes) -> list[tuple[str, str, str]]:
    """Space, key and JSON text of every value of a file."""
    _, _, body = data.partition(b"\n")
    out = []
    for line in body.decode().split("\n"):
        name, _, text = line.partition("\t")
        space, _, key = name.partition("\x1f")
        out.append((space, key, text))
    return out


def with_lines(data: bytes, lines: list[tuple[str, str, str]]) -> bytes:
    """The file with other values, as sound as it was."""
    head, _, _ = data.partition(b"\n")
    body = "\n".join(f"{space}\x1f{key}\t{text}" for space, key, text in lines).encode()
    return b"%s %08x\n%s" % (head.rpartition(b" ")[0], zlib.crc32(body), body)


NEVER = {"": 0}
"""Nothing of this form is kept anywhere."""


def out_of_shape(value: object, chance: random.Random) -> object:
    """The value changed in one place so that it is of another form: something else put there, or a number left out."""
    places = list(places_of(value))
    at = chance.choice(places)
    found = value
    for step in at:
        found = found[step]
    if isinstance(found, list) and found and type(found[-1]) is float and chance.random() < 0.7:
        changed: object = found[:-1]
    elif type(found) in {int, float}:
        changed = chance.choice([NEVER, "x", [], [found]])
    else:
        changed = NEVER if at else chance.choice([NEVER, None, "x", 7, True])
    return replaced(value, at, changed)


def places_of(value: object, at: tuple = ()):
    yield at
    if isinstance(value, dict | list):
        for step in value if isinstance(value, dict) else range(len(value)):
            yield from places_of(value[step], (*at, step))


def replaced(value, at: tuple, by: object):
    if not at:
        return by
    out = value.copy()
    out[at[0]] = replaced(value[at[0]], at[1:], by)
    return out


def kind_of(name: str, space: str) -> tuple[str, str]:
    file = Path(name).name.split("-")[0]
    return file, "ways" if file == "ways" else space


def test_the_order_keeps_every_kind(whole):
    found = Counter(kind_of(name, space) for name, data in whole[2].items() for space, _, _ in lines_of(data))
    assert found.keys() == KINDS


@pytest.mark.parametrize("seed", range(3))
def test_values_out_of_shape_are_made_anew(whole, tmp_path, monkeypatch, seed):
    order, files, kept = whole
    chance = random.Random(seed)
    for name, data in kept.items():
        lines = [(s, k, json.dumps(out_of_shape(json.loads(text), chance))) for s, k, text in lines_of(data)]
        file = tmp_path / "kept" / "plaques" / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(with_lines(data, lines))
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "kept"))
    run_order(order, out=tmp_path / "out", workers=1)
    assert files_of(tmp_path / "out") == files
    now = files_of(tmp_path / "kept" / "plaques")
    assert now.keys() == kept.keys()
    for name, data in kept.items():
        again = {(space, key): text for space, key, text in lines_of(now[name])}
        assert all(again[space, key] == text for space, key, text in lines_of(data)), name
