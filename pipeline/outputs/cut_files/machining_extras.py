"""Contents of cut files besides outlines: centre lines of grooves, and what is left for a pocket's fine cutter.

The pocket is worked out once an order, a letter's centre lines once a letter and size, and a plaque's grooves once.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Sequence

import numpy as np

from pipeline.core.config.order import OrderFolder
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.model import Artwork, Blank, Piece
from pipeline.core.storage.cache import Cache
from pipeline.cutting.cutters import choose_cutter
from pipeline.cutting.cutting_data import find_pass_depth
from pipeline.cutting.groove_sweep import build_order_sweeper
from pipeline.cutting.v_carving import GroovePlanner, build_order_planner, plan_roughing
from pipeline.geometry.curves import Array, Chain
from pipeline.geometry.offset import build_chain_from_ring
from pipeline.geometry.regions import list_region_rings
from pipeline.outputs.cut_files.dxf.verify import ArtworkDiffers
from pipeline.outputs.cut_files.file_contents import ExtraContours
from pipeline.shopfloor.pocket import TOLERANCE, measure_pocket_rest
from pipeline.shopfloor.shop_plan import choose_pocket_mills

AS_SWEPT = 0.001
"""mm. A groove of a file lies no farther than this from the one that was swept."""


class MachiningExtras:
    """Works out the extras of one order's files."""

    def __init__(self, folder: OrderFolder, blank: Blank, cache: Cache) -> None:
        """cache: where loops of pockets and floors are kept between runs. CannotRun when grooves are asked for and the
        cutter cuts none."""
        part = folder.order.files
        cutter = choose_cutter(folder.order.cutter, folder.order.shop, units=folder.order.unit)
        if part.grooves and not cutter.cuts_grooves:
            raise CannotRun(
                Fault(
                    where=f"{folder.file}: [files] grooves",
                    found=f"true, but {cutter.name} cuts no grooves",
                    expected="a V-bit as [cutter], or grooves = false",
                )
            )
        self.grooves = build_order_planner(folder.order, cutter) if part.grooves else None
        self._tolerance, self._cache = part.tolerance, cache
        self.rest = _plan_rest(folder, blank, cache)
        self._last: tuple[Artwork, str, ExtraContours] | None = None
        step = find_pass_depth(folder.order, cutter) if part.grooves else None
        self.step = None if step is None else step.value
        """Depth of one pass, mm; None where grooves are cut in one."""
        self._sweeps = build_order_sweeper(folder.order, cutter) if part.grooves else None
        self._floors: dict[tuple[str, float], tuple[Chain, ...]] = {}

    def plan(self, artwork: Artwork, side: str) -> ExtraContours:
        """The extras of one side of a plaque. Asked for twice in a row, for writing and for reading back, they are
        worked out once."""
        if self._last is not None and self._last[0] is artwork and self._last[1] == side:
            return self._last[2]
        rest = self.rest if side == "front" else ()
        made = ExtraContours((), rest)
        if self.grooves is not None:
            by_piece = self.grooves.plan_by_piece(artwork, side)
            grooves = tuple(groove for _, own in by_piece for groove in own)
            rough = [line for _, own in by_piece for line in plan_roughing(own, self.step)] if self.step else []
            made = ExtraContours(grooves, rest, tuple(rough), self._plan_floor(artwork, side, self.grooves))
        self._last = (artwork, side, made)
        return made

    @property
    def has_floor(self) -> bool:
        """Return whether a flat cutter clears wide strokes."""
        return self.grooves is not None and self.grooves.floor is not None

    def _plan_floor(
        self, artwork: Artwork, side: str, grooves: GroovePlanner
    ) -> tuple[tuple[Piece, tuple[Chain, ...]], ...]:
        """Plan what the flat cutter clears of each letter of a side, drawn at the origin, mm."""
        out = []
        for piece in artwork.list_pieces(side) if self.has_floor else ():
            key = (piece.shape.key, piece.scale)
            if key not in self._floors:
                rings = list_region_rings(grooves.compute_cleared(piece.shape, piece.scale))
                share = self._tolerance / 4
                self._floors[key] = tuple(_fit_loop(ring, share, self._cache) for ring in rings)
            if self._floors[key]:
                out.append((piece, self._floors[key]))
        return tuple(out)

    def hold_against_sweep(self, lines: Sequence[Array], artwork: Artwork, side: str) -> None:
        """Holds centre lines as they were read from a file (n, 3), mm, against those that were swept for each letter.
        Differs where one is farther off than `AS_SWEPT`."""
        if self._sweeps is None:
            return
        left = list(lines)
        for piece, grooves in self._sweeps.grooves.plan_by_piece(artwork, side):
            own, left = left[: len(grooves)], left[len(grooves) :]
            meant = self._sweeps.get_grooves(piece.shape, piece.scale)
            seen = [_move_back(line, piece) for line in own]
            turned = [line[::-1] for line in seen[::-1]]
            if not _are_alike(seen, meant) and not _are_alike(turned, meant):
                text = "".join(use.text for use in piece.shape.glyphs)
                raise ArtworkDiffers(f"the grooves of “{text}” at x {piece.x:.2f} mm are not those that were swept")
        if left:
            raise ArtworkDiffers(f"{len(left)} centre lines of grooves that were not swept")


def _move_back(line: Array, piece: Piece) -> Array:
    """A groove of a piece as it lies when the piece is drawn at the origin, upright."""
    c, s = math.cos(piece.turn), math.sin(piece.turn)
    x, y = line[:, 0] - piece.x, line[:, 1] - piece.y
    return np.column_stack((c * x + s * y, c * y - s * x, line[:, 2]))


def _are_alike(lines: Sequence[Array], meant: Sequence[Array]) -> bool:
    return len(lines) == len(meant) and all(
        a.shape == b.shape and bool(np.abs(a - b).max() <= AS_SWEPT) for a, b in zip(lines, meant, strict=True)
    )


def _plan_rest(folder: OrderFolder, blank: Blank, cache: Cache) -> tuple[Chain, ...]:
    """Plan what the fine cutter clears of the blank's pockets, as loops: outer ones anticlockwise, islands
    clockwise."""
    if folder.order.pocket is None:
        return ()
    rough, fine = choose_pocket_mills(folder, blank)
    if fine is None:
        return ()
    tolerance = max(folder.order.files.tolerance - TOLERANCE, TOLERANCE)
    return tuple(_fit_loop(ring, tolerance, cache) for ring in measure_pocket_rest(blank, rough, fine).rings)


def _fit_loop(ring: Array, tolerance: float, cache: Cache) -> Chain:
    """The ring as lines and arcs, fitted once and kept: fitting takes longer than all the rest of a small order."""
    given = (hashlib.sha256(ring.tobytes()).hexdigest(), tolerance)
    return cache.get_or_compute("rest", given, Chain, lambda: build_chain_from_ring(ring, tolerance, tolerance / 32))
