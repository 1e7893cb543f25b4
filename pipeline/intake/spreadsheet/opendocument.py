"""OpenDocument spreadsheets (.ods). Their content holds the text each cell shows, which is what is read here.

Standard: OASIS OpenDocument 1.3, part 3, chapters 9 and 19.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

from pipeline.core.errors import CannotRun
from pipeline.core.order import ListLimits
from pipeline.intake.spreadsheet.container import damaged_fault
from pipeline.intake.spreadsheet.list_limits import limit_fault
from pipeline.intake.spreadsheet.sheet import Cell, CellKind, ReadOptions, Row, Sheet, kind_of_text, pick_page

_OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
_TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_TEXT = "{urn:oasis:names:tc:opendocument:xmlns:text:1.0}"
_STYLE = "{urn:oasis:names:tc:opendocument:xmlns:style:1.0}"
_FO = "{urn:oasis:names:tc:opendocument:xmlns:xsl-fo-compatible:1.0}"
_CALC = "{urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0}"

_KINDS: dict[str, CellKind] = {
    "string": "text", "float": "number", "percentage": "number", "currency": "number", "date": "date", "time": "date",
    "boolean": "bool",
}  # fmt: skip


@dataclass(slots=True)
class _Page:
    """One sheet as it is read."""

    name: str
    hidden: bool
    rows: list[Row] = field(default_factory=list)
    merged: list[tuple[int, int, int, int]] = field(default_factory=list)
    hidden_columns: set[int] = field(default_factory=set)


@dataclass(slots=True)
class _Styles:
    """Names of the styles that strike text through, and of those that hide a sheet."""

    struck: set[str] = field(default_factory=set)
    hiding: set[str] = field(default_factory=set)
    bold: set[str] = field(default_factory=set)


def read_ods(path: Path, data: bytes, sha256: str, how: ReadOptions) -> Sheet:
    """One sheet of an OpenDocument file. CannotRun when it is damaged or has no such sheet."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            styles = _Styles()
            names = [(name, hidden) for name, hidden, _ in _pages(path, packed, styles, None, how.limits)]
            title, hidden, others = pick_page(path, names, how.sheet)
            page = next(page for _, _, page in _pages(path, packed, styles, title, how.limits) if page is not None)
    except CannotRun:
        raise
    except Exception as error:  # whatever a damaged part makes the parser raise
        raise damaged_fault(path, error) from None
    return Sheet(
        file=path.name,
        path=path,
        name=title,
        sha256=sha256,
        rows=tuple(page.rows),
        merged=tuple(page.merged),
        hidden_columns=frozenset(page.hidden_columns),
        others=others,
        hidden=hidden,
        read_by="the file's own text",
    )


def _pages(
    path: Path, packed: zipfile.ZipFile, styles: _Styles, wanted: str | None, limits: ListLimits
) -> Iterator[tuple[str, bool, _Page | None]]:
    """The sheets one after another; rows are read of the wanted one only."""
    with packed.open("content.xml") as stream:
        page: _Page | None = None
        name, hidden, depth, row, cells = "", False, 0, 0, 0
        column = 0
        for event, element in ElementTree.iterparse(stream, events=("start", "end")):
            tag = element.tag
            if event == "start":
                if tag == f"{_TABLE}table":
                    depth += 1
                    if depth == 1:
                        name = element.get(f"{_TABLE}name", "")
                        hidden = element.get(f"{_TABLE}style-name", "") in styles.hiding
                        page = _Page(name, hidden) if name == wanted else None
                        row = column = 0
                continue
            if tag == f"{_STYLE}style":
                _note_style(element, styles)
            elif tag == f"{_TABLE}table":
                depth -= 1
                if depth == 0:
                    yield name, hidden, page
                element.clear()
            elif tag == f"{_TABLE}table-column" and page is not None:
                count = _count(element, "number-columns-repeated")
                if element.get(f"{_TABLE}visibility", "visible") != "visible":
                    page.hidden_columns |= set(range(column + 1, column + 1 + min(count, 1000)))
                column += count
            elif tag == f"{_TABLE}table-row" and depth == 1:
                if page is not None:
                    count = _count(element, "number-rows-repeated")
                    made = _row(element, row + 1, styles, page)
                    cells += count * len(made.cells)
                    if cells > limits.cells:  # repeated ones count each time
                        raise limit_fault(f"{path}, sheet “{name}”", "cells", f"it has {cells} cells or more", limits)
                    if made.cells and len(page.rows) + count > limits.rows:
                        raise limit_fault(
                            f"{path}, sheet “{name}”", "rows", f"it has {len(page.rows) + count} rows", limits
                        )
                    if made.cells:
                        page.rows += [made, *(_again(made, row + 1 + n) for n in range(1, count))]
                    row += count
                element.clear()


def _note_style(element: Any, styles: _Styles) -> None:
    name = element.get(f"{_STYLE}name", "")
    for child in element:
        if child.get(f"{_STYLE}text-line-through-style", "none") != "none" or (
            child.get(f"{_STYLE}text-line-through-type", "none") != "none"
        ):
            styles.struck.add(name)
        if child.get(f"{_FO}font-weight") == "bold":
            styles.bold.add(name)
        if child.get(f"{_TABLE}display") == "false":
            styles.hiding.add(name)


def _count(element: Any, name: str) -> int:
    value = element.get(f"{_TABLE}{name}", "1")
    return max(1, min(int(value), 2**24)) if value.isdigit() else 1


def _again(row: Row, number: int) -> Row:
    cells = tuple(Cell(number, c.column, c.kind, c.value, c.shown, c.marks, c.comment) for c in row.cells)
    return Row(number, cells, row.hidden, row.filtered)


def _row(element: Any, number: int, styles: _Styles, page: _Page) -> Row:
    cells: list[Cell] = []
    column = 1
    for child in element:
        if child.tag not in (f"{_TABLE}table-cell", f"{_TABLE}covered-table-cell"):
            continue
        count = _count(child, "number-columns-repeated")
        wide, high = _count(child, "number-columns-spanned"), _count(child, "number-rows-spanned")
        if wide > 1 or high > 1:
            page.merged.append((number, column, number + high - 1, column + wide - 1))
        made = _cell(child, number, column, styles) if child.tag == f"{_TABLE}table-cell" else None
        if made is not None:
            cells.append(made)
            for n in range(1, min(count, 16384)):
                cells.append(Cell(number, column + n, made.kind, made.value, made.shown, made.marks))
        column += count
    visibility = element.get(f"{_TABLE}visibility", "visible")
    return Row(number, tuple(cells), visibility != "visible", visibility == "filter")


def _cell(element: Any, row: int, column: int, styles: _Styles) -> Cell | None:
    text = "\n".join(_said(p) for p in element if p.tag == f"{_TEXT}p")
    notes = [note for note in element if note.tag == f"{_OFFICE}annotation"]
    comment = " ".join(_said(p) for note in notes for p in note if p.tag == f"{_TEXT}p")
    comment = " ".join(comment.split())
    kind = element.get(f"{_OFFICE}value-type")
    formula = element.get(f"{_TABLE}formula")
    marks = {"from-formula"} if formula else set()
    if element.get(f"{_TABLE}style-name", "") in styles.bold:
        marks.add("bold")
    if element.get(f"{_TABLE}style-name", "") in styles.struck:
        marks.add("struck")
    else:
        marks |= _struck_inside(element, styles, text)
    if formula and (element.get(f"{_CALC}value-type") == "error" or text.startswith("Err:")):
        return Cell(row, column, "error", text, text, frozenset(marks), comment)
    if formula and kind is None and not text:
        return Cell(row, column, "formula", formula, formula, frozenset(marks), comment)
    if not text:
        value = element.get(f"{_OFFICE}string-value") or element.get(f"{_OFFICE}value") or ""
        if not value:
            return None
        text = value
    found = _KINDS.get(kind or "string", "text")
    if found == "text":
        return Cell(row, column, kind_of_text(text), text, text, frozenset(marks), comment)
    if found == "number":
        number = float(element.get(f"{_OFFICE}value", "nan"))
        plain = int(number) if number.is_integer() else number
        return Cell(row, column, "number", plain, text, frozenset(marks), comment)
    value = element.get(f"{_OFFICE}date-value") or element.get(f"{_OFFICE}time-value") or text
    return Cell(row, column, found, value, text, frozenset(marks), comment)


def _said(element: Any) -> str:
    """The text of a paragraph, with its spaces, tabs and breaks; without notes inside it."""
    out = element.text or ""
    for child in element:
        if child.tag == f"{_TEXT}s":
            count = child.get(f"{_TEXT}c", "1")
            out += " " * (min(int(count), 1000) if count.isdigit() else 1)
        elif child.tag == f"{_TEXT}tab":
            out += "\t"
        elif child.tag == f"{_TEXT}line-break":
            out += "\n"
        elif child.tag != f"{_OFFICE}annotation":
            out += _said(child)
        out += child.tail or ""
    return out


def _struck_inside(element: Any, styles: _Styles, text: str) -> set[str]:
    gone = "".join(
        _said(span) for span in element.iter(f"{_TEXT}span") if span.get(f"{_TEXT}style-name", "") in styles.struck
    )
    if not gone.strip():
        return set()
    return {"struck"} if gone.strip() == text.strip() else {"part-struck"}
