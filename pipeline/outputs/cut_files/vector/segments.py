"""Contours as the stretches SVG and PDF files have: lines, arcs, cubic Béziers."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from pipeline.geometry.curves import Array, Chain
from pipeline.geometry.flatten import compute_arc_from_bulge
from pipeline.outputs.cut_files.dxf.entities import BULGE_DECIMALS
from pipeline.outputs.cut_files.file_contents import Contour

LONGEST_ARC = math.pi / 2
"""Of an arc drawn as arcs, radians. What draws one from its ends and radius finds its middle by a root that goes to
nothing at half a circle: there a radius rounded by 0.1 µm moves the arc by 0.03 mm, at a quarter by 0.1 µm."""

LONGEST_CUBIC = math.pi / 8
"""Of an arc drawn as cubics, radians. The cubic through both ends with tangents of length 4/3 tan(angle / 4) misses a
quarter circle by 2.7e-4 of its radius, improving with the 6th power: here by 6.6e-8."""


@dataclass(frozen=True, slots=True, eq=False)
class Segment:
    """One step of a contour, in the contour's unit. inner: the two control points of a cubic. radius: of an arc,
    positive anticlockwise. A straight stretch has neither."""

    end: Array  # (2,)
    radius: float = 0.0
    inner: Array | None = None  # (2, 2)


def split_segments(contour: Contour, *, arcs: bool) -> tuple[Array, list[Segment]]:
    """The first point of a contour and its stretches. Closing a closed one is one more, straight stretch where it does
    not end on its first point. arcs: False for a drawing that has none: they become cubics."""
    if not isinstance(contour, Chain):
        points = contour.to_cubics()
        return points[0], [Segment(points[k + 3], inner=points[k + 1 : k + 3]) for k in range(0, len(points) - 3, 3)]
    vertices = contour.vertices
    following = np.roll(vertices, -1, axis=0) if contour.closed else vertices[1:]
    out: list[Segment] = []
    for here, there in zip(vertices, following, strict=False):
        bulge = float(here[2])
        if round(bulge, BULGE_DECIMALS) == 0:
            out.append(Segment(there[:2]))
        else:
            out += _split_arc(here[:2], there[:2], bulge, arcs)
    if contour.closed and out and out[-1].radius == 0 and out[-1].inner is None:
        out.pop()
    return vertices[0, :2], out


def _split_arc(start: Array, end: Array, bulge: float, arcs: bool) -> list[Segment]:
    (x, y), radius, first, sweep = compute_arc_from_bulge(start, end, bulge)
    count = max(1, math.ceil(abs(sweep) / (LONGEST_ARC if arcs else LONGEST_CUBIC) - 1e-9))
    angle = first + sweep * np.arange(count + 1) / count
    on = np.column_stack((x + radius * np.cos(angle), y + radius * np.sin(angle)))
    on[0], on[-1] = start, end
    if arcs:
        return [Segment(on[k + 1], math.copysign(radius, bulge)) for k in range(count)]
    along = 4 / 3 * math.tan(sweep / count / 4) * radius * np.column_stack((-np.sin(angle), np.cos(angle)))
    return [Segment(on[k + 1], inner=np.array((on[k] + along[k], on[k + 1] - along[k + 1]))) for k in range(count)]
