"""Widened letters, computed once and cached: the cache returns the same curves as computing."""

from dataclasses import replace

import pytest

from pipeline.core.storage import cache_key
from pipeline.core.storage.cache import Cache
from pipeline.layout import shape_hulls
from pipeline.layout.shape_hulls import ShapeHulls
from tests.builders import shape


def numbers(made):
    return made.by, made.deviation, [(c.closed, c.vertices.tobytes()) for c in made.chains]


def test_cached_widened_letters_are_bit_identical(tmp_path, monkeypatch):
    letters = [shape(char, "NotoSans") for char in "ae"]
    asked = [(letter, by, 1.5) for letter in letters for by in (8.0, 8.25)]
    fresh = [numbers(ShapeHulls().grow_shape(*one)) for one in asked]
    cache = Cache(tmp_path)
    first = ShapeHulls(cache)
    assert [numbers(first.grow_shape(*one)) for one in asked] == fresh
    cache.flush()

    monkeypatch.setattr(shape_hulls, "offset_outline", None)  # widening a letter would now fail
    kept = ShapeHulls(Cache(tmp_path))
    assert [numbers(kept.grow_shape(*one)) for one in asked] == fresh
    for other in ((letters[0], 8.5, 1.5), (letters[0], 8.0, 1.4)):  # another amount, another tolerance
        with pytest.raises(TypeError):
            kept.grow_shape(*other)
    monkeypatch.setattr(cache_key, "build_key", lambda: "another")
    with pytest.raises(TypeError):
        ShapeHulls(Cache(tmp_path)).grow_shape(*asked[0])


def test_single_lines_are_not_widened():
    line = replace(shape("a", "NotoSans"), single_line=True)
    assert ShapeHulls().grow_shape(line, 8.0, 1.5).chains == ()
