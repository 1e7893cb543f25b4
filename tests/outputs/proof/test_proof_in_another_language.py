"""The proof in a pseudo-language, English with accents: a plain vowel reveals text that is in no catalogue."""

from __future__ import annotations

import io
import re
from dataclasses import replace

import pikepdf
import pypdf
import pypdfium2

from pipeline.core.findings import Severity
from pipeline.outputs.proof.proof import write_proof_files
from pipeline.outputs.revision import EarlierPlaque, Revision
from tests import builders
from tests.languages import pseudo_catalogue, texts_of

PLAIN = re.compile(r"[A-Za-z]*[aeiouAEIOU][A-Za-z]*")


def read(data: bytes) -> set[str]:
    """Return all text a reader of the file can see: pages, tooltips of fields, bookmarks, title."""
    said = [page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(data)]
    with pikepdf.open(io.BytesIO(data)) as pdf:
        for page in pdf.pages:
            for note in page.obj.get("/Annots", ()):
                said += [str(note.get("/TU", "")), str(note.get("/Contents", ""))]
                said += [str(note.Parent.get("/TU", ""))] if "/Parent" in note else []
        said.append(str(pdf.docinfo.Title))

    def titles(items):
        return [t for i in items for t in (titles(i) if isinstance(i, list) else [i.title])]

    said += titles(pypdf.PdfReader(io.BytesIO(data)).outline)
    return {word for text in said for word in re.findall(r"[^\W\d_]+", text)}


def known(outcome, *texts: str) -> set[str]:
    """Return the words that aren't messages: the order's, the list's, the maker's, and phrases that come as facts."""
    said = [outcome.title, outcome.client, *texts, "mm", "in", "false"]
    for plaque in outcome.plaques:
        said += [*plaque.text, plaque.fingerprint, plaque.recipient.cell, *(v for _, v in plaque.recipient.raw)]
        said += [str(value) for f in plaque.findings for _, value in f.facts]
    said += [str(value) for f in outcome.findings for _, value in f.facts]
    said += [account.reason for account in outcome.listing.account]
    return {word for text in said for word in re.findall(r"[^\W\d_]+", text)}


def untranslated(outcome, folder, revision, *texts: str) -> set[str]:
    other = texts_of(pseudo_catalogue())
    told: set[str] = set()
    for file in write_proof_files(outcome, folder, revision, texts=other):
        told |= read(file.data)
    plain = {word for word in told if len(word) > 1 and PLAIN.fullmatch(word)}
    assert {"págé", "Wé"} <= told or {"págé", "wé"} <= told  # the accents are read back from the pages
    return plain - known(outcome, *texts)


def test_a_first_proof_has_no_word_of_english():
    outcome = builders.outcome(findings=(builders.moved(5),))
    assert any(f.severity is Severity.ASK for p in outcome.plaques for f in p.findings)
    part = {"shop": "Tern Sands", "contact": "bell@x.example", "return_to": "q@x.example"}
    part["message"] = "Mind the gap. " * 70
    folder = builders.folder(proof=part)
    said = [*part.values(), outcome.order_id]
    assert untranslated(outcome, folder, Revision(), *said) == set()


def test_a_later_proof_in_volumes_of_some_rows_has_no_word_of_english():
    outcome = replace(builders.outcome(), part="5-12")
    marks = [p.fingerprint for p in outcome.plaques if p.fingerprint]
    before = EarlierPlaque(revision="A", fingerprint="X" * 10, text=("Ada Kitiwake",), rows=(5,), cap_heights=(9.0,))
    revision = Revision(
        letter="B",
        asks=frozenset(marks[:4]),
        signed=((marks[4], "Rowan Petrel"),),
        refused=tuple((mark, "Rowan Petrel") for mark in marks[5:]),
        earlier=((marks[0], before),),
    )
    folder = builders.folder(proof={"volume": 2})
    said = ["Rowan Petrel", "Ada Kitiwake", outcome.order_id]
    assert untranslated(outcome, folder, revision, *said) == set()


def test_a_proof_of_an_order_that_cannot_be_made_has_no_word_of_english():
    plaques = tuple(p for p in builders.some_plaques() if p.state == "stopped")
    outcome = builders.outcome(plaques)
    assert untranslated(outcome, builders.folder(), Revision(), outcome.order_id) == set()
