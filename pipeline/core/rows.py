"""Rows of a list named on the command line: `4-20,31`."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.core.errors import CannotRun, Fault


@dataclass(frozen=True, slots=True)
class Rows:
    """Row numbers as the spreadsheet shows them, in ranges with both ends included."""

    ranges: tuple[tuple[int, int], ...]

    def __contains__(self, row: object) -> bool:
        return isinstance(row, int) and any(low <= row <= high for low, high in self.ranges)


def read_rows(text: str) -> Rows:
    """CannotRun says which part could not be read."""
    ranges = []
    for part in text.replace("–", "-").split(","):
        ends = [end.strip() for end in part.split("-")]
        if not all(end.isdecimal() for end in ends) or len(ends) > 2 or int(ends[0]) > int(ends[-1]):
            raise CannotRun(
                Fault(where="--rows", found=f"“{part.strip()}”", expected="rows as the list shows them, e.g. 4-20,31")
            )
        ranges.append((int(ends[0]), int(ends[-1])))
    return Rows(tuple(ranges))
