"""Proofs as they were made: letters, copies, plain numbers; the maker's decisions; the JSON output."""

from __future__ import annotations

import json
import os
import sys
import unicodedata
from dataclasses import replace

import pytest

from pipeline.core.errors import CannotRun
from pipeline.outputs.pdf.identity import ProofIdentity
from pipeline.signoff.records.kept_lettering import read_identity
from pipeline.signoff.records.ledger import read_verified_entries
from pipeline.signoff.records.plain_numbers import read_numbers
from pipeline.signoff.returned.pdf_form import has_visible_text
from tests import builders
from tests.signoff.rounds import Round, filled
from tests.signoff.test_round_proof import filled_proof

NAMES = ("Ada Kittiwake", "Bo Fulmar", "Cy Gannet")


@pytest.fixture(scope="module")
def begun(tmp_path_factory):
    people = tuple(builders.plaque(5 + n, name) for n, name in enumerate(NAMES))
    made = Round(tmp_path_factory.mktemp("round"), people)
    made.run(proof=True)
    return made


@pytest.fixture
def trip(begun, tmp_path):
    return begun.copy(tmp_path)


def kept(trip):
    return sorted(p.name for p in (trip.folder / "sent").iterdir())


def proofs(trip):
    return [e for e in read_verified_entries(trip.ledger) if e.kind == "proof"]


def back(trip, values, name="back.pdf"):
    return filled_proof(trip.folder / "sent" / "proof-A.pdf", trip.folder / "r" / name, values)


def test_a_letter_belongs_to_one_content(trip):
    first = (trip.out / "proof.pdf").read_bytes()
    assert kept(trip) == ["check-A.xlsx", "proof-A.pdf"]
    assert (trip.folder / "sent" / "proof-A.pdf").read_bytes() == first
    assert trip.run(proof=True).letter == "A" and (trip.out / "proof.pdf").read_bytes() == first
    assert len(proofs(trip)) == 1
    trip.change(6, "Bo Fullmar")  # nothing was sent and nothing came back
    assert trip.run(proof=True).letter == "B"
    assert kept(trip) == ["check-A.xlsx", "check-B.xlsx", "proof-A.pdf", "proof-B.pdf"]
    assert [e.revision for e in proofs(trip)] == ["A", "B"]
    trip.change(6, "Bo Fulmar")  # as proof A showed it
    assert trip.run(proof=True).letter == "A" and (trip.out / "proof.pdf").read_bytes() == first


def test_a_proof_that_only_looks_different_gets_the_next_letter_too(trip):
    with (trip.folder / "order.toml").open("a", encoding="utf-8") as order:
        order.write('[proof]\nmessage = "Check every letter twice."\n')
    assert trip.run(proof=True).letter == "B"


def test_an_invisible_change_keeps_letter_and_bytes(trip, monkeypatch):
    """A comment in the order file: only the hash in the proof would change."""
    before = (trip.out / "proof.pdf").read_bytes()
    other = replace(trip.outcome, order_sha256="f" * 64)
    monkeypatch.setattr(Round, "outcome", property(lambda self: other))
    assert trip.run(proof=True).letter == "A"
    assert (trip.out / "proof.pdf").read_bytes() == before and len(proofs(trip)) == 1


def test_a_number_is_assigned_once(trip):
    given = read_numbers(read_verified_entries(trip.ledger)).designs
    assert [given[p.fingerprint] for p in trip.plaques] == [1, 2, 3]
    old = trip.of(6).fingerprint
    trip.change(6, "Bo Fullmar")
    trip.run(proof=True)
    given = read_numbers(read_verified_entries(trip.ledger)).designs
    assert given[trip.of(6).fingerprint] == 4 and given[old] == 2 and given[trip.of(7).fingerprint] == 3


def test_a_proof_records_the_end_of_the_ledger_and_an_older_ledger_is_reported(trip, tmp_path):
    told = read_identity((trip.out / "proof.pdf").read_bytes())
    assert isinstance(told, ProofIdentity) and (told.head_rows, len(told.head_hash)) == (1, 64)  # the plain numbers
    trip.sign(rows="5", by="Rowan Petrel")
    trip.change(6, "Bo Fullmar")
    trip.run(proof=True)
    copy = trip.folder / "sent" / "proof-B.pdf"
    assert read_identity(copy.read_bytes()).head_rows == len(read_verified_entries(trip.ledger)) - 1
    paper = filled_proof(copy, trip.folder / "r" / "b.pdf", {"decision": "agreed-as-shown", "name": "Rowan Petrel"})
    other = Round(tmp_path / "other", trip.plaques) if (tmp_path / "other").mkdir() is None else None
    other.run()
    assert other.sign(paper) == 1 and "older than the paper" in " ".join(other.said[-1].split())
    assert read_verified_entries(other.ledger) == ()


def test_a_missing_or_changed_copy_is_reported(trip):
    mark = trip.of(5).fingerprint
    paper = back(trip, {f"correct_{mark}": True, "name": "Rowan Petrel"})
    copy = trip.folder / "sent" / "proof-A.pdf"
    data = copy.read_bytes()
    copy.write_bytes(data[:-9] + b"12345%%EOF")
    assert trip.sign(paper) == 1 and "is not the file that was kept" in " ".join(trip.said[-1].split())
    copy.unlink()
    assert trip.sign(paper) == 1 and "is not there" in " ".join(trip.said[-1].split())
    copy.write_bytes(data)
    assert trip.sign(paper) == 0


def test_an_unclear_answer_is_decided_by_its_number_with_a_name(trip):
    marks = [p.fingerprint for p in trip.plaques]
    ticks = {f"correct_{mark}": True for mark in marks}
    paper = back(trip, {**ticks, "name": "Rowan Petrel", "remarks": "the third one is wrong"})
    assert trip.sign(paper) == 1
    said = " ".join(trip.said[0].split())
    assert "3 unclear" in said and "Unclear No. 3, Wardens!B7" in said and "--decide 1=agreed" in said
    assert {e.decision for e in read_verified_entries(trip.ledger) if e.kind == "answer"} == {"unclear"}
    for wrong in ("9=agreed", "all=agreed", "1-3=agreed", "1=yes", "=agreed", "1=agreed,1=leave", "0=agreed"):
        with pytest.raises(CannotRun, match="--decide"):
            trip.sign(paper, decisions=[wrong], decided_by="Harrow Lane")
    with pytest.raises(CannotRun, match="name"):
        trip.sign(paper, decisions=["1=agreed"], decided_by="\u200b")
    assert trip.sign(paper, decisions=["1=agreed,2=agreed", "3=leave"], decided_by="J. Harrow") == 0
    rows = [e for e in read_verified_entries(trip.ledger) if e.kind == "reading"]
    assert [(e.no, e.decision, e.by, e.fingerprint) for e in rows] == [
        (1, "agreed", "J. Harrow", marks[0]),
        (2, "agreed", "J. Harrow", marks[1]),
        (3, "refused", "J. Harrow", marks[2]),
    ]
    assert all("remarks" in e.why and e.source == "back.pdf" and e.revision == "A" for e in rows)


def test_the_maker_cannot_change_a_clear_answer(trip):
    mark = trip.of(6).fingerprint
    paper = back(trip, {f"change_{mark}": "Bo Fullmar", "name": "Rowan Petrel"})
    with pytest.raises(CannotRun, match=r"No\. 2 is not unclear: back\.pdf says “change to Bo Fullmar”"):
        trip.sign(paper, decisions=["2=agreed"], decided_by="J. Harrow")


def test_the_json_output_says_the_same(trip):
    marks = [p.fingerprint for p in trip.plaques]
    fields = {f"correct_{marks[0]}": True, f"change_{marks[1]}": "Bo Fullmar", "name": "Rowan Petrel", "date": "soon"}
    assert trip.sign(back(trip, fields), as_json=True) == 0
    told = json.loads(trip.said[0])
    assert [(a["no"], a["rows"], a["answer"], a["text"]) for a in told["answers"]] == [
        (1, [5], "agreed", "Ada Kittiwake\nWarden\n2026"),
        (2, [6], "change", "Bo Fullmar"),
        (3, [7], "none", "Cy Gannet\nWarden\n2026"),
    ]
    assert (told["by"], told["on"], told["paper"]) == ("Rowan Petrel", "soon", "back.pdf")
    assert told["recorded"] == read_verified_entries(trip.ledger)[-1].at
    assert trip.sign(trip.out / "proof.pdf", as_json=True) == 1
    refused = json.loads(trip.said[1])
    assert refused["recorded"] is None and refused["answers"] == [] and refused["problems"][0]["code"] == "empty"


def test_pieces_that_a_client_changes_in_the_check_sheet_are_asked_about(trip):
    edits = (("Check", "D2", 9),)
    sheet = filled(trip.out / "check.xlsx", trip.folder / "r" / "c.xlsx", {5: "agreed", 6: "agreed"}, edits=edits)
    assert trip.sign(sheet) == 1
    assert "“Pieces” now reads “9” and was “1”" in " ".join(trip.said[0].split())
    held = {e.text[0]: (e.decision, e.pieces) for e in read_verified_entries(trip.ledger) if e.kind == "answer"}
    assert held["Ada Kittiwake"] == ("unclear", 1) and held["Bo Fulmar"] == ("agreed", 1)


def test_a_pipe_given_as_the_answer_does_not_hang(trip):
    os.mkfifo(trip.folder / "answer.pdf")
    with pytest.raises(CannotRun, match="a pipe"):
        trip.sign(trip.folder / "answer.pdf")


def test_blanks_are_not_a_signature():
    """Every format character, blank and control of Unicode, and invisible letters (Default_Ignorable_Code_Point,
    Unicode 15, from memory; U+2800 is the Braille pattern without dots)."""
    kinds = {"Cf", "Cc", "Zs", "Zl", "Zp"}
    unseen = [c for c in map(chr, range(sys.maxunicode + 1)) if unicodedata.category(c) in kinds]
    empty = (0x034F, 0x115F, 0x1160, 0x17B4, 0x17B5, 0x2800, 0x3164, 0xFFA0, 0xFE0F, 0xE0100, 0x180B, 0x2065)
    unseen += map(chr, empty)
    assert len(unseen) > 200
    assert [hex(ord(c)) for c in unseen if has_visible_text(c) or has_visible_text(c * 3 + " ")] == []
    assert has_visible_text("X") and has_visible_text("李") and has_visible_text("\u200fשרה") and has_visible_text(".")
