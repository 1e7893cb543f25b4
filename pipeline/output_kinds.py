"""What a run writes into its output folder.

One entry of `OUTPUTS` is all there is to an output: when it is written, by what, and what reads it back for the
accounts. The order is that of the summary.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline import accounts
from pipeline.core.config.order import OrderFolder
from pipeline.core.environment.timers import Timers
from pipeline.core.model import Outcome, ShapedRow
from pipeline.outputs.report import write_report
from pipeline.outputs.revision import Revision
from pipeline.outputs.workbooks.check_sheet import write_check_sheet
from pipeline.shopfloor.shop_plan import ShopPlan

if TYPE_CHECKING:
    from pipeline.core.environment.processes import BackgroundTask
    from pipeline.outputs.cut_files.cut_files import CutFiles


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RunContents:
    """The contents from which outputs are written."""

    outcome: Outcome
    folder: OrderFolder
    revision: Revision
    target: Path  # the output folder
    shop: ShopPlan
    cut_files: CutFiles | None  # None for a check
    captions: Callable[[Iterable[str]], Mapping[str, ShapedRow]]  # shapes texts in a typeface that covers them

    def require_cut_files(self) -> CutFiles:
        """Return the cut files. ValueError where the run only checks."""
        if self.cut_files is None:
            raise ValueError("a run that only checks has no cut files")
        return self.cut_files


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenOutput:
    """What the summary says of an output. names: what was written; said: of what was not, a sentence each."""

    names: tuple[str, ...] = ()
    said: tuple[str, ...] = ()


Account = Callable[[Outcome, Revision, Path], Iterable[str]]
"""(outcome, revision, output folder) → what is missing or too much, a sentence each. It reads what lies on the disk."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OutputKind:
    """One output of a run."""

    stage: str
    """Its name among the timed stages."""
    write: Callable[[RunContents], WrittenOutput]
    """Writes it. CannotRun where it can't be written."""
    account: Account
    """Reads it back."""
    when_checking: bool = False
    """`plaques check` writes it too."""
    apart: bool = False
    """Slow enough to be worth a separate process while the others are written."""
    files: str = ""
    """Regular expression of its files directly in the output folder: a new run clears away those half written."""


def _write_cut_files(run: RunContents) -> WrittenOutput:
    """Close the folder that was filled plaque by plaque, see `pipeline.batch`."""
    run.require_cut_files().finish()
    cut = len({p.cut_file for p in run.outcome.plaques if p.cut_file})  # plaques with the same lettering share a file
    also = run.folder.order.files.also
    each = f", each as {', '.join(['DXF', *sorted({kind.upper() for kind in also})])}" if also else ""
    return WrittenOutput(names=(f"cut/ ({cut} file{'' if cut == 1 else 's'}{each})",) if cut else ())


def _write_proof(run: RunContents) -> WrittenOutput:
    from pipeline.outputs.proof.proof import list_foreign_texts, withdraw_proofs, write_proofs

    if run.outcome.proof_held:
        withdraw_proofs(run.target)
        return WrittenOutput()
    captions = run.captions(list_foreign_texts(run.outcome, run.folder.order))
    names = write_proofs(run.outcome, run.folder, run.target, run.revision, captions)
    # of many volumes only the first and the last are named
    return WrittenOutput(names=names if len(names) < 4 else (f"{names[0]} … {names[-1]} ({len(names)} volumes)",))


def _write_check_sheet(run: RunContents) -> WrittenOutput:
    write_check_sheet(run.target / accounts.CHECK, run.outcome, run.folder, run.revision)
    return WrittenOutput(names=(accounts.CHECK,))


def _write_report(run: RunContents) -> WrittenOutput:
    write_report(run.target / accounts.REPORT, run.outcome, run.folder, run.revision)
    return WrittenOutput(names=(accounts.REPORT,))


def _write_shop_sheet(run: RunContents) -> WrittenOutput:
    from pipeline.outputs.shop_sheet.shop_papers import write_sheet_unless_stopped

    names, said = write_sheet_unless_stopped(run.outcome.left_to_make, run.folder, run.shop, run.target)
    return WrittenOutput(names=names, said=said)


def _write_boards(run: RunContents) -> WrittenOutput:
    from pipeline.outputs.shop_sheet.shop_papers import write_boards

    names, said = write_boards(run.outcome.left_to_make, run.folder, run.shop, run.target, run.require_cut_files())
    return WrittenOutput(names=names, said=said)


def _write_jigs(run: RunContents) -> WrittenOutput:
    from pipeline.outputs.shop_sheet.shop_papers import write_jigs

    names, said = write_jigs(run.outcome.left_to_make, run.folder, run.shop, run.target, run.require_cut_files())
    return WrittenOutput(names=names, said=said)


OUTPUTS: tuple[OutputKind, ...] = (
    OutputKind(stage="cut files", write=_write_cut_files, account=accounts.check_cut_files),
    OutputKind(
        stage="proof",
        write=_write_proof,
        account=accounts.check_proof_cards,
        apart=True,
        files=r"proof(?:-\d+)?\.pdf",
    ),
    OutputKind(
        stage="check sheet and report",
        write=_write_check_sheet,
        account=accounts.check_sheet_lines,
        when_checking=True,
        files=r"check\.xlsx",
    ),
    OutputKind(
        stage="check sheet and report",
        write=_write_report,
        account=accounts.check_report_lines,
        when_checking=True,
        files=r"report\.json",
    ),
    OutputKind(
        stage="shop sheet",
        write=_write_shop_sheet,
        account=lambda outcome, revision, target: (),  # every piece in it is in another output too
        files=r"shop\.pdf",
    ),
    OutputKind(stage="shop sheet", write=_write_boards, account=accounts.check_board_pieces),
    OutputKind(stage="shop sheet", write=_write_jigs, account=accounts.check_jig_pieces),
)

UNFINISHED = re.compile(rf"\.(?:{'|'.join(kind.files for kind in OUTPUTS if kind.files)})\.(\d+)\.part")
"""Files begun by a run that was killed; the group is the number of its process."""


def write_outputs(run: RunContents, timers: Timers, *, several: bool) -> WrittenOutput:
    """Write every output of a run, and say what was written. several: processes may be used. CannotRun where one can't
    be written; `WorkerDied` when a process was ended from outside."""
    kinds = _list_kinds(checking=run.cut_files is None)
    written: dict[int, WrittenOutput] = {}
    with ExitStack() as ends:
        apart = {}
        for number, kind in enumerate(kinds):
            with timers.time_stage(kind.stage):
                task = _begin_apart(kind, run) if kind.apart and several else None
                if task is None:
                    written[number] = kind.write(run)
                else:
                    apart[number] = ends.enter_context(task)
        for number, task in apart.items():
            with timers.time_stage(kinds[number].stage):  # waits only for what is left when the others are done
                written[number] = task.end()
    found = [written[number] for number in range(len(kinds))]
    return WrittenOutput(
        names=tuple(name for each in found for name in each.names),
        said=tuple(text for each in found for text in each.said),
    )


def _begin_apart(kind: OutputKind, run: RunContents) -> BackgroundTask | None:
    """Return what writes it in a copy of this process; None where the platform has none."""
    from pipeline.core.environment.processes import (  # imports multiprocessing, so only when it is used
        BackgroundTask,
        can_fork,
    )

    return BackgroundTask(kind.write, run) if can_fork() else None


def check_accounts(outcome: Outcome, revision: Revision, target: Path, *, files: bool) -> tuple[str, ...]:
    """Return what is missing or too much, each in a sentence; nothing when the accounts hold. target: the output
    folder. files: whether the run wrote cut files and what goes with them, or only checked."""
    faults = accounts.check_list_rows(outcome)
    for kind in _list_kinds(checking=not files):
        faults += kind.account(outcome, revision, target)
    return tuple(faults)


def _list_kinds(*, checking: bool) -> tuple[OutputKind, ...]:
    return tuple(kind for kind in OUTPUTS if kind.when_checking or not checking)
