"""Of the shop sheet: every cutter with its passes, speeds and feeds, and how each figure comes about."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from pipeline.core.order import Order
from pipeline.core.required import require_value
from pipeline.core.shop_tables import PRACTICE, get_source
from pipeline.core.stated_values import say_computed, state
from pipeline.core.work_steps import list_steps
from pipeline.cutting.cutters import Cutter, compute_limits
from pipeline.cutting.cutting_data import (
    CLEAR,
    FREE_LENGTH,
    CutterFeed,
    Passes,
    choose_passes,
    compute_feed,
    say_unknown,
)
from pipeline.outputs.shop_sheet.shop_page import ShopPages, TableColumn
from pipeline.outputs.shop_sheet.value_origins import describe_cutter_origin, describe_depth_origin
from pipeline.shopfloor.pocket import choose_pocket_passes
from pipeline.shopfloor.shop_plan import ShopPlan


@dataclass(frozen=True, slots=True, kw_only=True)
class CutterUse:
    """One cutter and what it does in this order."""

    cutter: Cutter
    role: str
    depth: float | None
    passes: Passes | None
    feed: CutterFeed


def list_cutter_uses(order: Order, plan: ShopPlan) -> Iterator[CutterUse]:
    """The cutters in order of use."""
    by_step: dict[str, list[CutterUse]] = {
        "letter": list(_list_lettering_uses(order, plan)),
        "pocket": list(_list_pocket_uses(order, plan)),
    }
    for step in list_steps(order):
        yield from by_step.get(step, ())


def _list_lettering_uses(order: Order, plan: ShopPlan) -> Iterator[CutterUse]:
    cutter = plan.cutter
    line = plan.boards.outline if plan.boards is not None else None
    outline = line.value if line is not None else 0.0
    depth = max(plan.deepest or 0.0, outline) or None
    passes = choose_passes(order, cutter, depth) if depth else None
    step = passes.step if passes else None
    if plan.floor is not None:
        mill, deep = plan.floor.mill, plan.floor.depth
        told = choose_passes(order, mill, deep)
        yield CutterUse(
            cutter=mill, role="flat floors of wide strokes", depth=deep, passes=told,
            feed=compute_feed(order, mill, deep, told.step),
        )  # fmt: skip
    yield CutterUse(
        cutter=cutter,
        role="lettering" + (", outline" if line is not None else ""),
        depth=depth,
        passes=passes,
        feed=compute_feed(order, cutter, depth, step),
    )


def _list_pocket_uses(order: Order, plan: ShopPlan) -> Iterator[CutterUse]:
    if plan.pocket is None:
        return
    deep = plan.pocket.depth
    for tool in plan.pocket.tools:
        told = choose_pocket_passes(order, tool.cutter)
        yield CutterUse(
            cutter=tool.cutter, role=f"pocket, {tool.role}", depth=deep, passes=told,
            feed=compute_feed(order, tool.cutter, deep, told.step),
        )  # fmt: skip


def draw_cutter_table(book: ShopPages, order: Order, plan: ShopPlan) -> None:
    """The table, and below it the formula of each figure with its inputs."""
    units, uses = order.spoken, list(list_cutter_uses(order, plan))
    columns = [
        TableColumn("Cutter", 0.13, names=True),
        TableColumn("For", 0.14),
        TableColumn("Depth", 0.11, right=True),
        TableColumn("Passes", 0.15, right=True),
        TableColumn("Spindle", 0.13, right=True),
        TableColumn("Feed", 0.13, right=True),
        TableColumn("Down", 0.13, right=True),
        TableColumn("Sticks out", 0.11, right=True),
        TableColumn("Reaches", 0.11, right=True),
    ]
    rows = [_list_cells(use, order, plan) for use in uses]
    shown = [k for k in range(len(columns)) if any(row[k] for row in rows)]
    book.add_table([columns[k] for k in shown], [tuple(row[k] for k in shown) for row in rows])
    for use in uses:
        how = "; ".join(use.feed.how)
        if use.passes is not None and (use.passes.count > 1 or use.cutter.mills_pockets):
            last = ", the last takes what is left" if use.cutter.cuts_grooves else ""
            how += f"; passes: {use.passes.source}{last}"
        book.add_note(f"{use.cutter.name}: {how}.")
    book.add_note(_describe_limits(order, plan.cutter))
    down = get_source(order.rates, "plunge")
    if uses and uses[0].feed.plunge is None:
        down = say_unknown("plunge")
    note = f"Down: {down}. The cutter's own data come first."
    if any(use.feed.stick_out for use in uses):
        note = (
            f"Least stick-out: the depth of cut plus {units.show(CLEAR)} clearance between collet and work "
            f"({PRACTICE}). A mill that sticks out more than {FREE_LENGTH:g} diameters is fed more slowly, by 4 D / L: "
            f"its bending stress 32 F L / (π D³) then stays the same. {note}"
        )
    book.add_note(note)


def _describe_limits(order: Order, cutter: Cutter) -> str:
    """The narrowest strokes and lands of the lettering, each with where the figure comes from."""
    limits, unit = compute_limits(order, cutter, None), order.spoken
    told = [("strokes", limits.stroke), ("lands", limits.land)]
    return (
        f"Limits of {cutter.name}: "
        + "; ".join(
            f"{what} from {unit.show(limit.value, unit.decimals + 1)} ({limit.source})"
            for what, limit in told
            if limit.value is not None
        )
        + "."
    )


BELOW = "the cutter's own line below the table, with the formula and its inputs"
"""Where a spindle speed and a feed come from."""


def _list_cells(use: CutterUse, order: Order, plan: ShopPlan) -> tuple[str, ...]:
    feed, cutter, units = use.feed, use.cutter, order.spoken
    passes = ""
    if use.passes is not None and use.passes.depth:
        passes = "1"
        if use.passes.count > 1:
            each = use.passes.most if cutter.cuts_grooves and use.passes.most else use.passes.step
            passes = f"{use.passes.count} × {units.show(each)}"
        passes = state(passes, say_computed(f"the depth and the depth of a pass ({use.passes.source})"))
    return (
        cutter.name,
        use.role,
        state(units.show(use.depth), _describe_depth_source(use, order, plan)) if use.depth else "",
        passes,
        state(f"{feed.rpm:.0f}/min", BELOW) if feed.rpm else ("not known" if cutter.turns else ""),
        state(units.format_speed(feed.feed), BELOW) if feed.feed else "not known",
        (state(units.format_speed(feed.plunge), get_source(order.rates, "plunge")) if feed.plunge else "not known")
        if use.depth
        else "",
        state(units.show(feed.stick_out), say_computed("depth and clearance, as said under the table"))
        if feed.stick_out
        else "",
        state(units.show(cutter.reach), describe_cutter_origin(cutter))
        if cutter.reach
        else ("not stated" if cutter.mills_pockets else ""),
    )


def _describe_depth_source(use: CutterUse, order: Order, plan: ShopPlan) -> str:
    """Where the depth of a use comes from: of the pocket and of flat floors the order, of the lettering its strokes, or
    the outline where that is deeper."""
    if use.role.startswith("pocket"):
        return get_source(require_value(order.pocket, "[pocket]"), "depth")
    if plan.floor is not None and use.cutter is not plan.cutter:
        return plan.floor.source
    outline = plan.boards.outline if plan.boards is not None else None
    if outline is not None and outline.value > (plan.deepest or 0.0):
        return outline.source
    return describe_depth_origin(order, use.cutter)
