"""`plaques explain`: what a finding means, with an example as it would read in an order."""

from __future__ import annotations

import textwrap

from pipeline.core.catalogue import KINDS, describe_way, format_for_client, format_message, get_kind, sign_kinds
from pipeline.core.catalogue.examples import build_examples
from pipeline.core.findings import Finding, Kind, Scope, Severity, render

WIDTH = 96
MEANING = {
    Severity.STOP: "stop: must not be cut",
    Severity.ASK: "ask: a person has to look",
    Severity.NOTE: "note: recorded only",
}

STOPS: dict[Scope, str] = {
    "plaque": "this plaque: it gets no cut file, no place on a board and no card on the proof, and isn't released. "
    "The other plaques go on",
    "order": "every plaque of the order: there is no cut file and no board, the proof asks for no agreement, and "
    "nothing is released",
    "boards": "the boards: no drawing of a board and no saw card. The single cut files stay good, and may be released",
    "jigs": "the jig loads: no drawing of a load. The single cut files stay good, and may be released",
    "paper": "the shop sheet: it is not written. Cut files and proof stay good",
}
"""What a finding of severity stop prevents."""
RELEASE = "the release of this plaque, and its place on a board. Its cut file and its card on the proof stay"
"""The same for a kind that is found at the release: what the client said, and what became of the files since."""


def explain(code: str) -> str:
    """Return everything the catalogue says of one kind of finding. CannotRun (with the nearest codes) if unknown."""
    kind = get_kind(code)
    parts = [f"{kind.code} ({MEANING[kind.severity]})"]
    for head, texts in list_explanation_parts(kind):
        first, rest = ("  - ", "    ") if len(texts) > 1 else ("  ", "  ")
        lines = [textwrap.fill(text, WIDTH, initial_indent=first, subsequent_indent=rest) for text in texts]
        parts.append("\n".join([head, *lines]))
    return "\n\n".join(parts)


def list_explanation_parts(kind: Kind) -> list[tuple[str, list[str]]]:
    """Return the parts of an explanation, each with its heading and its texts, alternatives one by one.

    Messages are those of the kind's example.
    """
    example = build_examples()[kind.code]
    parts = [
        ("What is wrong, for example", [format_message(example)]),
        ("What it stops", [describe_stop(kind)]),
        ("Why it matters", [render(kind.why, example)]),
        ("What to do", _list_remedies(example)),
        ("Once it is answered", [_describe_settling(kind)]),
        ("What the client reads", [format_for_client(example)]),
        ("Where the limit comes from", [render(kind.source, example)]),
    ]
    return [(head, texts) for head, texts in parts if any(texts)]


def describe_stop(kind: Kind) -> str:
    """Return what a finding of this kind stops; empty unless its severity is stop."""
    if kind.severity is not Severity.STOP:
        return ""
    return RELEASE if kind in sign_kinds.KINDS else STOPS[kind.stops]


def _list_remedies(example: Finding) -> list[str]:
    """The ways that may be offered, and what holds in any case."""
    always = render(get_kind(example.code).remedy, example)
    return [words for words in (*map(describe_way, example.ways), always) if words]


def _describe_settling(kind: Kind) -> str:
    """Describe how to switch a question about the list off, for all rows or for some."""
    if kind.severity is not Severity.ASK or not kind.code.startswith(("list.", "text.")):
        return ""
    return (
        f'settled = {{ "{kind.code} 12" = "who said so" }} in [list] settles the question for row 12; without a row, '
        "for the whole list. The reason is kept with the order"
    )


def explain_all() -> str:
    """Return one line per code: its severity and its example, in the catalogue's order of subjects."""
    width = max(map(len, KINDS))
    lines = []
    for code, kind in KINDS.items():
        first = f"{code:{width}}  {kind.severity.value:4}  "
        text = textwrap.shorten(
            format_message(build_examples()[code]), max(WIDTH + 30 - len(first), 20), placeholder=" …"
        )
        lines.append(first + text)
    return "\n".join(lines)
