"""Grooves checked by other means: 60 letters of ten typefaces, thin, almost as wide as the bit, and cut deeper for
sanding.

Each letter is a plaque of an order run as a maker would run it. Its DXF is read with ezdxf, the bit's circles are
painted along the grooves on a raster, and compared with the outlines of the same file, which are exact as splines,
with distance transforms (scipy): how far the cut extends beyond the letter, how far it stays short of where the flat
tip fits, what share stays uncut. The face is taken after sanding. Depths in the file are compared with the report
and the order's `deepest`.

    python -m tests.long.grooves [PIXEL mm, default 0.006]
"""

from __future__ import annotations

import csv
import math
import random
import sys
import tempfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import ezdxf
import numpy as np
from ezdxf.entities import LWPolyline, Spline
from scipy.ndimage import binary_erosion, distance_transform_edt
from scipy.spatial import cKDTree

from pipeline.core.measured_values import GROOVE_DEPTH
from pipeline.cutting.cutters import load_cutter_shelf
from pipeline.run import run_order

PIXEL = 0.006
"""mm. Distances, less the half pixel that a transform counts too much, are right to about one."""
MARGIN = 0.2
"""mm of the raster round a letter."""
PER_KNOT = 24
"""Points of a spline between two knots: chords of a letter's curves are then right to a thousandth of a mm."""
STEP = 0.02
"""mm from round to round along a groove."""
LETTERS = "ABCDEGJKMNQRSWXZabcdefgkmrstwxyz&2345689"


@dataclass(frozen=True, kw_only=True)
class Case:
    """A typeface with a cutter, a size and the amount sanded off; `how` in words."""

    face: str
    cap: float
    cutter: str
    sanded: float
    how: str


CASES = (
    Case(face="eb-garamond", cap=9.0, cutter="vbit-60", sanded=0.0, how="thin"),
    Case(face="great-vibes", cap=18.0, cutter="vbit-30", sanded=0.0, how="thin"),
    Case(face="cinzel", cap=20.0, cutter="vbit-30", sanded=0.0, how="thin"),
    Case(face="noto-sans", cap=30.0, cutter="vbit-60", sanded=0.0, how="wide for the bit"),
    Case(face="oswald", cap=20.0, cutter="vbit-60", sanded=0.0, how="wide for the bit"),
    Case(face="roboto-slab", cap=14.0, cutter="vbit-60", sanded=0.2, how="compensated"),
    Case(face="montserrat", cap=12.0, cutter="vbit-60", sanded=0.1, how="compensated"),
    Case(face="frank-ruhl-libre", cap=22.0, cutter="vbit-60", sanded=0.15, how="compensated, thin"),
    Case(face="bodoni-moda", cap=26.0, cutter="vbit-60", sanded=0.1, how="compensated, thin"),
    Case(face="gfs-didot", cap=24.0, cutter="vbit-60", sanded=0.2, how="compensated, thin"),
)


@dataclass(frozen=True, kw_only=True)
class Found:
    """Results for a letter: mm, share of the area the tip fits in (0..1), depths in mm, and what the run reported."""

    letter: str
    over: float
    under: float
    uncut: float
    deep_file: float
    deep_report: float
    deepest: float


def chosen(count: int, seed: int = 14) -> list[tuple[Case, list[str]]]:
    """Choose that many letters over all cases, the same for the same seed."""
    chance = random.Random(seed)
    each = math.ceil(count / len(CASES))
    return [(case, chance.sample(LETTERS, each)) for case in CASES]


def order_of(case: Case, letters: Iterable[str], folder: Path) -> Path:
    """Return the order of a case, one plaque per letter."""
    folder.mkdir(parents=True)
    with (folder / "list.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([["Name"], *([letter] for letter in letters)])
    (folder / "order.toml").write_text(
        f"""title = "Letters"
list = {{ file = "list.csv", header = 1, columns = {{ name = "Name" }} }}
blank = {{ shape = "rectangle", width = 120.0, height = 120.0, thickness = 30.0 }}
cutter = {{ use = "{case.cutter}" }}
files = {{ grooves = true, curves = "splines" }}
limits = {{ land = 0.05 }}
finish = {{ sanded_off = {case.sanded}, compensate = true }}
[[line]]
text = "{{name}}"
face = "{case.face}"
cap_height = {case.cap}
""",
        encoding="utf-8",
    )
    return folder


def judged(case: Case, letters: Iterable[str], folder: Path, pixel: float = PIXEL) -> Iterator[Found | str]:
    """Return what the files of a case leave, by letter; a stopped letter as "letter: codes"."""
    done = run_order(order_of(case, letters, folder), workers=1)
    cutter = load_cutter_shelf()[case.cutter]
    slope = math.tan(math.radians(cutter.angle or 0.0) / 2)
    words = dict(done.outcome.cutter)
    for plaque in done.outcome.plaques:
        letter = plaque.text[0] if plaque.text else plaque.recipient.get_value("name")
        if not plaque.cut_file:
            yield f"{letter}: {', '.join(sorted({f.code for f in plaque.findings if f.severity == 'stop'}))}"
            continue
        space = ezdxf.readfile(folder / "out" / plaque.cut_file).modelspace()
        rings = [_ring(e) for e in space.query('LWPOLYLINE SPLINE[layer=="ENGRAVE"]')]
        grooves = [np.array([v.dxf.location.xyz for v in e.vertices]) for e in space.query('POLYLINE[layer=="GROOVE"]')]
        over, under, uncut = held(rings, grooves, cutter.tip / 2, slope, case.sanded, pixel)
        yield Found(
            letter=letter,
            over=over,
            under=under,
            uncut=uncut,
            deep_file=-min(float(g[:, 2].min()) for g in grooves),
            deep_report=plaque.measures[0].get_figure(GROOVE_DEPTH) or 0.0,
            deepest=float(words["deepest"]),
        )


def _ring(contour: LWPolyline | Spline) -> np.ndarray:
    """Return the corners of straight contours, and points of a spline, `PER_KNOT` from knot to knot."""
    if isinstance(contour, LWPolyline):
        return np.array(list(contour.vertices()))
    curve = contour.construction_tool()
    knots = np.unique(np.array(curve.knots()))
    along = np.concatenate([np.linspace(a, b, PER_KNOT, endpoint=False) for a, b in pairwise(knots)])
    return np.array([(p.x, p.y) for p in curve.points(along)])


def held(
    rings: list[np.ndarray], grooves: list[np.ndarray], tip: float, slope: float, sanded: float, pixel: float
) -> tuple[float, float, float]:
    """Return (overcut mm, undercut mm, uncut share) of circles painted along grooves, on a raster. tip: radius of
    the flat."""
    points = np.concatenate(rings)
    low = points.min(axis=0) - MARGIN
    size = tuple(int(n) for n in np.ceil((points.max(axis=0) + MARGIN - low) / pixel))
    art = _filled(size, [(ring - low) / pixel - 0.5 for ring in rings])
    cut = np.zeros(size, dtype=bool)
    for groove in grooves:
        for x, y, z in _dense(groove):
            _paint(cut, (x - low[0]) / pixel - 0.5, (y - low[1]) / pixel - 0.5, (tip + (-z - sanded) * slope) / pixel)
    over = _farthest(cut & ~art, art) * pixel
    middles = distance_transform_edt(art) * pixel - pixel / 2 >= tip
    fits = distance_transform_edt(~middles) * pixel <= tip
    under = _farthest(fits & ~cut, cut) * pixel
    return max(0.0, over - pixel / 2), max(0.0, under - pixel / 2), float((fits & ~cut).sum() / fits.sum())


def _filled(size: tuple[int, ...], rings: list[np.ndarray]) -> np.ndarray:
    """Fill the pixels whose centres are inside an odd number of rings: contours of a united outline are nested."""
    turns = np.zeros((size[0], size[1] + 1), dtype=np.int32)
    for ring in rings:
        for (x0, y0), (x1, y1) in pairwise(np.vstack((ring, ring[:1])).tolist()):
            if x0 != x1:
                rows = np.arange(math.ceil(min(x0, x1)), math.ceil(max(x0, x1)))
                up = np.ceil(y0 + (rows - x0) * (y1 - y0) / (x1 - x0)).astype(int)
                np.add.at(turns, (rows, np.clip(up, 0, size[1])), 1)
    return np.cumsum(turns, axis=1)[:, :-1] % 2 == 1


def _farthest(places: np.ndarray, of: np.ndarray) -> float:
    """Return how many pixels the farthest of some pixels is from a set of pixels."""
    if not places.any():
        return 0.0
    edge = of & ~binary_erosion(of)
    return float(cKDTree(np.argwhere(edge)).query(np.argwhere(places))[0].max())


def _dense(groove: np.ndarray) -> np.ndarray:
    if len(groove) == 1:
        return groove
    out = [groove[:1]]
    for a, b in pairwise(groove):
        n = max(1, math.ceil(math.dist(a, b) / STEP))
        out.append(a + (b - a) * (np.arange(1, n + 1) / n)[:, None])
    return np.concatenate(out)


def _paint(mask: np.ndarray, x: float, y: float, radius: float) -> None:
    x0, x1 = max(0, math.floor(x - radius)), min(mask.shape[0], math.ceil(x + radius) + 1)
    y0, y1 = max(0, math.floor(y - radius)), min(mask.shape[1], math.ceil(y + radius) + 1)
    across, up = np.arange(x0, x1)[:, None] - x, np.arange(y0, y1)[None, :] - y
    mask[x0:x1, y0:y1] |= across * across + up * up <= radius * radius


def main(pixel: float = PIXEL) -> None:
    """Yield the lines of the table as they are computed."""
    print("| face | letters | how | overcut | undercut | uncut | depth: file, report | deepest |")
    print("|---|---|---|---|---|---|---|---|")
    with tempfile.TemporaryDirectory() as base:
        for case, letters in chosen(60):
            found = list(judged(case, letters, Path(base) / case.face, pixel))
            good = [f for f in found if isinstance(f, Found)]
            stopped = [f for f in found if isinstance(f, str)]
            if not good:
                print(f"| {case.face} | {'; '.join(stopped)} |", flush=True)
                continue
            over, under, uncut = (max(getattr(f, name) for f in good) for name in ("over", "under", "uncut"))
            deep = max(good, key=lambda f: f.deep_file)
            apart = max(abs(f.deep_file - f.deep_report) for f in good)
            print(
                f"| {case.face} {case.cap:g} mm, {case.cutter} | {''.join(f.letter for f in good)} | {case.how} "
                f"{case.sanded or ''} | {over:.4f} | {under:.4f} | {100 * uncut:.2f} % | {deep.deep_file:.4f}, "
                f"{deep.deep_report:.4f} (apart {apart:.4f}) | {deep.deepest:.3f} | {'; '.join(stopped)}",
                flush=True,
            )


if __name__ == "__main__":
    main(*map(float, sys.argv[1:]))
