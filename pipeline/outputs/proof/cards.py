"""A card for each design: the plaque true to scale, what it says, and places to tick and write.

The picture stands above its details, or beside them where the blank is narrow enough. The scale is the largest of a
few round ones at which the cards of the order fit on a page; only one with much to say may be drawn smaller.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from pipeline.core.model import Blank
from pipeline.core.texts import Texts
from pipeline.core.units import Units
from pipeline.cutting.cutters import Surface
from pipeline.outputs.pdf import styles
from pipeline.outputs.pdf.canvas import PaperCanvas, moved
from pipeline.outputs.pdf.curve_operators import lines_trace
from pipeline.outputs.pdf.text_style import TextStyle
from pipeline.outputs.proof import changes, details
from pipeline.outputs.proof.page_frame import LABEL_DROP, TICK, ProofPages, rows_told
from pipeline.outputs.proof.proof_entries import ProofEntry

SCALES = (
    1.0,
    0.9,
    0.8,
    0.75,
    0.7,
    0.6,
    0.5,
    0.4,
    0.3,
    0.25,
    0.2,
    0.15,
    0.1,
    0.075,
    0.05,
    0.025,
    0.01,
    0.005,
    0.0025,
    0.001,
)
GAP = 9.0  # between cards on a page
GUTTER = 8.0
NARROWEST = 62.0  # of details beside a picture
STRIP = 7.5  # scale and scale bar under the picture
TICKS = 7.0
CHANGE = 10.5  # height of the box for a change
PAD = 3.2
BOXES = TICKS + LABEL_DROP + CHANGE + 1.5  # all of the ticks and the box for a change
FEW = 0.5  # of the cards may be drawn smaller than the others


@dataclass(slots=True, kw_only=True, eq=False)
class CardTexts:
    """The wrapped text of one card."""

    entry: ProofEntry
    title: list[str]
    lines: list[str]
    notes: list[str]
    questions: list[str]
    said: float  # height of the text column
    asked: float  # height of the question panel; 0 without a question
    before: float  # height of the panel with what changed; 0 without one
    whole: float  # width of the panels
    larger: float = 0.0  # scale at which the lettering is shown again; 0: not
    closer: float = 0.0  # height that takes
    scale: float = 1.0  # of the picture
    height: float = 0.0  # of the whole card


@dataclass(frozen=True, slots=True, kw_only=True)
class CutterView:
    """What the drawings have to know of the cutter: what it letters, and the width of a single line in mm; and which
    lines of the order it cuts alike on every plaque, by number."""

    surface: Surface
    point: float
    fixed: frozenset[int]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CardLayout:
    """How this order's cards are laid out."""

    kind: Literal["above", "beside"]
    scale: float  # of all cards but those that would not fit at it
    blank: Blank
    tool: CutterView
    units: Units
    cards: tuple[CardTexts, ...]
    pages: tuple[tuple[int, ...], ...]  # indices of `cards`


def lay_out_cards(
    frame: ProofPages, entries: tuple[ProofEntry, ...], blank: Blank, tool: CutterView, units: Units
) -> CardLayout:
    """The largest scale at which most cards fit on a page; of two layouts at one scale the one with fewer pages.

    A card that does not fit at that scale, because much is to be said or asked about it, is drawn smaller by itself.
    """
    kinds: tuple[Literal["above", "beside"], ...] = ("above", "beside")
    for scale in SCALES:
        fits: list[CardLayout] = []
        for kind in kinds:
            cards = _cards(frame, entries, blank, frame.room, frame.depth, kind, scale)
            if cards is None:
                continue
            pages = tuple(tuple(p) for p in _stack([d.height for d in cards], frame.depth))
            fits.append(
                CardLayout(kind=kind, scale=scale, blank=blank, tool=tool, units=units, cards=cards, pages=pages)
            )
        if fits:
            return min(fits, key=lambda p: (sum(d.scale < p.scale for d in p.cards), len(p.pages)))
    raise AssertionError("the smallest scale has no place for a blank of several metres")


def _cards(
    frame: ProofPages, entries: tuple[ProofEntry, ...], blank: Blank, room: float, depth: float, kind: str, scale: float
) -> tuple[CardTexts, ...] | None:
    """All cards at this scale, few of them smaller; None when the layout or too many cards do not fit."""
    beside = room - blank.width * scale - GUTTER
    if blank.width * scale > room or (kind == "beside" and beside < NARROWEST):
        return None
    left, whole = columns(kind, room, beside)
    cards = [_details(frame.pen, frame.texts, e, left, whole) for e in entries]
    for card in cards:
        _size(card, kind, blank, scale)
    if sum(d.height > depth for d in cards) > FEW * len(cards):
        return None
    smaller = [s for s in SCALES if s < scale]
    for card in cards:
        for less in smaller:
            if card.height <= depth:
                break
            _size(card, kind, blank, less)
    return tuple(cards)


def columns(kind: str, room: float, beside: float) -> tuple[float, float]:
    """Width of the text column, and of the question panel."""
    return ((room - GUTTER) / 2, room) if kind == "above" else (beside, beside)


def _stack(heights: list[float], depth: float) -> list[list[int]]:
    pages: list[list[int]] = []
    left = 0.0
    for i, height in enumerate(heights):
        if not pages or height + GAP > left:
            pages.append([i])
            left = depth - height
        else:
            pages[-1].append(i)
            left -= height + GAP
    return pages


def _details(pen: PaperCanvas, texts: Texts, entry: ProofEntry, left: float, whole: float) -> CardTexts:
    title = pen.wrap(entry.title, styles.NAME, left)
    lines = [row for line in entry.lines for row in pen.wrap(line, styles.BODY, left)]
    notes = [row for note in entry.notes for row in pen.wrap(note, styles.QUIET, left)]
    questions = [row for q in entry.questions for row in pen.wrap(q, styles.BODY, whole - 2 * PAD - 2)]
    said = 1.0 + len(title) * styles.NAME.line + len(lines) * styles.BODY.line + 5.5
    said += len(notes) * styles.QUIET.line + (1.5 if notes else 0)
    asked = 0.0
    if questions:
        asked = 2 * PAD + len(questions) * styles.BODY.line
        asked += details.PICTURE + 2 if entry.spots else 0.0
    return CardTexts(
        entry=entry,
        title=title,
        lines=lines,
        notes=notes,
        questions=questions,
        said=said,
        asked=asked,
        before=changes.changes_height(entry),
        whole=whole,
        height=0.0,
    )


def _size(d: CardTexts, kind: str, blank: Blank, scale: float) -> None:
    """Gives a card its picture's scale, with all that follows from it."""
    picture = blank.height * scale
    larger = details.enlarged_scale(d.entry.artwork, scale, d.whole)
    d.scale, d.larger, d.closer = scale, larger, details.enlarged_height(d.entry.artwork, larger)
    if kind == "above":
        d.height = picture + STRIP + max(d.said, BOXES) + _panels_depth(d)
    else:
        d.height = max(picture + STRIP, d.said + 2 + BOXES + _panels_depth(d))


def draw_cards(frame: ProofPages, plan: CardLayout) -> None:
    """The pages of plaques, each with a bookmark for every plaque on it."""
    for n, page in enumerate(plan.pages):
        frame.begin(frame.texts.text("proof.cards") if n == 0 else "")
        top = frame.top
        for k, i in enumerate(page):
            card = plan.cards[i]
            if k:
                frame.pen.line(frame.left, top + GAP / 2, frame.right, top + GAP / 2, styles.HAIR)
            frame.pen.bookmark(card.entry.title, 1)
            draw_card(frame, plan, card, top)
            top -= card.height + GAP
        frame.end()


def draw_card(frame: ProofPages, plan: CardLayout, card: CardTexts, top: float) -> None:
    """One card, its top at `top`."""
    wide, high = plan.blank.width * card.scale, plan.blank.height * card.scale
    x = frame.left + ((frame.room - wide) / 2 if plan.kind == "above" else 0.0)
    _picture(frame, plan, card, x, top - high)
    if plan.kind == "above":
        draw_scale_strip(frame, card.scale, frame.left, frame.right, top - high - STRIP)
        y = top - high - STRIP
        left, whole = columns("above", frame.room, 0)
        _said(frame.pen, frame.texts, card, frame.left, y)
        right = frame.left + left + GUTTER
        _boxes(frame, card.entry, right, y, left)
        _panels(frame, plan, card, frame.left, top - card.height + _panels_depth(card), whole)
        return
    draw_scale_strip(frame, card.scale, frame.left, frame.left + wide, top - high - STRIP)
    column = frame.left + plan.blank.width * plan.scale + GUTTER
    left, _ = columns("beside", frame.room, frame.right - column)
    y = _said(frame.pen, frame.texts, card, column, top) - 2
    _boxes(frame, card.entry, column, y, left)
    _panels(frame, plan, card, column, y - BOXES, left)


def _panels_depth(card: CardTexts) -> float:
    return sum(high + 3 for high in (card.closer, card.before, card.asked) if high)


def _panels(frame: ProofPages, plan: CardLayout, card: CardTexts, x: float, top: float, width: float) -> None:
    """Larger lettering, what changed, the question: one under the other from `top` down."""
    if card.closer:
        details.draw_enlarged(frame.pen, frame.texts, card.entry.artwork, card.larger, x, top - 3, plan.tool.point)
        top -= 3 + card.closer
    if card.before:
        changes.draw_changes(frame.pen, frame.texts, card.entry, plan.units, x, top - 3 - card.before, width)
        top -= 3 + card.before
    if card.asked:
        _question(frame, plan, card, x, top - 3 - card.asked, width)


def _picture(frame: ProofPages, plan: CardLayout, card: CardTexts, x: float, y: float) -> None:
    pen = frame.pen
    key = styles.blank_form(pen, plan.blank, plan.tool.surface, card.scale)
    with pen.kept(moved(x, y, card.scale)):
        pen.place(key)
        styles.draw_lettering(pen, card.entry.artwork, plan.blank, plan.tool.surface, plan.tool.point, plan.tool.fixed)
        for spot in card.entry.spots:
            details.draw_ring(pen, spot, card.scale)


def draw_scale_strip(frame: ProofPages, scale: float, left: float, right: float, y: float) -> None:
    """The scale in words and a scale bar, right under the picture: drawn once for each scale."""
    key = f"strip {scale:g} {right - left:g}"
    with frame.pen.form(key, (-100, 0, right - left + 100, STRIP)) as new:  # words may be wider than the picture
        if new:
            _strip(frame.pen, frame.texts, scale, right - left)
    frame.pen.place(key, moved(left, y))


def _strip(pen: PaperCanvas, texts: Texts, scale: float, width: float) -> None:
    length = next((mm for mm in (20, 50, 100, 200, 500) if mm * scale >= 14), 1000)
    bar = length * scale
    base = 3.2
    said = texts.text("proof.true-size") if scale == 1 else texts.text("proof.reduced", percent=scale * 100)
    pen.text(0, base, said, styles.LABEL)
    shown = f"{length} mm"
    pen.text(width, base, shown, styles.LABEL, "right")
    end = width - pen.wide(shown, styles.LABEL) - 1.5
    middle, high = base + 0.9, base + 1.8
    bars = lines_trace(
        [(end - bar, middle), (end, middle)], [(end - bar, base), (end - bar, high)], [(end, base), (end, high)]
    )
    pen.draw(bars, edge=styles.GREY, line=0.25)


def _said(pen: PaperCanvas, texts: Texts, card: CardTexts, x: float, top: float) -> float:
    """Name, further lines, rows and fingerprint, notes; the y under them."""
    y = top - styles.NAME.mm * 0.95
    y = pen.lines(x, y, card.title, styles.NAME)
    y += styles.NAME.line - styles.BODY.line - 0.6
    y = pen.lines(x, y, card.lines, styles.BODY)
    pen.text(x, y - 0.4, describe_design(texts, card.entry), styles.QUIET)
    y -= 0.4 + styles.QUIET.line + (1.2 if card.notes else 0)
    pen.lines(x, y, card.notes, TextStyle(8, styles.ACCENT))
    return top - card.said


def describe_design(texts: Texts, entry: ProofEntry) -> str:
    """Rows, pieces and fingerprint in one line."""
    pieces = texts.plural("proof.pieces", entry.design.pieces)
    no = (texts.text("proof.no", no=entry.design.no),) if entry.design.no else ()
    return " · ".join((*no, rows_told(texts, entry.design.rows), pieces, entry.design.fingerprint))


def _boxes(frame: ProofPages, entry: ProofEntry, x: float, top: float, width: float) -> None:
    """Places to tick, and one for a change: drawn once, their fields new on every card."""
    pen, texts = frame.pen, frame.texts
    correct_label, leave_label, change_label = (
        texts.text(id) for id in ("proof.correct", "proof.leave", "proof.change")
    )
    leave = max(TICK + 8 + pen.wide(correct_label, styles.SMALL), width - 26)
    tick, foot = -5.2, -TICKS - LABEL_DROP - CHANGE
    key = f"boxes {width:g}"
    with pen.form(key, (-1, -BOXES, width + 30, 1)) as new:
        if new:
            frame.tick_box(0, tick, correct_label, styles.SMALL)
            frame.tick_box(leave, tick, leave_label, styles.QUIET)
            frame.write_box(0, foot, width, CHANGE, change_label)
    pen.place(key, moved(x, top))
    mark = entry.design.fingerprint
    rows = rows_told(texts, entry.design.rows)

    def tip(field: str) -> str:
        return texts.text("proof.field.tip.rows", name=entry.title, rows=rows, field=field)

    frame.ticked(x, top + tick, f"correct_{mark}", tip(correct_label))
    frame.ticked(x + leave, top + tick, f"leave_{mark}", tip(leave_label))
    frame.written(x, top + foot, width, CHANGE, f"change_{mark}", tip(change_label), several=True)


def _question(frame: ProofPages, plan: CardLayout, card: CardTexts, x: float, y: float, width: float) -> None:
    pen, texts, entry = frame.pen, frame.texts, card.entry
    pen.box(x, y, width, card.asked, fill=styles.ASK_WASH, radius=1.2)
    pen.box(x, y, 1.0, card.asked, fill=styles.ASK_EDGE)
    inner = x + PAD + 1
    pen.lines(inner, y + card.asked - PAD - styles.BODY.mm * 0.8, card.questions, styles.BODY)
    if entry.spots:
        foot = y + PAD
        wide = details.details_width(entry.spots, width - 2 * PAD - 2)
        details.draw_spots(pen, texts, entry.artwork, plan.blank, entry.spots, inner, foot, wide, plan.tool.point)
