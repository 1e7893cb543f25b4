"""Reading the boxes of a page: a tick or a cross, empty, writing, or unclear."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np

from pipeline.signoff.pictures.empty_pages import MM, BoxPlace, EmptyPage, Place
from pipeline.signoff.pictures.ink import Mask, PageInk, crop_place, grow_place
from pipeline.signoff.pictures.page_records import BoxState
from pipeline.signoff.pictures.page_straightening import StraightPage

RIM = 0.75
"""mm inside a box's edge that its printed line takes up."""
SPECK, STROKE = 1.0, 2.1
"""mm: anything smaller is dirt, anything larger may be a tick; sizes in between are unclear."""
SPECK_AREA = 0.25
FULL = 0.75
"""Share of a box that is inked when it was filled or scribbled over."""
ACROSS = 0.08
"""Share of a box's width by which a line that strikes it out extends on both sides."""
OUTSIDE = 5.0
"""mm by which a tick may extend out of its box."""
DARK = 0.28
"""Share of the paper's lightness: a fainter tick may have been rubbed out."""
STEEP = 0.55
"""Sine of the least angle at which a single stroke rises to be a hurried tick: a flat one strikes the box out."""
SLANTING = 0.42
"""The same of both strokes of a cross."""
MIDDLE = 0.22
"""Part of a stroke from either end that is not its middle."""
EVEN = 0.24
"""Least part of a cross's ink that is in its second stroke alone."""
JOINT = 0.4
"""mm from the end of a stroke within which another one meets it."""
THICKER = 1.12
"""How much more ink two strokes may have than their pen leaves on their length: a third one lies in more."""
THINNER = 0.9
"""How much of that ink there has to be: in less, the pen was taken for wider than it is, since strokes lie side by
side."""
WIDEST_PEN = 1.8
"""mm: a wider stroke is a scribble (a marker of 1.2 mm comes out up to 1.7 wide)."""
THIN_PEN = 1.2
SLIM = 0.66
"""Part of its convex hull that a cross fills at most: a scribble fills more."""
BAND = 0.15
"""mm by which ink may be off a straight stroke, beside the pen's own width."""
CORE = 0.45
"""Of a stroke's darkness, what counts as the stroke: what is less dark is its blur."""
LEFT_OVER = 0.02
"""Part of a mark's ink that may be in neither of its two strokes: there is a third one in more."""
SECOND = 0.05
"""Part of its ink that makes a second stroke."""
SHORT_LEG = 0.14
"""The same where they lie too close together to be one."""
NO_MARK = "what is in its box is not a plain tick or cross; it may have been struck out"
_FAINT = "what is in its box is too faint to tell from dirt"


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxReading:
    """The content of a box, with the reason where it is unclear."""

    box: BoxPlace
    state: BoxState
    why: str = ""


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
            if not self._is_shown(box.place):
                self._take_all(box.place)
                out.append(BoxReading(box=box, state="unclear", why="it cannot be seen in the picture"))
            elif box.kind == "tick":
                reading, tips[n] = self._read_tick(box)
                out.append(reading)
            else:
                out.append(self._read_writing(box))
        for a, one in tips.items():  # one stroke through two boxes
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
        stroke = self._find_stroke(inner, room, self.ink.threshold)
        if stroke is not None:
            self._mark_used(stroke, room)

    def _is_shown(self, place: Place) -> bool:
        """Return whether the picture shows the box: it is inside, and the print around it is recognised."""
        inside = crop_place(self.straight.inside, grow_place(place, 1.5))
        if inside.size == 0 or not inside.all():
            return False
        around = grow_place(place, 2.5)
        return self._is_edge_shown(place) and not any(_covers(d, around) for d in self.straight.doubts)

    def _is_edge_shown(self, place: Place) -> bool:
        """Return whether the line around a box is visible on at least two of its sides."""
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
                seen += float(strip.max() - middle.min()) > 0.02 * max(self.ink.paper, 1)
        return seen >= 2

    def _read_tick(self, box: BoxPlace) -> tuple[BoxReading, Any]:
        """Read a tick box: its content, and the stroke as a mask with its position."""
        inner = grow_place(box.place, -RIM)
        room = _clip_place(grow_place(box.place, OUTSIDE + 4), self.ink.ink.shape)
        faint = self._find_stroke(inner, room, self.ink.threshold)
        if faint is None:
            return BoxReading(box=box, state="off"), None
        self._mark_used(faint, room)
        inked = crop_place(self.ink.dark, inner)[crop_place(self.ink.ink, inner)]
        core = max(self.ink.threshold, CORE * float(np.percentile(inked, 90)))
        inside = crop_place(self.ink.dark, inner) > core
        stroke = self._find_stroke(inner, room, core)
        if stroke is None or float(inside.sum()) / MM**2 < SPECK_AREA:
            size = max(_measure_extent(crop_place(self.ink.ink, inner)))
            if size < STROKE:
                return BoxReading(box=box, state="off"), None
            return BoxReading(box=box, state="unclear", why=_FAINT), None
        size = max(_measure_extent(inside))
        if size < SPECK:
            return BoxReading(box=box, state="off"), None
        why = self._describe_doubt(box, stroke, room, inside, size)
        state: BoxState = "unclear" if why else "on"
        return BoxReading(box=box, state=state, why=why), (stroke, room)

    def _describe_doubt(self, box: BoxPlace, stroke: Any, room: Place, inside: Mask, size: float) -> str:
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
        if _count_holes(stroke) > 0 or inside.mean() > FULL:
            return NO_MARK
        width = box.place[2] - box.place[0]
        if xs.min() + left < box.place[0] - ACROSS * width and xs.max() + left > box.place[2] + ACROSS * width:
            return NO_MARK
        return "" if is_mark(stroke) else NO_MARK

    def _find_stroke(self, inner: Place, room: Place, least: float) -> Any:
        """The ink that reaches into the box with what hangs together with it, over the box's own line too; none when
        nothing is as dark."""
        ink = crop_place(self.ink.ink, room) & (crop_place(self.ink.dark, room) > least)
        gap = 2 * round(0.9 * MM) + 1
        closed = cv2.morphologyEx(ink.astype(np.uint8), cv2.MORPH_CLOSE, np.ones((gap, gap), np.uint8)) > 0
        bridge = ink | (closed & crop_place(self.ink.hidden, room))
        count, labels = cv2.connectedComponents(bridge.astype(np.uint8), connectivity=8)
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
        total = sum(area for size, area in sizes if size >= 0.8)
        if total < 0.25:
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


def _count_holes(stroke: Any) -> int:
    """Count the areas larger than 0.15 mm² that strokes enclose: none in a tick or a cross."""
    padded = np.pad(~stroke, 1, constant_values=True).astype(np.uint8)
    count, _, stats, _ = cv2.connectedComponentsWithStats(padded, connectivity=4)
    return sum(1 for n in range(1, count) if stats[n, 4] > 0.15 * MM**2) - 1


def is_mark(stroke: Any) -> bool:
    """Return whether ink is a plain tick (two straight strokes that meet at their lower ends, or one that rises to the
    right) or a plain cross (two that cross in their middles). Any further stroke may strike it out."""
    ys, xs = np.nonzero(stroke)
    points = np.stack([xs, ys], axis=1).astype(np.float64)
    if len(points) < 12:
        return False
    return any(_is_mark_of(pen, points) for pen in sorted(_estimate_pen_widths(stroke)))


def _is_mark_of(pen: float, points: Any) -> bool:
    """Return whether it is such a mark made with a pen of this width, in pixels."""
    if pen > WIDEST_PEN * MM:
        return False
    band = 0.5 * pen + BAND * MM
    chosen = np.random.default_rng(3)
    first, rest = _find_straightest(points, band, chosen)
    if first is None:
        return False
    second, left = _find_straightest(rest, band, chosen)
    if second is None or len(rest) < SECOND * len(points):
        return len(rest) < SHORT_LEG * len(points) and first.rises > STEEP
    if len(left) > LEFT_OVER * len(points):
        return False
    one, other = _find_span(first, points, band), _find_span(second, rest, band)
    length = one[1] + other[1]
    if len(points) > THICKER * (pen * length + 0.5 * pen**2) or len(points) < THINNER * (pen * length - 0.5 * pen**2):
        return False
    turn = _compute_cross_product(one[2], other[2])
    if abs(turn) < 0.35:
        return False
    at = _compute_cross_product(other[0] - one[0], other[2]) / turn
    there = one[0] + at * one[2]
    shares = (at / one[1], float((there - other[0]) @ other[2]) / other[1])
    near = (0.75 * pen + JOINT * MM) / max(abs(turn), 0.7)  # a joint is as wide as the pen
    margins = [max(MIDDLE, near / line[1]) for line in (one, other)]
    in_middle = [margin <= share <= 1 - margin for share, margin in zip(shares, margins, strict=True)]
    if all(in_middle):
        flat = min(abs(float(one[2][1])), abs(float(other[2][1])))
        most = SLIM if pen > THIN_PEN * MM else SLIM + 0.08
        slim = len(points) <= most * cv2.contourArea(cv2.convexHull(points.astype(np.float32)))
        return flat >= SLANTING and slim and len(rest) >= EVEN * len(points)
    apart = max((near + 0.5 * band) / line[1] / abs(turn) for line in (one, other))
    if any(in_middle) or any(not -apart < share < 1 + apart for share in shares):
        return False
    longer = max(one, other, key=lambda line: line[1])
    if abs(float(longer[2][1])) < SLANTING:
        return False  # a flat line strikes out the short stroke that it meets
    ends = [
        line[0] + (line[1] if share < 0.5 else 0.0) * line[2] for line, share in zip((one, other), shares, strict=True)
    ]
    return all(float(end[1]) < float(there[1]) for end in ends)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StraightStroke:
    """A line through ink. rises: how much of its length it goes up while it goes right."""

    start: Any
    way: Any
    rises: float


def _find_straightest(points: Any, band: float, chosen: Any) -> tuple[StraightStroke | None, Any]:
    """Find the line along which most points lie, and the other points."""
    if len(points) < 6:
        return None, points
    ends = chosen.integers(0, len(points), (300, 2))
    a, b = points[ends[:, 0]], points[ends[:, 1]]
    along = b - a
    length = np.hypot(along[:, 0], along[:, 1])
    fit = length > 0.8 * MM
    if not fit.any():
        return None, points
    a, along = a[fit], along[fit] / length[fit][:, None]
    off = (points[None, :, 0] - a[:, None, 0]) * along[:, None, 1] - (points[None, :, 1] - a[:, None, 1]) * along[
        :, None, 0
    ]
    near = np.abs(off) <= band
    there = near[int(np.argmax(near.sum(axis=1)))]
    for _ in range(2):  # the line through the middle of them
        middle = points[there].mean(axis=0)
        way = np.linalg.svd(points[there] - middle, full_matrices=False)[2][0]
        off = points - middle
        there = np.abs(off[:, 0] * way[1] - off[:, 1] * way[0]) <= band
        if not there.any():
            return None, points
    way = way if way[0] >= 0 else -way
    return StraightStroke(start=middle, way=way, rises=float(-way[1])), points[~there]


def _compute_cross_product(one: Any, other: Any) -> float:
    """Compute the cross product of two vectors: their lengths times the sine of the angle between them."""
    return float(one[0] * other[1] - one[1] * other[0])


def _find_span(line: StraightStroke, points: Any, band: float) -> tuple[Any, float, Any]:
    """Find where a line of ink begins, its length and its direction."""
    off = points - line.start
    near = np.abs(off[:, 0] * line.way[1] - off[:, 1] * line.way[0]) <= band
    low, high = np.percentile(off[near] @ line.way, (1, 99))
    return line.start + low * line.way, max(float(high - low), 1.0), line.way


def _estimate_pen_widths(stroke: Any) -> set[float]:
    """Estimate how wide the pen may be, in pixels: twice the median depth of the ink's middle line, with and without
    the tips of its ragged edge. The average depth is an upper limit: strokes side by side don't increase it."""
    depth = cv2.distanceTransform(stroke.astype(np.uint8), cv2.DIST_L2, 5)
    ridge = depth[(depth > 0) & (depth >= cv2.dilate(depth, np.ones((3, 3), np.uint8)))]
    if not ridge.size:
        return {1.0}
    smooth = 2 * float(np.median(ridge[ridge >= 0.5 * np.percentile(ridge, 90)])) - 0.5
    usual = 4 * float(depth[depth > 0].mean()) - 2  # across a bar of width w it is (w + 2) / 4
    least, most = sorted((2 * float(np.median(ridge)), max(min(smooth, usual), 1.0)))
    return {least, most} if most <= 1.4 * least else {least}  # strokes side by side pass for a wide pen
