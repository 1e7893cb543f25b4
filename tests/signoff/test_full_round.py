"""A full round of an order: run, a returned proof, release, the corrected list, the next revision, the rest."""

from __future__ import annotations

import json
from pathlib import Path

import openpyxl
import pypdf
import pytest

from pipeline.commands.release_command import release
from pipeline.commands.sign_command import sign
from pipeline.commands.status_command import print_status
from pipeline.order_state import take_snapshot
from pipeline.run import run_order
from pipeline.signoff.records.ledger import Ledger, read_verified_entries
from tests.signoff.test_round_proof import filled_proof

pytestmark = pytest.mark.slow
ORDER = """\
title = "Wardens of the Shore 2026"
client = "Tidewrack Seabird Trust"
[list]
file = "recipients.xlsx"
columns = { name = "Recipient", post = "Post", season = "Season", copies = "How many" }
[blank]
shape = "rectangle"
width = 120.0
height = 60.0
thickness = 12.0
[cutter]
use = "vbit-60"
[limits]
deepest = 1.5
[[line]]
text = "{name}"
face = "roboto-slab"
cap_height = 8.0
smallest = 5.5
tightest = 0
breaks = 2
[[line]]
text = "{post}"
face = "noto-sans"
cap_height = 4.0
tracking = 50
[[line]]
text = "{season}"
face = "noto-sans"
cap_height = 4.0
tracking = 50
"""
NAMES = ("Ada Tern", "Bo Skua", "Cy Gull", "Dee Auk")


class Trip:
    """An order's folder, with these names in its list, and what is done with it."""

    def __init__(self, folder: Path, *names: str | None) -> None:
        folder.mkdir()
        (folder / "order.toml").write_text(ORDER, encoding="utf-8")
        self.folder, self.out, self.said, self.seconds = folder, folder / "out", [], 0
        self.list(*names)

    def clock(self) -> str:
        self.seconds += 1
        return f"2026-05-02T09:{self.seconds // 60:02}:{self.seconds % 60:02}Z"

    def list(self, *names: str | None) -> None:
        """Write a list of these names; a name that is there twice has two pieces on its first row."""
        book = openpyxl.Workbook()
        sheet = book.active
        sheet.title = "Wardens"
        sheet.append(["Recipient", "Post", "Season", "How many"])
        for n, name in enumerate(names):
            sheet.append([name, "Warden", "2026", 2 if name in names[n + 1 :] else 1])
        book.save(self.folder / "recipients.xlsx")

    def run(self) -> dict:
        return run_order(self.folder, workers=1).report

    def sign(self, *returned: Path) -> int:
        return sign(self.folder, returned, clock=self.clock, say=self.said.append)

    def release(self) -> int:
        return release(self.folder, clock=self.clock, say=self.said.append, look=take_snapshot)

    def states(self) -> dict[int, str]:
        said: list[str] = []
        print_status(self.folder, say=said.append, look=take_snapshot, as_json=True)
        return {p["row"]: p["state"] for p in json.loads(said[0])["plaques"]}

    @property
    def released(self) -> set[str]:
        return {p.name for p in (self.out / "released").glob("*.dxf")}

    def held(self) -> dict[int, str]:
        sheet = openpyxl.load_workbook(self.out / "released" / "cut-list.xlsx")["Held back"]
        return {row[0]: row[6] for row in sheet.iter_rows(min_row=2, values_only=True) if row[0]}

    def replace(self, old: str, new: str) -> None:
        file = self.folder / "order.toml"
        text = file.read_text(encoding="utf-8")
        assert old in text
        file.write_text(text.replace(old, new, 1), encoding="utf-8")


def designs(report: dict) -> dict[str, list[dict]]:
    """Return plaques that can be cut, by fingerprint."""
    out: dict[str, list[dict]] = {}
    for plaque in report["plaques"]:
        if plaque["fingerprint"]:
            out.setdefault(plaque["fingerprint"], []).append(plaque)
    return out


def files_of(report: dict, marks: set[str]) -> set[str]:
    return {Path(p["cut_file"]).name for mark, same in designs(report).items() if mark in marks for p in same}


def files_at(report: dict, rows: set[int]) -> set[str]:
    return {Path(p["cut_file"]).name for p in report["plaques"] if p["row"] in rows}


def asked(proof: Path) -> set[str]:
    """Return the fingerprints with their own tick box, read by an independent library."""
    return {
        name.removeprefix("correct_") for name in pypdf.PdfReader(proof).get_fields() if name.startswith("correct_")
    }


def test_run_sign_release_correct_run_sign_release(tmp_path):
    trip = Trip(tmp_path / "order", *NAMES, "Ada Tern", "Eli Knot", "Fay Rail", None)
    first = trip.run()
    assert [p["row"] for p in first["plaques"] if p["state"] == "stopped"] == [9]
    marks = list(designs(first))
    assert first["order"]["revision"] == "A" and asked(trip.out / "proof.pdf") == set(marks)
    of = {p["text"][0]: p["fingerprint"] for p in first["plaques"][:7]}
    change, other, refuse = of["Cy Gull"], of["Dee Auk"], of["Eli Knot"]
    ticked = [mark for mark in marks if mark not in (change, other, refuse)]
    assert len(ticked) == 3 and len(designs(first)[of["Ada Tern"]]) == 2
    wanted = {change: "Perpetua Sandpiper", other: "Ottoline Dunlin"}

    trip.sign(
        filled_proof(
            trip.out / "proof.pdf",
            trip.folder / "returned" / "proof.pdf",
            {
                **{f"correct_{mark}": True for mark in ticked},
                **{f"change_{mark}": text for mark, text in wanted.items()},
                f"leave_{refuse}": True,
                "name": "Rowan Petrel",
                "date": "2 May 2026",
            },
        )
    )
    assert f"{len(ticked)} agreed, 2 to be changed, 1 not to be cut" in trip.said[0]
    assert trip.release() == 1
    assert trip.released == files_of(first, set(ticked))
    rows = {mark: [p["row"] for p in same] for mark, same in designs(first).items()}
    stopped = {p["row"] for p in first["plaques"] if p["state"] == "stopped"}
    held = trip.held()
    assert {row: held.pop(row) for row in stopped}.keys() == stopped
    assert held == {
        **{row: "sign.change-wanted" for mark in wanted for row in rows[mark]},
        **dict.fromkeys(rows[refuse], "sign.refused"),
    }
    for name in trip.released:
        assert (trip.out / "released" / name).read_bytes() == (trip.out / "cut" / name).read_bytes()

    # the client's list comes back corrected in exactly the cells that changes.xlsx names
    changes = openpyxl.load_workbook(trip.out / "changes.xlsx").active
    book = openpyxl.load_workbook(trip.folder / "recipients.xlsx")
    edited = 0
    for place, _, text, state, *_ in changes.iter_rows(min_row=2, values_only=True):
        if state == "to do" and text in wanted.values():
            sheet, cell = place.split("!")
            book[sheet][cell] = text
            edited += 1
    assert edited == 2
    book.save(trip.folder / "recipients.xlsx")
    second = trip.run()
    fresh = set(designs(second)) - set(marks)
    assert second["order"]["revision"] == "B"
    assert {same[0]["text"][0] for mark, same in designs(second).items() if mark in fresh} == set(wanted.values())
    assert asked(trip.out / "proof.pdf") == fresh and len(fresh) == 2
    assert set(trip.states().values()) == {"released", "not-signed", "refused", "stopped"}

    trip.sign(
        filled_proof(
            trip.out / "proof.pdf",
            trip.folder / "returned" / "proof B.pdf",
            {**{f"correct_{mark}": True for mark in fresh}, "name": "Rowan Petrel", "date": "9 May 2026"},
        )
    )
    assert trip.release() == 1
    pieces = sum(p["copies"] for mark in fresh for p in designs(second)[mark])
    assert f"New: {pieces} pieces: " in trip.said[-1]
    assert trip.released == files_of(second, {*ticked, *fresh})
    assert set(trip.held()) == stopped | set(rows[refuse])
    assert len(read_verified_entries(Ledger.open(trip.folder))) > len(marks)


def sized(trip: Trip) -> None:
    trip.replace("cap_height = 8.0", "cap_height = 7.75")


def faced(trip: Trip) -> None:
    trip.replace('"roboto-slab"', '"montserrat"')


def renamed(trip: Trip) -> None:
    trip.list("Ada Terne", *NAMES[1:])


@pytest.mark.parametrize(
    ("change", "rows", "told"),
    [
        (sized, {2, 3, 4, 5}, "line 1: 8.00 mm became 7.75 mm"),
        (faced, {2, 3, 4, 5}, "the face, the place, the cutter or the blank changed"),
        (renamed, {2}, "it was “Ada Tern / Warden / 2026”"),
    ],
)
def test_a_changed_order_is_held_back_run_or_not(tmp_path, change, rows, told):
    trip = Trip(tmp_path / "order", *NAMES)
    first = trip.run()
    proof = filled_proof(
        trip.out / "proof.pdf",
        trip.folder / "r" / "proof.pdf",
        {**{f"correct_{mark}": True for mark in designs(first)}, "name": "Rowan Petrel"},
    )
    assert trip.sign(proof) == 0
    assert trip.release() == 0
    everything = trip.released
    assert everything == files_of(first, set(designs(first))) and len(everything) == 4
    kept = {name: (trip.folder / name).read_bytes() for name in ("order.toml", "recipients.xlsx")}

    change(trip)
    for run_again in (False, True):
        if run_again:
            trip.run()
        assert trip.release() == 1
        assert trip.held() == dict.fromkeys(rows, "sign.changed-since")
        assert trip.released == {f for f in everything if f not in files_at(first, rows)}
        assert told in " ".join(trip.said[-1].split())

    for name, data in kept.items():  # restored to what was signed
        (trip.folder / name).write_bytes(data)
    trip.run()
    assert trip.release() == 0
    assert trip.released == everything


def test_one_longer_name_moves_everybody_s_size_and_says_so_before_anything_is_cut(tmp_path):
    trip = Trip(tmp_path / "order", *NAMES[:3])
    trip.replace("breaks = 2", 'breaks = 1\nsame_size = "all"')
    first = trip.run()
    assert [p["lines"][0]["cap_height"] for p in first["plaques"]] == [8.0, 8.0, 8.0]
    proof = filled_proof(
        trip.out / "proof.pdf",
        trip.folder / "r" / "proof.pdf",
        {**{f"correct_{mark}": True for mark in designs(first)}, "name": "Rowan Petrel"},
    )
    trip.sign(proof)
    assert trip.release() == 0
    assert len(trip.released) == 3
    trip.list("Ada Tern", "Bo Skua", "Cyprian Guillemot-Gull")
    second = trip.run()
    (moved,) = [f for f in second["findings"] if f["code"] == "fit.size-moved"]
    assert moved["facts"]["before"] == 8.0 > moved["facts"]["cap_height"]
    assert moved["row"] == second["plaques"][2]["row"]
    assert second["order"]["revision"] == "B" and asked(trip.out / "proof.pdf") == set(designs(second))
    assert trip.release() == 1
    assert trip.released == set()
    assert set(trip.held().values()) == {"sign.changed-since"}
