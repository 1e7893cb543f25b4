"""The whole shop floor of one order: what is milled, poured, sawn and sanded, how long it takes. Once per order."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from pipeline.core.catalogue import list_stopping
from pipeline.core.config.order import Order, OrderFolder
from pipeline.core.config.shop_tables import StockConfig
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.findings import Finding
from pipeline.core.list_row import ListRow
from pipeline.core.measured_values import GROOVE_DEPTH
from pipeline.core.model import Blank, Plaque
from pipeline.core.required import require_value
from pipeline.core.storage.cache import Cache
from pipeline.core.work_steps import list_steps
from pipeline.cutting.cutters import (
    Cutter,
    build_shelf,
    choose_cutter,
    compute_lowering,
    get_clearing_mill,
    resolve_cutter,
    resolve_end_mill,
)
from pipeline.cutting.cutting_data import choose_outline_depth, choose_passes, choose_saw_allowance
from pipeline.cutting.flat_floor import FlatFloor, build_flat_floor
from pipeline.cutting.materials import get_material
from pipeline.shopfloor.board_layout import BoardLayout, PieceToPlace, get_grain, plan_boards
from pipeline.shopfloor.jig_layout import MOST_PLACES, JigLayout, plan_jigs
from pipeline.shopfloor.pocket import PocketPlan, choose_pocket_passes, find_pocket_stops, plan_pocket
from pipeline.shopfloor.pour import PourPlan, plan_pour
from pipeline.shopfloor.thickness import ThicknessBudget, estimate_width_change, plan_thickness
from pipeline.shopfloor.time_estimate import (
    MachineVisit,
    TimeEstimate,
    WorkAmounts,
    WorkFeed,
    choose_mill_feed,
    estimate_lettering_feed,
    estimate_plunge_feed,
    estimate_time,
)
from pipeline.shopfloor.toolpath import Toolpath, ToolpathPlanner
from pipeline.shopfloor.work_checks import check_work


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShopPlan:
    """The content of the shop sheet. None: the order has no such part."""

    pieces: int  # without stopped plaques
    cutter: Cutter  # for the lettering
    deepest: float | None  # deepest of grooves, single lines and cuts with a stated depth
    floor: FlatFloor | None  # for wide strokes, if any has one
    back: bool  # whether there is lettering on the back
    thickness: ThicknessBudget | None
    movement: float | None  # change in width across the grain until it hangs, mm
    pocket: PocketPlan | None
    pour: PourPlan | None
    boards: BoardLayout | None
    jigs: JigLayout | None
    estimate: TimeEstimate


def plan_shop(
    folder: OrderFolder,
    blank: Blank,
    plaques: Sequence[Plaque],
    signed: Mapping[ListRow, int] | None = None,
    cache: Cache | None = None,
) -> tuple[ShopPlan, tuple[Finding, ...]]:
    """Plan the shop floor of an order. `signed`: by row, how many of its pieces are signed off. `cache`: where figures
    of letters are kept between runs.

    Of boards that are stopped there is no plan. CannotRun names the key when the order asks for a pocket its drawing
    has not, or for a cutter that cannot mill it.
    """
    order = folder.order
    check_order(folder, blank)
    cutter, limits = resolve_cutter(order, blank.thickness)
    going = [p for p in plaques if p.state != "stopped" and p.artwork is not None]
    pieces = sum(p.recipient.copies for p in going)
    depths = [d for p in going for m in p.all_measures if (d := m.get_figure(GROOVE_DEPTH)) is not None]
    level = [order.limits.deepest] if cutter.takes_depth and order.limits.deepest is not None else []
    deepest = max([*depths, *level], default=None)
    findings = [*check_work(order, blank, cutter)]
    thickness = _plan_thickness(order, blank, depths, limits.shallowest.value or 0.0, findings)
    pocket = _plan_pocket(folder, blank, findings)
    ways = ToolpathPlanner(order, cutter, cache)
    lettering, front = _plan_lettering(going, ways)
    floor = build_flat_floor(order, cutter)
    cleared = Toolpath()
    for p in going if floor is not None else ():
        if p.artwork is not None:
            cleared = cleared.combine(ways.plan_floor(p.artwork), p.recipient.copies)
    floor = floor if cleared.length else None
    pour = _plan_pour(folder, blank, pieces, (front.volume / 1000, deepest or 0.0), pocket, findings)
    boards, jigs = None, None
    back = any(line.side == "back" for p in going if p.artwork for line in p.artwork.parts)
    if order.jig is not None:
        jigs, said = plan_jigs(blank, order.jig, _list_to_place(going, signed or {}), units=order.unit, back=back)
        findings += said
        if list_stopping(said, "jigs"):
            jigs = None
    if order.board is not None:
        outline = choose_outline_depth(order, cutter, blank.thickness)
        boards, said = plan_boards(
            blank,
            order.board,
            _list_to_place(going, signed or {}),
            get_grain(order),
            choose_saw_allowance(order),
            outline,
        )
        findings += said
        if list_stopping(said, "boards"):
            boards = None
    plan = ShopPlan(
        pieces=pieces,
        cutter=cutter,
        deepest=deepest,
        floor=floor,
        back=back,
        thickness=thickness,
        movement=_compute_movement(order, blank),
        pocket=pocket,
        pour=pour,
        boards=boards,
        jigs=jigs,
        estimate=_estimate_time(
            order, lettering, deepest, pieces, cutter, pocket, pour, boards, jigs, (floor, cleared), back=back
        ),
    )
    return plan, tuple(findings)


def is_sanded(order: Order, *, poured: bool) -> bool:
    """Return whether the pieces are sanded: where something comes off by it, resin stands proud or a back was sawn, and
    not of a material that is known not to be."""
    material = get_material(order)
    if material.known and not material.does("sand"):
        return False
    return order.sanding > 0 or poured or bool(order.stock and order.stock.sawn_off)


def _compute_feeds(order: Order, floor: FlatFloor | None, pocket: PocketPlan | None) -> dict[str, WorkFeed]:
    """The feed of every end mill by its name."""
    out: dict[str, WorkFeed] = {}
    if floor is not None:
        step = choose_passes(order, floor.mill, floor.depth).step
        out[floor.mill.name] = choose_mill_feed(order, floor.mill, floor.depth, step)
    for tool in pocket.tools if pocket is not None else ():
        out[tool.cutter.name] = choose_mill_feed(
            order, tool.cutter, require_value(pocket, "the pocket").depth, tool.step
        )
    return out


def _list_to_place(going: Sequence[Plaque], signed: Mapping[ListRow, int]) -> list[PieceToPlace]:
    """List every piece of the plaques that are made. signed: by row, how many of its pieces are signed off."""
    return [
        PieceToPlace(
            row=p.recipient.row,
            copy=copy,
            copies=p.recipient.copies,
            name=p.name,
            fingerprint=p.fingerprint,
            signed=copy <= signed.get(p.recipient.row, 0),
        )
        for p in going
        for copy in range(1, p.recipient.copies + 1)
    ]


def find_order_stops(folder: OrderFolder, blank: Blank, plaques: Iterable[Plaque]) -> tuple[Finding, ...]:
    """Find what stops every plaque of the order: cutters that can't mill its pocket, stock that can't hold it. To be
    known before anything is cut.

    plaques: those of the whole list, set and checked. They are taken one after another, and only as far as the depth
    of the lettering decides anything: mostly none, or the first.
    """
    order, found = folder.order, list[Finding]()
    if order.pocket is not None:
        found += find_pocket_stops(blank, order.pocket, *choose_pocket_mills(folder, blank))
    if blank.thickness is None or (order.stock is None and order.pocket is None):
        return tuple(found)
    cutter, limits = resolve_cutter(order, blank.thickness)
    least, off = limits.shallowest.value or 0.0, order.finish.sanded_off
    bare, _ = plan_thickness(order, blank.thickness, deepest=None, least_groove=least)
    through = limits.deepest.value is None or limits.deepest.value > bare.finished - 1e-9
    deepest = None
    for plaque in plaques if cutter.cuts_grooves and (through or off > 0) else ():
        depths = [d for m in plaque.all_measures if (d := m.get_figure(GROOVE_DEPTH)) is not None]
        if plaque.state == "stopped" or not depths:
            continue
        deepest = max(*depths, deepest or 0.0)
        if not through and deepest - off >= least - 1e-9:
            break  # some lettering stays after sanding, and none can go through
    _, said = plan_thickness(order, blank.thickness, deepest=deepest, least_groove=least)
    return (*found, *list_stopping(said, "order"))


def check_order(folder: OrderFolder, blank: Blank) -> None:
    """Return whether the order's shop floor can be planned at all, before anything is set or written. CannotRun with
    every fault."""
    order, faults = folder.order, list[Fault]()
    if order.pocket is not None:
        try:
            choose_pocket_mills(folder, blank)
        except CannotRun as problem:
            faults += problem.faults
    if order.pour is not None and order.pocket is None and order.pour.fills != "lettering":
        faults.append(
            Fault(
                where=f"{folder.file}, [pour]",
                found="there is no [pocket] to pour into",
                expected='a [pocket], or fills = "lettering"',
            )
        )
    faults += _list_jig_faults(folder)
    faults += _list_board_faults(folder)
    try:
        faults += _list_clearing_faults(folder)
    except CannotRun as problem:
        faults += problem.faults
    cutter = choose_cutter(order.cutter, order.shop, units=order.unit)
    if (
        order.pour is not None
        and order.pour.fills != "pocket"
        and not cutter.cuts_grooves
        and order.limits.deepest is None
    ):
        faults.append(
            Fault(
                where=f"{folder.file}, [limits] deepest",
                found=f"not stated, but [pour] fills the lettering and {cutter.name} cuts to no depth of its own",
                expected="the depth of the lettering, so that its resin can be reckoned",
            )
        )
    if faults:
        raise CannotRun(faults)


def _list_clearing_faults(folder: OrderFolder) -> Iterator[Fault]:
    """List the faults of [clearing]."""
    order, where = folder.order, f"{folder.file}, [clearing]"
    mill = get_clearing_mill(order)
    if mill is None:
        return
    cutter = choose_cutter(order.cutter, order.shop, units=order.unit)
    if not cutter.cuts_grooves or not order.files.grooves:
        found = "[files] grooves is false" if cutter.cuts_grooves else f"{cutter.name} cuts no grooves"
        yield Fault(
            where=where, found=f"names a flat cutter, but {found}", expected="a V-bit as [cutter], and grooves = true"
        )
        return
    floor = build_flat_floor(order, cutter)
    if floor is None:
        yield Fault(
            where=f"{folder.file}, [limits] deepest",
            found=f"not stated, and nothing limits how deep {cutter.name} goes",
            expected="the depth of the flat floors of [clearing]",
        )
    elif floor.depth <= compute_lowering(order, cutter):
        yield Fault(
            where=f"{folder.file}, [limits] deepest",
            found=f"{order.unit.show(floor.depth)}, of which sanding takes {order.unit.show(order.finish.sanded_off)}",
            expected="deeper floors, or less sanding",
        )
    elif mill.reach is not None and mill.reach < floor.depth:
        yield Fault(
            where=where,
            found=f"{mill.name} reaches only {order.unit.show(mill.reach)}",
            expected=f"a reach of {order.unit.show(floor.depth)}, the depth of the floor",
        )


def _list_board_faults(folder: OrderFolder) -> Iterator[Fault]:
    """List what can't be kept of [board]: pieces lie so close on it that a sawn side has `trim` to spare and no
    more."""
    board, unit = folder.order.board, folder.order.unit
    if board is not None and board.allowance is not None and board.allowance > board.trim:
        yield Fault(
            where=f"{folder.file}, [board] allowance",
            found=f"{unit.show(board.allowance)}, but trim leaves {unit.show(board.trim)} beside a blank",
            expected="at most `trim`",
        )


def _list_jig_faults(folder: OrderFolder) -> Iterator[Fault]:
    """List the faults of [jig]."""
    jig = folder.order.jig
    if jig is None:
        return
    where = f"{folder.file}, [jig]"
    if folder.order.board is not None:
        yield Fault(
            where=where,
            found="the order has a [board] too",
            expected="one of them: blanks lie in a jig, or they are still part of a board",
        )
    for count, key, value in (("columns", "across", jig.across), ("rows", "up", jig.up)):
        if value is None and (number := getattr(jig, count)) > 1:
            yield Fault(where=f"{where} {key}", found="missing", expected=f"a length: {count} = {number} needs it")
    if jig.columns * jig.rows > MOST_PLACES:
        yield Fault(
            where=where,
            found=f"{jig.columns} columns and {jig.rows} rows are {jig.columns * jig.rows} places",
            expected=f"at most {MOST_PLACES}",
        )


def choose_pocket_mills(folder: OrderFolder, blank: Blank) -> tuple[Cutter, Cutter | None]:
    """The cutters of the order's pocket, rough and fine. CannotRun names the key that cannot be used."""
    part = require_value(folder.order.pocket, "[pocket]")
    where = f"{folder.file}, [pocket]"
    if not blank.pockets:
        raise CannotRun(
            Fault(
                where=where,
                found="the blank has no pocket",
                expected="a closed contour on the pocket layer of the drawing, or no [pocket]",
                remedy="[blank] layers says which layer that is",
            )
        )
    shop, units = folder.order.shop, folder.order.unit
    rough = resolve_end_mill(part.rough, f"{where}, rough", shop, units)
    fine = None if part.fine is None else resolve_end_mill(part.fine, f"{where}, fine", shop, units)
    if fine is not None and (fine.diameter or 0) > (rough.diameter or 0):
        wide, narrow = (folder.order.unit.show(mill.diameter or 0) for mill in (fine, rough))
        raise CannotRun(
            Fault(
                where=f"{where}, fine",
                found=f"{fine.name} ({wide}) is wider than {rough.name} ({narrow})",
                expected="the rough cutter to be the wider one",
                remedy="exchange rough and fine",
            )
        )
    return rough, fine


def _plan_pocket(folder: OrderFolder, blank: Blank, findings: list[Finding]) -> PocketPlan | None:
    part = folder.order.pocket
    if part is None:
        return None
    rough, fine = choose_pocket_mills(folder, blank)
    shelf = tuple(build_shelf(folder.order.shop).values())
    plan, said = plan_pocket(blank, part, rough, fine, shelf, lambda mill: choose_pocket_passes(folder.order, mill))
    findings += said
    return plan


def _plan_thickness(
    order: Order, blank: Blank, depths: list[float], least: float, findings: list[Finding]
) -> ThicknessBudget | None:
    if blank.thickness is None or (order.stock is None and order.pocket is None):
        return None
    deepest = max(depths, default=None)
    plan, said = plan_thickness(order, blank.thickness, deepest=deepest, least_groove=least)
    findings += said
    return plan


def _compute_movement(order: Order, blank: Blank) -> float | None:
    """Compute the change of width across the grain; None where the order doesn't say how the grain runs."""
    stock = order.stock or StockConfig()
    moves = stock.movement
    if moves is None and (told := get_material(order).change_per_moisture(stock.material)) is not None:
        moves = told.value
    grain = get_grain(order)
    if grain in (None, "none") or moves is None or stock.moisture is None or stock.moisture_in_use is None:
        return None
    return estimate_width_change(
        blank.width if grain == "upright" else blank.height, moves, stock.moisture, stock.moisture_in_use
    )


def _plan_lettering(going: Sequence[Plaque], ways: ToolpathPlanner) -> tuple[Toolpath, Toolpath]:
    """The way over all pieces: both sides, and the front alone."""
    whole, front = Toolpath(), Toolpath()
    for p in going:
        if p.artwork is not None:
            own = ways.plan_lettering(p.artwork)
            front = front.combine(own, p.recipient.copies)
            whole = whole.combine(own.combine(ways.plan_lettering(p.artwork, "back")), p.recipient.copies)
    return whole, front


def _plan_pour(
    folder: OrderFolder,
    blank: Blank,
    pieces: int,
    lettering: tuple[float, float],
    pocket: PocketPlan | None,
    findings: list[Finding],
) -> PourPlan | None:
    """lettering: how much resin it takes, ml, and how deep it is, mm."""
    order = folder.order
    if order.pour is None:
        return None
    plan, said = plan_pour(
        blank,
        order.pour,
        area=pocket.cut_area if pocket else 0.0,
        depth=pocket.depth if pocket else 0.0,
        pieces=pieces,
        lettering_ml=lettering[0],
        lettering_depth=lettering[1],
        outside=order.board.trim if order.board else 0.0,
    )
    findings += said
    return plan


def _list_machine_visits(
    order: Order,
    cutter: Cutter,
    floor: FlatFloor | None,
    pocket: PocketPlan | None,
    boards: BoardLayout | None,
    *,
    back: bool,
) -> Iterator[MachineVisit]:
    """Times on the machine, in the order of the work. Resin is poured off it, pieces are sawn apart off it, and a back
    is turned up."""
    own = () if cutter.burns else (cutter.name,)
    cuts: dict[str, tuple[str, ...]] = {"letter": ((floor.mill.name,) if floor is not None else ()) + own}
    if pocket is not None:
        cuts["pocket"] = tuple(tool.cutter.name for tool in pocket.tools)
    if boards is not None and boards.outline is not None:
        cuts["outline"] = own
    if back:
        cuts["back"] = own
    off = {"saw"} if boards is not None else set[str]()
    off |= {"pour"} if order.pour is not None else set()
    visit: list[str] | None = None
    apart = False
    for step in list_steps(order):
        if visit is not None and (step in off or (step == "back" and back)):
            yield MachineVisit(cutters=tuple(dict.fromkeys(visit)), apart=apart)
            visit = None
        apart = apart or (step == "saw" and boards is not None)
        if step in cuts:
            visit = [*(visit or ()), *cuts[step]]
            if step == "back":  # later steps are on the face again
                yield MachineVisit(cutters=tuple(dict.fromkeys(visit)), apart=apart)
                visit = None
    if visit is not None:
        yield MachineVisit(cutters=tuple(dict.fromkeys(visit)), apart=apart)


def _estimate_time(
    order: Order,
    lettering: Toolpath,
    deepest: float | None,
    pieces: int,
    cutter: Cutter,
    pocket: PocketPlan | None,
    pour: PourPlan | None,
    boards: BoardLayout | None,
    jigs: JigLayout | None,
    cleared: tuple[FlatFloor | None, Toolpath],
    *,
    back: bool,
) -> TimeEstimate:
    sides, outline = (boards.sides, boards.outline) if boards else ((), None)
    work = WorkAmounts(
        pieces=pieces,
        lettering=lettering,
        floor=cleared[0],
        floor_way=cleared[1],
        floor_passes=choose_passes(order, cleared[0].mill, cleared[0].depth).count if cleared[0] else 0,
        feed=estimate_lettering_feed(order, cutter, max(deepest or 0.0, outline.value if outline else 0.0) or None),
        plunge=estimate_plunge_feed(order),
        feeds=_compute_feeds(order, cleared[0], pocket),
        outline=boards.edge if boards and outline else 0.0,
        outline_passes=choose_passes(order, cutter, outline.value).count if outline and outline.value else 1,
        pocket=pocket,
        visits=tuple(_list_machine_visits(order, cutter, cleared[0], pocket, boards, back=back)),
        boards=len(boards.boards) if boards else 0,
        loads=len(jigs.loads) if jigs else 0,
        loading=order.jig.loading if order.jig else None,
        test_piece=order.spare.test_piece,
        cuts=len(boards.cuts) if boards else 0,
        settings=len(boards.groups) if boards else 0,
        trims=len(sides) if boards else 0,
        trim_settings=len(sides),
        mixes=len(pour.mixes) if pour and not pour.each else 0,
        pour_minutes=pour.minutes if pour else None,
        board_area=boards.board_area / 1e6 if boards else 0.0,
        resin=pour.with_waste / 1000 if pour else 0.0,
        sanded=is_sanded(order, poured=pour is not None),
        finished=get_material(order).does("oil"),
    )
    return estimate_time(work, order.rates, cutter, order.spoken)
