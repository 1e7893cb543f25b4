"""Messages are understood whole or not at all."""

from __future__ import annotations

import re
import time

import pytest

from pipeline.core.texts import languages, texts_in
from pipeline.signoff.messages.message_grammar import read_message
from pipeline.signoff.messages.message_phrases import PHRASES
from tests.long.messages import NAMES, SHOWN, agreed_in, try_messages

EVERY = frozenset(SHOWN)


def test_a_slice_of_all_messages_is_read_and_none_agrees_wrongly():
    counts, told = try_messages(60, seed=7)
    assert not counts["wrongly agreed"], told
    assert counts["plain read"] >= 0.9 * counts["plain"] > 0 and counts["dangerous"] == 30, told


@pytest.mark.parametrize("language", languages())
def test_the_words_that_a_proof_offers_are_read(language):
    """“Or just reply by message: …” of every proof: its two examples, as a client would copy them."""
    offered = texts_in(language).text("proof.reply")
    all_correct, change = (q.strip() for q in re.findall("[“„«](.*?)[”“»]", offered))
    assert agreed_in(read_message(all_correct, SHOWN)) == EVERY
    assert change.startswith("7")
    wanted = read_message(re.sub(":.*", ": Kerekhegyi", change), SHOWN)
    assert wanted.wanted == {7: "Kerekhegyi"} and not agreed_in(wanted)


def test_every_language_of_the_proof_has_phrases():
    assert set(PHRASES) == set(languages())


@pytest.mark.parametrize(
    ("text", "agreed", "wanted"),
    [
        ("All correct", EVERY, {}),
        ("proof A: all correct", EVERY, {}),
        ("all fine except 7 and 12", EVERY - {7, 12}, {}),
        ("all correct except 7: Kerekhegyi", EVERY - {7}, {7: "Kerekhegyi"}),
        ("all correct except 1-3", EVERY - {1, 2, 3}, {}),
        ("7 should read Kerekhegyi\nthe rest is fine", EVERY - {7}, {7: "Kerekhegyi"}),
        ("8 ok\n12: correct", {8, 12}, {}),
        ("hi anna, all correct thanks", EVERY, {}),
        ("All fine except\n7 and 12", EVERY - {7, 12}, {}),
        ("> which of them?\n\nall correct", EVERY, {}),
        ("Thanks, all correct. Have a nice day! :)", EVERY, {}),
    ],
)
def test_what_is_plain_is_read(text, agreed, wanted):
    reading = read_message(text, SHOWN, NAMES)
    assert (reading.why, agreed_in(reading), dict(reading.wanted)) == ("", agreed, wanted)


@pytest.mark.parametrize(
    "text",
    [
        "", "ok", "yes", "not all correct", "all correct?", "all correct but 7", "all correct\nexcept seven",
        "all correct:(", "all correct 7", "all correct, 7 and 12", "all correct except 7 and 12 is wrong",
        "all correct\nregards\nnope", "Hi all wrong,\nall correct", "all correct\n-- \nactually 7 is wrong",
        "all correct\n-- \nAnna\nP.S. not 7", "(all correct)", "“all correct”", "> all correct",
        "> all correct\nno", "Client said: all correct", "all corect", "all correct except 7 / 12", "12-7 ok",
        "all correct except 7: Ilona, 12 do not cut", "7: Ilona 12: Bo\nall correct",
        "7: Kerekhegyi\nIlona\nall else is correct", "all c\u043errect", "all correct\u202e",
        "all correct\u200b", "approved subject to 7", "everything else is fine", "all correct\n12 do not cut",
        "7: Ilona\n7: Ilone", "all correct\nOn Tuesday Anna wrote:\n12 do not cut",
        "sent from my desk not correct\nall correct", "thanks for nothing\nall correct", "all correct " * 500,
        "thanks " * 600, "1," * 2000 + " ok", "all correct\x00", "all correct\n> and 7?\nhm",
    ],
)  # fmt: skip
def test_what_is_more_than_plain_agrees_to_nothing(text):
    reading = read_message(text, SHOWN, NAMES)
    assert reading.why and not agreed_in(reading) and not reading.wanted


@pytest.mark.parametrize("line", ["_" * 12, "-- ", "> x", "a", "", "On 1 Jan 2026 x wrote:", "7: x", "From: x", "1,"])
def test_very_many_lines_are_bounded(line):
    before = time.process_time()
    assert read_message("\n".join([line] * 2_900), SHOWN).why
    assert read_message("\n".join([line] * 60_000), SHOWN).why
    assert time.process_time() - before < 5


def test_a_sender_s_name_never_hides_a_doubt():
    assert read_message("all correct\nregards\nNot Correct", SHOWN, ["Not Correct"]).why
    assert agreed_in(read_message("all correct\nregards\nAnna", SHOWN, ["Anna"])) == EVERY
