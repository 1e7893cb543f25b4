"""Makes many plaques: prepares once, takes unchanged plaques from the cache, and makes the others in one loop, in this
process or in several. Each is set, checked, written, read back and proved. Nothing depends on which process makes which
plaque.
"""

from __future__ import annotations

import os
import traceback
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline import VERSION
from pipeline.advice import Advisor
from pipeline.artwork.client_artwork import ClientArtwork
from pipeline.core.catalogue import tool_kinds
from pipeline.core.config.order import OrderFolder
from pipeline.core.environment.timers import Timers
from pipeline.core.errors import CannotRun
from pipeline.core.findings import Finding, build_finding
from pipeline.core.list_row import ListRow
from pipeline.core.model import Blank, LineMeasure, Plaque, PolicySizes, Recipient, SetFigure, SetLine, Shape, hold_back
from pipeline.core.short_codes import hash_values
from pipeline.core.storage.cache import Cache
from pipeline.core.storage.codec import SharedParts, decode_text, encode_text
from pipeline.geometry.offset import OffsetOutline
from pipeline.job import Job, find_common_sizes, prepare
from pipeline.order_inputs import OrderInputs

if TYPE_CHECKING:
    from pipeline.outputs.cut_files.cut_files import CutFiles

PAYS = 75
"""Least number of plaques per process: each further process has to prepare the letters as well, which takes as long as
about fifty plaques in a roman typeface."""

CHUNK = 8
"""Plaques handed to a process at a time, at most."""

FLUSHED = 200
"""Plaques made before the cache is flushed."""

Progress = Callable[[str, int, int], None]
"""Called with what is being done, how many are done, and of how many."""


def ignore_progress(what: str, done: int, of: int) -> None:
    """Say nothing."""


def choose_workers(plaques: int) -> int:
    """Return the number of processes that pays for this many plaques."""
    affinity = getattr(os, "sched_getaffinity", None)
    cores = len(affinity(0)) if affinity else os.cpu_count() or 1
    return max(1, min(cores, plaques // PAYS))


# --- one plaque -------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BatchTask:
    """Everything the plaques of a run are made from, apart from recipients, font files and the tool itself: plain
    frozen data that can be passed to any process. It is part of the cache key, except for the paths of folders."""

    folder: OrderFolder
    blank: Blank
    client: ClientArtwork  # the client's drawings
    tops: tuple[float, ...]  # the largest cap height allowed for each line, mm
    files: bool  # write cut files and verify them
    prove: bool  # simulate the cut along them
    target: Path  # the output folder
    kept: Path | None  # the cache folder


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FinishedPlaque:
    """One plaque after all stages."""

    plaque: Plaque
    hashes: Mapping[str, str]  # sha256 of the plaque's files, by name in their folder
    fault: str | None = None  # traceback of an internal error


class PlaqueMaker:
    """Makes the plaques of one task, one at a time. An exception in one doesn't stop the others."""

    def __init__(self, task: BatchTask, job: Job | None = None, writer: CutFiles | None = None) -> None:
        """job, writer: where this process has them already."""
        self.job = job or prepare(task.folder, task.blank, Cache(task.kept), task.client)
        self.job.setter.tops[:] = task.tops
        self.advisor = Advisor(self.job)
        self.timers = Timers()
        self.writer = writer
        if task.files and writer is None:
            from pipeline.outputs.cut_files.cut_files import (
                CutFiles,  # imports the drawing library, so only when files are written
            )

            self.writer = CutFiles(task.folder, task.blank, task.target, VERSION, self.job.cache)
            self.writer.join()
        self._sweep = None
        if task.prove and self.writer is not None:
            from pipeline.outputs.cut_files.simulated_files import SimulatedCutFiles

            self._sweep = SimulatedCutFiles(self.job.cutter, self.writer, task.target)

    def make(self, recipient: Recipient) -> FinishedPlaque:
        """Take one plaque through all stages. CannotRun where nothing can be written."""
        try:
            with self.timers.time_stage("set and check"):
                plaque = self.job.make_plaque(recipient)
            with self.timers.time_stage("advice"):
                plaque = self.advisor.advise(plaque)
            if self.writer is not None:
                with self.timers.time_stage("cut files"):
                    plaque = self.writer.make(plaque)
            if self._sweep is not None:
                with self.timers.time_stage("simulated cut"):
                    plaque = self._sweep.simulate(plaque)
        except CannotRun:
            raise
        except Exception:
            trace = traceback.format_exc()
            return FinishedPlaque(plaque=_build_faulty(recipient, trace.splitlines()[-1]), hashes={}, fault=trace)
        return FinishedPlaque(plaque=plaque, hashes={} if self.writer is None else self.writer.hash_files(plaque))


def _build_faulty(recipient: Recipient, error: str) -> Plaque:
    found = build_finding(tool_kinds.FAULT, row=recipient.row, cell=recipient.cell, facts={"error": error})
    return Plaque(recipient=recipient, text=(), artwork=None, findings=(*recipient.findings, found))


# --- plaques as text --------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Written:
    """A plaque and its files, as they are cached and passed between processes."""

    files: tuple[tuple[str, str], ...]  # name, sha256
    plaque: Plaque


def _build_parts(find: Callable[[str], str | None]) -> SharedParts:
    """Return the shared parts: letters are written once, and equal lines on many plaques are one object."""
    in_place = (SetLine, SetFigure, LineMeasure, PolicySizes)
    return SharedParts(by_name=(Shape, OffsetOutline), in_place=in_place, find=find)


def _write_text(finished: FinishedPlaque, parts: SharedParts) -> str:
    return encode_text(_Written, _Written(files=tuple(finished.hashes.items()), plaque=finished.plaque), parts)


class PlaqueCache:
    """Caches the plaques of one task, each under the key of everything it was made from. Only plaques that nothing
    stops are cached, and they are used only while their files are as they were written."""

    def __init__(self, task: BatchTask, job: Job) -> None:
        self._cache = job.cache
        self.parts = _build_parts(lambda name: self._cache.get_text("letters", name))
        self._given = hash_values([job.compute_key(), [*task.tops], [task.files, task.prove]])
        self._puts = 0

    def build_key(self, recipient: Recipient) -> Any:
        """Return the key: everything the recipient's plaque is made from."""
        return [self._given, encode_text(Recipient, recipient)]

    def get(self, recipient: Recipient, writer: CutFiles | None) -> Plaque | None:
        """Return the cached plaque; None when there is none, or its files have changed."""
        found = self._cache.get("plaque", self.build_key(recipient), _Written, self.parts)
        if found is None or (writer is not None and not writer.holds(dict(found.files))):
            return None
        plaque: Plaque = found.plaque
        if writer is not None:
            writer.adopt(plaque)
        return plaque

    def put(self, recipient: Recipient, text: str) -> None:
        """Keep a plaque, written with `parts`."""
        for name, part in self.parts.new.items():
            self._cache.put_text("letters", name, part)
        self.parts.new.clear()
        self._cache.put_text("plaque", self.build_key(recipient), text)
        self._puts += 1
        if self._puts % FLUSHED == 0:
            self._cache.flush()


# --- all of them ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Batch:
    """The plaques of a run in the order of the list."""

    job: Job
    plaques: tuple[Plaque, ...]
    findings: tuple[Finding, ...]  # of the whole order
    stops: tuple[Finding, ...] = ()  # those of them that stop every plaque
    faults: tuple[tuple[ListRow, str], ...] = ()  # internal errors: row, traceback

    def add_findings(self, found: Iterable[Finding]) -> Batch:
        """Return the batch with further findings of the whole order, none of its stops twice."""
        return replace(self, findings=(*self.findings, *(f for f in found if f not in self.stops)))

    def hold_back(self, stops: tuple[Finding, ...]) -> Batch:
        """Return the batch with every plaque stopped by these."""
        return replace(
            self,
            plaques=tuple(hold_back(p, stops) for p in self.plaques),
            findings=(*self.findings, *stops),
            stops=(*self.stops, *stops),
        )


def prepare_job(read: OrderInputs) -> Job:
    """Do everything that is done once an order. Sizes that hold for the whole order come from the whole list,
    or from pieces that are cut already. CannotRun when a typeface or the cutter can't be used."""
    job = prepare(read.folder, read.blank, read.cache, read.client)
    sizes, said = find_common_sizes(job, read.listing.recipients)
    held = dict(read.sizes_cut)
    sizes |= held
    said = tuple(f for f in said if f.line not in held)
    job.setter.tops[:] = [sizes.get(number, top) for number, top in enumerate(job.setter.tops, 1)]
    job.findings = (*read.findings, *job.findings, *said)
    return job


def make_batch(
    job: Job,
    read: OrderInputs,
    cut_files: CutFiles | None = None,
    *,
    stops: tuple[Finding, ...] = (),
    prove: bool = False,
    workers: int | None = 1,
    timers: Timers | None = None,
    progress: Progress = ignore_progress,
) -> Batch:
    """Make every plaque asked for, or take it from the cache. cut_files: those to be filled; None: plaques are only set
    and checked. stops: what stops the whole order: then no file is written. prove: simulate the cut of each file.
    workers: how many processes make plaques; None: as many as help.

    CannotRun where nothing can be written; `WorkerDied` when a process of the run was ended from outside.
    """
    writer = None if stops else cut_files
    task = BatchTask(
        folder=read.folder,
        blank=read.blank,
        client=read.client,
        tops=tuple(job.setter.tops),
        files=writer is not None,
        prove=writer is not None and prove,
        target=read.target,
        kept=read.cache.folder,
    )
    plaques, faults = _make_plaques(task, job, writer, read.chosen, workers, timers or Timers(), progress)
    batch = Batch(
        job=job,
        plaques=plaques,
        findings=(*job.findings, *(() if cut_files is None else cut_files.findings)),
        faults=faults,
    )
    return batch.hold_back(stops) if stops else batch


def _make_plaques(
    task: BatchTask,
    job: Job,
    writer: CutFiles | None,
    recipients: Sequence[Recipient],
    workers: int | None,
    timers: Timers,
    progress: Progress,
) -> tuple[tuple[Plaque, ...], tuple[tuple[ListRow, str], ...]]:
    """The plaques, and the faults of the tool (row, traceback)."""
    kept = PlaqueCache(task, job)
    with timers.time_stage("kept plaques"):
        found = [kept.get(recipient, writer) for recipient in recipients]
    missing = [k for k, plaque in enumerate(found) if plaque is None]
    faults: list[tuple[ListRow, str]] = []
    count = choose_workers(len(missing)) if workers is None else min(workers, len(missing))
    try:
        made = _make_in_processes if count > 1 else _make_in_this_process
        each = made(task, job, writer, [recipients[k] for k in missing], count, timers, kept)
        for done, (k, (plaque, fault)) in enumerate(zip(missing, each, strict=True), len(found) - len(missing) + 1):
            found[k] = plaque
            if fault is not None:
                faults.append((plaque.recipient.row, fault))
            progress("plaques made", done, len(recipients))
    finally:
        job.cache.flush()  # keep what was computed, even when the run is interrupted
    return tuple(plaque for plaque in found if plaque is not None), tuple(faults)


_Made = Iterator[tuple[Plaque, str | None]]
"""Plaques with the fault of the tool in each, one after another."""


def _make_in_this_process(
    task: BatchTask,
    job: Job,
    writer: CutFiles | None,
    recipients: Sequence[Recipient],
    count: int,
    timers: Timers,
    kept: PlaqueCache,
) -> _Made:
    maker = PlaqueMaker(task, job, writer)
    for recipient in recipients:
        finished = maker.make(recipient)
        if task.kept is not None and _may_be_cached(finished.plaque, finished.fault):
            kept.put(recipient, _write_text(finished, kept.parts))
        timers.add(maker.timers.take_seconds())
        yield finished.plaque, finished.fault


def _may_be_cached(plaque: Plaque, fault: str | None) -> bool:
    """Return whether a plaque may be cached. A stopped or failed one is made again every time: that costs little, and
    it is soon put right."""
    return fault is None and plaque.state != "stopped"


# --- in several processes ---------------------------------------------------------------------------------------------


def _make_in_processes(
    task: BatchTask,
    job: Job,
    writer: CutFiles | None,
    recipients: Sequence[Recipient],
    count: int,
    timers: Timers,
    kept: PlaqueCache,
) -> _Made:
    from pipeline.core.environment.processes import (  # imports multiprocessing, so only when it is used
        can_fork,
        open_process_pool,
    )

    job.cache.flush()
    maker = PlaqueMaker(task, job, writer) if can_fork() else None
    size = max(1, min(CHUNK, len(recipients) // (4 * count)))
    chunks = [recipients[k : k + size] for k in range(0, len(recipients), size)]
    with open_process_pool(count, _begin, (task, maker)) as pool:
        for chunk, handed in zip(chunks, pool.map(_make_chunk, chunks), strict=True):
            timers.add(handed.seconds)
            kept.parts.new.update(handed.parts)
            for recipient, (text, fault) in zip(chunk, handed.plaques, strict=True):
                found = decode_text(_Written, text, kept.parts)
                if writer is not None:
                    writer.adopt(found.plaque, dict(found.files))
                if task.kept is not None and _may_be_cached(found.plaque, fault):
                    kept.put(recipient, text)
                yield found.plaque, fault


@dataclass(frozen=True, slots=True, kw_only=True)
class _ChunkResult:
    """What a process returns for a chunk: the text and fault of each plaque, parts by name, seconds by stage."""

    plaques: tuple[tuple[str, str | None], ...]
    parts: Mapping[str, str]
    seconds: Mapping[str, float]


_maker: PlaqueMaker
_handing: SharedParts


def _begin(task: BatchTask, maker: PlaqueMaker | None) -> None:
    global _maker, _handing
    _maker, _handing = maker or PlaqueMaker(task), _build_parts(lambda name: None)
    _maker.timers.take_seconds()


def _make_chunk(recipients: Sequence[Recipient]) -> _ChunkResult:
    plaques = []
    for recipient in recipients:
        finished = _maker.make(recipient)
        plaques.append((_write_text(finished, _handing), finished.fault))
    parts, _handing.new = _handing.new, {}
    _maker.job.cache.flush()
    return _ChunkResult(plaques=tuple(plaques), parts=parts, seconds=_maker.timers.take_seconds())
