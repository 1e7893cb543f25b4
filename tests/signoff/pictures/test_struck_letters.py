"""A straight line drawn through lettering by hand is a remark, though the print hides most of it.

How people strike out a name, and what cameras and scanners make of it, is common practice, no source.
"""

from __future__ import annotations

import random

import numpy as np
import pytest

cv2 = pytest.importorskip("cv2", reason="OpenCV (pip install -e '.[pictures]')")

from pipeline.signoff.pictures.empty_pages import MM, EmptyPage  # noqa: E402
from pipeline.signoff.pictures.page_records import ReadPage  # noqa: E402
from tests.long.pictured_answers import Writer  # noqa: E402
from tests.signoff.pictures.test_page_reading import make_page, mm, read  # noqa: E402


def make_dense_page() -> EmptyPage:
    """Lines of words of nine letters each, 9 mm apart: too close for a piece of a stroke between two to be a remark."""
    page = make_page()
    page.look[:] = 255
    rng = np.random.default_rng(6)
    for y in range(16, 88, 9):
        for x in range(14, 92, 26):
            for n, letter in enumerate(rng.choice(list("abdehnosuNHE"), 9)):
                place = mm(x + 2.4 * n, y)
                cv2.putText(page.look, letter, place, cv2.FONT_HERSHEY_SIMPLEX, 0.5, (30, 30, 30), 1, cv2.LINE_AA)
    return page


def read_struck(pen: str, scale: float, rise: float = 0.0) -> ReadPage:
    """Read a page with a line of 12 mm through a word. scale: of the picture to the page as it is read."""
    page = make_dense_page()
    finer = cv2.resize(page.look, None, fx=1.5, fy=1.5, interpolation=cv2.INTER_CUBIC)
    if pen:
        ends = [(16, 24.3 + rise / 2), (28, 24.3 - rise / 2)]
        Writer(finer, random.Random(4), pen).line([(x * 1.5 * MM, y * 1.5 * MM) for x, y in ends])
    return read(page, cv2.resize(finer, mm(110, 96), interpolation=cv2.INTER_AREA), scale=scale)


@pytest.mark.parametrize("scale", [0.9, 1.4])
@pytest.mark.parametrize("pen", ["fine liner", "pencil", "blue ball pen"])
@pytest.mark.parametrize("rise", [-0.6, 0.4])
def test_a_line_through_a_word_is_a_remark(pen, scale, rise):
    told = read_struck(pen, scale, rise)
    assert told.remarks or told.hidden


@pytest.mark.parametrize("scale", [0.9, 1.4])
def test_words_without_a_line_have_no_remark(scale):
    told = read_struck("", scale)
    assert (told.why, told.hidden, told.remarks) == ("", "", ())
