"""A glance into the packed parts of .xlsx and .xlsb files, before a library builds anything from them.

It finds how many cells there are and how far apart (so that nothing is built that memory cannot hold), and in large
sheets the marks that the quick reader does not give: hidden rows and error cells.
"""

from __future__ import annotations

import io
import posixpath
import re
import struct
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import IO
from xml.etree import ElementTree

from pipeline.intake.spreadsheet.sheet import column_index

CHUNK = 1 << 20


@dataclass(slots=True)
class PartScan:
    """What one sheet's part holds."""

    cells: int = 0
    rows: int = 0  # with or without cells
    last_row: int = 0
    last_column: int = 0
    in_order: bool = True  # rows one after another: the quick reader takes it for granted
    formulas: bool = False
    short: bool = False  # .xlsb: cells that do not say their column
    hidden: set[int] = field(default_factory=set)
    filter: tuple[int, int, bool] = (0, 0, False)  # first row, with the buttons; last row; whether it hides anything
    errors: dict[tuple[int, int], str] = field(default_factory=dict)
    no_result: set[tuple[int, int]] = field(default_factory=set)


_MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_STRICT = "{http://purl.oclc.org/ooxml/spreadsheetml/main}"
_RELATED = (
    "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id",
    "{http://purl.oclc.org/ooxml/officeDocument/relationships}id",
)


def sheet_parts(data: bytes) -> dict[str, str]:
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
        said = _sheets_xml(packed.read(names[book])) if book.endswith("xml") else _sheets_bin(packed.read(names[book]))
        return {title: targets[key] for title, key in said if targets.get(key) in packed.namelist()}


def _sheets_xml(data: bytes) -> list[tuple[str, str]]:
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
_FORMULA = re.compile(rb"<(?:\w+:)?f[\s/>]")


def scan_xlsx(data: bytes, part: str) -> PartScan:
    """Read through one sheet's part once. Works on the bytes: no cell becomes an object."""
    seen = PartScan()
    before = every = 0
    with zipfile.ZipFile(io.BytesIO(data)) as packed, packed.open(part) as stream:
        for text in _whole_rows(stream):
            cells = len(_CELLS.findall(text))
            seen.cells += cells
            places = _PLACES.findall(text)
            for letters in {letters for letters, _ in places}:
                seen.last_column = max(seen.last_column, column_index(letters.decode()) or 0)
            if len(places) < cells:  # cells that do not say where they stand are counted
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
                seen.errors[int(row), column_index(letters.decode()) or 0] = value.decode("utf-8", "replace")
            if found := _FILTER.search(text):
                seen.filter = (int(found[1]), int(found[2]), b"filterColumn" in (found[3] or b""))
            if _FORMULA.search(text):
                seen.formulas = True
                seen.no_result |= {(int(r), column_index(c.decode()) or 0) for c, r in _NO_RESULT.findall(text)}
    return seen


def places_in(data: bytes, part: str) -> list[tuple[int, int]]:
    """Row and column of each cell of a sheet's part that says where it stands."""
    with zipfile.ZipFile(io.BytesIO(data)) as packed, packed.open(part) as stream:
        found = [place for text in _whole_rows(stream) for place in _PLACES.findall(text)]
    return [(int(row), column_index(letters.decode()) or 0) for letters, row in found]


def _whole_rows(stream: IO[bytes]) -> Iterator[bytes]:
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

_BRT_ROW, _BRT_END, _BRT_SHEET = 0, 146, 156
_BRT_ERRORS = (3, 11)  # a cell with an error, a formula with one
_ERROR_WORDS = {0: "#NULL!", 7: "#DIV/0!", 15: "#VALUE!", 23: "#REF!", 29: "#NAME?", 36: "#NUM!", 42: "#N/A"}
"""[MS-XLSB] 2.4 and 2.5.97.2, from memory; the tests hold them against a file of another program."""


def _records(data: bytes) -> Iterator[tuple[int, bytes]]:
    """The records of a binary part: kind and content. Stops at the first that is cut off."""
    at, end = 0, len(data)
    while at < end:
        kind = data[at]
        at += 1
        if kind & 0x80 and at < end:
            kind = (kind & 0x7F) | (data[at] << 7)
            at += 1
        size = shift = 0
        while at < end and shift < 28:
            byte = data[at]
            at += 1
            size |= (byte & 0x7F) << shift
            shift += 7
            if not byte & 0x80:
                break
        if at + size > end:
            return
        yield kind, data[at : at + size]
        at += size


def scan_xlsb(data: bytes, part: str) -> PartScan:
    """Read through one binary sheet once."""
    seen = PartScan()
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        content = packed.read(part)
    row = column = 0
    for short_kind, short_body in _records(content):
        kind, body = _whole(short_kind, short_body, column)
        seen.short |= kind != short_kind
        if kind == _BRT_END:
            break
        if kind == _BRT_ROW:
            if len(body) < 12:
                raise ValueError("a row is cut short")
            seen.in_order &= struct.unpack_from("<I", body)[0] >= row
            row = struct.unpack_from("<I", body)[0] + 1
            column = 0
            if body[11] & 0x10:
                seen.hidden.add(row)
        elif 1 <= kind <= 11:
            if len(body) < 8:
                raise ValueError("a cell is cut short")
            column = struct.unpack_from("<I", body)[0] + 1
            seen.cells += 1
            if kind > 1:  # 1 is a blank with a style
                seen.last_row, seen.last_column = max(seen.last_row, row), max(seen.last_column, column)
            if kind in _BRT_ERRORS and len(body) >= 9:
                seen.errors[row, column] = _ERROR_WORDS.get(body[8], "#ERROR")
    return seen


def _whole(kind: int, body: bytes, column: int) -> tuple[int, bytes]:
    """A cell's record in its full form. Records 12 to 18 leave the column out: it is the one after the last."""
    if 12 <= kind <= 18 and len(body) >= 4:
        return kind - 11, struct.pack("<I", column) + body
    return kind, body


def _number(value: int, most: int) -> bytes:
    """A record's kind or size: seven bits a byte, the eighth says that there are more."""
    out = bytearray()
    for _ in range(most):
        out.append(value & 0x7F | (0x80 if value > 0x7F else 0))
        value >>= 7
        if not value:
            break
    return bytes(out)


def close_open_cells(data: bytes, part: str) -> bytes:
    """The file with every cell of one sheet saying its column: the quick reader passes over those that do not."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            content = old.read(name)
            if name == part:
                records, column = bytearray(), 0
                for short_kind, short_body in _records(content):
                    kind, body = _whole(short_kind, short_body, column)
                    if kind == _BRT_ROW:
                        column = 0
                    elif 1 <= kind <= 11 and len(body) >= 4:
                        column = struct.unpack_from("<I", body)[0] + 1
                    # a kind keeps the high bit of its first byte in the number itself
                    head = bytes([kind]) if kind < 0x80 else bytes([kind & 0x7F | 0x80, kind >> 7])
                    records += head + _number(len(body), 4) + body
                content = bytes(records)
            new.writestr(name, content)
    return out.getvalue()


def _sheets_bin(data: bytes) -> list[tuple[str, str]]:
    out = []
    for kind, body in _records(data):
        if kind == _BRT_SHEET and len(body) > 16:
            count = struct.unpack_from("<I", body, 8)[0]
            key = body[12 : 12 + 2 * count].decode("utf-16-le", "replace")
            at = 12 + 2 * count
            if at + 4 > len(body):
                continue
            length = struct.unpack_from("<I", body, at)[0]
            out.append((body[at + 4 : at + 4 + 2 * length].decode("utf-16-le", "replace"), key))
    return out
