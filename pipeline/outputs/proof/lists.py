"""The pages round the plaques: names that follow later, index, plaques answered earlier."""

from __future__ import annotations

import unicodedata

from pipeline.core.model import Blank
from pipeline.outputs.pdf import styles
from pipeline.outputs.pdf.text_style import TextStyle
from pipeline.outputs.proof import details, type_sizes
from pipeline.outputs.proof.page_frame import ProofPages, draw_heading, measure_heading, paginate
from pipeline.outputs.proof.proof_entries import ProofEntry, UncutEntry

_INDEX_ROW = 6.6
_COLUMNS = 2
_GUTTER = 10.0  # mm between columns
_BESIDE = 28.0  # mm for the number and the page beside a name
_SHORTEST = 12  # names before a second column starts


# --- names that follow later --------------------------------------------------------------------------------------


def plan_uncut(frame: ProofPages, items: tuple[UncutEntry, ...]) -> list[list[int]]:
    heights = [_measure_held(frame, h) for h in items]
    return paginate(
        heights,
        frame.depth - measure_heading(frame, frame.texts.render_text("proof.waiting.intro")) - 3,
        frame.depth - 3,
    )


def _wrap_held(frame: ProofPages, item: UncutEntry) -> tuple[list[str], list[str]]:
    title = frame.pen.wrap(
        item.title.strip() or frame.texts.render_text("proof.stopped.empty"), type_sizes.NAME, frame.room - 6
    )
    return title, [row for r in item.reasons for row in frame.pen.wrap(r, type_sizes.BODY, frame.room - 6)]


def _measure_held(frame: ProofPages, item: UncutEntry) -> float:
    title, reasons = _wrap_held(frame, item)
    text = len(title) * type_sizes.NAME.line + len(reasons) * type_sizes.BODY.line + type_sizes.QUIET.line
    return text + 9 + (details.PICTURE + 3 if item.spots else 0.0)


def draw_uncut(
    frame: ProofPages, items: tuple[UncutEntry, ...], pages: list[list[int]], blank: Blank, point: float
) -> None:
    """Names that follow in a later proof: there is nothing to choose for them."""
    pen, x, texts = frame.pen, frame.left + 5, frame.texts
    head, intro = texts.render_text("proof.waiting"), texts.render_text("proof.waiting.intro")
    for n, page in enumerate(pages):
        frame.begin_page(head if n == 0 else "")
        y = (draw_heading(frame, head, intro) if n == 0 else frame.top) - 3
        for i in page:
            item, depth = items[i], _measure_held(frame, items[i])
            title, reasons = _wrap_held(frame, item)
            pen.draw_box(frame.left, y - depth + 9.5, 1.0, depth - 5, fill=styles.STOP_EDGE)
            base = pen.draw_lines(x, y, title, type_sizes.NAME) + type_sizes.NAME.line - type_sizes.QUIET.line
            where = texts.render_text("proof.stopped.where", row=item.unset.row, cell=item.unset.cell)
            where = f"{texts.render_text('proof.no', no=item.unset.no)} · {where}" if item.unset.no else where
            pen.draw_text(x, base, where, type_sizes.QUIET)
            base = pen.draw_lines(x, base - type_sizes.BODY.line - 0.4, reasons, type_sizes.BODY)
            if item.spots and item.artwork:
                base -= details.PICTURE + 3
                foot, wide = base + type_sizes.BODY.line - 1.5, details.measure_details(item.spots, frame.room - 5)
                details.draw_spots(pen, texts, item.artwork, blank, item.spots, x, foot, wide, point)
            y -= depth
        frame.end_page()


# --- index ---------------------------------------------------------------------------------------------------------


def sort_key(name: str) -> tuple[str, str]:
    """Alphabetical without regard to accents and case, then exactly: the same on every machine."""
    bare = "".join(c for c in unicodedata.normalize("NFKD", name) if not unicodedata.combining(c))
    return bare.casefold(), name


def count_index_pages(frame: ProofPages, count: int) -> int:
    """Count the pages of an index of this many names."""
    return -(-count // _count_index_rows(frame))


def _count_index_rows(frame: ProofPages) -> int:
    return _COLUMNS * int((frame.depth - measure_heading(frame)) / _INDEX_ROW)


def _count_index_columns(frame: ProofPages, entries: tuple[ProofEntry, ...]) -> int:
    """One column where long names need its width and there are so few that it holds them all."""
    if _COLUMNS * len(entries) > _count_index_rows(frame):
        return _COLUMNS
    narrow = (frame.room - _GUTTER) / _COLUMNS - _BESIDE
    return 1 if any(frame.pen.measure_text(entry.title, type_sizes.TICKED) > narrow for entry in entries) else _COLUMNS


def draw_index(frame: ProofPages, entries: tuple[ProofEntry, ...], page_of: list[int]) -> None:
    """Names in alphabetical order, down the columns, each leading to its page."""
    pen, texts = frame.pen, frame.texts
    head = texts.render_text("proof.index")
    order = sorted(range(len(entries)), key=lambda i: (sort_key(entries[i].title), entries[i].design.rows))
    room, columns = _count_index_rows(frame), _count_index_columns(frame, entries)
    wide = (frame.room - _GUTTER) / _COLUMNS if columns > 1 else frame.room
    for n in range(0, len(order), room):
        frame.begin_page(head if n == 0 else "")
        top = draw_heading(frame, head)
        part = order[n : n + room]
        per_column = max(_SHORTEST, -(-len(part) // columns))
        for j, i in enumerate(part):
            entry = entries[i]
            x = frame.left + (j // per_column) * (wide + _GUTTER)
            y = top - (j % per_column) * _INDEX_ROW
            no = str(entry.design.no or "")
            pen.draw_text(x + 9, y, no, TextStyle(10.5, styles.ACCENT), "right")
            asked = "  ?" if entry.questions else ""
            pen.draw_text(
                x + 12, y, pen.shorten(entry.title, type_sizes.TICKED, wide - _BESIDE) + asked, type_sizes.TICKED
            )
            pen.draw_text(
                x + wide, y, texts.render_text("proof.page.short", page=page_of[i]), type_sizes.QUIET, "right"
            )
            pen.draw_line(x, y - 1.9, x + wide, y - 1.9, styles.HAIR, 0.12)
            pen.add_link(x, y - 1.9, wide, _INDEX_ROW, page_of[i], texts.render_text("proof.page", page=page_of[i]))
        frame.end_page()


# --- answered earlier -------------------------------------------------------------------------------------------------


def count_agreed_pages(frame: ProofPages, count: int) -> int:
    """Count the pages of the list of plaques answered earlier."""
    return -(-count // _count_agreed_rows(frame))


def _count_agreed_rows(frame: ProofPages) -> int:
    return int((frame.depth - measure_heading(frame, frame.texts.render_text("proof.agreed.intro"))) / _INDEX_ROW)


def draw_agreed(frame: ProofPages, entries: tuple[ProofEntry, ...]) -> None:
    """One row a plaque: number, name, fingerprint, by whom and when."""
    pen, room = frame.pen, _count_agreed_rows(frame)
    head, intro = frame.texts.render_text("proof.agreed"), frame.texts.render_text("proof.agreed.intro")
    for n in range(0, len(entries), room):
        frame.begin_page(head if n == 0 else "")
        y = draw_heading(frame, head, intro)
        for entry in entries[n : n + room]:
            x, room_of = frame.left, frame.room
            pen.draw_text(x + 9, y, str(entry.design.no or ""), TextStyle(10.5, styles.ACCENT), "right")
            pen.draw_text(x + 12, y, pen.shorten(entry.title, type_sizes.TICKED, room_of * 0.42), type_sizes.TICKED)
            pen.draw_text(x + 14 + room_of * 0.42, y, entry.design.fingerprint, type_sizes.QUIET)
            who = pen.shorten(entry.signed, type_sizes.QUIET, room_of * 0.58 - 46)
            pen.draw_text(frame.right, y, who, type_sizes.QUIET, "right")
            pen.draw_line(x, y - 1.9, frame.right, y - 1.9, styles.HAIR, 0.12)
            y -= _INDEX_ROW
        frame.end_page()
