"""`plaques start`: a new order folder for a client's list."""

from __future__ import annotations

import contextlib
import shutil
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from pipeline.artwork.artwork_file import MOST_MB
from pipeline.commands.first_steps import number_steps
from pipeline.commands.sample_designs import find_design
from pipeline.core.catalogue import drawing_kinds, format_message, list_kinds
from pipeline.core.config.order import locate_file
from pipeline.core.config.shop_config import ShopConfig
from pipeline.core.environment.own_fonts import NO_FONTS, OwnFonts, list_own_fonts
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.findings import Finding
from pipeline.core.language.printed_command import format_command
from pipeline.core.model import RecipientList
from pipeline.core.printable import write_json_text
from pipeline.core.required import require_value
from pipeline.core.storage.door import read_foreign_bytes
from pipeline.core.storage.files import write_whole
from pipeline.core.units import SpokenUnits, UnitName, Units
from pipeline.cutting.cutters import choose_cutter
from pipeline.intake.carried_design import (
    SHOP_FONTS,
    CarriedTables,
    EarlierDesign,
    carry_tables,
    list_row_drawings,
    read_design,
    read_design_files,
)
from pipeline.intake.design_columns import MatchedColumns, match_columns
from pipeline.intake.drawing.layer_guess import GuessedBlank, guess_blank
from pipeline.intake.names.wording import shorten
from pipeline.intake.new_order import CHECK, NewOrderPlan, choose_file_name, choose_folder_name, clean_text, plan_order
from pipeline.intake.new_order_text import write_carried_order, write_order_text
from pipeline.intake.new_shop import write_shop_file
from pipeline.intake.order.consistency_rules import ARTWORK_SUFFIXES
from pipeline.intake.order.error_messages import describe_unknown_column
from pipeline.intake.order.order_file import ORDER_FILE, read_order
from pipeline.intake.order.shop_file import FoundShop, find_shop_file, find_user_home, read_shop
from pipeline.intake.recipients.read_list import read_list
from pipeline.intake.spreadsheet.read_sheet import read_file_bytes
from pipeline.lettering.shelf import Shelf

MOST_SHOWN = 12
_TOLD_ALREADY = frozenset({drawing_kinds.ONE_LAYER.code})
"""Findings of a drawing that only repeat its list of layers."""
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
    drawing: Path | None = None,
    drawing_units: UnitName | None = None,
    design_of: str | None = None,
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
        drawing: The drawing of the blank, which goes into the folder too.
        drawing_units: The unit of a drawing that does not say its own.
        design_of: An earlier order, or the name of a sample, whose design the new one has.
        say: Called with the text to print.
        as_json: Print one JSON document instead of the summary.

    Raises:
        CannotRun: The list, the drawing or the earlier order cannot be read, or the folder already holds an order; then
            nothing is written.
    """
    if listing is None and (shop is None or drawing is not None or design_of is not None):
        raise CannotRun(
            Fault(
                where="plaques start",
                found="no list is named",
                expected="the client's list",
                remedy="`plaques start LIST`, or `plaques start --shop FOLDER` for a shop file alone",
            )
        )
    if drawing_units is not None and drawing is None:
        raise CannotRun(Fault(where="--drawing-units", found="no drawing is named", expected="--drawing FILE with it"))
    if listing is None:
        return _tell_shop(write_shop_file(require_value(shop, "the folder of the shop file")), say, as_json=as_json)
    if drawing is not None and design_of is not None:
        found = "a drawing, and a design that has its own blank"
        raise CannotRun(Fault(where="--drawing", found=found, expected="one of --drawing and --design-of"))
    path = Path(listing)
    target = folder or path.resolve().parent / choose_folder_name(path)
    beside = _list_drawings(path.resolve().parent, target)
    files = {}
    drawn: GuessedBlank | None = None
    carried: _Carried | None = None
    if design_of is not None:
        carried = _Carried(design=read_design(*find_design(design_of)))
        beside = list_row_drawings(carried.design) | beside
    plan = plan_order(path, area, sheet, list(beside))
    files[plan.list_name] = read_file_bytes(path)
    if carried is not None:
        plan = carried.match_plan(plan, _find_own_fonts(target))
        wanted = plan.badge.files if plan.badge is not None else ()
        files |= read_design_files(carried.design, beside, wanted, carried.shop_fonts)
    elif plan.badge is not None:
        named = [name for name in plan.badge.files if not (target / name).exists()]
        files |= {name: read_foreign_bytes(beside[name], "a drawing", MOST_MB) for name in named}
    if drawing is not None:
        drawn = _read_drawing(drawing, drawing_units, files)
    _require_free(target, files)
    if shop is not None:
        write_shop_file(shop)
    own = find_shop_file(target, find_user_home())
    units = _choose_units(None if own is None else read_shop(own).config, drawn)
    place = "" if own is None else locate_file(own, target)
    if carried is not None:
        units = carried.design.order.order.units
        text = write_carried_order(plan, carried.design, carried.matched, carried.tables, place)
    else:
        text = write_order_text(plan, units, place, drawn)
    read = _write_order(target, files, text, carried)
    begun = _Begun(plan=plan, target=target, read=read, units=units, place=place, drawn=drawn, carried=carried)
    say(
        write_json_text(_build_document(begun), indent=1)
        if as_json
        else "\n".join(_describe_start(begun, copied=set(files)))
    )
    return 0


def _find_own_fonts(target: Path) -> OwnFonts:
    """Find the fonts of the shop whose file counts for this folder."""
    file = find_shop_file(target, find_user_home())
    return NO_FONTS if file is None else list_own_fonts(file, read_shop(file).config.shop.fonts)


class _Carried:
    """The design of an earlier order, to be used in a new one."""

    def __init__(self, design: EarlierDesign) -> None:
        self.design = design
        self.matched = MatchedColumns(columns=(), missing=(), used=frozenset())
        self.tables = CarriedTables(text="", left=())
        self.shop_fonts: Mapping[str, Path] = {}

    def match_plan(self, plan: NewOrderPlan, fonts: OwnFonts) -> NewOrderPlan:
        """Return the plan of the list, matched with the design's columns. fonts: the new order's shop's own."""
        design = self.design
        self.shop_fonts = design.list_shop_fonts(fonts)
        self.matched = match_columns(plan, design.needed, design.columns, design.drawings_key)
        self.tables = carry_tables(design, self.matched, self.shop_fonts)
        return replace(plan, columns=self.matched.columns, unused=plan.found.list_unused(self.matched.used))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Begun:
    """An order folder that was written. read: its list; None where it lacks a column of the design."""

    plan: NewOrderPlan
    target: Path
    read: RecipientList | None
    units: UnitName
    place: str  # path of the shop file
    drawn: GuessedBlank | None
    carried: _Carried | None

    @property
    def recipients(self) -> int:
        return self.plan.recipients if self.read is None else len(self.read.recipients)


def _write_order(target: Path, files: Mapping[str, bytes], text: str, carried: _Carried | None) -> RecipientList | None:
    """Write the folder and read it back; None where a column is missing, which the order file says. CannotRun, with
    nothing left behind, where the design can't be used here."""
    new = [name for name in (*files, ORDER_FILE) if not (target / name).exists()]
    made = not target.exists()
    for name in new:
        write_whole(target / name, text.encode("utf-8") if name == ORDER_FILE else files[name])
    if carried is None:
        return read_list(read_order(target))  # it must be readable; if not, that is an internal error
    try:
        return read_list(read_order(target, faces=Shelf().names, cutter=choose_cutter))
    except CannotRun as problem:
        lacking = [describe_unknown_column(key) for key in carried.matched.missing]
        amiss = [fault for fault in problem.faults if fault.found not in lacking]
        if not amiss:
            return None
        for name in new:
            (target / name).unlink(missing_ok=True)
        if made:
            shutil.rmtree(target, ignore_errors=True)
        where = f"--design-of {carried.design.name}, in {target}"
        raise CannotRun([replace(fault, where=f"{where}: {_find_key(fault)}") for fault in amiss]) from None


def _find_key(fault: Fault) -> str:
    """Return the key at fault without the file's name: the file is already removed."""
    return fault.where.rpartition(f"{ORDER_FILE} ")[2]


def _build_document(begun: _Begun) -> dict[str, object]:
    """The JSON document."""
    plan, read, drawn, carried = begun.plan, begun.read, begun.drawn, begun.carried
    document: dict[str, object] = {
        "order": str(begun.target / ORDER_FILE),
        "list": plan.list_name,
        "sheet": read.sheet if read is not None else plan.sheet.value if plan.sheet is not None else None,
        "header_row": read.header_row if read is not None else int(plan.header.value),
        "columns": dict(read.columns) if read is not None else {key: choice.value for key, choice in plan.columns},
        "recipients": begun.recipients,
        "check": plan.unsure + (drawn.unsure if drawn is not None else []),
        "drawings": list(plan.badge.files if plan.badge is not None else ()),
        "shop_file": begun.place or None,
    }
    if drawn is not None:
        document["blank"] = _list_blank_fields(drawn)
    if carried is not None:
        document["design"] = {
            "of": carried.design.sample or str(carried.design.order.folder),
            "missing": list(carried.matched.missing),
            "left": list(carried.tables.left),
            "shop_fonts": sorted(carried.shop_fonts),
        }
    return document


def _describe_start(begun: _Begun, copied: set[str]) -> list[str]:
    """Return the text for the terminal. copied: files that were written into the folder."""
    plan, read, drawn, carried, target = begun.plan, begun.read, begun.drawn, begun.carried, begun.target
    count = begun.recipients
    of = f", with the design of {carried.design.name}" if carried is not None else ""
    lines = [f"{target / ORDER_FILE}: an order for {count} recipient{'' if count == 1 else 's'}{of}."]
    if read is not None:
        lines.append(
            f"Sheet “{read.sheet}”, " + (f"header in row {read.header_row}, " if read.header_row else "no header, ")
            + ", ".join(f"{key} from {_format_columns(where)}" for key, where in read.columns) + "."
        )  # fmt: skip
    if drawn is not None:
        lines += _describe_blank(drawn, SpokenUnits(begun.units))
    if carried is not None:
        lines += _describe_design(carried, sorted(copied - {plan.list_name}), plan.unused)
    if plan.unsure:
        besides = "the blank, the typeface and the sizes"
        if drawn is not None:
            besides = f"the drawing's layers, the thickness{besides.removeprefix('the blank')}"
        lines.append("Guesses to check:" if carried is not None else f"Guesses to check, besides {besides}:")
        lines += [f"  {words}" for words in plan.unsure]
    if plan.badge is not None and carried is None:
        told = " (copied into the folder)" if copied & set(plan.badge.files) else ""
        lines.append(f"Badges by row: {', '.join(plan.badge.files[:MOST_SHOWN])}{told}.")
    lines += _describe_left_out(read.findings if read is not None else ())
    if plan.unset and carried is None:
        lines.append(f"No typeface on the shelf has {', '.join(plan.unset)}: put a font file into the folder.")
    return [*lines, _describe_shop(begun.place, target), "", f"Next, in {target}:", number_steps()]


def _describe_design(carried: _Carried, files: Sequence[str], unused: Sequence[str]) -> list[str]:
    """Describe what was taken of the design, what wasn't, and what the list lacks for it."""
    order = carried.design.order.order
    lines = [f"The design has {len(order.line)} line{'s' if len(order.line) != 1 else ''} of lettering"
             + (f" and {len(order.artwork)} of artwork" if order.artwork else "")
             + (f"; its files are copied: {_format_list(files)}." if files else ".")]  # fmt: skip
    if carried.shop_fonts:
        lines.append(f"From the own fonts of its shop, into {SHOP_FONTS}: {_format_list(sorted(carried.shop_fonts))}. "
                     "See that you may use them for this job.")  # fmt: skip
    if carried.design.sample:
        lines.append("Its sizes, its material and its figures are invented: check every one of them.")
    if carried.tables.left:
        lines.append(f"Not taken: {', '.join(carried.tables.left)}.")
    if carried.matched.missing:
        lines.append("The order does not run yet. The list lacks these columns of the design:")
        lines += [f"  {key}: write its heading into [list] columns, or take {{{key}}} out of the design"
                  for key in carried.matched.missing]  # fmt: skip
        free = [f"“{clean_text(word)}”" for word in unused]
        lines += [f"  headings not used: {_format_list(free)}"] if free else []
    return lines


def _format_list(names: Sequence[str]) -> str:
    more = len(names) - MOST_SHOWN
    return ", ".join(names[:MOST_SHOWN]) + (f" and {more} more" if more > 0 else "")


def _read_drawing(drawing: Path, unit: UnitName | None, files: dict[str, bytes]) -> GuessedBlank:
    """Read the blank from the drawing, and add the drawing to the files of the new folder."""
    data = read_foreign_bytes(drawing, "the drawing of the blank", MOST_MB)
    name = choose_file_name(drawing, "drawing")
    if not name.lower().endswith(".dxf"):
        name = f"{Path(name).stem}.dxf"  # the name matters no more: the content has been read
    drawn = guess_blank(drawing, data, name, unit, Units(unit or "mm"))
    files[name] = data
    return drawn


def _require_free(target: Path, files: Mapping[str, bytes]) -> None:
    """Raise CannotRun where the folder already holds an order, or a file of one of these names."""
    order = target / ORDER_FILE
    another = "choose another with --in"
    if order.exists():
        found = "there is already an order here"
        raise CannotRun(Fault(where=str(order), found=found, expected="a new folder", remedy=another))
    if target.exists() and not target.is_dir():
        raise CannotRun(Fault(where=str(target), found="this is a file", expected="a folder, or a new name"))
    for name, data in files.items():
        copy = target / name
        if copy.exists() and not (copy.is_file() and copy.read_bytes() == data):
            found = "there is already another file of this name"
            raise CannotRun(Fault(where=str(copy), found=found, expected="a new folder", remedy=another))


def _choose_units(shop: ShopConfig | None, drawn: GuessedBlank | None) -> UnitName:
    """Choose the order's unit: the shop's, or else the drawing's."""
    if shop is not None and (drawn is None or "units" in shop.model_fields_set):
        return shop.units
    return "mm" if drawn is None else drawn.order_units


def _list_blank_fields(drawn: GuessedBlank) -> dict[str, object]:
    """Return the JSON fields for the drawing; lengths in mm."""
    return {
        "drawing": drawn.part.drawing,
        "drawn_in": drawn.unit_name,
        "width": round(drawn.blank.width, 4),
        "height": round(drawn.blank.height, 4),
        "holes": len(drawn.blank.holes),
        "layers": [{"layer": g.layer, "taken_for": g.role or None, "why": g.why, "sure": g.sure} for g in drawn.layers],
        "findings": [{"code": f.code, "message": format_message(f)} for f in drawn.findings],
    }


def _describe_blank(drawn: GuessedBlank, units: Units) -> list[str]:
    """Describe how the drawing was understood."""
    size = f"{units.format_number(drawn.blank.width)} × {units.show(drawn.blank.height)}"
    lines = [f"Drawing {drawn.part.drawing}, drawn in {drawn.unit_name}: a blank of {size}. Its layers:"]
    lines += [f"  {'' if guess.sure else f'{CHECK}: '}{guess.words}" for guess in drawn.layers[:MOST_SHOWN]]
    more = len(drawn.layers) - MOST_SHOWN
    lines += [f"  and {more} more, see {ORDER_FILE}"] if more > 0 else []
    return lines + [
        f"  {format_message(finding, units)}" for finding in drawn.findings if finding.code not in _TOLD_ALREADY
    ]


def _describe_left_out(findings: Sequence[Finding]) -> list[str]:
    """Describe the rows that aren't recipients."""
    beside = [f for f in findings if f.code in _BESIDE]
    if not beside:
        return []
    lines = ["Rows that are not recipients:"]
    for f in beside[:MOST_SHOWN]:
        lines.append(
            f"  row {f.row}, {f.get_fact('reason') or _BESIDE[f.code]}: “{shorten(str(f.get_fact('text')), 90)}”"
        )
    more = len(beside) - MOST_SHOWN
    return lines + ([f"  and {more} more, see check.xlsx"] if more > 0 else [])


def _describe_shop(place: str, target: Path) -> str:
    if place:
        return f"Values that are the same in all your orders come from {place}."
    return (
        "There is no shop file yet. For your name, rates, label sheet, cutters and resins:\n"
        f"  {format_command('plaques', 'start', '--shop', target.parent)}"
    )


def _tell_shop(found: FoundShop, say: Say, *, as_json: bool) -> int:
    """Print where the new shop file is. Return 0."""
    if as_json:
        say(write_json_text({"shop_file": str(found.file)}, indent=1))
    else:
        say(f"{found.file}: a shop file, for every order in its folder and below. Open it and fill in what you know.")
    return 0


def _list_drawings(*folders: Path) -> dict[str, Path]:
    """Map the drawings in these folders, the last folder's first: name -> path."""
    found: dict[str, Path] = {}
    for folder in folders:
        with contextlib.suppress(OSError):
            there = sorted(folder.iterdir())
            found |= {p.name: p for p in there if p.suffix.lower() in ARTWORK_SUFFIXES and p.is_file()}
    return found


def _format_columns(where: str) -> str:
    """Write out the letters of a key's columns."""
    letters = where.split()
    return f"column{'s' if len(letters) > 1 else ''} {' + '.join(letters)}"
