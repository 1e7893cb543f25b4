"""Several processes that make plaques: this one, and others beside it, which hand back text. Nothing depends on how
they were started, or on which of them makes which plaque.

A process that begins as a copy of this one (`fork`) has everything that is prepared here; one begun anew is given plain
frozen data and prepares the order for itself.
"""

from __future__ import annotations

import multiprocessing
import traceback
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping
from multiprocessing.connection import Connection, wait
from types import TracebackType
from typing import Any, NamedTuple

from pipeline.core.errors import CannotRun, WorkerDied
from pipeline.core.model import Recipient
from pipeline.core.plain import Plain
from pipeline.making import Finished, Maker, Task, Timers, same_everywhere

CHUNK = 8
"""Plaques handed to a process at a time, at most."""

START_METHOD: str | None = None
"""How processes are started; None: the platform's own way."""


class Handed(NamedTuple):
    """One plaque from another process: its text and those of the shared things it names, its files, a fault."""

    text: str
    texts: Mapping[str, str]
    hashes: Mapping[str, str]
    keeps: bool
    fault: str | None


def copies() -> bool:
    """Whether processes begin as copies of this one."""
    return str(_context().get_start_method()) == "fork"


def spread(
    task: Task, maker: Maker, recipients: Mapping[int, Recipient], count: int, timers: Timers
) -> Iterator[tuple[int, Finished | Handed]]:
    """The plaques as they are made, with their numbers, in no particular order: by this process with its maker, and by
    count - 1 others. timers: gets the others' seconds. CannotRun as one of them found it; WorkerDied when one is gone.
    """
    waiting = deque(recipients)
    with _Others(task, maker, recipients, count - 1) as others:
        while waiting:
            yield from others.turn(waiting)
            if waiting:
                k = waiting.popleft()
                yield k, maker.make(recipients[k])
                maker.job.keeper.share()
        yield from others.rest(timers)


class _Others:
    """The other processes. Each has two chunks ahead, so that it never waits for this one, which looks round only
    between plaques; towards the end chunks become small, so that all are done at about the same time."""

    def __init__(self, task: Task, maker: Maker, recipients: Mapping[int, Recipient], count: int) -> None:
        context, own = _context(), maker if copies() else None
        self._owed: dict[Connection, int] = {}  # plaques each was given and has not handed back
        self._processes = []
        for _ in range(count):
            ours, theirs = context.Pipe()
            self._owed[ours] = 0
            process = context.Process(target=_work, args=(theirs, [*self._owed], task, own, recipients), daemon=True)
            process.start()
            theirs.close()  # so that its end is seen here
            self._processes.append(process)

    def __enter__(self) -> _Others:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        for ours in self._owed:
            ours.close()  # whoever is still at work sees it with the next plaque
        for process in self._processes:
            process.join()

    def turn(self, waiting: deque[int]) -> Iterator[tuple[int, Handed]]:
        """What has come back by now. Whoever has little left to do is given more of what is waiting."""
        for ours in _ready(self._owed, 0):
            yield self._taken(ours)
        for ours in self._owed:
            size = max(1, min(CHUNK, len(waiting) // (4 * (len(self._owed) + 1))))
            while waiting and self._owed[ours] < 2 * size:
                chunk = [waiting.popleft() for _ in range(min(size, len(waiting)))]
                _send(ours, chunk)
                self._owed[ours] += len(chunk)

    def rest(self, timers: Timers) -> Iterator[tuple[int, Handed]]:
        """What is still owed."""
        for ours in self._owed:
            _send(ours, [])
        while any(self._owed.values()):
            for ours in _ready((ours for ours, owed in self._owed.items() if owed), None):
                yield self._taken(ours)
        for ours in self._owed:
            timers.add(_received(ours))

    def _taken(self, ours: Connection) -> tuple[int, Handed]:
        number, handed = _received(ours)
        self._owed[ours] -= 1
        return number, handed


class Aside:
    """One thing done meanwhile, by a copy of this process, for as long as the `with` lasts."""

    def __init__(self, do: Callable[..., Any], *given: Any) -> None:
        context = multiprocessing.get_context("fork")
        self._ours, theirs = context.Pipe()
        self._process = context.Process(target=_aside, args=(theirs, self._ours, do, given), daemon=True)
        self._process.start()
        theirs.close()

    def __enter__(self) -> Aside:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self._ours.close()
        self._process.join()

    def end(self) -> None:
        """Waits until it is done. Raises what it raised; WorkerDied when the process is gone."""
        _received(self._ours, "drawing a paper", "The papers are not all of this run")


def _context() -> Any:
    return multiprocessing.get_context(START_METHOD)


def _ready(those: Iterable[Connection], seconds: float | None) -> list[Connection]:
    """Those from which something can be taken, within so many seconds."""
    return [found for found in wait([*those], seconds) if isinstance(found, Connection)]


def _send(to: Connection, chunk: list[int]) -> None:
    try:
        to.send(chunk)
    except OSError as error:
        raise _died() from error


def _received(ours: Connection, *what: str) -> Any:
    try:
        found = ours.recv()
    except (EOFError, OSError) as error:
        raise _died(*what) from error
    if isinstance(found, BaseException):
        raise found
    return found


def _died(what: str = "making plaques", papers: str = "No papers were written") -> WorkerDied:
    return WorkerDied(
        f"a process that was {what} is gone: it was ended from outside, or ran out of memory. {papers}; every file "
        "written so far is whole. Run again, with --workers 1 if it happens again"
    )


# --- inside another process ------------------------------------------------------------------------------------------


def _work(
    own: Connection, others: list[Connection], task: Task, maker: Maker | None, recipients: Mapping[int, Recipient]
) -> None:
    for connection in others:
        connection.close()  # so that the end of the process that began this one is seen here

    def work() -> Any:
        made_by = maker or Maker(task)
        plain = Plain(same_everywhere(task), lambda name: None)
        while chunk := own.recv():
            for number in chunk:
                finished = made_by.make(recipients[number])
                text = plain.write(finished.plaque)
                texts, plain.texts = plain.texts, {}
                hashes = made_by.hashes(finished.plaque)
                own.send((number, Handed(text, texts, hashes, finished.keeps, finished.fault)))
                made_by.job.keeper.share()
        made_by.job.keep()
        return made_by.timers.seconds

    _answer(own, work)


def _aside(own: Connection, theirs: Connection, do: Callable[..., Any], given: tuple[Any, ...]) -> None:
    theirs.close()
    _answer(own, lambda: do(*given))


def _answer(own: Connection, do: Callable[[], Any]) -> None:
    """Sends what it gives, or what it raises. Says nothing when nobody is there to hear it."""
    try:
        try:
            answer = do()
        except (CannotRun, EOFError, ConnectionError):
            raise
        except Exception:
            answer = RuntimeError(traceback.format_exc())
        own.send(answer)
    except CannotRun as error:
        own.send(error)
    except (EOFError, ConnectionError, KeyboardInterrupt):
        pass
