"""Sample a contour of Béziers as a run of stations: points on the curve with the direction on both sides.

*Station*: a place where a piece of a fitted chain may begin or end. *Kink*: the change of direction at a join of two
segments. *Corner*: a kink a fitted chain has to keep. Angles are radians, lengths the caller's own unit.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.curves import Array, Path
from pipeline.geometry.flatten import compute_coefficients

CORNER = math.radians(8)
"""From this angle on a kink is a corner and stays one. Common practice, no source: one join in twenty of the roughest
roman typeface on the shelf turns by more without being meant as a corner."""

STRAIGHT = 20.0
"""A straight side longer than this many tolerances stays exactly straight."""

_TURN = math.radians(12)  # a curve turns by at most this from station to station ...
_ROUNDS = 6  # ... until it has been halved this often, or
_CLOSEST = 0.25  # the stations are this part of the tolerance apart: the place is then treated as a corner


@dataclass(frozen=True, slots=True, eq=False)
class CurveSamples:
    """n stations of an open run, or of a closed one whose last station is its first again."""

    points: Array  # (n, 2)
    before: Array  # (n,) direction of the curve arriving at the station
    after: Array  # (n,) direction of the curve leaving it
    fixed: NDArray[np.bool_]  # (n,) corners and ends of straight sides, where a piece has to end
    straight: NDArray[np.bool_]  # (n - 1,) the stretch after the station is a straight side, which is kept
    swept: Array  # (n,) area the curve sweeps, seen from the first station, up to each station; positive anticlockwise
    closed: bool


def wrap_angle(angle: Array) -> Array:
    """Return angles wrapped to -pi..pi."""
    return np.asarray((angle + np.pi) % (2 * np.pi) - np.pi, dtype=np.float64)


def _compute_directions(c: Array) -> tuple[Array, Array]:
    """Directions at the start and end of each segment (n, 4, 2); where a handle has no length, of the next one."""
    nothing = 1e-12
    first, second, third = c[:, 1], 2 * c[:, 2], 6 * c[:, 3]
    start = first.copy()
    for higher in (second, third):
        gone = np.hypot(start[:, 0], start[:, 1]) < nothing
        start[gone] = higher[gone]
    end = first + second + third / 2
    for lower in (-(second + third), third):
        gone = np.hypot(end[:, 0], end[:, 1]) < nothing
        end[gone] = lower[gone]
    return start, end


def _sample_places(c: Array, steps: NDArray[np.intp]) -> tuple[Array, Array, Array, NDArray[np.intp], NDArray[np.intp]]:
    """Stations at equal steps of t in each segment, without the last: points, directions leaving and those arriving at
    the next, the segment each belongs to, the first of each segment."""
    owner = np.repeat(np.arange(len(c)), steps)
    joins = np.cumsum(steps) - steps
    t = ((np.arange(len(owner)) - joins[owner]) / steps[owner])[:, None]
    k = c[owner]
    points = k[:, 0] + t * (k[:, 1] + t * (k[:, 2] + t * k[:, 3]))
    slope = k[:, 1] + t * (2 * k[:, 2] + t * 3 * k[:, 3])
    starts, ends = _compute_directions(c)
    slope[joins] = starts
    leaving = np.arctan2(slope[:, 1], slope[:, 0])
    arriving = np.roll(leaving, -1)
    arriving[joins + steps - 1] = np.arctan2(ends[:, 1], ends[:, 0])
    return points, leaving, arriving, owner, joins


def _compute_swept_areas(c: Array, steps: NDArray[np.intp]) -> Array:
    """½ ∫ (x dy - y dx) from the first station up to each, x and y counted from the first: exact, by three-point Gauss
    quadrature, because the integrand is of degree five at most."""
    owner = np.repeat(np.arange(len(c)), steps)
    joins = np.cumsum(steps) - steps
    k = c[owner]
    total = np.zeros(len(owner))
    for place, weight in zip((-math.sqrt(0.6), 0.0, math.sqrt(0.6)), (5 / 9, 8 / 9, 5 / 9), strict=True):
        t = ((np.arange(len(owner)) - joins[owner] + (1 + place) / 2) / steps[owner])[:, None]
        at = k[:, 0] - c[0, 0] + t * (k[:, 1] + t * (k[:, 2] + t * k[:, 3]))
        slope = k[:, 1] + t * (2 * k[:, 2] + t * 3 * k[:, 3])
        total += weight * (at[:, 0] * slope[:, 1] - at[:, 1] * slope[:, 0])
    return np.concatenate(([0.0], np.cumsum(total / (4 * steps[owner]))))


def sample_curve(path: Path, tolerance: float, fineness: float) -> CurveSamples:
    """Place stations so that the chord between neighbours lies within tolerance / fineness of its curve and the curve
    turns little between them.

    Segments of no length are left out. Straight sides over `STRAIGHT` tolerances are one stretch, shorter ones are
    stepped like curves (their middle is a station too).
    """
    c, _ = compute_coefficients((path,))
    long_enough = np.abs(c[:, 1:]).max(axis=(1, 2)) > 1e-9 if len(c) else np.zeros(0, dtype=bool)
    c = c[long_enough]
    if not len(c):
        empty = np.zeros(0)
        none = np.zeros(0, dtype=bool)
        return CurveSamples(path.points[:1], empty, empty, none, none, empty, path.closed)
    bend = np.maximum(np.hypot(*(2 * c[:, 2]).T), np.hypot(*(2 * c[:, 2] + 6 * c[:, 3]).T))
    length = np.hypot(*(c[:, 1] + c[:, 2] + c[:, 3]).T)
    flat = bend == 0
    side = flat & (length > STRAIGHT * tolerance)
    steps = np.maximum(2, np.ceil(np.sqrt(bend * fineness / (8 * tolerance)))).astype(np.intp)
    steps[side] = 1
    closest = tolerance * _CLOSEST
    for _ in range(_ROUNDS):
        points, leaving, arriving, owner, joins = _sample_places(c, steps)
        step = np.roll(points, -1, axis=0) - points
        turning = (np.abs(wrap_angle(arriving - leaving)) > _TURN) & (np.hypot(step[:, 0], step[:, 1]) > closest)
        sharp = np.logical_or.reduceat(turning, joins)
        if not sharp.any():
            break
        steps[sharp] *= 2
    points, after, arriving, owner, _ = _sample_places(c, steps)
    before = np.roll(arriving, 1)
    last = c[-1].sum(axis=0)[None, :]
    points = np.vstack((points, points[:1] if path.closed else last))
    before = np.append(before, before[0])
    after = np.append(after, after[0] if path.closed else arriving[-1])
    if not path.closed:
        before[0] = after[0]
    fixed = np.abs(wrap_angle(after - before)) > CORNER
    straight = side[owner]
    fixed[:-1] |= straight
    fixed[1:] |= straight
    if path.closed:
        fixed[0] = fixed[-1] = fixed[0] or fixed[-1]
    else:
        fixed[0] = fixed[-1] = True
    return CurveSamples(points, before, after, fixed, straight, _compute_swept_areas(c, steps), path.closed)
