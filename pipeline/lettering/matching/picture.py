"""Comparison of a scan or screenshot of a known text with typefaces, by the measures used for fonts.

The text is set in each typeface and drawn as high as the picture's ink. As the letters of a picture aren't segmented,
the two are aligned column by column (dynamic time warping): similar letters match although the spacing differs.
"""

from __future__ import annotations

import io
import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from pipeline.core.errors import CannotRun, Fault
from pipeline.core.required import require_value
from pipeline.core.storage.files import read_plain
from pipeline.geometry.regions import Region
from pipeline.lettering.matching.likeness import (
    FLAT,
    SLANTS,
    Likeness,
    compute_likeness,
    compute_row_ink,
    estimate_slant,
)
from pipeline.lettering.matching.raster import Bitmap, draw_region, measure_thickness
from pipeline.lettering.shaping import shape_row
from pipeline.lettering.typeface import Typeface

LINE_PIXELS = 64
"""Ink height, in pixels, to which pictures are reduced: columns are then as fine as hairlines."""

SUFFIXES = (".png", ".jpg", ".jpeg", ".tif", ".tiff", ".bmp", ".webp")
"""Suffixes that distinguish a picture from a font."""

_BAND = 0.12  # share of the line's width by which columns may be shifted against each other
_STEP_COST = 0.02  # cost of repeating a column, which discourages needless stretching
_TILTS = np.radians(np.arange(-3.0, 3.01, 0.25))
_LARGEST = 40_000_000  # pixels; a page at 600 dpi has 35 million


@dataclass(frozen=True, slots=True, eq=False)
class PictureLettering:
    """A picture's line of lettering: its ink (rows from the top, cropped), and properties of the picture."""

    ink: Bitmap
    pixels: int  # height of the ink in the picture itself
    tilt: float  # tilt of the line, radians, already corrected


def read_picture(path: Path, where: str = "") -> PictureLettering:
    """Read dark lettering on a light ground (or light on dark) from a picture file; a tilt of up to 3° is corrected.

    CannotRun when the file isn't a picture or holds no lettering.
    """
    where = where or str(path)
    from PIL import Image, UnidentifiedImageError

    try:
        with Image.open(io.BytesIO(read_plain(path))) as opened:
            if opened.width * opened.height > _LARGEST:
                found = f"the picture has {opened.width} × {opened.height} pixels"
                raise CannotRun(
                    Fault(where=where, found=found, expected="a picture of one line", remedy="cut the line out")
                )
            whole = opened.convert("RGBA")
    except (UnidentifiedImageError, OSError, Image.DecompressionBombError) as problem:
        raise CannotRun(
            Fault(where=where, found=f"cannot be read as a picture ({problem})", expected="a PNG file")
        ) from problem
    paper = Image.new("RGBA", whole.size, "white")
    grey = np.asarray(Image.alpha_composite(paper, whole).convert("L"), dtype=np.float64)
    ink = _find_ink(grey)
    if ink is None:
        raise CannotRun(Fault(where=where, found="no lettering can be told from the ground",
                              expected="one line of dark lettering on light ground, or the reverse",
                              remedy="scan it again with more contrast, and cut the line out"))  # fmt: skip
    tilt = _estimate_tilt(ink)
    if tilt:
        turned = Image.fromarray((~ink * 255).astype(np.uint8)).rotate(
            math.degrees(-tilt), resample=Image.Resampling.BICUBIC, expand=True, fillcolor=255
        )
        ink = np.asarray(turned) < 128
    ink = _crop(_remove_dirt(ink))
    pixels = ink.shape[0]
    if pixels > LINE_PIXELS:
        factor = LINE_PIXELS / pixels
        small = Image.fromarray((~ink * 255).astype(np.uint8)).resize(
            (max(1, round(ink.shape[1] * factor)), LINE_PIXELS), resample=Image.Resampling.BOX
        )
        ink = _crop(np.asarray(small) < 128)
    return PictureLettering(ink=ink, pixels=pixels, tilt=tilt)


def compare_line(
    name: str, wanted: PictureLettering, face: Typeface, text: str, language: str | None = None
) -> Likeness:
    """Compare a typeface's setting of the text with the picture's."""
    row = shape_row([face], text, language=language)
    if row.missing or row.ink is None:
        return Likeness(name=name, likeness=0, overlap=0, width=0, stroke=0, contrast=0, lacking=row.missing)
    region = compute_row_ink(face, row)
    height = wanted.ink.shape[0]
    theirs = require_value(
        measure_thickness(wanted.ink), "the ink of the picture's line"
    )  # `read_line` refuses a picture without ink
    lean = estimate_slant([wanted.ink])
    own = measure_thickness(_draw_region(region, height))
    if own is None:  # its strokes vanish at this size
        return Likeness(name=name, likeness=0, overlap=0, width=0, stroke=0, contrast=0, lacking=row.missing)
    own_lean = estimate_slant([_draw_region(region, height)])
    grow = (theirs.middle - own.middle) / 2 * _measure_extent(region) / height
    grown = region.buffer(grow, quad_segs=3) if abs(grow) > FLAT else region
    alike = _draw_region(grown if not grown.is_empty else region, height)
    width = alike.shape[1] / wanted.ink.shape[1]
    stretched = _stretch(_shear_upright(alike, own_lean), _shear_upright(wanted.ink, lean).shape[1])
    shape = compute_column_overlap(_shear_upright(wanted.ink, lean), stretched)
    return compute_likeness(
        name,
        overlap=shape,
        width=width,
        spread=abs(math.log(width)),
        stroke=own.middle / theirs.middle,
        contrast=own.contrast / theirs.contrast,
    )


def compute_column_overlap(one: Bitmap, other: Bitmap) -> float:
    """Return intersection over union of the ink, with columns paired in order so that the sum of their differences is
    least."""
    a, b = one.astype(np.float32), other.astype(np.float32)
    both = a.T @ b
    either = a.sum(axis=0)[:, None] + b.sum(axis=0)[None, :] - both
    cost = np.where(either > 0, (either - both) / np.maximum(either, 1), 0.0)
    i, j = _pair_columns(cost)
    total = float(either[i, j].sum())
    return float(both[i, j].sum()) / total if total else 0.0


def _pair_columns(cost: NDArray[np.floating]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Find the cheapest monotone pairing of rows with columns, within a band round the diagonal."""
    n, m = cost.shape
    band = max(4, int(_BAND * max(n, m))) + abs(n - m)
    best = np.full((n + 1, m + 1), np.inf)
    best[0, 0] = 0.0
    came = np.zeros((n, m), dtype=np.int8)
    for total in range(n + m - 1):  # along antidiagonals, so that each is one array operation
        i = np.arange(max(0, total - m + 1), min(n, total + 1))
        j = total - i
        keep = np.abs(i * m - j * n) <= band * max(n, m)
        i, j = i[keep], j[keep]
        ways = np.stack((best[i, j], best[i, j + 1] + _STEP_COST, best[i + 1, j] + _STEP_COST))
        way = ways.argmin(axis=0)
        came[i, j] = way
        best[i + 1, j + 1] = ways[way, np.arange(len(i))] + cost[i, j]
    i, j = n - 1, m - 1
    rows, columns = [], []
    while i >= 0 and j >= 0:
        rows.append(i)
        columns.append(j)
        way = came[i, j]
        i, j = i - int(way != 2), j - int(way != 1)
    return np.array(rows[::-1]), np.array(columns[::-1])


# --- the picture ----------------------------------------------------------------------------------------------------


def _find_ink(grey: NDArray[np.float64]) -> Bitmap | None:
    """Find the ink by Otsu's threshold (1979); the picture's rim counts as the ground."""
    counts, _ = np.histogram(grey, bins=256, range=(0, 256))
    levels = np.arange(256)
    below = np.cumsum(counts)
    above = below[-1] - below
    mean_below = np.cumsum(counts * levels) / np.maximum(below, 1)
    mean_above = ((counts * levels).sum() - np.cumsum(counts * levels)) / np.maximum(above, 1)
    between = below * above * (mean_below - mean_above) ** 2
    level = int(between.argmax())
    if mean_above[level] - mean_below[level] < 40:  # grey levels of 256: too little to tell ink from its ground
        return None
    dark: Bitmap = grey <= level
    rim = np.concatenate((dark[0], dark[-1], dark[:, 0], dark[:, -1]))
    if rim.mean() > 0.5:
        dark = ~dark
    return dark if 0 < dark.sum() < dark.size * 0.9 else None


def _estimate_tilt(ink: Bitmap) -> float:
    """Estimate the turn that makes the line level: the upper and lower limits of the letters are then sharpest."""
    rows, columns = np.nonzero(ink)
    if len(rows) > 200_000:
        pick = slice(None, None, len(rows) // 200_000 + 1)
        rows, columns = rows[pick], columns[pick]
    best, most = 0.0, -1.0
    for tilt in sorted(_TILTS.tolist(), key=abs):
        level = np.round(rows + columns * math.tan(tilt)).astype(np.intp)
        profile = np.bincount(level - level.min())
        sharp = float((np.diff(profile).astype(float) ** 2).sum())
        if sharp > most * 1.05:
            best, most = float(tilt), sharp
    return best


def _remove_dirt(ink: Bitmap) -> Bitmap:
    """Remove rows and columns at the rim with hardly any ink: dust, not lettering."""
    rows = ink.sum(axis=1)
    least = max(1, int(0.002 * ink.shape[1]))
    keep = np.nonzero(rows > least)[0]
    return ink[keep[0] : keep[-1] + 1] if len(keep) else ink


def _crop(ink: Bitmap) -> Bitmap:
    rows, columns = np.nonzero(ink.any(axis=1))[0], np.nonzero(ink.any(axis=0))[0]
    return ink[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]


# --- the face's line ------------------------------------------------------------------------------------------------


def _measure_extent(region: Region) -> float:
    return float(region.bounds[3] - region.bounds[1])


def _draw_region(region: Region, height: int) -> Bitmap:
    bitmap = draw_region(region, height / _measure_extent(region))
    return bitmap[:height] if bitmap.shape[0] >= height else np.pad(bitmap, ((0, height - bitmap.shape[0]), (0, 0)))


def _shear_upright(bitmap: Bitmap, lean: float) -> Bitmap:
    if abs(lean) < float(SLANTS[1] - SLANTS[0]):
        return bitmap
    shift = np.round(math.tan(lean) * np.arange(bitmap.shape[0])).astype(int)
    shift -= shift.min()
    out = np.zeros((bitmap.shape[0], bitmap.shape[1] + int(shift.max())), dtype=bool)
    for row, by in enumerate(shift):
        out[row, by : by + bitmap.shape[1]] = bitmap[row]
    return out


def _stretch(bitmap: Bitmap, width: int) -> Bitmap:
    columns = np.minimum((np.arange(width) + 0.5) * bitmap.shape[1] / width, bitmap.shape[1] - 1).astype(np.intp)
    return bitmap[:, columns]
