"""Likeness: a sibling of a typeface and a picture of it identify it; each measure follows what it measures."""

import math
from pathlib import Path

import freetype
import numpy as np
import pytest
import shapely
from PIL import Image, ImageFilter

from pipeline.core.errors import CannotRun
from pipeline.lettering.font_face import open_face
from pipeline.lettering.matching.likeness import (
    Likeness,
    MeasuredLetters,
    choose_letters_to_compare,
    compare_faces,
    compute_overlap,
    compute_row_ink,
    describe_likeness,
    judge_ranking,
    measure_letters,
    place_with_ties,
)
from pipeline.lettering.matching.picture import compare_line, read_picture
from pipeline.lettering.matching.raster import draw_region, fill_rings, measure_thickness
from pipeline.lettering.shaping import shape_row

pytestmark = pytest.mark.xdist_group("likeness")  # the letters of the shelf are measured once
SIBLINGS = Path(__file__).parents[2] / "reference" / "siblings"
UNLIKE = ("eb-garamond", "noto-sans", "great-vibes", "cinzel", "noto-naskh-arabic", "droid-sans-fallback")
"""Of the shelf's outline faces one of each kind."""


@pytest.fixture(scope="module")
def shelf_letters(face, shelf):
    """name, letters -> a shelf typeface's letters, made once."""
    made = {}

    def letters(name, wanted):
        if (name, wanted) not in made:
            made[name, wanted] = measure_letters(face(name), wanted)
        return made[name, wanted]

    return letters


RIVALS = [*UNLIKE, "hershey-futural"]
"""Faces that each wanted face has beside itself; `python -m tests.long.like_shelf` takes the whole shelf."""
ITALICS = ("bodoni-moda-italic", "montserrat-italic")
BOLDS = ("eb-garamond-bold", "oswald-bold", "frank-ruhl-libre-bold", "noto-naskh-arabic-bold")
"""Siblings of each kind and script; `python -m tests.long.like_shelf` takes all."""


def ranked(own, shelf_letters, wanted, letters):
    names = sorted({own, *RIVALS})
    found = [compare_faces(name, wanted, shelf_letters(name, letters)) for name in names]
    return sorted(found, key=lambda r: (-r.likeness, r.name))


@pytest.mark.parametrize("cut", (*BOLDS, *ITALICS))
def test_a_sibling_identifies_its_typeface(shelf_letters, cut):
    """Bold and italic cuts of faces of the shelf, published by their makers (tests/reference/siblings)."""
    sibling = open_face(f"{cut}.ttf", SIBLINGS)
    letters = choose_letters_to_compare(sibling)
    own = cut.rsplit("-", 1)[0]
    found = ranked(own, shelf_letters, measure_letters(sibling, letters), letters)
    assert found[0].name == own
    if cut.endswith("bold"):
        assert found[0].stroke < 0.8  # and it reports that the sibling is bolder
    else:
        assert measure_letters(sibling, letters).slant > math.radians(8)  # and that it is slanted


@pytest.mark.parametrize("name", ("eb-garamond", "noto-naskh-arabic", "droid-sans-fallback"))
def test_a_face_is_most_like_itself(face, shelf_letters, name):
    letters = choose_letters_to_compare(face(name))
    found = ranked(name, shelf_letters, measure_letters(face(name), letters), letters)
    assert found[0].name == name
    assert found[0].likeness == pytest.approx(1.0, abs=1e-6)
    assert judge_ranking(found).startswith(("sure", "fairly sure"))


def picture_of(face, path, text, *, cap=8.0, dpi=300, tilt=1.3, noise=18.0, inverted=False):
    """Draw a line as a scanner might see it, rendered by FreeType: tilted, blurred, noisy."""
    row = shape_row([face], text)
    font = freetype.Face(str(face.shelf_face.path))
    size = round(cap / 25.4 * dpi * face.units_per_em / face.cap_units)
    font.set_pixel_sizes(size, size)
    scale = size / face.units_per_em
    canvas = np.zeros((size * 3, int(row.advance * scale) + 200), np.uint8)
    for placed in row.shapes:
        for use in placed.shape.glyphs:
            x = round((placed.x + use.dx) * scale * 64) + 6400
            place = freetype.Vector(x, round((placed.y + use.dy) * scale * 64))
            font.set_transform(freetype.Matrix(0x10000, 0, 0, 0x10000), place)
            font.load_glyph(use.glyph, freetype.FT_LOAD_NO_HINTING | freetype.FT_LOAD_NO_BITMAP)
            font.glyph.render(freetype.FT_RENDER_MODE_NORMAL)
            bitmap = font.glyph.bitmap
            if bitmap.rows:
                grey = np.array(bitmap.buffer, np.uint8).reshape(bitmap.rows, bitmap.pitch)[:, : bitmap.width]
                top, left = 2 * size - font.glyph.bitmap_top, font.glyph.bitmap_left
                part = canvas[top : top + bitmap.rows, left : left + bitmap.width]
                np.maximum(part, grey, out=part)
    image = Image.fromarray(canvas if inverted else 255 - canvas)
    image = image.rotate(tilt, resample=Image.Resampling.BICUBIC, fillcolor=0 if inverted else 255, expand=True)
    image = image.filter(ImageFilter.GaussianBlur(1.0))
    dirt = np.random.default_rng(7).normal(0, noise, (image.height, image.width)) if noise else 0.0
    Image.fromarray(np.clip(np.asarray(image) + dirt, 0, 255).astype(np.uint8)).save(path)


@pytest.mark.parametrize("name", ("eb-garamond", "great-vibes", "noto-naskh-arabic", "droid-sans-fallback"))
def test_a_picture_identifies_its_typeface(face, tmp_path, name):
    """A 300 dpi picture of a line of 8 mm letters, rendered by FreeType, tilted and dirty."""
    text = "高橋美咲渡邉" if name == "droid-sans-fallback" else "Agnes Tuckwell & Raymond"
    picture_of(face(name), tmp_path / "scan.png", text)
    picture = read_picture(tmp_path / "scan.png")
    assert picture.tilt == pytest.approx(math.radians(1.3), abs=math.radians(0.3))
    found = sorted((compare_line(n, picture, face(n), text) for n in RIVALS), key=lambda r: -r.likeness)
    assert found[0].name == name
    assert found[0].width == pytest.approx(1.0, abs=0.03)
    assert judge_ranking(found, picture.pixels).startswith(("sure", "fairly sure"))


def test_light_lettering_on_a_dark_ground(face, tmp_path):
    picture_of(face("oswald"), tmp_path / "scan.png", "Ida Vex", inverted=True)
    picture = read_picture(tmp_path / "scan.png")
    found = sorted(
        (compare_line(n, picture, face(n), "Ida Vex") for n in {*RIVALS, "oswald"}), key=lambda r: -r.likeness
    )
    assert found[0].name == "oswald"


def test_a_coarse_picture_is_reported_as_coarse(face, tmp_path):
    picture_of(face("oswald"), tmp_path / "scan.png", "Ida Vex", cap=1.2, noise=0)
    picture = read_picture(tmp_path / "scan.png")
    assert "coarse" in judge_ranking([], picture.pixels)


def test_pictures_that_cannot_be_used(tmp_path):
    (tmp_path / "a.png").write_bytes(b"not a picture")
    with pytest.raises(CannotRun, match="cannot be read as a picture"):
        read_picture(tmp_path / "a.png")
    Image.new("L", (200, 60), 250).save(tmp_path / "b.png")
    with pytest.raises(CannotRun, match="no lettering"):
        read_picture(tmp_path / "b.png")


# --- the measures ---------------------------------------------------------------------------------------------------


def found(name, likeness, **measures):
    return Likeness(name=name, likeness=likeness, lacking=(), **{**EQUAL, **measures})


EQUAL = {"overlap": 0.9, "width": 1.0, "stroke": 1.0, "contrast": 1.0}


def test_near_ties_share_a_rank():
    """They are less than .015 behind the first: the lead below which the first isn't certain."""
    ranking = [found("a", 0.90), found("b", 0.89), found("c", 0.886), found("d", 0.88), found("e", 0.70)]
    assert place_with_ties(ranking) == [1, 1, 1, 4, 5]
    assert place_with_ties([]) == []


def test_a_ranking_says_why():
    assert describe_likeness(found("a", 0.9)) == "letters nearly the same, as wide, as bold, as much contrast"
    said = describe_likeness(found("b", 0.7, overlap=0.65, width=1.31, stroke=0.6, contrast=2.0))
    assert said == "letters somewhat alike, 31 % wider, 40 % lighter, less contrast"
    assert describe_likeness(found("c", 0.5, overlap=0.2, width=0.8, contrast=0.5)).startswith(
        "other letters, 20 % narr"
    )


def letters(**regions):
    return MeasuredLetters(regions)


BAR = shapely.box(0, 0, 0.2, 1)


def test_ratios_follow_width_and_thickness():
    wanted = letters(I=BAR, L=shapely.union_all([BAR, shapely.box(0, 0, 0.6, 0.2)]))
    wide = letters(**{k: shapely.transform(r, lambda p: p * (2, 1)) for k, r in wanted.regions.items()})
    got = compare_faces("wide", wanted, wide)
    assert got.width == pytest.approx(2.0, rel=0.02)
    same = compare_faces("same", wanted, wanted)
    assert (same.overlap, same.width, same.stroke, same.contrast) == (1, 1, 1, 1)
    assert got.likeness < same.likeness == pytest.approx(1)
    nothing = compare_faces("none", wanted, letters(X=BAR))
    assert nothing.likeness == 0 and nothing.lacking == ("I", "L")


def test_overlap_depends_on_shape_alone():
    bar = shapely.box(0, 0, 0.2, 1)
    assert compute_overlap(bar, shapely.box(5, 0, 5.2, 1), 0.0) == 1.0  # position doesn't count
    assert compute_overlap(bar, shapely.box(0.03, 0.03, 0.17, 0.97), 0.03) > 0.97  # widened to the same thickness
    half = compute_overlap(bar, shapely.box(0, 0, 0.2, 0.5), 0.0)
    assert half == pytest.approx(0.5, abs=0.02)


def test_bitmaps_fill_what_is_inside():
    ring = np.array([(1.0, 1.0), (5.0, 1.0), (5.0, 4.0), (1.0, 4.0)])
    bitmap = fill_rings([ring], 0, 0, 6, 5)
    assert bitmap.sum() == 12
    assert bitmap[1:4, 1:5].all()
    hole = ring * 0.5 + 1.5
    assert fill_rings([ring, hole[::-1]], 0, 0, 6, 5).sum() == 12 - fill_rings([hole], 0, 0, 6, 5).sum()


def test_the_bitmap_has_the_area_of_the_region(face):
    region = compute_row_ink(face("eb-garamond"), shape_row([face("eb-garamond")], "Agnes & Quill"))
    assert draw_region(region, 200).sum() / 200**2 == pytest.approx(region.area, rel=0.01)


@pytest.mark.parametrize("angle", [0, 45, 90])
def test_thickness_of_a_bar_at_any_right_angle(angle):
    bar = shapely.affinity.rotate(shapely.box(0, 0, 6.0, 0.1), angle)  # its ends count little
    found = measure_thickness(draw_region(bar, 100))
    assert found.middle == pytest.approx(10, rel=0.1)
    assert found.contrast > 0.85


def test_contrast_tells_a_didone_from_a_sans(face):
    thin, even = (measure_letters(face(n), tuple("HEOnab")).thickness[1] for n in ("bodoni-moda", "montserrat"))
    assert thin < 0.4
    assert even > 0.6
