"""Lines, arcs and curves of one layer to closed contours: duplicates removed, ends joined, gaps mended and reported.

Words: a *stretch* is one straight line or arc (x0, y0, x1, y1, bulge); a *strand* is an open chain; a *loop* is closed.
Everything is in mm, in the drawing's own coordinates.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely

from pipeline.geometry.curves import Array, Chain
from pipeline.geometry.flatten import chain_area, compute_arc_from_bulge, flatten_chain
from pipeline.geometry.regions import group_nearby

SAME = 1e-3
"""mm. Stretches this close over their whole length are one stretch drawn twice; ends this close meet."""

FLAT = 0.005
"""Flattening tolerance, mm, for telling inside from outside; never for what is cut."""

Place = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenEnd:
    """An end that meets no other, the nearest free end on its layer, and the distance to it."""

    at: Place
    nearest: Place | None
    gap: float | None


@dataclass(slots=True, kw_only=True)
class JoinedLoops:
    """The contours of one layer, with what was mended and what is wrong."""

    loops: list[Chain] = field(default_factory=list)
    repeated: int = 0
    mended: list[tuple[float, Place]] = field(default_factory=list)  # width of the gap, place
    open_ends: list[OpenEnd] = field(default_factory=list)
    branches: list[tuple[Place, int]] = field(default_factory=list)  # where more than two ends meet, and how many
    crossings: list[Place] = field(default_factory=list)  # where a contour crosses itself


def join_chains(chains: Iterable[Chain], gap: float) -> JoinedLoops:
    """Join ends no farther apart than `gap`, and return the loops."""
    out = JoinedLoops()
    loops: list[Chain] = []
    stretches: list[Array] = []
    follows: dict[int, int] = {}  # end -> the end that follows it within its own chain
    for chain in chains:
        if chain.closed:
            loops.append(chain)
            continue
        own = split_stretches(chain)
        for k in range(len(stretches), len(stretches) + len(own) - 1):
            follows |= {2 * k + 1: 2 * k + 2, 2 * k + 2: 2 * k + 1}
        stretches += own
    loops, dropped = _drop_equal_loops(loops)
    single = _drop_doubles(stretches)
    kept, covered = _drop_on_loops(single.live, loops)
    out.repeated += dropped + single.merged + covered
    more = [*single.rings, *_close_strands(kept, follows, gap, out)]
    more, dropped = _drop_equal_loops([*loops, *more])
    out.repeated += dropped
    for loop in more:
        crossing = _find_crossing(loop)
        if crossing is None:
            out.loops.append(loop)
        else:
            out.crossings.append(crossing)
    return out


def split_stretches(chain: Chain) -> list[Array]:
    """Split a chain into its lines and arcs, without those of zero length."""
    v = chain.vertices
    ends = np.roll(v, -1, axis=0) if chain.closed else v[1:]
    rows = np.column_stack((v[: len(ends), :2], ends[:, :2], v[: len(ends), 2]))
    return [row for row in rows if math.hypot(row[2] - row[0], row[3] - row[1]) > 1e-9]


# --- doubles ---------------------------------------------------------------------------------------------------


def _drop_equal_loops(loops: Sequence[Chain]) -> tuple[list[Chain], int]:
    kept: list[tuple[Chain, float, object]] = []
    for loop in loops:
        ring = shapely.LinearRing(build_ring(loop))
        area = abs(chain_area(loop))
        for _, other_area, other in kept:
            if abs(area - other_area) <= SAME * ring.length and shapely.hausdorff_distance(ring, other) <= FLAT + SAME:
                break
        else:
            kept.append((loop, area, ring))
    return [k[0] for k in kept], len(loops) - len(kept)


def build_ring(loop: Chain) -> Array:
    """Flatten a closed chain to a ring (n, 2) of at least three corners."""
    ring = flatten_chain(loop, FLAT)
    return ring if len(ring) >= 3 else np.vstack((ring, ring[:1], ring[:1]))[:4]


Numbered = list[tuple[int, Array]]
"""Stretches with their numbers as drawn; -1 for one merged from several."""


@dataclass(slots=True, kw_only=True)
class _Single:
    live: Numbered
    rings: list[Chain]
    merged: int


def _drop_doubles(stretches: list[Array]) -> _Single:
    """Merge stretches that overlap; arcs that together make a full turn become a ring."""
    numbered = list(enumerate(stretches))
    lines, n = _merge_stretches([s for s in numbered if s[1][4] == 0.0], _merge_lines)
    arcs, m = _merge_stretches([s for s in numbered if s[1][4] != 0.0], _merge_arcs)
    rings = [Chain(np.array([[s[0], s[1], 1.0], [s[2], s[3], 1.0]])) for _, s in arcs if math.isinf(s[4])]
    return _Single(live=lines + [s for s in arcs if not math.isinf(s[1][4])], rings=rings, merged=n + m)


def _merge_stretches(stretches: Numbered, one: Callable[[Array, Array], Array | None]) -> tuple[Numbered, int]:
    """Merge pairs repeatedly as long as `one` can merge them; candidates by their boxes."""
    live = list(stretches)
    merged = 0
    while len(live) > 1:
        boxes = [_compute_box(s) for _, s in live]
        left, right = shapely.STRtree(boxes).query(boxes)
        taken: set[int] = set()
        fresh: Numbered = []
        for i, j in zip(left.tolist(), right.tolist(), strict=True):
            if i >= j or i in taken or j in taken:
                continue
            united = one(live[i][1], live[j][1])
            if united is not None:
                taken |= {i, j}
                fresh.append((-1, united))
        if not taken:
            break
        merged += len(fresh)
        live = [s for k, s in enumerate(live) if k not in taken] + fresh
    return live, merged


def _compute_box(s: Array) -> object:
    x0, x1 = sorted((s[0], s[2]))
    y0, y1 = sorted((s[1], s[3]))
    if s[4]:
        (cx, cy), r = _find_circle(s)
        x0, x1, y0, y1 = cx - r, cx + r, cy - r, cy + r
    return shapely.box(x0 - SAME, y0 - SAME, x1 + SAME, y1 + SAME)


def _find_circle(s: Array) -> tuple[Place, float]:
    if math.isinf(s[4]):
        return ((s[0] + s[2]) / 2, (s[1] + s[3]) / 2), math.hypot(s[2] - s[0], s[3] - s[1]) / 2
    centre, radius, _, _ = compute_arc_from_bulge(s[:2], s[2:4], s[4])
    return centre, radius


def _merge_lines(a: Array, b: Array) -> Array | None:
    """Merge two lines that overlap by more than SAME; None when they don't."""
    if math.hypot(a[2] - a[0], a[3] - a[1]) < math.hypot(b[2] - b[0], b[3] - b[1]):
        a, b = b, a
    d = a[2:4] - a[:2]
    length = math.hypot(d[0], d[1])
    d = d / length
    along, off = [], []
    for p in (b[:2], b[2:4]):
        w = p - a[:2]
        along.append(float(w @ d))
        off.append(abs(float(d[0] * w[1] - d[1] * w[0])))
    if max(off) > SAME or min(max(along), length) - max(min(along), 0.0) <= SAME:
        return None
    ends = sorted([(0.0, 0), (length, 1), (along[0], 2), (along[1], 3)])
    points = (a[:2], a[2:4], b[:2], b[2:4])
    return np.concatenate((points[ends[0][1]], points[ends[-1][1]], [0.0]))


def _merge_arcs(a: Array, b: Array) -> Array | None:
    """Merge two arcs that overlap by more than SAME, into an arc or (bulge inf) a circle."""
    (ax, ay), ra = _find_circle(a)
    (bx, by), rb = _find_circle(b)
    if math.hypot(ax - bx, ay - by) > SAME or abs(ra - rb) > SAME:
        return None
    if math.isinf(a[4]) or math.isinf(b[4]):
        return a if math.isinf(a[4]) else b
    start_a, sweep_a = _measure_sweep(a)
    start_b, sweep_b = _measure_sweep(b)
    slack = SAME / ra
    offset = (start_b - start_a) % math.tau  # angle from a's start to b's start
    if offset > math.tau - slack:
        offset -= math.tau
    first = min(sweep_a, offset + sweep_b) - max(0.0, offset)  # overlap counted from a's start
    second = min(sweep_a, offset + sweep_b - math.tau)  # overlap after a full turn
    if max(first, second) <= slack:
        return None
    if second > -slack and first > -slack and max(sweep_a, offset + sweep_b) >= math.tau - slack:
        return np.array([ax + ra, ay, ax - ra, ay, math.inf])
    low, high = (min(0.0, offset), max(sweep_a, offset + sweep_b)) if first > slack else (offset - math.tau, sweep_a)
    if high - low >= math.tau - slack:
        return np.array([ax + ra, ay, ax - ra, ay, math.inf])
    start, end = start_a + low, start_a + high
    p = (ax + ra * math.cos(start), ay + ra * math.sin(start))
    q = (ax + ra * math.cos(end), ay + ra * math.sin(end))
    return np.array([*p, *q, math.tan((high - low) / 4)])


def _measure_sweep(s: Array) -> tuple[float, float]:
    """Return the start angle and positive sweep of an arc, anticlockwise."""
    _, _, start, sweep = compute_arc_from_bulge(s[:2], s[2:4], s[4])
    return (start, sweep) if sweep > 0 else (start + sweep, -sweep)


def _drop_on_loops(stretches: Numbered, loops: Sequence[Chain]) -> tuple[Numbered, int]:
    """Drop stretches that only trace a contour already closed: they are duplicates too."""
    if not loops or not stretches:
        return stretches, 0
    rings = shapely.union_all([shapely.LinearRing(build_ring(loop)) for loop in loops])
    kept = []
    for number, s in stretches:
        line = flatten_chain(Chain(np.array([[s[0], s[1], s[4]], [s[2], s[3], 0.0]]), closed=False), FLAT)
        probes = shapely.line_interpolate_point(shapely.LineString(line), np.linspace(0, 1, 9), normalized=True)
        if shapely.distance(probes, rings).max() > FLAT + SAME:
            kept.append((number, s))
    return kept, len(stretches) - len(kept)


# --- joining ---------------------------------------------------------------------------------------------------


def _close_strands(numbered: Numbered, follows: dict[int, int], gap: float, out: JoinedLoops) -> list[Chain]:
    """Join ends: first those of one chain, then those that meet, then those within the gap."""
    if not numbered:
        return []
    stretches = [s for _, s in numbered]
    ends = np.array([s[i : i + 2] for s in stretches for i in (0, 2)])  # end k belongs to stretch k // 2
    place = {number: k for k, (number, _) in enumerate(numbered) if number >= 0}
    partner: dict[int, int] = {}
    for a, b in follows.items():
        if a // 2 in place and b // 2 in place:
            partner[2 * place[a // 2] + a % 2] = 2 * place[b // 2] + b % 2
    _pair_ends(ends, partner, SAME)
    dropped = _drop_specks(ends, partner, max(gap, SAME), out)
    groups = _pair_ends(ends, partner, max(gap, SAME), dropped)
    for a, b in partner.items():
        if a < b and math.dist(ends[a], ends[b]) > SAME:
            out.mended.append((math.dist(ends[a], ends[b]), _round_place((ends[a] + ends[b]) / 2)))
    for members in groups:
        if len(members) > 2:
            out.branches.append((_round_place(ends[members].mean(axis=0)), len(members)))
    free = [members[0] for members in groups if len(members) == 1]
    out.open_ends += _open_ends(ends[free])
    out.open_ends.sort(key=lambda e: (e.gap is None, e.gap or 0.0, e.at))
    if out.branches or out.open_ends:
        return []
    return _walk_stretches(stretches, ends, partner, dropped)


def _open_ends(ends: Array) -> list[OpenEnd]:
    if len(ends) < 2:
        return [OpenEnd(at=_round_place(end), nearest=None, gap=None) for end in ends]
    points = shapely.points(ends)
    (own, other), gaps = shapely.STRtree(points).query_nearest(
        points, exclusive=True, return_distance=True, all_matches=False
    )
    return [
        OpenEnd(at=_round_place(ends[a]), nearest=_round_place(ends[b]), gap=float(gap))
        for a, b, gap in zip(own.tolist(), other.tolist(), gaps.tolist(), strict=True)
    ]


def _pair_ends(
    ends: Array, partner: dict[int, int], reach: float, dropped: frozenset[int] = frozenset()
) -> list[list[int]]:
    """Pair free ends that are within reach of one another; return the groups that can't be paired."""
    free = [k for k in range(len(ends)) if k not in partner and k // 2 not in dropped]
    if not free:
        return []
    left = []
    for members in group_nearby(shapely.points(ends[free]), reach):
        if len(members) == 2:
            a, b = free[members[0]], free[members[1]]
            partner[a], partner[b] = b, a
        else:
            left.append([free[m] for m in members])
    return left


def _drop_specks(ends: Array, partner: dict[int, int], gap: float, out: JoinedLoops) -> frozenset[int]:
    """Leave out strands shorter than the gap whose neighbours meet without them; returns their stretches."""
    dropped: set[int] = set()
    free = [k for k in range(len(ends)) if k not in partner]
    for first in free:
        strand, k = [first // 2], first
        while (k ^ 1) in partner:
            k = partner[k ^ 1]
            strand.append(k // 2)
        last = k ^ 1
        if strand[0] in dropped or last == first or math.dist(ends[first], ends[last]) > gap:
            continue
        length = sum(math.dist(ends[2 * n], ends[2 * n + 1]) for n in strand)
        near = [j for j in free if j // 2 not in dropped and j not in (first, last)]
        beside = [j for j in near if min(math.dist(ends[j], ends[first]), math.dist(ends[j], ends[last])) <= gap]
        if length <= gap and len(beside) >= 2:
            dropped |= set(strand)
            out.mended.append((length, _round_place((ends[first] + ends[last]) / 2)))
    return frozenset(dropped)


def _round_place(p: Array) -> Place:
    return float(p[0]), float(p[1])


def _walk_stretches(
    stretches: list[Array], ends: Array, partner: dict[int, int], dropped: frozenset[int]
) -> list[Chain]:
    """Follow partners round. Every end has one, so every walk comes back to where it began."""
    seen = set(dropped)
    loops = []
    for first in range(len(stretches)):
        if first in seen:
            continue
        vertices: list[tuple[float, float, float]] = []
        k = 2 * first  # the end by which the walk enters a stretch
        while k // 2 not in seen:
            s = stretches[k // 2]
            seen.add(k // 2)
            corner = _find_meeting(stretches, ends, k, partner[k])
            vertices.append((*corner, float(s[4] if k % 2 == 0 else -s[4])))
            k = partner[k ^ 1]
        loops.append(Chain(np.array(vertices)))
    return loops


def _find_meeting(stretches: list[Array], ends: Array, a: int, b: int) -> Place:
    """Return where two ends are joined: at an arc's end if a straight line can reach it, else halfway."""
    straight_a, straight_b = stretches[a // 2][4] == 0.0, stretches[b // 2][4] == 0.0
    if straight_a == straight_b:
        return _round_place((ends[a] + ends[b]) / 2)
    return _round_place(ends[b] if straight_a else ends[a])


def _find_crossing(loop: Chain) -> Place | None:
    """Find where a contour crosses or touches itself; None when it doesn't."""
    ring = build_ring(loop)
    polygon = shapely.Polygon(ring)
    if polygon.is_valid and polygon.area > SAME * SAME:
        return None
    if polygon.is_valid or len(ring) < 3:
        return _round_place(ring[0])
    reason = shapely.is_valid_reason(polygon)
    numbers = reason[reason.rfind("[") + 1 : reason.rfind("]")].split() if "[" in reason else []
    return (float(numbers[0]), float(numbers[1])) if len(numbers) >= 2 else _round_place(ring[0])


def find_crossings(loops: Sequence[Chain]) -> list[Place]:
    """Find one place for each pair of loops that cross or touch."""
    if len(loops) < 2:
        return []
    rings = [shapely.LinearRing(build_ring(loop)) for loop in loops]
    left, right = shapely.STRtree(rings).query(rings, predicate="intersects")
    places = []
    for a, b in sorted(zip(left.tolist(), right.tolist(), strict=True)):
        if a < b:
            x, y = shapely.get_coordinates(rings[a].intersection(rings[b]))[0]
            places.append((float(x), float(y)))
    return places
