"""The history of an order in words: singular and plural, every kind of paper, a clock that was behind."""

from __future__ import annotations

import pytest

from pipeline.signoff.order_history import build_history
from pipeline.signoff.records.ledger_entry import LedgerEntry


def told(*rows: LedgerEntry) -> list[str]:
    return [event.what for event in build_history(rows)]


def row(id: int, kind: str, at: int = 0, **more: object) -> LedgerEntry:
    return LedgerEntry(id=id, kind=kind, at=f"2026-05-02T09:30:{at or id:02}Z", **more)  # type: ignore[arg-type]


def test_singular_and_plural_are_distinguished():
    assert told(row(1, "told", text=("Ada",))) == [
        "reported: 1 plaque cut earlier, no longer as in the list or the order"
    ]
    (several,) = told(row(1, "told", at=1), row(2, "told", at=1))
    assert several == "reported: 2 plaques cut earlier, no longer as in the list or the order"
    assert told(row(4, "void", voids=(3,))) == ["row 3 no longer counts"]
    assert told(row(5, "void", voids=(3, 4))) == ["rows 3, 4 no longer count"]


@pytest.mark.parametrize(
    ("kind", "word"),
    [
        ("proof", "proof"),
        ("sheet", "check sheet"),
        ("message", "message"),
        ("paper", "sign-off on paper"),
        ("", "answer"),
    ],
)
def test_every_kind_of_paper_has_the_name_the_maker_reads_elsewhere(kind, word):
    paper = row(1, "paper", at=1, source_kind=kind, revision="B")
    answer = row(2, "answer", at=1, source_kind=kind, revision="B", decision="agreed", text=("Ada",))
    assert told(paper, answer) == [f"{word} B came back: 1 agreed"]
