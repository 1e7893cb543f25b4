"""Outlines moved outwards by a distance, as chains of lines and arcs: an offset Bézier curve is not a Bézier curve."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from pipeline.geometry.arcs.arc_fitting import fit_arcs
from pipeline.geometry.curves import Array, Chain, Outline, Path
from pipeline.geometry.flatten import chain_area, flatten_chain
from pipeline.geometry.regions import build_polygon_from_outline, list_region_rings

LEAST_SEGMENTS = 14
"""Chords of a quarter turn: enough that none of them counts as a corner."""

SWING = math.radians(6)
"""How well chords follow the outline's direction."""


_MEASURED = 50.0  # curves are measured to the tolerance / this


@dataclass(frozen=True, slots=True, eq=False)
class OffsetOutline:
    """An outline moved outwards: closed chains, how far it was moved, and their largest distance from an exact offset
    of the outline, measured both ways. All in the outline's unit."""

    chains: tuple[Chain, ...]
    by: float
    deviation: float

    def area(self) -> float:
        """Area inside the chains, less the holes."""
        return sum(chain_area(chain) for chain in self.chains)


def offset_outline(outline: Outline, by: float, tolerance: float) -> OffsetOutline:
    """Widen the area of a closed outline by `by` on all sides, with round corners, within `tolerance` of the exact
    offset.

    All in the outline's unit. Outer contours run anticlockwise, holes clockwise.
    """
    share = tolerance / 4  # one share for following the curves, one for rounding the corners, two for the arcs
    area = build_polygon_from_outline(outline, share)
    rings = list_region_rings(area.buffer(by, quad_segs=_count_segments(by, share)))
    chains = tuple(build_chain_from_ring(ring, 2 * share) for ring in rings)
    return OffsetOutline(chains, by, _measure_error(outline, by, chains, tolerance / _MEASURED))


def _count_segments(by: float, off: float) -> int:
    """Chords of a quarter turn of this radius that stay within `off` of it."""
    return max(LEAST_SEGMENTS, math.ceil(math.pi / 4 / math.acos(1 - min(off / by, 0.5))))


def _measure_error(outline: Outline, by: float, chains: Sequence[Chain], fine: float) -> float:
    """Measure how far chains lie from the exact offset of an outline, or it from them. Every point of that offset is
    `by` away from the outline, so that a point's distance to the outline tells how far it is off; curves are followed
    within `fine`."""
    area = build_polygon_from_outline(outline, fine)
    lines = [flatten_chain(chain, fine) for chain in chains]
    if not lines:
        return 0.0
    shapely.prepare(area)
    off = np.abs(shapely.distance(area, shapely.points(np.concatenate(lines))) - by)
    exact = area.buffer(by, quad_segs=_count_segments(by, fine)).boundary
    there = shapely.points(shapely.get_coordinates(shapely.segmentize(exact, by)))
    ours = shapely.multilinestrings([shapely.linestrings(np.vstack((line, line[:1]))) for line in lines])
    shapely.prepare(ours)
    return float(max(off.max(), shapely.distance(ours, there).max()))


def build_chain_from_ring(ring: Array, tolerance: float, needless: float = 0.0) -> Chain:
    """A ring of fine chords (at least `LEAST_SEGMENTS` to a quarter turn) as lines and arcs within `tolerance`.

    needless: of a ring far finer than that, corners that matter less than this are left out first. It counts towards
    the tolerance, and is so small that round parts of the ring keep chords that turn by less than a corner.
    """
    if needless:
        ring = shapely.get_coordinates(shapely.simplify(shapely.linearrings(ring), needless))[:-1]
    return fit_arcs(_smooth_ring(ring), tolerance - needless, SWING).chain


def _smooth_ring(ring: Array) -> Path:
    """A ring of chords as a path of curves: its corners are those of following curves, not of the outline."""
    p, q = ring, np.roll(ring, -1, axis=0)
    points = np.stack([p + (q - p) / 3, p + (q - p) * 2 / 3, q], axis=1).reshape(-1, 2)
    return Path(np.vstack([ring[:1], points]), (3,) * len(ring))
