"""The four large sample orders whole: every row as its about page says, and accounted for by the run itself.

    python -m tests.long.whole_samples [NAME...]

`tests/test_samples.py` runs the same orders with some of their rows. Exit status 1 when a row ends otherwise.
"""

from __future__ import annotations

import re
import shutil
import sys
import tempfile
from pathlib import Path

from pipeline.run import run_order

SAMPLES = Path(__file__).resolve().parents[2] / "sample_orders"
NAMES = ("bench-plates", "regatta-plaques", "science-medals", "seabird-trust")
STATES = {"cannot": "stopped", "question": "ask"}
"""First word of what the about page says happens, and the state it means; any other word: ready."""


def read_about(folder: Path) -> dict[int, str]:
    """Return the first word of what the about page says happens to each row it names."""
    said: dict[int, str] = {}
    for line in (folder / "about.md").read_text(encoding="utf-8").splitlines():
        if found := re.match(r"\| ([\d, to]+) \|[^|]*\| (\w+)", line):
            for part in found[1].split(","):
                first, _, last = part.partition(" to ")
                for row in range(int(first), int(last or first) + 1):
                    said.setdefault(row, found[2])
    return said


def find_differences(folder: Path, report: dict) -> list[str]:  # type: ignore[type-arg]
    """List the rows of a run whose state isn't the one the about page says."""
    said = read_about(folder)
    out = []
    for plaque in report["plaques"]:
        wanted = STATES.get(said.get(plaque["row"], ""), "ready")
        if plaque["state"] != wanted:
            out.append(f"row {plaque['row']}: {plaque['state']}, not {wanted}")
    return out


def main(*names: str) -> int:
    wrong = 0
    for name in names or NAMES:
        with tempfile.TemporaryDirectory() as place:
            folder = Path(place) / name
            shutil.copytree(SAMPLES / name, folder, ignore=shutil.ignore_patterns("out", "signoff.sqlite*"))
            done = run_order(folder)
            found = find_differences(folder, done.report)
            counted = re.search(r"The\s+other\s+(\d+)\s+are\s+ready", (folder / "about.md").read_text(encoding="utf-8"))
            counts = done.report["counts"]
            if counted is None or int(counted[1]) != counts["ready"]:
                found.append(f"{counts['ready']} ready, not as many as the page says")
            if done.broken or counts["faults"]:
                found.append("the run reports a fault")
            print(
                f"{name}: {len(done.report['plaques'])} rows; {'; '.join(found) or 'all as its page says'}", flush=True
            )
            wrong += len(found)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
