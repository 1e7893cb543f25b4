"""Questions of a proof in several files: each is asked in one of them, and the others refer to it.

What concerns several volumes is asked in the first of them, and what concerns one in that. So a plaque's questions
stand in its own volume and in the first, in no other.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from pipeline.core.list_row import ListRow
from pipeline.core.model import Plaque
from pipeline.outputs.client_questions import ClientQuestion


@dataclass(frozen=True, slots=True, kw_only=True)
class VolumeQuestions:
    """The questions of one volume. asked: answered in it, about plaques of any volume; elsewhere: answered in volume
    `home`, each with what it concerns here."""

    asked: tuple[ClientQuestion, ...] = ()
    elsewhere: tuple[ClientQuestion, ...] = ()
    home: int = 0


def share_questions(
    questions: Sequence[ClientQuestion], plaques: Mapping[int, Sequence[Plaque]]
) -> dict[int, VolumeQuestions]:
    """The questions of each volume. plaques: by the number of their volume those that it asks about, the first volume
    first."""
    volume_of: dict[ListRow, int] = {p.recipient.row: n for n, own in plaques.items() for p in own}
    first = next(iter(plaques), 0)
    homes: dict[int, int] = {}
    for question in questions:
        there = {volume_of[row] for row in question.rows}
        homes[question.no] = there.pop() if len(there) == 1 else first
    out = {}
    for number, own in plaques.items():
        here = [_restrict_question(q, own) for q in questions if homes[q.no] != number]
        out[number] = VolumeQuestions(
            asked=tuple(q for q in questions if homes[q.no] == number),
            elsewhere=tuple(q for q in here if q.rows),
            home=first,
        )
    return out


def _restrict_question(question: ClientQuestion, plaques: Sequence[Plaque]) -> ClientQuestion:
    """The question as far as it concerns these plaques, with nothing to tick."""
    rows = {p.recipient.row for p in plaques}
    marks = {p.fingerprint for p in plaques}
    kept = [(row, name) for row, name in zip(question.rows, question.names, strict=True) if row in rows]
    return replace(
        question,
        choices=(),
        rows=tuple(row for row, _ in kept),
        names=tuple(name for _, name in kept),
        cells=(),
        fingerprints=tuple(mark for mark in question.fingerprints if mark in marks),
        stopped=tuple(row for row in question.stopped if row in rows),
    )
