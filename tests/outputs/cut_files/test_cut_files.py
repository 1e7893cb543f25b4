"""The content of cut files in every version, unit and kind of curve, read by independent readers."""

import dataclasses
import itertools
import math

import ezdxf
import numpy as np
import pytest
import shapely
from ezdxf.lldxf.encoding import decode_dxf_unicode
from ezdxf.lldxf.tagger import ascii_tags_loader
from ezdxf.lldxf.tagwriter import TagCollector
from ezdxf.math import bulge_center, bulge_radius

from pipeline.core.config.order import CutterConfig, FilesConfig
from pipeline.core.config.shop_tables import EndMillConfig, PocketConfig
from pipeline.core.errors import CannotRun
from pipeline.core.model import Artwork, Blank, SetLine
from pipeline.core.storage.cache import Cache
from pipeline.core.storage.lru_cache import LruCache
from pipeline.cutting.cutters import load_cutter_shelf
from pipeline.cutting.simulated_cut import compare_cut, find_reachable, sweep
from pipeline.geometry.curves import Chain
from pipeline.geometry.flatten import chain_area, outline_area, outline_box
from pipeline.geometry.offset import OffsetOutline
from pipeline.geometry.regions import build_polygon_from_outline
from pipeline.outputs.cut_files.cut_files import CutFiles
from pipeline.outputs.cut_files.dxf.dxf_reader import read_drawing
from pipeline.outputs.cut_files.dxf.template import ACADVER
from tests import builders

pytestmark = pytest.mark.xdist_group("cut files")  # letters are fitted once, and each kind of file is read once
VERSIONS = ("R12", "R2000", "R2007", "R2010", "R2018")
KINDS = [
    kind
    for kind in itertools.product(VERSIONS, ("arcs", "lines", "splines"), ("mm", "in"))
    if kind[:2] != ("R12", "splines")  # R12 has no splines
]
DRAWN = {"LWPOLYLINE", "POLYLINE", "VERTEX", "SPLINE"}
LAYERS = {"EDGE", "ENGRAVE", "POCKET", "ZONE", "KEEP_OUT"}
FITTED = Cache(None)
"""Letters fitted by one test serve the others."""


def cut_files(tmp_path, *, blank: Blank | None = None, units="mm", **files) -> CutFiles:
    folder = builders.folder(files=FilesConfig(**files), units=units)
    return CutFiles(folder, blank or builders.slanted_blank(), tmp_path, "0.1.0", FITTED)


def with_back(plaque, text="Made by hand"):
    line = builders.set_line(4, (text,), centre=75.0, baseline=90.0, cap_height=3.0)
    line = dataclasses.replace(line, side="back")
    return dataclasses.replace(plaque, artwork=Artwork(lines=(*plaque.artwork.lines, line)))


@pytest.fixture(scope="module")
def ada():
    return builders.plaque(5, "Ada Kittiwake", stem="NotoSans")


def artwork_area(plaque, side="front") -> float:
    return abs(sum(outline_area(p.build_outline()) for p in plaque.artwork.list_pieces(side)))


def artwork_box(plaque):
    boxes = np.array([outline_box(p.build_outline()) for p in plaque.artwork.list_pieces()])
    return (*boxes[:, :2].min(axis=0), *boxes[:, 2:].max(axis=0))


# --- readers that are not ours ----------------------------------------------------------------------------------


@pytest.fixture(scope="module", params=KINDS, ids=lambda kind: "-".join(kind))
def each_kind(request, ada, tmp_path_factory):
    """A kind of file, a plaque lettered on both sides in such files, and each of them with what ezdxf (MIT) reads."""
    version, curves, units = request.param
    folder = tmp_path_factory.mktemp("kind")
    made = cut_files(folder, version=version, curves=curves, units=units).make(with_back(ada))
    files = (folder / made.cut_file, folder / made.back_file)
    return request.param, made, [(file, ezdxf.readfile(file)) for file in files]


def test_every_version_kind_and_unit_is_written_and_verified(each_kind):
    (version, curves, units), made, ((_, document), _) = each_kind
    assert not made.findings
    figures = dict(made.proved)
    assert figures["deviation"] <= 0.01
    audit = document.audit()
    assert not audit.errors
    assert not audit.fixes
    assert document.dxfversion == ACADVER[version]
    kinds = {entity.dxftype() for entity in document.modelspace()}
    allowed = {"POLYLINE"} if version == "R12" else {"LWPOLYLINE", "SPLINE"} if curves == "splines" else {"LWPOLYLINE"}
    assert kinds <= allowed
    assert {e.dxf.layer for e in document.modelspace()} == {"EDGE", "ENGRAVE", "POCKET", "ZONE", "KEEP_OUT"}
    if version != "R12":
        assert document.header["$INSUNITS"] == {"mm": 4, "in": 1}[units]  # published DXF reference
    assert not any(layer.dxf.name.startswith("0") for layer in document.layers if layer.dxf.name != "0")


def test_entities_are_those_ezdxf_would_have_written(each_kind):
    """Entity for entity, tag for tag, compared with ezdxf's own writer (MIT), which reads the file and writes it
    again."""
    (version, _, _), _, read = each_kind
    for file, document in read:
        with file.open(encoding="utf-8") as lines:
            ours = list(ascii_tags_loader(lines))
        start = next(k for k, tag in enumerate(ours) if tag == (2, "ENTITIES")) + 1
        end = next(k for k in range(start, len(ours)) if ours[k] == (0, "ENDSEC"))
        theirs = TagCollector(dxfversion=document.dxfversion)
        for entity in document.modelspace():
            entity.export_dxf(theirs)
        mine = [(tag.code, tag.value) for tag in ours[start:end]]
        again = [(tag.code, tag.value) for tag in theirs.tags]
        if version == "R12":  # here ezdxf numbers SEQEND and vertices in another order
            mine, again = ([t for t in tags if t[0] != 5] for tags in (mine, again))
        assert len(mine) == len(again)
        for (code, value), (their_code, theirs_value) in zip(mine, again, strict=True):
            assert code == their_code
            if 10 <= code < 60 or code in (210, 220, 230):
                assert float(value) == float(theirs_value)
            elif 60 <= code < 80 or code == 90:
                assert int(value) == int(theirs_value)
            else:
                assert str(value) == str(theirs_value)


def gdal(path):
    """Return (layer, geometry) of each feature as GDAL (MIT) reads it through pyogrio (MIT); it turns arcs into
    chords."""
    import pyogrio.raw

    about, _, geometry, fields = pyogrio.raw.read(path)
    return list(zip(fields[about["fields"].tolist().index("Layer")], shapely.from_wkb(geometry), strict=True))


def inside(features, layer):
    """Return the area inside a layer's closed curves without holes: even-odd, so as not to rely on directions."""
    rings = [shapely.Polygon(shapely.get_coordinates(shape)) for name, shape in features if name == layer]
    total = shapely.Polygon()
    for ring in rings:
        total = total.symmetric_difference(ring)
    return total


@pytest.mark.parametrize(("version", "curves", "units"), KINDS)
def test_gdal_reads_the_same_shapes_closed_and_of_the_same_size(tmp_path, ada, version, curves, units, monkeypatch):
    monkeypatch.setenv("OGR_ARC_STEPSIZE", "0.5")
    made = cut_files(tmp_path, version=version, curves=curves, units=units, tolerance=0.004).make(ada)
    features = gdal(tmp_path / made.cut_file)
    engraved = [shape for layer, shape in features if layer == "ENGRAVE"]
    assert len(engraved) == sum(len(p.build_outline()) for p in ada.artwork.list_pieces())
    for shape in engraved:
        assert shape.geom_type == "LineString"
        assert shapely.get_coordinates(shape)[0] == pytest.approx(shapely.get_coordinates(shape)[-1], abs=1e-6)
    one = {"mm": 1.0, "in": 25.4}[units]
    area = inside(features, "ENGRAVE").area * one**2
    if curves == "lines":  # chords cut off at most the tolerance
        length = sum(shape.length for shape in engraved) * one
        assert artwork_area(ada) - 0.004 * length <= area <= artwork_area(ada) + 0.004 * length
    else:
        assert area == pytest.approx(artwork_area(ada), rel=1e-3)
    found = np.array(shapely.total_bounds(engraved)) * one
    assert found == pytest.approx(artwork_box(ada), abs=0.01)
    edge = inside(features, "EDGE").area * one**2
    assert edge == pytest.approx(chain_area(builders.slanted_blank().edge), rel=1e-6)


def test_other_readers_read_an_arc_with_its_published_values(tmp_path, ada):
    """Published DXF reference: (0,0) to (10,0) with bulge tan 22.5°: centre (5,5), radius 7.0710678; bulge 1 twice is a
    circle; area beyond the chord r² (θ - sin θ) / 2."""
    bulge = math.tan(math.radians(22.5))
    assert bulge == pytest.approx(0.414213562, abs=1e-9)
    pocket = Chain(np.array([[0, 0, bulge], [10, 0, 0], [10, 20, 0], [0, 20, 0]], float))
    hole = builders.circle(60, 60, 3)
    blank = dataclasses.replace(builders.slanted_blank(), pockets=(pocket,), holes=(hole,))
    made = cut_files(tmp_path, blank=blank).make(ada)
    document = ezdxf.readfile(tmp_path / made.cut_file)
    (read,) = document.modelspace().query('LWPOLYLINE[layer=="POCKET"]')
    points = list(read.get_points("xyb"))
    assert points[0] == pytest.approx((0, 0, 0.414213562), abs=1e-9)
    assert tuple(bulge_center((0, 0), (10, 0), points[0][2])) == pytest.approx((5, 5), abs=1e-6)
    assert bulge_radius((0, 0), (10, 0), points[0][2]) == pytest.approx(7.0710678, abs=1e-6)
    edges = list(document.modelspace().query('LWPOLYLINE[layer=="EDGE"]'))
    assert [p[2] for p in edges[0].get_points("xyb")] == [1, 1]  # the hole comes before the edge around it
    read = next(c for c in read_drawing((tmp_path / made.cut_file).read_bytes()).curves if c.layer == "POCKET")
    area = chain_area(Chain(np.column_stack((read.points, read.bulges))))
    assert area == pytest.approx(200 + 50 * (math.pi / 2 - 1) / 2, abs=1e-6)


def test_an_inch_drawing_and_a_millimetre_drawing_are_the_same_part(tmp_path, ada):
    boxes = []
    for units in ("mm", "in"):
        made = cut_files(tmp_path / units, units=units).make(ada)
        features = gdal(tmp_path / units / made.cut_file)
        boxes.append(np.array(shapely.total_bounds([shape for _, shape in features])) * {"mm": 1, "in": 25.4}[units])
    assert boxes[0] == pytest.approx(boxes[1], abs=1e-5)
    assert boxes[0] == pytest.approx((0, 0, 150, 180), abs=1e-5)


# --- what is in a file -------------------------------------------------------------------------------------------


def test_bytes_depend_on_the_design_and_not_on_row_or_copies(tmp_path, ada):
    files = cut_files(tmp_path)
    other = dataclasses.replace(ada, recipient=builders.recipient(31, "Ada Kittiwake", copies=4, post="Warden"))
    assert files.write_drawing(ada, "front") == files.write_drawing(other, "front")
    assert files.list_names(ada) == files.list_names(other)


@pytest.mark.parametrize("version", VERSIONS)
def test_fingerprint_order_and_tool_are_in_the_file(tmp_path, ada, version):
    files = cut_files(tmp_path, version=version)
    order = dataclasses.replace(ada, text=("Márta Wąż 𝐀", *ada.text[1:]))
    made = files.make(order)
    data = (tmp_path / made.cut_file).read_bytes()
    read = read_drawing(data)
    said = " ".join(read.comments)
    assert ada.fingerprint in said
    assert files.code in said
    assert "plaques 0.1.0" in said
    assert "unit mm" in said
    modern = version in ("R2007", "R2010", "R2018")
    assert ("Márta Wąż 𝐀" if modern else "M\\U+00E1rta W\\U+0105\\U+017C \\U+D835\\U+DC00") in said
    assert data.isascii() != modern
    if not modern:  # the drawing library reads it unchanged, except beyond 16 bits
        assert "Márta Wąż" in decode_dxf_unicode(said)
    document = ezdxf.readfile(tmp_path / made.cut_file)
    if modern:
        assert document.header.custom_vars.get("Fingerprint") == ada.fingerprint
        assert document.header.custom_vars.get("Order") == files.code
        assert document.header.custom_vars.get("Client") == "Tidewrack Seabird Trust"
    assert made.cut_file.endswith("-mm.dxf") == (version == "R12")  # R12 can't state its unit


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("units", ["mm", "in"])
def test_the_drawing_opens_on_the_part(tmp_path, ada, version, units):
    made = cut_files(tmp_path, version=version, units=units, curves="lines").make(ada)
    document = ezdxf.readfile(tmp_path / made.cut_file)
    one = {"mm": 1.0, "in": 25.4}[units]
    assert tuple(document.header["$EXTMIN"]) == (0, 0, 0)
    assert tuple(document.header["$EXTMAX"]) == pytest.approx((150 / one, 180 / one, 0))
    (view,) = document.viewports.get("*Active")
    assert tuple(view.dxf.center)[:2] == pytest.approx((75 / one, 90 / one))
    assert view.dxf.height == pytest.approx(198 / one)
    # nothing is on layer 0, not even vertices of polylines
    layers = [
        tag.value for tag in ascii_tags_loader((tmp_path / made.cut_file).open(encoding="utf-8")) if tag.code == 8
    ]
    assert len(layers) > 40
    assert "0" not in layers[-40:]
    assert {e.dxf.layer for e in document.entitydb.values() if e.dxftype() in DRAWN} == LAYERS


def test_reference_does_not_plot(tmp_path, ada):
    made = cut_files(tmp_path).make(ada)
    document = ezdxf.readfile(tmp_path / made.cut_file)
    plots = {layer.dxf.name: layer.dxf.plot for layer in document.layers}
    assert (plots["ZONE"], plots["KEEP_OUT"]) == (0, 0)
    assert (plots["EDGE"], plots["ENGRAVE"], plots["POCKET"]) == (1, 1, 1)
    old = cut_files(tmp_path / "old", version="R12").make(ada)
    assert ezdxf.readfile(tmp_path / "old" / old.cut_file).layers.get("ZONE").is_off()


def test_layers_can_be_renamed(tmp_path, ada):
    made = cut_files(tmp_path, layers={"ENGRAVE": "V60 50%", "EDGE": "SAW"}).make(ada)
    assert not made.findings
    document = ezdxf.readfile(tmp_path / made.cut_file)
    assert {e.dxf.layer for e in document.modelspace()} == {"V60 50%", "SAW", "POCKET", "ZONE", "KEEP_OUT"}


def test_the_back_has_its_own_drawing_as_seen_from_the_back(tmp_path, ada):
    plaque = with_back(ada)
    made = cut_files(tmp_path).make(plaque)
    assert made.back_file == made.cut_file.replace(".dxf", "-back.dxf")
    front, back = (read_drawing((tmp_path / name).read_bytes()) for name in (made.cut_file, made.back_file))
    count = {side: len([c for c in read.curves if c.layer == "ENGRAVE"]) for side, read in (("f", front), ("b", back))}
    assert count["f"] == sum(len(p.build_outline()) for p in plaque.artwork.list_pieces("front"))
    assert count["b"] == sum(len(p.build_outline()) for p in plaque.artwork.list_pieces("back"))
    # a pocket of the front isn't visible from the back
    assert {c.layer for c in back.curves} == {"ENGRAVE", "EDGE", "ZONE"}
    edge = next(c for c in back.curves if c.layer == "EDGE")
    lean = 180 * math.tan(math.radians(10))
    corners = {tuple(np.round(p, 3)) for p in edge.points}
    assert corners == {(150, 0), (0, 0), (round(lean, 3), 180), (150, 180)}  # the slant is now on the left
    assert any("turned over sideways" in line for line in back.comments)
    letters = shapely.MultiPoint(np.concatenate([c.points for c in back.curves if c.layer == "ENGRAVE"]))
    m = plaque.artwork.list_pieces("back")[0].build_outline()[0]  # lettering is readable from behind
    assert letters.bounds[0] == pytest.approx(m.points[:, 0].min(), abs=0.05)


def test_without_lettering_on_the_back_there_is_no_second_drawing(tmp_path, ada):
    made = cut_files(tmp_path).make(ada)
    assert made.back_file == ""
    assert sorted(p.name for p in (tmp_path / "cut").iterdir()) == [made.cut_file[4:], "written.sha256"]


def test_grown_outlines_replace_the_letters(tmp_path, ada):
    """Inner contours first; the deviation from the artwork includes how far the grown outlines are from an exact
    offset."""
    first = ada.artwork.lines[0]
    rings = (builders.circle(0, 0, 150), builders.circle(0, 0, 50))
    grown = tuple(OffsetOutline(rings, 5.0, 0.3 / p.scale * 0.01) for p in first.rows[0].pieces)
    line = dataclasses.replace(first, grown=grown)
    plaque = dataclasses.replace(ada, artwork=Artwork(lines=(line, *ada.artwork.lines[1:])))
    for curves in ("arcs", "lines", "splines"):
        made = cut_files(tmp_path / curves, curves=curves).make(plaque)
        assert not made.findings
        assert dict(made.proved)["deviation"] >= 0.003
        read = read_drawing((tmp_path / curves / made.cut_file).read_bytes())
        plain = sum(len(p.build_outline()) for line in ada.artwork.lines[1:] for p in line.rows[0].pieces)
        engraved = [c.points for c in read.curves if c.layer == "ENGRAVE"]
        assert len(engraved) == plain + 24
        assert np.ptp(engraved[0][:, 0]) < np.ptp(engraved[1][:, 0])
    off = tuple(
        dataclasses.replace(g, deviation=0.011 / p.scale) for g, p in zip(grown, first.rows[0].pieces, strict=True)
    )
    far = dataclasses.replace(
        ada, artwork=Artwork(lines=(dataclasses.replace(first, grown=off), *ada.artwork.lines[1:]))
    )
    (finding,) = cut_files(tmp_path / "far").make(far).findings
    assert "lies 0.0110 mm from the artwork" in dict(finding.facts)["difference"]


@pytest.fixture(scope="module")
def v_cut(tmp_path_factory, ada):
    """Return the files of an order with grooves and a pocket for two cutters, and their folder."""
    place = tmp_path_factory.mktemp("grooves")
    pocket = PocketConfig(depth=6.0, rough=EndMillConfig(use="endmill-6"), fine=EndMillConfig(use="endmill-3"))
    folder = builders.folder(files=FilesConfig(grooves=True), pocket=pocket)
    return CutFiles(folder, builders.slanted_blank(), place, "0.1.0", FITTED), place


def test_the_file_has_the_grooves_as_the_bit_runs(v_cut, ada):
    """Read by ezdxf: on the axis of the letters, none cut twice, nothing left out, little travel."""
    files, place = v_cut
    made = files.make(with_back(ada))
    assert not made.findings
    document = ezdxf.readfile(place / made.cut_file)
    assert not document.audit().errors
    lines = document.modelspace().query('POLYLINE[layer=="GROOVE"]')
    assert all(line.is_3d_polyline for line in lines)
    grooves = [np.array([tuple(v.dxf.location) for v in line.vertices]) for line in lines]
    art = shapely.union_all([build_polygon_from_outline(p.build_outline(), 0.001) for p in ada.artwork.list_pieces()])
    bit = load_cutter_shelf()["vbit-60"]
    cut = compare_cut(art, sweep(grooves, bit), find_reachable(art, bit.tip / 2))
    assert max(cut.overcut, cut.undercut) < 0.01  # nothing is left out
    stretches = [frozenset(map(tuple, np.round(g[k : k + 2, :2], 4))) for g in grooves for k in range(len(g) - 1)]
    assert len(set(stretches)) == len(stretches)  # none is cut twice
    figures = dict(made.proved)
    assert figures["grooves"] == len(grooves)
    cutting = sum(np.linalg.norm(np.diff(g, axis=0), axis=1).sum() for g in grooves)
    assert figures["groove_length"] == pytest.approx(cutting, abs=0.01)
    assert figures["groove_air"] < 0.6 * cutting
    assert figures["back_grooves"] > 0
    assert files.render(with_back(ada)) == {
        name: (place / name).read_bytes() for name in (made.cut_file, made.back_file)
    }


def test_the_area_of_the_fine_cutter_has_its_own_layer(v_cut, ada):
    """A 6 mm cutter leaves (4 - π) 3² mm² in the corners of a pocket, a 3 mm cutter (4 - π) 1.5² of those, computed."""
    files, place = v_cut
    made = files.make(ada)
    rest = [shape for layer, shape in gdal(place / made.cut_file) if layer == "REST"]
    assert len(rest) == 4
    area = sum(shapely.Polygon(shapely.get_coordinates(shape)).area for shape in rest)
    assert area == pytest.approx((4 - math.pi) * (3**2 - 1.5**2), rel=0.01)
    arcs = [c for c in read_drawing((place / made.cut_file).read_bytes()).curves if c.layer == "REST"]
    assert max(len(c.points) for c in arcs) <= 8


@pytest.mark.parametrize("fault", ["moved", "twice", "gone"])
def test_a_wrong_groove_stops_the_plaque(v_cut, ada, fault, monkeypatch):
    files, place = v_cut
    plan = files.plan_file(ada, "front")
    if fault == "twice":
        monkeypatch.setattr(
            files, "plan_file", lambda *_: dataclasses.replace(plan, grooves=(*plan.grooves, plan.grooves[0]))
        )
        (finding,) = files.make(ada).findings
        assert "run twice at x" in dict(finding.facts)["difference"]
        return
    (name,) = files.write(ada)
    drawing = ezdxf.readfile(place / name)
    line = drawing.modelspace().query('POLYLINE[layer=="GROOVE"]')[3]
    if fault == "gone":
        drawing.modelspace().delete_entity(line)
    else:
        line.vertices[1].dxf.location += (0, 0, 0.002)
    drawing.saveas(place / name)
    (finding,) = files.prove(ada).findings
    assert {"moved": "out of place", "gone": "instead of"}[fault] in dict(finding.facts)["difference"]


@pytest.mark.parametrize("side", ["front", "back"])
def test_grooves_other_than_those_simulated_stop_the_plaque(v_cut, ada, side, monkeypatch):
    """2 µm deeper, in the plan and so in the file: what is read is what was intended, but not what was simulated."""
    files, _ = v_cut
    further = files._further
    right = further.plan

    def deeper(artwork, of_side):
        made = right(artwork, of_side)
        return dataclasses.replace(made, grooves=tuple(g - (0, 0, 0.002 * (of_side == side)) for g in made.grooves))

    monkeypatch.setattr(further, "plan", deeper)
    monkeypatch.setattr(files, "_plans", LruCache(4))
    (finding,) = files.make(with_back(ada)).findings
    assert "are not those that were swept" in dict(finding.facts)["difference"]


def test_grooves_of_a_cutter_that_cuts_none_are_refused(tmp_path):
    folder = builders.folder(files=FilesConfig(grooves=True), cutter=CutterConfig(use="endmill-3"))
    with pytest.raises(CannotRun, match="cuts no grooves"):
        CutFiles(folder, builders.slanted_blank(), tmp_path, "0.1.0")


def test_open_strokes_for_a_point_stay_open(tmp_path, ada):
    row = ada.artwork.lines[0].rows[0]
    pieces = []
    for piece in row.pieces:
        stroke = dataclasses.replace(piece.shape.outline[0], closed=False)
        shape = dataclasses.replace(piece.shape, key=f"{piece.shape.key}:stroke", outline=(stroke,), single_line=True)
        pieces.append(dataclasses.replace(piece, shape=shape))
    line: SetLine = dataclasses.replace(ada.artwork.lines[0], rows=(dataclasses.replace(row, pieces=tuple(pieces)),))
    plaque = dataclasses.replace(ada, artwork=Artwork(lines=(line,)))
    for curves in ("arcs", "lines", "splines"):
        made = cut_files(tmp_path / curves, curves=curves).make(plaque)
        assert not made.findings
        read = read_drawing((tmp_path / curves / made.cut_file).read_bytes())
        strokes = [c for c in read.curves if c.layer == "ENGRAVE"]
        assert len(strokes) == len(pieces)
        assert not any(c.closed for c in strokes)


def test_a_rotated_letter_is_where_it_should_be(tmp_path, ada):
    row = ada.artwork.lines[0].rows[0]
    turned = tuple(dataclasses.replace(p, turn=0.3 * k, y=p.y + k) for k, p in enumerate(row.pieces))
    line = dataclasses.replace(ada.artwork.lines[0], rows=(dataclasses.replace(row, pieces=turned),))
    plaque = dataclasses.replace(ada, artwork=Artwork(lines=(line,)))
    made = cut_files(tmp_path, curves="splines").make(plaque)
    shapes = [shape for layer, shape in gdal(tmp_path / made.cut_file) if layer == "ENGRAVE"]
    assert np.array(shapely.total_bounds(shapes)) == pytest.approx(artwork_box(plaque), abs=0.02)


# --- the read-back -------------------------------------------------------------------------------------------------

FAULTS = {
    "a vertex moved": lambda t: t.replace(b" 10\r\n5", b" 10\r\n6", 1),
    "a vertex moved by .02 mm": lambda t: _nudged(t),
    "a contour opened": lambda t: t.replace(b" 70\r\n1\r\n 10", b" 70\r\n0\r\n 10", 1),
    "an arc bent the other way": lambda t: t.replace(b" 42\r\n-0.", b" 42\r\n0.", 1),
    "an arc made a line": lambda t: _without(t, b" 42\r\n"),
    "a letter lost": lambda t: _without_entity(t),
    "another unit": lambda t: t.replace(b"$INSUNITS\r\n 70\r\n4", b"$INSUNITS\r\n 70\r\n1"),
    "an unknown unit": lambda t: t.replace(b"$INSUNITS\r\n 70\r\n4", b"$INSUNITS\r\n 70\r\n6"),
    "another version": lambda t: t.replace(b"AC1024", b"AC1032"),
    "another layer": lambda t: t.replace(b"  8\r\nENGRAVE\r\n", b"  8\r\nPOCKET\r\n", 1),
    "a layer that is not there": lambda t: t.replace(b"  8\r\nENGRAVE\r\n", b"  8\r\nWOOD\r\n", 1),
    "a text among the entities": lambda t: t.replace(b"  0\r\nLWPOLYLINE", b"  0\r\nTEXT\r\n  0\r\nLWPOLYLINE", 1),
    "a wrong count": lambda t: _put(t, b" 90\r\n", b"3"),
    "cut short": lambda t: t[: len(t) // 2],
    "cut short at a line": lambda t: t[: t.index(b"  0\r\nEOF")],
    "empty": lambda t: b"",
    "not a drawing": lambda t: b"\x89PNG" * 100,
    "a number that is none": lambda t: _put(t, b" 20\r\n", b"1,5"),
    "not a number": lambda t: _put(t, b" 20\r\n", b"nan"),
    "entities twice": lambda t: t[: _section(t)] + t[_section(t) : _after(t)] + t[_section(t) :],
    "something between the sections": lambda t: t[: _section(t)] + b"  0\r\nLINE\r\n" + t[_section(t) :],
    "a code that is none in the tables": lambda t: t.replace(b"\r\n  2\r\nENGRAVE", b"\r\n  b\r\nENGRAVE", 1),
}


def _entities(text):
    return text.index(b"ENTITIES")


def _section(text):
    return text.rindex(b"  0\r\nSECTION", 0, _entities(text))


def _after(text):
    return text.index(b"ENDSEC\r\n", _entities(text)) + len(b"ENDSEC\r\n")


def _put(text, tag, number):
    at = text.index(tag, _entities(text)) + len(tag)
    return text[:at] + number + text[text.index(b"\r", at) :]


def _nudged(text):
    at = text.index(b" 10\r\n", _entities(text)) + 5
    end = text.index(b"\r", at)
    return text[:at] + f"{float(text[at:end]) + 0.02:.5f}".encode() + text[end:]


def _without(text, tag):
    at = text.index(tag, _entities(text))
    return text[:at] + text[text.index(b"\n", at + len(tag)) + 1 :]


def _without_entity(text):
    at = text.index(b"  0\r\nLWPOLYLINE", _entities(text))
    return text[:at] + text[text.index(b"  0\r\n", at + 5) :]


@pytest.mark.parametrize("fault", FAULTS)
def test_a_file_that_differs_from_the_artwork_stops_the_plaque(tmp_path, ada, fault):
    files = cut_files(tmp_path)
    (name,) = files.write(ada)
    assert not files.prove(ada).findings
    good = (tmp_path / name).read_bytes()
    bad = FAULTS[fault](good)
    assert bad != good
    (tmp_path / name).write_bytes(bad)
    (finding,) = files.prove(ada).findings
    assert finding.code == "file.read-back-differs"
    assert finding.severity == "stop"
    assert not (tmp_path / name).exists()


def test_a_plaque_whose_file_differs_has_no_file(tmp_path, ada, monkeypatch):
    files = cut_files(tmp_path)
    write = files.write

    def spoilt(plaque):
        names = write(plaque)
        path = tmp_path / names[-1]
        path.write_bytes(path.read_bytes().replace(b"LWPOLYLINE", b"LINE", 1))
        return names

    monkeypatch.setattr(files, "write", spoilt)
    stopped = files.make(with_back(ada))
    assert stopped.state == "stopped"
    assert (stopped.cut_file, stopped.back_file, stopped.fingerprint) == ("", "", "")
    assert stopped.findings[-1].row == 5
    assert list((tmp_path / "cut").glob("*.dxf")) == []


def test_a_file_that_disappeared_is_reported(tmp_path, ada):
    files = cut_files(tmp_path)
    (name,) = files.write(ada)
    (tmp_path / name).unlink()
    assert files.prove(ada).findings[0].code == "file.read-back-differs"


def test_the_results_state_what_was_measured(tmp_path, ada):
    made = cut_files(tmp_path).make(ada)
    figures = dict(made.proved)
    read = read_drawing((tmp_path / made.cut_file).read_bytes())
    engraved = [c for c in read.curves if c.layer == "ENGRAVE"]
    assert figures["vertices"] == sum(len(c.points) for c in engraved)
    assert figures["contours"] == len(engraved)
    assert figures["bytes"] == (tmp_path / made.cut_file).stat().st_size
    assert figures["area"] == pytest.approx(artwork_area(ada), rel=1e-3)
    assert 0.003 < figures["deviation"] <= 0.01
