"""Accents are on their letters, or the letter counts as missing: no accent ends up on the next letter."""

import unicodedata

import pytest

from pipeline.lettering.shaping import shape_row
from tests.shelf_sample import sample_faces

OUTLINES = sample_faces()
ACCENTED = "".join(
    chr(c)
    for first, last in ((0xC0, 0x250), (0x1E00, 0x1F00), (0x386, 0x3CF), (0x1F00, 0x2000), (0x400, 0x530))
    for c in range(first, last)
    if unicodedata.category(chr(c))[0] == "L"
    and unicodedata.normalize("NFC", chr(c)) == chr(c)
    and len(unicodedata.normalize("NFD", chr(c))) > 1
)


@pytest.mark.parametrize(
    ("name", "text", "missing"),
    [
        # seen by eye: the tilde of ễ was on the n, the comma of Ț under the e, the grave of ằ on the n
        ("cinzel", "NGUYỄN", "Ễ"),
        ("bodoni-moda", "Nguyễn Hằng", "ễằ"),
        ("gfs-didot", "Țepeș", "Ț"),
        ("roboto-slab", "Ὰ", "Ὰ"),
        ("eb-garamond", "Ọ̀ṣun", "Ọ̀"),  # Yoruba: the grave was between the letters
        ("frank-ruhl-libre", "ḟ", "ḟ"),  # its dot was inside the letter
    ],
)
def test_a_mark_that_is_not_placed_makes_its_letter_missing(face, name, text, missing):
    row = shape_row([face(name)], text)
    assert "".join(row.missing) == missing
    assert "".join(face(name).list_missing(text)) == missing


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("bodoni-moda", "ĐẶNG HỌC"),  # composed by the shaper, each dot under its letter
        ("oswald", "Đặng Ngọc ďťľĽ"),
        ("noto-sans", "Nguyễn Ἀθηνᾶ Ὀδυσσεύς Ḿ i̇́ Ơơ"),
        ("frank-ruhl-libre", "דָּוִד בֶּן־צִיּוֹן שָׁלוֹם"),
        ("eb-garamond", "Ὠκυρρόης Ħ Ŧ Ǫ"),
        ("noto-naskh-arabic", "مُحَمَّد"),
        ("noto-sans", "Ọ̀ṣun Adébáyọ̀ Ẹ̀gbá G̃ Ė̃"),
        ("montserrat", "Ọ̀ṣun Adébáyọ̀ Ẹ̀gbá G̃ Ė̃"),
    ],
)
def test_correctly_placed_marks_are_accepted(face, name, text):
    assert shape_row([face(name)], text).missing == ()
    assert face(name).covers(text)


@pytest.mark.parametrize("name", OUTLINES)
def test_every_composed_letter_has_its_marks_over_it(face, name):
    """Measured independently on the placed ink of every accented letter the typeface covers: boxes in the row."""
    opened = face(name)
    composed = 0
    for letter in ACCENTED:
        if opened.font.get_nominal_glyph(ord(letter)) or not opened.has(letter):
            continue
        row = shape_row([opened], f"{letter}n")
        assert row.missing == (), letter
        inks = [
            (s.x + use.dx + b[0], s.x + use.dx + b[2])
            for s in row.shapes
            for use in s.shape.glyphs
            if use.text == letter and (b := opened.draw_glyph(use.glyph).bounds)
        ]
        assert len(inks) >= 2, letter
        (left, right), *marks = inks
        greek = "GREEK" in unicodedata.name(letter) and letter.isupper()
        for mark in marks:
            middle, slack = sum(mark) / 2, (mark[1] - mark[0]) / 10
            assert (left <= middle + slack or greek) and middle <= right + slack, letter
        composed += 1
    assert composed > 80 or name not in ("cinzel", "frank-ruhl-libre", "noto-naskh-arabic", "oswald", "roboto-slab")


def test_coverage_and_setting_agree_on_every_accented_letter(face):
    for name in OUTLINES:
        opened = face(name)
        composed = [c for c in ACCENTED if not opened.font.get_nominal_glyph(ord(c))]
        # combinations without a precomposed letter
        stacked = [f"{letter}{mark}" for letter in "Ọạnŋ" for mark in "\u0300\u0301\u0302"]
        for letter in (*composed[::12], *stacked):
            assert opened.has(letter) == (shape_row([opened], letter).missing == ()), (name, letter)
