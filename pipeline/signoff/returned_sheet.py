"""Reading a check sheet that came back: which order it belongs to, who answers, what they say of every plaque.

Columns are found by their headings, so a sheet that was sorted, filtered or widened is read all the same. What
contradicts itself is `unclear`; nothing is guessed.
"""

from __future__ import annotations

import hashlib
import zipfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path
from typing import Any

import openpyxl
from openpyxl.utils.exceptions import InvalidFileException

from pipeline.outputs import check_sheet as heads
from pipeline.signoff.answers import Answer, Decision, Problem, Reply, ReturnedPaper
from pipeline.signoff.designs import Design, lettered
from pipeline.signoff.fingerprint import is_fingerprint
from pipeline.signoff.standing import one_line

AGREED = {
    heads.AGREED,
    "agree",
    "agreed as shown",
    "approved",
    "correct",
    "ok",
    "okay",
    "yes",
    "y",
    "x",
    "✓",
    "✔",
    "true",
}
CHANGE = {heads.CHANGE, "change to", "changes", "changed"}
REFUSED = {heads.REFUSED, "do not cut.", "don't cut", "don’t cut", "dont cut", "not to be cut"}
"""What clients type besides the words of the drop-down (common practice, no source). Anything else is unclear."""


@dataclass(slots=True)
class _Row:
    """One row of the sheet as it came back."""

    row: int
    cell: str
    text: tuple[str, ...]
    pieces: int
    answer: str
    change_to: str
    fingerprint: str
    signed: bool


@dataclass(slots=True)
class _Sheet:
    about: dict[str, str] = field(default_factory=dict)
    rows: list[_Row] = field(default_factory=list)


def read_sheet(path: Path, shown: Sequence[Design] = ()) -> ReturnedPaper:
    """A returned check sheet. shown: the designs of the run that made it, as far as known, to notice overwritten names.

    A file that is not one of ours comes back with a fatal problem and no answers.
    """
    try:
        data = path.read_bytes()
    except OSError as error:
        return _unusable(path, "", "unreadable", f"cannot be read ({error.strerror or error})", "name the file again")
    sha256 = hashlib.sha256(data).hexdigest()
    try:
        book, formulas = openpyxl.load_workbook(path, data_only=True), openpyxl.load_workbook(path)
    except (InvalidFileException, zipfile.BadZipFile, KeyError, ValueError, OSError) as error:
        remedy = "ask the client to save it as .xlsx without a password and to send it again"
        return _unusable(path, sha256, "unreadable", f"not a workbook that can be read ({error})", remedy)
    sheet = _understood(book, formulas)
    if sheet is None:
        remedy = f"the sheets “{heads.SHEET}” and “{heads.SIGN_SHEET}” have to be in it as they were sent"
        found = "not a check sheet of this tool, or parts of it are missing"
        return _unusable(path, sha256, "not-a-proof", found, remedy)
    answers, replies, problems = _answers(sheet.rows, {d.fingerprint: d for d in shown})
    if not any(a.decision != "unanswered" for a in answers) and not replies:
        remedy = "ask the client to fill it in"
        problems.append(Problem(code="empty", found="nothing is filled in", remedy=remedy, fatal=True))
    about = sheet.about
    return ReturnedPaper(
        kind="sheet",
        file=path.name,
        sha256=sha256,
        order_id=about.get(heads.ORDER_CODE, ""),
        order_sha256=about.get(heads.ORDER_HASH, ""),
        title=about.get(heads.TITLE, ""),
        client=about.get(heads.CLIENT, ""),
        revision=about.get(heads.REVISION, ""),
        by=about.get(heads.BY, ""),
        date=about.get(heads.ON, ""),
        remarks=about.get(heads.REMARKS, ""),
        answers=tuple(answers),
        replies=tuple(replies),
        problems=tuple(problems),
    )


def _unusable(path: Path, sha256: str, code: Any, found: str, remedy: str) -> ReturnedPaper:
    problem = Problem(code=code, found=found, remedy=remedy, fatal=True)
    return ReturnedPaper(kind="sheet", file=path.name, sha256=sha256, problems=(problem,))


def _text(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == datetime.min.time() else value.isoformat(sep=" ")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    return str(value).strip()


def _understood(book: Any, formulas: Any) -> _Sheet | None:
    """The two sheets' contents; None when either cannot be recognised.

    formulas: the same book with formulas instead of their values, for a formula that was saved without a value.
    """
    if heads.SHEET not in book.sheetnames or heads.SIGN_SHEET not in book.sheetnames:
        return None
    out = _Sheet()
    for row in book[heads.SIGN_SHEET].iter_rows(max_col=2, values_only=True):
        if row[0] is not None and len(row) > 1:
            out.about.setdefault(_text(row[0]), _text(row[1]))
    rows = list(book[heads.SHEET].iter_rows(values_only=True))
    needed = {heads.ROW, heads.TEXT, heads.PIECES, heads.ANSWER, heads.CHANGE_TO, heads.FINGERPRINT, heads.CELL}
    at = next((n for n, row in enumerate(rows) if needed <= {_text(v) for v in row}), None)
    if at is None or not out.about.get(heads.ORDER_CODE) or not out.about.get(heads.REVISION):
        return None
    column = {_text(v): n for n, v in reversed(list(enumerate(rows[at])))}
    written = list(formulas[heads.SHEET].iter_rows(values_only=True))
    for row, typed in zip(rows[at + 1 :], written[at + 1 :], strict=True):
        told = {name: _text(row[n] if row[n] is not None else typed[n]) for name, n in column.items()}
        if told[heads.ROW].isdecimal():
            out.rows.append(
                _Row(
                    row=int(told[heads.ROW]),
                    cell=told[heads.CELL],
                    text=tuple(told[heads.TEXT].splitlines()),
                    pieces=int(told[heads.PIECES]) if told[heads.PIECES].isdecimal() else 1,
                    answer=told[heads.ANSWER],
                    change_to=told[heads.CHANGE_TO],
                    fingerprint=told[heads.FINGERPRINT],
                    signed=bool(told.get(heads.SIGNED)),
                )
            )
    return out


def _decision(row: _Row) -> tuple[Decision, str]:
    """What one row says, and for an unclear one why."""
    word = " ".join(row.answer.casefold().split())
    if not word:
        return ("change", "") if row.change_to else ("unanswered", "")
    both = f"“{row.answer}”, and “{row.change_to}” under “{heads.CHANGE_TO}”"
    if word in AGREED:
        return ("unclear", both) if row.change_to else ("agreed", "")
    if word in CHANGE:
        return ("change", "") if row.change_to else ("unclear", "a change is wanted, but no wording is given")
    if word in REFUSED:
        return ("unclear", both) if row.change_to else ("refused", "")
    return "unclear", f"“{row.answer}” is none of the answers offered"


def _answers(rows: Sequence[_Row], shown: Mapping[str, Design]) -> tuple[list[Answer], list[Reply], list[Problem]]:
    replies, problems = [], []
    designs: dict[str, list[_Row]] = {}
    for row in rows:
        if not row.fingerprint:
            if said := " · ".join(filter(None, (row.answer, row.change_to))):
                replies.append(Reply(row=row.row, cell=row.cell, text=row.text, reply=said))
        elif not is_fingerprint(row.fingerprint):
            problems.append(
                Problem(
                    code="altered",
                    found=f"row {row.row}: “{row.fingerprint}” is not the fingerprint of a plaque",
                    remedy="ask the client to fill in the sheet as it was sent",
                    fingerprint=row.fingerprint,
                )
            )
        else:
            designs.setdefault(row.fingerprint, []).append(row)
    answers = []
    for mark, same in designs.items():
        answers += _design(mark, same, shown.get(mark))
    for answer in answers:
        if answer.decision == "unclear":
            rows_told = ", ".join(map(str, answer.rows))
            problems.append(
                Problem(
                    code="contradiction",
                    found=f"row {rows_told}: {answer.why}",
                    remedy="ask the client what holds, and record it with --rows",
                    fingerprint=answer.fingerprint,
                )
            )
    return answers, replies, problems


def _design(mark: str, same: Sequence[_Row], design: Design | None) -> list[Answer]:
    """What the rows of one design say together; two answers when only some of the rows are answered."""

    def of(rows: Sequence[_Row], decision: Decision, change_to: str = "", why: str = "") -> Answer:
        return Answer(
            fingerprint=mark,
            decision=decision,
            change_to=change_to,
            rows=tuple(r.row for r in rows),
            cells=tuple(r.cell for r in rows),
            pieces=sum(r.pieces for r in rows),
            text=design.text if design else lettered(same[0].text),
            why=why,
        )

    over = [r for r in same if design is not None and one_line(r.text) != one_line(design.text)]
    said = {_decision(r)[0] for r in same} - {"unanswered"}
    if over:
        read = " / ".join(over[0].text)
        return [of(same, "unclear", why=f"the lettering itself was overwritten and now reads “{read}”")]
    if not said:
        # signed before and left alone: this sheet did not ask for it
        return [] if all(r.signed for r in same) else [of(same, "unanswered")]
    if "unclear" in said:
        return [of(same, "unclear", why=next(w for d, w in map(_decision, same) if d == "unclear"))]
    wanted = {r.change_to for r in same if r.change_to}
    if len(said) > 1 or len(wanted) > 1:
        told = "; ".join(
            f"row {r.row} “{r.answer or 'change'}{' ' + r.change_to if r.change_to else ''}”" for r in same
        )
        return [of(same, "unclear", why=f"rows of the same design are answered differently: {told}")]
    answered = [r for r in same if _decision(r)[0] != "unanswered"]
    out = [of(answered, said.pop(), wanted.pop() if wanted else "")]
    return out if len(answered) == len(same) else [*out, of(same, "unanswered")]
