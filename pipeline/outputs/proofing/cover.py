"""The cover: order, counts, what the client is asked to do, what the drawings mean, and a ruler."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.core.model import Blank
from pipeline.core.order import ProofPart
from pipeline.outputs.paper import look
from pipeline.outputs.paper.curves import lines_trace, rounded_trace
from pipeline.outputs.paper.faces import SERIF
from pipeline.outputs.paper.style import Colour, Style
from pipeline.outputs.proofing import words
from pipeline.outputs.proofing.frame import Frame, heading

RULER_MM = 100.0
MESSAGE_ROWS = 6  # of a message on the cover; a longer one gets a page of its own


@dataclass(frozen=True, slots=True, kw_only=True)
class Cover:
    """What the cover says besides the order."""

    title: str
    client: str
    proof: ProofPart
    counts: tuple[tuple[int, tuple[str, str]], ...]
    steps: tuple[tuple[str, str], ...]
    contents: tuple[tuple[str, int], ...]
    rows: str = ""  # what became of the rows of the list


def draw_cover(frame: Frame, cover: Cover, blank: Blank) -> None:
    pen, left = frame.pen, frame.left
    frame.begin("Cover", running=False)
    y = pen.height - 30
    pen.text(left, y, words.KICKER, Style(8, look.ACCENT), spaced=0.5)
    y -= 14.5
    for row in pen.wrap(cover.title, look.TITLE, frame.room):
        pen.text(left, y, row, look.TITLE)
        y -= look.TITLE.line
    y += look.TITLE.line - 8.5
    said = [part for part in (cover.client, frame.name, cover.proof.date or "") if part]
    pen.text(left, y, "  ·  ".join(said), Style(11, look.GREY))
    y -= 9
    pen.line(left, y, frame.right, y, look.HAIR, 0.3)

    y -= 13
    step = frame.room / max(4, len(cover.counts))
    for i, (number_of, named) in enumerate(cover.counts):
        x = left + i * step
        pen.text(x, y, str(number_of), look.FIGURE)
        label = named[0] if number_of == 1 else named[1]
        pen.lines(x, y - 6, pen.wrap(label, look.QUIET, step - 6), look.QUIET)
    y -= 22

    message = pen.wrap(cover.proof.message, look.BODY, frame.room - 10) if cover.proof.message else []
    if 0 < len(message) <= MESSAGE_ROWS:
        high = len(message) * look.BODY.line + 5.5
        pen.box(left, y - high + 3, frame.room, high, fill=look.WASH, radius=1.2)
        pen.lines(left + 5, y - look.BODY.mm - 0.8, message, look.BODY)
        y -= high + 8

    pen.text(left, y, words.STEPS_HEAD, Style(13, look.INK, SERIF))
    y -= 8
    for i, (head, text) in enumerate(cover.steps, 1):
        pen.text(left, y, str(i), Style(13, look.ACCENT, SERIF))
        pen.text(left + 8, y, head, look.BODY)
        rows = pen.wrap(text, look.QUIET, frame.room * 0.62 - 8)
        pen.lines(left + 8, y - look.BODY.line, rows, look.QUIET)
        y -= look.BODY.line + len(rows) * look.QUIET.line + 3.2
    _contents(frame, cover, y + 3.2)
    rows = pen.wrap(cover.rows, look.QUIET, frame.room)
    pen.lines(left, 66 + len(rows) * look.QUIET.line, rows, look.QUIET)
    _legend(frame, blank, 62)
    _ruler(frame, 38)
    shop = " · ".join(part for part in (cover.proof.shop, cover.proof.contact) if part)
    if shop:
        pen.text(left, 19.5, pen.shorten(shop, look.QUIET, frame.room), look.QUIET)
    frame.end()


def _contents(frame: Frame, cover: Cover, foot: float) -> None:
    """At the right of the steps, in the column they leave free."""
    pen = frame.pen
    x = frame.left + frame.room * 0.7
    top = (
        foot
        + 3.2
        + sum(
            look.BODY.line + len(pen.wrap(text, look.QUIET, frame.room * 0.62 - 8)) * look.QUIET.line + 3.2
            for _, text in cover.steps
        )
        - 3.2
        - 3.2
    )
    pen.text(x, top + 8, words.CONTENTS, Style(13, look.INK, SERIF))
    y = top
    for name, page in cover.contents:
        shown = pen.wrap(name, look.QUIET, frame.right - x - 12)
        pen.text(frame.right, y, str(page), look.QUIET, "right")
        pen.link(x, y - 1.2, frame.right - x, 4.2, page)
        y = pen.lines(x, y, shown, look.QUIET) - 1.4


def _legend(frame: Frame, blank: Blank, y: float) -> None:
    pen = frame.pen
    pen.text(frame.left, y, words.LEGEND, look.LABEL)
    x = frame.left + 26
    swatches: list[tuple[Colour, Colour | None, str]] = [(look.TIMBER["cut"], None, words.LEGEND_LETTERING)]
    if blank.pockets:
        swatches.append((look.POCKET, look.POCKET_EDGE, words.LEGEND_POCKET))
    for colour, edge, label in swatches:
        pen.box(x, y - 0.7, 5, 3.2, fill=colour, edge=edge, radius=0.5)
        x += 7 + pen.text(x + 7, y, label, look.QUIET) + 8
    if blank.keep_outs:
        pen.draw(rounded_trace(x, y - 0.7, 5, 3.2, 0), edge=look.TIMBER["edge"], line=0.2, dash=(1.2, 0.8))
        pen.text(x + 7, y, words.LEGEND_KEEP_OUT, look.QUIET)


def _ruler(frame: Frame, y: float) -> None:
    """A bar of exactly 100 mm with a mark each 10 mm, and what it is for."""
    pen, x = frame.pen, frame.left
    lines = [[(x, y), (x + RULER_MM, y)]]
    for i in range(11):
        at = x + i * RULER_MM / 10
        lines.append([(at, y), (at, y + (3.4 if i % 5 == 0 else 2.0))])
    pen.draw(lines_trace(*lines), edge=look.INK, line=0.25)
    for mm in (0, 50, 100):
        pen.text(x + mm, y + 4.4, str(mm), look.LABEL, "centre")
    rows = pen.wrap(f"{words.RULER} {words.RULER_WHY}", look.QUIET, frame.right - x - RULER_MM - 10)
    pen.lines(x + RULER_MM + 10, y + 5.4, rows, look.QUIET)


def steps(
    frame: Frame,
    starts: dict[str, int],
    shown: int,
    agreed: int,
    return_to: str,
    nothing: tuple[str, str] | None = None,
) -> tuple[tuple[str, str], ...]:
    """What the client is asked to do, in order. nothing: why there is nothing to agree to."""
    out = [nothing] if nothing else []
    said = words.count(shown, ("plaque", "plaques"))
    if frame.volume.number:
        head, told = words.VOLUME_STEP
        out.append((head.format(volume=words.volume(frame.volume)), told.format(shown=said)))
    if agreed:
        told = words.LATER.format(revision=frame.revision, shown=said, page=starts[words.AGREED_HEAD])
        out.append((words.LATER_HEAD, told))
    out += [words.LOOK, words.MARK] if shown else []
    if page := starts.get(words.QUESTIONS_HEAD):
        out.append((words.QUESTIONS[0], words.QUESTIONS[1].format(page=page)))
    if page := starts.get(words.STOPPED_HEAD):
        out.append((words.CHOOSE[0], words.CHOOSE[1].format(page=page)))
    to = f" to {return_to}" if return_to else ""
    if nothing and words.STOPPED_HEAD not in starts:
        return tuple(out)
    last = words.ANSWER_LAST if nothing else words.DECIDE
    out.append((last[0], last[1].format(page=starts[words.SIGN_HEAD], to=to)))
    return tuple(out)


def draw_note(frame: Frame, rows: list[str]) -> None:
    """The shop's message on a page of its own."""
    frame.begin(words.NOTE_HEAD)
    frame.pen.lines(frame.left, heading(frame, words.NOTE_HEAD), rows, look.BODY)
    frame.end()
