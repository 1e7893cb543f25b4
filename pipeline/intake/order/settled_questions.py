"""Settled questions: `[list] settled` names them with the reason, which is recorded instead."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from pipeline.core.catalogue import KINDS, list_kinds
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.findings import Finding, Severity, build_finding
from pipeline.core.list_row import ListRow
from pipeline.core.row_selection import RowSelection, parse_rows
from pipeline.intake.order.error_messages import find_nearest_name


def parse_settled_key(key: str) -> tuple[str, RowSelection | None]:
    """Parse a key of `settled`: a code, or a code and the rows it concerns. CannotRun when the rows can't be read."""
    code, _, rows = key.strip().partition(" ")
    return code, parse_rows(rows) if rows.strip() else None


def check_settled(settled: Mapping[str, str], where: str, further: Sequence[str] = ()) -> Iterator[Fault]:
    """Return the faults of the order's `settled`. further: the order's further lists."""
    questions = [
        code for code, kind in KINDS.items() if kind.severity is Severity.ASK and code.startswith(("list.", "text."))
    ]
    for key, reason in settled.items():
        code = key.strip().partition(" ")[0]
        if code not in questions:
            stops = code in KINDS and KINDS[code].severity is Severity.STOP
            yield Fault(
                where=where,
                found=f"“{code}” cannot be settled" if code in KINDS else f"there is no question “{code}”",
                expected="the code of a question about the list, and rows if it is only for some of them",
                remedy="what stops a plaque must be corrected" if stops else _suggest_question(code, questions),
            )
        try:
            rows = parse_settled_key(key)[1]
            if unknown := [file for file in rows.files if file not in further] if rows else []:
                expected = f"one of `more`: {', '.join(further)}" if further else "rows of the order's one list"
                yield Fault(where=where, found=f"“{key}” names a list “{unknown[0]}”", expected=expected)
        except CannotRun as problem:
            yield Fault(where=where, found=f"in “{key}”: {problem.faults[0].found}", expected="rows, e.g. 4-20,31")
        if not reason.strip():
            yield Fault(where=where, found=f"“{key}” has no reason", expected="who settled it, and how")


def _suggest_question(code: str, questions: Sequence[str]) -> str:
    hint = find_nearest_name(code, questions)
    return hint if hint.startswith("did you") else "`plaques explain` lists them"


def apply_settled(
    settled: Mapping[str, str], groups: Sequence[Sequence[Finding]]
) -> tuple[list[list[Finding]], list[Finding]]:
    """Remove settled questions from each group of findings, and add a note for each settlement that was used."""
    rules = [(*parse_settled_key(key), reason) for key, reason in settled.items()]
    used: dict[int, list[ListRow]] = {}
    kept = []
    for group in groups:
        left = []
        for finding in group:
            rule = next((n for n, (code, rows, _) in enumerate(rules) if _matches(finding, code, rows)), None)
            if rule is None:
                left.append(finding)
            else:
                used.setdefault(rule, []).append(finding.row or 0)
        kept.append(left)
    notes = []
    for number, found in sorted(used.items()):
        code, _, reason = rules[number]
        rows = sorted(set(found) - {0})
        shown = ", ".join(map(str, rows[:20])) + (f" and {len(rows) - 20} more" if len(rows) > 20 else "")
        where = f"row{'s' if len(rows) > 1 else ''} {shown}" if rows else "the list"
        notes.append(
            build_finding(list_kinds.SETTLED, facts={"code": code, "rows": where, "reason": " ".join(reason.split())})
        )
    return kept, notes


def _matches(finding: Finding, code: str, rows: RowSelection | None) -> bool:
    return finding.severity is Severity.ASK and finding.code == code and (rows is None or finding.row in rows)
