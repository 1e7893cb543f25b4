"""The bounded memory: used values stay, unused ones are forgotten, nothing is computed twice while remembered."""

from __future__ import annotations

from pipeline.core.storage.lru_cache import LruCache


def test_a_value_is_made_once_while_it_is_remembered():
    made = []
    memory: LruCache[int] = LruCache(2)

    def make(key):
        made.append(key)
        return len(made)

    for key in ("fixed", "a", "fixed", "b", "fixed", "c", "fixed", "a"):
        memory.get_or_compute(key, lambda key=key: make(key))
    assert made == ["fixed", "a", "b", "c", "a"]  # a used value stays; "a" was forgotten for "c"


def test_none_is_a_value_too():
    made = []
    memory: LruCache[None] = LruCache()
    for _ in range(3):
        memory.get_or_compute("k", lambda: made.append(1))
    assert made == [1]


def test_keys_are_referenced_so_that_an_id_is_never_reused():
    memory: LruCache[int] = LruCache(4)
    seen = [memory.get_or_compute((object(),), lambda n=n: n) for n in range(50)]
    assert seen == list(range(50))


def test_many_keys_are_computed_together():
    """Unknown ones are computed together, each once; the least recently used are forgotten."""
    memory: LruCache[int] = LruCache(3)
    asked: list[list[str]] = []

    def make(keys: list[str]) -> list[int]:
        asked.append(keys)
        return [len(key) for key in keys]

    assert memory.get_or_compute("a", lambda: 1) == 1
    assert memory.get_or_compute_many(["bb", "a", "bb", "ccc"], make) == [2, 1, 2, 3]
    assert asked == [["bb", "ccc"]]
    assert memory.get_or_compute_many(["a", "bb"], make) == [1, 2]
    assert len(asked) == 1
    assert memory.get_or_compute_many(["dddd"], make) == [4]  # "ccc" was least recently used
    assert memory.get_or_compute_many(["a", "bb", "dddd"], make) == [1, 2, 4]
    assert len(asked) == 2
    assert memory.get_or_compute_many(["ccc"], make) == [3]
    assert asked[-1] == ["ccc"]


def test_many_without_memory():
    memory: LruCache[int] = LruCache(0)
    assert memory.get_or_compute_many(["a", "a"], lambda keys: [len(keys)] * len(keys)) == [1, 1]
    assert memory.get_or_compute_many([], lambda keys: []) == []
