"""Look of a piece on papers: the colours of its material, and the direction of its grain.

A material of the shelf or of the shop file has its own look. Where the order names none, the piece is drawn as the
cutter suggests; one that is named and not known is drawn plain.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from pipeline.core.config.order import Order
from pipeline.cutting.cutters import Surface
from pipeline.cutting.materials import get_material
from pipeline.outputs.pdf.text_style import Colour, parse_colour


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceLook:
    """Colours of a piece. grain: None for a material that shows none; across: whether it runs from side to side."""

    face: Colour
    edge: Colour
    cut: Colour
    grain: Colour | None = None
    across: bool = False


TIMBER = PieceLook(
    face=parse_colour("#EADFCD"),
    grain=parse_colour("#DFD1BA"),
    edge=parse_colour("#9C8768"),
    cut=parse_colour("#3B2A1C"),
)
METAL = PieceLook(face=parse_colour("#E9E7E0"), edge=parse_colour("#8F8B80"), cut=parse_colour("#2B2B2E"))
"""Also of a material that is not known."""


def choose_surface_look(surface: Surface) -> PieceLook:
    """The look that a cutter suggests; see `Cutter.surface`."""
    return METAL if surface == "metal" else TIMBER


def choose_look(order: Order, surface: Surface) -> PieceLook:
    """The look of an order's pieces. surface: what its cutter suggests, for an order that names no material."""
    material = get_material(order)
    if not material.name:
        return choose_surface_look(surface)
    own = material.look
    if own is None:
        return METAL
    look = PieceLook(face=parse_colour(own.face), edge=parse_colour(own.edge), cut=parse_colour(own.letters))
    if own.grain:
        across = order.board is not None and order.board.grain == "across"
        look = replace(look, grain=parse_colour(own.grain), across=across)
    return look
