"""Pockets and cutters for the shop floor tests."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from pipeline.core.config.shop_tables import PourConfig
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
    """Return a rectangle with rounded corners: bulge tan(90° / 4) each (published DXF reference)."""
    b, w, h, r = math.tan(math.pi / 8), width, height, radius
    points = [(r, 0.0), (w - r, 0.0), (w, r), (w, h - r), (w - r, h), (r, h), (0.0, h - r), (0.0, r)]
    return chain(points, [0.0, b] * 4)


def resin(**values: Any) -> PourConfig:
    """Return a resin with every value of its data sheet and of the workshop entered, except those given."""
    entered: dict[str, Any] = {
        "data_sheet": "Sheet of an invented resin",
        "overfill": 0.5,
        "waste": 0.15,
        "density": 1.1,
        "by_volume": (2.0, 1.0),
        "by_weight": (100.0, 47.0),
        "layer": 25.0,
        "working_time": 300.0,
        "stirring": 15.0,
        "rate": 25.0,
        "largest_mix": 1000.0,
        "between_layers": 12.0,
        "demould": 48.0,
        "machine": 96.0,
    }
    return PourConfig(**{key: value for key, value in (entered | values).items() if value is not None})
