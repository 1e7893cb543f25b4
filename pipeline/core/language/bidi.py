"""The visual order of a line's characters (Unicode bidirectional algorithm, UAX #9), by python-bidi.

The library gives back a line as it is shown. To tell which character is where, and which way it runs, each is followed
by two characters that spell its number and change nothing: of class NSM, which go with what stands before them (UAX #9,
W1 and N0), or of class BN, which the algorithm passes over (X9 and 5.2), after what a mark would change: blanks, and
signs between digits. In a line that is shown they stand after it where it runs to the right, before it where it runs
to the left. Separators have no number: they take the paragraph's direction (L1), so their order is known.
"""

from __future__ import annotations

import unicodedata
from functools import lru_cache
from typing import Literal

Base = Literal["L", "R"]
_COUNT = 95
_BN = {chr(0xE0020 + value): value for value in range(_COUNT)}  # tags
_NSM = {chr(0xE0100 + value): value for value in range(_COUNT)}  # variation selectors
_MARKED = ("L", "R", "AL", "EN", "AN", "NSM", "ON", "ET")
LONGEST = _COUNT**2
"""Characters of a line at most."""


@lru_cache(maxsize=1024)
def compute_visual_order(text: str, base: Base | None = None) -> tuple[tuple[int, bool], ...]:
    """Return the characters from left to right as they are shown: the index of each in the text, and whether it runs to
    the left. The text is taken as one paragraph and one line.

    base: the paragraph's own direction; None for that of its first strong character (UAX #9, P2 and P3). ValueError for
    a text of more than `LONGEST` characters.
    """
    from bidi import get_base_level, get_display

    if len(text) > LONGEST:
        raise ValueError(f"{len(text)} characters are more than a line of {LONGEST}")
    if not text:
        return ()
    line = "".join(map(_get_handedness, text))
    kinds = [unicodedata.bidirectional(c) for c in line]
    separators = [i for i, kind in enumerate(kinds) if kind == "S"]
    leftward = base == "R" if base else bool(get_base_level(line) % 2)
    if leftward:
        separators.reverse()
    numbered = [c if kinds[i] == "S" else c + _resolve_number(i, kinds) for i, c in enumerate(line)]
    shown, at = get_display("".join(numbered), base_dir=base), 0
    out: list[tuple[int, bool]] = []
    while at < len(shown):
        if unicodedata.bidirectional(shown[at]) == "S":
            out.append((separators[len([i for i, _ in out if kinds[i] == "S"])], leftward))
            at += 1
            continue
        three = shown[at : at + 3]
        before = three[0] in _BN or three[0] in _NSM
        first, second = (three[1], three[0]) if before else (three[1], three[2])
        out.append((_get_digit_value(first) * _COUNT + _get_digit_value(second), before))
        at += 3
    return tuple(out)


def _get_handedness(character: str) -> str:
    """Return the character, or a stand-in where the library can't take it."""
    if character in _BN:
        return "\u200b"
    if character in _NSM:
        return "\u0300"
    if 0xD800 <= ord(character) <= 0xDFFF or unicodedata.bidirectional(character) == "B":
        return " "  # a paragraph separator would begin another paragraph
    return character


def _resolve_number(i: int, kinds: list[str]) -> str:
    between = kinds[i] in ("ES", "CS") and i + 1 < len(kinds) and kinds[i + 1] in ("EN", "AN", "BN")
    marked = kinds[i] in _MARKED or (kinds[i] in ("ES", "CS") and not between)
    digits = list(_NSM if marked else _BN)
    return digits[i // _COUNT] + digits[i % _COUNT]


def _get_digit_value(digit: str) -> int:
    return _BN.get(digit, _NSM.get(digit, 0))
