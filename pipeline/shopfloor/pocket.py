"""A pocket and two round cutters: what the rough one clears, what is left for the fine one, what neither reaches.

Words: *rest*, what the rough cutter leaves and the fine one clears · *unreachable*, what even the last cutter leaves ·
*corner*, one connected piece of that. What a round cutter of radius r reaches inside a shape is the opening of the
shape by a disc of that radius (Minkowski): shrunk by r, then grown by r. All lengths mm, areas mm².
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import shapely

from pipeline.core.catalogue import shop_kinds as kinds
from pipeline.core.config.order import Order
from pipeline.core.config.shop_tables import PocketConfig, get_source
from pipeline.core.findings import Finding, build_finding
from pipeline.core.model import Blank
from pipeline.core.required import require_value
from pipeline.cutting.cutters import Cutter
from pipeline.cutting.cutting_data import Passes, choose_passes
from pipeline.geometry.curves import Array, Chain
from pipeline.geometry.flatten import chain_area, compute_arc_from_bulge
from pipeline.geometry.regions import Region, build_chain_polygon, list_region_rings

TOLERANCE = 0.002
"""How far the flattened pocket may lie from the drawing, mm."""
ROUND = 64
"""Steps in a quarter circle while shrinking and growing: off by 7.5e-5 of the radius at most."""
SHARP = math.radians(5)
"""A break of direction smaller than this is a rounding of the drawing, not a corner."""
STEPPED = 0.9
"""Straight steps that turn as a circle of less than this part of the tightest arc's radius are a tighter curve: nearer
ones may be the same arc, rounded as it was drawn."""
SEEN = 0.01
"""A leftover that reaches no farther than this from what the cutter clears does not count as one, mm."""

SPECK = 0.01
"""mm². A rest smaller than this, a square of 0.1 mm, is left: no eye sees it, and a change of cutter costs minutes
(common practice, no source). In a square corner it reaches 0.003 mm farther than the rough cutter of 6 mm."""

HAIR = 1e-6
"""Walls that a cutter runs along come back to within binary rounding; this much, mm, keeps corners apart along them."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MilledArea:
    """A region as its rings (outer anticlockwise, holes clockwise, first corner not repeated) with its area."""

    rings: tuple[Array, ...]
    area: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CornerLeft:
    """One place the last cutter leaves wood in."""

    at: tuple[float, float]  # the farthest point of the material left
    drawn: float | None  # radius as drawn; 0: a sharp corner; None: a curve of short straight steps
    left: float  # radius the cutter leaves
    area: float
    off: float  # greatest distance from the cleared area


@dataclass(frozen=True, slots=True, kw_only=True)
class PocketTool:
    """One cutter's share of the pocket."""

    cutter: Cutter
    role: str  # "rough" "fine"
    clears: float  # area that no earlier cutter has cleared
    entries: int  # separate areas it has to plunge into
    wall: float  # length of outline it follows
    passes: int
    step: float  # depth of each pass
    stepover: float  # mm
    in_reach: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class CutterAdvice:
    """What a cutter of the shelf would do here."""

    cutter: Cutter
    clears: float  # share of the pocket's area
    corners: int
    in_reach: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PocketPlan:
    """The pockets of one blank, milled by the order's cutters."""

    depth: float
    pockets: int
    drawn: MilledArea
    rough: MilledArea
    rest: MilledArea
    unreachable: MilledArea
    tools: tuple[PocketTool, ...]
    corners: tuple[CornerLeft, ...]
    widest_in: float  # the widest cutter that fits anywhere
    clears_all: float  # the widest cutter that leaves nothing visible
    smallest_inside: float | None  # radius of the tightest inside curve as drawn; 0: a sharp corner; None: no arc tells
    advice: tuple[CutterAdvice, ...]

    @property
    def cut_area(self) -> float:
        """What is milled away: as drawn, less the corners."""
        return self.rough.area + self.rest.area


def open_region(region: Region, radius: float) -> Region:
    """Return the part of the region that a round cutter of this radius reaches; empty when it fits nowhere."""
    if radius <= 0:
        return region
    return shapely.buffer(shapely.buffer(region, -radius, quad_segs=ROUND), radius, quad_segs=ROUND)


def measure_widest_circle(region: Region) -> float:
    """Diameter of the largest circle in the region; 0 when it is empty."""
    widths = [
        2 * shapely.length(shapely.maximum_inscribed_circle(part, tolerance=TOLERANCE))
        for part in shapely.get_parts(region)
        if part.area > 0
    ]
    return float(max(widths, default=0.0))


def _subtract_opening(region: Region, open_: Region) -> Region:
    """Return what lies farther than SEEN from the cleared area."""
    if open_.is_empty:
        return region
    return region.difference(shapely.buffer(open_, SEEN, quad_segs=ROUND))


def _clears_all(region: Region, radius: float) -> bool:
    return bool(_subtract_opening(region, open_region(region, radius)).is_empty)


def find_widest_cutter(region: Region, most: float) -> float:
    """Find by bisection the diameter of the widest cutter that leaves nothing farther than SEEN from what it clears.

    What a wider cutter reaches, a narrower one reaches too, so there is one such diameter. `most` bounds it.
    """
    low, high = 0.0, most / 2
    if high and _clears_all(region, high):
        return most
    while high - low > 0.005:
        middle = (low + high) / 2
        if _clears_all(region, middle):
            low = middle
        else:
            high = middle
    return 2 * low


def find_inside_features(chains: tuple[Chain, ...]) -> list[tuple[float, tuple[float, float]]]:
    """(radius, place) of every inside curve and inside corner of closed chains; the radius of a sharp corner is 0.

    Inside is where a cutter going round within the pocket has to turn: left turns of an anticlockwise outline, and of a
    clockwise island's outline too (there the pocket also lies on the left).
    """
    out = []
    for chain in chains:
        v = chain.vertices
        n = len(v)
        if chain_area(chain) == 0 or n < 2:
            continue
        into, outof = np.zeros(n), np.zeros(n)
        for i in range(n):
            p, q, k = v[i, :2], v[(i + 1) % n, :2], v[i, 2]
            chord, half = math.atan2(q[1] - p[1], q[0] - p[0]), 2 * math.atan(k)
            outof[i], into[(i + 1) % n] = chord - half, chord + half
            if k > 0 and 4 * math.atan(k) > math.radians(2):
                centre, radius, start, sweep = compute_arc_from_bulge(p, q, k)
                middle = start + sweep / 2
                out.append((radius, (centre[0] + radius * math.cos(middle), centre[1] + radius * math.sin(middle))))
        for i in range(n):
            turn = (outof[i] - into[i] + math.pi) % (2 * math.pi) - math.pi
            if turn > SHARP:
                out.append((0.0, (float(v[i, 0]), float(v[i, 1]))))
    return out


def _find_corners(
    region: Region, open_: Region, radius: float, features: list[tuple[float, tuple[float, float]]]
) -> list[CornerLeft]:
    """Find each place where the cutter leaves visible material, the worst first; none when it fits nowhere."""
    if open_.is_empty:
        return []
    seen = shapely.get_parts(_subtract_opening(region, open_))
    left = shapely.get_parts(region.difference(shapely.buffer(open_, HAIR)))
    tree = shapely.STRtree(left)
    out = []
    for k in np.unique(tree.query(seen, predicate="intersects")[1]) if len(seen) else ():
        part = left[k]
        ring = shapely.get_coordinates(part)
        far = shapely.distance(open_, shapely.points(ring))
        i = int(np.argmax(far))
        near = [r for r, at in features if r < radius and part.distance(shapely.Point(at)) <= 2 * TOLERANCE]
        out.append(
            CornerLeft(
                at=(float(ring[i, 0]), float(ring[i, 1])),
                drawn=min(near, default=None),
                left=radius,
                area=float(part.area),
                off=float(far[i]),
            )
        )
    return sorted(out, key=lambda c: (-c.off, c.at))


def _measure_area(region: Region, smallest: float = 0.0) -> MilledArea:
    """The region without slivers of rounding, as rings."""
    parts = [p for p in shapely.get_parts(region) if p.geom_type == "Polygon" and p.area > smallest]
    kept = shapely.MultiPolygon(parts) if parts else shapely.Polygon()
    return MilledArea(rings=tuple(list_region_rings(kept)) if parts else (), area=float(sum(p.area for p in parts)))


def _build_tool(
    cutter: Cutter, role: str, cleared: Region, reach_of: Region, part: PocketConfig, edge: Region, passes: Passes
) -> PocketTool:
    diameter = cutter.diameter or 0.0
    inner = shapely.buffer(reach_of, -diameter / 2 + TOLERANCE, quad_segs=ROUND)
    entered = [p for p in shapely.get_parts(inner) if not cleared.is_empty and p.distance(cleared) <= diameter]
    wall = edge.intersection(cleared.buffer(10 * TOLERANCE)) if not cleared.is_empty else cleared
    return PocketTool(
        cutter=cutter,
        role=role,
        clears=float(sum(p.area for p in shapely.get_parts(cleared))),
        entries=len(entered),
        wall=float(shapely.length(wall)),
        passes=passes.count,
        step=passes.step,
        stepover=part.stepover * diameter,
        in_reach=_can_reach(cutter, part.depth),
    )


def choose_pocket_passes(order: Order, mill: Cutter) -> Passes:
    """The passes of an end mill in the order's pocket: as deep as [pocket] says, or as that cutter goes in this
    material."""
    part = require_value(order.pocket, "[pocket]")
    return choose_passes(order, mill, part.depth) if part.depth_per_pass is None else _choose_own_passes(part)


def _choose_own_passes(part: PocketConfig) -> Passes:
    most = part.depth_per_pass
    count = 1 if most is None else max(1, math.ceil(part.depth / most - 1e-9))
    return Passes(depth=part.depth, count=count, source=get_source(part, "depth_per_pass"), most=most)


def measure_pocket_rest(blank: Blank, rough: Cutter, fine: Cutter) -> MilledArea:
    """Measure what the fine cutter clears after the rough one. ValueError when the blank has no pocket."""
    return _measure_area(_compute_shared(blank, rough, fine)[3], _get_least_area(fine))


def _compute_shared(blank: Blank, rough: Cutter, last: Cutter) -> tuple[Region, Region, Region, Region]:
    """The pockets, what the rough cutter reaches, what both reach, and what is left for the last one."""
    region = build_chain_polygon(blank.pockets, TOLERANCE)
    if region.is_empty:
        raise ValueError("the blank has no pocket")
    open_rough = open_region(region, (rough.diameter or 0) / 2)
    both = open_region(region, (last.diameter or 0) / 2).union(open_rough)
    return region, open_rough, both, both.difference(shapely.buffer(open_rough, HAIR))


def _get_sliver_width(last: Cutter) -> float:
    """Area below which a rest is only the polygons' own rounding along a wall."""
    return TOLERANCE * (last.diameter or 0.0) / 2


def _get_least_area(last: Cutter) -> float:
    """Area of a rest from which on it is cleared."""
    return max(_get_sliver_width(last), SPECK)


def plan_pocket(
    blank: Blank,
    part: PocketConfig,
    rough: Cutter,
    fine: Cutter | None,
    shelf: tuple[Cutter, ...] = (),
    passes_for: Callable[[Cutter], Passes] | None = None,
) -> tuple[PocketPlan, tuple[Finding, ...]]:
    """Mill the blank's pockets to `part.depth`. The cutters are end mills with a diameter; `fine` is the narrower one.

    `shelf`: cutters to advise on. `passes_for`: the passes of a cutter; without it, those of the pocket's own
    `depth_per_pass`, or a single one. ValueError when the blank has no pocket or the cutters are the wrong way round.
    """
    tools = [rough] if fine is None else [rough, fine]
    if any(not c.diameter for c in tools) or (fine and (fine.diameter or 0) > (rough.diameter or 0)):
        raise ValueError("the rough cutter must be the wider of two cutters with a diameter")
    region, open_rough, last, rest = _compute_shared(blank, rough, tools[-1])
    least = _get_least_area(tools[-1])
    parts = shapely.get_parts(rest)
    specks = [float(p.area) for p in parts if _get_sliver_width(tools[-1]) < p.area <= least]
    rest = shapely.MultiPolygon([p for p in parts if p.area > least])
    if fine is not None and rest.is_empty:  # no reason to change the cutter
        tools, last = [rough], open_rough
    features = find_inside_features(blank.pockets)
    edge = shapely.boundary(region)
    left = region.difference(shapely.buffer(last, HAIR))
    radius = (tools[-1].diameter or 0) / 2
    corners = _find_corners(region, last, radius, features)
    most = measure_widest_circle(region)
    whole = find_widest_cutter(region, most)
    plan = PocketPlan(
        depth=part.depth,
        pockets=len(shapely.get_parts(region)),
        drawn=_measure_area(region),
        rough=_measure_area(open_rough),
        rest=_measure_area(rest),
        unreachable=_measure_area(left),
        tools=tuple(
            _build_tool(c, role, what, reaches, part, edge, passes_for(c) if passes_for else _choose_own_passes(part))
            for c, role, what, reaches in zip(
                tools, ("rough", "fine"), (open_rough, rest), (open_rough, last), strict=False
            )
        ),
        corners=tuple(corners),
        widest_in=most,
        clears_all=whole,
        smallest_inside=_find_tightest(blank.pockets, features),
        advice=tuple(_build_advice(c, region, part.depth, features) for c in shelf if c.mills_pockets and c.diameter),
    )
    said = [*find_pocket_stops(blank, part, rough, fine), *_check_corners(plan, part)]
    if fine is not None and specks:
        facts: dict[str, str | int | float] = {"cutter": fine.name, "places": len(specks)}
        facts["then"] = "" if len(tools) > 1 else ", and it is not needed at all"
        said.append(
            build_finding(kinds.POCKET_SPECKS, measured=round(sum(specks), 3), limit=SPECK, unit="mm²", facts=facts)
        )
    return plan, tuple(said)


def _find_tightest(chains: tuple[Chain, ...], features: list[tuple[float, tuple[float, float]]]) -> float | None:
    """The tightest inside radius as drawn; None where curves are drawn as straight steps too short for corners, all of
    them or one that is tighter than the arcs beside it."""
    if any(radius == 0.0 for radius, _ in features):
        return 0.0
    arcs, steps = [], []
    for chain in chains:
        following = np.roll(chain.vertices, -1, axis=0)
        sides = [(q[:2] - p[:2], p[2]) for p, q in zip(chain.vertices, following, strict=True) if (q != p)[:2].any()]
        # a flatter arc could be straight just as well
        flat = [abs(bulge) * math.hypot(*side) / 2 <= TOLERANCE for side, bulge in sides]
        for k, (side, bulge) in enumerate(sides):
            if not flat[k]:
                if bulge > 0:
                    arcs.append(abs(compute_arc_from_bulge(np.zeros(2), side, bulge)[1]))
            elif flat[k - 1]:
                before = sides[k - 1][0]
                turn = math.atan2(before[0] * side[1] - before[1] * side[0], float(before @ side))
                if turn > 0:  # chords of a circle, of 2 r sin(turn / 2) each
                    steps.append(min(math.hypot(*before), math.hypot(*side)) / (2 * math.sin(turn / 2)))
    if arcs and min(steps, default=math.inf) < STEPPED * min(arcs):
        return None
    return float(min(arcs)) if arcs else None


def _build_advice(
    cutter: Cutter, region: Region, depth: float, features: list[tuple[float, tuple[float, float]]]
) -> CutterAdvice:
    open_ = open_region(region, (cutter.diameter or 0) / 2)
    corners = _find_corners(region, open_, (cutter.diameter or 0) / 2, features)
    return CutterAdvice(
        cutter=cutter,
        clears=float(open_.area / region.area),
        corners=len([c for c in corners if c.off > SEEN]),
        in_reach=_can_reach(cutter, depth),
    )


def find_pocket_stops(blank: Blank, part: PocketConfig, rough: Cutter, fine: Cutter | None) -> tuple[Finding, ...]:
    """Find what prevents the order's cutters from milling the blank's pockets: too wide for one, or too short for the
    depth. Both cutters have a diameter."""
    parts = shapely.get_parts(build_chain_polygon(blank.pockets, TOLERANCE))
    widths = [measure_widest_circle(p) for p in parts]
    tools = [(rough, "rough")] if fine is None else [(rough, "rough"), (fine, "fine")]
    out = []
    for cutter, role in tools:
        diameter = cutter.diameter or 0.0
        narrow = [w for w in widths if w < diameter]
        if narrow and (cutter is tools[-1][0] or len(narrow) == len(widths)):
            across: dict[str, str | float] = {"cutter": cutter.name, "role": role, "across": min(narrow)}
            out.append(
                build_finding(kinds.CUTTER_TOO_WIDE, measured=diameter, limit=min(narrow), unit="mm", facts=across)
            )
        if cutter.reach is not None and not _can_reach(cutter, part.depth):
            facts: dict[str, str | float] = {"cutter": cutter.name, "reach": cutter.reach}
            out.append(
                build_finding(kinds.BEYOND_REACH, measured=part.depth, limit=cutter.reach, unit="mm", facts=facts)
            )
    return tuple(out)


def _can_reach(cutter: Cutter, depth: float) -> bool:
    return cutter.reach is None or depth <= cutter.reach + 1e-9


def _check_corners(plan: PocketPlan, part: PocketConfig) -> list[Finding]:
    out = []
    seen = [c for c in plan.corners if c.off > part.corner and math.isfinite(c.off)]
    if seen:
        out.append(
            build_finding(
                kinds.CORNER_LEFT,
                measured=seen[0].off,
                limit=part.corner,
                unit="mm",
                at=seen[0].at,
                facts={
                    "corners": len(seen),
                    "diameter": plan.tools[-1].cutter.diameter or 0.0,
                    "area": sum(c.area for c in seen),
                    "radius": seen[0].left,
                },
            )
        )
    return out
