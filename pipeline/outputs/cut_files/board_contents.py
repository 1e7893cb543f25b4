"""Contents of a board's drawing: the plans of its plaques in their places, by operation, and the board itself.

The front is seen with the left end at x = 0 and the datum edge at y = 0. The back is the board turned over end for end
about its left end, so that the datum edge stays against the same fence: x becomes −x, and zero is still the same corner
of the board, now its lower right one.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np

from pipeline.core.config.order import RegistrationConfig
from pipeline.core.config.shop_tables import BoardConfig, BoardDefect
from pipeline.core.model import Blank
from pipeline.cutting.contours import ContourFitter
from pipeline.geometry.curves import Array, Chain
from pipeline.outputs.cut_files.file_contents import (
    EDGE,
    KEEP_OUT,
    REGISTRATION,
    ZONE,
    FileContents,
    PlacedContours,
    fit_curves,
)
from pipeline.outputs.cut_files.joint_drawings import Placing, place_groove, place_piece
from pipeline.outputs.cut_files.registration_marks import draw_mark
from pipeline.shopfloor.board_layout import Board, PlacedPiece
from pipeline.shopfloor.nesting import NestingBoard
from pipeline.shopfloor.saw import SawCut

DATUM, BOARD, SAW, CLAMP, KNOT = "DATUM", "BOARD", "SAW", "CLAMP", "KNOT"

CUT = ("ENGRAVE", "LINE", "FLOOR", "ROUGH", "GROOVE", "POCKET", "REST", REGISTRATION, EDGE)
"""Layers of what is cut on a board, in the order of cutting."""

OWN = (ZONE, KEEP_OUT, REGISTRATION)
"""Layers of a plaque by itself: on a board its marks would lie on its neighbours, so the board has marks of its own."""

LAYERS = (*CUT, SAW, CLAMP, KNOT, DATUM, BOARD)
"""Of a board's drawing; reference last."""


def compute_placement(blank: Blank, place: PlacedPiece, side: str) -> Placing:
    """Return what puts the drawing of one side of the blank in its place on that side of the board.

    Turned over, a point (x, y) of the board lies at (−x, y), and a point (u, v) of the blank's back is the front's
    (width − u, v): of the two mirrorings only a turn the other way and a shift are left.
    """
    turn, dx, dy = place.compute_placing(blank.edge)
    if side == "front":
        return turn, dx, dy
    return -turn, -(math.cos(turn) * blank.width + dx), math.sin(turn) * blank.width + dy


def plan_board_contents(
    board: Board,
    part: BoardConfig,
    cuts: Iterable[SawCut],
    plaques: Sequence[tuple[FileContents, Placing]],
    fits: ContourFitter,
    side: str,
    marks: Sequence[Chain] = (),
) -> FileContents:
    """The board's drawing of one side. plaques: each with the drawing of that side of it and its place. marks: for
    turning over, as seen from the front.

    On the back the blanks' edges were cut from the front already: there they are drawn with the board.
    """
    by_layer: dict[str, list[PlacedContours]] = {}
    grooves: list[Array] = []
    roughing: list[Array] = []
    for plan, by in plaques:
        for layer, pieces in plan.layers:
            if layer in OWN:
                continue
            home = BOARD if layer == EDGE and side == "back" else layer
            by_layer.setdefault(home, []).extend(place_piece(piece, by) for piece in pieces)
        grooves += [place_groove(line, by) for line in plan.grooves]
        roughing += [place_groove(line, by) for line in plan.roughing]
    for layer, chains in [(REGISTRATION, list(marks)), *_draw_board_layers(board, part, cuts)]:
        seen = [_lift_over_edge(c) for c in chains] if side == "back" else chains
        wanted = fit_curves(seen, fits)
        if wanted:
            off = fits.tolerance_mm if fits.curves == "lines" else 0.0
            by_layer.setdefault(layer, []).append(PlacedContours(wanted, deviation=off))
    layers = tuple((name, tuple(by_layer[name])) for name in LAYERS if name in by_layer)
    return FileContents(layers, tuple(grooves), tuple(roughing))


def _draw_board_layers(board: Board, part: BoardConfig, cuts: Iterable[SawCut]) -> list[tuple[str, list[Chain]]]:
    """The board itself: the middle of each kerf, clamp zones and screws, knots, the datum edge, its outline."""
    sheet = board.layout.sheet
    saws = [_build_line(*c.line) for c in cuts if c.board == board.number]
    clamps = (
        [_build_box(0, sheet.clamp, sheet), _build_box(sheet.length - sheet.clamp, sheet.length, sheet)]
        if sheet.clamp
        else []
    )
    return [
        (SAW, saws),
        (CLAMP, clamps + [_build_circle(d) for d in part.screws]),
        (KNOT, [_build_circle(d) for d in part.size[board.size].defects]),
        (DATUM, [_build_line(0, 0, sheet.length, 0)]),
        (BOARD, [_build_box(0, sheet.length, sheet)]),
    ]


def place_board_marks(board: Board, part: RegistrationConfig | None) -> tuple[Chain, ...]:
    """A mark in the middle of each clamp zone; none when the order asks for none, or the zones are too narrow."""
    sheet = board.layout.sheet
    if part is None or sheet.clamp <= part.size:
        return ()
    ends = (sheet.clamp / 2, sheet.length - sheet.clamp / 2)
    return tuple(chain for x in ends for chain in draw_mark(part, (x, sheet.width / 2)))


def _build_line(x0: float, y0: float, x1: float, y1: float) -> Chain:
    return Chain(np.array([[x0, y0, 0], [x1, y1, 0]], float), closed=False)


def _build_box(x0: float, x1: float, sheet: NestingBoard) -> Chain:
    w = sheet.width
    return Chain(np.array([[x0, 0, 0], [x1, 0, 0], [x1, w, 0], [x0, w, 0]], float))


def _build_circle(defect: BoardDefect) -> Chain:
    """Two halves, bulge 1 each (published DXF reference)."""
    (x, y), r = defect.at, defect.diameter / 2
    return Chain(np.array([[x - r, y, 1], [x + r, y, 1]], float))


def _lift_over_edge(chain: Chain) -> Chain:
    """Return the chain as it is with the board turned over about x = 0."""
    return Chain(chain.vertices * (-1, 1, -1), chain.closed)
