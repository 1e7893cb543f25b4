"""Similarity of two typefaces by their letters: overlap, thickness, width, contrast, slant.

Letters are compared one by one at the same cap height. *Overlap*: ink of both by ink of either, after the candidate's
strokes were made as thick as the wanted ones, its letter as wide and as upright, so that it speaks of shape alone. The
measures come from the letters' bitmaps and are the same for a font and for a picture of lettering.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.core.model import ShapedRow
from pipeline.geometry.flatten import flatten
from pipeline.geometry.regions import Region, build_polygon_from_outline
from pipeline.lettering.matching.raster import RESOLUTION, Bitmap, draw_region, measure_thickness
from pipeline.lettering.shaping import shape_row
from pipeline.lettering.text_runs import get_script
from pipeline.lettering.typeface import Typeface

DEFAULT_LETTERS = "HAMBURGEFONSTIVhamburgefonstiv" + "ΩΣαβθ" + "Жби" + "אבגשמ" + "عبدرحم" + "高橋美国"
"""Letters compared when there is no order to take them from, as far as the wanted typeface has them."""

MOST_LETTERS = 40
"""Most different letters that are compared; more change nothing."""

WEIGHTS = {"overlap": 0.62, "width": 0.2, "contrast": 0.12, "stroke": 0.06}
"""Weight of each measure in the likeness. Chosen on the shelf's typefaces and their bold and italic siblings: shape
decides, then proportions; boldness counts least, since a typeface is chosen for its letters."""

SURE, FAIRLY = 0.04, 0.015
"""Lead of the first over the second that counts as sure, or fairly sure; among the shelf's typefaces, their siblings
and their pictures, none was mistaken with a lead of .015 or more."""

STRUCTURE = (
    (0.8, "letters nearly the same"),
    (0.7, "letters alike"),
    (0.6, "letters somewhat alike"),
    (0.0, "other letters"),
)
"""Least overlap for each word: siblings on the shelf reach .8, typefaces of one style .65 to .75."""

CONTRAST_SEEN = math.log(1.2)
"""Smaller differences in contrast count as equal."""

ALIKE = 0.55
"""Below this, even the first isn't called similar: two typefaces of different kinds (a slab and a script) reach .5."""

COARSE = 24
"""Fewest pixels from lowest to highest ink for a reliable picture."""

SLANTS = np.radians(np.arange(-6, 28, 2.0))
"""Slants that are tried, from backslant to the steepest italics."""

FINE_POINT = 0.06
"""Assumed width of a single line, in cap heights: a point of .25 mm on letters of 4 mm."""

FLAT = 1 / 800
"""Flattening tolerance, in cap heights."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Likeness:
    """The comparison of a candidate. Ratios are candidate to wanted; 1 is equal. `likeness` ranges from 0 to 1."""

    name: str
    likeness: float
    overlap: float
    width: float  # ratio of ink widths
    stroke: float  # ratio of stroke thickness
    contrast: float  # ratio of thin stroke to thick stroke
    lacking: tuple[str, ...]  # compared letters that the typeface lacks


class MeasuredLetters:
    """A typeface's letters at one cap height, with their measures."""

    def __init__(self, regions: dict[str, Region]) -> None:
        """regions: letter to ink, in cap heights, baseline at y = 0."""
        self.regions = {letter: region for letter, region in regions.items() if not region.is_empty}

    @cached_property
    def bitmaps(self) -> dict[str, Bitmap]:
        return {letter: draw_region(region, RESOLUTION) for letter, region in self.regions.items()}

    @cached_property
    def thickness(self) -> tuple[float, float]:
        """Return stroke thickness in cap heights, and contrast: medians over the letters."""
        found = [s for bitmap in self.bitmaps.values() if (s := measure_thickness(bitmap))]
        if not found:
            return 0.0, 1.0
        return float(np.median([s.middle for s in found])) / RESOLUTION, float(np.median([s.contrast for s in found]))

    @cached_property
    def slant(self) -> float:
        """Return the slant to the right, in radians: the shear that gathers most ink into few columns."""
        return estimate_slant(list(self.bitmaps.values()))

    def straighten(self, letter: str) -> Region:
        region = self.regions[letter]
        if abs(self.slant) < math.radians(3):
            return region
        lean = math.tan(self.slant)
        return shapely.transform(region, lambda p: p - np.column_stack((p[:, 1] * lean, np.zeros(len(p)))))


def measure_letters(face: Typeface, characters: Sequence[str]) -> MeasuredLetters:
    """Measure the letters that a typeface has; a single-line typeface gets the thickness of a fine point."""
    regions = {}
    for character in characters:
        if not face.covers(character):
            continue
        regions[character] = compute_row_ink(face, shape_row([face], character))
    return MeasuredLetters(regions)


def compute_row_ink(face: Typeface, row: ShapedRow) -> Region:
    """Return a set row's ink in cap heights; for a single-line typeface, as cut by a fine point."""
    parts = []
    for placed in row.shapes:
        outline = [p.transform(placed.scale, placed.x, placed.y) for p in placed.shape.outline]
        if face.single_line:
            lines = [shapely.LineString(line) for line in flatten(outline, face.cap_units * FLAT) if len(line) > 1]
            parts.append(shapely.union_all(lines).buffer(face.cap_units * FINE_POINT / 2, quad_segs=3))
        else:
            parts.append(build_polygon_from_outline(outline, face.cap_units * FLAT))
    return shapely.transform(shapely.union_all(parts), lambda p: p / face.cap_units)


def choose_letters_to_compare(face: Typeface, text: str = "") -> tuple[str, ...]:
    """Choose the letters to compare: those of the text that the typeface has (or a fixed choice), each once."""
    wanted = dict.fromkeys(c for c in (text or DEFAULT_LETTERS) if c.isalnum())
    return tuple([c for c in wanted if face.covers(c)][:MOST_LETTERS])


def compare_faces(name: str, wanted: MeasuredLetters, candidate: MeasuredLetters) -> Likeness:
    """Compare a candidate's letters with the wanted ones."""
    shared = [letter for letter in wanted.regions if letter in candidate.regions]
    lacking = tuple(letter for letter in wanted.regions if letter not in candidate.regions)
    if not shared:
        return Likeness(name=name, likeness=0, overlap=0, width=0, stroke=0, contrast=0, lacking=lacking)
    stroke, contrast = wanted.thickness
    own_stroke, own_contrast = candidate.thickness
    overlaps, widths = [], []
    for letter in shared:
        a, b = wanted.straighten(letter), candidate.straighten(letter)
        widths.append(math.log(_measure_width(candidate.regions[letter]) / _measure_width(wanted.regions[letter])))
        overlaps.append(compute_overlap(a, b, (stroke - own_stroke) / 2))
    width = math.exp(float(np.median(widths)))
    spread = float(np.mean(np.abs(widths)))
    covered = len(shared) / (len(shared) + len(lacking))
    shape = float(np.mean(overlaps)) * covered
    return compute_likeness(
        name,
        overlap=shape,
        width=width,
        spread=spread,
        stroke=own_stroke / stroke,
        contrast=own_contrast / contrast,
        lacking=lacking,
    )


def compute_likeness(
    name: str,
    *,
    overlap: float,
    width: float,
    spread: float,
    stroke: float,
    contrast: float,
    lacking: tuple[str, ...] = (),
) -> Likeness:
    """Combine the measures into a likeness. spread: deviation of the widths, as the mean of |log ratio|."""
    parts = {
        "overlap": overlap,
        "width": math.exp(-3 * spread),
        "contrast": math.exp(-abs(math.log(contrast))),
        "stroke": math.exp(-abs(math.log(stroke))),
    }
    likeness = sum(WEIGHTS[k] * v for k, v in parts.items())
    return Likeness(
        name=name,
        likeness=likeness,
        overlap=overlap,
        width=width,
        stroke=stroke,
        contrast=contrast,
        lacking=lacking,
    )


def sort_ranking(found: Iterable[Likeness], faces: Mapping[str, Typeface], letters: Sequence[str]) -> list[Likeness]:
    """Sort the most similar first. faces: by name. A typeface drawn for a script that none of the compared letters has
    comes last, whatever letters it contains."""
    wanted = {get_script(letter) for letter in letters}

    def rank(one: Likeness) -> tuple[bool, float, str]:
        source = faces[one.name].shelf_face
        return source is not None and source.scripts[0] not in wanted, -one.likeness, one.name

    return sorted(found, key=rank)


def place_with_ties(ranked: Sequence[Likeness]) -> list[int]:
    """Return the rank of each, counted from 1; those less than FAIRLY behind the first at a rank share it."""
    places: list[int] = []
    best = math.inf
    for number, found in enumerate(ranked, 1):
        tied = bool(places) and best - found.likeness < FAIRLY
        places.append(places[-1] if tied else number)
        best = best if tied else found.likeness
    return places


def describe_likeness(found: Likeness) -> str:
    """Explain a typeface's rank: structure, width, weight, contrast."""
    structure = next(words for least, words in STRUCTURE if found.overlap >= least)
    width = _compare_words(found.width, 0.05, "as wide", "wider", "narrower")
    weight = _compare_words(found.stroke, 0.1, "as bold", "bolder", "lighter")
    contrast = "as much contrast"
    if abs(math.log(found.contrast or 1.0)) > CONTRAST_SEEN:  # a higher ratio of thin to thick is less contrast
        contrast = "less contrast" if found.contrast > 1 else "more contrast"
    return f"{structure}, {width}, {weight}, {contrast}"


def _compare_words(ratio: float, same: float, equal: str, more: str, less: str) -> str:
    if abs(ratio - 1) <= same:
        return equal
    return f"{abs(ratio - 1) * 100:.0f} % {more if ratio > 1 else less}"


def judge_ranking(ranked: Sequence[Likeness], pixels: int | None = None) -> str:
    """Describe whether the first of a ranking stands out. pixels: height of the picture it was ranked by."""
    if pixels is not None and pixels < COARSE:
        return f"not sure: the picture is coarse, {pixels} pixels high; scan it finer"
    if not ranked or ranked[0].likeness == 0:
        return "no face of the shelf has these letters"
    first, second = ranked[0], ranked[1] if len(ranked) > 1 else None
    if first.likeness < ALIKE:
        return f"none of the shelf is much like it; {first.name} is the least unlike"
    lead = first.likeness - (second.likeness if second else 0.0)
    if second is None or lead >= SURE:
        return f"sure: {first.name} is clearly ahead"
    if lead >= FAIRLY:
        return f"fairly sure: {first.name} is ahead of {second.name}, not by much"
    return f"not sure: {first.name} and {second.name} are about as like; look at both"


def compute_overlap(wanted: Region, candidate: Region, grow: float) -> float:
    """Return the overlap, intersection over union; the candidate is grown by `grow` (cap heights) and stretched to the
    wanted width."""
    b = candidate.buffer(grow, quad_segs=3) if abs(grow) > FLAT else candidate
    if b.is_empty:
        b = candidate
    x0, y0, x1, y1 = wanted.bounds
    u0, v0, u1, v1 = b.bounds
    stretch = min(2.0, max(0.5, (x1 - x0) / (u1 - u0))) if u1 > u0 else 1.0
    b = shapely.transform(b, lambda p: p * (stretch, 1.0) + ((x0 + x1) / 2 - (u0 + u1) / 2 * stretch, 0.0))
    box = (min(x0, b.bounds[0]), min(y0, v0), max(x1, b.bounds[2]), max(y1, v1))
    one, two = draw_region(wanted, RESOLUTION, box), draw_region(b, RESOLUTION, box)
    either = int((one | two).sum())
    return int((one & two).sum()) / either if either else 0.0


def estimate_slant(bitmaps: Sequence[Bitmap]) -> float:
    """Estimate the slant to the right, in radians, among the slants tried: upright stems fill few columns."""
    best, most = 0.0, -1.0
    for slant in SLANTS:
        total = sum(_rate_gathering(bitmap, math.tan(float(slant))) for bitmap in bitmaps)
        if total > most * 1.02:
            best, most = float(slant), total
    return best


def _rate_gathering(bitmap: Bitmap, lean: float) -> float:
    rows, columns = np.nonzero(bitmap)
    shifted = np.round(columns + lean * rows).astype(np.intp)  # rows count down from the top
    counts: NDArray[np.intp] = np.bincount(shifted - shifted.min()) if len(shifted) else np.zeros(1, dtype=np.intp)
    squares = float(np.dot(counts, counts))
    return squares / max(1, len(bitmap))


def _measure_width(region: Region) -> float:
    x0, _, x1, _ = region.bounds
    return max(float(x1 - x0), FLAT)
