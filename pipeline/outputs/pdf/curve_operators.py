"""Contours as paths: quadratic curves are raised to cubics (exact), arcs become cubics (see `ARC`).

A `Trace` draws itself on anything with moveTo, lineTo, curveTo and close, as a path of the PDF library has them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from typing import Any, Protocol

from pipeline.geometry.curves import Array, Chain, Path
from pipeline.geometry.flatten import compute_arc_from_bulge

ARC = math.pi / 4
"""Longest stretch of arc in one cubic, radians. The radius is then off by at most 4.2e-6 of itself: the cubic through
both ends with tangents of length 4/3 tan(angle / 4) misses a quarter circle by 2.7e-4, improving with the 6th power."""
CIRCLE = 4 / 3 * (math.sqrt(2) - 1)
"""Length of the tangents of a quarter circle of radius 1."""


Box = tuple[float, float, float, float]


class PathPen(Protocol):
    """A pen that a contour is drawn with."""

    def moveTo(self, x: float, y: float) -> Any: ...

    def lineTo(self, x: float, y: float) -> Any: ...

    def curveTo(self, x1: float, y1: float, x2: float, y2: float, x3: float, y3: float) -> Any: ...

    def close(self) -> Any: ...


Trace = Callable[[PathPen], None]


def trace_outline(outline: Iterable[Path], unit: float = 1.0) -> Trace:
    """The contours of an outline, each coordinate times `unit`."""

    def trace(pen: PathPen) -> None:
        for path in outline:
            points = (path.points * unit).tolist() if unit != 1.0 else path.points.tolist()
            pen.moveTo(*points[0])
            i = 0
            for degree in path.degrees:
                (x0, y0), rest = points[i], points[i + 1 : i + degree + 1]
                i += degree
                if degree == 1:
                    pen.lineTo(*rest[0])
                    continue
                if degree == 2:
                    (qx, qy), (x, y) = rest
                    rest = [
                        (x0 + (qx - x0) * 2 / 3, y0 + (qy - y0) * 2 / 3),
                        (x + (qx - x) * 2 / 3, y + (qy - y) * 2 / 3),
                        (x, y),
                    ]
                (x1, y1), (x2, y2), (x3, y3) = rest
                pen.curveTo(x1, y1, x2, y2, x3, y3)
            if path.closed:
                pen.close()

    return trace


def trace_rings(rings: Iterable[Array]) -> Trace:
    """Closed polygons."""

    def trace(pen: PathPen) -> None:
        for ring in rings:
            points = ring.tolist()
            pen.moveTo(*points[0])
            for x, y in points[1:]:
                pen.lineTo(x, y)
            pen.close()

    return trace


def trace_lines(*lines: Sequence[tuple[float, float]]) -> Trace:
    """Open lines through points."""

    def trace(pen: PathPen) -> None:
        for first, *others in lines:
            pen.moveTo(*first)
            for x, y in others:
                pen.lineTo(x, y)

    return trace


def trace_circle(x: float, y: float, r: float) -> Trace:
    """A circle round (x, y)."""
    return trace_rounded(x - r, y - r, 2 * r, 2 * r, r)


def trace_rounded(x: float, y: float, width: float, height: float, radius: float) -> Trace:
    """A rectangle with rounded corners."""
    r = min(radius, width / 2, height / 2)
    k = r * CIRCLE
    x1, y1 = x + width, y + height

    def trace(pen: PathPen) -> None:
        if r <= 0:
            pen.moveTo(x, y)
            for corner in ((x1, y), (x1, y1), (x, y1)):
                pen.lineTo(*corner)
        else:
            pen.moveTo(x + r, y)
            pen.lineTo(x1 - r, y)
            pen.curveTo(x1 - r + k, y, x1, y + r - k, x1, y + r)
            pen.lineTo(x1, y1 - r)
            pen.curveTo(x1, y1 - r + k, x1 - r + k, y1, x1 - r, y1)
            pen.lineTo(x + r, y1)
            pen.curveTo(x + r - k, y1, x, y1 - r + k, x, y1 - r)
            pen.lineTo(x, y + r)
            pen.curveTo(x, y + r - k, x + r - k, y, x + r, y)
        pen.close()

    return trace


def trace_chains(chains: Iterable[Chain]) -> Trace:
    """Chains of lines and arcs, in the chains' own unit."""

    def trace(pen: PathPen) -> None:
        for chain in chains:
            vertices = chain.vertices.tolist()
            if not vertices:
                continue
            pen.moveTo(*vertices[0][:2])
            ends = vertices[1:] + (vertices[:1] if chain.closed else [])
            for here, there in zip(vertices, ends, strict=False):
                if here[2] == 0.0:
                    pen.lineTo(*there[:2])
                else:
                    _draw_arc(pen, here, there)
            if chain.closed:
                pen.close()

    return trace


def _draw_arc(pen: PathPen, p: list[float], q: list[float], longest: float = ARC) -> None:
    import numpy as np

    (cx, cy), radius, start, sweep = compute_arc_from_bulge(np.array(p[:2]), np.array(q[:2]), p[2])
    n = max(1, math.ceil(abs(sweep) / longest - 1e-9))
    step = sweep / n
    k = 4 / 3 * math.tan(step / 4) * radius
    for i in range(n):
        a, b = start + i * step, start + (i + 1) * step
        x0, y0 = cx + radius * math.cos(a), cy + radius * math.sin(a)
        x1, y1 = (cx + radius * math.cos(b), cy + radius * math.sin(b)) if i < n - 1 else (q[0], q[1])
        pen.curveTo(x0 - k * math.sin(a), y0 + k * math.cos(a), x1 + k * math.sin(b), y1 - k * math.cos(b), x1, y1)
