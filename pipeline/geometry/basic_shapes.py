"""Plain shapes as chains."""

from __future__ import annotations

import math

import numpy as np

from pipeline.geometry.curves import Chain

_QUARTER = math.tan(math.pi / 8)
"""Bulge of a quarter circle."""


def build_rectangle(width: float, height: float, corner_radius: float = 0.0) -> Chain:
    """A rectangle with its lower left corner at the origin, anticlockwise, corners rounded by exact arcs."""
    w, h, r = width, height, corner_radius
    if r <= 0:
        return Chain(np.array([[0, 0, 0], [w, 0, 0], [w, h, 0], [0, h, 0]], dtype=float))
    b = _QUARTER
    rows = [
        (r, 0, 0), (w - r, 0, b), (w, r, 0), (w, h - r, b), (w - r, h, 0), (r, h, b), (0, h - r, 0), (0, r, b),
    ]  # fmt: skip
    kept = [row for row, after in zip(rows, rows[1:] + rows[:1], strict=True) if row[:2] != after[:2]]
    return Chain(np.array(kept, dtype=float))


def build_disc(diameter: float) -> Chain:
    """A circle that touches both axes, anticlockwise: two half circles of bulge 1."""
    r = diameter / 2
    return Chain(np.array([[diameter, r, 1.0], [0.0, r, 1.0]]))


def reverse_chain(chain: Chain) -> Chain:
    """The same contour run the other way."""
    v = chain.vertices[::-1].copy()
    bulges = -chain.vertices[::-1, 2]
    v[:, 2] = np.roll(bulges, -1)
    return Chain(v, chain.closed)
