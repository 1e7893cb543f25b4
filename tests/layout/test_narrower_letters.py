"""Narrower letters of a variable font as a measure: before breaking and before a smaller size, in whole steps.

The font is Noto Sans with its width axis (tests/reference/variable). Its instances are compared with fontTools'
instancer, its advances with the hb-shape program; the pipeline uses neither for setting.
"""

import json
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
from fontTools.pens.boundsPen import BoundsPen
from fontTools.ttLib import TTFont
from fontTools.varLib.instancer import instantiateVariableFont
from pypdf import PdfReader

from pipeline.core.catalogue import format_for_client, format_remedy
from pipeline.core.config.order import Order
from pipeline.core.errors import CannotRun
from pipeline.core.model import Blank
from pipeline.geometry.curves import Chain
from pipeline.geometry.flatten import outline_box
from pipeline.layout.copy_fitting import WIDTH_STEP, list_width_steps
from pipeline.layout.fit_findings import list_fit_findings
from pipeline.layout.typesetter import LineText, Typesetter
from pipeline.lettering.font_face import open_face
from pipeline.lettering.shaping import shape_row
from pipeline.run import run_order

FONTS = Path(__file__).parents[1] / "reference" / "variable"
FONT = "noto-sans-latin-wdth-normal.woff2"
NAME = "Wilhelmina Featherstone-Vex"


@pytest.fixture(scope="module")
def variable():
    return open_face(FONT, FONTS)


def setter(face, room, **line):
    """room: mm for the ink, within margins of 4."""
    order = Order.model_validate(
        {
            "title": "T",
            "list": {"file": "l.csv"},
            "blank": {"shape": "rectangle", "margin": 4.0},
            "line": [{"text": "{name}", "face": FONT, "cap_height": 8.0, "smallest": 4.0, **line}],
        }
    )
    x1 = room + 8.0
    zone = Chain(np.array([[0, 0, 0], [x1, 0, 0], [x1, 60, 0], [0, 60, 0]], float))
    blank = Blank(edge=zone, width=x1, height=60.0, thickness=5.0, zones=(("LETTERING", zone),))
    return Typesetter(order, blank, [[face]])


def one(s, text=NAME):
    texts = [LineText(line=1, text=text)]
    tried = s.set_lines(texts)
    return tried[0], {f.code: f for f in list_fit_findings(s, texts, tried)}


def width_of(face, text=NAME, cap=8.0, width=None, tracking=0):
    row = shape_row([face if width is None else face.with_width(width)], text, tracking=tracking)
    return (row.ink[2] - row.ink[0]) * cap / row.cap_units


def test_steps_of_width():
    assert list_width_steps(100.0, 92.0) == (97.5, 95.0, 92.5, 92.0)
    assert list_width_steps(100.0, 100.0) == ()
    assert list_width_steps(98.0, 95.0) == (97.5, 95.0)
    assert WIDTH_STEP == 2.5


@pytest.mark.parametrize("width", [85.0, 62.5])
def test_an_instance_equals_that_of_a_second_implementation(variable, width):
    narrow = variable.with_width(width)
    font = instantiateVariableFont(TTFont(FONTS / FONT), {"wdth": width, "wght": 400})
    glyphs, cmap = font.getGlyphSet(), font.getBestCmap()
    for letter in "HamburgeFonts &Q":
        if letter == " ":
            continue
        name = cmap[ord(letter)]
        pen = BoundsPen(glyphs)
        glyphs[name].draw(pen)
        row = shape_row([narrow], letter)
        assert np.allclose(outline_box(row.shapes[0].shape.outline), pen.bounds, atol=1.0), letter
        assert row.advance == pytest.approx(glyphs[name].width, abs=1.0)


@pytest.mark.skipif(shutil.which("hb-shape") is None, reason="hb-shape (Debian: libharfbuzz-bin) is not installed")
def test_advances_equal_those_of_hb_shape(variable, tmp_path):
    font = TTFont(FONTS / FONT)
    font.flavor = None
    font.save(tmp_path / "v.ttf")
    said = subprocess.run(
        ["hb-shape", "--variations=wdth=80", "--output-format=json", str(tmp_path / "v.ttf"), NAME],
        capture_output=True,
        text=True,
        check=True,
    )
    total = sum(glyph["ax"] for glyph in json.loads(said.stdout))
    assert shape_row([variable.with_width(80.0)], NAME).advance == pytest.approx(total, abs=len(NAME) / 2)


def test_letters_keep_their_width_unless_the_line_allows_it(variable):
    tried, said = one(setter(variable, width_of(variable) * 0.95))
    assert tried.setting.width is None
    assert tried.setting.cap_height < 8.0 and "fit.set-smaller" in said and "fit.set-narrower" not in said


def test_narrower_comes_before_breaking_and_before_smaller(variable):
    s = setter(variable, width_of(variable, width=90.0) + 0.01, least_width=80.0, breaks=2)
    tried, said = one(s)
    assert (tried.setting.cap_height, tried.setting.rows, tried.setting.width) == (8.0, (NAME,), 90.0)
    assert set(said) == {"fit.set-narrower"}
    assert (said["fit.set-narrower"].measured, said["fit.set-narrower"].limit) == (90.0, 80.0)
    assert width_of(variable, width=92.5) > width_of(variable, width=90.0) + 0.01  # the next step up doesn't fit


def test_tighter_comes_before_narrower_and_the_least_tight_of_the_width_is_taken(variable):
    tight = width_of(variable, tracking=-20)
    tried, said = one(setter(variable, tight + 0.01, least_width=80.0, tightest=-20))
    assert (tried.setting.width, tried.setting.tracking) == (None, -20)
    assert set(said) == {"fit.set-tighter"}

    tried, said = one(setter(variable, tight - 0.5, least_width=80.0, tightest=-20))
    assert tried.setting.width == 97.5 and -20 <= tried.setting.tracking <= 0
    room = tight - 0.5
    assert width_of(variable, width=97.5, tracking=tried.setting.tracking) <= room
    assert width_of(variable, width=97.5, tracking=tried.setting.tracking + 1) > room
    assert set(said) == {"fit.set-tighter", "fit.set-narrower"}


def test_a_line_that_fits_at_no_width_is_set_smaller_and_as_wide_as_possible(variable):
    room = width_of(variable, width=80.0) * 0.9
    tried, _ = one(setter(variable, room, least_width=80.0))
    size, width = tried.setting.cap_height, tried.setting.width
    assert size < 8.0 and width is not None and width >= 80.0
    assert width_of(variable, cap=size, width=width) <= room
    assert width_of(variable, cap=size + 0.25, width=80.0) > room


def test_narrowing_starts_from_the_axis_value_of_the_order():
    face = open_face(FONT, FONTS, axes={"wdth": 80.0})
    assert face.widths == (62.5, 80.0)
    s = setter(face, width_of(face, width=75.0) + 0.01, axes={"wdth": 80.0}, least_width=70.0)
    tried, said = one(s)
    assert tried.setting.width == 75.0
    assert said["fit.set-narrower"].get_fact("designed") == 80.0


def test_each_width_is_opened_once_and_named_in_the_cut_file(variable):
    assert variable.with_width(90.0) is variable.with_width(90.0)
    s = setter(variable, width_of(variable, width=90.0) + 0.01, least_width=80.0)
    tried, _ = one(s)
    line = s.build_artwork([tried]).lines[0]
    assert line.letter_width == 90.0
    assert "wdth=90" in line.face
    assert all("wdth=90" in piece.shape.key for row in line.rows for piece in row.pieces)
    with pytest.raises(ValueError, match="cannot be drawn 101 wide"):
        variable.with_width(101.0)


def test_narrower_letters_are_proposed_where_the_face_has_them(variable):
    room = width_of(variable, width=90.0) + 0.01
    _, said = one(setter(variable, room, smallest=8.0))
    assert "letters of this name a little narrower" in format_for_client(said["fit.too-long"])
    _, said = one(setter(variable, width_of(variable, "Wilhelmina", width=90.0) + 0.01, smallest=8.0), "Wilhelmina")
    assert "least_width = 85; 90 would do" in format_remedy(said["fit.too-long"])


@pytest.fixture(scope="module")
def folder(tmp_path_factory, variable):
    place = tmp_path_factory.mktemp("order")
    shutil.copy(FONTS / FONT, place)
    (place / "l.csv").write_text(f"Name\nIda Vex\n{NAME}\n", encoding="utf-8")
    wide = width_of(variable, width=90.0) + 8.01
    (place / "order.toml").write_text(
        f"""title = "T"
[list]
file = "l.csv"
columns = {{ name = "Name" }}
[blank]
shape = "rectangle"
width = {wide:.3f}
height = 40.0
thickness = 5.0
margin = 4.0
[[line]]
text = "{{name}}"
face = "{FONT}"
cap_height = 8.0
smallest = 6.0
least_width = 75.0
""",
        encoding="utf-8",
    )
    return place


def test_report_and_proof_mention_the_narrower_letters(folder):
    done = run_order(folder)
    plain, long = done.report["plaques"]
    assert plain["lines"][0]["letter_width"] is None
    width = long["lines"][0]["letter_width"]
    assert width == 90.0
    assert "fit.set-narrower" in [f["code"] for f in long["findings"]]
    assert long["lines"][0]["stroke"] > 0  # measured on the narrowed letters
    assert long["fingerprint"]
    said = " ".join(page.extract_text() for page in PdfReader(folder / "out" / "proof.pdf").pages)
    assert "narrower letters than the others" in " ".join(said.split())


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("least_width = 75.0", "least_width = 50.0", "least_width: 50; expected 62.5 to 100"),
        (f'face = "{FONT}"', 'face = "noto-sans"', "Noto Sans has no width axis"),
    ],
)
def test_a_width_that_the_face_lacks_is_refused(folder, tmp_path, old, new, words):
    shutil.copytree(folder, tmp_path / "o", ignore=shutil.ignore_patterns("out"))
    order = tmp_path / "o" / "order.toml"
    order.write_text(order.read_text(encoding="utf-8").replace(old, new), encoding="utf-8")
    with pytest.raises(CannotRun, match=words):
        run_order(tmp_path / "o")
