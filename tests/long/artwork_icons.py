"""Hundreds of icons: area, widest place and narrowest stroke as we read them, compared with pictures of them.

`python -m tests.long.artwork_icons FOLDER [COUNT [SEED]]`, default 200: draws that many SVG files from the folder
and its subfolders at random, leaving out brand marks (files whose names begin with `brand-`). A folder of icons is
available from npm, `npm pack @tabler/icons` (MIT). Prints how many were read, which were refused and why, the worst
error and the seconds; exit status 1 when an area is off by half a hundredth or more.
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
from tests.artwork.rendered import dark_area, narrowest_stroke, read, widest_disc

MOST = 0.005
NEAR = 0.05
"""Two pixels of a picture 1,024 wide are a twentieth of a stroke of 2 in an icon of 48."""


def widest_and_narrowest(found: DrawnArtwork, width: float) -> tuple[float, float]:
    """Return the widest place and the narrowest stroke of an icon by our medial axis, in its own units; it is
    measured at a width of 100 mm."""
    where = Placement(number=1, name="icon", width=None, at=(0.0, 0.0))
    drawn = DrawnArtwork(outline=found.outline, mm=100 / width)
    placed = place_artwork(where, drawn, shapely.box(-500, -500, 500, 500), None, Units("mm"))
    assert placed.figure is not None
    shapes = [GlyphMetrics().measure(piece.shape) for row in placed.figure.rows for piece in row.pieces]
    wide = max(m.widest.width for m in shapes if m.widest is not None)
    narrow = min((m.stroke.width for m in shapes if m.stroke is not None), default=0.0)
    return wide * UNIT * width / 100, narrow * UNIT * width / 100


def main(folder: str, count: int = 200, seed: int = 18) -> int:
    files = sorted(f for f in Path(folder).rglob("*.svg") if not f.name.startswith("brand-"))
    chosen = random.Random(seed).sample(files, min(count, len(files)))
    errors: list[tuple[float, str]] = []
    refused: list[tuple[str, str]] = []
    wides: list[tuple[float, str]] = []
    narrows: list[tuple[float, float, str]] = []  # ours, the picture's
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
            wide, narrow = widest_and_narrowest(found, width)
            wides.append((abs(wide - widest_disc(svg, width)), file.name))
            seen = narrowest_stroke(svg, width)
            if seen is not None and narrow:
                narrows.append((narrow, seen, file.name))
    errors.sort(reverse=True)
    wides.sort(reverse=True)
    print(f"{len(errors)} of {len(chosen)} read, {len(refused)} refused")
    for name, why in refused:
        print(f"  {name}: {why}")
    print("worst areas:", ", ".join(f"{name} {100 * error:.3f} %" for error, name in errors[:5]))
    print(f"median {100 * statistics.median(e for e, _ in errors):.3f} %")
    print("widest place, off by:", ", ".join(f"{name} {off:.4f} of its units" for off, name in wides[:3]))
    near = sum(abs(ours - seen) <= NEAR * seen for ours, seen, _ in narrows)
    print(f"narrowest stroke within {100 * NEAR:.0f} % of the picture's: {near} of {len(narrows)}; farthest off:")
    for ours, seen, name in sorted(narrows, key=lambda found: -abs(found[0] / found[1] - 1))[:10]:
        print(f"  {name}: {ours:.3f}, in the picture {seen:.3f} of its units")
    slow, whole = max(seconds), sum(seconds)
    print(f"processor time: median {statistics.median(seconds):.3f} s, most {slow:.3f} s, all {whole:.1f} s")
    return int(errors[0][0] >= MOST)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1], *map(int, sys.argv[2:])))
