"""What one row says for one key: text as the cell had it, text as it will be cut, and what was found."""

from __future__ import annotations

import datetime as dt
import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from pipeline.core.catalogue import lists, words
from pipeline.core.findings import Fact, Finding, find
from pipeline.intake.questions import questions
from pipeline.intake.sheet import Cell, Row, letters
from pipeline.intake.shown import plain_date
from pipeline.intake.wording import Place, cut_text, short


@dataclass(frozen=True, slots=True)
class Read:
    """What a row says for one key."""

    text: str = ""
    raw: str = ""
    findings: tuple[Finding, ...] = ()
    struck: bool = False


def read_cells(row: Row, columns: Sequence[int], *, lettered: bool, named: bool) -> Read:
    """The cells of one key, joined with a space where there are several.

    `lettered`: a line names the key, so that what is wrong with the cell stops the plaque. `named`: it is the name.
    """
    if len(columns) == 1:
        cell = row.cell(columns[0])
        return Read() if cell is None else _one(cell, lettered, named)
    read = [_one(cell, lettered, named) for column in columns if (cell := row.cell(column)) is not None]
    return Read(
        text=" ".join(r.text for r in read if r.text),
        raw=" ".join(r.raw for r in read if r.raw.strip()),
        findings=tuple(f for r in read for f in r.findings),
        struck=any(r.struck for r in read) and all(r.struck for r in read if r.text),
    )


def _one(cell: Cell, lettered: bool, named: bool) -> Read:
    struck = "struck" in cell.marks
    if lettered and (endless := _endless(cell)) is not None:
        return Read("", short(cell.shown, 200), (endless,), struck)
    if cell.kind == "text":
        worded = cut_text(cell.shown, Place(cell.row, cell.address))
        if not lettered:
            return Read(worded.text, cell.shown, (), struck)
        asked = questions(cell.shown, worded.text, Place(cell.row, cell.address), named=named, marks=cell.marks)
        return Read(worded.text, cell.shown, worded.findings + asked, struck)
    if not lettered:
        return Read("" if cell.kind in ("error", "formula") else cell.shown, cell.shown, (), struck)
    if cell.kind == "error":
        facts: dict[str, str | float | int] = {"error": cell.shown, "wanted": "a name" if named else "text"}
        return Read("", cell.shown, (find(lists.CELL_ERROR, row=cell.row, cell=cell.address, facts=facts),), struck)
    if cell.kind == "formula":
        facts = {"formula": short(cell.shown, 60)}
        return Read("", cell.shown, (find(lists.NO_RESULT, row=cell.row, cell=cell.address, facts=facts),), struck)
    return Read(cell.shown, cell.shown, _shown_otherwise(cell, named), struck)


_BARE = re.compile("[\u0000-\u02ff\u3400-\u9fff\uac00-\ud7a3]*")
"""Text in which no mark stands on a letter before it."""


def _endless(cell: Cell) -> Finding | None:
    """Why a text is without end: set, it would take minutes. None for any text that could be meant."""
    text = cell.shown
    place: dict[str, Any] = {"row": cell.row, "cell": cell.address}
    facts: dict[str, Fact]
    most = _most_marks(text[:2_000]) if len(text) > words.MOST_MARKS and not _BARE.fullmatch(text) else 0
    if most > words.MOST_MARKS:
        plain = "".join(c for c in text[:2_000] if unicodedata.category(c) not in ("Mn", "Me"))
        facts = {"cell": cell.address, "count": most, "text": short(plain, 40), "most": words.MOST_MARKS}
        return find(words.MARKS_PILED_UP, **place, facts=facts)
    if len(text) > words.MOST_CHARACTERS:
        facts = {"cell": cell.address, "count": len(text), "text": short(text, 40), "most": words.MOST_CHARACTERS}
        return find(words.ENDLESS, **place, facts=facts)
    return None


def _most_marks(text: str) -> int:
    """The most marks that stand on one letter."""
    marks = most = 0
    for c in unicodedata.normalize("NFD", text):
        marks = marks + 1 if unicodedata.category(c) in ("Mn", "Me") else 0
        most = max(most, marks)
    return most


_WORDS = {"number": "the number {}", "date": "the date or time {}", "bool": "the truth value {}"}


def _shown_otherwise(cell: Cell, named: bool) -> tuple[Finding, ...]:
    """What to say about a value that is no text: a year or a count as typed needs no word."""
    place = {"row": cell.row, "cell": cell.address}
    plain = f"{cell.value:.15g}" if isinstance(cell.value, float) else str(cell.value)
    if isinstance(cell.value, dt.date | dt.time):
        plain = plain_date(cell.value)
    if named or cell.kind != "number" or "unsure-shown" in cell.marks:
        facts = {"found": _WORDS[cell.kind].format(plain), "text": cell.shown}
        return (find(lists.NOT_TEXT, **place, facts=facts),)
    if cell.shown != plain:
        return (find(lists.AS_SHOWN, **place, facts={"value": plain, "text": cell.shown}),)
    return ()


# --- copies ------------------------------------------------------------------------------------------------------

_NUMBER_WORDS = {
    word: number
    for number, word in enumerate("one two three four five six seven eight nine ten eleven twelve".split(), 1)
}


@dataclass(frozen=True, slots=True)
class Copies:
    """How many of a plaque are asked for."""

    copies: int
    raw: str
    cell: str
    findings: tuple[Finding, ...] = ()
    none_wanted: bool = False


def read_copies(row: Row, columns: Sequence[int], name: str) -> Copies:
    """The copies column: a whole number is taken as it is, everything else is asked about and counted as shown."""
    cell = row.cell(columns[0])
    address = f"{letters(columns[0])}{row.number}"
    raw = cell.shown if cell is not None else ""

    def unclear(found: str, copies: int) -> Copies:
        facts: dict[str, str | float | int] = {"found": found, "copies": copies, "text": name}
        return Copies(copies, raw, address, (find(lists.COPIES_UNCLEAR, row=row.number, cell=address, facts=facts),))

    if cell is None or not raw.strip():
        return unclear("is blank", 1)
    said = f"says “{short(raw, 40)}”"
    number = _whole(cell)
    if number is None:
        guess = _NUMBER_WORDS.get(raw.casefold().strip(" ?!.,"))
        if guess is None:
            digits = re.findall(r"\d+", raw) if cell.kind == "text" else []
            guess = int(digits[0]) if len(digits) == 1 and 0 < int(digits[0]) <= 20 else 1
        return unclear(said, guess)
    if number == 0:
        return Copies(0, raw, address, none_wanted=True)
    if number < 0:
        return unclear(said, 1)
    if number > lists.MOST_COPIES:
        return unclear(said, 1)
    return Copies(number, raw, address)


def _whole(cell: Cell) -> int | None:
    if cell.kind == "number" and isinstance(cell.value, int | float):
        return int(cell.value) if cell.value == int(cell.value) else None
    if cell.kind == "text" and re.fullmatch(r"\s*\d{1,6}(?:\.0+)?\s*", cell.shown):
        return int(float(cell.shown))
    return None
