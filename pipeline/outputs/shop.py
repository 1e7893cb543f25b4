"""Everything the shop floor gets from a run: the shop sheet, and a drawing of every board."""

from __future__ import annotations

from pathlib import Path

from pipeline.core.model import Outcome
from pipeline.core.order import OrderFolder
from pipeline.outputs.boards import FOLDER, write_boards
from pipeline.outputs.shop_sheet import write_shop_sheet
from pipeline.shopfloor.plan import ShopPlan

SHEET = "shop.pdf"


def write_shop(outcome: Outcome, folder: OrderFolder, plan: ShopPlan, target: Path, *, whole: bool) -> list[str]:
    """Write shop.pdf and, for a whole run, boards/*.dxf. Gives what was written, as the summary names it."""
    write_shop_sheet(outcome, folder, plan, target / SHEET)
    written = [SHEET]
    if whole:
        boards = write_boards(outcome, folder, plan, target)
        if boards:
            written.append(f"{FOLDER}/ ({len(boards)} of {len(plan.boards.boards) if plan.boards else 0} boards)")
    return written
