"""Pockets and cutters for the shop floor's tests."""

from __future__ import annotations

import math

import numpy as np

from pipeline.core.model import Blank
from pipeline.cutting.cutters import Cutter, EndMill
from pipeline.geometry.curves import Chain
from tests.builders import rectangle


def chain(points: list[tuple[float, float]], bulges: list[float] | None = None) -> Chain:
    return Chain(np.array([(*p, b) for p, b in zip(points, bulges or [0.0] * len(points), strict=True)], float))


def holding(*pockets: Chain) -> Blank:
    edge = rectangle(-200, -200, 400, 400)
    return Blank(edge=edge, width=600, height=600, thickness=19, zones=(("Z", edge),), pockets=pockets)


def mill(diameter: float, reach: float = 50.0) -> Cutter:
    return EndMill(name=f"mill {diameter:g}", diameter=diameter, reach=reach)


def rounded(width: float, height: float, radius: float) -> Chain:
    """A rectangle with rounded corners: bulge tan(90° / 4) each (published DXF reference)."""
    b, w, h, r = math.tan(math.pi / 8), width, height, radius
    points = [(r, 0.0), (w - r, 0.0), (w, r), (w, h - r), (w - r, h), (r, h), (0.0, h - r), (0.0, r)]
    return chain(points, [0.0, b] * 4)
