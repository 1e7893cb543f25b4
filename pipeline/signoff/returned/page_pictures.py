"""What a returned PDF looks like: pages rendered and compared, and what the picture of a field shows."""

from __future__ import annotations

import unicodedata
from collections import Counter
from io import BytesIO
from typing import Any

import numpy as np
from numpy.typing import NDArray

DPI = 100
FAINT = 40
"""Of 255 in any colour: pixels nearer than this are alike. Outlines that were written with fewer digits come out up to
a tenth of a pixel elsewhere, which is 26."""
SPECK = 3
"""Pixels that may differ by more on a page: ends of hairlines. A full stop of 8 points has about 6 at this size."""
MOST_SHOWN = 4_000

_PAINTS = frozenset("S s f F f* B B* b b* sh Do BI EI INLINE IMAGE Tj TJ ' \"".split())
_FILLS = frozenset("f F f* B B* b b* S s n".split())
_LINES = frozenset("m l c v y".split())


class PagePictures:
    """The pages of one PDF as pictures, its annotations and fields left out."""

    def __init__(self, data: bytes) -> None:
        import pypdfium2

        self._pdf = pypdfium2.PdfDocument(data)

    def draw_page(self, page: int) -> NDArray[np.int16]:
        """Height × width × colours. page: from 0."""
        drawn = self._pdf[page].render(scale=DPI / 72, may_draw_forms=False, draw_annots=False, rev_byteorder=True)
        picture: NDArray[np.int16] = drawn.to_numpy()[:, :, :3].astype(np.int16)
        return picture


def are_pictures_alike(one: NDArray[np.int16], other: NDArray[np.int16]) -> bool:
    """Return whether two pictures show the same."""
    if one.shape != other.shape:
        return False
    apart = np.abs(one - other).max(axis=2)
    return int((apart > FAINT).sum()) <= SPECK


# --- pictures of fields -----------------------------------------------------------------------------------------------


def is_painting(look: Any) -> bool:
    """Return whether a field's picture (a form XObject) draws anything besides a ground or an edge of its whole box."""
    import pikepdf

    if not isinstance(look, pikepdf.Stream):
        return False
    return bool(_list_drawn(look))


def is_text_only(look: Any) -> bool:
    """Return whether whatever a field's picture draws, besides its ground and edge, is text."""
    return _list_drawn(look) <= {"Tj", "TJ", "'", '"'}


def _list_drawn(look: Any) -> set[str]:
    """The operators that paint, without those that paint a ground or an edge of the whole box."""
    import pikepdf

    box = [float(v) for v in look.get("/BBox", [0, 0, 0, 0])]
    width, height = abs(box[2] - box[0]), abs(box[3] - box[1])
    found: set[str] = set()
    whole, path = True, False
    for step in pikepdf.parse_content_stream(look):
        operator = str(step.operator)
        if operator == "re":
            w, h = (abs(float(v)) for v in list(step.operands)[2:4])
            whole, path = whole and w >= 0.8 * width - 4 and h >= 0.8 * height - 4, True
        elif operator in _LINES:
            whole, path = False, True
        elif operator in _FILLS:
            if path and not whole and operator != "n":
                found.add(operator)
            whole, path = True, False
        elif operator in _PAINTS:
            found.add(operator)
    return found


def list_shown_texts(looks: list[Any], fonts: Any) -> list[str]:
    """The text that each of these pictures of fields shows. fonts: those that a form's fields share."""
    import pikepdf
    import pypdfium2

    if not looks:
        return []
    made = pikepdf.new()
    shared = made.copy_foreign(fonts) if isinstance(fonts, pikepdf.Dictionary) and fonts.is_indirect else None
    for look in looks:
        box = [float(v) for v in look.get("/BBox", [0, 0, 100, 20])]
        page = made.add_blank_page(page_size=(max(box[2] - box[0], 3), max(box[3] - box[1], 3)))
        page.obj.MediaBox = pikepdf.Array([round(v, 3) for v in box])
        drawn = pikepdf.Dictionary(X=made.copy_foreign(look))
        page.obj.Resources = pikepdf.Dictionary(XObject=drawn)
        if shared is not None:
            page.obj.Resources.Font = shared
        page.obj.Contents = made.make_stream(b"/X Do")
    out = BytesIO()
    made.save(out)
    pdf = pypdfium2.PdfDocument(out.getvalue())
    return [pdf[n].get_textpage().get_text_range()[:MOST_SHOWN] for n in range(len(looks))]


def is_adding(shown: str, value: str) -> bool:
    """Return whether a picture shows characters that its field's value has not. Some programs cannot draw every script
    and show a question mark, a box or nothing for what they cannot."""
    there = Counter(_strip_to_letters(value))
    unknown = sum(n for c, n in there.items() if ord(c) > 0xFF)
    more = Counter(_strip_to_letters(shown)) - there
    stand_ins = sum(more.pop(c, 0) for c in "?\ufffd□¿•")
    return bool(more) or stand_ins > unknown


def _strip_to_letters(text: str) -> str:
    return "".join(
        c
        for c in unicodedata.normalize("NFKC", text)
        if not c.isspace() and unicodedata.category(c) not in ("Cf", "Cc", "Co", "Cn")
    )
