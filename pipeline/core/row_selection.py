"""Numbers named on the command line, of the rows of a list and the like: `4-20,31`."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.core.errors import CannotRun, Fault
from pipeline.core.short_codes import sha256_of, short_code

LONGEST = 40
"""Characters of the rows in a file's name, and of what is shown of rows that cannot be read."""
DIGITS = 9
"""Of a row's number at most: more than any sheet has rows."""


@dataclass(frozen=True, slots=True)
class RowSelection:
    """Row numbers as the spreadsheet shows them, in ranges with both ends included."""

    ranges: tuple[tuple[int, int], ...]

    def __contains__(self, row: object) -> bool:
        return isinstance(row, int) and any(low <= row <= high for low, high in self.ranges)

    def __str__(self) -> str:
        return ",".join(str(low) if low == high else f"{low}-{high}" for low, high in self.ranges)

    @property
    def file_name(self) -> str:
        """`4-20_31`: the rows as part of a file's name; of many ranges the first ones and a code for all of them."""
        told = str(self).replace(",", "_")
        if len(told) <= LONGEST:
            return told
        return f"{told[:LONGEST].rpartition('_')[0]}_{short_code(sha256_of(str(self)), 6)}"


def parse_rows(
    text: str, where: str = "--rows", expected: str = "rows as the list shows them, e.g. 4-20,31"
) -> RowSelection:
    """The rows in their order, each once. CannotRun says which part could not be read. where: the option that named
    them; expected: what it takes."""
    ranges: list[tuple[int, int]] = []
    for part in text.replace("–", "-").split(","):
        ends = [end.strip() for end in part.split("-")]
        known = len(ends) <= 2 and all(end.isdecimal() and len(end) <= DIGITS for end in ends)
        if not known or int(ends[0]) > int(ends[-1]):
            raise CannotRun(
                Fault(
                    where=where,
                    found=f"“{part.strip()[:LONGEST]}”",
                    expected=expected,
                )
            )
        ranges.append((int(ends[0]), int(ends[-1])))
    joined: list[tuple[int, int]] = []
    for low, high in sorted(ranges):
        if joined and low <= joined[-1][1] + 1:
            joined[-1] = (joined[-1][0], max(high, joined[-1][1]))
        else:
            joined.append((low, high))
    return RowSelection(tuple(joined))
