"""Headers of ordinary words: found by their shape, asked about where that is uncertain, never silently a plaque."""

import openpyxl
import pytest

from pipeline.core.config.order import ListConfig
from pipeline.core.errors import CannotRun
from pipeline.intake.new_order import plan_order
from pipeline.intake.recipients.header_guess import is_heading_word, is_name
from pipeline.intake.recipients.headings import find_meaning, guess_columns
from pipeline.intake.spreadsheet.read_sheet import read_sheet
from tests.intake.headed_lists import BARE, HEADED, TITLE, TWO, headed, make
from tests.intake.one_list import read_one_list


@pytest.mark.parametrize("case", HEADED, ids=lambda case: case.what)
def test_odd_headings_are_found(tmp_path, case):
    made = make(case, tmp_path)
    assert made.right, made.said


@pytest.mark.parametrize("case", BARE, ids=lambda case: case.what)
def test_lists_without_headings_lose_nobody(tmp_path, case):
    made = make(case, tmp_path)
    if case.what == "one word first":  # it may be a heading, so it is a plaque with a question
        assert "lost []" in made.said and "asked [1]" in made.said
    else:
        assert made.right, made.said


@pytest.mark.parametrize("title", [TITLE, ()], ids=["with a title", "without"])
@pytest.mark.parametrize("head", ["Bearer Crew", "Gärtner Beet", "Kuka Mistä", "Skladatel Dílo", "Hvem Hvor"])
def test_unknown_heading_words_are_recognised_by_shape(tmp_path, head, title):
    made = make(headed(tuple(head.split()), TWO, title=title), tmp_path)
    assert made.right, made.said


@pytest.mark.parametrize(
    ("headings", "name"),
    [
        (("Name", "Vorname"), (2, 1)),
        (("Nom", "Prénom"), (2, 1)),
        (("Nombre", "Apellidos"), (1, 2)),
        (("Name", "Surname"), (1, 2)),
        (("Full name", "First name", "Last name"), (1,)),
        (("Name", "Name on plaque"), (2,)),
        (("Title", "First", "Last", "Suffix"), (1, 2, 3, 4)),
        (("Line 1", "Line 2"), (1,)),
        (("Name / Nom", "Town / Ville"), (1,)),
    ],
    ids=str,
)
def test_which_columns_make_the_name(headings, name):
    assert guess_columns(dict(enumerate(headings, 1)))["name"] == name


def test_a_column_of_whole_names_is_no_family_name():
    assert guess_columns({1: "Name", 2: "Vorname"}, several={1})["name"] == (1,)


def test_additional_lines_get_additional_keys():
    assert guess_columns({1: "Line 1", 2: "Line 2", 3: "Line 3"}) == {"name": (1,), "line_2": (2,), "line_3": (3,)}


def test_headings_have_their_meanings():
    assert find_meaning("Award to") == find_meaning("Name auf Schild") == find_meaning("Name (as on badge)") == "name"
    assert find_meaning("Ville – Town") == "school" and find_meaning("Kittiwake") is None
    assert is_name("Rhys ap Gwylan") and not is_name("Award to") and not is_name("Ada") and not is_name("Ada 2")
    assert is_heading_word("Gift level") > 0 and is_heading_word("Ada Kittiwake") == 0


def read(tmp_path, text, **part):
    path = tmp_path / "list.csv"
    path.write_text(text, encoding="utf-8")
    return read_one_list(read_sheet(path), ListConfig(file="list.csv", **part), ["name"])


def codes(done):
    return [f.code for f in done.findings if f.severity == "ask"]


def test_a_guessed_header_is_asked_about_where_the_order_names_none(tmp_path):
    text = "Bearer,Crew\nAda Kittiwake,Seal\nBo Tern,Orca\nCy Knot,Seal\nDi Auk,Orca\n"
    done = read(tmp_path, text)
    assert done.header_row == 1 and codes(done) == ["list.header-unsure"]
    assert codes(read(tmp_path, text, columns={"name": "Bearer"})) == []
    assert codes(read(tmp_path, text, settled={"list.header-unsure": "the client says so"})) == []


def test_a_name_named_as_the_heading_is_asked_about(tmp_path):
    done = read(tmp_path, "Ada Kittiwake,Seal\nBo Tern,Orca\n", columns={"name": "Ada Kittiwake"})
    assert codes(done) == ["list.header-unsure"] and len(done.recipients) == 1


def test_a_recipient_above_the_header_is_asked_about(tmp_path):
    done = read(
        tmp_path,
        "Ada Kittiwake,Warden\nName,Post\nBo Tern,Cook\nCy Knot,Cook\n",
        columns={"name": "Name", "post": "Post"},
    )
    assert codes(done) == ["list.above-header"] and [a.fate for a in done.account].count("left-out") == 2


def test_a_list_that_lacks_what_the_lines_name_is_refused(tmp_path):
    path = tmp_path / "list.csv"
    path.write_text("Bearer,Crew\nAda Kittiwake,Seal\nBo Tern,Orca\nCy Knot,Seal\n", encoding="utf-8")
    with pytest.raises(CannotRun, match="which column holds school"):
        read_one_list(read_sheet(path), ListConfig(file="list.csv"), ["name", "school"])


def test_few_names_alone_in_their_rows_are_asked_about_and_many_are_not(tmp_path):
    some = "Name,Post\n" + "".join(f"Ada {n}wake,Warden\n" for n in "ABCDEFGHIJKLMNOPQRST")
    few = read(tmp_path, some + "Bo Tern,\nCy Knot,Cook\n", columns={"name": "Name", "post": "Post"})
    many = read(
        tmp_path,
        some + "Bo Tern,\nDi Auk,\nEd Gull,\nFlo Rook,\nCy Knot,Cook\n",
        columns={"name": "Name", "post": "Post"},
    )
    asked = [
        [r.row for r in done.recipients for f in r.findings if f.code == "list.perhaps-not-a-name"]
        for done in (few, many)
    ]
    assert asked == [[22], []]


def test_award_levels_are_section_headings(tmp_path):
    done = read(tmp_path, "Who,Town\nGold\nAda Kittiwake,Mew\nBo Tern,Mew\nSilver sponsors:\nCy Knot,Mew\nDi Auk,Mew\n")
    assert [a.reason for a in done.account if a.fate == "left-out"] == [
        "the header",
        "a section heading",
        "a section heading",
    ]


# --- two rows ----------------------------------------------------------------------------------------------------


def test_a_group_heading_over_fields_makes_both_rows_the_heading(tmp_path):
    text = "Plaques,,,,\nLine 1,,Line 2,,Qty\nText,Font,Text,Font,\nAda Skua,a,Warden,b,2\nBo Tern,a,Cook,b,1\n"
    (tmp_path / "list.csv").write_text(text, encoding="utf-8")
    plan = plan_order(tmp_path / "list.csv")
    columns = {key: choice.value for key, choice in plan.columns}
    assert columns == {"name": '"Line 1 / Text"', "line_2": '"Line 2 / Text"', "copies": '"Qty"'}
    assert plan.header.value == "3" and plan.unused == ("Line 1 / Font", "Line 2 / Font")
    done = read(tmp_path, text, columns={"name": "Line 1 / Text", "line_2": "line 2 text", "copies": "Qty"})
    assert [r.get_value("line_2") for r in done.recipients] == ["Warden", "Cook"]
    assert [a.reason for a in done.account][:3] == ["a title above the header", "the header", "the header"]


def test_merged_group_headings(tmp_path):
    book = openpyxl.Workbook()
    rows = [("Line 1", None, "Line 2", None), ("Text", "Font", "Text", "Font"), ("Ada Skua", "a", "Warden", "b")]
    for row in (*rows, ("Bo Tern", "a", "Cook", "b")):
        book.active.append(row)
    book.active.merge_cells("A1:B1")
    book.active.merge_cells("C1:D1")
    book.save(tmp_path / "list.xlsx")
    part = ListConfig(file="list.xlsx", columns={"name": "Line 1 / Text", "post": "Line 2 / Text"})
    done = read_one_list(read_sheet(tmp_path / "list.xlsx"), part, ["name", "post"])
    assert [(r.get_value("name"), r.get_value("post")) for r in done.recipients] == [
        ("Ada Skua", "Warden"),
        ("Bo Tern", "Cook"),
    ]


@pytest.mark.parametrize("second", ["Nom,Ville", "Ainm,Baile"])
def test_headings_in_two_languages(tmp_path, second):
    done = read(tmp_path, f"Name,Town\n{second}\nAda Skua,Mew\nBo Tern,Rook\nCy Knot,Mew\nDi Auk,Gull\n")
    asked = [r.row for r in done.recipients for f in r.findings if f.code == "list.perhaps-not-a-name"]
    assert (len(done.recipients), asked) == ((4, []) if second == "Nom,Ville" else (5, [2]))


def test_a_cell_merged_over_rows_holds_for_all_of_them_and_is_asked_about(tmp_path):
    book = openpyxl.Workbook()
    for row in [("Name", "Team"), ("Ada Skua", "Seal"), ("Bo Tern", None), ("Cy Knot", None), ("Di Auk", "Orca")]:
        book.active.append(row)
    book.active.merge_cells("B2:B4")
    book.save(tmp_path / "list.xlsx")
    part = ListConfig(file="list.xlsx", columns={"name": "Name", "team": "Team"})
    done = read_one_list(read_sheet(tmp_path / "list.xlsx"), part, ["name", "team"])
    assert [r.get_value("team") for r in done.recipients] == ["Seal", "Seal", "Seal", "Orca"]
    assert codes(done) == ["list.merged"] and done.findings[0].cell == "B2"
