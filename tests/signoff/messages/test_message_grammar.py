"""Messages are understood completely or not at all."""

from __future__ import annotations

import re
import time

import pytest

from pipeline.core.language.texts import list_languages, load_texts
from pipeline.signoff.messages.message_grammar import read_message
from pipeline.signoff.messages.message_phrases import PHRASES
from tests.long.messages import NAMES, SHOWN, agreed_in, try_messages

EVERY = frozenset(SHOWN)


def test_a_slice_of_all_messages_is_read_and_none_agrees_wrongly():
    counts, told = try_messages(60, seed=7)
    assert not counts["wrongly agreed"], told
    assert counts["plain read"] >= 0.9 * counts["plain"] > 0 and counts["dangerous"] == 30, told


@pytest.mark.parametrize("language", list_languages())
def test_the_words_that_a_proof_offers_are_read(language):
    """“Or just reply by message: …” on every proof: its two examples, as a client would copy them."""
    offered = load_texts(language).render_text("proof.reply")
    all_correct, change = (q.strip() for q in re.findall("[“„«](.*?)[”“»]", offered))
    assert agreed_in(read_message(all_correct, SHOWN)) == EVERY
    assert change.startswith("7")
    wanted = read_message(re.sub(":.*", ": Kerekhegyi", change), SHOWN)
    assert wanted.wanted == {7: "Kerekhegyi"} and not agreed_in(wanted)


def test_every_language_of_the_proof_has_phrases():
    assert set(PHRASES) == set(list_languages())


@pytest.mark.parametrize(
    ("text", "agreed", "wanted"),
    [
        ("All correct", EVERY, {}),
        ("proof A: all correct", EVERY, {}),
        ("all fine except 7 and 12", EVERY - {7, 12}, {}),
        ("all correct except 7: Kerekhegyi", EVERY - {7}, {7: "Kerekhegyi"}),
        ("all correct except 1-3", EVERY - {1, 2, 3}, {}),
        ("all correct except 1 – 2 and 7", EVERY - {1, 2, 7}, {}),
        ("7 should read Kerekhegyi\nthe rest is fine", EVERY - {7}, {7: "Kerekhegyi"}),
        ("8 ok\n12: correct", {8, 12}, {}),
        ("hi anna, all correct thanks", EVERY, {}),
        ("Hi, thanks for this.\nall correct", EVERY, {}),
        ("All fine except\n7 and 12", EVERY - {7, 12}, {}),
        ("Good morning, all correct", EVERY, {}),
        ("Dear Ms Sanderling - all correct", EVERY, {}),
        ("Thanks, all correct. Have a nice day! :)", EVERY, {}),
    ],
)
def test_plain_messages_are_read(text, agreed, wanted):
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
        "all correct\u200b", "approved subject to 7", "7: 8 and 12\nthe rest is fine", "all correct except 7 = 12",
        "7: and 8\nthe rest is fine", "everything else is fine", "all correct\n12 do not cut",
        "7: Ilona\n7: Ilone", "all correct\nOn Tuesday Anna wrote:\n12 do not cut",
        "sent from my desk not correct\nall correct", "thanks for nothing\nall correct", "all correct " * 500,
        "> which of them?\n\nall correct",
        "thanks " * 600, "1," * 2000 + " ok", "all correct\x00", "all correct\n> and 7?\nhm",
    ],
)  # fmt: skip
def test_a_message_that_says_more_approves_nothing(text):
    reading = read_message(text, SHOWN, NAMES)
    assert reading.why and not agreed_in(reading) and not reading.wanted


@pytest.mark.parametrize(
    "above",
    [
        "On Thu, Nov 12, 2026 at 10:12 AM Jo Sanderling <jo@example.org> wrote:",
        "On 12 Nov 2026, at 10:12, Jo Sanderling\n<jo@example.org> wrote:",
        "On 12/11/2026 10:12, Jo Sanderling wrote:",
        "Am 12.11.26 um 10:12 schrieb Jo Sanderling:",
        "Am Do., 12. Nov. 2026 um 10:12 Uhr schrieb Jo Sanderling <jo@example.org>:",
        "Le jeu. 12 nov. 2026 à 10:12, Jo Sanderling <jo@example.org> a écrit :",
        "El jue, 12 nov 2026 a las 10:12, Jo Sanderling (<jo@example.org>) escribió:",
        "Il giorno gio 12 nov 2026 alle ore 10:12 Jo Sanderling <jo@example.org>\nha scritto:",
        "Op do 12 nov 2026 om 10:12 schreef Jo van der Sand <jo@example.org>:",
        "czw., 12 lis 2026 o 10:12 Jo Sanderling <jo@example.org> napisał(a):",
        "W dniu 12.11.2026 o 10:12, Jo Sanderling napisała:",
        "Ar 12 Tach 2026 am 10:12 ysgrifennodd Jo Sanderling <jo@example.org>:",
    ],
)
def test_quoted_mail_below_its_introductory_line_is_ignored(above):
    """The forms that mail programs write, from memory; month names are those of CLDR."""
    assert agreed_in(read_message(f"All correct\n\n{above}\n> 3 is wrong\n>\n> 7?\n", SHOWN)) == EVERY
    inside = "\n".join(f"> {line}" for line in above.split("\n"))
    assert agreed_in(read_message(f"All correct\n\n{inside}\n>\n> 3 is wrong\n", SHOWN)) == EVERY
    assert read_message(f"All correct\n\n{above}\n3 is wrong\n", SHOWN).why
    assert read_message(f"All correct\n\n{above}\n> 3 is wrong\nno\n", SHOWN).why


@pytest.mark.parametrize(
    "text",
    [
        "All correct.\n\nNo. 3 is wrong\nOn 3 May 2026, Shop wrote:\n> x",
        "All correct.\n\nNo. 3 is wrong\nOn 3 May 2026 at 10:12, Shop <s@example.org> wrote:\n> x",
        "Alles richtig.\n\nNr. 3 ist falsch\nAm 3. Mai 2026 um 10:12 schrieb Laden:\n> x",
        "All correct.\n\nOn 3 the year should be 1998, as I\non 3 May 2026 at 10:12 wrote:\n> x",
        "All correct.\n\nOn 3 May 2026 at 10:12 I found that 3 is wrong and Anna wrote:\n> x",
        "All correct.\n\nBut No. 7, as Anna wrote on 12.10.2026:\nMeyer",
        "Approved\n\nAnna wrote at 10:30 the following:\n7 = Anna Kerak",
        "All correct.\n—\n3: Anna Kerik", "All correct.\n--\n3: Anna Kerik", "All correct.\n-- \n7 Anna",
        "All correct.\n--\nNo. 3 should read Anna Kerik", "All correct.\n-- \nDo not cut 3",
        "All correct.\n-- \nIlona is spelt Ilone", "All correct.\n-- \nAnna\nbut see 7", "All correct.\n-- \n7?",
        "Alles richtig.\n-- \nAnna\n7 bitte weglassen", "Tout est correct\n-- \nsauf 7",
        "> Are 1-5 right\nAll correct\n> Are 6-10 right", "> Are 1-5 right\nAll correct",
        "All correct except\n> 3", "All correct.\n> No. 3 is wrong", "All correct.\n>3: Anna Kerik",
        "Hi. All correct. Hello seven mixed", "Alles richtig. Lieber Oma Anna.", "Lieber alles richtig als schnell",
        "Hi seven mixed, all correct", "All correct\n---Original message---\n7 is spelt Ilone",
        "All correct\n\nFrom: Jo <jo@example.org>\nSent: 12 November 2026\nTo: Anna\n\nThe proof.\n7: Ilone",
        "All correct\nFrom: Jo <jo@example.org>\nTo: seven\nSubject: 7 y", "All correct\n--\nmit y bei der siebten",
        "Alles richtig\nVon: jo@example.org\nGesendet: 1 Mai 2026\nAn: Anna\nBetreff: 7 ist falsch", "7: 8 ok",
        "All correct\n7 12 nov 2026 10:12 Kerik wrote:\n> x", "All correct\nOn 7 2026 10:12 Kerik wrote:\n> x",
        "All correct\nFrom: seven\nIlone", "Freigabe 7: alles richtig", "Proof 7 all correct", "All right", "Alles gut",
        "Bitte alles richtig", "please, all correct", "All correct\n-- \nset number 7 with y", "7 - 12 ok",
        "All correct\n-- \nThe second one should have an accent", "All correct\n-- \nAnna\nPlease make it larger.",
        "Alles richtig\n-- \nDer zweite Name hat einen Akzent", "Tout est bon\n-- \nLa seconde porte un accent grave",
        "All correct\n\n---- Original message ----\nFrom: J <j@example.org>\nSent: 1 May\nTo: A\n\n7 Kerik please",
        "All correct\n\n---- Forwarded message ----\nFrom: Bo <b@example.org>\nDate: 1 May\nTo: A\n\nKerik please",
    ],
)  # fmt: skip
def test_the_client_s_own_words_are_never_taken_for_quoted_mail_a_signature_or_a_greeting(text):
    reading = read_message(text, SHOWN | {n: ("x",) for n in range(4, 11) if n not in SHOWN}, NAMES)
    assert reading.why and not agreed_in(reading)


@pytest.mark.parametrize(
    "below",
    [
        "Lotte Quist\nSecretary, Saltmarsh Rowers\nThe Boathouse, 45 Quay Street, Skerry\ntel. 01632 960 123",
        "Lotte Quist\nSaltmarsh Rowers e. V.\nwww.saltmarsh-rowers.example\nRegistered in England and Wales",
        "Mme Lotte Quist\nClub d'aviron de la Baie\n45 rue du Port, 29000 Quimper",
        "Lotte Quist, Schriftführerin\nRuderverein an der Bucht\nlotte@example.org",
    ],
)
def test_an_ordinary_signature_is_ignored(below):
    assert agreed_in(read_message(f"All correct\n-- \n{below}\n", SHOWN, NAMES)) == EVERY


@pytest.mark.parametrize("line", ["_" * 12, "-- ", "> x", "a", "", "On 1 Jan 2026 x wrote:", "7: x", "From: x", "1,"])
def test_very_many_lines_are_bounded(line):
    before = time.process_time()
    assert read_message("\n".join([line] * 2_900), SHOWN).why
    assert read_message("\n".join([line] * 60_000), SHOWN).why
    assert time.process_time() - before < 5


def test_a_sender_s_name_never_hides_a_doubt():
    assert read_message("all correct\nregards\nNot Correct", SHOWN, ["Not Correct"]).why
    assert agreed_in(read_message("all correct\nregards\nAnna", SHOWN, ["Anna"])) == EVERY
    signed = "all correct\nregards\nAnna\nFriends of the Reef"
    assert agreed_in(read_message(signed, SHOWN, ["Anna", "Friends of the Reef"])) == EVERY
    assert read_message(signed, SHOWN, ["Anna"]).why
