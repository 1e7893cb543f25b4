"""A card for each design: the piece true to scale, its number and what it says, and one place to answer.

The picture stands above its details, or beside them where the blank is narrow enough. What a question, a change since
an earlier proof or small lettering needs stands below both, over the whole width. `page` draws at the largest of a few
round scales at which the cards of the order fit on a page; `compact` at the largest that leaves room for several.
"""

from __future__ import annotations

from dataclasses import dataclass
from statistics import median
from typing import Literal

from pipeline.core.language.texts import Texts
from pipeline.core.model import Artwork, Blank
from pipeline.core.units import MM, UnitName, Units
from pipeline.outputs.pdf import styles
from pipeline.outputs.pdf.canvas import PaperCanvas, build_move
from pipeline.outputs.pdf.curve_operators import trace_lines
from pipeline.outputs.pdf.material_look import PieceLook
from pipeline.outputs.pdf.text_style import TextStyle
from pipeline.outputs.proof import changes, details, type_sizes
from pipeline.outputs.proof.page_frame import LABEL_DROP, TICK, TICK_ROW, ProofPages, describe_rows, place_ticks
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
Layout = Literal["page", "compact"]
Kind = Literal["above", "beside"]
GAP = 7.0  # between cards of a page
GUTTER = 8.0
NARROWEST = 68.0  # least width for details beside a picture
COMPACT_WIDE, COMPACT_HIGH = 92.0, 110.0  # greatest picture where several cards share a page
SAMPLE = 60  # cards that the scale is chosen from
STRIP = 7.5  # height of scale and scale bar under the picture
BARS: dict[UnitName, tuple[int, ...]] = {"mm": (20, 50, 100, 200, 500, 1000), "in": (1, 2, 4, 10, 20, 40)}
"""Lengths of a scale bar, in the order's unit."""
BACK_HIGH = 60.0  # greatest height of a back's picture
CHANGE = 10.0  # height of the box for a change
PAD = 4.0
FEW = 0.5  # share of the cards that may be drawn smaller than the others
MOST_TITLE = 2  # most rows of a title before it is set smaller
MOST_CELLS = 4
"""Cells of the list that are named on a card."""


@dataclass(slots=True, kw_only=True, eq=False)
class CardTexts:
    """The wrapped text of one card."""

    entry: ProofEntry
    title: list[str]
    named: TextStyle  # of the title
    lines: list[str]
    facts: list[str]  # pieces, cells, fingerprint
    notes: list[str]
    questions: list[list[str]]
    said: float  # height of the text column
    boxes: float  # height of the answer fields where there is no question
    asked: float  # height of the question panel; 0 without a question
    before: float  # height of the panel with what changed; 0 without one
    whole: float  # width of the panels
    larger: float = 0.0  # scale at which the lettering is shown again; 0: not
    closer: float = 0.0  # height that takes
    behind: float = 0.0  # height of the picture of a lettered back; 0: none
    scale: float = 1.0  # of the picture
    height: float = 0.0  # of the whole card


@dataclass(frozen=True, slots=True, kw_only=True)
class CutterView:
    """Material and cutter as the drawings need them: the look of a piece, and the width of a single line in mm; and
    which lines of the order it cuts alike on every plaque, by number."""

    look: PieceLook
    point: float
    fixed: frozenset[int]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CardLayout:
    """Layout of an order's cards."""

    kind: Kind
    scale: float  # of all cards except those that don't fit at it
    blank: Blank
    tool: CutterView
    units: Units
    cards: tuple[CardTexts, ...]
    pages: tuple[tuple[int, ...], ...]  # indices of `cards`


def lay_out_cards(
    frame: ProofPages,
    entries: tuple[ProofEntry, ...],
    blank: Blank,
    tool: CutterView,
    units: Units,
    layout: Layout = "page",
) -> CardLayout:
    """The largest scale at which most cards fit on a page; of two layouts at one scale the one with fewer pages.

    A card that does not fit at that scale, because much is to be said or asked about it, is drawn smaller by itself.
    layout "compact": scales at which several cards share a page come first.
    """
    kinds: tuple[Kind, ...] = ("above", "beside")
    small = [s for s in SCALES if blank.width * s <= COMPACT_WIDE and blank.height * s <= COMPACT_HIGH]
    ways = [(scale, kinds) for scale in SCALES]
    if layout == "compact" and small:
        best = _find_compact_scale(frame, entries[:SAMPLE], blank, small)
        ways = [(best, ("beside",)), *ways]
    for scale, possible in ways:
        fits: list[CardLayout] = []
        for kind in possible:
            cards = _measure_cards(frame, entries, blank, frame.room, frame.depth, kind, scale)
            if cards is None:
                continue
            pages = tuple(tuple(p) for p in _stack([d.height for d in cards], frame.depth))
            fits.append(
                CardLayout(kind=kind, scale=scale, blank=blank, tool=tool, units=units, cards=cards, pages=pages)
            )
        if fits:
            return min(fits, key=lambda p: (sum(d.scale < p.scale for d in p.cards), len(p.pages)))
    raise AssertionError("the smallest scale has no place for a blank of several metres")


def _find_compact_scale(frame: ProofPages, entries: tuple[ProofEntry, ...], blank: Blank, small: list[float]) -> float:
    """Of these scales, the first the largest: the one with the fewest pages among those at which the lettering of most
    cards stays readable, the largest of several."""
    caps = [c for e in entries if (c := details.list_cap_heights(e.artwork))]
    needed = 0.0
    if caps:
        tallest, least = (median(pick(c) for c in caps) for pick in (max, min))
        needed = max(details.READABLE / tallest, details.LEGIBLE / least)
    pages: dict[float, int] = {}
    for scale in [s for s in small if s >= needed] or small[:1]:
        cards = _measure_cards(frame, entries, blank, frame.room, frame.depth, "beside", scale)
        if cards is not None:
            pages[scale] = len(_stack([d.height for d in cards], frame.depth))
    return min(pages, key=lambda s: (pages[s], -s), default=small[0])


def _measure_cards(
    frame: ProofPages, entries: tuple[ProofEntry, ...], blank: Blank, room: float, depth: float, kind: str, scale: float
) -> tuple[CardTexts, ...] | None:
    """All cards at this scale, few of them smaller; None when the layout or too many cards do not fit."""
    beside = room - blank.width * scale - GUTTER
    if blank.width * scale > room or (kind == "beside" and beside < NARROWEST):
        return None
    column = _get_column_width(kind, room, beside)
    cards = [_measure_details(frame.pen, frame.texts, e, column, room) for e in entries]
    for card in cards:
        _size_card(card, kind, blank, scale)
    if sum(d.height > depth for d in cards) > FEW * len(cards):
        return None
    smaller = [s for s in SCALES if s < scale]
    for card in cards:
        for less in smaller:
            if card.height <= depth:
                break
            _size_card(card, kind, blank, less)
    return tuple(cards)


def _get_column_width(kind: str, room: float, beside: float) -> float:
    """Width of the column with the text."""
    return (room - GUTTER) / 2 if kind == "above" else beside


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


# --- how much room a card takes ------------------------------------------------------------------------------------


def _measure_details(pen: PaperCanvas, texts: Texts, entry: ProofEntry, left: float, whole: float) -> CardTexts:
    named, room = type_sizes.NAME, left - measure_number(pen, texts, entry)
    title = pen.wrap(entry.title, named, room)
    if len(title) > MOST_TITLE:
        named = type_sizes.LONG_NAME
        title = pen.wrap(entry.title, named, room)
    lines = [row for line in entry.lines for row in pen.wrap(line, type_sizes.BODY, left)]
    facts = pen.wrap(describe_design(texts, entry), type_sizes.QUIET, left)
    notes = [row for note in entry.notes for row in pen.wrap(note, type_sizes.NOTE, left)]
    inner = whole - 2 * PAD - 2
    questions = [pen.wrap(q, type_sizes.BODY, inner) for q in entry.questions]
    said = (
        type_sizes.NAME.line
        + (len(title) - 1) * named.line
        + len(lines) * type_sizes.BODY.line
        + len(facts) * type_sizes.QUIET.line
    )
    said += 2.2 + (len(notes) * type_sizes.NOTE.line + 1.5 if notes else 0)
    boxes = 1.0 + _measure_ticks(pen, texts, left) + LABEL_DROP + CHANGE
    asked = 0.0
    if questions:
        asked = 2 * PAD + sum(map(len, questions)) * type_sizes.BODY.line + 1.5 * (len(questions) - 1)
        asked += 2.0 + _measure_ticks(pen, texts, inner) + LABEL_DROP + CHANGE
        asked += details.PICTURE + 3 if entry.spots else 0.0
        boxes = 0.0
    return CardTexts(
        entry=entry,
        title=title,
        named=named,
        lines=lines,
        facts=facts,
        notes=notes,
        questions=questions,
        said=said,
        boxes=boxes,
        asked=asked,
        before=changes.measure_changes(entry),
        whole=whole,
        height=0.0,
    )


def measure_number(pen: PaperCanvas, texts: Texts, entry: ProofEntry) -> float:
    """Width of the plain number before the name; 0 where there is none."""
    if not entry.design.no:
        return 0.0
    return pen.measure_text(texts.render_text("proof.no", no=entry.design.no), type_sizes.NUMBER) + 3.5


def _list_tick_labels(texts: Texts) -> tuple[str, str]:
    return texts.render_text("proof.correct"), texts.render_text("proof.leave")


def _measure_ticks(pen: PaperCanvas, texts: Texts, width: float) -> float:
    return (place_ticks(pen, _list_tick_labels(texts), width)[-1][1] + 1) * TICK_ROW


def _size_card(d: CardTexts, kind: str, blank: Blank, scale: float) -> None:
    """Give a card its picture's scale, with all that follows from it."""
    picture = blank.height * scale
    larger = details.find_enlarged_scale(d.entry.artwork, scale, d.whole)
    d.scale, d.larger, d.closer = scale, larger, details.measure_enlarged(d.entry.artwork, larger)
    d.behind = 0.0
    if any(part.side == "back" for part in d.entry.artwork.parts):
        d.behind = _find_back_scale(blank, d.entry.artwork, scale, d.whole) * blank.height + type_sizes.QUIET.line + 2
    if kind == "above":
        d.height = picture + STRIP + max(d.said, d.boxes) + _measure_panels(d)
    else:
        d.height = max(picture + STRIP, d.said + d.boxes) + _measure_panels(d)


def _measure_panels(card: CardTexts) -> float:
    return sum(high + 3 for high in (card.closer, card.behind, card.before, card.asked) if high)


# --- drawing -------------------------------------------------------------------------------------------------------


def draw_cards(frame: ProofPages, plan: CardLayout) -> None:
    """The pages of plaques, each with a bookmark for every plaque on it."""
    for n, page in enumerate(plan.pages):
        frame.begin_page(frame.texts.render_text("proof.cards") if n == 0 else "")
        top = frame.top
        for k, i in enumerate(page):
            card = plan.cards[i]
            if k:
                frame.pen.draw_line(frame.left, top + GAP / 2, frame.right, top + GAP / 2, styles.HAIR)
            frame.pen.add_bookmark(card.entry.title, 1)
            draw_card(frame, plan, card, top)
            top -= card.height + GAP
        frame.end_page()


def draw_card(frame: ProofPages, plan: CardLayout, card: CardTexts, top: float) -> None:
    """One card, its top at `top`."""
    wide, high = plan.blank.width * card.scale, plan.blank.height * card.scale
    x = frame.left + ((frame.room - wide) / 2 if plan.kind == "above" else 0.0)
    _draw_picture(frame, plan, card, x, top - high)
    if plan.kind == "above":
        draw_scale_strip(frame, card.scale, frame.left, frame.right, top - high - STRIP, plan.units)
        y = top - high - STRIP
        left = _get_column_width("above", frame.room, 0)
        _draw_text(frame.pen, frame.texts, card, frame.left, y)
        if card.boxes:
            _draw_boxes(frame, card.entry, frame.left + left + GUTTER, y, left)
    else:
        draw_scale_strip(frame, card.scale, frame.left, frame.left + wide, top - high - STRIP, plan.units)
        column = frame.left + plan.blank.width * plan.scale + GUTTER
        y = _draw_text(frame.pen, frame.texts, card, column, top)
        if card.boxes:
            _draw_boxes(frame, card.entry, column, y, frame.right - column)
    _draw_panels(frame, plan, card, top - card.height + _measure_panels(card))


def _draw_panels(frame: ProofPages, plan: CardLayout, card: CardTexts, top: float) -> None:
    """Larger lettering, what changed, the question: one under the other from `top` down."""
    x, width = frame.left, frame.room
    if card.closer:
        details.draw_enlarged(frame.pen, frame.texts, card.entry.artwork, card.larger, x, top - 3, plan.tool.point)
        top -= 3 + card.closer
    if card.behind:
        _draw_back(frame, plan, card, x, top - 3)
        top -= 3 + card.behind
    if card.before:
        changes.draw_changes(frame.pen, frame.texts, card.entry, x, top - 3 - card.before, width)
        top -= 3 + card.before
    if card.asked:
        _draw_question(frame, plan, card, x, top - 3 - card.asked, width)


def _draw_picture(frame: ProofPages, plan: CardLayout, card: CardTexts, x: float, y: float) -> None:
    pen = frame.pen
    key = styles.get_blank_form(pen, plan.blank, plan.tool.look, card.scale)
    with pen.save_state(build_move(x, y, card.scale)):
        pen.draw_form(key)
        styles.draw_lettering(pen, card.entry.artwork, plan.blank, plan.tool.look, plan.tool.point, plan.tool.fixed)
        for spot in card.entry.spots:
            details.draw_ring(pen, spot, card.scale)


def _find_back_scale(blank: Blank, artwork: Artwork, scale: float, room: float) -> float:
    """The scale of the back's picture: that of the front, or larger, so that its lettering can be read."""
    caps = [line.cap_height for line in artwork.lines if line.rows and line.side == "back"]
    wanted = max(scale, min(1.0, details.LEGIBLE / min(caps))) if caps else scale
    return min(wanted, room / blank.width, BACK_HIGH / blank.height)


def _draw_back(frame: ProofPages, plan: CardLayout, card: CardTexts, x: float, top: float) -> None:
    """The lettered back, as it is seen from behind, its name above it."""
    pen, tool, scale = frame.pen, plan.tool, _find_back_scale(plan.blank, card.entry.artwork, card.scale, card.whole)
    pen.draw_text(x, top - type_sizes.QUIET.line + 1, frame.texts.render_text("proof.back"), type_sizes.QUIET)
    key = styles.get_blank_form(pen, plan.blank, tool.look, scale, back=True)
    with pen.save_state(build_move(x, top - card.behind, scale)):
        pen.draw_form(key)
        styles.draw_lettering(pen, card.entry.artwork, plan.blank, tool.look, tool.point, tool.fixed, side="back")


def draw_scale_strip(frame: ProofPages, scale: float, left: float, right: float, y: float, units: Units = MM) -> None:
    """The scale in words and a scale bar, right under the picture: drawn once for each scale."""
    key = f"strip {scale:g} {right - left:g} {units.name}"
    with frame.pen.define_form(key, (-100, 0, right - left + 100, STRIP)) as new:  # words may be wider than the picture
        if new:
            _draw_strip(frame.pen, frame.texts, scale, right - left, units)
    frame.pen.draw_form(key, build_move(left, y))


def _draw_strip(pen: PaperCanvas, texts: Texts, scale: float, width: float, units: Units) -> None:
    lengths = BARS[units.name]
    length = next((n for n in lengths if n * units.mm * scale >= 14), lengths[-1])
    bar = length * units.mm * scale
    base = 2.8
    said = (
        texts.render_text("proof.true-size") if scale == 1 else texts.render_text("proof.reduced", percent=scale * 100)
    )
    if pen.measure_text(said, type_sizes.QUIET) > width and scale != 1:
        said = texts.render_text("proof.reduced.short", percent=scale * 100)
    taken = pen.draw_text(0, base, said, type_sizes.QUIET)
    shown = f"{length} {units.name}"
    end = width - pen.measure_text(shown, type_sizes.QUIET) - 1.8
    if end - bar < taken + 4:
        return
    pen.draw_text(width, base, shown, type_sizes.QUIET, "right")
    middle, high = base + 1.1, base + 2.2
    bars = trace_lines(
        [(end - bar, middle), (end, middle)], [(end - bar, base), (end - bar, high)], [(end, base), (end, high)]
    )
    pen.draw(bars, edge=styles.GREY, line=0.3)


def _draw_text(pen: PaperCanvas, texts: Texts, card: CardTexts, x: float, top: float) -> float:
    """Number and name, further lines, cells and fingerprint, notes; the y under them."""
    y = top - type_sizes.NAME.mm * 0.95
    indent = measure_number(pen, texts, card.entry)
    if indent:
        pen.draw_text(x, y, texts.render_text("proof.no", no=card.entry.design.no), type_sizes.NUMBER)
    for n, row in enumerate(card.title):
        pen.draw_text(x + indent, y - n * card.named.line, row, card.named)
    y -= (len(card.title) - 1) * card.named.line + type_sizes.BODY.line + 1.0
    y = pen.draw_lines(x, y, card.lines, type_sizes.BODY)
    y = pen.draw_lines(x, y - 0.2, card.facts, type_sizes.QUIET) - 0.8
    pen.draw_lines(x, y, card.notes, type_sizes.NOTE)
    return top - card.said


def describe_design(texts: Texts, entry: ProofEntry) -> str:
    """Describe a design: how many pieces if several, the cells of the list, and the fingerprint."""
    design = entry.design
    cells = ", ".join(design.cells[:MOST_CELLS]) + (f" +{more}" if (more := len(design.cells) - MOST_CELLS) > 0 else "")
    pieces = (texts.render_plural("proof.pieces", design.pieces),) if design.pieces > 1 else ()
    return " · ".join(filter(None, (*pieces, cells, design.fingerprint)))


def _draw_boxes(frame: ProofPages, entry: ProofEntry, x: float, top: float, width: float) -> None:
    """Places to tick, and one for a change: drawn once, their fields new on every card."""
    pen, texts = frame.pen, frame.texts
    labels, change = _list_tick_labels(texts), texts.render_text("proof.change")
    places = place_ticks(pen, labels, width)
    depth = _measure_ticks(pen, texts, width)
    foot = -1.0 - depth - LABEL_DROP - CHANGE
    key = f"boxes {width:g} {change}"
    with pen.define_form(key, (-1, foot - 1, width + 30, 1)) as new:
        if new:
            for label, (at, row) in zip(labels, places, strict=True):
                frame.draw_tick_box(at, -1.0 - TICK - row * TICK_ROW, label)
            frame.write_box(0, foot, width, CHANGE, change)
    pen.draw_form(key, build_move(x, top))
    _draw_fields(frame, entry, x, top, width, places, foot, change)


def _draw_fields(
    frame: ProofPages,
    entry: ProofEntry,
    x: float,
    top: float,
    width: float,
    places: list[tuple[float, int]],
    foot: float,
    change: str,
) -> None:
    """The fields of a card, over what is drawn for them."""
    texts, mark = frame.texts, entry.design.fingerprint
    rows, no = describe_rows(texts, entry.design.rows), entry.design.no
    named = f"{texts.render_text('proof.no', no=no)} {entry.title}" if no else entry.title

    def describe_field(field: str) -> str:
        return texts.render_text("proof.field.tip.rows", name=named, rows=rows, field=field)

    for kind, label, (at, row) in zip(("correct", "leave"), _list_tick_labels(texts), places, strict=True):
        frame.draw_tick_field(x + at, top - 1.0 - TICK - row * TICK_ROW, f"{kind}_{mark}", describe_field(label))
    frame.draw_text_field(x, top + foot, width, CHANGE, f"change_{mark}", describe_field(change), several=True)


def _draw_question(frame: ProofPages, plan: CardLayout, card: CardTexts, x: float, y: float, width: float) -> None:
    """The question with everything that can be answered to it, its foot on y."""
    pen, texts, entry = frame.pen, frame.texts, card.entry
    pen.draw_box(x, y, width, card.asked, fill=styles.ASK_WASH, radius=1.2)
    pen.draw_box(x, y, 1.2, card.asked, fill=styles.ASK_EDGE)
    inner, room = x + PAD + 2, width - 2 * PAD - 2
    base = y + card.asked - PAD - type_sizes.BODY.mm * 0.85
    for rows in card.questions:
        base = pen.draw_lines(inner, base, rows, type_sizes.BODY) - 1.5
    places = place_ticks(pen, _list_tick_labels(texts), room)
    change = texts.render_text("proof.change.asked")
    top = y + PAD + CHANGE + LABEL_DROP + 1.0 + _measure_ticks(pen, texts, room)
    if entry.spots:
        wide = details.measure_details(entry.spots, room)
        details.draw_spots(pen, texts, entry.artwork, plan.blank, entry.spots, inner, top + 1, wide, plan.tool.point)
    for label, (at, row) in zip(_list_tick_labels(texts), places, strict=True):
        frame.draw_tick_box(inner + at, top - 1.0 - TICK - row * TICK_ROW, label)
    frame.write_box(inner, y + PAD, room, CHANGE, change)
    _draw_fields(frame, entry, inner, top, room, places, y + PAD - top, change)
