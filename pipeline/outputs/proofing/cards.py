"""A card for each design: the plaque true to scale, what it says, and places to tick and write.

The picture stands above its details, or beside them where the blank is narrow enough. The scale is the largest of a
few round ones at which every card of the order fits on a page, and it is the same for the whole order.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from pipeline.core.model import Blank
from pipeline.outputs.paper import look
from pipeline.outputs.paper.curves import number
from pipeline.outputs.paper.pen import Pen, Style
from pipeline.outputs.proofing import words
from pipeline.outputs.proofing.entries import Entry
from pipeline.outputs.proofing.frame import LABEL_DROP, Frame

SCALES = (1.0, 0.9, 0.8, 0.75, 0.7, 0.6, 0.5, 0.4, 0.3, 0.25, 0.2, 0.15, 0.1, 0.075, 0.05, 0.025, 0.01)
GAP = 9.0  # between cards on a page
GUTTER = 8.0
NARROWEST = 62.0  # of details beside a picture
STRIP = 7.5  # scale and scale bar under the picture
TICKS = 7.0
CHANGE = 10.5  # height of the box for a change
ANSWER = 8.5
PAD = 3.2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Details:
    """The wrapped text of one card."""

    entry: Entry
    title: list[str]
    lines: list[str]
    notes: list[str]
    questions: list[str]
    said: float  # height of the text column
    asked: float  # height of the question panel; 0 without a question
    height: float  # of the whole card


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plan:
    """How this order's cards are laid out."""

    kind: Literal["above", "beside"]
    scale: float
    blank: Blank
    cutter_kind: str
    point: float
    cards: tuple[Details, ...]
    pages: tuple[tuple[int, ...], ...]  # indices of `cards`

    @property
    def picture(self) -> tuple[float, float]:
        """Width and height on paper, mm."""
        return self.blank.width * self.scale, self.blank.height * self.scale


def plan(
    pen: Pen, entries: tuple[Entry, ...], blank: Blank, room: float, depth: float, cutter: tuple[str, float]
) -> Plan:
    """The largest scale at which every card fits on a page; of two layouts at one scale the one with fewer pages."""
    tried: dict[tuple[str, float], list[Details]] = {}
    for scale in SCALES:
        fits: list[Plan] = []
        kinds: tuple[Literal["above", "beside"], ...] = ("above", "beside")
        for kind in kinds:
            beside = room - blank.width * scale - GUTTER
            if blank.width * scale > room or (kind == "beside" and beside < NARROWEST):
                continue
            left, whole = columns(kind, room, beside)
            key = (kind, left)
            if key not in tried:
                tried[key] = [_details(pen, e, left, whole, kind) for e in entries]
            cards = tuple(_sized(d, kind, blank.height * scale) for d in tried[key])
            if any(d.height > depth for d in cards):
                continue
            pages = tuple(tuple(p) for p in _stack([d.height for d in cards], depth))
            fits.append(
                Plan(
                    kind=kind,
                    scale=scale,
                    blank=blank,
                    cutter_kind=cutter[0],
                    point=cutter[1],
                    cards=cards,
                    pages=pages,
                )
            )
        if fits:
            return min(fits, key=lambda p: len(p.pages))
    cards = tuple(_sized(_details(pen, e, room / 2, room, "above"), "above", 20.0) for e in entries)
    smallest = min(20.0 / blank.height, room / blank.width)
    return Plan(
        kind="above",
        scale=smallest,
        blank=blank,
        cutter_kind=cutter[0],
        point=cutter[1],
        cards=cards,
        pages=tuple((i,) for i in range(len(cards))),
    )


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


def _details(pen: Pen, entry: Entry, left: float, whole: float, kind: str) -> Details:
    title = pen.wrap(entry.title, look.NAME, left)
    lines = [row for line in entry.lines for row in pen.wrap(line, look.BODY, left)]
    notes = [row for note in entry.notes for row in pen.wrap(note, look.QUIET, left)]
    questions = [row for q in entry.questions for row in pen.wrap(q, look.BODY, whole - 2 * PAD - 2)]
    said = 1.0 + len(title) * look.NAME.line + len(lines) * look.BODY.line + 5.5
    said += len(notes) * look.QUIET.line + (1.5 if notes else 0)
    asked = 0.0
    if questions:
        hint = pen.wrap(words.QUESTION_HINT, look.QUIET, whole - 2 * PAD - 2)
        asked = 2 * PAD + len(questions) * look.BODY.line + len(hint) * look.QUIET.line + LABEL_DROP + ANSWER + 1.5
    return Details(
        entry=entry, title=title, lines=lines, notes=notes, questions=questions, said=said, asked=asked, height=0.0
    )


def _sized(d: Details, kind: str, picture: float) -> Details:
    boxes = TICKS + LABEL_DROP + CHANGE + 1.5
    asked = d.asked + 3 if d.asked else 0.0
    if kind == "above":
        height = picture + STRIP + max(d.said, boxes) + asked
    else:
        height = max(picture + STRIP, d.said + 2 + boxes + asked)
    return Details(
        entry=d.entry,
        title=d.title,
        lines=d.lines,
        notes=d.notes,
        questions=d.questions,
        said=d.said,
        asked=d.asked,
        height=height,
    )


def draw(frame: Frame, plan: Plan, card: Details, top: float) -> None:
    """One card, its top at `top`."""
    wide, high = plan.picture
    x = frame.left + ((frame.room - wide) / 2 if plan.kind == "above" else 0.0)
    _picture(frame, plan, card, x, top - high)
    if plan.kind == "above":
        strip(frame, plan, frame.left, frame.right, top - high - STRIP)
        y = top - high - STRIP
        left, whole = columns("above", frame.room, 0)
        _said(frame.pen, card, frame.left, y)
        right = frame.left + left + GUTTER
        _boxes(frame, card.entry, right, y, left)
        if card.asked:
            _question(frame, card, frame.left, top - card.height, whole)
        return
    strip(frame, plan, frame.left, frame.left + wide, top - high - STRIP)
    column = frame.left + wide + GUTTER
    left, _ = columns("beside", frame.room, frame.room - wide - GUTTER)
    y = _said(frame.pen, card, column, top) - 2
    _boxes(frame, card.entry, column, y, left)
    if card.asked:
        _question(frame, card, column, y - (TICKS + LABEL_DROP + CHANGE + 1.5) - 3 - card.asked, left)


def _picture(frame: Frame, plan: Plan, card: Details, x: float, y: float) -> None:
    pen = frame.pen
    key = look.blank_form(pen, plan.blank, plan.cutter_kind, plan.scale)
    scale = f"{plan.scale:.6g}"
    pen.op(f"q {scale} 0 0 {scale} {number(x)} {number(y)} cm")
    pen.place(key)
    look.lettering(pen, card.entry.artwork, plan.cutter_kind, plan.point)
    pen.op("Q")


def strip(frame: Frame, plan: Plan, left: float, right: float, y: float) -> None:
    """The scale in words and a scale bar, right under the picture."""
    pen = frame.pen
    length = next((mm for mm in (20, 50, 100, 200, 500) if mm * plan.scale >= 14), 1000)
    bar = length * plan.scale
    base = y + 3.2
    said = words.TRUE_SIZE if plan.scale == 1 else words.REDUCED.format(percent=f"{plan.scale * 100:g}")
    pen.text(left, base, said, look.LABEL)
    shown = f"{length} mm"
    pen.text(right, base, shown, look.LABEL, "right")
    end = right - pen.wide(shown, look.LABEL) - 1.5
    middle = number(base + 0.9)
    pen.op(
        f"{pen.stroke(look.GREY, 0.25)} {number(end - bar)} {middle} m {number(end)} {middle} l "
        f"{number(end - bar)} {number(base)} m {number(end - bar)} {number(base + 1.8)} l "
        f"{number(end)} {number(base)} m {number(end)} {number(base + 1.8)} l S"
    )


def _said(pen: Pen, card: Details, x: float, top: float) -> float:
    """Name, further lines, rows and fingerprint, notes; the y under them."""
    y = top - look.NAME.mm * 0.95
    y = pen.lines(x, y, card.title, look.NAME)
    y += look.NAME.line - look.BODY.line - 0.6
    y = pen.lines(x, y, card.lines, look.BODY)
    pen.text(x, y - 0.4, about(card.entry), look.QUIET)
    y -= 0.4 + look.QUIET.line + (1.2 if card.notes else 0)
    pen.lines(x, y, card.notes, Style(8, look.ACCENT))
    return top - card.said


def about(entry: Entry) -> str:
    """Rows, pieces and fingerprint in one line."""
    pieces = f" · {words.count(entry.design.pieces, ('piece', 'pieces'))}"
    return f"{words.rows_of(entry.design.rows)}{pieces} · {entry.design.fingerprint}"


def _boxes(frame: Frame, entry: Entry, x: float, top: float, width: float) -> None:
    mark = entry.design.fingerprint
    who = f"{entry.title} ({words.rows_of(entry.design.rows)})"
    y = top - 5.2
    end = frame.tick(x, y, f"correct_{mark}", words.CORRECT, f"{who}: {words.CORRECT}")
    frame.tick(max(end + 6, x + width - 26), y, f"leave_{mark}", words.LEAVE, f"{who}: {words.LEAVE}", look.QUIET)
    y = top - TICKS - LABEL_DROP - CHANGE
    frame.write(x, y, width, CHANGE, f"change_{mark}", words.CHANGE, f"{who}: {words.CHANGE}", several=True)


def _question(frame: Frame, card: Details, x: float, y: float, width: float) -> None:
    pen, entry = frame.pen, card.entry
    pen.box(x, y, width, card.asked, fill=look.ASK_WASH, radius=1.2)
    pen.box(x, y, 1.0, card.asked, fill=look.ASK_EDGE)
    inner = x + PAD + 1
    base = pen.lines(inner, y + card.asked - PAD - look.BODY.mm * 0.8, card.questions, look.BODY)
    pen.lines(inner, base + 0.3, pen.wrap(words.QUESTION_HINT, look.QUIET, width - 2 * PAD - 2), look.QUIET)
    name = f"answer_{entry.design.fingerprint}"
    tip = f"{entry.title}: {words.ANSWER}"
    frame.write(inner, y + PAD - 0.6, width - 2 * PAD - 2, ANSWER, name, words.ANSWER, tip)
