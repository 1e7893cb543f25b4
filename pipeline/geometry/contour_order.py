"""The order in which contours are cut, and where each begins.

*Inner*: a contour that lies inside another. What is inside is cut first, while it is still held. *Entry*: the place a
contour is to begin near; it begins on a smooth stretch away from corners, where the mark of going in and out is least
seen and no corner is rounded by the way in.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.geometry.arcs.curve_samples import wrap_angle
from pipeline.geometry.curves import Array, Chain, Path
from pipeline.geometry.flatten import ring_area

_FAR_ENOUGH = 0.5  # of the greatest distance from a corner: of the places this far, the one nearest the entry is chosen


def order_inner_first(rings: Sequence[Array]) -> list[int]:
    """Indices of rings (n, 2): every ring after those inside it, what lies outermost from left to right.

    Rings that touch or cross are taken as lying beside each other. Rings of fewer than three corners come first.
    """
    solid = [k for k, ring in enumerate(rings) if len(ring) >= 3]
    thin = [k for k, ring in enumerate(rings) if len(ring) < 3]
    if len(solid) < 2:
        return thin + solid
    polygons = {k: shapely.Polygon(rings[k]) for k in solid}
    size = {k: abs(ring_area(rings[k])) for k in solid}
    left = {k: float(rings[k][:, 0].min()) for k in solid}
    inside: dict[int, list[int]] = {k: [] for k in solid}
    roots: list[int] = []
    for k in solid:
        place = shapely.Point(rings[k][0])
        round_it = [o for o in solid if size[o] > size[k] and polygons[o].contains(place)]
        (inside[min(round_it, key=lambda o: size[o])] if round_it else roots).append(k)

    def visit_after_inner(k: int) -> list[int]:
        before = sorted(inside[k], key=lambda o: left[o])
        return [i for o in before for i in visit_after_inner(o)] + [k]

    return thin + [i for k in sorted(roots, key=lambda o: left[o]) for i in visit_after_inner(k)]


def compute_headings(chain: Chain) -> tuple[Array, Array]:
    """Return the directions (radians) in which each piece of a closed chain leaves its vertex and arrives at the
    next."""
    v = chain.vertices
    chord = np.roll(v[:, :2], -1, axis=0) - v[:, :2]
    along, half = np.arctan2(chord[:, 1], chord[:, 0]), 2 * np.arctan(v[:, 2])
    return along - half, along + half


def find_tangent_breaks(chain: Chain) -> Array:
    """Return the change of a closed chain's direction at each vertex (radians, not negative)."""
    leaving, arriving = compute_headings(chain)
    return np.abs(wrap_angle(leaving - np.roll(arriving, 1)))


def measure_segments(chain: Chain) -> Array:
    """The length of each piece of a closed chain."""
    v = chain.vertices
    chord = np.roll(v[:, :2], -1, axis=0) - v[:, :2]
    straight = np.hypot(chord[:, 0], chord[:, 1])
    half = 2 * np.arctan(v[:, 2])  # half the included angle
    bent = np.abs(half) > 1e-9
    arc: Array = np.where(bent, straight * half / np.where(bent, np.sin(half), 1.0), straight)
    return arc


def start_at(chain: Chain, entry: tuple[float, float], corner: float) -> Chain:
    """A closed chain that begins near `entry`, away from corners (vertices that break by more than `corner` radians).

    Where every vertex is a corner, one of the longer pieces is split in its middle, which adds a vertex. Open chains
    and those of fewer than two vertices stay as they are.
    """
    v = chain.vertices
    if not chain.closed or len(v) < 2:
        return chain
    sharp = find_tangent_breaks(chain) > corner
    if not sharp.any():
        return _rotate_vertices(v, _find_nearest(v[:, :2], np.arange(len(v)), entry))
    if not sharp.all():
        far = _measure_from_corners(sharp, measure_segments(chain))
        return _rotate_vertices(v, _find_nearest(v[:, :2], np.flatnonzero(far >= _FAR_ENOUGH * far.max()), entry))
    long = measure_segments(chain)
    middle = _compute_middles(chain)
    k = _find_nearest(middle, np.flatnonzero(long >= _FAR_ENOUGH * long.max()), entry)
    bulge = math.tan(math.atan(v[k, 2]) / 2)
    parted = np.insert(v, k + 1, [*middle[k], bulge], axis=0)
    parted[k, 2] = bulge
    return _rotate_vertices(parted, k + 1)


def _compute_middles(chain: Chain) -> Array:
    """The middle of each piece: the chord's, moved by the sagitta (half chord times bulge) to the right."""
    v = chain.vertices
    chord = np.roll(v[:, :2], -1, axis=0) - v[:, :2]
    sag = v[:, 2, None] * np.column_stack((chord[:, 1], -chord[:, 0])) / 2
    middle: Array = v[:, :2] + chord / 2 + sag
    return middle


def _measure_from_corners(sharp: NDArray[np.bool_], long: Array) -> Array:
    """Return the length along the chain from each vertex to the nearest corner, 0 at corners."""
    n = len(sharp)
    far = np.full(n, np.inf)
    for forward in (True, False):
        run = math.inf
        for step in range(2 * n):
            k = step % n if forward else -step % n
            run = 0.0 if sharp[k] else run
            far[k] = min(far[k], run)
            run += float(long[k] if forward else long[k - 1])
    return far


def _find_nearest(places: Array, among: NDArray[np.intp], entry: tuple[float, float]) -> int:
    off = places[among] - entry
    return int(among[np.argmin(np.round(np.hypot(off[:, 0], off[:, 1]), 6))])


def _rotate_vertices(vertices: Array, first: int) -> Chain:
    return Chain(np.roll(vertices, -first, axis=0), True)


def start_path_at(path: Path, entry: tuple[float, float], corner: float) -> Path:
    """A closed path that begins near `entry`, away from corners; if every join is a corner, a segment is split."""
    segments = [s for s in path.list_segments() if np.abs(s - s[0]).max() > 0]
    if not path.closed or not segments:
        return path
    chords = Chain(np.array([[*s[0], 0.0] for s in segments]), True)
    leaving = np.array([_compute_heading(s) for s in segments])
    arriving = np.array([_compute_heading(s[::-1]) + math.pi for s in segments])
    sharp = np.abs(wrap_angle(leaving - np.roll(arriving, 1))) > corner
    long = measure_segments(chords)
    if sharp.all():
        among = np.flatnonzero(long >= _FAR_ENOUGH * long.max())
        middles = np.array([_split_segment(s)[0][-1] for s in segments])
        k = _find_nearest(middles, among, entry)
        segments[k : k + 1] = _split_segment(segments[k])
        first = k + 1
    else:
        far = _measure_from_corners(sharp, long)
        among = np.flatnonzero(far >= _FAR_ENOUGH * far.max()) if sharp.any() else np.arange(len(segments))
        first = _find_nearest(chords.vertices[:, :2], among, entry)
    segments = segments[first:] + segments[:first]
    points = np.concatenate([segments[0][:1], *(s[1:] for s in segments)])
    return Path(points, tuple(len(s) - 1 for s in segments), True)


def _compute_heading(segment: Array) -> float:
    """The direction in which a Bézier leaves its first point."""
    for point in segment[1:]:
        if (point != segment[0]).any():
            return math.atan2(point[1] - segment[0, 1], point[0] - segment[0, 0])
    return 0.0


def _split_segment(segment: Array) -> list[Array]:
    """Split a Bézier into two halves (de Casteljau)."""
    left, right, row = [segment[0]], [segment[-1]], segment
    while len(row) > 1:
        row = (row[:-1] + row[1:]) / 2
        left.append(row[0])
        right.append(row[-1])
    return [np.array(left), np.array(right[::-1])]
