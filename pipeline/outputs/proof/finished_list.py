"""Pieces already on the trophy: plaques that were cut before, shown small on the cover and not asked about."""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.outputs.proof import type_sizes
from pipeline.outputs.proof.page_frame import ProofPages
from pipeline.outputs.revision import HangingPlaque

MOST_LINES = 7
"""Of names on the cover; of more, the last ones are shown, and how many came before."""


def draw_finished(frame: ProofPages, finished: Sequence[HangingPlaque], foot: float, top: float) -> None:
    """Draw the list so that it ends at `foot`, as long as it fits below `top`; nothing when nothing is finished. Both
    in mm from the bottom of the page."""
    if not finished:
        return
    pen, texts = frame.pen, frame.texts
    pieces = sum(f.pieces for f in finished)
    head = texts.render_plural("proof.finished", pieces)
    most = min(MOST_LINES, int((top - foot) / type_sizes.QUIET.line) - 2)
    shown = [", ".join(f.text) for f in finished]
    left_out = 0
    while shown:
        told = [texts.render_plural("proof.finished.earlier", left_out)] if left_out else []
        rows = pen.wrap(" · ".join([*told, *shown]), type_sizes.QUIET, frame.room)
        if len(rows) <= most:
            break
        step = max(1, len(shown) // 20)
        shown, left_out = shown[step:], left_out + step
    else:
        rows = []
    y = foot + len(rows) * type_sizes.QUIET.line
    pen.draw_text(frame.left, y + 0.6, head, type_sizes.NOTE)
    pen.draw_lines(frame.left, y - type_sizes.QUIET.line + 0.6, rows, type_sizes.QUIET)
