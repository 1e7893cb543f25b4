"""Reading one sheet of a client's file, whatever kind of file it is."""

from __future__ import annotations

import dataclasses
import hashlib
from pathlib import Path

from pipeline.core.config.order import ListLimits
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.storage.door import Bounds, read_apart
from pipeline.core.storage.files import read_plain, require_plain_file
from pipeline.intake.spreadsheet.container import Kind, detect_container, refuse_entities
from pipeline.intake.spreadsheet.list_formats import LIST_SUFFIXES, find_format
from pipeline.intake.spreadsheet.list_limits import build_limit_error, measure_sheet
from pipeline.intake.spreadsheet.sheet import ReadOptions, Sheet

NOT_A_LIST: dict[Kind, str] = {
    "old office": "this is an office document, but no workbook",
    "pdf": "this is a PDF",
    "packed": "this is a packed file, but no workbook",
    "markup": "this is a web page or XML with another ending",
    "plain": "this isn't a workbook, whatever its file name says",
}
BOUNDS = Bounds(seconds=180, memory_mb=1500, answer_mb=512)
"""For the largest list that the limits allow; text is read here, by code that is ours."""


def read_sheet(path: Path, how: ReadOptions | None = None) -> Sheet:
    """Read one sheet of a list: the named one, or the first visible one. The file is only ever opened for reading.

    What the file really is decides, not its ending, except that text is only read from a file that says it is text.
    CannotRun says what is the matter with a file that cannot be read.
    """
    how = how or ReadOptions()
    return measure_sheet(_read(path, how), how.limits)


def _read(path: Path, how: ReadOptions) -> Sheet:
    data = read_file_bytes(path, how.limits)
    sha256 = hashlib.sha256(data).hexdigest()
    file = detect_container(path, data, how.limits)
    found = find_format(path, file)
    if found is None:
        raise CannotRun(
            Fault(
                where=str(path),
                found=NOT_A_LIST[file.kind],
                expected=f"a spreadsheet, or text in columns ({' '.join(LIST_SUFFIXES)})",
                remedy="save the list as .xlsx from the program it was made with",
            )
        )
    if file.kind == "packed":
        refuse_entities(path, data)
    if found.own_reader:
        sheet = found.read(path, data, sha256, how)
    else:
        sheet = read_apart(found.read, path, data, sha256, how, where=path, bounds=BOUNDS)
    return dataclasses.replace(sheet, unread=sheet.unread + found.unread) if found.unread else sheet


def read_file_bytes(path: Path, limits: ListLimits | None = None) -> bytes:
    """The file, whole. CannotRun when it is missing, empty, a folder, too large or may not be read."""
    try:
        if path.exists():
            require_plain_file(path, "the client's list")
        size = path.stat().st_size
        limits = limits or ListLimits()
        if size > limits.file_mb * 2**20:
            raise build_limit_error(path, "file_mb", f"the file has {size / 2**20:.1f} MB", limits)
        data = read_plain(path)
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
