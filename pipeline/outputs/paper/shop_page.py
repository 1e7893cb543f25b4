"""Pages for the workshop: headings, paragraphs, tables and boxes that flow down a page and on to the next. mm."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from pipeline.core.model import Plaque
from pipeline.outputs.paper import look
from pipeline.outputs.paper.about import About
from pipeline.outputs.paper.faces import SANS, covers
from pipeline.outputs.paper.foreign import Repeat, runs
from pipeline.outputs.paper.pen import Colour, Pen, Style

SIDE, TOP, FOOT = 16.0, 24.0, 19.0
PAD = 1.6
TABLE = Style(8.5, look.INK)
HEAD = Style(7, look.GREY)
TICK = "\0"
"""A cell with a box to tick."""
SECTION = Style(14, look.INK, look.HEADING.face, 1.25)


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a table: heading, share of the room, alignment, wash behind its cells."""

    title: str
    share: float
    right: bool = False
    wash: Colour | None = None
    style: Style = TABLE


@dataclass(slots=True)
class Book:
    """Pages that fill from the top. `y` is where the next thing hangs from."""

    pen: Pen
    title: str
    mark: str  # at the foot of each page
    pages: int
    y: float = 0.0
    started: bool = False
    name: str = "Shop sheet"

    @property
    def left(self) -> float:
        return SIDE

    @property
    def right(self) -> float:
        return self.pen.width - SIDE

    @property
    def room(self) -> float:
        return self.pen.width - 2 * SIDE

    @property
    def depth(self) -> float:
        """Height of a page's body."""
        return self.pen.height - TOP - FOOT

    @property
    def left_over(self) -> float:
        return self.y - FOOT

    # --- pages ---

    def page(self) -> None:
        """A new page."""
        if self.started:
            self.close()
        self.started = True
        pen = self.pen
        pen.begin()
        y = pen.height - 14
        pen.text(self.left, y, pen.shorten(self.title, look.RUNNING, self.room * 0.7), look.RUNNING)
        pen.text(self.right, y, self.name, look.RUNNING, "right")
        pen.line(self.left, y - 2.4, self.right, y - 2.4, look.HAIR)
        self.y = pen.height - TOP

    def close(self) -> None:
        """The foot of the page, and on to the next."""
        pen = self.pen
        pen.line(self.left, 14.2, self.right, 14.2, look.HAIR)
        pen.text(self.left, 10, self.mark, look.RUNNING)
        pen.text(self.right, 10, f"page {pen.page} of {self.pages}", look.RUNNING, "right")
        pen.turn_page()

    def need(self, height: float) -> None:
        """A new page unless this much is left of this one."""
        if self.left_over < min(height, self.depth):
            self.page()

    # --- matter ---

    def heading(self, text: str, keep: float = 30.0) -> None:
        """A section's heading, kept together with `keep` mm of what follows."""
        self.need(keep + 12)
        if self.y < self.pen.height - TOP - 1:
            self.y -= 5
        self.pen.bookmark(text)
        self.y -= 5.5
        self.pen.text(self.left, self.y, text, SECTION)
        self.y -= 4.5

    def paragraph(self, text: str, style: Style = look.BODY, x: float = 0.0, room: float | None = None) -> None:
        rows = self.pen.wrap(text, style, (room or self.room) - x)
        for row in rows:
            self.need(style.line)
            self.pen.text(self.left + x, self.y - style.mm, row, style)
            self.y -= style.line
        self.y -= 1.2

    def facts(self, pairs: Sequence[tuple[str, str]], columns: int = 2) -> None:
        """Short facts in columns, each with its label above."""
        width = self.room / columns
        for k in range(0, len(pairs), columns):
            row = pairs[k : k + columns]
            texts = [self.pen.wrap(value, look.BODY, width - 4) for _, value in row]
            depth = 4 + max(len(t) for t in texts) * look.BODY.line + 2
            self.need(depth)
            for i, ((label, _), lines) in enumerate(zip(row, texts, strict=True)):
                x = self.left + i * width
                self.pen.text(x, self.y - 2.6, label, look.LABEL)
                self.pen.lines(x, self.y - 6.6, lines, look.BODY)
            self.y -= depth

    def caution(self, text: str) -> None:
        """A caution over the whole width."""
        rows = self.pen.wrap(text, look.SMALL, self.room - 8)
        depth = len(rows) * look.SMALL.line + 4
        self.need(depth + 2)
        self.pen.box(self.left, self.y - depth, self.room, depth, fill=look.ASK_WASH, radius=1)
        self.pen.box(self.left, self.y - depth, 1, depth, fill=look.ASK_EDGE)
        self.pen.lines(self.left + 4, self.y - 4.6, rows, look.SMALL)
        self.y -= depth + 3

    def table(self, columns: Sequence[Column], rows: Sequence[Sequence[str]]) -> None:
        """Rows of text; a row is never broken over pages, and the head is repeated on each."""
        total = sum(c.share for c in columns)
        widths = [self.room * c.share / total for c in columns]
        if not rows:
            return

        def head() -> None:
            x = self.left
            for c, w in zip(columns, widths, strict=True):
                at = x + w - PAD if c.right else x + PAD
                self.pen.text(at, self.y - 3.4, c.title, HEAD, "right" if c.right else "left")
                x += w
            self.y -= 5
            self.pen.line(self.left, self.y, self.right, self.y, look.PALE, 0.25)

        def wrapped(row: Sequence[str]) -> tuple[list[list[str]], float]:
            cells = [
                [t] if t == TICK else self.pen.wrap(t, c.style, w - 2 * PAD) if t else []
                for t, c, w in zip(row, columns, widths, strict=True)
            ]
            return cells, max(len(t) * c.style.line for t, c in zip(cells, columns, strict=True)) + 2.4

        self.need(5 + wrapped(rows[0])[1])
        head()
        for row in rows:
            cells, depth = wrapped(row)
            if self.left_over < depth:
                self.page()
                head()
            x = self.left
            for lines, c, w in zip(cells, columns, widths, strict=True):
                if c.wash and lines:
                    self.pen.box(x, self.y - depth + 0.4, w, depth - 0.8, fill=c.wash, radius=0.6)
                y = self.y - 1.0 - c.style.mm
                for line in lines:
                    if line == TICK:
                        self.pen.box(x + PAD, y - 0.6, 3.2, 3.2, fill=look.WHITE, edge=look.GREY, radius=0.4)
                        continue
                    at = x + w - PAD if c.right else x + PAD
                    self.pen.text(at, y, line, c.style, "right" if c.right else "left")
                    y -= c.style.line
                x += w
            self.y -= depth
            self.pen.line(self.left, self.y, self.right, self.y, look.HAIR, 0.15)
        self.y -= 3

    def picture(self, height: float, draw: Callable[[float, float], None]) -> None:
        """A drawing of this height; `draw` gets its lower left corner."""
        self.need(height + 2)
        draw(self.left, self.y - height)
        self.y -= height + 3


def repeats(plaques: Iterable[Plaque]) -> dict[str, Repeat]:
    """Lettering to repeat where a name is in a script the reading face has not: whole rows of the artwork."""
    out: dict[str, Repeat] = {}
    for plaque in plaques:
        for line in plaque.artwork.lines if plaque.artwork else ():
            for row in line.rows:
                if covers(row.text):
                    continue
                for run, is_own in runs(row.text, SANS):
                    if not is_own and run.strip() == row.text.strip() and not any(p.turn for p in row.pieces):
                        out.setdefault(run, Repeat.of_row(row, line.cap_height))
    return out


def printed(pen: Pen, title: str, author: str) -> bytes:
    """The finished document; equal input gives equal bytes. No clock is read."""
    return b"".join(pen.close(About(title=title, author=author)))
