"""Cutters: the shelf, the depth formula against published tables, limits and their sources."""

import math

import pytest

from pipeline.core.config.order import BlankConfig, CutterConfig, LimitsConfig, LineConfig, ListConfig, Order
from pipeline.core.config.shop_tables import ClearingConfig
from pipeline.core.errors import CannotRun
from pipeline.core.units import Units
from pipeline.cutting.cutters import (
    EndMill,
    VBit,
    choose_cutter,
    compute_limits,
    get_clearing_mill,
    load_cutter_shelf,
    resolve_cutter,
)


def order(**parts):
    return Order(
        title="Trial",
        list=ListConfig(file="x.xlsx"),
        blank=BlankConfig(shape="rectangle", width=100.0, height=50.0),
        line=(LineConfig(text="{name}", face="noto-sans", cap_height=8.0),),
        **parts,
    )


# d / w at t = 0. 60°: ISO 68-1, thread height H = .866025 P. 55°: Whitworth, .960491 P. 47.5°: BA, 1.1363365 P.
# 118°, 90°, 135°: drill points, .300, .500, .207 of the diameter. The others computed from the formula.
PUBLISHED = {60: 0.866025, 55: 0.960491, 47.5: 1.1363365, 118: 0.300, 90: 0.500, 135: 0.207, 30: 1.866025, 82: 0.575184}


@pytest.mark.parametrize(("angle", "ratio"), PUBLISHED.items())
def test_depth_against_published_tables(angle, ratio):
    bit = VBit(name="b", angle=float(angle), tip=0.0, diameter=50.0)
    assert bit.compute_depth(10.0) == pytest.approx(10 * ratio, abs=0.006)
    assert bit.compute_width(bit.compute_depth(7.0)) == pytest.approx(7.0)


def test_countersink():
    """Published: a countersink from 5 mm to 10 mm is 2.5 mm deep at 90° and 2.876 mm at 82°."""
    assert VBit(name="b", angle=90.0, tip=5.0).compute_depth(10) == pytest.approx(2.5)
    assert VBit(name="b", angle=82.0, tip=5.0).compute_depth(10) == pytest.approx(2.876, abs=5e-4)


@pytest.mark.parametrize(("angle", "change"), [(60.0, 1.1547), (90.0, 2.0), (30.0, 0.5359)])
def test_sanding_narrows_by_two_s_tan(angle, change):
    assert VBit(name="b", angle=angle).compute_thinning(1.0) == pytest.approx(change, abs=5e-5)
    assert EndMill(name="e", diameter=3.0).compute_thinning(1.0) == 0


def test_narrower_than_the_tip_has_no_depth():
    assert VBit(name="b", angle=60.0, tip=0.2).compute_depth(0.1) == 0
    with pytest.raises(ValueError, match="no V-bit"):
        EndMill(name="e", diameter=3.0).compute_depth(1)


def test_every_cutter_of_the_shelf_is_usable_and_names_its_source():
    kinds = set()
    for name in load_cutter_shelf():
        cutter, limits = resolve_cutter(order(cutter=CutterConfig(use=name)), 19.0)
        kinds.add(cutter.kind)
        assert cutter.source
        assert limits.stroke.value > 0
        assert all(getattr(limits, n).source for n in ("stroke", "land", "deepest", "shallowest"))
        assert dict(cutter.list_values())["kind"] == cutter.kind
    assert kinds == {"v-bit", "end-mill", "point", "laser"}


def test_a_mill_given_by_its_size_is_named_in_the_units_of_the_order():
    mills = [get_clearing_mill(order(units=unit, clearing=ClearingConfig(diameter=3.175))) for unit in ("in", "mm")]
    assert [mill.name for mill in mills] == ["end mill 0.125", "end mill 3.175"]


def test_limits_follow_from_the_cutter():
    _, limits = resolve_cutter(order(), 19.0)
    assert limits.stroke.value == pytest.approx(0.1 + 2 * 0.1 * math.tan(math.radians(30)))
    assert "tip 0.1 mm" in limits.stroke.source
    _, inch = resolve_cutter(order().model_copy(update={"units": "in"}), 19.0)
    assert (inch.stroke.value, inch.land.value) == (limits.stroke.value, limits.land.value)
    assert inch.stroke.source == "vbit-60: tip 0.0039 in + 2 × shallowest groove 0.0039 in × tan(A/2)"
    assert inch.land.source == "the larger of the tip (0.0039 in) and 0.0079 in: common practice, no source"
    assert limits.land.value == 0.2
    assert limits.deepest.value == pytest.approx((6.0 - 0.1) / (2 * math.tan(math.radians(30))))
    _, limits = resolve_cutter(order(cutter=CutterConfig(use="endmill-1-5")), None)
    assert limits.stroke.value == 1.5
    assert limits.deepest.value == 6.0


def test_the_order_s_limits_come_first_and_the_stock_is_the_last_limit():
    written = order(limits=LimitsConfig(stroke=0.2, land=0.35, deepest=1.2, shallowest=0.05))
    _, limits = resolve_cutter(written, 19.0)
    assert [limits.stroke.value, limits.land.value, limits.deepest.value, limits.shallowest.value] == [
        0.2, 0.35, 1.2, 0.05,
    ]  # fmt: skip
    assert all("order.toml" in s for n, s in limits.list_values() if n.endswith("_source"))
    _, limits = resolve_cutter(written, 1.0)
    assert (limits.deepest.value, limits.deepest.source) == (1.0, "the thickness of the stock")


def test_own_cutters_and_changes_to_cutters_of_the_shelf():
    own = choose_cutter(CutterConfig(kind="v-bit", angle=45.0, tip=0.3))
    assert (own.name, own.angle, own.tip) == ("v-bit", 45.0, 0.3)
    assert own.widest is None
    changed = choose_cutter(CutterConfig(use="vbit-60", tip=0.25))
    assert (changed.tip, changed.angle) == (0.25, 60.0)
    assert "tip from [cutter]" in changed.source
    assert compute_limits(order(), own, None).deepest.value is None


@pytest.mark.parametrize(
    ("part", "words"),
    [
        (CutterConfig(use="vbit60"), "Did you mean “vbit-60”"),
        (CutterConfig(), "names no cutter"),
        (CutterConfig(kind="v-bit"), "angle: missing; expected a number: kind = .v-bit. needs it"),
        (CutterConfig(kind="laser"), "kerf: missing; expected a number"),
        (CutterConfig(use="vbit-60", kind="laser"), "is a v-bit"),
        (CutterConfig(kind="v-bit", angle=60.0, tip=3.0, diameter=3.0), "narrower than the bit"),
    ],
)
def test_faults_of_the_cutter(part, words):
    with pytest.raises(CannotRun, match=words):
        choose_cutter(part)


def test_a_fault_of_an_order_in_inches_is_reported_in_inches():
    with pytest.raises(CannotRun, match=r"a flat tip of 0\.25 in on a bit of 0\.125 in"):
        choose_cutter(CutterConfig(kind="v-bit", angle=60.0, tip=6.35, diameter=3.175), units=Units("in"))


def test_what_has_no_tip_is_not_said_to_have_one():
    _, limits = resolve_cutter(order(cutter=CutterConfig(use="laser")), None)
    assert (limits.land.value, limits.land.source) == (0.2, "common practice, no source")
