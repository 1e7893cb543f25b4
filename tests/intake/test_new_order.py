"""`plaques start`: an order for any list that runs without changes."""

import json
import tomllib
from pathlib import Path

import openpyxl
import pytest

from pipeline.cli import main
from pipeline.commands.start_command import start
from pipeline.core.errors import CannotRun
from pipeline.intake.new_order import FACES, choose_folder_name, clean_text, plan_order
from pipeline.intake.order.order_file import read_order
from pipeline.intake.order.toml_text import format_toml
from pipeline.intake.recipients.read_list import read_list

ROOT = Path(__file__).resolve().parents[2]


def book(path, *sheets):
    made = openpyxl.Workbook()
    made.remove(made.active)
    for name, rows in sheets:
        page = made.create_sheet(name)
        for row in rows:
            page.append(row)
    made.save(path)
    return path


def begun(path, folder):
    before = path.read_bytes()
    said = []
    assert start(path, folder=folder, say=said.append, as_json=True) == 0
    assert path.read_bytes() == before
    return json.loads(said[0]), read_list(read_order(folder))


PEOPLE = [("Ada", "Kittiwake", "Warden", 2), ("Björn", "Ærøskarv", "Boatman", 1), ("Bo", "Tern", "Cook", 1)]


def shapes(folder):
    """Return six lists of different shapes: path, the names in it, what each column became."""
    plain = [(f"{a} {b}", c, n) for a, b, c, n in PEOPLE]
    names = [row[0] for row in plain]
    yield (
        book(folder / "banner.xlsx", ("Wardens", [("TIDEWRACK TRUST",), (), ("Recipient", "Post", "Qty"), *plain])),
        names,
        {"name": "A", "post": "B", "copies": "C"},
    )
    yield (
        book(folder / "split.xlsx", ("Blatt1", [("Nr", "Vorname", "Nachname", "Anzahl"),
                                                *[(i, a, b, n) for i, (a, b, _, n) in enumerate(PEOPLE)]])),
        names,
        {"name": "B C", "copies": "D"},
    )  # fmt: skip
    yield (
        book(folder / "sheets.xlsx", ("Read me", [("Dear engraver,",)]), ("Names", [("Name", "School"), *plain])),
        names,
        {"name": "A", "school": "B"},
    )
    path = folder / "Wardens_2026 (final).csv"
    path.write_text("Name;Position\r\n" + "".join(f"{a};{b}\r\n" for a, b, _ in plain), encoding="cp1252")
    yield path, names, {"name": "A", "post": "B"}
    path = folder / "names.txt"
    path.write_text("\n".join(names), encoding="utf-8")
    yield path, names, {"name": "A"}
    yield book(folder / "bare.xlsx", ("List", [(i, *row) for i, row in enumerate(plain, 1)])), names, {"name": "B"}


def test_six_shapes_give_orders_that_run(tmp_path):
    (tmp_path / "in").mkdir()
    for number, (path, names, columns) in enumerate(shapes(tmp_path / "in")):
        said, done = begun(path, tmp_path / f"order-{number}")
        assert [r.get_value("name") for r in done.recipients] == names, path.name
        assert said["columns"] == columns and said["recipients"] == 3, path.name
        assert not any(f.severity == "stop" for r in done.recipients for f in r.findings)


def test_six_shapes_run_to_their_cut_files(tmp_path):
    run = pytest.importorskip("pipeline.run")
    (tmp_path / "in").mkdir()
    for number, (path, names, _) in enumerate(shapes(tmp_path / "in")):
        begun(path, tmp_path / f"order-{number}")
        done = run.run_order(tmp_path / f"order-{number}")
        assert len(done.outcome.plaques) == len(names) and done.exit_status == 0
        assert all(plaque.cut_file for plaque in done.outcome.plaques)


def test_uncertain_guesses_are_marked(tmp_path):
    (tmp_path / "names.txt").write_text("Ada Skua\nBo Tern\n", encoding="utf-8")
    said, _ = begun(tmp_path / "names.txt", tmp_path / "order")
    text = (tmp_path / "order" / "order.toml").read_text(encoding="utf-8")
    assert any(line.startswith("header  = 0 ") and "check this" in line for line in text.splitlines())
    assert {words.split(":")[0] for words in said["check"]} == {"title", "header", "name"}
    sure, _ = begun(ROOT / "sample_orders" / "seabird-trust" / "recipients.xlsx", tmp_path / "wardens")
    assert {words.split(":")[0] for words in sure["check"]} == {"title"}


def test_typefaces_follow_the_scripts_of_the_list(tmp_path):
    (tmp_path / "a.txt").write_text("מרים שחף\nרות עגור\nAda Skua\n", encoding="utf-8")
    assert plan_order(tmp_path / "a.txt").faces == ("frank-ruhl-libre", "noto-sans")
    (tmp_path / "b.txt").write_text("श्री समुद्रपक्षी\n", encoding="utf-8")
    plan = plan_order(tmp_path / "b.txt")
    assert "Devanagari" in plan.unset
    shelf = {path.parent.name for path in (ROOT / "fonts").glob("*/source.toml")}
    assert set(FACES.values()) <= shelf


def test_a_folder_with_an_order_is_left_alone(tmp_path):
    (tmp_path / "names.txt").write_text("Ada Skua\nBo Tern\n", encoding="utf-8")
    begun(tmp_path / "names.txt", tmp_path / "order")
    before = (tmp_path / "order" / "order.toml").read_bytes()
    with pytest.raises(CannotRun, match="already an order here"):
        start(tmp_path / "names.txt", folder=tmp_path / "order", say=print)
    assert (tmp_path / "order" / "order.toml").read_bytes() == before
    (tmp_path / "other").mkdir()
    (tmp_path / "other" / "names.txt").write_text("Another list\n", encoding="utf-8")
    with pytest.raises(CannotRun, match="already another file of this name"):
        start(tmp_path / "names.txt", folder=tmp_path / "other", say=print)
    assert not (tmp_path / "other" / "order.toml").exists()


def test_a_list_that_cannot_be_read_leaves_nothing_behind(tmp_path):
    (tmp_path / "a.xlsx").write_bytes(b"not a workbook")
    with pytest.raises(CannotRun):
        start(tmp_path / "a.xlsx", folder=tmp_path / "order", say=print)
    assert not (tmp_path / "order").exists()


@pytest.mark.parametrize(
    "heading",
    [
        'Name "as cut"',
        "Name\\x",
        "Name # 1 = [x]",
        "Name\nof winner",
        "Name\u202e evil",
        "Name '''",
        "=Name()",
        "Name\x7f",
    ],
)
def test_headings_that_look_like_toml(tmp_path, heading):
    openpyxl_safe = heading.replace("\x7f", "")
    book(
        tmp_path / "a.xlsx",
        ("S", [(openpyxl_safe, "Surname", "Post"), ("Ada", "Skua", "Cook"), ("Bo", "Tern", "Cook")]),
    )
    _, done = begun(tmp_path / "a.xlsx", tmp_path / "order")
    assert len(done.recipients) == 2


@pytest.mark.parametrize("text", ['a"b', "a\\b", "a\nb", "\x00\x1f\x7f", "ünï 風", "'''", '"""', "a # b"])
def test_texts_survive_toml(text):
    assert tomllib.loads(f"x = {format_toml(text)}")["x"] == text
    assert tomllib.loads(f"x = {format_toml([text, text])}")["x"] == [text, text]


@pytest.mark.parametrize(
    ("name", "kept", "folder"),
    [
        ("Wardens 2026.csv", "Wardens 2026.csv", "wardens-2026"),
        ("CON.csv", "list.csv", "order-con"),
        ("names\u202excod.csv", "list.csv", "names-xcod"),
        ("a" * 180 + ".txt", "list.txt", "a" * 60),
        ("..hidden.txt", "list.txt", "hidden"),
        ("風早.csv", "風早.csv", "order"),
        ("Šárka's list.csv", "Šárka's list.csv", "sarka-s-list"),
    ],
)
def test_file_names_that_some_systems_cannot_handle_are_changed(tmp_path, name, kept, folder):
    path = tmp_path / name
    path.write_text("Name\nAda Skua\nBo Tern\n", encoding="utf-8")
    assert plan_order(path).list_name == kept and choose_folder_name(path) == folder
    _, done = begun(path, tmp_path / "order")
    assert len(done.recipients) == 2


def test_clean_text_drops_control_characters():
    assert clean_text("a\u202e b\x00\n c") == "a b c"


def test_a_column_without_a_heading_is_reported_and_not_skipped(tmp_path):
    (tmp_path / "list.csv").write_text(
        "Name,,Copies\nIda Vex,Harbour Striders,1\nTeodoro Quill,Night Club,2\n", encoding="utf-8"
    )
    plan = plan_order(tmp_path / "list.csv")
    assert plan.nameless == ("column B: Harbour Striders, Night Club …",)
    assert plan.unsure[-1].endswith("column B: Harbour Striders, Night Club …")


def test_a_title_with_thanks_and_a_count_below_are_not_names(tmp_path):
    rows = [
        "Harbour clean-up 2026 - thank you plaques;",
        "",
        "Who;Town",
        "Síle Ní Bhraonáin;Ballycroy",
        "Otto Rohde;Leer",
    ]
    path = tmp_path / "list.csv"
    path.write_text("\n".join([*rows, "Ngaio Te Whare;Ōtaki", "Count: 3;", ""]), encoding="utf-8")
    _, listing = begun(path, tmp_path / "order")
    order = tomllib.loads((tmp_path / "order" / "order.toml").read_text(encoding="utf-8"))
    assert order["title"] == "Harbour clean-up 2026 - thank you plaques"
    assert [r.get_value("name") for r in listing.recipients] == ["Síle Ní Bhraonáin", "Otto Rohde", "Ngaio Te Whare"]
    assert listing.account[-1].reason == "a totals row"


def test_a_column_that_names_drawings_is_offered_as_badges(tmp_path, capsys):
    """Drawings beside the list are copied into the order folder; the order runs without changes."""
    for name in ("gull.svg", "tern.SVG", "elsewhere.svg"):
        drawn = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><circle cx="4" cy="4" r="4"/></svg>'
        (tmp_path / name).write_text(drawn, encoding="utf-8")
    (tmp_path / "winners.csv").write_text(
        "Name,Prize,Emblem\nIda Vex,Cup,gull\nBo Skua,Shield,Tern.svg\nUna Kite,Cup,heron\n", encoding="utf-8"
    )
    assert main(["start", str(tmp_path / "winners.csv")]) == 0
    said = capsys.readouterr().out
    assert "badge: column C: 2 of 3 cells name drawings" in said
    folder = tmp_path / "winners"
    assert sorted(p.name for p in folder.iterdir()) == ["gull.svg", "order.toml", "tern.SVG", "winners.csv"]
    order = tomllib.loads((folder / "order.toml").read_text(encoding="utf-8"))
    assert order["list"]["columns"]["badge"] == "Emblem"
    assert order["artwork"][0]["file"] == "{badge}.svg"
    assert [line["text"] for line in order["line"]] == ["{name}", "{award}"]
    read_order(folder)


def test_without_drawings_beside_it_no_column_is_badges(tmp_path):
    (tmp_path / "winners.csv").write_text("Name,Emblem\nIda Vex,gull\nBo Skua,tern\n", encoding="utf-8")
    assert main(["start", str(tmp_path / "winners.csv")]) == 0
    assert "artwork" not in (tmp_path / "winners/order.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("heading", "cells", "taken"),
    [
        ("Plates", "1 2 one 3", True),
        ("No. of medals", "1 1 1 1", True),
        ("Shields", "4 5 6 7", False),  # which, not how many
        ("Awards", "2019 2021 2021 2024", False),
        ("Plaques", "yes no yes yes", False),  # whether, not how many
        ("Signs", "Thrushgill Beckfoot Highfold Byre", False),
        ("Ext", "201 202 203 204", False),
    ],
)
def test_whole_numbers_under_a_word_for_pieces_are_copies_to_be_checked(tmp_path, heading, cells, taken):
    names = ("Ada Ferrand", "Bo Tern", "Cy Skua", "Do Gull")
    rows = "".join(f"{name},{cell}\n" for name, cell in zip(names, cells.split(), strict=True))
    (tmp_path / "list.csv").write_text(f"Name,{heading}\n{rows}", encoding="utf-8")
    plan = plan_order(tmp_path / "list.csv")
    copies = dict(plan.columns).get("copies")
    assert (copies is not None) == taken
    assert copies is None or not copies.sure


@pytest.mark.parametrize(
    ("cells", "taken"), [("1 2 1 1", True), ("1 1 1 1", True), ("1 2 3 4", False), ("12 17 4 112", False)]
)
def test_numbers_of_houses_are_no_copies(tmp_path, cells, taken):
    names = ("Rook Barn", "Two Hares", "The Old Ferry", "Mill Leat")
    rows = "".join(f"{name},{cell}\n" for name, cell in zip(names, cells.split(), strict=True))
    (tmp_path / "houses.csv").write_text(f"Name,Number\n{rows}", encoding="utf-8")
    plan = plan_order(tmp_path / "houses.csv")
    assert ("copies" in dict(plan.columns)) == taken
    assert bool(plan.unused) != taken


def test_the_column_of_the_name_under_unknown_headings_is_a_guess_to_check(tmp_path):
    rows = "Keeper;Apiary;Qty\nOrla Finnegan-Dray;Lower Meadow;1\nT. R. Quennell;Chalk Pit;2\npending;Weir Field;1\n"
    (tmp_path / "list.csv").write_text(rows, encoding="utf-8")
    plan = plan_order(tmp_path / "list.csv")
    assert any(said.startswith("name: column") for said in plan.unsure)


def test_totals_and_names_still_to_come_count_against_no_column(tmp_path):
    rows = (
        "Keeper;Apiary;Years;Qty\nMaren Vollick;Hazel Bank;12;1\nTobin Ashgrove;Mill Reach;3;1\n"
        "pending;Upper Croft;1;1\nIlse Farrow;Hazel Bank End;9;2\nTBC;Lower Croft;2;1\nTotal;;;6\n"
    )
    (tmp_path / "list.csv").write_text(rows, encoding="utf-8")
    plan = plan_order(tmp_path / "list.csv")
    assert dict(plan.columns)["name"].value == '"Keeper"'


def test_a_town_is_taken_where_the_place_is_a_rank(tmp_path):
    rows = "Position,Rider,Place,Town\n1,Ada Skua,1st,Mew Quay\n2,Bo Tern,2nd,Reeds\n3,Cy Knot,=3rd,Mew Quay\n"
    (tmp_path / "list.csv").write_text(rows, encoding="utf-8")
    plan = plan_order(tmp_path / "list.csv")
    assert {key: choice.value for key, choice in plan.columns} == {"name": '"Rider"', "school": '"Town"'}


@pytest.mark.parametrize(
    ("places", "taken"), [("1 2 2= 4", False), ("1st 2nd 3rd 3rd", False), ("Rede Mew Quay 4", True)]
)
def test_who_came_first_is_not_where_somebody_comes_from(tmp_path, places, taken):
    names = ("Ada Ferrand", "Bo Tern", "Cy Skua", "Do Gull")
    rows = "".join(f"{name},{place}\n" for name, place in zip(names, places.split(), strict=True))
    (tmp_path / "list.csv").write_text(f"Name,Place\n{rows}", encoding="utf-8")
    plan = plan_order(tmp_path / "list.csv")
    assert ("school" in dict(plan.columns)) == taken and (plan.unused == ("Place",)) == (not taken)
