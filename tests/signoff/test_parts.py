"""Runs of part of a list: their own proofs, and answers to them read like any others."""

from __future__ import annotations

import json
from pathlib import Path

import openpyxl
import pytest

from pipeline.cli import main
from pipeline.commands.sign_command import sign
from pipeline.core.errors import CannotRun
from pipeline.run import run_order, take_snapshot
from pipeline.signoff.plaque_selection import parse_parts
from pipeline.signoff.records.ledger import Ledger
from tests.signoff.rounds import filled

ORDER = """
title = "Wardens of the Shore 2026"
[list]
file = "list.csv"
columns = { name = "Recipient" }
[blank]
shape = "rectangle"
width = 150.0
height = 60.0
[cutter]
use = "vbit-60"
[[line]]
text = "{name}"
face = "eb-garamond"
cap_height = 11.0
"""


@pytest.fixture
def order(tmp_path: Path) -> Path:
    (tmp_path / "order.toml").write_text(ORDER, encoding="utf-8")
    (tmp_path / "list.csv").write_text("Recipient\nAda Kittiwake\nBo Tern\nCy Skua\n", encoding="utf-8")
    run_order(tmp_path, workers=1)
    return tmp_path


def clock() -> str:
    return "2026-05-02T09:30:00Z"


def answered(order: Path, sheet: str, answers: dict[int, str], name: str, **more: object) -> tuple[int, list[str]]:
    said: list[str] = []
    file = filled(order / sheet, order / name, answers)
    return sign(order, [file], clock=clock, say=said.append, **more), said  # type: ignore[arg-type]


def test_a_part_has_a_proof_and_a_letter_of_its_own_and_its_answer_is_read(order):
    whole = (order / "out" / "proof.pdf").read_bytes()
    done = run_order(order, rows="3", workers=1)
    assert done.revision.letter == "B" and (order / "out" / "part-3" / "proof.pdf").exists()
    assert (order / "out" / "proof.pdf").read_bytes() == whole  # nothing of the whole order's was overwritten
    assert sorted(p.name for p in (order / "sent").glob("proof*")) == ["proof-A.pdf", "proof-B.pdf"]
    assert answered(order, "out/part-3/check.xlsx", {3: "agreed"}, "part.xlsx")[0] == 0
    (answer,) = (e for e in Ledger.open(order).read_entries() if e.kind == "answer")
    assert (answer.revision, answer.rows, answer.decision) == ("B", (3,), "agreed")
    status, said = answered(order, "out/check.xlsx", {2: "agreed", 3: "agreed", 4: "agreed"}, "whole.xlsx")
    assert status == 0, said  # it doesn't make the first proof outdated
    assert run_order(order, rows="3", workers=1).revision.letter == "B"
    assert run_order(order, workers=1).revision.letter == "A"


def test_only_the_current_state_counts(order):
    assert answered(order, "out/check.xlsx", {2: "agreed", 4: "agreed"}, "whole.xlsx")[0] == 0
    done = run_order(order, only="unsigned", workers=1)
    report = json.loads((order / "out" / "part-unsigned" / "report.json").read_text())
    assert [p["row"] for p in report["plaques"]] == [3] and done.revision.letter == "B"
    (order / "list.csv").write_text("Recipient\nAda Kittiwake\nBo Tern\nCy Skuas\n", encoding="utf-8")
    run_order(order, only="changed", workers=1)
    report = json.loads((order / "out" / "part-changed" / "report.json").read_text())
    assert [p["row"] for p in report["plaques"]] == [4]
    book = openpyxl.load_workbook(order / "out" / "part-changed" / "check.xlsx")
    assert book.worksheets[0].max_row == 2
    with pytest.raises(CannotRun, match="no plaque matches"):
        run_order(order, only="question", workers=1)
    with pytest.raises(CannotRun, match="“late”"):
        parse_parts("late")
    assert take_snapshot(order).outcome.plaques  # the parts don't get in the way of the whole


def test_a_proof_that_has_nothing_left_to_ask_need_not_be_sent(order: Path) -> None:
    def is_settled() -> bool:
        summary = run_order(order, workers=1).summary
        return "Every plaque is answered already: proof" in summary

    assert not is_settled()
    for rows in ("2-3", "4"):
        assert not is_settled()
        assert main(["sign", str(order), "--rows", rows, "--by", "R. Pellow", "--paper", "letter"]) in (0, 1)
    assert is_settled()
    (order / "list.csv").write_text("Recipient\nAda Kittiwake\nBo Tern\nCy Skua\nDo Gull\n", encoding="utf-8")
    assert not is_settled()
    (order / "list.csv").write_text("Recipient\nAda Kittiwake\nBo Tern\nCy Skuas\n", encoding="utf-8")
    assert not is_settled()
    part = run_order(order, rows="2-3", workers=1).summary
    assert "Every plaque of this part is answered already: proof" in part  # row 4 is open
