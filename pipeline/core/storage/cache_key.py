"""Identifies the tool exactly: a hash of its source and of everything else its results depend on.

All of the source is read, because a file can change without changing size or time.
"""

from __future__ import annotations

import hashlib
import os
import platform
import re
import sys
import unicodedata
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path

from pipeline import VERSION

PACKAGE = Path(__file__).resolve().parents[2]

LIBRARIES = (
    "anyascii",
    "babel",
    "cssselect2",
    "ezdxf",
    "fonttools",
    "ftfy",
    "lxml",
    "numpy",
    "odfdo",
    "opencv-python-headless",
    "openpyxl",
    "picosvg",
    "pikepdf",
    "pillow",
    "platformdirs",
    "pydantic",
    "pypdfium2",
    "python-bidi",
    "python-calamine",
    "pyvoronoi",
    "pyxlsb",
    "rapidfuzz",
    "reportlab",
    "segno",
    "shapely",
    "skia-pathops",
    "tinycss2",
    "tomlkit",
    "uharfbuzz",
    "xlrd",
    "xlsxwriter",
)
"""All libraries the tool requires: which of them can change a value shouldn't depend on a list kept by hand."""


@lru_cache
def build_key() -> str:
    """sha256 (hex) of every source file of the package and of the tables beside them, of what the shelf says of its
    faces (a font's own hash with it: whoever reads the font compares its bytes), and of the versions of the libraries,
    of what they carry inside them (GEOS, HarfBuzz), and of Python. A change of one letter in the tool makes another
    stamp."""
    import shapely
    import uharfbuzz

    digest = hashlib.sha256(VERSION.encode())
    for name, path in sorted(_list_sources()):
        with open(path, "rb", buffering=0) as file:  # noqa: PTH123 (hundreds of files: no time for objects)
            data = file.read()
        digest.update(f"{name} {len(data)}\n".encode())
        digest.update(data)
    found = list_versions()
    for library in LIBRARIES:
        digest.update(f"{library} {found.get(library)}\n".encode())
    digest.update(f"GEOS {shapely.geos_version_string} HarfBuzz {uharfbuzz.version_string()}\n".encode())
    digest.update(f"Python {sys.version_info[:2]} {unicodedata.unidata_version} {platform.machine()}".encode())
    return digest.hexdigest()


def list_versions() -> dict[str, str]:
    """Versions of all installed libraries by name, from the names of the folders their installers leave beside them
    (the metadata itself takes longer to read than all our source)."""
    out: dict[str, str] = {}
    for folder in sys.path:
        try:
            names = [file.name for file in Path(folder).iterdir()]
        except OSError:
            continue
        for name in names:
            if name.endswith((".dist-info", ".egg-info")):
                library, _, version = name.rpartition(".")[0].partition("-")
                out.setdefault(re.sub(r"[-_.]+", "-", library).lower(), version.partition("-")[0])
    return out


def _list_sources() -> Iterator[tuple[str, str]]:
    """Name below its folder, and path, of every file the tool is made of, with the tables of its shelf."""
    for shelf in (PACKAGE / "_fonts", PACKAGE.parent / "fonts"):
        for file in shelf.glob("*/source.toml"):
            yield f"fonts/{file.parent.name}/{file.name}", str(file)
    for folder, folders, files in os.walk(PACKAGE):
        folders[:] = [name for name in folders if name not in {"__pycache__", "_fonts"}]
        for name in files:
            path = f"{folder}/{name}"
            yield path[len(str(PACKAGE)) :], path
