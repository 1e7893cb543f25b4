"""Names of cut files: safe on every system, one per design."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.core.short_codes import ALPHABET
from pipeline.outputs.cut_files.file_names import LONGEST, NAMELESS, build_file_slug, make_cut_name

MARK = "4CKXH7RW9P"

# Microsoft, "Naming Files, Paths, and Namespaces": reserved names, with or without an extension, in any case.
DEVICES = ["CON", "PRN", "AUX", "NUL", *(f"{d}{n}" for d in ("COM", "LPT") for n in "123456789¹²³")]


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("Ada Kittiwake", "ada-kittiwake"),
        ("Márta Szélfuvás", "marta-szelfuvas"),
        ("Björn Ærøskarv", "bjorn-aeroskarv"),
        ("Straße ŁÓDŹ", "strasse-lodz"),
        ("O’Malley & Sons", "omalley-sons"),
        ("Ελένη", "eleni"),
        ("Анна", "anna"),
        ("../../etc/passwd", "etc-passwd"),
        ("a.b. ", "a-b"),
        ("?!", NAMELESS),
        ("", NAMELESS),
    ],
)
def test_names_in_plain_letters(name, expected):
    assert build_file_slug(name) == expected


@given(st.text(max_size=200))
def test_any_name_makes_a_safe_file_name(name):
    made = make_cut_name(name, MARK)
    assert re.fullmatch(rf"[a-z0-9]+(-[a-z0-9]+)*-{MARK}\.dxf", made)
    assert len(made) <= LONGEST + 15


@pytest.mark.parametrize("device", DEVICES)
def test_no_name_is_a_device(device):
    stem = make_cut_name(device, MARK).split(".")[0]
    assert stem.upper() not in DEVICES
    assert stem.endswith(MARK)


def test_names_of_two_designs_differ_also_where_case_does_not_count():
    assert ALPHABET.upper() == ALPHABET
    made = [make_cut_name(name, mark) for name in ("Ada", "ADA", "ada.") for mark in (MARK, MARK[::-1])]
    assert len({m.casefold() for m in made}) == 2  # as many as fingerprints


def test_a_long_name_is_cut_between_words():
    name = "Professor Emerita Wilhelmina Featherstonehaugh-Oystercatcher of the Western Isles"
    assert build_file_slug(name) == "professor-emerita-wilhelmina-featherstonehaugh"
    assert build_file_slug("x" * 90) == "x" * LONGEST


def test_side_and_unit_follow_the_fingerprint():
    assert make_cut_name("Ada", MARK, side="back", unit="mm") == f"ada-{MARK}-back-mm.dxf"
