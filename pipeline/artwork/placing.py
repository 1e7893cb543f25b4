"""Places a drawing: its size, its position, and which of its parts are too small to be cut.

Shapes are drawn to size, 0.01 mm to a unit, about the middle of what is drawn; their key says the curves and nothing
else, so that the same crest is measured, fitted and signed once whatever its file is called.
"""

from __future__ import annotations

import hashlib
import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely

from pipeline.artwork.drawn_artwork import DrawnArtwork
from pipeline.core.catalogue import artwork_kinds as kinds
from pipeline.core.catalogue import ways
from pipeline.core.findings import Edit, Fact, Finding, Way, build_finding, build_way
from pipeline.core.model import GlyphUse, Piece, SetFigure, SetRow, Shape
from pipeline.core.units import Units
from pipeline.geometry.curves import Outline, Path
from pipeline.geometry.flatten import flatten_open, outline_box, path_area
from pipeline.geometry.regions import Region, group_nearby

UNIT = 0.01
"""mm in one unit of a shape."""
EM = 1000
"""Units that stand for the em and the cap height: artwork is judged like lettering of 10 mm."""
SPECK = 0.1
"""mm. Contours smaller than a square of this side are not part of a drawing; see the kind artwork.specks."""
_DECIMALS = 2  # of a unit: 0.1 µm
_MEETS = 0.005  # mm; lines whose ends are this close belong to one figure
_FINE = 3000  # while fitting, curves are flattened to the drawing's longer side / this
_CANNOT = "it cannot be cut as it is drawn: "
_HALVINGS = 30  # bisection steps: the largest size is found to one part in a billion


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """Place of one drawing. Lengths mm, turn in degrees; zone: its room, of which the middle of the box counts."""

    number: int  # which [[artwork]], from 1; 0: of the blank's drawing
    name: str
    side: Literal["front", "back"] = "front"
    cut: Literal["engrave", "line"] = "engrave"
    depth: float | None = None
    turn: float = 0.0
    width: float | None = None
    height: float | None = None
    at: tuple[float, float] | None = None
    zone: str = ""
    as_drawn: bool = False  # placed where the blank's drawing has it


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlacedFigure:
    """A drawing in its place (None where it can't be placed), and the findings about it."""

    figure: SetFigure | None
    findings: tuple[Finding, ...]


def place_artwork(
    where: Placement, drawn: DrawnArtwork, room: Region, zone: Region | None, units: Units
) -> PlacedFigure:
    """The drawing in its place. room: what it has to stay inside, mm; zone: all of its zone, in whose middle it is
    centred without `at`."""
    facts: dict[str, Fact] = {"number": where.number, "file": where.name}
    said = _list_remarks(drawn, facts)
    box = outline_box(drawn.outline)
    if box is None:
        return PlacedFigure(figure=None, findings=tuple(said))
    own = (box[2] - box[0], box[3] - box[1])
    radians = math.radians(where.turn)
    middle = ((box[0] + box[2]) / 2, (box[1] + box[3]) / 2)
    ink, turned = _compute_ink(drawn.outline, middle, radians)
    centre = _find_centre(where, zone, middle)
    free = _find_largest_scale(ink, centre, room)
    scale = _find_scale(where, drawn, own)
    if scale is None and where.zone:
        scale = free
        said.append(_report_fitted(where, own, scale, "the drawing gives no size in mm or inches", facts))
    elif scale is None:
        what = "neither the drawing (its unit is px, or none) nor the order says how large it is"
        said.append(build_finding(kinds.NO_SIZE, facts={**facts, "what": what}))
        return PlacedFigure(figure=None, findings=tuple(said))
    elif scale > free * (1 + 1e-9) and where.zone and where.width is None and where.height is None and free > 0:
        drawn_as = f"it is drawn {units.format_number(own[0] * scale)} × {units.show(own[1] * scale)}"
        scale = free
        said.append(_report_fitted(where, own, scale, drawn_as, facts))
    size = (own[0] * scale, own[1] * scale)
    if not 0 < scale < math.inf or max(size) < 10 * UNIT:
        what = "there is no room for it" if free <= 0 else f"it is {units.show(max(size))} large"
        said.append(build_finding(kinds.NO_SIZE, facts={**facts, "what": what}))
        return PlacedFigure(figure=None, findings=tuple(said))
    if scale > free * (1 + 1e-6) + 1e-9 and not _put(ink, scale, centre).within(room):
        said.append(_report_too_large(where, ink, centre, scale, free, room, size, facts, units))
    shapes, specks = _build_shapes(where, drawn, middle, scale)
    if specks:
        place = f", of {units.show(math.sqrt(max(specks)))} at most"
        limit = units.show(SPECK, units.decimals)
        said.append(build_finding(kinds.SPECKS, facts={**facts, "count": len(specks), "limit": limit, "place": place}))
    if not shapes:
        said.append(build_finding(kinds.NO_SIZE, facts={**facts, "what": "all of it is too small at this size"}))
        return PlacedFigure(figure=None, findings=tuple(said))
    # the shape's origin is the middle of what is drawn, not of its rotated box
    x, y = float(centre[0] - turned[0] * scale), float(centre[1] - turned[1] * scale)
    pieces = tuple(Piece(shape=shape, scale=UNIT, x=x, y=y, turn=radians) for shape in shapes)
    row = SetRow(text=where.name, pieces=pieces, x=x - size[0] / 2, baseline=y - size[1] / 2, width=size[0])
    figure = SetFigure(
        line=0,
        text=where.name,
        face="",
        cap_height=size[1],
        tracking=0,
        rows=(row,),
        width=size[0],
        slack=max(0.0, (free - scale) * max(own) / 2) if math.isfinite(free) else 0.0,
        side=where.side,
        number=where.number,
        cut=where.cut,
    )
    return PlacedFigure(figure=figure, findings=tuple(said))


def _list_remarks(drawn: DrawnArtwork, facts: dict[str, Fact]) -> list[Finding]:
    by = {"cannot": kinds.CANNOT_CUT, "changed": kinds.CHANGED, "colours": kinds.COLOURS}
    return [
        build_finding(
            by[r.reason],
            facts={
                **facts,
                "what": (_CANNOT if r.reason == "cannot" else "") + r.words,
                "place": f", at {r.place}" if r.place else "",
            },
        )
        for r in drawn.remarks
    ]


def _find_scale(where: Placement, drawn: DrawnArtwork, own: tuple[float, float]) -> float | None:
    """mm to one unit of the drawing; None where neither the order nor the drawing says."""
    asked = [wanted / size for wanted, size in ((where.width, own[0]), (where.height, own[1])) if wanted and size > 0]
    return min(asked) if asked else drawn.mm


def _find_centre(where: Placement, zone: Region | None, middle: tuple[float, float]) -> tuple[float, float]:
    if where.as_drawn:
        return middle
    if where.at is not None:
        return where.at
    if zone is None:
        raise ValueError("an artwork without a place")
    x0, y0, x1, y1 = map(float, zone.bounds)
    return ((x0 + x1) / 2, (y0 + y1) / 2)


def _compute_ink(outline: Outline, middle: tuple[float, float], turn: float) -> tuple[Region, np.ndarray]:
    """The contours of the drawing, turned, about the middle of their box; and how far that lies from the middle of the
    box before."""
    box = outline_box(outline)
    span = max(box[2] - box[0], box[3] - box[1]) if box else 1.0
    c, s = math.cos(turn), math.sin(turn)
    runs = [(run - middle) @ np.array([[c, s], [-s, c]]) for run in flatten_open(outline, span / _FINE) if len(run) > 1]
    points = np.concatenate(runs)
    turned = (points.min(axis=0) + points.max(axis=0)) / 2
    return shapely.multilinestrings([shapely.linestrings(run - turned) for run in runs]), turned


def _put(ink: Region, scale: float, centre: tuple[float, float]) -> Region:
    return shapely.transform(ink, lambda p: p * scale + centre)


def _find_largest_scale(ink: Region, centre: tuple[float, float], room: Region) -> float:
    """Return the largest scale at which the ink, centred there, lies within its area; 0 when there is none."""
    if room.is_empty:
        return 0.0
    shapely.prepare(room)
    x0, y0, x1, y1 = map(float, room.bounds)
    a, b, c, d = map(float, ink.bounds)
    low, high = 0.0, 1.01 * max(x1 - x0, y1 - y0) / max(c - a, d - b, 1e-9)
    for _ in range(_HALVINGS):
        mid = (low + high) / 2
        if room.covers(_put(ink, mid, centre)):
            low = mid
        else:
            high = mid
    return low


def _report_fitted(
    where: Placement, own: tuple[float, float], scale: float, why: str, facts: dict[str, Fact]
) -> Finding:
    more: dict[str, Fact] = {"width": own[0] * scale, "height": own[1] * scale, "zone": where.zone, "drawn": why}
    return build_finding(kinds.MADE_TO_FIT, facts={**facts, **more})


def _report_too_large(
    where: Placement,
    ink: Region,
    centre: tuple[float, float],
    scale: float,
    free: float,
    room: Region,
    size: tuple[float, float],
    facts: dict[str, Fact],
    units: Units,
) -> Finding:
    outside = _put(ink, scale, centre).difference(room)
    points = shapely.points(shapely.get_coordinates(outside))
    far = float(shapely.distance(points, room).max()) if len(points) and not room.is_empty else max(size)
    offers: tuple[Way, ...] = ()
    if free > 0 and where.number:
        key, wanted = ("width", size[0]) if where.width or not where.height else ("height", size[1])
        value = units.round_value(wanted * free / scale, up=False)
        if value > 0:
            edit = Edit(table="artwork", number=where.number, key=key, value=value)
            told: dict[str, Fact] = {"width": size[0] * free / scale, "key": key, "size": value * units.mm}
            offers = (build_way(ways.ARTWORK_SMALLER, edit, facts=told),)
    more: dict[str, Fact] = {"width": size[0], "height": size[1], "x": centre[0], "y": centre[1]}
    more["room"] = f"zone {where.zone} less its margin" if where.zone else "the edge of the blank"
    return build_finding(kinds.DOES_NOT_FIT, measured=far, unit="mm", at=centre, facts={**facts, **more}, ways=offers)


# --- shapes -----------------------------------------------------------------------------------------------------------


def _build_shapes(
    where: Placement, drawn: DrawnArtwork, middle: tuple[float, float], scale: float
) -> tuple[list[Shape], list[float]]:
    """The shapes of a drawing at its size, and the areas (mm²) of what was too small for it."""
    k = scale / UNIT
    paths = [Path(np.round((p.points - middle) * k, _DECIMALS) + 0.0, p.degrees, p.closed) for p in drawn.outline]
    if where.cut == "line":
        return [_build_shape(where, group) for group in _group_touching(paths)], []
    kept, specks = [], []
    for path in paths:
        area = abs(path_area(path)) * UNIT**2
        if area < SPECK**2:
            specks.append(area)
        else:
            kept.append(path)
    return ([_build_shape(where, kept)] if kept else []), specks


def _build_shape(where: Placement, paths: list[Path]) -> Shape:
    digest = hashlib.sha256()
    for path in paths:
        digest.update(f"{path.degrees} {path.closed}\n".encode())
        digest.update(np.ascontiguousarray(path.points).tobytes())
    line = where.cut == "line"
    deep = "" if where.depth is None or not line else f"@{round(where.depth * 1000)}"
    return Shape(
        key=f"{'line' if line else 'artwork'}{deep}:{digest.hexdigest()[:32]}",
        outline=tuple(paths),
        glyphs=(GlyphUse(glyph=0, name=where.name, text=where.name),),
        units_per_em=EM,
        cap_units=float(EM),
        single_line=line,
        depth=where.depth if line else None,
    )


def _group_touching(paths: list[Path]) -> list[list[Path]]:
    """Lines in groups that touch, in the order they are drawn."""
    runs = [shapely.linestrings(run) for run in flatten_open(paths, _MEETS / UNIT)]
    return [[paths[n] for n in group] for group in group_nearby(runs, _MEETS / UNIT)]
