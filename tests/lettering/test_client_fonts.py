"""Fonts as clients send them: variable, CFF2, compressed, with features; made here with fontTools, read by the
pipeline."""

from io import BytesIO

import pytest
from fontTools.fontBuilder import FontBuilder
from fontTools.misc.psCharStrings import T2CharString
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import TTFont
from fontTools.ttLib.tables.TupleVariation import TupleVariation

from pipeline.core.errors import CannotRun
from pipeline.geometry.flatten import outline_area, outline_box
from pipeline.lettering.font_face import open_face
from pipeline.lettering.shaping import shape_row


def started(is_ttf: bool) -> FontBuilder:
    font = FontBuilder(1000, isTTF=is_ttf)
    font.setupGlyphOrder([".notdef", "H", "I"])
    font.setupCharacterMap({0x48: "H", 0x49: "I"})
    return font


def finished(font: FontBuilder) -> bytes:
    font.setupHorizontalHeader(ascent=800, descent=-200)
    font.setupNameTable({"familyName": "Client Serif", "styleName": "Regular"})
    font.setupOS2()
    font.setupPost()
    out = BytesIO()
    font.save(out)
    return out.getvalue()


def bar(width, height=700):
    pen = TTGlyphPen(None)
    for i, point in enumerate(((50, 0), (50, height), (50 + width, height), (50 + width, 0))):
        (pen.lineTo if i else pen.moveTo)(point)
    pen.closePath()
    return pen.glyph()


@pytest.fixture(scope="module")
def variable() -> bytes:
    """Build a bar 100 wide at wght 400, 300 wide at 900, with an advance from 200 to 400."""
    font = started(True)
    font.setupGlyf({name: bar(100) for name in (".notdef", "H", "I")})
    font.setupHorizontalMetrics(dict.fromkeys((".notdef", "H", "I"), (200, 50)))
    font.setupNameTable({"familyName": "Client Serif", "styleName": "Regular"})
    font.setupFvar([("wght", 400, 400, 900, "Weight"), ("wdth", 75, 100, 100, "Width")], [])
    grow = {"wght": (0.0, 1.0, 1.0)}
    deltas = [(0, 0), (0, 0), (200, 0), (200, 0), (0, 0), (200, 0), (0, 0), (0, 0)]
    font.setupGvar({name: [TupleVariation(grow, deltas)] for name in ("H", "I")})
    return finished(font)


@pytest.fixture(scope="module")
def cff2() -> bytes:
    """The same as CFF2: cubic outlines with a blend."""
    font = started(False)
    font.setupHorizontalMetrics(dict.fromkeys((".notdef", "H", "I"), (200, 50)))
    font.setupNameTable({"familyName": "Client Serif", "styleName": "Regular"})
    font.setupFvar([("wght", 400, 400, 900, "Weight")], [])
    program = [50, 0, "rmoveto", 100, 200, 1, "blend", "hlineto", 700, "vlineto", -100, -200, 1, "blend", "hlineto"]
    strings = {name: T2CharString(program=list(program)) for name in (".notdef", "H", "I")}
    font.setupCFF2(strings, regions=[{"wght": (0, 1, 1)}])
    return finished(font)


def test_axes_are_set_on_outline_and_advance(tmp_path, variable):
    (tmp_path / "v.ttf").write_bytes(variable)
    plain = open_face("v.ttf", tmp_path)
    heavy = open_face("v.ttf", tmp_path, axes={"wght": 900.0})
    middle = open_face("v.ttf", tmp_path, axes={"wght": 650.0})
    areas = [outline_area(shape_row([f], "I").shapes[0].shape.outline) for f in (plain, middle, heavy)]
    assert areas == [70_000, 140_000, 210_000]
    assert [shape_row([f], "II").advance for f in (plain, middle, heavy)] == [400, 600, 800]
    assert len({f.identity for f in (plain, middle, heavy)}) == 3
    assert plain.identity != heavy.identity and plain.outlines_key != heavy.outlines_key


def test_axes_are_refused_outside_their_range_or_by_a_wrong_name(tmp_path, variable):
    (tmp_path / "v.ttf").write_bytes(variable)
    with pytest.raises(CannotRun, match="wght = 950 is outside the face's range; expected wght 400 to 900"):
        open_face("v.ttf", tmp_path, axes={"wght": 950.0})
    with pytest.raises(CannotRun, match="no axis “opsz”"):
        open_face("v.ttf", tmp_path, axes={"opsz": 12.0})


def test_cubic_outlines_with_axes(tmp_path, cff2):
    (tmp_path / "c.otf").write_bytes(cff2)
    plain = open_face("c.otf", tmp_path)
    heavy = open_face("c.otf", tmp_path, axes={"wght": 900.0})
    assert outline_box(shape_row([plain], "I").shapes[0].shape.outline) == (50, 0, 150, 700)
    assert outline_box(shape_row([heavy], "I").shapes[0].shape.outline) == (50, 0, 350, 700)
    assert heavy.cap_units == 700


@pytest.mark.parametrize("flavour", ["woff", "woff2"])
def test_compressed_variable_fonts_keep_their_axes(tmp_path, variable, flavour):
    font = TTFont(BytesIO(variable))
    font.flavor = flavour
    font.save(tmp_path / f"v.{flavour}")
    heavy = open_face(f"v.{flavour}", tmp_path, axes={"wght": 900.0})
    assert outline_area(shape_row([heavy], "I").shapes[0].shape.outline) == 210_000


def test_small_capitals_and_figures_come_from_the_typeface(face, shelf):
    """Real small capitals: lower than capitals, and not just scaled (their stems aren't thinner by as much)."""
    garamond = face("eb-garamond")
    capital = shape_row([garamond], "H").shapes[0].shape
    small = shape_row([garamond], "h", features={"smcp": True}).shapes[0].shape
    ratio = outline_box(small.outline)[3] / outline_box(capital.outline)[3]
    assert 0.55 < ratio < 0.8
    assert outline_area(small.outline) > outline_area(capital.outline) * ratio**2 * 1.05
    old = shape_row([garamond], "1893", features={"onum": True})
    lining = shape_row([garamond], "1893", features={"lnum": True})
    assert old.ink[1] < -100 < lining.ink[1]  # old-style 3 and 9 hang below the line


def test_features_of_the_face_and_of_the_row_add_up(shelf):
    small = open_face("eb-garamond", shelf=shelf, features={"smcp": True})
    row = shape_row([small], "Ida 1893", features={"onum": True})
    assert [u.name for s in row.shapes for u in s.shape.glyphs][1] != "d"
    assert row.ink[1] < -100
