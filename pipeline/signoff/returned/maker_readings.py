"""The maker's decisions on unclear answers: each by its number, with a name, and recorded as the maker's."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace

from pipeline.core.errors import CannotRun, Fault
from pipeline.signoff.records.designs import select_lettered
from pipeline.signoff.records.ledger import LedgerEntry
from pipeline.signoff.returned.answers import Answer, Decision, ReturnedPaper

WORDS: Mapping[str, Decision] = {"agreed": "agreed", "change": "change", "leave": "refused"}
_ONE = re.compile(r"\s*([0-9]{1,7})\s*=\s*([a-z]+)\s*")


def read_decisions(texts: Sequence[str]) -> dict[int, Decision]:
    """Read decisions by plain number from “7=agreed,12=change”. CannotRun names anything else."""
    out: dict[int, Decision] = {}
    for part in (p for text in texts for p in text.split(",")):
        found = _ONE.fullmatch(part)
        if found is None or found[2] not in WORDS or int(found[1]) == 0:
            raise _report_wrong(f"“{part.strip()[:60]}” is no decision")
        number = int(found[1])
        if number in out and out[number] != WORDS[found[2]]:
            raise _report_wrong(f"No. {number} is decided twice")
        out[number] = WORDS[found[2]]
    return out


def _report_wrong(found: str) -> CannotRun:
    return CannotRun(
        Fault(
            where="--decide",
            found=found,
            expected="numbers, each with agreed, change or leave: --decide 7=agreed,12=change",
            remedy="read what the paper says and decide each one by its number; there is no form for all of them",
        )
    )


def apply_decisions(paper: ReturnedPaper, decisions: Mapping[int, Decision], by: str) -> ReturnedPaper:
    """The paper with its unclear answers read as the maker does. CannotRun when a number is not on it, or what it says
    is clear: that is not for the maker to change."""
    by_number = {a.no: a for a in paper.answers if a.no}
    for number in decisions:
        answer = by_number.get(number)
        if answer is None:
            there = ", ".join(str(n) for n in sorted(by_number)[:20])
            raise _report_wrong(f"there is no No. {number} on {paper.file}" + (f" (it has {there})" if there else ""))
        if answer.decision not in ("unclear", "depends"):
            raise _report_wrong(f"No. {number} is not unclear: {paper.file} says “{_describe_answer(answer)}”")
    return replace(paper, answers=tuple(_decide(a, decisions, by) for a in paper.answers))


def _decide(answer: Answer, decisions: Mapping[int, Decision], by: str) -> Answer:
    decision = decisions.get(answer.no) if answer.no and answer.decision in ("unclear", "depends") else None
    return answer if decision is None else replace(answer, decision=decision, decided_by=by)


def _describe_answer(answer: Answer) -> str:
    words = {"agreed": "agreed", "change": f"change to {answer.change_to}", "refused": "do not cut"}
    return words.get(answer.decision, "nothing")


def build_reading_entries(paper: ReturnedPaper, recorded: LedgerEntry) -> tuple[LedgerEntry, ...]:
    """The rows of the ledger for what the maker decided. recorded: the paper's own row, for where it came from."""
    return tuple(
        replace(
            recorded,
            kind="reading",
            decision=answer.decision,
            fingerprint=answer.fingerprint,
            text=select_lettered(answer.text),
            rows=answer.rows,
            cells=answer.cells,
            pieces=answer.pieces,
            change_to=answer.change_to or ("as the client wrote it" if answer.decision == "change" else ""),
            reply="",
            why=answer.why,
            by=answer.decided_by,
            date="",
            no=answer.no,
        )
        for answer in paper.answers
        if answer.decided_by
    )
