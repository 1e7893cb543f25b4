"""The tick list of the shop sheet: every plaque with a small picture, its file, its fingerprint and boxes to tick."""

from __future__ import annotations

from pipeline.core.model import Outcome, Plaque
from pipeline.core.order import OrderFolder
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
    wide = min(THUMB * outcome.blank.width / outcome.blank.height, 42.0)
    scale = min(wide / outcome.blank.width, THUMB / outcome.blank.height)
    depth = outcome.blank.height * scale + 4
    depth = max(depth, 24.0)
    at = _heads(book, boxes)
    for p in going:
        if book.left_over < depth:
            book.page()
            at = _heads(book, boxes)
        if book.pages:
            _row(book, outcome, plan, p, scale, depth, at)
        else:  # the first time round the pages are only counted
            book.y -= depth
    stopped = [p for p in outcome.plaques if p.state == "stopped"]
    if stopped:
        named = ", ".join(f"row {p.recipient.row}" for p in stopped)
        book.y -= 2
        book.paragraph(f"Not to be cut, see check.xlsx: {named}.", look.SMALL)


def _heads(book: Book, boxes: list[str]) -> list[float]:
    """The names of the boxes; gives where each column stands."""
    step = 14.5
    first = book.right - step * len(boxes)
    at = [first + step * (k + 0.5) for k in range(len(boxes))]
    for x, name in zip(at, boxes, strict=True):
        book.pen.text(x, book.y - 3, name, look.LABEL, "centre")
    book.y -= 5
    book.pen.line(book.left, book.y, book.right, book.y, look.PALE, 0.25)
    return at


def _row(
    book: Book, outcome: Outcome, plan: ShopPlan, plaque: Plaque, scale: float, depth: float, at: list[float]
) -> None:
    pen, blank = book.pen, outcome.blank
    low = book.y - depth
    _thumb(book, outcome, plan, plaque, book.left, book.y - 2 - blank.height * scale, scale)
    x = book.left + blank.width * scale + 5
    room = at[0] - 8 - x
    y = book.y - 4.6
    copies = f" · {plaque.recipient.copies} pieces" if plaque.recipient.copies > 1 else ""
    ask = " · question open" if plaque.state == "ask" else ""
    name, *others = [t for t in plaque.text if t] or [""]
    y = pen.lines(x, y, pen.wrap(name, look.BODY, room)[:2], look.BODY)
    for told in (" · ".join(others), f"row {plaque.recipient.row}{copies}{ask}", plaque.cut_file):
        if told:
            pen.text(x, y, pen.shorten(told, look.LABEL, room), look.LABEL)
            y -= look.LABEL.line
    pen.text(x, y - 0.3, plaque.fingerprint, look.SMALL)
    for bx in at:
        pen.box(bx - BOX / 2, book.y - 9.2, BOX, BOX, fill=look.WHITE, edge=look.GREY, radius=0.5, line=0.25)
        if plaque.recipient.copies > 1:
            pen.text(bx, book.y - 12.6, f"/ {plaque.recipient.copies}", look.LABEL, "centre")
    book.y = low
    pen.line(book.left, low, book.right, low, look.HAIR, 0.15)


def _thumb(book: Book, outcome: Outcome, plan: ShopPlan, plaque: Plaque, x: float, y: float, scale: float) -> None:
    """The plaque, small: edge, pocket and lettering as in the cut file. Its text is not put in again for searching."""
    pen, blank = book.pen, outcome.blank
    key = "thumb"
    tones = look.material(plan.cutter.kind)
    with pen.form(key, (-1, -1, blank.width + 1, blank.height + 1)) as new:
        if new:
            edge = chain_ops((blank.edge, *blank.holes))
            pen.op(f"{pen.fill(tones['face'])} {pen.stroke(tones['edge'], 0.15 / scale)} {edge} B*")
            if blank.pockets:
                pen.op(f"{pen.fill(look.POCKET)} {chain_ops(blank.pockets)} f*")
    with pen.kept(f"{number(scale)} 0 0 {number(scale)} {number(x)} {number(y)} cm"):
        pen.place(key)
        if plaque.artwork is not None:
            pen.op(f"{pen.fill(tones['cut'])} {pen.stroke(tones['cut'], plan.cutter.line_width or 0.25)} 1 J 1 j")
            for row in (row for line in plaque.artwork.lines if line.side == "front" for row in line.rows):
                pen.row(row, plan.cutter.line_width or 0.25)
