"""Artwork drawn in DXF: its closed contours as areas, arcs kept, what can't be cut reported with its place."""

import math

import ezdxf
import pyogrio
import pytest
import shapely

from pipeline.artwork.artwork_file import read_artwork
from pipeline.artwork.dxf_curves import build_path_from_chain, read_dxf_artwork
from pipeline.core.errors import CannotRun
from pipeline.geometry.basic_shapes import build_disc
from pipeline.geometry.flatten import flatten, outline_area, outline_box


def drawn(tmp_path, draw, unit=4):
    document = ezdxf.new()
    document.header["$INSUNITS"] = unit
    draw(document.modelspace())
    file = tmp_path / "crest.dxf"
    document.saveas(file)
    return file


def read(file, layers=None, as_lines=False):
    return read_artwork(file, layers, as_lines=as_lines)


def test_nested_contours_are_alternately_holes(tmp_path):
    file = drawn(tmp_path, lambda m: [m.add_circle((50, 50), r) for r in (30, 20, 10)])
    assert outline_area(read(file).outline) == pytest.approx(math.pi * (900 - 400 + 100), rel=1e-5)


def test_crossing_contours_are_united(tmp_path):
    def draw(m):
        m.add_lwpolyline([(0, 0), (20, 0), (20, 10), (0, 10)], close=True)
        m.add_lwpolyline([(10, 5), (30, 5), (30, 15), (10, 15)], close=True)

    assert outline_area(read(drawn(tmp_path, draw)).outline) == pytest.approx(350, rel=1e-5)


def test_a_contour_drawn_twice_is_one(tmp_path):
    file = drawn(tmp_path, lambda m: [m.add_circle((50, 50), 30) for _ in range(2)])
    assert outline_area(read(file).outline) == pytest.approx(math.pi * 900, rel=1e-5)


def test_lines_and_arcs_that_meet_are_a_contour_and_stay_curves(tmp_path):
    def draw(m):
        m.add_line((0, 0), (40, 0))
        m.add_line((0, 0), (0, 10))
        m.add_line((40, 0), (40, 10))
        m.add_arc((20, 10), 20, 0, 180)

    found = read(drawn(tmp_path, draw)).outline
    assert outline_area(found) == pytest.approx(400 + math.pi * 200, rel=1e-5)
    assert len(found[0].degrees) < 12


def test_open_lines_are_left_out_and_reported_or_stop_where_their_layer_is_named(tmp_path):
    def draw(m):
        m.add_circle((10, 10), 5, dxfattribs={"layer": "CREST"})
        m.add_line((30, 30), (40, 40), dxfattribs={"layer": "CREST"})

    file = drawn(tmp_path, draw)
    assert [r.reason for r in read(file).remarks] == ["changed"]
    named = read(file, ["crest"]).remarks
    assert [r.reason for r in named] == ["cannot"]
    assert "x 30, y 30" in named[0].place


def test_text_stops_with_its_place(tmp_path):
    def draw(m):
        m.add_circle((10, 10), 5)
        m.add_text("Rowing Club", dxfattribs={"insert": (12, 34)})

    (remark,) = read(drawn(tmp_path, draw)).remarks
    assert (remark.reason, "x 12, y 34" in remark.place) == ("cannot", True)


def test_only_the_layers_that_are_named_count(tmp_path):
    def draw(m):
        m.add_circle((10, 10), 5, dxfattribs={"layer": "CREST"})
        m.add_circle((10, 10), 50, dxfattribs={"layer": "EDGE"})

    file = drawn(tmp_path, draw)
    assert outline_area(read(file, ["CREST"]).outline) == pytest.approx(math.pi * 25, rel=1e-5)
    with pytest.raises(CannotRun, match="BADGE"):
        read(file, ["BADGE"])


@pytest.mark.parametrize(("unit", "mm", "size"), [(4, 1.0, 10.0), (1, 1.0, 254.0), (0, None, 10.0)])
def test_its_unit_is_known_or_reported_as_unknown(tmp_path, unit, mm, size):
    found = read(drawn(tmp_path, lambda m: m.add_circle((0, 0), 5), unit))
    x0, _, x1, _ = outline_box(found.outline)
    assert (found.mm, x1 - x0) == (mm, pytest.approx(size))


def test_as_lines_open_ones_count_too(tmp_path):
    def draw(m):
        m.add_line((0, 0), (10, 0))
        m.add_circle((0, 0), 5)
        m.add_open_spline([(0, 0), (5, 5), (10, 0), (15, 5)])

    assert sorted(p.closed for p in read(drawn(tmp_path, draw), as_lines=True).outline) == [False, False, True]


def test_gdal_finds_the_same_area(tmp_path):
    """GDAL's reader on the same file: hatches and closed polylines as polygons."""

    def draw(m):
        hatch = m.add_hatch()
        hatch.paths.add_polyline_path([(0, 0, 0.3), (30, 0, 0), (30, 20, -0.2), (0, 20, 0)], is_closed=True)

    file = drawn(tmp_path, draw)
    shapes = pyogrio.raw.read(file)[2]
    other = sum(shapely.from_wkb(s).area for s in shapes)
    assert outline_area(read(file).outline) == pytest.approx(other, rel=0.001)


def test_an_arc_as_bezier_curves_is_off_by_less_than_five_millionths():
    path = build_path_from_chain(build_disc(200.0))
    radius = [math.hypot(x - 100, y - 100) for x, y in flatten(path, 1e-4)[0]]
    assert max(abs(r - 100) for r in radius) < 100 * 5e-6


def square(m, **to):
    for a, b in (((0, 0), (10, 0)), ((10, 0), (10, 10)), ((10, 10), (0, 10)), ((0, 10), (0, 0))):
        m.add_line(a, b, **to)


@pytest.mark.parametrize(
    "more",
    [
        lambda m: m.add_line((0, 0), (10, 10)),
        lambda m: m.add_line((10, 10), (20, 20)),
        lambda m: (m.add_line((10, 10), (20, 20)), m.add_line((20, 20), (30, 20))),
    ],
    ids=["a diagonal", "a tail", "a long tail"],
)
def test_a_contour_with_another_line_at_a_corner_stops_and_never_vanishes(tmp_path, more):
    found = read(drawn(tmp_path, lambda m: (m.add_circle((50, 50), 5), square(m), more(m))))
    (remark,) = found.remarks
    assert remark.reason == "cannot" and remark.words.startswith("lines that meet in more than two directions")
    assert "x 0, y 0" in remark.place or "x 10, y 10" in remark.place


def test_lines_that_enclose_an_area_by_crossing_stop(tmp_path):
    """Four lines that cross before their ends, and a bow tie."""

    def draw(m):
        for k in (0, 10):
            m.add_line((k, -2), (k, 12))
            m.add_line((-2, k), (12, k))

    assert {r.reason for r in read(drawn(tmp_path, draw)).remarks} == {"cannot"}
    corners = [(0, 0), (10, 10), (10, 0), (0, 10)]
    bow = drawn(tmp_path, lambda m: [m.add_line(a, b) for a, b in zip(corners, corners[1:] + corners[:1], strict=True)])
    assert [r.reason for r in read(bow).remarks] == ["cannot"]


def test_what_branches_and_encloses_nothing_is_left_out(tmp_path):
    def draw(m):
        m.add_lwpolyline([(0, 0), (20, 0), (20, 20), (0, 20)], close=True)
        m.add_line((0, 0), (20, 20))
        for end in ((40, 0), (50, 0), (45, 9)):
            m.add_line((45, 5), end)

    found = read(drawn(tmp_path, draw))
    assert [r.reason for r in found.remarks] == ["changed"] and "2 open lines left out, which enclose" in found.remarks[
        0
    ].words
    assert outline_area(found.outline) == pytest.approx(400)


def test_the_number_of_remarks_is_limited(tmp_path):
    def draw(m):
        for n in range(9):
            m.add_text("Ida", dxfattribs={"insert": (n, 0), "layer": f"L{n}"})

    told = read(drawn(tmp_path, draw)).remarks
    assert len(told) == 6 and told[-1].words == "and 4 more things"


def test_the_bytes_that_were_hashed_are_those_that_are_read(tmp_path):
    """A file that is saved again between hashing and reading."""
    file = drawn(tmp_path, lambda m: m.add_circle((0, 0), 5))
    data = file.read_bytes()
    drawn(tmp_path, lambda m: m.add_circle((0, 0), 9))
    assert outline_area(read_dxf_artwork(file, data, None, False).outline) == pytest.approx(math.pi * 25, rel=1e-5)
