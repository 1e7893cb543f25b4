"""Marks in a box, drawn with pens of several colours and widths: ticks and crosses are recognised, struck-out ones
never.

How people tick is common practice, no source; hands and pens are those of `tests.long.pictured_answers`.
"""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from tests.long.pictured_answers import DRAWN, PENS, Writer, opencv
from tests.long.pictured_boxes import NO_TICK, STRUCK

cv2 = pytest.importorskip("cv2", reason="OpenCV (pip install -e '.[pictures]')")

from pipeline.outputs.pdf import styles  # noqa: E402
from pipeline.signoff.pictures.box_marks import BoxReader, BoxReading  # noqa: E402
from pipeline.signoff.pictures.empty_pages import DPI, MM, BoxPlace, EmptyPage  # noqa: E402
from pipeline.signoff.pictures.ink import find_ink  # noqa: E402
from pipeline.signoff.pictures.page_reading import MOST_BLUR  # noqa: E402
from pipeline.signoff.pictures.page_straightening import StraightPage  # noqa: E402

SIDE = 40
BOX = [17.0, 17.0, 22.2, 22.2]  # mm
LINE = tuple(round(255 * v) for v in styles.FIELD)


def empty(dpi: int) -> np.ndarray:
    look = np.full((SIDE * dpi * 10 // 254, SIDE * dpi * 10 // 254, 3), 255, np.uint8)
    corners = [round(v * dpi / 25.4) for v in BOX]
    cv2.rectangle(look, corners[:2], corners[2:], LINE, max(1, round(0.3 * dpi / 25.4)), cv2.LINE_AA)
    return look


def make_page(look: np.ndarray) -> EmptyPage:
    box = BoxPlace(field="correct_x", kind="tick", place=tuple(round(v * MM) for v in BOX))
    none = np.zeros((1, 1), np.uint8)
    return EmptyPage(number=1, look=look, boxes=(box,), mark=(0, 0, 1, 1), modules=none, signature=None)


Pen = tuple[str, tuple[int, int, int], float, float]


def read(
    acts: str, chance: random.Random, *, fax: bool = False, pen: Pen | None = None, shade: float = 0.0
) -> tuple[BoxReading, str]:
    """fax: black and white, by a threshold that loses the box's line. shade: how much darker the paper is there."""
    opencv()
    look = empty(DRAWN)
    writer = Writer(look, chance)
    if pen is not None:
        writer.name, writer.colour, writer.width, writer.cover = pen
    place = [v * DRAWN / 25.4 for v in BOX]
    for act in acts.split():
        getattr(writer, act)(place)
    blur = 0.6 if fax else chance.uniform(0.5, MOST_BLUR)
    own = empty(DPI)
    seen = cv2.GaussianBlur(look, (0, 0), blur * DRAWN / DPI)
    seen = cv2.resize(seen, own.shape[1::-1], interpolation=cv2.INTER_AREA)
    if shade:
        ys, xs = np.mgrid[0 : seen.shape[0], 0 : seen.shape[1]] / MM - (BOX[0] + BOX[2]) / 2
        seen = seen * (1 - shade * np.exp(-(xs**2 + ys**2) / 8))[..., None]
    grain = np.random.default_rng(chance.randrange(999)).normal(0, 3, seen.shape)
    seen = (seen * (1.0 if fax else chance.uniform(0.6, 1.0)) + grain).clip(0, 255).astype(np.uint8)
    if fax:
        seen = np.where(seen.mean(axis=2, keepdims=True) > 145, 255, 0).astype(np.uint8).repeat(3, axis=2)
    page = make_page(own)
    inside = np.ones(own.shape[:2], bool)
    straight = StraightPage(look=seen, inside=inside, blur=blur, sure=1.0, two_tones=fax)
    ink = find_ink(straight, page)
    (found,) = BoxReader(page=page, straight=straight, ink=ink, used=np.zeros(inside.shape, bool)).read_all()
    return found, writer.name


def counted(acts: str, times: int, *, fax: bool = False) -> Counter[str]:
    return Counter(read(acts, random.Random(f"{acts} {n}"), fax=fax)[0].state for n in range(times))


@pytest.mark.parametrize("acts", ["tick", "cross"])
def test_a_plain_mark_is_read(acts):
    states = counted(acts, 12)
    assert states["off"] == 0 and states["on"] >= 10, states


FELT, MARKER = ("felt pen", (20, 20, 20), 0.9, 0.6), ("marker", (15, 15, 15), 1.2, 0.95)


@pytest.mark.parametrize(("acts", "pen", "shade"), [("cross", FELT, 0.0), ("tick", MARKER, 0.05)])
def test_a_wide_pens_mark_is_read(acts, pen, shade):
    """Where a felt pen's strokes cross they are darker; paper isn't equally light all around a mark."""
    states = Counter(read(acts, random.Random(n), pen=pen, shade=shade)[0].state for n in range(8))
    assert states["on"] >= 7, states
    assert not Counter(read(f"{acts} scrub", random.Random(n), pen=pen, shade=shade)[0].state for n in range(4))["on"]


@pytest.mark.parametrize("acts", [*STRUCK, *NO_TICK])
def test_struck_out_marks_are_not_ticks(acts):
    states = counted(acts, 5)
    assert states["on"] == 0 and states["off"] <= (1 if acts in NO_TICK else 0), states


@pytest.mark.parametrize(("pen", "fax"), [("pencil", False), ("black ball pen", True)])
def test_a_box_filled_in_all_over_is_unclear(pen, fax):
    """Too wide for a stroke, it is no empty box: somebody may have struck out what was in it, or ticked it so."""
    (pen,) = (one for one in PENS if one[0] == pen)
    seen = [
        read(acts, random.Random(f"{acts} {n}"), pen=pen, fax=fax)[0]
        for acts in ("paint", "tick paint")
        for n in range(6)
    ]
    assert {found.state for found in seen} == {"unclear"}, seen


def test_an_empty_box_is_empty():
    assert counted("", 5) == {"off": 5}


def test_a_fax_that_lost_the_boxes_lines_shows_its_marks():
    """The line hides no stroke where it is not there; a pencil's mark is lost in part."""
    seen = [read(acts, random.Random(f"{acts} {n}"), fax=True) for acts in ("tick", "cross") for n in range(24)]
    states = Counter(found.state for found, pen in seen if pen != "pencil")
    assert states["on"] >= 0.95 * states.total() > 36, states
    assert counted("", 2, fax=True) == {"off": 2}
    assert not any(counted(acts, 2, fax=True)["on"] for acts in (*STRUCK, *NO_TICK))


@pytest.mark.parametrize(("dots", "state"), [(1, "off"), (5, "unclear")])
def test_single_dots_along_a_stroke_are_no_empty_box_in_a_fax(dots, state):
    """They may be what is left of a pencil's mark; one may be dirt."""
    own = empty(DPI)
    inside, page = np.ones(own.shape[:2], bool), make_page(own)
    seen = np.full_like(own, 255)
    for n in range(dots):
        seen[round((18.4 + 0.5 * n) * MM), round((18.4 + 0.5 * n) * MM)] = 0
    straight = StraightPage(look=seen, inside=inside, blur=0.6, sure=1.0, two_tones=True)
    (found,) = BoxReader(
        page=page, straight=straight, ink=find_ink(straight, page), used=np.zeros(inside.shape, bool)
    ).read_all()
    assert found.state == state


@pytest.mark.parametrize(
    ("marks", "state"),
    [
        ("", "off"),
        ("dust", "off"),
        ("small", "off"),
        ("comma", "written"),
        ("dust dust", "written"),
        ("letter", "written"),
    ],
)
def test_a_speck_of_dust_is_no_writing(marks, state):
    own = empty(DPI)
    page = make_page(own)
    page = replace(page, boxes=(replace(page.boxes[0], kind="write"),))
    seen = own.copy()
    middle = ((BOX[0] + BOX[2]) / 2, (BOX[1] + BOX[3]) / 2)
    for n, mark in enumerate(marks.split()):
        x, y = round((middle[0] - 1 + 2.2 * n) * MM), round(middle[1] * MM)
        if mark in ("dust", "small"):
            size = 0.9 if mark == "dust" else 0.5
            cv2.ellipse(seen, (x, y), (round(size / 2 * MM), round(size / 3 * MM)), 20, 0, 360, (90, 85, 80), -1)
        else:
            long = 1.7 if mark == "comma" else 2.6
            cv2.line(seen, (x, y), (x - round(0.3 * MM), y + round(long * MM)), (30, 50, 150), round(0.4 * MM))
    inside = np.ones(own.shape[:2], bool)
    straight = StraightPage(look=seen, inside=inside, blur=0.6, sure=1.0)
    (found,) = BoxReader(
        page=page, straight=straight, ink=find_ink(straight, page), used=np.zeros(inside.shape, bool)
    ).read_all()
    assert found.state == state, found
