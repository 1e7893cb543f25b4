"""Papers that go with the parcel: a packing list to tick, and a label for every piece. From the released set only."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from pipeline.core.config.order import OrderFolder
from pipeline.core.config.shop_tables import LabelsConfig
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.list_row import ListRow, get_row_file
from pipeline.core.model import Plaque
from pipeline.outputs.pdf import styles
from pipeline.outputs.pdf.canvas import PaperCanvas
from pipeline.outputs.pdf.metadata import DocumentInfo
from pipeline.outputs.pdf.text_style import PAPERS, TextStyle
from pipeline.outputs.shop_sheet.shop_page import TICK, ShopPages, TableColumn, collect_repeats

PACKING, LABELS = "packing-list.pdf", "labels.pdf"
INSET = 3.5
"""Room kept free inside each label's edge, mm: printers shift a sheet a little (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Parcel:
    """One released design: the plaques that have it and how many pieces go."""

    plaques: tuple[Plaque, ...]
    pieces: int

    @property
    def name(self) -> str:
        return self.plaques[0].name

    @property
    def others(self) -> tuple[str, ...]:
        """The lines beside the name."""
        return self.plaques[0].beside_name

    @property
    def rows(self) -> tuple[ListRow, ...]:
        return tuple(p.recipient.row for p in self.plaques)

    @property
    def fingerprint(self) -> str:
        return self.plaques[0].fingerprint

    def list_pieces(self) -> list[tuple[ListRow, int, int]]:
        """(row, piece, of) of every piece that goes, in the order of the rows; no more than were released."""
        out = [(p.recipient.row, k, p.recipient.copies) for p in self.plaques for k in range(1, p.recipient.copies + 1)]
        return out[: self.pieces]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PackedPiece:
    """One piece on a packing list. place: row, number and count of the row's pieces."""

    parcel: Parcel
    place: tuple[ListRow, int, int]

    def get_address(self, key: str) -> str:
        """Return the address in the piece's row."""
        own = next(p for p in self.parcel.plaques if p.recipient.row == self.place[0])
        return own.recipient.get_value(key) if key else ""

    def list_cells(self) -> tuple[str, ...]:
        """Its line: box to tick, name, which piece, row, fingerprint."""
        row, piece, of = self.place
        words = " · ".join((self.parcel.name, *self.parcel.others))
        return (TICK, words, f"{piece} of {of}" if of > 1 else "", str(row), self.parcel.fingerprint)


def write_delivery_papers(folder: OrderFolder, parcels: Sequence[Parcel]) -> dict[str, bytes]:
    """Packing list and labels: name -> bytes. CannotRun when the labels do not fit on their sheet."""
    return {PACKING: write_packing_list(folder, parcels), LABELS: write_label_sheets(folder, parcels)}


def _sort_parcels(parcels: Sequence[Parcel]) -> list[Parcel]:
    return sorted(parcels, key=lambda p: (p.rows, p.fingerprint))


ADDRESS_KEYS = ("address", "group")
"""What the maker may call the list's column ([list] columns) by whose values pieces are packed: the first that is
there."""
NO_ADDRESS = "no address in the list"


def group_by_address(folder: OrderFolder, parcels: Sequence[Parcel]) -> dict[str, list[PackedPiece]]:
    """Every piece that goes, by where it goes, in the order of the list; under "" those of which the list doesn't say,
    which come last. One group where the list has no such column."""
    key = next((k for k in ADDRESS_KEYS if k in folder.order.list.columns), "")
    pieces = [PackedPiece(parcel=p, place=place) for p in parcels for place in p.list_pieces()]
    pieces.sort(key=lambda piece: piece.place)
    out: dict[str, list[PackedPiece]] = {}
    for piece in pieces:
        out.setdefault(" ".join(piece.get_address(key).split()), []).append(piece)
    return {address: own for address, own in out.items() if address} | ({"": out[""]} if "" in out else {})


def write_packing_list(folder: OrderFolder, parcels: Sequence[Parcel]) -> bytes:
    """A list for each address, with its count and a box to tick for each piece: name, row, fingerprint. Equal input
    gives equal bytes."""
    order = folder.order
    title = f"{order.title} · {order.client}" if order.client else order.title
    pen = PaperCanvas(
        *PAPERS[order.proof.paper], foreign=collect_repeats(p for parcel in parcels for p in parcel.plaques)
    )
    book = ShopPages(pen, title, f"order {folder.order_id}", name="Packing list")
    book.add_title("Packing list", 8)
    groups = group_by_address(folder, parcels)
    several = any(address for address in groups)
    facts = [("For", order.client or order.title), ("Order", order.title)]
    facts.append(("Pieces", f"{sum(p.pieces for p in parcels)} of {len(parcels)} designs"))
    facts += [("Addresses", str(sum(bool(address) for address in groups)))] if several else []
    book.add_facts(facts, 3)
    if several:
        book.add_table(
            [TableColumn("", 0.05), TableColumn("Address", 0.75), TableColumn("Pieces", 0.2, right=True)],
            [(TICK, address or NO_ADDRESS, str(len(own))) for address, own in groups.items()],
        )
    wide = 0.13 if any(get_row_file(row) for parcel in parcels for row in parcel.rows) else 0.0  # the file name's
    columns = [
        TableColumn("", 0.05),
        TableColumn("Name", 0.55 - wide),
        TableColumn("Piece", 0.12),
        TableColumn("Row", 0.1 + wide, right=True),
        TableColumn("Fingerprint", 0.18, style=styles.QUIET),
    ]

    def draw_signatures() -> None:
        for x, words in ((0.0, "packed by, on"), (book.room / 2, "received by, on")):
            pen.draw_line(x, 10, x + book.room / 2 - 10, 10, styles.GREY)
            pen.draw_text(x, 6, words, styles.LABEL)

    for address, own in groups.items():
        if several:
            count = f"{len(own)} piece{'' if len(own) == 1 else 's'}"
            book.add_heading(f"{address or NO_ADDRESS}: {count}")
        book.add_table(columns, [piece.list_cells() for piece in own])
        book.add_drawing(24, draw_signatures)
    if not groups:
        book.add_drawing(24, draw_signatures)
    return book.finish(f"Packing list: {order.title}", order.proof.shop)[0]


def write_label_sheets(folder: OrderFolder, parcels: Sequence[Parcel]) -> bytes:
    """A label for every piece on sheets as [labels] says. CannotRun when the labels do not fit on the paper."""
    order, part = folder.order, folder.order.labels
    width, height = PAPERS[part.paper]
    _check(part, folder, width, height)
    pen = PaperCanvas(width, height, foreign=collect_repeats(p for parcel in parcels for p in parcel.plaques))
    stickers = [(parcel, place) for parcel in _sort_parcels(parcels) for place in parcel.list_pieces()]
    each = part.columns * part.rows
    for k, (parcel, place) in enumerate(stickers):
        if k % each == 0:
            if k:
                pen.turn_page()
            pen.begin_page()
        column, row = k % each % part.columns, k % each // part.columns
        x = part.left + column * part.across
        y = height - part.top - row * part.down - part.height
        _draw_label(pen, part, parcel, place, x, y, order.title)
    if not stickers:
        pen.begin_page()
        pen.draw_text(20, height - 30, "No labels: nothing has been released.", styles.BODY)
    pen.turn_page()
    return pen.finish(DocumentInfo(title=f"Labels: {order.title}", author=order.proof.shop))


def _draw_label(
    pen: PaperCanvas,
    part: LabelsConfig,
    parcel: Parcel,
    place: tuple[ListRow, int, int],
    x: float,
    y: float,
    title: str,
) -> None:
    room, top = part.width - 2 * INSET, y + part.height - INSET
    name, others = parcel.name, parcel.others
    size = 13.0
    style = TextStyle(size, styles.INK)
    while size > 7 and pen.measure_text(name, style) > room:
        size -= 0.5
        style = TextStyle(size, styles.INK)
    rows = pen.wrap(name, style, room)[:2]
    at = top - style.mm
    at = pen.draw_lines(x + INSET, at, rows, style)
    for text in others:
        if at - styles.QUIET.line < y + INSET + 2 * styles.LABEL.line:
            break
        pen.draw_text(x + INSET, at, pen.shorten(text, styles.QUIET, room), styles.QUIET)
        at -= styles.QUIET.line
    row, piece, of = place
    told = f"row {row}" + (f" · piece {piece} of {of}" if of > 1 else "")
    pen.draw_text(x + INSET, y + INSET, told, styles.LABEL)
    pen.draw_text(x + part.width - INSET, y + INSET, parcel.fingerprint, styles.LABEL, "right")
    pen.draw_text(x + INSET, y + INSET + styles.LABEL.line, pen.shorten(title, styles.LABEL, room), styles.LABEL)


def _check(part: LabelsConfig, folder: OrderFolder, width: float, height: float) -> None:
    units = folder.order.unit
    right = part.left + (part.columns - 1) * part.across + part.width
    low = part.top + (part.rows - 1) * part.down + part.height
    for words, need, there in (("across", right, width), ("down", low, height)):
        if need > there + 1e-6:
            raise CannotRun(
                Fault(
                    where=f"{folder.file}, [labels]",
                    found=f"the labels take {units.show(need)} {words}, the paper is {units.show(there)}",
                    expected=f"labels that fit on {part.paper}",
                    remedy="measure the sheet: margins, label, and from label to label",
                )
            )
    for words, pitch, size in (("across", part.across, part.width), ("down", part.down, part.height)):
        if size > pitch + 1e-6:
            raise CannotRun(
                Fault(
                    where=f"{folder.file}, [labels] {words}",
                    found=f"{units.show(pitch)} from label to label, but a label is {units.show(size)}",
                    expected="labels that do not overlap",
                )
            )
