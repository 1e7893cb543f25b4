"""Values alone, read with python-calamine: .xlsb, and sheets too large to be read cell by cell."""

from __future__ import annotations

import contextlib
import dataclasses
import datetime as dt
import io
import os
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from pipeline.core.errors import CannotRun, Fault
from pipeline.intake.spreadsheet.container import report_damaged, report_locked
from pipeline.intake.spreadsheet.list_limits import build_limit_error
from pipeline.intake.spreadsheet.number_format import format_value
from pipeline.intake.spreadsheet.sheet import Cell, ReadOptions, Row, Sheet, Value, classify_text, pick_page
from pipeline.intake.spreadsheet.xml_scan import PartScan, list_sheet_parts, scan_xlsb

EMPTY = 10
"""Rows times columns of the area that holds cells, for each cell an order allows: the quick reader sets aside room for
all of them. 100,000 rows may have 200 columns."""


@contextlib.contextmanager
def _report_damage(path: Path) -> Iterator[None]:
    """Turn whatever a damaged file makes the reader do into one clear error.

    The library is compiled: some damage makes it panic, which is no `Exception` in Python, and print to standard error,
    which is silenced meanwhile.
    """
    import python_calamine as calamine

    with _silence_stderr():
        try:
            yield
        except (CannotRun, KeyboardInterrupt, SystemExit, GeneratorExit, calamine.PasswordError):
            raise
        except BaseException as error:
            raise report_damaged(path, error) from None


@contextlib.contextmanager
def _silence_stderr() -> Iterator[None]:
    sys.stderr.flush()
    try:
        kept = os.dup(2)
    except OSError:  # stderr is closed: nothing to silence
        yield
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 2)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)
        os.close(nowhere)


def read_values(path: Path, data: bytes, sha256: str, how: ReadOptions, glance: PartScan) -> Sheet:
    """The values of one sheet of a large .xlsx. `glance` is what is already known of it."""
    book, title, hidden, others = _open_book(path, data, how)
    return _read_values(book, glance, how, Sheet(file=path.name, path=path, name=title, sha256=sha256, rows=(),
                                            others=others, hidden=hidden))  # fmt: skip


def read_binary_workbook(path: Path, data: bytes, sha256: str, how: ReadOptions) -> Sheet:
    """The values of one sheet of an .xlsb. CannotRun when it is damaged or has no such sheet."""
    book, title, hidden, others = _open_book(path, data, how)
    with _report_damage(path):
        part = list_sheet_parts(data).get(title)
        if part is None:
            raise report_damaged(path, f"the sheet “{title}” has no part")
        glance = scan_xlsb(data, part)
    return _read_values(book, glance, how, Sheet(file=path.name, path=path, name=title, sha256=sha256, rows=(),
                                            others=others, hidden=hidden))  # fmt: skip


def _open_book(path: Path, data: bytes, how: ReadOptions) -> tuple[Any, str, bool, tuple[tuple[str, str], ...]]:
    """The workbook, and the sheet that is to be read: its name, whether it is hidden, the others."""
    import python_calamine as calamine

    try:
        with _report_damage(path):
            book = calamine.load_workbook(io.BytesIO(data))
            pages = [
                (m.name, m.visible != calamine.SheetVisibleEnum.Visible)
                for m in book.sheets_metadata
                if m.typ == calamine.SheetTypeEnum.WorkSheet
            ]
    except calamine.PasswordError:
        raise report_locked(path) from None
    return book, *pick_page(path, pages, how.sheet)


def _read_values(book: Any, seen: PartScan, how: ReadOptions, sheet: Sheet) -> Sheet:
    """The sheet with its rows."""
    path, title = sheet.path, sheet.name
    if seen.cells > how.limits.cells:
        raise build_limit_error(f"{path}, sheet “{title}”", "cells", f"it has {seen.cells} cells", how.limits)
    if not seen.in_order:
        raise report_damaged(path, f"the rows of the sheet “{title}” are out of order")
    if seen.last_row * seen.last_column > EMPTY * how.limits.cells:
        raise CannotRun(
            Fault(
                where=f"{path}, sheet “{title}”",
                found=f"its cells are spread over {seen.last_row} rows and {seen.last_column} columns",
                expected=f"at most {EMPTY} times as many places as the limit `cells` = {how.limits.cells}",
                remedy="copy the rows of the list into a new workbook and use that",
            )
        )
    with _report_damage(path):
        page = book.get_sheet_by_name(title)
        merged = tuple((a[0] + 1, a[1] + 1, b[0] + 1, b[1] + 1) for a, b in page.merged_cell_ranges or ())
        rows = _read_rows(page.to_python(skip_empty_area=False), seen)
    return dataclasses.replace(
        sheet, rows=rows, merged=merged, filter_row=seen.filter[0], read_by="python-calamine", unread=UNREAD
    )


UNREAD = ("how numbers are shown", "struck-through text", "comments", "formulas", "hidden columns")
"""What no quick reading sees."""
MOST_SHARED = 5_000


def _read_rows(table: list[list[Any]], seen: PartScan) -> tuple[Row, ...]:
    """The rows that hold something. Frees each line of the table as it goes."""
    rows = []
    shared: dict[str, str] = {}  # one object for each repeated text
    marked = {row for row, _ in (*seen.errors, *seen.no_result)}
    for number, values in enumerate(table, 1):
        cells = []
        for column, value in enumerate(values, 1):
            if value == "" or value is None:
                continue
            known = isinstance(value, str) and (len(shared) < MOST_SHARED or value in shared)
            cells.append(_read_cell(number, column, shared.setdefault(value, value) if known else value))
        if number in marked:
            cells = _add_errors(cells, number, seen)
        if cells:
            rows.append(_read_row(number, cells, seen))
        table[number - 1] = []
    for number in sorted(n for n in marked if n > len(table)):
        cells = _add_errors([], number, seen)
        rows.append(_read_row(number, cells, seen))
    return tuple(rows)


def _read_row(number: int, cells: list[Cell], seen: PartScan) -> Row:
    first, last, active = seen.filter
    hidden = number in seen.hidden
    return Row(number, tuple(cells), hidden, hidden and active and first < number <= last)


def _add_errors(cells: list[Cell], row: int, seen: PartScan) -> list[Cell]:
    """The cells of a row with its error cells, which the reader gives as empty."""
    by_column = {cell.column: cell for cell in cells}
    for (r, column), word in seen.errors.items():
        if r == row:
            by_column[column] = Cell(row, column, "error", word, word)
    for r, column in seen.no_result:
        if r == row and column not in by_column:
            by_column[column] = Cell(row, column, "formula", "", "a formula")
    return [by_column[column] for column in sorted(by_column)]


_UNSURE = frozenset({"unsure-shown"})


def _read_cell(row: int, column: int, value: Any) -> Cell:
    if isinstance(value, str):
        return Cell(row, column, classify_text(value), value, value)
    if isinstance(value, bool):
        return Cell(row, column, "bool", value, "TRUE" if value else "FALSE")
    if isinstance(value, int | float) and value == value // 1 and abs(value) < 1e15:
        return Cell(row, column, "number", int(value), str(int(value)))
    text, _ = format_value(value, None)
    kind: Any = "number" if isinstance(value, int | float) else "date"
    plain: Value = value if isinstance(value, int | float | dt.date | dt.time | dt.timedelta) else str(value)
    return Cell(row, column, kind, plain, text, _UNSURE)
