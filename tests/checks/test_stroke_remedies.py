"""Remedies for thin strokes: each has its value, is offered only where it helps, and works when it is followed."""

import re

import pytest

from pipeline.checks.glyph_metrics import GlyphMetrics
from pipeline.checks.plaque_checks import check_all
from pipeline.core.catalogue import format_remedy
from pipeline.core.config.order import CutterConfig, FinishConfig, LimitsConfig
from pipeline.core.measured_values import LAND
from pipeline.cutting.cutters import resolve_cutter
from pipeline.run import run_order
from tests.checks.setting import artwork, blank, order, set_line

MEASURES = GlyphMetrics()
GARAMOND = set_line("Robin", "eb-garamond", 9.0)
"""Its narrowest stroke is .29 mm wide as designed."""


def said(line=GARAMOND, **parts):
    """Return the findings of a line, and the remedy of the first one."""
    made = order(**parts)
    cutter, limits = resolve_cutter(made, 19.0)
    findings = check_all(artwork(line), blank(), cutter, limits, MEASURES, made).findings
    return [f.code for f in findings], format_remedy(findings[0]) if findings else ""


def figure(text, pattern):
    found = re.search(pattern, text)
    assert found, text
    return float(found[1])


def test_every_remedy_for_a_stroke_thinned_by_sanding_works():
    found, text = said(finish=FinishConfig(sanded_off=0.1))
    assert found == ["stroke.thin-after-sanding"]
    assert said(finish=FinishConfig(sanded_off=0.1, compensate=True))[0] == []
    assert "every groove 0.10 mm deeper and every stroke 0.12 mm wider" in text  # 2 × 0.1 × tan 30°
    assert said(finish=FinishConfig(sanded_off=figure(text, r"no more than ([\d.]+) mm")))[0] == []
    size = figure(text, r"at ([\d.]+) mm or larger")
    assert said(set_line("Robin", "eb-garamond", size), finish=FinishConfig(sanded_off=0.1))[0] == []
    assert said(set_line("Robin", "eb-garamond", size - 0.05), finish=FinishConfig(sanded_off=0.1))[0] != []
    name = re.search(r"\((vbit-\d+), with which sanding takes 0.05 mm\)", text)[1]
    assert said(finish=FinishConfig(sanded_off=0.1), cutter=CutterConfig(use=name))[0] == []


def test_the_advised_extra_width_is_wanted_minus_finished():
    made = order(finish=FinishConfig(sanded_off=0.1))
    cutter, limits = resolve_cutter(made, 19.0)
    (finding,) = check_all(artwork(GARAMOND), blank(), cutter, limits, MEASURES, made).findings
    heavier = figure(format_remedy(finding), r"strokes are ([\d.]+) mm")
    assert heavier == pytest.approx(finding.limit - finding.measured, abs=1e-3)
    assert heavier >= finding.limit - finding.measured
    designed = finding.measured + cutter.compute_thinning(0.1)
    assert figure(format_remedy(finding), r"\((\d+) %\) heavier") == pytest.approx(100 * heavier / designed, abs=1)


def test_what_the_order_already_does_is_not_advised():
    """With compensation, the finished stroke is the designed one: sanding less changes nothing."""
    line = set_line("Robin", "eb-garamond", 6.0)
    found, text = said(line, finish=FinishConfig(sanded_off=0.1, compensate=True))
    assert found[0] == "stroke.thin-after-sanding"
    assert "compensate" not in text
    assert "sand off" not in text
    assert "with which sanding takes" not in text
    size = figure(text, r"at ([\d.]+) mm or larger")
    grown = said(set_line("Robin", "eb-garamond", size), finish=FinishConfig(sanded_off=0.1, compensate=True))[0]
    assert "stroke.thin-after-sanding" not in grown


def test_growing_is_not_advised_where_it_leaves_too_little_land():
    """Growing removes .12 of it."""
    made = order()
    (measured,) = check_all(artwork(GARAMOND), blank(), *resolve_cutter(made, 19.0), MEASURES, made).measures
    for spare, advised in ((0.05, False), (0.12, True)):
        limits = LimitsConfig(land=measured.get_figure(LAND) - spare)
        found, text = said(finish=FinishConfig(sanded_off=0.1), limits=limits)
        assert found == ["stroke.thin-after-sanding"]
        assert ("compensate" in text) is advised
        assert (said(finish=FinishConfig(sanded_off=0.1, compensate=True), limits=limits)[0] == []) is advised


def test_a_size_out_of_reach_is_not_advised():
    _, text = said(set_line("b", "bodoni-moda", 7.0))
    assert "set the line" not in text
    assert text.startswith("choose a typeface")


def test_another_bit_is_advised_only_where_it_passes():
    line = set_line("b", "bodoni-moda", 14.0)  # .175 as designed; a bit of 30° makes .1 + .2 tan 15° = .154
    _, text = said(line)
    assert "take a bit of 30° (vbit-30)" in text
    assert said(line, cutter=CutterConfig(use="vbit-30"))[0] == []
    assert "take a bit" not in said(line, limits=LimitsConfig(stroke=0.2))[1]  # the order's own limit stays in force
    assert "take a bit" not in said(line, limits=LimitsConfig(deepest=0.9))[1]  # too deep with 30°
    thin = set_line("b", "bodoni-moda", 16.0)
    found, text = said(thin, cutter=CutterConfig(use="endmill-0-8"))
    assert found[0] == "stroke.too-thin"
    assert "take" not in text  # no end mill of the shelf is finer
    assert "point-fine" in said(thin, cutter=CutterConfig(use="point"))[1]


def test_the_limit_of_the_order_may_be_lowered_to_what_the_cutter_makes():
    _, text = said(GARAMOND, limits=LimitsConfig(stroke=0.4))
    lower = figure(text, r"write stroke = ([\d.]+) into \[limits\]")
    assert said(GARAMOND, limits=LimitsConfig(stroke=lower))[0] == []
    assert "write stroke" not in said(set_line("b", "bodoni-moda", 10.0), limits=LimitsConfig(stroke=0.2))[1]


def test_a_shallow_groove_is_made_deeper():
    line = set_line("b", "bodoni-moda", 10.0)
    found, text = said(line, limits=LimitsConfig(stroke=0.12))
    assert found == ["groove.too-shallow"]
    size = figure(text, r"at ([\d.]+) mm or larger")
    assert said(set_line("b", "bodoni-moda", size), limits=LimitsConfig(stroke=0.12))[0] == []
    lower = figure(text, r"write shallowest = ([\d.]+) into \[limits\] after a trial cut")
    assert said(line, limits=LimitsConfig(stroke=0.12, shallowest=lower))[0] == []


def test_a_groove_too_deep_is_made_shallower():
    line = set_line("l", "noto-sans", 10.0)  # 1.232 wide: .980 deep with 60°, .516 with 90°
    found, text = said(line, limits=LimitsConfig(deepest=0.9))
    assert found == ["groove.too-deep"]
    assert "take a bit of 90° (vbit-90), which cuts it 0.52 mm deep" in text
    assert said(line, limits=LimitsConfig(deepest=0.9), cutter=CutterConfig(use="vbit-90"))[0] == []
    size = figure(text, r"at ([\d.]+) mm or smaller")
    assert said(set_line("l", "noto-sans", size), limits=LimitsConfig(deepest=0.9))[0] == []
    assert said(set_line("l", "noto-sans", size + 0.05), limits=LimitsConfig(deepest=0.9))[0] == ["groove.too-deep"]
    _, text = said(line, limits=LimitsConfig(deepest=0.4), cutter=CutterConfig(use="vbit-90"))
    assert "take a bit" not in text  # no wider one exists


ORDER = """
title = "Trial"
list = { file = "list.csv", columns = { name = "Name" } }
blank = { shape = "rectangle", width = 300.0, height = 120.0, thickness = 19.0 }
reading = { distance = 1000.0 }
[[line]]
text = "{name}"
face = "cinzel"
cap_height = 20.0
[[line]]
text = "{name}"
face = "noto-sans"
cap_height = 20.0
"""


def test_an_order_with_a_reading_distance_has_its_stems_checked(tmp_path):
    """2010 ADA Standards, 703.5.7: the stem of the capital I is 10 to 30 % of its height; Cinzel's 9.3 %."""
    (tmp_path / "order.toml").write_text(ORDER, encoding="utf-8")
    (tmp_path / "list.csv").write_text("Name\nRobin Thorpe\n", encoding="utf-8")
    (plaque,) = run_order(tmp_path, files=False).outcome.plaques
    light = [f for f in plaque.findings if f.code == "read.stroke-light" and f.glyph == "I"]
    assert [f.line for f in light] == [1]
    assert light[0].measured == pytest.approx(0.0929 * 20, abs=0.01)
    assert light[0].limit == pytest.approx(2.0)
