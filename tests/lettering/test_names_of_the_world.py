"""Names and languages of the world: a second shaper, and an independent orthography database."""

import json
import random
import shutil
import subprocess

import pytest
from faker import Faker
from hyperglot.checker import FontChecker
from hyperglot.language import Language

from pipeline.lettering.shaping import TURKIC_I, shape_row
from tests.shelf_sample import sample_faces

HB_SHAPE = shutil.which("hb-shape")
OUTLINES = sample_faces()

LOCALES = {
    # locale of the generator: language, face
    "en_GB": ("en", "eb-garamond"),
    "de_DE": ("de", "bodoni-moda"),
    "fr_FR": ("fr", "cinzel"),
    "pl_PL": ("pl", "montserrat"),
    "cs_CZ": ("cs", "gfs-didot"),
    "tr_TR": ("tr", "noto-sans"),
    "vi_VN": ("vi", "great-vibes"),
    "el_GR": ("el", "noto-sans"),
    "ru_RU": ("ru", "oswald"),
    "he_IL": ("he", "frank-ruhl-libre"),
    "fa_IR": ("fa", "noto-naskh-arabic"),
    "ar_SA": ("ar", "noto-naskh-arabic"),
    "hi_IN": ("hi", "noto-sans"),
    "ja_JP": ("ja", "droid-sans-fallback"),
    "ko_KR": ("ko", "droid-sans-fallback"),
}
EACH = 12  # names per locale: 180 in all


def names_of(locale):
    maker = Faker(locale)
    maker.seed_instance(20260)
    return [maker.name() for _ in range(EACH)]


def second_shaper(face, language, names):
    """Return every line's glyphs with ink positions, from hb-shape of another HarfBuzz build, in one call."""
    asked = ["--output-format=json", "--no-glyph-names", f"--language={language}"]
    asked += ["--features=-liga"] if language in TURKIC_I else []
    command = [HB_SHAPE, *asked, str(face.shelf_face.path)]
    out = subprocess.run(command, input="\n".join(names), capture_output=True, check=True, text=True).stdout
    lines = []
    for line in out.splitlines():
        pen, glyphs = 0, []
        for item in json.loads(line):
            if item["g"] and face.draw_glyph(item["g"]).outline:
                glyphs.append((item["g"], pen + item["dx"], item["dy"]))
            pen += item["ax"]
        lines.append(glyphs)
    return lines


@pytest.mark.skipif(HB_SHAPE is None, reason="hb-shape (Debian: libharfbuzz-bin) is not installed")
@pytest.mark.parametrize("locale", LOCALES)
def test_generated_names_against_a_second_shaper(face, locale):
    """Positions equal within one font unit, no mark lost: names from Faker's lists of 15 locales."""
    language, name = LOCALES[locale]
    opened = face(name)
    names = names_of(locale)
    for text, theirs in zip(names, second_shaper(opened, language, names), strict=True):
        row = shape_row([opened], text, language=language)
        assert row.missing == opened.list_missing(text) == (), text
        ours = [(u.glyph, s.x + u.dx, s.y + u.dy) for s in row.shapes for u in s.shape.glyphs]

        def in_place(p):
            return p[1], p[2], p[0]

        assert len(ours) == len(theirs), text
        for a, b in zip(sorted(ours, key=in_place), sorted(theirs, key=in_place), strict=True):
            assert a[0] == b[0] and abs(a[1] - b[1]) <= 1 and abs(a[2] - b[2]) <= 1, text


# --- languages ------------------------------------------------------------------------------------------------------

LATIN = (
    "eng deu fra spa ita por dan swe nor isl fin ekk lvs lit pol ces slk slv hrv hun ron als mlt tur gle cym eus cat"
)
CYRILLIC = "rus ukr bul srp bel"
COVERED = {
    # What the shelf states about each typeface, in ISO 639-3: it has all letters of these languages.
    "cinzel": LATIN,
    "eb-garamond": f"{LATIN} nld azj vie haw ell {CYRILLIC}",
    "bodoni-moda": LATIN,
    "gfs-didot": f"{LATIN.replace('ron ', '')} vie ell",  # the comma of Ț would be under the next letter
    "noto-sans": f"{LATIN} nld azj vie haw ell {CYRILLIC} hin",
    "montserrat": f"{LATIN} nld azj vie haw {CYRILLIC}",
    "oswald": f"{LATIN} nld azj vie haw {CYRILLIC}",
    "great-vibes": f"{LATIN} nld azj vie haw {CYRILLIC}",
    "roboto-slab": f"{LATIN} nld azj vie ell {CYRILLIC}",
    "frank-ruhl-libre": f"{LATIN} heb",
    "noto-naskh-arabic": f"{LATIN} arb pes urd",
    "droid-sans-fallback": "",
    "hershey-futural": f"{LATIN} nld azj vie haw",
    "hershey-scripts": f"{LATIN} nld azj vie haw",
    "hershey-cursive": f"{LATIN} nld azj vie haw",
    "hershey-greeks": "ell",
}
LANGUAGES = f"{LATIN} nld azj vie haw ell {CYRILLIC} heb arb pes urd hin kor".split()


def letters(language):
    return Language(language).get_orthography().base_chars


@pytest.mark.parametrize("name", COVERED)
def test_the_languages_a_face_covers(face, name):
    """hyperglot's orthographies (base letters) of 40 languages."""
    assert len(LANGUAGES) >= 40
    for language in COVERED[name].split():
        assert face(name).list_missing(" ".join(letters(language)).replace(" ", "")) == (), language


@pytest.mark.parametrize("name", OUTLINES)
def test_covering_agrees_with_the_checker(face, shelf, name):
    """hyperglot's own checker reads the font file independently. Where it says yes, so do we; where only we say yes,
    the letters are composed from parts of the font, and setting them leaves nothing out."""
    checker = FontChecker(str(shelf[name].path))
    for language in LANGUAGES:
        wanted = "".join(letters(language))
        covers = face(name).covers(wanted)
        theirs = checker.supports_language(language)
        assert covers or not theirs, language
        if covers and not theirs:
            assert shape_row([face(name)], wanted).missing == (), language


def test_names_of_fifteen_locales_in_one_run_leave_nothing_out(face):
    everybody = [(locale, name) for locale in LOCALES for name in names_of(locale)]
    random.Random(4).shuffle(everybody)
    assert len(everybody) == 15 * EACH
    for locale, name in everybody:
        language, shelf_name = LOCALES[locale]
        row = shape_row([face(shelf_name)], name, language=language)
        assert row.missing == (), (locale, name)
        covered = "".join(use.text for s in row.shapes for use in s.shape.glyphs)
        unseen = {c for c in name if c not in covered and not c.isspace() and c not in "\u200c\u200d\u200e\u200f"}
        assert not unseen, (name, unseen)


PROOFS = {"en": "eng", "de": "deu", "fr": "fra", "es": "spa", "it": "ita", "nl": "nld", "pl": "pol", "cy": "cym"}
"""Languages of proofs, with their codes in ISO 639-3."""


@pytest.mark.parametrize("name", sorted({"sorts-mill-goudy", "unifrakturmaguntia", *OUTLINES}))
def test_a_latin_face_says_which_languages_of_proofs_it_lacks(face, shelf, name):
    """hyperglot's orthographies (base letters). The letter of i and j in one is set as two (Unicode, compatibility)."""
    if "Latn" in shelf[name].scripts:
        asked = {code: set(letters(language)) - set("Ĳĳ") for code, language in PROOFS.items()}
        lacks = {code for code, needed in asked.items() if not face(name).covers("".join(sorted(needed)))}
        assert set(shelf[name].lacks) == lacks
