"""A straight line drawn through lettering by hand is a remark, though the print hides most of it.

How people strike out a name, and what cameras and scanners make of it, is common practice, no source.
"""

from __future__ import annotations

import random

import pytest

cv2 = pytest.importorskip("cv2", reason="OpenCV (pip install -e '.[pictures]')")

from pipeline.signoff.pictures.empty_pages import MM  # noqa: E402
from pipeline.signoff.pictures.page_records import ReadPage  # noqa: E402
from tests.long.pictured_answers import Writer  # noqa: E402
from tests.signoff.pictures.test_page_reading import make_page, mm, read  # noqa: E402

LETTERS = 14
"""mm from the page's left edge to the lines of words; the second stands 25 mm from the top, and is 2.1 mm high."""


def read_struck(pen: str, scale: float, rise: float = 0.0, start: float = LETTERS) -> ReadPage:
    """Read a page with a line of 10 mm through a word. scale: of the picture to the page as it is read."""
    page = make_page()
    finer = cv2.resize(page.look, None, fx=1.5, fy=1.5, interpolation=cv2.INTER_CUBIC)
    if pen:
        y = 24.0
        ends = [(start, y + rise / 2), (start + 10, y - rise / 2)]
        Writer(finer, random.Random(4), pen).line([(x * 1.5 * MM, y * 1.5 * MM) for x, y in ends])
    return read(page, cv2.resize(finer, mm(110, 96), interpolation=cv2.INTER_AREA), scale=scale)


@pytest.mark.parametrize("scale", [0.8, 1.0, 1.4])
@pytest.mark.parametrize("pen", ["fine liner", "pencil", "blue ball pen"])
@pytest.mark.parametrize("rise", [-0.6, 0.4])
def test_a_line_through_a_word_is_a_remark(pen, scale, rise):
    told = read_struck(pen, scale, rise)
    assert told.remarks or told.hidden


@pytest.mark.parametrize("scale", [0.8, 1.0, 1.4])
def test_words_without_a_line_have_no_remark(scale):
    told = read_struck("", scale)
    assert (told.why, told.hidden, told.remarks) == ("", "", ())
