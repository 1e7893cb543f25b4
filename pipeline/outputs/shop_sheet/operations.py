"""The order of work at the bench, from the stock to the packed piece, each step with what is done."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from pipeline.core.config.order import Order
from pipeline.core.config.shop_tables import get_source
from pipeline.core.required import require_value
from pipeline.core.stated_values import say_computed, state
from pipeline.core.work_steps import list_steps
from pipeline.cutting.cutters import Cutter
from pipeline.cutting.cutting_data import choose_passes
from pipeline.cutting.materials import Material, get_material
from pipeline.outputs.shop_sheet import cautions as words
from pipeline.outputs.shop_sheet.value_origins import (
    LOADS,
    THICKNESS,
    WALL,
    describe_cutter_origin,
    describe_lettering_depth,
)
from pipeline.shopfloor.pocket import choose_pocket_passes
from pipeline.shopfloor.shop_plan import ShopPlan, is_sanded
from pipeline.shopfloor.thickness import choose_face_allowance


@dataclass(frozen=True, slots=True, kw_only=True)
class Operation:
    """One step: what it is called, what is done, what to look out for."""

    name: str
    what: str
    cautions: tuple[str, ...] = ()
    timed: bool = True
    """Whether the estimate has a row for it, or it takes no time that counts."""


def list_operations(plan: ShopPlan, order: Order) -> list[Operation]:
    """List only what this order has, in its order: no pocket, pour, board or sanding, no such step."""
    bench = _Bench(plan, order, get_material(order))
    return [operation for step in list_steps(order) for operation in bench.steps[step]()]


class _Bench:
    """Operations of each step of one order; nothing, where it has no such step."""

    def __init__(self, plan: ShopPlan, order: Order, material: Material) -> None:
        self.plan, self.order, self.material = plan, order, material
        self.steps = {
            "face": self.plan_facing,
            "test": self.plan_test_cut,
            "mask": self.plan_masking,
            "letter": self.plan_lettering,
            "pocket": self.plan_pocket,
            "outline": self.plan_outline,
            "back": self.plan_back,
            "pour": self.plan_pouring,
            "level": self.plan_levelling,
            "saw": self.plan_sawing,
            "resaw": self.plan_resawing,
            "sand": self.plan_sanding,
            "finish": self.plan_finishing,
            "pack": self.plan_packing,
        }
        steps = list_steps(order)
        self.before = {step: frozenset(steps[:k]) for k, step in enumerate(steps)}
        self.dust = words.list_material_cautions(material)

    @property
    def resawn(self) -> bool:
        return self.order.stock is not None and self.order.stock.sawn_off > 0

    def plan_facing(self) -> Iterator[Operation]:
        budget, units = self.plan.thickness, self.order.spoken
        if budget is None or self.order.stock is None:
            return
        if budget.faced:
            off = state(units.show(budget.faced), choose_face_allowance(self.order)[1])
            what = f"Take {off} off the face until it is flat, then plane the back to "
            what += f"{state(units.show(budget.cut_at), THICKNESS)}.{self._describe_rest()}"
            yield Operation(name="Face the stock", what=what, cautions=(*self.dust, words.NOISE), timed=False)
        elif any(step.planed for step in budget.steps):
            at = state(units.show(budget.cut_at), THICKNESS)
            what = f"Plane the back to {at}; nothing comes off the face.{self._describe_rest()}"
            yield Operation(name="Plane the stock", what=what, cautions=(*self.dust, words.NOISE), timed=False)
        elif self.material.known and not self.material.does("face"):
            bought = f"a {self.material.bought}" if self.material.bought else "it comes"
            yield Operation(
                name="Check the stock",
                what=f"Bought as {bought}; neither faced nor planed. Measure it: "
                f"{state(units.show(budget.cut_at), THICKNESS)} thick.",
            )

    def _describe_rest(self) -> str:
        """Describe what else is done to boards of timber."""
        joint = " Joint one long-grain edge: the datum edge." if self.material.does("plane") else ""
        rest = " Let the boards rest in the shop until their moisture is steady." if self.material.grain else ""
        return joint + rest

    def plan_test_cut(self) -> Iterator[Operation]:
        if self.order.spare.test_piece:
            yield Operation(
                name="Test piece",
                what="Letter one piece on an offcut of the same material and thickness, with the cutters and feeds "
                "below. Compare it with the proof before you go on.",
                cautions=self._list_cutter_values(),
            )

    def plan_masking(self) -> Iterator[Operation]:
        fills = self.order.pour.fills if self.order.pour is not None else ""
        if fills in ("lettering", "both"):
            yield Operation(
                name="Mask",
                what="Seal or mask the face before it is lettered, so that the resin colours the letters and not the "
                f"{'wood' if words.is_wood(self.material) else 'face'} beside them.",
                timed=False,
            )

    def plan_lettering(self) -> Iterator[Operation]:
        plan, order, units, cutter = self.plan, self.order, self.order.spoken, self.plan.cutter
        what = f"With {cutter.name}."
        if plan.jigs is not None:
            loads = len(plan.jigs.loads)
            told = state(loads, LOADS)
            what += f" {told} jig load{'' if loads == 1 else 's'}, each from its file in jigs/."
            waiting = any(not held.piece.signed for load in plan.jigs.loads for held in load.pieces)
            if waiting and order.jig is not None and not order.jig.unsigned:
                what += " Pieces that are not signed are in none of them, and loads of unsigned pieces have no file."
        deepest = state(units.show(plan.deepest or 0.0), describe_lettering_depth(order, plan))
        if plan.deepest is not None and cutter.takes_depth:
            wide = state(units.show(cutter.line_width), describe_cutter_origin(cutter))
            what += f" Line {wide} wide, {deepest} deep at most."
        elif plan.deepest is not None:
            what += f" Deepest groove {deepest}."
        if cutter.takes_depth and order.limits.deepest is None and plan.pieces:
            what += " The depth of the letters has not been entered (`deepest` of [limits]): settle it on an offcut."
        if plan.floor is not None:
            depth = state(units.show(plan.floor.depth), plan.floor.source)
            mill = plan.floor.mill.name
            what += f" Wide strokes have a flat floor {depth} deep: clear it with {mill} (layer "
            what += f"{self._get_layer_name('FLOOR')}), then run the V-bit along its walls."
        what += self._describe_levels()
        if order.finish.compensate and order.finish.sanded_off:
            how = "grooves are cut deeper" if order.files.grooves else "letters are cut wider"
            off = state(units.show(order.finish.sanded_off), get_source(order.finish, "sanded_off"))
            what += f" The {how} to allow for the {off} sanded off the face afterwards."
        if plan.pour is not None and "level" in self.before["letter"]:
            what += " Back on the machine, use the same corner, and set Z zero again on the levelled face."
        yield Operation(name="Letter", what=what, cautions=self._list_cutter_values())

    def _get_layer_name(self, ours: str) -> str:
        """A layer's name in the cut files."""
        return self.order.files.layers.get(ours, ours)

    def _describe_levels(self) -> str:
        """The layers of grooves that are deeper than one pass, in the order they are cut."""
        cutter, deepest = self.plan.cutter, self.plan.deepest
        if deepest is None or not (self.order.files.grooves and cutter.cuts_grooves):
            return ""
        passes = choose_passes(self.order, cutter, deepest)
        if passes.count == 1 or passes.most is None:
            return ""
        most = state(self.order.spoken.show(passes.most), passes.source)
        first = "First" if self.plan.floor is None else "Of the V-bit first"
        layers = f"{self._get_layer_name('ROUGH')}, then {self._get_layer_name('GROOVE')}"
        return f" {first} layer {layers}: no pass is deeper than {most}."

    def plan_pocket(self) -> Iterator[Operation]:
        plan, units = self.plan, self.order.spoken
        if plan.pocket is not None:
            deep = state(
                units.show(plan.pocket.depth), get_source(require_value(self.order.pocket, "[pocket]"), "depth")
            )
            tools = "; then ".join(
                f"{t.cutter.name}, {state(t.passes, passes)} passes of {state(units.show(t.step), passes)}"
                for t in plan.pocket.tools
                if t.clears > 0
                for passes in (say_computed(f"the depth and the depth of a pass ({self._describe_pass(t.cutter)})"),)
            )
            yield Operation(
                name="Mill the pocket",
                what=f"{deep} deep: {tools}. Clear out the dust, then check the depth.",
                cautions=(words.CUTTER, words.NOISE, *self.dust),
            )

    def _describe_pass(self, mill: Cutter) -> str:
        """Describe where the depth of one pass in the pocket comes from."""
        return choose_pocket_passes(self.order, mill).source

    def plan_outline(self) -> Iterator[Operation]:
        if self.plan.boards is not None and self.plan.boards.outline is not None:
            dams = words.DAMS if self.plan.pour is not None and "pour" not in self.before["outline"] else ""
            outline = self.plan.boards.outline
            deep = f"{state(self.order.spoken.show(outline.value), outline.source)} deep, with the lettering cutter."
            if not outline.value:
                deep = "With the lettering cutter, lightly."
            yield Operation(
                name="Cut the outline", what=f"{deep} {words.GUIDE}{self._describe_bevel(outline.value)}{dams}"
            )

    def _describe_bevel(self, depth: float) -> str:
        """Describe what the guide line takes off the piece: its middle is the line the piece is sawn to."""
        half = self.plan.cutter.compute_width(depth) / 2 if depth else 0.0
        if not half:
            return ""
        wide = state(self.order.spoken.show(half), say_computed(f"the depth and the sizes of {self.plan.cutter.name}"))
        left = "bevels its edge" if self.plan.cutter.slope else "leaves a step along its edge"
        return f" Half of its width, {wide}, lies on the piece and {left}."

    def plan_back(self) -> Iterator[Operation]:
        """A whole board at a time, or piece by piece where the boards are apart by then."""
        plan, order = self.plan, self.order
        if not plan.back:
            return
        if plan.jigs is not None:
            what = f"With {plan.cutter.name}, from the load's file that ends in -back. {words.TURNED_IN_JIG}"
        elif plan.boards is None or "saw" in self.before["back"]:
            what = f"With {plan.cutter.name}, each piece from its own file that ends in -back. {words.TURNED_BLANK}"
        else:
            what = f"With {plan.cutter.name}, from the board's file that ends in -back. {words.TURNED}"
            if order.files.registration is not None and plan.boards.clamp > order.files.registration.size:
                what += words.MARKED
        yield Operation(name="Letter the back", what=what, cautions=self._list_cutter_values())

    def plan_pouring(self) -> Iterator[Operation]:
        if self.plan.pour is None:
            return
        pour, part = self.plan.pour, require_value(self.order.pour, "[pour]")
        line = pour.dam.line if pour.dam else 0.0
        sealed = (
            "Seal the pocket's walls with a thin coat"
            + (" so that no air comes out of the wood" if words.is_wood(self.material) else "")
            + "; let it set as the data sheet says."
        )
        yield Operation(
            name="Seal and dam",
            what=(sealed if pour.dam else "Let any sealer set as its data sheet says.")
            + (f" Dam {state(self.order.spoken.show(line), WALL)} of thin wall with tape." if line > 0 else "")
            + " Set every piece dead level.",
            cautions=(words.RESIN,),
            timed=False,
        )

        def format_hours(key: str, otherwise: str) -> str:
            value = getattr(part, key)
            return otherwise if value is None else f"{state(f'{value:g} h', get_source(part, key))} have passed"

        layers = ""
        if (pour.layers or 1) > 1:
            layers = f" in {state(pour.layers or 1, say_computed('the depth and the deepest layer of [pour]'))} layers"
            if part.between_layers is not None:
                layers += f", {state(f'{part.between_layers:g} h', get_source(part, 'between_layers'))} apart"
        still = format_hours("demould", "the data sheet allows it")
        cured = format_hours("machine", "it has cured as the data sheet says")
        yield Operation(
            name="Pour and cure",
            what=f"As the pour card says{layers}. Do not move it before {still}; no saw and no sanding before {cured}.",
            cautions=(words.RESIN,),
        )

    def plan_levelling(self) -> Iterator[Operation]:
        if self.plan.pour is None:
            return
        part, units = require_value(self.order.pour, "[pour]"), self.order.spoken
        what = "Take the proud resin down flush with the face, with a scraper, coarse paper on a flat block, or light "
        what += "passes on the machine. "
        if part.levelled_off is None:
            what += "How much of the face this removes has not been entered ([pour] levelled_off): measure it."
        elif part.levelled_off:
            off = state(units.show(part.levelled_off), get_source(part, "levelled_off"))
            what += f"This may remove at most {off} of the face."
        else:
            what += "This must not remove any of the face."
        if "letter" in self.before["level"] and part.fills == "pocket":
            what += " The face is already lettered: its letters lose as much depth as is removed here."
        yield Operation(name="Level the resin", what=what, cautions=(words.SANDING_RESIN, *self.dust), timed=False)

    def plan_sawing(self) -> Iterator[Operation]:
        if self.plan.boards is not None:
            apart = "Saw the boards apart as the saw card says, in the order it gives. "
            if self.plan.boards.sides:
                apart += "Then saw each piece to its line, one side after another, in the order on the card."
            else:
                apart += (
                    "Then follow the outline with the band saw and " + words.explain_sawing_to_line(self.material) + "."
                )
            band = () if self.plan.boards.sides else (words.BAND_SAW,)
            yield Operation(name="Saw", what=apart, cautions=(words.SAW, *band, *self.dust))

    def plan_resawing(self) -> Iterator[Operation]:
        if self.resawn and self.plan.thickness is not None and self.order.stock is not None:
            yield Operation(
                name="Saw the back off",
                what=f"Resaw {self._get_stock_value('sawn_off')} off the back at the band saw, the "
                "face against a tall fence"
                + (", until the resin shows through." if self.plan.thickness.shows_through else "."),
                cautions=(words.BAND_SAW, *self.dust),
                timed=False,
            )

    def _get_stock_value(self, key: str) -> str:
        """A thickness that [stock] says."""
        stock = require_value(self.order.stock, "[stock]")
        return state(self.order.spoken.show(getattr(stock, key)), get_source(stock, key))

    def plan_sanding(self) -> Iterator[Operation]:
        off, resin = self.order.sanding, self.plan.pour is not None
        if not is_sanded(self.order, poured=resin):
            return
        last = words.RESIN_LAST if resin else words.WOOD_LAST
        what = f"FEPA P grits: {', '.join(f'P{g}' for g in words.list_grits(last))} ({words.GRITS_SOURCE})."
        if off:
            after = "letter" in self.before["sand"]
            limit = ", no more: the lettering was cut for that" if after and self.order.finish.compensate else ""
            told = state(self.order.spoken.show(off), get_source(self.order.finish, "sanded_off"))
            what = f"Take {told} off the face{limit}. {what}"
        if self.resawn and self.order.stock is not None:
            what = f"The back first: {self._get_stock_value('sanded_back')}, until the saw marks are gone. {what}"
        what += " Sand with each grit across the direction of the last, until the scratches of the last are gone. "
        what += "Use paper marked P: the same number on another scale may be finer."
        if self.material.grain:
            what += words.ALONG_GRAIN
        yield Operation(name="Sand", what=what, cautions=(words.SANDING_RESIN, *self.dust) if resin else self.dust)

    def plan_finishing(self) -> Iterator[Operation]:
        if self.material.finish and self.order.stock is not None:
            finish = self.material.finish
            if self.plan.cutter.burns and self.plan.pocket is None and self.plan.boards is None:
                finish = words.describe_finish_of_beam(self.material)
            what = f"{finish[:1].upper()}{finish[1:]}. Try it first on an offcut with a letter cut in it."
            yield Operation(
                name="Finish",
                what=what,
                cautions=(words.OIL,) if self.material.does("oil") else (),
                timed=self.material.does("oil"),
            )

    def plan_packing(self) -> Iterator[Operation]:
        yield Operation(
            name="Check and pack",
            what="Compare each piece with the signed proof, letter by letter, then tick it off, wrap it and label it.",
        )

    def _list_cutter_values(self) -> tuple[str, ...]:
        if self.plan.cutter.burns:
            return (words.LASER, *self.dust)
        return (words.CUTTER, *self.dust)
