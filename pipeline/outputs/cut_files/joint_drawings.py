"""Drawings of several pieces at once, of a board or a jig load: written whole, read back, and only then called good.

Written and held against what they should be as a plaque's own file is, from the same placed letters.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from pipeline.core.errors import CannotRun, Fault
from pipeline.core.list_row import ListRow
from pipeline.core.model import Outcome
from pipeline.core.storage.files import read_plain
from pipeline.geometry.curves import Array
from pipeline.outputs.cut_files.cut_files import CutFiles, Side
from pipeline.outputs.cut_files.dxf.dxf_reader import UnreadableDrawing, read_drawing
from pipeline.outputs.cut_files.dxf.entities import EntityWriter
from pipeline.outputs.cut_files.dxf.template import DrawingTemplate, join_in_one_line, list_unit_variables
from pipeline.outputs.cut_files.dxf.template_cache import get_drawing_template
from pipeline.outputs.cut_files.dxf.verify import ArtworkDiffers, ExpectedContents, verify_drawing
from pipeline.outputs.cut_files.file_contents import FileContents, PlacedContours
from pipeline.outputs.cut_files.manifest import Manifest
from pipeline.outputs.row_totals import describe_part

Placing = tuple[float, float, float]
"""Turn in radians, then dx and dy in mm."""


@dataclass(frozen=True, slots=True, kw_only=True)
class JointSheet:
    """The sheet that a drawing of several pieces shows. number: of the board or the load. extent: its size, corner: its
    lower left, both mm. seen: from which side, in words."""

    kind: str  # "Board" or "Jig load", as in the drawing's properties
    number: int
    side: Side
    extent: tuple[float, float]
    corner: tuple[float, float]
    seen: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenDrawings:
    """The drawings that were written: names below the output folder, and remarks on those that were not."""

    names: tuple[str, ...] = ()
    backs: int = 0  # how many of them are backs
    said: tuple[str, ...] = ()


class JointDrawings:
    """The drawings of one folder of one order."""

    def __init__(self, folder: str, layers: Sequence[str], outcome: Outcome, target: Path, files: CutFiles) -> None:
        """folder: below the output folder `target`. layers: of the drawings, reference last. files: the order's cut
        files."""
        self.folder, self.layers, self.files, self.part = folder, tuple(layers), files, describe_part(outcome)
        self.by_row = {p.recipient.row: p for p in outcome.plaques}
        self.manifest = Manifest(target / folder, files.code, files.order.title)
        part = files.order.files
        names = {ours: part.layers.get(ours, ours) for ours in layers}
        self.expected = ExpectedContents(part.version, files.unit, names, part.tolerance)
        self._begun = False
        self._frames: dict[tuple[str, Side, tuple[float, ...], tuple[str, ...]], DrawingTemplate] = {}
        self._entities: dict[tuple[Side, str], EntityWriter] = {}
        self._plans: dict[tuple[ListRow, Side], FileContents] = {}

    def plan_drawing(self, row: ListRow, side: Side) -> FileContents | None:
        """Plan what the own drawing of this row's plaque holds; None where nothing is lettered on that side."""
        plaque = self.by_row[row]
        if side not in self.files.list_sides(plaque):
            return None
        if (row, side) not in self._plans:
            self._plans[row, side] = self.files.plan_file(plaque, side)
        return self._plans[row, side]

    def format_name(self, word: str, number: int, count: int, side: Side) -> str:
        """Name one of `count` drawings, “board-07-back.dxf”; R12 has no place for the unit, so its name has it."""
        words = [word, f"{number:0{len(str(count))}d}", *(["back"] if side == "back" else [])]
        return f"{'-'.join([*words, *([self.files.unit] if self.expected.version == 'R12' else [])])}.dxf"

    def make(self, name: str, drawn: FileContents, sheet: JointSheet, comments: Sequence[str]) -> str:
        """Writes one drawing, reads it back, and gives its name once it is what it should be. CannotRun when it is
        not, or cannot be written. comments: after those every drawing has."""
        self._begin()
        self.manifest.add(name, self._write_bytes(drawn, sheet, comments))
        try:
            verify_drawing(read_drawing(read_plain(self.manifest.folder / name)), drawn, self.expected)
        except (OSError, UnreadableDrawing, ArtworkDiffers) as error:
            self.manifest.remove(name)
            raise CannotRun(
                Fault(
                    where=f"{self.folder}/{name}",
                    found=f"read back, it is not what it should be: {error}",
                    expected="the lettering and outlines of its plaques",
                    remedy="run again; if it stays so, look whether another program writes to this folder",
                )
            ) from None
        return name

    def finish(self, names: Sequence[str]) -> tuple[str, ...]:
        """Takes away what earlier runs wrote and this one did not. Names below the output folder."""
        if names or self.manifest.check() is not None:
            self._begin()
            self.manifest.finish(names)
        if not names:
            self.manifest.dissolve()
        return tuple(f"{self.folder}/{name}" for name in names)

    def _begin(self) -> None:
        """Files of earlier runs that somebody changed are put aside, once."""
        if not self._begun:
            self.manifest.begin()
            self._begun = True

    def _write_bytes(self, drawn: FileContents, sheet: JointSheet, comments: Sequence[str]) -> bytes:
        used = {layer for layer, _ in drawn.layers} | {layer for layer, _ in drawn.lines}
        frame = self._get_template(sheet, tuple(layer for layer in self.layers if layer in used))
        entities = self._entities.setdefault(
            (sheet.side, frame.owner),
            EntityWriter(self.expected.version, self.files.unit, frame.owner, self.expected.names),
        )
        text, handle = entities.write(drawn.layers, drawn.lines, frame.first_handle)
        return frame.render([*self._list_comments(sheet), *comments], [str(sheet.number)], text, handle)

    def _get_template(self, sheet: JointSheet, layers: tuple[str, ...]) -> DrawingTemplate:
        key = (sheet.kind, sheet.side, (*sheet.extent, *sheet.corner), layers)
        if key not in self._frames:
            order, one = self.files.order, self.files.order.unit.mm
            (width, height), (x, y) = sheet.extent, sheet.corner
            self._frames[key] = get_drawing_template(
                self.expected.version,
                self.files.unit,
                (width / one, height / one),
                [(layer, self.expected.names[layer]) for layer in layers],
                {
                    sheet.kind: None,
                    "Order": self.files.code,
                    "Title": order.title,
                    "Client": order.client,
                    "Side": sheet.seen,
                    "Tool": f"plaques {self.files.tool_version}",
                },
                corner=(x / one, y / one),
                cache=self.files.cache,
            )
        return self._frames[key]

    def _list_comments(self, sheet: JointSheet) -> list[str]:
        """Comments: what this is."""
        order = self.files.order
        what = f"{sheet.kind.lower()} {sheet.number}, order {self.files.code}, {sheet.seen}"
        return [
            f"plaques {self.files.tool_version}: {what}",
            *list_unit_variables(order.unit.name, self.expected.version),
            join_in_one_line(f"{order.title}, {order.client}"),
            *([self.part] if self.part else []),
        ]


def place_piece(piece: PlacedContours, by: Placing) -> PlacedContours:
    """A piece of the blank in its place among others."""
    turn, dx, dy = by
    c, s = math.cos(turn), math.sin(turn)
    return replace(
        piece,
        x=c * piece.x - s * piece.y + dx,
        y=s * piece.x + c * piece.y + dy,
        turn=piece.turn + turn,
    )


def place_groove(line: Array, by: Placing) -> Array:
    """A groove's centre line, x, y and depth, in its place among others."""
    turn, dx, dy = by
    c, s = math.cos(turn), math.sin(turn)
    return np.column_stack((line[:, :2] @ np.array([[c, s], [-s, c]]) + (dx, dy), line[:, 2]))
