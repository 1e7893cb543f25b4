"""What clients read, by id, in their language: message catalogues in gettext's format, one file a language.

`pipeline/texts/en.po` has the English; a further file there is a further language. Messages name their facts in braces,
as `str.format` does; a number may be followed by one of Unicode's number patterns (`{percent:0.#}`). Only what clients
read stands here: what the maker reads is English. The client's English of a finding, and of a way out of it, stands
with the rest of its facts in `pipeline.core.catalogue`, that of other languages here, under `finding.` or `way.` and
its code; `{count:row|rows}` has there as many words as the language has forms.
"""

from __future__ import annotations

import gettext
import io
import re
import string
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from functools import cache, cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.core.errors import CannotRun, Fault
from pipeline.core.language.client_phrases import PARTS, find_phrases_like
from pipeline.core.units import SpokenUnits, Units

if TYPE_CHECKING:
    from babel import Locale
    from babel.messages import Catalog

FOLDER = Path(__file__).parents[2] / "texts"
"""Where the catalogues lie: `en.po`, and one of that kind for each further language."""
ENGLISH = "en"
NOUN_ONE, NOUN_MANY = "proof.noun.one", "proof.noun.many"
"""Ids of what the pieces are called where the order does not say."""
PHRASE = "phrase"
"""The context of phrases that come as facts, with their English for an id."""


def list_languages(folder: Path = FOLDER) -> tuple[str, ...]:
    """The languages there is a catalogue of, as subtags of BCP 47, in alphabetical order."""
    return tuple(sorted(path.stem for path in folder.glob("*.po")))


def choose_language(tag: str, folder: Path = FOLDER) -> str:
    """The catalogue for a language tag: that of the tag itself or of its language, `de` for `de-AT`. Empty: there is
    none."""
    known = {name.replace("_", "-").lower(): name for name in list_languages(folder)}
    parts = tag.replace("_", "-").lower().split("-")
    return next((found for n in range(len(parts), 0, -1) if (found := known.get("-".join(parts[:n])))), "")


def load_texts(tag: str, where: str = "[proof] language", folder: Path = FOLDER) -> Texts:
    """The texts in a language (BCP 47). where: what asks for it, for the CannotRun when there is no catalogue of it."""
    if fault := find_language_fault(tag, where, folder):
        raise CannotRun(fault)
    return _read(choose_language(tag, folder), folder)


def find_language_fault(tag: str, where: str, folder: Path = FOLDER) -> Fault | None:
    """Find why a language tag can't be used; None when there is a catalogue for it."""
    if choose_language(tag, folder):
        return None
    names = [f"“{name}”" for name in list_languages(folder)]
    only = f"{names[0]}, the only language the proof is written in" if len(names) == 1 else ""
    return Fault(where=where, found=f"no texts in “{tag}”", expected=only or f"one of {', '.join(names)}")


def read_catalogue(path: Path) -> Catalog:
    """The messages of one file. PoFileError (of Babel) where it is none of gettext's."""
    from babel.messages.pofile import read_po

    with path.open("rb") as file:
        return read_po(file, locale=path.stem, abort_invalid=True)


@cache
def _read(name: str, folder: Path) -> Texts:
    from babel.messages.mofile import write_mo

    packed, catalogue = io.BytesIO(), read_catalogue(folder / f"{name}.po")
    write_mo(packed, catalogue, use_fuzzy=True)
    packed.seek(0)
    unread = sum(message.fuzzy for message in catalogue if message.id)
    return replace(build_texts(name.replace("_", "-"), gettext.GNUTranslations(packed)), unread=unread)


def build_texts(language: str, messages: gettext.NullTranslations) -> Texts:
    """The texts of messages that were read, with the noun they have for the pieces."""
    texts = Texts(language=language, messages=messages)
    return texts.rename_pieces(texts.find_template(NOUN_ONE, "plaque"), texts.find_template(NOUN_MANY, "plaques"))


@dataclass(frozen=True)
class Texts:
    """The messages of one language. An id that has none is a fault of ours: KeyError."""

    language: str
    """BCP 47."""
    messages: gettext.NullTranslations
    always: tuple[tuple[str, str], ...] = ()
    """Facts that every message has: `one` and `many`, what the pieces are called."""
    unread: int = 0
    """How many of its messages no native speaker has read."""

    def rename_pieces(self, one: str, many: str) -> Texts:
        """Return the texts with the maker's own noun for the pieces."""
        return replace(self, always=(("one", one), ("many", many)))

    @cached_property
    def locale(self) -> Locale:
        from babel import Locale

        return Locale.parse(self.language, sep="-")

    def render_text(self, id: str, /, **facts: Any) -> str:
        """Render a message with its facts."""
        return self.fill_template(self.get_template(id), facts)

    def render_plural(self, id: str, number: int, /, **facts: Any) -> str:
        """Render a message in the form that goes with a number, which is its fact `n`."""
        found = self.messages.ngettext(id, id, number)
        if found == id:
            raise KeyError(id)
        return self.fill_template(found, {"n": number, **facts})

    def get_template(self, id: str) -> str:
        """Return a message as it stands in the catalogue, its facts still in braces."""
        found = self.messages.gettext(id)
        if found == id:
            raise KeyError(id)
        return found

    def find_template(self, id: str, otherwise: str) -> str:
        """Find a message in the catalogue; return `otherwise` where it has none."""
        found = self.messages.gettext(id)
        return otherwise if found == id else found

    def fill_template(self, template: str, facts: dict[str, Any]) -> str:
        """Fill a template with its facts."""
        return _TextFormatter(self).vformat(template, (), {**dict(self.always), **facts})

    def choose_form(self, number: float) -> int:
        """Choose which of the language's plural forms goes with a number, from 0 (the rule of the file's
        `Plural-Forms`)."""
        return self._rule(int(number))

    @cached_property
    def _rule(self) -> Callable[[int], int]:
        rule = re.search(r"plural=([^;]+)", self.messages.info().get("plural-forms", "plural=n!=1"))
        return gettext.c2py(rule[1] if rule else "n!=1")

    def translate_phrase(self, english: str) -> str:
        """Translate a phrase that came as a fact; unchanged where the catalogue doesn't have it."""
        found = self.messages.pgettext(PHRASE, english)
        if found != english or self.language == ENGLISH:
            return found
        for template, words in find_phrases_like(english):
            known = self.messages.pgettext(PHRASE, template)
            if known == template:
                continue
            told = {name: self.translate_phrase(word) for name, word in words.items()}
            if template not in PARTS or all(told[name] != word for name, word in words.items()):
                return self.fill_template(known, told)
        return english

    def format_number(self, value: float | Decimal, pattern: str) -> str:
        """Format a number by one of Unicode's number patterns (UTS #35), with this language's marks."""
        from babel.numbers import format_decimal

        return format_decimal(value, format=pattern, locale=self.locale)

    def format_day(self, value: date) -> str:
        """Format a date in words, e.g. '2 May 2026'."""
        from babel.dates import format_date

        return format_date(value, format="d MMMM y" if self.language == ENGLISH else "long", locale=self.locale)

    def localise_units(self, units: Units) -> Units:
        """Return the order's unit with lengths shown as this language writes numbers."""
        return ClientUnits(units.name, self)


class _TextFormatter(string.Formatter):
    """str.format that knows numbers by Unicode's patterns, dates, and phrases (`{what:phrase}`), and words that
    begin a heading (`{many:capital}`)."""

    def __init__(self, texts: Texts) -> None:
        self.texts = texts

    def format_field(self, value: Any, format_spec: str) -> str:
        if isinstance(value, date):
            return self.texts.format_day(value)
        if format_spec == PHRASE:
            return self.texts.translate_phrase(str(value))
        if format_spec == "capital":
            return str(value)[:1].upper() + str(value)[1:]
        if format_spec and isinstance(value, int | float | Decimal):
            return self.texts.format_number(value, format_spec)
        return str(value)


@dataclass(frozen=True, slots=True)
class ClientUnits(SpokenUnits):
    """Lengths as the language of a client writes them."""

    texts: Texts | None = None

    def show(self, length_mm: float, decimals: int | None = None) -> str:
        """A length with its unit, e.g. '7,25 mm'."""
        return f"{self._localise(self.format_number(length_mm, decimals))} {self.name}"

    def format_figure(self, value: float, unit: str) -> str:
        """A number that is no length, with its unit if it has one."""
        return f"{self._localise(f'{value:g}')} {unit}".strip()

    def _localise(self, shown: str) -> str:
        whole, _, decimals = shown.partition(".")
        if self.texts is None or not whole.lstrip("-").isdecimal() or not (decimals or "0").isdecimal():
            return shown
        return self.texts.format_number(Decimal(shown), f"0.{'0' * len(decimals)}" if decimals else "0")
