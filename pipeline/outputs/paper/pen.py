"""A pen that draws on PDF pages in millimetres, y up, origin at the page's lower left.

Everything is written in the page's user space after one scaling, so a drawing of a plaque at true size carries the
artwork's own numbers. Drawings that come back (a letter, the blank) are form XObjects: written once, placed often.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from io import BytesIO
from typing import Any, Literal

from pipeline.core.model import Piece, SetRow, Shape, ShapedRow
from pipeline.core.recent import Recent
from pipeline.outputs.paper import faces
from pipeline.outputs.paper.curves import number, path_ops
from pipeline.outputs.paper.faces import PT, SANS
from pipeline.outputs.paper.small import made_small, name_forms
from pipeline.outputs.paper.unseen import UnseenText

CAP = 0.714
"""Cap height of the reading face in its size (Noto Sans: 714 of 1000); other scripts are drawn to match it."""
Colour = tuple[float, float, float]
Align = Literal["left", "centre", "right"]
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


@dataclass(frozen=True, slots=True, eq=False)
class Repeat:
    """Set lettering to be repeated in running text: shapes with place and scale where a cap height is 1."""

    shapes: tuple[tuple[Shape, float, float, float], ...]
    advance: float

    @classmethod
    def of_row(cls, row: SetRow, cap_height: float) -> Repeat:
        """From a row of artwork on a straight baseline."""
        placed = [
            (p.shape, (p.x - row.x) / cap_height, (p.y - row.baseline) / cap_height, p.scale / cap_height)
            for p in row.pieces
        ]
        return cls(tuple(placed), row.width / cap_height)

    @classmethod
    def of_shaped(cls, row: ShapedRow) -> Repeat:
        """From a row shaped for this purpose, in font units."""
        unit = row.cap_units
        placed = [(p.shape, p.x / unit, p.y / unit, p.scale / unit) for p in row.shapes]
        return cls(tuple(placed), row.advance / unit)


def runs(text: str, face: str) -> list[tuple[str, bool]]:
    """The text in runs that the face covers, and runs that it does not (with the spaces between such words)."""
    known = faces.known(face)
    pieces = re.split(r"(\s+)", text)
    out: list[tuple[str, bool]] = []
    for piece in pieces:
        start = 0
        for i in range(1, len(piece) + 1):
            own = piece[start] in known
            if i == len(piece) or (piece[i] in known) != own:
                _append(out, piece[start:i], own)
                start = i
    return out


def _append(out: list[tuple[str, bool]], run: str, own: bool) -> None:
    if out and out[-1][1] == own:
        out[-1] = (out[-1][0] + run, own)
    elif not own and len(out) > 1 and out[-1][0].isspace() and not out[-2][1]:
        space, _ = out.pop()
        out[-1] = (out[-1][0] + space + run, False)
    else:
        out.append((run, own))


HELD = "\uffff"
"""Stands for a space inside a run that is not to be parted while lines are broken: no character has this code."""


def spelt(run: str) -> str:
    """Code points of text that nothing at hand can draw, in Unicode's own notation."""
    codes = [f"U+{ord(c):04X}" for c in run if not c.isspace()]
    return "[" + " ".join(codes[:4]) + (" …" if len(codes) > 4 else "") + "]"


@dataclass(slots=True)
class Link:
    """A place on a page that leads to another page."""

    page: int
    box: tuple[float, float, float, float]
    to: int


@dataclass(slots=True)
class Pen:
    """Wraps the PDF library's canvas. Pages count from 1."""

    width: float
    height: float
    out: BytesIO = field(default_factory=BytesIO)
    unseen: UnseenText = field(default_factory=UnseenText)
    foreign: dict[str, Repeat] = field(default_factory=dict)  # text no reading face covers -> how it is drawn
    links: list[Link] = field(default_factory=list)
    page: int = 1
    _canvas: Any = None
    _forms: dict[str, str] = field(default_factory=dict)
    _placed: set[str] = field(default_factory=set)  # names of the forms the page, or the form being drawn, uses
    _rows: Recent[tuple[str, frozenset[str]]] = field(default_factory=lambda: Recent(64))
    _shown: Recent[str] = field(default_factory=lambda: Recent(2048))
    _boxes: Recent[str] = field(default_factory=Recent)

    def __post_init__(self) -> None:
        from reportlab import rl_config
        from reportlab.pdfgen.canvas import Canvas

        rl_config.useA85 = 0  # pages as the bytes they are, not spelt out in letters
        faces.font(SANS)
        faces.font(faces.SERIF)
        self._canvas = Canvas(
            self.out,
            pagesize=(self.width / PT, self.height / PT),
            invariant=1,
            pageCompression=1,  # here and not when the fields are added: thousands of pages stand in memory by then
            initialFontName=SANS,
            pdfVersion=(1, 7),
        )

    # --- pages ---

    def begin(self) -> None:
        self.op(f"{1 / PT:.8f} 0 0 {1 / PT:.8f} 0 0 cm")

    def turn_page(self) -> None:
        """Ends the page. What is kept of it until the end is small: its operators compressed, the names it uses."""
        self._canvas.showPage()
        made_small(self._canvas._doc.Pages.pages[-1])
        self._placed = set()
        self.page += 1

    def bookmark(self, title: str, level: int = 0) -> None:
        """A bookmark of the whole page it is called on."""
        key = f"p{self.page}-{title}"
        self._canvas.bookmarkPage(key, fit="Fit")
        self._canvas.addOutlineEntry(title, key, level, closed=level > 0)

    def link(self, x: float, y: float, width: float, height: float, to: int) -> None:
        self.links.append(Link(self.page, (x, y, x + width, y + height), to))

    def close(self) -> bytes:
        name_forms(self._canvas._doc, self._forms.values())
        self._canvas.save()
        self._canvas = None  # with all pages
        return self.out.getvalue()

    # --- operators ---

    def op(self, operators: str) -> None:
        self._canvas.addLiteral(operators)

    @contextmanager
    def kept(self, *operators: str) -> Iterator[None]:
        """Graphics state saved and restored round the block."""
        self.op("q " + " ".join(operators))
        yield
        self.op("Q")

    @contextmanager
    def form(self, key: str, box: tuple[float, float, float, float]) -> Iterator[bool]:
        """A drawing that comes back. Yields True when it has to be drawn now, False when it is known already."""
        if key in self._forms:
            yield False
            return
        name = self._forms[key] = f"d{len(self._forms)}"
        outside, self._placed = self._placed, set()
        self._canvas.beginForm(name, *box)
        yield True
        self._canvas.endForm()
        self._placed = outside

    def place(self, key: str, matrix: str = "") -> None:
        """Draws a known form; `matrix` is the six numbers of a transformation."""
        self.op(self._placing(key, matrix))
        self._use((self._forms[key],))

    def _placing(self, key: str, matrix: str) -> str:
        name = self._canvas._doc.getXObjectName(self._forms[key])
        return f"q {matrix} cm /{name} Do Q" if matrix else f"/{name} Do"

    def _use(self, names: Iterable[str]) -> None:
        """Forms must be named among what their page uses, once each."""
        new = [name for name in names if name not in self._placed]
        self._placed.update(new)
        self._canvas._formsinuse += new

    # --- lines and areas ---

    def fill(self, colour: Colour) -> str:
        return " ".join(number(c) for c in colour) + " rg"

    def stroke(self, colour: Colour, width: float = 0.2, dash: str = "") -> str:
        return " ".join(number(c) for c in colour) + f" RG {number(width)} w [{dash}] 0 d"

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
        if faces.covers(text, style.face):
            return faces.width(text, style.mm, style.face)
        return sum(self._run_width(run, is_own, style) for run, is_own in runs(text, style.face))

    def wrap(self, text: str, style: Style, room: float) -> list[str]:
        """The text in lines no wider than `room` mm. A run of another script is drawn as a whole and not parted."""
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
        wide = self.wide(text, style) + spaced * max(0, len(text) - 1)
        x -= {"left": 0.0, "centre": wide / 2, "right": wide}[align]
        if faces.covers(text, style.face):
            shown = self._shown.of((text, style), lambda: self._show(text, style))
            apart = (f" {number(spaced)} Tc", " 0 Tc") if spaced else ("", "")
            self.op(f"BT 1 0 0 1 {number(x)} {number(y)} Tm{apart[0]} {shown}{apart[1]} ET")
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

    def _show(self, text: str, style: Style) -> str:
        """Colour, font and codes of a text, subset by subset: what the library's own drawing of a string writes."""
        face, doc, size = faces.font(style.face), self._canvas._doc, number(style.mm)
        parts = face.splitString(text, doc)
        codes = (f"{face.getSubsetInternalName(k, doc)} {size} Tf ({self._canvas._escape(t)}) Tj" for k, t in parts)
        return f"{self.fill(style.colour)} {' '.join(codes)}"

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
        """The form of a shape, in font units: areas by the non-zero rule, or open strokes for a point."""
        key = f"shape {shape.key}"
        if key not in self._forms:
            points = [p.points for p in shape.outline]
            low = [min(float(p[:, i].min()) for p in points) for i in (0, 1)] if points else [0.0, 0.0]
            high = [max(float(p[:, i].max()) for p in points) for i in (0, 1)] if points else [0.0, 0.0]
            grow = shape.units_per_em / 10 if shape.single_line else 1.0
            with self.form(key, (low[0] - grow, low[1] - grow, high[0] + grow, high[1] + grow)):
                self.op(path_ops(shape.outline))
                self.op("S" if shape.single_line else "f")
        return key

    def piece(self, piece: Piece, point: float) -> None:
        """A shape in its place, in the user space of the moment. `point`: line width of single-line shapes, mm."""
        key, ops = self._piece(piece, point)
        self.op(ops)
        self._use((self._forms[key],))

    def row(self, row: SetRow, point: float) -> None:
        """All pieces of a row. A row that comes back is written out once."""
        ops, names = self._rows.of((row, point), lambda: self._row(row, point))
        self.op(ops)
        self._use(sorted(names))

    def _row(self, row: SetRow, point: float) -> tuple[str, frozenset[str]]:
        drawn = [self._piece(piece, point) for piece in row.pieces]
        return "\n".join(ops for _, ops in drawn), frozenset(self._forms[key] for key, _ in drawn)

    def _piece(self, piece: Piece, point: float) -> tuple[str, str]:
        """The form of a piece's shape, and the operators that place it."""
        c, s = piece.scale * math.cos(piece.turn), piece.scale * math.sin(piece.turn)
        key = self.shape(piece.shape)
        ops = self._placing(key, f"{c:.8f} {s:.8f} {-s:.8f} {c:.8f} {piece.x:.5f} {piece.y:.5f}")
        return key, f"{number(point / piece.scale)} w {ops}" if piece.shape.single_line else ops


def rounded(x: float, y: float, width: float, height: float, radius: float) -> str:
    """Path operators of a rectangle with rounded corners."""
    if radius <= 0:
        return f"{number(x)} {number(y)} {number(width)} {number(height)} re"
    r = min(radius, width / 2, height / 2)
    k = r * 0.5522847498  # 4/3 (√2 − 1)
    x1, y1 = x + width, y + height
    parts: list[tuple[str, tuple[float, ...]]] = [
        ("m", (x + r, y)),
        ("l", (x1 - r, y)),
        ("c", (x1 - r + k, y, x1, y + r - k, x1, y + r)),
        ("l", (x1, y1 - r)),
        ("c", (x1, y1 - r + k, x1 - r + k, y1, x1 - r, y1)),
        ("l", (x + r, y1)),
        ("c", (x + r - k, y1, x, y1 - r + k, x, y1 - r)),
        ("l", (x, y + r)),
        ("c", (x, y + r - k, x + r - k, y, x + r, y)),
    ]
    return " ".join(" ".join(number(v) for v in values) + f" {letter}" for letter, values in parts) + " h"
