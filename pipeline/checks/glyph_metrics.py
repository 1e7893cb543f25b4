"""Strokes and land of shapes, measured once in font units and cached; a plaque then costs a look-up and a
multiplication.

Words: *atom*, one glyph of a row, alone or inside a cluster; *joint*, where two glyphs of a cluster overlap or touch;
*zone*, the joint and a margin round it. A cluster's stroke is the least of its glyphs' candidates outside all zones
and of the united glyphs' candidates inside each zone, so that a word in a joining script costs no more than its pairs.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from itertools import takewhile
from typing import Any, TypeVar

import numpy as np
import shapely

from pipeline.checks.placed_glyphs import (
    PlacedGlyph,
    Who,
    are_near,
    compute_relative_place,
    move_place_to_row,
    place_glyphs,
    place_region,
    transform_to_row,
)
from pipeline.checks.shape_metrics import NOTHING, Distance, JointMetrics, ShapeMetrics
from pipeline.core.model import Piece, Shape
from pipeline.core.required import require_value
from pipeline.core.storage.cache import Cache
from pipeline.core.storage.lru_cache import LruCache
from pipeline.geometry.curves import Array, Outline
from pipeline.geometry.flatten import flatten_open
from pipeline.geometry.medial.narrow_places import NarrowPlaces, find_narrow_places
from pipeline.geometry.medial.stroke_width import NarrowPlace
from pipeline.geometry.regions import Region, build_polygon_from_outline

JOINT_MARGIN = 0.12
"""Zone round a joint, as a part of the cap height."""
TOUCHING = 1 / 10_000
"""Glyphs of a cluster nearer than this part of the em are taken to touch."""
AS_WIDE = 0.005
"""Widths of a cluster that differ by less than this fraction may belong to one place that was flattened twice."""
FINENESS = 1 / 10_000
"""Flattening for distances between letters, as a part of the em."""

Between = tuple[float, float, float, tuple[int, int], tuple[int, int]]
T = TypeVar("T")


class GlyphMetrics:
    """Measures shapes and caches what was measured. Not thread-safe."""

    def __init__(self, cache: Cache | None = None) -> None:
        """cache: where numbers are kept between runs; without one they last as long as this object."""
        self._cache = cache or Cache(None)
        self._polygons: dict[tuple[str, float], Region] = {}
        self._touch: dict[str, bool] = {}
        self._boxes: dict[str, tuple[float, float, float, float] | None] = {}
        self._rows: LruCache[Between | None] = LruCache()
        self._obstacles: dict[tuple[int, str], tuple[Any, Any]] = {}
        self.recent: LruCache[Any] = LruCache(2048)  # results of the checks, by row and line

    # --- one shape ------------------------------------------------------------------------------------------------

    def measure(self, shape: Shape) -> ShapeMetrics:
        """Stroke, widest place and land of a shape; NOTHING for one without area (a space, single lines)."""
        if shape.single_line or not shape.outline:
            return NOTHING
        whole = bool(shape.parts) and len(shape.parts) == len(shape.glyphs)
        measure = self._measure_cluster if whole else self._measure_alone
        return self._cache.get_or_compute("measured", _list_inputs(shape), ShapeMetrics, lambda: measure(shape))

    def _measure_alone(self, shape: Shape) -> ShapeMetrics:
        found, who = _find_places(shape), tuple(range(len(shape.glyphs)))
        return ShapeMetrics(
            found.strokes.find_narrowest(), who, found.find_widest(), who, found.find_narrowest_land(), who
        )

    def find_narrow_places(self, shape: Shape) -> NarrowPlaces:
        """Return every width that fails somewhere in the shape, and every narrow place of the land inside it."""
        return self._cache.get_or_compute(
            "places", _list_inputs(shape), NarrowPlaces, lambda: _find_places(shape, every=True)
        )

    def get_polygon(self, shape: Shape, tolerance: float | None = None) -> Region:
        """The shape's area in font units, flattened finely enough for distances (or to `tolerance`)."""
        t = shape.units_per_em * FINENESS if tolerance is None else tolerance
        key = (shape.key, t)
        if key not in self._polygons:
            if shape.single_line:
                lines = [shapely.LineString(run) for run in flatten_open(shape.outline, t) if len(run) > 1]
                self._polygons[key] = shapely.multilinestrings(lines) if lines else shapely.Polygon()
            else:
                self._polygons[key] = build_polygon_from_outline(shape.outline, t)
        return self._polygons[key]

    # --- distances ------------------------------------------------------------------------------------------------

    def distance(self, a: PlacedGlyph, b: PlacedGlyph) -> tuple[float, tuple[float, float]]:
        """Exact distance of two atoms' outlines and the middle of the gap, in the row's unit; 0 where they overlap."""
        scale, turn, dx, dy = compute_relative_place(a, b)
        em, other = a.shape.units_per_em, b.shape.units_per_em
        key = f"{a.shape.key}/{em}|{b.shape.key}/{other}@{dx},{dy}*{scale},{turn}"

        def measure() -> Distance:
            here, there = self.get_polygon(a.shape), place_region(self.get_polygon(b.shape), scale, turn, dx, dy)
            line = shapely.get_coordinates(shapely.shortest_line(here, there))
            if len(line) != 2:
                return Distance(float("inf"), (0.0, 0.0), (0.0, 0.0))
            (x0, y0), (x1, y1) = line.tolist()
            return Distance(float(np.hypot(x1 - x0, y1 - y0)), (x0, y0), (x1, y1))

        known = self._cache.get_or_compute("distance", key, Distance, measure)
        (x0, y0), (x1, y1) = known.start, known.end
        return known.value * a.scale, transform_to_row(a, (x0 + x1) / 2, (y0 + y1) / 2)

    def get_box(self, shape: Shape) -> tuple[float, float, float, float] | None:
        """Bounding box of a shape's polygon, font units; None without area."""
        if shape.key not in self._boxes:
            region = self.get_polygon(shape)
            self._boxes[shape.key] = None if region.is_empty else region.bounds
        return self._boxes[shape.key]

    def get_boxes(self, atoms: Sequence[PlacedGlyph]) -> Array:
        """Bounding boxes (n, 4) of atoms that have an area, in the row's unit; those of turned atoms are those of their
        turned boxes."""
        out = np.empty((len(atoms), 4))
        for k, a in enumerate(atoms):
            box = require_value(self.get_box(a.shape), "the ink of a shape that is measured")
            x0, y0, x1, y1 = box
            if a.turn:
                ends = [transform_to_row(a, x, y) for x, y in ((x0, y0), (x1, y0), (x1, y1), (x0, y1))]
                out[k] = (*np.min(ends, axis=0), *np.max(ends, axis=0))
            else:
                out[k] = (a.x + a.scale * x0, a.y + a.scale * y0, a.x + a.scale * x1, a.y + a.scale * y1)
        return out

    def place_polygon(self, a: PlacedGlyph) -> Region:
        """The atom's polygon in the row's unit."""
        return place_region(self.get_polygon(a.shape), a.scale, a.turn, a.x, a.y)

    def find_least_between(self, pieces: Sequence[Piece]) -> Between | None:
        """Return the least distance between two pieces of a row, cached for rows of the same shapes in the same places.

        (distance, x, y in the first piece's units, (piece, glyph), (piece, glyph)); None when there are no two.
        """
        if len(pieces) < 2:
            return None
        lead = pieces[0]
        first = PlacedGlyph(lead.shape, lead.x, lead.y, lead.scale, lead.turn)
        places = [compute_relative_place(first, PlacedGlyph(p.shape, p.x, p.y, p.scale, p.turn)) for p in pieces]
        key = tuple((p.shape.key, *place) for p, place in zip(pieces, places, strict=True))

        def make() -> Between | None:
            atoms, owner = [], []
            for k, (piece, (scale, turn, dx, dy)) in enumerate(zip(pieces, places, strict=True)):
                for atom in place_glyphs(piece.shape, dx, dy, scale=scale, turn=turn):
                    if self.get_box(atom.shape) is not None:
                        atoms.append(atom)
                        owner.append(k)
            return self._compute_least_between(atoms, owner)

        return self._rows.get_or_compute(key, make)

    def _compute_least_between(self, atoms: Sequence[PlacedGlyph], owner: Sequence[int]) -> Between | None:
        if len(set(owner)) < 2:
            return None
        b, home = self.get_boxes(atoms), np.array(owner)
        across = np.maximum(0, np.maximum(b[None, :, 0] - b[:, None, 2], b[:, None, 0] - b[None, :, 2]))
        up = np.maximum(0, np.maximum(b[None, :, 1] - b[:, None, 3], b[:, None, 1] - b[None, :, 3]))
        i, j = np.nonzero(home[:, None] < home[None, :])
        bound = np.hypot(across, up)[i, j]
        best: Between | None = None
        for k in np.argsort(bound, kind="stable").tolist():
            if best is not None and bound[k] >= best[0]:
                break
            m, n = int(i[k]), int(j[k])
            if owner[n] - owner[m] == 1 and _run_on(atoms[m].shape, atoms[n].shape):
                continue
            value, (x, y) = self.distance(atoms[m], atoms[n])
            if best is None or value < best[0]:
                best = (value, x, y, (owner[m], atoms[m].who[0]), (owner[n], atoms[n].who[0]))
        return best

    def get_obstacles(self, blank: Any, side: str, make: Callable[[Any, str], T]) -> T:
        """Return what `make` returns for this very blank and side, computed once."""
        key = (id(blank), side)
        if key not in self._obstacles:
            self._obstacles[key] = (blank, make(blank, side))  # the blank is referenced so that its id isn't reused
        made: T = self._obstacles[key][1]
        return made

    # --- clusters -------------------------------------------------------------------------------------------------

    def _measure_cluster(self, shape: Shape) -> ShapeMetrics:
        atoms = place_glyphs(shape, 0.0, 0.0)
        cap = shape.cap_units
        polygons = [place_region(self.get_polygon(a.shape), a.scale, 0.0, a.x, a.y) for a in atoms]
        zones = self._build_zones(atoms, polygons, cap, shape.units_per_em)
        strokes: list[tuple[NarrowPlace, Who]] = []
        wides: list[tuple[NarrowPlace, Who]] = []
        lands: list[tuple[NarrowPlace, Who]] = []
        for i, atom in enumerate(atoms):
            mine = [zone for (a, b), (zone, _) in zones.items() if i in (a, b)]
            for narrow in self._list_outside(atom, mine):
                strokes.append((narrow, atom.who))
            alone = self.find_narrow_places(atom.shape)
            wide = alone.find_widest()
            if wide is not None:
                wides.append((move_place_to_row(atom, wide), atom.who))
            lands += [(move_place_to_row(atom, p), atom.who) for p in alone.lands]
        for (i, j), (zone, who) in zones.items():
            lead = atoms[who[0]]
            joint = self._measure_joint([atoms[k] for k in who], (who.index(i), who.index(j)), zone)
            if joint.stroke is not None:
                strokes.append((move_place_to_row(lead, joint.stroke), who))
            if joint.widest is not None:
                wides.append((move_place_to_row(lead, joint.widest), who))
            lands += [(move_place_to_row(lead, p), who) for p in joint.lands]
        for i, j, who in _list_neighbours(atoms, zones):
            value, (x, y) = self.distance(atoms[i], atoms[j])
            if 0 < value < cap:
                lands.append((NarrowPlace(value, "neighbour", x, y), who))
        stroke, widest = _name_place(strokes), _name_place(wides, widest=True)
        land = _name_place(lands, lambda place: _is_free(place, polygons))
        return ShapeMetrics(*stroke, *widest, *land)

    def _build_zones(
        self, atoms: Sequence[PlacedGlyph], polygons: Sequence[Region], cap: float, em: float
    ) -> dict[tuple[int, int], tuple[Region, tuple[int, ...]]]:
        """Each joint's zone, and the glyphs that reach into it."""
        boxes = [p.bounds if not p.is_empty else (1.0, 1.0, 0.0, 0.0) for p in polygons]
        zones: dict[tuple[int, int], tuple[Region, tuple[int, ...]]] = {}
        for i in range(len(atoms)):
            for j in range(i + 1, len(atoms)):
                if not are_near(boxes[i], boxes[j], em * TOUCHING) or not self._are_touching(atoms[i], atoms[j], em):
                    continue
                common = shapely.intersection(polygons[i], polygons[j])
                if common.is_empty:
                    common = shapely.shortest_line(polygons[i], polygons[j])
                zone = shapely.buffer(common, cap * JOINT_MARGIN, quad_segs=8)
                members = [
                    k
                    for k in range(len(atoms))
                    if k in (i, j) or (are_near(boxes[k], zone.bounds, 0.0) and shapely.intersects(polygons[k], zone))
                ]
                zones[i, j] = (zone, tuple(members))
        return zones

    def _are_touching(self, a: PlacedGlyph, b: PlacedGlyph, em: float) -> bool:
        key = f"{a.shape.key}|{b.shape.key}@{compute_relative_place(a, b)}"
        if key not in self._touch:
            scale, turn, dx, dy = compute_relative_place(a, b)
            there = place_region(self.get_polygon(b.shape), scale, turn, dx, dy)
            self._touch[key] = bool(shapely.dwithin(self.get_polygon(a.shape), there, em * TOUCHING))
        return self._touch[key]

    def _list_outside(self, atom: PlacedGlyph, zones: Sequence[Region]) -> list[NarrowPlace]:
        """The narrowest of a glyph's candidates outside all its zones."""
        found = self.find_narrow_places(atom.shape).strokes
        if not len(found.width):
            return []
        keep = np.ones(len(found.width), dtype=bool)
        at = found.at * atom.scale + (atom.x, atom.y)
        for zone in zones:
            shapely.prepare(zone)
            keep &= ~shapely.contains_xy(zone, at[:, 0], at[:, 1])
        least = found.find_narrowest(keep)
        return [] if least is None else [move_place_to_row(atom, least)]

    def _measure_joint(self, atoms: Sequence[PlacedGlyph], pair: tuple[int, int], zone: Region) -> JointMetrics:
        """Measure united glyphs inside the zone of a pair of them."""
        lead = atoms[0]
        key = (
            "+".join(f"{_list_inputs(a.shape)}@{compute_relative_place(lead, a)}" for a in atoms)
            + f":{pair[0]},{pair[1]}"
        )

        def measure() -> JointMetrics:
            here = shapely.transform(zone, lambda p: (p - (lead.x, lead.y)) / lead.scale)
            outlines = [_move_outline(a.shape.outline, *compute_relative_place(lead, a)) for a in atoms]
            found = find_narrow_places(outlines, lead.shape.cap_units, lead.shape.units_per_em, within=here)
            shapely.prepare(here)
            inside = shapely.contains_xy(here, found.strokes.at[:, 0], found.strokes.at[:, 1])
            return JointMetrics(found.strokes.find_narrowest(inside), found.lands, found.find_widest())

        return self._cache.get_or_compute("joint", key, JointMetrics, measure)


def _list_inputs(shape: Shape) -> tuple[str, float, int]:
    """Return everything that a shape's measurements depend on."""
    return (shape.key, shape.cap_units, shape.units_per_em)


def _run_on(a: Shape, b: Shape) -> bool:
    """Return whether neighbours are written without lifting the point: they run into each other and leave nothing
    between."""
    return a.single_line and a.joins and b.single_line and b.joins


def _find_places(shape: Shape, every: bool = False) -> NarrowPlaces:
    return find_narrow_places([shape.outline], shape.cap_units, shape.units_per_em, every=every)


def _move_outline(outline: Outline, scale: float, turn: float, dx: float, dy: float) -> Outline:
    return tuple(path.transform(scale, dx, dy, turn) for path in outline)


def _name_place(
    found: Sequence[tuple[NarrowPlace, Who]],
    counts: Callable[[NarrowPlace], bool] = lambda place: True,
    *,
    widest: bool = False,
) -> tuple[NarrowPlace | None, Who]:
    """The narrowest (or widest) of the places that count. Among equal widths the one with the fewest glyphs wins: a
    place in one letter is found again in its joints."""
    most = -1 if widest else 1
    ordered = sorted(found, key=lambda f: most * f[0].width)
    first = next((k for k, (place, _) in enumerate(ordered) if counts(place)), None)
    if first is None:
        return None, ()
    width = ordered[first][0].width
    alike = takewhile(lambda f: abs(f[0].width - width) <= AS_WIDE * width, ordered[first:])
    place, who = min((f for f in alike if counts(f[0])), key=lambda f: len(f[1]))
    return replace(place, width=width), who


def _is_free(place: NarrowPlace, polygons: Sequence[Region]) -> bool:
    """Return whether no glyph covers the land's disc: another letter may have filled it."""
    r = place.width / 2
    point = shapely.Point(place.x, place.y)
    box = (place.x - r, place.y - r, place.x + r, place.y + r)
    return all(
        p.is_empty or not are_near(p.bounds, box, 0.0) or shapely.distance(p, point) >= r * 0.99 for p in polygons
    )


def _list_neighbours(atoms: Sequence[PlacedGlyph], zones: Mapping[tuple[int, int], Any]) -> list[tuple[int, int, Who]]:
    """Pairs of a cluster, one and two apart, that do not touch each other."""
    return [(i, j, (i, j)) for i in range(len(atoms)) for j in (i + 1, i + 2) if j < len(atoms) and (i, j) not in zones]
