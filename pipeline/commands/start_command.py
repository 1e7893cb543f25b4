"""`plaques start`: a new order folder for a client's list."""

from __future__ import annotations

import contextlib
import shlex
from collections.abc import Callable
from pathlib import Path

from pipeline.artwork.artwork_file import MOST_MB
from pipeline.commands.first_steps import numbered_steps
from pipeline.core.catalogue import list_kinds
from pipeline.core.door import foreign_bytes
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.files import write_whole
from pipeline.core.order import place_of
from pipeline.core.printable import json_text
from pipeline.core.required import required
from pipeline.intake.names.wording import shorten
from pipeline.intake.new_order import folder_name, order_text, plan_order
from pipeline.intake.new_shop import write_shop_file
from pipeline.intake.order.consistency_rules import ARTWORK_SUFFIXES
from pipeline.intake.order.order_file import ORDER_FILE, read_order
from pipeline.intake.order.shop_file import FoundShop, find_shop_file, read_shop, user_home
from pipeline.intake.recipients.read_list import read_list
from pipeline.intake.spreadsheet.read_sheet import file_bytes

MOST_SHOWN = 12
_BESIDE = {kind.code: "" for kind in (list_kinds.LEFT_OUT, list_kinds.LEFT_OUT_NAMED, list_kinds.REMARK_BESIDE)} | {
    list_kinds.SENDER.code: "the sender's name",
    list_kinds.ABOVE_HEADER.code: "above the header, but it reads like a recipient",
}
Say = Callable[[str], object]


def start(
    listing: str | Path | None,
    *,
    folder: Path | None = None,
    area: str | None = None,
    sheet: str | None = None,
    shop: Path | None = None,
    say: Say,
    as_json: bool = False,
) -> int:
    """Write an order folder for a list: a copy of the list and a commented order.toml. Return 0.

    Args:
        listing: The client's list; None: only a shop file is written.
        folder: The new folder; without it, one beside the list that is named after it.
        area: One of several lists on a sheet, `A3:C40`.
        sheet: One sheet of a workbook.
        shop: A folder into which a first shop file is written.
        say: Called with the text to print.
        as_json: Print one JSON document instead of the summary.

    Raises:
        CannotRun: The list cannot be read, or the folder already holds an order; then nothing is written.
    """
    if listing is None and shop is None:
        raise CannotRun(
            Fault(
                where="plaques start",
                found="no list is named",
                expected="the client's list",
                remedy="`plaques start LIST`, or `plaques start --shop FOLDER` for a shop file alone",
            )
        )
    new_shop = write_shop_file(shop) if shop is not None else None
    if listing is None:
        return _tell_shop(required(new_shop, "the shop file"), say, as_json=as_json)
    path = Path(listing)
    target = folder or path.resolve().parent / folder_name(path)
    drawings = _drawings_in(path.resolve().parent, target)
    plan = plan_order(path, area, sheet, list(drawings))
    order = target / ORDER_FILE
    own = find_shop_file(target, user_home())
    units = "mm" if own is None else read_shop(own).config.units
    place = "" if own is None else place_of(own, target)
    copy = target / plan.list_name
    data = file_bytes(path)
    if order.exists():
        raise CannotRun(
            Fault(
                where=str(order),
                found="there is already an order here",
                expected="a new folder",
                remedy="choose another with --in",
            )
        )
    if target.exists() and not target.is_dir():
        raise CannotRun(Fault(where=str(target), found="this is a file", expected="a folder, or a new name"))
    if copy.exists() and not (copy.is_file() and copy.read_bytes() == data):
        raise CannotRun(
            Fault(
                where=str(copy),
                found="there is already another file of this name",
                expected="a new folder",
                remedy="choose another with --in",
            )
        )
    badges = plan.badge.files if plan.badge is not None else ()
    drawn = {n: foreign_bytes(drawings[n], "a drawing", MOST_MB) for n in badges if not (target / n).exists()}
    if not copy.exists():
        write_whole(copy, data)
    for name, content in drawn.items():
        write_whole(target / name, content)
    write_whole(order, order_text(plan, units, place).encode("utf-8"))
    read = read_list(read_order(target))  # what was written must run; a fault here is one of ours and says so
    if as_json:
        document = {
            "order": str(order),
            "list": plan.list_name,
            "sheet": read.sheet,
            "header_row": read.header_row,
            "columns": dict(read.columns),
            "recipients": len(read.recipients),
            "check": plan.unsure,
            "drawings": list(badges),
            "shop_file": place or None,
        }
        say(json_text(document, indent=1))
        return 0
    count = len(read.recipients)
    lines = [
        f"{order}: an order for {count} recipient{'' if count == 1 else 's'}.",
        f"Sheet “{read.sheet}”, " + (f"header in row {read.header_row}, " if read.header_row else "no header, ")
        + ", ".join(f"{key} from {_columns(where)}" for key, where in read.columns) + ".",
    ]  # fmt: skip
    if plan.unsure:
        lines.append("Guesses to check, besides the blank, the typeface and the sizes:")
        lines += [f"  {words}" for words in plan.unsure]
    if badges:
        copied = " (copied into the folder)" if drawn else ""
        lines.append(f"Badges by row: {', '.join(badges[:MOST_SHOWN])}{copied}.")
    beside = [f for f in read.findings if f.code in _BESIDE]
    if beside:
        lines.append("Rows that are not recipients:")
        for f in beside[:MOST_SHOWN]:
            lines.append(f"  row {f.row}, {f.fact('reason') or _BESIDE[f.code]}: “{shorten(str(f.fact('text')), 90)}”")
        more = len(beside) - MOST_SHOWN
        lines += [f"  and {more} more, see check.xlsx"] if more > 0 else []
    if plan.unset:
        lines.append(f"No typeface on the shelf has {', '.join(plan.unset)}: put a font file into the folder.")
    lines.append(
        f"Values that are the same in all your orders come from {place}."
        if place
        else "There is no shop file yet. For your name, rates, label sheet, cutters and resins:\n"
        f"  plaques start --shop {shlex.quote(str(target.parent))}"
    )
    lines += ["", f"Next, in {target}:", numbered_steps()]
    say("\n".join(lines))
    return 0


def _tell_shop(found: FoundShop, say: Say, *, as_json: bool) -> int:
    """Say where the new shop file lies. Return 0."""
    if as_json:
        say(json_text({"shop_file": str(found.file)}, indent=1))
    else:
        say(f"{found.file}: a shop file, for every order in its folder and below. Open it and fill in what you know.")
    return 0


def _drawings_in(*folders: Path) -> dict[str, Path]:
    """Name -> place of the drawings in these folders, those of the last first."""
    found: dict[str, Path] = {}
    for folder in folders:
        with contextlib.suppress(OSError):
            there = sorted(folder.iterdir())
            found |= {p.name: p for p in there if p.suffix.lower() in ARTWORK_SUFFIXES and p.is_file()}
    return found


def _columns(where: str) -> str:
    """The letters of a key's columns, in words."""
    letters = where.split()
    return f"column{'s' if len(letters) > 1 else ''} {' + '.join(letters)}"
