"""Strokes through lettering: a line that strikes out a name shows only as specks between and on the letters, where none
of them is large enough for a remark. What tells them from chance is that they lie in one line."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from pipeline.signoff.pictures.empty_pages import MM, Place
from pipeline.signoff.pictures.ink import Mask, PageInk

WINDOW = 7.0
"""mm of a line that is looked at: a short name."""
SLOPES = np.arange(-3, 4) * 0.04
"""How far a line may rise, of its length: within a window a stroke between two of these leaves the nearer one by less
than a pixel."""
LEVEL, USUAL = 0.6, 1.3
"""Of the darkness from which a lone stroke is ink, what a speck has to have, which JPEG's blocks lack, and what the
specks of a line have on average: print that is beside its place, or a fold, leaves at most 0.8; the palest of 76
made-up strokes of pencils and pens 2.2."""
THIN, LETTERS = 0.45, 0.3
"""Of black: print that hides no stroke at its place; print that is taken for a letter's."""
PALEST, EVEN, FLAT, AROUND_FLAT = 0.06, 0.7, 3.5, 4
"""Of black, a part, mm and pixels: print as dark as this that is nowhere paler than that part of its darkness, for so
long, is a rule or an edge; within so many pixels it may be a little beside its place."""
COVERED = 0.4
"""Part of a line that has to be on letters: on bare paper, other remarks are found."""
SPECKS, DENSE, BESIDE = 1.0, 0.75, 0.4
"""mm of specks a line has at least; what part they are of where specks can be seen; and at most on either side of it.
On other pages than those they were chosen on, of 120 made-up strokes through large letters 13 went unseen without them
and none with them."""
APART = 0.9
"""mm between a line and its sides."""


def find_strikes(ink: PageInk, used: Mask, margin: int) -> list[Place]:
    """Find straight lines of specks across letters, nearly level. margin: pixels from the page's edges that are not
    looked at."""
    seen, free, letters, dark = _find_specks(ink, used, margin)
    high, wide = seen.shape
    length, side = 2 * round(WINDOW * MM / 2) + 1, round(APART * MM)
    shown = np.dstack([part.astype(np.uint8) * 255 for part in (seen, free, letters)])
    darkness = np.where(seen, dark, np.float32(0))
    struck = np.zeros(seen.shape, np.uint8)
    for slope in SLOPES:
        level = np.array([[1, 0, 0], [0, 1, 0]], np.float32)
        level[1, :] = -slope, 1, slope * wide / 2
        turned = cv2.warpAffine(shown, level, (wide, high), flags=cv2.INTER_NEAREST)
        specks, room, covered = (p.astype(np.float32) / 255 for p in cv2.split(cv2.blur(turned, (length, 1))))
        line = (specks >= SPECKS / WINDOW) & (specks >= DENSE * room) & (covered >= COVERED)
        if not line.any():
            continue
        dark_specks = cv2.blur(cv2.warpAffine(darkness, level, (wide, high), flags=cv2.INTER_NEAREST), (length, 1))
        line &= dark_specks >= USUAL * ink.threshold * specks
        for y, x in np.argwhere(line[side : high - side]) + (side, 0):
            if all(specks[at, x] <= BESIDE * room[at, x] for at in (y - side, y + side)):
                struck[round(y + slope * (x - wide / 2)), x] = 1
    size = 2 * round(5 * MM) + 1
    stats = cv2.connectedComponentsWithStats(cv2.dilate(struck, np.ones((size, size), np.uint8)))[2]
    return [(int(s[0]), int(s[1]), int(s[0] + s[2]), int(s[1] + s[3])) for s in stats[1:]]


def _find_specks(ink: PageInk, used: Mask, margin: int) -> tuple[Mask, Mask, Mask, NDArray[np.float32]]:
    """Find what is darker than print at its place, where that can be told, letters, and how much darker it is. Print
    that is a little above or below its place leaves specks too, which lie in a line where letters stand: not there."""
    own = cv2.dilate(ink.print, np.ones((3, 3), np.uint8))
    run = np.ones((1, round(FLAT * MM)), np.uint8)
    least = cv2.morphologyEx(ink.print, cv2.MORPH_OPEN, run)
    even = ((least > PALEST) & (least >= EVEN * ink.print)).astype(np.uint8)
    rules = cv2.morphologyEx(even, cv2.MORPH_OPEN, run)
    taken = cv2.dilate(rules, np.ones((2 * AROUND_FLAT + 1,) * 2, np.uint8)) > 0
    taken |= cv2.dilate(used.astype(np.uint8), np.ones((13, 13), np.uint8)) > 0
    body = np.zeros(taken.shape, bool)
    body[margin:-margin, margin:-margin] = True
    free = (np.maximum(own, cv2.dilate(ink.print, np.ones((5, 1), np.uint8))) < THIN) & ~taken & body
    dark: NDArray[np.float32] = ink.close / np.maximum(1 - own, 0.3)
    specks = ((dark > LEVEL * ink.threshold) & free).astype(np.uint8)
    seen = (cv2.dilate(specks, np.ones((3, 1), np.uint8)) > 0) & free
    letters = cv2.dilate((ink.print > LETTERS).astype(np.uint8), np.ones((9, 5), np.uint8)) > 0
    return seen, free, np.asarray(letters & ~taken), dark
