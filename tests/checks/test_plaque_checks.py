"""Strokes, land, grooves and reading distance of set lines: what is found, where, and that values just inside a limit
pass."""

import math
from dataclasses import replace

import pytest
import shapely

from pipeline.checks.glyph_metrics import GlyphMetrics
from pipeline.checks.legibility import compute_ada_height
from pipeline.checks.plaque_checks import CHECKS, check_all
from pipeline.core.catalogue import format_message, format_remedy
from pipeline.core.config.order import CutterConfig, FinishConfig, LimitsConfig, ReadingConfig
from pipeline.core.findings import Severity
from pipeline.core.measured_values import GROOVE_DEPTH, LAND, STROKE, STROKE_AFTER_SANDING
from pipeline.core.storage import cache_key
from pipeline.core.storage.cache import Cache
from pipeline.cutting.cutters import resolve_cutter
from pipeline.geometry.medial import narrow_places
from pipeline.geometry.medial.narrow_places import find_narrow_places
from pipeline.geometry.regions import build_polygon_from_outline
from tests.checks.setting import artwork, blank, face, order, rectangle, set_line

MEASURES = GlyphMetrics()


def check(*lines, here=None, **parts):
    made = order(**parts)
    cutter, limits = resolve_cutter(made, 19.0)
    done = check_all(artwork(*lines), here or blank(), cutter, limits, MEASURES, made)
    return done.measures, done.findings


def codes(findings):
    return [f.code for f in findings]


# --- strokes ------------------------------------------------------------------------------------------------------


def test_hairlines_stop_with_letter_place_measure_and_limit():
    """Bodoni Moda at 10 mm with the 60° bit."""
    (measure,), findings = check(set_line("Robin Thorpe", "bodoni-moda", 10.0))
    (stop,) = [f for f in findings if f.code == "stroke.too-thin"]
    assert stop.glyph in ("b", "p")
    assert stop.measured == pytest.approx(0.125, abs=0.001)
    assert stop.limit == pytest.approx(0.1 + 0.2 * math.tan(math.radians(30)))
    assert measure.get_figure(STROKE) == stop.measured
    words = format_message(stop)
    assert "0.125 mm" in words and "0.215 mm" in words and f"“{stop.glyph}”" in words
    box = shapely.box(20, 15, 20 + 100, 32)
    assert box.contains(shapely.Point(stop.at))
    assert "at 17.3" in format_remedy(stop)


@pytest.mark.parametrize(("cap", "stops"), [(16.0, True), (16.1, False), (18.0, False)])
def test_the_limit_of_the_order_is_met_from_the_size_that_it_needs(cap, stops):
    """With 0.2 as the limit of the order, b and p of Bodoni Moda need 16.06 mm."""
    _, findings = check(set_line("b", "bodoni-moda", cap), limits=LimitsConfig(stroke=0.2))
    assert ("stroke.too-thin" in codes(findings)) is stops
    if stops:
        assert "16.0" in format_remedy(findings[0])


def test_a_sturdy_face_passes_small():
    _, findings = check(set_line("Robin Thorpe 69", "noto-sans", 4.0))
    assert codes(findings) == []


def test_the_place_of_the_stroke_moves_with_the_piece():
    line = set_line("p", "bodoni-moda", 10.0)
    turned = set_line("p", "bodoni-moda", 10.0, turn=1.0)
    (a,), _ = check(line)
    (b,), _ = check(turned)
    ax, ay = a.get(STROKE).at[0] - 20, a.get(STROKE).at[1] - 20
    assert b.get(STROKE).at[0] - 20 == pytest.approx(ax * math.cos(1) - ay * math.sin(1))
    assert b.get_figure(STROKE) == pytest.approx(a.get_figure(STROKE))


def test_sanding_thins_and_compensating_gives_it_back():
    line = set_line("Robin", "eb-garamond", 9.0)
    (plain,), _ = check(line)
    (sanded,), findings = check(line, finish=FinishConfig(sanded_off=0.1))
    loss = 2 * 0.1 * math.tan(math.radians(30))
    assert sanded.get_figure(STROKE_AFTER_SANDING) == pytest.approx(plain.get_figure(STROKE) - loss)
    (thin,) = [f for f in findings if f.code == "stroke.thin-after-sanding"]
    assert thin.measured == pytest.approx(plain.get_figure(STROKE) - loss)
    (grown,), findings = check(line, finish=FinishConfig(sanded_off=0.1, compensate=True))
    assert grown.get_figure(STROKE_AFTER_SANDING) == pytest.approx(plain.get_figure(STROKE))
    assert grown.get_figure(STROKE) == pytest.approx(plain.get_figure(STROKE) + loss)
    assert grown.get_figure(LAND) == pytest.approx(plain.get_figure(LAND) - loss)
    assert "stroke.thin-after-sanding" not in codes(findings)


def test_the_size_of_the_remedy_is_enough():
    line = set_line("Robin", "eb-garamond", 9.0)
    _, findings = check(line, finish=FinishConfig(sanded_off=0.1))
    size = next(f for f in findings if f.code == "stroke.thin-after-sanding").get_fact("size")
    _, findings = check(set_line("Robin", "eb-garamond", size), finish=FinishConfig(sanded_off=0.1))
    assert codes(findings) == []


def test_grooves_deepest_and_shallowest():
    (m,), findings = check(set_line("I", "noto-sans", 10.0), limits=LimitsConfig(deepest=0.5))
    stem = MEASURES.measure(set_line("I", "noto-sans", 10.0).rows[0].pieces[0].shape).widest.width / 714 * 10
    assert m.get_figure(GROOVE_DEPTH) == pytest.approx((stem - 0.1) / (2 * math.tan(math.radians(30))))
    assert codes(findings) == ["groove.too-deep"]
    assert findings[0].at is not None
    _, findings = check(
        set_line("I", "noto-sans", 10.0), limits=LimitsConfig(deepest=m.get_figure(GROOVE_DEPTH) + 1e-6)
    )
    assert codes(findings) == []


def test_a_groove_that_barely_shows():
    """The order's stroke limit is lower than a groove of 0.1 mm needs."""
    limits = LimitsConfig(stroke=0.12)
    _, findings = check(set_line("b", "bodoni-moda", 10.0), limits=limits)
    assert codes(findings) == ["groove.too-shallow"]
    _, findings = check(set_line("b", "bodoni-moda", 10.0), limits=LimitsConfig(stroke=0.12, shallowest=0.02))
    assert codes(findings) == []


def test_stroke_wider_than_the_bit():
    cutter = CutterConfig(use="vbit-60", diameter=3.0)
    _, findings = check(set_line("l", "noto-sans", 30.0), cutter=cutter)
    (wide,) = [f for f in findings if f.code == "stroke.wider-than-cutter"]
    assert wide.limit == 3.0
    stem = 88 / 714 * 30
    assert wide.get_fact("area") == pytest.approx(stem * 760 / 714 * 30, rel=0.05)
    assert wide.severity is Severity.ASK
    assert "mm² cannot be cut as one groove" in format_message(wide)
    assert 20 < wide.at[0] < 20 + 258 / 714 * 30
    compensated = check(
        set_line("l", "noto-sans", 30.0), cutter=cutter, finish=FinishConfig(sanded_off=0.2, compensate=True)
    )
    grown = 0.2 * math.tan(math.radians(30))
    (wide,) = [f for f in compensated[1] if f.code == "stroke.wider-than-cutter"]
    corners = (4 - math.pi) * (1.5**2 - grown**2)  # the grown outline is already round there
    whole = stem * 760 / 714 * 30 + 2 * grown * (stem + 760 / 714 * 30) + math.pi * grown**2
    assert wide.get_fact("area") == pytest.approx(whole - corners, rel=1e-3)
    _, findings = check(set_line("l", "noto-sans", 24.0), cutter=cutter)
    assert "stroke.wider-than-cutter" not in codes(findings)


def test_round_cutter_leaves_corners():
    """An end mill of .8 mm in the four square ends of l: (4 − π) r², r (√2 − 1) from each corner."""
    line = set_line("l", "noto-sans", 20.0)
    _, findings = check(line, cutter=CutterConfig(use="endmill-0-8"))
    (left,) = [f for f in findings if f.code == "stroke.corner-left"]
    assert left.get_fact("area") == pytest.approx((4 - math.pi) * 0.16, rel=0.02)
    assert left.measured == pytest.approx(0.4 * (math.sqrt(2) - 1), rel=0.02)
    words = format_message(left)
    whole = 88 * 760 / 714**2 * 20**2
    assert f"reaches {whole - left.get_fact('area'):.2f} of {whole:.2f} mm²" in words
    assert "a radius of 0.40 mm" in words
    _, findings = check(line, cutter=CutterConfig(use="laser"))
    assert "stroke.corner-left" not in codes(findings)


# --- land ---------------------------------------------------------------------------------------------------------


def whole(line):
    """Measure the line's land as one shape, mm."""
    first = line.rows[0].pieces[0]
    outlines = [
        tuple(
            path.transform(p.scale / first.scale, (p.x - first.x) / first.scale, (p.y - first.y) / first.scale)
            for path in p.shape.outline
        )
        for row in line.rows
        for p in row.pieces
    ]
    found = find_narrow_places(outlines, first.shape.cap_units, first.shape.units_per_em).find_narrowest_land()
    return found.width * first.scale


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("eb-garamond", "Kirkby Marrow"),
        ("noto-sans", "Åsa Illerby"),
        ("oswald", "Årvid Vawle"),
        ("cinzel", "Ravel Ayton"),
        ("great-vibes", "arlin"),
    ],
)
def test_land_of_a_line_equals_the_line_measured_as_one(name, text):
    line = set_line(text, name, 10.0)
    (m,), _ = check(line)
    assert m.get_figure(LAND) == pytest.approx(whole(line), rel=5e-3)


@pytest.mark.parametrize("text", ["arlin", "Tamsin", "Bess"])
def test_a_joined_word_is_as_wide_as_its_widest_letter_or_joint(text):
    """Compared with the largest circle that GEOS finds in the word's outline; the deepest cut is there."""
    word = max((p.shape for p in set_line(text, "great-vibes", 10.0).rows[0].pieces), key=lambda s: len(s.glyphs))
    assert len(word.glyphs) > 2
    circle = shapely.maximum_inscribed_circle(build_polygon_from_outline(word.outline, 0.05), tolerance=0.01)
    assert MEASURES.measure(word).widest.width == pytest.approx(2 * shapely.length(circle), rel=2e-3)


def test_a_place_of_one_letter_is_named_by_it_and_not_by_its_joint():
    """The narrowest land of dan is in the aperture of its a; the joint of a with d and n contains it again."""
    (m,), _ = check(set_line("dan", "great-vibes", 10.0))
    assert (m.get(LAND).kind, m.get(LAND).glyph) == ("aperture", "a")
    (alone,), _ = check(set_line("a", "great-vibes", 10.0))
    assert m.get_figure(LAND) == pytest.approx(alone.get_figure(LAND), rel=5e-3)


def test_letters_too_close_stop_and_just_inside_do_not():
    near = set_line("rn", "noto-sans", 5.0)
    gap = check(near)[0][0].get(LAND)
    assert gap.kind in ("neighbour", "aperture")
    _, findings = check(near, limits=LimitsConfig(land=gap.value * 1.01))
    assert codes(findings) == ["land.too-thin"]
    assert findings[0].glyph == gap.glyph
    assert format_message(findings[0])
    _, findings = check(near, limits=LimitsConfig(land=gap.value * 0.99))
    assert codes(findings) == []


def test_rows_of_one_line_and_of_two():
    (m,), _ = check(set_line("pgq/lkd", "noto-sans", 10.0, pitch=12.4))
    assert m.get(LAND).kind == "row"
    upper, lower = (
        set_line("pgq", "noto-sans", 10.0, baseline=40.0),
        set_line("lkd", "noto-sans", 10.0, baseline=27.6, number=2),
    )
    (a, b), findings = check(upper, lower, limits=LimitsConfig(land=0.9))
    assert a.get(LAND).kind == b.get(LAND).kind == "row"
    assert a.get_figure(LAND) == pytest.approx(m.get_figure(LAND), abs=1e-6)
    assert codes(findings).count("land.too-thin") == 1


@pytest.mark.parametrize("kind", ["keep-out", "pocket", "hole", "edge"])
def test_land_beside_holes_pockets_and_edge_is_measured(kind):
    line = set_line("H", "noto-sans", 10.0)
    left = 20 + 97 / 714 * 10  # left side of the H's stem, font units
    wall = rectangle(left - 5, 10, left - 0.4, 40)
    here = {
        "keep-out": lambda: blank(keep_outs=(wall,)),
        "pocket": lambda: blank(pockets=(wall,)),
        "hole": lambda: blank(holes=(wall,)),
        "edge": lambda: blank(height=30.3),
    }[kind]()
    (m,), findings = check(line, here=here, limits=LimitsConfig(land=0.5))
    assert m.get(LAND).kind == kind
    assert m.get_figure(LAND) == pytest.approx(0.3 if kind == "edge" else 0.4, abs=0.01)
    assert codes(findings) == ["land.too-thin"]


def test_no_land_is_measured_between_front_and_back():
    front = set_line("HH", "noto-sans", 10.0)
    back = replace(set_line("HH", "noto-sans", 10.0, number=2), side="back")
    (a, b), findings = check(front, back, limits=LimitsConfig(land=1.0))
    assert findings == ()
    assert a.get_figure(LAND) == b.get_figure(LAND) > 1.0


# --- reading ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("inches", "baseline", "mm"),
    [
        (60, 50, 15.875), (96, 50, 22.225), (120, 50, 28.575), (180, 50, 44.450), (240, 50, 60.325),
        (240, 100, 66.675), (300, 130, 88.9), (60, None, 15.875),
    ],
)  # fmt: skip
def test_ada_table(inches, baseline, mm):
    """2010 ADA Standards, table 703.5.5, worked in its inch column."""
    assert compute_ada_height(inches * 25.4, None if baseline is None else baseline * 25.4) == pytest.approx(mm)


def test_reading_is_off_until_a_distance_is_given():
    line = set_line("HI", "noto-sans", 10.0)
    assert codes(check(line)[1]) == []
    (small,) = check(line, reading=ReadingConfig(distance=1000.0))[1]
    assert small.code == "read.too-small"
    assert small.limit == pytest.approx(15.875)
    assert "compliance" not in format_message(small)
    assert codes(check(set_line("HI", "noto-sans", 15.9), reading=ReadingConfig(distance=1000.0))[1]) == []
    far = check(set_line("Hb", "bodoni-moda", 30.0), reading=ReadingConfig(distance=1500.0))[1]
    assert codes(far) == ["read.stroke-light"]


def test_stem_of_the_capital_i():
    """Stem by cap height, measured from outlines by others: Noto Sans .126 passes, Cinzel .0929 fails 703.5.7."""
    made = order(reading=ReadingConfig(distance=1000.0))
    cutter, limits = resolve_cutter(made, 19.0)
    for name, light in (("noto-sans", False), ("cinzel", True)):
        stem = set_line("I", name, 20.0).rows[0].pieces[0].shape
        line = set_line("HI", name, 20.0)
        said = check_all(artwork(line), blank(), cutter, limits, MEASURES, made, stems={name: stem}).findings
        assert any(f.code == "read.stroke-light" and f.glyph == "I" for f in said) is light


# --- the whole ----------------------------------------------------------------------------------------------------


def test_every_check_is_recorded():
    made = order()
    cutter, limits = resolve_cutter(made, 19.0)
    done = check_all(artwork(set_line("b", "bodoni-moda", 5.0)), blank(), cutter, limits, MEASURES, made)
    assert [name for name, _ in done.record] == [check.name for check in CHECKS]
    assert dict(done.record)["strokes and grooves"] == "found"
    assert dict(done.record)["reading distance"] == "not applicable"
    empty = check_all(artwork(), blank(), cutter, limits, MEASURES, made)
    assert {result for _, result in empty.record} == {"not applicable"}


def test_nothing_but_spaces_is_measured_as_nothing():
    line = set_line("H", "noto-sans", 10.0)
    (m,), findings = check(replace(line, rows=(replace(line.rows[0], pieces=()),)))
    assert (m.get(STROKE), m.get(LAND), findings) == (None, None, ())


def test_cached_values_are_used_but_not_those_of_another_version(tmp_path, monkeypatch):
    lines = artwork(set_line("nil", "great-vibes", 10.0), set_line("Hen", "noto-sans", 10.0))
    made = order()
    cutter, limits = resolve_cutter(made, 19.0)
    cache = Cache(tmp_path)
    first = check_all(lines, blank(), cutter, limits, GlyphMetrics(cache), made)
    cache.flush()
    other = artwork(set_line("lin", "great-vibes", 10.0))
    fresh = check_all(other, blank(), cutter, limits, GlyphMetrics(), made)
    assert check_all(other, blank(), cutter, limits, GlyphMetrics(Cache(tmp_path)), made) == fresh

    monkeypatch.setattr(narrow_places, "find_stroke_candidates", None)  # measuring a stroke would now fail
    cache = Cache(tmp_path)
    assert check_all(lines, blank(), cutter, limits, GlyphMetrics(cache), made) == first

    monkeypatch.setattr(cache_key, "build_key", lambda: "another")
    with pytest.raises(TypeError):
        check_all(lines, blank(), cutter, limits, GlyphMetrics(Cache(tmp_path)), made)


def test_measuring_does_not_depend_on_what_was_measured_before():
    a, b = GlyphMetrics(), GlyphMetrics()
    made = order()
    cutter, limits = resolve_cutter(made, 19.0)
    for text in ("or", "in"):
        check_all(artwork(set_line(text, "great-vibes", 9.0)), blank(), cutter, limits, a, made)
    for m in (a, b):
        done = check_all(artwork(set_line("rin", "great-vibes", 9.0)), blank(), cutter, limits, m, made)
        if m is a:
            first = done
    assert done == first
    assert face("great-vibes").cap_units == pytest.approx(807, abs=1)


def test_a_larger_size_is_proposed_with_the_room_it_takes_and_only_a_sensible_one():
    near = replace(set_line("Robin", "noto-sans", 8.0), width=25.0, slack=3.0)
    (m,), _ = check(near)
    _, findings = check(near, limits=LimitsConfig(land=m.get_figure(LAND) * 1.2))
    stop = next(f for f in findings if f.code == "land.too-thin")
    assert "9.60 mm or larger (5.00 mm longer, for which there is room)" in format_remedy(stop)  # a fifth of 25
    _, findings = check(near, limits=LimitsConfig(land=m.get_figure(LAND) * 5))
    assert "larger" not in format_remedy(next(f for f in findings if f.code == "land.too-thin"))
