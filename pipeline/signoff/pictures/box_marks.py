"""Reading the boxes of a page: a tick or a cross, empty, writing, or unclear."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np

from pipeline.signoff.pictures.empty_pages import MM, BoxPlace, EmptyPage, Place
from pipeline.signoff.pictures.ink import ONE_DOT, Mask, PageInk, crop_place, grow_place, is_line_lost
from pipeline.signoff.pictures.mark_shapes import InkPatch, compute_most_blur, is_mark
from pipeline.signoff.pictures.page_records import BoxState
from pipeline.signoff.pictures.page_straightening import StraightPage

RIM = 0.75
"""mm inside a box's edge that its printed line takes up."""
SPECK, STROKE = 1.0, 2.1
"""mm: anything smaller is dirt, anything larger may be a tick; sizes in between are unclear."""
SPECK_AREA = 0.25
LEAST_STROKE, DUST = 0.8, 1.4
"""mm: anything smaller in a box to write in is dirt, and so is a single speck up to the second: handwriting is several
strokes, or one that is longer (a comma has 1.5). Common practice, no source."""
OUTSIDE = 5.0
"""mm by which a tick may extend out of its box."""
CRUMBS = 2.0
"""mm around a box where dots beside a mark, in black and white, may be what is left of a paler one that strikes it out,
as may those on the box's own line. Of 8 struck-out pencil marks that were read as whole ones in made-up faxes without
tones 7 had some, or were broken; of 678 clear marks in ink 34."""
DARK = 0.28
"""Share of the paper's lightness: a fainter tick may have been rubbed out."""
CORE = 0.45
"""Of a stroke's darkness, what counts as the stroke: what is less dark is its blur."""
BARE = 0.05
"""Of black: where paler print is near, the shape of a mark is told as if nothing were there."""
EDGE = 0.02
"""How much darker a box's line is than the paper beside it at least, averaged along the side."""
NO_MARK = "what is in its box is not a plain tick or cross; it may have been struck out"
FILLED = 0.9
"""Part of a box that is dark where it is filled in all over: too wide for a stroke. A blurred cross in a marker of
1.2 mm makes 0.8 of it dark."""
_FILLED = "its box is filled in; what was in it may have been struck out"
_NO_LINE = "not even the line around its box can be seen: a pencil's mark may be lost too"
_FAINT = "what is in its box is too faint to tell from dirt"


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxReading:
    """The content of a box, with the reason where it is unclear. solid: its mark is in one piece in
    black and white, with no dots around it."""

    box: BoxPlace
    state: BoxState
    why: str = ""
    solid: bool = True


@dataclass(slots=True, kw_only=True, eq=False)
class BoxReader:
    """Reads the boxes of one page; `used` is what ink belongs to one."""

    page: EmptyPage
    straight: StraightPage
    ink: PageInk
    used: Mask

    def read_all(self) -> tuple[BoxReading, ...]:
        """Read every box of the page."""
        out = []
        tips = {}
        for n, box in enumerate(self.page.boxes):
            if not self._is_shown(box.place) or (box.kind == "write" and not self._is_edge_shown(box.place)):
                self._take_all(box.place)
                out.append(BoxReading(box=box, state="unclear", why="it cannot be seen in the picture"))
            elif box.kind == "tick":
                reading, tips[n] = self._read_tick(box)
                if reading.state == "off" and not self._is_edge_shown(box.place):
                    reading = BoxReading(box=box, state="unclear", why=_NO_LINE)
                out.append(reading)
            else:
                out.append(self._read_writing(box))
        for a, one in tips.items():  # one stroke across two boxes
            for b, other in tips.items():
                if a < b and one is not None and other is not None and _share_ink(one, other):
                    for n in (a, b):
                        if out[n].state == "on":
                            out[n] = BoxReading(box=out[n].box, state="unclear", why="one mark is in two boxes")
        return tuple(out)

    def _take_all(self, place: Place) -> None:
        """Mark the ink of unreadable boxes as used, so that it isn't taken for a remark."""
        inner = grow_place(place, -RIM)
        room = _clip_place(grow_place(place, OUTSIDE + 4), self.ink.ink.shape)
        stroke = self._find_stroke(inner, room, self.ink.threshold, whole=True)
        if stroke is not None:
            self._mark_used(stroke, room)

    def _is_shown(self, place: Place) -> bool:
        """Return whether the picture shows the box: it is inside, and the print around it is recognised. Its line
        may be gone, or under a mark."""
        inside = crop_place(self.straight.inside, grow_place(place, 1.5))
        if inside.size == 0 or not inside.all():
            return False
        around = grow_place(place, 2.5)
        return not any(_covers(d, around) for d in self.straight.doubts)

    def _is_edge_shown(self, place: Place) -> bool:
        """Return whether the line around a box is visible on at least two of its sides. In a picture without greys it
        may be lost: what else may be is judged by the whole page."""
        if self.straight.two_tones:
            return True
        grey = cv2.cvtColor(self.straight.look, cv2.COLOR_RGB2GRAY).astype(np.float32)
        left, top, right, bottom = place
        reach, deep = round(1.1 * MM), round(1.4 * MM)
        seen = 0
        for along, a, b in ((0, top, bottom), (1, left, right)):
            for edge in (left, right) if along == 0 else (top, bottom):
                if edge - deep < 0:
                    return False
                if along == 0:
                    strip = grey[a + reach : b - reach, edge - deep : edge + deep + 1].mean(axis=0)
                else:
                    strip = grey[edge - deep : edge + deep + 1, a + reach : b - reach].mean(axis=1)
                if strip.size < 5:
                    return False
                middle = strip[len(strip) // 2 - reach // 2 : len(strip) // 2 + reach // 2 + 1]
                seen += float(strip.max() - middle.min()) > EDGE * max(self.ink.paper, 1)
        return seen >= 2

    def _read_tick(self, box: BoxPlace) -> tuple[BoxReading, Any]:
        """Read a tick box: its content, and the stroke as a mask with its position."""
        inner = grow_place(box.place, -RIM)
        room = _clip_place(grow_place(box.place, OUTSIDE + 4), self.ink.ink.shape)
        if float((crop_place(self.ink.tone, inner) > DARK).mean()) > FILLED:
            self._take_all(box.place)
            return BoxReading(box=box, state="unclear", why=_FILLED), None
        dots = crop_place(self.ink.ink, inner)
        if not dots.any():
            return BoxReading(box=box, state="off"), None
        faint = self._find_stroke(inner, room, self.ink.threshold, whole=True)
        size = max(_measure_extent(dots))
        if faint is None:
            if self.straight.two_tones and size >= SPECK:
                return BoxReading(box=box, state="unclear", why=_FAINT, solid=False), None
            return BoxReading(box=box, state="off"), None
        solid = self._count_pieces(faint, room) == 1 and not self._has_crumbs(faint, room, box.place)
        inked = crop_place(self.ink.dark, inner)[dots]
        core = max(self.ink.threshold, CORE * float(np.percentile(inked, 90)))
        inside = crop_place(self.ink.dark, inner) > core
        stroke = self._find_stroke(inner, room, core)
        if stroke is None or float(inside.sum()) / MM**2 < SPECK_AREA:
            if size < STROKE:
                return self._pass_over_dirt(box, solid=solid), None
            self._mark_used(faint, room)
            return BoxReading(box=box, state="unclear", why=_FAINT, solid=solid), None
        size = max(_measure_extent(inside))
        if size < SPECK:
            return self._pass_over_dirt(box, solid=solid), None
        self._mark_used(faint, room)
        why = self._describe_doubt(box, faint, stroke, room, inside, size)
        state: BoxState = "unclear" if why else "on"
        return BoxReading(box=box, state=state, why=why, solid=solid), (stroke, room)

    def _count_pieces(self, ink: Mask, place: Place) -> int:
        """Count the pieces of black, in black and white, that ink at a place is in."""
        black = crop_place(self.straight.look, place).min(axis=2) < 128
        return len(np.unique(cv2.connectedComponents(black.astype(np.uint8))[1][ink & black]))

    def _has_crumbs(self, mark: Mask, room: Place, box: Place) -> bool:
        """Return whether single dots lie around a mark in black and white: they may be what is left of another one,
        and so may those on the box's own line."""
        if not self.straight.two_tones:
            return False
        if not is_line_lost(self.ink.strokes > ONE_DOT, box):
            return True
        left, top, right, bottom = _clip_place(grow_place(box, CRUMBS), self.ink.ink.shape)
        own = cv2.dilate(mark.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
        rest = crop_place(self.ink.ink, room) & ~own
        return bool(rest[top - room[1] : bottom - room[1], left - room[0] : right - room[0]].any())

    def _pass_over_dirt(self, box: BoxPlace, *, solid: bool) -> BoxReading:
        """Read a box with a speck in it as empty. What the speck hangs together with outside may be a remark."""
        crop_place(self.used, box.place)[:] |= crop_place(self.ink.ink, box.place)
        return BoxReading(box=box, state="off", solid=solid)

    def _describe_doubt(self, box: BoxPlace, faint: Any, stroke: Any, room: Place, inside: Mask, size: float) -> str:
        """Return why the ink in a box may not be a tick."""
        if size < STROKE:
            return "what is in its box is too small for a tick and too large for dirt"
        inner = grow_place(box.place, -RIM)
        dark = crop_place(self.ink.dark, inner)[inside]
        if float(np.percentile(dark, 75)) < max(DARK, 1.6 * self.ink.threshold):
            return _FAINT
        left, top = room[:2]
        edge = np.concatenate([stroke[:2].ravel(), stroke[-2:].ravel(), stroke[:, :2].ravel(), stroke[:, -2:].ravel()])
        if edge.any():
            return "a line runs through its box"
        beyond = grow_place(box.place, OUTSIDE)
        ys, xs = np.nonzero(stroke)
        if (
            (xs + left < beyond[0]).any()
            or (xs + left > beyond[2]).any()
            or (ys + top < beyond[1]).any()
            or (ys + top > beyond[3]).any()
        ):
            return "a line runs through its box"
        return "" if is_mark(self._cut_patch(faint, stroke, room)) else NO_MARK

    def _cut_patch(self, faint: Any, stroke: Any, room: Place) -> InkPatch:
        """Cut out the ink that hangs together with what is in a box, for its shape to be told."""
        near = cv2.dilate(faint.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
        others = cv2.dilate((crop_place(self.ink.ink, room) & ~near).astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
        return InkPatch(
            dark=crop_place(self.ink.dark, room),
            tone=crop_place(self.ink.tone, room),
            ink=faint,
            core=stroke,
            free=(crop_place(self.ink.beside, room) < BARE) & ~others,
            blur=compute_most_blur(self.straight.blur, self.ink.softened),
            noise=self.ink.noise,
            two_tones=self.straight.two_tones,
        )

    def _find_stroke(self, inner: Place, room: Place, least: float, *, whole: bool = False) -> Any:
        """The ink that reaches into the box with what hangs together with it, over dark print too; none when nothing
        is as dark. whole: with what goes on beyond pale print, such as the box's own line, where a pale stroke can't
        be seen."""
        ink = crop_place(self.ink.ink, room) & (crop_place(self.ink.dark, room) > least)
        gap = np.ones((2 * round(0.9 * MM) + 1,) * 2, np.uint8)
        closed = cv2.morphologyEx(ink.astype(np.uint8), cv2.MORPH_CLOSE, gap) > 0
        bridge = ink | (closed & crop_place(self.ink.hidden, room))
        joined = bridge.copy()
        if whole:
            joined |= (cv2.dilate(ink.astype(np.uint8), gap) > 0) & (crop_place(self.ink.beside, room) > BARE)
        count, labels = cv2.connectedComponents(joined.astype(np.uint8), connectivity=8)
        labels[~bridge] = 0
        left, top = room[:2]
        box = labels[inner[1] - top : inner[3] - top, inner[0] - left : inner[2] - left]
        held = [n for n in range(1, count) if (box == n).sum() > 0.08 * MM**2]
        return np.isin(labels, held) if held else None

    def _mark_used(self, stroke: Any, room: Place) -> None:
        left, top, right, bottom = room
        reach = np.ones((5, 5), np.uint8)
        self.used[top:bottom, left:right] |= cv2.dilate(stroke.astype(np.uint8), reach) > 0

    def _read_writing(self, box: BoxPlace) -> BoxReading:
        """Read a box to write in: any ink in it is writing, and so is ink connected to it or close by."""
        inner = grow_place(box.place, -0.5)
        inside = crop_place(self.ink.ink, inner)
        if not inside.any():
            return BoxReading(box=box, state="off")
        count, labels, stats, _ = cv2.connectedComponentsWithStats(inside.astype(np.uint8))
        sizes = [(max(s[2], s[3]) / MM, s[4] / MM**2) for s in stats[1:]]
        strokes = [(size, area) for size, area in sizes if size >= LEAST_STROKE]
        alone = len(strokes) == 1 and strokes[0][0] < DUST
        if alone or sum(area for _, area in strokes) < SPECK_AREA:
            return BoxReading(box=box, state="off")
        room = _clip_place(grow_place(box.place, 4), self.ink.ink.shape)
        left, top, right, bottom = room
        near = crop_place(self.ink.ink, room)
        count, labels = cv2.connectedComponents(cv2.dilate(near.astype(np.uint8), np.ones((5, 5), np.uint8)))
        own = labels[inner[1] - top : inner[3] - top, inner[0] - left : inner[2] - left]
        for n in range(1, count):
            if (own == n).any():
                self.used[top:bottom, left:right] |= labels == n
        return BoxReading(box=box, state="written")


def _clip_place(place: Place, shape: tuple[int, ...]) -> Place:
    left, top, right, bottom = place
    return (max(left, 0), max(top, 0), min(right, shape[1]), min(bottom, shape[0]))


def _covers(piece: Place, place: Place) -> bool:
    """Return whether more than half of a place lies in a piece."""
    wide = min(piece[2], place[2]) - max(piece[0], place[0])
    high = min(piece[3], place[3]) - max(piece[1], place[1])
    area = (place[2] - place[0]) * (place[3] - place[1])
    return wide > 0 and high > 0 and wide * high > 0.5 * area


def _measure_extent(mask: Mask) -> tuple[float, float]:
    """Measure the width and height of what is in a mask, mm."""
    ys, xs = np.nonzero(mask)
    return (float(np.ptp(xs)) + 1) / MM, (float(np.ptp(ys)) + 1) / MM


def _share_ink(one: Any, other: Any) -> bool:
    """Return whether two strokes share ink. Each: mask and position."""
    (a, pa), (b, pb) = one, other
    left, top = max(pa[0], pb[0]), max(pa[1], pb[1])
    right, bottom = min(pa[2], pb[2]), min(pa[3], pb[3])
    if left >= right or top >= bottom:
        return False
    first = a[top - pa[1] : bottom - pa[1], left - pa[0] : right - pa[0]]
    second = b[top - pb[1] : bottom - pb[1], left - pb[0] : right - pb[0]]
    return bool((first & second).any())
