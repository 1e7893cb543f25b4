"""The narrowest land round and inside a shape: the material left standing between its cuts.

Measured on the medial axis of what is *not* cut, inside a frame one cap height away from the shape: the least width
on loops (*gap*: accent to letter, dot to stem), the least narrowing with something at least a quarter wider beyond
(*aperture*: the mouth of an e), and the width of closed parts (*counter*). Acute crotches do not count: beyond a
crotch nothing is wider.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable

import numpy as np
import shapely

from pipeline.geometry.axis import Axis, axis_of
from pipeline.geometry.curves import Outline
from pipeline.geometry.narrowest import CONTACT, FIRST_TOLERANCE, SECOND_TOLERANCE, SPECK, Narrow
from pipeline.geometry.regions import Region, polygon_of
from pipeline.geometry.walk import walk

WIDER = 1.25
"""A narrowing is an aperture when something this many times wider lies beyond."""


def narrowest_land(outline: Outline, cap: float, em: float) -> Narrow | None:
    """The narrowest land of a united outline in its own unit; None when nothing within a cap height is narrow."""
    return land_of(lambda tolerance: polygon_of(outline, tolerance), cap, em)


def land_of(region_at: Callable[[float], Region], cap: float, em: float) -> Narrow | None:
    """As narrowest_land for a function that gives the region flattened to a tolerance; the second of two passes is as
    fine as the land the first one found asks."""
    places = lands_of(region_at, cap, em)
    return min(places, key=lambda p: p.width, default=None)


def lands_of(region_at: Callable[[float], Region], cap: float, em: float) -> list[Narrow]:
    """Every narrow place of the land, not only the narrowest."""
    tolerance = em * FIRST_TOLERANCE
    places = lands(region_at(tolerance), cap)
    least = min((p.width for p in places), default=0.0)
    if 0 < least * SECOND_TOLERANCE < tolerance:
        return lands(region_at(max(least * SECOND_TOLERANCE, cap * CONTACT / 4)), cap)
    return places


def lands(region: Region, cap: float) -> list[Narrow]:
    """Every narrow place of the land round and inside a flattened region."""
    if region.is_empty:
        return []
    speck = (cap * SPECK) ** 2
    region = shapely.multipolygons([_without_specks(p, speck) for p in shapely.get_parts(region) if p.area >= speck])
    x0, y0, x1, y1 = region.bounds
    free = shapely.get_parts(shapely.difference(shapely.box(x0 - cap, y0 - cap, x1 + cap, y1 + cap), region))
    places: list[Narrow] = []
    for part in free:
        if part.area < speck:
            continue
        axis = axis_of(part, speck)
        if not len(axis.points):
            continue
        outside = part.bounds[0] < x0 - cap / 2
        if not outside:
            k = int(axis.radius.argmax())
            places.append(_place(axis, k, "counter"))
        places += _narrow_places(axis, cap * CONTACT)
    return [p for p in places if p.width < cap]


def _without_specks(part: Region, speck: float) -> Region:
    return shapely.Polygon(part.exterior, [h for h in part.interiors if shapely.Polygon(h).area >= speck])


def _place(axis: Axis, k: int, kind: str) -> Narrow:
    return Narrow(2 * float(axis.radius[k]), kind, float(axis.points[k, 0]), float(axis.points[k, 1]))


def _narrow_places(axis: Axis, contact: float) -> list[Narrow]:
    """Local least widths on loops, and of narrowings that open again; none where cuts merely touch."""
    n, r = len(axis.points), axis.radius
    w = walk(axis)
    around: list[list[int]] = [[] for _ in range(n)]
    for a, b in axis.ends.tolist():
        around[a].append(b)
        around[b].append(a)
    looped = set(np.unique(axis.ends[w.core]).tolist())
    roots = sorted(looped)
    have = set(w.component[roots].tolist()) if roots else set()
    for c in range(w.components):
        if c not in have:
            members = np.nonzero(w.component == c)[0]
            roots.append(int(members[r[members].argmax()]))
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
            places.append(_place(axis, k, "gap"))
        elif len(near) > 1 and beyond[k] >= WIDER * radius[k]:
            places.append(_place(axis, k, "aperture"))
    return places
