"""Lines set in typefaces of the shelf, for the tests of the checks."""

from functools import lru_cache

import numpy as np

from pipeline.core.config.order import BlankConfig, LineConfig, ListConfig, Order
from pipeline.core.model import Artwork, Blank, Piece, SetLine, SetRow
from pipeline.geometry.curves import Chain
from pipeline.lettering.font_face import open_face
from pipeline.lettering.shaping import shape_row


@lru_cache
def face(name):
    return open_face(name)


def set_line(text, name, cap, *, x=20.0, baseline=20.0, number=1, pitch=None, turn=0.0, tracking=0):
    """Set a line whose rows (split at "/") are one above the other."""
    rows = []
    for k, part in enumerate(text.split("/")):
        row = shape_row([face(name)], part, tracking=tracking)
        scale = cap / row.cap_units
        y = baseline - k * (pitch or 1.5 * cap)
        pieces = tuple(
            Piece(shape=s.shape, scale=scale * s.scale, x=x + s.x * scale, y=y + s.y * scale, turn=turn)
            for s in row.shapes
            if s.shape.outline
        )
        x0, _, x1, _ = row.ink
        rows.append(SetRow(text=part, pieces=pieces, x=x, baseline=y, width=(x1 - x0) * scale))
    return SetLine(
        line=number, text=text, face=name, cap_height=cap, tracking=tracking, rows=tuple(rows), width=0.0, slack=1.0
    )


def artwork(*lines):
    return Artwork(lines=lines)


def rectangle(x0, y0, x1, y1):
    return Chain(np.array([(x0, y0, 0), (x1, y0, 0), (x1, y1, 0), (x0, y1, 0)], float))


def blank(width=300.0, height=60.0, **parts):
    edge = rectangle(0, 0, width, height)
    return Blank(edge=edge, width=width, height=height, thickness=19.0, zones=(("Z", edge),), **parts)


def order(**parts):
    return Order(
        title="Trial",
        list=ListConfig(file="x.xlsx"),
        blank=BlankConfig(shape="rectangle", width=300.0, height=60.0, thickness=19.0),
        line=(LineConfig(text="{name}", face="noto-sans", cap_height=8.0),) * 3,
        **parts,
    )
