"""A row with a second text at the other end of its line, such as a name and a year on one baseline.

The two are joined into one row of lettering, so that everything downstream (fit, land, grooves, cut files) sees one row
with a wide gap in it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from pipeline.core.model import PlacedShape, ShapedRow

LEAST_GAP = 1.0
"""em between the two texts: less reads as one text (common practice, no source)."""

LEADER_GAP = 0.5
"""em kept free on both sides of a leader (common practice, no source)."""


def compute_natural_width(row: ShapedRow, other: ShapedRow) -> float:
    """Return the least width of the two on one line, with the least gap, in the row's font units."""
    if row.ink is None or other.ink is None:
        return _measure_width(row) + _measure_width(other)
    return _measure_width(row) + _measure_width(other) + LEAST_GAP * row.units_per_em


def join_opposite(left: ShapedRow, right: ShapedRow, width: float, leader: ShapedRow | None = None) -> ShapedRow:
    """One row whose ink begins with `left` and ends with `right`, `width` apart in font units, or as wide as the two
    and the least gap are. leader: what is repeated between them; its places are counted from the right end, so that
    leaders of rows under each other stand in columns.

    The row's text is what is read along it, with spaces between the parts."""
    width = max(width, compute_natural_width(left, right))
    start = left.ink[0] if left.ink else 0.0
    end = start + width
    shift = end - (right.ink[2] if right.ink else 0.0)
    parts: list[tuple[str, Sequence[PlacedShape], float]] = [(left.text, left.shapes, 0.0)]
    if leader is not None and leader.ink is not None and left.ink is not None and right.ink is not None:
        gap = LEADER_GAP * left.units_per_em
        free = (left.ink[2] + gap, right.ink[0] + shift - gap)
        parts += [(leader.text, leader.shapes, x) for x in _place_leaders(leader, free, end)]
    parts.append((right.text, right.shapes, shift))
    texts: list[str] = []
    shapes: list[PlacedShape] = []
    for text, own, dx in parts:
        before = sum(len(t) + 1 for t in texts)
        shapes += [
            replace(p, x=p.x + dx, at=tuple(at + before for at in p.at or (0,) * len(p.shape.glyphs))) for p in own
        ]
        if text:
            texts.append(text)
    inks = [row.ink for row in (left, right) if row.ink]
    ink = (start, min(i[1] for i in inks), end, max(i[3] for i in inks)) if inks else None
    if ink and leader is not None and leader.ink is not None:
        ink = (ink[0], min(ink[1], leader.ink[1]), ink[2], max(ink[3], leader.ink[3]))
    missing = dict.fromkeys((*left.missing, *right.missing, *(leader.missing if leader else ())))
    return replace(
        left,
        text=" ".join(texts),
        shapes=tuple(shapes),
        advance=shift + right.advance,
        ink=ink,
        missing=tuple(missing),
    )


def _measure_width(row: ShapedRow) -> float:
    return row.ink[2] - row.ink[0] if row.ink else 0.0


def _place_leaders(leader: ShapedRow, free: tuple[float, float], end: float) -> list[float]:
    """Return where the leader's pen starts: every whole step from `end` back at which its ink lies in the free stretch,
    from left to right."""
    ink = leader.ink
    if ink is None or leader.advance <= 0:
        return []
    step = max(leader.advance, ink[2] - ink[0])
    first = math.ceil((end - (free[1] - ink[2])) / step - 1e-9)
    last = math.floor((end - (free[0] - ink[0])) / step + 1e-9)
    return [end - n * step for n in range(last, first - 1, -1)]
