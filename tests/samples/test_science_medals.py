"""The science medals: every medallist is read, in their language, and set on the disc as the order says."""

import math
from pathlib import Path

import numpy as np
import pytest

from pipeline.intake.drawing.blank_drawing import read_blank
from pipeline.intake.order.order_file import read_order
from pipeline.intake.recipients.read_list import read_list
from pipeline.layout.line_texts import compose_line_texts
from pipeline.layout.typesetter import Typesetter
from pipeline.lettering.font_face import open_face

SAMPLE = Path(__file__).resolve().parents[2] / "sample_orders" / "science-medals"
TOO_LONG, NO_FACE = {45, 46}, {48}


@pytest.fixture(scope="module")
def order():
    return read_order(SAMPLE)


@pytest.fixture(scope="module")
def medallists(order):
    return read_list(order).recipients


@pytest.fixture(scope="module")
def setter(order):
    blank, findings = read_blank(order)
    assert findings == ()
    faces = [[open_face(name) for name in (part.face, *part.also)] for part in order.order.line]
    return Typesetter(order.order, blank, faces)


@pytest.fixture(scope="module")
def tried(order, medallists, setter):
    """Set every medallist once: the result of each line, by row."""
    return {r.row: setter.set_lines(compose_line_texts(order.order, r)[0]) for r in medallists}


def test_every_medallist_is_read_with_a_language(medallists):
    assert [r.row for r in medallists] == list(range(2, 51))
    assert len({r.language for r in medallists}) >= 30
    assert sum(r.copies for r in medallists) == 50


def test_names_from_everywhere_are_set_whole_and_inside_the_disc(medallists, setter, tried):
    for recipient in medallists:
        lines = tried[recipient.row]
        missing = {c for t in lines for c in t.missing}
        assert bool(missing) == (recipient.row in NO_FACE), recipient.get_value("name")
        assert (lines[0].setting is None) == (recipient.row in TOO_LONG), recipient.get_value("name")
        if recipient.row in TOO_LONG | NO_FACE:
            continue
        assert all(t.setting for t in lines)
        for piece in setter.build_artwork(lines).list_pieces():
            points = np.concatenate(
                [path.points for path in piece.build_outline()]
            )  # control points may be outside the ink
            assert np.hypot(*(points - (35.0, 35.0)).T).max() <= 35.0 - 3.0 + 0.3


def test_pen_advance_at_mid_cap_is_that_of_the_straight_row(medallists, setter, tried):
    """Within 1 %: from the first letter's middle to the last's, along the arc at mid cap height."""
    checked = 0
    for recipient in medallists:
        if recipient.row in TOO_LONG | NO_FACE:
            continue
        line = tried[recipient.row][0]
        size, placed = line.setting.cap_height, line.placed[0]
        turns = [piece.turn for piece in placed.set_row.pieces]
        angle = math.remainder(turns[-1] - turns[0], 2 * math.pi)
        along = abs(angle) * (25.5 + size / 2)
        middles = {}
        for s in placed.row.shapes:
            parts = (
                zip(s.shape.parts, s.shape.glyphs, s.at, strict=True) if s.shape.parts else [(s.shape, None, s.at[0])]
            )
            for part, use, at in parts:
                hull = setter.hulls.get_hull(part)[:, 0] * s.scale
                x = s.x + (use.dx * s.scale if use else 0.0)
                wide = float(np.ptp(hull))
                if at not in middles or wide > middles[at][0]:
                    middles[at] = wide, x + float(hull.min() + hull.max()) / 2
        order_seen = [middles[at][1] for s in placed.row.shapes for at in s.at]
        straight = abs(order_seen[-1] - order_seen[0]) * size / placed.row.cap_units
        assert along == pytest.approx(straight, rel=0.01), recipient.get_value("name")
        checked += 1
    assert checked == 46
