"""Single-line typefaces: the data is read correctly, the promised alphabets are complete, curves are smooth."""

import math
from itertools import pairwise
from unicodedata import normalize

import numpy as np
import pytest

from pipeline.core.errors import CannotRun
from pipeline.geometry.flatten import flatten
from pipeline.job import prepare
from pipeline.lettering.font_face import Shelf, open_face
from pipeline.lettering.shaping import shape_row
from pipeline.lettering.single_line.drawn_marks import MARKS
from pipeline.lettering.single_line.jhf_file import CAP, draw_circle, is_dot, read_jhf, smooth_stroke
from pipeline.lettering.single_line.svg_font import read_svg_font
from pipeline.order_inputs import read_inputs
from tests.order_keys import BASE, changed, write_folder

LATIN_FACES = ["hershey-futural", "hershey-scripts", "ems-readability"]
LATIN_1 = [chr(c) for c in (*range(0x20, 0x7F), *range(0xA0, 0x100)) if c != 0xAD]
EXTENDED_A = [chr(c) for c in range(0x100, 0x180)]
# The Vietnamese alphabet with its tones (Unicode block Latin Extended Additional, U+1EA0..U+1EF9, and ƠơƯư).
VIETNAMESE = [chr(c) for c in range(0x1EA0, 0x1EFA)] + list("ƠơƯư")
OTHERS = list("ƏəẞȘșȚț‘’“”„–—…•†€ʻʼ")
GREEK = list("ΑΒΓΔΕΖΗΘΙΚΛΜΝΞΟΠΡΣΤΥΦΧΨΩαβγδεζηθικλμνξοπρςστυφχψωΆΈΉΊΌΎΏΪΫΐάέήίΰϊϋόύώ")


@pytest.mark.parametrize("name", LATIN_FACES)
def test_latin_1_extended_a_and_vietnamese_are_complete(face, name):
    opened = face(name)
    missing = [c for c in LATIN_1 + EXTENDED_A + VIETNAMESE + OTHERS if not opened.covers(c)]
    assert missing == []
    row = shape_row([opened], "".join(LATIN_1 + EXTENDED_A + VIETNAMESE + OTHERS))
    assert row.missing == ()
    drawn = {use.text for s in row.shapes for use in s.shape.glyphs}
    assert drawn == {*LATIN_1, *EXTENDED_A, *VIETNAMESE, *OTHERS} - {" ", "\u00a0"}


def test_greek_is_complete_and_has_no_latin_stand_ins(face):
    greeks = face("hershey-greeks")
    assert [c for c in GREEK if not greeks.covers(c)] == []
    assert greeks.list_missing("AΩa1") == ("A", "a")


def test_seventeen_marks_are_drawn():
    assert len(MARKS - {"\u0312"}) == 17  # the turned comma of ģ is the cedilla's other form


@pytest.mark.parametrize("name", LATIN_FACES)
def test_an_accented_letter_is_its_letter_with_a_mark(face, name):
    opened = face(name)
    for composed, base in (("é", "e"), ("Š", "S"), ("ę", "e"), ("ộ", "o"), ("ğ", "g"), ("Ű", "U")):
        a, b = (shape_row([opened], t).shapes[0].shape for t in (composed, base))
        assert len(a.outline) > len(b.outline)
        for p, q in zip(a.outline, b.outline, strict=False):
            assert (p.points == q.points).all()
        assert shape_row([opened], composed).advance == shape_row([opened], base).advance
        both = shape_row([opened], normalize("NFD", composed))
        assert [s.shape.key for s in both.shapes] == [s.shape.key for s in shape_row([opened], composed).shapes]


def test_marks_keep_clear_of_their_letters(face):
    """Marks above are over the letter and those below hang under it, except where they are attached."""
    import shapely

    futural = face("hershey-futural")
    for c in "ÀÉÎÕÜÅŐČĞĪŻẢẠẸỌéîõüåőčğīżảạẹọňŗșṇ":
        if not futural.covers(c):
            continue
        base = normalize("NFD", c)[0]
        letter = shape_row([futural], "ı" if base == "i" else base).shapes[0].shape.outline
        whole = shape_row([futural], c).shapes[0].shape.outline
        mark = [shapely.LineString(r) for r in flatten(whole[len(letter) :], 1.0) if len(r) > 1]
        ink = [shapely.LineString(r) for r in flatten(letter, 1.0) if len(r) > 1]
        gap = min(shapely.distance(a, b) for a in mark for b in ink)
        assert gap >= 1.0 * 32, c  # a grid step: a twentieth of the cap height


def test_a_missing_character_is_a_finding_not_a_gap(face):
    row = shape_row([face("hershey-futural")], "Ida Жанна")
    assert row.missing == ("Ж", "а", "н")
    assert "".join(u.text for s in row.shapes for u in s.shape.glyphs) == "Ida"


def test_cap_height_and_advance_come_from_the_file(face):
    """H of the file: bearings -11 and 11, from F (-12) to [ (+9): 21 steps high (the .jhf data itself)."""
    futural = face("hershey-futural")
    row = shape_row([futural], "H")
    assert futural.cap_units == 21 * 32
    assert row.advance == 22 * 32
    assert row.ink[1] == 0 and row.ink[3] == futural.cap_units
    assert row.shapes[0].shape.single_line


@pytest.mark.parametrize("name", [n for n in Shelf().names if n.startswith("hershey")])
def test_smoothing_stays_near_the_published_points(shelf, name):
    """Every published vertex is within .46 of a grid step of the smoothed stroke (2.2 % of the cap height: half the
    grid's own rounding), and ends of strokes don't move."""
    import shapely

    for glyph in read_jhf(shelf[name].read().decode("ascii"))[:95]:
        for stroke in glyph.strokes:
            path = smooth_stroke(stroke)
            if is_dot(stroke) or len(path.points) < 2:
                continue
            ring = flatten(path, 0.01)[0]
            line = shapely.LineString(np.vstack((ring, ring[:1])) if path.closed else ring)
            far = shapely.distance(shapely.points(stroke), line).max()
            assert far <= 0.46
            if not path.closed:
                assert (path.points[0] == stroke[0]).all() and (path.points[-1] == stroke[-1]).all()


def test_an_svg_font_is_read_by_its_own_units():
    """The letters are on the measured baseline, H is as high as the capitals; curves become lines."""
    font = (
        '<svg xmlns="http://www.w3.org/2000/svg"><font horiz-adv-x="500"><glyph unicode="H" horiz-adv-x="600" '
        'd="M 100 20 L 100 720 M 100 370 L 500 370 M 500 720 L 500 2e1"/><glyph unicode="ffi" horiz-adv-x="1"/>'
        '<glyph unicode="C" horiz-adv-x="300" d="M 0 20 C 0 300, 100 720, 300 720"/></font></svg>'
    )
    letters = read_svg_font(font.encode(), baseline=20, cap_height=700)
    assert set(letters) == {"H", "C"}
    h = letters["H"]
    assert [len(s) for s in h.strokes] == [2, 2, 2] and (h.left, h.right) == (0, 600 * CAP / 700)
    assert h.points[:, 1].min() == 0 and h.points[:, 1].max() == pytest.approx(CAP)
    (curve,) = letters["C"].strokes
    assert curve[-1] == pytest.approx([300 * CAP / 700, CAP]) and len(curve) > 4


@pytest.mark.parametrize("path", ["H 3", "L 3 4", "M 1 2 L 3 Q 4"])
def test_a_damaged_svg_font_is_reported(path):
    font = f'<svg xmlns="http://www.w3.org/2000/svg"><glyph unicode="H" horiz-adv-x="9" d="{path}"/></svg>'
    with pytest.raises(ValueError, match="glyph 'H'"):
        read_svg_font(font.encode(), baseline=0, cap_height=700)
    with pytest.raises(ValueError, match=r"mismatched|not well-formed"):
        read_svg_font(b"<svg><glyph></svg>", baseline=0, cap_height=700)


def facets(path) -> float:
    """Return the sharpest turn (degrees) between neighbouring curves of a path without corners."""
    segments = path.list_segments()
    turns = []
    for a, b in pairwise(segments):
        u, v = a[-1] - a[-2], b[1] - b[0]
        turns.append(abs(math.degrees(math.atan2(float(u[0] * v[1] - u[1] * v[0]), float(u @ v)))))
    return max(turns, default=0.0)


def test_curves_show_no_facets(shelf):
    """The letter O of the published data is a polygon with turns of 15° and more; smoothed it has none over 1°."""
    glyph = read_jhf(shelf["hershey-futural"].read().decode("ascii"))[ord("O") - 32]
    (stroke,) = glyph.strokes
    path = smooth_stroke(stroke)
    assert path.closed
    assert facets(path) < 1.0


def test_smoothing_keeps_corners_and_straight_lines(shelf):
    glyphs = read_jhf(shelf["hershey-futural"].read().decode("ascii"))
    for letter in "AEHMNVWXZ":
        for stroke in glyphs[ord(letter) - 32].strokes:
            path = smooth_stroke(stroke)
            assert set(path.degrees) == {1}
            assert (path.points == stroke).all()


def test_a_dot_is_a_circle():
    lozenge = np.array([(1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0), (1.0, 0.0)])
    assert is_dot(lozenge)
    ring = flatten(smooth_stroke(lozenge + (5, 7)), 0.001)[0]
    assert np.hypot(*(ring - (5, 7)).T) == pytest.approx(np.ones(len(ring)), rel=3e-4)


def test_circle_follows_its_radius():
    ring = flatten(draw_circle(0, 0, CAP), 0.001)[0]
    assert np.hypot(*ring.T) == pytest.approx(np.full(len(ring), CAP), rel=3e-4)


@pytest.mark.parametrize(
    ("line", "words"), [("12345  3JZRF", "the line says 3"), ("hello world", "not the start of a glyph")]
)
def test_a_damaged_file_names_its_line(line, words):
    with pytest.raises(ValueError, match="line 2") as problem:
        read_jhf("12345  1JZ\n" + line)
    assert words in str(problem.value)


def test_features_and_axes_are_refused(shelf):
    with pytest.raises(CannotRun, match="single-line face has no feature “smcp”"):
        open_face("hershey-futural", shelf=shelf, features={"smcp": True})
    with pytest.raises(CannotRun, match="single-line face has no axis “wght”"):
        open_face("hershey-futural", shelf=shelf, axes={"wght": 400.0})


def test_strokes_are_not_united(face):
    row = shape_row([face("hershey-scripts")], "minnow")
    assert all(len(s.shape.glyphs) == 1 for s in row.shapes)
    assert row.tracking == shape_row([face("hershey-scripts")], "minnow", tracking=50).tracking == 0
    assert shape_row([face("hershey-futural")], "minnow", tracking=50).tracking == 50


@pytest.mark.parametrize("name", ["hershey-futural", "hershey-scripts", "hershey-cursive"])
def test_a_hyphen_is_shorter_than_an_en_dash_and_that_than_an_em_dash(face, name):
    """The file's sign in the place of "-" is a minus; between the parts of a name it would look like a dash."""
    opened = face(name)
    wide = {}
    for sign in "-‐–—−":
        ink = shape_row([opened], sign).ink
        wide[sign] = (ink[2] - ink[0]) / opened.cap_units
    assert wide["-"] == wide["‐"] < 0.45 < wide["–"] < wide["—"]
    assert wide["−"] > wide["–"]


def test_a_v_bit_is_refused_letters_without_a_width(tmp_path):
    """Its depth follows from a stroke's width, and there is none; an end mill as wide as the line, at a fixed depth,
    works."""
    face = [("line.0.face", "hershey-futural"), ("line.1.also", ["hershey-greeks"])]
    order = write_folder(tmp_path / "order", changed(BASE, face))
    inputs = read_inputs(order)
    with pytest.raises(CannotRun) as refused:
        prepare(inputs.folder, inputs.blank, inputs.cache)
    assert [f.where for f in refused.value.faults] == [
        "order.toml: [[line]] no. 1, face",
        "order.toml: [[line]] no. 2, also",
    ]
    assert [("one depth" in f.remedy) for f in refused.value.faults] == [False, True]  # said once
    mill = [("cutter", {"kind": "end-mill", "diameter": 0.8}), ("limits", {"deepest": 0.4}), ("files", {})]
    order = write_folder(tmp_path / "mill", changed(BASE, [*face, *mill]))
    inputs = read_inputs(order)
    assert prepare(inputs.folder, inputs.blank, inputs.cache).cutter.kind == "end-mill"


@pytest.mark.parametrize(("use", "told"), [("point", ["face.hollow"]), ("laser-fine", [])])
def test_letters_that_a_point_leaves_hollow_are_reported_since_the_proof_shows_them_solid(tmp_path, use, told):
    face = [("line.0.face", "hershey-futural"), ("line.1.face", "noto-sans"), ("cutter", {"use": use}), ("files", {})]
    inputs = read_inputs(write_folder(tmp_path / "order", changed(BASE, face)))
    job = prepare(inputs.folder, inputs.blank, inputs.cache)
    assert [f.code for f in job.findings if f.code.startswith("face.")] == told
