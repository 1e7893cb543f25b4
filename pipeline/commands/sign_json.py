"""The outcome of a returned paper as one JSON document, for programs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from pipeline.core.list_row import pack_row, pack_rows
from pipeline.signoff.returned.answers import Answer, PaperProblem, ReturnedPaper

WORDS = {
    "agreed": "agreed",
    "depends": "depends",
    "change": "change",
    "refused": "leave",
    "unclear": "unclear",
    "unanswered": "none",
}


def build_document(paper: ReturnedPaper, fatal: Sequence[PaperProblem], *, recorded: str) -> dict[str, Any]:
    """Return the paper as plain values. fatal: what prevented recording; recorded: when it was recorded, RFC 3339, else
    empty. `on` is the date as the client wrote it."""
    problems = dict.fromkeys((*fatal, *paper.problems))
    return {
        "paper": paper.file,
        "kind": paper.kind,
        "revision": paper.revision or None,
        "answers": [_build_answer(a) for a in (() if fatal else paper.answers)],
        "replies": [
            {"row": pack_row(r.row), "no": r.no or None, "cell": r.cell, "text": list(r.text), "reply": r.reply}
            for r in (() if fatal else paper.replies)
        ],
        "decision": paper.decision or None,
        "remarks": paper.remarks or None,
        "by": paper.by or None,
        "on": paper.date or None,
        "recorded": recorded or None,
        "problems": [
            {"code": p.code, "message": p.found, "remedy": p.remedy or None, "fingerprint": p.fingerprint or None}
            for p in problems
        ],
    }


def _build_answer(answer: Answer) -> dict[str, Any]:
    """Return one answer as plain values. text: the wording wanted, for a change; else the lettering it refers to."""
    return {
        "fingerprint": answer.fingerprint,
        "rows": pack_rows(answer.rows),
        "no": answer.no or None,
        "answer": WORDS[answer.decision],
        "text": answer.change_to if answer.decision == "change" else "\n".join(answer.text),
        "reply": answer.reply or None,
        "reason": answer.why or None,
        "decided_by": answer.decided_by or None,
    }
