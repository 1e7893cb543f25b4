"""Lettering as text: SVG path data (M, L, C, Z; absolute; mm on the blank, y up), and packed for a paper to carry.

Packed, each shape's outline stands once, in font units, and a plaque is a list of [shape, scale, x, y, turn]; or of a
row's number in their stead, where it says the same as on the plaque before.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from typing import Any

import numpy as np

from pipeline.core.model import Artwork, Piece, SetRow, Shape
from pipeline.core.recent import Recent
from pipeline.geometry.curves import Array
from pipeline.outputs.paper.curves import number, path_ops

Box = tuple[float, float, float, float]
_STEP = re.compile(r"([MLCZ])([^MLCZ]*)")
_COUNT = {"M": 2, "L": 2, "C": 6, "Z": 0}
_LETTERS = {"m": "M", "l": "L", "c": "C", "h": "Z"}


@lru_cache(maxsize=1024)
def shape_ops(shape: Shape) -> str:
    """The outline of a shape as PDF operators in font units: a paper draws it, and carries it as path data."""
    return path_ops(shape.outline)


def shape_path(shape: Shape) -> str:
    """The outline of a shape as path data in font units."""
    out = ""
    for row in shape_ops(shape).splitlines():
        *numbers, operator = row.split()
        out += _LETTERS[operator] + " ".join(numbers)
    return out


class Packer:
    """Packs the lettering of many plaques as JSON, each shape once and rows that come back once more."""

    def __init__(self) -> None:
        self._numbers: dict[str, int] = {}
        self.shapes: list[str] = []
        self.rows: list[str] = []
        self._texts: Recent[str] = Recent(64)
        self._met: Recent[list[int]] = Recent(64)  # by what is written: what is packed does not depend on who made it

    def pack(self, artwork: Artwork, side: str = "front") -> str:
        """The pieces of the plaque."""
        rows = [row for line in artwork.lines if line.side == side for row in line.rows if row.pieces]
        return f"[{','.join([self._again(self._texts.of(row, lambda: self._row(row))) for row in rows])}]"  # noqa: B023

    def packed(self) -> str:
        """The shapes and rows the plaques name, as members of an object."""
        return f'"shapes":{json.dumps(self.shapes, separators=(",", ":"))},"rows":[{",".join(self.rows)}]'

    def _again(self, text: str) -> str:
        """A row, or its number when it comes back."""
        uses = self._met.of(text, list)
        if not uses:
            uses.append(-1)
            return text
        if uses[0] < 0:
            uses[0] = len(self.rows)
            self.rows.append(f"[{text}]")
        return str(uses[0])

    def _row(self, row: SetRow) -> str:
        out = []
        for piece in row.pieces:
            turn = f",{piece.turn:.6f}" if piece.turn else ""
            out.append(f"[{self._number(piece.shape)},{piece.scale:.8f},{piece.x:.4f},{piece.y:.4f}{turn}]")
        return ",".join(out)

    def _number(self, shape: Shape) -> int:
        number = self._numbers.get(shape.key)
        if number is None:
            number = self._numbers[shape.key] = len(self.shapes)
            self.shapes.append(shape_path(shape))
        return number


def unpack(packed: Mapping[str, Any], pieces: Sequence[Any]) -> str:
    """Path data in mm of a packed plaque. packed: with the shapes and rows it names. KeyError, ValueError, IndexError
    or TypeError when it is not one."""
    out, shapes = [], packed["shapes"]
    for each in pieces:
        for index, scale, x, y, *turned in packed["rows"][each] if isinstance(each, int) else (each,):
            turn = turned[0] if turned else 0.0
            c, s = scale * math.cos(turn), scale * math.sin(turn)
            for letter, values in _known_steps(shapes[int(index)]):
                points = zip(values[::2], values[1::2], strict=True)
                moved = [v for px, py in points for v in (c * px - s * py + x, s * px + c * py + y)]
                out.append(letter + " ".join(number(round(v, 4)) for v in moved))
    return "".join(out)


@lru_cache(maxsize=1024)
def _known_steps(path: str) -> tuple[tuple[str, list[float]], ...]:
    """The steps of a shape, read once for all its places."""
    return tuple(steps(path))


def steps(path: str) -> Iterable[tuple[str, list[float]]]:
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


def to_ops(path: str) -> str:
    """Path data as PDF operators."""
    operators = {letter: operator for operator, letter in _LETTERS.items()}
    return "\n".join(" ".join([*(number(v) for v in values), operators[letter]]) for letter, values in steps(path))


def box_of(path: str) -> Box | None:
    """The box round all points of path data, on the curves or not; None when nothing is drawn."""
    xs: list[float] = []
    ys: list[float] = []
    for _, values in steps(path):
        xs += values[::2]
        ys += values[1::2]
    return (min(xs), min(ys), max(xs), max(ys)) if xs else None


@lru_cache(maxsize=1024)
def _points(shape: Shape) -> Array:
    """Every point of a shape's path data, on the curves or not, in font units: (n, 2)."""
    return np.array([v for _, values in steps(shape_path(shape)) for v in values]).reshape(-1, 2)


@lru_cache(maxsize=1024)
def _box(shape: Shape) -> Box | None:
    points = _points(shape)
    (x0, y0), (x1, y1) = (points.min(axis=0).tolist(), points.max(axis=0).tolist()) if len(points) else ((0, 0), (0, 0))
    return (x0, y0, x1, y1) if len(points) else None


def piece_box(piece: Piece) -> Box | None:
    """The box round all points of a piece in mm, on the curves or not; None when nothing is drawn."""
    box = _box(piece.shape)
    if box is None or not piece.turn:
        k, x, y = piece.scale, piece.x, piece.y
        return box and (k * box[0] + x, k * box[1] + y, k * box[2] + x, k * box[3] + y)
    c, s = piece.scale * math.cos(piece.turn), piece.scale * math.sin(piece.turn)
    points = _points(piece.shape) @ np.array([[c, s], [-s, c]])
    (x0, y0), (x1, y1) = points.min(axis=0).tolist(), points.max(axis=0).tolist()
    return x0 + piece.x, y0 + piece.y, x1 + piece.x, y1 + piece.y


def lettering_box(artwork: Artwork, side: str = "front") -> Box | None:
    """The box round the lettering of one side: `box_of` of its path data, without writing that."""
    boxes = [box for piece in artwork.pieces(side) if (box := piece_box(piece))]
    if not boxes:
        return None
    x0, y0, x1, y1 = zip(*boxes, strict=True)
    return min(x0), min(y0), max(x1), max(y1)


def artwork_path(artwork: Artwork, side: str = "front") -> str:
    """The lettering of one side as path data in mm."""
    packer = Packer()
    pieces = packer.pack(artwork, side)
    return unpack(json.loads(f"{{{packer.packed()}}}"), json.loads(pieces))
