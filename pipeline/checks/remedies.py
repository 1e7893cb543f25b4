"""What helps where a stroke is too thin or too wide, a groove too shallow or too deep: every remedy with its figure,
and only those with which this line passes. What the order does already, or what it has no use for, is not offered.

Thin strokes want a larger size, wide ones a smaller: a size is named only between the two, and where none does both it
is said.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

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


def most_size(units: Units, size: float) -> float:
    """A size that is not too much, rounded down likewise."""
    step = units.mm * 10.0**-units.decimals
    return math.floor(size / step + 1e-6) * step


def bigger(line: SetLine, size: float, units: Units, most: float = math.inf) -> str:
    """Setting the line at `size` (cap height, mm), with what that takes; "" for one that is no remedy. most: the
    largest at which its grooves do."""
    if size > min(MOST_GROWTH * line.cap_height, most):
        return ""
    more, free = line.width * (size / line.cap_height - 1), max(0.0, line.slack)
    takes = f"{units.show(more)} longer; {units.show(free)} are free round it now"
    end = f"to {units.show(most)}" if most < MOST_GROWTH * line.cap_height else "or larger"
    return f"set the line at {units.show(size)} {end} ({takes})"


def either(ways: Sequence[str]) -> str:
    """Ways as a sentence: "a, b, or c"."""
    ways = [way for way in ways if way]
    return f"{', '.join(ways[:-1])}, or {ways[-1]}" if len(ways) > 1 else "".join(ways)


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Remedies:
    """What helps a line whose narrowest or widest stroke does not do. Lengths mm."""

    line: SetLine
    designed: float  # the narrowest stroke before any growing
    cut_widest: Callable[[float, float], float]  # at a cap height, cut wider by so much: the widest stroke
    land: float | None  # narrowest as cut
    land_size: float  # the cap height from which the land does; 0 where it does already, or no size helps
    by: Setting

    @property
    def finished(self) -> float:
        """Width of the stroke that the client sees."""
        return self.designed + self.by.grown - self.by.loss

    def size(self, wanted: float) -> float:
        """Cap height from which finished strokes are `wanted` wide."""
        needs = self.designed + wanted - self.finished
        return least_size(self.by.order.unit, self.line.cap_height * needs / self.designed)

    @property
    def enough(self) -> float:
        """Cap height from which the line has no stroke too thin, no groove too shallow and land enough."""
        by = self.by
        wanted = by.limits.stroke.value or 0.0
        if by.cutter.slope:
            wanted = max(wanted, by.cutter.width(by.limits.shallowest.value or 0.0))
        return max(self.size(wanted), self.land_size)

    @property
    def most(self) -> float:
        """Cap height up to which no stroke is wider than the bit and no groove too deep; infinite without such ends."""
        by, unit = self.by, self.by.order.unit
        if not by.cutter.slope or by.limits.deepest.value is None:
            return math.inf
        widest = by.cutter.width(by.limits.deepest.value)
        step = unit.mm * 10.0**-unit.decimals
        size = self.line.cap_height
        size = most_size(unit, size * max(0.0, widest - by.grown) / (self.cut_widest(size, by.grown) - by.grown))
        # What growing fills of a crotch does not get smaller with the letter.
        while size > step and (cut := self.cut_widest(size, by.grown)) > widest * (1 + 1e-9):
            size = min(most_size(unit, size * widest / cut), size - step)
        return max(size, 0.0)

    def no_size(self) -> str:
        """What to say before other ways where thin strokes want a larger size than wide ones allow; "" otherwise."""
        enough, most = self.enough, self.most
        if enough <= most:
            return ""
        show = self.by.order.unit.show
        ends = f"thin strokes and land take {show(enough)} or larger, wide strokes {show(most)} or smaller"
        return f"no size does ({ends}): "

    def smaller(self) -> str:
        """Setting the line smaller, where a size does and is one to think of."""
        enough, most, show = self.enough, self.most, self.by.order.unit.show
        if most < enough or most * MOST_GROWTH < self.line.cap_height:
            return ""
        if enough * MOST_GROWTH < self.line.cap_height:
            return f"set the line at {show(most)} or smaller"
        return f"set the line at {show(enough)} to {show(most)}"

    def deep(self) -> str:
        """What helps when the widest stroke takes too deep a groove."""
        by, unit = self.by, self.by.order.unit
        able = [c for c in shelf().values() if c.slope > by.cutter.slope and self._does(c)]
        best = min(able, key=lambda c: c.slope, default=None)
        bit = ""
        if best is not None:
            bit = f"take a bit of {best.angle:g}° ({best.name}), which cuts it {unit.show(self._deepest(best))} deep"
        return self.no_size() + either([bit, self.smaller(), self._lighter()])

    def wide(self) -> str:
        """What helps when a stroke is wider than the bit. Running the bit along the middle alone leaves the flanks
        standing, however the middle is cleared; without `grooves` the maker's own program can go along the outlines."""
        by, unit = self.by, self.by.order.unit
        able = [c for c in shelf().values() if c.slope and self._does(c)]
        best = min(able, key=lambda c: (abs(c.slope - by.cutter.slope), c.widest or math.inf), default=None)
        bit = flat = ""
        if best is not None:
            size = f" and {unit.show(best.diameter)}" if best.diameter else ""
            deep = unit.show(self._deepest(best))
            bit = f"take a bit of {best.angle:g}°{size} ({best.name}), which cuts it {deep} deep"
        if not by.order.files.grooves and by.limits.deepest.value is not None:
            flat = (
                f"cut it with a flat floor: this bit along the outlines, {unit.show(by.limits.deepest.value)} deep at "
                "most, and what stands between to the same depth with a flat cutter"
            )
        return self.no_size() + either([bit, self.smaller(), self._lighter(), flat])

    def _lighter(self) -> str:
        """A face whose widest strokes do at this size."""
        by = self.by
        over = self.cut_widest(self.line.cap_height, by.grown) - by.cutter.width(by.limits.deepest.value or 0.0)
        most = self.cut_widest(self.line.cap_height, 0.0) - over
        return f"choose a face whose widest strokes are {self._fine(most, up=False)} at most" if most > 0 else ""

    def thin(self, wanted: float) -> str:
        """What helps when finished strokes have to be `wanted` wide."""
        more = wanted - self.finished
        heavier = (
            f"choose a face whose thinnest strokes are {self._fine(more, up=True)} "
            f"({math.ceil(100 * more / self.designed - 1e-6)} %) heavier (`plaques faces` ranks them)"
        )
        size, most = self.size(wanted), self.most
        larger = bigger(self.line, size, self.by.order.unit, most)
        none = self.no_size() if size > most else ""
        return none + either(
            [larger, heavier, self._grow(wanted), self._sand_less(wanted), self._finer(), self._lower_limit(wanted)]
        )

    def _grow(self, wanted: float) -> str:
        """`compensate`, where it is off, is enough, and leaves land enough."""
        by = self.by
        room = self.land is None or self.land - by.loss >= (by.limits.land.value or 0.0)
        if by.finish.compensate or not by.loss or self.designed < wanted or not room:
            return ""
        show = by.order.unit.show
        return (
            f"write compensate = true into [finish], which cuts every groove {show(by.finish.sanded_off)} deeper and "
            f"every stroke {show(by.loss)} wider"
        )

    def _sand_less(self, wanted: float) -> str:
        by = self.by
        if by.finish.compensate or not by.loss or self.designed <= wanted:
            return ""
        return f"sand off no more than {self._fine((self.designed - wanted) / (2 * by.cutter.slope), up=False)}"

    def _finer(self) -> str:
        """The cutter of the shelf that is nearest to the order's and with which the line passes."""
        by = self.by
        able = [c for c in shelf().values() if c.kind == by.cutter.kind and _finer(c, by.cutter) and self._does(c)]
        best = max(able, key=lambda c: (c.slope, c.line_width), default=None)
        if best is None:
            return ""
        if not best.slope:
            return f"take a finer cutter ({best.name}, {by.order.unit.show(best.line_width)})"
        loss = best.thinned(by.finish.sanded_off)
        told = f", with which sanding takes {by.order.unit.show(loss)}" if loss and not by.finish.compensate else ""
        return f"take a bit of {best.angle:g}° ({best.name}{told})"

    def _does(self, other: Cutter) -> bool:
        order = self.by.order
        limits = limits_of(order, other, self.by.thickness)
        then = Setting(cutter=other, limits=limits, order=order, thickness=self.by.thickness)
        cut, least = self.designed + then.grown, limits.stroke.value or 0.0
        if min(cut, cut - then.loss) < least:
            return False
        if not other.slope:
            return True
        if self.cut_widest(self.line.cap_height, then.grown) > (other.widest or math.inf):
            return False
        shallow = other.depth(cut) - order.finish.sanded_off
        deepest = limits.deepest.value or math.inf
        return shallow >= (limits.shallowest.value or 0.0) and self._deepest(other) <= deepest

    def _deepest(self, other: Cutter) -> float:
        """How deep another bit cuts the widest stroke."""
        finish = self.by.finish
        grown = other.thinned(finish.sanded_off) if finish.compensate else 0.0
        return other.depth(self.cut_widest(self.line.cap_height, grown))

    def _lower_limit(self, wanted: float) -> str:
        """Another limit, where the order wrote this one and the cutter could do with less."""
        by = self.by
        if by.order.limits.stroke is None or wanted != by.limits.stroke.value:
            return ""
        free = by.order.model_copy(update={"limits": by.order.limits.model_copy(update={"stroke": None})})
        if self.finished < (limits_of(free, by.cutter, by.thickness).stroke.value or 0.0):
            return ""
        seen = self._fine(self.finished, up=False)
        return f"write {seen} as `stroke` into [limits] if that will do: {by.cutter.name} can make it"

    def _fine(self, length: float, *, up: bool) -> str:
        """A length rounded to the safe side, with one decimal more than usual."""
        unit = self.by.order.unit
        step = unit.mm * 10.0 ** -(unit.decimals + 1)
        whole = math.ceil(length / step - 1e-6) if up else math.floor(length / step + 1e-6)
        return unit.show(whole * step, unit.decimals + 1)


def _finer(cutter: Cutter, than: Cutter) -> bool:
    return cutter.slope < than.slope if than.slope else cutter.line_width < than.line_width
