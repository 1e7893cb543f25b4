"""Verification that an SVG or PDF file, read back, has the curves of the cut file: size, groups, contours, closedness,
and where each stretch ends and is half-way.

What was read is held against the contours' own places, worked out here a second time with complex numbers: the place at
part f of an arc of angle a from p to q is p + (q - p) (e^(iaf) - 1) / (e^(ia) - 1).
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.curves import Chain
from pipeline.outputs.cut_files.dxf.entities import BULGE_DECIMALS
from pipeline.outputs.cut_files.dxf.verify import ArtworkDiffers
from pipeline.outputs.cut_files.file_contents import Contour, FileContents, PlacedContours
from pipeline.outputs.cut_files.vector.segments import LONGEST_ARC, LONGEST_CUBIC
from pipeline.outputs.cut_files.vector.vector_paths import Kind, list_drawn_layers
from pipeline.outputs.cut_files.vector.vector_reader import ReadPath, ReadVectorFile

ROUNDING = 3e-4
"""mm. What was read is no farther than this from what was computed: coordinates and radii in steps of 0.1 µm."""


@dataclass(slots=True)
class VectorVerifier:
    """Judges files of one kind of an order. Keeps what it worked out of letters it has seen."""

    kind: Kind
    size: tuple[float, float]  # of the blank, mm
    names: Mapping[str, str]  # our layer names -> the shop's
    _kept: dict[tuple[str, int], list[NDArray[np.complex128]]] = field(default_factory=dict)

    def verify(self, read: ReadVectorFile, plan: FileContents, fingerprint: str) -> float:
        """The farthest the file lies from the cut file's curves, mm. Differs when it is not the same drawing."""
        if max(abs(a - b) for a, b in zip(read.size, self.size, strict=True)) > ROUNDING:
            raise ArtworkDiffers(
                f"it is {read.size[0]:.4f} × {read.size[1]:.4f} mm, not {self.size[0]:g} × {self.size[1]:g}"
            )
        if read.fingerprint != fingerprint:
            raise ArtworkDiffers(f"its fingerprint is {read.fingerprint or 'not given'}, not {fingerprint}")
        groups: dict[str, list[ReadPath]] = {}
        for path in read.paths:
            groups.setdefault(path.layer, []).append(path)
        wanted = list_drawn_layers(plan)
        if list(read.names) != [self._name_group(k, layer) for k, (layer, _) in enumerate(wanted)]:
            raise ArtworkDiffers(f"its groups are {', '.join(read.names) or 'missing'}")
        off = 0.0
        for number, (layer, pieces) in enumerate(wanted):
            group = self._name_group(number, layer)
            if read.names[group] != self.names[layer]:
                raise ArtworkDiffers(f"group {group} is called “{read.names[group]}”, not “{self.names[layer]}”")
            off = max(off, self._compare(groups.get(group, []), pieces, layer))
        return off

    def _name_group(self, number: int, layer: str) -> str:
        return layer if self.kind == "svg" else f"L{number}"

    def _compare(self, found: Sequence[ReadPath], pieces: Sequence[PlacedContours], layer: str) -> float:
        contours = [contour for piece in pieces for contour in piece.contours]
        if len(found) != len(contours):
            raise ArtworkDiffers(f"{len(found)} contours on {layer} instead of {len(contours)}")
        places = [place for piece in pieces for place in self._list_places(piece)]
        off = 0.0
        for number, (read, contour, place) in enumerate(zip(found, contours, places, strict=True), 1):
            if read.closed != contour.closed:
                raise ArtworkDiffers(f"contour {number} on {layer} is {'closed' if read.closed else 'open'}")
            if len(read.through) != len(place):
                raise ArtworkDiffers(
                    f"contour {number} on {layer} has {len(read.through) // 2} stretches, not {len(place) // 2}"
                )
            off = max(off, float(np.abs(np.array(read.through) - place).max()))
        if not off <= ROUNDING:
            raise ArtworkDiffers(f"a contour on {layer} is {off:.4f} mm out of place")
        return off

    def _list_places(self, piece: PlacedContours) -> list[NDArray[np.complex128]]:
        kept = self._kept.get(piece.key) if piece.key else None
        if kept is None:
            kept = [self._sample_contour(contour) for contour in piece.contours]
            if piece.key:
                self._kept[piece.key] = kept
        turned = piece.scale * cmath.exp(1j * piece.turn)
        return [through * turned + complex(piece.x, piece.y) for through in kept]

    def _sample_contour(self, contour: Contour) -> NDArray[np.complex128]:
        """The first point, then half-way along and the end of every stretch, in the contour's unit."""
        out: list[complex] = []
        if not isinstance(contour, Chain):
            cubics = (contour.to_cubics() @ np.array([1, 1j])).tolist()
            for k in range(0, len(cubics) - 3, 3):
                p, one, two, q = cubics[k : k + 4]
                out += [p / 8 + one * 3 / 8 + two * 3 / 8 + q / 8, q]
            return np.array([cubics[0], *out])
        points = (contour.vertices[:, :2] @ np.array([1, 1j])).tolist()
        ends = points[1:] + points[:1] if contour.closed else points[1:]
        longest = LONGEST_ARC if self.kind == "svg" else LONGEST_CUBIC
        for p, q, bulge in zip(points, ends, contour.vertices[:, 2].tolist(), strict=False):
            if round(bulge, BULGE_DECIMALS) == 0:
                out += [(p + q) / 2, q]
                continue
            angle = 4 * math.atan(bulge)
            parts = 2 * max(1, math.ceil(abs(angle) / longest - 1e-9))
            for k in range(1, parts + 1):
                out.append(p + (q - p) * (cmath.exp(1j * angle * k / parts) - 1) / (cmath.exp(1j * angle) - 1))
        return np.array([points[0], *out])
