"""Converts a DXF drawing of artwork to curves: the closed contours of its layers as areas, or its lines as drawn."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path as FilePath
from typing import TYPE_CHECKING

import numpy as np
import shapely

from pipeline.artwork.drawn_artwork import DrawnArtwork, Remark, limit_remarks
from pipeline.artwork.painted_areas import LEAST_OF_SPAN, SPAN
from pipeline.core.errors import CannotRun, Fault
from pipeline.geometry.curves import Array, Chain, Outline, Path
from pipeline.geometry.flatten import chain_area, compute_arc_from_bulge, flatten_chain, outline_box
from pipeline.geometry.regions import group_nearby
from pipeline.intake.drawing.closed_loops import FLAT, Place, build_ring, join_chains
from pipeline.lettering.outlines import convert_to_pathops, unite_contours

if TYPE_CHECKING:
    from pipeline.intake.drawing.dxf_file import DrawnLayers

CURVE_TOLERANCE = 0.001
"""mm. How far the arcs that stand for splines and ellipses may lie from them."""
GAP = 0.05
"""mm. Ends this close are joined, as in a drawing of the blank."""
TANGLED = "lines that meet in more than two directions, or cross: draw each outline as one closed line"
_HIDDEN_LAYERS = {"defpoints"}
_NO_CURVES = {
    "TEXT": "text: explode it to outlines, or set it as a [[line]]",
    "MTEXT": "text: explode it to outlines, or set it as a [[line]]",
    "ATTRIB": "text: explode it to outlines, or set it as a [[line]]",
    "IMAGE": "a picture: only curves can be cut",
    "OLE2FRAME": "a picture: only curves can be cut",
    "MPOLYGON": "a filled polygon of a kind that isn't read: save it as a hatch or its outline",
}


def read_dxf_artwork(path: FilePath, data: bytes, layers: Sequence[str] | None, as_lines: bool) -> DrawnArtwork:
    """The curves on these layers (None: on all) of a DXF file whose bytes are `data`; mm, or the drawing's own unit
    where it does not say it. CannotRun when the file is no drawing or has nothing there."""
    from pipeline.core.environment import drawing_library

    drawing_library.load()
    from pipeline.intake.drawing.dxf_file import read_drawing

    drawn = read_drawing(path, data, layers, None, CURVE_TOLERANCE, unit_key="", any_unit=True)
    names = [n for n in {*drawn.chains, *drawn.hatched, *drawn.others} if n.casefold() not in _HIDDEN_LAYERS]
    chains = [c for n in sorted(names) for c in (*drawn.chains[n], *drawn.hatched[n])]
    if not chains and not any(drawn.others[n] for n in names):
        asked = ", ".join(f"layer “{n}”" for n in layers) if layers else "any layer"
        there = ", ".join(f"{layer} ({n})" for layer, n in sorted(drawn.layers.items()) if n)
        raise CannotRun(
            Fault(
                where=str(path),
                found=f"there is no contour on {asked}",
                expected="lines, arcs or curves",
                remedy=f"layers with contours in this drawing: {there}" if there else "",
            )
        )
    remarks = list(_list_odd_layers(drawn, names))
    if as_lines:
        outline: Outline = tuple(build_path_from_chain(chain) for chain in _join_lines(chains))
        deviation = 0.0
    else:
        outline, deviation, more = find_closed_areas(chains, drawn, named=layers is not None)
        remarks += more
        if not outline and not any(r.reason == "cannot" for r in remarks):
            raise CannotRun(
                Fault(where=str(path), found="nothing in it is closed", expected='closed outlines, or cut = "line"')
            )
    return DrawnArtwork(
        outline=outline, mm=1.0 if drawn.unit_name else None, remarks=limit_remarks(remarks), deviation=deviation
    )


def _list_odd_layers(drawn: DrawnLayers, names: Sequence[str]) -> Iterable[Remark]:
    for layer in sorted(names):
        for kind, count in sorted(drawn.others[layer].items()):
            base = kind.partition(" ")[0]
            place = _describe_place(drawn.places.get((layer, kind), (0.0, 0.0)), drawn)
            times = f" ({count} times)" if count > 1 else ""
            if base in _NO_CURVES:
                yield Remark(reason="cannot", words=f"{_NO_CURVES[base]}{times}", place=f"layer {layer}, {place}")
            else:
                yield Remark(reason="changed", words=f"{kind} left out{times}", place=f"layer {layer}")


def _describe_place(at: tuple[float, float], drawn: DrawnLayers) -> str:
    return f"x {at[0] / drawn.mm:.4g}, y {at[1] / drawn.mm:.4g} of the drawing"


# --- areas ------------------------------------------------------------------------------------------------------------


def find_closed_areas(
    chains: Sequence[Chain], drawn: DrawnLayers, *, named: bool
) -> tuple[Outline, float, tuple[Remark, ...]]:
    """Unite what closed contours enclose: a contour inside another is a hole in it, one inside that is solid again, and
    so on; contours that cross are united. named: the layers were asked for, so that an open line on them is a fault."""
    found = find_closed_loops(chains)
    remarks: list[Remark] = []
    if found.tangled_places:
        remarks.append(Remark(reason="cannot", words=TANGLED, place=_describe_place(found.tangled_places[0], drawn)))
    if found.open_places:
        lines, place = found.open_words(), _describe_place(found.open_places[0], drawn)
        if named:
            remarks.append(Remark(reason="cannot", words=f'{lines}: close them, or cut = "line"', place=place))
        else:
            does = "encloses" if len(found.open_places) == 1 else "enclose"
            remarks.append(Remark(reason="changed", words=f"{lines} left out, which {does} nothing", place=place))
    outline, deviation = unite_loops(found.loops)
    return outline, deviation, tuple(remarks)


def unite_loops(loops: Sequence[Chain]) -> tuple[Outline, float]:
    """The areas of closed chains, see `find_closed_areas`."""
    if not loops:
        return (), 0.0
    polygons = np.array([shapely.Polygon(build_ring(loop)) for loop in loops])
    good = np.array([shapely.make_valid(p) if not p.is_valid else p for p in polygons])
    areas = shapely.area(good)
    inside, around = shapely.STRtree(good).query(shapely.point_on_surface(good), predicate="within")
    depths = np.bincount(inside[areas[around] > areas[inside]], minlength=len(loops))
    paths = []
    for loop, depth in zip(loops, depths.tolist(), strict=True):
        path = build_path_from_chain(loop)
        turned = (chain_area(loop) < 0) != bool(depth % 2)
        paths.append(Path(path.points[::-1].copy(), path.degrees[::-1], True) if turned else path)
    box = outline_box(paths)
    if box is None:
        return (), 0.0
    scale = SPAN / max(box[2] - box[0], box[3] - box[1], 1e-9)
    moved = convert_to_pathops(tuple(paths), -box[0] * scale, -box[1] * scale, scale)
    ink = unite_contours(moved, LEAST_OF_SPAN, int(SPAN))
    back = tuple(Path(p.points / scale + (box[0], box[1]), p.degrees, p.closed) for p in ink.outline)
    return back, ink.deviation / scale


@dataclass(slots=True)
class FoundLoops:
    """The closed loops of a drawing, each once; where lines end that enclose nothing; and where lines that enclose
    something branch or cross, so that no contour of theirs is certain."""

    loops: list[Chain]
    open_places: list[Place] = field(default_factory=list)
    tangled_places: list[Place] = field(default_factory=list)

    def open_words(self) -> str:
        """Say in words how many lines enclose nothing."""
        return "an open line" if len(self.open_places) == 1 else f"{len(self.open_places)} open lines"


def find_closed_loops(chains: Sequence[Chain]) -> FoundLoops:
    """The closed loops that chains are or make where their ends meet."""
    whole = join_chains([c for c in chains if c.closed], GAP)
    loops = list(whole.loops)
    if whole.crossings:  # a contour that crosses itself is united
        loops += [c for c in chains if c.closed and join_chains([c], GAP).crossings and len(flatten_chain(c, FLAT)) > 2]
    found = FoundLoops(loops)
    loose: list[tuple[list[Chain], Place]] = []
    for group in _group_connected([c for c in chains if not c.closed]):
        joined = join_chains(group, GAP)
        loops += joined.loops
        if joined.branches:
            loose.append((group, joined.branches[0][0]))
        elif joined.open_ends:
            loose.append((group, joined.open_ends[0].at))
        elif joined.crossings:
            found.tangled_places.append(joined.crossings[0])
    if loose:
        _tell_loose(loose, found)
    if len(loops) > 1:
        found.loops = join_chains(loops, GAP).loops + [c for c in loops if join_chains([c], GAP).crossings]
    return found


def _tell_loose(groups: Sequence[tuple[list[Chain], Place]], found: FoundLoops) -> None:
    """Tells lines that enclose something, with one another or beside a closed contour, from those that don't."""
    drawn = [shapely.union_all([shapely.LineString(flatten_chain(c, FLAT)) for c in group]) for group, _ in groups]
    areas = [shapely.make_valid(shapely.Polygon(build_ring(loop))) for loop in found.loops]
    net = shapely.union_all(shapely.buffer([*drawn, *(shapely.boundary(a) for a in areas)], GAP * 0.51))
    holes = [shapely.Polygon(ring) for part in shapely.get_parts(net) for ring in part.interiors]
    known = shapely.union_all(areas)
    free = [hole for hole in holes if not known.covers(hole.representative_point())]
    for (_, place), line in zip(groups, drawn, strict=True):
        enclosing = any(hole.distance(line) < 2 * GAP for hole in free)
        (found.tangled_places if enclosing else found.open_places).append(place)


def _group_connected(chains: Sequence[Chain]) -> list[list[Chain]]:
    """Open chains in groups whose ends meet."""
    ends = [shapely.MultiPoint([c.vertices[0, :2], c.vertices[-1, :2]]) for c in chains]
    return [[chains[k] for k in group] for group in group_nearby(ends, GAP)]


def _join_lines(chains: Sequence[Chain]) -> list[Chain]:
    """Chains to be followed once: those that make a loop as one."""
    out = [c for c in chains if c.closed]
    for group in _group_connected([c for c in chains if not c.closed]):
        joined = join_chains(group, GAP)
        out += group if joined.open_ends or joined.branches or joined.crossings else joined.loops
    return out


# --- arcs -------------------------------------------------------------------------------------------------------------


def build_path_from_chain(chain: Chain) -> Path:
    """The chain as Bézier curves: straight stretches as they are, arcs in parts of at most 45°, by the cubic whose
    arms are 4/3 tan(angle / 4) of the radius, which is off by less than 5 millionths of it."""
    v = chain.vertices
    ends = np.roll(v, -1, axis=0) if chain.closed else v[1:]
    points: list[Array] = [v[:1, :2]]
    degrees: list[int] = []
    for start, end in zip(v[: len(ends)], ends, strict=True):
        if start[2] == 0.0:
            points.append(end[None, :2])
            degrees.append(1)
            continue
        (cx, cy), radius, first, sweep = compute_arc_from_bulge(start[:2], end[:2], float(start[2]))
        parts = max(1, math.ceil(abs(sweep) / math.radians(45) - 1e-9))
        arm = 4 / 3 * math.tan(sweep / parts / 4) * radius
        for k in range(parts):
            a, b = first + sweep * k / parts, first + sweep * (k + 1) / parts
            p = np.array([cx + radius * math.cos(a), cy + radius * math.sin(a)])
            q = np.array([cx + radius * math.cos(b), cy + radius * math.sin(b)])
            if k == parts - 1:
                q = end[:2]
            points.append(np.array([p + arm * np.array([-math.sin(a), math.cos(a)])]))
            points.append(np.array([q - arm * np.array([-math.sin(b), math.cos(b)]), q]))
            degrees.append(3)
    return Path(np.concatenate(points), tuple(degrees), chain.closed)
