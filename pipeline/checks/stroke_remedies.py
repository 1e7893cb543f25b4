"""Remedies for strokes that are too thin or too wide and grooves that are too shallow or too deep: each with its edit,
and only those with which this line seems to pass. What the order does already, or what wouldn't help the line, is not
offered. Every remedy is tried on the whole plaque before it is given.

Thin strokes need a larger size, wide ones a smaller: only a size between the two is named, and if there is none, the
finding says so.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from pipeline.core.catalogue import ways
from pipeline.core.config.order import FinishConfig, Order
from pipeline.core.config.shop_tables import ClearingConfig
from pipeline.core.findings import Edit, Way, WayKind, build_way
from pipeline.core.model import SetLine
from pipeline.core.units import Units
from pipeline.cutting.cutters import CutLimits, Cutter, build_shelf, compute_limits
from pipeline.cutting.flat_floor import FlatFloor, build_flat_floor
from pipeline.cutting.materials import SourcedValue

CLEARS_MOST = 0.7
"""Of the widest floor, the diameter of the flat cutter that is offered: it then gets into most of it."""
LEAST_MILL = 0.01
"""mm. Diameter of an imagined flat cutter, to know how deep a floor would be."""
MOST_GROWTH = 2.0
"""A line enlarged by more than this factor is another design, not a remedy."""


def round_up_size(units: Units, size: float) -> float:
    """A size that is enough, rounded up to what the order's unit is shown with."""
    step = units.mm * 10.0**-units.decimals
    return math.ceil(size / step - 1e-6) * step


def round_down_size(units: Units, size: float) -> float:
    """A size that is not too much, rounded down likewise."""
    step = units.mm * 10.0**-units.decimals
    return math.floor(size / step + 1e-6) * step


@dataclass(frozen=True, slots=True, kw_only=True)
class StrokeContext:
    """Context that the strokes of a line are judged by."""

    cutter: Cutter
    limits: CutLimits
    order: Order
    thickness: float | None  # of the blank, mm
    floor: FlatFloor | None = None  # the flat floor of wide strokes; None: plain grooves only
    under: SourcedValue | None = None  # greatest depth that leaves enough material underneath; None: not known

    @property
    def most_depth(self) -> float | None:
        """Greatest depth of a groove, whatever limits it."""
        ends = [v for v in (self.limits.deepest.value, self.under.value if self.under else None) if v is not None]
        return min(ends, default=None)

    @property
    def finish(self) -> FinishConfig:
        return self.order.finish

    @property
    def loss(self) -> float:
        """Return how much narrower sanding makes every stroke, mm."""
        return self.cutter.compute_thinning(self.finish.sanded_off)

    @property
    def grown(self) -> float:
        """Return how much wider strokes are cut than designed, mm."""
        return self.loss if self.finish.compensate else 0.0


def find_size_for(line: SetLine, designed: float, wanted: float, by: StrokeContext) -> float:
    """Cap height from which finished strokes, now `designed` wide before any growing, are `wanted` wide."""
    return round_up_size(by.order.unit, line.cap_height * (wanted + by.loss - by.grown) / designed)


def suggest_larger(line: SetLine, size: float, by: StrokeContext, most: float = math.inf) -> Way | None:
    """Setting the line at `size` (cap height, mm), with what that takes; None for one that is no remedy. most: the
    largest at which its grooves do. Whether there is room is known when it is tried."""
    if size > min(MOST_GROWTH * line.cap_height, most):
        return None
    part, value = by.order.line[line.line - 1], by.order.unit.round_value(size, up=True)
    edits = []
    if size > part.cap_height:
        edits.append(Edit(table="line", number=line.line, key="cap_height", value=value))
    if part.smallest is not None and part.smallest < size:
        edits.append(Edit(table="line", number=line.line, key="smallest", value=value))
    if not edits:
        return None
    facts = {"size": value * by.order.unit.mm, "more": line.width * (size / line.cap_height - 1)}
    if most < MOST_GROWTH * line.cap_height:
        return build_way(ways.BETWEEN, *edits, facts={**facts, "most": most})
    return build_way(ways.LARGER, *edits, facts=facts)


def suggest_smaller(line: SetLine, size: float, by: StrokeContext, least: float = 0.0) -> Way | None:
    """Setting the line at `size`, or smaller down to `least`; None for one that is no remedy."""
    if size < least or size * MOST_GROWTH < line.cap_height:
        return None
    part, value = by.order.line[line.line - 1], by.order.unit.round_value(size, up=False)
    edits = [Edit(table="line", number=line.line, key="cap_height", value=value)]
    if part.smallest is not None and part.smallest > size:
        edits.append(Edit(table="line", number=line.line, key="smallest", value=value))
    facts = {"size": value * by.order.unit.mm}
    if least * MOST_GROWTH < line.cap_height:
        return build_way(ways.SMALLER, *edits, facts=facts)
    return build_way(ways.SMALLER_FROM, *edits, facts={**facts, "least": least})


def take(cutter: Cutter, order: Order) -> tuple[Edit, ...]:
    """The edits that put a cutter of the shelf in place of the order's."""
    own = (key for key in type(order.cutter).model_fields if key != "use" and getattr(order.cutter, key) is not None)
    gone = [Edit(table="cutter", key=key, value=None) for key in own]
    return (Edit(table="cutter", key="use", value=cutter.name), *gone)


@dataclass(frozen=True, slots=True, kw_only=True)
class StrokeRemedies:
    """Remedies for a line whose narrowest or widest stroke fails. Lengths mm."""

    line: SetLine
    designed: float  # the narrowest stroke before widening
    cut_widest: Callable[[float, float], float]  # cap height, growth -> the widest stroke
    land: float | None  # narrowest as cut
    land_size: float  # the smallest cap height whose land is wide enough; 0 where it already is, or no size helps
    by: StrokeContext

    @property
    def finished(self) -> float:
        """Width of the stroke that the client sees."""
        return self.designed + self.by.grown - self.by.loss

    def compute_size(self, wanted: float) -> float:
        """Cap height from which finished strokes are `wanted` wide."""
        return find_size_for(self.line, self.designed, wanted, self.by)

    @property
    def enough(self) -> float:
        """Cap height from which the line has no stroke too thin, no groove too shallow and land enough."""
        by = self.by
        wanted = by.limits.stroke.value or 0.0
        if by.cutter.cuts_grooves:
            wanted = max(wanted, by.cutter.compute_width(by.limits.shallowest.value or 0.0))
        return max(self.compute_size(wanted), self.land_size)

    @property
    def most(self) -> float:
        """Cap height up to which no stroke is wider than the bit and no groove too deep; infinite without such ends."""
        by, unit = self.by, self.by.order.unit
        if not by.cutter.cuts_grooves or by.most_depth is None or by.floor is not None:
            return math.inf
        widest = by.cutter.compute_width(max(by.most_depth, 0.0))
        step = unit.mm * 10.0**-unit.decimals
        size = self.line.cap_height
        size = round_down_size(unit, size * max(0.0, widest - by.grown) / (self.cut_widest(size, by.grown) - by.grown))
        # What widening fills in a crotch doesn't shrink with the letter.
        while size > step and (cut := self.cut_widest(size, by.grown)) > widest * (1 + 1e-9):
            size = min(round_down_size(unit, size * widest / cut), size - step)
        return max(size, 0.0)

    def explain_no_size(self) -> str:
        """Explain that thin strokes need a larger size than wide ones allow; "" where they don't."""
        enough, most = self.enough, self.most
        if enough <= most:
            return ""
        show = self.by.order.unit.show
        return f"; no size does: thin strokes and land take {show(enough)} or larger, wide ones {show(most)} or smaller"

    def suggest_for_deep(self) -> tuple[Way, ...]:
        """Return remedies for a widest stroke whose groove is too deep."""
        able = [c for c in build_shelf(self.by.order.shop).values() if c.slope > self.by.cutter.slope and self._does(c)]
        best = min(able, key=lambda c: c.slope, default=None)
        bit = None if best is None else self._suggest_bit(ways.BIT_DEEP, best)
        return _collect_offers(bit, self._suggest_smaller(), self._suggest_lighter(), self._suggest_flat_floor())

    def suggest_for_wide(self) -> tuple[Way, ...]:
        """Return what helps when a stroke is wider than the bit. Running the bit along the middle alone leaves the
        flanks standing, however the middle is cleared; without `grooves` the maker's own program can go along the
        outlines."""
        by = self.by
        able = [c for c in build_shelf(self.by.order.shop).values() if c.cuts_grooves and self._does(c)]
        best = min(able, key=lambda c: (abs(c.slope - by.cutter.slope), c.widest or math.inf), default=None)
        bit, flat = None, self._suggest_flat_floor()
        if best is not None:
            bit = self._suggest_bit(ways.BIT_WIDE if best.diameter else ways.BIT_DEEP, best)
        if not by.order.files.grooves and by.limits.deepest.value is not None:
            flat = build_way(ways.FLAT_FLOOR, facts={"depth": by.limits.deepest.value})
        return _collect_offers(bit, self._suggest_smaller(), self._suggest_lighter(), flat)

    def _suggest_flat_floor(self) -> Way | None:
        """A flat floor with the widest end mill of the shelf that clears most of the widest stroke."""
        by, order = self.by, self.by.order
        if not order.files.grooves or by.floor is not None:
            return None
        tried = order.model_copy(update={"clearing": ClearingConfig(diameter=LEAST_MILL)})
        floor = build_flat_floor(tried, by.cutter)
        if floor is None or floor.depth > (math.inf if by.most_depth is None else by.most_depth) + 1e-9:
            return None
        room = self.cut_widest(self.line.cap_height, by.grown) - 2 * floor.depth * by.cutter.slope
        mills = [
            c for c in build_shelf(order.shop).values() if c.mills_pockets and (c.reach or math.inf) >= floor.depth
        ]
        able = [c for c in mills if (c.diameter or math.inf) <= CLEARS_MOST * room]
        best = max(able, key=lambda c: c.diameter or 0.0, default=None)
        if best is None or best.diameter is None:
            return None
        gone = [Edit(table="clearing", key=k, value=None) for k in ("diameter", "reach") if getattr(order.clearing, k)]
        edit = Edit(table="clearing", key="use", value=best.name)
        facts: dict[str, str | float] = {"depth": floor.depth, "name": best.name, "diameter": best.diameter}
        return build_way(ways.CLEARED_FLOOR, edit, *gone, facts=facts)

    def _suggest_bit(self, kind: WayKind, bit: Cutter) -> Way:
        facts: dict[str, str | float] = {
            "angle": bit.angle or 0.0,
            "name": bit.name,
            "depth": self._measure_deepest(bit),
        }
        if bit.diameter:
            facts["diameter"] = bit.diameter
        return build_way(kind, *take(bit, self.by.order), facts=facts)

    def _suggest_smaller(self) -> Way | None:
        """Setting the line smaller, where a size does and is one to think of."""
        return suggest_smaller(self.line, self.most, self.by, self.enough)

    def _suggest_lighter(self) -> Way:
        """Suggest a typeface whose widest strokes can be cut at this size."""
        by, size = self.by, self.line.cap_height
        over = self.cut_widest(size, by.grown) - by.cutter.compute_width(max(by.most_depth or 0.0, 0.0))
        most = self.cut_widest(size, 0.0) - over
        if most <= 0:
            return build_way(ways.GROW_LESS, facts={"grown": by.grown})
        return build_way(ways.LIGHTER_FACE, facts={"most": most})

    def find_heavier(self, wanted: float) -> tuple[float, int]:
        """By how much (mm) and what part (percent, rounded up) the thinnest strokes are too thin for finished ones as
        wide as `wanted`."""
        more = wanted - self.finished
        return more, math.ceil(100 * more / self.designed - 1e-6)

    def suggest_for_thin(self, wanted: float) -> tuple[Way, ...]:
        """Return remedies that make finished strokes `wanted` wide."""
        larger = suggest_larger(self.line, max(self.compute_size(wanted), self.land_size), self.by, self.most)
        return _collect_offers(
            larger,
            self._suggest_growth(wanted),
            self._sand_less(wanted),
            self._suggest_finer(),
            self._lower_limit(wanted),
        )

    def _suggest_growth(self, wanted: float) -> Way | None:
        """`compensate`, where it is off, is enough, and leaves land enough."""
        by = self.by
        room = self.land is None or self.land - by.loss >= (by.limits.land.value or 0.0)
        if by.finish.compensate or not by.loss or self.designed < wanted or not room:
            return None
        edit = Edit(table="finish", key="compensate", value=True)
        return build_way(ways.COMPENSATE, edit, facts={"sanded": by.finish.sanded_off, "loss": by.loss})

    def _sand_less(self, wanted: float) -> Way | None:
        by = self.by
        if by.finish.compensate or not by.loss or self.designed <= wanted:
            return None
        if by.order.sanding != by.finish.sanded_off:
            return None  # more than the sanding comes off
        value = by.order.unit.round_value((self.designed - wanted) / (2 * by.cutter.slope), up=False, finer=1)
        edit = Edit(table="finish", key="sanded_off", value=value)
        return build_way(ways.SAND_LESS, edit, facts={"sanded": value * by.order.unit.mm})

    def _suggest_finer(self) -> Way | None:
        """The cutter of the shelf that is nearest to the order's and with which the line passes."""
        by = self.by
        able = [
            c
            for c in build_shelf(self.by.order.shop).values()
            if c.kind == by.cutter.kind and c.is_finer(by.cutter) and self._does(c)
        ]
        best = max(able, key=lambda c: (c.slope, c.line_width), default=None)
        if best is None:
            return None
        edits = take(best, by.order)
        if not best.cuts_grooves:
            return build_way(ways.CUTTER, *edits, facts={"name": best.name, "width": best.line_width})
        loss = best.compute_thinning(by.finish.sanded_off)
        facts: dict[str, str | float] = {"angle": best.angle or 0.0, "name": best.name}
        if loss and not by.finish.compensate:
            return build_way(ways.BIT_SANDED, *edits, facts={**facts, "loss": loss})
        return build_way(ways.BIT, *edits, facts=facts)

    def _does(self, other: Cutter) -> bool:
        order = self.by.order
        limits = compute_limits(order, other, self.by.thickness)
        floor = build_flat_floor(order, other)
        then = StrokeContext(cutter=other, limits=limits, order=order, thickness=self.by.thickness, floor=floor)
        cut, least = self.designed + then.grown, limits.stroke.value or 0.0
        if min(cut, cut - then.loss) < least:
            return False
        if not other.cuts_grooves or floor is not None:
            return True
        if self.cut_widest(self.line.cap_height, then.grown) > (other.widest or math.inf):
            return False
        shallow = other.compute_depth(cut) - order.finish.sanded_off
        deepest = min(limits.deepest.value or math.inf, self.by.under.value if self.by.under else math.inf)
        return shallow >= (limits.shallowest.value or 0.0) and self._measure_deepest(other) <= deepest

    def _measure_deepest(self, other: Cutter) -> float:
        """Return how deep another bit would cut the widest stroke."""
        finish = self.by.finish
        grown = other.compute_thinning(finish.sanded_off) if finish.compensate else 0.0
        return other.compute_depth(self.cut_widest(self.line.cap_height, grown))

    def _lower_limit(self, wanted: float) -> Way | None:
        """Suggest a lower limit, where the order states this one and the cutter needs less."""
        by = self.by
        if by.order.limits.stroke is None or wanted != by.limits.stroke.value:
            return None
        free = by.order.model_copy(update={"limits": by.order.limits.model_copy(update={"stroke": None})})
        if self.finished < (compute_limits(free, by.cutter, by.thickness).stroke.value or 0.0):
            return None
        value = by.order.unit.round_value(self.finished, up=False, finer=1)
        edit = Edit(table="limits", key="stroke", value=value)
        return build_way(ways.STROKE_LIMIT, edit, facts={"stroke": value * by.order.unit.mm, "name": by.cutter.name})

    def suggest_shallower(self, depth: float) -> Way | None:
        """A lower limit for grooves that are this deep, mm, when finished."""
        value = self.by.order.unit.round_value(depth, up=False, finer=1)
        if value <= 0:
            return None
        edit = Edit(table="limits", key="shallowest", value=value)
        return build_way(ways.SHALLOW_LIMIT, edit, facts={"shallowest": value * self.by.order.unit.mm})


def _collect_offers(*offers: Way | None) -> tuple[Way, ...]:
    return tuple(offer for offer in offers if offer is not None)
