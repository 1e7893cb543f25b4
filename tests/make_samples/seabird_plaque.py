"""Draw `sample_orders/seabird-trust/plaque.dxf`, a walnut blank of an invented trust, and write it.

Run from the project's root: `python tests/make_samples/seabird_plaque.py`. Equal bytes every time; a test compares.
All sizes are invented (common practice, no source).
"""

from __future__ import annotations

import itertools
import math
from pathlib import Path

import ezdxf
import numpy as np
from ezdxf.math import global_bspline_interpolation
from shapely import LineString, Polygon, affinity, get_coordinates, unary_union
from shapely.geometry import Point

TARGET = Path(__file__).resolve().parents[2] / "sample_orders" / "seabird-trust" / "plaque.dxf"

WIDTH, HEIGHT, SLANT = 150.0, 180.0, 10.0  # mm, mm, degrees by which the right side leans from upright
ZONE = (14.0, 12.0, 126.0, 72.0)
MARK = (118.0, 20.0, 4.0)  # centre and radius of the place for the trust's own mark
LEAST_INSIDE_RADIUS = 1.6  # what a 3 mm end mill can still clear
AWAY_FROM_ORIGIN = (40.0, 25.0)  # a drawing's origin is rarely the corner of the piece

FEATHER_AT, FEATHER_TURN = (61.0, 126.0), 24.0


def feather() -> Polygon:
    """Draw the feather along x: quill on the left, tip on the right, about 75 × 28, with every inside radius large
    enough to cut."""
    u = np.linspace(-21.0, 38.0, 400)
    t = (u + 21.0) / 59.0
    bow = 0.0034 * (u + 21.0) ** 2  # the shaft bends upwards towards the tip
    upper = bow + 1.2 + 7.5 * np.sin(math.pi * t**0.70) ** 0.80 * (1 - 0.10 * t)
    lower = bow - 1.2 - 15.5 * np.sin(math.pi * t**0.72) ** 0.85 * (1 - 0.40 * t)
    vane = Polygon(np.vstack((np.column_stack((u, upper)), np.column_stack((u, lower))[::-1])))
    quill = LineString([(-38.0, 0.0), (-17.0, 0.0)]).buffer(1.9, quad_segs=64)
    splits = [
        split((-11.0, -1.9), (-2.5, -17.0), 1.9),
        split((3.0, 0.2), (11.0, -13.5), 2.0),
        split((16.5, 3.4), (25.0, -8.0), 2.0),
        split((8.0, 4.8), (15.5, 16.5), 1.9),
    ]
    whole = unary_union([vane, quill]).difference(unary_union(splits))
    r = LEAST_INSIDE_RADIUS + 0.1
    opened = whole.buffer(-r, quad_segs=64).buffer(r, quad_segs=64)
    rounded = opened.buffer(0.6, quad_segs=64).buffer(-0.6, quad_segs=64)
    assert isinstance(rounded, Polygon) and not rounded.interiors
    return rounded


def split(inner: tuple[float, float], outer: tuple[float, float], width: float) -> Polygon:
    """Draw a parting between barbs: a wedge that opens from `inner`, near the shaft, to `outer`, beyond the vane."""
    along = np.subtract(outer, inner)
    across = np.array([-along[1], along[0]]) / np.hypot(*along) * width
    return Polygon([inner, np.add(outer, across), np.subtract(outer, across)])


def feather_pieces(shape: Polygon) -> tuple[np.ndarray, np.ndarray, float]:
    """Return the outline without the straight end of the quill: points from the quill's lower side, around the vane,
    to its upper side; and the two corners at the quill's half width."""
    ring = get_coordinates(shape.exterior)[:-1]
    if not shape.exterior.is_ccw:
        ring = ring[::-1]
    start = LineString([(-26.0, -3.0), (-26.0, 0.0)]).intersection(shape.exterior)
    end = LineString([(-26.0, 3.0), (-26.0, 0.0)]).intersection(shape.exterior)
    line = shape.exterior if shape.exterior.is_ccw else LineString(shape.exterior.coords[::-1])
    a, b = line.project(start), line.project(end)
    total = line.length
    length = (b - a) % total
    steps = np.arange(0, math.ceil(length / 0.8) + 1) / math.ceil(length / 0.8)
    points = np.array([line.interpolate((a + length * s) % total).coords[0] for s in steps])
    return points, np.array([start.coords[0], end.coords[0]]), abs(start.y)


def draw() -> ezdxf.document.Drawing:
    ezdxf.options.write_fixed_meta_data_for_testing = True
    doc = ezdxf.new("R2010", units=4)
    for name, colour in (("EDGE", 7), ("LETTERING", 3), ("KEEP_OUT", 1), ("POCKET", 5), ("NOTES", 8)):
        doc.layers.add(name, color=colour)
    space = doc.modelspace()
    dx, dy = AWAY_FROM_ORIGIN
    top_right = WIDTH - HEIGHT * math.tan(math.radians(SLANT))
    corners = [(0, 0), (WIDTH, 0), (top_right, HEIGHT), (0, HEIGHT)]
    corners = [(x + dx, y + dy) for x, y in corners]
    for p, q in zip(corners, corners[1:] + corners[:1], strict=True):
        space.add_line(p, q, dxfattribs={"layer": "EDGE"})
    x0, y0, x1, y1 = ZONE
    zone = [(x0 + dx, y0 + dy), (x1 + dx, y0 + dy), (x1 + dx, y1 + dy), (x0 + dx, y1 + dy)]
    space.add_lwpolyline(zone, close=True, dxfattribs={"layer": "LETTERING"})
    space.add_circle((MARK[0] + dx, MARK[1] + dy), MARK[2], dxfattribs={"layer": "KEEP_OUT"})

    points, (start, end), half = feather_pieces(feather())
    turn = math.radians(FEATHER_TURN)
    c, s = math.cos(turn), math.sin(turn)
    at = np.add(FEATHER_AT, AWAY_FROM_ORIGIN)

    def placed(p: np.ndarray) -> np.ndarray:
        return np.asarray(p) @ np.array([[c, s], [-s, c]]) + at

    pocket = {"layer": "POCKET"}
    # Four splines; the shaft's direction at the joints follows from the neighbouring points.
    curve = placed(points)
    tangents = np.gradient(curve, axis=0)
    tangents /= np.hypot(*tangents.T)[:, None]
    cuts = np.linspace(0, len(curve) - 1, 5).astype(int)
    for i, j in itertools.pairwise(cuts):
        part = [tuple(p) for p in curve[i : j + 1]]
        spline = global_bspline_interpolation(part, degree=3, tangents=[tuple(tangents[i]), tuple(tangents[j])])
        space.add_spline(dxfattribs=pocket).apply_construction_tool(spline)
    middle = np.array([-38.0, 0.0])
    for x, y in ((start[0], -half), (end[0], half)):
        space.add_line(tuple(placed([x, y])), tuple(placed([middle[0], y])), dxfattribs=pocket)
    space.add_arc(tuple(placed(middle)), half, 90 + FEATHER_TURN, 270 + FEATHER_TURN, dxfattribs=pocket)

    notes = {"layer": "NOTES", "height": 4.0}
    space.add_text("Plaque 150 x 180, walnut 19 finished", dxfattribs=notes).set_placement((dx, dy - 10))
    space.add_text("trust's mark", dxfattribs={**notes, "height": 2.0}).set_placement((MARK[0] + dx - 7, MARK[1] + dy))
    settle(doc)
    return doc


def settle(doc: ezdxf.document.Drawing) -> None:
    """Sort the class list, which the library writes in the order of a set that differs from run to run."""
    doc.classes.add_required_classes(doc.dxfversion)
    doc.classes.classes = dict(sorted(doc.classes.classes.items()))


def main() -> None:
    TARGET.parent.mkdir(parents=True, exist_ok=True)
    draw().saveas(TARGET)
    shape = feather()
    x0, y0, x1, y1 = shape.bounds
    area = affinity.rotate(shape, FEATHER_TURN, origin=Point(0, 0)).area
    print(f"{TARGET.name}: feather {x1 - x0:.1f} × {y1 - y0:.1f} mm, {area:.0f} mm²")


if __name__ == "__main__":
    main()
