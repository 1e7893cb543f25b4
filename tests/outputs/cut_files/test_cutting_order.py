"""The order of cutting for many plaques, read back from their files: letter by letter, inner before outer, started
away from corners, with less travel than in the plain order (lines as designed, contours and starts as in the font)."""

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely

from pipeline.geometry.contour_order import find_tangent_breaks
from pipeline.geometry.curves import Chain
from pipeline.geometry.flatten import flatten
from pipeline.outputs.cut_files.dxf.dxf_reader import read_drawing
from tests import builders
from tests.bench.orders import names
from tests.outputs.cut_files.test_cut_files import cut_files

pytestmark = pytest.mark.xdist_group("cutting order")  # the plaques are made once
FACES = ("NotoSans", "EBGaramond")
SHORTER = 0.85
"""The way between cuts is at most this part of the plain order's, over all plaques of a face."""


@pytest.fixture(scope="module", params=FACES)
def cut(request, tmp_path_factory):
    """Return forty plaques in a typeface, each with the contours of its lettering as read from its file."""
    files = cut_files(tmp_path_factory.mktemp(request.param), tolerance=0.03)
    out = []
    for row, name in enumerate(names(40), 5):
        first, _, last = name.partition(" ")
        rows = (first, last) if row % 2 else None
        plaque = builders.plaque(row, name, stem=request.param, rows=rows, post="Founder", season="2026")
        drawing = read_drawing(files.write_drawing(plaque, "front"))
        out.append((plaque, [c for c in drawing.curves if c.layer == "ENGRAVE"]))
    return out


def way(starts) -> float:
    """Return the travel between closed contours: from the start of each, which is also its end, to the start of the
    next."""
    return float(np.hypot(*np.diff(np.array(starts), axis=0).T).sum())


def test_travel_between_cuts_is_shorter_than_in_the_plain_order(cut):
    ours = plain = 0.0
    shorter = 0  # measured: 76 % and 81 %, on every plaque
    for plaque, curves in cut:
        here = way([c.points[0] for c in curves])
        there = way([path.points[0] for piece in plaque.artwork.list_pieces() for path in piece.build_outline()])
        ours, plain, shorter = ours + here, plain + there, shorter + (here < there)
    assert ours <= SHORTER * plain
    assert shorter >= 0.9 * len(cut)


def test_letters_are_cut_whole_and_inner_contours_first(cut):
    for plaque, curves in cut:
        homes = [
            (number, shapely.Polygon(flatten(path, 0.01)[0]))
            for number, piece in enumerate(plaque.artwork.list_pieces())
            for path in piece.build_outline()
        ]
        tree = shapely.STRtree([shape.exterior for _, shape in homes])
        found = [int(tree.nearest(shapely.Point(c.points[0]))) for c in curves]
        assert sorted(found) == list(range(len(homes)))  # every contour once
        letters = [homes[k][0] for k in found]
        assert len(set(letters)) == 1 + sum(a != b for a, b in pairwise(letters))
        for at, k in enumerate(found):
            number, shape = homes[k]
            for later in found[at + 1 :]:
                if homes[later][0] == number:
                    assert not shape.contains(homes[later][1]), plaque.text


def test_contours_start_away_from_corners(cut):
    for _, curves in cut:
        for curve in curves:
            turned = find_tangent_breaks(Chain(np.column_stack((curve.points, curve.bulges))))
            assert turned[0] <= math.radians(8) + 1e-6
