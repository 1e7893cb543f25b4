"""Every question to a client has answers to tick, and questions with one cause are asked once."""

import pytest

from pipeline.core.catalogue import KINDS, format_for_client
from pipeline.core.catalogue.choices import CHOICES, TOGETHER, build_choice_id, list_choices
from pipeline.core.catalogue.examples import build_examples
from pipeline.core.findings import Severity, render

ASKED = sorted(code for code, kind in KINDS.items() if kind.client and kind.severity is not Severity.NOTE)


@pytest.mark.parametrize("code", ASKED)
def test_a_question_has_two_answers_or_more_each_in_other_words(code):
    found = build_examples()[code]
    words = [render(choice.words, found) for choice in list_choices(code)]
    assert len(set(words)) == len(words) >= 2 and all(words)
    assert len({choice.code for choice in list_choices(code)}) == len(words)
    assert "{" not in " ".join(words)


def test_only_kinds_with_a_question_have_choices():
    assert {*CHOICES, *TOGETHER} <= {*ASKED}


def test_one_id_has_one_wording():
    words = {}
    for code in ASKED:
        for choice in list_choices(code):
            assert words.setdefault(build_choice_id(choice), choice.words) == choice.words


@pytest.mark.parametrize("code", sorted(TOGETHER))
def test_a_question_for_several_reads_without_a_blank(code):
    found, asked = build_examples()[code], TOGETHER[code]
    assert set(asked.cause) <= {name for name, _ in found.facts}
    said = render(asked.words, found, count="3", rows="4, 5, 6", examples="“Ada Skua”")
    assert "{" not in said and said.endswith("?") and ("3" in said or "files" in said)
    assert format_for_client(found)


@pytest.mark.parametrize("code", sorted(code for code, kind in KINDS.items() if kind.design))
def test_a_fault_of_the_design_has_no_words_for_the_client(code):
    assert not KINDS[code].client or code == "fit.too-long"


@pytest.mark.parametrize("code", sorted(code for code, kind in KINDS.items() if kind.severity is Severity.STOP))
def test_a_stop_is_never_answered_with_a_mere_yes(code):
    """“Yes” leaves the plaque as shown, and it can't be cut as shown."""
    if KINDS[code].client:
        assert {choice.code for choice in list_choices(code)}.isdisjoint({"yes", "no"})
