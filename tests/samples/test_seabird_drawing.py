"""The seabird trust's drawing: made by its script, and a pocket a cutter can reach into."""

import importlib.util
import math
import shutil
from pathlib import Path

import pytest
import shapely

from pipeline.geometry.flatten import chain_area, flatten_chain
from pipeline.intake.drawing import read_blank
from pipeline.intake.order_file import read_order

ROOT = Path(__file__).resolve().parents[2]
SAMPLE = ROOT / "sample_orders" / "seabird-trust"


def script():
    spec = importlib.util.spec_from_file_location(
        "seabird_plaque", ROOT / "tests" / "make_samples" / "seabird_plaque.py"
    )
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def blank(tmp_path_factory):
    folder = tmp_path_factory.mktemp("seabird")
    for name in ("order.toml", "plaque.dxf"):
        shutil.copy(SAMPLE / name, folder)
    (folder / "recipients.xlsx").touch()  # the drawing is what is looked at here
    blank, findings = read_blank(read_order(folder))
    assert [f.code for f in findings] == ["drawing.ignored"]
    return blank


def test_the_drawing_is_what_its_script_draws(tmp_path):
    made = tmp_path / "plaque.dxf"
    script().draw().saveas(made)
    assert made.read_bytes() == (SAMPLE / "plaque.dxf").read_bytes()


def test_the_blank_has_one_slanted_side(blank):
    assert (blank.width, blank.height) == pytest.approx((150, 180))
    assert len(blank.edge.vertices) == 4
    top = 150 - 180 * math.tan(math.radians(10))
    assert chain_area(blank.edge) == pytest.approx((150 + top) / 2 * 180)


def test_the_feather_is_the_script_s_feather(blank):
    (pocket,) = blank.pockets
    drawn = script().feather()
    assert chain_area(pocket) == pytest.approx(drawn.area, abs=0.005 * drawn.length)
    x0, y0, x1, y1 = drawn.bounds
    assert (x1 - x0, y1 - y0) == pytest.approx((77, 27), abs=1.5)


def test_a_3_mm_cutter_reaches_all_of_the_feather(blank):
    """Opening by the cutter's radius loses next to nothing: no inside corner is tighter than 1.5."""
    pocket = shapely.Polygon(flatten_chain(blank.pockets[0], 0.002))
    reached = pocket.buffer(-1.5, quad_segs=64).buffer(1.5, quad_segs=64)
    assert pocket.difference(reached.buffer(0.01)).area < 0.01
    assert pocket.buffer(-1.5).geom_type == "Polygon"  # in one sweep, the quill included


def test_nothing_gets_in_the_way_of_anything(blank):
    edge = shapely.Polygon(flatten_chain(blank.edge, 0.01))
    zone = shapely.Polygon(flatten_chain(blank.zone("LETTERING"), 0.01))
    pocket = shapely.Polygon(flatten_chain(blank.pockets[0], 0.01))
    assert edge.exterior.distance(pocket) > 8
    assert zone.distance(pocket) > 8
    assert edge.buffer(-8).contains(zone)
