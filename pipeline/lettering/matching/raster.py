"""Letters as bitmaps of one cap height, the form into which both outlines and pictures can be converted.

A bitmap is a boolean array, rows from the top, at `RESOLUTION` pixels per cap height.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.curves import Array
from pipeline.geometry.regions import Region, list_region_rings

Bitmap = NDArray[np.bool_]

RESOLUTION = 80
"""Pixels per cap height. A hairline of a didone is then a pixel wide and still visible."""


def fill_rings(rings: Sequence[Array], x0: float, y0: float, width: int, height: int) -> Bitmap:
    """Fill rings (pixels, y up, no overlaps): a pixel is ink when its centre lies inside (even-odd rule).

    The bitmap's lower left corner lies at (x0, y0).
    """
    marks = np.zeros((height, width + 1), dtype=np.int32)
    for ring in rings:
        a = ring - (x0, y0)
        b = np.roll(a, -1, axis=0)
        low, high = np.minimum(a[:, 1], b[:, 1]), np.maximum(a[:, 1], b[:, 1])
        first = np.clip(np.ceil(low - 0.5), 0, height).astype(np.intp)
        last = np.clip(np.ceil(high - 0.5), 0, height).astype(np.intp)  # it crosses the rows first <= row < last
        count = last - first
        edge = np.repeat(np.arange(len(a)), count)
        row = np.repeat(first, count) + np.arange(len(edge)) - np.repeat(np.cumsum(count) - count, count)
        t = (row + 0.5 - a[edge, 1]) / (b[edge, 1] - a[edge, 1])
        x = a[edge, 0] + t * (b[edge, 0] - a[edge, 0])
        column = np.clip(np.ceil(x - 0.5), 0, width).astype(np.intp)
        np.add.at(marks, (row, column), 1)
    filled: Bitmap = (np.cumsum(marks, axis=1)[:, :width] % 2 == 1)[::-1]
    return filled


def draw_region(region: Region, resolution: float, box: tuple[float, float, float, float] | None = None) -> Bitmap:
    """Draw a region in cap heights as a bitmap of `resolution` pixels per cap height, over `box` (cap heights) or its
    own bounding box."""
    rings = [ring * resolution for ring in list_region_rings(region)]
    if not rings and box is None:
        return np.zeros((0, 0), dtype=bool)
    x0, y0, x1, y1 = (v * resolution for v in (box or region.bounds))
    left, bottom = np.floor(x0), np.floor(y0)
    return fill_rings(rings, float(left), float(bottom), int(np.ceil(x1) - left), int(np.ceil(y1) - bottom))


@dataclass(frozen=True, slots=True)
class StrokeThickness:
    """The thickness of a bitmap's strokes in pixels, weighted by stroke length."""

    thin: float  # 10th percentile of stroke thickness
    middle: float
    thick: float  # 90th percentile

    @property
    def contrast(self) -> float:
        """Return the ratio of thin to thick: 1 for a monoline, about .1 for a didone."""
        return self.thin / self.thick if self.thick else 1.0


def measure_thickness(bitmap: Bitmap) -> StrokeThickness | None:
    """Measure the thickness at each ink pixel: its shortest horizontal, vertical or diagonal run of ink.

    None without ink. Every pixel is weighted by the inverse of its thickness, so that a length of hairline counts as
    much as a length of stem.
    """
    if not bitmap.any():
        return None
    root2 = float(np.sqrt(2))
    level = _measure_runs(bitmap)
    upright = _measure_runs(bitmap.T).T
    falling = _unshear(_measure_runs(_shear(bitmap).T).T, bitmap.shape[1]) * root2
    rising = _unshear(_measure_runs(_shear(bitmap[:, ::-1]).T).T, bitmap.shape[1])[:, ::-1] * root2
    thickness = np.minimum(np.minimum(level, upright), np.minimum(falling, rising))[bitmap]
    order = np.sort(thickness)
    weight = np.cumsum(1 / order)
    at = np.searchsorted(weight, np.array([0.1, 0.5, 0.9]) * weight[-1])
    thin, middle, thick = (float(order[i]) for i in at)
    return StrokeThickness(thin, middle, thick)


def _measure_runs(bitmap: Bitmap) -> NDArray[np.float64]:
    """Measure the horizontal run of ink that each ink pixel lies in; 0 elsewhere."""
    padded = np.zeros((bitmap.shape[0], bitmap.shape[1] + 2), dtype=np.int8)
    padded[:, 1:-1] = bitmap
    change = np.diff(padded, axis=1)
    rows, starts = np.nonzero(change == 1)
    _, ends = np.nonzero(change == -1)
    out = np.zeros(bitmap.shape)
    lengths = ends - starts
    flat = np.repeat(rows * bitmap.shape[1] + starts, lengths) + _enumerate_within(lengths)
    out.ravel()[flat] = np.repeat(lengths, lengths)
    return out


def _enumerate_within(lengths: NDArray[np.intp]) -> NDArray[np.intp]:
    total = int(lengths.sum())
    out: NDArray[np.intp] = np.arange(total) - np.repeat(np.cumsum(lengths) - lengths, lengths)
    return out


def _shear(bitmap: Bitmap) -> Bitmap:
    """Shift each row right by its index, so that diagonals become vertical."""
    height, width = bitmap.shape
    out = np.zeros((height, width + height), dtype=bool)
    for row in range(height):
        out[row, row : row + width] = bitmap[row]
    return out


def _unshear(values: NDArray[np.float64], width: int) -> NDArray[np.float64]:
    return np.stack([line[row : row + width] for row, line in enumerate(values)]) if len(values) else values
