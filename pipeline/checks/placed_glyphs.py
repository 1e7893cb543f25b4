"""The glyphs of a row in their places, and their positions relative to one another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from pipeline.core.model import Shape
from pipeline.geometry.medial.stroke_width import NarrowPlace
from pipeline.geometry.regions import Region

DECIMALS = 6
"""Relative places are compared to this many decimals of a font unit."""

Who = tuple[int, ...]
"""Which of a shape's glyphs."""


@dataclass(frozen=True, slots=True, eq=False)
class PlacedGlyph:
    """One glyph of a row with its place in the row's unit: scaled, then turned (radians), then shifted."""

    shape: Shape
    x: float
    y: float
    scale: float = 1.0
    turn: float = 0.0
    who: Who = ()


def place_glyphs(shape: Shape, x: float, y: float, *, scale: float = 1.0, turn: float = 0.0) -> list[PlacedGlyph]:
    """The glyphs of a shape that stands at (x, y), each by itself where the shape knows its parts."""
    if not shape.parts or len(shape.parts) != len(shape.glyphs):
        return [PlacedGlyph(shape, x, y, scale, turn, tuple(range(len(shape.glyphs))))]
    c, s = float(np.cos(turn)) * scale, float(np.sin(turn)) * scale
    return [
        PlacedGlyph(part, x + c * g.dx - s * g.dy, y + s * g.dx + c * g.dy, scale * g.scale, turn, (k,))
        for k, (part, g) in enumerate(zip(shape.parts, shape.glyphs, strict=True))
    ]


def compute_relative_place(a: PlacedGlyph, b: PlacedGlyph) -> tuple[float, float, float, float]:
    """(scale, turn, dx, dy) of b in a's font units, rounded so that equal places have equal keys."""
    c, s = float(np.cos(a.turn)), float(np.sin(a.turn))
    dx, dy = (b.x - a.x) / a.scale, (b.y - a.y) / a.scale
    out = (b.scale / a.scale, b.turn - a.turn, c * dx + s * dy, c * dy - s * dx)
    scale, turn, dx, dy = (round(v, DECIMALS) + 0.0 for v in out)
    return scale, turn, dx, dy


def place_region(region: Region, scale: float, turn: float, dx: float, dy: float) -> Region:
    c, s = float(np.cos(turn)) * scale, float(np.sin(turn)) * scale
    return shapely.transform(region, lambda p: p @ np.array([[c, s], [-s, c]]) + (dx, dy))


def transform_to_row(a: PlacedGlyph, x: float, y: float) -> tuple[float, float]:
    c, s = float(np.cos(a.turn)) * a.scale, float(np.sin(a.turn)) * a.scale
    return a.x + c * x - s * y, a.y + s * x + c * y


def move_place_to_row(a: PlacedGlyph, p: NarrowPlace) -> NarrowPlace:
    x, y = transform_to_row(a, p.x, p.y)
    return NarrowPlace(p.width * a.scale, p.kind, x, y)


def are_near(a: Sequence[float], b: Sequence[float], slack: float) -> bool:
    return a[0] <= b[2] + slack and b[0] <= a[2] + slack and a[1] <= b[3] + slack and b[1] <= a[3] + slack
