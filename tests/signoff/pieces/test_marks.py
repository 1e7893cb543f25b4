"""What happens to pieces after their release, by marks and by the ticked cut list."""

from __future__ import annotations

import json
import os
import shutil
from dataclasses import replace

import openpyxl
import pytest

from pipeline.commands import release_command
from pipeline.commands.afterwards import mark_command
from pipeline.commands.afterwards.mark_command import MarkRequest
from pipeline.core.errors import CannotRun
from pipeline.signoff.order_history import build_history
from pipeline.signoff.pieces.mark_rows import Wanted, plan_marks
from pipeline.signoff.pieces.piece_tally import tally_pieces
from pipeline.signoff.records.ledger import LedgerEntry
from tests import builders
from tests.signoff.rounds import Round


@pytest.fixture(scope="module")
def let_out(tmp_path_factory):
    """Return an order of three rows, the third with three pieces: run, signed for and released."""
    plaques = (builders.plaque(5, "Ada Kittiwake"), builders.plaque(6, "Bo Tern"), builders.plaque(7, "Cy", copies=3))
    trip = Round(tmp_path_factory.mktemp("round"), plaques)
    trip.run()
    trip.sign(rows="5-7", by="Rowan Petrel", on="2 May 2026", paper="letter.pdf")
    assert trip.release() == 0
    return trip


@pytest.fixture
def trip(let_out, tmp_path):
    return let_out.copy(tmp_path)


def states(trip, row):
    return {state: n for state, n in trip.pieces()[row].items() if n and state not in ("wanted", "signed")}


def to_cut(trip):
    """Return the cut list's lines: name -> pieces, and its remark on pieces made again."""
    sheet = openpyxl.load_workbook(trip.out / "released" / "cut-list.xlsx")["To cut"]
    head = [cell.value for cell in sheet[1]]
    return {
        row[head.index("Name")]: (row[head.index("Pieces")], row[head.index("Made again")] or "")
        for row in sheet.iter_rows(min_row=2, values_only=True)
        if row[0]
    }


def test_pieces_go_from_to_cut_over_cut_to_delivered_and_back(trip):
    assert states(trip, 7) == {"to_cut": 3}
    trip.mark("cut", rows="5,7")
    trip.mark("delivered", rows="7", pieces=2)
    assert states(trip, 5) == {"cut": 1} and states(trip, 7) == {"cut": 1, "delivered": 2}
    trip.mark("to-cut", rows="5")
    assert states(trip, 5) == {"to_cut": 1}
    assert (
        len([e for e in trip.ledger.read_entries() if e.kind == "mark"]) == 4
    )  # two rows, and one each: none is deleted
    trip.mark("delivered", rows="6")  # delivered includes cut
    assert states(trip, 6) == {"delivered": 1}


def test_the_same_mark_twice_moves_nothing_twice(trip):
    trip.mark("cut", rows="5-7")
    before = trip.ledger.read_entries()
    assert trip.mark("cut", rows="5-7") == 0 and "Nothing new" in trip.said[-1]
    assert trip.ledger.read_entries() == before


@pytest.mark.parametrize(
    ("what", "more", "words"),
    [
        ("cut", {"rows": "5-7,9"}, "no recipient there"),
        ("spoilt", {"rows": "7"}, "--pieces"),
        ("cut", {"rows": "7", "pieces": 4}, "3 to cut"),
        ("delivered", {}, "no pieces are named"),
        ("cut", {"fingerprints": "ada"}, "--fingerprint"),
        ("cut", {"boards": "3"}, "--board 3"),
        ("spoilt", {"rows": "5", "before": "delivered"}, "1 to cut"),
    ],
)
def test_an_impossible_mark_is_reported_and_nothing_recorded(trip, what, more, words):
    before = trip.ledger.read_entries()
    with pytest.raises(CannotRun) as told:
        trip.mark(what, **more)
    assert words in str(told.value)
    assert trip.ledger.read_entries() == before


def test_a_spoilt_piece_goes_out_again_without_the_client_once(trip):
    trip.mark("cut", rows="5-7")
    trip.mark("spoilt", rows="7", pieces=1, note="letter chipped")
    assert states(trip, 7) == {"cut": 2, "spoilt": 1}
    assert trip.release() == 0
    assert to_cut(trip) == {"Cy": (1, "1 again, spoilt: letter chipped")}
    assert states(trip, 7) == {"to_cut": 1, "cut": 2, "spoilt": 1}
    assert trip.release() == 0 and "Nothing new" in trip.said[-1]
    trip.mark("cut", rows="7")
    trip.release()
    assert to_cut(trip) == {}
    (tally,) = (t for t in tally_pieces(trip.ledger.read_entries()).values() if t.first.text[0] == "Cy")
    assert (tally.let_out, tally.cut, tally.spoilt, tally.to_cut) == (4, 3, 1, 0)


def test_a_mark_of_a_spoilt_piece_taken_back_takes_the_further_piece_back_too(trip):
    trip.mark("spoilt", rows="5")
    trip.release()
    assert to_cut(trip)["Ada Kittiwake"] == (1, "1 again, spoilt")
    trip.mark("cut", rows="5", before="spoilt")  # it turned out to be usable
    trip.release()
    assert "Ada Kittiwake" not in to_cut(trip)
    assert states(trip, 5) == {"cut": 1}


def test_the_states_of_the_wanted_pieces_sum_to_their_number(trip):
    """Five pieces: four cut, one spoilt and released again. The spoilt one is in addition to the five, not a sixth
    piece."""
    trip.mark("spoilt", rows="5")
    trip.release()
    trip.mark("cut", rows="6,7")
    trip.status()
    assert "Of 5 pieces: 1 to cut, 4 cut, 0 delivered. Besides: 1 spoilt." in trip.said[-1]
    trip.change(6, "Bo Ternlet and Sons")
    trip.run()
    trip.status()
    assert "Of 5 pieces: 1 to cut, 3 cut, 0 delivered, 1 not released. Besides: 1 spoilt." in trip.said[-1]


def test_a_piece_that_was_cut_is_neither_listed_nor_taken_back_when_its_sign_off_falls(trip):
    trip.mark("cut", rows="5")
    trip.change(5, "Ada Kittiwakes")
    trip.change(6, "Bo Ternlet")
    trip.run()
    trip.release(as_json=True)
    done = json.loads(trip.said[-1])
    assert [t["name"] for t in done["taken_back"]] == ["Bo Tern / Warden / 2026"]
    assert [h["row"] for h in done["held"]] == [6]
    trip.status(as_json=True)
    told = {p["row"]: p for p in json.loads(trip.said[-1])["plaques"]}
    assert told[5]["state"] == "cut" and told[5]["code"] == "sign.cut-differs"
    assert "Ada Kittiwake /" in told[5]["reason"] and "Ada Kittiwakes" in told[5]["reason"]


def test_another_name_in_a_row_whose_piece_hangs_is_a_new_piece(trip):
    trip.mark("delivered", rows="5")
    trip.change(5, "Zephyrine Quill")
    trip.run()
    assert trip.release() == 1
    trip.status(as_json=True)
    told = {p["row"]: p for p in json.loads(trip.said[-1])["plaques"]}
    assert told[5]["state"] == "not-signed"


def test_rows_that_moved_since_the_release_are_not_guessed(trip):
    ada, bo = trip.of(5), trip.of(6)
    trip.plaques = (
        builders.plaque(5, "Bo Tern"),
        builders.plaque(6, "Ada Kittiwake"),
        trip.of(7),
    )
    assert {p.fingerprint for p in trip.plaques} == {ada.fingerprint, bo.fingerprint, trip.of(7).fingerprint}
    with pytest.raises(CannotRun, match="was “Ada Kittiwake / Warden / 2026” when it was released"):
        trip.mark("cut", rows="5")
    trip.mark("cut", fingerprints=ada.fingerprint)
    assert states(trip, 6) == {"cut": 1} and states(trip, 5) == {"to_cut": 1}


def test_a_ticked_cut_list_is_read_and_read_again_after_more_ticks(trip):
    file = trip.folder / "ticked.xlsx"
    book = openpyxl.load_workbook(trip.out / "released" / "cut-list.xlsx")
    sheet = book["To cut"]
    head = {cell.value: cell.column for cell in sheet[1]}
    line = {sheet.cell(r, head["Name"]).value: r for r in range(2, sheet.max_row + 1)}
    sheet.cell(line["Ada Kittiwake"], head["Cut"]).value = "x"
    sheet.cell(line["Cy"], head["Cut"]).value = 2
    sheet.cell(line["Cy"], head["Spoilt"]).value = 1
    book.save(file)
    trip.mark(str(file))
    assert states(trip, 5) == {"cut": 1} and states(trip, 6) == {"to_cut": 1}
    assert states(trip, 7) == {"cut": 2, "spoilt": 1}
    assert trip.mark(str(file)) == 0 and "Nothing new" in trip.said[-1]
    sheet.cell(line["Bo Tern"], head["Cut"]).value = "✓"
    sheet.cell(line["Ada Kittiwake"], head["Delivered"]).value = "yes"
    book.save(file)
    trip.mark(str(file))
    assert states(trip, 5) == {"delivered": 1} and states(trip, 6) == {"cut": 1}
    assert states(trip, 7) == {"cut": 2, "spoilt": 1}
    last = trip.ledger.read_entries()[-1]
    assert last.source == "ticked.xlsx" and last.source_kind == "cut-list" and len(last.source_sha256) == 64


def test_a_cut_list_with_a_cell_nobody_can_read_records_nothing(trip):
    file = trip.folder / "ticked.xlsx"
    book = openpyxl.load_workbook(trip.out / "released" / "cut-list.xlsx")
    sheet = book["To cut"]
    head = {cell.value: cell.column for cell in sheet[1]}
    sheet.cell(2, head["Cut"]).value = "x"
    sheet.cell(3, head["Cut"]).value = "perhaps"
    book.save(file)
    before = trip.ledger.read_entries()
    with pytest.raises(CannotRun, match="“perhaps” under “Cut”"):
        trip.mark(str(file))
    assert trip.ledger.read_entries() == before


def test_a_voided_mark_no_longer_counts_and_voids_nothing_else():
    def row(id, kind, **more):
        return LedgerEntry(id=id, kind=kind, fingerprint="3479CDFHJK", pieces=1, **more)

    out = row(1, "released")
    cut = row(2, "mark", decision="to-cut", state="cut")
    away = row(3, "mark", decision="cut", state="delivered")
    assert tally_pieces([out, cut, away])["3479CDFHJK"].delivered == 1
    left = tally_pieces([out, away])["3479CDFHJK"]  # the mark before it is voided: there was nothing to deliver
    assert (left.to_cut, left.cut, left.delivered) == (1, 0, 0)


def test_a_ledger_copied_from_another_order_lets_nothing_be_marked_or_cut_again(trip, tmp_path):
    trip.mark("cut", rows="5")
    other = Round(tmp_path / "other", trip.plaques)
    file = other.folder / "order.toml"
    file.write_text(file.read_text().replace("Wardens of the Shore 2026", "Wardens of the Shore 2027"))
    shutil.copy(trip.ledger.path, other.folder)
    other.run()
    assert other.release() == 1 and "sign.other-order" in other.said[-1]
    with pytest.raises(CannotRun, match="no piece of “Bo Tern / Warden / 2026” was released"):
        other.mark("cut", rows="6")
    assert [e.kind for e in other.ledger.read_entries() if e.id > len(trip.ledger.read_entries())] == []


def test_a_cut_list_of_another_order_is_refused(trip, tmp_path):
    other = Round(tmp_path / "other", (builders.plaque(5, "Ada Kittiwake"),))
    file = other.folder / "order.toml"
    file.write_text(file.read_text().replace("Wardens of the Shore 2026", "Bench Plates"))
    with pytest.raises(CannotRun, match="a cut list of another order"):
        other.mark(str(trip.out / "released" / "cut-list.xlsx"))
    assert not other.ledger.path.exists()


@pytest.mark.parametrize("name", ["pipe", "folder", "missing", "text", "picture"])
def test_a_file_that_is_not_a_cut_list_is_reported(trip, name):
    file = trip.folder / f"{name}.xlsx"
    if name == "pipe":
        os.mkfifo(file)
    elif name == "folder":
        file.mkdir()
    elif name != "missing":
        file.write_bytes(b"cut" if name == "text" else b"\x89PNG\r\n\x1a\n" + bytes(5000))
    with pytest.raises(CannotRun, match=name):
        trip.mark(str(file))


def test_a_folder_that_was_moved_and_a_clock_set_back_lose_nothing(trip):
    trip.mark("cut", rows="5")
    moved = trip.folder.parent / "moved to another name"
    trip.folder.rename(moved)
    trip.folder, trip.seconds = moved, 0  # the new machine's clock is behind
    trip.mark("spoilt", rows="5")
    assert trip.release() == 0 and states(trip, 5) == {"to_cut": 1, "spoilt": 1}
    events = build_history(trip.ledger.read_entries())
    assert [e.clock_back for e in events if e.kind == "mark"] == [False, True]
    assert [e.id for e in trip.ledger.read_entries()] == list(range(1, len(trip.ledger.read_entries()) + 1))


def test_a_board_is_marked_once_however_often_it_is_repeated(trip):
    manifest = trip.out / "released" / "manifest.json"
    told = json.loads(manifest.read_text())
    mark_of = {g["rows"][0]: g["fingerprint"] for g in told["released"]}
    pieces = [{"row": 5, "fingerprint": mark_of[5], "pieces": 1}, {"row": 7, "fingerprint": mark_of[7], "pieces": 2}]
    told["sheets"] = [{"kind": "board", "number": 1, "files": [], "pieces": pieces}]
    manifest.write_text(json.dumps(told))
    trip.mark("cut", boards="1")
    trip.mark("cut", boards="1")
    assert states(trip, 5) == {"cut": 1} and states(trip, 7) == {"to_cut": 1, "cut": 2}
    assert {e.place for e in trip.ledger.read_entries() if e.kind == "mark"} == {
        "board 1 of release 1, row 5",
        "board 1 of release 1, row 7",
    }


def put_on_boards(trip, *boards):
    """Write boards of the current release into its manifest: the rows of each, as row and pieces."""
    manifest = trip.out / "released" / "manifest.json"
    told = json.loads(manifest.read_text())
    mark_of = {row: g["fingerprint"] for g in told["released"] for row in g["rows"]}
    told["sheets"] = [
        {
            "kind": "board",
            "number": number,
            "files": [],
            "pieces": [{"row": row, "fingerprint": mark_of[row], "pieces": pieces} for row, pieces in board],
        }
        for number, board in enumerate(boards, 1)
    ]
    manifest.write_text(json.dumps(told))


def manifest_of(trip):
    return json.loads((trip.out / "released" / "manifest.json").read_text())


def test_a_board_spoilt_whole_is_a_release_of_its_own_each_time_it_is_made_again(trip):
    for number in (1, 2, 3):
        assert manifest_of(trip)["release"] == number
        put_on_boards(trip, [(5, 1), (6, 1), (7, 3)])
        trip.mark("cut", boards="1")
        trip.mark("spoilt", boards="1")
        put_on_boards(trip)  # boards of its own would be another release; this order has none
        assert trip.release() == 0
    assert states(trip, 7) == {"to_cut": 3, "spoilt": 9}
    assert trip.release() == 0 and manifest_of(trip)["release"] == 4  # nothing new was released
    put_on_boards(trip, [(5, 1), (6, 1), (7, 3)])
    assert trip.release() == 0 and manifest_of(trip)["release"] == 5  # the same pieces in another layout


def test_a_release_whose_papers_were_never_written_has_a_number_of_its_own(trip, monkeypatch):
    trip.mark("spoilt", rows="5")
    monkeypatch.setattr(release_command, "write_papers", lambda *a, **k: (_ for _ in ()).throw(KeyboardInterrupt))
    with pytest.raises(KeyboardInterrupt):
        trip.release()
    monkeypatch.undo()
    assert manifest_of(trip)["release"] == 1
    assert trip.release() == 0 and manifest_of(trip)["release"] == 2
    assert trip.release() == 0 and manifest_of(trip)["release"] == 2


def test_a_board_is_marked_once_also_when_rows_were_put_in_above(trip):
    put_on_boards(trip, [(5, 1), (7, 2)], [(6, 1), (7, 1)])
    trip.plaques = (
        builders.plaque(5, "Dee Fulmar"),
        builders.plaque(6, "Ada Kittiwake"),
        builders.plaque(7, "Bo Tern"),
        builders.plaque(8, "Cy", copies=3),
    )
    trip.mark("cut", boards="1")
    entries = trip.ledger.read_entries()
    trip.mark("cut", boards="1")
    assert trip.ledger.read_entries() == entries
    assert states(trip, 6) == {"cut": 1} and states(trip, 8) == {"to_cut": 1, "cut": 2}
    trip.mark("cut", boards="2")
    assert states(trip, 7) == {"cut": 1} and states(trip, 8) == {"cut": 3}


def test_rows_of_one_design_on_boards_are_found_when_they_moved(tmp_path):
    trip = Round(tmp_path, (builders.plaque(5, "Ada Kittiwake"), builders.plaque(6, "Ada Kittiwake")))
    trip.run()
    trip.sign(rows="5-6", by="Rowan Petrel", on="2 May 2026", paper="letter.pdf")
    trip.release()
    put_on_boards(trip, [(5, 1)], [(6, 1)])
    trip.plaques = tuple(builders.plaque(row, name) for row, name in enumerate(("Bo", *["Ada Kittiwake"] * 2), 5))
    for board, done in (("1", 1), ("1", 1), ("2", 2), ("1", 2), ("2", 2)):
        trip.mark("cut", boards=board)
        assert sum(states(trip, row).get("cut", 0) for row in (6, 7)) == done


def test_a_mark_of_a_board_by_an_earlier_version_is_not_recorded_again(trip):
    put_on_boards(trip, [(5, 1)])
    trip.mark("cut", boards="1")
    (mark,) = (e for e in trip.ledger.read_entries() if e.kind == "mark")
    wanted = Wanted(state="cut", row=5, fingerprint=mark.fingerprint, pieces=1, place=mark.place)
    for place in (mark.place, "board 1 of release 1"):
        entries = [replace(e, place=place) if e.kind == "mark" else e for e in trip.ledger.read_entries()]
        assert not plan_marks([wanted], trip.plaques, entries).moves


def test_a_board_taken_back_row_by_row_can_be_marked_again(trip):
    put_on_boards(trip, [(5, 1), (7, 3)])
    trip.mark("cut", boards="1")
    trip.mark("to-cut", rows="5,7")
    trip.mark("cut", boards="1")
    assert states(trip, 5) == {"cut": 1} and states(trip, 7) == {"cut": 3}
    trip.mark("spoilt", rows="7", pieces=2)
    before = trip.ledger.read_entries()
    trip.mark("cut", boards="1")  # the spoilt piece had been cut before
    assert trip.ledger.read_entries() == before


def test_a_board_taken_back_again_takes_nothing_more_back(trip):
    put_on_boards(trip, [(5, 1), (7, 1)], [(7, 2)])
    trip.mark("cut", boards="1-2")
    trip.mark("to-cut", boards="1")
    before = trip.ledger.read_entries()
    trip.mark("to-cut", boards="1")
    assert trip.ledger.read_entries() == before and states(trip, 7) == {"to_cut": 1, "cut": 2}
    trip.mark("cut", rows="5")
    trip.mark("to-cut", boards="1")  # a piece marked by its row is on the board too
    assert states(trip, 5) == {"to_cut": 1} and states(trip, 7) == {"to_cut": 1, "cut": 2}


def test_a_board_of_an_earlier_release_does_not_mark_the_pieces_made_again(trip):
    put_on_boards(trip, [(5, 1), (7, 3)])
    trip.mark("cut", boards="1")
    trip.mark("spoilt", boards="1")
    trip.mark("cut", boards="1", before="spoilt")  # it turned out to be usable
    assert states(trip, 7) == {"cut": 3}
    trip.mark("spoilt", boards="1", before="cut")
    trip.release()
    before = trip.ledger.read_entries()
    trip.mark("cut", boards="1", release=1)
    assert trip.ledger.read_entries() == before and states(trip, 7) == {"to_cut": 3, "spoilt": 3}


def test_an_old_list_does_not_mark_the_piece_that_was_made_again(trip):
    file = trip.folder / "ticked.xlsx"
    book = openpyxl.load_workbook(trip.out / "released" / "cut-list.xlsx")
    sheet = book["To cut"]
    head = {cell.value: cell.column for cell in sheet[1]}
    line = next(r for r in range(2, sheet.max_row + 1) if sheet.cell(r, head["Name"]).value == "Cy")
    sheet.cell(line, head["Cut"]).value = "x"
    book.save(file)
    trip.mark("spoilt", rows="7", pieces=1)
    trip.release()
    trip.mark(str(file))
    assert states(trip, 7) == {"to_cut": 1, "cut": 2, "spoilt": 1}
    before = trip.ledger.read_entries()
    trip.mark(str(file))
    assert trip.ledger.read_entries() == before


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"rows": ""}, "--rows"),
        ({"rows": "5", "boards": ""}, "--board"),
        ({"fingerprints": ""}, "--fingerprint"),
        ({"jigs": " "}, "--jig"),
        ({"rows": "5", "release": 1}, "--release"),
    ],
)
def test_an_empty_option_is_refused(trip, more, words):
    before = trip.ledger.read_entries()
    with pytest.raises(CannotRun, match=words):
        trip.mark("cut", **more)
    assert trip.ledger.read_entries() == before


def test_what_is_recorded_while_old_sign_offs_are_carried_over_is_marked_with(trip, monkeypatch):
    """Somebody delivers the piece between reading the ledger and marking: it isn't cut twice."""
    looked = trip.look(trip.folder, None)
    build_sign_off = looked.build_sign_off

    class Carried:
        def __init__(self):
            self.folder, self.outcome, self.target = looked.folder, looked.outcome, looked.target

        def build_sign_off(self, entries):
            return replace(build_sign_off(entries), carried=trip.ledger.read_entries()[:1])

    done = []

    def carry(ledger, sign_off, at, *, after):
        if not done:
            done.append(1)
            trip.mark("delivered", rows="5")

    monkeypatch.setattr(mark_command, "keep_carried", carry)
    carried = Carried()
    request = MarkRequest(what="cut", rows="5")
    with pytest.raises(CannotRun, match="1 delivered"):
        mark_command.mark(trip.folder, request, clock=trip.clock, say=trip.said.append, look=lambda order, out: carried)
    assert states(trip, 5) == {"delivered": 1}
    assert len([e for e in trip.ledger.read_entries() if e.kind == "mark"]) == 1
