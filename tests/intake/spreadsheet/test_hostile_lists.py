"""Malicious lists, or lists from malicious programs: nothing is run, followed, lost or passed on."""

import io
import zipfile
from pathlib import Path

import openpyxl
import pytest
import xlsxwriter

from pipeline.core.config.order import ListConfig
from pipeline.core.errors import CannotRun
from pipeline.intake.spreadsheet import xlsx
from pipeline.intake.spreadsheet.read_sheet import read_sheet
from pipeline.intake.spreadsheet.sheet import ReadOptions
from tests.intake.one_list import read_one_list
from tests.load_script import load_script

PART = ListConfig(file="x", columns={"name": "Recipient"})


def read(path):
    done = read_one_list(read_sheet(path, ReadOptions()), PART, ["name"])
    assert len(done.account) == done.rows
    return done


def names(done):
    return [r.get_value("name") for r in done.recipients]


# text with a meaning to some program that reads it later; here it is plain text
VERBATIM = [
    "=HYPERLINK(\"http://x.example\",\"y\")",
    "=1+1",
    "+1+1",
    "-2+3",
    "@SUM(A1)",
    "[[line]]",
    "name = \"x\"",
    "0\nSECTION",
    "  0\nEOF",
    "AcDbEntity",
    "endstream endobj",
    "(x) Tj ET Q",
    "../../etc/passwd",
    "C:\\Windows\\system32",
    "CON",
    "aux.txt",
    "name.",
    "x" * 300,
    "<script>alert(1)</script>",
    "&lt;b&gt;",
    "{name}",
    "%(name)s",
    "${HOME}",
    "'; DROP TABLE names;--",
    "\\u0041",
    "_x0041_ plain",
]  # fmt: skip


@pytest.mark.parametrize("kind", ["xlsx", "csv"])
def test_text_stays_text_whatever_it_looks_like(tmp_path, kind):
    path = tmp_path / f"list.{kind}"
    if kind == "xlsx":
        book = xlsxwriter.Workbook(path)
        page = book.add_worksheet()
        for row, text in enumerate(["Recipient", *VERBATIM]):
            page.write_string(row, 0, text)
        book.close()
    else:
        import csv

        with path.open("w", newline="", encoding="utf-8") as file:
            csv.writer(file).writerows([["Recipient", "x"], *[[text, "x"] for text in VERBATIM]])
    raw = [dict(r.raw)["name"] for r in read(path).recipients]
    wanted = [text for text in VERBATIM if text != "_x0041_ plain" or kind == "csv"]
    assert [text for text in raw if text in wanted] == wanted
    assert all(
        " ".join(text.split()) == r.get_value("name")
        for text, r in zip(VERBATIM[:-1], read(path).recipients, strict=False)
    )


def test_lone_surrogates_and_nul_are_never_passed_on(tmp_path):
    book = openpyxl.Workbook()
    for text in ("Recipient", "Ada _xD83D_ Skua", "Bo _x0000_ Tern", "Cy _xD83D__xDE00_"):
        book.active.append((text,))
    book.save(tmp_path / "a.xlsx")
    done = read(tmp_path / "a.xlsx")
    assert names(done) == ["Ada \ufffd Skua", "Bo Tern", "Cy 😀"]
    (tmp_path / "b.csv").write_bytes(b"Recipient\nBo\0 Tern\n")
    assert names(read(tmp_path / "b.csv")) == ["Bo Tern"]


def repacked(path, change, *, add=()):
    out = io.BytesIO()
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for part in old.infolist():
            new.writestr(part.filename, change(part.filename, old.read(part)))
        for name, data in add:
            new.writestr(name, data)
    path.write_bytes(out.getvalue())


@pytest.fixture
def sound(tmp_path):
    book = openpyxl.Workbook()
    for text in ("Recipient", "Ada Skua", "Bo Tern"):
        book.active.append((text,))
    book.save(tmp_path / "list.xlsx")
    return tmp_path / "list.xlsx"


SHEET = "xl/worksheets/sheet1.xml"


def test_macros_are_ignored(sound):
    repacked(sound, lambda _, data: data, add=[("xl/vbaProject.bin", b"\0" * 5000)])
    assert names(read(sound.rename(sound.with_suffix(".xlsm")))) == ["Ada Skua", "Bo Tern"]


def test_links_to_other_workbooks_are_not_followed(tmp_path):
    path = tmp_path / "a.xlsx"
    book = xlsxwriter.Workbook(path)
    page = book.add_worksheet()
    page.write_string(0, 0, "Recipient")
    page.write_formula(1, 0, "='\\\\server.example\\share\\[names.xlsx]Sheet1'!A1", None, "Ada Skua")
    page.write_formula(2, 0, '=WEBSERVICE("http://x.example")', None, "Bo Tern")
    book.close()
    assert names(read(path)) == ["Ada Skua", "Bo Tern"]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_entities_are_refused_in_any_encoding(sound, encoding):
    evil = '<?xml version="1.0"?><!DOCTYPE lolz [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">]><worksheet/>'

    def change(name, data):
        return evil.encode(encoding) if name == SHEET else data

    repacked(sound, change)
    with pytest.raises(CannotRun, match="entities"):
        read(sound)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16", "latin-1", "utf-32", "utf-7", "cp037", "gb18030"])
def test_entities_far_from_the_beginning_are_refused(sound, encoding):
    """Also in encodings that one XML parser supports and another doesn't."""
    said = "" if encoding == "utf-16" else f' encoding="{encoding}"'
    evil = f'<?xml version="1.0"{said}?><!--{"x" * 300_000}--><!DOCTYPE a [<!ENTITY a "aa">]><worksheet>&a;</worksheet>'
    repacked(sound, lambda name, data: evil.encode(encoding) if name == SHEET else data)
    with pytest.raises(CannotRun, match="damaged" if encoding in ("utf-7", "gb18030") else "entities"):
        read(sound)


def test_a_text_that_looks_like_a_declaration_is_a_text(sound):
    repacked(sound, lambda name, data: data.replace(b"Ada Skua", b"&lt;!DOCTYPE Ada Skua")
             if name == SHEET else data)  # fmt: skip
    assert names(read(sound)) == ["<!DOCTYPE Ada Skua", "Bo Tern"]


def test_outside_entities_read_no_file(tmp_path, sound):
    (tmp_path / "secret.txt").write_text("SECRET", encoding="utf-8")
    evil = f'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY s SYSTEM "file://{tmp_path}/secret.txt">]>'.encode()
    repacked(sound, lambda name, data: evil + data.partition(b"?>")[2] if name == SHEET else data)
    with pytest.raises(CannotRun, match="entities"):
        read(sound)


def test_a_declared_size_is_not_trusted(sound):
    repacked(sound, lambda name, data: data.replace(b'ref="A1:A3"', b'ref="A1:XFD1048576"') if name == SHEET else data)
    assert names(read(sound)) == ["Ada Skua", "Bo Tern"]


def test_row_numbers_beyond_any_sheet_are_refused(sound):
    repacked(sound, lambda name, data: data.replace(b'"A3"', b'"A99999999"').replace(b'r="3"', b'r="99999999"')
             if name == SHEET else data)  # fmt: skip
    try:
        assert len(read(sound).recipients) <= 2
    except CannotRun as problem:
        assert "damaged" in str(problem)


def test_many_blank_rows(sound, monkeypatch):
    blank = b"".join(b'<row r="%d" ht="%d" customHeight="1"/>' % (n, n % 97) for n in range(4, 30_000))
    repacked(
        sound, lambda name, data: data.replace(b"</sheetData>", blank + b"</sheetData>") if name == SHEET else data
    )
    done = read(sound)
    assert names(done) == ["Ada Skua", "Bo Tern"] and done.rows == 3
    monkeypatch.setattr(xlsx, "MOST_CELLS", 20_000)
    assert names(read(sound)) == ["Ada Skua", "Bo Tern"]


@pytest.mark.parametrize("place", ["A9:XFD1048576", "C1:XFD1048576"])
def test_a_merge_over_nearly_the_whole_sheet_is_read_by_values(sound, place):
    """A cell for each place that is merged would fill any memory."""
    merge = f'</sheetData><mergeCells count="1"><mergeCell ref="{place}"/></mergeCells>'.encode()
    repacked(sound, lambda name, text: text.replace(b"</sheetData>", merge) if name == SHEET else text)
    sheet = read_sheet(sound)
    assert sheet.read_by == "python-calamine"
    assert [row.cells[0].shown for row in sheet.rows] == ["Recipient", "Ada Skua", "Bo Tern"]


def test_a_missing_picture_does_not_lose_the_list(tmp_path):
    path = tmp_path / "a.xlsx"
    book = xlsxwriter.Workbook(path)
    page = book.add_worksheet()
    page.write_column(0, 0, ["Recipient", "Ada Skua"])
    page.insert_textbox(4, 4, "a remark")
    book.close()
    out = io.BytesIO()
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(out, "w") as new:
        for part in old.infolist():
            if "drawings/drawing1" not in part.filename:
                new.writestr(part.filename, old.read(part))
    path.write_bytes(out.getvalue())
    done = read(path)
    assert names(done) == ["Ada Skua"] and "list.marks-unseen" in {f.code for f in done.findings}


def test_rows_out_of_order_do_not_crash_the_program(tmp_path, sound, monkeypatch):
    """The quick reader reserves space from the first row to the last; reversed, that exceeds any memory."""
    rows = b'<row r="900000"><c r="A900000"><v>1</v></c></row><row r="4"><c r="A4"><v>1</v></c></row></sheetData>'
    repacked(sound, lambda name, data: data.replace(b"</sheetData>", rows) if name == SHEET else data)
    monkeypatch.setattr(xlsx, "MOST_CELLS", 2)
    with pytest.raises(CannotRun, match="out of order"):
        read(sound)
    lists = Path(__file__).parents[1] / "lists"
    for wrong, words in ((b"\x00\x00", "cut short"), (b"\x00\x0c" + b"\xff" * 12, "out of order|spread over")):
        with zipfile.ZipFile(lists / "keepers.xlsb") as old, zipfile.ZipFile(tmp_path / "a.xlsb", "w") as new:
            for part in old.infolist():
                data = old.read(part)
                # before the last rows: a row record of zero length, with garbage
                if part.filename.endswith("sheet1.bin"):
                    at = data.index(b"\x00\x19\x03\x00\x00\x00")
                    data = data[:at] + wrong + data[at:]
                new.writestr(part.filename, data)
        with pytest.raises(CannotRun, match=words):
            read(tmp_path / "a.xlsb")


@pytest.mark.slow
def test_damaged_lists_of_every_kind_are_read_or_refused_and_print_nothing(capfd):
    """A sample; for all five thousand: `python -m tests.long.damaged_lists`."""
    fuzz = load_script("intake/fuzz_lists.py")
    tally = fuzz.main(200, 20260503)
    assert tally.total() == 200
    shown = capfd.readouterr()
    assert shown.out == shown.err == ""
    every = [f"{name} {what}" for name in fuzz.seeds() for what in ("read", "refused")]
    assert all(tally[what] > 1 for what in every if what != "a.txt refused"), tally  # any line of text can be a name


def test_outside_lists():
    """Runs once `python tests/intake/outside_lists.py --fetch` has downloaded them."""
    outside = load_script("intake/outside_lists.py")
    files = sorted(p for p in outside.OUTSIDE.iterdir() if p.suffix != ".json") if outside.OUTSIDE.is_dir() else []
    if not files:
        pytest.skip("not fetched: python tests/intake/outside_lists.py --fetch")
    told = [outside.look(path)[0] for path in files]
    assert told.count("read") > 0.8 * len(told)
