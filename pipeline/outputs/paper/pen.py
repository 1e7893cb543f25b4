"""A pen that draws on PDF pages in millimetres, y up, origin at the page's lower left.

Everything is written in the page's user space after one scaling, so a drawing of a plaque at true size carries the
artwork's own numbers. Drawings that come back (a letter, the blank) are form XObjects: written once, placed often.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Literal

from pipeline.core.model import Piece, SetRow, Shape
from pipeline.core.printable import printable
from pipeline.core.recent import Recent
from pipeline.outputs.paper import faces
from pipeline.outputs.paper.about import About, finish
from pipeline.outputs.paper.curves import number, rounded
from pipeline.outputs.paper.document import Document
from pipeline.outputs.paper.drawing import shape_ops
from pipeline.outputs.paper.faces import PT, SANS
from pipeline.outputs.paper.foreign import HELD, Repeat, runs, spelt
from pipeline.outputs.paper.outline import Outline
from pipeline.outputs.paper.subsets import Subset
from pipeline.outputs.paper.unseen import KEY, UnseenText

CAP = 0.714
"""Cap height of the reading face in its size (Noto Sans: 714 of 1000); other scripts are drawn to match it."""
Colour = tuple[float, float, float]
Align = Literal["left", "centre", "right"]
Box = tuple[float, float, float, float]
PAPERS = {"A4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""ISO 216 A4 and ANSI/ASME Y14.1 Letter (8.5 × 11 in)."""


def rgb(code: str) -> Colour:
    """'#1F5E63' as three numbers from 0 to 1."""
    return (int(code[1:3], 16) / 255, int(code[3:5], 16) / 255, int(code[5:7], 16) / 255)


@dataclass(frozen=True, slots=True)
class Style:
    """How a piece of text looks. `size` is in points, as type is measured."""

    size: float
    colour: Colour
    face: str = SANS
    leading: float = 1.42  # of the size

    @property
    def mm(self) -> float:
        return self.size * PT

    @property
    def line(self) -> float:
        """Baseline to baseline, mm."""
        return self.mm * self.leading


def points(box: Box) -> str:
    """x, y, width, height in mm as the corners of a rectangle in points, to the thousandth."""
    x, y, wide, high = box
    return f"{x / PT:.3f} {y / PT:.3f} {(x + wide) / PT:.3f} {(y + high) / PT:.3f}"


@dataclass(slots=True)
class Pen:
    """Draws a document page after page. Pages count from 1; each is written when it is turned."""

    width: float
    height: float
    document: Document = field(default_factory=Document)
    unseen: UnseenText = field(default_factory=UnseenText)
    foreign: dict[str, Repeat] = field(default_factory=dict)  # text no reading face covers -> how it is drawn
    page: int = 1
    _pages: list[int] = field(default_factory=list)  # numbers of their objects
    _outline: Outline = field(init=False)
    _subsets: dict[str, Subset] = field(init=False)
    _root: int = field(init=False)
    _fonts: int = field(init=False)
    _drawn: list[str] = field(default_factory=list)  # operators of the page, or of the form being drawn
    _placed: dict[str, None] = field(default_factory=dict)  # names of the forms used there
    _annotations: list[str] = field(default_factory=list)  # of the page
    _forms: dict[str, tuple[str, int]] = field(default_factory=dict)  # name among the resources, number of the object
    _shapes: dict[Shape, str] = field(default_factory=dict)  # key of its form
    _rows: Recent[tuple[str, dict[str, None]]] = field(default_factory=lambda: Recent(64))
    _met: set[str] = field(default_factory=set)  # rows written out once
    _said: Recent[str] = field(default_factory=lambda: Recent(64))
    _shown: Recent[tuple[str, float]] = field(default_factory=lambda: Recent(2048))
    _boxes: Recent[str] = field(default_factory=Recent)

    def __post_init__(self) -> None:
        self._outline = Outline(self.document)
        self._root, self._fonts = self.document.reserve(), self.document.reserve()
        self._subsets = {name: Subset(faces.face(name)) for name in (faces.SANS, faces.SERIF)}

    # --- pages ---

    def begin(self) -> None:
        self.op(f"{1 / PT:.8f} 0 0 {1 / PT:.8f} 0 0 cm")

    def turn_page(self) -> None:
        """Ends the page and writes it. Size and resources of all pages stand with their root (7.7.3.4)."""
        contents = self.document.stream("\n".join(self._drawn).encode("latin-1"))
        notes = f"/Annots[{' '.join(self._annotations)}]/Tabs/R" if self._annotations else ""
        said = f"<</Type/Page/Parent {self._root} 0 R/Contents {contents} 0 R{notes}>>"
        self.document.add(said, self.page_object(self.page))
        self._drawn, self._placed, self._annotations = [], {}, []
        self.page += 1

    def page_object(self, page: int) -> int:
        """The number of a page's object, also of one that is yet to be drawn."""
        while len(self._pages) < page:
            self._pages.append(self.document.reserve())
        return self._pages[page - 1]

    def bookmark(self, title: str, level: int = 0) -> None:
        """A bookmark of the whole page it is called on."""
        self._outline.add(title, self.page_object(self.page), level)

    def annotate(self, annotation: str) -> None:
        """Adds an annotation to the page: its object, or a reference to it."""
        self._annotations.append(annotation)

    def link(self, x: float, y: float, width: float, height: float, to: int) -> None:
        """A place that leads to another page."""
        rect, page = points((x, y, width, height)), self.page_object(to)
        self.annotate(f"<</Type/Annot/Subtype/Link/Rect[{rect}]/Border[0 0 0]/Dest[{page} 0 R/Fit]>>")

    def close(self, about: About, form: int = 0) -> list[bytes]:
        """The parts of the finished document. form: the number of its form's object, 0 without one."""
        if self._drawn:
            self.turn_page()
        document = self.document
        carried: dict[str, Subset | UnseenText] = {**self._subsets, KEY: self.unseen}
        fonts = [f"/{name} {font.write(document)} 0 R" for name, font in carried.items() if font]
        document.add(f"<<{''.join(fonts)}>>", self._fonts)
        pages = self._pages[: self.page - 1]
        document.add(
            f"<</Type/Pages/Count {len(pages)}/Kids[{' '.join([f'{page} 0 R' for page in pages])}]"
            f"/MediaBox[0 0 {number(self.width / PT)} {number(self.height / PT)}]"
            f"/Resources<<{self._resources(fonts=True, forms=self._forms)}>>>>",
            self._root,
        )
        return finish(document, about, pages=self._root, outline=self._outline.close(), form=form)

    def _resources(self, *, fonts: bool, forms: Iterable[str]) -> str:
        used = "".join(f"/{name} {form} 0 R" for name, form in (self._forms[key] for key in forms))
        return (f"/Font {self._fonts} 0 R" if fonts else "") + (f"/XObject<<{used}>>" if used else "")

    # --- operators ---

    def op(self, operators: str) -> None:
        self._drawn.append(operators)

    @contextmanager
    def kept(self, *operators: str) -> Iterator[None]:
        """Graphics state saved and restored round the block."""
        self.op("q " + " ".join(operators))
        yield
        self.op("Q")

    @contextmanager
    def form(self, key: str, box: Box) -> Iterator[bool]:
        """A drawing that comes back, within these corners. Yields True when it has to be drawn now, False when it is
        known already."""
        if key in self._forms:
            yield False
            return
        outside = self._drawn, self._placed
        self._drawn, self._placed = [], {}
        yield True
        drawn = "\n".join(self._drawn)
        own = self._resources(fonts=" Tf " in drawn, forms=self._placed)
        self._drawn, self._placed = outside
        corners = " ".join(number(v) for v in box)
        entries = f"/Type/XObject/Subtype/Form/BBox[{corners}]/Resources<<{own}>>"
        self._forms[key] = (f"d{len(self._forms)}", self.document.stream(drawn.encode("latin-1"), entries))

    def place(self, key: str, matrix: str = "") -> None:
        """Draws a known form; `matrix` is the six numbers of a transformation."""
        name = self._forms[key][0]
        self.op(f"q {matrix} cm /{name} Do Q" if matrix else f"/{name} Do")
        self._placed[key] = None

    # --- lines and areas ---

    def fill(self, colour: Colour) -> str:
        return _shares(colour) + " rg"

    def stroke(self, colour: Colour, width: float = 0.2, dash: str = "") -> str:
        return f"{_shares(colour)} RG {number(width)} w [{dash}] 0 d"

    def line(self, x0: float, y0: float, x1: float, y1: float, colour: Colour, width: float = 0.2) -> None:
        ends = f"{number(x0)} {number(y0)} m {number(x1)} {number(y1)} l S"
        self.op(f"{self.stroke(colour, width)} {ends}")

    def box(
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

        def drawn() -> str:
            ops = []
            if fill:
                ops.append(self.fill(fill))
            if edge:
                ops.append(self.stroke(edge, line))
            ops.append(rounded(0, 0, width, height, radius))
            ops.append(("B" if edge else "f") if fill else ("S" if edge else "n"))
            return " ".join(ops)

        ops = self._boxes.of((width, height, fill, edge, radius, line), drawn)
        self.op(f"q 1 0 0 1 {number(x)} {number(y)} cm {ops} Q")

    # --- text ---

    def wide(self, text: str, style: Style) -> float:
        """The width a line of text takes, mm."""
        text = printable(text)
        if faces.covers(text, style.face):
            return faces.width(text, style.mm, style.face)
        return sum(self._run_width(run, is_own, style) for run, is_own in runs(text, style.face))

    def wrap(self, text: str, style: Style, room: float) -> list[str]:
        """The text in lines no wider than `room` mm. A run of another script is drawn as a whole and not parted."""
        text = printable(text)
        if faces.covers(text, style.face):
            return faces.wrap(text, room, lambda part: self.wide(part, style))
        held = "".join(
            run.replace(" ", HELD) if run in self.foreign and self._run_width(run, False, style) <= room else run
            for run, _ in runs(text, style.face)
        )
        lines = faces.wrap(held, room, lambda part: self.wide(part.replace(HELD, " "), style))
        return [line.replace(HELD, " ") for line in lines]

    def shorten(self, text: str, style: Style, room: float) -> str:
        """The text, or as much of its beginning as fits with an ellipsis."""
        if self.wide(text, style) <= room:
            return text
        while text and self.wide(text + "…", style) > room:
            text = text[:-1]
        return text.rstrip() + "…"

    def text(self, x: float, y: float, text: str, style: Style, align: Align = "left", spaced: float = 0.0) -> float:
        """One line of text on the baseline y; the width it took. `spaced` mm are added between letters."""
        text = printable(text)
        shown, wide = self._shown.of((text, style), lambda: self._show(text, style))
        wide += spaced * max(0, len(text) - 1)
        if align != "left":
            x -= wide / 2 if align == "centre" else wide
        if shown:
            if spaced:
                shown = f"{number(spaced)} Tc {shown} 0 Tc"
            self._drawn.append(f"BT 1 0 0 1 {x:.4f} {y:.4f} Tm {shown} ET")
            return wide
        for run, is_own in runs(text, style.face):
            if is_own:
                self.text(x, y, run, style)
            elif run in self.foreign:
                self._foreign(x, y, run, style)
            else:
                self.text(x, y, spelt(run), style)
                self.op(self.unseen.ops(run, x, y, self._run_width(run, False, style), style.mm * CAP))
            x += self._run_width(run, is_own, style)
        return wide

    def _show(self, text: str, style: Style) -> tuple[str, float]:
        """Colour, font and codes of a text, nothing where its face does not cover it; the width it takes."""
        wide = self.wide(text, style)
        if not faces.covers(text, style.face):
            return "", wide
        codes = self._subsets[style.face].shown(text)
        return f"{_type(style)} ({codes}) Tj", wide

    def _run_width(self, run: str, is_own: bool, style: Style) -> float:
        if is_own:
            return faces.width(run, style.mm, style.face)
        if run in self.foreign:
            return self.foreign[run].advance * style.mm * CAP
        return faces.width(spelt(run), style.mm, style.face)

    def _foreign(self, x: float, y: float, run: str, style: Style) -> None:
        """Lettering of another script, drawn as curves with an unseen text over it."""
        size = style.mm * CAP
        repeat = self.foreign[run]
        self.op(f"q {self.fill(style.colour)} {self.stroke(style.colour, 0.1)}")
        for shape, dx, dy, scale in repeat.shapes:
            self.piece(Piece(shape=shape, scale=scale * size, x=x + dx * size, y=y + dy * size), style.mm * 0.08)
        self.op("Q " + self.unseen.ops(run, x, y, repeat.advance * size, size))

    def lines(self, x: float, y: float, rows: Iterable[str], style: Style) -> float:
        """Lines of text, the first on the baseline y; the baseline of a next one."""
        for row in rows:
            self.text(x, y, row, style)
            y -= style.line
        return y

    # --- lettering ---

    def shape(self, shape: Shape) -> str:
        """The form of a shape, in font units: areas by the non-zero rule, or open strokes for a point. Its key."""
        if shape in self._shapes:
            return self._shapes[shape]
        key = self._shapes[shape] = f"shape {shape.key}"
        points = [p.points for p in shape.outline]
        low = [min(float(p[:, i].min()) for p in points) for i in (0, 1)] if points else [0.0, 0.0]
        high = [max(float(p[:, i].max()) for p in points) for i in (0, 1)] if points else [0.0, 0.0]
        grow = shape.units_per_em / 10 if shape.single_line else 1.0
        with self.form(key, (low[0] - grow, low[1] - grow, high[0] + grow, high[1] + grow)) as new:
            if new:
                self.op(shape_ops(shape))
                self.op("S" if shape.single_line else "f")
        return key

    def piece(self, piece: Piece, point: float) -> None:
        """A shape in its place, in the user space of the moment. `point`: line width of single-line shapes, mm."""
        c, s = piece.scale * math.cos(piece.turn), piece.scale * math.sin(piece.turn)
        key = self.shape(piece.shape)
        if piece.shape.single_line:
            self.op(f"{number(point / piece.scale)} w")
        self.place(key, f"{c:.8f} {s:.8f} {-s:.8f} {c:.8f} {piece.x:.5f} {piece.y:.5f}")

    def row(self, row: SetRow, point: float) -> None:
        """All pieces of a row. A row that comes back is written out once."""
        ops, used = self._rows.of((row, point), lambda: self._row(row, point))
        self.op(ops)
        self._placed.update(used)

    def row_again(self, row: SetRow, point: float, box: Box) -> None:
        """A row that comes back on many pages: written out the first time, a form within `box` from then on."""
        ops, used = self._rows.of((row, point), lambda: self._row(row, point))
        key = f"row {ops}"  # by what is written and not by object: pages do not depend on who made the row
        if key not in self._met:
            self._met.add(key)
            self.op(ops)
            self._placed.update(used)
            return
        with self.form(key, box) as new:
            if new:
                self.op(ops)
                self._placed.update(used)
        self.place(key)

    def says(self, row: SetRow, high: float) -> None:
        """The text of a row unseen over its pieces, `high` mm."""
        if row.pieces and row.text.strip():
            self.op(self._said.of((row, high), lambda: self._says(row, high)))

    def _says(self, row: SetRow, high: float) -> str:
        return self.unseen.ops(row.text, min(p.x for p in row.pieces), row.baseline, row.width, high)

    def _row(self, row: SetRow, point: float) -> tuple[str, dict[str, None]]:
        """A row's operators, and the keys of its forms. Upright pieces of one scale follow each other in font units, to
        the thousandth: shorter than a place for each."""
        outside = self._drawn, self._placed
        self._drawn, self._placed = [], {}
        if any(p.turn or p.scale != row.pieces[0].scale for p in row.pieces):
            for piece in row.pieces:
                self.piece(piece, point)
        elif row.pieces:
            first = row.pieces[0]
            scale, x, y = first.scale, 0.0, 0.0
            thin = f"{number(point / first.scale)} w " if any(p.shape.single_line for p in row.pieces) else ""
            self.op(f"q {scale:.11f} 0 0 {scale:.11f} {first.x:.5f} {first.y:.5f} cm")
            for piece in row.pieces:
                key = self.shape(piece.shape)
                dx = round((piece.x - first.x) / scale - x, 3)
                dy = round((piece.y - first.y) / scale - y, 3)
                x, y = x + dx, y + dy
                place = f"1 0 0 1 {dx + 0.0:.10g} {dy + 0.0:.10g} cm " if dx or dy else ""
                self.op(f"{place}{thin}/{self._forms[key][0]} Do")
                self._placed[key], thin = None, ""
            self.op("Q")
        drawn = "\n".join(self._drawn), self._placed
        self._drawn, self._placed = outside
        return drawn


@lru_cache
def _type(style: Style) -> str:
    return f"{_shares(style.colour)} rg /{style.face} {number(style.mm)} Tf"


@lru_cache
def _shares(colour: Colour) -> str:
    return " ".join(number(c) for c in colour)
