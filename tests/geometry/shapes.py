"""Exact shapes for the axis tests, as outlines of lines and curves."""

import math

import numpy as np

from pipeline.geometry.curves import Path
from pipeline.geometry.medial.medial_axis import compute_medial_axis
from pipeline.geometry.medial.stroke_width import SPECK, find_stroke_candidates

K = 4 / 3 * math.tan(math.pi / 8)


def ring(points):
    p = np.array([*points, points[0]], float)
    return Path(p, (1,) * (len(p) - 1))


def rectangle(x0, y0, x1, y1):
    return ring([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])


def ellipse(a, b, turn=1):
    """Return eight cubic pieces, nowhere farther than 4e-6 of the radius from the ellipse."""
    k = 4 / 3 * math.tan(math.pi / 16)
    points = []
    for i in range(8):
        t0, t1 = i * math.pi / 4, (i + 1) * math.pi / 4
        points += [
            (math.cos(t0), math.sin(t0)),
            (math.cos(t0) - k * math.sin(t0), math.sin(t0) + k * math.cos(t0)),
            (math.cos(t1) + k * math.sin(t1), math.sin(t1) - k * math.cos(t1)),
        ]
    points.append((1.0, 0.0))
    return Path(np.array(points)[::turn] * (a, b), (3,) * 8)


def letter_l(w, a):
    return ring([(0, 0), (a, 0), (a, w), (w, w), (w, a), (0, a)])


def letter_t(w, a):
    h = w / 2
    return ring([(-a, 0), (-h, 0), (-h, -a), (h, -a), (h, 0), (a, 0), (a, w), (-a, w)])


def plus(w, a):
    h = w / 2
    return ring(
        [(h, h), (h, a), (-h, a), (-h, h), (-a, h), (-a, -h), (-h, -h), (-h, -a), (h, -a), (h, -h), (a, -h), (a, h)]
    )


# name, outline, stroke, radius of the axis' widest point. Radii of L, T and plus: check on local thickness, definition
# Hildebrand & Rüegsegger 1997, values computed from it: w (2 − √2), 5 w / 8, w / √2.
EXACT = (
    ("bar", (rectangle(0, 0, 400, 50),), 50.0, 25.0),
    ("square", (rectangle(0, 0, 100, 100),), 100.0, 50.0),
    ("disc", (ellipse(100, 100),), 200.0, 100.0),
    ("ring", (ellipse(100, 100), ellipse(60, 60, -1)), 40.0, 20.0),
    ("ellipse", (ellipse(250, 150),), 300.0, 150.0),
    ("triangle 3-4-5", (ring([(0, 0), (400, 0), (0, 300)]),), 200.0, 100.0),
    ("L", (letter_l(60, 400),), 60.0, 60 * (2 - math.sqrt(2))),
    ("T", (letter_t(60, 400),), 60.0, 60 * 5 / 8),
    ("plus", (plus(60, 400),), 60.0, 60 / math.sqrt(2)),
    ("hourglass", (ring([(0, 0), (200, 0), (112, 200), (200, 400), (0, 400), (88, 200)]),), 24.0, None),
    (
        "H with a hair",
        (
            ring(
                [
                    (0, 0), (80, 0), (80, 340), (400, 340), (400, 0), (480, 0),
                    (480, 700), (400, 700), (400, 360), (80, 360), (80, 700), (0, 700),
                ]
            ),
        ),
        20.0,
        None,
    ),
)  # fmt: skip


def candidates(region, cap):
    """Return every width that fails somewhere in a region that is already flattened."""
    return find_stroke_candidates(compute_medial_axis(region, (cap * SPECK) ** 2), cap)
