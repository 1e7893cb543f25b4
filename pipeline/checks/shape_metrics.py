"""Measurements of shapes, in their font units."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.checks.placed_glyphs import Who
from pipeline.geometry.medial.stroke_width import NarrowPlace


@dataclass(frozen=True, slots=True)
class ShapeMetrics:
    """The measurements of one shape. `who`: the glyphs of the shape that each place belongs to.

    stroke: the narrowest. widest: the widest place. land: the narrowest inside the shape, None when nothing is near.
    """

    stroke: NarrowPlace | None = None
    stroke_who: Who = ()
    widest: NarrowPlace | None = None
    widest_who: Who = ()
    land: NarrowPlace | None = None
    land_who: Who = ()


NOTHING = ShapeMetrics()


@dataclass(frozen=True, slots=True)
class JointMetrics:
    """Measurements of united glyphs inside the zone of a pair of them, in the first glyph's units: narrowest stroke,
    narrow places of land, widest place."""

    stroke: NarrowPlace | None
    lands: tuple[NarrowPlace, ...]
    widest: NarrowPlace | None


@dataclass(frozen=True, slots=True)
class Distance:
    """Of two shapes, in the first one's units: how far they are apart, and both ends of the shortest way."""

    value: float
    start: tuple[float, float]
    end: tuple[float, float]
