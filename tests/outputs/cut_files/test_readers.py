"""One file of every version and kind of curve, in both units, read by independent readers."""

import dataclasses
import math

import numpy as np
import pytest

from pipeline.core.model import Artwork
from pipeline.geometry.flatten import chain_area
from tests import builders
from tests.outputs.cut_files.test_cut_files import VERSIONS, artwork_area, artwork_box, cut_files
from tests.outputs.readers import by_ezdxf, by_gdal, by_npm, npm_packages

pytestmark = pytest.mark.xdist_group("readers of cut files")  # the files are written once
KINDS = [
    (version, curves, "mm" if (n + k) % 2 else "in")
    for n, version in enumerate(VERSIONS)
    for k, curves in enumerate(("arcs", "lines", "splines"))
    if (version, curves) != ("R12", "splines")
] + [("R2010", "arcs", "in"), ("R2010", "arcs", "mm")]
HOLE = 3.0


@pytest.fixture(scope="module")
def plaque():
    line = builders.set_line(1, ("Søg & Øre",), centre=64.0, baseline=50.0, cap_height=11.0, stem="NotoSans")
    return dataclasses.replace(builders.plaque(5, "Ada"), artwork=Artwork(lines=(line,)))


@pytest.fixture(scope="module")
def files(plaque, tmp_path_factory):
    """Return (kind, file) of each."""
    out = []
    blank = dataclasses.replace(builders.slanted_blank(), holes=(builders.circle(60, 160, HOLE),))
    for n, (version, curves, units) in enumerate(dict.fromkeys(KINDS)):
        place = tmp_path_factory.mktemp(f"{n}")
        made = cut_files(place, blank=blank, version=version, curves=curves, units=units, tolerance=0.005).make(plaque)
        assert not made.findings
        out.append(((version, curves, units), place / made.cut_file))
    return out


def check(kind, reading, plaque, off=0.006):
    """off: allowed deviation of the letters' bounding box from the artwork's, mm."""
    version, _, units = kind
    assert reading.unit in ("?", None if version == "R12" else units), kind
    assert reading.faults == 0
    engraved = reading.on("ENGRAVE")
    assert len(engraved) == sum(len(p.build_outline()) for p in plaque.artwork.list_pieces())
    assert len(reading.on("EDGE")) == 2
    assert len(reading.contours) == len(engraved) + 2 + 3  # pocket, zone, keep-out
    assert all(c.closed for c in reading.contours)
    assert reading.box() == pytest.approx((0, 0, 150, 180), abs=1e-4)
    letters = np.concatenate([c.points for c in engraved])
    assert (*letters.min(axis=0), *letters.max(axis=0)) == pytest.approx(artwork_box(plaque), abs=off)
    assert reading.area("ENGRAVE") == pytest.approx(artwork_area(plaque), rel=1e-3)
    edge = max(reading.on("EDGE"), key=lambda c: np.ptp(c.points))
    alone = dataclasses.replace(reading, contours=(edge,))
    assert alone.area("EDGE") == pytest.approx(chain_area(builders.slanted_blank().edge), rel=1e-5)


def test_ezdxf_agrees(files, plaque):
    for kind, file in files:
        check(kind, by_ezdxf(file, {"mm": 1.0, "in": 25.4}[kind[2]]), plaque)


def test_gdal_agrees(files, plaque):
    for kind, file in files:
        off = 0.02 if kind[1] == "splines" else 0.006  # its chords of a spline miss corners and extremes
        check(kind, by_gdal(file, {"mm": 1.0, "in": 25.4}[kind[2]]), plaque, off)


@pytest.fixture(scope="module")
def by_node(files, tmp_path_factory):
    folder = tmp_path_factory.mktemp("node")
    missing = npm_packages(folder)
    if missing:
        pytest.skip(missing)
    return by_npm(folder, [file for _, file in files], [{"mm": 1.0, "in": 25.4}[kind[2]] for kind, _ in files])


@pytest.mark.parametrize("reader", ["dxf-parser", "dxf"])
def test_readers_of_npm_agree(files, by_node, plaque, reader):
    for kind, file in files:
        check(kind, by_node[file][reader], plaque)


@pytest.mark.parametrize("reader", ["dxf-parser", "dxf"])
def test_inches_and_millimetres_measure_the_same(files, by_node, reader):
    pair = [by_node[file][reader] for kind, file in files if kind[:2] == ("R2010", "arcs")]
    assert {reading.unit for reading in pair} == {"mm", "in"}
    for ours, theirs in zip(pair[0].contours, pair[1].contours, strict=True):
        assert np.abs(ours.points - theirs.points).max() < 1e-5


@pytest.mark.parametrize("reader", ["dxf-parser", "dxf"])
def test_a_circle_of_two_bulges_has_its_published_area(files, by_node, reader):
    """Published DXF reference: bulge 1 is half a circle."""
    for kind, file in files:
        if kind[1] != "arcs":
            continue
        hole = min(by_node[file][reader].on("EDGE"), key=lambda c: np.ptp(c.points))
        radius = np.hypot(*(hole.points - (60, 160)).T)
        assert np.abs(radius - HOLE).max() < 2e-5
        assert math.isclose(np.ptp(hole.points[:, 1]), 2 * HOLE, abs_tol=1e-3)
