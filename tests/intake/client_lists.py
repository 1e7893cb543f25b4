"""Ten lists as ten clients send them. All people and places are invented."""

from __future__ import annotations

from pathlib import Path

import openpyxl
from openpyxl.comments import Comment
from openpyxl.styles import Font

BOLD, STRUCK = Font(b=True), Font(strike=True)


def _page(title: str, rows: list[list[object]]) -> openpyxl.Workbook:
    book = openpyxl.Workbook()
    book.active.title = title
    for row in rows:
        book.active.append(row)
    return book


def school(folder: Path) -> Path:
    """A school secretary's sheet, laid out for printing: rows for a crest, merged cells, a header of two rows."""
    book = _page("Prize Giving", [])
    page = book.active
    page["A1"], page["A2"] = "TERNBY COMBINED SCHOOL", "Prize Giving – Friday 3 July 2026 – Hall, 2 p.m."
    page["A4"] = "Please engrave exactly as below. Queries to the office, ext. 204"
    for row in (1, 2, 4):
        page.merge_cells(f"A{row}:F{row}")
    page.append([])
    for cell, text in {"A": "No.", "B": "Pupil", "D": "Class", "E": "Prize", "F": "Presented by"}.items():
        page[f"{cell}6"] = text
        page.merge_cells("B6:C6" if cell == "B" else f"{cell}6:{cell}7")
    page["B7"], page["C7"] = "First name", "Surname"
    sections = {
        "Lower School": [
            ("Morwenna", "Tregarth", "7B", "Mathematics", "Mrs D. Pellow"),
            ("Aled", "Penmaenmawr", "7B", "Geography", None),
            ("Łucja", "Wydrzyńska", "8A", "Effort", "The Friends"),
        ],
        "Upper School": [
            ("Ottoline", "Carrick", "9C", "Art", None),
            ("Kester", "macLowen", "9C", "Science", "Dr Auk"),
            ("Nerys", "Gwylan", "9C", "Music", None),
        ],
    }
    at, number = 8, 0
    for section, pupils in sections.items():
        page.cell(at, 1, section).font = BOLD
        page.merge_cells(start_row=at, end_row=at, start_column=1, end_column=6)
        for pupil in pupils:
            at, number = at + 1, number + 1
            for column, value in enumerate((number, *pupil), 1):
                page.cell(at, column, value)
        at += 2
    page.cell(at, 1, "* Denotes shared prize.")
    page.cell(at + 1, 1, "V. Nightjar, School Secretary")
    book.save(folder / "Prize Giving 2026 FINAL v3.xlsx")
    return folder / "Prize Giving 2026 FINAL v3.xlsx"


def foundation(folder: Path) -> Path:
    """A foundation's export: ids, name parts, and a column for the wall that isn't always filled in."""
    rows: list[list[object]] = [
        ["donor_id", "prefix", "first_name", "last_name", "suffix", "recognition_name", "giving_level", "email"],
        ["D012", "Mr", "Percival", "Brackwater", "Jr", "Percival & Edda Brackwater", "Cornerstone", "p@mew.example"],
        ["D013", "Ms", "Edda", "Stormhavn", None, "Edda J. Stormhavn", "Cornerstone", "e@mew.example"],
        ["D044", "Dr", "Ambrose", "Quillfeather", "PhD", None, "Keystone", "a.q@mew.example"],
        ["D051", None, None, "Tidewell Trust", None, "The Tidewell Trust", "Keystone", None],
        ["D060", "Mrs", "Hester", "Roskruge", None, "Anonymous", "Keystone", "h@mew.example"],
        ["D071", "Mr", "Cosmo", "Lapwing", None, "Cosmo Lapwing in memory of Dagny Lapwing", "Friend", "c@mew.example"],
        ["D072", "Mr", "Fergus", "Dunnock", None, "Fergus Dunnock", "Friend", "f@mew.example"],
        ["D073", "Mr", "Fergus", "Dunnock", None, "Fergus Dunnock", "Friend", "fd@mew.example"],
    ]
    book = _page("Export", rows)
    book.active.auto_filter.ref = "A1:H9"
    book.save(folder / "donor_export_20260512.xlsx")
    return folder / "donor_export_20260512.xlsx"


MAIL = """Hi,

thanks for the quote. Here are the names for the boathouse plaques:

1. Morwenna Tregarth
2. Aled Penmaenmawr
3. Zdeněk Vlnolam (with the hook on the e please!)
4. Saoirse O’Faran
5. saoirse o'faran
6) Gwenllian Rooksby – Cox
7. Dr. Björn Ærøskarv

If possible by the 14th. Two of each, please.

Best wishes
Tamsin

Sent from my phone
"""


def mail(folder: Path) -> Path:
    """Text copied from a letter, with greeting and closing."""
    (folder / "mail.txt").write_text(MAIL, encoding="utf-8")
    return folder / "mail.txt"


PHONE = """Name;Verein;Jahre;Stück
Jürgen Möwe;SV Seezunge;25;1
Käthe Groß;SV Seezunge;40;1
François Lefèvre;TuS Strandläufer;25;1
Müller, Gisela;TuS Strandläufer;50;1
Heinz-Günter von der Düne;SV Seezunge;25;
Ute Öhlmann;SV Seezunge;25;x
;;;
"""


def phone(folder: Path) -> Path:
    """A table exported from a phone: semicolons, Windows-1252, a blank line of semicolons."""
    (folder / "Liste_Ehrungen.csv").write_bytes(PHONE.replace("\n", "\r\n").encode("cp1252"))
    return folder / "Liste_Ehrungen.csv"


def teams(folder: Path) -> Path:
    """Several names in one cell, separated by line breaks or by numbers."""
    rows: list[list[object]] = [
        ["Team", "Names for the shield", "Year"],
        ["Seal Crew", "Ada Skua\nBo Tern\nCy Knot", 2024],
        ["Orca Crew", "Di Auk\nEd Gull", 2025],
        ["Puffins", "1. Flo Rook\n2. Gus Dunlin\n3. Hal Crake", 2026],
        ["Dunlins", "Ivy Sanderling", 2026],
    ]
    _page("Teams", rows).save(folder / "teams.xlsx")
    return folder / "teams.xlsx"


def wall(folder: Path) -> Path:
    """A donor wall in sections, with some towns blank."""
    rows: list[list[object]] = [["Harbour Restoration Appeal"], [], ["Donor", "Town"], ["GOLD"]]
    rows += [["Anatole Goldeneye", "Mewport"], ["Freya & Barnaby Merganser", "Mewport"], ["The Gannet Inn", "Skarvik"]]
    rows += [["SILVER"], ["Clementine Godwitt", None], ["Perpetua Hoopoe", "Ternby"], ["Ulrica Snipeland", "Ternby"]]
    rows += [["BRONZE"], ["Godfrey Knottley", "Ternby"], ["anonymous", None], ["Yorick Greenshank", "Ternby"]]
    book = _page("Donor wall", rows)
    for row in (1, 4, 8, 12):
        book.active.cell(row, 1).font = BOLD
        book.active.merge_cells(start_row=row, end_row=row, start_column=1, end_column=2)
    book.save(folder / "donor wall.xlsx")
    return folder / "donor wall.xlsx"


def bilingual(folder: Path) -> Path:
    """Headings in two languages, one row each."""
    rows: list[list[object]] = [
        ["Prix du port / Harbour awards 2026"],
        ["Lauréat", "Prix", "Ville", "Nombre de plaques"],
        ["Award winner", "Award", "Town", "Number of plaques"],
        ["Élodie Sandfôrd", "Voile", "Port-Goéland", 1],
        ["Márta Szélfuvás", "Aviron", "Port-Goéland", 1],
        ["Şebnem Martıoğlu", "Voile", "Sternes", 2],
        ["Valentin Pluvier", "Nage", "Sternes", 1],
    ]
    _page("Liste", rows).save(folder / "bilingue.xlsx")
    return folder / "bilingue.xlsx"


TABLES = """Table 1,,,,
Name,Role,Shirts,,
Rosamund Phalarope,Coach,M,,
Sidonie Cormorin,Captain,S,,
Lysander Razorbill,Player,L,,
,,,,
Table 2,,,,
Name,Role,Since,,
Quentin Turnstone,Kit,2011,,
Theodora Curlewis,Tea,2004,,
"""


def tables(folder: Path) -> Path:
    """Several tables of one sheet, saved as one text file with titles and blank columns."""
    (folder / "Untitled 2-Table 1.csv").write_text(TABLES, encoding="utf-8")
    return folder / "Untitled 2-Table 1.csv"


def medals(folder: Path) -> Path:
    """A total, a count in the title and a count in a note, all different."""
    rows: list[list[object]] = [
        ["Medal order – 42 medals"],
        ["Recipient", "Event", "Qty"],
        ["Ignatius Divering", "10 km", 3],
        ["Jocelyn Tealcroft", "10 km", 12],
        ["Demelza Garganey", "Relay", 4],
        ["Cressida Pochardt", "Relay", 4],
        ["Evangeline Smewick", "Relay", 4],
        ["Total", None, 29],
        [],
        ["5 names", "27 medals + 2 spare = 29"],
    ]
    _page("Medals", rows).save(folder / "medals.xlsx")
    return folder / "medals.xlsx"


def wardens(folder: Path) -> Path:
    """Rows struck through, hidden, commented, and one "to follow"."""
    rows: list[list[object]] = [
        ["Name on plate", "Post"],
        ["Barnaby Thrift", "Warden"],
        ["Zuleika Dovekie", "Warden"],
        ["Wilhelmina Featherstone", "Boatman"],
        ["Bartholomew Scoterfield", "Cook"],
        ["Xanthe Wigeonby", "Cook"],
        ["tbc", "Pilot"],
    ]
    book = _page("Wardens", rows)
    page = book.active
    page["A3"].font = page["B3"].font = page["A5"].font = STRUCK
    page["A4"].comment = Comment("Vera:\nnow Featherstone-Auk, check w/ her", "Vera")
    page.row_dimensions[2].hidden = True
    book.save(folder / "wardens.xlsx")
    return folder / "wardens.xlsx"
