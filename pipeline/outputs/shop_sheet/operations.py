"""The order of operations at the bench, from the rough board to the packed piece, each with its caution."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.core.model import Blank
from pipeline.core.order import Order
from pipeline.core.required import required
from pipeline.core.units import Units
from pipeline.outputs.shop_sheet import cautions as words
from pipeline.shopfloor.shop_plan import ShopPlan


@dataclass(frozen=True, slots=True, kw_only=True)
class Operation:
    """One step: what it is called, what is done, what to look out for."""

    name: str
    what: str
    cautions: tuple[str, ...] = ()


def operations(plan: ShopPlan, order: Order, blank: Blank) -> list[Operation]:
    """Only what this order has: no pocket, pour, board or sanding, no such step."""
    units, out = order.unit, list[Operation]()
    wood = order.stock is not None or plan.pocket is not None
    if plan.thickness is not None and order.stock is not None:
        faced = order.stock.faced
        out.append(
            Operation(
                name="Face the stock",
                what=f"Take {units.show(faced)} off the face until it is flat, then plane the back to "
                f"{units.show(plan.thickness.cut_at)}. Joint one long edge: the datum edge. Leave the boards in the "
                "shop until their moisture content is steady.",
                cautions=(words.NOISE, words.DUST),
            )
        )
    if order.spare.test_piece:
        out.append(
            Operation(
                name="Test piece",
                what="Letter one piece on an offcut of the same material and thickness, with the cutters and feeds "
                "below. Hold it against the proof; only then go on.",
                cautions=_of_cutter(plan, wood),
            )
        )
    out += _cutting(plan, order, wood)
    sawn_off = order.stock is not None and order.stock.sawn_off > 0
    if plan.back and not sawn_off:
        out.append(_back(plan, order, wood, sawn_off))
    if plan.pour is not None:
        out += _pouring(plan, order)
    if plan.boards is not None:
        apart = "Saw the boards apart as the saw card says, in its order."
        if plan.boards.sides:
            apart += " Then saw each piece to its line: datum side, opposite side, ends, slanted side with the jig."
        else:
            apart += " Then follow the outline with the band saw and sand to the line."
        out.append(Operation(name="Saw", what=apart, cautions=(words.SAW,)))
    if order.stock is not None and order.stock.sawn_off and plan.thickness is not None:
        out.append(
            Operation(
                name="Saw the back off",
                what=f"Resaw {units.show(order.stock.sawn_off)} off the back, the face against the fence"
                + (", until the resin shows through." if plan.thickness.shows_through else "."),
                cautions=(words.SAW,),
            )
        )
    if plan.back and sawn_off:
        out.append(_back(plan, order, wood, sawn_off))
    out += _surfaces(plan, order, units, wood)
    out.append(
        Operation(
            name="Check and pack",
            what="Hold each piece against the signed proof, letter by letter, then tick it off, wrap it and label it.",
        )
    )
    return out


def _cutting(plan: ShopPlan, order: Order, wood: bool) -> list[Operation]:
    units, cutter = order.unit, plan.cutter
    out = []
    what = f"With {cutter.name}."
    if plan.jigs is not None:
        loads = len(plan.jigs.loads)
        what += f" {loads} jig loads, each from its file in jigs/." if loads > 1 else " One jig load, from jigs/."
    if plan.deepest is not None:
        what += f" Deepest groove {units.show(plan.deepest)}."
    elif cutter.takes_depth and order.limits.deepest is not None:
        what += f" Line {units.show(cutter.line_width)} wide, {units.show(order.limits.deepest)} deep at most."
    if plan.floor is not None:
        depth, mill = units.show(plan.floor.depth), plan.floor.mill.name
        what += f" Wide strokes have a flat floor {depth} deep: clear it with {mill} (layer FLOOR), then run the V-bit"
        what += " (layer GROOVE), which goes along their walls."
    if order.finish.compensate:
        how = "grooves are cut deeper" if order.files.grooves else "letters are cut wider"
        what += f" The {how} by what the sanding takes off again."
    out.append(Operation(name="Letter", what=what, cautions=_of_cutter(plan, wood)))
    if plan.pocket is not None:
        tools = "; then ".join(
            f"{t.cutter.name}, {t.passes} passes of {units.show(t.step)}" for t in plan.pocket.tools if t.clears > 0
        )
        out.append(
            Operation(
                name="Mill the pocket",
                what=f"{units.show(plan.pocket.depth)} deep: {tools}. Clear the dust out; check the depth.",
                cautions=(words.CUTTER, words.NOISE, words.DUST),
            )
        )
    if plan.boards is not None and plan.boards.outline:
        depth = units.show(plan.boards.outline)
        out.append(
            Operation(
                name="Cut the outline",
                what=f"{depth} deep, the first cutter. {words.GUIDE}{words.DAMS if plan.pour else ''}",
            )
        )
    return out


def _of_cutter(plan: ShopPlan, wood: bool) -> tuple[str, ...]:
    if plan.cutter.burns:
        return (words.LASER,)
    return words.CUTTER, words.DUST if wood else words.METAL


def _back(plan: ShopPlan, order: Order, wood: bool, sawn_off: bool) -> Operation:
    """Lettering the other side: a whole board at a time, or piece by piece where the boards are apart by then."""
    if plan.jigs is not None:
        what = f"With {plan.cutter.name}, from the load's file that ends in -back. {words.TURNED_IN_JIG}"
    elif plan.boards is None or sawn_off:
        what = f"With {plan.cutter.name}, each piece from its own file that ends in -back. {words.TURNED_BLANK}"
    else:
        what = f"With {plan.cutter.name}, from the board's file that ends in -back. {words.TURNED}"
        if order.files.registration is not None and plan.boards.clamp > order.files.registration.size:
            what += words.MARKED
    return Operation(name="Letter the back", what=what, cautions=_of_cutter(plan, wood))


def _pouring(plan: ShopPlan, order: Order) -> list[Operation]:
    pour, out = required(plan.pour, "the plan of the pour"), []
    line = pour.dam.line if pour.dam else 0.0
    out.append(
        Operation(
            name="Seal and dam",
            what="Seal the pocket's walls with a thin coat so that no air comes out of the wood; let it set as the "
            "data sheet says."
            + (f" Dam {order.unit.show(line)} of thin wall with tape." if line > 0 else "")
            + " Level every piece.",
            cautions=(words.RESIN,),
        )
    )
    part = required(order.pour, "[pour]")
    layers = f" in {pour.layers} layers" if (pour.layers or 1) > 1 else ""
    if layers and part.between_layers is not None:
        layers += f", {part.between_layers:g} h apart"
    still = "the data sheet allows it" if part.demould is None else f"{part.demould:g} h have passed"
    cured = "it has cured as the data sheet says" if part.machine is None else f"{part.machine:g} h have passed"
    out.append(
        Operation(
            name="Pour",
            what=f"As the pour card says{layers}. Do not move it before {still}; no saw and no sanding before {cured}.",
            cautions=(words.RESIN,),
        )
    )
    return out


def _surfaces(plan: ShopPlan, order: Order, units: Units, wood: bool) -> list[Operation]:
    out: list[Operation] = []
    off = order.finish.sanded_off
    if not wood and off == 0:
        return out
    resin = plan.pour is not None
    if off > 0 or resin:
        last = words.RESIN_LAST if resin else words.WOOD_LAST
        order_of = ", ".join(f"P{g}" for g in words.grits(last))
        what = f"FEPA P grits: {order_of}."
        if off > 0:
            what = f"Take {units.show(off)} off the face, no more: the lettering was cut for that. {what}"
        what += (
            " Each grit crosswise until the last one's scratches are gone. Write P on every sheet: other grits of the "
        )
        what += "same number are finer."
        cautions = (words.SANDING_RESIN, words.DUST) if resin else (words.DUST,)
        out.append(Operation(name="Sand", what=what, cautions=cautions))
    if wood:
        out.append(
            Operation(
                name="Finish",
                what="Oil or lacquer as agreed with the client; try it on an offcut that has a letter cut in it.",
                cautions=(words.OIL,),
            )
        )
    return out
