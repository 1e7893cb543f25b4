"""The stages in order: order, blank, list, plaques, cut files, papers."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline import VERSION
from pipeline.accounts import tell_broken
from pipeline.batch import BatchInputs, BatchTask, Progress, make_batch, sensible_workers
from pipeline.core.cache import Cache, default_folder
from pipeline.core.catalogue import stopping
from pipeline.core.clock import Clock, utc_now
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.files import remove_unfinished
from pipeline.core.findings import Finding, Severity
from pipeline.core.fingerprint import making_values
from pipeline.core.model import Blank, Outcome, Plaque, Recipient, RecipientList, held_back, left_to_make
from pipeline.core.order import OrderFolder
from pipeline.core.row_selection import RowSelection, parse_rows
from pipeline.core.timers import Timers
from pipeline.cutting.cutters import cutter_of
from pipeline.intake.drawing.blank_drawing import read_blank
from pipeline.intake.order.order_file import read_order
from pipeline.intake.recipients.read_list import read_list
from pipeline.job import Job, one_size, prepare
from pipeline.layout.size_policies import size_table
from pipeline.lettering.shelf import Shelf
from pipeline.output_kinds import UNFINISHED, RunContents, check_accounts, write_outputs
from pipeline.outputs.cut_files.registration_marks import marks_of
from pipeline.outputs.report import report_of
from pipeline.outputs.revision import Revision
from pipeline.outputs.summary import summary
from pipeline.shopfloor.shop_plan import ShopPlan, check_order, order_stops, plan_shop
from pipeline.signoff.approval import approve_pieces
from pipeline.signoff.job_identity import begin_order, with_stored_code
from pipeline.signoff.ledger import Ledger, LedgerEntry, Moved, head_of, verified_entries
from pipeline.signoff.ledger_head import RELEASED, older_ledger_findings, recorded_heads
from pipeline.signoff.order_snapshot import OrderSnapshot
from pipeline.signoff.pieces.plaque_pieces import finished_by_row
from pipeline.signoff.pieces.told_differences import untold_differences
from pipeline.signoff.plain_numbers import give_numbers
from pipeline.signoff.plaque_selection import parse_parts, rows_that_are
from pipeline.signoff.proof_rounds import renamed, revision_of, sizes_moved
from pipeline.signoff.sent_proofs import earlier_letter, keep_proof
from pipeline.signoff.sign_off import SignOff, keep_carried, sign_off_of

if TYPE_CHECKING:
    from pipeline.outputs.cut_files.cut_files import CutFiles


def no_progress(what: str, done: int, of: int) -> None:
    """Says nothing."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RunResult:
    """A finished run."""

    outcome: Outcome
    folder: OrderFolder
    revision: Revision
    summary: str
    broken: tuple[str, ...]  # what is wrong with the accounts; nothing when they hold
    exit_status: int
    timers: tuple[tuple[str, float], ...]  # stage, seconds
    not_kept: str = ""  # why nothing, or not everything, is kept for the next run

    @property
    def report(self) -> dict[str, Any]:
        """What report.json holds."""
        return report_of(self.outcome, self.folder, self.revision)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OrderInputs:
    """Everything that was read before anything is set."""

    folder: OrderFolder
    blank: Blank
    listing: RecipientList
    findings: tuple[Finding, ...]  # of the blank
    chosen: tuple[Recipient, ...]  # those this run is about
    part: str  # their rows, as `4-20,31`; empty for the whole list
    target: Path  # the output folder
    whole_target: Path  # that of a run of the whole list
    cache: Cache  # what is kept between runs


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MadePlaques:
    """The plaques of an order, made."""

    job: Job
    writer: CutFiles | None  # of the cut files, where there are any
    plaques: tuple[Plaque, ...]
    findings: tuple[Finding, ...]  # of the whole order
    stops: tuple[Finding, ...]  # of them, what stops every plaque
    faults: tuple[tuple[int, str], ...]

    def held_back(self, stops: tuple[Finding, ...]) -> MadePlaques:
        """The same, every plaque of it stopped by these."""
        return replace(
            self,
            plaques=tuple(held_back(p, stops) for p in self.plaques),
            findings=(*self.findings, *stops),
            stops=(*self.stops, *stops),
        )


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
    progress: Progress = no_progress,
    clock: Clock = utc_now,
) -> RunResult:
    """Run an order. files = False is `plaques check`: the same run without cut files and proof. rows: only these, whole
    in themselves in a folder of their own below the output folder; only: of these or all, those that are so now,
    such as "question,unsigned". workers: how many processes make plaques, None for
    as many as pay; the results are the same for any number. clock: for the ledger's rows that store the order's code at
    its first run, and the proof that was made; nothing else of a run has a time.

    CannotRun when the order, the list, the drawing or a face cannot be used, before anything is written.
    """
    timers = Timers()
    chosen = parse_rows(rows) if rows else None
    parts = parse_parts(only) if only else ()
    named = "-".join(parts)
    if parts:
        with timers.stage("choose"):
            chosen = rows_that_are(parts, look(order, out), chosen)
    with timers.stage("read"):
        read = read_all(order, out, only=chosen, named=named, fresh=fresh)
        check_order(read.folder, read.blank)
        marks_of(read.folder, read.blank)
    with timers.stage("prepare"):
        ready = get_ready(read)
    _writable(read.target)
    made = _make(read, ready, RunOptions(files=files, prove=prove, workers=workers, progress=progress), timers)
    ledger = Ledger.of(read.folder.folder)
    rows_now = verified_entries(ledger)
    made = replace(
        made, findings=(*made.findings, *older_ledger_findings(rows_now, recorded_heads(read.target / RELEASED)))
    )
    if files:
        with suppress(CannotRun):  # a folder that cannot be written to: the code then follows from title and client
            begin_order(ledger, read.folder, rows_now, clock())
            rows_now = verified_entries(ledger)
        with suppress(CannotRun):  # then papers have no numbers but those given before
            rows_now = give_numbers(ledger, made.plaques, rows_now, clock())
    if files and not read.part:
        with suppress(CannotRun, Moved):
            keep_carried(ledger, _sign_off(read, made, rows_now), clock(), after=head_of(rows_now))
            rows_now = verified_entries(ledger)
    with timers.stage("shop floor"):
        made, shop = _planned(read, made, rows_now)
    entries = _sign_off(read, made, rows_now).entries
    differences = () if read.part else untold_differences(made.plaques, entries, read.folder)
    made = replace(made, findings=(*made.findings, *(finding for finding, _ in differences)))
    given, before = read.folder.order.proof.revision, earlier_letter(read.whole_target, rows_now) if files else ""
    about = {r.row for r in read.chosen} if read.part else None
    revision = revision_of(made.plaques, entries, given, ledger.drawn, before, head_of(rows_now), about)
    outcome = outcome_of(read, made, entries)
    several = (sensible_workers(len(read.chosen)) if workers is None else workers) > 1
    while True:
        words = _write(outcome, read, made, revision, shop, several=several, timers=timers)
        if made.writer is None:
            break
        making = making_values(read.folder.order)
        kept = keep_proof(read.target, read.folder.folder, ledger, revision, rows_now, clock(), making)
        if kept == "kept":
            break
        if kept == "moved":  # another run, or an answer, came between
            rows_now = verified_entries(ledger)
            entries = _sign_off(read, made, rows_now).entries
            revision = revision_of(made.plaques, entries, given, ledger.drawn, before, head_of(rows_now), about)
        else:  # the letter stands for another content than this
            revision = renamed(revision, entries, given, before, head_of(rows_now))
    read.cache.close()
    with timers.stage("accounts"):
        broken = check_accounts(outcome, revision, read.target, files=files)
        tell_broken(read.target, broken)
    if files and differences:
        with suppress(CannotRun):  # then it is told again
            ledger.add([row for _, row in differences], clock())
    return RunResult(
        outcome=outcome,
        folder=read.folder,
        revision=revision,
        summary=words,
        broken=broken,
        exit_status=3 if broken else _exit_status(outcome),
        timers=tuple(timers.seconds.items()),
        not_kept=read.cache.problem,
    )


def _planned(read: OrderInputs, made: MadePlaques, rows: Sequence[LedgerEntry]) -> tuple[MadePlaques, ShopPlan]:
    """The shop floor, and what is said of it. What stops the whole order is known before, but for what depends on
    plaques that could not be made: then their files are taken back. rows: the ledger's."""
    signed: dict[int, int] = {}
    sign_off = _sign_off(read, made, rows)
    if read.folder.order.board is not None or read.folder.order.jig is not None:  # only these tell
        letter = revision_of(made.plaques, sign_off.entries, read.folder.order.proof.revision).letter
        approvals = approve_pieces(made.plaques, sign_off, findings=made.findings, revision=letter)
        signed = {a.plaque.recipient.row: a.signed for a in approvals}
    left = left_to_make(made.plaques, dict(finished_by_row(made.plaques, sign_off.entries)))
    shop, said = plan_shop(read.folder, read.blank, left, signed, read.cache)
    read.cache.flush()
    late = tuple(f for f in stopping(said, "order") if f not in made.stops)
    if late:
        if made.writer is not None:
            made.writer.drop()
        return _planned(read, made.held_back(late), rows)
    return replace(made, findings=(*made.findings, *(f for f in said if f not in made.stops))), shop


def read_all(
    order: str | Path,
    out: Path | None = None,
    *,
    only: RowSelection | None = None,
    named: str = "",
    fresh: bool = False,
) -> OrderInputs:
    """Order, blank and list. only: these rows of it, into a folder named after them, or after `named`. fresh: nothing
    kept from earlier runs is used. CannotRun says what cannot be used."""
    cache = Cache(None if fresh else default_folder())
    folder = read_order(Path(order), faces=Shelf().names, cutter=cutter_of)
    folder = with_stored_code(folder, Ledger.of(folder.folder).entries())
    blank, said = read_blank(folder, cache)
    listing, target = read_list(folder), out or folder.folder / "out"
    return OrderInputs(
        folder=folder,
        blank=blank,
        listing=listing,
        findings=tuple(said),
        chosen=_chosen(listing, only),
        part="" if only is None else str(only),
        target=target if only is None else target / f"part-{named or only.file_name}",
        whole_target=target,
        cache=cache,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class PreparedJob:
    """An order prepared, with what is said of it as a whole and the size each line may have at most."""

    job: Job
    tops: tuple[float, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RunOptions:
    """How plaques are to be made; by default set and checked only."""

    files: bool = False
    prove: bool = False
    workers: int | None = 1
    progress: Progress = no_progress


def get_ready(read: OrderInputs) -> PreparedJob:
    """Everything that is done once an order. Sizes that hold for the whole order come from the whole list."""
    job = prepare(read.folder, read.blank, read.cache)
    sizes, said = one_size(job, read.listing.recipients)
    tops = tuple(sizes.get(number, top) for number, top in enumerate(job.setter.tops, 1))
    return PreparedJob(job=job, tops=tops, findings=(*read.findings, *job.findings, *said))


def _make(read: OrderInputs, ready: PreparedJob, how: RunOptions, timers: Timers) -> MadePlaques:
    """Every plaque set and checked, and what else is wanted: no cut file of an order that is stopped."""
    job = ready.job
    job.setter.tops[:] = ready.tops
    with timers.stage("shop floor"):
        stops = order_stops(read.folder, read.blank, _one_by_one(job, read.listing))
    writer = _writer(read) if how.files else None
    task = BatchTask(
        given=BatchInputs(
            folder=read.folder,
            blank=read.blank,
            tops=ready.tops,
            files=how.files and not stops,
            prove=how.files and how.prove and not stops,
        ),
        target=read.target,
        kept=read.cache.folder,
    )
    if writer is not None:
        with timers.stage("cut files"):
            writer.begin()
    cuts = writer if task.given.files else None
    done = make_batch(task, job, cuts, read.chosen, workers=how.workers, timers=timers, progress=how.progress)
    read.cache.flush()
    made = MadePlaques(
        job=job,
        writer=writer,
        plaques=tuple(done.plaques),
        findings=(*ready.findings, *(() if writer is None else writer.findings)),
        stops=(),
        faults=tuple(done.faults),
    )
    return made.held_back(stops) if stops else made


def _one_by_one(job: Job, listing: RecipientList) -> Iterator[Plaque]:
    """The plaques of the list, each set and checked when it is asked for; one that the tool fails on is passed over,
    and told when it is made."""
    for recipient in listing.recipients:
        with suppress(Exception):
            yield job.plaque(recipient)


def make_plaques(read: OrderInputs) -> MadePlaques:
    """Every plaque set and checked, with nothing written but what is kept."""
    return _make(read, get_ready(read), RunOptions(), Timers())


def outcome_of(read: OrderInputs, made: MadePlaques, entries: Sequence[LedgerEntry]) -> Outcome:
    """What all outputs are made from. entries: those of the sign-off ledger that count."""
    order = read.folder.order
    return Outcome(
        order_id=read.folder.order_id,
        title=order.title,
        client=order.client,
        order_sha256=read.folder.sha256,
        listing=read.listing,
        blank=read.blank,
        plaques=made.plaques,
        findings=(*made.findings, *sizes_moved(made.plaques, entries, order)),
        cutter=(*made.job.cutter.words(), *made.job.limits.words()),
        faults=made.faults,
        sizes=size_table(order, made.plaques),
        part=read.part,
        finished=finished_by_row(made.plaques, entries),
    )


def look(order: str | Path, out: Path | None = None) -> OrderSnapshot:
    """The order as it is now, with nothing written: for commands that hold it against the ledger."""
    read = read_all(order, out)
    made = make_plaques(read)
    entries = _sign_off(read, made, verified_entries(Ledger.of(read.folder.folder))).entries
    outcome = outcome_of(read, made, entries)
    files = _writer(read)
    return OrderSnapshot(
        folder=read.folder,
        outcome=outcome,
        target=read.target,
        made=files.made,
        resolved=made.job.resolved,
        files=files,
    )


def _sign_off(read: OrderInputs, made: MadePlaques, entries: Sequence[LedgerEntry]) -> SignOff:
    return sign_off_of(entries, read.folder, made.plaques, read.blank, made.job.resolved)


def _writer(read: OrderInputs) -> CutFiles:
    from pipeline.outputs.cut_files.cut_files import CutFiles  # with the library of drawings: only what writes needs it

    return CutFiles(read.folder, read.blank, read.target, VERSION, read.cache)


def _chosen(listing: RecipientList, only: RowSelection | None) -> tuple[Recipient, ...]:
    if only is None:
        return listing.recipients
    chosen = tuple(r for r in listing.recipients if r.row in only)
    if not chosen:
        rows = [r.row for r in listing.recipients]
        held = f"recipients in rows {rows[0]} to {rows[-1]}" if rows else "no recipients"
        raise CannotRun(
            Fault(where="--rows", found="none of these rows holds a recipient", expected=f"the list has {held}")
        )
    return chosen


def _writable(target: Path) -> None:
    """Known before the work, not after it."""
    probe = target / ".writable"
    try:
        target.mkdir(parents=True, exist_ok=True)
        probe.write_bytes(b"")
        probe.unlink()
        remove_unfinished(target, UNFINISHED)
    except OSError as error:
        raise CannotRun(
            Fault(
                where=str(target),
                found=f"nothing can be written here ({error.strerror or error})",
                expected="a folder for the results",
                remedy="choose another with --out",
            )
        ) from error


def _write(
    outcome: Outcome,
    read: OrderInputs,
    made: MadePlaques,
    revision: Revision,
    shop: ShopPlan,
    *,
    several: bool,
    timers: Timers,
) -> str:
    """Every output. Gives the summary. several: processes may be used."""
    contents = RunContents(
        outcome=outcome,
        folder=read.folder,
        revision=revision,
        target=read.target,
        shop=shop,
        cut_files=made.writer,
        captions=made.job.captions,
    )
    written = write_outputs(contents, timers, several=several)
    words = summary(outcome, read.folder.order.unit, where=_as_typed(read.target), written=written.names)
    return "\n".join([words + _shop_words(read.folder), *written.said])


def _shop_words(folder: OrderFolder) -> str:
    """Which shop file was used, as a further line of the summary; empty when there is none."""
    taken = len(folder.order.taken_values())
    told = f"{taken or 'no'} value{'' if taken == 1 else 's'} of this order {'comes' if taken == 1 else 'come'} from it"
    return f"\nShop file {folder.shop_place}: {told}." if folder.shop_place else ""


def _as_typed(target: Path) -> str:
    """The folder as seen from where the user stands, where that is shorter."""
    try:
        return str(target.resolve().relative_to(Path.cwd()))
    except ValueError:
        return str(target)


def _exit_status(outcome: Outcome) -> int:
    if outcome.faults:
        return 3
    stops = any(f.severity is Severity.STOP for f in outcome.findings)
    return 1 if stops or any(p.state == "stopped" for p in outcome.plaques) else 0
