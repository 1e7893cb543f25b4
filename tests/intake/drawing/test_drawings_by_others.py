"""Drawings made by others (see tests/reference/drawings/PROVENANCE.md): read, or refused with a reason.

Where a layer can be read as a blank, its size and area are compared with GDAL's DXF reader, which is independent of
ours. GDAL turns curves into short chords, so curves have a tolerance.
"""

import sys
import zipfile
from pathlib import Path

import numpy as np
import pytest
import shapely

sys.path.insert(0, str(Path(__file__).parents[1]))
from drawings import read_file, words

from pipeline.core.errors import CannotRun
from pipeline.geometry.flatten import flatten_chain
from pipeline.intake.drawing.dxf_file import read_drawing

pyogrio = pytest.importorskip("pyogrio.raw", reason="the judge of this test")

ARCHIVE = Path(__file__).resolve().parents[2] / "reference" / "drawings" / "others.zip"
with zipfile.ZipFile(ARCHIVE) as _archive:
    FILES = sorted(n for n in _archive.namelist() if n.lower().endswith(".dxf"))

# What a person sees in the drawing: file, layer, width, height, holes inside the edge.
SEEN = [
    ("dxf/closedlwpolylinebug.dxf", "0", 20, 30, 0),
    ("dxf/hatches.dxf", "0", 100, 100, 0),
    ("dxf/layers.dxf", "0", 100, 100, 0),
    ("dxf/layers.dxf", "dashedred", 80, 80, 0),
    ("dxf/layers.dxf", "solidblue1mm", 60, 60, 0),
    ("dxf/polylines.dxf", "DXF", 300, 300, 1),
    ("ezdxf/empty_handles.dxf", "GEOMETRY-CUTTING", 165, 340, 0),
]


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    out = tmp_path_factory.mktemp("others")
    with zipfile.ZipFile(ARCHIVE) as archive:
        archive.extractall(out)
    return out


def layers_with_contours(path):
    """Return layer names, and the unit to read with when the drawing has none."""
    data = path.read_bytes()
    for unit in (None, "mm"):
        try:
            drawn = read_drawing(path, data, ["0"], unit, 0.001, unit_key="order.toml, [blank]")
        except CannotRun as reason:
            if "does not say its unit" in str(reason):
                continue
            raise
        return [name for name, n in drawn.layers.items() if n], unit
    raise AssertionError("a unit was given and still asked for")


def read(path, layer, unit):
    more = {} if unit is None else {"drawing_units": unit}
    return read_file(path, layers={"edge": layer, "zone": layer}, margin=0.0, **more)


@pytest.mark.parametrize("name", FILES)
def test_read_or_refused_with_a_reason(name, folder):
    path = folder / name
    before = path.read_bytes()
    try:
        layers, unit = layers_with_contours(path)
    except CannotRun as reason:
        assert path.name in str(reason)
        return
    for layer in layers:
        try:
            blank, findings = read(path, layer, unit)
        except CannotRun as reason:
            assert all(fault.found and path.name in fault.where for fault in reason.faults)
        else:
            assert blank.width > 0
            assert words(findings) is not None  # every message can be rendered
    assert path.read_bytes() == before


@pytest.mark.parametrize(("name", "layer", "width", "height", "holes"), SEEN)
def test_the_size_a_person_sees_and_gdal_finds(name, layer, width, height, holes, folder):
    path = folder / name
    blank, _ = read(path, layer, layers_with_contours(path)[1])
    assert (blank.width, blank.height, len(blank.holes)) == (pytest.approx(width), pytest.approx(height), holes)
    meta, _, shapes, fields = pyogrio.read(path, columns=["Layer"])
    on = [shapely.from_wkb(s) for s, own in zip(shapes, fields[0], strict=True) if own == layer and s is not None]
    assert on, meta
    box = shapely.total_bounds(np.array(on))
    assert (box[2] - box[0], box[3] - box[1]) == (pytest.approx(width, abs=0.1), pytest.approx(height, abs=0.1))
    enclosed = [shapely.Polygon(p.exterior).area for p in shapely.polygonize(list(shapely.force_2d(on))).geoms]
    if enclosed:
        ours = shapely.Polygon(flatten_chain(blank.edge, 0.001)).area
        assert ours == pytest.approx(max(enclosed), rel=1e-3)
