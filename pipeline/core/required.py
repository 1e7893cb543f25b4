"""Values that may be missing, where they cannot be: said with a check that stays under `python -O`."""

from __future__ import annotations

from typing import TypeVar

T = TypeVar("T")


def require_value(value: T | None, what: str) -> T:
    """The value; ValueError, a fault of ours, when there is none. what: in words, for whoever reads the traceback."""
    if value is None:
        raise ValueError(f"{what} is missing")
    return value
