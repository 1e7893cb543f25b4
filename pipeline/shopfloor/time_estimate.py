"""The estimate of time and cost. Every figure carries its assumption. Minutes, mm, the order's currency."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from pipeline.core.config.order import Order
from pipeline.core.config.shop_tables import RatesConfig
from pipeline.core.units import MM, Units
from pipeline.cutting.cutters import Cutter
from pipeline.cutting.cutting_data import choose_passes, compute_feed, estimate_feed, get_rate
from pipeline.cutting.flat_floor import FlatFloor
from pipeline.shopfloor.pocket import PocketPlan, PocketTool
from pipeline.shopfloor.toolpath import Toolpath


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkFeed:
    """A feed that times are computed with, mm/min. known: it is the one on the shop sheet; otherwise nothing says it,
    and a usual one stands in for it."""

    value: float
    known: bool

    def describe(self, units: Units) -> str:
        """Describe the feed: 'at 900 mm/min', 'assuming 900 mm/min, usual in wood'."""
        return (
            f"at {units.format_speed(self.value)}"
            if self.known
            else f"assuming {units.format_speed(self.value)}, usual in wood"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeItem:
    """One line of the estimate, for the whole order."""

    name: str
    kind: Literal["machine", "hand"]
    minutes: float
    how: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeEstimate:
    """Time and cost of an order. Costs are None where the order gives no price."""

    pieces: int
    items: tuple[TimeItem, ...]
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

    def divide_by_pieces(self, value: float | None) -> float | None:
        """Return a figure of the order per piece."""
        return value / self.pieces if value is not None and self.pieces else None


def format_minutes(value: float) -> str:
    """'45 min' or '3 h 20'."""
    whole = round(value)
    return f"{whole} min" if whole < 100 else f"{whole // 60} h {whole % 60:02d}"


def choose_mill_feed(order: Order, mill: Cutter, depth: float, step: float) -> WorkFeed:
    """Choose the feed of an end mill: the table of cutters' own, or else `estimate_feed`."""
    told = compute_feed(order, mill, depth, step).feed
    if told is None:
        return WorkFeed(value=estimate_feed(order.rates, mill.diameter or 1.0, step), known=False)
    return WorkFeed(value=told, known=True)


def estimate_lettering_feed(order: Order, cutter: Cutter, depth: float | None) -> WorkFeed:
    """Choose the feed for lettering: the table of cutters' own, or else the usual feed. depth: of the lettering, mm;
    None: not stated."""
    if cutter.mills_pockets:
        step = choose_passes(order, cutter, depth).step if depth else 0.0
        return choose_mill_feed(order, cutter, depth or 0.0, step)
    return WorkFeed(value=order.rates.feed, known=get_rate(order, "feed") is not None)


def estimate_plunge_feed(order: Order) -> WorkFeed:
    """Estimate the plunge feed of every cutter."""
    return WorkFeed(value=order.rates.plunge, known=get_rate(order, "plunge") is not None)


def estimate_pocket_minutes(tool: PocketTool, rates: RatesConfig, feed: float) -> float:
    """Estimate the minutes for one plaque and one cutter: area over stepover and once round the wall in each pass, and
    for each entry a lift and a plunge by the pass's depth."""
    way = tool.clears / tool.stepover + tool.wall
    return tool.passes * (way / feed + tool.entries * (rates.lift / 60 + tool.step / rates.plunge))


def estimate_toolpath_minutes(way: Toolpath, feed: float, rates: RatesConfig) -> float:
    """Estimate the minutes for lettering: the path at its feed, mm/min, straight down at the feed for that, and the
    lifts."""
    return way.length / feed + way.plunge / rates.plunge + way.lifts * rates.lift / 60


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineVisit:
    """A time on the machine, from fixing the work to taking it off."""

    cutters: tuple[str, ...]  # names, in order of use; none for a beam
    apart: bool  # the pieces have been sawn apart, so each is fixed on its own


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkAmounts:
    """The amounts that the estimate is based on."""

    pieces: int
    lettering: Toolpath  # for all pieces
    floor: FlatFloor | None  # for wide strokes
    floor_way: Toolpath  # the flat cutter's, for all pieces
    floor_passes: int
    feed: WorkFeed  # of the lettering, and of the outline
    plunge: WorkFeed
    feeds: Mapping[str, WorkFeed]  # by end mill
    outline: float  # length of one piece's outline cut as a guide line, mm; 0: none
    outline_passes: int
    pocket: PocketPlan | None
    visits: tuple[MachineVisit, ...]
    boards: int  # 0: blanks are bought ready
    loads: int  # loads of a jig; 0: no jig
    loading: float | None  # minutes per load; None: as long as fixing one blank
    test_piece: bool  # an offcut is lettered first
    cuts: int
    settings: int
    trims: int  # per piece
    trim_settings: int
    mixes: int
    pour_minutes: float | None  # None: no pouring rate entered
    board_area: float  # m²
    resin: float  # litres
    sanded: bool
    finished: bool


def estimate_time(work: WorkAmounts, rates: RatesConfig, cutter: Cutter, units: Units = MM) -> TimeEstimate:
    """Estimate time and cost of the whole order. units: the order's, for describing the assumptions."""
    items: list[TimeItem] = []

    def add(name: str, kind: Literal["machine", "hand"], minutes: float, how: str) -> None:
        if minutes > 0:
            items.append(TimeItem(name=name, kind=kind, minutes=minutes, how=how))

    n = work.pieces
    tools = [] if work.pocket is None else list(work.pocket.tools)
    way = work.lettering
    if n:
        add("first set-up", "hand", rates.setup, f"{rates.setup:g} min a job")
        if work.loads:
            loading = rates.fixing if work.loading is None else work.loading
            add("fixing the jig and zeroing it", "hand", rates.fixing, f"{rates.fixing:g} min, once")
            times = len(work.visits)
            again = "" if times == 1 else f", {times} times on the machine"
            minutes = times * work.loads * loading
            add("loading the jig", "hand", minutes, f"{times * work.loads} loads × {loading:g} min{again}")
        else:
            add("fixing and zeroing", "hand", *_estimate_fixing(work, rates))
        per = _count_changes(work)
        add("changing cutters", "hand", per * rates.change, f"{per} × {rates.change:g} min")
    lettered = estimate_toolpath_minutes(way, work.feed.value, rates)
    add(
        "lettering",
        "machine",
        lettered,
        f"{cutter.travel}: {_format_distance(way.length, units)} {work.feed.describe(units)}, {way.lifts} "
        f"{'moves with the beam off' if cutter.burns else 'lifts'} of {rates.lift:g} s"
        + (f", {_format_distance(way.plunge, units)} down {work.plunge.describe(units)}" if way.plunge else ""),
    )
    if work.floor is not None:
        mill, floor_way = work.floor.mill, work.floor_way
        feed, passes = work.feeds[mill.name], work.floor_passes
        minutes = estimate_toolpath_minutes(floor_way, feed.value, rates)
        lettered += minutes
        add(
            f"flat floors, {mill.name}",
            "machine",
            minutes,
            f"{_format_distance(floor_way.length, units)} in {passes} passes {feed.describe(units)}, "
            f"{floor_way.lifts} lifts of {rates.lift:g} s",
        )
    if work.test_piece and n:
        add("test piece on an offcut", "machine", lettered / n, "as long as one piece, on average")
        add("fixing the offcut", "hand", rates.fixing, f"{rates.fixing:g} min")
    for tool in tools:
        feed = work.feeds[tool.cutter.name]
        add(
            f"pocket, {tool.cutter.name}",
            "machine",
            n * estimate_pocket_minutes(tool, rates, feed.value),
            f"{_format_area(tool.clears, units)}, {units.show(tool.stepover)} a track, and "
            f"{_format_distance(tool.wall, units, 2)} of wall, in {tool.passes} passes {feed.describe(units)}, "
            f"{tool.passes * tool.entries} lifts of {rates.lift:g} s and plunges of {units.show(tool.step)} "
            f"{work.plunge.describe(units)}",
        )
    if work.outline:
        several = work.outline_passes > 1
        rounds = f"{work.outline_passes} times round" if several else "once round"
        add(
            "outline",
            "machine",
            n * work.outline_passes * (work.outline / work.feed.value + rates.lift / 60),
            f"{_format_distance(work.outline, units)} {rounds} {work.feed.describe(units)}, "
            f"one lift{' each' if several else ''}",
        )
    if work.boards:
        minutes = work.cuts * rates.saw_cut + work.settings * rates.fence
        add("sawing boards apart", "hand", minutes, f"{work.cuts} cuts, {work.settings} settings")
    if work.trims and n:
        minutes = n * work.trims * rates.saw_cut + work.trim_settings * rates.fence
        add("sawing to the line", "hand", minutes, f"{work.trims} cuts a piece, {work.trim_settings} settings")
    if work.mixes:
        minutes = work.mixes * rates.mixing + (work.pour_minutes or 0.0)
        then = "then pouring" if work.pour_minutes is not None else "without pouring: no rate is entered"
        add("mixing and pouring", "hand", minutes, f"{work.mixes} × {rates.mixing:g} min a mix, {then}")
    if work.sanded:
        add("sanding", "hand", n * rates.sanding, f"{rates.sanding:g} min a piece")
    if work.finished:
        add("finishing", "hand", n * rates.finishing, f"{rates.finishing:g} min a piece")
    add("checking and packing", "hand", n * rates.packing, f"{rates.packing:g} min a piece")
    machine = sum(i.minutes for i in items if i.kind == "machine")
    hand = sum(i.minutes for i in items if i.kind == "hand")
    priced = [m / 60 * p for m, p in ((hand, rates.hour), (machine, rates.machine_hour)) if p is not None]
    return TimeEstimate(
        pieces=n,
        items=tuple(items),
        machine=machine,
        hand=hand,
        work_cost=sum(priced) if priced else None,
        stock_cost=None if rates.stock_price is None or not work.boards else work.board_area * rates.stock_price,
        resin_cost=None if rates.resin_price is None or not work.resin else work.resin * rates.resin_price,
        currency=rates.currency,
    )


def _estimate_fixing(work: WorkAmounts, rates: RatesConfig) -> tuple[float, str]:
    """Estimate the minutes for fixing boards or blanks, each time they come on the machine, with what they are made
    from."""
    whole = sum(not visit.apart for visit in work.visits) * (work.boards or work.pieces)
    single = sum(visit.apart for visit in work.visits) * work.pieces
    on = "board" if work.boards else "blank"
    counts = [(whole, on), (single, "piece")]
    told = ", ".join(f"{count} × {rates.fixing:g} min a {what}" for count, what in counts if count)
    again = f", {len(work.visits)} times on the machine" if len(work.visits) > 1 else ""
    return (whole + single) * rates.fixing, told + again


def _count_changes(work: WorkAmounts) -> int:
    """Count how often a cutter is put in: for every board or load, where a visit takes several; else once for all, and
    not if it is in already."""
    count, held = 0, ""
    for visit in work.visits:
        several = len(visit.cutters) > 1
        if several:
            count += len(visit.cutters) * (1 if visit.apart else work.boards or work.loads or 1)
        elif visit.cutters and visit.cutters[0] != held:
            count += 1
        held = visit.cutters[-1] if visit.cutters else held
    return count


def _format_distance(length: float, units: Units, decimals: int = 1) -> str:
    if units.name == "mm":
        return f"{length / 1000:.{decimals}f} m"
    return f"{length / units.mm / 12:.{decimals}f} ft"


def _format_area(area: float, units: Units) -> str:
    return f"{area / units.mm**2:.{0 if units.name == 'mm' else 2}f} {units.name}²"
