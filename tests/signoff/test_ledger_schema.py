"""The ledger's schema: files of earlier versions are opened and migrated whole, rows are typed, rows can be voided."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import fields, replace

import pytest

from pipeline.core.errors import CannotRun
from pipeline.signoff.approval import approve_pieces
from pipeline.signoff.records.ledger import SCHEMA, Ledger, Moved, find_chain_breaks, read_verified_entries
from pipeline.signoff.records.ledger_entry import (
    COLUMNS,
    FORM,
    LedgerEntry,
    LedgerHead,
    ProofDesign,
    find_head,
    select_counting_entries,
)
from pipeline.signoff.sign_off import SignOff
from tests import builders
from tests.signoff.old_ledgers import write_old

AT = "2026-05-02T09:30:00Z"
OLD = (
    {"kind": "paper", "revision": "A", "by": "Rowan Petrel", "source": "back.pdf", "order_id": "3479CD"},
    {
        "kind": "answer", "revision": "A", "fingerprint": "3479CDFHJK", "decision": "agreed", "text": ["Ada", "Ωß日"],
        "rows": [5, 9], "cells": ["B5", "B9"], "pieces": 2, "cap_heights": [8.0, 4.25], "order_id": "3479CD",
    },
)  # fmt: skip
FULL = LedgerEntry(
    kind="proof",
    title="Wardens of the Shore 2026",
    client="Tidewrack Seabird Trust",
    order_file="order.toml",
    no=7,
    volume=2,
    state="cut",
    place="board 3",
    note="chipped at the d",
    sender="Rowan <rowan@tidewrack.example>",
    content="c" * 64,
    designs=(
        ProofDesign(no=7, fingerprint="3479CDFHJK", text=("Ada", "日"), rows=(5, 9), cells=("B5", "B9"), pieces=2),
    ),
    files=(("ada.dxf", "a" * 64),),
    making=(("files.tolerance", "0.01"),),
    head_rows=3,
    head_hash="d" * 64,
    voids=(1, 2),
)


@pytest.mark.parametrize("lettering", [True, False])
def test_a_ledger_of_an_earlier_version_is_read_then_migrated_with_nothing_lost(tmp_path, lettering):
    ledger = Ledger.open(tmp_path)
    hashes = write_old(ledger.path, OLD, lettering=lettering)
    before = ledger.path.read_bytes()
    rows = read_verified_entries(ledger)
    assert [r.hash for r in rows] == hashes and rows[1].text == ("Ada", "Ωß日") and rows[1].cap_heights == (8.0, 4.25)
    assert ledger.path.read_bytes() == before and len(list(tmp_path.iterdir())) == 1  # reading doesn't migrate
    ledger.add([FULL], AT)
    after = read_verified_entries(ledger)
    assert after[:2] == rows and [r.form for r in after] == [int(lettering)] * 2 + [FORM]
    assert after[2].previous == hashes[-1]
    (copy,) = [p for p in tmp_path.iterdir() if p != ledger.path]
    assert copy.name == "signoff-schema-1.sqlite" and Ledger(copy).read_entries() == rows
    with closing(sqlite3.connect(ledger.path)) as base:
        assert base.execute("PRAGMA user_version").fetchone()[0] == SCHEMA
        for statement in ("UPDATE entries SET by = ''", "DELETE FROM entries"):
            with pytest.raises(sqlite3.DatabaseError):
                base.execute(statement)


def test_a_ledger_that_still_has_the_table_of_files_is_read_and_gains_rows(tmp_path):
    """Of this schema, but made before that table was left out."""
    ledger = Ledger.open(tmp_path)
    first = ledger.add([FULL], AT)
    with closing(sqlite3.connect(ledger.path)) as base:
        base.execute("CREATE TABLE files (sha256 TEXT PRIMARY KEY, name TEXT NOT NULL, data BLOB NOT NULL) STRICT")
        base.execute("CREATE TRIGGER file_never_deleted BEFORE DELETE ON files BEGIN SELECT RAISE(ABORT, 'never'); END")
        base.commit()
    second = ledger.add([FULL], AT)
    assert read_verified_entries(ledger) == (*first, *second)
    assert [p.name for p in tmp_path.iterdir()] == [ledger.path.name]  # nothing to migrate, no copy


def test_a_second_copy_never_overwrites_the_first(tmp_path):
    (tmp_path / "signoff-schema-1.sqlite").write_bytes(b"the maker's own")
    ledger = Ledger.open(tmp_path)
    write_old(ledger.path, OLD)
    ledger.add([FULL], AT)
    assert (tmp_path / "signoff-schema-1.sqlite").read_bytes() == b"the maker's own"
    assert len(Ledger(tmp_path / "signoff-schema-1-2.sqlite").read_entries()) == 2


def test_every_column_is_read_back_as_it_was_written_and_is_in_the_hash(tmp_path):
    ledger = Ledger.open(tmp_path)
    (written,) = ledger.add([FULL], AT)
    assert read_verified_entries(ledger) == (written,)
    assert replace(written, id=0, at="", previous="", hash="") == FULL
    for name in (f.name for f in fields(LedgerEntry) if f.name not in ("hash", "form")):
        other = {int: 99, str: "other", tuple: ()}[type(getattr(written, name))]
        if name == "kind":
            other = "void"
        if name in ("text", "rows", "cells", "cap_heights"):
            other = {"text": ("x",), "cells": ("x",), "rows": (1,), "cap_heights": (1.0,)}[name]
        assert find_chain_breaks([replace(written, **{name: other})]), name
    assert find_chain_breaks([replace(written, form=1)]) and find_chain_breaks([replace(written, form=9)])


def test_a_value_that_an_old_row_cannot_have_breaks_the_chain(tmp_path):
    ledger = Ledger.open(tmp_path)
    write_old(ledger.path, OLD)
    first, second = read_verified_entries(ledger)
    assert find_chain_breaks([first, replace(second, title="Another")])


@pytest.mark.parametrize(
    "changed",
    [
        {"pieces": -5}, {"pieces": 10**9}, {"pieces": 1.5}, {"pieces": "2"}, {"pieces": True}, {"rows": (5, -1)},
        {"rows": [5]}, {"text": ("a", 3)}, {"by": None}, {"by": "x" * 40_000}, {"kind": "anything"},
        {"cap_heights": (float("nan"),)}, {"files": (("a",),)}, {"designs": ((1, 2),)}, {"volume": -1},
        {"designs": (replace(FULL.designs[0], pieces=-1),)},
    ],
)  # fmt: skip
def test_what_no_row_may_hold_is_refused_whole(tmp_path, changed):
    ledger = Ledger.open(tmp_path)
    ledger.add([FULL], AT)
    with pytest.raises(CannotRun, match="cannot be recorded"):
        ledger.add([replace(FULL, note="first"), replace(FULL, source="back.pdf", **changed)], AT)
    assert len(read_verified_entries(ledger)) == 1


def test_a_row_that_voids_another_mends_the_ledger_and_can_be_voided_itself():
    def row(id: int, kind: str = "answer", voids: tuple[int, ...] = ()) -> LedgerEntry:
        return LedgerEntry(id=id, kind=kind, voids=voids)

    rows = [row(1), row(2), row(3, "void", (2,))]
    assert [e.id for e in select_counting_entries(rows)] == [1]
    assert [e.id for e in select_counting_entries([*rows, row(4, "void", (3,))])] == [1, 2]
    assert [e.id for e in select_counting_entries([row(1, "void", (2,)), row(2)])] == [2]  # only rows before it


def test_an_invalid_row_of_an_earlier_version_blocks_nothing(tmp_path):
    """The number of pieces on a paper used to be accepted whatever it was."""
    plaque = builders.plaque(5, "Ada Kittiwake")
    wedged = {**OLD[1], "fingerprint": plaque.fingerprint, "text": list(plaque.text), "pieces": -5}
    ledger = Ledger.open(tmp_path)
    write_old(ledger.path, [OLD[0], wedged, {"kind": "released", "fingerprint": plaque.fingerprint, "pieces": -5}])
    entries = read_verified_entries(ledger)
    (approval,) = approve_pieces([plaque], SignOff(entries=entries))
    assert (approval.signed, approval.held, approval.state) == (0, 1, "more-pieces")
    ledger.add([LedgerEntry(kind="void", voids=(2, 3))], AT)
    own = {"fingerprint": plaque.fingerprint, "text": plaque.text}
    ledger.add([LedgerEntry(kind="answer", decision="agreed", rows=(5,), pieces=1, **own)], AT)
    assert (
        approve_pieces([plaque], SignOff(entries=select_counting_entries(read_verified_entries(ledger))))[0].signed == 1
    )


@pytest.mark.parametrize("value", ['["x"]', "[" * 40_000, "5", "[null]", '{"a": 1}'])
@pytest.mark.parametrize("column", ["cap_heights", "rows", "designs", "making"])
def test_a_damaged_row_is_named_and_never_an_internal_error(tmp_path, column, value):
    ledger = Ledger.open(tmp_path)
    ledger.add([FULL], AT)
    with closing(sqlite3.connect(ledger.path)) as base:
        base.execute("DROP TRIGGER never_changed")
        base.execute(f"UPDATE entries SET {column} = ?", (value,))
        base.commit()
    with pytest.raises(CannotRun, match=r"signoff\.sqlite"):
        read_verified_entries(ledger)


def test_a_write_decided_on_rows_that_are_no_longer_the_last_is_not_made(tmp_path):
    ledger = Ledger.open(tmp_path)
    with ledger.transaction(AT, after=LedgerHead()) as writing:
        writing.add([FULL])
        assert writing.head.rows == 1 and len(writing.entries) == 1
    seen = find_head(read_verified_entries(ledger))
    ledger.add([replace(FULL, note="another's")], AT)
    with pytest.raises(Moved), ledger.transaction(AT, after=seen) as writing:
        writing.add([replace(FULL, note="mine")])
    assert [e.note for e in read_verified_entries(ledger)] == [FULL.note, "another's"]
    with ledger.transaction(AT, after=find_head(read_verified_entries(ledger))) as writing:
        writing.add([replace(FULL, note="mine")])
    assert len(read_verified_entries(ledger)) == 3


def test_an_exception_undoes_everything_of_its_transaction(tmp_path):
    ledger, packed = Ledger.open(tmp_path), b"lettering"
    with pytest.raises(RuntimeError), ledger.transaction(AT) as writing:
        writing.add([FULL], packed)
        raise RuntimeError
    assert read_verified_entries(ledger) == ()
    with closing(sqlite3.connect(ledger.path)) as base:
        assert base.execute("SELECT count(*) FROM drawings").fetchone() == (0,)


def test_another_program_s_database_is_not_touched(tmp_path):
    ledger = Ledger.open(tmp_path)
    with closing(sqlite3.connect(ledger.path)) as base:
        base.execute("CREATE TABLE birds (name TEXT)")
        base.commit()
    before = ledger.path.read_bytes()
    for use in (ledger.read_entries, lambda: ledger.add([FULL], AT)):
        with pytest.raises(CannotRun, match="not one of ours"):
            use()
    assert ledger.path.read_bytes() == before


def test_columns_of_the_schema_never_change():
    """The next schema may add a column; none of these is ever renamed, retyped or removed."""
    assert COLUMNS == (
        "id", "at", "kind", "order_id", "order_sha256", "revision", "fingerprint", "decision", "text", "rows", "cells",
        "pieces", "cap_heights", "change_to", "reply", "why", "by", "date", "source", "source_kind", "source_sha256",
        "drawings", "title", "client", "order_file", "no", "volume", "state", "place", "note", "sender", "content",
        "designs", "files", "making", "head_rows", "head_hash", "voids", "form", "previous", "hash",
    )  # fmt: skip
