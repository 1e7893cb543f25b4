"""Every file format of a list: the same rows, whatever the format."""

import csv
import io
import re
import zipfile
from pathlib import Path

import openpyxl
import pytest
import python_calamine
import xlsxwriter

from pipeline.core.catalogue import format_message, format_remedy
from pipeline.core.config.order import BlankConfig, LineConfig, ListConfig, ListLimits, Order, OrderFolder
from pipeline.core.errors import CannotRun
from pipeline.intake.order.consistency_rules import check_file
from pipeline.intake.recipients.read_list import read_list
from pipeline.intake.spreadsheet import list_formats, xlsx
from pipeline.intake.spreadsheet.delimited_text import find_separator
from pipeline.intake.spreadsheet.encodings import NotTextError, decode_text
from pipeline.intake.spreadsheet.list_formats import LIST_SUFFIXES, ListFormat
from pipeline.intake.spreadsheet.number_format import format_value
from pipeline.intake.spreadsheet.read_sheet import read_sheet
from pipeline.intake.spreadsheet.sheet import Cell, ReadOptions, Row, Sheet, format_column, parse_column

LISTS = Path(__file__).resolve().parents[1] / "lists"
COLUMNS = {"name": "Recipient", "post": "Post", "season": "Season", "copies": "How many"}


def read(path, columns=COLUMNS, **kw):
    order = Order(
        title="Keepers",
        list=ListConfig(file=path.name, columns=columns, **kw),
        blank=BlankConfig(shape="disc", diameter=70.0),
        line=tuple(
            LineConfig(text=f"{{{key}}}", face="eb-garamond", cap_height=8.0) for key in columns if key != "copies"
        ),
    )
    return read_list(OrderFolder(order=order, folder=path.parent, file=path.parent / "order.toml", sha256="0" * 64))


def codes(done):
    return {r.row: sorted(f.code for f in r.findings) for r in done.recipients if r.findings}


# --- workbooks ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("suffix", ["ods", "xls"])
def test_the_same_sheet_in_other_formats(suffix):
    done = read(LISTS / f"keepers.{suffix}")
    assert done.header_row == 2 and done.rows == 10 and len(done.recipients) == 7
    assert [r.get_value("season") for r in done.recipients] == [
        "2026",
        "2026",
        "3 May 2026",
        "12.50",
        "2026",
        "2026",
        "2026",
    ]
    assert codes(done) == {
        4: ["list.row-struck"],
        5: ["list.not-text"],
        6: ["list.as-shown", "list.comment"],
        8: ["list.row-hidden", "text.tidied"],
        9: ["list.cell-error"],
    }
    assert {f.code for f in done.findings} == {"list.other-sheets", "list.left-out", "list.blank-rows"}


def test_a_binary_workbook_keeps_its_errors_and_reports_what_it_cannot_see():
    done = read(LISTS / "keepers.xlsb")
    assert [r.get_value("name") for r in done.recipients] == [
        "Ada Kittiwake", "Björn Ærøskarv", "Isolde Carrick", "Rhys ap Gwylan", "Tuija Lokkinen", "", "Nguyễn Hải Âu"
    ]  # fmt: skip
    assert [r.get_value("post") for r in done.recipients][-1] == "Photographer" and done.recipients[1].copies == 2
    assert codes(done) == {8: ["text.tidied"], 9: ["list.cell-error"]}
    (said,) = [f for f in done.findings if f.code == "list.marks-unseen"]
    for mark in ("hidden rows", "hidden columns", "struck-through text", "comments", "merged cells"):
        assert mark in format_message(said)
    assert "save" in format_remedy(said) and ".xlsx" in format_remedy(said)


def test_an_error_beside_a_name_is_not_taken_for_an_empty_cell(tmp_path):
    """python-calamine alone returns such cells as empty: the post would be silently left off."""
    path = tmp_path / "a.xlsb"
    with zipfile.ZipFile(LISTS / "keepers.xlsb") as old, zipfile.ZipFile(path, "w") as new:
        for part in old.infolist():
            data = old.read(part)
            if part.filename.endswith("sheet1.bin"):
                # [MS-XLSB] 2.4.312 and 2.4.318: the text in B3 (kind 6, column 1) becomes #N/A (kind 3, error 42)
                at = data.index(b"\x06\x18\x01", data.index(b"\x00\x19\x02\x00\x00\x00"))
                data = data[:at] + b"\x03\x09" + data[at + 2 : at + 10] + b"\x2a" + data[at + 2 + 0x18 :]
            new.writestr(part.filename, data)
    assert codes(read(path))[3] == ["list.cell-error"]
    assert python_calamine.load_workbook(path).get_sheet_by_name("Keepers").to_python(skip_empty_area=False)[2][1] == ""


def test_cells_without_a_column_are_refused_and_not_skipped():
    with pytest.raises(CannotRun, match=r"cells don't say which column.*save it as \.xlsx"):
        read(LISTS / "keepers-short.xlsb")


def test_displayed_text_is_the_same_in_every_format():
    """Compared with the text that LibreOffice stored beside each value of the .ods."""
    shown_in = {}
    for suffix in ("ods", "xls", "xlsx"):
        sheet = read_sheet(LISTS / f"shown.{suffix}")
        shown_in[suffix] = [(c.address, c.shown, c.kind == "error", c.marks & {"struck", "part-struck", "superscript"})
                            for row in sheet.rows for c in row.cells]  # fmt: skip
        assert sheet.merged == ((17, 2, 18, 2),)
    assert shown_in["xls"] == shown_in["ods"] and shown_in["xlsx"] == shown_in["ods"]
    texts = {address: text for address, text, _, _ in shown_in["ods"]}
    assert texts["B2"] == "12.50" and texts["B5"] == "3 May 2026" and texts["B9"] == "007" and texts["B11"] == "#DIV/0!"
    assert sum(error for _, _, error, _ in shown_in["ods"]) == 4


@pytest.mark.parametrize("suffix", ["ods", "xls"])
def test_marks_that_the_libraries_read_are_not_reported_as_unread(suffix):
    assert "list.marks-unseen" not in {f.code for f in read(LISTS / f"keepers.{suffix}").findings}


def test_one_table_of_formats_is_used_everywhere(tmp_path):
    """The README's list of suffixes, the order file's message and the message for an unknown file match the table."""
    readme = (Path(__file__).resolve().parents[3] / "README.md").read_text(encoding="utf-8")
    (said,) = re.findall(r"text file \(`([^`]+)`\)", readme)
    assert said.split() == list(LIST_SUFFIXES)
    assert len(set(LIST_SUFFIXES)) == len(LIST_SUFFIXES)
    everywhere = " ".join(LIST_SUFFIXES)
    (tmp_path / "names.doc").write_bytes(b"x")
    assert everywhere in str(check_file("order.toml", "names.doc", tmp_path, "the client's list", LIST_SUFFIXES))
    (tmp_path / "a.xlsx").write_bytes(b"%PDF-1.7\n")
    with pytest.raises(CannotRun, match=f"this is a PDF.*{re.escape(everywhere)}"):
        read_sheet(tmp_path / "a.xlsx")


def test_a_format_is_one_entry(tmp_path, monkeypatch):
    def read_names(path, data, sha256, how):
        names = data.decode("ascii").split(";")[1:]
        rows = tuple(Row(n, (Cell(n, 1, "text", name, name),)) for n, name in enumerate(names, 1))
        return Sheet(file=path.name, path=path, name="", sha256=sha256, rows=rows)

    added = ListFormat(
        suffixes=(".rolls",),
        recognise=lambda file: file.kind == "plain",
        read=read_names,
        by_ending=True,
        own_reader=True,
        unread=("colours",),
    )
    monkeypatch.setattr(list_formats, "FORMATS", (*list_formats.FORMATS, added))
    (tmp_path / "a.rolls").write_bytes(b"x;Ida Vex;Odd Marram")
    sheet = read_sheet(tmp_path / "a.rolls")
    assert [row.cells[0].shown for row in sheet.rows] == ["Ida Vex", "Odd Marram"] and sheet.unread == ("colours",)


def test_the_sheet_is_read_as_before():
    found = codes(read(LISTS / "keepers.xlsx"))
    assert found.pop(9) == ["list.no-result"] and found.keys() == {4, 5, 6, 8}


@pytest.mark.parametrize("suffix", ["ods", "xls", "xlsx"])
def test_the_texts_are_those_an_independent_reader_finds(suffix):
    # python-calamine reads all three; here it checks our reader
    path = LISTS / f"keepers.{suffix}"
    table = python_calamine.load_workbook(path).get_sheet_by_name("Keepers").to_python(skip_empty_area=False)
    ours = {(c.row, c.column): c.value for row in read_sheet(path).rows for c in row.cells if c.kind == "text"}
    theirs = {(r, c): v for r, row in enumerate(table, 1) for c, v in enumerate(row, 1) if isinstance(v, str) and v}
    assert ours == theirs


def test_a_hidden_sheet_is_not_used_without_a_question(tmp_path):
    book = openpyxl.Workbook()
    book.active.append(("Recipient",))
    book.active.sheet_state = "hidden"
    page = book.create_sheet("Names")
    page.append(("Recipient",))
    page.append(("Ada Kittiwake",))
    book.save(tmp_path / "a.xlsx")
    assert read_sheet(tmp_path / "a.xlsx").name == "Names"
    assert read_sheet(tmp_path / "a.xlsx", ReadOptions(sheet="Sheet")).hidden


def large(tmp_path, rows=60):
    """Build a list with hidden row 5, errors in B7 and (by formula) A9, a formula without result in B11."""
    path = tmp_path / "large.xlsx"
    book = xlsxwriter.Workbook(path)
    page = book.add_worksheet()
    page.write_row(0, 0, ("Recipient", "Post", "Season", "How many"))
    for row in range(1, rows):
        page.write_row(row, 0, (f"Ada {format_column(row) * 4} Kittiwake", "Warden", 2026, 1))
    page.set_row(4, None, None, {"hidden": True})
    page.write_formula(8, 0, "=A99", None, "#REF!")
    book.close()
    text = path.read_bytes()
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(text)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for part in old.infolist():
            data = old.read(part)
            if part.filename == "xl/worksheets/sheet1.xml":
                data = data.replace(b'<c r="B7" t="s"><v>5</v></c>', b'<c r="B7" t="e"><v>#N/A</v></c>')
                start = data.index(b'<c r="B7"')
                data = data[:start] + b'<c r="B7" t="e"><v>#N/A</v></c>' + data[data.index(b"<c", start + 3) :]
                start = data.index(b'<c r="B11"')
                data = data[:start] + b'<c r="B11"><f>A1</f></c>' + data[data.index(b"<c", start + 3) :]
            new.writestr(part.filename, data)
    path.write_bytes(out.getvalue())
    return path


def test_a_large_sheet_is_read_by_values_and_loses_neither_errors_nor_hidden_rows(tmp_path, monkeypatch):
    path = large(tmp_path)
    slow = read(path)
    monkeypatch.setattr(xlsx, "MOST_CELLS", 100)
    quick = read(path)
    assert codes(slow) == codes(quick)
    found = {row: [c for c in said if c != "list.look-alike"] for row, said in codes(quick).items()}
    assert {row: said for row, said in found.items() if said} == {
        5: ["list.row-hidden"],
        7: ["list.cell-error"],
        9: ["list.cell-error"],
        11: ["list.no-result"],
    }
    assert [r.values for r in slow.recipients] == [r.values for r in quick.recipients]
    assert "list.marks-unseen" in {f.code for f in quick.findings} - {f.code for f in slow.findings}


def test_one_distant_cell_makes_no_millions_of_cells(tmp_path, monkeypatch):
    book = openpyxl.Workbook()
    for row in (("Recipient",), ("Ada Kittiwake",)):
        book.active.append(row)
    book.active["XFD1048576"] = "Rhys ap Gwylan"
    book.save(tmp_path / "far.xlsx")
    done = read(tmp_path / "far.xlsx", {"name": "Recipient"})
    assert done.rows == 3 and len(done.recipients) == 1
    monkeypatch.setattr(xlsx, "MOST_CELLS", 2)
    with pytest.raises(CannotRun, match="spread over 1048576 rows and 16384 columns"):
        read(tmp_path / "far.xlsx", {"name": "Recipient"})


def changed_ods(path, old, new):
    """Return keepers.ods with one replacement in its content."""
    with zipfile.ZipFile(LISTS / "keepers.ods") as source, zipfile.ZipFile(path, "w") as target:
        for part in source.infolist():
            content = source.read(part)
            target.writestr(part.filename, content.replace(old, new, 1) if part.filename == "content.xml" else content)
    return path


def test_repeated_cells_of_an_ods_are_limited(tmp_path):
    repeated = b'<table:table-row table:number-rows-repeated="900000" '
    path = changed_ods(tmp_path / "a.ods", b"<table:table-row ", repeated)
    with pytest.raises(CannotRun, match=r"cells or more.*at most 1 000, the limit `cells`"):
        read_sheet(path, ReadOptions(limits=ListLimits(cells=1000)))


# OpenDocument 1.3, part 3, 6.1 and 14.1: what a paragraph contains besides its own text
@pytest.mark.parametrize(
    ("inside", "text"),
    [
        ('Ada <text:a xlink:href="mailto:a@b.example">Kitt<text:span>iwake</text:span></text:a>', "Ada Kittiwake"),
        ('Ada<text:s text:c="3"/>K<text:tab/>L<text:line-break/>M', "Ada   K\tL\nM"),
        ("Ada <office:annotation><text:p>a note</text:p></office:annotation>Kittiwake", "Ada Kittiwake"),
        (f"{'<text:span>' * 200}Ada{'</text:span>' * 200}", "Ada"),
        ('Ada<text:s text:c="90000000"/>K', f"Ada{' ' * 1000}K"),
    ],
)
def test_the_text_of_an_ods_cell_is_what_it_shows(tmp_path, inside, text):
    old = b"<text:p>Ada Kittiwake</text:p>"
    path = changed_ods(tmp_path / "a.ods", old, f"<text:p>{inside}</text:p>".encode())
    assert read_sheet(path).find_row(3).find_cell(1).shown == text


@pytest.mark.parametrize("value", [b"1e400000", b"nan", b"9" * 400])
def test_a_huge_number_in_an_ods_takes_no_time(tmp_path, value):
    path = changed_ods(tmp_path / "a.ods", b'office:value="2026"', b'office:value="%s"' % value)
    assert read_sheet(path).find_row(3).find_cell(3).shown == "2026"


def test_column_letters():
    for number, word in ((1, "A"), (26, "Z"), (27, "AA"), (702, "ZZ"), (703, "AAA"), (16384, "XFD")):
        assert format_column(number) == word and parse_column(word) == number
    assert parse_column("") is parse_column("A1") is parse_column("ABCD") is parse_column("é") is None


# --- how numbers are shown ---------------------------------------------------------------------------------------


# ECMA-376 part 1, 18.8.30 and 18.8.31; the displayed text was read off a spreadsheet program (LibreOffice 7.4)
@pytest.mark.parametrize(
    ("value", "code", "text", "sure"),
    [
        (2026, "General", "2026", True),
        (12.5, "General", "12.5", True),
        (1 / 3, "General", "0.3333333333", True),
        (12.5, "0", "13", True),
        (1234567.891, "#,##0.00", "1,234,567.89", True),
        (7, "000", "007", True),
        (0.25, "0%", "25%", True),
        (-3, "0;(0)", "(3)", True),
        (-3, "0.0", "-3.0", True),
        (2, '0" pcs"', "2 pcs", True),
        (1234.5, "0.##", "1234.5", True),
        (42, '"No. "0', "No. 42", True),
        (5551234, "000-0000", "555-1234", True),
        (3, "[Red]0", "3", True),
        (2.5, "# ?/?", "2.5", False),
        (1e20, "General", "100000000000000000000", False),
        (0.1 + 0.2, "0.00", "0.30", True),
        (2.675, "0.00", "2.68", True),
    ],
)
def test_numbers_as_the_sheet_shows_them(value, code, text, sure):
    assert format_value(value, code) == (text, sure)


def test_dates_as_the_sheet_shows_them():
    import datetime as dt

    day = dt.datetime(2026, 5, 3, 14, 7)
    for code, text in (
        ("yyyy-mm-dd", "2026-05-03"),
        ("d mmmm yyyy", "3 May 2026"),
        ("dd/mm/yy", "03/05/26"),
        ('dddd", the "d', "Sunday, the 3"),
        ("h:mm AM/PM", "2:07 PM"),
        ("hh:mm", "14:07"),
        ("mmm\\ yy", "May 26"),
        ("[$-809]d mmm yyyy;@", "3 May 2026"),
    ):
        assert format_value(day, code) == (text, True)
    assert format_value(day, "mm-dd-yy") == ("3 May 2026, 14:07", False)  # built-in 14 depends on the country


# --- text --------------------------------------------------------------------------------------------------------

NAMES = ["Zoë Müller", "José Ibáñez", "Björn Ærøskarv", "Françoise Lefèvre", "Åse Strøm", "Niño Peña"]
ROWS = [("Recipient", "Post"), *[(name, "Warden") for name in NAMES]]


def as_csv(separator=",", rows=ROWS):
    out = io.StringIO()
    csv.writer(out, delimiter=separator).writerows(rows)
    return out.getvalue()


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32"])
@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
def test_unicode_text_is_certain(tmp_path, encoding, separator):
    path = tmp_path / "list.csv"
    path.write_bytes(as_csv(separator).encode(encoding))
    done = read(path, {"name": "Recipient", "post": "Post"})
    assert [r.get_value("name") for r in done.recipients] == NAMES and not codes(done)
    assert [f.code for f in done.findings] == ["list.text-read"]


SPEECH = {
    "cp1252": NAMES,
    "mac_roman": NAMES,
    "cp1250": ["Zdeněk Říha", "Łukasz Żuraw", "Šárka Novotná", "Győző Szűcs", "Agnieszka Kowalczyk-Śliwa"],
    "cp1251": ["Чайка Морская", "Юрий Щукин", "Алёна Берегова"],
    "cp1253": ["Γλαύκη Θαλασσινή", "Αλκυόνη Πέτρου", "Νίκος Γλάρος"],
}


@pytest.mark.parametrize("encoding", SPEECH)
def test_eight_bit_text_is_read_correctly_or_asked_about(tmp_path, encoding):
    names = SPEECH[encoding]
    path = tmp_path / "list.csv"
    path.write_bytes(as_csv(rows=[("Recipient", "Post"), *[(n, "Warden") for n in names]]).encode(encoding))
    done = read(path, {"name": "Recipient", "post": "Post"})
    right = [r.get_value("name") for r in done.recipients] == names
    asked = "list.encoding-unsure" in {f.code for f in done.findings}
    assert right or asked
    for recipient, name in zip(done.recipients, names, strict=True):
        assert recipient.get_value("name") == name or "text.encoding-unsure" in codes(done)[recipient.row]
    told = read(path, {"name": "Recipient", "post": "Post"}, encoding=encoding)
    assert [r.get_value("name") for r in told.recipients] == names and not codes(told)


@pytest.mark.parametrize("encoding", ["cp1252", "mac_roman"])
def test_western_text_is_read_right(encoding):
    assert decode_text("\n".join(NAMES).encode(encoding)).text == "\n".join(NAMES)


def test_one_doubtful_letter_is_asked_about():
    assert not decode_text(b"Recipient\nAn\xe3 Skua\n").sure


def test_no_silent_wrong_guess_over_many_names():
    """Each name as a separate file, in each encoding that can represent it: read correctly, or reported as doubtful."""
    tried = wrong = 0
    for names in SPEECH.values():
        for name in names:
            for encoding in ("cp1252", "mac_roman", "cp1250", "iso8859_15", "cp1251", "cp1253", "cp850"):
                try:
                    data = f"Recipient\n{name}\n".encode(encoding)
                except UnicodeEncodeError:
                    continue
                tried += 1
                found = decode_text(data)
                wrong += found.sure and name not in found.text
    assert tried > 40 and wrong == 0


@pytest.mark.parametrize("data", [b"a\0b\0\xff\xd8\0", b"\xff\xfe\x00", b"\x89PNG\r\n\x1a\n\0\0"])
def test_a_file_that_is_not_text_is_refused(data):
    with pytest.raises(NotTextError):
        decode_text(data)


def test_wrong_or_unknown_encoding(tmp_path):
    path = tmp_path / "list.csv"
    path.write_bytes(as_csv().encode("cp1252"))
    with pytest.raises(CannotRun, match=r"cannot be read as utf-8: byte 0xeb in line 2"):
        read(path, encoding="utf-8")
    with pytest.raises(CannotRun, match="no encoding is called “latin-99”"):
        read(path, encoding="latin-99")


def test_separators_are_found():
    assert find_separator("Name;Sum\nA;1,5\nB;2,5\n", ".csv") == ";"
    assert find_separator("Skua, Ada\nTern, Bo\n", ".txt") == "\t"
    assert find_separator("Name,Post\nAda Skua,Warden\n", ".txt") == ","
    assert find_separator("Name\tPost\nSkua, Ada\tWarden\n", ".csv") == "\t"


def test_quotes_separator_lines_and_error_texts_of_csv_files_are_read(tmp_path):
    path = tmp_path / "list.csv"
    path.write_text('sep=;\nRecipient;Post\n"Ada ""Dot"" Skua";#REF!\n\n"Bo; Tern";"War\nden"\n', encoding="utf-8")
    done = read(path, {"name": "Recipient", "post": "Post"})
    assert [(r.row, r.get_value("name")) for r in done.recipients] == [(3, 'Ada "Dot" Skua'), (5, "Bo; Tern")]
    assert codes(done)[3] == ["list.cell-error"] and 5 not in codes(done)
    assert done.recipients[1].typed_rows == (("post", ("War", "den")),)


def test_an_open_quotation_mark_swallows_no_rows(tmp_path):
    path = tmp_path / "list.csv"
    rows = "".join(f"Ada {format_column(n)}wake,Warden\n" for n in range(5, 60))
    path.write_text(f'Recipient,Post\n"Bo Tern,Cook\n{rows}', encoding="utf-8")
    done = read(path, {"name": "Recipient", "post": "Post"})
    assert len(done.recipients) == 56 and done.recipients[0].get_value("name") == '"Bo Tern'
    assert "list.quotes-unbalanced" in {f.code for f in done.findings}


def test_text_with_one_name_per_line_is_a_list(tmp_path):
    path = tmp_path / "names.txt"
    path.write_text("Ada Skua\nBo Tern\n\nSkua, Cy\n", encoding="utf-8")
    done = read(path, {"name": "A"}, header=0)
    assert [r.get_value("name") for r in done.recipients] == ["Ada Skua", "Bo Tern", "Skua, Cy"]
    guessed = read_list(
        OrderFolder(
            order=Order(
                title="x",
                list=ListConfig(file=path.name),
                blank=BlankConfig(shape="disc", diameter=70.0),
                line=(LineConfig(text="{name}", face="eb-garamond", cap_height=8.0),),
            ),
            folder=tmp_path,
            file=tmp_path / "order.toml",
            sha256="0" * 64,
        )
    )
    assert len(guessed.recipients) == 3 and guessed.header_row == 0


def test_only_the_sheet_modules_know_spreadsheet_libraries():
    package = Path(__file__).resolve().parents[3] / "pipeline"
    libraries = ("openpyxl", "python_calamine", "xlrd", "odfdo", "pyxlsb")
    using = {
        str(path.relative_to(package))
        for path in package.rglob("*.py")
        if re.search(rf"\b(?:import|from) (?:{'|'.join(libraries)})(?!\.utils)\b", path.read_text(encoding="utf-8"))
    }
    # these read back what we wrote
    read_back = {"signoff/returned/sheet_cells.py", "signoff/records/ledger_head.py", "accounts.py"}
    assert {name for name in using - read_back if not name.startswith("intake/spreadsheet/")} == set()


@pytest.mark.parametrize(
    ("name", "suffixes", "remedy"),
    [
        ("names.pdf", LIST_SUFFIXES, "ask the client for the list as a spreadsheet"),
        ("logo.pdf", (".png", ".jpg"), "save the picture as .png"),
        ("plate.pdf", (".dxf",), "save the drawing as .dxf"),
        ("crest.ai", (".svg", ".dxf"), "save the drawing as .svg or .dxf"),
    ],
)
def test_a_file_in_an_unknown_format_is_refused_saying_what_is_needed(tmp_path, name, suffixes, remedy):
    (tmp_path / name).write_bytes(b"%PDF")
    assert check_file("order.toml", name, tmp_path, "a file", suffixes).remedy == remedy


def test_an_impossible_file_name_is_a_fault(tmp_path):
    assert check_file("order.toml", "a\\" + "x" * 300, tmp_path, "a file", LIST_SUFFIXES)
