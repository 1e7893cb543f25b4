"""The day of the mail that a message quotes, and so answers."""

from __future__ import annotations

import re
from datetime import date
from itertools import product

from pipeline.signoff.messages.message_grammar import find_quoted_head
from pipeline.signoff.messages.message_phrases import PHRASES

_TIME = re.compile(r"\b\d\d?[:h]\d\d(?::\d\d)?\b")
_DIGITS = re.compile(r"\b(\d{1,2})[./-](\d{1,2})[./-](\d{4}|\d{2})\b|\b(\d{4})-(\d\d)-(\d\d)\b")


def find_answered_day(text: str) -> date | None:
    """Find the latest day on which the mail that a message quotes first may have been written; None when it quotes
    none or the day can't be read."""
    told = _TIME.sub(" ", find_quoted_head(text).casefold())
    read: list[tuple[int, int, int]] = []  # year, month, day
    for one, other, year, iso_year, month, day in _DIGITS.findall(told):
        if iso_year:
            read.append((int(iso_year), int(month), int(day)))
        else:  # 3/11 may be in March or in November
            full = int(year) + 2000 * (len(year) == 2)
            read += [(full, int(one), int(other)), (full, int(other), int(one))]
    words = re.findall(r"[^\W\d_]+", told)
    named = _map_months() if words else {}
    months = {month for word in words for month in named.get(word, ())}
    numbers = re.findall(r"\d+", _DIGITS.sub(" ", told))
    years, days = ([int(n) for n in numbers if len(n) in lengths] for lengths in ((4,), (1, 2)))
    read += product(years, months, days)
    return max(filter(None, (_build_date(*each) for each in read)), default=None)


def _build_date(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None


def _map_months() -> dict[str, frozenset[int]]:
    """Map the names of months in every language (Unicode CLDR) to the months they may mean."""
    from babel.dates import get_month_names  # only few messages quote

    found: dict[str, set[int]] = {}
    for language in PHRASES:
        for width in ("wide", "abbreviated"):
            for context in ("format", "stand-alone"):
                for month, name in get_month_names(width, context, language).items():
                    found.setdefault(name.casefold().strip("."), set()).add(month)
    return {name: frozenset(months) for name, months in found.items()}
