"""One order whose answers come back in every form: the filled-in form, the check sheet, a message, a scan.

The scan is the proof's own pages with ticks drawn by a hand of `tests.long.pictured_answers`.
"""

from __future__ import annotations

import pytest

from pipeline.cli import main
from pipeline.signoff.records.ledger import Ledger
from tests.signoff import rounds
from tests.signoff.pictures.test_picture_answers import filled, proof_of, save
from tests.signoff.test_round_proof import filled_proof
from tests.test_every_stop import Job, names

pytest.importorskip("cv2", reason="OpenCV (pip install -e '.[pictures]')")
pytestmark = pytest.mark.xdist_group("pictured answers")

NAMES = ("Ida Vex", "Bo Skua", "Una Tern", "Odd Marram", "Gil Avocet", "Pia Knot x2")
FORM, SHEET, MESSAGE, SCAN, REFUSED, ASKED = range(1, 7)


def test_every_kind_of_answer_through_one_order(tmp_path, capsys):
    job = Job(tmp_path / "order")
    job.folder.mkdir()
    job.write(names(*NAMES), end='[proof]\nlayout = "compact"\n')  # fewer pages to scan
    assert main(["run", str(job.folder)]) == 0
    proof, _ = proof_of(job)
    code = {design.no: design.fingerprint for design in proof.identity.designs}
    capsys.readouterr()

    def sign(*papers: object) -> str:
        given = ["sign", str(job.folder), *map(str, papers), "--by", "Anna Dunlin", "--yes"]
        assert main(given) == 0
        return " ".join(capsys.readouterr().out.split())

    form = filled_proof(
        job.folder / "sent" / "proof-A.pdf",
        tmp_path / "form.pdf",
        {f"correct_{code[FORM]}": True, "q1_without": True, "name": "Anna Dunlin"},
    )
    assert "1 agreed, 1 to be changed, 4 not answered" in sign(form)
    answers = {SHEET + 1: "yes", REFUSED + 1: "do not cut"}  # the heading is row 1
    sheet = rounds.filled(job.out / "check.xlsx", tmp_path / "sheet.xlsx", answers, by="Anna Dunlin")
    assert "1 agreed, 1 not to be cut, 4 not answered Do not cut No. 5" in sign(sheet)
    message = tmp_path / "answer.txt"
    message.write_text(f"Hello,\n{MESSAGE}: Una Terne\nThanks for this\nAnna Dunlin\n", encoding="utf-8")
    assert "Change No. 3, list!A4: “Una Tern” to “Una Terne”" in sign(message)
    pages = [
        save(filled(job, page, correct4="tick"), tmp_path / f"page {page}.png")
        for page in range(1, proof.size + 1)
        if proof.get_page(page).boxes
    ]
    assert "1 agreed, 5 not answered" in sign(*pages)

    found = {
        entry.no: (entry.decision, entry.source_kind)
        for entry in Ledger.open(job.folder).read_entries()
        if entry.kind == "answer" and entry.decision != "unanswered"
    }
    assert found == {
        FORM: ("agreed", "proof"),
        SHEET: ("agreed", "sheet"),
        MESSAGE: ("change", "message"),
        SCAN: ("agreed", "picture"),
        REFUSED: ("refused", "sheet"),
        ASKED: ("change", "proof"),
    }
    assert main(["release", str(job.folder)]) == 1
    released = {path.name.rpartition("-")[2] for path in (job.out / "released").glob("*.dxf")}
    assert released == {f"{code[number]}.dxf" for number in (FORM, SHEET, SCAN)}
