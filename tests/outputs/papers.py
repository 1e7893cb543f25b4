"""Help to read papers in tests: the proof as one file, the text of a shop sheet."""

from __future__ import annotations

from typing import Any

import pypdfium2

from pipeline.core.stated_values import MARKS
from pipeline.outputs.proof.proof import write_proof_files


def proof_bytes(*given: Any, **how: Any) -> tuple[bytes, int]:
    """Return the only file of a proof and its number of pages."""
    (file,) = write_proof_files(*given, **how)
    return file.data, file.pages


def read_text(data: bytes) -> str:
    """Return the whole text of a PDF as PDFium reads it, lines joined."""
    return " ".join(" ".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(data)).split())


def strip_origin_marks(text: str) -> str:
    """Remove the small letters after values, which mark their source."""
    return text.translate(dict.fromkeys(map(ord, MARKS)))
