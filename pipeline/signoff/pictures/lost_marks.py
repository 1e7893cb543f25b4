"""Whether a picture without greys, such as a fax, may have lost marks: one in a pale pencil is white in it where its
threshold is low."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import cv2
import numpy as np

from pipeline.signoff.pictures.box_marks import BoxReading
from pipeline.signoff.pictures.empty_pages import EmptyPage
from pipeline.signoff.pictures.page_records import Pen
from pipeline.signoff.pictures.page_straightening import StraightPage

SMALL_PRINT, PALER_PRINT, EVEN = (90, 120), (130, 155), 12
"""Of 255: how light the page's small grey print is, and its paler print (a pencil is as light as this); how much one
print differs in itself."""
ALL, PART, SHARE, SPECKS = 0.85, 0.5, 0.2, 0.03
"""Part of the small print that is black where a pencil's marks are black too; that is black at most where tones are
made of dots; part of that which then is black of the paler print, and how much of it may be dirt. Of 80 made-up pages
filled in with a pencil, as faxes without tones, none had lost a mark where more than 0.76 of the small print was black;
in those with dots it was 0.13 to 0.49, and of the paler print 0.29 times that at least."""
ENOUGH = 500
"""Pixels of print to judge by."""
NO_GREYS = "it is in black and white without greys, as a fax is"
_ADVICE = "Look at the page, or ask for a scan in greys or a photograph"
WHY_LOST: Mapping[Pen, str] = {
    "unseen": f"{NO_GREYS}, and no solid tick tells whether a pale pencil's would show. {_ADVICE}",
    "broken": f"{NO_GREYS}, and a mark on it is broken or no plain tick, so that others may be lost. {_ADVICE}",
}
"""Why marks may be lost, by what is known of the pen."""


def judge_pen(straight: StraightPage, page: EmptyPage, readings: Sequence[BoxReading]) -> Pen:
    """Judge whether all marks of the pen are seen. Somebody fills in a page with one pen: where every tick is solid and
    plain, its other marks would be seen too. Of a cross that is lost in part, what is left may be one solid stroke.
    Writing shows less: strokes that cross are darker."""
    ticks = [reading for reading in readings if reading.box.kind == "tick"]
    broken = [reading for reading in ticks if not reading.solid]
    if any(reading.state == "unclear" for reading in broken):
        return "broken"
    if _is_pale_print_shown(straight, page):
        return "shown"
    if broken or any(reading.state == "unclear" for reading in ticks):
        return "broken"
    return "shown" if any(reading.state == "on" for reading in ticks) else "unseen"


def _is_pale_print_shown(straight: StraightPage, page: EmptyPage) -> bool:
    """Return whether pale print shows, so that a pencil's mark would too: it is black all through, or tones are made
    of dots."""
    small, paler = (_measure_shown(straight, page, tones) for tones in (SMALL_PRINT, PALER_PRINT))
    return small >= ALL or (small <= PART and paler >= max(SHARE * small, SPECKS))


def _measure_shown(straight: StraightPage, page: EmptyPage, tones: tuple[int, int]) -> float:
    """Measure how much of the print of these tones is black in the picture."""
    own = cv2.cvtColor(page.look, cv2.COLOR_RGB2GRAY)
    darkest = cv2.erode(own, np.ones((7, 7), np.uint8))
    there = (darkest >= tones[0]) & (own < np.minimum(tones[1], darkest + EVEN))
    shown = straight.look[there].min(axis=1) < 128
    return float(shown.mean()) if shown.size >= ENOUGH else 0.0
