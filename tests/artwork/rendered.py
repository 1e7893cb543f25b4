"""SVG files rendered by resvg (independent of ours), and measurements of the pictures."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import resvg_py
from PIL import Image
from scipy import ndimage
from skimage.morphology import medial_axis

from pipeline.artwork.drawn_artwork import DrawnArtwork
from pipeline.artwork.svg_curves import read_svg_artwork
from pipeline.geometry.flatten import outline_area

SIDE = 1024
"""Pixels of a picture's width."""

SLOPE = 0.35
"""Change of the distance along the axis up to which a place lies across a stroke: half that of a right angle."""


def picture(svg: str, side: int = SIDE) -> np.ndarray:
    """Return the darkness of each pixel, 0 to 1, of the drawing on white paper."""
    png = resvg_py.svg_to_bytes(svg_string=svg, background="#ffffff", width=side, dpi=96)
    grey = np.asarray(Image.open(io.BytesIO(png)).convert("L"), dtype=float)
    return 1 - grey / 255


def dark_area(svg: str, width: float, side: int = SIDE) -> float:
    """Return the dark area of a drawing that is `width` wide, in its own units."""
    found = picture(svg, side)
    return float(found.sum()) * (width / found.shape[1]) ** 2


def widest_disc(svg: str, width: float, side: int = SIDE) -> float:
    """Return the diameter of the largest disc inside the dark area, by the picture's distance transform."""
    found = picture(svg, side)
    inside = ndimage.distance_transform_edt(np.pad(found > 0.5, 1))
    return 2 * float(inside.max() - 0.5) * width / found.shape[1]


def narrowest_stroke(svg: str, width: float, side: int = SIDE) -> float | None:
    """Return the narrowest stroke of the dark area: twice the least distance on the picture's medial axis; None
    without strokes.

    Excluded, because they are in corners and ends and not across a stroke: places where the distance changes along
    the axis faster than SLOPE (there the axis runs into a corner: on the bisector of 90° by .71), and those closer
    to an end of the axis than twice their own distance. So a wedge's point isn't a stroke here, although it may be
    in our measure.
    """
    dark = np.pad(picture(svg, side) > 0.5, 1)
    axis, distance = medial_axis(dark, return_distance=True)
    beside = ndimage.convolve(axis.astype(int), np.ones((3, 3), int)) - 1
    ends = axis & (beside <= 1)
    from_end = ndimage.distance_transform_edt(~ends) if ends.any() else np.full(axis.shape, np.inf)
    local = 5
    high = ndimage.maximum_filter(np.where(axis, distance, -np.inf), size=2 * local + 1)
    low = -ndimage.maximum_filter(np.where(axis, -distance, -np.inf), size=2 * local + 1)
    steady = axis & (high - low <= SLOPE * 2 * local) & (from_end > 2 * distance)
    if not steady.any():
        return None
    return 2 * (float(distance[steady].min()) - 0.5) * width / side


def read(svg: str, as_lines: bool = False) -> DrawnArtwork:
    return read_svg_artwork(Path("drawing.svg"), svg.encode(), as_lines)


def area_error(svg: str, width: float) -> float:
    """Return the relative difference of our area from the picture's."""
    wanted = dark_area(svg, width)
    return abs(outline_area(read(svg).outline) - wanted) / wanted
