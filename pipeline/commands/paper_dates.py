"""The date that a maker gives for a paper: recorded as typed, and refused where it isn't a date."""

from __future__ import annotations

import datetime as dt
import re

from pipeline.core.errors import CannotRun, Fault

_NAMES = "January February March April May June July August September October November December".split()
_MONTHS = [name.lower() for name in _NAMES]
_DAY = r"(?P<day>\d{1,2})(?:st|nd|rd|th)?\.?"
_MONTH = r"(?P<month>[a-z]{3,9})\.?"
_YEAR = r"(?:,?\s+(?P<year>\d{4}))?"
_FORMS = tuple(
    re.compile(form, re.I)
    for form in (
        r"(?P<year>\d{4})-(?P<month>\d{1,2})-(?P<day>\d{1,2})",  # ISO 8601
        r"(?P<day>\d{1,2})\.\s?(?P<month>\d{1,2})\.\s?(?P<year>\d{4})",  # with full stops the day always comes first
        rf"(?:the\s+)?{_DAY}\s+(?:of\s+)?{_MONTH}{_YEAR}",
        rf"{_MONTH}\s+{_DAY}{_YEAR}",
    )
)


def check_date(text: str, now: str, where: str = "--on") -> str:
    """Return the text without outer spaces. now: UTC, as in RFC 3339. CannotRun where it isn't a date, or is in the
    future."""
    text = " ".join(text.split())
    if not text:
        return ""
    found = _match_date(text)
    today = dt.date.fromisoformat(now[:10])
    try:
        day = _build_date(found) if found else None
    except ValueError:
        day = None
    if found is None or day is None:
        raise CannotRun(
            Fault(
                where=where,
                found=f"“{text[:40]}” is no date",
                expected="a day, such as 2026-11-25 or 25 November 2026",
                remedy="leave it out if the paper has none: the day it is recorded is kept in any case",
            )
        )
    if found["year"] and day > today + dt.timedelta(days=1):  # it may already be tomorrow in another time zone
        raise CannotRun(
            Fault(where=where, found=f"{text} is still to come", expected="the date on the paper, which has arrived")
        )
    return text


def write_date_out(text: str) -> str:
    """Write out a date accepted by `check_date`, e.g. '29 November 2026'; one without a year stays as typed."""
    found = _match_date(text)
    if found is None or not found["year"]:
        return text
    day = _build_date(found)
    return f"{day.day} {_NAMES[day.month - 1]} {day.year}"


def _match_date(text: str) -> re.Match[str] | None:
    return next((match for form in _FORMS if (match := form.fullmatch(text))), None)


def _build_date(found: re.Match[str]) -> dt.date:
    """Return the date; without a year, that of a leap year. ValueError when there is no such day or month."""
    said = found["month"].lower()
    if said.isdecimal():
        month = int(said)
    else:
        fits = [n for n, name in enumerate(_MONTHS, 1) if name.startswith(said)]
        month = fits[0] if fits else 0
    return dt.date(int(found["year"] or 2024), month, int(found["day"]))
