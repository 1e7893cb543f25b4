"""What all our workbooks have in common: text that stays text, one look, tables with a frozen filtered header, equal
bytes for equal content.
"""

from __future__ import annotations

import io
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from typing import Any

import xlsxwriter
from xlsxwriter.utility import xl_col_to_name
from xlsxwriter.worksheet import Worksheet

from pipeline.core.printable import printable
from pipeline.core.units import Units

LONGEST_CELL = 32767
"""UTF-16 units of a text a cell can hold (published limit of the file format's spreadsheet applications)."""
LINE_HEIGHT = 15.0
"""Points, of one line of 11-point text (common practice, no source)."""
TALLEST_ROW = 409.0
"""Points, the tallest row the file format's spreadsheet applications show."""
CREATED = datetime(2000, 1, 1)
"""The file format wants a date of creation; a fixed one keeps equal input at equal bytes."""
COLOURS = {"ready": "#E3F1DF", "ask": "#FFF1C7", "stopped": "#F7CFC3", "fault": "#DDDDDD"}


@dataclass(frozen=True, slots=True)
class Column:
    head: str
    width: float
    style: str = "text"


class TableSheet(Worksheet):  # type: ignore[misc]
    """A worksheet of the library that also takes a row at a time, as the text it is to be written as. Held and written
    cell by cell, a list of a thousand rows costs several times as much; the bytes are the same."""

    def put(self, row: int, cells: Sequence[tuple[Any, str]], styles: Mapping[str, Any]) -> None:
        """Values of a row's cells from the first column on, each with the name of its format: texts and numbers; None
        and "" are blank."""
        self._check_dimensions(row, 0)
        self._check_dimensions(row, len(cells) - 1)
        out, number, index = [], row + 1, self.str_table._get_shared_string_index
        for name, (value, style) in zip(_names(len(cells)), cells, strict=True):
            start = f'<c r="{name}{number}" s="{styles[style].xf_index}"'
            if value is None or value == "":
                out.append(f"{start}/>")
            elif isinstance(value, str):
                out.append(f'{start} t="s"><v>{index(safe(value))}</v></c>')
            elif math.isfinite(value):
                out.append(f"{start}><v>{value:.16G}</v></c>")
            else:
                raise ValueError(f"{value} is no number a cell can hold")
        there = self.table[row]
        there[len(cells) - 1] = ""  # so that the library sees how far the row goes
        there[0] = "".join(out)

    def _write_cell(self, row: int, column: int, cell: Any) -> None:
        if isinstance(cell, str):
            self.fh.write(cell)
        else:
            super()._write_cell(row, column, cell)


@lru_cache
def _names(columns: int) -> tuple[str, ...]:
    return tuple(map(xl_col_to_name, range(columns)))


class _Book(xlsxwriter.Workbook):  # type: ignore[misc]
    worksheet_class = TableSheet


def workbook(title: str, units: Units, fill: Callable[[Any, dict[str, Any]], None]) -> bytes:
    """A workbook's bytes; `fill` gets the open book and its styles by name. Lengths are shown with the decimals of
    `units`."""
    held = io.BytesIO()
    # text that looks like a formula, a number or an address stays text
    options = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    book = _Book(held, options)
    book.set_properties({"title": safe(title), "created": CREATED, "comments": ""})
    fill(book, styles_of(book, units))
    book.close()
    return held.getvalue()


def safe(text: str) -> str:
    """Text a workbook can hold: what cannot be seen has a mark in its place, an overlong cell says it was cut."""
    text = printable(text)
    if 2 * len(text) > LONGEST_CELL and len(units := text.encode("utf-16-le")) > 2 * LONGEST_CELL:
        note = f" … [{len(text)} characters, cut here]"
        text = units[: 2 * (LONGEST_CELL - len(note))].decode("utf-16-le", "ignore") + note
    return text


def styles_of(book: Any, units: Units) -> dict[str, Any]:
    base = {"valign": "top", "text_wrap": True, "font_name": "Calibri", "font_size": 11}
    base |= {"bottom": 4, "bottom_color": "#B8BFC4"}  # a hairline under each row leads the eye
    length = "0." + "0" * units.decimals
    own: dict[str, dict[str, Any]] = {
        "text": {},
        "code": {"font_name": "Consolas", "font_size": 10},
        "number": {"text_wrap": False, "align": "center"},
        "count": {"text_wrap": False, "align": "center", "num_format": "0;-0;"},  # a nought is left blank
        "length": {"text_wrap": False, "align": "right", "num_format": length},
        "head": {"bold": True, "bg_color": "#2F3B45", "font_color": "#FFFFFF", "valign": "vcenter", "border": 1},
        "head-answer": {"bold": True, "bg_color": "#1F5A7A", "font_color": "#FFFFFF", "valign": "vcenter", "border": 1},
        "answer": {"bg_color": "#EAF4FA", "border": 1, "border_color": "#8FB4C8"},
        "title": {"bold": True, "font_size": 16, "text_wrap": False, "bottom": 0},
        "title-small": {"bold": True, "text_wrap": False, "bottom": 0},
        "label": {"bold": True},
    }
    for state, colour in COLOURS.items():
        own[state] = {"bg_color": colour, "bold": state != "ready"}
    styles = {name: book.add_format({**base, **extra}) for name, extra in own.items()}
    for style in styles.values():
        style._get_xf_index()  # numbered now, whether used or not: rows are put with these numbers
    return styles


def write_table(sheet: Any, styles: dict[str, Any], columns: list[Column], rows: list[list[tuple[Any, str]]]) -> None:
    """A table with a frozen, filtered header that repeats on every printed page."""
    for number, column in enumerate(columns):
        sheet.set_column(number, number, column.width)
        sheet.write_string(0, number, column.head, styles["head-answer" if column.style == "answer" else "head"])
    sheet.set_row(0, 32)
    for line, row in enumerate(rows, 1):
        lines = [lines_of(value, column.width) for (value, _), column in zip(row, columns, strict=False)]
        sheet.set_row(line, min(LINE_HEIGHT * max(lines, default=1), TALLEST_ROW))
        sheet.put(line, row, styles)
    sheet.autofilter(0, 0, max(len(rows), 1), len(columns) - 1)
    sheet.set_landscape()
    sheet.set_paper(9)  # A4
    sheet.fit_to_pages(1, 0)
    sheet.repeat_rows(0)
    sheet.set_footer("&L&A&RPage &P of &N")


def lines_of(value: Any, width: float) -> int:
    """How many lines a text takes in a column this wide (in characters), on the generous side: not every program
    that opens the sheet finds the height of a wrapped row by itself."""
    if not isinstance(value, str) or (len(value) * 1.08 <= width and "\n" not in value):
        return 1
    return sum(max(1, math.ceil(len(part) * 1.08 / width)) for part in value.split("\n"))


def write_cell(sheet: Any, row: int, column: int, value: Any, style: Any) -> None:
    if value is None or value == "":
        sheet.write_blank(row, column, None, style)
    elif isinstance(value, str):
        sheet.write_string(row, column, safe(value), style)
    else:
        sheet.write_number(row, column, value, style)
