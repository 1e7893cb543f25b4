"""Drawings of the shop sheet: a section through the piece, the pocket by cutter, a board with its cuts."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from pipeline.core.model import Blank
from pipeline.core.units import Units
from pipeline.geometry.curves import Array
from pipeline.outputs.pdf import styles
from pipeline.outputs.pdf.canvas import PaperCanvas, build_move
from pipeline.outputs.pdf.curve_operators import trace_chains, trace_circle, trace_lines, trace_rings
from pipeline.outputs.pdf.material_look import PieceLook
from pipeline.outputs.pdf.text_style import Colour, TextStyle, parse_colour
from pipeline.shopfloor.board_layout import Board, BoardLayout
from pipeline.shopfloor.pocket import PocketPlan
from pipeline.shopfloor.saw import SawCut
from pipeline.shopfloor.thickness import ThicknessBudget

GONE = parse_colour("#F1EEE8")
ROUGH = parse_colour("#B9CDD0")
REST = parse_colour("#E7B667")
LEFT = parse_colour("#A8503A")
RESIN = parse_colour("#9DBDC0")
SAWN = parse_colour("#8C4A3C")
SMALL = TextStyle(6.5, styles.INK)
TINY = TextStyle(5.5, styles.GREY)


# --- the section -------------------------------------------------------------------------------------------------

SECTION_DEPTH = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionWidths:
    """Widths of the section, mm: of the deepest groove at its floor and at the face, of the pocket at its widest."""

    floor: float = 0.0
    groove: float = 0.0
    pocket: float = 0.0


def draw_section(
    pen: PaperCanvas,
    plan: ThicknessBudget,
    across: SectionWidths,
    units: Units,
    x: float,
    y: float,
    room: float,
    height: float,
    look: PieceLook,
) -> None:
    """A piece of the section from rough board to finished piece, the face on top; one scale both ways, so that a pocket
    wider than the picture is shown narrower, and said to be. look: of the material."""
    rough = plan.rough if plan.rough is not None else plan.needed
    scale = (height - 14) / rough
    low = y + 4
    face = low + (rough - plan.faced) * scale  # height of the face when the lettering is cut
    back = face - plan.cut_at * scale
    bottom_off = sum(s.off for s in plan.steps if s.side == "back") - max(0.0, rough - plan.faced - plan.cut_at)
    final_top, final_low = face - plan.off_face * scale, back + bottom_off * scale
    left, wide = x + 4, room * 0.56

    def draw_band(a: float, b: float, colour: tuple[float, float, float]) -> None:
        if b - a > 1e-6:
            pen.draw_box(left, a, wide, b - a, fill=colour)

    draw_band(low, low + rough * scale, GONE)
    draw_band(back, face, look.face)
    narrowed = across.pocket * scale > wide * 0.5
    if plan.pocket is not None:
        pw = min(across.pocket * scale, wide * 0.5)
        px = left + wide * 0.66 - pw / 2
        pen.draw_box(px, face - plan.pocket * scale, pw, plan.pocket * scale, fill=RESIN)
        pen.draw_text(px + pw / 2, face - plan.pocket * scale / 2 - 1, "pocket", SMALL, "centre")
    if plan.engraved:
        gx, at = left + wide * 0.2, face - plan.engraved * scale
        half, foot = across.groove * scale / 2, across.floor * scale / 2
        corners = [(gx - half, face), (gx + half, face), (gx + foot, at), (gx - foot, at)]
        pen.draw(trace_rings([np.array(corners)]), fill=look.cut)
    for at, colour in ((final_top, styles.ACCENT), (final_low, styles.ACCENT)):
        pen.draw(trace_lines([(left - 2, at), (left + wide + 2, at)]), edge=colour, line=0.3, dash=(1.2, 0.8))
    for edge in (low, low + rough * scale):
        pen.draw_line(left, edge, left + wide, edge, look.edge, 0.2)
    for side in (left, left + wide):
        _draw_broken(pen, side, low, low + rough * scale, look.edge)
    marks = [
        (low, low + rough * scale, "rough", units.show(rough)),
        (back, face, "under the cutter", units.show(plan.cut_at)),
        (final_low, final_top, "finished", units.show(plan.finished)),
    ]
    if plan.pocket is not None and plan.skin is not None:
        marks.insert(2, (back, back + plan.skin * scale, "skin", units.show(plan.skin)))
    tx = left + wide + 8
    step = (room - (tx - x)) / max(1, len(marks))
    for k, (a, b, words, value) in enumerate(marks):
        mx = tx + k * step
        pen.draw_line(mx, a, mx, b, styles.INK, 0.2)
        for end in (a, b):
            pen.draw_line(mx - 1, end, mx + 1, end, styles.INK, 0.2)
        pen.draw_lines(mx + 1.5, (a + b) / 2 + 1, [*pen.wrap(words, SMALL, step - 3), value], SMALL)
    told = f"scale {scale:.1f} : 1; broken off left and right; dashed: the finished faces"
    pen.draw_text(left, y + 0.4, told + ("; the pocket is wider than shown" if narrowed else ""), TINY)


def _draw_broken(pen: PaperCanvas, x: float, low: float, high: float, colour: Colour) -> None:
    """A zigzag where the piece goes on."""
    steps = max(2, 2 * round((high - low) / 4))
    points = [(x + (1.2 if k % 2 else 0.0), low + (high - low) * k / steps) for k in range(steps + 1)]
    for (ax, ay), (bx, by) in pairwise(points):
        pen.draw_line(ax, ay, bx, by, colour, 0.2)


# --- the pocket --------------------------------------------------------------------------------------------------


def find_pocket_scale(plan: PocketPlan, room: float, height: float) -> float:
    x0, y0, x1, y1 = _compute_box(plan.drawn.rings)
    return min(room / (x1 - x0 + 4), height / (y1 - y0 + 4), 4.0)


def _compute_box(rings: tuple[Array, ...]) -> tuple[float, float, float, float]:
    xs = [float(v) for r in rings for v in (r[:, 0].min(), r[:, 0].max())]
    ys = [float(v) for r in rings for v in (r[:, 1].min(), r[:, 1].max())]
    return min(xs), min(ys), max(xs), max(ys)


def draw_pocket(pen: PaperCanvas, blank: Blank, plan: PocketPlan, x: float, y: float, scale: float) -> None:
    """The pocket in its place: what each cutter clears and what is left, with each corner ringed."""
    x0, y0, _, _ = _compute_box(plan.drawn.rings)
    with pen.save_state(build_move(x - (x0 - 2) * scale, y - (y0 - 2) * scale, scale)):
        fine = 1 / scale
        if plan.rough.rings:
            pen.draw(trace_rings(plan.rough.rings), fill=ROUGH, even_odd=True)
        if plan.rest.rings:
            pen.draw(trace_rings(plan.rest.rings), fill=REST, even_odd=True)
        if plan.unreachable.rings and plan.corners:
            pen.draw(trace_rings(plan.unreachable.rings), fill=LEFT, even_odd=True)
        pen.draw(trace_chains(blank.pockets), edge=styles.INK, line=0.2 * fine)
        for corner in plan.corners:
            pen.draw(trace_circle(*corner.at, 1.5 * fine), edge=LEFT, line=0.25 * fine)


def draw_legend(pen: PaperCanvas, x: float, y: float, items: list[tuple[tuple[float, float, float], str]]) -> None:
    for colour, words in items:
        pen.draw_box(x, y, 3.2, 2.4, fill=colour, edge=styles.PALE, line=0.1)
        x += 5 + pen.draw_text(x + 4.4, y + 0.3, words, styles.QUIET) + 5


# --- boards ------------------------------------------------------------------------------------------------------


def find_board_scale(board: Board, room: float) -> float:
    return room / board.layout.sheet.length


def draw_board(
    pen: PaperCanvas,
    blank: Blank,
    plan: BoardLayout,
    board: Board,
    x: float,
    y: float,
    scale: float,
    look: PieceLook,
) -> None:
    """One board with its blanks, clamp zones, places kept free, and every kerf. look: of the material."""
    sheet = board.layout.sheet
    fine = 1 / scale
    with pen.save_state(build_move(x, y, scale)):
        pen.draw_box(0, 0, sheet.length, sheet.width, fill=GONE, edge=look.edge, line=0.2 * fine)
        if sheet.clamp:
            for at in (0.0, sheet.length - sheet.clamp):
                pen.draw_box(at, 0, sheet.clamp, sheet.width, fill=styles.ASK_WASH)
        for a, b, c, d in sheet.kept_free:
            pen.draw_box(a, b, c - a, d - b, fill=styles.STOP_WASH, edge=styles.STOP_EDGE, line=0.2 * fine)
        for place in board.places:
            turn, dx, dy = place.compute_placing(blank.edge)
            c, s = math.cos(turn), math.sin(turn)
            edge = trace_chains((blank.edge, *blank.holes))
            with pen.save_state((c, s, -s, c, dx, dy)):
                pen.draw(edge, fill=look.face, edge=look.edge, line=0.2 * fine, even_odd=True)
                if blank.pockets:
                    pen.draw(trace_chains(blank.pockets), fill=styles.POCKET, even_odd=True)
        for cut in plan.cuts:
            if cut.board == board.number:
                _draw_kerf(pen, cut, plan.saw.kerf, fine)
        for place in board.places:
            turn, dx, dy = place.compute_placing(blank.edge)
            c, s = math.cos(turn), math.sin(turn)
            mx, my = blank.width * 0.42, blank.height * 0.25
            px, py = c * mx - s * my + dx, s * mx + c * my + dy
            size, told = TextStyle(6.5 * fine, look.cut), f"row {place.piece.row}"
            wide = abs(c) * blank.width + abs(s) * blank.height
            if pen.measure_text(told, size) > 0.45 * wide:  # centred, and just the number if space is short
                px = place.slot.x + wide / 2
                told = told if pen.measure_text(told, size) < 0.95 * wide else str(place.piece.row)
            pen.draw_text(px, py, told, size, "centre")
    pen.draw_line(x, y - 1.2, x + sheet.length * scale, y - 1.2, styles.ACCENT, 0.5)
    pen.draw_text(x, y - 4, "datum edge, against the fence", TINY)


def _draw_kerf(pen: PaperCanvas, cut: SawCut, kerf: float, fine: float) -> None:
    pen.draw_line(*cut.line, SAWN, max(kerf, 0.2 * fine))
