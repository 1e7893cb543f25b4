"""The sign-off holds, whoever handles the papers: each attack that once succeeded, and the message it gets now."""

from __future__ import annotations

import json
import multiprocessing
import os
import shutil
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from pipeline.commands.void import void_rows
from pipeline.core.catalogue import sign_kinds
from pipeline.core.errors import CannotRun
from pipeline.core.findings import Severity, build_finding
from pipeline.core.fingerprint import list_making_values
from pipeline.run import run_order
from pipeline.signoff.approval import approve_pieces
from pipeline.signoff.records.ledger import Ledger, read_verified_entries
from pipeline.signoff.records.ledger_entry import LedgerEntry, ProofDesign
from pipeline.signoff.sign_off import SignOff
from tests import builders
from tests.signoff.rounds import ORDER, Round, filled

BEFORE = Path(__file__).parent / "signed_before"
NAMES = ("Ada Kittiwake", "Bo Fulmar", "Cy Gannet")


def begun(folder, names=NAMES, **more):
    made = Round(folder, tuple(builders.plaque(5 + n, name, **more) for n, name in enumerate(names)))
    made.run()
    return made


@pytest.fixture(scope="module")
def signed(tmp_path_factory):
    """Return three plaques, all signed for."""
    made = begun(tmp_path_factory.mktemp("round") / "job")
    assert made.sign(rows="5-7", by="Rowan Petrel", on="2 May 2026") == 0
    return made


@pytest.fixture
def trip(signed, tmp_path):
    return signed.copy(tmp_path / "job")


def states(trip):
    trip.status(as_json=True)
    return {p["row"]: p["state"] for p in json.loads(trip.said[-1])["plaques"]}


def held(trip):
    """Return the codes of what a release holds back, by row, from its JSON document."""
    trip.release(as_json=True)
    return {h["row"]: h["code"] for h in json.loads(trip.said[-1])["held"]}


def retitle(trip, title, client="Tidewrack Seabird Trust", file="order.toml"):
    text = ORDER.replace("Wardens of the Shore 2026", title).replace("Tidewrack Seabird Trust", client)
    (trip.folder / file).write_text(text, encoding="utf-8")


# --- another order's approvals ----------------------------------------------------------------------------------------


def test_a_copied_folder_with_another_title_releases_nothing_until_the_maker_says_it_is_the_same(trip, tmp_path):
    trip.release()
    shutil.copytree(trip.folder, tmp_path / "copy", ignore=shutil.ignore_patterns("out"))
    copy = Round(tmp_path / "copy", trip.plaques)
    retitle(copy, "Harbour Pilots 2027", "Harbour Office")
    copy.run()
    assert set(states(copy).values()) == {"other-order"}
    assert copy.release() == 1 and copy.released == []
    told = " ".join(copy.said[-1].split())
    assert "“Wardens of the Shore 2026” for Tidewrack Seabird Trust" in told and "Harbour Pilots 2027" in told
    assert set(held(copy).values()) == {"sign.other-order"}
    assert copy.release(same_order=True) == 0 and len(copy.released) == 3
    assert [e.title for e in read_verified_entries(copy.ledger) if e.kind == "same-order"] == ["Harbour Pilots 2027"]
    assert copy.release() == 0  # it is recorded: nobody is asked again
    retitle(copy, "Coxswains 2028")  # yet another title
    assert copy.release() == 1 and copy.released == []
    assert copy.sign(same_order=True, by="Wren Avocet") == 0 and copy.release() == 0


def test_a_second_order_file_in_the_folder_does_not_take_the_first_one_s_approvals(trip):
    retitle(trip, "Wardens of the Shore 2026", file="second.toml")
    look = trip.look
    trip.look = lambda order, out: look(trip.folder / "second.toml", out)
    assert set(states(trip).values()) == {"other-order"}
    assert trip.release() == 1 and trip.released == []


def test_a_renamed_order_keeps_its_code_and_a_moved_one_its_approvals(tmp_path):
    folder = tmp_path / "small"
    shutil.copytree(BEFORE / "plain", folder, ignore=shutil.ignore_patterns("out", "signoff.sqlite"))
    assert run_order(folder, files=False).report["order"]["id"]  # a check stores nothing
    assert read_verified_entries(Ledger.open(folder)) == ()
    first = run_order(folder)
    assert [e.kind for e in read_verified_entries(Ledger.open(folder))] == ["order", "numbers", "proof"]
    text = (folder / "order.toml").read_text(encoding="utf-8")
    (folder / "order.toml").write_text(text.replace("2026", "2026, second team"), encoding="utf-8")
    moved = folder.rename(tmp_path / "elsewhere")
    second = run_order(moved)
    assert second.report["order"]["id"] == first.report["order"]["id"]
    assert [e.kind for e in read_verified_entries(Ledger.open(moved))].count("order") == 1
    (moved / "signoff.sqlite").unlink()  # without a ledger, the code is derived from the title
    assert run_order(moved, files=False).report["order"]["id"] != first.report["order"]["id"]


# --- one answer for all -----------------------------------------------------------------------------------------------


def test_one_code_for_two_texts_gives_no_piece_to_anybody():
    plaque = builders.plaque(5, "Ada Kittiwake", copies=2)
    other = replace(plaque, text=("Ada Kittiwaka", "Warden", "2026"))
    agreed = LedgerEntry(
        kind="answer", fingerprint=plaque.fingerprint, decision="agreed", text=plaque.text, rows=(5,), pieces=2
    )
    assert [a.signed for a in approve_pieces([plaque, other], SignOff(entries=(agreed,)))] == [2, 0]
    (alone,) = approve_pieces([other], SignOff(entries=(agreed,)))
    assert (alone.signed, alone.held, alone.state) == (0, 2, "not-signed")
    assert alone.finding is not None and alone.finding.severity is Severity.STOP


def test_pieces_that_may_be_cut_always_have_a_sign_off_and_pieces_held_a_reason(trip):
    trip.plaques = (*trip.plaques, builders.plaque(8, "Dee Petrel", copies=3))
    for a in approve_pieces(trip.plaques, SignOff(entries=read_verified_entries(trip.ledger))):
        assert a.signed + a.held == a.plaque.recipient.copies
        assert (a.entry is not None) if a.signed else (a.why is not None)


def test_a_stop_of_the_whole_order_holds_back_every_piece(trip):
    stop = build_finding(sign_kinds.LEDGER_OLDER, facts={"paper": "x", "how": "y"})
    found = approve_pieces(trip.plaques, SignOff(entries=read_verified_entries(trip.ledger)), findings=[stop])
    assert [(a.signed, a.why) for a in found] == [(0, stop)] * 3


# --- how it is made ---------------------------------------------------------------------------------------------------


def test_files_made_in_another_way_are_for_the_maker_to_accept(trip):
    assert trip.release() == 0
    text = (trip.folder / "order.toml").read_text(encoding="utf-8")
    (trip.folder / "order.toml").write_text(text + '\n[files]\ntolerance = 0.05\nversion = "R2000"\n', encoding="utf-8")
    assert held(trip) == dict.fromkeys((5, 6, 7), "sign.made-differently")
    assert set(states(trip).values()) == {"made-differently"} and trip.released == []
    trip.release()
    told = " ".join(trip.said[-1].split())
    assert "files.version was R2010 and is R2000, files.tolerance was 0.01 and is 0.05" in told
    assert trip.release(accept_files=True) == 0 and len(trip.released) == 3
    assert {e.fingerprint for e in read_verified_entries(trip.ledger) if e.kind == "making"} == {
        p.fingerprint for p in trip.plaques
    }
    assert trip.release() == 0


def test_the_proof_that_was_signed_says_how_its_pieces_were_to_be_made(tmp_path):
    made = begun(tmp_path, NAMES[:1])
    (plaque,) = made.plaques
    order = made.look(made.folder, None).folder.order
    shown = ProofDesign(no=1, fingerprint=plaque.fingerprint, text=plaque.text, rows=(5,), cells=("B5",), pieces=1)
    making = tuple((k, "0.5" if k == "files.tolerance" else v) for k, v in list_making_values(order))
    made.ledger.add([LedgerEntry(kind="proof", revision="A", designs=(shown,), making=making)], made.clock())
    made.sign(rows="5", by="Rowan Petrel")
    assert held(made) == {5: "sign.made-differently"}


# --- one write each ---------------------------------------------------------------------------------------------------


def test_a_refusal_recorded_during_a_release_is_honoured(trip):
    refusal = filled(trip.out / "check.xlsx", trip.folder / "late.xlsx", {6: "do not cut"})
    made, once = trip.made, []

    def made_slowly(plaque):
        if not once:
            once.append(trip.sign(refusal))  # while the release looks at its files
        return made(plaque)

    trip.made = made_slowly
    assert trip.release() == 1
    names = [p.cut_file.removeprefix("cut/") for p in trip.plaques]
    assert trip.released == sorted([names[0], names[2]])


def run_at_once(command: Callable[[], int]) -> list[int]:
    """Run a command in three processes at once, as three terminals do; return their exit statuses."""
    fork = multiprocessing.get_context("fork")
    processes = [fork.Process(target=lambda: sys.exit(command())) for _ in range(3)]
    for process in processes:
        process.start()
    for process in processes:
        process.join()
    return [process.exitcode for process in processes]


def test_releases_at_once_count_each_piece_once(trip):
    assert run_at_once(trip.release) == [0, 0, 0]
    rows = [e for e in read_verified_entries(trip.ledger) if e.kind == "released"]
    assert sorted(e.fingerprint for e in rows) == sorted(p.fingerprint for p in trip.plaques)


def test_one_paper_signed_three_times_at_once_is_recorded_once(tmp_path):
    made = begun(tmp_path)
    paper = filled(made.out / "check.xlsx", made.folder / "back.xlsx", dict.fromkeys((5, 6, 7), "agreed"))
    assert run_at_once(lambda: made.sign(paper)) == [0, 0, 0]
    run_at_once(lambda: made.sign(rows="5", by="Rowan Petrel", on="2 May", paper="letter"))
    assert [e.source for e in read_verified_entries(made.ledger) if e.kind == "paper"] == ["back.xlsx", "letter"]


def test_the_same_form_saved_twice_adds_no_piece(tmp_path):
    made = begun(tmp_path, NAMES[:1])
    for name in ("one.xlsx", "two.xlsx"):
        made.sign(filled(made.out / "check.xlsx", made.folder / name, {5: "agreed"}, on=f"2 May {name}"))
    made.plaques = (*made.plaques, builders.plaque(9, NAMES[0]))
    assert sorted(
        a.signed for a in approve_pieces(made.plaques, SignOff(entries=read_verified_entries(made.ledger)))
    ) == [
        0,
        1,
    ]


def test_a_proof_signed_again_by_hand_after_rows_moved_adds_no_piece(tmp_path):
    made = begun(tmp_path, NAMES[:1])
    made.sign(rows="5", by="Rowan Petrel", on="2 May 2026")
    made.plaques = (builders.plaque(9, NAMES[0]),)
    made.run()
    made.sign(rows="9", by="rowan  petrel", on="2 May 2026")
    made.plaques = (*made.plaques, builders.plaque(10, NAMES[0]))
    assert sum(a.signed for a in approve_pieces(made.plaques, SignOff(entries=read_verified_entries(made.ledger)))) == 1


# --- an older ledger --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("by", ["manifest.json", "cut-list.xlsx"])
@pytest.mark.parametrize("how", ["older", "forked", "missing"])
def test_an_older_another_or_missing_ledger_releases_nothing(trip, how, by):
    before = trip.ledger.path.read_bytes()
    trip.sign(filled(trip.out / "check.xlsx", trip.folder / "late.xlsx", {6: "do not cut"}))
    assert trip.release() == 1
    released = trip.released
    if by == "cut-list.xlsx":  # as earlier versions' releases left it
        (trip.out / "released" / "manifest.json").unlink()
    trip.ledger.path.write_bytes(before)
    if how == "forked":
        trip.ledger.add([LedgerEntry(kind="paper", source=f"other {n}") for n in range(20)], "2026-06-01T00:00:00Z")
    elif how == "missing":
        trip.ledger.path.unlink()
    with pytest.raises(CannotRun, match=r"sign\.ledger-older") as told:
        trip.release()
    assert by in str(told.value) and trip.released == released
    assert trip.status() == 1 and "sign.ledger-older" in trip.said[-1]


def test_a_ledger_that_went_on_is_the_same_one(trip):
    assert trip.release() == 0
    head = json.loads((trip.out / "released" / "manifest.json").read_bytes())["ledger"]
    entries = read_verified_entries(trip.ledger)
    assert (head["rows"], head["hash"]) == (len(entries), entries[-1].hash)
    trip.sign(rows="5", by="Wren Avocet")
    assert trip.release() == 0


@pytest.mark.parametrize("content", [b"", b"{", b"[]", b'{"ledger": 5}', b'{"ledger": {"rows": -1, "hash": "x"}}'])
def test_a_damaged_manifest_proves_nothing_and_stops_nothing(trip, content):
    assert trip.release() == 0
    (trip.out / "released" / "manifest.json").write_bytes(content)
    (trip.out / "released" / "cut-list.xlsx").write_bytes(content)
    assert trip.release() == 0


# --- by hand ----------------------------------------------------------------------------------------------------------


def proof(trip, letter, *designs):
    shown = tuple(
        ProofDesign(no=n, fingerprint=p.fingerprint, text=p.text, rows=(p.recipient.row,), cells=("B5",), pieces=1)
        for n, p in enumerate(designs, 1)
    )
    trip.ledger.add([LedgerEntry(kind="proof", revision=letter, designs=shown)], trip.clock())


def test_by_hand_records_what_the_proof_showed_and_says_the_texts(tmp_path):
    made = begun(tmp_path)
    proof(made, "A", *made.plaques)
    shown = made.of(6)
    made.change(6, "Bo Fullmar")  # the list changed and was run since
    made.run()
    assert made.sign(rows="6", by="Rowan Petrel") == 1
    told = " ".join(made.said[0].split())
    assert "Agreed B5: Bo Fulmar / Warden / 2026" in told
    assert "row 6 reads “Bo Fullmar / Warden / 2026” now" in told
    (agreed,) = [e for e in read_verified_entries(made.ledger) if e.decision == "agreed"]
    assert (agreed.fingerprint, agreed.text) == (shown.fingerprint, shown.text)
    assert held(made)[6] == "sign.changed-since"


def test_by_hand_names_the_proof_and_rows_that_are_on_it(tmp_path):
    made = begun(tmp_path)
    proof(made, "A", *made.plaques[:2])
    with pytest.raises(CannotRun, match="proof A does not show row 7"):
        made.sign(rows="5-7", by="Rowan Petrel")
    proof(made, "B", made.plaques[2])
    with pytest.raises(CannotRun, match="proofs A, B have been made"):
        made.sign(rows="7", by="Rowan Petrel")
    with pytest.raises(CannotRun, match="what it showed is not in the ledger"):
        made.sign(rows="7", by="Rowan Petrel", proof="C")
    assert sum(e.kind == "paper" for e in read_verified_entries(made.ledger)) == 0
    assert made.sign(rows="7", by="Rowan Petrel", proof="B") == 0
    assert [e.revision for e in read_verified_entries(made.ledger) if e.kind == "paper"] == ["B"]


# --- mending ----------------------------------------------------------------------------------------------------------


def test_a_paper_recorded_wrongly_is_voided_with_its_answers(trip):
    assert trip.release() == 0
    (paper,) = [e for e in read_verified_entries(trip.ledger) if e.kind == "paper"]
    with pytest.raises(CannotRun, match="--by"):
        void_rows(trip.folder, str(paper.id), by=" ", clock=trip.clock, say=trip.said.append)
    with pytest.raises(CannotRun, match="row 99"):
        void_rows(trip.folder, "99", by="Wren", clock=trip.clock, say=trip.said.append)
    assert void_rows(trip.folder, str(paper.id), by="Wren Avocet", clock=trip.clock, say=trip.said.append) == 0
    assert "Ada Kittiwake" in trip.said[-1]
    assert trip.release() == 1 and trip.released == []
    assert set(held(trip).values()) == {"sign.not-signed"}
    assert trip.sign(rows="5-7", by="Rowan Petrel") == 0 and trip.release() == 0


# --- the folder of released files -------------------------------------------------------------------------------------


def test_released_files_are_files_of_their_own_and_no_links(trip):
    released = trip.out / "released"
    released.mkdir()
    names = [p.cut_file.removeprefix("cut/") for p in trip.plaques]
    (released / names[0]).symlink_to(trip.out / "cut" / names[0])
    os.link(trip.out / "cut" / names[1], released / names[1])
    assert trip.release() == 0
    for name in names:
        assert not (released / name).is_symlink() and (released / name).stat().st_nlink == 1
        assert (released / name).read_bytes() == (trip.out / "cut" / name).read_bytes()


def test_a_cut_file_that_is_a_link_to_elsewhere_is_held_back(trip, tmp_path):
    name = trip.of(5).cut_file
    (tmp_path / "outside.dxf").write_bytes((trip.out / name).read_bytes())
    (trip.out / name).unlink()
    (trip.out / name).symlink_to(tmp_path / "outside.dxf")
    os.mkfifo(trip.out / "pipe")
    (trip.out / trip.of(6).cut_file).unlink()
    (trip.out / trip.of(6).cut_file).symlink_to(trip.out / "pipe")
    assert held(trip) == {5: "file.elsewhere", 6: "file.altered"}


def test_foreign_drawings_among_the_released_are_told_and_left(trip):
    assert trip.release() == 0
    for name in ("by-hand.dxf", "notes.txt", "toolpath.NC"):
        (trip.out / "released" / name).write_bytes(b"x")
    assert trip.release() == 0
    told = " ".join(trip.said[-1].split())
    assert "released/by-hand.dxf lies among the released files" in told and "released/toolpath.NC" in told
    assert "notes.txt" not in told and "labels.pdf lies" not in told
    assert (trip.out / "released" / "by-hand.dxf").exists()
