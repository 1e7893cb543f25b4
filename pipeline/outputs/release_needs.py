"""What the pieces of a release take: stock, resin and time, and those made again by themselves."""

from __future__ import annotations

from pipeline.core.units import Units
from pipeline.shopfloor.shop_plan import ShopPlan
from pipeline.shopfloor.time_estimate import format_minutes


def needs_of(plan: ShopPlan, units: Units, again: ShopPlan | None = None) -> tuple[tuple[str, str], ...]:
    """Names and values for the cut list. plan: of all pieces to make now. again: of those alone that take the place of
    spoilt ones. Nothing is said of what the order doesn't plan."""
    out = [(f"{name}, for what is to cut", value) for name, value in _needs(plan, units)]
    if again is not None and again.pieces:
        out.append(("Pieces made again", str(again.pieces)))
        out += [(f"{name}, for pieces made again", value) for name, value in _needs(again, units)]
    return tuple(out)


def _needs(plan: ShopPlan, units: Units) -> list[tuple[str, str]]:
    out = []
    if plan.boards is not None and plan.boards.boards:
        sizes: dict[str, int] = {}
        for board in plan.boards.boards:
            sheet = board.layout.sheet
            named = f"{sheet.name}, {units.number(sheet.length)} × {units.show(sheet.width)}"
            sizes[named] = sizes.get(named, 0) + 1
        out.append(("Boards", ", ".join(f"{n} of {size}" for size, n in sizes.items())))
    else:
        out.append(("Blanks", str(plan.pieces)))
    if plan.pour is not None:
        out.append(("Resin, with waste", f"{plan.pour.with_waste:.0f} ml, {plan.pour.mass:.0f} g"))
    out.append(("Time, estimated", format_minutes(plan.estimate.minutes)))
    if plan.estimate.cost is not None:
        out.append(("Cost, estimated", f"{plan.estimate.cost:.2f} {plan.estimate.currency}".strip()))
    return out
