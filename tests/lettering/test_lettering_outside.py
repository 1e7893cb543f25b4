"""Lettering compared with outside sources: published shaping results, a table of widths, other programs.

Sources are named beside each check. The fonts are those of the shelf, so that nothing depends on the machine.
"""

import csv
import json
import shutil
import subprocess
from io import BytesIO
from pathlib import Path

import freetype
import numpy as np
import pytest
import shapely
from fontTools.fontBuilder import FontBuilder
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import TTFont, newTable
from fontTools.ttLib.tables._k_e_r_n import KernTable_format_0

from pipeline.geometry.flatten import outline_area
from pipeline.geometry.regions import build_polygon_from_outline
from pipeline.lettering.font_face import open_face
from pipeline.lettering.shaping import TURKIC_I, shape_row

REFERENCE = Path(__file__).parent.parent / "reference"
WIDTHS = list(csv.DictReader((REFERENCE / "name-widths.csv").open(encoding="utf-8")))
COLUMNS = {
    "Cinzel": "cinzel",
    "EB Garamond": "eb-garamond",
    "Bodoni Moda": "bodoni-moda",
    "GFS Didot": "gfs-didot",
    "Noto Sans": "noto-sans",
    "Montserrat": "montserrat",
    "Oswald": "oswald",
    "Great Vibes": "great-vibes",
    "Roboto Slab": "roboto-slab",
    "Frank Ruhl Libre": "frank-ruhl-libre",
    "Noto Naskh Arabic": "noto-naskh-arabic",
    "Droid Sans Fallback": "droid-sans-fallback",
}
# The table uses "fi" ligatures in a Turkish name in these typefaces; we don't (see tests/reference/name-widths.md).
UNJOINED = {("Refika Afife Elfida Şefik", "GFS Didot"), ("Refika Afife Elfida Şefik", "Roboto Slab")}


# Letters the table's shaper composed from parts the typeface doesn't position: their marks land on the next letter.
STRAY = {
    ("Nguyễn Thị Phượng Hằng", "Cinzel"): "ễằ",
    ("Nguyễn Thị Phượng Hằng", "Bodoni Moda"): "ễằ",
    ("Ştefăniţă Brâncuşoara Țepeș", "GFS Didot"): "Ț",
    ("Ἀριστοτέλης Ὠκυρρόης", "Montserrat"): "Ὠ",
    ("Ἀριστοτέλης Ὠκυρρόης", "Great Vibes"): "Ὠ",
}


def table_cap(path: Path, measured: float) -> float:
    """Return the cap height the table divided by: the font's own value, or the measured one if it has none."""
    return float(getattr(TTFont(path)["OS/2"], "sCapHeight", 0)) or measured


@pytest.mark.parametrize("column", COLUMNS)
def test_name_widths(face, shelf, column):
    """tests/reference/name-widths.csv: widths within .05 of the table's cap heights, its totals recomputed."""
    opened = face(COLUMNS[column])
    cap = table_cap(shelf[COLUMNS[column]].path, opened.cap_units)
    checked = 0
    for line in WIDTHS:
        row = shape_row([opened], line["name"], language=line["language"])
        said, astray = line[column], STRAY.get((line["name"], column), "")
        if said.startswith("missing") or astray:
            without_glyph = int(said.split()[1]) if said.startswith("missing") else 0
            assert len(row.missing) == without_glyph + len(astray), line["name"]
            assert set(astray) <= set(row.missing)
            continue
        assert row.missing == (), line["name"]
        if (line["name"], column) in UNJOINED:
            joined = shape_row([opened], line["name"], language=line["language"], features={"liga": True})
            assert joined.advance / cap == pytest.approx(float(said), abs=0.05 + 1e-9)
            assert row.advance > joined.advance
            continue
        assert row.advance / cap == pytest.approx(float(said), abs=0.05 + 1e-9), line["name"]  # one decimal: .05
        checked += 1
    assert checked


def test_kerning_as_computed_from_the_fonts(face):
    """Noto Sans Regular with and without its own GPOS table, and EB Garamond: kerning narrows AVATAR."""
    for name in ("noto-sans", "eb-garamond", "montserrat"):
        kerned = shape_row([face(name)], "AVATAR").advance
        plain = shape_row([face(name)], "AVATAR", features={"kern": False}).advance
        advances = sum(face(name).font.get_glyph_h_advance(face(name).font.get_nominal_glyph(ord(c))) for c in "AVATAR")
        assert plain == advances
        assert kerned < plain * 0.97


def test_kerning_of_noto_sans_bold():
    """AVATAR with and without kerning, 3739 and 3959 font units, computed with HarfBuzz apart from this project from
    version 2.004 (Debian fonts-noto-core); 2.015, the sibling in tests/reference/siblings, has not moved these."""
    bold = open_face("noto-sans-bold.ttf", REFERENCE / "siblings")
    assert shape_row([bold], "AVATAR").advance == 3739
    assert shape_row([bold], "AVATAR", features={"kern": False}).advance == 3959


# Stems in font units from the fonts' own outlines, measured apart from this project: I, l, bar of H.
STEMS = {"noto-sans": (90, 88, 79), "montserrat": (74, 71, 65), "cinzel": (65, 64, 30)}


@pytest.mark.parametrize("name", STEMS)
def test_stems(face, name):
    """Width of the ink half way up I and l, and height of the bar of H on its middle."""
    upright, small, bar = STEMS[name]
    for letter, wanted in (("I", upright), ("l", small)):
        shape = shape_row([face(name)], letter).shapes[0].shape
        region = build_polygon_from_outline(shape.outline, 0.05)
        x0, _, x1, y1 = region.bounds
        assert region.intersection(shapely.LineString([(x0, y1 * 0.45), (x1, y1 * 0.45)])).length == pytest.approx(
            wanted, abs=1
        )
    region = build_polygon_from_outline(shape_row([face(name)], "H").shapes[0].shape.outline, 0.05)
    x0, _, x1, y1 = region.bounds
    middle = shapely.LineString([((x0 + x1) / 2, 0), ((x0 + x1) / 2, y1)])
    assert region.intersection(middle).length == pytest.approx(bar, abs=1)


def legacy_kern_font() -> bytes:
    """Rebuild the font of the published case KERN-1: its advances and kerning follow from the published positions 0, 0,
    400, 600, 1000, 1200, 1600 and the offset of -100 on each glyph but the first."""
    builder = FontBuilder(1000, isTTF=True)
    glyphs = {".notdef": None, "H": 0x48, "dotlessi": 0x131, "T": 0x54, "u": 0x75}
    advances = {".notdef": 500, "H": 500, "dotlessi": 100, "T": 500, "u": 300}
    builder.setupGlyphOrder(list(glyphs))
    builder.setupCharacterMap({code: name for name, code in glyphs.items() if code})
    outlines = {}
    for name in glyphs:
        pen = TTGlyphPen(None)
        for i, point in enumerate(((0, 0), (0, 700), (90, 700), (90, 0))):
            (pen.lineTo if i else pen.moveTo)(point)
        pen.closePath()
        outlines[name] = pen.glyph()
    builder.setupGlyf(outlines)
    builder.setupHorizontalMetrics({name: (width, 0) for name, width in advances.items()})
    builder.setupHorizontalHeader(ascent=800, descent=-200)
    builder.setupNameTable({"familyName": "Legacy kern", "styleName": "Regular"})
    builder.setupOS2()
    builder.setupPost()
    kern = newTable("kern")
    kern.version = 0
    table = KernTable_format_0(apple=False)
    table.coverage, table.version, table.format, table.tupleIndex = 1, 0, 0, None
    table.kernTable = dict.fromkeys([("dotlessi", "T"), ("T", "u"), ("u", "T"), ("T", "dotlessi")], -100)
    kern.kernTables = [table]
    builder.font["kern"] = kern
    out = BytesIO()
    builder.save(out)
    return out.getvalue()


def test_legacy_kerning_moves_the_ink(tmp_path):
    """KERN-1 of the text-rendering tests that HarfBuzz publishes (harfbuzz/harfbuzz, test/shape/data/
    text-rendering-tests/tests/KERN-1.tests): ı T u T u T ı at 0, 0, 400, 600, 1000, 1200, 1600."""
    (tmp_path / "kern.ttf").write_bytes(legacy_kern_font())
    row = shape_row([open_face("kern.ttf", tmp_path)], "ıTuTuTı")
    where = sorted(placed.x + use.dx for placed in row.shapes for use in placed.shape.glyphs)
    assert where == [0, 0, 400, 600, 1000, 1200, 1600]


# --- ink against FreeType ---------------------------------------------------------------------------------------------


def freetype_area(path: Path, places, units_per_em: int) -> float:
    """Return the ink of placed glyphs in font units²: FreeType's coverage of each glyph at its place, taking the
    maximum per pixel so that overlapping letters don't count twice."""
    font = freetype.Face(str(path))
    size = 200  # pixels per em
    font.set_pixel_sizes(size, size)
    scale = size / units_per_em
    left, right = min(x for _, x, _ in places) - units_per_em, max(x for _, x, _ in places) + 3 * units_per_em
    canvas = np.zeros((5 * size, int((right - left) * scale)), dtype=np.uint8)
    for glyph, x, y in places:
        place = freetype.Vector(round((x - left) * scale * 64), round(y * scale * 64))
        font.set_transform(freetype.Matrix(0x10000, 0, 0, 0x10000), place)
        font.load_glyph(glyph, freetype.FT_LOAD_NO_HINTING | freetype.FT_LOAD_NO_BITMAP)
        font.glyph.render(freetype.FT_RENDER_MODE_NORMAL)
        bitmap = font.glyph.bitmap
        if not bitmap.rows:
            continue
        pixels = np.array(bitmap.buffer, dtype=np.uint8).reshape(bitmap.rows, bitmap.pitch)[:, : bitmap.width]
        top, start = 3 * size - font.glyph.bitmap_top, font.glyph.bitmap_left
        part = canvas[top : top + bitmap.rows, start : start + bitmap.width]
        np.maximum(part, pixels, out=part)
    return float(canvas.sum()) / 255 / scale**2


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("eb-garamond", "Józef Öffner & Quill"),
        ("noto-sans", "Đặng Ngọc Ỷ"),
        ("cinzel", "Raya Kalla"),
        ("montserrat", "Ångström"),
        ("oswald", "Żółkiewska"),
        ("gfs-didot", "Ευθυμία"),
        ("great-vibes", "Wilhelmina"),
        ("frank-ruhl-libre", "מרדכי"),
        ("noto-naskh-arabic", "الزهراوي"),
        ("droid-sans-fallback", "高橋美咲"),
    ],
)
def test_ink_area_against_freetype(face, shelf, name, text):
    """FreeType 2 (freetype-py) reads and fills the same font file independently. Tolerance: .4 %, for its rounding to
    1/64 pixel and to 256 grey levels at 200 pixels per em."""
    row = shape_row([face(name)], text)
    ours = sum(outline_area(s.shape.outline) * s.scale**2 for s in row.shapes)
    places = [(u.glyph, s.x + u.dx, s.y + u.dy) for s in row.shapes for u in s.shape.glyphs]
    theirs = freetype_area(shelf[name].path, places, face(name).units_per_em)
    assert ours == pytest.approx(theirs, rel=4e-3)


# --- a second shaper --------------------------------------------------------------------------------------------------

HB_SHAPE = shutil.which("hb-shape")


@pytest.mark.skipif(HB_SHAPE is None, reason="hb-shape (Debian: libharfbuzz-bin) is not installed")
@pytest.mark.parametrize("column", COLUMNS)
def test_positions_against_hb_shape(face, shelf, column):
    """hb-shape of Debian, another build of the shaper, given the whole line: it guesses direction and script itself."""
    name = COLUMNS[column]
    for line in WIDTHS:
        if line[column].startswith("missing") or (line["name"], column) in STRAY:
            continue
        row = shape_row([face(name)], line["name"], language=line["language"])
        turkish = ["--features=-liga"] if line["language"] in TURKIC_I else []
        asked = ["--output-format=json", "--no-glyph-names", f"--language={line['language']}", *turkish]
        command = [HB_SHAPE, *asked, f"--text={line['name']}", str(shelf[name].path)]
        out = subprocess.run(command, capture_output=True, check=True, text=True).stdout
        pen, theirs = 0, []
        for item in json.loads(out):
            if face(name).draw_glyph(item["g"]).outline:
                theirs.append((item["g"], pen + item["dx"], item["dy"]))
            pen += item["ax"]
        ours = [(u.glyph, s.x + u.dx, s.y + u.dy) for s in row.shapes for u in s.shape.glyphs]
        assert len(ours) == len(theirs), line["name"]
        for (g, x, y), (h, u, v) in zip(
            sorted(ours, key=lambda p: (p[1], p[0])), sorted(theirs, key=lambda p: (p[1], p[0])), strict=True
        ):
            assert g == h and abs(x - u) <= 1 and abs(y - v) <= 1, line["name"]
