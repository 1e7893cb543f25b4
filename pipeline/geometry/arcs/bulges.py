"""Bulges of arcs: from the area beyond a chord, and from points the arc has to pass close to."""

from __future__ import annotations

import numpy as np

from pipeline.geometry.curves import Array

WIDEST = 0.9
"""Largest bulge of one arc, about 168°: beyond half a circle the two ends no longer say which way it goes."""


def compute_bulge_from_area(area: Array) -> Array:
    """Return the bulge of the arc that encloses this area with its chord, in units of the squared half chord; at most
    `WIDEST`.

    Area beyond the chord: r² (θ - sin θ) / 2, r = h (1 + b²) / 2|b|, θ = 4 atan b; read backwards from a table.
    """
    bent: Array = np.sign(area) * np.interp(np.abs(area), _AREAS, _BULGES)
    return bent


_BULGES = np.linspace(0.0, WIDEST, 2001)
_ANGLES = 4 * np.arctan(_BULGES[1:])
_AREAS = np.concatenate(([0.0], ((1 + _BULGES[1:] ** 2) / (2 * _BULGES[1:])) ** 2 * (_ANGLES - np.sin(_ANGLES)) / 2))


def find_bulges_within(x: Array, u: Array, half: Array, tolerance: float) -> tuple[Array, Array]:
    """Lowest and highest bulge of an arc from (-half, 0) to (half, 0) that passes within `tolerance` of (x, -u).

    The circle of bulge b has its centre at height h (1 - b²) / 2b above the chord and radius h (1 + b²) / 2|b|. Setting
    the distance to the point to radius ± t gives h (u ± t) b² - A b - h (u ∓ t) = 0 with A = x² + u² - h² - t²; the
    root that tends to the straight chord is taken. A point within the tolerance of an end bounds nothing; a point
    beyond the circle on the chord as diameter, which no bulge under 1 reaches, bounds everything.
    """
    uu, twice, tt = u * u, 2 * half, tolerance * tolerance
    a = x * x + uu - (half * half + tt)
    under = a * a + twice * twice * (uu - tt)
    with np.errstate(invalid="ignore", divide="ignore"):
        below = twice / (a - np.sqrt(under))
        low, high = (tolerance - u) * below, -(tolerance + u) * below
    free = (np.abs(x) - half) ** 2 + uu <= tt
    out = (a >= 0) | (under < 0)
    low[out], high[out] = np.inf, -np.inf
    low[free], high[free] = -np.inf, np.inf
    return low, high
