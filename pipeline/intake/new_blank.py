"""The blank of a first order: a plain plate or the client's drawing, and sizes that suit it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import shapely

from pipeline.core.units import SpokenUnits, UnitName, Units
from pipeline.geometry.curves import Chain
from pipeline.geometry.flatten import chain_area, chain_box, flatten_chain
from pipeline.intake.drawing.closed_loops import FLAT
from pipeline.intake.drawing.layer_guess import GuessedBlank
from pipeline.intake.new_order import CHECK, clean_text
from pipeline.intake.order.toml_text import format_toml


@dataclass(frozen=True, slots=True, kw_only=True)
class StartingSizes:
    """A plain plate and sizes that can be cut with the usual V-bit: a starting point; common practice, no source."""

    width: float
    height: float
    thickness: float
    margin: float
    cap_height: float
    smallest: float
    line_cap_height: float
    line_smallest: float


STARTING: dict[UnitName, StartingSizes] = {
    "mm": StartingSizes(
        width=120.0, height=60.0, thickness=6.0, margin=4.0,
        cap_height=8.0, smallest=4.0, line_cap_height=4.0, line_smallest=3.0,
    ),
    "in": StartingSizes(
        width=5.0, height=2.5, thickness=0.25, margin=0.15,
        cap_height=0.3, smallest=0.16, line_cap_height=0.16, line_smallest=0.12,
    ),
}  # fmt: skip
"""In the order's unit."""

_LETTERING = ("cap_height", "smallest", "line_cap_height", "line_smallest")
_STEP: Mapping[UnitName, float] = {"mm": 0.1, "in": 0.005}
"""Step of lengths in a first order."""
LEAST_LETTERS: Mapping[UnitName, float] = {"mm": 1.5, "in": 0.06}
"""Smallest lettering of a first order, however small the drawing: the usual V-bit cuts little below it (common
practice, no source)."""
MARGIN_SHARE = 1 / 15
"""Share of the narrower side of a zone: that of the plain plate."""


def choose_starting_sizes(drawn: GuessedBlank | None, unit: UnitName) -> StartingSizes:
    """Choose the sizes of a first order, in its unit: those of the plain plate, or smaller ones for a drawing with less
    room."""
    plain = STARTING[unit]
    if drawn is None:
        return plain
    _, zone = find_largest_zone(drawn)
    x0, y0, x1, y1 = chain_box(zone) or (0.0, 0.0, 0.0, 0.0)
    mm = Units(unit).mm
    width, height = (x1 - x0) / mm, (y1 - y0) / mm
    share = min(1.0, width / plain.width, height / plain.height)
    letters = {
        name: max(_round_to_step(getattr(plain, name) * share, unit), LEAST_LETTERS[unit]) for name in _LETTERING
    }
    margin = min(plain.margin, _round_to_step(min(width, height) * MARGIN_SHARE, unit))
    if any(_is_narrower(shape, 2 * margin * mm) for _, shape in drawn.blank.zones):
        margin = 0.0
    width, height = round(drawn.blank.width / mm, 4), round(drawn.blank.height / mm, 4)
    return replace(plain, width=width, height=height, margin=margin, **letters)


def find_largest_zone(drawn: GuessedBlank) -> tuple[str, Chain]:
    """Find the zone with the most room; return it with its name."""
    return max(drawn.blank.zones, key=lambda zone: abs(chain_area(zone[1])))


def _is_narrower(zone: Chain, width: float) -> bool:
    return bool(shapely.Polygon(flatten_chain(zone, FLAT)).buffer(-width / 2).is_empty)


def _round_to_step(length: float, unit: UnitName) -> float:
    step = _STEP[unit]
    return round(int(length / step + 1e-9) * step, 4)


def list_blank_lines(drawn: GuessedBlank | None, sizes: StartingSizes, unit: UnitName) -> list[tuple[str, str]]:
    """List [blank] of a first order, each line with its comment."""
    if drawn is None:
        shape = [
            ('shape     = "rectangle"', f'{CHECK}: or drawing = "plaque.dxf", or shape = "disc" with a diameter'),
            (f"width     = {sizes.width}", CHECK),
            (f"height    = {sizes.height}", CHECK),
        ]
    else:
        units = SpokenUnits(unit)
        size = (
            f"{units.format_number(drawn.blank.width)} × {units.show(drawn.blank.height)}, drawn in {drawn.unit_name}"
        )
        shape = [(f"drawing   = {format_toml(drawn.part.drawing or '')}", size)]
        if drawn.part.drawing_units is not None:
            shape.append((f"drawing_units = {format_toml(drawn.part.drawing_units)}", "the drawing states no unit"))
        if needed := drawn.needed_layers:
            said = ", ".join(f"{key} = {format_toml(value)}" for key, value in needed.items())
            shape.append((f"layers    = {{ {said} }}", CHECK if drawn.unsure else ""))
        shape += [
            (f"#   {clean_text(('' if guess.sure else f'{CHECK}: ') + guess.words, 300)}", "") for guess in drawn.layers
        ]
    return [
        ("", ""),
        ("[blank]", ""),
        *shape,
        (f"thickness = {sizes.thickness}", CHECK),
        (f"margin    = {sizes.margin}", "lettering stays this far inside the edge"),
    ]
