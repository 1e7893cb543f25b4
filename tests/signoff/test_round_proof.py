"""The round by means of the proof: filled in with pypdf (which didn't write it), recorded, released."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from pathlib import Path

import pypdf
import pytest
from pypdf.generic import NameObject

from pipeline.signoff.records.ledger import read_verified_entries
from tests import builders
from tests.signoff.rounds import Round

NAMES = ("Ada Kittiwake", "Bo Fulmar", "Cy Gannet", "Dee Petrel", "Márta Szélfuvás")


def filled_proof(sent: Path, target: Path, values: Mapping[str, str | bool]) -> Path:
    """Return the proof as a client sends it back."""
    writer = pypdf.PdfWriter(clone_from=pypdf.PdfReader(sent))
    left = set(values)
    for page in writer.pages:
        for widget in (a.get_object() for a in page.get("/Annots", [])):
            parent = widget.get("/Parent", widget).get_object() if "/T" not in widget else widget
            name = parent.get("/T")
            if name not in values or widget.get("/Subtype") != "/Widget":
                continue
            value, states = values[name], [k for k in widget.get("/AP", {}).get("/N", {}) if k != "/Off"]
            if isinstance(value, bool) or "/Parent" in widget:
                chosen = NameObject(f"/{value}" if isinstance(value, str) else states[0])
                if chosen in states:
                    widget[NameObject("/AS")] = chosen
                    parent[NameObject("/V")] = chosen
            else:
                writer.update_page_form_field_values(page, {name: value}, auto_regenerate=False)
            left.discard(name)
    assert not left, f"no such fields: {left}"
    target.parent.mkdir(exist_ok=True)
    writer.write(target)
    return target


@pytest.fixture(scope="module")
def begun(tmp_path_factory):
    people = tuple(builders.plaque(5 + n, name) for n, name in enumerate(NAMES))
    made = Round(tmp_path_factory.mktemp("round"), people)
    made.run(proof=True)
    return made


@pytest.fixture
def trip(begun, tmp_path):
    return begun.copy(tmp_path)


def test_ticks_one_change_and_one_refusal(trip):
    marks = {p.recipient.row: p.fingerprint for p in trip.plaques}
    paper = filled_proof(
        trip.out / "proof.pdf",
        trip.folder / "returned" / "proof signed.pdf",
        {
            f"correct_{marks[5]}": True,
            f"correct_{marks[6]}": True,
            f"leave_{marks[8]}": True,
            f"change_{marks[9]}": "Márta Szélfúvás",
            "name": "Rowan Petrel",
            "date": "2 May 2026",
        },
    )
    trip.sign(paper)
    said = " ".join(trip.said[0].split())
    assert "proof signed.pdf: proof of revision A, signed by Rowan Petrel on 2 May 2026" in said
    assert "2 agreed, 1 to be changed, 1 not to be cut, 1 not answered" in said
    assert "Change No. 5, Wardens!B9: “Márta Szélfuvás / Warden / 2026” to “Márta Szélfúvás”" in said
    assert trip.release() == 1
    assert trip.released == sorted(trip.of(row).cut_file.removeprefix("cut/") for row in (5, 6))
    trip.change(9, "Márta Szélfúvás")
    revision = trip.run(proof=True)
    assert revision.letter == "B" and revision.asks == {trip.of(7).fingerprint, trip.of(9).fingerprint}
    before = dict(revision.earlier)[trip.of(9).fingerprint]
    assert before.text[0] == "Márta Szélfuvás"
    # its lettering, for showing old and new side by side
    assert sum(len(piece.build_outline()) for piece in before.drawing) > 20
    again = filled_proof(
        trip.out / "proof.pdf",
        trip.folder / "returned" / "proof B signed.pdf",
        {f"correct_{trip.of(9).fingerprint}": True, f"correct_{marks[7]}": True, "name": "Rowan Petrel"},
    )
    trip.sign(again)
    trip.release()
    assert len(trip.released) == 4
    assert {e.source for e in read_verified_entries(trip.ledger) if e.kind == "paper"} == {
        "proof signed.pdf",
        "proof B signed.pdf",
    }


def test_lettering_for_a_check_sheet_answer_comes_from_the_proof_sent_with_it(trip):
    trip.sign(rows="5-9", by="Rowan Petrel")
    trip.change(9, "Márta Szélfúvás")
    before = dict(trip.run().earlier)[trip.of(9).fingerprint]
    assert before.drawing
    raw = sqlite3.connect(trip.ledger.path)
    with pytest.raises(sqlite3.DatabaseError, match="only ever gains rows"):
        raw.execute("UPDATE drawings SET packed = x''")
    with pytest.raises(sqlite3.DatabaseError, match="only ever gains rows"):
        raw.execute("DELETE FROM drawings")
    raw.execute("INSERT OR REPLACE INTO drawings SELECT sha256, x'00' FROM drawings")
    raw.commit()
    assert raw.execute("SELECT count(*), max(length(packed)) FROM drawings").fetchone()[1] > 1000
    raw.close()


def test_a_proof_of_an_older_revision_is_recorded_only_when_asked(trip):
    mark = trip.of(5).fingerprint
    old = filled_proof(trip.out / "proof.pdf", trip.folder / "r" / "old.pdf", {f"correct_{mark}": True, "name": "S"})
    trip.sign(rows="6", by="Rowan Petrel")
    trip.change(9, "Márta Szélfúvás")
    assert trip.run(proof=True).letter == "B"
    assert trip.sign(old) == 1 and "None of it was recorded" in trip.said[-1]
    assert "--older" in trip.said[-1]
    assert trip.sign(old, older=True) == 0
    assert any(e.fingerprint == mark and e.decision == "agreed" for e in read_verified_entries(trip.ledger))


def test_a_returned_file_that_is_not_our_paper_is_refused(trip, tmp_path):
    (tmp_path / "scan.pdf").write_bytes(b"%PDF-1.4 but nothing more")
    (tmp_path / "letter.docx").write_bytes(b"not even a zip")
    for name in ("scan.pdf", "letter.docx"):
        assert trip.sign(tmp_path / name) == 1
        assert "None of it was recorded" in trip.said[-1], name
    assert [e.kind for e in read_verified_entries(trip.ledger)] == ["numbers", "proof"]
