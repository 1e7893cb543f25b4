import errno
import hashlib
import os
from pathlib import Path

import pytest

from pipeline.core.config.order import LineConfig
from pipeline.core.errors import CannotRun
from pipeline.cutting.cutters import choose_cutter
from pipeline.intake.order.error_messages import FaultPlaces
from pipeline.intake.order.line_rules import list_tie_faults
from pipeline.intake.order.order_file import read_order
from tests.order_keys import BASE, changed, write_folder

GOOD = """\
title  = "Keepers of the Light"
client = "Skerry Lamp Society"
units  = "mm"

[list]
file    = "keepers.xlsx"
columns = { name = "Keeper", post = "Post" }

[blank]
drawing   = "plate.dxf"
layers    = { edge = "EDGE", zone = "LETTERING", keep_out = "KEEP_OUT" }
thickness = 19.0

[cutter]
use = "vbit-60"

[[line]]
text       = "{name}"
face       = "eb-garamond"
cap_height = 11.0
smallest   = 7.0

[[line]]
text       = "{post}"
face       = "own.ttf"
cap_height = 4
"""
FACES = ("eb-garamond", "oswald")


@pytest.fixture
def folder(tmp_path):
    for name in ("keepers.xlsx", "plate.dxf", "own.ttf"):
        (tmp_path / name).write_bytes(b"x")
    (tmp_path / "order.toml").write_text(GOOD, encoding="utf-8")
    return tmp_path


def faults(folder, *changes, text=GOOD):
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    (folder / "order.toml").write_text(text, encoding="utf-8")
    with pytest.raises(CannotRun) as stopped:
        read_order(folder, faces=FACES, cutter=choose_cutter)
    return [
        str(f).replace(f"{folder}/order.toml", "").lstrip(" ,").replace(str(folder), "F") for f in stopped.value.faults
    ]


def test_a_good_order_is_read_from_its_folder_or_its_file(folder):
    read = read_order(folder, faces=FACES, cutter=choose_cutter)
    assert read == read_order(folder / "order.toml", faces=FACES, cutter=choose_cutter)
    assert read.order.title == "Keepers of the Light"
    assert [line.cap_height for line in read.order.line] == [11.0, 4.0]
    assert read.sha256 == hashlib.sha256(GOOD.encode()).hexdigest()
    assert read.resolve_path("plate.dxf") == folder / "plate.dxf"


def test_inches_become_millimetres_and_defaults_stay_what_they_are(folder):
    text = GOOD.replace('"mm"', '"in"').replace("11.0", "0.5").replace("7.0", "0.25").replace("19.0", "0.75")
    (folder / "order.toml").write_text(text, encoding="utf-8")
    order = read_order(folder).order
    assert order.line[0].cap_height == pytest.approx(12.7)
    assert order.blank.thickness == pytest.approx(19.05)
    assert order.blank.margin == 2.0
    assert order.files.tolerance == 0.01


def test_a_byte_order_mark_and_windows_line_ends_are_forgiven(folder):
    (folder / "order.toml").write_bytes(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode())
    assert read_order(folder).order.title == "Keepers of the Light"


# Each: the change to the good order, and everything that has to be reported about it.
ONE_FAULT = [
    ("unknown key", ("units  =", "unit ="), "line 3, unit: there is no such key. Did you mean “units”?"),
    (
        "unknown key in a line",
        ("smallest   =", "smalest ="),
        "line 21, [[line]] no. 1, smalest: there is no such key. Did you mean “smallest”?",
    ),
    (
        "key of another table",
        ("thickness =", "cap_height ="),
        "line 12, [blank], cap_height: there is no such key. It belongs under [[line]]",
    ),
    (
        "text for a number",
        ("11.0", '"11,5"'),
        "line 20, [[line]] no. 1, cap_height: found the text “11,5”; expected a number, without quotes. Write 11.5",
    ),
    (
        "a unit with the number",
        ("11.0", '"11 mm"'),
        "line 20, [[line]] no. 1, cap_height: found the text “11 mm”; expected a number, without quotes. "
        "Write 11; every length in the file is in mm, as `units` says",
    ),
    (
        "number for a text",
        ('"Skerry Lamp Society"', "7"),
        'line 2, client: found the number 7; expected text in quotes. Write "7"',
    ),
    (
        "word that is not a choice",
        ('"mm"', '"mn"'),
        'line 3, units: found the text “mn”; expected one of "mm", "in"',
    ),
    (
        "impossible value",
        ("= 4", "= -4"),
        "line 26, [[line]] no. 2, cap_height: found the number -4; expected a number above 0",
    ),
    ("missing key", ('file    = "keepers.xlsx"\n', ""), "line 5, [list], file: missing; expected text in quotes"),
    (
        "missing list",
        ("keepers.xlsx", "keeper.xlsx"),
        "line 6, [list], file: there is no file “keeper.xlsx” in F; expected the client's list in the order "
        "folder. Did you mean “keepers.xlsx”?",
    ),
    (
        "missing drawing",
        ("plate.dxf", "plates.dxf"),
        "line 10, [blank], drawing: there is no file “plates.dxf” in F; expected a drawing in the order "
        "folder. Did you mean “plate.dxf”?",
    ),
    (
        "smallest above cap height",
        ("7.0", "12.0"),
        "line 21, [[line]] no. 1, smallest: smallest is 12.00 mm but cap_height only 11.00 mm; expected "
        "smallest at most cap_height. Raise cap_height or lower smallest",
    ),
    (
        "unknown column",
        ("{post}", "{pots}"),
        "line 24, [[line]] no. 2, text: “{pots}” is not one of the columns; expected one of name, post. "
        "Did you mean “post”?",
    ),
    (
        "open brace",
        ("{post}", "{post"),
        "line 24, [[line]] no. 2, text: in “{post” the brace at character 1 is never closed (write {{ for "
        'the character itself); expected a column in braces: "{name}"',
    ),
    (
        "unknown face",
        ("eb-garamond", "eb-garamnd"),
        "line 19, [[line]] no. 1, face: no face “eb-garamnd” on the shelf; expected a name from `plaques "
        "faces`, or a font file in the order folder. Did you mean “eb-garamond”?",
    ),
    (
        "face file that is not there",
        ("own.ttf", "own.otf"),
        "line 25, [[line]] no. 2, face: there is no file “own.otf” in F; expected a font file in the order "
        "folder. Did you mean “own.ttf”?",
    ),
    (
        "zone that is not a layer",
        ("cap_height = 4", 'cap_height = 4\nzone = "NAMES"'),
        "line 27, [[line]] no. 2, zone: there is no zone “NAMES”; expected one of [blank] layers: LETTERING",
    ),
    (
        "drawing and shape",
        ("thickness =", 'shape = "disc"\nthickness ='),
        'line 9, [blank]: has both drawing and shape; expected one of them: drawing = "….dxf", or shape = '
        '"rectangle" or "disc"',
    ),
    (
        "unknown cutter",
        ("vbit-60", "vbit-6"),
        "line 15, [cutter], use: no cutter “vbit-6” on the shelf. Did you mean “vbit-60”? `plaques cutters` lists them",
    ),
    (
        "a point without its tip",
        ('use = "vbit-60"', 'kind = "point"'),
        'line 14, [cutter], tip: missing; expected a number: kind = "point" needs it',
    ),
    (
        "a laser without its kerf",
        ('use = "vbit-60"', 'kind = "laser"'),
        'line 14, [cutter], kerf: missing; expected a number: kind = "laser" needs it',
    ),
    (
        "a bit of the shelf with a tip of its own that is wider",
        ('use = "vbit-60"', 'use = "vbit-60"\ntip = 40.0'),
        "line 16, [cutter], tip: a flat tip of 40 mm on a bit of 6 mm; expected a tip narrower than the bit",
    ),
    (
        "a language that the proof is not written in",
        ("[[line]]", '[proof]\nlanguage = "ga"\n\n[[line]]'),
        "line 18, [proof], language: no texts in “ga”; expected one of “cy”, “de”, “en”, “es”, “fr”, “it”, “nl”, “pl”",
    ),
    (
        "a day in quotes",
        ("[[line]]", '[proof]\nreply_by = "2026-12-15"\n\n[[line]]'),
        "line 18, [proof], reply_by: found the text “2026-12-15”; expected a day without quotes, such as 2026-12-15. "
        "Write 2026-12-15 without quotes",
    ),
    (
        "one layer for two things",
        ('"KEEP_OUT"', '"edge"'),
        "line 11, [blank], layers.keep_out: layer “edge” is already the edge layer; expected a layer of its "
        "own for each",
    ),
    (
        "one bracket",
        (GOOD[GOOD.index("[[line]]") : GOOD.rindex("[[line]]") + 8], "[line]"),
        "line 17, [line]: found a table; expected at least one table with two brackets, [[line]]. Write "
        "[[line]] with two brackets: there may be several",
    ),
]


@pytest.mark.parametrize(("change", "said"), [c[1:] for c in ONE_FAULT], ids=[c[0] for c in ONE_FAULT])
def test_each_fault_has_its_message(folder, change, said):
    assert faults(folder, change) == [said]


SHAPE = GOOD.replace(
    'drawing   = "plate.dxf"\nlayers    = { edge = "EDGE", zone = "LETTERING", keep_out = "KEEP_OUT" }', "SHAPE"
)


@pytest.mark.parametrize(
    ("shape", "said"),
    [
        ("", ["has neither drawing nor shape"]),
        ('shape = "rectangle"', ["width: missing", "height: missing"]),
        ('shape = "disc"\nwidth = 70.0', ['width: shape = "disc" has no width', "diameter: missing"]),
        ('shape = "disc"\ndiameter = 4.0', ["a margin of 2.00 mm leaves nothing of a blank 4.00 mm across"]),
        ('shape = "disc"\ndiameter = 70.0\ngap = 0.1', ['gap: shape = "disc" has no gap']),
        (
            'shape = "rectangle"\nwidth = 60\nheight = 40\ncorner_radius = 21',
            ["at most half the shorter side, 20.00 mm"],
        ),
        ('drawing = "plate.dxf"\nwidth = 60', ["width: a blank from a drawing has its size from the drawing"]),
    ],
)
def test_a_shape_has_its_own_keys_and_no_others(folder, shape, said):
    found = faults(folder, ("SHAPE", shape), text=SHAPE)
    assert len(found) == len(said)
    for wanted in said:
        assert any(wanted in fault for fault in found), found


def test_just_inside_the_limits_of_a_shape(folder):
    ok = 'shape = "rectangle"\nwidth = 60\nheight = 40\ncorner_radius = 20\nmargin = 19.9'
    (folder / "order.toml").write_text(SHAPE.replace("SHAPE", ok), encoding="utf-8")
    assert read_order(folder).order.blank.corner_radius == 20


def test_all_faults_at_once_in_the_order_of_the_file(folder):
    found = faults(
        folder,
        ("title ", "titel "),
        ("keepers.xlsx", "nobody.xlsx"),
        ("plate.dxf", "../plate.dxf"),
        ("19.0", '"thick"'),
        ("{name}", "{nmae}"),
        ("11.0", '"eleven"'),
        ("= 4", "= 0"),
    )
    keys = ["title", "titel", "file", "drawing", "thickness", "text", "cap_height", "cap_height"]
    assert [fault.split(":")[0].split(", ")[-1] for fault in found] == keys


@pytest.mark.parametrize(
    ("line", "said"),
    [
        (
            "x = 11,5",
            "line 28, column 7: expected newline or end of document after a statement, in “x = 11,5”. "
            "The decimal mark is a point: 11.5",
        ),
        ("x = walnut", 'line 28, column 5: invalid value, in “x = walnut”. Text needs quotes: key = "text"'),
        ("x = “walnut”", 'line 28, column 5: invalid value, in “x = “walnut””. Use straight quotes: "'),
        (
            'x = "C:\\deep"',
            "line 28, column 10: unescaped '\\' in a string, in “x = \"C:\\deep\"”. A backslash "
            "means something special between double quotes; use / in file names",
        ),
        (
            "cap_height = 5",
            "line 28, column 15: cannot overwrite a value, in “cap_height = 5”. The same key or "
            "table is there twice; keep one",
        ),
        (
            "x = [1,",
            "end of the file: invalid value; expected a finished TOML file. Look for a quote or a "
            "bracket that is never closed",
        ),
    ],
)
def test_a_file_that_is_not_toml(folder, line, said):
    assert faults(folder, text=GOOD + "\n" + line + "\n") == [said]


def test_a_file_in_another_encoding(folder):
    (folder / "order.toml").write_bytes(GOOD.replace("Skerry", "Skærry").encode("latin-1"))
    with pytest.raises(
        CannotRun, match=r"order.toml line 2: a byte 0xe6 that is not UTF-8; expected a text file in UTF-8"
    ):
        read_order(folder)


@pytest.mark.parametrize(
    "name",
    [
        "../keepers.xlsx",
        "/etc/hosts.xlsx",
        "a/../../k.xlsx",
        "C:/k.xlsx",
        "C:\\k.xlsx",
        "\\\\host\\k.xlsx",
        "~/k.xlsx",
        "..\\k.xlsx",
        "inner/../keepers.xlsx",
        "",
    ],
)
def test_a_name_that_leads_out_of_the_folder_is_refused(folder, name):
    (said,) = faults(folder, ('"keepers.xlsx"', f"'{name}'"))
    assert "leads out of the order folder" in said or "empty" in said


def test_a_link_that_leads_out_of_the_folder_is_refused(folder, tmp_path_factory):
    outside = tmp_path_factory.mktemp("outside") / "secret.xlsx"
    outside.write_bytes(b"x")
    (folder / "link.xlsx").symlink_to(outside)
    (said,) = faults(folder, ("keepers.xlsx", "link.xlsx"))
    assert "is a link that leads out of the order folder" in said


def test_an_order_folder_may_itself_be_a_link(folder, tmp_path_factory):
    link = tmp_path_factory.mktemp("links") / "order"
    link.symlink_to(folder)
    assert read_order(link).order.title == "Keepers of the Light"


def test_a_folder_within_the_folder_is_fine(folder):
    (folder / "sub").mkdir()
    (folder / "sub" / "list.csv").write_bytes(b"x")
    (folder / "order.toml").write_text(GOOD.replace("keepers.xlsx", "sub/list.csv"), encoding="utf-8")
    assert read_order(folder).order.list.file == "sub/list.csv"


@pytest.mark.parametrize(
    ("name", "remedy"),
    [("names.numbers", "Save the list as .xlsx"), ("names.doc", "does not end in .xlsx .xlsm .xlsb .xls .ods .csv")],
)
def test_a_list_of_another_kind(folder, name, remedy):
    (folder / name).write_bytes(b"x")
    (said,) = faults(folder, ("keepers.xlsx", name))
    assert remedy in said


def test_a_folder_where_a_file_belongs(folder):
    (folder / "names.xlsx").mkdir()
    (said,) = faults(folder, ("keepers.xlsx", "names.xlsx"))
    assert "is a folder, not a file" in said


def test_no_such_order(folder):
    with pytest.raises(CannotRun, match=r"no such order; expected an order folder, or its order\.toml"):
        read_order(folder / "nowhere")
    near = folder.parent / (folder.name[:-1] + "x" + folder.name[-1])
    with pytest.raises(CannotRun, match=f"Did you mean “{folder.name}”"):
        read_order(near)


def test_a_folder_without_an_order_says_how_to_get_one(folder):
    (folder / "order.toml").unlink()
    with pytest.raises(
        CannotRun, match=r"there is no order.toml in this folder.*`plaques start .*keepers.xlsx` writes one"
    ):
        read_order(folder)


def test_a_list_instead_of_an_order(folder):
    with pytest.raises(CannotRun, match=r"this is a list, not an order.*`plaques start .*keepers.xlsx`"):
        read_order(folder / "keepers.xlsx")


def test_a_file_that_may_not_be_read(folder, monkeypatch):
    def refused(path, *how):  # simulated, because root may read everything
        raise PermissionError(errno.EACCES, "Permission denied", str(path))

    monkeypatch.setattr(os, "open", refused)
    with pytest.raises(CannotRun, match="cannot be read"):
        read_order(folder)


def layer_faults(folder, layers, version="R2010"):
    found = faults(folder, text=GOOD + f'\n[files]\nversion = "{version}"\nlayers = {{ {layers} }}\n')
    assert all(fault.startswith("line 30, [files], layers.") for fault in found)
    return [fault.removeprefix("line 30, [files], layers.") for fault in found]


def test_layer_names_of_cut_files(folder):
    assert layer_faults(folder, 'ENGRAV = "a", EDGE = "a/b", POCKET = "c", REST = "C"') == [
        "ENGRAV: “ENGRAV” is not a layer of the cut files. Did you mean “ENGRAVE”?",
        "EDGE: “a/b” cannot be a layer name; expected up to 255 plain letters, digits and signs (ASCII), none of "
        '< > / \\ " : ; ? * | , = `, no space at either end',
        "REST: “C” is already the name of POCKET",
    ]


@pytest.mark.parametrize("name", ["", " ", "Säge", "V60 ", " V60", "V\\t60", "V" * 256, "a<b", "a`b"])
def test_layer_names_every_program_takes(folder, name):
    """Published DXF reference, symbol table names; ASCII only, because code pages differ."""
    (fault,) = layer_faults(folder, f'ENGRAVE = "{name}"')
    assert "cannot be a layer name; expected up to 255 plain letters" in fault


@pytest.mark.parametrize("name", ["v60", "V 60", "V" * 32, "V.60", "V(60)", "SÄGE"])
def test_layer_names_of_r12(folder, name):
    """Published DXF reference: R12 allows at most 31 of A–Z 0–9 $ _ -."""
    assert layer_faults(folder, f'ENGRAVE = "{name}"', "R12") == [
        f"ENGRAVE: “{name}” cannot be a layer name in R12; expected 1 to 31 of A–Z 0–9 $ _ -"
    ]
    if name.isascii():
        (folder / "order.toml").write_text(GOOD + f'\n[files]\nlayers = {{ ENGRAVE = "{name}" }}\n', encoding="utf-8")
        assert read_order(folder).order.files.layers == {"ENGRAVE": name}


@pytest.mark.parametrize("version", ["R12", "R2010"])
def test_layers_that_every_drawing_has(folder, version):
    assert layer_faults(folder, 'ENGRAVE = "0", EDGE = "DEFPOINTS"', version) == [
        "ENGRAVE: “0”, but layer 0 takes on the looks of what it is put into; expected another name",
        "EDGE: “DEFPOINTS”, but layer Defpoints never plots; expected another name",
    ]


def test_a_layer_with_the_name_another_has_by_itself(folder):
    assert layer_faults(folder, 'POCKET = "Edge"') == ["POCKET: “Edge” is already the name of EDGE"]
    text = GOOD + '\n[files]\nlayers = { POCKET = "EDGE", EDGE = "POCKET" }\n'  # swapped: each name is still unique
    (folder / "order.toml").write_text(text, encoding="utf-8")
    assert read_order(folder).order.files.layers["EDGE"] == "POCKET"


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ('opposite = "{yeer}"', "“{yeer}” is not one of the columns"),
        ('opposite = "{name"', "is never closed"),
        ('leader = "."', "there is nothing opposite for it to lead to"),
        ('opposite = "1987"\nleader = " "', "only spaces"),
        ('opposite = "1987"\nalign = "centre"', "a centred line leaves no edge"),
        ('opposite = "1987"\narc = { radius = 40.0 }', "a line on an arc has no opposite edge"),
        ("tracking = 30\nloosest = 20", "loosest 20 is tighter than tracking 30"),
        ('baseline_with = "who"', "no line is named “who”"),
        ('name = "who"\nbaseline_with = "who"', "are in the same zone"),
        ('vertical = "top"\narc = { radius = 40.0 }', "a line on an arc lies where the arc is"),
    ],
)
def test_contradictory_keys_of_a_line_are_refused(folder, more, said):
    found = faults(folder, ("smallest   = 7.0", f"smallest = 7.0\n{more}"))
    assert any(said in fault for fault in found), found


def test_zones_with_conflicting_lines_or_circular_ties_are_refused():
    def line(**keys):
        return LineConfig(text="A", face="noto-sans", cap_height=5.0, **keys)

    def said(*lines):
        return [fault.found for fault in list_tie_faults(lines, FaultPlaces(Path("order.toml"), ""))]

    assert said(line(), line(vertical="top")) == ["“top”, but line 1 in the same zone has “middle”"]
    assert said(line(zone="A", vertical="top"), line(zone="B")) == []
    assert said(line(zone="A", name="a"), line(zone="B", name="a")) == ["“a” is already the name of line 1"]
    ring = line(zone="A", name="a", baseline_with="b"), line(zone="B", name="b", baseline_with="a")
    assert said(*ring) == ["the two zones are tied to each other"]
    back = line(zone="A", name="a"), line(zone="B", side="back", baseline_with="a")
    assert said(*back) == ["“a” is on the other side of the blank"]


def test_tracking_and_its_limit(folder):
    (said,) = faults(folder, ("smallest   = 7.0", "tracking = -30\ntightest = -20"))
    assert "tightest -20 is looser than tracking -30" in said
    text = GOOD.replace("smallest   = 7.0", "tracking = -30\ntightest = -30")
    (folder / "order.toml").write_text(text, encoding="utf-8")
    assert read_order(folder).order.line[0].tightest == -30


def test_several_zones_need_a_choice(folder):
    two = ('zone = "LETTERING"', 'zone = ["NAMES", "YEARS"]')
    found = faults(folder, two, ("cap_height = 4", 'cap_height = 4\nzone = "YEARS"'))
    assert found == ["line 17, [[line]] no. 1, zone: the blank has several zones; expected one of NAMES, YEARS"]


def test_a_refused_value_is_not_also_reported_as_missing(tmp_path):
    order = write_folder(tmp_path, changed(BASE, [("blank", {"shape": "rectangle", "width": -5.0, "height": 40.0})]))
    with pytest.raises(CannotRun) as refused:
        read_order(order)
    assert [fault.found for fault in refused.value.faults] == ["found the number -5.0"]
