"""The blank: from a DXF drawing's layers, or a rectangle or disc from `order.toml`."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import shapely

from pipeline.core.config.order import BlankConfig, OrderFolder
from pipeline.core.config.order_table import LONGEST
from pipeline.core.environment import drawing_library
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.findings import Finding
from pipeline.core.model import Blank
from pipeline.core.required import require_value
from pipeline.core.storage.cache import Cache
from pipeline.core.storage.door import Bounds, read_apart
from pipeline.core.storage.files import read_plain
from pipeline.core.units import MM, Units
from pipeline.geometry.basic_shapes import build_disc, build_rectangle, reverse_chain
from pipeline.geometry.curves import Chain
from pipeline.geometry.flatten import chain_area, chain_box, flatten_chain
from pipeline.intake.drawing.closed_loops import FLAT, JoinedLoops, join_chains
from pipeline.intake.drawing.drawing_faults import (
    find_large_hole,
    list_artwork_faults,
    list_layout_findings,
    list_loop_faults,
    list_margin_faults,
    list_odd_drawing_findings,
    list_uncut_findings,
    list_zone_faults,
    repair_findings,
    report_empty_layer,
)
from pipeline.intake.order.consistency_rules import list_zones

if TYPE_CHECKING:
    from pipeline.intake.drawing.dxf_file import DrawnLayers

Found = tuple[Blank, tuple[Finding, ...]]

CURVE_TOLERANCE = 0.001
"""Tolerance, mm, of the arcs that replace a drawing's splines and ellipses."""


def read_blank(order: OrderFolder, cache: Cache | None = None) -> tuple[Blank, tuple[Finding, ...]]:
    """Read the order's blank, its lower left corner at the origin, and the findings about it.

    With a `cache`, the drawing's content is cached by its bytes, so that an unchanged drawing costs neither reading nor
    the import of the drawing library; nothing is written to disk before the cache is flushed. A drawing without a zone
    layer has its zone inside the edge; one with a single layer has its edge there, the largest loop, with holes inside
    it. Raises CannotRun with every fault of the drawing: layers that are missing, contours that do not close (with the
    place of the open end, in the drawing's own coordinates and unit), an unknown unit, zones outside the edge or
    smaller than their margin.
    """
    part = order.order.blank
    if part.drawing is None:
        return _build_shape(part, order), ()
    path = order.resolve_path(part.drawing)
    try:
        data = read_plain(path)
    except OSError as error:
        raise CannotRun(Fault(where=str(path), found=f"cannot be read ({error.strerror or error})")) from None
    unit = order.order.unit
    key = f"{order.file}, [blank]"
    if cache is None:
        return parse_blank(path, data, part, key=key, unit=unit)
    given = (
        hashlib.sha256(data).hexdigest(),
        str(path),
        part.model_dump_json(),
        *_list_asked_layers(part),
        key,
        unit.name,
    )
    found = cache.get_or_compute("blank", given, Found, lambda: read_contours(path, data, part, key=key, unit=unit))
    return _fit_contours(found, part, path, unit)


def _list_asked_layers(part: BlankConfig) -> tuple[str, ...]:
    """Return the layer keys that the order itself states."""
    return (*sorted(part.model_fields_set), *sorted(part.layers.model_fields_set))


# --- rectangle and disc ----------------------------------------------------------------------------------------


def _build_shape(part: BlankConfig, order: OrderFolder) -> Blank:
    """Build a rectangle or disc. The whole shape is the zone; the layout keeps the margin."""
    unit = order.order.unit
    if part.shape == "disc":
        width = height = require_value(part.diameter, "[blank] diameter")  # guaranteed by the order's checks
        edge = build_disc(width)
        source = f"disc {unit.show(width)}"
    else:
        width, height = require_value(part.width, "[blank] width"), require_value(part.height, "[blank] height")
        edge = build_rectangle(width, height, part.corner_radius)
        source = f"rectangle {unit.format_number(width)} × {unit.show(height)}"
    return Blank(
        edge=edge,
        width=width,
        height=height,
        thickness=part.thickness,
        zones=((list_zones(part.layers)[0], edge),),
        source=source,
    )


# --- drawings --------------------------------------------------------------------------------------------------


@dataclass(slots=True, kw_only=True)
class _Layer:
    """One layer of the drawing after joining: its outermost loops and those inside others."""

    name: str
    outer: list[Chain]
    inner: list[Chain]


def parse_blank(
    path: Path, data: bytes, part: BlankConfig, *, key: str, unit: Units = MM, ordered: bool = True
) -> Found:
    """Build the blank from a drawing's bytes. key: the order's [blank] table in messages. unit: the unit of lengths in
    messages. ordered: whether there is an order file yet, whose keys messages may name."""
    return _fit_contours(read_contours(path, data, part, key=key, unit=unit, ordered=ordered), part, path, unit)


def _fit_contours(found: Found, part: BlankConfig, path: Path, unit: Units) -> Found:
    """Add what the order states: the thickness; and check that the zones have room for the margin."""
    blank, findings = found
    faults = list(list_margin_faults(blank, part.margin, path, unit))
    if faults:
        raise CannotRun(faults)
    return replace(blank, thickness=part.thickness), findings


def read_contours(path: Path, data: bytes, part: BlankConfig, *, key: str, unit: Units, ordered: bool = True) -> Found:
    """Read the drawing alone: the result depends on its bytes, its name and the order's layers, gap and
    drawing_units."""
    drawing_library.load()
    from pipeline.intake.drawing.dxf_file import read_drawing  # the drawing library is slow to import

    zones = list_zones(part.layers)
    others = (n for n in (part.layers.keep_out, part.layers.pocket, part.layers.artwork) if n is not None)
    wanted = list(dict.fromkeys([part.layers.edge, *zones, *others]))
    read = partial(read_drawing, unit_key=f"{key}, drawing_units")
    bounds = Bounds(seconds=120, memory_mb=1500, answer_mb=512)

    def note_layers(names: list[str]) -> DrawnLayers:
        given = (path, data, names, part.drawing_units, CURVE_TOLERANCE)
        return read_apart(read, *given, where=path, bounds=bounds)

    drawn = note_layers(wanted)
    only = _find_only_layer(drawn, part)
    if only is not None:
        part = part.model_copy(update={"layers": part.layers.model_copy(update={"edge": only})})
        zones, wanted = list_zones(part.layers), [only, *wanted[1:]]
        drawn = note_layers(wanted)
    faults: list[Fault] = []
    layers: dict[str, _Layer] = {}
    for name in wanted:
        if not drawn.chains[name] and not drawn.hatched[name]:
            only_others = name in zones and bool(drawn.others[name])
            if name == part.layers.edge or only_others or _is_asked_for(name, part):
                faults.append(report_empty_layer(name, drawn, path, ordered=ordered))
            continue
        if name == part.layers.artwork:
            faults += list_artwork_faults(name, drawn, path)
            continue  # artwork lines may cross and be open: the areas they enclose are found later
        joined = join_layer(name, drawn, part.gap)
        drawn.findings += repair_findings(joined, name, drawn)
        amiss = list(list_loop_faults(joined, name, drawn, path, part, unit, ordered=ordered))
        faults += amiss
        if not amiss:
            layers[name] = _Layer(name=name, **nest_loops(joined.loops))
    if faults:
        raise CannotRun(faults)
    if only is not None:
        alone = layers[only]
        if fault := find_large_hole(alone.inner, alone.outer, only, path, ordered=ordered):
            raise CannotRun(fault)
    named = {name.casefold() for name in wanted}
    unnamed = [name for name, count in drawn.layers.items() if count and name.casefold() not in named]
    crest = part.layers.artwork
    artwork = [*drawn.chains[crest], *drawn.hatched[crest]] if crest is not None else []
    blank = _assemble(layers, artwork, part, path, hashlib.sha256(data).hexdigest(), unit)
    drawn.findings += list_layout_findings(
        blank, only, unnamed, part.layers.edge, zone_drawn=any(zone in layers for zone in zones)
    )
    uncut = list_uncut_findings(layers[part.layers.edge].outer[0], drawn)
    return blank, (*drawn.findings, *list_odd_drawing_findings(blank, drawn), *uncut)


def _find_only_layer(drawn: DrawnLayers, part: BlankConfig) -> str | None:
    """Return the one layer that holds all contours, where the order names no layers and none has a default name; else
    None."""
    if part.layers.model_fields_set:
        return None
    having = [name for name, count in drawn.layers.items() if count]
    ours = {name.casefold() for name in (part.layers.edge, *list_zones(part.layers))}
    return having[0] if len(having) == 1 and having[0].casefold() not in ours else None


def _is_asked_for(layer: str, part: BlankConfig) -> bool:
    """Return whether the order itself names this layer; layers with default names may be missing."""
    layers = part.layers
    named: dict[str, list[str | None]] = {
        "zone": [*list_zones(layers)],
        "keep_out": [layers.keep_out],
        "pocket": [layers.pocket],
    }
    return any(key in layers.model_fields_set and layer in names for key, names in named.items())


def join_layer(name: str, drawn: DrawnLayers, gap: float) -> JoinedLoops:
    """Join the contours of one layer: its lines and curves, and the boundaries of its hatches."""
    joined = join_chains(drawn.chains[name], gap)
    if drawn.hatched[name]:
        hatches = join_chains(drawn.hatched[name], gap)
        both = join_chains([*joined.loops, *hatches.loops], gap)  # a hatch inside its outline is one contour
        joined.loops = both.loops
        joined.mended += hatches.mended
        joined.open_ends += hatches.open_ends
        joined.branches += hatches.branches
        joined.crossings += hatches.crossings
    return joined


def nest_loops(loops: Sequence[Chain]) -> dict[str, list[Chain]]:
    """Nest loops by how many others surround them: an even number makes an outline (anticlockwise), an odd one a hole
    in the surrounding outline (clockwise)."""
    polygons = np.array([shapely.Polygon(flatten_chain(loop, FLAT)) for loop in loops])
    areas = shapely.area(polygons)
    inside, around = shapely.STRtree(polygons).query(shapely.point_on_surface(polygons), predicate="within")
    depths = np.bincount(inside[areas[around] > areas[inside]], minlength=len(loops))
    outer: list[Chain] = []
    inner: list[Chain] = []
    for loop, depth in zip(loops, depths.tolist(), strict=True):
        (inner if depth % 2 else outer).append(_turn_loop(loop, clockwise=bool(depth % 2)))
    return {"outer": outer, "inner": inner}


def _turn_loop(loop: Chain, *, clockwise: bool) -> Chain:
    return reverse_chain(loop) if (chain_area(loop) < 0) != clockwise else loop


def _assemble(
    layers: dict[str, _Layer], artwork: Sequence[Chain], part: BlankConfig, path: Path, sha256: str, unit: Units
) -> Blank:
    """Assemble the blank from its layers, its lower left corner at the origin. CannotRun when they don't make one."""
    faults: list[Fault] = []
    edges = layers[part.layers.edge]
    if len(edges.outer) != 1:
        faults.append(
            Fault(
                where=f"{path}, layer {edges.name}",
                found=f"{len(edges.outer)} outlines that are not holes of one another",
                expected="one edge, with any holes inside it",
                remedy="keep one blank in the drawing; boards full of blanks are laid out later",
            )
        )
        raise CannotRun(faults)
    edge = edges.outer[0]
    x0, y0, x1, y1 = chain_box(edge) or (0.0, 0.0, 0.0, 0.0)
    if max(x1 - x0, y1 - y0) > LONGEST:
        raise CannotRun(
            Fault(
                where=f"{path}, layer {edges.name}",
                found=f"an edge of {unit.format_number(x1 - x0)} × {unit.show(y1 - y0)}",
                expected=f"a piece of at most {unit.show(LONGEST)}",
                remedy="check one known length; save the drawing with the right unit",
            )
        )

    def move_chains(chains: Sequence[Chain]) -> tuple[Chain, ...]:
        return tuple(chain.transform(dx=-x0, dy=-y0) for chain in chains)

    zones: list[tuple[str, Chain]] = []
    keep_outs: list[Chain] = []
    for name in list_zones(part.layers):
        if name not in layers:  # no zone drawn: anywhere inside the edge, as on a shape without a drawing
            zones.append((name, move_chains([edge])[0]))
            continue
        zone = layers[name]
        if len(zone.outer) != 1:
            faults.append(
                Fault(
                    where=f"{path}, layer {name}",
                    found=f"{len(zone.outer)} zones beside one another",
                    expected="one zone on each zone layer",
                    remedy='put each on a layer of its own and list them: zone = ["…", "…"]',
                )
            )
            continue
        zones.append((name, move_chains(zone.outer)[0]))
        keep_outs += (reverse_chain(hole) for hole in move_chains(zone.inner))  # nor do islands take lettering
    kept, pocket = layers.get(part.layers.keep_out or ""), layers.get(part.layers.pocket or "")
    if kept is not None:
        keep_outs += move_chains(kept.outer)
    blank = Blank(
        edge=move_chains([edge])[0],
        width=x1 - x0,
        height=y1 - y0,
        thickness=None,
        zones=tuple(zones),
        keep_outs=tuple(keep_outs),
        pockets=move_chains([*pocket.outer, *pocket.inner]) if pocket is not None else (),
        holes=move_chains(edges.inner),
        artwork=move_chains(artwork),
        source=path.name,
        sha256=sha256,
    )
    faults += list_zone_faults(blank, path, unit)
    if faults:
        raise CannotRun(faults)
    return blank
