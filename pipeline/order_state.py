"""The order as it is now: what outputs and commands know of it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline import VERSION
from pipeline.batch import Batch, make_batch, prepare_job
from pipeline.core.catalogue import list_stopping
from pipeline.core.design_faults import find_design_faults, holds_proof
from pipeline.core.environment.clock import Clock
from pipeline.core.language.client_texts import check_language
from pipeline.core.model import Outcome, drop_finished
from pipeline.layout.size_policies import build_size_table
from pipeline.order_inputs import OrderInputs, read_inputs
from pipeline.shopfloor.shop_plan import ShopPlan, find_order_stops, plan_shop
from pipeline.signoff.order_snapshot import OrderSnapshot
from pipeline.signoff.pieces.plaque_pieces import count_finished_by_row
from pipeline.signoff.pieces.sizes_cut import check_sizes_unlike
from pipeline.signoff.proof_rounds import find_moved_sizes
from pipeline.signoff.records.ledger import LedgerEntry
from pipeline.signoff.run_ledger import RunLedger

if TYPE_CHECKING:
    from pipeline.outputs.cut_files.cut_files import CutFiles


def check_plaques(read: OrderInputs) -> Batch:
    """Set and check every plaque, with nothing written but what is kept."""
    job = prepare_job(read)
    stops = find_order_stops(read.folder, read.blank, job.make_plaques(read.listing.recipients))
    return make_batch(job, read, stops=(*job.figures.stops, *stops))


def open_cut_files(read: OrderInputs) -> CutFiles:
    """Return the cut files of an order, still to be begun. CannotRun when the folder holds another order's."""
    from pipeline.outputs.cut_files.cut_files import CutFiles  # loads the drawing library: only for writing

    return CutFiles(read.folder, read.blank, read.target, VERSION, read.cache)


def open_ledger(read: OrderInputs, batch: Batch, clock: Clock | None = None) -> RunLedger:
    """Return the ledger as it bears on an order. clock: see `RunLedger`."""
    return RunLedger(
        read.folder,
        read.blank,
        batch.job.resolved,
        target=read.target,
        whole_target=read.whole_target,
        rows=frozenset(r.row for r in read.chosen) if read.part else None,
        clock=clock,
    )


def plan_shop_floor(
    read: OrderInputs, batch: Batch, ledger: RunLedger, cut_files: CutFiles | None
) -> tuple[Batch, ShopPlan]:
    """Plan the shop floor; the batch comes back with what is said of it. What stops the whole order is known before,
    but for what depends on plaques that could not be made: then their files are taken back."""
    order = read.folder.order
    boards_tell = order.board is not None or order.jig is not None
    signed = ledger.count_signed_pieces(batch.plaques, batch.findings) if boards_tell else {}
    finished = count_finished_by_row(batch.plaques, ledger.read_sign_off(batch.plaques).entries)
    left = drop_finished(batch.plaques, dict(finished))
    shop, said = plan_shop(read.folder, read.blank, left, signed, read.cache)
    read.cache.flush()
    late = tuple(f for f in list_stopping(said, "order") if f not in batch.stops)
    if late:
        if cut_files is not None:
            cut_files.drop()
        return plan_shop_floor(read, batch.hold_back(late), ledger, cut_files)
    return batch.add_findings(said), shop


def build_outcome(read: OrderInputs, batch: Batch, entries: Sequence[LedgerEntry]) -> Outcome:
    """Return what all outputs are made from. entries: those of the sign-off ledger that count."""
    order, job = read.folder.order, batch.job
    finished = count_finished_by_row(batch.plaques, entries)
    unlike = check_sizes_unlike(batch.plaques, dict(read.sizes_cut), frozenset(row for row, _ in finished))
    return Outcome(
        order_id=read.folder.order_id,
        language=order.proof.language,
        title=order.title,
        client=order.client,
        order_sha256=read.folder.sha256,
        listing=read.listing,
        blank=read.blank,
        plaques=batch.plaques,
        findings=(*batch.findings, *find_moved_sizes(batch.plaques, entries, order), *unlike, *check_language(order)),
        cutter=(*job.cutter.list_values(), *job.limits.list_values()),
        faults=batch.faults,
        sizes=build_size_table(order, batch.plaques),
        part=read.part,
        design=find_design_faults(batch.plaques, order),
        proof_held=holds_proof(batch.plaques, order),
        finished=finished,
    )


def take_snapshot(order: str | Path, out: Path | None = None) -> OrderSnapshot:
    """Read, set and check an order, with nothing written: for commands that compare it with the ledger."""
    read = read_inputs(order, out)
    batch = check_plaques(read)
    entries = open_ledger(read, batch).read_sign_off(batch.plaques).entries
    files = open_cut_files(read)
    return OrderSnapshot(
        folder=read.folder,
        outcome=build_outcome(read, batch, entries),
        target=read.target,
        made=files.render,
        resolved=batch.job.resolved,
        files=files,
    )
