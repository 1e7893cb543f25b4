"""One entity of a drawing to chains of lines and arcs in mm. Arcs stay exact; other curves become arcs."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from ezdxf.math import BSpline, ConstructionEllipse, Vec3

from pipeline.geometry.arcs.biarcs import fit_biarcs
from pipeline.geometry.curves import Array, Chain

TOUCHING = 1e-9
"""mm. Ends this close are the same place: the rounding of double arithmetic."""


STRAIGHT = 1e-6
"""An arc less high than this, mm, is a straight line: its circle is too large for its centre to be told exactly."""
FARTHEST = 1e9
"""mm from the origin (1000 km): a map's coordinates lie within; what a damaged file holds may not, and then can't be
reckoned with."""


class EntityNotRead(Exception):
    """This entity makes no contour; the message says why in a few words."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EntityCurves:
    """The chains of one entity."""

    chains: tuple[Chain, ...]
    width: int = 0  # 1 when it is a polyline drawn with a width


def convert_entity(entity: Any, mm: float, tolerance: float) -> EntityCurves:
    """The entity's chains in mm, seen from above. `mm`: millimetres in one unit of the drawing.

    EntityNotRead when it has no contour (no length, a mesh).
    """
    try:
        return _READERS[entity.dxftype()](entity, mm, tolerance)
    except (ValueError, TypeError, ZeroDivisionError, ArithmeticError, IndexError, AttributeError) as error:
        # In damaged files, reading an entity's geometry may raise anything.
        raise EntityNotRead(f"cannot be understood: {error}") from None


def _is_mirrored(entity: Any) -> bool:
    """Return whether a level entity is drawn on the underside: its own x axis is then reversed (the OCS of DXF)."""
    return bool(entity.dxf.get("extrusion", Vec3(0, 0, 1)).z < 0)


def _reverse_chain(chain: Chain) -> Chain:
    return Chain(chain.vertices * (-1.0, 1.0, -1.0), chain.closed)


def _build_chain(rows: Iterable[Sequence[float]], closed: bool, mm: float, mirrored: bool = False) -> Chain:
    """Build a chain from x, y, bulge in the drawing's units: without zero-length steps, closed where its ends meet."""
    vertices = np.array(list(rows), dtype=float).reshape(-1, 3) * (mm, mm, 1.0)
    if not np.isfinite(vertices).all():
        raise EntityNotRead("has points that are not numbers")
    if len(vertices) and np.abs(vertices[:, :2]).max() > FARTHEST:
        raise EntityNotRead("has points more than 1000 km from the origin")
    if len(vertices) > 1:
        chords = np.hypot(*np.diff(vertices[:, :2], axis=0, append=vertices[:1, :2]).T)
        bulges = np.abs(vertices[:, 2])  # bulge × chord / 2 is the height of an arc over its chord
        if (bulges > 2 * FARTHEST / np.maximum(chords, TOUCHING)).any():
            raise EntityNotRead("has arcs more than 1000 km high")
        vertices[bulges * chords < 2 * STRAIGHT, 2] = 0.0
        step = np.hypot(*np.diff(vertices[:, :2], axis=0).T)
        # Of two equal vertices the later bulge counts: it starts the segment that has a length.
        vertices = vertices[np.append(step > TOUCHING, True)]
    if len(vertices) > 2 and math.dist(vertices[0, :2], vertices[-1, :2]) <= TOUCHING:
        vertices, closed = vertices[:-1], True
    if len(vertices) < 2:
        raise EntityNotRead("has no length")
    if closed and len(vertices) == 2 and not vertices[:, 2].any():
        closed = False  # back and forth along one line: encloses nothing
    chain = Chain(vertices, closed)
    return _reverse_chain(chain) if mirrored else chain


def _convert_line(entity: Any, mm: float, _: float) -> EntityCurves:
    a, b = entity.dxf.start, entity.dxf.end
    return EntityCurves(chains=(_build_chain([(a.x, a.y, 0.0), (b.x, b.y, 0.0)], False, mm),))


def _convert_circle(entity: Any, mm: float, _: float) -> EntityCurves:
    c, r = entity.dxf.center, abs(entity.dxf.radius)
    return EntityCurves(
        chains=(_build_chain([(c.x + r, c.y, 1.0), (c.x - r, c.y, 1.0)], True, mm, _is_mirrored(entity)),)
    )


def _convert_arc(entity: Any, mm: float, _: float) -> EntityCurves:
    c, r = entity.dxf.center, abs(entity.dxf.radius)
    start, end = math.radians(entity.dxf.start_angle), math.radians(entity.dxf.end_angle)
    sweep = (end - start) % math.tau or math.tau
    rows = list_arc_rows((c.x, c.y), r, start, sweep)
    return EntityCurves(chains=(_build_chain(rows, False, mm, _is_mirrored(entity)),))


def list_arc_rows(
    centre: tuple[float, float], radius: float, start: float, sweep: float
) -> list[tuple[float, float, float]]:
    """List the vertices of an arc: radians, negative sweep clockwise, more than half a circle in two stretches."""
    parts = 1 if abs(sweep) <= math.pi else 2
    bulge = math.tan(sweep / parts / 4)
    angles = [start + sweep * k / parts for k in range(parts + 1)]
    return [
        (centre[0] + radius * math.cos(a), centre[1] + radius * math.sin(a), bulge if k < parts else 0.0)
        for k, a in enumerate(angles)
    ]


def _convert_lwpolyline(entity: Any, mm: float, _: float) -> EntityCurves:
    points = list(entity.get_points("xyseb"))
    width = bool(entity.dxf.get("const_width", 0)) or any(p[2] or p[3] for p in points)
    chain = _build_chain([(p[0], p[1], p[4]) for p in points], entity.closed, mm, _is_mirrored(entity))
    return EntityCurves(chains=(chain,), width=int(width))


_FRAME_VERTEX = 16
"""Published DXF reference, VERTEX group 70: a control point of a fitted curve, not on the polyline."""


def _convert_polyline(entity: Any, mm: float, _: float) -> EntityCurves:
    if entity.is_poly_face_mesh or entity.is_polygon_mesh:
        raise EntityNotRead("a mesh")
    vertices = [v for v in entity.vertices if not v.dxf.get("flags", 0) & _FRAME_VERTEX]
    flat = entity.is_2d_polyline
    rows = [(v.dxf.location.x, v.dxf.location.y, v.dxf.get("bulge", 0.0) if flat else 0.0) for v in vertices]
    width = flat and any(
        v.dxf.get(k, entity.dxf.get(f"default_{k}", 0)) for v in vertices for k in ("start_width", "end_width")
    )
    return EntityCurves(
        chains=(_build_chain(rows, entity.is_closed, mm, flat and _is_mirrored(entity)),),
        width=int(bool(width)),
    )


def _convert_ellipse(entity: Any, mm: float, tolerance: float) -> EntityCurves:
    return EntityCurves(chains=(_fit_ellipse(entity.construction_tool(), mm, tolerance),))


def _fit_ellipse(e: ConstructionEllipse, mm: float, tolerance: float) -> Chain:
    c = np.array(e.center)[:2] * mm
    a, b = np.array(e.major_axis)[:2] * mm, np.array(e.minor_axis)[:2] * mm
    start, sweep = e.start_param, (e.end_param - e.start_param) % math.tau
    if sweep <= TOUCHING or math.tau - sweep <= TOUCHING:
        sweep = math.tau
    long, short = math.hypot(*a), math.hypot(*b)
    if not max(math.hypot(*c), long, short) <= FARTHEST:  # before a curve of that length is fitted
        raise EntityNotRead("has points more than 1000 km from the origin")
    if abs(long - short) <= TOUCHING and abs(float(a @ b)) <= TOUCHING:  # a circle: stays exact
        turn = 1.0 if float(a[0] * b[1] - a[1] * b[0]) > 0 else -1.0
        first = math.atan2(a[1], a[0]) + turn * start
        return _build_chain(list_arc_rows((float(c[0]), float(c[1])), long, first, turn * sweep), False, 1.0)

    def evaluate(t: Array) -> tuple[Array, Array]:
        cos, sin = np.cos(t)[:, None], np.sin(t)[:, None]
        return c + cos * a + sin * b, cos * b - sin * a

    return _build_chain(fit_biarcs(evaluate, [np.linspace(start, start + sweep, 5).tolist()], tolerance), False, 1.0)


def _convert_spline(entity: Any, mm: float, tolerance: float) -> EntityCurves:
    chain = _fit_spline(entity.construction_tool(), mm, tolerance)
    if entity.closed and not chain.closed:  # flagged as closed: both ends are one point
        chain = Chain(chain.vertices, closed=True)
    return EntityCurves(chains=(chain,))


def _fit_spline(tool: BSpline, mm: float, tolerance: float) -> Chain:
    places = np.array([(p.x, p.y) for p in tool.control_points]) * mm
    if not np.abs(places).max() <= FARTHEST:  # before a curve of that length is fitted
        raise EntityNotRead("has points more than 1000 km from the origin")
    knots = np.array(tool.knots())
    low, high = knots[tool.order - 1], knots[tool.count]
    distinct, times = np.unique(knots[(knots >= low) & (knots <= high)], return_counts=True)
    runs: list[list[float]] = [[float(low)]]
    for k, n in zip(distinct[1:].tolist(), times[1:].tolist(), strict=True):
        if k - runs[-1][-1] <= 1e-9 * (high - low):
            continue
        runs[-1].append(k)
        if n >= tool.degree and k < high:  # a knot repeated as often as the degree may be a corner
            runs.append([k])

    def evaluate(t: Array) -> tuple[Array, Array]:
        rows = tool.derivatives(np.clip(t, low, high).tolist(), 1)
        both = np.array([[(p.x, p.y), (d.x, d.y)] for p, d in rows]) * mm
        return both[:, 0], both[:, 1]

    return _build_chain(fit_biarcs(evaluate, [run for run in runs if len(run) > 1], tolerance), False, 1.0)


def _convert_hatch(entity: Any, mm: float, tolerance: float) -> EntityCurves:
    mirrored = _is_mirrored(entity)
    chains: list[Chain] = []
    for path in entity.paths:
        if hasattr(path, "vertices"):
            chains.append(_build_chain([(v[0], v[1], v[2]) for v in path.vertices], bool(path.is_closed), mm, mirrored))
            continue
        for edge in path.edges:
            chain = _convert_hatch_edge(edge, mm, tolerance)
            chains.append(_reverse_chain(chain) if mirrored else chain)
    if not chains:
        raise EntityNotRead("has no boundary")
    return EntityCurves(chains=tuple(chains))


def _convert_hatch_edge(edge: Any, mm: float, tolerance: float) -> Chain:
    kind = type(edge).__name__
    if kind == "LineEdge":
        return _build_chain([(edge.start.x, edge.start.y, 0.0), (edge.end.x, edge.end.y, 0.0)], False, mm)
    if kind == "ArcEdge":
        # The library stores both senses as anticlockwise angles.
        start, end = math.radians(edge.start_angle), math.radians(edge.end_angle)
        sweep = (end - start) % math.tau or math.tau
        return _build_chain(list_arc_rows((edge.center.x, edge.center.y), edge.radius, start, sweep), False, mm)
    tool = edge.construction_tool()
    return _fit_ellipse(tool, mm, tolerance) if kind == "EllipseEdge" else _fit_spline(tool, mm, tolerance)


_READERS: dict[str, Callable[[Any, float, float], EntityCurves]] = {
    "LINE": _convert_line,
    "CIRCLE": _convert_circle,
    "ARC": _convert_arc,
    "LWPOLYLINE": _convert_lwpolyline,
    "POLYLINE": _convert_polyline,
    "ELLIPSE": _convert_ellipse,
    "SPLINE": _convert_spline,
    "HATCH": _convert_hatch,
}

CONTOURS = tuple(_READERS)
"""The kinds of entity a contour can be made of."""
