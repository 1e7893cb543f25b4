"""Faults of the design in the maker's words."""

from __future__ import annotations

from itertools import groupby

from pipeline.core import catalogue
from pipeline.core.design_faults import FEW, SHARE
from pipeline.core.findings import render, render_way
from pipeline.core.model import DesignFault, FaultCount
from pipeline.core.units import Units

UNTRIED = (
    "no other design was tried for this line, which takes long with many faulty lines or names: put the other lines "
    "right first and run again, or see check.xlsx for each name"
)


def describe_design_fault(fault: DesignFault, units: Units) -> str:
    """`line 3, eb-garamond 5.00 mm: 40 of 60 too fine (0.142 mm in “n”; limit 0.215 mm), 12 with too little land`."""
    size = units.show(fault.cap_height)
    parts = [_describe_count(c, units) for c in fault.faults]
    first = f"{len(fault.faults[0].rows)} of {fault.of} {parts[0]}"
    more = [f"{len(c.rows)} {words}" for c, words in zip(fault.faults[1:], parts[1:], strict=True)]
    return f"line {fault.line}, {fault.face} {size}: {', '.join([first, *more])}"


def _describe_count(count: FaultCount, units: Units) -> str:
    """Describe what those rows are, with the worst figure."""
    kind, worst = catalogue.get_kind(count.code), count.worst
    if worst.measured is None or worst.limit is None:
        return kind.design
    letter = f" in “{worst.glyph}”" if worst.glyph else ""
    return kind.design + render(f" ({{measured}}{_escape_braces(letter)}; limit {{limit}})", worst, units)


def _escape_braces(text: str) -> str:
    return text.replace("{", "{{").replace("}", "}}")


def describe_design_remedy(fault: DesignFault, units: Units) -> str:
    """Describe every way that puts the line right on all plaques; that there is none; or that none was tried."""
    if fault.untried:
        return UNTRIED
    said = [
        render_way(catalogue.WAY_KINDS[code].maker, list(same), units)
        for code, same in groupby(fault.ways, key=lambda way: way.code)
    ]
    if said:
        return "; ".join(said)
    return (
        "no size, spacing, cutter or typeface of the shelf that was tried puts all of them right: change the zone, the "
        "limits or the cutter, or see check.xlsx for each name"
    )


def describe_held(count: int, of: int) -> str:
    """Why there is no proof, and what brings it."""
    return (
        f"The proof is held back: a fault of the design stops {count} of {of} plaques (more than {FEW} and more than "
        f'{SHARE:.0%}). Put the design right, or write unfinished = "leave-out" or "show" into [proof].'
    )
