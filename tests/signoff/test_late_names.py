"""Late names in a separate list: asked about alone, answered, released and marked by their rows."""

from __future__ import annotations

import json
from pathlib import Path

import openpyxl
import pytest

from pipeline.cli import main
from pipeline.core.list_row import FurtherRow
from pipeline.run import run_order
from pipeline.signoff.records.ledger import Ledger, read_verified_entries
from tests.signoff.rounds import filled
from tests.signoff.test_parts import ORDER

LATE = "late.csv"


def told(capsys, *words: str) -> dict:
    capsys.readouterr()
    main([*words, "--json"])
    return json.loads(capsys.readouterr().out)


@pytest.fixture
def order(tmp_path: Path, capsys) -> Path:
    """Return an order of three names that have been cut, and two more in a further list."""
    (tmp_path / "order.toml").write_text(ORDER, encoding="utf-8")
    (tmp_path / "list.csv").write_text("Recipient\nAda Kittiwake\nBo Tern\nCy Skua\n", encoding="utf-8")
    run_order(tmp_path, workers=1)
    for words in (
        ["sign", "--rows", "2-4", "--by", "Rowan Petrel", "--on", "2 May 2026"],
        ["release"],
        ["mark", "cut", "--rows", "2-4"],
    ):
        assert main([words[0], str(tmp_path), *words[1:]]) == 0
    (tmp_path / LATE).write_text("Post;Recipient\nCook;Dee Avocet\nMate;Bo Tern\n", encoding="utf-8")
    text = ORDER.replace('file = "list.csv"\n', f'file = "list.csv"\nmore = ["{LATE}"]\n')
    (tmp_path / "order.toml").write_text(text, encoding="utf-8")
    return tmp_path


def test_late_names_have_their_own_proof_and_are_released_by_row(order, capsys):
    done = run_order(order, workers=1)
    assert done.revision.letter == "B" and not done.broken
    more = done.report["list"]["more"]
    assert [(m["file"], m["rows"], m["recipients"]) for m in more] == [(LATE, 3, 2)] and len(more[0]["sha256"]) == 64
    assert f"{LATE}: 3 rows in the list: 2 plaques, 1 left out." in done.summary
    shown = {e.revision: e for e in Ledger.open(order).read_entries() if e.kind == "proof"}
    # the same name and design as in row 3 is one more piece of it; the other has the next plain number
    assert [(d.no, d.rows) for d in shown["B"].designs] == [(2, (3, FurtherRow(LATE, 3))), (4, (FurtherRow(LATE, 2),))]
    assert main(["run", str(order), "--rows", f"{LATE}!2", "--workers", "1"]) == 0
    assert (order / "out" / f"part-{LATE}_2" / "proof.pdf").exists()
    sheet = filled(order / "out" / "check.xlsx", order / "back.xlsx", {f"{LATE}!2": "agreed"})
    assert main(["sign", str(order), str(sheet)]) == 0
    assert main(["sign", str(order), "--rows", f"{LATE}!3", "--proof", "B", "--by", "Rowan Petrel"]) == 0
    signed = [e.rows for e in read_verified_entries(Ledger.open(order)) if e.decision == "agreed"]
    assert signed[-2:] == [(FurtherRow(LATE, 2),), (FurtherRow(LATE, 3),)]
    released = told(capsys, "release", str(order))["released"]
    assert sorted((r["name"], r["pieces"]) for r in released) == [("Bo Tern", 1), ("Dee Avocet", 1)]
    assert {row for r in released for row in r["rows"]} <= {3, f"{LATE}!2", f"{LATE}!3"}
    marked = told(capsys, "mark", str(order), "cut", "--rows", f"{LATE}!2-3")["marked"]
    assert [(m["row"], m["to"]) for m in marked] == [(f"{LATE}!2", "cut"), (f"{LATE}!3", "cut")]
    rows = {p["row"]: (p["state"], p["cell"]) for p in told(capsys, "status", str(order))["plaques"]}
    assert rows[f"{LATE}!2"] == ("cut", f"{LATE}!B2") and rows[2] == ("cut", "A2") and len(rows) == 5
    assert main(["mark", str(order), "cut", "--rows", "latter.csv!2"]) == 2
    assert f"a further list of the order ({LATE})" in capsys.readouterr().err


def test_a_message_answers_a_proof_of_late_names(order):
    run_order(order, workers=1)
    (order / "reply.txt").write_text("4: Dee Avocett\n", encoding="utf-8")
    assert main(["sign", str(order), str(order / "reply.txt"), "--proof", "B", "--by", "Rowan Petrel", "--yes"]) == 0
    (answer,) = (e for e in Ledger.open(order).read_entries() if e.decision == "change")
    assert (answer.rows, answer.cells, answer.change_to) == ((FurtherRow(LATE, 2),), (f"{LATE}!B2",), "Dee Avocett")
    changes = openpyxl.load_workbook(order / "out" / "changes.xlsx").active
    assert changes["A2"].value == f"{LATE}!B2"
