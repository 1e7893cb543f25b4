"""From a returned paper to rows of the ledger: what keeps it from being recorded, and what is recorded."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from pipeline.core.errors import CannotRun, Fault
from pipeline.core.rows import Rows
from pipeline.signoff.answers import Answer, Problem, ReturnedPaper
from pipeline.signoff.designs import LastRun, lettered
from pipeline.signoff.ledger import Entry
from pipeline.signoff.proofs import last_made
from pipeline.signoff.rounds import latest_revision
from pipeline.signoff.standing import rank


def objections(
    paper: ReturnedPaper, run: LastRun | None, entries: Sequence[Entry], *, order_id: str, older: bool = False
) -> tuple[Problem, ...]:
    """What keeps this paper from being recorded, besides the problems it came with. order_id: of the order it was
    returned for. older: a paper of an older revision was asked to be recorded all the same.
    """
    known = {p.code for p in paper.problems}
    out = []
    if paper.order_id and paper.order_id != order_id and "other-order" not in known:
        title = f"“{paper.title}”" + (f" for {paper.client}" if paper.client else "")
        out.append(
            Problem(
                code="other-order",
                found=f"it belongs to another order: {title}, order code {paper.order_id}, not {order_id}",
                remedy="name that order's folder, or ask the client for the right file",
                fatal=True,
            )
        )
    proof = last_made(entries)
    newest = max((latest_revision(entries), proof.revision if proof else run.revision if run else ""), key=rank)
    if paper.revision and not older and rank(paper.revision) < rank(newest) and "older-revision" not in known:
        out.append(
            Problem(
                code="older-revision",
                found=f"it is revision {paper.revision}, and revision {newest} has been made since",
                remedy=f"ask the client for revision {newest}",
                fatal=True,
            )
        )
    if paper.usable and not paper.by.strip():
        out.append(
            Problem(
                code="no-name",
                found="nobody has signed it: the name is empty",
                remedy="ask the client for their name, or give it with --by",
                fatal=True,
            )
        )
    return tuple(out)


def recorded_before(paper: ReturnedPaper, entries: Sequence[Entry]) -> Entry | None:
    """The entry of this very file, when it was recorded already."""
    same = (e for e in entries if e.kind == "paper" and paper.sha256 and e.source_sha256 == paper.sha256)
    return next(same, None)


def entries_of(paper: ReturnedPaper, run: LastRun | None, drawings: str = "") -> tuple[Entry, ...]:
    """The rows of the ledger for one paper: itself, then every design it shows, then replies about the others.

    Unanswered designs are recorded too: they say what the revision showed. run: the run that made the paper, for the
    sizes the client saw. drawings: sha256 of the lettering it showed, where the ledger keeps it.
    """
    common = Entry(
        kind="paper",
        order_id=paper.order_id,
        order_sha256=paper.order_sha256,
        revision=paper.revision,
        volume=paper.volume,
        by=_storable(paper.by),
        date=_storable(paper.date),
        source=_storable(paper.file),
        source_kind=paper.kind,
        source_sha256=paper.sha256,
        drawings=drawings,
    )
    out = [replace(common, decision=paper.decision, reply=_storable(paper.remarks))]
    for answer in paper.answers:
        design = run.of(answer.fingerprint) if run else None
        out.append(
            replace(
                common,
                kind="answer",
                fingerprint=answer.fingerprint,
                decision=answer.decision,
                text=lettered(answer.text),
                rows=answer.rows,
                cells=answer.cells,
                pieces=answer.pieces,
                cap_heights=design.cap_heights if design else (),
                change_to=_storable(answer.change_to),
                reply=_storable(answer.reply),
                why=_storable(answer.why),
                no=answer.no,
            )
        )
    for reply in paper.replies:
        out.append(
            replace(
                common,
                kind="reply",
                text=lettered(reply.text),
                rows=(reply.row,),
                cells=(reply.cell,),
                reply=_storable(reply.reply),
            )
        )
    return tuple(out)


def by_hand(run: LastRun, rows: Rows, *, by: str, on: str, paper: str) -> ReturnedPaper:
    """A sign-off given on paper or by letter, as a returned paper: the rows named are agreed as the last run showed
    them; a stopped row among them is a problem of its own. CannotRun when no row named can be signed for.
    """
    named = [m.row for d in run.designs for m in d.members if m.row in rows]
    stopped = [row for row in run.stopped if row in rows]
    if not named:
        raise CannotRun(
            Fault(
                where="--rows",
                found="none of these rows holds a plaque that can be signed for",
                expected="rows whose plaque stood on the proof",
                remedy="see check.xlsx for what stands in which row",
            )
        )
    answers = []
    for design in run.designs:
        signed = [m for m in design.members if m.row in rows]
        if signed:
            answers.append(
                Answer(
                    fingerprint=design.fingerprint,
                    decision="agreed",
                    rows=tuple(m.row for m in signed),
                    cells=tuple(m.cell for m in signed),
                    pieces=sum(m.copies for m in signed),
                    text=design.text,
                )
            )
        if len(signed) < len(design.members):
            answers.append(
                Answer(
                    fingerprint=design.fingerprint,
                    decision="unanswered",
                    rows=design.rows,
                    cells=design.cells,
                    pieces=design.pieces,
                    text=design.text,
                )
            )
    return ReturnedPaper(
        kind="paper",
        file=paper,
        sha256="",
        order_id=run.order_id,
        order_sha256=run.order_sha256,
        title=run.title,
        client=run.client,
        revision=run.revision,
        by=by,
        date=on,
        answers=tuple(answers),
        problems=tuple(
            Problem(
                code="stopped-row",
                found=f"row {row} cannot be cut as it is, so there is nothing to sign for",
                remedy="see check.xlsx for why",
            )
            for row in stopped
        ),
    )


def _storable(text: str) -> str:
    """Halves of a broken character, which a database refuses, are spelled out."""
    return text.encode("utf-8", "backslashreplace").decode("utf-8")
