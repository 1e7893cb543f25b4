"""What applies after several answers, which revision comes next, and sizes that moved."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.core.catalogue import format_message
from pipeline.core.config.order import LineConfig
from pipeline.signoff.approval import approve_pieces
from pipeline.signoff.design_answers import get_next_revision, match_predecessors, rank_revision, read_design_answers
from pipeline.signoff.proof_rounds import build_revision, find_latest_revision, find_moved_sizes, list_wanted_changes
from pipeline.signoff.records.designs import Design, DesignRow, list_designs, read_last_run, sort_by_line
from pipeline.signoff.records.ledger import LedgerEntry
from pipeline.signoff.sign_off import SignOff
from tests import builders
from tests.signoff.rounds import Round

MARK = "3479CDFHJK"


def stand(plaques, entries):
    return approve_pieces(plaques, SignOff(entries=tuple(entries)))


def answer(decision, *, rows=(5,), pieces=None, revision="A", kind="sheet", mark=MARK, **more):
    plain = {"text": ("Ada Kittiwake",), "by": "R. Petrel", "source": f"{kind}-{revision}-{decision}", **more}
    return LedgerEntry(
        kind="answer",
        fingerprint=mark,
        decision=decision,
        rows=rows,
        pieces=len(rows) if pieces is None else pieces,
        revision=revision,
        source_kind=kind,
        **plain,
    )


@pytest.mark.parametrize(
    ("answers", "decision", "pieces"),
    [
        ([answer("agreed")], "agreed", 1),
        ([answer("agreed"), answer("unanswered")], "agreed", 1),
        ([answer("agreed", rows=(5,)), answer("agreed", rows=(9,))], "agreed", 1),  # the later one replaces it
        ([answer("agreed", rows=(5, 9)), answer("agreed", rows=(5,))], "agreed", 1),
        ([answer("agreed", rows=(5,)), answer("agreed", rows=(5, 9))], "agreed", 2),
        ([answer("agreed", rows=(5, 7)), answer("agreed", rows=(7, 9))], "agreed", 2),
        ([answer("agreed", kind="paper"), answer("agreed", rows=(9,), kind="paper", date="3 May")], "agreed", 2),
        ([answer("agreed", kind="paper"), answer("agreed", rows=(9,), kind="paper")], "agreed", 1),  # rows that moved
        ([answer("agreed"), answer("agreed", rows=(9,), kind="paper")], "agreed", 2),
        ([answer("agreed", rows=(5, 9)), answer("agreed", rows=(5,), revision="B"), answer("agreed")], "agreed", 1),
        ([answer("agreed", rows=(5, 9)), answer("agreed", rows=(5,), revision="B")], "agreed", 1),
        ([answer("agreed", rows=(5, 9)), answer("agreed", rows=(5,), revision="B", kind="paper")], "agreed", 2),
        ([answer("agreed"), answer("refused")], "contradicted", 0),
        ([answer("refused"), answer("agreed")], "contradicted", 0),
        ([answer("change", change_to="X"), answer("change", change_to="Y")], "contradicted", 0),
        ([answer("change", change_to="X"), answer("change", change_to="X")], "change", 1),
        ([answer("refused"), answer("agreed", revision="B")], "agreed", 1),
        ([answer("agreed"), answer("refused", revision="B")], "refused", 1),
        ([answer("agreed"), answer("refused"), answer("agreed")], "contradicted", 0),
        ([answer("agreed"), answer("refused"), answer("agreed", kind="paper")], "agreed", 1),
        ([answer("agreed"), answer("unclear", why="both")], "contradicted", 0),
        ([answer("unclear", why="both"), answer("agreed")], "contradicted", 0),
        ([answer("unclear", why="both"), answer("agreed", revision="B")], "agreed", 1),
    ],
)
def test_the_decision_after_several_answers(answers, decision, pieces):
    held = read_design_answers(answers)[MARK]
    assert held.decision == decision
    if decision == "agreed":
        assert held.pieces == pieces


# --- a proof in volumes: what a design's own volume says, and the questions about it that another one asks -----------


def question(decision, **more):
    return replace(answer(decision, kind="proof"), kind="question", rows=(), pieces=0, **more)


DEPENDS, AS_SHOWN, BY_HAND = answer("depends", kind="proof"), question("as-shown"), answer("agreed", kind="paper")
OWN = answer("change", change_to="X")
REFUSED, WANTED, UNCLEAR = question("refused"), question("change", change_to="Y"), question("unclear", why="two ticks")


@pytest.mark.parametrize(
    ("answers", "decision"),
    [
        ([DEPENDS, BY_HAND, AS_SHOWN], "agreed"),
        ([DEPENDS, BY_HAND, WANTED], "contradicted"),  # the maker didn't know of it
        ([DEPENDS, BY_HAND, REFUSED], "contradicted"),
        ([DEPENDS, BY_HAND, UNCLEAR], "contradicted"),
        ([DEPENDS, WANTED, BY_HAND], "agreed"),
        ([WANTED, DEPENDS, BY_HAND], "agreed"),
        ([OWN, WANTED], "change"),
        ([WANTED, OWN], "change"),
        ([OWN, AS_SHOWN], "change"),
        ([OWN, REFUSED], "contradicted"),
        ([REFUSED, OWN], "contradicted"),
        ([OWN, UNCLEAR], "contradicted"),
        ([UNCLEAR, OWN], "contradicted"),
    ],
)
def test_answers_of_two_volumes_about_a_design_are_combined(answers, decision):
    held = read_design_answers([replace(e, id=number) for number, e in enumerate(answers, 1)])[MARK]
    assert held.decision == decision
    if {OWN, WANTED} <= {*answers}:
        assert held.entry.change_to == "X; Y"


def test_in_whatever_order_two_volumes_come_nothing_is_agreed_against_the_last_word():
    """Approved is what both volumes approve, or what the maker recorded after everything else was answered."""
    for count in range(1, 5):
        for answers in product((DEPENDS, OWN, BY_HAND, AS_SHOWN, REFUSED, WANTED, UNCLEAR), repeat=count):
            held = read_design_answers([replace(e, id=number) for number, e in enumerate(answers, 1)]).get(MARK)
            if held is None or held.decision != "agreed":
                continue
            against = [n for n, e in enumerate(answers) if e in (OWN, REFUSED, WANTED, UNCLEAR)]
            by_hand = [n for n, e in enumerate(answers) if e == BY_HAND]
            both = not against and {DEPENDS, AS_SHOWN} <= {*answers}
            assert both or max(by_hand, default=-1) > max(against, default=-1)


def test_a_design_without_answers_has_no_decision():
    assert read_design_answers([answer("unanswered"), LedgerEntry(kind="paper")]) == {}


@given(st.integers(1, 20000))
def test_revision_letters_continue(number):
    letter = "A"
    name = letter
    for _ in range(min(number, 60)):
        assert rank_revision(get_next_revision(name)) == rank_revision(name) + 1
        name = get_next_revision(name)


def test_revisions_in_order():
    assert [get_next_revision(r) for r in ("A", "Z", "AZ", "ZZ", "3", "draft", "draft 2")] == ["B", "AA", "BA", "AAA", "4", "draft 2", "draft 3"]  # fmt: skip  # noqa: E501
    assert [rank_revision(r) for r in ("", "draft", "draft 2", "12", "proof 12")] == [0, 1, 2, 12, 12]
    assert rank_revision("AA") == 27 and rank_revision("Z") < rank_revision("AA") and rank_revision("") == 0
    assert find_latest_revision([LedgerEntry(kind="paper", revision=r) for r in ("B", "AA", "C")]) == "AA"


def design(mark, text, *rows):
    return Design(fingerprint=mark, text=(text,), members=tuple(DesignRow(row=r, cell=f"B{r}", copies=1) for r in rows))


def test_old_and_new_designs_are_paired_by_text_then_row_then_similarity():
    entries = [
        answer("agreed", mark="OLD1", rows=(5,), text=("Ada Kittiwake",)),
        answer("agreed", mark="OLD2", rows=(6,), text=("Bo Fulmar",)),
        answer("agreed", mark="OLD3", rows=(7,), text=("Cy Gannet",)),
        answer("agreed", mark="KEPT", rows=(8,), text=("Dee Petrel",)),
    ]
    designs = [
        design("NEW1", "Cy Gannett", 17),  # moved, and changed by a letter
        design("NEW2", "Ada Kittiwake", 20),  # same text in another row
        design("NEW3", "Somebody Else", 6),  # the row has another name
        design("NEW4", "Quite Unknown", 30),
        design("KEPT", "Dee Petrel", 9),
    ]
    found = {new: entry.fingerprint for new, entry in match_predecessors(designs, entries).items()}
    assert found == {"NEW1": "OLD3", "NEW2": "OLD1", "NEW3": "OLD2"}


def test_remarks_and_replies_are_listed_until_the_next_revision_comes_back():
    plaques = [builders.plaque(5, "Ada Kittiwake")]
    (now,) = list_designs(plaques)
    told = answer("agreed", mark=now.fingerprint, text=now.text, cells=("B5",), reply="yes, both", revision="A")
    entries = [LedgerEntry(kind="paper", revision="A", by="R. Petrel", reply="No titles, please", date="2 May"), told]
    listed = [(w.cells, w.wanted, w.state) for w in list_wanted_changes([now], (), entries)]
    assert listed == [((), "No titles, please", "to read"), (("B5",), "yes, both", "to read")]
    assert list_wanted_changes([now], (), [*entries, LedgerEntry(kind="paper", revision="B")]) == ()


def test_one_code_for_two_texts_is_not_signed():
    plaque = builders.plaque(5, "Ada Kittiwake")
    entries = [answer("agreed", mark=plaque.fingerprint, text=("Ada Kittiwaka", "Warden", "2026"))]
    assert stand([plaque], entries)[0].state == "not-signed"


def test_signed_rows_get_their_pieces_first():
    plaques = [builders.plaque(5, "Ada"), builders.plaque(10, "Ada")]
    text = plaques[0].text
    entries = [answer("agreed", mark=plaques[0].fingerprint, rows=(10,), text=text)]
    assert [(s.signed, s.held) for s in stand(plaques, entries)] == [(0, 1), (1, 0)]


PLAQUES = (builders.plaque(5, "Ada", copies=2), builders.plaque(10, "Ada"), builders.plaque(11, "Bo", copies=3))
ANSWERS = st.builds(
    lambda n, decision, pieces, revision, kind: answer(
        decision, mark=PLAQUES[n].fingerprint, text=PLAQUES[n].text, rows=(PLAQUES[n].recipient.row,), pieces=pieces,
        revision=revision, kind=kind,
    ),
    st.sampled_from((0, 1, 2)),
    st.sampled_from(("agreed", "agreed", "refused", "change", "unclear", "unanswered")),
    st.integers(1, 3),
    st.sampled_from("AB"),
    st.sampled_from(("proof", "sheet", "paper")),
)  # fmt: skip


@given(st.lists(ANSWERS, max_size=8))
def test_whatever_was_answered_no_more_is_cut_than_somebody_agreed_to(answers):
    stands = stand(PLAQUES, answers)
    for mark in {p.fingerprint for p in PLAQUES}:
        mine = [s for s in stands if s.plaque.fingerprint == mark]
        agreed = [a for a in answers if a.fingerprint == mark and a.decision == "agreed"]
        assert sum(s.signed for s in mine) <= sum(a.pieces for a in agreed)
        assert all(s.signed + s.held == s.plaque.recipient.copies for s in mine)
        assert all((s.finding is not None) == (s.held > 0) for s in mine)
        said = [a for a in answers if a.fingerprint == mark and a.decision not in ("unanswered", "")]
        if said and said[-1].decision != "agreed":
            assert sum(s.signed for s in mine) == 0


@pytest.mark.parametrize(
    ("given", "latest", "letter"),
    [
        ("A", "A", "B"),
        ("1", "1", "2"),
        ("draft", "draft", "draft 2"),
        ("C", "A", "C"),
        ("A", "B", "C"),
        (None, "Z", "AA"),
    ],
)
def test_a_revision_the_order_names_is_where_counting_starts(given, latest, letter):
    plaques = [builders.plaque(5, "Ada")]
    assert build_revision(plaques, [], given).letter == (given or "A")
    assert build_revision(plaques, [LedgerEntry(kind="paper", revision=latest)], given).letter == letter


def test_a_size_that_moved_for_everybody_is_told_before_anything_is_cut():
    order = builders.folder(
        line=(LineConfig(text="{name}", face="eb-garamond", cap_height=8.0, same_size="all"),)
    ).order
    before = [builders.plaque(5, "Ada Kittiwake"), builders.plaque(6, "Bo Fulmar")]
    entries = [
        answer("agreed", mark=d.fingerprint, text=d.text, rows=d.rows, cap_heights=d.cap_heights)
        for d in list_designs(before)
    ]
    assert find_moved_sizes(before, entries, order) == ()
    after_ = [builders.plaque(5, "Ada Kittiwake", cap_height=7.25), builders.plaque(6, "Bo Fulmar", cap_height=7.25)]
    long = builders.plaque(7, "Wilhelmina Featherstonehaugh", cap_height=7.25)
    found = find_moved_sizes([*after_, long], entries, order)
    assert [f.code for f in found] == ["fit.size-moved"]
    assert format_message(found[0]) == "line 1: row 7 moved the size of the whole order from 8.00 mm to 7.25 mm"
    each = builders.folder(
        line=(LineConfig(text="{name}", face="eb-garamond", cap_height=8.0, same_size="most"),)
    ).order
    assert find_moved_sizes([*after_, long], entries, each) == ()


def test_the_report_of_a_run_gives_the_same_designs_as_the_run(tmp_path):
    trip = Round(tmp_path, builders.some_plaques())
    trip.run()
    run = read_last_run(trip.out)
    assert [replace(d, cap_heights=()) for d in run.designs] == [
        replace(d, cap_heights=()) for d in list_designs(trip.plaques)
    ]
    assert [d.cap_heights for d in run.designs] == [d.cap_heights for d in list_designs(trip.plaques)]
    assert run.stopped == (11, 12)
    assert sort_by_line([(3, 4.0), (1, 8.0)]) == (8.0, 0.0, 4.0)
