"""Contours as the text of drawing entities. Formats only; what is written where is decided in `plan`.

What does not change from place to place (kinds, layers, counts, bulges, knots) is written once per set of contours and
kept; placing it fills in handles and coordinates. The entities are those ezdxf writes, tag for tag.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from pipeline.core.storage.lru_cache import LruCache
from pipeline.core.units import UnitName, Units
from pipeline.geometry.curves import Array, Chain
from pipeline.outputs.cut_files.file_contents import Contour, PlacedContours, group_blocks, place_contours

DECIMALS: dict[UnitName, int] = {"mm": 5, "in": 7}
"""Of coordinates: steps of 10 nm, and of 2.5 nm in inch drawings."""

BULGE_DECIMALS = 9

ROUNDING: float = 1e-5
"""mm. A coordinate read back is no farther than this from the one computed."""

ROUND = 0x1000
"""Handles of a row begin at a multiple of this."""

_CLOSED, _PLANAR = 1, 8
_3D_LINE, _3D_VERTEX = 8, 32


@dataclass(frozen=True, slots=True, eq=False)
class _EntityTemplate:
    """The text of contours with %X for handles and %f for coordinates, and the places of both kinds in turn. Lines end
    with CR LF."""

    text: str
    points: Array  # (n, 2) in the contours' own unit
    counts: tuple[int, ...]  # number of points per contour
    singly: bool  # points are separate entities with handles, closed by an end entity


@dataclass(slots=True)
class EntityWriter:
    """Writes entities of one drawing version and unit. Keeps what it made of shapes it has seen."""

    version: str
    unit: UnitName
    owner: str
    names: dict[str, str]  # our layer names -> the shop's
    _kept: dict[tuple[str, tuple[str, int]], _EntityTemplate] = field(default_factory=dict)
    _rows: LruCache[tuple[str, int]] = field(default_factory=lambda: LruCache(64))

    def write(
        self,
        layers: Iterable[tuple[str, Sequence[PlacedContours]]],
        lines_by_layer: Iterable[tuple[str, Sequence[Array]]],
        handle: int,
    ) -> tuple[str, int]:
        """The entities in their order, numbered from `handle` on; also the next free handle.

        The handles of each row begin at a round number, so that a row that is the same on every plaque has the same
        text, handles and all, in every file.
        """
        texts: list[str] = []
        for layer, pieces in layers:
            for block in group_blocks(pieces):
                start = -(-handle // ROUND) * ROUND
                text, handle = self._rows.get_or_compute(
                    (layer, block, start),
                    lambda: self._write_row(layer, block, start),  # noqa: B023
                )
                texts.append(text)
        lines: list[str] = []
        values: list[float | int] = []
        for layer, line in ((layer, line) for layer, own in lines_by_layer for line in own):
            template = self._get_groove_template(layer, line)
            lines.append(template.text)
            handle = self._fill((template,), line, values, handle)
        return "".join(texts) + "".join(lines) % tuple(values), handle

    def _write_row(self, layer: str, pieces: Sequence[PlacedContours], handle: int) -> tuple[str, int]:
        templates = [self._get_template(layer, piece) for piece in pieces]
        values: list[float | int] = []
        places = place_contours(pieces, [template.points for template in templates])
        handle = self._fill(templates, places, values, handle)
        return "".join([template.text for template in templates]) % tuple(values), handle

    def _fill(self, templates: Sequence[_EntityTemplate], points: Array, values: list[float | int], handle: int) -> int:
        """Handles and coordinates (mm) in the order the templates ask for them; returns the next free handle."""
        wide = points.shape[1]
        numbers = (points / Units(self.unit).mm + 0.0).ravel().tolist()
        at = 0
        for template in templates:
            for count in template.counts:
                values.append(handle)
                handle += 1
                end = at + wide * count
                if not template.singly:
                    values += numbers[at:end]
                else:
                    for k in range(at, end, wide):
                        values.append(handle)
                        values += numbers[k : k + wide]
                        handle += 1
                    values.append(handle)
                    handle += 1
                at = end
        return handle

    def _get_template(self, layer: str, piece: PlacedContours) -> _EntityTemplate:
        if piece.key is None:
            return self._build_template(layer, piece)
        key = (layer, piece.key)
        if key not in self._kept:
            self._kept[key] = self._build_template(layer, piece)
        return self._kept[key]

    def _build_template(self, layer: str, piece: PlacedContours) -> _EntityTemplate:
        texts = [text for contour in piece.contours for text in self._write_contour(layer, contour)]
        points = [c.vertices[:, :2] if isinstance(c, Chain) else c.control for c in piece.contours]
        counts = tuple(len(p) for p in points)
        return _EntityTemplate(_join_lines("".join(texts)), np.concatenate(points), counts, self.version == "R12")

    # --- kinds of entity ---

    @property
    def _xy(self) -> str:
        decimals = DECIMALS[self.unit]
        return f" 10\n%.{decimals}f\n 20\n%.{decimals}f\n"

    def _write_head(self, kind: str, layer: str, subclass: str) -> str:
        name = self.names[layer].replace("%", "%%")
        if self.version == "R12":
            return f"  0\n{kind}\n  5\n%X\n  8\n{name}\n"
        head = f"  0\n{kind}\n  5\n%X\n330\n{self.owner}\n100\nAcDbEntity\n  8\n{name}\n"
        return head + (f"100\n{subclass}\n" if subclass else "")

    def _write_contour(self, layer: str, contour: Contour) -> Iterator[str]:
        if not isinstance(contour, Chain):
            spline = contour
            flags = _PLANAR + (_CLOSED if spline.closed else 0)
            knots = spline.knots
            yield self._write_head("SPLINE", layer, "AcDbSpline")
            yield f"210\n0.0\n220\n0.0\n230\n1.0\n 70\n{flags}\n 71\n{spline.degree}\n 72\n{len(knots)}\n"
            yield f" 73\n{len(spline.control)}\n 74\n0\n"
            yield "".join(f" 40\n{knot}\n" for knot in knots)
            yield f"{self._xy} 30\n0.0\n" * len(spline.control)
            return
        bulges = contour.vertices[:, 2].tolist()
        if self.version == "R12":
            yield self._write_head("POLYLINE", layer, "")
            yield f" 66\n1\n 10\n0.0\n 20\n0.0\n 30\n0.0\n 70\n{int(contour.closed)}\n"
            for bulge in bulges:
                yield f"{self._write_head('VERTEX', layer, '')}{self._xy} 30\n0.0\n{_format_bulge(bulge)} 70\n0\n"
            yield self._write_head("SEQEND", layer, "")
            return
        yield self._write_head("LWPOLYLINE", layer, "AcDbPolyline")
        yield f" 90\n{len(bulges)}\n 70\n{int(contour.closed)}\n"
        yield "".join(self._xy + _format_bulge(bulge) for bulge in bulges)

    def _get_groove_template(self, layer: str, line: Array) -> _EntityTemplate:
        """A 3-D polyline: x, y and the depth as z, below the face negative."""
        xyz = f"{self._xy} 30\n%.{DECIMALS[self.unit]}f\n"
        old = self.version == "R12"
        marks = "" if old else "100\nAcDbVertex\n100\nAcDb3dPolylineVertex\n"
        text = self._write_head("POLYLINE", layer, "AcDb3dPolyline")
        text += f" 66\n1\n 10\n0.0\n 20\n0.0\n 30\n0.0\n 70\n{_3D_LINE}\n"
        text += f"{self._write_head('VERTEX', layer, '')}{marks}{xyz} 70\n{_3D_VERTEX}\n" * len(line)
        text += self._write_head("SEQEND", layer, "")
        return _EntityTemplate(_join_lines(text), line, (len(line),), singly=True)


def _join_lines(text: str) -> str:
    return text.replace("\n", "\r\n")


def _format_bulge(bulge: float) -> str:
    """Group 42, left out for a straight stretch."""
    number = f"{bulge:.{BULGE_DECIMALS}f}".rstrip("0")
    return "" if float(number) == 0 else f" 42\n{number}\n"
