"""The seabird trust's drawing: created by its script, with a pocket that a cutter can reach into."""

import math
import shutil
from pathlib import Path

import pytest
import shapely

from pipeline.geometry.flatten import chain_area, flatten_chain
from pipeline.intake.drawing.blank_drawing import read_blank
from pipeline.intake.order.order_file import read_order
from tests.load_script import load_script

ROOT = Path(__file__).resolve().parents[2]
SAMPLE = ROOT / "sample_orders" / "seabird-trust"


@pytest.fixture(scope="module")
def blank(tmp_path_factory):
    folder = tmp_path_factory.mktemp("seabird")
    for name in ("order.toml", "plaque.dxf"):
        shutil.copy(SAMPLE / name, folder)
    (folder / "recipients.xlsx").touch()  # only the drawing matters here
    blank, findings = read_blank(read_order(folder))
    assert [f.code for f in findings] == ["drawing.ignored"]
    return blank


def tags(file):
    """Return group code and value of every line pair of a DXF file: numbers as numbers, handles and everything else
    as text."""
    lines = file.read_text(encoding="utf-8").splitlines()
    codes = [int(code) for code in lines[::2]]
    return [(c, float(v) if 10 <= c < 60 else v) for c, v in zip(codes, lines[1::2], strict=True)]


def test_the_drawing_is_what_its_script_draws(tmp_path):
    """To a millionth of a millimetre: sines and products differ in their last digits from one processor to another."""
    made = tmp_path / "plaque.dxf"
    load_script("make_samples/seabird_plaque.py").draw().saveas(made)
    ours, kept = tags(made), tags(SAMPLE / "plaque.dxf")
    assert [(c, v) for c, v in ours if isinstance(v, str)] == [(c, v) for c, v in kept if isinstance(v, str)]
    assert [c for c, _ in ours] == [c for c, _ in kept]
    numbers = [[v for _, v in file if isinstance(v, float)] for file in (ours, kept)]
    assert numbers[0] == pytest.approx(numbers[1], abs=1e-6, rel=0)


def test_the_blank_has_one_slanted_side(blank):
    assert (blank.width, blank.height) == pytest.approx((150, 180))
    assert len(blank.edge.vertices) == 4
    top = 150 - 180 * math.tan(math.radians(10))
    assert chain_area(blank.edge) == pytest.approx((150 + top) / 2 * 180)


def test_the_pocket_is_the_feather_of_the_script(blank):
    (pocket,) = blank.pockets
    drawn = load_script("make_samples/seabird_plaque.py").feather()
    assert chain_area(pocket) == pytest.approx(drawn.area, abs=0.005 * drawn.length)
    x0, y0, x1, y1 = drawn.bounds
    assert (x1 - x0, y1 - y0) == pytest.approx((77, 27), abs=1.5)


def test_a_3_mm_cutter_reaches_all_of_the_feather(blank):
    """Opening by the cutter's radius loses almost nothing: no inside corner is tighter than 1.5."""
    pocket = shapely.Polygon(flatten_chain(blank.pockets[0], 0.002))
    reached = pocket.buffer(-1.5, quad_segs=64).buffer(1.5, quad_segs=64)
    assert pocket.difference(reached.buffer(0.01)).area < 0.01
    assert pocket.buffer(-1.5).geom_type == "Polygon"  # in one sweep, including the quill


def test_the_parts_of_the_drawing_do_not_overlap(blank):
    edge = shapely.Polygon(flatten_chain(blank.edge, 0.01))
    zone = shapely.Polygon(flatten_chain(blank.get_zone("LETTERING"), 0.01))
    pocket = shapely.Polygon(flatten_chain(blank.pockets[0], 0.01))
    assert edge.exterior.distance(pocket) > 8
    assert zone.distance(pocket) > 8
    assert edge.buffer(-8).contains(zone)
