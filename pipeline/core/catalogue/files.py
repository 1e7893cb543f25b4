"""Kinds of finding: file.*, what is wrong with a written file."""

from __future__ import annotations

from pipeline.core.findings import Kind, Severity

READ_BACK_DIFFERS = Kind(
    code="file.read-back-differs",
    severity=Severity.STOP,
    message="{file}, read back, is not what was set: {difference}",
    why="The file is what gets cut. One that is not the artwork the client agreed to must not reach the machine.",
    remedy="run again; if it stays, the disk or the tool is at fault: keep the file's folder and report it",
    addressed="maker",
    source="every file is read back and compared with the artwork; the tolerance is `files.tolerance` in order.toml",
)
NOT_OURS = Kind(
    code="file.not-ours",
    severity=Severity.NOTE,
    message="{file} was changed after this tool wrote it; it is kept as {aside}",
    why="Cut files are written anew by every run, and what somebody changed in one was never checked. It is put aside "
    "so that the change is not lost and the file is not cut by mistake.",
    remedy="move it out of the output folder if it is wanted, delete it if it is not",
    addressed="maker",
)

KINDS: tuple[Kind, ...] = (READ_BACK_DIFFERS, NOT_OURS)
