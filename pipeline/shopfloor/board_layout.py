"""The boards of an order: the position and recipient of each blank, and how they are sawn apart. Lengths mm, areas
mm²."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from pipeline.core.catalogue import shop_kinds as kinds
from pipeline.core.catalogue import ways
from pipeline.core.config.order import Order
from pipeline.core.config.shop_tables import BoardConfig, BoardSize
from pipeline.core.findings import Finding, build_finding, build_way
from pipeline.core.list_row import ListRow
from pipeline.core.model import Blank
from pipeline.cutting.materials import SourcedValue, get_material
from pipeline.geometry.curves import Chain
from pipeline.geometry.flatten import chain_box
from pipeline.geometry.regions import build_chain_polygon
from pipeline.shopfloor.nesting import BlankSlot, Box, NestingBoard, SawLane, StripLayout, choose_boards, lay_out
from pipeline.shopfloor.saw import (
    Grain,
    SawCut,
    SawnSide,
    find_straight_sides,
    group_fence_settings,
    list_board_cuts,
    order_cuts,
)

TOLERANCE = 0.01
"""Flattening tolerance of the edge while boards are laid out, mm."""
NOTHING = SourcedValue(value=0.0, source="nothing is asked for")


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceToPlace:
    """One piece that needs a place."""

    row: ListRow
    copy: int  # from 1
    copies: int
    name: str
    fingerprint: str
    signed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedPiece:
    """A piece in its position on a board."""

    slot: BlankSlot
    piece: PieceToPlace

    def compute_placing(self, edge: Chain) -> tuple[float, float, float]:
        """Compute what moves the blank's own coordinates to their place on the board: turn in radians, dx and dy in
        mm."""
        turn = math.radians(self.slot.turn)
        x0, y0, _, _ = chain_box(edge.transform(turn=turn)) or (0.0, 0.0, 0.0, 0.0)
        return turn, self.slot.x - x0, self.slot.y - y0


@dataclass(frozen=True, slots=True, kw_only=True)
class Board:
    """One board, with everything cut on it."""

    number: int  # from 1
    size: int  # which of the order's sizes
    layout: StripLayout
    places: tuple[PlacedPiece, ...]

    @property
    def key(self) -> tuple[int, tuple[BlankSlot, ...]]:
        """Return the key shared by boards with the same layout."""
        return self.size, self.layout.slots


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardLayout:
    """All boards of an order."""

    boards: tuple[Board, ...]
    saw: SawLane
    cuts: tuple[SawCut, ...]  # in saw order
    sides: tuple[SawnSide, ...]  # cuts to the line afterwards; empty when the edge isn't straight-sided
    placed: int
    wanted: int
    blank_area: float
    board_area: float
    fewest: int  # boards of the largest size that the area of the blanks would fill
    clamp: float
    allowance: SourcedValue  # material left on every sawn side for finishing
    outline: SourcedValue | None  # depth of the guide line for the saw
    edge: float  # perimeter of one blank

    @property
    def share(self) -> float:
        """Return the share of the boards' face that becomes blanks."""
        return self.placed * self.blank_area / self.board_area if self.board_area else 0.0

    @property
    def groups(self) -> list[list[SawCut]]:
        return group_fence_settings(self.cuts)


def build_board_sheet(part: BoardConfig, size: BoardSize, number: int) -> NestingBoard:
    """A size of the order with what has to be kept free on it, as boxes."""
    kept: list[Box] = []
    for d in (*part.screws, *size.defects):
        (x, y), r = d.at, d.diameter / 2
        kept.append((x - r, y - r, x + r, y + r))
    return NestingBoard(
        name=size.name or f"size {number}",
        length=size.length,
        width=size.width,
        clamp=part.clamp,
        kept_free=tuple(kept),
    )


def get_grain(order: Order) -> Grain | None:
    """Return which way the grain runs on a piece: as [board] says, "none" for material without grain, None if not
    stated."""
    if order.board is None:
        return None
    return "none" if order.board.grain is None and get_material(order).grain is False else order.board.grain


def plan_boards(
    blank: Blank,
    part: BoardConfig,
    pieces: Sequence[PieceToPlace],
    grain: Grain | None,
    allowance: SourcedValue = NOTHING,
    outline: SourcedValue | None = None,
) -> tuple[BoardLayout, tuple[Finding, ...]]:
    """Lay the pieces on the order's boards, signed ones first, otherwise in the order of the list. grain: as
    `get_grain` has it; where it is not known, pieces are laid upright. allowance, outline: as
    `choose_saw_allowance` and `choose_outline_depth` have them."""
    region = build_chain_polygon(blank.edge, TOLERANCE)
    saw = SawLane(kerf=part.kerf, trim=part.trim)
    layouts = [
        (lay_out(build_board_sheet(part, size, k + 1), saw, region, grain or "upright", part.turn), size.count)
        for k, size in enumerate(part.size)
    ]
    chosen = choose_boards(layouts, len(pieces))
    waiting = sorted(pieces, key=lambda p: (not p.signed, p.row, p.copy))
    boards, taken = [], 0
    for number, (size, layout) in enumerate(chosen, 1):
        own = waiting[taken : taken + len(layout.slots)]
        taken += len(own)
        places = tuple(PlacedPiece(slot=s, piece=p) for s, p in zip(layout.slots, own, strict=True))
        boards.append(Board(number=number, size=size, layout=layout, places=places))
    cuts = order_cuts(itertools.chain.from_iterable(list_board_cuts(b.layout, saw, region, b.number) for b in boards))
    largest = max((lo.sheet.area for lo, _ in layouts), default=0.0)
    plan = BoardLayout(
        boards=tuple(boards),
        saw=saw,
        cuts=tuple(cuts),
        sides=find_straight_sides(blank.edge, grain, allowance.value),
        placed=taken,
        wanted=len(pieces),
        blank_area=float(region.area),
        board_area=sum(b.layout.sheet.area for b in boards),
        fewest=math.ceil(len(pieces) * float(region.area) / largest) if largest else 0,
        clamp=part.clamp,
        allowance=allowance,
        outline=outline,
        edge=float(region.length),
    )
    return plan, tuple(_report_no_room(plan, layouts))


def _report_no_room(plan: BoardLayout, layouts: list[tuple[StripLayout, int | None]]) -> list[Finding]:
    if plan.placed >= plan.wanted:
        return []
    none = all(not lo.slots for lo, _ in layouts)
    return [
        build_finding(
            kinds.NO_ROOM,
            measured=float(plan.placed),
            limit=float(plan.wanted),
            facts={"placed": plan.placed, "wanted": plan.wanted},
            ways=(build_way(ways.NO_BOARD_FITS if none else ways.MORE_BOARDS),),
        )
    ]
