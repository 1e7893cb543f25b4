"""Texts of the design's lines for one recipient."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from pipeline.core.catalogue import fit_kinds, name_kinds
from pipeline.core.config.order import LineConfig, Order
from pipeline.core.config.placeholders import fill_placeholders
from pipeline.core.findings import Finding, build_finding
from pipeline.core.model import Recipient
from pipeline.layout.typesetter import LineText
from pipeline.lettering.typography import set_capitals, tidy_marks


def compose_line_texts(order: Order, recipient: Recipient) -> tuple[list[LineText], list[Finding]]:
    """The lines to be set; a line whose columns are all empty is left out, with a note."""
    values = dict(recipient.values) | {key: "\n".join(rows) for key, rows in recipient.typed_rows}
    texts, found = [], []
    for number, part in enumerate(order.line, 1):
        language = recipient.language or part.language or order.list.language
        rows, said = _split_typed_rows(number, part.text, part, values, language)
        opposite: list[str] = []
        if part.opposite is not None:
            opposite, also = _split_typed_rows(number, part.opposite, part, values, language)
            said += also
        if not rows and not opposite:
            if part.columns:
                found.append(
                    build_finding(fit_kinds.LINE_LEFT_OUT, line=number, facts={"columns": ", ".join(part.columns)})
                )
            continue
        found += said
        typed = tuple(rows) if 1 < len(rows) <= part.breaks and part.arc is None else ()
        if len(rows) > 1 and not typed:
            facts: dict[str, str | int | float] = {
                "text": " ".join(rows),
                "shown": " / ".join(rows),
                "rows": len(rows),
            }
            found.append(build_finding(fit_kinds.BREAK_NOT_KEPT, line=number, facts=facts))
        texts.append(
            LineText(line=number, text=" ".join(rows), language=language, opposite=" ".join(opposite), typed=typed)
        )
    return texts, found


def _split_typed_rows(
    number: int, template: str, part: LineConfig, values: Mapping[str, str], language: str | None
) -> tuple[list[str], list[Finding]]:
    """The rows a text of the line is typed in, one where its cells have no break; none where its columns are empty."""
    filled = fill_placeholders(template, values)
    rows = [row for typed in filled.text.split("\n") if (row := typed.strip())]
    if filled.nothing or not rows:
        return [], []
    text = " ".join(rows)
    better = tidy_marks(text, language)
    found = []
    if better.changes:
        facts = {"text": text, "better": better.text, "changes": " and ".join(better.changes)}
        kind = name_kinds.MARKS_TIDIED if part.tidy_quotes else name_kinds.MARKS_TYPED
        found.append(build_finding(kind, line=number, facts=facts))
        rows = _break_alike(rows, better.text) if part.tidy_quotes else rows
    if part.case == "capitals":
        rows = _break_alike(rows, set_capitals(" ".join(rows), language))
    return rows, found


def _break_alike(rows: Sequence[str], text: str) -> list[str]:
    """The changed text broken after as many words as the rows; in one row where its words are others."""
    counts = [len(row.split(" ")) for row in rows]
    words = text.split(" ")
    if len(words) != sum(counts):
        return [text]
    starts = [sum(counts[:n]) for n in range(len(counts))]
    return [" ".join(words[start : start + count]) for start, count in zip(starts, counts, strict=True)]
