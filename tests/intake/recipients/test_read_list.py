"""Reading lists: which rows become plaques, what is asked about, what is refused."""

import datetime as dt
import io
import zipfile
from pathlib import Path

import openpyxl
import pytest
from openpyxl.comments import Comment
from openpyxl.styles import Font

from pipeline.core import catalogue
from pipeline.core.config.order import BlankConfig, LineConfig, ListConfig, ListLimits, Order, OrderFolder
from pipeline.core.errors import CannotRun
from pipeline.intake.recipients.read_list import read_list

SAMPLES = Path(__file__).resolve().parents[3] / "sample_orders"
COLUMNS = {"name": "Recipient", "post": "Post", "copies": "How many"}


def order_for(path, columns=COLUMNS, lines=("{name}", "{post}"), **kw):
    order = Order(
        title="Wardens",
        list=ListConfig(file=path.name, columns=columns, **kw),
        blank=BlankConfig(shape="disc", diameter=70.0),
        line=tuple(LineConfig(text=text, face="eb-garamond", cap_height=8.0) for text in lines),
    )
    return OrderFolder(order=order, folder=path.parent, file=path.parent / "order.toml", sha256="0" * 64)


HEAD = ("Recipient", "Post", "How many")
PEOPLE = [
    ("Ada Kittiwake", "Warden", 1),
    ("Björn Ærøskarv", "Boatman", 1),
    ("Isolde Carrick", "Pilot", 1),
    ("Rhys ap Gwylan", "Warden", 2),
    ("Tuija Lokkinen", "Ice Watch", 1),
]


@pytest.fixture
def read(tmp_path):
    """read(rows, change=function of the sheet, …) returns the list, with every row accounted for."""

    def _read(rows, change=None, **kw):
        book = openpyxl.Workbook()
        page = book.active
        for row in rows:
            page.append(row)
        if change:
            change(page)
        path = tmp_path / "list.xlsx"
        book.save(path)
        before = path.read_bytes()
        done = read_list(order_for(path, **kw))
        assert path.read_bytes() == before
        accounted(done)
        return done

    return _read


def accounted(done):
    """Check that every row that isn't empty has exactly one outcome, and each recipient is one of them."""
    rows = [a.row for a in done.account]
    assert len(rows) == len(set(rows)) == done.rows
    plaques = {a.row for a in done.account if a.fate != "left-out"}
    assert plaques == {r.row for r in done.recipients} and len(plaques) == len(done.recipients)
    assert all(a.reason for a in done.account if a.fate == "left-out")
    for recipient in done.recipients:
        stop = any(f.severity == "stop" for f in recipient.findings)
        assert {a.fate for a in done.account if a.row == recipient.row} == {"stopped" if stop else "plaque"}
    for finding in (*done.findings, *(f for r in done.recipients for f in r.findings)):
        assert catalogue.format_message(finding) and catalogue.format_remedy(finding)
        if finding.severity == "ask":
            asked = catalogue.format_for_client(finding).rstrip(".").count("?")
            assert asked or catalogue.get_kind(finding.code).addressed == "maker"


def codes(done, row=None):
    return [f.code for r in done.recipients if row in (None, r.row) for f in r.findings]


def fates(done):
    return {a.row: a.reason or a.fate for a in done.account}


def refusal(read, *args, **kw):
    with pytest.raises(CannotRun) as stopped:
        read(*args, **kw)
    return " ".join(map(str, stopped.value.faults))


# --- the sample list ---------------------------------------------------------------------------------------------


def test_the_sample_list_is_the_one_its_generator_writes():
    import runpy

    written = runpy.run_path(str(SAMPLES.parent / "tests" / "make_samples.py"))["written"]()
    for path, data in written.items():
        assert path.read_bytes() == data, f"write {path.name} anew: python tests/make_samples.py"


def test_the_sample_list():
    columns = {**COLUMNS, "season": "Season"}
    path = SAMPLES / "seabird-trust" / "recipients.xlsx"
    done = read_list(order_for(path, columns, ("{name}", "{post}", "{season}"), sheet="Wardens"))
    accounted(done)
    assert done.header_row == 4 and len(done.recipients) == 48
    asked = {r.row: [f.code for f in r.findings if f.severity != "note"] for r in done.recipients}
    assert {row: found for row, found in asked.items() if found} == {
        22: ["list.remark-beside"],
        26: ["text.case-odd"],
        32: ["list.cell-error"],
        38: ["list.look-alike"],
        45: ["list.copies-unclear"],
        46: ["list.row-struck"],
        50: ["list.repeated"],
    }
    assert {r.row for r in done.recipients if "text.tidied" in codes(done, r.row)} == {13, 30, 47}
    assert {f.code for f in done.findings} == {
        "list.left-out", "list.blank-rows", "list.other-sheets", "list.remark-beside", "list.column-unused"
    }  # fmt: skip


# --- header and columns ------------------------------------------------------------------------------------------


def test_header_below_a_banner_and_headings_with_forgiven_case_and_spacing(read):
    rows = [("WARDENS OF THE SHORE",), (), ("list of", "names"), (" RECIPIENT:", "post", "How\nmany"), *PEOPLE]
    done = read(rows)
    assert done.header_row == 4 and [r.get_value("name") for r in done.recipients] == [p[0] for p in PEOPLE]
    assert fates(done)[1] == fates(done)[3] == "a title above the header" and fates(done)[4] == "the header"
    assert [r.copies for r in done.recipients] == [1, 1, 1, 2, 1]


def test_the_header_row_of_the_order_wins(read):
    rows = [HEAD, ("Last year", "", ""), HEAD, *PEOPLE]
    assert read(rows, header=3).header_row == 3
    assert read(rows).header_row == 1
    assert fates(read(rows))[3] == "the header again"


def test_a_missing_column_names_the_headings_there_and_the_nearest(read):
    said = refusal(read, [("Recipients", "Post", "How many"), *PEOPLE])
    assert "no column is headed “Recipient”" in said and "“Recipients”, “Post”, “How many”" in said
    assert "Did you mean “Recipients”?" in said


def test_all_missing_columns_at_once(read):
    with pytest.raises(CannotRun) as stopped:
        read([("Who", "What", "How many"), *PEOPLE])
    assert len(stopped.value.faults) == 2


def test_no_header_at_all_shows_what_was_seen(read):
    said = refusal(read, PEOPLE)
    assert "no row has any of the headings" in said and "Row 1 has “Ada Kittiwake”" in said


def test_two_columns_with_the_same_heading_are_asked_about(read):
    rows = [("Recipient", "Post", "Post", "How many"), ("Ada Kittiwake", "Warden", "Old post", 1)]
    assert "“Post” heads 2 columns: B, C" in refusal(read, rows)
    done = read(rows, columns={**COLUMNS, "post": "column C"})
    assert done.recipients[0].get_value("post") == "Old post"


def test_a_blank_header_row_is_refused(read):
    assert "row 9 is blank" in refusal(read, [HEAD, *PEOPLE], header=9)


def test_a_list_without_headings_has_its_columns_by_letter(read):
    done = read(PEOPLE, columns={"name": "A", "post": "B"}, header=0)
    assert len(done.recipients) == 5 and done.header_row == 0
    assert "isn't a column's letter" in refusal(read, PEOPLE, columns={"name": "Recipient"}, header=0)


def test_columns_are_guessed_when_none_are_given(read):
    rows = [("Awards",), ("No", "First name", "Surname", "Role", "Qty"), (1, "Ada", "Kittiwake", "Warden", 2)]
    done = read(rows, columns={})
    assert dict(done.columns) == {"name": "B C", "post": "D", "copies": "E"}
    assert done.recipients[0].get_value("name") == "Ada Kittiwake" and done.recipients[0].copies == 2


def test_a_guess_that_fails_says_what_is_missing(read):
    said = refusal(read, [("Recipient", "Colour"), ("Ada", "red")], columns={}, lines=("{name}", "{school}"))
    assert "which column holds school" in said and "“Recipient”, “Colour”" in said


def test_a_name_over_several_columns(read):
    rows = [("First", "Middle", "Last", "Post"), ("Ada", None, " Kittiwake", "Warden"), ("Bo", "J.", "Skua", "Cook")]
    done = read(rows, columns={"name": ["First", "Middle", "Last"], "post": "Post"})
    assert [r.get_value("name") for r in done.recipients] == ["Ada Kittiwake", "Bo J. Skua"]
    assert codes(done) == ["text.tidied"]


def test_half_a_name_is_asked_about_where_the_others_have_both(read):
    rows = [
        ("Title", "First", "Last"),
        ("Dr", "Ada", "Kittiwake"),
        ("Dr", "Bo", "Skua"),
        (None, "Cy", None),
        (None, None, "Tern"),
        (None, "N.N.", None),
        ("Dr", "Di", "Auk"),
    ]
    done = read(rows, columns={"name": ["Title", "First", "Last"]}, lines=("{name}",))
    assert {f.cell for r in done.recipients for f in r.findings if f.code == "list.name-incomplete"} == {"C4", "B5"}
    firms = [("First", "Last"), ("Ada", "Kittiwake"), (None, "Skua & Sons"), (None, "Tern Ltd"), (None, "Auk Society")]
    assert codes(read(firms, columns={"name": ["First", "Last"]}, lines=("{name}",))) == []


# --- rows --------------------------------------------------------------------------------------------------------


def test_totals_notes_and_gaps_are_left_out_with_a_note(read):
    done = read([HEAD, *PEOPLE[:3], (), *PEOPLE[3:], (), ("Total", None, 6), ("Please check the spelling of row 4.",)])
    assert len(done.recipients) == 5
    assert fates(done)[9] == "a totals row" and fates(done)[10] == "a note"
    assert [f.code for f in done.findings] == ["list.left-out", "list.remark-beside", "list.blank-rows"]


def test_sums_carried_over_to_the_next_page_are_no_names(read):
    done = read([HEAD, *PEOPLE[:3], ("carried forward", None, 3), ("brought forward", None, 3), *PEOPLE[3:]])
    assert [r.row for r in done.recipients] == [2, 3, 4, 7, 8]


def test_a_total_that_differs_is_asked_about(read):
    done = read([HEAD, *PEOPLE, ("Total", None, 7)])
    found = next(f for f in done.findings if f.code == "list.total-differs")
    assert found.cell == "C7" and "7" in catalogue.format_message(found) and "6" in catalogue.format_message(found)


def test_a_total_under_a_column_that_is_lettered_is_asked_about(read):
    """A sum of years is where every other row has its own year: enough to ask, not to leave out."""
    done = read([HEAD, *PEOPLE, ("TOTAL", 67, None)])
    assert len(done.recipients) == 6
    assert codes(done, 7)[0] == "list.perhaps-not-a-name"
    assert "totals row" in catalogue.format_message(done.recipients[-1].findings[0])


def test_a_person_called_total_stays_a_person(read):
    done = read([HEAD, *PEOPLE, ("Sum Total", "Warden", 1), ("Total", "Cook", 1)])
    assert len(done.recipients) == 7
    assert codes(done, 7) == [] and codes(done, 8) == ["list.perhaps-not-a-name"]  # it may total the cooks
    halves = [("First", "Last"), ("Count", "Orloff"), ("Sum", "Skua"), ("Total", None)]
    done = read(halves, columns={"name": ["First", "Last"]}, lines=("{name}",))
    assert fates(done)[2] == fates(done)[3] == "plaque" and fates(done)[4] == "a totals row"


def test_a_subtotal_is_not_held_against_the_whole_list(read):
    done = read([HEAD, *PEOPLE[:3], ("Sub-total", None, 3), *PEOPLE[3:], ("Total", None, 7)])
    assert [f.cell for f in done.findings if f.code == "list.total-differs"] == ["C8"]


def test_a_row_without_a_name_stops(read):
    done = read([HEAD, *PEOPLE, (None, "Cook", 1), ("Ebbe Holmvik", "Cook", 1)])
    assert fates(done)[7] == "stopped" and codes(done, 7) == ["list.name-missing"]
    assert "“Cook”" in catalogue.format_message(done.recipients[5].findings[0])
    assert done.recipients[5].cell == "A7"


def test_a_row_with_only_what_others_have_beside_their_names_stops(read):
    """It is no heading of a section: the text stands in the same column beside other names."""
    rows = [("Name", "Dept"), ("Ada Skua", "Kiln"), ("Bo Tern", "Press"), (None, "Press"), ("Cy Knot", "Kiln")]
    done = read(rows, columns={"name": "Name"}, lines=("{name}",))
    assert fates(done)[4] == "stopped" and codes(done, 4) == ["list.name-missing"]


def test_a_name_alone_in_its_row_is_asked_about_not_dropped(read):
    done = read([HEAD, *PEOPLE, ("Ebbe Holmvik",)])
    assert "list.perhaps-not-a-name" in codes(done, 7)


def test_section_headings(read):
    done = read([HEAD, ("Gold level",), *PEOPLE, ("Silver level",), ("Ebbe Holmvik", "Cook", 1)])
    assert fates(done)[2] == fates(done)[8] == "a section heading" and len(done.recipients) == 6


def test_hidden_rows(read):
    def hide(page):
        page.row_dimensions[3].hidden = True

    assert codes(read([HEAD, *PEOPLE], hide)) == ["list.row-hidden"]
    assert codes(read([HEAD, *PEOPLE], hide, hidden="use")) == []
    left = read([HEAD, *PEOPLE], hide, hidden="leave-out")
    assert len(left.recipients) == 4 and "hidden" in fates(left)[3]


def test_struck_names_and_comments(read):
    def mark(page):
        page["A3"].font = Font(strike=True)
        page["B4"].comment = Comment("M.T.:\nhas moved on", "M.T.")

    done = read([HEAD, *PEOPLE], mark)
    assert codes(done) == ["list.row-struck", "list.comment"]
    assert "“has moved on”" in catalogue.format_message(done.recipients[2].findings[0])
    assert len(read([HEAD, *PEOPLE], mark, struck="leave-out").recipients) == 4


def test_errors_stop_only_where_they_would_be_cut(read):
    done = read([(*HEAD, "Fee"), ("#N/A", "Warden", 1, "#REF!"), ("Ada Skua", "#REF!", 1, 3), ("Bo Tern", "Cook", 1)])
    assert codes(done, 2) == ["list.cell-error"] and codes(done, 3) == ["list.cell-error"] and not codes(done, 4)
    assert "#N/A" in catalogue.format_message(done.recipients[0].findings[0])
    unused = read([HEAD, ("Ada Skua", "#REF!", 1)], lines=("{name}",))
    assert codes(unused) == []


def test_a_formula_without_its_result_stops(read):
    done = read([HEAD, ('=PROPER("ada skua")', "Warden", 1)])
    assert codes(done) == ["list.no-result"]


def test_numbers_and_dates_where_text_belongs(read):
    rows = [HEAD, (47, "Warden", 1), ("Ada Skua", 2026, 1), ("Bo Tern", 12.5, 1), ("Cy Knot", dt.date(2026, 5, 3), 1)]

    def formats(page):
        page["B4"].number_format = "0.00"
        page["B5"].number_format = "d mmmm yyyy"

    done = read(rows, formats)
    assert codes(done, 2) == ["list.not-text"] and codes(done, 3) == []
    assert codes(done, 4) == ["list.as-shown"] and done.recipients[2].get_value("post") == "12.50"
    assert codes(done, 5) == ["list.not-text"] and done.recipients[3].get_value("post") == "3 May 2026"


@pytest.mark.parametrize(
    ("value", "copies", "asked"),
    [
        (1, 1, False),
        (500, 500, False),
        (501, 1, True),
        ("3", 3, False),
        (None, 1, True),
        ("two", 2, True),
        ("3 pcs", 3, True),
        (1.5, 1, True),
        (-2, 1, True),
        ("?", 1, True),
        ("#REF!", 1, True),
    ],
)
def test_copies(read, value, copies, asked):
    done = read([HEAD, ("Ada Kittiwake", "Warden", value)])
    assert done.recipients[0].copies == copies
    assert codes(done) == (["list.copies-unclear"] if asked else [])


def test_zero_copies_are_left_out_and_asked_about(read):
    done = read([HEAD, ("Ada Kittiwake", "Warden", 0), *PEOPLE[1:]])
    assert fates(done)[2] == "0 copies are asked for"
    assert [f.code for f in done.findings] == ["list.no-copies"]


def test_languages(read):
    rows = [("Recipient", "Lang"), ("Şebnem Martı", "tr"), ("Ada Skua", None)]
    done = read(rows, columns={"name": "Recipient", "language": "Lang"}, lines=("{name}",), language="en")
    assert [r.language for r in done.recipients] == ["tr", "en"]


# --- rows held against each other --------------------------------------------------------------------------------


def name_codes(read, *names):
    done = read([("Recipient",), *[(n,) for n in names]], columns={"name": "Recipient"}, lines=("{name}",))
    return {r.get_value("name"): [f.code for f in r.findings] for r in done.recipients}


@pytest.mark.parametrize(
    ("a", "b"),
    [
        ("Katherine Ashby", "Catherine Ashby"),
        ("Jon Ashby", "John Ashby"),
        ("Zdeněk Vlnolam", "Zdenek Vlnolam"),
        ("Ada Kittiwake", "Ada M. Kittiwake"),
        ("Ada Kittiwake", "Dr Ada Kittiwake"),
        ("Anne-Marie Skua", "Annemarie Skua"),
        ("Saoirse O’Faran", "Saoirse O'Faran"),
        ("Ada Kittiwake", "Kittiwake Ada"),
        ("Brian Stormhavn", "Brain Stormhavn"),
        ("Philippa Meyer", "Philippa Meier"),
        ("Сосо Skua", "Coco Skua"),
        ("Wilhelmina Featherstone", "Wilhelmina Fetherstone"),
    ],
)
def test_look_alikes(read, a, b):
    assert "list.look-alike" in name_codes(read, "Rhys ap Gwylan", a, b)[b]


@pytest.mark.parametrize(
    ("a", "b"),
    [
        ("Mario Rossini", "Maria Rossini"),
        ("Eric Stormhavn", "Erica Stormhavn"),
        ("Tim Skua", "Tom Skua"),
        ("Ada M. Kittiwake", "Ada P. Kittiwake"),
        ("Mr A. Kittiwake", "Mrs A. Kittiwake"),
        ("Barnaby Thrift", "Clementine Thrift"),
        ("John Skua II", "John Skua III"),
        ("Jory Pellow", "Jory & Tamsin Pellow"),
    ],
)
def test_two_people_with_like_names(read, a, b):
    found = name_codes(read, "Rhys ap Gwylan", a, b)
    assert found[a] == found[b] == []


def test_a_spelling_that_others_share_is_not_a_typo(read):
    names = [f"{first} {last}" for last in ("Skua", "Tern", "Knot", "Gannet") for first in ("Katherine", "Catherine")]
    assert not any(name_codes(read, *names).values())


def test_rows_that_differ_in_a_lettered_column_are_not_duplicates(read):
    done = read([HEAD, *PEOPLE, ("ada  kittiwake", "Cook", 1), ("Ada Kittiwake", "warden", 1), PEOPLE[0]])
    assert not any(f.code == "list.repeated" for f in done.recipients[5].findings)
    for recipient in done.recipients[6:]:
        found = next(f for f in recipient.findings if f.code == "list.repeated")
        assert catalogue.format_message(found) == "rows 2, 8 and 9 read alike, “Ada Kittiwake · Warden”"
        assert catalogue.format_for_client(found).endswith("Is that one plaque, or 3?")


# --- files that cannot be read -----------------------------------------------------------------------------------


def good_bytes():
    book = openpyxl.Workbook()
    for row in (HEAD, *PEOPLE):
        book.active.append(row)
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


def with_part(name, change):
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(good_bytes())) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for part in old.infolist():
            data = old.read(part)
            new.writestr(part.filename, change(data) if part.filename == name else data)
    return out.getvalue()


SHEET = "xl/worksheets/sheet1.xml"
BROKEN = {
    "empty": (b"", "0 bytes"),
    "text": (b"just some words\n", "isn't a workbook"),
    "pdf": (b"%PDF-1.7 ...", "PDF"),
    "web page": (b"<html><table><tr><td>Name", "web page"),
    "locked": (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600 + "EncryptedPackage".encode("utf-16-le"), "password"),
    "letter": (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600, "no workbook"),
    "cut off": (good_bytes()[:2000], "damaged"),
    "bad xml": (with_part(SHEET, lambda data: data[: len(data) // 2]), "damaged"),
    "entities": (
        with_part(SHEET, lambda data: b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "b">]>' + data),
        "entities",
    ),
    "bomb": (with_part(SHEET, lambda data: data + b" " * (30 * 2**20)), "times its size"),
}


@pytest.mark.parametrize("kind", BROKEN)
def test_broken_files_are_refused_in_one_sentence(tmp_path, kind):
    data, words = BROKEN[kind]
    path = tmp_path / "list.xlsx"
    path.write_bytes(data)
    with pytest.raises(CannotRun) as stopped:
        read_list(order_for(path))
    assert words in str(stopped.value) and str(path) in str(stopped.value)
    assert path.read_bytes() == data


def test_a_list_beyond_a_limit_is_refused_naming_the_key(tmp_path):
    path = tmp_path / "list.xlsx"
    path.write_bytes(good_bytes())
    read_list(order_for(path))
    for key, words in {
        "file_mb": "the file has",
        "unpacked_mb": "the file unpacks to",
        "times": "times its size",
        "parts": "parts inside",
        "rows": "6 rows that hold something",
        "columns": "3 of its columns",
        "cells": "18 cells",
        "text": "A1 holds 9 characters",
    }.items():
        big = with_part(SHEET, lambda data: data.replace(b"</worksheet>", b"<!--" + b"x" * 2**21 + b"--></worksheet>"))
        path.write_bytes(big + b"\0" * 2**20 if key == "file_mb" else big)
        limits = ListLimits(**{"times": 400_000, "unpacked_mb": 9, **{key: 1}})
        with pytest.raises(CannotRun, match=f"{words}.*at most 1, the limit `{key}`.*{key} = … "):
            read_list(order_for(path, limits=limits))


def test_missing_file_folder_and_sheet(tmp_path):
    with pytest.raises(CannotRun, match="no such file"):
        read_list(order_for(tmp_path / "list.xlsx"))
    (tmp_path / "folder.xlsx").mkdir()
    with pytest.raises(CannotRun, match="a folder"):
        read_list(order_for(tmp_path / "folder.xlsx"))
    path = tmp_path / "list.xlsx"
    path.write_bytes(good_bytes())
    with pytest.raises(CannotRun, match="no sheet “Wardens”"):
        read_list(order_for(path, sheet="Wardens"))
    assert len(read_list(order_for(path, sheet=" sheet ")).recipients) == 5


def test_an_empty_sheet(tmp_path):
    openpyxl.Workbook().save(tmp_path / "list.xlsx")
    with pytest.raises(CannotRun, match="The sheet is empty"):
        read_list(order_for(tmp_path / "list.xlsx"))


# --- shapes ------------------------------------------------------------------------------------------------------


def two_rows(page):
    page.insert_rows(1, 2)
    for cell, text in zip("ABCD", ("Name", None, "Post", "How many"), strict=True):
        page[f"{cell}1"] = text
    for cell, text in zip("AB", ("First", "Last"), strict=True):
        page[f"{cell}2"] = text
    page.merge_cells("A1:B1")
    page.merge_cells("C1:C2")
    page.merge_cells("D1:D2")


PARTED = [("Ada", "Kittiwake", "Warden", 1), ("Björn", "Ærøskarv", "Boatman", 2)]


@pytest.mark.parametrize(
    "name", ["Name", ["First", "Last"], ["Name First", "Name Last"], ["column A", "column B"]], ids=str
)
def test_a_header_in_two_rows(read, name):
    done = read(PARTED, two_rows, columns={"name": name, "post": "Post", "copies": "How many"})
    assert [r.get_value("name") for r in done.recipients] == ["Ada Kittiwake", "Björn Ærøskarv"]
    assert fates(done)[1] == fates(done)[2] == "the header" and done.header_row == 2
    assert [r.copies for r in done.recipients] == [1, 2]


def test_a_header_in_two_rows_is_guessed(read):
    done = read(PARTED, two_rows, columns={})
    assert dict(done.columns) == {"name": "A B", "copies": "D", "post": "C"}


def test_a_header_in_two_rows_without_merged_cells(tmp_path):
    path = tmp_path / "list.csv"
    path.write_text("Name,,Post\nFirst,Last,Role\nAda,Kittiwake,Warden\n", encoding="utf-8")
    done = read_list(order_for(path, {"name": "Name", "post": "Post"}))
    accounted(done)
    assert done.recipients[0].get_value("name") == "Ada Kittiwake" and len(done.recipients) == 1


def test_a_second_list_below_with_its_columns_elsewhere(read):
    moved = [("Post", "How many", "Recipient"), *[(post, n, name) for name, post, n in PEOPLE[3:]]]
    done = read([HEAD, *PEOPLE[:3], (), *moved])
    assert [r.get_value("name") for r in done.recipients] == [p[0] for p in PEOPLE]
    assert [r.copies for r in done.recipients] == [1, 1, 1, 2, 1] and done.recipients[3].cell == "C7"
    assert "in other places" in fates(done)[6]


def test_headings_on_another_sheet_are_pointed_out(tmp_path):
    book = openpyxl.Workbook()
    book.active.append(("Dear engraver",))
    page = book.create_sheet("Wardens")
    page.append(HEAD)
    page.append(PEOPLE[0])
    book.save(tmp_path / "list.xlsx")
    with pytest.raises(CannotRun, match="on another sheet: “Wardens”"):
        read_list(order_for(tmp_path / "list.xlsx"))
    assert len(read_list(order_for(tmp_path / "list.xlsx", sheet="Wardens")).recipients) == 1


def test_raised_and_part_struck_text_is_asked_about(read):
    from openpyxl.cell.rich_text import CellRichText, TextBlock
    from openpyxl.cell.text import InlineFont

    def rich(page):
        page["A2"] = CellRichText("Ada Kittiwake 1", TextBlock(InlineFont(vertAlign="superscript"), "st"))
        page["A3"] = CellRichText(TextBlock(InlineFont(strike=True), "Björn "), "Bjørn Ærøskarv")
        page["A4"] = CellRichText(TextBlock(InlineFont(b=True), "Isolde "), "Carrick")

    done = read([HEAD, *PEOPLE], rich)
    assert codes(done, 2) == codes(done, 3) == ["text.format-lost"] and codes(done, 4) == []
    assert [r.get_value("name") for r in done.recipients[:2]] == ["Ada Kittiwake 1st", "Björn Bjørn Ærøskarv"]


def test_hidden_columns_are_reported(read):
    def hide(page):
        page.column_dimensions["B"].hidden = True

    done = read([HEAD, *PEOPLE], hide)
    found = next(f for f in done.findings if f.code == "list.column-hidden")
    assert "B (used)" in catalogue.format_message(found)


def test_a_list_without_recipients_is_reported(read):
    """Every row is accounted for, yet it may be the wrong sheet."""
    empty = read([HEAD])
    assert not empty.recipients and "list.no-recipients" in {f.code for f in empty.findings}
    assert "list.no-recipients" not in {f.code for f in read([HEAD, PEOPLE[0]]).findings}
