"""Orders with a client's drawings: placed, checked, shown, cut and signed like lettering."""

import json
import re
from pathlib import Path

import ezdxf
import pyogrio
import pypdf
import pytest
import shapely

from pipeline.cli import main
from pipeline.core.catalogue import format_message
from pipeline.core.errors import CannotRun
from pipeline.geometry.flatten import outline_area
from pipeline.run import run_order, take_snapshot
from tests.load_script import load_script
from tests.signoff.rounds import filled

ORDER = """
title = "Keepers of the Reach"
client = "Saltmarsh Rowers"
{units}[list]
file = "list.csv"
columns = {{ name = "Name", badge = "Badge" }}
[blank]
{blank}
[cutter]
use = "{cutter}"
[[line]]
text = "{{name}}"
face = "noto-sans"
cap_height = {cap}
{end}
"""
PLATE = 'shape = "rectangle"\nwidth = 120.0\nheight = 60.0\nthickness = 12.0\nmargin = 2.0'
SVG = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 12 12"{}>{}</svg>'
RING = '<circle cx="6" cy="6" r="5.4" fill="none" stroke="#000" stroke-width="1.2"/>'
CREST = '[[artwork]]\nfile = "crest.svg"\nat = [20.0, 30.0]\nwidth = 20.0\n'


class Shop:
    """An order folder that is rewritten for each test."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def write(self, end=CREST, *, rows=("Ida,", "Bo,"), blank=PLATE, cutter="vbit-60", cap=5.0, units=""):
        text = ORDER.format(end=end, blank=blank, cutter=cutter, cap=cap, units=units)
        (self.folder / "order.toml").write_text(text, encoding="utf-8")
        (self.folder / "list.csv").write_text("Name,Badge\n" + "\n".join(rows) + "\n", encoding="utf-8")

    def draw(self, body=RING, name="crest.svg", page=""):
        (self.folder / name).write_text(SVG.format(page, body), encoding="utf-8")

    def run(self, **how):
        result = run_order(self.folder, workers=1, **how)
        assert not result.broken and not result.outcome.faults
        return result

    def report(self):
        return json.loads((self.folder / "out/report.json").read_text(encoding="utf-8"))

    def codes(self):
        report = self.report()
        return [f["code"] for f in (*report["findings"], *(f for p in report["plaques"] for f in p["findings"]))]


@pytest.fixture
def shop(tmp_path):
    made = Shop(tmp_path)
    made.draw()
    return made


def files(shop, side=""):
    return sorted(p for p in (shop.folder / "out/cut").glob("*.dxf") if p.stem.endswith("-back") == bool(side))


def test_the_cut_file_has_the_area_of_the_drawing_as_gdal_reads_it(shop):
    """Every closed contour of ENGRAVE as GDAL reads it, by the even-odd rule; without lettering."""
    shop.write(end=CREST + '[files]\ncurves = "lines"\n')
    shop.run()
    fields, _, shapes, values = pyogrio.raw.read(files(shop)[0])
    layers = values[list(fields["fields"]).index("Layer")]
    area = shapely.Polygon()
    for shape, layer in zip(shapes, layers, strict=True):
        line = shapely.from_wkb(shape)
        if layer == "ENGRAVE" and line.bounds[2] < 31:
            area = shapely.symmetric_difference(area, shapely.Polygon(line.coords))
    found = take_snapshot(shop.folder).outcome.plaques[0].artwork.figures[0]
    exact = sum(outline_area(p.build_outline()) for p in found.rows[0].pieces)
    assert area.area == pytest.approx(exact, rel=0.005)
    assert area.bounds == pytest.approx((10, 20, 30, 40), abs=0.02)


@pytest.mark.parametrize("also", ["svg", "pdf"])
def test_it_is_in_every_kind_of_file_and_on_the_proof(shop, also):
    shop.write(end=CREST + f'[files]\nalso = ["{also}"]\n[proof]\nrevision = "A"\n')
    result = shop.run(prove=True)
    proved = dict(result.outcome.plaques[0].proved)
    assert proved["overcut"] < 0.02 and proved["undercut"] < 0.02
    assert proved[f"{also}_off"] < 0.001
    attached = pypdf.PdfReader(shop.folder / "out/proof.pdf").attachments
    drawings = json.loads(next(iter(attached.values()))[0])["drawings"]
    assert len(drawings["shapes"]) == len(set("IdaBo")) + 1


def test_grooves_of_artwork_are_written_and_compared_with_the_simulation(shop):
    shop.write(end=CREST + "[files]\ngrooves = true\n")
    shop.run()
    grooves = [e for e in ezdxf.readfile(files(shop)[0]).modelspace() if e.dxf.layer == "GROOVE"]
    inside = [v for g in grooves for v in g.points() if v.x < 31]
    assert min(v.z for v in inside) == pytest.approx(-(2.0 - 0.1) / 2 / 0.57735, abs=0.02)  # stroke 2 mm, 60°, tip 0.1


def test_lines_are_followed_on_their_own_layer(shop):
    """A border of two lines and a diagonal, followed at their own depth."""
    shop.draw('<rect x="1" y="1" width="10" height="10" fill="none" stroke="#000"/><path d="M3 3L9 9" stroke="#000"/>')
    shop.write(end=CREST + 'cut = "line"\ndepth = 0.4\n[files]\nalso = ["svg"]\n')
    result = shop.run(prove=True)
    found = [e for e in ezdxf.readfile(files(shop)[0]).modelspace() if e.dxf.layer == "LINE"]
    assert sorted(e.is_closed for e in found) == [False, True]
    assert b"followed 0.40 mm deep" in files(shop)[0].read_bytes()
    assert dict(result.outcome.plaques[0].proved)["undercut"] < 0.02
    assert result.outcome.plaques[0].figure_measures[0].measurements[-1].value == 0.4


def test_a_line_of_a_v_bit_needs_a_depth(shop):
    shop.write(end=CREST + 'cut = "line"\n')
    with pytest.raises(CannotRun, match="depth"):
        shop.run()


@pytest.mark.parametrize("cutter", ["point", "laser-fine", "endmill-1-5"])
def test_other_cutters_take_it_too(shop, cutter):
    end = 'align = "right"\n' + CREST + "[limits]\ndeepest = 0.3\n"
    shop.write(cutter=cutter, cap=8.0, end=end, rows=("I X,",))
    shop.run(files=False)
    assert not [c for c in shop.codes() if c.startswith("artwork.") and c != "artwork.corner-left"]


def test_lettering_keeps_clear_of_it_by_the_margin(shop):
    """A ring in the middle of the plate: no room is left for a centred name, but there is beside it."""
    long = ("Ida Dadda Dad,",)
    shop.write(end='align = "left"\nbreaks = 3\n' + CREST.replace("20.0, 30.0", "60.0, 30.0"), rows=long)
    plaque = take_snapshot(shop.folder).outcome.plaques[0]
    crest = shapely.union_all([shapely.Point(60, 30).buffer(10)])
    letters = [piece for row in plaque.artwork.lines[0].rows for piece in row.pieces]
    boxes = [shapely.MultiPoint([p for path in piece.build_outline() for p in path.points]) for piece in letters]
    assert min(crest.distance(box.convex_hull) for box in boxes) > 1.99


def test_a_fault_of_a_crest_is_reported_once_and_stops_every_plaque(shop, capsys):
    shop.draw(RING.replace("1.2", "0.1"))
    shop.write(rows=("Ida Vex,", "Bo Skua,", "Una Tern,"))
    assert main(["check", str(shop.folder)]) == 1
    said = capsys.readouterr().out
    assert said.count("artwork.stroke-too-thin]") == 1
    assert "no plaque of the order can be cut" in said
    assert "3 cannot be cut" in said


def test_the_size_advised_for_a_drawing_too_fine_works(shop):
    shop.draw(RING.replace("1.2", "0.1"))
    shop.write(end=CREST.replace("20.0\n", "16.0\n"))
    result = shop.run(files=False)
    (finding,) = [f for f in result.outcome.findings if f.code == "artwork.stroke-too-thin"]
    (wider,) = [way for way in finding.ways if way.code == "artwork-larger"]
    (edit,) = wider.edits
    assert (edit.table, edit.number, edit.key) == ("artwork", 1, "width")
    shop.write(end=CREST.replace("20.0\n", f"{edit.value}\n"))
    assert "artwork.stroke-too-thin" not in {f.code for f in shop.run(files=False).outcome.findings}


@pytest.mark.parametrize("deepest", ["", "[limits]\ndeepest = 2.9\n"])
def test_a_crest_cut_through_the_floor_stops_the_order_and_a_smaller_one_works(shop, deepest):
    """A bar of a ring 20 mm wide is 2 mm wide: 1.65 mm deep with a 60° bit of tip 0.1. Of a plate of 3.2 mm, 2 have
    to stay."""
    end = deepest + "[stock]\nleast_floor = 2.0\n" + CREST
    thin = PLATE.replace("12.0", "3.2")
    shop.write(end=end, blank=thin)
    (finding,) = [f for f in shop.run(files=False).outcome.findings if f.code == "stock.floor-too-thin"]
    assert finding.severity == "stop" and finding.measured == pytest.approx(3.2 - 1.645, abs=0.01)
    assert format_message(finding).startswith("artwork 1 “crest.svg”: the widest area takes a groove 1.65 mm deep, ")
    (smaller,) = [way for way in finding.ways if way.code == "artwork-smaller"]
    shop.write(end=end.replace("20.0\n", f"{smaller.edits[0].value}\n"), blank=thin)
    assert "stock.floor-too-thin" not in {f.code for f in shop.run(files=False).outcome.findings}
    shop.write(end=end, blank=PLATE)
    assert "stock.floor-too-thin" not in {f.code for f in shop.run(files=False).outcome.findings}


def test_a_crest_with_a_flat_floor_and_one_that_is_milled_leave_a_floor_too(shop):
    thin = PLATE.replace("12.0", "3.2")
    floors = "[limits]\ndeepest = 1.4\n[stock]\nleast_floor = 2.0\n"
    flat = "[files]\ngrooves = true\n[clearing]\ndiameter = 0.5\n"
    for cutter, also in (("vbit-60", flat), ("endmill-0-8", "")):
        shop.write(end=floors + also + CREST, blank=thin, cutter=cutter, cap=15.0)
        found = [f for f in shop.run(files=False).outcome.findings if f.code == "stock.floor-too-thin"]
        assert [format_message(f).partition(" 1.4")[0] for f in found] == ["artwork 1 “crest.svg”: its cut is"]
        assert found[0].ways[0].edits[0].value == 1.2


def test_sanding_and_compensating_count_as_for_letters(shop):
    """Sanding by s makes a groove narrower by 2 s tan(30°): at 0.2 mm by 0.231 mm. The ring's ink is 20 mm wide."""
    shop.draw(RING.replace("1.2", "0.24"))
    shop.write(end=CREST + "[finish]\nsanded_off = 0.2\n")
    (finding,) = [f for f in shop.run(files=False).outcome.findings if f.code == "artwork.stroke-too-thin"]
    assert finding.measured == pytest.approx(0.24 * 20 / 11.04 - 2 * 0.2 * 0.57735, rel=0.01)
    shop.write(end=CREST + "[finish]\nsanded_off = 0.2\ncompensate = true\n", rows=("I,",))
    shop.run(files=False)
    assert "artwork.stroke-too-thin" not in shop.codes()


def test_specks_are_dropped_and_reported(shop):
    dust = "".join(f'<rect x="{x}" y="6" width="0.03" height="0.03"/>' for x in range(3, 9))
    shop.draw(RING + dust)
    shop.write()
    shop.run(files=False)
    (finding,) = [f for f in shop.report()["findings"] if f["code"] == "artwork.specks"]
    assert "6 specks" in finding["message"]
    assert len(take_snapshot(shop.folder).outcome.plaques[0].artwork.figures[0].rows[0].pieces[0].shape.outline) == 2


# --- places and sizes -------------------------------------------------------------------------------------------------


def box(shop, row=0):
    return shop.report()["plaques"][row]["artwork"][0]["box"]


def test_its_own_size_counts_if_it_has_one(shop):
    shop.draw(page=' width="24mm" height="24mm"')
    shop.write(end='[[artwork]]\nfile = "crest.svg"\nat = [30.0, 30.0]\n')
    shop.run(files=False)
    assert box(shop) == pytest.approx([18, 18, 42, 42], abs=0.001)


def test_a_missing_size_is_asked_for(shop):
    shop.write(end='[[artwork]]\nfile = "crest.svg"\nat = [30.0, 30.0]\n')
    shop.run(files=False)
    assert "artwork.no-size" in shop.codes()


def test_places_and_sizes_are_plain_numbers(shop):
    """Papers write them as they are; they can't handle an array library's number types."""
    shop.write(end=CREST + "turn = 30.0\n")
    (figure,) = take_snapshot(shop.folder).outcome.plaques[0].artwork.figures
    piece = figure.rows[0].pieces[0]
    numbers = (figure.width, figure.cap_height, figure.slack, figure.rows[0].x, figure.rows[0].baseline)
    assert {type(v) for v in (*numbers, piece.x, piece.y, piece.scale, piece.turn)} == {float}


def test_a_rotated_drawing_keeps_its_middle(shop):
    shop.draw('<rect x="1" y="4" width="10" height="3"/>')
    shop.write(end=CREST + "turn = 90.0\n")
    shop.run(files=False)
    assert box(shop) == pytest.approx([17, 20, 23, 40], abs=0.001)


def test_a_drawing_is_fitted_and_centred_in_its_zone(shop):
    doc = ezdxf.new()
    doc.header["$INSUNITS"] = 4
    for layer, (x0, y0, x1, y1) in {"EDGE": (0, 0, 120, 60), "A": (5, 5, 45, 55), "B": (50, 5, 115, 55)}.items():
        corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
        doc.modelspace().add_lwpolyline(corners, close=True, dxfattribs={"layer": layer})
    doc.saveas(shop.folder / "plate.dxf")
    blank = 'drawing = "plate.dxf"\nlayers = { zone = ["A", "B"] }\nmargin = 2.0'
    shop.write(end='zone = "B"\n[[artwork]]\nfile = "crest.svg"\nzone = "A"\n', blank=blank)
    shop.run(files=False)
    assert box(shop) == pytest.approx([7, 12, 43, 48], abs=0.01)
    assert "artwork.made-to-fit" in shop.codes()


def test_a_drawing_on_the_back_is_seen_from_there(shop):
    shop.write(end=CREST + 'side = "back"\n')
    shop.run()
    assert len(files(shop, "back")) == 2
    (ring,) = {e.dxf.layer for e in ezdxf.readfile(files(shop, "back")[0]).modelspace()} & {"ENGRAVE"}
    assert ring


def test_a_crest_in_the_drawing_of_the_blank_is_reported_or_cut_in_place(shop):
    doc = ezdxf.new()
    doc.header["$INSUNITS"] = 4
    space = doc.modelspace()
    space.add_lwpolyline([(5, 5), (125, 5), (125, 65), (5, 65)], close=True, dxfattribs={"layer": "EDGE"})
    space.add_lwpolyline([(50, 10), (120, 10), (120, 60), (50, 60)], close=True, dxfattribs={"layer": "LETTERING"})
    for radius in (10, 8):
        space.add_circle((25, 35), radius, dxfattribs={"layer": "LOGO"})
    doc.saveas(shop.folder / "plate.dxf")
    shop.write(end="", blank='drawing = "plate.dxf"\nthickness = 12.0')
    shop.run(files=False)
    (finding,) = [f for f in shop.report()["findings"] if f["code"] == "drawing.not-cut"]
    assert "LOGO" in finding["message"]
    assert finding["ways"][0]["edits"] == [{"table": "blank", "number": None, "key": "layers.artwork", "value": "LOGO"}]
    shop.write(end="", blank='drawing = "plate.dxf"\nlayers = { artwork = "LOGO" }\nthickness = 12.0')
    shop.run()
    assert box(shop) == pytest.approx([10, 20, 30, 40], abs=0.001)
    assert "drawing.not-cut" not in shop.codes()


# --- by row -----------------------------------------------------------------------------------------------------------

BADGE = CREST.replace("crest.svg", "{badge}.svg")


def test_a_badge_by_row_and_none_for_an_empty_cell(shop):
    shop.draw(RING, "gull.svg")
    shop.draw('<rect x="1" y="1" width="10" height="10"/>', "tern.svg")
    shop.write(BADGE, rows=("Ida Vex,gull", "Bo Skua,Tern.svg", "Una Tern,", "Ada Kite,heron"), cutter="laser-fine")
    shop.run(files=False)
    plaques = shop.report()["plaques"]
    assert [[a["file"] for a in p["artwork"]] for p in plaques] == [["gull.svg"], ["Tern.svg"], [], []]
    assert [p["state"] == "stopped" for p in plaques] == [False, False, False, True]
    (finding,) = plaques[3]["findings"]
    assert finding["code"] == "artwork.missing" and "cell B5" in finding["message"]


OUTSIDE = ("../outside", "/etc/passwd", "a\\b", "\u202e", "con", "x" * 300, "\\" + "x" * 300, ".", "folder")


def test_a_badge_never_leads_out_of_the_folder(shop):
    (shop.folder / "folder.svg").mkdir()
    shop.write(BADGE, rows=("Bo Skua,", *(f"Ida Vex,{cell}" for cell in OUTSIDE)))
    shop.run(files=False)
    first, *others = shop.report()["plaques"]
    assert first["state"] != "stopped" and len(others) == len(OUTSIDE)
    for plaque in others:
        assert plaque["state"] == "stopped"
        finding = next(f for f in plaque["findings"] if f["code"] == "artwork.missing")
        assert f"asked for by cell B{plaque['row']}" in finding["message"]


def test_a_hostile_badge_stops_its_plaque_alone(shop):
    shop.draw("<script>alert(1)</script>" + RING, "gull.svg")
    shop.write(BADGE, rows=("Ida Vex,gull", "Bo Skua,"))
    shop.run(files=False)
    first, second = shop.report()["plaques"]
    assert (first["state"], second["state"]) == ("stopped", "ready")
    assert "script" in first["findings"][0]["message"]


# --- signing ----------------------------------------------------------------------------------------------------------


def marks(shop):
    return [p["fingerprint"] for p in shop.report()["plaques"]]


def test_the_fingerprint_covers_the_curves_and_not_the_file(shop):
    shop.write()
    shop.run(files=False)
    first = marks(shop)
    shop.draw(RING + "<!-- another program wrote this -->", "shield.svg")
    shop.write(end=CREST.replace("crest", "shield"))
    shop.run(files=False)
    assert marks(shop) == first
    shop.draw(RING.replace("5.4", "5.3"))
    shop.write()
    shop.run(files=False)
    assert not set(marks(shop)) & set(first)
    shop.write(end="")
    shop.run(files=False)
    assert not set(marks(shop)) & set(first)


def test_a_changed_crest_withdraws_sign_offs_and_the_next_proof_shows_both(shop, capsys):
    shop.write()
    shop.run()
    sheet = filled(shop.folder / "out/check.xlsx", shop.folder / "answer.xlsx", {2: "agreed", 3: "agreed"}, by="Rowan")
    assert main(["sign", str(shop.folder), str(sheet)]) == 0
    assert main(["release", str(shop.folder)]) == 0
    shop.draw(RING.replace("1.2", "1.6"))
    shop.run()
    capsys.readouterr()
    assert main(["release", str(shop.folder)]) == 1
    assert "sign.changed-since" in capsys.readouterr().out
    text = "".join(page.extract_text() for page in pypdf.PdfReader(shop.folder / "out/proof.pdf").pages)
    assert re.search(r"proof A", text) and "now" in text


def test_a_full_cache_gives_what_an_empty_one_does_and_a_changed_file_is_seen(shop):
    shop.write(end=CREST + "[files]\ngrooves = true\n")
    kept = [shop.run() and marks(shop) for _ in range(2)]
    shop.run(fresh=True)
    assert kept[0] == kept[1] == marks(shop)
    shop.draw(RING.replace("1.2", "1.3"))
    shop.run()
    assert not set(marks(shop)) & set(kept[0])


def test_inches_are_inches(shop):
    blank = 'shape = "rectangle"\nwidth = 5.0\nheight = 2.5\nthickness = 0.5\nmargin = 0.1'
    end = '[[artwork]]\nfile = "crest.svg"\nat = [1.0, 1.25]\nwidth = 0.8\n'
    shop.write(end=end, blank=blank, cap=0.2, units='units = "in"\n')
    shop.run(files=False)
    assert box(shop) == pytest.approx([15.24, 21.59, 35.56, 41.91], abs=0.001)


def test_the_wrong_file_in_the_order_is_named(shop):
    for end, word in (
        (CREST.replace("crest.svg", "crest.png"), "crest.png"),
        (CREST.replace("crest.svg", "../crest.svg"), "leads out"),
        (CREST.replace("crest.svg", "{emblem}.svg"), "emblem"),
        (CREST + 'zone = "LETTERING"\n', "zone and at"),
        (CREST + "depth = 0.3\n", "depth"),
        (CREST + 'layers = ["A"]\n', "no layers"),
        (CREST.replace("at = [20.0, 30.0]\n", ""), "neither zone nor at"),
        (CREST.replace("width", "widht"), "widht"),
    ):
        shop.write(end=end)
        with pytest.raises(CannotRun, match=re.escape(word)):
            shop.run(files=False)


def test_the_sample_order_is_what_its_generator_writes():
    made = load_script("make_samples/regatta_plaques.py")
    for name, data in made.files().items():
        assert (made.TARGET / name).read_bytes() == data, name
