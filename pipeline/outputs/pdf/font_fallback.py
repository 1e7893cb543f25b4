"""Text a reading face has not: its runs, what is drawn in their place, and how their characters are spelt out."""

from __future__ import annotations

import re
from dataclasses import dataclass

from pipeline.core.model import SetRow, Shape, ShapedRow
from pipeline.outputs.pdf import fonts

HELD = "\uffff"
"""Stands for a space inside a run that is not to be parted while lines are broken: no character has this code."""


@dataclass(frozen=True, slots=True, eq=False)
class RepeatedLettering:
    """Set lettering to be repeated in running text: shapes with place and scale where a cap height is 1."""

    shapes: tuple[tuple[Shape, float, float, float], ...]
    advance: float

    @classmethod
    def from_row(cls, row: SetRow, cap_height: float) -> RepeatedLettering:
        """Take it from a row of artwork on a straight baseline."""
        placed = [
            (p.shape, (p.x - row.x) / cap_height, (p.y - row.baseline) / cap_height, p.scale / cap_height)
            for p in row.pieces
        ]
        return cls(tuple(placed), row.width / cap_height)

    @classmethod
    def from_shaped(cls, row: ShapedRow) -> RepeatedLettering:
        """Take it from a row shaped for this purpose, in font units."""
        unit = row.cap_units
        placed = [(p.shape, p.x / unit, p.y / unit, p.scale / unit) for p in row.shapes]
        return cls(tuple(placed), row.advance / unit)


def split_by_font(text: str, face: str) -> list[tuple[str, bool]]:
    """The text in runs that the face covers, and runs that it does not (with the spaces between such words)."""
    known = fonts.get_known_characters(face)
    pieces = re.split(r"(\s+)", text)
    out: list[tuple[str, bool]] = []
    for piece in pieces:
        start = 0
        for i in range(1, len(piece) + 1):
            own = piece[start] in known
            if i == len(piece) or (piece[i] in known) != own:
                _append(out, piece[start:i], own)
                start = i
    return out


def _append(out: list[tuple[str, bool]], run: str, own: bool) -> None:
    if out and out[-1][1] == own:
        out[-1] = (out[-1][0] + run, own)
    elif not own and len(out) > 1 and out[-1][0].isspace() and not out[-2][1]:
        space, _ = out.pop()
        out[-1] = (out[-1][0] + space + run, False)
    else:
        out.append((run, own))


def spell_out(run: str) -> str:
    """Code points of text that nothing at hand can draw, in Unicode's own notation."""
    codes = [f"U+{ord(c):04X}" for c in run if not c.isspace()]
    return "[" + " ".join(codes[:4]) + (" …" if len(codes) > 4 else "") + "]"
