"""The narrowest stroke and land of one outline."""

from __future__ import annotations

from pipeline.geometry.curves import Outline
from pipeline.geometry.medial.narrow_places import find_narrow_places
from pipeline.geometry.medial.stroke_width import NarrowPlace


def find_narrowest_stroke(outline: Outline, cap: float, em: float) -> NarrowPlace | None:
    """Find the narrowest stroke of a united outline; cap and em in its unit. None when it has no area."""
    return find_narrow_places([outline], cap, em).strokes.find_narrowest()


def find_narrowest_land(outline: Outline, cap: float, em: float) -> NarrowPlace | None:
    """Find the narrowest land of a united outline; None when nothing is narrow within a cap height."""
    return find_narrow_places([outline], cap, em).find_narrowest_land()
