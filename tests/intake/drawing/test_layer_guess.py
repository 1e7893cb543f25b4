"""`plaques start LIST --drawing`: how the layers of a drawing are interpreted, and what stays uncertain."""

import json
import tomllib

import ezdxf
import pytest

from pipeline.cli import main
from pipeline.commands.start_command import start
from pipeline.core.errors import CannotRun
from pipeline.core.units import MM_PER_INCH
from pipeline.intake.drawing.blank_drawing import read_blank
from pipeline.intake.drawing.layer_guess import guess_blank
from pipeline.intake.new_order import plan_order
from pipeline.intake.new_order_text import write_order_text
from pipeline.intake.order.order_file import read_order

PLATE = (0.0, 0.0, 120.0, 80.0)
SCREWS = [(10.0, 10.0, 2.0), (110.0, 10.0, 2.0)]


def drawn(path, shapes, units=4, texts=()):
    """Draw these (layer, box), (layer, (x, y, radius)) or (layer, open line of several points)."""
    doc = ezdxf.new("R2010", units=units)
    space = doc.modelspace()
    for layer, shape in shapes:
        if isinstance(shape, list):
            space.add_lwpolyline(shape, dxfattribs={"layer": layer})
        elif len(shape) == 3:
            space.add_circle(shape[:2], shape[2], dxfattribs={"layer": layer})
        else:
            x0, y0, x1, y1 = shape
            corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
            space.add_lwpolyline(corners, close=True, dxfattribs={"layer": layer})
    for layer, text in texts:
        space.add_text(text, dxfattribs={"layer": layer})
    doc.saveas(path)
    return path


def guessed(tmp_path, shapes, **more):
    path = drawn(tmp_path / "plate.dxf", shapes, **more)
    return guess_blank(path, path.read_bytes(), path.name)


def listed(folder):
    path = folder / "winners.csv"
    path.write_text("Name,Prize\nIda Vex,Cup\nBo Skua,Shield\n", encoding="utf-8")
    return path


@pytest.fixture
def listing(tmp_path):
    return listed(tmp_path)


def begun(listing, drawing, *more):
    """Start an order with this drawing and return its folder."""
    assert main(["start", str(listing), "--drawing", str(drawing), *more]) == 0
    return listing.parent / "winners"


def test_a_drawing_with_one_layer_needs_no_layer_names_and_each_guess_is_reported(tmp_path, listing, capsys):
    path = drawn(tmp_path / "plate.dxf", [("0", PLATE), *(("0", hole) for hole in SCREWS)])
    folder = begun(listing, path)
    said = capsys.readouterr().out
    assert "drawn in millimetres: a blank of 120 × 80 mm" in said
    assert "0: edge, its largest loop, with 2 holes" in said and "anywhere inside the edge" in said
    text = (folder / "order.toml").read_text(encoding="utf-8")
    order = tomllib.loads(text)
    assert order["blank"] == {"drawing": "plate.dxf", "thickness": 6.0, "margin": 4.0} and order["units"] == "mm"
    assert "#   0: edge, its largest loop, with 2 holes" in text
    assert (folder / "plate.dxf").read_bytes() == path.read_bytes()
    blank, _ = read_blank(read_order(folder))
    assert (blank.width, blank.height, len(blank.holes)) == (120.0, 80.0, 2)


def test_layers_with_other_names_are_interpreted_by_them_and_marked(tmp_path, listing, capsys):
    shapes = [("PLATE OUTLINE", PLATE), *(("Screws", hole) for hole in SCREWS), ("Schrift", (15, 15, 105, 65))]
    shapes += [("Resin pocket", (20, 20, 40, 40)), ("Crest", (50, 50, 60, 60)), ("DIM", [(0, -9), (120, -9)])]
    folder = begun(listing, drawn(tmp_path / "plate.dxf", shapes, texts=[("DIM", "120")]))
    said = capsys.readouterr().out
    text = (folder / "order.toml").read_text(encoding="utf-8")
    assert tomllib.loads(text)["blank"]["layers"] == {
        "edge": "PLATE OUTLINE",
        "zone": "Schrift",
        "keep_out": "Screws",
        "pocket": "Resin pocket",
        "artwork": "Crest",
    }
    for words in ("PLATE OUTLINE: edge, by its name", "Screws: keep-out, not cut, by its name", "Crest: artwork"):
        assert f"check this: {words}" in said and f"#   check this: {words}" in text
    assert "DIM: not used, nothing on it is closed" in said
    assert read_blank(read_order(folder))[0].pockets


def test_our_own_layer_names_are_certain_and_not_written(tmp_path):
    found = guessed(tmp_path, [("edge", PLATE), ("LETTERING", (5, 5, 115, 75)), ("Keep_Out", SCREWS[0])])
    assert found.unsure == [] and found.needed_layers == {} and len(found.blank.keep_outs) == 1


def test_without_telling_names_the_edge_is_the_largest_loop_and_small_circles_are_keep_outs(tmp_path):
    shapes = [("A", PLATE), *(("B", hole) for hole in SCREWS), ("C", (20, 20, 100, 60)), ("D", (30, 30, 35, 60))]
    found = guessed(tmp_path, [*shapes, ("D", (40, 30, 45, 60))])
    assert {g.layer: g.role for g in found.layers} == {"A": "edge", "B": "keep_out", "C": "zone", "D": ""}
    assert len(found.unsure) == 4
    assert {f.code for f in found.findings} >= {"drawing.not-cut"}


def test_a_sheet_frame_round_the_blank_is_not_its_edge_if_a_layer_says_edge(tmp_path):
    found = guessed(tmp_path, [("FRAME", (-50, -50, 250, 160)), ("Umriß", PLATE)])
    assert {g.layer: g.role for g in found.layers} == {"FRAME": "", "Umriß": "edge"}
    assert found.blank.width == 120.0


def test_several_zones_and_lines_in_the_largest(tmp_path, listing):
    shapes = [("EDGE", PLATE), ("TEXT LEFT", (5, 5, 50, 75)), ("TEXT RIGHT", (55, 5, 115, 75))]
    folder = begun(listing, drawn(tmp_path / "plate.dxf", shapes))
    order = tomllib.loads((folder / "order.toml").read_text(encoding="utf-8"))
    assert order["blank"]["layers"] == {"zone": ["TEXT LEFT", "TEXT RIGHT"]}
    assert {line["zone"] for line in order["line"]} == {"TEXT RIGHT"}
    assert order["line"][0]["cap_height"] < 8.0  # there is less room than on the plain plate


def test_two_layers_of_one_kind_and_outlines_side_by_side_are_reported_and_not_used(tmp_path):
    shapes = [("EDGE", PLATE), ("POCKET", (10, 10, 40, 40)), ("resin 2", (50, 10, 60, 20))]
    found = guessed(tmp_path, [*shapes, ("Texts", (70, 10, 80, 70)), ("Texts", (90, 10, 99, 70))])
    words = {g.layer: g.words for g in found.layers}
    assert "“POCKET” is the layer of that kind already" in words["resin 2"]
    assert "but with 2 outlines: put each on" in words["Texts"]
    assert len(found.blank.pockets) == 1


def test_a_layer_with_an_unknown_name_stays_a_question_in_the_order(tmp_path, listing):
    shapes = [("EDGE", PLATE), ("X", (20, 20, 30, 30)), ("X", (40, 20, 50, 30))]
    folder = begun(listing, drawn(tmp_path / "plate.dxf", shapes))
    _, findings = read_blank(read_order(folder))
    assert {"drawing.zone-unsure", "drawing.not-cut"} <= {f.code for f in findings}


def test_a_drawing_in_inches_makes_an_order_in_inches(tmp_path, listing):
    folder = begun(listing, drawn(tmp_path / "sign.dxf", [("0", (0, 0, 6, 2))], units=1))
    order = tomllib.loads((folder / "order.toml").read_text(encoding="utf-8"))
    assert order["units"] == "in" and order["blank"]["thickness"] == 0.25
    assert read_blank(read_order(folder))[0].width == pytest.approx(6 * MM_PER_INCH)


def test_the_unit_of_the_shop_wins_and_the_drawing_keeps_its_own(tmp_path, listing):
    (tmp_path / "shop.toml").write_text('units = "mm"\n', encoding="utf-8")
    folder = begun(listing, drawn(tmp_path / "sign.dxf", [("0", (0, 0, 6, 2))], units=1))
    assert tomllib.loads((folder / "order.toml").read_text(encoding="utf-8"))["units"] == "mm"
    assert read_blank(read_order(folder))[0].width == pytest.approx(6 * MM_PER_INCH)


def test_a_drawing_without_a_unit_is_asked_for_it_and_takes_it(tmp_path, listing, capsys):
    path = drawn(tmp_path / "sign.dxf", [("0", (0, 0, 6, 2))], units=0)
    assert main(["start", str(listing), "--drawing", str(path)]) == 2
    assert "it is 6 × 2 in whatever unit" in (said := capsys.readouterr().err) and "--drawing-units mm" in said
    assert not (tmp_path / "winners").exists()
    folder = begun(listing, path, "--drawing-units", "in")
    order = tomllib.loads((folder / "order.toml").read_text(encoding="utf-8"))
    assert order["blank"]["drawing_units"] == "in" and order["units"] == "in"
    assert read_blank(read_order(folder))[0].width == pytest.approx(6 * MM_PER_INCH)


OPEN = [(0, 0), (120, 0), (120, 80), (0, 80), (0, 9)]


@pytest.mark.parametrize(
    ("shapes", "said"),
    [
        ([], "nothing in the drawing is a line, an arc or a curve, only 1 TEXT"),
        (
            [("0", OPEN)],
            "does not close: an open end at x 0.00, y 0.00 (millimetres), the nearest other end at x 0.00, y 9.00",
        ),
        ([("EDGE", OPEN), ("LETTERING", (5, 5, 50, 50))], "layer EDGE: the contour does not close"),
        ([("0", PLATE), ("0", (5, 5, 115, 75))], "too large for a hole"),
        ([("0", PLATE), ("0", (200, 0, 250, 50))], "2 outlines that are not holes"),
        ([("A", [(0, 0), (9, 0)]), ("B", [(0, 0), (0, 9)])], "does not close"),
    ],
)
def test_bad_drawings_are_refused(tmp_path, shapes, said):
    with pytest.raises(CannotRun) as refused:
        guessed(tmp_path, shapes, texts=[("0", "hello")])
    assert said in str(refused.value)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"AC1027\0\0", "this is a DWG drawing"),
        (b"\x00\xff" * 500, "cannot be read as a drawing"),
        (b"0\nSECTION\n2\nENTITIES\n" * 50, ""),
    ],
)
def test_a_file_that_is_not_a_drawing_is_refused(tmp_path, data, said):
    with pytest.raises(CannotRun) as refused:
        guess_blank(tmp_path / "plate.dxf", data, "plate.dxf")
    assert said in str(refused.value)


def test_after_a_bad_drawing_nothing_is_written(tmp_path, listing, capsys):
    path = drawn(tmp_path / "plate.dxf", [("0", OPEN)])
    assert main(["start", str(listing), "--drawing", str(path), "--shop", str(tmp_path)]) == 2
    assert "does not close" in capsys.readouterr().err
    assert sorted(p.name for p in tmp_path.iterdir()) == ["plate.dxf", "winners.csv"]


def test_a_drawing_that_is_missing_or_a_folder_or_without_a_list(tmp_path, listing, capsys):
    for words in ([str(tmp_path / "none.dxf")], [str(tmp_path)]):
        assert main(["start", str(listing), "--drawing", *words]) == 2
    assert main(["start", "--shop", str(tmp_path), "--drawing", str(tmp_path / "none.dxf")]) == 2
    assert main(["start", str(listing), "--drawing-units", "mm"]) == 2
    assert "no drawing is named" in capsys.readouterr().err
    assert sorted(p.name for p in tmp_path.iterdir()) == ["winners.csv"]


def test_drawing_names_that_some_systems_cannot_handle_are_changed(tmp_path, listing):
    path = drawn(tmp_path / "plate\u202efxd.dxf", [("0", PLATE)])
    folder = begun(listing, path)
    assert sorted(p.name for p in folder.iterdir()) == ["drawing.dxf", "order.toml", "winners.csv"]
    other = path.rename(tmp_path / "plate.dxf.bak")
    assert main(["start", str(listing), "--drawing", str(other), "--in", str(tmp_path / "b")]) == 0
    assert (tmp_path / "b" / "plate.dxf.dxf").is_file()


def test_layers_whose_names_look_like_toml(tmp_path):
    """Names that the library that wrote the drawing wouldn't write."""
    names = {"Q1": 'a"edge\\', "Q2": "zone ]", "Q3": "hole # x", "Q4": "\u202epocket"}
    shapes = [("Q1", PLATE), ("Q2", (15, 15, 105, 65)), ("Q3", SCREWS[0]), ("Q4", (20, 20, 30, 30))]
    path = drawn(tmp_path / "plate.dxf", shapes)
    data = path.read_bytes()
    for plain, odd in names.items():
        data = data.replace(f"\n{plain}\n".encode(), f"\n{odd}\n".encode())
    found = guess_blank(path, data, path.name)
    assert {g.layer: g.role for g in found.layers} == dict(
        zip(names.values(), ("edge", "zone", "keep_out", "pocket"), strict=True)
    )
    plan = plan_order(listed(tmp_path))
    layers = tomllib.loads(write_order_text(plan, drawn=found))["blank"]["layers"]
    assert layers == found.needed_layers and list(layers.values()) == list(names.values())


def test_a_folder_with_another_drawing_of_that_name_is_left_alone(tmp_path, listing):
    path = drawn(tmp_path / "plate.dxf", [("0", PLATE)])
    (tmp_path / "order").mkdir()
    (tmp_path / "order" / "plate.dxf").write_bytes(b"mine")
    with pytest.raises(CannotRun, match="already another file of this name"):
        start(listing, folder=tmp_path / "order", drawing=path, say=print)
    assert sorted(p.name for p in (tmp_path / "order").iterdir()) == ["plate.dxf"]


def test_a_tiny_plate_starts_with_letters_that_can_be_cut_and_json_has_everything(tmp_path, listing, capsys):
    path = drawn(tmp_path / "tag.dxf", [("TAG", (0, 0, 12, 6)), ("TEXT", (1, 1, 11, 5))])
    assert main(["start", str(listing), "--drawing", str(path), "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["blank"] | {"findings": []} == {
        "drawing": "tag.dxf",
        "drawn_in": "millimetres",
        "width": 12.0,
        "height": 6.0,
        "holes": 0,
        "layers": [
            {"layer": "TAG", "taken_for": "edge", "why": "the largest loop", "sure": False},
            {"layer": "TEXT", "taken_for": "zone", "why": "by its name", "sure": False},
        ],
        "findings": [],
    }
    assert "TEXT: zone, by its name" in said["check"]
    line = tomllib.loads((tmp_path / "winners" / "order.toml").read_text(encoding="utf-8"))["line"][0]
    assert line["cap_height"] >= line["smallest"] == 1.5


def test_faults_of_a_drawing_name_no_key_before_there_is_an_order(tmp_path):
    """An open end, ends that meet, a loop too large for a hole: the remedy is in the drawing."""
    for shapes in (
        [("0", [(0, 0), (100, 0), (100, 40), (0, 40), (0, 0.5)])],
        [("0", [(0, 0), (100, 0), (100, 40), (0, 0)]), ("0", [(0, 0), (50, 90)])],
        [("0", PLATE), ("0", (2.0, 2.0, 118.0, 78.0))],
    ):
        with pytest.raises(CannotRun) as refused:
            guessed(tmp_path, shapes)
        assert "[blank]" not in str(refused.value) and "order.toml" not in str(refused.value)
