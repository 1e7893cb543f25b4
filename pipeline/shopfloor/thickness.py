"""The thickness budget: from the rough board to the finished piece, step by step. Lengths mm.

Also how much the wood moves with its moisture: ΔD = D · C · (M2 − M1), D the width across the grain, C the change per
1 % moisture (USDA Wood Handbook, FPL-GTR-190, chapter 13).
"""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.core.catalogue import shop_kinds as kinds
from pipeline.core.findings import Finding, find
from pipeline.core.order import Order
from pipeline.core.shop_tables import StockConfig, source_of


@dataclass(frozen=True, slots=True, kw_only=True)
class ThicknessStep:
    """One thing that happens to the thickness."""

    name: str
    side: str  # "face" "back" ""
    off: float  # what it takes off
    left: float  # thickness afterwards
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ThicknessBudget:
    """The whole budget. `skin`, `resin` and `engraved` are None when the order has no such thing."""

    steps: tuple[ThicknessStep, ...]
    rough: float | None  # as bought; None: the order does not say
    cut_at: float  # when it goes under the cutter
    needed: float  # rough thickness it takes
    finished: float
    pocket: float | None  # depth as milled
    skin: float | None  # wood left under the pocket before the back is sawn off
    resin: float | None  # depth of resin in the finished piece
    shows_through: bool
    engraved: float | None  # deepest lettering, as cut
    engraved_left: float | None  # shallowest lettering after sanding
    sanded_face: float


def change_of_width(width: float, coefficient: float, moisture: float, moisture_in_use: float) -> float:
    """How much wider (or, negative, narrower) a piece of wood gets across the grain, mm. Moisture in %."""
    return width * coefficient * (moisture_in_use - moisture)


def plan_thickness(
    order: Order, cut_at: float, *, deepest: float | None, shallowest: float | None, least_groove: float
) -> tuple[ThicknessBudget, tuple[Finding, ...]]:
    """The budget of a blank that is `cut_at` thick under the cutter.

    deepest: lettering as cut; shallowest: as finished; None when nothing has a depth. least_groove: what has to be
    left of the deepest after sanding.
    """
    stock, face_off = order.stock or StockConfig(), order.finish.sanded_off
    pocket, unit = (order.pocket.depth if order.pocket else None), order.unit
    needed = cut_at + 2 * stock.faced
    rough = stock.rough
    steps: list[ThicknessStep] = []
    here = needed if rough is None else rough

    def take(name: str, side: str, off: float, source: str) -> None:
        nonlocal here
        here -= off
        steps.append(ThicknessStep(name=name, side=side, off=off, left=here, source=source))

    first = source_of(stock, "rough") if rough is not None else "what it takes; the order does not state the stock"
    take("rough stock", "", 0.0, first)
    take("face made flat", "face", stock.faced, source_of(stock, "faced"))
    take("back planed to thickness", "back", here - cut_at, "[blank] thickness in order.toml")
    if deepest is not None:
        take("lettering cut", "", 0.0, f"{unit.show(deepest)} at its deepest: from the artwork and the cutter")
    skin = None
    if pocket is not None:
        skin = cut_at - pocket
        take("pocket milled", "", 0.0, f"{unit.show(pocket)} deep: [pocket] depth in order.toml")
    if order.pour is not None:
        take("resin poured, cured", "", 0.0, "as on the pour card")
    if stock.sawn_off:
        take("back sawn off", "back", stock.sawn_off, source_of(stock, "sawn_off"))
    if face_off:
        take("face sanded", "face", face_off, source_of(order.finish, "sanded_off"))
    off_back = stock.sawn_off
    if stock.sawn_off or order.pour is not None:
        take("back sanded", "back", stock.sanded_back, source_of(stock, "sanded_back"))
        off_back += stock.sanded_back
    plan = ThicknessBudget(
        steps=tuple(steps),
        rough=rough,
        cut_at=cut_at,
        needed=needed,
        finished=here,
        pocket=pocket,
        skin=skin,
        resin=None if pocket is None or skin is None else max(0.0, min(pocket, cut_at - off_back) - face_off),
        shows_through=skin is not None and off_back >= skin,
        engraved=deepest,
        engraved_left=shallowest,
        sanded_face=face_off,
    )
    return plan, tuple(_findings(plan, order, off_back, least_groove))


def _findings(plan: ThicknessBudget, order: Order, off_back: float, least_groove: float) -> list[Finding]:
    out, stock = [], order.stock or StockConfig()
    parts = "`faced` and `sawn_off` of [stock], the pocket's `depth`"

    def thin(measured: float, limit: float, reason: str) -> None:
        facts = {"reason": reason, "parts": parts}
        out.append(find(kinds.TOO_THIN, measured=measured, limit=limit, unit="mm", facts=facts))

    if plan.rough is not None and plan.rough < plan.needed - 1e-9:
        thin(plan.rough, plan.needed, "to make both sides flat and reach the thickness of the blank")
    if plan.pocket is not None and plan.pocket >= plan.cut_at:
        thin(plan.cut_at, plan.pocket, "for the pocket alone, which would go right through")
    elif plan.skin is not None and plan.skin < stock.least_skin:
        out.append(find(kinds.SKIN_THIN, measured=plan.skin, limit=stock.least_skin, unit="mm"))
    if plan.engraved is not None and plan.engraved > plan.finished - 1e-9:
        thin(plan.finished, plan.engraved, "for the lettering, which would go through the finished piece")
    elif plan.finished <= 0:
        thin(plan.cut_at, plan.cut_at - plan.finished, "for what is sawn and sanded off")
    left = None if plan.engraved is None else plan.engraved - plan.sanded_face
    if left is not None and plan.sanded_face > 0 and left < least_groove - 1e-9:
        facts: dict[str, str | float | int] = {"left": max(0.0, left)}
        out.append(find(kinds.ENGRAVING_LOST, measured=plan.sanded_face, limit=least_groove, unit="mm", facts=facts))
    if stock.sawn_off and plan.skin is not None and order.pour is not None and not plan.shows_through:
        out.append(find(kinds.RESIN_HIDDEN, measured=off_back, limit=plan.skin, unit="mm"))
    if stock.finished is not None and abs(plan.finished - stock.finished) > stock.finished_within:
        out.append(find(kinds.FINISHED_DIFFERS, measured=plan.finished, limit=stock.finished, unit="mm"))
    return out
