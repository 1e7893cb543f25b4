"""Kinds of finding: file.read-back-differs, a cut file that does not hold the artwork."""

from __future__ import annotations

from pipeline.core.findings import Kind, Severity

READ_BACK_DIFFERS = Kind(
    code="file.read-back-differs",
    severity=Severity.STOP,
    message="the cut file, read back from the disk, differs from the artwork: {how}",
    why="What the client signs is the artwork; a file that holds anything else must not reach a machine.",
    remedy="run again; if it happens again the disk or the program is at fault: do not cut this plaque",
    source="every file is read again after writing and compared contour by contour",
)

KINDS: tuple[Kind, ...] = (READ_BACK_DIFFERS,)
