"""Reads a file of client's artwork once, in a separate process, and caches it by its bytes."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from pathlib import Path

from pipeline.artwork.drawn_artwork import DrawnArtwork
from pipeline.core.storage.cache import Cache
from pipeline.core.storage.door import Bounds, read_apart, read_foreign_bytes

MOST_MB = 20
"""Largest file, MB. Crests from drawing programs stay under one."""
BOUNDS = Bounds(seconds=12, memory_mb=600, answer_mb=64)


def read_artwork(
    path: Path, layers: Sequence[str] | None, *, as_lines: bool, cache: Cache | None = None
) -> DrawnArtwork:
    """The curves of an .svg or .dxf file. layers: of a DXF; None for all. as_lines: its lines as they are drawn, not
    the areas they enclose.

    CannotRun when the file is missing, too large, refused, damaged, or holds nothing that could be cut. Whatever else
    is in the way is among the remarks.
    """
    data = read_foreign_bytes(path, "a drawing of the client's", MOST_MB)

    def read() -> DrawnArtwork:
        if path.suffix.lower() == ".svg":
            import pipeline.artwork.svg_curves  # noqa: F401 (here once, or 0.14 s in the process of each file)
        return read_apart(_read_curves, path, data, layers, as_lines, where=path, bounds=BOUNDS)

    if cache is None:
        return read()
    given = (hashlib.sha256(data).hexdigest(), path.suffix.lower(), str(path), *(layers or ("*",)), as_lines)
    return cache.get_or_compute("artwork", given, DrawnArtwork, read)


def _read_curves(path: Path, data: bytes, layers: Sequence[str] | None, as_lines: bool) -> DrawnArtwork:
    if path.suffix.lower() == ".svg":
        from pipeline.artwork.svg_curves import (
            read_svg_artwork,  # imports the SVG library, so only when an SVG is read
        )

        return read_svg_artwork(path, data, as_lines)
    from pipeline.artwork.dxf_curves import read_dxf_artwork

    return read_dxf_artwork(path, data, layers, as_lines)
