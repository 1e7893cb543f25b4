"""Marks on lettering that are too small for a remark and change a letter: an accent, two dots, a stroke through it.

Most of such a mark may lie over print, where it can't be seen; what is left of it is joined. Dirt is roundish, and no
larger than a speck. How people correct a letter is common practice, no source.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from pipeline.signoff.pictures.empty_pages import MM, Place
from pipeline.signoff.pictures.ink import Mask, PageInk, crop_place, grow_place

ON_LETTERS = 2.0
"""mm from print within which they are: elsewhere they are dirt."""
PALEST, DARKER = 0.16, 1.2
"""Of the paper's lightness, and of what is ink at least: how much darker than print at its place a mark is."""
OVER_PRINT, PRINTED = 0.5, 0.2
"""mm of print between two pieces of one mark, and how dark that is, of black."""
LARGE = 0.42
"""mm² of black: what has more is larger than a speck of dirt (0.8 mm)."""
LONG, LONG_INK = 1.2, 0.15
"""mm that a mark is long which no speck is, and mm² of black it has."""
SHORT, SHORT_INK, ROUNDISH = 0.7, 0.08, 1.8
"""The same for one that is so many times as long as wide, blurred, which no speck is: a pen of 0.35 mm makes one of
1 mm twice as long as wide. Of 240 made-up clean pages none had such a mark but one with a curved fold."""
DOT, DOT_AREA, DOTS_APART, DOTS_LEVEL = (0.25, 1.2), 0.055, (0.4, 2.4), 0.8
"""mm and mm²: least and greatest size of two dots, how far apart they are, and how much higher one may be."""
LONE_DOT, LONE_DOT_AREA, CLOSE = 0.9, 0.14, 1.0
"""mm and mm²: least size of a single dot, which stands within so many mm of a letter, in a sharp picture."""
DARK_DOT = 0.3
"""Of the paper's lightness: paler dots are dirt, or print a little beside its place."""
AROUND = 5.0
"""mm around a mark that are shown with it."""


def find_letter_marks(ink: PageInk, used: Mask, margin: int, *, sharp: bool) -> list[Place]:
    """Find small marks on lettering. used: what ink belongs to a box; margin: pixels from the page's edges that are
    not looked at; sharp: a dot of a letter is large enough in the picture to be told from a speck beside it."""
    there = _find_dark(ink, used, max(PALEST, DARKER * ink.threshold), margin)
    reach = 2 * round(OVER_PRINT * MM) + 1
    near = cv2.dilate(there.astype(np.uint8), np.ones((reach, reach), np.uint8)) > 0
    joined = there | (near & (ink.print > PRINTED))
    _, labels, stats, _ = cv2.connectedComponentsWithStats(joined.astype(np.uint8), connectivity=8)
    labels[~there] = 0
    black = np.bincount(labels.ravel(), ink.close.ravel(), len(stats)) / MM**2
    out = []
    for n in np.flatnonzero(black >= SHORT_INK):
        left, top, across, down = (int(v) for v in stats[n, :4])
        place = (left, top, left + across, top + down)
        if n > 0 and _is_mark(crop_place(labels, place) == n, crop_place(ink.close, place), float(black[n])):
            out.append(place)
    dots = _find_dark(ink, used, max(DARK_DOT, 1.5 * ink.threshold), margin)
    close = _find_near_letters(ink, CLOSE) if sharp else np.zeros(dots.shape, bool)
    return [grow_place(place, AROUND) for place in (*out, *_find_dots(dots, close))]


def _find_dark(ink: PageInk, used: Mask, least: float, margin: int) -> Mask:
    """Find what is so much darker than print at its place, on letters, apart from what belongs to a box."""
    taken = cv2.dilate(used.astype(np.uint8), np.ones((13, 13), np.uint8)) > 0
    there = np.zeros(used.shape, bool)
    body = (slice(margin, -margin), slice(margin, -margin))
    there[body] = ((ink.close > least) & _find_near_letters(ink, ON_LETTERS) & ~taken)[body]
    return there


def _find_near_letters(ink: PageInk, mm: float) -> Mask:
    reach = 2 * round(mm * MM) + 1
    return np.asarray(cv2.dilate((ink.print > 0.5).astype(np.uint8), np.ones((reach, reach), np.uint8)) > 0)


def _is_mark(mark: Mask, dark: NDArray[np.float32], black: float) -> bool:
    """Return whether ink is no dirt. black: how much there is, mm²."""
    ys, xs = np.nonzero(mark)
    size = (max(np.ptp(xs), np.ptp(ys)) + 1) / MM
    if black >= LARGE or (size >= LONG and black >= LONG_INK):
        return True
    return bool(size >= SHORT) and not _is_roundish(np.pad(mark, 1), np.pad(dark, 1))


def _is_roundish(mark: Mask, dark: NDArray[np.float32]) -> bool:
    """Return whether a mark is little longer than wide, by the axes of the ellipse that is spread as it is."""
    ys, xs = np.nonzero(cv2.dilate(mark.astype(np.uint8), np.ones((3, 3), np.uint8)))
    weights = np.maximum(dark[ys, xs], 1e-3)
    narrow, long = np.sqrt(np.linalg.eigvalsh(np.cov(xs, ys, aweights=weights) + np.eye(2) / 12))
    return bool(long < ROUNDISH * narrow)


def _find_dots(dots: Mask, close: Mask) -> list[Place]:
    """Find two dots side by side, as over a letter, and one where it is close to a letter."""
    _, labels, stats, middles = cv2.connectedComponentsWithStats(dots.astype(np.uint8), connectivity=8)
    found, out = [], []
    for n, ((left, top, across, down, area), middle) in enumerate(zip(stats[1:], middles[1:], strict=True), 1):
        place = (int(left), int(top), int(left + across), int(top + down))
        size, part = max(across, down) / MM, area / MM**2
        beside = (crop_place(close, place) & (crop_place(labels, place) == n)).any()
        if size >= LONE_DOT and part >= LONE_DOT_AREA and beside:
            out.append(place)
        if DOT[0] <= size <= DOT[1] and part >= DOT_AREA:
            found.append((middle / MM, place))
    for n, (one, place) in enumerate(found):
        for other, second in found[n + 1 :]:
            beside, above = abs(one - other)
            if DOTS_APART[0] <= beside <= DOTS_APART[1] and above <= DOTS_LEVEL:
                low, high = np.minimum(place, second), np.maximum(place, second)
                out.append((int(low[0]), int(low[1]), int(high[2]), int(high[3])))
    return out
