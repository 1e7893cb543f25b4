"""Single-line typefaces: letters of open strokes for an engraving point, spaced by their side bearings alone."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping

from pipeline.core.errors import CannotRun, Fault
from pipeline.core.required import require_value
from pipeline.geometry.curves import Path
from pipeline.geometry.flatten import outline_box
from pipeline.lettering.outlines import NOTHING, GlyphOutline
from pipeline.lettering.shelf import ShelfFace
from pipeline.lettering.single_line.jhf_file import CAP, StrokeGlyph, read_jhf, smooth_stroke
from pipeline.lettering.single_line.stroke_alphabet import StrokeAlphabet
from pipeline.lettering.single_line.svg_font import read_svg_font
from pipeline.lettering.text_runs import TextRun, split_clusters
from pipeline.lettering.typeface import ShapedGlyph, Typeface, is_ignorable

UNITS = 32
"""Font units to a grid step, so that an em of 1000 units is about a third more than the cap height plus a descender."""

_PLACES = "".join(chr(code) for code in range(0x20, 0x7F))
_GREEK = "ΑΒΓΔΕΖΗΘΙΚΛΜΝΞΟΠΡΣΤΥΦΧΨΩ"
_SPACES = {"\u00a0": " ", "\u202f": " "}  # no-break spaces are as wide as the space


class StrokeFace(Typeface):
    """A single-line typeface of the shelf."""

    single_line = True

    def __init__(self, source: ShelfFace, data: bytes, where: str = "") -> None:
        super().__init__(source.name, where=where, shelf_face=source, sha256=source.sha256)
        try:
            letters = _read_letters(source, data)
        except ValueError as problem:
            raise CannotRun(
                Fault(
                    where=str(source.path), found=f"the file is damaged: {problem}", remedy="install the program again"
                )
            ) from problem
        self.alphabet = StrokeAlphabet(letters, source.slant)
        self.units_per_em = 1000
        self.cap_units = CAP * UNITS
        self._by_number: dict[int, str] = {}
        self._drawn: dict[int, GlyphOutline] = {}

    def has(self, character: str) -> bool:
        return all(is_ignorable(c) for c in character) or self._get_glyph(character) is not None

    def shape_run(
        self, text: str, run: TextRun, language: str | None, features: Mapping[str, bool | int]
    ) -> list[ShapedGlyph]:
        steps = []
        for start, end in split_clusters(text, run.start, run.end):
            character = text[start:end]
            if all(is_ignorable(c) for c in character):
                continue
            glyph = self._get_glyph(character)
            if glyph is None:
                steps.append(ShapedGlyph(0, start, 0.0, 0.0, 0.0))
            else:
                width = (glyph.right - glyph.left) * UNITS
                steps.append(ShapedGlyph(self._number_character(character), start, width, -glyph.left * UNITS, 0.0))
        return steps[::-1] if run.right_to_left else steps

    def draw_glyph(self, glyph: int) -> GlyphOutline:
        if glyph not in self._drawn:
            letter = self._get_glyph(self._by_number[glyph])
            strokes = letter.strokes if letter else ()
            paths = tuple(_scale_path(smooth_stroke(stroke)) for stroke in strokes)
            self._drawn[glyph] = GlyphOutline(paths, outline_box(paths)) if paths else NOTHING
        return self._drawn[glyph]

    def get_glyph_name(self, glyph: int) -> str:
        return " ".join(f"U+{ord(c):04X}" for c in self._by_number.get(glyph, "")) or ".notdef"

    def _get_glyph(self, character: str) -> StrokeGlyph | None:
        return self.alphabet.get(_decompose_plain(character))

    def _number_character(self, character: str) -> int:
        """Return a glyph number that depends on the character alone, so that it is the same in every process."""
        plain = _decompose_plain(character)
        number = 0
        for c in plain:
            number = number * 0x110000 + ord(c)
        self._by_number[number] = plain
        return number


def _decompose_plain(character: str) -> str:
    seen = "".join(c for c in character if not is_ignorable(c))
    return unicodedata.normalize("NFC", _SPACES.get(seen, seen))


def _read_letters(source: ShelfFace, data: bytes) -> dict[str, StrokeGlyph]:
    """Read the file's letters by character. ValueError when it is damaged."""
    if source.layout == "svg":
        found = read_svg_font(
            data, baseline=source.baseline, cap_height=require_value(source.cap_height, "its cap height")
        )
    else:
        found = dict(zip(_PLACES, read_jhf(data.decode("ascii")), strict=False))
    return _map_letters(found, source.layout)


def _map_letters(found: dict[str, StrokeGlyph], layout: str) -> dict[str, StrokeGlyph]:
    """Map the positions of the file to characters."""
    if "-" in found and layout != "svg":
        found["−"] = found.pop("-")  # drawn as long as a minus: between the parts of a name it would look like a dash
    if layout == "greek":
        for place, letter in zip("ABCDEFGHIJKLMNOPQRSTUVWX", _GREEK, strict=True):
            found[letter] = found[place]
            found[letter.lower()] = found[place.lower()]
        for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz":
            del found[letter]
    return {character: glyph for character, glyph in found.items() if glyph.strokes or character == " "}


def _scale_path(path: Path) -> Path:
    return path.transform(UNITS)
