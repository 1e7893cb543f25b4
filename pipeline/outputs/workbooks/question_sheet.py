"""The check sheet's page of questions: each once, with the answers offered by their numbers, a cell for the answer and
one for words. What each answer means stands in the last column, for reading it back.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from pipeline.core.language.texts import Texts
from pipeline.core.list_row import ListRow
from pipeline.outputs.client_questions import ClientQuestion
from pipeline.outputs.workbooks.workbook import SheetColumn, write_table

QUESTION_SHEET = "sheet.questions"
NUMBER, ASKED, ABOUT, OFFERED = (
    "sheet.questions.no",
    "sheet.questions.asked",
    "sheet.questions.about",
    "sheet.questions.offered",
)
CHOSEN, WORDS, MEANS = "sheet.questions.answer", "sheet.questions.words", "sheet.questions.codes"
QUESTION_COLUMNS = (NUMBER, ASKED, ABOUT, OFFERED, CHOSEN, WORDS, MEANS)
"""Keys of its columns from the left, the ids of their headings."""
_WIDTHS = ((6, "number"), (52, "text"), (34, "text"), (44, "text"), (12, "answer"), (34, "answer"), (24, "code"))
MOST_NAMES = 12


def write_questions(book: Any, styles: dict[str, Any], questions: Sequence[ClientQuestion], texts: Texts) -> None:
    """Adds the page; none where nothing is asked."""
    if not questions:
        return
    sheet = book.add_worksheet(texts.render_text(QUESTION_SHEET))
    columns = [
        SheetColumn(texts.render_text(key), width, style)
        for key, (width, style) in zip(QUESTION_COLUMNS, _WIDTHS, strict=True)
    ]
    rows: list[list[tuple[Any, str]]] = []
    for q in questions:
        left = len(q.names) - MOST_NAMES
        about = ", ".join(q.names[:MOST_NAMES])
        rows.append(
            [
                (q.no, "number"),
                (q.words, "text"),
                (texts.render_plural("proof.question.more", left, names=about) if left > 0 else about, "text"),
                ("\n".join(f"{n}  {choice.words}" for n, choice in enumerate(q.choices, 1)), "text"),
                ("", "answer"),
                ("", "answer"),
                ("\n".join([q.code, *(f"{c.code} {c.means}" for c in q.choices)]), "code"),
            ]
        )
    write_table(sheet, styles, columns, rows)
    sheet.freeze_panes(1, 1)
    at = QUESTION_COLUMNS.index(CHOSEN)
    for n, q in enumerate(questions, 1):
        numbers = [str(k) for k in range(1, len(q.choices) + 1)]
        sheet.data_validation(n, at, n, at, {"validate": "list", "source": numbers, "show_error": False})
    sheet.print_area(0, 0, len(rows), QUESTION_COLUMNS.index(WORDS))


def group_asked_by_row(questions: Sequence[ClientQuestion]) -> dict[ListRow, tuple[int, ...]]:
    """Row of the list -> the numbers of the questions about it."""
    out: dict[ListRow, tuple[int, ...]] = {}
    for question in questions:
        for row in question.rows:
            out[row] = (*out.get(row, ()), question.no)
    return out
