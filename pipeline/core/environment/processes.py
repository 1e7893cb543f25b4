"""Child processes, by the standard library. They end when this one does, however it ends."""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from typing import Any

from pipeline.core.errors import WorkerDied


def can_fork() -> bool:
    """Return whether processes are forked: they then share everything that is prepared here."""
    return multiprocessing.get_start_method() == "fork"


@contextmanager
def open_process_pool(count: int, begin: Callable[..., None], given: tuple[Any, ...]) -> Iterator[ProcessPoolExecutor]:
    """Open a pool of `count` processes for making plaques. begin: the initializer of each, with its arguments.
    WorkerDied when one of them dies."""
    with _open_pool(count, None, begin, given, "making plaques", "No papers were written") as pool:
        yield pool


class BackgroundTask:
    """A paper drawn in the background by a fork of this process, for as long as the `with` lasts."""

    def __init__(self, do: Callable[..., object], *given: object) -> None:
        self._pool = _open_pool(
            1, "fork", _hold_task, (do, given), "drawing a paper", "The papers are not all of this run"
        )

    def __enter__(self) -> BackgroundTask:
        self._future = self._pool.__enter__().submit(_do_held)
        return self

    def __exit__(self, *problem: Any) -> bool | None:
        return self._pool.__exit__(*problem)

    def end(self) -> Any:
        """Wait until it is done; return its result. Raises what it raised; WorkerDied when the process is gone."""
        return self._future.result()


@contextmanager
def _open_pool(
    count: int, method: str | None, begin: Callable[..., None], given: tuple[Any, ...], doing: str, papers: str
) -> Iterator[ProcessPoolExecutor]:
    pool = ProcessPoolExecutor(count, multiprocessing.get_context(method), _start, (begin, given))
    try:
        yield pool
    except BrokenProcessPool as error:
        raise WorkerDied(
            f"a process that was {doing} is gone: it was ended from outside, or ran out of memory. {papers}; every "
            "file written so far is whole. Run again, with --workers 1 if it happens again"
        ) from error
    finally:
        pool.shutdown(cancel_futures=True)


# --- inside another process -------------------------------------------------------------------------------------------


def _start(begin: Callable[..., None], given: tuple[Any, ...]) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # interrupts are for the parent process to handle
    threading.Thread(target=_end_with_parent, daemon=True).start()
    begin(*given)


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


_held: tuple[Callable[..., object], tuple[object, ...]]


def _hold_task(do: Callable[..., object], given: tuple[object, ...]) -> None:
    global _held  # noqa: PLW0603 (given once, when the process begins)
    _held = (do, given)


def _do_held() -> object:
    do, given = _held
    return do(*given)
