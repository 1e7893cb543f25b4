"""Comparison of texts that look alike: skeletons after Unicode UTS #39, and the alphabets of a text."""

from __future__ import annotations

import unicodedata
from functools import lru_cache
from importlib import resources

from fontTools import unicodedata as scripts


@lru_cache(maxsize=1)
def load_confusables() -> dict[int, str]:
    """Load the map from character to its skeleton: Unicode's confusables.txt, version 15.0."""
    table = {}
    text = (resources.files(__package__) / "unicode" / "confusables.tsv").read_text(encoding="utf-8")
    for line in text.splitlines():
        if line and not line.startswith("#"):
            source, target = line.split("\t")
            table[int(source, 16)] = "".join(chr(int(code, 16)) for code in target.split())
    return table


def compute_skeleton(text: str) -> str:
    """Compute the skeleton of UTS #39, section 4: equal for texts that look alike. For comparison only, never for
    display."""
    return unicodedata.normalize("NFD", unicodedata.normalize("NFD", text).translate(load_confusables()))


def strip_marks(text: str) -> str:
    """Strip accents; letters without a decomposition (ø, ł, ß, æ …) become their usual substitutes."""
    if text.isascii():
        return text
    plain = text.translate(_OWN)
    bare = "".join(c for c in unicodedata.normalize("NFD", plain) if unicodedata.category(c) != "Mn")
    return unicodedata.normalize("NFC", bare)  # recomposes Korean syllables


_OWN = str.maketrans(
    {"ø": "o", "Ø": "O", "ł": "l", "Ł": "L", "đ": "d", "Đ": "D", "ð": "d", "þ": "th", "ß": "ss", "æ": "ae", "Æ": "AE",
     "œ": "oe", "Œ": "OE", "ı": "i", "ħ": "h", "ŋ": "n", "’": "'", "‘": "'", "ʼ": "'", "ʻ": "'"}
)  # fmt: skip


@lru_cache(maxsize=4096)
def get_script(character: str) -> str:
    """Return the Unicode Script property as its four-letter code (Latn, Cyrl, Zyyy for common characters …)."""
    return str(scripts.script(character))


def get_script_name(code: str) -> str:
    """Return a script's name: Latn → Latin."""
    return str(scripts.script_name(code, code)).replace("_", " ")
