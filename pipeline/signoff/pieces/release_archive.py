"""The released folder holds what is to be made now; what a release before it held is put aside, in a numbered folder of
its own.

A release is put aside as a copy, before anything of the next one is written: a kill leaves the copy whole or not there,
and the next release does it again. Its number stands in its manifest.
"""

from __future__ import annotations

import json
import os
import re
import shutil
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any

from pipeline.core.errors import CannotRun, Fault
from pipeline.core.list_row import ListRow, unpack_row
from pipeline.core.storage.files import read_plain, remove_unfinished, write_whole
from pipeline.signoff.records.ledger_head import MANIFEST

SUPERSEDED = "superseded.txt"
"""In the folder of an earlier release: that it is one."""
_NUMBER = re.compile(r"[1-9][0-9]{0,5}")
_BEGUN = re.compile(r"\.[1-9][0-9]{0,5}\.(\d+)\.part")
_MOST = 64 * 2**20


@dataclass(frozen=True, slots=True, kw_only=True)
class ReleaseManifest:
    """What a manifest says of its release. number: 0 where an earlier version of the tool wrote it. pieces: by
    fingerprint. files: names below the folder. sheets: boards and the like, each with its kind, number, and pieces as
    (row, fingerprint, pieces). ledger_rows: how many rows the ledger had with it; 0 where it does not say."""

    number: int
    ledger_rows: int = 0
    pieces: tuple[tuple[str, int], ...]
    files: tuple[str, ...]
    sheets: tuple[tuple[str, int, tuple[tuple[ListRow, str, int], ...]], ...]
    data: bytes


def read_manifest(folder: Path) -> ReleaseManifest | None:
    """The manifest of a folder of released files; None when there is none that can be read."""
    try:
        file = folder / MANIFEST
        if file.stat().st_size > _MOST:
            return None
        data = read_plain(file)
        told = json.loads(data)
        number, head = told.get("release", 0), told.get("ledger")
        rows = head.get("rows") if isinstance(head, dict) else 0
        return ReleaseManifest(
            number=number if type(number) is int and 0 <= number < 10**6 else 0,
            ledger_rows=rows if type(rows) is int and 0 <= rows < 2**53 else 0,
            pieces=tuple((str(g["fingerprint"]), int(g["pieces"])) for g in told["released"]),
            files=tuple(_list_names(told)),
            sheets=tuple(
                (
                    str(s["kind"]),
                    int(s["number"]),
                    tuple((unpack_row(p["row"]), str(p["fingerprint"]), int(p["pieces"])) for p in s["pieces"]),
                )
                for s in told.get("sheets", ())
            ),
            data=data,
        )
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return None


def _list_names(told: Any) -> Iterator[str]:
    """Names of files below the folder, none that leads out of it."""
    groups = [*told["released"], *told.get("sheets", ()), {"files": told.get("papers", ())}]
    for file in (f for g in groups for f in g["files"]):
        path = PurePosixPath(str(file["name"]))
        if not path.is_absolute() and ".." not in path.parts and len(path.parts) <= 2 and path.name != MANIFEST:
            yield str(path)


def put_aside_numbers(folder: Path) -> tuple[int, ...]:
    """The numbers of the releases that are put aside, ascending. folder: of the released files."""
    try:
        return tuple(sorted(int(p.name) for p in folder.iterdir() if _NUMBER.fullmatch(p.name) and p.is_dir()))
    except OSError:
        return ()


def find_next_number(folder: Path) -> int:
    """The number of the release after the one that lies there and all that are put aside."""
    there = read_manifest(folder)
    return max(there.number if there else 0, *put_aside_numbers(folder), 0) + 1


def put_aside(folder: Path) -> None:
    """Copy the release that lies in `folder` into a folder of its own below, under its number; nothing where none lies
    there, or where that was done already. CannotRun when it cannot be written."""
    there = read_manifest(folder)
    if there is None:
        return
    number = there.number or find_next_number(folder)
    for done in put_aside_numbers(folder):
        aside = read_manifest(folder / str(done))
        if aside is not None and aside.data == there.data:
            return
    target = folder / str(number)
    if target.exists():  # the number is taken by something else
        target = folder / str(find_next_number(folder))
    begun = folder / f".{target.name}.{os.getpid()}.part"
    try:
        shutil.rmtree(begun, ignore_errors=True)
        begun.mkdir(parents=True)
        for name in there.files:
            if (folder / name).is_file():
                write_whole(begun / name, read_plain(folder / name))
        write_whole(begun / MANIFEST, there.data)
        begun.rename(target)
    except OSError as error:
        shutil.rmtree(begun, ignore_errors=True)
        raise CannotRun(
            Fault(
                where=str(target),
                found=f"the last release cannot be put aside here ({error.strerror or error})",
                expected="a folder that may be written to, and room on its disk",
                remedy="make room, or free the folder, and release again; nothing was changed",
            )
        ) from error
    except BaseException:
        shutil.rmtree(begun, ignore_errors=True)
        raise


def remove_unfinished_folders(folder: Path) -> None:
    """Remove copies that killed releases began."""
    try:
        begun = [p for p in folder.iterdir() if p.is_dir() and _BEGUN.fullmatch(p.name)]
    except OSError:
        return
    for path in begun:
        remove_unfinished(path, re.compile(r"\..+\.(\d+)\.part"))
        shutil.rmtree(path, ignore_errors=True)


def tell_superseded(folder: Path, number: int) -> None:
    """Leave word in every earlier release that release `number` has taken its place."""
    for earlier in put_aside_numbers(folder):
        note = folder / str(earlier) / SUPERSEDED
        if not note.exists():
            words = (
                f"This is release {earlier}. Release {number} came after it.\n"
                f"Cut nothing from here: what is to be made now is in the folder above, see its cut list.\n"
            )
            write_whole(note, words.encode())


def take_back_everywhere(folder: Path, marks: Iterable[str]) -> None:
    """Remove cut files of these fingerprints, and sheets that hold them, from earlier releases. CannotRun when one
    cannot be removed."""
    gone = set(marks)
    for number in put_aside_numbers(folder) if gone else ():
        own = folder / str(number)
        told = read_manifest(own)
        for name in told.files if told else ():
            path = own / name
            if not gone & set(path.name.split(".")[0].split("-")) and not _is_on_sheet(own, name, gone):
                continue
            remove_withdrawn(path)


def remove_withdrawn(path: Path) -> None:
    """Remove a file whose sign-off no longer holds. CannotRun where it is kept from being removed."""
    try:
        path.unlink(missing_ok=True)
    except OSError as error:
        raise CannotRun(
            Fault(
                where=str(path),
                found=f"its sign-off no longer holds, and it cannot be removed ({error.strerror or error})",
                expected="a folder that may be written to",
                remedy="close the file and release again; do not cut it",
            )
        ) from error


def _is_on_sheet(folder: Path, name: str, marks: set[str]) -> bool:
    """Return whether a file is a sheet of an earlier release with a piece of one of these designs on it."""
    try:
        told = json.loads(read_plain(folder / MANIFEST))
        return any(
            name in {f["name"] for f in sheet["files"]} and marks & {p["fingerprint"] for p in sheet["pieces"]}
            for sheet in told.get("sheets", ())
        )
    except (OSError, ValueError, KeyError, TypeError):
        return False
