"""Kinds of finding: tool.*, what went wrong with the tool itself."""

from __future__ import annotations

from pipeline.core.findings import Kind, Severity

FAULT = Kind(
    code="tool.fault",
    severity=Severity.STOP,
    message="the tool itself failed on this row: {error}",
    why="The program is at fault, not the list. The other plaques are done; this one was not made.",
    remedy="run again with this row alone (--rows {row}) and send the error report to the makers of the tool",
    addressed="maker",
)

KINDS: tuple[Kind, ...] = (FAULT,)
