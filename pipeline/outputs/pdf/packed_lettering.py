"""Lettering packed for a paper to carry, and read from there; the box round it.

Packed, each shape's outline stands once, in font units, as SVG path data (M, L, C, Z; absolute, y up). A plaque is a
list of [shape, scale, x, y, turn], mm on the blank; or of a row's number in their stead, where it says the same as on
another plaque.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterable, Sequence
from functools import lru_cache, partial
from typing import Any

import numpy as np

from pipeline.core.model import Artwork, Piece, SetRow, Shape
from pipeline.core.storage.lru_cache import LruCache
from pipeline.geometry.curves import Array, Outline, Path
from pipeline.outputs.pdf.curve_operators import Box, trace_outline

_STEP = re.compile(r"([MLCZ])([^MLCZ]*)")
_COUNT = {"M": 2, "L": 2, "C": 6, "Z": 0}


class _PathData:
    """Writes contours as path data, numbers with at most five decimals."""

    def __init__(self) -> None:
        self.parts: list[str] = []

    def _add(self, letter: str, *values: float) -> None:
        shown = [f"{value:.5f}".rstrip("0").rstrip(".") for value in values]
        self.parts.append(letter + " ".join("0" if v == "-0" else v for v in shown))

    def moveTo(self, x: float, y: float) -> None:
        self._add("M", x, y)

    def lineTo(self, x: float, y: float) -> None:
        self._add("L", x, y)

    def curveTo(self, x1: float, y1: float, x2: float, y2: float, x3: float, y3: float) -> None:
        self._add("C", x1, y1, x2, y2, x3, y3)

    def close(self) -> None:
        self._add("Z")


@lru_cache(maxsize=1024)
def write_shape_path(shape: Shape) -> str:
    """The outline of a shape as path data in font units."""
    data = _PathData()
    trace_outline(shape.outline)(data)
    return "".join(data.parts)


class LetteringPacker:
    """Packs the lettering of many plaques as JSON, each shape once and rows that come back once more."""

    def __init__(self) -> None:
        self._numbers: dict[str, int] = {}
        self.shapes: list[str] = []
        self.rows: list[str] = []
        self._texts: LruCache[str] = LruCache(64)
        self._met: LruCache[list[int]] = LruCache(
            64
        )  # by content, so that the result doesn't depend on object identity

    def pack(self, artwork: Artwork, side: str = "front") -> str:
        """The pieces of the plaque."""
        rows = [row for line in artwork.parts if line.side == side for row in line.rows if row.pieces]
        texts = (self._texts.get_or_compute(row, partial(self._pack_row, row)) for row in rows)
        return f"[{','.join(self._intern_text(text) for text in texts)}]"

    def join(self) -> str:
        """The shapes and rows the plaques name, as members of an object."""
        return f'"shapes":{json.dumps(self.shapes, separators=(",", ":"))},"rows":[{",".join(self.rows)}]'

    def _intern_text(self, text: str) -> str:
        """A row, or its number when it comes back."""
        uses = self._met.get_or_compute(text, list)
        if not uses:
            uses.append(-1)
            return text
        if uses[0] < 0:
            uses[0] = len(self.rows)
            self.rows.append(f"[{text}]")
        return str(uses[0])

    def _pack_row(self, row: SetRow) -> str:
        out = []
        for piece in row.pieces:
            turn = f",{piece.turn:.6f}" if piece.turn else ""
            out.append(f"[{self._number_shape(piece.shape)},{piece.scale:.8f},{piece.x:.4f},{piece.y:.4f}{turn}]")
        return ",".join(out)

    def _number_shape(self, shape: Shape) -> int:
        number = self._numbers.get(shape.key)
        if number is None:
            number = self._numbers[shape.key] = len(self.shapes)
            self.shapes.append(write_shape_path(shape))
        return number


class LetteringUnpacker:
    """Lettering as a paper carries it, as pieces again; each shape is read once."""

    def __init__(self, shapes: Sequence[str], rows: Sequence[Sequence[Any]]) -> None:
        self._paths, self._rows = shapes, rows
        self._shapes: dict[int, Shape] = {}

    def unpack(self, packed: Sequence[Any]) -> tuple[Piece, ...]:
        """A plaque. ValueError, IndexError or TypeError when it is not what a `LetteringPacker` writes."""
        out = []
        for each in packed:
            for index, *placed in self._rows[each] if isinstance(each, int) else (each,):
                scale, x, y, turn = (*placed, 0.0) if len(placed) == 3 else placed
                if not all(map(math.isfinite, (scale, x, y, turn))):
                    raise ValueError(f"not a place: {placed}")
                out.append(Piece(shape=self._unpack_shape(index), scale=scale, x=x, y=y, turn=turn))
        return tuple(out)

    def _unpack_shape(self, index: int) -> Shape:
        if index not in self._shapes:
            path = self._paths[index]
            outline = _unpack_outline(path)
            # the font is no longer known: only the outline is used
            self._shapes[index] = Shape(
                key=path, outline=outline, glyphs=(), units_per_em=1000, cap_units=700, single_line="Z" not in path
            )
        return self._shapes[index]


def _unpack_outline(path: str) -> Outline:
    """The contours of path data. ValueError when it is not ours."""
    contours: list[tuple[list[float], list[int], bool]] = []
    for letter, values in parse_steps(path):
        if letter == "M":
            contours.append((values, [], False))
            continue
        points, degrees, closed = contours[-1] if contours else ([], [], True)
        if closed:
            raise ValueError(f"a contour begins with M: {path[:20]!r}")
        if letter == "Z":
            contours[-1] = (points, degrees, True)
        else:
            points += values
            degrees.append(len(values) // 2)
    return tuple(Path(np.array(p).reshape(-1, 2), tuple(degrees), closed) for p, degrees, closed in contours)


def parse_steps(path: str) -> Iterable[tuple[str, list[float]]]:
    """The steps of path data. ValueError when it holds anything else than M, L, C, Z with their numbers."""
    end = 0
    for match in _STEP.finditer(path):
        if match.start() != end:
            raise ValueError(f"not path data of ours: {path[end : end + 20]!r}")
        end = match.end()
        letter, values = match[1], [float(v) for v in match[2].split()]
        if len(values) != _COUNT[letter] or not all(map(math.isfinite, values)):
            raise ValueError(f"{letter} takes {_COUNT[letter]} numbers: {match[0]!r}")
        yield letter, values
    if end != len(path):
        raise ValueError(f"not path data of ours: {path[end : end + 20]!r}")


@lru_cache(maxsize=1024)
def _list_points(shape: Shape) -> Array:
    """Every point of a shape's path data, on the curves or not, in font units: (n, 2)."""
    return np.array([v for _, values in parse_steps(write_shape_path(shape)) for v in values]).reshape(-1, 2)


@lru_cache(maxsize=1024)
def _compute_box(shape: Shape) -> Box | None:
    points = _list_points(shape)
    (x0, y0), (x1, y1) = (points.min(axis=0).tolist(), points.max(axis=0).tolist()) if len(points) else ((0, 0), (0, 0))
    return (x0, y0, x1, y1) if len(points) else None


def compute_piece_box(piece: Piece) -> Box | None:
    """The box round all points of a piece in mm, on the curves or not; None when nothing is drawn."""
    box = _compute_box(piece.shape)
    if box is None or not piece.turn:
        k, x, y = piece.scale, piece.x, piece.y
        return box and (k * box[0] + x, k * box[1] + y, k * box[2] + x, k * box[3] + y)
    c, s = piece.scale * math.cos(piece.turn), piece.scale * math.sin(piece.turn)
    points = _list_points(piece.shape) @ np.array([[c, s], [-s, c]])
    (x0, y0), (x1, y1) = points.min(axis=0).tolist(), points.max(axis=0).tolist()
    return x0 + piece.x, y0 + piece.y, x1 + piece.x, y1 + piece.y


def compute_box_round(pieces: Iterable[Piece]) -> Box | None:
    """The box round all points of pieces in mm, on the curves or not; None when nothing is drawn."""
    boxes = [box for piece in pieces if (box := compute_piece_box(piece))]
    if not boxes:
        return None
    x0, y0, x1, y1 = zip(*boxes, strict=True)
    return min(x0), min(y0), max(x1), max(y1)
