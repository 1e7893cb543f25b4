"""Check sheets as clients send them back: filled in by an independent library, sorted, edited, damaged."""

from __future__ import annotations

from datetime import date

import openpyxl
import pytest

from pipeline.core.errors import CannotRun
from pipeline.core.short_codes import build_order_id
from pipeline.signoff.records.designs import read_last_run
from pipeline.signoff.returned.check_sheet_answers import SentSheet, read_answer_sheet
from tests import builders
from tests import check_words as heads
from tests.signoff.rounds import Round, filled


@pytest.fixture(scope="module")
def trip(tmp_path_factory):
    made = Round(tmp_path_factory.mktemp("order"), builders.some_plaques())
    made.run()
    return made


@pytest.fixture
def read(trip, tmp_path):
    def of(answers, **more):
        paper = filled(trip.out / "check.xlsx", tmp_path / "back.xlsx", answers, **more)
        sent = SentSheet(designs=read_last_run(trip.out).designs, sheets=(trip.out / "check.xlsx",))
        return read_answer_sheet(paper, lambda revision: sent)

    return of


def said(paper):
    return {a.rows: (a.decision, a.change_to) for a in paper.answers}


def test_the_sheet_states_its_order_and_who_answers(read):
    paper = read({5: "agreed"})
    assert paper.kind == "sheet" and paper.usable and paper.revision == "A"
    assert paper.order_id == build_order_id("Wardens of the Shore 2026", "Tidewrack Seabird Trust")
    assert (paper.by, paper.date) == ("Rowan Petrel", "2 May 2026")
    assert len(paper.sha256) == 64


@pytest.mark.parametrize("word", ["agreed", "Agreed", "y", "yes", "OK", "✓", "correct", True])
def test_ways_to_agree(read, word):
    assert said(read({6: word}))[(6,)] == ("agreed", "")


@pytest.mark.parametrize("word", ["do not cut", "Do  not cut", "don’t cut"])
def test_ways_to_refuse(read, word):
    assert said(read({6: word}))[(6,)] == ("refused", "")


@pytest.mark.parametrize(
    "answer", [("change", "Márta Szélfúvás"), ("", "Márta Szélfúvás"), ("Change to", " Márta Szélfúvás")]
)
def test_ways_to_ask_for_a_change(read, answer):
    assert said(read({6: answer}))[(6,)] == ("change", "Márta Szélfúvás")


@pytest.mark.parametrize(
    ("answer", "why"),
    [
        (("agreed", "Marta"), "“agreed”, and “Marta”"),
        (("do not cut", "Marta"), "“do not cut”, and “Marta”"),
        (("change", ""), "no wording is given"),
        (("no", ""), "not one of the answers offered"),
        (("see my mail", ""), "not one of the answers offered"),
        (("=1=1", ""), "not one of the answers offered"),
    ],
)
def test_contradictory_answers_are_unclear_with_the_reason(read, answer, why):
    paper = read({6: answer, 7: "agreed"})
    found = next(a for a in paper.answers if a.rows == (6,))
    assert found.decision == "unclear" and why in found.why
    assert [p.code for p in paper.problems] == ["contradiction"] and "row 6" in paper.problems[0].found
    assert said(paper)[(7,)] == ("agreed", "")


def test_two_rows_of_one_design(read):
    assert said(read({5: "agreed", 10: "ok"}))[(5, 10)] == ("agreed", "")
    apart = read({5: "agreed", 10: "do not cut"})
    assert apart.answers[0].decision == "unclear" and "row 5 “agreed”; row 10 “do not cut”" in apart.answers[0].why
    part = [(a.rows, a.decision, a.pieces) for a in read({10: "agreed"}).answers][:2]
    assert part == [((10,), "agreed", 1), ((5, 10), "unanswered", 2)]


def test_a_cross_agrees_only_where_it_cannot_cross_anybody_out(read):
    rows = sorted({row for a in read({5: "agreed"}).answers for row in a.rows})
    crossed = dict.fromkeys(rows, "x")
    assert {d for d, _ in said(read(crossed)).values()} <= {"agreed", "unclear"}  # unclear beside a question
    assert said(read(crossed))[(5, 10)] == ("agreed", "")
    assert said(read(crossed | {6: ("change", "Marta"), 7: "do not cut"}))[(5, 10)] == ("agreed", "")
    for others in ("", "ok", "✓", "agreed"):
        paper = read({**dict.fromkeys(rows, others), 5: "x", 10: "x"})
        found = next(a for a in paper.answers if a.rows == (5, 10))
        assert found.decision == "unclear" and "right or wrong" in found.why


def test_an_overwritten_name_is_unclear_and_never_used(read):
    paper = read({6: "agreed"}, edits=((heads.SHEET, "C3", "Márta Szélfúvás\nFounder\n2026"),))
    found = next(a for a in paper.answers if 6 in a.rows)
    assert found.decision == "unclear"
    assert "overwritten and now reads “Márta Szélfúvás / Founder / 2026”" in found.why
    assert found.text[0] == "Márta Szélfuvás"


def test_a_sheet_that_was_sorted_and_widened_is_read_the_same_but_for_rows_with_notes(read):
    answers = {5: "agreed", 10: "agreed", 6: ("", "Marta"), 7: "do not cut"}
    moved, plain = said(read(answers, shuffle=True)), said(read(answers))
    assert moved.pop((5, 10)) == ("unclear", "")  # “my notes” is beside row 5
    assert plain.pop((5, 10)) == ("agreed", "")
    assert moved == plain


def test_names_that_could_not_be_cut_get_replies(read):
    paper = read({11: ("", "W. Oystercatcher"), 12: "leave it out"})
    assert [(r.row, r.cell, r.reply) for r in paper.replies] == [
        (11, "B11", "W. Oystercatcher"),
        (12, "B12", "leave it out"),
    ]


def test_unanswered_is_not_agreed(read):
    decisions = {d for d, _ in said(read({6: "agreed"})).values()}
    assert decisions == {"agreed", "unanswered"}


def test_nothing_filled_in(read):
    paper = read({})
    assert not paper.usable and [p.code for p in paper.problems] == ["empty"]


def test_an_edited_fingerprint_is_reported(read, trip):
    column = next(c.column_letter for c in openpyxl.load_workbook(trip.out / "check.xlsx")[heads.SHEET][1] if c.value == heads.FINGERPRINT)  # fmt: skip  # noqa: E501
    paper = read({5: "agreed", 6: "agreed"}, edits=((heads.SHEET, f"{column}3", "ABC"),))
    assert [p.code for p in paper.problems] == ["altered"]
    assert (6,) not in said(paper)


def test_a_date_typed_as_a_date_is_read_as_one(read):
    assert read({6: "agreed"}, on=date(2026, 5, 2)).date == "2026-05-02"


def test_a_file_that_is_not_a_check_sheet_is_refused_clearly(tmp_path, trip):
    other = tmp_path / "other.xlsx"
    openpyxl.Workbook().save(other)
    torn = tmp_path / "torn.xlsx"
    torn.write_bytes((trip.out / "check.xlsx").read_bytes()[:5000])
    text = tmp_path / "text.xlsx"
    text.write_text("PK not at all")
    for path, code in ((other, "not-a-proof"), (torn, "unreadable"), (text, "unreadable")):
        paper = read_answer_sheet(path)
        assert [p.code for p in paper.problems] == [code] and not paper.usable and not paper.answers, path
    with pytest.raises(CannotRun, match="No such file"):
        read_answer_sheet(tmp_path / "no")
    book = openpyxl.load_workbook(trip.out / "check.xlsx")
    del book[heads.SIGN_SHEET]
    book.save(other)
    assert read_answer_sheet(other).problems[0].code == "not-a-proof"
