"""What helps where a stroke is too thin or a groove too shallow: every way with the edit it means, and only those with
which this line seems to pass. What the order does already, or what the line has no use for, is not offered. What is
found here is tried on the whole plaque before it is said.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from pipeline.core.catalogue import ways
from pipeline.core.findings import Edit, Way, way
from pipeline.core.model import SetLine
from pipeline.core.order import Finish, Order
from pipeline.core.units import Units
from pipeline.cutting.cutters import CutLimits, Cutter, limits_of, shelf

MOST_GROWTH = 2.0
"""A line set larger than this many times its size is another design, and no remedy."""


def least_size(units: Units, size: float) -> float:
    """A size that is enough, rounded up to what the order's unit is shown with."""
    step = units.mm * 10.0**-units.decimals
    return math.ceil(size / step - 1e-6) * step


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """What strokes of a line are judged by."""

    cutter: Cutter
    limits: CutLimits
    order: Order
    thickness: float | None  # of the blank, mm

    @property
    def finish(self) -> Finish:
        return self.order.finish

    @property
    def loss(self) -> float:
        """How much narrower sanding makes every stroke, mm."""
        return self.cutter.thinned(self.finish.sanded_off)

    @property
    def grown(self) -> float:
        """How much wider strokes are cut than designed, mm."""
        return self.loss if self.finish.compensate else 0.0


def bigger(line: SetLine, size: float, by: Setting) -> Way | None:
    """Setting the line at `size` (cap height, mm), with what that takes; None for one that is no remedy. Whether there
    is room is known when it is tried."""
    if size > MOST_GROWTH * line.cap_height:
        return None
    part, value = by.order.line[line.line - 1], by.order.unit.value(size, up=True)
    edits = []
    if size > part.cap_height:
        edits.append(Edit(table="line", number=line.line, key="cap_height", value=value))
    if part.smallest is not None and part.smallest < size:
        edits.append(Edit(table="line", number=line.line, key="smallest", value=value))
    if not edits:
        return None
    more = line.width * (size / line.cap_height - 1)
    return way(ways.LARGER, *edits, facts={"size": value * by.order.unit.mm, "more": more})


def smaller(line: SetLine, size: float, by: Setting) -> Way | None:
    """Setting the line at `size` or smaller; None for one that is no remedy."""
    if size * MOST_GROWTH < line.cap_height:
        return None
    part, value = by.order.line[line.line - 1], by.order.unit.value(size, up=False)
    edits = [Edit(table="line", number=line.line, key="cap_height", value=value)]
    if part.smallest is not None and part.smallest > size:
        edits.append(Edit(table="line", number=line.line, key="smallest", value=value))
    return way(ways.SMALLER, *edits, facts={"size": value * by.order.unit.mm})


def take(cutter: Cutter, order: Order) -> tuple[Edit, ...]:
    """The edits that put a cutter of the shelf in place of the order's."""
    own = (key for key in type(order.cutter).model_fields if key != "use" and getattr(order.cutter, key) is not None)
    gone = [Edit(table="cutter", key=key, value=None) for key in own]
    return (Edit(table="cutter", key="use", value=cutter.name), *gone)


@dataclass(frozen=True, slots=True, kw_only=True)
class Remedies:
    """What helps a line whose narrowest or widest stroke does not do. Lengths mm."""

    line: SetLine
    designed: float  # the narrowest stroke before any growing
    widest: float  # the widest
    land: float | None  # narrowest as cut
    by: Setting

    @property
    def finished(self) -> float:
        """Width of the stroke that the client sees."""
        return self.designed + self.by.grown - self.by.loss

    def size(self, wanted: float) -> float:
        """Cap height from which finished strokes are `wanted` wide."""
        needs = self.designed + wanted - self.finished
        return least_size(self.by.order.unit, self.line.cap_height * needs / self.designed)

    def deep(self) -> tuple[Way, ...]:
        """What helps when the widest stroke takes too deep a groove."""
        by, unit = self.by, self.by.order.unit
        most = by.cutter.width(by.limits.deepest.value or 0.0) - by.grown
        able = [c for c in shelf().values() if c.slope > by.cutter.slope and self._does(c)]
        best = min(able, key=lambda c: c.slope, default=None)
        bit = None
        if best is not None:
            grown = best.thinned(by.finish.sanded_off) if by.finish.compensate else 0.0
            deep = best.depth(min(self.widest + grown, best.widest or math.inf))
            facts: dict[str, str | float] = {"angle": best.angle or 0.0, "name": best.name, "depth": deep}
            bit = way(ways.BIT_DEEP, *take(best, by.order), facts=facts)
        step = unit.mm * 10.0**-unit.decimals
        size = math.floor(self.line.cap_height * most / self.widest / step + 1e-6) * step
        return _found(bit, smaller(self.line, size, by))

    def strokes_at_most(self) -> float:
        """How wide a face's widest strokes may be for the deepest groove, mm."""
        by = self.by
        return by.cutter.width(by.limits.deepest.value or 0.0) - by.grown

    def heavier(self, wanted: float) -> tuple[float, int]:
        """By how much (mm) and what part (percent, rounded up) the thinnest strokes are too thin for finished ones as
        wide as `wanted`."""
        more = wanted - self.finished
        return more, math.ceil(100 * more / self.designed - 1e-6)

    def thin(self, wanted: float) -> tuple[Way, ...]:
        """What helps when finished strokes have to be `wanted` wide."""
        larger = bigger(self.line, self.size(wanted), self.by)
        return _found(larger, self._grow(wanted), self._sand_less(wanted), self._finer(), self._lower_limit(wanted))

    def _grow(self, wanted: float) -> Way | None:
        """`compensate`, where it is off, is enough, and leaves land enough."""
        by = self.by
        room = self.land is None or self.land - by.loss >= (by.limits.land.value or 0.0)
        if by.finish.compensate or not by.loss or self.designed < wanted or not room:
            return None
        edit = Edit(table="finish", key="compensate", value=True)
        return way(ways.COMPENSATE, edit, facts={"sanded": by.finish.sanded_off, "loss": by.loss})

    def _sand_less(self, wanted: float) -> Way | None:
        by = self.by
        if by.finish.compensate or not by.loss or self.designed <= wanted:
            return None
        value = by.order.unit.value((self.designed - wanted) / (2 * by.cutter.slope), up=False, finer=1)
        edit = Edit(table="finish", key="sanded_off", value=value)
        return way(ways.SAND_LESS, edit, facts={"sanded": value * by.order.unit.mm})

    def _finer(self) -> Way | None:
        """The cutter of the shelf that is nearest to the order's and with which the line passes."""
        by = self.by
        able = [c for c in shelf().values() if c.kind == by.cutter.kind and _finer(c, by.cutter) and self._does(c)]
        best = max(able, key=lambda c: (c.slope, c.line_width), default=None)
        if best is None:
            return None
        edits = take(best, by.order)
        if not best.slope:
            return way(ways.CUTTER, *edits, facts={"name": best.name, "width": best.line_width})
        loss = best.thinned(by.finish.sanded_off)
        facts: dict[str, str | float] = {"angle": best.angle or 0.0, "name": best.name}
        if loss and not by.finish.compensate:
            return way(ways.BIT_SANDED, *edits, facts={**facts, "loss": loss})
        return way(ways.BIT, *edits, facts=facts)

    def _does(self, other: Cutter) -> bool:
        order = self.by.order
        limits = limits_of(order, other, self.by.thickness)
        then = Setting(cutter=other, limits=limits, order=order, thickness=self.by.thickness)
        cut, least = self.designed + then.grown, limits.stroke.value or 0.0
        if min(cut, cut - then.loss) < least:
            return False
        if not other.slope:
            return True
        deep = other.depth(min(self.widest + then.grown, other.widest or math.inf))
        shallow = other.depth(cut) - order.finish.sanded_off
        return shallow >= (limits.shallowest.value or 0.0) and deep <= (limits.deepest.value or math.inf)

    def _lower_limit(self, wanted: float) -> Way | None:
        """Another limit, where the order wrote this one and the cutter could do with less."""
        by = self.by
        if by.order.limits.stroke is None or wanted != by.limits.stroke.value:
            return None
        free = by.order.model_copy(update={"limits": by.order.limits.model_copy(update={"stroke": None})})
        if self.finished < (limits_of(free, by.cutter, by.thickness).stroke.value or 0.0):
            return None
        value = by.order.unit.value(self.finished, up=False, finer=1)
        edit = Edit(table="limits", key="stroke", value=value)
        return way(ways.STROKE_LIMIT, edit, facts={"stroke": value * by.order.unit.mm, "name": by.cutter.name})

    def shallower(self, depth: float) -> Way | None:
        """A lower limit for grooves that are this deep, mm, when finished."""
        value = self.by.order.unit.value(depth, up=False, finer=1)
        if value <= 0:
            return None
        edit = Edit(table="limits", key="shallowest", value=value)
        return way(ways.SHALLOW_LIMIT, edit, facts={"shallowest": value * self.by.order.unit.mm})


def _found(*offers: Way | None) -> tuple[Way, ...]:
    return tuple(offer for offer in offers if offer is not None)


def _finer(cutter: Cutter, than: Cutter) -> bool:
    return cutter.slope < than.slope if than.slope else cutter.line_width < than.line_width
