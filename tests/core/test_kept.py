"""Keeping plain data between runs: what comes back, and what is thrown away."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from pipeline.core import kept, tool
from pipeline.core.form import SCALAR, Maybe, of_form
from pipeline.core.kept import Keeper


def same(value):
    return value


def files(folder: Path) -> list[Path]:
    return sorted(folder.iterdir())


def filled(folder: Path) -> Path:
    keeper = Keeper(folder)
    keeper.open("face").put("glyph", "36", [0.1, -1e-300, 123456789.25, "Ä\n", None, {"a": [1]}])
    assert keeper.save()
    (file,) = files(folder)
    return file


def test_values_come_back_exactly(tmp_path):
    filled(tmp_path)
    kept = Keeper(tmp_path).open("face")
    assert kept.get("glyph", "36", same) == [0.1, -1e-300, 123456789.25, "Ä\n", None, {"a": [1]}]
    assert kept.get("glyph", "37", same) is None
    assert kept.get("other", "36", same) is None


def test_what_another_version_of_the_tool_kept_is_not_served(tmp_path, monkeypatch):
    filled(tmp_path)
    monkeypatch.setattr(tool, "stamp", lambda: "another")
    assert Keeper(tmp_path).open("face").get("glyph", "36", same) is None


@pytest.mark.parametrize("harm", [b"", b"plaques-kept 1", b"\x00" * 400, None])
def test_a_damaged_file_is_thrown_away_and_replaced(tmp_path, harm):
    file = filled(tmp_path)
    whole = file.read_bytes()
    file.write_bytes(whole[:-3] + b"999" if harm is None else harm)
    keeper = Keeper(tmp_path)
    assert keeper.open("face").get("glyph", "36", same) is None
    keeper.open("face").put("glyph", "36", [0.1, -1e-300, 123456789.25, "Ä\n", None, {"a": [1]}])
    assert keeper.save()
    assert file.read_bytes() == whole


def test_two_processes_add_to_each_other(tmp_path):
    one, two = Keeper(tmp_path), Keeper(tmp_path)
    one.open("face").put("glyph", "1", "first")
    two.open("face").put("glyph", "2", "second")
    assert one.save() and two.save()
    kept = Keeper(tmp_path).open("face")
    assert (kept.get("glyph", "1", same), kept.get("glyph", "2", same)) == ("first", "second")
    assert len(files(tmp_path)) == 1  # no part file left behind


def test_what_one_process_shares_another_finds_without_opening_anew(tmp_path, monkeypatch):
    one, two = Keeper(tmp_path), Keeper(tmp_path)
    first, second = one.open("face"), two.open("face")
    first.put("glyph", "1", [1.5])
    one.share()
    assert not files(tmp_path)  # too soon
    assert second.get("glyph", "1", same) is None
    monkeypatch.setattr(kept, "SHARED_EVERY", 0.0)
    one.share()
    assert second.get("glyph", "1", same) == [1.5]
    second.put("glyph", "2", [2.5])
    two.share()
    assert first.get("glyph", "2", same) == [2.5]
    before = [path.stat().st_mtime_ns for path in files(tmp_path)]
    one.share()
    assert [path.stat().st_mtime_ns for path in files(tmp_path)] == before  # nothing new

    (file,) = files(tmp_path)
    file.write_bytes(b"plaques-kept 1")
    assert first.get("glyph", "3", same) is None
    assert first.get("glyph", "1", same) == [1.5]
    first.put("glyph", "3", [3.5])
    assert one.save()
    assert Keeper(tmp_path).open("face").get("glyph", "2", same) == [2.5]


def test_what_a_killed_process_began_to_write_is_cleared_away(tmp_path):
    file = filled(tmp_path)
    gone = subprocess.Popen([sys.executable, "-c", ""])
    gone.wait()
    begun = [tmp_path / f".{file.name}.{number}.part" for number in (gone.pid, os.getppid())]
    for part in begun:
        part.write_bytes(b"plaques-kept")
    Keeper(tmp_path).clean()
    assert files(tmp_path) == sorted([file, begun[1]])  # the other process may still be at it


def test_order_of_putting_does_not_change_the_file(tmp_path):
    for folder, order in ((tmp_path / "a", "12"), (tmp_path / "b", "21")):
        keeper = Keeper(folder)
        for key in order:
            keeper.open("face").put("glyph", key, key)
        keeper.save()
    (a,), (b,) = files(tmp_path / "a"), files(tmp_path / "b")
    assert (a.name, a.read_bytes()) == (b.name, b.read_bytes())


def test_a_folder_that_cannot_be_made_costs_only_the_keeping(tmp_path):
    blocked = tmp_path / "file"
    blocked.write_text("in the way")
    keeper = Keeper(blocked / "store")
    kept = keeper.open("face")
    kept.put("glyph", "1", 5)
    assert kept.get("glyph", "1", same) == 5
    assert keeper.save() is False


def test_no_folder_keeps_nothing_beyond_the_process():
    keeper = Keeper(None)
    keeper.open("face").put("glyph", "1", 5)
    assert keeper.open("face").get("glyph", "1", same) == 5
    assert keeper.save() is False


def test_names_that_differ_only_in_odd_characters_do_not_share_a_file(tmp_path):
    keeper = Keeper(tmp_path)
    keeper.open("a/b").put("s", "k", 1)
    keeper.open("a:b").put("s", "k", 2)
    assert keeper.save()
    assert Keeper(tmp_path).open("a/b").get("s", "k", same) == 1
    assert Keeper(tmp_path).open("a:b").get("s", "k", same) == 2


def test_a_key_with_a_line_end_is_refused(tmp_path):
    with pytest.raises(ValueError, match="line ends"):
        Keeper(tmp_path).open("face").put("glyph", "a\nb", 1)


def test_a_value_of_another_form_is_none_and_is_replaced(tmp_path):
    filled(tmp_path)
    keeper = Keeper(tmp_path)
    kept = keeper.open("face")
    assert kept.get("glyph", "36", lambda value: of_form(value, [float])) is None
    kept.put("glyph", "36", [1.0])
    assert kept.get("glyph", "36", lambda value: of_form(value, [float])) == [1.0]
    assert keeper.save()
    assert Keeper(tmp_path).open("face").get("glyph", "36", same) == [1.0]


def test_a_value_comes_back_as_json_gives_it_in_the_process_that_put_it_too():
    kept = Keeper(None).open("face")
    kept.put("glyph", "1", ((1.5, 2.5), None))
    assert kept.get("glyph", "1", lambda value: of_form(value, ([float], Maybe(str)))) == [[1.5, 2.5], None]


@pytest.mark.parametrize(
    ("form", "right", "wrong"),
    [
        (float, [1.5, 2, -0.0], [True, None, "1.5", [1.5], {}]),
        (int, [0, -7], [1.0, True, None, "1"]),
        (bool, [True, False], [0, 1, None, "true"]),
        (str, ["", "a"], [None, 1, ["a"]]),
        (SCALAR, ["a", 1, 1.5], [None, True, [], {}]),
        ([float], [[], [1.5], [1, 2.0]], [None, 1.5, [None], [1.5, "a"], [1.5, True], [[1.5]], {"0": 1.5}]),
        ((float, int), [[1.5, 1], [1, 1]], [[], [1.5], [1.5, 1, 1], [1.5, 1.5], None, "ab"]),
        ([(str, [int])], [[], [["a", []], ["b", [1]]]], [[["a"]], [["a", [1.5]]], [[1, []]], ["a"]]),
        ({"a": int}, [{"a": 1}], [{}, {"a": 1, "b": 1}, {"a": None}, [["a", 1]], None]),
        (Maybe((float,)), [None, [1.0]], [[], [None], 1.0, False]),
    ],
)
def test_forms(form, right, wrong):
    for value in right:
        assert of_form(value, form) is value
    for value in wrong:
        with pytest.raises(ValueError, match="not of the form"):
            of_form(value, form)
