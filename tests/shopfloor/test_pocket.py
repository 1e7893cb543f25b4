"""Pockets: closed forms of corners, and an independent pixel count."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from scipy.spatial import cKDTree
from skimage import measure, morphology

from pipeline.core.catalogue import format_message
from pipeline.core.config.shop_tables import PocketConfig
from pipeline.cutting.cutters import load_cutter_shelf
from pipeline.geometry.curves import Chain
from pipeline.shopfloor.pocket import (
    find_inside_features,
    find_widest_cutter,
    measure_widest_circle,
    open_region,
    plan_pocket,
)
from tests.builders import circle, rectangle
from tests.reference.shop_values import CORNERS, INCH_CUTTERS, sharp_corner
from tests.shopfloor.shop_shapes import chain, holding, mill, rounded


@pytest.mark.parametrize("angle", CORNERS)
@pytest.mark.parametrize("radius", [0.8, 3.0])
def test_a_round_cutter_in_a_corner(angle: int, radius: float) -> None:
    area, reach = CORNERS[angle]
    plan, _ = plan_pocket(holding(chain(sharp_corner(angle))), PocketConfig(depth=1.0), mill(2 * radius), None)
    corner = min(plan.corners, key=lambda c: math.hypot(*c.at))
    assert corner.at == pytest.approx((0, 0), abs=1e-6)
    assert corner.area == pytest.approx(area * radius**2, rel=3e-3)
    assert corner.off == pytest.approx(reach * radius, rel=3e-3)
    assert corner.drawn == 0.0 and corner.left == radius
    assert len(plan.corners) == 3 and plan.smallest_inside == 0.0


def test_two_inch_cutters_in_a_rectangle() -> None:
    plan, _ = plan_pocket(holding(rectangle(0, 0, 60, 40)), PocketConfig(depth=1.0), mill(6.35), mill(1.5875))
    assert plan.drawn.area - plan.rough.area == pytest.approx(4 * INCH_CUTTERS["rough"], rel=1e-3)
    assert plan.rest.area == pytest.approx(4 * INCH_CUTTERS["rest"], rel=1e-3)
    assert plan.unreachable.area == pytest.approx(4 * INCH_CUTTERS["fine"], rel=1e-3)
    assert plan.cut_area + plan.unreachable.area == pytest.approx(2400.0, rel=1e-5)
    assert len(plan.rest.rings) == 4


def test_a_corner_with_the_radius_of_the_cutter_is_cleared() -> None:
    plan, findings = plan_pocket(holding(rounded(60, 40, 3.0)), PocketConfig(depth=1.0), mill(6.0), mill(3.0))
    assert plan.unreachable.area < 0.05 and plan.corners == ()
    # Chords of the two arcs leave .005 mm² in each corner: reported, but not worth a change of cutter.
    (said,) = findings
    assert said.code == "pocket.specks" and said.get_fact("places") == 4 and said.measured < 4 * 0.01
    assert [t.role for t in plan.tools] == ["rough"] and plan.rest.area == 0.0
    assert "not needed" in format_message(said)
    assert plan.smallest_inside == pytest.approx(3.0, rel=1e-9)
    assert plan.clears_all == pytest.approx(6.0, abs=0.06)  # a leftover of SEEN hides (√2 − 1) of the difference
    assert plan.widest_in == pytest.approx(40.0, abs=0.01)


def test_a_corner_tighter_than_the_cutter_is_reported_with_its_drawn_radius() -> None:
    plan, findings = plan_pocket(holding(rounded(60, 40, 1.0)), PocketConfig(depth=1.0), mill(6.0), None)
    assert [c.drawn for c in plan.corners] == pytest.approx([1.0] * 4)
    # between the arcs of 1 and 3: the square corner's leftover of 3 minus that of 1
    assert plan.corners[0].area == pytest.approx((1 - math.pi / 4) * (9 - 1), rel=3e-3)
    assert [f.code for f in findings] == ["pocket.corner-left"]
    assert findings[0].measured == pytest.approx((math.sqrt(2) - 1) * (3 - 1), rel=3e-3)


def test_the_tightest_radius_of_an_ellipse_is_that_at_its_ends() -> None:
    """The radius of curvature at the ends of an ellipse is b²/a. A wider cutter leaves there what nobody sees."""
    a, b = 40.0, 20.0
    at = [(a * math.cos(t), b * math.sin(t)) for t in np.linspace(0, 2 * math.pi, 97)[:-1]]
    half = [(a * math.cos(t), b * math.sin(t)) for t in np.linspace(0, 2 * math.pi, 193)[1::2]]
    bulges = []
    for p, q, m in zip(at, [*at[1:], at[0]], half, strict=True):
        height = abs((q[0] - p[0]) * (m[1] - p[1]) - (q[1] - p[1]) * (m[0] - p[0])) / math.dist(p, q)
        bulges.append(2 * height / math.dist(p, q))
    plan, _ = plan_pocket(holding(chain(at, bulges)), PocketConfig(depth=1.0), mill(6.0), None)
    assert plan.smallest_inside == pytest.approx(b * b / a, rel=0.01)
    assert plan.clears_all / 2 > 1.02 * b * b / a


def test_a_curve_of_short_straight_steps_has_no_radius() -> None:
    at = [(40 * math.cos(t), 20 * math.sin(t)) for t in np.linspace(0, 2 * math.pi, 721)[:-1]]
    plan, _ = plan_pocket(holding(chain(at)), PocketConfig(depth=1.0), mill(24.0), None)
    assert plan.smallest_inside is None
    assert [corner.drawn for corner in plan.corners] == [None, None]


@pytest.mark.parametrize("bulged", [False, True])
def test_a_tighter_curve_of_short_steps_beside_an_arc_leaves_no_radius(bulged: bool) -> None:
    """A drop: an arc of 20 mm, and round the other end one of 5 mm in steps of 2°, straight or as flat arcs. The lines
    between two circles touch them at an angle t with cos t = (R − r) / d."""
    touch = math.acos((20 - 5) / 60)
    turns = np.linspace(-touch, touch, 77)
    points = [(80 + 5 * math.cos(t), 20 + 5 * math.sin(t)) for t in turns]
    points += [(20 + 20 * math.cos(t), 20 + 20 * math.sin(t)) for t in (touch, -touch)]
    step = math.tan((turns[1] - turns[0]) / 4) if bulged else 0.0
    bulges = [*([step] * 76), 0.0, math.tan((2 * math.pi - 2 * touch) / 4), 0.0]
    plan, _ = plan_pocket(holding(chain(points, bulges)), PocketConfig(depth=1.0), mill(6.0), None)
    assert plan.smallest_inside is None
    assert plan.clears_all / 2 == pytest.approx(5.0, abs=0.2)


def test_an_island_is_left_standing() -> None:
    island = Chain(circle(30, 20, 5).vertices[::-1] * (1, 1, -1))
    plan, _ = plan_pocket(holding(rectangle(0, 0, 60, 40), island), PocketConfig(depth=1.0), mill(6.0), None)
    assert plan.drawn.area == pytest.approx(2400 - math.pi * 25, rel=1e-4)
    assert plan.unreachable.area == pytest.approx((4 - math.pi) * 9, rel=5e-3)
    assert plan.widest_in == pytest.approx(_beside_island(), abs=0.01)


def _beside_island() -> float:
    """The largest circle left of the island touches two sides and the island: r from (30 − r)² + (20 − r)² = (5 +
    r)² would be in a corner; the circle on the horizontal centre line touches the left side instead: 25 wide. By
    hand: both compared."""
    corner = min(r for r in np.roots([1, -110, 1275]).real if r > 0)  # r² − 110 r + 1275 = 0
    return float(max(2 * corner, 25.0))


def test_a_neck_stops_a_wide_cutter_but_not_a_narrow_one() -> None:
    dumbbell = shapely.union_all([shapely.box(0, 0, 20, 20), shapely.box(40, 0, 60, 20), shapely.box(20, 8, 40, 12)])
    ring = shapely.get_coordinates(dumbbell.exterior if dumbbell.exterior.is_ccw else dumbbell.exterior.reverse())[:-1]
    plan, _ = plan_pocket(holding(chain([tuple(p) for p in ring])), PocketConfig(depth=1.0), mill(6.0), mill(3.0))
    assert (plan.tools[0].entries, plan.tools[1].entries) == (2, 1)
    assert plan.rest.area == pytest.approx(20 * 4, rel=0.2)


def test_cutters_that_do_not_fit_or_reach() -> None:
    plan, findings = plan_pocket(
        holding(rectangle(0, 0, 60, 5)), PocketConfig(depth=14.0), mill(6.0), mill(3.0, reach=12)
    )
    assert plan.rough.area == 0.0 and plan.rest.area > 290
    assert [f.code for f in findings] == ["pocket.cutter-too-wide", "pocket.beyond-reach", "pocket.corner-left"]
    assert (findings[0].measured, findings[0].limit) == pytest.approx((6.0, 5.0), abs=0.01)
    assert (findings[1].measured, findings[1].limit) == (14.0, 12.0)
    _, fits = plan_pocket(
        holding(rectangle(0, 0, 60, 6.01)), PocketConfig(depth=12.0, corner=2), mill(6), mill(3, reach=12)
    )
    assert fits == ()


def test_steps_never_exceed_the_depth_per_pass() -> None:
    plan, _ = plan_pocket(
        holding(rectangle(0, 0, 60, 40)), PocketConfig(depth=14.0, depth_per_pass=3.0), mill(6.0), None
    )
    assert (plan.tools[0].passes, plan.tools[0].step) == (5, pytest.approx(2.8))
    plan, _ = plan_pocket(
        holding(rectangle(0, 0, 60, 40)), PocketConfig(depth=15.0, depth_per_pass=3.0), mill(6.0), None
    )
    assert (plan.tools[0].passes, plan.tools[0].step) == (5, pytest.approx(3.0))


def test_a_pocket_drawn_the_wrong_way_round_or_empty_is_refused() -> None:
    with pytest.raises(ValueError, match="wider"):
        plan_pocket(holding(rectangle(0, 0, 9, 9)), PocketConfig(depth=1.0), mill(3.0), mill(6.0))
    with pytest.raises(ValueError, match="no pocket"):
        plan_pocket(holding(), PocketConfig(depth=1.0), mill(3.0), None)


def test_inside_corners_are_distinguished_from_outside_ones() -> None:
    ell = chain([(0, 0), (20, 0), (20, 10), (10, 10), (10, 20), (0, 20)])
    assert sorted(at for _, at in find_inside_features((ell,))) == [(0, 0), (0, 20), (10, 20), (20, 0), (20, 10)]


# --- against pixels ----------------------------------------------------------------------------------------------

PIXEL = 0.04


class Raster:
    """A region as pixel centres and their distance to its outline: no polygon arithmetic, no buffers."""

    def __init__(self, ring: np.ndarray) -> None:
        a, b = ring, np.roll(ring, -1, axis=0)
        (x0, y0), (x1, y1) = ring.min(axis=0) - 1, ring.max(axis=0) + 1
        self.xs, self.ys = np.arange(x0, x1, PIXEL), np.arange(y0, y1, PIXEL)
        self.image = np.zeros((len(self.ys), len(self.xs)), bool)
        for i, y in enumerate(self.ys):  # inside where a horizontal line has crossed the outline an odd number of times
            over = (a[:, 1] <= y) != (b[:, 1] <= y)
            x = np.sort(a[over, 0] + (y - a[over, 1]) / (b[over, 1] - a[over, 1]) * (b[over, 0] - a[over, 0]))
            self.image[i] = np.searchsorted(x, self.xs) % 2 == 1
        self.middles = np.stack(np.meshgrid(self.xs, self.ys), axis=-1)
        self.wall = self.far_from(dense(a, b))

    def far_from(self, points: np.ndarray) -> np.ndarray:
        """Return the distance of each inside pixel to the nearest of the points; 0 outside."""
        out = np.zeros(self.image.shape)
        out[self.image] = cKDTree(points).query(self.middles[self.image])[0]
        return out

    def opened(self, radius: float) -> np.ndarray:
        """Return what a disc that stays inside reaches: pixels within its radius of a centre that far from the wall."""
        core = self.wall >= radius
        rings = [self.at(c) for c in measure.find_contours(np.where(self.image, self.wall, -1.0), radius)]
        points = np.concatenate([dense(r[:-1], r[1:]) for r in rings])
        return core | (self.image & (self.far_from(points) <= radius))

    def at(self, contour: np.ndarray) -> np.ndarray:
        return np.column_stack((self.xs[0] + contour[:, 1] * PIXEL, self.ys[0] + contour[:, 0] * PIXEL))

    def area(self, image: np.ndarray) -> float:
        return float(image.sum()) * PIXEL**2


def dense(a: np.ndarray, b: np.ndarray, step: float = 0.04) -> np.ndarray:
    """Return points every `step` along the segments from a to b."""
    n = np.maximum(1, np.ceil(np.hypot(*(b - a).T) / step).astype(int))
    which = np.repeat(np.arange(len(a)), n)
    t = (np.arange(len(which)) - np.repeat(np.cumsum(n) - n, n)) / n[which]
    return a[which] + t[:, None] * (b - a)[which]


def leaf() -> shapely.Polygon:
    """Return a leaf with notches, inside radii of about 1.7 and a stalk: unlike anything in the sample orders."""
    t = np.linspace(0, math.pi, 200)
    upper = np.column_stack((-30 + 60 * t / math.pi, 2 + 10 * np.sin(t) ** 0.8))
    lower = np.column_stack((30 - 60 * t / math.pi, -2 - 12 * np.sin(t) ** 0.9))
    shape = shapely.Polygon(np.vstack((upper, lower))).union(shapely.box(-42, -1.9, -25, 1.9))
    for x, lean in ((-10, 5), (4, 6), (16, 4)):
        shape = shape.difference(shapely.Polygon([(x, -1), (x + lean - 1.5, -20), (x + lean + 2.5, -20)]))
    shape = shape.buffer(-1.7, quad_segs=32).buffer(1.7, quad_segs=32).simplify(0.001)
    return max(shapely.get_parts(shape), key=lambda p: p.area)


def test_areas_of_a_free_form_match_a_count_of_pixels() -> None:
    shape = leaf()
    ring = shapely.get_coordinates(shape.exterior if shape.exterior.is_ccw else shape.exterior.reverse())[:-1]
    plan, _ = plan_pocket(holding(chain([tuple(p) for p in ring])), PocketConfig(depth=14), mill(10.0), mill(5.0))
    raster = Raster(ring)
    rough, last = raster.opened(5.0), raster.opened(2.5)
    assert plan.drawn.area == pytest.approx(raster.area(raster.image), rel=1e-3)
    assert plan.rough.area == pytest.approx(raster.area(rough), rel=1e-2)
    # single pixels along a wall that both cutters follow are artefacts of the grid
    rest, left = (morphology.opening(i, morphology.disk(1)) for i in (last & ~rough, raster.image & ~last))
    assert plan.rest.area > 20 and plan.unreachable.area > 20
    assert plan.rest.area == pytest.approx(raster.area(rest), rel=1e-2)
    assert plan.unreachable.area == pytest.approx(raster.area(left), rel=1e-2)


def test_opening_is_monotone_and_idempotent() -> None:
    shape = leaf()
    areas = [open_region(shape, r).area for r in (0.5, 1.0, 2.0, 3.0, 4.0)]
    assert areas == sorted(areas, reverse=True)
    once = open_region(shape, 2.5)
    assert open_region(once.buffer(1e-6), 2.5).area == pytest.approx(once.area, rel=1e-3)
    assert find_widest_cutter(shape, measure_widest_circle(shape)) == pytest.approx(2 * 1.7, abs=0.15)


def test_cutters_of_the_shelf_are_advised() -> None:
    plan, _ = plan_pocket(
        holding(rounded(60, 40, 1.6)), PocketConfig(depth=14), mill(6), mill(3), tuple(load_cutter_shelf().values())
    )
    told = {a.cutter.name: a for a in plan.advice}
    assert set(told) == {n for n, c in load_cutter_shelf().items() if c.kind == "end-mill"}
    assert told["endmill-3"].corners == 0 and told["endmill-3"].in_reach
    assert told["endmill-6"].corners == 4 and told["endmill-6"].clears < 1
    assert not told["endmill-0-8"].in_reach
