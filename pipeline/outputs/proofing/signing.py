"""The last page: the client's decision, name, date and signature."""

from __future__ import annotations

from pipeline.outputs.paper import look
from pipeline.outputs.paper.style import Style
from pipeline.outputs.proofing import words
from pipeline.outputs.proofing.frame import LABEL_DROP, Frame, heading

BOX = 9.0


def draw_signing(frame: Frame, *, intro: str, asked: bool, return_to: str, nothing: bool = False) -> None:
    """Decision, all-correct tick, remarks, name, date, signature; what happens next. nothing: of what cannot be cut no
    agreement is offered, and nothing is signed."""
    pen, x = frame.pen, frame.left
    frame.begin(words.SIGN_HEAD)
    y = heading(frame, words.SIGN_HEAD, intro) - 2
    if not nothing:
        y = _decision(frame, y, asked)
    y -= 2 + LABEL_DROP
    high = 30.0
    frame.write(x, y - high, frame.room, high, "remarks", words.REMARKS, words.REMARKS, several=True)
    y -= high + 9 + LABEL_DROP

    half = (frame.room - 10) / 2
    frame.write(x, y - BOX, half, BOX, "name", words.NAME, words.NAME)
    frame.write(x + half + 10, y - BOX, half, BOX, "date", words.DATE, words.DATE)
    if nothing:
        frame.end()
        return
    y -= BOX + 22
    pen.line(x, y, x + half, y, look.INK, 0.25)
    pen.text(x, y - 4, words.SIGNATURE, look.LABEL)

    y -= 14
    rows = pen.wrap(words.CAUTION, look.BODY, frame.room - 12)
    high = len(rows) * look.BODY.line + 6
    pen.box(x, y - high + 3, frame.room, high, fill=look.ASK_WASH, radius=1.2)
    pen.box(x, y - high + 3, 1.0, high, fill=look.ASK_EDGE)
    y = pen.lines(x + 5, y - look.BODY.mm - 0.6, rows, look.BODY) - 8
    said = [f"Please send this file back to {return_to}."] if return_to else []
    said += [words.KEEP_FILE]
    for row in (r for text in said for r in pen.wrap(text, look.QUIET, frame.room)):
        pen.text(x, y, row, look.QUIET)
        y -= look.QUIET.line
    frame.end()


def _decision(frame: Frame, y: float, asked: bool) -> float:
    """The box for all plaques at once and the three decisions; where they end."""
    pen, x = frame.pen, frame.left
    hint = words.ALL_CORRECT_HINT + (f" {words.ALL_CORRECT_ASKED}" if asked else "")
    rows = pen.wrap(hint, look.QUIET, frame.room - 18)
    high = 13 + len(rows) * look.QUIET.line
    pen.box(x, y + 2 - high, frame.room, high, fill=look.WASH, radius=1.2)
    frame.tick(x + 5, y - 5.6, "all_correct", words.ALL_CORRECT, words.ALL_CORRECT, look.BODY)
    pen.lines(x + 11.2, y - 9.6, rows, look.QUIET)
    y -= high + 9

    for option, label in words.DECISIONS:
        frame.choice(x + 5, y - 1.3, "decision", option, label, Style(10.5, look.INK))
        y -= 9
    return y
