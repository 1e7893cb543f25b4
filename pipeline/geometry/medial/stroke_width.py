"""The narrowest stroke of a shape: the widest cutter for which nothing but corner rounding would be lost.

A cutter wider than twice the radius of an axis point cannot pass it and loses what lies beyond. Going outwards on the
whole medial axis, width w fails where the axis first becomes narrower than w and what lies beyond reaches further than
2 w + cap height / 50 (*branch*); where a loop, or the middle of a path whose halves are that long, is narrower than w
(*neck*); and where the whole piece is (*piece*). The stroke is the least failing w.

The two constants are this project's own choice, made by looking at the letters of twelve faces: they count hairline
serifs and thin joins, and leave out corners, pointed terminals sharper than about 29 degrees included, and the false
branches that grow at every corner of a flattened curve.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.curves import Array
from pipeline.geometry.medial.axis_reach import AxisMiddle, locate_at_length, locate_on_edge, measure_reach
from pipeline.geometry.medial.medial_axis import MedialAxis, compute_length_to, compute_radius_on
from pipeline.geometry.medial.voronoi import LINEAR, PARABOLA

REACH_PER_WIDTH = 2.0
"""What lies beyond a narrow place counts from this many widths on."""
REACH_PER_CAP = 1 / 50
"""... plus this part of the cap height."""
ALIKE = 0.02
"""Kinds whose widths differ by no more than this part are named as the first of piece, neck, branch."""
SPECK = 1 / 500
"""Contours smaller than the square on this fraction of the cap height are artefacts of uniting outlines."""
CONTACT = 1 / 20_000
"""Where the radius is under this part of the cap height two outlines merely touch: nothing is cut there, so nothing can
be lost there, and the axis ends on both sides."""

Kind = Literal["piece", "neck", "branch"]
KINDS: tuple[Kind, ...] = ("piece", "neck", "branch")


@dataclass(frozen=True, slots=True)
class NarrowPlace:
    """A narrow place: width, kind and place in the shape's unit."""

    width: float
    kind: str
    x: float
    y: float


@dataclass(frozen=True, slots=True, eq=False)
class StrokeCandidates:
    """Every width that fails somewhere, with kind (index into KINDS) and place; width (n,), kind (n,), at (n, 2)."""

    width: Array
    kind: NDArray[np.intp]
    at: Array

    def find_narrowest(self, where: NDArray[np.bool_] | None = None) -> NarrowPlace | None:
        """Return the narrowest of them, or of those marked; among kinds of equal width the first names it."""
        pick = np.arange(len(self.width)) if where is None else np.nonzero(where)[0]
        if not len(pick):
            return None
        width, kind = self.width[pick], self.kind[pick]
        alike = width <= width.min() * (1 + ALIKE)
        first = kind[alike].min()
        mine = pick[alike & (kind == first)]
        k = mine[self.width[mine].argmin()]
        return NarrowPlace(float(width.min()), KINDS[first], float(self.at[k, 0]), float(self.at[k, 1]))


def split_at_contact(axis: MedialAxis, contact: float) -> MedialAxis:
    """The axis cut at nodes where outlines merely touch: each edge there gets an end of its own."""
    degree = np.bincount(axis.ends.ravel(), minlength=len(axis.points))
    touching = np.nonzero((axis.radius <= contact) & (degree > 1))[0]
    if not len(touching):
        return axis
    points, radius, ends = [axis.points], [axis.radius], axis.ends.copy()
    count = len(axis.points)
    for node in touching.tolist():
        for k, i in np.argwhere(ends == node)[1:].tolist():
            points.append(axis.points[node][None])
            radius.append(axis.radius[node][None])
            ends[k, i] = count
            count += 1
    return MedialAxis(
        np.concatenate(points), np.concatenate(radius), ends, axis.length, axis.kind, axis.spread, axis.x,
        axis.focus, axis.base, axis.repaired,
    )  # fmt: skip


def find_stroke_candidates(axis: MedialAxis, cap: float) -> StrokeCandidates:
    """Every candidate on the axis of a shape."""
    axis = split_at_contact(axis, cap * CONTACT)
    w = measure_reach(axis)
    if not len(axis.points):
        return StrokeCandidates(np.zeros(0), np.zeros(0, dtype=np.intp), np.zeros((0, 2)))
    least = cap * REACH_PER_CAP
    r = axis.radius
    width, kind, at = [], [], []

    # The widest place of each component, except of crumbs left between two contacts.
    widest = np.zeros(w.components)
    np.maximum.at(widest, w.component, r)
    extent = np.zeros(w.components)
    np.maximum.at(extent, w.component, w.reach)
    for middle in w.middles:
        extent[middle.component] = max(extent[middle.component], 2 * middle.half)
    crumb = (widest <= cap * CONTACT) & (extent <= least)
    first = _pick_first_where_equal(r, widest, w.component)
    kept = np.nonzero(~crumb)[0]
    width.append(2 * widest[kept])
    kind.append(np.full(len(kept), 0))
    at.append(axis.points[first[kept]])

    # Loops and what joins them.
    nodes = np.unique(axis.ends[w.core])
    width.append(2 * r[nodes])
    kind.append(np.full(len(nodes), 1))
    at.append(axis.points[nodes])

    # Branches outwards, where the radius falls.
    outer, inner, edge = w.outer, w.inner, w.edge
    falls = (r[outer] < r[inner]) & ~crumb[w.component[outer]] if len(outer) else np.zeros(0, dtype=bool)
    outer, inner, edge = outer[falls], inner[falls], edge[falls]
    spare = w.reach[outer] - 2 * REACH_PER_WIDTH * r[outer] - least
    at_once = spare > 0
    width.append(2 * r[outer[at_once]])
    kind.append(np.full(int(at_once.sum()), 2))
    at.append(axis.points[outer[at_once]])

    extra: list[tuple[float, int, tuple[float, float]]] = []
    maybe = ~at_once & (spare + axis.length[edge] > 0)
    for k, o in zip(edge[maybe].tolist(), outer[maybe].tolist(), strict=True):
        found = _find_first_failing(axis, k, o, reach=float(w.reach[o]), part=float(axis.length[k]), least=least)
        if found is not None:
            extra.append((found[0], 2, found[1]))
    for middle in w.middles:
        if not crumb[middle.component]:
            extra += _search_from_middle(axis, middle, w.reach, least)
    if extra:
        width.append(np.array([e[0] for e in extra]))
        kind.append(np.array([e[1] for e in extra]))
        at.append(np.array([e[2] for e in extra]))
    return StrokeCandidates(np.concatenate(width), np.concatenate(kind).astype(np.intp), np.concatenate(at))


def _pick_first_where_equal(r: Array, widest: Array, component: NDArray[np.intp]) -> NDArray[np.intp]:
    best = np.zeros(len(widest), dtype=np.intp)
    hits = np.nonzero(r == widest[component])[0][::-1]
    best[component[hits]] = hits
    return best


def _search_from_middle(
    axis: MedialAxis, m: AxisMiddle, reach: Array, least: float
) -> list[tuple[float, int, tuple[float, float]]]:
    """The middle itself, and the two parts of its edge, walked outwards."""
    out = []
    if m.half > 2 * REACH_PER_WIDTH * m.radius + least:
        out.append((2 * m.radius, 1, m.place))
    if m.edge >= 0:
        for node, part in ((m.near, m.along), (m.far, float(axis.length[m.edge]) - m.along)):
            if axis.radius[node] < m.radius:
                found = _find_first_failing(axis, m.edge, node, reach=float(reach[node]), part=part, least=least)
                if found is not None:
                    out.append((found[0], 2, found[1]))
    return out


def _find_first_failing(
    axis: MedialAxis, k: int, outer: int, *, reach: float, part: float, least: float
) -> tuple[float, tuple[float, float]] | None:
    """The least width on the first `part` of edge k from its outer node for which the reach beyond is more than
    REACH_PER_WIDTH widths + least, and where it is. The radius grows along the way."""
    two = 2 * REACH_PER_WIDTH
    r0 = float(axis.radius[outer])
    if reach - two * r0 - least > 0:
        return 2 * r0, (float(axis.points[outer, 0]), float(axis.points[outer, 1]))
    kind, spread = int(axis.kind[k]), float(axis.spread[k])
    if kind == LINEAR:
        a, b = (int(v) for v in axis.ends[k])
        slope = abs(float(axis.radius[a] - axis.radius[b])) / float(axis.length[k])
        if slope * two >= 1:
            return None
        s = (two * r0 + least - reach) / (1 - two * slope)
        if s > part:
            return None
        radius, place = locate_at_length(axis, k, outer, s)
        return 2 * radius, place
    i = 0 if int(axis.ends[k, 0]) == outer else 1
    low = float(axis.x[k, i])
    start = compute_length_to(kind, spread, low)
    # dr/ds grows with x and passes 1 / two here: beyond this, the reach grows no faster than the width.
    turn = spread * (math.tan(math.asin(1 / two)) if kind == PARABOLA else 1 / math.sqrt(two * two - 1))
    high = min(float(axis.x[k, 1 - i]), turn)

    def measure_excess(x: float) -> float:
        return reach + compute_length_to(kind, spread, x) - start - two * compute_radius_on(kind, spread, x) - least

    if high <= low or measure_excess(high) <= 0:
        return None
    for _ in range(60):
        x = (low + high) / 2
        if measure_excess(x) > 0:
            high = x
        else:
            low = x
    if compute_length_to(kind, spread, high) - start > part:
        return None
    return 2 * compute_radius_on(kind, spread, high), locate_on_edge(axis, k, high)
