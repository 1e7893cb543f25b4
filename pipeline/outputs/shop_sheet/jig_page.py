"""The shop sheet's page of the jig: the jig with its zero point and places, and which piece lies where in each load."""

from __future__ import annotations

import math

from pipeline.core.config.order import Order
from pipeline.core.config.shop_tables import get_source
from pipeline.core.model import Blank
from pipeline.core.required import require_value
from pipeline.core.stated_values import say_computed, state
from pipeline.core.units import Units
from pipeline.outputs.pdf import styles
from pipeline.outputs.pdf.canvas import PaperCanvas, build_move
from pipeline.outputs.pdf.curve_operators import trace_chains
from pipeline.outputs.pdf.material_look import PieceLook
from pipeline.outputs.pdf.text_style import TextStyle
from pipeline.outputs.shop_sheet.shop_page import ShopPages, TableColumn
from pipeline.outputs.shop_sheet.shop_pictures import GONE
from pipeline.outputs.shop_sheet.value_origins import LOADS
from pipeline.shopfloor.jig_layout import JigLayout, JigLoad, put_in_place

HIGHEST = 95.0
"""mm of the page's height that the picture of the jig takes at most."""
GRID = 12.0
"""mm left and below the picture for the lengths from the zero point."""


def draw_jig_pages(book: ShopPages, blank: Blank, order: Order, plan: JigLayout, look: PieceLook) -> None:
    """The jig, then every load. look: of a piece."""
    units, part = order.spoken, require_value(order.jig, "[jig]")
    x0, y0, x1, y1 = plan.box
    scale = min((book.room - GRID) / (x1 - x0), HIGHEST / (y1 - y0), 2.0)
    height = (y1 - y0) * scale + GRID
    book.add_heading("Jig", keep=height + 30)

    def mark_stated(text: str | int, key: str) -> str:
        return state(text, get_source(part, key))

    pitch = [
        f"{mark_stated(units.show(p), key)} {key}" for key in ("across", "up") if (p := getattr(part, key)) is not None
    ]
    places = state(part.columns * part.rows, say_computed("columns and rows"))
    bed = (
        " × ".join(mark_stated(units.show(way), "bed") for way in part.bed)
        if part.bed
        else "not stated, so not checked"
    )
    facts = [
        ("Places", f"{places}: {mark_stated(part.columns, 'columns')} across, {mark_stated(part.rows, 'rows')} up"),
        ("Pitch", ", ".join(pitch) or "one place"),
        ("Loads", _describe_loads(plan)),
        ("First place", mark_stated(f"x {units.format_number(part.first[0])}, y {units.show(part.first[1])}", "first")),
        (
            "Blanks lie",
            f"turned {mark_stated(f'{plan.turn}°', 'turn')} anticlockwise" if plan.turn else "upright, as on the proof",
        ),
        ("Machine travels", bed),
    ]
    book.add_facts(facts, 3)
    book.add_picture(height, lambda x, y: _draw(book.pen, blank, plan, units, x + GRID, y + GRID, scale, look))
    book.add_note(
        "Red cross: the zero point of the jig, zero of every load. Numbers along the sides, computed from the first "
        "place and the pitch: from there to the lower left corner of each blank as it lies. Names are those of the "
        "first load."
    )
    columns = [
        TableColumn("Load", 0.08, names=True),
        TableColumn("Place", 0.08, names=True),
        TableColumn("Piece", 0.4, names=True),
        TableColumn("Row", 0.18, names=True),
        TableColumn("Fingerprint", 0.26, names=True),
    ]
    rows = [row for load in plan.loads for row in _list_rows(load)]
    book.add_table(columns, rows)


def _describe_loads(plan: JigLayout) -> str:
    if not plan.loads:
        return "none"
    last = len(plan.loads[-1].pieces)
    told = state(len(plan.loads), LOADS)
    return told + (f", the last with {state(last, LOADS)}" if last < len(plan.places) else "")


def _list_rows(load: JigLoad) -> list[tuple[str, ...]]:
    out: list[tuple[str, ...]] = []
    for held in load.pieces:
        piece = held.piece
        copies = f", {piece.copy} of {piece.copies}" if piece.copies > 1 else ""
        mark = piece.fingerprint if piece.signed else f"{piece.fingerprint}, not signed"
        out.append((str(load.number), str(held.place.number), piece.name, f"{piece.row}{copies}", mark))
    return out


def _draw(
    pen: PaperCanvas,
    blank: Blank,
    plan: JigLayout,
    units: Units,
    x: float,
    y: float,
    scale: float,
    look: PieceLook,
) -> None:
    """The jig from above. x, y: lower left corner of its box on the page."""
    x0, y0, x1, y1 = plan.box
    fine, (wide, high) = 1 / scale, plan.extent
    first = {held.place.number: held.piece for held in (plan.loads[0].pieces if plan.loads else ())}
    big = TextStyle(min(11.0, max(5.0, 0.35 * high * scale / 0.3528)) * fine, styles.INK)
    small = TextStyle(5.5 * fine, styles.INK)
    with pen.save_state(build_move(x - x0 * scale, y - y0 * scale, scale)):
        pen.draw_box(x0, y0, x1 - x0, y1 - y0, fill=GONE, edge=styles.PALE, line=0.2 * fine)
        for place in plan.places:
            angle, dx, dy = put_in_place(blank.edge, place, plan.turn)
            c, s = math.cos(angle), math.sin(angle)
            with pen.save_state((c, s, -s, c, dx, dy)):
                edge = trace_chains((blank.edge, *blank.holes))
                pen.draw(edge, fill=look.face, edge=look.edge, line=0.2 * fine, even_odd=True)
            middle, level = place.x + wide / 2, place.y + high / 2
            pen.draw_text(middle, level, str(place.number), big, "centre")
            if place.number in first:
                name = pen.shorten(first[place.number].name, small, wide * 0.94)
                pen.draw_text(middle, level - 3.2 * fine, name, small, "centre")
        for a, b in (((-4, 0), (4, 0)), ((0, -4), (0, 4))):
            pen.draw_line(a[0] * fine, a[1] * fine, b[0] * fine, b[1] * fine, styles.STOP_EDGE, 0.5 * fine)
    tiny = TextStyle(5.5, styles.GREY)
    for at in sorted({round(p.x, 6) for p in plan.places}):
        pen.draw_text(x + (at - x0) * scale, y - 5, units.format_number(at), tiny, "left")
    for at in sorted({round(p.y, 6) for p in plan.places}):
        pen.draw_text(x - 1.5, y + (at - y0) * scale, units.format_number(at), tiny, "right")
