"""The date of a paper as the maker types it: a date is kept as typed, anything else is refused."""

import pytest

from pipeline.commands.paper_dates import check_date, write_date_out
from pipeline.core.errors import CannotRun

NOW = "2026-11-29T23:30:00Z"


@pytest.mark.parametrize(
    "text",
    [
        "2026-11-25",
        "25 November 2026",
        "November 25, 2026",
        "25th of Nov 2026",
        "25.11.2026",
        "2 May",
        "29 February",
        "",
    ],
)
def test_a_date_is_kept_as_typed(text):
    assert check_date(text, NOW) == text


@pytest.mark.parametrize(
    "text",
    ["soon", "yesterday", "x", "2026", "November", "31 November 2026", "2026-02-30", "30 Foo 2026", "11/25/2026",
     "0 May", "99999", "25 November 2026 or so"],
)  # fmt: skip
def test_a_text_that_is_not_a_date_is_refused_with_an_example(text):
    with pytest.raises(CannotRun) as caught:
        check_date(text, NOW)
    assert "--on" in str(caught.value) and "2026-11-25" in str(caught.value)


def test_a_future_date_is_refused_unless_it_is_that_day_somewhere():
    assert check_date("2026-11-30", NOW)
    with pytest.raises(CannotRun, match="still to come"):
        check_date("2026-12-01", NOW)


@pytest.mark.parametrize(
    "text", ["2026-11-02", "2 November 2026", "Nov 2, 2026", "2.11.2026", "the 2nd of November 2026"]
)
def test_a_date_is_written_out(text):
    assert write_date_out(check_date(text, NOW)) == "2 November 2026"


def test_a_date_without_a_year_gets_none():
    assert write_date_out("2 May") == "2 May"
