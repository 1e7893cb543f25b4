"""A client's sheet as plain values: what each cell holds, what it shows, and the marks it carries.

*Row*, *column*: counted from 1 and lettered as the spreadsheet shows them. Modules named `sheet_…` are the only ones
that know a spreadsheet library; everything after this works on `Sheet`.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from xlsxwriter.utility import xl_cell_to_rowcol, xl_col_to_name

from pipeline.core.config.order import ListLimits
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.findings import Finding
from pipeline.intake.order.error_messages import find_nearest_name

CellKind = Literal["text", "number", "date", "bool", "error", "formula"]
"""`formula`: one whose result was not saved. A cell without content is no cell at all."""

Value = str | int | float | bool | dt.datetime | dt.date | dt.time | dt.timedelta


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell that holds something."""

    row: int
    column: int
    kind: CellKind
    value: Value
    shown: str  # what the sheet displays; for a formula without a result, the formula
    marks: frozenset[str] = frozenset()  # "struck" "part-struck" "superscript" "bold" "unsure-shown" "from-formula"
    comment: str = ""

    @property
    def address(self) -> str:
        return f"{format_column(self.column)}{self.row}"


@dataclass(frozen=True, slots=True)
class Row:
    """One row that holds something, its cells from left to right."""

    number: int
    cells: tuple[Cell, ...]
    hidden: bool = False
    filtered: bool = False  # hidden by the sheet's filter, not by hand

    def find_cell(self, column: int) -> Cell | None:
        for cell in self.cells:
            if cell.column == column:
                return cell
        return None


LetterPart = Literal["", "a line of a letter", "the sender's name", "part of an earlier message"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What a line of a pasted message is besides a name, or has besides one."""

    part: LetterPart = ""  # role in the letter around the list; "": a line of the list
    taken: tuple[str, ...] = ()  # text removed from the name
    copies: int = 1
    copies_said: str = ""  # number of copies as written; "": none stated
    sure: bool = True  # whether the number of copies is certain


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One sheet of the client's file."""

    file: str
    path: Path
    name: str
    sha256: str  # of the file's bytes
    rows: tuple[Row, ...]  # only rows that aren't empty
    merged: tuple[tuple[int, int, int, int], ...] = ()  # first row, first column, last row, last column
    hidden_columns: frozenset[int] = frozenset()
    others: tuple[tuple[str, str], ...] = ()  # the file's other sheets: name, and "hidden" or ""
    hidden: bool = False
    filter_row: int = 0  # row with the filter buttons; 0: none
    read_by: str = ""
    unread: tuple[str, ...] = ()  # marks that this reader can't see, in words
    findings: tuple[Finding, ...] = ()  # about the reading: encoding, separators, repairs
    doubtful: frozenset[int] = frozenset()  # rows whose letters depend on a guessed encoding
    message: bool = False  # pasted text with one name per line
    told: Mapping[int, Told] = field(default_factory=dict)  # of a message: what else is known of a row
    _at: Mapping[int, Row] = field(default_factory=dict, compare=False, repr=False)

    def find_row(self, number: int) -> Row | None:
        if not self._at and self.rows:
            object.__setattr__(self, "_at", {row.number: row for row in self.rows})
        return self._at.get(number)


_NOTHING_TOLD = Told()


def describe_row(sheet: Sheet, row: Row) -> Told:
    """Describe what a row of a pasted message says besides its name."""
    return sheet.told.get(row.number, _NOTHING_TOLD)


def format_column(column: int) -> str:
    """1 → A, 27 → AA."""
    return str(xl_col_to_name(column - 1))


def parse_column(word: str) -> int | None:
    """A → 1, AA → 27; None for what is no column's letters."""
    if not word.isascii() or not word.isalpha() or len(word) > 3:
        return None
    return int(xl_cell_to_rowcol(f"{word.upper()}1")[1]) + 1


_ERROR_TEXT = re.compile(
    r"#(?:REF!|N/A|VALUE!|NAME\?|DIV/0!|NULL!|NUM!|SPILL!|CALC!|FIELD!|BLOCKED!|CONNECT!|GETTING_DATA|BEZUG!|WERT!|NV|"
    r"NOM\?|VALEUR!|¡REF!|¡VALOR!|RIF!|VALORE!)|Err:5\d\d|#{4,}"
)
"""Errors as text: a sheet that passed through another program or a text file has them so."""


def classify_text(text: str) -> CellKind:
    """`error` for what spreadsheets show in place of a result, else `text`."""
    return "error" if text[:1] in "#E" and _ERROR_TEXT.fullmatch(text.strip()) else "text"


def pick_page(
    path: Path, pages: Sequence[tuple[str, bool]], wanted: str | None
) -> tuple[str, bool, tuple[tuple[str, str], ...]]:
    """The sheet of this name, or the first visible one, whether it is hidden, and the others with their state.

    `pages` are names and whether each is hidden. Case and spacing of the name are forgiven. CannotRun when there is
    none.
    """
    if not pages:
        raise CannotRun(Fault(where=str(path), found="the workbook has no sheet with cells", expected="a list"))
    title = wanted
    names = [name for name, _ in pages]
    if wanted is None:
        title = next((name for name, hidden in pages if not hidden), names[0])
    elif wanted not in names:
        folded = {" ".join(name.split()).casefold(): name for name in names}
        title = folded.get(" ".join(wanted.split()).casefold())
    if title is None:
        hint = find_nearest_name(wanted or "", names)
        raise CannotRun(
            Fault(
                where=str(path),
                found=f"there is no sheet “{wanted}”",
                expected=f"one of its sheets: {', '.join(f'“{t}”' for t in names[:20])}",
                remedy=hint if hint.startswith("did you") else "correct `sheet` in [list]",
            )
        )
    others = tuple((name, "hidden" if hidden else "") for name, hidden in pages if name != title)
    return title, dict(pages)[title], others


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadOptions:
    """What an order may say about its list's file."""

    sheet: str | None = None
    encoding: str | None = None
    separator: str | None = None
    limits: ListLimits = field(default_factory=ListLimits)
