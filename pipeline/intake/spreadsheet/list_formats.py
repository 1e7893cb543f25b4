"""The formats of a client's list.

A format is one entry of `FORMATS`: its suffixes, how it is recognised, its reader, and the marks that the reader can't
see.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from pipeline.intake.spreadsheet.container import Container
from pipeline.intake.spreadsheet.sheet import ReadOptions, Sheet

Reader = Callable[[Path, bytes, str, ReadOptions], Sheet]
"""(file, its bytes, their SHA-256, what the order says) → the sheet; CannotRun for a file that cannot be read."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ListFormat:
    """One kind of file. The content decides, not the suffix, unless `by_ending`."""

    suffixes: tuple[str, ...]
    recognise: Callable[[Container], bool]
    read: Reader
    by_ending: bool = False  # recognised by suffix only, because any bytes may be text
    own_reader: bool = False  # our own code reads it in this process; libraries run in a separate one
    unread: tuple[str, ...] = ()  # marks that are lost, in words: reported once per list


def _read_workbook(path: Path, data: bytes, sha256: str, how: ReadOptions) -> Sheet:
    from pipeline.intake.spreadsheet.xlsx import read_workbook

    return read_workbook(path, data, sha256, how)


def _read_binary_workbook(path: Path, data: bytes, sha256: str, how: ReadOptions) -> Sheet:
    from pipeline.intake.spreadsheet.values_only import read_binary_workbook

    return read_binary_workbook(path, data, sha256, how)


def _read_old_workbook(path: Path, data: bytes, sha256: str, how: ReadOptions) -> Sheet:
    from pipeline.intake.spreadsheet.xls import read_xls

    return read_xls(path, data, sha256, how)


def _read_open_document(path: Path, data: bytes, sha256: str, how: ReadOptions) -> Sheet:
    from pipeline.intake.spreadsheet.opendocument import read_ods

    return read_ods(path, data, sha256, how)


def _read_text(path: Path, data: bytes, sha256: str, how: ReadOptions) -> Sheet:
    from pipeline.intake.spreadsheet.delimited_text import read_delimited

    return read_delimited(path, data, sha256, how)


FORMATS: tuple[ListFormat, ...] = (
    ListFormat(
        suffixes=(".xlsx", ".xlsm"),
        recognise=lambda file: file.has_part("workbook.xml"),
        read=_read_workbook,
    ),
    ListFormat(
        suffixes=(".xlsb",),
        recognise=lambda file: file.has_part("workbook.bin"),
        read=_read_binary_workbook,
        unread=("hidden rows", "merged cells"),  # in addition to what every values-only reader misses
    ),
    ListFormat(
        suffixes=(".xls",),
        recognise=lambda file: file.kind == "old office",
        read=_read_old_workbook,
    ),
    ListFormat(
        suffixes=(".ods",),
        recognise=lambda file: b"opendocument" in file.mimetype,
        read=_read_open_document,
    ),
    ListFormat(
        suffixes=(".csv", ".tsv", ".tab", ".txt"),
        recognise=lambda file: file.kind == "plain",
        read=_read_text,
        by_ending=True,
        own_reader=True,
    ),
)

LIST_SUFFIXES: tuple[str, ...] = tuple(suffix for each in FORMATS for suffix in each.suffixes)


def find_format(path: Path, file: Container) -> ListFormat | None:
    """Return the format of a list; None for any other file."""
    fitting = (each for each in FORMATS if each.recognise(file))
    return next((each for each in fitting if not each.by_ending or path.suffix.lower() in each.suffixes), None)
