"""`plaques faces`: what it prints, what it draws, what it refuses."""

import json
import re
import shutil
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
import shapely
from fontTools.pens.basePen import decomposeQuadraticSegment
from fontTools.pens.recordingPen import RecordingPen
from fontTools.ttLib import TTFont

from pipeline.commands import faces_command
from pipeline.commands.faces_command import list_faces
from pipeline.core.errors import CannotRun
from pipeline.lettering.font_face import Shelf, open_face
from pipeline.lettering.sample_letters import SAMPLES, SCRIPT_NAMES
from pipeline.run import run_order
from tests.lettering.alphabets import ALPHABETS
from tests.long.thinnest_letters import measured_stroke, thinner_letters
from tests.shelf_sample import sample_faces, small_shelf

SIBLINGS = Path(__file__).parent.parent / "reference" / "siblings"
OUTLINES = sample_faces()
FEW = ("oswald", "eb-garamond", "noto-sans", "noto-naskh-arabic", "hershey-futural")


@pytest.fixture
def said():
    return []


@pytest.fixture
def few(tmp_path_factory, monkeypatch):
    """Return a shelf of few typefaces, one from right to left and one of one line, with which the command is quick."""
    shelf = small_shelf(tmp_path_factory.mktemp("shelf"), *FEW)
    monkeypatch.setattr(faces_command, "Shelf", lambda own: Shelf(shelf.folder, own))
    return shelf


def test_every_typeface_is_in_the_table(said):
    assert list_faces(say=said.append, fresh=True) == 0
    lines = said[0].splitlines()
    for name in Shelf().names:
        (line,) = [line for line in lines if line.startswith(f"{name} ")]
        assert Shelf()[name].licence in line and Shelf()[name].role in line
    assert "0.026 (8)" in said[0]  # EB Garamond
    assert "one line" in said[0]


def test_json_output_is_nothing_but_json(said):
    list_faces(say=said.append, fresh=True, as_json=True)
    (only,) = said
    table = {row["name"]: row for row in json.loads(only)}
    assert set(table) == set(Shelf().names)
    assert table["eb-garamond"]["scripts"] == ["Latn", "Grek", "Cyrl"]
    assert table["great-vibes"]["joins"] is True
    assert table["hershey-futural"]["thinnest"] is None and table["hershey-futural"]["single_line"]


def test_the_sheet_shows_every_face_and_is_the_same_every_time(said, few, tmp_path):
    """Both from scratch and from the cache."""
    for name in ("a.pdf", "b.pdf"):
        list_faces(say=said.append, fresh=name == "a.pdf", sheet=tmp_path / name)
    data = (tmp_path / "a.pdf").read_bytes()
    assert data == (tmp_path / "b.pdf").read_bytes()
    text = "".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(data))
    for source in few.faces:
        assert source.title in text and f"Licence {source.licence}" in text
    assert "Greek 0.032 in “σ”" in text


def test_like_ranks_and_draws(said, few, tmp_path):
    list_faces(say=said.append, like=SIBLINGS / "oswald-bold.ttf", sheet=tmp_path / "alike.pdf")
    text = "\n".join(said)
    assert " 1. oswald " in text and "Sure: oswald is clearly ahead" in text
    assert "Oswald Bold, compared by 30 letters; the file may be embedded and installed" in text
    first = pypdfium2.PdfDocument(tmp_path / "alike.pdf")[0]
    assert "1. oswald" in first.get_textpage().get_text_range()


def test_like_as_json(said, few, tmp_path):
    list_faces(say=said.append, like=SIBLINGS / "oswald-bold.ttf", sheet=tmp_path / "a.pdf", as_json=True)
    (only,) = said
    got = json.loads(only)
    assert got["ranking"][0]["name"] == "oswald" and got["sure"].startswith("sure")
    assert got["ranking"][0]["likeness"] >= got["ranking"][1]["likeness"]


def test_like_takes_the_letters_asked_for(said, few, tmp_path):
    list_faces(say=said.append, like=SIBLINGS / "oswald-bold.ttf", text="Ida", sheet=tmp_path / "a.pdf")
    assert "compared by 3 letters" in said[0]


def test_like_refuses_unusable_pictures_and_texts(said, few, tmp_path):
    with pytest.raises(CannotRun, match="no such file"):
        list_faces(say=said.append, like=tmp_path / "gone.ttf")
    (tmp_path / "scan.png").write_bytes(b"")
    with pytest.raises(CannotRun, match="without the text it shows"):
        list_faces(say=said.append, like=tmp_path / "scan.png")
    with pytest.raises(CannotRun, match="none of the letters"):
        list_faces(say=said.append, like=SIBLINGS / "oswald-bold.ttf", text="שלום", sheet=tmp_path / "a.pdf")
    assert said == []


@pytest.mark.parametrize("name", OUTLINES)
def test_the_shelf_s_table_of_thinnest_strokes_is_right(name):
    """The stroke of the letter that the table names is as stated; the next test looks for thinner ones."""
    source = Shelf()[name]
    face = open_face(name)
    assert {script for script, _, _ in source.thinnest} == set(source.scripts)
    for script, width, letter in source.thinnest:
        assert letter in ALPHABETS[script]
        assert measured_stroke(face, letter) == pytest.approx(width, abs=6e-5)


@pytest.mark.slow
@pytest.mark.parametrize(("number", "name"), list(enumerate(OUTLINES)))
def test_no_letter_is_thinner_than_the_table_says(number, name):
    """Every eighteenth letter, starting at another one for each typeface; `python -m tests.long.thinnest_letters` tries
    all."""
    assert not thinner_letters(name, slice(number % 18, None, 18))


def test_every_script_of_the_shelf_has_name_sample_and_alphabet():
    scripts = {script for source in Shelf().faces for script in source.scripts}
    assert scripts <= SCRIPT_NAMES.keys() and scripts <= SAMPLES.keys() and scripts <= ALPHABETS.keys()
    for source in Shelf().faces:
        face = open_face(source.name)
        for script in source.scripts:
            assert face.covers(ALPHABETS[script].replace("&", "")), (source.name, script)


@pytest.mark.slow
def test_an_order_gets_its_letters_one_by_one(few, tmp_path, capsys):
    """Each letter's own smallest cap height: the stroke the cutter needs divided by the letter's own."""
    (tmp_path / "order.toml").write_text(
        'title = "Trial"\nlist = { file = "list.csv" }\nblank = { shape = "disc", diameter = 90.0 }\n'
        'limits = { stroke = 0.2 }\n[[line]]\ntext = "{name}"\nface = "noto-sans"\ncap_height = 8.0\n',
        encoding="utf-8",
    )
    (tmp_path / "list.csv").write_text("Name\nIda Vex 1869\n", encoding="utf-8")
    list_faces(tmp_path, say=print, as_json=True, out=tmp_path)
    table = {t["name"]: t for t in json.loads(capsys.readouterr().out)}
    sans = table["noto-sans"]
    sizes = [size for _, size in sans["letters"]]
    assert sizes == sorted(sizes, reverse=True) and len(sizes) == len(set("IdaVex1869"))
    assert sans["smallest"] == sizes[0] == pytest.approx(0.2 / sans["thinnest"], rel=0.2)
    assert sans["letters"][0][0] in "69"
    assert table["hershey-futural"]["letters"] == []


@pytest.mark.parametrize(("cutter", "refused"), [("vbit-60", True), ("point", False), ("laser", False)])
def test_letters_of_one_line_are_not_offered_to_a_cutter_that_a_run_refuses_them(said, few, tmp_path, cutter, refused):
    (tmp_path / "order.toml").write_text(
        'title = "Trial"\nlist = { file = "list.csv" }\nblank = { shape = "disc", diameter = 90.0 }\n'
        f'cutter = {{ use = "{cutter}" }}\n[[line]]\ntext = "{{name}}"\nface = "hershey-futural"\n'
        "cap_height = 8.0\n",
        encoding="utf-8",
    )
    (tmp_path / "list.csv").write_text("Name\nIda Vex\n", encoding="utf-8")
    list_faces(tmp_path, say=said.append)
    (line,) = [line for line in said[0].splitlines() if line.startswith("hershey-futural ")]
    assert ("refused" in line) == ("refused: a run stops" in said[0]) == refused
    list_faces(tmp_path, say=said.append, as_json=True)
    table = {row["name"]: row for row in json.loads(said[1])}
    assert bool(table["hershey-futural"]["refused"]) == refused and not table["noto-sans"]["refused"]
    if refused:
        with pytest.raises(CannotRun, match="letters of one line"):
            run_order(tmp_path, workers=1)
    else:
        run_order(tmp_path, workers=1)


def test_smallest_cap_height_is_that_of_a_hand_calculation(said, few, tmp_path):
    """The neck of Noto Sans' 6, from its outline as fontTools (MIT) returns it: between its counter and its left
    side there are 45.44 units of a cap height of 714, so that a stroke of 0.2 mm needs 0.2 × 714 / 45.44 = 3.142 mm."""
    (tmp_path / "order.toml").write_text(
        'title = "Trial"\nlist = { file = "list.csv" }\nblank = { shape = "disc", diameter = 90.0 }\n'
        'limits = { stroke = 0.2 }\n[[line]]\ntext = "{name}"\nface = "noto-sans"\ncap_height = 8.0\n',
        encoding="utf-8",
    )
    (tmp_path / "list.csv").write_text("Name\n6\n", encoding="utf-8")
    list_faces(tmp_path, say=said.append, as_json=True)
    row = next(row for row in json.loads(said[0]) if row["name"] == "noto-sans")
    font = TTFont(Shelf()["noto-sans"].path)
    pen = RecordingPen()
    font.getGlyphSet()["six"].draw(pen)
    rings = []
    for call, points in pen.value:
        if call == "moveTo":
            rings.append([points[0]])
        elif call == "lineTo":
            rings[-1].append(points[0])
        elif call == "qCurveTo":
            for pair in decomposeQuadraticSegment(points):
                p, c, q = (np.array(v, float) for v in (rings[-1][-1], *pair))
                rings[-1] += [(1 - t) ** 2 * p + 2 * t * (1 - t) * c + t * t * q for t in np.linspace(0, 1, 400)[1:]]
    around = shapely.box(120, 300, 200, 400)
    outer, counter = (shapely.intersection(shapely.LineString(ring), around) for ring in rings)
    by_hand = 0.2 * 714 / shapely.distance(outer, counter)
    assert by_hand == pytest.approx(3.142, abs=0.001)
    assert dict(row["letters"])["6"] == pytest.approx(by_hand, rel=2e-3)


def test_a_shop_s_own_fonts_have_their_own_heading_and_are_compared(said, few, tmp_path):
    (tmp_path / "shop.toml").write_text('[shop]\nfonts = "fonts"\n')
    (tmp_path / "fonts").mkdir()
    shutil.copy(SIBLINGS / "montserrat-bold.ttf", tmp_path / "fonts/Harbour Sans.ttf")
    (tmp_path / "fonts/torn.otf").write_bytes((SIBLINGS / "cinzel-bold.ttf").read_bytes()[:3000])
    shutil.copy(SIBLINGS / "oswald-bold.ttf", tmp_path / "fonts/oswald.ttf")
    list_faces(say=said.append, fresh=True, here=tmp_path)
    lines = said.pop().splitlines()
    heading = lines.index("[your own fonts]")
    assert lines[heading + 1].startswith("Harbour Sans ") and "Montserrat Bold" in lines[heading + 1]
    unusable = [line for line in lines if line.startswith("Not usable: ")]
    assert [("torn.otf" in line, "oswald.ttf" in line) for line in unusable] == [(False, True), (True, False)]
    assert all("shop.toml: [shop] fonts" in line for line in unusable)
    list_faces(say=said.append, fresh=True, here=tmp_path, as_json=True)
    table = {row["name"]: row for row in json.loads(said.pop())}
    assert table["Harbour Sans"]["fault"] == "" and "damaged" in table["torn"]["fault"]
    list_faces(
        say=said.append, fresh=True, here=tmp_path, out=tmp_path, like=SIBLINGS / "montserrat-bold.ttf", text="HARBOU"
    )
    text = "\n".join(said)
    assert re.search(r"^ 1\. Harbour Sans +1\.000", text, re.MULTILINE)
    assert re.search("^Not compared: .*torn", text, re.MULTILINE)


def test_a_missing_folder_of_own_fonts_is_reported_with_the_ranking_too(said, few, tmp_path):
    (tmp_path / "shop.toml").write_text('[shop]\nfonts = "gone"\n')
    list_faces(say=said.append, here=tmp_path)
    assert "No fonts of your own: " in said.pop()
    list_faces(say=said.append, here=tmp_path, out=tmp_path, like=SIBLINGS / "oswald-bold.ttf", text="HARBOU")
    assert "No fonts of your own: " in said[-1]
    list_faces(say=said.append, here=tmp_path, as_json=True)
    (entry,) = [face for face in json.loads(said.pop()) if face["fault"]]
    assert entry["name"] == "[shop] fonts" and str(tmp_path / "gone") in entry["fault"]
    like = {"like": SIBLINGS / "oswald-bold.ttf", "text": "HARBOU"}
    list_faces(say=said.append, here=tmp_path, out=tmp_path, as_json=True, **like)
    (told,) = json.loads(said.pop())["left_out"]
    assert "No fonts of your own: " in told
