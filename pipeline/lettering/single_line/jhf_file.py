"""Single-line letters as data: reading a .jhf file, and making smooth curves of its polylines.

Words: a *stroke* is one run of the point between plunge and lift, an (n, 2) array, y up from the baseline. The files'
grid has 21 steps to the cap height; as drawn there, a curve shows as facets, so strokes are
smoothed: corners and straights stay, the vertices between are eased by less than half a step, and cubic curves of the
circle through three neighbours run through them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from pipeline.geometry.curves import Array, Path

CAP = 21.0
"""Cap height of the letters in grid steps, their capitals from F (-12) down to [ (+9)."""

_BASELINE = 9  # in the file's own y, which points down
_CORNER = math.radians(58)  # a sharper turn is a corner
_KINK = math.radians(14)  # a sharper turn between two straight stretches is a corner
_STRAIGHT = 4.6  # grid steps; a longer stretch counts as straight
_EASE = 0.45  # grid steps a vertex may move in smoothing: less than the rounding it undoes
_DOT = 3.0  # grid steps; a closed stroke smaller than this is a dot


@dataclass(frozen=True, slots=True, eq=False)
class StrokeGlyph:
    """A letter of strokes with its side bearings: the pen enters at `left` and leaves at `right`."""

    strokes: tuple[Array, ...]
    left: float
    right: float

    @property
    def points(self) -> Array:
        return np.concatenate(self.strokes) if self.strokes else np.zeros((0, 2))


def read_jhf(text: str) -> list[StrokeGlyph]:
    """Read the glyphs of a .jhf file, in its order.

    Each line: number (5 columns), count of coordinate pairs (3 columns), then pairs of characters, each the distance of
    its code from that of R; the first pair is left and right bearing, " R" lifts the point (format by James Hurt, as
    the file's licence asks to say). ValueError names the line that is damaged.
    """
    out = []
    for number, line in enumerate(text.splitlines(), 1):
        if not line.strip():
            continue
        try:
            count, pairs = int(line[5:8]), [line[i : i + 2] for i in range(8, len(line) - 1, 2)]
        except ValueError as problem:
            raise ValueError(f"line {number}: {line[:12]!r} is not the start of a glyph") from problem
        if len(pairs) != count:
            raise ValueError(f"line {number}: {len(pairs)} coordinate pairs found, the line says {count}")
        places = [(ord(pair[0]) - ord("R"), ord(pair[1]) - ord("R")) for pair in pairs]
        strokes: list[list[tuple[float, float]]] = [[]]
        for pair, (x, y) in zip(pairs[1:], places[1:], strict=True):
            if pair == " R":
                strokes.append([])
            else:
                strokes[-1].append((float(x), float(_BASELINE - y)))
        left, right = places[0]
        out.append(StrokeGlyph(tuple(np.array(s) for s in strokes if s), float(left), float(right)))
    return out


def is_dot(stroke: Array) -> bool:
    """Return whether a stroke is a dot: closed and tiny, or a single point."""
    size = np.ptp(stroke, axis=0).max()
    return bool(size <= _DOT and (len(stroke) == 1 or ((stroke[0] == stroke[-1]).all() and size <= _DOT - 0.5)))


def draw_circle(x: float, y: float, radius: float) -> Path:
    """Draw a circle of four cubic curves (within .03 % of its radius)."""
    k = 4 / 3 * math.tan(math.pi / 8)
    unit = [(1, 0), (1, k), (k, 1), (0, 1), (-k, 1), (-1, k), (-1, 0), (-1, -k), (-k, -1), (0, -1), (k, -1), (1, -k)]
    points = np.array([*unit, unit[0]]) * radius + (x, y)
    return Path(points, (3, 3, 3, 3), closed=True)


def smooth_stroke(stroke: Array) -> Path:
    """Smooth a stroke into straight lines and cubic curves, in its own units. A dot becomes a circle."""
    if is_dot(stroke):
        low, high = stroke.min(axis=0), stroke.max(axis=0)
        x, y = (low + high) / 2
        return draw_circle(float(x), float(y), max(float((high - low).max()) / 2, 0.8))
    p = _drop_repeats(stroke)
    closed = bool((p[0] == p[-1]).all()) and len(p) > 3
    if closed:
        p = _start_at_corner(p)
    corners = _find_corners(p)
    points: list[Array] = [p[:1]]
    degrees: list[int] = []
    for a, b in pairwise(corners):
        round_all = closed and len(corners) == 2 and _turn(p[-2], p[0], p[1]) <= _CORNER
        _add_stretch(p[a : b + 1], points, degrees, loop=round_all)
    return Path(np.concatenate(points), tuple(degrees), closed=closed)


def _drop_repeats(stroke: Array) -> Array:
    keep = np.ones(len(stroke), dtype=bool)
    keep[1:] = (np.diff(stroke, axis=0) != 0).any(axis=1)
    return stroke[keep]


def _turn(a: Array, b: Array, c: Array) -> float:
    u, v = b - a, c - b
    return abs(math.atan2(float(u[0] * v[1] - u[1] * v[0]), float(u @ v)))


def _is_corner(a: Array, b: Array, c: Array) -> bool:
    turn = _turn(a, b, c)
    straights = min(math.dist(a, b), math.dist(b, c)) >= _STRAIGHT
    return turn > _CORNER or (straights and turn > _KINK)


def _start_at_corner(p: Array) -> Array:
    """Rotate a closed stroke to start at a corner, if it has one."""
    ring = p[:-1]
    for i in range(len(ring)):
        if _is_corner(ring[i - 1], ring[i], ring[(i + 1) % len(ring)]):
            turned = np.roll(ring, -i, axis=0)
            return np.vstack((turned, turned[:1]))
    return p


def _find_corners(p: Array) -> list[int]:
    inner = [i for i in range(1, len(p) - 1) if _is_corner(p[i - 1], p[i], p[i + 1])]
    return [0, *inner, len(p) - 1]


def _add_stretch(p: Array, points: list[Array], degrees: list[int], *, loop: bool) -> None:
    """Add curves and straight lines through a stretch without corners to the path."""
    n = len(p)
    if n == 2:
        points.append(p[1:])
        degrees.append(1)
        return
    long = np.hypot(*np.diff(p, axis=0).T) >= _STRAIGHT
    p = _ease(p, long, loop)
    tangents = _compute_tangents(p, long, loop)
    for i in range(n - 1):
        if long[i]:
            points.append(p[i + 1 : i + 2])
            degrees.append(1)
            continue
        chord = math.dist(p[i], p[i + 1])
        bend = math.acos(max(-1.0, min(1.0, float(tangents[i] @ tangents[i + 1]))))
        # The handle of a circular arc of that bend: (4/3) tan(bend/4) r, with r = chord / (2 sin(bend/2)).
        handle = chord / 3 if bend < 1e-4 else chord * (2 / 3) * math.tan(bend / 4) / math.sin(bend / 2)
        points.append(np.array([p[i] + tangents[i] * handle, p[i + 1] - tangents[i + 1] * handle, p[i + 1]]))
        degrees.append(3)


def _ease(p: Array, long: Array, loop: bool) -> Array:
    """Move vertices so that the curvature changes evenly, none by more than `_EASE`; ends of straight stretches
    stay."""
    n = len(p)
    if n < 5:
        return p
    fixed = np.zeros(n, dtype=bool)
    fixed[[0, -1]] = True
    fixed[:-1] |= long
    fixed[1:] |= long
    work = np.vstack((p[-4:-1], p, p[1:4])) if loop else p
    held = np.concatenate((np.ones(3, bool), fixed, np.ones(3, bool))) if loop else fixed
    step = np.hypot(*np.diff(work, axis=0).T)
    at = np.concatenate(([0.0], np.cumsum(step)))
    third = np.zeros((len(work) - 3, len(work)))
    for i in range(len(work) - 3):  # third divided differences vanish where the curvature changes evenly
        for j in range(4):
            others = [at[i + j] - at[i + k] for k in range(4) if k != j]
            third[i, i + j] = float(np.mean(step)) ** 3 / math.prod(others)
    penalty = third.T @ third
    weight = np.where(held, 1e6, 1.0)
    low, high = 0.0, 64.0
    best: Array = work
    for _ in range(16):
        middle = (low + high) / 2
        moved: Array = np.asarray(
            np.linalg.solve(np.diag(weight) + middle * penalty, weight[:, None] * work), dtype=float
        )
        if np.hypot(*(moved - work).T).max() <= _EASE:
            low, best = middle, moved
        else:
            high = middle
    eased: Array = np.array(best[3:-3] if loop else best, dtype=np.float64)
    eased[fixed] = p[fixed]
    return eased


def _compute_tangents(p: Array, long: Array, loop: bool) -> Array:
    n = len(p)
    out = np.zeros((n, 2))
    for i in range(1, n - 1):
        out[i] = _compute_circle_tangent(p[i - 1], p[i], p[i + 1])
    if loop:
        out[0] = out[-1] = _compute_circle_tangent(p[-2], p[0], p[1])
    else:
        out[0] = _mirror(p[1] - p[0], out[1])
        out[-1] = _mirror(p[-1] - p[-2], out[-2])
    for i in range(n - 1):
        if long[i]:
            out[i] = out[i + 1] = (p[i + 1] - p[i]) / math.dist(p[i], p[i + 1])
    return out


def _compute_circle_tangent(a: Array, b: Array, c: Array) -> Array:
    """Return the direction at b of the circle through a, b, c."""
    u, v = b - a, c - b
    lu, lv = math.hypot(*u), math.hypot(*v)
    direction = u / lu * lv + v / lv * lu
    length = math.hypot(*direction)
    return np.asarray(direction / length if length > 1e-9 else u / lu, dtype=np.float64)


def _mirror(chord: Array, tangent: Array) -> Array:
    """Return the direction at the other end of a circular arc over this chord."""
    along = chord / math.hypot(*chord)
    return np.asarray(2 * float(along @ tangent) * along - tangent, dtype=np.float64)
