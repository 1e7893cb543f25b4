"""Findings: what a stage has to say about the order or one plaque, and how it is put into words.

The facts of a kind of finding stand once, in `pipeline.core.catalogue`; a finding carries only what is particular to
it. Papers, sheets, JSON and `explain` all render from these two.
"""

from __future__ import annotations

import string
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Literal

from pipeline.core.units import MM, Units

Fact = str | float | int
Place = tuple[float, float]


class Severity(StrEnum):
    """Ordered worst first by `rank`."""

    STOP = "stop"  # must not be cut
    ASK = "ask"  # a person has to look; the file is made, the question goes on the proof
    NOTE = "note"  # recorded only

    @property
    def rank(self) -> int:
        return ("stop", "ask", "note").index(self.value)


Scope = Literal["plaque", "order", "boards", "paper"]
"""What a finding of severity stop keeps from being made: the plaque it belongs to, every plaque of the order, the
boards (single cut files stay good), or the one paper that is being written."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One kind of finding. Templates name facts in braces; `{width:mm}` shows a length in the order's unit.

    `{measured}` and `{limit}` are always at hand when the finding has them, already with unit and enough decimals; a
    fact `finer` asks for so many decimals more than usual.
    """

    code: str  # permanent; names the fault
    severity: Severity
    message: str  # what is wrong here, for the maker
    why: str  # why it matters
    remedy: str  # what to do
    client: str = ""  # the same in plain words for the proof; for an `ask` it is a question; "" keeps it off the proof
    source: str = ""  # where the limit comes from
    stops: Scope = "plaque"  # of severity stop only: what must not be made while it stands


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One finding. Lengths are mm; `at` is a place on the blank in mm; `line` counts the order's lines from 1."""

    code: str
    severity: Severity
    line: int | None = None
    glyph: str | None = None
    at: Place | None = None
    measured: float | None = None
    limit: float | None = None
    unit: str = ""  # "mm", "mm²", "°", "" ...
    row: int | None = None  # row of the client's sheet
    cell: str | None = None  # e.g. "B14"
    facts: tuple[tuple[str, Fact], ...] = ()  # sorted by name

    def fact(self, name: str) -> Fact | None:
        return dict(self.facts).get(name)


class _Words(string.Formatter):
    """str.format with one more format: `mm` shows a length in the order's unit, never as nought when it is not."""

    def __init__(self, units: Units) -> None:
        self.units = units

    def format_field(self, value: Any, format_spec: str) -> str:
        if format_spec == "mm":
            length, decimals = float(value), self.units.decimals
            while length and decimals < 9 and float(self.units.number(length, decimals)) == 0:
                decimals += 1
            return self.units.show(length, decimals)
        return str(super().format_field(value, format_spec))


def find(kind: Kind, *, facts: Mapping[str, Fact] | None = None, **own: Any) -> Finding:
    """A finding of this kind; `own` are Finding's fields, `facts` fill the templates."""
    return Finding(code=kind.code, severity=kind.severity, facts=tuple(sorted((facts or {}).items())), **own)


def render(template: str, finding: Finding, units: Units = MM) -> str:
    """A template of the finding's kind with its facts put in. A missing fact is a fault of ours: KeyError."""
    words: dict[str, Any] = dict(finding.facts)
    if finding.unit == "mm" and finding.measured is not None and finding.limit is not None:
        finer = int(words.get("finer", 0))
        words["measured"], words["limit"] = units.pair(finding.measured, finding.limit, units.decimals + finer)
    else:
        for name, value in (("measured", finding.measured), ("limit", finding.limit)):
            if value is not None:
                shown = units.show(value) if finding.unit == "mm" else f"{value:g} {finding.unit}".strip()
                words.setdefault(name, shown)
    words.setdefault("glyph", finding.glyph or "")
    words.setdefault("row", "" if finding.row is None else finding.row)
    words.setdefault("cell", finding.cell or "")
    words.setdefault("line", "" if finding.line is None else finding.line)
    return _Words(units).format(template, **words)
