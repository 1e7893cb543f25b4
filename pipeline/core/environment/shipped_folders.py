"""Where the folders that come with the tool lie: in an installed package, or beside it in a checkout."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

PACKAGE = Path(__file__).resolve().parents[2]
_INSTALLED = {"fonts": "_fonts", "sample_orders": "_samples"}
"""Names of the folders inside an installed package (`force-include` in pyproject.toml)."""


def find_shipped_folder(name: Literal["fonts", "sample_orders"], package: Path = PACKAGE) -> Path:
    """Find a folder that comes with the tool. package: the folder of the package `pipeline`."""
    inside = package / _INSTALLED[name]
    return inside if inside.is_dir() else package.parent / name
