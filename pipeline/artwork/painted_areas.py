"""Unites painted shapes, in painting order, into one outline with its curves preserved.

The result is compared with a union of flattened areas by another library.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import pathops
import shapely

from pipeline.geometry.curves import Outline, Path
from pipeline.geometry.flatten import flatten, outline_area
from pipeline.geometry.regions import Region, build_polygon_from_outline, list_region_rings
from pipeline.lettering.outlines import convert_from_pathops, convert_to_pathops, unite_contours

SPAN = 4096.0
"""Length of the drawing's longer side while areas are united: skia's stroker keeps within a quarter of a unit, 1/16,000
of the side, and its single precision holds 1/2,000 of a unit."""
LEAST_OF_SPAN = 400
"""Contours smaller than (this / 500)² square units are artefacts of uniting."""
_FLAT = SPAN / 20_000
"""Flattening for the comparison with an independent union."""
_SAME_AREA = 5e-4

Size = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True, eq=False)
class PaintedShape:
    """A painted shape: its area as a path with its fill rule, its colour, and whether that is the paper's."""

    path: pathops.Path
    colour: str
    paper: bool
    place: tuple[float, float]


def compose_painted(painted: Sequence[PaintedShape], page: pathops.Path | None) -> tuple[Outline, float]:
    """Compose what is painted, in its order, as one united outline, and how far it is off where curves had to be given
    up.

    Held against a union of flattened areas by another library; where the two differ, that one counts.
    """
    wanted = _compose_flat(painted, page)
    if wanted.is_empty:
        return (), 0.0
    try:
        builder = pathops.OpBuilder(fix_winding=True, keep_starting_points=False)
        for each in painted:
            builder.add(each.path, pathops.PathOp.DIFFERENCE if each.paper else pathops.PathOp.UNION)
        if page is not None:
            builder.add(page, pathops.PathOp.INTERSECTION)
        path = builder.resolve()
        path.simplify(fix_winding=True, keep_starting_points=False, clockwise=False)
        ink = unite_contours(path, LEAST_OF_SPAN, int(SPAN))
        slack = _SAME_AREA * wanted.area + 2 * _FLAT * wanted.length * 0.1
        if abs(outline_area(ink.outline) - wanted.area) <= slack:
            return ink.outline, ink.deviation
    except pathops.PathOpsError:
        pass
    rings = list_region_rings(wanted)
    flat = tuple(Path(np.vstack((ring, ring[:1])), (1,) * len(ring)) for ring in rings)
    ink = unite_contours(convert_to_pathops(flat), LEAST_OF_SPAN, int(SPAN))
    return ink.outline, ink.deviation + _FLAT


def _compose_flat(painted: Sequence[PaintedShape], page: pathops.Path | None) -> Region:
    whole: Region = shapely.Polygon()
    run: list[Region] = []
    for each in painted:
        region = build_painted_region(each.path)
        if each.paper:
            whole = shapely.difference(shapely.union_all([whole, *run]), region)
            run = []
        else:
            run.append(region)
    whole = shapely.union_all([whole, *run])
    return whole if page is None else shapely.intersection(whole, build_painted_region(page))


def build_painted_region(path: pathops.Path) -> Region:
    """The area of a path by its own fill rule, flattened."""
    even = path.fillType in (pathops.FillType.EVEN_ODD, pathops.FillType.INVERSE_EVEN_ODD)
    contours = convert_from_pathops(pathops.Path(path))
    if not even:
        return build_polygon_from_outline(contours, _FLAT)
    return _fill_even_odd(contours)


def _fill_even_odd(contours: Outline) -> Region:
    """Apply the even-odd rule: the area that an odd number of contours encloses."""
    region: Region = shapely.Polygon()
    for contour in contours:
        for part in _list_odd_parts(contour):
            region = shapely.symmetric_difference(region, part)
    return region


def _list_odd_parts(contour: Path) -> Iterator[Region]:
    """The area inside one contour by the even-odd rule: the faces it cuts the plane into, by crossings."""

    ring = flatten(contour, _FLAT)[0]
    if len(ring) < 3:
        return
    simple = shapely.Polygon(ring)
    if simple.is_valid:
        yield simple
        return
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(shapely.union_all([shapely.linearrings(ring)]))))
    a, b = ring, np.roll(ring, -1, axis=0)
    for face in faces:
        point = shapely.point_on_surface(face)
        over = (a[:, 1] <= point.y) != (b[:, 1] <= point.y)
        with np.errstate(divide="ignore", invalid="ignore"):
            at = a[:, 0] + (point.y - a[:, 1]) * (b[:, 0] - a[:, 0]) / (b[:, 1] - a[:, 1])
        if np.count_nonzero(over & (at > point.x)) % 2:
            yield face


def build_page_path(shown: Size, scale: float) -> pathops.Path | None:
    if not shown[2]:
        return None
    path = pathops.Path()
    w, h = shown[2] * scale, shown[3] * scale
    pen = path.getPen(glyphSet=None)
    pen.moveTo((0, 0))
    for corner in ((w, 0), (w, h), (0, h)):
        pen.lineTo(corner)
    pen.closePath()
    return path


def reaches_beyond(painted: Sequence[PaintedShape], scale: float, shown: Size) -> bool:
    """Return whether ink extends beyond the page by more than a thousandth of it."""
    w, h, by = shown[2] * scale, shown[3] * scale, SPAN / 1000
    boxes = np.array([p.path.bounds for p in painted if not p.paper])
    return bool(
        len(boxes)
        and (
            boxes[:, 0].min() < -by
            or boxes[:, 1].min() < -by
            or boxes[:, 2].max() > w + by
            or boxes[:, 3].max() > h + by
        )
    )
