"""A language of our own for tests: the English with an accent on each vowel, so that what is not translated is seen."""

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
    """The text with an accent on each vowel, the facts in braces untouched but for words to choose from."""

    def part(text: str) -> str:
        name, colon, spec = text.partition(":")
        if text.startswith("{"):
            return name + colon + (spec.translate(ACCENTS) if "|" in spec else spec)
        return text.translate(ACCENTS)

    return "".join(map(part, re.split(r"(\{[^}]*\})", text)))


def pseudo_catalogue() -> Catalog:
    """Every message, in the form that the English plural rule has."""
    out = catalogue_for("en")
    for id, english in needed().items():
        said = tuple(map(accented, english))
        out[id].string = said if len(said) > 1 else said[0]
    return out


def texts_of(catalogue: Catalog) -> Texts:
    """The texts of a catalogue that no file holds."""
    packed = io.BytesIO()
    write_mo(packed, catalogue)
    packed.seek(0)
    return build_texts(str(catalogue.locale), gettext.GNUTranslations(packed))
