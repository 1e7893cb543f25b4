"""The contours of a letter for the cut file: fitted with arcs, chords or splines, in cutting order.

They are fitted once per shape and tolerance, in font units, then placed. Tolerances go in steps (`STEPS` to a
doubling), so that letters of nearly the same size share one fit; a step is never looser than what was asked for.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from pipeline.core.model import Shape
from pipeline.core.storage.cache import Cache
from pipeline.core.storage.lru_cache import LruCache
from pipeline.geometry.arcs.arc_fitting import fit_arcs, fit_lines
from pipeline.geometry.arcs.deviation import measure_deviation
from pipeline.geometry.contour_order import order_inner_first, start_at, start_path_at
from pipeline.geometry.curves import Chain, Outline, Path
from pipeline.geometry.flatten import flatten, flatten_chain, outline_box
from pipeline.geometry.offset import OffsetOutline
from pipeline.geometry.splines import Spline, build_spline_from_path

STEPS = 8
"""Steps of the tolerance to a doubling: the tolerance a fit is made with is at most 9 % tighter than the one asked."""

ENTRY_HEIGHT = 0.35
"""Contours begin near the middle of the letter at this part of the cap height, which capitals and small letters share:
the way from letter to letter is then short and level. Common practice, no source."""

_CORNER = {"arcs": math.radians(8), "lines": math.radians(25), "splines": math.radians(8)}
"""Breaks up to this angle don't count as corners when a starting point is chosen; chords of a curve break by more than
arcs do."""

_MEASURED = 50.0

Curves = Literal["arcs", "lines", "splines"]


@dataclass(frozen=True, slots=True, eq=False)
class FittedContours:
    """The contours of one shape, font units, in the order of cutting, and how far they are from its outline at most,
    measured both ways (0 for splines, which are exact)."""

    contours: tuple[Chain | Spline, ...]
    deviation: float
    tolerance: float  # the tolerance it was fitted with


class ContourFitter:
    """Fits the shapes of one order, each when it is first needed, and remembers the result."""

    def __init__(self, curves: Curves, tolerance_mm: float, cache: Cache | None = None) -> None:
        """cache: where fits are kept between runs; without one they last as long as this object."""
        self.curves: Curves = curves
        self.tolerance_mm = tolerance_mm
        self._known: dict[tuple[str, int], FittedContours] = {}
        self._grown: dict[tuple[str, float], FittedContours] = {}
        self.recent: LruCache[Any] = LruCache()  # results for lines with these fits
        self._cache = cache or Cache(None)

    def find_step(self, scale: float) -> int:
        """The step of the tolerance for shapes drawn at this scale (mm per font unit); 0 for splines."""
        if self.curves == "splines":
            return 0
        return math.floor(STEPS * math.log2(self.tolerance_mm / scale) + 1e-9)

    def fit(self, shape: Shape, scale: float) -> FittedContours:
        """The fit of a shape that will be drawn at this scale (mm per font unit)."""
        key = (shape.key, self.find_step(scale))
        if key not in self._known:
            self._known[key] = self._fit_contours(shape, key[1])
        return self._known[key]

    def fit_grown(self, shape: Shape, grown: OffsetOutline, scale: float) -> FittedContours:
        """Fit the grown outline of a shape that is drawn at this scale, in the same way. All of an order's shapes are
        grown by the same length, so that shape and scale tell which."""
        key = (shape.key, scale)
        if key not in self._grown:
            self._grown[key] = self._fit_grown_contours(shape, grown, self.tolerance_mm / scale)
        return self._grown[key]

    def _fit_grown_contours(self, shape: Shape, grown: OffsetOutline, tolerance: float) -> FittedContours:
        chains, deviation = grown.chains, grown.deviation
        if self.curves == "lines":
            share = max(tolerance - deviation, tolerance / 8)
            flat = [flatten_chain(chain, share) for chain in chains]
            chains = tuple(Chain(np.column_stack((ring, np.zeros(len(ring)))), True) for ring in flat)
            deviation += share
        entry, corner = find_entry(shape, shape.outline), _CORNER[self.curves]
        turn = order_inner_first([flatten_chain(chain, shape.units_per_em / 500) for chain in chains])
        return FittedContours(tuple(start_at(chains[k], entry, corner) for k in turn), deviation, tolerance)

    def _fit_contours(self, shape: Shape, step: int) -> FittedContours:
        tolerance = 2.0 ** (step / STEPS)
        if self.curves == "splines":
            return FittedContours(_build_splines(shape), 0.0, tolerance)
        curves = self.curves
        return self._cache.get_or_compute(
            "fit",
            (shape.key, shape.cap_units, curves, step),
            FittedContours,
            lambda: fit_contours(shape, curves, tolerance),
        )


def find_entry(shape: Shape, outline: Outline) -> tuple[float, float]:
    """Return the point near which a shape's contours should begin, font units."""
    box = outline_box(outline)
    return (0.0 if box is None else (box[0] + box[2]) / 2, ENTRY_HEIGHT * shape.cap_units)


def _order_paths(shape: Shape) -> list[Path]:
    """The paths of a shape in the order of cutting. Open strokes keep the order they were drawn in."""
    if shape.single_line:
        return list(shape.outline)
    rings = flatten(shape.outline, shape.units_per_em / 500)
    return [shape.outline[k] for k in order_inner_first(rings)]


def fit_contours(shape: Shape, curves: Literal["arcs", "lines"], tolerance: float) -> FittedContours:
    """A shape's contours as chains within `tolerance` (font units), in the order of cutting, each begun well."""
    entry = find_entry(shape, shape.outline)
    chains, deviation = [], 0.0
    for path in _order_paths(shape):
        fit = fit_arcs(path, tolerance) if curves == "arcs" else fit_lines(path, tolerance)
        if not len(fit.chain.vertices):
            continue
        chain = start_at(fit.chain, entry, _CORNER[curves])
        off = (fit.off_path, fit.off_chain)
        if len(chain.vertices) > len(fit.chain.vertices):  # a piece was split: starting elsewhere moves nothing
            off = measure_deviation(path, chain, tolerance / _MEASURED)
        deviation = max(deviation, *off)
        chains.append(chain)
    return FittedContours(tuple(chains), deviation, tolerance)


def _build_splines(shape: Shape) -> tuple[Chain | Spline, ...]:
    """Contours as splines; those of straight sides only as chains."""
    entry = find_entry(shape, shape.outline)
    out: list[Chain | Spline] = []
    for path in _order_paths(shape):
        if max(path.degrees, default=1) == 1:
            chain = Chain(np.column_stack((path.points, np.zeros(len(path.points)))), path.closed)
            if path.closed:
                chain = start_at(Chain(chain.vertices[:-1], True), entry, _CORNER["splines"])
            out.append(chain)
        else:
            out.append(build_spline_from_path(start_path_at(path, entry, _CORNER["splines"])))
    return tuple(out)
