"""A glance into the packed parts of .xlsx and .xlsb files, before a library builds anything from them.

It finds how many cells there are and how far apart (so that nothing is built that memory cannot hold), and in large
sheets the marks that the quick reader does not give: hidden rows and error cells.
"""

from __future__ import annotations

import io
import posixpath
import re
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import IO, Any
from xml.etree import ElementTree

from pipeline.intake.spreadsheet.sheet import parse_column

CHUNK = 1 << 20


@dataclass(slots=True)
class PartScan:
    """What one sheet's part holds."""

    cells: int = 0
    rows: int = 0  # including empty ones
    last_row: int = 0
    last_column: int = 0
    in_order: bool = True  # rows are in ascending order, which the quick reader relies on
    formulas: bool = False
    merged: int = 0  # places that merged cells cover
    hidden: set[int] = field(default_factory=set)
    filter: tuple[int, int, bool] = (0, 0, False)  # first row (with the buttons), last row, whether it hides any
    errors: dict[tuple[int, int], str] = field(default_factory=dict)
    no_result: set[tuple[int, int]] = field(default_factory=set)


_MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_STRICT = "{http://purl.oclc.org/ooxml/spreadsheetml/main}"
_RELATED = (
    "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id",
    "{http://purl.oclc.org/ooxml/officeDocument/relationships}id",
)


def list_sheet_parts(data: bytes) -> dict[str, str]:
    """Sheet name → its part, in the order of the workbook, for .xlsx and .xlsb. Empty when it cannot be told."""
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        names = {name.lower(): name for name in packed.namelist()}
        book = next((n for n in names if n.endswith(("workbook.xml", "workbook.bin"))), None)
        if book is None:
            return {}
        folder, _, leaf = names[book].rpartition("/")
        rels = names.get(f"{folder}/_rels/{leaf}.rels".lower().lstrip("/"))
        if rels is None:
            return {}
        targets = {
            str(rel.get("Id")): posixpath.normpath(posixpath.join(folder, str(rel.get("Target", "")))).lstrip("/")
            if not str(rel.get("Target", "")).startswith("/")
            else str(rel.get("Target"))[1:]
            for rel in ElementTree.fromstring(packed.read(rels))
        }
        binary = book.endswith("bin")
        said = _read_sheets_bin(packed, names[book]) if binary else _read_sheets_xml(packed.read(names[book]))
        return {title: targets[key] for title, key in said if targets.get(key) in packed.namelist()}


def _read_sheets_xml(data: bytes) -> list[tuple[str, str]]:
    root = ElementTree.fromstring(data)
    out = []
    for space in (_MAIN, _STRICT):
        for sheet in root.iter(f"{space}sheet"):
            key = next((sheet.get(name) for name in _RELATED if sheet.get(name)), "")
            out.append((str(sheet.get("name", "")), str(key)))
    return out


# --- .xlsx ------------------------------------------------------------------------------------------------------

_PLACES = re.compile(rb'<(?:\w+:)?c\b[^>]*?\br="([A-Z]{1,3})(\d{1,10})"')
_CELLS = re.compile(rb"<(?:\w+:)?c[\s/>]")
_ROW = re.compile(rb"<(?:\w+:)?row[\s/>]")
_ROWS = re.compile(rb'<(?:\w+:)?row\b[^>]*?\br="(\d{1,9})"')
_HIDDEN = re.compile(rb'<(?:\w+:)?row\b(?=[^>]*?\bhidden="(?:1|true)")[^>]*?\br="(\d{1,9})"')
_ERRORS = re.compile(
    rb'<(?:\w+:)?c\b(?=[^>]*?\bt="e")[^>]*?\br="([A-Z]{1,3})(\d{1,9})"[^>]*>(?:<(?:\w+:)?f\b[^>]*(?:/>|>[^<]*</(?:\w+:)?f>))?'
    rb"<(?:\w+:)?v>([^<]*)"
)
_NO_RESULT = re.compile(
    rb'<(?:\w+:)?c\b[^>]*?\br="([A-Z]{1,3})(\d{1,9})"[^>]*><(?:\w+:)?f\b[^>]*(?:/>|>[^<]*</(?:\w+:)?f>)</(?:\w+:)?c>'
)
_FILTER = re.compile(
    rb'<(?:\w+:)?autoFilter\b[^>]*?\bref="\$?[A-Z]{1,3}\$?(\d{1,7}):\$?[A-Z]{1,3}\$?(\d{1,7})"[^>]*?'
    rb"(?:/>|>(.*?)</(?:\w+:)?autoFilter>)",
    re.S,
)
_MERGED = re.compile(rb'<(?:\w+:)?mergeCell\b[^>]*?\bref="([A-Z]{1,3})(\d{1,7}):([A-Z]{1,3})(\d{1,7})"')
_FORMULA = re.compile(rb"<(?:\w+:)?f[\s/>]")


def scan_xlsx(data: bytes, part: str) -> PartScan:
    """Read through one sheet's part once. Works on the bytes: no cell becomes an object."""
    seen = PartScan()
    before = every = 0
    with zipfile.ZipFile(io.BytesIO(data)) as packed, packed.open(part) as stream:
        for text in _read_whole_rows(stream):
            cells = len(_CELLS.findall(text))
            seen.cells += cells
            places = _PLACES.findall(text)
            for letters in {letters for letters, _ in places}:
                seen.last_column = max(seen.last_column, parse_column(letters.decode()) or 0)
            if len(places) < cells:  # count the cells that don't state their position
                most = max(len(_CELLS.findall(piece)) for piece in _ROW.split(text))
                seen.last_column = max(seen.last_column, most)
            for row in map(int, (row for _, row in places)):
                seen.in_order &= before <= row
                before = row
            seen.last_row = max(seen.last_row, before)
            every += len(_ROW.findall(text))
            numbers = _ROWS.findall(text)
            seen.rows += len(numbers)
            seen.last_row = max(seen.last_row, *map(int, numbers), every)
            seen.hidden |= {int(n) for n in _HIDDEN.findall(text)}
            for letters, row, value in _ERRORS.findall(text):
                seen.errors[int(row), parse_column(letters.decode()) or 0] = value.decode("utf-8", "replace")
            if found := _FILTER.search(text):
                seen.filter = (int(found[1]), int(found[2]), b"filterColumn" in (found[3] or b""))
            for left, top, right, bottom in _MERGED.findall(text):
                wide = (parse_column(right.decode()) or 0) - (parse_column(left.decode()) or 0) + 1
                seen.merged += wide * (int(bottom) - int(top) + 1)
            if _FORMULA.search(text):
                seen.formulas = True
                seen.no_result |= {(int(r), parse_column(c.decode()) or 0) for c, r in _NO_RESULT.findall(text)}
    return seen


def list_places(data: bytes, part: str) -> list[tuple[int, int]]:
    """Row and column of each cell of a sheet's part that says where it stands."""
    with zipfile.ZipFile(io.BytesIO(data)) as packed, packed.open(part) as stream:
        found = [place for text in _read_whole_rows(stream) for place in _PLACES.findall(text)]
    return [(int(row), parse_column(letters.decode()) or 0) for letters, row in found]


def _read_whole_rows(stream: IO[bytes]) -> Iterator[bytes]:
    """Pieces of the part that end where a row ends, or at its end."""
    held = b""
    while chunk := stream.read(CHUNK):
        held += chunk
        cut = held.rfind(b"<row") if b"<row" in held[1:] else held.rfind(b":row ")
        if cut > 0:
            cut = held.rfind(b"<", 0, cut + 1)
            yield held[:cut]
            held = held[cut:]
    if held:
        yield held


# --- .xlsb ------------------------------------------------------------------------------------------------------

_TEXT_IN_PLACE = 6
_WITHOUT_COLUMN = range(12, 19)
"""Records that the library does not know: BrtCellSt, and BrtShortBlank to BrtShortIsst, of [MS-XLSB] 2.4."""


def scan_xlsb(data: bytes, part: str) -> PartScan:
    """Read through one binary sheet once, with pyxlsb's reader of records. python-calamine gives error cells as empty
    and passes over cells that do not say their column: the first are found here, a sheet with the second is refused.

    ValueError for a sheet that cannot be read safely.
    """
    from pyxlsb import biff12
    from xlrd import error_text_from_code  # its table of error codes serves .xls and .xlsb

    seen = PartScan()
    row = 0
    for kind, record in _read_records(data, part):
        if kind == biff12.SHEETDATA_END:
            break
        if kind == biff12.ROW:
            if record.r is None:
                raise ValueError("a row is cut short")
            seen.in_order &= record.r >= row
            row = record.r + 1
        elif kind in _WITHOUT_COLUMN:
            raise ValueError("its cells don't say which column they are in")
        elif biff12.BLANK <= kind <= biff12.FORMULA_BOOLERR:
            if record.c is None:
                raise ValueError("a cell is cut short")
            seen.cells += 1
            if kind != biff12.BLANK:
                seen.last_row, seen.last_column = max(seen.last_row, row), max(seen.last_column, record.c + 1)
            if kind in (biff12.BOOLERR, biff12.FORMULA_BOOLERR):
                seen.errors[row, record.c + 1] = error_text_from_code.get(int(record.v, 16), "#ERROR")
    return seen


def _read_sheets_bin(packed: zipfile.ZipFile, part: str) -> list[tuple[str, str]]:
    from pyxlsb import biff12

    return [(record.name, record.rId) for kind, record in _read_records(packed, part) if kind == biff12.SHEET]


def _read_records(packed: bytes | zipfile.ZipFile, part: str) -> Iterator[tuple[int, Any]]:
    """The records of a binary part, by kind."""
    from pyxlsb import BIFF12Reader, Handler
    from pyxlsb.handlers import CellHandler

    class WithoutColumn(Handler):  # type: ignore[misc]
        def read(self, reader: Any, recid: int, reclen: int) -> int:
            return reclen

    if isinstance(packed, bytes):
        with zipfile.ZipFile(io.BytesIO(packed)) as opened:
            content = opened.read(part)
    else:
        content = packed.read(part)
    reader = BIFF12Reader(io.BytesIO(content))
    more = {_TEXT_IN_PLACE: CellHandler(), **dict.fromkeys(_WITHOUT_COLUMN, WithoutColumn())}
    reader.handlers = {**reader.handlers, **more}
    yield from reader
