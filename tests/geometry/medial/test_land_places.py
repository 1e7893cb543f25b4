"""Places found with an outline that is fine only near them, compared with the outline flattened finely everywhere."""

import math

import numpy as np
import pytest
import shapely

from pipeline.geometry.medial.land_width import find_land_places
from pipeline.geometry.medial.medial_axis import compute_medial_axis, find_outer_axes
from pipeline.geometry.medial.narrow_places import FIRST_TOLERANCE, SECOND_TOLERANCE, find_narrow_places
from pipeline.geometry.medial.stroke_width import SPECK
from pipeline.geometry.regions import build_polygon_from_outline
from pipeline.lettering.font_face import open_face
from pipeline.lettering.shaping import shape_row
from tests.geometry.shapes import candidates, ellipse, rectangle, ring

EM, CAP = 1000.0, 700.0
FACES = ("eb-garamond", "noto-sans", "cinzel", "great-vibes", "bodoni-moda")
LETTERS = "aegkswRS&8"


def letter(name, character):
    (placed,) = shape_row([open_face(name)], character).shapes
    return placed.shape


def everywhere(outlines, cap, em, width):
    """Return stroke candidates and lands, with the outlines flattened everywhere as finely as a place of this width
    needs."""
    tolerance = min(em * FIRST_TOLERANCE, width * SECOND_TOLERANCE)
    region = shapely.union_all([build_polygon_from_outline(outline, tolerance) for outline in outlines])
    _, free = find_outer_axes(region, cap, (cap * SPECK) ** 2)
    return candidates(region, cap), find_land_places(free, cap)


@pytest.mark.parametrize(("number", "name"), list(enumerate(FACES)))
def test_narrowest_places_are_those_of_an_outline_fine_everywhere(number, name):
    """The stroke is within 0.2 % where a branch's reach decides, and usually much closer. Outlines beside strokes are
    flattened finer than the land needs, so that the land is even more accurate."""
    nearly = []
    for character in LETTERS[number % 2 :: 2]:
        shape = letter(name, character)
        cap, em = shape.cap_units, shape.units_per_em
        found = find_narrow_places([shape.outline], cap, em)
        stroke, land = found.strokes.find_narrowest(), found.find_narrowest_land()
        strokes, lands = everywhere([shape.outline], cap, em, stroke.width)
        assert stroke.width == pytest.approx(strokes.find_narrowest().width, rel=2e-3)
        assert stroke.kind == strokes.find_narrowest().kind
        nearly.append(stroke.width == pytest.approx(strokes.find_narrowest().width, rel=5e-4))
        pieces = strokes.width[strokes.kind == 0]
        assert found.find_widest().width == pytest.approx(pieces.max(), rel=4e-3)
        least = min(lands, key=lambda p: p.width, default=None)
        assert (land is None) == (least is None)
        assert land is None or land.width == pytest.approx(least.width, rel=4e-3)
    assert sum(nearly) >= len(nearly) - 1


@pytest.mark.parametrize("name", FACES)
def test_every_place_is_as_wide_as_its_distance_from_the_curves_says(name):
    """Distances measured by GEOS from the outline flattened to 1/50,000 em, every candidate and land within 0.5 %."""
    for character in "agmR8":
        shape = letter(name, character)
        found = find_narrow_places([shape.outline], shape.cap_units, shape.units_per_em, every=True)
        edge = shapely.boundary(build_polygon_from_outline(shape.outline, shape.units_per_em / 50_000))
        shapely.prepare(edge)
        lands = np.array([(p.x, p.y, p.width) for p in found.lands]).reshape(-1, 3)
        at, width = np.vstack((found.strokes.at, lands[:, :2])), np.append(found.strokes.width, lands[:, 2])
        assert len(width) > 10
        assert 2 * shapely.distance(shapely.points(at), edge) == pytest.approx(width, rel=5e-3)


@pytest.mark.parametrize("pair", ["an", "nn", "sw", "ai", "gh", "le", "ti"])
def test_two_letters_measured_within_a_zone_have_the_places_of_the_whole(pair):
    word = letter("great-vibes", pair)
    cap, em = word.cap_units, word.units_per_em
    outlines = [
        tuple(path.transform(g.scale, g.dx, g.dy) for path in part.outline)
        for part, g in zip(word.parts, word.glyphs, strict=True)
    ]
    common = shapely.intersection(*(build_polygon_from_outline(outline, em / 10_000) for outline in outlines))
    zone = shapely.buffer(common, 0.12 * cap)
    found = find_narrow_places(outlines, cap, em, within=zone)
    whole, lands = everywhere(outlines, cap, em, found.strokes.find_narrowest().width)
    mine, fine = (c.find_narrowest(shapely.contains_xy(zone, *c.at.T)) for c in (found.strokes, whole))
    assert mine.width == pytest.approx(fine.width, rel=2e-3)
    assert mine.kind == fine.kind
    assert math.dist((mine.x, mine.y), (fine.x, fine.y)) < fine.width
    for some, others in ((found.lands, lands), (lands, found.lands)):
        for land in some:
            assert any(other.width == pytest.approx(land.width, rel=4e-3) for other in others)
    assert found.find_widest().width == pytest.approx(whole.width[whole.kind == 0].max(), rel=4e-3)


@pytest.mark.parametrize("character", "agB8&%i")
def test_one_diagram_has_the_axes_of_both_sides(character):
    shape = letter("noto-sans", character)
    cap = shape.cap_units
    region = build_polygon_from_outline(shape.outline, shape.units_per_em / 2500)
    x0, y0, x1, y1 = region.bounds
    frame = shapely.box(x0 - cap, y0 - cap, x1 + cap, y1 + cap)
    for axis, alone in zip(find_outer_axes(region, cap), (region, frame - region), strict=True):
        other = compute_medial_axis(alone)
        assert (len(axis.points), len(axis.ends)) == (len(other.points), len(other.ends))
        assert axis.length.sum() == pytest.approx(other.length.sum(), rel=1e-6)
        nodes, others = (np.column_stack((a.points, a.radius)) for a in (axis, other))
        near = np.abs(nodes[:, None] - others[None]).max(axis=2).min(axis=1)
        assert near.max() < 1e-3


def test_tiny_holes_and_specks_count_as_neither_land_nor_shape():
    """A tiny hole is filled, a speck beside the shape is ignored, discs that touch in a point leave no land."""
    holed = (rectangle(0, 0, 400, 400), ring([(200, 200), (200.5, 201), (201, 200)]))
    assert find_narrow_places([holed], CAP, EM).lands == ()
    beside = (rectangle(0, 0, 400, 60), rectangle(900, 0, 900.5, 0.5))
    found = find_narrow_places([beside], CAP, EM)
    assert found.lands == ()
    assert found.strokes.find_narrowest().width == pytest.approx(60)
    touching = (ellipse(100, 100), ellipse(100, 100).transform(dx=200))
    assert all(p.width > 1 for p in find_narrow_places([touching], CAP, EM).lands)
    cleft = ring([(0, 0), (300, 0), (300, 199.99), (150, 199.99), (100, 195), (100, 205), (150, 200.01), (300, 200.01),
                  (300, 400), (0, 400)])  # fmt: skip
    assert all(
        p.width > 50 for p in find_narrow_places([(cleft,)], CAP, EM).lands
    )  # its opening is narrower than a contact
    assert find_narrow_places([()], CAP, EM).strokes.find_narrowest() is None
    assert find_narrow_places([()], CAP, EM).lands == ()
    assert find_narrow_places([()], CAP, EM).find_widest() is None
