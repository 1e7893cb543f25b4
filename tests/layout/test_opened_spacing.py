"""Tracking opened by thousandths of an em until the land between neighbours is wide enough, in whole small orders."""

from __future__ import annotations

import json

import pytest

from pipeline.run import run_order

NAMES = "Name\nAda Tern\nBo Auk\n"


def order(folder, land, **line):
    folder.mkdir()
    (folder / "list.csv").write_text(NAMES, encoding="utf-8")
    keys = "".join(f"{key} = {value}\n" for key, value in line.items())
    (folder / "order.toml").write_text(
        f"""title = "Plates"
[list]
file = "list.csv"
columns = {{ name = "Name" }}
[blank]
shape = "rectangle"
width = 120.0
height = 60.0
[limits]
land = {land}
[[line]]
text = "{{name}}"
face = "noto-sans"
cap_height = 6.0
{keys}""",
        encoding="utf-8",
    )
    return {p["lines"][0]["text"]: p for p in run(folder)["plaques"]}


def run(folder):
    run_order(folder)
    return json.loads((folder / "out" / "report.json").read_text(encoding="utf-8"))


def codes(plaque):
    return [f["code"] for f in plaque["findings"]]


def test_the_least_tracking_with_enough_land_is_chosen(tmp_path):
    """One thousandth less leaves too little land, according to the checks of an order that asks for exactly that."""
    ada = order(tmp_path / "a", 0.86)["Ada Tern"]
    assert "fit.set-looser" in codes(ada) and "land.too-thin" not in codes(ada)
    (line,) = ada["lines"]
    assert 0 < line["tracking"] <= 40 and line["land"] >= 0.86
    less = order(tmp_path / "b", 0.86, tracking=line["tracking"] - 1, loosest=0)["Ada Tern"]
    assert "land.too-thin" in codes(less) and less["lines"][0]["land"] < 0.86
    same = order(tmp_path / "c", 0.86, tracking=line["tracking"], loosest=0)["Ada Tern"]
    assert "land.too-thin" not in codes(same) and same["fingerprint"] == ada["fingerprint"]


@pytest.mark.parametrize(("land", "loosest"), [(0.86, 0), (0.86, 1), (2.0, 40)])
def test_tracking_stays_as_designed_where_opening_is_not_allowed_or_not_enough(tmp_path, land, loosest):
    ada = order(tmp_path / "a", land, loosest=loosest)["Ada Tern"]
    assert "land.too-thin" in codes(ada) and ada["lines"][0]["tracking"] == 0


def test_a_line_with_enough_land_keeps_its_tracking(tmp_path):
    bo = order(tmp_path / "a", 0.86)["Bo Auk"]
    assert bo["lines"][0]["tracking"] == 0 and "fit.set-looser" not in codes(bo)


def test_zero_keeps_letters_that_are_designed_tight(tmp_path):
    ada = order(tmp_path / "a", 0.86, tracking=-20, loosest=0)["Ada Tern"]
    assert ada["lines"][0]["tracking"] == -20 and "fit.set-looser" not in codes(ada)


def test_a_line_with_little_room_is_opened_as_far_as_it_goes(tmp_path):
    """Where the greatest allowed spacing would be too wide, the least sufficient one is still found."""
    free = order(tmp_path / "a", 0.86)["Ada Tern"]["lines"][0]
    room = free["width"] + 2 * 2.0 + 0.05  # a margin of 2 mm on both sides, and hardly anything more
    tight = run_narrow(tmp_path / "b", 0.86, room)["Ada Tern"]
    assert "fit.set-looser" in codes(tight)
    assert tight["lines"][0]["tracking"] == free["tracking"] and tight["lines"][0]["cap_height"] == 6.0
    none = run_narrow(tmp_path / "c", 0.86, room - 0.1)["Ada Tern"]
    assert "fit.set-looser" not in codes(none) and "land.too-thin" in codes(none)


def run_narrow(folder, land, width):
    order(folder, land)
    file = folder / "order.toml"
    file.write_text(file.read_text(encoding="utf-8").replace("width = 120.0", f"width = {width}"), encoding="utf-8")
    return {p["lines"][0]["text"]: p for p in run(folder)["plaques"]}
