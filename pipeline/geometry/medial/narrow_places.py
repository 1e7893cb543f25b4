"""Narrow places of a shape: its strokes and the land round and inside it, from one diagram of its outline.

The outline is flattened coarsely first, then again near each place found, to a fraction of that place's width. Every
place is as exact as its width demands, and everything else stays coarse.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from pipeline.geometry.curves import Array, Outline
from pipeline.geometry.medial.land_width import find_land_places
from pipeline.geometry.medial.medial_axis import MedialAxis, find_outer_axes
from pipeline.geometry.medial.stroke_width import (
    ALIKE,
    CONTACT,
    KINDS,
    REACH_PER_CAP,
    REACH_PER_WIDTH,
    SPECK,
    NarrowPlace,
    StrokeCandidates,
    find_stroke_candidates,
)
from pipeline.geometry.regions import Region, build_polygon_from_outline

FIRST_TOLERANCE = 1 / 2500
"""First flattening, as a part of the em."""
SECOND_TOLERANCE = 1 / 500
"""Flattening near a place, as a part of its width; near the widest place of a piece, of the narrowest stroke."""
_PIECE = KINDS.index("piece")
_ENOUGH = 1.25  # times coarser: less gain isn't worth another round
_ROUNDS = 4
_BESIDE = 1.05  # of a place's half width: within this, plus `_WITHIN` first tolerances, an outline borders on the place
_WITHIN = 4.0  # in first tolerances: a width may be off by half of one, the difference of two widths by a whole one
_ALIKE = (1 + ALIKE) ** 2  # of the narrowest, plus `_WITHIN`: these may turn out to be as narrow


@dataclass(frozen=True, slots=True, eq=False)
class NarrowPlaces:
    """Every stroke candidate, and every narrow place of the land."""

    strokes: StrokeCandidates
    lands: tuple[NarrowPlace, ...]

    def find_narrowest_land(self) -> NarrowPlace | None:
        """The narrowest land."""
        return min(self.lands, key=lambda p: p.width, default=None)

    def find_widest(self) -> NarrowPlace | None:
        """The widest place of the shape."""
        pieces = np.flatnonzero(self.strokes.kind == _PIECE)
        marked = np.zeros(len(self.strokes.kind), dtype=bool)
        marked[pieces[self.strokes.width[pieces].argmax()] if len(pieces) else []] = True
        return self.strokes.find_narrowest(marked)


def find_narrow_places(
    outlines: Sequence[Outline], cap: float, em: float, *, within: Region | None = None, every: bool = False
) -> NarrowPlaces:
    """The narrow places of several united outlines that may lie over each other, in their unit.

    within: where strokes count; elsewhere there are no candidates but the widest place of each piece. every: whether
    all candidates are to be exact, or only those that may be the narrowest.
    """
    closed = [tuple(path for path in outline if path.closed) for outline in outlines]
    boxes = [_compute_boxes(outline) for outline in closed]
    coarse = em * FIRST_TOLERANCE
    tolerances = [np.full(len(box), coarse) for box in boxes]
    if within is not None:
        shapely.prepare(within)
    for _ in range(_ROUNDS):
        parts = [build_polygon_from_outline(outline, fine) for outline, fine in zip(closed, tolerances, strict=True)]
        solid, free = find_outer_axes(
            parts[0] if len(parts) == 1 else shapely.union_all(parts), cap, (cap * SPECK) ** 2
        )
        found = NarrowPlaces(_find_strokes(solid, cap, within), tuple(find_land_places(free, cap)))
        near = _select_near(found, cap, coarse, every)
        asked = [_select_asked(box, near, cap) for box in boxes]
        if all((fine <= enough * _ENOUGH).all() for fine, (enough, _) in zip(tolerances, asked, strict=True)):
            break
        tolerances = [np.minimum(fine, wanted) for fine, (_, wanted) in zip(tolerances, asked, strict=True)]
    return found


def _find_strokes(axis: MedialAxis, cap: float, within: Region | None) -> StrokeCandidates:
    found = find_stroke_candidates(axis, cap)
    if within is None:
        return found
    keep = shapely.contains_xy(within, found.at[:, 0], found.at[:, 1]) | (found.kind == _PIECE)
    return StrokeCandidates(found.width[keep], found.kind[keep], found.at[keep])


def _select_near(found: NarrowPlaces, cap: float, coarse: float, every: bool) -> Array:
    """Return each place that needs less than the first tolerance (n, 5): x, y, how far away what borders on it may lie,
    the tolerance it needs, and the one it should preferably get.

    A branch counts with what lies beyond it, because its reach decides where it is too narrow.
    """
    s = found.strokes
    least = s.width.min(initial=np.inf)
    lands = np.array([(p.x, p.y, p.width) for p in found.lands]).reshape(-1, 3)
    at = np.concatenate((s.at, lands[:, :2]))
    width = np.concatenate((s.width, lands[:, 2]))
    kind = np.concatenate((s.kind, np.full(len(lands), -1)))
    asks = width * SECOND_TOLERANCE
    better = np.where(kind == _PIECE, least * SECOND_TOLERANCE, asks)
    beyond = np.where(kind == KINDS.index("branch"), REACH_PER_WIDTH * width + cap * REACH_PER_CAP, 0.0)
    far = _BESIDE * width / 2 + _WITHIN * coarse + beyond
    counts = every | (width <= least * _ALIKE + _WITHIN * coarse) | (kind == _PIECE) | (kind == -1)
    near: Array = np.column_stack((at, far, asks, better))[counts & (better < coarse) & (width > 0)]
    return near


def _select_asked(boxes: Array, near: Array, cap: float) -> tuple[Array, Array]:
    """Return the tolerance that the places a segment may border on require of it; inf where it borders on none."""
    if not len(near) or not len(boxes):
        return np.full(len(boxes), np.inf), np.full(len(boxes), np.inf)
    x, y, far, asks, better = near.T
    across = np.maximum(0, np.maximum(boxes[:, 0, None] - x, x - boxes[:, 2, None]))
    up = np.maximum(0, np.maximum(boxes[:, 1, None] - y, y - boxes[:, 3, None]))
    borders = across * across + up * up <= far * far
    least, best = (np.where(borders, tolerance, np.inf).min(axis=1) for tolerance in (asks, better))
    floor = cap * CONTACT / 4
    return np.maximum(least, floor), np.maximum(best, floor)


def _compute_boxes(outline: Outline) -> Array:
    """The box of each segment's points (n, 4), in which the segment lies."""
    ends = [(*segment.min(axis=0), *segment.max(axis=0)) for path in outline for segment in path.list_segments()]
    return np.array(ends, dtype=np.float64).reshape(-1, 4)
