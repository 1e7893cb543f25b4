"""All drawings of an order's [[artwork]], read before anything is set: each file once, however many rows ask for it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path

from pipeline.artwork.artwork_file import read_artwork
from pipeline.artwork.drawn_artwork import DrawnArtwork
from pipeline.core.config.order import ArtworkConfig, OrderFolder
from pipeline.core.config.placeholders import fill_placeholders, list_placeholders
from pipeline.core.errors import CannotRun
from pipeline.core.model import Recipient
from pipeline.core.storage.cache import Cache
from pipeline.intake.order.consistency_rules import ARTWORK_SUFFIXES, check_file

WHAT = "a client's drawing"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ReadArtwork:
    """One file as one [[artwork]] reads it. drawn is None where it cannot be used: `fault` says why, in words, and
    `missing` that there is no such file in the folder, or that the name is of none;
    `near` is the file of the folder that was perhaps meant."""

    number: int  # which [[artwork]], from 1
    file: str
    drawn: DrawnArtwork | None = None
    fault: str = ""
    missing: bool = False
    near: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ClientArtwork:
    """An order's drawings as they were read."""

    read: tuple[ReadArtwork, ...] = ()

    def find(self, number: int, file: str) -> ReadArtwork | None:
        """The file as this [[artwork]] reads it; None when no row of the list asked for it."""
        return next((r for r in self.read if (r.number, r.file) == (number, file)), None)


NO_ARTWORK = ClientArtwork()


def choose_badge_file(part: ArtworkConfig, recipient: Recipient) -> str:
    """The file an [[artwork]] means on this recipient's plaque; "" where the cells it comes from are empty. A cell may
    hold the name of the file with or without its ending."""
    raw = dict(recipient.raw)
    filled = fill_placeholders(part.file, dict(recipient.values))
    shown = [raw.get(key, "").strip() for key in filled.empty]
    if any(shown):  # an error value of the spreadsheet, or something else that isn't a name
        return " ".join(filter(None, shown))
    if filled.nothing:
        return ""
    name = filled.text.strip()
    for suffix in ARTWORK_SUFFIXES:
        if name.lower().endswith(suffix + suffix):  # the name in the cell already ends in the suffix
            name = name[: -len(suffix)]
    if not name.lower().endswith(ARTWORK_SUFFIXES):
        name += ".svg"
    return name


def list_badge_files(folder: OrderFolder, recipients: Iterable[Recipient]) -> tuple[str, ...]:
    """Names of the drawings that come by row, as the folder spells them; also of those that are not there."""
    people = list(recipients)
    by_row = [part for part in folder.order.artwork if list_placeholders(part.file)]
    named = dict.fromkeys(choose_badge_file(part, person) for part in by_row for person in people)
    return tuple(_find_spelling(folder.folder, name) for name in named if name)


def read_client_artwork(
    folder: OrderFolder, recipients: Iterable[Recipient], cache: Cache | None = None
) -> ClientArtwork:
    """The drawings of the order. CannotRun when one that is the same on every plaque cannot be used; of those that
    come by row it is said in what is returned."""
    out: list[ReadArtwork] = []
    people = list(recipients)
    for number, part in enumerate(folder.order.artwork, 1):
        if not list_placeholders(part.file):
            drawn = read_artwork(folder.resolve_path(part.file), part.layers, as_lines=part.cut == "line", cache=cache)
            out.append(ReadArtwork(number=number, file=part.file, drawn=drawn))
            continue
        names = dict.fromkeys(name for person in people if (name := choose_badge_file(part, person)))
        out += [_read_for_row(number, part, name, folder, cache) for name in names]
    return ClientArtwork(read=tuple(out))


def _read_for_row(number: int, part: ArtworkConfig, name: str, folder: OrderFolder, cache: Cache | None) -> ReadArtwork:
    path = _find_spelling(folder.folder, name)
    fault = check_file("", path, folder.folder, WHAT, ARTWORK_SUFFIXES)
    if fault is not None:
        there = _list_drawings_beside(folder.folder / name)
        stems = {Path(other).stem: other for other in there}
        close = [stems[stem] for stem in get_close_matches(Path(name).stem, stems, 1, 0.7)]
        words = fault.found if _file_exists(folder.folder / path) else ""
        return ReadArtwork(number=number, file=name, fault=words, missing=True, near=close[0] if close else "")
    try:
        drawn = read_artwork(folder.resolve_path(path), part.layers, as_lines=part.cut == "line", cache=cache)
    except CannotRun as problem:
        return ReadArtwork(number=number, file=name, fault="; ".join(f.found for f in problem.faults))
    return ReadArtwork(number=number, file=name, drawn=drawn)


def _file_exists(path: Path) -> bool:
    """Return whether this file exists. A name that can't even be looked up counts as existing, so that reading it
    reports why."""
    try:
        return path.exists()
    except (OSError, ValueError):
        return True


def _find_spelling(folder: Path, name: str) -> str:
    """The name as the folder spells it, where only capitals differ and one file alone is meant."""
    try:
        if (folder / name).exists():
            return name
    except (OSError, ValueError):  # too long for a file name, or not a valid one
        return name
    alike = [n for n in _list_drawings_beside(folder / name) if n.casefold() == Path(name).name.casefold()]
    return str(Path(name).with_name(alike[0])) if len(alike) == 1 and ".." not in Path(name).parts else name


def _list_drawings_beside(path: Path) -> list[str]:
    try:
        return sorted(p.name for p in path.parent.iterdir() if p.suffix.lower() in ARTWORK_SUFFIXES)
    except (OSError, ValueError):
        return []
