"""Parts that all our workbooks share: text that stays text, one look, tables with a frozen filtered header, equal bytes
for equal content."""

from __future__ import annotations

import io
import math
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import xlsxwriter

from pipeline.core.printable import make_printable
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
class SheetColumn:
    head: str
    width: float
    style: str = "text"


def write_workbook(title: str, units: Units, fill: Callable[[Any, dict[str, Any]], None]) -> bytes:
    """A workbook's bytes; `fill` gets the open book and its styles by name. Lengths are shown with the decimals of
    `units`."""
    held = io.BytesIO()
    # text that looks like a formula, a number or a URL stays text
    options = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    book = xlsxwriter.Workbook(held, options)
    book.set_properties({"title": escape_text(title), "created": CREATED, "comments": ""})
    fill(book, build_styles(book, units))
    book.close()
    return held.getvalue()


def escape_text(text: str) -> str:
    """Text a workbook can hold: what cannot be seen has a mark in its place, an overlong cell says it was cut."""
    text = make_printable(text)
    if 2 * len(text) > LONGEST_CELL and len(units := text.encode("utf-16-le")) > 2 * LONGEST_CELL:
        note = f" … [{len(text)} characters, cut here]"
        text = units[: 2 * (LONGEST_CELL - len(note))].decode("utf-16-le", "ignore") + note
    return text


def build_styles(book: Any, units: Units) -> dict[str, Any]:
    base = {"valign": "top", "text_wrap": True, "font_name": "Calibri", "font_size": 11}
    base |= {"bottom": 4, "bottom_color": "#B8BFC4"}  # a hairline under each row leads the eye
    length = "0." + "0" * units.decimals
    own: dict[str, dict[str, Any]] = {
        "text": {},
        "code": {"font_name": "Consolas", "font_size": 10},
        "number": {"text_wrap": False, "align": "center"},
        "count": {"text_wrap": False, "align": "center", "num_format": "0;-0;"},  # zero is shown as blank
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
    return {name: book.add_format({**base, **extra}) for name, extra in own.items()}


def write_table(
    sheet: Any, styles: dict[str, Any], columns: list[SheetColumn], rows: list[list[tuple[Any, str]]]
) -> None:
    """A table with a frozen, filtered header that repeats on every printed page."""
    for number, column in enumerate(columns):
        sheet.set_column(number, number, column.width)
        sheet.write_string(0, number, column.head, styles["head-answer" if column.style == "answer" else "head"])
    sheet.set_row(0, 32)
    for line, row in enumerate(rows, 1):
        lines = [count_lines(value, column.width) for (value, _), column in zip(row, columns, strict=False)]
        sheet.set_row(line, min(LINE_HEIGHT * max(lines, default=1), TALLEST_ROW))
        for number, (value, style) in enumerate(row):
            write_cell(sheet, line, number, value, styles[style])
    sheet.autofilter(0, 0, max(len(rows), 1), len(columns) - 1)
    sheet.set_landscape()
    sheet.set_paper(9)  # A4
    sheet.fit_to_pages(1, 0)
    sheet.repeat_rows(0)
    sheet.set_footer("&L&A&RPage &P of &N")


def count_lines(value: Any, width: float) -> int:
    """Return how many lines a text takes in a column this wide (in characters), on the generous side: not every program
    that opens the sheet finds the height of a wrapped row by itself."""
    if not isinstance(value, str) or (len(value) * 1.08 <= width and "\n" not in value):
        return 1
    return sum(max(1, math.ceil(len(part) * 1.08 / width)) for part in value.split("\n"))


def write_cell(sheet: Any, row: int, column: int, value: Any, style: Any) -> None:
    """A text or a number; None and "" are blank. ValueError for a number that no cell can hold."""
    if value is None or value == "":
        sheet.write_blank(row, column, None, style)
    elif isinstance(value, str):
        sheet.write_string(row, column, escape_text(value), style)
    elif math.isfinite(value):
        sheet.write_number(row, column, value, style)
    else:
        raise ValueError(f"{value} is no number a cell can hold")
