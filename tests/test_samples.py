"""The sample orders end to end, and what other programs read in the files they make.

The large ones have only some of their rows here: `ROWS`. `python -m tests.long.whole_samples` runs all of them.
"""

import contextlib
import hashlib
import json
import re
import shutil
import subprocess
import unicodedata
from pathlib import Path

import ezdxf
import numpy as np
import openpyxl
import pikepdf
import pypdf
import pypdfium2
import pytest
import shapely
from PIL import Image

from pipeline.cli import main
from pipeline.geometry.flatten import flatten, outline_area
from pipeline.reference.report_page import find_unknown_fields
from pipeline.run import run_order
from tests.long.whole_samples import NAMES, find_differences, read_about

ROOT = Path(__file__).resolve().parent.parent
SAMPLES = {name: ROOT / "sample_orders" / name for name in NAMES}
"""Those without one common design each, which tests/samples/test_small_designs.py runs."""
ROWS = {
    "seabird-trust": {5, 6, 8, *read_about(SAMPLES["seabird-trust"]), 12, 42},
    "bench-plates": {4, 6, 8, 9, 11, 13, 14, 16, 17, 18, 19},
    "regatta-plaques": {2, 4, 5, 8, 10, 11},
    "science-medals": {2, 8, 24, 26, 28, 32, 34, 36, 38, 42, 45, 48, 49},
}
"""Rows of the list that are left; the others are emptied, so that each keeps its number. All that the about page
names, the rows those are compared with, some without remarks; of the medals, one of each script."""
EACH = [pytest.param(n, marks=[pytest.mark.xdist_group(n)]) for n in SAMPLES]
"""All that looks at one order's files is tested in one process, which runs the order once."""
INSUNITS = {"mm": 4, "in": 1}  # published DXF reference: header variable $INSUNITS


def copied(name, folder):
    """Copy the order's folder without the results of an earlier run, its list with `ROWS` only."""
    shutil.copytree(SAMPLES[name], folder / name, ignore=shutil.ignore_patterns("out", "signoff.sqlite*"))
    empty_rows(next(p for p in (folder / name).iterdir() if p.suffix in (".csv", ".xlsx")), ROWS[name])
    return folder / name


def empty_rows(file, but):
    """Empty the rows of a list below its header, but for these and what follows the recipients."""
    if file.suffix == ".csv":
        lines = file.read_text(encoding="utf-8-sig").splitlines()
        kept = [line if row in {1, *but} else "" for row, line in enumerate(lines, 1)]
        file.write_text("\n".join(kept), encoding="utf-8")
        return
    book = openpyxl.load_workbook(file, data_only=True)  # it would save formulas without their results
    sheet = max(book.worksheets, key=lambda page: page.max_row)
    for row in set(range(min(but), 54)) - but:
        for cell in sheet[row]:
            cell.value = None
    book.save(file)


def bytes_of(folder):
    """Return path below the folder -> sha256 of every file in it."""
    files = (path for path in sorted(folder.rglob("*")) if path.is_file())
    return {str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


@pytest.fixture(scope="session")
def runs(tmp_path_factory):
    """Run a sample order once for all tests that only inspect the result."""
    done = {}

    def run(name):
        if name not in done:
            folder = copied(name, tmp_path_factory.mktemp("order"))
            done[name] = folder, run_order(folder)
        return done[name]

    return run


@pytest.fixture
def again(runs, tmp_path):
    """Copy a sample order with all the results of its run, to change and run again; return it with that run."""

    def copy(name):
        folder, done = runs(name)
        return shutil.copytree(folder, tmp_path / name), done

    return copy


# --- what a run says and leaves ---------------------------------------------------------------------------------


@pytest.mark.parametrize("name", EACH)
def test_every_row_is_accounted_for_and_every_file_is_there(runs, name):
    folder, done = runs(name)
    report, listing = done.report, done.outcome.listing
    states = [plaque["state"] for plaque in report["plaques"]]
    counts = report["counts"]
    assert counts["plaques"] == len(states) == report["list"]["recipients"]
    for state in ("ready", "ask", "stopped"):
        assert counts[state] == states.count(state)
    assert counts["faults"] == 0
    assert counts["copies"] == sum(p["copies"] for p in report["plaques"] if p["state"] != "stopped")
    rows = [entry.row for entry in listing.account]
    assert len(rows) == len(set(rows)) == listing.rows  # each row that isn't empty, exactly once
    recipients = {p["row"] for p in report["plaques"]}
    assert {entry.row for entry in listing.account if entry.fate != "left-out"} == recipients
    assert all(entry.reason for entry in listing.account if entry.fate == "left-out")
    assert done.exit_status == (1 if counts["stopped"] else 0)
    out = folder / "out"
    assert {"check.xlsx", "cut", "proof.pdf", "report.json"} <= {path.name for path in out.iterdir()}
    cut = {p["cut_file"] for p in report["plaques"] if p["state"] != "stopped"}
    assert {f"cut/{path.name}" for path in (out / "cut").glob("*.dxf")} == cut
    assert all(p["cut_file"] is None and p["fingerprint"] is None for p in report["plaques"] if p["state"] == "stopped")
    assert json.loads((out / "report.json").read_text(encoding="utf-8")) == report
    assert not list(out.rglob("*.part")) + list(out.rglob("*.tmp"))


@pytest.mark.parametrize("name", EACH)
def test_every_field_of_its_report_is_in_the_reference(runs, name):
    assert find_unknown_fields(runs(name)[1].report) == set()


@pytest.mark.xdist_group("seabird-trust")
def test_the_pictures_show_the_plaque_as_it_is_made_now(runs):
    mark = next(p["fingerprint"] for p in runs("seabird-trust")[1].report["plaques"] if p["row"] == 5)
    for name in ("proof-page.png", "cut-file.png"):
        file = SAMPLES["seabird-trust"] / "pictures" / name
        assert file.stat().st_size <= 200_000
        with Image.open(file) as picture:
            assert picture.text["Fingerprint"] == mark, "stale: run `python tests/make_samples/pictures.py`"


@pytest.mark.xdist_group("seabird-trust")
def test_the_seabird_order_is_told_what_its_about_page_says(runs):
    folder, done = runs("seabird-trust")
    assert done.exit_status == 1
    said = read_about(folder)
    codes = {p["row"]: {f["code"] for f in p["findings"]} for p in done.report["plaques"]}
    assert {row: codes[row] & {"fit.too-long", "list.cell-error", "face.glyph-missing"} for row in (19, 32, 41)} == {
        19: {"fit.too-long"},
        32: {"list.cell-error"},
        41: {"face.glyph-missing"},
    }
    assert all(any(c.startswith("text.") for c in codes[row]) for row, word in said.items() if word == "noted")


@pytest.mark.parametrize("name", EACH)
def test_every_row_ends_as_its_about_page_says(runs, name):
    folder, done = runs(name)
    assert {p["row"] for p in done.report["plaques"]} == ROWS[name]
    assert find_differences(folder, done.report) == []


@pytest.mark.parametrize("name", EACH)
def test_the_summary_names_what_needs_attention(runs, name):
    _, done = runs(name)
    counts = done.report["counts"]
    first = done.summary.splitlines()[1]
    assert f"{counts['plaques']} plaques" in first
    assert f"{counts['ready']} ready" in first
    cut = {p["cut_file"] for p in done.report["plaques"] if p["cut_file"]}
    assert f"cut/ ({len(cut)} files)" in done.summary
    if name == "seabird-trust":
        for row in (19, 32, 41):
            assert f"row {row}, B{row}:" in done.summary


def test_json_is_the_whole_output_and_has_the_keys_that_are_promised(tmp_path, capsys):
    (tmp_path / "names.csv").write_text(f"name\nIda Vex\nBo Skua\n{'Una ' * 30}\n", encoding="utf-8")
    (tmp_path / "order.toml").write_text(ORDER.format(unit="in", **INCHES), encoding="utf-8")
    assert main(["run", str(tmp_path), "--rows", "3-4", "--json"]) == 1
    report = json.loads(capsys.readouterr().out)
    assert {"schema", "tool", "order", "list", "counts", "findings", "plaques"} <= set(report)
    assert {"name", "version", "libraries"} <= set(report["tool"])
    assert {"title", "client", "sha256"} <= set(report["order"])
    assert {"file", "sheet", "sha256", "rows", "recipients"} <= set(report["list"])
    assert {"plaques", "copies", "ready", "ask", "stopped"} <= set(report["counts"])
    assert [plaque["row"] for plaque in report["plaques"]] == [3, 4]
    plaque_keys = "row cell text raw copies state fingerprint cut_file lines findings".split()
    line_keys = "text face cap_height tracking rows width slack stroke stroke_after_sanding land groove_depth".split()
    finding_keys = "code severity line glyph at measured limit unit message remedy".split()
    for plaque in report["plaques"]:
        assert set(plaque_keys) <= set(plaque)
        assert plaque["lines"] or plaque["state"] == "stopped"
        assert all(set(line_keys) <= set(line) for line in plaque["lines"])
        assert all(set(finding_keys) <= set(finding) for finding in plaque["findings"])
    too_long = next(f for f in report["plaques"][-1]["findings"] if f["code"] == "fit.too-long")
    assert too_long["severity"] == "stop"
    assert too_long["measured"] > 0


# --- again, and after a change ----------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.xdist_group("seabird-trust")
def test_after_a_change_only_what_it_touches_is_new(again):
    folder, done = again("seabird-trust")
    before = {p["row"]: p["cut_file"] for p in done.report["plaques"]}
    out = folder / "out"
    old = bytes_of(out / "cut")
    own = out / "cut" / "my notes.dxf"
    own.write_text("a drawing of my own", encoding="utf-8")
    book = openpyxl.load_workbook(folder / "recipients.xlsx")
    assert book["Wardens"]["B5"].value == "Morwenna Tregarth"
    book["Wardens"]["B5"].value = "Morwenna Tregarthen"
    book.save(folder / "recipients.xlsx")
    after = {p["row"]: p["cut_file"] for p in run_order(folder).report["plaques"]}
    new = bytes_of(out / "cut")
    assert own.read_text(encoding="utf-8") == "a drawing of my own"
    assert after[5] != before[5]
    assert {row: name for row, name in after.items() if row != 5} == {r: n for r, n in before.items() if r != 5}
    gone, come = Path(before[5]).name, Path(after[5]).name
    assert set(old) - set(new) == {gone}
    assert set(new) - set(old) == {come, own.name}
    # except for the manifest, which names the new file
    same = [name for name in old if name not in (gone, "written.sha256")]
    assert {name: old[name] for name in same} == {name: new[name] for name in same}


# --- cut files, read by others ----------------------------------------------------------------------------------


def gdal(path):
    """Return (layer, points) of every contour as GDAL (MIT) reads it through pyogrio (MIT); arcs have become chords."""
    import pyogrio.raw

    about, _, geometry, fields = pyogrio.raw.read(path)
    layers = fields[about["fields"].tolist().index("Layer")]
    return [
        (layer, shapely.get_coordinates(shape)) for layer, shape in zip(layers, shapely.from_wkb(geometry), strict=True)
    ]


def is_closed(points):
    return len(points) > 2 and np.abs(points[0] - points[-1]).max() < 1e-6


def inside(rings):
    """Return the area within closed contours, even-odd, so that it doesn't depend on their directions."""
    total = shapely.Polygon()
    for ring in rings:
        total = total.symmetric_difference(shapely.Polygon(ring).buffer(0))
    return total.area


def length_of(polyline):
    return float(np.hypot(*np.diff(polyline, axis=0).T).sum())


def meant(plaque, side="front"):
    """Return, for the artwork on one side: number of area contours and of open strokes, area, length of the open
    strokes."""
    contours, strokes, area, length = 0, 0, 0.0, 0.0
    for line in plaque.artwork.parts:
        if line.side != side:
            continue
        if line.grown:
            pieces = [piece for row in line.rows for piece in row.pieces]
            contours += sum(len(grown.chains) for grown in line.grown)
            area += sum(g.area() * piece.scale**2 for g, piece in zip(line.grown, pieces, strict=True))
            continue
        for piece in (piece for row in line.rows for piece in row.pieces):
            outline = piece.build_outline()
            contours += sum(path.closed for path in outline)
            area += outline_area(outline)
            opened = [path for path in outline if not path.closed]
            strokes += len(opened)
            length += sum(length_of(line) for line in flatten(opened, 0.001))
    return contours, strokes, area, length


@pytest.mark.parametrize("name", EACH)
def test_gdal_finds_the_lettering_of_the_artwork(runs, name, monkeypatch):
    monkeypatch.setenv("OGR_ARC_STEPSIZE", "1")  # degrees
    folder, done = runs(name)
    one = {"mm": 1.0, "in": 25.4}[done.report["order"]["units"]]
    looked = 0
    for plaque in [p for p in done.outcome.plaques if p.cut_file][::2]:
        engraved = [points for layer, points in gdal(folder / "out" / plaque.cut_file) if layer == "ENGRAVE"]
        contours, strokes, area, length = meant(plaque)
        closed = [points for points in engraved if is_closed(points)]
        if not strokes:
            assert len(closed) == len(engraved) == contours
        assert len(engraved) == contours + strokes
        if contours and not strokes:
            assert inside(closed) * one**2 == pytest.approx(area, rel=1e-3)
        if strokes and not contours:
            assert sum(map(length_of, engraved)) * one == pytest.approx(length, rel=1e-3)
        looked += 1
    assert looked >= 3


@pytest.mark.parametrize("name", EACH)
def test_the_audit_of_ezdxf_finds_nothing_and_the_unit_is_written(runs, name):
    folder, done = runs(name)
    unit = INSUNITS[done.report["order"]["units"]]
    for number, path in enumerate(sorted((folder / "out" / "cut").glob("*.dxf"))):
        text = path.read_text(encoding="utf-8")
        assert re.findall(r"\$INSUNITS\s+70\s+(\d+)\s", text) == [str(unit)]
        if number % 4:  # that reader is slow
            continue
        audit = ezdxf.readfile(path).audit()
        assert not audit.errors
        assert not audit.fixes


ORDER = """
title = "Plates"
units = "{unit}"
[list]
file = "names.csv"
[blank]
shape = "rectangle"
width = {width}
height = {height}
thickness = {thickness}
margin = {margin}
[[line]]
text = "{{name}}"
face = "noto-sans"
cap_height = {cap_height}
smallest = {smallest}
"""
INCHES = {"width": 5.0, "height": 2.0, "thickness": 0.75, "margin": 0.125, "cap_height": 0.375, "smallest": 0.25}


def test_an_order_in_inches_and_the_same_in_millimetres_make_the_same_part(tmp_path):
    """1 in = 25.4 mm exactly (international yard and pound agreement, 1959)."""
    found, files = {}, {}
    for unit, factor in (("in", 1.0), ("mm", 25.4)):
        folder = tmp_path / unit
        folder.mkdir()
        (folder / "names.csv").write_text("name\nIda Vex\nTeodoro Quill\n", encoding="utf-8")
        lengths = {key: value * factor for key, value in INCHES.items()}
        (folder / "order.toml").write_text(ORDER.format(unit=unit, **lengths), encoding="utf-8")
        done = run_order(folder)
        assert done.exit_status == 0
        found[unit] = done.report
        plaques = done.outcome.plaques
        files[unit] = [[(layer, p * 25.4 / factor) for layer, p in gdal(folder / "out" / q.cut_file)] for q in plaques]
        first = (folder / "out" / plaques[0].cut_file).read_text(encoding="utf-8")
        assert re.findall(r"\$INSUNITS\s+70\s+(\d+)\s", first) == [str(INSUNITS[unit])]
    for here, there in zip(found["in"]["plaques"], found["mm"]["plaques"], strict=True):
        for mine, yours in zip(here["lines"], there["lines"], strict=True):
            for key in ("cap_height", "width", "slack", "stroke", "land"):
                assert mine[key] == pytest.approx(yours[key], abs=1e-5)
    for here, there in zip(files["in"], files["mm"], strict=True):
        assert [layer for layer, _ in here] == [layer for layer, _ in there]
        for layer in {layer for layer, _ in here}:
            boxes = [
                shapely.total_bounds(shapely.MultiPoint(np.vstack([p for n, p in side if n == layer])))
                for side in (here, there)
            ]
            assert boxes[0] == pytest.approx(boxes[1], abs=1e-4)
    edge = np.vstack([points for layer, points in files["in"][0] if layer == "EDGE"])
    assert np.ptp(edge, axis=0) == pytest.approx((127.0, 50.8), abs=1e-6)


# --- papers -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", EACH)
def test_qpdf_finds_nothing_wrong_with_the_proof(runs, name):
    """By the library in pikepdf, which is on every machine, and by the program where it is installed."""
    folder, _ = runs(name)
    proof = folder / "out" / "proof.pdf"
    with pikepdf.open(proof) as pdf:
        assert getattr(pdf, "check_pdf_syntax", getattr(pdf, "check", None))() == []  # called `check` before version 10
        assert pdf.get_warnings() == []
    if qpdf := shutil.which("qpdf"):
        checked = subprocess.run([qpdf, "--check", str(proof)], capture_output=True, text=True, check=False)
        assert checked.returncode == 0, checked.stdout + checked.stderr


def plain(text):
    """Normalise for comparing extracted text: compatibility forms folded, without spaces and direction marks."""
    folded = unicodedata.normalize("NFKC", text)
    return "".join(c for c in folded if not c.isspace() and unicodedata.category(c) != "Cf")


def by_pypdf(path):
    return "".join(page.extract_text() for page in pypdf.PdfReader(path).pages)


def by_pdfium(path):
    with contextlib.closing(pypdfium2.PdfDocument(path)) as document:
        return "".join(page.get_textpage().get_text_range() for page in document)


BY_PDFIUM = [pytest.param(n, by_pdfium, marks=[pytest.mark.xdist_group(n)]) for n in SAMPLES]
BY_PYPDF = [pytest.param("seabird-trust", by_pypdf, marks=[pytest.mark.xdist_group("seabird-trust")])]
"""That reader is slow; tests/outputs/proof/test_proof.py has it read names of every script."""


@pytest.mark.parametrize(("name", "reader"), BY_PDFIUM + BY_PYPDF)
def test_every_name_is_found_in_the_proof(runs, name, reader):
    folder, done = runs(name)
    found = plain(reader(folder / "out" / "proof.pdf"))
    if name == "bench-plates":  # its bird is in no typeface: its code point is printed, and readers may find either
        assert "[U+1F426]" in found
        found = found.replace("[U+1F426]", "" if "🐦" in found else "🐦")
    missing = []
    for plaque in done.outcome.plaques:
        as_typed = plain(plaque.recipient.get_value("name") or dict(plaque.recipient.raw)["name"])
        if as_typed not in found:
            missing.append(as_typed)
    assert not missing


def test_no_cell_of_the_check_sheet_is_a_formula(tmp_path):
    names = ["=1+1", '=HYPERLINK("#A1")', "+Ida Vex", "-Quill", "@Sum", "Ada Finch"]
    folder = tmp_path / "order"
    folder.mkdir()
    book = openpyxl.Workbook()
    book.active.append(["name"])
    for row, text in enumerate(names, 2):
        book.active.cell(row, 1, text).data_type = "s"
    book.save(folder / "names.xlsx")
    words = ORDER.replace("names.csv", "names.xlsx").format(unit="in", **INCHES)
    (folder / "order.toml").write_text(words, encoding="utf-8")
    done = run_order(folder)
    assert [dict(p.recipient.raw)["name"] for p in done.outcome.plaques] == names
    cells = [c for sheet in openpyxl.load_workbook(folder / "out" / "check.xlsx") for row in sheet for c in row]
    assert {cell.data_type for cell in cells} <= {"s", "n"}
    assert set(names) <= {cell.value for cell in cells}
