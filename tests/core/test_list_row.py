"""Rows of several lists: how they are named, ordered, read back and selected."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.core.errors import CannotRun
from pipeline.core.list_row import FurtherRow, ListRow, find_row_of_cell, name_in_list, pack_row, parse_row, unpack_row
from pipeline.core.row_selection import build_selection, parse_rows, require_known_lists

LATE = "late-names.xlsx"
ODD = ["Smith, late.xlsx", "O'Brien.csv", "wow!.ods", " lead.xlsx", "3-7.csv", "lists/of may.xlsx", "späte–namen.xlsx"]

file_names = st.sampled_from([LATE, *ODD]) | st.text(st.characters(exclude_categories=("Cs",)), min_size=1, max_size=20)
further = st.builds(FurtherRow, file_names, st.integers(0, 10**9 - 1))
rows = st.integers(0, 10**9 - 1) | further


def test_rows_of_the_first_list_are_plain_numbers_and_come_first():
    assert str(FurtherRow(LATE, 12)) == "late-names.xlsx!12" and pack_row(12) == 12
    every: list[ListRow] = [FurtherRow(LATE, 2), 9, FurtherRow("board.xlsx", 30), FurtherRow(LATE, 10), 4]
    assert [str(row) for row in sorted(every)] == ["4", "9", "board.xlsx!30", f"{LATE}!2", f"{LATE}!10"]
    assert FurtherRow(LATE, 4) != 4 and FurtherRow(LATE, 4) not in {4}
    assert name_in_list("", "B4") == "B4" and name_in_list(LATE, "B4") == "late-names.xlsx!B4"
    assert find_row_of_cell("AB14") == 14 and find_row_of_cell("'Smith, 2.xlsx'!B14") == FurtherRow("Smith, 2.xlsx", 14)


def test_a_row_that_would_be_read_as_an_option_is_quoted():
    assert str(FurtherRow("-late.csv", 3)) == "'-late.csv'!3" and parse_row("'-late.csv'!3") == parse_row("-late.csv!3")


@given(rows)
def test_a_row_is_read_back_as_it_is_named(row):
    assert parse_row(str(row)) == row
    assert unpack_row(json.loads(json.dumps(pack_row(row)))) == row


@given(st.lists(rows, min_size=1, max_size=8))
def test_rows_in_any_order_are_chosen_as_they_are_named(several):
    chosen = build_selection(several)
    assert parse_rows(str(chosen)) == chosen
    assert all(row in chosen for row in several)
    assert sum(1 for row in {*several} if row in chosen) == len({*several})
    assert not set(chosen.file_name) & set('/\\:*?"<>|!,') and len(chosen.file_name) < 60


@pytest.mark.parametrize(
    "value", [-1, True, 1.0, None, "12", "late.xlsx", "late.xlsx!", "!3", "late.xlsx!-3", ["a", 3]]
)
def test_a_text_that_is_not_a_row_is_refused(value):
    with pytest.raises(ValueError, match="no row of a list"):
        unpack_row(value)


def test_ranges_of_several_lists():
    chosen = parse_rows("31, 4–6,'Smith, late.xlsx'!2-3,late-names.xlsx!7, 5-9")
    assert str(chosen) == "4-9,31,'Smith, late.xlsx'!2-3,late-names.xlsx!7"
    assert 8 in chosen and 7 not in parse_rows("late-names.xlsx!7") and FurtherRow(LATE, 7) in chosen
    assert FurtherRow("Smith, late.xlsx", 4) not in chosen and None not in chosen
    for wrong in (
        "Smith, late.xlsx!2",
        "late.xlsx!",
        "late.xlsx!7-3",
        "4,,5",
        "'late.xlsx!3",
        "late.xlsx!2-late.xlsx!4",
    ):
        with pytest.raises(CannotRun, match=r"late-names\.xlsx!3-7"):
            parse_rows(wrong)
    with pytest.raises(CannotRun, match="boards"):
        parse_rows("late.xlsx!3", "--board", "numbers of boards", lists=False)
    require_known_lists(chosen, [LATE, "Smith, late.xlsx"])
    with pytest.raises(CannotRun, match=r"“late-names\.xlsx” is no further list"):
        require_known_lists(chosen, ["Smith, late.xlsx"])
