"""Zip archives of unknown origin: checked before anything is unpacked, and unpacked into one folder only.

No entry leaves the folder: names that are absolute, go up, hold a drive or a backslash, or come twice on any system are
refused, and so are links and whatever else is no plain file. Bytes are counted while they are unpacked: the sizes an
archive states are not trusted.
"""

from __future__ import annotations

import hashlib
import io
import stat
import unicodedata
import zipfile
from collections.abc import Mapping
from pathlib import Path, PurePosixPath

from pipeline.core.errors import CannotRun, Fault

MOST_ENTRIES = 20_000
MOST_MB = 1_024
"""Unpacked, all together."""
MOST_NAME = 240
"""Characters of a name: what common file systems take of a path's part (255 bytes)."""
FIXED_TIME = (1980, 1, 1, 0, 0, 0)
"""The earliest the format has; a fixed one keeps equal input at equal bytes."""
_WINDOWS = frozenset({"con", "prn", "aux", "nul", *(f"{n}{k}" for n in ("com", "lpt") for k in range(1, 10))})
"""Names that are devices on some systems (published list of reserved names)."""


def pack_files(files: Mapping[str, bytes]) -> bytes:
    """An archive of these files, by name. Equal input gives equal bytes."""
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as out:
        for name in sorted(files):
            about = zipfile.ZipInfo(name, FIXED_TIME)
            about.compress_type = zipfile.ZIP_DEFLATED
            about.create_system = 3
            about.external_attr = (stat.S_IFREG | 0o644) << 16
            out.writestr(about, files[name])
    return held.getvalue()


def unpack_files(path: Path, target: Path, most_mb: float = MOST_MB) -> tuple[tuple[str, str], ...]:
    """Unpack an archive into `target`, an empty folder. Names and sha256 of what was unpacked.

    CannotRun, before anything is written, when an entry may not be unpacked; likewise when it turns out to be larger
    than it may be. What else the library says of a damaged archive is for the door to tell."""
    with zipfile.ZipFile(path) as packed:
        entries = packed.infolist()
        _look_at(entries, path, most_mb)
        out, left = [], int(most_mb * 2**20)
        for entry in entries:
            file = target.joinpath(*PurePosixPath(entry.filename).parts)
            file.parent.mkdir(parents=True, exist_ok=True)
            digest = hashlib.sha256()
            with packed.open(entry) as source, file.open("xb") as sink:
                while part := source.read(min(left, 2**20) + 1):
                    left -= len(part)
                    if left < 0:
                        raise _report_refused(path, f"it unpacks to more than {most_mb:g} MB")
                    digest.update(part)
                    sink.write(part)
            out.append((entry.filename, digest.hexdigest()))
    return tuple(out)


def _look_at(entries: list[zipfile.ZipInfo], path: Path, most_mb: float) -> None:
    if len(entries) > MOST_ENTRIES:
        raise _report_refused(path, f"it has {len(entries)} entries")
    if sum(max(0, e.file_size) for e in entries) > most_mb * 2**20:
        raise _report_refused(path, f"it unpacks to more than {most_mb:g} MB")
    seen: set[str] = set()
    for entry in entries:
        if wrong := _find_fault(entry):
            raise _report_refused(path, f"its entry {entry.filename[:80]!r} {wrong}")
        folded = unicodedata.normalize("NFC", entry.filename).casefold()
        if folded in seen or any(str(up) in seen for up in list(PurePosixPath(folded).parents)[:-1]):
            raise _report_refused(path, f"its entry {entry.filename[:80]!r} comes twice")
        seen.add(folded)


def _find_fault(entry: zipfile.ZipInfo) -> str:
    """Find what is wrong with an entry; empty when it may be unpacked."""
    name = entry.filename
    parts = name.split("/")
    kind = stat.S_IFMT(entry.external_attr >> 16)
    if entry.flag_bits & 0x1:
        return "is protected with a password"
    if kind not in (0, stat.S_IFREG):
        return "is a link, a folder or a device, not a file"
    if "\\" in name or ":" in name or name.startswith("/") or any(p in ("", ".", "..") for p in parts):
        return "has a name that leads out of its folder"
    if any(not c.isprintable() for c in name):
        return "has a name with letters that cannot be seen"
    if any(len(p.encode()) > MOST_NAME or p[-1] in ". " or p.split(".")[0].casefold() in _WINDOWS for p in parts):
        return "has a name that not every system can hold"
    return ""


def _report_refused(path: Path, found: str) -> CannotRun:
    return CannotRun(
        Fault(
            where=str(path),
            found=found,
            expected="an archive as `plaques archive` writes it",
            remedy="ask for the archive again; nothing in it was used",
        )
    )
