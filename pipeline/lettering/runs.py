"""A row of text cut into runs of one direction and one script, in the order they stand on the piece.

Directions follow the Unicode bidirectional algorithm (UAX #9); the levels come from python-bidi, the order of runs
(rule L2) and the level of trailing spaces (rule L1) are put on them here. Scripts are HarfBuzz's own.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import Literal

import uharfbuzz as hb
from bidi.bidi import get_display_inner

Base = Literal["L", "R"]

JOINING_SCRIPTS = frozenset(
    ("Arab", "Syrc", "Nkoo", "Mong", "Mand", "Mani", "Phlp", "Phag", "Adlm", "Rohg", "Sogd", "Chrs")
    + ("Deva", "Beng", "Guru", "Newa", "Sylo")
)
"""Scripts whose letters join, by their strokes or by a headline: they are never letterspaced."""

_NEEDS_BIDI = re.compile(
    "[\u0590-\u08ff\u200f\u202a-\u202e\u2066-\u2069\ufb1d-\ufdff\ufe70-\ufeff\U00010800-\U00010fff"
    "\U0001e800-\U0001efff]"
)
_LEVELS = re.compile(r"Level\(\s*(\d+),?\s*\)")
_PLAIN_LATIN = re.compile("[\t -~\u00a0-\u02af\u1e00-\u1eff\u2000-\u206f\u0300-\u036f]*")
_HAS_LATIN = re.compile("[A-Za-z\u00c0-\u02af\u1e00-\u1eff]")


@dataclass(frozen=True, slots=True)
class Run:
    """text[start:end] of one direction and script, an ISO 15924 tag or "Zyyy" where only common characters stand."""

    start: int
    end: int
    right_to_left: bool
    script: str


def itemise(text: str, base: Base | None = None) -> list[Run]:
    """The runs of a row, left to right as they are seen. `base` is the row's own direction: "L", "R", or None for
    that of its first strong character (UAX #9, P2 and P3)."""
    if not text:
        return []
    if base != "R" and not _NEEDS_BIDI.search(text):
        return [Run(s, e, False, script) for s, e, script in _scripts(text, 0, len(text))]
    levels = bidi_levels(text, base)
    out: list[tuple[int, Run]] = []
    for start, end in _stretches(levels):
        odd = bool(levels[start] % 2)
        out.extend((levels[start], Run(s, e, odd, script)) for s, e, script in _scripts(text, start, end))
    return [run for _, run in _visual(out)]


def bidi_levels(text: str, base: Base | None = None) -> list[int]:
    """The resolved embedding level of each character (UAX #9), the row taken as one paragraph and one line."""
    # Paragraph separators would start a new paragraph with a direction of its own.
    clean = "".join(" " if unicodedata.bidirectional(c) == "B" or 0xD800 <= ord(c) <= 0xDFFF else c for c in text)
    report = get_display_inner(clean, base, True)
    found = _LEVELS.findall(report[report.rindex("    levels: [") : report.rindex("    paragraphs: [")])
    by_byte = [int(level) for level in found]
    paragraph = int(_LEVELS.findall(report[report.rindex("    paragraphs: [") :])[0])
    out, at = [], 0
    for character in clean:
        out.append(by_byte[at])
        at += len(character.encode())
    if at != len(by_byte):
        raise RuntimeError(f"the bidirectional library gave {len(by_byte)} levels for {at} bytes of {text!r}")
    trailing = True  # L1: separators, and white space before them or at the end, take the paragraph's level
    for i in range(len(text) - 1, -1, -1):
        kind = unicodedata.bidirectional(text[i])
        if kind in ("B", "S"):
            out[i], trailing = paragraph, True
        elif kind in ("WS", "FSI", "LRI", "RLI", "PDI", "LRE", "RLE", "LRO", "RLO", "PDF", "BN"):
            out[i] = paragraph if trailing else out[i]
        else:
            trailing = False
    return out


@lru_cache(maxsize=4096)
def script_of(character: str) -> str:
    """The character's script as HarfBuzz has it; "Zyyy" for common, inherited and unknown characters."""
    buffer = hb.Buffer()
    buffer.add_str(character)
    buffer.guess_segment_properties()
    return buffer.script or "Zyyy"


def joins(runs: Sequence[Run]) -> bool:
    """Whether letters of any run join in every face."""
    return any(run.script in JOINING_SCRIPTS for run in runs)


def clusters(text: str, start: int, end: int) -> list[tuple[int, int]]:
    """text[start:end] cut into characters with their marks and joiners, for choosing a face for each."""
    out: list[tuple[int, int]] = []
    joined = False
    for i in range(start, end):
        character = text[i]
        extends = unicodedata.category(character) in ("Mn", "Me", "Mc") or character in "\u200c\u200d"
        if out and (extends or joined):
            out[-1] = (out[-1][0], i + 1)
        else:
            out.append((i, i + 1))
        joined = character == "\u200d" or unicodedata.combining(character) == 9  # a virama makes conjuncts
    return out


def _scripts(text: str, start: int, end: int) -> list[tuple[int, int, str]]:
    """Stretches of one script; common characters go with what stands before them, at the start with what follows."""
    part = text[start:end]
    if _PLAIN_LATIN.fullmatch(part):
        return [(start, end, "Latn" if _HAS_LATIN.search(part) else "Zyyy")]
    out: list[tuple[int, int, str]] = []
    for i in range(start, end):
        script = script_of(text[i])
        if out and (script in ("Zyyy", out[-1][2]) or out[-1][2] == "Zyyy"):
            first, _, known = out[-1]
            out[-1] = (first, i + 1, known if script == "Zyyy" else script)
        else:
            out.append((i, i + 1, script))
    return out


def _stretches(levels: Sequence[int]) -> list[tuple[int, int]]:
    cuts = [0, *(i for i in range(1, len(levels)) if levels[i] != levels[i - 1]), len(levels)]
    return list(pairwise(cuts))


def _visual(runs: list[tuple[int, Run]]) -> list[tuple[int, Run]]:
    """Rule L2: from the highest level down to the lowest odd one, reverse what stands at that level or higher."""
    runs = list(runs)
    odd = [level for level, _ in runs if level % 2]
    for level in range(max(level for level, _ in runs), min(odd, default=1) - 1, -1):
        i = 0
        while i < len(runs):
            j = i
            while j < len(runs) and runs[j][0] >= level:
                j += 1
            runs[i:j] = reversed(runs[i:j])
            i = j + 1 if j == i else j
    return runs
