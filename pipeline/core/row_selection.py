"""Numbers named on the command line, of the rows of a list and the like: `4-20,31,late-names.xlsx!3-7`."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from pipeline.core.errors import CannotRun, Fault
from pipeline.core.list_row import (
    DIGITS,
    ListRow,
    build_list_row,
    get_row_file,
    get_row_number,
    group_row_spans,
    name_in_list,
    unquote_file,
)
from pipeline.core.short_codes import build_short_code, hash_values

LONGEST = 40
"""Characters of the rows in a file's name, and of what is shown of rows that cannot be read."""
EXPECTED = "rows as the list shows them, e.g. 4-20,31; of a further list with its file, late-names.xlsx!3-7"
_COMMA = re.compile(r",(?=(?:[^']*'[^']*')*[^']*$)")
"""One that stands outside apostrophes."""
_PART = re.compile(r"\s*(?:(?P<file>'(?:[^']|'')+'|[^,!']+)!)?\s*(?P<low>\d+)\s*(?:[-–]\s*(?P<high>\d+)\s*)?")
_PLAIN_FILE = re.compile(r"[A-Za-z][A-Za-z0-9.-]*\.[A-Za-z]+")


@dataclass(frozen=True, slots=True)
class RowSelection:
    """Rows as the spreadsheets show them, in ranges with both ends included, each within one list."""

    ranges: tuple[tuple[ListRow, ListRow], ...]

    def __contains__(self, row: ListRow | None) -> bool:
        return row is not None and any(low <= row <= high for low, high in self.ranges)

    def __str__(self) -> str:
        return ",".join(self.told)

    @property
    def told(self) -> tuple[str, ...]:
        """Each range as it is written: `4-20`, `31`, `late-names.xlsx!3-7`."""
        return tuple(
            str(low)
            if low == high
            else name_in_list(get_row_file(low), f"{get_row_number(low)}-{get_row_number(high)}")
            for low, high in self.ranges
        )

    @property
    def files(self) -> tuple[str, ...]:
        """The further lists that are named."""
        return tuple(dict.fromkeys(filter(None, (get_row_file(low) for low, _ in self.ranges))))

    @property
    def file_name(self) -> str:
        """`4-20_31`: the rows as part of a file's name; of many ranges, or of a list whose file has an odd name, the
        first characters and a code for all of them."""
        told = str(self).replace(",", "_").replace("!", "_")
        if len(told) <= LONGEST and all(_PLAIN_FILE.fullmatch(file) for file in self.files):
            return told
        if self.files:
            told = re.sub(r"[^A-Za-z0-9._-]+", "-", told)
        return f"{told[:LONGEST].rpartition('_')[0]}_{build_short_code(hash_values(str(self)), 6)}"


def parse_rows(text: str, where: str = "--rows", expected: str = EXPECTED, *, lists: bool = True) -> RowSelection:
    """Parse the rows, ascending, each once. CannotRun says which part could not be read. where: the option that named
    them; expected: what it takes; lists: whether rows of further lists may be among them."""
    ranges: list[tuple[ListRow, ListRow]] = []
    for part in _COMMA.split(text):
        found = _PART.fullmatch(part)
        numbers = (found["low"], found["high"] or found["low"]) if found else ("", "")
        known = found is not None and all(len(n) <= DIGITS for n in numbers) and int(numbers[0]) <= int(numbers[1])
        if found is None or not known or (found["file"] and not lists):
            raise CannotRun(Fault(where=where, found=f"“{part.strip()[:LONGEST]}”", expected=expected))
        file = unquote_file((found["file"] or "").strip())
        ranges.append((build_list_row(file, int(numbers[0])), build_list_row(file, int(numbers[1]))))
    joined: list[tuple[ListRow, ListRow]] = []
    for low, high in sorted(ranges):
        before = joined[-1] if joined else None
        if (
            before
            and get_row_file(before[1]) == get_row_file(low)
            and get_row_number(low) <= get_row_number(before[1]) + 1
        ):
            joined[-1] = (before[0], max(high, before[1]))
        else:
            joined.append((low, high))
    return RowSelection(tuple(joined))


def build_selection(rows: Iterable[ListRow]) -> RowSelection:
    """Build a selection of exactly these rows."""
    return RowSelection(tuple(group_row_spans(rows)))


def require_known_lists(chosen: RowSelection, further: Sequence[str], where: str = "--rows") -> None:
    """CannotRun when rows of a list are named that is none of the order's. further: its further lists."""
    unknown = [file for file in chosen.files if file not in further]
    if unknown:
        known = f"a further list of the order ({', '.join(further)})" if further else "row numbers alone"
        remedy = "further lists are named under `more` in [list]; rows of the first list are numbers alone"
        raise CannotRun(Fault(where=where, found=f"“{unknown[0]}” is no further list", expected=known, remedy=remedy))
