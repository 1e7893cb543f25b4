"""The answers to questions on a check sheet that came back: which choice, by its number or its words, and what is
written beside it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from pipeline.core.language.texts import list_languages, load_texts
from pipeline.core.list_row import ListRow
from pipeline.outputs.pdf.identity import ProofQuestion, UncutName
from pipeline.outputs.workbooks import question_sheet as keys
from pipeline.signoff.returned.pdf_form import tidy_value
from pipeline.signoff.returned.question_answers import QuestionAnswer, QuestionAnswers, read_answer
from pipeline.signoff.returned.sheet_cells import Workbook

MOST_CHOICES = 40
FILLED_IN = tuple(keys.QUESTION_COLUMNS.index(key) + 1 for key in (keys.CHOSEN, keys.WORDS))
"""Columns of the page, from 1, that are to be filled in."""


@dataclass(frozen=True, slots=True)
class AskedRow:
    """A row of the first sheet, and the numbers of the questions about it."""

    row: ListRow
    cell: str
    fingerprint: str
    text: tuple[str, ...]
    asked: tuple[int, ...]


def build_question_page(book: Workbook) -> str:
    """The name of the page of questions; empty when there is none."""
    known = {load_texts(language).render_text(keys.QUESTION_SHEET) for language in list_languages()}
    return next((name for name in book.sheets if name in known), "")


def read_questions(book: Workbook, rows: Sequence[AskedRow]) -> QuestionAnswers:
    """Read every answer on the sheet of questions. rows: of the first sheet."""
    page = book.sheets.get(build_question_page(book), {})
    out: list[QuestionAnswer] = []
    for number in sorted(page):
        texts = [held.text if (held := page[number].get(n)) else "" for n in range(1, len(keys.QUESTION_COLUMNS) + 1)]
        no, asked, _, offered, chosen, words, means = texts
        question = _read_question(no, asked, offered, means, rows)
        if question is not None and question.no not in {a.question.no for a in out}:
            out.append(_build_answer(question, tidy_value(chosen), tidy_value(words)))
    return QuestionAnswers(tuple(out))


def _read_question(no: str, asked: str, offered: str, means: str, rows: Iterable[AskedRow]) -> ProofQuestion | None:
    """The question of a row; None for a row that is none."""
    code, *pairs = [line.split() for line in means.splitlines()] or [[]]
    choices = [pair for pair in pairs if len(pair) == 2 and pair[1] in ("as-shown", "change", "leave")]
    words = [line.partition("  ")[2] for line in offered.splitlines()]
    if not no.isdecimal() or len(no) > 6 or len(code) != 1 or len(choices) != len(pairs):
        return None
    if len(words) != len(choices) or len(choices) > MOST_CHOICES:
        return None
    mine = [row for row in rows if int(no) in row.asked]
    return ProofQuestion(
        no=int(no),
        code=code[0],
        text=asked,
        rows=tuple(row.row for row in mine),
        cells=tuple(row.cell for row in mine),
        fingerprints=tuple(dict.fromkeys(row.fingerprint for row in mine if row.fingerprint)),
        stopped=tuple(row.row for row in mine if not row.fingerprint),
        choices=tuple(code for code, _ in choices),
        means=tuple(meaning for _, meaning in choices),
        words=tuple(words),
    )


def _build_answer(question: ProofQuestion, chosen: str, words: str) -> QuestionAnswer:
    """Numbers that are offered, or the words of a choice, are choices; anything else is the client's own words."""
    by_words = {" ".join(w.casefold().split()): code for w, code in zip(question.words, question.choices, strict=True)}
    ticked, own = [], []
    said = " ".join(chosen.casefold().split())
    if said in by_words:
        ticked.append(by_words[said])
    else:
        for part in chosen.replace(",", " ").split() if chosen.replace(",", "").replace(" ", "").isdecimal() else []:
            if 1 <= int(part) <= len(question.choices):
                ticked.append(question.choices[int(part) - 1])
            else:
                own.append(part)
        if not ticked and not own and chosen:
            own.append(chosen)
    return read_answer(question, ticked, " ".join(filter(None, (*own, words))))


def list_uncut(rows: Iterable[AskedRow]) -> tuple[UncutName, ...]:
    """The rows without a cut."""
    return tuple(UncutName(row=r.row, cell=r.cell, text=r.text) for r in rows if not r.fingerprint)
