"""From proof to release and back, on hand-made plaques: what is signed is released, and nothing else."""

from __future__ import annotations

import csv
import json
import re
from dataclasses import replace

import openpyxl
import pytest

from pipeline.core.errors import CannotRun
from pipeline.core.language.texts import load_texts
from pipeline.signoff.records.ledger import read_verified_entries
from tests import builders
from tests.signoff.rounds import Round, filled

NAMES = ("Ada Kittiwake", "Bo Fulmar", "Cy Gannet", "Dee Petrel", "Eli Tern")


@pytest.fixture(scope="module")
def begun(tmp_path_factory):
    plaques = [builders.plaque(5 + n, name) for n, name in enumerate(NAMES)]
    plaques.append(builders.plaque(10, "Ada Kittiwake", copies=2))  # the same design again
    plaques.append(builders.stopped_unset(11, "Þ" * 60, builders.too_long(11, "Þ" * 60)))
    made = Round(tmp_path_factory.mktemp("round"), tuple(plaques))
    assert made.run().letter == "A"
    return made


@pytest.fixture
def trip(begun, tmp_path):
    return begun.copy(tmp_path)


def back(trip, answers, name="returned/check.xlsx", **more):
    return filled(trip.out / "check.xlsx", trip.folder / name, answers, **more)


def decisions(trip):
    return {e.text[0]: (e.decision, e.pieces) for e in read_verified_entries(trip.ledger) if e.kind == "answer"}


def held_codes(trip):
    book = openpyxl.load_workbook(trip.out / "released" / "cut-list.xlsx")
    return {row[0].value: row[6].value for row in book["Held back"].iter_rows(min_row=2) if row[0].value}


def cut_list(trip):
    text = (trip.out / "released" / "cut-list.csv").read_text(encoding="utf-8-sig")
    return list(csv.DictReader(text.splitlines()))


def test_nothing_is_released_before_anybody_has_signed(trip):
    assert trip.release() == 1
    assert trip.released == []
    assert set(held_codes(trip).values()) == {"sign.not-signed", "fit.too-long"}
    assert not trip.ledger.path.exists() or read_verified_entries(trip.ledger) == ()


def test_a_full_round(trip):
    """Ticks, a change and a refusal; release; the list corrected; revision B asks only for what is new."""
    answers = {5: "agreed", 6: "ok", 7: ("change", "Cy Gannett"), 8: "do not cut", 9: "agreed", 10: "agreed"}
    assert trip.sign(back(trip, answers)) == 0
    assert decisions(trip) == {
        "Ada Kittiwake": ("agreed", 3),
        "Bo Fulmar": ("agreed", 1),
        "Cy Gannet": ("change", 1),
        "Dee Petrel": ("refused", 1),
        "Eli Tern": ("agreed", 1),
    }
    said = trip.said[-2]
    assert "signed by Rowan Petrel on 2 May 2026" in said
    assert "Change Wardens!B7: “Cy Gannet / Warden / 2026” to “Cy Gannett”" in said
    changes = openpyxl.load_workbook(trip.out / "changes.xlsx").active
    assert [[c.value for c in row][:4] for row in changes.iter_rows(min_row=2)] == [
        ["Wardens!B7", "Cy Gannet / Warden / 2026", "Cy Gannett", "to do"],
        ["Wardens!B8", "Dee Petrel / Warden / 2026", "do not cut", "to do"],
    ]

    assert trip.release() == 1
    assert trip.released == sorted(trip.of(row).cut_file.removeprefix("cut/") for row in (5, 6, 9))
    assert held_codes(trip) == {7: "sign.change-wanted", 8: "sign.refused", 11: "fit.too-long"}
    listed = cut_list(trip)
    assert [(r["Name"], r["Pieces"], r["Signed by"], r["Signed on"]) for r in listed] == [
        ("Ada Kittiwake", "3", "Rowan Petrel", "2 May 2026"),
        ("Bo Fulmar", "1", "Rowan Petrel", "2 May 2026"),
        ("Eli Tern", "1", "Rowan Petrel", "2 May 2026"),
    ]
    for name in trip.released:
        assert (trip.out / "released" / name).read_bytes() == (trip.out / "cut" / name).read_bytes()

    trip.change(7, "Cy Gannett")
    revision = trip.run()
    assert revision.letter == "B"
    assert revision.asks == {trip.of(7).fingerprint}
    assert (
        revision.list_answered_rows(load_texts("en"))[trip.of(8).fingerprint]
        == "not to be cut: Rowan Petrel, 2 May 2026"
    )
    earlier = dict(revision.earlier)[trip.of(7).fingerprint]
    assert earlier.text[0] == "Cy Gannet" and earlier.revision == "A"
    assert trip.sign(back(trip, {7: "agreed"}, "returned/check B.xlsx")) == 0
    assert trip.release() == 1  # the refused and the stopped one stay
    assert "New: 1 piece: Cy Gannett" in trip.said[-1]
    assert trip.of(7).cut_file.removeprefix("cut/") in trip.released
    assert held_codes(trip) == {8: "sign.refused", 11: "fit.too-long"}
    assert {r["Name"]: r["Revision"] for r in cut_list(trip)}["Cy Gannett"] == "B"
    times = {r["Name"]: r["Released (UTC)"] for r in cut_list(trip)}
    assert times["Cy Gannett"] > times["Ada Kittiwake"]
    trip.release()
    assert "Nothing new since the last release." in trip.said[-1]


def test_running_again_after_signing_repeats_the_same_revision(trip):
    trip.run(proof=True)
    proof = (trip.out / "proof.pdf").read_bytes()
    trip.sign(back(trip, {5: "agreed", 10: "agreed"}))
    revision = trip.run(proof=True)
    assert (revision.letter, revision.asks) == ("A", None)
    assert (trip.out / "proof.pdf").read_bytes() == proof


def test_a_moved_row_stays_signed_and_a_moved_curve_does_not(trip):
    trip.sign(back(trip, dict.fromkeys(range(5, 11), "agreed")))
    shifted = tuple(
        replace(p, recipient=replace(p.recipient, row=p.recipient.row + 1, cell=f"B{p.recipient.row + 1}"))
        for p in trip.plaques
    )
    trip.plaques = (builders.plaque(5, "Zed Skua"), *shifted)
    trip.run()
    trip.release()
    assert held_codes(trip) == {5: "sign.not-signed", 12: "fit.too-long"}
    trip.change(7, "Bo Fulmar", cap_height=7.75)
    trip.run()
    trip.release()
    assert held_codes(trip)[7] == "sign.changed-since"
    assert "line 1: 8.00 mm became 7.75 mm" in trip.said[-1]


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"name": "Bo Fulmer"}, "it was “Bo Fulmar"),
        ({"name": "Bo Fulmar", "cap_height": 7.0}, "8.00 mm became 7.00 mm"),
        ({"name": "Bo Fulmar", "stem": "NotoSans"}, "the face, the place, the cutter or the blank changed"),
    ],
)
def test_what_changes_after_release_is_held_and_its_file_taken_back(trip, change, told):
    trip.sign(back(trip, dict.fromkeys(range(5, 11), "agreed")))
    trip.release()
    was = trip.of(6).cut_file.removeprefix("cut/")
    assert was in trip.released
    trip.change(6, **change)
    trip.run()
    assert trip.release() == 1
    assert held_codes(trip)[6] == "sign.changed-since"
    assert told in " ".join(trip.said[-1].split())
    assert was not in trip.released and len(trip.released) == 4
    assert "Taken back: Bo Fulmar" in trip.said[-1]
    assert [e.kind for e in read_verified_entries(trip.ledger)].count("withdrawn") == 1
    trip.change(6, "Bo Fulmar")  # restored to what was signed
    trip.run()
    trip.release()
    assert was in trip.released and 6 not in held_codes(trip)


def test_an_order_changed_without_a_run_is_not_released_from_old_files(trip):
    trip.sign(back(trip, dict.fromkeys(range(5, 11), "agreed")))
    trip.change(6, "Bo Fulmer")  # without a run, the old cut file is still there
    trip.release()
    assert held_codes(trip)[6] == "sign.changed-since"
    assert not any("bo-fulm" in name for name in trip.released)


def test_a_cut_file_edited_or_lost_after_the_run_is_held_back(trip):
    trip.sign(back(trip, dict.fromkeys(range(5, 11), "agreed")))
    (trip.out / trip.of(6).cut_file).write_bytes(b"edited")
    (trip.out / trip.of(7).cut_file).unlink()
    trip.release()
    assert held_codes(trip) == {6: "file.altered", 7: "file.missing", 11: "fit.too-long"}
    assert len(trip.released) == 3


def test_more_pieces_than_signed_are_held_back(trip):
    trip.sign(back(trip, dict.fromkeys(range(5, 11), "agreed")))  # three pieces of Ada over two rows
    trip.change(10, "Ada Kittiwake", copies=4)
    revision = trip.run()
    assert (revision.letter, revision.asks) == ("B", {trip.of(5).fingerprint})
    trip.release()
    assert held_codes(trip)[10] == "sign.more-pieces"
    assert {r["Name"]: r["Pieces"] for r in cut_list(trip)}["Ada Kittiwake"] == "3"
    assert "5 pieces are wanted, 3 were signed by Rowan Petrel in revision A" in " ".join(trip.said[-1].split())
    trip.sign(back(trip, {5: "agreed", 10: "agreed"}, "returned/B.xlsx"))
    trip.release()
    assert {r["Name"]: r["Pieces"] for r in cut_list(trip)}["Ada Kittiwake"] == "5"
    assert "New: 2 pieces: Ada Kittiwake (2)" in trip.said[-1]


def test_by_hand_one_row_at_a_time(trip):
    trip.sign(rows="5-6", by="Rowan Petrel", on="2026-05-02", paper="letter of 2 May")
    assert [e.pieces for e in read_verified_entries(trip.ledger) if e.decision == "agreed"] == [1, 1]
    trip.release()
    assert held_codes(trip)[10] == "sign.more-pieces"
    trip.sign(rows="10", by="Rowan Petrel", on="2026-05-03", paper="letter of 3 May")
    trip.release()
    assert 10 not in held_codes(trip)
    assert {r["Name"]: (r["Pieces"], r["Paper"]) for r in cut_list(trip)}["Ada Kittiwake"] == ("3", "letter of 3 May")
    assert trip.run().letter == "A"  # nothing new to show


def test_by_hand_of_a_row_that_cannot_be_cut(trip):
    assert trip.sign(rows="9-11", by="Rowan Petrel") == 1
    assert "row 11 cannot be cut" in trip.said[-1]
    assert decisions(trip)["Eli Tern"] == ("agreed", 1)
    with pytest.raises(CannotRun, match="does not show row 40"):
        trip.sign(rows="11,40", by="Rowan Petrel")
    with pytest.raises(CannotRun, match="--by"):
        trip.sign(rows="5", by=" ")
    with pytest.raises(CannotRun, match="neither"):
        trip.sign()


def test_the_same_file_twice_adds_nothing(trip):
    paper = back(trip, {6: "agreed"})
    trip.sign(paper)
    before = read_verified_entries(trip.ledger)
    assert trip.sign(paper) == 0
    assert "recorded already" in trip.said[-1]
    assert read_verified_entries(trip.ledger) == before


def test_two_papers_of_one_revision_that_disagree_settle_nothing(trip):
    trip.sign(back(trip, {6: "agreed"}, "returned/chair.xlsx"))
    trip.sign(back(trip, {6: ("", "Beau Fulmar")}, "returned/secretary.xlsx"))
    trip.release()
    assert held_codes(trip)[6] == "sign.contradicted"
    changes = openpyxl.load_workbook(trip.out / "changes.xlsx").active
    assert [row[3].value for row in changes.iter_rows(min_row=2)] == ["to ask"]
    said = " ".join(trip.said[-1].split())
    assert "“agreed” on chair.xlsx, “change to Beau Fulmar” on secretary.xlsx" in said
    trip.sign(rows="6", by="Rowan Petrel", on="2026-05-02", paper="telephone, 2 May")
    trip.release()
    assert 6 not in held_codes(trip)


def test_a_paper_of_an_older_revision_needs_to_be_asked_for(trip):
    old = back(trip, {6: "agreed"}, "returned/old.xlsx")
    trip.sign(back(trip, {5: "agreed", 10: "agreed"}, by="Sam Shearwater"))
    trip.change(7, "Cy Gannett")
    assert trip.run().letter == "B"
    before = read_verified_entries(trip.ledger)
    assert trip.sign(old) == 1
    assert "revision A" in trip.said[-1] and "B" in trip.said[-1] and "None of it was recorded" in trip.said[-1]
    assert read_verified_entries(trip.ledger) == before
    assert trip.sign(old, older=True) == 0
    assert decisions(trip)["Bo Fulmar"] == ("agreed", 1)


def test_a_paper_of_another_order_is_refused(trip, tmp_path_factory):
    other = Round(tmp_path_factory.mktemp("other"), trip.plaques)
    text = (other.folder / "order.toml").read_text().replace("Shore 2026", "Shore 2025")
    (other.folder / "order.toml").write_text(text)
    assert other.sign(back(trip, {6: "agreed"})) == 1
    assert "belongs to another order: “Wardens of the Shore 2026”" in " ".join(other.said[-1].split())
    assert not other.ledger.path.exists()


def test_a_paper_without_a_name_needs_one(trip):
    paper = back(trip, {6: "agreed"}, by="")
    assert trip.sign(paper) == 1
    assert "nobody has signed it" in trip.said[-1] and not trip.ledger.path.exists()
    assert trip.sign(paper, by="Rowan Petrel (said so by telephone)") == 0


def test_status_in_a_line_each_and_as_json(trip):
    trip.sign(back(trip, {5: "agreed", 10: "agreed", 6: "agreed", 8: "do not cut"}))
    trip.release()
    trip.change(6, "Bo Fulmer")
    trip.status()
    lines = trip.said[-1].splitlines()
    assert len(lines) == 1 + 7 + 3
    assert lines[1].split() == ["5", "Ada", "Kittiwake", "to", "cut", trip.of(5).fingerprint, "Rowan", "Petrel,", "2", "May", "2026"]  # fmt: skip  # noqa: E501
    assert "changed since signed" in lines[2] and "not to be cut" in lines[4] and "cannot be cut" in lines[7]
    assert lines[-2].startswith("Of 8 pieces: 3 to cut")
    assert sum(map(int, re.findall(r"\d+", lines[-2].partition(":")[2].partition(".")[0]))) == 8
    assert lines[-1] == "Revision B asks about 3 plaques."
    trip.status(as_json=True)
    plain = json.loads(trip.said[-1])
    assert plain["revision"] == "B"
    assert {p["row"]: p["state"] for p in plain["plaques"]} == {
        5: "released",
        6: "changed-since",
        7: "not-signed",
        8: "refused",
        9: "not-signed",
        10: "released",
        11: "stopped",
    }


def test_a_broken_ledger_releases_nothing(trip):
    import sqlite3
    from contextlib import closing

    trip.sign(back(trip, {5: "agreed", 8: "do not cut"}))
    with closing(sqlite3.connect(trip.ledger.path)) as base, base:
        base.execute("DROP TRIGGER never_changed")
        base.execute("UPDATE entries SET decision = 'agreed' WHERE decision = 'refused'")
    for use in (trip.release, trip.status, lambda: trip.sign(rows="6", by="R")):
        with pytest.raises(CannotRun, match="was changed after it was written"):
            use()
    assert trip.released == []


def test_files_that_are_not_ours_are_left_alone_in_the_released_folder(trip):
    trip.sign(back(trip, dict.fromkeys(range(5, 11), "agreed")))
    trip.release()
    (trip.out / "released" / "jig.dxf").write_text("the shop's own")
    stray = trip.out / "released" / "somebody-3479CDFHJK.dxf"
    stray.write_text("left by a run that died")
    turned = trip.out / "released" / "somebody-3479CDFHJK-back-mm.svg"
    turned.write_text("the same, seen from the back")
    trip.release()
    assert (trip.out / "released" / "jig.dxf").exists() and not stray.exists() and not turned.exists()


def test_release_on_equal_input_gives_equal_bytes(trip):
    trip.sign(back(trip, {5: "agreed", 6: "agreed"}))
    trip.release()
    first = {p.name: p.read_bytes() for p in (trip.out / "released").iterdir()}
    trip.release()
    assert {p.name: p.read_bytes() for p in (trip.out / "released").iterdir()} == first
