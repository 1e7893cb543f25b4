"""How a piece looks on papers: the colours of its material, and whether it shows a grain and which way.

A material of the shelf or of the shop file has its own look. Where the order names none, the piece is drawn as the
cutter suggests; one that is named and not known is drawn plain.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from pipeline.core.order import Order
from pipeline.cutting.cutters import Surface
from pipeline.cutting.materials import get_material
from pipeline.outputs.pdf.text_style import Colour, rgb


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceLook:
    """Colours of a piece. grain: None for a material that shows none; across: whether it runs from side to side."""

    face: Colour
    edge: Colour
    cut: Colour
    grain: Colour | None = None
    across: bool = False


TIMBER = PieceLook(face=rgb("#EADFCD"), grain=rgb("#DFD1BA"), edge=rgb("#9C8768"), cut=rgb("#3B2A1C"))
METAL = PieceLook(face=rgb("#E9E7E0"), edge=rgb("#8F8B80"), cut=rgb("#2B2B2E"))
"""Also of a material that is not known."""


def surface_look(surface: Surface) -> PieceLook:
    """The look that a cutter suggests; see `Cutter.surface`."""
    return METAL if surface == "metal" else TIMBER


def look_of(order: Order, surface: Surface) -> PieceLook:
    """The look of an order's pieces. surface: what its cutter suggests, for an order that names no material."""
    material = get_material(order)
    if not material.name:
        return surface_look(surface)
    own = material.look
    if own is None:
        return METAL
    look = PieceLook(face=rgb(own.face), edge=rgb(own.edge), cut=rgb(own.letters))
    if own.grain:
        across = order.board is not None and order.board.grain == "across"
        look = replace(look, grain=rgb(own.grain), across=across)
    return look
