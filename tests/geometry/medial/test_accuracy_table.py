"""The table of the axis' accuracy in DEVELOPERS.md has the measured values: run this file to rewrite it."""

import math
from pathlib import Path

from pipeline.geometry.medial.medial_axis import compute_medial_axis
from pipeline.geometry.regions import build_polygon_from_outline
from tests.geometry.medial.narrowest import find_narrowest_stroke
from tests.geometry.shapes import EXACT

GUIDE = Path(__file__).resolve().parents[3] / "DEVELOPERS.md"
HEAD = "| shape | stroke | error of the stroke | error of the widest radius |\n|---|---|---|---|\n"
STEPS = (0.001, 0.01, 0.02, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 1.0)
"""Errors are given as "at most" one of these, %, so that the last digit of a library does not change the table."""
EM, CAP = 1000.0, 700.0


def at_most(errors):
    worst = 100 * max(errors)
    return f"≤ {next(s for s in STEPS if worst <= s):g} %"


def table():
    rows = []
    for name, outline, stroke, widest in EXACT:
        strokes, radii = [], []
        for turn in (0.0, 0.2, 0.9, math.pi / 2):
            for scale in (0.02, 1.0, 50.0):
                here = tuple(p.transform(scale, 3 * scale, -5 * scale, turn) for p in outline)
                strokes.append(abs(find_narrowest_stroke(here, CAP * scale, EM * scale).width / scale / stroke - 1))
                if widest:
                    for fine in (20_000, 80_000):
                        r = (
                            compute_medial_axis(build_polygon_from_outline(here, EM * scale / fine)).radius.max()
                            / scale
                        )
                        radii.append(abs(r / widest - 1))
        rows.append(f"| {name} | {stroke:g} | {at_most(strokes)} | {at_most(radii) if radii else '–'} |\n")
    return HEAD + "".join(rows)


def written(text):
    start = text.index(HEAD)
    end = text.find("\n\n", start)
    return text[start : end + 1 if end >= 0 else len(text)]


def test_guide_has_the_table_as_measured():
    assert written(GUIDE.read_text(encoding="utf-8")) == table()


if __name__ == "__main__":
    text = GUIDE.read_text(encoding="utf-8")
    GUIDE.write_text(text.replace(written(text), table()), encoding="utf-8")
