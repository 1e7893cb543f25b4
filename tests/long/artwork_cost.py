"""What a fixed crest costs per plaque: the same two hundred names with and without it, set, checked, written, read
back.

`python -m tests.long.artwork_cost [ROUNDS]`, default 3. Prints milliseconds of processor time for the second hundred
names, whose letters are cached by then; exit status 1 when the crest costs more than 2 ms per plaque.
"""

from __future__ import annotations

import itertools
import shutil
import statistics
import sys
import tempfile
import time
from pathlib import Path

from pipeline import VERSION
from pipeline.advice import Advisor
from pipeline.batch import prepare_job
from pipeline.order_inputs import read_inputs
from pipeline.outputs.cut_files.cut_files import CutFiles

SAMPLE = Path(__file__).resolve().parents[2] / "sample_orders/regatta-plaques"
FIRST = ("Ada", "Bo", "Cy", "Dora", "Edda", "Finn", "Gus", "Hetty", "Ida", "Jo")
LAST = ("Tern", "Skua", "Auk", "Kite", "Heron", "Gull", "Wren", "Lark", "Teal", "Coot")
MOST = 2.0


def write_order(folder: Path, crest: bool) -> Path:
    """Write the sample order with two hundred invented names, without badges."""
    shutil.copytree(SAMPLE, folder, ignore=shutil.ignore_patterns("out", "signoff*"))
    text = (folder / "order.toml").read_text(encoding="utf-8")
    before, lines = text.split("[[artwork]]", 1)[0], text[text.index("[[line]]") :]
    own = '[[artwork]]\nfile = "crest.svg"\nzone = "CREST"\n' if crest else ""
    (folder / "order.toml").write_text(before + own + lines, encoding="utf-8")
    names = [f"{a} {b}{c}" for a, b, c in itertools.product(FIRST, LAST, ("", "son"))]
    rows = "".join(f"{name},Single sculls,2026,\n" for name in names)
    (folder / "winners.csv").write_text(f"Winner,Event,Year,Badge\n{rows}", encoding="utf-8")
    return folder


def milliseconds(folder: Path) -> list[float]:
    read = read_inputs(folder, fresh=True)
    job = prepare_job(read)
    writer, advisor = CutFiles(read.folder, read.blank, folder / "out", VERSION, job.cache), Advisor(job)
    out = []
    for recipient in read.listing.recipients:
        start = time.process_time()
        plaque = writer.make(advisor.advise(job.make_plaque(recipient)))
        out.append(1000 * (time.process_time() - start))
        assert plaque.cut_file and plaque.artwork is not None
        assert len(plaque.artwork.figures) == len(read.folder.order.artwork)
    return out[100:]


def main(rounds: int = 3) -> int:
    costs = []
    with tempfile.TemporaryDirectory() as place:
        for k in range(rounds):
            plain, crest = (milliseconds(write_order(Path(place) / f"{k}{c}", c)) for c in (False, True))
            costs.append(statistics.mean(crest) - statistics.mean(plain))
            said = f"without {statistics.mean(plain):.2f}, with {statistics.mean(crest):.2f}"
            print(f"mean ms a plaque: {said}; median {statistics.median(plain):.2f}, {statistics.median(crest):.2f}")
    print(f"a crest costs {statistics.median(costs):+.2f} ms a plaque")
    return int(statistics.median(costs) > MOST)


if __name__ == "__main__":
    sys.exit(main(*map(int, sys.argv[1:])))
