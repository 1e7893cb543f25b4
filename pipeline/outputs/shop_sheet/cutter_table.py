"""Of the shop sheet: every cutter with its passes, speeds and feeds, and how each figure comes about."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from pipeline.core.order import Order
from pipeline.core.shop_tables import PRACTICE, source_of
from pipeline.core.units import Units
from pipeline.core.work_steps import steps_of
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
from pipeline.outputs.pdf import styles
from pipeline.outputs.shop_sheet.shop_page import ShopPages, TableColumn
from pipeline.shopfloor.pocket import pocket_passes_of
from pipeline.shopfloor.shop_plan import ShopPlan


@dataclass(frozen=True, slots=True, kw_only=True)
class CutterUse:
    """One cutter and what it does in this order."""

    cutter: Cutter
    role: str
    depth: float | None
    passes: Passes | None
    feed: CutterFeed


def cutter_uses(order: Order, plan: ShopPlan) -> Iterator[CutterUse]:
    """The cutters in order of use."""
    by_step: dict[str, list[CutterUse]] = {
        "letter": list(_lettering(order, plan)),
        "pocket": list(_pocket(order, plan)),
    }
    for step in steps_of(order):
        yield from by_step.get(step, ())


def _lettering(order: Order, plan: ShopPlan) -> Iterator[CutterUse]:
    cutter = plan.cutter
    outline = plan.boards.outline if plan.boards is not None and cutter.has_depth else 0.0
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
        role="lettering" + (", outline" if outline else ""),
        depth=depth,
        passes=passes,
        feed=compute_feed(order, cutter, depth, step),
    )


def _pocket(order: Order, plan: ShopPlan) -> Iterator[CutterUse]:
    if plan.pocket is None:
        return
    deep = plan.pocket.depth
    for tool in plan.pocket.tools:
        told = pocket_passes_of(order, tool.cutter)
        yield CutterUse(
            cutter=tool.cutter, role=f"pocket, {tool.role}", depth=deep, passes=told,
            feed=compute_feed(order, tool.cutter, deep, told.step),
        )  # fmt: skip


def cutter_table(book: ShopPages, order: Order, plan: ShopPlan) -> None:
    """The table, and below it the formula of each figure with its inputs."""
    units, uses = order.spoken, list(cutter_uses(order, plan))
    columns = [
        TableColumn("Cutter", 0.13),
        TableColumn("For", 0.14),
        TableColumn("Depth", 0.11, right=True),
        TableColumn("Passes", 0.15, right=True),
        TableColumn("Spindle", 0.13, right=True),
        TableColumn("Feed", 0.13, right=True),
        TableColumn("Down", 0.13, right=True),
        TableColumn("Sticks out", 0.11, right=True),
        TableColumn("Reaches", 0.11, right=True),
    ]
    rows = [_row(use, units) for use in uses]
    shown = [k for k in range(len(columns)) if any(row[k] for row in rows)]
    book.table([columns[k] for k in shown], [tuple(row[k] for k in shown) for row in rows])
    for use in uses:
        how = "; ".join(use.feed.how)
        if use.passes is not None and (use.passes.count > 1 or use.cutter.mills_pockets):
            last = ", the last takes what is left" if use.cutter.cuts_grooves else ""
            how += f"; passes: {use.passes.source}{last}"
        book.paragraph(f"{use.cutter.name}: {how}.", styles.QUIET)
    book.paragraph(_limits(order, plan.cutter), styles.QUIET)
    down = source_of(order.rates, "plunge")
    if uses and uses[0].feed.plunge is None:
        down = say_unknown("plunge")
    note = f"Down: {down}. The cutter's own data come first."
    if any(use.feed.stick_out for use in uses):
        note = (
            f"Least stick-out: the depth of cut plus {units.show(CLEAR)} clearance between collet and work "
            f"({PRACTICE}). A mill that sticks out more than {FREE_LENGTH:g} diameters is fed more slowly, by 4 D / L: "
            f"its bending stress 32 F L / (π D³) then stays the same. {note}"
        )
    book.paragraph(note, styles.QUIET)


def _limits(order: Order, cutter: Cutter) -> str:
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


def _row(use: CutterUse, units: Units) -> tuple[str, ...]:
    feed, cutter = use.feed, use.cutter
    passes = ""
    if use.passes is not None and use.passes.depth:
        passes = f"{use.passes.count} × {units.show(use.passes.step)}" if use.passes.count > 1 else "1"
        if use.passes.count > 1 and cutter.cuts_grooves and use.passes.most:
            passes = f"{use.passes.count} × {units.show(use.passes.most)}"
    return (
        cutter.name,
        use.role,
        units.show(use.depth) if use.depth else "",
        passes,
        f"{feed.rpm:.0f}/min" if feed.rpm else ("not known" if cutter.turns else ""),
        units.speed(feed.feed) if feed.feed else "not known",
        (units.speed(feed.plunge) if feed.plunge else "not known") if use.depth else "",
        units.show(feed.stick_out) if feed.stick_out else "",
        units.show(cutter.reach) if cutter.reach else ("not stated" if cutter.mills_pockets else ""),
    )
