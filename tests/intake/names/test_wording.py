"""The wording of one cell: what is tidied up, what is asked about, what is left alone."""

import bz2
import unicodedata
from pathlib import Path

import pytest
from ftfy.badness import MOJIBAKE_CATEGORIES, is_bad

from pipeline.core import catalogue
from pipeline.intake.names import wording
from pipeline.intake.names.capitals import find_odd_capitals
from pipeline.intake.names.confusables import compute_skeleton
from pipeline.intake.names.wording import TextPlace, _is_unseen, cut_text, shorten, split_typed_rows

HERE = TextPlace(7, "B7")


def said(raw):
    found = cut_text(raw, HERE)
    for finding in found.findings:
        assert finding.row == 7 and finding.cell == "B7" and "B7" in catalogue.format_message(finding)
    return found.text, [f.code for f in found.findings]


@pytest.mark.parametrize(
    ("raw", "text"),
    [
        (" Ada Skua", "Ada Skua"),
        ("Ada Skua\n", "Ada Skua"),
        ("Ada  Skua", "Ada Skua"),
        ("Ada\tSkua", "Ada Skua"),
        ("Ada\u00a0Skua", "Ada Skua"),
        ("Ada\u202fSkua", "Ada Skua"),
        ("Ada\u3000Skua", "Ada Skua"),
        ("Zdene\u030ck", "Zdeněk"),
        ("\u212bsa Skua", "Åsa Skua"),
        ("   ", ""),
    ],
)
def test_wording_is_tidied_up_and_reported(raw, text):
    assert said(raw) == (text, ["text.tidied"])


@pytest.mark.parametrize(
    "text",
    [
        "",
        "Ada Skua",
        "Zdeněk Vlnolam",
        "Nguyễn Hải Âu",
        "O’Faranoe-Løvenskær",
        "Ada “Dot” Skua",
        "风早",
        "Mio Kazahaya 風早美緒",
        "Γλαύκη Θαλασσινή",
        "Чайка Морская",
        "Чайка Морская / Chaika Morskaya",
        "מִרְיָם שַׁחַף",
        "نورس البحر",
        "پرنده\u200cی دریا",
        "श्री समुद्रपक्षी",
        "Straße & Söhne",
        "Łódź–Gdańsk 1998–2026",
        "Ångström Ærø Œuvre",
        "Who? Me!",
    ],
)
def test_correct_wording_is_left_alone(text):
    assert said(text) == (text, [])


def test_an_accent_typed_apart_that_cannot_be_joined_stays():
    assert said("Q\u0323ueenie") == ("Q\u0323ueenie", [])


@pytest.mark.parametrize(
    "c", ["\u200b", "\ufeff", "\u00ad", "\u200e", "\u202e", "\x07", "\x00", "\u2060", "\u200c", "\U000e0041", "\uffff"]
)
def test_invisible_characters_are_removed_and_reported(c):
    text, found = said(f"Ada {c}Skua")
    assert text == "Ada Skua" and found == ["text.unseen-character"]
    finding = cut_text(f"Ada {c}Skua", HERE).findings[0]
    assert f"U+{ord(c):04X}" in catalogue.format_message(finding) and catalogue.format_for_client(finding).endswith("?")


@pytest.mark.parametrize("c", ["\u0378", "\ue000", "\u0600"])
def test_a_possible_letter_is_left_to_the_typeface(c):
    assert said(f"Ada{c}") == (f"Ada{c}", [])


@pytest.mark.parametrize("c", ["\x1c", "\x1f", "\u3164"])
def test_controls_that_look_like_spaces_become_spaces(c):
    assert said(f"Ada{c}Skua") == ("AdaSkua", ["text.unseen-character"])


def test_a_lone_surrogate_is_never_passed_on():
    text, found = said("Ada \ud83dSkua")
    assert text == "Ada \ufffdSkua" and found == ["text.encoding-damaged"]
    assert said("Ada \ud83d\ude00")[0] == "Ada 😀"


@pytest.mark.parametrize("text", ["Pаulа Skua", "Ada Sκua", "Ада Скуa", "Mc\u0421abe"])
def test_letters_of_two_alphabets(text):
    assert said(text) == (text, ["text.mixed-script"])


def test_mixed_script_names_the_odd_letters():
    finding = cut_text("P\u0430ula", HERE).findings[0]
    assert "“\u0430” Cyrillic" in catalogue.format_message(finding)


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("GÃ\xa0idhlig", "Gàidhlig"),  # half of the letter is a no-break space
        ("HÃ\xadÃ\xb0rsson", "Híðrsson"),  # or a soft hyphen
        ("ZdenÄ›k Vlnolam", "Zdeněk Vlnolam"),
        ("MÃ¡rta SzÃ©lfuvÃ¡s", "Márta Szélfuvás"),
        ("BjÃ¶rn", "Björn"),
    ],
)
def test_garbled_text_is_asked_about_and_not_changed(text, meant):
    found = cut_text(text, HERE)
    (finding,) = [f for f in found.findings if f.code == "text.encoding-damaged"]
    assert f"“{meant}”" in catalogue.format_for_client(finding) and meant not in found.text


@pytest.mark.parametrize("text", ["Mu?oz", "Bj\ufffdrn"])
def test_lost_letters(text):
    assert said(text) == (text, ["text.encoding-damaged"])


def test_shortening_keeps_a_short_sentence_whole():
    assert shorten("a\nb\x00c") == "a b\ufffdc" and len(shorten("x" * 500)) == 80


# --- capitals ----------------------------------------------------------------------------------------------------

ORDINARY = ["Ada Kittiwake", "Rhys ap Gwylan", "Wilhelmina van der Zee", "Lorcan Mac Giolla", "Ruth McCormorant"]


def odd(*names):
    found = find_odd_capitals({row: (f"A{row}", name) for row, name in enumerate((*ORDINARY, *names), 1)})
    return [catalogue.format_message(f) for f in found.values()]


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("KESTER ROOKSBY", "all in capitals"),
        ("kester rooksby", "all in small letters"),
        ("Kester rooksby", "small first letter in “rooksby”"),
        ("Kester ROOKSBY", "“ROOKSBY” in capitals"),
        ("KEster Rooksby", "odd place in “KEster”"),
    ],
)
def test_odd_capitals(name, words):
    assert len(odd(name)) == 1 and words in odd(name)[0]


@pytest.mark.parametrize(
    "name",
    [
        "Leonardo da Costa",
        "RNLI",
        "Ada Skua OBE",
        "Conor O'Faran",
        "Ian d’Arcy",
        "Ada Skua PhD",
        "风早美緒",
        "J. R. Tern",
        "Ada Skua x2",  # asked about as a remark
        "the late Ada Skua (deceased)",
    ],
)
def test_ordinary_capitals(name):
    assert odd(name) == []


def test_a_list_all_in_capitals_is_a_habit():
    names = {row: (f"A{row}", name.upper()) for row, name in enumerate(ORDINARY, 1)}
    assert not find_odd_capitals(names)


# --- published tables --------------------------------------------------------------------------------------------


# pairs that UTS #39 names as alike, and one that is not (Unicode Technical Standard #39, section 4)
@pytest.mark.parametrize(("a", "b"), [("p\u0430ypal", "paypal"), ("\u041c\u0441", "Mc"), ("rn", "m"), ("'", "’")])
def test_skeletons(a, b):
    assert compute_skeleton(a) == compute_skeleton(b) and compute_skeleton("Ada") != compute_skeleton("Ida")


NORMALIZATION = Path(__file__).resolve().parents[2] / "reference" / "NormalizationTest.txt.bz2"


def test_text_is_cut_in_normal_form_c_of_uax15():
    # UAX #15, NormalizationTest.txt: column 2 is the NFC of columns 1, 2 and 3
    lines = bz2.decompress(NORMALIZATION.read_bytes()).decode().splitlines()
    tried = 0
    for line in lines:
        if not line or line[0] in "#@":
            continue
        source, nfc, nfd = ("".join(chr(int(c, 16)) for c in column.split()) for column in line.split(";")[:3])
        if any(c.isspace() or _is_unseen(c) for c in source + nfc + nfd):
            continue  # spaces and invisible characters are also tidied up
        if any(unicodedata.category(c) == "Cn" for c in source + nfc + nfd):
            continue  # newer than this Python's tables
        for text in (source, nfc, nfd):
            assert cut_text(f"x{text}x", HERE).text == unicodedata.normalize("NFC", f"x{nfc}x")
        tried += 1
    assert tried > 15_000


def test_texts_that_skip_ftfy_are_not_garbled_by_its_rules():
    """Every letter and sign of its tables, and many more, each between plain ones of every kind its rules
    distinguish."""
    signs = {chr(c) for part in ((0x80, 0x600), (0x1E00, 0x2700), (0xFB00, 0xFB07)) for c in range(*part)}
    signs |= set("".join(MOJIBAKE_CATEGORIES.values())) - set(map(chr, range(0x80)))
    plain, asked = "azAZ09 .,?!\t_-'", 0
    for sign in sorted(signs):
        text = "|".join(f"{a}{sign}{b}" for a in ("", *plain) for b in (*plain, "|"))
        if wording._MAY_BE_GARBLED.search(text):
            asked += 1
        else:
            assert not is_bad(text), f"U+{ord(sign):04X}"
    assert asked == 0x20 + len("ŒœÂÃ")


OUTSIDE = Path(__file__).resolve().parents[2] / "outside" / "ftfy-test_cases.json"


def test_ftfy_s_own_cases():
    """Runs once `python tests/intake/outside_lists.py --fetch` has downloaded them (ftfy 6.3.1, Apache-2.0)."""
    if not OUTSIDE.is_file():
        pytest.skip("not fetched: python tests/intake/outside_lists.py --fetch")
    import json

    garbled = caught = honest = 0
    for case in json.loads(OUTSIDE.read_text(encoding="utf-8")):
        if case.get("expect") != "pass":
            continue
        asked = "text.encoding-damaged" in {f.code for f in cut_text(case["original"], HERE).findings}
        if case.get("fixed-encoding", case["fixed"]) != case["original"]:
            garbled += 1
            caught += asked
        else:
            honest += asked
    assert garbled > 90 and caught == garbled
    assert honest <= 1  # one of them is garbled, and ftfy deliberately doesn't repair it further


@pytest.mark.parametrize(
    ("raw", "rows"),
    [
        ("Ada\nSkua", ("Ada", "Skua")),
        ("Ada \r\n  B. Skua\n", ("Ada", "B. Skua")),
        ("Ada\u2028Skua", ("Ada", "Skua")),
        ("Ada Skua\n", ()),
        ("Ada Skua", ()),
    ],
)
def test_a_cell_s_line_breaks_are_kept_as_typed_rows(raw, rows):
    """In a name, a line break is a space; the line that keeps or drops it reports it."""
    worded = cut_text(raw, TextPlace(4, "B4"))
    assert split_typed_rows(raw, worded.text) == rows
    assert not rows or worded.text == " ".join(rows)
