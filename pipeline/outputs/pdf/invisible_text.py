"""Invisible text over lettering drawn as curves, so that names in every script can be searched and copied.

What the reading typeface covers is laid in it. For everything else there are typefaces without ink, one for each 4,096
code points, built when a paper first needs them: every character has a code of its own and the same width, and the
library's own table tells a reader what it stands for. Characters are laid down in the order they stand on the page:
right-to-left text is reversed, marks before their letter, because readers put it back into reading order themselves
(of four readers tried, all then give pointed Hebrew back, one of them with two marks of a letter exchanged).
"""

from __future__ import annotations

import io
from functools import lru_cache

from pipeline.core.language.bidi import LONGEST, compute_visual_order
from pipeline.outputs.pdf import fonts

EM = 1000
ADVANCE = 500  # of every glyph, thousandths of an em
HEIGHT = 700  # of the box a reader highlights, thousandths of an em
_BLOCK = 12  # bits of a code point: that many share a font
SANS_CAP = 0.714
"""Cap height of the reading typeface in its size (Noto Sans: 714 of 1000)."""


@lru_cache(maxsize=256)
def build_invisible_layer(text: str) -> tuple[tuple[tuple[str, str], ...], float, float]:
    """Return how a text is laid: typefaces with what is shown in each, in their order on the page; its width for a size
    of 1; the height for a size of 1 that is taken for its lettering's."""
    if fonts.covers(text):
        return ((fonts.SANS, text),), fonts.measure_width(text, 1.0), SANS_CAP
    shown = "".join(text[i] for i, _ in compute_visual_order(text)) if len(text) <= LONGEST else text
    out: list[tuple[str, str]] = []
    for c in shown:
        name = out[-1][0] if c == " " and out else get_blank_face(ord(c) >> _BLOCK)
        if out and out[-1][0] == name:
            out[-1] = (name, out[-1][1] + c)
        else:
            out.append((name, c))
    return tuple(out), len(shown) * ADVANCE / EM, HEIGHT / EM


@lru_cache
def get_blank_face(block: int) -> str:
    """The name of a registered typeface without ink, for a space and the code points of a block."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    name = f"PaperBlank{block:X}"
    codes = range(block << _BLOCK, (block + 1) << _BLOCK)
    pdfmetrics.registerFont(
        TTFont(name, io.BytesIO(build_blank_font(name, codes)), asciiReadable=False, shapable=False)
    )
    return name


def build_blank_font(name: str, codes: range) -> bytes:
    """A TrueType font whose only glyph draws nothing and stands for all of these code points and a space."""
    from fontTools.fontBuilder import FontBuilder
    from fontTools.pens.ttGlyphPen import TTGlyphPen

    pen = TTGlyphPen(None)
    pen.moveTo((0, 0))  # a line there and back has a box but no area; readers skip single glyphs without a box
    pen.lineTo((ADVANCE, HEIGHT))
    pen.closePath()
    blank = pen.glyph()
    builder = FontBuilder(EM, isTTF=True)
    builder.setupGlyphOrder([".notdef", "blank"])
    builder.setupCharacterMap(dict.fromkeys((0x20, *codes), "blank"))
    builder.setupGlyf({".notdef": blank, "blank": blank})
    builder.setupHorizontalMetrics({".notdef": (ADVANCE, 0), "blank": (ADVANCE, 0)})
    builder.setupHorizontalHeader(ascent=HEIGHT, descent=0)
    builder.setupNameTable({"familyName": name, "styleName": "Regular", "psName": name})
    builder.setupOS2(sTypoAscender=HEIGHT, usWinAscent=HEIGHT, usWinDescent=0)
    builder.setupPost()
    builder.updateHead(created=0, modified=0)
    builder.font.recalcTimestamp = False  # equal input has to give equal bytes
    out = io.BytesIO()
    builder.font.save(out)
    return out.getvalue()
