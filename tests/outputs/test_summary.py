"""The terminal summary and `explain`."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from pipeline.core.catalogue import KINDS
from pipeline.core.errors import CannotRun
from pipeline.core.units import MM, Units
from pipeline.outputs.explanation import explain, explain_all
from pipeline.outputs.summary import WIDTH, strip_markup, write_summary
from tests import builders


def test_counts_first_then_worst_first_then_the_files():
    text = write_summary(builders.outcome(), MM, where="wardens/out", written=("proof.pdf", "check.xlsx"))
    first, second = text.splitlines()[:2]
    assert first == "Wardens of the Shore 2026 – Tidewrack Seabird Trust"
    assert second == "8 plaques: 5 ready, 1 with a question, 2 cannot be cut. 7 pieces to cut."
    assert (
        text.index("Cannot be cut (2)")
        < text.index("To be decided by a person (1)")
        < text.index("Noted in check.xlsx")
    )
    assert text.endswith("In wardens/out: proof.pdf · check.xlsx")
    assert "row 11, B11: Professor Emerita" in text
    assert "→ allow a smaller size (smallest = 4.75; now 5.5)" in text


def test_an_order_without_findings_takes_three_lines():
    text = write_summary(builders.outcome((builders.plaque(5, "Ada Kittiwake"),)), MM)
    head = "Wardens of the Shore 2026 – Tidewrack Seabird Trust\n1 plaque: 1 ready."
    assert text == f"{head}\n3 rows in the list: 1 plaque, 2 left out."


def test_omitted_plaques_are_counted():
    many = tuple(builders.plaque(5 + i, f"Fulmar {i}", findings=(builders.moved(5 + i),)) for i in range(9))
    stopped = tuple(builders.stopped_unset(50 + i, "x", builders.too_long(50 + i, "x")) for i in range(9))
    text = write_summary(builders.outcome((*many, *stopped)), MM, most=4)
    assert "+5 more, see check.xlsx" in text  # 9 stopped, 4 listed
    assert re.search(r"likewise: .*, \+5\s+more", text, re.S)  # 9 questions: one in full, three by row
    assert text.count("[fit.too-long]") == 4


def test_lengths_are_shown_in_the_order_s_unit():
    assert "0.3661 in too long" in " ".join(write_summary(builders.outcome(), Units("in")).split())


def test_order_wide_questions_come_before_plaques_and_faults_before_everything():
    outcome = replace(builders.outcome(findings=(builders.moved(9),)), faults=((9, "Trace\nKeyError: 'x'"),))
    text = write_summary(outcome, MM)
    places = [text.index(head) for head in ("The tool itself failed", "About the whole order", "Cannot be cut")]
    assert places == sorted(places)
    assert "row 9  KeyError: 'x'" in text
    assert "2 cannot be cut (1 because the tool failed)" in text


def test_a_name_cannot_control_the_terminal():
    text = write_summary(
        builders.outcome((builders.stopped_unset(5, "\x1b[2JAda\r\n\u202eT", builders.too_long(5, "x")),)), MM
    )
    assert "<U+001B>[2JAda / <U+202E>T" in text
    assert all(c.isprintable() or c == "\n" for c in text)
    assert strip_markup("a\tb") == "a b"


def test_lines_stay_within_the_width():
    text = write_summary(builders.outcome(), MM, where="out")
    assert max(map(len, text.splitlines())) <= WIDTH


@pytest.mark.parametrize("code", sorted(KINDS))
def test_every_kind_is_explained(code):
    told, kind = explain(code), KINDS[code]
    assert told.startswith(code)
    for head in ("What is wrong", "Why it matters", "What to do"):
        assert head in told
    assert ("Where the limit comes from" in told) == bool(kind.source)
    asked = kind.severity == "ask" and code.startswith(("list.", "text."))
    assert ("Once it is answered" in told) == asked
    assert "{" not in told.replace("settled = {", "")
    assert code in explain_all()


def test_an_unknown_code_names_the_nearest():
    with pytest.raises(CannotRun, match=r"fit\.too-long"):
        explain("fit.to-long")
