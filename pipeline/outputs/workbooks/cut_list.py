"""The papers of a release: cut-list.xlsx and cut-list.csv (what may be cut, with whose consent), and changes.xlsx (what
the client wants changed, and where in their list).
"""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from pipeline.core.list_row import ListRow, pack_row
from pipeline.core.printable import make_printable
from pipeline.core.units import MM
from pipeline.outputs.revision import PaperIdentity
from pipeline.outputs.workbooks.workbook import SheetColumn, escape_text, write_table, write_workbook


@dataclass(frozen=True, slots=True, kw_only=True)
class CutRow:
    """One design that may be cut."""

    files: tuple[str, ...]  # in the cut list's folder
    pieces: int
    name: str
    text: str  # all its lines
    fingerprint: str
    signed_by: str
    signed_on: str  # as the client wrote it, or the date of recording
    recorded: str  # UTC
    revision: str
    paper: str
    rows: tuple[ListRow, ...]
    released: str  # UTC, when its pieces were first released
    again: str = ""  # how many replace spoilt pieces, and why


@dataclass(frozen=True, slots=True, kw_only=True)
class WithheldRow:
    """Pieces of one plaque that may not be cut, and why."""

    row: ListRow
    cell: str
    name: str
    pieces: int
    why: str
    remedy: str
    code: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WithdrawnRow:
    """A design released earlier and taken back."""

    name: str
    fingerprint: str
    pieces: int
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeRow:
    """One thing the client wants."""

    cells: str
    now: str
    wanted: str
    state: str
    by: str
    date: str
    revision: str
    source: str
    pictures: tuple[Path, ...] = ()  # of handwriting, as PNG


ROWS_IN_LEDGER, LAST_HASH = "Rows in the sign-off ledger", "Last hash in the ledger"
"""How the sheet About names where the ledger ended."""
TO_CUT, FINGERPRINT, PIECES = "To cut", "Fingerprint", "Pieces"
TICKED: tuple[tuple[str, Literal["cut", "spoilt", "delivered"]], ...] = (
    ("Cut", "cut"),
    ("Spoilt", "spoilt"),
    ("Delivered", "delivered"),
)
"""Columns for the workshop to tick, or to write a number of pieces in, and the state each stands for."""
ORDER_CODE = "Order code"
COLUMNS = (
    SheetColumn("File", 40, "code"),
    SheetColumn(PIECES, 8, "number"),
    SheetColumn("Name", 32),
    SheetColumn("Lettering", 34),
    SheetColumn(FINGERPRINT, 14, "code"),
    SheetColumn("Made again", 22),
    *(SheetColumn(head, 10, "answer") for head, _ in TICKED),
    SheetColumn("Signed by", 22),
    SheetColumn("Signed on", 13),
    SheetColumn("Revision", 9),
    SheetColumn("Paper", 28),
    SheetColumn("Recorded (UTC)", 21),
    SheetColumn("Released (UTC)", 21),
    SheetColumn("Rows", 12),
)


def _list_cells(row: CutRow) -> list[str | int]:
    return [
        "\n".join(row.files),
        row.pieces,
        row.name,
        row.text,
        row.fingerprint,
        row.again,
        *("" for _ in TICKED),
        row.signed_by,
        row.signed_on,
        row.revision,
        row.paper,
        row.recorded,
        row.released,
        ", ".join(map(str, row.rows)),
    ]


def write_cut_list_xlsx(
    identity: PaperIdentity,
    cut: Sequence[CutRow],
    held: Sequence[WithheldRow],
    taken: Sequence[WithdrawnRow],
    *,
    ledger: tuple[int, str],
    needs: Sequence[tuple[str, str]] = (),
) -> bytes:
    """The cut list as a workbook. ledger: number of its rows and its last hash when the list was made. needs: what the
    pieces take, and those made again by themselves, each with its name."""

    def fill(book: Any, styles: dict[str, Any]) -> None:
        sheet = book.add_worksheet(TO_CUT)
        rows = [[(v, c.style) for v, c in zip(_list_cells(row), COLUMNS, strict=True)] for row in cut]
        write_table(sheet, styles, list(COLUMNS), rows)
        sheet.freeze_panes(1, 1)
        heads = [c.head for c in COLUMNS]
        sheet.print_area(0, 0, max(len(rows), 1), heads.index(TICKED[-1][0]))  # printed: what the workshop needs
        _write_held(book, styles, held)
        _write_taken(book, styles, taken)
        _write_about(book, styles, identity, cut, held, ledger, needs)

    return write_workbook(f"Cut list: {identity.title}", MM, fill)


def _write_held(book: Any, styles: dict[str, Any], held: Sequence[WithheldRow]) -> None:
    sheet = book.add_worksheet("Held back")
    columns = [
        SheetColumn("Row", 6, "number"),
        SheetColumn("Cell", 7),
        SheetColumn("Name", 32),
        SheetColumn("Pieces", 8, "number"),
        SheetColumn("Why", 60),
        SheetColumn("What to do", 50),
        SheetColumn("Code", 22, "code"),
    ]
    rows: list[list[tuple[Any, str]]] = [
        [
            (pack_row(h.row), "number"),
            (h.cell, "text"),
            (h.name, "text"),
            (h.pieces, "number"),
            (h.why, "stopped"),
            (h.remedy, "text"),
            (h.code, "code"),
        ]
        for h in held
    ]
    write_table(sheet, styles, columns, rows)
    sheet.freeze_panes(1, 0)


def _write_taken(book: Any, styles: dict[str, Any], taken: Sequence[WithdrawnRow]) -> None:
    if not taken:
        return
    sheet = book.add_worksheet("Taken back")
    columns = [
        SheetColumn("Name", 32),
        SheetColumn("Fingerprint", 14, "code"),
        SheetColumn("Pieces", 8, "number"),
        SheetColumn("Why", 80),
    ]
    rows: list[list[tuple[Any, str]]] = [
        [(t.name, "text"), (t.fingerprint, "code"), (t.pieces, "number"), (t.why, "stopped")] for t in taken
    ]
    write_table(sheet, styles, columns, rows)
    sheet.freeze_panes(1, 0)


def _write_about(
    book: Any,
    styles: dict[str, Any],
    identity: PaperIdentity,
    cut: Sequence[CutRow],
    held: Sequence[WithheldRow],
    ledger: tuple[int, str],
    needs: Sequence[tuple[str, str]],
) -> None:
    sheet = book.add_worksheet("About")
    told: list[tuple[str, str | int]] = [
        ("Order", identity.title),
        ("Client", identity.client),
        (ORDER_CODE, identity.order_id),
        ("Revision", identity.revision),
        ("Designs to cut", len(cut)),
        ("Pieces to cut", sum(c.pieces for c in cut)),
        ("Pieces held back", sum(h.pieces for h in held)),
        *needs,
        (ROWS_IN_LEDGER, ledger[0]),
        (LAST_HASH, ledger[1]),
    ]
    rows = [[(name, "label"), (value, "number" if isinstance(value, int) else "text")] for name, value in told]
    write_table(sheet, styles, [SheetColumn("What", 30), SheetColumn("", 72)], rows)
    sheet.freeze_panes(1, 0)


def write_cut_list_csv(cut: Sequence[CutRow]) -> bytes:
    """The same list for other programs: UTF-8 with a byte order mark, commas, CRLF (RFC 4180).

    A text that a spreadsheet would take for a formula gets an apostrophe before it.
    """
    held = io.StringIO()
    writer = csv.writer(held, lineterminator="\r\n")
    writer.writerow(c.head for c in COLUMNS)
    for row in cut:
        writer.writerow(_escape_formula(v) if isinstance(v, str) else v for v in _list_cells(row))
    return b"\xef\xbb\xbf" + held.getvalue().encode("utf-8", "backslashreplace")


def _escape_formula(text: str) -> str:
    text = make_printable(text)
    return "'" + text if text[:1] in ("=", "+", "-", "@", "\t", "\n") else text


def write_changes_xlsx(identity: PaperIdentity, changes: Sequence[ChangeRow]) -> bytes:
    """Write what the client wants changed: the cell to edit, what it reads now, what they want. Nothing is applied."""
    columns = [
        SheetColumn("Cell to edit", 22),
        SheetColumn("It reads now", 40),
        SheetColumn("The client wants", 40),
        SheetColumn("State", 16),
        SheetColumn("By", 22),
        SheetColumn("Date", 13),
        SheetColumn("Revision", 9),
        SheetColumn("Paper", 28),
    ]
    colours = {"to do": "ask", "to ask": "ask", "to read": "ask", "made": "ready"}

    def fill(book: Any, styles: dict[str, Any]) -> None:
        sheet = book.add_worksheet("Changes wanted")
        rows: list[list[tuple[Any, str]]] = [
            [
                (c.cells, "text"),
                (c.now, "text"),
                (c.wanted, "text"),
                (c.state, colours.get(c.state, "text")),
                (c.by, "text"),
                (c.date, "text"),
                (c.revision, "text"),
                (c.source, "text"),
            ]
            for c in changes
        ]
        write_table(sheet, styles, columns, rows)
        sheet.freeze_panes(1, 0)
        _show_handwriting(sheet, changes, len(columns))

    return write_workbook(f"Changes wanted: {escape_text(identity.title)}", MM, fill)


PICTURE_ROW = 60
"""Height of a row with a picture, in points."""


def _show_handwriting(sheet: Any, changes: Sequence[ChangeRow], column: int) -> None:
    """Show what was written by hand beside its row, as a picture."""
    for number, change in enumerate(changes, 1):
        there = [picture for picture in change.pictures if picture.is_file()]
        if not there:
            continue
        sheet.set_row(number, PICTURE_ROW)
        for place, picture in enumerate(there):
            scale = PICTURE_ROW * 96 / 72 / max(_read_height(picture), 1) * 0.95
            how = {"x_scale": scale, "y_scale": scale, "object_position": 1, "description": change.wanted}
            sheet.insert_image(number, column + place, str(picture), how)


def _read_height(picture: Path) -> int:
    """Read the height in pixels, from the head of a PNG (ISO/IEC 15948, 11.2.2)."""
    with picture.open("rb") as file:
        return int.from_bytes(file.read(24)[20:24], "big")
