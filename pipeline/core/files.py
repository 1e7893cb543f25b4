"""Writing files whole: beside their target, then renamed, so that a run that dies leaves whole files or none."""

from __future__ import annotations

import os
from pathlib import Path

from pipeline.core.errors import CannotRun, Fault


def write_whole(target: Path, data: bytes) -> None:
    """Write `data` to `target`, replacing what stood there; its folder is made when missing.

    Safe against a kill at any moment; a power cut may leave an empty or old file, because nothing is forced to disk
    (the read-back of the next run finds that). CannotRun names the file when it cannot be written.
    """
    beside = target.with_name(f".{target.name}.{os.getpid()}.part")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        try:
            beside.write_bytes(data)
            beside.replace(target)
        finally:
            beside.unlink(missing_ok=True)
    except OSError as error:
        raise CannotRun(
            Fault(
                where=str(target),
                found=f"cannot be written ({error.strerror or error})",
                expected="a folder that may be written to, and the file not open elsewhere",
                remedy="close the file, free the folder, or choose another place with --out",
            )
        ) from error
