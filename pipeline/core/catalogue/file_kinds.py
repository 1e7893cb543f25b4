"""Kinds of finding: file.*, what is wrong with a written file."""

from __future__ import annotations

from pipeline.core.findings import Edit, Kind, Severity

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
    why="Every run writes the cut files again, and nobody has checked what was changed in this one. It is put aside "
    "so that the change is not lost and the file is not cut by mistake.",
    remedy="move it out of the output folder if it is wanted, delete it if it is not",
    addressed="maker",
)
NO_UNIT = Kind(
    code="file.no-unit",
    severity=Severity.ASK,
    message="files of version R12 do not carry their unit, and this order is in inches; most programs take such a file "
    "for millimetres, and it opens 25.4 times too small",
    why="A drawing of a 6 in plaque that opens as 6 mm is cut as a speck, or scaled by hand and by guess.",
    remedy='tell the program that opens the files that they are in inches, or set version = "R2000" or later in '
    "[files], which says it; the unit also stands in each file's name and in its first lines",
    addressed="maker",
    edits=((Edit(table="files", key="version", value="R2000"),),),
    source="published DXF reference: $INSUNITS came with AC1015 (R2000)",
)

KINDS: tuple[Kind, ...] = (READ_BACK_DIFFERS, NOT_OURS, NO_UNIT)
