"""How a row of the client's lists is named: `12` for one of the order's first list, `late-names.xlsx!12` for one of a
further list. A row of the first list is a plain number, so that nothing of an order changes when a list is added.

A file's name that could be misread (with a comma, an exclamation mark, an apostrophe, a space at an end, or a hyphen at
the beginning, as an option has it) stands in apostrophes, its own apostrophes twice: `'Smith, late.xlsx'!12`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any, TypeAlias

DIGITS = 9
"""Of a row's number at most: more than any sheet has rows."""
_ODD = re.compile(r"[,!'\"\x00-\x1f]|^\s|\s$|^$|^-")
_NAMED = re.compile(rf"(?P<file>'(?:[^']|'')+'|[^,!']+)!(?P<number>[0-9]{{1,{DIGITS}}})")


@dataclass(frozen=True, slots=True)
class FurtherRow:
    """A row of one of the order's further lists. file: as the order names it. Such rows come after all rows of the
    first list, those of several lists by the names of their files."""

    file: str
    number: int  # as the spreadsheet shows it

    def __str__(self) -> str:
        return name_in_list(self.file, str(self.number))

    def __format__(self, spec: str) -> str:
        return format(str(self), spec)

    def __lt__(self, other: object) -> bool:
        return _place(self) < _place(other) if isinstance(other, int | FurtherRow) else NotImplemented

    def __le__(self, other: object) -> bool:
        return _place(self) <= _place(other) if isinstance(other, int | FurtherRow) else NotImplemented

    def __gt__(self, other: object) -> bool:
        return _place(self) > _place(other) if isinstance(other, int | FurtherRow) else NotImplemented

    def __ge__(self, other: object) -> bool:
        return _place(self) >= _place(other) if isinstance(other, int | FurtherRow) else NotImplemented


ListRow: TypeAlias = int | FurtherRow
"""A row of the first list, as the spreadsheet shows it, or one of a further list. 0: no row."""


def _place(row: ListRow) -> tuple[str, int]:
    return (row.file, row.number) if isinstance(row, FurtherRow) else ("", row)


def build_list_row(file: str, number: int) -> ListRow:
    """Build the row of a list. file: empty for the first one."""
    return FurtherRow(file, number) if file else number


def get_row_file(row: ListRow) -> str:
    """Return the further list that a row is in; empty for the first list."""
    return row.file if isinstance(row, FurtherRow) else ""


def get_row_number(row: ListRow) -> int:
    """Return the row's number in its own list."""
    return row.number if isinstance(row, FurtherRow) else row


def name_in_list(file: str, place: str) -> str:
    """Name a row, rows or a cell of a list: `late-names.xlsx!B14`. file: empty for the first list."""
    if not file:
        return place
    quoted = file.replace("'", "''")
    return f"'{quoted}'!{place}" if _ODD.search(file) else f"{file}!{place}"


def unquote_file(text: str) -> str:
    """Return the file's name from what `name_in_list` wrote before the exclamation mark."""
    return text[1:-1].replace("''", "'") if len(text) > 1 and text[0] == text[-1] == "'" else text


def pack_row(row: ListRow) -> int | str:
    """Return a row as JSON and workbooks hold it: a number, or the text of a row of a further list."""
    return row if isinstance(row, int) else str(row)


def pack_rows(rows: Iterable[ListRow]) -> list[int | str]:
    """Return several rows as `pack_row` does one."""
    return [pack_row(row) for row in rows]


def unpack_row(value: Any) -> ListRow:
    """Return the row from what `pack_row` wrote. ValueError for anything else."""
    if type(value) is int and value >= 0:
        return value
    row = parse_row(value) if type(value) is str else None
    if not isinstance(row, FurtherRow):
        raise ValueError(f"no row of a list: {str(value)[:60]!r}")
    return row


def parse_row(text: str) -> ListRow | None:
    """Parse `12` or `late-names.xlsx!12`; None for anything else."""
    if text.isascii() and text.isdecimal() and len(text) <= DIGITS:
        return int(text)
    found = _NAMED.fullmatch(text)
    return FurtherRow(unquote_file(found["file"]), int(found["number"])) if found else None


def group_row_spans(rows: Iterable[ListRow]) -> list[tuple[ListRow, ListRow]]:
    """Group rows into spans, first and last, of those that follow each other in one list; in order, each row once."""
    out: list[tuple[ListRow, ListRow]] = []
    for row in sorted(set(rows)):
        if out and row == get_next_row(out[-1][1]):
            out[-1] = (out[-1][0], row)
        else:
            out.append((row, row))
    return out


def get_next_row(row: ListRow) -> ListRow:
    """Return the next row of the same list."""
    return replace(row, number=row.number + 1) if isinstance(row, FurtherRow) else row + 1


def find_row_of_cell(cell: str) -> ListRow:
    """Find the row of a cell as `name_in_list` names it: `late-names.xlsx!B14` → that file's row 14; 0: it names
    none."""
    file, _, address = cell.rpartition("!")
    digits = "".join(c for c in address if c.isdigit())
    return build_list_row(unquote_file(file), int(digits or 0))
