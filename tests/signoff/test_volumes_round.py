"""A proof in volumes, of which one comes back before the other."""

from __future__ import annotations

import io

import pypdf
import pytest
from pypdf.generic import NameObject

from pipeline.commands.sign_command import sign
from pipeline.core.clock import get_utc_now
from pipeline.run import run_order
from pipeline.signoff.design_answers import read_design_answers
from pipeline.signoff.ledger import Ledger, read_verified_entries

ORDER = """\
title = "Rowers of the year"
client = "Marsh Rowing Circle"
[list]
file = "names.csv"
columns = { name = "Name" }
[blank]
shape = "rectangle"
width = 120
height = 40
thickness = 10
[cutter]
use = "vbit-60"
[[line]]
text = "{name}"
face = "noto-sans"
cap_height = 8
[proof]
volume = 2
"""


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "order.toml").write_text(ORDER, encoding="utf-8")
    (tmp_path / "names.csv").write_text("Name\nAnn Tillerby\nBert Ockham\nCleo Marsh\n", encoding="utf-8")
    return tmp_path


def agreed(sent: bytes) -> bytes:
    """The proof with every box for correct plaques ticked, and signed."""
    writer = pypdf.PdfWriter(clone_from=io.BytesIO(sent))
    for page in writer.pages:
        writer.update_page_form_field_values(page, {"name": "R. Pellow", "date": "1 December"})
        for widget in (w.get_object() for w in page.get("/Annots", [])):
            if str(widget.get("/T", "")).startswith("correct_"):
                on = next(state for state in widget["/AP"]["/N"] if state != "/Off")
                widget[NameObject("/V")] = widget[NameObject("/AS")] = NameObject(on)
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


def decisions(folder):
    return [s.decision for s in read_design_answers(read_verified_entries(Ledger.open(folder))).values()]


def test_a_volume_that_is_still_out_keeps_its_letter_and_its_answer_counts(folder):
    run_order(folder, workers=1)
    assert sorted(p.name for p in (folder / "sent").glob("proof*")) == ["proof-A-1.pdf", "proof-A-2.pdf"]
    back = [folder / "back-1.pdf", folder / "back-2.pdf"]
    for number, file in enumerate(back, 1):
        file.write_bytes(agreed((folder / "sent" / f"proof-A-{number}.pdf").read_bytes()))
    said: list[str] = []
    assert sign(folder, [back[0]], clock=get_utc_now, say=said.append) == 0
    assert decisions(folder) == ["agreed", "agreed"]
    assert run_order(folder, workers=1).revision.letter == "A"
    assert sorted(p.name for p in (folder / "sent").glob("proof*")) == ["proof-A-1.pdf", "proof-A-2.pdf"]
    assert sign(folder, [back[1]], clock=get_utc_now, say=said.append) == 0
    assert decisions(folder) == ["agreed"] * 3


def test_a_design_keeps_its_volume_when_a_name_is_put_before_it(folder):
    run_order(folder, workers=1)
    (folder / "names.csv").write_text("Name\nAda Reed\nAnn Tillerby\nBert Ockham\nCleo Marsh\n", encoding="utf-8")
    run_order(folder, workers=1)
    proofs = [e for e in read_verified_entries(Ledger.open(folder)) if e.kind == "proof" and e.revision == "B"]
    shown = {e.volume: [d.text[0] for d in e.designs] for e in proofs}
    assert shown == {1: ["Ann Tillerby", "Bert Ockham"], 2: ["Ada Reed", "Cleo Marsh"]}
