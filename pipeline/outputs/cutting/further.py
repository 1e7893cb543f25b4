"""What cut files hold besides outlines: centre lines of grooves, and what is left for a pocket's fine cutter.

The pocket is worked out once an order, a letter's centre lines once a letter and size, and a plaque's grooves once.
"""

from __future__ import annotations

import hashlib

from pipeline.core.cache import Cache
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.model import Artwork, Blank
from pipeline.core.order import OrderFolder
from pipeline.cutting.cutters import cutter_of
from pipeline.cutting.grooves import Grooves
from pipeline.geometry.curves import Array, Chain
from pipeline.geometry.grow import chain_of_ring
from pipeline.outputs.cutting.plan import Extras
from pipeline.shopfloor.plan import mills
from pipeline.shopfloor.pocket import TOLERANCE, rest_of


class Further:
    """Works out the extras of one order's files."""

    def __init__(self, folder: OrderFolder, blank: Blank, cache: Cache) -> None:
        """cache: where the pocket's loops are kept between runs. CannotRun when grooves are asked for and the cutter
        cuts none."""
        part = folder.order.files
        cutter = cutter_of(folder.order.cutter)
        if part.grooves and not cutter.slope:
            raise CannotRun(
                Fault(
                    where=f"{folder.file}: [files] grooves",
                    found=f"true, but {cutter.name} cuts no grooves",
                    expected="a V-bit as [cutter], or grooves = false",
                )
            )
        self._grooves = Grooves(cutter, part.tolerance) if part.grooves else None
        self.rest = _rest(folder, blank, cache)
        self._last: tuple[Artwork, str, Extras] | None = None

    def of(self, artwork: Artwork, side: str) -> Extras:
        """The extras of one side of a plaque. Asked for twice in a row, for writing and for reading back, they are
        worked out once."""
        if self._last is not None and self._last[0] is artwork and self._last[1] == side:
            return self._last[2]
        rest = self.rest if side == "front" else ()
        made = Extras(self._grooves.of(artwork, side), rest) if self._grooves else Extras((), rest)
        self._last = (artwork, side, made)
        return made


def _rest(folder: OrderFolder, blank: Blank, cache: Cache) -> tuple[Chain, ...]:
    """What the fine cutter clears of the blank's pockets, as loops: outer ones anticlockwise, islands clockwise."""
    if folder.order.pocket is None:
        return ()
    rough, fine = mills(folder, blank)
    if fine is None:
        return ()
    tolerance = max(folder.order.files.tolerance - TOLERANCE, TOLERANCE)
    return tuple(_loop(ring, tolerance, cache) for ring in rest_of(blank, rough, fine).rings)


def _loop(ring: Array, tolerance: float, cache: Cache) -> Chain:
    """The ring as lines and arcs, fitted once and kept: fitting takes longer than all the rest of a small order."""
    given = (hashlib.sha256(ring.tobytes()).hexdigest(), tolerance)
    return cache.get_or_compute("rest", given, Chain, lambda: chain_of_ring(ring, tolerance, tolerance / 32))
