"""Ink added to a page: strokes darker than their surroundings where the page has no print. Shade, tone and tint of the
paper do not count, since only strokes are looked for."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, TypeVar

import cv2
import numpy as np
from numpy.typing import NDArray

from pipeline.signoff.pictures.empty_pages import MM, EmptyPage, Place
from pipeline.signoff.pictures.page_straightening import StraightPage

PAPER = 220.0
"""What white paper is made to be, of 255: what is lighter is not lost."""
WIDEST = 3.6
"""mm: strokes up to twice this wide are seen whole; of wider ones their edges are."""
COLOURED = np.float32(1.5)
"""How much darker a stroke may be in a colour channel than in grey: a green pen's is 1.4 times as dark."""
NEAR_PRINT = 0.5
"""mm around the page's print where ink can't be detected."""
FAINTEST = 0.13
"""Share of the paper's lightness: a fainter stroke can't be told from dirt (a soft pencil leaves 0.3)."""
NOISE = 5.5
"""Least darkness of a stroke, as a multiple of the picture's noise."""
MOST_NOISE = 0.3
FOLD = 0.8
"""Part of a line from edge to edge that a fold shows on."""
FOLD_STEP = 4
FAINT_FOLD = 0.42
"""Of the paper's lightness: a fold that is darker is taken for a pen's line."""
OVER_FOLD = 1.6
"""Of a fold's usual darkness, what is ink on it: it differs along the fold."""
HIDING = 0.55
"""Of the paper's lightness: print that is darker hides a stroke; over paler print one is seen."""
SOFTENED = 0.15
"""mm by which a picture without greys is blurred, that its dots become tones again."""
ONE_DOT = 0.08
"""Of the paper's lightness: what a dot of a fax has then at least. Nothing else is as dark there, except dirt."""
PALE, AS_BLACK, ON_LINE = 0.08, 0.3, 0.34
"""Of black, from which print may be black, in part or not at all, in a picture without greys, and hides what is near as
black would, and what is on it; mm around a box's line where it hides what is near: marks are on it."""
LINE_INSIDE, LINE_OUTSIDE = 0.75, 0.5
"""mm from a box's edge, inwards and outwards, within which its line is in a picture."""
CROSSING, LEAST_BEYOND, LINE_LOST = 3.5, 0.5, 0.2
"""mm that a mark which crosses a box's line is black there at most; mm² it is black beside it at least; mm² that may be
black all around else where the line is lost, as wide as it is softened: two dots of a fax. The line is as pale all
around, and where it is black, or tones are made of dots, much more of it is."""
DARKEST_PAPER = 50
"""Of 255: darker paper can't be read."""

Mask = NDArray[np.bool_]
T = TypeVar("T", bound=np.generic)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PageInk:
    """What is on a page that was not. dark: how dark, of the paper's lightness; ink: where there is any; hidden: where
    the page's own print, or a fold, hides what may be there; beside: how dark the print nearby is, by which `dark` is
    too light. strokes: how dark the strokes at each place are, printed ones too; tone: how dark it is, inside wide
    patches too; close: how much darker it is than print right at its place; print: how dark that is as made. softened:
    by how much a picture without greys was blurred, pixels; paper: lightness of the paper, of 255; noise: of the
    picture."""

    dark: NDArray[np.float32]
    ink: Mask
    hidden: Mask
    beside: NDArray[np.float32]
    strokes: NDArray[np.float32]
    tone: NDArray[np.float32]
    close: NDArray[np.float32]
    print: NDArray[np.float32]
    threshold: float
    softened: float
    paper: float
    noise: float


def find_ink(straight: StraightPage, page: EmptyPage) -> PageInk:
    """Find strokes that aren't part of the page's print."""
    bare = _find_bare_paper(page)
    light = _estimate_light(straight.look, bare)
    some = light[::8, ::8][bare[::8, ::8]]  # it changes slowly
    paper = float(np.median(some)) if some.size else 0.0
    shown = (straight.look * (PAPER / np.maximum(light, 8.0))).clip(0, 255).astype(np.uint8)
    softened = SOFTENED * MM if straight.two_tones else 0.0
    if softened:
        shown = cv2.GaussianBlur(shown, (0, 0), softened)
    seen = _find_strokes(shown)
    printed = _find_strokes(cv2.GaussianBlur(page.look, (0, 0), max(straight.blur, 0.6)))
    contrast = _measure_contrast(seen, printed)
    seen = seen / contrast
    tone = np.maximum(1 - _find_extreme(cv2.min, shown).astype(np.float32) / PAPER, 0.0) / contrast
    reach = 2 * round(NEAR_PRINT * MM) + 1
    round_reach = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (reach, reach))
    near = cv2.dilate(printed, round_reach)
    if softened:
        near[near > PALE] = 1.0
        size = 2 * round(ON_LINE * MM) + 1
        line = cv2.dilate(printed, np.ones((size, size), np.uint8)) > PALE
        for box in page.boxes:
            place = grow_place(box.place, 2 * NEAR_PRINT)
            if is_line_lost(seen > ONE_DOT, box.place):
                crop_place(line, grow_place(box.place, LINE_OUTSIDE))[:] = False
            crop_place(near, place)[:] = crop_place(line, place)
    dark = np.maximum(seen - 1.15 * near, 0.0)
    hidden = near > HIDING
    dark[hidden] = 0.0
    dark[~straight.inside] = 0.0
    free = bare & straight.inside & ~hidden
    own = np.where(printed > AS_BLACK, np.float32(1), printed) if softened else printed
    black = np.minimum(seen, 1.0)  # where thin print is pale, wide print is darker than that says
    close = np.maximum(black - 1.15 * cv2.dilate(own, np.ones((3, 3), np.uint8)), 0.0)
    close[~straight.inside] = 0.0
    values = seen[free]
    middle, upper = np.percentile(values, (50, 90)) if values.size else (3.0, 3.0)
    noise = float(middle + 1.5 * (upper - middle)) / 3
    threshold = ONE_DOT if softened else max(FAINTEST, NOISE * noise)
    ink = dark > threshold
    folds = _find_folds(close, hidden, min(0.45 * threshold, max(4 * noise, 0.25 * threshold)))
    ink &= dark >= folds
    close[close < cv2.dilate(folds, np.ones((5, 5), np.uint8))] = 0.0
    hidden |= folds > 0
    return PageInk(
        dark=dark,
        ink=ink,
        hidden=hidden,
        beside=near,
        strokes=seen,
        tone=tone,
        close=close,
        print=printed,
        threshold=threshold,
        softened=softened,
        paper=paper,
        noise=noise,
    )


def is_line_lost(dotted: Mask, box: Place) -> bool:
    """Return whether not a dot of a box's line is black in a picture without greys: what is black there is a mark that
    crosses it, or a speck. dotted: where there is a dot."""
    there = crop_place(dotted, grow_place(box, 2 * LINE_OUTSIDE))
    line = np.zeros(there.shape, bool)
    edge, inside = round(LINE_OUTSIDE * MM), round((2 * LINE_OUTSIDE + LINE_INSIDE) * MM)
    line[edge:-edge, edge:-edge] = True
    line[inside:-inside, inside:-inside] = False
    whole = cv2.connectedComponents(there.astype(np.uint8), connectivity=8)[1]
    beyond = np.bincount(whole[~line], minlength=whole.max() + 1)
    labels, stats = cv2.connectedComponentsWithStats((there & line).astype(np.uint8), connectivity=8)[1:3]
    rest = 0
    for n in range(1, len(stats)):
        size = max(stats[n, cv2.CC_STAT_WIDTH], stats[n, cv2.CC_STAT_HEIGHT]) / MM
        if size > CROSSING or beyond[whole[labels == n][0]] < LEAST_BEYOND * MM**2:
            rest += stats[n, cv2.CC_STAT_AREA]
    return bool(rest <= LINE_LOST * MM**2)


def _find_bare_paper(page: EmptyPage) -> Mask:
    """Return where the page is white, with nothing nearby."""
    white = (_find_extreme(cv2.min, page.look) >= 250).astype(np.uint8)
    size = 2 * round(0.8 * MM) + 1
    return np.asarray(cv2.erode(white, np.ones((size, size), np.uint8)) > 0)


def _estimate_light(look: Any, bare: Mask) -> Any:
    """Estimate the lightness of white paper at each place, by colour channel, from the bare parts, smoothed."""
    less = 0.125
    small = cv2.resize(look, None, fx=less, fy=less, interpolation=cv2.INTER_AREA)
    there = cv2.resize(bare.astype(np.float32), (small.shape[1], small.shape[0]), interpolation=cv2.INTER_AREA) > 0.6
    size = 2 * round(2 * MM * less) + 1
    top = cv2.dilate(cv2.medianBlur(small, 3), np.ones((size, size), np.uint8))
    weight = there.astype(np.float32)
    out = np.zeros(small.shape, np.float32)
    total = np.zeros(small.shape[:2], np.float32)
    for sigma, share in ((4 * MM * less, 1.0), (12 * MM * less, 1e-2), (40 * MM * less, 1e-4)):
        w = cv2.GaussianBlur(weight, (0, 0), sigma) * share
        out += cv2.GaussianBlur(top.astype(np.float32) * weight[..., None], (0, 0), sigma) * share
        total += w
    out = out / np.maximum(total, 1e-9)[..., None]
    return cv2.resize(out, (look.shape[1], look.shape[0]), interpolation=cv2.INTER_LINEAR)


def _find_strokes(shown: Any) -> Any:
    """Find how much darker than its surroundings each place is, in the colour channel in which it is darkest: what a
    closing with a square fills (black hat, Serra 1982). A JPEG's colours are coarser than its greys, so beside a
    coloured stroke, and where its blocks meet, a place that is not much darker in grey either is no stroke."""
    size = 2 * round(WIDEST * MM / 2) + 1
    square = np.ones((size, size), np.uint8)
    coloured = _find_extreme(cv2.max, cv2.morphologyEx(shown, cv2.MORPH_BLACKHAT, square))
    grey = cv2.morphologyEx(cv2.cvtColor(shown, cv2.COLOR_RGB2GRAY), cv2.MORPH_BLACKHAT, square)
    return np.minimum(coloured.astype(np.float32), COLOURED * grey.astype(np.float32)) / PAPER


def _find_extreme(extreme: Callable[[Any, Any], Any], colours: Any) -> Any:
    """Find the least or greatest of the three colours of each place."""
    return extreme(extreme(colours[..., 0], colours[..., 1]), colours[..., 2])


def _measure_contrast(seen: Any, printed: Any) -> float:
    """Measure how dark the page's own black print is in the picture, as a share of the original."""
    there = printed > 0.55
    if there.sum() < 200:
        return 1.0
    return float(np.clip(np.percentile(seen[there], 60) / np.percentile(printed[there], 60), 0.35, 1.1))


def _find_folds(dark: Any, hidden: Mask, level: float) -> Any:
    """Find folds: faint straight lines across the whole page, from edge to edge. Return what is no darker than the
    fold at its places, 0 elsewhere: a pen's stroke on a fold is darker than either. level: how dark they are at
    least."""
    out = np.zeros(hidden.shape, np.float32)
    for turned in (False, True):
        values, covered, found = (dark.T, hidden.T, out.T) if turned else (dark, hidden, out)
        high, wide = values.shape
        tall = cv2.dilate((values > level).astype(np.uint8), np.ones((5, 1), np.uint8))
        seen = (~covered[:, ::FOLD_STEP]).astype(np.uint8)
        both = np.dstack([tall[:, ::FOLD_STEP] & seen, seen])
        xs, ys = np.meshgrid(np.arange(both.shape[1], dtype=np.float32), np.arange(high, dtype=np.float32))
        edge, columns = round(14 * MM), np.arange(wide)
        ends_at = edge // FOLD_STEP
        for slope in np.linspace(-0.03, 0.03, 25, dtype=np.float32):
            at = ys + slope * FOLD_STEP * (xs - both.shape[1] / 2)
            line = cv2.remap(both, xs, at, cv2.INTER_NEAREST, borderValue=0)
            dark_part, free = _average_rows(line).T
            ends = np.minimum(_average_rows(line[:, :ends_at])[:, 0], _average_rows(line[:, -ends_at:])[:, 0])
            for row in np.flatnonzero((dark_part >= FOLD * free) & (ends >= 0.7) & (free > 0.3)):
                if not edge < row < high - edge:
                    continue
                along = np.round(row + slope * (columns - wide / 2)).astype(int).clip(0, high - 1)
                usual = float(np.percentile(values[along, columns], 90))
                if usual > FAINT_FOLD:
                    continue
                for off in range(-4, 5):
                    place = ((along + off).clip(0, high - 1), columns)
                    found[place] = np.maximum(found[place], min(OVER_FOLD * usual, FAINT_FOLD))
    return out


def _average_rows(values: Any) -> Any:
    """Average the places of each row, by channel."""
    return cv2.reduce(values, 1, cv2.REDUCE_AVG, dtype=cv2.CV_32F)[:, 0]


def crop_place(values: NDArray[T], place: Place) -> NDArray[T]:
    """Return the part of a page at a place, clipped at the page's edges."""
    left, top, right, bottom = place
    return values[max(top, 0) : max(bottom, 0), max(left, 0) : max(right, 0)]


def grow_place(place: Place, mm: float) -> Place:
    """Return a place grown by so much on every side; a negative value shrinks it."""
    more = round(mm * MM)
    left, top, right, bottom = place
    return (left - more, top - more, right + more, bottom + more)
