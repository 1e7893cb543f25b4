"""Checks of an order's work steps: whether they suit its material, and can be done in this sequence."""

from __future__ import annotations

from collections.abc import Iterator

from pipeline.core.catalogue import shop_kinds as kinds
from pipeline.core.config.order import Order
from pipeline.core.config.shop_tables import StockConfig
from pipeline.core.findings import Finding, build_finding
from pipeline.core.model import Blank
from pipeline.core.work_steps import SAID, find_step_conflicts
from pipeline.cutting.cutters import Cutter
from pipeline.cutting.materials import Material, get_material


def check_work(order: Order, blank: Blank, cutter: Cutter) -> Iterator[Finding]:
    """Find what contradicts the material, or itself. cutter: of the lettering."""
    material = get_material(order)
    if material.name and not material.known:
        yield build_finding(kinds.MATERIAL_UNKNOWN, facts={"material": material.name})
    for asked, done in _check_operations(order, blank, cutter, material):
        yield build_finding(kinds.NOT_DONE, facts={"asked": asked, "material": material.name, "done": done})
    for conflict in find_step_conflicts(order):
        facts = {"first": SAID[conflict.first], "second": SAID[conflict.second], "reason": conflict.reason}
        yield build_finding(kinds.STEPS_CONFLICT, facts=facts)


def _check_operations(order: Order, blank: Blank, cutter: Cutter, material: Material) -> Iterator[tuple[str, str]]:
    """Report operations that aren't done to the order's material."""
    if not material.operations:
        return
    units, stock = order.unit, order.stock or StockConfig()
    if stock.faced and not material.does("face"):
        yield f"[stock] faced = {units.show(stock.faced)}", "faced"
    cut_at = blank.thickness
    if stock.rough is not None and cut_at is not None and stock.rough > cut_at + 1e-9 and not material.does("plane"):
        yield (
            f"it is bought {units.show(stock.rough)} thick and goes under the cutter at {units.show(cut_at)}",
            "planed",
        )
    if stock.sawn_off and not material.does("face"):
        yield f"[stock] sawn_off = {units.show(stock.sawn_off)}", "resawn"
    if order.board is not None and not material.does("saw"):
        yield "[board] has its pieces sawn out of boards", "sawn"
    if order.sanding and not material.does("sand"):
        yield f"[finish] sanded_off = {units.show(order.sanding)}", "sanded"
    if order.pour is not None and not material.does("pour"):
        yield "[pour] pours resin into it", "poured with resin"
    if order.pocket is not None and not material.does("mill"):
        yield "[pocket] mills it", "milled"
    if material.may_be_cut_by(cutter.kind) is False:
        yield f"it would be lettered with {cutter.name}", f"cut with a {cutter.kind}"
