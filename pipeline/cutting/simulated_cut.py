"""The simulated cut: what a cutter removes from the face when it follows a file, compared with the artwork.

Words: *swept*, the area of the face a cutter removes; *reachable*, the part of the artwork where the cutter fits (its
opening by the radius of the tip, or of an upright cutter); *overcut*, how far the swept area lies outside the artwork;
*undercut*, how far a reachable place lies from the swept area; *uncut*, artwork that stays. Lengths mm, areas mm².
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from pipeline.cutting.cutters import Cutter
from pipeline.cutting.flat_floor import find_wide_stretches
from pipeline.geometry.curves import Array, Chain
from pipeline.geometry.flatten import flatten_chain
from pipeline.geometry.regions import Region, measure_point_distances

FINE = 0.001
"""mm. Flattening tolerance of everything compared: far smaller than the errors looked for."""
QUARTER = 48
"""Chords of a quarter turn where an area is opened: off by 1.4e-4 of the radius."""
_STEPS = 96
"""Corners of a swept round: off by 2.7e-4 of its radius."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SweptCut:
    """Result of the simulation. at: where the largest overcut and undercut lie, None where there is none."""

    overcut: float
    undercut: float
    uncut: float
    overcut_at: tuple[float, float] | None = None
    undercut_at: tuple[float, float] | None = None
    floor: SweptCut | None = None  # the same for flat floors, at their depth
    floor_missed: float = 0.0  # floor area left higher than it should be

    def list_figures(self) -> tuple[tuple[str, float], ...]:
        """Figures for a report, by name."""
        own = (("overcut", self.overcut), ("uncut_area", self.uncut), ("undercut", self.undercut))
        if self.floor is None:
            return own
        floor = self.floor
        return (
            *own,
            ("floor_overcut", floor.overcut),
            ("floor_undercut", floor.undercut),
            ("floor_uncut_area", self.floor_missed),
        )


NOTHING = SweptCut(overcut=0.0, undercut=0.0, uncut=0.0)


def sweep(grooves: Iterable[Array], cutter: Cutter) -> Region:
    """The area of the face that a V-bit removes along 3-D lines (n, 3): between two points its round grows or shrinks
    evenly, so that a stretch leaves the hull of its two rounds."""
    return shapely.union_all([_sweep_hulls(g, cutter) for g in grooves])


def _sweep_hulls(groove: Array, cutter: Cutter) -> Region:
    # Circles a little larger than true, so that the middles of their chords, not their corners, are the nearer miss.
    larger = 1 + (math.pi / _STEPS) ** 2 / 4
    radius = np.maximum(cutter.tip / 2 - groove[:, 2] * cutter.slope, 0.0) * larger
    angle = 2 * math.pi * np.arange(_STEPS) / _STEPS
    around = np.column_stack((np.cos(angle), np.sin(angle)))
    rounds = groove[:, None, :2] + radius[:, None, None] * around
    if len(groove) == 1:
        return shapely.polygons(rounds[0])
    # The convex hull of two circles: for each side, the circle that reaches farther in its direction.
    ways = angle + math.pi / _STEPS
    reach = groove[:, :2] @ np.stack((np.cos(ways), np.sin(ways))) + radius[:, None] * math.cos(math.pi / _STEPS)
    second = reach[1:] > reach[:-1]
    before = np.roll(second, 1, axis=1)
    corners = np.stack([np.where(which[..., None], rounds[1:], rounds[:-1]) for which in (before, second)], axis=2)
    own = np.stack((np.ones_like(second), before != second), axis=2)  # two corners where the hull changes circle
    number = np.broadcast_to(np.arange(len(second))[:, None, None], own.shape)[own]
    return shapely.union_all(shapely.polygons(shapely.linearrings(corners[own], indices=number)))


def sweep_at(grooves: Iterable[Array], cutter: Cutter, depth: float) -> Region:
    """The area that a V-bit opens at this depth below the face along 3-D lines: only where it goes that deep."""
    lines = [groove * (1.0, 1.0, -1.0) for groove in grooves]
    deep = [run * (1.0, 1.0, -1.0) + (0.0, 0.0, depth) for line in lines for run in find_wide_stretches(line, depth)]
    return sweep(deep, cutter)


def find_reachable(region: Region, radius: float, quarter: int = QUARTER) -> Region:
    """Return where a disc of this radius fits: the opening of the region. quarter: chords of a quarter turn."""
    if radius <= 0:
        return region
    shrunk = shapely.buffer(region, -radius, quad_segs=quarter)
    return shapely.intersection(shapely.buffer(shrunk, radius, quad_segs=quarter), region)


def compare_cut(artwork: Region, cut: Region, fits: Region) -> SweptCut:
    """Over- and undercut of a swept area. fits: the reachable part of the artwork."""
    over, over_at = find_farthest(shapely.difference(cut, artwork), artwork)
    under, under_at = find_farthest(shapely.difference(fits, cut), cut)
    uncut = float(shapely.difference(artwork, cut).area)
    return SweptCut(overcut=over, undercut=under, uncut=uncut, overcut_at=over_at, undercut_at=under_at)


def find_farthest(area: Region, of: Region) -> tuple[float, tuple[float, float] | None]:
    """The point of an area's boundary that is farthest from another area, and how far."""
    if area.is_empty or of.is_empty:
        return (0.0, None) if area.is_empty else (math.inf, None)
    points = shapely.get_coordinates(area)
    off = measure_point_distances(points, of)
    k = int(off.argmax())
    return float(off[k]), (float(points[k, 0]), float(points[k, 1]))


def compare_line_cut(designed: Sequence[Array], engraved: Sequence[Chain]) -> SweptCut:
    """For single lines: measure how far the file's lines lie from the designed polylines, and the other way round."""
    if not designed or not engraved:
        return NOTHING if not designed and not engraved else SweptCut(overcut=math.inf, undercut=math.inf, uncut=0.0)
    meant = shapely.multilinestrings([shapely.LineString(line) for line in designed])
    written = shapely.multilinestrings([shapely.LineString(_open(flatten_chain(c, FINE), c.closed)) for c in engraved])
    over, over_at = find_farthest(shapely.segmentize(written, 0.05), meant)
    under, under_at = find_farthest(shapely.segmentize(meant, 0.05), written)
    return SweptCut(overcut=over, undercut=under, uncut=0.0, overcut_at=over_at, undercut_at=under_at)


def _open(line: Array, closed: bool) -> Array:
    return np.vstack((line, line[:1])) if closed else line
