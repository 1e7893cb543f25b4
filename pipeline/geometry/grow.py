"""Outlines moved outwards by a distance, as chains of lines and arcs: an offset Bézier curve is not a Bézier curve."""

from __future__ import annotations

import math

import numpy as np

from pipeline.geometry.arcfit import fit_arcs
from pipeline.geometry.curves import Array, Chain, Outline, Path
from pipeline.geometry.regions import polygon_of, rings_of

DEFINITION = "grown 3"
"""Changes whenever the chains made here change: kept ones of another definition are not used."""

LEAST_SEGMENTS = 14
"""Chords of a quarter turn: so many that none of them counts as a corner."""

SWING = math.radians(6)
"""Chords follow the outline's direction only this well."""


def grown(outline: Outline, by: float, tolerance: float) -> tuple[Chain, ...]:
    """The area of a closed outline widened by `by` on all sides, round at its corners, within `tolerance` of the truth.

    All in the outline's unit. Outer contours run anticlockwise, holes clockwise.
    """
    share = tolerance / 4  # following the curves, rounding the corners, and twice as much for the arcs
    area = polygon_of(outline, share)
    segments = max(LEAST_SEGMENTS, math.ceil(math.pi / 4 / math.acos(1 - min(share / by, 0.5))))
    rings = rings_of(area.buffer(by, quad_segs=segments))
    return tuple(chain_of_ring(ring, 2 * share) for ring in rings)


def chain_of_ring(ring: Array, tolerance: float) -> Chain:
    """A ring of fine chords (at least `LEAST_SEGMENTS` to a quarter turn) as lines and arcs within `tolerance`."""
    return fit_arcs(_smooth(ring), tolerance, SWING).chain


def _smooth(ring: Array) -> Path:
    """A ring of chords as a path of curves: its corners are those of following curves, not of the outline."""
    p, q = ring, np.roll(ring, -1, axis=0)
    points = np.stack([p + (q - p) / 3, p + (q - p) * 2 / 3, q], axis=1).reshape(-1, 2)
    return Path(np.vstack([ring[:1], points]), (3,) * len(ring))
