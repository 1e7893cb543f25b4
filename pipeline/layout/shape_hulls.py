"""Properties of a shape that layout needs, computed once per shape: convex hull, area, the part that counts for
centring."""

from __future__ import annotations

import math

import numpy as np
import shapely
import shapely.affinity
from shapely.geometry.base import BaseGeometry

from pipeline.core.model import Piece, Shape, ShapedRow
from pipeline.core.storage.cache import Cache
from pipeline.geometry.curves import Array
from pipeline.geometry.flatten import flatten
from pipeline.geometry.offset import OffsetOutline, offset_outline
from pipeline.geometry.regions import build_polygon_from_outline

FINENESS = 2500
"""Flattening of outlines for fit, parts of a cap height: at 10 mm capitals a curve is followed to 0.004 mm."""

HANGING = frozenset("'\"‘’“”‚„«»‹›.,·-–")
"""Light punctuation that hangs outside a centred row, so that the letters are centred (common practice, no source)."""


class ShapeHulls:
    """Memoised values of one order. Hulls are (n, 2) arrays."""

    def __init__(self, cache: Cache | None = None) -> None:
        """cache: where widened shapes are kept between runs; without one they last as long as this object."""
        self._cache = cache or Cache(None)
        self._hulls: dict[str, Array] = {}
        self._areas: dict[str, BaseGeometry] = {}

    def place_hull(self, piece: Piece) -> Array:
        """Convex hull of a piece on the blank, mm."""
        hull = self.get_hull(piece.shape)
        if piece.turn:
            c, s = math.cos(piece.turn) * piece.scale, math.sin(piece.turn) * piece.scale
            return np.asarray(hull @ np.array([[c, s], [-s, c]]) + (piece.x, piece.y))
        return np.asarray(hull * piece.scale + (piece.x, piece.y))

    def get_hull(self, shape: Shape) -> Array:
        """Convex hull in font units."""
        if shape.key not in self._hulls:
            rings = flatten(shape.outline, shape.cap_units / FINENESS)
            points = np.concatenate(rings)
            hull: Array = np.asarray(shapely.get_coordinates(shapely.convex_hull(shapely.multipoints(points))))
            self._hulls[shape.key] = hull
        return self._hulls[shape.key]

    def area(self, piece: Piece) -> BaseGeometry:
        """The piece's area on the blank, mm; open strokes as lines."""
        shape = piece.shape
        if shape.key not in self._areas:
            tolerance = shape.cap_units / FINENESS
            if shape.single_line:
                self._areas[shape.key] = shapely.multilinestrings(
                    [shapely.linestrings(ring) for ring in flatten(shape.outline, tolerance)]
                )
            else:
                self._areas[shape.key] = build_polygon_from_outline(shape.outline, tolerance)
        c, s = math.cos(piece.turn) * piece.scale, math.sin(piece.turn) * piece.scale
        return shapely.affinity.affine_transform(self._areas[shape.key], [c, -s, s, c, piece.x, piece.y])

    def grow_shape(self, shape: Shape, by: float, tolerance: float) -> OffsetOutline:
        """The shape widened by `by` on all sides (font units), within a tolerance. Single lines have none."""
        return self._cache.get_or_compute(
            "grown",
            (shape.key, by, tolerance),
            OffsetOutline,
            lambda: OffsetOutline((), by, 0.0) if shape.single_line else offset_outline(shape.outline, by, tolerance),
        )

    def measure_hanging(self, row: ShapedRow) -> tuple[float, float]:
        """Left and right end of the ink that counts for centring, in the row's units: light punctuation at the ends
        of a row hangs."""
        if row.ink is None:
            return 0.0, row.advance
        shapes = list(row.shapes)
        light = [all(set(g.text) <= HANGING for g in p.shape.glyphs) for p in shapes]
        if all(light) or not (light[0] or light[-1]):
            return row.ink[0], row.ink[2]
        xs = []
        ordered = sorted(range(len(shapes)), key=lambda i: shapes[i].x)
        while ordered and light[ordered[0]]:
            ordered.pop(0)
        while ordered and light[ordered[-1]]:
            ordered.pop()
        for i in ordered:
            p = shapes[i]
            hull = self.get_hull(p.shape)[:, 0] * p.scale + p.x
            xs += [float(hull.min()), float(hull.max())]
        return min(xs), max(xs)
