"""Fits strokes of a pen to ink: where they begin and end, how they bend, how wide and how blurred they are.

A stroke is drawn as a band around a curve of the second degree, as dark as the pen leaves it, softened as the
picture is. Its values are those with the least squares of what is left (Levenberg 1944, Marquardt 1963).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

STEPS = 25
LEAST_GAIN = 2e-3
"""Part of what is left by which a step has to better it for another one."""
MOST_BEND = 0.14
"""Of a stroke's length: how far its middle may be beside the line between its ends."""
OFF_DARK = (0.8, 1.5)
"""How much lighter and darker than the ink's usual values a stroke may be: a thin one is blurred."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pattern:
    """What strokes make a mark: how many points, and which two of them each stroke runs between. joined: strokes share
    an end there, and otherwise cross."""

    points: int
    strokes: tuple[tuple[int, int], ...]
    joined: bool


TICK = Pattern(points=3, strokes=((0, 1), (1, 2)), joined=True)
CROSS = Pattern(points=4, strokes=((0, 1), (2, 3)), joined=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class PenBounds:
    """What a pen's stroke may be like, pixels: least and greatest width, and blur as a standard deviation."""

    pen: tuple[float, float]
    blur: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FittedStrokes:
    """What was fitted. points: of the pattern, x and y. bends: of each stroke, how far its middle is beside the line
    between its ends. pen, blur: width and standard deviation in pixels; dark: of the ink."""

    pattern: Pattern
    points: Floats
    bends: Floats
    pen: float
    blur: float
    dark: float

    def get_ends(self, stroke: int) -> tuple[Floats, Floats]:
        """Return where a stroke begins and ends."""
        a, b = self.pattern.strokes[stroke]
        return self.points[a], self.points[b]

    def measure_distance(self, places: Floats) -> Floats:
        """Measure how far places are from the nearest middle of a stroke."""
        each = [
            _measure_nearest(places, *self.get_ends(n), float(self.bends[n]))[0]
            for n in range(len(self.pattern.strokes))
        ]
        return np.asarray(np.min(each, axis=0))

    def draw_at(self, places: Floats) -> Floats:
        """Draw how dark the strokes make places."""
        values = np.concatenate([self.points.ravel(), self.bends, [self.pen, self.blur, self.dark]])
        return _draw(values, places, self.pattern)[0]

    def list_along(self, stroke: int, count: int) -> Floats:
        """List so many places along the middle of a stroke, without its very ends."""
        start, end = self.get_ends(stroke)
        t = np.linspace(0.03, 0.97, count)[:, None]
        chord = end - start
        across = np.array([-chord[1], chord[0]]) / max(float(np.hypot(*chord)), 1e-6)
        return np.asarray(start + t * chord + 4 * t * (1 - t) * float(self.bends[stroke]) * across)


def fit_strokes(places: Floats, values: Floats, pattern: Pattern, start: Floats, bounds: PenBounds) -> FittedStrokes:
    """Fit a pattern, beginning with given points. places: x, y of pixels; values: how dark each is."""
    usual = float(np.percentile(values, 93))
    low = np.array([bounds.pen[0], bounds.blur[0], OFF_DARK[0] * usual])
    high = np.array([bounds.pen[1], bounds.blur[1], OFF_DARK[1] * usual])
    count = len(pattern.strokes)
    middle = np.sqrt(low * high)
    at = _hold_in_bounds(np.concatenate([start.ravel(), np.zeros(count), middle]), pattern, low, high)
    most = np.array([6.0] * (2 * pattern.points) + [3.0] * count + [2.0, 0.6, 0.3])
    drawn, slopes = _draw(at, places, pattern)
    now = drawn - values
    cost, damping = float(now @ now), 1e-2
    for _ in range(STEPS):
        normal, down = slopes.T @ slopes, slopes.T @ now
        steeper = np.diag(np.diag(normal)) + 1e-6 * np.eye(len(at))
        gain = 0.0
        for _ in range(5):
            by = np.linalg.solve(normal + damping * steeper, -down)
            tried = _hold_in_bounds(at + np.clip(by, -most, most), pattern, low, high)
            drawn, then_slopes = _draw(tried, places, pattern)
            then = drawn - values
            after = float(then @ then)
            if after < cost:
                gain = 1 - after / cost
                at, now, slopes, cost = tried, then, then_slopes, after
                damping = max(damping / 4, 1e-6)
                break
            damping *= 5
        if gain < LEAST_GAIN:
            break
    split = 2 * pattern.points
    return FittedStrokes(
        pattern=pattern,
        points=at[:split].reshape(-1, 2),
        bends=at[split : split + count],
        pen=float(at[-3]),
        blur=float(at[-2]),
        dark=float(at[-1]),
    )


def _hold_in_bounds(at: Floats, pattern: Pattern, low: Floats, high: Floats) -> Floats:
    """Hold values within what pens and pictures have."""
    at = at.copy()
    at[-3:] = np.clip(at[-3:], low, high)
    points = at[: 2 * pattern.points].reshape(-1, 2)
    for n, (a, b) in enumerate(pattern.strokes, 2 * pattern.points):
        most = MOST_BEND * float(np.hypot(*(points[b] - points[a])))
        at[n] = np.clip(at[n], -most, most)
    return at


def _draw(at: Floats, places: Floats, pattern: Pattern) -> tuple[Floats, Floats]:
    """Draw how dark the strokes make each place, and the slopes of that by each value."""
    points = at[: 2 * pattern.points].reshape(-1, 2)
    pen, blur, dark = at[-3:]
    parts = []
    for n, (a, b) in enumerate(pattern.strokes):
        far, by = _measure_nearest(places, points[a], points[b], float(at[2 * pattern.points + n]))
        outer, inner = (far + 0.5 * pen) / blur, (far - 0.5 * pen) / blur
        below_outer, below_inner = _integrate_normal(outer), _integrate_normal(inner)
        steep_outer, steep_inner = (1.702 * v * (1 - v) for v in (below_outer, below_inner))
        by_far = (steep_outer - steep_inner) / blur
        by_pen = 0.5 * (steep_outer + steep_inner) / blur
        by_blur = -(steep_outer * outer - steep_inner * inner) / blur
        parts.append((below_outer - below_inner, by * by_far[:, None], by_pen, by_blur))
    covers = np.array([p[0] for p in parts])
    if pattern.joined:  # the strokes form one band
        weights = dark * (covers == covers.max(axis=0))
        whole = covers.max(axis=0)
    else:  # overlapping ink is no darker than the pen's own, and the same goes for pixels of other strokes
        bare = np.prod(1 - covers, axis=0)
        peak = 2 * float(_integrate_normal(np.array([0.5 * pen / blur]))[0]) - 1
        whole = np.minimum(1 - bare, peak)
        weights = dark * np.where(1 - bare < peak, bare / np.maximum(1 - covers, 1e-6), 0.0)
    slopes = np.zeros((len(places), len(at)))
    for n, ((a, b), (_, by_place, by_pen, by_blur), weight) in enumerate(
        zip(pattern.strokes, parts, weights, strict=True)
    ):
        slopes[:, 2 * a : 2 * a + 2] += by_place[:, 0:2] * weight[:, None]
        slopes[:, 2 * b : 2 * b + 2] += by_place[:, 2:4] * weight[:, None]
        slopes[:, 2 * pattern.points + n] = by_place[:, 4] * weight
        slopes[:, -3] += by_pen * weight
        slopes[:, -2] += by_blur * weight
    slopes[:, -1] = whole
    return dark * whole, slopes


def _integrate_normal(z: Floats) -> Floats:
    """Integrate the normal distribution, to 0.01, as a logistic curve (from memory)."""
    return np.asarray(1.0 / (1.0 + np.exp(-np.clip(1.702 * z, -40, 40))))


def _measure_nearest(places: Floats, start: Floats, end: Floats, bend: float) -> tuple[Floats, Any]:
    """Measure how far places are from a stroke's middle, and the slopes of that by its ends and its bend."""
    chord = end - start
    long = max(float(np.hypot(*chord)), 1e-6)
    way = chord / long
    across = np.array([-way[1], way[0]])
    off = places - start
    u, v = off @ way, off @ across
    t = np.clip(u / long, 0.0, 1.0)
    for _ in range(2):  # Newton's method for the foot of the perpendicular
        high, slope = 4 * bend * t * (1 - t), 4 * bend * (1 - 2 * t)
        t = np.clip(t + ((u - long * t) * long + (v - high) * slope) / (long * long + slope * slope), 0.0, 1.0)
    du, dv = u - long * t, v - 4 * bend * t * (1 - t)
    far = np.sqrt(du * du + dv * dv) + 1e-9
    x, y = (du * way[0] + dv * across[0]) / far, (du * way[1] + dv * across[1]) / far
    by = np.stack([-x * (1 - t), -y * (1 - t), -x * t, -y * t, -dv / far * 4 * t * (1 - t)], axis=1)
    return far, by
