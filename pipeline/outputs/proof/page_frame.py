"""The frame of every page: margins, running title, foot with the page's mark, how to answer, order, page x of y."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from pipeline.core.language.texts import Texts
from pipeline.core.list_row import ListRow, get_row_file, get_row_number, group_row_spans, name_in_list
from pipeline.outputs.pdf import styles
from pipeline.outputs.pdf.canvas import PaperCanvas
from pipeline.outputs.pdf.curve_operators import trace_lines
from pipeline.outputs.pdf.form_fields import FormBuilder
from pipeline.outputs.pdf.text_style import TextStyle
from pipeline.outputs.proof import page_mark, type_sizes
from pipeline.outputs.proof.page_mark import PageMark, draw_page_mark
from pipeline.outputs.proof.volumes import Volume

SIDE = 18.0
TOP = 22.0  # from the paper's edge down to the body
FOOT = 29.0  # from the paper's edge up to the body
MARK_FOOT = 8.5  # from the paper's edge up to the page's mark
CORNER = 7.0  # from the paper's edges to the corner marks by which photographs of a page are aligned
ARM = 4.0  # arm of a corner mark
LABEL_DROP = 4.6  # distance of a field's label above its box
TICK = 5.2  # tick box
TICK_ROW = 7.2  # between rows of tick boxes
APART = 8.0  # between tick boxes of a row


@dataclass(slots=True)
class ProofPages:
    """Pages of one proof. `pages` is known before the first is drawn."""

    pen: PaperCanvas
    title: str
    shop: str
    telephone: str
    told: str  # order and revision, for the foot of the page
    mark: PageMark  # of the first page
    revision: str
    pages: int
    form: FormBuilder
    volume: Volume
    home: int  # the volume with the questions that concern several
    texts: Texts

    @property
    def name(self) -> str:
        """'Proof A', 'Proof A, volume 2 of 4'."""
        if self.volume.number:
            volume = describe_volume(self.texts, self.volume)
            return self.texts.render_text("proof.name.volume", revision=self.revision, volume=volume)
        return self.texts.render_text("proof.name", revision=self.revision)

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

    def begin_page(self, bookmark: str = "", *, running: bool = True) -> None:
        pen = self.pen
        pen.begin_page()
        if bookmark:
            pen.add_bookmark(bookmark)
        if running:
            with pen.define_form("head", (0, pen.height - TOP, pen.width, pen.height)) as new:
                if new:
                    self._draw_head()
            pen.draw_form("head")

    def _draw_head(self) -> None:
        pen, y = self.pen, self.pen.height - 15
        wide = pen.draw_text(
            self.right, y, pen.shorten(self.name, type_sizes.QUIET, self.room / 2), type_sizes.QUIET, "right"
        )
        title = pen.shorten(self.title, type_sizes.QUIET, self.room - wide - 8)
        pen.draw_text(self.left, y, title, type_sizes.QUIET)
        pen.draw_line(self.left, y - 2.6, self.right, y - 2.6, styles.HAIR)

    def end_page(self) -> None:
        pen = self.pen
        with pen.define_form("foot", (0, 0, pen.width, pen.height)) as new:
            if new:
                self._draw_foot()
        pen.draw_form("foot")
        page = self.texts.render_text("proof.page-of", page=pen.page, pages=self.pages)
        pen.draw_text(self.right, MARK_FOOT + 0.6, f"{self.told} · {page}", type_sizes.QUIET, "right")
        draw_page_mark(pen, replace(self.mark, page=pen.page), self.left, MARK_FOOT, styles.INK)
        pen.turn_page()

    def _draw_foot(self) -> None:
        pen, x = self.pen, self.left + page_mark.SIDE + 5
        y = MARK_FOOT + page_mark.SIDE
        pen.draw_line(self.left, y + 3, self.right, y + 3, styles.HAIR)
        reply = describe_other_replies(self.texts)
        pen.draw_lines(x, y - 2.8, pen.wrap(reply, type_sizes.QUIET, self.right - x), type_sizes.QUIET)
        room = (self.right - x) * 0.48
        rest = f" · {self.telephone}" if self.shop and self.telephone else self.telephone
        shop = pen.shorten(self.shop, type_sizes.QUIET, room - pen.measure_text(rest, type_sizes.QUIET))
        pen.draw_text(x, MARK_FOOT + 0.6, shop + rest, type_sizes.QUIET)
        pen.draw(trace_lines(*self._list_corners()), edge=styles.GREY, line=0.35)

    def _list_corners(self) -> list[list[tuple[float, float]]]:
        """Angles in the corners, which the sides of a picture of this page are found by."""
        wide, high = self.pen.width, self.pen.height
        out = []
        for x, dx in ((CORNER, ARM), (wide - CORNER, -ARM)):
            for y, dy in ((CORNER - 2, ARM), (high - CORNER, -ARM)):
                out.append([(x + dx, y), (x, y), (x, y + dy)])
        return out

    # --- fields ---

    def draw_tick_box(self, x: float, y: float, label: str, style: TextStyle = type_sizes.TICKED) -> None:
        """The drawing of a box to tick and its label right of it, the box's foot on y."""
        self.pen.draw_box(x, y, TICK, TICK, fill=styles.WHITE, edge=styles.FIELD, radius=0.7, line=0.3)
        self.pen.draw_text(x + TICK + 2.2, y + 1.4, label, style)

    def draw_tick_field(self, x: float, y: float, name: str, tip: str) -> None:
        """The field of a box to tick that is drawn."""
        self.form.add_tick_box(name, (x, y, TICK, TICK), tip)

    def draw_choice(
        self, x: float, y: float, name: str, option: str, label: str, tip: str, style: TextStyle = type_sizes.CHOICE
    ) -> None:
        """One of several choices, its circle's foot on y. tip: of all of them."""
        size = 6.0
        self.pen.draw_box(x, y, size, size, fill=styles.WHITE, edge=styles.FIELD, radius=size / 2, line=0.3)
        self.form.add_choice(name, option, (x, y, size, size), label, tip)
        self.pen.draw_text(x + size + 3, y + 1.6, label, style)

    def write(
        self, x: float, y: float, width: float, height: float, name: str, label: str, tip: str, *, several: bool = False
    ) -> None:
        """A box to write in, its foot on y, with its label above."""
        self.write_box(x, y, width, height, label)
        self.draw_text_field(x, y, width, height, name, tip, several=several)

    def write_box(self, x: float, y: float, width: float, height: float, label: str) -> None:
        """The drawing of a box to write in and its label."""
        self.pen.draw_text(x, y + height + 1.5, self.pen.shorten(label, type_sizes.QUIET, width), type_sizes.QUIET)
        self.pen.draw_box(x, y, width, height, fill=styles.WHITE, edge=styles.FIELD, radius=0.9, line=0.3)

    def draw_text_field(
        self, x: float, y: float, width: float, height: float, name: str, tip: str, *, several: bool = False
    ) -> None:
        """The field of a box to write in that is drawn."""
        inset = 0.6
        inner = (x + inset, y + inset / 2, width - 2 * inset, height - inset)
        self.form.add_text_field(name, inner, tip, several=several)


def place_ticks(pen: PaperCanvas, labels: Sequence[str], width: float) -> list[tuple[float, int]]:
    """Return where boxes to tick with these labels stand: how far from the left, and in which row, from 0."""
    out: list[tuple[float, int]] = []
    x, row = 0.0, 0
    for label in labels:
        wide = TICK + 2.2 + pen.measure_text(label, type_sizes.TICKED)
        if out and x + wide > width:
            x, row = 0.0, row + 1
        out.append((x, row))
        x += wide + APART
    return out


def describe_other_replies(texts: Texts) -> str:
    """How to answer without the form: by message, or with pictures of the pages on paper. At the foot alone: the last
    page has no room to say it twice in every language."""
    return f"{texts.render_text('proof.reply')} {texts.render_text('proof.reply.picture')}"


def describe_volume(texts: Texts, volume: Volume) -> str:
    """'volume 2 of 4'."""
    return texts.render_text("proof.volume", number=volume.number, count=volume.count)


def describe_rows(texts: Texts, rows: Iterable[ListRow]) -> str:
    """'row 5', 'rows 5 and 10', 'rows 5–8, 12'."""
    listed = set(rows)
    shown = list[str]()
    for first, last in group_row_spans(listed):
        low, high = get_row_number(first), get_row_number(last)
        span = str(low) if low == high else f"{low}–{high}" if high > low + 1 else f"{low}, {high}"
        shown.append(name_in_list(get_row_file(first), span))
    told = (
        texts.render_text("proof.rows.pair", first=shown[0], second=shown[1]) if len(shown) == 2 else ", ".join(shown)
    )
    return texts.render_plural("proof.rows", len(listed), rows=told)


def draw_heading(frame: ProofPages, text: str, intro: str = "") -> float:
    """A page's heading; the y where its matter begins."""
    pen = frame.pen
    y = frame.top - 9
    pen.draw_text(frame.left, y, pen.shorten(text, type_sizes.HEADING, frame.room), type_sizes.HEADING)
    y -= 9
    if intro:
        y = pen.draw_lines(frame.left, y, pen.wrap(intro, type_sizes.BODY, frame.room), type_sizes.BODY) - 3
    return y


def measure_heading(frame: ProofPages, intro: str = "") -> float:
    """Return how much of the body `draw_heading` takes, mm."""
    rows = len(frame.pen.wrap(intro, type_sizes.BODY, frame.room)) if intro else 0
    return 18 + (rows * type_sizes.BODY.line + 3 if rows else 0)


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
