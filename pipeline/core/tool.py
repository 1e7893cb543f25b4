"""Which tool this is, exactly: a hash of its own source and of what its results depend on besides."""

from __future__ import annotations

import hashlib
from functools import lru_cache
from importlib import metadata
from pathlib import Path

from pipeline import VERSION

PACKAGE = Path(__file__).resolve().parent.parent

LIBRARIES = (
    "ezdxf",
    "fonttools",
    "ftfy",
    "numpy",
    "pikepdf",
    "pydantic",
    "pyvoronoi",
    "reportlab",
    "shapely",
    "skia-pathops",
    "uharfbuzz",
)
"""Libraries whose version can change what is made of a plaque."""


@lru_cache
def stamp() -> str:
    """sha256 (hex) of the version, of every source file of the package, of what the shelf says of its faces, and of the
    versions of the libraries. A change of one letter in the tool makes another stamp."""
    digest = hashlib.sha256(VERSION.encode())
    shelves = (PACKAGE / "_fonts", PACKAGE.parent / "fonts")
    for file in sorted([*PACKAGE.rglob("*.py"), *(f for shelf in shelves for f in shelf.glob("*/source.toml"))]):
        data = file.read_bytes()
        digest.update(f"{file.parent.name}/{file.name} {len(data)}\n".encode())
        digest.update(data)
    for name in LIBRARIES:
        try:
            digest.update(f"{name} {metadata.version(name)}\n".encode())
        except metadata.PackageNotFoundError:
            digest.update(f"{name} none\n".encode())
    return digest.hexdigest()
