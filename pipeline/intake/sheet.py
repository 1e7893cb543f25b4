"""A client's sheet as plain values: what each cell holds, what it shows, and the marks it carries.

*Row*, *column*: counted from 1 and lettered as the spreadsheet shows them. Modules named `sheet_…` are the only ones
that know a spreadsheet library; everything after this works on `Sheet`.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from pipeline.core.errors import CannotRun, Fault

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
    shown: str  # what the sheet shows; for a formula without a result, the formula
    marks: frozenset[str] = frozenset()  # "struck" "part-struck" "superscript" "unsure-shown" "from-formula"
    comment: str = ""

    @property
    def address(self) -> str:
        return f"{letters(self.column)}{self.row}"


@dataclass(frozen=True, slots=True)
class Row:
    """One row that holds something, its cells from left to right."""

    number: int
    cells: tuple[Cell, ...]
    hidden: bool = False

    def cell(self, column: int) -> Cell | None:
        for cell in self.cells:
            if cell.column == column:
                return cell
        return None


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One sheet of the client's file."""

    file: str
    path: Path
    name: str
    sha256: str  # of the file's bytes
    rows: tuple[Row, ...]  # only those that hold something
    merged: tuple[tuple[int, int, int, int], ...] = ()  # first row, first column, last row, last column
    hidden_columns: frozenset[int] = frozenset()
    others: tuple[tuple[str, str], ...] = ()  # the file's other sheets: name, "" or "hidden"
    hidden: bool = False
    read_by: str = ""
    unread: tuple[str, ...] = ()  # marks that this way of reading does not see, in words
    _at: Mapping[int, Row] = field(default_factory=dict, compare=False, repr=False)

    def row(self, number: int) -> Row | None:
        if not self._at and self.rows:
            object.__setattr__(self, "_at", {row.number: row for row in self.rows})
        return self._at.get(number)


def letters(column: int) -> str:
    """1 → A, 27 → AA."""
    out = ""
    while column > 0:
        column, digit = divmod(column - 1, 26)
        out = chr(65 + digit) + out
    return out


def column_of(word: str) -> int | None:
    """A → 1, AA → 27; None for what is no column's letters."""
    if not word.isascii() or not word.isalpha() or len(word) > 3:
        return None
    number = 0
    for letter in word.upper():
        number = number * 26 + ord(letter) - 64
    return number


LARGEST_FILE = 200 * 1024 * 1024
"""Bytes of a list's file; a list of 100,000 names has about a tenth of it."""


def read_sheet(path: Path, sheet: str | None = None) -> Sheet:
    """Read one sheet of a list: the named one, or the first visible one. The file is only ever opened for reading.

    CannotRun says what is the matter with a file that cannot be read.
    """
    data = file_bytes(path)
    sha256 = hashlib.sha256(data).hexdigest()
    from pipeline.intake.sheet_workbook import read_workbook

    return read_workbook(path, data, sha256, sheet)


def file_bytes(path: Path) -> bytes:
    """The file, whole. CannotRun when it is missing, empty, a folder, too large or may not be read."""
    try:
        if path.is_dir():
            raise CannotRun(Fault(where=str(path), found="this is a folder", expected="the client's list, a file"))
        size = path.stat().st_size
        if size > LARGEST_FILE:
            raise CannotRun(
                Fault(
                    where=str(path),
                    found=f"the file has {size / 2**20:.0f} MB",
                    expected=f"a list of at most {LARGEST_FILE / 2**20:.0f} MB",
                    remedy="save the sheet with the names alone as a new file",
                )
            )
        data = path.read_bytes()
    except FileNotFoundError:
        raise CannotRun(Fault(where=str(path), found="no such file", expected="the client's list")) from None
    except OSError as error:
        raise CannotRun(
            Fault(where=str(path), found=f"cannot be read ({error.strerror or error})", remedy="check its permissions")
        ) from None
    if not data:
        raise CannotRun(
            Fault(
                where=str(path),
                found="the file is empty (0 bytes)",
                expected="the client's list",
                remedy="ask the client to send it again: it was probably lost in transfer",
            )
        )
    return data
