"""The surroundings of a list: other sheets, other lists, hidden columns, cells merged over several rows."""

from __future__ import annotations

import dataclasses
import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from pipeline.core.catalogue import list_kinds, sheet_kinds
from pipeline.core.config.order import ListConfig
from pipeline.core.findings import Fact, Finding, build_finding
from pipeline.core.model import RowOutcome
from pipeline.intake.names.wording import shorten
from pipeline.intake.recipients.header_guess import is_heading_word, is_name, is_title
from pipeline.intake.recipients.header_row import ColumnMap
from pipeline.intake.spreadsheet.sheet import Row, Sheet, format_column
from pipeline.intake.spreadsheet.sheet_areas import SheetArea, find_lists_beside

MOST_LOOKED_AT = 300
"""Rows that are examined for names in unused columns."""


def check_surroundings(sheet: Sheet, columns: ColumnMap, part: ListConfig) -> tuple[list[Finding], frozenset[int]]:
    """Report what else the file holds, and what this reader can't see; return the columns of neighbouring lists."""
    out = list(sheet.findings)
    if part.guessed:
        out.append(build_finding(list_kinds.GUESSED, facts={"guess": guess_in_words(sheet, columns, part)}))
    facts: dict[str, Fact]
    if sheet.unread:
        out.append(
            build_finding(sheet_kinds.MARKS_UNSEEN, facts={"reader": sheet.read_by, "unread": list_few(sheet.unread)})
        )
    if sheet.others:
        pages = list_few([name_sheet(*other) for other in sheet.others])
        out.append(build_finding(sheet_kinds.OTHER_SHEETS, facts={"sheet": sheet.name, "others": pages}))
    used = {column for where in columns.at.values() for column in where}
    theirs: set[int] = set()
    for other in (
        find_lists_beside(sheet, columns.at.get("name", sorted(used)), columns.header) if not part.area else ()
    ):
        theirs |= {*range(other.area.left, other.area.right + 1)}
        text = shorten(" · ".join(" ".join(text.split()) for text in other.head.heads.values()))
        facts = {"area": str(other.area), "text": text, "count": other.names}
        out.append(build_finding(list_kinds.BESIDE, row=other.head.last, facts=facts))
    first = columns.first or columns.header
    heads = {cell.column for row in sheet.rows if first <= row.number <= columns.header for cell in row.cells}
    if unused := find_unused_names(sheet, used | heads | theirs, columns.header):
        cells = (cell for row in sheet.rows for cell in row.cells if cell.column in unused)
        some = ", ".join(f"“{shorten(cell.shown, 40)}”" for cell in itertools.islice(cells, 3))
        facts = {"columns": list_few([format_column(column) for column in unused]), "names": some}
        out.append(build_finding(list_kinds.NAMES_UNUSED, facts=facts))
    filtered = [row.number for row in sheet.rows if row.filtered and row.number > columns.header]
    if filtered and part.hidden == "ask":
        facts = {"count": len(filtered), "rows": format_spans(filtered)}
        out.append(build_finding(list_kinds.FILTERED, facts=facts))
    hidden = sorted({c.column for row in sheet.rows for c in row.cells} & sheet.hidden_columns)
    if hidden:
        seen = [format_column(c) + (" (used)" if c in used else "") for c in hidden]
        out.append(build_finding(sheet_kinds.COLUMN_HIDDEN, facts={"columns": list_few(seen)}))
    return out, frozenset(theirs)


def find_unused_names(sheet: Sheet, known: set[int], header: int) -> list[int]:
    """Find unused columns without a heading whose cells look like names."""
    held: dict[int, list[bool]] = {}
    for row in sheet.rows[:MOST_LOOKED_AT]:
        for cell in row.cells:
            if row.number > header and cell.column not in known:
                held.setdefault(cell.column, []).append(cell.kind == "text" and is_name(cell.shown))
    return sorted(column for column, named in held.items() if sum(named) >= max(3, 0.6 * len(named)))


def spread_merged(sheet: Sheet, rows: list[Row], columns: Sequence[int]) -> tuple[list[Row], list[Finding]]:
    """Copy the text of cells merged over several rows to each of them, with a question for each."""
    findings: list[Finding] = []
    at = {row.number: n for n, row in enumerate(rows)}
    for first, column, last, _ in sheet.merged:
        cell = rows[at[first]].find_cell(column) if first in at and last > first and column in columns else None
        if cell is None:
            continue
        reach = range(first + 1, min(last, rows[-1].number) + 1)
        covered = [n for n in reach if n in at and rows[at[n]].find_cell(column) is None]
        for number in covered:
            row = rows[at[number]]
            cells = sorted((*row.cells, dataclasses.replace(cell, row=number)), key=lambda c: c.column)
            rows[at[number]] = dataclasses.replace(row, cells=tuple(cells))
        if covered:
            facts: dict[str, Fact] = {
                "area": f"{cell.address}:{format_column(column)}{last}",
                "text": shorten(cell.shown),
                "rows": f"{first} to {last}",
            }
            findings.append(build_finding(list_kinds.MERGED, row=first, cell=cell.address, facts=facts))
    return rows, findings


@dataclass(frozen=True, slots=True)
class OutsideRows:
    """Rows outside the order's area, with their findings."""

    rows: list[RowOutcome]
    findings: list[Finding]


def list_rows_outside(whole: Sheet, read: Sheet, areas: Sequence[SheetArea]) -> OutsideRows:
    """List the rows of the sheet outside all areas."""
    there = {row.number for row in read.rows} if areas else set()
    rows = [row.number for row in whole.rows if row.number not in there] if areas else []
    if not rows:
        return OutsideRows([], [])
    facts: dict[str, Fact] = {"area": ", ".join(map(str, areas)), "rows": format_spans(rows), "count": len(rows)}
    account = [RowOutcome(row=n, fate="left-out", reason="outside the area that is read") for n in rows]
    return OutsideRows(account, [build_finding(list_kinds.OUTSIDE_AREA, facts=facts)])


def is_like_recipient(row: Row, name: Sequence[int], heads: set[int], guessed: bool) -> bool:
    """Return whether a row is filled under every used heading, with a name in the name column. Above a sole or guessed
    heading, a name alone is enough."""
    filled = {cell.column for cell in row.cells if cell.shown.strip()}
    named = " ".join(cell.shown for c in name if (cell := row.find_cell(c)) is not None)
    if not is_name(named) or is_heading_word(named):
        return False
    return (len(heads) > 1 and heads <= filled) or ((len(heads) < 2 or guessed) and not is_title(named))


def guess_in_words(sheet: Sheet, columns: ColumnMap, part: ListConfig) -> str:
    """Describe where the list is assumed to be."""
    header = f"row {columns.header} heads the list" if columns.header else "the list has no headings"
    places = [f"{key} in column {' + '.join(map(format_column, where))}" for key, where in columns.where]
    alone = [f"all of it in {describe_area(part.area)}"] if part.area else []
    if sheet.others:
        alone.append(f"none of it on {list_few([name_sheet(*other) for other in sheet.others], 5)}")
    return ", ".join([header, *places, *alone])


def describe_area(area: str | Sequence[str]) -> str:
    """Describe the areas of [list]."""
    return area if isinstance(area, str) else list_few(area)


def format_spans(rows: Sequence[int]) -> str:
    """Format row numbers in ranges: 3–7, 9."""
    out: list[list[int]] = []
    for row in sorted(rows):
        if out and row == out[-1][1] + 1:
            out[-1][1] = row
        else:
            out.append([row, row])
    return list_few([str(a) if a == b else f"{a}–{b}" for a, b in out])


def name_sheet(name: str, state: str) -> str:
    """Name a sheet for the maker. state: as its file marks it, empty for a visible one."""
    return f"“{shorten(name, 40)}”" + (" (hidden)" if state else "")


def list_few(words: Sequence[str], most: int = 20) -> str:
    """List the first few words."""
    return ", ".join(words[:most]) + (f" and {len(words) - most} more" if len(words) > most else "")
