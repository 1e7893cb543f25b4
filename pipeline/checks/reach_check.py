"""Reach of a cutter into a letter: what a round one leaves in its corners, where a stroke is wider than the bit, and
the widest place of a grown letter.

Computed once per shape and radius, in the shape's font units.
"""

from __future__ import annotations

import shapely

from pipeline.checks.glyph_metrics import FINENESS, GlyphMetrics
from pipeline.checks.placed_glyphs import DECIMALS, Who, place_glyphs
from pipeline.core.model import Shape
from pipeline.cutting.corner_reach import Unreached, find_unreached
from pipeline.cutting.simulated_cut import QUARTER


def measure_corners(measures: GlyphMetrics, shape: Shape, radius: float) -> Unreached:
    """Return what a round cutter of this radius leaves of the shape."""
    key = ("corners", shape.key, round(radius, DECIMALS))
    found: Unreached = measures.recent.get_or_compute(key, lambda: find_unreached(measures.get_polygon(shape), radius))
    return found


def measure_opened_area(measures: GlyphMetrics, shape: Shape, radius: float, grown: float = 0.0) -> float:
    """Area in which a disc of this radius fits inside the shape grown by so much on all sides."""

    def compute() -> float:
        shrunk = shapely.buffer(measures.get_polygon(shape), grown - radius, quad_segs=QUARTER)
        return float(shapely.buffer(shrunk, radius, quad_segs=QUARTER).area)

    area: float = measures.recent.get_or_compute(
        ("opened", shape.key, round(radius, DECIMALS), round(grown, DECIMALS)), compute
    )
    return area


def measure_widest_grown(measures: GlyphMetrics, shape: Shape, grown: float) -> tuple[float, tuple[float, float]]:
    """The widest disc in a shape grown by so much on all sides, its diameter and middle. Growing fills crotches: it is
    wider than the widest disc of the shape by twice the growth or more."""

    def compute() -> tuple[float, tuple[float, float]]:
        region = shapely.buffer(measures.get_polygon(shape), grown, quad_segs=QUARTER)
        found = shapely.maximum_inscribed_circle(region, tolerance=shape.units_per_em * FINENESS)
        (x, y), _ = shapely.get_coordinates(found).tolist()
        return 2 * float(shapely.length(found)), (x, y)

    key = ("widest grown", shape.key, round(grown, DECIMALS))
    known: tuple[float, tuple[float, float]] = measures.recent.get_or_compute(key, compute)
    return known


def find_glyph(measures: GlyphMetrics, shape: Shape, x: float, y: float) -> Who:
    """Return which of a shape's glyphs a place of it belongs to, the nearest one."""
    place = shapely.Point(x, y)
    return min(
        place_glyphs(shape, 0.0, 0.0), key=lambda a: float(shapely.distance(measures.place_polygon(a), place))
    ).who
