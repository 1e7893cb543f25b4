"""Reuse of an earlier order's or a sample's design for a new list: its tables as written, its files, and what isn't
taken.

Approvals, ledger, title, client and list are never taken. The result is compared with the original: a file that can't
be split without a change is written anew, without its comments.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, Item, Table

from pipeline.core.config.order import OrderFolder
from pipeline.core.config.placeholders import list_placeholders
from pipeline.core.environment.own_fonts import FONT_SUFFIXES, OwnFonts
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.storage.door import read_foreign_bytes
from pipeline.intake.design_columns import MatchedColumns
from pipeline.intake.new_order import CHECK
from pipeline.intake.order.consistency_rules import ARTWORK_SUFFIXES
from pipeline.intake.order.order_file import read_order
from pipeline.intake.order.toml_text import decode_toml, encode_toml, parse_toml

MOST_MB = 100
"""Most megabytes of one file of the design: fonts with all Chinese characters have about 20."""
COMMENTS_AT = 36
"""Column of an added comment, unless its line is longer."""
MOST_DRAWINGS_MB = 500
"""Most megabytes of all drawings by row together: they are held in memory until the new folder is written."""
SHOP_FONTS = "shop-fonts"
"""Folder in the new order for fonts of the other shop's own folder."""

_JOB = ("title", "client", "list", "units")
"""Tables that belong to the job, or are written anew."""
_PROOF = ("paper", "layout", "noun", "language", "volume", "unfinished")
"""Keys of [proof] for its appearance, taken with every design."""
_MAKER = ("shop", "contact", "telephone", "return_to")
"""Keys of [proof] about the maker, taken only from the maker's own orders."""
_FIGURES = ("pour", "board", "spare", "rates", "labels")
"""Tables of a sample that would put invented figures on a maker's papers."""
_LIST = ("language", "dates")
"""Keys of [list] that decide how texts are set."""

_TO_CHECK: Mapping[str, tuple[str, ...]] = {
    "blank": ("drawing", "width", "height", "diameter", "thickness"),
    "cutter": ("use", "kind"),
    "stock": ("material", "rough"),
    "pocket": ("depth",),
}
"""Keys of a sample that are certainly different in the maker's own job."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EarlierDesign:
    """An order whose design is taken. `sample`: the sample's name; empty for an order of the maker's own."""

    order: OrderFolder
    text: str  # of its order file
    raw: Mapping[str, Any]  # its tables as written in the file
    sample: str

    @property
    def name(self) -> str:
        """Return its name for messages."""
        return f"the sample {self.sample}" if self.sample else f"the order “{self.order.folder.resolve().name}”"

    @property
    def needed(self) -> tuple[str, ...]:
        """Return the columns that its texts and files name, each once."""
        order = self.order.order
        return tuple(
            dict.fromkeys(
                key
                for names in (
                    *(line.columns for line in order.line),
                    *(list_placeholders(part.file) for part in order.artwork),
                )
                for key in names
            )
        )

    @property
    def columns(self) -> dict[str, tuple[str, ...]]:
        """Return its keys with their headings; none where the reader guessed them."""
        said = self.order.order.list.columns
        return {key: (head,) if isinstance(head, str) else tuple(head) for key, head in said.items()}

    @property
    def drawings_key(self) -> str:
        """Return the column that names drawings by row; empty where none does."""
        return next((key for part in self.order.order.artwork for key in list_placeholders(part.file)), "")

    def list_shop_fonts(self, here: OwnFonts) -> dict[str, Path]:
        """Map the typefaces that it takes from its shop's own fonts, and that the new order's shop (`here`) doesn't
        have with the same bytes: name -> font file."""
        own = self.order.list_own_fonts()
        named = dict.fromkeys(face for line in self.order.order.line for face in (line.face, *line.also))
        lacking = {}
        for name in named:
            files, same = own.files.get(name, ()), here.files.get(name, ())
            if len(files) == 1 and not (
                len(same) == 1 and (same[0].samefile(files[0]) or here.read(name, here.key) == own.read(name, own.key))
            ):
                lacking[name] = files[0]
        return lacking


def read_design(order: Path, sample: str = "") -> EarlierDesign:
    """Read the order whose design is wanted. CannotRun with every fault, as `read_order`."""
    read = read_order(order)
    text = decode_toml(read.file, encode_toml(read.file, "an order file", "an order folder"))
    return EarlierDesign(order=read, text=text, raw=parse_toml(read.file, text, "an order file"), sample=sample)


# --- its files -----------------------------------------------------------------------------------------------------


def read_design_files(
    design: EarlierDesign,
    beside: Mapping[str, Path],
    named: Sequence[str] = (),
    shop_fonts: Mapping[str, Path] | None = None,
) -> dict[str, bytes]:
    """Read the drawings, artwork and fonts in its folder, by their names in the order. beside: drawings beside the new
    list; those that rows name (`named`) are taken, in preference to drawings of the same name in the design.
    shop_fonts: as `EarlierDesign.list_shop_fonts`. CannotRun where one can't be read, or the drawings by row are too
    large together."""
    order, folder = design.order.order, design.order.folder
    names = [order.blank.drawing] if order.blank.drawing is not None else []
    names += [part.file for part in order.artwork if not list_placeholders(part.file)]
    for face in (face for line in order.line for face in (line.face, *line.also)):
        file = face.partition("#")[0]
        if file.lower().endswith(FONT_SUFFIXES) or "/" in file or "\\" in file:
            names.append(file)
    found = {name: folder / name for name in names}
    found |= {name_shop_font(path): path for path in (shop_fonts or {}).values()}
    fixed = set(found)
    for part in order.artwork:
        if list_placeholders(part.file):
            found |= dict(_list_by_row(part.file, folder))
            if (names_of := _compile_row_names(part.file)) is None:
                continue
            within, wanted = names_of
            found |= {str(within / name): beside[name] for name in named if name in beside and wanted.fullmatch(name)}
    read: dict[str, bytes] = {}
    by_row = 0
    for name, path in found.items():
        read[name] = read_foreign_bytes(path, "a file of the design", MOST_MB)
        by_row += 0 if name in fixed else len(read[name])
        if by_row > MOST_DRAWINGS_MB * 2**20:
            raise CannotRun(
                Fault(
                    where=f"--design-of {design.name}",
                    found=f"{len(found) - len(fixed)} drawings by row have more than {MOST_DRAWINGS_MB} MB together",
                    expected=f"at most {MOST_DRAWINGS_MB} MB",
                    remedy="take those that no row names out of a copy of its folder",
                )
            )
    return read


def name_shop_font(path: Path) -> str:
    """Name a font of the other shop's own folder in the new order."""
    return f"{SHOP_FONTS}/{path.name}"


def list_row_drawings(design: EarlierDesign) -> dict[str, Path]:
    """Map the drawings in its folder that rows may name: name -> path."""
    parts = (part.file for part in design.order.order.artwork if list_placeholders(part.file))
    return {PurePosixPath(name).name: path for file in parts for name, path in _list_by_row(file, design.order.folder)}


def _list_by_row(file: str, folder: Path) -> Iterator[tuple[str, Path]]:
    """List the drawings that a file by row, `badges/{badge}.svg`, may name."""
    if (names_of := _compile_row_names(file)) is None:
        return
    within, wanted = names_of
    home, place = folder.resolve(), folder / within
    there = sorted(place.iterdir()) if place.is_dir() else []
    drawings = [p for p in there if p.suffix.lower() in ARTWORK_SUFFIXES and p.is_file()]
    for path in [p for p in drawings if wanted.fullmatch(p.name) and p.resolve().is_relative_to(home)]:
        yield str(within / path.name), path


def _compile_row_names(file: str) -> tuple[PurePosixPath, re.Pattern[str]] | None:
    """Return the folder of a file by row, and the pattern of its name; None for one that may be outside the order
    folder."""
    whole = PurePosixPath(file)
    if list_placeholders(str(whole.parent)) or whole.is_absolute() or {"..", "~"} & set(whole.parts) or "\\" in file:
        return None
    return whole.parent, re.compile(".+".join(map(re.escape, re.split(r"\{[^{}]*\}", whole.name))), re.IGNORECASE)


# --- its tables ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class CarriedTables:
    """The design as text for the new order file, and the keys that aren't taken."""

    text: str
    left: tuple[str, ...]


def carry_tables(
    design: EarlierDesign, matched: MatchedColumns, shop_fonts: Mapping[str, Path] | None = None
) -> CarriedTables:
    """Return the tables of the design, without what belongs to its own job; values that are missing or a sample's are
    marked. shop_fonts: typefaces that are named by their files in the new order (`EarlierDesign.list_shop_fonts`)."""
    wanted = {key: value for key, value in design.raw.items() if key not in _JOB}
    left = []
    if design.sample:
        left += [f"[{key}]" for key in _FIGURES if key in wanted]
        wanted = {key: value for key, value in wanted.items() if key not in _FIGURES}
    proof = dict(wanted.get("proof", {}))
    kept = _PROOF if design.sample else (*_PROOF, *_MAKER)
    left += [f"[proof] {key}" for key in proof if key not in kept]
    if "proof" in wanted:
        wanted["proof"] = {key: value for key, value in proof.items() if key in kept}
    if not wanted.get("proof", True):
        del wanted["proof"]
    try:
        document = _keep_design_tables(design.text, wanted)
    except (TOMLKitError, KeyError, TypeError, ValueError, AttributeError):
        document = tomlkit.parse(tomlkit.dumps(wanted))
    _mark_missing_columns(document, design, matched.missing)
    _name_fonts(document, {name: name_shop_font(path) for name, path in (shop_fonts or {}).items()})
    return CarriedTables(text=tomlkit.dumps(document).strip("\n") + "\n", left=tuple(left))


def carry_list_keys(design: EarlierDesign, matched: MatchedColumns) -> dict[str, Any]:
    """Take the keys of its [list] that decide how texts are set; date patterns only for columns that exist."""
    said = {key: design.raw["list"][key] for key in _LIST if key in design.raw["list"]}
    there = dict(matched.columns)
    if isinstance(dates := said.get("dates"), dict):
        said["dates"] = {key: value for key, value in dates.items() if key in there}
    return {key: value for key, value in said.items() if value}


def _keep_design_tables(text: str, wanted: Mapping[str, Any]) -> tomlkit.TOMLDocument:
    """Reduce the file to these tables, each as written. ValueError where that would change one of them."""
    document = tomlkit.parse(text)
    for key in [key for key in document if key not in wanted]:
        del document[key]
    for key in [key for key in document.get("proof", ()) if key not in wanted["proof"]]:
        del document["proof"][key]
    body: list[tuple[Any, Item]] = document.body
    while body and body[0][0] is None:  # comments above the first table describe that job, not the design
        body.pop(0)
    if not all(isinstance(item, Table | AoT) for key, item in body if key is not None):
        raise ValueError("a key stands above the tables, or in one line")
    written = tomlkit.dumps(document)
    if parse_toml(Path("order.toml"), written, "an order file") != dict(wanted):
        raise ValueError("it reads otherwise without its job")
    return tomlkit.parse(written)


def _mark_missing_columns(document: tomlkit.TOMLDocument, design: EarlierDesign, missing: Sequence[str]) -> None:
    """Write “check this” where a column is missing, and at values of a sample that certainly differ."""
    if design.sample:
        for table, keys in _TO_CHECK.items():
            for key in keys:
                _add_comment(document.get(table), key, CHECK)
    for line in document.get("line", ()):
        for key in ("text", "opposite"):
            gone = [name for name in list_placeholders(str(line.get(key, ""))) if name in missing]
            if gone:
                _add_comment(line, key, f"{CHECK}: the list has no column for {', '.join(gone)}")
    for part in document.get("artwork", ()):
        gone = [name for name in list_placeholders(str(part.get("file", ""))) if name in missing]
        if gone:
            _add_comment(part, "file", f"{CHECK}: the list has no column for {', '.join(gone)}")


def _name_fonts(document: tomlkit.TOMLDocument, files: Mapping[str, str]) -> None:
    """Name these typefaces by their files."""
    for line in document.get("line", ()):
        if str(line.get("face")) in files:
            line["face"] = files[str(line["face"])]
        for place, face in enumerate(line.get("also", ())):
            if str(face) in files:
                line["also"][place] = files[str(face)]


def _add_comment(table: Any, key: str, said: str) -> None:
    if not isinstance(table, Table) or key not in table:
        return
    item = table.item(key)
    if not isinstance(item, Item):
        return
    before = item.trivia.comment.lstrip("# ")
    spaces = item.trivia.comment_ws
    if not before:
        written = next(len(k.as_string() + k.sep) for k, _ in table.value.body if k is not None and k.key == key)
        spaces = " " * max(2, COMMENTS_AT - written - len(item.as_string()))
    item.comment(f"{said}: {before}" if before else said)
    item.trivia.comment_ws = spaces
