"""`plaques sign ORDER --void`: void rows of the sign-off ledger by adding a row that says so."""

from __future__ import annotations

from pathlib import Path

from pipeline.core.environment.clock import Clock
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.row_selection import parse_rows
from pipeline.intake.order.order_file import read_order
from pipeline.outputs.summary import strip_markup
from pipeline.signoff.design_answers import join_lines
from pipeline.signoff.order_snapshot import Say
from pipeline.signoff.records.job_identity import JobIdentity, apply_stored_code
from pipeline.signoff.records.ledger import FILE, Ledger, LedgerEntry, select_counting_entries
from pipeline.signoff.sign_off import CARRIED


def void_rows(order: str | Path, numbers: str, *, by: str, note: str = "", clock: Clock, say: Say) -> int:
    """Record that rows of the ledger no longer count; nothing is deleted.

    numbers: row numbers, e.g. "12-14". A paper is recorded in several rows: voiding the paper's own row voids them all.
    Returns 0. CannotRun when nobody is named, or a number isn't a row that counts.
    """
    wanted = parse_rows(numbers, "--void", "numbers of rows of the ledger, e.g. 12-14", lists=False)
    if not by.strip():
        raise CannotRun(Fault(where="--by", found="missing", expected="who says that these rows no longer count"))
    folder = read_order(Path(order))
    ledger = Ledger.open(folder.folder)
    with ledger.transaction(clock()) as writing:
        known = apply_stored_code(folder, writing.entries)
        there = {e.id: e for e in select_counting_entries(writing.entries)}
        missing = sorted(number for low, high in wanted.ranges for number in (low, high) if number not in there)
        if missing:
            raise CannotRun(
                Fault(
                    where=f"--void {numbers}",
                    found=f"row {missing[0]} doesn't exist, or no longer counts",
                    expected=f"numbers of rows in {FILE}, 1 to {len(writing.entries)}",
                )
            )
        named = [e for e in there.values() if e.id in wanted]
        given = [e.id for e in named if e.kind == "numbers"]
        if len(given) == len(named):
            raise CannotRun(
                Fault(
                    where=f"--void {numbers}",
                    found=f"row {given[0]} gives designs their plain numbers, and these stay given",
                    expected="rows of answers, papers, releases or marks, see `plaques history`",
                    remedy="nothing was recorded; a number that was on a paper can't mean another design later",
                )
            )
        gone = _add_their_answers([e for e in named if e.kind != "numbers"], there)
        job = JobIdentity.from_order(known)
        writing.add(
            [
                LedgerEntry(
                    kind="void",
                    order_id=known.order_id,
                    order_sha256=known.sha256,
                    title=job.title,
                    client=job.client,
                    order_file=job.order_file,
                    voids=tuple(e.id for e in gone),
                    by=by.strip(),
                    note=note,
                )
            ]
        )
    told = [f"{e.id}: {e.kind} {join_lines(e.text) or e.source} ({e.decision or e.revision})" for e in gone]
    head = "This row of the ledger no longer counts:" if len(told) == 1 else "These rows of the ledger no longer count:"
    say("\n".join([head, *(f"  {strip_markup(line)}" for line in told)]))
    return 0


def _add_their_answers(chosen: list[LedgerEntry], there: dict[int, LedgerEntry]) -> list[LedgerEntry]:
    out = {e.id: e for e in chosen}
    for paper in chosen:
        number = paper.id + 1
        while (
            paper.kind == "paper"
            and number in there
            and there[number].kind in ("answer", "question", "reply", "reading")
        ):
            out[number] = there[number]
            number += 1
        for e in there.values():
            own = (e.source, e.source_sha256, e.revision, e.by)
            if e.note.startswith(CARRIED) and own == (paper.source, paper.source_sha256, paper.revision, paper.by):
                out[e.id] = e
    return [out[number] for number in sorted(out)]
