"""Centre lines of a region for a pointed cutter: its medial axis without the branches that flattening caused, as
polylines of x, y and radius that cover every stretch once.

Words: *corner*, an end of the axis on the boundary; *trail*, a run along edges without lifting the cutter.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Sequence

import numpy as np

from pipeline.geometry.curves import Array
from pipeline.geometry.medial.medial_axis import MedialAxis, compute_medial_axis
from pipeline.geometry.medial.voronoi import LINEAR, PARABOLA
from pipeline.geometry.regions import Region


def trace_centre_lines(region: Region, tolerance: float, speck: float = 0.0) -> list[Array]:
    """Polylines (n, 3) of x, y, radius, in the region's unit, longest first.

    Discs of these radii along the lines, tapering from point to point, cover the region but for less than `tolerance`
    of distance anywhere. Parts smaller than `speck` (an area) have none. A closed run ends on its first point.
    """
    axis = compute_medial_axis(region, speck)
    if not len(axis.ends):
        return [np.array([[p[0], p[1], r]]) for p, r in zip(axis.points, axis.radius, strict=True)]
    kept, discs = _drop_false_branches(axis, tolerance / 2)
    lines = [_follow_trail(axis, trail, tolerance / 8) for trail in trace_branches(axis, kept)]
    lines = [simplify_line(line, tolerance / 4) for line in lines]
    lines += [np.array([[*axis.points[k], axis.radius[k]]]) for k in discs]
    return sorted(lines, key=lambda p: -float(np.hypot(*np.diff(p[:, :2], axis=0).T).sum()))


def _drop_false_branches(axis: MedialAxis, tolerance: float) -> tuple[list[int], list[int]]:
    """The edges that stay: a branch goes when the disc at its root covers all its corners but for the tolerance. Of a
    part of which nothing stays, a round dot, the node with the widest disc."""
    n = len(axis.points)
    x, y, r = axis.points[:, 0].tolist(), axis.points[:, 1].tolist(), axis.radius.tolist()
    around: list[dict[int, int]] = [{} for _ in range(n)]
    extra: list[int] = []  # a second edge between the same two nodes is part of a loop, never of a branch
    for k, (a, b) in enumerate(axis.ends.tolist()):
        if b in around[a] or a == b:
            extra.append(k)
        else:
            around[a][b] = k
            around[b][a] = k
    guarded = {int(v) for k in extra for v in axis.ends[k]}
    length = axis.length.tolist()
    corners: list[list[int]] = [[v] for v in range(n)]
    reach = [0.0] * n
    gone: set[int] = set()
    discs: list[int] = []
    heap = [(length[next(iter(around[v].values()))], v) for v in range(n) if len(around[v]) == 1 and v not in guarded]
    heapq.heapify(heap)
    while heap:
        far, v = heapq.heappop(heap)
        if len(around[v]) != 1:
            continue
        ((u, k),) = around[v].items()
        if any(math.hypot(x[c] - x[u], y[c] - y[u]) + r[c] - r[u] > tolerance for c in corners[v]):
            continue  # a true corner: this branch and everything it is attached to stay
        gone.add(k)
        around[v].clear()
        del around[u][v]
        corners[u] += corners[v]
        reach[u] = max(reach[u], far)
        if len(around[u]) == 1 and u not in guarded:
            heapq.heappush(heap, (reach[u] + length[next(iter(around[u].values()))], u))
        elif not around[u] and u not in guarded:
            discs.append(max(corners[u], key=lambda c: (r[c], -c)))
    return [k for k in range(len(axis.ends)) if k not in gone], sorted(discs)


def trace_branches(axis: MedialAxis, edges: Sequence[int]) -> list[list[tuple[int, int]]]:
    """Runs over all these edges, each once, as lists of (edge, node it is entered from). As few as there can be:
    half as many as there are nodes where an odd number of edges meet, and one for every loop without any."""
    around: dict[int, list[tuple[int, int]]] = {}
    for k in edges:
        a, b = (int(v) for v in axis.ends[k])
        around.setdefault(a, []).append((k, b))
        around.setdefault(b, []).append((k, a))
    left = {v: len(e) for v, e in around.items()}
    used: set[int] = set()

    def run(start: int) -> list[tuple[int, int]]:
        out: list[tuple[int, int]] = []
        node, came = start, -1
        while left[node]:
            ways = [(k, o) for k, o in around[node] if k not in used]
            if came >= 0 and len(ways) > 1:
                k, other = min(ways, key=lambda w: (_turn(axis, came, node, w[1]), w[0]))
            else:
                k, other = ways[0]
            used.add(k)
            left[node] -= 1
            left[other] -= 1
            out.append((k, node))
            came, node = node, other
        return out

    out = []
    for start in sorted((v for v in around if left[v] % 2), key=lambda v: (left[v], v)):
        if left[start] % 2:
            out.append(run(start))
    for start in sorted(around):
        while left[start]:
            out.append(run(start))
    return _splice_runs(axis, out)


def _turn(axis: MedialAxis, came: int, node: int, other: int) -> float:
    """Return how far continuing to `other` turns away from straight ahead, 0..2."""
    a, b = axis.points[node] - axis.points[came], axis.points[other] - axis.points[node]
    size = float(np.hypot(*a) * np.hypot(*b))
    return 1 - float(a @ b) / size if size else 2.0


def _splice_runs(axis: MedialAxis, runs: list[list[tuple[int, int]]]) -> list[list[tuple[int, int]]]:
    """Splice closed runs into another run that passes one of their nodes, so that the cutter need not be lifted."""
    out: list[list[tuple[int, int]]] = []
    closed: list[list[tuple[int, int]]] = []
    for run in runs:
        last = _get_other_end(axis, *run[-1])
        (closed if last == run[0][1] else out).append(run)
    waiting = True
    while closed and waiting:
        waiting = False
        for loop in list(closed):
            for run in out:
                at = {node: i for i, (_, node) in enumerate(run)}
                at.setdefault(_get_other_end(axis, *run[-1]), len(run))
                meet = next((i for i, (_, node) in enumerate(loop) if node in at), None)
                if meet is not None:
                    place = at[loop[meet][1]]
                    run[place:place] = loop[meet:] + loop[:meet]
                    closed.remove(loop)
                    waiting = True
                    break
        if closed and not waiting:
            out.append(closed.pop(0))
            waiting = True
    return out + closed


def _get_other_end(axis: MedialAxis, edge: int, node: int) -> int:
    a, b = (int(v) for v in axis.ends[edge])
    return b if a == node else a


def _follow_trail(axis: MedialAxis, trail: Sequence[tuple[int, int]], tolerance: float) -> Array:
    """Return a trail as points of x, y, radius; curved edges are stepped so that chords stay within the tolerance."""
    first = trail[0][1]
    points = [np.array([[*axis.points[first], axis.radius[first]]])]
    points += [_sample_edge(axis, k, node, tolerance) for k, node in trail]
    return np.concatenate(points)


def _sample_edge(axis: MedialAxis, k: int, start: int, tolerance: float) -> Array:
    """Points along edge k after its node `start`, its far end included."""
    i = 0 if int(axis.ends[k, 0]) == start else 1
    far = int(axis.ends[k, 1 - i])
    end = np.array([[*axis.points[far], axis.radius[far]]])
    kind, spread = int(axis.kind[k]), float(axis.spread[k])
    x0, x1 = float(axis.x[k, i]), float(axis.x[k, 1 - i])
    if kind == LINEAR or spread <= 0 or x0 == x1:
        return end
    # Neither place nor radius bends more than 1 / spread: a chord over a step h deviates by h² / (8 spread) at most.
    steps = max(1, math.ceil(abs(x1 - x0) / math.sqrt(8 * tolerance * spread)))
    if steps == 1:
        return end
    focus, base = axis.focus[k], axis.base[k]
    rise = (focus - base) / math.hypot(*(focus - base))
    along = np.array([rise[1], -rise[0]])
    apex = (focus + base) / 2
    sign = 1.0 if float((axis.points[far if x1 > x0 else start] - apex) @ along) >= 0 else -1.0
    x = x0 + (x1 - x0) * np.arange(1, steps)[:, None] / steps
    if kind == PARABOLA:
        place = apex + sign * x * along + x * x / (2 * spread) * rise
        radius = (x * x + spread * spread) / (2 * spread)
    else:
        place, radius = apex + sign * x * along, np.hypot(spread, x)
    return np.vstack((np.hstack((place, radius)), end))


def simplify_line(line: Array, tolerance: float) -> Array:
    """Return the polyline with as few of its points as keep all others within the tolerance; all columns count as
    lengths (Ramer, Douglas, Peucker). Ends stay."""
    if len(line) < 3:
        return line
    keep = np.zeros(len(line), dtype=bool)
    keep[0] = keep[-1] = True
    stack = [(0, len(line) - 1)]
    while stack:
        i, j = stack.pop()
        if j - i < 2:
            continue
        p, d = line[i + 1 : j] - line[i], line[j] - line[i]
        size = float(d @ d)
        t = np.clip(p @ d / size, 0, 1) if size > 0 else np.zeros(len(p))
        off = ((p - t[:, None] * d) ** 2).sum(axis=1)
        k = int(off.argmax())
        if off[k] > tolerance * tolerance:
            keep[i + 1 + k] = True
            stack += [(i, i + 1 + k), (i + 1 + k, j)]
    return line[keep]
