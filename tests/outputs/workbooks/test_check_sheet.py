"""check.xlsx, read back with two independent libraries (openpyxl, calamine)."""

from __future__ import annotations

import io
import zipfile
from dataclasses import replace

import openpyxl
import pytest
from python_calamine import CalamineWorkbook

from pipeline.core.model import RowOutcome
from pipeline.outputs.revision import Revision
from pipeline.outputs.workbooks import check_sheet as sheet
from pipeline.outputs.workbooks.workbook import LONGEST_CELL
from tests import builders
from tests import check_words as words


@pytest.fixture(scope="module")
def outcome():
    return builders.outcome()


@pytest.fixture(scope="module")
def data(outcome):
    return sheet.check_sheet(outcome, builders.folder())


@pytest.fixture(scope="module")
def book(data):
    return openpyxl.load_workbook(io.BytesIO(data))


def table(book, name):
    """Return a sheet's rows as dicts by heading."""
    heads, *rows = [[cell.value for cell in row] for row in book[name].iter_rows()]
    return [dict(zip(heads, row, strict=True)) for row in rows]


def test_the_client_s_rows_are_in_list_order_with_their_state_in_words(book):
    rows = table(book, words.SHEET)
    assert [r[words.ROW] for r in rows] == list(range(5, 13))
    assert [r[words.STATE] for r in rows] == ["ready"] * 4 + ["question", "ready"] + ["cannot be cut"] * 2
    assert rows[4][words.TEXT] == "Oyvind Storm\nWarden\n2026"
    assert rows[4][words.RAW].startswith("  Oyvind  Storm ")
    assert "9.30 mm too long" in rows[6][words.FOUND]
    assert "smallest = 4.75" in rows[6][words.TO_DO]
    assert rows[6][words.CODES] == "fit.too-long"


def test_measurements_are_numbers_and_the_smallest_of_the_plaque(book):
    row = table(book, words.SHEET)[0]
    assert row["Cap height, line 1 (mm)"] == 8.0
    assert row["Cap height, line 3 (mm)"] == 4.0
    assert row["Narrowest stroke (mm)"] == pytest.approx(0.155)
    assert row["Stroke after sanding (mm)"] == pytest.approx(0.055)


def test_lengths_follow_the_order_s_unit(outcome):
    inches = openpyxl.load_workbook(io.BytesIO(sheet.check_sheet(outcome, builders.folder(units="in"))))
    row = table(inches, words.SHEET)[0]
    assert row["Cap height, line 1 (in)"] == pytest.approx(8 / 25.4, abs=1e-6)


def test_header_is_frozen_filtered_and_wide_enough(book):
    first = book[words.SHEET]
    assert first.freeze_panes == "D2"
    assert first.auto_filter.ref.startswith("A1:") and first.auto_filter.ref.endswith("9")
    assert all(first.column_dimensions[c].width >= 6 for c in "ABCDEFGHI")
    for cell in first[1]:
        longest = max(cell.value.replace("(", "").split(), key=len)
        assert first.column_dimensions[cell.column_letter].width >= len(longest), cell.value


def test_colour_only_repeats_what_the_text_says(book):
    fills = {row[4].value: row[4].fill.fgColor.rgb for row in book[words.SHEET].iter_rows(min_row=2)}
    assert fills.keys() == {"ready", "question", "cannot be cut"}
    assert len(set(fills.values())) == 3


@pytest.mark.parametrize(
    "nasty", ["=1+1", "+1", "-1", "@SUM(A1)", "=HYPERLINK(A1)", "{=1}", "0012", "1e5", "http://a.example"]
)
def test_no_text_becomes_a_formula_a_number_or_a_link(nasty):
    outcome = builders.outcome((builders.stopped_unset(5, nasty, builders.too_long(5, nasty)),))
    data = sheet.check_sheet(outcome, builders.folder())
    cell = openpyxl.load_workbook(io.BytesIO(data))[words.SHEET]["C2"]
    assert cell.data_type == "s" and cell.value.splitlines()[0] == nasty
    with zipfile.ZipFile(io.BytesIO(data)) as parts:
        for name in parts.namelist():
            if name.startswith("xl/worksheets/sheet"):
                xml = parts.read(name)
                assert b"<f>" not in xml and b"<hyperlink" not in xml


@pytest.mark.parametrize(
    "odd", ["Ada\x00\x1bTern", "Ad\ud83da", "x\ufffe", "_x0041_", "é" * 40000, "\u202eTern", "a\tb"]
)
def test_any_character_a_cell_may_hold_can_be_written_and_read(odd):
    outcome = builders.outcome((builders.stopped_unset(5, odd),))
    rows = CalamineWorkbook.from_filelike(io.BytesIO(sheet.check_sheet(outcome, builders.folder())))
    shown = rows.get_sheet_by_name(words.SHEET).to_python()[1][2]
    if odd == "_x0041_":
        assert shown.startswith("_x0041_")
    if len(odd) > 1000:
        assert "cut here" in shown and len(shown) <= LONGEST_CELL
    assert shown


def test_equal_runs_give_equal_bytes(outcome, data):
    assert sheet.check_sheet(outcome, builders.folder()) == data


def test_answers_are_offered_and_other_text_is_accepted(book):
    rules = book[words.SHEET].data_validations.dataValidation
    assert len(rules) == 1
    assert rules[0].formula1 == '"agreed,change,do not cut"'
    assert not rules[0].showErrorMessage
    heads = [c.value for c in book[words.SHEET][1]]
    column = openpyxl.utils.get_column_letter(heads.index(words.ANSWER) + 1)
    assert str(rules[0].sqref) == f"{column}2:{column}9"


def test_the_sheet_states_its_order_and_revision(outcome):
    data = sheet.check_sheet(outcome, builders.folder(), Revision(letter="C"))
    cells = {r[0].value: r[1].value for r in openpyxl.load_workbook(io.BytesIO(data))[words.SIGN_SHEET].iter_rows()}
    assert cells[words.REVISION] == "C"
    assert cells[words.TITLE] == "Wardens of the Shore 2026"
    assert len(cells[words.ORDER_CODE]) == 6
    assert cells[words.BY] is None and cells[words.ON] is None


def test_designs_signed_earlier_are_shown(outcome):
    mark = outcome.plaques[0].fingerprint
    revision = Revision(letter="B", signed=((mark, "R. Petrel, 2026-05-02"),))
    rows = table(
        openpyxl.load_workbook(io.BytesIO(sheet.check_sheet(outcome, builders.folder(), revision))), words.SHEET
    )
    assert [r[words.ROW] for r in rows if r[words.SIGNED]] == [5, 10]  # two identical names, one design


def test_order_wide_findings_and_every_row_of_the_list_have_their_sheets(outcome):
    wide = replace(outcome, findings=(builders.moved(9),))
    book = openpyxl.load_workbook(io.BytesIO(sheet.check_sheet(wide, builders.folder())))
    assert "moved the size of the whole order" in table(book, words.ORDER_SHEET)[0][words.FOUND]
    accounts = table(book, words.ROWS_SHEET)
    assert [a[words.ROW] for a in accounts] == sorted(a.row for a in outcome.listing.account)
    assert accounts[-1]["Why"] == "a totals row"
    assert RowOutcome(row=13, fate="left-out", reason="a totals row") in outcome.listing.account


def test_an_internal_error_has_its_row_in_place(outcome):
    faulty = replace(outcome, plaques=outcome.plaques[:2] + outcome.plaques[3:], faults=((7, "Trace\nKeyError: 'x'"),))
    rows = table(openpyxl.load_workbook(io.BytesIO(sheet.check_sheet(faulty, builders.folder()))), words.SHEET)
    assert [r[words.ROW] for r in rows] == list(range(5, 13))
    assert rows[2][words.STATE] == "fault of the tool" and "KeyError" in rows[2][words.FOUND]
