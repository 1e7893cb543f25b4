"""Limits of a list's file: more than an order allows is refused, naming the key."""

from __future__ import annotations

from pathlib import Path

from pipeline.core.config.order import ListLimits
from pipeline.core.errors import CannotRun, Fault
from pipeline.intake.spreadsheet.sheet import Sheet, format_column


def build_limit_error(where: str | Path, key: str, found: str, limits: ListLimits) -> CannotRun:
    """Build the error for a file that exceeds a limit."""
    most = f"{getattr(limits, key):,}".replace(",", " ")
    return CannotRun(
        Fault(
            where=str(where),
            found=found,
            expected=f"at most {most}, the limit `{key}`",
            remedy="copy the rows of the list into a new file and use that; if the file is sound, "
            f"limits = {{ {key} = … }} in [list] allows more",
        )
    )


def measure_sheet(sheet: Sheet, limits: ListLimits) -> Sheet:
    """Return the sheet itself; CannotRun when it exceeds the limits."""
    where = f"{sheet.path}, sheet “{sheet.name}”"
    if len(sheet.rows) > limits.rows:
        raise build_limit_error(where, "rows", f"it has {len(sheet.rows)} rows that hold something", limits)
    columns: set[int] = set()
    cells = 0
    for row in sheet.rows:
        cells += len(row.cells)
        for cell in row.cells:
            columns.add(cell.column)
            if len(cell.shown) > limits.text:
                found = f"{format_column(cell.column)}{row.number} holds {len(cell.shown)} characters"
                raise build_limit_error(where, "text", found, limits)
    if len(columns) > limits.columns:
        raise build_limit_error(where, "columns", f"{len(columns)} of its columns hold something", limits)
    if cells > limits.cells:
        raise build_limit_error(where, "cells", f"it has {cells} cells that hold something", limits)
    return sheet
