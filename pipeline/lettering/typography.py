"""Typographic wording: apostrophes, quotation marks and dashes; capitals by language."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

QUOTES: dict[str, tuple[str, str]] = {
    "en": ("“", "”"),
    "de": ("„", "“"),
    "da": ("„", "“"),
    "cs": ("„", "“"),
    "sk": ("„", "“"),
    "sl": ("„", "“"),
    "hr": ("„", "”"),
    "pl": ("„", "”"),
    "hu": ("„", "”"),
    "ro": ("„", "”"),
    "sv": ("”", "”"),
    "fi": ("”", "”"),
    "fr": ("«\u202f", "\u202f»"),
    "it": ("«", "»"),
    "es": ("«", "»"),
    "pt": ("«", "»"),
    "el": ("«", "»"),
    "ru": ("«", "»"),
    "uk": ("«", "»"),
    "no": ("«", "»"),
    "nb": ("«", "»"),
}
"""Opening and closing marks by language (Unicode CLDR, quotationStart, quotationEnd; French with its narrow spaces)."""

DOTTED = frozenset(("tr", "az", "crh", "tt"))
"""Languages whose capital of i keeps its dot and whose small letter of I has none (Unicode SpecialCasing.txt)."""

_OWN_MARKS = frozenset(("he", "yi", "ar", "fa", "ur", "ja", "zh", "ko"))  # other quotation marks, left alone
_GREEK_KEPT = {"\u0308", "\u0345"}  # dialytika stays on capitals, iota subscript becomes a letter
_LETTER = r"[^\W\d_]"
_TYPED = frozenset("'\"-")
"""Marks that may be changed; a text without them needs no change."""


@dataclass(frozen=True, slots=True)
class TidiedText:
    """A text with typographic marks, and a description of the changes."""

    text: str
    changes: tuple[str, ...]


def tidy_marks(text: str, language: str | None = None) -> TidiedText:
    """Replace typewriter marks with typographic ones: ’ for ', quotation marks of the language, – between spaces and
    between years. Inches (12"), minutes and hyphens inside words stay. Letters are never changed, except the ʻokina of
    Hawaiian, for which ' is typed.
    """
    tongue = (language or "en").replace("_", "-").split("-")[0].lower()
    if tongue in _OWN_MARKS or _TYPED.isdisjoint(text):
        return TidiedText(text, ())
    out, before = text, ""
    while out != before:  # resolving one mark may settle another
        before = out
        out = _correct_dashes(_correct_double_quotes(_correct_single_quotes(out, tongue), tongue))
    return TidiedText(out, _list_changes(text, out))


def set_capitals(text: str, language: str | None) -> str:
    """Set the text in capitals by the rules of its language.

    ß becomes ẞ, so that a name keeps its letters (the German spelling council allows both); Turkish i keeps its dot;
    Greek capitals lose their accents and keep the dialytika.
    """
    tongue = (language or "").replace("_", "-").split("-")[0].casefold()
    if tongue in DOTTED:
        text = text.replace("i", "İ").replace("ı", "I")
    if tongue == "el" or (not tongue and any("GREEK" in unicodedata.name(c, "") for c in text)):
        parts = unicodedata.normalize("NFD", text)
        text = "".join(c for c in parts if not unicodedata.combining(c) or c in _GREEK_KEPT)
    return unicodedata.normalize("NFC", text.replace("ß", "ẞ").upper())


def _correct_single_quotes(text: str, tongue: str) -> str:
    if tongue == "haw":
        text = re.sub(rf"'(?={_LETTER})", "ʻ", text)
    text = re.sub(rf"(?<={_LETTER})'(?={_LETTER})", "’", text)
    text = re.sub(r"(?<!\w)'(?=\d\d(?!\d))", "’", text)  # '98
    # What is left is at the edge of a word: a pair around text is quotation, anything else an apostrophe.
    text = re.sub(r"(?<!\w)'(\w[^']*[\w.!?])'(?!\w)", r"‘\1’", text)
    return re.sub(rf"(?<!\d)'(?={_LETTER})|(?<={_LETTER})'", "’", text)


def _correct_double_quotes(text: str, tongue: str) -> str:
    opening, closing = QUOTES.get(tongue, QUOTES["en"])
    return re.sub(r'(?<!\w)"(?=[^\s"])([^"]*[^\s"\d])"(?!\w)', lambda m: f"{opening}{m[1]}{closing}", text)


def _correct_dashes(text: str) -> str:
    text = re.sub(r"(?<=\s)-{1,2}(?=\s)", "–", text)
    text = re.sub(r"(?<=\S)\s?--\s?(?=\S)", " – ", text)
    # Years, not dates: 1998-2004 and 1998-99, but neither 2026-05-01 nor 2026-05.
    return re.sub(r"(?<![\d-])(\d{4})-(\d{4}|1[3-9]|[2-9]\d)(?![\d-])", r"\1–\2", text)


def _list_changes(before: str, after: str) -> tuple[str, ...]:
    out = []
    for mark, name in (("'", "apostrophes"), ('"', "quotation marks"), ("-", "dashes")):
        if before.count(mark) > after.count(mark):
            out.append(name)
    return tuple(out)
