"""The client's logo: a picture of theirs, read behind the door and drawn on the cover as it is."""

from __future__ import annotations

from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

from pipeline.core.errors import CannotRun, Fault
from pipeline.core.storage.door import Bounds, read_apart, read_foreign_bytes

WHAT = "the client's logo, a PNG or JPEG picture"
MOST_MB = 20
MOST_PIXELS = 40_000_000
FINEST = 800
"""Pixels across that are kept: 60 mm at 340 dpi."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LogoPicture:
    """Pixels on white, three bytes each, from the top left."""

    width: int
    height: int
    rgb: bytes


def read_logo(path: Path) -> LogoPicture:
    """The picture. CannotRun when it is none that can be read."""
    data = read_foreign_bytes(path, WHAT, MOST_MB)
    return read_apart(_decode, data, path.name, where=path, bounds=Bounds(seconds=10, memory_mb=600))


def _decode(data: bytes, file: str) -> LogoPicture:
    from PIL import Image

    with Image.open(BytesIO(data), formats=("PNG", "JPEG")) as picture:
        if picture.width * picture.height > MOST_PIXELS:
            raise CannotRun(
                Fault(where=file, found=f"a picture of {picture.width} × {picture.height} pixels", expected=WHAT)
            )
        picture.thumbnail((FINEST, FINEST))
        with_alpha = picture.convert("RGBA")
    white = Image.new("RGBA", with_alpha.size, "white")
    white.alpha_composite(with_alpha)
    return LogoPicture(width=white.width, height=white.height, rgb=white.convert("RGB").tobytes())
