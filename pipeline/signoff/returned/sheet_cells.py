"""A workbook that came back as plain cells, with what else was put into it. Cells far away cost nothing; a workbook
made to blow up costs the process it is read in, see core.storage.door."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from pipeline.core.errors import CannotRun, Fault
from pipeline.signoff.returned.pdf_form import MOST_TEXT

MOST_PARTS = 2_000
MOST_UNPACKED_MB = 200
MOST_CELLS = 400_000
FARTHEST = (5_000, 60)
"""Row and column up to which comments and styles within a text are looked for cell by cell."""
MOST_NAMES = 500
_CELL = re.compile(r"=?(?:'((?:[^']|'')+)'|([^'!]+))!\$([A-Z]{1,3})\$(\d{1,7})")
_OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_DECLARES = re.compile(rb"<!(?:DOCTYPE|ENTITY)", re.I)
_STRIKE = re.compile(rb"<(?:\w+:)?d?strike\b")
_ADDED = (
    (re.compile(r"xl/(?:media|drawings/(?!vml|_rels))", re.I), "a picture or drawing"),
    (re.compile(r"xl/(?:charts|chartsheets)/", re.I), "a chart"),
    (re.compile(r"xl/(?:embeddings|activeX|ctrlProps)/", re.I), "an object from another program"),
    (re.compile(r"xl/vbaProject", re.I), "a macro"),
)


@dataclass(frozen=True, slots=True)
class Held:
    """One cell that holds something. text: as it is read; struck: any part of it; fill: its ground, "" for none."""

    text: str
    struck: bool = False
    fill: str = ""


Cells = dict[int, dict[int, Held]]
"""Row and column, counted from 1."""


@dataclass(slots=True, kw_only=True)
class Workbook:
    sheets: dict[str, Cells] = field(default_factory=dict)
    notes: list[tuple[str, int, str]] = field(default_factory=list)  # sheet, row (0: unknown), what is there
    added: list[str] = field(default_factory=list)  # additions other than cells
    names: dict[str, tuple[str, int, int]] = field(default_factory=dict)  # defined name -> sheet, row, column
    words: dict[str, str] = field(default_factory=dict)  # defined name -> its text


def read_sheet_cells(data: bytes, file: str) -> Workbook:
    """Read every cell that holds something. CannotRun when the file is no workbook that may be read; other errors of
    the library are reported by `core.storage.door`."""
    import openpyxl

    names, partly_struck = _inspect_package(data, file)
    out = Workbook(added=[what for part, what in _ADDED if any(part.match(n) for n in names)])
    results = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
    written = openpyxl.load_workbook(io.BytesIO(data), read_only=True)
    count = 0
    for name in results.sheetnames:
        if not hasattr(results[name], "reset_dimensions"):
            continue  # a chart, already reported
        cells: Cells = {}
        for sheet in (results[name], written[name]):  # a formula without a result counts as its text
            for row, column, cell in _list_filled(sheet):
                if column not in cells.setdefault(row, {}):
                    count += 1
                    if count > MOST_CELLS:
                        raise _report_refused(file, f"it has more than {MOST_CELLS} cells")
                    cells[row][column] = cell
        out.sheets[name] = cells
    _record_name(out, results)
    if partly_struck or any(re.match(r"xl/(?:comments|threadedComments)", n) for n in names):
        out.notes = list(_read_notes(data))
    return out


def _record_name(out: Workbook, book: Any) -> None:
    """The defined names that stand for one cell or one text."""
    from openpyxl.utils import column_index_from_string

    for name, defined in list(book.defined_names.items())[:MOST_NAMES]:
        told = str(defined.value or "")[:MOST_TEXT]
        if found := _CELL.fullmatch(told):
            sheet = found[1].replace("''", "'") if found[1] is not None else found[2]
            if sheet in out.sheets:
                out.names[name] = (sheet, int(found[4]), column_index_from_string(found[3]))
        elif len(told) > 1 and told[0] == told[-1] == '"':
            out.words[name] = told[1:-1].replace('""', '"')


def _report_refused(file: str, found: str) -> CannotRun:
    remedy = "ask the client to save it as .xlsx without a password and to send it again"
    return CannotRun(Fault(where=file, found=found, expected="a check sheet as it was sent, filled in", remedy=remedy))


def _inspect_package(data: bytes, file: str) -> tuple[tuple[str, ...], bool]:
    """List the names of a package's parts, and say whether part of a cell's text is struck; CannotRun when it may not
    be unpacked."""
    if data.startswith(_OLE):
        raise _report_refused(file, "it is protected with a password, or an old workbook (.xls)")
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            parts = packed.infolist()
            if len(parts) > MOST_PARTS:
                raise _report_refused(file, f"it has {len(parts)} parts inside")
            whole = sum(part.file_size for part in parts)
            if whole > MOST_UNPACKED_MB * 2**20:
                raise _report_refused(file, f"it unpacks to {whole / 2**20:.0f} MB")
            struck = False
            for part in parts:
                if not part.filename.lower().endswith((".xml", ".rels")):
                    continue
                held = packed.read(part)
                if _DECLARES.search(held.replace(b"\0", b"")):
                    raise _report_refused(file, f"its part {part.filename[:60]} declares entities, as no workbook does")
                if part.filename.startswith(("xl/sharedStrings", "xl/worksheets/")) and _STRIKE.search(held):
                    struck = True
            return tuple(part.filename for part in parts), struck
    except (zipfile.BadZipFile, NotImplementedError, EOFError) as error:
        raise _report_refused(file, f"not a workbook that can be read ({error})") from error


def _list_filled(sheet: Any) -> Iterator[tuple[int, int, Held]]:
    sheet.reset_dimensions()  # the size stated in the file may be wrong
    for row in sheet.iter_rows():
        for cell in row:
            if cell.value is None:
                continue
            text = format_cell(cell.value)
            if text:
                yield cell.row, cell.column, Held(text, _is_struck(cell), _read_fill(cell))


def format_cell(value: Any) -> str:
    """A cell's value as one reads it."""
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == datetime.min.time() else value.isoformat(sep=" ")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float):
        return f"{value:.9g}"
    return str(value).strip()[:MOST_TEXT]


def _is_struck(cell: Any) -> bool:
    return bool(getattr(cell.font, "strike", False))


def _read_fill(cell: Any) -> str:
    fill = cell.fill
    if fill is None or fill.fill_type in (None, "none"):
        return ""
    colour = fill.start_color
    return str(colour.rgb)[-6:].upper() if colour.type == "rgb" else f"{colour.type} {colour.value}"


def _read_notes(data: bytes) -> Iterator[tuple[str, int, str]]:
    """Comments, and texts of which a part is struck through, with their rows."""
    import openpyxl

    for sheet in openpyxl.load_workbook(io.BytesIO(data), rich_text=True).worksheets:
        found = False
        last, wide = min(sheet.max_row, FARTHEST[0]), min(sheet.max_column, FARTHEST[1])
        for row in sheet.iter_rows(max_row=last, max_col=wide):
            for cell in row:
                if cell.comment is not None:
                    found = True
                    said = " ".join(str(cell.comment.text).split())[:200]
                    yield sheet.title, cell.row, f"a comment was added: “{said}”"
                if isinstance(cell.value, list) and any(
                    _is_struck(part) for part in cell.value if hasattr(part, "font")
                ):
                    found = True
                    yield sheet.title, cell.row, f"part of “{str(cell.value)[:80]}” is struck through"
        if not found and (last, wide) != (sheet.max_row, sheet.max_column):
            yield sheet.title, 0, "something is written far off the table"
