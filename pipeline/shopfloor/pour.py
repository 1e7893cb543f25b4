"""The pour: the amount of resin, its mixes and layers, and the dam. Volumes ml (1 ml = 1000 mm³), grams.

Nothing is assumed about the product: what its data sheet says and the order, or the shop file, does not is None here,
and what depends on it too.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import shapely

from pipeline.core.catalogue import shop_kinds as kinds
from pipeline.core.config.shop_tables import PourConfig, get_source
from pipeline.core.findings import Fact, Finding, build_finding
from pipeline.core.model import Blank
from pipeline.geometry.regions import build_chain_polygon

TOLERANCE = 0.002
"""Flattening tolerance of pocket and edge, mm."""
OFF = 0.01
"""How far printed parts of a mix may be from their ratio: a hundredth, our own choice; a cup or a scale is no finer."""
WHOLE_FROM = 100.0
"""Mixes from here on are told in whole grams and millilitres, smaller ones in tenths, which scales for resin show
(common practice, no source)."""
MORE = 2.0
"""ml or g. A small mix may be larger by this much than needed, so that its parts can be measured in tenths."""
LIKELY = (0.75, 1.25)
"""Hardener to resin, weight of equal volumes: outside this the two ratios do not belong together (common practice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ResinMix:
    """What is mixed for one layer: a cup for several plaques, or the share of one where no limit of a cup is known."""

    layer: int  # from 1
    plaques: int
    volume: float  # ml including waste
    mass: float | None  # g; None: no density entered


@dataclass(frozen=True, slots=True, kw_only=True)
class Dam:
    """The dam that holds the resin back."""

    wall: float  # thinnest wall between pocket and edge; 0: the pocket reaches the edge
    wanted: float
    line: float  # length of the pocket's outline that is closer to the edge than wanted
    outside: float  # wood left outside the edge until it is trimmed


@dataclass(frozen=True, slots=True, kw_only=True)
class PourPlan:
    """The pour of a whole order. What follows from a value that was not entered is None."""

    pieces: int
    area: float  # mm² of one plaque's pocket
    depth: float  # mm, of the pocket or else of the lettering; including what stands above the face
    pocket_ml: float  # per plaque, without waste
    lettering_ml: float  # lettering of all plaques, without waste
    volume: float  # ml for all, without waste
    with_waste: float  # including waste; equal to `volume` where no waste was entered
    mass: float | None  # g for all, including waste
    layers: int | None
    mixes: tuple[ResinMix, ...]  # empty: the layers, or what each takes, are not known
    each: bool  # mixes are per plaque, because the amount per cup isn't known
    most_ml: float | None  # most that may be mixed at once
    minutes: float | None  # pouring only
    hours: float | None  # from the first pour to sawing
    dam: Dam | None  # None: there is no pocket
    data_sheet: str
    missing: tuple[str, ...]  # keys of [pour] to be read from the data sheet


@dataclass(frozen=True, slots=True)
class Measured:
    """Two parts of a mix as they are printed and measured: rounded, and together the rounded whole."""

    decimals: int
    whole: float
    first: float
    second: float


def measure_out(whole: float, ratio: tuple[float, float]) -> Measured:
    """A mix of two parts in whole units, or in tenths if it is small: the least that is not smaller by more than half a
    step and whose parts hold the ratio within OFF. Finer steps only where that would be a tenth more, and over MORE."""
    a, b = ratio
    large, small = max(a, b), min(a, b)
    decimals = choose_amount_decimals(whole)
    while True:
        steps = 10**decimals
        least, most = whole * steps - 0.5, max(1.1 * whole, whole + MORE) * steps
        fewest = max(1, math.floor(least * small / (large + small)))
        for few in range(fewest, fewest + 200):
            many = round(few * large / small)
            if few + many > most:
                break
            if few + many >= least and abs(few * large / (many * small) - 1) <= OFF:
                first, second = (many, few) if a >= b else (few, many)
                return Measured(decimals, (first + second) / steps, first / steps, second / steps)
        decimals += 1


@dataclass(frozen=True, slots=True)
class MeasuredMixes:
    """Every mix of a pour as measured. A method whose ratio isn't entered has none."""

    volumes: tuple[Measured, ...]  # ml
    weights: tuple[Measured, ...]  # g
    each: bool  # they are per plaque

    @property
    def told(self) -> bool:
        """Return whether they are all the mixes there are, so that they add up to the whole."""
        return not self.each and bool(self.volumes or self.weights)


def measure_mixes(pour: PourPlan, part: PourConfig) -> MeasuredMixes:
    """Measure out each mix, by volume and by weight."""
    by_volume, by_weight = part.by_volume, part.by_weight
    return MeasuredMixes(
        volumes=() if by_volume is None else tuple(measure_out(m.volume, by_volume) for m in pour.mixes),
        weights=()
        if by_weight is None
        else tuple(measure_out(m.mass, by_weight) for m in pour.mixes if m.mass is not None),
        each=pour.each,
    )


def format_resin_total(pour: PourPlan, part: PourConfig) -> str:
    """All the resin with its waste, in words: what the mixes make together as they are measured; where it is not known
    how they are measured, the computed amount, by weight too if the density is entered."""
    mixes = measure_mixes(pour, part)
    if not mixes.told:
        mass = "" if pour.mass is None else f" = {pour.mass:.{choose_amount_decimals(pour.mass)}f} g"
        return f"{pour.with_waste:.{choose_amount_decimals(pour.with_waste)}f} ml{mass}"
    sums = ((mixes.volumes, "ml"), (mixes.weights, "g"))
    return ", or ".join(
        f"{sum(m.whole for m in measured):.{max(m.decimals for m in measured)}f} {unit}"
        for measured, unit in sums
        if measured
    )


def choose_amount_decimals(value: float) -> int:
    """Choose the decimals of an amount of resin, ml or g."""
    return 0 if value >= WHOLE_FROM else 1


def plan_dam(blank: Blank, wanted: float, outside: float) -> Dam:
    """The wood round the blank's pockets, `outside` of it left round the edge."""
    region, edge = build_chain_polygon(blank.pockets, TOLERANCE), build_chain_polygon(blank.edge, TOLERANCE)
    border, rim = shapely.boundary(region), shapely.boundary(edge)
    wall = 0.0 if not edge.contains(region) else float(border.distance(rim))
    near = border.difference(shapely.buffer(edge, -wanted)) if wanted > 0 else border.difference(edge)
    return Dam(wall=wall, wanted=wanted, line=float(shapely.length(near)), outside=outside)


def plan_pour(
    blank: Blank,
    part: PourConfig,
    *,
    area: float,
    depth: float,
    pieces: int,
    lettering_ml: float = 0.0,
    lettering_depth: float = 0.0,
    outside: float = 0.0,
) -> tuple[PourPlan, tuple[Finding, ...]]:
    """The pour of `pieces` plaques whose pockets are `area` mm² by `depth` mm.

    lettering_ml: of all plaques together; beside a pocket it is poured with the last layer. lettering_depth: of the
    deepest letter, mm; it counts where there is no pocket to fill. outside: wood left round the edge, mm.
    """
    overfill, waste = part.overfill or 0.0, part.waste or 0.0
    fills_pocket = part.fills in ("pocket", "both") and area > 0
    whole = (depth if fills_pocket else lettering_depth) + overfill
    pocket_ml = area * whole / 1000 if fills_pocket else 0.0
    lettering = lettering_ml if part.fills in ("lettering", "both") else 0.0
    volume = pocket_ml * pieces + lettering
    layers = None if part.layer is None else max(1, math.ceil(whole / part.layer - 1e-9))
    # how the volume of letters divides among layers depends on every groove's shape: then no mixes
    mixed = layers or 0 if fills_pocket or layers == 1 else 0
    most = _find_largest_mix(part)
    mixes: list[ResinMix] = []
    most_one = 0.0
    for layer in range(1, mixed + 1) if pieces else ():
        letters = lettering / pieces if layer == layers else 0.0
        one = (pocket_ml / (layers or 1) + letters) * (1 + waste)
        most_one = max(most_one, one)
        for plaques in _split_cups(one, pieces, most):
            ml = plaques * one
            mixes.append(
                ResinMix(
                    layer=layer,
                    plaques=plaques,
                    volume=ml,
                    mass=None if part.density is None else ml * part.density,
                )
            )
    waits = None if layers is None else 0.0 if layers == 1 else part.between_layers
    hours = None
    if layers is not None and waits is not None and part.machine is not None:
        hours = (layers - 1) * waits + part.machine
    plan = PourPlan(
        pieces=pieces,
        area=area,
        depth=whole,
        pocket_ml=pocket_ml,
        lettering_ml=lettering,
        volume=volume,
        with_waste=volume * (1 + waste),
        mass=None if part.density is None else volume * (1 + waste) * part.density,
        layers=layers,
        mixes=tuple(mixes),
        each=most is None,
        most_ml=most,
        minutes=None if part.rate is None else volume / part.rate,
        hours=hours,
        dam=plan_dam(blank, part.dam, outside) if blank.pockets else None,
        data_sheet=part.data_sheet,
        missing=tuple(_list_missing(part, layers)),
    )
    return plan, tuple(_list_findings(plan, part, most_one))


def _find_largest_mix(part: PourConfig) -> float | None:
    """The largest mix that can be used at once, ml; None where nothing limits it that was entered."""
    ends = [] if part.largest_mix is None else [part.largest_mix]
    if part.working_time is not None and part.rate is not None:
        ends.append(max(0.0, part.working_time - (part.stirring or 0.0)) * part.rate)
    return min(ends, default=None)


def _split_cups(one: float, pieces: int, most: float | None) -> Iterator[int]:
    """Split a layer into mixes as even as possible, each with its number of plaques; one mix per plaque where no limit
    of a cup is known."""
    if most is None:
        yield 1
        return
    each = max(1, math.floor(most / one + 1e-9)) if one > 0 else pieces
    count = math.ceil(pieces / each) if one > 0 else 0
    for k in range(count):
        yield pieces // count + (1 if k < pieces % count else 0)


def _list_missing(part: PourConfig, layers: int | None) -> Iterator[str]:
    """Keys whose values the pour card lacks, and the data sheet has."""
    if part.by_volume is None and part.by_weight is None:
        yield "by_volume"
        yield "by_weight"
    if part.density is None and part.by_volume is None:
        yield "density"
    if part.layer is None:
        yield "layer"
    if part.between_layers is None and (layers or 2) > 1:
        yield "between_layers"
    for key in ("working_time", "demould", "machine"):
        if getattr(part, key) is None:
            yield key


SAID = {
    "by_volume": "the mixing ratio by volume",
    "by_weight": "the mixing ratio by weight",
    "density": "the density of the mix",
    "layer": "the deepest layer",
    "between_layers": "the wait between layers",
    "working_time": "the working time",
    "demould": "the wait before it may be moved",
    "machine": "the wait before it may be sawn and sanded",
}
"""Values of a data sheet in words, by key of [pour]."""


def join_keys(keys: tuple[str, ...]) -> str:
    """Join the missing keys in one phrase; a ratio by volume or by weight is enough."""
    said = [SAID[key] for key in keys]
    if keys[:2] == ("by_volume", "by_weight"):
        said[:2] = ["the mixing ratio (by volume or by weight)"]
    return said[0] if len(said) == 1 else f"{', '.join(said[:-1])} and {said[-1]}"


def _list_findings(plan: PourPlan, part: PourConfig, one: float) -> list[Finding]:
    out = []
    if plan.layers is not None and plan.layers > 1:
        wait = "not entered" if part.between_layers is None else f"{part.between_layers:g} h"
        facts: dict[str, Fact] = {"layers": plan.layers, "wait": wait, "origin": get_source(part, "layer")}
        out.append(build_finding(kinds.TOO_DEEP, measured=plan.depth, limit=part.layer, unit="mm", facts=facts))
    if plan.most_ml is not None and one > plan.most_ml:
        out.append(build_finding(kinds.WORKING_TIME, facts={"volume": one, "most": plan.most_ml}))
    dam = plan.dam
    if dam is not None and dam.wall + dam.outside < dam.wanted - 1e-9:
        line: dict[str, Fact] = {"line": dam.line}
        out.append(
            build_finding(kinds.DAM_THIN, measured=dam.wall + dam.outside, limit=dam.wanted, unit="mm", facts=line)
        )
    if part.by_volume is not None and part.by_weight is not None:
        (a, b), (m, n) = part.by_volume, part.by_weight
        ratio = (n / m) / (b / a)
        if not LIKELY[0] <= ratio <= LIKELY[1]:
            out.append(build_finding(kinds.RATIOS_DISAGREE, facts={"ratio": ratio}))
    if plan.missing:
        said: dict[str, Fact] = {
            "missing": join_keys(plan.missing),
            "keys": ", ".join(plan.missing),
        }
        out.append(build_finding(kinds.DATA_SHEET_INCOMPLETE, facts=said))
    if not part.data_sheet:
        out.append(build_finding(kinds.NO_DATA_SHEET))
    return out
