"""Ledgers as earlier versions wrote them, created with their SQL statements: before lettering was stored, and after."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Mapping, Sequence
from contextlib import closing
from pathlib import Path

FIRST = (
    "id at kind order_id order_sha256 revision fingerprint decision text rows cells pieces cap_heights change_to reply "
    "why by date source source_kind source_sha256 previous hash"
).split()
WITH_LETTERING = [*FIRST[:-2], "drawings", *FIRST[-2:]]
_NUMBERS, _LISTS = {"id", "pieces"}, {"text", "rows", "cells", "cap_heights"}


def write_old(path: Path, rows: Sequence[Mapping[str, object]], *, lettering: bool = True) -> list[str]:
    """Write the rows as schema 1 did; return their hashes. lettering: whether there is a column `drawings`."""
    names = WITH_LETTERING if lettering else FIRST
    columns = ", ".join(
        "id INTEGER PRIMARY KEY" if n == "id" else f"{n} {'INTEGER' if n in _NUMBERS else 'TEXT'} NOT NULL"
        for n in names
    )
    guards = """
        CREATE TRIGGER never_changed BEFORE UPDATE ON entries BEGIN SELECT RAISE(ABORT, 'only ever gains rows'); END;
        CREATE TRIGGER never_deleted BEFORE DELETE ON entries BEGIN SELECT RAISE(ABORT, 'only ever gains rows'); END;
    """
    drawings = "CREATE TABLE drawings (sha256 TEXT PRIMARY KEY, packed BLOB NOT NULL) STRICT;" if lettering else ""
    hashes: list[str] = []
    with closing(sqlite3.connect(path)) as base:
        base.executescript(f"CREATE TABLE entries ({columns}) STRICT; {guards} {drawings} PRAGMA user_version = 1;")
        for number, given in enumerate(rows, 1):
            empty = {n: 0 if n in _NUMBERS else [] if n in _LISTS else "" for n in names}
            row = {**empty, "at": "2026-01-05T08:00:00Z", **given, "id": number}
            row["previous"] = hashes[-1] if hashes else "0" * 64
            del row["hash"]
            said = {**row, "cap_heights": [f"{c:.6f}" for c in row["cap_heights"]]}
            row["hash"] = hashlib.sha256(
                json.dumps(said, ensure_ascii=True, separators=(",", ":"), sort_keys=True).encode("ascii")
            ).hexdigest()
            hashes.append(str(row["hash"]))
            values = [json.dumps(row[n]) if n in _LISTS else row[n] for n in names]
            base.execute(f"INSERT INTO entries ({', '.join(names)}) VALUES ({', '.join('?' * len(names))})", values)
        base.commit()
    return hashes
