"""Write the clients' lists of the sample orders: `python tests/make_samples.py`. All people in them are invented.

The lists are committed; a test compares them with this script, so make changes here and rewrite the list.
"""

from __future__ import annotations

import datetime as dt
import io
import unicodedata
from pathlib import Path

import xlsxwriter

SAMPLES = Path(__file__).resolve().parent.parent / "sample_orders"

ONE = "2026"
"""Most served in this season alone; the sheet holds it as a number, as a coordinator types it."""

WARDENS: tuple[tuple[str, str, str, int | str | None], ...] = (
    ("Morwenna Tregarth", "Warden of North Skerry", "2019–2026", 1),
    ("Dr Aled Penmaenmawr", "Warden of the Long Strand", ONE, 1),
    ("Isolde Carrick-Vane", "Deputy Warden, North Skerry", ONE, 1),
    ("Jory & Tamsin Pellow", "Wardens of Gull Stack", "2022–2026", 2),
    ("Björn Ærøskarv", "Boatman", ONE, 1),
    ("Capt. Hester Lowenstoke", "Harbour Pilot", ONE, 1),
    ("Márta Szélfuvás", "Ringing Officer", "2024–2026", 1),
    ("Catherine Ashby", "Warden of the East Cliff", ONE, 1),
    ("Oyvind  Stormhavn ", "Night Watch", ONE, 1),
    ("Saoirse O’Faranoe", "Nest Counts", ONE, 1),
    ("Wilhelmina van der Zeemeeuw", "Warden of Fulmar Head", "2020–2026", 1),
    ("Prof. Tobias Quillfeather", "Moult Studies", ONE, 1),
    ("Łucja Wydrzyńska", "Beach Surveys", ONE, 1),
    ("Edda Hrafnsdóttir", "Puffin Patrol", ONE, 1),
    ("The Friends, Families and Former Lighthouse Keepers of the North Skerry Observatory and Boat House Association",
     "Benefactors", "1998–2026", 1),
    ("Nguyễn Hải Âu", "Photographer", ONE, 1),
    ("Percival Dunnock-Marsh", "Hide Repairs", ONE, 1),
    ("Skerry Rope & Sail Company", "Patron", ONE, 3),
    ("Ottoline Brackwater", "Warden of Tern Sands", "2021–2026", 1),
    ("Rhys ap Gwylan", "Warden of Cormorant Rock", ONE, 1),
    ("The Revd Canon Ambrose Tidewell", "Blessing of the Boats", ONE, 1),
    ("KESTER ROOKSBY", "Ticket Office", ONE, 1),
    ("Zdeněk Vlnolam", "Oil-spill Team", ONE, 1),
    ("Ines Maré-Alta", "Translator", ONE, 1),
    ("Gwenllian Sandfo\u0302rd", "Tide Tables", ONE, 1),
    ("Ebbe & Siv Holmvik", "Wardens of the Outer Reef", "2023–2026", 2),
    ("#REF!", "Warden of Little Skerry", ONE, 1),
    ("Philippa Kittiwake", "Treasurer", "2018–2026", 1),
    ("Jocelyn Shearwater-Finch", "Secretary", ONE, 1),
    ("Demelza Roskruge", "Tea Hut", ONE, 1),
    ("Anatole Guillemot", "Chartmaker", ONE, 1),
    ("Şebnem Martıoğlu", "School Visits", ONE, 1),
    ("Katherine Ashby", "Warden of the West Cliff", ONE, 1),
    ("Lorcan Mac Giolla Mara", "Drystone Walls", ONE, 1),
    ("Freya Löwenmöwe", "Drone Counts", ONE, 1),
    ("Mio Kazahaya 風早美緒", "Guest Observer", ONE, 1),
    ("Barnaby Thrift", "Junior Warden", ONE, 1),
    ("Clementine Thrift", "Junior Warden", ONE, 1),
    ("Sir Godfrey Mewstone", "President", "2009–2026", 1),
    ("Élodie Fou-de-Bassan", "Sound Archive", ONE, "two?"),
    ("Hamish Bonxie", "Engines", ONE, 1),
    ("Nerys\u00a0Gwylan-Ddu", "Newsletter", ONE, 1),
    ("Tuija Lokkinen", "Ice Watch", ONE, 1),
    ("Ulrica Strandvik", "Store Keeper", ONE, 1),
    ("Barnaby Thrift", "Junior Warden", ONE, 1),
    ("Cosmo Razorbill", "Lamp Room", ONE, 1),
    ("Perpetua Saltmarsh", "Seed Bank", ONE, 1),
    ("Dagny Tordalke", "Ferry Liaison", ONE, 1),
)  # fmt: skip
"""Recipient, post, season, how many; in the order of the sheet, rows 5 to 53 with a gap after the first half."""

STRUCK = "Hamish Bonxie"
GAP_AFTER = 24


def wardens() -> bytes:
    """recipients.xlsx of the seabird trust. XlsxWriter: equal bytes every time."""
    file = io.BytesIO()
    book = xlsxwriter.Workbook(file, {"in_memory": True})
    book.set_properties({"created": dt.datetime(2026, 3, 2)})
    banner = book.add_format({"bold": True, "font_size": 16, "align": "center", "bg_color": "#DCE6E4"})
    bold = book.add_format({"bold": True, "bottom": 1})
    struck = book.add_format({"font_strikeout": True})
    italic = book.add_format({"italic": True})
    notes = book.add_worksheet("Read me first")
    notes.write("A1", "Hello! The list for engraving is on the second tab. – M.T.")
    page = book.add_worksheet("Wardens")
    page.merge_range("A1:F1", "TIDEWRACK SEABIRD TRUST", banner)
    page.merge_range("A2:F2", "Wardens of the Shore 2026 – names for the plaques", italic)
    for column, heading in enumerate(("No.", "Recipient", "Post", "Season", "How  many", "Remarks")):
        page.write(3, column, heading, bold)
    page.set_column("A:A", 5)
    page.set_column("B:C", 34)
    page.set_column("F:F", 30)
    row = 4
    for number, (name, post, season, copies) in enumerate(WARDENS, 1):
        page.write_number(row, 0, number)
        if name == "#REF!":
            page.write_formula(row, 1, "=#REF!", None, "#REF!")
        else:
            page.write_string(row, 1, name, struck if name == STRUCK else None)
        page.write_string(row, 2, post)
        if season == ONE:
            page.write_number(row, 3, int(season))
        else:
            page.write_string(row, 3, season)
        if isinstance(copies, int):
            page.write_number(row, 4, copies)
        elif copies:
            page.write_string(row, 4, copies)
        if name.startswith("Skerry Rope"):
            page.write_string(row, 5, "one for each workshop")
        row += 2 if number == GAP_AFTER else 1
    total = sum(copies if isinstance(copies, int) else 0 for *_, copies in WARDENS)
    page.write_string(row + 1, 1, "Total", bold)
    page.write_formula(row + 1, 4, f"=SUM(E5:E{row})", bold, total)
    page.write_string(row + 3, 1, "Please keep the accents exactly as typed. Collection is from the boat house.")
    page.freeze_panes(4, 2)
    addresses = book.add_worksheet("Old list 2025")
    addresses.write_row(0, 0, ("Recipient", "Post"))
    addresses.write_row(1, 0, ("Somebody Else", "Last year"))
    addresses.hide()
    page.activate()
    book.close()
    return file.getvalue()


def written() -> dict[Path, bytes]:
    """Return each list with its path."""
    return {SAMPLES / "seabird-trust" / "recipients.xlsx": wardens()}


def composed(text: str) -> str:
    """Return a name as it will be cut."""
    return " ".join(unicodedata.normalize("NFC", text).split())


if __name__ == "__main__":
    for path, data in written().items():
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
        print(path)
