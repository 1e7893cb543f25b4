"""Columns named in braces inside a line's text: `"{name}, {post}"`. A literal brace is written twice: `{{`, `}}`."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache


class PlaceholderError(ValueError):
    """The braces of a text don't match. The message says where, counting characters from 1."""


@dataclass(frozen=True, slots=True)
class FilledText:
    """A line's text with a recipient's values put in."""

    text: str
    fields: tuple[str, ...]  # the columns named, each once, in order
    empty: tuple[str, ...]  # those of them without a value

    @property
    def nothing(self) -> bool:
        """Return whether columns are named and all of them are empty, so that the line is left out."""
        return bool(self.fields) and len(self.empty) == len(self.fields)


_PIECE = re.compile(r"(?P<brace>\{\{|\}\})|\{(?P<column>[^{}]*)\}|(?P<odd>[{}])|(?P<words>[^{}]+)")
"""Braces as `str.format` reads them. Python's parser (`string.Formatter.parse`) says neither where a fault is nor which
brace it means, and takes `:` and `!` in a column's name for formats."""


@lru_cache(maxsize=256)
def _split_parts(text: str) -> tuple[tuple[str, bool], ...]:
    """(words, False) and (column, True) in turn. BadFields when braces do not pair up."""
    parts: list[tuple[str, bool]] = []
    for found in _PIECE.finditer(text):
        place = found.start() + 1
        if found["odd"] == "}":
            said = f"character {place} closes a brace that was never opened"
            raise PlaceholderError(f"{said} (write }}}} for the character itself)")
        if found["odd"]:
            raise PlaceholderError(
                f"the brace at character {place} is never closed (write {{{{ for the character itself)"
            )
        if found["column"] is None:
            parts.append((found["words"] or found["brace"][0], False))
        elif column := found["column"].strip():
            parts.append((column, True))
        else:
            raise PlaceholderError(f"the braces at character {place} name no column")
    return tuple(parts)


def list_placeholders(text: str) -> tuple[str, ...]:
    """The columns named in the text, each once, in the order they come. BadFields when braces do not pair up."""
    return tuple(dict.fromkeys(part for part, is_field in _split_parts(text) if is_field))


def fill_placeholders(text: str, values: Mapping[str, str]) -> FilledText:
    """The text with each `{column}` replaced by its value; a column that is not in `values` counts as empty.

    Values go in as they are: a brace inside a value is a character like any other. Nothing is tidied round an empty
    value. BadFields when the braces of `text` do not pair up.
    """
    out: list[str] = []
    fields: dict[str, str] = {}
    for part, is_field in _split_parts(text):
        if is_field:
            fields[part] = values.get(part, "")
        out.append(fields[part] if is_field else part)
    return FilledText("".join(out), tuple(fields), tuple(name for name, value in fields.items() if not value.strip()))
