"""What the checks measure on a line of a plaque: every value with its name, unit, limit and headings in one record.

A new value is one record in `MEASURED_VALUES` and what measures it, an entry of `CHECKS` in
`pipeline.checks.plaque_checks`. Report, check sheet and reference show it from here, in this order.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from pipeline.core.language.texts import Texts


@dataclass(frozen=True, slots=True, kw_only=True)
class Measurement:
    """One value as it was measured. Lengths in mm."""

    name: str  # its key in the report
    value: float
    kind: str = ""  # kind of place: "neck" "branch" "piece" · "gap" "aperture" "counter" "neighbour" "row" "edge" …
    at: tuple[float, float] | None = None  # point on the blank, mm
    glyph: str = ""  # the letter or letters


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredValue:
    """What a value is called wherever it is shown."""

    key: str
    """Its name in report.json."""
    meaning: str
    """What it is, for the reference."""
    unit: Literal["mm", "mm²", "°", ""] = "mm"
    limit: str = ""
    """Key of [limits] that it is compared with; empty: it is compared with nothing."""
    most: bool = False
    """The largest over the lines of a plaque is the one to know, not the least."""
    placed: bool = False
    """The report says where it was measured, under the key with `_place` added."""
    heading: str = ""
    """English heading of its column on the check sheet, `{unit}` for the order's unit; empty: it has none."""
    letter_column: bool = False
    """A column beside it has the letter it was measured in."""

    @property
    def is_length(self) -> bool:
        """Return whether it is shown in the order's unit."""
        return self.unit == "mm"

    @property
    def text_id(self) -> str:
        """The id under which catalogues of other languages have its heading."""
        return f"measured.{self.key.replace('_', '-')}"

    def format_heading(self, texts: Texts, unit: str) -> str:
        """Return its heading in a language. unit: the order's."""
        return texts.fill_template(texts.find_template(self.text_id, self.heading), {"unit": unit})

    def find_worst(self, measurements: Iterable[Measurement]) -> Measurement | None:
        """Return the one of its measurements to know of a plaque; None where there is none."""
        own = [m for m in measurements if m.name == self.key]
        return (max if self.most else min)(own, key=lambda m: m.value, default=None)


STROKE = MeasuredValue(
    key="stroke",
    meaning="narrowest stroke",
    limit="stroke",
    placed=True,
    heading="Narrowest stroke ({unit})",
    letter_column=True,
)
STROKE_AFTER_SANDING = MeasuredValue(
    key="stroke_after_sanding",
    meaning="the same after sanding",
    limit="stroke",
    heading="Stroke after sanding ({unit})",
)
LAND = MeasuredValue(
    key="land",
    meaning="narrowest land between two cuts",
    limit="land",
    placed=True,
    heading="Narrowest land ({unit})",
)
GROOVE_DEPTH = MeasuredValue(
    key="groove_depth",
    meaning="deepest groove of a V-bit",
    limit="deepest",
    most=True,
    heading="Deepest groove ({unit})",
)
GROOVE_SHALLOWEST = MeasuredValue(
    key="groove_shallowest",
    meaning="shallowest groove of a V-bit, after sanding",
    limit="shallowest",
)

MEASURED_VALUES: tuple[MeasuredValue, ...] = (STROKE, STROKE_AFTER_SANDING, LAND, GROOVE_DEPTH, GROOVE_SHALLOWEST)
