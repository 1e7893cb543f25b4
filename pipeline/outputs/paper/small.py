"""Drawn pages held small: of thousands, only what the document needs at its end stands in memory."""

from __future__ import annotations

from typing import Any


def made_small(page: Any) -> None:
    """What the library does with a page when all of them are written, as far as it saves memory to do it before."""
    from reportlab.pdfbase.pdfdoc import PDFArray, PDFName, PDFStream, PDFZCompress

    page.Contents = PDFStream(content=PDFZCompress.encode(page.stream))
    page.Contents.dictionary["Filter"] = PDFArray([PDFName("FlateDecode")])
    page.stream = None
    if page.XObjects is not None:
        page.XObjects = _forms_in(tuple(page.XObjects.dict))


def _forms_in(names: tuple[str, ...]) -> Any:
    """The dictionary of the forms a page uses, made when it is written."""
    from reportlab.pdfbase.pdfdoc import PDFDictionary, PDFObject, PDFObjectReference

    class Forms(PDFObject):  # type: ignore[misc]
        def format(self, document: Any) -> bytes:
            held = PDFDictionary({name: PDFObjectReference(name) for name in names})
            return bytes(held.format(document))

    return Forms()
