"""The steps that make a line fit its place, in order; the first that fits is taken.

As designed → tighter tracking, the least that fits → narrower letters, where the face has a width axis and the line
allows it → broken into rows at the best place → smaller by whole steps, each of these again at every size. With
`same_size = "each"` the size gives way first instead.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable, Iterator, Sequence

from pipeline.core.config.order import LineConfig
from pipeline.core.units import Units
from pipeline.layout.block import LineSetting
from pipeline.layout.line_breaks import break_places

STEP_MM = 0.25
STEP_INCH = 0.01
"""Sizes go in steps, so that no two plaques of an order differ by a hair (inch orders step in hundredths of an
inch)."""

WIDTH_STEP = 2.5
"""Percent of normal width: letters are narrowed in whole steps of this, so that few instances of a typeface are drawn
and measured, and no two names differ by a hair."""

PLACES_TRIED = 3
"""Ways of breaking into the same number of rows that are tried at each size, best first."""

Fits = Callable[[LineSetting], bool]


def get_size_step(units: Units) -> float:
    return STEP_MM if units.name == "mm" else STEP_INCH * units.mm


def list_size_steps(top: float, bottom: float, step: float) -> Iterator[float]:
    """`top`, then every whole step below it, down to `bottom` itself."""
    yield top
    count = math.ceil(top / step - 1e-9) - 1
    while count * step > bottom + 1e-9:
        yield count * step
        count -= 1
    if bottom < top - 1e-9:
        yield bottom


def list_width_steps(designed: float, least: float) -> tuple[float, ...]:
    """Every whole step of width below `designed`, the widest first, down to `least` itself."""
    if least >= designed:
        return ()
    return tuple(list_size_steps(designed, least, WIDTH_STEP))[1:]


class CopyFitting:
    """The measures open to one line with one text."""

    def __init__(
        self,
        line: LineConfig,
        text: str,
        joins: bool,
        width: Callable[[str, int], float],
        step: float,
        widths: Sequence[float] = (),
        typed: tuple[str, ...] = (),
    ) -> None:
        """joins: its letters join, so tracking is never touched. width: of a row's ink at a tracking, any unit. widths:
        narrower widths its letters may be drawn at, the widest first. typed: the rows the text was typed in, which are
        then kept."""
        self.line, self.text, self.step, self.widths = line, text, step, tuple(widths)
        self.tightest = line.tracking if joins else min(line.tightest, line.tracking)
        self.width = width
        self._breaks: dict[int, list[tuple[str, ...]]] = {}
        self.fewest = typed or (text,)

    def find_breaks(self, count: int) -> list[tuple[str, ...]]:
        """The best ways to break the text into `count` rows."""
        if len(self.fewest) > 1:
            return [self.fewest] if count == len(self.fewest) else []
        if count == 1:
            return [self.fewest]
        if count not in self._breaks:
            anywhere = self.line.break_at == "anywhere"
            found = break_places(self.text, count, lambda row: self.width(row, self.line.tracking), anywhere=anywhere)
            self._breaks[count] = found[:PLACES_TRIED]
        return self._breaks[count]

    def get_designed(self, size: float) -> LineSetting:
        return LineSetting(cap_height=size, tracking=self.line.tracking, rows=self.fewest)

    def find_first_fit(self, fits: Fits, top: float, bottom: float) -> LineSetting | None:
        """The first measure that fits, from size `top` down to `bottom`; None when none does."""
        order = self._fit_size_first if self.line.same_size == "each" else self._fit_size_last
        return order(fits, top, bottom)

    def _fit_size_last(self, fits: Fits, top: float, bottom: float) -> LineSetting | None:
        for size in list_size_steps(top, bottom, self.step):
            for count in range(1, self.line.breaks + 1):
                for rows in self.find_breaks(count):
                    found = self._fit_spacing(fits, size, rows)
                    if found:
                        return found
        return None

    def _fit_size_first(self, fits: Fits, top: float, bottom: float) -> LineSetting | None:
        for count in range(1, self.line.breaks + 1):
            for rows in self.find_breaks(count):
                for size in list_size_steps(top, bottom, self.step):
                    if found := self._fit_spacing(fits, size, rows, tighten=False):
                        return found
                if found := self._fit_spacing(fits, bottom, rows):
                    return found
        return None

    @property
    def narrowest(self) -> float | None:
        """The least width its letters may be drawn at; None when they keep the designed one."""
        return self.widths[-1] if self.widths else None

    def _fit_spacing(self, fits: Fits, size: float, rows: tuple[str, ...], tighten: bool = True) -> LineSetting | None:
        """Fit the rows as designed; else with the least tightening, in whole thousandths; else with the least
        narrowing."""

        def build_setting(tracking: int, width: float | None = None) -> LineSetting:
            return LineSetting(cap_height=size, tracking=tracking, rows=rows, width=width)

        designed = self.line.tracking
        if fits(build_setting(designed)):
            return build_setting(designed)
        if not tighten:
            return None
        if self.tightest < designed and fits(build_setting(self.tightest)):
            return self._find_least_tight(fits, build_setting)
        if not self.widths or not fits(build_setting(self.tightest, self.narrowest)):
            return None
        first = bisect_left(self.widths, True, key=lambda width: fits(build_setting(self.tightest, width)))
        return self._find_least_tight(fits, lambda tracking: build_setting(tracking, self.widths[first]))

    def _find_least_tight(self, fits: Fits, build: Callable[[int], LineSetting]) -> LineSetting:
        """Return the loosest setting that fits; the tightest is known to fit."""
        low, high = self.tightest, self.line.tracking  # invariant: low fits
        if fits(build(high)):
            return build(high)
        while high - low > 1:
            middle = (low + high) // 2
            if fits(build(middle)):
                low = middle
            else:
                high = middle
        return build(low)
