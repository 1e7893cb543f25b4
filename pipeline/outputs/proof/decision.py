"""The last page: the client's decision, name, date and signature."""

from __future__ import annotations

from pipeline.outputs.pdf import styles
from pipeline.outputs.pdf.text_style import TextStyle
from pipeline.outputs.proof.page_frame import LABEL_DROP, ProofPages, draw_heading

BOX = 9.0
DECISIONS = (
    ("agreed-as-shown", "proof.sign.decision.agreed"),
    ("agreed-with-changes", "proof.sign.decision.changes"),
    ("new-proof", "proof.sign.decision.new-proof"),
)
"""As the form gives them back, and the ids of what the client reads."""


def draw_signing(frame: ProofPages, *, intro: str, asked: bool, return_to: str, nothing: bool = False) -> None:
    """Decision, all-correct tick, remarks, name, date, signature; what happens next. nothing: of what cannot be cut no
    agreement is offered, and nothing is signed."""
    pen, x, texts = frame.pen, frame.left, frame.texts
    frame.begin(texts.text("proof.sign"))
    y = draw_heading(frame, texts.text("proof.sign"), intro) - 2
    if not nothing:
        y = _decision(frame, y, asked)
    y -= 2 + LABEL_DROP
    high = 30.0
    remarks, name, date = (texts.text(id) for id in ("proof.sign.remarks", "proof.sign.name", "proof.sign.date"))
    frame.write(x, y - high, frame.room, high, "remarks", remarks, remarks, several=True)
    y -= high + 9 + LABEL_DROP

    half = (frame.room - 10) / 2
    frame.write(x, y - BOX, half, BOX, "name", name, name)
    frame.write(x + half + 10, y - BOX, half, BOX, "date", date, date)
    if nothing:
        frame.end()
        return
    y -= BOX + 22
    pen.line(x, y, x + half, y, styles.INK, 0.25)
    pen.text(x, y - 4, texts.text("proof.sign.signature"), styles.LABEL)

    y -= 14
    rows = pen.wrap(texts.text("proof.sign.caution"), styles.BODY, frame.room - 12)
    high = len(rows) * styles.BODY.line + 6
    pen.box(x, y - high + 3, frame.room, high, fill=styles.ASK_WASH, radius=1.2)
    pen.box(x, y - high + 3, 1.0, high, fill=styles.ASK_EDGE)
    y = pen.lines(x + 5, y - styles.BODY.mm - 0.6, rows, styles.BODY) - 8
    said = [texts.text("proof.sign.return", to=return_to)] if return_to else []
    said += [texts.text("proof.sign.keep-file")]
    for row in (r for text in said for r in pen.wrap(text, styles.QUIET, frame.room)):
        pen.text(x, y, row, styles.QUIET)
        y -= styles.QUIET.line
    frame.end()


def _decision(frame: ProofPages, y: float, asked: bool) -> float:
    """The box for all plaques at once and the three decisions; where they end."""
    pen, x, texts = frame.pen, frame.left, frame.texts
    hint = texts.text("proof.sign.all.hint") + (f" {texts.text('proof.sign.all.asked')}" if asked else "")
    rows = pen.wrap(hint, styles.QUIET, frame.room - 18)
    high = 13 + len(rows) * styles.QUIET.line
    pen.box(x, y + 2 - high, frame.room, high, fill=styles.WASH, radius=1.2)
    every = texts.text("proof.sign.all")
    frame.tick(x + 5, y - 5.6, "all_correct", every, every, styles.BODY)
    pen.lines(x + 11.2, y - 9.6, rows, styles.QUIET)
    y -= high + 9

    tip = texts.text("proof.sign.decision.tip")
    for option, label in DECISIONS:
        frame.choice(x + 5, y - 1.3, "decision", option, texts.text(label), tip, TextStyle(10.5, styles.INK))
        y -= 9
    return y
