"""The marks and letters that the single-line files lack, drawn for them: seventeen marks, signs, letters of their own.

All on the files' grid: 21 steps to the cap height, 14 to the x-height, y up from the baseline. A mark stands on (0, 0)
when it goes above a letter and hangs from it when it goes below. For lower-case letters with another x-height, and for
slanted typefaces, the caller scales and slants these shapes.
"""

from __future__ import annotations

import math

Stroke = tuple[tuple[float, float], ...]


def draw_dot(x: float, y: float, r: float = 1.0) -> Stroke:
    """Draw a dot as the files do: a small closed lozenge, which becomes a circle."""
    return ((x + r, y), (x, y + r), (x - r, y), (x, y - r), (x + r, y))


def draw_ring(x: float, y: float, r: float, steps: int = 12) -> Stroke:
    turns = [2 * math.pi * i / steps for i in range(steps)]
    points = [(x + r * math.cos(t), y + r * math.sin(t)) for t in turns]
    return (*points, points[0])


def shift_stroke(stroke: Stroke, dx: float, dy: float) -> Stroke:
    return tuple((x + dx, y + dy) for x, y in stroke)


_ACUTE: Stroke = ((-1.8, 0.0), (2.4, 4.2))
_COMMA: Stroke = ((0.6, 0.2), (0.9, -0.8), (0.4, -2.2), (-0.8, -3.4))

ABOVE: dict[str, tuple[Stroke, ...]] = {
    "\u0300": (((1.8, 0.0), (-2.4, 4.2)),),  # grave
    "\u0301": (_ACUTE,),  # acute
    "\u0302": (((-3.8, 0.2), (0.0, 4.0), (3.8, 0.2)),),  # circumflex
    "\u0303": (((-4.8, 0.6), (-4.2, 2.1), (-2.8, 3.0), (-1.2, 2.6), (1.2, 1.2), (2.8, 0.8), (4.2, 1.7), (4.8, 3.2)),),
    "\u0304": (((-4.2, 1.4), (4.2, 1.4)),),  # macron
    "\u0306": (((-4.2, 3.8), (-3.5, 1.8), (-2.0, 0.6), (0.0, 0.2), (2.0, 0.6), (3.5, 1.8), (4.2, 3.8)),),  # breve
    "\u0307": (draw_dot(0, 1.2),),  # dot above
    "\u0308": (draw_dot(-3.2, 1.2), draw_dot(3.2, 1.2)),  # diaeresis
    "\u0309": (((-1.8, 3.9), (-0.8, 4.9), (0.8, 4.9), (1.8, 3.8), (1.4, 2.6), (0.3, 1.7), (0.0, 0.3)),),  # hook above
    "\u030a": (draw_ring(0, 2.4, 2.3),),  # ring above
    "\u030b": (shift_stroke(_ACUTE, -2.3, 0), shift_stroke(_ACUTE, 2.3, 0)),  # double acute
    "\u030c": (((-3.8, 3.8), (0.0, 0.0), (3.8, 3.8)),),  # caron
    "\u0312": (((-0.6, 0.2), (-0.9, 1.2), (-0.4, 2.6), (0.8, 3.8)),),  # turned comma above, of ģ
}
BELOW: dict[str, tuple[Stroke, ...]] = {
    "\u0323": (draw_dot(0, -3.2),),  # dot below
    "\u0326": (shift_stroke(_COMMA, 0, -2.2),),  # comma below
    "\u0327": (
        ((0.0, 0.0), (-0.5, -1.6), (1.2, -2.0), (2.1, -3.2), (1.2, -4.6), (-0.6, -4.9), (-2.0, -4.4)),
    ),  # cedilla
    "\u0328": (((0.6, 0.0), (-0.6, -1.0), (-1.4, -2.4), (-1.2, -3.8), (0.0, -4.6), (1.6, -4.4)),),  # ogonek
}
HORN: Stroke = ((0.0, 0.0), (1.6, 0.5), (2.6, 1.5), (2.7, 2.8), (2.0, 4.0))
APOSTROPHE: Stroke = ((0.9, 0.0), (-0.5, -4.6))
"""The caron of ď, ľ, ť and Ľ, which stands beside the letter; hangs from the ascender."""

MARKS = frozenset((*ABOVE, *BELOW, "\u031b"))

COMMA_FOR_CEDILLA = frozenset("GKLNRklnr")
"""Letters whose cedilla is a comma in Latvian, the only language that writes them."""

CARON_BESIDE = frozenset("dltL")

_QUOTE: Stroke = ((1.0, 20.8), (0.9, 19.2), (0.2, 17.6), (-1.0, 16.4))  # ’
_TURNED: Stroke = ((-1.0, 16.4), (-0.9, 18.0), (-0.2, 19.6), (1.0, 20.8))  # ‘
_LOW = -19.4  # from ’ down to ‚


def _place_beside(stroke: Stroke) -> tuple[Stroke, ...]:
    return shift_stroke(stroke, -2.2, 0), shift_stroke(stroke, 2.2, 0)


def _draw_chevron(x: float, way: int) -> Stroke:
    return ((x + 2.4 * way, 12.0), (x - 2.4 * way, 7.0), (x + 2.4 * way, 2.0))


_SIGNS = {
    # half the advance | strokes round x = 0
    "–": "9 | -7,8 7,8",
    "—": "14 | -14,8 14,8",
    "‐": "6.5 | -4,8 4,8",
    "‑": "6.5 | -4,8 4,8",
    "±": "13 | 0,17 0,4 / -7,10.5 7,10.5 / -7,0.5 7,0.5",
    "×": "11 | -5.5,14 5.5,3 / -5.5,3 5.5,14",
    "¬": "12 | -8,11 8,11 8,5.5",
    "¦": "4 | 0,23 0,11.5 / 0,5.5 0,-6",
    "¯": "8 | -4.2,18 4.2,18",
    "†": "8 | 0,21 0,-4 / -5,14 5,14",
    "¢": (
        "10 | 6,10.6 4.2,12.8 1.6,14 -1.4,14 -4.2,12.4 -5.8,9.4 -5.8,5 -4.2,1.8 -1.4,0.2 1.6,0.2 4.2,1.4 "
        "6,3.6 / 0,18 0,-4"
    ),
    "£": (
        "10.5 | 6.2,16.6 5.4,19.4 2.8,21 0,20.6 -2.2,18.6 -2.8,15.6 -2.2,12 -1.6,8 -2.2,4 -4.6,1 -6.8,0 / "
        "-6.8,0 7,0 / -6,10 3.6,10"
    ),
    "¥": "9.5 | -8,21 0,10.5 8,21 / 0,10.5 0,0 / -6,9 6,9 / -6,5 6,5",
    "€": (
        "11 | 8,17.6 5.8,20 2.6,21 -1,20.2 -4,17.6 -5.6,13.6 -5.6,7.4 -4,3.4 -1,0.8 2.6,0 5.8,1 8,3.4 / "
        "-8.6,12.4 4.6,12.4 / -8.6,8.6 3.8,8.6"
    ),
    "§": (
        "9 | 5,17.6 3.6,20 0.6,21 -2.8,20.2 -4.6,17.8 -4,15.2 -1.6,13.2 1.8,11.2 4.4,9 5.2,6.6 4.2,4.6 / "
        "-4.2,14.8 -5.4,12.2 -4.6,10 -2,7.8 1.6,5.6 4,3.4 4.6,0.8 3,-1.8 -0.4,-3 -3.6,-2 -5,0.4"
    ),
    "¶": "9.5 | 6,21 6,-4 / 2,-4 2,21 -1.8,21 -4.8,19.4 -6.2,16.2 -4.8,12.8 -1.8,11.2 2,11.2 / 2,21 6,21",
}
_CAPITALS = {
    # width of the ink from x = 0 | strokes: letters that can't be composed from a letter of the file and a mark
    "Æ": "20 | 0,0 10.4,21 19.4,21 / 11,21 11,0 20,0 / 3.5,7 11,7 / 11,11 17.4,11",
    "Œ": (
        "21 | 12,21 7.6,21 5,20 2.8,18 1.2,15.6 0.2,12.6 0.2,8.4 1.2,5.4 2.8,3 5,1 7.6,0 12,0 / 12,0 12,21 / "
        "12,21 20.4,21 / 12,11 18.6,11 / 12,0 21,0"
    ),
    "Þ": "12 | 0,0 0,21 / 0,17 6.4,17 9.4,16 11.2,14.2 12,11.6 11.2,8.8 9.4,7 6.4,6 0,6",
    "ẞ": (
        "13 | 0,0 0,14 0.8,17.6 3,20.2 6.2,21 12.4,21 6.8,12.6 / 6.8,12.6 9.8,12 12.2,10 13,6.8 12.4,3.4 "
        "10.2,0.8 7.4,0 4.6,0.8"
    ),
}
_SMALL = {
    "ß": (
        "11.6 | 0,0 0,15.4 0.8,18.4 2.8,20.4 5.4,21 8,20.2 9.4,18 9,15.2 7,13.2 5.6,12.2 / 5.6,12.2 8.8,10.8 "
        "11,8.4 11.6,5.4 10.6,2.2 8.2,0.3 5.2,0.3"
    ),
    "þ": ("11 | 0,21 0,-7 / 0,11 2,13 4.2,14 6.8,14 9,13 10.6,10.8 11.2,8 11.2,6 10.6,3.2 9,1 6.8,0 4.2,0 2,1 0,3"),
    "ð": (
        "11.4 | 2.2,20.8 5.2,19.4 8,16.8 10.2,13.2 11.3,9.2 11.3,5.6 10.2,2.4 8.2,0.5 5.6,0 2.8,0.6 0.8,2.8 "
        "0.1,6 0.9,9.4 2.9,11.9 5.6,12.6 8.2,11.8 10.6,9.6 / 3,15.6 10,19.6"
    ),
    "ĸ": "9.6 | 0,14 0,0 / 9.4,14 0,5 / 3.8,8.6 9.6,0",
    "ſ": "6 | 6,20.4 4,21 2,20.6 0.5,19 0,16.4 0,0 / 0,14 2.6,14",
    "ς": ("10 | 10,12.4 8.2,13.7 5.8,13.9 3.2,12.8 1.2,10.4 0.3,7.4 0.9,4.6 3,2.6 5.8,1.4 7.8,-0.4 7.8,-2.8 6.2,-4.4"),
}


def _parse_strokes(text: str) -> tuple[Stroke, ...]:
    """Parse strokes written as "x,y x,y / x,y x,y"."""
    pairs = ((point.split(",") for point in stroke.split()) for stroke in text.split("/"))
    return tuple(tuple((float(x), float(y)) for x, y in stroke) for stroke in pairs)


def _parse_table(table: dict[str, str]) -> dict[str, tuple[float, tuple[Stroke, ...]]]:
    """Parse a table of "width | strokes"."""
    split = {character: text.split("|") for character, text in table.items()}
    return {character: (float(width), _parse_strokes(strokes)) for character, (width, strokes) in split.items()}


_CROSS_HAIRS = _parse_strokes("-7,16 -3.6,12.6 / 7,16 3.6,12.6 / -7,2 -3.6,5.4 / 7,2 3.6,5.4")
_C = _parse_strokes("4.2,13.4 2.4,15.2 0,15.8 -3,14.9 -4.8,12.2 -4.8,8.8 -3,6.1 0,5.2 2.4,5.8 4.2,7.6")
_R = _parse_strokes("-3.6,5.2 -3.6,15.8 1.2,15.8 3.4,14.8 3.9,12.9 3.4,11 1.2,10.1 -3.6,10.1 / 0.4,10.1 4.2,5.2")

SIGNS: dict[str, tuple[float, tuple[Stroke, ...]]] = {
    # half the advance, strokes round x = 0
    **_parse_table(_SIGNS),
    "‘": (4.0, (_TURNED,)),
    "’": (4.0, (_QUOTE,)),
    "‚": (4.0, (shift_stroke(_QUOTE, 0, _LOW),)),
    "“": (6.2, _place_beside(_TURNED)),
    "”": (6.2, _place_beside(_QUOTE)),
    "„": (6.2, tuple(shift_stroke(s, 0, _LOW) for s in _place_beside(_QUOTE))),
    "«": (8.0, (_draw_chevron(-2.6, 1), _draw_chevron(2.6, 1))),
    "»": (8.0, (_draw_chevron(-2.6, -1), _draw_chevron(2.6, -1))),
    "‹": (5.0, (_draw_chevron(0, 1),)),
    "›": (5.0, (_draw_chevron(0, -1),)),
    "…": (12.0, (draw_dot(-8, 1), draw_dot(0, 1), draw_dot(8, 1))),
    "·": (5.0, (draw_dot(0, 9),)),
    "•": (7.0, (draw_ring(0, 9.0, 3.0),)),
    "°": (6.5, (draw_ring(0, 17.4, 3.4),)),
    "÷": (13.0, (((-8.0, 9.0), (8.0, 9.0)), draw_dot(0, 15), draw_dot(0, 3))),
    "¨": (7.0, (draw_dot(-3.2, 18), draw_dot(3.2, 18))),
    "´": (5.0, (shift_stroke(_ACUTE, 0, 16.5),)),
    "¸": (5.0, BELOW["\u0327"]),
    "©": (13.0, (draw_ring(0, 10.5, 11.0, 24), *_C)),
    "®": (13.0, (draw_ring(0, 10.5, 11.0, 24), *_R)),
    "¤": (11.0, (draw_ring(0, 9.0, 5.0), *_CROSS_HAIRS)),
}
SIGNS["ʼ"] = SIGNS["’"]  # the letter apostrophe and the ʻokina look like the quotation marks
SIGNS["ʻ"] = SIGNS["‘"]
SIGNS["-"] = SIGNS["‐"]  # the file's own hyphen is a minus, longer than a dash

CAPITALS = _parse_table(_CAPITALS)
SMALL = _parse_table(_SMALL)
"""Width of the ink from x = 0, strokes: letters that are no letter of the file with a mark."""
