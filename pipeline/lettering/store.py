"""The glyph store: united outlines kept on disk between runs, one file a face."""

from __future__ import annotations

from typing import Any

import numpy as np
import pathops
import shapely
import uharfbuzz as hb

from pipeline.core.kept import Keeper, Kept
from pipeline.geometry.curves import Path
from pipeline.geometry.flatten import outline_box
from pipeline.lettering.outlines import DEFINITION, NOTHING, Drawn

_GLYPHS, _CLUSTERS = "glyph", "cluster"


def stamp() -> str:
    """What kept outlines depend on besides the font: the definition here and the libraries that draw and unite."""
    return "\n".join(
        (
            DEFINITION,
            f"harfbuzz {hb.version_string()}",
            f"pathops {pathops.__version__}",
            f"geos {shapely.geos_version_string}",
        )
    )


class GlyphStore:
    """Outlines of one face by glyph, and of clusters by their key. Nothing reaches the disk before the keeper saves."""

    def __init__(self, keeper: Keeper, outlines_key: str) -> None:
        self._kept: Kept = keeper.open(f"outlines-{outlines_key}", stamp())

    def glyph(self, glyph: int) -> Drawn | None:
        return _drawn(self._kept.get(_GLYPHS, str(glyph)))

    def keep_glyph(self, glyph: int, drawn: Drawn) -> None:
        self._kept.put(_GLYPHS, str(glyph), _plain(drawn))

    def cluster(self, key: str) -> Drawn | None:
        return _drawn(self._kept.get(_CLUSTERS, key))

    def keep_cluster(self, key: str, drawn: Drawn) -> None:
        self._kept.put(_CLUSTERS, key, _plain(drawn))


def _plain(drawn: Drawn) -> list[Any]:
    return [drawn.deviation, [[list(c.degrees), c.points.ravel().tolist()] for c in drawn.outline]]


def _drawn(plain: Any | None) -> Drawn | None:
    if plain is None:
        return None
    deviation, contours = plain
    if not contours:
        return NOTHING
    outline = tuple(Path(np.array(points).reshape(-1, 2), tuple(degrees)) for degrees, points in contours)
    return Drawn(outline, outline_box(outline), deviation)
