"""Origins of the values on the shop sheet, in the words that its sections share."""

from __future__ import annotations

from pipeline.core.config.order import Order
from pipeline.core.config.shop_tables import StockConfig, get_source
from pipeline.core.model import Blank
from pipeline.core.stated_values import say_computed
from pipeline.cutting.cutters import Cutter
from pipeline.cutting.materials import get_material
from pipeline.shopfloor.shop_plan import ShopPlan

ORDER = "order.toml"
THICKNESS = f"[blank] thickness in {ORDER}"
COUNTED = "counted from the list"
NO_DEPTH = "not entered"
"""The depth of lettering that is as deep as the order says, where it says nothing."""
SAME = 1e-6
"""mm: depths that are this close are one."""
WALL = say_computed("the pocket, the edge and [pour] dam")
LOADS = say_computed("the pieces and the places of [jig]")


def describe_blank_origin(blank: Blank) -> str:
    """Describe the origin of the blank's sizes: its drawing, or the order."""
    return f"measured on {blank.source}" if blank.sha256 else f"[blank] in {ORDER}"


def describe_cutter_origin(cutter: Cutter) -> str:
    """Describe the origin of a cutter's sizes."""
    return f"{cutter.name}: {cutter.source or ORDER}"


def describe_lettering_depth(order: Order, plan: ShopPlan) -> str:
    """Describe the origin of the greatest depth of the lettering: for a groove the strokes and the bit, or what a flat
    floor stops it at; for others the order."""
    cutter, floor = plan.cutter, plan.floor
    if not cutter.cuts_grooves:
        stated = order.limits.deepest
        if stated is None or (plan.deepest or 0.0) > stated + SAME:
            return f"depth of [[artwork]] in {ORDER}"
        return get_source(order.limits, "deepest")
    if floor is not None and (plan.deepest or 0.0) >= floor.depth - SAME:
        return floor.source
    return say_computed(f"the strokes and the sizes of {cutter.name}")


def describe_movement_origin(order: Order) -> str:
    """Describe the origin of the change of width with the wood's moisture."""
    stock = order.stock or StockConfig()
    moves = get_source(stock, "movement")
    if stock.movement is None:
        told = get_material(order).change_per_moisture(stock.material)
        moves = told.source if told is not None else moves
    return say_computed(f"the width across the grain, both moistures of [stock] and the change per 1 % ({moves})")
