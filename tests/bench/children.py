"""Commands run as a user runs them, in separate processes, and what they cost."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]


MEASURING = """
import json, os, subprocess, sys, time
start = time.perf_counter()
process = subprocess.Popen(sys.argv[1:], stdout=subprocess.DEVNULL)
_, status, used = os.wait4(process.pid, 0)
wall = time.perf_counter() - start
print(json.dumps([os.waitstatus_to_exitcode(status), wall, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024]))
"""
"""A small program that runs another one: what is said of the memory of a process counts that of the one that began it,
and the bench itself is large."""


@dataclass(frozen=True)
class Ran:
    """A finished process and its children. Seconds; megabytes of the largest of them."""

    wall: float
    cpu: float
    memory: float


class Desk:
    """A working folder with its own cache folder, so that nothing cached on this machine counts."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.kept = folder / "kept"
        self._environment = {
            **{name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"},
            "PYTHONPYCACHEPREFIX": str(folder / "compiled"),
            "PYTHONPATH": str(ROOT),
            "XDG_CACHE_HOME": str(self.kept),
            "HOME": str(self.kept),
        }

    def plaques(self, *words: str | Path) -> Ran:
        """Run `plaques` with these arguments. RuntimeError when it didn't finish."""
        words = tuple(map(str, words))
        command = [sys.executable, "-m", "pipeline", *words]
        done = subprocess.run(
            [sys.executable, "-c", MEASURING, *command],
            cwd=ROOT,
            env=self._environment,
            capture_output=True,
            check=False,
        )
        status, wall, cpu, memory = json.loads(done.stdout)
        if status not in (0, 1):
            raise RuntimeError(f"plaques {' '.join(words)} ended with {status}: {done.stderr.decode()}")
        return Ran(wall, cpu, memory)

    def best(self, times: int, *words: str | Path) -> Ran:
        """Return the fastest of several runs, by the clock."""
        return min((self.plaques(*words) for _ in range(times)), key=lambda ran: ran.wall)

    def forget(self) -> None:
        """Empty the cache."""
        shutil.rmtree(self.kept, ignore_errors=True)

    def put_by(self, name: str) -> None:
        """Save a copy of the cache."""
        shutil.copytree(self.kept, self.folder / f"kept-{name}")

    def restore(self, name: str) -> None:
        """Restore the saved cache."""
        self.forget()
        shutil.copytree(self.folder / f"kept-{name}", self.kept)
