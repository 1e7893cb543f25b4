"""The only entrance for foreign files: lists, drawings, returned papers.

A file is looked at before it is opened (a plain file, not too large), and what a library does with it that cannot be
trusted with every file is done in a process of its own, with limits of time and, where the system has them, of memory.
What comes back from there is plain data of the kinds named here: nothing of it can run.
"""

from __future__ import annotations

import contextlib
import enum
import io
import os
import pickle
import sys
from collections.abc import Callable
from dataclasses import dataclass, is_dataclass
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

from pipeline.core.errors import CannotRun, Fault
from pipeline.core.storage.files import require_plain_file

if TYPE_CHECKING:
    from multiprocessing.connection import Connection

T = TypeVar("T")

MB = 2**20


@dataclass(frozen=True, slots=True, kw_only=True)
class Bounds:
    """What reading one file may cost. seconds: of processor time. memory_mb: in addition to what this process uses."""

    seconds: int = 8
    memory_mb: int = 300
    answer_mb: int = 64


WAITING = 8
"""Seconds of wall-clock time for each second of processor time allowed: the machine may be busy."""


def read_foreign_bytes(path: Path, what: str, most_mb: float) -> bytes:
    """The whole file. CannotRun when it is no plain file (a pipe would wait for ever), is missing, may not be read or
    is larger than `most_mb`. what: the file in the reader's words."""
    require_plain_file(path, what)
    try:
        with path.open("rb") as file:
            data = file.read(int(most_mb * MB) + 1)
    except OSError as error:
        found = f"cannot be read ({error.strerror or error})"
        raise CannotRun(Fault(where=str(path), found=found, expected=what)) from error
    if len(data) > most_mb * MB:
        raise CannotRun(Fault(where=str(path), found=f"the file is larger than {most_mb:g} MB", expected=what))
    return data


def read_apart(read: Callable[..., T], *given: Any, where: str | Path, bounds: Bounds | None = None) -> T:
    """Return `read(*given)`, computed in another process, so that a file that makes a library hang, exhaust memory or
    crash costs that process alone.

    read: a function of a module. CannotRun as it raised it; CannotRun that names `where` for whatever else went wrong:
    the limits, an error of the library, the end of the process.
    """
    import multiprocessing

    bounds = bounds or Bounds()
    context: Any = multiprocessing.get_context("fork" if sys.platform == "linux" else "spawn")
    ours, theirs = context.Pipe(duplex=False)
    process = context.Process(target=_run_reader, args=(theirs, ours, bounds, read, given), daemon=True)
    process.start()
    theirs.close()
    try:
        if not ours.poll(bounds.seconds * WAITING):
            raise _report_too_long(where, bounds)
        answer = _load(ours.recv_bytes(bounds.answer_mb * MB))
    except (EOFError, OSError) as error:
        process.join(1.0)
        raise _report_ended(where, process.exitcode, bounds) from error
    finally:
        ours.close()
        if process.is_alive():
            process.kill()
        process.join()
    kind, value = answer
    if kind == "given":
        return value  # type: ignore[no-any-return]
    if kind == "cannot":
        raise CannotRun(value)
    if kind == "memory":
        raise _report_too_much(where, bounds)
    raise _report_unreadable(where, value)


def _report_too_long(where: str | Path, bounds: Bounds) -> CannotRun:
    return _report_refused(where, f"reading it takes more than {bounds.seconds} seconds of processor time")


def _report_too_much(where: str | Path, bounds: Bounds) -> CannotRun:
    return _report_refused(where, f"reading it takes more than {bounds.memory_mb} MB of memory")


def _report_unreadable(where: str | Path, said: str) -> CannotRun:
    return _report_refused(where, f"it is damaged, or not what its name says ({said})")


def _report_ended(where: str | Path, status: int | None, bounds: Bounds) -> CannotRun:
    if status is not None and -status == getattr(_get_signals(), "SIGXCPU", 0):
        return _report_too_long(where, bounds)
    return _report_refused(where, "reading it makes the reader break down")


def _report_refused(where: str | Path, found: str) -> CannotRun:
    return CannotRun(
        Fault(
            where=str(where),
            found=found,
            expected="a file as common programs write it",
            remedy="open it in the program it was made with, save it again and use that copy, or ask for it again",
        )
    )


def _get_signals() -> Any:
    import signal

    return signal


# --- inside the other process -----------------------------------------------------------------------------------------


def _run_reader(
    own: Connection, other: Connection, bounds: Bounds, read: Callable[..., Any], given: tuple[Any, ...]
) -> None:
    other.close()
    _silence_output()
    _limit(bounds)
    try:
        try:
            answer = _dump(("given", read(*given)))
        except CannotRun as error:
            answer = _dump(("cannot", error.faults))
        except (MemoryError, RecursionError) as error:
            answer = _dump(("memory", "") if isinstance(error, MemoryError) else ("error", "it is nested too deeply"))
        except Exception as error:  # on a file it was never tested with, a library may raise anything
            said = " ".join(f"{type(error).__name__}: {error}".split())
            answer = _dump(("error", said[:200]))
        own.send_bytes(answer)
    except (OSError, MemoryError):
        pass
    finally:
        own.close()


def _silence_output() -> None:
    """Keep off the terminal what libraries print about a file."""
    with contextlib.suppress(OSError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 1)
        os.dup2(nowhere, 2)
        os.close(nowhere)


def _limit(bounds: Bounds) -> None:
    """The limits of time and memory, where the system has them."""
    try:
        import resource
    except ImportError:
        return
    with contextlib.suppress(OSError, ValueError):
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
        resource.setrlimit(resource.RLIMIT_CPU, (bounds.seconds, bounds.seconds + 1))
    with contextlib.suppress(OSError, ValueError, IndexError):
        pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[5])  # data and stack, proc(5)
        most = pages * resource.getpagesize() + bounds.memory_mb * MB
        resource.setrlimit(resource.RLIMIT_DATA, (most, most))


# --- what may come back -----------------------------------------------------------------------------------------------


class _Writer(pickle.Pickler):
    """Pickles arrays as their numbers, everything else as usual."""

    def reducer_override(self, value: Any) -> Any:
        if isinstance(value, np.ndarray) and not value.dtype.hasobject:
            return _restore_array, (value.tobytes(), value.dtype.str, value.shape)
        if isinstance(value, np.generic):
            return _restore_number, (value.item(),)
        return NotImplemented


def _restore_array(data: bytes, kind: str, shape: tuple[int, ...]) -> Any:
    return np.frombuffer(data, dtype=np.dtype(kind)).reshape(shape).copy()


def _restore_number(value: Any) -> Any:
    return value


_OTHERS = {
    ("collections", "Counter"),
    ("collections", "OrderedDict"),
    ("collections", "defaultdict"),
    *(("builtins", name) for name in ("list", "dict", "set", "frozenset", "complex", "bytearray")),
    *(("datetime", name) for name in ("datetime", "date", "time", "timedelta", "timezone")),
    *(("pathlib", name) for name in ("PosixPath", "WindowsPath", "PurePosixPath", "PureWindowsPath", "Path")),
}


class _Reader(pickle.Unpickler):
    """Accepts plain values, records and enumerations of this package, dates, paths and arrays; nothing else."""

    def find_class(self, module: str, name: str) -> Any:
        if (module, name) in _OTHERS or (module, name) in ((__name__, "_restore_array"), (__name__, "_restore_number")):
            return getattr(import_module(module), name)
        if module.startswith("pipeline.") and name.isidentifier():
            found = getattr(import_module(module), name, None)
            if isinstance(found, type) and (is_dataclass(found) or issubclass(found, enum.Enum)):
                return found
        raise pickle.UnpicklingError(f"{module}.{name} is not among what a file may give")


def _dump(answer: Any) -> bytes:
    out = io.BytesIO()
    _Writer(out, protocol=5).dump(answer)
    return out.getvalue()


def _load(data: bytes) -> tuple[str, Any]:
    try:
        kind, value = _Reader(io.BytesIO(data)).load()
    except Exception as error:  # only a compromised process can send anything else
        raise OSError("not an answer") from error
    return kind, value
