"""The shop sheet's cutters: every one with its passes, speeds and feeds, and how each figure comes about."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from pipeline.core.config.order import Order
from pipeline.core.config.shop_tables import PRACTICE, get_source
from pipeline.core.required import require_value
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
from pipeline.outputs.shop_sheet.value_origins import NO_DEPTH, describe_cutter_origin, describe_lettering_depth
from pipeline.shopfloor.pocket import choose_pocket_passes
from pipeline.shopfloor.shop_plan import ShopPlan

LETTERING, OUTLINE = "lettering", "outline"
"""What the lettering cutter does: the letters, and the line round a piece that the saw follows."""


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
        "outline": list(_list_outline_uses(order, plan)),
        "pocket": list(_list_pocket_uses(order, plan)),
    }
    for step in list_steps(order):
        yield from by_step.get(step, ())


def _list_lettering_uses(order: Order, plan: ShopPlan) -> Iterator[CutterUse]:
    cutter, depth = plan.cutter, plan.deepest
    if plan.floor is not None:
        mill, deep = plan.floor.mill, plan.floor.depth
        told = choose_passes(order, mill, deep)
        yield CutterUse(
            cutter=mill, role="flat floors of wide strokes", depth=deep, passes=told,
            feed=compute_feed(order, mill, deep, told.step),
        )  # fmt: skip
    yield _build_use(order, cutter, LETTERING, depth)


def _list_outline_uses(order: Order, plan: ShopPlan) -> Iterator[CutterUse]:
    if plan.boards is not None and plan.boards.outline is not None:
        yield _build_use(order, plan.cutter, OUTLINE, plan.boards.outline.value or None)


def _build_use(order: Order, cutter: Cutter, role: str, depth: float | None) -> CutterUse:
    passes = choose_passes(order, cutter, depth) if depth else None
    feed = compute_feed(order, cutter, depth, passes.step if passes else None)
    return CutterUse(cutter=cutter, role=role, depth=depth, passes=passes, feed=feed)


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
        TableColumn("Plunge", 0.13, right=True),
        TableColumn("Stick-out", 0.11, right=True),
        TableColumn("Reaches", 0.11, right=True),
    ]
    rows = [_list_cells(use, order, plan) for use in uses]
    shown = [k for k in range(len(columns)) if any(row[k] for row in rows)]
    book.add_table([columns[k] for k in shown], [tuple(row[k] for k in shown) for row in rows])
    for use in uses:
        same = sum(other.cutter == use.cutter for other in uses)
        how = "; ".join(use.feed.how)
        if use.passes is not None and (use.passes.count > 1 or use.cutter.mills_pockets):
            last = ", the last takes what is left" if use.cutter.cuts_grooves else ""
            how += f"; passes: {use.passes.source}{last}"
        named = f"{use.cutter.name}, {use.role}" if same > 1 else use.cutter.name
        book.add_note(f"{named}: {how}.")
    book.add_note(_describe_limits(order, plan.cutter))
    notes = []
    if any(use.feed.stick_out for use in uses):
        notes.append(
            f"Least stick-out: the depth of cut plus {units.show(CLEAR)} clearance between collet and work "
            f"({PRACTICE})."
        )
    if any(use.feed.stick_out and use.cutter.mills_pockets for use in uses):
        notes.append(
            f"A mill that sticks out more than {FREE_LENGTH:g} diameters is fed more slowly, at 4 D / L of the feed: "
            "its bending stress 32 F L / (π D³) then stays the same."
        )
    if any(use.depth for use in uses):
        down = get_source(order.rates, "plunge") if uses[0].feed.plunge is not None else say_unknown("plunge")
        notes.append(f"Plunge: {down}.")
    book.add_note(" ".join([*notes, "The cutter's own data come first."]))


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
        state(units.show(use.depth), _describe_depth_source(use, order, plan))
        if use.depth
        else (NO_DEPTH if cutter.has_depth and plan.pieces else ""),
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
    """Describe where the depth of a use comes from: of the pocket and of flat floors the order, of the lettering its
    strokes."""
    if use.role.startswith("pocket"):
        return get_source(require_value(order.pocket, "[pocket]"), "depth")
    if plan.floor is not None and use.cutter is not plan.cutter:
        return plan.floor.source
    if use.role == OUTLINE and plan.boards is not None and plan.boards.outline is not None:
        return plan.boards.outline.source
    return describe_lettering_depth(order, plan)
