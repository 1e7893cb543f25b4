"""The shop sheet's part about the piece itself: its thickness step by step and its pocket cutter by cutter."""

from __future__ import annotations

from pipeline.core.config.order import OrderFolder
from pipeline.core.config.shop_tables import get_source
from pipeline.core.model import Outcome
from pipeline.core.required import require_value
from pipeline.core.stated_values import say_computed, state
from pipeline.core.units import Units
from pipeline.outputs.pdf import styles
from pipeline.outputs.pdf.material_look import choose_look
from pipeline.outputs.shop_sheet.shop_page import ShopPages, TableColumn
from pipeline.outputs.shop_sheet.shop_pictures import (
    LEFT,
    REST,
    ROUGH,
    SECTION_DEPTH,
    SectionWidths,
    draw_legend,
    draw_pocket,
    draw_section,
    find_pocket_scale,
)
from pipeline.outputs.shop_sheet.value_origins import describe_cutter_origin
from pipeline.shopfloor.shop_plan import ShopPlan


def draw_thickness(book: ShopPages, folder: OrderFolder, plan: ShopPlan) -> None:
    """The section, and what each step takes off."""
    units, budget = folder.order.spoken, require_value(plan.thickness, "the chain of thickness")
    book.add_heading("Thickness", keep=SECTION_DEPTH + 20)
    bit, deep = plan.cutter, budget.engraved or 0.0
    across = SectionWidths(
        floor=bit.line_width,
        groove=bit.compute_width(deep),
        pocket=plan.pocket.widest_in if plan.pocket else 0.0,
    )
    look = choose_look(folder.order, bit.surface)
    book.add_picture(
        SECTION_DEPTH, lambda x, y: draw_section(book.pen, budget, across, units, x, y, book.room, SECTION_DEPTH, look)
    )
    columns = [
        TableColumn("Step", 0.26),
        TableColumn("Off", 0.12, right=True),
        TableColumn("Side", 0.09),
        TableColumn("Left", 0.12, right=True),
        TableColumn("Where the number comes from", 0.41, style=styles.QUIET, tells=True),
    ]
    rows = [(s.name, units.show(s.off) if s.off else "", s.side, units.show(s.left), s.source) for s in budget.steps]
    book.add_table(columns, rows)
    book.add_note("“Left” is computed, step by step from the top.")
    chain = say_computed("the steps above and [pocket] depth")
    if budget.skin is not None:
        told = f"Skin under the pocket while it is filled: {state(units.show(budget.skin), chain)}."
        if budget.resin is not None and plan.pour is not None:
            through = "goes right through" if budget.shows_through else "stays closed at the back"
            told += f" Finished, the resin is {state(units.show(budget.resin), chain)} deep and {through}."
        book.add_paragraph(told)


def _format_area(value: float, folder: OrderFolder) -> str:
    """An area in three figures, and no finer than the polygons it is measured on: 0.1 mm²."""
    units = folder.order.spoken
    area, finest = value / units.mm**2, 1 if units.name == "mm" else 4
    whole = len(f"{area:.0f}") if area >= 1 else 0
    return f"{area:.{min(finest, max(0, 3 - whole))}f} {units.name}²"


def _describe_radius(radius: float | None, units: Units, drawn: str) -> str:
    """Describe an inside radius of the drawing. drawn: where it comes from."""
    if radius is None:
        return "not told: drawn in short straight steps"
    return state(units.show(radius), drawn) if radius else "sharp"


def draw_pocket_part(book: ShopPages, outcome: Outcome, folder: OrderFolder, plan: ShopPlan) -> None:
    """The pocket by cutter, with its corners, and what the shelf's cutters would do."""
    units, pocket = folder.order.spoken, require_value(plan.pocket, "the plan of the pocket")
    scale = find_pocket_scale(pocket, book.room, 90)
    ys = [float(v) for r in pocket.drawn.rings for v in (r[:, 1].min(), r[:, 1].max())]
    height = (max(ys) - min(ys) + 4) * scale
    book.add_heading("Pocket", keep=height + 25)
    book.add_picture(height, lambda x, y: draw_pocket(book.pen, outcome.blank, pocket, x, y, scale))
    part, names = require_value(folder.order.pocket, "[pocket]"), [t.cutter.name for t in pocket.tools]
    drawn, swept = say_computed("the drawing"), say_computed("the drawing and the cutters' diameters")
    sizes = "; ".join(dict.fromkeys(describe_cutter_origin(t.cutter) for t in pocket.tools))
    track = say_computed(f"the diameters ({sizes}) and [pocket] stepover ({get_source(part, 'stepover')})")
    keys = [(ROUGH, f"{names[0]} clears"), (LEFT, "stays")]
    if len(names) > 1:
        keys.insert(1, (REST, f"left for {names[1]}"))
    book.add_drawing(8, lambda: draw_legend(book.pen, 0, 5, keys))
    book.add_facts(
        [
            ("As drawn", state(_format_area(pocket.drawn.area, folder), drawn)),
            (f"{names[0]} clears", state(_format_area(pocket.rough.area, folder), swept)),
            (
                "Rest",
                f"{state(_format_area(pocket.rest.area, folder), swept)} in {state(len(pocket.rest.rings), swept)} "
                "places",
            ),
            ("Left in corners", state(_format_area(pocket.unreachable.area, folder), swept)),
            ("Widest cutter that fits", state(units.show(pocket.widest_in), drawn)),
            (
                "Widest that clears it all",
                state(units.show(pocket.clears_all), drawn)
                if pocket.smallest_inside != 0.0
                else "none: no cutter clears a sharp corner",
            ),
            ("Tightest inside radius", _describe_radius(pocket.smallest_inside, units, drawn)),
            ("Places to plunge", ", ".join(f"{t.cutter.name} {state(t.entries, swept)}" for t in pocket.tools)),
            ("Track", ", ".join(state(units.show(t.stepover), track) for t in pocket.tools)),
        ],
        3,
    )
    if pocket.corners:
        columns = [
            TableColumn("Corner at", 0.3),
            TableColumn("Drawn radius", 0.17, right=True),
            TableColumn("Left", 0.17, right=True),
            TableColumn("Area", 0.17, right=True),
            TableColumn("Reaches", 0.19, right=True),
        ]
        shown = pocket.corners[:12]
        book.add_table(
            columns,
            [
                (
                    state(f"x {units.format_number(c.at[0])}, y {units.format_number(c.at[1])}", drawn),
                    _describe_radius(c.drawn, units, drawn),
                    state(units.show(c.left), swept),
                    state(_format_area(c.area, folder), swept),
                    state(units.show(c.off), swept),
                )
                for c in shown
            ],
        )
        if len(pocket.corners) > len(shown):
            book.add_note(f"+{len(pocket.corners) - len(shown)} more corners")
    columns = [
        TableColumn("On the shelf", 0.34, names=True),
        TableColumn("Clears", 0.2, right=True),
        TableColumn("Corners left", 0.2, right=True),
        TableColumn("Reaches the depth", 0.26),
    ]
    book.add_table(
        columns,
        [
            (
                a.cutter.name,
                state(f"{100 * a.clears:.2f} %", swept),
                state(a.corners, swept) if a.clears else "does not fit",
                "yes"
                if a.in_reach
                else f"no, only {state(units.show(a.cutter.reach or 0), describe_cutter_origin(a.cutter))}",
            )
            for a in pocket.advice
        ],
    )
