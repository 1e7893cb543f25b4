"""Speeds, feeds, passes and what has to stay under a cut, each with where it comes from.

Spindle speed n = 1000 vc / (π D), feed vf = n · z · fz: vc the cutting speed in m/min, D the cutter's diameter in mm, z
its flutes, fz the chip each of them takes in mm (SME chapter S118, “Useful Formulas for Machining”, in inches: N = 12 V
/ (π D), F = f n N). A figure that neither the order nor the shop file nor the material gives is not there: None.

Long cutters: the bending stress at the collet is 32 F L / (π D³) for a force F at a length L (beam formula of any
handbook). Up to `FREE_LENGTH` diameters a cutter takes its whole chip; beyond, the feed falls as L grows, so that the
stress stays that of `FREE_LENGTH` diameters, the force being taken as proportional to the chip. Lengths mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from pipeline.core.config.order import Order
from pipeline.core.config.shop_tables import PRACTICE, RatesConfig, get_source
from pipeline.core.required import require_value
from pipeline.core.work_steps import compute_off_before_lettering
from pipeline.cutting.cutters import Cutter
from pipeline.cutting.materials import SourcedValue, get_material, load_material_shelf

CLEAR = 3.0
"""mm of air between the collet and the work at full depth (common practice, no source)."""
FREE_LENGTH = 4.0
"""Diameters that a cutter may stick out at its whole feed (common practice, no source)."""
DEEPER = ((1.0, 1.0), (2.0, 0.75), (3.0, 0.5))
"""Depth of a pass in diameters up to which the chip keeps this share: less 25 % at two, less 50 % at three (common
practice, no source)."""
PRACTICE_HALF = "half the cutter's diameter: common practice, no source"
GUIDE_DEPTH = 1.0
"""mm of an outline's line that can be seen and followed beside a saw's blade (common practice, no source)."""
SAW_MARKS = 0.4
"""mm that planing or sanding takes off a sawn side until its saw marks are gone, P80 to P180 (common practice, no
source): as [stock] `sanded_back` for a back that is sawn off."""
THINNEST = 1e-9


def compute_spindle_speed(vc: float, diameter: float) -> float:
    """n = 1000 vc / (π D), in revolutions a minute; vc in m/min, D in mm."""
    return 1000 * vc / (math.pi * diameter)


def compute_table_feed(n: float, flutes: int, chip: float) -> float:
    """vf = n · z · fz, in mm/min."""
    return n * flutes * chip


def compute_long_cutter_share(stick_out: float, diameter: float) -> float:
    """Return the share of the feed that remains for a cutter that sticks out this far: min(1, 4 D / L)."""
    return min(1.0, FREE_LENGTH * diameter / stick_out) if stick_out > 0 else 1.0


def compute_deep_pass_share(step: float, diameter: float) -> float:
    """Return the share of the chip load that remains in a pass this deep."""
    return next((share for times, share in DEEPER if step <= times * diameter + THINNEST), DEEPER[-1][1])


@dataclass(frozen=True, slots=True, kw_only=True)
class Passes:
    """The passes in which a cut of this depth is made."""

    depth: float
    count: int
    source: str
    most: float | None = None  # greatest depth of one pass

    @property
    def step(self) -> float:
        """Depth of one of them."""
        return self.depth / self.count


def find_pass_depth(order: Order, cutter: Cutter) -> SourcedValue | None:
    """Depth of one pass of a cutter: the order's, the material's, and for an end mill without either half its diameter.
    None: nothing says."""
    own = order.cutter.depth_per_pass
    if own is not None and cutter.name == (order.cutter.use or order.cutter.kind):
        return SourcedValue(value=own, source="[cutter] depth_per_pass in order.toml")
    found = get_material(order).find_pass_depth(cutter.kind, cutter.diameter)
    if found is not None:
        return found
    if cutter.mills_pockets and cutter.diameter:
        return SourcedValue(value=cutter.diameter / 2, source=PRACTICE_HALF)
    return None


def choose_passes(order: Order, cutter: Cutter, depth: float) -> Passes:
    """The passes of a cut this deep: equal ones, none deeper than it may be; a single one where nothing says."""
    most = find_pass_depth(order, cutter)
    if most is None or depth <= 0:
        return Passes(depth=depth, count=1, source="nothing says how deep a pass may be")
    count = max(1, math.ceil(depth / most.value - THINNEST))
    return Passes(depth=depth, count=count, source=most.source, most=most.value)


def get_chip_load(order: Order, mill: Cutter) -> SourcedValue | None:
    """The chip of each flute of an end mill, mm: the order's, but no more than the greatest of the material's range, or
    the least of that range."""
    rates, material = order.rates, get_material(order)
    known = material.chip_load if mill.diameter else None
    if rates.chip_load is None:
        if known is None:
            return None
        told = f"{known[0]:g} D for {material.name}, {material.describe_source('chip_load')}"
        return SourcedValue(value=known[0] * (mill.diameter or 0.0), source=told)
    own, most = rates.chip_load, math.inf if known is None else known[1] * (mill.diameter or 0.0)
    if known is None or own <= most * (1 + THINNEST):
        return SourcedValue(value=own, source=get_source(rates, "chip_load"))
    told = (
        f"at most {known[1]:g} D for {material.name}, {material.describe_source('chip_load')}; the "
        f"{_format_length(order, own)} of "
        f"{get_source(rates, 'chip_load')} is too much for this cutter"
    )
    return SourcedValue(value=most, source=told)


RateKey = Literal["feed", "plunge", "rpm"]


def get_rate(order: Order, key: RateKey) -> float | None:
    """A rate of lettering that the maker entered, or its default where that holds, which is in wood; else None."""
    rates = order.rates
    if key in rates.taken or key in rates.model_fields_set or get_material(order).is_wood:
        return float(getattr(rates, key))
    return None


def say_unknown(*keys: RateKey) -> str:
    """Explain why there is no figure for these."""
    one = len(keys) == 1
    return (
        f"not known: {' and '.join(keys)} of [rates] {'is' if one else 'are'} not entered, and the usual "
        f"{'figure is' if one else 'figures are'} for wood only"
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class CutterFeed:
    """Speed and feed of a cutter. None: no figure is known. how: the formula with its inputs, in words."""

    rpm: float | None
    feed: float | None  # mm/min
    plunge: float | None
    stick_out: float | None
    how: tuple[str, ...]


def compute_speed(order: Order, cutter: Cutter, depth: float | None) -> tuple[float | None, str]:
    """Revolutions a minute and where they come from: what the cutting speed asks for, at most the spindle's. For a
    V-bit the diameter that counts is its width at the face, where its edge is fastest. In materials other than wood
    only a speed that the maker entered is used: the usual one is several times what metal or stone bears."""
    rates = order.rates
    if rates.surface_speed is None and get_rate(order, "rpm") is None:
        return None, f"spindle {say_unknown('rpm')}"
    most, said = rates.rpm, f"n = {rates.rpm:g}/min ({get_source(rates, 'rpm')})"
    diameter = cutter.compute_width(depth) if cutter.cuts_grooves and depth else cutter.diameter
    if rates.surface_speed is None or not diameter:
        return most, said
    n = compute_spindle_speed(rates.surface_speed, diameter)
    told = f"n = 1000 × {rates.surface_speed:g} m/min / (π × {diameter:.3g} mm) = {n:.0f}/min"
    told += f" (vc: {get_source(rates, 'surface_speed')})"
    return (n, told) if n <= most else (most, f"{told}, at most {most:g}/min ({get_source(rates, 'rpm')})")


def compute_feed(order: Order, cutter: Cutter, depth: float | None, step: float | None) -> CutterFeed:
    """Speed and feed of a cutter that goes this deep in passes of `step`."""
    rates, how, unit = order.rates, list[str](), order.spoken
    plunge = get_rate(order, "plunge")
    stick_out = depth + CLEAR if depth and cutter.turns else None
    rpm = None
    if cutter.turns:
        rpm, told = compute_speed(order, cutter, depth)
        how.append(told)
    if not cutter.mills_pockets:
        feed = get_rate(order, "feed")
        if feed is not None:
            how.append(f"vf = {unit.format_speed(feed)} ({get_source(rates, 'feed')})")
        elif cutter.turns and rpm is None:
            how = [f"spindle and feed {say_unknown('rpm', 'feed')}"]
        else:
            how.append(f"feed {say_unknown('feed')}")
        return CutterFeed(rpm=rpm, feed=feed, plunge=plunge, stick_out=stick_out, how=tuple(how))
    chip, diameter = get_chip_load(order, cutter), cutter.diameter
    if rpm is None:
        how.append("no feed: it follows from the spindle's speed")
        return CutterFeed(rpm=rpm, feed=None, plunge=plunge, stick_out=stick_out, how=tuple(how))
    if chip is None or not diameter:
        how.append("no feed: neither the order (chip_load of [rates]) nor the material says how thick a chip may be")
        return CutterFeed(rpm=rpm, feed=None, plunge=plunge, stick_out=stick_out, how=tuple(how))
    feed = compute_table_feed(rpm, rates.flutes, chip.value)
    how.append(
        f"vf = n z fz = {rpm:.0f} × {rates.flutes} × {_format_length(order, chip.value)} = {unit.format_speed(feed)} "
        f"(z: {get_source(rates, 'flutes')}; fz: {chip.source})"
    )
    deep = compute_deep_pass_share(step or 0.0, diameter)
    if deep < 1:
        feed *= deep
        how.append(f"× {deep:g} for a pass {(step or 0.0) / diameter:.1f} D deep = {unit.format_speed(feed)}")
    long = compute_long_cutter_share(stick_out or 0.0, diameter)
    if long < 1:
        feed *= long
        how.append(
            f"× 4 D / L = {_format_length(order, FREE_LENGTH * diameter)} / {_format_length(order, stick_out or 0.0)} "
            "for sticking "
            f"out more than 4 D = {unit.format_speed(feed)}"
        )
    if feed > rates.fastest:
        feed = rates.fastest
        how.append(f"at most {unit.format_speed(rates.fastest)} ({get_source(rates, 'fastest')})")
    return CutterFeed(rpm=rpm, feed=feed, plunge=plunge, stick_out=stick_out, how=tuple(how))


def _format_length(order: Order, value: float) -> str:
    return f"{value / order.unit.mm:.4g}"


def compute_taken_off_back(order: Order) -> float:
    """Return what comes off the back of the blank, mm; a back that stays as it is loses nothing."""
    stock = order.stock
    return stock.sawn_off + stock.sanded_back if stock is not None and stock.sawn_off else 0.0


def compute_lettering_thickness(order: Order, thickness: float) -> float:
    """Return the thickness available to a cut and the floor under it, mm: the blank's, less what comes off the face
    before the lettering and off the back at any time."""
    return thickness - compute_off_before_lettering(order) - compute_taken_off_back(order)


def get_least_floor(order: Order) -> SourcedValue | None:
    """Return what must stay under the lettering, mm: the order's value, or the material's; None where neither is
    known."""
    if order.stock is not None and order.stock.least_floor is not None:
        return SourcedValue(value=order.stock.least_floor, source="[stock] least_floor in order.toml")
    material = get_material(order)
    found = material.least_floor
    return None if found is None else SourcedValue(value=found.value, source=f"{material.name}: {found.source}")


def compute_depth_left(order: Order, thickness: float | None) -> SourcedValue | None:
    """Return how deep lettering may go at most so that enough stays under it, mm; None where nothing says."""
    least = get_least_floor(order)
    if least is None or thickness is None:
        return None
    return SourcedValue(value=compute_lettering_thickness(order, thickness) - least.value, source=least.source)


def choose_outline_depth(order: Order, cutter: Cutter, thickness: float | None) -> SourcedValue | None:
    """Depth of the line that the saw follows, mm: [board]'s, or what the cutter and the material bear of `GUIDE_DEPTH`.
    0 for a cutter whose depth can't be set; None where there is to be no line. thickness: of the blank."""
    board = require_value(order.board, "[board]")
    if board.outline is not None:
        told = get_source(board, "outline")
        return SourcedValue(value=board.outline, source=told) if board.outline else None
    if not cutter.has_depth:
        return SourcedValue(value=0.0, source=f"{cutter.name} goes to no depth that can be set")
    known = [SourcedValue(value=GUIDE_DEPTH, source=f"deep enough to follow beside a blade: {PRACTICE}")]
    if (one := find_pass_depth(order, cutter)) is not None:
        known.append(SourcedValue(value=one.value, source=f"one pass of {cutter.name}: {one.source}"))
    if order.limits.deepest is not None:
        told = f"as deep as the lettering: [limits] deepest, {get_source(order.limits, 'deepest')}"
        known.append(SourcedValue(value=order.limits.deepest, source=told))
    known += [SourcedValue(value=depth, source=told) for depth, told in cutter.list_depth_limits()]
    if (left := compute_depth_left(order, thickness)) is not None:
        known.append(SourcedValue(value=left.value, source=f"what leaves the least floor: {left.source}"))
    least = min(known, key=lambda limit: limit.value)
    return least if least.value > THINNEST else None


def choose_saw_allowance(order: Order) -> SourcedValue:
    """Return what is left on every sawn side for planing, sanding or filing out the saw marks, mm: [board]'s; or, of a
    material that is sanded, `SAW_MARKS`, but no more than the `trim` there is."""
    board, material = require_value(order.board, "[board]"), get_material(order)
    if board.allowance is not None:
        return SourcedValue(value=board.allowance, source=get_source(board, "allowance"))
    if not material.does("sand"):
        what = f"{material.name} is not sanded" if material.known else "nothing is known of the material"
        return SourcedValue(value=0.0, source=f"[board] allowance is not entered, and {what}")
    if board.trim < SAW_MARKS:
        return SourcedValue(value=board.trim, source=f"no more than [board] trim, {get_source(board, 'trim')}")
    return SourcedValue(value=SAW_MARKS, source=f"saw marks sanded out, P80 to P180: {PRACTICE}")


def estimate_feed(rates: RatesConfig, diameter: float, step: float) -> float:
    """mm/min of an end mill in a material of which nothing is known, for an estimate of time only: n z fz with the
    least chip of hardwood, less for deep passes, at most the machine's own."""
    low, _ = require_value(load_material_shelf()["hardwood"].chip_load, "the chip of hardwood")
    return min(
        rates.fastest,
        compute_table_feed(rates.rpm, rates.flutes, low * diameter) * compute_deep_pass_share(step, diameter),
    )
