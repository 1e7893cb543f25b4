"""Pages that show faces: the shelf, each face with what has to be known of it; or faces beside a wanted one.

Lettering comes in already set, as rows in font units; nothing is set here but the words of the page.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.core.model import Piece, ShapedRow
from pipeline.outputs.pdf.canvas import PaperCanvas
from pipeline.outputs.pdf.curve_operators import PathPen
from pipeline.outputs.pdf.font_fallback import RepeatedLettering
from pipeline.outputs.pdf.fonts import SERIF
from pipeline.outputs.pdf.metadata import DocumentInfo
from pipeline.outputs.pdf.text_style import PAPERS, TextStyle, parse_colour

INK, GREY, RULE = parse_colour("#1B2A33"), parse_colour("#5B6770"), parse_colour("#C9CFD3")
_TITLE, _NAME, _SMALL = TextStyle(20, INK, SERIF), TextStyle(12, INK, SERIF), TextStyle(8.5, GREY)
_EDGE = 16.0  # mm, margin of the page
_POINT = 0.25  # mm, line width for single-line letters

FIRST_CAP, NEXT_CAP = 8.0, 4.5
"""mm: cap height of a face's first sample row and of the others, where they fit."""

LARGEST_ALIKE = 7.0
"""mm: the cap height faces are compared at, or what lets the widest fit."""


Foreign = Sequence[tuple[str, ShapedRow]]
"""Words of other scripts that stand in the notes, set to be drawn there."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FaceSample:
    """One face as the sheet shows it."""

    name: str
    notes: tuple[str, ...]  # lines of text under the name
    rows: tuple[ShapedRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WantedFace:
    """The lettering that faces are compared with: a set row, or a picture's ink (rows from the top)."""

    name: str
    row: ShapedRow | None = None
    ink: NDArray[np.bool_] | None = None


def write_face_sheet(samples: Sequence[FaceSample], title: str, foreign: Foreign = (), paper: str = "A4") -> bytes:
    """The shelf as PDF pages. Equal input gives equal bytes."""
    pen = PaperCanvas(*PAPERS[paper])
    sheet = _FacePages(pen, title, foreign)
    for sample in samples:
        caps = [
            _fit_cap_height(row, FIRST_CAP if i == 0 else NEXT_CAP, sheet.room) for i, row in enumerate(sample.rows)
        ]
        heights = [cap * _measure_height(row) for row, cap in zip(sample.rows, caps, strict=True)]
        sheet.ensure_room(11 + len(sample.notes) * _SMALL.line + sum(heights) + 4 * (len(heights) - 1))
        sheet.draw_rule()
        sheet.draw_text(sample.name, _NAME)
        for note in sample.notes:
            sheet.draw_text(note, _SMALL)
        for row, cap in zip(sample.rows, caps, strict=True):
            sheet.draw_row(row, cap)
        sheet.y -= 6
    return pen.finish(DocumentInfo(title=title, author=""))


def write_alike_sheet(
    wanted: WantedFace, samples: Sequence[FaceSample], title: str, foreign: Foreign = (), paper: str = "A4"
) -> bytes:
    """A wanted face or picture, and the faces ranked by likeness under it, all at one cap height."""
    pen = PaperCanvas(*PAPERS[paper])
    sheet = _FacePages(pen, title, foreign)
    rows = [sample.rows[0] for sample in samples if sample.rows] + ([wanted.row] if wanted.row else [])
    cap = min((_fit_cap_height(row, LARGEST_ALIKE, sheet.room) for row in rows), default=LARGEST_ALIKE)
    sheet.draw_text(wanted.name, _NAME)
    if wanted.row is not None:
        sheet.draw_row(wanted.row, cap)
    elif wanted.ink is not None and samples and samples[0].rows:
        sheet.draw_picture(wanted.ink, cap * _measure_height(samples[0].rows[0]))
    sheet.y -= 4
    for sample in samples:
        tall = sum(cap * _measure_height(row) for row in sample.rows)
        sheet.ensure_room(9 + len(sample.notes) * _SMALL.line + tall + 8)
        sheet.draw_rule()
        sheet.draw_text(sample.name, _NAME)
        for note in sample.notes:
            sheet.draw_text(note, _SMALL)
        for row in sample.rows:
            sheet.draw_row(row, cap)
        sheet.y -= 4
    return pen.finish(DocumentInfo(title=title, author=""))


class _FacePages:
    """Pages filled from the top, turned when the next thing does not fit."""

    def __init__(self, pen: PaperCanvas, title: str, foreign: Foreign) -> None:
        self.pen = pen
        self.room = pen.width - 2 * _EDGE
        for text, row in foreign:
            pen.foreign[text] = RepeatedLettering.from_shaped(row)
        self.y, self.page, self.title = 0.0, 0, title
        self._begin_page()
        self.draw_text(title, _TITLE)
        self.y -= 3

    def _begin_page(self) -> None:
        self.pen.begin_page()
        self.page += 1
        self.pen.draw_text(_EDGE, _EDGE / 2, self.title, _SMALL)
        self.pen.draw_text(_EDGE + self.room, _EDGE / 2, f"page {self.page}", _SMALL, "right")
        self.y = self.pen.height - _EDGE - 4

    def ensure_room(self, height: float) -> None:
        if self.y - height < _EDGE:
            self.pen.turn_page()
            self._begin_page()

    def draw_rule(self) -> None:
        self.pen.draw_line(_EDGE, self.y, _EDGE + self.room, self.y, RULE)
        self.y -= 6

    def draw_text(self, words: str, style: TextStyle) -> None:
        for line in self.pen.wrap(words, style, self.room):
            self.pen.draw_text(_EDGE, self.y, line, style)
            self.y -= style.line

    def draw_row(self, row: ShapedRow, cap: float) -> None:
        """A set row at this cap height (mm), its ink's top here, moved right by what hangs out to the left."""
        if row.ink is None:
            return
        unit = cap / row.cap_units
        x0, y0, _, y1 = row.ink
        base = self.y - y1 * unit
        with self.pen.save_state():
            self.pen.set_round_ink(INK, _POINT)
            for placed in row.shapes:
                x, y = _EDGE + (placed.x - x0) * unit, base + placed.y * unit
                self.pen.draw_piece(Piece(shape=placed.shape, scale=placed.scale * unit, x=x, y=y), _POINT)
        self.y = base + y0 * unit - 4

    def draw_picture(self, ink: NDArray[np.bool_], height: float) -> None:
        """A picture's ink, this high (mm) or as wide as the room."""
        step = min(height / ink.shape[0], self.room / ink.shape[1])
        top = self.y + 2
        padded = np.zeros((ink.shape[0], ink.shape[1] + 2), dtype=np.int8)
        padded[:, 1:-1] = ink

        def trace(pen: PathPen) -> None:
            for line, change in enumerate(np.diff(padded, axis=1)):
                starts, ends = np.nonzero(change == 1)[0], np.nonzero(change == -1)[0]
                low, high = top - (line + 1) * step, top - line * step
                for a, b in zip(starts.tolist(), ends.tolist(), strict=True):
                    left, right = _EDGE + a * step, _EDGE + b * step
                    pen.moveTo(left, low)
                    for corner in ((right, low), (right, high), (left, high)):
                        pen.lineTo(*corner)
                    pen.close()

        if ink.any():
            self.pen.draw(trace, fill=INK)
        self.y = top - ink.shape[0] * step - 4


def _fit_cap_height(row: ShapedRow, cap: float, room: float) -> float:
    if row.ink is None:
        return cap
    return min(cap, room * row.cap_units / max(row.ink[2] - row.ink[0], 1e-9))


def _measure_height(row: ShapedRow) -> float:
    return (row.ink[3] - row.ink[1]) / row.cap_units if row.ink else 0.0
