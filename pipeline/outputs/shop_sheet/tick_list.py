"""The tick list of the shop sheet: every plaque with a small picture, its file, its fingerprint and boxes to tick."""

from __future__ import annotations

from dataclasses import dataclass

from reportlab.platypus import Flowable

from pipeline.core.config.order import OrderFolder
from pipeline.core.model import Blank, Outcome, Plaque
from pipeline.core.work_steps import list_steps
from pipeline.cutting.cutters import Cutter
from pipeline.outputs.pdf import styles
from pipeline.outputs.pdf.canvas import PaperCanvas, build_move
from pipeline.outputs.pdf.curve_operators import trace_chains
from pipeline.outputs.pdf.fonts import PT
from pipeline.outputs.pdf.material_look import PieceLook, choose_look
from pipeline.outputs.shop_sheet.shop_page import ShopPages
from pipeline.shopfloor.shop_plan import ShopPlan, is_sanded

THUMB = 19.0
"""Height of a row's picture at most, mm."""
BOX = 4.0
HEAD = 5.0  # height of the box headings


def list_boxes(plan: ShopPlan, folder: OrderFolder) -> list[str]:
    """List what has to be ticked off for each piece: only what this order has, in the order of its work."""
    boxes = {"letter": "engraved"}
    if plan.pour is not None:
        boxes["pour"] = "poured"
    if plan.boards is not None:
        boxes["saw"] = "trimmed"
    if is_sanded(folder.order, poured=plan.pour is not None):
        boxes["sand"] = "sanded"
    return [*(boxes[step] for step in list_steps(folder.order) if step in boxes), "checked", "packed"]


def draw_tick_pages(book: ShopPages, outcome: Outcome, folder: OrderFolder, plan: ShopPlan) -> None:
    """The plaques in the order of the client's rows; stopped ones are named at the end."""
    going = [p for p in outcome.plaques if p.state != "stopped"]
    boxes = list_boxes(plan, folder)
    book.add_heading("Tick list", keep=60)
    book.add_paragraph(
        "“Checked” means compared with the signed proof, letter by letter. Where a row has several pieces, "
        "count them off in its boxes.",
        styles.SMALL,
    )
    blank = outcome.blank
    scale = min(min(THUMB * blank.width / blank.height, 42.0) / blank.width, THUMB / blank.height)
    list_ = _List(
        pen=book.pen,
        room=book.room,
        blank=blank,
        cutter=plan.cutter,
        look=choose_look(folder.order, plan.cutter.surface),
        scale=scale,
        depth=max(blank.height * scale + 4, 24.0),
        boxes=tuple(boxes),
        at=_place_boxes(book.room, boxes),
        fixed=folder.order.fixed_lines,
        plaques=tuple(going),
    )
    book.story.append(_SharedRows(list_, 0, len(going)))
    stopped = [p for p in outcome.plaques if p.state == "stopped"]
    if stopped:
        named = ", ".join(f"row {p.recipient.row}" for p in stopped)
        book.add_space(2)
        book.add_note(f"Not to be cut, see check.xlsx: {named}.", styles.SMALL)


def _place_boxes(room: float, boxes: list[str]) -> list[float]:
    """Return where the column of each box stands."""
    step = 14.5
    first = room - step * len(boxes)
    return [first + step * (k + 0.5) for k in range(len(boxes))]


class _SharedRows(Flowable):  # type: ignore[misc]
    """Some of the list's rows under a head of their own; they part between any two."""

    def __init__(self, rows: _List, first: int, end: int) -> None:
        super().__init__()
        self.rows, self.first, self.end = rows, first, end

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """Its size in points."""
        return width, (HEAD + (self.end - self.first) * self.rows.depth) / PT

    def split(self, width: float, height: float) -> list[Flowable]:
        """Split off as many rows as there is room for."""
        fit = int((height * PT - HEAD) / self.rows.depth + 1e-6)
        if not 0 < fit < self.end - self.first:
            return []
        return [
            _SharedRows(self.rows, *part) for part in ((self.first, self.first + fit), (self.first + fit, self.end))
        ]

    def draw(self) -> None:
        with self.rows.pen.in_mm():
            top = HEAD + (self.end - self.first) * self.rows.depth
            self.rows.draw_heads(top)
            for k in range(self.first, self.end):
                self.rows.draw(self.rows.plaques[k], top - HEAD - (k - self.first) * self.rows.depth)


@dataclass(frozen=True, slots=True, kw_only=True)
class _List:
    """Everything that the rows of the list share, and the plaques they are of."""

    pen: PaperCanvas
    room: float
    blank: Blank
    cutter: Cutter
    look: PieceLook
    scale: float  # of the pictures
    depth: float  # of a row
    boxes: tuple[str, ...]
    at: list[float]  # x of each box's centre
    fixed: frozenset[int]  # numbers of lines whose text is the same on every plaque
    plaques: tuple[Plaque, ...]

    def draw_heads(self, top: float) -> None:
        """The names of the boxes."""
        for x, name in zip(self.at, self.boxes, strict=True):
            self.pen.draw_text(x, top - 3, name, styles.LABEL, "centre")
        self.pen.draw_line(0, top - HEAD, self.room, top - HEAD, styles.PALE, 0.25)

    def draw(self, plaque: Plaque, top: float) -> None:
        """One row, hanging from `top`."""
        pen = self.pen
        self._draw_thumb(plaque, 0, top - 2 - self.blank.height * self.scale)
        x = self.blank.width * self.scale + 5
        room = self.at[0] - 8 - x
        y = top - 4.6
        copies = f" · {plaque.recipient.copies} pieces" if plaque.recipient.copies > 1 else ""
        ask = " · question open" if plaque.state == "ask" else ""
        name, others = plaque.name, plaque.beside_name
        y = pen.draw_lines(x, y, pen.wrap(name, styles.BODY, room)[:2], styles.BODY)
        for told in (" · ".join(others), f"row {plaque.recipient.row}{copies}{ask}", plaque.cut_file):
            if told:
                pen.draw_text(x, y, pen.shorten(told, styles.LABEL, room), styles.LABEL)
                y -= styles.LABEL.line
        pen.draw_text(x, y - 0.3, plaque.fingerprint, styles.SMALL)
        with pen.define_form("boxes", (-1, -self.depth - 1, self.room + 1, 0)) as new:
            if new:
                for bx in self.at:
                    pen.draw_box(
                        bx - BOX / 2, -9.2, BOX, BOX, fill=styles.WHITE, edge=styles.GREY, radius=0.5, line=0.25
                    )
                pen.draw_line(0, -self.depth, self.room, -self.depth, styles.HAIR, 0.15)
        pen.draw_form("boxes", build_move(0, top))
        if plaque.recipient.copies > 1:
            for bx in self.at:
                pen.draw_text(bx, top - 12.6, f"/ {plaque.recipient.copies}", styles.LABEL, "centre")

    def _draw_thumb(self, plaque: Plaque, x: float, y: float) -> None:
        """The plaque, small: edge, pocket and lettering as in the cut file. Its text is not put in again for
        searching."""
        pen, blank = self.pen, self.blank
        box = (-1.0, -1.0, blank.width + 1, blank.height + 1)
        tones, point = self.look, self.cutter.line_width or 0.25
        with pen.define_form("thumb", box) as new:
            if new:
                edge = trace_chains((blank.edge, *blank.holes))
                pen.draw(edge, fill=tones.face, edge=tones.edge, line=0.15 / self.scale, even_odd=True)
                if blank.pockets:
                    pen.draw(trace_chains(blank.pockets), fill=styles.POCKET, even_odd=True)
        with pen.save_state(build_move(x, y, self.scale)):
            pen.draw_form("thumb")
            if plaque.artwork is not None:
                pen.set_round_ink(tones.cut, point)
                for line in plaque.artwork.parts:
                    for row in line.rows if line.side == "front" else ():
                        if line.line in self.fixed or not line.line:  # many plaques share their artwork
                            pen.repeat_row(row, point, box)
                        else:
                            pen.draw_row(row, point)
