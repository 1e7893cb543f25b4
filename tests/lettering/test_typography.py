"""Typographic marks for lettering. Rules: CLDR's quotation marks; invented examples."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.lettering.typography import set_capitals, tidy_marks


@pytest.mark.parametrize(
    ("typed", "language", "cut"),
    [
        ("Siobhan O'Quill", "en", "Siobhan O’Quill"),
        ("Class of '98", "en", "Class of ’98"),
        ("the Quills' boat", "en", "the Quills’ boat"),
        ("'Tis Ida", "en", "’Tis Ida"),
        ("Agnes 'Aggie' Tuckwell", "en", "Agnes ‘Aggie’ Tuckwell"),
        ('Agnes "Aggie" Tuckwell', "en", "Agnes “Aggie” Tuckwell"),
        ('Agnes "Aggie" Tuckwell', None, "Agnes “Aggie” Tuckwell"),
        ('Agnes "Aggie" Tuckwell', "de-AT", "Agnes „Aggie“ Tuckwell"),
        ('Agnes "Aggie" Tuckwell', "fr", "Agnes «\u202fAggie\u202f» Tuckwell"),
        ('Agnes "Aggie" Tuckwell', "sv", "Agnes ”Aggie” Tuckwell"),
        ("Keali'i 'Aukai", "haw", "Kealiʻi ʻAukai"),
        ("1893-1950", "en", "1893–1950"),
        ("1998-99", "en", "1998–99"),
        ("Wren - Warden", "en", "Wren – Warden"),
        ("Wren -- Warden", "en", "Wren – Warden"),
        ("Wren--Warden", "en", "Wren – Warden"),
        ("L'Isle-d'Abrevoisin", "fr", "L’Isle-d’Abrevoisin"),
    ],
)
def test_keyboard_marks_become_typographic_ones(typed, language, cut):
    got = tidy_marks(typed, language)
    assert got.text == cut
    assert got.changes
    assert tidy_marks(cut, language).text == cut  # tidying again changes nothing


@pytest.mark.parametrize(
    "text",
    [
        "Jean-Luc Quill",
        'a 12" board',
        "5' 6\" tall",
        "tel. 555-0134",
        "2026-05-01",
        "1998-04",
        "O’Quill",
        "Ida Vex",
        "",
        "'",
        '"',
        "-",
    ],
)
def test_these_texts_stay_as_typed(text):
    assert tidy_marks(text, "en").text == text
    assert tidy_marks(text, "en").changes == ()


@pytest.mark.parametrize("language", ["he", "ar", "ja"])
def test_scripts_with_other_quotation_marks_are_left_alone(language):
    assert tidy_marks("צה\"ל 'א'", language).text == "צה\"ל 'א'"


@given(st.text(alphabet="ab '\"-–’1", max_size=24))
def test_tidying_twice_changes_nothing_more_and_keeps_every_letter(text):
    once = tidy_marks(text, "en")
    assert tidy_marks(once.text, "en").text == once.text
    assert [c for c in once.text if c.isalnum()] == [c for c in text if c.isalnum()]


@pytest.mark.parametrize(
    ("text", "language", "wanted"),
    [
        ("İlkay ışık", "tr", "İLKAY IŞIK"),
        ("istanbul", "tr-TR", "İSTANBUL"),
        ("istanbul", "en", "ISTANBUL"),
        ("Großmüller", "de", "GROẞMÜLLER"),
        ("Ευθυμία Παπαχατζή", "el", "ΕΥΘΥΜΙΑ ΠΑΠΑΧΑΤΖΗ"),
        ("Μαΐου", "el", "ΜΑΪΟΥ"),
        ("Ευθυμία", None, "ΕΥΘΥΜΙΑ"),
        ("Zoë Núñez", "es", "ZOË NÚÑEZ"),
        ("Жанна", "ru", "ЖАННА"),
        ("高橋", "ja", "高橋"),
    ],
)
def test_capitals_by_language(text, language, wanted):
    assert set_capitals(text, language) == wanted
