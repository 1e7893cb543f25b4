"""The narrowest land round and inside a shape: the material left standing between its cuts.

Measured on the medial axis of what is *not* cut, inside a frame one cap height away from the shape: the least width
on loops (*gap*: accent to letter, dot to stem), the least narrowing with something at least a quarter wider beyond
(*aperture*: the mouth of an e), and the width of closed parts (*counter*). Acute crotches do not count: beyond a
crotch nothing is wider.
"""

from __future__ import annotations

from collections import deque

import numpy as np

from pipeline.geometry.medial.axis_reach import AxisReach, measure_reach
from pipeline.geometry.medial.medial_axis import MedialAxis
from pipeline.geometry.medial.stroke_width import CONTACT, NarrowPlace, split_at_contact

WIDER = 1.25
"""A narrowing is an aperture when something this many times wider lies beyond."""
_TOUCHING = CONTACT / 1000
"""Of the cap height, rounding: where the radius is less, outlines share a point, and the land ends on both sides."""


def find_land_places(axis: MedialAxis, cap: float) -> list[NarrowPlace]:
    """Every narrow place of the land, not only the narrowest. axis: of what is not cut, up to a cap height round it."""
    if not len(axis.points):
        return []
    axis = split_at_contact(axis, cap * _TOUCHING)
    w = measure_reach(axis)
    left = np.full(w.components, np.inf)
    np.minimum.at(left, w.component, axis.points[:, 0])
    closed = (c for c in range(w.components) if c != left.argmin())  # not the one that surrounds the shape
    places = [
        _locate_place(axis, k, "counter") for c in closed if axis.radius[k := _find_widest(axis, w, c)] > cap * CONTACT
    ]
    places += _find_narrow_places(axis, w, cap * CONTACT)
    return [p for p in places if p.width < cap]


def _find_widest(axis: MedialAxis, w: AxisReach, component: int) -> int:
    """The node of a component where the axis is widest."""
    members = np.nonzero(w.component == component)[0]
    return int(members[axis.radius[members].argmax()])


def _locate_place(axis: MedialAxis, k: int, kind: str) -> NarrowPlace:
    return NarrowPlace(2 * float(axis.radius[k]), kind, float(axis.points[k, 0]), float(axis.points[k, 1]))


def _find_narrow_places(axis: MedialAxis, w: AxisReach, contact: float) -> list[NarrowPlace]:
    """Local least widths on loops, and of narrowings that open again; none where cuts merely touch."""
    n, r = len(axis.points), axis.radius
    around: list[list[int]] = [[] for _ in range(n)]
    for a, b in axis.ends.tolist():
        around[a].append(b)
        around[b].append(a)
    looped = set(np.unique(axis.ends[w.core]).tolist())
    roots = sorted(looped)
    have = set(w.component[roots].tolist()) if roots else set()
    roots += [_find_widest(axis, w, c) for c in range(w.components) if c not in have]
    parent = [-2] * n
    for k in roots:
        parent[k] = -1
    order, queue = [], deque(roots)
    while queue:
        k = queue.popleft()
        order.append(k)
        for other in around[k]:
            if parent[other] == -2:
                parent[other] = k
                queue.append(other)
    radius = r.tolist()
    beyond = radius[:]  # widest radius at or beyond a node, going outwards
    for k in reversed(order):
        if parent[k] >= 0:
            beyond[parent[k]] = max(beyond[parent[k]], beyond[k])
    places = []
    for k in order:
        near = [radius[o] for o in around[k]]
        if radius[k] <= contact or any(v < radius[k] for v in near):
            continue
        if k in looped:
            places.append(_locate_place(axis, k, "gap"))
        elif len(near) > 1 and beyond[k] >= WIDER * radius[k]:
            places.append(_locate_place(axis, k, "aperture"))
    return places
