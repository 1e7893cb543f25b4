"""A value as a paper states it, with where it comes from.

A paper sets a small mark after the value and says at the end of the section what the mark stands for. Within a text the
value and its origin stand between signs of their own, so that a sentence with values in it is still one string.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

_OPEN, _FROM, _CLOSE = "\ue0f0", "\ue0f1", "\ue0f2"
_STATED = re.compile(f"{_OPEN}([^{_OPEN}{_FROM}{_CLOSE}]*){_FROM}([^{_OPEN}{_FROM}{_CLOSE}]+){_CLOSE}")
MARKS = "ᵃᵇᶜᵈᵉᶠᵍʰⁱʲᵏˡᵐⁿᵒᵖʳˢᵗᵘᵛʷˣʸᶻ"
"""Marks of origins in the order they first come; after the last one they are doubled."""


@dataclass(frozen=True, slots=True)
class StatedValue:
    """A value in words, such as '3.2 mm', and where it comes from. ValueError where nothing says where from."""

    text: str
    origin: str

    def __post_init__(self) -> None:
        if not self.origin.strip():
            raise ValueError(f"“{self.text}” is stated without an origin")

    def __str__(self) -> str:
        """The value within a text."""
        text, origin = (_drop_signs(part) for part in (self.text, self.origin))
        return f"{_OPEN}{text}{_FROM}{origin or 'not named'}{_CLOSE}" if text else ""


def _drop_signs(text: str) -> str:
    """Drop the signs from a text from outside: characters for private use, which no paper's typeface has."""
    return text.translate({ord(sign): None for sign in (_OPEN, _FROM, _CLOSE)})


def state(text: str | int, origin: str) -> str:
    """Write a value with its origin into a text; empty for an empty value."""
    return str(StatedValue(str(text), origin))


def say_computed(inputs: str) -> str:
    """Name the origin of a value computed from these."""
    return f"computed from {inputs}"


def replace_stated(text: str, told: Callable[[StatedValue], str]) -> str:
    """Replace each stated value of a text by what `told` makes of it, and drop signs that stand alone."""
    return _drop_signs(_STATED.sub(lambda found: told(StatedValue(found[1], found[2])), text))


def get_mark(number: int) -> str:
    """Return the mark of the origin with this number, from 0."""
    times, which = divmod(number, len(MARKS))
    return MARKS[which] * (times + 1)
