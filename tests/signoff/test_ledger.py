"""The ledger only gains rows, stays consistent, and survives several writers and a kill."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from dataclasses import fields

import pytest

from pipeline.core.errors import CannotRun
from pipeline.signoff.records.ledger import BEGINNING, Ledger, LedgerEntry, find_chain_breaks, read_verified_entries
from tests import builders

AT = "2026-05-02T09:30:00Z"
REST = ", ".join(f.name for f in fields(LedgerEntry) if f.name != "id")


def answer(mark: str = "3479CDFHJK", **more: object) -> LedgerEntry:
    plain = {
        "kind": "answer",
        "fingerprint": mark,
        "decision": "agreed",
        "text": ("Ada Kittiwake", "Ωß日"),
        "rows": (5, 10),
    }
    return LedgerEntry(**{**plain, "pieces": 2, "cap_heights": (8.0, 4.25), "by": "R. Petrel", **more})


@pytest.fixture
def ledger(tmp_path):
    made = Ledger.open(tmp_path)
    made.add([LedgerEntry(kind="paper", source="returned.pdf", revision="A"), answer(), answer("TWRPNMXYFD")], AT)
    return made


def raw(ledger: Ledger, *statements: str) -> None:
    with closing(sqlite3.connect(ledger.path)) as base, base:
        for statement in statements:
            base.execute(statement)


def test_what_is_added_is_read_back(ledger):
    entries = ledger.read_entries()
    assert [e.kind for e in entries] == ["paper", "answer", "answer"]
    assert [e.id for e in entries] == [1, 2, 3]
    assert entries[0].previous == BEGINNING and entries[1].previous == entries[0].hash
    assert entries[1].text == ("Ada Kittiwake", "Ωß日") and entries[1].rows == (5, 10)
    assert entries[1].cap_heights == (8.0, 4.25) and entries[1].at == AT
    assert find_chain_breaks(entries) == ()
    later = ledger.add([answer("XXXXXXXXXX")], "2026-05-03T00:00:00Z")
    assert later[0].id == 4 and read_verified_entries(ledger)[-1] == later[0]


def test_reading_creates_no_file(tmp_path):
    assert Ledger.open(tmp_path).read_entries() == ()
    assert Ledger.open(tmp_path).add([], AT) == ()
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE entries SET decision = 'agreed'",
        "DELETE FROM entries WHERE id = 2",
        "DELETE FROM entries",
        "INSERT OR REPLACE INTO entries SELECT * FROM entries WHERE id = 2",
        f"INSERT INTO entries SELECT 9, {REST} FROM entries WHERE id = 3",
        f"INSERT INTO entries SELECT 4, {REST} FROM entries WHERE id = 3",
    ],
)
def test_the_database_itself_refuses_everything_but_a_following_row(ledger, statement):
    before = ledger.read_entries()
    with pytest.raises(sqlite3.DatabaseError, match="only ever gains rows"):
        raw(ledger, statement)
    assert ledger.read_entries() == before


@pytest.mark.parametrize(
    ("statement", "found"),
    [
        ("UPDATE entries SET decision = 'refused' WHERE id = 2", "row 2 was changed"),
        ("UPDATE entries SET pieces = 5 WHERE id = 3", "row 3 was changed"),
        ("UPDATE entries SET text = '[\"Ada\"]' WHERE id = 2", "row 2 was changed"),
        ("DELETE FROM entries WHERE id = 2", "row 2 is missing"),
        ("DELETE FROM entries WHERE id = 1", "row 1 is missing"),
    ],
)
def test_a_row_changed_behind_the_database_s_back_breaks_the_chain(ledger, statement, found):
    raw(ledger, "DROP TRIGGER never_changed", "DROP TRIGGER never_deleted", statement)
    assert found in " ".join(b.found for b in find_chain_breaks(ledger.read_entries()))
    with pytest.raises(CannotRun, match=found):
        read_verified_entries(ledger)


def test_all_rows_of_one_paper_or_none(ledger):
    class Dies(Exception):
        pass

    def entries():
        yield answer("AAA")
        raise Dies

    class Some(list):
        def __iter__(self):
            return entries()

    with pytest.raises(Dies):
        ledger.add(Some([1]), AT)
    assert len(read_verified_entries(ledger)) == 3


@pytest.mark.parametrize("content", [b"not a database at all, only text" * 40, b"SQLite format 3\x00" + b"\xff" * 200])
def test_a_damaged_file_is_named_and_left_alone(tmp_path, content):
    ledger = Ledger.open(tmp_path)
    ledger.path.write_bytes(content)
    for use in (ledger.read_entries, lambda: ledger.add([answer()], AT)):
        with pytest.raises(CannotRun, match=r"signoff\.sqlite"):
            use()
    assert ledger.path.read_bytes() == content


def test_a_ledger_of_a_later_version_is_not_touched(ledger):
    raw(ledger, "PRAGMA user_version = 99")
    with pytest.raises(CannotRun, match="later version"):
        ledger.add([answer()], AT)


WRITER = """
import sys
from pathlib import Path
from pipeline.signoff.records.ledger import Ledger, LedgerEntry
ledger = Ledger(Path(sys.argv[1]))
for n in range(int(sys.argv[3])):
    ledger.add([LedgerEntry(kind="answer", fingerprint=f"{sys.argv[2]}-{n}-{k}") for k in "ab"], "2026-05-02T09:30:00Z")
"""

HALFWAY = """
import sys, time
from pathlib import Path
from pipeline.signoff.records.ledger import Ledger, LedgerEntry
def slow():
    for n in range(2000):
        yield LedgerEntry(kind="answer", fingerprint=f"half-{n}")
    print("in the middle", flush=True)
    time.sleep(600)
class Some(list):
    def __iter__(self):
        return slow()
Ledger(Path(sys.argv[1])).add(Some([1]), "2026-05-02T09:30:00Z")
"""


def start(program: str, *words: object) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", program, *map(str, words)],
        cwd=builders.FONTS.parent,
        env={**os.environ, "PYTHONPATH": "."},
        stdout=subprocess.PIPE,
        text=True,
    )


def integrity(ledger: Ledger) -> str:
    with closing(sqlite3.connect(ledger.path)) as base:
        return base.execute("PRAGMA integrity_check").fetchone()[0]


def test_several_writers_lose_nothing(tmp_path):
    ledger = Ledger.open(tmp_path)
    writers = [start(WRITER, ledger.path, name, 8) for name in "pqr"]
    assert [w.wait() for w in writers] == [0, 0, 0]
    for writer in writers:
        writer.stdout.close()
    marks = [e.fingerprint for e in read_verified_entries(ledger)]
    assert sorted(marks) == sorted(f"{w}-{n}-{k}" for w in "pqr" for n in range(8) for k in "ab")
    assert all(marks[i][:-1] == marks[i + 1][:-1] for i in range(0, len(marks), 2))  # pairs stay together
    assert integrity(ledger) == "ok"


def test_a_kill_in_the_middle_loses_nothing_and_leaves_nothing_half(ledger):
    before = ledger.read_entries()
    writer = start(HALFWAY, ledger.path)
    assert writer.stdout.readline().strip() == "in the middle"
    writer.send_signal(signal.SIGKILL)
    writer.wait()
    writer.stdout.close()
    time.sleep(0.05)
    assert integrity(ledger) == "ok"
    assert read_verified_entries(ledger) == before
    ledger.add([answer("after")], AT)
    assert read_verified_entries(ledger)[-1].fingerprint == "after"
