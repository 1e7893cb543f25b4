"""Outlines offset outwards, compared with closed forms and with GEOS, which has its own method."""

import math

import numpy as np
import pytest
import shapely

from pipeline.geometry.curves import Chain, Path
from pipeline.geometry.flatten import chain_area, flatten, flatten_chain
from pipeline.geometry.offset import _measure_error, build_chain_from_ring, offset_outline
from tests import builders

TOLERANCE = 0.01


def polygon(*corners):
    points = np.array([*corners, corners[0]], float)
    return Path(points, (1,) * len(corners))


def circle(radius):
    """Return four cubics within 2.7e-4 radii of the circle (the usual handle length 0.5523, from memory)."""
    k = 0.5522847498 * radius
    r = radius
    points = [(r, 0), (r, k), (k, r), (0, r), (-k, r), (-r, k), (-r, 0), (-r, -k), (-k, -r), (0, -r), (k, -r), (r, -k)]
    return Path(np.array([*points, points[0]], float), (3, 3, 3, 3))


def area(found):
    return found.area()


def region(rings):
    """Build the even-odd region."""
    total = shapely.Polygon()
    for ring in rings:
        total = total.symmetric_difference(shapely.Polygon(ring).buffer(0))
    return total


@pytest.mark.parametrize("by", [0.05, 0.3, 0.8])
@pytest.mark.parametrize(
    ("outline", "bare", "around"),
    [
        ((polygon((0, 0), (10, 0), (10, 4), (0, 4)),), 40.0, 28.0),
        ((polygon((0, 0), (8, 0), (0, 6)),), 24.0, 24.0),
        ((circle(1.0),), math.pi, math.pi * 2),
    ],
    ids=["rectangle", "triangle", "disc"],
)
def test_a_convex_area_grows_by_the_formula_of_steiner(outline, bare, around, by):
    """Steiner's formula for convex bodies: A + P d + pi d^2."""
    exact = bare + around * by + math.pi * by**2
    slip = (around + 2 * math.pi * by) * TOLERANCE + 5.4e-4 * bare  # within the tolerance all around
    assert area(offset_outline(outline, by, TOLERANCE)) == pytest.approx(exact, abs=slip)
    assert area(offset_outline(outline, by, TOLERANCE)) > bare + around * by * 0.9


def test_a_hole_grows_smaller_and_a_small_one_closes():
    square = polygon((0, 0), (10, 0), (10, 10), (0, 10))
    hole = polygon((3, 3), (3, 7), (7, 7), (7, 3))  # clockwise
    found = offset_outline((square, hole), 0.5, TOLERANCE)
    assert sorted(math.copysign(1, chain_area(chain)) for chain in found.chains) == [-1, 1]
    assert min(map(chain_area, found.chains)) == pytest.approx(
        -9.0, abs=12 * TOLERANCE
    )  # 3 x 3, its corners stay sharp
    assert len(offset_outline((square, hole), 2.1, TOLERANCE).chains) == 1


def test_two_areas_that_come_to_touch_are_one():
    left, right = polygon((0, 0), (4, 0), (4, 4), (0, 4)), polygon((5, 0), (9, 0), (9, 4), (5, 4))
    assert len(offset_outline((left, right), 0.4, TOLERANCE).chains) == 2
    assert len(offset_outline((left, right), 0.6, TOLERANCE).chains) == 1


@pytest.mark.parametrize("by", [0.0577, 0.25])
@pytest.mark.parametrize("letter", "aeoyBQ&8ß")
def test_offset_letters_match_geos_buffers(letter, by):
    """GEOS (LGPL) through shapely, 64 chords per quarter circle, of curves flattened ten times finer; compared both
    ways."""
    shape = builders.shape(letter)
    cap = 8.0
    outline = tuple(path.transform(cap / shape.cap_units, 0.0, 0.0, 0.0) for path in shape.outline)
    made = offset_outline(outline, by, TOLERANCE)
    chains = made.chains
    rings = flatten(outline, TOLERANCE / 10)
    assert all(shapely.Polygon(ring).is_valid for ring in rings)  # without overlaps, even-odd gives the letter
    exact = region(rings).buffer(by, quad_segs=64)
    found = region([flatten_chain(chain, TOLERANCE / 10) for chain in chains])
    assert area(made) == pytest.approx(exact.area, rel=2e-3)
    for one, other in ((found, exact), (exact, found)):
        points = shapely.points(shapely.get_coordinates(shapely.segmentize(one.boundary, 0.05)))
        shapely.prepare(other_side := other.boundary)
        farthest = shapely.distance(other_side, points).max()
        assert farthest < TOLERANCE * 1.25  # plus the share of the finer chords
        assert farthest < made.deviation + TOLERANCE * 0.25
    assert 0 < made.deviation < TOLERANCE
    assert all(chain.closed for chain in chains)
    assert sum(chain_area(chain) < 0 for chain in chains) == len(shapely.get_parts(exact)[0].interiors)


def test_the_deviation_is_that_of_the_chains():
    """A square whose offset outline is shifted, or left in place."""
    square = polygon((0, 0), (10, 0), (10, 10), (0, 10))
    made = offset_outline((square,), 0.3, TOLERANCE)
    aside = tuple(chain.transform(dx=0.05) for chain in made.chains)
    assert _measure_error((square,), 0.3, aside, TOLERANCE / 50) == pytest.approx(0.05, abs=TOLERANCE)
    bare = Chain(np.column_stack((square.points[:-1], np.zeros(4))))
    assert _measure_error((square,), 0.3, (bare,), TOLERANCE / 50) == pytest.approx(0.3, abs=TOLERANCE)


def test_a_ring_sampled_too_finely_becomes_as_few_pieces_as_its_shape_needs():
    """A slot with round ends: two sides and two half circles, each more than one arc can span."""
    slot = shapely.LineString([(0, 0), (20, 0)]).buffer(1.5, quad_segs=200)
    ring = shapely.get_coordinates(slot)[:-1]
    chain = build_chain_from_ring(ring, 0.008, 0.008 / 32)
    assert len(chain.vertices) <= 8
    there = shapely.LinearRing(flatten_chain(chain, 1e-4))
    assert there.hausdorff_distance(slot.exterior) <= 0.008
    assert shapely.hausdorff_distance(there, slot.exterior, densify=0.01) <= 0.0081
