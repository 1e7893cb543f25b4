"""Convert smooth parametric curves to circular arcs within a tolerance, by halving biarcs.

A *biarc* is two arcs that share a tangent where they meet and leave two points in given directions; here the two
tangent lengths are taken equal (the usual choice: its equation is quadratic). The vertices are those of a `Chain`:
x, y and bulge of the stretch that starts there.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence

import numpy as np

from pipeline.geometry.curves import Array

Curve = Callable[[Array], tuple[Array, Array]]
"""Parameters (n,) -> points (n, 2) and derivatives (n, 2)."""

_PROBES = 15
_PROBES_A_KNOT = 4
_DEEPEST = 30
_STRAIGHT = 1e-12


def fit_biarcs(curve: Curve, runs: Sequence[Sequence[float]], tolerance: float) -> Array:
    """Return the vertices (n, 3) of an open chain along the curve, from the first parameter to the last.

    Each run lists parameters in rising order, the knots of one smooth part of the curve; the next run starts where it
    ends, and the direction may change there. The distance from the curve is measured at 15 places of every biarc, or
    at 4 between every two knots where that is more; a biarc that misses the tolerance at one of them is halved. The
    last vertex has bulge 0. ValueError when the tolerance is not positive or the parameters do not rise.
    """
    if not tolerance > 0:
        raise ValueError(f"tolerance {tolerance!r} is not positive")
    if not runs or any(len(run) < 2 or any(b <= a for a, b in itertools.pairwise(run)) for run in runs):
        raise ValueError("the parameters of a curve have to rise")
    out: list[tuple[float, float, float]] = []
    end: Array | None = None
    for run in runs:
        end = _run(curve, list(run), tolerance, out)
    if end is None:
        raise ValueError("a curve needs a stretch")
    out.append((float(end[0]), float(end[1]), 0.0))
    return np.array(out)


def _run(curve: Curve, knots: list[float], tolerance: float, out: list[tuple[float, float, float]]) -> Array:
    """Append the vertices of one smooth run without its end; returns the end."""
    stack = [(knots, 0)]
    end: Array | None = None
    while stack:
        own, depth = stack.pop()
        t0, t1 = own[0], own[-1]
        # Directions are taken just inside the piece: at its ends the curve may have a corner.
        inside = (t1 - t0) * 1e-9
        points, _ = curve(np.array([t0, t1]))
        _, ways = curve(np.array([t0 + inside, t1 - inside]))
        fitted = _construct_biarc(
            points[0],
            _compute_unit_tangent(ways[0], curve, t0, t1),
            points[1],
            _compute_unit_tangent(ways[1], curve, t1, t0),
        )
        probes, _ = curve(_place_probes(own))
        if fitted is not None and _measure_farthest(fitted, points[1], probes) <= tolerance:
            out.extend(fitted)
            end = points[1]
        elif depth >= _DEEPEST or math.dist(points[0], points[1]) + _spread(probes, points[0]) <= tolerance:
            out.append((float(points[0][0]), float(points[0][1]), 0.0))
            end = points[1]
        elif len(own) > 2:
            half = len(own) // 2
            stack += [(own[half:], depth), (own[: half + 1], depth)]
        else:
            middle = (t0 + t1) / 2
            stack += [([middle, t1], depth + 1), ([t0, middle], depth + 1)]
    if end is None:
        raise ValueError("a stretch needs two parameters")
    return end


def _place_probes(knots: list[float]) -> Array:
    n = max(_PROBES_A_KNOT, math.ceil(_PROBES / (len(knots) - 1)))
    inside = np.arange(1, n + 1) / (n + 1)
    starts, steps = np.array(knots[:-1]), np.diff(knots)
    spread = (starts[:, None] + steps[:, None] * inside).ravel()
    probes: Array = np.sort(np.concatenate((spread, knots[1:-1])))
    return probes


def _spread(points: Array, start: Array) -> float:
    return float(np.hypot(*(points - start).T).max())


def _compute_unit_tangent(way: Array, curve: Curve, at: float, towards: float) -> Array:
    """Return the direction of travel; where the derivative vanishes, that of the chord to a nearby point."""
    length = math.hypot(way[0], way[1])
    if length <= _STRAIGHT:
        p, _ = curve(np.array([at, at + (towards - at) * 1e-4]))
        way = p[1] - p[0] if towards > at else p[0] - p[1]
        length = math.hypot(way[0], way[1]) or 1.0
    unit: Array = way / length
    return unit


def _construct_biarc(p: Array, u: Array, q: Array, v: Array) -> list[tuple[float, float, float]] | None:
    """Two vertices (or one, for a straight piece) from p leaving in direction u to q arriving in direction v.

    With joint p + d u on one side and q − d v on the other: 2 (1 − u·v) d² + 2 w·(u + v) d − w·w = 0, w = q − p.
    None when there is no sensible biarc (turning back).
    """
    w = q - p
    ww, wt, uv = float(w @ w), float(w @ (u + v)), float(u @ v)
    if ww == 0.0:
        return None
    a = 2 * (1 - uv)
    root = wt * wt + a * ww
    # The form of the positive root that doesn't lose digits when u and v are nearly equal.
    below = wt + math.sqrt(root)
    if below <= 1e-9 * math.sqrt(ww):
        return None
    d = ww / below
    joint = (p + q + d * (u - v)) / 2
    first, second = joint - p, q - joint
    if float(first @ u) <= 0 or float(second @ v) <= 0:
        return None
    bulge1 = math.tan(math.atan2(_cross_product(u, first), float(u @ first)) / 2)
    bulge2 = math.tan(math.atan2(_cross_product(second, v), float(second @ v)) / 2)
    if abs(bulge1) < _STRAIGHT and abs(bulge2) < _STRAIGHT:
        return [(float(p[0]), float(p[1]), 0.0)]
    return [(float(p[0]), float(p[1]), bulge1), (float(joint[0]), float(joint[1]), bulge2)]


def _cross_product(a: Array, b: Array) -> float:
    return float(a[0] * b[1] - a[1] * b[0])


def _measure_farthest(fitted: list[tuple[float, float, float]], end: Array, probes: Array) -> float:
    """Return the largest distance of a probe from the stretch it lies beside."""
    ends = [*(np.array(v[:2]) for v in fitted[1:]), end]
    far: list[Array] = []
    for (x, y, bulge), stop in zip(fitted, ends, strict=True):
        start = np.array([x, y])
        chord = stop - start
        length = math.hypot(chord[0], chord[1])
        along = (probes - start) @ chord / length
        off = (probes - start) @ np.array([-chord[1], chord[0]]) / length
        # Beyond an end of the chord, the distance to that end counts.
        over = np.maximum(np.maximum(-along, along - length), 0)
        if bulge:
            radius = length * (1 + bulge * bulge) / (4 * abs(bulge))
            centre = length * (1 - bulge * bulge) / (4 * bulge)
            # For flat arcs r − |p − c| loses digits; the same from the sagitta's equation does not.
            d2 = (along - length / 2) ** 2 + off**2 - 2 * off * centre - length * length / 4
            miss = np.abs(d2) / (np.sqrt(np.maximum(d2 + radius * radius, 0)) + radius)
        else:
            miss = np.abs(off)
        far.append(np.hypot(miss, over))
    return float(np.min(far, axis=0).max())
