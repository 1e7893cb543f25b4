"""The cache between runs: one SQLite file in the platform's cache folder.

A value is stored under a space and a key; the key holds everything it was computed from. On the disk a row's name is
the hash of stamp (`core/cache_key.py`), space and key, and its seal a hash of that name and of the content: a row of
another version of the tool is not found, and one that was changed, or changed places with another, is not believed.
What cannot be kept costs the keeping and never the run: `problem` says why.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import sqlite3
from collections.abc import Callable, Hashable
from pathlib import Path
from typing import Any, TypeVar

from pipeline.core.short_codes import pack_json
from pipeline.core.storage import cache_key
from pipeline.core.storage.codec import CodecError, SharedParts, decode_text, encode_text

T = TypeVar("T")

MOST = 1 << 30
"""Bytes the file may hold before the older half of its rows goes: a gigabyte, our own choice."""

WAITS = 2.0
"""Seconds to wait for another process that is writing; our own choice. After that a value is computed again, or stored
later."""

PATIENCE = 3
"""Timeouts after which nothing more is stored."""

FILE = "kept.sqlite"

_TABLE = "CREATE TABLE kept (name BLOB PRIMARY KEY, seal BLOB NOT NULL, content BLOB NOT NULL, space TEXT NOT NULL)"


def find_default_folder() -> Path:
    """The platform's cache folder for this program (`$XDG_CACHE_HOME/plaques` and its like)."""
    import platformdirs

    return Path(platformdirs.user_cache_dir("plaques"))


class Cache:
    """Cached values.

    Nothing reaches the disk before `flush`; what was put since can be lost. folder: where the file lies; None: nothing
    outlives this object (`--fresh`). Any number of processes may use the file at once, and a forked process may go on
    using its copy of this object.
    """

    def __init__(self, folder: Path | None) -> None:
        self.folder = folder
        self.problem = ""
        """Why nothing, or not everything, is cached, in words for the user."""
        self._known: dict[tuple[str, Hashable], Any] = {}
        self._new: dict[bytes, tuple[bytes, str]] = {}  # values not yet on disk, with their space, by name
        self._process = 0  # id of the process that opened the file
        self._open: sqlite3.Connection | None = None
        self._left: list[sqlite3.Connection | None] = []  # of the process this one was forked from: never touched
        self._waited = 0  # how often the lock was waited for in vain
        self._failed = folder is None

    # --- values ---

    def get_or_compute(self, space: str, key: Hashable, kind: Any, compute: Callable[[], T]) -> T:
        """Return the value of a key, from this process, an earlier run, or computed. kind: its type, for
        `pipeline.core.storage.codec`. key: text, numbers and tuples of them: everything the value depends on."""
        known: T | None = self._known.get((space, key))
        if known is None:
            known = self.get(space, key, kind)
            if known is None:
                known = compute()
                self.put(space, key, kind, known)
            self._known[space, key] = known
        return known

    def get(self, space: str, key: Any, kind: Any, parts: SharedParts | None = None) -> Any:
        """Return the cached value of this type, or None."""
        text = self.get_text(space, key)
        if text is None:
            return None
        try:
            return decode_text(kind, text) if parts is None else decode_text(kind, text, parts)
        except CodecError:
            return None

    def put(self, space: str, key: Any, kind: Any, value: Any) -> None:
        """Keep a value of this type."""
        if not self._failed:
            self.put_text(space, key, encode_text(kind, value))

    def get_text(self, space: str, key: Any) -> str | None:
        """The text kept under a key, or None."""
        if self._failed:
            return None
        name = self._hash_key(space, key)
        if name in self._new:
            content = self._new[name][0]
        else:
            row = self._run_guarded(
                lambda db: db.execute("SELECT seal, content FROM kept WHERE name = ?", (name,)).fetchone()
            )
            if row is None or type(row[1]) is not bytes or row[0] != _seal(name, row[1]):
                return None
            content = row[1]
        return content.decode("ascii", errors="replace")

    def put_text(self, space: str, key: Any, text: str) -> None:
        """Keep a text (ASCII)."""
        if not self._failed:
            self._new[self._hash_key(space, key)] = (text.encode("ascii"), space)

    # --- the file ---

    def flush(self) -> None:
        """Write what was put since the last flush, for later runs and for processes working on the same order."""
        if not self._new or self._failed:
            return
        rows = [(name, _seal(name, content), content, space) for name, (content, space) in self._new.items()]

        def write(db: sqlite3.Connection) -> bool:
            with db:
                db.executemany("INSERT OR REPLACE INTO kept VALUES (?, ?, ?, ?)", rows)
            return True

        if self._run_guarded(write) or self._failed:
            self._new.clear()

    def close(self, most: int = MOST) -> None:
        """Write what was put since, make room when the file is larger than `most` bytes, and close it."""
        self.flush()
        if self._open is not None and not self._failed:
            self._run_guarded(lambda db: _make_room(db, most))
        self._close_database()

    def _hash_key(self, space: str, key: Any) -> bytes:
        return hashlib.sha256(f"{cache_key.build_key()}\n{space}\n{pack_json(key)}".encode()).digest()

    def _run_guarded(self, what: Callable[[sqlite3.Connection], T]) -> T | None:
        """Run it and return its result; None when the file can't be used now, or at all."""
        try:
            return what(self._get_connection())
        except sqlite3.Error as error:
            busy = getattr(error, "sqlite_errorcode", None) in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)
            self.problem = f"{self._get_file()}: {error}"
            self._waited += busy
            if not busy or self._waited == PATIENCE:
                self._give_up(damaged=isinstance(error, sqlite3.DatabaseError) and _is_damage(error))
        except (OSError, _NotPlain) as error:
            self.problem = f"{self._get_file()}: {getattr(error, 'strerror', None) or error}"
            self._give_up()
        return None

    def _get_connection(self) -> sqlite3.Connection:
        if self._open is None or self._process != os.getpid():
            self._left.append(self._open)
            self._process = os.getpid()
            self._open = _open_database(self._get_file())
        return self._open

    def _get_file(self) -> Path:
        return (self.folder or Path()) / FILE

    def _give_up(self, *, damaged: bool = False) -> None:
        """Stop caching in this run. A damaged file is replaced in the next."""
        self._failed = True
        self._new.clear()
        self._close_database()
        if damaged:
            with contextlib.suppress(OSError):
                self._get_file().unlink()
                self._get_file().with_name(f"{FILE}-journal").unlink(missing_ok=True)

    def _close_database(self) -> None:
        if self._open is not None and self._process == os.getpid():
            with contextlib.suppress(sqlite3.Error):
                self._open.close()
            self._open = None


class _NotPlain(Exception):
    """The path isn't a plain file: opening it could block for ever."""


def _open_database(file: Path) -> sqlite3.Connection:
    file.parent.mkdir(parents=True, exist_ok=True)
    for path in (file, file.with_name(f"{FILE}-journal")):
        if path.exists() and not path.is_file():
            raise _NotPlain("not a file")
    db = sqlite3.connect(file, timeout=WAITS)
    try:
        db.execute("PRAGMA synchronous = OFF")  # a power cut may damage the file; a damaged cache is replaced
        if not _is_mine(db):  # of another version of the tool, or new
            with db:
                db.execute("BEGIN IMMEDIATE")
                if not _is_mine(db):  # checked again under the lock: another process may have updated it
                    db.execute("DROP TABLE IF EXISTS kept")
                    db.execute(_TABLE)
                    db.execute(f"PRAGMA user_version = {_hash_stamp(cache_key.build_key()):d}")
    except BaseException:
        db.close()
        raise
    return db


def _is_mine(db: sqlite3.Connection) -> bool:
    return bool(db.execute("PRAGMA user_version").fetchone()[0] == _hash_stamp(cache_key.build_key()))


def _hash_stamp(stamp: str) -> int:
    """Hash the tool's version to the size that the file has room for."""
    return int(hashlib.sha256(stamp.encode()).hexdigest()[:7], 16)


def _make_room(db: sqlite3.Connection, most: int) -> None:
    size = db.execute("PRAGMA page_count").fetchone()[0] * db.execute("PRAGMA page_size").fetchone()[0]
    if size > most:
        with db:
            db.execute("DELETE FROM kept WHERE rowid <= (SELECT (min(rowid) + max(rowid)) / 2 FROM kept)")
        db.execute("VACUUM")


def _seal(name: bytes, content: bytes) -> bytes:
    return hashlib.sha256(name + content).digest()[:16]


def _is_damage(error: sqlite3.DatabaseError) -> bool:
    return getattr(error, "sqlite_errorcode", 0) & 0xFF in (sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_CORRUPT) or (
        "no such table" in str(error) or "no such column" in str(error)
    )
