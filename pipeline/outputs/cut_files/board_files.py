"""boards/*.dxf: everything that is cut on one board in one file, by operation, so that one import and one set-up of the
cutters does the whole board. By default only what is signed off is on it.

Written and proved as a plaque's own file is, from the same placed letters.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from pipeline.core.model import Outcome
from pipeline.core.required import require_value
from pipeline.outputs.cut_files.board_contents import LAYERS, compute_placement, place_board_marks, plan_board_contents
from pipeline.outputs.cut_files.cut_files import CutFiles, Side
from pipeline.outputs.cut_files.dxf.template import join_in_one_line
from pipeline.outputs.cut_files.file_contents import FileContents
from pipeline.outputs.cut_files.joint_drawings import JointDrawings, JointSheet, WrittenDrawings
from pipeline.shopfloor.board_layout import Board, BoardLayout, PlacedPiece
from pipeline.shopfloor.shop_plan import ShopPlan

FOLDER = "boards"

_SEEN: dict[Side, str] = {
    "front": "seen from the front: the left end at x = 0, the datum edge at y = 0",
    "back": "seen from the back: turned over about the left end, the datum edge stays at y = 0, x counts from the same "
    "corner to the left",
}


class BoardFiles:
    """The board drawings of one order."""

    def __init__(self, outcome: Outcome, plan: ShopPlan, target: Path, files: CutFiles) -> None:
        """target: the output folder. files: the order's cut files."""
        self.files, self.blank = files, outcome.blank
        self.order, self.plan = files.order, plan
        self.drawings = JointDrawings(FOLDER, LAYERS, outcome, target, files)

    def write(self) -> WrittenDrawings:
        """A drawing for each board with anything to cut on it, and one of its back where that is lettered; those of
        earlier runs are taken away. CannotRun when one cannot be written, or differs when read back."""
        boards = self.plan.boards
        fronts: list[str] = []
        turned: list[str] = []
        said: list[str] = []
        if boards is not None and self.order.board is not None:
            named = [(board, self._list_shown(board)) for board in boards.boards]
            named = [(board, places) for board, places in named if places]
            backs = any(self._has_back(places) for _, places in named)
            for board, places in named:
                fronts.append(self._write_side(board, places, "front", boards))
                if self._has_back(places) and not self._sawn_off:
                    turned.append(self._write_side(board, places, "back", boards))
            if backs and self._sawn_off:
                said.append(
                    "No board drawings of the back: it is sawn off after the pour ([stock] sawn_off). Letter each "
                    "piece's back by itself afterwards, from its own file in cut/."
                )
            asked = self.order.files.registration
            if turned and asked is not None and not all(place_board_marks(board, asked) for board, _ in named):
                said.append("No registration marks on the boards: the clamp zones are narrower than a mark.")
            waiting = sum(not p.piece.signed for b in boards.boards for p in b.places)
            if waiting and not self.order.board.unsigned:
                said.append(_describe_waiting(waiting, boards.placed))
        names = self.drawings.finish(fronts + turned)
        return WrittenDrawings(names=names, backs=len(turned), said=tuple(said))

    @property
    def _sawn_off(self) -> bool:
        """Return whether the back comes off later, and with it what is lettered there."""
        return self.order.stock is not None and self.order.stock.sawn_off > 0

    def _list_shown(self, board: Board) -> list[PlacedPiece]:
        """The places whose pieces are cut now."""
        unsigned = self.order.board is not None and self.order.board.unsigned
        return [p for p in board.places if unsigned or p.piece.signed]

    def _has_back(self, places: Sequence[PlacedPiece]) -> bool:
        return any("back" in self.files.list_sides(self.drawings.by_row[p.piece.row]) for p in places)

    def _write_side(self, board: Board, places: Sequence[PlacedPiece], side: Side, boards: BoardLayout) -> str:
        """Writes one drawing and gives its name."""
        size = board.layout.sheet
        sheet = JointSheet(
            kind="Board",
            number=board.number,
            side=side,
            extent=(size.length, size.width),
            corner=(-size.length if side == "back" else 0.0, 0.0),
            seen=_SEEN[side],
        )
        name = self.drawings.format_name("board", board.number, len(boards.boards), side)
        return self.drawings.make(
            name, self.plan_contents(board, places, side), sheet, self._list_comments(board, places)
        )

    def plan_contents(self, board: Board, places: Sequence[PlacedPiece], side: Side) -> FileContents:
        """Plan the drawing of one side of a board."""
        boards, part = (
            require_value(self.plan.boards, "the layout of the boards"),
            require_value(self.order.board, "[board]"),
        )
        plans = [(self.drawings.plan_drawing(place.piece.row, side), place) for place in places]
        here = [(plan, compute_placement(self.blank, place, side)) for plan, place in plans if plan is not None]
        turned = self._has_back(places) and not self._sawn_off
        marks = place_board_marks(board, self.order.files.registration) if turned else ()
        return plan_board_contents(board, part, boards.cuts, here, self.files.fits, side, marks)

    def _list_comments(self, board: Board, places: Sequence[PlacedPiece]) -> list[str]:
        """List comments: the board's size, and the recipient of each position."""
        units = self.order.unit
        said = [join_in_one_line(f"unit {units.name}; board of {board.layout.sheet.name}")]
        for place in places:
            piece, slot = place.piece, place.slot
            said.append(
                f"at {slot.x / units.mm:.3f} {slot.y / units.mm:.3f} turned {slot.turn}: row {piece.row} "
                f"piece {piece.copy} of {piece.copies} {piece.fingerprint}"
            )
        return said


def _describe_waiting(waiting: int, placed: int) -> str:
    """Why boards are missing, or hold less than was laid out."""
    if waiting == placed:
        return (
            "No board drawings yet: no piece on the boards is signed off ([board] unsigned = true draws them anyway)."
        )
    verb = "is" if waiting == 1 else "are"
    return (
        f"Boards: of {placed} pieces, {waiting} {verb} not signed off and not drawn "
        "([board] unsigned = true draws every piece)."
    )
