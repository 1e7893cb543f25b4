"""Measure how well glyphs are fitted: a seeded sample of the shelf's glyphs, with distances by dense sampling that
shares no code with the fit or with its own measure.

As a program: `python -m tests.geometry.glyph_fit [--glyphs 2000] [--seed 1]`.
"""

from __future__ import annotations

import argparse
import random
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import atan, comb

import numpy as np
from scipy.spatial import KDTree

from pipeline.core.model import GlyphUse, Shape
from pipeline.cutting.contours import fit_contours
from pipeline.geometry.curves import Chain, Outline, Path
from pipeline.lettering.font_face import FontFace, open_face
from pipeline.lettering.shelf import Shelf

TOLERANCE, CAP_HEIGHT = 0.01, 8.0
"""mm: the default tolerance, on letters of a size usual on plaques."""
SAMPLES = 3
"""Places along a curve to a tolerance."""


@dataclass(frozen=True)
class Found:
    """One glyph. Distances as fractions of the tolerance, measured both ways; number of vertices with arcs and with
    chords."""

    face: str
    glyph: str
    arcs: float
    lines: float
    said: float  # what the fit reports about itself, the worse of both kinds
    vertices: tuple[int, int]


def drawn(count: int, seed: int) -> Iterator[tuple[str, str, Shape]]:
    """Draw glyphs with ink from the shelf's outline typefaces: equally many from each, none twice."""
    shelf = Shelf()
    faces = [open_face(name, shelf=shelf) for name in sorted(shelf.names) if shelf[name].kind == "outline"]
    chance = random.Random(seed)
    order = [chance.sample(range(face.font.face.glyph_count), face.font.face.glyph_count) for face in faces]
    given, turn = 0, 0
    while given < count and any(order):
        face, left = faces[turn % len(faces)], order[turn % len(faces)]
        turn += 1
        while left:
            glyph = left.pop()
            ink = face.draw_glyph(glyph)
            if ink.outline:
                yield face.name, face.get_glyph_name(glyph), _shape(face, glyph, ink.outline)
                given += 1
                break


def _shape(face: FontFace, glyph: int, outline: Outline) -> Shape:
    use = (GlyphUse(glyph=glyph, name=face.get_glyph_name(glyph), text=""),)
    return Shape(
        key=f"{face.name}:{glyph}",
        outline=outline,
        glyphs=use,
        units_per_em=face.units_per_em,
        cap_units=face.cap_units,
    )


def measured(face: str, glyph: str, shape: Shape) -> Found:
    """Fit a glyph both ways and measure both."""
    tolerance = TOLERANCE * shape.cap_units / CAP_HEIGHT
    fits = [fit_contours(shape, kind, tolerance) for kind in ("arcs", "lines")]
    outline = along_outline(shape.outline, tolerance / SAMPLES)
    off = [apart(outline, along_chains(fit.contours, tolerance / SAMPLES)) / tolerance for fit in fits]
    counts = tuple(sum(len(c.vertices) for c in fit.contours) for fit in fits)
    said = max(fit.deviation for fit in fits) / tolerance
    return Found(face, glyph, off[0], off[1], said, (counts[0], counts[1]))


Runs = list[np.ndarray]


def along_outline(outline: Sequence[Path], step: float) -> Runs:
    """Return points along every contour, at most `step` apart: Béziers by Bernstein polynomials."""
    out = []
    for path in outline:
        parts = []
        for points in path.list_segments():
            n = len(points) - 1
            length = np.hypot(*np.diff(points, axis=0).T).sum()
            t = np.linspace(0, 1, max(2, int(n * length / step) + 2))[:, None]
            parts.append(sum(comb(n, k) * (1 - t) ** (n - k) * t**k * points[k] for k in range(n + 1)))
        out.append(np.concatenate(parts))
    return out


def along_chains(chains: Sequence[Chain], step: float) -> Runs:
    """Places along lines and arcs: p + (q - p) (e^(iaf) - 1) / (e^(ia) - 1) at part f of an arc of angle a = 4 atan b
    (published DXF reference: b = tan(a / 4))."""
    out = []
    for chain in chains:
        z = chain.vertices[:, 0] + 1j * chain.vertices[:, 1]
        ends = np.roll(z, -1) if chain.closed else z[1:]
        parts = []
        for p, q, b in zip(z, ends, chain.vertices[:, 2], strict=False):
            f = np.linspace(0, 1, int(abs(q - p) * (1 + abs(b)) * 1.6 / step) + 2)
            share = f if b == 0 else (np.exp(4j * atan(b) * f) - 1) / (np.exp(4j * atan(b)) - 1)
            parts.append(p + (q - p) * share)
        line = np.concatenate(parts)
        out.append(np.column_stack((line.real, line.imag)))
    return out


def apart(a: Runs, b: Runs) -> float:
    """Return the greatest distance of one from the other, both ways; contours are matched by proximity."""
    return max(_one_way(a, b), _one_way(b, a))


def _one_way(places: Runs, runs: Runs) -> float:
    """Return the distance to the chords beside the nearest point, so that the step doesn't add to it."""
    there = np.concatenate(runs)
    before = np.concatenate([np.roll(run, 1, axis=0) for run in runs])
    after = np.concatenate([np.roll(run, -1, axis=0) for run in runs])
    here = np.concatenate(places)
    _, near = KDTree(there).query(here)
    sides = [_to_chord(here, there[near], other[near]) for other in (before, after)]
    return float(np.minimum(*sides).max())


def _to_chord(x: np.ndarray, p: np.ndarray, q: np.ndarray) -> np.ndarray:
    d = q - p
    length = (d**2).sum(axis=1)
    t = np.clip(((x - p) * d).sum(axis=1) / np.where(length > 0, length, 1), 0, 1)
    return np.hypot(*(x - p - t[:, None] * d).T)


def main() -> int:
    asked = argparse.ArgumentParser()
    asked.add_argument("--glyphs", type=int, default=2000)
    asked.add_argument("--seed", type=int, default=1)
    args = asked.parse_args()
    start = time.perf_counter()
    found = [measured(*glyph) for glyph in drawn(args.glyphs, args.seed)]
    for kind in ("arcs", "lines"):
        worst = max(found, key=lambda f: getattr(f, kind))
        share = [getattr(f, kind) for f in found]
        print(
            f"{kind}: {len(found)} glyphs, worst {max(share):.4f} of the tolerance ({worst.face}, {worst.glyph}), "
            f"median {np.median(share):.3f}, over it {sum(s > 1 for s in share)}"
        )
    arcs, lines = (sum(f.vertices[k] for f in found) for k in (0, 1))
    low = min(f.said - max(f.arcs, f.lines) for f in found)
    print(
        f"vertices: {arcs} of arcs, {lines} of chords ({arcs / lines:.1%}); what a fit says of itself is at most "
        f"{-low:.4f} of the tolerance too little; {time.perf_counter() - start:.0f} s"
    )
    return int(any(max(f.arcs, f.lines) > 1 for f in found))


if __name__ == "__main__":
    raise SystemExit(main())
