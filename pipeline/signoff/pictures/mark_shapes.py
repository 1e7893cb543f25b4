"""Telling a tick or a cross from anything else: the strokes that would make one are fitted to the ink, and have to be
all there is of it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np

from pipeline.signoff.pictures.empty_pages import MM
from pipeline.signoff.pictures.ink import Mask
from pipeline.signoff.pictures.stroke_fit import CROSS, TICK, FittedStrokes, Floats, PenBounds, fit_strokes

FINEST, WIDEST = 0.14, 1.4
"""mm of a pen's stroke (a marker of 1.2 mm is fitted to 0.05); what is wider is a scribble."""
BLUR, MORE_BLUR, LARGE_BLUR = 1.35, 0.75, 1.15
"""How blurred a stroke may be for a picture's blur, and pixels more: colours are coarser than greys in a JPEG. The last
is all there may be more of it."""
PLAIN_BLUR = 2.2
"""Pixels: of strokes that are more blurred less may be left unexplained, by the square of it."""
LEFT_OF_TICK, MOST_OF_TICK = 0.0085, 0.08
LEFT_OF_CROSS, MOST_OF_CROSS = 0.005, 0.03
"""Share of its ink that a mark's strokes may leave unexplained, for a pen of 1 mm, and at most. It is less of a wide
pen's, as 1 / width³ of a tick, 1 / width² of a cross: a thin one has less ink for the same error. Judged on made-up
boxes (`python -m tests.long.pictured_boxes`): of 1,278 struck out in pictures with greys none was taken for a mark."""
DOTTED, DOTTED_CROSS, WIDENED = 2.0, 0.0156, 0.1
"""How much more that is of a tick in a picture without greys, and what it is of a cross, for a pen of 1 mm and as
1 / width^1.5: edges lie on whole dots there, up to half of one off (dots are 0.13 mm wide in a fax, ITU-T T.4, from
memory). mm by which strokes may be wider there."""
SOFT = 0.6
"""The part of that which is allowed where the strokes are as blurred as they may be: scribbles look so."""
TOO_SOFT = 2.5
"""Pixels: of a blur that may be more, no mark has it all."""
EXTRA, EXTRA_ON_LINE, BEYOND, INKED = 0.1, 0.5, 0.3, 0.3
"""mm² of ink that may lie further from all strokes than so many mm, and more on the box's own line, which may come out
darker than it was printed; of a stroke's darkness, what is ink there."""
AROUND, LEAST_TONE = 1.0, 0.2
"""mm around a mark that must be as light as paper, and from what it is not: shade differs less within a box."""
MISSING, LACKING = 0.5, 0.45
"""Part of a stroke that may be without ink, and what is too light for ink, of its darkness."""
ROUGH, SPOT = 0.3, 0.2
"""Of a stroke's darkness, what may be too much or too little on a spot of so many mm."""
USUAL = 92
"""Per cent of a mark's ink that is no darker than a single stroke."""
OVERLAID, MIDDLES = 1.05, 20
"""Of the usual darkness in the middle of strokes, what is darker: two lie over each other. Places it is told by."""
MOST_TINT = 0.06
"""Of the paper's lightness: what is left of shade beside a mark at most; what is darker is ink."""
LEAST_LEG, LEAST_LONG_LEG = 0.8, 1.7
"""mm that the strokes of a tick are longer than half its pen is wide; the same for a cross is `LEAST_ARM`."""
LEAST_ARM = 1.2
RISES = 0.5
"""Sine of the least angle at which a cross's strokes and a tick's long one rise: a flatter one strikes out."""
NARROW, WIDE = 38.0, 125.0
"""Degrees between the strokes of a tick."""
ACROSS = 0.6
"""Sine of the least angle between those of a cross."""
MIDDLE = 0.22
"""Part of a stroke from either end that is not its middle, where those of a cross meet."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class InkPatch:
    """The ink in a box with its surroundings. dark: how dark its strokes are, of the paper's lightness; tone: how dark
    each place is; ink: what hangs together with what is in the box; core: its dark part; free: where nothing is printed
    and no other ink is. blur: most of a stroke; noise: of the picture; two_tones: it has no greys."""

    dark: Any
    tone: Any
    ink: Mask
    core: Mask
    free: Mask
    blur: float
    noise: float
    two_tones: bool


def compute_most_blur(blur: float, softened: float) -> float:
    """Compute the greatest blur of a stroke in a picture of this blur, softened by so much before it is read."""
    return float(np.hypot(min(BLUR * blur + MORE_BLUR, blur + LARGE_BLUR), softened))


def is_mark(patch: InkPatch) -> bool:
    """Return whether ink is a plain tick (two strokes that meet at their lower ends) or a plain cross (two that cross
    in their middles) and nothing else. Any further stroke may strike it out."""
    reach = 2 * round(0.9 * MM) + 1
    around = cv2.dilate(patch.ink.astype(np.uint8), np.ones((reach, reach), np.uint8)) > 0
    ys, xs = np.nonzero(around & patch.free)
    if len(ys) < 50:
        return False
    places = np.stack([xs, ys], axis=1).astype(np.float64)
    values = patch.dark[ys, xs].astype(np.float64)
    inked = patch.dark[patch.core & patch.free]
    if inked.size:  # felt pens are darker where strokes cross
        values = np.minimum(values, min(float(np.percentile(inked, USUAL)), _measure_most_dark(patch)))
    bare = patch.dark[around & patch.free & ~patch.ink]
    if bare.size:  # the paper beside a mark is a little dark where print is near
        values = np.maximum(values - min(float(np.median(bare)), MOST_TINT), 0.0)
    bounds = PenBounds(pen=(FINEST * MM, _get_widest(patch) * MM), blur=(0.5, patch.blur))
    for mask in (patch.core, patch.ink):
        ys, xs = np.nonzero(mask)
        if len(ys) < 12:
            continue
        points = np.stack([xs, ys], axis=1).astype(np.float64)
        for pattern, start in ((TICK, _start_tick(points)), (CROSS, _start_cross(points))):
            fitted = fit_strokes(places, values, pattern, start, bounds)
            if _has_shape(fitted) and _is_all(fitted, patch, places, values):
                return True
    return False


def _get_widest(patch: InkPatch) -> float:
    """Return how wide a pen's stroke may be in a picture, mm."""
    return WIDEST + WIDENED if patch.two_tones else WIDEST


def _measure_most_dark(patch: InkPatch) -> float:
    """Measure how dark a single stroke is at most, where it is wide enough to be as dark in its middle as its pen."""
    middle = cv2.erode(patch.core.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    values = patch.dark[middle & patch.free]
    return OVERLAID * float(np.median(values)) if len(values) >= MIDDLES else math.inf


def _start_tick(points: Floats) -> Floats:
    """Say where a tick's strokes may begin, meet and end: its lowest point, the one farthest from that, and the one
    farthest from both."""
    foot = points[np.argmax(points[:, 1])]
    tip = points[np.argmax(np.hypot(*(points - foot).T))]
    way = (tip - foot) / max(float(np.hypot(*(tip - foot))), 1e-6)
    along = np.clip((points - foot) @ way, 0, float((tip - foot) @ way))
    other = points[np.argmax(np.hypot(*(points - foot - along[:, None] * way).T))]
    return np.array([other, foot, tip])


def _start_cross(points: Floats) -> Floats:
    """Say where a cross's strokes may begin and end: the points farthest to its four corners."""
    corners = np.array([(-1, -1), (1, 1), (1, -1), (-1, 1)], dtype=np.float64)
    return np.asarray(points[np.argmax(points @ corners.T, axis=0)])


def _has_shape(fitted: FittedStrokes) -> bool:
    """Return whether strokes lie as those of a tick or a cross do."""
    pen = fitted.pen
    if fitted.pattern is TICK:
        start, foot, end = fitted.points
        legs = [start - foot, end - foot]
        long = [float(np.hypot(*leg)) for leg in legs]
        if min(long) < LEAST_LEG * MM + 0.5 * pen or max(long) < LEAST_LONG_LEG * MM + 0.5 * pen:
            return False
        ways = [leg / length for leg, length in zip(legs, long, strict=True)]
        turn = float(np.degrees(np.arccos(np.clip(ways[0] @ ways[1], -1, 1))))
        longer = ways[int(np.argmax(long))]
        return NARROW <= turn <= WIDE and -longer[1] >= RISES and max(way[1] for way in ways) < 0
    one, other = fitted.points[1] - fitted.points[0], fitted.points[3] - fitted.points[2]
    long = [float(np.hypot(*stroke)) for stroke in (one, other)]
    if min(long) < LEAST_ARM * MM + pen:
        return False
    one, other = one / long[0], other / long[1]
    turn = _compute_cross_product(one, other)
    if abs(turn) < ACROSS or min(abs(one[1]), abs(other[1])) < RISES:
        return False
    at = _compute_cross_product(fitted.points[2] - fitted.points[0], other) / turn
    there = fitted.points[0] + at * one
    shares = (at / long[0], float((there - fitted.points[2]) @ other) / long[1])
    return all(MIDDLE <= share <= 1 - MIDDLE for share in shares)


def _is_all(fitted: FittedStrokes, patch: InkPatch, places: Floats, values: Floats) -> bool:
    """Return whether strokes explain all the ink, and there is ink all along them."""
    pen = fitted.pen / MM
    if fitted.pattern is TICK:
        allowed = min(LEFT_OF_TICK / pen**3, MOST_OF_TICK)
    else:
        allowed = min(LEFT_OF_CROSS / pen**2, MOST_OF_CROSS)
    if pen > 0.97 * _get_widest(patch) or (fitted.blur > 0.97 * patch.blur and patch.blur > TOO_SOFT):
        return False
    if fitted.blur > 0.92 * patch.blur:
        allowed *= SOFT
    elif patch.two_tones and fitted.pattern is TICK:
        allowed *= DOTTED
    elif patch.two_tones:
        allowed = min(DOTTED_CROSS / pen**1.5, DOTTED * MOST_OF_CROSS)
    allowed *= min(1.0, (PLAIN_BLUR / fitted.blur) ** 2)
    drawn = fitted.draw_at(places)
    missed = values - drawn
    squares = max(float(missed @ missed) - patch.noise**2 * len(missed), 0.0)
    if squares > allowed * float(values @ values):
        return False
    shape = patch.dark.shape
    left = np.zeros(shape, np.float32)
    xs, ys = places.astype(int).T
    left[ys, xs] = missed
    spots = cv2.GaussianBlur(left, (0, 0), SPOT * MM)
    if float(np.abs(spots).max()) > ROUGH * fitted.dark:
        return False
    if _count_holes(patch.core if fitted.pattern is TICK else patch.core & patch.free):
        return False
    if _measure_fill(fitted, patch) > EXTRA:
        return False
    free, printed = _measure_beyond(fitted, patch)
    if free > EXTRA or printed > EXTRA_ON_LINE:
        return False
    return all(_is_inked(fitted, n, patch) for n in range(len(fitted.bends)))


def _measure_beyond(fitted: FittedStrokes, patch: InkPatch) -> tuple[float, float]:
    """Measure the ink far from all strokes, in mm²: where nothing is printed, and on the box's line and close to it."""
    ys, xs = np.nonzero(patch.ink & (patch.dark > INKED * fitted.dark))
    distance = fitted.measure_distance(np.stack([xs, ys], axis=1).astype(np.float64))
    far = distance > fitted.pen / 2 + BEYOND * MM + 0.3 * fitted.blur
    free = patch.free[ys, xs]
    return float(np.count_nonzero(far & free)) / MM**2, float(np.count_nonzero(far & ~free)) / MM**2


def _measure_fill(fitted: FittedStrokes, patch: InkPatch) -> float:
    """Measure what is dark around a mark beside its strokes, in mm²: a scribble too dense to be seen."""
    reach = 2 * round(AROUND * MM) + 1
    around = cv2.dilate(patch.core.astype(np.uint8), np.ones((reach, reach), np.uint8)) > 0
    ys, xs = np.nonzero(around & patch.free & (patch.tone > max(LEAST_TONE, INKED * fitted.dark)))
    distance = fitted.measure_distance(np.stack([xs, ys], axis=1).astype(np.float64))
    return float(np.count_nonzero(distance > fitted.pen / 2 + BEYOND * MM + 0.3 * fitted.blur)) / MM**2


def _count_holes(stroke: Mask) -> int:
    """Count the areas larger than 0.15 mm² that strokes enclose: none in a tick or a cross."""
    padded = np.pad(~stroke, 1, constant_values=True).astype(np.uint8)
    count, _, stats, _ = cv2.connectedComponentsWithStats(padded, connectivity=4)
    return sum(1 for n in range(1, count) if stats[n, 4] > 0.15 * MM**2) - 1


def _is_inked(fitted: FittedStrokes, stroke: int, patch: InkPatch) -> bool:
    """Return whether there is ink along a stroke, where it could be seen."""
    x, y = np.round(fitted.list_along(stroke, 40)).astype(int).T
    high, wide = patch.dark.shape
    x, y = x.clip(0, wide - 1), y.clip(0, high - 1)
    seen = patch.free[y, x]
    lacking = patch.dark[y, x] < LACKING * fitted.dark
    return bool(np.count_nonzero(lacking & seen) <= MISSING * max(int(np.count_nonzero(seen)), 1))


def _compute_cross_product(one: Any, other: Any) -> float:
    """Compute the cross product of two vectors: their lengths times the sine of the angle between them."""
    return float(one[0] * other[1] - one[1] * other[0])
