"""The tick list of the shop sheet: every plaque with a small picture, its file, its fingerprint and boxes to tick."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.core.model import Blank, Outcome, Plaque
from pipeline.core.order import OrderFolder
from pipeline.cutting.cutters import Cutter
from pipeline.outputs.paper import look
from pipeline.outputs.paper.curves import chain_ops, number
from pipeline.outputs.paper.shop_page import Book
from pipeline.shopfloor.plan import ShopPlan

THUMB = 19.0
"""Height of a row's picture at most, mm."""
BOX = 4.0


def boxes_of(plan: ShopPlan, folder: OrderFolder) -> list[str]:
    """What has to be ticked off for each piece: only what this order has."""
    out = ["engraved"]
    if plan.pour is not None:
        out.append("poured")
    if plan.boards is not None:
        out.append("trimmed")
    if folder.order.finish.sanded_off > 0 or plan.pour is not None:
        out.append("sanded")
    return [*out, "checked", "packed"]


def tick_pages(book: Book, outcome: Outcome, folder: OrderFolder, plan: ShopPlan) -> None:
    """The plaques in the order of the client's rows; stopped ones are named at the end."""
    going = [p for p in outcome.plaques if p.state != "stopped"]
    boxes = boxes_of(plan, folder)
    book.heading("Tick list", keep=60)
    book.paragraph(
        "“Checked” is against the signed proof, letter by letter. Boxes are for each piece of a row.", look.SMALL
    )
    blank = outcome.blank
    scale = min(min(THUMB * blank.width / blank.height, 42.0) / blank.width, THUMB / blank.height)
    rows = _Rows(
        book=book,
        blank=blank,
        cutter=plan.cutter,
        scale=scale,
        depth=max(blank.height * scale + 4, 24.0),
        at=_places(book, boxes),
        fixed=folder.order.fixed_lines,
    )
    rows.heads(boxes)
    for p in going:
        if book.left_over < rows.depth:
            book.page()
            rows.heads(boxes)
        if book.pages:
            rows.draw(p)
        book.y -= rows.depth  # the first time round the pages are only counted
    stopped = [p for p in outcome.plaques if p.state == "stopped"]
    if stopped:
        named = ", ".join(f"row {p.recipient.row}" for p in stopped)
        book.y -= 2
        book.paragraph(f"Not to be cut, see check.xlsx: {named}.", look.SMALL)


def _places(book: Book, boxes: list[str]) -> list[float]:
    """Where the column of each box stands."""
    step = 14.5
    first = book.right - step * len(boxes)
    return [first + step * (k + 0.5) for k in range(len(boxes))]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Rows:
    """What all rows of the list share."""

    book: Book
    blank: Blank
    cutter: Cutter
    scale: float  # of the pictures
    depth: float  # of a row
    at: list[float]  # the middle of each box
    fixed: frozenset[int]  # numbers of the lines that say the same on every plaque

    def heads(self, boxes: list[str]) -> None:
        """The names of the boxes."""
        book = self.book
        for x, name in zip(self.at, boxes, strict=True):
            book.pen.text(x, book.y - 3, name, look.LABEL, "centre")
        book.y -= 5
        book.pen.line(book.left, book.y, book.right, book.y, look.PALE, 0.25)

    def draw(self, plaque: Plaque) -> None:
        """One row, hanging from where the page is filled to."""
        book, pen, top = self.book, self.book.pen, self.book.y
        self._thumb(plaque, book.left, top - 2 - self.blank.height * self.scale)
        x = book.left + self.blank.width * self.scale + 5
        room = self.at[0] - 8 - x
        y = top - 4.6
        copies = f" · {plaque.recipient.copies} pieces" if plaque.recipient.copies > 1 else ""
        ask = " · question open" if plaque.state == "ask" else ""
        name, *others = [t for t in plaque.text if t] or [""]
        y = pen.lines(x, y, pen.wrap(name, look.BODY, room)[:2], look.BODY)
        for told in (" · ".join(others), f"row {plaque.recipient.row}{copies}{ask}", plaque.cut_file):
            if told:
                pen.text(x, y, pen.shorten(told, look.LABEL, room), look.LABEL)
                y -= look.LABEL.line
        pen.text(x, y - 0.3, plaque.fingerprint, look.SMALL)
        with pen.form("boxes", (book.left - 1, -self.depth - 1, book.right + 1, 0)) as new:
            if new:
                for bx in self.at:
                    pen.box(bx - BOX / 2, -9.2, BOX, BOX, fill=look.WHITE, edge=look.GREY, radius=0.5, line=0.25)
                pen.line(book.left, -self.depth, book.right, -self.depth, look.HAIR, 0.15)
        pen.place("boxes", f"1 0 0 1 0 {number(top)}")
        if plaque.recipient.copies > 1:
            for bx in self.at:
                pen.text(bx, top - 12.6, f"/ {plaque.recipient.copies}", look.LABEL, "centre")

    def _thumb(self, plaque: Plaque, x: float, y: float) -> None:
        """The plaque, small: edge, pocket and lettering as in the cut file. Its text is not put in again for
        searching."""
        pen, blank, scale = self.book.pen, self.blank, number(self.scale)
        box = (-1.0, -1.0, blank.width + 1, blank.height + 1)
        tones, point = look.material(self.cutter.kind), self.cutter.line_width or 0.25
        with pen.form("thumb", box) as new:
            if new:
                edge = chain_ops((blank.edge, *blank.holes))
                pen.op(f"{pen.fill(tones['face'])} {pen.stroke(tones['edge'], 0.15 / self.scale)} {edge} B*")
                if blank.pockets:
                    pen.op(f"{pen.fill(look.POCKET)} {chain_ops(blank.pockets)} f*")
        with pen.kept(f"{scale} 0 0 {scale} {number(x)} {number(y)} cm"):
            pen.place("thumb")
            if plaque.artwork is not None:
                pen.op(f"{pen.fill(tones['cut'])} {pen.stroke(tones['cut'], point)} 1 J 1 j")
                for line in plaque.artwork.lines:
                    for row in line.rows if line.side == "front" else ():
                        if line.line in self.fixed:
                            pen.row_again(row, point, box)
                        else:
                            pen.row(row, point)
