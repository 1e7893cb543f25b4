"""Walking a medial axis outwards: from its loops, or without a loop from the middle of its longest path.

Words: *core*, the part of the axis on or between closed loops; *reach* of a node, the longest way along the axis from
it to an end without coming nearer the core; *component*, a connected part of the axis.
"""

from __future__ import annotations

import heapq
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.curves import Array
from pipeline.geometry.medial.medial_axis import MedialAxis, compute_length_to, compute_radius_on
from pipeline.geometry.medial.voronoi import LINEAR, PARABOLA, Index


@dataclass(frozen=True, slots=True, eq=False)
class AxisMiddle:
    """The middle of the longest path of a component without loops: on an edge, `along` from its node `near`.

    half: length from here to the ends. radius and place are those of the middle itself.
    """

    edge: int  # -1 when the component is a single node
    near: int
    far: int
    along: float
    half: float
    radius: float
    place: tuple[float, float]
    component: int


@dataclass(frozen=True, slots=True, eq=False)
class AxisReach:
    """Findings of a walk over the whole axis.

    outer, inner (k,): the nodes of every edge outside the core, in an order in which everything beyond an edge comes
    before it; edge (k,): its number. reach (n,): of every node. core (m,): whether an edge belongs to a core.
    component (n,): number of each node's component.
    """

    outer: Index
    inner: Index
    edge: Index
    reach: Array
    core: NDArray[np.bool_]
    middles: tuple[AxisMiddle, ...]
    component: Index
    components: int


def measure_reach(axis: MedialAxis) -> AxisReach:
    """Strip the axis from its ends inwards, shortest first, carrying the reach; what cannot be stripped is the core.

    Taking the end with the shortest reach first leaves, in a component without loops, the edge that holds the middle
    of its longest path.
    """
    n, ends = len(axis.points), axis.ends
    length = axis.length.tolist()
    around: list[list[tuple[int, int]]] = [[] for _ in range(n)]
    for k, (a, b) in enumerate(ends.tolist()):
        around[a].append((b, k))
        around[b].append((a, k))
    left = [len(x) for x in around]
    gone = [False] * len(ends)
    reach = [0.0] * n
    heap: list[tuple[float, int, int, int]] = []

    def offer(node: int) -> None:
        for other, k in around[node]:
            if not gone[k]:
                heapq.heappush(heap, (reach[node] + length[k], node, other, k))

    for node in range(n):
        if left[node] == 1:
            offer(node)
    outer, inner, edge, middles = [], [], [], []
    component, components = _label_components(n, ends)
    while heap:
        far, node, other, k = heapq.heappop(heap)
        if gone[k]:
            continue
        gone[k] = True
        if left[other] == 1:  # both nodes are ends: the last edge of a component without loops
            middles.append(_locate_middle(axis, k, node, reach=reach, component=int(component[node])))
            left[node] = left[other] = 0
            continue
        outer.append(node)
        inner.append(other)
        edge.append(k)
        left[node] -= 1
        left[other] -= 1
        reach[other] = max(reach[other], far)
        if left[other] == 1:
            offer(other)
    for node in range(n):
        if not around[node]:
            place = (float(axis.points[node, 0]), float(axis.points[node, 1]))
            middles.append(AxisMiddle(-1, node, node, 0.0, 0.0, float(axis.radius[node]), place, int(component[node])))
    return AxisReach(
        outer=np.array(outer, dtype=np.intp),
        inner=np.array(inner, dtype=np.intp),
        edge=np.array(edge, dtype=np.intp),
        reach=np.array(reach),
        core=~np.array(gone, dtype=bool),
        middles=tuple(middles),
        component=component,
        components=components,
    )


def _label_components(n: int, ends: Index) -> tuple[Index, int]:
    parent = list(range(n))

    def find_root(k: int) -> int:
        while parent[k] != k:
            parent[k] = parent[parent[k]]
            k = parent[k]
        return k

    for a, b in ends.tolist():
        parent[find_root(a)] = find_root(b)
    _, numbers = np.unique(np.array([find_root(k) for k in range(n)], dtype=np.intp), return_inverse=True)
    return numbers.astype(np.intp), int(numbers.max()) + 1 if n else 0


def _locate_middle(axis: MedialAxis, k: int, u: int, *, reach: list[float], component: int) -> AxisMiddle:
    a, b = axis.ends[k].tolist()
    v = b if u == a else a
    whole = float(axis.length[k])
    along = min(max((reach[v] + whole - reach[u]) / 2, 0.0), whole)
    r, at = locate_at_length(axis, k, u, along)
    return AxisMiddle(k, u, v, along, reach[u] + along, r, at, component)


def locate_at_length(axis: MedialAxis, k: int, start: int, along: float) -> tuple[float, tuple[float, float]]:
    """Radius and place on edge k, `along` its curve from the node `start`."""
    i = 0 if int(axis.ends[k, 0]) == start else 1
    a, b = int(axis.ends[k, i]), int(axis.ends[k, 1 - i])
    whole = float(axis.length[k])
    t = along / whole if whole > 0 else 0.0
    p, q = axis.points[a], axis.points[b]
    kind, spread = int(axis.kind[k]), float(axis.spread[k])
    if kind == LINEAR:
        r = float(axis.radius[a] + t * (axis.radius[b] - axis.radius[a]))
        return r, (float(p[0] + t * (q[0] - p[0])), float(p[1] + t * (q[1] - p[1])))
    x0, x1 = float(axis.x[k, i]), float(axis.x[k, 1 - i])
    x = find_x_at_length(kind, spread, x0, x1, along)
    return compute_radius_on(kind, spread, x), locate_on_edge(axis, k, x)


def find_x_at_length(kind: int, spread: float, x0: float, x1: float, along: float) -> float:
    """The x, between x0 and x1, that lies `along` the curve from x0."""
    start = compute_length_to(kind, spread, x0)
    low, high = 0.0, 1.0
    for _ in range(60):
        t = (low + high) / 2
        if abs(compute_length_to(kind, spread, x0 + t * (x1 - x0)) - start) < along:
            low = t
        else:
            high = t
    return x0 + (low + high) / 2 * (x1 - x0)


def locate_on_edge(axis: MedialAxis, k: int, x: float) -> tuple[float, float]:
    """The point at distance x (not signed) from the least radius of a parabola or bisector, on its edge's side."""
    focus, base = axis.focus[k], axis.base[k]
    rise = focus - base
    gap = float(np.hypot(rise[0], rise[1]))
    u = np.array([rise[1], -rise[0]]) / gap
    apex = (focus + base) / 2
    far = axis.points[axis.ends[k, int(axis.x[k, 1] > axis.x[k, 0])]]
    sign = 1.0 if float((far - apex) @ u) >= 0 else -1.0
    bend = x * x / (2 * gap) if axis.kind[k] == PARABOLA else 0.0
    place = apex + u * (sign * x) + rise / gap * bend
    return float(place[0]), float(place[1])
