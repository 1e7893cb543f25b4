"""Cached values that are malformed or swapped: they are recomputed, and nothing else changes."""

from __future__ import annotations

import json
import random
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline.core.storage import cache
from pipeline.core.storage.cache import FILE
from pipeline.run import run_order
from tests.test_every_stop import draw_plate

Row = tuple[bytes, bytes, bytes, str]  # name, seal, content, space

ORDER = """\
title  = "Wardens of the Shore"
client = "Tidewrack Seabird Trust"

[list]
file    = "names.csv"
columns = { name = "Name" }

[blank]
drawing   = "plaque.dxf"
layers    = { edge = "EDGE", zone = "LETTERING", pocket = "POCKET" }
thickness = 19.0
margin    = 1.0

[cutter]
use = "vbit-60"

[limits]
stroke  = 0.02
land    = 0.01
deepest = 3.0

[[line]]
text       = "{name}"
face       = "roboto-slab"
cap_height = 4.0

[[line]]
text       = "{name}"
face       = "great-vibes"
cap_height = 4.0

[[artwork]]
file  = "ring.svg"
at    = [40.0, 40.0]
side  = "back"
cut   = "line"
depth = 0.4
width = 8.0

[finish]
sanded_off = 0.05
compensate = true

[pocket]
depth          = 6.0
rough          = { use = "endmill-6" }
fine           = { use = "endmill-3" }
depth_per_pass = 6.0

[reading]
distance = 500.0

[files]
also = ["svg"]
"""

RING = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 8 8"><circle cx="4" cy="4" r="3"/></svg>'
SPACES = {
    "artwork",
    "blank",
    "cluster",
    "design",
    "distance",
    "fit",
    "frame",
    "glyph",
    "grown",
    "joint",
    "letters",
    "measured",
    "places",
    "plaque",
    "rest",
    "way",
}
"""Every space of the cache in which a run keeps something."""


@pytest.fixture(scope="module")
def whole(tmp_path_factory) -> tuple[Path, dict[str, bytes], list[Row]]:
    """Return an order that caches values of every kind; its files; its cache."""
    folder = tmp_path_factory.mktemp("whole")
    (folder / "order").mkdir()
    (folder / "order" / "order.toml").write_text(ORDER, encoding="utf-8")
    (folder / "order" / "ring.svg").write_text(RING, encoding="utf-8")
    (folder / "order" / "names.csv").write_text("Name\nLin\nLil\n", encoding="utf-8")
    (folder / "order" / "plaque.dxf").write_text(draw_plate(blocked=False, pocket=True), encoding="utf-8")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CACHE_HOME", str(folder / "kept"))
        done = run_order(folder / "order", out=folder / "out", workers=1)
    assert [p.state for p in done.outcome.plaques] != ["stopped", "stopped"]
    return folder / "order", files_of(folder / "out"), rows_of(folder / "kept")


def files_of(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def rows_of(folder: Path) -> list[Row]:
    db = sqlite3.connect(folder / "plaques" / FILE)
    rows = db.execute("SELECT name, seal, content, space FROM kept ORDER BY space, name").fetchall()
    db.close()
    return rows


def with_rows(folder: Path, rows: list[Row], change: Callable[[list[Row]], list[Row]]) -> None:
    """Return the cache of that run, with its rows changed."""
    (folder / "plaques").mkdir(parents=True)
    kept = cache.Cache(folder / "plaques")
    kept.put_text("none", "none", "0")
    kept.close()
    with sqlite3.connect(folder / "plaques" / FILE) as db:
        db.executemany("INSERT INTO kept VALUES (?, ?, ?, ?)", change(rows))
    db.close()


def of_space(rows: list[Row], space: str) -> list[Row]:
    return [row for row in rows if row[3] == space]


def test_the_order_caches_every_kind(whole):
    assert {space for *_, space in whole[2]} == SPACES


def test_swapped_rows_are_recomputed(whole, tmp_path, monkeypatch):
    """The contents of each space moved on by one: every other one with its seal, the others under that of their new
    row."""
    order, files, kept = whole

    def turned(rows: list[Row]) -> list[Row]:
        out = []
        for space in SPACES:
            here = of_space(rows, space)
            for n, ((name, own, *_), (_, seal, content, _)) in enumerate(zip(here, [*here[1:], here[0]], strict=True)):
                out.append((name, seal if n % 2 else own, content, space))
        assert out != rows
        return out

    with_rows(tmp_path / "kept", kept, turned)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "kept"))
    run_order(order, out=tmp_path / "out", workers=1)
    assert files_of(tmp_path / "out") == files
    assert {row[0]: row[2] for row in rows_of(tmp_path / "kept") if row[3] != "none"} == {r[0]: r[2] for r in kept}


NEVER = {"": 0}
"""Nothing of this form is kept anywhere."""


def out_of_shape(value: object, chance: random.Random) -> object:
    """Return the value changed in one place so that it has another form."""
    places = list(places_of(value))
    at = chance.choice(places)
    return replaced(value, at, NEVER if at else chance.choice([NEVER, None, True]))


def places_of(value: object, at: tuple = ()):
    yield at
    if isinstance(value, list):
        for step in range(len(value)):
            yield from places_of(value[step], (*at, step))


def replaced(value, at: tuple, by: object):
    if not at:
        return by
    out = value.copy()
    out[at[0]] = replaced(value[at[0]], at[1:], by)
    return out


def test_malformed_values_are_recomputed(whole, tmp_path, monkeypatch):
    """Sealed as if they were valid."""
    order, files, kept = whole
    chance = random.Random(0)

    def spoilt(rows: list[Row]) -> list[Row]:
        out = []
        for name, _, content, space in rows:
            changed = json.dumps(out_of_shape(json.loads(content), chance)).encode()
            out.append((name, cache._seal(name, changed), changed, space))
        return out

    with_rows(tmp_path / "kept", kept, spoilt)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "kept"))
    run_order(order, out=tmp_path / "out", workers=1)
    assert files_of(tmp_path / "out") == files
    assert {row[0]: row[2] for row in rows_of(tmp_path / "kept") if row[3] != "none"} == {r[0]: r[2] for r in kept}
