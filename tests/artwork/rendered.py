"""Pictures of SVG files by resvg (a renderer that shares nothing with ours), and what can be counted in them."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import resvg_py
from PIL import Image
from scipy import ndimage

from pipeline.artwork.drawn_artwork import DrawnArtwork
from pipeline.artwork.svg_curves import read_svg_artwork
from pipeline.geometry.flatten import outline_area

SIDE = 1024
"""Pixels of a picture's width."""


def picture(svg: str, side: int = SIDE) -> np.ndarray:
    """How dark each pixel is, 0 to 1, of the drawing on white paper."""
    png = resvg_py.svg_to_bytes(svg_string=svg, background="#ffffff", width=side, dpi=96)
    grey = np.asarray(Image.open(io.BytesIO(png)).convert("L"), dtype=float)
    return 1 - grey / 255


def dark_area(svg: str, width: float, side: int = SIDE) -> float:
    """The dark area of a drawing that is `width` wide, in its own units."""
    found = picture(svg, side)
    return float(found.sum()) * (width / found.shape[1]) ** 2


def widest_disc(svg: str, width: float, side: int = SIDE) -> float:
    """Diameter of the widest disc inside what is dark, by the distance transform of the picture."""
    found = picture(svg, side)
    inside = ndimage.distance_transform_edt(np.pad(found > 0.5, 1))
    return 2 * float(inside.max() - 0.5) * width / found.shape[1]


def read(svg: str, as_lines: bool = False) -> DrawnArtwork:
    return read_svg_artwork(Path("drawing.svg"), svg.encode(), as_lines)


def area_error(svg: str, width: float) -> float:
    """By what part our area differs from the picture's."""
    wanted = dark_area(svg, width)
    return abs(outline_area(read(svg).outline) - wanted) / wanted
