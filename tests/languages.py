"""A pseudo-language for tests: English with an accent on each vowel, so that untranslated text is visible."""

from __future__ import annotations

import gettext
import io
import re

from babel.messages import Catalog
from babel.messages.mofile import write_mo

from pipeline.core.language.texts import Texts, build_texts
from tests.new_language import catalogue_for, needed

ACCENTS = str.maketrans("aeiouAEIOU", "áéíóúÁÉÍÓÚ")


def accented(text: str) -> str:
    """Put an accent on each vowel of a text, except in facts in braces (but in words to choose from)."""

    def part(text: str) -> str:
        name, colon, spec = text.partition(":")
        if text.startswith("{"):
            return name + colon + (spec.translate(ACCENTS) if "|" in spec else spec)
        return text.translate(ACCENTS)

    return "".join(map(part, re.split(r"(\{[^}]*\})", text)))


def pseudo_catalogue() -> Catalog:
    """Return every message, in the form that the English plural rule requires."""
    out = catalogue_for("en")
    for id, english in needed().items():
        said = tuple(map(accented, english))
        out[id].string = said if len(said) > 1 else said[0]
    return out


def texts_of(catalogue: Catalog) -> Texts:
    """Return the texts of a catalogue that isn't in a file."""
    packed = io.BytesIO()
    write_mo(packed, catalogue)
    packed.seek(0)
    return build_texts(str(catalogue.locale), gettext.GNUTranslations(packed))
