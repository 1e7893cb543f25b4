"""Pages for the workshop: headings, paragraphs, tables and drawings that flow down a page and on to the next. mm."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from reportlab.platypus import (
    BaseDocTemplate,
    CondPageBreak,
    Flowable,
    Frame,
    LongTable,
    PageTemplate,
    TableStyle,
)

from pipeline.core.model import Plaque
from pipeline.core.stated_values import StatedValue, get_mark, replace_stated
from pipeline.outputs.pdf import styles
from pipeline.outputs.pdf.canvas import PaperCanvas
from pipeline.outputs.pdf.font_fallback import RepeatedLettering, split_by_font
from pipeline.outputs.pdf.fonts import PT, SANS, covers
from pipeline.outputs.pdf.metadata import DocumentInfo
from pipeline.outputs.pdf.text_style import Colour, TextStyle

SIDE, TOP, FOOT = 16.0, 24.0, 19.0
PAD = 1.6
TABLE = TextStyle(8.5, styles.INK)
HEAD = TextStyle(7, styles.GREY)
TICK = "\0"
"""A cell with a box to tick."""
SECTION = TextStyle(14, styles.INK, styles.HEADING.face, 1.25)
ORIGINS = TextStyle(7, styles.GREY)
UNDER = 1.2  # space below a paragraph


@dataclass(frozen=True, slots=True)
class TableColumn:
    """One column of a table: heading, share of the room, alignment, wash behind its cells."""

    title: str
    share: float
    right: bool = False
    wash: Colour | None = None
    style: TextStyle = TABLE
    names: bool = False
    """Its numbers name or count off rows, parts and files; they measure nothing."""
    tells: bool = False
    """Its words say where the values of the row come from, which then bear no marks."""


class DrawnBlock(Flowable):  # type: ignore[misc]
    """A drawing of a known height, mm; `draw` gets nothing and draws from the lower left corner of its place."""

    def __init__(self, pen: PaperCanvas, height: float, draw: Callable[[], None], above: float = 0.0) -> None:
        super().__init__()
        self.pen, self.high, self.drawing, self.above = pen, height, draw, above

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """Its size in points."""
        return width, self.high / PT

    def getSpaceBefore(self) -> float:
        """Points kept free above it, but for the top of a page."""
        return self.above / PT

    def draw(self) -> None:
        with self.pen.in_mm():
            self.drawing()


@dataclass(frozen=True, slots=True, kw_only=True)
class TableLines:
    """Lines of text in a style, as a paragraph or in a cell."""

    rows: Sequence[str]
    style: TextStyle
    right: bool = False
    wash: Colour | None = None
    indent: float = 0.0
    above: float = 0.0  # space above and below
    under: float = 0.0
    depth: float = 0.0  # least depth, that of the row's other cells


class TableText(Flowable):  # type: ignore[misc]
    """Lines that may go on on the next page."""

    def __init__(self, pen: PaperCanvas, lines: TableLines) -> None:
        super().__init__()
        self.pen, self.lines = pen, lines

    @property
    def high(self) -> float:
        """mm"""
        lines = self.lines
        return max(lines.depth, lines.above + len(lines.rows) * lines.style.line + lines.under)

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """Its size in points."""
        self.wide = width * PT
        return width, self.high / PT

    def split(self, width: float, height: float) -> list[Flowable]:
        """Split off as many lines as there is room for."""
        lines = self.lines
        fit = int((height * PT - lines.above - lines.under) / lines.style.line + 1e-6)
        if fit < 1 or fit >= len(lines.rows):
            return []
        parts = (lines.rows[:fit], lines.rows[fit:])
        return [TableText(self.pen, replace(lines, rows=rows, depth=0.0)) for rows in parts]

    def draw(self) -> None:
        lines, pen = self.lines, self.pen
        with pen.in_mm():
            if lines.wash and lines.rows:
                pen.draw_box(0, 0.4, self.wide, self.high - 0.8, fill=lines.wash, radius=0.6)
            y = self.high - lines.above - lines.style.mm
            for row in lines.rows:
                if row == TICK:
                    pen.draw_box(lines.indent, y - 0.6, 3.2, 3.2, fill=styles.WHITE, edge=styles.GREY, radius=0.4)
                else:
                    at = self.wide - lines.indent if lines.right else lines.indent
                    pen.draw_text(at, y, row, lines.style, "right" if lines.right else "left")
                y -= lines.style.line


@dataclass(slots=True)
class ShopPages:
    """Collects what a paper says, and lets it flow over as many pages as it takes."""

    pen: PaperCanvas
    title: str
    mark: str  # at the bottom of each page
    name: str = "Shop sheet"
    story: list[Any] = field(default_factory=list)
    origins: dict[str, str] = field(default_factory=dict)
    """Where values of the present section come from, each with its mark."""

    @property
    def room(self) -> float:
        return self.pen.width - 2 * SIDE

    @property
    def depth(self) -> float:
        """Height of a page's body."""
        return self.pen.height - TOP - FOOT

    # --- pages ---

    def _draw_head(self, canvas: Any, template: Any) -> None:
        pen, right = self.pen, self.pen.width - SIDE
        with pen.in_mm():
            y = pen.height - 14
            pen.draw_text(SIDE, y, pen.shorten(self.title, styles.RUNNING, self.room * 0.7), styles.RUNNING)
            pen.draw_text(right, y, self.name, styles.RUNNING, "right")
            pen.draw_line(SIDE, y - 2.4, right, y - 2.4, styles.HAIR)

    def _draw_foot(self, canvas: Any, template: Any) -> None:
        """Leave the foot for the end, when the number of pages is known."""
        pen, right = self.pen, self.pen.width - SIDE
        with pen.in_mm():
            pen.draw_line(SIDE, 14.2, right, 14.2, styles.HAIR)
            pen.draw_text(SIDE, 10, self.mark, styles.RUNNING)
            pen.draw_form_ahead(f"page-{pen.page}")

    def finish(self, title: str, author: str) -> tuple[bytes, int]:
        """The finished document and its number of pages; equal input gives equal bytes. No clock is read."""
        self.tell_origins()
        pen = self.pen
        size = (pen.width / PT, pen.height / PT)
        body = Frame(SIDE / PT, FOOT / PT, self.room / PT, self.depth / PT, 0, 0, 0, 0)
        sheet = PageTemplate(frames=[body], onPage=self._draw_head, onPageEnd=self._draw_foot)
        template = BaseDocTemplate("", pagesize=size, pageTemplates=[sheet])
        template.build(self.story, canvasmaker=lambda *_, **__: pen.canvas)
        pages, right = pen.page - 1, pen.width - SIDE
        for page in range(1, pages + 1):
            with pen.define_form_behind(f"page-{page}", (0, 0, pen.width, FOOT)):
                pen.draw_text(right, 10, f"page {page} of {pages}", styles.RUNNING, "right")
        return pen.finish(DocumentInfo(title=title, author=author)), pages

    # --- matter ---

    def mark_values(self, text: str) -> str:
        """A text with a mark after each value that it states."""

        def mark(value: StatedValue) -> str:
            return value.text + self.origins.setdefault(value.origin, get_mark(len(self.origins)))

        return replace_stated(text, mark)

    def tell_origins(self) -> None:
        """Explain the marks of the section under it; the next one begins with the first mark again."""
        told = "; ".join(f"{mark}\N{NO-BREAK SPACE}{origin}" for origin, mark in self.origins.items())
        self.origins = {}
        if told:
            self.story.append(TableText(self.pen, self._build_legend(f"Where the values come from: {told}.")))

    def _build_legend(self, text: str) -> TableLines:
        return TableLines(rows=self.pen.wrap(text, ORIGINS, self.room), style=ORIGINS, above=0.8, under=UNDER)

    def ensure_room(self, height: float) -> None:
        """A new page unless this much is left of this one."""
        self.story.append(CondPageBreak(min(height, self.depth - 1) / PT))

    def add_drawing(self, height: float, draw: Callable[[], None], above: float = 0.0) -> None:
        """A drawing that takes this much of a page's height, from its lower left corner."""
        self.story.append(DrawnBlock(self.pen, min(height, self.depth), draw, above))

    def add_space(self, height: float) -> None:
        """Add empty space of this height."""
        self.add_drawing(height, lambda: None)

    def add_title(self, text: str, drop: float = 9.0) -> None:
        """The paper's own title, its baseline so far below the top."""

        def draw() -> None:
            self.pen.add_bookmark(self.name)
            self.pen.draw_text(0, 8, self.pen.shorten(text, styles.HEADING, self.room), styles.HEADING)

        self.add_drawing(drop + 8, draw)

    def add_heading(self, text: str, keep: float = 30.0) -> None:
        """A section's heading, kept together with `keep` mm of what follows."""
        self.tell_origins()

        def draw() -> None:
            self.pen.add_bookmark(text)
            self.pen.draw_text(0, 4.5, text, SECTION)

        self.ensure_room(keep + 12)
        self.add_drawing(10, draw, above=5)

    def add_note(self, text: str, style: TextStyle = styles.QUIET) -> None:
        """A paragraph that says itself where its values come from, or has such as count and name only."""
        rows = self.pen.wrap(text, style, self.room)
        self.story.append(TableText(self.pen, TableLines(rows=rows, style=style, under=UNDER)))

    def add_paragraph(self, text: str, style: TextStyle = styles.BODY) -> None:
        """A paragraph of the section; every value in it is stated with its origin."""
        rows = self.pen.wrap(self.mark_values(text), style, self.room)
        self.story.append(TableText(self.pen, TableLines(rows=rows, style=style, under=UNDER)))

    def add_facts(self, pairs: Sequence[tuple[str, str]], columns: int = 2) -> None:
        """Short facts in columns, each with its label above."""
        pen, width = self.pen, self.room / columns
        for k in range(0, len(pairs), columns):
            row = pairs[k : k + columns]
            row = [(self.mark_values(label), self.mark_values(value)) for label, value in row]
            texts = [pen.wrap(value, styles.BODY, width - 4) for _, value in row]
            depth = 4 + max(len(t) for t in texts) * styles.BODY.line + 2

            def draw(row: Any = row, texts: Any = texts, depth: float = depth) -> None:
                for i, ((label, _), lines) in enumerate(zip(row, texts, strict=True)):
                    pen.draw_text(i * width, depth - 2.6, label, styles.LABEL)
                    pen.draw_lines(i * width, depth - 6.6, lines, styles.BODY)

            self.add_drawing(depth, draw)

    def add_caution(self, text: str) -> None:
        """A caution over the whole width."""
        self.add_cautions((text,))

    def add_cautions(self, texts: Sequence[str]) -> None:
        """Cautions in one box over the whole width, each a paragraph of its own; nothing where there are none."""
        if not texts:
            return
        pen, gap = self.pen, 1.2
        parts = [pen.wrap(text, styles.SMALL, self.room - 8) for text in texts]
        depth = sum(len(rows) * styles.SMALL.line + gap for rows in parts) - gap + 4

        def draw() -> None:
            pen.draw_box(0, 3, self.room, depth, fill=styles.ASK_WASH, radius=1)
            pen.draw_box(0, 3, 1, depth, fill=styles.ASK_EDGE)
            at = 3 + depth - 4.6
            for rows in parts:
                pen.draw_lines(4, at, rows, styles.SMALL)
                at -= len(rows) * styles.SMALL.line + gap

        self.add_drawing(depth + 3, draw)

    def add_table(self, columns: Sequence[TableColumn], rows: Sequence[Sequence[str]]) -> None:
        """Rows of text; a row that fits on a page is never broken, and the head is repeated on each page."""
        if not rows:
            return
        rows = [[t if c.names else self.mark_values(t) for t, c in zip(row, columns, strict=True)] for row in rows]
        total = sum(c.share for c in columns)
        widths = [self.room * c.share / total for c in columns]
        heads = [
            TableText(
                self.pen,
                TableLines(rows=[c.title], style=HEAD, right=c.right, indent=PAD, above=3.4 - HEAD.mm, depth=5.0),
            )
            for c in columns
        ]
        cells = [heads, *(cells for row in rows for cells in self._list_rows(columns, widths, row))]
        plain: list[tuple[Any, ...]] = [("VALIGN", (0, 0), (-1, -1), "TOP")]
        plain += [(f"{side}PADDING", (0, 0), (-1, -1), 0) for side in ("LEFT", "RIGHT", "TOP", "BOTTOM")]
        rules = [
            ("LINEBELOW", (0, 0), (-1, 0), 0.25 / PT, styles.PALE),
            ("LINEBELOW", (0, 1), (-1, -1), 0.15 / PT, styles.HAIR),
        ]
        self.ensure_room(5 + max(cell.high for cell in cells[1]))
        self.story.append(
            LongTable(
                cells,
                colWidths=[w / PT for w in widths],
                style=TableStyle([*plain, *rules]),
                repeatRows=1,
                hAlign="LEFT",
            )
        )
        self.add_space(3)

    def _list_rows(
        self, columns: Sequence[TableColumn], widths: Sequence[float], row: Sequence[str]
    ) -> Iterator[list[TableText]]:
        """The cells of a row; of several, where it is longer than a page."""
        texts = [
            [t] if t == TICK else self.pen.wrap(t, c.style, w - 2 * PAD) if t else []
            for t, c, w in zip(row, columns, widths, strict=True)
        ]
        most = int((self.depth - 10) / max(c.style.line for c in columns))
        for start in range(0, max(1, *map(len, texts)), most):
            parts = [t[start : start + most] for t in texts]
            depth = max(len(t) * c.style.line for t, c in zip(parts, columns, strict=True)) + 2.4
            yield [
                TableText(
                    self.pen,
                    TableLines(rows=t, style=c.style, right=c.right, wash=c.wash, indent=PAD, above=1.0, depth=depth),
                )
                for c, t in zip(columns, parts, strict=True)
            ]

    def add_picture(self, height: float, draw: Callable[[float, float], None]) -> None:
        """A drawing of this height; `draw` gets its lower left corner."""
        self.add_drawing(height + 3, lambda: draw(0, 3))


def collect_repeats(plaques: Iterable[Plaque]) -> dict[str, RepeatedLettering]:
    """Lettering to repeat where a name is in a script the reading typeface has not: whole rows of the artwork."""
    out: dict[str, RepeatedLettering] = {}
    for plaque in plaques:
        for line in plaque.artwork.lines if plaque.artwork else ():
            for row in line.rows:
                if covers(row.text):
                    continue
                for run, is_own in split_by_font(row.text, SANS):
                    if not is_own and run.strip() == row.text.strip() and not any(p.turn for p in row.pieces):
                        out.setdefault(run, RepeatedLettering.from_row(row, line.cap_height))
    return out
