"""Edits of a shop file that keep the maker's comments, order and spelling."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT

from pipeline.core.config.shop_config import fold_name
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.storage.files import write_whole
from pipeline.core.units import Units
from pipeline.intake.order.shop_file import FoundShop, parse_shop, read_shop

TABLE = "measured"


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredEdit:
    """Limits of one cutter in one material, mm; None leaves the value as it is."""

    cutter: str
    material: str
    stroke: float | None
    land: float | None
    source: str


def record_measured(file: Path, edit: MeasuredEdit) -> FoundShop:
    """Write the limits into the shop file: into the [[measured]] of that cutter and material, or a new one at its end.
    The file is read again before it is put in place; CannotRun when it cannot be read or written."""
    before = read_shop(file)
    file = file.resolve()  # a symbolic link stays one
    data = file.read_bytes()
    mark = b"\xef\xbb\xbf" if data.startswith(b"\xef\xbb\xbf") else b""
    text = data[len(mark) :].decode("utf-8")
    units = Units(before.config.units)
    try:
        document = tomlkit.parse(text)
        _put(document, edit, units)
        written = tomlkit.dumps(document)
    except (TOMLKitError, TypeError, ValueError) as error:  # tables written in a form the library can't extend
        raise _report_left_alone(file, " ".join(str(error).split())) from None
    if 0 < text.count("\n") == text.count("\r\n"):
        written = written.replace("\r\n", "\n").replace("\n", "\r\n")
    try:
        after = parse_shop(file, mark + written.encode("utf-8"))
    except CannotRun as problem:
        raise _report_left_alone(file, str(problem.faults[0].found)) from None
    same = {"measured": ()}
    if after.config.model_copy(update=same) != before.config.model_copy(update=same):
        raise _report_left_alone(file, "more than its [[measured]] tables would change")
    write_whole(file, mark + written.encode("utf-8"))
    return after


def _report_left_alone(file: Path, why: str) -> CannotRun:
    return CannotRun(
        Fault(
            where=str(file),
            found=f"cannot be added to without changing more of it ({why})",
            expected="a shop file of plain tables",
            remedy="write the [[measured]] table yourself: cutter, material, stroke, land, source",
        )
    )


def _put(document: Any, edit: MeasuredEdit, units: Units) -> None:
    tables = document.get(TABLE)
    if tables is None:
        if document.body:
            document.add(tomlkit.nl())
        tables = tomlkit.aot()
        document.append(TABLE, tables)
    key = (fold_name(edit.cutter), fold_name(edit.material))
    own = next(
        (t for t in tables if (fold_name(str(t.get("cutter", ""))), fold_name(str(t.get("material", "")))) == key), None
    )
    if own is None and not isinstance(tables, AoT):
        raise TypeError("measured is written as a list in brackets")
    if own is None:
        own = tomlkit.table()
        own["cutter"], own["material"] = edit.cutter, edit.material
        tables.append(own)
        own = tables[-1]
    for name, value in (("stroke", edit.stroke), ("land", edit.land)):
        if value is not None:
            own[name] = round(value / units.mm, 6)
    own["source"] = edit.source
