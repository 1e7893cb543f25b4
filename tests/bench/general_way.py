"""The job as one would write it with general-purpose libraries only: the yardstick of the comparison.

For each name: text to paths, a new drawing, the paths as polylines, save; the narrowest stroke from the Voronoi
diagram of the densified outline. No unions, no fitting, no verification: less work than the pipeline does.
"""

from __future__ import annotations

from pathlib import Path

import ezdxf
import numpy as np
import shapely
from ezdxf import path as ezpath
from ezdxf.addons import text2path
from ezdxf.fonts import fonts
from ezdxf.fonts.font_face import FontFace
from shapely.geometry import MultiPoint, Polygon

CAP_HEIGHT = 8.0
FLAT = 0.01  # mm, flattening
DENSE = 0.01  # mm, distance of points along the outline: as fine as the cut file's tolerance


def use_font(file: Path) -> FontFace:
    """Register the font with the drawing library and return its name there."""
    fonts.font_manager.build([str(file.parent)], support_dirs=False)
    return fonts.get_font_face(file.name)


def one_name(name: str, face: FontFace, target: Path) -> float:
    """Write one cut file; return the narrowest stroke found, mm."""
    paths = text2path.make_paths_from_str(name, face, size=CAP_HEIGHT)
    document = ezdxf.new("R2010")
    document.layers.add("ENGRAVE")
    space = document.modelspace()
    rings = []
    for one in paths:
        ring = np.array([(v.x, v.y) for v in one.flattening(FLAT)])
        if len(ring) >= 4:
            rings.append(ring)
    ezpath.render_lwpolylines(space, paths, distance=FLAT, dxfattribs={"layer": "ENGRAVE"})
    narrowest = min((_narrowest(part) for part in _areas(rings)), default=0.0)
    document.saveas(target)
    return narrowest


def _areas(rings: list[np.ndarray]) -> list[Polygon]:
    """Return areas by the even-odd rule, which is right as long as contours don't overlap."""
    area = shapely.Polygon()
    for ring in sorted(rings, key=lambda r: -abs(Polygon(r).area)):
        area = area.symmetric_difference(Polygon(ring).buffer(0))
    return [part for part in shapely.get_parts(area) if isinstance(part, Polygon) and not part.is_empty]


def _narrowest(area: Polygon) -> float:
    """Return twice the least distance from the inside Voronoi vertices to the outline, with corners excluded by a
    rule of thumb."""
    outline = area.boundary
    points = shapely.get_coordinates(shapely.segmentize(outline, DENSE))
    edges = shapely.voronoi_polygons(MultiPoint(points), only_edges=True)
    vertices = shapely.points(shapely.get_coordinates(edges))
    shapely.prepare(area)
    inside = vertices[shapely.contains(area, vertices)]
    if not len(inside):
        return 0.0
    distances = shapely.distance(inside, outline)
    solid = distances[distances > 0.05]
    return float(2 * solid.min()) if len(solid) else float(2 * distances.max())
