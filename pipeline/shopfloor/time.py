"""An estimate of time and cost. Every figure carries its assumption. Minutes, mm, the order's currency."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from pipeline.core.model import Artwork
from pipeline.core.shop_order import RatesPart
from pipeline.cutting.cutters import Cutter
from pipeline.geometry.flatten import outline_length
from pipeline.shopfloor.pocket import PocketPlan, PocketTool

CHIP = 0.016
"""Chip load of hardwood at a depth of one diameter, of the cutter's diameter: the low end of .002 to .004 in for 1/8 in
and .005 to .007 in for 1/4 in (common practice, no source)."""
DEEPER = ((1.0, 1.0), (2.0, 0.75), (3.0, 0.5))
"""Depth in diameters up to which the chip load keeps this share: less 25 % at two, less 50 % at three (common practice,
no source)."""

Measured = tuple[float, int]
"""Length of grooves in mm and how often the cutter is lifted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One line of the estimate, for the whole order."""

    name: str
    kind: Literal["machine", "hand"]
    minutes: float
    how: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """Time and cost of an order. Costs are None where the order gives no price."""

    pieces: int
    items: tuple[Item, ...]
    machine: float  # minutes
    hand: float
    work_cost: float | None
    stock_cost: float | None
    resin_cost: float | None
    currency: str

    @property
    def minutes(self) -> float:
        return self.machine + self.hand

    @property
    def cost(self) -> float | None:
        known = [c for c in (self.work_cost, self.stock_cost, self.resin_cost) if c is not None]
        return sum(known) if known else None

    def each(self, value: float | None) -> float | None:
        """A figure of the order for one piece."""
        return value / self.pieces if value is not None and self.pieces else None


def feed_of(rates: RatesPart, diameter: float, depth: float) -> float:
    """mm/min: rpm × flutes × chip load (the usual feed formula), less for deep passes, at most the machine's own."""
    chip = rates.chip_load if rates.chip_load is not None else CHIP * diameter
    share = next((s for d, s in DEEPER if depth <= d * diameter + 1e-9), DEEPER[-1][1])
    return min(rates.fastest, rates.rpm * rates.flutes * chip * share)


def lettering_length(artwork: Artwork, cutter: Cutter, known: dict[tuple[str, float], Measured]) -> Measured:
    """Length of cut and lifts of one plaque's lettering.

    A V-bit runs once along the middle of a stroke: half the outline's length, which is long by the stroke's ends. Any
    other cutter follows the outline, or the one line of a single-line face. One lift for each contour. `known` keeps
    what was measured, by shape and scale.
    """
    length, lifts = 0.0, 0
    for side in ("front", "back"):
        for piece in artwork.pieces(side):
            shape = piece.shape
            key = (shape.key, piece.scale)
            if key not in known:
                whole = outline_length(shape.outline, shape.units_per_em / 500) * piece.scale
                once = shape.single_line or cutter.kind != "v-bit"
                known[key] = whole if once else whole / 2, len(shape.outline)
            length += known[key][0]
            lifts += known[key][1]
    return length, lifts


def pocket_minutes(tool: PocketTool, rates: RatesPart) -> float:
    """One plaque, one cutter: area over stepover and once round the wall in each pass, and a plunge for each entry."""
    feed = feed_of(rates, tool.cutter.diameter or 1.0, tool.step)
    way = tool.clears / tool.stepover + tool.wall
    return tool.passes * (way / feed + tool.entries * rates.lift / 60)


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """What the estimate is made from."""

    pieces: int
    lettering: Measured  # of all pieces
    pocket: PocketPlan | None
    boards: int  # 0: blanks come ready
    cuts: int
    settings: int
    trims: int  # of one piece
    trim_settings: int
    mixes: int
    pour_minutes: float
    board_area: float  # m²
    resin: float  # litres
    sanded: bool
    finished: bool


def estimate(work: Work, rates: RatesPart, cutter: Cutter) -> Estimate:
    """Time and cost of the whole order."""
    items: list[Item] = []

    def add(name: str, kind: Literal["machine", "hand"], minutes: float, how: str) -> None:
        if minutes > 0:
            items.append(Item(name=name, kind=kind, minutes=minutes, how=how))

    n = work.pieces
    tools = [] if work.pocket is None else list(work.pocket.tools)
    changes = 1 + len(tools)
    loads = work.boards or n
    length, lifts = work.lettering
    if n:
        add("first set-up", "hand", rates.setup, f"{rates.setup:g} min a job")
        on = "board" if work.boards else "blank"
        add("fixing and zeroing", "hand", loads * rates.fixing, f"{loads} × {rates.fixing:g} min a {on}")
        per = work.boards * changes if work.boards and changes > 1 else changes
        add("changing cutters", "hand", per * rates.change, f"{per} × {rates.change:g} min")
    add(
        "lettering",
        "machine",
        length / rates.feed + lifts * rates.lift / 60,
        f"{length / 1000:.1f} m at {rates.feed:g} mm/min, {lifts} lifts of {rates.lift:g} s; {_how(cutter)}",
    )
    for tool in tools:
        feed = feed_of(rates, tool.cutter.diameter or 1.0, tool.step)
        add(
            f"pocket, {tool.cutter.name}",
            "machine",
            n * pocket_minutes(tool, rates),
            f"{tool.clears:.0f} mm² in {tool.passes} passes, {tool.stepover:.2f} mm a track, {feed:.0f} mm/min",
        )
    if work.boards:
        minutes = work.cuts * rates.saw_cut + work.settings * rates.fence
        add("sawing boards apart", "hand", minutes, f"{work.cuts} cuts, {work.settings} settings")
    if work.trims:
        minutes = n * work.trims * rates.saw_cut + work.trim_settings * rates.fence
        add("sawing to the line", "hand", minutes, f"{work.trims} cuts a piece, {work.trim_settings} settings")
    if work.mixes:
        minutes = work.mixes * rates.mixing + work.pour_minutes
        add("mixing and pouring", "hand", minutes, f"{work.mixes} × {rates.mixing:g} min a mix, then pouring")
    if work.sanded:
        add("sanding", "hand", n * rates.sanding, f"{rates.sanding:g} min a piece")
    if work.finished:
        add("finishing", "hand", n * rates.finishing, f"{rates.finishing:g} min a piece")
    add("checking and packing", "hand", n * rates.packing, f"{rates.packing:g} min a piece")
    machine = sum(i.minutes for i in items if i.kind == "machine")
    hand = sum(i.minutes for i in items if i.kind == "hand")
    priced = [m / 60 * p for m, p in ((hand, rates.hour), (machine, rates.machine_hour)) if p is not None]
    return Estimate(
        pieces=n,
        items=tuple(items),
        machine=machine,
        hand=hand,
        work_cost=sum(priced) if priced else None,
        stock_cost=None if rates.stock_price is None or not work.boards else work.board_area * rates.stock_price,
        resin_cost=None if rates.resin_price is None or not work.resin else work.resin * rates.resin_price,
        currency=rates.currency,
    )


def _how(cutter: Cutter) -> str:
    if cutter.kind == "v-bit":
        return "grooves taken as half the outlines' length"
    return "outlines, or single lines, followed once"
