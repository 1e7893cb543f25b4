"""Detection of misplaced marks.

A font that lacks an accented letter may have the letter and the accent separately. If it doesn't define how they
combine, the accent lands beside the letter, or even on the next one: ễ without its tilde beside ñ is another name. Such
a letter counts as missing.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from typing import Any

import shapely

from pipeline.geometry.regions import build_polygon_from_outline
from pipeline.lettering.text_runs import TextRun
from pipeline.lettering.typeface import ShapedGlyph, Typeface

SCRIPTS = frozenset(("Latn", "Grek", "Cyrl", "Armn", "Hebr", "Zyyy"))
"""Scripts whose marks stand above, below or in their letter. Other scripts place marks by rules of their own."""

ASIDE_OF_CAP = 0.6
"""Distance, in cap heights, that marks beside a letter may be outside it: those before Greek capitals, a horn, and the
caron of ď, ť and ľ, which is drawn as an apostrophe."""

SLACK_OF_MARK = 0.1
"""Every other mark is centred over or under its letter, or over an i outside it by at most this share of the mark's
width. In the shelf's typefaces, misplaced marks miss their letters by .01 to .57 of the cap height."""

INTO_OF_MARK = 0.1
"""Largest share of a mark above or below that may overlap its letter; marks that touch by design stay under .08."""

_ASIDE = frozenset("\u031b\u0315\u0358")  # horn, comma and dot above right
_APART = frozenset((220, 230))  # canonical combining classes of marks that stand clear, below and above


def find_misplaced_marks(face: Typeface, text: str, run: TextRun, steps: Sequence[ShapedGlyph]) -> bool:
    """Find marks of a shaped run that lie beside their letter, or in its ink."""
    starts = sorted({step.cluster for step in steps})
    if len(starts) == len(steps) or run.script not in SCRIPTS:
        return False
    ends = dict(zip(starts, [*starts[1:], run.end], strict=True))
    groups: dict[int, list[tuple[int, float, float]]] = {}
    pen = 0.0
    for step in steps:
        groups.setdefault(step.cluster, []).append((step.glyph, pen + step.dx, step.dy))
        pen += step.advance
    return any(
        _is_amiss(face, text[at : ends[at]], group[::-1] if run.right_to_left else group, run)
        for at, group in groups.items()
        if len(group) > 1
    )


def _is_amiss(face: Typeface, characters: str, glyphs: Sequence[tuple[int, float, float]], run: TextRun) -> bool:
    """Return whether one letter's marks are misplaced; the letter comes first."""
    parts = unicodedata.normalize("NFD", characters)
    classes = [unicodedata.combining(c) for c in parts]
    if not any(classes) or not face.draw_glyph(glyphs[0][0]).bounds:
        return False
    (letter, x, y), *marks = glyphs
    left, right = _get_extent(face, letter, x)
    room = ASIDE_OF_CAP * face.cap_units
    before = room if run.script == "Grek" and characters[0].isupper() else 0.0
    after = room if _ASIDE.intersection(parts) or ("\u030c" in parts and parts[0] in "dtlL") else 0.0
    clear = all(c in _APART for c in classes if c)
    for glyph, mx, my in marks:
        if not face.draw_glyph(glyph).bounds:
            continue
        start, end = _get_extent(face, glyph, mx)
        slack = SLACK_OF_MARK * (end - start)
        if not left - before - slack <= (start + end) / 2 <= right + after + slack:
            return True
        if clear and _measure_inside(face, letter, glyph, mx - x, my - y) > INTO_OF_MARK:
            return True
    return False


def _get_extent(face: Typeface, glyph: int, x: float) -> tuple[float, float]:
    bounds = face.draw_glyph(glyph).bounds or (0.0, 0.0, 0.0, 0.0)
    return x + bounds[0], x + bounds[2]


def _measure_inside(face: Typeface, letter: int, mark: int, dx: float, dy: float) -> float:
    """Return the share of a mark's area that overlaps its letter."""
    key = ("mark", letter, mark, round(dx, 6), round(dy, 6))
    if key not in face.memo:
        there = shapely.transform(_get_area(face, mark), lambda p: p + (dx, dy))
        face.memo[key] = float(shapely.intersection(_get_area(face, letter), there).area / (there.area or 1.0))
    return float(face.memo[key])


def _get_area(face: Typeface, glyph: int) -> Any:
    key = ("area", glyph)
    if key not in face.memo:
        face.memo[key] = build_polygon_from_outline(face.draw_glyph(glyph).outline, face.units_per_em / 1000)
    return face.memo[key]
