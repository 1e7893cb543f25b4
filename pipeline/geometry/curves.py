"""The two kinds of contour in this project.

*Path*: straight lines and Bézier curves end to end, as fonts draw letters. *Chain*: straight lines and circular arcs
end to end, as a cutting machine moves. Both are plain arrays in whatever unit the caller works in, y up.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Path:
    """One contour of lines and Bézier curves.

    points: (n, 2). The first point starts the contour; each segment of degree d adds d points (its off-curve points,
    then its end). A closed contour ends on its first point. degrees: one of 1, 2, 3 for each segment, so
    n == 1 + sum(degrees).
    """

    points: Array
    degrees: tuple[int, ...]
    closed: bool = True

    def transform(self, scale: float = 1.0, dx: float = 0.0, dy: float = 0.0, turn: float = 0.0) -> Path:
        """The contour scaled, then turned (radians, anticlockwise) about the origin, then shifted."""
        if turn:
            c, s = math.cos(turn) * scale, math.sin(turn) * scale
            points = self.points @ np.array([[c, s], [-s, c]])
        else:
            points = self.points * scale
        return Path(points + (dx, dy), self.degrees, self.closed)

    def list_segments(self) -> list[Array]:
        """Each segment as a (degree + 1, 2) array."""
        out, i = [], 0
        for d in self.degrees:
            out.append(self.points[i : i + d + 1])
            i += d
        return out


Outline = tuple[Path, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Chain:
    """One contour of lines and arcs: vertices (n, 3) of x, y and bulge.

    The bulge belongs to the stretch that starts at its vertex: tan(included angle / 4), positive anticlockwise, 0 for
    a straight stretch (published DXF reference, LWPOLYLINE group 42). A closed chain does not repeat its first vertex.
    """

    vertices: Array
    closed: bool = True

    def transform(self, scale: float = 1.0, dx: float = 0.0, dy: float = 0.0, turn: float = 0.0) -> Chain:
        """Transform it as `Path.transform` does; bulges do not change under scaling, turning and shifting."""
        c, s = math.cos(turn) * scale, math.sin(turn) * scale
        out = self.vertices.copy()
        out[:, :2] = self.vertices[:, :2] @ np.array([[c, s], [-s, c]]) + (dx, dy)
        return Chain(out, self.closed)
