"""The faces papers are written in, from the shelf: one for reading matter, one for headings.

They cover Latin, Greek and Cyrillic. Text in another script is never set in them: a paper repeats the artwork's curves
instead, because nothing here joins Arabic or orders Hebrew.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from struct import unpack_from
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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Face:
    """A face as documents carry it. Lengths are thousandths of an em, widths ems."""

    name: str  # PostScript
    font: Any  # HarfBuzz's
    widths: dict[str, float]  # of every character the face can show by itself
    box: tuple[float, float, float, float]
    ascent: float
    descent: float
    caps: float
    stem: float


@lru_cache
def face(name: str) -> Face:
    """A face of papers. Loading takes some milliseconds, once a process."""
    import uharfbuzz as hb

    path = shelf_file(_FILES[name])
    font = hb.Font(hb.Face(hb.Blob.from_file_path(str(path))))
    em = font.face.upem
    widths = {}
    for code in font.face.unicodes:
        if code < 0x2E80 and not 0x0590 <= code < 0x1C80:  # beyond: ordered, joined or ideographic scripts
            widths[chr(code)] = font.get_glyph_h_advance(font.get_nominal_glyph(code)) / em
    box = unpack_from(">4h", font.face.reference_table("head").data, 36)
    style = font.face.reference_table("OS/2").data
    (weight,), (caps,) = unpack_from(">H", style, 4), unpack_from(">h", style, 88)  # usWeightClass, sCapHeight
    extents, unit = font.get_font_extents("ltr"), 1000 / em
    return Face(
        name=path.stem,
        font=font,
        widths=widths,
        box=(box[0] * unit, box[1] * unit, box[2] * unit, box[3] * unit),
        ascent=extents.ascender * unit,
        descent=extents.descender * unit,
        caps=caps * unit,
        stem=50 + (weight // 65) ** 2,  # a rule of thumb: no table says it, and viewers use it for a stand-in alone
    )


@lru_cache
def known(name: str = SANS) -> frozenset[str]:
    """The characters the face can show without ordering or joining."""
    return frozenset(face(name).widths)


def covers(text: str, name: str = SANS) -> bool:
    """Whether the face can show all of the text."""
    return known(name).issuperset(text)


def width(text: str, size: float, name: str = SANS) -> float:
    """Advance width in the unit of `size`, of a text the face covers."""
    of = face(name).widths
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
