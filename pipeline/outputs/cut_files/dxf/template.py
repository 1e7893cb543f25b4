"""The frame of a drawing: everything round the entities, made by ezdxf once an order and filled in as text."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from pipeline.core.units import UnitName

ACADVER = {"R12": "AC1009", "R2000": "AC1015", "R2007": "AC1021", "R2010": "AC1024", "R2018": "AC1032"}
"""Published DXF reference, $ACADVER."""

INSUNITS = {"in": 1, "mm": 4}
"""Published DXF reference, $INSUNITS."""

CARRIES_PROPERTIES = ("R2007", "R2010", "R2018")
"""Versions with custom properties in their header; UTF-8 text came with the same ones."""

COLOURS = {
    "EDGE": 7,
    "ENGRAVE": 5,
    "LINE": 200,
    "FLOOR": 3,
    "ROUGH": 2,
    "GROOVE": 4,
    "POCKET": 30,
    "REST": 40,
    "REGISTRATION": 6,
    "ZONE": 9,
    "KEEP_OUT": 8,
    "DATUM": 1,
    "BOARD": 8,
    "SAW": 12,
    "CLAMP": 52,
    "KNOT": 34,
    "BLANK": 9,
    "JIG": 8,
}
"""Colour numbers of the layers, our own choice: cut ones stand out on light and dark grounds. Of those for reference a
blank's are grey; a board's are told apart by colour, since they say where the cutter must not go."""

REFERENCE = ("ZONE", "KEEP_OUT", "DATUM", "BOARD", "SAW", "CLAMP", "KNOT", "BLANK", "JIG")
"""Layers to look at, not to cut: they do not plot (R12 knows no such mark: there they are switched off)."""


@dataclass(frozen=True, slots=True)
class DrawingTemplate:
    """A prepared drawing without entities, in parts: text to be joined by what differs from file to file."""

    before_properties: tuple[str, ...]  # the text before each property's value, in order
    before_seed: str
    before_entities: str
    after_entities: str
    first_handle: int
    owner: str  # handle of the model space's block record; empty in R12
    encoding: str

    def render(self, comments: Sequence[str], properties: Sequence[str], entities: str, next_handle: int) -> bytes:
        """The whole file. entities: with CR LF at line ends, which every reader of the format takes. next_handle: one
        more than the last handle of the entities. Before R2007 all but ASCII is written as \\U+nnnn (published DXF
        reference)."""
        head = [f"999\r\n{line}\r\n" for line in comments]
        if self.before_properties:
            for part, value in zip(self.before_properties, properties, strict=True):
                head += [part, value]
        head += [self.before_seed, f"{next_handle:X}", self.before_entities, entities, self.after_entities]
        text = "".join(head)
        return text.encode(self.encoding) if text.isascii() or self.encoding != "ascii" else _escape_text(text)


def _escape_text(text: str) -> bytes:
    """Escape what is not ASCII as \\U+nnnn (published DXF reference), beyond U+FFFF as the two of UTF-16."""
    return re.sub(r"[^\x00-\x7f]", _escape, text).encode("ascii")


def _escape(found: re.Match[str]) -> str:
    units = found.group().encode("utf-16-be").hex().upper()
    return "".join(f"\\U+{units[k : k + 4]}" for k in range(0, len(units), 4))


def list_unit_variables(unit: UnitName, version: str) -> tuple[str, ...]:
    """A comment in plain words for a drawing whose version has no place for its unit; none for the others."""
    if version != "R12":
        return ()
    name = "inches" if unit == "in" else "millimetres"
    return (f"every length in this file is in {name}; files of R12 have no other place to say so",)


def join_in_one_line(text: str) -> str:
    """Text without control characters or line ends, which would break the format."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())
