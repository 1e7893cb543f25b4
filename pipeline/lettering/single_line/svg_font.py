"""Single-line letters from an SVG font (SVG 1.1, chapter 20): glyphs whose paths are lines that a pen follows.

Its polylines are brought to the grid of the other single-line files (`jhf_file`), so that they are smoothed and given
marks in the same way.
"""

from __future__ import annotations

import re

import numpy as np

from pipeline.geometry.curves import Array
from pipeline.lettering.single_line.jhf_file import CAP, StrokeGlyph

_SPACE = "{http://www.w3.org/2000/svg}"
_NUMBER = r"[\s,]*(-?[\d.]+(?:e-?\d+)?)"
_STEP = re.compile(rf"\s*(?:([ML]){_NUMBER * 2}|C{_NUMBER * 6})")
_PIECES = 6
"""Lines per curve; a file of polylines has about as many to a bend."""


def read_svg_font(data: bytes, *, baseline: float, cap_height: float) -> dict[str, StrokeGlyph]:
    """Read the letters of an SVG font by character, in grid steps.

    baseline: the height, in font units, at which its letters really stand; drawn ones are a little off 0. cap_height:
    from there. Only files of the shelf, whose bytes are known, come here. ValueError names the glyph that is damaged.
    """
    from xml.etree import ElementTree

    try:
        root = ElementTree.fromstring(data)
    except ElementTree.ParseError as problem:
        raise ValueError(str(problem)) from problem
    step = CAP / cap_height
    out = {}
    for glyph in root.iter(f"{_SPACE}glyph"):
        character = glyph.get("unicode", "")
        if len(character) != 1:
            continue  # skip ligatures: letters are set one by one
        try:
            width = float(glyph.get("horiz-adv-x", "")) * step
        except ValueError as problem:
            raise ValueError(f"glyph {character!r} has no width") from problem
        strokes = _read_strokes(glyph.get("d", ""), character)
        out[character] = StrokeGlyph(tuple((s - (0.0, baseline)) * step for s in strokes), 0.0, width)
    return out


def _read_strokes(path: str, character: str) -> list[Array]:
    strokes: list[list[Array]] = []
    at = 0
    for step in _STEP.finditer(path):
        if step.start() != at or (step[1] != "M" and not strokes):
            break
        at = step.end()
        if step[1] == "M":
            strokes.append([])
        points = np.array([float(value) for value in step.groups()[1:] if value is not None]).reshape(-1, 2)
        strokes[-1] += [points[0]] if step[1] else _flatten_curve(strokes[-1][-1], *points)
    if path[at:].strip():
        raise ValueError(f"glyph {character!r}: {path[at : at + 12]!r} is neither a move, a line nor a curve")
    return [np.array(stroke) for stroke in strokes if stroke]


def _flatten_curve(a: Array, b: Array, c: Array, d: Array) -> list[Array]:
    t = np.linspace(0, 1, _PIECES + 1)[1:, None]
    return list((1 - t) ** 3 * a + 3 * t * (1 - t) ** 2 * b + 3 * t * t * (1 - t) * c + t**3 * d)
