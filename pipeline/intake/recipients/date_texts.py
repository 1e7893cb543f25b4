"""Formatting of dates of the list: `[list] dates`, by Unicode's date patterns (UTS #35, part 4)."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from typing import TYPE_CHECKING

from pipeline.core.errors import Fault

if TYPE_CHECKING:
    from babel import Locale

LENGTHS = ("short", "medium", "long", "full")
"""A language's date formats, by their names in Unicode's tables (CLDR)."""
USUAL = "d MMMM y"
"""The format offered where a list holds dates and the order doesn't say how to set them: day, month in words, year."""
_FIELDS = {"G": 5, "y": 9, "u": 9, "M": 5, "L": 5, "d": 2, "E": 5, "c": 5}
"""Letters of a pattern -> allowed repetitions."""
_SLIPS = {
    "Y": "Y is the year a week belongs to and wrong round New Year; the year of a date is y",
    "D": "D is the day of the year, 1 to 366; the day of the month is d",
    **dict.fromkeys("hHkKmsSAabBj", "a time of day is not part of a date; put words between apostrophes"),
}
_PART = re.compile(r"'(?:[^']|'')*'|([A-Za-z])\1*|[^A-Za-z']+")
_ISO = re.compile(r"(\d{4})-(\d{2})-(\d{2})")
"""The one date format in digits that can't be misread (ISO 8601)."""

Dates = str | Mapping[str, str] | None


def list_date_faults(dates: Dates, columns: Sequence[str], where: str) -> Iterator[Fault]:
    """List the faults of the order's `dates`. columns: our keys."""
    for key, pattern in dates.items() if isinstance(dates, Mapping) else (("", dates),):
        if pattern is None:
            continue
        if key and columns and key not in columns:
            found = f"“{key}” is not one of the columns"
            yield Fault(where=where, found=found, expected=f"one of {', '.join(columns)}")
        if wrong := _find_pattern_fault(pattern):
            yield Fault(
                where=where,
                found=f"“{pattern}”: {wrong}",
                expected=f'a pattern such as "{USUAL}", or one of {", ".join(LENGTHS)}',
            )


def _find_pattern_fault(pattern: str) -> str:
    if pattern in LENGTHS:
        return ""
    at, said = 0, False
    while at < len(pattern):
        found = _PART.match(pattern, at)
        if found is None:
            return "an apostrophe has no partner"
        at = found.end()
        if letter := found[1]:
            said = True
            if letter not in _FIELDS:
                return _SLIPS.get(letter, f"“{found[0]}” is not part of a date; put words between apostrophes")
            if found[0] == "cc":
                return "“cc” is not the day of the week; c is its number, ccc its short name, cccc its name"
            if len(found[0]) > _FIELDS[letter]:
                return f"“{found[0]}” has more letters than any date has"
    return "" if said else "it has no part of a date"


def choose_date_wish(dates: Dates, key: str) -> str:
    """Choose the pattern for a column, by our key; empty: dates are cut as the sheet shows them."""
    return dates.get(key, "") if isinstance(dates, Mapping) else dates or ""


def read_date(value: object) -> dt.date | None:
    """Read the date of a cell: its value, or its text in the form 2026-05-02; None for anything else."""
    if isinstance(value, dt.date):  # datetime is a subclass of date
        return value
    if isinstance(value, str) and (found := _ISO.fullmatch(value.strip())):
        try:
            return dt.date(*map(int, found.groups()))
        except ValueError:
            return None
    return None


def set_date(value: dt.date, wish: str, language: str | None) -> str:
    """Format the date as it will be cut. wish: a pattern, or one of `LENGTHS`. language: a BCP 47 tag; None:
    English."""
    from babel.dates import format_date, format_datetime

    locale = _load_locale(language or "en")
    if isinstance(value, dt.datetime) and wish not in LENGTHS:
        return format_datetime(value, wish, locale=locale)
    return format_date(value, wish, locale=locale)


@lru_cache(maxsize=64)
def _load_locale(tag: str) -> Locale:
    """Load the nearest locale in Unicode's tables: that of the tag, of its language, or English."""
    from babel import Locale, UnknownLocaleError

    parts = tag.replace("_", "-").split("-")
    for n in range(len(parts), 0, -1):
        try:
            return Locale.parse("-".join(parts[:n]), sep="-")
        except (UnknownLocaleError, ValueError):
            continue
    return Locale.parse("en")
