"""jigs/*.dxf: everything that is lettered in one load of the jig in one file. By default only what is signed off is in
it; a place whose piece is not stays empty.

The blanks lie ready in the jig: their outlines are drawn for reference, not to be cut. The back is lettered with every
piece turned over about its own upright line in its place, the jig where it was.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from pipeline.core.model import Blank, Outcome
from pipeline.core.required import require_value
from pipeline.geometry.curves import Array, Chain
from pipeline.outputs.cut_files.cut_files import CutFiles, Side
from pipeline.outputs.cut_files.dxf.template import join_in_one_line
from pipeline.outputs.cut_files.file_contents import (
    EDGE,
    KEEP_OUT,
    REGISTRATION,
    ZONE,
    FileContents,
    PlacedContours,
    fit_curves,
    mirror_chain,
)
from pipeline.outputs.cut_files.joint_drawings import (
    JointDrawings,
    JointSheet,
    Placing,
    WrittenDrawings,
    place_groove,
    place_piece,
)
from pipeline.shopfloor.jig_layout import JigLayout, JigLoad, JigPiece, put_in_place
from pipeline.shopfloor.shop_plan import ShopPlan

FOLDER = "jigs"
BLANK, DATUM, JIG = "BLANK", "DATUM", "JIG"
CUT = ("ENGRAVE", "LINE", "FLOOR", "ROUGH", "GROOVE", "POCKET", "REST")
LAYERS = (*CUT, BLANK, JIG, DATUM)
"""Of a load's drawing; reference last."""
OWN = (ZONE, KEEP_OUT, REGISTRATION)
"""Layers of a plaque by itself, which say nothing of a piece in the jig."""
CROSS = 5.0
"""Half the length of the strokes that show the zero point, mm."""

_SEEN: dict[Side, str] = {
    "front": "seen from the front: the jig's zero point at x = 0, y = 0",
    "back": "seen from the back: every piece turned over about its own upright line, its top at the same end of its "
    "place, the jig's zero point at x = 0, y = 0",
}


class JigFiles:
    """The drawings of one order's jig loads."""

    def __init__(self, outcome: Outcome, plan: ShopPlan, target: Path, files: CutFiles) -> None:
        """target: the output folder. files: the order's cut files."""
        self.files, self.blank, self.plan = files, outcome.blank, plan
        self.drawings = JointDrawings(FOLDER, LAYERS, outcome, target, files)

    def write(self) -> WrittenDrawings:
        """A drawing for each load with anything to cut in it, and one of its back where that is lettered; those of
        earlier runs are taken away. CannotRun when one cannot be written, or differs when read back."""
        jigs, part = self.plan.jigs, self.files.order.jig
        fronts: list[str] = []
        turned: list[str] = []
        said: list[str] = []
        if jigs is not None and part is not None:
            for load in jigs.loads:
                pieces = [p for p in load.pieces if part.unsigned or p.piece.signed]
                if not pieces:
                    continue
                fronts.append(self._write_side(load, pieces, "front", jigs))
                backs = [p for p in pieces if "back" in self.files.list_sides(self.drawings.by_row[p.piece.row])]
                if backs:
                    turned.append(self._write_side(load, backs, "back", jigs))
            waiting = sum(not p.piece.signed for load in jigs.loads for p in load.pieces)
            if waiting and not part.unsigned:
                said.append(_describe_waiting(waiting, sum(len(load.pieces) for load in jigs.loads)))
        return WrittenDrawings(names=self.drawings.finish(fronts + turned), backs=len(turned), said=tuple(said))

    def _write_side(self, load: JigLoad, pieces: Sequence[JigPiece], side: Side, jigs: JigLayout) -> str:
        """Writes one drawing and gives its name."""
        x0, y0, x1, y1 = jigs.box
        sheet = JointSheet(
            kind="Load",
            number=load.number,
            side=side,
            extent=(x1 - x0, y1 - y0),
            corner=(x0, y0),
            seen=_SEEN[side],
        )
        name = self.drawings.format_name("load", load.number, len(jigs.loads), side)
        return self.drawings.make(
            name, self.plan_contents(pieces, side, jigs), sheet, self._list_comments(pieces, jigs)
        )

    def plan_contents(self, pieces: Sequence[JigPiece], side: Side, jigs: JigLayout) -> FileContents:
        """Plan the drawing of one side of a load."""
        plans = [
            (require_value(self.drawings.plan_drawing(p.piece.row, side), "the drawing of the piece"), p)
            for p in pieces
        ]
        edge = _mirror_edge(self.blank, side)
        here = [(plan, put_in_place(edge, p.place, jigs.turn)) for plan, p in plans]
        return _load_contents(here, jigs, self.files)

    def _list_comments(self, pieces: Sequence[JigPiece], jigs: JigLayout) -> list[str]:
        """List comments: the layout of the jig, and the recipient of each place."""
        units = self.files.order.unit
        held = {p.place.number: p for p in pieces}
        said = [
            f"unit {units.name}; {len(jigs.places)} places, from the lower left, row by row; x and y are the lower "
            "left corner of the blank as it lies"
        ]
        for place in jigs.places:
            corner = f"{units.format_number(place.x, 4)} {units.format_number(place.y, 4)}"
            at = f"place {place.number} at {corner} turned {jigs.turn}: "
            if (here := held.get(place.number)) is None:
                said.append(f"{at}empty")
                continue
            piece = here.piece
            who = f"row {piece.row} piece {piece.copy} of {piece.copies} {piece.fingerprint}"
            said.append(join_in_one_line(f"{at}{who} {piece.name}"))
        return said


def _mirror_edge(blank: Blank, side: Side) -> Chain:
    return blank.edge if side == "front" else mirror_chain(blank.edge, blank.width)


def _load_contents(plaques: Sequence[tuple[FileContents, Placing]], jigs: JigLayout, files: CutFiles) -> FileContents:
    """The drawings of the pieces in their places, then the jig for reference."""
    by_layer: dict[str, list[PlacedContours]] = {}
    grooves: list[Array] = []
    roughing: list[Array] = []
    for plan, by in plaques:
        for layer, pieces in plan.layers:
            if layer not in OWN:
                home = BLANK if layer == EDGE else layer
                by_layer.setdefault(home, []).extend(place_piece(piece, by) for piece in pieces)
        grooves += [place_groove(line, by) for line in plan.grooves]
        roughing += [place_groove(line, by) for line in plan.roughing]
    for layer, chains in ((JIG, _draw_jig(jigs)), (DATUM, _draw_zero_cross())):
        if chains:
            off = files.fits.tolerance_mm if files.fits.curves == "lines" else 0.0
            by_layer[layer] = [PlacedContours(fit_curves(chains, files.fits), deviation=off)]
    layers = tuple((name, tuple(by_layer[name])) for name in LAYERS if name in by_layer)
    return FileContents(layers, tuple(grooves), tuple(roughing))


def _draw_jig(jigs: JigLayout) -> list[Chain]:
    if jigs.size is None:
        return []
    wide, high = jigs.size
    return [Chain(np.array([[0, 0, 0], [wide, 0, 0], [wide, high, 0], [0, high, 0]], float))]


def _draw_zero_cross() -> list[Chain]:
    ends = (((-CROSS, 0.0), (CROSS, 0.0)), ((0.0, -CROSS), (0.0, CROSS)))
    return [Chain(np.array([[*a, 0.0], [*b, 0.0]]), closed=False) for a, b in ends]


def _describe_waiting(waiting: int, placed: int) -> str:
    """Why loads are missing, or places stay empty."""
    asked = "([jig] unsigned = true draws them anyway)."
    if waiting == placed:
        return f"No jig loads yet: no piece in them is signed off {asked}"
    empty = "is not signed off, and its place stays" if waiting == 1 else "are not signed off, and their places stay"
    what = f"Jig loads: of {placed} pieces, {waiting} {empty} empty"
    return f"{what} {asked}"
