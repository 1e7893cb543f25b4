"""Plain numbers: in the ledger before they are on paper, one meaning each, whatever happens to the run."""

from __future__ import annotations

import json
import random

import openpyxl
import pytest

from pipeline import run
from pipeline.commands.void import void_rows
from pipeline.core.errors import CannotRun
from pipeline.signoff import run_ledger
from pipeline.signoff.records.ledger import Ledger, read_verified_entries
from pipeline.signoff.records.ledger_entry import LedgerEntry, select_counting_entries
from pipeline.signoff.records.plain_numbers import give_numbers, read_numbers
from tests import builders
from tests.signoff.rounds import Round

AT = "2026-05-02T09:30:00Z"


def plaques(*names: str):
    return tuple(
        builders.stopped_unset(row, name[1:], builders.too_long(row, name[1:]))
        if name.startswith("!")
        else builders.plaque(row, name)
        for row, name in enumerate(names, 5)
    )


def given(ledger: Ledger, *names: str) -> dict[str, int]:
    """Assign numbers to a list of these names; return the number of each by its name."""
    made = plaques(*names)
    numbers = read_numbers(give_numbers(ledger, made, read_verified_entries(ledger), AT))
    return {dict(p.recipient.raw)["name"]: numbers.get(p) for p in made}


def test_numbers_follow_list_order_and_stay(tmp_path):
    ledger = Ledger.open(tmp_path)
    assert given(ledger, "Ada Tern", "!Bo Fulmar of the Long Name", "Cy Gannet", "Ada Tern") == {
        "Ada Tern": 1, "Bo Fulmar of the Long Name": 2, "Cy Gannet": 3,
    }  # fmt: skip
    assert given(ledger, "Dee Skua", "Cy Gannet", "Ada Tern") == {"Dee Skua": 4, "Cy Gannet": 3, "Ada Tern": 1}
    rows = len(read_verified_entries(ledger))
    assert given(ledger, "Ada Tern", "!Bo Fulmar of the Long Name")["Bo Fulmar of the Long Name"] == 2
    assert len(read_verified_entries(ledger)) == rows  # nothing new, so no row


def test_a_number_never_has_two_meanings(tmp_path):
    """Sixty random lists, shortened, shuffled, corrected and retyped: every number keeps its one text."""
    chance, ledger = random.Random(21), Ledger.open(tmp_path)
    pool = [f"Ada Tern {n}" for n in range(9)] + [f"!Bo Fulmar {n}" for n in range(4)]
    meaning: dict[int, str] = {}
    for _ in range(60):
        names = chance.sample(pool, chance.randint(1, 8))
        for name, no in given(ledger, *names).items():
            assert no and meaning.setdefault(no, name) == name
    assert sorted(meaning) == list(range(1, len(pool) + 1))


def test_numbers_are_not_voided_and_not_reused(tmp_path):
    ledger = Ledger.open(tmp_path)
    given(ledger, "Ada Tern")
    ledger.add([LedgerEntry(kind="void", voids=(1,), by="Rowan Petrel")], AT)
    assert [e.kind for e in select_counting_entries(read_verified_entries(ledger))] == ["numbers"]
    assert given(ledger, "Bo Fulmar", "Ada Tern") == {"Bo Fulmar": 2, "Ada Tern": 1}


ORDER = """
title = "Wardens of the Shore"
[list]
file = "list.csv"
[blank]
shape = "rectangle"
width = 150.0
height = 60.0
[[line]]
text = "{name}"
face = "noto-sans"
cap_height = 8.0
"""


@pytest.fixture
def order(tmp_path):
    (tmp_path / "order.toml").write_text(ORDER, encoding="utf-8")
    return tmp_path


def write_list(folder, *names: str) -> None:
    (folder / "list.csv").write_text("\n".join(("name", *names)), encoding="utf-8")


def shown(folder, out: str = "out") -> dict[str, int]:
    """Return the numbers of the report, which check sheet and proof agree with."""
    report = json.loads((folder / out / "report.json").read_text(encoding="utf-8"))
    numbers = {"\n".join(p["text"]): p["no"] for p in report["plaques"]}
    head, *rows = openpyxl.load_workbook(folder / out / "check.xlsx").worksheets[0].iter_rows(values_only=True)
    assert {row[head.index("As it will be cut")]: row[head.index("No.")] for row in rows} == numbers
    return numbers


def test_a_run_that_dies_after_its_papers_are_written_leaves_no_number_for_another(order, monkeypatch):
    write_list(order, "Ada Tern", "Bo Fulmar")

    def killed(*_: object, **__: object) -> str:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(run_ledger, "keep_proof", killed)
        with pytest.raises(KeyboardInterrupt):
            run.run_order(order, workers=1)
    assert (order / "out" / "proof.pdf").exists()  # the maker may send it
    assert shown(order) == {"Ada Tern": 1, "Bo Fulmar": 2}
    write_list(order, "Cy Gannet", "Bo Fulmar")
    run.run_order(order, workers=1)
    assert shown(order) == {"Cy Gannet": 3, "Bo Fulmar": 2}


def test_a_part_of_the_list_and_a_check_agree_with_the_whole(order):
    write_list(order, "Ada Tern", "Bo Fulmar", "Cy Gannet")
    run.run_order(order, workers=1, files=False)  # nothing to send, so no numbers
    assert set(shown(order).values()) == {None} and not (order / "signoff.sqlite").exists()
    run.run_order(order, workers=1, rows="4")
    assert shown(order, "out/part-4") == {"Cy Gannet": 1}
    run.run_order(order, workers=1)
    assert shown(order) == {"Ada Tern": 2, "Bo Fulmar": 3, "Cy Gannet": 1}


def test_without_a_ledger_that_can_be_written_there_are_no_numbers(order, monkeypatch):
    write_list(order, "Ada Tern")

    def refused(*_: object, **__: object) -> object:
        raise CannotRun([])

    monkeypatch.setattr(run_ledger, "give_numbers", refused)
    run.run_order(order, workers=1, rows="2")
    assert shown(order, "out/part-2") == {"Ada Tern": None}


def test_status_and_answers_name_the_same_numbers(tmp_path):
    trip = Round(tmp_path, plaques("Ada Tern", "!Bo Fulmar of the Long Name", "Cy Gannet"))
    trip.run(proof=True)
    trip.status(as_json=True)
    assert [p["no"] for p in json.loads(trip.said[-1])["plaques"]] == [1, 2, 3]
    trip.status()
    assert "No. 3" in trip.said[-1]


def test_a_row_that_gives_numbers_cannot_be_voided_alone_and_is_left_out_among_others(tmp_path):
    trip = Round(tmp_path, (builders.plaque(5, "Ada Kittiwake"),))
    trip.run(proof=True)
    (numbers,) = (e.id for e in trip.ledger.read_entries() if e.kind == "numbers")
    before = trip.ledger.read_entries()
    with pytest.raises(CannotRun, match="these stay given"):
        void_rows(trip.folder, str(numbers), by="Wren", clock=trip.clock, say=trip.said.append)
    assert trip.ledger.read_entries() == before
    void_rows(trip.folder, f"{numbers}-{len(before)}", by="Wren", clock=trip.clock, say=trip.said.append)
    assert numbers not in trip.ledger.read_entries()[-1].voids
