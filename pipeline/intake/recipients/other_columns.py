"""Columns of the list that aren't lettered: remarks, which are shown to the maker, further people, and unused ones."""

from __future__ import annotations

import itertools
from collections.abc import Collection, Mapping, Sequence

from pipeline.core.catalogue import list_kinds
from pipeline.core.findings import Fact, Finding, build_finding
from pipeline.intake.names.wording import shorten
from pipeline.intake.recipients.header_guess import is_heading_word, is_name
from pipeline.intake.recipients.headings import IN_CHARGE, REMARKS, find_meaning, fold_heading
from pipeline.intake.spreadsheet.sheet import Row, Sheet, format_column

MOST_LOOKED_AT = 300
"""Rows that are examined for people in unused columns."""


def find_remark_columns(heads: Mapping[int, str], used: Collection[int]) -> dict[int, str]:
    """Find unused columns whose heading says that they hold remarks: column -> heading."""
    return {
        c: shorten(" ".join(text.split()), 40)
        for c, text in heads.items()
        if c not in used and fold_heading(text) in REMARKS
    }


def list_remarks_beside(row: Row, columns: Mapping[int, str]) -> list[Finding]:
    """List the remarks beside a recipient."""
    found = []
    for column, heading in columns.items():
        cell = row.find_cell(column)
        if cell is not None and cell.shown.strip():
            facts: dict[str, Fact] = {
                "row": row.number,
                "reason": f"under “{heading}”",
                "text": shorten(cell.shown, 300),
            }
            found.append(build_finding(list_kinds.REMARK_BESIDE, row=row.number, cell=cell.address, facts=facts))
    return found


def find_columns_of_people(
    rows: Sequence[Row], heads: Mapping[int, str], known: Collection[int], name: Collection[int]
) -> frozenset[int]:
    """Find columns that hold names of further people under an unknown heading, such as “Runner-up”, or under one that
    means a name. known: columns that are used, or reported elsewhere; name: of these, the recipients' names."""
    found = set()
    for column, heading in heads.items():
        if column in known or not _may_head_people(heading):
            continue
        texts, others = [], 0
        for row in rows[:MOST_LOOKED_AT]:
            cell = row.find_cell(column)
            if cell is None or not cell.shown.strip():
                continue
            texts.append(fold_heading(cell.shown))
            own = {word for c in name if (held := row.find_cell(c)) is not None for word in _list_words(held.shown)}
            # the recipient again, as under “Name” beside “Name on plaque”, is nobody else
            others += cell.kind == "text" and is_name(cell.shown) and own.isdisjoint(_list_words(cell.shown))
        if others >= max(2, 0.6 * len(texts)) and len(set(texts)) >= 0.8 * len(texts):
            found.add(column)
    return frozenset(found)


def _list_words(text: str) -> list[str]:
    return fold_heading(text).replace(",", " ").split()


def _may_head_people(heading: str) -> bool:
    """Return whether a heading leaves open, or says, that people to be honoured are named below it."""
    if not IN_CHARGE.isdisjoint(_list_words(heading.replace("/", " "))):
        return False
    return find_meaning(heading) == "name" or is_heading_word(heading) < 1


def report_columns_of_people(rows: Sequence[Row], columns: Collection[int], heads: Mapping[int, str]) -> Finding | None:
    """Ask about the names in columns that the order does not use."""
    if not columns:
        return None
    cells = (cell for row in rows for cell in row.cells if cell.column in columns and cell.shown.strip())
    some = ", ".join(f"“{shorten(cell.shown, 40)}”" for cell in itertools.islice(cells, 3))
    return build_finding(
        list_kinds.NAMES_UNUSED, facts={"columns": _name_columns(sorted(columns), heads), "names": some}
    )


def _name_columns(columns: Sequence[int], heads: Mapping[int, str]) -> str:
    return ", ".join(f"{format_column(c)} “{shorten(' '.join(heads[c].split()), 40)}”" for c in columns)


def report_unused_columns(
    sheet: Sheet, header: int, heads: Mapping[int, str], known: Collection[int]
) -> Finding | None:
    """Report columns that have a heading and content below it but aren't used. known: columns that are used, or
    reported elsewhere."""
    held = {
        cell.column for row in sheet.rows if row.number > header for cell in row.cells if cell.shown.strip()
    } & heads.keys()
    left = sorted(held - set(known))
    if not left:
        return None
    return build_finding(list_kinds.COLUMN_UNUSED, facts={"columns": _name_columns(left, heads), "count": len(left)})
