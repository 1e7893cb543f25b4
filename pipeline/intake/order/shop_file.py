"""The shop file: found, read, and applied below an order.

It is the first `shop.toml` found going up from the order folder, the folder itself included, no farther than the user's
home, and never merged with another. For an order outside the home folder the search goes up to the root of its drive,
but skips folders that everybody may write to (/tmp): a file there may be anybody's.
"""

from __future__ import annotations

import hashlib
import os
import stat
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from pydantic import ValidationError

from pipeline.core.config.order import Order
from pipeline.core.config.order_table import NEEDED_SIZE, OrderTable
from pipeline.core.config.shop_config import OwnResin, ShopConfig, fold_name
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.language.texts import find_language_fault
from pipeline.core.units import Units
from pipeline.intake.order.error_messages import FaultPlaces, find_nearest_name, list_validation_faults
from pipeline.intake.order.toml_text import decode_toml, encode_toml, parse_toml

SHOP_FILE = "shop.toml"
T = TypeVar("T", bound=OrderTable)
PRICES = ("hour", "machine_hour", "stock_price", "resin_price")
"""Keys of [rates] that are meaningless without a currency."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundShop:
    """A shop file as it was read."""

    file: Path
    sha256: str
    config: ShopConfig


def find_user_home() -> Path | None:
    """Find the user's home folder; None where there is none."""
    try:
        return Path.home().resolve()
    except (RuntimeError, OSError):
        return None


def find_shop_file(folder: Path, home: Path | None) -> Path | None:
    """Find the first shop file going up from `folder`; None when there is none."""
    here = folder.resolve()
    up = (here, *here.parents)
    if home is not None and home in up:
        up = up[: up.index(home) + 1]
    for place in up:
        file = place / SHOP_FILE
        if (file.exists() or file.is_symlink()) and (place == here or not _is_anybodys(place)):
            return file
    return None


def _is_anybodys(folder: Path) -> bool:
    """Return whether every user of the machine may write to the folder; only on POSIX systems do modes tell."""
    return os.name == "posix" and bool(folder.stat().st_mode & stat.S_IWOTH)


def read_shop(file: Path) -> FoundShop:
    """Read a shop file. CannotRun with every fault of it, each with its line. Lengths in the result are mm."""
    what = "a shop file"
    return parse_shop(file, encode_toml(file, what, "the shop file, which is looked for from the order folder upwards"))


def parse_shop(file: Path, data: bytes) -> FoundShop:
    """Parse these bytes as a shop file. CannotRun as `read_shop`."""
    what = "a shop file"
    text = decode_toml(file, data)
    raw = parse_toml(file, text, what)
    places = FaultPlaces(file, text, ShopConfig)
    unit = Units("in" if raw.get("units") == "in" else "mm")
    try:
        config = ShopConfig.model_validate(raw, context={"mm": unit.mm})
    except ValidationError as error:
        faults = list_validation_faults(error, places, unit.name)
        raise CannotRun(sorted(faults, key=lambda fault: places.find_line(fault.where))) from None
    if faults := _list_faults(config, places):
        raise CannotRun(faults)
    return FoundShop(file=file, sha256=hashlib.sha256(data).hexdigest(), config=config)


def _list_faults(config: ShopConfig, places: FaultPlaces) -> list[Fault]:
    """List the faults between the keys."""
    faults = []
    named = {
        "cutter": [own.name for own in config.cutter],
        "material": [own.name for own in config.material],
        "resin": [own.name for own in config.resin],
    }
    for table, names in named.items():
        counts = Counter(names)
        for number, name in enumerate(names):
            if counts[name] > 1:
                found = f"{counts[name]} tables [[{table}]] are called “{name}”"
                faults.append(Fault(where=places(table, number, "name"), found=found, expected="a name of its own"))
    counted = Counter((fold_name(own.cutter), fold_name(own.material)) for own in config.measured)
    for number, own in enumerate(config.measured):
        if counted[fold_name(own.cutter), fold_name(own.material)] > 1:
            found = f"two tables [[measured]] are of {own.cutter} in {own.material}"
            faults.append(Fault(where=places("measured", number, "cutter"), found=found, expected="one for each"))
    for number, cutter in enumerate(config.cutter):
        needed = NEEDED_SIZE.get(cutter.kind)
        if needed is not None and getattr(cutter, needed) is None:
            expected = f'a number: kind = "{cutter.kind}" needs it'
            faults.append(Fault(where=places("cutter", number, needed), found="missing", expected=expected))
    tag = config.shop.language
    if tag is not None and (unread := find_language_fault(tag, places("shop", "language"))):
        faults.append(unread)
    return faults


# --- laid under an order ------------------------------------------------------------------------------------------


def lay_under(order: Order, found: FoundShop, places: FaultPlaces) -> tuple[Order, list[Fault]]:
    """Fill keys that the order lacks with the shop's values; return the order, and its references to missing entries of
    the shop file. places: of the order file."""
    shop, name = found.config, found.file.name
    faults: list[Fault] = []
    tables: dict[str, OrderTable] = {
        "proof": _fill_in(order.proof, _list_stated(shop.shop, without=("fonts",), name="shop"), name),
        "rates": _fill_in(order.rates, _list_rates(order, shop), name),
        "labels": _fill_in(
            order.labels, {**_list_stated(shop.shop, only=("paper",)), **_list_stated(shop.labels)}, name
        ),
    }
    if order.pour is not None and order.pour.use is not None:
        resin = next((r for r in shop.resin if r.name == order.pour.use), None)
        if resin is None:
            faults.append(_report_no_resin(order.pour.use, shop.resin, str(found.file), places))
        else:
            tables["pour"] = _fill_in(
                order.pour, _list_stated(resin, without=("name",)), f"{name}, [[resin]] “{resin.name}”"
            )
    changed = {key: table for key, table in tables.items() if table is not getattr(order, key)}
    return order.model_copy(update=changed).apply_shop(shop), faults


def drop_shop(order: Order, places: FaultPlaces) -> tuple[Order, list[Fault]]:
    """Return the order, and its references to entries of a shop file that doesn't exist."""
    wanted = order.pour.use if order.pour is not None else None
    return order, [] if wanted is None else [_report_no_resin(wanted, (), "", places)]


def _report_no_resin(wanted: str, resins: Sequence[OwnResin], file: str, places: FaultPlaces) -> Fault:
    names = [resin.name for resin in resins]
    hint = find_nearest_name(wanted, names)
    return Fault(
        where=places("pour", "use"),
        found=f"no resin “{wanted}” in {file}" if file else f"a resin “{wanted}”, but no {SHOP_FILE} was found",
        expected="the name of a [[resin]] of the shop file" if file else f"a {SHOP_FILE} in this folder or above it",
        remedy=hint or "write the values of its data sheet under [pour] itself, or [[resin]] into the shop file",
    )


def _list_stated(
    part: OrderTable, *, only: Sequence[str] = (), without: Sequence[str] = (), **other: str
) -> dict[str, Any]:
    """List the keys that a table of the shop file states. other: keys with another name in the order."""
    keys = [key for key in type(part).model_fields if key in part.model_fields_set and key not in without]
    return {other.get(key, key): getattr(part, key) for key in keys if not only or key in only}


def _list_rates(order: Order, shop: ShopConfig) -> dict[str, Any]:
    """List the shop's rates; prices only for an order in the same currency."""
    values, own = _list_stated(shop.rates), order.rates
    if "currency" in own.model_fields_set and own.currency != shop.rates.currency:
        return {key: value for key, value in values.items() if key not in PRICES}
    return values


def _fill_in(part: T, values: dict[str, Any], origin: str) -> T:
    """Fill the table with values for keys that the order lacks."""
    missing = {
        key: value for key, value in values.items() if key not in part.model_fields_set and value not in (None, "")
    }
    return part.take_values(missing, origin) if missing else part
