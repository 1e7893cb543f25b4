"""The last page: the client's decision, name, date and signature."""

from __future__ import annotations

from pipeline.outputs.pdf import styles
from pipeline.outputs.pdf.text_style import TextStyle
from pipeline.outputs.proof import proof_texts
from pipeline.outputs.proof.page_frame import LABEL_DROP, ProofPages, draw_heading

BOX = 9.0


def draw_signing(frame: ProofPages, *, intro: str, asked: bool, return_to: str, nothing: bool = False) -> None:
    """Decision, all-correct tick, remarks, name, date, signature; what happens next. nothing: of what cannot be cut no
    agreement is offered, and nothing is signed."""
    pen, x = frame.pen, frame.left
    frame.begin(proof_texts.SIGN_HEAD)
    y = draw_heading(frame, proof_texts.SIGN_HEAD, intro) - 2
    if not nothing:
        y = _decision(frame, y, asked)
    y -= 2 + LABEL_DROP
    high = 30.0
    frame.write(x, y - high, frame.room, high, "remarks", proof_texts.REMARKS, proof_texts.REMARKS, several=True)
    y -= high + 9 + LABEL_DROP

    half = (frame.room - 10) / 2
    frame.write(x, y - BOX, half, BOX, "name", proof_texts.NAME, proof_texts.NAME)
    frame.write(x + half + 10, y - BOX, half, BOX, "date", proof_texts.DATE, proof_texts.DATE)
    if nothing:
        frame.end()
        return
    y -= BOX + 22
    pen.line(x, y, x + half, y, styles.INK, 0.25)
    pen.text(x, y - 4, proof_texts.SIGNATURE, styles.LABEL)

    y -= 14
    rows = pen.wrap(proof_texts.CAUTION, styles.BODY, frame.room - 12)
    high = len(rows) * styles.BODY.line + 6
    pen.box(x, y - high + 3, frame.room, high, fill=styles.ASK_WASH, radius=1.2)
    pen.box(x, y - high + 3, 1.0, high, fill=styles.ASK_EDGE)
    y = pen.lines(x + 5, y - styles.BODY.mm - 0.6, rows, styles.BODY) - 8
    said = [f"Please send this file back to {return_to}."] if return_to else []
    said += [proof_texts.KEEP_FILE]
    for row in (r for text in said for r in pen.wrap(text, styles.QUIET, frame.room)):
        pen.text(x, y, row, styles.QUIET)
        y -= styles.QUIET.line
    frame.end()


def _decision(frame: ProofPages, y: float, asked: bool) -> float:
    """The box for all plaques at once and the three decisions; where they end."""
    pen, x = frame.pen, frame.left
    hint = proof_texts.ALL_CORRECT_HINT + (f" {proof_texts.ALL_CORRECT_ASKED}" if asked else "")
    rows = pen.wrap(hint, styles.QUIET, frame.room - 18)
    high = 13 + len(rows) * styles.QUIET.line
    pen.box(x, y + 2 - high, frame.room, high, fill=styles.WASH, radius=1.2)
    frame.tick(x + 5, y - 5.6, "all_correct", proof_texts.ALL_CORRECT, proof_texts.ALL_CORRECT, styles.BODY)
    pen.lines(x + 11.2, y - 9.6, rows, styles.QUIET)
    y -= high + 9

    for option, label in proof_texts.DECISIONS:
        frame.choice(x + 5, y - 1.3, "decision", option, label, TextStyle(10.5, styles.INK))
        y -= 9
    return y
