"""A row of text split into runs of one direction and one script, in visual order.

Directions follow the Unicode bidirectional algorithm (UAX #9), see `core.language.bidi`. Scripts are HarfBuzz's own.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import uharfbuzz as hb

from pipeline.core.language.bidi import Base, compute_visual_order

JOINING_SCRIPTS = frozenset(
    ("Arab", "Syrc", "Nkoo", "Mong", "Mand", "Mani", "Phlp", "Phag", "Adlm", "Rohg", "Sogd", "Chrs")
    + ("Deva", "Beng", "Guru", "Newa", "Sylo")
)
"""Scripts whose letters join, by their strokes or by a headline; they are never letterspaced."""

_NEEDS_BIDI = re.compile(
    "[\u0590-\u08ff\u200f\u202a-\u202e\u2066-\u2069\ufb1d-\ufdff\ufe70-\ufeff\U00010800-\U00010fff"
    "\U0001e800-\U0001efff]"
)
_PLAIN_LATIN = re.compile("[\t -~\u00a0-\u02af\u1e00-\u1eff\u2000-\u206f\u0300-\u036f]*")
_HAS_LATIN = re.compile("[A-Za-z\u00c0-\u02af\u1e00-\u1eff]")


@dataclass(frozen=True, slots=True)
class TextRun:
    """text[start:end] of one direction and script, an ISO 15924 tag or "Zyyy" where only common characters stand."""

    start: int
    end: int
    right_to_left: bool
    script: str


def itemise(text: str, base: Base | None = None) -> list[TextRun]:
    """Split a row into runs, left to right in visual order. `base` is the row's own direction: "L", "R", or None for
    that of its first strong character (UAX #9, P2 and P3)."""
    if not text:
        return []
    if base != "R" and not _NEEDS_BIDI.search(text):
        return [TextRun(s, e, False, script) for s, e, script in _split_scripts(text, 0, len(text))]
    out: list[TextRun] = []
    for start, end, leftward in _split_directions(compute_visual_order(text, base)):
        runs = [TextRun(s, e, leftward, script) for s, e, script in _split_scripts(text, start, end)]
        out += reversed(runs) if leftward else runs
    return out


@lru_cache(maxsize=4096)
def get_script(character: str) -> str:
    """Return the character's script according to HarfBuzz; "Zyyy" for common, inherited and unknown characters."""
    buffer = hb.Buffer()
    buffer.add_str(character)
    buffer.guess_segment_properties()
    return buffer.script or "Zyyy"


def find_joins(runs: Sequence[TextRun]) -> bool:
    """Return whether the letters of any run join in every typeface."""
    return any(run.script in JOINING_SCRIPTS for run in runs)


def split_clusters(text: str, start: int, end: int) -> list[tuple[int, int]]:
    """Split text[start:end] into characters with their marks and joiners, for choosing a typeface for each."""
    out: list[tuple[int, int]] = []
    joined = False
    for i in range(start, end):
        character = text[i]
        extends = unicodedata.category(character) in ("Mn", "Me", "Mc") or character in "\u200c\u200d"
        if out and (extends or joined):
            out[-1] = (out[-1][0], i + 1)
        else:
            out.append((i, i + 1))
        joined = character == "\u200d" or unicodedata.combining(character) == 9  # a virama forms conjuncts
    return out


def _split_scripts(text: str, start: int, end: int) -> list[tuple[int, int, str]]:
    """Split into stretches of one script; common characters belong to what precedes them, at the start to what
    follows."""
    part = text[start:end]
    if _PLAIN_LATIN.fullmatch(part):
        return [(start, end, "Latn" if _HAS_LATIN.search(part) else "Zyyy")]
    out: list[tuple[int, int, str]] = []
    for i in range(start, end):
        script = get_script(text[i])
        if out and (script in ("Zyyy", out[-1][2]) or out[-1][2] == "Zyyy"):
            first, _, known = out[-1]
            out[-1] = (first, i + 1, known if script == "Zyyy" else script)
        else:
            out.append((i, i + 1, script))
    return out


def _split_directions(shown: Sequence[tuple[int, bool]]) -> list[tuple[int, int, bool]]:
    """Return start, end and direction of each run that is contiguous in the line, from left to right."""
    out: list[tuple[int, int, bool]] = []
    for i, leftward in shown:
        start, end, before = out[-1] if out else (-1, -1, False)
        if out and leftward == before and i == (start - 1 if leftward else end):
            out[-1] = (min(start, i), max(end, i + 1), leftward)
        else:
            out.append((i, i + 1, leftward))
    return out
