"""Needs of the pieces of a release: stock, resin and time, and those made again by themselves."""

from __future__ import annotations

from pipeline.core.config.order import Order
from pipeline.shopfloor.pour import format_resin_total
from pipeline.shopfloor.shop_plan import ShopPlan
from pipeline.shopfloor.time_estimate import format_minutes


def needs_of(plan: ShopPlan, order: Order, again: ShopPlan | None = None) -> tuple[tuple[str, str], ...]:
    """Names and values for the cut list. plan: of all pieces to make now. again: of those alone that take the place of
    spoilt ones. Nothing is said of what the order doesn't plan."""
    out = [(f"{name}, for what is to cut", value) for name, value in _needs(plan, order)]
    if again is not None and again.pieces:
        out.append(("Pieces made again", str(again.pieces)))
        out += [(f"{name}, for pieces made again", value) for name, value in _needs(again, order)]
    return tuple(out)


def _needs(plan: ShopPlan, order: Order) -> list[tuple[str, str]]:
    units, out = order.unit, []
    if plan.boards is not None and plan.boards.boards:
        sizes: dict[str, int] = {}
        for board in plan.boards.boards:
            sheet = board.layout.sheet
            named = f"{sheet.name}, {units.format_number(sheet.length)} × {units.show(sheet.width)}"
            sizes[named] = sizes.get(named, 0) + 1
        out.append(("Boards", ", ".join(f"{n} of {size}" for size, n in sizes.items())))
    else:
        out.append(("Blanks", str(plan.pieces)))
    if plan.pour is not None and order.pour is not None:
        waste = order.pour.waste
        name = "Resin, nothing added for waste" if waste is None else f"Resin, with {100 * waste:g} % waste"
        out.append((name, format_resin_total(plan.pour, order.pour)))
    out.append(("Time, estimated", format_minutes(plan.estimate.minutes)))
    if plan.estimate.cost is not None:
        out.append(("Cost, estimated", f"{plan.estimate.cost:.2f} {plan.estimate.currency}".strip()))
    return out
