"""The making of plaques: each set, checked, written and proved."""

from __future__ import annotations

import os
import time
import traceback
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline import VERSION
from pipeline.advising import Advisor
from pipeline.core.catalogue import files as file_kinds
from pipeline.core.catalogue import tool as tool_kinds
from pipeline.core.errors import CannotRun
from pipeline.core.findings import find
from pipeline.core.kept import Keeper
from pipeline.core.model import Blank, Plaque, Recipient
from pipeline.core.order import OrderFolder
from pipeline.job import Job, prepare

if TYPE_CHECKING:
    from pipeline.outputs.cut_file import CutFiles

PAYS = 75
"""Plaques for each process from which on it pays: a further one has the letters to get ready too, which takes about as
long as fifty plaques of a roman face."""

Progress = Callable[[str, int, int], None]
"""Told what is being done, how many are done, of how many."""


def sensible(plaques: int) -> int:
    """How many processes pay for so many plaques that have to be made."""
    affinity = getattr(os, "sched_getaffinity", None)
    cores = len(affinity(0)) if affinity else os.cpu_count() or 1
    return max(1, min(cores, plaques // PAYS))


class Timers:
    """How long each stage took, seconds; nothing else in a run reads a clock."""

    def __init__(self) -> None:
        self.seconds: dict[str, float] = {}

    @contextmanager
    def stage(self, name: str) -> Iterator[None]:
        start = time.perf_counter()
        try:
            yield
        finally:
            self.add({name: time.perf_counter() - start})

    def add(self, seconds: Mapping[str, float]) -> None:
        for name, more in seconds.items():
            self.seconds[name] = self.seconds.get(name, 0.0) + more


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Task:
    """What is to be done with every plaque: plain frozen data that any process can be given."""

    folder: OrderFolder
    blank: Blank
    target: Path  # the output folder
    kept: Path | None  # the folder of what is kept between runs
    tops: tuple[float, ...]  # cap height each line may have at most, mm
    files: bool  # write and prove cut files
    prove: bool  # sweep the cutter along them


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Finished:
    """One plaque after everything."""

    plaque: Plaque
    fault: str | None = None  # traceback of a fault of the tool

    @property
    def keeps(self) -> bool:
        """Whether it may be kept: a fault, or a file that did not come back as it was written, may not happen again."""
        return self.fault is None and all(f.code != file_kinds.READ_BACK_DIFFERS.code for f in self.plaque.findings)


class Maker:
    """Makes the plaques of one task, one at a time. A fault of ours in one does not stop the others."""

    def __init__(self, task: Task, job: Job | None = None, writer: CutFiles | None = None) -> None:
        """job, writer: where this process has them already."""
        self.job = job or prepare(task.folder, task.blank, Keeper(task.kept))
        self.job.setter.tops[:] = task.tops
        self.advisor = Advisor(self.job)
        self.timers = Timers()
        self.writer = writer
        if task.files and writer is None:
            from pipeline.outputs.cut_file import CutFiles  # with the library of drawings: only what writes needs it

            self.writer = CutFiles(task.folder, task.blank, task.target, VERSION, self.job.keeper)
            self.writer.join()
        self._sweep = None
        if task.prove and self.writer is not None:
            from pipeline.outputs.simulated import Simulated

            self._sweep = Simulated(self.job.cutter, self.writer, task.target)

    def make(self, recipient: Recipient) -> Finished:
        """One plaque, through all stages. CannotRun where nothing can be written."""
        try:
            with self.timers.stage("set and check"):
                plaque = self.job.plaque(recipient)
            with self.timers.stage("advice"):
                plaque = self.advisor.advised(plaque)
            if self.writer is not None:
                with self.timers.stage("cut files"):
                    plaque = self.writer.make(plaque)
            if self._sweep is not None:
                with self.timers.stage("simulated cut"):
                    plaque = self._sweep.of(plaque)
        except CannotRun:
            raise
        except Exception:
            trace = traceback.format_exc()
            return Finished(plaque=_faulty(recipient, trace.splitlines()[-1]), fault=trace)
        return Finished(plaque=plaque)

    def hashes(self, plaque: Plaque) -> dict[str, str]:
        """Of the plaque's files, by name in their folder."""
        return {} if self.writer is None else self.writer.hashes(plaque)


def _faulty(recipient: Recipient, error: str) -> Plaque:
    found = find(tool_kinds.FAULT, row=recipient.row, cell=recipient.cell, facts={"error": error})
    return Plaque(recipient=recipient, text=(), artwork=None, findings=(*recipient.findings, found))


def same_everywhere(task: Task) -> list[int]:
    """Numbers of the lines that say the same on every plaque."""
    return sorted(task.folder.order.fixed_lines)
