"""The thickness budget: from the rough board to the finished piece, step by step. Lengths mm.

Also how much the wood moves with its moisture: ΔD = D · C · (M2 − M1), D the width across the grain, C the change per
1 % moisture (USDA Wood Handbook, FPL-GTR-190, chapter 13).
"""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.core.catalogue import shop_kinds as kinds
from pipeline.core.config.order import Order
from pipeline.core.config.shop_tables import StockConfig, get_source
from pipeline.core.findings import Finding, build_finding
from pipeline.core.work_steps import list_steps
from pipeline.cutting.materials import get_material

ORDER = "order.toml"
PLANED = "back planed to thickness"
"""The step that takes a rough board to its thickness."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ThicknessStep:
    """One step that changes the thickness."""

    name: str
    side: str  # "face" "back" ""
    off: float  # thickness removed
    left: float  # thickness afterwards
    source: str

    @property
    def planed(self) -> bool:
        """Return whether it planes the back of a rough board."""
        return self.name == PLANED and self.off > 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class ThicknessBudget:
    """The whole budget. `skin`, `resin` and `engraved` are None when the order has none."""

    steps: tuple[ThicknessStep, ...]
    rough: float | None  # as bought; None: not stated
    faced: float  # removed from the face of a sawn board
    cut_at: float  # thickness when it is cut
    needed: float  # rough thickness that this needs
    finished: float
    pocket: float | None  # depth as milled
    skin: float | None  # wood under the pocket before the back is sawn off
    resin: float | None  # depth of resin in the finished piece
    shows_through: bool
    engraved: float | None  # deepest lettering, as cut
    sanded_face: float  # removed from the face after lettering
    off_face: float  # removed from the face by the cutter, all steps together


def estimate_width_change(width: float, coefficient: float, moisture: float, moisture_in_use: float) -> float:
    """Estimate how much wider (negative: narrower) a piece of wood gets across the grain, mm. Moisture in %."""
    return width * coefficient * (moisture_in_use - moisture)


def choose_face_allowance(order: Order) -> tuple[float, str]:
    """Choose what is taken off the face of a sawn board to flatten it, mm, and where the figure comes from: the order,
    or the material; nothing for a material that is not faced, or not known."""
    stock = order.stock
    if stock is None or stock.faced is not None:
        return (0.0, "") if stock is None else (stock.faced or 0.0, get_source(stock, "faced"))
    material = get_material(order)
    return material.faced or 0.0, material.describe_source("faced")


def plan_thickness(
    order: Order, cut_at: float, *, deepest: float | None, least_groove: float
) -> tuple[ThicknessBudget, tuple[Finding, ...]]:
    """The budget of a blank that is `cut_at` thick under the cutter.

    deepest: lettering as cut; None when nothing has a depth. least_groove: what has to be left of it after sanding.
    """
    stock = order.stock or StockConfig()
    pocket, unit = (order.pocket.depth if order.pocket else None), order.spoken
    faced, faced_source = choose_face_allowance(order)
    needed = cut_at + 2 * faced
    rough = stock.rough
    steps: list[ThicknessStep] = []
    here = needed if rough is None else rough
    top, bottom = cut_at, 0.0  # surfaces of the piece when it is cut
    floor: float | None = None  # of the pocket

    def take(name: str, side: str, off: float, source: str) -> None:
        nonlocal here, top, bottom
        here -= off
        if ready and side == "face":
            top -= off
        elif ready and side == "back":
            bottom += off
        steps.append(ThicknessStep(name=name, side=side, off=off, left=here, source=source))

    ready = False
    sawn = faced > 0 or (rough is not None and get_material(order).bought in (None, "rough board"))
    first = get_source(stock, "rough") if rough is not None else "what it takes; the order does not state the stock"
    if sawn:
        take("rough stock", "", 0.0, first)
        if faced:
            take("face made flat", "face", faced, faced_source)
        take(PLANED, "back", here - cut_at, f"[blank] thickness in {ORDER}")
    else:
        here = cut_at
        take("as bought", "", 0.0, f"[blank] thickness in {ORDER}")
    ready = True
    for step in list_steps(order):
        if step == "letter" and deepest is not None:
            take("lettering cut", "", 0.0, f"{unit.show(deepest)} at its deepest: from the artwork and the cutter")
        elif step == "pocket" and pocket is not None:
            floor = top - pocket
            take("pocket milled", "", 0.0, f"{unit.show(pocket)} deep: [pocket] depth in {ORDER}")
        elif step == "pour" and order.pour is not None:
            take("resin poured, cured", "", 0.0, "as on the pour card")
        elif step == "level" and order.pour is not None:
            off = order.pour.levelled_off
            told = "how much it takes off the face has not been entered: levelled_off of [pour]"
            take("resin levelled", "face", off or 0.0, told if off is None else get_source(order.pour, "levelled_off"))
        elif step == "resaw" and stock.sawn_off:
            take("back sawn off", "back", stock.sawn_off, get_source(stock, "sawn_off"))
        elif step == "sand":
            if order.sanding:
                take("face sanded", "face", order.sanding, f"[finish] sanded_off in {ORDER}")
            if stock.sawn_off:
                take("back sanded", "back", stock.sanded_back, get_source(stock, "sanded_back"))
    plan = ThicknessBudget(
        steps=tuple(steps),
        rough=rough if sawn or (rough or cut_at) < cut_at else None,
        faced=faced,
        cut_at=cut_at,
        needed=needed,
        finished=here,
        pocket=pocket,
        skin=floor,
        resin=None if floor is None else max(0.0, top - max(floor, bottom)),
        shows_through=floor is not None and bottom >= floor,
        engraved=deepest,
        sanded_face=order.finish.sanded_off,
        off_face=cut_at - top,
    )
    return plan, tuple(_list_findings(plan, order, bottom, least_groove))


def _list_findings(plan: ThicknessBudget, order: Order, off_back: float, least_groove: float) -> list[Finding]:
    out, stock = [], order.stock or StockConfig()
    parts = "`faced` and `sawn_off` of [stock], the pocket's `depth`"

    def report_thin(measured: float, limit: float, reason: str) -> None:
        facts = {"reason": reason, "parts": parts}
        out.append(build_finding(kinds.TOO_THIN, measured=measured, limit=limit, unit="mm", facts=facts))

    if plan.rough is not None and plan.rough < plan.needed - 1e-9:
        report_thin(plan.rough, plan.needed, "to make both sides flat and reach the thickness of the blank")
    if plan.pocket is not None and plan.pocket >= plan.cut_at:
        report_thin(plan.cut_at, plan.pocket, "for the pocket alone, which would go right through")
    elif plan.skin is not None and plan.skin < stock.least_skin:
        out.append(build_finding(kinds.SKIN_THIN, measured=plan.skin, limit=stock.least_skin, unit="mm"))
    if plan.engraved is not None and plan.engraved > plan.finished - 1e-9:
        report_thin(plan.finished, plan.engraved, "for the lettering, which would go through the finished piece")
    elif plan.finished <= 0:
        report_thin(plan.cut_at, plan.cut_at - plan.finished, "for what is sawn and sanded off")
    left = None if plan.engraved is None else plan.engraved - plan.sanded_face
    if left is not None and plan.sanded_face > 0 and left < least_groove - 1e-9:
        facts: dict[str, str | float | int] = {"left": max(0.0, left)}
        out.append(
            build_finding(kinds.ENGRAVING_LOST, measured=plan.sanded_face, limit=least_groove, unit="mm", facts=facts)
        )
    if stock.sawn_off and plan.skin is not None and order.pour is not None and not plan.shows_through:
        out.append(build_finding(kinds.RESIN_HIDDEN, measured=off_back, limit=plan.skin, unit="mm"))
    if stock.finished is not None and abs(plan.finished - stock.finished) > stock.finished_within:
        out.append(build_finding(kinds.FINISHED_DIFFERS, measured=plan.finished, limit=stock.finished, unit="mm"))
    return out
