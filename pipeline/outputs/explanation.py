"""`plaques explain`: what a finding means, from the catalogue alone."""

from __future__ import annotations

import string
import textwrap

from pipeline.core.catalogue import KINDS, kind_of, sign_kinds
from pipeline.core.findings import Kind, Scope, Severity

WIDTH = 96
MEANING = {
    Severity.STOP: "stop: must not be cut",
    Severity.ASK: "ask: a person has to look",
    Severity.NOTE: "note: recorded only",
}

STOPS: dict[Scope, str] = {
    "plaque": "this plaque: it gets no cut file, no place on a board and no card on the proof, and is not released. "
    "The other plaques go on",
    "order": "every plaque of the order: there is no cut file and no board, the proof asks for no agreement, and "
    "nothing is released",
    "boards": "the boards: no drawing of a board and no saw card. The single cut files stay good, and may be released",
    "paper": "the shop sheet: it is not written. Cut files and proof stay good",
}
"""What a finding of severity stop keeps from being made."""
RELEASE = "the release of this plaque, and its place on a board. Its cut file and its card on the proof stay"
"""The same of a kind that is found at the release: what the client said, and what became of the files since."""


def explain(code: str) -> str:
    """Everything the catalogue says of one kind of finding. CannotRun (with the nearest codes) when there is none."""
    kind = kind_of(code)
    parts = [
        ("What is wrong", blanks_named(kind.message)),
        ("What it stops", _stops(kind)),
        ("Why it matters", blanks_named(kind.why)),
        ("What to do", "; ".join(blanks_named(words) for words in _remedies(kind))),
        ("Once it is answered", _settled(kind)),
        ("What the client reads", blanks_named(kind.client)),
        ("Where the limit comes from", blanks_named(kind.source)),
    ]
    told = [f"{kind.code} ({MEANING[kind.severity]})"]
    for head, text in parts:
        if text:
            told.append(f"{head}\n{textwrap.fill(text, WIDTH, initial_indent='  ', subsequent_indent='  ')}")
    return "\n\n".join(told)


def _stops(kind: Kind) -> str:
    if kind.severity is not Severity.STOP:
        return ""
    return RELEASE if kind in sign_kinds.KINDS else STOPS[kind.stops]


def _remedies(kind: Kind) -> list[str]:
    """The ways that may be offered, and what holds in any case."""
    return [words for words in (*(way.maker for way in kind.ways), kind.remedy) if words]


def _settled(kind: Kind) -> str:
    """How a question about the list is switched off, for all rows or for some."""
    if kind.severity is not Severity.ASK or not kind.code.startswith(("list.", "text.")):
        return ""
    return (
        f'settled = {{ "{kind.code} 12" = "who said so" }} in [list] takes the question back for row 12, without a row '
        "for the whole list; the reason is kept with the order"
    )


def explain_all() -> str:
    """Every code with its severity and what it says, in the catalogue's order of subjects."""
    width = max(map(len, KINDS))
    lines = []
    for code, kind in KINDS.items():
        first = f"{code:{width}}  {kind.severity.value:4}  "
        text = textwrap.shorten(blanks_named(kind.message), max(WIDTH + 30 - len(first), 20), placeholder=" …")
        lines.append(first + text)
    return "\n".join(lines)


def blanks_named(template: str) -> str:
    """A message template with its blanks shown by name: "{over:mm} too long" → "‹over› too long"."""
    out = []
    for literal, name, spec, _ in string.Formatter().parse(template):
        out.append(literal)
        if name is not None:
            word = (spec or "").removeprefix("=").partition("|")[2]
            shown = f"‹{name.replace('_', ' ')}›"
            out.append(word if (spec or "").startswith("=") else f"{shown} {word}" if word else shown)
    return "".join(out)
