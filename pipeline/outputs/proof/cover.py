"""The cover: order, counts, what the client is asked to do and by when, what the drawings mean, and a ruler."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.core.config.order import ProofConfig
from pipeline.core.model import Blank
from pipeline.core.units import MM_PER_INCH, UnitName
from pipeline.outputs.pdf import styles
from pipeline.outputs.pdf.curve_operators import trace_lines, trace_rounded
from pipeline.outputs.pdf.fonts import SERIF
from pipeline.outputs.pdf.logo import LogoPicture
from pipeline.outputs.pdf.material_look import TIMBER
from pipeline.outputs.pdf.text_style import Colour, TextStyle
from pipeline.outputs.proof import type_sizes
from pipeline.outputs.proof.finished_list import draw_finished
from pipeline.outputs.proof.page_frame import ProofPages, describe_volume, draw_heading
from pipeline.outputs.revision import HangingPlaque

LOGO_HIGH, LOGO_WIDE = 22.0, 60.0
STEP_GAP = 2.6
MOST_TITLE = 2  # most rows of the title before it is set smaller
_FOOT = 34.0  # from the paper's edge up to the ruler
_TALLY = 14.0  # from the ruler up to the legend


@dataclass(frozen=True, slots=True, kw_only=True)
class CoverTexts:
    """The texts of the cover besides the order's."""

    title: str
    client: str
    proof: ProofConfig
    counts: tuple[tuple[int, str], ...]  # count, message id of what is counted
    steps: tuple[tuple[str, str], ...]
    contents: tuple[tuple[str, int], ...]  # message ids of headings, page
    rows: str = ""  # what happened to the rows of the list
    logo: LogoPicture | None = None
    message: bool = True  # whether the shop's message is on this page and not on its own
    finished: tuple[HangingPlaque, ...] = ()  # already cut, so not asked about
    unit: UnitName = "mm"  # of the ruler


def draw_cover(frame: ProofPages, cover: CoverTexts, blank: Blank) -> None:
    """The whole page."""
    pen, texts = frame.pen, frame.texts
    frame.begin_page(texts.render_text("proof.cover"), running=False)
    y = _draw_top(frame, cover)
    y = _draw_counts(frame, cover, y)
    y = _draw_particulars(frame, cover, y)
    message = _wrap_message(frame, cover.proof.message) if cover.message else []
    if message:
        high = len(message) * type_sizes.BODY.line + 5.5
        pen.draw_box(frame.left, y - high + 3, frame.room, high, fill=styles.WASH, radius=1.2)
        pen.draw_lines(frame.left + 5, y - type_sizes.BODY.mm - 0.6, message, type_sizes.BODY)
        y -= high + 7
    _draw_contents(frame, cover, y)
    pen.draw_text(frame.left, y, texts.render_text("proof.cover.steps"), type_sizes.SUBHEAD)
    y -= 8.5
    for i, (head, text) in enumerate(cover.steps, 1):
        pen.draw_text(frame.left, y, str(i), TextStyle(15, styles.ACCENT, SERIF))
        y = pen.draw_lines(frame.left + 8, y, pen.wrap(head, type_sizes.BODY, _measure_step(frame)), type_sizes.BODY)
        y = pen.draw_lines(frame.left + 8, y, pen.wrap(text, type_sizes.QUIET, _measure_step(frame)), type_sizes.QUIET)
        y -= STEP_GAP
    rows = pen.wrap(cover.rows, type_sizes.QUIET, frame.room)
    foot = _FOOT + _TALLY + (7.0 if blank.pockets or blank.keep_outs else 0.0)
    pen.draw_lines(frame.left, foot + (len(rows) - 1) * type_sizes.QUIET.line, rows, type_sizes.QUIET)
    draw_finished(frame, cover.finished, foot + (len(rows) + 0.6) * type_sizes.QUIET.line, y)
    _draw_legend(frame, blank, _FOOT + _TALLY)
    _draw_ruler(frame, _FOOT, cover.unit)
    frame.end_page()


def message_fits(frame: ProofPages, cover: CoverTexts, blank: Blank) -> bool:
    """Return whether the shop's message has room on the cover."""
    pen, wide = frame.pen, _measure_step(frame)
    steps = 16.0 + sum(
        len(pen.wrap(head, type_sizes.BODY, wide)) * type_sizes.BODY.line
        + len(pen.wrap(text, type_sizes.QUIET, wide)) * type_sizes.QUIET.line
        + STEP_GAP
        for head, text in cover.steps
    )
    title, style = _wrap_title(frame, cover)
    above = 62.0 + len(title) * style.line
    above += len(_list_particulars(frame, cover)) * type_sizes.BODY.line
    rows = len(pen.wrap(cover.rows, type_sizes.QUIET, frame.room)) * type_sizes.QUIET.line
    below = _FOOT + _TALLY + rows + (7.0 if blank.pockets or blank.keep_outs else 0.0)
    message = len(_wrap_message(frame, cover.proof.message)) * type_sizes.BODY.line + 12.5
    return above + steps + message + below <= pen.height


def _wrap_message(frame: ProofPages, message: str) -> list[str]:
    return frame.pen.wrap(message, type_sizes.BODY, frame.room - 10) if message else []


def _measure_step(frame: ProofPages) -> float:
    return frame.room * 0.64 - 8


def _wrap_title(frame: ProofPages, cover: CoverTexts) -> tuple[list[str], TextStyle]:
    """The order's title in rows, smaller where it is long."""
    room = _measure_title(frame, cover)
    rows = frame.pen.wrap(cover.title, type_sizes.TITLE, room)
    if len(rows) <= MOST_TITLE:
        return rows, type_sizes.TITLE
    return frame.pen.wrap(cover.title, type_sizes.LONG_TITLE, room), type_sizes.LONG_TITLE


def _measure_title(frame: ProofPages, cover: CoverTexts) -> float:
    return frame.room - (LOGO_WIDE + 8 if cover.logo else 0.0)


def _draw_top(frame: ProofPages, cover: CoverTexts) -> float:
    """Kicker, title, client, logo; where they end."""
    pen, left = frame.pen, frame.left
    y = pen.height - 25
    if cover.logo is not None:
        scale = min(LOGO_HIGH / cover.logo.height, LOGO_WIDE / cover.logo.width)
        wide, high = cover.logo.width * scale, cover.logo.height * scale
        pen.draw_picture(
            cover.logo.rgb, cover.logo.width, cover.logo.height, frame.right - wide, y + 4 - high, wide, high
        )
    pen.draw_text(left, y, frame.texts.render_text("proof.cover.kicker"), TextStyle(10, styles.ACCENT), spaced=0.4)
    y -= 13.5
    rows, style = _wrap_title(frame, cover)
    y = pen.draw_lines(left, y, rows, style) + style.line - 8.5
    said = "  ·  ".join(part for part in (cover.client, frame.name, cover.proof.date or "") if part)
    for row in pen.wrap(said, TextStyle(12, styles.GREY), _measure_title(frame, cover)):
        pen.draw_text(left, y, row, TextStyle(12, styles.GREY))
        y -= 6.0
    y -= 1.0
    pen.draw_line(left, y, frame.right, y, styles.HAIR, 0.3)
    return y - 13


def _draw_counts(frame: ProofPages, cover: CoverTexts, y: float) -> float:
    pen, texts = frame.pen, frame.texts
    step = frame.room / max(4, len(cover.counts))
    most = 1
    for i, (number_of, named) in enumerate(cover.counts):
        x = frame.left + i * step
        pen.draw_text(x, y, str(number_of), type_sizes.FIGURE)
        rows = pen.wrap(texts.render_plural(named, number_of), type_sizes.QUIET, step - 4)
        pen.draw_lines(x, y - 6, rows, type_sizes.QUIET)
        most = max(most, len(rows))
    return y - 6 - most * type_sizes.QUIET.line - 5


def _list_particulars(frame: ProofPages, cover: CoverTexts) -> list[str]:
    """By when the answer is needed, the price, and whom to ask: each on a row of its own."""
    texts, part = frame.texts, cover.proof
    said = [texts.render_text("proof.reply-by", day=part.reply_by)] if part.reply_by else []
    said += [texts.render_text("proof.price", price=part.price)] if part.price else []
    whom = " · ".join(filter(None, (part.shop, part.telephone, part.contact)))
    said += [texts.render_text("proof.ask-us", whom=whom)] if whom else []
    return [row for text in said for row in frame.pen.wrap(text, type_sizes.BODY, frame.room)]


def _draw_particulars(frame: ProofPages, cover: CoverTexts, y: float) -> float:
    rows = _list_particulars(frame, cover)
    return frame.pen.draw_lines(frame.left, y, rows, type_sizes.BODY) - (5 if rows else 0)


def _draw_contents(frame: ProofPages, cover: CoverTexts, top: float) -> None:
    """At the right of the steps, in the column they leave free."""
    pen = frame.pen
    x = frame.left + frame.room * 0.7
    head = pen.wrap(frame.texts.render_text("proof.cover.contents"), type_sizes.SUBHEAD, frame.right - x)
    y = pen.draw_lines(x, top, head, type_sizes.SUBHEAD) + type_sizes.SUBHEAD.line - 8.5
    for name, page in cover.contents:
        shown = pen.wrap(frame.texts.render_text(name), type_sizes.QUIET, frame.right - x - 10)
        pen.draw_text(frame.right, y, str(page), type_sizes.QUIET, "right")
        high = len(shown) * type_sizes.QUIET.line
        where = frame.texts.render_text("proof.page", page=page)
        pen.add_link(x, y - high + 3.4, frame.right - x, high + 0.6, page, where)
        y = pen.draw_lines(x, y, shown, type_sizes.QUIET) - 1.6


def _draw_legend(frame: ProofPages, blank: Blank, y: float) -> None:
    """Draw the legend of what is drawn besides the lettering; nothing where that is all."""
    pen, texts = frame.pen, frame.texts
    if not (blank.pockets or blank.keep_outs):
        return
    x = frame.left + pen.draw_text(frame.left, y, texts.render_text("proof.legend"), type_sizes.QUIET) + 6
    swatches: list[tuple[Colour, Colour | None, str]] = []
    if blank.pockets:
        swatches.append((styles.POCKET, styles.POCKET_EDGE, texts.render_text("proof.legend.pocket")))
    for colour, edge, label in swatches:
        pen.draw_box(x, y - 0.7, 5, 3.4, fill=colour, edge=edge, radius=0.5)
        x += 7 + pen.draw_text(x + 7, y, label, type_sizes.QUIET) + 8
    if blank.keep_outs:
        pen.draw(trace_rounded(x, y - 0.7, 5, 3.4, 0), edge=TIMBER.edge, line=0.2, dash=(1.2, 0.8))
        pen.draw_text(x + 7, y, texts.render_text("proof.legend.keep-out"), type_sizes.QUIET)


def _draw_ruler(frame: ProofPages, y: float, unit: UnitName) -> None:
    """A bar of exactly 100 mm with a mark each 10 mm, or of 4 in with one each half inch, and what it is for."""
    pen, x = frame.pen, frame.left
    step, steps, message = (0.5 * MM_PER_INCH, 8, "proof.ruler.inch") if unit == "in" else (10.0, 10, "proof.ruler")
    long, each = steps * step, 2 if unit == "in" else 5
    lines = [[(x, y), (x + long, y)]]
    for i in range(steps + 1):
        lines.append([(x + i * step, y), (x + i * step, y + (2.0 if i % each else 3.4))])
        if i % each == 0:
            told = f"{i // each}" if unit == "in" else f"{i * 10}"
            pen.draw_text(x + i * step, y + 4.6, told, type_sizes.QUIET, "centre" if i else "left")
    pen.draw(trace_lines(*lines), edge=styles.INK, line=0.25)
    rows = pen.wrap(frame.texts.render_text(message), type_sizes.QUIET, frame.right - x - long - 8)
    top = y + 0.4 + min(1, len(rows) - 1) * type_sizes.QUIET.line  # further rows hang below, clear of the text above
    pen.draw_lines(x + long + 8, top, rows, type_sizes.QUIET)


def draw_steps(
    frame: ProofPages,
    starts: dict[str, int],
    shown: int,
    agreed: int,
    return_to: str,
    nothing: tuple[str, str] | None = None,
) -> tuple[tuple[str, str], ...]:
    """Draw the steps for the client, in order: headings and texts. starts: pages by the ids of their headings. nothing:
    ids of why there is nothing to agree to."""
    texts = frame.texts

    def write_step(head: str, text: str, **facts: object) -> tuple[str, str]:
        return texts.render_text(head), texts.render_text(text, **facts)

    out = [write_step(*nothing)] if nothing else []
    said = texts.render_plural("proof.plaques", shown)
    if frame.volume.number:
        head = texts.render_text("proof.cover.volume", volume=describe_volume(texts, frame.volume))
        out.append((head, texts.render_text("proof.cover.volume.text", shown=said)))
    if agreed:
        facts = {"revision": frame.revision, "shown": said, "page": starts["proof.agreed"]}
        out.append(write_step("proof.cover.later", "proof.cover.later.text", **facts))
    if shown:
        out.append(write_step("proof.cover.look", "proof.cover.look.text"))
        words = {"change": texts.render_text("proof.change"), "leave": texts.render_text("proof.leave")}
        out.append(write_step("proof.cover.mark", "proof.cover.mark.text", **words))
    if page := starts.get("proof.questions"):
        out.append(write_step("proof.cover.questions", "proof.cover.questions.text", page=page))
    if nothing and "proof.questions" not in starts:
        return tuple(out)
    if nothing:
        last = ("proof.cover.answer", "proof.cover.answer.to" if return_to else "proof.cover.answer.text")
    else:
        last = ("proof.cover.decide", "proof.cover.decide.to" if return_to else "proof.cover.decide.text")
    out.append(write_step(*last, page=starts["proof.sign"], to=return_to))
    return tuple(out)


def draw_note(frame: ProofPages, message: str) -> None:
    """Draw the shop's message on a separate page."""
    head = frame.texts.render_text("proof.note")
    frame.begin_page(head)
    frame.pen.draw_lines(frame.left, draw_heading(frame, head), _wrap_message(frame, message), type_sizes.BODY)
    frame.end_page()
