"""The shelf: the typefaces that come with the project, a folder each with font file, licence and `source.toml`."""

from __future__ import annotations

import hashlib
import tomllib
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Literal

from pipeline.core.environment.own_fonts import NO_FONTS, OwnFonts
from pipeline.core.environment.shipped_folders import find_shipped_folder
from pipeline.core.errors import CannotRun, Fault

STYLES: dict[str, str] = {
    "roman capitals": "serif", "old-style": "serif", "transitional": "serif", "didone": "serif", "slab": "serif",
    "typewriter": "serif", "humanist": "sans", "grotesque": "sans", "geometric": "sans", "rounded": "sans",
    "condensed": "sans", "gothic capitals": "sans", "stencil": "display", "art deco": "display",
    "blackletter": "display", "uncial": "display", "formal script": "script", "casual script": "script",
    "other scripts": "other scripts",
}  # fmt: skip
"""Style of a typeface -> its group, in the order the shelf is shown. Names as type designers use them (the
classification of Vox, 1954, in English words), with those of this trade."""

OWN_FONTS = "your own fonts"
"""Style of a font of the shop's own folder, of which nothing is known."""

PLAIN = ("serif", "sans")
"""Groups of plain letters, in which any text may be set without changing its character."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ShelfFace:
    """The content of a typeface's `source.toml`."""

    name: str  # its name on the shelf, as in an order
    title: str
    role: str
    style: str  # one of STYLES, or OWN_FONTS
    folder: Path
    file: str
    sha256: str
    origin: str
    version: str
    licence: str  # SPDX identifier
    copyright: str
    scripts: tuple[str, ...]  # ISO 15924
    joins: bool
    lacks: tuple[str, ...] = ()  # languages of proofs (BCP 47) for which a Latin typeface lacks letters
    changes: str = ""
    cap_height: float | None = None  # font units; only where the height of H is wrong, with the reason
    cap_height_reason: str = ""
    kind: Literal["outline", "single-line"] = "outline"
    thinnest: tuple[tuple[str, float, str], ...] = ()  # script, narrowest stroke in cap heights, letter that has it
    layout: Literal["ascii", "greek", "svg"] = "ascii"  # of a single-line file: its character set
    baseline: float = 0.0  # of a single-line file: baseline of its letters, font units
    slant: float = 0.0  # of a single-line typeface: x per y of its uprights

    @property
    def group(self) -> str:
        return STYLES.get(self.style, OWN_FONTS)

    @property
    def is_own(self) -> bool:
        """Return whether it is of the shop's own folder."""
        return self.style == OWN_FONTS

    @property
    def path(self) -> Path:
        return self.folder / self.file

    @property
    def licence_path(self) -> Path:
        return self.folder / "LICENSE.txt"

    def read(self) -> bytes:
        """Read the font's bytes. CannotRun when they aren't those that the shelf was made with."""
        try:
            data = self.path.read_bytes()
        except OSError as problem:
            raise CannotRun(
                Fault(
                    where=str(self.path),
                    found=f"the shelf's font cannot be read ({problem.strerror})",
                    remedy="install the program again",
                )
            ) from problem
        found = hashlib.sha256(data).hexdigest()
        if found != self.sha256:
            raise CannotRun(
                Fault(
                    where=str(self.path),
                    found=f"the file has changed: sha256 {found[:16]}…",
                    expected=f"{self.sha256[:16]}…, as its source.toml says",
                    remedy="install the program again; a font of your own goes into the order folder",
                )
            )
        return data


class Shelf:
    """All typefaces of a fonts folder, by name. A typeface's `source.toml` is read once, when first needed.

    own: the shop's own fonts, which count as shelf; `names` are those of the project alone.
    """

    def __init__(self, folder: Path | None = None, own: OwnFonts = NO_FONTS) -> None:
        self.folder, self.own = folder or find_shipped_folder("fonts"), own
        self._read: dict[str, ShelfFace] = {}

    @cached_property
    def names(self) -> tuple[str, ...]:
        """Return the names, from the folders alone: no file is read before its typeface is needed."""
        return tuple(sorted(file.parent.name for file in self.folder.glob("*/source.toml")))

    @cached_property
    def faces(self) -> tuple[ShelfFace, ...]:
        """All of them, by style and then by name; last the shop's own."""
        place = {style: number for number, style in enumerate((*STYLES, OWN_FONTS))}
        every = (*self.names, *(name for name in self.own.files if name not in self.names))
        return tuple(sorted((self[name] for name in every), key=lambda face: (place[face.style], face.name)))

    def __contains__(self, name: str) -> bool:
        return name in self.names or name in self.own.files

    def __getitem__(self, name: str) -> ShelfFace:
        """Return the typeface of this name. CannotRun names the nearest one when there is none."""
        if name not in self:
            raise CannotRun(self.report_unknown(name))
        if name not in self.names:
            return _describe_own(name, self.own.files[name][0])
        if name not in self._read:
            self._read[name] = _read_source(self.folder / name / "source.toml")
        return self._read[name]

    def report_unknown(self, name: str, where: str = "") -> Fault:
        """Return the fault of a name that isn't on the shelf."""
        from difflib import get_close_matches

        names = [*self.names, *self.own.files]
        near = get_close_matches(name.lower().replace(" ", "-").replace("_", "-"), names, 3, 0.4)
        hint = f"did you mean {' or '.join(near)}?" if near else "`plaques faces` shows the shelf"
        return Fault(
            where=where or f"face “{name}”",
            found="no face of this name is on the shelf",
            expected="a name from `plaques faces`, or a font file in the order folder",
            remedy=hint,
        )


OTHER_LETTERS = 3
"""Rank from which on a typeface is of another kind altogether."""


def rank_style(own: ShelfFace | None, other: ShelfFace) -> int:
    """Rank another typeface's style by its distance from the line's own: 0 the same style, 1 the same group, 2 plain
    letters, OTHER_LETTERS something else (a blackletter for a serif). own: None for a font file, whose style is not
    known."""
    if own is not None and own.style == other.style:
        return 0
    if other.group not in PLAIN:
        return OTHER_LETTERS
    return 1 if own is not None and own.group == other.group else 2


def _describe_own(name: str, path: Path) -> ShelfFace:
    """A font of the shop's own: its file is read when it is opened."""
    return ShelfFace(
        name=name,
        title=name,
        role="",
        style=OWN_FONTS,
        folder=path.parent,
        file=path.name,
        sha256="",
        origin="",
        version="",
        licence="",
        copyright="",
        scripts=(),
        joins=False,
    )


def _read_source(path: Path) -> ShelfFace:
    try:
        said = tomllib.loads(path.read_text(encoding="utf-8"))
        if said["style"] not in STYLES:
            raise KeyError(said["style"])
        return ShelfFace(
            name=path.parent.name,
            title=said["name"],
            role=said["role"],
            style=said["style"],
            folder=path.parent,
            file=said["file"],
            sha256=said["sha256"],
            origin=said["origin"],
            version=said["version"],
            licence=said["licence"],
            copyright=said["copyright"],
            scripts=tuple(said["scripts"]),
            joins=said["joins"],
            lacks=tuple(said.get("lacks", ())),
            changes=said.get("changes", ""),
            cap_height=said.get("cap_height"),
            cap_height_reason=said.get("cap_height_reason", ""),
            kind=said.get("kind", "outline"),
            thinnest=tuple((script, *place) for script, place in said.get("thinnest", {}).items()),
            layout=said.get("layout", "ascii"),
            slant=said.get("slant", 0.0),
            baseline=said.get("baseline", 0.0),
        )
    except (tomllib.TOMLDecodeError, KeyError, OSError) as problem:
        raise CannotRun(
            Fault(where=str(path), found=f"cannot be read: {problem!r}", remedy="install the program again")
        ) from problem
