"""Spacing of a set row: ink to ink between letters, between words and from row to row, in cap heights.

Measured on the row as it is set, straight: on an arc the spacing at mid cap height is the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import shapely

from pipeline.core.model import Piece, ShapedRow
from pipeline.layout.shape_hulls import ShapeHulls
from pipeline.layout.typesetter import LineResult


@dataclass(frozen=True, slots=True)
class LetterGap:
    """The clear distance between two neighbours, in cap heights, and the two characters as they are seen."""

    width: float
    between: str


@dataclass(frozen=True, slots=True)
class RowSpacing:
    """letters: between the closest points of neighbouring letters of a word, 0 where they touch or join. words: across,
    from the last ink of a word to the first of the next."""

    letters: tuple[LetterGap, ...]
    words: tuple[LetterGap, ...]


def measure_row_spacing(row: ShapedRow, hulls: ShapeHulls, pen: float = 0.0) -> RowSpacing:
    """The gaps of one row. pen: width of the line that a face of single lines is written with, in cap heights.

    A letter is its glyph with its marks. Neighbours are those that follow each other as they are seen, from left to
    right; a space of any kind between them in the text makes it a gap between words.
    """
    found: dict[int, list[shapely.Geometry]] = {}
    lines = False
    for placed in row.shapes:
        shape = placed.shape
        lines |= shape.single_line
        uses = zip(shape.parts or (shape,), shape.glyphs, placed.at or (0,) * len(shape.glyphs), strict=True)
        for part, use, at in uses:
            dx, dy = (use.dx, use.dy) if shape.parts else (0.0, 0.0)
            scale = placed.scale * use.scale if shape.parts else placed.scale
            x, y = placed.x + dx * placed.scale, placed.y + dy * placed.scale
            cap = row.cap_units
            area = hulls.area(Piece(shape=part, scale=scale / cap, x=x / cap, y=y / cap))
            found.setdefault(at, []).append(area)
    inks = {at: shapely.union_all(areas) if len(areas) > 1 else areas[0] for at, areas in found.items()}
    order = sorted(inks, key=lambda at: (inks[at].bounds[0] + inks[at].bounds[2], at))
    letters, words = [], []
    for a, b in pairwise(order):
        low, high = sorted((a, b))
        between = row.text[a] + row.text[b]
        if any(c.isspace() for c in row.text[low:high]):
            across = inks[b].bounds[0] - inks[a].bounds[2]
            words.append(LetterGap(float(across) - (pen if lines else 0.0), between))
        else:
            gap = float(inks[a].distance(inks[b])) - (pen if lines else 0.0)
            letters.append(LetterGap(max(gap, 0.0), between))
    return RowSpacing(tuple(letters), tuple(words))


def measure_line_pitches(tried: Sequence[LineResult], block: Sequence[int]) -> dict[int, list[float]]:
    """By line of the design, the distances of its rows' baselines from the row above in the same block of lines, as a
    part of the larger of the two cap heights. block: the numbers of the lines that are placed together."""
    rows = [
        (t.text.line, t.setting.cap_height, placed.set_row.baseline)
        for t in tried
        if t.text.line in block and t.setting is not None
        for placed in t.placed
    ]
    out: dict[int, list[float]] = {}
    for (_, upper, above), (line, lower, below) in pairwise(rows):
        out.setdefault(line, []).append((above - below) / max(upper, lower))
    return out
