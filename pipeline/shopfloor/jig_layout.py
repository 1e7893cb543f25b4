"""The jig of an order: the load and place of each piece. Lengths mm, from the jig's zero point.

Places are counted from the lower left, row by row. The jig stays as it is; only what lies in it changes.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import affinity

from pipeline.core.catalogue import jig_kinds as kinds
from pipeline.core.catalogue import ways
from pipeline.core.config.shop_tables import JigConfig
from pipeline.core.findings import Edit, Fact, Finding, build_finding, build_way
from pipeline.core.list_row import ListRow
from pipeline.core.model import Blank
from pipeline.core.units import Units
from pipeline.geometry.curves import Chain
from pipeline.geometry.flatten import chain_box
from pipeline.geometry.regions import Region, build_chain_polygon
from pipeline.shopfloor.board_layout import TOLERANCE, PieceToPlace

CLEAR = 0.5
"""mm between two blanks of the pitch that is advised: a wall that can be made (common practice, no source)."""
LOOSE = 0.1
"""mm. A blank that lies no farther from its mirror image fits the same place (common practice, no source)."""
MOST_PLACES = 5_000
"""Most places of one jig; more is a typing error."""
SPECK = 0.01
"""mm². Outlines that touch share no more than this, which is the rounding of their chords."""


@dataclass(frozen=True, slots=True, kw_only=True)
class JigPlace:
    """One place of the jig. x, y: lower left corner of the blank as it lies there, mm."""

    number: int  # from 1
    column: int
    row: ListRow
    x: float
    y: float


@dataclass(frozen=True, slots=True, kw_only=True)
class JigPiece:
    """A piece in its place."""

    place: JigPlace
    piece: PieceToPlace


@dataclass(frozen=True, slots=True, kw_only=True)
class JigLoad:
    """The blanks in the jig at one time."""

    number: int  # from 1
    pieces: tuple[JigPiece, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class JigLayout:
    """All loads of an order."""

    places: tuple[JigPlace, ...]
    loads: tuple[JigLoad, ...]
    turn: int  # degrees
    extent: tuple[float, float]  # of the blank in that position
    size: tuple[float, float] | None  # of the jig

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Around all places, and the jig where its size is known."""
        wide, high = self.extent
        xs = [p.x for p in self.places]
        ys = [p.y for p in self.places]
        right, top = self.size or (0.0, 0.0)
        return min(0.0, *xs), min(0.0, *ys), max(right, max(xs) + wide), max(top, max(ys) + high)


def list_jig_places(part: JigConfig) -> Iterator[JigPlace]:
    """The places, from the lower left, row by row."""
    (x, y), across, up = part.first, part.across or 0.0, part.up or 0.0
    for row in range(part.rows):
        for column in range(part.columns):
            number = row * part.columns + column + 1
            yield JigPlace(number=number, column=column + 1, row=row + 1, x=x + column * across, y=y + row * up)


def put_in_place(edge: Chain, place: JigPlace, turn: int) -> tuple[float, float, float]:
    """(turn in radians, dx, dy): what puts the coordinates of a blank with this edge in its place of the jig, mm."""
    angle = math.radians(turn)
    x0, y0, _, _ = chain_box(edge.transform(turn=angle)) or (0.0, 0.0, 0.0, 0.0)
    return angle, place.x - x0, place.y - y0


def plan_jigs(
    blank: Blank, part: JigConfig, pieces: Sequence[PieceToPlace], *, units: Units, back: bool
) -> tuple[JigLayout, tuple[Finding, ...]]:
    """Assign the pieces to the jig load by load, signed ones first, otherwise in the order of the list. back: whether
    anything is lettered on the back."""
    region = _lay_blank(blank, part.turn)
    x0, y0, x1, y1 = region.bounds
    places = tuple(list_jig_places(part))
    waiting = sorted(pieces, key=lambda p: (not p.signed, p.row, p.copy))
    loads = tuple(
        JigLoad(
            number=number,
            pieces=tuple(
                JigPiece(place=place, piece=piece)
                for place, piece in zip(places, waiting[start : start + len(places)], strict=False)
            ),
        )
        for number, start in enumerate(range(0, len(waiting), len(places)), 1)
    )
    layout = JigLayout(places=places, loads=loads, turn=part.turn, extent=(x1 - x0, y1 - y0), size=part.size)
    found = [*_check_overlap(region, part, units), *_check_outside(layout, part)]
    if back:
        found += _check_turned(blank, region, part.turn)
    return layout, tuple(found)


def _lay_blank(blank: Blank, turn: int, *, over: bool = False) -> Region:
    """The blank with the lower left corner of its box at the origin. over: turned over about its own upright line."""
    region = build_chain_polygon(blank.edge, TOLERANCE)
    if over:
        region = affinity.scale(region, -1, 1, origin=(0, 0))
    region = affinity.rotate(region, turn, origin=(0, 0))
    x0, y0, _, _ = region.bounds
    return affinity.translate(region, -x0, -y0)


def _check_overlap(region: Region, part: JigConfig, units: Units) -> Iterator[Finding]:
    _, _, width, height = region.bounds
    ways_on = [("across", part.across or 0.0, width)] * (part.columns > 1)
    ways_on += [("up", part.up or 0.0, height)] * (part.rows > 1)
    steps = [(part.across or 0.0, 0.0)] * (part.columns > 1) + [(0.0, part.up or 0.0)] * (part.rows > 1)
    steps += [(part.across or 0.0, way_up * (part.up or 0.0)) for way_up in (1, -1)] * (len(steps) > 1)
    worst = max((float(region.intersection(affinity.translate(region, *step)).area) for step in steps), default=0.0)
    if worst <= SPECK:
        return
    wider = {key: units.round_value(box + CLEAR, up=True) for key, now, box in ways_on if now < box + CLEAR}
    facts: dict[str, Fact] = {"width": width, "height": height, "area": worst}
    facts["pitch"] = " and ".join(f"{units.show(now)} {key}" for key, now, _ in ways_on)
    told = {"keys": " and ".join(f"{key} = {value:g}" for key, value in wider.items())}
    edits = [Edit(table="jig", key=key, value=value) for key, value in wider.items()]
    yield build_finding(kinds.PLACES_OVERLAP, facts=facts, ways=(build_way(ways.WIDER_PITCH, *edits, facts=told),))


def _check_outside(layout: JigLayout, part: JigConfig) -> Iterator[Finding]:
    if part.bed is None:
        return
    (wide, high), (across, up) = layout.extent, part.bed
    out = [
        p
        for p in layout.places
        if min(p.x, p.y) < -TOLERANCE or p.x + wide > across + TOLERANCE or p.y + high > up + TOLERANCE
    ]
    if out:
        xs, ys = [p.x for p in layout.places], [p.y for p in layout.places]
        facts: dict[str, Fact] = {
            "places": len(out), "left": min(xs), "low": min(ys), "right": max(xs) + wide, "high": max(ys) + high,
            "across": across, "up": up,
        }  # fmt: skip
        yield build_finding(kinds.OUTSIDE_BED, measured=float(len(out)), facts=facts)


def _check_turned(blank: Blank, region: Region, turn: int) -> Iterator[Finding]:
    """Check that a blank turned over about its vertical axis fits the place it was in."""
    over = _lay_blank(blank, turn, over=True)
    points = np.vstack([shapely.get_coordinates(region), shapely.get_coordinates(over)])
    both = (region.boundary, over.boundary)
    off = max(float(shapely.distance(shapely.points(points), edge).max()) for edge in both)
    if off > LOOSE:
        yield build_finding(kinds.BACK_DIFFERS, measured=off, limit=LOOSE, unit="mm")
