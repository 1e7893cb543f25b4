"""Grooves cut deeper for a face that is sanded leave the letter as designed; each letter is simulated once."""

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

from pipeline.core.config.order import FilesConfig, FinishConfig
from pipeline.cutting.cutters import compute_lowering, load_cutter_shelf
from pipeline.cutting.groove_sweep import GrooveSweeper
from pipeline.cutting.simulated_cut import FINE, compare_cut, find_reachable, sweep
from pipeline.cutting.v_carving import GroovePlanner, build_groove_planner
from pipeline.geometry.medial.medial_axis import compute_medial_axis
from pipeline.geometry.offset import offset_outline
from pipeline.geometry.regions import build_polygon_from_outline
from pipeline.shopfloor.toolpath import compute_groove_volume
from tests.checks.setting import order, set_line

BIT = load_cutter_shelf()["vbit-60"]
TAN = math.tan(math.radians(30))


def piece_of(text, face="roboto-slab", cap=8.0):
    piece = set_line(text, face, cap).rows[0].pieces[0]
    return replace(piece, x=0.0, y=0.0)


@pytest.mark.parametrize("text", ["M", "K", "R", "&"])
def test_lowered_grooves_leave_the_designed_letter_where_grown_outlines_do_not(text):
    """Sanding removes .15. Grooves along the designed letter's axis, all lowered by that, show the letter in the sanded
    face; the axis of the grown outline is deeper in its crotches and rounds them."""
    piece, sanded = piece_of(text), 0.15
    art = build_polygon_from_outline(piece.build_outline(), FINE)
    fits = find_reachable(art, BIT.tip / 2)
    lowered = GroovePlanner(BIT, 0.01, sanded)
    cut = compare_cut(art, sweep([g + (0, 0, sanded) for g in lowered.plan_piece(piece)], BIT), fits)
    assert cut.overcut < 0.005 and cut.undercut < 0.005
    by = sanded * TAN
    outline = offset_outline(piece.shape.outline, by / piece.scale, 0.01 / piece.scale)
    old = [g + (0, 0, sanded) for g in GroovePlanner(BIT, 0.01).plan_piece(piece, outline)]
    deepest = [-min(float(g[:, 2].min()) for g in way) for way in (lowered.plan_piece(piece), old)]
    radius = float(compute_medial_axis(art).radius.max())
    assert deepest[0] == pytest.approx((radius - BIT.tip / 2) / TAN + sanded, abs=0.005)
    if text in "MK":
        assert compare_cut(art, sweep(old, BIT), fits).overcut > 0.02
        assert deepest[1] + sanded > deepest[0] + 0.03


def test_the_toolpath_is_the_same_but_lower():
    piece = piece_of("g", "eb-garamond", 10.0)
    plain, deep = (GroovePlanner(BIT, 0.01, by).plan_piece(piece) for by in (0.0, 0.2))
    assert len(plain) == len(deep)
    for a, b in zip(plain, deep, strict=True):
        assert a - (0, 0, 0.2) == pytest.approx(b, abs=1e-12)


def test_lowered_only_with_compensate_grooves_and_a_v_bit():
    finish = FinishConfig(sanded_off=0.2, compensate=True)
    assert compute_lowering(order(finish=finish, files=FilesConfig(grooves=True)), BIT) == 0.2
    assert compute_lowering(order(finish=finish), BIT) == 0.0
    assert compute_lowering(order(finish=FinishConfig(sanded_off=0.2), files=FilesConfig(grooves=True)), BIT) == 0.0
    assert (
        compute_lowering(order(finish=finish, files=FilesConfig(grooves=True)), load_cutter_shelf()["endmill-3"]) == 0.0
    )


def test_a_bar_cut_deeper_loses_the_volume_of_its_wider_section():
    """60 × 2 mm, sharp 60° bit, .3 mm deeper: length × half of depth × width, plus two hip-roof ends."""
    bit = replace(BIT, tip=0.0, diameter=50.0)
    length, width, lower = 60.0, 2.0, 0.3
    made = compute_groove_volume(shapely.box(0, 0, length, width), bit, lower)
    deep, wide = width / 2 / TAN + lower, width + 2 * lower * TAN
    # A roof over the wider rectangle, whose corners are round: the prism minus what its four hips remove.
    whole = wide * deep / 2 * (length - width) + 2 * (wide / 2) * deep * wide / 3
    assert made == pytest.approx(whole, rel=0.01)


def test_a_letter_is_simulated_once_per_key_and_size(monkeypatch):
    made = []
    sweeps = GrooveSweeper(build_groove_planner(BIT, 0.01, 0.0))
    monkeypatch.setattr(GrooveSweeper, "_compute_sweep", lambda self, shape, scale: made.append(scale) or "swept")
    a, b = piece_of("e").shape, piece_of("o").shape
    for shape, scale in ((a, 0.01), (a, 0.01), (b, 0.01), (a, 0.02), (replace(a), 0.02)):
        sweeps.sweep(shape, scale)
    assert made == [0.01, 0.01, 0.02]
    assert build_groove_planner(replace(BIT), 0.01, 0.0) is sweeps.grooves


def test_the_uncut_area_of_a_letter_includes_what_no_tip_reaches():
    """A wedge of 20°: a flat of .4 stops r (1 / sin 10° − 1) short of its end."""
    blunt = replace(BIT, tip=0.4)
    piece = piece_of("A", "montserrat", 20.0)
    swept_a = GrooveSweeper(GroovePlanner(blunt, 0.01)).sweep(piece.shape, piece.scale)
    art = build_polygon_from_outline(piece.build_outline(), FINE)
    fits = find_reachable(art, 0.2)
    assert swept_a.ends_area == pytest.approx(art.area - fits.area, rel=0.02)
    assert swept_a.reached == pytest.approx(fits.area, rel=1e-3)
    assert swept_a.missed_share < 0.01
    assert np.isfinite(swept_a.ends_at).all()
