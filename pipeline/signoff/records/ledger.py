"""The sign-off ledger: one SQLite file in the order folder that only ever gains rows.

Each row holds the hash of the row before it, so that a row changed or taken out later breaks the chain and is found.
That rows are only added, one after the other, is enforced by the database itself. What is not promised: somebody who
rewrites the whole file, or cuts off its end, leaves a chain that holds; cut lists, releases and proofs therefore name
the last hash, see `pipeline.signoff.records.ledger_head`.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

from pipeline.core.errors import CannotRun, Fault
from pipeline.core.model import Piece
from pipeline.core.storage.files import require_plain_file
from pipeline.outputs.pdf.identity import Drawings
from pipeline.signoff.records.kept_lettering import hash_packed, unpack_lettering
from pipeline.signoff.records.ledger_entry import (
    BEGINNING,
    COLUMNS,
    LISTS,
    NUMBERS,
    ChainBreak,
    EntryKind,
    LedgerEntry,
    LedgerHead,
    ProofDesign,
    convert_to_stored,
    find_chain_breaks,
    find_head,
    read_value,
    select_counting_entries,
)

__all__ = [
    "BEGINNING",
    "ChainBreak",
    "EntryKind",
    "Ledger",
    "LedgerEntry",
    "LedgerHead",
    "Moved",
    "ProofDesign",
    "Transaction",
    "find_chain_breaks",
    "find_head",
    "read_verified_entries",
    "select_counting_entries",
]

FILE = "signoff.sqlite"
SCHEMA = 2
WAIT_SECONDS = 30.0
"""Seconds that a writer waits for another one."""


def _define_column(name: str, default: str = "") -> str:
    if name == "id":
        return "id INTEGER PRIMARY KEY"
    return f"{name} {'INTEGER' if name in NUMBERS else 'TEXT'} NOT NULL{default}"


def _default_empty(name: str) -> str:
    return "0" if name in NUMBERS else "'[]'" if name in LISTS else "''"


_GAINS = "the ledger only ever gains rows"


def _write_guards(table: str, name: str) -> tuple[str, ...]:
    """Return triggers that prevent a table's rows from being changed or deleted."""
    return tuple(
        f"CREATE TRIGGER IF NOT EXISTS {name}never_{done} BEFORE {statement} ON {table} "
        f"BEGIN SELECT RAISE(ABORT, '{_GAINS}: nothing in it is {done}'); END"
        for done, statement in (("changed", "UPDATE"), ("deleted", "DELETE"))
    )


def _write_unique_guard(table: str, name: str) -> str:
    return (
        f"CREATE TRIGGER IF NOT EXISTS {name}_once BEFORE INSERT ON {table} "
        f"WHEN EXISTS (SELECT 1 FROM {table} WHERE sha256 = NEW.sha256) BEGIN SELECT RAISE(IGNORE); END"
    )


_CREATE = (
    f"CREATE TABLE IF NOT EXISTS entries ({', '.join(_define_column(c) for c in COLUMNS)}) STRICT",
    *_write_guards("entries", ""),
    f"""CREATE TRIGGER IF NOT EXISTS only_added BEFORE INSERT ON entries
    WHEN NEW.id IS NOT (SELECT coalesce(max(id), 0) + 1 FROM entries)
      OR NEW.previous IS NOT coalesce((SELECT hash FROM entries ORDER BY id DESC LIMIT 1), '{BEGINNING}')
    BEGIN SELECT RAISE(ABORT, '{_GAINS}: a row follows the last one'); END""",
    "CREATE TABLE IF NOT EXISTS drawings (sha256 TEXT PRIMARY KEY, packed BLOB NOT NULL) STRICT",
    *_write_guards("drawings", "drawing_"),
    _write_unique_guard("drawings", "drawing"),
)
"""drawings: the lettering that papers showed. Ledgers of earlier versions also have a table `files`, always empty."""


class Moved(Exception):
    """Rows were added since: whatever was decided from the earlier rows has to be decided again."""


class Transaction:
    """One write: everything it adds is in the ledger when it ends, or nothing. No other writer can intervene."""

    def __init__(self, base: sqlite3.Connection, entries: tuple[LedgerEntry, ...], at: str) -> None:
        self._base, self._at = base, at
        self.entries = entries  # all rows, oldest first, including the added ones

    @property
    def head(self) -> LedgerHead:
        """Return the current end of the ledger."""
        return find_head(self.entries[-1:])

    def add(self, entries: Iterable[LedgerEntry], drawings: bytes = b"") -> tuple[LedgerEntry, ...]:
        """Add rows after the last. drawings: the packed lettering that they name. Returns them as written.

        CannotRun when a row holds what no row may (`LedgerEntry.check`); nothing of the transaction is then written.
        """
        if drawings:
            self._base.execute("INSERT INTO drawings VALUES (?, ?)", (hash_packed(drawings), drawings))
        written: list[LedgerEntry] = []
        number, previous = self.head.rows, self.head.hash
        for entry in entries:
            number += 1
            sealed = _seal_entry(entry, number, self._at, previous)
            self._base.execute(
                f"INSERT INTO entries ({', '.join(COLUMNS)}) VALUES ({', '.join('?' * len(COLUMNS))})",
                [convert_to_stored(name, getattr(sealed, name)) for name in COLUMNS],
            )
            previous = sealed.hash
            written.append(sealed)
        self.entries = (*self.entries, *written)
        return tuple(written)


def _seal_entry(entry: LedgerEntry, number: int, at: str, previous: str) -> LedgerEntry:
    try:
        return entry.seal(number, at, previous)
    except ValueError as error:
        raise CannotRun(
            Fault(
                where=entry.source or "a row for the sign-off ledger",
                found=f"it holds what cannot be recorded: {error}",
                expected="values of the kind and size a ledger holds",
                remedy="ask for the paper again; nothing on it was recorded",
            )
        ) from error


class Ledger:
    """A ledger file. Reading a missing one gives no rows and creates no file."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._drawn: dict[str, Drawings] = {}

    @classmethod
    def open(cls, folder: Path) -> Ledger:
        """Return the ledger of an order folder."""
        return cls(folder / FILE)

    def read_entries(self) -> tuple[LedgerEntry, ...]:
        """Read all rows, oldest first, of any version; nothing is migrated. CannotRun when the file can't be read."""
        if not self.path.exists():
            return ()
        with self._report_errors(), closing(self._connect()) as base:
            return self._read_rows(base)

    def read_lettering(self, entry: LedgerEntry) -> tuple[Piece, ...]:
        """Return the lettering of an answer's plaque as on its paper, in mm on the blank; empty when the ledger has
        none.
        """
        name = entry.drawings
        if name and name not in self._drawn:
            with self._report_errors(), closing(self._connect()) as base:
                row = base.execute("SELECT packed FROM drawings WHERE sha256 = ?", (name,)).fetchone()
            kept = row is not None and hash_packed(row[0]) == name  # lettering that was altered isn't shown
            self._drawn[name] = unpack_lettering(row[0] if kept else b"")
        return self._drawn[name].get(entry.fingerprint, ()) if name else ()

    def add(self, entries: Sequence[LedgerEntry], at: str, drawings: bytes = b"") -> tuple[LedgerEntry, ...]:
        """Add rows, all or none, after whatever others have added meanwhile; see `transaction`."""
        if not entries:
            return ()
        with self.transaction(at) as writing:
            return writing.add(entries, drawings)

    @contextmanager
    def transaction(self, at: str, *, after: LedgerHead | None = None) -> Iterator[Transaction]:
        """Open one write, until the end of the `with`: nobody else writes meanwhile, an exception rolls it back.

        at: RFC 3339, UTC, of all its rows. after: where the ledger ended when it was decided what to write; Moved is
        raised, and nothing held, when it ends elsewhere now. CannotRun when the file cannot be written, or its rows do
        not follow from one another.
        """
        with self._report_errors(), closing(self._connect()) as base:
            self._prepare_schema(base)
            base.execute("BEGIN IMMEDIATE")  # one writer at a time, from here to the commit
            try:
                rows = _require_unbroken(self._read_rows(base), self.path)
                if after is not None and find_head(rows[-1:]) != after:
                    raise Moved
                yield Transaction(base, rows, at)
                base.execute("COMMIT")
            except BaseException:
                base.execute("ROLLBACK")
                raise

    def _connect(self) -> sqlite3.Connection:
        if self.path.exists():
            require_plain_file(self.path, "the sign-off ledger of this order")
        base = sqlite3.connect(self.path, timeout=WAIT_SECONDS, isolation_level=None)
        try:
            # a rollback journal, flushed: works on network shares, and a kill or power cut leaves all or nothing
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
            if version == 0 and _list_tables(base):
                raise ValueError("a database, but not one of ours")
        except BaseException:
            base.close()
            raise
        return base

    def _prepare_schema(self, base: sqlite3.Connection) -> None:
        """Bring a new file, or one of an earlier version, to this schema. The earlier file is copied first."""
        if base.execute("PRAGMA user_version").fetchone()[0] == SCHEMA:
            return
        base.execute("BEGIN IMMEDIATE")
        try:
            version = base.execute("PRAGMA user_version").fetchone()[0]  # another process may just have migrated it
            if version < SCHEMA:
                if version:
                    self._keep_copy(version)
                    there = _list_columns(base)
                    form = 1 if "drawings" in there else 0  # how their rows were hashed
                    for name in (c for c in COLUMNS if c not in there):
                        default = str(form) if name == "form" else _default_empty(name)
                        base.execute(f"ALTER TABLE entries ADD COLUMN {_define_column(name, f' DEFAULT {default}')}")
                for statement in _CREATE:
                    base.execute(statement)
                base.execute(f"PRAGMA user_version = {SCHEMA}")
            base.execute("COMMIT")
        except BaseException:
            base.execute("ROLLBACK")
            raise

    def _keep_copy(self, version: int) -> None:
        """Copy the file beside itself. Nobody writes to it meanwhile: the lock is held."""
        number, target = 1, self.path.with_name(f"{self.path.stem}-schema-{version}{self.path.suffix}")
        while target.exists():
            number += 1
            target = self.path.with_name(f"{self.path.stem}-schema-{version}-{number}{self.path.suffix}")
        begun = target.with_name(f".{target.name}.{os.getpid()}.part")
        try:
            begun.unlink(missing_ok=True)
            with closing(sqlite3.connect(self.path)) as old, closing(sqlite3.connect(begun)) as copy:
                old.backup(copy)
            begun.replace(target)
        finally:
            begun.unlink(missing_ok=True)

    @staticmethod
    def _read_rows(base: sqlite3.Connection) -> tuple[LedgerEntry, ...]:
        there = _list_columns(base)
        if not there:
            return ()
        names = [c for c in COLUMNS if c in there]
        first: dict[str, Any] = {"form": 1 if "drawings" in there else 0}  # for a ledger without a form in each row
        return tuple(
            LedgerEntry(**(first | {name: read_value(name, value) for name, value in zip(names, row, strict=True)}))
            for row in base.execute(f"SELECT {', '.join(names)} FROM entries ORDER BY id")
        )

    @contextmanager
    def _report_errors(self) -> Iterator[None]:
        """Report errors of the database with the file's name."""
        try:
            yield
        except (sqlite3.Error, OSError, ValueError, TypeError, RecursionError) as error:
            raise CannotRun(
                Fault(
                    where=str(self.path),
                    found=f"the sign-off ledger cannot be used ({error})",
                    expected="a ledger written by this tool, in a folder that may be written to",
                    remedy="put back the last good copy, or move the file away to begin a new ledger: "
                    "sign-offs recorded in it then have to be given again",
                )
            ) from error


def _list_tables(base: sqlite3.Connection) -> set[str]:
    return {name for (name,) in base.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}


def _list_columns(base: sqlite3.Connection) -> set[str]:
    return {row[1] for row in base.execute("PRAGMA table_info(entries)")}


def _require_unbroken(entries: tuple[LedgerEntry, ...], path: Path) -> tuple[LedgerEntry, ...]:
    """Return the rows; CannotRun when the chain is broken, naming every place."""
    if broken := find_chain_breaks(entries):
        raise CannotRun(
            Fault(
                where=str(path),
                found="the sign-off ledger was tampered with or damaged: " + "; ".join(b.found for b in broken[:5]),
                expected="rows that follow from one another",
                remedy="put back the last good copy; sign-offs after it have to be given again",
            )
        )
    return entries


def read_verified_entries(ledger: Ledger) -> tuple[LedgerEntry, ...]:
    """Read the ledger's rows, oldest first; CannotRun when the chain is broken, naming every place.

    All of them, also those that a later row voids: `select_counting_entries` leaves these out."""
    return _require_unbroken(ledger.read_entries(), ledger.path)
