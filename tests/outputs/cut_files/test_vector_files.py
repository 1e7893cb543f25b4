"""SVG and PDF files beside the DXF: the same curves, read by independent readers."""

import ctypes
import dataclasses
import io
import math
import re
from xml.etree import ElementTree

import numpy as np
import pikepdf
import pypdfium2
import pypdfium2.raw as pdfium
import pytest
import shapely
from svgpathtools import parse_path

from pipeline.core.config.order import FilesConfig
from pipeline.core.config.shop_tables import EndMillConfig, PocketConfig
from pipeline.core.model import Artwork
from pipeline.geometry.curves import Chain
from pipeline.geometry.flatten import chain_area
from pipeline.outputs.cut_files.cut_files import CutFiles
from pipeline.outputs.cut_files.dxf.dxf_reader import read_drawing
from tests import builders
from tests.outputs.cut_files.test_cut_files import FITTED, artwork_area, artwork_box, cut_files, gdal, inside, with_back

BOTH = ["svg", "pdf"]
CURVES = ("arcs", "lines", "splines")


@pytest.fixture(scope="module")
def ada():
    return with_back(builders.plaque(5, "Ada Kittiwake", stem="NotoSans"))


@pytest.fixture(scope="module", params=CURVES)
def made(request, ada, tmp_path_factory):
    """Return curves, folder and plaque for one kind of curve, with a hole through the blank."""
    folder = tmp_path_factory.mktemp(request.param)
    blank = dataclasses.replace(builders.slanted_blank(), holes=(builders.circle(60, 160, 3),))
    plaque = cut_files(folder, blank=blank, curves=request.param, also=BOTH).make(ada)
    assert not plaque.findings
    return request.param, folder, plaque


def svg_curves(data):
    """Return width and height in mm, and (group, closed, points in mm with y up) of each path, as svgpathtools (MIT)
    reads it: 40 points on each of its segments."""
    root = ElementTree.fromstring(data)
    size = [float(re.fullmatch(r"([\d.]+)mm", root.get(key))[1]) for key in ("width", "height")]
    assert root.get("viewBox").split()[2:] == [root.get(key)[:-2] for key in ("width", "height")]
    out = []
    for group in root.findall("{http://www.w3.org/2000/svg}g"):
        assert group.get("fill") == "none"
        for element in group.findall("{http://www.w3.org/2000/svg}path"):
            path = parse_path(element.get("d"))
            places = np.array([stretch.point(k / 40) for stretch in path for k in range(40)] + [path.end])
            points = np.column_stack((places.real, size[1] - places.imag))
            out.append((group.get("id"), element.get("d").endswith("Z"), points))
    return size, out


def pdf_curves(data):
    """Return the same of a PDF, as PDFium (BSD-3) reads it: page size in mm, and the page's paths by colour."""
    document = pypdfium2.PdfDocument(data)
    (page,) = document
    mm = 25.4 / 72  # ISO 32000-1: a unit is 1/72 in
    out = []
    for item in page.get_objects(filter=[pdfium.FPDF_PAGEOBJ_PATH]):
        a, _, _, d, e, f = item.get_matrix().get()
        colour = [ctypes.c_uint() for _ in range(4)]
        pdfium.FPDFPageObj_GetStrokeColor(item, *colour)
        points, handles, closed = [], [], False
        for k in range(pdfium.FPDFPath_CountSegments(item)):
            segment = pdfium.FPDFPath_GetPathSegment(item, k)
            x, y = ctypes.c_float(), ctypes.c_float()
            pdfium.FPDFPathSegment_GetPoint(segment, x, y)
            place = np.array((x.value * a + e, y.value * d + f)) * mm
            kind = pdfium.FPDFPathSegment_GetType(segment)
            closed = closed or bool(pdfium.FPDFPathSegment_GetClose(segment))
            if kind == pdfium.FPDF_SEGMENT_BEZIERTO:
                handles.append(place)
                if len(handles) == 3:
                    t = np.linspace(0, 1, 41)[1:, None]
                    p = (points[-1], *handles)
                    points += list(
                        (1 - t) ** 3 * p[0] + 3 * t * (1 - t) ** 2 * p[1] + 3 * t**2 * (1 - t) * p[2] + t**3 * p[3]
                    )
                    handles = []
            else:
                points.append(place)
        out.append((tuple(c.value for c in colour[:3]), closed, np.array(points)))
    return [v * mm for v in page.get_size()], out


COLOURS = {"ENGRAVE": (0, 0, 255), "EDGE": (0, 0, 0), "POCKET": (255, 127, 0)}


def read(folder, name):
    """Return size and curves by layer, of either kind of file."""
    data = (folder / name).read_bytes()
    if name.endswith(".svg"):
        return svg_curves(data)
    size, curves = pdf_curves(data)
    names = {colour: layer for layer, colour in COLOURS.items()}
    return size, [(names[colour], closed, points) for colour, closed, points in curves]


@pytest.mark.parametrize("kind", BOTH)
def test_other_readers_read_the_same_shapes_at_the_same_size(made, ada, kind):
    curves, folder, plaque = made
    name = next(n for n in plaque.also_files if n.endswith(kind) and "-back" not in n)
    size, found = read(folder, name)
    assert size == pytest.approx([150, 180], abs=1e-3)
    assert list(dict.fromkeys(layer for layer, *_ in found)) == ["ENGRAVE", "POCKET", "EDGE"]  # in cutting order
    engraved = [points for layer, _, points in found if layer == "ENGRAVE"]
    assert len(engraved) == sum(len(p.build_outline()) for p in ada.artwork.list_pieces("front"))
    assert all(closed for _, closed, _ in found)
    box = shapely.MultiPoint(np.concatenate(engraved)).bounds
    assert box == pytest.approx(artwork_box_front(ada), abs=0.011)
    area = inside([("x", shapely.LineString([*p, p[0]])) for p in engraved], "x").area
    lost = 0.01 * sum(shapely.LinearRing(p).length for p in engraved) if curves == "lines" else 0.001 * area
    assert area == pytest.approx(artwork_area(ada), abs=lost)
    edges = [("x", shapely.LineString([*p, p[0]])) for layer, _, p in found if layer == "EDGE"]
    whole = chain_area(builders.slanted_blank().edge) - math.pi * 9
    assert inside(edges, "x").area == pytest.approx(whole, rel=1e-3 if curves == "lines" else 1e-5)


def artwork_box_front(plaque):
    return artwork_box(dataclasses.replace(plaque, artwork=Artwork(lines=plaque.artwork.lines[:3])))


@pytest.mark.parametrize("kind", BOTH)
def test_their_contours_are_where_the_dxf_has_them(made, kind, monkeypatch):
    """Compared with GDAL's reading of the DXF, contour by contour."""
    monkeypatch.setenv("OGR_ARC_STEPSIZE", "4")
    _, folder, plaque = made
    dxf = [shape for layer, shape in gdal(folder / plaque.cut_file) if layer == "ENGRAVE"]
    name = next(n for n in plaque.also_files if n.endswith(kind) and "-back" not in n)
    flat = [shapely.LineString([*p, p[0]]) for layer, _, p in read(folder, name)[1] if layer == "ENGRAVE"]
    assert len(dxf) == len(flat)
    for theirs, ours in zip(dxf, flat, strict=True):
        assert shapely.distance(shapely.points(shapely.get_coordinates(theirs)), ours).max() < 0.002
        assert theirs.length == pytest.approx(ours.length, rel=0.02)  # GDAL's chords of splines miss some corners


@pytest.mark.parametrize("kind", BOTH)
def test_the_back_has_its_own_files(made, kind):
    _, folder, plaque = made
    name = plaque.back_file.replace(".dxf", f".{kind}")
    assert name in plaque.also_files
    _, found = read(folder, name)
    assert [layer for layer, *_ in found if layer != "ENGRAVE"] == ["EDGE", "EDGE"]
    corner = np.concatenate([p for layer, _, p in found if layer == "EDGE" and len(p) < 200]).max(axis=0)
    assert corner == pytest.approx((150, 180), abs=1e-3)
    letters = np.concatenate([p for layer, _, p in found if layer == "ENGRAVE"])
    outline = np.concatenate([p.points for piece in plaque.artwork.list_pieces("back") for p in piece.build_outline()])
    assert letters.min(axis=0) == pytest.approx(outline.min(axis=0), abs=0.02)  # readable from behind


def test_a_pdf_has_a_layer_for_each_operation_and_a_description(tmp_path, ada):
    made = cut_files(tmp_path, also=["pdf"], layers={"ENGRAVE": "V60 (50%)"}).make(ada)
    with pikepdf.open(tmp_path / made.also_files[0]) as pdf:
        layers = [str(group.Name) for group in pdf.Root.OCProperties.OCGs]
        assert layers == ["V60 (50%)", "POCKET", "EDGE"]
        assert str(pdf.docinfo["/Fingerprint"]) == ada.fingerprint
        assert ada.text[0] in str(pdf.docinfo["/Subject"])
        assert str(pdf.Root.ViewerPreferences.PrintScaling) == "/None"


def test_an_svg_has_a_description_and_the_shop_s_layer_names(tmp_path, ada):
    plaque = dataclasses.replace(ada, text=("Ada <&> Søn", "Warden", "2026"))
    made = cut_files(tmp_path, also=["svg"], layers={"ENGRAVE": "V60 &"}).make(plaque)
    root = ElementTree.parse(tmp_path / made.also_files[0]).getroot()
    assert root.findtext(".//{http://purl.org/dc/elements/1.1/}identifier") == ada.fingerprint
    assert root.findtext("{http://www.w3.org/2000/svg}title") == "Ada <&> Søn"
    groups = root.findall("{http://www.w3.org/2000/svg}g")
    assert groups[0].findtext("{http://www.w3.org/2000/svg}title") == "V60 &"
    assert [g.get("id") for g in groups] == ["ENGRAVE", "POCKET", "EDGE"]
    assert [g.get("stroke") for g in groups] == ["#0000FF", "#FF7F00", "#000000"]


def test_a_circle_is_a_circle_in_any_reader(tmp_path, ada):
    """A radius rounded in its fourth decimal would move half circles by hundredths of a millimetre."""
    blank = dataclasses.replace(builders.disc_blank(66.66667), zones=(("DISC", builders.circle(33.3333, 33.3333, 30)),))
    made = cut_files(tmp_path, blank=blank, also=BOTH).make(builders.plaque(5, "Ada", stem="NotoSans"))
    for name in made.also_files:
        _, found = read(tmp_path, name)
        (edge,) = (points for layer, _, points in found if layer == "EDGE")
        radius = np.hypot(*(edge - 66.66667 / 2).T)
        assert np.abs(radius - 66.66667 / 2).max() < 5e-4


def test_orders_in_inches_have_vector_files_of_the_same_size(tmp_path, ada):
    files = [cut_files(tmp_path / units, units=units, also=BOTH) for units in ("mm", "in")]
    for name in files[0].make(ada).also_files:
        files[1].make(ada)
        assert (tmp_path / "mm" / name).read_bytes() == (tmp_path / "in" / name).read_bytes()


def test_vector_files_have_no_reference_layers_and_no_depths(tmp_path, ada):
    pocket = PocketConfig(depth=6.0, rough=EndMillConfig(use="endmill-6"), fine=EndMillConfig(use="endmill-3"))
    line = builders.set_line(1, ("I",), centre=64.0, baseline=60.0, cap_height=8.0, stem="NotoSans")
    letter = dataclasses.replace(ada, artwork=Artwork(lines=(line,)))
    folder = builders.folder(files=FilesConfig(also=BOTH, grooves=True, curves="lines"), pocket=pocket)
    made = CutFiles(folder, builders.slanted_blank(), tmp_path, "0.1.0", FITTED).make(letter)
    assert not made.findings
    layers = {c.layer for c in read_drawing((tmp_path / made.cut_file).read_bytes()).curves}
    assert layers == {"ENGRAVE", "POCKET", "REST", "EDGE", "GROOVE", "ZONE", "KEEP_OUT"}
    found = svg_curves((tmp_path / made.cut_file).with_suffix(".svg").read_bytes())[1]
    assert list(dict.fromkeys(layer for layer, *_ in found)) == ["ENGRAVE", "POCKET", "REST", "EDGE"]


def test_open_strokes_stay_open(tmp_path, ada):
    row = ada.artwork.lines[0].rows[0]
    shape = row.pieces[0].shape
    stroke = dataclasses.replace(shape.outline[0], closed=False)
    shape = dataclasses.replace(shape, key=f"{shape.key}:stroke", outline=(stroke,), single_line=True)
    pieces = (dataclasses.replace(row.pieces[0], shape=shape, turn=0.5),)
    line = dataclasses.replace(ada.artwork.lines[0], rows=(dataclasses.replace(row, pieces=pieces),))
    made = cut_files(tmp_path, also=BOTH).make(dataclasses.replace(ada, artwork=Artwork(lines=(line,))))
    assert not made.findings
    for name in made.also_files:
        assert [closed for layer, closed, _ in read(tmp_path, name)[1] if layer == "ENGRAVE"] == [False]


def _unpacked(data):
    with pikepdf.open(io.BytesIO(data)) as pdf:
        return pdf.pages[0].obj.Contents.read_bytes()


def _repacked(data, content):
    with pikepdf.open(io.BytesIO(data)) as pdf:
        pdf.pages[0].obj.Contents = pdf.make_stream(content)
        out = io.BytesIO()
        pdf.save(out)
    return out.getvalue()


SPOILT = {
    "svg: moved by .001 mm": lambda d: re.sub(rb"M([\d.]+)", lambda m: b"M%.4f" % (float(m[1]) + 0.001), d, count=1),
    "svg: an arc bent the other way": lambda d: d.replace(b" 0 0 1 ", b" 0 0 0 ", 1),
    "svg: opened": lambda d: d.replace(b"Z", b"", 1),
    "svg: a letter lost": lambda d: re.sub(rb"<path[^>]*>\n", b"", d, count=1),
    "svg: inches": lambda d: d.replace(b"150mm", b"150in"),
    "svg: stretched": lambda d: d.replace(b'viewBox="0 0 150 180"', b'viewBox="0 0 150 160"'),
    "svg: another plaque": lambda d: d.replace(b"identifier>", b"identifier>X", 1),
    "svg: cut short": lambda d: d[: len(d) // 2],
    "svg: outside the groups": lambda d: d.replace(b"</svg>", b'<path d="M0 0L1 1"/></svg>'),
    "svg: a group too many": lambda d: d.replace(b"</svg>", b'<g id="MORE"></g></svg>'),
    "svg: another name": lambda d: d.replace(b"<title>POCKET", b"<title>EDGE"),
    "svg: empty": lambda d: b"",
    "pdf: cut short": lambda d: d[: len(d) // 3],
    "pdf: moved": lambda d: _repacked(d, re.sub(rb"n [\d.]+ ([\d.]+) m", rb"n 1 \1 m", _unpacked(d), count=1)),
    "pdf: opened": lambda d: _repacked(d, _unpacked(d).replace(b" h\nS", b"\nS", 1)),
    "pdf: scaled": lambda d: _repacked(d, _unpacked(d).replace(b"2.83464", b"2.7", 2)),
    "pdf: filled": lambda d: _repacked(d, _unpacked(d).replace(b" h\nS", b" h\nf", 1)),
    "pdf: empty": lambda d: b"",
}


@pytest.fixture(scope="module")
def written(ada, tmp_path_factory):
    """Write the files of a plaque once; a test that damages one restores it."""
    folder = tmp_path_factory.mktemp("spoilt")
    files = cut_files(folder, also=BOTH)
    files.write(ada)
    return folder, files


@pytest.mark.parametrize("fault", SPOILT)
def test_a_file_that_differs_from_the_artwork_stops_the_plaque(written, ada, fault):
    folder, files = written
    kind = fault[:3]
    path = next(folder / name for side, k, name in files.list_files(ada) if (side, k) == ("front", kind))
    good = path.read_bytes()
    bad = SPOILT[fault](good)
    assert bad != good
    path.write_bytes(bad)
    (finding,) = files.prove(ada).findings
    assert finding.code == "file.read-back-differs"
    assert path.name in dict(finding.facts)["file"]
    assert not path.exists()
    path.write_bytes(good)
    assert not files.prove(ada).findings


def test_they_are_in_the_manifest_and_removed_by_the_next_run(tmp_path, ada):
    files = cut_files(tmp_path, also=BOTH)
    made = files.make(ada)
    files.finish()
    listed = (tmp_path / "cut" / "written.sha256").read_text()
    assert all(name.removeprefix("cut/") in listed for name in made.also_files)
    without = cut_files(tmp_path)
    without.make(ada)
    assert set(without.finish()) == set(made.also_files)


def test_a_release_writes_them_again_byte_for_byte(made, ada):
    curves, folder, plaque = made
    blank = dataclasses.replace(builders.slanted_blank(), holes=(builders.circle(60, 160, 3),))
    again = cut_files(folder, blank=blank, curves=curves, also=BOTH).render(ada)
    assert set(again) == {plaque.cut_file, plaque.back_file, *plaque.also_files}
    for name, data in again.items():
        assert (folder / name).read_bytes() == data


def test_arcs_of_the_published_reference_are_drawn_as_arcs(tmp_path, ada):
    """Published DXF reference: (0,0) to (10,0), bulge tan 22.5°: centre (5,5), radius 7.0710678; SVG 1.1, 8.3.8."""
    bulge = math.tan(math.radians(22.5))
    pocket = Chain(np.array([[0, 0, bulge], [10, 0, 0], [10, 20, 0], [0, 20, 0]], float))
    blank = dataclasses.replace(builders.slanted_blank(), pockets=(pocket,))
    made = cut_files(tmp_path, blank=blank, also=["svg"]).make(ada)
    _, found = svg_curves((tmp_path / made.also_files[0]).read_bytes())
    (points,) = (p for layer, _, p in found if layer == "POCKET")
    arc = points[1:40]
    assert np.hypot(*(arc - (5, 5)).T) == pytest.approx(np.full(39, 7.0710678), abs=2e-4)
    assert arc[:, 1].min() == pytest.approx(
        5 - 7.0710678, abs=1e-3
    )  # below the chord: anticlockwise from left to right
