"""What the lines of the design say for one recipient."""

from __future__ import annotations

from pipeline.core.catalogue import fit
from pipeline.core.fields import fill
from pipeline.core.findings import Finding, find
from pipeline.core.model import Recipient
from pipeline.core.order import Order
from pipeline.layout.setter import LineText

DOTTED = frozenset(("tr", "az", "crh", "tt"))
"""Languages whose capital of i keeps its dot and whose small letter of I has none (Unicode SpecialCasing.txt)."""


def capitals(text: str, language: str | None) -> str:
    """The text in capitals by the rules of its language. ß becomes ẞ, so that a name keeps its letters
    (the German spelling council allows both)."""
    if language and language.split("-")[0].casefold() in DOTTED:
        text = text.replace("i", "İ").replace("ı", "I")
    return text.replace("ß", "ẞ").upper()


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
        if part.case == "capitals":
            text = capitals(text, language)
        texts.append(LineText(line=number, text=text, language=language))
    return texts, found
