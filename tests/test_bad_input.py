"""Bad input, each kind tried on the command line: exit 2, a clear message, nothing half-written, the list untouched."""

import hashlib
import os
import shutil
import zipfile
from pathlib import Path

import ezdxf
import openpyxl
import pytest

from pipeline.cli import main

ORDER = """
title = "Wardens"
units = "mm"
[list]
file = "list.xlsx"
columns = {{ name = "Recipient" }}
[blank]
{blank}
thickness = 19.0
margin = {margin}
[[line]]
text = "{{name}}"
face = "{face}"
cap_height = {cap_height}
smallest = {smallest}
"""
GOOD = {
    "blank": 'shape = "rectangle"\nwidth = 120.0\nheight = 60.0',
    "margin": 2.0,
    "face": "noto-sans",
    "cap_height": 8.0,
    "smallest": 6.0,
}


def make(folder: Path, **changes) -> Path:
    book = openpyxl.Workbook()
    book.active.append(["Recipient"])
    book.active.append(["Ida Vex"])
    book.active.append(["Teodoro Quill"])
    book.save(folder / "list.xlsx")
    (folder / "order.toml").write_text(ORDER.format(**{**GOOD, **changes}), encoding="utf-8")
    return folder


def fails(capsys, folder: Path, *words: str, args: tuple[str, ...] = ()) -> str:
    """Run the order; every one of `words` has to be in the message."""
    before = {p: hashlib.sha256(p.read_bytes()).hexdigest() for p in folder.rglob("*") if p.is_file()}
    status = main(["run", str(folder), *args])
    out, err = capsys.readouterr()
    after = {p: hashlib.sha256(p.read_bytes()).hexdigest() for p in folder.rglob("*") if p.is_file()}
    assert status == 2
    assert out == ""
    assert "Traceback" not in err
    for word in words:
        assert word in err, err
    assert after == before, "something was written or changed"
    return err


def test_the_good_order_runs(tmp_path, capsys):
    assert main(["run", str(make(tmp_path))]) == 0
    assert len(list((tmp_path / "out" / "cut").glob("*.dxf"))) == 2
    assert (tmp_path / "out" / "proof.pdf").read_bytes().startswith(b"%PDF")
    capsys.readouterr()


def test_no_such_order(tmp_path, capsys):
    status = main(["run", str(tmp_path / "nowhere")])
    _, err = capsys.readouterr()
    assert status == 2
    assert "nowhere" in err


def test_a_list_that_is_not_a_workbook(tmp_path, capsys):
    make(tmp_path)
    (tmp_path / "list.xlsx").write_text("not a workbook", encoding="utf-8")
    fails(capsys, tmp_path, "list.xlsx")


def test_an_empty_list_file(tmp_path, capsys):
    make(tmp_path)
    (tmp_path / "list.xlsx").write_bytes(b"")
    fails(capsys, tmp_path, "list.xlsx", "empty")


def test_a_workbook_with_nothing_in_it(tmp_path, capsys):
    make(tmp_path)
    openpyxl.Workbook().save(tmp_path / "list.xlsx")
    fails(capsys, tmp_path, "list.xlsx")


def test_a_list_without_a_header(tmp_path, capsys):
    make(tmp_path)
    book = openpyxl.Workbook()
    book.active.append(["Ida Vex"])
    book.active.append(["Teodoro Quill"])
    book.save(tmp_path / "list.xlsx")
    fails(capsys, tmp_path, "list.xlsx", "Recipient")


def test_a_mapped_column_that_is_not_there(tmp_path, capsys):
    make(tmp_path)
    book = openpyxl.Workbook()
    book.active.append(["Recipients' names", "Post"])
    book.active.append(["Ida Vex", "Warden"])
    book.save(tmp_path / "list.xlsx")
    fails(capsys, tmp_path, "list.xlsx", "Recipient")


def test_a_password_protected_list(tmp_path, capsys):
    make(tmp_path)
    # an encrypted workbook is an OLE compound file (MS-OFFCRYPTO); its first eight bytes are fixed (MS-CFB 2.2)
    (tmp_path / "list.xlsx").write_bytes(
        bytes.fromhex("d0cf11e0a1b11ae1") + b"\0" * 2048 + "EncryptedPackage".encode("utf-16-le")
    )
    fails(capsys, tmp_path, "list.xlsx", "password")


def drawing(folder: Path, *, units: int = 4, zone: bool = True, closed: bool = True) -> None:
    doc = ezdxf.new("R2010")
    doc.header["$INSUNITS"] = units
    for layer in ("EDGE", "LETTERING"):
        doc.layers.add(layer)
    space = doc.modelspace()
    space.add_lwpolyline([(0, 0), (120, 0), (120, 60), (0, 60)], close=closed, dxfattribs={"layer": "EDGE"})
    if zone:
        corners = [(10, 10), (110, 10), (110, 50), (10, 50)]
        space.add_lwpolyline(corners, close=True, dxfattribs={"layer": "LETTERING"})
    doc.saveas(folder / "plaque.dxf")


@pytest.mark.parametrize(
    ("faults", "words"),
    [
        ({"zone": False}, ("plaque.dxf", "LETTERING")),
        ({"closed": False}, ("plaque.dxf", "EDGE")),
        ({"units": 0}, ("unit",)),
    ],
)
def test_drawings_that_cannot_be_used(tmp_path, capsys, faults, words):
    named = '\nlayers = { zone = "LETTERING" }' if "zone" in faults else ""
    make(tmp_path, blank=f'drawing = "plaque.dxf"{named}')
    drawing(tmp_path, **faults)
    fails(capsys, tmp_path, *words)


def test_a_face_file_that_is_not_a_font(tmp_path, capsys):
    make(tmp_path, face="client.ttf")
    (tmp_path / "client.ttf").write_text("no font", encoding="utf-8")
    fails(capsys, tmp_path, "client.ttf")


def test_a_damaged_face_file(tmp_path, capsys):
    make(tmp_path, face="client.ttf")
    good = Path(__file__).resolve().parent.parent / "fonts" / "noto-sans" / "NotoSans-Regular.ttf"
    (tmp_path / "client.ttf").write_bytes(good.read_bytes()[:20000])
    fails(capsys, tmp_path, "client.ttf")


def test_a_zone_smaller_than_its_margin(tmp_path, capsys):
    make(tmp_path, blank='shape = "rectangle"\nwidth = 120.0\nheight = 3.0')
    fails(capsys, tmp_path, "margin")


def test_a_cap_height_below_the_smallest(tmp_path, capsys):
    make(tmp_path, cap_height=5.0)
    fails(capsys, tmp_path, "cap_height", "smallest")


@pytest.mark.skipif(os.name == "nt", reason="a file where a folder should be is tried on every other system")
def test_an_output_folder_that_cannot_be_written(tmp_path, capsys):
    make(tmp_path)
    (tmp_path / "out").write_text("a file stands where the folder should be", encoding="utf-8")
    fails(capsys, tmp_path, "out")


def test_a_damaged_archive(tmp_path, capsys):
    make(tmp_path)
    whole = (tmp_path / "list.xlsx").read_bytes()
    (tmp_path / "list.xlsx").write_bytes(whole[: len(whole) // 2])
    fails(capsys, tmp_path, "list.xlsx")
    with zipfile.ZipFile(tmp_path / "list.xlsx", "w") as archive:
        archive.writestr("word/document.xml", "<x/>")
    fails(capsys, tmp_path, "list.xlsx")


def test_all_faults_of_the_order_file_at_once(tmp_path, capsys):
    make(tmp_path, cap_height=5.0)
    text = (tmp_path / "order.toml").read_text(encoding="utf-8")
    (tmp_path / "order.toml").write_text("titel = 3\n" + text, encoding="utf-8")
    err = fails(capsys, tmp_path, "titel", "title", "smallest")
    assert err.count("\n  - ") >= 2


def test_chosen_rows_that_do_not_exist(tmp_path, capsys):
    make(tmp_path)
    fails(capsys, tmp_path, "--rows", args=("--rows", "90-99"))
    fails(capsys, tmp_path, "--rows", args=("--rows", "x"))
    shutil.rmtree(tmp_path / "out", ignore_errors=True)


def test_an_unknown_face_names_the_nearest(tmp_path, capsys):
    make(tmp_path, face="notto-sans")
    fails(capsys, tmp_path, "notto-sans", "noto-sans", "[[line]] no. 1")
