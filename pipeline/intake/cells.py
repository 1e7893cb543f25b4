"""What one row says for one key: text as the cell had it, text as it will be cut, and what was found."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from dataclasses import dataclass

from pipeline.core.catalogue import lists
from pipeline.core.findings import Finding, find
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
