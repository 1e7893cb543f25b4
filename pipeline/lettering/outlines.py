"""Outlines: a font's drawing calls become united, checked Bézier curves in font units.

*Contour*: one closed loop. *United*: contours that overlap are merged as curves, once a glyph, in font units.
*Speck*: a contour of less than (cap height / 500)², a leaving of the union or of the font's maker.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import pathops
import shapely

from pipeline.geometry.curves import Array, Outline, Path

DEFINITION = "outlines 1"
"""Changes whenever the curves made here change: kept outlines of another definition are not used."""

SPECK_OF_CAP = 1 / 500
"""A contour smaller than a square with this part of the cap height as its side is dropped."""

_AREA_SLACK = 1e-3  # part of the area by which two ways of uniting may differ before the careful one is taken
_FLAT_OF_EM = 1 / 5000  # how closely curves are followed when outlines are checked or repaired

Bounds = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True, eq=False)
class Drawn:
    """A glyph's ink. `outline` is empty for a space. `deviation` (font units) is more than 0 where the outline crossed
    itself and was redrawn as straight lines no farther than that from the curves."""

    outline: Outline
    bounds: Bounds | None
    deviation: float = 0.0


NOTHING = Drawn((), None)


def unite(raw: pathops.Path, cap_units: float, units_per_em: int) -> Drawn:
    """The ink of a path under the non-zero winding rule: outer contours anticlockwise, holes clockwise, no overlaps.

    Uses the curve union of skia-pathops. Its result is checked (rings valid, nested, of the right area); where it
    fails, the area is worked out from the flattened contours' winding numbers instead, and `deviation` says so.
    """
    before = contours(raw)
    if not before:
        return NOTHING
    speck = (cap_units * SPECK_OF_CAP) ** 2
    flat = units_per_em * _FLAT_OF_EM
    united: Outline = ()
    good = False
    try:
        path = pathops.Path(raw)
        path.simplify(fix_winding=True, keep_starting_points=False, clockwise=False)
        united = _without_specks(contours(path), speck)
        good = _sound(before, united, flat)
    except pathops.PathOpsError:
        good = False
    if good:
        return Drawn(united, bounds(united)) if united else NOTHING
    mended = _without_specks(_by_winding(before, flat), speck)
    return Drawn(mended, bounds(mended), flat) if mended else NOTHING


def to_pathops(outline: Outline, dx: float = 0.0, dy: float = 0.0, scale: float = 1.0) -> pathops.Path:
    """Our contours as a skia path, scaled, then shifted."""
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


def bounds(outline: Outline) -> Bounds | None:
    """The exact box of the curves (not of their control points): x0, y0, x1, y1."""
    if not outline:
        return None
    low = np.full(2, np.inf)
    high = np.full(2, -np.inf)
    for contour in outline:
        on_curve = [0, *np.cumsum(contour.degrees)]
        low = np.minimum(low, contour.points[on_curve].min(axis=0))
        high = np.maximum(high, contour.points[on_curve].max(axis=0))
        for segment in contour.segments():
            for axis in (0, 1):
                ends = segment[[0, -1], axis]
                inner = segment[1:-1, axis]
                if len(inner) and (inner.min() < ends.min() or inner.max() > ends.max()):
                    for value in _extremes(segment[:, axis]):
                        low[axis], high[axis] = min(low[axis], value), max(high[axis], value)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def area(outline: Outline) -> float:
    """Signed area of the curves, exact (Green's theorem on each Bézier segment); anticlockwise counts positive."""
    total = 0.0
    for contour in outline:
        for segment in contour.segments():
            total += _segment_area(segment)
    return total


def rings(outline: Outline, tolerance: float) -> list[Array]:
    """Each contour as an (n, 2) ring, first point not repeated, no farther than `tolerance` from the curve."""
    return [_flatten(contour, tolerance) for contour in outline]


def polygons(outline: Outline, tolerance: float) -> Any:
    """The ink as a shapely geometry (a MultiPolygon), flattened within `tolerance`. Holes go to the smallest outer
    ring round them; the result may be invalid when the outline is."""
    outer, holes = [], []
    for ring in rings(outline, tolerance):
        if len(ring) >= 3:
            (outer if _ring_area(ring) > 0 else holes).append(ring)
    shells = sorted((shapely.Polygon(r) for r in outer), key=lambda p: p.area)
    inside: list[list[Array]] = [[] for _ in shells]
    for hole in holes:
        place = shapely.Point(hole[0])
        home = next((i for i, shell in enumerate(shells) if shell.covers(place) and shell.area), None)
        if home is not None:
            inside[home].append(hole)
    return shapely.MultiPolygon([shapely.Polygon(s.exterior, h) for s, h in zip(shells, inside, strict=True)])


# --- from and to skia ---------------------------------------------------------------------------------------------


def contours(path: pathops.Path) -> Outline:
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
        elif any(c != points[-1] for c in coordinates):  # a segment of no length draws nothing
            points.extend(coordinates)
            degrees.append(len(coordinates))
    close()
    return tuple(out)


def _without_specks(outline: Iterable[Path], speck: float) -> Outline:
    return tuple(c for c in outline if abs(area((c,))) >= speck)


# --- checking and mending -----------------------------------------------------------------------------------------


def _sound(before: Outline, after: Outline, flat: float) -> bool:
    """Whether a union is a set of valid nested rings that covers what the contours covered."""
    if not after:
        return _winding_area(before, flat) <= flat * flat
    shape = polygons(after, flat)
    covered = area(after)
    if not shape.is_valid or abs(shape.area - covered) > _AREA_SLACK * covered + flat:
        return False
    if abs(abs(area(before)) - covered) <= _AREA_SLACK * covered:
        return True  # nothing overlapped: the sum of the contours is the area
    return abs(_winding_area(before, flat) - covered) <= _AREA_SLACK * covered + flat


def _faces(outline: Outline, flat: float) -> list[Any]:
    """The parts of the plane that the contours wind round, as polygons."""
    loops = [r for r in rings(outline, flat) if len(r) >= 3]
    if not loops:
        return []
    lines = shapely.unary_union([shapely.LinearRing(r) for r in loops])
    parts = [p for p in shapely.polygonize([lines]).geoms if p.area > 0]
    return [p for p in parts if _winding(loops, p.representative_point()) != 0]


def _winding_area(outline: Outline, flat: float) -> float:
    return float(sum(p.area for p in _faces(outline, flat)))


def _by_winding(outline: Outline, flat: float) -> Outline:
    whole = shapely.unary_union(_faces(outline, flat))
    out = []
    for part in shapely.get_parts(whole):
        if part.geom_type != "Polygon" or part.is_empty:
            continue
        part = shapely.orient_polygons(part)
        for ring in (part.exterior, *part.interiors):
            points = np.asarray(ring.coords, dtype=np.float64)
            out.append(Path(points, (1,) * (len(points) - 1)))
    return tuple(out)


def _winding(loops: Sequence[Array], at: Any) -> int:
    """Winding number of the loops about a point: signed crossings of the ray to the right of it."""
    total = 0
    for ring in loops:
        start, end = ring - (at.x, at.y), np.roll(ring, -1, axis=0) - (at.x, at.y)
        cross = start[:, 0] * end[:, 1] - start[:, 1] * end[:, 0]
        up = (start[:, 1] <= 0) & (end[:, 1] > 0) & (cross > 0)
        down = (start[:, 1] > 0) & (end[:, 1] <= 0) & (cross < 0)
        total += int(up.sum()) - int(down.sum())
    return total


# --- Bézier arithmetic --------------------------------------------------------------------------------------------


def _extremes(values: Array) -> list[float]:
    """Values of a one-dimensional Bézier of degree 2 or 3 where it turns inside (0, 1)."""
    if len(values) == 3:
        a, b, c = values
        roots = [(a - b) / (a - 2 * b + c)] if a - 2 * b + c else []
    else:
        a, b, c, d = values
        roots = list(np.roots([3 * (d - 3 * c + 3 * b - a), 6 * (a - 2 * b + c), 3 * (b - a)]))
    out = []
    for root in roots:
        t = float(np.real(root))
        if abs(np.imag(root)) < 1e-12 and 0 < t < 1:
            level = list(values)
            while len(level) > 1:
                level = [p + (q - p) * t for p, q in pairwise(level)]
            out.append(float(level[0]))
    return out


def _segment_area(s: Array) -> float:
    """The integral of (x dy - y dx)/2 along a Bézier segment of degree 1, 2 or 3."""

    def cross(i: int, j: int) -> float:
        return float(s[i, 0] * s[j, 1] - s[i, 1] * s[j, 0])

    if len(s) == 2:
        return cross(0, 1) / 2
    if len(s) == 3:
        return (2 * cross(0, 1) + 2 * cross(1, 2) + cross(0, 2)) / 6
    return (6 * cross(0, 1) + 3 * cross(0, 2) + cross(0, 3) + 3 * cross(1, 2) + 3 * cross(1, 3) + 6 * cross(2, 3)) / 20


def _ring_area(ring: Array) -> float:
    x, y = ring[:, 0], ring[:, 1]
    return float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2


def _flatten(contour: Path, tolerance: float) -> Array:
    """A contour's points, each curve cut into equal steps of its parameter, enough for the tolerance: the chord of a
    step h strays at most h² max|B''| / 8."""
    parts = [contour.points[:1]]
    for s in contour.segments():
        if len(s) == 2:
            parts.append(s[1:])
            continue
        if len(s) == 3:
            bend = 2 * np.abs(s[0] - 2 * s[1] + s[2])
        else:
            bend = 6 * np.maximum(np.abs(s[0] - 2 * s[1] + s[2]), np.abs(s[1] - 2 * s[2] + s[3]))
        steps = max(1, int(np.ceil(np.sqrt(np.hypot(*bend) / (8 * tolerance)))))
        t = (np.arange(1, steps + 1) / steps)[:, None]
        if len(s) == 3:
            parts.append((1 - t) ** 2 * s[0] + 2 * t * (1 - t) * s[1] + t**2 * s[2])
        else:
            parts.append((1 - t) ** 3 * s[0] + 3 * t * (1 - t) ** 2 * s[1] + 3 * t**2 * (1 - t) * s[2] + t**3 * s[3])
    points: Array = np.concatenate(parts)[:-1]  # the last point is the first again
    return points
