"""Workbooks: .xlsx and .xlsm, read with openpyxl. Macros, links and formulas are never followed."""

from __future__ import annotations

import datetime as dt
import io
import re
import warnings
import zipfile
from pathlib import Path
from typing import Any

from pipeline.core.errors import CannotRun, Fault
from pipeline.intake.container import container_of, damaged
from pipeline.intake.order_words import nearest
from pipeline.intake.sheet import Cell, CellKind, Row, Sheet, Value
from pipeline.intake.shown import shown

_ESCAPED = re.compile(r"_x([0-9A-Fa-f]{4})_")
"""ECMA-376 part 1, 22.4.2.4: characters XML cannot hold are written _xHHHH_."""

_NOT_A_WORKBOOK = {
    "pdf": "this is a PDF",
    "other-zip": "this is a packed file, but no workbook",
    "markup": "this is a web page or XML with another ending",
    "plain": "this is no workbook",
}


def read_workbook(path: Path, data: bytes, sha256: str, sheet: str | None) -> Sheet:
    """One sheet of a workbook. CannotRun says what is wrong with the file or the sheet's name."""
    kind = container_of(path, data)
    if kind in _NOT_A_WORKBOOK:
        raise CannotRun(
            Fault(
                where=str(path),
                found=_NOT_A_WORKBOOK[kind],
                expected="a spreadsheet",
                remedy="save the list as .xlsx from the program it was made with",
            )
        )
    if kind != "xlsx":
        raise CannotRun(
            Fault(where=str(path), found=f"this is an .{kind} file inside", expected="a workbook (.xlsx or .xlsm)")
        )
    book = _load(path, data, results=True)
    page, others = choose(path, book, sheet)
    formulas = _formulas(path, data, page.title) if _has_formulas(data) else {}
    strokes: dict[int, bool] = {}
    rows = []
    for cells in page.iter_rows():
        kept = []
        for cell in cells:
            made = _cell(cell, formulas, strokes)
            if made is not None:
                kept.append(made)
        if kept:
            number = kept[0].row
            rows.append(Row(number, tuple(kept), bool(page.row_dimensions[number].hidden)))
    return Sheet(
        file=path.name,
        path=path,
        name=page.title,
        sha256=sha256,
        rows=tuple(rows),
        merged=tuple(sorted((m.min_row, m.min_col, m.max_row, m.max_col) for m in page.merged_cells.ranges)),
        hidden_columns=_hidden_columns(page),
        others=others,
        hidden=page.sheet_state != "visible",
        read_by="openpyxl",
    )


def _load(path: Path, data: bytes, *, results: bool) -> Any:
    import openpyxl

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of styles and extensions it does not keep; nothing is written back
            return openpyxl.load_workbook(
                io.BytesIO(data), data_only=results, keep_links=False, keep_vba=False, rich_text=True
            )
    except CannotRun:
        raise
    except Exception as error:  # the library raises whatever its parsers raise
        raise damaged(path, error) from None


def choose(path: Path, book: Any, wanted: str | None) -> tuple[Any, tuple[tuple[str, str], ...]]:
    """The sheet of this name, or the first visible one, and the names of the others. Charts have no cells."""
    pages = {page.title: page for page in book.worksheets}
    if not pages:
        raise CannotRun(Fault(where=str(path), found="the workbook has no sheet with cells", expected="a list"))
    if wanted is None:
        page = next((p for p in book.worksheets if p.sheet_state == "visible"), book.worksheets[0])
    else:
        folded = {" ".join(title.split()).casefold(): title for title in pages}
        title = wanted if wanted in pages else folded.get(" ".join(wanted.split()).casefold())
        if title is None:
            raise no_sheet(path, wanted, list(pages))
        page = pages[title]
    others = tuple((p.title, "" if p.sheet_state == "visible" else "hidden") for p in book.worksheets if p is not page)
    return page, others


def no_sheet(path: Path, wanted: str, there: list[str]) -> CannotRun:
    """The error for a sheet that is not in the file."""
    hint = nearest(wanted, there)
    return CannotRun(
        Fault(
            where=str(path),
            found=f"there is no sheet “{wanted}”",
            expected=f"one of its sheets: {', '.join(f'“{t}”' for t in there[:20])}",
            remedy=hint if hint.startswith("did you") else "correct `sheet` in [list]",
        )
    )


def _hidden_columns(page: Any) -> frozenset[int]:
    hidden = set()
    for dimension in page.column_dimensions.values():
        if dimension.hidden and dimension.min:
            hidden |= set(range(dimension.min, min(dimension.max or dimension.min, dimension.min + 1000) + 1))
    return frozenset(hidden)


def _has_formulas(data: bytes) -> bool:
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        for name in packed.namelist():
            if "worksheets/" in name and name.endswith(".xml"):
                with packed.open(name) as stream:
                    tail = b""
                    while chunk := stream.read(1 << 20):
                        if re.search(rb"<(?:\w+:)?f[\s/>]", tail + chunk):
                            return True
                        tail = chunk[-16:]
    return False


def _formulas(path: Path, data: bytes, title: str) -> dict[tuple[int, int], str]:
    """Where the sheet has formulas, and what they say."""
    found = {}
    for cells in _load(path, data, results=False)[title].iter_rows():
        for cell in cells:
            if cell.data_type == "f":
                value = cell.value if isinstance(cell.value, str) else f"={getattr(cell.value, 'text', '') or ''}"
                found[cell.row, cell.column] = value
    return found


def _cell(cell: Any, formulas: dict[tuple[int, int], str], strokes: dict[int, bool]) -> Cell | None:
    """A cell of ours, or None for one that holds nothing."""
    value = cell.value
    if value is None and not formulas:
        return None
    row, column = cell.row, cell.column
    formula = formulas.get((row, column))
    if value is None:
        return None if formula is None else Cell(row, column, "formula", formula, formula)
    marks: set[str] = {"from-formula"} if formula is not None else set()
    kind, plain, text = _value(cell, value, marks)
    if kind == "text" and not text:
        return None
    if cell.has_style:
        style = cell.style_id
        if style not in strokes:
            strokes[style] = bool(cell.font.strike)
        if strokes[style]:
            marks.add("struck")
    comment = _said(cell.comment) if cell.comment is not None else ""
    return Cell(row, column, kind, plain, text, frozenset(marks), comment)


def _value(cell: Any, value: Any, marks: set[str]) -> tuple[CellKind, Value, str]:
    if isinstance(value, str):  # CellRichText is not one
        if cell.data_type == "e":
            return "error", value, value
        text = unescape(value)
        return "text", text, text
    if isinstance(value, list):  # rich text: parts with fonts of their own
        marks |= _rich(value)
        text = unescape(str(value))
        return "text", text, text
    if isinstance(value, bool):
        return "bool", value, "TRUE" if value else "FALSE"
    text, sure = shown(value, cell.number_format)
    if not sure:
        marks.add("unsure-shown")
    if isinstance(value, int | float):
        return "number", value, text
    if isinstance(value, dt.datetime | dt.date | dt.time | dt.timedelta):
        return "date", value, text
    return "text", str(value), str(value)


def _rich(parts: list[Any]) -> set[str]:
    """Marks on parts of a text that would be lost."""
    marks = set()
    fonts = [part.font for part in parts if not isinstance(part, str) and part.font is not None]
    struck = sum(bool(font.strike) for font in fonts)
    if struck and struck == len([p for p in parts if str(p).strip()]):
        marks.add("struck")
    elif struck:
        marks.add("part-struck")
    if any(font.vertAlign in ("superscript", "subscript") for font in fonts):
        marks.add("superscript")
    return marks


def unescape(text: str) -> str:
    """Characters written _xHHHH_ as themselves."""
    if "_x" not in text:
        return text
    return _ESCAPED.sub(lambda found: chr(int(found[1], 16)), text)


def _said(comment: Any) -> str:
    """The words of a comment without its author's name in front."""
    text = " ".join(unescape(str(comment.text or "")).split())
    author = " ".join((comment.author or "").split())
    return text.removeprefix(f"{author}:").strip() if author else text
