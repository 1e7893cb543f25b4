"""Fit outlines with as few lines and arcs as possible, within a tolerance.

*Span*: a stretch of the outline from one station to a later one, replaced by one line or arc through both stations.
*Node*: a station with a lean, 0 or `SWING` to either side: the direction in which the pieces that meet there share the
outline's, or lean away from it together. A span is possible between two nodes when some bulge keeps the arc within the
tolerance of every station passed over and its direction at both ends within `SWING` of the nodes'. Two pieces that meet
therefore turn by at most twice that where the outline itself is smooth. For every station passed over, the possible
bulges form an interval with a closed form, so all spans are tested at once by intersecting intervals. Of the possible
chains the one with the fewest pieces is taken (shortest path); of those, the one that follows the outline's directions
best. Of a span's possible bulges the one that changes the area least is taken: arcs then err equally to both sides.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.arcs.bulges import WIDEST, compute_bulge_from_area, find_bulges_within
from pipeline.geometry.arcs.curve_samples import CORNER, CurveSamples, sample_curve, wrap_angle
from pipeline.geometry.arcs.deviation import measure_deviation
from pipeline.geometry.curves import Array, Chain, Path

SWING = math.radians(1)
"""How far a piece may turn away at its ends from the direction it shares with its neighbour: breaks of at most 2°."""

_FINE_ARCS, _FINE_LINES = 10.0, 50.0  # chords between stations lie within tolerance / this
_WINDOW, _BEYOND = 12, 3  # longest spans tried first; if none of the last few is possible, no longer one is
_FARTHEST = 400  # longest span, in stretches: half a circle of radius 2,500 tolerances
_AT_ONCE = 20_000  # stations tested in one batch: as many as fit the processor's cache
_FEW = 4  # stations of a span tested first, before all of them
_STARTS = 8  # starting points tried for a contour without corners
_STEEP = 3.0  # radians, just short of half a turn, where the tangent of half the angle is still finite
_AS_GOOD_AS_STRAIGHT = 0.05  # of the tolerance: an arc this flat becomes a line
_MEASURED = 50.0  # curves are measured to the tolerance / this
_SURE = 0.97  # accepted share of the tolerance: the rest covers the error of the measurement
_NO_BULGE = 1e-9  # less than any drawing distinguishes from a straight line
_LEANS = (-1, 0, 1)  # of the allowed swing, see `_build_chain`
_KEPT_BACK = 0.95  # share of the tolerance the fit may use; the rest covers what lies between stations


@dataclass(frozen=True, slots=True, eq=False)
class FittedChain:
    """A chain that replaces a path, and the distance between the two, measured both ways, in the path's unit."""

    chain: Chain
    off_path: float  # the farthest the path lies from the chain
    off_chain: float  # the farthest the chain lies from the path

    @property
    def deviation(self) -> float:
        return max(self.off_path, self.off_chain)


def fit_arcs(path: Path, tolerance: float, swing: float = SWING) -> FittedChain:
    """Fit the path with lines and arcs that lie within `tolerance` of it, measured both ways."""
    return _fit(path, tolerance, swing, _FINE_ARCS)


def fit_lines(path: Path, tolerance: float) -> FittedChain:
    """Fit the path with the fewest chords that lie within `tolerance` of it; vertices on the path, corners kept."""
    return _fit(path, tolerance, None, _FINE_LINES)


def _fit(path: Path, tolerance: float, swing: float | None, fineness: float) -> FittedChain:
    if not tolerance > 0:
        raise ValueError(f"fitting tolerance {tolerance!r} is not positive")
    along = sample_curve(path, tolerance, fineness)
    if len(along.points) < 2:
        return FittedChain(Chain(np.zeros((0, 3)), path.closed), 0.0, 0.0)
    room = tolerance * _KEPT_BACK
    while True:
        chain = _build_chain(along, room, swing)
        off_path, off_chain = measure_deviation(path, chain, tolerance / _MEASURED)
        if max(off_path, off_chain) <= tolerance * _SURE or room < tolerance / 8:
            return FittedChain(chain, off_path, off_chain)
        room *= 0.9


# --- spans ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, eq=False)
class _SpanChoice:
    """Of spans: the lowest and highest bulge, the one that leaves the area as it is, the one as good as straight; half
    the included angle as the directions at both ends ask for it, and the kinks there, where either side will do."""

    low: Array
    high: Array
    wanted: Array
    flat: Array
    leave: Array
    arrive: Array
    leave_kink: Array
    arrive_kink: Array

    def add_leans(self, start: float, end: float, swing: float) -> tuple[Array, Array, NDArray[np.bool_]]:
        """Bulge, unevenness, and whether there is one, within `swing` of directions that lean so far to the left of the
        outline's at both ends."""
        leave, arrive = self.leave - start, self.arrive + end
        lowest = np.maximum(leave + np.minimum(self.leave_kink, 0), arrive + np.minimum(self.arrive_kink, 0)) - swing
        highest = np.minimum(leave + np.maximum(self.leave_kink, 0), arrive + np.maximum(self.arrive_kink, 0)) + swing
        low = np.maximum(self.low, np.tan(np.clip(lowest, -_STEEP, _STEEP) / 2))
        high = np.minimum(self.high, np.tan(np.clip(highest, -_STEEP, _STEEP) / 2))
        bulge = np.clip(self.wanted, low, np.maximum(low, high))
        straight = (low <= 0) & (high >= 0) & (np.abs(bulge) < self.flat)
        bulge[straight | np.isinf(self.flat) | (np.abs(bulge) < _NO_BULGE)] = 0.0
        turn = 2 * np.arctan(bulge)
        return bulge, (turn - self.leave) ** 2 + (turn - self.arrive) ** 2, low <= high


@dataclass(frozen=True, slots=True, eq=False)
class _Spans:
    """Possible spans: the station each starts from, stretches it passes, its bulge, how far off its ends' directions
    are. A span of one stretch is always possible. choice: what its bulge may be, see `_SpanChoice`; None for chords."""

    start: NDArray[np.intp]
    reach: NDArray[np.intp]
    bulge: Array
    unevenness: Array
    choice: _SpanChoice | None = None

    def number_nodes(self, swing: float) -> _Spans:
        """The same spans between nodes: each station once for every lean, in their order."""
        if self.choice is None:
            raise ValueError("spans that are not chosen have no nodes")
        out, leans = [], swing * np.array(_LEANS)
        for i, lean in enumerate(leans):
            for k, other in enumerate(leans):
                bulge, uneven, possible = self.choice.add_leans(lean, other, swing)
                possible |= (self.reach == 1) & (lean == 0) & (other == 0)
                start, reach = len(leans) * self.start + i, len(leans) * self.reach + k - i
                out.append(_Spans(start[possible], reach[possible], bulge[possible], uneven[possible]))
        return _concatenate_spans(out)


def _find_all_spans(along: CurveSamples, tolerance: float, swing: float | None) -> _Spans:
    """Find the possible spans of every station. Longer ones are tried only where the longest so far are still
    possible."""
    n = len(along.points) - 1
    room = _measure_room(along)
    found: list[_Spans] = []
    rows, tried, width = np.arange(n), 0, min(n, _WINDOW)
    while len(rows):
        counts = np.minimum(room[rows], width) - tried
        rows, counts = rows[counts > 0], counts[counts > 0]
        start, step = _spread(counts)
        spans = _find_possible_spans(along, tolerance, swing, rows[start], tried + 1 + step)
        found.append(spans)
        if width >= min(n, _FARTHEST):
            break
        rows = np.unique(spans.start[spans.reach > width - _BEYOND])
        tried, width = width, min(n, width * 2)
    return _concatenate_spans(found)


def _measure_room(along: CurveSamples) -> NDArray[np.intp]:
    """Return how many stretches a span from each station may have: none passes over a fixed station or goes all the way
    round."""
    n = len(along.points) - 1
    ends = np.flatnonzero(along.fixed[:n] if along.closed else along.fixed)
    if along.closed:
        ends = np.append(ends, ends[0] + n) if len(ends) else np.array([2 * n])
    following: NDArray[np.intp] = ends[np.searchsorted(ends, np.arange(n), side="right")] - np.arange(n)
    return np.minimum(following, n)


def _spread(counts: NDArray[np.intp]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """For counts (2, 3), return each element's group, 0 0 1 1 1, and its index within the group, 0 1 0 1 2."""
    owner = np.repeat(np.arange(len(counts)), counts)
    return owner, np.arange(len(owner)) - (np.cumsum(counts) - counts)[owner]


def _concatenate_spans(parts: list[_Spans]) -> _Spans:
    return _Spans(
        np.concatenate([s.start for s in parts]),
        np.concatenate([s.reach for s in parts]),
        np.concatenate([s.bulge for s in parts]),
        np.concatenate([s.unevenness for s in parts]),
        _SpanChoice(*(np.concatenate([getattr(s.choice, name) for s in parts]) for name in _SpanChoice.__slots__))
        if parts[0].choice is not None
        else None,
    )


def _find_possible_spans(
    along: CurveSamples, tolerance: float, swing: float | None, start: NDArray[np.intp], reach: NDArray[np.intp]
) -> _Spans:
    """Return those spans from stations `start` over `reach` stretches that are possible.

    The cheapest tests come first: the directions at both ends, then a few of the stations passed over, and all of them
    only for what is left.
    """
    n = len(along.points) - 1
    stop = (start + reach) % n if along.closed else start + reach
    chord = along.points[stop] - along.points[start]
    half = np.hypot(chord[:, 0], chord[:, 1]) / 2
    low, high = np.full(half.shape, -WIDEST), np.full(half.shape, WIDEST)
    leave = arrive = np.zeros_like(half)
    if swing is not None:
        leave, arrive, low, high = _fit_by_direction(along, start, stop, chord, swing)

    def drop_spans(keep: NDArray[np.bool_]) -> None:
        nonlocal start, reach, stop, half, low, high, leave, arrive
        start, reach, stop, half = start[keep], reach[keep], stop[keep], half[keep]
        low, high, leave, arrive = low[keep], high[keep], leave[keep], arrive[keep]

    drop_spans((half > 0) & ((low <= high) | (reach == 1)))
    for every in (False, True):
        lows, highs = _fit_by_stations(along, tolerance, start, reach, half, every)
        low, high = np.maximum(low, lows), np.minimum(high, highs)
        possible = low <= high if swing is not None else (low <= 0) & (high >= 0)
        drop_spans(possible | (reach == 1))
    if swing is None:
        return _Spans(start, reach, np.zeros_like(half), np.zeros_like(half))
    flat = tolerance * _AS_GOOD_AS_STRAIGHT / half
    flat[(reach == 1) & along.straight[start]] = np.inf
    wanted = compute_bulge_from_area(_measure_beyond_chord(along, start, reach) / half**2)
    kink = _find_kinks(along)
    stop = (start + reach) % n if along.closed else start + reach
    choice = _SpanChoice(low, high, wanted, flat, leave, arrive, kink[start], kink[stop])
    bulge, uneven, _ = choice.add_leans(0.0, 0.0, swing)
    return _Spans(start, reach, bulge, uneven, choice)


def _find_kinks(along: CurveSamples) -> Array:
    """Return the change of the outline's direction at each station, 0 at corners."""
    kink: Array = wrap_angle(along.after - along.before)
    kink[np.abs(kink) > CORNER] = 0.0
    return kink


def _fit_by_direction(
    along: CurveSamples, start: NDArray[np.intp], stop: NDArray[np.intp], chord: Array, swing: float
) -> tuple[Array, Array, Array, Array]:
    """Half the included angle as the directions at the start and at the end ask for it; the lowest and highest bulge
    within `swing` of both. At a kink either of its two directions counts."""
    heading = np.arctan2(chord[:, 1], chord[:, 0])
    leave, arrive = -wrap_angle(along.after[start] - heading), wrap_angle(along.before[stop] - heading)
    kink = _find_kinks(along)
    leave_kink, arrive_kink = kink[start], kink[stop]
    lowest = np.maximum(leave + np.minimum(leave_kink, 0), arrive + np.minimum(arrive_kink, 0)) - swing
    highest = np.minimum(leave + np.maximum(leave_kink, 0), arrive + np.maximum(arrive_kink, 0)) + swing
    low = np.maximum(-WIDEST, np.tan(np.clip(lowest, -_STEEP, _STEEP) / 2))
    high = np.minimum(WIDEST, np.tan(np.clip(highest, -_STEEP, _STEEP) / 2))
    return leave, arrive, low, high


def _fit_by_stations(
    along: CurveSamples, tolerance: float, start: NDArray[np.intp], reach: NDArray[np.intp], half: Array, every: bool
) -> tuple[Array, Array]:
    """Return the lowest and highest bulge with which each span stays within the tolerance of every station it passes
    over, or of a few of them."""
    low, high = np.full(half.shape, -np.inf), np.full(half.shape, np.inf)
    passing = np.flatnonzero(reach > 1)
    counts = reach[passing] - 1
    if not every:
        counts = np.minimum(counts, _FEW)
    ways = along.points if not along.closed else np.concatenate((along.points[:-1], along.points))  # once more round
    ways = np.ascontiguousarray(ways.T)
    cuts = np.searchsorted(np.cumsum(counts), np.arange(_AT_ONCE, int(counts.sum()) + 1, _AT_ONCE), side="right")
    for some, many in zip(np.split(passing, cuts), np.split(counts, cuts), strict=True):
        if not len(some):
            continue
        owner, step = _spread(many)
        step = step + 1 if every else 1 + (2 * step + 1) * (reach[some] - 1)[owner] // (2 * many[owner])
        lows, highs = _compute_bulges_at(ways, tolerance, start[some], reach[some], half[some], many, step)
        firsts = np.cumsum(many) - many
        low[some], high[some] = np.maximum.reduceat(lows, firsts), np.minimum.reduceat(highs, firsts)
    return low, high


def _compute_bulges_at(
    ways: Array,
    tolerance: float,
    start: NDArray[np.intp],
    reach: NDArray[np.intp],
    half: Array,
    many: NDArray[np.intp],
    step: NDArray[np.intp],
) -> tuple[Array, Array]:
    """Lowest and highest bulge of spans for `many` stations of each, the ones `step` stretches after its start.

    ways: x and y of the stations (2, n), of closed runs twice round.
    """
    over = np.repeat(start, many)
    over += step
    p, q = ways[:, start], ways[:, start + reach]
    (ex, ey), (mx, my) = (q - p) / (2 * half), (p + q) / 2
    dx, dy = ways[0, over], ways[1, over]
    dx -= np.repeat(mx, many)
    dy -= np.repeat(my, many)
    ex, ey = np.repeat(ex, many), np.repeat(ey, many)
    return find_bulges_within(dx * ex + dy * ey, dx * ey - dy * ex, np.repeat(half, many), tolerance)


def _measure_beyond_chord(along: CurveSamples, start: NDArray[np.intp], reach: NDArray[np.intp]) -> Array:
    """The area between the outline and the chord of each span, positive where the outline lies to the right."""
    n = len(along.points) - 1
    stop = start + reach
    swept = along.swept[stop] if not along.closed else along.swept[stop % n] + (stop // n) * along.swept[n]
    a, b = along.points[start] - along.points[0], along.points[stop % n if along.closed else stop] - along.points[0]
    area: Array = swept - along.swept[start] - (a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]) / 2
    return area


# --- the chain of fewest pieces ---------------------------------------------------------------------------------


def _build_chain(along: CurveSamples, tolerance: float, swing: float | None) -> Chain:
    n, leans = len(along.points) - 1, 1 if swing is None else len(_LEANS)
    spans = _find_all_spans(along, tolerance, None if swing is None else 2 * swing)
    fixed = np.flatnonzero(along.fixed[:n])
    starts = [0]
    if along.closed and len(fixed):
        starts = [int(fixed[0])]
    elif along.closed:
        reach = int(spans.reach[spans.start == 0].max())
        starts = sorted({reach * k // _STARTS for k in range(_STARTS)})
    if swing is not None:
        spans = spans.number_nodes(swing)
    at, bulge = _find_route(
        spans, [leans * start + lean for start in starts for lean in range(leans)], leans * n, leans
    )
    at //= leans
    if along.closed:
        return Chain(np.column_stack((along.points[at[:-1] % n], bulge)), True)
    return Chain(np.column_stack((along.points[at], np.append(bulge, 0.0))), False)


def _find_route(spans: _Spans, starts: list[int], n: int, leans: int) -> tuple[NDArray[np.intp], Array]:
    """Of the routes with the fewest spans once round from one of the `starts`, return the most even: its nodes and
    bulges.

    Dynamic programming, station by station, for all starts side by side: of the spans that end at a node the one is
    kept that makes the route to it shortest, then most even; then the longest. n: nodes once round, of which each
    station has `leans`.
    """
    first, last = starts[0], starts[-1] + n
    stop = (spans.start + spans.reach) % n
    order = np.lexsort((-spans.reach, stop))  # sorted by end, the longest first
    reach, bulge = spans.reach[order], spans.bulge[order]
    back = reach - stop[order] % leans  # from a span's start to the first node of its end station
    price = 1 + 1j * spans.unevenness[order][:, None]  # complex numbers are compared by their real part first
    ends = np.searchsorted(stop[order], np.arange(n + 1)).tolist()
    before = int(reach.max())  # padding before the first node, where no route starts
    route = np.full((before + last - first + 1, len(starts)), complex(np.inf, 0))  # number of pieces + 1j * unevenness
    for m in range(first, last + 1, leans):
        row, base = m - first + before, m % n
        low, high = ends[base], ends[base + leans]
        ending = [k for k in range(leans) if ends[base + k] < ends[base + k + 1]]
        if ending:
            tried = route[row - back[low:high]]
            tried += price[low:high]
            heads = [ends[base + k] - low for k in ending]
            route[[row + k for k in ending]] = np.minimum.reduceat(tried, heads)
        if m <= starts[-1]:
            for column, start in enumerate(starts):
                if m <= start < m + leans:
                    route[start - first + before, column] = 0
    whole = [(price.real, price.imag) for price in (route[s + n - first + before, k] for k, s in enumerate(starts))]
    chosen = whole.index(min(whole))
    at, bent = [starts[chosen] + n], []
    while at[-1] > starts[chosen]:
        low, high = ends[at[-1] % n], ends[at[-1] % n + 1]
        tried = route[at[-1] - first + before - reach[low:high], chosen] + price[low:high, 0]
        span = low + int(tried.argmin())
        bent.append(bulge[span])
        at.append(at[-1] - int(reach[span]))
    return np.array(at[::-1]), np.array(bent[::-1])
