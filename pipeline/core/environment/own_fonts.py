"""The shop's own folder of fonts, `fonts` of [shop]: which files lie in it, by the names that orders call them.

Nothing is opened here: a file that is damaged, or may not be read, matters only to whom its name is asked for.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from pathlib import Path, PurePath, PureWindowsPath

from pipeline.core.errors import CannotRun, Fault
from pipeline.core.storage.files import read_plain

FONT_SUFFIXES = (".ttf", ".otf", ".ttc", ".otc", ".woff", ".woff2")
"""Suffixes of the font files that an order can name."""
OWN_SUFFIXES = (".ttf", ".otf")
"""Of those that a shop's folder can hold: one font a file."""
MOST_FILES, MOST_FILE_MB, MOST_MB = 300, 32, 512
"""Of one folder: files, MB of one file, MB of all together. All of them are read in every run."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnFonts:
    """The fonts of a shop. An order calls one by its file's name without the ending."""

    folder: Path = Path()
    key: str = ""  # where the folder is named: the shop file and its key; empty: nowhere
    files: Mapping[str, tuple[Path, ...]] = field(default_factory=dict)  # by name; two where only the suffix differs
    problem: str = ""  # why the folder can't be used

    def find_fault(self, name: str, where: str, shelf: Collection[str]) -> Fault | None:
        """Find why a name is ambiguous: it is on the shelf too, or two files have it. None when it is the shop's own
        alone, or not the shop's at all. shelf: its names."""
        files = self.files.get(name, ())
        if len(files) + (name in shelf) < 2 or not files:
            return None
        named = [*(["a face of the shelf"] if name in shelf else []), *map(str, files)]
        return Fault(
            where=where,
            found=f"“{name}” is {' and '.join(named)}",
            expected=f"a name that one typeface alone has ({self.key})",
            remedy=f"give {files[0].name} another name, or take it out of the folder",
        )

    def read(self, name: str, where: str) -> bytes:
        """The bytes of a font. CannotRun, naming file and key, when it cannot be read or is too large."""
        path = self.files[name][0]
        try:
            too_large = path.stat().st_size > MOST_FILE_MB * 2**20
            data = b"" if too_large else read_plain(path)
        except OSError as problem:
            found, remedy = (
                f"{path} cannot be read ({problem.strerror or problem})",
                "put a file there that you may read",
            )
            raise CannotRun(Fault(where=where, found=found, expected=self._expected, remedy=remedy)) from problem
        if too_large:
            found = f"{path} is larger than {MOST_FILE_MB} MB"
            raise CannotRun(Fault(where=where, found=found, expected=self._expected))
        return data

    @property
    def _expected(self) -> str:
        return f"a font file in the folder of your own fonts ({self.key})"

    def list_hashes(self) -> list[tuple[str, str]]:
        """Name and sha256 of every file, empty where it cannot be read: what advice may look at."""
        out = []
        for files in self.files.values():
            for path in files:
                try:
                    out.append((path.name, hashlib.sha256(read_plain(path)).hexdigest()))
                except OSError:
                    out.append((path.name, ""))
        return out


NO_FONTS = OwnFonts()
"""Of a shop without a folder of its own fonts."""


def list_own_fonts(shop_file: Path | None, said: str) -> OwnFonts:
    """The fonts in the folder that a shop file names, `said` as it stands there; hidden files and folders in it are
    passed over. A folder that cannot be used has its `problem`, and no files."""
    if shop_file is None or not said:
        return NO_FONTS
    key = f"{shop_file.name}: [shop] fonts"
    folder = shop_file.parent / said
    windows = PureWindowsPath(said)
    if PurePath(said).is_absolute() or windows.drive or windows.root or ".." in windows.parts or "\0" in said:
        return OwnFonts(key=key, problem=f"{key} = “{said}” leads out of the folder of {shop_file.name}")
    files: dict[str, tuple[Path, ...]] = {}
    total = count = 0
    try:
        if not folder.resolve().is_relative_to(shop_file.parent.resolve()):
            return OwnFonts(key=key, problem=f"{key} = “{said}” is a link out of the folder of {shop_file.name}")
        with os.scandir(folder) as found:
            for entry in found:
                name, suffix = os.path.splitext(entry.name)  # noqa: PTH122 (no objects for files that are passed over)
                if suffix.lower() not in OWN_SUFFIXES or name.startswith(".") or entry.is_dir():
                    continue
                files[name] = tuple(sorted((*files.get(name, ()), folder / entry.name)))
                count += 1
                total += entry.stat().st_size if entry.is_file() else 0
    except (OSError, RuntimeError) as error:
        said_why = error.strerror if isinstance(error, OSError) else None
        return OwnFonts(key=key, folder=folder, problem=f"{folder} ({key}) cannot be read ({said_why or error})")
    if count > MOST_FILES or total > MOST_MB * 2**20:
        held = f"{count} font files, {total / 2**20:.0f} MB"
        most = f"{MOST_FILES} files and {MOST_MB} MB"
        return OwnFonts(key=key, folder=folder, problem=f"{folder} ({key}) holds {held}; most is {most}")
    return OwnFonts(folder=folder, key=key, files=dict(sorted(files.items())))
