"""The pages round the plaques: questions, names that cannot be cut, index, plaques answered earlier."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass

from pipeline.core.model import Blank
from pipeline.outputs.paper import look
from pipeline.outputs.paper.style import Style
from pipeline.outputs.proofing import close, words
from pipeline.outputs.proofing.entries import Entry, Held
from pipeline.outputs.proofing.frame import LABEL_DROP, Frame, heading, heading_depth, paginate

CHOICE = 8.5
_INDEX_ROW = 5.1
_COLUMNS = 2
_GUTTER = 10.0  # mm between columns
_BESIDE = 34.0  # mm for rows and page beside a name
_SHORTEST = 12  # names before a second column is begun


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
    return text + LABEL_DROP + CHOICE + 15 + (close.PICTURE + 3 if item.spots else 0.0)


def draw_held(frame: Frame, items: tuple[Held, ...], pages: list[list[int]], blank: Blank, point: float) -> None:
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
            if item.spots and item.artwork:
                base -= close.PICTURE + 3
                foot, wide = base + look.BODY.line - 1.5, close.wide(item.spots, frame.room - 5)
                close.draw_spots(pen, item.artwork, blank, item.spots, x, foot, wide, point)
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


def _index_columns(frame: Frame, entries: tuple[Entry, ...]) -> int:
    """One column where long names need its width and there are so few that it holds them all."""
    if _COLUMNS * len(entries) > _index_room(frame):
        return _COLUMNS
    narrow = (frame.room - _GUTTER) / _COLUMNS - _BESIDE
    return 1 if any(frame.pen.wide(entry.title, look.SMALL) > narrow for entry in entries) else _COLUMNS


def draw_index(frame: Frame, entries: tuple[Entry, ...], page_of: list[int]) -> None:
    """Names in alphabetical order, down the columns, each leading to its page."""
    pen = frame.pen
    order = sorted(range(len(entries)), key=lambda i: (sort_key(entries[i].title), entries[i].design.rows))
    room, columns = _index_room(frame), _index_columns(frame, entries)
    wide = (frame.room - _GUTTER) / _COLUMNS if columns > 1 else frame.room
    for n in range(0, len(order), room):
        frame.begin(words.INDEX_HEAD if n == 0 else "")
        top = heading(frame, words.INDEX_HEAD)
        part = order[n : n + room]
        per_column = max(_SHORTEST, -(-len(part) // columns))
        for j, i in enumerate(part):
            entry = entries[i]
            x = frame.left + (j // per_column) * (wide + _GUTTER)
            y = top - (j % per_column) * _INDEX_ROW
            asked = "  ?" if entry.questions else ""
            pen.text(x, y, pen.shorten(entry.title, look.SMALL, wide - _BESIDE) + asked, look.SMALL)
            pen.text(x + wide - 11, y, words.rows_of(entry.design.rows), look.LABEL, "right")
            pen.text(x + wide, y, str(page_of[i]), look.SMALL, "right")
            pen.line(x, y - 1.5, x + wide, y - 1.5, look.HAIR, 0.12)
            pen.link(x, y - 1.5, wide, _INDEX_ROW, page_of[i])
        frame.end()


# --- answered earlier -------------------------------------------------------------------------------------------------


def agreed_pages(frame: Frame, count: int) -> int:
    """How many pages the list of plaques answered earlier takes."""
    return -(-count // _agreed_room(frame))


def _agreed_room(frame: Frame) -> int:
    return int((frame.depth - heading_depth(frame, words.AGREED_INTRO)) / _INDEX_ROW)


def draw_agreed(frame: Frame, entries: tuple[Entry, ...]) -> None:
    """One row a plaque: name, rows, fingerprint, by whom and when."""
    pen, room = frame.pen, _agreed_room(frame)
    for n in range(0, len(entries), room):
        frame.begin(words.AGREED_HEAD if n == 0 else "")
        y = heading(frame, words.AGREED_HEAD, words.AGREED_INTRO)
        for entry in entries[n : n + room]:
            x, third = frame.left, frame.room / 3
            pen.text(x, y, pen.shorten(entry.title, look.SMALL, third + 4), look.SMALL)
            pen.text(x + third + 8, y, words.rows_of(entry.design.rows), look.QUIET)
            pen.text(x + third + 36, y, entry.design.fingerprint, look.QUIET)
            pen.text(frame.right, y, pen.shorten(entry.signed, look.QUIET, third - 2), look.QUIET, "right")
            pen.line(x, y - 1.5, frame.right, y - 1.5, look.HAIR, 0.12)
            y -= _INDEX_ROW
        frame.end()
