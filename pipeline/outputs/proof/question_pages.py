"""The pages of questions: each question once, with whom and which cells it concerns, boxes to tick and a line to write.
They are answered here and nowhere else; the cards of the plaques say which question is about them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from pipeline.core.language.texts import Texts
from pipeline.core.list_row import ListRow, find_row_of_cell
from pipeline.outputs.client_questions import ClientQuestion
from pipeline.outputs.pdf import styles
from pipeline.outputs.pdf.identity import ProofQuestion
from pipeline.outputs.pdf.text_style import TextStyle
from pipeline.outputs.proof import type_sizes
from pipeline.outputs.proof.page_frame import (
    LABEL_DROP,
    TICK,
    ProofPages,
    describe_volume,
    draw_heading,
    measure_heading,
    paginate,
)
from pipeline.outputs.proof.volume_questions import VolumeQuestions

HEAD, INTRO = "proof.questions", "proof.questions.answer"
OF_VOLUME = "proof.questions.answer.volume"
"""Of a proof in several files."""
ELSEWHERE = "proof.questions.elsewhere"
"""Of a question that is answered in another volume."""
SIDE = 6.0  # mm from the bar on the left to the text
NUMBER = 8.0  # mm for a question's number, set apart because the text may begin with a figure
CHOICE = 7.2  # mm between boxes
LINE = 11.0  # mm, height of the write-in box
ABOVE_LINE = 1.5  # mm more above the write-in label than below, so that it goes with its box
GAP = 7.0  # mm between questions
MOST_NAMES = 12
"""Names that a question shows; the others are counted."""
_BODY, _QUIET = type_sizes.BODY, TextStyle(10.5, styles.GREY)


def to_proof_question(question: ClientQuestion) -> ProofQuestion:
    """A question as the proof says it of itself."""
    return ProofQuestion(
        no=question.no,
        code=question.code,
        text=question.words,
        rows=question.rows,
        cells=question.cells,
        fingerprints=question.fingerprints,
        stopped=question.stopped,
        choices=tuple(c.code for c in question.choices),
        means=tuple(c.means for c in question.choices),
        words=tuple(c.words for c in question.choices),
    )


def list_references(questions: VolumeQuestions, texts: Texts, home: str) -> dict[str, tuple[str, ...]]:
    """Fingerprint -> what its card says of questions about it. home: the volume that others are answered in, in
    words."""
    out: dict[str, tuple[str, ...]] = {}
    said = [(q, texts.render_text("proof.question.see", no=q.no)) for q in questions.asked]
    said += [(q, texts.render_text("proof.question.see.volume", no=q.no, volume=home)) for q in questions.elsewhere]
    for question, words in said:
        for mark in question.fingerprints:
            out[mark] = (*out.get(mark, ()), words)
    return out


def plan_questions(frame: ProofPages, questions: Sequence[ClientQuestion]) -> list[list[int]]:
    """Plan which questions go on which page; those that are answered in another volume have nothing to tick."""
    first = frame.depth - measure_heading(frame, _write_intro(frame, questions)) - 3
    return paginate([_measure_depth(frame, q) for q in questions], first, frame.depth - 3)


def _name_home(frame: ProofPages) -> str:
    """Name the volume that answers the questions it doesn't ask itself: the first that is sent."""
    return describe_volume(frame.texts, replace(frame.volume, number=frame.home))


def _write_intro(frame: ProofPages, questions: Sequence[ClientQuestion]) -> str:
    """Write how to answer; nothing where none of them is answered here."""
    if not any(question.choices for question in questions):
        return ""
    return frame.texts.render_text(OF_VOLUME if frame.volume.number else INTRO)


def _wrap_rows(frame: ProofPages, question: ClientQuestion) -> tuple[list[str], list[str], list[list[str]]]:
    """The question, whom it concerns, and each choice, broken into rows."""
    room = frame.room - SIDE - NUMBER
    words = question.words
    if not question.choices:
        words = f"{words} {frame.texts.render_text(ELSEWHERE, volume=_name_home(frame))}"
    asked = frame.pen.wrap(words, _BODY, room)
    about = frame.pen.wrap(_describe_concerned(frame.texts, question), _QUIET, room) if question.names else []
    choices = [frame.pen.wrap(c.words, _BODY, room - TICK - 3) for c in question.choices]
    return asked, about, choices


def _describe_concerned(texts: Texts, question: ClientQuestion) -> str:
    """`Gwen Ravensby (B2, C2), Bram Thornaby (B3, C3) and 28 more`."""
    cells: dict[ListRow, list[str]] = {row: [] for row in question.rows}
    for cell in question.cells:
        cells.get(find_row_of_cell(cell), []).append(cell)
    names = []
    for row, name in zip(question.rows, question.names, strict=True):
        there = ", ".join(cells[row])
        names.append(f"{name} ({there})" if there else name)
    left = len(names) - MOST_NAMES
    shown = ", ".join(names[:MOST_NAMES])
    return texts.render_plural("proof.question.more", left, names=shown) if left > 0 else shown


def _measure_depth(frame: ProofPages, question: ClientQuestion) -> float:
    asked, about, choices = _wrap_rows(frame, question)
    lines = len(asked) * _BODY.line + len(about) * _QUIET.line + 2
    lines += sum(max(CHOICE, len(rows) * _BODY.line + 2) for rows in choices)
    return lines + (ABOVE_LINE + LABEL_DROP + LINE if question.choices else 0.0) + GAP


def draw_questions(
    frame: ProofPages,
    questions: Sequence[ClientQuestion],
    pages: Sequence[Sequence[int]],
    page_of: Mapping[str, int],
) -> None:
    """Draw the pages of questions. page_of: fingerprint -> the page of its card."""
    pen, texts = frame.pen, frame.texts
    for n, page in enumerate(pages):
        frame.begin_page(texts.render_text(HEAD) if n == 0 else "")
        y = (draw_heading(frame, texts.render_text(HEAD), _write_intro(frame, questions)) if n == 0 else frame.top) - 3
        for i in page:
            question, depth = questions[i], _measure_depth(frame, questions[i])
            asked, about, choices = _wrap_rows(frame, question)
            edge = styles.STOP_EDGE if question.stopped else styles.ASK_EDGE
            pen.draw_box(frame.left, y - depth + GAP + _BODY.mm, 0.8, depth - GAP, fill=edge)
            pen.draw_text(frame.left + SIDE, y, f"{question.no}.", _BODY)
            x = frame.left + SIDE + NUMBER
            at = pen.draw_lines(x, y, asked, _BODY)
            if about:
                there = next((page_of[m] for m in question.fingerprints if m in page_of), 0)
                if there:
                    pen.add_link(x, at - 1, frame.right - x, len(about) * _QUIET.line, there, about[0])
                at = pen.draw_lines(x, at, about, _QUIET)
            at -= 2
            y -= depth
            if not question.choices:
                continue
            told = to_proof_question(question)
            for choice, rows in zip(question.choices, choices, strict=True):
                foot = at - TICK + _BODY.mm
                tip = texts.render_text("proof.question.tip", no=question.no, field=choice.words)
                frame.draw_tick_box(x, foot, "")
                frame.draw_tick_field(x, foot, told.get_field_name(choice.code), tip)
                pen.draw_lines(x + TICK + 3, at, rows, _BODY)
                at -= max(CHOICE, len(rows) * _BODY.line + 2)
            label = texts.render_text("proof.question.line")
            foot = at - ABOVE_LINE - LABEL_DROP - LINE + _BODY.mm + 1
            tip = texts.render_text("proof.question.tip", no=question.no, field=label)
            frame.write(x, foot, frame.right - x, LINE, told.line, label, tip)
        frame.end_page()
