"""The stages in order: order, blank, list, plaques, cut files, papers."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline import VERSION
from pipeline.core.clock import Clock, utc_now
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.files import clear_begun
from pipeline.core.findings import Finding, Severity
from pipeline.core.kept import Keeper, default_folder
from pipeline.core.model import Blank, ListRead, Outcome, Plaque, Recipient
from pipeline.core.order import OrderFolder
from pipeline.core.rows import Rows, read_rows
from pipeline.cutting.cutters import shelf
from pipeline.intake.drawing import read_blank
from pipeline.intake.order_file import read_order
from pipeline.intake.recipients import read_list
from pipeline.job import Job, one_size, prepare
from pipeline.layout.sizes import size_table
from pipeline.lettering.shelf import Shelf
from pipeline.making import Progress, Task, Timers, sensible
from pipeline.outputs.check_sheet import write_check_sheet
from pipeline.outputs.cutting.marks import marks_of
from pipeline.outputs.report import report_of, write_report
from pipeline.outputs.revision import Revision
from pipeline.outputs.summary import summary
from pipeline.results import make_all
from pipeline.shopfloor.plan import ShopPlan, check_order, plan_shop
from pipeline.signoff.ledger import Entry, Ledger, sound
from pipeline.signoff.looked import Looked
from pipeline.signoff.proofs import keep_proof, left_before
from pipeline.signoff.rounds import renamed, revision_of, sizes_moved
from pipeline.signoff.standing import stand

if TYPE_CHECKING:
    from pipeline.outputs.cut_file import CutFiles
    from pipeline.workers import Aside

_PAPERS_BEGUN = re.compile(r"\.(?:check\.xlsx|report\.json|proof\.pdf|shop\.pdf)\.(\d+)\.part")


def no_progress(what: str, done: int, of: int) -> None:
    """Says nothing."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Done:
    """A finished run."""

    outcome: Outcome
    folder: OrderFolder
    revision: Revision
    summary: str
    exit_status: int
    timers: tuple[tuple[str, float], ...]  # stage, seconds

    @property
    def report(self) -> dict[str, Any]:
        """What report.json holds."""
        return report_of(self.outcome, self.folder, self.revision)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Read:
    """Everything that was read before anything is set."""

    folder: OrderFolder
    blank: Blank
    listing: ListRead
    findings: tuple[Finding, ...]  # of the blank
    target: Path  # the output folder
    keeper: Keeper  # what is kept between runs


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Made:
    """The plaques of an order, made."""

    job: Job
    writer: CutFiles | None  # of the cut files, where there are any
    plaques: tuple[Plaque, ...]
    findings: tuple[Finding, ...]  # of the whole order
    faults: tuple[tuple[int, str], ...]


def run_order(
    order: str | Path,
    *,
    out: Path | None = None,
    rows: str | None = None,
    fresh: bool = False,
    prove: bool = False,
    files: bool = True,
    workers: int | None = None,
    progress: Progress = no_progress,
    clock: Clock = utc_now,
) -> Done:
    """Run an order. files = False is `plaques check`: the same run without cut files and proof. workers: how many
    processes make plaques, None for as many as pay; the results are the same for any number. clock: when the proof of a
    whole run was made, for the ledger.

    CannotRun when the order, the list, the drawing or a face cannot be used, before anything is written.
    """
    timers = Timers()
    only = read_rows(rows) if rows else None
    with timers.stage("read"):
        read = read_all(order, out, fresh=fresh)
        check_order(read.folder, read.blank)
        marks_of(read.folder, read.blank)
    with timers.stage("prepare"):
        ready = get_ready(read)
    _writable(read.target)
    make = Making(files=files, prove=prove, workers=workers, progress=progress)
    made = _make(read, ready, only, make, timers)
    ledger = Ledger.of(read.folder.folder)
    entries = sound(ledger)
    given, before = read.folder.order.proof.revision, left_before(read.target, entries) if files else ""
    revision = revision_of(made.plaques, entries, given, ledger.drawn, before)
    with timers.stage("shop floor"):
        stands = stand(made.plaques, entries, revision=revision.letter) if read.folder.order.board is not None else ()
        signed = {s.plaque.recipient.row: s.signed for s in stands}  # only boards tell
        shop, said = plan_shop(read.folder, read.blank, made.plaques, signed, read.keeper)
        read.keeper.save()
        made = replace(made, findings=(*made.findings, *said))
    outcome = outcome_of(read, made, entries)
    several = (sensible(len(read.listing.recipients)) if workers is None else workers) > 1
    while True:
        words = _papers(outcome, read, made, revision, shop, whole=only is None, several=several, timers=timers)
        if made.writer is None or only is not None:
            break
        kept = keep_proof(read.target, read.folder.folder, ledger, revision, entries, clock())
        if kept == "kept":
            break
        if kept == "moved":  # another run came between
            entries = sound(ledger)
            revision = revision_of(made.plaques, entries, given, ledger.drawn, before)
        else:  # the letter stands for another content than this
            revision = renamed(revision, entries, given, before)
    read.keeper.save()
    return Done(
        outcome=outcome,
        folder=read.folder,
        revision=revision,
        summary=words,
        exit_status=_exit_status(outcome),
        timers=tuple(timers.seconds.items()),
    )


def read_all(order: str | Path, out: Path | None = None, *, fresh: bool = False) -> Read:
    """Order, blank and list. fresh: nothing kept from earlier runs is used. CannotRun says what cannot be used."""
    keeper = Keeper(None if fresh else default_folder())
    folder = read_order(Path(order), faces=Shelf().names, cutters=shelf().keys())
    blank, said = read_blank(folder, keeper)
    return Read(
        folder=folder,
        blank=blank,
        listing=read_list(folder),
        findings=tuple(said),
        target=out or folder.folder / "out",
        keeper=keeper,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Ready:
    """An order prepared, with what is said of it as a whole and the size each line may have at most."""

    job: Job
    tops: tuple[float, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Making:
    """How plaques are to be made; by default set and checked only."""

    files: bool = False
    prove: bool = False
    workers: int | None = 1
    progress: Progress = no_progress


def get_ready(read: Read) -> Ready:
    """Everything that is done once an order. Sizes that hold for the whole order come from the whole list."""
    job = prepare(read.folder, read.blank, read.keeper)
    sizes, said = one_size(job, read.listing.recipients)
    tops = tuple(sizes.get(number, top) for number, top in enumerate(job.setter.tops, 1))
    return Ready(job=job, tops=tops, findings=(*read.findings, *job.findings, *said))


def _make(read: Read, ready: Ready, only: Rows | None, how: Making, timers: Timers) -> Made:
    """Every plaque set and checked, and what else is wanted. only: these rows."""
    chosen = _chosen(read.listing, only)
    writer = _writer(read) if how.files else None
    task = Task(
        folder=read.folder,
        blank=read.blank,
        target=read.target,
        kept=read.keeper.folder,
        tops=ready.tops,
        files=how.files,
        prove=how.files and how.prove,
    )
    done = make_all(task, ready.job, writer, chosen, workers=how.workers, timers=timers, progress=how.progress)
    said: tuple[Finding, ...] = ()
    if writer is not None:
        with timers.stage("cut files"):
            writer.finish(only is None)
        said = writer.findings
    read.keeper.save()
    read.keeper.clean()
    return Made(
        job=ready.job,
        writer=writer,
        plaques=tuple(done.plaques),
        findings=(*ready.findings, *said),
        faults=tuple(done.faults),
    )


def make_plaques(read: Read, only: Rows | None = None) -> Made:
    """Every plaque, or these rows, set and checked, with nothing written but what is kept."""
    return _make(read, get_ready(read), only, Making(), Timers())


def outcome_of(read: Read, made: Made, entries: Sequence[Entry]) -> Outcome:
    """What all outputs are made from. entries: the sign-off ledger's."""
    order = read.folder.order
    return Outcome(
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
    )


def look(order: str | Path, out: Path | None = None) -> Looked:
    """The order as it is now, with nothing written: for commands that hold it against the ledger."""
    read = read_all(order, out)
    made = make_plaques(read)
    outcome = outcome_of(read, made, sound(Ledger.of(read.folder.folder)))
    files = _writer(read)
    return Looked(folder=read.folder, outcome=outcome, target=read.target, made=files.made)


def _writer(read: Read) -> CutFiles:
    from pipeline.outputs.cut_file import CutFiles  # with the library of drawings: only what writes needs it

    return CutFiles(read.folder, read.blank, read.target, VERSION, read.keeper)


def _chosen(listing: ListRead, only: Rows | None) -> Sequence[Recipient]:
    if only is None:
        return listing.recipients
    chosen = [r for r in listing.recipients if r.row in only]
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
        clear_begun(target, _PAPERS_BEGUN)
    except OSError as error:
        raise CannotRun(
            Fault(
                where=str(target),
                found=f"nothing can be written here ({error.strerror or error})",
                expected="a folder for the results",
                remedy="choose another with --out",
            )
        ) from error


def _papers(
    outcome: Outcome,
    read: Read,
    made: Made,
    revision: Revision,
    shop: ShopPlan,
    *,
    whole: bool,
    several: bool,
    timers: Timers,
) -> str:
    """Check sheet and report; with cut files, proof and shop sheet too. Gives the summary. several: processes may be
    used."""
    folder, target, writer = read.folder, read.target, made.writer
    written = ["check.xlsx", "report.json"]
    if writer is None:
        with timers.stage("check sheet and report"):
            write_check_sheet(target / "check.xlsx", outcome, folder, revision)
            write_report(target / "report.json", outcome, folder, revision)
        return summary(outcome, folder.order.unit, where=_as_typed(target), written=written)
    from pipeline.outputs.proof import foreign_texts, write_proof
    from pipeline.outputs.shop import write_shop

    with ExitStack() as ends:
        with timers.stage("proof"):
            captions = made.job.captions(foreign_texts(outcome, folder.order))
            proof = (outcome, folder, target / "proof.pdf", revision, captions)
            aside = _aside(write_proof, *proof) if several else None
            if aside is None:
                write_proof(*proof)
            else:
                ends.enter_context(aside)
        with timers.stage("check sheet and report"):
            write_check_sheet(target / "check.xlsx", outcome, folder, revision)
            write_report(target / "report.json", outcome, folder, revision)
        with timers.stage("shop sheet"):
            papers, said = write_shop(outcome, folder, shop, target, writer, whole=whole)
        if aside is not None:
            with timers.stage("proof"):  # what is left of it when the others are done
                aside.end()
    cut = len({p.cut_file for p in outcome.plaques if p.cut_file})  # rows that read alike share one
    kinds = ", ".join(["DXF", *sorted({kind.upper() for kind in folder.order.files.also})])
    each = f", each as {kinds}" if folder.order.files.also else ""
    written = [f"cut/ ({cut} files{each})", "proof.pdf", *written, *papers]
    words = summary(outcome, folder.order.unit, where=_as_typed(target), written=written)
    return "\n".join([words, *said])


def _aside(do: Callable[..., object], *given: object) -> Aside | None:
    """Does it in a copy of this process; None where the platform has none."""
    from pipeline.workers import Aside, copies

    return Aside(do, *given) if copies() else None


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
