"""A row on a circular arc, for medals and round plaques.

Letters are turned, never bent. Spacing is kept where the eye judges it, at mid cap height: the length of arc there
between two letters is the distance they have when set straight.
"""

from __future__ import annotations

import math

from pipeline.core.model import Piece, SetRow, ShapedRow
from pipeline.core.order import Arc
from pipeline.layout.block import PlacedRow
from pipeline.layout.hulls import Hulls


def place_on_arc(
    row: ShapedRow, cap_height: float, arc: Arc, middle: tuple[float, float], align: str, hulls: Hulls
) -> PlacedRow:
    """The row with its baseline on the arc. middle: of the blank, where the arc is centred unless it says otherwise.

    Along the top letters stand outwards and the row reads clockwise; along the bottom they stand inwards and it reads
    anticlockwise. Without `start` the ink is centred on the top or the bottom; with it the row begins (left), ends
    (right) or is centred there.
    """
    scale = cap_height / row.cap_units
    sense = -1.0 if arc.at == "top" else 1.0
    radius = arc.radius - sense * cap_height / 2  # where spacing is measured
    cx, cy = arc.centre or middle
    left, right = hulls.hanging(row)
    if arc.start is None:
        start, anchor = (math.pi / 2 if arc.at == "top" else -math.pi / 2), (left + right) / 2
    else:
        start = math.radians(arc.start)
        anchor = {"left": left, "right": right}.get(align, (left + right) / 2)
    pieces = []
    for placed in row.shapes:
        hull = hulls.of_shape(placed.shape)
        own = (float(hull[:, 0].min()) + float(hull[:, 0].max())) / 2 * placed.scale  # middle of the letter, row units
        angle = start + sense * (placed.x + own - anchor) * scale / radius
        turn = angle + sense * math.pi / 2
        out = arc.radius
        base = cx + out * math.cos(angle), cy + out * math.sin(angle)
        dx, dy = -own * scale, placed.y * scale
        c, s = math.cos(turn), math.sin(turn)
        pieces.append(
            Piece(
                shape=placed.shape,
                scale=scale * placed.scale,
                x=base[0] + c * dx - s * dy,
                y=base[1] + s * dx + c * dy,
                turn=turn,
            )
        )
    width = (row.ink[2] - row.ink[0]) * scale if row.ink else 0.0
    set_row = SetRow(text=row.text, pieces=tuple(pieces), x=0.0, baseline=arc.radius, width=width)
    over = width - math.radians(arc.sweep) * radius
    return PlacedRow(row=row, set_row=set_row, hulls=tuple(hulls.of(piece) for piece in pieces), over=max(over, 0.0))
