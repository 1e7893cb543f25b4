"""The sign-off ledger: one SQLite file in the order folder that only ever gains rows.

Each row holds the hash of the row before it, so that a row changed or taken out later breaks the chain and is found.
That rows are only added, one after the other, is enforced by the database itself. What is not promised: somebody who
rewrites the whole file, or cuts off its end, leaves a chain that holds; a cut list therefore names the last hash.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import asdict, dataclass, fields, replace
from pathlib import Path
from typing import Any, Literal

from pipeline.core.codes import sha256_of
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.model import Piece
from pipeline.outputs.paper.identity import Drawings
from pipeline.signoff.drawings import sha256_of_packed, unpacked

FILE = "signoff.sqlite"
SCHEMA = 1
WAIT_SECONDS = 30.0
"""How long a writer waits for another one."""
BEGINNING = "0" * 64
"""What stands as the hash before the first row."""

EntryKind = Literal["paper", "answer", "reply", "released", "withdrawn"]
"""paper: one that came back · answer: what it says about one design · reply: about a name without a cut · released:
pieces of a design copied out · withdrawn: a released file taken back."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One row of the ledger. What does not apply is empty."""

    id: int = 0  # 1, 2, 3 …; 0 before it is written
    at: str = ""  # RFC 3339, UTC
    kind: EntryKind
    order_id: str = ""
    order_sha256: str = ""
    revision: str = ""
    fingerprint: str = ""
    decision: str = ""
    text: tuple[str, ...] = ()
    rows: tuple[int, ...] = ()
    cells: tuple[str, ...] = ()
    pieces: int = 0
    cap_heights: tuple[float, ...] = ()  # mm, of the lines, as far as known
    change_to: str = ""
    reply: str = ""
    why: str = ""
    by: str = ""
    date: str = ""  # as the client wrote it
    source: str = ""  # the paper's file name or reference
    source_kind: str = ""
    source_sha256: str = ""
    drawings: str = ""  # sha256 of the lettering its paper showed, as the ledger keeps it
    previous: str = ""
    hash: str = ""

    def sealed(self, id: int, at: str, previous: str) -> Entry:
        """The row as it is written after the row with hash `previous`."""
        entry = replace(self, id=id, at=at, previous=previous, hash="")
        return replace(entry, hash=entry.digest())

    def digest(self) -> str:
        """sha256 over everything in the row but the hash itself."""
        plain = asdict(self)
        del plain["hash"]
        plain["cap_heights"] = [f"{c:.6f}" for c in self.cap_heights]
        return sha256_of(plain)


_COLUMNS = tuple(f.name for f in fields(Entry))
_LISTS = {"text", "rows", "cells", "cap_heights"}
_NUMBERS = {"id", "pieces"}

_CREATE = f"""
CREATE TABLE IF NOT EXISTS entries (
    {
    ", ".join(
        "id INTEGER PRIMARY KEY" if c == "id" else f"{c} {'INTEGER' if c in _NUMBERS else 'TEXT'} NOT NULL"
        for c in _COLUMNS
    )
}
) STRICT;
CREATE TRIGGER IF NOT EXISTS never_changed BEFORE UPDATE ON entries
    BEGIN SELECT RAISE(ABORT, 'the ledger only ever gains rows: nothing in it is changed'); END;
CREATE TRIGGER IF NOT EXISTS never_deleted BEFORE DELETE ON entries
    BEGIN SELECT RAISE(ABORT, 'the ledger only ever gains rows: nothing in it is deleted'); END;
CREATE TRIGGER IF NOT EXISTS only_added BEFORE INSERT ON entries
    WHEN NEW.id IS NOT (SELECT coalesce(max(id), 0) + 1 FROM entries)
      OR NEW.previous IS NOT coalesce((SELECT hash FROM entries ORDER BY id DESC LIMIT 1), '{BEGINNING}')
    BEGIN SELECT RAISE(ABORT, 'the ledger only ever gains rows: a row follows the last one'); END;
CREATE TABLE IF NOT EXISTS drawings (sha256 TEXT PRIMARY KEY, packed BLOB NOT NULL) STRICT;
CREATE TRIGGER IF NOT EXISTS drawing_never_changed BEFORE UPDATE ON drawings
    BEGIN SELECT RAISE(ABORT, 'the ledger only ever gains rows: nothing in it is changed'); END;
CREATE TRIGGER IF NOT EXISTS drawing_never_deleted BEFORE DELETE ON drawings
    BEGIN SELECT RAISE(ABORT, 'the ledger only ever gains rows: nothing in it is deleted'); END;
CREATE TRIGGER IF NOT EXISTS drawing_once BEFORE INSERT ON drawings
    WHEN EXISTS (SELECT 1 FROM drawings WHERE sha256 = NEW.sha256)
    BEGIN SELECT RAISE(IGNORE); END;
PRAGMA user_version = {SCHEMA};
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Break:
    """A row that does not follow from the one before it."""

    id: int
    found: str


class Ledger:
    """A ledger file. Reading one that is not there gives no rows and makes no file."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._drawn: dict[str, Drawings] = {}

    @classmethod
    def of(cls, folder: Path) -> Ledger:
        """The ledger of an order folder."""
        return cls(folder / FILE)

    def entries(self) -> tuple[Entry, ...]:
        """All rows, oldest first. CannotRun when the file cannot be read."""
        if not self.path.exists():
            return ()
        with self._told(), closing(self._connect()) as base:
            return tuple(self._rows(base))

    def drawn(self, entry: Entry) -> tuple[Piece, ...]:
        """The lettering of an answer's plaque as its paper showed it, in mm on the blank; empty when the ledger has
        none.
        """
        name = entry.drawings
        if name and name not in self._drawn:
            with self._told(), closing(self._connect()) as base:
                row = base.execute("SELECT packed FROM drawings WHERE sha256 = ?", (name,)).fetchone()
            kept = row is not None and sha256_of_packed(row[0]) == name  # what was altered is not shown
            self._drawn[name] = unpacked(row[0] if kept else b"")
        return self._drawn[name].get(entry.fingerprint, ()) if name else ()

    def add(self, entries: Sequence[Entry], at: str, drawings: bytes = b"") -> tuple[Entry, ...]:
        """Add rows, all or none, after whatever others have added meanwhile. at: RFC 3339, UTC. drawings: the packed
        lettering that the rows name.

        Returns them as written. CannotRun when the file cannot be written. That the chain holds is for `sound` to say.
        """
        if not entries:
            return ()
        with self._told(), closing(self._connect()) as base:
            base.execute("BEGIN IMMEDIATE")  # one writer at a time, from here to the commit
            try:
                if drawings:
                    base.execute("INSERT INTO drawings VALUES (?, ?)", (sha256_of_packed(drawings), drawings))
                written = list(self._append(base, entries, at))
                base.execute("COMMIT")
            except BaseException:
                base.execute("ROLLBACK")
                raise
        return tuple(written)

    def _append(self, base: sqlite3.Connection, entries: Iterable[Entry], at: str) -> Iterator[Entry]:
        last = base.execute("SELECT id, hash FROM entries ORDER BY id DESC LIMIT 1").fetchone()
        number, previous = last or (0, BEGINNING)
        for entry in entries:
            number += 1
            sealed = entry.sealed(number, at, previous)
            base.execute(
                f"INSERT INTO entries ({', '.join(_COLUMNS)}) VALUES ({', '.join('?' * len(_COLUMNS))})",
                [_stored(name, getattr(sealed, name)) for name in _COLUMNS],
            )
            previous = sealed.hash
            yield sealed

    def _connect(self) -> sqlite3.Connection:
        base = sqlite3.connect(self.path, timeout=WAIT_SECONDS, isolation_level=None)
        try:
            # a rollback journal, flushed: works on a network share, and a kill or a power cut leaves all or nothing
            base.execute("PRAGMA synchronous = FULL")
            version = base.execute("PRAGMA user_version").fetchone()[0]
            if version > SCHEMA:
                raise CannotRun(
                    Fault(
                        where=str(self.path),
                        found=f"a ledger of a later version ({version})",
                        expected=f"version {SCHEMA}",
                        remedy="use the newer version of this tool that wrote it",
                    )
                )
            if version < SCHEMA:
                base.executescript(f"BEGIN IMMEDIATE; {_CREATE} COMMIT;")
        except BaseException:
            base.close()
            raise
        return base

    @staticmethod
    def _rows(base: sqlite3.Connection) -> Iterator[Entry]:
        for row in base.execute(f"SELECT {', '.join(_COLUMNS)} FROM entries ORDER BY id"):
            yield Entry(**{name: _read(name, value) for name, value in zip(_COLUMNS, row, strict=True)})

    @contextmanager
    def _told(self) -> Iterator[None]:
        """Errors of the database in words that name the file."""
        try:
            yield
        except (sqlite3.Error, ValueError, TypeError) as error:
            raise CannotRun(
                Fault(
                    where=str(self.path),
                    found=f"the sign-off ledger cannot be used ({error})",
                    expected="a ledger written by this tool, in a folder that may be written to",
                    remedy="put back the last good copy, or move the file away to begin a new ledger: "
                    "sign-offs recorded in it then have to be given again",
                )
            ) from error


def _stored(name: str, value: Any) -> Any:
    return json.dumps(value, ensure_ascii=True) if name in _LISTS else value


def _read(name: str, value: Any) -> Any:
    return tuple(json.loads(value)) if name in _LISTS else value


def breaks(entries: Iterable[Entry]) -> tuple[Break, ...]:
    """Every place where the chain of rows does not hold; empty when it does."""
    found, number, previous = [], 0, BEGINNING
    for entry in entries:
        number += 1
        if entry.id != number:
            found.append(Break(id=entry.id, found=f"row {number} is missing"))
            number = entry.id
        if entry.previous != previous:
            found.append(Break(id=entry.id, found=f"row {entry.id} does not follow from the row before it"))
        if entry.hash != entry.digest():
            found.append(Break(id=entry.id, found=f"row {entry.id} was changed after it was written"))
        previous = entry.hash
    return tuple(found)


def sound(ledger: Ledger) -> tuple[Entry, ...]:
    """The ledger's rows; CannotRun when the chain is broken, naming every place."""
    entries = ledger.entries()
    if broken := breaks(entries):
        raise CannotRun(
            Fault(
                where=str(ledger.path),
                found="the sign-off ledger was tampered with or damaged: " + "; ".join(b.found for b in broken[:5]),
                expected="rows that follow from one another",
                remedy="put back the last good copy; sign-offs after it have to be given again",
            )
        )
    return entries
