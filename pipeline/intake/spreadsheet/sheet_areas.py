"""Parts of a sheet: `[list] area` takes one list of several, and what stands beside the list that is read is found."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from pipeline.core.errors import CannotRun, Fault
from pipeline.intake.recipients.header_row import Header, guess_header, read_headers
from pipeline.intake.recipients.headings import fold_heading
from pipeline.intake.spreadsheet.sheet import Row, Sheet, format_column, parse_column

LAST_ROW, LAST_COLUMN = 1_048_576, 16_384
"""The most a spreadsheet has (published limits of the .xlsx format's programs)."""

MOST_BLOCKS = 12
"""More groups of columns than this on one sheet are a form, not lists."""

_AREA = re.compile(r"\s*\$?([A-Za-z]{1,3})\$?(\d{1,7})?\s*:\s*\$?([A-Za-z]{1,3})\$?(\d{1,7})?\s*")


@dataclass(frozen=True, slots=True)
class SheetArea:
    """Cells from one corner to the other, both included."""

    top: int
    left: int
    bottom: int
    right: int

    def __str__(self) -> str:
        last = "" if self.bottom == LAST_ROW else str(self.bottom)
        return f"{format_column(self.left)}{self.top}:{format_column(self.right)}{last}"

    def holds(self, row: int, column: int) -> bool:
        return self.top <= row <= self.bottom and self.left <= column <= self.right


def parse_area(text: str) -> SheetArea | None:
    """`A3:C40`; `A3:C` goes on to the end of the sheet, `A:C` has whole columns. None when it is not so written."""
    found = _AREA.fullmatch(text)
    if not found:
        return None
    left, right = parse_column(found[1]) or 0, parse_column(found[3]) or 0
    top, bottom = int(found[2] or 1), int(found[4] or LAST_ROW)
    if not (0 < left <= right <= LAST_COLUMN and 0 < top <= bottom <= LAST_ROW):
        return None
    return SheetArea(top, left, bottom, right)


def parse_areas(value: str | Sequence[str] | None) -> tuple[SheetArea, ...]:
    """The areas an order names. CannotRun for one that cannot be read."""
    texts = [] if value is None else [value] if isinstance(value, str) else list(value)
    for fault in list_area_faults(value, "[list] area"):
        raise CannotRun(fault)
    return tuple(area for text in texts if (area := parse_area(text)) is not None)


def list_area_faults(value: str | Sequence[str] | None, where: str) -> Iterator[Fault]:
    """List what is wrong with the order's `area`."""
    texts = [] if value is None else [value] if isinstance(value, str) else list(value)
    read: list[SheetArea] = []
    for text in texts:
        area = parse_area(text)
        if area is None:
            yield Fault(where=where, found=f"“{text}”", expected='corner and corner, e.g. area = "A3:C40", or "A3:C"')
            continue
        beside = next((other for other in read if other.top <= area.bottom and area.top <= other.bottom), None)
        if beside is not None:
            yield Fault(
                where=where,
                found=f"“{beside}” and “{area}” share rows",
                expected="areas one below the other: a plaque is known by its row",
                remedy="read the second list in an order of its own: `plaques start LIST --area … --in …`",
            )
        read.append(area)


def clip_rows(sheet: Sheet, areas: Sequence[SheetArea]) -> Sheet:
    """The sheet with the cells of the areas alone; the sheet itself when there are none."""
    if not areas:
        return sheet
    rows = []
    for row in sheet.rows:
        here = [area for area in areas if area.top <= row.number <= area.bottom]
        cells = tuple(cell for cell in row.cells if any(area.left <= cell.column <= area.right for area in here))
        if cells:
            rows.append(row if len(cells) == len(row.cells) else dataclasses.replace(row, cells=cells))
    merged = tuple(m for m in sheet.merged if any(area.holds(m[0], m[1]) for area in areas))
    return dataclasses.replace(sheet, rows=tuple(rows), merged=merged, _at={})


@dataclass(frozen=True, slots=True)
class NeighbouringList:
    """Another list on the same sheet, in columns that the one being read does not use."""

    area: SheetArea
    head: Header
    names: int  # rows below its header whose name column is filled


def find_lists_beside(sheet: Sheet, name: Sequence[int], header: int) -> list[NeighbouringList]:
    """Lists that stand beside the one whose names are in the columns `name`, from the left."""
    out = []
    blocks = _list_blocks(sheet, header)
    for left, right in blocks if len(blocks) <= MOST_BLOCKS else ():
        if any(left <= column <= right for column in name):
            continue
        part = clip_rows(sheet, [SheetArea(1, left, LAST_ROW, right)])
        guess = guess_header(part)
        if guess.head is None or not guess.sure:
            continue
        below = [row for row in part.rows if row.number > guess.head.last]
        names = sum(any(row.find_cell(c) is not None for c in guess.keys["name"]) for row in below)
        if names > 1:
            out.append(NeighbouringList(SheetArea(guess.head.first, left, LAST_ROW, right), guess.head, names))
    return out


def find_block_around(sheet: Sheet, used: Sequence[int], header: int) -> tuple[int, int]:
    """First and last column of the list whose columns are `used`."""
    blocks = _list_blocks(sheet, header)
    own = [block for block in blocks if any(block[0] <= column <= block[1] for column in used)]
    return (min(b[0] for b in own), max(b[1] for b in own)) if own else (min(used), max(used))


def _list_blocks(sheet: Sheet, header: int) -> list[tuple[int, int]]:
    """Columns that stand together: parted by a column without content, or where the headings begin anew."""
    rows: list[Row] = [row for row in sheet.rows if row.number >= header]
    columns = sorted({cell.column for row in rows for cell in row.cells if cell.shown.strip()})
    head = next((row for row in rows if row.number == header), None)
    heads = {column: fold_heading(text) for column, text in read_headers(head).items()} if head is not None else {}
    blocks: list[list[int]] = []
    begun = ""
    for column in columns:
        text = heads.get(column, "")
        if (
            not blocks
            or column > blocks[-1][-1] + 1
            or (text and text == begun and _is_repeated(heads, blocks[-1], column))
        ):
            blocks.append([])
            begun = ""
        begun = begun or text
        blocks[-1].append(column)
    return [(block[0], block[-1]) for block in blocks]


def _is_repeated(heads: dict[int, str], block: Sequence[int], column: int) -> bool:
    """Return whether two headings or more of a block come again, in their order, from this column on."""
    before = [heads[c] for c in block if c in heads]
    after = [heads[c] for c in sorted(heads) if c >= column][: len(before)]
    return len(before) > 1 and before == after
