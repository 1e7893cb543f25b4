"""Consistency rules between the keys of an order file, and for the files it names."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath, PureWindowsPath

from pipeline.core.config.order import (
    ArtworkConfig,
    BlankConfig,
    CutterConfig,
    FilesConfig,
    LayersConfig,
    LineConfig,
    ListConfig,
)
from pipeline.core.config.placeholders import PlaceholderError, list_placeholders
from pipeline.core.config.shop_config import NO_SHOP, ShopConfig
from pipeline.core.environment.own_fonts import FONT_SUFFIXES, NO_FONTS, OwnFonts
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.units import Units
from pipeline.intake.order.error_messages import FaultPlaces, describe_unknown_column, find_nearest_name
from pipeline.intake.order.line_rules import list_line_faults, list_tie_faults
from pipeline.intake.order.settled_questions import check_settled
from pipeline.intake.recipients.date_texts import list_date_faults
from pipeline.intake.spreadsheet.list_formats import LIST_SUFFIXES
from pipeline.intake.spreadsheet.sheet_areas import list_area_faults

ARTWORK_SUFFIXES = (".svg", ".dxf")
_CUT = ("EDGE", "ENGRAVE", "LINE", "FLOOR", "ROUGH", "GROOVE", "POCKET", "REST")
CUT_LAYERS = (*_CUT, "REGISTRATION", "ZONE", "KEEP_OUT")
BOARD_LAYERS = ("DATUM", "BOARD", "SAW", "CLAMP", "KNOT")
JIG_LAYERS = ("BLANK", "JIG")
_LAYERS = CUT_LAYERS + BOARD_LAYERS + JIG_LAYERS

_LAYER_NAMES = {
    "R12": (re.compile(r"[A-Z0-9$_-]{1,31}"), "1 to 31 of A–Z 0–9 $ _ -"),
    "later": (
        re.compile(r'(?! )[^<>/\\":;?*|,=`]{1,255}(?<! )'),
        'up to 255 plain letters, digits and signs (ASCII), none of < > / \\ " : ; ? * | , = `, no space at either end',
    ),
}
"""Published DXF reference: names of symbol table entries in R12, and from R2000 on."""
_TAKEN_LAYERS = {"0": "layer 0 takes on the looks of what it is put into", "defpoints": "layer Defpoints never plots"}
"""Likewise: layers every drawing has, which mean something of their own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderTables:
    """The tables of an order file that could be read; None for one that has faults of its own."""

    listing: ListConfig | None
    blank: BlankConfig | None
    cutter: CutterConfig | None
    files: FilesConfig | None
    lines: tuple[LineConfig | None, ...]
    artwork: tuple[ArtworkConfig | None, ...] = ()


CutterMaker = Callable[[CutterConfig, ShopConfig, FaultPlaces, Units], object]
"""Makes the cutter that an order asks for in a shop. CannotRun, with the keys by their places, when there is no such
cutter."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownNames:
    """What the order may name besides its own files; None where unknown (then it isn't checked)."""

    faces: Collection[str] | None = None
    cutter: CutterMaker | None = None
    shop: ShopConfig = NO_SHOP
    fonts: OwnFonts = NO_FONTS


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleContext:
    """The context of every check: places in the file, the order folder, the order's unit."""

    places: FaultPlaces
    folder: Path
    unit: Units
    known: KnownNames


def check_consistency(parts: OrderTables, ground: RuleContext) -> list[Fault]:
    """Return every inconsistency, in the order of the file."""
    faults: list[Fault] = []
    if parts.listing is not None:
        faults += _check_list(parts.listing, ground)
    if parts.blank is not None:
        faults += _check_blank(parts.blank, ground)
    if parts.cutter is not None:
        faults += _check_cutter(parts.cutter, ground)
    for number, line in enumerate(parts.lines):
        if line is not None:
            faults += _check_line(number, line, parts, ground)
    for number, figure in enumerate(parts.artwork):
        if figure is not None:
            faults += _check_artwork(number, figure, parts, ground)
    faults += list_tie_faults(parts.lines, ground.places)
    if parts.files is not None:
        faults += _check_files(parts.files, ground.places)
    return faults


# --- files named in the order ----------------------------------------------------------------------------------


def check_file(where: str, name: str, folder: Path, what: str, suffixes: tuple[str, ...]) -> Fault | None:
    """Return why this name isn't a readable file of the order folder; None when it is one."""
    expected = f"{what} in the order folder"
    windows = PureWindowsPath(name)
    if not name.strip() or "\0" in name:
        return Fault(where=where, found="the file name is empty or not a name", expected=expected)
    if PurePosixPath(name).is_absolute() or windows.is_absolute() or windows.drive or windows.root or name[0] == "~":
        return Fault(
            where=where,
            found=f"“{name}” leads out of the order folder",
            expected=expected,
            remedy="copy the file into the order folder and write its name alone",
        )
    if ".." in windows.parts:
        return Fault(
            where=where,
            found=f"“{name}” leads out of the order folder",
            expected=expected,
            remedy="copy the file into the order folder; “..” is not allowed",
        )
    path = folder / name
    home = folder.resolve()
    try:
        if "\\" in name and not path.exists():
            return Fault(where=where, found=f"“{name}” has a backslash", expected="/ between folder and file")
        real = path.resolve()
        if not real.is_relative_to(home):
            return Fault(
                where=where,
                found=f"“{name}” is a link that leads out of the order folder",
                expected=expected,
                remedy="copy the file itself into the order folder",
            )
        if not real.exists():
            there = sorted(p.name for p in path.parent.iterdir()) if path.parent.is_dir() else []
            alike = [n for n in there if n.lower().endswith(suffixes)]
            return Fault(
                where=where,
                found=f"there is no file “{name}” in {folder}",
                expected=expected,
                remedy=find_nearest_name(name, alike),
            )
        if not real.is_file():
            kind = "a folder" if real.is_dir() else "a pipe, a device or a socket"
            return Fault(where=where, found=f"“{name}” is {kind}, not a file", expected=expected)
        if not os.access(real, os.R_OK):
            return Fault(where=where, found=f"“{name}” may not be read", remedy="check its permissions")
    except (OSError, RuntimeError, ValueError) as error:  # a name that the system can't look up, or a loop of links
        return Fault(where=where, found=f"“{name}” cannot be looked up ({error})", expected=expected)
    if not name.lower().endswith(suffixes):
        return Fault(
            where=where,
            found=f"“{name}” does not end in {' '.join(suffixes)}",
            expected=expected,
            remedy=_suggest_format(name, suffixes),
        )
    return None


def _suggest_format(name: str, suffixes: tuple[str, ...]) -> str:
    """Return what to do with a file in a format that isn't read here."""
    suffix = PurePosixPath(name).suffix.lower()
    if ".xlsx" in suffixes and suffix in (".numbers", ".pdf"):
        return "save the list as .xlsx" if suffix == ".numbers" else "ask the client for the list as a spreadsheet"
    if ".png" in suffixes and suffix in (".svg", ".pdf", ".ai", ".eps"):
        return "save the picture as .png"
    if ".dxf" in suffixes and suffix in (".dwg", ".svg", ".pdf", ".ai", ".eps"):
        return f"save the drawing as {' or '.join(suffixes)}"
    return ""


def _check_list(part: ListConfig, ground: RuleContext) -> Iterator[Fault]:
    places = ground.places
    fault = check_file(places("list", "file"), part.file, ground.folder, "the client's list", LIST_SUFFIXES)
    if fault:
        yield fault
    for key, heading in part.columns.items():
        where = places("list", "columns", key)
        if not key.strip() or set(key) & set("{}"):
            yield Fault(where=where, found=f"“{key}” cannot be a name in braces", expected="letters, e.g. name")
        if not heading or not all(h.strip() for h in ([heading] if isinstance(heading, str) else heading)):
            yield Fault(where=where, found="the heading is empty", expected="a column heading of the list")

    yield from _check_further_lists(part, ground)
    yield from check_settled(part.settled, places("list", "settled"), part.further)
    yield from list_date_faults(part.dates, [*part.columns], places("list", "dates"))
    yield from list_area_faults(part.area, places("list", "area"))


def _check_further_lists(part: ListConfig, ground: RuleContext) -> Iterator[Fault]:
    known = [("file", ground.folder / part.file)]
    for number, name in enumerate(part.more):
        where = ground.places("list", "more", number)
        if fault := check_file(where, name, ground.folder, "a further list", LIST_SUFFIXES):
            yield fault
            continue
        if not name.isprintable():
            found, expected = f"“{name!a}” has a character that cannot be printed", "a name that papers can show"
            yield Fault(where=where, found=found, expected=expected, remedy="rename the file")
        path = ground.folder / name
        same = next((key for key, other in known if other.is_file() and other.samefile(path)), None)
        if same is not None:
            said = "the order's first list" if same == "file" else "named under `more` already"
            expected = "each list once: a list that is named twice would be cut twice"
            yield Fault(where=where, found=f"“{name}” is {said}", expected=expected, remedy="take it out of `more`")
        known.append(("more", path))


# --- the blank -------------------------------------------------------------------------------------------------

_OF_SHAPE = {
    "rectangle": ("width", "height", "corner_radius"),
    "disc": ("diameter",),
}
_OF_DRAWING = ("layers", "gap", "drawing_units")


def list_zones(layers: LayersConfig) -> list[str]:
    """Return the zones that an order may name: each zone layer is one."""
    return [layers.zone] if isinstance(layers.zone, str) else list(layers.zone)


def _check_blank(part: BlankConfig, ground: RuleContext) -> Iterator[Fault]:
    places, given = ground.places, part.model_fields_set
    if (part.drawing is None) == (part.shape is None):
        found = "has both drawing and shape" if part.shape else "has neither drawing nor shape"
        yield Fault(
            where=places("blank"),
            found=found,
            expected='one of them: drawing = "….dxf", or shape = "rectangle" or "disc"',
        )
    elif part.shape is not None:
        yield from _check_shape(part, part.shape, ground)
    else:
        for key in sorted({k for keys in _OF_SHAPE.values() for k in keys} & given):
            yield Fault(
                where=places("blank", key),
                found="a blank from a drawing has its size from the drawing",
                remedy=f"take {key} out, or use shape instead of drawing",
            )
    if part.drawing is not None:
        fault = check_file(places("blank", "drawing"), part.drawing, ground.folder, "a drawing", (".dxf",))
        if fault:
            yield fault
    if "layers" in given:
        yield from _check_layers(part.layers, places)


def _check_shape(part: BlankConfig, shape: str, ground: RuleContext) -> Iterator[Fault]:
    places, unit = ground.places, ground.unit
    own = _OF_SHAPE[shape]
    foreign = [k for keys in _OF_SHAPE.values() for k in keys if k not in own] + list(_OF_DRAWING)
    for key in foreign:
        if key in part.model_fields_set:
            yield Fault(
                where=places("blank", key),
                found=f'shape = "{part.shape}" has no {key}',
                expected=", ".join(own),
                remedy=f"take {key} out",
            )
    needed = [k for k in own if k != "corner_radius"]
    missing = [k for k in needed if getattr(part, k) is None]
    for key in missing:
        yield Fault(where=places("blank", key), found="missing", expected=f'a length: shape = "{part.shape}" needs it')
    if missing:
        return
    least = min(getattr(part, k) for k in needed)
    if part.corner_radius * 2 > least:
        yield Fault(
            where=places("blank", "corner_radius"),
            found=f"{unit.show(part.corner_radius)} is more than the corners have room for",
            expected=f"at most half the shorter side, {unit.show(least / 2)}",
        )
    if part.margin * 2 >= least:
        yield Fault(
            where=places("blank", "margin"),
            found=f"a margin of {unit.show(part.margin)} leaves nothing of a blank {unit.show(least)} across",
            expected=f"less than {unit.show(least / 2)}",
        )


def _check_layers(layers: LayersConfig, places: FaultPlaces) -> Iterator[Fault]:
    zones = list_zones(layers)
    if not zones:
        yield Fault(where=places("blank", "layers", "zone"), found="an empty list", expected="at least one layer name")
    uses: dict[str, str] = {}
    named = [("edge", layers.edge), *(("zone", z) for z in zones)]
    further = (("keep_out", layers.keep_out), ("pocket", layers.pocket), ("artwork", layers.artwork))
    named += [(k, v) for k, v in further if v is not None]
    for key, layer in named:
        where = places("blank", "layers", key)
        if not layer.strip():
            yield Fault(where=where, found="the name is empty", expected="a layer of the drawing")
        elif key == "zone" and layer.casefold() == layers.edge.casefold():
            continue  # without a zone, lettering may go anywhere inside the edge
        elif layer.casefold() in uses:
            yield Fault(
                where=where,
                found=f"layer “{layer}” is already the {uses[layer.casefold()]} layer",
                expected="a layer of its own for each",
            )
        uses.setdefault(layer.casefold(), key)


# --- the cutter ------------------------------------------------------------------------------------------------


def _check_cutter(part: CutterConfig, ground: RuleContext) -> Iterator[Fault]:
    if ground.known.cutter is None:
        return
    try:
        ground.known.cutter(part, ground.known.shop, ground.places, ground.unit)
    except CannotRun as problem:
        yield from problem.faults


# --- lines of lettering ----------------------------------------------------------------------------------------


def _check_line(number: int, line: LineConfig, parts: OrderTables, ground: RuleContext) -> Iterator[Fault]:
    def locate_key(key: str) -> str:
        return ground.places("line", number, key)

    yield from _check_text(line.text, locate_key("text"), parts.listing)
    if line.smallest is not None and line.smallest > line.cap_height:
        cap, smallest = ground.unit.format_pair(line.cap_height, line.smallest)
        yield Fault(
            where=locate_key("smallest"),
            found=f"smallest is {smallest} but cap_height only {cap}",
            expected="smallest at most cap_height",
            remedy="raise cap_height or lower smallest",
        )
    if line.opposite is not None:
        yield from _check_text(line.opposite, locate_key("opposite"), parts.listing)
    yield from list_line_faults(number, line, ground.places)
    if parts.blank is not None:
        yield from _check_zone(line, locate_key("zone"), parts.blank)
    for key, face in [("face", line.face), *(("also", face) for face in line.also)]:
        fault = check_face(locate_key(key), face, ground.known, ground.folder)
        if fault:
            yield fault


def _check_text(text: str, where: str, listing: ListConfig | None) -> Iterator[Fault]:
    if not text.strip():
        yield Fault(where=where, found="the text is empty", expected='words, or a column in braces: "{name}"')
        return
    try:
        fields = list_placeholders(text)
    except PlaceholderError as error:
        yield Fault(where=where, found=f"in “{text}” {error}", expected='a column in braces: "{name}"')
        return
    if listing is not None and listing.columns:
        yield from find_unknown_fields(fields, listing.columns, where)


def find_unknown_fields(fields: tuple[str, ...], columns: Collection[str], where: str) -> Iterator[Fault]:
    """Return a fault for each field that isn't one of the columns."""
    for name in fields:
        if name not in columns:
            yield Fault(
                where=where,
                found=describe_unknown_column(name),
                expected=f"one of {', '.join(columns)}",
                remedy=hint
                if (hint := find_nearest_name(name, columns)).startswith("did you")
                else "add it to [list] columns",
            )


def _check_zone(line: LineConfig, where: str, blank: BlankConfig) -> Iterator[Fault]:
    zones = list_zones(blank.layers)
    if line.zone is None and len(zones) > 1 and blank.drawing is not None:
        yield Fault(where=where, found="the blank has several zones", expected=f"one of {', '.join(zones)}")
    elif line.zone is not None and line.zone not in zones:
        yield Fault(
            where=where, found=f"there is no zone “{line.zone}”", expected=f"one of [blank] layers: {', '.join(zones)}"
        )


def check_face(where: str, face: str, known: KnownNames, folder: Path) -> Fault | None:
    """Return why this is no typeface of the shelf or the shop and no font file of the order; None if it is one."""
    name, hash_, index = face.partition("#")
    if name.lower().endswith(FONT_SUFFIXES) or "/" in name or "\\" in name:
        if hash_ and not index.isdecimal():
            return Fault(
                where=where, found=f"“{face}”", expected="a number after #: which face of the collection, from 0"
            )
        return check_file(where, name, folder, "a font file", FONT_SUFFIXES)
    own = known.fonts
    if known.faces is not None and (unclear := own.find_fault(face, where, known.faces)):
        return unclear
    if known.faces is not None and face not in known.faces and face not in own.files:
        beside = [p.name for p in sorted(folder.iterdir()) if p.suffix.lower() in FONT_SUFFIXES]
        return Fault(
            where=where,
            found=f"no face “{face}” on the shelf" + (f", and {own.problem}" if own.problem else ""),
            expected="a name from `plaques faces`, or a font file in the order folder",
            remedy=find_nearest_name(face, [*known.faces, *own.files, *beside]),
        )
    return None


# --- artwork ---------------------------------------------------------------------------------------------------


def _check_artwork(number: int, part: ArtworkConfig, parts: OrderTables, ground: RuleContext) -> Iterator[Fault]:
    def locate_key(key: str) -> str:
        return ground.places("artwork", number, key)

    fields: tuple[str, ...] = ()
    try:
        fields = list_placeholders(part.file)
    except PlaceholderError as error:
        yield Fault(
            where=locate_key("file"), found=f"in “{part.file}” {error}", expected='a column in braces: "{badge}"'
        )
        return
    if fields and parts.listing is not None and parts.listing.columns:
        yield from find_unknown_fields(fields, parts.listing.columns, locate_key("file"))
    if not fields:
        fault = check_file(locate_key("file"), part.file, ground.folder, "a client's drawing", ARTWORK_SUFFIXES)
        if fault:
            yield fault
    dxf = part.file.lower().endswith(".dxf") or bool(fields)
    if part.layers is not None and (not dxf or not part.layers):
        found = "an SVG has no layers" if part.layers else "an empty list"
        yield Fault(where=locate_key("layers"), found=found, expected="layers of a .dxf", remedy="take layers out")
    if (part.zone is None) == (part.at is None):
        found = "has both zone and at" if part.zone else "has neither zone nor at"
        yield Fault(
            where=ground.places("artwork", number),
            found=found,
            expected='one of them: zone = "…", in whose middle it goes, or at = [x, y], its middle from the lower left',
        )
    if part.depth is not None and part.cut != "line":
        yield Fault(
            where=locate_key("depth"),
            found='a depth, but cut = "engrave": areas are as deep as lettering is',
            expected='cut = "line", or no depth',
        )
    if part.zone is not None and parts.blank is not None and part.zone not in (names := list_zones(parts.blank.layers)):
        yield Fault(
            where=locate_key("zone"),
            found=f"there is no zone “{part.zone}”",
            expected=f"one of [blank] layers: {', '.join(names)}",
        )


# --- cut files -------------------------------------------------------------------------------------------------


def _check_files(part: FilesConfig, places: FaultPlaces) -> Iterator[Fault]:
    taken = {name.casefold(): name for name in _LAYERS if name not in part.layers}
    for ours, theirs in part.layers.items():
        where = places("files", "layers", ours)
        if ours not in _LAYERS:
            yield Fault(
                where=where, found=f"“{ours}” is not a layer of the cut files", remedy=find_nearest_name(ours, _LAYERS)
            )
        pattern, expected = _LAYER_NAMES["R12" if part.version == "R12" else "later"]
        if not theirs.isascii() or not theirs.isprintable() or not pattern.fullmatch(theirs):
            yield Fault(
                where=where,
                found=f"“{theirs}” cannot be a layer name{' in R12' if part.version == 'R12' else ''}",
                expected=expected,
            )
        elif theirs.casefold() in _TAKEN_LAYERS:
            yield Fault(
                where=where,
                found=f"“{theirs}”, but {_TAKEN_LAYERS[theirs.casefold()]}",
                expected="another name",
            )
        elif theirs.casefold() in taken:
            yield Fault(where=where, found=f"“{theirs}” is already the name of {taken[theirs.casefold()]}")
        taken.setdefault(theirs.casefold(), ours)
