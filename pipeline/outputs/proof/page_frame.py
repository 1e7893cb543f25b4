"""The frame of every page: margins, running title, foot with order, revision and page x of y."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from pipeline.core.texts import Texts
from pipeline.outputs.pdf import styles
from pipeline.outputs.pdf.canvas import PaperCanvas
from pipeline.outputs.pdf.form_fields import FormBuilder
from pipeline.outputs.pdf.text_style import TextStyle
from pipeline.outputs.proof.volumes import Volume

SIDE = 18.0
TOP = 25.0  # from the paper's edge down to the body
FOOT = 20.0  # from the paper's edge up to the body
LABEL_DROP = 3.4  # a field's label stands this far above its box
TICK = 4.2  # a box to tick


@dataclass(slots=True)
class ProofPages:
    """Pages of one proof. `pages` is known before the first is drawn."""

    pen: PaperCanvas
    title: str
    shop: str
    mark: str  # order and revision, as they stand at the foot
    revision: str
    pages: int
    form: FormBuilder
    volume: Volume
    texts: Texts

    @property
    def name(self) -> str:
        """'Proof A', 'Proof A, volume 2 of 4'."""
        if self.volume.number:
            volume = volume_told(self.texts, self.volume)
            return self.texts.text("proof.name.volume", revision=self.revision, volume=volume)
        return self.texts.text("proof.name", revision=self.revision)

    @property
    def left(self) -> float:
        return SIDE

    @property
    def right(self) -> float:
        return self.pen.width - SIDE

    @property
    def room(self) -> float:
        """Width of the body, mm."""
        return self.pen.width - 2 * SIDE

    @property
    def top(self) -> float:
        return self.pen.height - TOP

    @property
    def depth(self) -> float:
        """Height of the body, mm."""
        return self.pen.height - TOP - FOOT

    def begin(self, bookmark: str = "", *, running: bool = True) -> None:
        pen = self.pen
        pen.begin()
        if bookmark:
            pen.bookmark(bookmark)
        if running:
            with pen.form("head", (0, pen.height - TOP, pen.width, pen.height)) as new:
                if new:
                    self._head()
            pen.place("head")

    def _head(self) -> None:
        pen, y = self.pen, self.pen.height - 15
        pen.text(self.left, y, pen.shorten(self.title, styles.RUNNING, self.room * 0.7), styles.RUNNING)
        pen.text(self.right, y, self.name, styles.RUNNING, "right")
        pen.line(self.left, y - 2.4, self.right, y - 2.4, styles.HAIR)

    def end(self) -> None:
        pen = self.pen
        with pen.form("foot", (0, 0, pen.width, FOOT)) as new:
            if new:
                self._foot()
        pen.place("foot")
        page = self.texts.text("proof.page-of", page=pen.page, pages=self.pages)
        pen.text(self.right, 10, page, styles.RUNNING, "right")
        pen.turn_page()

    def _foot(self) -> None:
        pen = self.pen
        pen.line(self.left, 14.2, self.right, 14.2, styles.HAIR)
        pen.text(self.left, 10, pen.shorten(self.shop, styles.RUNNING, self.room / 3), styles.RUNNING)
        pen.text(pen.width / 2, 10, self.mark, styles.RUNNING, "centre")

    # --- fields ---

    def tick(self, x: float, y: float, name: str, label: str, tip: str, style: TextStyle = styles.SMALL) -> None:
        """A box to tick with its label right of it, the box's foot on y."""
        self.tick_box(x, y, label, style)
        self.ticked(x, y, name, tip)

    def tick_box(self, x: float, y: float, label: str, style: TextStyle) -> None:
        """The drawing of a box to tick and its label."""
        self.pen.box(x, y, TICK, TICK, fill=styles.WHITE, edge=styles.FIELD, radius=0.6)
        self.pen.text(x + TICK + 2, y + 1.1, label, style)

    def ticked(self, x: float, y: float, name: str, tip: str) -> None:
        """The field of a box to tick that is drawn."""
        self.form.tick(name, (x, y, TICK, TICK), tip)

    def choice(
        self, x: float, y: float, name: str, option: str, label: str, tip: str, style: TextStyle = styles.BODY
    ) -> None:
        """One of several choices, its circle's foot on y. tip: of all of them."""
        size = 4.6
        self.pen.box(x, y, size, size, fill=styles.WHITE, edge=styles.FIELD, radius=size / 2)
        self.form.choice(name, option, (x, y, size, size), label, tip)
        self.pen.text(x + size + 2.5, y + 1.2, label, style)

    def write(
        self, x: float, y: float, width: float, height: float, name: str, label: str, tip: str, *, several: bool = False
    ) -> None:
        """A box to write in, its foot on y, with its label above."""
        self.write_box(x, y, width, height, label)
        self.written(x, y, width, height, name, tip, several=several)

    def write_box(self, x: float, y: float, width: float, height: float, label: str) -> None:
        """The drawing of a box to write in and its label."""
        self.pen.text(x, y + height + 1.1, label, styles.LABEL)
        self.pen.box(x, y, width, height, fill=styles.WHITE, edge=styles.FIELD, radius=0.8)

    def written(
        self, x: float, y: float, width: float, height: float, name: str, tip: str, *, several: bool = False
    ) -> None:
        """The field of a box to write in that is drawn."""
        inset = 0.6
        inner = (x + inset, y + inset / 2, width - 2 * inset, height - inset)
        self.form.text(name, inner, tip, several=several)


def volume_told(texts: Texts, volume: Volume) -> str:
    """'volume 2 of 4'."""
    return texts.text("proof.volume", number=volume.number, count=volume.count)


def rows_told(texts: Texts, rows: Iterable[int]) -> str:
    """'row 5', 'rows 5 and 10', 'rows 5–8, 12'."""
    spans: list[tuple[int, int]] = []
    for row in sorted(set(rows)):
        if spans and row == spans[-1][1] + 1:
            spans[-1] = (spans[-1][0], row)
        else:
            spans.append((row, row))
    shown = [str(a) if a == b else f"{a}–{b}" if b > a + 1 else f"{a}, {b}" for a, b in spans]
    told = texts.text("proof.rows.pair", first=shown[0], second=shown[1]) if len(shown) == 2 else ", ".join(shown)
    return texts.plural("proof.rows", sum(b - a + 1 for a, b in spans), rows=told)


def draw_heading(frame: ProofPages, text: str, intro: str = "") -> float:
    """A page's heading; the y where its matter begins."""
    pen = frame.pen
    y = frame.top - 8
    pen.text(frame.left, y, text, styles.HEADING)
    y -= 8
    if intro:
        y = pen.lines(frame.left, y, pen.wrap(intro, styles.BODY, frame.room * 0.86), styles.BODY) - 3
    return y


def heading_depth(frame: ProofPages, intro: str = "") -> float:
    """How much of the body `draw_heading` takes, mm."""
    rows = len(frame.pen.wrap(intro, styles.BODY, frame.room * 0.86)) if intro else 0
    return 16 + (rows * styles.BODY.line + 3 if rows else 0)


def paginate(heights: list[float], first: float, later: float) -> list[list[int]]:
    """Items of these heights on pages: `first` mm on the first page, `later` on the others. Each page holds one."""
    pages: list[list[int]] = []
    left = 0.0
    for i, height in enumerate(heights):
        if not pages or height > left:
            left = later if pages else first
            pages.append([])
        pages[-1].append(i)
        left -= height
    return pages
