"""Reads `order.toml`: every fault of the file at once, each with its place, what was found and what was expected."""

from __future__ import annotations

import copy
import hashlib
from collections import Counter
from collections.abc import Collection, Mapping
from pathlib import Path
from typing import Any, TypeVar

from pydantic import ValidationError

from pipeline.core.config.order import (
    ArtworkConfig,
    BlankConfig,
    CutterConfig,
    FilesConfig,
    LineConfig,
    ListConfig,
    Order,
    OrderFolder,
    OrderTable,
)
from pipeline.core.config.order_table import LONGEST
from pipeline.core.config.shop_config import NO_SHOP
from pipeline.core.environment.own_fonts import NO_FONTS, list_own_fonts
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.language.printed_command import format_command
from pipeline.core.language.texts import find_language_fault
from pipeline.core.units import Units
from pipeline.core.work_steps import compute_off_after_lettering
from pipeline.intake.order.consistency_rules import (
    CutterMaker,
    KnownNames,
    OrderTables,
    RuleContext,
    check_consistency,
    check_file,
)
from pipeline.intake.order.error_messages import FaultPlaces, find_nearest_name, list_validation_faults
from pipeline.intake.order.shop_file import FoundShop, drop_shop, find_shop_file, find_user_home, lay_under, read_shop
from pipeline.intake.order.toml_text import decode_toml, encode_toml, parse_toml
from pipeline.intake.spreadsheet.list_formats import LIST_SUFFIXES

LOGO_SUFFIXES = (".png", ".jpg", ".jpeg")
ORDER_FILE = "order.toml"

P = TypeVar("P", bound=OrderTable)


def read_order(order: Path, *, faces: Collection[str] | None = None, cutter: CutterMaker | None = None) -> OrderFolder:
    """Read an order folder, or its `order.toml`.

    `faces` are the names on the shelf, `cutter` makes the order's cutter; without them, names are accepted unchecked (a
    font file is still looked for). Values of the shop file, if there is one, fill keys that the order lacks. Raises
    CannotRun with every fault of both files. Lengths in the result are mm.
    """
    file = _find(order)
    data = encode_toml(file, "an order file", f"an order folder, or its {ORDER_FILE}")
    text = decode_toml(file, data)
    raw = parse_toml(file, text, "an order file")
    shop, shop_faults = _read_shop(file.parent)
    places = FaultPlaces(file, text)
    unit = Units("in" if raw.get("units") == "in" else "mm")
    context = {"mm": unit.mm}
    faults: list[Fault] = []
    read: Order | None = None
    try:
        read = Order.model_validate(raw, context=context)
    except ValidationError as error:
        faults += list_validation_faults(error, places, unit.name)
    known = KnownNames(
        faces=faces,
        cutter=None if shop_faults else cutter,
        shop=NO_SHOP if shop is None else shop.config,
        fonts=NO_FONTS if shop is None else list_own_fonts(shop.file, shop.config.shop.fonts),
    )
    ground = RuleContext(places=places, folder=file.parent, unit=unit, known=known)
    refused = {fault.where for fault in faults}  # a refused value isn't a missing one
    found = check_consistency(_read_tables(raw, read, context), ground)
    faults += [fault for fault in found if fault.found != "missing" or fault.where not in refused]
    if read is not None and not read.title.strip():
        faults.append(Fault(where=places("title"), found="the title is empty", expected="what the job is called"))
    if read is not None and read.proof.logo is not None:
        where, picture = places("proof", "logo"), read.proof.logo
        if unseen := check_file(where, picture, file.parent, "the client's logo", LOGO_SUFFIXES):
            faults.append(unseen)
    if read is not None and (unread := find_language_fault(read.proof.language, places("proof", "language"))):
        faults.append(unread)
    if read is not None and not shop_faults:
        read, asked = drop_shop(read, places) if shop is None else lay_under(read, shop, places)
        faults += asked
        faults += [
            Fault(where=places("work", "steps"), found=f"“{step}” stands {n} times", expected="each step once")
            for step, n in Counter(read.work.steps).items()
            if n > 1
        ]
        read = read.take_off_face(compute_off_after_lettering(read))
    if faults or shop_faults or read is None:
        raise CannotRun([*shop_faults, *sorted(faults, key=lambda fault: places.find_line(fault.where))])
    return OrderFolder(
        order=read,
        folder=file.parent,
        file=file,
        sha256=hashlib.sha256(data).hexdigest(),
        shop_file=None if shop is None else shop.file,
        shop_sha256="" if shop is None else shop.sha256,
    )


def _read_shop(folder: Path) -> tuple[FoundShop | None, tuple[Fault, ...]]:
    """Read the shop file of an order folder, or return its faults."""
    file = find_shop_file(folder, find_user_home())
    if file is None:
        return None, ()
    try:
        return read_shop(file), ()
    except CannotRun as problem:
        return None, problem.faults


def _find(order: Path) -> Path:
    begin = ("plaques", "start")
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
                remedy=f"`{format_command(*begin, order / lists[0])}` writes one"
                if lists
                else "`plaques start LIST` writes one",
            )
        )
    if order.suffix.lower() in LIST_SUFFIXES:
        raise CannotRun(
            Fault(
                where=str(order),
                found="this is a list, not an order",
                expected=f"an order folder, or its {ORDER_FILE}",
                remedy=f"`{format_command(*begin, order)}` makes an order folder from a list",
            )
        )
    if not order.exists():
        beside = []
        if order.parent.is_dir():
            beside = [p.name for p in sorted(order.parent.iterdir()) if p.is_dir() or p.suffix == ".toml"]
        hint = find_nearest_name(order.name, beside)
        raise CannotRun(
            Fault(
                where=str(order),
                found="no such order",
                expected=f"an order folder, or its {ORDER_FILE}",
                remedy=hint if hint.startswith("did you") else "",
            )
        )
    return order


def _read_tables(raw: Mapping[str, Any], read: Order | None, context: dict[str, float]) -> OrderTables:
    """Read each table by itself, so that a fault in one doesn't hide the faults of the others."""
    if read is not None:
        return OrderTables(
            listing=read.list,
            blank=read.blank,
            cutter=read.cutter,
            files=read.files,
            lines=read.line,
            artwork=read.artwork,
        )
    lines, figures = raw.get("line"), raw.get("artwork")
    return OrderTables(
        listing=_try(ListConfig, raw.get("list"), context),
        blank=_try(BlankConfig, raw.get("blank"), context),
        cutter=_try(CutterConfig, raw.get("cutter"), context),
        files=_try(FilesConfig, raw.get("files"), context),
        lines=tuple(_try(LineConfig, line, context) for line in lines) if isinstance(lines, list) else (),
        artwork=tuple(_try(ArtworkConfig, part, context) for part in figures) if isinstance(figures, list) else (),
    )


_DECISIVE = ("shape", "drawing", "use", "kind")
"""Required keys: a table in which one of them is wrong isn't checked further."""


def _try(model: type[P], value: Any, context: dict[str, float]) -> P | None:
    """Read the table without its wrong keys (already reported); None when nothing sensible is left."""
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
            kept["cap_height"] = LONGEST / context["mm"]  # passes every check, so that other keys get checked
        try:
            return model.model_validate(kept, context=context)
        except ValidationError:
            return None
