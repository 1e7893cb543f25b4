"""Values cached between runs: what is returned, what is distrusted, and faults that cost only the caching."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

from pipeline.core.storage import cache as module
from pipeline.core.storage import cache_key
from pipeline.core.storage.cache import FILE, Cache

ROOT = Path(__file__).parents[3]
Pair = tuple[str, float]


def filled(folder: Path, values: dict[str, float]) -> Path:
    cache = Cache(folder)
    for key, value in values.items():
        cache.put("s", key, float, value)
    cache.close()
    return folder / FILE


def test_values_come_back_exactly_by_space_and_key(tmp_path):
    cache = Cache(tmp_path)
    cache.put("s", ("a", 1.5), Pair, ("Ä\n", 0.1))
    assert Cache(tmp_path).get("s", ("a", 1.5), Pair) is None  # not on disk yet
    assert cache.get("s", ("a", 1.5), Pair) == ("Ä\n", 0.1)
    cache.close()
    later = Cache(tmp_path)
    assert later.get("s", ("a", 1.5), Pair) == ("Ä\n", 0.1)
    assert later.get("s", ("a", 1.25), Pair) is None
    assert later.get("other", ("a", 1.5), Pair) is None
    assert later.get("s", ("a", 1.5), float) is None  # of another type
    assert [file.name for file in tmp_path.iterdir()] == [FILE]
    assert not later.problem


def test_a_value_is_computed_once_in_a_process_and_between_runs(tmp_path):
    made: list[str] = []
    for cache in (Cache(tmp_path), Cache(tmp_path), Cache(None)):
        for key in "aab":
            assert cache.get_or_compute("s", key, str, lambda key=key: made.append(key) or key) == key
        cache.close()
    assert made == ["a", "b", "a", "b"]


def test_swapped_rows_are_not_trusted(tmp_path):
    file = filled(tmp_path, {str(k): float(k) for k in range(5)})
    with sqlite3.connect(file) as db:
        rows = db.execute("SELECT name, seal, content FROM kept ORDER BY name").fetchall()
        for (name, _, _), (_, seal, content) in zip(rows, [*rows[1:], rows[0]], strict=True):
            db.execute("UPDATE kept SET seal = ?, content = ? WHERE name = ?", (seal, content, name))
    db.close()
    later = Cache(tmp_path)
    assert [later.get("s", str(k), float) for k in range(5)] == [None] * 5
    assert not later.problem


def test_a_changed_row_is_not_trusted_and_is_replaced(tmp_path):
    file = filled(tmp_path, {"a": 1.5, "b": 2.5})
    with sqlite3.connect(file) as db:
        db.execute("UPDATE kept SET content = ? WHERE content = ?", (b"1.25", b"1.5"))
    db.close()
    later = Cache(tmp_path)
    assert (later.get("s", "a", float), later.get("s", "b", float)) == (None, 2.5)
    later.put("s", "a", float, 1.5)
    later.close()
    assert Cache(tmp_path).get("s", "a", float) == 1.5


def test_values_cached_by_another_version_are_discarded(tmp_path, monkeypatch):
    file = filled(tmp_path, {"a": 1.5})
    monkeypatch.setattr(cache_key, "build_key", lambda: "another")
    other = Cache(tmp_path)
    assert other.get("s", "a", float) is None
    other.close()
    db = sqlite3.connect(file)
    assert db.execute("SELECT count(*) FROM kept").fetchone() == (0,)
    db.close()


def test_versions_with_the_same_file_mark_still_distinguish_their_rows(tmp_path, monkeypatch):
    filled(tmp_path, {"a": 1.5})
    mark = module._hash_stamp(cache_key.build_key())
    monkeypatch.setattr(module, "_hash_stamp", lambda stamp: mark)
    monkeypatch.setattr(cache_key, "build_key", lambda: "another")
    assert Cache(tmp_path).get("s", "a", float) is None


@pytest.mark.parametrize("harm", ["junk", "cut", "middle", "empty", "another table"])
def test_a_damaged_file_only_loses_the_cache_and_is_replaced(tmp_path, harm):
    file = filled(tmp_path, {str(k): float(k) for k in range(2000)})
    data = file.read_bytes()
    if harm == "another table":
        with sqlite3.connect(file) as db:
            db.execute("ALTER TABLE kept RENAME TO held")
        db.close()
    else:
        ruined = {"junk": b"\x01" * 4000, "cut": data[: len(data) // 2], "empty": b""}
        file.write_bytes(ruined.get(harm, data[:8192] + b"\xff" * 40_000 + data[48_192:]))
    cache = Cache(tmp_path)
    for k in range(2000):
        assert cache.get_or_compute("s", str(k), float, lambda k=k: float(k)) == float(k)
    cache.close()
    if harm != "empty":
        assert FILE in cache.problem
    for _ in range(2):
        cache = Cache(tmp_path)
        assert cache.get_or_compute("s", "new", float, lambda: 0.5) == 0.5
        cache.close()
    assert not cache.problem
    assert Cache(tmp_path).get("s", "new", float) == 0.5


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="there are no named pipes here")
@pytest.mark.parametrize("name", [FILE, f"{FILE}-journal"])
def test_a_pipe_in_the_files_place_does_not_hang(tmp_path, name):
    os.mkfifo(tmp_path / name)
    cache = Cache(tmp_path)
    assert cache.get_or_compute("s", "a", float, lambda: 1.5) == 1.5
    cache.close()
    assert "not a file" in cache.problem


def test_a_folder_that_cannot_be_created_only_prevents_caching(tmp_path):
    (tmp_path / "file").write_text("in the way")
    cache = Cache(tmp_path / "file" / "folder")
    assert cache.get_or_compute("s", "a", float, lambda: 1.5) == 1.5
    assert cache.get_or_compute("s", "a", float, lambda: 2.5) == 1.5  # still known in this process
    cache.close()
    assert cache.problem


def test_a_full_disk_only_prevents_caching(tmp_path, monkeypatch):
    opened = module._open_database

    def small(file):
        db = opened(file)
        db.execute("PRAGMA max_page_count = 8")
        return db

    monkeypatch.setattr(module, "_open_database", small)
    cache = Cache(tmp_path)
    cache.put_text("s", "a", "x" * 100_000)
    cache.close()
    assert "full" in cache.problem


def test_while_another_process_writes_nothing_is_lost(tmp_path, monkeypatch):
    file = filled(tmp_path, {"a": 1.5})
    monkeypatch.setattr(module, "WAITS", 0.05)
    other = sqlite3.connect(file, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    cache = Cache(tmp_path)
    assert cache.get_or_compute("s", "a", float, lambda: 1.5) == 1.5
    cache.put("s", "b", float, 2.5)
    cache.flush()
    assert "locked" in cache.problem
    other.execute("COMMIT")
    other.close()
    cache.close()
    assert Cache(tmp_path).get("s", "b", float) == 2.5


WRITER = """
import sys
from pathlib import Path
from pipeline.core.storage.cache import Cache
cache = Cache(Path(sys.argv[1]))
for k in range(300):
    assert cache.get_or_compute("s", (sys.argv[2], k), float, lambda: k / 7) == k / 7
    if k % 20 == 0:
        cache.flush()
cache.close()
print(cache.problem)
"""


def test_processes_add_to_each_other(tmp_path):
    words = [[sys.executable, "-c", WRITER, str(tmp_path), name] for name in ("a", "b", "b", "c")]
    running = [subprocess.Popen(each, cwd=ROOT, stdout=subprocess.PIPE, text=True) for each in words]
    assert [process.communicate()[0] for process in running] == ["\n"] * 4
    later = Cache(tmp_path)
    assert all(later.get("s", (name, k), float) == k / 7 for name in "abc" for k in range(300))


@pytest.mark.skipif(not hasattr(os, "fork"), reason="processes are not copied here")
def test_a_forked_process_opens_its_own_connection(tmp_path):
    cache = Cache(tmp_path)
    cache.put("s", "before", float, 1.0)
    cache.flush()
    child = os.fork()
    if not child:
        known = cache.get("s", "before", float)
        cache.put("s", "child", float, 2.0)
        cache.flush()
        os._exit(0 if known == 1.0 else 1)
    assert os.waitpid(child, 0)[1] == 0
    assert cache.get("s", "child", float) == 2.0
    cache.close()


def test_the_file_has_a_size_limit(tmp_path):
    cache = Cache(tmp_path)
    for k in range(100):
        cache.put_text("s", k, "x" * 10_000)
        cache.flush()
    cache.close(most=500_000)
    size = (tmp_path / FILE).stat().st_size
    assert size < 600_000
    later = Cache(tmp_path)
    assert later.get_text("s", 99) and not later.get_text("s", 0)  # the older half was removed


def test_no_folder_keeps_nothing_beyond_the_process(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    cache = Cache(None)
    assert cache.get_or_compute("s", "a", float, lambda: 1.5) == 1.5
    assert cache.get_or_compute("s", "a", float, lambda: 2.5) == 1.5
    cache.close()
    assert not list(tmp_path.iterdir()) and not cache.problem


def test_a_file_that_stays_locked_is_given_up_soon(tmp_path, monkeypatch):
    file = filled(tmp_path, {"a": 1.5})
    monkeypatch.setattr(module, "WAITS", 0.01)
    other = sqlite3.connect(file, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    tries = []
    opened = module._open_database
    monkeypatch.setattr(module, "_open_database", lambda file: (tries.append(file), opened(file))[1])
    cache = Cache(tmp_path)
    for k in range(100):
        assert cache.get_or_compute("s", str(k), float, lambda k=k: float(k)) == k
    assert len(tries) == module.PATIENCE and "locked" in cache.problem
    other.close()


def test_processes_that_create_the_file_together_lose_nothing(tmp_path):
    """Both find it new; the second finds that the first has created it, and keeps its content."""
    first, second = Cache(tmp_path), Cache(tmp_path)
    is_mine, asked = module._is_mine, []

    def begun_meanwhile(db):
        if not asked:
            asked.append(db)
            first.put("s", "a", float, 1.5)
            first.flush()
            return False
        return is_mine(db)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(module, "_is_mine", begun_meanwhile)
        second.put("s", "b", float, 2.5)
        second.flush()
    later = Cache(tmp_path)
    assert (later.get("s", "a", float), later.get("s", "b", float)) == (1.5, 2.5)
