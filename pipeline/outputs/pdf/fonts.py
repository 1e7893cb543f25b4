"""The typefaces papers are written in, from the shelf: one for reading matter, one for headings.

They cover Latin, Greek and Cyrillic. Text in another script is never set in them: a paper repeats the artwork's curves
instead, because nothing here joins Arabic or orders Hebrew.
"""

from __future__ import annotations

import hashlib
import re
import tomllib
from collections.abc import Callable, Mapping
from functools import lru_cache
from pathlib import Path

from pipeline.core.environment.shipped_folders import find_shipped_folder
from pipeline.core.errors import CannotRun, Fault

SANS = "PaperSans"
SERIF = "PaperSerif"
_FILES = {SANS: "noto-sans/NotoSans-Regular.ttf", SERIF: "eb-garamond/EBGaramond-Regular.ttf"}
PT = 25.4 / 72
"""Millimetres in one point (1/72 in, PDF 32000-1, 8.3.2.3)."""


def find_shelf_file(name: str) -> Path:
    """Find a font file of the shelf. CannotRun when it is missing."""
    file = find_shipped_folder("fonts") / name
    if file.is_file():
        return file
    raise CannotRun(
        Fault(where=f"fonts/{name}", found="the typeface papers are written in is not there", remedy="install anew")
    )


def _check_file(name: str) -> Path:
    """The font file, if its bytes are those the shelf's table names: the stamp of the tool holds the table alone."""
    file = find_shelf_file(name)
    said = tomllib.loads((file.parent / "source.toml").read_text(encoding="utf-8"))["sha256"]
    if hashlib.sha256(file.read_bytes()).hexdigest() != said:
        found = "the typeface papers are written in has changed"
        raise CannotRun(Fault(where=f"fonts/{name}", found=found, remedy="install anew"))
    return file


@lru_cache
def load_widths(name: str) -> Mapping[str, float]:
    """The advance widths, in ems, of every character the typeface can show by itself. It is registered for drawing the
    first time it is asked for, which takes some milliseconds."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    font = TTFont(name, str(_check_file(_FILES[name])), asciiReadable=False, shapable=False)
    pdfmetrics.registerFont(font)
    return {
        chr(code): font.face.getCharWidth(code) / 1000
        for code in font.face.charToGlyph
        if code < 0x2E80 and not 0x0590 <= code < 0x1C80  # beyond these: scripts with reordering, joining or ideographs
    }


@lru_cache
def get_known_characters(name: str = SANS) -> frozenset[str]:
    """The characters the typeface can show without ordering or joining."""
    return frozenset(load_widths(name))


def covers(text: str, name: str = SANS) -> bool:
    """Return whether the typeface can show all of the text."""
    return get_known_characters(name).issuperset(text)


def measure_width(text: str, size: float, name: str = SANS) -> float:
    """Advance width in the unit of `size`, of a text the typeface covers."""
    of = load_widths(name)
    return size * sum([of[c] for c in text])


def _split_words(text: str) -> list[str]:
    """Return what stands between spaces at which a line may end."""
    return [word for word in re.split(r"[^\S\u00a0\u2007\u202f]+", text) if word]


def wrap(text: str, room: float, measure: Callable[[str], float]) -> list[str]:
    """The text broken at spaces into lines no wider than `room`; a word wider than that is broken where it must be. At
    a no-break space (U+00A0, U+202F), such as stands inside French quotation marks, no line ends."""
    if text == " ".join(_split_words(text)) and measure(text) <= room:
        return [text]
    out: list[str] = []
    for paragraph in text.splitlines() or [""]:
        line = ""
        for word in _split_words(paragraph):
            longer = f"{line} {word}" if line else word
            if measure(longer) <= room:
                line = longer
                continue
            if line:
                out.append(line)
            line = word
            while measure(line) > room and len(line) > 1:
                cut = len(line) - 1
                while cut > 1 and measure(line[:cut]) > room:
                    cut -= 1
                out.append(line[:cut])
                line = line[cut:]
        out.append(line)
    return out
