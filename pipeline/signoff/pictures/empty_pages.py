"""The blank pages of a proof: how each looks, and where its boxes are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from pipeline.core.short_codes import build_short_code
from pipeline.outputs.pdf.identity import FIELD, ProofIdentity
from pipeline.outputs.proof.decision import SIGNATURE_HIGH
from pipeline.outputs.proof.page_mark import PageMark, encode_modules
from pipeline.signoff.returned.pdf_form import list_dictionaries, read_attached

DPI = 150
MM = DPI / 25.4
"""Pixels per millimetre of a straightened page."""

Place = tuple[int, int, int, int]
"""Left, top, right, bottom in pixels from a page's upper left corner; right and bottom are the first beyond."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxPlace:
    """A box of the form. option: of one that belongs to several, which it stands for."""

    field: str
    kind: Literal["tick", "write"]
    place: Place
    option: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EmptyPage:
    """One page as it was made. look: red, green, blue. mark: where its mark stands. signature: where somebody signs on
    paper, none on most pages."""

    number: int
    look: NDArray[np.uint8]
    boxes: tuple[BoxPlace, ...]
    mark: Place
    modules: NDArray[np.uint8]
    signature: Place | None


class EmptyProof:
    """The stored copy of a proof; its pages are rendered when needed."""

    def __init__(self, data: bytes) -> None:
        import pikepdf
        import pypdfium2

        self._drawn = pypdfium2.PdfDocument(data)
        self._kept: dict[int, EmptyPage] = {}
        self._made = pikepdf.open(_read_stream(data))
        self.identity = ProofIdentity.from_json(read_attached(self._made))
        self.size = len(self._made.pages)

    def get_mark(self, number: int) -> PageMark:
        """Return the content of a page's mark."""
        told = self.identity
        content = build_short_code(told.hash_content(), 6)
        return PageMark(
            order_id=told.order_id, revision=told.revision, volume=told.volume, page=number, content=content
        )

    def get_page(self, number: int) -> EmptyPage:
        """Return a page, counted from 1."""
        if number not in self._kept:
            self._kept[number] = self._draw_page(number)
        return self._kept[number]

    def _draw_page(self, number: int) -> EmptyPage:
        drawn = self._drawn[number - 1].render(scale=DPI / 72).to_pil().convert("RGB")
        look = np.asarray(drawn)
        boxes = tuple(_list_boxes(self._made.pages[number - 1], float(look.shape[0])))
        name = next((b.place for b in boxes if b.field == "name"), None)
        return EmptyPage(
            number=number,
            look=look,
            boxes=boxes,
            mark=place_mark(look.shape[0]),
            modules=_read_modules(look, len(encode_modules(self.get_mark(number)))),
            signature=_place_signature(name) if name else None,
        )


def _read_modules(look: NDArray[np.uint8], count: int) -> NDArray[np.uint8]:
    """Read the modules of the mark as it was drawn, 1 for a dark one: another version may have used another mask."""
    left, top, right, bottom = place_mark(look.shape[0])
    steps = (np.arange(count) + 0.5) / count
    rows, columns = (top + steps * (bottom - top)).astype(int), (left + steps * (right - left)).astype(int)
    return np.asarray(look[np.ix_(rows, columns)].max(axis=2) < 128, dtype=np.uint8)


def place_mark(height: int) -> Place:
    """Return the position of the mark on a page of this height in pixels."""
    from pipeline.outputs.proof.page_frame import MARK_FOOT, SIDE
    from pipeline.outputs.proof.page_mark import SIDE as MARK

    low = height - MARK_FOOT * MM
    return (round(SIDE * MM), round(low - MARK * MM), round((SIDE + MARK) * MM), round(low))


def _read_stream(data: bytes) -> Any:
    from io import BytesIO

    return BytesIO(data)


def _place_signature(name: Place) -> Place:
    """Return the place of the signature line: below the box for the name, equally wide."""
    left, _, right, bottom = name
    return (left, bottom, right, bottom + round(SIGNATURE_HIGH * MM))


def _list_boxes(page: Any, height: float) -> Sequence[BoxPlace]:
    out = []
    for note in list_dictionaries(page.obj.get("/Annots")):
        if str(note.get("/Subtype", "")) != "/Widget":
            continue
        above = note.get("/Parent", {})
        name = str(note.get("/T", above.get("/T", "")))
        x0, y0, x1, y1 = (float(v) * DPI / 72 for v in note.Rect)
        if name == FIELD or x1 - x0 < 1:
            continue
        place = (round(x0), round(height - y1), round(x1), round(height - y0))
        button = str(note.get("/FT", above.get("/FT", ""))) == "/Btn"
        state = next((str(k).strip("/") for k in note.AP.N if str(k) != "/Off"), "") if button else ""
        out.append(BoxPlace(field=name, kind="tick" if button else "write", place=place, option=state))
    return out
