"""An unseen layer of text over drawn lettering, so that names in every script can be searched and copied.

The font draws nothing. Each character, with the marks that belong to it, is one code of its own, and a table tells a
reader what it stands for. Codes are laid down in the order they stand on the page: right-to-left text is reversed code
by code, marks with a code of their own before their letter, because readers put it back into reading order themselves
(of four readers tried, all then give pointed Hebrew back, one of them with two marks of a letter exchanged).
"""

from __future__ import annotations

import unicodedata
import zlib
from base64 import b85decode

from pipeline.core.recent import Recent
from pipeline.outputs.paper.document import Document
from pipeline.outputs.paper.subsets import Carried

KEY = "Unseen"
"""The font's name among the page's resources."""
EM = 1000
ADVANCE = 500  # of every code, thousandths of an em
HEIGHT = 700  # of the box a reader marks, thousandths of an em


def clusters(text: str) -> list[str]:
    """Characters with their combining marks and joiners."""
    out: list[str] = []
    for c in text:
        joins = unicodedata.category(c) in ("Mn", "Me", "Mc", "Cf")
        if joins and out:
            out[-1] += c
        else:
            out.append(c)
    return out


_TWINS = {
    "L": [(0x4E00, 0x9000)],
    "R": [(0x10C00, 0x10C49), (0x10C80, 0x10CB3), (0x10B00, 0x10B36), (0x10980, 0x109B8)],
    "AL": [(0x0620, 0x0640), (0x0641, 0x064B), (0x0671, 0x06D4)],
    "ON": [(0x2500, 0x2580)],
}
"""Characters that share a bidirectional class and are not mirrored: one stands in for each cluster while it is ordered,
so that equal letters with different marks stay apart. Paired brackets are thereby ordered as other neutrals are."""


def visual(text: str) -> list[str]:
    """The codes from left to right as they stand on the page (Unicode bidirectional algorithm, UAX #9)."""
    if text.isascii():
        return list(text)
    parts = clusters(text)
    kinds = [unicodedata.bidirectional(p[0]) for p in parts]
    if not any(k in ("R", "AL", "AN") for k in kinds):
        return parts
    from bidi import get_display

    twins = {kind: [chr(c) for lo, hi in spans for c in range(lo, hi)] for kind, spans in _TWINS.items()}
    stand_ins = [
        twins[kind][i % len(twins[kind])] if kind in twins else part[0]
        for i, (part, kind) in enumerate(zip(parts, kinds, strict=True))
    ]
    waiting: dict[str, list[str]] = {}
    for stand_in, part in zip(stand_ins, parts, strict=True):
        waiting.setdefault(stand_in, []).append(part)
    out: list[str] = []
    for c in get_display("".join(stand_ins)):
        part = waiting[c].pop(0)
        out += reversed(part) if unicodedata.bidirectional(part[0]) in ("R", "AL") else [part]
    return out


class UnseenText:
    """Collects what is written on all pages; `write` makes the font once everything is."""

    def __init__(self) -> None:
        self._codes: dict[str, int] = {}
        self._shown: Recent[tuple[str, int]] = Recent()

    def ops(self, text: str, x: float, y: float, width: float, height: float) -> str:
        """Operators that lay `text` unseen from (x, y) over `width`, for lettering `height` high."""
        codes, count = self._shown.of(text, lambda: self._show(text))
        if not count or width <= 0 or height <= 0:
            return ""
        size = height * EM / HEIGHT
        stretch = 100 * width / (count * ADVANCE / EM * size)
        return f"BT 3 Tr /{KEY} {size:.3f} Tf {stretch:.2f} Tz 1 0 0 1 {x:.3f} {y:.3f} Tm <{codes}> Tj 100 Tz 0 Tr ET"

    def _show(self, text: str) -> tuple[str, int]:
        parts = visual(text)
        return "".join([f"{self._codes.setdefault(p, len(self._codes) + 1):04X}" for p in parts]), len(parts)

    def __bool__(self) -> bool:
        return bool(self._codes)

    def write(self, document: Document) -> int:
        """Adds a font whose codes stand for the collected clusters and draw nothing; the number of its object."""
        return Carried(
            name="PaperUnseen",
            file=font_file(),
            box=(0, 0, ADVANCE, HEIGHT),
            ascent=HEIGHT,
            descent=0,
            caps=HEIGHT,
            stem=80,
            width=ADVANCE,
            glyphs=(0,) * (len(self._codes) + 1),
            codes=((code, part) for part, code in self._codes.items()),
        ).write(document)


def font_file() -> bytes:
    """A TrueType font with one glyph that draws nothing: what fontTools builds of it, and a test builds anew."""
    return zlib.decompress(b85decode(_FONT))


_FONT = (
    "c-oavJxjw-6g~GP){lyUNOA1o&_NI!oCJl6qn1kN`l!!jNYaqBP&Yvb2Z#DUoSYmgIEg>Q!NDI8UE_VvXG{DTJmKDV&Ur5<HxC404rg#sJvdz7s"
    "NdEzfNJa>bwU|q9($~>Sg(1(=?M&Iq?@ngal5kf%>0IH(`Q56(>wDQu2nzm4Jb3`FS)rvw<GQQcUp&X5JT_-nqggyWT+nVT<Ztc7jZZ3@mvhCtM"
    "i~|<$5~5MtgDV4UY4Qzv1ZQ&(Cqf$dGK}6hL3u7UE|bWi-STT>KN;3>!L{^a85m$%L63SmsV<b+KZ6Gf|$KDo$U*zI6!Y@m~l`vm$$<Y;wt+Wv7"
    "BA%LNutv%IAJhKyCxic+Pbrt<oMOwfQt421+OL`az_UYp!K^bzoG^2=>~zg>I)rGY?|"
)
