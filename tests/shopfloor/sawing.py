"""A simulated saw for checking lists of cuts."""

from __future__ import annotations

import math
from collections.abc import Iterable

import shapely

from pipeline.geometry.regions import Region
from pipeline.shopfloor.saw import SawCut


def simulate_sawing(boards: dict[str, Region], cuts: Iterable[SawCut], kerf: float) -> dict[str, Region]:
    """Saw the boards (by part name) according to the list and return every part left at the end.

    Each cut goes straight through its whole part and removes a kerf. ValueError when a part doesn't exist yet, or a
    cut doesn't leave the part that comes off in one piece.
    """
    parts = dict(boards)
    for c in cuts:
        if c.part not in parts:
            raise ValueError(f"cut of {c.part}, which is not there")
        part = parts.pop(c.part)
        x0, y0, x1, y1 = c.line
        dx, dy = x1 - x0, y1 - y0
        far = 10 * (sum(abs(v) for v in part.bounds) + 1) / math.hypot(dx, dy)
        through = shapely.LineString([(x0 - dx * far, y0 - dy * far), (x1 + dx * far, y1 + dy * far)])
        kerfed = part.difference(through.buffer(kerf / 2, cap_style="flat"))
        # the side at the fence or stop: left of a line drawn away from the datum side, below a rip
        near: list[Region] = []
        rest: list[Region] = []
        for piece in shapely.get_parts(kerfed):
            point = piece.representative_point()
            side = dx * (point.y - y0) - dy * (point.x - x0)
            (near if (side < 0) == (abs(dx) > abs(dy)) else rest).append(piece)
        if len(near) > 1 or len(rest) > 1:
            raise ValueError(f"cut of {c.part} at {c.setting:g} leaves {len(near)} and {len(rest)} pieces")
        if near:
            parts[c.off] = near[0]
        if rest:
            parts[c.rest] = rest[0]
    return parts
