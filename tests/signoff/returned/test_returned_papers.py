"""A seeded sample of the papers of tests/long/returned_papers.py, and each way of changing a proof once."""

from __future__ import annotations

import inspect
import io
import random
import resource

import pikepdf
import pytest

from tests.long import returned_papers as papers


@pytest.fixture(scope="module")
def desk(tmp_path_factory):
    return papers.Desk(tmp_path_factory.mktemp("desk"))


def test_no_paper_approves_a_plaque_that_its_client_did_not(desk):
    proofs, sheets = papers.run(desk, 8, 12, seed=7)
    assert proofs.wrong == [] and sheets.wrong == []
    assert sum(proofs.papers.values()) == 8 and sum(sheets.papers.values()) == 12
    own = (
        resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    )  # a forked reader starts with what this process holds
    assert papers.megabytes() < papers.MEGABYTES + own


@pytest.fixture(scope="module")
def agreed(desk):
    """Tick everything."""
    return papers.filled(desk, "pikepdf", set(desk.marks), everything=True)


@pytest.mark.parametrize("change", dict.fromkeys(papers.CHANGES), ids=lambda change: change.__name__)
def test_each_change_of_a_proof_is_detected(desk, agreed, change):
    """Not only is nothing approved wrongly: what the change doesn't concern stays approved."""
    mark = desk.marks[1]
    with pikepdf.open(io.BytesIO(agreed)) as pdf:
        gone = change(pdf, desk, random.Random(3), mark)
        data = papers.saved(pdf)
    paper = desk.read_proof(data)
    taken = {a.fingerprint for a in paper.answers if a.decision == "agreed"} if paper.usable and paper.by else set()
    assert taken == (set() if gone is None else set(desk.marks) - gone), inspect.getsource(change)
    assert paper.problems or not gone


@pytest.mark.parametrize("how", ["pikepdf", "pypdf", "PDFium"])
def test_a_proof_that_was_only_filled_in_is_read_as_it_is(desk, how):
    agreed = set(desk.marks[:2])
    more = {f"change_{desk.marks[2]}": "Cy Gannét", "remarks": "Thank you!"}
    paper = desk.read_proof(papers.filled(desk, how, agreed, everything=False, **more))
    assert {a.fingerprint for a in paper.answers if a.decision == "agreed"} == agreed
    assert [a.change_to for a in paper.answers if a.decision == "change"] == ["Cy Gannét"]
    assert [p.code for p in paper.problems] == ["no-decision"]
    assert (paper.by, paper.date) == ("Rowan Petrel", "2 May 2026")
