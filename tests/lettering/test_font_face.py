"""Typefaces and the shelf: what is on it, what is refused and with which message."""

import hashlib
import struct
from io import BytesIO

import pytest
from fontTools.fontBuilder import FontBuilder
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import TTCollection, TTFont

from pipeline.core.errors import CannotRun
from pipeline.core.storage.cache import Cache
from pipeline.lettering.font_face import Shelf, open_face
from pipeline.lettering.shaping import shape_row
from tests.shelf_sample import sample_faces

SHELF_NAMES = Shelf().names
OUTLINE_NAMES = sample_faces()


def fault(problem) -> str:
    (one,) = problem.value.faults
    return str(one)


@pytest.mark.parametrize("name", SHELF_NAMES)
def test_a_shelf_face_has_its_licence_and_its_bytes(shelf, name):
    source = shelf[name]
    assert hashlib.sha256(source.read()).hexdigest() == source.sha256
    licence = source.licence_path.read_text(encoding="utf-8")
    wanted = {"OFL-1.1": "SIL OPEN FONT LICENSE", "Apache-2.0": "Apache License", "LicenseRef-Hershey": "Hershey"}
    assert wanted[source.licence] in licence
    assert source.origin and source.version and source.role and source.scripts
    folder = {p.name for p in source.folder.iterdir()}
    assert folder >= {source.file, "LICENSE.txt", "source.toml"}


# Measured on the outline of H apart from this project (tests/reference/name-widths.md names the two odd ones out);
# Noto Sans 714, Montserrat 700, Cinzel 700, Great Vibes 807: the fonts' own outlines, read with FreeType.
CAPS = {
    "noto-sans": 714,
    "montserrat": 700,
    "cinzel": 700,
    "great-vibes": 807,
    "eb-garamond": 653,
    "noto-naskh-arabic": 714,
    "droid-sans-fallback": 222,
}


@pytest.mark.parametrize("name", CAPS)
def test_cap_height_is_measured_on_the_outline(face, name):
    assert face(name).cap_units == CAPS[name]


@pytest.mark.parametrize("name", OUTLINE_NAMES)
def test_each_font_has_the_scripts_the_shelf_states(face, shelf, name):
    letters = {"Latn": "Agnes", "Grek": "Άννα", "Cyrl": "Жанна", "Hebr": "שלום", "Arab": "عمر", "Deva": "अनिल"}
    letters |= {"Hani": "高橋", "Hira": "さくら", "Kana": "サクラ", "Hang": "김서연"}
    for script in shelf[name].scripts:
        assert face(name).covers(letters[script]), script


def test_an_unknown_name_gets_the_nearest(shelf):
    with pytest.raises(CannotRun) as problem:
        open_face("EB Garamond", shelf=shelf)
    assert "did you mean eb-garamond" in fault(problem).lower()
    assert "plaques faces" in fault(problem)


def test_a_missing_font_file_is_reported(tmp_path):
    with pytest.raises(CannotRun) as problem:
        open_face("client.ttf", tmp_path)
    assert str(tmp_path / "client.ttf") in fault(problem)


def test_a_changed_shelf_font_is_refused(tmp_path, shelf):
    folder = tmp_path / "oswald"
    folder.mkdir()
    for path in shelf["oswald"].folder.iterdir():
        data = path.read_bytes()
        (folder / path.name).write_bytes(data[:-1] + b"x" if path.suffix == ".ttf" else data)
    with pytest.raises(CannotRun) as problem:
        open_face("oswald", shelf=Shelf(tmp_path))
    assert "has changed" in fault(problem)


def harmed(data: bytes) -> dict[str, tuple[bytes, str]]:
    """Return font files with one fault each, and the words the message must contain. Don't repair them."""
    count = struct.unpack_from(">H", data, 4)[0]
    names = [data[12 + 16 * i : 16 + 16 * i] for i in range(count)]
    cmap = 12 + 16 * names.index(b"cmap")
    head = struct.unpack_from(">I", data, 12 + 16 * names.index(b"head") + 8)[0]
    return {
        "empty": (b"", "empty"),
        "a drawing": (b"%PDF-1.7\n" + b"x" * 100, "not a font"),
        "cut off": (data[: len(data) // 2], "cut off"),
        "cut off early": (data[:40], "cut off in its table directory"),
        "no cmap": (data[:cmap] + b"cmaq" + data[cmap + 4 :], "no table “cmap”"),
        "no mark": (data[: head + 12] + b"\0\0\0\0" + data[head + 16 :], "mark every font carries"),
        "no size": (data[: head + 18] + b"\0\0" + data[head + 20 :], "0 units per em"),
        "packed rubbish": (b"wOF2" + b"\0\1\0\0" + b"\1" * 60, "unpack"),
        "collection of nothing": (b"ttcf\0\1\0\0" + b"\xff" * 8, "too short"),
        "collection astray": (b"ttcf\0\1\0\0\0\0\0\1\0\0\xff\xff", "no table directory"),
    }


@pytest.mark.parametrize("harm", harmed(Shelf()["oswald"].read()))
def test_a_damaged_font_gives_one_clear_fault(tmp_path, shelf, harm):
    data, words = harmed(shelf["oswald"].read())[harm]
    (tmp_path / "client.ttf").write_bytes(data)
    with pytest.raises(CannotRun) as problem:
        open_face("client.ttf", tmp_path, where="order.toml, line 1, face")
    assert words in fault(problem)
    assert fault(problem).startswith("order.toml, line 1, face: client.ttf: ")


def test_random_bytes_in_a_font_never_raise_anything_else(tmp_path, shelf):
    import random

    whole = shelf["oswald"].read()
    dice = random.Random(4)
    opened = 0
    for _ in range(60):
        data = bytearray(whole)
        for _ in range(200):
            data[dice.randrange(len(data))] = dice.randrange(256)
        (tmp_path / "client.ttf").write_bytes(data)
        try:
            row = shape_row([open_face("client.ttf", tmp_path)], "Ida Vex")
            assert row.text == "Ida Vex"
            opened += 1
        except CannotRun:
            pass
    assert opened  # some damage leaves the font usable; nothing crashes


def collection(shelf, names) -> bytes:
    out = BytesIO()
    fonts = TTCollection()
    fonts.fonts = [TTFont(shelf[n].path) for n in names]
    fonts.save(out)
    return out.getvalue()


def test_a_collection_needs_a_number_and_lists_its_faces(tmp_path, shelf, face):
    (tmp_path / "two.ttc").write_bytes(collection(shelf, ("oswald", "cinzel")))
    with pytest.raises(CannotRun) as problem:
        open_face("two.ttc", tmp_path)
    assert "two.ttc#0 Oswald Regular, two.ttc#1 Cinzel Regular" in fault(problem)
    with pytest.raises(CannotRun) as problem:
        open_face("two.ttc#2", tmp_path)
    assert "holds 2 faces; #2 is asked for" in fault(problem)
    first, second = (open_face(f"two.ttc#{i}", tmp_path) for i in (0, 1))
    assert second.cap_units == face("cinzel").cap_units and second.title == "Cinzel Regular"
    assert first.identity != second.identity
    assert shape_row([first], "Ida").advance == shape_row([face("oswald")], "Ida").advance


def test_a_compressed_font_sets_like_the_uncompressed_one(tmp_path, shelf, face):
    font = TTFont(shelf["oswald"].path)
    font.flavor = "woff2"
    font.save(tmp_path / "packed.woff2")
    packed = open_face("packed.woff2", tmp_path)
    assert shape_row([packed], "AVATAR Ida").advance == shape_row([face("oswald")], "AVATAR Ida").advance


def test_an_unknown_feature_or_axis_is_refused_by_name(shelf):
    with pytest.raises(CannotRun) as problem:
        open_face("cinzel", shelf=shelf, features={"smcp": True})
    assert "no feature “smcp”" in fault(problem)
    with pytest.raises(CannotRun) as problem:
        open_face("cinzel", shelf=shelf, axes={"wght": 500.0})
    assert "not variable" in fault(problem)


def small_font(letters: str, **os2) -> bytes:
    """Build a font with a box for each letter."""
    builder = FontBuilder(1000, isTTF=True)
    names = [".notdef", *(f"u{ord(c):04x}" for c in letters)]
    builder.setupGlyphOrder(names)
    builder.setupCharacterMap({ord(c): f"u{ord(c):04x}" for c in letters})
    pen = TTGlyphPen(None)
    for point in ((0, 0), (0, 600), (400, 600), (400, 0)):
        (pen.lineTo if pen.points else pen.moveTo)(point)
    pen.closePath()
    box = pen.glyph()
    builder.setupGlyf(dict.fromkeys(names, box))
    builder.setupHorizontalMetrics(dict.fromkeys(names, (500, 0)))
    builder.setupHorizontalHeader(ascent=800, descent=-200)
    builder.setupNameTable({"familyName": "Small", "styleName": "Regular"})
    builder.setupOS2(**os2)
    builder.setupPost()
    out = BytesIO()
    builder.save(out)
    return out.getvalue()


def test_permissions_are_read_from_the_file(tmp_path):
    (tmp_path / "a.ttf").write_bytes(small_font("H", fsType=2))
    assert open_face("a.ttf", tmp_path).fs_type == 2


def test_a_font_without_any_letter_to_measure_is_refused(tmp_path):
    (tmp_path / "a.ttf").write_bytes(small_font("!?"))
    with pytest.raises(CannotRun) as problem:
        open_face("a.ttf", tmp_path)
    assert "cap height" in fault(problem)


def test_missing_characters_are_listed_whole(face):
    cinzel = face("cinzel")
    assert cinzel.list_missing("Kealiʻi Phượng") == ("ʻ", "ư", "ợ")
    assert cinzel.covers("Åse Ødegård")
    assert cinzel.covers("A\u030ase")  # composed by the shaper
    assert not cinzel.covers("高")


def test_identity_covers_what_decides_the_setting(shelf):
    plain, small = open_face("eb-garamond", shelf=shelf), open_face("eb-garamond", shelf=shelf, features={"smcp": True})
    assert plain.identity != small.identity
    assert plain.outlines_key == small.outlines_key  # the same curves are cached once


def test_cached_letters_have_the_same_curves(tmp_path, shelf):
    cache = Cache(tmp_path)
    cold = shape_row([open_face("great-vibes", shelf=shelf, cache=cache)], "Ida Vex")
    cache.flush()
    warm_face = open_face("great-vibes", shelf=shelf, cache=Cache(tmp_path))
    warm_face.get_contours = None  # drawing again would fail: everything must come from the cache
    warm = shape_row([warm_face], "Ida Vex")
    assert [s.shape.key for s in warm.shapes] == [s.shape.key for s in cold.shapes]
    assert warm.ink == cold.ink
    for a, b in zip(cold.shapes, warm.shapes, strict=True):
        for p, q in zip(a.shape.outline, b.shape.outline, strict=True):
            assert p.degrees == q.degrees
            assert (p.points == q.points).all()
