"""A row on a circular arc, for medals and round plaques.

Letters are turned, never bent. Spacing is kept where the eye judges it, at mid cap height: the length of arc there
between two letters is the distance they have when set straight. Letters that join do so between the baseline and mid
cap height; along the bottom, where what is lower is spread, their spacing is kept at the baseline, so that no join
opens. A letter and its marks turn as one; letters that come to touch are united again when the row is final.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from pipeline.core.config.order import ArcConfig
from pipeline.core.model import Piece, SetRow, Shape, ShapedRow
from pipeline.geometry.curves import Array
from pipeline.layout.block import PlacedRow
from pipeline.layout.shape_hulls import ShapeHulls
from pipeline.lettering.arc_union import TOUCH_OF_EM, unite_touching

MOSTLY = 0.5
"""Share of joined letters from which a row counts as joined."""


@dataclass(frozen=True, slots=True, eq=False)
class _ArcLetter:
    """One glyph in its place in the straight row, in row units; `at` is the index of its characters."""

    shape: Shape
    x: float
    y: float
    scale: float
    at: int


def place_on_arc(
    row: ShapedRow, cap_height: float, arc: ArcConfig, middle: tuple[float, float], align: str, hulls: ShapeHulls
) -> PlacedRow:
    """Place the row with its baseline on the arc. middle: of the blank, where the arc is centred unless it says
    otherwise.

    Along the top letters stand outwards and the row reads clockwise; along the bottom they stand inwards and it reads
    anticlockwise. Without `start` the ink is centred on the top or the bottom; with it the row begins (left), ends
    (right) or is centred there. Centred means that the ink spans equal angles to both sides of the arc's centre. That
    isn't the middle of the straight row, because what sticks out of a letter at its top or foot is seen under another
    angle.
    """
    scale = cap_height / row.cap_units
    sense = -1.0 if arc.at == "top" else 1.0
    letters = _group_letters(row)
    rise = 0.0 if arc.at == "bottom" and _is_joined(row) else cap_height / 2
    radius = arc.radius - sense * rise  # radius on which spacing is measured
    cx, cy = arc.centre or middle
    left, right = hulls.measure_hanging(row)
    if arc.start is None:
        start, anchor = (math.pi / 2 if arc.at == "top" else -math.pi / 2), (left + right) / 2
    else:
        start = math.radians(arc.start)
        anchor = {"left": left, "right": right}.get(align, (left + right) / 2)
    centred = arc.start is None or align not in ("left", "right")
    middles = _find_middles(letters, hulls)

    def place_pieces(start: float) -> tuple[Piece, ...]:
        pieces = []
        for letter in letters:
            own = middles[letter.at]
            angle = start + sense * (own - anchor) * scale / radius
            turn = angle + sense * math.pi / 2
            dx, dy = (letter.x - own) * scale, letter.y * scale
            c, s = math.cos(turn), math.sin(turn)
            pieces.append(
                Piece(
                    shape=letter.shape,
                    scale=scale * letter.scale,
                    x=cx + arc.radius * math.cos(angle) + c * dx - s * dy,
                    y=cy + arc.radius * math.sin(angle) + s * dx + c * dy,
                    turn=turn,
                )
            )
        return tuple(pieces)

    pieces = place_pieces(start)
    if centred and pieces:
        counts = [_is_within(letter, left, right, hulls) for letter in letters]
        inked = [hulls.place_hull(piece) for piece, inside in zip(pieces, counts, strict=True) if inside]
        pieces = place_pieces(start - _measure_off_middle(inked, (cx, cy), start))
    width = (row.ink[2] - row.ink[0]) * scale if row.ink else 0.0
    set_row = SetRow(text=row.text, pieces=pieces, x=0.0, baseline=arc.radius, width=width)
    over = width - math.radians(arc.sweep) * radius
    return PlacedRow(
        row=row, set_row=set_row, hulls=tuple(hulls.place_hull(piece) for piece in pieces), over=max(over, 0.0)
    )


def _is_within(letter: _ArcLetter, left: float, right: float, hulls: ShapeHulls) -> bool:
    """Return whether a letter is part of the ink that counts for centring: its middle is between the ends of that."""
    hull = hulls.get_hull(letter.shape)[:, 0] * letter.scale + letter.x
    return left <= (float(np.min(hull)) + float(np.max(hull))) / 2 <= right


def _measure_off_middle(inked: Sequence[Array], centre: tuple[float, float], start: float) -> float:
    """Return the angle (radians, anticlockwise) from `start` to the middle of the ink, seen from the centre."""
    if not inked:
        return 0.0
    x, y = (np.concatenate(inked) - centre).T
    angles = np.angle((x + 1j * y) * np.exp(-1j * start))
    return float(angles.min() + angles.max()) / 2


def unite_arc_letters(set_row: SetRow, hulls: ShapeHulls) -> SetRow:
    """Unite letters of the row that touch or overlap, as they are from the start in a straight row."""
    pieces = list(set_row.pieces)
    home = list(range(len(pieces)))

    def find_root(i: int) -> int:
        while home[i] != i:
            i = home[i]
        return i

    boxes = [(*h.min(axis=0), *h.max(axis=0)) for h in map(hulls.place_hull, pieces)]
    for i, j in combinations(range(len(pieces)), 2):
        a, b = boxes[i], boxes[j]
        slack = TOUCH_OF_EM * pieces[i].shape.units_per_em * pieces[i].scale
        if a[0] > b[2] + slack or b[0] > a[2] + slack or a[1] > b[3] + slack or b[1] > a[3] + slack:
            continue
        if pieces[i].shape.single_line or pieces[j].shape.single_line or find_root(i) == find_root(j):
            continue
        if hulls.area(pieces[i]).distance(hulls.area(pieces[j])) <= slack:
            low, high = sorted((find_root(i), find_root(j)))
            home[high] = low
    groups: dict[int, list[Piece]] = defaultdict(list)
    for i, piece in enumerate(pieces):
        groups[find_root(i)].append(piece)
    return replace(set_row, pieces=tuple(unite_touching(group) for group in groups.values()))


def _group_letters(row: ShapedRow) -> list[_ArcLetter]:
    """Every glyph by itself, clusters taken apart."""
    out = []
    for placed in row.shapes:
        shape, ats = placed.shape, placed.at or (0,) * len(placed.shape.glyphs)
        if not shape.parts:
            out.append(_ArcLetter(shape, placed.x, placed.y, placed.scale, ats[0]))
            continue
        for part, use, at in zip(shape.parts, shape.glyphs, ats, strict=True):
            x, y = placed.x + use.dx * placed.scale, placed.y + use.dy * placed.scale
            out.append(_ArcLetter(part, x, y, placed.scale * use.scale, at))
    return out


def _is_joined(row: ShapedRow) -> bool:
    """Return whether most of the row's characters are joined to others."""
    characters = {at for placed in row.shapes for at in placed.at}
    joined = {at for placed in row.shapes if len(set(placed.at)) > 1 for at in placed.at}
    return len(joined) > MOSTLY * len(characters)


def _find_middles(letters: list[_ArcLetter], hulls: ShapeHulls) -> dict[int, float]:
    """For each character the middle of its letter, across; marks follow it. The letter is its widest glyph."""
    widest: dict[int, tuple[float, float]] = {}
    for letter in letters:
        hull = hulls.get_hull(letter.shape)[:, 0] * letter.scale
        low, high = float(np.min(hull)), float(np.max(hull))
        if letter.at not in widest or high - low > widest[letter.at][0]:
            widest[letter.at] = high - low, letter.x + (low + high) / 2
    return {at: middle for at, (_, middle) in widest.items()}
