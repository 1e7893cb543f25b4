"""Union of letters that touch once they are turned on an arc."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Sequence

import numpy as np
import pathops

from pipeline.core.model import GlyphUse, Piece, Shape
from pipeline.lettering import outlines

TOUCH_OF_EM = 1 / 2500
"""Distance, in ems, up to which ink counts as touching: twice the flattening error of the test."""


def unite_touching(pieces: Sequence[Piece]) -> Piece:
    """Unite touching pieces into one, with the place, size and turn of the first.

    A single piece is returned as it is. The outline is united as curves in the first piece's font units. Its key holds
    the shapes and their relative positions, to a thousandth of a font unit and a millionth of a radian; it has no
    parts, so it is measured as a whole.
    """
    first = pieces[0]
    if len(pieces) == 1:
        return first
    path = pathops.Path()
    said, uses = [], []
    for piece in pieces:
        scale, turn = piece.scale / first.scale, piece.turn - first.turn
        c, s = math.cos(-first.turn) / first.scale, math.sin(-first.turn) / first.scale
        dx, dy = piece.x - first.x, piece.y - first.y
        x, y = c * dx - s * dy, s * dx + c * dy
        scale, turn, x, y = round(scale, 9), round(turn, 6), round(x, 3), round(y, 3)
        path.addPath(outlines.convert_to_pathops(tuple(p.transform(scale, x, y, turn) for p in piece.shape.outline)))
        said.append(f"{piece.shape.key}@{x:g},{y:g}*{scale:g}~{turn:g}")
        uses += [_move_use(use, scale, x, y, turn) for use in piece.shape.glyphs]
    key = hashlib.sha256("+".join(said).encode()).hexdigest()[:24]
    cap = first.shape.cap_units
    ink = outlines.drop_specks(outlines.unite_contours(path, cap, first.shape.units_per_em), cap)
    shape = Shape(
        key=outlines.build_key(f"{first.shape.key.split(':')[0]}:bent-{key}", ink.specks),
        outline=ink.outline,
        glyphs=tuple(uses),
        units_per_em=first.shape.units_per_em,
        cap_units=first.shape.cap_units,
    )
    return Piece(shape=shape, scale=first.scale, x=first.x, y=first.y, turn=first.turn)


def _move_use(use: GlyphUse, scale: float, x: float, y: float, turn: float) -> GlyphUse:
    c, s = math.cos(turn) * scale, math.sin(turn) * scale
    dx, dy = np.array([[c, -s], [s, c]]) @ (use.dx, use.dy) + (x, y)
    return GlyphUse(glyph=use.glyph, name=use.name, text=use.text, dx=float(dx), dy=float(dy), scale=use.scale * scale)
