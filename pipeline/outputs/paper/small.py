"""Drawn pages held small: of thousands, only what the document needs at its end stands in memory."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

FORMS = "AllForms"
"""The document's name for the one dictionary of the forms of all pages."""


def made_small(page: Any) -> None:
    """What the library does with a page when all of them are written, done as soon as it is drawn. The forms stand in
    one dictionary for all pages, as the fonts do: one for each would be the greater part of a page."""
    from reportlab.pdfbase.pdfdoc import PDFArray, PDFName, PDFObjectReference, PDFStream, PDFZCompress

    page.Contents = PDFStream(content=PDFZCompress.encode(page.stream))
    page.Contents.dictionary["Filter"] = PDFArray([PDFName("FlateDecode")])
    page.stream = None
    if page.XObjects is not None:
        page.XObjects = PDFObjectReference(FORMS)


def name_forms(document: Any, names: Iterable[str]) -> None:
    """Writes that dictionary, once all forms are drawn."""
    document.Reference(document.xobjDict(names), FORMS)
