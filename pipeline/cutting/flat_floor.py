"""Grooves with a flat floor, where the depth is limited: the V-bit runs along the walls at the limit, and a flat cutter
clears the middle to the same depth.

Words: *foot*, where a flank meets the floor; *cleared*, what the flat cutter takes of the floor without touching a
flank; *rest*, where it doesn't fit, which the V-bit clears in further tracks. Lengths mm. The floor of a stroke
lies inside its outline by depth × tan(A/2); the middle of the bit's flat tip, of radius t, runs t inside the foot.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from pipeline.core.config.order import Order
from pipeline.core.config.shop_tables import get_source
from pipeline.cutting.cutters import Cutter, get_clearing_mill
from pipeline.geometry.curves import Array
from pipeline.geometry.regions import Region, list_region_rings

RIDGE = 0.02
"""mm. Tracks of the bit lie so close that no ridge between them stands higher (common practice, no source)."""
OVERLAP = 0.9
"""Step from one track to the next, as a fraction of the width a track clears."""
MOST_TRACKS = 80
"""Most tracks of a rest, from the wall inwards. If more were needed, the flat cutter is too wide for the letter, and
the simulated cut reports it."""
ROUND = 48
"""Chords of a quarter turn where outlines are moved inwards: off by 1.4e-4 of the distance."""
SPECK = 1e-4
"""mm². A rest smaller than this is none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FlatFloor:
    """The greatest depth of an order's grooves, as cut, and the cutter that clears their floors."""

    depth: float
    mill: Cutter
    source: str = ""
    """Where the depth comes from, in words."""

    @property
    def radius(self) -> float:
        """Radius of the flat cutter."""
        return (self.mill.diameter or 0.0) / 2


def build_flat_floor(order: Order, cutter: Cutter) -> FlatFloor | None:
    """The flat floor of an order's grooves; None where it clears none. CannotRun names the key of a flat cutter that
    can't be used."""
    mill = get_clearing_mill(order)
    if mill is None or not cutter.cuts_grooves or not order.files.grooves:
        return None
    ends = list(cutter.list_depth_limits())
    if order.limits.deepest is not None:
        ends.append((order.limits.deepest, get_source(order.limits, "deepest")))
    if not ends:
        return None
    depth, source = min(ends)
    return FlatFloor(depth=depth, mill=mill, source=source)


@dataclass(frozen=True, slots=True, kw_only=True)
class FloorGeometry:
    """The flat floors of an order in numbers. lowered: how much deeper all grooves are cut than designed, mm."""

    floor: FlatFloor
    cutter: Cutter
    lowered: float
    tolerance: float

    @property
    def designed(self) -> float:
        """Depth of the floor below the face as it is finished."""
        return self.floor.depth - self.lowered

    @property
    def foot(self) -> float:
        """Return how far inside the outline the foot of the flank lies."""
        return self.designed * self.cutter.slope

    @property
    def track(self) -> float:
        """Return how far inside the outline the middle of the bit runs along a wall: half the width of the widest
        stroke that is cut as a plain groove."""
        return self.foot + self.cutter.tip_width / 2

    def compute_floor(self, region: Region) -> Region:
        """The floor of a letter: its outline moved inwards to the foot."""
        return shapely.buffer(region, -self.foot, quad_segs=ROUND)

    def compute_cleared(self, region: Region) -> Region:
        """Return what the flat cutter clears of a letter's floor, slightly inside its foot, so that no flank is
        touched."""
        r = self.floor.radius
        inside = shapely.buffer(region, -(self.foot + self.tolerance + r), quad_segs=ROUND)
        return shapely.buffer(inside, r, quad_segs=ROUND)

    def plan_tracks(self, region: Region, axis: Sequence[Array]) -> list[Array]:
        """Return the bit's tracks (n, 3) over the floor of a letter: along all walls, then over what the flat cutter
        leaves. axis: the letter's centre lines of x, y, radius."""
        loops = self._build_rings(region, self.track)
        if not loops:
            return []
        reach = self.cutter.tip_width / 2 + RIDGE * self.cutter.slope
        left = shapely.difference(self.compute_floor(region), self.compute_cleared(region))
        left = shapely.difference(left, shapely.union_all([_strip(loop, reach) for loop in loops]))
        out = [self._lower_line(loop) for loop in loops]
        if _measure_area(left) > SPECK:
            out += [self._lower_line(line) for line in self._clear_rest(region, left, reach, axis)]
        return out

    def _clear_rest(self, region: Region, left: Region, reach: float, axis: Sequence[Array]) -> Iterator[Array]:
        """Further tracks, each a little farther inside, and at last the centre lines, where the rest is near."""
        for number in range(1, MOST_TRACKS + 1):
            inside = self._build_rings(region, self.track + number * 2 * reach * OVERLAP)
            near = shapely.buffer(left, reach, quad_segs=4)
            runs = [run for ring in inside for run in _clip_inside(ring, near)]
            yield from runs
            if runs:
                left = shapely.difference(left, shapely.union_all([_strip(run, reach) for run in runs]))
            if _measure_area(left) <= SPECK or not inside:
                break
        if _measure_area(left) > SPECK:
            near = shapely.buffer(left, reach, quad_segs=4)
            for line in axis:
                for run in find_wide_stretches(line, self.track):
                    yield from _clip_inside(run[:, :2], near)

    def _build_rings(self, region: Region, by: float) -> list[Array]:
        """The outline moved inwards, as closed lines (n, 2)."""
        inside = shapely.buffer(region, -by, quad_segs=ROUND)
        rings = list_region_rings(shapely.simplify(inside, self.tolerance / 8)) if not inside.is_empty else []
        return [np.vstack((ring, ring[:1])) for ring in rings]

    def _lower_line(self, line: Array) -> Array:
        return np.column_stack((line, np.full(len(line), -self.floor.depth)))


def _measure_area(region: Region) -> float:
    return float(shapely.area(region))


def _strip(line: Array, reach: float) -> Region:
    return shapely.buffer(shapely.linestrings(line), reach * math.cos(math.pi / 64), quad_segs=16)


def _clip_inside(line: Array, area: Region) -> list[Array]:
    """The stretches of a line (n, 2) that lie in an area, in its direction."""
    parts = shapely.get_parts(shapely.line_merge(shapely.intersection(shapely.linestrings(line), area)))
    return [shapely.get_coordinates(p) for p in parts if shapely.length(p) > 0]


def find_wide_stretches(line: Array, least: float) -> list[Array]:
    """The stretches of a polyline of x, y, radius whose radius is at least this, cut where it passes it."""
    r = line[:, 2]
    inside = r >= least
    if inside.all():
        return [line]
    if len(line) == 1 or not inside.any():
        return []
    out: list[Array] = []
    run: list[Array] = []
    for i in range(len(line)):
        if inside[i]:
            if not run and i > 0:
                run.append(_find_crossing(line[i - 1], line[i], least))
            run.append(line[i])
        elif run:
            run.append(_find_crossing(run[-1], line[i], least))
            out.append(np.array(run))
            run = []
    if run:
        out.append(np.array(run))
    closed = len(out) > 1 and inside[0] and inside[-1] and bool((line[0] == line[-1]).all())
    if closed:  # a closed run that was split passes through its first point
        out[0] = np.vstack((out.pop(), out[0][1:]))
    return [g for g in out if len(g) > 1 or len(line) == 1]


def find_narrow_stretches(line: Array, most: float) -> list[Array]:
    """Find the stretches whose radius is at most this."""
    turned = np.array([1.0, 1.0, -1.0])
    return [run * turned for run in find_wide_stretches(line * turned, -most)]


def _find_crossing(p: Array, q: Array, least: float) -> Array:
    if p[2] == q[2]:
        return q
    t = (least - p[2]) / (q[2] - p[2])
    return np.array([*(p[:2] + t * (q[:2] - p[:2])), least])
