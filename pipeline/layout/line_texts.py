"""What the lines of the design say for one recipient."""

from __future__ import annotations

from pipeline.core.catalogue import fit_kinds, name_kinds
from pipeline.core.findings import Finding, find
from pipeline.core.model import Recipient
from pipeline.core.order import Order
from pipeline.core.placeholders import fill_placeholders
from pipeline.layout.typesetter import LineText
from pipeline.lettering.typography import set_capitals, tidy_marks


def line_texts(order: Order, recipient: Recipient) -> tuple[list[LineText], list[Finding]]:
    """The lines to be set; a line whose columns are all empty is left out, with a note."""
    values = dict(recipient.values)
    texts, found = [], []
    for number, part in enumerate(order.line, 1):
        filled = fill_placeholders(part.text, values)
        text = " ".join(filled.text.split(" ")).strip()
        if filled.nothing or not text:
            if filled.fields:
                columns = ", ".join(filled.fields)
                found.append(find(fit_kinds.LINE_LEFT_OUT, line=number, facts={"columns": columns}))
            continue
        language = recipient.language or part.language or order.list.language
        better = tidy_marks(text, language)
        if better.changes:
            facts = {"text": text, "better": better.text, "changes": " and ".join(better.changes)}
            found.append(
                find(name_kinds.MARKS_TIDIED if part.tidy_quotes else name_kinds.MARKS_TYPED, line=number, facts=facts)
            )
            text = better.text if part.tidy_quotes else text
        if part.case == "capitals":
            text = set_capitals(text, language)
        texts.append(LineText(line=number, text=text, language=language))
    return texts, found
