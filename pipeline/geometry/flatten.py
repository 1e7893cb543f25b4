"""Curves to straight lines within a stated tolerance, and what can be said of curves without flattening them.

Words: a *ring* is an (n, 2) array of corners that does not repeat its first; a *polyline* is the same for an open
contour. Every corner of a ring lies on the curve. Units are the caller's own throughout.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.curves import Array, Chain, Path

Box = tuple[float, float, float, float]
"""x0, y0, x1, y1."""


def compute_coefficients(outline: Sequence[Path]) -> tuple[Array, NDArray[np.intp]]:
    """Every segment as a cubic polynomial c0 + c1 t + c2 t² + c3 t³.

    Returns (segments, 4, 2) and, for each segment, the index of its path in the outline.
    """
    blocks, owners = [], []
    for k, path in enumerate(outline):
        degrees = np.asarray(path.degrees, dtype=np.intp)
        if not len(degrees):
            continue
        start = np.concatenate(([0], np.cumsum(degrees)[:-1]))
        p, out = path.points, np.zeros((len(degrees), 4, 2))
        for degree in (1, 2, 3):
            at = np.nonzero(degrees == degree)[0]
            if not len(at):
                continue
            q = [p[start[at] + j] for j in range(degree + 1)]
            out[at, 0] = q[0]
            out[at, 1] = degree * (q[1] - q[0])
            if degree == 2:
                out[at, 2] = q[0] - 2 * q[1] + q[2]
            elif degree == 3:
                out[at, 2] = 3 * (q[0] - 2 * q[1] + q[2])
                out[at, 3] = q[3] - 3 * q[2] + 3 * q[1] - q[0]
        blocks.append(out)
        owners.append(np.full(len(degrees), k, dtype=np.intp))
    if not blocks:
        return np.zeros((0, 4, 2)), np.zeros(0, dtype=np.intp)
    return np.concatenate(blocks), np.concatenate(owners)


def _count_pieces(c: Array, tolerance: float | Array) -> NDArray[np.intp]:
    """Return how many equal steps of t keep each chord within the tolerance.

    A chord over a step h lies within max|B''| h² / 8 of its curve; B'' is linear in t, so its greatest length is at an
    end.
    """
    start, end = 2 * c[:, 2], 2 * c[:, 2] + 6 * c[:, 3]
    bend = np.maximum(np.hypot(start[:, 0], start[:, 1]), np.hypot(end[:, 0], end[:, 1]))
    steps: NDArray[np.intp] = np.maximum(1, np.ceil(np.sqrt(bend / (8 * tolerance)) - 1e-9)).astype(np.intp)
    return steps


def flatten(outline: Path | Sequence[Path], tolerance: float | Array) -> list[Array]:
    """Each contour as a ring (closed) or polyline (open), nowhere farther than `tolerance` from its curve.

    tolerance: one for all, or one for each segment. Neighbouring equal points are dropped. Contours keep their order
    and direction. ValueError when the tolerance is not positive.
    """
    if not np.all(np.asarray(tolerance) > 0):
        raise ValueError(f"flattening tolerance {tolerance!r} is not positive")
    paths = (outline,) if isinstance(outline, Path) else outline
    c, owner = compute_coefficients(paths)
    steps = _count_pieces(c, tolerance)
    segment = np.repeat(np.arange(len(steps)), steps)
    first = np.repeat(np.cumsum(steps) - steps, steps)
    t = ((np.arange(len(segment)) - first) / steps[segment])[:, None]
    k = c[segment]
    points = k[:, 0] + t * (k[:, 1] + t * (k[:, 2] + t * k[:, 3]))
    if not paths:
        return []
    cuts = np.searchsorted(owner[segment], np.arange(1, len(paths)))
    rings = []
    for path, ring in zip(paths, np.split(points, cuts), strict=True):
        rings.append(_tidy(ring if path.closed or not len(ring) else np.vstack((ring, path.points[-1])), path.closed))
    return rings


def flatten_open(outline: Path | Sequence[Path], tolerance: float) -> list[Array]:
    """Each contour as the polyline a point follows: as flatten, but a closed contour ends on its first point."""
    paths = (outline,) if isinstance(outline, Path) else outline
    runs = zip(paths, flatten(paths, tolerance), strict=True)
    return [np.vstack((run, run[:1])) if path.closed and len(run) > 1 else run for path, run in runs]


def _tidy(ring: Array, closed: bool) -> Array:
    if len(ring) < 2:
        return ring
    same = (np.roll(ring, 1, axis=0) == ring).all(axis=1)
    if not closed:
        same[0] = False
    return ring[~same] if same.any() else ring


def flatten_chain(chain: Chain, tolerance: float) -> Array:
    """The chain as a ring (closed) or polyline (open); arcs are stepped so that r (1 − cos(step / 2)) <= tolerance."""
    if not tolerance > 0:
        raise ValueError(f"flattening tolerance {tolerance!r} is not positive")
    v = chain.vertices
    a, b, bulge = _collect_stretches(chain)
    out: list[Array] = []
    for p, q, k in zip(a, b, bulge, strict=True):
        out.append(p[None, :])
        if k == 0.0:
            continue
        centre, radius, start, sweep = compute_arc_from_bulge(p, q, k)
        step = 2 * math.acos(max(-1.0, 1 - tolerance / radius)) if tolerance < 2 * radius else math.pi
        step = step or 4 * math.sqrt(tolerance / radius / 2)  # nearly straight: the cosine rounds to 1
        n = max(1, math.ceil(abs(sweep) / step - 1e-9))
        angle = start + sweep * np.arange(1, n) / n
        out.append(np.column_stack((centre[0] + radius * np.cos(angle), centre[1] + radius * np.sin(angle))))
    if not chain.closed and len(v):
        out.append(v[-1:, :2])
    return _tidy(np.concatenate(out) if out else np.zeros((0, 2)), chain.closed)


def _collect_stretches(chain: Chain) -> tuple[Array, Array, Array]:
    v = chain.vertices
    if chain.closed:
        return v[:, :2], np.roll(v[:, :2], -1, axis=0), v[:, 2]
    return v[:-1, :2], v[1:, :2], v[:-1, 2]


def compute_arc_from_bulge(p: Array, q: Array, bulge: float) -> tuple[tuple[float, float], float, float, float]:
    """(centre, radius, start angle, sweep in radians, negative clockwise) of the arc from p to q.

    Bulge b = tan(included angle / 4); radius = chord (1 + b²) / (4 |b|) (published DXF reference, LWPOLYLINE).
    """
    dx, dy = float(q[0] - p[0]), float(q[1] - p[1])
    off = (1 - bulge * bulge) / (4 * bulge)
    cx, cy = (p[0] + q[0]) / 2 - off * dy, (p[1] + q[1]) / 2 + off * dx
    radius = math.hypot(dx, dy) * (1 + bulge * bulge) / (4 * abs(bulge))
    return (float(cx), float(cy)), radius, math.atan2(float(p[1]) - cy, float(p[0]) - cx), 4 * math.atan(bulge)


# --- areas and boxes, exact -------------------------------------------------------------------------------------


def ring_area(ring: Array) -> float:
    """Signed area of a ring, positive anticlockwise."""
    if len(ring) < 3:
        return 0.0
    d = ring - ring[0]
    return float(np.sum(d[:-1, 0] * d[1:, 1] - d[1:, 0] * d[:-1, 1]) / 2)


def path_area(path: Path) -> float:
    """Signed area inside a closed path of Bézier curves, exact (Green's theorem), positive anticlockwise."""
    c, _ = compute_coefficients((path,))
    if not len(c):
        return 0.0
    c[:, 0] -= path.points[0]
    x, y = c[..., 0], c[..., 1]
    total = 0.0
    for i in range(4):
        for j in range(1, 4):
            total += float(np.sum(x[:, i] * y[:, j] - y[:, i] * x[:, j])) * j / (i + j)
    return total / 2


def outline_area(outline: Iterable[Path]) -> float:
    """Area of a united outline (outer contours anticlockwise, holes clockwise), exact."""
    return sum(path_area(path) for path in outline if path.closed)


def chain_area(chain: Chain) -> float:
    """Signed area inside a closed chain, exact: its corners' polygon plus r² (θ − sin θ) / 2 for every arc."""
    a, b, bulge = _collect_stretches(chain)
    area = ring_area(chain.vertices[:, :2])
    for p, q, k in zip(a, b, bulge, strict=True):
        if k:
            _, radius, _, sweep = compute_arc_from_bulge(p, q, k)
            area += radius * radius * (sweep - math.sin(sweep)) / 2
    return area


def outline_box(outline: Path | Sequence[Path]) -> Box | None:
    """Bounding box of the curves, exact; None when there are none."""
    c, _ = compute_coefficients((outline,) if isinstance(outline, Path) else outline)
    if not len(c):
        return None
    values = []
    for axis in (0, 1):
        k = c[..., axis]
        seen = [k[:, 0], k.sum(axis=1)]
        with np.errstate(divide="ignore", invalid="ignore"):
            root = np.sqrt(k[:, 2] ** 2 - 3 * k[:, 3] * k[:, 1])
            # The form of the roots that doesn't lose digits when the cubic part vanishes.
            q = -(k[:, 2] + np.where(k[:, 2] < 0, -root, root))
            for t in (k[:, 1] / q, q / (3 * k[:, 3])):
                ok = (t > 0) & (t < 1)
                tt, kk = t[ok], k[ok]
                seen.append(kk[:, 0] + tt * (kk[:, 1] + tt * (kk[:, 2] + tt * kk[:, 3])))
        flat = np.concatenate(seen)
        values.append((float(flat.min()), float(flat.max())))
    (x0, x1), (y0, y1) = values
    return x0, y0, x1, y1


def chain_box(chain: Chain) -> Box | None:
    """Bounding box of the chain, exact; None when it is empty."""
    if not len(chain.vertices):
        return None
    x, y = [chain.vertices[:, 0]], [chain.vertices[:, 1]]
    for p, q, k in zip(*_collect_stretches(chain), strict=True):
        if not k:
            continue
        centre, radius, start, sweep = compute_arc_from_bulge(p, q, k)
        low, high = min(start, start + sweep), max(start, start + sweep)
        quarter = math.pi / 2
        for n in range(math.ceil(low / quarter), math.floor(high / quarter) + 1):
            x.append(np.array([centre[0] + radius * math.cos(n * quarter)]))
            y.append(np.array([centre[1] + radius * math.sin(n * quarter)]))
    xs, ys = np.concatenate(x), np.concatenate(y)
    return float(xs.min()), float(ys.min()), float(xs.max()), float(ys.max())
