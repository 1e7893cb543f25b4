"""Contours as PDF path operators. Quadratic curves are raised to cubics (exact), arcs become cubics (see `ARC`)."""

from __future__ import annotations

import math
from collections.abc import Iterable

from pipeline.geometry.curves import Chain, Path
from pipeline.geometry.flatten import arc_of

ARC = math.pi / 4
"""Longest stretch of arc in one cubic, radians. The radius is then off by at most 4.2e-6 of itself: the cubic through
both ends with tangents of length 4/3 tan(angle / 4) misses a quarter circle by 2.7e-4, improving with the 6th power."""


def number(value: float) -> str:
    """A PDF number: at most five decimals, never an exponent."""
    text = f"{value:.5f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def path_ops(outline: Iterable[Path]) -> str:
    """The contours of an outline as m, l, c, h operators, in the outline's own unit."""
    out: list[str] = []
    for path in outline:
        points = path.points.tolist()
        out.append(f"{number(points[0][0])} {number(points[0][1])} m")
        i = 0
        for degree in path.degrees:
            (x0, y0), rest = points[i], points[i + 1 : i + degree + 1]
            i += degree
            if degree == 2:
                (qx, qy), (x, y) = rest
                rest = [[x0 + (qx - x0) * 2 / 3, y0 + (qy - y0) * 2 / 3], [x + (qx - x) * 2 / 3, y + (qy - y) * 2 / 3]]
                rest.append([x, y])
            out.append(" ".join(f"{number(x)} {number(y)}" for x, y in rest) + (" l" if degree == 1 else " c"))
        if path.closed:
            out.append("h")
    return "\n".join(out)


def rounded(x: float, y: float, width: float, height: float, radius: float) -> str:
    """Path operators of a rectangle with rounded corners."""
    if radius <= 0:
        return f"{number(x)} {number(y)} {number(width)} {number(height)} re"
    r = min(radius, width / 2, height / 2)
    k = r * 0.5522847498  # 4/3 (√2 − 1)
    x1, y1 = x + width, y + height
    parts: list[tuple[str, tuple[float, ...]]] = [
        ("m", (x + r, y)),
        ("l", (x1 - r, y)),
        ("c", (x1 - r + k, y, x1, y + r - k, x1, y + r)),
        ("l", (x1, y1 - r)),
        ("c", (x1, y1 - r + k, x1 - r + k, y1, x1 - r, y1)),
        ("l", (x + r, y1)),
        ("c", (x + r - k, y1, x, y1 - r + k, x, y1 - r)),
        ("l", (x, y + r)),
        ("c", (x, y + r - k, x + r - k, y, x + r, y)),
    ]
    return " ".join(" ".join(number(v) for v in values) + f" {letter}" for letter, values in parts) + " h"


def chain_ops(chains: Iterable[Chain]) -> str:
    """Chains of lines and arcs as path operators, in the chains' own unit."""
    out: list[str] = []
    for chain in chains:
        vertices = chain.vertices.tolist()
        if not vertices:
            continue
        out.append(f"{number(vertices[0][0])} {number(vertices[0][1])} m")
        ends = vertices[1:] + (vertices[:1] if chain.closed else [])
        for here, there in zip(vertices, ends, strict=False):
            if here[2] == 0.0:
                out.append(f"{number(there[0])} {number(there[1])} l")
            else:
                out += _arc(here, there)
        if chain.closed:
            out.append("h")
    return "\n".join(out)


def _arc(p: list[float], q: list[float], longest: float = ARC) -> list[str]:
    import numpy as np

    (cx, cy), radius, start, sweep = arc_of(np.array(p[:2]), np.array(q[:2]), p[2])
    n = max(1, math.ceil(abs(sweep) / longest - 1e-9))
    step = sweep / n
    k = 4 / 3 * math.tan(step / 4) * radius
    out = []
    for i in range(n):
        a, b = start + i * step, start + (i + 1) * step
        x0, y0 = cx + radius * math.cos(a), cy + radius * math.sin(a)
        x1, y1 = (cx + radius * math.cos(b), cy + radius * math.sin(b)) if i < n - 1 else (q[0], q[1])
        handles = (x0 - k * math.sin(a), y0 + k * math.cos(a), x1 + k * math.sin(b), y1 - k * math.cos(b), x1, y1)
        out.append(" ".join(number(v) for v in handles) + " c")
    return out
