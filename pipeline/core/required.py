"""Asserts that optional values are present, with a check that also holds under `python -O`."""

from __future__ import annotations

from typing import TypeVar

T = TypeVar("T")


def require_value(value: T | None, what: str) -> T:
    """Return the value; ValueError, a fault of the tool, when it is None. what: names it in the traceback."""
    if value is None:
        raise ValueError(f"{what} is missing")
    return value
