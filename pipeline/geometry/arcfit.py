"""Outlines as few lines and arcs, within a tolerance.

*Span*: a stretch of the outline from one station to a later one, replaced by one line or arc through both stations.
A span is possible when some bulge keeps the arc within the tolerance of every station passed over and its direction at
both ends within `SWING` of the outline's, so that two pieces that meet turn by at most twice that where the outline
itself is smooth. For every passed station the possible bulges are an interval with a closed form, so a span is tried
by intersecting intervals, for all spans at once. Of the possible chains the one of fewest pieces is taken (shortest
path), and of those the one that follows the outline's directions best. Of the possible bulges of a span the one nearest
to leaving the area as it is is taken: arcs then err to both sides alike.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.geometry.curves import Array, Chain, Path
from pipeline.geometry.flatten import flatten, flatten_chain
from pipeline.geometry.sampling import CORNER, Stations, stations, wrapped

SWING = math.radians(1)
"""How far a piece may turn away from the outline's own direction at its ends: breaks of at most 2°."""

WIDEST = 0.9
"""Largest bulge of one arc, about 168°: beyond half a circle the two ends no longer say which way it goes."""

_FINE_ARCS, _FINE_LINES = 10.0, 50.0  # chords between stations lie within tolerance / this
_WINDOW, _BEYOND = 12, 3  # stretches a span is tried over at first; none of the last ones possible: none farther is
_FARTHEST = 400  # stretches one span may have: half a circle of 2,500 tolerances
_AT_ONCE = 1_000_000  # stations of spans tried together, to bound memory
_STARTS = 8  # places tried for beginning a contour without corners
_STEEP = 3.0  # radians, short of half a turn, where the tangent of half an angle is still a number
_AS_GOOD_AS_STRAIGHT = 0.05  # of the tolerance: an arc this flat becomes a line
_MEASURED = 50.0  # the measure follows curves within this part of the tolerance
_KEPT_BACK = 0.95  # of the tolerance goes to the fit, the rest to what lies between stations


@dataclass(frozen=True, slots=True, eq=False)
class Fitted:
    """A chain in place of a path. How far apart they are, measured both ways, in the path's unit."""

    chain: Chain
    off_path: float  # the farthest the path lies from the chain
    off_chain: float  # the farthest the chain lies from the path

    @property
    def deviation(self) -> float:
        return max(self.off_path, self.off_chain)


def fit_arcs(path: Path, tolerance: float, swing: float = SWING) -> Fitted:
    """The path as lines and arcs no farther from it than `tolerance`, either way measured."""
    return _fit(path, tolerance, swing, _FINE_ARCS)


def fit_lines(path: Path, tolerance: float) -> Fitted:
    """The path as the fewest chords no farther from it than `tolerance`, vertices on the path, corners kept."""
    return _fit(path, tolerance, None, _FINE_LINES)


def _fit(path: Path, tolerance: float, swing: float | None, fineness: float) -> Fitted:
    if not tolerance > 0:
        raise ValueError(f"fitting tolerance {tolerance!r} is not positive")
    along = stations(path, tolerance, fineness)
    if len(along.points) < 2:
        return Fitted(Chain(np.zeros((0, 3)), path.closed), 0.0, 0.0)
    room = tolerance * _KEPT_BACK
    while True:
        chain = _chain(along, room, swing)
        off_path, off_chain = apart(path, chain, tolerance / _MEASURED)
        if max(off_path, off_chain) <= tolerance or room < tolerance / 8:
            return Fitted(chain, off_path, off_chain)
        room *= 0.8


def apart(path: Path, chain: Chain, fine: float) -> tuple[float, float]:
    """The farthest the path lies from the chain, and the chain from the path; both followed within `fine`."""
    a, b = flatten((path,), fine)[0], flatten_chain(chain, fine)
    if path.closed:
        a, b = np.vstack((a, a[:1])), np.vstack((b, b[:1]))
    along, other = shapely.linestrings(a), shapely.linestrings(b)
    shapely.prepare([along, other])
    return (
        float(shapely.distance(shapely.points(a), other).max()),
        float(shapely.distance(shapely.points(b), along).max()),
    )


# --- spans ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, eq=False)
class _Spans:
    """Possible spans of one station: stretches each passes, its bulge, how far off its ends' directions are."""

    reach: NDArray[np.intp]
    bulge: Array
    unevenness: Array


def _all_spans(along: Stations, tolerance: float, swing: float | None) -> list[_Spans]:
    """The possible spans of every station; looked for farther only where the farthest tried are still possible."""
    n = len(along.points) - 1
    found: list[_Spans | None] = [None] * n
    rows, width = np.arange(n), min(n, _WINDOW)
    while len(rows):
        most, farther = max(1, _AT_ONCE // width**2), []
        for some in (rows[k : k + most] for k in range(0, len(rows), most)):
            possible, bulge, unevenness = _spans(along, tolerance, swing, some, width)
            done = ~possible[:, width - _BEYOND :].any(axis=1) | (width >= min(n, _FARTHEST))
            for k in np.flatnonzero(done).tolist():
                reach = np.flatnonzero(possible[k])
                found[some[k]] = _Spans(reach + 1, bulge[k, reach], unevenness[k, reach])
            farther.append(some[~done])
        rows, width = np.concatenate(farther), min(n, width * 2)
    return [spans for spans in found if spans is not None]


def _spans(
    along: Stations, tolerance: float, swing: float | None, rows: NDArray[np.intp], width: int
) -> tuple[NDArray[np.bool_], Array, Array]:
    """Whether the span from each of the stations `rows` over 1..width stretches is possible, its bulge, its unevenness.

    Stations of closed runs wrap round. A span of one stretch is always possible.
    """
    n = len(along.points) - 1
    i = rows[:, None]
    j = i + 1 + np.arange(width)[None, :]
    j = j % n if along.closed else np.minimum(j, n)
    p, q = along.points[i], along.points[j]
    chord = q - p
    half = np.hypot(chord[..., 0], chord[..., 1]) / 2
    possible = half > 0
    safe = np.where(possible, half, 1.0)
    ex, ey = chord[..., 0] / (2 * safe), chord[..., 1] / (2 * safe)

    ends = along.fixed[j] if along.closed else along.fixed[j] | (j >= n)
    possible[:, 1:] &= ~np.logical_or.accumulate(ends, axis=1)[:, :-1]  # nothing passes over a fixed station

    # Each station passed over allows an interval of bulges.
    low, high = np.full(half.shape, -WIDEST), np.full(half.shape, WIDEST)
    if width > 1:
        tried = possible[:, 1:].nonzero()
        row, column = tried[0], tried[1] + 1
        passed = np.arange(width - 1)[None, :] < column[:, None]
        over = along.points[j[row, : width - 1]]
        d = over - ((p + q) / 2)[row, column][:, None, :]
        dx, dy = ex[row, column][:, None], ey[row, column][:, None]
        lows, highs = bulges_within(
            d[..., 0] * dx + d[..., 1] * dy, d[..., 0] * dy - d[..., 1] * dx, safe[row, column][:, None], tolerance
        )
        low[row, column] = np.maximum(-WIDEST, np.where(passed, lows, -np.inf).max(axis=1))
        high[row, column] = np.minimum(WIDEST, np.where(passed, highs, np.inf).min(axis=1))
    if swing is None:
        possible &= (low <= 0) & (high >= 0)
        return possible, np.zeros_like(half), np.zeros_like(half)

    # Half the included angle is to be `leave` by the direction at the start and `arrive` by that at the end. At a kink
    # either of its two directions will do.
    heading = np.arctan2(ey, ex)
    leave, arrive = -wrapped(along.after[i] - heading), wrapped(along.before[j] - heading)
    leave_kink, arrive_kink = wrapped(along.after[i] - along.before[i]), wrapped(along.after[j] - along.before[j])
    leave_kink[np.abs(leave_kink) > CORNER] = 0.0
    arrive_kink[np.abs(arrive_kink) > CORNER] = 0.0
    lowest = np.maximum(leave + np.minimum(leave_kink, 0), arrive + np.minimum(arrive_kink, 0)) - swing
    highest = np.minimum(leave + np.maximum(leave_kink, 0), arrive + np.maximum(arrive_kink, 0)) + swing
    low_turn = np.maximum(low, np.tan(np.clip(lowest, -_STEEP, _STEEP) / 2))
    high_turn = np.minimum(high, np.tan(np.clip(highest, -_STEEP, _STEEP) / 2))
    possible &= low_turn <= high_turn
    possible[:, 0] = half[:, 0] > 0
    wanted = bulge_of_area(_beyond_chord(along, rows, width, p, q) / safe**2)
    bulge = np.clip(wanted, low_turn, np.maximum(low_turn, high_turn))
    straight = (low_turn <= 0) & (high_turn >= 0) & (np.abs(bulge) * half < tolerance * _AS_GOOD_AS_STRAIGHT)
    straight[:, 0] |= along.straight[rows]
    bulge[straight] = 0.0
    turn = 2 * np.arctan(bulge)
    return possible, bulge, (turn - leave) ** 2 + (turn - arrive) ** 2


def _beyond_chord(along: Stations, rows: NDArray[np.intp], width: int, p: Array, q: Array) -> Array:
    """The area between the outline and the chord of each span, positive where the outline lies to the right."""
    n = len(along.points) - 1
    i = rows[:, None]
    j = i + 1 + np.arange(width)[None, :]
    if along.closed:
        swept = along.swept[j % n] + (j // n) * along.swept[n] - along.swept[i]
    else:
        swept = along.swept[np.minimum(j, n)] - along.swept[i]
    a, b = p - along.points[0], q - along.points[0]
    area: Array = swept - (a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]) / 2
    return area


def bulge_of_area(area: Array) -> Array:
    """The bulge of the arc that has this area beyond its chord, in units of the squared half chord; at most `WIDEST`.

    Area beyond the chord: r² (θ - sin θ) / 2, r = h (1 + b²) / 2|b|, θ = 4 atan b; read backwards from a table.
    """
    bent: Array = np.sign(area) * np.interp(np.abs(area), _AREAS, _BULGES)
    return bent


_BULGES = np.linspace(0.0, WIDEST, 2001)
_ANGLES = 4 * np.arctan(_BULGES[1:])
_AREAS = np.concatenate(([0.0], ((1 + _BULGES[1:] ** 2) / (2 * _BULGES[1:])) ** 2 * (_ANGLES - np.sin(_ANGLES)) / 2))


def bulges_within(x: Array, u: Array, half: Array, tolerance: float) -> tuple[Array, Array]:
    """Lowest and highest bulge of an arc from (-half, 0) to (half, 0) that passes within `tolerance` of (x, -u).

    The circle of bulge b has its centre at height h (1 - b²) / 2b above the chord and radius h (1 + b²) / 2|b|. Setting
    the distance to the point to radius ± t gives h (u ± t) b² - A b - h (u ∓ t) = 0 with A = x² + u² - h² - t²; the
    root that goes to the straight chord's case is taken. A point within the tolerance of an end bounds nothing; a point
    beyond the circle on the chord as diameter, which no bulge under 1 reaches, bounds everything.
    """
    a = x * x + u * u - half * half - tolerance * tolerance
    under = a * a + 4 * half * half * (u * u - tolerance * tolerance)
    with np.errstate(invalid="ignore", divide="ignore"):
        below = a - np.sqrt(under)
        low = 2 * half * (tolerance - u) / below
        high = 2 * half * (-tolerance - u) / below
    free = np.hypot(np.abs(x) - half, u) <= tolerance
    out = ~free & ((a >= 0) | (under < 0))
    low = np.where(free, -np.inf, np.where(out, np.inf, low))
    high = np.where(free, np.inf, np.where(out, -np.inf, high))
    return low, high


# --- the chain of fewest pieces ---------------------------------------------------------------------------------


def _chain(along: Stations, tolerance: float, swing: float | None) -> Chain:
    n = len(along.points) - 1
    spans = _all_spans(along, tolerance, swing)
    fixed = np.flatnonzero(along.fixed[:n])
    starts = [0]
    if along.closed and len(fixed):
        starts = [int(fixed[0])]
    elif along.closed:
        reach = int(spans[0].reach.max())
        starts = sorted({reach * k // _STARTS for k in range(_STARTS)})
    at, bulge, _ = min((_route(spans, start) for start in starts), key=lambda route: (len(route[0]), route[2]))
    if along.closed:
        return Chain(np.column_stack((along.points[np.array(at[:-1]) % n], bulge)), True)
    return Chain(np.column_stack((along.points[at], [*bulge, 0.0])), False)


def _route(spans: list[_Spans], start: int) -> tuple[list[int], list[float], float]:
    """Of the routes of fewest spans once round from `start` the most even: its stations, bulges, summed unevenness."""
    n = len(spans)
    pieces = np.full(n + 1, n + 1)
    cost = np.full(n + 1, np.inf)
    origin, bulge = np.zeros(n + 1, dtype=np.intp), np.zeros(n + 1)
    pieces[0], cost[0] = 0, 0.0
    for k in range(n):
        here = spans[(start + k) % n]
        to = k + here.reach
        more, dearer = pieces[k] + 1, cost[k] + here.unevenness
        better = np.flatnonzero(to <= n)
        to = to[better]
        better = better[(more < pieces[to]) | ((more == pieces[to]) & (dearer[better] < cost[to]))]
        to = k + here.reach[better]
        pieces[to], cost[to], origin[to], bulge[to] = more, dearer[better], k, here.bulge[better]
    at, bent, k = [start + n], [], n
    while k > 0:
        bent.append(float(bulge[k]))
        k = int(origin[k])
        at.append(start + k)
    return at[::-1], bent[::-1], float(cost[n])
