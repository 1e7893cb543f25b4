"""What is measured of shapes, in their font units."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.checks.atoms import Who
from pipeline.geometry.narrowest import Narrow


@dataclass(frozen=True, slots=True)
class Measured:
    """What is known of one shape. `who`: which of the shape's glyphs each place belongs to.

    stroke: the narrowest. widest: the widest place. land: the narrowest inside the shape, None when nothing is near.
    """

    stroke: Narrow | None = None
    stroke_who: Who = ()
    widest: Narrow | None = None
    widest_who: Who = ()
    land: Narrow | None = None
    land_who: Who = ()


NOTHING = Measured()


@dataclass(frozen=True, slots=True)
class Joint:
    """What is known of united glyphs inside the zone of a pair of them, in the first glyph's units: narrowest stroke,
    narrow places of land, widest place."""

    stroke: Narrow | None
    lands: tuple[Narrow, ...]
    widest: Narrow | None


@dataclass(frozen=True, slots=True)
class Distance:
    """Of two shapes, in the first one's units: how far they are apart, and both ends of the shortest way."""

    value: float
    start: tuple[float, float]
    end: tuple[float, float]
