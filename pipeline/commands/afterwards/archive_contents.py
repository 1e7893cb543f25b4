"""The contents of an order's archive: its input files, what was sent and released, and its cut files."""

from __future__ import annotations

import hashlib
import os
import sqlite3
import tempfile
from collections.abc import Iterable, Iterator, Mapping
from contextlib import closing
from dataclasses import dataclass, field
from io import BytesIO
from pathlib import Path
from typing import Any

from pipeline import VERSION
from pipeline.artwork.client_artwork import list_badge_files
from pipeline.core.environment.own_fonts import FONT_SUFFIXES
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.list_row import pack_row
from pipeline.core.printable import write_json_text
from pipeline.core.storage.files import read_plain
from pipeline.intake.order.shop_file import SHOP_FILE, read_shop
from pipeline.lettering.shelf import Shelf
from pipeline.signoff.order_snapshot import OrderSnapshot
from pipeline.signoff.records.ledger import FILE as LEDGER
from pipeline.signoff.records.ledger_head import RELEASED

CONTENTS, ABOUT, ORDER, FONTS = "archive.json", "READ-ME.txt", "order", "fonts"
SCHEMA = 1
FREE = (
    "ofl",
    "open font license",
    "apache",
    "ubuntu font",
    "creative commons zero",
    "cc0",
    "public domain",
    "gust font",
)
"""Words in a font's own licence that allow redistribution (from the licences' published texts)."""
MOST_MB = 1_024


@dataclass(slots=True)
class ArchiveContents:
    """The files of an archive. files: name in the archive -> bytes. left_out: what was left out and why, in
    sentences."""

    files: dict[str, bytes] = field(default_factory=dict)
    left_out: list[str] = field(default_factory=list)

    def add(self, name: str, path: Path) -> None:
        """Add a plain file. CannotRun when it can't be read."""
        try:
            self.files[name] = read_plain(path)
        except OSError as error:
            raise _report_fault(path, f"cannot be read ({error.strerror or error})") from error
        if sum(map(len, self.files.values())) > MOST_MB * 2**20:
            raise _report_fault(path, f"with it the archive would hold more than {MOST_MB} MB")


def _report_fault(path: Path, found: str) -> CannotRun:
    return CannotRun(Fault(where=str(path), found=found, expected="a file of the order that can be archived"))


def collect_contents(looked: OrderSnapshot) -> ArchiveContents:
    """Collect the files of an order, and a list of them with their hashes. CannotRun when a file can't be read."""
    folder, out = looked.folder, ArchiveContents()
    root = folder.folder.resolve()
    out.add(f"{ORDER}/{folder.file.name}", folder.file)
    if folder.shop_file is not None:
        out.add(f"{ORDER}/{SHOP_FILE}", folder.shop_file)
    badges = list_badge_files(folder, [p.recipient for p in looked.outcome.plaques])
    _take_named(out, folder.folder, {*_list_texts(folder.order.model_dump()), *badges}, folder.file.name)
    if folder.shop_file is not None:
        used = {face for line in folder.order.line for face in (line.face, *line.also)}
        own = [path for name, paths in folder.list_own_fonts().files.items() if name in used for path in paths]
        place = folder.shop_file.parent
        _take_named(out, place, [path.relative_to(place).as_posix() for path in own], SHOP_FILE)
        _take_named(
            out, folder.shop_file.parent, _list_texts(read_shop(folder.shop_file).config.model_dump()), SHOP_FILE
        )
    _take_fonts(looked, out)
    if (root / LEDGER).exists():
        out.files[f"{ORDER}/{LEDGER}"] = _copy_ledger(root / LEDGER)
    for path in sorted(root.glob(f"{Path(LEDGER).stem}-schema-*{Path(LEDGER).suffix}")):
        out.add(f"{ORDER}/{path.name}", path)
    kept = [(name, root / name) for name in ("sent", "received")]
    for name, place in (*kept, (f"out/{RELEASED}", looked.target / RELEASED)):
        for path in _list_files(place):
            out.add(f"{ORDER}/{name}/{path.relative_to(place).as_posix()}", path)
    out.files[ABOUT] = _write_about(looked, out).encode()
    out.files[CONTENTS] = (write_json_text(_list_contents(looked, out), indent=1) + "\n").encode(
        "utf-8", "backslashreplace"
    )
    return out


def _take_named(out: ArchiveContents, folder: Path, texts: Iterable[str], by: str) -> None:
    """Add every file below a folder that one of these texts names; in the archive it lies beside the file that names
    it. by: the file the texts come from."""
    root = folder.resolve()
    named = set(texts)
    for name in sorted(named | {text.partition("#")[0] for text in named}):  # fonts.ttc#0: one font of a collection
        path = folder / name
        if not name or len(name) > 400 or "\0" in name or not _is_file(path):
            continue
        if not path.resolve().is_relative_to(root):
            out.left_out.append(f"{name} lies outside the folder of {by}: put it beside {by} to have it archived.")
        elif path.suffix.lower() in FONT_SUFFIXES and not _may_be_passed_on(path):
            sha256 = hashlib.sha256(path.read_bytes()).hexdigest()
            out.left_out.append(f"{name}: its licence does not say that the font may be passed on (sha256 {sha256}).")
        elif (key := f"{ORDER}/{_name_in_folder(path, folder)}") not in out.files:
            out.add(key, path)


def _name_in_folder(path: Path, folder: Path) -> str:
    """Name a file as it was given, even where that is a link; a name with “..” or from the root is taken relative to
    the folder."""
    if ".." not in path.parts and path.is_relative_to(folder):
        return path.relative_to(folder).as_posix()
    return path.resolve().relative_to(folder.resolve()).as_posix()


def _is_file(path: Path) -> bool:
    try:
        return path.is_file()
    except (OSError, ValueError):  # too long for a file name, or not a valid one
        return False


def _list_texts(value: Any) -> Iterator[str]:
    """List every text among the order's values; any of them may name a file."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for each in value.values():
            yield from _list_texts(each)
    elif isinstance(value, list | tuple):
        for each in value:
            yield from _list_texts(each)


def _list_files(place: Path) -> Iterator[Path]:
    for folder, folders, names in os.walk(place):
        folders.sort()
        for name in sorted(names):
            path = Path(folder) / name
            if path.is_file() and not path.is_symlink() and not name.startswith("."):
                yield path


def _copy_ledger(path: Path) -> bytes:
    """Copy the ledger as of one moment, even while another process writes to it. CannotRun when it can't be read."""
    with tempfile.TemporaryDirectory() as aside:
        copy = Path(aside) / path.name
        try:
            with closing(sqlite3.connect(path)) as old, closing(sqlite3.connect(copy)) as new:
                old.backup(new)
        except sqlite3.Error as error:
            raise _report_fault(path, f"cannot be read ({error})") from error
        return copy.read_bytes()


def _may_be_passed_on(path: Path) -> bool:
    """Return whether the font's own licence allows redistribution: name table, IDs 13 and 14 (OpenType
    specification)."""
    from fontTools.ttLib import TTFont, TTLibError

    try:
        with TTFont(BytesIO(path.read_bytes()), fontNumber=0, lazy=True) as font:
            said = " ".join(
                str(record) for number in (13, 14) for record in font["name"].names if record.nameID == number
            )
    except (TTLibError, KeyError, OSError, ValueError, AssertionError):
        return False
    return any(word in said.casefold() for word in FREE)


def _take_fonts(looked: OrderSnapshot, out: ArchiveContents) -> None:
    """Add the shelf typefaces that the order uses, each with its licence, which allows redistribution."""
    shelf = Shelf()
    for name in sorted({face for line in looked.folder.order.line for face in (line.face, *line.also)}):
        if name in shelf:
            face = shelf[name]
            out.files[f"{FONTS}/{name}/{face.file}"] = face.read()
            out.add(f"{FONTS}/{name}/{face.licence_path.name}", face.licence_path)


def _list_contents(looked: OrderSnapshot, out: ArchiveContents) -> dict[str, Any]:
    """List the archive's files, and the order's cut files by design."""
    designs: dict[str, dict[str, Any]] = {}
    for plaque in looked.outcome.plaques:
        if not plaque.fingerprint:
            continue
        if plaque.fingerprint in designs:
            designs[plaque.fingerprint]["rows"].append(pack_row(plaque.recipient.row))
            designs[plaque.fingerprint]["pieces"] += plaque.recipient.copies
            continue
        made = {name: hashlib.sha256(data).hexdigest() for name, data in sorted(looked.made(plaque).items())}
        designs[plaque.fingerprint] = {
            "fingerprint": plaque.fingerprint,
            "text": [t for t in plaque.text if t],
            "rows": [pack_row(plaque.recipient.row)],
            "pieces": plaque.recipient.copies,
            "files": made,
        }
    return {
        "schema": SCHEMA,
        "tool": VERSION,
        "order": looked.folder.order_id,
        "title": looked.folder.order.title,
        "client": looked.folder.order.client,
        "order_file": looked.folder.file.name,
        "order_sha256": looked.folder.sha256,
        "designs": list(designs.values()),
        "stopped": [pack_row(p.recipient.row) for p in looked.outcome.plaques if not p.fingerprint],
        "left_out": out.left_out,
        "files": {name: hashlib.sha256(data).hexdigest() for name, data in sorted(out.files.items())},
    }


def _write_about(looked: OrderSnapshot, out: ArchiveContents) -> str:
    order = looked.folder.order
    lines = [
        f"{order.title}{f', {order.client}' if order.client else ''} (order {looked.folder.order_id})",
        f"Archived with plaques {VERSION}.",
        "",
        "order    the order folder: unpack it anywhere, and type `plaques run order`. The ledger, the proofs that were",
        "         sent and what was released are in it.",
        "fonts    the typefaces it was set in that come with plaques, each with its licence. If a later plaques has",
        '         another version of one, copy the file beside order.toml and name it there: face = "FILE".',
        f"{CONTENTS}  every file with its sha256, and every design with the sha256 of its cut files.",
        "",
        "`plaques check ARCHIVE` says whether the tool you have would cut the same.",
    ]
    return "\n".join([*lines, *(["", "Not in it:", *out.left_out] if out.left_out else []), ""])
