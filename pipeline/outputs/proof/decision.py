"""The last page: the client's one choice, name, date and signature, and what happens next."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.outputs.pdf import styles
from pipeline.outputs.proof import type_sizes
from pipeline.outputs.proof.page_frame import LABEL_DROP, ProofPages, draw_heading

BOX = 10.5
REMARKS = 26.0
DECISIONS = (
    ("agreed-as-shown", "proof.sign.decision.agreed"),
    ("agreed-with-changes", "proof.sign.decision.changes"),
    ("new-proof", "proof.sign.decision.new-proof"),
)
"""As the form gives them back, and the ids of what the client reads."""
SIGNATURE_HIGH = 17.0
"""Room to sign on paper, mm: from the box for the name down to the line."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SigningTexts:
    """Texts of the last page. asked: questions about its plaques are answered in this file. nothing: of what cannot be
    cut no agreement is offered, and nothing is signed."""

    intro: str
    asked: bool
    next: tuple[str, ...]  # what happens next, how to send it back
    nothing: bool = False


def draw_signing(frame: ProofPages, said: SigningTexts) -> None:
    """The choice, remarks, name, date, signature; what happens next."""
    pen, x, texts = frame.pen, frame.left, frame.texts
    frame.begin_page(texts.render_text("proof.sign"))
    y = draw_heading(frame, texts.render_text("proof.sign"), said.intro)
    if not said.nothing:
        y = _draw_decision(frame, y, said.asked)
    y -= 1 + LABEL_DROP
    remarks, name, date = (texts.render_text(id) for id in ("proof.sign.remarks", "proof.sign.name", "proof.sign.date"))
    frame.write(x, y - REMARKS, frame.room, REMARKS, "remarks", remarks, remarks, several=True)
    y -= REMARKS + 4 + LABEL_DROP

    half = (frame.room - 10) / 2
    frame.write(x, y - BOX, half, BOX, "name", name, name)
    frame.write(x + half + 10, y - BOX, half, BOX, "date", date, date)
    y -= BOX
    if not said.nothing:
        y -= SIGNATURE_HIGH
        pen.draw_line(x, y, x + half, y, styles.INK, 0.25)
        pen.draw_text(x, y - 4.6, texts.render_text("proof.sign.signature"), type_sizes.QUIET)
        y = _draw_caution(frame, y - 11)
    y -= 8
    pen.draw_text(x, y, texts.render_text("proof.next"), type_sizes.SUBHEAD)
    y -= 7.5
    for text in said.next:
        y = pen.draw_lines(x, y, pen.wrap(text, type_sizes.BODY, frame.room), type_sizes.BODY) - 1.5
    frame.end_page()


def _draw_decision(frame: ProofPages, y: float, asked: bool) -> float:
    """The three choices, each with what it means; where they end."""
    pen, x, texts = frame.pen, frame.left, frame.texts
    tip = texts.render_text("proof.sign.decision.tip")
    hints = {
        "agreed-as-shown": texts.render_text("proof.sign.all.asked") if asked else "",
        "agreed-with-changes": texts.render_text("proof.sign.decision.changes.hint"),
        "new-proof": "",
    }
    rows = {o: pen.wrap(t, type_sizes.QUIET, frame.room - 20) if t else [] for o, t in hints.items()}
    high = sum(11.0 + len(r) * type_sizes.QUIET.line for r in rows.values()) + 3.0
    pen.draw_box(x, y + 4 - high, frame.room, high, fill=styles.WASH, radius=1.6)
    y -= 5.0
    for option, label in DECISIONS:
        frame.draw_choice(x + 6, y - 1.8, "decision", option, texts.render_text(label), tip)
        pen.draw_lines(x + 15, y - 5.6, rows[option], type_sizes.QUIET)
        y -= 11.0 + len(rows[option]) * type_sizes.QUIET.line
    return y - 1


def _draw_caution(frame: ProofPages, y: float) -> float:
    """That a cut cannot be taken back; where it ends."""
    pen, x = frame.pen, frame.left
    rows = pen.wrap(frame.texts.render_text("proof.sign.caution"), type_sizes.BODY, frame.room - 12)
    high = len(rows) * type_sizes.BODY.line + 6
    pen.draw_box(x, y - high + 3, frame.room, high, fill=styles.ASK_WASH, radius=1.2)
    pen.draw_box(x, y - high + 3, 1.2, high, fill=styles.ASK_EDGE)
    return pen.draw_lines(x + 6, y - type_sizes.BODY.mm - 0.4, rows, type_sizes.BODY) - 1
