"""Registration marks: outside the edge, on the sheet, and at the same places of the board from either side."""

import dataclasses

import ezdxf
import numpy as np
import pytest
import shapely

from pipeline.core.config.order import FilesConfig, LineConfig, RegistrationConfig
from pipeline.core.errors import CannotRun
from pipeline.outputs.cut_files.cut_files import CutFiles
from pipeline.outputs.cut_files.dxf.dxf_reader import read_drawing
from pipeline.outputs.cut_files.registration_marks import place_marks
from tests import builders
from tests.outputs.cut_files.test_cut_files import FITTED, gdal, with_back

LINES = (
    LineConfig(text="{name}", face="noto-sans", cap_height=8.0),
    LineConfig(text="Made by hand", face="noto-sans", cap_height=3.0, side="back"),
)


def order(*at, lines=LINES, sheet=20.0, units="mm", files=None, **more):
    part = {"registration": RegistrationConfig(at=at, sheet=sheet, **more), **(files or {})}
    return builders.folder(files=FilesConfig(**part), line=lines, units=units)


@pytest.fixture(scope="module")
def plaque():
    return with_back(builders.plaque(5, "Ada", stem="NotoSans"))


@pytest.mark.parametrize("mark", ["cross", "hole"])
@pytest.mark.parametrize(("version", "units", "curves"), [("R2010", "mm", "arcs"), ("R12", "in", "lines")])
def test_marks_of_front_and_back_coincide_when_the_board_is_turned_over(tmp_path, plaque, mark, version, units, curves):
    """Read by GDAL; turned over about the vertical centre line, x becomes 150 − x."""
    places = [(-10.0, 30.0), (158.0, 150.0), (60.0, -9.0)]
    folder = order(*places, mark=mark, units=units, files={"version": version, "curves": curves})
    files = CutFiles(folder, builders.slanted_blank(), tmp_path, "0.1.0", FITTED)
    made = files.make(plaque)
    assert not made.findings
    one = {"mm": 1.0, "in": 25.4}[units]
    sides = [
        [
            shapely.transform(shapely.force_2d(s), lambda p: p * one)
            for layer, s in gdal(tmp_path / name)
            if layer == "REGISTRATION"
        ]
        for name in (made.cut_file, made.back_file)
    ]
    front, back = sides
    assert len(front) == len(back) == len(places) * (2 if mark == "cross" else 1)
    for ours, theirs in zip(front, back, strict=True):
        turned = shapely.transform(theirs, lambda p: np.column_stack((150 - p[:, 0], p[:, 1])))
        assert shapely.hausdorff_distance(ours, turned) < 0.02  # chords of a circle start elsewhere
        assert ours.length == pytest.approx(theirs.length, abs=1e-4)
    middles = [s.envelope.centroid for s in (front[::2] if mark == "cross" else front)]
    assert [(m.x, m.y) for m in middles] == [pytest.approx(place, abs=1e-3) for place in places]
    edge = next(s for layer, s in gdal(tmp_path / made.cut_file) if layer == "EDGE")
    piece = shapely.Polygon(shapely.get_coordinates(edge) * one)
    assert not any(piece.intersects(s) for s in front)
    for name in (made.cut_file, made.back_file):  # the view includes the marks
        read = (tmp_path / name).read_bytes()
        assert {c.layer for c in read_drawing(read).curves} > {"REGISTRATION", "EDGE", "ENGRAVE"}
        assert any("registration marks" in line for line in read_drawing(read).comments)


def test_the_drawing_opens_on_blank_and_marks(tmp_path, plaque):
    made = CutFiles(order((-10.0, 30.0), (60.0, -9.0)), builders.slanted_blank(), tmp_path, "0.1.0", FITTED).make(
        plaque
    )
    for name, box in ((made.cut_file, (-12, -11, 150, 180)), (made.back_file, (0, -11, 162, 180))):
        header = ezdxf.readfile(tmp_path / name).header
        assert (*header["$EXTMIN"][:2], *header["$EXTMAX"][:2]) == pytest.approx(box)


def test_flat_drawings_have_the_blanks_size_and_no_marks(tmp_path, plaque):
    folder = order((-10.0, 30.0), (60.0, -9.0), files={"also": ["svg", "pdf"]})
    made = CutFiles(folder, builders.slanted_blank(), tmp_path, "0.1.0", FITTED).make(plaque)
    assert not made.findings
    svg = (tmp_path / made.also_files[1]).read_text()
    assert 'width="150mm"' in svg
    assert "REGISTRATION" not in svg


@pytest.mark.parametrize(
    ("at", "told"),
    [
        (
            ((75.0, 90.0), (-10.0, 30.0)),
            "registration.at no. 1: it lies on the piece; expected a mark outside the edge",
        ),
        (((-10.0, 30.0), (-1.0, 60.0)), "registration.at no. 2: its middle is 1.00 mm from the edge"),
        (
            ((145.0, 179.0), (130.0, 120.0)),
            "registration.at no. 2: its middle is 1.14 mm",
        ),  # beside the slanted side, too close
        (((-10.0, 30.0), (60.0, -18.5)), "registration.at no. 2: it reaches 0.50 mm beyond the sheet"),
        (((-10.0, 30.0), (-10.0, 33.0)), "registration.at: marks no. 1 and 2 touch"),
    ],
)
def test_marks_in_the_wrong_place_are_refused(at, told):
    with pytest.raises(CannotRun) as refused:
        place_marks(order(*at), builders.slanted_blank())
    assert told in str(refused.value)


def test_a_mark_beside_a_slanted_side_is_outside_the_edge():
    assert len(place_marks(order((145.0, 170.0), (-10.0, 30.0)), builders.slanted_blank())) == 4


def test_marks_without_anything_to_turn_over_are_refused():
    with pytest.raises(CannotRun, match="no line is on the back"):
        place_marks(order((-10.0, 30.0), (60.0, -9.0), lines=LINES[:1]), builders.slanted_blank())


def test_without_the_key_there_are_none(tmp_path, plaque):
    folder = builders.folder(line=LINES)
    made = CutFiles(folder, builders.slanted_blank(), tmp_path, "0.1.0", FITTED).make(plaque)
    layers = {c.layer for c in read_drawing((tmp_path / made.cut_file).read_bytes()).curves}
    assert "REGISTRATION" not in layers
    assert dataclasses.asdict(made)["back_file"]
