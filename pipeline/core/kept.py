"""Keeping plain data on disk between runs, so that what depends only on a glyph and its face is computed once.

*Keeper*: the folder. *Kept*: one file in it, holding plain values (what JSON can hold) under a space and a key. Every
file carries the tool's stamp (`core/tool.py`): what was kept by another version of the tool or of its libraries, and a
damaged file, is left unread and replaced. A folder that cannot be written costs the keeping, never the run.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import re
import time
import zlib
from collections.abc import Callable, Iterator
from itertools import chain
from pathlib import Path
from typing import Any, TypeVar

from pipeline.core import tool
from pipeline.core.errors import CannotRun
from pipeline.core.files import clear_begun, write_whole

T = TypeVar("T")

MOST = 1 << 30
"""Bytes the folder may hold before what was written longest ago is removed: a gigabyte, our own choice."""

SHARED_EVERY = 0.5
"""Seconds between two savings for other processes: a few letters' measuring, and many times the saving."""

_MARK = b"plaques-kept 1"
_PART = re.compile(r"\..+\.kept\.(\d+)\.part")


def default_folder() -> Path:
    """The platform's cache folder for this program (`$XDG_CACHE_HOME/plaques` and its like)."""
    import platformdirs

    return Path(platformdirs.user_cache_dir("plaques"))


class Kept:
    """One file of kept values. Reads are lazy: a value is decoded when it is first asked for."""

    def __init__(self, path: Path | None, stamp: str) -> None:
        self.path = path
        self._stamp = hashlib.sha256(stamp.encode()).hexdigest().encode()
        self._raw: dict[str, bytes] = {}  # as on disk, and what was put since
        self.new = False  # values were put that are not on disk yet
        self._used: set[str] = set()  # names of texts asked for or put
        self._changed = False  # values or texts were put
        self._seen: tuple[int, ...] = ()  # state of the file when it was last read or written here
        self._most: int | None = None  # bytes
        if path is not None:
            self._raw = self._read(path)

    def get(self, space: str, key: str, read: Callable[[Any], T]) -> T | None:
        """What `read` makes of the value kept under this space and key; None when there is none.

        read: is given the value as JSON gives it: lists, not tuples. Where it finds something of another form than was
        put here it raises ValueError (`core/form.py`); then nothing is kept, and the value is made anew.
        """
        name = _name(space, key)
        if name not in self._raw and not (self._look_again() and name in self._raw):
            return None
        try:
            return read(json.loads(self._raw[name]))
        except ValueError:
            return None

    def _look_again(self) -> bool:
        """Reads what another process has saved since; whether there was anything."""
        state = () if self.path is None else _state(self.path)
        if self.path is None or state == self._seen:
            return False
        self._raw = {**self._read(self.path), **self._raw}
        self._seen = state  # even when it cannot be read: once is enough
        return True

    def put(self, space: str, key: str, value: Any) -> None:
        """Keeps a plain value; it reaches the disk with `save`."""
        self._raw[_name(space, key)] = _encode(value)
        self.new = self._changed = True

    # --- texts: not decoded, and not held twice ---

    def text(self, space: str, key: str) -> str | None:
        """The JSON text kept under this space and key, or None."""
        name = _name(space, key)
        raw = self._raw.get(name)
        if raw is None:
            return None
        self._used.add(name)
        return raw.decode("ascii", errors="replace")

    def put_text(self, space: str, key: str, text: str) -> None:
        """Keeps JSON text (ASCII, one line)."""
        name = _name(space, key)
        self._raw[name] = text.encode("ascii")
        self._used.add(name)
        self._changed = True

    def limit(self, most: int) -> None:
        """Once the file is larger than this many bytes, saving drops what this process has not asked for; what it did
        ask for and has no room is dropped too, in the order of the names."""
        self._most = most

    def let_go(self) -> None:
        """Saves, and gives the memory back. No text kept is found here from now on."""
        self.save()
        self._raw, self._seen = {}, ()

    def _within(self, entries: dict[str, bytes]) -> dict[str, bytes]:
        if self._most is None or sum(map(len, entries.values())) <= self._most:
            return entries
        out, size = {}, 0
        for name in sorted(self._used & entries.keys()):
            size += len(entries[name])
            if size > self._most:
                break
            out[name] = entries[name]
        return out

    def save(self) -> bool:
        """Writes beside the file and renames, together with what another process has added meanwhile.

        False when the folder cannot be written (or there is none); the run goes on either way.
        """
        if self.path is None:
            return False
        if not self._changed:
            return True
        others = {} if _state(self.path) == self._seen else self._read(self.path)
        self._raw = self._within({**others, **self._raw})
        crc = 0
        for line in _lines(self._raw):
            crc = zlib.crc32(line, crc)
        head = b"%s %s %08x\n" % (_MARK, self._stamp, crc)
        try:
            write_whole(self.path, chain((head,), _lines(self._raw)))
        except CannotRun:
            return False
        self._seen = _state(self.path)
        self.new = self._changed = False
        return True

    def _read(self, path: Path) -> dict[str, bytes]:
        """The raw entries of a file, or nothing when it is absent, damaged or of another stamp."""
        state = _state(path)
        try:
            data = path.read_bytes()
        except OSError:
            return {}
        start = data.find(b"\n") + 1
        body = memoryview(data)[start:]
        if not body or data[:start] != b"%s %s %08x\n" % (_MARK, self._stamp, zlib.crc32(body)):
            return {}
        self._seen = state
        entries: dict[str, bytes] = {}
        while start < len(data):  # line by line, so that a large file is not held twice
            end = data.find(b"\n", start)
            end = len(data) if end < 0 else end
            name, _, value = data[start:end].partition(b"\t")
            entries[name.decode(errors="replace")] = value
            start = end + 1
        return entries


class Keeper:
    """Where kept files lie. `folder=None` keeps nothing beyond the process (`--fresh`, or no folder)."""

    def __init__(self, folder: Path | None) -> None:
        self.folder = folder
        self._open: dict[str, Kept] = {}
        self._shared = time.monotonic()

    def open(self, name: str) -> Kept:
        """The kept file of this name. What was kept by anything but this very tool is not in it."""
        if name not in self._open:
            if self.folder is None:
                self._open[name] = Kept(None, "")
            else:
                safe = re.sub(r"[^A-Za-z0-9._=+-]", "_", name)[:80]
                tail = hashlib.sha256(name.encode()).hexdigest()[:8]
                self._open[name] = Kept(self.folder / f"{safe}-{tail}.kept", tool.stamp())
        return self._open[name]

    def save(self) -> bool:
        """Saves every file opened here; False when any could not be written."""
        done = [kept.save() for kept in self._open.values()]
        return all(done)

    def share(self) -> None:
        """Saves the values put since, once in a while, so that another process that works on the same finds them."""
        if self.folder is not None and time.monotonic() - self._shared > SHARED_EVERY:
            for kept in self._open.values():
                if kept.new:
                    kept.save()
            self._shared = time.monotonic()

    def clean(self, most: int = MOST) -> None:
        """Removes the kept files that were written longest ago, until the folder holds at most `most` bytes. Those
        opened here stay. What a killed process began to write goes too."""
        if self.folder is None:
            return
        clear_begun(self.folder, _PART)
        mine = {kept.path for kept in self._open.values()}
        with contextlib.suppress(OSError):
            files = [(f.stat().st_mtime, f.stat().st_size, f) for f in self.folder.glob("*.kept")]
            total = sum(size for _, size, _ in files)
            for _, size, file in sorted(files):
                if total <= most:
                    break
                if file not in mine:
                    file.unlink(missing_ok=True)
                    total -= size


def _name(space: str, key: str) -> str:
    name = f"{space}\x1f{key}"
    if "\t" in name or "\n" in name:
        raise ValueError(f"a kept key cannot hold tabs or line ends: {name!r}")
    return name


def _lines(entries: dict[str, bytes]) -> Iterator[bytes]:
    between = b""
    for name in sorted(entries):
        yield b"%s%s\t%s" % (between, name.encode(), entries[name])
        between = b"\n"


def _state(path: Path) -> tuple[int, ...]:
    """Which file this is, and when it was written; empty when there is none."""
    try:
        found = path.stat()
    except OSError:
        return ()
    return (found.st_ino, found.st_mtime_ns, found.st_size)


def _encode(value: Any) -> bytes:
    return json.dumps(value, ensure_ascii=True, separators=(",", ":")).encode()
