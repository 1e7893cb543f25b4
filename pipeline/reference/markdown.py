"""Markdown tables."""

from __future__ import annotations

from collections.abc import Iterable, Sequence


def format_table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Return a table that ends with a newline."""
    lines = [heads, ["---"] * len(heads), *rows]
    return "".join(f"| {' | '.join(_escape_cell(text) for text in line)} |\n" for line in lines)


def _escape_cell(text: str) -> str:
    return " ".join(text.split()).replace("|", "\\|")
