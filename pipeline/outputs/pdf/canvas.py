"""A pen that draws on PDF pages in millimetres, y up, origin at the page's lower left.

The drawing library's canvas does the writing. Every page is scaled once, so a drawing of a plaque at true size carries
the artwork's own numbers. Drawings that come back (a letter, the blank) are forms: drawn once, placed often.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from io import BytesIO
from typing import Any, Literal

from pipeline.core.model import Piece, SetRow, Shape
from pipeline.core.printable import make_printable
from pipeline.outputs.pdf import fonts
from pipeline.outputs.pdf.curve_operators import Box, Trace, trace_outline, trace_rounded
from pipeline.outputs.pdf.font_fallback import HELD, RepeatedLettering, spell_out, split_by_font
from pipeline.outputs.pdf.fonts import PT, SANS
from pipeline.outputs.pdf.form_fields import PdfField
from pipeline.outputs.pdf.invisible_text import SANS_CAP as CAP
from pipeline.outputs.pdf.invisible_text import build_invisible_layer
from pipeline.outputs.pdf.metadata import DocumentInfo, finish_document
from pipeline.outputs.pdf.text_style import Colour, TextStyle

Align = Literal["left", "centre", "right"]
Matrix = tuple[float, float, float, float, float, float]
_UNIT = 0.01
"""Of the drawing of a letter, in font units: its matrix is then near 1, which the library writes to six decimals."""


def convert_to_points(box: Box) -> tuple[float, float, float, float]:
    """x, y, width, height in mm as the corners of a rectangle in points, to the thousandth."""
    x, y, wide, high = (v / PT for v in box)
    return round(x, 3), round(y, 3), round(x + wide, 3), round(y + high, 3)


def build_move(x: float, y: float, scale: float = 1.0) -> Matrix:
    """The matrix that scales and then moves."""
    return (scale, 0.0, 0.0, scale, x, y)


@dataclass(slots=True)
class PaperCanvas:
    """Draws a document page after page. Pages count from 1."""

    width: float
    height: float
    foreign: dict[str, RepeatedLettering] = field(
        default_factory=dict
    )  # text that the text font doesn't cover -> how it is drawn
    language: str = "en"
    canvas: Any = field(init=False)
    _on_page: bool = False
    _marks: int = 0
    _forms: dict[Hashable, str] = field(default_factory=dict)  # key -> the library's name
    _dashed: bool = False

    def __post_init__(self) -> None:
        from reportlab.pdfgen.canvas import Canvas

        class Unsaved(Canvas):  # type: ignore[misc]
            """Flowing pages are saved at their end; the pen has yet to say what the document is."""

            def save(self) -> None:
                """Left to `PaperCanvas.finish`."""

        for name in (SANS, fonts.SERIF):
            fonts.load_widths(name)  # registers the fonts
        self.canvas = Unsaved(
            BytesIO(),
            pagesize=(self.width / PT, self.height / PT),
            pageCompression=0,  # the pass that finishes the file compresses it
            invariant=1,
            initialFontName=SANS,
            lang=self.language,
        )

    # --- pages ---

    @property
    def page(self) -> int:
        return int(self.canvas.getPageNumber())

    def begin_page(self) -> None:
        """A new page, in millimetres."""
        self.canvas.bookmarkPage(f"page {self.page}")
        self.canvas.scale(1 / PT, 1 / PT)
        self._on_page = True

    @contextmanager
    def in_mm(self) -> Iterator[None]:
        """Measure in mm inside the block; flowing pages count in points."""
        with self.save_state((1 / PT, 0.0, 0.0, 1 / PT, 0.0, 0.0)):
            yield

    def turn_page(self) -> None:
        """End the page."""
        self.canvas.showPage()
        self._on_page = False

    def add_bookmark(self, title: str, level: int = 0) -> None:
        """A bookmark of the whole page it is called on."""
        self._marks += 1
        key = f"mark {self._marks}"
        self.canvas.bookmarkPage(key)
        self.canvas.addOutlineEntry(title, key, level)

    def add_link(self, x: float, y: float, width: float, height: float, to: int, tip: str) -> None:
        """A place that leads to another page. tip: where it leads, for those who have it read out."""
        self.canvas.linkRect(tip, f"page {to}", convert_to_points((x, y, width, height)), relative=0)

    def finish(self, about: DocumentInfo, fields: Sequence[PdfField] = ()) -> bytes:
        """The finished document. Equal drawings give equal bytes."""
        if self._on_page:
            self.turn_page()
        canvas = self.canvas
        canvas.setTitle(make_printable(about.title))
        canvas.setAuthor(make_printable(about.author))
        canvas.setSubject(make_printable(about.subject))
        canvas.setCreator(about.creator)
        canvas.setViewerPreference("DisplayDocTitle", "true")
        canvas.setViewerPreference("PrintScaling", "None")
        return finish_document(canvas.getpdfdata(), about, fields)

    # --- state and drawings that come back ---

    @contextmanager
    def save_state(self, matrix: Matrix | None = None) -> Iterator[None]:
        """Graphics state saved and restored round the block, which is drawn through the matrix."""
        self.canvas.saveState()
        if matrix:
            self.canvas.transform(*matrix)
        yield
        self.canvas.restoreState()

    @contextmanager
    def define_form(self, key: Hashable, box: Box) -> Iterator[bool]:
        """A drawing that comes back, within these corners. Yields True when it has to be drawn now, False when it is
        known already."""
        if key in self._forms:
            yield False
            return
        name = self._forms[key] = f"d{len(self._forms)}"
        self.canvas.beginForm(name, *box)
        yield True
        self.canvas.endForm()

    def draw_form(self, key: Hashable, matrix: Matrix | None = None) -> None:
        """Draws a known form."""
        if matrix is None:
            self.canvas.doForm(self._forms[key])
            return
        with self.save_state(matrix):
            self.canvas.doForm(self._forms[key])

    def draw_form_ahead(self, key: str) -> None:
        """Draws a form that is drawn with `define_form_behind` before the document is closed."""
        self.canvas.doForm(f"ahead-{key}")

    @contextmanager
    def define_form_behind(self, key: str, box: Box) -> Iterator[None]:
        """The drawing that pages before have placed with `draw_form_ahead`."""
        self.canvas.beginForm(f"ahead-{key}", *box)
        yield
        self.canvas.endForm()

    # --- lines and areas ---

    def set_ink(self, fill: Colour, stroke: Colour, width: float, dash: Sequence[float] = ()) -> None:
        """Colours and line from here on. Dashes and widths are mm of the space of the moment."""
        canvas = self.canvas
        canvas.setFillColorRGB(*fill)
        self._set_stroke(stroke, width, dash)

    def set_round_ink(self, colour: Colour, width: float) -> None:
        """One colour for areas and lines, lines with round ends and corners."""
        self.set_ink(colour, colour, width)
        self.canvas.setLineCap(1)
        self.canvas.setLineJoin(1)

    def _set_stroke(self, colour: Colour, width: float, dash: Sequence[float]) -> None:
        canvas = self.canvas
        canvas.setStrokeColorRGB(*colour)
        canvas.setLineWidth(width)
        if dash or self._dashed:
            canvas.setDash(list(dash))
            self._dashed = bool(dash)

    def draw(
        self,
        trace: Trace,
        *,
        fill: Colour | None = None,
        edge: Colour | None = None,
        line: float = 0.2,
        dash: Sequence[float] = (),
        even_odd: bool = False,
    ) -> None:
        """An area, its outline, or both."""
        canvas = self.canvas
        if fill:
            canvas.setFillColorRGB(*fill)
        if edge:
            self._set_stroke(edge, line, dash)
        path = canvas.beginPath()
        trace(path)
        canvas.drawPath(path, stroke=int(edge is not None), fill=int(fill is not None), fillMode=int(not even_odd))
        if dash:
            canvas.setDash([])
            self._dashed = False

    def clip(self, trace: Trace, *, even_odd: bool = False) -> None:
        """Draw nothing outside from here on, until the state is restored."""
        path = self.canvas.beginPath()
        trace(path)
        self.canvas.clipPath(path, stroke=0, fill=0, fillMode=int(not even_odd))

    def draw_line(self, x0: float, y0: float, x1: float, y1: float, colour: Colour, width: float = 0.2) -> None:
        self._set_stroke(colour, width, ())
        self.canvas.line(x0, y0, x1, y1)

    def draw_box(
        self,
        x: float,
        y: float,
        width: float,
        height: float,
        *,
        fill: Colour | None = None,
        edge: Colour | None = None,
        radius: float = 0.0,
        line: float = 0.2,
    ) -> None:
        """A rectangle, its corners rounded by `radius`."""
        if radius:
            self.draw(trace_rounded(x, y, width, height, radius), fill=fill, edge=edge, line=line)
            return
        if fill:
            self.canvas.setFillColorRGB(*fill)
        if edge:
            self._set_stroke(edge, line, ())
        self.canvas.rect(x, y, width, height, stroke=int(edge is not None), fill=int(fill is not None))

    def fill_rectangles(self, rectangles: Iterable[tuple[float, float, float, float]], colour: Colour) -> None:
        """Fill several as one area: x, y of the lower left corner, width, height."""
        path = self.canvas.beginPath()
        for x, y, width, height in rectangles:
            path.rect(x, y, width, height)
        self.canvas.setFillColorRGB(*colour)
        self.canvas.drawPath(path, stroke=0, fill=1)

    def draw_picture(self, rgb: bytes, width: int, height: int, x: float, y: float, wide: float, high: float) -> None:
        """A picture of so many pixels, three bytes each, with its foot on y, `wide` and `high` mm."""
        from PIL import Image
        from reportlab.lib.utils import ImageReader

        self.canvas.drawImage(ImageReader(Image.frombytes("RGB", (width, height), rgb)), x, y, wide, high)

    # --- text ---

    def measure_text(self, text: str, style: TextStyle) -> float:
        """The width a line of text takes, mm."""
        text = make_printable(text)
        if fonts.covers(text, style.face):
            return fonts.measure_width(text, style.mm, style.face)
        return sum(self._measure_run(run, is_own, style) for run, is_own in split_by_font(text, style.face))

    def wrap(self, text: str, style: TextStyle, room: float) -> list[str]:
        """The text in lines no wider than `room` mm. A run of another script is drawn as a whole and not parted."""
        text = make_printable(text)
        if fonts.covers(text, style.face):
            return fonts.wrap(text, room, lambda part: self.measure_text(part, style))
        held = "".join(
            run.replace(" ", HELD) if run in self.foreign and self._measure_run(run, False, style) <= room else run
            for run, _ in split_by_font(text, style.face)
        )
        lines = fonts.wrap(held, room, lambda part: self.measure_text(part.replace(HELD, " "), style))
        return [line.replace(HELD, " ") for line in lines]

    def shorten(self, text: str, style: TextStyle, room: float) -> str:
        """The text, or as much of its beginning as fits with an ellipsis."""
        if self.measure_text(text, style) <= room:
            return text
        while text and self.measure_text(text + "…", style) > room:
            text = text[:-1]
        return text.rstrip() + "…"

    def draw_text(
        self, x: float, y: float, text: str, style: TextStyle, align: Align = "left", spaced: float = 0.0
    ) -> float:
        """One line of text on the baseline y; the width it took. `spaced` mm are added between letters."""
        text = make_printable(text)
        wide = self.measure_text(text, style) + spaced * max(0, len(text) - 1)
        if align != "left":
            x -= wide / 2 if align == "centre" else wide
        if fonts.covers(text, style.face):
            written = self.canvas.beginText(x, y)
            written.setFont(style.face, style.mm)
            written.setFillColorRGB(*style.colour)
            if spaced:
                written.setCharSpace(spaced)
            written.textOut(text)
            if spaced:
                written.setCharSpace(0)
            self.canvas.drawText(written)
            return wide
        for run, is_own in split_by_font(text, style.face):
            taken = self._measure_run(run, is_own, style)
            if is_own:
                self.draw_text(x, y, run, style)
            elif run in self.foreign:
                self._draw_foreign(x, y, run, style)
            else:
                self.draw_text(x, y, spell_out(run), style)
                self.draw_invisible_text(run, x, y, taken, style.mm * CAP)
            x += taken
        return wide

    def _measure_run(self, run: str, is_own: bool, style: TextStyle) -> float:
        if is_own:
            return fonts.measure_width(run, style.mm, style.face)
        if run in self.foreign:
            return self.foreign[run].advance * style.mm * CAP
        return fonts.measure_width(spell_out(run), style.mm, style.face)

    def _draw_foreign(self, x: float, y: float, run: str, style: TextStyle) -> None:
        """Lettering of another script, drawn as curves with invisible text over it."""
        size = style.mm * CAP
        repeat = self.foreign[run]
        with self.save_state():
            self.set_ink(style.colour, style.colour, 0.1)
            for shape, dx, dy, scale in repeat.shapes:
                self.draw_piece(
                    Piece(shape=shape, scale=scale * size, x=x + dx * size, y=y + dy * size), style.mm * 0.08
                )
        self.draw_invisible_text(run, x, y, repeat.advance * size, size)

    def draw_invisible_text(self, text: str, x: float, y: float, width: float, height: float) -> None:
        """Invisible text from (x, y) over `width`, for lettering `height` high."""
        parts, natural, cap = build_invisible_layer(text)
        if natural <= 0 or width <= 0 or height <= 0:
            return
        size = height / cap
        laid = self.canvas.beginText(x, y)
        laid.setTextRenderMode(3)
        laid.setHorizScale(100 * width / (natural * size))
        for name, part in parts:
            laid.setFont(name, size)
            laid.textOut(part)
        laid.setHorizScale(100)
        laid.setTextRenderMode(0)
        self.canvas.drawText(laid)

    def draw_lines(self, x: float, y: float, rows: Iterable[str], style: TextStyle) -> float:
        """Lines of text, the first on the baseline y; the baseline of a next one."""
        for row in rows:
            self.draw_text(x, y, row, style)
            y -= style.line
        return y

    # --- lettering ---

    def define_shape(self, shape: Shape) -> str:
        """The name of a shape's form: areas by the non-zero rule, or open strokes for a point."""
        key = f"shape {shape.key}"
        if key not in self._forms:
            ends = [p.points for p in shape.outline]
            low = [min((float(p[:, i].min()) for p in ends), default=0.0) for i in (0, 1)]
            high = [max((float(p[:, i].max()) for p in ends), default=0.0) for i in (0, 1)]
            grow = shape.units_per_em / 10 if shape.single_line else 1.0
            corners = (low[0] - grow, low[1] - grow, high[0] + grow, high[1] + grow)
            x0, y0, x1, y1 = (v * _UNIT for v in corners)
            with self.define_form(key, (x0, y0, x1, y1)):
                if ends:
                    path = self.canvas.beginPath()
                    trace_outline(shape.outline, _UNIT)(path)
                    stroked = int(shape.single_line)
                    self.canvas.drawPath(path, stroke=stroked, fill=1 - stroked, fillMode=1)
        return self._forms[key]

    def draw_piece(self, piece: Piece, point: float) -> None:
        """A shape in its place, in the space of the moment. `point`: line width of single-line shapes, mm."""
        name, scale = self.define_shape(piece.shape), piece.scale / _UNIT
        c, s = scale * math.cos(piece.turn), scale * math.sin(piece.turn)
        canvas = self.canvas
        canvas.saveState()
        canvas.transform(c, s, -s, c, piece.x, piece.y)
        if piece.shape.single_line:
            canvas.setLineWidth(point / scale)
        canvas.doForm(name)
        canvas.restoreState()

    def draw_row(self, row: SetRow, point: float) -> None:
        """All pieces of a row."""
        pieces = row.pieces
        if any(p.turn or p.scale != pieces[0].scale for p in pieces):
            for piece in pieces:
                self.draw_piece(piece, point)
        elif pieces:
            self._draw_upright(row, point)

    def _draw_upright(self, row: SetRow, point: float) -> None:
        """Upright pieces of one scale follow each other, which is shorter than a place for each. Steps are rounded to
        what is written, so that what is rounded does not add up."""
        first, canvas = row.pieces[0], self.canvas
        scale, x, y = first.scale / _UNIT, 0.0, 0.0
        canvas.saveState()
        canvas.transform(scale, 0, 0, scale, first.x, first.y)
        if any(p.shape.single_line for p in row.pieces):
            canvas.setLineWidth(point / scale)
        for piece in row.pieces:
            name = self.define_shape(piece.shape)
            dx = round((piece.x - first.x) / scale - x, 6)
            dy = round((piece.y - first.y) / scale - y, 6)
            if dx or dy:
                x, y = x + dx, y + dy
                canvas.translate(dx, dy)
            canvas.doForm(name)
        canvas.restoreState()

    def repeat_row(self, row: SetRow, point: float, box: Box) -> None:
        """A row that comes back on many pages, within `box`: drawn once, by what it shows and where."""
        key = ("row", point, *[(p.shape.key, p.scale, p.x, p.y, p.turn) for p in row.pieces])
        with self.define_form(key, box) as new:
            if new:
                self.draw_row(row, point)
        self.draw_form(key)

    def write_invisible(self, row: SetRow, high: float) -> None:
        """The text of a row, invisible, over its pieces, `high` mm."""
        if row.pieces and row.text.strip():
            self.draw_invisible_text(row.text, min(p.x for p in row.pieces), row.baseline, row.width, high)
