"""Rows on arcs: marks keep to their letters, joined letters stay joined, nothing overlaps, in every script."""

import math

import numpy as np
import pytest
import shapely

from pipeline.core.config.order import ArcConfig
from pipeline.geometry.flatten import outline_area
from pipeline.geometry.regions import build_polygon_from_outline
from pipeline.layout.arc_text import place_on_arc, unite_arc_letters
from pipeline.layout.shape_hulls import ShapeHulls
from pipeline.lettering.font_face import open_face
from pipeline.lettering.shaping import shape_row

MIDDLE = (35.0, 35.0)
SCRIPTS = [
    ("noto-sans", "Nguyễn Thị Phượng"),
    ("noto-naskh-arabic", "پریچهر گلستانی"),
    ("noto-sans", "अनिल शर्मा"),
    ("frank-ruhl-libre", "אביגיל בן־עמי"),
    ("great-vibes", "Wilhelmina Quill"),
    ("cinzel", "Raya Kalla"),
    ("droid-sans-fallback", "高橋 美咲"),
]


def on_arc(name, text, at="top", cap=4.5, radius=25.5):
    hulls = ShapeHulls()
    row = shape_row([open_face(name)], text)
    placed = place_on_arc(row, cap, ArcConfig(radius=radius, at=at), MIDDLE, "centre", hulls)
    return row, placed, unite_arc_letters(placed.set_row, hulls)


def areas(set_row):
    return [build_polygon_from_outline(piece.build_outline(), 0.001) for piece in set_row.pieces]


@pytest.mark.parametrize("at", ["top", "bottom"])
@pytest.mark.parametrize(("name", "text"), SCRIPTS)
def test_no_two_pieces_touch_and_no_ink_is_lost(name, text, at):
    row, _, done = on_arc(name, text, at)
    parts = areas(done)
    for i, one in enumerate(parts):
        assert one.is_valid
        assert outline_area(done.pieces[i].build_outline()) == pytest.approx(one.area, rel=5e-3)
        for other in parts[i + 1 :]:
            assert shapely.distance(one, other) > 0
    straight = sum(outline_area(s.shape.outline) * s.scale**2 for s in row.shapes) * (4.5 / row.cap_units) ** 2
    assert sum(part.area for part in parts) == pytest.approx(straight, rel=0.03)  # joints overlap slightly differently
    letters = sorted(use.text for piece in done.pieces for use in piece.shape.glyphs)
    assert letters == sorted(use.text for s in row.shapes for use in s.shape.glyphs)


@pytest.mark.parametrize("at", ["top", "bottom"])
@pytest.mark.parametrize("text", ["ọ", "Ķ", "ģ", "Ş"])
def test_a_mark_turns_with_its_letter(text, at):
    _, placed, _ = on_arc("noto-sans", f"a{text}i", at)
    pieces = placed.set_row.pieces
    turns = {use.text: set() for piece in pieces for use in piece.shape.glyphs}
    for piece in pieces:
        for use in piece.shape.glyphs:
            turns[use.text].add(round(piece.turn, 9))
    assert len(turns[text]) == 1
    assert len({t for each in turns.values() for t in each}) == 3  # while each letter has its own


def test_arabic_dots_stay_with_their_letters():
    """The distance from each dot to the nearest letter is that of the straight row."""

    def gaps(parts):
        big = [p for p in parts if p.area > 0.35]
        small = [p for p in parts if p.area <= 0.35]
        return sorted(min(shapely.distance(dot, letter) for letter in big) for dot in small)

    row, _, done = on_arc("noto-naskh-arabic", "پریچهر گلستانی")
    scale = 4.5 / row.cap_units
    placed = [[p.transform(s.scale * scale, s.x * scale, s.y * scale) for p in s.shape.outline] for s in row.shapes]
    straight = [build_polygon_from_outline(outline, 0.001) for outline in placed]
    bent = gaps(areas(done))
    assert len(bent) == len(gaps(straight))
    assert bent == pytest.approx(gaps(straight), abs=0.12)


@pytest.mark.parametrize("at", ["top", "bottom"])
@pytest.mark.parametrize(("name", "text"), [("great-vibes", "minnow"), ("noto-naskh-arabic", "سلمى")])
def test_joined_letters_stay_joined(name, text, at):
    row, _, done = on_arc(name, text, at)
    assert len(done.pieces) == len(row.shapes)
    assert max(len(p.shape.glyphs) for p in done.pieces) == max(len(s.shape.glyphs) for s in row.shapes)


def test_each_letter_follows_the_arc():
    """A joined word bends: no letter's foot is farther from the arc than its own width implies."""
    _, placed, done = on_arc("great-vibes", "minnownminnow", radius=25.5)
    turns = [piece.turn for piece in placed.set_row.pieces]
    assert max(turns) - min(turns) > math.radians(40)
    feet = np.hypot(*(np.concatenate([p.build_outline()[0].points for p in done.pieces]) - MIDDLE).T)
    assert feet.min() > 25.5 - 1.2


def test_the_same_row_gives_the_same_key_and_another_size_another():
    one, two = (on_arc("great-vibes", "minnow")[2] for _ in range(2))
    assert [p.shape.key for p in one.pieces] == [p.shape.key for p in two.pieces]
    other = on_arc("great-vibes", "minnow", cap=5.0)[2]
    assert [p.shape.key for p in other.pieces] != [p.shape.key for p in one.pieces]
    assert all(p.shape.key.count(":") == 1 for p in one.pieces)


def test_single_line_letters_are_rotated_and_not_united():
    row, _, done = on_arc("hershey-scripts", "minnow")
    assert len(done.pieces) == len(row.shapes) == 6
    assert all(p.shape.single_line for p in done.pieces)


def test_an_empty_row():
    _, placed, done = on_arc("noto-sans", "   ")
    assert placed.hulls == () and done.pieces == ()


@pytest.mark.parametrize("at", ["top", "bottom"])
@pytest.mark.parametrize(("name", "text"), [("noto-sans", "LADY V"), ("cinzel", "Tala J"), ("great-vibes", "Fife")])
def test_a_row_extends_equally_to_both_sides_as_seen_from_the_centre(name, text, at):
    """Measured on the outline, not its hulls; L and V extend beyond the straight row at different heights."""
    _, placed, _ = on_arc(name, text, at)
    points = np.concatenate(
        [shapely.get_coordinates(build_polygon_from_outline(p.build_outline(), 0.0005)) for p in placed.set_row.pieces]
    )
    turned = (points[:, 0] - MIDDLE[0] + 1j * (points[:, 1] - MIDDLE[1])) * (-1j if at == "top" else 1j)
    angles = np.degrees(np.angle(turned))
    assert angles.min() + angles.max() == pytest.approx(0, abs=0.01)


def test_light_punctuation_hangs_outside_a_centred_row_on_an_arc():
    _, bare, _ = on_arc("noto-sans", "LADY")
    _, quoted, _ = on_arc("noto-sans", "“LADY")
    there, here = bare.set_row.pieces, quoted.set_row.pieces[1:]
    assert [p.turn for p in here] == pytest.approx([p.turn for p in there], abs=1e-9)
