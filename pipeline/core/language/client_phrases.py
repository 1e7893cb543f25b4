"""Phrases that questions to the client contain as facts, in English; `{a}` and `{b}` are words from the list.

The code raises the question with the English phrase; a catalogue translates it under the context `phrase`, and a
message inserts it with `{what:phrase}`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import lru_cache

PHRASES: tuple[str, ...] = (
    "no space in “{a}”",
    "a space that stands oddly in “{a}”",
    "a space on one side of a hyphen in “{a}”",
    "“{a}” at its end",
    "“{a}” at its beginning",
    "“{a}” in it",
    "the number “{a}” in front",
    "no letter in it, only digits",
    "a digit among letters in “{a}”",
    "a straight quotation mark",
    "a curled quotation mark",
    "has a courtesy title; most of the list doesn't",
    "has no courtesy title; most of the list does",
    "has “{a}” where the list also has “{b}”",
    "have a courtesy title",
    "have no courtesy title",
    "with this title have “{a}” where the list also has “{b}”",
    "of couples have “{a}”, the others “{b}”",
    "have {a}, the others {b}",
    "a straight apostrophe",
    "a curled apostrophe",
    "a modifier apostrophe",
    "an accent",
    "all in capitals, unlike the rest of the list",
    "all in small letters, unlike the rest of the list",
    "written with a small first letter in “{a}”",
    "written with “{a}” in capitals, unlike the rest of the list",
    "written with a capital in an odd place in “{a}”",
    "raised or lowered letters",
    "words struck through",
    "the number {a}",
    "the date or time {a}",
    "the truth value {a}",
    "is blank",
    "says “{a}”",
    "; it may have been “{a}”",
    "apostrophes",
    "quotation marks",
    "dashes",
    "{a} and {b}",
    "a number of copies",
    "two rows stand too close together",
    "“{a}” stands too close to a place that is to stay free",
    "“{a}” stands too close to the pocket",
    "“{a}” stands too close to a hole",
    "“{a}” stands too close to the edge",
    "some parts stand too close together at this size",
    "another lettering style",
    "a sturdier lettering style",
    "a row of spaces",
    "a totals row",
    "a note",
    "a note below the total",
    "a line of a letter",
    "a section heading",
    "a sentence",
    "a second header",
    "a second row of headings",
    "the header",
    "a title above the header",
    "a title above a header",
    "the header again",
    "the header again, with its columns in other places from here on",
    "the sender's name",
    "a row of the list beside this one alone",
    "outside the area that is read",
    "hidden by the sheet's filter",
    "hidden in the sheet",
    "struck through",
)
PARTS = {"{a} and {b}"}
"""Made of phrases alone: what looks like one and is not is left as it is."""


@lru_cache
def _compile_patterns() -> tuple[tuple[str, re.Pattern[str]], ...]:
    """Compile the phrases that hold words of the list, as patterns."""
    blank = re.compile(r"\\\{([ab])\\\}")
    return tuple((p, re.compile(blank.sub(r"(?P<\1>.+)", re.escape(p)), re.DOTALL)) for p in PHRASES if "{a}" in p)


def find_phrases_like(english: str) -> Iterator[tuple[str, dict[str, str]]]:
    """The phrases that a text may be, each with the words put into it."""
    for template, pattern in _compile_patterns():
        if found := pattern.fullmatch(english):
            yield template, found.groupdict()
