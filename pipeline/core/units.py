"""Lengths are millimetres inside. Here they are read from, and shown in, the order's unit."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

MM_PER_INCH = 25.4
"""Exact by definition of the international inch (1959)."""

SAME = 1e-6
"""mm; sizes nearer than this are one size (they are set in steps far larger)."""

UnitName = Literal["mm", "in"]


@dataclass(frozen=True, slots=True)
class Units:
    """The unit an order is written and shown in."""

    name: UnitName = "mm"

    @property
    def mm(self) -> float:
        """Millimetres in one unit."""
        return MM_PER_INCH if self.name == "in" else 1.0

    @property
    def decimals(self) -> int:
        """Decimals a length is normally shown with."""
        return 4 if self.name == "in" else 2

    def format_number(self, length_mm: float, decimals: int | None = None) -> str:
        """Format a length without its unit, e.g. '7.25'."""
        return f"{length_mm / self.mm:.{self.decimals if decimals is None else decimals}f}"

    def show(self, length_mm: float, decimals: int | None = None) -> str:
        """A length with its unit, e.g. '7.25 mm'."""
        return f"{self.format_number(length_mm, decimals)} {self.name}"

    def format_speed(self, mm_per_minute: float) -> str:
        """Format a feed, e.g. '900 mm/min', '35.4 in/min'."""
        return f"{self.format_number(mm_per_minute, 1 if self.name == 'in' else 0)} {self.name}/min"

    def format_figure(self, value: float, unit: str) -> str:
        """Format a number that isn't a length, with its unit if it has one."""
        return f"{value:g} {unit}".strip()

    def round_length(self, length_mm: float, *, up: bool, finer: int = 0) -> float:
        """Round a length in mm up or down to the decimals that are shown; `finer`: so many decimals more."""
        return self.round_value(length_mm, up=up, finer=finer) * self.mm

    def round_value(self, length_mm: float, *, up: bool, finer: int = 0) -> float:
        """Round a length likewise, but return it in the unit itself, as it is typed."""
        decimals = self.decimals + finer
        steps = length_mm / self.mm * 10.0**decimals
        whole = math.ceil(steps - 1e-6) if up else math.floor(steps + 1e-6)
        return round(whole / 10.0**decimals, decimals)

    def format_typed(self, length_mm: float) -> str:
        """Format a length as it is typed, without its unit and without trailing zeros: '7.25', '0.325', '5'."""
        return f"{length_mm / self.mm:.6f}".rstrip("0").rstrip(".")

    def format_pair(self, measured_mm: float, limit_mm: float, decimals: int | None = None) -> tuple[str, str]:
        """Format a measured length and its limit, with as many decimals as it takes to tell them apart."""
        decimals = self.decimals if decimals is None else decimals
        if limit_mm and abs(measured_mm - limit_mm) <= abs(limit_mm) * 0.01:
            decimals += 1
        while decimals < 9 and measured_mm != limit_mm:
            if self.format_number(measured_mm, decimals) != self.format_number(limit_mm, decimals):
                break
            decimals += 1
        return self.show(measured_mm, decimals), self.show(limit_mm, decimals)


@dataclass(frozen=True, slots=True)
class SpokenUnits(Units):
    """The same, with lengths as a person says them, for papers that are read and not computed with: no noughts that say
    nothing, hundredths of a millimetre or thousandths of an inch at most: '19 mm', '0.074 in'."""

    def format_number(self, length_mm: float, decimals: int | None = None) -> str:
        """Format a length without its unit, e.g. '7.25', '19'."""
        if decimals is not None:
            return Units.format_number(self, length_mm, decimals)
        told = Units.format_number(self, length_mm, 3 if self.name == "in" else 2).rstrip("0").rstrip(".")
        return "0" if told == "-0" else told


MM = Units("mm")
