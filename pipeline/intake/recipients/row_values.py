"""The value of one row for one key: text as in the cell, text as it will be cut, and findings."""

from __future__ import annotations

import datetime as dt
import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from pipeline.core.catalogue import list_kinds, name_kinds, ways
from pipeline.core.findings import Edit, Fact, Finding, Way, build_finding, build_way
from pipeline.intake.names.name_questions import question_text
from pipeline.intake.names.wording import TextPlace, cut_text, shorten, split_typed_rows
from pipeline.intake.recipients.date_texts import USUAL, read_date, set_date
from pipeline.intake.spreadsheet.number_format import format_date
from pipeline.intake.spreadsheet.sheet import Cell, Row, format_column


@dataclass(frozen=True, slots=True, kw_only=True)
class DateWish:
    """The wanted format of dates in a cell. pattern: empty: as the sheet shows them. language: a BCP 47 tag."""

    pattern: str = ""
    language: str | None = None


AS_SHOWN = DateWish()


@dataclass(frozen=True, slots=True)
class RowValue:
    """The value of a row for one key."""

    text: str = ""
    raw: str = ""
    findings: tuple[Finding, ...] = ()
    struck: bool = False
    rows: tuple[str, ...] = ()  # the text as lines, where its cell has line breaks


def read_row_values(
    row: Row, columns: Sequence[int], *, lettered: bool, named: bool, dates: DateWish = AS_SHOWN
) -> RowValue:
    """Read the cells of one key, joined with a space where there are several.

    lettered: a line names the key, so that a faulty cell stops the plaque. named: it is the name.
    """
    if len(columns) == 1:
        cell = row.find_cell(columns[0])
        return RowValue() if cell is None else _read_cell(cell, lettered, named, dates)
    read = [
        _read_cell(cell, lettered, named, dates) for column in columns if (cell := row.find_cell(column)) is not None
    ]
    return RowValue(
        text=" ".join(r.text for r in read if r.text),
        raw=" ".join(r.raw for r in read if r.raw.strip()),
        findings=tuple(f for r in read for f in r.findings),
        struck=any(r.struck for r in read) and all(r.struck for r in read if r.text),
    )


def _read_cell(cell: Cell, lettered: bool, named: bool, dates: DateWish) -> RowValue:
    struck = "struck" in cell.marks
    if dates.pattern and cell.kind in ("date", "text") and (day := read_date(cell.value)) is not None:
        text = set_date(day, dates.pattern, dates.language)
        day_facts = {"found": format_date(day), "text": text, "pattern": dates.pattern}
        said = (
            (build_finding(list_kinds.DATE_SET, row=cell.row, cell=cell.address, facts=day_facts),) if lettered else ()
        )
        return RowValue(text, cell.shown, said, struck)
    if lettered and (endless := _check_length(cell)) is not None:
        return RowValue("", shorten(cell.shown, 200), (endless,), struck)
    if cell.kind == "text":
        worded = cut_text(cell.shown, TextPlace(cell.row, cell.address))
        if not lettered:
            return RowValue(worded.text, cell.shown, (), struck)
        asked = question_text(cell.shown, worded.text, TextPlace(cell.row, cell.address), named=named, marks=cell.marks)
        return RowValue(
            worded.text, cell.shown, worded.findings + asked, struck, split_typed_rows(cell.shown, worded.text)
        )
    if not lettered:
        return RowValue("" if cell.kind in ("error", "formula") else cell.shown, cell.shown, (), struck)
    if cell.kind == "error":
        facts: dict[str, Fact] = {"error": cell.shown, "wanted": "a name" if named else "text"}
        return RowValue(
            "",
            cell.shown,
            (build_finding(list_kinds.CELL_ERROR, row=cell.row, cell=cell.address, facts=facts),),
            struck,
        )
    if cell.kind == "formula":
        facts = {"formula": shorten(cell.shown, 60)}
        return RowValue(
            "", cell.shown, (build_finding(list_kinds.NO_RESULT, row=cell.row, cell=cell.address, facts=facts),), struck
        )
    return RowValue(cell.shown, cell.shown, _check_shown(cell, named), struck)


def _list_date_ways(cell: Cell) -> tuple[Way, ...]:
    """List other formats for a date, except the one shown."""
    day = read_date(cell.value)
    text = set_date(day, USUAL, None) if day is not None else ""
    if not text or text == cell.shown:
        return ()
    edit = Edit(table="list", key="dates", value=USUAL)
    return (build_way(ways.DATES, edit, facts={"pattern": USUAL, "example": text}),)


_BARE = re.compile("[\u0000-\u02ff\u3400-\u9fff\uac00-\ud7a3]*")
"""Text without combining marks."""


def _check_length(cell: Cell) -> Finding | None:
    """Report a text that is too long to set: it would take minutes. None for any plausible text."""
    text = cell.shown
    place: dict[str, Any] = {"row": cell.row, "cell": cell.address}
    facts: dict[str, Fact]
    most = _count_most_marks(text[:2_000]) if len(text) > name_kinds.MOST_MARKS and not _BARE.fullmatch(text) else 0
    if most > name_kinds.MOST_MARKS:
        plain = "".join(c for c in text[:2_000] if unicodedata.category(c) not in ("Mn", "Me"))
        facts = {"cell": cell.address, "count": most, "text": shorten(plain, 40), "most": name_kinds.MOST_MARKS}
        return build_finding(name_kinds.MARKS_PILED_UP, **place, facts=facts)
    if len(text) > name_kinds.MOST_CHARACTERS:
        facts = {
            "cell": cell.address,
            "count": len(text),
            "text": shorten(text, 40),
            "most": name_kinds.MOST_CHARACTERS,
        }
        return build_finding(name_kinds.ENDLESS, **place, facts=facts)
    return None


def _count_most_marks(text: str) -> int:
    """Count the most marks on one letter."""
    marks = most = 0
    for c in unicodedata.normalize("NFD", text):
        marks = marks + 1 if unicodedata.category(c) in ("Mn", "Me") else 0
        most = max(most, marks)
    return most


_WORDS = {"number": "the number {}", "date": "the date or time {}", "bool": "the truth value {}"}


def _check_shown(cell: Cell, named: bool) -> tuple[Finding, ...]:
    """Report a value that isn't text; a year or a count as typed needs no remark."""
    place = {"row": cell.row, "cell": cell.address}
    plain = f"{cell.value:.15g}" if isinstance(cell.value, float) else str(cell.value)
    if isinstance(cell.value, dt.date | dt.time):
        plain = format_date(cell.value)
    if named or cell.kind != "number" or "unsure-shown" in cell.marks:
        facts: dict[str, Fact] = {"found": _WORDS[cell.kind].format(plain), "text": cell.shown, "value": cell.kind}
        facts["where"] = "name" if named else "text"
        return (build_finding(list_kinds.NOT_TEXT, **place, facts=facts, ways=_list_date_ways(cell)),)
    if cell.shown != plain:
        return (build_finding(list_kinds.AS_SHOWN, **place, facts={"value": plain, "text": cell.shown}),)
    return ()


# --- copies ------------------------------------------------------------------------------------------------------

_NUMBER_WORDS = {
    word: number
    for number, word in enumerate("one two three four five six seven eight nine ten eleven twelve".split(), 1)
}


@dataclass(frozen=True, slots=True)
class CopyCount:
    """The number of copies of a plaque."""

    copies: int
    raw: str
    cell: str
    findings: tuple[Finding, ...] = ()
    none_wanted: bool = False


def read_copies(row: Row, columns: Sequence[int], name: str) -> CopyCount:
    """Read the copies column: a whole number is accepted, anything else becomes a question and is counted as shown."""
    cell = row.find_cell(columns[0])
    address = f"{format_column(columns[0])}{row.number}"
    raw = cell.shown if cell is not None else ""

    def report_unclear(found: str, copies: int) -> CopyCount:
        facts: dict[str, str | float | int] = {"found": found, "copies": copies, "text": name}
        return CopyCount(
            copies, raw, address, (build_finding(list_kinds.COPIES_UNCLEAR, row=row.number, cell=address, facts=facts),)
        )

    if cell is None or not raw.strip():
        return report_unclear("is blank", 1)
    said = f"says “{shorten(raw, 40)}”"
    number = _parse_whole(cell)
    if number is None:
        guess = _NUMBER_WORDS.get(raw.casefold().strip(" ?!.,"))
        if guess is None:
            digits = re.findall(r"\d+", raw) if cell.kind == "text" else []
            guess = int(digits[0]) if len(digits) == 1 and 0 < int(digits[0]) <= 20 else 1
        return report_unclear(said, guess)
    if number == 0:
        return CopyCount(0, raw, address, none_wanted=True)
    if number < 0:
        return report_unclear(said, 1)
    if number > list_kinds.MOST_COPIES:
        return report_unclear(said, 1)
    return CopyCount(number, raw, address)


def _parse_whole(cell: Cell) -> int | None:
    if cell.kind == "number" and isinstance(cell.value, int | float):
        return int(cell.value) if cell.value == int(cell.value) else None
    if cell.kind == "text" and re.fullmatch(r"\s*\d{1,6}(?:\.0+)?\s*", cell.shown):
        return int(float(cell.shown))
    return None
