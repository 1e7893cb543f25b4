"""Grooves with a flat floor: walls by the V-bit, middle by a flat cutter, simulated at face and floor."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import ezdxf
import numpy as np
import pytest
import shapely

from pipeline.checks.glyph_metrics import GlyphMetrics
from pipeline.checks.plaque_checks import check_all
from pipeline.core import catalogue
from pipeline.core.config.order import CutterConfig, FilesConfig, FinishConfig, LimitsConfig, LineConfig
from pipeline.core.config.order_edits import apply_edits
from pipeline.core.config.shop_tables import ClearingConfig
from pipeline.core.errors import CannotRun
from pipeline.cutting import flat_floor
from pipeline.cutting.cutters import load_cutter_shelf, resolve_cutter
from pipeline.cutting.flat_floor import RIDGE, FlatFloor, build_flat_floor
from pipeline.cutting.groove_sweep import GrooveSweeper
from pipeline.cutting.simulated_cut import find_reachable, sweep, sweep_at
from pipeline.cutting.v_carving import GroovePlanner
from pipeline.run import run_order
from pipeline.shopfloor.shop_plan import check_order
from tests import builders
from tests.checks.setting import artwork, blank, order, set_line

BIT = load_cutter_shelf()["vbit-60"]
TAN = math.tan(math.radians(30))
MEASURES = GlyphMetrics()


def planner(depth: float = 1.5, mill: str = "endmill-1-5", bit: str = "vbit-60", lowered: float = 0.0) -> GroovePlanner:
    floor = FlatFloor(depth=depth, mill=load_cutter_shelf()[mill])
    return GroovePlanner(load_cutter_shelf()[bit], 0.01, lowered, floor)


def test_a_bar_by_hand() -> None:
    """A bar of 40 × 10 mm, 1.5 mm deep with a 60° bit of tip 0.1: the foot of the wall is 1.5 tan 30° = 0.866 inside,
    the bit runs 0.05 further in, and the flat cutter clears the floor except its rounded corners, (1 − π/4) d² in all.
    """
    bar = shapely.box(0, 0, 40, 10)
    made = planner()
    lines = made.plan_region(bar)
    loop = max((g for g in lines if (g[:, 2] == -1.5).all()), key=len)
    x0, y0, x1, y1 = shapely.linestrings(loop[:, :2]).bounds
    off = 1.5 * TAN + 0.05
    assert (x0, y0, x1, y1) == pytest.approx((off, off, 40 - off, 10 - off), abs=1e-6)
    assert made.floor is not None
    inset = 1.5 * TAN + 0.01
    whole = (40 - 2 * inset) * (10 - 2 * inset)
    assert made.floor.compute_cleared(bar).area == pytest.approx(whole - (1 - math.pi / 4) * 1.5**2, abs=2e-3)


def test_the_section_of_a_bar_is_a_trapezium() -> None:
    """At every depth the opening across the middle of the bar is its width minus 2 z tan 30°, down to the floor and no
    deeper: the section of a flat-bottomed groove."""
    made, bar = planner(), shapely.box(0, 0, 40, 10)
    lines = made.plan_region(bar)
    assert made.floor is not None
    milled = made.floor.compute_cleared(bar)
    for depth in (0.0, 0.4, 1.0, 1.48):
        cut = shapely.union(sweep_at(lines, BIT, depth), milled)
        middle = shapely.intersection(cut, shapely.linestrings([(20, -1), (20, 11)]))
        assert middle.length == pytest.approx(10 - 2 * depth * TAN, abs=2e-3)
    assert min(float(g[:, 2].min()) for g in lines) == -1.5


@pytest.mark.parametrize(
    ("bit", "face", "cap", "text", "depth", "mill"),
    [
        ("vbit-60", "noto-sans", 60.0, "&", 2.0, "endmill-3"),
        ("vbit-60", "roboto-slab", 60.0, "R", 2.0, "endmill-1-5"),
        ("vbit-90", "eb-garamond", 60.0, "g", 1.0, "endmill-1-5"),
        ("vbit-30", "great-vibes", 60.0, "R", 0.8, "endmill-0-8"),
    ],
)
def test_letters_keep_their_walls_and_get_their_floor(bit, face, cap, text, depth, mill) -> None:
    """Simulated from the lines and areas alone: nothing beyond the letter at the face, nothing beyond its walls at the
    floor, and at most a two-thousandth of the floor is left."""
    piece = replace(set_line(text, face, cap).rows[0].pieces[0], x=0.0, y=0.0)
    found = GrooveSweeper(planner(depth, mill, bit)).sweep(piece.shape, piece.scale)
    assert found.floor is not None
    assert max(found.cut.overcut, found.floor.overcut) < 0.004
    assert max(found.cut.undercut, found.floor.undercut) < 0.005
    assert found.floor_missed_share < 5e-4 and found.missed_share < 5e-4


def test_a_stroke_no_wider_than_a_plain_groove_has_no_floor() -> None:
    piece = replace(set_line("l", "noto-sans", 12.0).rows[0].pieces[0], x=0.0, y=0.0)
    made, plain = planner(), GroovePlanner(BIT, 0.01)
    assert made.compute_cleared(piece.shape, piece.scale).is_empty
    cut, meant = (sweep(p.plan_piece(piece), BIT) for p in (made, plain))
    assert shapely.symmetric_difference(cut, meant).area < 1e-6


def test_a_floor_too_narrow_for_the_flat_cutter_is_left_to_the_bit_or_reported(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A stroke whose floor is narrower than the flat cutter: the bit clears it in parallel tracks; where these would be
    too many, the floor stays uncut, and the simulation reports it."""
    bar = shapely.box(0, 0, 40, 4)
    made = planner(mill="endmill-6")
    assert made.floor is not None and made.floor.compute_cleared(bar).is_empty
    at = made.floor.designed - RIDGE
    meant = shapely.box(at * TAN, at * TAN, 40 - at * TAN, 4 - at * TAN)
    left = shapely.difference(find_reachable(meant, 0.05), sweep_at(made.plan_region(bar), BIT, at))
    assert left.area < 0.001 * meant.area
    piece = replace(set_line("I", "roboto-slab", 40.0).rows[0].pieces[0], x=0.0, y=0.0)
    assert GrooveSweeper(made).sweep(piece.shape, piece.scale).floor_missed_share < 1e-3
    monkeypatch.setattr(flat_floor, "MOST_TRACKS", 3)
    assert GrooveSweeper(planner(mill="endmill-6")).sweep(piece.shape, piece.scale).floor_missed_share > 0.01


def test_a_toolpath_shifted_sideways_is_detected_at_the_floor(monkeypatch: pytest.MonkeyPatch) -> None:
    """A shift of 0.03 mm: the floor is then cut into one wall by that much."""
    piece = replace(set_line("I", "roboto-slab", 40.0).rows[0].pieces[0], x=0.0, y=0.0)
    right = GroovePlanner.plan_piece
    monkeypatch.setattr(GroovePlanner, "plan_piece", lambda self, *a: [g + (0.03, 0, 0) for g in right(self, *a)])
    found = GrooveSweeper(planner()).sweep(piece.shape, piece.scale)
    assert found.floor is not None and found.floor.overcut == pytest.approx(0.03, abs=0.002)


def check(line, **parts):
    designed = (LineConfig(text="{name}", face="roboto-slab", cap_height=line.cap_height),)
    made = order(**parts).model_copy(update={"line": designed})
    cutter, limits = resolve_cutter(made, 19.0)
    return made, check_all(artwork(line), blank(), cutter, limits, MEASURES, made).findings


@pytest.mark.parametrize(
    ("parts", "code"),
    [
        ({"limits": LimitsConfig(deepest=1.0)}, "groove.too-deep"),
        ({"cutter": CutterConfig(use="vbit-60", diameter=3.0)}, "groove.wider-than-cutter"),
    ],
)
def test_the_flat_floor_is_advised_and_the_advice_is_right(parts, code) -> None:
    line = set_line("I", "roboto-slab", 30.0)
    made, said = check(line, files=FilesConfig(grooves=True), **parts)
    (stop,) = [f for f in said if f.code == code]
    (flat,) = [w for w in stop.ways if w.code == "cleared-floor"]
    assert "into [clearing]" in catalogue.format_remedy(stop)
    mended = apply_edits(made, flat.edits)
    _, after = check(line, files=mended.files, clearing=mended.clearing, **parts)
    assert [f.code for f in after] == ["groove.flat-floor"]
    depth = dict(after[0].facts)["depth"]
    assert depth == (1.0 if "limits" in parts else pytest.approx((3.0 - 0.1) / 2 / TAN))
    assert "flat floor" in catalogue.format_for_client(after[0])


def test_sanding_lowers_the_floor_depth_and_keeps_the_walls() -> None:
    """With compensation, everything is 0.2 deeper, the finished floor is 1.3 below the sanded face, and letters don't
    change."""
    piece = replace(set_line("R", "roboto-slab", 40.0).rows[0].pieces[0], x=0.0, y=0.0)
    found = GrooveSweeper(planner(lowered=0.2)).sweep(piece.shape, piece.scale)
    assert found.floor is not None
    assert max(found.cut.overcut, found.floor.overcut) < 0.004 and found.floor_missed_share < 5e-4
    made = order(
        files=FilesConfig(grooves=True),
        finish=FinishConfig(sanded_off=0.2, compensate=True),
        clearing=ClearingConfig(use="endmill-1-5"),
        limits=LimitsConfig(deepest=1.5),
    )
    floor = build_flat_floor(made, BIT)
    assert floor is not None and floor.depth == 1.5


@pytest.mark.parametrize(
    ("parts", "said"),
    [
        ({"files": FilesConfig()}, "grooves is false"),
        ({"cutter": CutterConfig(use="point")}, "cuts no grooves"),
        ({"limits": LimitsConfig(deepest=7.0)}, "reaches only"),
        ({"clearing": ClearingConfig(use="endmill-99")}, "no end mill “endmill-99”"),
        ({"cutter": CutterConfig(kind="v-bit", angle=60.0), "limits": LimitsConfig()}, "nothing limits how deep"),
        ({"finish": FinishConfig(sanded_off=1.6, compensate=True)}, "of which sanding takes"),
    ],
)
def test_a_floor_that_cannot_be_cleared_is_reported_before_anything_is_made(parts, said) -> None:
    given = {
        "files": FilesConfig(grooves=True),
        "limits": LimitsConfig(deepest=1.5),
        "clearing": ClearingConfig(use="endmill-1-5", reach=6.0),
        "cutter": CutterConfig(use="vbit-60", diameter=12.0),
    }
    with pytest.raises(CannotRun, match=said):
        check_order(builders.folder(**{**given, **parts}), builders.slanted_blank())


SIGN = """
title = "Signs of the Reach"
client = "Saltmarsh Rowers"
[list]
file = "list.csv"
columns = {{ name = "Name" }}
[blank]
shape = "rectangle"
width = 90.0
height = 60.0
thickness = 10.0
[cutter]
use = "vbit-60"
[limits]
deepest = 1.2
[[line]]
text = "{{name}}"
face = "roboto-slab"
cap_height = 30.0
[files]
grooves = true
curves = "{curves}"
version = "{version}"
[clearing]
use = "endmill-1-5"
"""


@pytest.mark.parametrize(("curves", "version"), [("arcs", "R2010"), ("lines", "R12")])
def test_the_floor_has_its_own_layer_read_back_and_simulated(tmp_path: Path, curves: str, version: str) -> None:
    (tmp_path / "order.toml").write_text(SIGN.format(curves=curves, version=version), encoding="utf-8")
    (tmp_path / "list.csv").write_text("Name\nI7\n", encoding="utf-8")
    done = run_order(tmp_path, workers=1, prove=True)
    (plaque,) = done.outcome.plaques
    assert plaque.state == "ready" and [f.code for f in plaque.findings] == ["groove.flat-floor"]
    figures = dict(plaque.proved)
    assert figures["overcut"] < 0.012 and figures["undercut"] < 0.012
    assert figures["floor_overcut"] < 0.012 and figures["floor_uncut_area"] < 0.15
    doc = ezdxf.readfile(tmp_path / "out" / plaque.cut_file)
    assert not doc.audit().errors
    areas = [e for e in doc.modelspace() if e.dxf.layer == "FLOOR"]
    assert areas and all(e.is_closed for e in areas)
    deep = [v.dxf.location.z for e in doc.modelspace() if e.dxf.layer == "GROOVE" for v in e.vertices]
    assert min(deep) == pytest.approx(-1.2) and max(deep) > -0.2
    widest = max(float(np.ptp([p[0] for p in e.get_points()])) for e in areas) if version != "R12" else 3.0
    assert widest > 2.0
