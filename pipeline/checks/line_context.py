"""Parts that the checks of one line share: the places and letters of its pieces, and words for findings."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from pipeline.core.model import Piece, SetLine, Shape

KIND_WORDS = {
    "piece": "the whole stroke",
    "neck": "a narrowing",
    "branch": "a thin join or serif",
}
"""Kinds of stroke, in a maker's words."""


def list_pieces(line: SetLine) -> Iterator[Piece]:
    """Every piece of a line, row by row."""
    for row in line.rows:
        yield from row.pieces


def locate_on_blank(piece: Piece, x: float, y: float) -> tuple[float, float]:
    """A place in the shape's font units, in mm on the blank."""
    c, s = math.cos(piece.turn) * piece.scale, math.sin(piece.turn) * piece.scale
    return piece.x + c * x - s * y, piece.y + s * x + c * y


def get_letters_at(shape: Shape, who: Sequence[int]) -> str:
    """The characters of these of its glyphs."""
    return "".join(shape.glyphs[k].text for k in who)


def list_others(others: Sequence[str], how: str = "too thin", most: int = 8) -> str:
    """List the other letters with this fault, for the end of a sentence; empty when there are none."""
    seen = list(dict.fromkeys(others))
    if not seen:
        return ""
    shown = ", ".join(f"“{o}”" for o in seen[:most])
    more = f" and {len(seen) - most} more" if len(seen) > most else ""
    return f"; {how} also: {shown}{more}"
