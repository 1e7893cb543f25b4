"""What reading a client's drawing gives: its curves, and what is to be said of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from pipeline.geometry.curves import Outline

Reason = Literal["cannot", "changed", "colours"]
"""cannot: what of the drawing cannot be cut, and so stops it · changed: what was taken otherwise than it is drawn ·
colours: parts that do not show in one cut."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Remark:
    """One thing to say of a drawing: why, in words, and where in the drawing's own coordinates and unit."""

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
