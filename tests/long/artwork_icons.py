"""Icons by the hundred: area and widest stroke as we read them against pictures of them.

`python -m tests.long.artwork_icons FOLDER [COUNT [SEED]]`, 200 by default: draws so many SVG files of the folder and
the folders in it at random, leaving out brand marks (files that begin with `brand-`). A folder of icons comes from npm,
`npm pack @tabler/icons` (MIT). Prints how many were read, refused and why, the worst error and the seconds; 1 where an
area is off by half a hundredth or more.
"""

from __future__ import annotations

import random
import re
import statistics
import sys
import time
from pathlib import Path

import shapely

from pipeline.artwork.drawn_artwork import DrawnArtwork
from pipeline.artwork.placing import UNIT, Placement, place_artwork
from pipeline.checks.glyph_metrics import GlyphMetrics
from pipeline.core.errors import CannotRun
from pipeline.core.units import Units
from pipeline.geometry.flatten import outline_area
from tests.artwork.rendered import dark_area, read, widest_disc

MOST = 0.005


def widest(found: DrawnArtwork, width: float) -> float:
    """The widest place of an icon by our medial axis, in its own units; it is measured 100 mm wide."""
    where = Placement(number=1, name="icon", width=None, at=(0.0, 0.0))
    drawn = DrawnArtwork(outline=found.outline, mm=100 / width)
    placed = place_artwork(where, drawn, shapely.box(-500, -500, 500, 500), None, Units("mm"))
    assert placed.figure is not None
    shapes = [GlyphMetrics().measure(piece.shape) for row in placed.figure.rows for piece in row.pieces]
    return max(m.widest.width for m in shapes if m.widest is not None) * UNIT * width / 100


def main(folder: str, count: int = 200, seed: int = 18) -> int:
    files = sorted(f for f in Path(folder).rglob("*.svg") if not f.name.startswith("brand-"))
    chosen = random.Random(seed).sample(files, min(count, len(files)))
    errors: list[tuple[float, str]] = []
    refused: list[tuple[str, str]] = []
    wides: list[tuple[float, str]] = []
    seconds: list[float] = []
    for file in chosen:
        svg = file.read_text(encoding="utf-8")
        start = time.process_time()
        try:
            found = read(svg)
        except CannotRun as error:
            refused.append((file.name, error.faults[0].found))
            continue
        seconds.append(time.process_time() - start)
        stops = [r.words for r in found.remarks if r.reason == "cannot"]
        if stops:
            refused.append((file.name, stops[0]))
            continue
        box = re.search(r'viewBox="[\d.-]+[ ,]+[\d.-]+[ ,]+([\d.]+)', svg)
        width = float(box[1]) if box else 100.0
        wanted = dark_area(svg, width)
        errors.append((abs(outline_area(found.outline) - wanted) / wanted, file.name))
        if found.outline and dark_area(svg, width) > 0:
            ours = widest(found, width)
            wides.append((abs(ours - widest_disc(svg, width)), file.name))
    errors.sort(reverse=True)
    wides.sort(reverse=True)
    print(f"{len(errors)} of {len(chosen)} read, {len(refused)} refused")
    for name, why in refused:
        print(f"  {name}: {why}")
    print("worst areas:", ", ".join(f"{name} {100 * error:.3f} %" for error, name in errors[:5]))
    print(f"median {100 * statistics.median(e for e, _ in errors):.3f} %")
    print("widest place, off by:", ", ".join(f"{name} {off:.4f} of its units" for off, name in wides[:3]))
    slow, whole = max(seconds), sum(seconds)
    print(f"processor time: median {statistics.median(seconds):.3f} s, most {slow:.3f} s, all {whole:.1f} s")
    return int(errors[0][0] >= MOST)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1], *map(int, sys.argv[2:])))
