"""A run from beginning to end, stage after stage."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from pipeline.accounts import tell_broken
from pipeline.batch import Progress, choose_workers, ignore_progress, make_batch, prepare_job
from pipeline.core.config.order import OrderFolder
from pipeline.core.environment.clock import Clock, get_utc_now
from pipeline.core.environment.timers import Timers
from pipeline.core.model import Outcome
from pipeline.core.row_selection import parse_rows
from pipeline.core.storage.files import require_writable_folder, require_writable_order
from pipeline.design_advice import DesignAdvisor
from pipeline.order_inputs import read_inputs
from pipeline.order_state import build_outcome, open_cut_files, open_ledger, plan_shop_floor, take_snapshot
from pipeline.output_kinds import UNFINISHED, RunContents, check_accounts, write_outputs
from pipeline.outputs.cut_files.registration_marks import place_marks
from pipeline.outputs.report import build_report
from pipeline.outputs.revision import Revision
from pipeline.outputs.summary import describe_settled, summarise_outcome
from pipeline.shopfloor.shop_plan import check_order, find_order_stops
from pipeline.signoff.plaque_selection import parse_parts, select_rows
from pipeline.signoff.records.ledger import FILE as LEDGER_FILE
from pipeline.signoff.records.sent_proofs import FOLDER as SENT


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RunResult:
    """A finished run."""

    outcome: Outcome
    folder: OrderFolder
    revision: Revision
    summary: str
    broken: tuple[str, ...]  # what the accounts found wrong; empty when they agree
    timers: tuple[tuple[str, float], ...]  # stage, seconds
    not_kept: str = ""  # why nothing, or not everything, is cached for the next run

    @property
    def report(self) -> dict[str, Any]:
        """Return what report.json holds."""
        return build_report(self.outcome, self.folder, self.revision)

    @property
    def exit_status(self) -> int:
        """0: nothing is stopped; 1: something is; 3: a fault of the tool."""
        return 3 if self.broken or self.outcome.faults else int(self.outcome.has_stop)


def run_order(
    order: str | Path,
    *,
    out: Path | None = None,
    rows: str | None = None,
    only: str | None = None,
    fresh: bool = False,
    prove: bool = False,
    files: bool = True,
    workers: int | None = None,
    progress: Progress = ignore_progress,
    clock: Clock = get_utc_now,
) -> RunResult:
    """Run an order.

    files = False is `plaques check`: the same run without cut files and proof. rows: only these, whole in themselves in
    a folder of their own below the output folder; only: of these or all, those that are so now, such as
    "question,unsigned". workers: how many processes make plaques, None for as many as help;
    the results are the same for any number. clock: for the ledger's rows that store the order's code at its first run,
    and the proof that was made; nothing else of a run has a time.

    CannotRun when the order, the list, the drawing or a typeface can't be used, before anything is written.
    """
    timers = Timers()
    with timers.time_stage("choose"):
        chosen, parts = parse_rows(rows) if rows else None, parse_parts(only) if only else ()
        if parts:
            chosen = select_rows(parts, take_snapshot(order, out), chosen)
    with timers.time_stage("read"):
        read = read_inputs(order, out, only=chosen, named="-".join(parts), fresh=fresh)
        check_order(read.folder, read.blank)
        place_marks(read.folder, read.blank)
    with timers.time_stage("prepare"):
        job = prepare_job(read)
        if files:
            require_writable_order(read.folder.folder, (LEDGER_FILE, SENT))
        require_writable_folder(read.target, UNFINISHED)
    with timers.time_stage("shop floor"):
        found = find_order_stops(read.folder, read.blank, job.make_plaques(read.listing.recipients))
        stops = (*job.figures.stops, *found)
    with timers.time_stage("cut files"):
        cut_files = open_cut_files(read) if files else None
        if cut_files is not None:
            cut_files.begin()
    batch = make_batch(  # it times its stages plaque by plaque
        job, read, cut_files, stops=stops, prove=prove, workers=workers, timers=timers, progress=progress
    )
    with timers.time_stage("ledger"):
        ledger = open_ledger(read, batch, clock if files else None)
        batch = batch.add_findings(ledger.begin(batch.plaques))
    with timers.time_stage("shop floor"):
        batch, shop = plan_shop_floor(read, batch, ledger, cut_files)
    with timers.time_stage("outcome"):
        batch = batch.add_findings(ledger.find_differences(batch.plaques))
        outcome = build_outcome(read, batch, ledger.read_sign_off(batch.plaques).entries)
        revision: Revision | None = ledger.find_revision(batch.plaques)
    with timers.time_stage("advice"):
        if outcome.design:
            advisor = DesignAdvisor(job, batch.plaques, read.listing.recipients)
            outcome = replace(outcome, design=tuple(advisor.advise(fault) for fault in outcome.design))
            read.cache.flush()
    several = (choose_workers(len(read.chosen)) if workers is None else workers) > 1
    while revision is not None:  # repeated until the ledger has the proof under its letter
        contents = RunContents(
            outcome=outcome,
            folder=read.folder,
            revision=revision,
            target=read.target,
            shop=shop,
            cut_files=cut_files,
            captions=job.shape_captions,
        )
        written = write_outputs(contents, timers, several=several)
        with timers.time_stage("ledger"):
            held = outcome.proof_held
            revision = None if held else ledger.keep_proof(contents.revision, batch.plaques)
    read.cache.close()
    with timers.time_stage("accounts"):
        broken = check_accounts(outcome, contents.revision, read.target, files=files)
        tell_broken(read.target, broken)
    ledger.record_differences()
    return RunResult(
        outcome=outcome,
        folder=read.folder,
        revision=contents.revision,
        summary=summarise_outcome(
            outcome,
            read.folder,
            read.target,
            written.names,
            (*written.said, *(describe_settled(outcome, contents.revision) if files else ())),
        ),
        broken=broken,
        timers=tuple(timers.seconds.items()),
        not_kept=read.cache.problem,
    )
