"""Reads plain files only, and writes files atomically: beside their target, then renamed."""

from __future__ import annotations

import contextlib
import errno
import os
import re
import stat
from collections.abc import Iterable
from io import BufferedWriter
from pathlib import Path

from pipeline.core.errors import CannotRun, Fault


def require_plain_file(path: Path, what: str) -> None:
    """CannotRun unless `path` is a plain file, or a link to one: opening a pipe waits for ever, a device never ends.

    what: the file in the reader's words ("the client's list"). It is looked at before it is opened.
    """
    try:
        kind = path.stat().st_mode
    except OSError as error:
        raise CannotRun(
            Fault(where=str(path), found=f"cannot be read ({error.strerror or error})", expected=what)
        ) from error
    if not stat.S_ISREG(kind):
        found = "a folder" if stat.S_ISDIR(kind) else "a pipe, a device or a socket"
        raise CannotRun(Fault(where=str(path), found=f"{found}, not a file", expected=what))


def read_plain(path: str | Path) -> bytes:
    """The bytes of a plain file, or of a link to one. OSError for a pipe, a device or a folder: nothing is waited for.

    What is looked at is the file that was opened, so that nobody can put another in its place between the two.
    """
    opened = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    with os.fdopen(opened, "rb") as file:
        if not stat.S_ISREG(os.fstat(opened).st_mode):
            raise OSError(errno.EINVAL, "it is a pipe, a device or a socket, not a file", str(path))
        return file.read()


def write_whole(target: Path, data: bytes | Iterable[bytes]) -> None:
    """Write `data`, whole or part after part, to `target`, replacing what stood there; its folder is made when missing.

    Safe against a kill at any moment; a power cut may leave an empty or old file, because nothing is forced to disk
    (the read-back of the next run finds that). CannotRun names the file when it cannot be written.
    """
    beside = target.with_name(f".{target.name}.{os.getpid()}.part")
    try:
        try:
            with _open_unique(beside) as out:
                out.writelines((data,) if isinstance(data, bytes) else data)
            beside.replace(target)
        except BaseException:
            beside.unlink(missing_ok=True)
            raise
    except OSError as error:
        raise CannotRun(
            Fault(
                where=str(target),
                found=f"cannot be written ({error.strerror or error})",
                expected="a folder that may be written to, and the file not open elsewhere",
                remedy="close the file in other programs, or make the folder writable",
            )
        ) from error


def _open_unique(file: Path) -> BufferedWriter:
    try:
        return file.open("wb")
    except FileNotFoundError:
        file.parent.mkdir(parents=True, exist_ok=True)
        return file.open("wb")


def remove_unfinished(folder: Path, ours: re.Pattern[str]) -> None:
    """Remove unfinished files of killed runs. ours: pattern of their names, whose first group is the id of the process
    that began one; files of running processes are left alone."""
    with contextlib.suppress(OSError):
        for file in folder.iterdir():
            found = ours.fullmatch(file.name)
            if found and not _is_alive(int(found[1])):
                file.unlink(missing_ok=True)


def require_writable_folder(folder: Path, ours: re.Pattern[str]) -> None:
    """Make the folder of the results, and clear away what a killed run began there. ours: see `remove_unfinished`.
    CannotRun where nothing can be written: known before the work, not after it."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        _try_writing(folder)
        remove_unfinished(folder, ours)
    except OSError as error:
        raise CannotRun(
            Fault(
                where=str(folder),
                found=f"nothing can be written here ({error.strerror or error})",
                expected="a folder for the results",
                remedy="choose another with --out",
            )
        ) from error


def require_writable_order(folder: Path, kept: Iterable[str]) -> None:
    """CannotRun where nothing can be recorded in an order's folder. kept: names of the files and folders in it that
    are written to where they are there."""
    at = folder
    try:
        for at in (folder, *(folder / name for name in kept)):
            if at.is_dir():
                _try_writing(at)
            elif at.exists():
                with at.open("ab"):
                    pass
    except OSError as error:
        raise CannotRun(
            Fault(
                where=str(at),
                found=f"cannot be written to ({error.strerror or error})",
                expected="an order folder that may be written to: each proof is kept and recorded there, wherever the "
                "results go",
                remedy="make it writable, or copy the whole order folder to where you may write",
            )
        ) from error


def _try_writing(folder: Path) -> None:
    probe = folder / ".writable"
    probe.write_bytes(b"")
    probe.unlink()


def _is_alive(process: int) -> bool:
    """Return whether another process of this id is running; False where that can't be found out."""
    if os.name != "posix":
        return False
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except OSError:
        return True
    return process != os.getpid()
