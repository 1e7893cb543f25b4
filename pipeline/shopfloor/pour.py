"""The pour: how much resin, in which mixes and layers, and what holds it back. Volumes ml (1 ml = 1000 mm³), grams."""

from __future__ import annotations

import math
from dataclasses import dataclass

import shapely

from pipeline.core.catalogue import shop_kinds as kinds
from pipeline.core.findings import Finding, find
from pipeline.core.model import Blank
from pipeline.core.shop_tables import PourConfig, source_of
from pipeline.geometry.regions import chain_polygon

TOLERANCE = 0.002
"""How far the flattened pocket and edge may lie from the drawing, mm."""
OFF = 0.01
"""How far printed parts of a mix may be from their ratio: a hundredth, our own choice; a cup or a scale is no finer."""
MOST_DECIMALS = 4
LIKELY = (0.75, 1.25)
"""Hardener to resin, weight of equal volumes: outside this the two ratios do not belong together (common practice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ResinMix:
    """One cup."""

    layer: int  # from 1
    plaques: int
    volume: float  # ml with waste
    resin_ml: float
    hardener_ml: float
    resin_g: float
    hardener_g: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Dam:
    """What holds the resin back."""

    wall: float  # thinnest wood between pocket and the blank's edge; 0: the pocket reaches the edge
    wanted: float
    line: float  # length of the pocket's outline that lies nearer to the edge than wanted
    outside: float  # wood left outside the edge until it is trimmed


@dataclass(frozen=True, slots=True, kw_only=True)
class PourPlan:
    """The pour of a whole order."""

    pieces: int
    area: float  # mm² of one plaque's pocket
    depth: float  # mm, with what stands above the face
    pocket_ml: float  # one plaque, without waste
    lettering_ml: float  # all plaques' lettering, without waste
    volume: float  # ml, all, without waste
    with_waste: float
    mass: float  # g, all, with waste
    layers: int
    mixes: tuple[ResinMix, ...]
    most_ml: float  # one mix at most
    minutes: float  # pouring alone
    hours: float  # from the first pour to the saw
    demould: float
    machine: float
    between_layers: float
    working_time: float
    dam: Dam | None  # None: there is no pocket
    data_sheet: str
    origin: str  # where the resin's values come from


def plan_mixes(volume: float, part: PourConfig) -> tuple[float, float, float, float]:
    """(resin ml, hardener ml, resin g, hardener g) of a mix of `volume` ml: the two ratios are used each by itself."""
    a, b = part.by_volume
    m, n = part.by_weight
    mass = volume * part.density
    return volume * a / (a + b), volume * b / (a + b), mass * m / (m + n), mass * n / (m + n)


@dataclass(frozen=True, slots=True)
class Measured:
    """Two parts of a mix as they are printed and measured: rounded, and together the rounded whole."""

    decimals: int
    whole: float
    first: float
    second: float


def measured_out(whole: float, ratio: tuple[float, float]) -> Measured:
    """A mix of two parts in as few decimals as keep their ratio and the whole within OFF of what they should be."""
    a, b = ratio
    for decimals in range(MOST_DECIMALS + 1):
        total, first = round(whole, decimals), round(whole * a / (a + b), decimals)
        second = round(total - first, decimals)
        held = first > 0 and second > 0 and abs(second * a / (first * b) - 1) <= OFF
        if decimals == MOST_DECIMALS or (held and abs(total - whole) <= OFF * whole):
            break
    return Measured(decimals, total, first, second)


def plan_dam(blank: Blank, wanted: float, outside: float) -> Dam:
    """The wood round the blank's pockets, `outside` of it left round the edge."""
    region, edge = chain_polygon(blank.pockets, TOLERANCE), chain_polygon(blank.edge, TOLERANCE)
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
    outside: float = 0.0,
) -> tuple[PourPlan, tuple[Finding, ...]]:
    """The pour of `pieces` plaques whose pockets are `area` mm² by `depth` mm.

    lettering_ml: of all plaques together, poured with the last layer. outside: wood left round the edge, mm.
    """
    fills_pocket = part.fills in ("pocket", "both") and area > 0
    whole = depth + part.overfill if fills_pocket else part.overfill
    pocket_ml = area * whole / 1000 if fills_pocket else 0.0
    lettering = lettering_ml if part.fills in ("lettering", "both") else 0.0
    volume = pocket_ml * pieces + lettering
    layers = max(1, math.ceil(whole / part.layer - 1e-9)) if fills_pocket else 1
    most = min(part.largest_mix, max(0.0, part.working_time - part.stirring) * part.rate)
    mixes: list[ResinMix] = []
    most_one = 0.0
    for layer in range(1, layers + 1) if pieces else ():
        letters = lettering / pieces if layer == layers else 0.0
        one = (pocket_ml / layers + letters) * (1 + part.waste)
        most_one = max(most_one, one)
        each = max(1, math.floor(most / one + 1e-9)) if one > 0 else pieces
        count = math.ceil(pieces / each) if one > 0 else 0
        for k in range(count):
            n = pieces // count + (1 if k < pieces % count else 0)  # as even as they come
            resin_ml, hardener_ml, resin_g, hardener_g = plan_mixes(n * one, part)
            mixes.append(
                ResinMix(
                    layer=layer,
                    plaques=n,
                    volume=n * one,
                    resin_ml=resin_ml,
                    hardener_ml=hardener_ml,
                    resin_g=resin_g,
                    hardener_g=hardener_g,
                )
            )
    origin = f"data sheet “{part.data_sheet}”" if part.data_sheet else source_of(part, "layer")
    dam = plan_dam(blank, part.dam, outside) if blank.pockets else None
    plan = PourPlan(
        pieces=pieces,
        area=area,
        depth=whole,
        pocket_ml=pocket_ml,
        lettering_ml=lettering,
        volume=volume,
        with_waste=volume * (1 + part.waste),
        mass=volume * (1 + part.waste) * part.density,
        layers=layers,
        mixes=tuple(mixes),
        most_ml=most,
        minutes=volume / part.rate,
        hours=(layers - 1) * part.between_layers + part.machine,
        demould=part.demould,
        machine=part.machine,
        between_layers=part.between_layers,
        working_time=part.working_time,
        dam=dam,
        data_sheet=part.data_sheet,
        origin=origin,
    )
    return plan, tuple(_findings(plan, part, most_one))


def _findings(plan: PourPlan, part: PourConfig, one: float) -> list[Finding]:
    out = []
    if plan.layers > 1:
        facts: dict[str, str | float | int] = {
            "layers": plan.layers,
            "hours": plan.between_layers,
            "origin": plan.origin,
        }
        out.append(find(kinds.TOO_DEEP, measured=plan.depth, limit=part.layer, unit="mm", facts=facts))
    if one > plan.most_ml:
        out.append(find(kinds.WORKING_TIME, facts={"volume": one, "most": plan.most_ml}))
    dam = plan.dam
    if dam is not None and dam.wall + dam.outside < dam.wanted - 1e-9:
        facts = {"line": dam.line}
        out.append(find(kinds.DAM_THIN, measured=dam.wall + dam.outside, limit=dam.wanted, unit="mm", facts=facts))
    a, b = part.by_volume
    m, n = part.by_weight
    ratio = (n / m) / (b / a)
    if not LIKELY[0] <= ratio <= LIKELY[1]:
        out.append(find(kinds.RATIOS_DISAGREE, facts={"ratio": ratio}))
    if not part.data_sheet:
        out.append(find(kinds.NO_DATA_SHEET))
    return out
