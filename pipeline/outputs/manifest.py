"""What a run wrote, so that the next one takes away what is stale and never a file of somebody else's."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

from pipeline.core.errors import CannotRun, Fault
from pipeline.core.files import write_whole

FILE = ".written.json"
"""Beside the cut files: name and sha256 of each, and whose order they are."""


class Manifest:
    """The files of one order's output folder."""

    def __init__(self, target: Path, order: str, title: str) -> None:
        """order: the order's code. CannotRun when the folder holds another order's files."""
        self.target, self.order, self.title = target, order, title
        self.before = self._read()
        self.now: dict[str, str] = {}

    def _read(self) -> dict[str, str]:
        path = self.target / FILE
        try:
            said = json.loads(path.read_text(encoding="utf-8"))
            files = {str(name): str(sha) for name, sha in said["files"].items()}
            order, title = str(said["order"]), str(said["title"])
        except (OSError, ValueError, KeyError, AttributeError, TypeError):
            return {}
        if order != self.order:
            raise CannotRun(
                Fault(
                    where=str(self.target),
                    found=f"the folder holds cut files of another order, “{title}”",
                    expected=f"an empty folder or that of “{self.title}”",
                    remedy="choose another folder with --out, or move those files away",
                )
            )
        return files

    def wrote(self, name: str, data: bytes) -> None:
        self.now[name] = hashlib.sha256(data).hexdigest()

    def finish(self, whole: bool) -> tuple[str, ...]:
        """Record what was written; returns the stale files taken away.

        whole: the whole list was run, so files of an earlier run that were not written again are stale. One whose bytes
        are not those the tool wrote is somebody's work and stays.
        """
        gone = []
        keep = dict(self.before)
        if whole:
            for name, sha in self.before.items():
                if name in self.now:
                    continue
                path = self.target / name
                try:
                    if hashlib.sha256(path.read_bytes()).hexdigest() == sha:
                        path.unlink()
                        gone.append(name)
                except OSError:
                    pass
                keep.pop(name)
        files = dict(sorted({**keep, **self.now}.items()))
        text = json.dumps({"order": self.order, "title": self.title, "files": files}, ensure_ascii=False, indent=0)
        write_whole(self.target / FILE, (text + "\n").encode("utf-8", "backslashreplace"))
        return tuple(gone)
