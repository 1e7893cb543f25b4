"""The cut along a letter's grooves, simulated and compared with the letter as designed, once per shape, size and bit.

The sweep doesn't use the code that found the grooves: hulls of the bit's rounds along the lines against the
flattened outline, see cutting.simulate for the words. A face that is sanded afterwards is compared in its sanded state.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import shapely

from pipeline.core.config.order import Order
from pipeline.core.model import Piece, Shape
from pipeline.cutting.cutters import Cutter, compute_lowering
from pipeline.cutting.flat_floor import RIDGE, FlatFloor, FloorGeometry, build_flat_floor
from pipeline.cutting.simulated_cut import (
    FINE,
    QUARTER,
    SweptCut,
    compare_cut,
    find_farthest,
    find_reachable,
    sweep,
    sweep_at,
)
from pipeline.cutting.v_carving import GroovePlanner, build_groove_planner
from pipeline.geometry.curves import Array
from pipeline.geometry.regions import Region, build_polygon_from_outline

_ROUND = 12
"""Chords of a quarter turn of the flat tip: off by 2e-3 of its radius, .0002 mm for a tip of 0.2 mm."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SweptGroove:
    """Result of the bit's grooves in one letter drawn at the origin, mm.

    reached: area the flat tip fits in. missed: area of that which stays. ends: how far the farthest acute end lies from
    where the tip fits, where, and the area of all such ends.
    """

    cut: SweptCut
    reached: float
    missed: float
    ends: float
    ends_at: tuple[float, float] | None
    ends_area: float
    floor: SweptCut | None = None  # cut of the flat floor at its depth; None: there is none
    floor_reached: float = 0.0  # floor area that the bit's tip or the flat cutter reaches
    floor_missed: float = 0.0  # floor area that stays uncut

    @property
    def missed_share(self) -> float:
        """Part of the area the tip fits in that stays, 0..1."""
        return self.missed / self.reached if self.reached else 0.0

    @property
    def floor_missed_share(self) -> float:
        """Part of the flat floor that stays higher than it should, 0..1."""
        return self.floor_missed / self.floor_reached if self.floor_reached else 0.0


class GrooveSweeper:
    """Letters swept along their grooves, remembered by the key of the shape and the scale."""

    def __init__(self, grooves: GroovePlanner) -> None:
        self.grooves = grooves
        self._lines: dict[tuple[str, float], tuple[Array, ...]] = {}
        self._swept: dict[tuple[str, float], SweptGroove] = {}

    def get_grooves(self, shape: Shape, scale: float) -> tuple[Array, ...]:
        """The grooves that are swept for a shape at this scale (mm per font unit), drawn at the origin."""
        key = (shape.key, scale)
        if key not in self._lines:
            self._lines[key] = tuple(self.grooves.plan_piece(Piece(shape=shape, scale=scale, x=0.0, y=0.0)))
        return self._lines[key]

    def sweep(self, shape: Shape, scale: float) -> SweptGroove:
        """Return what the bit makes of a shape at this scale."""
        key = (shape.key, scale)
        if key not in self._swept:
            self._swept[key] = self._compute_sweep(shape, scale)
        return self._swept[key]

    def _compute_sweep(self, shape: Shape, scale: float) -> SweptGroove:
        cutter = self.grooves.cutter
        art = build_polygon_from_outline(Piece(shape=shape, scale=scale, x=0.0, y=0.0).build_outline(), FINE)
        lines = self.grooves.finish_grooves(self.get_grooves(shape, scale))
        cut, milled = sweep(lines, cutter), self._compute_milled(shape, scale)
        if not milled.is_empty:
            cut = shapely.union(cut, milled)
        fits = find_reachable(art, cutter.tip / 2, _ROUND)
        ends = shapely.difference(art, fits)
        far, at = find_farthest(ends, fits)
        floor = None if self.grooves.floor is None else compare_floor_cut(art, lines, milled, self.grooves.floor)
        return SweptGroove(
            floor=floor.cut if floor else None,
            floor_reached=floor.reached if floor else 0.0,
            floor_missed=floor.missed if floor else 0.0,
            cut=compare_cut(art, cut, fits),
            reached=float(fits.area),
            missed=float(shapely.difference(fits, cut).area),
            ends=far,
            ends_at=at,
            ends_area=float(ends.area),
        )

    def _compute_milled(self, shape: Shape, scale: float) -> Region:
        """Return what the flat cutter takes, as far as it gets in."""
        if self.grooves.floor is None:
            return shapely.Polygon()
        return find_reachable(self.grooves.compute_cleared(shape, scale), self.grooves.floor.floor.radius)


@dataclass(frozen=True, slots=True, kw_only=True)
class FloorCut:
    """A flat floor as cut, compared with the letter at its depth."""

    cut: SweptCut
    reached: float
    missed: float


def compare_floor_cut(art: Region, grooves: Sequence[Array], milled: Region, floor: FloorGeometry) -> FloorCut:
    """Compare what is cut at the depth of the floor, less the height that ridges may have, against the outline moved
    inwards to there. grooves: as they lie below the finished face. milled: what the flat cutter takes."""
    depth = floor.designed - RIDGE
    meant = shapely.buffer(art, -depth * floor.cutter.slope, quad_segs=QUARTER)
    cut = shapely.union(sweep_at(grooves, floor.cutter, depth), milled)
    fits = find_reachable(meant, floor.cutter.tip_width / 2, _ROUND)
    missed = float(shapely.difference(fits, cut).area)
    return FloorCut(cut=compare_cut(meant, cut, fits), reached=float(fits.area), missed=missed)


@lru_cache(maxsize=2)
def build_groove_sweeper(
    cutter: Cutter, tolerance: float, lowered: float, floor: FlatFloor | None = None
) -> GrooveSweeper:
    """The sweeps for these values, as `build_groove_planner`."""
    return GrooveSweeper(build_groove_planner(cutter, tolerance, lowered, floor))


def build_order_sweeper(order: Order, cutter: Cutter) -> GrooveSweeper:
    """The sweeps of an order's grooves. CannotRun where its flat cutter can't be used."""
    return build_groove_sweeper(
        cutter, order.files.tolerance, compute_lowering(order, cutter), build_flat_floor(order, cutter)
    )
