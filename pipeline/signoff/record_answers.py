"""From a returned paper to rows of the ledger: objections to recording it, and the rows that are recorded."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace
from typing import Literal

from pipeline.core.errors import CannotRun, Fault
from pipeline.core.row_selection import RowSelection
from pipeline.signoff.design_answers import ANSWERS, join_lines, rank_revision
from pipeline.signoff.proof_rounds import find_latest_revision
from pipeline.signoff.records.designs import Design, DesignRow, LastRun, select_lettered
from pipeline.signoff.records.job_identity import JobIdentity
from pipeline.signoff.records.ledger import LedgerEntry, ProofDesign, select_counting_entries
from pipeline.signoff.records.sent_proofs import find_last_made, list_part_revisions
from pipeline.signoff.returned.answers import Answer, PaperProblem, ReturnedPaper


def find_objections(
    paper: ReturnedPaper, run: LastRun | None, entries: Sequence[LedgerEntry], *, order_id: str, older: bool = False
) -> tuple[PaperProblem, ...]:
    """Find objections to recording this paper, besides its own problems. order_id: of the order it was
    returned for. older: a paper of an older revision was asked to be recorded all the same.
    """
    known = {p.code for p in paper.problems}
    out = []
    if paper.order_id and paper.order_id != order_id and "other-order" not in known:
        title = f"“{paper.title}”" + (f" for {paper.client}" if paper.client else "")
        out.append(
            PaperProblem(
                code="other-order",
                found=f"it belongs to another order: {title}, order code {paper.order_id}, not {order_id}",
                remedy="name that order's folder, or ask the client for the right file",
                fatal=True,
            )
        )
    parts = list_part_revisions(entries)
    whole = [e for e in entries if e.revision not in parts]  # a proof of some rows doesn't supersede another one
    proof = find_last_made(whole)
    newest = max(
        (find_latest_revision(whole), proof.revision if proof else run.revision if run else ""), key=rank_revision
    )
    if (
        paper.revision
        and not older
        and rank_revision(paper.revision) < rank_revision(newest)
        and "older-revision" not in known
    ):
        out.append(
            PaperProblem(
                code="older-revision",
                found=f"it is revision {paper.revision}, and revision {newest} has been made since",
                remedy=f"ask the client for revision {newest}",
                fatal=True,
            )
        )
    if paper.usable and not paper.by.strip():
        out.append(
            PaperProblem(
                code="no-name",
                found="nobody has signed it: the name is empty",
                remedy="ask the client for their name, or give it with --by",
                fatal=True,
            )
        )
    return tuple(out)


def find_recorded_before(paper: ReturnedPaper, entries: Sequence[LedgerEntry]) -> LedgerEntry | None:
    """Find the entry of this very file as an answer to this proof, or of this sign-off given by hand, when it was
    recorded already and counts. entries: all, those voided too."""
    papers = [e for e in select_counting_entries(entries) if e.kind == "paper"]
    if paper.sha256:
        same = (e for e in papers if e.source_sha256 == paper.sha256)
        return next((e for e in same if (e.revision, e.volume) == (paper.revision, paper.volume)), None)
    agreed = {(a.fingerprint, a.decision, a.rows, a.pieces) for a in paper.answers if a.decision == "agreed"}
    own = (
        paper.kind,
        paper.revision,
        _escape_surrogates(paper.by),
        _escape_surrogates(paper.date),
        _escape_surrogates(paper.file),
    )
    for entry in papers:
        if own == (entry.source_kind, entry.revision, entry.by, entry.date, entry.source):
            theirs = {(e.fingerprint, e.decision, e.rows, e.pieces) for e in _list_answers(entry, entries)}
            if agreed <= theirs and not _is_contested(agreed, entries[entry.id + len(theirs) :]):
                return entry
    return None


def _is_contested(agreed: Collection[tuple[object, ...]], later: Sequence[LedgerEntry]) -> bool:
    """Return whether a different answer on these designs came later: agreeing once more then settles it."""
    marks = {mark for mark, *_ in agreed}
    other = (e for e in later if e.kind in ANSWERS and e.decision not in ("agreed", "unanswered"))
    return any(e.fingerprint in marks for e in other)


def _list_answers(paper: LedgerEntry, entries: Sequence[LedgerEntry]) -> Iterator[LedgerEntry]:
    """List the rows that were recorded with a paper, which follow it."""
    for entry in entries[paper.id :]:
        if entry.kind not in ("answer", "question", "reply"):
            return
        yield entry


def build_entries(
    paper: ReturnedPaper, run: LastRun | None, drawings: str = "", job: JobIdentity | None = None
) -> tuple[LedgerEntry, ...]:
    """Build the ledger's rows for one paper: itself, then every design it shows, then replies about the others.

    Unanswered designs are recorded too: they say what the revision showed. run: the run that made the paper, for the
    sizes the client saw. drawings: sha256 of the lettering it showed, where the ledger keeps it. job: today's; a paper
    that says its own title is recorded under that, which is what was signed.
    """
    own = paper.title or (job.title if job else "")
    common = LedgerEntry(
        kind="paper",
        order_id=paper.order_id,
        order_sha256=paper.order_sha256,
        revision=paper.revision,
        volume=paper.volume,
        by=_escape_surrogates(paper.by),
        date=_escape_surrogates(paper.date),
        source=_escape_surrogates(paper.file),
        source_kind=paper.kind,
        source_sha256=paper.sha256,
        drawings=drawings,
        sender=_escape_surrogates(paper.sender),
        title=_escape_surrogates(own),
        client=_escape_surrogates(paper.client if paper.title or job is None else job.client),
        order_file=_escape_surrogates(job.order_file) if job else "",
    )
    files = tuple((_escape_surrogates(name), sha256) for name, sha256 in paper.files)
    out = [
        replace(common, decision=paper.decision, reply=_escape_surrogates(paper.remarks), note=paper.note, files=files)
    ]
    for answer in paper.answers:
        design = run.find_design(answer.fingerprint) if run else None
        out.append(
            replace(
                common,
                kind="answer",
                fingerprint=answer.fingerprint,
                decision=answer.decision,
                text=select_lettered(answer.text),
                rows=answer.rows,
                cells=answer.cells,
                pieces=answer.pieces,
                cap_heights=design.cap_heights if design else (),
                change_to=_escape_surrogates(answer.change_to),
                reply=_escape_surrogates(answer.reply),
                why=_escape_surrogates(answer.why),
                no=answer.no,
            )
        )
    for far in paper.far:
        design = run.find_design(far.fingerprint) if run else None
        out.append(
            replace(
                common,
                kind="question",
                fingerprint=far.fingerprint,
                decision={"leave": "refused"}.get(far.said, far.said),
                text=select_lettered(design.text) if design else (),
                change_to=_escape_surrogates(far.words) if far.said == "change" else "",
                why=_escape_surrogates(far.words) if far.said == "unclear" else "",
            )
        )
    for reply in paper.replies:
        out.append(
            replace(
                common,
                kind="reply",
                text=select_lettered(reply.text),
                rows=(reply.row,) if reply.row else (),
                cells=(reply.cell,) if reply.row else (),
                reply=_escape_surrogates(reply.reply),
            )
        )
    return tuple(out)


def build_hand_paper(
    run: LastRun,
    rows: RowSelection,
    entries: Sequence[LedgerEntry] = (),
    *,
    proof: str = "",
    by: str,
    on: str,
    paper: str,
) -> ReturnedPaper:
    """Build a returned paper from a sign-off given on paper or by letter: the rows named, as they stood on the proof
    named, are agreed to with the texts that it showed.

    entries: the ledger's, for what each proof showed. proof: its revision letter; it may be left out when only one was
    ever made. Of proofs that earlier versions made the ledger has no designs: only the last run's can be signed for.
    CannotRun names rows that the proof does not show; a row that reads differently by now is a problem to be told.
    """
    letter, shown = _find_shown_designs(proof, run, entries)
    there = {m.row for d in shown for m in d.members}
    today = {m.row for d in run.designs for m in d.members}
    single = {low for low, high in rows.ranges if low == high}  # rows named one by one are meant individually
    wrong = sorted(row for row in (today | single) - there - set(run.stopped) if row in rows)
    if wrong or not any(row in rows for row in there):
        told = f"row {', '.join(map(str, wrong[:10]))}" if wrong else "any of these rows"
        raise CannotRun(
            Fault(
                where="--rows",
                found=f"proof {letter} does not show {told}",
                expected=f"rows whose plaque stood on proof {letter}",
                remedy="count the rows as that proof has them, or name the proof they stand on with --proof",
            )
        )
    answers = []
    for design in shown:
        signed = [m for m in design.members if m.row in rows]
        if signed:
            answers.append(_build_hand_answer(design, "agreed", signed))
        if len(signed) < len(design.members):
            answers.append(_build_hand_answer(design, "unanswered", design.members))
    return ReturnedPaper(
        kind="paper",
        file=paper,
        sha256="",
        order_id=run.order_id,
        order_sha256=run.order_sha256,
        title=run.title,
        client=run.client,
        revision=letter,
        by=by,
        date=on,
        answers=tuple(answers),
        problems=(*_list_stopped_rows(run, rows), *_list_changed_rows(run, shown, rows, letter)),
    )


def list_agreed_texts(paper: ReturnedPaper) -> tuple[str, ...]:
    """List what a paper agrees to, one line each, for the person who records it: cell or row, pieces, lettering."""
    out = []
    for answer in paper.answers:
        if answer.decision == "agreed":
            where = ", ".join(answer.cells) or f"row {', '.join(map(str, answer.rows))}"
            pieces = f" × {answer.pieces}" if answer.pieces > 1 else ""
            out.append(f"{where}: {join_lines(answer.text)}{pieces}")
    return tuple(out)


def _build_hand_answer(
    design: Design, decision: Literal["agreed", "unanswered"], members: Sequence[DesignRow]
) -> Answer:
    return Answer(
        fingerprint=design.fingerprint,
        decision=decision,
        rows=tuple(m.row for m in members),
        cells=tuple(m.cell for m in members),
        pieces=sum(m.copies for m in members),
        text=design.text,
    )


def _find_shown_designs(proof: str, run: LastRun, entries: Sequence[LedgerEntry]) -> tuple[str, tuple[Design, ...]]:
    """Find the revision that is meant, and the designs its proof showed. CannotRun when it is not clear, or not
    known."""
    made: dict[str, dict[str, ProofDesign]] = {}
    for entry in entries:
        if entry.kind == "proof":
            made.setdefault(entry.revision, {}).update({d.fingerprint: d for d in entry.designs})
    letters = list(made) or [run.revision]
    if not proof and len(letters) > 1:
        raise CannotRun(
            Fault(
                where="--proof",
                found=f"missing, and proofs {', '.join(letters)} have been made",
                expected="the revision letter of the proof that was signed, as it stands on its cover",
            )
        )
    letter = proof or letters[0]
    if letter in made:
        return letter, tuple(_build_shown_design(d, run) for d in made[letter].values())
    if letter == run.revision:
        return letter, run.designs
    raise CannotRun(
        Fault(
            where="--proof",
            found=f"proof {letter}: what it showed is not in the ledger",
            expected=f"one of {', '.join(sorted({*letters, run.revision}, key=rank_revision))}",
            remedy="run the order and have the new proof signed",
        )
    )


def _build_shown_design(shown: ProofDesign, run: LastRun) -> Design:
    """Build a design of a proof with its rows. How its pieces fell to them follows from the last run where it is the
    same; otherwise each row has one, which is never more than was shown."""
    now = run.find_design(shown.fingerprint)
    copies = {m.row: m.copies for m in now.members} if now else {}
    if len(shown.rows) == 1:
        copies = {shown.rows[0]: shown.pieces}
    elif sum(copies.get(row, 0) for row in shown.rows) != shown.pieces:
        copies = {}
    cells = shown.cells if len(shown.cells) == len(shown.rows) else ("",) * len(shown.rows)
    return Design(
        fingerprint=shown.fingerprint,
        text=select_lettered(shown.text),
        members=tuple(
            DesignRow(row=r, cell=c, copies=copies.get(r, 1)) for r, c in zip(shown.rows, cells, strict=True)
        ),
    )


def _list_stopped_rows(run: LastRun, rows: RowSelection) -> tuple[PaperProblem, ...]:
    return tuple(
        PaperProblem(
            code="stopped-row",
            found=f"row {row} cannot be cut as it is, so there is nothing to sign for",
            remedy="see check.xlsx for why",
        )
        for row in run.stopped
        if row in rows
    )


def _list_changed_rows(
    run: LastRun, shown: Sequence[Design], rows: RowSelection, letter: str
) -> tuple[PaperProblem, ...]:
    """List rows that read differently in the list now: what is recorded is what the proof showed."""
    now = {m.row: d.text for d in run.designs for m in d.members}
    return tuple(
        PaperProblem(
            code="older-revision",
            found=f"row {m.row} reads “{join_lines(now[m.row])}” now; proof {letter} showed “{join_lines(d.text)}” "
            "there, "
            "and that is what is recorded",
            fingerprint=d.fingerprint,
        )
        for d in shown
        for m in d.members
        if m.row in rows and m.row in now and select_lettered(now[m.row]) != select_lettered(d.text)
    )


def _escape_surrogates(text: str) -> str:
    """Write out halves of a broken character, which a database refuses."""
    return text.encode("utf-8", "backslashreplace").decode("utf-8")
