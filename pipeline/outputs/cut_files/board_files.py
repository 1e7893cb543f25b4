"""boards/*.dxf: everything that is cut on one board in one file, by operation, so that one import and one set-up of the
cutters does the whole board. By default only what is signed off is on it.

Written and proved as a plaque's own file is, from the same placed letters.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from pipeline.core.errors import CannotRun, Fault
from pipeline.core.files import read_plain
from pipeline.core.model import Outcome
from pipeline.core.required import required
from pipeline.outputs.cut_files.board_contents import LAYERS, Placing, board_contents, marks_of_board, placement
from pipeline.outputs.cut_files.cut_files import CutFiles, Side
from pipeline.outputs.cut_files.dxf.dxf_reader import UnreadableDrawing, read_drawing
from pipeline.outputs.cut_files.dxf.entities import EntityWriter
from pipeline.outputs.cut_files.dxf.template import DrawingTemplate, one_line, unit_words
from pipeline.outputs.cut_files.dxf.template_cache import drawing_template
from pipeline.outputs.cut_files.dxf.verify import ArtworkDiffers, ExpectedContents, verify_drawing
from pipeline.outputs.cut_files.file_contents import GROOVE, FileContents
from pipeline.outputs.cut_files.manifest import Manifest
from pipeline.outputs.row_totals import part_words
from pipeline.shopfloor.board_layout import Board, BoardLayout, PlacedPiece
from pipeline.shopfloor.shop_plan import ShopPlan

FOLDER = "boards"

_SEEN: dict[Side, str] = {
    "front": "seen from the front: the left end at x = 0, the datum edge at y = 0",
    "back": "seen from the back: turned over about the left end, the datum edge stays at y = 0, x counts from the same "
    "corner to the left",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenBoards:
    """What became of the boards: names below the output folder, and what a person should know of the rest."""

    names: tuple[str, ...] = ()
    backs: int = 0  # of them
    said: tuple[str, ...] = ()


class BoardFiles:
    """The board drawings of one order."""

    def __init__(self, outcome: Outcome, plan: ShopPlan, target: Path, files: CutFiles) -> None:
        """target: the output folder. files: the order's cut files."""
        self.files, self.blank, self.part = files, outcome.blank, part_words(outcome)
        self.order, self.plan = files.order, plan
        self.by_row = {p.recipient.row: p for p in outcome.plaques}
        self.manifest = Manifest(target / FOLDER, files.code, files.order.title)
        part = files.order.files
        names = {ours: part.layers.get(ours, ours) for ours in LAYERS}
        self._expected = ExpectedContents(part.version, files.unit, names, part.tolerance)
        self._begun = False
        self._frames: dict[tuple[Side, int, tuple[str, ...]], DrawingTemplate] = {}
        self._entities: dict[tuple[Side, str], EntityWriter] = {}
        self._plans: dict[tuple[int, Side], FileContents] = {}

    def write(self) -> WrittenBoards:
        """A drawing for each board with anything to cut on it, and one of its back where that is lettered; those of
        earlier runs are taken away. CannotRun when one cannot be written, or differs when read back."""
        boards = self.plan.boards
        fronts: list[str] = []
        turned: list[str] = []
        said: list[str] = []
        if boards is not None and self.order.board is not None:
            named = [(board, self._shown(board)) for board in boards.boards]
            named = [(board, places) for board, places in named if places]
            backs = any(self._back(places) for _, places in named)
            for board, places in named:
                fronts.append(self._made(board, places, "front", self._name(board, boards, "front")))
                if self._back(places) and not self._sawn_off:
                    turned.append(self._made(board, places, "back", self._name(board, boards, "back")))
            if backs and self._sawn_off:
                said.append(
                    "No board drawings of the back: it is sawn off after the pour ([stock] sawn_off). Letter each "
                    "piece's back by itself afterwards, from its own file in cut/."
                )
            asked = self.order.files.registration
            if turned and asked is not None and not all(marks_of_board(board, asked) for board, _ in named):
                said.append("No registration marks on the boards: the clamp zones are narrower than a mark.")
            waiting = sum(not p.piece.signed for b in boards.boards for p in b.places)
            if waiting and not self.order.board.unsigned:
                said.append(_waiting(waiting, boards.placed))
        names = fronts + turned
        self._end(names)
        return WrittenBoards(names=tuple(f"{FOLDER}/{n}" for n in names), backs=len(turned), said=tuple(said))

    def clear(self) -> None:
        """Takes away the drawings of earlier runs. CannotRun when one cannot be removed."""
        self._end([])

    def _end(self, names: list[str]) -> None:
        if names or self.manifest.check() is not None:
            self._begin()
            self.manifest.end(names)
        if not names:
            self.manifest.dissolve()

    @property
    def _sawn_off(self) -> bool:
        """Whether the back comes off later, and with it what is lettered there."""
        return self.order.stock is not None and self.order.stock.sawn_off > 0

    def _shown(self, board: Board) -> list[PlacedPiece]:
        """The places whose pieces are cut now."""
        unsigned = self.order.board is not None and self.order.board.unsigned
        return [p for p in board.places if unsigned or p.piece.signed]

    def _back(self, places: Sequence[PlacedPiece]) -> bool:
        return any("back" in self.files.sides(self.by_row[p.piece.row]) for p in places)

    def _name(self, board: Board, boards: BoardLayout, side: Side) -> str:
        words = ["board", f"{board.number:0{len(str(len(boards.boards)))}d}"]
        words += ["back"] if side == "back" else []
        words += [self.files.unit] if self._expected.version == "R12" else []
        return f"{'-'.join(words)}.dxf"

    def _begin(self) -> None:
        """Files of earlier runs that somebody changed are put aside, once."""
        if not self._begun:
            self.manifest.begin()
            self._begun = True

    def _made(self, board: Board, places: Sequence[PlacedPiece], side: Side, name: str) -> str:
        """Writes one drawing, reads it back, and gives its name once it is what it should be."""
        drawn = self.drawn(board, places, side)
        self._begin()
        self.manifest.add(name, self._bytes(board, places, side, drawn))
        try:
            verify_drawing(read_drawing(read_plain(self.manifest.folder / name)), drawn, self._expected)
        except (OSError, UnreadableDrawing, ArtworkDiffers) as error:
            self.manifest.remove(name)
            raise CannotRun(
                Fault(
                    where=f"{FOLDER}/{name}",
                    found=f"read back, it is not what it should be: {error}",
                    expected="the lettering and outlines of its plaques",
                    remedy="run again; if it stays so, look whether another program writes to this folder",
                )
            ) from None
        return name

    def drawn(self, board: Board, places: Sequence[PlacedPiece], side: Side) -> FileContents:
        """What goes into the drawing of one side of a board."""
        boards, part = required(self.plan.boards, "the layout of the boards"), required(self.order.board, "[board]")
        here: list[tuple[FileContents, Placing]] = []
        for place in places:
            plaque = self.by_row[place.piece.row]
            key = (place.piece.row, side)
            if side in self.files.sides(plaque):
                if key not in self._plans:
                    self._plans[key] = self.files.plan(plaque, side)
                here.append((self._plans[key], placement(self.blank, place, side)))
        turned = self._back(places) and not self._sawn_off
        marks = marks_of_board(board, self.order.files.registration) if turned else ()
        return board_contents(board, part, boards.cuts, here, self.files.fits, side, marks)

    def _bytes(self, board: Board, places: Sequence[PlacedPiece], side: Side, drawn: FileContents) -> bytes:
        used = {layer for layer, _ in drawn.layers} | ({GROOVE} if drawn.grooves else set())
        sheet = self._frame(board, side, tuple(layer for layer in LAYERS if layer in used))
        entities = self._entities.setdefault(
            (side, sheet.owner),
            EntityWriter(self._expected.version, self.files.unit, sheet.owner, self._expected.names),
        )
        text, handle = entities.of(drawn.layers, drawn.grooves, sheet.first_handle)
        return sheet.filled(self._told(board, places, side), [str(board.number)], text, handle)

    def _frame(self, board: Board, side: Side, layers: tuple[str, ...]) -> DrawingTemplate:
        key = (side, board.size, layers)
        if key not in self._frames:
            sheet, one = board.layout.sheet, self.order.unit.mm
            self._frames[key] = drawing_template(
                self._expected.version,
                self.files.unit,
                (sheet.length / one, sheet.width / one),
                [(layer, self._expected.names[layer]) for layer in layers],
                {
                    "Board": None,
                    "Order": self.files.code,
                    "Title": self.order.title,
                    "Client": self.order.client,
                    "Side": _SEEN[side],
                    "Tool": f"plaques {self.files.tool_version}",
                },
                corner=(-sheet.length / one if side == "back" else 0.0, 0.0),
                cache=self.files.cache,
            )
        return self._frames[key]

    def _told(self, board: Board, places: Sequence[PlacedPiece], side: Side) -> list[str]:
        """Comments: what this is, and whose piece lies where."""
        units = self.order.unit
        said = [
            f"plaques {self.files.tool_version}: board {board.number}, order {self.files.code}, {_SEEN[side]}",
            one_line(f"unit {units.name}; board of {board.layout.sheet.name}"),
            *unit_words(units.name, self._expected.version),
            one_line(f"{self.order.title}, {self.order.client}"),
            *([self.part] if self.part else []),
        ]
        for place in places:
            piece, slot = place.piece, place.slot
            said.append(
                f"at {slot.x / units.mm:.3f} {slot.y / units.mm:.3f} turned {slot.turn}: row {piece.row} "
                f"piece {piece.copy} of {piece.copies} {piece.fingerprint}"
            )
        return said


def _waiting(waiting: int, placed: int) -> str:
    """Why boards are missing, or hold less than was laid out."""
    if waiting == placed:
        return (
            "No board drawings yet: no piece on the boards is signed off ([board] unsigned = true draws them anyway)."
        )
    return (
        f"Boards: {waiting} of {placed} pieces are not signed off and not drawn ([board] unsigned = true draws them)."
    )
