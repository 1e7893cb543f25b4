"""A proof in volumes, one of which comes back before the other."""

from __future__ import annotations

import io
import shutil

import pypdf
import pytest
from pypdf.generic import NameObject

from pipeline.commands.sign_command import sign
from pipeline.core.environment.clock import get_utc_now
from pipeline.run import run_order
from pipeline.signoff.design_answers import read_design_answers
from pipeline.signoff.records.ledger import Ledger, read_verified_entries

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


def begun(folder, names, volume=2):
    """Return the order with these names, its proof made."""
    (folder / "order.toml").write_text(ORDER.replace("volume = 2", f"volume = {volume}"), encoding="utf-8")
    (folder / "names.csv").write_text("\n".join(("Name", *names)) + "\n", encoding="utf-8")
    run_order(folder, workers=1)
    return folder


@pytest.fixture
def folder(tmp_path):
    return begun(tmp_path, ("Ann Tillerby", "Bert Ockham", "Cleo Marsh"))


def agreed(sent: bytes) -> bytes:
    """Return the proof with every box for correct plaques ticked, and signed."""
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
    (folder / "names.csv").write_text("Name\nAda Reed\nAnn Tillerby\nBert Ockham\nCleo Marsh\n", encoding="utf-8")
    run_order(folder, workers=1)
    proofs = [e for e in read_verified_entries(Ledger.open(folder)) if e.kind == "proof" and e.revision == "B"]
    shown = {e.volume: [d.text[0] for d in e.designs] for e in proofs}
    assert shown == {1: ["Ann Tillerby", "Bert Ockham"], 2: ["Ada Reed", "Cleo Marsh"]}


# --- a question about plaques of several volumes ---------------------------------------------------------------------

ODD = (
    "Ann Tillerby", "BERT OCKHAM", "Cleo Marsh", "Edwin Vane", "Flora Pell", "Gwen Reed", "Hugo Lark", "DORA KELD",
    "Ida Thorn", "Kit Moor", "Lorne Fen", "Merle Quill",
)  # fmt: skip
"""Two in capitals: in the first volume of three and in the second."""


@pytest.fixture(scope="module")
def asked_once(tmp_path_factory):
    return begun(tmp_path_factory.mktemp("asked"), ODD, volume=4)


@pytest.fixture
def asked(asked_once, tmp_path):
    """Return a copy of it for one test to sign."""
    return shutil.copytree(asked_once, tmp_path / "order")


def answered(sent: bytes, choice: str = "", decision: str = "agreed-as-shown", **written: str) -> bytes:
    """Return the proof with its decision, one choice of its question ticked, and signed."""
    writer = pypdf.PdfWriter(clone_from=io.BytesIO(sent))
    for page in writer.pages:
        writer.update_page_form_field_values(page, {"name": "R. Pellow", "date": "1 December", **written})
        for widget in (w.get_object() for w in page.get("/Annots", [])):
            named = widget.get("/T") or widget.get("/Parent", {}).get("/T") or ""
            states = [state for state in widget.get("/AP", {}).get("/N", {}) if state != "/Off"]
            if (choice and named == choice) or (named == "decision" and f"/{decision}" in states):
                widget[NameObject("/AS")] = NameObject(states[0])
                holder = widget.get("/Parent", widget).get_object() if named == "decision" else widget
                holder[NameObject("/V")] = NameObject(states[0])
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


def give_back(folder, volume: int, *choice: str, **more: str) -> list[str]:
    """Record a volume; return what the maker is told."""
    file = folder / f"back-{volume}-{len(list(folder.glob('back*')))}.pdf"
    file.write_bytes(answered((folder / "sent" / f"proof-A-{volume}.pdf").read_bytes(), *choice, **more))
    said: list[str] = []
    sign(folder, [file], clock=get_utc_now, say=said.append)
    return said


def read_decisions(folder) -> dict[str, str]:
    """Return the answer for each name that has one."""
    found = read_design_answers(read_verified_entries(Ledger.open(folder)))
    return {answer.entry.text[0]: answer.decision for answer in found.values()}


YES, NO = "q1_as-it-stands", "q1_otherwise"


def test_only_the_volume_that_asks_says_that_an_answer_is_needed(asked):
    def read_last_page(volume: int) -> str:
        page = pypdf.PdfReader(asked / "sent" / f"proof-A-{volume}.pdf").pages[-1]
        return " ".join(page.extract_text().split())

    assert "needs its own answer" in read_last_page(1)
    assert "Your decision here is about volume 2" in read_last_page(2) and "own answer" not in read_last_page(2)


@pytest.mark.parametrize("order", [(1, 2), (2, 1)])
def test_an_answer_in_volume_1_settles_the_question_for_all_volumes_in_whatever_order_they_come(asked, order):
    for volume in order:
        give_back(asked, volume, *([YES] if volume == 1 else []))
    assert read_decisions(asked) == dict.fromkeys(ODD[:8], "agreed")
    signed = read_design_answers(read_verified_entries(Ledger.open(asked)))
    assert {answer.pieces for answer in signed.values()} == {1}


def test_without_volume_1_nothing_its_question_is_about_is_agreed(asked):
    told = give_back(asked, 2)
    assert "Not agreed yet No. 8, names!A9: “DORA KELD”: question 1, in volume 1, is about it" in " ".join(told)
    assert "Unclear" not in " ".join(told) and "--decide" not in " ".join(told)  # the client's answer is still awaited
    assert read_decisions(asked) == dict.fromkeys(set(ODD[4:8]) - {"DORA KELD"}, "agreed")
    assert run_order(asked, workers=1).revision.letter == "A"  # the client still has the first volume


def test_a_tick_beside_the_plaque_is_not_enough_without_volume_1(asked):
    file = asked / "ticked.pdf"
    file.write_bytes(agreed((asked / "sent" / "proof-A-2.pdf").read_bytes()))
    sign(asked, [file], clock=get_utc_now, say=[].append)
    assert "DORA KELD" not in read_decisions(asked)


def test_a_question_left_open_in_volume_1_leaves_the_plaques_of_all_volumes_open(asked):
    give_back(asked, 2)
    give_back(asked, 1)
    found = read_decisions(asked)
    assert "DORA KELD" not in found and found["BERT OCKHAM"] == "contradicted"


@pytest.mark.parametrize("order", [(1, 2), (2, 1)])
def test_a_change_wanted_in_volume_1_is_wanted_in_all(asked, order):
    for volume in order:
        more = {"decision": "agreed-with-changes", "q1": "with small letters"} if volume == 1 else {}
        give_back(asked, volume, *([NO] if volume == 1 else []), **more)
    found = read_decisions(asked)
    assert found["BERT OCKHAM"] == found["DORA KELD"] == "change"
    assert found["Gwen Reed"] == "agreed"


def test_two_answers_to_the_question_settle_nothing(asked):
    give_back(asked, 2)
    give_back(asked, 1, YES)
    give_back(asked, 1, NO, decision="agreed-with-changes", q1="with small letters")
    assert read_decisions(asked)["DORA KELD"] == "contradicted"


def test_the_maker_can_decide_what_depends_on_another_volume(asked):
    file = asked / "back.pdf"
    file.write_bytes(answered((asked / "sent" / "proof-A-2.pdf").read_bytes()))
    sign(asked, [file], decisions=["8=agreed"], decided_by="M. Holt", clock=get_utc_now, say=[].append)
    assert read_decisions(asked)["DORA KELD"] == "agreed"


def test_a_message_agrees_to_nothing_that_a_question_in_another_volume_is_about(asked):
    file = asked / "answer.txt"
    file.write_text("All correct.\n\nR. Pellow\n", encoding="utf-8")
    sign(asked, [file], by="R. Pellow", yes=True, clock=get_utc_now, say=[].append)
    found = read_decisions(asked)
    assert found["BERT OCKHAM"] == found["DORA KELD"] == "contradicted" and found["Gwen Reed"] == "agreed"


def test_a_change_wanted_in_volume_1_after_the_maker_decided_is_not_lost(asked):
    file = asked / "back.pdf"
    file.write_bytes(answered((asked / "sent" / "proof-A-2.pdf").read_bytes()))
    sign(asked, [file], clock=get_utc_now, say=[].append)
    sign(asked, [file], decisions=["8=agreed"], decided_by="M. Holt", clock=get_utc_now, say=[].append)
    assert read_decisions(asked)["DORA KELD"] == "agreed"
    give_back(asked, 1, NO, decision="agreed-with-changes", q1="with small letters")
    assert read_decisions(asked)["DORA KELD"] == "contradicted"


@pytest.mark.parametrize(("choice", "result"), [(YES, "agreed"), (NO, "contradicted")])
def test_an_answer_in_volume_1_after_a_sign_off_by_hand_counts(asked, choice, result):
    give_back(asked, 2)
    sign(asked, rows="9", by="R. Pellow", paper="letter", clock=get_utc_now, say=[].append)
    assert read_decisions(asked)["DORA KELD"] == "agreed"
    more = {"decision": "agreed-with-changes", "q1": "with small letters"} if choice == NO else {}
    give_back(asked, 1, choice, **more)
    assert read_decisions(asked)["DORA KELD"] == result
