"""The cover: order, counts, what the client is asked to do, what the drawings mean, and a ruler."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.core.model import Blank
from pipeline.core.order import ProofConfig
from pipeline.outputs.pdf import styles
from pipeline.outputs.pdf.curve_operators import lines_trace, rounded_trace
from pipeline.outputs.pdf.fonts import SERIF
from pipeline.outputs.pdf.text_style import Colour, TextStyle
from pipeline.outputs.proof.finished_list import draw_finished
from pipeline.outputs.proof.page_frame import ProofPages, draw_heading, volume_told
from pipeline.outputs.revision import HangingPlaque

RULER_MM = 100.0
MESSAGE_ROWS = 6  # of a message on the cover; a longer one gets a page of its own


@dataclass(frozen=True, slots=True, kw_only=True)
class CoverTexts:
    """What the cover says besides the order."""

    title: str
    client: str
    proof: ProofConfig
    counts: tuple[tuple[int, str], ...]  # with the id of what is counted
    steps: tuple[tuple[str, str], ...]
    contents: tuple[tuple[str, int], ...]  # ids of headings with their pages
    rows: str = ""  # what became of the rows of the list
    finished: tuple[HangingPlaque, ...] = ()  # cut already, and not asked about


def draw_cover(frame: ProofPages, cover: CoverTexts, blank: Blank) -> None:
    pen, left, texts = frame.pen, frame.left, frame.texts
    frame.begin(texts.text("proof.cover"), running=False)
    y = pen.height - 30
    pen.text(left, y, texts.text("proof.cover.kicker"), TextStyle(8, styles.ACCENT), spaced=0.5)
    y -= 14.5
    for row in pen.wrap(cover.title, styles.TITLE, frame.room):
        pen.text(left, y, row, styles.TITLE)
        y -= styles.TITLE.line
    y += styles.TITLE.line - 8.5
    said = [part for part in (cover.client, frame.name, cover.proof.date or "") if part]
    pen.text(left, y, "  ·  ".join(said), TextStyle(11, styles.GREY))
    y -= 9
    pen.line(left, y, frame.right, y, styles.HAIR, 0.3)

    y -= 13
    step = frame.room / max(4, len(cover.counts))
    for i, (number_of, named) in enumerate(cover.counts):
        x = left + i * step
        pen.text(x, y, str(number_of), styles.FIGURE)
        label = texts.plural(named, number_of)
        pen.lines(x, y - 6, pen.wrap(label, styles.QUIET, step - 6), styles.QUIET)
    y -= 22

    message = pen.wrap(cover.proof.message, styles.BODY, frame.room - 10) if cover.proof.message else []
    if 0 < len(message) <= MESSAGE_ROWS:
        high = len(message) * styles.BODY.line + 5.5
        pen.box(left, y - high + 3, frame.room, high, fill=styles.WASH, radius=1.2)
        pen.lines(left + 5, y - styles.BODY.mm - 0.8, message, styles.BODY)
        y -= high + 8

    pen.text(left, y, texts.text("proof.cover.steps"), TextStyle(13, styles.INK, SERIF))
    y -= 8
    for i, (head, text) in enumerate(cover.steps, 1):
        pen.text(left, y, str(i), TextStyle(13, styles.ACCENT, SERIF))
        pen.text(left + 8, y, head, styles.BODY)
        rows = pen.wrap(text, styles.QUIET, frame.room * 0.62 - 8)
        pen.lines(left + 8, y - styles.BODY.line, rows, styles.QUIET)
        y -= styles.BODY.line + len(rows) * styles.QUIET.line + 3.2
    _contents(frame, cover, y + 3.2)
    rows = pen.wrap(cover.rows, styles.QUIET, frame.room)
    pen.lines(left, 66 + len(rows) * styles.QUIET.line, rows, styles.QUIET)
    draw_finished(frame, cover.finished, 68.5 + (len(rows) + 1) * styles.QUIET.line, y)
    _legend(frame, blank, 62)
    _ruler(frame, 38)
    shop = " · ".join(part for part in (cover.proof.shop, cover.proof.contact) if part)
    if shop:
        pen.text(left, 19.5, pen.shorten(shop, styles.QUIET, frame.room), styles.QUIET)
    frame.end()


def _contents(frame: ProofPages, cover: CoverTexts, foot: float) -> None:
    """At the right of the steps, in the column they leave free."""
    pen = frame.pen
    x = frame.left + frame.room * 0.7
    top = (
        foot
        + 3.2
        + sum(
            styles.BODY.line + len(pen.wrap(text, styles.QUIET, frame.room * 0.62 - 8)) * styles.QUIET.line + 3.2
            for _, text in cover.steps
        )
        - 3.2
        - 3.2
    )
    pen.text(x, top + 8, frame.texts.text("proof.cover.contents"), TextStyle(13, styles.INK, SERIF))
    y = top
    for name, page in cover.contents:
        shown = pen.wrap(frame.texts.text(name), styles.QUIET, frame.right - x - 12)
        pen.text(frame.right, y, str(page), styles.QUIET, "right")
        pen.link(x, y - 1.2, frame.right - x, 4.2, page, frame.texts.text("proof.page", page=page))
        y = pen.lines(x, y, shown, styles.QUIET) - 1.4


def _legend(frame: ProofPages, blank: Blank, y: float) -> None:
    pen, texts = frame.pen, frame.texts
    pen.text(frame.left, y, texts.text("proof.legend"), styles.LABEL)
    x = frame.left + 26
    swatches: list[tuple[Colour, Colour | None, str]] = [
        (styles.TIMBER["cut"], None, texts.text("proof.legend.lettering"))
    ]
    if blank.pockets:
        swatches.append((styles.POCKET, styles.POCKET_EDGE, texts.text("proof.legend.pocket")))
    for colour, edge, label in swatches:
        pen.box(x, y - 0.7, 5, 3.2, fill=colour, edge=edge, radius=0.5)
        x += 7 + pen.text(x + 7, y, label, styles.QUIET) + 8
    if blank.keep_outs:
        pen.draw(rounded_trace(x, y - 0.7, 5, 3.2, 0), edge=styles.TIMBER["edge"], line=0.2, dash=(1.2, 0.8))
        pen.text(x + 7, y, texts.text("proof.legend.keep-out"), styles.QUIET)


def _ruler(frame: ProofPages, y: float) -> None:
    """A bar of exactly 100 mm with a mark each 10 mm, and what it is for."""
    pen, x = frame.pen, frame.left
    lines = [[(x, y), (x + RULER_MM, y)]]
    for i in range(11):
        at = x + i * RULER_MM / 10
        lines.append([(at, y), (at, y + (3.4 if i % 5 == 0 else 2.0))])
    pen.draw(lines_trace(*lines), edge=styles.INK, line=0.25)
    for mm in (0, 50, 100):
        pen.text(x + mm, y + 4.4, str(mm), styles.LABEL, "centre")
    rows = pen.wrap(frame.texts.text("proof.ruler"), styles.QUIET, frame.right - x - RULER_MM - 10)
    pen.lines(x + RULER_MM + 10, y + 5.4, rows, styles.QUIET)


def draw_steps(
    frame: ProofPages,
    starts: dict[str, int],
    shown: int,
    agreed: int,
    return_to: str,
    nothing: tuple[str, str] | None = None,
) -> tuple[tuple[str, str], ...]:
    """What the client is asked to do, in order: heads and texts. starts: pages by the ids of their headings. nothing:
    ids of why there is nothing to agree to."""
    texts = frame.texts

    def step(head: str, text: str, **facts: object) -> tuple[str, str]:
        return texts.text(head), texts.text(text, **facts)

    out = [step(*nothing)] if nothing else []
    said = texts.plural("proof.plaques", shown)
    if frame.volume.number:
        head = texts.text("proof.cover.volume", volume=volume_told(texts, frame.volume))
        out.append((head, texts.text("proof.cover.volume.text", shown=said)))
    if agreed:
        facts = {"revision": frame.revision, "shown": said, "page": starts["proof.agreed"]}
        out.append(step("proof.cover.later", "proof.cover.later.text", **facts))
    if shown:
        out.append(step("proof.cover.look", "proof.cover.look.text"))
        out.append(step("proof.cover.mark", "proof.cover.mark.text"))
    if page := starts.get("proof.questions"):
        out.append(step("proof.cover.questions", "proof.cover.questions.text", page=page))
    if nothing and "proof.questions" not in starts:
        return tuple(out)
    if nothing:
        last = ("proof.cover.answer", "proof.cover.answer.to" if return_to else "proof.cover.answer.text")
    else:
        last = ("proof.cover.decide", "proof.cover.decide.to" if return_to else "proof.cover.decide.text")
    out.append(step(*last, page=starts["proof.sign"], to=return_to))
    return tuple(out)


def draw_note(frame: ProofPages, rows: list[str]) -> None:
    """The shop's message on a page of its own."""
    head = frame.texts.text("proof.note")
    frame.begin(head)
    frame.pen.lines(frame.left, draw_heading(frame, head), rows, styles.BODY)
    frame.end()
