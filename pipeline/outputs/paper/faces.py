"""The faces papers are written in, from the shelf: one for reading matter, one for headings.

They cover Latin, Greek and Cyrillic. Text in another script is never set in them: a paper repeats the artwork's curves
instead, because the PDF library neither joins Arabic nor orders Hebrew.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from pathlib import Path
from typing import Any

from pipeline.core.errors import CannotRun, Fault

PACKAGE = Path(__file__).resolve().parent.parent.parent
SANS = "PaperSans"
SERIF = "PaperSerif"
_FILES = {SANS: "noto-sans/NotoSans-Regular.ttf", SERIF: "eb-garamond/EBGaramond-Regular.ttf"}
PT = 25.4 / 72
"""Millimetres in one point (1/72 in, PDF 32000-1, 8.3.2.3)."""


def shelf_file(name: str) -> Path:
    """A file of the shelf: inside an installed package, or in a checkout beside the package."""
    for root in (PACKAGE / "_fonts", PACKAGE.parent / "fonts"):
        if (root / name).is_file():
            return root / name
    raise CannotRun(
        Fault(where=f"fonts/{name}", found="the face papers are written in is not there", remedy="install anew")
    )


@lru_cache
def font(name: str) -> Any:
    """The face as the PDF library reads it. Loading takes some 10 ms, once a process."""
    from reportlab.pdfbase.ttfonts import TTFontFile

    return TTFontFile(str(shelf_file(_FILES[name])))


@lru_cache
def _widths(name: str) -> dict[str, float]:
    """Advance of each character the face can show by itself, in its size."""
    shown = {}
    for code, advance in font(name).charWidths.items():
        if code < 0x2E80 and not 0x0590 <= code < 0x1C80:  # beyond: ordered, joined or ideographic scripts
            shown[chr(code)] = advance / 1000
    return shown


@lru_cache
def known(name: str = SANS) -> frozenset[str]:
    """The characters the face can show without ordering or joining."""
    return frozenset(_widths(name))


def covers(text: str, name: str = SANS) -> bool:
    """Whether the face can show all of the text."""
    return known(name).issuperset(text)


def width(text: str, size: float, name: str = SANS) -> float:
    """Advance width in the unit of `size`, of a text the face covers."""
    of = _widths(name)
    return size * sum([of[c] for c in text])


def wrap(text: str, room: float, measure: Callable[[str], float]) -> list[str]:
    """The text broken at spaces into lines no wider than `room`; a word wider than that is broken where it must be."""
    if text == " ".join(text.split()) and measure(text) <= room:
        return [text]
    out: list[str] = []
    for paragraph in text.splitlines() or [""]:
        line = ""
        for word in paragraph.split():
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
