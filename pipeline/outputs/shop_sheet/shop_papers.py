"""The papers for the shop floor: the shop sheet, and a drawing of every board or jig load."""

from __future__ import annotations

from pathlib import Path

from pipeline.core.catalogue import list_stopping
from pipeline.core.model import Outcome
from pipeline.core.order import OrderFolder
from pipeline.outputs.cut_files.board_files import FOLDER, BoardFiles
from pipeline.outputs.cut_files.cut_files import CutFiles
from pipeline.outputs.cut_files.jig_files import FOLDER as JIGS
from pipeline.outputs.cut_files.jig_files import JigFiles
from pipeline.outputs.shop_sheet.shop_sheet import write_shop_sheet
from pipeline.shopfloor.shop_plan import ShopPlan

SHEET = "shop.pdf"


def write_sheet_unless_stopped(
    outcome: Outcome, folder: OrderFolder, plan: ShopPlan, target: Path
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Write shop.pdf, but not where a finding stops it; that of an earlier run is then taken away.

    Gives what was written, as the summary names it, and what is to be said about a paper that was not.
    """
    refused = list_stopping(outcome.findings, "paper")
    if refused:
        (target / SHEET).unlink(missing_ok=True)
        return (), (f"No shop sheet: {', '.join(dict.fromkeys(f.code for f in refused))}, told above.",)
    write_shop_sheet(outcome, folder, plan, target / SHEET)
    return (SHEET,), ()


def write_boards(
    outcome: Outcome, folder: OrderFolder, plan: ShopPlan, target: Path, files: CutFiles
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Write boards/*.dxf where the order asks for unsigned pieces too, but none that a finding stops; those of
    earlier runs are then taken away. Boards of what may be cut come with a release. files: the order's cut files, for
    their placed letters.

    Gives what was written, as the summary names it, and what is to be said about boards that were not.
    """
    drawings, part = BoardFiles(outcome, plan, target, files), folder.order.board
    if part is not None and not part.unsigned and plan.boards is not None:
        drawings.drawings.finish(())
        return (), (
            "Boards are drawn by `plaques release`, with what may be cut by then ([board] unsigned draws all now).",
        )
    boards = drawings.write()
    said = boards.said
    if folder.order.board is not None and plan.boards is None:
        codes = dict.fromkeys(f.code for f in list_stopping(outcome.findings, "boards"))
        said = (f"No boards: {', '.join(codes)}, told above.", *said)
    fronts = len(boards.names) - boards.backs
    if not fronts:
        return (), said
    also = f", {boards.backs} with a back" if boards.backs else ""
    return (f"{FOLDER}/ ({fronts} of {len(plan.boards.boards) if plan.boards else 0} boards{also})",), said


def write_jigs(
    outcome: Outcome, folder: OrderFolder, plan: ShopPlan, target: Path, files: CutFiles
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Write jigs/*.dxf where the order asks for loads with unsigned pieces too, but none that a finding stops; those of
    earlier runs are then taken away. Loads of what may be cut come with a release. files: the order's cut files, for
    their placed letters.

    Gives what was written, as the summary names it, and what is to be said about loads that were not.
    """
    drawings, part = JigFiles(outcome, plan, target, files), folder.order.jig
    if part is not None and not part.unsigned and plan.jigs is not None:
        drawings.drawings.finish(())
        return (), (
            "Jig loads are drawn by `plaques release`, with what may be cut by then ([jig] unsigned draws all now).",
        )
    jigs = drawings.write()
    said = jigs.said
    if folder.order.jig is not None and plan.jigs is None:
        codes = dict.fromkeys(f.code for f in list_stopping(outcome.findings, "jigs"))
        said = (f"No jig loads: {', '.join(codes)}, told above.", *said)
    loads = len(jigs.names) - jigs.backs
    if not loads:
        return (), said
    also = f", {jigs.backs} with a back" if jigs.backs else ""
    return (f"{JIGS}/ ({loads} of {len(plan.jigs.loads) if plan.jigs else 0} loads{also})",), said
