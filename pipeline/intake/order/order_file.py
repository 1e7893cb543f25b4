"""Reads `order.toml`: every fault of the file at once, each with its place, what was found and what was expected."""

from __future__ import annotations

import copy
import hashlib
import tomllib
from collections.abc import Collection, Mapping
from pathlib import Path
from typing import Any, TypeVar

from pydantic import ValidationError

from pipeline.core.errors import CannotRun, Fault
from pipeline.core.files import read_plain, require_plain_file
from pipeline.core.order import (
    BlankConfig,
    CutterConfig,
    FilesConfig,
    LineConfig,
    ListConfig,
    Order,
    OrderFolder,
    OrderTable,
)
from pipeline.core.order_table import LONGEST
from pipeline.core.texts import language_fault
from pipeline.core.units import Units
from pipeline.intake.order.consistency_rules import CutterMaker, KnownNames, OrderTables, RuleContext, check_consistency
from pipeline.intake.order.error_messages import FaultPlaces, faults_from_validation, nearest_name, toml_fault
from pipeline.intake.spreadsheet.list_formats import LIST_SUFFIXES

ORDER_FILE = "order.toml"

P = TypeVar("P", bound=OrderTable)


def read_order(order: Path, *, faces: Collection[str] | None = None, cutter: CutterMaker | None = None) -> OrderFolder:
    """Read an order folder, or its `order.toml`.

    `faces` are the names on the shelf, `cutter` makes the order's cutter; left out, names are taken as they are (a
    font file is looked for all the same). Raises CannotRun with every fault of the file. Lengths in the result are mm.
    """
    file = _find(order)
    data = _bytes(file)
    text = _decode(file, data)
    raw = _parse(file, text)
    places = FaultPlaces(file, text)
    unit = Units("in" if raw.get("units") == "in" else "mm")
    context = {"mm": unit.mm}
    faults: list[Fault] = []
    read: Order | None = None
    try:
        read = Order.model_validate(raw, context=context)
    except ValidationError as error:
        faults += faults_from_validation(error, places, unit.name)
    ground = RuleContext(places=places, folder=file.parent, unit=unit, known=KnownNames(faces=faces, cutter=cutter))
    faults += check_consistency(_parts(raw, read, context), ground)
    if read is not None and not read.title.strip():
        faults.append(Fault(where=places("title"), found="the title is empty", expected="what the job is called"))
    if read is not None and (unread := language_fault(read.proof.language, places("proof", "language"))):
        faults.append(unread)
    if faults or read is None:
        raise CannotRun(sorted(faults, key=lambda fault: places.line_of(fault.where)))
    return OrderFolder(order=read, folder=file.parent, file=file, sha256=hashlib.sha256(data).hexdigest())


def _parse(file: Path, text: str) -> dict[str, Any]:
    """The file's tables. CannotRun when it is not TOML, or when its tables or its numbers are without end."""
    too_deep = Fault(
        where=str(file),
        found=f"tables or lists stand inside each other more than {DEEPEST} deep",
        expected="an order file",
        remedy="look for brackets that are opened again and again",
    )
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise CannotRun(toml_fault(file, text, error)) from None
    except RecursionError:
        raise CannotRun(too_deep) from None
    except ValueError:  # Python reads no whole number of more than 4,300 digits
        raise CannotRun(
            Fault(where=str(file), found="a number has thousands of digits, or a date is none", expected="a number")
        ) from None
    level: list[Any] = [raw]
    for _ in range(DEEPEST):
        level = [
            inner
            for value in level
            for inner in (value.values() if isinstance(value, dict) else value)
            if isinstance(inner, dict | list)
        ]
    if level:
        raise CannotRun(too_deep)
    return raw


def _find(order: Path) -> Path:
    if order.is_dir():
        file = order / ORDER_FILE
        if file.exists():
            return file
        lists = sorted(p.name for p in order.iterdir() if p.suffix.lower() in LIST_SUFFIXES and p.name[0] not in ".~")
        raise CannotRun(
            Fault(
                where=str(order),
                found=f"there is no {ORDER_FILE} in this folder",
                expected=f"an order folder with its {ORDER_FILE}",
                remedy=f"`plaques start {order / lists[0]}` writes one" if lists else "`plaques start LIST` writes one",
            )
        )
    if order.suffix.lower() in LIST_SUFFIXES:
        raise CannotRun(
            Fault(
                where=str(order),
                found="this is a list, not an order",
                expected=f"an order folder, or its {ORDER_FILE}",
                remedy=f"`plaques start {order}` makes an order folder from a list",
            )
        )
    if not order.exists():
        beside = []
        if order.parent.is_dir():
            beside = [p.name for p in sorted(order.parent.iterdir()) if p.is_dir() or p.suffix == ".toml"]
        hint = nearest_name(order.name, beside)
        raise CannotRun(
            Fault(
                where=str(order),
                found="no such order",
                expected=f"an order folder, or its {ORDER_FILE}",
                remedy=hint if hint.startswith("did you") else "",
            )
        )
    return order


def _bytes(file: Path) -> bytes:
    require_plain_file(file, f"an order folder, or its {ORDER_FILE}")
    try:
        if (size := file.stat().st_size) > MOST_BYTES:
            raise CannotRun(
                Fault(
                    where=str(file),
                    found=f"the file has {size / MOST_BYTES:.1f} MB",
                    expected=f"an order file of at most {MOST_BYTES // 2**20} MB",
                )
            )
        return read_plain(file)
    except OSError as error:
        raise CannotRun(
            Fault(where=str(file), found=f"cannot be read ({error.strerror or error})", remedy="check its permissions")
        ) from None


def _decode(file: Path, data: bytes) -> str:
    """TOML is UTF-8; editors that put a byte order mark in front of it are forgiven."""
    try:
        return data.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        row = data[: error.start].count(b"\n") + 1
        raise CannotRun(
            Fault(
                where=f"{file} line {row}",
                found=f"a byte {data[error.start]:#04x} that is not UTF-8",
                expected="a text file in UTF-8",
                remedy="open it in a text editor and save it with the encoding UTF-8",
            )
        ) from None


def _parts(raw: Mapping[str, Any], read: Order | None, context: dict[str, float]) -> OrderTables:
    """The tables that can be read by themselves, so that a fault in one does not hide the faults of the others."""
    if read is not None:
        return OrderTables(listing=read.list, blank=read.blank, cutter=read.cutter, files=read.files, lines=read.line)
    lines = raw.get("line")
    return OrderTables(
        listing=_try(ListConfig, raw.get("list"), context),
        blank=_try(BlankConfig, raw.get("blank"), context),
        cutter=_try(CutterConfig, raw.get("cutter"), context),
        files=_try(FilesConfig, raw.get("files"), context),
        lines=tuple(_try(LineConfig, line, context) for line in lines) if isinstance(lines, list) else (),
    )


_DECISIVE = ("shape", "drawing", "use", "kind")
"""Keys whose absence is a fault itself: a table in which one of them is wrong is not checked further."""

MOST_BYTES = 2**20
"""Of an order file; one that settles thousands of questions has a tenth of it."""
DEEPEST = 16
"""Tables and lists inside each other; the deepest key of an order has six."""


def _try(model: type[P], value: Any, context: dict[str, float]) -> P | None:
    """The table without its wrong keys (they are faults already); None when nothing sensible is left."""
    try:
        return model.model_validate(value, context=context)
    except ValidationError as error:
        if not isinstance(value, dict):
            return None
        kept = copy.deepcopy(value)
        for e in error.errors(include_url=False):
            loc = e["loc"]
            if e["type"] == "extra_forbidden":
                table = kept
                for part in loc[:-1]:
                    table = table[part]
                del table[loc[-1]]
            elif loc[0] in _DECISIVE:
                return None
            else:
                kept.pop(loc[0], None)
        if "cap_height" in model.model_fields and "cap_height" not in kept:
            kept["cap_height"] = LONGEST / context["mm"]  # no check objects to it: the line's other keys are checked
        try:
            return model.model_validate(kept, context=context)
        except ValidationError:
            return None
