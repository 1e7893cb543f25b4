"""boards/*.dxf: everything that is cut on one board in one file, by operation, so that one import and one set-up of the
cutters does the whole board. By default only what is signed off is on it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

import numpy as np

from pipeline import VERSION
from pipeline.core.codes import order_id
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.files import write_whole
from pipeline.core.model import Blank, Outcome, Plaque
from pipeline.core.order import OrderFolder
from pipeline.geometry.curves import Array, Chain
from pipeline.geometry.flatten import chain_box
from pipeline.outputs.cut_file import CutFiles
from pipeline.outputs.dxf_entities import Entities
from pipeline.outputs.dxf_template import LAYERS, MARK, prepare
from pipeline.outputs.read_back import read_text
from pipeline.shopfloor.boards import Board, Place
from pipeline.shopfloor.plan import ShopPlan

FOLDER = "boards"
OWN: dict[str, tuple[int, bool, str]] = {
    "BOARD": (8, False, "the board itself, for reference; its datum edge is y = 0"),
    "CLAMP": (52, False, "where clamps stand, for reference"),
    "SAW": (12, False, "middle of each saw cut, for reference: nothing is cut there by the machine"),
}
"""Layers of a board besides those of a cut file."""


def rectangle(x0: float, y0: float, x1: float, y1: float) -> Chain:
    return Chain(np.array([[x0, y0, 0], [x1, y0, 0], [x1, y1, 0], [x0, y1, 0]], float))


def shown(board: Board, unsigned: bool) -> list[Place]:
    """The places whose pieces are cut now."""
    return [p for p in board.places if unsigned or p.piece.signed]


def write_boards(
    outcome: Outcome, folder: OrderFolder, plan: ShopPlan, target: Path, files: CutFiles | None = None
) -> tuple[str, ...]:
    """Write a drawing for each board with anything to cut on it and take away those of an earlier run.

    target: the output folder. Gives the names written, below it. Every file is read back before it counts. CannotRun
    when one cannot be written.
    """
    order = folder.order
    home = target / FOLDER
    names: list[str] = []
    if plan.boards is not None and order.board is not None:
        made = files or CutFiles(folder, outcome.blank, target, VERSION)
        by_row = {p.recipient.row: p for p in outcome.plaques}
        digits = len(str(len(plan.boards.boards)))
        for board in plan.boards.boards:
            places = shown(board, order.board.unsigned)
            if not places:
                continue
            data, contours = board_file(outcome, folder, plan, board, places, by_row, made)
            name = f"{FOLDER}/board-{board.number:0{digits}d}.dxf"
            found = len(read_text(data.decode("utf-8", "replace")).contours)
            if found != contours:
                raise CannotRun(
                    Fault(
                        where=name, found=f"{found} contours read back", expected=f"{contours}, as many as were meant"
                    )
                )
            write_whole(target / name, data)
            names.append(name)
    if home.is_dir():
        for old in sorted(home.glob("board-*.dxf")):
            if f"{FOLDER}/{old.name}" not in names:
                old.unlink()
    return tuple(names)


def board_file(
    outcome: Outcome,
    folder: OrderFolder,
    plan: ShopPlan,
    board: Board,
    places: Sequence[Place],
    by_row: Mapping[int, Plaque],
    files: CutFiles,
) -> tuple[bytes, int]:
    """The bytes of one board's drawing, and how many contours are in it."""
    order, sheet, blank = folder.order, board.layout.sheet, outcome.blank
    mm, names = order.unit.mm, order.files.layers
    assert plan.boards is not None
    also: list[tuple[str, Chain]] = []
    if sheet.clamp:
        also += [
            ("CLAMP", rectangle(0, 0, sheet.clamp, sheet.width)),
            ("CLAMP", rectangle(sheet.length - sheet.clamp, 0, sheet.length, sheet.width)),
        ]
    also += [("KEEP_OUT", rectangle(*box)) for box in sheet.kept_free]
    for cut in plan.boards.cuts:
        if cut.board == board.number:
            x0, y0, x1, y1 = cut.line
            also.append(("SAW", Chain(np.array([[x0, y0, 0], [x1, y1, 0]], float), closed=False)))
    for place in places:
        also += [(layer, moved(c, blank, place)) for layer, c in _of_blank(blank, plan)]
    prepared = prepare(
        Blank(
            edge=rectangle(0, 0, sheet.length, sheet.width),
            width=sheet.length,
            height=sheet.width,
            thickness=blank.thickness,
            zones=(),
        ),
        version=order.files.version,
        unit=order.units,
        mm=mm,
        names=names,
        comments=_told(folder, outcome, board, places),
        tool=f"plaques {VERSION}",
        back=False,
        layers={**LAYERS, **OWN},
        edge_layer="BOARD",
        also=also,
    )
    entities = Entities(order.files.version, prepared.owner)
    layer, count = names.get("ENGRAVE", "ENGRAVE"), 0
    for place in places:
        for points, closed in _lettering(by_row[place.piece.row], files, blank, place, mm):
            if points.shape[1] == 2:
                entities.spline(points, layer, closed)
            else:
                entities.polyline(points, layer, closed)
            count += 1
    text = prepared.before.replace(MARK, f"board {board.number}") + "".join(entities.text) + prepared.after
    return text.encode(prepared.encoding, "backslashreplace"), count + len(also) + 1


def _told(folder: OrderFolder, outcome: Outcome, board: Board, places: Sequence[Place]) -> Iterator[str]:
    """Comments: what this is, and whose piece lies where."""
    order = folder.order
    yield f"order {order_id(outcome.title, outcome.client)}"
    yield f"plaques {VERSION}"
    yield f"unit {order.units}"
    yield f"board {board.number}, {board.layout.sheet.name.encode('ascii', 'backslashreplace').decode()}"
    for place in places:
        piece, slot = place.piece, place.slot
        yield (
            f"at {slot.x / order.unit.mm:.3f} {slot.y / order.unit.mm:.3f} turned {slot.turn}: row {piece.row} "
            f"piece {piece.copy} of {piece.copies} {piece.fingerprint}"
        )


def _of_blank(blank: Blank, plan: ShopPlan) -> Iterator[tuple[str, Chain]]:
    """What is cut on every blank alike: outline, holes, pocket, and what the fine cutter has to clean."""
    for chain in (blank.edge, *blank.holes):
        yield "EDGE", chain
    for chain in blank.pockets:
        yield "POCKET", chain
    for ring in plan.pocket.rest.rings if plan.pocket is not None else ():
        yield "REST", Chain(np.column_stack([ring, np.zeros(len(ring))]))


def shift(blank: Blank, place: Place) -> tuple[float, float, float]:
    """(turn in radians, dx, dy) that puts the blank's own coordinates in their place on the board, mm."""
    turn = math.radians(place.slot.turn)
    x0, y0, _, _ = chain_box(blank.edge.moved(turn=turn)) or (0.0, 0.0, 0.0, 0.0)
    return turn, place.slot.x - x0, place.slot.y - y0


def moved(chain: Chain, blank: Blank, place: Place) -> Chain:
    """A chain of the blank in its place on the board."""
    turn, dx, dy = shift(blank, place)
    return chain.moved(dx=dx, dy=dy, turn=turn)


def _lettering(plaque: Plaque, files: CutFiles, blank: Blank, place: Place, mm: float) -> Iterator[tuple[Array, bool]]:
    """The plaque's contours exactly as its own cut file has them, turned and shifted. The file's unit."""
    turn, dx, dy = shift(blank, place)
    c, s = math.cos(turn), math.sin(turn)
    for points, closed in files.lettering(plaque):
        out = points.copy()
        out[:, :2] = points[:, :2] @ np.array([[c, s], [-s, c]]) + (dx / mm, dy / mm)
        yield out, closed
