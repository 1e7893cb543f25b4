"""How alike two faces are, by their letters: overlap, thickness, width, contrast, slant.

Letters are compared one by one at one cap height. *Overlap*: ink of both by ink of either, after the candidate's
strokes were made as thick as the wanted ones, its letter as wide and as upright, so that it speaks of shape alone.
The measures come from the letters' bitmaps and are the same for a font and for a picture of lettering.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.geometry.regions import Region, polygon_of
from pipeline.lettering.face import Face
from pipeline.lettering.raster import RESOLUTION, Bitmap, draw, strokes
from pipeline.lettering.shaping import shape_row

DEFAULT_LETTERS = "HAMBURGEFONSTIVhamburgefonstiv" + "ΩΣαβθ" + "Жби" + "אבגשמ" + "عبدرحم" + "高橋美国"
"""Compared when there is no order to take letters from; those the wanted face has."""

MOST_LETTERS = 40
"""So many different letters are compared; more change nothing."""

WEIGHTS = {"overlap": 0.62, "width": 0.2, "contrast": 0.12, "stroke": 0.06}
"""What each measure counts in the likeness. Chosen on the shelf's faces and their bold and italic siblings: shape
decides, then proportions; how bold a face is counts least, since a face is chosen for its letters."""

SLANTS = np.radians(np.arange(-6, 28, 2.0))
"""Slants that are tried, from leaning back to the steepest italics."""

FLAT = 1 / 800
"""Cap heights by which flattened letters may be off."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Likeness:
    """How a candidate compares. Ratios are candidate by wanted; 1 is equal. `likeness` runs from 0 to 1."""

    name: str
    likeness: float
    overlap: float
    width: float  # ratio of ink widths
    stroke: float  # ratio of stroke thickness
    contrast: float  # ratio of thin-by-thick
    lacking: tuple[str, ...]  # compared letters it has not


class Letters:
    """A face's letters at one cap height, with their measures."""

    def __init__(self, regions: dict[str, Region]) -> None:
        """regions: letter to ink, in cap heights, baseline at y = 0."""
        self.regions = {letter: region for letter, region in regions.items() if not region.is_empty}

    @cached_property
    def bitmaps(self) -> dict[str, Bitmap]:
        return {letter: draw(region, RESOLUTION) for letter, region in self.regions.items()}

    @cached_property
    def thickness(self) -> tuple[float, float]:
        """Stroke in cap heights, and contrast: medians over the letters."""
        found = [s for bitmap in self.bitmaps.values() if (s := strokes(bitmap))]
        if not found:
            return 0.0, 1.0
        return float(np.median([s.middle for s in found])) / RESOLUTION, float(np.median([s.contrast for s in found]))

    @cached_property
    def slant(self) -> float:
        """Radians the letters lean to the right: the shear that gathers most ink into few columns."""
        return slant_of(list(self.bitmaps.values()))

    def upright(self, letter: str) -> Region:
        region = self.regions[letter]
        if abs(self.slant) < math.radians(3):
            return region
        lean = math.tan(self.slant)
        return shapely.transform(region, lambda p: p - np.column_stack((p[:, 1] * lean, np.zeros(len(p)))))


def letters_of(face: Face, characters: Sequence[str]) -> Letters:
    """A face's letters, those it has; a face of single lines gets the thickness of a fine point."""
    regions = {}
    for character in characters:
        if not face.covers(character):
            continue
        row = shape_row([face], character)
        outline = [p.moved(s.scale, s.x, s.y) for s in row.shapes for p in s.shape.outline]
        regions[character] = _region(face, outline)
    return Letters(regions)


def compared_letters(face: Face, text: str = "") -> tuple[str, ...]:
    """The letters that are compared: those of the text the face has (or a fixed choice), each once."""
    wanted = dict.fromkeys(c for c in (text or DEFAULT_LETTERS) if c.isalnum())
    return tuple([c for c in wanted if face.covers(c)][:MOST_LETTERS])


def compare(name: str, wanted: Letters, candidate: Letters) -> Likeness:
    """How alike a candidate's letters are to the wanted ones."""
    shared = [letter for letter in wanted.regions if letter in candidate.regions]
    lacking = tuple(letter for letter in wanted.regions if letter not in candidate.regions)
    if not shared:
        return Likeness(name=name, likeness=0, overlap=0, width=0, stroke=0, contrast=0, lacking=lacking)
    stroke, contrast = wanted.thickness
    own_stroke, own_contrast = candidate.thickness
    overlaps, widths = [], []
    for letter in shared:
        a, b = wanted.upright(letter), candidate.upright(letter)
        widths.append(math.log(_width(candidate.regions[letter]) / _width(wanted.regions[letter])))
        overlaps.append(overlap(a, b, (stroke - own_stroke) / 2))
    width = math.exp(float(np.median(widths)))
    spread = float(np.mean(np.abs(widths)))
    covered = len(shared) / (len(shared) + len(lacking))
    shape = float(np.mean(overlaps)) * covered
    parts = {
        "overlap": shape,
        "width": math.exp(-3 * spread),
        "contrast": math.exp(-abs(math.log(own_contrast / contrast))),
        "stroke": math.exp(-abs(math.log(own_stroke / stroke))),
    }
    return Likeness(
        name=name,
        likeness=sum(WEIGHTS[k] * v for k, v in parts.items()),
        overlap=shape,
        width=width,
        stroke=own_stroke / stroke,
        contrast=own_contrast / contrast,
        lacking=lacking,
    )


def overlap(wanted: Region, candidate: Region, grow: float) -> float:
    """Ink of both by ink of either; the candidate grown by `grow` (cap heights) and stretched to the wanted width."""
    b = candidate.buffer(grow, quad_segs=3) if abs(grow) > FLAT else candidate
    if b.is_empty:
        b = candidate
    x0, y0, x1, y1 = wanted.bounds
    u0, v0, u1, v1 = b.bounds
    stretch = min(2.0, max(0.5, (x1 - x0) / (u1 - u0))) if u1 > u0 else 1.0
    b = shapely.transform(b, lambda p: p * (stretch, 1.0) + ((x0 + x1) / 2 - (u0 + u1) / 2 * stretch, 0.0))
    box = (min(x0, b.bounds[0]), min(y0, v0), max(x1, b.bounds[2]), max(y1, v1))
    one, two = draw(wanted, RESOLUTION, box), draw(b, RESOLUTION, box)
    either = int((one | two).sum())
    return int((one & two).sum()) / either if either else 0.0


def slant_of(bitmaps: Sequence[Bitmap]) -> float:
    """Radians by which letters lean to the right, of the slants tried; stems stand upright in few full columns."""
    best, most = 0.0, -1.0
    for slant in SLANTS:
        total = sum(_gathered(bitmap, math.tan(float(slant))) for bitmap in bitmaps)
        if total > most * 1.02:
            best, most = float(slant), total
    return best


def _gathered(bitmap: Bitmap, lean: float) -> float:
    rows, columns = np.nonzero(bitmap)
    shifted = np.round(columns + lean * rows).astype(np.intp)  # rows count down from the top
    counts: NDArray[np.intp] = np.bincount(shifted - shifted.min()) if len(shifted) else np.zeros(1, dtype=np.intp)
    return float((counts.astype(float) ** 2).sum()) / max(1, bitmap.shape[0])


def _region(face: Face, outline: Sequence[object]) -> Region:
    if face.single_line:
        lines = [shapely.LineString(p.points if p.closed else p.points) for p in outline]  # type: ignore[attr-defined]
        region = shapely.union_all([line.buffer(face.cap_units * 0.03, quad_segs=3) for line in lines])
    else:
        region = polygon_of(outline, face.cap_units * FLAT)  # type: ignore[arg-type]
    return shapely.transform(region, lambda p: p / face.cap_units)


def _width(region: Region) -> float:
    x0, _, x1, _ = region.bounds
    return max(float(x1 - x0), FLAT)
