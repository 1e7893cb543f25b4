"""Returned proofs: filled in by independent libraries, then damaged in the ways papers get damaged."""

from __future__ import annotations

import hashlib
import io
from pathlib import Path

import pikepdf
import pikepdf.form
import pypdf
import pytest
from pypdf.annotations import FreeText
from reportlab.pdfgen.canvas import Canvas

from pipeline.core.config.order import BlankConfig, LineConfig, ListConfig, Order, OrderFolder, ProofConfig
from pipeline.core.short_codes import build_order_id
from pipeline.outputs.pdf.identity import ProofIdentity
from pipeline.signoff.records.kept_lettering import pack_proof_lettering
from pipeline.signoff.returned.answers import ReturnedPaper
from pipeline.signoff.returned.returned_proof import read_proof_bytes, read_returned_proof
from pipeline.signoff.returned.sent_copy import SentCopy
from tests import builders
from tests.outputs.papers import proof_bytes

CODE = build_order_id("Wardens of the Shore 2026", "Tidewrack Seabird Trust")


def folder(title: str = "Wardens of the Shore 2026") -> OrderFolder:
    order = Order(
        title=title,
        client="Tidewrack Seabird Trust",
        list=ListConfig(file="recipients.xlsx"),
        blank=BlankConfig(drawing="plaque.dxf"),
        line=(LineConfig(text="{name}", face="eb-garamond", cap_height=8.0),),
        proof=ProofConfig(shop="Harrow Lane Engraving"),
    )
    return OrderFolder(order=order, folder=Path(), file=Path("order.toml"), sha256="0" * 64)


@pytest.fixture(scope="module")
def outcome():
    return builders.outcome()


@pytest.fixture(scope="module")
def sent(outcome) -> bytes:
    return proof_bytes(outcome, folder())[0]


@pytest.fixture(scope="module")
def marks(outcome) -> dict[str, str]:
    """Return fingerprints by name."""
    return {p.text[0]: p.fingerprint for p in outcome.plaques if p.fingerprint}


def filled(sent: bytes, **values: str | bool) -> bytes:
    """Filled in by pikepdf's form helper."""
    with pikepdf.open(io.BytesIO(sent)) as pdf:
        form = pikepdf.form.Form(pdf)
        for name, value in values.items():
            if name == "decision":
                group = form["decision"]
                group.selected = next(o for o in group.options if o.on_value == f"/{value}")
            elif isinstance(value, bool):
                form[name].checked = value
            else:
                form[name].value = value
        out = io.BytesIO()
        pdf.save(out)
    return out.getvalue()


@pytest.fixture(scope="module", autouse=True)
def copies(sent, tmp_path_factory) -> dict[tuple[str, int], SentCopy]:
    """Return the proof as kept, for `read`."""
    file = tmp_path_factory.mktemp("sent") / "proof-A.pdf"
    file.write_bytes(sent)
    KEPT["A", 0] = SentCopy(path=file, sha256=hashlib.sha256(sent).hexdigest())
    return KEPT


KEPT: dict[tuple[str, int], SentCopy] = {}


def read(data: bytes, **how: str) -> ReturnedPaper:
    return read_proof_bytes(data, "returned.pdf", **{"order_id": CODE, "revision": "A", "copies": KEPT, **how})


def decided(paper: ReturnedPaper) -> dict[str, str]:
    return {a.text[0]: a.decision for a in paper.answers}


ASKED = "Oyvind Storm"  # a question is shown with this one


# --- what a client does ----------------------------------------------------------------------------------------------


def test_a_proof_that_went_out_before_papers_were_drawn_by_a_library_is_still_read(marks):
    """Written and filled in with the tool's first PDF writer, and unchanged since."""
    back = Path(__file__).parents[1] / "returned_before" / "proof-by-the-first-writer.pdf"
    paper = read_returned_proof(back, order_id=CODE, revision="A")
    assert (paper.by, paper.date, paper.remarks) == ("R. Pellow", "3 December", "山田 / שרה")
    assert decided(paper) == {  # a person has to read the remarks before anything is approved
        "Ada Kittiwake": "unclear",
        "Márta Szélfuvás": "change",
        "Jory & Tamsin Pellow": "refused",
        "Björn Ærøskarv": "unclear",
        ASKED: "unclear",
    }
    assert {a.fingerprint for a in paper.answers} == set(marks.values())
    assert pack_proof_lettering(back.read_bytes(), order_id=CODE, revision="A")  # its lettering, for the next proof


def line_of(sent, row):
    """Return the write-in field of the question about a row without a cut."""
    told = ProofIdentity.from_json(pypdf.PdfReader(io.BytesIO(sent)).get_fields()["proof_identity"]["/V"].encode())
    return next(question.line for question in told.questions if row in question.stopped)


def test_ticks_changes_and_refusals_come_back(sent, marks, tmp_path):
    data = filled(
        sent,
        **{f"correct_{marks['Ada Kittiwake']}": True},
        **{f"change_{marks['Márta Szélfuvás']}": "Márta  Szélfúvás\nand no “Founder”"},
        **{f"leave_{marks['Björn Ærøskarv']}": True},
        **{f"correct_{marks[ASKED]}": True, f"change_{marks[ASKED]}": "yes, that is fine"},
        **{line_of(sent, 11): "Prof. W. Oystercatcher"},
        decision="agreed-with-changes",
        name="Ελένη Παπά",
        date="3 December 2026",
        remarks="Thank you",
    )
    (tmp_path / "back.pdf").write_bytes(data)
    paper = read_returned_proof(tmp_path / "back.pdf", order_id=CODE, revision="A", copies=KEPT)
    assert paper.usable and not paper.problems
    assert (paper.by, paper.date, paper.remarks) == ("Ελένη Παπά", "3 December 2026", "Thank you")
    assert paper.decision == "agreed-with-changes"
    assert decided(paper) == {
        "Ada Kittiwake": "agreed",
        "Márta Szélfuvás": "change",
        "Jory & Tamsin Pellow": "agreed",
        "Björn Ærøskarv": "refused",
        ASKED: "agreed",
    }
    by_name = {a.text[0]: a for a in paper.answers}
    assert by_name["Márta Szélfuvás"].change_to == "Márta Szélfúvás\nand no “Founder”"
    assert by_name[ASKED].reply == "yes, that is fine"
    ada = by_name["Ada Kittiwake"]
    assert (ada.rows, ada.cells, ada.pieces) == ((5, 10), ("B5", "B10"), 2)
    assert [(r.row, r.cell, r.reply) for r in paper.replies] == [
        (11, "B11", f"question {line_of(sent, 11)[1:]}: Prof. W. Oystercatcher")
    ]


def test_names_in_any_script_come_back(sent, marks):
    wanted = "山田 太郎 · שרה כהן · محمد علي · Nguyễn Thị Ánh"
    writer = pypdf.PdfWriter(clone_from=io.BytesIO(sent))
    values = {f"change_{marks['Ada Kittiwake']}": wanted, "name": "김민준"}
    for page in writer.pages:
        writer.update_page_form_field_values(page, values, auto_regenerate=False)
    out = io.BytesIO()
    writer.write(out)
    paper = read(out.getvalue())
    assert {a.change_to for a in paper.answers} == {wanted, ""}
    assert paper.by == "김민준"


def test_all_correct_leaves_questions_open(sent):
    paper = read(filled(sent, decision="agreed-as-shown", name="R. Pellow"))
    verdicts = decided(paper)
    assert verdicts.pop(ASKED) == "unclear"
    assert set(verdicts.values()) == {"agreed"}
    assert [p.code for p in paper.problems] == ["contradiction"] and "not answered" in str(paper.problems[0])


def test_a_new_proof_keeps_only_what_was_ticked(sent, marks):
    paper = read(filled(sent, decision="new-proof", name="R. Pellow", **{f"correct_{marks['Ada Kittiwake']}": True}))
    assert decided(paper)["Ada Kittiwake"] == "agreed"
    assert set(decided(paper).values()) == {"agreed", "unanswered"}


@pytest.mark.parametrize("name", ["?", "-", "1 Dec", "Ó"])
def test_a_name_has_a_letter(sent, marks, name):
    paper = read(filled(sent, name=name, **{f"correct_{marks['Ada Kittiwake']}": True}))
    unnamed = not any(map(str.isalpha, name))
    assert ("no-name" in {p.code for p in paper.problems}, paper.by) == (unnamed, "" if unnamed else name)


def test_without_a_decision_only_marks_count(sent, marks):
    paper = read(filled(sent, **{f"correct_{marks['Ada Kittiwake']}": True}))
    assert decided(paper)["Ada Kittiwake"] == "agreed"
    assert {p.code for p in paper.problems} == {"no-name", "no-decision"}
    assert paper.usable


# --- what contradicts itself -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fields", "why"),
    [
        ({"correct": True, "change": "Ada Kittywake"}, "ticked as correct and changed"),
        ({"correct": True, "leave": True}, "ticked as correct and to be left out"),
        ({"leave": True, "change": "Ada Kittywake"}, "to be left out and changed"),
        ({"change": "Ada Kittiwake"}, "what it already says"),
        ({"change": "Ada Kittywake", "decision": "agreed-as-shown"}, "agreed as shown"),
        ({"leave": True, "decision": "agreed-as-shown"}, "agreed as shown"),
    ],
)
def test_contradictions_are_reported_and_nothing_is_guessed(sent, marks, fields, why):
    mark = marks["Ada Kittiwake"]
    own = {(k if k == "decision" else f"{k}_{mark}"): v for k, v in fields.items()}
    paper = read(filled(sent, name="R. Pellow", **own))
    assert decided(paper)["Ada Kittiwake"] == "unclear"
    (told,) = [p for p in paper.problems if p.fingerprint == mark]
    assert told.code == "contradiction" and why in told.found and "Ada Kittiwake" in told.found
    assert not told.fatal


def test_all_correct_and_a_new_proof_contradict_each_other_on_a_proof_that_had_a_box_for_each():
    """Proofs sent before the choice was said once."""
    back = (Path(__file__).parents[1] / "returned_before" / "proof-by-the-first-writer.pdf").read_bytes()
    paper = read(filled(back, all_correct=True, decision="new-proof", name="x"), copies={})
    assert paper.decision == "unclear"
    assert any("all correct" in p.found and "new proof" in p.found for p in paper.problems)


@pytest.mark.parametrize("said", ["yes", "OK", "Yes, that is fine."])
def test_a_yes_beside_a_question_is_no_change(sent, marks, said):
    paper = read(filled(sent, decision="agreed-with-changes", name="R. Pellow", **{f"change_{marks[ASKED]}": said}))
    answer = next(a for a in paper.answers if a.text[0] == ASKED)
    assert (answer.decision, answer.change_to, answer.reply) == ("unclear", "", said)
    assert said in answer.why  # for the maker to read and decide by number


def test_a_tick_whose_appearance_differs_from_its_value_is_unclear(sent, marks):
    with pikepdf.open(io.BytesIO(filled(sent, name="x", decision="agreed-as-shown"))) as pdf:
        for f in pdf.Root.AcroForm.Fields:
            if str(f.T) == f"correct_{marks['Ada Kittiwake']}":
                f.V = pikepdf.Name.Yes  # but its appearance stays empty
        out = io.BytesIO()
        pdf.save(out)
    assert decided(read(out.getvalue()))["Ada Kittiwake"] == "unclear"


def test_notes_beside_the_fields_are_for_a_person(sent, marks):
    data = filled(sent, decision="agreed-as-shown", name="x", **{f"correct_{marks[ASKED]}": True})
    writer = pypdf.PdfWriter(clone_from=io.BytesIO(data))
    page = next(i for i, p in enumerate(writer.pages) if marks["Björn Ærøskarv"] in p.extract_text())
    writer.add_annotation(page, FreeText(text="one r too few?", rect=(100, 100, 200, 120)))
    out = io.BytesIO()
    writer.write(out)
    paper = read(out.getvalue())
    assert decided(paper)["Björn Ærøskarv"] == "unclear"
    assert decided(paper)["Ada Kittiwake"] == "agreed"
    assert any(p.code == "differs" and "one r too few?" in p.found for p in paper.problems)


# --- papers that cannot be used --------------------------------------------------------------------------------------


def refused(paper: ReturnedPaper, code: str) -> str:
    assert not paper.usable and paper.answers == () and paper.replies == ()
    (problem,) = [p for p in paper.problems if p.fatal]
    assert problem.code == code and "returned.pdf" in problem.found and problem.remedy
    return str(problem)


def test_another_order(sent, outcome):
    said = refused(read(filled(sent, decision="agreed-as-shown"), order_id="XXXXXX"), "other-order")
    assert CODE in said and "Tidewrack Seabird Trust" in said


def test_another_revision(sent):
    said = refused(read(filled(sent, decision="agreed-as-shown"), revision="B"), "older-revision")
    assert "proof A" in said and "proof B" in said


def test_nothing_filled_in(sent):
    refused(read(sent), "empty")


def test_flattened(sent):
    with pikepdf.open(io.BytesIO(filled(sent, decision="agreed-as-shown", name="x"))) as pdf:
        pdf.flatten_annotations()
        del pdf.Root.AcroForm
        for page in pdf.pages:
            page.obj.Annots = pikepdf.Array(a for a in page.obj.get("/Annots", []) if a.Subtype != "/Widget")
        out = io.BytesIO()
        pdf.save(out)
        refused(read(out.getvalue()), "flattened")
        del pdf.Root.Names  # a viewer may also drop the attachment
        out = io.BytesIO()
        pdf.save(out)
        refused(read(out.getvalue()), "flattened")


def test_without_its_attachment_it_is_still_known(sent):
    with pikepdf.open(io.BytesIO(filled(sent, decision="agreed-as-shown", name="x"))) as pdf:
        del pdf.Root.Names
        out = io.BytesIO()
        pdf.save(out)
    paper = read(out.getvalue())
    assert paper.usable and decided(paper)["Ada Kittiwake"] == "agreed"


def test_printed_to_a_new_file_or_another_paper_altogether():
    out = io.BytesIO()
    canvas = Canvas(out)
    canvas.drawString(100, 100, "scan of a proof")
    canvas.save()
    refused(read(out.getvalue()), "not-a-proof")


@pytest.mark.parametrize("kept", [0, 20, 0.5, 0.97])
def test_broken(sent, kept):
    data = filled(sent, decision="agreed-as-shown")
    refused(read(data[: int(kept * len(data)) if kept < 1 else kept]), "unreadable")


def test_locked(sent):
    with pikepdf.open(io.BytesIO(sent)) as pdf:
        out = io.BytesIO()
        pdf.save(out, encryption=pikepdf.Encryption(owner="o", user="u"))
    assert "password" in refused(read(out.getvalue()), "unreadable")


def test_the_last_page_is_missing(sent):
    with pikepdf.open(io.BytesIO(filled(sent, decision="agreed-as-shown"))) as pdf:
        last = {f.objgen for f in pdf.pages[-1].obj.Annots}
        fields = pdf.Root.AcroForm.Fields
        pdf.Root.AcroForm.Fields = pikepdf.Array(f for f in fields if f.objgen not in last and "/Kids" not in f)
        del pdf.pages[-1]
        out = io.BytesIO()
        pdf.save(out)
    assert "decision is missing" in refused(read(out.getvalue()), "altered")


def test_a_missing_plaque_page_is_not_covered_by_all_correct(sent, marks):
    with pikepdf.open(io.BytesIO(filled(sent, decision="agreed-as-shown", name="x"))) as pdf:
        gone = f"_{marks['Björn Ærøskarv']}"
        fields = pdf.Root.AcroForm.Fields
        pdf.Root.AcroForm.Fields = pikepdf.Array(f for f in fields if not str(f.T).endswith(gone))
        for page in pdf.pages:
            kept = [a for a in page.obj.get("/Annots", []) if not str(a.get("/T", "")).endswith(gone)]
            page.obj.Annots = pikepdf.Array(kept)
        out = io.BytesIO()
        pdf.save(out)
    paper = read(out.getvalue())
    assert decided(paper)["Björn Ærøskarv"] == "unclear"
    assert decided(paper)["Ada Kittiwake"] == "agreed"
