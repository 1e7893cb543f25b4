"""Setting a row: kerning, tracking, ligatures, directions, fallback, touching letters."""

import random

import pytest
from fontTools.ttLib import TTFont

from pipeline.geometry.flatten import outline_area, outline_box, path_area
from pipeline.geometry.regions import build_polygon_from_outline
from pipeline.lettering.shaping import shape_row
from pipeline.lettering.text_runs import itemise


def letters(row) -> str:
    return "".join(use.text for placed in row.shapes for use in placed.shape.glyphs)


def test_an_empty_row_and_a_row_of_spaces(face):
    for text in ("", "   "):
        row = shape_row([face("noto-sans")], text)
        assert row.shapes == () and row.ink is None and row.missing == ()


def test_ink_is_the_box_of_the_placed_outlines(face):
    row = shape_row([face("eb-garamond")], "Józef Quill")
    boxes = [outline_box([p.transform(s.scale, s.x, s.y) for p in s.shape.outline]) for s in row.shapes]
    x0, y0, x1, y1 = zip(*boxes, strict=True)
    assert row.ink == pytest.approx((min(x0), min(y0), max(x1), max(y1)), abs=1e-9)


def test_tracking_goes_between_letters_and_takes_ligatures_apart(face):
    garamond = face("eb-garamond")
    plain, wide, none = (shape_row([garamond], "office", tracking=t) for t in (0, 50, 0))
    assert plain is none  # a row is shaped once
    assert any("f" in u.text and len(u.text) > 1 for s in plain.shapes for u in s.shape.glyphs)
    loose = shape_row([garamond], "office", features={"liga": False})
    assert wide.advance == pytest.approx(loose.advance + 5 * 50 * 1000 / 1000)
    assert wide.tracking == 50
    assert letters(wide) == "office"


def test_tracking_counts_thousandths_of_an_em_in_any_font_unit(face):
    slab = face("roboto-slab")  # 2048 units per em
    apart = shape_row([slab], "HH", tracking=-20).advance - shape_row([slab], "HH").advance
    assert apart == pytest.approx(-20 * 2048 / 1000)


@pytest.mark.parametrize(
    ("name", "text"),
    [("great-vibes", "Ida Vex"), ("noto-naskh-arabic", "عمر خيام"), ("noto-sans", "अनिल")],
)
def test_joining_letters_never_get_tracking(face, name, text):
    row = shape_row([face(name)], text, tracking=-30)
    assert row.tracking == 0
    assert row.advance == shape_row([face(name)], text).advance


def test_latin_in_an_arabic_face_may_get_tracking(face):
    assert shape_row([face("noto-naskh-arabic")], "Ida", tracking=40).tracking == 40


@pytest.mark.parametrize("language", ["tr", "az", "crh", "tr-TR", "TR"])
@pytest.mark.parametrize("name", ["gfs-didot", "roboto-slab", "noto-sans", "eb-garamond"])
def test_turkish_keeps_its_dots(face, name, language):
    row = shape_row([face(name)], "Refika fiğ", language=language)
    assert all(len(use.text) == 1 for s in row.shapes for use in s.shape.glyphs)


def test_a_ligature_is_used_where_the_language_has_no_dotless_i(face):
    row = shape_row([face("gfs-didot")], "Refika", language="de")
    assert any(use.text == "fi" for s in row.shapes for use in s.shape.glyphs)


def test_missing_characters_are_named_whole_and_the_rest_is_set(face):
    row = shape_row([face("cinzel")], "Kealiʻi Ỷ 高")
    assert row.missing == ("ʻ", "Ỷ", "高")
    assert letters(row).replace(" ", "") == "Kealii"


def test_a_mark_without_a_base_is_missing_and_gets_no_dotted_circle(face):
    row = shape_row([face("noto-sans")], "\u0301\u0901Ida")
    assert "◌" not in letters(row)
    circle = face("noto-sans").font.get_nominal_glyph(0x25CC)
    assert all(use.glyph != circle for s in row.shapes for use in s.shape.glyphs)


@pytest.mark.parametrize("text", ["a\u0000b", "a\nb", "a\ud800b", "\ue000", "\U000f0000"])
def test_invisible_and_unassigned_characters_are_missing(face, text):
    row = shape_row([face("eb-garamond")], text)
    assert len(row.missing) == 1 and row.missing[0] in text


@pytest.mark.parametrize("text", ["a\u200bb", "a\u200eb", "a\ufe0fb", "a\u00adb"])
def test_default_ignorable_characters_draw_nothing_and_take_no_room(face, text):
    row, plain = shape_row([face("eb-garamond")], text), shape_row([face("eb-garamond")], "ab")
    assert row.missing == ()
    assert row.advance == pytest.approx(plain.advance, abs=20)  # it may break a kerning pair, but takes no room
    assert len(row.shapes) == len(plain.shapes)


def test_only_named_faces_stand_in(face):
    garamond, droid = face("eb-garamond"), face("droid-sans-fallback")
    assert shape_row([garamond], "Ida 高橋").missing == ("高", "橋")
    row = shape_row([garamond, droid], "Ida 高橋")
    assert row.missing == ()
    kanji = [s for s in row.shapes if s.shape.glyphs[0].text in "高橋"]
    assert len(kanji) == 2
    for placed in kanji:  # at the line's cap height
        assert placed.scale * placed.shape.cap_units == pytest.approx(row.cap_units)
    pen = shape_row([garamond], "Ida ").advance
    assert kanji[0].x == pytest.approx(pen)


def test_arabic_letters_join_only_within_one_face(face):
    garamond, naskh = face("eb-garamond"), face("noto-naskh-arabic")
    row, alone = shape_row([garamond, naskh], "عمر"), shape_row([naskh], "عمر")
    assert [u.glyph for s in row.shapes for u in s.shape.glyphs] == [
        u.glyph for s in alone.shapes for u in s.shape.glyphs
    ]
    assert row.advance == pytest.approx(alone.advance * garamond.cap_units / naskh.cap_units)


def test_right_to_left_rows_read_from_the_right(face):
    row = shape_row([face("frank-ruhl-libre")], "אבג Ida 12")
    seen = [(s.x, s.shape.glyphs[0].text) for s in row.shapes]
    assert [t for _, t in sorted(seen)] == list("Ida12גבא")


def test_base_direction_can_be_given(face):
    text = "אבג Ida"
    by_first = shape_row([face("frank-ruhl-libre")], text)
    forced = shape_row([face("frank-ruhl-libre")], text, base="L")
    assert sorted((s.x, s.shape.glyphs[0].text) for s in by_first.shapes)[0][1] == "I"
    assert sorted((s.x, s.shape.glyphs[0].text) for s in forced.shapes)[0][1] == "ג"


def test_scripts_and_directions_make_runs():
    runs = itemise("Ida Жанна 高橋さん")
    assert [(r.script, r.right_to_left) for r in runs] == [
        ("Latn", False),
        ("Cyrl", False),
        ("Hani", False),
        ("Hira", False),
    ]
    assert [r.start for r in runs][1:] == [4, 10, 12]


# --- clusters -------------------------------------------------------------------------------------------------------


def test_letters_that_touch_become_one_shape(face):
    row = shape_row([face("great-vibes")], "Wilhelmina Quill")
    many = [s for s in row.shapes if len(s.shape.glyphs) > 1]
    assert many
    for placed in row.shapes:
        region = build_polygon_from_outline(placed.shape.outline, 0.2)
        assert region.is_valid
        assert outline_area(placed.shape.outline) == pytest.approx(region.area, rel=1e-3)


def test_no_two_shapes_of_a_row_touch(face):
    import shapely

    for name, text in (("great-vibes", "Agnes Tuckwell"), ("cinzel", "Raya Kalla"), ("noto-naskh-arabic", "الزهراوي")):
        row = shape_row([face(name)], text)
        parts = [
            build_polygon_from_outline([p.transform(s.scale, s.x, s.y) for p in s.shape.outline], 0.2)
            for s in row.shapes
        ]
        for i, a in enumerate(parts):
            for b in parts[i + 1 :]:
                assert shapely.distance(a, b) > 0


def test_the_ink_of_a_cluster_is_the_union_of_its_glyphs(face):
    import shapely

    vibes = face("great-vibes")
    row = shape_row([vibes], "minnow")
    (placed,) = [s for s in row.shapes if len(s.shape.glyphs) > 1]
    own = [
        build_polygon_from_outline([p.transform(1.0, u.dx, u.dy) for p in vibes.draw_glyph(u.glyph).outline], 0.05)
        for u in placed.shape.glyphs
    ]
    assert outline_area(placed.shape.outline) == pytest.approx(shapely.union_all(own).area, rel=2e-4)


def test_a_cluster_carries_its_parts(face):
    import shapely

    row = shape_row([face("great-vibes")], "minnow")
    (placed,) = [s for s in row.shapes if len(s.shape.glyphs) > 1]
    shape = placed.shape
    assert [p.glyphs[0].glyph for p in shape.parts] == [u.glyph for u in shape.glyphs]
    moved = [
        build_polygon_from_outline([c.transform(u.scale, u.dx, u.dy) for c in p.outline], 0.1)
        for p, u in zip(shape.parts, shape.glyphs, strict=True)
    ]
    assert shapely.union_all(moved).area == pytest.approx(outline_area(shape.outline), rel=5e-4)
    single = next(s.shape for s in shape_row([face("noto-sans")], "n").shapes)
    assert single.parts == ()


def test_equal_keys_mean_equal_curves_and_counters_stay(face):
    row = shape_row([face("noto-sans")], "boobook")
    by_key = {}
    for placed in row.shapes:
        by_key.setdefault(placed.shape.key, placed.shape)
        assert by_key[placed.shape.key].outline is placed.shape.outline
    o = next(s.shape for s in row.shapes if s.shape.glyphs[0].text == "o")
    assert sorted(path_area(p) > 0 for p in o.outline) == [False, True]


def test_earlier_settings_do_not_affect_a_row(shelf):
    from pipeline.lettering.font_face import open_face

    texts = ["Agnes", "Ида", "Ida Vex", "Quill, Ag", "Fife office", "ΑΓ AT", "Tuckwell"]
    seen = []
    for seed in (1, 2):
        one = open_face("noto-sans", shelf=shelf)
        order = texts[:]
        random.Random(seed).shuffle(order)
        rows = {t: shape_row([one], t) for t in order}
        seen.append([[(s.shape.key, s.x, s.shape.glyphs) for s in rows[t].shapes] for t in texts])
    assert seen[0] == seen[1]


# --- every glyph of a face ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "name",
    [
        "cinzel",
        "eb-garamond",
        "bodoni-moda",
        "gfs-didot",
        "noto-sans",
        "montserrat",
        "oswald",
        "great-vibes",
        "roboto-slab",
        "frank-ruhl-libre",
    ],
)
def test_united_basic_letters_are_valid(face, name):
    opened = face(name)
    for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789&ÅéñøßŁ":
        glyph = opened.font.get_nominal_glyph(ord(letter))
        drawn = opened.draw_glyph(glyph)
        assert drawn.outline, letter
        region = build_polygon_from_outline(drawn.outline, 0.1)
        assert outline_area(drawn.outline) == pytest.approx(region.area, rel=2e-3), letter
        outer = [p for p in drawn.outline if path_area(p) > 0]
        assert outer and len(outer) + len([p for p in drawn.outline if path_area(p) < 0]) == len(drawn.outline)


def test_united_outlines_have_no_overlaps(shelf, face):
    """Cinzel's letters are drawn from overlapping strokes; once united they must not overlap any more."""
    font = TTFont(shelf["cinzel"].path)
    raw = font["glyf"]["A"].numberOfContours
    drawn = face("cinzel").draw_glyph(font.getGlyphID("A"))
    assert len(drawn.outline) == 2 < raw
