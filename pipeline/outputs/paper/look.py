"""How papers look: colours, text styles, and the plaque's blank in a quiet material of our own."""

from __future__ import annotations

import math
from collections.abc import Container

from pipeline.core.model import Artwork, Blank, Piece
from pipeline.outputs.paper.curves import chain_ops, number
from pipeline.outputs.paper.drawing import piece_box
from pipeline.outputs.paper.faces import SERIF
from pipeline.outputs.paper.pen import Colour, Pen, Style, rgb

INK = rgb("#2A2724")
GREY = rgb("#6F6962")
PALE = rgb("#A9A299")
HAIR = rgb("#DDD7CD")
WASH = rgb("#F6F3EE")
ACCENT = rgb("#2F5D62")
ASK_EDGE = rgb("#C98F2B")
ASK_WASH = rgb("#FCF5E6")
STOP_EDGE = rgb("#A8503A")
STOP_WASH = rgb("#FAEFEB")
WHITE = rgb("#FFFFFF")
FIELD = rgb("#B9B1A5")

TITLE = Style(30, INK, SERIF, 1.15)
HEADING = Style(19, INK, SERIF, 1.25)
NAME = Style(13, INK)
BODY = Style(9.5, INK)
SMALL = Style(8.5, INK)
QUIET = Style(8, GREY)
LABEL = Style(7, GREY)
RUNNING = Style(7.5, GREY)
FIGURE = Style(28, ACCENT, SERIF, 1.0)

TIMBER = {"face": rgb("#EADFCD"), "grain": rgb("#DFD1BA"), "edge": rgb("#9C8768"), "cut": rgb("#3B2A1C")}
METAL = {"face": rgb("#E9E7E0"), "edge": rgb("#8F8B80"), "cut": rgb("#2B2B2E")}
POCKET = rgb("#C3D3D3")
POCKET_EDGE = rgb("#7E9899")
SHADOW = rgb("#E4DFD6")
MAGNIFIED = 0.05  # lines of what is drawn to be magnified, mm of the blank
SHADE = 0.7  # how far the shadow falls, mm on paper


def material(cutter_kind: str) -> dict[str, tuple[float, float, float]]:
    """Routed and carved pieces look like timber; what a point or a laser marks looks like metal."""
    return METAL if cutter_kind in ("point", "laser") else TIMBER


def blank_form(pen: Pen, blank: Blank, cutter_kind: str, scale: float) -> str:
    """The form of the blank without lettering, in mm of the blank, drawn for a paper scale of `scale`."""
    key = f"blank {scale:g}"
    look = material(cutter_kind)
    fine = 1 / scale  # one mm on paper
    reach = SHADE * fine + 1
    with pen.form(key, (-reach, -reach, blank.width + reach, blank.height + reach)) as new:
        if not new:
            return key
        edge = chain_ops((blank.edge, *blank.holes))
        outer = chain_ops((blank.edge,))
        fall = number(SHADE * fine)
        pen.op(f"q 1 0 0 1 {fall} -{fall} cm {pen.fill(SHADOW)} {outer} f Q")
        pen.op(f"q {edge} W* n {pen.fill(look['face'])} 0 0 {number(blank.width)} {number(blank.height)} re f")
        if "grain" in look:
            pen.op(pen.stroke(look["grain"], 0.3 * fine) + " " + _grain(blank.width, blank.height, fine))
        pen.op("Q")
        if blank.pockets:
            pockets = chain_ops(blank.pockets)
            pen.op(f"q {pockets} W n {pen.fill(POCKET)} {pockets} f")
            pen.op(f"{pen.stroke(POCKET_EDGE, 0.9 * fine)} {pockets} S Q")
            pen.op(f"{pen.stroke(POCKET_EDGE, 0.2 * fine)} {pockets} S")
        if blank.keep_outs:
            dash = f"{number(1.2 * fine)} {number(0.8 * fine)}"
            pen.op(f"{pen.stroke(look['edge'], 0.2 * fine, dash)} {chain_ops(blank.keep_outs)} S [] 0 d")
        pen.op(f"{pen.stroke(look['edge'], 0.3 * fine)} {edge} S")
    return key


def surroundings(pen: Pen, blank: Blank) -> str:
    """The form of what lettering keeps off, in mm of the blank, drawn to be magnified: pockets and holes filled, the
    edge and keep-outs as lines."""
    key = "surroundings"
    with pen.form(key, (-1, -1, blank.width + 1, blank.height + 1)) as new:
        if new:
            pen.op(f"{pen.fill(POCKET)} {pen.stroke(POCKET_EDGE, MAGNIFIED)}")
            for chains in (blank.pockets, blank.holes):
                pen.op(f"{chain_ops(chains)} b" if chains else "")
            dash = f"{number(6 * MAGNIFIED)} {number(4 * MAGNIFIED)}"
            pen.op(f"{pen.stroke(TIMBER['edge'], MAGNIFIED)} {chain_ops((blank.edge,))} S")
            if blank.keep_outs:
                pen.op(f"{pen.stroke(TIMBER['edge'], MAGNIFIED, dash)} {chain_ops(blank.keep_outs)} S [] 0 d")
    return key


def _grain(width: float, height: float, fine: float) -> str:
    """Slow waves along the height, always the same ones."""
    out = []
    step = 4.2 * fine
    for i in range(1, math.ceil(width / step) + 1):
        x = (i - 0.5 + 0.36 * math.sin(2.4 * i)) * step
        bow = 0.8 * fine * math.sin(1.7 * i + 0.6)
        third = height / 3
        out.append(
            f"{number(x)} 0 m {number(x + bow)} {number(third)} {number(x - bow)} {number(2 * third)} "
            f"{number(x + bow / 2)} {number(height)} c"
        )
    return " ".join(out) + " S"


def lettering(pen: Pen, artwork: Artwork, blank: Blank, cutter_kind: str, point: float, fixed: Container[int]) -> None:
    """The lettering of the front with an unseen layer of text, in the user space of the moment (mm of the blank).
    fixed: numbers of the lines that say the same on every plaque."""
    pen.op(_inked(pen, material(cutter_kind)["cut"], point))
    lines, box = (
        [line for line in artwork.lines if line.side == "front"],
        (-10.0, -10.0, blank.width + 10, blank.height + 10),
    )
    for line in lines:
        for row in line.rows:
            if line.line in fixed:
                pen.row_again(row, point, box)
            else:
                pen.row(row, point)
    for line in lines:
        for row in line.rows:
            pen.says(row, line.cap_height)


def _inked(pen: Pen, colour: Colour, point: float) -> str:
    return f"{pen.fill(colour)} {pen.stroke(colour, point)} 1 J 1 j"


def pieces(
    pen: Pen,
    artwork: Artwork,
    colour: Colour,
    point: float,
    side: str = "front",
    near: tuple[tuple[float, float], float] | None = None,
) -> None:
    """The lettering of one side in one colour, without text. near: only what is within that many mm of a place."""
    pen.op(_inked(pen, colour, point))
    for row in (row for line in artwork.lines if line.side == side for row in line.rows):
        if near is None:
            pen.row(row, point)
            continue
        for piece in row.pieces:
            if _within(piece, *near):
                pen.piece(piece, point)


def _within(piece: Piece, at: tuple[float, float], reach: float) -> bool:
    box, (x, y) = piece_box(piece), at
    if box is None or not (box[0] - reach <= x <= box[2] + reach and box[1] - reach <= y <= box[3] + reach):
        return False
    points = [p.points for p in piece.outline()]
    return any((p.min(axis=0) - reach <= at).all() and (p.max(axis=0) + reach >= at).all() for p in points)
