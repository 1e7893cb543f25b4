"""What the lines of the design say for one recipient."""

from __future__ import annotations

from pipeline.core.catalogue import fit, words
from pipeline.core.fields import fill
from pipeline.core.findings import Finding, find
from pipeline.core.model import Recipient
from pipeline.core.order import Order
from pipeline.layout.setter import LineText
from pipeline.lettering.typography import capitals, tidied


def texts_of(order: Order, recipient: Recipient) -> tuple[list[LineText], list[Finding]]:
    """The lines to be set; a line whose columns are all empty is left out, with a note."""
    values = dict(recipient.values)
    texts, found = [], []
    for number, part in enumerate(order.line, 1):
        filled = fill(part.text, values)
        text = " ".join(filled.text.split(" ")).strip()
        if filled.nothing or not text:
            if filled.fields:
                columns = ", ".join(filled.fields)
                found.append(find(fit.LINE_LEFT_OUT, line=number, facts={"columns": columns}))
            continue
        language = recipient.language or part.language or order.list.language
        better = tidied(text, language)
        if better.changes:
            facts = {"text": text, "better": better.text, "changes": " and ".join(better.changes)}
            found.append(find(words.MARKS_TIDIED if part.tidy_quotes else words.MARKS_TYPED, line=number, facts=facts))
            text = better.text if part.tidy_quotes else text
        if part.case == "capitals":
            text = capitals(text, language)
        texts.append(LineText(line=number, text=text, language=language))
    return texts, found
