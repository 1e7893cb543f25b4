"""Kill whole runs at random moments: the output folder then has only whole files, and the next run completes it.

As a program: `python -m tests.outputs.kill_run [--plaques 500] [--moments 20] [--seed 1] [--also]`. Each moment has
its own folder: a run is killed there with all its processes (SIGKILL), the folder is compared with that of an
undisturbed run, byte for byte, and the run is repeated.
"""

from __future__ import annotations

import argparse
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.bench.orders import names, write_order

ROOT = Path(__file__).resolve().parents[2]


def command(order: Path, out: Path) -> list[str]:
    return [sys.executable, "-m", "pipeline", "run", str(order), "--out", str(out)]


def started(order: Path, out: Path, cache: Path) -> subprocess.Popen[bytes]:
    env = {**os.environ, "PYTHONPATH": str(ROOT), "XDG_CACHE_HOME": str(cache)}
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    return subprocess.Popen(command(order, out), cwd=ROOT, env=env, start_new_session=True, **quiet)


def files_in(folder: Path) -> dict[str, bytes]:
    """Return every file below a folder, except unfinished ones: path -> bytes."""
    found = (path for path in sorted(folder.rglob("*")) if path.is_file())
    return {str(p.relative_to(folder)): p.read_bytes() for p in found if not begun(p)}


def begun(path: Path) -> bool:
    """Return whether a file is still being written; its suffix keeps programs from opening it."""
    return path.name.startswith(".") and path.suffix == ".part"


def partial(found: dict[str, bytes], whole: dict[str, bytes]) -> list[str]:
    """Return the files that differ from those of an undisturbed run; the list of written files may be shorter."""
    out = []
    for name, data in found.items():
        if name.endswith("written.sha256"):
            known = set(whole[name].splitlines())
            out += [name] if any(line not in known for line in data.splitlines()) else []
        elif whole.get(name) != data:
            out.append(name)
    return out


def main() -> int:
    asked = argparse.ArgumentParser()
    asked.add_argument("--plaques", type=int, default=500)
    asked.add_argument("--moments", type=int, default=20)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--also", action="store_true", help="SVG and PDF files too")
    args = asked.parse_args()
    faults = 0
    with tempfile.TemporaryDirectory() as place:
        here = Path(place)
        end = '\n[files]\nalso = ["svg", "pdf"]\n' if args.also else ""
        order = write_order(here / "order", names(args.plaques), end=end)
        cache = here / "cache"
        started(order, here / "warm", cache).wait()  # letters are measured and cached once
        start = time.perf_counter()
        status = started(order, here / "whole", cache).wait()
        took = time.perf_counter() - start
        whole = files_in(here / "whole")
        print(f"undisturbed: exit status {status}, {len(whole)} files, {took:.1f} s")
        moments = random.Random(args.seed)
        for number in range(1, args.moments + 1):
            out, share = here / f"out{number}", moments.random()
            run = started(order, out, cache)
            time.sleep(share * took)
            done = run.poll() is not None
            if not done:
                os.killpg(run.pid, signal.SIGKILL)
            run.wait()
            left = files_in(out) if out.exists() else {}
            torn = partial(left, whole)
            unfinished = sum(begun(p) for p in out.rglob("*.part")) if out.exists() else 0
            again = started(order, out, cache).wait()
            after = {str(p.relative_to(out)): p.read_bytes() for p in sorted(out.rglob("*")) if p.is_file()}
            same = again == status and after == whole
            faults += bool(torn) + (not same)
            print(
                f"{number:3} at {share * took:5.1f} s{' (it was done)' if done else ''}: {len(left)} files there, "
                f"{unfinished} begun, {len(torn)} torn {torn[:3] or ''}; the next run "
                f"{'is the same' if same else f'differs: {differing(after, whole)}'}",
                flush=True,
            )
    print("no fault" if not faults else f"{faults} faults")
    return 1 if faults else 0


def differing(found: dict[str, bytes], whole: dict[str, bytes]) -> list[str]:
    return sorted(name for name in found.keys() | whole.keys() if found.get(name) != whole.get(name))[:5]


if __name__ == "__main__":
    raise SystemExit(main())
