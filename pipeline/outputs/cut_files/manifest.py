"""The list of files in a folder that this tool wrote, with their hashes, kept while they are written.

A file goes into the list before it goes into the folder, one line each, so that a run that is killed leaves no file
that is not in it. The list can be checked with `sha256sum -c`. Only files in the list, and unchanged since, are ever
removed.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from io import FileIO
from pathlib import Path

from pipeline.core.errors import CannotRun, Fault
from pipeline.core.short_codes import ALPHABET
from pipeline.core.storage.files import read_plain, remove_unfinished, write_whole

FILE_NAME = "written.sha256"

CHANGED = ".changed"
"""Put behind the name of a file that somebody changed, so that it is kept and no machine takes it for a cut file."""

_HEAD = re.compile(r"# cut files of order ([A-Z0-9]+)(?: .*)?")
_LINE = re.compile(r"([0-9a-f]{64}) [ *](?!\.+$)([^\s/\\:][^/\\:]*)")
"""Hash and name of a file of this folder: no name leads out of it."""
_OURS = re.compile(rf"[a-z0-9-]+-[{ALPHABET}]{{10}}(?:-[a-z]+)*\.(?:dxf|svg|pdf)")
"""Names as this tool gives them to the files of a plaque: one that is in no list was never held against anything."""
_PART = re.compile(rf"\.[a-z0-9-]+-[{ALPHABET}]+(?:-[a-z]+)*\.[a-z]+\.(\d+)\.part")


@dataclass(frozen=True, slots=True)
class ClearedFiles:
    """Files of earlier runs: those removed, and those left because they changed during this one."""

    removed: tuple[str, ...]
    left: tuple[str, ...]


class Manifest:
    """The list of one folder of one order. Any number of processes may add to it at a time; one begins and ends it."""

    def __init__(self, folder: Path, order: str, title: str) -> None:
        """order: its code (see core.codes); title: for people who look into the list."""
        self.folder, self.order = folder, order
        self._file = folder / FILE_NAME
        self._noting: FileIO | None = None  # the list, open for appending
        self.written: dict[str, str] = {}  # hash of each file this process has written
        self.found: dict[str, str] = {}  # hash of each of our files that existed when the run began
        self._head = f"# cut files of order {order} “{' '.join(title.split())}”\n"

    def check(self) -> str | None:
        """The code of the order whose files are there, None without any. CannotRun when it is another order."""
        theirs = self._read_order()
        if theirs is not None and theirs != self.order:
            raise CannotRun(
                Fault(
                    where=str(self.folder),
                    found=f"cut files of another order (code {theirs}; this one is {self.order})",
                    expected="an output folder of this order's own",
                    remedy="choose another place with --out, or move the folder away",
                )
            )
        return theirs

    def begin(self) -> tuple[tuple[str, str], ...]:
        """Makes the folder ready: files that somebody changed since they were written, or that are named as cut files
        and in no list, are put aside (name, new name).

        CannotRun when it holds another order's files, or cannot be written.
        """
        if self.check() is None:
            write_whole(self._file, self._head.encode())
        elif not read_plain(self._file).endswith(b"\n"):  # a killed run left the last line incomplete
            with self._file.open("ab") as out:
                out.write(b"\n")
        remove_unfinished(self.folder, _PART)
        self.written.clear()
        self.found.clear()
        return tuple(self._put_aside())

    def add(self, name: str, data: bytes) -> None:
        """Writes a file of the folder whole, noted first. One that holds these very bytes already is left as it is."""
        digest = hashlib.sha256(data).hexdigest()
        line = f"{digest}  {name}\n".encode()
        try:
            if self._noting is None:
                self.folder.mkdir(parents=True, exist_ok=True)
                self._noting = self._file.open("ab", buffering=0)
            self._noting.write(line if self._noting.tell() else self._head.encode() + line)
        except OSError as error:
            raise _report_write_error(self._file, error) from error
        target = self.folder / name
        if _hash_file(target) != digest:
            write_whole(target, data)
        self.written[name] = digest

    def remove(self, name: str) -> None:
        """Takes back a file that was just written and must not be used."""
        self.written.pop(name, None)
        (self.folder / name).unlink(missing_ok=True)

    def finish(self, current: Iterable[str]) -> ClearedFiles:
        """Removes what earlier runs wrote and this one did not, and closes the list. current: names of this run's
        files."""
        if self._noting is not None:
            self._noting.close()
            self._noting = None
        kept, noted = set(current), self._read_noted()
        removed, left, lines = [], [], []
        for name in sorted(noted):
            file = self.folder / name
            sure = self.written.get(name) or self.found.get(name)
            digest = sure if sure and name in kept else _hash_file(file)
            if digest is None:
                continue
            if name in kept:
                lines.append(f"{digest}  {name}\n")
            elif digest in noted[name]:
                file.unlink(missing_ok=True)
                removed.append(name)
            else:
                left.append(name)
        write_whole(self._file, (self._head + "".join(lines)).encode())
        return ClearedFiles(tuple(removed), tuple(left))

    def dissolve(self) -> None:
        """Remove the list where this order has no files any more, and the folder when nothing else lies in it."""
        if self._read_order() == self.order and not self._read_noted():
            self._file.unlink(missing_ok=True)
            with contextlib.suppress(OSError):
                self.folder.rmdir()

    def _read_order(self) -> str | None:
        """The code of the order whose list lies in the folder; None without a list, "?" for one that is not ours."""
        try:
            first = read_plain(self._file).decode("utf-8", "replace").partition("\n")[0]
        except OSError:
            return None
        found = _HEAD.fullmatch(first)
        return found[1] if found else "?" if first else None

    def _read_noted(self) -> dict[str, set[str]]:
        """Read the list of this folder, see `read_noted_files`."""
        return read_noted_files(self.folder)

    def _put_aside(self) -> Iterator[tuple[str, str]]:
        folder, noted = str(self.folder), self._read_noted()
        for name, digests in sorted({**{name: set[str]() for name in self._list_unlisted()}, **noted}.items()):
            digest = _hash_file(f"{folder}{os.sep}{name}")
            if digest is None:
                continue
            if digest in digests:
                self.found[name] = digest
                continue
            file = self.folder / name
            number, aside = 1, file.with_name(name + CHANGED)
            while aside.exists():
                number += 1
                aside = file.with_name(f"{name}{CHANGED}-{number}")
            try:
                file.rename(aside)
            except OSError as error:
                raise _report_write_error(file, error) from error
            yield name, aside.name

    def _list_unlisted(self) -> list[str]:
        """Files of the folder that are named as this tool names cut files."""
        try:
            return [name for name in os.listdir(self.folder) if _OURS.fullmatch(name)]  # noqa: PTH208
        except OSError:
            return []


def read_noted_files(folder: Path) -> dict[str, set[str]]:
    """Every hash that a folder's list has for each name; none without a list. A line cut short by a kill is passed
    over: its file was not written."""
    noted: dict[str, set[str]] = {}
    with contextlib.suppress(OSError):
        for line in read_plain(folder / FILE_NAME).decode("utf-8", "replace").splitlines():
            found = _LINE.fullmatch(line)
            if found:
                noted.setdefault(found[2], set()).add(found[1])
    return noted


def _report_write_error(file: Path, error: OSError) -> CannotRun:
    return CannotRun(
        Fault(
            where=str(file),
            found=f"cannot be written ({error.strerror or error})",
            expected="a folder that may be written to",
            remedy="free the folder, or choose another place with --out",
        )
    )


def _hash_file(file: str | Path) -> str | None:
    try:
        return hashlib.sha256(read_plain(file)).hexdigest()
    except OSError:
        return None
