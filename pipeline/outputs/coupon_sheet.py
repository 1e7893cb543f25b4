"""coupon.pdf: the coupon drawn, how each block is to be cut, and a form for what came out clean."""

from __future__ import annotations

import json
from collections.abc import Iterable
from pathlib import Path

from pipeline.core.model import Artwork, Blank
from pipeline.core.storage.files import write_whole
from pipeline.cutting.coupon import BLOCKS, CouponPlan
from pipeline.outputs.pdf import styles
from pipeline.outputs.pdf.canvas import PaperCanvas, build_move
from pipeline.outputs.pdf.curve_operators import trace_chains
from pipeline.outputs.pdf.form_fields import FormBuilder
from pipeline.outputs.pdf.material_look import METAL
from pipeline.outputs.pdf.metadata import DocumentInfo
from pipeline.outputs.pdf.text_style import PAPERS, TextStyle

SIDE = 16.0
IDENTITY = "coupon"
"""The hidden field that says what the coupon was of."""
MEASURED = "Measured by, on"
"""Names of the two fields for who measured and when."""
FORM = 1
"""Version of the form; a later one may differ."""
_KINDS = (("stroke", "Strokes, mm"), ("land", "Lands, mm"))
SMALL = TextStyle(7, styles.INK)
_CAUTION = (
    "Cut it as you cut an order: the same machine, cutter, holding and finish. Eyes and ears protected, dust led away, "
    "nothing loose near a turning cutter; never look into a beam. Local rules, data sheets and the machine's manual "
    "come first."
)


def build_field_name(kind: str, block: int, number: int) -> str:
    """Build the name of the box of one stroke or land."""
    return f"{kind}_{block}_{number}"


def write_coupon_sheet(
    path: Path, plan: CouponPlan, artwork: Artwork, blank: Blank, *, paper: str, file: str, shop: str
) -> None:
    """Write the sheet. file: the cut file's name. CannotRun when it cannot be written."""
    pen = PaperCanvas(*PAPERS[paper])
    form = FormBuilder(pen)
    pen.begin_page()
    room, y = pen.width - 2 * SIDE, pen.height - 20
    pen.add_bookmark("Coupon")
    title = f"Coupon: {plan.cutter.name} in {plan.material.name}"
    pen.draw_text(SIDE, y, pen.shorten(title, styles.HEADING, room), styles.HEADING)
    y = _draw_lines(pen, y - 8, _list_instructions(plan, file), room)
    scale = min(room / blank.width, 96.0 / blank.height, 1.0)
    y -= blank.height * scale + 2
    with pen.save_state(build_move(SIDE, y, scale)):
        pen.draw(trace_chains((blank.edge,)), fill=METAL.face, edge=METAL.edge, line=0.2)
        pen.set_round_ink(METAL.cut, plan.cutter.line_width or 0.1)
        for line in artwork.lines:
            for row in line.rows:
                pen.draw_row(row, plan.cutter.line_width or 0.1)
    pen.draw_text(
        SIDE, y - 4, f"scale {scale:.2f} : 1; block 1 is at the bottom; numbers run from the left", styles.QUIET
    )
    y = _draw_form(pen, form, plan, y - 12, room)
    y = _draw_lines(pen, y - 2, [_CAUTION], room)
    identity = {"form": FORM, "cutter": plan.cutter.name, "material": plan.material.name}
    form.add_hidden(IDENTITY, json.dumps(identity, sort_keys=True, ensure_ascii=True), "what this coupon is of")
    write_whole(path, pen.finish(DocumentInfo(title=title, author=shop), form.fields))


def _list_instructions(plan: CouponPlan, file: str) -> list[str]:
    blocks = "; ".join(f"block {n}: {plan.describe_block(n)}" for n in range(1, BLOCKS + 1))
    return [
        f"Cut {file} ({blocks}). {plan.describe_pass()}".rstrip(),
        "Then tick every stroke and land that came out clean: whole, with both edges sharp and, on a land, nothing "
        "broken out. Measure a few: a stroke much wider than its label is not clean. Widths below the cutter's own "
        "line are left out. Read the sheet in with: plaques coupon CUTTER MATERIAL coupon.pdf",
    ]


def _draw_lines(pen: PaperCanvas, y: float, texts: Iterable[str], room: float) -> float:
    for text in texts:
        y = pen.draw_lines(SIDE, y, pen.wrap(text, styles.SMALL, room), styles.SMALL) - 1.5
    return y


def _draw_form(pen: PaperCanvas, form: FormBuilder, plan: CouponPlan, y: float, room: float) -> float:
    """A box for each stroke and land in each block."""
    for kind, heading in _KINDS:
        widths = plan.list_widths(kind)
        step = (room - 30) / max(len(plan.strokes), len(plan.lands))
        pen.draw_text(SIDE, y, heading, styles.BODY)
        for number, width in enumerate(widths, 1):
            x = SIDE + 30 + (number - 0.5) * step
            pen.draw_text(x, y + 1.2, str(number), SMALL, "centre")
            pen.draw_text(x, y - 2.0, f"{width:g}", styles.LABEL, "centre")
        y -= 7.5
        for block in range(BLOCKS, 0, -1):
            pen.draw_text(SIDE + 2, y + 0.8, f"block {block}", styles.LABEL)
            for number, width in enumerate(widths, 1):
                x = SIDE + 30 + (number - 0.5) * step
                pen.draw_box(x - 2, y, 4, 4, fill=styles.WHITE, edge=styles.GREY, radius=0.4)
                tip = f"{kind} {number}, {width:g} mm, of block {block} came out clean"
                form.add_tick_box(build_field_name(kind, block, number), (x - 2, y, 4, 4), tip)
            y -= 5.6
        y -= 3
    pen.draw_text(SIDE, y, f"{MEASURED}:", styles.BODY)
    form.add_text_field("by", (SIDE + 34, y - 1.6, 60, 6), "who measured the coupon")
    form.add_text_field("on", (SIDE + 98, y - 1.6, 40, 6), "the day, such as 2026-11-29")
    for x, wide in ((SIDE + 34, 60), (SIDE + 98, 40)):
        pen.draw_line(x, y - 1.8, x + wide, y - 1.8, styles.PALE, 0.2)
    return y - 6
