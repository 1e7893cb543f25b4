"""Plaques of every sample order, their cut files read back and the cut simulated.

    python -m tests.long.swept_samples [PLAQUES]

That many plaques of each order (3): those that add most new characters. Nothing is cut farther outside the artwork
than the tolerances of file and groove together, and nothing the cutter fits into is missed by more than 0.02 mm. All
plaques of one order: `plaques run --prove`. `tests/outputs/cut_files/test_simulated_files.py` simulates one of each.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from pipeline.core.model import Recipient
from pipeline.core.row_selection import parse_rows
from pipeline.order_inputs import read_inputs
from pipeline.order_state import check_plaques
from pipeline.outputs.cut_files.cut_files import CutFiles
from pipeline.outputs.cut_files.simulated_files import SimulatedCutFiles

SAMPLES = Path(__file__).resolve().parents[2] / "sample_orders"
NAMES = sorted(p.parent.name for p in SAMPLES.glob("*/order.toml"))
MOST = 0.02
"""Over- and undercut in mm."""
LONGEST = 60
"""Letters of a text that is tried."""
FIGURES = ("overcut", "undercut", "uncut_area", "area")


@dataclass(frozen=True, slots=True)
class SweptPlaque:
    """Results of a plaque's simulated cut: mm, areas in mm²."""

    order: str
    row: str
    overcut: float
    undercut: float
    uncut_area: float
    area: float

    @property
    def sound(self) -> bool:
        lines = self.order == "bench-plates"  # which have no area
        return 0 < self.overcut < MOST and 0 < self.undercut < MOST and (lines or self.uncut_area < 0.05 * self.area)


def sweep_sample(name: str, target: Path, plaques: int) -> list[SweptPlaque]:
    """Make and simulate that many plaques of a sample order, of those that may be cut."""
    out: list[SweptPlaque] = []
    for row in rank_rows(read_inputs(SAMPLES / name).listing.recipients):
        read = read_inputs(SAMPLES / name, target, only=parse_rows(row))
        made = check_plaques(read)
        files = CutFiles(read.folder, read.blank, target, "0.1.0")
        plaque = files.make(made.plaques[0])
        if plaque.cut_file:
            told = dict(SimulatedCutFiles(made.job.cutter, files, target).simulate(plaque).proved)
            out.append(SweptPlaque(name, row, *(told[key] for key in FIGURES)))
        if len(out) == plaques:
            break
    return out


def rank_rows(recipients: Iterable[Recipient]) -> Iterator[str]:
    """Rank the rows: each is the one whose texts add most characters to those of the rows before it."""
    texts = {str(r.row): set("".join(text for _, text in r.values)) for r in recipients if _is_likely_to_fit(r)}
    seen: set[str] = set()
    while texts:
        row = max(texts, key=lambda row: len(texts[row] - seen))
        seen |= texts.pop(row)
        yield row


def _is_likely_to_fit(recipient: Recipient) -> bool:
    """Return whether it is worth trying: for a text that can't be cut, finding all its ways takes long."""
    return not recipient.findings and all(len(text) <= LONGEST for _, text in recipient.values)


def main(plaques: int = 3) -> int:
    """Run all orders and print their figures; return 1 when one isn't as designed."""
    wrong = 0
    for name in NAMES:
        with tempfile.TemporaryDirectory() as place:
            for swept in sweep_sample(name, Path(place), plaques):
                wrong += not swept.sound
                print(swept, "" if swept.sound else "NOT AS DESIGNED", flush=True)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(*map(int, sys.argv[1:])))
