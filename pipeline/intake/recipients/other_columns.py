"""Columns of the list that aren't lettered: remarks, which are shown to the maker, and unused ones."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from pipeline.core.catalogue import list_kinds
from pipeline.core.findings import Fact, Finding, build_finding
from pipeline.intake.names.wording import shorten
from pipeline.intake.recipients.headings import REMARKS, fold_heading
from pipeline.intake.spreadsheet.sheet import Row, Sheet, format_column


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
    named = [f"{format_column(c)} “{shorten(' '.join(heads[c].split()), 40)}”" for c in left]
    return build_finding(list_kinds.COLUMN_UNUSED, facts={"columns": ", ".join(named), "count": len(left)})
