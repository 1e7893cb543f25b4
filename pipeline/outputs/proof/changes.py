"""Changes since an earlier proof: old and new lettering side by side at one scale, and the letters that differ."""

from __future__ import annotations

from collections.abc import Sequence
from difflib import SequenceMatcher

from pipeline.core.language.texts import Texts
from pipeline.outputs.pdf import fonts, styles
from pipeline.outputs.pdf.canvas import PaperCanvas, build_move
from pipeline.outputs.pdf.packed_lettering import compute_box_round
from pipeline.outputs.pdf.text_style import TextStyle
from pipeline.outputs.proof import type_sizes
from pipeline.outputs.proof.proof_entries import ProofEntry

PAD = 3.2
DRAWN = 20.0  # height of the two pictures, mm
GAP = 6.0
OLD = TextStyle(10.5, styles.GREY)
NEW = TextStyle(10.5, styles.INK)
BETWEEN = " / "
"""Between the lines of a text in one row."""
VISIBLE = 0.05
"""Smallest relative change of size that is reported; common practice, no source."""


def measure_changes(entry: ProofEntry) -> float:
    """Height of the panel; 0 when nothing earlier is to be shown."""
    if entry.earlier is None:
        return 0.0
    drawn = DRAWN + 2 if entry.earlier.drawing else 0.0
    above = type_sizes.QUIET.line * (2 if _list_sizes(entry) else 1)
    return 2 * PAD + above + drawn + NEW.line + 0.5


def draw_changes(pen: PaperCanvas, texts: Texts, entry: ProofEntry, x: float, y: float, width: float) -> None:
    """The panel with its foot on y."""
    earlier = entry.earlier
    if earlier is None:
        return
    high = measure_changes(entry)
    pen.draw_box(x, y, width, high, fill=styles.WASH, radius=1.2)
    pen.draw_box(x, y, 1.0, high, fill=styles.ACCENT)
    half = (width - 2 * PAD - 1 - GAP) / 2
    left, right = x + PAD + 1, x + PAD + 1 + half + GAP
    top = y + high - PAD - type_sizes.QUIET.mm
    before, now = list(earlier.text), list(entry.design.text)
    said = texts.render_text("proof.changed", revision=earlier.revision)
    pen.draw_text(left, top, pen.shorten(said, type_sizes.QUIET, half), type_sizes.QUIET)
    pen.draw_text(right, top, texts.render_text("proof.changed.now"), type_sizes.QUIET)
    if sizes := [texts.render_text("proof.changed.size", percent=percent) for percent in _list_sizes(entry)]:
        top -= type_sizes.QUIET.line
        room = x + width - PAD - left
        pen.draw_text(left, top, pen.shorten(", ".join(sizes), type_sizes.QUIET, room), type_sizes.QUIET)
    if earlier.drawing:
        new = entry.artwork.list_pieces()
        if box := compute_box_round((*earlier.drawing, *new)):
            scale = min(1.0, half / (box[2] - box[0]), DRAWN / (box[3] - box[1]))
            foot = top - 2 - DRAWN / 2 - (box[3] - box[1]) * scale / 2
            for pieces, at, colour in ((earlier.drawing, left, styles.GREY), (new, right, styles.INK)):
                with pen.save_state(build_move(at - box[0] * scale, foot - box[1] * scale, scale)):
                    pen.set_ink(colour, colour, 0.25)
                    for piece in pieces:
                        pen.draw_piece(piece, 0.25)
    base = y + PAD + 0.6
    _draw_differences(pen, left, base, half, before, now, OLD)
    _draw_differences(pen, right, base, half, now, before, NEW)


def _list_sizes(entry: ProofEntry) -> list[int]:
    """The sizes of lettering that changed so much that it can be seen, per cent of what each was, each once."""
    old = entry.earlier.cap_heights if entry.earlier is not None else ()
    changed = [
        line.cap_height / old[line.line - 1]
        for line in entry.artwork.lines
        if len(old) >= line.line and old[line.line - 1]
    ]
    return list(dict.fromkeys(round(100 * size) for size in changed if abs(size - 1) > VISIBLE))


def _draw_differences(
    pen: PaperCanvas, x: float, y: float, room: float, own: list[str], other: list[str], style: TextStyle
) -> None:
    """The lines of one side in a row, letters that the other side has not underlined."""
    text, against = BETWEEN.join(own), BETWEEN.join(other)
    shown = pen.shorten(text, style, room)
    pen.draw_text(x, y, shown, style)
    if shown != text or not fonts.covers(text + against):
        return
    for span in list_changed_spans(own, other):
        start, end = (x + pen.measure_text(text[:i], style) for i in span)
        pen.draw_box(start, y - 1.1, end - start, 0.45, fill=styles.STOP_EDGE)


def list_changed_spans(own: Sequence[str], other: Sequence[str]) -> list[tuple[int, int]]:
    """Where the lines of one side, in a row, have letters that the other side has not. Each line is compared with its
    own counterpart where both sides have as many."""
    pairs = zip(own, other, strict=True) if len(own) == len(other) else [(BETWEEN.join(own), BETWEEN.join(other))]
    spans, at = [], 0
    for text, against in pairs:
        steps = SequenceMatcher(None, text, against, autojunk=False).get_opcodes()
        spans += [(at + i0, at + i1) for kind, i0, i1, _, _ in steps if kind != "equal" and i1 > i0]
        at += len(text) + len(BETWEEN)
    return spans
