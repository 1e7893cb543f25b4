"""What would help a line that does not fit, tried out, not guessed."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from pipeline.core.order import LinePart
from pipeline.core.units import Units
from pipeline.layout.block import Setting
from pipeline.layout.breaks import JOINERS, PARTICLES, SUFFIXES, TITLES, words_of

MORE_ROWS = 3
"""Breaking into up to this many rows is proposed."""

NARROWER = 85.0
"""Letter width proposed at the least, percent of normal: narrower than this looks like another typeface (common
practice, no source)."""

TIGHTER = -20
"""Tracking proposed at the most, thousandths of an em: tighter than this is seen (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """One remedy that was tried and fits: for the maker, for the client, and the text or line it would take."""

    kind: str  # "rows" "tracking" "width" "ampersand" "initial" "face" "size"
    maker: str
    client: str
    size: float
    text: str


Try = Callable[[LinePart, str], Setting | None]
"""Sets a text with a changed line in the plaque at hand; the setting when it fits."""


def shorter_texts(text: str) -> Iterator[tuple[str, str]]:
    """Honest ways to say the same shorter: (kind, text). Only proposals: no text is changed by the tool."""
    joined = re.sub(r"\s+(?:and|And|AND)\s+", " & ", text)
    if joined != text:
        yield "ampersand", joined
    for source in dict.fromkeys((text, joined)):
        short = _initials(source)
        if short != source:
            yield "initial", short


def _initials(text: str) -> str:
    """Middle names to initials: not the first name after a title or joiner, not the last name, not particles."""
    words = words_of(text)
    out, first = [], True
    for i, word in enumerate(words):
        plain = word.strip(".,").casefold()
        last = i == len(words) - 1 or words[i + 1].strip(".,").casefold() in JOINERS | SUFFIXES
        keep = (
            first or last or plain in TITLES | PARTICLES | JOINERS | SUFFIXES or len(plain) < 3 or not word[0].isupper()
        )
        out.append(word if keep else f"{word[0]}.")
        if plain in JOINERS:
            first = True
        elif plain not in TITLES:
            first = False
    return " ".join(out)


def proposals(
    part: LinePart,
    text: str,
    attempt: Try,
    fitting_size: float,
    units: Units,
    widths: tuple[float, float] | None = None,
) -> list[Proposal]:
    """Every remedy that fits, the one that changes least first; the size that would fit always comes last.

    widths: of the face's width axis, its least and the width it is opened at (percent of normal)."""
    out = []
    smallest = part.smallest or part.cap_height
    if part.arc is None:
        for rows in range(part.breaks + 1, MORE_ROWS + 1):
            if found := attempt(part.model_copy(update={"breaks": rows}), text):
                shown = " / ".join(found.rows)
                maker = f"allow {rows} rows (breaks = {rows}): {shown}"
                client = f"Set it in {rows} rows: {shown}."
                out.append(Proposal(kind="rows", maker=maker, client=client, size=found.cap_height, text=text))
                break
    if part.tightest > TIGHTER and (found := attempt(part.model_copy(update={"tightest": TIGHTER}), text)):
        maker = f"allow tighter spacing (tightest = {TIGHTER})"
        client = "Set the letters a little closer together."
        out.append(Proposal(kind="tracking", maker=maker, client=client, size=found.cap_height, text=text))
    least = max(NARROWER, widths[0]) if widths else 0.0
    if widths and least < min(part.least_width or widths[1], widths[1]):
        found = attempt(part.model_copy(update={"least_width": least}), text)
        if found and found.width:
            maker = f"allow narrower letters (least_width = {least:g}; {found.width:g} would do)"
            client = f"Draw the letters of this name narrower, {found.width:g} % of their width."
            out.append(Proposal(kind="width", maker=maker, client=client, size=found.cap_height, text=text))
    for kind, shorter in shorter_texts(text):
        if found := attempt(part, shorter):
            maker = f"ask the client whether “{shorter}” will do"
            client = f"Write it as “{shorter}”."
            out.append(Proposal(kind=kind, maker=maker, client=client, size=found.cap_height, text=shorter))
    if 0 < fitting_size < smallest:
        shown = units.show(fitting_size)
        maker = f"allow a smaller size (smallest = {units.number(fitting_size)}; now {units.number(smallest)})"
        client = f"Set this one smaller, at {shown} instead of {units.show(smallest)} or more."
        out.append(Proposal(kind="size", maker=maker, client=client, size=fitting_size, text=text))
    return out
