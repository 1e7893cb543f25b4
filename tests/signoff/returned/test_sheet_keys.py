"""Check sheets are read by hidden keys, whatever their language; those sent before keys existed by headings."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest

from pipeline.outputs.workbooks import check_sheet as keys
from pipeline.outputs.workbooks.check_sheet import check_sheet
from pipeline.signoff.records.designs import read_last_run
from pipeline.signoff.returned.check_sheet_answers import SentSheet, read_answer_sheet
from pipeline.signoff.returned.sheet_cells import read_sheet_cells
from pipeline.signoff.returned.sheet_places import find_places
from tests import builders
from tests import check_words as heads
from tests.languages import accented, pseudo_catalogue, texts_of
from tests.signoff.rounds import Round, filled

BY_HEADINGS = Path(__file__).parents[1] / "returned_before" / "check-by-headings.xlsx"
"""Of `builders.some_plaques`, by the version that had no keys."""
ANSWERS = {5: "agreed", 6: ("change", "Márta Szélfúvás"), 7: "do not cut", 9: "ok", 11: ("", "Ida Stint")}


@pytest.fixture(scope="module")
def trip(tmp_path_factory):
    made = Round(tmp_path_factory.mktemp("order"), builders.some_plaques())
    made.run()
    return made


def read(trip, paper: Path, *sheets: Path):
    sent = SentSheet(designs=read_last_run(trip.out).designs, sheets=sheets)
    return read_answer_sheet(paper, lambda revision: sent)


def told(paper):
    """Return everything except the file's name and hash."""
    return paper.answers, paper.replies, paper.problems, paper.by, paper.date, paper.order_id, paper.revision


def headings_of(sheet: Path) -> list[object]:
    """Return the headings of the first sheet and the labels of the second, in order."""
    check, sign = openpyxl.load_workbook(sheet).worksheets[:2]
    return [c.value for c in (*check[1], *sign["A"])]


def without_advice(headings):
    """Return it without the instructions for answering, which aren't used for reading."""
    return [heading for heading in headings if not str(heading).startswith("On the sheet")]


def test_a_sheet_sent_before_there_were_keys_is_read_as_one_of_now(trip, tmp_path):
    assert not openpyxl.load_workbook(BY_HEADINGS).defined_names.keys() & {
        keys.build_defined_name(k) for k in keys.COLUMNS
    }
    now = [told for told in headings_of(trip.out / "check.xlsx") if told not in ("No.", "Questions")]  # added later
    assert without_advice(headings_of(BY_HEADINGS)) == without_advice(now)
    old = read(trip, filled(BY_HEADINGS, tmp_path / "old.xlsx", ANSWERS), BY_HEADINGS)
    new = read(trip, filled(trip.out / "check.xlsx", tmp_path / "new.xlsx", ANSWERS), trip.out / "check.xlsx")
    assert told(old) == told(new)
    assert {a.decision for a in old.answers} == {"agreed", "change", "refused", "unclear", "unanswered"}
    assert old.by == "Rowan Petrel" and len(old.replies) == 1


def test_every_column_and_label_has_its_key(trip):
    book = read_sheet_cells((trip.out / "check.xlsx").read_bytes(), "check.xlsx")
    at = find_places(book)
    assert at.columns.keys() >= set(keys.COLUMNS) and at.labels.keys() == set(keys.LABELS) - {keys.PART}
    for key in keys.COLUMNS:
        assert book.names[keys.build_defined_name(key)] == (heads.SHEET, 1, at.columns[key])
    for key, row in at.labels.items():
        assert book.names[keys.build_defined_name(key)] == (heads.SIGN_SHEET, row, 1)
    assert {book.words[keys.build_defined_name(key)] for key in keys.ANSWERS} == {"agreed", "change", "do not cut"}


# --- another language ------------------------------------------------------------------------------------------------


@pytest.fixture
def foreign(trip, tmp_path):
    """Return the same sheet in a language without a catalogue."""
    path = tmp_path / "foreign.xlsx"
    path.write_bytes(check_sheet(trip.outcome, builders.folder(), texts=texts_of(pseudo_catalogue())))
    return path


def fill(path: Path, target: Path, answers: dict[int, tuple[str, str]]) -> Path:
    book = openpyxl.load_workbook(path)
    check, sign = book.worksheets[:2]
    column = {cell.value: cell.column for cell in check[1]}
    for row in range(2, check.max_row + 1):
        answer, change = answers.get(check.cell(row, 1).value, ("", ""))
        check.cell(row, column[accented("Your answer")]).value = answer or None
        check.cell(row, column[accented("Change to")]).value = change or None
    for row in sign.iter_rows():
        if row[0].value == accented("Your name"):
            row[1].value = "Rowan Petrel"
        if row[0].value == accented("Date"):
            row[1].value = "2 May 2026"
    book.save(target)
    return target


def test_a_sheet_of_any_language_is_read_by_its_keys(trip, foreign, tmp_path):
    book = openpyxl.load_workbook(foreign)
    assert not {heads.SHEET, heads.SIGN_SHEET} & set(book.sheetnames)
    assert not {heads.ROW, heads.TEXT, heads.ANSWER, heads.FINGERPRINT} & {c.value for c in book.worksheets[0][1]}
    said = {5: ("ágrééd", ""), 6: ("chángé", "Márta Szélfúvás"), 7: ("Dó nót cút", "")}
    said |= {9: ("ok", ""), 11: ("", "Ida Stint")}
    paper = read(trip, fill(foreign, tmp_path / "back.xlsx", said), foreign)
    english = read(trip, filled(trip.out / "check.xlsx", tmp_path / "b.xlsx", ANSWERS), trip.out / "check.xlsx")
    assert [(a.rows, a.decision, a.change_to) for a in paper.answers] == [
        (a.rows, a.decision, a.change_to) for a in english.answers
    ]
    assert (paper.by, paper.date, paper.order_id, paper.replies) == (
        english.by, english.date, english.order_id, english.replies,
    )  # fmt: skip
    assert [p.code for p in paper.problems] == [p.code for p in english.problems]


def test_changes_in_it_are_reported_by_its_own_headings(trip, foreign, tmp_path):
    back = fill(foreign, tmp_path / "back.xlsx", {5: ("ágrééd", ""), 6: ("ágrééd", "")})
    book = openpyxl.load_workbook(back)
    book.worksheets[0]["D2"].value = 7
    book.worksheets[1]["D9"].value = "not yet"
    book.save(back)
    paper = read(trip, back, foreign)
    assert {a.decision for a in paper.answers} == {"unclear", "unanswered"}
    told = " ".join(p.found for p in paper.problems)
    assert "“Píécés” now reads “7” and was “1”" in told and "“not yet” is written on the sheet “Sígn-óff”" in told


def test_the_words_of_the_drop_down_list_are_keyed_too(foreign):
    book = openpyxl.load_workbook(foreign)
    (rule,) = book.worksheets[0].data_validations.dataValidation
    assert rule.formula1 == '"ágrééd,chángé,dó nót cút"'
    states = {row[4].value for row in book.worksheets[0].iter_rows(min_row=2)}
    assert states == {"réády", "qúéstíón", "cánnót bé cút"}


# --- names and headings that part company ----------------------------------------------------------------------------


def edited(trip, tmp_path, change) -> Path:
    path = filled(trip.out / "check.xlsx", tmp_path / "back.xlsx", {5: "agreed", 6: ("change", "Márta Szélfúvás")})
    book = openpyxl.load_workbook(path)
    change(book)
    book.save(path)
    return path


def decisions(paper):
    return {a.rows: (a.decision, a.change_to) for a in paper.answers if a.decision != "unanswered"}


def test_without_its_names_it_is_read_by_headings(trip, tmp_path):
    def change(book):
        book.defined_names.clear()

    paper = read(trip, edited(trip, tmp_path, change), trip.out / "check.xlsx")
    assert decisions(paper) == {(5,): ("agreed", ""), (6,): ("change", "Márta Szélfúvás")}
    assert not paper.problems


def test_a_column_moved_by_a_program_that_leaves_names_behind_goes_by_its_heading(trip, tmp_path):
    def change(book):
        book[heads.SHEET].insert_cols(3)

    paper = read(trip, edited(trip, tmp_path, change), trip.out / "check.xlsx")
    assert decisions(paper)[(6,)] == ("change", "Márta Szélfúvás")


@pytest.mark.parametrize("with_copy", [True, False])
@pytest.mark.parametrize("text", ["mine", None])
@pytest.mark.parametrize("heading", [heads.ANSWER, heads.PIECES, heads.STATE])
def test_an_overwritten_heading_is_recognised_by_its_key_and_reported(trip, tmp_path, heading, text, with_copy):
    def change(book):
        next(c for c in book[heads.SHEET][1] if c.value == heading).value = text

    paper = read(trip, edited(trip, tmp_path, change), *([trip.out / "check.xlsx"] if with_copy else []))
    assert paper.usable and "differs" in {p.code for p in paper.problems}
    assert "agreed" not in {a.decision for a in paper.answers}  # unknown what was approved
    assert decisions(paper)[(6,)] == ("change", "Márta Szélfúvás")


def test_a_renamed_sheet_is_known_by_its_keys(trip, tmp_path):
    """A spreadsheet program updates the defined names when a sheet is renamed; openpyxl doesn't, so it is done here."""

    def change(book):
        book[heads.SHEET].title = "Our plaques"
        for key in keys.COLUMNS:
            name = book.defined_names[keys.build_defined_name(key)]
            name.value = name.value.replace(heads.SHEET, "'Our plaques'", 1).replace("''Our plaques''", "'Our plaques'")

    paper = read(trip, edited(trip, tmp_path, change), trip.out / "check.xlsx")
    assert decisions(paper)[(6,)] == ("change", "Márta Szélfúvás")


def test_headings_sorted_among_the_rows_lose_no_row(trip, tmp_path):
    def change(book):
        sheet = book[heads.SHEET]
        rows = [[c.value for c in row] for row in sheet.iter_rows()]
        for n, values in enumerate([*rows[1:4], rows[0], *rows[4:]], 1):
            for c, value in enumerate(values, 1):
                sheet.cell(n, c).value = value

    paper = read(trip, edited(trip, tmp_path, change), trip.out / "check.xlsx")
    assert "agreed" not in {a.decision for a in paper.answers}
    assert all(p.found for p in paper.problems) and paper.problems


@pytest.mark.parametrize(
    "value", ["Check!$A$1:$B$9", "#REF!", "Check!$ZZZ$9999999", "Gone!$A$1", '"', "'", "=1+1", "Check!A1"]
)
def test_defined_names_that_are_not_places_are_skipped(trip, tmp_path, value):
    def change(book):
        for name in book.defined_names.values():
            name.value = value

    paper = read(trip, edited(trip, tmp_path, change), trip.out / "check.xlsx")
    assert decisions(paper)[(6,)] == ("change", "Márta Szélfúvás")
