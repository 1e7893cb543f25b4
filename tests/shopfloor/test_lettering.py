"""The cutter's path over lettering and the volume it removes, compared with closed forms, pixels and the files' own
grooves."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from scipy.spatial import cKDTree

from pipeline.core.config.order import CutterConfig, FilesConfig, LimitsConfig
from pipeline.core.config.shop_config import OwnMaterial, ShopConfig
from pipeline.core.config.shop_tables import ClearingConfig, PourConfig, SpareConfig, StockConfig
from pipeline.core.storage.cache import Cache
from pipeline.cutting.cutters import EndMill, EngravingPoint, VBit, choose_cutter
from pipeline.cutting.v_carving import GroovePlanner, measure_travel
from pipeline.geometry.regions import build_polygon_from_outline
from pipeline.shopfloor.shop_plan import check_order, plan_shop
from pipeline.shopfloor.toolpath import (
    Toolpath,
    ToolpathPlanner,
    compute_groove_volume,
    plan_area_toolpath,
    plan_groove_toolpath,
    plan_line_toolpath,
)
from tests.builders import KEPT, artwork, folder, outcome, shape

SHARP = VBit(name="60", angle=60.0)
TAN = math.tan(math.radians(30))


# --- volume of a groove -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("region", "integral"),
    [
        # a sharp bit leaves a roof of slope 1 / tan(A/2): the volume under it is the integral of the distance to the
        # edge. Rectangle L × w: w² (3L − w) / 12 (hip roof); disc: π R³ / 3 (cone); 3-4-5 triangle: area × inner radius
        # / 3 (pyramid); ring: two cones' difference, ∫ of the distance = 2π r (w/2)² with r the middle radius.
        (shapely.box(0, 0, 20, 2), 4 * (60 - 2) / 12),
        (shapely.Point(0, 0).buffer(3, quad_segs=64), math.pi * 27 / 3),
        (shapely.Polygon([(0, 0), (4, 0), (0, 3)]), 6 * 1 / 3),
        (shapely.Point(0, 0).buffer(6, quad_segs=64) - shapely.Point(0, 0).buffer(4, quad_segs=64), 2 * math.pi * 5),
    ],
)
def test_volume_under_a_sharp_bit(region: Any, integral: float) -> None:
    assert compute_groove_volume(region, SHARP) == pytest.approx(integral / TAN, rel=5e-3)


def test_a_flat_tip_removes_less_and_leaves_a_flat_floor() -> None:
    """Rectangle 20 × 2, tip 0.4: frustum of lengths. By hand: at depth z the open part is (20 − 2a) × (2 − 2a) with
    a = z tan 30°, its corners rounded by .2, down to a = 0.8."""
    tip, end = 0.2, 0.8
    area = 40 * end - 44 * end**2 / 2 + 4 * end**3 / 3 - (4 - math.pi) * tip**2 * end
    assert compute_groove_volume(shapely.box(0, 0, 20, 2), replace(SHARP, tip=0.4)) == pytest.approx(
        area / TAN, rel=5e-3
    )
    assert compute_groove_volume(shapely.box(0, 0, 20, 0.3), replace(SHARP, tip=0.4)) == 0.0


def test_a_stroke_wider_than_the_bit_is_cut_as_deep_as_the_bit_goes() -> None:
    """A bit of 2 mm on a square of 10: by hand, (10 − 2a)² from a = 0 to 1."""
    volume = (100 - 40 / 2 + 4 / 3) / TAN
    assert compute_groove_volume(shapely.box(0, 0, 10, 10), replace(SHARP, diameter=2.0)) == pytest.approx(
        volume, rel=5e-3
    )


def test_a_flat_floor_is_cut_no_deeper_than_its_depth() -> None:
    """A square of 10 with a floor 1.5 deep: by hand (10 − 2a)² from a = 0 to 1.5 tan 30° = 0.866; with 0.2 sanded
    off later, the floor is 1.3 below the finished face, plus 0.2 above it that grows outwards with round corners."""
    end = 1.5 * TAN
    volume = (100 * end - 20 * end**2 + 4 * end**3 / 3) / TAN
    assert compute_groove_volume(shapely.box(0, 0, 10, 10), SHARP, track=end) == pytest.approx(volume, rel=5e-3)
    low, end = 0.2 * TAN, 1.3 * TAN
    volume = (100 * end - 20 * end**2 + 4 * end**3 / 3) / TAN
    volume += (100 * low + 20 * low**2 + math.pi * low**3 / 3) / TAN
    assert compute_groove_volume(shapely.box(0, 0, 10, 10), SHARP, 0.2, end) == pytest.approx(volume, rel=5e-3)


def test_resin_for_letters_with_flat_floors_is_less() -> None:
    """Noto Sans's l of 20 mm is a bar 2.4 mm wide, 1.9 mm deep without a floor, 0.5 with one."""
    art = artwork((("l",),), cap_heights=(20.0,), stem="NotoSans")
    poured = {"pour": PourConfig(fills="lettering"), "files": FilesConfig(grooves=True)}
    deep = folder(**poured).order
    flat = folder(**poured, clearing=ClearingConfig(diameter=0.5), limits=LimitsConfig(deepest=0.5)).order
    volumes = [ToolpathPlanner(o, choose_cutter(o.cutter)).plan_lettering(art).volume for o in (deep, flat)]
    bar = build_polygon_from_outline(art.list_pieces()[0].build_outline(), 0.001)
    foot = 0.5 * TAN
    meant = (bar.area + bar.buffer(-foot, join_style="mitre").area) / 2 * 0.5  # approximately a frustum
    assert volumes[1] == pytest.approx(meant, rel=1e-2) and volumes[0] > 1.3 * volumes[1]


def test_a_cached_toolpath_is_not_used_for_another_shop(tmp_path: Path) -> None:
    """The shop file states the depth per pass in a material; the order itself is the same."""
    art = artwork((("n",),), cap_heights=(8.0,), stem="NotoSans")
    order = folder(stock=StockConfig(material="horn")).order
    shops = [ShopConfig(material=(OwnMaterial(name="horn", pass_v_bit=deep),)) for deep in (0.1, 0.4)]
    cutter, cache = choose_cutter(order.cutter), Cache(tmp_path)
    kept = [ToolpathPlanner(order.apply_shop(shop), cutter, cache).plan_lettering(art) for shop in shops]
    assert kept == [ToolpathPlanner(order.apply_shop(shop), cutter).plan_lettering(art) for shop in shops]
    assert kept[0].length > kept[1].length


@pytest.mark.parametrize("letter", ["R", "g"])
def test_the_volume_of_letters_matches_a_count_of_pixels(letter: str) -> None:
    """The distance to the edge, summed over pixels of 1/200 cap height; each distance is to the nearest of points
    sampled densely along the outline. Independent of our buffers."""
    form = shape(letter, "NotoSans")
    region = shapely.transform(build_polygon_from_outline(form.outline, 0.2), lambda p: p * (8.0 / form.cap_units))
    x0, y0, x1, y1 = region.bounds
    step = 8.0 / 200
    places = np.stack(np.meshgrid(np.arange(x0, x1, step), np.arange(y0, y1, step)), axis=-1).reshape(-1, 2)
    shapely.prepare(region)
    inside = places[shapely.contains_xy(region, *places.T)]
    edge = shapely.get_coordinates(shapely.segmentize(region.boundary, step / 10))
    depths = cKDTree(edge).query(inside)[0]
    assert compute_groove_volume(region, SHARP) == pytest.approx(depths.sum() * step**2 / TAN, rel=1e-2)


# --- ways ---------------------------------------------------------------------------------------------------------


def test_the_toolpath_of_successive_grooves() -> None:
    """By hand: 3-4-5 down a slope of z, then on without a lift, then 2 more after a lift, 0.5 deep immediately."""
    lines = [
        np.array([[0, 0, 0], [0, 3, -4]], float),
        np.array([[0, 3, -4], [1, 3, -4]], float),
        np.array([[5, 5, -0.5], [7, 5, -0.5]], float),
    ]
    assert plan_groove_toolpath(lines) == Toolpath(length=8.0, lifts=2, plunge=0.5)


def test_toolpaths_of_a_followed_line_and_a_cleared_pocket() -> None:
    lines = [np.array([[0, 0], [10, 0]], float), np.array([[10, 0], [10, 5]], float), np.array([[0, 9], [2, 9]], float)]
    point = EngravingPoint(name="p", tip=0.2)
    assert plan_line_toolpath(lines, point, (0.1, 1)) == Toolpath(length=17.0, lifts=2, plunge=0.2, volume=0.34)
    # 2 mm mill in a square of 10, stepover 1: loops of 8, 6, 4 and 2 a side, three moves of 1 between them; two passes
    mill = EndMill(name="m", diameter=2.0)
    way = plan_area_toolpath(shapely.box(0, 0, 10, 10), mill, 1.0, (2.0, 2))
    assert (way.length, way.lifts, way.plunge) == (pytest.approx(2 * (80 + 3)), 2, 2.0)
    assert way.volume == pytest.approx(2 * (100 - (4 - math.pi)), rel=1e-3)
    assert plan_area_toolpath(shapely.box(0, 0, 10, 1.9), mill, 1.0, (2.0, 2)) == Toolpath()


def test_the_toolpath_of_lettering_is_that_of_the_written_grooves() -> None:
    """Letter by letter the same length, and as many lifts, as the grooves of the cut file."""
    art = artwork((("Tern",),), cap_heights=(8.0,), stem="NotoSans")
    order = folder().order
    cutter = choose_cutter(order.cutter)
    seen = measure_travel(GroovePlanner(cutter, order.files.tolerance).plan(art))
    way = ToolpathPlanner(order, cutter).plan_lettering(art)
    assert way.length == pytest.approx(seen.cutting, rel=1e-6) and way.lifts == seen.lifts
    assert way.volume == 0.0 and ToolpathPlanner(order, cutter).plan_lettering(art, "back") == Toolpath()
    filled = ToolpathPlanner(folder(pour=PourConfig(fills="lettering")).order, cutter).plan_lettering(art)
    assert filled.length == way.length and filled.volume > 1.0


def test_toolpath_values_are_cached_and_independent_of_position(tmp_path, monkeypatch) -> None:
    art = artwork((("n",),), cap_heights=(8.0,), stem="NotoSans")
    cache = Cache(tmp_path)
    order = folder().order
    ways = ToolpathPlanner(order, choose_cutter(order.cutter), cache)
    first = ways.plan_lettering(art)
    cache.flush()
    monkeypatch.setattr(ToolpathPlanner, "_plan_one", None)  # following a letter would now fail
    assert ToolpathPlanner(order, choose_cutter(order.cutter), Cache(tmp_path)).plan_lettering(art) == first
    monkeypatch.undo()
    line = art.lines[0]
    moved = replace(line.rows[0], pieces=tuple(replace(p, x=p.x + 31.7, y=p.y - 3.3) for p in line.rows[0].pieces))
    there = replace(art, lines=(replace(line, rows=(moved,)),))
    assert ToolpathPlanner(order, choose_cutter(order.cutter)).plan_lettering(there) == first


@pytest.mark.parametrize("use", ["endmill-0-8", "laser-fine", "point"])
def test_other_cutters_have_their_own_toolpaths(use: str) -> None:
    """Noto Sans's l is one upright bar. Laser and point go around it once, half a line's width inside; a mill runs
    in loops and clears the bar except its corners, (4 − π) r²."""
    order = folder(cutter=CutterConfig(use=use), limits=LimitsConfig(deepest=0.5)).order
    cutter = choose_cutter(order.cutter)
    art = artwork((("l",),), cap_heights=(20.0,), stem="NotoSans")
    way = ToolpathPlanner(order, cutter).plan_lettering(art)
    bar = build_polygon_from_outline(art.list_pieces()[0].build_outline(), 0.001)
    once = bar.length - 4 * cutter.line_width
    if use == "endmill-0-8":
        assert way.volume == pytest.approx((bar.area - (4 - math.pi) * 0.4**2) * 0.5, rel=1e-3)
        assert way.length > 1.5 * 2 * once  # two passes of at most .4, each of several loops
    else:
        assert (way.length, way.lifts) == (pytest.approx(once), 1)


def test_a_pour_into_letters_needs_their_depth() -> None:
    mill = {"cutter": CutterConfig(use="endmill-1-5"), "pour": PourConfig(fills="lettering")}
    with pytest.raises(Exception, match=r"\[limits\] deepest"):
        check_order(folder(**mill), outcome().blank)
    check_order(folder(**mill, limits=LimitsConfig(deepest=1.0)), outcome().blank)


def test_a_test_piece_takes_as_long_as_a_piece_with_its_flat_floors() -> None:
    spare, cleared = SpareConfig(test_piece=True), ClearingConfig(diameter=0.5)
    limits, run = LimitsConfig(deepest=0.3), outcome()
    order = folder(files=FilesConfig(grooves=True), clearing=cleared, limits=limits, spare=spare)
    plan, _ = plan_shop(order, run.blank, run.plaques, cache=KEPT)
    took = {item.name: item.minutes for item in plan.estimate.items}
    whole = took["lettering"] + took["flat floors, end mill 0.5"]
    assert took["test piece on an offcut"] == pytest.approx(whole / plan.pieces)
