"""Small pages of nothing but lettering, read as pictures: what dirt, a fold, curled paper and a copier make of them is
no remark and hides nothing; a pen's stroke and paint over the lettering are seen.

What scanners, copiers and cameras do to a page is common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

cv2 = pytest.importorskip("cv2", reason="OpenCV (pip install -e '.[pictures]')")

from pipeline.signoff.pictures.empty_pages import MM, BoxPlace, EmptyPage  # noqa: E402
from pipeline.signoff.pictures.page_finding import FoundPage  # noqa: E402
from pipeline.signoff.pictures.page_reading import read_page  # noqa: E402
from pipeline.signoff.pictures.page_records import ReadPage  # noqa: E402

HIGH, WIDE = round(96 * MM), round(110 * MM)
DIRT = (90, 85, 80)
INK = (30, 50, 150)


def mm(*values: float) -> tuple[int, ...]:
    return tuple(round(v * MM) for v in values)


def make_page(tone: int = 255, small: float = 0.0) -> EmptyPage:
    """Lines of words, no two alike, 9 mm apart. small: of single letters on the right instead, on pieces of a tone."""
    look = np.full((HIGH, WIDE, 3), 255, np.uint8)
    rng = np.random.default_rng(5)
    black, hand = (30, 30, 30), cv2.FONT_HERSHEY_SIMPLEX
    for y in range(16, 88, 9):
        for x in range(14, 58 if small else 92, 15):
            word = "".join(rng.choice(list("abdehknosuxzAEHKMNRSTXZ"), 4))
            cv2.putText(look, word, mm(x, y), hand, 0.7, black, 2, cv2.LINE_AA)
        for x in range(60, 98, 7) if small else ():
            cv2.rectangle(look, mm(x, y - 4), mm(x + 5, y + 1), (tone, tone, tone), -1)
            cv2.putText(look, "xzkr"[(x + y) % 4], mm(x + 1, y), hand, small, black, 1, cv2.LINE_AA)
    none = np.zeros((1, 1), np.uint8)
    return EmptyPage(number=1, look=look, boxes=(), mark=(0, 0, 1, 1), modules=none, signature=None)


def read(page: EmptyPage, picture: np.ndarray, *, scale: float = 1.0) -> ReadPage:
    """scale: of the picture to the page, which is where it would lie if nothing were wrong with the picture."""
    picture = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_LINEAR)
    grain = np.random.default_rng(1).normal(0, 2, picture.shape)
    picture = (cv2.GaussianBlur(picture, (0, 0), 0.6) + grain).clip(0, 255).astype(np.uint8)
    return read_page(picture, FoundPage(proof=("A", 0), page=page, matrix=np.diag([scale, scale, 1.0])))


def test_a_page_as_it_was_made_has_no_remarks():
    page = make_page()
    told = read(page, page.look.copy())
    assert (told.why, told.hidden, told.remarks) == ("", "", ())


def test_paper_that_curls_on_one_side_is_evened_out():
    """Where it lies is told by its flat side; its other edge is 5 mm beside that."""
    page = make_page()
    ys, xs = np.mgrid[0:HIGH, 0:WIDE].astype(np.float32)
    off = 28 * np.maximum(xs / WIDE - 0.5, 0) * 2
    told = read(page, cv2.remap(page.look, xs, ys + off, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE))
    assert (told.why, told.hidden, told.remarks) == ("", "", ())


def fold(look: np.ndarray, at: float, slope: float = 0.0) -> np.ndarray:
    ys, xs = np.mgrid[0:HIGH, 0:WIDE].astype(np.float32)
    light = 1 - 0.22 * np.exp(-(((ys - at * MM - slope * (xs - WIDE / 2)) / (0.18 * MM)) ** 2))
    return (look * light[..., None]).astype(np.uint8)


def test_a_pale_tick_across_a_fold_is_one_mark():
    page = make_page()
    box = BoxPlace(field="correct_x", kind="tick", place=(*mm(19, 18), *mm(24.2, 23.2)))
    page.look[mm(10)[0] : mm(30)[0], : mm(34)[0]] = 255
    cv2.rectangle(page.look, box.place[:2], box.place[2:], (176, 168, 153), 2)
    page = replace(page, boxes=(box,))
    picture = page.look.copy()
    tick = np.array([mm(19.6, 20.6), mm(21.2, 22.6), mm(25, 16)])
    cv2.polylines(picture, [tick], False, (150, 150, 160), 2, cv2.LINE_AA)
    told = read(page, fold(picture, 19.2))
    assert not told.remarks and [b.state for b in told.boxes] == ["on"]
    assert not read(page, fold(page.look, 19.2)).remarks


def test_a_fold_beside_a_printed_line_is_no_remark():
    page = make_page()
    cv2.line(page.look, mm(8, 20), mm(102, 20), (176, 168, 153), 2)
    assert not read(page, fold(page.look, 19.3, 0.006)).remarks


@pytest.mark.parametrize(
    ("mark", "away", "seen"),
    [("speck", 1.6, False), ("speck", 0.6, True), ("accent", 1.6, True), ("accent", 0.8, True), ("large", 1.6, True)],
)
def test_a_speck_of_dirt_is_no_accent(mark, away, seen):
    """A roundish speck is dirt unless it stands as close to a letter as a dot does. away: mm below a word."""
    page = make_page()
    picture = page.look.copy()
    x, y = mm(16, 34 + away + 0.3)
    if mark == "accent":
        cv2.line(picture, (x, y), (x + round(0.5 * MM), y + round(0.8 * MM)), INK, 2, cv2.LINE_AA)
    else:
        axes = (2.6, 1.6) if mark == "speck" else (4.2, 2.6)
        cv2.ellipse(picture, ((x, y), (2 * axes[0], 2 * axes[1]), 20.0), DIRT, -1, cv2.LINE_AA)
    assert bool(read(page, picture, scale=1.3).remarks) == seen


@pytest.mark.parametrize("painted", [False, True])
def test_a_pale_tone_that_a_copier_loses_hides_nothing(painted):
    page = make_page(tone=200, small=0.5)
    picture = make_page(small=0.5).look
    if painted:
        picture[mm(28)[0] : mm(62)[0], mm(18)[0] : mm(52)[0]] = 255
    told = read(page, picture)
    assert bool(told.hidden) == painted and not told.why
