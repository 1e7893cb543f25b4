"""Control characters and direction overrides, passed in everywhere: none comes out on the terminal, in a paper, a
table or a report. Checked with other readers of those files: pypdf, openpyxl, the csv and json libraries."""

import csv
import io
import json
import re
import shutil
import unicodedata
from pathlib import Path

import ezdxf
import openpyxl
import pypdf
import pytest
from fontTools.ttLib import TTFont

from pipeline.cli import main
from pipeline.core.errors import Fault
from pipeline.core.printable import FSI, PDI, format_for_terminal, make_printable, put_in_one_line, write_json_text

EVIL = "Fe\x1b[31mr\x9bn\u202edewO\u2066\x07\x7f"
SPELLED = "".join(f"\\u{ord(c):04x}" if ord(c) > 126 or ord(c) < 32 else c for c in EVIL)
ORDERED = "Fe\x9brn\u202edewO\u2066"
"""What the formats of names and sheets let through: no C0 control."""
FONT = next((Path(__file__).resolve().parent.parent / "fonts").rglob("NotoSans-Regular.ttf"))
ORDER = """
title = "{title}"
client = "{client}"
[list]
file = "{file}"
{more}
[blank]
{blank}
thickness = 6.0
[[line]]
text = "{{name}}"
face = "{face}"
cap_height = 6.0
smallest = 3.0
[proof]
shop = "{shop}"
message = "{shop}"
"""
PLAIN = {
    "title": "Shore Wardens", "client": "Skerry Trust", "file": "list.csv", "more": "", "face": "noto-sans",
    "shop": "", "blank": 'shape = "rectangle"\nwidth = 120.0\nheight = 40.0',
}  # fmt: skip


def harmful(text: str) -> set[str]:
    """Return the control characters and overrides of a text, except line ends and tabs; by the library's categories."""
    overrides = set("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2069") - {PDI}
    return {c for c in text if (unicodedata.category(c) in ("Cc", "Cs") and c not in "\n\t") or c in overrides}


def outputs(folder: Path) -> dict[str, str]:
    """Return what each file of the output folder contains, as other readers read it, and its name."""
    said = {}
    for path in sorted(p for p in folder.rglob("*") if p.is_file() and p.suffix not in (".dxf", ".sqlite")):
        name = path.name
        if path.suffix == ".pdf":
            pdf = pypdf.PdfReader(path)
            texts = [page.extract_text() for page in pdf.pages]
            texts += [str(v) for v in (pdf.metadata or {}).values()]
            texts += [str(f.get(k, "")) for f in (pdf.get_fields() or {}).values() for k in ("/V", "/TU")]
            said[name] = "\n".join(texts)
        elif path.suffix == ".xlsx":
            book = openpyxl.load_workbook(path)
            cells = [str(c.value) for sheet in book for row in sheet.iter_rows() for c in row if c.value is not None]
            said[name] = "\n".join([*cells, *book.sheetnames, str(book.properties.title)])
        elif path.suffix == ".csv":
            rows = csv.reader(io.StringIO(path.read_text("utf-8-sig"), newline=""))
            said[name] = "\n".join(cell for row in rows for cell in row)
        elif path.suffix == ".json":
            said[name] = path.read_text("utf-8")
            json.loads(said[name])
    return said | {f"the name of {name!r}": name for name in [*said, *(p.name for p in folder.rglob("*"))]}


def order(folder: Path, rows: str = "Name,Post\nIda Vex,Warden\nOdd Marram,Clerk\n", **changes: str) -> Path:
    values = PLAIN | changes
    if values["file"].endswith(".csv"):
        (folder / values["file"].encode().decode("unicode_escape")).write_text(rows, encoding="utf-8")
    (folder / "order.toml").write_text(ORDER.format(**values), encoding="utf-8")
    return folder


def sheet_named(folder: Path) -> Path:
    book = openpyxl.Workbook()
    book.active.append(["Name", ORDERED])
    book.active.append(["Ida Vex", ORDERED])
    book.save(folder / "list.xlsx")
    packed = folder / "list.xlsx"
    import zipfile

    with zipfile.ZipFile(packed) as old:
        parts = {name: old.read(name) for name in old.namelist()}
    parts["xl/workbook.xml"] = parts["xl/workbook.xml"].replace(b'name="Sheet"', f'name="{ORDERED}"'.encode())
    with zipfile.ZipFile(packed, "w") as new:
        for name, data in parts.items():
            new.writestr(name, data)
    return order(folder, file="list.xlsx")


def drawn(folder: Path, zone: str) -> Path:
    drawing = ezdxf.new("R2010", units=4)  # mm
    for layer, inset in (("EDGE", 0), (zone, 5)):
        drawing.layers.add(layer)
        points = [(inset, inset), (120 - inset, inset), (120 - inset, 40 - inset), (inset, 40 - inset)]
        drawing.modelspace().add_lwpolyline(points, close=True, dxfattribs={"layer": layer})
    drawing.saveas(folder / "plate.dxf")
    return folder


def with_layer(folder: Path) -> Path:
    """Return a drawing with a layer of that name, which lacks the layer that the order names."""
    return order(drawn(folder, ORDERED), blank='drawing = "plate.dxf"')


def with_font(folder: Path) -> Path:
    font = TTFont(FONT)
    for record in font["name"].names:
        if record.nameID in (1, 4, 6, 13, 16):
            record.string = EVIL.encode(record.getEncoding(), "replace") if record.platformID == 3 else b"Fern"
    font.save(folder / "own.ttf")
    return order(folder, face="own.ttf")


DOORS = {
    "title": lambda f: order(f, title=SPELLED),
    "client": lambda f: order(f, client=SPELLED),
    "shop": lambda f: order(f, shop=SPELLED),
    "name": lambda f: order(f, f"Name,Post\n{EVIL},Warden\nIda Vex,{EVIL}\n"),
    "file name": lambda f: order(f, file=f"{SPELLED}.csv".replace("\\u0000", "")),
    "no such file": lambda f: order(f, more=f'sheet = "{SPELLED}"', file=f"{SPELLED}.xlsx"),
    "sheet name": sheet_named,
    "no such sheet": lambda f: order(sheet_named(f), file="list.xlsx", more=f'sheet = "{SPELLED}"'),
    "heading": lambda f: order(f, f"Name,{EVIL}\nIda Vex,Warden\n", more=f'columns = {{ name = "{SPELLED}" }}'),
    "heading used": lambda f: order(f, f"{EVIL},Post\nIda Vex,Warden\n", more=f'columns = {{ name = "{SPELLED}" }}'),
    "layer": with_layer,
    "font name": with_font,
    "key": lambda f: order(f, more=f'"{SPELLED}" = 1'),
    "no toml": lambda f: order(f, more=f"x = {EVIL}"),
    "settled": lambda f: order(f, more=f'settled = {{ "list.look-alike 12" = "{SPELLED}" }}'),
}


@pytest.mark.parametrize("door", DOORS)
def test_nothing_harmful_comes_out(tmp_path, capsys, door):
    folder = DOORS[door](tmp_path)
    for arguments in (["run"], ["check", "--json"], ["status"], ["release"]):
        status = main([arguments[0], str(folder), *arguments[1:]])
        out, err = capsys.readouterr()
        assert status in (0, 1, 2), err
        assert not harmful(out) and not harmful(err), (arguments, out, err)
        if arguments[-1] == "--json" and status < 2:
            json.loads(out)
    for name, said in outputs(tmp_path / "out").items() if (tmp_path / "out").exists() else ():
        assert not harmful(said), (name, [said[max(0, m.start() - 30) : m.end() + 30] for m in _found(said)])


def _found(said: str) -> list[re.Match[str]]:
    return list(re.finditer("[" + re.escape("".join(harmful(said))) + "]", said))[:3]


def test_an_argument_and_a_folder_of_such_a_name(tmp_path, capsys):
    with pytest.raises(SystemExit):
        main(["run", "order", "--rows", "1", EVIL, f"--{EVIL}"])
    for arguments in (["run", EVIL], ["start", f"{EVIL}.csv"], ["explain", EVIL], ["faces", "--like", EVIL]):
        assert main(arguments) in (1, 2)
    inner = tmp_path / EVIL
    inner.mkdir()
    assert main(["run", str(order(inner))]) == 0
    assert main(["start", str(inner / "list.csv"), "--in", str(tmp_path / "new")]) == 0
    out, err = capsys.readouterr()
    assert not harmful(out) and not harmful(err), (out, err)


def test_a_started_order_repeats_nothing_harmful(tmp_path, capsys):
    path = tmp_path / "list.csv"
    path.write_text(f"{EVIL}\n\nName,{EVIL}\nIda Vex,{EVIL}\nOdd {EVIL} Marram,Clerk\n", encoding="utf-8")
    assert main(["start", str(path), "--in", str(tmp_path / "new")]) == 0
    out, err = capsys.readouterr()
    assert not harmful(out + err + (tmp_path / "new" / "order.toml").read_text("utf-8"))
    shutil.rmtree(tmp_path / "new")
    assert main(["start", str(path), "--in", str(tmp_path / "new"), "--json"]) == 0
    out, _ = capsys.readouterr()
    assert not harmful(out)
    json.loads(out)


# --- the functions -----------------------------------------------------------------------------------------------


def test_every_control_character_has_a_mark_and_no_letter_changes():
    for code in range(0x11_0000):
        c = chr(code)
        category = unicodedata.category(c)
        if category in ("Cc", "Cs"):
            shown = make_printable(c)
            assert c in "\n\t" or (shown != c and shown.isprintable()), f"U+{code:04X}"
        elif category[0] in "LMNPSZ" and category not in ("Zl", "Zp"):
            assert make_printable(c) == c, f"U+{code:04X}"
    assert make_printable("\x1b[31m") == "␛[31m"
    assert make_printable("a\r\nb\rc\x7f") == "a\nb␍c␡"
    assert put_in_one_line("a\nb\tc") == "a␊b␉c"


@pytest.mark.parametrize("name", ["پرویز نوری‌زاده", "क्‍ष", "שָׁלוֹם", "Zoë 山田", "👩🏽‍🚀"])
def test_names_of_every_script_stay_as_they_are(name):
    assert make_printable(name) == name
    assert json.loads(write_json_text([name])) == [name]


def test_right_to_left_names_are_laid_out_by_themselves():
    """UAX #9, 6.5: an isolate keeps the surrounding text in its own order; checked with another implementation."""
    from bidi import get_display

    line = "row 3, B3: “שלום כהן” 12 rows"
    shown = format_for_terminal(line)
    assert shown == f"row 3, B3: “{FSI}שלום כהן{PDI}” 12 rows"
    assert shown.replace(FSI, "").replace(PDI, "") == line
    looks = get_display(shown, base_dir="L").replace(FSI, "").replace(PDI, "")
    assert looks == "row 3, B3: “ןהכ םולש” 12 rows"
    assert format_for_terminal("plain words, 3 × 4") == "plain words, 3 × 4"


def test_json_is_the_same_value_for_whoever_reads_it():
    value = {"name": EVIL, "half": "\ud83d", "lines": ["a\nb", "\u2028"]}
    text = write_json_text(value, indent=1)
    assert not harmful(text)
    assert json.loads(text) == value


def test_a_fault_is_one_line_whatever_it_names():
    said = str(Fault(where="a\nb", found="x\x1b[2J\u202e", expected="y", remedy="z"))
    assert "\n" not in said and not harmful(said)
