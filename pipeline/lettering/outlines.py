"""Outlines: from a font's drawing calls to united, checked Bézier curves in font units.

*Contour*: one closed loop. *United*: overlapping contours are merged as curves, once per glyph, in font units.
*Leaving*: a contour of less than (cap height / 500)², what uniting leaves behind; dropped in silence. *Speck*: one of
less than (cap height / 250)², a slip of the font's maker; left out too, and told.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import pathops
import shapely

from pipeline.geometry.curves import Array, Outline, Path
from pipeline.geometry.flatten import Box, flatten, outline_area, outline_box, path_area, ring_area
from pipeline.geometry.regions import build_polygon_from_outline, list_region_rings

LEAVING_OF_CAP = 1 / 500
"""Side, in cap heights, of the square below which a contour is ignored."""

SPECK_OF_CAP = 1 / 250
"""A contour or hole smaller than a square with this part of the cap height as its side is no part of a letter: .04 mm
at capitals of 10 mm, less than half the finest tip on the shelf and half of what an eye tells apart at reading distance
(1 minute of arc, .09 mm at 300 mm). A part of the cap height, not a length: such a slip grows with its letter and
belongs to it at no size. Of the shelf's roman, script and Arabic glyphs none has a contour between 1/364 and 1/117."""

_LESS = "|less"
_SAME_AREA = 1e-4  # relative difference allowed between two computations of an area (Skia works in single precision)
_FLAT_OF_EM = 1 / 5000  # flattening tolerance for checking and repairing outlines


@dataclass(frozen=True, slots=True, eq=False)
class GlyphOutline:
    """A glyph's ink. `outline` is empty for a space. `deviation` (font units) is more than 0 where the outline crossed
    itself and was redrawn as straight lines no farther than that from the curves. `specks`: how many were left out."""

    outline: Outline
    bounds: Box | None
    deviation: float = 0.0
    specks: int = 0


NOTHING = GlyphOutline((), None)


def unite_contours(raw: pathops.Path, cap_units: float, units_per_em: int) -> GlyphOutline:
    """The ink of a path under the non-zero winding rule: outer contours anticlockwise, holes clockwise, no overlaps.

    Uses the curve union of skia-pathops. Its result is checked (rings valid, nested, of the right area); where it
    fails, the ink is computed from the winding numbers of the flattened contours instead, and `deviation` says so.
    """
    before = convert_from_pathops(raw)
    if not before:
        return NOTHING
    least = (cap_units * LEAVING_OF_CAP) ** 2
    flat = units_per_em * _FLAT_OF_EM
    try:
        path = pathops.Path(raw)
        path.simplify(fix_winding=True, keep_starting_points=False, clockwise=False)
        united = _drop_small(convert_from_pathops(path), least)
        deviation = 0.0 if _is_sound(before, united, flat) else flat
    except pathops.PathOpsError:
        deviation = flat
    if deviation:
        rings = list_region_rings(build_polygon_from_outline(before, flat))
        mended = (Path(np.vstack((ring, ring[:1])), (1,) * len(ring)) for ring in rings)
        united = _drop_small(mended, least)
    return GlyphOutline(united, outline_box(united), deviation) if united else NOTHING


def convert_from_pathops(path: pathops.Path) -> Outline:
    """Convert a skia path to closed contours, without segments of zero length."""
    out: list[Path] = []
    points: list[tuple[float, float]] = []
    degrees: list[int] = []

    def close() -> None:
        if degrees:
            if points[0] != points[-1]:
                points.append(points[0])
                degrees.append(1)
            out.append(Path(np.array(points, dtype=np.float64), tuple(degrees)))
        points.clear()
        degrees.clear()

    path.convertConicsToQuads()
    for verb, coordinates in path:
        if verb == pathops.PathVerb.MOVE:
            close()
            points.append(coordinates[0])
        elif verb == pathops.PathVerb.CLOSE:
            close()
        elif any(c != points[-1] for c in coordinates):
            points.extend(coordinates)
            degrees.append(len(coordinates))
    close()
    return tuple(out)


def convert_to_pathops(outline: Outline, dx: float = 0.0, dy: float = 0.0, scale: float = 1.0) -> pathops.Path:
    """Convert contours to a skia path, scaled, then shifted."""
    path = pathops.Path()
    pen = path.getPen(glyphSet=None)
    for contour in outline:
        points = contour.points * scale + (dx, dy)
        pen.moveTo(tuple(points[0]))
        i = 1
        for degree in contour.degrees:
            step = [tuple(p) for p in points[i : i + degree]]
            (pen.lineTo, pen.qCurveTo, pen.curveTo)[degree - 1](*step)
            i += degree
        pen.closePath()
    return path


def drop_specks(ink: GlyphOutline, cap_units: float) -> GlyphOutline:
    """Return the ink without its specks, and their number; the same object where it has none."""
    kept = _drop_small(ink.outline, (cap_units * SPECK_OF_CAP) ** 2)
    specks = len(ink.outline) - len(kept)
    return GlyphOutline(kept, outline_box(kept), ink.deviation, specks) if specks else ink


def build_key(key: str, specks: int) -> str:
    """Build the key of a shape from which this many specks were left out; it differs from the key with them, since the
    cut differs."""
    return f"{key}{_LESS}{specks}" if specks else key


def find_specks(key: str) -> tuple[str, int]:
    """Split such a key into the plain key and the number of specks left out."""
    own, _, specks = key.partition(_LESS)
    return own, int(specks or 0)


def _drop_small(outline: Iterable[Path], area: float) -> Outline:
    return tuple(c for c in outline if abs(path_area(c)) >= area)


def _is_sound(before: Outline, after: Outline, flat: float) -> bool:
    """Return whether a union is a set of valid nested rings that covers the area of the contours.

    Exact areas are compared with exact ones, flattened with flattened: flattening alone takes 0.5 % off a small round
    dot.
    """
    rings = [ring for ring in flatten(after, flat) if len(ring) >= 3]
    shape = _nest_rings(rings)
    covered = sum(ring_area(ring) for ring in rings)
    if rings and (not shape.is_valid or abs(shape.area - covered) > _SAME_AREA * covered):
        return False  # a ring crosses itself or another, or a hole lies outside every outline
    exact = outline_area(after)
    if after and abs(abs(outline_area(before)) - exact) <= _SAME_AREA * exact:
        return True  # nothing overlapped: the area is the sum of the contours'
    edge = float(sum(np.hypot(*(np.roll(ring, -1, axis=0) - ring).T).sum() for ring in rings))
    return bool(abs(build_polygon_from_outline(before, flat).area - covered) <= flat * edge / 2 + flat)


def _nest_rings(rings: Iterable[Array]) -> shapely.MultiPolygon:
    """Nest rings: anticlockwise ones are outer, clockwise ones holes of the smallest ring round them. Invalid where
    rings touch themselves or cross, or a hole lies outside every outline; the caller tests for that."""
    outer: list[Array] = []
    holes: list[Array] = []
    for ring in rings:
        (outer if ring_area(ring) > 0 else holes).append(ring)
    shells = sorted((shapely.Polygon(r) for r in outer), key=lambda p: float(p.area))
    if not all(s.is_valid for s in shells):
        return shapely.MultiPolygon(shells)
    inside: list[list[Array]] = [[] for _ in shells]
    for hole in holes:
        place = shapely.Point(hole[0])
        home = next((i for i, shell in enumerate(shells) if shell.covers(place)), None)
        if home is not None:
            inside[home].append(hole)
    return shapely.MultiPolygon([shapely.Polygon(s.exterior, h) for s, h in zip(shells, inside, strict=True)])
