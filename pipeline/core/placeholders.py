"""Columns named in braces inside a line's text: `"{name}, {post}"`. A literal brace is written twice: `{{`, `}}`."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache


class PlaceholderError(ValueError):
    """The braces of a text do not pair up. The message says where, counting characters from 1."""


@dataclass(frozen=True, slots=True)
class FilledText:
    """A line's text with a recipient's values put in."""

    text: str
    fields: tuple[str, ...]  # the columns named, each once, in order
    empty: tuple[str, ...]  # those of them that had nothing

    @property
    def nothing(self) -> bool:
        """Columns are named and every one of them is empty: the line is to be left out."""
        return bool(self.fields) and len(self.empty) == len(self.fields)


@lru_cache(maxsize=256)
def _parts(text: str) -> tuple[tuple[str, bool], ...]:
    """(words, False) and (column, True) in turn. BadFields when braces do not pair up."""
    return tuple(_read(text))


def _read(text: str) -> Iterator[tuple[str, bool]]:
    plain, i = "", 0
    while i < len(text):
        ch = text[i]
        if ch not in "{}":
            plain, i = plain + ch, i + 1
        elif text.startswith(ch * 2, i):
            plain, i = plain + ch, i + 2
        elif ch == "}":
            raise PlaceholderError(
                f"character {i + 1} closes a brace that was never opened (write }}}} for the character itself)"
            )
        else:
            end = text.find("}", i)
            inner = text[i + 1 : end]
            if end < 0 or "{" in inner:
                raise PlaceholderError(
                    f"the brace at character {i + 1} is never closed (write {{{{ for the character itself)"
                )
            if not inner.strip():
                raise PlaceholderError(f"the braces at character {i + 1} name no column")
            if plain:
                yield plain, False
            yield inner.strip(), True
            plain, i = "", end + 1
    if plain:
        yield plain, False


def placeholders_in(text: str) -> tuple[str, ...]:
    """The columns named in the text, each once, in the order they come. BadFields when braces do not pair up."""
    return tuple(dict.fromkeys(part for part, is_field in _parts(text) if is_field))


def fill_placeholders(text: str, values: Mapping[str, str]) -> FilledText:
    """The text with each `{column}` replaced by its value; a column that is not in `values` counts as empty.

    Values go in as they are: a brace inside a value is a character like any other. Nothing is tidied round an empty
    value. BadFields when the braces of `text` do not pair up.
    """
    out: list[str] = []
    fields: dict[str, str] = {}
    for part, is_field in _parts(text):
        if is_field:
            fields[part] = values.get(part, "")
        out.append(fields[part] if is_field else part)
    return FilledText("".join(out), tuple(fields), tuple(name for name, value in fields.items() if not value.strip()))
