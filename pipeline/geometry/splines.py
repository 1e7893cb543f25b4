"""Béziers as B-splines, exactly: a contour of Béziers is a B-spline whose inner knots have its degree as
multiplicity."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipeline.geometry.curves import Array, Path


@dataclass(frozen=True, slots=True, eq=False)
class Spline:
    """A clamped B-spline. control: (n, 2), the first and last are its ends; knots: n + degree + 1, not weighted.

    A closed one ends on its first control point.
    """

    control: Array
    degree: int
    closed: bool

    @property
    def knots(self) -> list[float]:
        """0 (degree + 1 times), then 1, 2, … (degree times each), the last once more."""
        spans = (len(self.control) - 1) // self.degree
        inner = [float(k) for k in range(1, spans) for _ in range(self.degree)]
        return [0.0] * (self.degree + 1) + inner + [float(spans)] * (self.degree + 1)

    def to_cubics(self) -> Array:
        """The same curve as end-to-end cubic Béziers, (3n + 1, 2)."""
        parts = [raise_degree(segment, 3)[1:] for segment in self.to_path().list_segments()]
        return np.concatenate((self.control[:1], *parts))

    def to_path(self) -> Path:
        """The same curve as Béziers of one degree."""
        return Path(self.control, (self.degree,) * ((len(self.control) - 1) // self.degree), self.closed)


def build_spline_from_path(path: Path) -> Spline:
    """The path as one B-spline of the highest degree among its segments; the others are raised to it."""
    degree = max(path.degrees, default=1)
    control = [path.points[:1]]
    for segment in path.list_segments():
        control.append(raise_degree(segment, degree)[1:])
    return Spline(np.concatenate(control), degree, path.closed)


def raise_degree(segment: Array, degree: int) -> Array:
    """The same Bézier curve with degree + 1 points (elevation: q_i = i/(n+1) p_{i-1} + (1 - i/(n+1)) p_i)."""
    while len(segment) <= degree:
        n = len(segment)
        share = (np.arange(1, n) / n)[:, None]
        segment = np.vstack((segment[:1], share * segment[:-1] + (1 - share) * segment[1:], segment[-1:]))
    return segment
