"""Orders of several lists: each is read separately, they are compared, and every row is named with its file."""

from __future__ import annotations

import re

import openpyxl
import pytest

from pipeline.core import catalogue
from pipeline.core.catalogue.examples import build_examples
from pipeline.core.errors import CannotRun
from pipeline.core.findings import Finding, Severity
from pipeline.core.list_row import FurtherRow
from pipeline.core.model import ListSource
from pipeline.intake.order.order_file import read_order
from pipeline.intake.recipients.joined_lists import PLACE_FACTS, ReadRows, name_further_list
from pipeline.intake.recipients.read_list import read_list
from tests.signoff.test_parts import ORDER

LATE = "late-names.xlsx"
FIRST = "Recipient\nAda Kittiwake\nBo Tern\nCy Skua\n"


def ordered(folder, more=f'["{LATE}"]', text=ORDER, extra=""):
    (folder / "list.csv").write_text(FIRST, encoding="utf-8")
    own = f'file = "list.csv"\nmore = {more}\n{extra}'
    (folder / "order.toml").write_text(text.replace('file = "list.csv"\n', own), encoding="utf-8")
    return folder


def late(folder, rows, name=LATE):
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    book.save(folder / name)
    return book


def listing(folder):
    return read_list(read_order(folder))


def test_every_place_in_a_further_list_is_named_with_its_file(tmp_path):
    folder = ordered(tmp_path, '["late.csv"]')
    rows = "".join(f"Do {name} Gull,Warden\n" for name in ("Ash", "Elm", "Oak", "Yew") * 20)
    (folder / "late.csv").write_text(f'Recipient,Post\nDo Gull,Cook\n"Ed Rook,Cook\n{rows}', encoding="utf-8")
    (found,) = [f for f in listing(folder).findings if f.code == "list.quotes-unbalanced"]
    assert catalogue.format_message(found).startswith("late.csv: a quotation mark in line 3 of the file")
    assert "Line late.csv!3 of your list" in catalogue.format_for_client(found)


@pytest.mark.parametrize(
    ("places", "named"),
    [
        ("3, 5–7 and 2 more", "late.csv!3, late.csv!5–7 and 2 more"),
        ("C4 “spring, 1985”, C9 “3/4/85”", "late.csv!C4 “spring, 1985”, late.csv!C9 “3/4/85”"),
        ("C4 “May 7, 12, 1985”, C9 “3/4/85”", "late.csv!C4 “May 7, 12, 1985”, late.csv!C9 “3/4/85”"),
        ("4 to 7", "late.csv!4 to 7"),
        ("D2:E", "late.csv!D2:E"),
        ("B", "late.csv!B"),
    ],
)
def test_each_of_several_places_has_its_file(places, named):
    read = ReadRows(
        source=ListSource(file="", sheet="", sha256="", header_row=1, rows=1, columns=()),
        beside_name=(), recipients=(), account=(), totals=(),
        findings=(Finding(code="list.test", severity=Severity.ASK, facts=(("cells", places),)),),
    )  # fmt: skip
    assert name_further_list(read, "late.csv").findings[0].get_fact("cells") == named


COUNTS = {"copies", "count", "counted", "dates", "length", "marks", "most", "stated", "total"}
"""Facts of a list's findings that are numbers, but no places."""
NAMED_ELSEWHERE = {"line", "other_row"}
"""Places that need no file's name added: a line of a text file, and a row found once the lists are joined."""


def test_every_fact_that_names_a_place_is_known():
    """A place in a further list without its file name would send the reader to the first list."""
    place = re.compile(r"[A-Z]{0,3}\d+([:–-][A-Z]{0,3}\d+)?((,| and) [A-Z]{0,3}\d+)*|[A-Z]{1,3}\d+ “.*")
    found = {
        name
        for code, example in build_examples().items()
        if code.startswith(("list.", "text."))
        for name, value in example.facts
        if isinstance(value, int) or place.fullmatch(str(value))
    }
    assert found == ({*PLACE_FACTS} - {"cell"}) | COUNTS | NAMED_ELSEWHERE


def test_a_further_list_may_have_its_header_and_columns_elsewhere(tmp_path):
    late(tmp_path, [["Late names"], [], ["Post", "Recipient"], ["Cook", "Dee Avocet"], ["Mate", "Ed Gull"]])
    done = listing(ordered(tmp_path))
    assert [(str(r.row), r.cell, r.name) for r in done.recipients] == [
        ("2", "A2", "Ada Kittiwake"), ("3", "A3", "Bo Tern"), ("4", "A4", "Cy Skua"),
        (f"{LATE}!4", f"{LATE}!B4", "Dee Avocet"), (f"{LATE}!5", f"{LATE}!B5", "Ed Gull"),
    ]  # fmt: skip
    (source,) = done.further
    assert (source.file, source.header_row, source.rows, dict(source.columns)) == (LATE, 3, 4, {"name": "B"})
    assert len(done.account) == done.rows + source.rows
    unused = next(f for f in done.findings if f.code == "list.column-unused")
    assert catalogue.format_message(unused).startswith("late-names.xlsx: ")


def test_adding_a_list_changes_nothing_else_in_an_order(tmp_path):
    late(tmp_path, [["Recipient"], ["Dee Avocet"]])
    alone = listing(ordered(tmp_path, more="[]"))
    together = listing(ordered(tmp_path))
    assert together.recipients[:3] == alone.recipients and together.account[:4] == alone.account
    assert set(alone.findings) <= set(together.findings)


def test_the_same_person_in_two_lists_is_asked_about_as_within_one(tmp_path):
    late(tmp_path, [["Recipient"], ["Bo Tern"], ["Ada Kitiwake"], ["Dee Avocet"]])
    people = {str(r.row): r for r in listing(ordered(tmp_path)).recipients}
    (again,) = [f for f in people[f"{LATE}!2"].findings if f.code == "list.repeated"]
    assert again.get_fact("rows") == "3 and late-names.xlsx!2" and again.cell == "late-names.xlsx!A2"
    (alike,) = [f for f in people[f"{LATE}!3"].findings if f.code == "list.look-alike"]
    assert alike.get_fact("other_row") == 2
    settled = f'settled = {{ "list.repeated {LATE}!2" = "two of them, says the client" }}\n'
    done = listing(ordered(tmp_path, extra=settled))
    assert not [f for r in done.recipients for f in r.findings if f.code == "list.repeated"]
    assert any(f.code == "list.settled" and f.get_fact("rows") == "row late-names.xlsx!2" for f in done.findings)


def test_marks_and_totals_of_a_further_list_are_seen_and_named_with_its_file(tmp_path):
    book = late(tmp_path, [["Recipient", "How many"], ["Dee Avocet", 2], ["Ed Gull", 1], ["Flo Rook", 1], ["Total", 9]])
    book.active.row_dimensions[3].hidden = True
    book.active["A4"].font = openpyxl.styles.Font(strike=True)
    book.save(tmp_path / LATE)
    text = ORDER.replace('name = "Recipient"', 'name = "Recipient", copies = "How many"')
    folder = ordered(tmp_path, text=text)
    (folder / "list.csv").write_text("Recipient,How many\nAda Kittiwake,1\n", encoding="utf-8")
    done = listing(folder)
    asked = {(f.code, str(f.row)) for r in done.recipients for f in r.findings}
    assert {("list.row-hidden", f"{LATE}!3"), ("list.row-struck", f"{LATE}!4")} <= asked
    (total,) = [f for f in done.findings if f.code == "list.total-differs"]
    assert total.cell == "late-names.xlsx!B5" and (total.get_fact("stated"), total.get_fact("counted")) == ("9", 4)
    hidden = next(f for r in done.recipients for f in r.findings if f.code == "list.row-hidden")
    assert "late-names.xlsx!3" in catalogue.format_message(
        hidden
    ) and "late-names.xlsx!3" in catalogue.format_for_client(hidden)


def test_advice_about_a_further_list_names_no_key_of_the_first_list_only(tmp_path):
    book = late(tmp_path, [["Recipient"], ["Dee Avocet"]])
    book.create_sheet("Old names").append(["Recipient"])
    book.save(tmp_path / LATE)
    found = [f for f in listing(ordered(tmp_path)).findings if f.file]
    assert any(f.code == "list.other-sheets" for f in found)
    for finding in found:
        told = catalogue.format_remedy(finding)
        assert told and not [key for key in catalogue.FIRST_LIST_ALONE if f"`{key}`" in told], told


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ('["gone.xlsx"]', "there is no file “gone.xlsx”"),
        (f'["{LATE}", "{LATE}"]', "named under `more` already"),
        (f'["{LATE}", "./{LATE}"]', "named under `more` already"),
        ('["list.csv"]', "the order's first list"),
        ('["../list.csv"]', "leads out of the order folder"),
        ('["/etc/passwd"]', "leads out of the order folder"),
        ('["outside.xlsx"]', "is a link that leads out"),
        ('["notes"]', "is a folder, not a file"),
        ('[""]', "empty or not a name"),
        ('["order.toml"]', "does not end in"),
        ('["late\\u001b[31m.csv"]', "a character that cannot be printed"),
        ('["fine.csv"]', "“Recipient”"),
        (f'"{LATE}"', "more"),
        ("[1]", "more"),
    ],
)
def test_an_impossible_further_list_is_reported(tmp_path, more, words):
    folder = tmp_path / "order"
    (folder / "notes").mkdir(parents=True)
    late(tmp_path, [["Recipient"], ["Dee Avocet"]], "away.xlsx")
    (folder / "outside.xlsx").symlink_to(tmp_path / "away.xlsx")
    (folder / "fine.csv").write_text("Town,Post\nSkarhaven,Cook\n", encoding="utf-8")
    (folder / "late\x1b[31m.csv").write_text("Recipient\nDee Avocet\n", encoding="utf-8")
    late(folder, [["Recipient"], ["Dee Avocet"]])
    with pytest.raises(CannotRun) as caught:
        listing(ordered(folder, more=more))
    told = str(caught.value)
    assert words in told and ("more" in told or "fine.csv" in told), told


def test_a_column_that_a_further_list_lacks_is_named_with_the_file(tmp_path):
    late(tmp_path, [["Recipient"], ["Dee Avocet"]])
    folder = ordered(tmp_path, text=ORDER.replace('name = "Recipient"', 'name = "Recipient", post = "Post"'))
    (folder / "list.csv").write_text("Recipient,Post\nAda Kittiwake,Mate\n", encoding="utf-8")
    with pytest.raises(CannotRun) as caught:
        listing(folder)
    (fault,) = caught.value.faults
    assert LATE in fault.where and "Post" in str(fault)


def test_a_settled_question_names_lists_of_the_order(tmp_path):
    late(tmp_path, [["Recipient"], ["Dee Avocet"]])
    with pytest.raises(CannotRun, match=r"names a list “latter\.xlsx”"):
        listing(ordered(tmp_path, extra='settled = { "list.repeated latter.xlsx!2" = "yes" }\n'))


def test_a_list_without_headings_has_further_ones_without(tmp_path):
    (tmp_path / "more.csv").write_text("Dee Avocet\nEd Gull\n", encoding="utf-8")
    text = ORDER.replace('name = "Recipient"', 'name = "A"')
    folder = ordered(tmp_path, more='["more.csv"]', text=text, extra="header = 0\n")
    (folder / "list.csv").write_text("Ada Kittiwake\nBo Tern\n", encoding="utf-8")
    assert [r.row for r in listing(folder).recipients] == [1, 2, FurtherRow("more.csv", 1), FurtherRow("more.csv", 2)]


def test_a_column_that_a_further_list_lacks_is_to_be_added_there(tmp_path):
    """[list] columns applies to the first list, so that isn't what has to be corrected."""
    late(tmp_path, [["Names"], ["Dee Avocet"]])
    with pytest.raises(CannotRun) as refused:
        listing(ordered(tmp_path))
    said = str(refused.value)
    assert "write the headings of the first list" in said and "correct [list] columns" not in said.lower()
