"""The toolpath over the lettering and the volume removed, for estimating time and resin. Once a letter and size.

A V-bit follows the very grooves that are written to cut files. Of an area an end mill clears everything it gets into,
in loops a stepover apart; a point or a laser follows the outline once, half its line's width inside. Single lines are
followed by every cutter. How the next letter is reached is in the time for a lift, not in the way. Lengths mm.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from pipeline.core.config.order import Order
from pipeline.core.config.shop_tables import PocketConfig
from pipeline.core.model import Artwork, Piece, SetLine
from pipeline.core.required import require_value
from pipeline.core.storage.cache import Cache
from pipeline.cutting.cutters import Cutter, compute_lowering
from pipeline.cutting.cutting_data import choose_passes, find_pass_depth
from pipeline.cutting.flat_floor import FlatFloor
from pipeline.cutting.v_carving import MEETS, build_order_planner, measure_travel, plan_roughing
from pipeline.geometry.curves import Array
from pipeline.geometry.flatten import flatten_open
from pipeline.geometry.offset import OffsetOutline
from pipeline.geometry.regions import Region, build_chain_polygon, build_polygon_from_outline

LEVELS = 32
"""Depths at which the area of a groove is taken. Against closed forms the volume is then right to half a per cent."""
ROUND = 16
"""Steps in a quarter circle while shrinking and growing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Toolpath:
    """The work of a cutter in the material."""

    length: float = 0.0  # including plunges and lifts
    lifts: int = 0  # number of lifts
    plunge: float = 0.0  # depth of all plunges together
    volume: float = 0.0  # mm³ removed

    def combine(self, other: Toolpath, times: int = 1) -> Toolpath:
        return Toolpath(
            length=self.length + times * other.length,
            lifts=self.lifts + times * other.lifts,
            plunge=self.plunge + times * other.plunge,
            volume=self.volume + times * other.volume,
        )


class ToolpathPlanner:
    """Plans the toolpaths of one order's lettering."""

    def __init__(self, order: Order, cutter: Cutter, cache: Cache | None = None) -> None:
        """cache: where figures of letters are kept between runs; without one they last as long as this object."""
        self.cutter, self.depth = cutter, order.limits.deepest
        self.tolerance = order.files.tolerance
        self.stepover = (order.pocket or PocketConfig(depth=1.0)).stepover * (cutter.diameter or 0.0)
        self.filled = order.pour is not None and order.pour.fills in ("lettering", "both")
        self.lowered = compute_lowering(order, cutter)
        self._grooves = build_order_planner(order, cutter) if cutter.cuts_grooves else None
        step = find_pass_depth(order, cutter)
        self._pass = None if step is None else step.value
        self._order = order
        self.clearing = order.clearing.stepover
        self._floors: dict[tuple[str, float], Toolpath] = {}
        self._cache = cache or Cache(None)
        self._given = (order.model_dump_json(), order.shop.model_dump_json(), repr(cutter))

    def plan_lettering(self, artwork: Artwork, side: str = "front") -> Toolpath:
        """Plan the toolpath over one side of a plaque."""
        whole = Toolpath()
        for line in artwork.parts:
            if line.side == side:
                whole = whole.combine(self._plan_line(line))
        return whole

    def plan_floor(self, artwork: Artwork) -> Toolpath:
        """Plan the flat cutter's path over the floors of wide strokes, both sides; nothing where the order clears
        none."""
        whole = Toolpath()
        if self._grooves is None or self._grooves.floor is None:
            return whole
        for piece in (p for line in artwork.parts for row in line.rows for p in row.pieces):
            whole = whole.combine(self._plan_floor_piece(piece, self._grooves.floor.floor))
        return whole

    def _plan_floor_piece(self, piece: Piece, floor: FlatFloor) -> Toolpath:
        key = (piece.shape.key, piece.scale)
        if key not in self._floors:
            region = require_value(self._grooves, "grooves").compute_cleared(piece.shape, piece.scale)
            step = self.clearing * (floor.mill.diameter or 0.0)
            depth = (floor.depth, choose_passes(self._order, floor.mill, floor.depth).count)
            self._floors[key] = plan_area_toolpath(region, floor.mill, step, depth)
        return self._floors[key]

    def _plan_line(self, line: SetLine) -> Toolpath:
        length, lifts, plunge, volume = 0.0, 0, 0.0, 0.0
        grown = iter(line.grown)
        for piece in (p for row in line.rows for p in row.pieces):
            way = self._plan_piece(piece, next(grown, None))
            length += way.length
            lifts += way.lifts
            plunge += way.plunge
            volume += way.volume
        return Toolpath(length=length, lifts=lifts, plunge=plunge, volume=volume)

    def _plan_piece(self, piece: Piece, grown: OffsetOutline | None) -> Toolpath:
        by = None if grown is None else (grown.by, grown.deviation)
        given = (*self._given, piece.shape.key, piece.scale, by)
        alone = replace(piece, x=0.0, y=0.0, turn=0.0)  # the result doesn't depend on where it is
        return self._cache.get_or_compute("way", given, Toolpath, lambda: self._plan_one(alone, grown))

    def _plan_one(self, piece: Piece, grown: OffsetOutline | None) -> Toolpath:
        if piece.shape.single_line:
            steps = self._choose_steps(piece.shape.depth)
            return plan_line_toolpath(flatten_open(piece.build_outline(), self.tolerance), self.cutter, steps)
        if self._grooves is not None:
            grooves = self._grooves.plan_piece(piece, grown)
            grooves = [*(plan_roughing(grooves, self._pass) if self._pass else []), *grooves]
            volume = 0.0
            if self.filled:
                floor = self._grooves.floor
                widest = math.inf if floor is None else floor.track
                volume = compute_groove_volume(self._build_region(piece, grown), self.cutter, self.lowered, widest)
            return plan_groove_toolpath(grooves, volume)
        region = self._build_region(piece, grown)
        if self.cutter.follows_lines:
            inside = shapely.buffer(region, -self.cutter.line_width / 2, quad_segs=ROUND)
            rings = shapely.get_rings(region if inside.is_empty else inside)
            return plan_line_toolpath(
                [shapely.get_coordinates(ring) for ring in rings], self.cutter, self._choose_steps()
            )
        return plan_area_toolpath(region, self.cutter, self.stepover, self._choose_steps())

    def _build_region(self, piece: Piece, grown: OffsetOutline | None) -> Region:
        if grown is not None:
            return build_chain_polygon([c.transform(piece.scale) for c in grown.chains], self.tolerance / 4)
        return build_polygon_from_outline(piece.build_outline(), self.tolerance / 4)

    def _choose_steps(self, own: float | None = None) -> tuple[float, int]:
        """(depth, passes). 0 where the order does not state a depth. own: of lines that have one of their own."""
        depth = own or self.depth or 0.0
        return depth, choose_passes(self._order, self.cutter, depth).count


def plan_groove_toolpath(grooves: Sequence[Array], volume: float = 0.0) -> Toolpath:
    """Grooves of x, y, z, one after another: lifted wherever the next does not begin where the last one ended."""
    way = measure_travel(grooves)
    plunge, here = 0.0, None
    for groove in grooves:
        if here is None or math.hypot(*(groove[0, :2] - here)) > MEETS:
            plunge -= float(groove[0, 2])
        here = groove[-1, :2]
    return _build_toolpath(way.cutting, way.lifts, plunge, volume)


def plan_line_toolpath(lines: Sequence[Array], cutter: Cutter, steps: tuple[float, int]) -> Toolpath:
    """Lines (n, 2) followed as they are. steps: depth and in how many passes."""
    depth, passes = steps
    length, lifts, here = 0.0, 0, None
    for line in lines:
        length += float(np.hypot(*np.diff(line, axis=0).T).sum())
        lifts += here is None or math.hypot(*(line[0] - here)) > MEETS
        here = line[-1]
    # a pass begins at the depth of the last one
    return _build_toolpath(passes * length, passes * lifts, lifts * depth, length * cutter.compute_section(depth))


def plan_area_toolpath(region: Region, cutter: Cutter, stepover: float, steps: tuple[float, int]) -> Toolpath:
    """A region cleared by a round cutter, as far as it gets in: along the wall, then in loops ever farther inside. From
    loop to loop it stays in the material; it is lifted once for each part it can get into."""
    depth, passes = steps
    radius = (cutter.diameter or 0.0) / 2
    loop = shapely.buffer(region, -radius, quad_segs=ROUND)
    reached = shapely.area(shapely.buffer(loop, radius, quad_segs=ROUND))
    parts = 0 if loop.is_empty else len(shapely.get_parts(loop))
    length = 0.0
    while not loop.is_empty:
        length += float(shapely.length(loop))
        loop = shapely.buffer(loop, -stepover, quad_segs=ROUND)
        length += 0.0 if loop.is_empty else stepover * len(shapely.get_parts(loop))
    return _build_toolpath(passes * length, passes * parts, parts * depth, float(reached) * depth)


def _build_toolpath(length: float, lifts: int, plunge: float, volume: float) -> Toolpath:
    """Build a toolpath, rounded to a millionth, so that the rounding errors of a shifted letter don't show."""
    return Toolpath(length=round(length, 6), lifts=lifts, plunge=round(plunge, 6), volume=round(volume, 6))


def compute_groove_volume(region: Region, cutter: Cutter, lowered: float = 0.0, track: float = math.inf) -> float:
    """mm³ that a V-bit takes out of a region along its grooves. lowered: how much deeper they are cut than the region
    asks, mm; down to there the walls go on outwards. track: how far inside the outline the bit runs where wide strokes
    get a flat floor, mm: no groove is wider than twice that.

    At depth z the middle of the bit's flat tip, of radius t, can be wherever the region, shrunk by z tan(A/2) + t,
    still is; so what is open there is the region shrunk by z tan(A/2) and opened by t (its opening, Minkowski). The
    volume is the sum of those areas over the depth. Where a stroke is wider than the bit, the bit's deepest cut is
    taken for all of it.
    """
    tip = cutter.tip / 2
    parts = [p for p in shapely.get_parts(region) if p.area > 0]
    widest = max((float(shapely.length(shapely.maximum_inscribed_circle(p))) for p in parts), default=0.0)
    above = lowered * cutter.slope
    most = cutter.widest / 2 - above if cutter.widest is not None else math.inf
    deep = min(widest, most, track) - tip
    if deep <= 0:
        return 0.0
    levels = (np.arange(LEVELS) + 0.5) * (deep + above) / LEVELS - above
    kept = shapely.buffer(region, -np.maximum(levels, 0.0) - tip, quad_segs=ROUND)
    areas = shapely.area(shapely.buffer(kept, tip + np.maximum(-levels, 0.0), quad_segs=ROUND))
    return float(areas.sum() * (deep + above) / LEVELS / cutter.slope)
