"""The simulated cut of a plaque's files: what is read back from the disk, swept by the order's cutter, against the
artwork. See cutting.simulate for the words.

Where the file is, coordinate for coordinate, what the read-back expects of it, a letter is swept once for its shape and
size, and the coordinates' rounding is added to what is found; where it is not, everything is swept as it was read.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path as FilePath

import numpy as np
import shapely

from pipeline.core.model import Artwork, Piece, Plaque, SetFigure
from pipeline.core.required import require_value
from pipeline.core.storage.files import read_plain
from pipeline.cutting.cutters import Cutter
from pipeline.cutting.flat_floor import FloorGeometry
from pipeline.cutting.groove_sweep import compare_floor_cut
from pipeline.cutting.simulated_cut import (
    FINE,
    QUARTER,
    SweptCut,
    compare_cut,
    compare_line_cut,
    find_reachable,
    sweep,
)
from pipeline.cutting.v_carving import build_order_planner
from pipeline.geometry.curves import Array, Chain
from pipeline.geometry.flatten import flatten, flatten_chain, flatten_open
from pipeline.geometry.offset import OffsetOutline
from pipeline.geometry.regions import Region, build_polygon_from_outline, build_polygon_from_rings
from pipeline.geometry.splines import Spline
from pipeline.outputs.cut_files.cut_files import CutFiles, Side
from pipeline.outputs.cut_files.dxf.dxf_reader import ReadCurve, ReadDrawing, read_drawing
from pipeline.outputs.cut_files.dxf.entities import ROUNDING
from pipeline.outputs.cut_files.file_contents import ENGRAVE, FLOOR, GROOVE, LINE, Contour, PlacedContours

Letter = tuple[Piece, OffsetOutline | None]


class SimulatedCutFiles:
    """The simulated cut of one order's files."""

    def __init__(self, cutter: Cutter, files: CutFiles, target: FilePath) -> None:
        """target: the output folder."""
        self.cutter, self.files, self.target = cutter, files, target
        self.mm = files.order.unit.mm
        order = files.order
        self.grooves = build_order_planner(order, cutter) if cutter.cuts_grooves else None
        self._letters: dict[tuple[str, float, bool], SweptCut] = {}

    def simulate(self, plaque: Plaque) -> Plaque:
        """The plaque with overcut, undercut (mm) and uncut_area (mm²) among its figures; as it is without a file."""
        figures: list[tuple[str, float]] = []
        sides: tuple[tuple[Side, str, str], ...] = (
            ("front", plaque.cut_file, ""),
            ("back", plaque.back_file, "back_"),
        )
        for side, name, prefix in sides:
            if name:
                found = self.simulate_side(plaque, side, read_drawing(read_plain(self.target / name)))
                figures += [(prefix + word, value) for word, value in found.list_figures()]
        return replace(plaque, proved=tuple(sorted((*plaque.proved, *figures))))

    def simulate_side(self, plaque: Plaque, side: Side, drawing: ReadDrawing) -> SweptCut:
        """Simulate the cut of one side."""
        followed = _list_letters(plaque.artwork, side, "line")
        if followed:
            lines = [self._build_contour(c) for c in drawing.curves if c.layer == self.files.get_layer_name(LINE)]
            designed = [run for piece, _ in followed for run in flatten_open(piece.build_outline(), FINE)]
            own = compare_line_cut(designed, [_build_chain(c) for c in lines])
            return _choose_worse(self._simulate_engraved(plaque, side, drawing), own)
        return self._simulate_engraved(plaque, side, drawing)

    def _simulate_engraved(self, plaque: Plaque, side: Side, drawing: ReadDrawing) -> SweptCut:
        letters = _list_letters(plaque.artwork, side)
        if not letters:
            return SweptCut(overcut=0.0, undercut=0.0, uncut=0.0)
        engraved = [self._build_contour(c) for c in drawing.curves if c.layer == self.files.get_layer_name(ENGRAVE)]
        if any(piece.shape.single_line for piece, _ in letters):
            designed = [run for piece, _ in letters for run in flatten_open(piece.build_outline(), FINE)]
            return compare_line_cut(designed, [c for c in engraved if isinstance(c, Chain)])
        grooves = [c.points * self.mm for c in drawing.curves if c.layer == self.files.get_layer_name(GROOVE)]
        if self.files.matches(drawing, plaque, side) and self._floor is None:
            pieces = self.files.plan_file(plaque, side).get_layer(ENGRAVE)
            grown = {id(piece): g for piece, g in letters}
            return _combine_cuts([self._simulate_letter(p, grown.get(id(p.piece)), bool(grooves)) for p in pieces])
        art = shapely.union_all([_build_designed(piece, g) for piece, g in letters])
        cleared = [self._build_contour(c) for c in drawing.curves if c.layer == self.files.get_layer_name(FLOOR)]
        cut = self._sweep(engraved, grooves)
        if self._floor is None or self.grooves is None:
            return compare_cut(art, cut, self._compute_reached(art))
        inside = build_polygon_from_rings([_build_ring(c) for c in cleared])
        milled = find_reachable(inside, self._floor.floor.radius)
        found = compare_cut(art, shapely.union(cut, milled), self._compute_reached(art))
        floor = compare_floor_cut(art, self.grooves.finish_grooves(grooves), milled, self._floor)
        return replace(found, floor=floor.cut, floor_missed=floor.missed)

    @property
    def _floor(self) -> FloorGeometry | None:
        """Of wide strokes, where the order clears any: they are swept as they were read, a plaque at a time."""
        return self.grooves.floor if self.grooves else None

    def _simulate_letter(self, placed: PlacedContours, grown: OffsetOutline | None, by_grooves: bool) -> SweptCut:
        """Simulate what is left of one letter, of the contours or the grooves that the file has for it; places on the
        blank."""
        letter = require_value(placed.piece, "the letter of a placed outline")
        key = (letter.shape.key, placed.scale, by_grooves)
        if key not in self._letters:
            piece = Piece(shape=letter.shape, scale=placed.scale, x=0.0, y=0.0)
            art = _build_designed(piece, grown)
            grooves = self.grooves.plan_piece(piece, grown) if by_grooves and self.grooves else []
            contours = [_move_contour(c, placed.scale) for c in placed.contours]
            self._letters[key] = compare_cut(art, self._sweep(contours, grooves), self._compute_reached(art))
        found = self._letters[key]
        return replace(found, overcut_at=_put(placed, found.overcut_at), undercut_at=_put(placed, found.undercut_at))

    def _sweep(self, contours: Sequence[Contour], grooves: Sequence[Array]) -> Region:
        """Return what the cutter removes of the finished face; a V-bit along the grooves, or without any along the axis
        of the contours."""
        inside = build_polygon_from_rings([_build_ring(c) for c in contours if c.closed])
        if self.grooves is None:
            return find_reachable(inside, self.cutter.line_width / 2)
        return sweep(self.grooves.finish_grooves(grooves or self.grooves.plan_region(inside)), self.cutter)

    def _compute_reached(self, artwork: Region) -> Region:
        """Return where the cutter fits: the flat tip of a V-bit, else its whole width."""
        return find_reachable(artwork, self.cutter.line_width / 2)

    def _build_contour(self, curve: ReadCurve) -> Contour:
        points = curve.points * self.mm
        if curve.kind == "spline":
            return Spline(points, curve.degree, curve.closed)
        return Chain(np.column_stack((points, curve.bulges)), curve.closed)


def _choose_worse(one: SweptCut, other: SweptCut) -> SweptCut:
    """Choose the worse of two cuts of one side, with the uncut areas of both."""
    over = max(one, other, key=lambda c: c.overcut)
    under = max(one, other, key=lambda c: c.undercut)
    return replace(
        over,
        undercut=under.undercut,
        undercut_at=under.undercut_at,
        uncut=one.uncut + other.uncut,
    )


def _build_chain(contour: Contour) -> Chain:
    if isinstance(contour, Chain):
        return contour
    run = flatten_open(contour.to_path(), FINE)[0]
    return Chain(np.column_stack((run, np.zeros(len(run)))), closed=False)


def _list_letters(artwork: Artwork | None, side: str, cut: str = "engrave") -> list[Letter]:
    """The pieces of a side, each with what replaces its outline."""
    out: list[Letter] = []
    for line in artwork.parts if artwork else ():
        if (line.cut if isinstance(line, SetFigure) else "engrave") != cut:
            continue
        grown = iter(line.grown)
        out += [(piece, next(grown, None)) for row in line.rows for piece in row.pieces if line.side == side]
    return out


def _build_designed(piece: Piece, grown: OffsetOutline | None) -> Region:
    """The area that is to be cut: inside the outline, or inside its exact offset."""
    area = build_polygon_from_outline(piece.build_outline(), FINE)
    return area if grown is None else shapely.buffer(area, grown.by * piece.scale, quad_segs=QUARTER)


def _build_ring(contour: Contour) -> Array:
    return flatten_chain(contour, FINE) if isinstance(contour, Chain) else flatten(contour.to_path(), FINE)[0]


def _move_contour(contour: Contour, scale: float) -> Contour:
    return contour.transform(scale) if isinstance(contour, Chain) else replace(contour, control=contour.control * scale)


def _put(placed: PlacedContours, at: tuple[float, float] | None) -> tuple[float, float] | None:
    """A place of a letter drawn to size, on the blank."""
    if at is None:
        return None
    x, y = placed.place(np.array([at]) / placed.scale)[0].tolist()
    return x, y


def _combine_cuts(cuts: Sequence[SweptCut]) -> SweptCut:
    """Combine the cuts of many letters: the worst figures, with the rounding of the file's coordinates; uncut areas are
    added up."""
    over = max(cuts, key=lambda c: c.overcut, default=None)
    under = max(cuts, key=lambda c: c.undercut, default=None)
    if over is None or under is None:
        return SweptCut(overcut=0.0, undercut=0.0, uncut=0.0)
    return SweptCut(
        overcut=over.overcut + ROUNDING,
        undercut=under.undercut + ROUNDING,
        uncut=math.fsum(c.uncut for c in cuts),
        overcut_at=over.overcut_at,
        undercut_at=under.undercut_at,
    )
