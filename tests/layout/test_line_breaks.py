"""Where names are broken. The rules are common practice, no source."""

import bz2
import unicodedata
from pathlib import Path

import pytest

from pipeline.layout.line_breaks import break_places, split_words
from pipeline.layout.suggestions import suggest_shorter_texts


def best(text: str, rows: int = 2) -> tuple[str, ...] | None:
    places = break_places(text, rows, len)
    return places[0] if places else None


@pytest.mark.parametrize(
    ("text", "rows"),
    [
        ("Maya and Teodoro Quill", ("Maya", "and Teodoro Quill")),
        ("Rosalind & Jean-Luc d’Ambrevoisin", ("Rosalind", "& Jean-Luc d’Ambrevoisin")),
        ("Dr. Quentin Ashgrove and Mrs. Philippa Ashgrove", ("Dr. Quentin Ashgrove", "and Mrs. Philippa Ashgrove")),
        ("Bartholomew Featherstonehaugh-Cholmondeley", ("Bartholomew", "Featherstonehaugh-Cholmondeley")),
        ("Wilhelmina von Schwarzenbrunn", ("Wilhelmina", "von Schwarzenbrunn")),
        ("高橋・渡邉", ("高橋・", "渡邉")),
    ],
)
def test_best_place(text, rows):
    assert best(text) == rows


@pytest.mark.parametrize("text", ["Madonna", "Dr. Vex", "J. Vex", "Vex Jr.", "van Vex", "Ida\u00a0Vex"])
def test_a_text_without_a_good_break_has_none(text):
    assert best(text) is None


def test_never_after_a_title_an_initial_or_before_a_suffix():
    for rows in break_places("Prof. Dr. Ada J. de la Quillon Jr.", 2, len):
        first, second = rows
        assert first.split()[-1] not in ("Prof.", "Dr.", "J.", "de", "la")
        assert second.split()[0] != "Jr."


def test_rows_hold_every_word_in_order():
    text = "The Harrowgate & Millbrook Family Charitable Foundation"
    for rows in (2, 3):
        for broken in break_places(text, rows, len):
            assert " ".join(broken) == text
            assert len(broken) == rows


def test_words_are_split_at_plain_spaces_only():
    assert split_words("a b\u00a0c\u3000d") == ["a", "b\u00a0c", "d"]


def test_shorter_texts_keep_first_and_last_name():
    found = dict(suggest_shorter_texts("Wilhelmina Maximiliana Josefa von Brunn and Ida Vex"))
    assert found["ampersand"] == "Wilhelmina Maximiliana Josefa von Brunn & Ida Vex"
    assert found["initial"] == "Wilhelmina M. J. von Brunn & Ida Vex"
    assert list(suggest_shorter_texts("Ida Vex")) == []


@pytest.mark.parametrize(
    ("text", "language", "short"),
    [
        ("Prof. Dr. Ada Johanna de la Quillon Jr.", None, "Prof. Dr. Ada J. de la Quillon Jr."),
        ("Ida Mary O’Neill-Vex, PhD", "en", "Ida M. O’Neill-Vex, PhD"),
        ("Capt. Ambrose J. Peregrine Tidewell", None, "Capt. Ambrose J. P. Tidewell"),
        ("Team Tidepool: Maya Johanna Brunn", None, None),
        ("Maya Johanna Brunn (Team Tidepool)", None, None),
        ("The Harrowgate Millbrook Wardens", None, None),
        ("Harrowgate Millbrook Charitable Foundation", None, None),
        ("Best Mathematical Model 2026", None, None),
        ("Inés Pilar Quintana Vélez", "es", None),  # two family names
        ("Trần Thị Minh Châu", "vi", None),
        ("Вольская Ида Петровна", "ru", None),  # in a list, the family name comes first
    ],
)
def test_only_a_person_s_middle_names_become_initials(text, language, short):
    found = [shorter for kind, shorter in suggest_shorter_texts(text, language) if kind == "initial"]
    assert found == ([short] if short else [])


@pytest.mark.parametrize(
    ("text", "rows"),
    [
        ("Mr. & Mrs. Jory Pellow", ("Mr. & Mrs.", "Jory Pellow")),
        ("Dr. and Mrs. Jory Pellow", ("Dr. and Mrs.", "Jory Pellow")),
        ("Mr. Jory Pellow & Mrs. Ida Vex", ("Mr. Jory Pellow", "& Mrs. Ida Vex")),
        ("Ambrose Tidewell DCMG", ("Ambrose", "Tidewell DCMG")),
        ("Ambrose Tidewell, F.R.S.", ("Ambrose", "Tidewell, F.R.S.")),
        ("AMBROSE TIDEWELL", ("AMBROSE", "TIDEWELL")),
        ("Best in Show: Kittiwake Junior School", ("Best in Show:", "Kittiwake Junior School")),
        ("Maria Vex née Quill", ("Maria Vex", "née Quill")),
        ("In memory of Odalys Fernwright", ("In memory of", "Odalys Fernwright")),
        ("IN LOVING MEMORY OF JORY PELLOW", ("IN LOVING MEMORY OF", "JORY PELLOW")),
        ("Presented to Ida Vex", ("Presented to", "Ida Vex")),
        ("Friends of Gull Lane", ("Friends", "of Gull Lane")),
        ("Ingrid Håvardsen 1931–2019. She loved this view", ("Ingrid Håvardsen 1931–2019.", "She loved this view")),
    ],
)
def test_breaks_of_couples_post_nominals_headings_and_openings(text, rows):
    assert break_places(text, 2, len)[0] == rows


@pytest.mark.parametrize(
    ("text", "rows"),
    [
        ("Ida Vex !", ("Ida", "Vex !")),
        ("Quill ( Maya ) Vex", ("Quill", "( Maya ) Vex")),
        ("Ida – Maya Quill", ("Ida –", "Maya Quill")),
        ("Maya & Ida Vex", ("Maya", "& Ida Vex")),
        ("佐藤・々木", ("佐藤・々木",)),
    ],
)
def test_marks_stay_with_their_words(text, rows):
    found = break_places(text, 2, len)
    assert (found[0] if found else (text,)) == rows


def test_no_row_ends_where_unicode_forbids_it():
    """UAX #14, Unicode's own cases (Debian's unicode-data 15.0.0): we use few of its places, and no others."""
    path = Path(__file__).parents[1] / "reference" / "unicode" / "LineBreakTest.txt.bz2"
    checked = 0
    for line in bz2.decompress(path.read_bytes()).decode().splitlines():
        text, allowed = "", set()
        for part in line.split("#")[0].split():
            if part == "÷":
                allowed.add(len(text))
            elif part != "×":
                text += chr(int(part, 16))
        if not text or any(unicodedata.category(c) in ("Cc", "Zl", "Zp") for c in text):
            continue  # a row of lettering has no line ends
        for _, second in break_places(text, 2, len):
            assert text.endswith(second) and len(text) - len(second) in allowed, line
            checked += 1
    assert checked > 800
