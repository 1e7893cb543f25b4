"""Ten lists as clients send them: what an order started from each uses, leaves out, and asks."""

import tomllib

import pytest

from pipeline.core.config.order import ListConfig
from pipeline.intake.new_order import plan_order
from pipeline.intake.new_order_text import write_order_text
from pipeline.intake.spreadsheet.read_sheet import read_sheet
from pipeline.intake.spreadsheet.sheet import ReadOptions
from tests.intake import client_lists
from tests.intake.one_list import read_one_list

HEADER, TITLE, SECTION, NOTE, LETTER = (
    "the header",
    "a title above the header",
    "a section heading",
    "a note",
    "a line of a letter",
)

CASES = {
    # builder: columns; rows left out; questions by row (0: the whole list)
    client_lists.school: (
        {"name": "B C", "award": "E"},
        {1: TITLE, 2: TITLE, 4: TITLE, 6: HEADER, 7: HEADER, 8: SECTION, 13: SECTION, 18: NOTE, 19: NOTE},
        {0: ["list.remark-beside"], 15: ["text.case-odd"]},
    ),
    client_lists.foundation: (
        {"name": "F"},
        {1: HEADER},
        {4: ["list.name-missing"], 9: ["list.repeated"]},
    ),
    client_lists.mail: (
        {"name": "B"},
        {1: LETTER, 3: LETTER, 13: NOTE, 15: LETTER, 16: "the sender's name", 18: LETTER},
        {
            0: ["list.guessed", "list.remark-beside", "list.sender-left-out"],
            7: ["text.remark-inside"],
            9: ["list.look-alike", "text.apostrophe-odd", "text.case-odd"],
            10: ["text.remark-inside"],
        },
    ),
    client_lists.phone: (
        {"name": "A", "school": "B", "season": "C", "copies": "D"},
        {1: HEADER},
        {
            0: ["list.encoding-unsure"],
            4: ["text.encoding-unsure"],
            5: ["text.surname-first"],
            6: ["list.copies-unclear"],
            7: ["list.copies-unclear"],
        },
    ),
    client_lists.teams: (
        {"name": "B", "school": "A", "season": "C"},
        {1: HEADER},
        {row: ["text.several-names"] for row in (2, 3, 4)},
    ),
    client_lists.wall: (
        {"name": "A", "school": "B"},
        {1: TITLE, 3: HEADER, 4: SECTION, 8: SECTION, 12: SECTION},
        {9: ["list.perhaps-not-a-name"], 14: ["list.perhaps-not-a-name", "text.case-odd"]},
    ),
    client_lists.bilingual: (
        {"name": "A", "award": "B", "school": "C", "copies": "D"},
        {1: TITLE, 2: HEADER, 3: HEADER},
        {},
    ),
    client_lists.tables: (
        {"name": "A", "post": "B"},
        {1: TITLE, 2: HEADER, 7: "a title above a header", 8: "a second header"},
        {0: ["list.second-header"]},
    ),
    client_lists.medals: (
        {"name": "A", "award": "B", "copies": "C"},
        {1: TITLE, 2: HEADER, 8: "a totals row", 10: NOTE},
        {0: ["list.remark-beside", "list.total-differs", "list.total-differs"]},
    ),
    client_lists.wardens: (
        {"name": "A", "post": "B"},
        {1: HEADER},
        {2: ["list.row-hidden"], 3: ["list.row-struck"], 4: ["list.comment"], 5: ["list.row-struck"],
         7: ["text.placeholder"]},
    ),
}  # fmt: skip


@pytest.mark.parametrize("build", CASES, ids=lambda build: build.__name__)
def test_an_order_begun_from_it(tmp_path, build):
    columns, left_out, asked = CASES[build]
    path = build(tmp_path)
    before = path.read_bytes()
    order = tomllib.loads(write_order_text(plan_order(path)))
    part = ListConfig.model_validate(order["list"])
    sheet = read_sheet(path, ReadOptions(sheet=part.sheet))
    done = read_one_list(sheet, part, [key for key in part.columns if key not in ("copies", "language")])
    assert path.read_bytes() == before
    assert dict(done.columns) == columns
    rows = [a.row for a in done.account]
    assert rows == [row.number for row in sheet.rows], "every row once"
    assert {a.row: a.reason for a in done.account if a.fate == "left-out"} == left_out
    assert {a.row for a in done.account if a.fate != "left-out"} == {r.row for r in done.recipients}
    found = {r.row: sorted(f.code for f in r.findings if f.severity != "note") for r in done.recipients}
    found[0] = sorted(f.code for f in done.findings if f.severity != "note")
    assert {row: codes for row, codes in found.items() if codes} == asked


def test_titles_of_the_orders(tmp_path):
    titles = {build.__name__: plan_order(build(tmp_path)).title.value for build in CASES}
    assert titles["school"] == "TERNBY COMBINED SCHOOL"
    assert titles["tables"] == "Untitled 2 Table 1"  # not the default name of a program
    assert titles["bilingual"] == "Prix du port / Harbour awards 2026"


def test_other_counts_in_title_and_notes_are_asked_about(tmp_path):
    path = client_lists.medals(tmp_path)
    part = ListConfig(file=path.name, columns={"name": "Recipient", "copies": "Qty"})
    done = read_one_list(read_sheet(path), part, ["name"])
    stated = [
        (f.cell, f.get_fact("stated"), f.get_fact("counted")) for f in done.findings if f.code == "list.total-differs"
    ]
    assert stated == [("C8", "29", 27), ("A1", "42", 27)]


def read(tmp_path, names):
    (tmp_path / "list.csv").write_text("Name\n" + "".join(f'"{name}"\n' for name in names), encoding="utf-8")
    done = read_one_list(read_sheet(tmp_path / "list.csv"), ListConfig(file="list.csv"), ["name"])
    of_list = [f.get_fact("how") for f in done.findings if f.code == "list.two-ways"]
    return of_list, {r.row for r in done.recipients if any(f.severity == "ask" for f in r.findings)}


REGISTER = ["Skua, Ada", "Tern, Bo", "Knot, Cy", "Auk, Di", "Gull, Ed"]


def test_a_question_that_all_names_raise_leaves_none_of_them_ready(tmp_path):
    of_list, asked = read(tmp_path, REGISTER)
    assert not of_list and asked == {2, 3, 4, 5, 6}


def test_a_post_after_a_dash_is_asked_about(tmp_path):
    assert read(tmp_path, ["Ada Skua – Cox", "Bo Tern", "Anne-Marie Knot", "Di Auk"])[1] == {2}
    of_list, asked = read(tmp_path, ["Name: Ada Skua", "Post: Cook", "Name: Cy Knot", "Post: Warden"])
    assert not of_list and asked == {2, 3, 4, 5}, "they would all be cut wrongly"


def test_names_set_out_in_several_columns_are_asked_about(tmp_path):
    text = "Crew of the Seal,,\nAda Skua,Bo Tern,Cy Knot\nDi Auk,Ed Gull,Flo Rook\nGus Dunlin,Hal Crake,Ivy Sand\n"
    (tmp_path / "list.csv").write_text(text, encoding="utf-8")
    done = read_one_list(read_sheet(tmp_path / "list.csv"), ListConfig(file="list.csv", header=0), ["name"])
    (found,) = [f for f in done.findings if f.code == "list.names-unused"]
    assert found.get_fact("columns") == "B, C"
    assert [words[:28] for words in plan_order(tmp_path / "list.csv").nameless] == [
        "column B: Bo Tern, Ed Gull, ", "column C: Cy Knot, Flo Rook,"
    ]  # fmt: skip


def test_people_under_a_heading_that_is_not_used_are_asked_about(tmp_path):
    def ask(heading, *cells):
        rows = zip(("Ada Skua", "Bo Tern", "Cy Knot"), cells, strict=True)
        text = "".join(f"Cup,{name},{cell}\n" for name, cell in rows)
        (tmp_path / "list.csv").write_text(f"Award,Name,{heading}\n{text}", encoding="utf-8")
        part = ListConfig(file="list.csv", columns={"name": "Name", "award": "Award"})
        found = read_one_list(read_sheet(tmp_path / "list.csv"), part, ["name", "award"]).findings
        return [(f.code, f.get_fact("columns")) for f in found if f.code in ("list.names-unused", "list.column-unused")]

    others = ("Di Auk", "Ed Gull", "Flo Rook")
    for heading in ("Runner-up", "Reserve list", "Winner", "Hopeful"):
        assert ask(heading, *others) == [("list.names-unused", f"C “{heading}”")]
    for heading in ("Teacher", "Nominated by", "Contact person", "Address", "Lehrer/in"):
        assert ask(heading, *others) == [("list.column-unused", f"C “{heading}”")]
    assert ask("Known as", "A. Skua", "Bo Tern", "Cyril Knot")[0][0] == "list.column-unused"  # the same people
    assert ask("Hall", "Gull Stack", "Gull Stack", "Gull Stack")[0][0] == "list.column-unused"
    assert ask("Motto", "keep on", "Onwards Ever", "be good")[0][0] == "list.column-unused"


def test_a_column_can_say_who_gets_a_plaque(tmp_path):
    text = "Full name,Engrave?,Qty\nAda Skua,Y,1\nBo Tern,N,1\nCy Knot,y,2\nDi Auk,maybe,1\nEd Gull,?,1\n"
    (tmp_path / "list.csv").write_text(text, encoding="utf-8")
    plan = plan_order(tmp_path / "list.csv")
    assert {key: choice.value for key, choice in plan.columns} == {"name": '"Full name"', "copies": '"Qty"'}
    part = ListConfig(file="list.csv", columns={"name": "Full name", "copies": "Qty"})
    done = read_one_list(read_sheet(tmp_path / "list.csv"), part, ["name"])
    asked = {r.row: [f.code for f in r.findings] for r in done.recipients if r.findings}
    assert asked == {3: ["list.says-no"], 5: ["list.says-no"], 6: ["list.says-no"]}


def test_a_blank_where_others_say_yes_is_asked_about(tmp_path):
    def ask(*cells):
        rows = "".join(
            f"{name},{cell},1\n" for name, cell in zip(("Ada Auk", "Bo Tern", "Cy Knot"), cells, strict=True)
        )
        (tmp_path / "list.csv").write_text(f"Full name,Engrave?,Qty\n{rows}", encoding="utf-8")
        part = ListConfig(file="list.csv", columns={"name": "Full name", "copies": "Qty"})
        done = read_one_list(read_sheet(tmp_path / "list.csv"), part, ["name"])
        return {r.row: [f.code for f in r.findings] for r in done.recipients if r.findings}

    assert ask("yes", "", "no") == {3: ["list.says-nothing"], 4: ["list.says-no"]}
    assert ask("✓", "x", "") == {4: ["list.says-nothing"]}
    assert ask("", "no", "") == {3: ["list.says-no"]}  # where nobody says yes, a blank is no answer
    assert ask("1", "2", "") == {}
