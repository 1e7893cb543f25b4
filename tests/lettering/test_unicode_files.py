"""Directions and characters, checked against Unicode's own test files (tests/reference/unicode)."""

import gzip
import unicodedata
from pathlib import Path

import pytest

from pipeline.core.language.bidi import LONGEST, compute_visual_order
from pipeline.lettering.text_runs import itemise, split_clusters

FOLDER = Path(__file__).parent.parent / "reference" / "unicode"
INSTALLED = Path("/usr/share/unicode/BidiCharacterTest.txt")


def lines_of(text):
    for line in text.splitlines():
        case = line.split("#")[0].strip()
        if case:
            yield case


def check_bidi(case):
    """UAX #9: field 0 text, 1 paragraph direction, 2 resolved paragraph level, 3 levels, 4 visual order."""
    codes, direction, _, levels, order = case.split(";")
    text = "".join(chr(int(code, 16)) for code in codes.split())
    if "\u2029" in text:
        return False  # two paragraphs, but a row is one
    base = {"0": "L", "1": "R", "2": None}[direction]
    wanted = levels.split()
    got = compute_visual_order(text, base)
    assert all(wanted[i] == "x" or int(wanted[i]) % 2 == leftward for i, leftward in got), case
    shown = {i for i, want in enumerate(wanted) if want != "x"}
    assert [i for i, _ in got if i in shown] == [int(i) for i in order.split()], case
    seen = []
    for run in itemise(text, base):
        places = range(run.start, run.end)
        seen += [i for i in (reversed(places) if run.right_to_left else places) if i in shown]
    assert seen == [int(i) for i in order.split()], case
    return True


def test_bidirectional_cases():
    text = gzip.decompress((FOLDER / "BidiCharacterTest-every-24th.txt.gz").read_bytes()).decode()
    assert sum(map(check_bidi, lines_of(text))) > 3800


@pytest.mark.parametrize(
    "text", ["", "a\u202bא1\u202c", "אב\t1-2\tג ", "\U000e0020א\U000e0100", "א\u2029b\ud83d", "(א) " * 500]
)
def test_every_character_of_a_line_has_one_place(text):
    """With any content: embeddings, separators, tags and variation selectors, paragraph ends, lone surrogates."""
    for base in ("L", "R", None):
        assert sorted(i for i, _ in compute_visual_order(text, base)) == list(range(len(text)))


def test_a_line_too_long_to_order_is_refused():
    with pytest.raises(ValueError, match="more than a line"):
        compute_visual_order("א" * (LONGEST + 1))


@pytest.mark.slow
@pytest.mark.skipif(not INSTALLED.is_file(), reason="Debian's unicode-data is not installed")
def test_every_bidirectional_case():
    assert sum(map(check_bidi, lines_of(INSTALLED.read_text(encoding="utf-8")))) > 90_000


def outside_names(character):
    """Return texts that no name contains: controls, format and prepended signs, flags, emoji; and conjoining jamo,
    which NFC turns into syllables."""
    code = ord(character)
    return (
        unicodedata.category(character) in ("Cc", "Cf", "Zl", "Zp", "Cs", "Cn", "So")
        or 0x1F1E6 <= code <= 0x1F1FF
        or 0x1100 <= code <= 0x11FF
        or 0x1F3FB <= code <= 0x1F3FF
        or 0xA960 <= code <= 0xA97C
        or 0xD7B0 <= code <= 0xD7FB
    )


def test_characters_are_kept_whole():
    """UAX #29: a second typeface is never chosen for part of a character."""
    text = gzip.decompress((FOLDER / "GraphemeBreakTest.txt.gz").read_bytes()).decode()
    checked = 0
    for case in lines_of(text):
        row, cuts = "", set()
        for part in case.split():
            if part == "÷":
                cuts.add(len(row))
            elif part != "×":
                row += chr(int(part, 16))
        if any(map(outside_names, row)):
            continue
        ours = {0, *(end for _, end in split_clusters(row, 0, len(row)))}
        assert ours == cuts, case
        checked += 1
    assert checked > 60
