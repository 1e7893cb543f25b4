"""The pages before the plaques: cover, questions, names that cannot be cut, index."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass

from pipeline.core.model import Blank
from pipeline.core.order import ProofPart
from pipeline.outputs.paper import look
from pipeline.outputs.paper.curves import number
from pipeline.outputs.paper.faces import SERIF
from pipeline.outputs.paper.pen import Colour, Style
from pipeline.outputs.proofing import words
from pipeline.outputs.proofing.entries import Entry, Held
from pipeline.outputs.proofing.frame import LABEL_DROP, Frame, heading, heading_depth, paginate

RULER_MM = 100.0
CHOICE = 8.5
_INDEX_ROW = 5.1
_COLUMNS = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Cover:
    """What the cover says besides the order."""

    title: str
    client: str
    proof: ProofPart
    counts: tuple[tuple[int, tuple[str, str]], ...]
    steps: tuple[tuple[str, str], ...]
    contents: tuple[tuple[str, int], ...]


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
    said = [part for part in (cover.client, f"Proof {frame.revision}", cover.proof.date or "") if part]
    pen.text(left, y, "  ·  ".join(said), Style(11, look.GREY))
    y -= 9
    pen.line(left, y, frame.right, y, look.HAIR, 0.3)

    y -= 13
    step = frame.room / 4
    for i, (number_of, named) in enumerate(cover.counts):
        x = left + i * step
        pen.text(x, y, str(number_of), look.FIGURE)
        label = named[0] if number_of == 1 else named[1]
        pen.lines(x, y - 6, pen.wrap(label, look.QUIET, step - 6), look.QUIET)
    y -= 22

    message = pen.wrap(cover.proof.message, look.BODY, frame.room - 10) if cover.proof.message else []
    if 0 < len(message) <= 6:
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
        pen.op(f"{pen.stroke(look.TIMBER['edge'], 0.2, '1.2 0.8')} {number(x)} {number(y - 0.7)} 5 3.2 re S [] 0 d")
        pen.text(x + 7, y, words.LEGEND_KEEP_OUT, look.QUIET)


def _ruler(frame: Frame, y: float) -> None:
    """A bar of exactly 100 mm with a mark each 10 mm, and what it is for."""
    pen, x = frame.pen, frame.left
    ops = [pen.stroke(look.INK, 0.25), f"{number(x)} {number(y)} m {number(x + RULER_MM)} {number(y)} l"]
    for i in range(11):
        at = number(x + i * RULER_MM / 10)
        ops.append(f"{at} {number(y)} m {at} {number(y + (3.4 if i % 5 == 0 else 2.0))} l")
    pen.op(" ".join(ops) + " S")
    for mm in (0, 50, 100):
        pen.text(x + mm, y + 4.4, str(mm), look.LABEL, "centre")
    rows = pen.wrap(f"{words.RULER} {words.RULER_WHY}", look.QUIET, frame.right - x - RULER_MM - 10)
    pen.lines(x + RULER_MM + 10, y + 5.4, rows, look.QUIET)


# --- questions -----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """One line of the list of questions. Without a page it concerns the whole order."""

    title: str
    text: str
    page: int = 0


def plan_questions(frame: Frame, asked: tuple[Asked, ...]) -> list[list[int]]:
    heights = [_asked_depth(frame, a) for a in asked]
    return paginate(heights, frame.depth - heading_depth(frame, words.QUESTIONS_INTRO), frame.depth)


def _asked_depth(frame: Frame, asked: Asked) -> float:
    return look.BODY.line + len(frame.pen.wrap(asked.text, look.BODY, frame.room - 32)) * look.BODY.line + 5


def draw_questions(frame: Frame, asked: tuple[Asked, ...], pages: list[list[int]]) -> None:
    pen = frame.pen
    for n, page in enumerate(pages):
        frame.begin(words.QUESTIONS_HEAD if n == 0 else "")
        y = heading(frame, words.QUESTIONS_HEAD, words.QUESTIONS_INTRO) if n == 0 else frame.top - 4
        for i in page:
            item = asked[i]
            depth = _asked_depth(frame, item)
            pen.box(frame.left, y - depth + 8.2, 0.8, depth - 4, fill=look.ASK_EDGE)
            pen.text(frame.left + 4, y, pen.shorten(item.title, look.BODY, frame.room - 34), look.BODY)
            if item.page:
                pen.text(frame.right, y, f"page {item.page}", Style(8.5, look.ACCENT), "right")
                pen.link(frame.left, y - 5, frame.room, 9, item.page)
            rows = pen.wrap(item.text, look.BODY, frame.room - 32)
            pen.lines(frame.left + 4, y - look.BODY.line, rows, Style(9.5, look.GREY))
            y -= depth
        frame.end()


# --- names that cannot be cut --------------------------------------------------------------------------------------


def plan_held(frame: Frame, items: tuple[Held, ...]) -> list[list[int]]:
    heights = [_held_depth(frame, h) for h in items]
    return paginate(heights, frame.depth - heading_depth(frame, words.STOPPED_INTRO), frame.depth)


def _held_rows(frame: Frame, item: Held) -> tuple[list[str], list[str]]:
    title = frame.pen.wrap(item.title.strip() or words.EMPTY_CELL, look.NAME, frame.room - 6)
    return title, [row for r in item.reasons for row in frame.pen.wrap(r, look.BODY, frame.room - 6)]


def _held_depth(frame: Frame, item: Held) -> float:
    title, reasons = _held_rows(frame, item)
    text = len(title) * look.NAME.line + len(reasons) * look.BODY.line + look.QUIET.line
    return text + LABEL_DROP + CHOICE + 15


def draw_held(frame: Frame, items: tuple[Held, ...], pages: list[list[int]]) -> None:
    pen, x = frame.pen, frame.left + 5
    for n, page in enumerate(pages):
        frame.begin(words.STOPPED_HEAD if n == 0 else "")
        y = heading(frame, words.STOPPED_HEAD, words.STOPPED_INTRO) if n == 0 else frame.top - 4
        for i in page:
            item, depth = items[i], _held_depth(frame, items[i])
            title, reasons = _held_rows(frame, item)
            pen.box(frame.left, y - depth + 12, 0.8, depth - 7.5, fill=look.STOP_EDGE)
            base = pen.lines(x, y, title, look.NAME) + look.NAME.line - look.QUIET.line
            pen.text(x, base, f"row {item.unset.row} · cell {item.unset.cell}", look.QUIET)
            base = pen.lines(x, base - look.BODY.line - 0.4, reasons, look.BODY)
            foot = base - LABEL_DROP - CHOICE + look.BODY.line - 3.4
            tip = f"{item.title}: {words.YOUR_CHOICE}"
            frame.write(x, foot, frame.right - x, CHOICE, f"choice_row{item.unset.row}", words.YOUR_CHOICE, tip)
            y -= depth
        frame.end()


# --- index ---------------------------------------------------------------------------------------------------------


def sort_key(name: str) -> tuple[str, str]:
    """Alphabetical without regard to accents and case, then exactly: the same on every machine."""
    bare = "".join(c for c in unicodedata.normalize("NFKD", name) if not unicodedata.combining(c))
    return bare.casefold(), name


def index_pages(frame: Frame, count: int) -> int:
    """How many pages an index of so many names takes."""
    return -(-count // _index_room(frame))


def _index_room(frame: Frame) -> int:
    return _COLUMNS * int((frame.depth - heading_depth(frame)) / _INDEX_ROW)


def draw_index(frame: Frame, entries: tuple[Entry, ...], page_of: list[int]) -> None:
    """Names in alphabetical order, down the columns, each leading to its page."""
    pen = frame.pen
    order = sorted(range(len(entries)), key=lambda i: (sort_key(entries[i].title), entries[i].design.rows))
    room, wide = _index_room(frame), (frame.room - 10) / _COLUMNS
    for n in range(0, len(order), room):
        frame.begin(words.INDEX_HEAD if n == 0 else "")
        top = heading(frame, words.INDEX_HEAD)
        part = order[n : n + room]
        per_column = -(-len(part) // _COLUMNS) if len(part) > room // 2 else min(len(part), room // _COLUMNS)
        for j, i in enumerate(part):
            entry = entries[i]
            x = frame.left + (j // per_column) * (wide + 10)
            y = top - (j % per_column) * _INDEX_ROW
            asked = "  ?" if entry.questions else ""
            pen.text(x, y, pen.shorten(entry.title, look.SMALL, wide - 34) + asked, look.SMALL)
            pen.text(x + wide - 11, y, words.rows_of(entry.design.rows), look.LABEL, "right")
            pen.text(x + wide, y, str(page_of[i]), look.SMALL, "right")
            pen.line(x, y - 1.5, x + wide, y - 1.5, look.HAIR, 0.12)
            pen.link(x, y - 1.5, wide, _INDEX_ROW, page_of[i])
        frame.end()
