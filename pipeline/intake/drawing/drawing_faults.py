"""Faults of a drawing of a blank, and other findings about it.

Places are given in the drawing's own coordinates and unit, so that they can be found there.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import shapely

from pipeline.core.catalogue import drawing_kinds as kinds
from pipeline.core.catalogue import ways
from pipeline.core.config.order import BlankConfig
from pipeline.core.errors import Fault
from pipeline.core.findings import Edit, Fact, Finding, build_finding, build_way
from pipeline.core.model import Blank
from pipeline.core.units import Units
from pipeline.geometry.curves import Chain
from pipeline.geometry.flatten import chain_area, chain_box, flatten_chain
from pipeline.intake.drawing.closed_loops import FLAT, JoinedLoops, find_crossings

if TYPE_CHECKING:
    from pipeline.intake.drawing.dxf_file import DrawnLayers

ROUNDING = 1e-3
"""mm. A zone or pocket no farther outside the edge than this is rounding in the drawing, not a fault of the design."""

LEAST_BLANK, MOST_BLANK = 10.0, 2000.0
"""mm. A blank outside these raises the question of its unit (common practice, no source)."""

MOST_TOLD = 5
"""Most faults of one kind that are listed one by one; the rest are counted."""

# --- what is wrong ---------------------------------------------------------------------------------------------


def report_empty_layer(name: str, drawn: DrawnLayers, path: Path, *, ordered: bool = True) -> Fault:
    found = f"the drawing has no layer “{name}”"
    if name.casefold() in {layer.casefold() for layer in drawn.layers}:
        found = f"there is no contour on layer “{name}”"
        if drawn.others[name]:
            found += f", only {', '.join(f'{n} {kind}' for kind, n in sorted(drawn.others[name].items()))}"
    there = ", ".join(f"{layer} ({n})" for layer, n in sorted(drawn.layers.items()) if n)
    return Fault(
        where=f"{path}",
        found=found,
        expected="lines, arcs or curves on it" + ("; [blank] layers in order.toml says which layer is what" * ordered),
        remedy=f"layers with contours in this drawing: {there}"
        if there
        else "no layer of this drawing has any contour",
    )


def _describe_place(at: tuple[float, float], drawn: DrawnLayers) -> str:
    """Describe a place in the drawing's own coordinates, to about 0.01 mm."""
    decimals = max(0, 2 + math.ceil(math.log10(drawn.mm) - 1e-9))
    return f"x {at[0] / drawn.mm:.{decimals}f}, y {at[1] / drawn.mm:.{decimals}f} ({drawn.unit_name})"


def list_loop_faults(
    joined: JoinedLoops,
    name: str,
    drawn: DrawnLayers,
    path: Path,
    part: BlankConfig,
    unit: Units,
    *,
    ordered: bool = True,
) -> Iterator[Fault]:
    """List what makes the contours of one layer unusable. ordered: whether there is an order file yet in which keys
    can be changed."""
    raising = ", or raise `gap` under [blank] if this is as good as closed" if ordered else ""
    lowering = ", or lower `gap` under [blank]" if ordered else ""
    where = f"{path}, layer {name}"
    told = 0
    seen: set[frozenset[tuple[float, float]]] = set()
    for end in joined.open_ends:
        pair = frozenset(p for p in (end.at, end.nearest) if p is not None)
        if pair in seen:
            continue
        seen.add(pair)
        told += 1
        if told > MOST_TOLD:
            continue
        found = f"the contour does not close: an open end at {_describe_place(end.at, drawn)}"
        if end.nearest is not None and end.gap is not None:
            gap = unit.show(end.gap, unit.decimals + 1)
            found += f", the nearest other end at {_describe_place(end.nearest, drawn)}, a gap of {gap}"
        yield Fault(
            where=where,
            found=found,
            expected=f"ends no farther apart than {unit.show(part.gap)}",
            remedy=f"close the contour in the drawing{raising}",
        )
    if told > MOST_TOLD:
        yield Fault(where=where, found=f"and {told - MOST_TOLD} more open ends")
    for at, n in joined.branches[:MOST_TOLD]:
        yield Fault(
            where=where,
            found=f"{n} ends meet at {_describe_place(at, drawn)}",
            expected="two: a contour goes on from each end to one other",
            remedy=f"remove construction lines from this layer{lowering}",
        )
    for at in joined.crossings[:MOST_TOLD]:
        yield Fault(
            where=where,
            found=f"a contour crosses or touches itself at {_describe_place(at, drawn)}, or encloses nothing",
            expected="a plain outline",
        )
    if name != part.layers.keep_out:  # keep-outs may overlap
        for at in find_crossings(joined.loops)[:MOST_TOLD]:
            yield Fault(
                where=where,
                found=f"two contours cross or touch at {_describe_place(at, drawn)}",
                expected="contours apart from, or inside, one another",
            )
    if not joined.loops and not joined.open_ends and not joined.branches and not joined.crossings:
        yield Fault(where=where, found="nothing here encloses anything", expected="a closed contour")


def list_zone_faults(blank: Blank, path: Path, unit: Units) -> Iterator[Fault]:
    """List zones that reach beyond the edge."""
    edge = shapely.Polygon(flatten_chain(blank.edge, FLAT))
    for name, zone in blank.zones:
        outside = shapely.Polygon(flatten_chain(zone, FLAT)).difference(edge.buffer(FLAT + ROUNDING))
        if not outside.is_empty:
            far = max(edge.distance(shapely.Point(p)) for p in shapely.get_coordinates(outside))
            yield Fault(
                where=f"{path}, layer {name}",
                found=f"the zone reaches {unit.show(far)} outside the edge",
                expected="a zone inside the edge",
                remedy="lettering there would be cut into the air; draw the zone inside the edge",
            )


_NO_CURVES = {"TEXT": "text", "MTEXT": "text", "ATTRIB": "text", "ATTDEF": "text", "IMAGE": "a picture"}


def list_artwork_faults(name: str, drawn: DrawnLayers, path: Path) -> Iterator[Fault]:
    """List what is on the artwork layer but can't be cut, and would be missed."""
    for kind, count in sorted(drawn.others[name].items()):
        what = _NO_CURVES.get(kind)
        if what is not None:
            at = _describe_place(drawn.places.get((name, kind), (0.0, 0.0)), drawn)
            yield Fault(
                where=f"{path}, layer {name}",
                found=f"{what} at {at}" + (f", and {count - 1} more" if count > 1 else ""),
                expected="curves alone: text and pictures cannot be cut",
                remedy="explode text to outlines in the drawing, or set it as a [[line]]; take pictures out",
            )


def list_margin_faults(blank: Blank, margin: float, path: Path, unit: Units) -> Iterator[Fault]:
    """List zones of which the margin leaves nothing."""
    for name, zone in blank.zones:
        area = shapely.Polygon(flatten_chain(zone, FLAT))
        if area.buffer(-margin).is_empty:
            x0, y0, x1, y1 = area.bounds
            yield Fault(
                where=f"{path}, layer {name}",
                found=f"the zone ({unit.format_number(x1 - x0)} × {unit.show(y1 - y0)}) is smaller than twice its "
                f"margin of {unit.show(margin)}",
                expected="room inside the margin",
                remedy="widen the zone or lower `margin` under [blank]",
            )


LARGE_HOLE = 0.5
"""Share of the edge's area. A larger loop inside the edge is a drawn border or a zone, not a hole (common practice, no
source)."""


def find_large_hole(
    holes: Sequence[Chain], edges: Sequence[Chain], layer: str, path: Path, *, ordered: bool = True
) -> Fault | None:
    """Explain why the loops of the only layer can't be an edge with holes; None where they can."""
    whole = max((abs(chain_area(edge)) for edge in edges), default=0.0)
    large = [hole for hole in holes if abs(chain_area(hole)) > LARGE_HOLE * whole]
    if not large:
        return None
    x0, y0, x1, y1 = chain_box(large[0]) or (0.0, 0.0, 0.0, 0.0)
    return Fault(
        where=f"{path}, layer {layer}",
        found=f"a loop of {x1 - x0:.2f} × {y1 - y0:.2f} mm inside the edge, too large for a hole",
        expected="the edge and its holes, where a drawing has one layer",
        remedy="put it on a layer of its own and say in [blank] layers what it is: zone, keep_out or pocket"
        if ordered
        else "put it on a layer of its own that is called what it is: zone, keep-out or pocket",
    )


# --- what is told ----------------------------------------------------------------------------------------------


def repair_findings(joined: JoinedLoops, name: str, drawn: DrawnLayers) -> Iterator[Finding]:
    if joined.mended:
        width, at = max(joined.mended)
        places = f"{len(joined.mended)} gap{'s' if len(joined.mended) != 1 else ''}"
        yield build_finding(
            kinds.GAP_MENDED,
            measured=width,
            unit="mm",
            facts={"places": places, "layer": name, "at": _describe_place(at, drawn)},
        )
    if joined.repeated:
        count = f"{joined.repeated} piece{'s' if joined.repeated != 1 else ''}"
        yield build_finding(kinds.REPEATED, facts={"count": count, "layer": name})


def list_layout_findings(
    blank: Blank, only: str | None, unnamed: Collection[str], edge: str, *, zone_drawn: bool
) -> Iterator[Finding]:
    """List how the drawing was understood where its layers don't tell. only: the layer that holds everything.
    unnamed: layers with contours that the order does not name. edge: the edge's layer."""
    if only is not None:
        count = len(blank.holes)
        holes = "no loop inside it" if not count else "the loop inside it is a hole"
        facts: dict[str, Fact] = {
            "layer": only,
            "holes": holes if count < 2 else f"the {count} loops inside it are holes",
            "width": blank.width,
            "height": blank.height,
        }
        yield build_finding(kinds.ONE_LAYER, facts=facts)
    if not zone_drawn:
        others = " or ".join(f"“{layer}”" for layer in sorted(unnamed))
        kind = kinds.ZONE_UNSURE if others else kinds.NO_ZONE
        yield build_finding(kind, facts={"layer": blank.zones[0][0], "others": others, "edge": edge})


def list_odd_drawing_findings(blank: Blank, drawn: DrawnLayers) -> Iterator[Finding]:
    if max(blank.width, blank.height) > MOST_BLANK or min(blank.width, blank.height) < LEAST_BLANK:
        facts: dict[str, Fact] = {
            "width": blank.width,
            "height": blank.height,
            "unit_name": drawn.unit_name,
            "least": LEAST_BLANK,
            "most": MOST_BLANK,
        }
        yield build_finding(kinds.ODD_SIZE, facts=facts)
    edge = shapely.Polygon(flatten_chain(blank.edge, FLAT))
    for pocket in blank.pockets:
        outside = shapely.Polygon(flatten_chain(pocket, FLAT)).difference(edge.buffer(FLAT + ROUNDING))
        if not outside.is_empty:
            far, x, y = max((edge.distance(shapely.Point(p)), *p) for p in shapely.get_coordinates(outside).tolist())
            yield build_finding(
                kinds.POCKET_OUTSIDE, measured=far, unit="mm", at=(x, y), facts={"at": f"x {x:.2f}, y {y:.2f} mm"}
            )


def list_uncut_findings(edge: Chain, drawn: DrawnLayers) -> Iterator[Finding]:
    """List closed outlines inside the edge on layers that the order doesn't name: a crest, or holes, that would not be
    cut."""
    inside = shapely.Polygon(flatten_chain(edge, FLAT)).buffer(FLAT + ROUNDING)
    shapely.prepare(inside)
    for layer, chains in sorted(drawn.unused.items()):
        shapes = [shapely.Polygon(ring) for c in chains if len(ring := flatten_chain(c, FLAT)) >= 3]
        within = [s for s in shapes if inside.covers(s)]
        if not within:
            continue
        x0, y0, x1, y1 = shapely.total_bounds(np.array(within)).tolist()
        count = f"{len(within)} closed outline{'s' if len(within) != 1 else ''}"
        facts: dict[str, Fact] = {"layer": layer, "count": count, "width": x1 - x0, "height": y1 - y0}
        facts["at"] = _describe_place(((x0 + x1) / 2, (y0 + y1) / 2), drawn)
        edit = Edit(table="blank", key="layers.artwork", value=layer)
        yield build_finding(
            kinds.NOT_CUT, facts=facts, ways=(build_way(ways.ARTWORK_LAYER, edit, facts={"layer": layer}),)
        )
