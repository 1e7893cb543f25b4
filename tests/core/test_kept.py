"""Keeping plain data between runs: what comes back, and what is thrown away."""

from pathlib import Path

import pytest

from pipeline.core.kept import Keeper

STAMP = "definition 1\nlibrary 2.0"


def files(folder: Path) -> list[Path]:
    return sorted(folder.iterdir())


def filled(folder: Path) -> Path:
    keeper = Keeper(folder)
    keeper.open("face", STAMP).put("glyph", "36", [0.1, -1e-300, 123456789.25, "Ä\n", None, {"a": [1]}])
    assert keeper.save()
    (file,) = files(folder)
    return file


def test_values_come_back_exactly(tmp_path):
    filled(tmp_path)
    kept = Keeper(tmp_path).open("face", STAMP)
    assert kept.get("glyph", "36") == [0.1, -1e-300, 123456789.25, "Ä\n", None, {"a": [1]}]
    assert kept.get("glyph", "37") is None
    assert kept.get("other", "36") is None


def test_another_stamp_is_not_served(tmp_path):
    filled(tmp_path)
    assert Keeper(tmp_path).open("face", STAMP + " newer").get("glyph", "36") is None


@pytest.mark.parametrize("harm", [b"", b"plaques-kept 1", b"\x00" * 400, None])
def test_a_damaged_file_is_thrown_away_and_replaced(tmp_path, harm):
    file = filled(tmp_path)
    whole = file.read_bytes()
    file.write_bytes(whole[:-3] + b"999" if harm is None else harm)
    keeper = Keeper(tmp_path)
    assert keeper.open("face", STAMP).get("glyph", "36") is None
    keeper.open("face", STAMP).put("glyph", "36", [0.1, -1e-300, 123456789.25, "Ä\n", None, {"a": [1]}])
    assert keeper.save()
    assert file.read_bytes() == whole


def test_two_processes_add_to_each_other(tmp_path):
    one, two = Keeper(tmp_path), Keeper(tmp_path)
    one.open("face", STAMP).put("glyph", "1", "first")
    two.open("face", STAMP).put("glyph", "2", "second")
    assert one.save() and two.save()
    kept = Keeper(tmp_path).open("face", STAMP)
    assert (kept.get("glyph", "1"), kept.get("glyph", "2")) == ("first", "second")
    assert len(files(tmp_path)) == 1  # no part file left behind


def test_order_of_putting_does_not_change_the_file(tmp_path):
    for folder, order in ((tmp_path / "a", "12"), (tmp_path / "b", "21")):
        keeper = Keeper(folder)
        for key in order:
            keeper.open("face", STAMP).put("glyph", key, key)
        keeper.save()
    (a,), (b,) = files(tmp_path / "a"), files(tmp_path / "b")
    assert (a.name, a.read_bytes()) == (b.name, b.read_bytes())


def test_a_folder_that_cannot_be_made_costs_only_the_keeping(tmp_path):
    blocked = tmp_path / "file"
    blocked.write_text("in the way")
    keeper = Keeper(blocked / "store")
    kept = keeper.open("face", STAMP)
    kept.put("glyph", "1", 5)
    assert kept.get("glyph", "1") == 5
    assert keeper.save() is False


def test_no_folder_keeps_nothing_beyond_the_process():
    keeper = Keeper(None)
    keeper.open("face", STAMP).put("glyph", "1", 5)
    assert keeper.open("face", STAMP).get("glyph", "1") == 5
    assert keeper.save() is False


def test_names_that_differ_only_in_odd_characters_do_not_share_a_file(tmp_path):
    keeper = Keeper(tmp_path)
    keeper.open("a/b", STAMP).put("s", "k", 1)
    keeper.open("a:b", STAMP).put("s", "k", 2)
    assert keeper.save()
    assert Keeper(tmp_path).open("a/b", STAMP).get("s", "k") == 1
    assert Keeper(tmp_path).open("a:b", STAMP).get("s", "k") == 2


def test_a_key_with_a_line_end_is_refused(tmp_path):
    with pytest.raises(ValueError, match="line ends"):
        Keeper(tmp_path).open("face", STAMP).put("glyph", "a\nb", 1)
