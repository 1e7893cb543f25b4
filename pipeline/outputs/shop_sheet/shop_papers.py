"""Everything the shop floor gets from a run: the shop sheet, and a drawing of every board."""

from __future__ import annotations

from pathlib import Path

from pipeline.core.catalogue import stopping
from pipeline.core.model import Outcome
from pipeline.core.order import OrderFolder
from pipeline.outputs.cut_files.board_files import FOLDER, BoardFiles, WrittenBoards
from pipeline.outputs.cut_files.cut_files import CutFiles
from pipeline.outputs.shop_sheet.shop_sheet import write_shop_sheet
from pipeline.shopfloor.shop_plan import ShopPlan

SHEET = "shop.pdf"


def write_shop(
    outcome: Outcome, folder: OrderFolder, plan: ShopPlan, target: Path, files: CutFiles
) -> tuple[list[str], tuple[str, ...]]:
    """Write shop.pdf and, where the order asks for boards of unsigned pieces too, boards/*.dxf, but none that a finding
    stops; those of earlier runs are then taken away. Boards of signed pieces come with the release. files: the order's
    cut files, for their placed letters.

    Gives what was written, as the summary names it, and what is to be said about papers and boards that were not.
    """
    written, said = [], list[str]()
    refused = stopping(outcome.findings, "paper")
    if refused:
        (target / SHEET).unlink(missing_ok=True)
        said.append(f"No shop sheet: {', '.join(dict.fromkeys(f.code for f in refused))}, told above.")
    else:
        write_shop_sheet(outcome, folder, plan, target / SHEET)
        written.append(SHEET)
    drawings = BoardFiles(outcome, plan, target, files)
    part = folder.order.board
    if part is not None and not part.unsigned:
        drawings.clear()
        if plan.boards is not None:
            said.append("Boards: `plaques release` draws them, with what may be cut then.")
        boards = WrittenBoards()
    else:
        boards = drawings.write()
    if folder.order.board is not None and plan.boards is None:
        codes = dict.fromkeys(f.code for f in stopping(outcome.findings, "boards"))
        said.append(f"No boards: {', '.join(codes)}, told above.")
    fronts = len(boards.names) - boards.backs
    if fronts:
        also = f", {boards.backs} with a back" if boards.backs else ""
        written.append(f"{FOLDER}/ ({fronts} of {len(plan.boards.boards) if plan.boards else 0} boards{also})")
    return written, (*said, *boards.said)
