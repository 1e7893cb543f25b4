"""Everything the shop floor gets from a run: the shop sheet, and a drawing of every board."""

from __future__ import annotations

from pathlib import Path

from pipeline.core.model import Outcome
from pipeline.core.order import OrderFolder
from pipeline.outputs.boards import FOLDER, BoardFiles
from pipeline.outputs.cut_file import CutFiles
from pipeline.outputs.shop_sheet import write_shop_sheet
from pipeline.shopfloor.plan import ShopPlan

SHEET = "shop.pdf"


def write_shop(
    outcome: Outcome, folder: OrderFolder, plan: ShopPlan, target: Path, files: CutFiles, *, whole: bool
) -> tuple[list[str], tuple[str, ...]]:
    """Write shop.pdf and boards/*.dxf. files: the order's cut files, for their placed letters. whole: False for a run
    of some rows, whose boards stand beside those of the whole order.

    Gives what was written, as the summary names it, and what is to be said about boards that were not.
    """
    write_shop_sheet(outcome, folder, plan, target / SHEET)
    written = [SHEET]
    boards = BoardFiles(outcome, plan, target, files, whole=whole).write()
    fronts = len(boards.names) - boards.backs
    if fronts:
        also = f", {boards.backs} with a back" if boards.backs else ""
        written.append(f"{FOLDER}/ ({fronts} of {len(plan.boards.boards) if plan.boards else 0} boards{also})")
    return written, boards.said
