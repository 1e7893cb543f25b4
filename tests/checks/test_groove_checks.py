"""Strokes wider than the bit, grooves in a face that is sanded, the simulated cut as a check, contradictory sizes."""

import math
import re
from dataclasses import replace

import numpy as np
import pytest
import shapely

from pipeline.checks import groove_check, plaque_checks
from pipeline.checks.glyph_metrics import GlyphMetrics
from pipeline.checks.plaque_checks import check_all
from pipeline.core.catalogue import format_for_client, format_message, format_remedy
from pipeline.core.config.order import CutterConfig, FilesConfig, FinishConfig, LimitsConfig, LineConfig
from pipeline.core.findings import Severity
from pipeline.core.measured_values import GROOVE_DEPTH
from pipeline.core.model import derive_state
from pipeline.cutting.cutters import compute_lowering, resolve_cutter
from pipeline.cutting.groove_sweep import build_groove_sweeper
from pipeline.cutting.simulated_cut import FINE
from pipeline.cutting.v_carving import build_groove_planner
from pipeline.geometry.medial.medial_axis import compute_medial_axis
from pipeline.geometry.regions import build_polygon_from_outline
from tests.checks.setting import artwork, blank, order, set_line

MEASURES = GlyphMetrics()
GROOVES = FilesConfig(grooves=True)
NARROW = CutterConfig(use="vbit-60", diameter=3.0)


def check(*lines, **parts):
    """Check lines designed at the size they are set at."""
    designed = tuple(LineConfig(text="{name}", face="noto-sans", cap_height=line.cap_height) for line in lines)
    made = order(**parts).model_copy(update={"line": designed})
    cutter, limits = resolve_cutter(made, 19.0)
    done = check_all(artwork(*lines), blank(), cutter, limits, MEASURES, made)
    return done.measures, done.findings


def codes(findings):
    return [f.code for f in findings]


def size_in(text, pattern):
    found = re.search(pattern, text)
    assert found, text
    return float(found[1])


# --- wider than the bit -------------------------------------------------------------------------------------------


def test_wider_than_the_bit_stops_grooves_and_is_a_question_without_them():
    line = set_line("l", "noto-sans", 30.0)  # 3.7 mm
    _, asked = check(line, cutter=NARROW)
    assert [(f.code, f.severity) for f in asked] == [("stroke.wider-than-cutter", Severity.ASK)]
    _, stopped = check(line, cutter=NARROW, files=GROOVES)
    assert [(f.code, f.severity) for f in stopped] == [("groove.wider-than-cutter", Severity.STOP)]
    assert derive_state(stopped) == "stopped"
    assert "cut wrongly" in format_message(stopped[0])
    assert not format_for_client(stopped[0])  # a fault of the design is the maker's
    assert "flat floor" in format_remedy(asked[0])
    assert "flat" not in format_remedy(stopped[0])  # the file would still have the bit's path along the middle


@pytest.mark.parametrize("files", [FilesConfig(), GROOVES])
def test_every_remedy_for_a_stroke_too_wide_works(files):
    line = set_line("l", "noto-sans", 30.0)
    text = format_remedy(check(line, cutter=NARROW, files=files)[1][0])
    assert "(vbit-60)" in text  # the shelf's bit, 6 mm wide
    assert check(line, cutter=CutterConfig(use="vbit-60"), files=files)[1] == ()
    size = size_in(text, r"at ([\d.]+) mm or smaller")
    assert check(set_line("l", "noto-sans", size), cutter=NARROW, files=files)[1] == ()
    assert codes(check(set_line("l", "noto-sans", size + 0.05), cutter=NARROW, files=files)[1])[0].endswith(
        "wider-than-cutter"
    )
    most = size_in(text, r"widest strokes are ([\d.]+) mm at most")
    assert most == pytest.approx(3.0)


# --- sanding ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("face", "cap"), [("roboto-slab", 8.0), ("eb-garamond", 14.0)])
def test_grooves_have_the_reported_depth_plus_what_sanding_removes(face, cap):
    finish = FinishConfig(sanded_off=0.1, compensate=True)
    line = set_line("MW&R", face, cap)
    (plain,), _ = check(line, files=GROOVES)
    (deep,), _ = check(line, files=GROOVES, finish=finish)
    assert deep.get_figure(GROOVE_DEPTH) == pytest.approx(plain.get_figure(GROOVE_DEPTH) + 0.1)
    made = order(files=GROOVES, finish=finish)
    cutter, _ = resolve_cutter(made, 19.0)
    way = build_groove_planner(cutter, 0.01, compute_lowering(made, cutter)).plan(artwork(line))
    assert -min(float(g[:, 2].min()) for g in way) == pytest.approx(deep.get_figure(GROOVE_DEPTH), abs=0.005)


@pytest.mark.parametrize("text", ["M", "W", "R"])
def test_grooves_of_grown_outlines_are_as_deep_as_their_axis_says(text):
    """The widest disc of the grown outline, from the diagram of its flattening, which the check doesn't use. In the
    crotches of M the growth adds more than its amount on both sides."""
    line = set_line(text, "roboto-slab", 8.0)
    finish = FinishConfig(sanded_off=0.1, compensate=True)
    (measured,), _ = check(line, finish=finish)
    (plain,), _ = check(line)
    cutter, _ = resolve_cutter(order(), 19.0)
    by = 0.1 * math.tan(math.radians(30))
    grown = shapely.buffer(build_polygon_from_outline(line.rows[0].pieces[0].build_outline(), FINE), by, quad_segs=64)
    deepest = cutter.compute_depth(2 * float(compute_medial_axis(grown).radius.max()))
    assert measured.get_figure(GROOVE_DEPTH) == pytest.approx(deepest, abs=0.003)
    assert measured.get_figure(GROOVE_DEPTH) > plain.get_figure(GROOVE_DEPTH) + 0.1 - 1e-6
    if text == "M":
        assert measured.get_figure(GROOVE_DEPTH) > plain.get_figure(GROOVE_DEPTH) + 0.15


def test_a_grown_stroke_is_wider_than_designed_by_at_least_the_growth():
    """The check's values for the narrowest stroke of a grown letter, designed and grown, are lower bounds."""
    for text in "aRg&":
        piece = set_line(text, "eb-garamond", 9.0).rows[0].pieces[0]
        art = build_polygon_from_outline(piece.build_outline(), FINE)
        grown = shapely.buffer(art, 0.1, quad_segs=64)
        axis = compute_medial_axis(art)
        inside = shapely.points(axis.points[axis.radius > 0.01])
        there, before = (shapely.distance(shapely.boundary(r), inside) for r in (grown, art))
        assert (there - before).min() > 0.1 - 2e-3


def test_the_size_advised_for_a_groove_too_deep_works_where_crotches_are_filled():
    line = set_line("MNR", "roboto-slab", 8.0)
    parts = {"finish": FinishConfig(sanded_off=0.1, compensate=True), "limits": LimitsConfig(deepest=1.4)}
    (found,) = check(line, **parts)[1]
    assert found.code == "groove.too-deep"
    size = size_in(format_remedy(found), r"at ([\d.]+) mm or smaller")
    assert check(set_line("MNR", "roboto-slab", size), **parts)[1] == ()
    assert codes(check(set_line("MNR", "roboto-slab", size + 0.02), **parts)[1]) == ["groove.too-deep"]
    name = re.search(r"take a bit of \d+° \(([\w-]+)\)", format_remedy(found))[1]
    assert check(line, **parts, cutter=CutterConfig(use=name))[1] == ()


# --- sizes --------------------------------------------------------------------------------------------------------


def test_a_line_both_too_thin_and_too_deep_is_told_that_no_size_works():
    """Bodoni's hairlines need a larger size, its stems a smaller one."""
    line = set_line("b", "bodoni-moda", 7.0)
    _, findings = check(line, limits=LimitsConfig(deepest=0.6))
    assert codes(findings) == ["stroke.too-thin", "groove.too-deep"]
    for finding in findings:
        text = format_remedy(finding)
        assert "; no size does: thin strokes and land take " in format_message(finding)
        assert "set the line" not in text
        assert "choose a typeface" in text
    assert not any(map(format_for_client, findings))  # a fault of the design is the maker's


def test_a_range_of_sizes_is_advised_and_both_ends_pass():
    line = set_line("Robin", "eb-garamond", 5.0)
    limits = LimitsConfig(stroke=0.21, deepest=1.05, shallowest=0.02)
    (thin,) = check(line, limits=limits)[1]
    low, high = map(float, re.search(r"set the line at ([\d.]+) mm to ([\d.]+) mm", format_remedy(thin)).groups())
    for size in (low, high):
        assert check(set_line("Robin", "eb-garamond", size), limits=limits)[1] == ()
    assert codes(check(set_line("Robin", "eb-garamond", low - 0.03), limits=limits)[1]) == ["stroke.too-thin"]
    assert codes(check(set_line("Robin", "eb-garamond", high + 0.03), limits=limits)[1]) == ["groove.too-deep"]
    (deep,) = check(set_line("Robin", "eb-garamond", high + 0.5), limits=limits)[1]
    assert f"set the line at {low:.2f} mm to {high:.2f} mm" in format_remedy(deep)


@pytest.mark.parametrize("files", [FilesConfig(), GROOVES])
def test_the_size_advised_for_land_accounts_for_the_growth(files):
    """From 9 mm: cap × (least + 2 g) / (width + 2 g), as the growth is the same at every size."""
    finish = FinishConfig(sanded_off=0.15, compensate=True)
    parts = {"finish": finish, "limits": LimitsConfig(land=1.3), "files": files}
    line = set_line("ee", "noto-sans", 9.0)
    found = next(f for f in check(line, **parts)[1] if f.code == "land.too-thin")
    size = size_in(format_remedy(found), r"at ([\d.]+) mm or larger")
    growth = 2 * 0.15 * math.tan(math.radians(30))
    assert size == pytest.approx(9.0 * (1.3 + growth) / (found.measured + growth), abs=0.01)
    assert check(set_line("ee", "noto-sans", size), **parts)[1] == ()
    assert "land.too-thin" in codes(check(set_line("ee", "noto-sans", size - 0.05), **parts)[1])


# --- the simulated cut --------------------------------------------------------------------------------------------


def test_the_cut_is_simulated_only_where_grooves_are_written(monkeypatch):
    asked = []
    monkeypatch.setattr(plaque_checks, "check_grooves", lambda *a: asked.append(a) or [])
    check(set_line("Ro", "noto-sans", 8.0))
    assert asked == []
    check(set_line("Ra", "noto-sans", 8.0), files=GROOVES)
    assert len(asked) == 1


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda g: g - (0, 0, 0.05), "cuts 0.0"),
        (lambda g: g + (0, 0, 0.05) * (g[:, 2:] < -0.05), "stays 0.0"),
        (lambda g: g + (0.04, 0, 0), "cuts 0.04"),
    ],
)
def test_a_groove_that_does_not_leave_its_letter_is_a_stop_with_its_place(monkeypatch, change, words):
    """Too deep, too shallow, shifted."""
    finish = FinishConfig(sanded_off=0.03, compensate=True)  # a separate bit, so that nothing is cached
    made = order(files=GROOVES, finish=finish)
    cutter, _ = resolve_cutter(made, 19.0)
    grooves = build_groove_planner(cutter, 0.01, 0.03)
    right = type(grooves).plan_piece
    monkeypatch.setattr(type(grooves), "plan_piece", lambda self, *a: [change(g) for g in right(self, *a)])
    build_groove_sweeper.cache_clear()
    line = set_line("n", "noto-sans", 9.0)
    (found,) = check(replace(line), files=GROOVES, finish=finish)[1]
    build_groove_sweeper.cache_clear()
    assert found.code == "groove.off-letter" and found.severity is Severity.STOP
    assert words in format_message(found)
    box = shapely.box(*shapely.bounds(build_polygon_from_outline(line.rows[0].pieces[0].build_outline(), 0.01))).buffer(
        0.1
    )
    assert shapely.contains_xy(box, *found.at)


def test_what_a_blunt_tip_cannot_reach_is_reported_without_a_stop():
    blunt = CutterConfig(use="vbit-60", tip=0.4)
    _, findings = check(
        set_line("k", "great-vibes", 60.0), cutter=blunt, files=GROOVES, limits=LimitsConfig(stroke=0.41)
    )
    (told,) = [f for f in findings if f.code == "groove.ends-left"]
    assert told.severity is Severity.NOTE and told.measured >= groove_check.ENDS
    assert "vbit-60, 0.40 mm wide" in format_message(told)


def test_too_large_an_uncut_share_is_a_stop(monkeypatch):
    monkeypatch.setattr(groove_check, "MISSED", 0.0)
    (found,) = check(set_line("e", "noto-sans", 10.0), files=GROOVES)[1]
    assert found.code == "groove.off-letter" and found.unit == "%"
    assert re.search(r"leaves 0\.\d\d of the \d+\.\d\d mm² it gets into; 0 % is the most", format_message(found))
    assert np.isfinite(found.at).all()
