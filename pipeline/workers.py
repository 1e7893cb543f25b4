"""Several processes that make plaques. Each is given plain frozen data, prepares the order for itself, and hands back
text; nothing depends on how the processes were started, or on which of them makes which plaque.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import traceback
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from multiprocessing.connection import Connection
from typing import Any

from pipeline.core.errors import WorkerDied
from pipeline.core.model import Recipient
from pipeline.core.plain import Plain
from pipeline.making import Maker, Task, Timers, same_everywhere

PAYS = 150
"""Plaques for each process from which on it pays: starting one costs about as much as making this many."""

CHUNK = 25
"""Plaques handed to a process at a time, at most."""

START_METHOD: str | None = None
"""How processes are started; None: the platform's own way."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Handed:
    """One plaque from a process: its text and those of the shared things it names, its files, a fault."""

    text: str
    texts: Mapping[str, str]
    hashes: Mapping[str, str]
    keeps: bool
    fault: str | None


def sensible(plaques: int) -> int:
    """How many processes pay for so many plaques that have to be made."""
    affinity = getattr(os, "sched_getaffinity", None)
    cores = len(affinity(0)) if affinity else os.cpu_count() or 1
    return max(1, min(cores, plaques // PAYS))


def spread(
    task: Task, plain: Plain, recipients: Mapping[int, Recipient], count: int, timers: Timers
) -> Iterator[tuple[int, Handed]]:
    """The plaques as they are made, with their numbers, in no particular order. timers: gets the seconds of all
    processes together. CannotRun as one of them found it; WorkerDied when one is gone.
    """
    size = max(1, min(CHUNK, -(-len(recipients) // (4 * count))))
    items = list(recipients.items())
    chunks = [items[k : k + size] for k in range(0, len(items), size)]
    context = multiprocessing.get_context(START_METHOD)
    pool = ProcessPoolExecutor(count, mp_context=context, initializer=_begin, initargs=(task,))
    try:
        waiting: set[Future[tuple[list[tuple[int, Handed]], dict[str, float]]]]
        waiting = {pool.submit(_make, chunk) for chunk in chunks}
        while waiting:
            done, waiting = wait(waiting, return_when=FIRST_COMPLETED)
            for future in done:
                made, seconds = future.result()
                timers.add(seconds)
                yield from made
    except BrokenProcessPool as error:
        raise _died("making plaques", "No papers were written") from error
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


class Aside:
    """One thing done meanwhile, in a process of its own. It is begun anew and not as a copy of this one, all of whose
    memory it would hold too; that takes a moment, so it is begun early."""

    def __init__(self, what: str, ready: Callable[[], Any]) -> None:
        """what: for the message when the process is gone. ready: done there at once, to load what takes time."""
        self._what = what
        self._begun = False
        context: Any = multiprocessing.get_context(START_METHOD or "spawn")
        self._ours: Connection
        self._ours, theirs = context.Pipe()
        self._process = context.Process(target=_aside, args=(self._ours, theirs, ready), daemon=True)
        self._process.start()
        theirs.close()  # so that its end is seen here

    def begin(self, do: Callable[..., Any], *given: Any) -> None:
        """Begins it. What is given is plain frozen data."""
        try:
            self._ours.send((do, given))
        except OSError as error:
            raise _died(self._what, _NOT_ALL) from error
        self._begun = True

    def end(self) -> None:
        """Waits for what was begun. Raises what it raised; WorkerDied when the process is gone."""
        if not self._begun:
            return
        self._begun = False
        try:
            error = self._ours.recv()
        except (EOFError, OSError) as gone:
            raise _died(self._what, _NOT_ALL) from gone
        if error is not None:
            raise error

    def close(self) -> None:
        """Ends the process, once what was begun is done."""
        self._ours.close()
        self._process.join()


_NOT_ALL = "The papers are not all of this run"


def _died(what: str, papers: str) -> WorkerDied:
    return WorkerDied(
        f"a process that was {what} is gone: it was ended from outside, or ran out of memory. {papers}; every file "
        "written so far is whole. Run again, with --workers 1 if it happens again"
    )


# --- inside a process ------------------------------------------------------------------------------------------------

_task: Task | None = None
_maker: Maker | None = None
_plain: Plain | None = None


def _begin(task: Task) -> None:
    global _task, _maker, _plain
    _task, _maker, _plain = task, None, None


def _make(chunk: Sequence[tuple[int, Recipient]]) -> tuple[list[tuple[int, Handed]], dict[str, float]]:
    global _maker, _plain
    assert _task is not None
    if _maker is None or _plain is None:
        _maker, _plain = Maker(_task), Plain(same_everywhere(_task), lambda name: None)
    out = []
    for number, recipient in chunk:
        finished = _maker.make(recipient)
        text = _plain.write(finished.plaque)
        texts, _plain.texts = _plain.texts, {}
        handed = Handed(
            text=text,
            texts=texts,
            hashes=_maker.hashes(finished.plaque),
            keeps=finished.keeps,
            fault=finished.fault,
        )
        out.append((number, handed))
    _maker.job.keep()
    seconds, _maker.timers.seconds = _maker.timers.seconds, {}
    return out, seconds


def _aside(theirs_there: Connection, own: Connection, ready: Callable[[], Any]) -> None:
    theirs_there.close()  # so that the end of the process that began this one is seen here
    with contextlib.suppress(EOFError, OSError, KeyboardInterrupt):
        ready()
        do, given = own.recv()
        try:
            do(*given)
        except Exception as error:
            error.add_note(traceback.format_exc())
            own.send(error)
        else:
            own.send(None)
