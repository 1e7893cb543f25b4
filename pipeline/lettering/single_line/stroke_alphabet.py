"""A single-line alphabet: the letters of a file, and those composed of them and drawn marks."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Mapping, Sequence
from itertools import pairwise

import numpy as np

from pipeline.geometry.curves import Array
from pipeline.lettering.single_line import drawn_marks as drawn
from pipeline.lettering.single_line.jhf_file import CAP, StrokeGlyph, is_dot

_GAP = 2.6  # grid steps between a letter and a mark above it, and between two marks
_BESIDE = 5.8  # grid steps between the second mark of ấ, ẩ, ầ and the first, sideways
_BEARING = 3.0  # side bearing of the drawn letters
_X_HEIGHT = 14.0  # of the drawn lower-case letters

_SOFT_DOTTED = frozenset("ij")
_GREEK_CAPITALS = frozenset("ΑΕΗΙΟΥΩ")


class StrokeAlphabet:
    """Letters by character; a letter missing from the file is composed when first needed, if possible."""

    def __init__(self, letters: Mapping[str, StrokeGlyph], slant: float = 0.0) -> None:
        """slant: x gained per y by an upright of the face; the drawn marks and letters are slanted alike."""
        self._file = dict(letters)
        self._slant = slant
        self._made: dict[str, StrokeGlyph | None] = {}
        small = self._file.get("x") or self._file.get("ο")
        self.x_height = float(small.points[:, 1].max()) if small else _X_HEIGHT

    def get(self, character: str) -> StrokeGlyph | None:
        """Return a character, composed or decomposed; None when it is neither in the file nor can be composed."""
        if character in self._file:
            return self._file[character]
        if character not in self._made:
            self._made[character] = self._make(unicodedata.normalize("NFC", character))
        return self._made[character]

    def _make(self, character: str) -> StrokeGlyph | None:
        if character in self._file:
            return self._file[character]
        if character in _RECIPES:
            return _RECIPES[character](self)
        if character in drawn.SIGNS:
            half, strokes = drawn.SIGNS[character]
            return StrokeGlyph(tuple(np.array(s) for s in strokes), -half, half)
        if character in drawn.CAPITALS and "A" in self._file:
            return self._build_own(drawn.CAPITALS[character], 1.0)
        if character in drawn.SMALL and ("a" in self._file or character == "ς"):
            tall = max(y for stroke in drawn.SMALL[character][1] for _, y in stroke) > _X_HEIGHT
            return self._build_own(drawn.SMALL[character], 1.0 if tall else self.x_height / _X_HEIGHT)
        base, marks = _decompose(character)
        if not marks or not drawn.MARKS.issuperset(marks):
            return None
        glyph = self.get_dotless(base) if base in _SOFT_DOTTED and set(marks) & drawn.ABOVE.keys() else self.get(base)
        return None if glyph is None else self._add_marks(base, glyph, marks)

    def get_dotless(self, letter: str) -> StrokeGlyph | None:
        """Return i or j without its dot."""
        glyph = self._file.get(letter)
        return glyph and StrokeGlyph(tuple(s for s in glyph.strokes if not is_dot(s)), glyph.left, glyph.right)

    # --- marks ----------------------------------------------------------------------------------------------------

    def _add_marks(self, base: str, glyph: StrokeGlyph, marks: Sequence[str]) -> StrokeGlyph:
        strokes = list(glyph.strokes)
        left, right = glyph.left, glyph.right
        low, high = _measure_extent(glyph)
        above: list[str] = []
        level = high + _GAP
        for mark in marks:
            if mark == "\u031b":
                horn, at = np.array(drawn.HORN), (find_right_edge(glyph, high * 0.88), high * 0.88)
                strokes.append(horn + at)
                right = max(right, at[0] + 2.7 + _BEARING / 2)
            elif mark == "\u030c" and base in drawn.CARON_BESIDE:
                x = find_right_edge(glyph, high - 2) + (5.5 if base == "L" else 3.2)
                strokes.append(np.array(drawn.APOSTROPHE) + (x, CAP))
                right = right if base == "L" else max(right, x + _BEARING)
            elif mark == "\u0327" and base == "g":
                strokes += self._place_mark(drawn.ABOVE["\u0312"], _find_centre(glyph, top=True), high + _GAP)
            elif mark in drawn.BELOW:
                strokes += self._place_below(base, glyph, mark, low)
            elif mark == "\u0301" and base in _GREEK_CAPITALS:
                x = float(glyph.points[:, 0].min()) - 3.4
                strokes += self._place_mark(drawn.ABOVE[mark], x, CAP - 4.2)
                left = min(left, x - 3.0)
            else:
                strokes += self._place_above(glyph, mark, above, level)
                if not (above and above[-1] == "\u0308" and mark == "\u0301"):
                    level = max(float(s[:, 1].max()) for s in strokes) + _GAP / 2
                above.append(mark)
        return StrokeGlyph(tuple(strokes), left, right)

    def _place_above(self, glyph: StrokeGlyph, mark: str, before: Sequence[str], level: float) -> list[Array]:
        x = _find_centre(glyph, top=True)
        top = _measure_extent(glyph)[1]
        if before and before[-1] == "\u0302" and mark in "\u0300\u0301\u0309":  # ấ ầ ẩ: beside the circumflex
            side = -_BESIDE if mark == "\u0300" else _BESIDE
            return self._place_mark(drawn.ABOVE[mark], x + side, top + _GAP + 2.4)
        if before and before[-1] == "\u0308" and mark == "\u0301":  # ΐ: between the dots
            return self._place_mark(drawn.ABOVE[mark], x, top + _GAP + 0.4)
        return self._place_mark(drawn.ABOVE[mark], x, level)

    def _place_below(self, base: str, glyph: StrokeGlyph, mark: str, low: float) -> list[Array]:
        if mark == "\u0327" and base in drawn.COMMA_FOR_CEDILLA:
            mark = "\u0326"
        x = _find_centre(glyph, top=False)
        if mark == "\u0328":
            foot = glyph.points[glyph.points[:, 1] <= low + 1.5]
            x = float(foot[:, 0].max()) - 0.8 if base not in "Oo" else x
        elif low < -2:  # a descender is in the way: put it beside
            x = find_right_edge(glyph, 0.0) if mark == "\u0323" else x
            low = 0.0
        return self._place_mark(drawn.BELOW[mark], x, low)

    def _place_mark(self, mark: Sequence[drawn.Stroke], x: float, y: float) -> list[Array]:
        return [self._slant_stroke(np.array(stroke)) + (x, y) for stroke in mark]

    def _slant_stroke(self, stroke: Array) -> Array:
        out: Array = stroke @ np.array([[1.0, 0.0], [self._slant, 1.0]])
        return out

    def _build_own(self, letter: tuple[float, tuple[drawn.Stroke, ...]], scale: float) -> StrokeGlyph:
        width, strokes = letter
        made = tuple(self._slant_stroke(np.array(s) * scale) for s in strokes)
        return StrokeGlyph(made, -_BEARING, width * scale + _BEARING)

    # --- for the recipes ------------------------------------------------------------------------------------------

    def add_strokes(self, letter: str, *strokes: Sequence[tuple[float, float]]) -> StrokeGlyph | None:
        glyph = self.get(letter)
        return glyph and StrokeGlyph(
            (*glyph.strokes, *(np.array(s, dtype=float) for s in strokes)), glyph.left, glyph.right
        )

    def join_letters(self, first: str, second: str, gap: float | None = None) -> StrokeGlyph | None:
        """Join two letters: their ink `gap` apart, or set as usual."""
        a, b = self.get(first), self.get(second)
        if a is None or b is None:
            return None
        dx = a.right - b.left
        if gap is not None:
            dx = float(a.points[:, 0].max() - b.points[:, 0].min()) + gap
        return StrokeGlyph((*a.strokes, *(s + (dx, 0.0) for s in b.strokes)), a.left, b.right + dx)

    def raise_letters(self, characters: str, scale: float, up: float, *extra: drawn.Stroke) -> StrokeGlyph | None:
        glyph = self.get(characters)
        if glyph is None:
            return None
        strokes = [s * scale + (0.0, up) for s in glyph.strokes] + [np.array(s) for s in extra]
        return StrokeGlyph(tuple(strokes), glyph.left * scale - 0.5, glyph.right * scale + 0.5)


def find_right_edge(glyph: StrokeGlyph, y: float) -> float:
    """Find the rightmost ink of a letter at a height (or its rightmost ink of all, when nothing crosses there)."""
    found = find_crossings(glyph, y)
    return found[-1] if found else float(glyph.points[:, 0].max())


def find_crossings(glyph: StrokeGlyph, y: float) -> list[float]:
    """Find where a letter's strokes cross a height, left to right."""
    out = []
    for stroke in glyph.strokes:
        for (x0, y0), (x1, y1) in pairwise(stroke):
            if min(y0, y1) <= y <= max(y0, y1):
                out += [float(x0), float(x1)] if y0 == y1 else [float(x0 + (x1 - x0) * (y - y0) / (y1 - y0))]
    return sorted(out)


def _decompose(character: str) -> tuple[str, tuple[str, ...]]:
    """Decompose a character into its letter and marks, those below first, in Unicode's order."""
    parts = unicodedata.normalize("NFD", character)
    return parts[0], tuple(parts[1:])


def _measure_extent(glyph: StrokeGlyph) -> tuple[float, float]:
    y = glyph.points[:, 1]
    return float(y.min()), float(y.max())


def _find_centre(glyph: StrokeGlyph, *, top: bool) -> float:
    """Find the middle of a letter's upper (lower) third."""
    low, high = max(_measure_extent(glyph)[0], 0.0), _measure_extent(glyph)[1]
    heights = np.linspace(high - (high - low) * 0.3, high, 7) if top else np.linspace(low, low + (high - low) * 0.3, 7)
    xs = [x for y in heights for x in find_crossings(glyph, float(y))]
    return (min(xs) + max(xs)) / 2 if xs else float(glyph.points[:, 0].mean())


# --- letters made of the file's own -------------------------------------------------------------------------------

Recipe = Callable[[StrokeAlphabet], StrokeGlyph | None]


def _build_slash(letter: str) -> Recipe:
    def build(alphabet: StrokeAlphabet) -> StrokeGlyph | None:
        glyph = alphabet.get(letter)
        if glyph is None:
            return None
        low, high = _measure_extent(glyph)
        x = sorted(find_crossings(glyph, (low + high) / 2))
        return alphabet.add_strokes(letter, ((x[0] - 0.6, low - 1.6), (x[-1] + 0.6, high + 1.6)))

    return build


def _build_bar(letter: str, height: float, before: float, after: float, *, stem: str = "left") -> Recipe:
    """Build a bar across a stem at a fraction of the letter's height."""

    def build(alphabet: StrokeAlphabet) -> StrokeGlyph | None:
        glyph = alphabet.get(letter)
        if glyph is None:
            return None
        y = _measure_extent(glyph)[1] * height
        xs = find_crossings(glyph, y)
        x0, x1 = {"left": (xs[0], xs[0]), "right": (xs[-1], xs[-1]), "all": (xs[0], xs[-1])}[stem]
        return alphabet.add_strokes(letter, ((x0 - before, y), (x1 + after, y)))

    return build


def _build_l_slash(letter: str) -> Recipe:
    def build(alphabet: StrokeAlphabet) -> StrokeGlyph | None:
        glyph = alphabet.get(letter)
        if glyph is None:
            return None
        y = CAP * 0.52
        xs = find_crossings(glyph, y)
        return alphabet.add_strokes(letter, ((xs[0] - 3.0, y - 2.2), (xs[-1] + 3.4, y + 2.6)))

    return build


def _build_eng(letter: str) -> Recipe:
    def build(alphabet: StrokeAlphabet) -> StrokeGlyph | None:
        glyph = alphabet.get(letter)
        if glyph is None:
            return None
        x = find_right_edge(glyph, 0.0)
        return alphabet.add_strokes(
            letter, ((x, 0.0), (x - 0.1, -2.6), (x - 1.4, -5.0), (x - 3.6, -6.2), (x - 5.4, -6.2))
        )

    return build


def _build_upside_down(letter: str) -> Recipe:
    """Turn a letter by 180°, hanging from the x-height."""

    def build(alphabet: StrokeAlphabet) -> StrokeGlyph | None:
        glyph = alphabet.get(letter)
        if glyph is None:
            return None
        middle = (glyph.left + glyph.right) / 2
        high = _measure_extent(glyph)[1] - (CAP - alphabet.x_height)
        return StrokeGlyph(tuple((2 * middle, high) - s for s in glyph.strokes), glyph.left, glyph.right)

    return build


def _build_fraction(over: str, under: str) -> Recipe:
    def build(alphabet: StrokeAlphabet) -> StrokeGlyph | None:
        a, b = alphabet.raise_letters(over, 0.55, 9.6), alphabet.raise_letters(under, 0.55, 0.0)
        if a is None or b is None:
            return None
        x = a.right
        bar = np.array(((x - 3.4, -0.6), (x + 6.2, 21.6)))
        shift = x + 3.0 - b.left
        return StrokeGlyph((*a.strokes, bar, *(s + (shift, 0.0) for s in b.strokes)), a.left, b.right + shift)

    return build


def _build_micro(alphabet: StrokeAlphabet) -> StrokeGlyph | None:
    glyph = alphabet.get("u")
    if glyph is None:
        return None
    x = float(glyph.points[:, 0].min())
    return alphabet.add_strokes("u", ((x, 3.0), (x, -6.0)))


def _build_schwa(height: float | None) -> Recipe:
    """Build the letter e turned by 180°, at its own height or at this one."""

    def build(alphabet: StrokeAlphabet) -> StrokeGlyph | None:
        glyph = alphabet.get("e")
        if glyph is None:
            return None
        high = _measure_extent(glyph)[1]
        scale = (height or high) / high
        middle = float(glyph.points[:, 0].min() + glyph.points[:, 0].max())
        turned = tuple(((middle, high) - s) * scale for s in glyph.strokes)
        return StrokeGlyph(turned, glyph.left * scale, glyph.right * scale)

    return build


_RECIPES: dict[str, Recipe] = {
    "Ə": _build_schwa(CAP),
    "ə": _build_schwa(None),
    "Ø": _build_slash("O"),
    "ø": _build_slash("o"),
    "Đ": _build_bar("D", 0.52, 3.0, 4.5),
    "Ð": _build_bar("D", 0.52, 3.0, 4.5),
    "đ": _build_bar("d", 0.82, 4.6, 2.2, stem="right"),
    "Ħ": _build_bar("H", 0.76, 2.4, 2.4, stem="all"),
    "ħ": _build_bar("h", 0.82, 2.4, 4.4),
    "Ŧ": _build_bar("T", 0.5, 3.6, 3.6),
    "ŧ": _build_bar("t", 0.36, 2.6, 3.0),
    "Ł": _build_l_slash("L"),
    "ł": _build_l_slash("l"),
    "Ŋ": _build_eng("N"),
    "ŋ": _build_eng("n"),
    "ı": lambda a: a.get_dotless("i"),
    "ȷ": lambda a: a.get_dotless("j"),
    "æ": lambda a: a.join_letters("a", "e", 0.0),
    "œ": lambda a: a.join_letters("o", "e", 0.0),
    "Ĳ": lambda a: a.join_letters("I", "J"),
    "ĳ": lambda a: a.join_letters("i", "j"),
    "Ŀ": lambda a: a.join_letters("L", "·", -6.0),
    "ŀ": lambda a: a.join_letters("l", "·", 2.6),
    "ŉ": lambda a: a.join_letters("’", "n"),
    "¡": _build_upside_down("!"),
    "¿": _build_upside_down("?"),
    "ª": lambda a: a.raise_letters("a", 0.6, 12.0, ((-4.0, 9.6), (4.0, 9.6))),
    "º": lambda a: a.raise_letters("o", 0.6, 12.0, ((-4.0, 9.6), (4.0, 9.6))),
    "¹": lambda a: a.raise_letters("1", 0.55, 9.6),
    "²": lambda a: a.raise_letters("2", 0.55, 9.6),
    "³": lambda a: a.raise_letters("3", 0.55, 9.6),
    "¼": _build_fraction("1", "4"),
    "½": _build_fraction("1", "2"),
    "¾": _build_fraction("3", "4"),
    "µ": _build_micro,
}
