"""The glyph store: united outlines kept on disk between runs, one file a face."""

from __future__ import annotations

from typing import Any

import numpy as np

from pipeline.core.form import of_form
from pipeline.core.kept import Keeper, Kept
from pipeline.geometry.curves import Path
from pipeline.geometry.flatten import outline_box
from pipeline.lettering.outlines import NOTHING, Drawn

_GLYPHS, _CLUSTERS = "glyph", "cluster"


class GlyphStore:
    """Outlines of one face by glyph, and of clusters by their key. Nothing reaches the disk before the keeper saves."""

    def __init__(self, keeper: Keeper, outlines_key: str) -> None:
        self._kept: Kept = keeper.open(f"outlines-{outlines_key}")

    def glyph(self, glyph: int) -> Drawn | None:
        return self._kept.get(_GLYPHS, str(glyph), _drawn)

    def keep_glyph(self, glyph: int, drawn: Drawn) -> None:
        self._kept.put(_GLYPHS, str(glyph), _plain(drawn))

    def cluster(self, key: str) -> Drawn | None:
        return self._kept.get(_CLUSTERS, key, _drawn)

    def keep_cluster(self, key: str, drawn: Drawn) -> None:
        self._kept.put(_CLUSTERS, key, _plain(drawn))


def _plain(drawn: Drawn) -> list[Any]:
    return [drawn.deviation, [[list(c.degrees), c.points.ravel().tolist()] for c in drawn.outline]]


def _drawn(plain: Any) -> Drawn:
    deviation, contours = of_form(plain, (float, [([int], [float])]))
    if not contours:
        return NOTHING
    outline = tuple(_path(degrees, points) for degrees, points in contours)
    return Drawn(outline, outline_box(outline), deviation)


def _path(degrees: list[int], points: list[float]) -> Path:
    if not degrees or not {*degrees} <= {1, 2, 3} or len(points) != 2 * (1 + sum(degrees)):
        raise ValueError("the points of a contour are not those of its segments")
    return Path(np.array(points).reshape(-1, 2), tuple(degrees))
