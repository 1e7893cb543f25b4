"""A coupon written, its cut simulated, read back into the shop file, and one order before and after."""

from __future__ import annotations

import json
import shlex
import shutil
from pathlib import Path

import ezdxf
import pikepdf
import pypdf
import pytest
import shapely

from pipeline.cli import main
from pipeline.commands import coupon_artwork
from pipeline.core.errors import CannotRun
from pipeline.cutting.coupon import BLOCKS, WIDTHS, find_limit, plan_coupon
from pipeline.cutting.cutters import load_cutter_shelf
from pipeline.cutting.materials import find_material
from pipeline.intake.order.shop_edits import MeasuredEdit, record_measured
from pipeline.outputs.coupon_sheet import build_field_name
from pipeline.run import run_order

SHOP = """# The shop of Saltmarsh, as we like it written.
units   = "mm"      # all of it

[shop]
name = "Saltmarsh Workshop"   # on every paper

[rates]
hour = 40.0
currency = "EUR"
# the end
"""
ORDER = """
title = "Keepers of the Reach"
client = "Saltmarsh Rowers"
[list]
file = "list.csv"
columns = {{ name = "Name" }}
[blank]
shape = "rectangle"
width = 120.0
height = 40.0
thickness = 12.0
[stock]
material = "{material}"
[cutter]
use = "vbit-60"
{bit}
[[line]]
text = "{{name}}"
face = "noto-sans"
cap_height = {cap}
"""


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a coupon of a 60° bit in walnut."""
    folder = tmp_path_factory.mktemp("shop")
    assert main(["coupon", "vbit-60", "walnut", "--out", str(folder / "coupon")]) == 0
    return folder


@pytest.fixture
def shop(written: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a shop with its file and that coupon; the command runs in its folder."""
    shutil.copytree(written / "coupon", tmp_path / "coupon")
    (tmp_path / "shop.toml").write_text(SHOP, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def ticked(folder: Path, boxes: dict[str, str], name: str = "back.pdf") -> Path:
    """Return the sheet as it comes back, saved by another program."""
    writer = pypdf.PdfWriter(clone_from=folder / "coupon" / "coupon.pdf")
    writer.update_page_form_field_values(writer.pages[0], boxes)
    writer.write(folder / name)
    return folder / name


def from_width(kind: str, least: float, widths: tuple[float, ...]) -> dict[str, str]:
    return {
        build_field_name(kind, block, n): "/Yes"
        for block in range(1, BLOCKS + 1)
        for n, width in enumerate(widths, 1)
        if width >= least
    }


PLAN = plan_coupon(load_cutter_shelf()["vbit-60"], find_material("walnut"))


@pytest.fixture(scope="module")
def drawn() -> coupon_artwork.Coupon:
    """Return the coupon as it is meant."""
    return coupon_artwork.draw_coupon(PLAN)


def test_every_stroke_and_land_in_the_file_has_its_width(written: Path, drawn: coupon_artwork.Coupon) -> None:
    """Measured by an independent reader and library: bars are rectangles of 6 mm; strokes have the stated width,
    lands are the distance of two cuts."""
    (file,) = (written / "coupon" / "cut").glob("*.dxf")
    doc = ezdxf.readfile(file)
    assert not doc.audit().errors
    polygons = [
        shapely.Polygon([p[:2] for p in e.get_points()])
        for e in doc.modelspace()
        if e.dxf.layer == "ENGRAVE" and e.dxftype() == "LWPOLYLINE" and e.closed
    ]
    bars = [
        p for p in polygons if abs(p.bounds[3] - p.bounds[1] - 6) < 1e-3 and p.area == pytest.approx(p.envelope.area)
    ]
    assert len(bars) == BLOCKS * (len(PLAN.strokes) + 2 * len(PLAN.lands))
    tree = shapely.STRtree(bars)
    for place in drawn.places:
        hit = [bars[k] for k in tree.query(shapely.Point(place.x, place.y).buffer(1.0), predicate="intersects")]
        if place.kind == "stroke":
            width = hit[0].bounds[2] - hit[0].bounds[0]
        else:
            width = hit[0].distance(hit[1])
        assert width == pytest.approx(place.width, abs=1e-4)
    grooves = [e for e in doc.modelspace() if e.dxf.layer == "GROOVE"]
    assert len(grooves) > len(bars)
    assert 0.05 in PLAN.lands and WIDTHS[-1] == 1.0 and len(set(PLAN.depths)) == 3


def test_the_sheet_states_the_depth_per_pass_and_the_unit_of_widths(written: Path) -> None:
    text = " ".join(pypdf.PdfReader(written / "coupon" / "coupon.pdf").pages[0].extract_text().split())
    told = "No pass deeper than 3 mm (common practice, no source): cut what is deeper in several; of grooves, layer "
    assert f"{told}ROUGH first." in text and "Strokes, mm" in text and "Lands, mm" in text
    mill = plan_coupon(load_cutter_shelf()["endmill-0-8"], find_material("brass"))
    assert max(mill.depths) > 0.08 and mill.describe_pass().startswith("No pass deeper than 0.08 mm")
    assert "ROUGH" not in mill.describe_pass()
    assert (
        plan_coupon(load_cutter_shelf()["vbit-60"], find_material(""))
        .describe_pass()
        .startswith("Nothing says how deep")
    )
    assert plan_coupon(load_cutter_shelf()["laser"], find_material("walnut")).describe_pass() == ""


def test_a_stroke_of_another_width_in_the_file_is_detected(
    written: Path, drawn: coupon_artwork.Coupon, tmp_path: Path
) -> None:
    """One bar of the file is made 0.01 mm wider by another program: measuring the written file shows by how much."""
    (file,) = (written / "coupon" / "cut").glob("*.dxf")
    assert coupon_artwork.measure_off(drawn, file, "ENGRAVE") < 1e-4
    doc = ezdxf.readfile(file)
    place = next(p for p in drawn.places if (p.kind, p.block, p.number) == ("stroke", 2, 4))
    for bar in (e for e in doc.modelspace() if e.dxf.layer == "ENGRAVE" and e.dxftype() == "LWPOLYLINE"):
        points = bar.get_points("xyb")
        x0, x1 = (f(p[0] for p in points) for f in (min, max))
        y0, y1 = (f(p[1] for p in points) for f in (min, max))
        if x0 < place.x < x1 and y0 < place.y < y1 and y1 - y0 > 5.9:
            bar.set_points([(x + 0.01 if x > place.x else x, y, b) for x, y, b in points], format="xyb")
    doc.saveas(tmp_path / "wider.dxf")
    assert coupon_artwork.measure_off(drawn, tmp_path / "wider.dxf", "ENGRAVE") == pytest.approx(0.01, abs=1e-4)


def test_a_ticked_form_is_written_to_the_shop_file_and_comments_stay(shop: Path, capsys) -> None:
    back = ticked(shop, {**from_width("stroke", 0.3, PLAN.strokes), **from_width("land", 0.25, PLAN.lands), "by": "Bo"})
    assert main(["coupon", "vbit-60", "walnut", str(back), "--on", "2024-11-29"]) == 0
    said = capsys.readouterr().out
    assert "stroke 0.3 mm, land 0.25 mm, measured on an own coupon, 29 November 2024" in said
    text = (shop / "shop.toml").read_text(encoding="utf-8")
    assert text.startswith(SHOP.rstrip("\n").rsplit("\n", 1)[0]) and "# the end" in text
    assert text.count("[[measured]]") == 1 and 'source = "measured on an own coupon, 29 November 2024"' in text
    assert main(["coupon", "vbit-60", "Walnut", "--strokes", "0.2", "--on", "2024-12-02"]) == 0
    again = (shop / "shop.toml").read_text(encoding="utf-8")
    assert again.count("[[measured]]") == 1 and "stroke = 0.2" in again and "land = 0.25" in again
    assert "2 December 2024" in again and again.splitlines()[:9] == text.splitlines()[:9]
    assert main(["coupon", "vbit-30", "walnut", "--lands", "0.3", "--on", "2024-12-02"]) == 0
    assert (shop / "shop.toml").read_text(encoding="utf-8").count("[[measured]]") == 2


def findings(folder: Path) -> list[tuple[str, str]]:
    report = json.loads((folder / "out" / "report.json").read_text(encoding="utf-8"))
    return [(f["code"], f["message"]) for p in report["plaques"] for f in p["findings"]]


def test_one_order_before_and_after(shop: Path) -> None:
    """At 5 mm, the thinnest stroke of this name is .32 mm: the 60° bit can make .22. On the coupon, nothing under .4
    came out clean in walnut; in oak nothing was measured."""
    folder = shop / "order"
    folder.mkdir()
    (folder / "list.csv").write_text("Name\nIda Vex\n", encoding="utf-8")

    def run(material: str = "walnut", bit: str = "") -> list[tuple[str, str]]:
        text = ORDER.format(material=material, bit=bit, cap=5.0)
        (folder / "order.toml").write_text(text, encoding="utf-8")
        run_order(folder, workers=1, files=False)
        return findings(folder)

    assert run() == []
    assert main(["coupon", "vbit-60", "walnut", "--strokes", "0.4", "--on", "2024-11-29"]) == 0
    ((code, message),) = run()
    assert code == "stroke.too-thin" and "0.400 mm" in message
    assert "measured on an own coupon, 29 November 2024" in message
    assert run("oak") == []
    assert run(bit="tip = 0.12") == []  # not the bit that was measured


def test_a_line_with_gaps_or_without_ticks_is_not_guessed(shop: Path, capsys) -> None:
    boxes = from_width("stroke", 0.2, PLAN.strokes)
    del boxes[build_field_name("stroke", 2, 6)]
    assert main(["coupon", "vbit-60", "walnut", str(ticked(shop, boxes))]) == 2
    assert "no. 2 (0.2 mm) is marked clean, and the wider no. 6 (0.5 mm) is not" in capsys.readouterr().err
    assert main(["coupon", "vbit-60", "walnut", str(ticked(shop, {"by": "Bo"}))]) == 2
    assert "no stroke and no land is ticked in every block" in capsys.readouterr().err
    assert (shop / "shop.toml").read_text(encoding="utf-8") == SHOP


def test_the_worst_block_counts() -> None:
    marks = {("stroke", block, n): True for block in (1, 2, 3) for n in range(1, len(PLAN.strokes) + 1)}
    assert find_limit(PLAN, "stroke", marks) == PLAN.strokes[0]
    marks[("stroke", 3, 1)] = marks[("stroke", 3, 2)] = False
    assert find_limit(PLAN, "stroke", marks) == PLAN.strokes[2]
    assert find_limit(PLAN, "land", marks) is None


def test_hostile_forms_are_refused_and_the_shop_file_stays(shop: Path, capsys) -> None:
    """Another coupon's sheet, not a PDF, a damaged one, one with a field twice, an invalid identity, a folder, an
    empty file, and a text file: each is reported by name, and nothing is written."""
    good = ticked(shop, from_width("stroke", 0.3, PLAN.strokes))
    (shop / "text.pdf").write_text("not a PDF", encoding="utf-8")
    (shop / "cut.pdf").write_bytes(good.read_bytes()[:-400])
    (shop / "empty.pdf").write_bytes(b"")
    (shop / "folder.pdf").mkdir()
    with pikepdf.open(good) as pdf:
        fields = pdf.Root.AcroForm.Fields
        fields.append(pdf.make_indirect(pikepdf.Dictionary(fields[0])))
        pdf.save(shop / "twice.pdf")
    with pikepdf.open(good) as pdf:
        for node in pdf.Root.AcroForm.Fields:
            if str(node.get("/T")) == "coupon":
                node.V = pikepdf.String('{"cutter": ["\x1b[31m"]}')
        pdf.save(shop / "identity.pdf")
    with pikepdf.new() as pdf:
        pdf.add_blank_page()
        pdf.save(shop / "blank.pdf")
    before = (shop / "shop.toml").read_bytes()
    for name in ("text", "cut", "empty", "folder", "twice", "identity", "blank", "missing"):
        assert main(["coupon", "vbit-60", "walnut", f"{name}.pdf"]) == 2, name
        err = capsys.readouterr().err
        assert "cannot run" in err and "\x1b" not in err and f"{name}.pdf" in err, (name, err)
    assert main(["coupon", "vbit-30", "walnut", str(good)]) == 2
    assert "a coupon of vbit-60 in walnut" in capsys.readouterr().err
    assert main(["coupon", "vbit-60", "walnut", str(good), "--strokes", "0.2"]) == 2
    assert main(["coupon", "vbit-60", "walnut", "--strokes", "0.2", "--on", "29.11."]) == 2
    assert (shop / "shop.toml").read_bytes() == before


def test_without_a_shop_file_nothing_is_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["coupon", "vbit-60", "walnut", "--strokes", "0.2"]) == 2
    assert "plaques start --shop" in capsys.readouterr().err and not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["endmill-3", "walnut"], "its line is 3 mm wide"),
        (["vbit-60", "glass"], "does not cut glass"),
        (["vbit-61", "walnut"], "vbit-60"),
    ],
)
def test_a_coupon_that_cannot_be_cut_is_reported(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys, words, told
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["coupon", *words]) == 2
    assert told in capsys.readouterr().err and not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    "text",
    [
        SHOP.replace("\n", "\r\n"),
        "\ufeff" + SHOP,
        SHOP.replace('units   = "mm"', 'units = "in"').replace("hour = 40.0", "hour = 40"),
        SHOP + '\n[[cutter]]\nname = "My bit"\nkind = "v-bit"\nangle = 45.0  # measured\ntip = 0.08\n',
        SHOP + '\n[[measured]]\n# by eye\ncutter = "VBIT-60"\nmaterial = "walnut"\nland = 0.5\n',
        "",
    ],
)
def test_shop_files_of_all_kinds_keep_their_content(tmp_path: Path, text: str) -> None:
    """Line endings, byte order marks, inches, own cutters, a manual entry, an empty file."""
    file = tmp_path / "shop.toml"
    file.write_bytes(text.encode("utf-8"))
    edit = MeasuredEdit(
        cutter="vbit-60", material="walnut", stroke=0.254, land=None, source="measured on an own coupon"
    )
    found = record_measured(file, edit)
    (own,) = found.config.measured
    assert own.stroke == pytest.approx(0.254) and own.source == edit.source
    assert own.land == (0.5 if "by eye" in text else None)
    after = file.read_bytes()
    assert [line for line in text.encode("utf-8").splitlines() if line not in after.splitlines()] == []
    assert (b"\r\n" in after) == ("\r\n" in text)
    if "\r\n" in text:
        assert after.count(b"\n") == after.count(b"\r\n")
    record_measured(file, edit)
    assert file.read_bytes() == after


@pytest.mark.parametrize(
    "text",
    [
        "measured = []\n" + SHOP,
        'measured = [{ cutter = "vbit-60", material = "walnut", stroke = 0.5 }]\n' + SHOP,
        SHOP + '[[measured]]\ncutter = "vbit-30"\nmaterial = "oak"\nland = 0.3\n\n[labels]\ncolumns = 2\n',
    ],
)
def test_tables_written_otherwise_are_added_to_or_left_alone(tmp_path: Path, text: str) -> None:
    """Afterwards, either the limit is in the file and everything else unchanged, or the file is unchanged and that
    is reported."""
    file = tmp_path / "shop.toml"
    file.write_text(text, encoding="utf-8")
    edit = MeasuredEdit(cutter="vbit-60", material="walnut", stroke=0.3, land=None, source="measured on an own coupon")
    try:
        found = record_measured(file, edit)
    except CannotRun as problem:
        assert "[[measured]]" in str(problem) and file.read_text(encoding="utf-8") == text
        return
    own = found.config.find_measured("vbit-60", "walnut")
    assert own is not None and own.stroke == 0.3
    assert found.config.rates.hour == 40.0 and "# the end" in file.read_text(encoding="utf-8")


def test_a_shop_file_that_is_a_link_stays_one(tmp_path: Path) -> None:
    (tmp_path / "kept").mkdir()
    real = tmp_path / "kept" / "shop.toml"
    real.write_text(SHOP, encoding="utf-8")
    link = tmp_path / "shop.toml"
    link.symlink_to(real)
    try:
        record_measured(link, MeasuredEdit(cutter="laser", material="acrylic", stroke=0.2, land=0.3, source="measured"))
    except CannotRun:
        assert real.read_text(encoding="utf-8") == SHOP
    else:
        assert "[[measured]]" in real.read_text(encoding="utf-8")
    assert link.is_symlink()


@pytest.mark.parametrize("day", ["29.11.2024", "29 November 2024", " 2024-11-29 ", "Nov 29, 2024"])
def test_the_date_on_a_form_is_read_as_people_write_it(shop: Path, capsys, day: str) -> None:
    back = ticked(shop, {**from_width("stroke", 0.3, PLAN.strokes), "on": day})
    assert main(["coupon", "vbit-60", "walnut", str(back)]) == 0, capsys.readouterr()
    assert "measured on an own coupon, 29 November 2024" in (shop / "shop.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize("day", ["last week", "31.11.2024", "1 May 2199", "\x1b[31m"])
def test_an_impossible_date_is_reported_with_the_form_and_its_field(shop: Path, capsys, day: str) -> None:
    back = ticked(shop, {**from_width("stroke", 0.3, PLAN.strokes), "on": day})
    assert main(["coupon", "vbit-60", "walnut", str(back)]) == 2
    told = capsys.readouterr().err
    assert "back.pdf, “Measured by, on”" in told and "--on" not in told and "\x1b" not in told
    assert (shop / "shop.toml").read_text(encoding="utf-8") == SHOP
    assert main(["coupon", "vbit-60", "walnut", str(back), "--on", "2024-11-29"]) == 0


def test_a_measurement_cannot_have_a_future_date(shop: Path, capsys) -> None:
    assert main(["coupon", "vbit-60", "walnut", "--strokes", "0.2", "--on", "2199-05-01"]) == 2
    assert "still to come" in capsys.readouterr().err
    assert main(["coupon", "vbit-60", "walnut", "--strokes", "0.2", "--on", "2 May"]) == 0
    assert "measured on an own coupon, 2 May" in (shop / "shop.toml").read_text(encoding="utf-8")


def test_the_next_command_can_be_typed_as_printed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys) -> None:
    """A shell splits it into exactly these words, whatever a name contains (POSIX shell quoting, by shlex)."""
    monkeypatch.chdir(tmp_path)
    assert main(["coupon", "vbit-60", 'slab "B" $HOME', "--out", "it's here"]) == 0
    said = capsys.readouterr().out
    words = shlex.split(said[said.index("plaques coupon") :])
    assert words == ["plaques", "coupon", "vbit-60", 'slab "B" $HOME', "it's here/coupon.pdf"]
