"""The simulated cut of a plaque's files: what is read back from the disk, swept by the order's cutter, against the
artwork. See cutting.simulate for the words.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path as FilePath

import numpy as np
import shapely

from pipeline.core.model import Piece, Plaque, SetLine
from pipeline.cutting.cutters import Cutter
from pipeline.cutting.grooves import Grooves
from pipeline.cutting.simulate import FINE, Cut, compare, compare_lines, fits_bit, reachable, swept
from pipeline.geometry.curves import Array, Chain, Path
from pipeline.geometry.flatten import flatten, flatten_chain, strokes
from pipeline.geometry.regions import Region, chain_polygon, polygon_of, polygon_of_rings
from pipeline.outputs.read_back import Contour, read_back

KEPT_TO = 1e-4
"""mm. Parts of a file this much alike, wherever they stand, are swept once."""


class Simulated:
    """The simulated cut of one order's files."""

    def __init__(self, cutter: Cutter, *, tolerance: float, mm: float, layer: str, target: FilePath) -> None:
        """tolerance: of the files' curves, mm. mm: in one unit of the files. layer: the engraving's name there."""
        self.cutter, self.mm, self.layer, self.target = cutter, mm, layer, target
        self.grooves = Grooves(cutter, tolerance) if cutter.slope else None
        self._swept: dict[bytes, Region] = {}

    def of(self, plaque: Plaque) -> Plaque:
        """The plaque with overcut, undercut (mm) and uncut_area (mm²) among its figures; as it is without a file."""
        figures: list[tuple[str, float]] = []
        for side, name, prefix in (("front", plaque.cut_file, ""), ("back", plaque.back_file, "back_")):
            if name:
                found = self.cut(plaque, side, read_back(self.target / name).contours)
                figures += [(prefix + word, value) for word, value in found.words()]
        return replace(plaque, proved=tuple(sorted((*plaque.proved, *figures))))

    def cut(self, plaque: Plaque, side: str, contours: Sequence[Contour]) -> Cut:
        """What the cutter leaves on one side."""
        lines = [line for line in plaque.artwork.lines if line.side == side] if plaque.artwork else []
        engraved = [c for c in contours if c.layer == self.layer]
        pieces = [(line, k, p) for line in lines for k, p in enumerate(p for row in line.rows for p in row.pieces)]
        if any(p.shape.single_line for _, _, p in pieces):
            designed = [run for _, _, p in pieces for run in strokes(p.outline(), FINE)]
            return compare_lines(designed, [self._chain(c) for c in engraved])
        artwork = shapely.union_all([_designed(line, k, piece) for line, k, piece in pieces])
        parts = shapely.get_parts(polygon_of_rings([self._ring(c) for c in engraved if c.closed]))
        if self.grooves is None:
            radius = self.cutter.line_width / 2
            return compare(artwork, reachable(shapely.union_all(parts), radius), reachable(artwork, radius))
        cut = shapely.union_all([self._part(part, self.grooves) for part in parts])
        return compare(artwork, cut, fits_bit(artwork, self.cutter))

    def _part(self, part: Region, grooves: Grooves) -> Region:
        """What the bit sweeps for one part of the lettering; parts that are alike are swept once."""
        low = np.array(part.bounds[:2])
        there = shapely.transform(part, lambda p: p - low)
        key = np.rint(shapely.get_coordinates(there) / KEPT_TO).astype(np.int64).tobytes()
        if key not in self._swept:
            self._swept[key] = swept(grooves.of_region(there), self.cutter)
        return shapely.transform(self._swept[key], lambda p: p + low)

    def _ring(self, contour: Contour) -> Array:
        if contour.points.shape[1] == 2:  # control points of cubic curves end to end
            count = (len(contour.points) - 1) // 3
            return flatten(Path(contour.points * self.mm, (3,) * count), FINE)[0]
        return flatten_chain(self._chain(contour), FINE)

    def _chain(self, contour: Contour) -> Chain:
        vertices = np.column_stack((contour.points[:, :2] * self.mm, contour.points[:, 2]))
        return Chain(vertices, contour.closed)


def _designed(line: SetLine, k: int, piece: Piece) -> Region:
    """The area that is to be cut: the outline, or what it was grown to."""
    return chain_polygon(line.grown[k], FINE) if line.grown else polygon_of(piece.outline(), FINE)
