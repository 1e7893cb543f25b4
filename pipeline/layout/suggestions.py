"""Suggestions for a line that doesn't fit, each tried out rather than guessed."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterator

from pipeline.core.catalogue import ways
from pipeline.core.config.order import LineConfig
from pipeline.core.findings import Edit, Way, build_way
from pipeline.core.units import Units
from pipeline.layout.block import LineSetting
from pipeline.layout.line_breaks import JOINERS, NOT_PERSONS, PARTICLES, SUFFIXES, TITLES, split_words

MORE_ROWS = 3
"""Most rows that are proposed."""

NARROWER = 85.0
"""Least letter width proposed, percent of normal: narrower than this looks like another typeface (common
practice, no source)."""

TIGHTER = -20
"""Tightest tracking proposed, thousandths of an em: more shows (common practice, no source)."""


NO_MIDDLE_NAMES = frozenset("be ca es eu gl hu ja ko pt ru uk vi zh".split())
"""Languages in which a middle word is a family name, or the last word isn't: an initial there would change the name
(common practice, no source)."""

_IN_NAMES = ".'’-\u2010\u2011"

ARTICLES = frozenset("the a an die der das les la le los las".split())
"""A line that begins with one of these names a group."""


Try = Callable[[LineConfig, str], LineSetting | None]
"""Sets a text with a changed line in the plaque at hand; the setting when it fits."""


def suggest_shorter_texts(text: str, language: str | None = None) -> Iterator[tuple[str, str]]:
    """Yield shorter ways to say the same: (kind, text). They are only proposals: the tool changes no text.

    language: BCP 47, of the text. Middle names become initials only in what looks like a person's name.
    """
    joined = re.sub(r"\s+(?:and|And|AND)\s+", " & ", text)
    if joined != text:
        yield "ampersand", joined
    if (language or "").replace("_", "-").split("-")[0].lower() in NO_MIDDLE_NAMES:
        return
    for source in dict.fromkeys((text, joined)):
        short = _shorten_to_initials(source)
        if short != source:
            yield "initial", short


def _shorten_to_initials(text: str) -> str:
    """Shorten middle names to initials, person by person; what doesn't look like a person's name stays."""
    people: list[list[str]] = [[]]
    for word in split_words(text):
        if _fold_word(word) in JOINERS:
            people += [[word], []]
        else:
            people[-1].append(word)
    return " ".join(word for person in people for word in _initial_one_person(person))


def _initial_one_person(words: list[str]) -> list[str]:
    """One person's words: the first name after titles, the last name, particles and suffixes stay whole."""
    if not _is_personal(words):
        return words
    names = [i for i, word in enumerate(words) if _fold_word(word) not in TITLES | PARTICLES | SUFFIXES]
    middle = {i for i in names[1:-1] if len(_fold_word(words[i])) > 2}
    return [f"{word[0]}." if i in middle else word for i, word in enumerate(words)]


def _is_personal(words: list[str]) -> bool:
    """Return whether words look like the name of one person: three to six capitalised words, nothing that names a
    group, no figures or marks between them."""
    plain = [_fold_word(word) for word in words]
    names = [word for word, low in zip(words, plain, strict=True) if low not in TITLES | PARTICLES | SUFFIXES]
    if not 3 <= len(names) <= 6 or plain[0] in ARTICLES or NOT_PERSONS.intersection(plain):
        return False
    for word, following in zip(words, [*plain[1:], ""], strict=True):
        bare = word.removesuffix(",") if following in SUFFIXES else word
        if not all(c.isalpha() or unicodedata.combining(c) or c in _IN_NAMES for c in bare):
            return False
    return all(word[0].isupper() for word in names)


def _fold_word(word: str) -> str:
    return word.strip(".,").casefold()


def find_ways_to_fit(
    number: int,
    part: LineConfig,
    text: str,
    attempt: Try,
    fitting_size: float,
    units: Units,
    widths: tuple[float, float] | None = None,
    language: str | None = None,
) -> list[Way]:
    """Return every way with which line `number` fits, the smallest change first; the size that would fit always comes
    last.

    fitting_size: mm, one that works as it is typed. widths: of the face's width axis, its least and the width it is
    opened at (percent of normal). language: BCP 47."""
    out = []
    smallest = part.smallest or part.cap_height

    def build_edit(key: str, value: float) -> Edit:
        return Edit(table="line", number=number, key=key, value=value)

    if part.arc is None:
        for rows in range(part.breaks + 1, MORE_ROWS + 1):
            if found := attempt(part.model_copy(update={"breaks": rows}), text):
                shown = " / ".join(found.rows)
                out.append(build_way(ways.ROWS, build_edit("breaks", rows), facts={"rows": rows, "shown": shown}))
                break
    if part.tightest > TIGHTER and attempt(part.model_copy(update={"tightest": TIGHTER}), text):
        out.append(build_way(ways.TIGHTER, build_edit("tightest", TIGHTER), facts={"tightest": TIGHTER}))
    least = max(NARROWER, widths[0]) if widths else 0.0
    if widths and least < min(part.least_width or widths[1], widths[1]):
        found = attempt(part.model_copy(update={"least_width": least}), text)
        if found and found.width:
            facts = {"least": least, "width": found.width}
            out.append(build_way(ways.NARROWER, build_edit("least_width", least), facts=facts))
    for shorter in dict.fromkeys(shorter for _, shorter in suggest_shorter_texts(text, language)):
        if attempt(part, shorter):
            out.append(build_way(ways.WORDING, text=shorter, facts={"shorter": shorter}))
    if fitting_size >= smallest - 1e-9:  # alone it has room: the designed size is at fault
        value = units.round_value(smallest, up=False)
        edits = [build_edit("cap_height", value)]
        if part.smallest is not None and part.smallest > value * units.mm:
            edits.append(build_edit("smallest", value))
        if value * units.mm < part.cap_height - 1e-9:
            out.append(build_way(ways.START_SMALLER, *edits, facts={"size": value * units.mm}))
    elif fitting_size > 0:
        value = units.round_value(fitting_size, up=False)
        facts = {"size": value * units.mm, "smallest": smallest}
        out.append(build_way(ways.SMALLEST, build_edit("smallest", value), facts=facts))
    return out
