"""Markdown tables."""

from __future__ import annotations

from collections.abc import Iterable, Sequence


def table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Return a table, with a newline at its end."""
    lines = [heads, ["---"] * len(heads), *rows]
    return "".join(f"| {' | '.join(_cell(text) for text in line)} |\n" for line in lines)


def _cell(text: str) -> str:
    return " ".join(text.split()).replace("|", "\\|")
