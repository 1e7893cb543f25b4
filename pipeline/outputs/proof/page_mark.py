"""The mark on every page of a proof: which order, proof and page it is, for whoever finds the page by itself.

A QR code (ISO/IEC 18004) of a short text in its alphanumeric characters:

    PROOF1:NK7N3H:A:0:12:7KQ2MX

- `PROOF1`: this format · the order's code · the revision, bytes other than A–Z and 0–9 as %XX of its UTF-8 · the
volume, 0 for the only file · the page, from 1 · a code of everything the proof asks for, which tells apart two proofs
of one letter (of the whole list and of some rows of it).
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import lru_cache
from urllib.parse import unquote

from pipeline.core.short_codes import ALPHABET
from pipeline.outputs.pdf.canvas import PaperCanvas
from pipeline.outputs.pdf.text_style import Colour

FORMAT = "PROOF1"
SIDE = 14.0
"""Of the mark, mm, without its quiet zone of 4 white modules (ISO/IEC 18004): about 0.5 mm a module, which a camera of
a megapixel tells apart on A4."""
ERROR_CORRECTION = "m"
"""A seventh of the mark may be spoilt (level M of ISO/IEC 18004)."""
MOST_REVISION = 40
"""Characters of a revision's name that are carried; a longer one is told by the code at the end."""
_TEXT = re.compile(
    rf"{FORMAT}:([{ALPHABET}]{{6}}):((?:[A-Z0-9]|%[0-9A-F]{{2}})+):(\d{{1,5}}):(\d{{1,6}}):([{ALPHABET}]{{6}})"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PageMark:
    """The content of a page's mark. volume 0: the proof is one file. content: code of what the proof asks for."""

    order_id: str
    revision: str
    volume: int
    page: int
    content: str

    def to_text(self) -> str:
        """Format it as the mark carries it."""
        told = "".join(
            c if c.isascii() and (c.isdigit() or c.isupper()) else "".join(f"%{b:02X}" for b in c.encode())
            for c in self.revision[:MOST_REVISION]
        )
        return f"{FORMAT}:{self.order_id}:{told}:{self.volume}:{self.page}:{self.content}"


def read_page_mark(text: str) -> PageMark | None:
    """Read the text of a mark; None for the text of any other code."""
    found = _TEXT.fullmatch(text.strip())
    if found is None:
        return None
    order_id, revision, volume, page, content = found.groups()
    try:
        named = unquote(revision, errors="strict")
    except UnicodeDecodeError:
        return None
    return PageMark(order_id=order_id, revision=named, volume=int(volume), page=int(page), content=content)


def encode_modules(mark: PageMark) -> tuple[bytes, ...]:
    """The rows of the mark's modules from the top, 1 for a dark one, without quiet zone.

    The standard takes the best of eight masks, which is most of the work. The marks of one proof differ only by the
    page's number, so the best for the first page serves them all.
    """
    import segno

    code = segno.make_qr(mark.to_text(), error=ERROR_CORRECTION, mask=_find_best_mask(replace(mark, page=1).to_text()))
    return tuple(bytes(row) for row in code.matrix)


@lru_cache(maxsize=16)
def _find_best_mask(text: str) -> int:
    import segno

    return int(segno.make_qr(text, error=ERROR_CORRECTION).mask)


def draw_page_mark(pen: PaperCanvas, mark: PageMark, x: float, y: float, colour: Colour) -> None:
    """The mark with its lower left corner at (x, y): dark runs of modules as one path."""
    rows = encode_modules(mark)
    module = SIDE / len(rows)
    pen.fill_rectangles(
        [
            (x + run.start() * module, y + SIDE - (n + 1) * module, len(run[0]) * module, module)
            for n, row in enumerate(rows)
            for run in re.finditer(b"\x01+", row)
        ],
        colour,
    )
