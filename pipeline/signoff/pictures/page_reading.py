"""Reading a file of pictures page by page, as plain records. Runs in a separate process, behind the door."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from typing import Any

import cv2
import numpy as np

from pipeline.signoff.pictures.box_marks import BoxReader, BoxReading
from pipeline.signoff.pictures.empty_pages import DPI, MM, EmptyProof, Place
from pipeline.signoff.pictures.ink import DARKEST_PAPER, MOST_NOISE, Mask, PageInk, crop_place, find_ink, grow_place
from pipeline.signoff.pictures.letter_marks import find_letter_marks
from pipeline.signoff.pictures.lost_marks import WHY_LOST, judge_pen
from pipeline.signoff.pictures.page_finding import FoundPage, NoPage, PageFinder, is_blank
from pipeline.signoff.pictures.page_records import Pen, ReadBox, ReadPage
from pipeline.signoff.pictures.page_straightening import StraightPage, straighten_page
from pipeline.signoff.pictures.picture_files import Pixels, read_pages
from pipeline.signoff.pictures.struck_letters import find_strikes
from pipeline.signoff.returned.sent_copy import SentCopy

LEAST_SURE = 0.6
"""Part of a page's print that has to be known again."""
MOST_BLUR = 2.0
"""Pixels of a standard deviation (0.34 mm): a scribble looks like a wide pen's stroke in more."""
COARSEST = 80.0
"""Pixels of a picture to an inch of the page: a pen of 0.35 mm is one pixel wide in fewer. A camera of 1 megapixel has
90, a fax of standard resolution 98 down the page (ITU-T T.4, from memory)."""
MARGIN = 7.5
"""mm from the paper's edges that are not looked at: the angles in the corners, and what lies beside the page."""
REMARK, REMARK_AREA = 1.5, 0.3
"""mm and mm²: ink outside all boxes that is larger is told."""
SHARP, FINE = 170.0, 0.8
"""Least pixels to an inch and greatest blur, in pixels, of a picture in which a letter's dot is told from a speck."""
CUT_AROUND = 3.0
MOST_DOUBTS = 1
"""Pieces of print, 14 mm wide, that a clean page may lack: of 40 made-up ones that were sharp enough 33 lacked none and
6 lacked one. A name that is covered takes at least two with it."""
PRINTED, LEAST_PRINT, SHOWN, ALL_PRINT = 0.3, 1.0, 0.4, 0.9
"""Of black: the strokes that a piece of the page is also known by, in mm² at least; of their darkness, what has to be
seen; and of how much of them."""
INKED = 0.015
"""Part of a piece of the page that is ink when it is not known again for that reason alone."""


def read_pictures(
    data: bytes, file: str, copies: Mapping[tuple[str, int], SentCopy], order_id: str
) -> tuple[ReadPage, ...]:
    """The pages in a file. copies: the proofs as they were made; one that is not the file kept counts as missing."""
    cv2.setNumThreads(1)
    proofs = {}
    for key, copy in copies.items():
        try:
            kept = copy.path.read_bytes()
        except OSError:
            continue
        if hashlib.sha256(kept).hexdigest() == copy.sha256:
            proofs[key] = EmptyProof(kept)
    finder = PageFinder(proofs, order_id)
    return tuple(_read_page(picture, n, finder) for n, picture in enumerate(read_pages(data, file), 1))


def _read_page(picture: Pixels, number: int, finder: PageFinder) -> ReadPage:
    found = finder.find(picture)
    if isinstance(found, NoPage):
        mark = found.mark
        about = {"revision": mark.revision, "volume": mark.volume} if mark else {}
        return ReadPage(number=number, why=found.why, blank=is_blank(picture), **about)  # type: ignore[arg-type]
    return read_page(picture, found, number)


def read_page(picture: Pixels, found: FoundPage, number: int = 1) -> ReadPage:
    """A page that was found: its boxes, and what is written beside them."""
    page, (revision, volume) = found.page, found.proof
    scale = _measure_scale(found)
    coarse = _describe_coarse(found, scale)
    if coarse:
        return ReadPage(number=number, revision=revision, volume=volume, why=f"page {page.number} {coarse}")
    straight = straighten_page(picture, found.matrix, page)
    ink = find_ink(straight, page)
    why = _describe_unreadable(straight, ink)
    if why:
        return ReadPage(number=number, revision=revision, volume=volume, why=f"page {page.number} {why}")
    straight.doubts = [
        d for d in straight.doubts if float(crop_place(ink.ink, d).mean()) < INKED and not _shows_print(ink, d)
    ]
    used = np.zeros(ink.ink.shape, bool)
    reader = BoxReader(page=page, straight=straight, ink=ink, used=used)
    readings = reader.read_all()
    boxes = tuple(_read_box(b, straight) for b in readings)
    signed = page.signature is not None and _pass_over(used, ink, page.signature)
    hidden = _describe_hidden(straight)
    pen: Pen = judge_pen(straight, page, readings) if straight.two_tones and not hidden else ""
    hidden = hidden or WHY_LOST.get(pen, "")
    margin = round(MARGIN * MM)
    sharp = scale * DPI >= SHARP and straight.blur <= FINE
    small = find_letter_marks(ink, used, margin, sharp=sharp)
    remarks = (*_find_remarks(ink, used), *find_strikes(ink, used, margin), *small)
    return ReadPage(
        number=number,
        revision=revision,
        volume=volume,
        page=page.number,
        boxes=boxes,
        remarks=tuple(_encode_png(straight, place) for place in remarks),
        hidden=hidden,
        pen=pen,
        whole=_encode_png(straight, (0, 0, *straight.inside.shape[::-1])) if hidden else b"",
        signed=_encode_png(straight, grow_place(page.signature, 12.0)) if signed and page.signature else b"",
    )


def _measure_scale(found: FoundPage) -> float:
    """Measure how much larger a page is in a picture than it is read."""
    high, wide = found.page.look.shape[:2]
    corners = np.array([[[0, 0]], [[wide, 0]], [[wide, high]], [[0, high]]], dtype=np.float64)
    area = cv2.contourArea(cv2.perspectiveTransform(corners, found.matrix).astype(np.float32))
    return float(np.sqrt(area / (high * wide)))


def _describe_coarse(found: FoundPage, scale: float) -> str:
    """Whether a picture shows the page with too few pixels for a pen's strokes to be told."""
    high, wide = found.page.look.shape[:2]
    if scale * DPI >= COARSEST:
        return ""
    longer, least = round(scale * max(high, wide)), -(-COARSEST / DPI * max(high, wide) // 100) * 100
    return (
        f"is too coarse: its longer side is {longer} pixels in the picture. Send it again with at least {least:.0f}, "
        "the whole page and little around it"
    )


def _describe_unreadable(straight: StraightPage, ink: PageInk) -> str:
    if ink.paper < DARKEST_PAPER:
        return "is too dark"
    if straight.blur > MOST_BLUR or straight.sure < LEAST_SURE:
        return "is too blurred, or not all of it can be seen"
    if ink.threshold > MOST_NOISE:
        return "is too dark or too grainy to tell a pen's strokes"
    return ""


def _shows_print(ink: PageInk, place: Place) -> bool:
    """Return whether the print of a piece is all there, though it isn't known again: a copier loses the pale tone
    around it."""
    there = crop_place(ink.print, place) > PRINTED
    shown = cv2.dilate(crop_place(ink.strokes, place), np.ones((3, 3), np.uint8)) > SHOWN * crop_place(ink.print, place)
    return bool(np.count_nonzero(there & shown) >= max(ALL_PRINT * np.count_nonzero(there), LEAST_PRINT * MM**2))


def _describe_hidden(straight: StraightPage) -> str:
    """Say what of the page can't be seen: a part cut off or covered; empty when all of it can."""
    high, wide = straight.inside.shape
    body = crop_place(straight.inside, grow_place((0, 0, wide, high), -MARGIN - 3))
    if not body.all():
        return "a part of the page is cut off"
    if len(straight.doubts) > MOST_DOUBTS:
        return "a part of the page is covered, or too blurred"
    return ""


def _read_box(reading: BoxReading, straight: StraightPage) -> ReadBox:
    box = reading.box
    shown = reading.state in ("written", "unclear")
    around = 12.0 if box.kind == "tick" else CUT_AROUND
    return ReadBox(
        field=box.field,
        option=box.option,
        kind=box.kind,
        state=reading.state,
        why=reading.why,
        picture=_encode_png(straight, grow_place(box.place, around)) if shown else b"",
    )


def _pass_over(used: Mask, ink: PageInk, place: Place) -> bool:
    """Take a signature for no remark where most of it stands by the line to sign on; return whether there is one."""
    before = int(used.sum())
    around = grow_place(place, 5)
    count, labels, stats, middles = cv2.connectedComponentsWithStats(_group_strokes(ink.ink))
    for n in range(1, count):
        x, y = middles[n]
        left, top, wide, high = stats[n, :4]
        inside = left >= around[0] - 3 * MM and left + wide <= around[2] + 20 * MM and top >= around[1]
        if place[0] <= x <= place[2] and place[1] <= y <= around[3] and inside and high <= 30 * MM:
            used |= labels == n
    return int(used.sum()) > before


def _group_strokes(ink: Mask) -> Any:
    """Group strokes that are close together."""
    size = 2 * round(1.2 * MM) + 1
    return cv2.dilate(ink.astype(np.uint8), np.ones((size, size), np.uint8))


def _find_remarks(ink: PageInk, used: Mask) -> list[Place]:
    """Find ink that belongs to no box."""
    high, wide = ink.ink.shape
    margin = round(MARGIN * MM)
    free = np.zeros(ink.ink.shape, bool)
    body = (slice(margin, high - margin), slice(margin, wide - margin))
    free[body] = ink.ink[body] & ~used[body]
    count, labels, stats, _ = cv2.connectedComponentsWithStats(free.astype(np.uint8), connectivity=8)
    kept = np.zeros(ink.ink.shape, bool)
    least = REMARK + 2 * ink.softened / MM  # specks of dirt were softened too
    for n in range(1, count):
        left, top, across, down, area = stats[n]
        if max(across, down) / MM < least or area / MM**2 < REMARK_AREA:
            continue
        part = labels[top : top + down, left : left + across] == n
        kept[top : top + down, left : left + across] |= part
    if not kept.any():
        return []
    size = 2 * round(5 * MM) + 1
    count, labels, stats, _ = cv2.connectedComponentsWithStats(
        cv2.dilate(kept.astype(np.uint8), np.ones((size, size), np.uint8))
    )
    return [(int(s[0]), int(s[1]), int(s[0] + s[2]), int(s[1] + s[3])) for s in stats[1:]]


def _encode_png(straight: StraightPage, place: Place) -> bytes:
    """Encode a part of the straightened picture."""
    part = crop_place(straight.look, place)
    done, data = cv2.imencode(".png", cv2.cvtColor(part, cv2.COLOR_RGB2BGR))
    return bytes(data) if done else b""
