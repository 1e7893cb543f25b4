"""Look of the papers: colours, text styles, and the plaque's blank in a quiet material of our own."""

from __future__ import annotations

import math
from collections.abc import Container
from dataclasses import replace

from pipeline.core.model import Artwork, Blank, Piece
from pipeline.outputs.cut_files.file_contents import mirror_chain
from pipeline.outputs.pdf.canvas import PaperCanvas, build_move
from pipeline.outputs.pdf.curve_operators import PathPen, Trace, trace_chains
from pipeline.outputs.pdf.fonts import SERIF
from pipeline.outputs.pdf.material_look import TIMBER, PieceLook
from pipeline.outputs.pdf.packed_lettering import compute_piece_box
from pipeline.outputs.pdf.text_style import Colour, TextStyle, parse_colour

INK = parse_colour("#2A2724")
GREY = parse_colour("#6F6962")
PALE = parse_colour("#A9A299")
HAIR = parse_colour("#DDD7CD")
WASH = parse_colour("#F6F3EE")
ACCENT = parse_colour("#2F5D62")
ASK_EDGE = parse_colour("#C98F2B")
ASK_WASH = parse_colour("#FCF5E6")
STOP_EDGE = parse_colour("#A8503A")
STOP_WASH = parse_colour("#FAEFEB")
WHITE = parse_colour("#FFFFFF")
FIELD = parse_colour("#B9B1A5")

TITLE = TextStyle(30, INK, SERIF, 1.15)
HEADING = TextStyle(19, INK, SERIF, 1.25)
NAME = TextStyle(13, INK)
BODY = TextStyle(9.5, INK)
SMALL = TextStyle(8.5, INK)
QUIET = TextStyle(8, GREY)
LABEL = TextStyle(7, GREY)
RUNNING = TextStyle(7.5, GREY)
FIGURE = TextStyle(28, ACCENT, SERIF, 1.0)

POCKET = parse_colour("#C3D3D3")
POCKET_EDGE = parse_colour("#7E9899")
SHADOW = parse_colour("#E4DFD6")
MAGNIFIED = 0.05  # line width in magnified drawings, mm of the blank
SHADE = 0.7  # offset of the shadow, mm on paper


def get_blank_form(pen: PaperCanvas, blank: Blank, look: PieceLook, scale: float, back: bool = False) -> str:
    """The form of the blank without lettering, in mm of the blank, drawn for a paper scale of `scale`. back: as it is
    seen from behind, mirrored from left to right; what is milled or kept free on the front is not there."""
    key = f"{'back' if back else 'blank'} {scale:g}"
    if back:
        turned = [mirror_chain(chain, blank.width) for chain in (blank.edge, *blank.holes)]
        blank = replace(blank, edge=turned[0], holes=tuple(turned[1:]), pockets=(), keep_outs=())
    fine = 1 / scale  # one mm on paper
    reach = SHADE * fine + 1
    with pen.define_form(key, (-reach, -reach, blank.width + reach, blank.height + reach)) as new:
        if not new:
            return key
        edge, pockets = trace_chains((blank.edge, *blank.holes)), trace_chains(blank.pockets)
        with pen.save_state(build_move(SHADE * fine, -SHADE * fine)):
            pen.draw(trace_chains((blank.edge,)), fill=SHADOW)
        with pen.save_state():
            pen.clip(edge, even_odd=True)
            pen.draw_box(0, 0, blank.width, blank.height, fill=look.face)
            if look.grain is not None:
                grain = _trace_grain(blank.width, blank.height, fine, across=look.across)
                pen.draw(grain, edge=look.grain, line=0.3 * fine)
        if blank.pockets:
            with pen.save_state():
                pen.clip(pockets)
                pen.draw(pockets, fill=POCKET)
                pen.draw(pockets, edge=POCKET_EDGE, line=0.9 * fine)
            pen.draw(pockets, edge=POCKET_EDGE, line=0.2 * fine)
        if blank.keep_outs:
            dash = (1.2 * fine, 0.8 * fine)
            pen.draw(trace_chains(blank.keep_outs), edge=look.edge, line=0.2 * fine, dash=dash)
        pen.draw(edge, edge=look.edge, line=0.3 * fine)
    return key


def get_blank_surroundings(pen: PaperCanvas, blank: Blank) -> str:
    """The form of what lettering keeps off, in mm of the blank, drawn to be magnified: pockets and holes filled, the
    edge and keep-outs as lines."""
    key = "surroundings"
    with pen.define_form(key, (-1, -1, blank.width + 1, blank.height + 1)) as new:
        if new:
            for chains in (blank.pockets, blank.holes):
                if chains:
                    pen.draw(trace_chains(chains), fill=POCKET, edge=POCKET_EDGE, line=MAGNIFIED)
            pen.draw(trace_chains((blank.edge,)), edge=TIMBER.edge, line=MAGNIFIED)
            if blank.keep_outs:
                dash = (6 * MAGNIFIED, 4 * MAGNIFIED)
                pen.draw(trace_chains(blank.keep_outs), edge=TIMBER.edge, line=MAGNIFIED, dash=dash)
    return key


def _trace_grain(width: float, height: float, fine: float, *, across: bool = False) -> Trace:
    """Slow waves along the height, or across it, always the same ones."""
    if across:
        width, height = height, width

    def trace(pen: PathPen) -> None:
        step, third = 4.2 * fine, height / 3
        for i in range(1, math.ceil(width / step) + 1):
            x = (i - 0.5 + 0.36 * math.sin(2.4 * i)) * step
            bow = 0.8 * fine * math.sin(1.7 * i + 0.6)
            way = [(x, 0.0), (x + bow, third), (x - bow, 2 * third), (x + bow / 2, height)]
            start, *rest = [(y, x) for x, y in way] if across else way
            pen.moveTo(*start)
            pen.curveTo(*(value for point in rest for value in point))

    return trace


def draw_lettering(
    pen: PaperCanvas,
    artwork: Artwork,
    blank: Blank,
    look: PieceLook,
    point: float,
    fixed: Container[int],
    side: str = "front",
) -> None:
    """The lettering of one side with invisible text over it, in the user space of the moment (mm of the blank).
    fixed: numbers of the lines that say the same on every plaque."""
    pen.set_round_ink(look.cut, point)
    lines, box = (
        [line for line in artwork.lines if line.side == side],
        (-10.0, -10.0, blank.width + 10, blank.height + 10),
    )
    for figure in artwork.figures:
        if figure.side == side:
            pen.repeat_row(figure.rows[0], point, box)
    for line in lines:
        for row in line.rows:
            if line.line in fixed:
                pen.repeat_row(row, point, box)
            else:
                pen.draw_row(row, point)
    for line in lines:
        for row in line.rows:
            pen.write_invisible(row, line.cap_height)


def draw_pieces(
    pen: PaperCanvas,
    artwork: Artwork,
    colour: Colour,
    point: float,
    side: str = "front",
    near: tuple[tuple[float, float], float] | None = None,
) -> None:
    """The lettering of one side in one colour, without text. near: only what is within that many mm of a place."""
    pen.set_round_ink(colour, point)
    for row in (row for line in artwork.parts if line.side == side for row in line.rows):
        if near is None:
            pen.draw_row(row, point)
            continue
        for piece in row.pieces:
            if _is_within(piece, *near):
                pen.draw_piece(piece, point)


def _is_within(piece: Piece, at: tuple[float, float], reach: float) -> bool:
    box, (x, y) = compute_piece_box(piece), at
    if box is None or not (box[0] - reach <= x <= box[2] + reach and box[1] - reach <= y <= box[3] + reach):
        return False
    points = [p.points for p in piece.build_outline()]
    return any((p.min(axis=0) - reach <= at).all() and (p.max(axis=0) + reach >= at).all() for p in points)
