"""The result of reading a client's drawing: its curves and the remarks about them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal, get_args

from pipeline.geometry.curves import Outline

Reason = Literal["cannot", "changed", "colours"]
"""cannot: what of the drawing cannot be cut, and so stops it · changed: what was taken otherwise than it is drawn ·
colours: parts that do not show in one cut."""


MOST_TOLD = 5
"""Number of remarks shown for each reason."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Remark:
    """A remark about a drawing: the reason in words, and the place in the drawing's coordinates and unit."""

    reason: Reason
    words: str
    place: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DrawnArtwork:
    """The curves of a client's drawing, y up.

    As areas: united, non-zero winding, outer contours anticlockwise, holes clockwise. As lines: contours as they were
    drawn, open or closed. mm: millimetres in one unit of the curves; None where the drawing does not say.
    deviation: how far curves that had to be redrawn as straight lines may be off, in units of the curves.
    """

    outline: Outline
    mm: float | None
    remarks: tuple[Remark, ...] = ()
    deviation: float = 0.0


def limit_remarks(remarks: Iterable[Remark]) -> tuple[Remark, ...]:
    """The first remarks of each reason, and how many more there are."""
    told = list(remarks)
    out: list[Remark] = []
    for reason in get_args(Reason):
        same = [r for r in told if r.reason == reason]
        out += same[:MOST_TOLD]
        if (more := len(same) - MOST_TOLD) > 0:
            out.append(Remark(reason=reason, words=f"and {more} more thing{'s' if more > 1 else ''}"))
    return tuple(out)
