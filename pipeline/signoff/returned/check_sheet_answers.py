"""Reading a check sheet that came back: which order it belongs to, who answers, what they say of every plaque.

Columns are found by key or heading, so a sheet that was sorted, filtered or widened is read all the same. It is held
against the sheet as it was made: a row in which anything else was changed than the two columns to fill in is `unclear`,
and so is all of it where something was written that belongs to no row. Nothing is guessed.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pipeline.core.errors import CannotRun
from pipeline.core.fingerprint import is_fingerprint
from pipeline.core.list_row import ListRow, get_row_number, parse_row
from pipeline.core.storage.door import Bounds, read_apart, read_foreign_bytes
from pipeline.outputs.workbooks import check_sheet as heads
from pipeline.signoff.design_answers import join_lines
from pipeline.signoff.records.designs import Design, select_lettered
from pipeline.signoff.records.ledger_entry import MOST_PIECES, ProofDesign
from pipeline.signoff.returned.answers import Answer, Decision, PaperProblem, Reply, ReturnedPaper
from pipeline.signoff.returned.pdf_form import tidy_name, tidy_value
from pipeline.signoff.returned.question_answers import QuestionAnswers, normalise_words, settle_answers
from pipeline.signoff.returned.returned_proof import COURTESIES, WHAT
from pipeline.signoff.returned.sheet_cells import Workbook, read_sheet_cells
from pipeline.signoff.returned.sheet_changes import SheetChanges, find_changes
from pipeline.signoff.returned.sheet_places import find_places
from pipeline.signoff.returned.sheet_questions import AskedRow, list_uncut, read_questions

AGREED = {"agreed", "agree", "agreed as shown", "approved"}
ALSO_AGREED = {"correct", "ok", "okay", "yes", "y", "x", "✓", "✔", "true"}
"""Words that agree where nothing was asked; beside a question it is not known what they answer."""
CROSS = "x"
"""Of these, the one that ticks a form or crosses out what is wrong: it agrees only where no row is answered otherwise
or left blank, but for those to be changed or not to be cut."""
CHANGE = {"change", "change to", "changes", "changed"}
REFUSED = {"do not cut", "do not cut.", "don't cut", "don’t cut", "dont cut", "not to be cut"}
"""What clients type besides the words offered, whatever the language (common practice, no source). Anything else is
unclear."""
MOST_MB = 64
LAST_ROW = 1_048_576
"""Of a spreadsheet (published limit)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SentSheet:
    """What is known of a revision: its designs, its check sheets as made, the plain numbers of designs."""

    designs: Sequence[Design | ProofDesign] = ()
    sheets: Sequence[Path] = ()
    numbers: Mapping[str, int] = field(default_factory=dict)


@dataclass(slots=True)
class _AnswerRow:
    """One row of the sheet as it came back."""

    row: ListRow
    cell: str
    text: tuple[str, ...]
    pieces: int
    answer: str
    change_to: str
    fingerprint: str
    signed: bool
    asked: bool
    questions: tuple[int, ...] = ()  # numbers of the questions about it
    doubt: str = ""  # what else was changed in that row

    @property
    def as_asked(self) -> AskedRow:
        return AskedRow(self.row, self.cell, self.fingerprint, self.text, self.questions)


@dataclass(slots=True)
class _AnswerSheet:
    about: dict[str, str] = field(default_factory=dict)  # by key
    answers: Mapping[str, str] = field(default_factory=dict)  # offered text -> key
    change_to: str = ""  # heading of the column
    rows: list[_AnswerRow] = field(default_factory=list)
    asked: QuestionAnswers = field(default_factory=QuestionAnswers)
    crosses_agree: bool = False  # see `CROSS`


def build_unknown_sheet(revision: str) -> SentSheet:
    """Build the record of a revision that neither the last run nor the ledger knows."""
    return SentSheet()


def read_answer_sheet(path: Path, known: Callable[[str], SentSheet] = build_unknown_sheet) -> ReturnedPaper:
    """A returned check sheet. known: what is known of the revision it says it is of.

    A file that is not one of ours comes back with a fatal problem and no answers; CannotRun when there is none.
    """
    data = read_foreign_bytes(path, WHAT, MOST_MB)
    sha256 = hashlib.sha256(data).hexdigest()
    bounds = Bounds(seconds=8 + len(data) // 50_000)
    try:
        book = read_apart(read_sheet_cells, data, path.name, where=path.name, bounds=bounds)
    except CannotRun as error:
        said = error.faults[0]
        return _report_unusable(path, sha256, "unreadable", f"{path.name}: {said.found}", said.remedy)
    sheet = _read_answer_sheet(book)
    if sheet is None:
        remedy = "the sheets of answers and of the signature have to be in it as they were sent"
        found = "not a check sheet of this tool, or parts of it are missing"
        return _report_unusable(path, sha256, "not-a-proof", found, remedy)
    about = sheet.about
    sent = known(about.get(heads.REVISION, ""))
    problems: list[PaperProblem] = []
    changed = _compare_sheet(book, sent)
    if changed is None:
        kept = f"no check sheet of revision {about.get(heads.REVISION, '')} was kept when it was made"
        problems.append(PaperProblem(code="no-copy", found=f"{kept}: only its columns to fill in were read"))
        changed = find_changes(book, None)
    else:
        for row in sheet.rows:
            row.doubt = changed.rows.get(row.row, "")
    remarks = tidy_value(about.get(heads.REMARKS, ""))
    whole = changed.whole[0] if changed.whole else ""
    if changed.whole:
        told = "; ".join(changed.whole[:3]) + (f" (+{len(changed.whole) - 3} more)" if changed.whole[3:] else "")
        problems.append(PaperProblem(code="differs", found=f"it is not as it was sent: {told}", remedy=_DECIDE))
    if remarks and normalise_words(remarks) not in COURTESIES:
        whole = whole or "something is written under “remarks”"
        problems.append(PaperProblem(code="remarks", found=f"the remarks say “{remarks}”", remedy=_DECIDE))
    answers, replies, more = _read_answers(sheet, sent, whole, changed)
    problems += more
    anything = any(a.decision != "unanswered" for a in answers) or sheet.asked.given
    if not anything and not replies and not problems:
        remedy = "ask the client to fill it in"
        problems.append(PaperProblem(code="empty", found="nothing is filled in", remedy=remedy, fatal=True))
    return ReturnedPaper(
        kind="sheet",
        file=path.name,
        sha256=sha256,
        order_id=about.get(heads.ORDER_CODE, ""),
        order_sha256=about.get(heads.ORDER_HASH, ""),
        title=about.get(heads.TITLE, ""),
        client=about.get(heads.CLIENT, ""),
        revision=about.get(heads.REVISION, ""),
        by=tidy_name(about.get(heads.BY, "")),
        date=tidy_value(about.get(heads.ON, "")),
        remarks=remarks,
        answers=tuple(answers),
        replies=tuple(replies),
        problems=tuple(problems),
    )


_DECIDE = "none of it counts as agreed until you decide each one by its number, with --decide"


def _report_unusable(path: Path, sha256: str, code: Any, found: str, remedy: str) -> ReturnedPaper:
    problem = PaperProblem(code=code, found=found, remedy=remedy, fatal=True)
    return ReturnedPaper(kind="sheet", file=path.name, sha256=sha256, problems=(problem,))


def _compare_sheet(book: Workbook, sent: SentSheet) -> SheetChanges | None:
    """List what differs from the sheet as it was made; if a revision has several, from the most similar."""
    best = None
    for path in sent.sheets:
        try:
            made = read_apart(read_sheet_cells, path.read_bytes(), path.name, where=path, bounds=Bounds(seconds=30))
        except OSError:
            continue
        found = find_changes(book, made)
        if best is None or found.count < best.count:
            best = found
    return best


def _read_answer_sheet(book: Workbook) -> _AnswerSheet | None:
    """The two sheets' contents; None when either cannot be recognised."""
    at = find_places(book)
    if at is None:
        return None
    sign, cells = book.sheets[at.sign], book.sheets[at.sheet]
    about = {key: sign[row][2].text for key, row in at.labels.items() if row in sign and 2 in sign[row]}
    if not about.get(heads.ORDER_CODE) or not about.get(heads.REVISION):
        return None
    out = _AnswerSheet(about=about, answers=at.answers, change_to=at.find_heading(book, heads.CHANGE_TO))
    for number in sorted(n for n in cells if n > at.header):
        told = {name: cells[number][n].text if n in cells[number] else "" for name, n in at.columns.items()}
        listed = parse_row(told[heads.ROW])
        if listed is None or not 0 < get_row_number(listed) <= LAST_ROW:
            continue
        pieces = told[heads.PIECES]
        out.rows.append(
            _AnswerRow(
                row=listed,
                cell=told[heads.CELL],
                text=tuple(told[heads.TEXT].splitlines()),
                pieces=int(pieces) if pieces.isdecimal() and len(pieces) < 8 else 0,
                answer=tidy_value(told[heads.ANSWER]),
                change_to=tidy_value(told[heads.CHANGE_TO]),
                fingerprint=told[heads.FINGERPRINT],
                signed=bool(told.get(heads.SIGNED)),
                asked=bool(told.get(heads.QUESTION)),
                questions=tuple(int(n) for n in told.get(heads.ASKED, "").replace(",", " ").split() if _is_no(n)),
            )
        )
    words = [_fold_answer(row) for row in out.rows if row.fingerprint and not row.signed and not row.change_to]
    out.crosses_agree = all(w == CROSS or _find_offered(w, out.answers) in (heads.CHANGE, heads.REFUSED) for w in words)
    out.asked = read_questions(book, [row.as_asked for row in out.rows])
    return out


def _is_no(text: str) -> bool:
    """Return whether it is a question's number; spreadsheet programs turn a single one into a figure."""
    return text.isdecimal() and len(text) < 6


def _fold_answer(row: _AnswerRow) -> str:
    return " ".join(row.answer.casefold().split())


def _find_offered(word: str, answers: Mapping[str, str]) -> str:
    """The key of the answer that a word in small letters gives: one that was offered, or what clients type instead.
    Empty: none of them."""
    typed = ((heads.AGREED, AGREED | ALSO_AGREED), (heads.CHANGE, CHANGE), (heads.REFUSED, REFUSED))
    return answers.get(word) or next((key for key, words in typed if word in words), "")


def _read_decision(row: _AnswerRow, sheet: _AnswerSheet) -> tuple[Decision, str]:
    """Read what one row says, and why when it is unclear."""
    word = _fold_answer(row)
    if row.doubt:
        return "unclear", row.doubt
    if not word:
        return ("change", "") if row.change_to else ("unanswered", "")
    both = f"“{row.answer}”, and “{row.change_to}” under “{sheet.change_to}”"
    key = _find_offered(word, sheet.answers)
    if key == heads.AGREED:
        if row.change_to:
            return "unclear", both
        if row.asked and word in ALSO_AGREED and word not in sheet.answers:
            return "unclear", f"beside a question it is not clear what “{row.answer}” answers"
        if word == CROSS and not sheet.crosses_agree:
            return "unclear", f"“{row.answer}” may mean right or wrong: other rows are answered in words, or left blank"
        return "agreed", ""
    if key == heads.CHANGE:
        return ("change", "") if row.change_to else ("unclear", "a change is wanted, but no wording is given")
    if key == heads.REFUSED:
        return ("unclear", both) if row.change_to else ("refused", "")
    return "unclear", f"“{row.answer}” is not one of the answers offered"


def _read_answers(
    sheet: _AnswerSheet, sent: SentSheet, whole: str, changed: SheetChanges
) -> tuple[list[Answer], list[Reply], list[PaperProblem]]:
    replies, problems = [], []
    shown = {d.fingerprint: d for d in sent.designs}
    designs: dict[str, list[_AnswerRow]] = {}
    for row in sheet.rows:
        if not row.fingerprint:
            said = " · ".join(filter(None, (row.answer, row.change_to, row.doubt)))
            if said:
                replies.append(Reply(row=row.row, cell=row.cell, text=row.text, reply=said))
        elif not is_fingerprint(row.fingerprint) or (shown and row.fingerprint not in shown):
            found = "is not the fingerprint of a plaque" + (" on it" if is_fingerprint(row.fingerprint) else "")
            problems.append(
                PaperProblem(
                    code="altered",
                    found=f"row {row.row}: “{row.fingerprint[:40]}” {found}",
                    remedy="ask the client to fill in the sheet as it was sent",
                    fingerprint=row.fingerprint if is_fingerprint(row.fingerprint) else "",
                )
            )
        else:
            designs.setdefault(row.fingerprint, []).append(row)
    replies += sheet.asked.build_replies(list_uncut(row.as_asked for row in sheet.rows))
    answers = []
    for mark, same in designs.items():
        answers += _read_design(mark, same, sheet, shown.get(mark), sent.numbers.get(mark, 0), whole)
    for mark in changed.gone:
        if mark in shown and mark not in designs:
            answers.append(_build_missing(shown[mark], sent.numbers.get(mark, 0)))
    for answer in answers:
        if answer.decision == "unclear" and answer.why != whole:
            rows_told = ", ".join(map(str, answer.rows))
            problems.append(
                PaperProblem(
                    code="contradiction",
                    found=f"row {rows_told}: {answer.why}",
                    remedy="ask the client what holds, or decide it by its number with --decide",
                    fingerprint=answer.fingerprint,
                )
            )
    return answers, replies, problems


def _build_missing(design: Design | ProofDesign, no: int) -> Answer:
    return Answer(
        fingerprint=design.fingerprint,
        decision="unclear",
        rows=design.rows,
        cells=design.cells,
        pieces=design.pieces,
        text=design.text,
        why="its row was taken out of the sheet",
        no=no,
    )


def _read_design(
    mark: str, same: Sequence[_AnswerRow], sheet: _AnswerSheet, design: Design | ProofDesign | None, no: int, whole: str
) -> list[Answer]:
    """Read what the rows of one design say together; two answers when only some of the rows are answered."""

    def build_answer(rows: Sequence[_AnswerRow], decision: Decision, change_to: str = "", why: str = "") -> Answer:
        return Answer(
            fingerprint=mark,
            decision=decision,
            change_to=change_to,
            rows=tuple(r.row for r in rows),
            cells=tuple(r.cell for r in rows),
            pieces=min(max(sum(r.pieces for r in rows), 1), design.pieces if design else MOST_PIECES),
            text=design.text if design else select_lettered(same[0].text),
            why=why,
            no=no,
        )

    over = [r for r in same if design is not None and join_lines(r.text) != join_lines(design.text)]
    said = {_read_decision(r, sheet)[0] for r in same} - {"unanswered"}
    there, words = settle_answers(sheet.asked.list_answers(mark), ticked="agreed" in said)
    if over:
        read = " / ".join(over[0].text)
        return [build_answer(same, "unclear", why=f"the lettering itself was overwritten and now reads “{read}”")]
    if "unclear" in said:
        return [
            build_answer(
                same, "unclear", why=next(w for d, w in (_read_decision(r, sheet) for r in same) if d == "unclear")
            )
        ]
    if there == "unclear" or ("refused" in said and there == "change"):
        return [build_answer(same, "unclear", why=words)]
    if not said and there in ("change", "leave"):
        return [build_answer(same, "change", words) if there == "change" else build_answer(same, "refused")]
    if not said:
        # signed earlier and left alone: this sheet didn't ask about it
        return [] if all(r.signed for r in same) else [build_answer(same, "unanswered")]
    counted = sum(r.pieces for r in same)
    if any(not r.pieces for r in same) or (design is not None and counted != design.pieces):
        wanted_pieces = f"{design.pieces} were shown" if design is not None else "a number from 1 on is expected"
        return [build_answer(same, "unclear", why=f"its pieces now read {counted}, and {wanted_pieces}")]
    wanted = {r.change_to for r in same if r.change_to}
    if len(said) > 1 or len(wanted) > 1:
        told = "; ".join(
            f"row {r.row} “{r.answer or 'change'}{' ' + r.change_to if r.change_to else ''}”" for r in same
        )
        return [build_answer(same, "unclear", why=f"rows of the same design are answered differently: {told}")]
    answered = [r for r in same if _read_decision(r, sheet)[0] != "unanswered"]
    decision = said.pop()
    if decision == "agreed" and whole:
        return [build_answer(same, "unclear", why=whole)]
    own = wanted.pop() if wanted else ""
    if decision == "change" and there == "change":
        own = f"{own}; {words}"
    out = [build_answer(answered, decision, own)]
    return out if len(answered) == len(same) else [*out, build_answer(same, "unanswered")]
