"""The papers for the shop floor: the shop sheet, and a drawing of every board or jig load."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from pipeline.core.catalogue import list_stopping
from pipeline.core.config.order import OrderFolder
from pipeline.core.findings import Finding
from pipeline.core.model import Outcome
from pipeline.outputs.cut_files.board_files import BoardFiles
from pipeline.outputs.cut_files.cut_files import CutFiles
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
    asked = None if part is None else part.unsigned
    laid_out = None if plan.boards is None else len(plan.boards.boards)
    return _write_together(drawings, asked, laid_out, list_stopping(outcome.findings, "boards"), "board", "boards")


def write_jigs(
    outcome: Outcome, folder: OrderFolder, plan: ShopPlan, target: Path, files: CutFiles
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Write jigs/*.dxf, the loads of the jig, as `write_boards` writes boards."""
    drawings, part = JigFiles(outcome, plan, target, files), folder.order.jig
    asked = None if part is None else part.unsigned
    laid_out = None if plan.jigs is None else len(plan.jigs.loads)
    return _write_together(drawings, asked, laid_out, list_stopping(outcome.findings, "jigs"), "jig", "jig loads")


def _write_together(
    drawings: BoardFiles | JigFiles,
    asked: bool | None,
    laid_out: int | None,
    stops: Sequence[Finding],
    table: str,
    noun: str,
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Write the drawings of several pieces each. asked: whether unsigned pieces are drawn too; None when the order
    file has no such table. laid_out: how many drawings there would be; None when they were not laid out, for the
    findings `stops`."""
    if asked is False and laid_out is not None:
        drawings.drawings.finish(())
        return (), (
            f"{noun.capitalize()} are drawn by `plaques release`, with what may be cut by then ([{table}] unsigned "
            "draws all now).",
        )
    written = drawings.write()
    said = written.said
    if asked is not None and laid_out is None:
        said = (f"No {noun}: {', '.join(dict.fromkeys(f.code for f in stops))}, told above.", *said)
    fronts = len(written.names) - written.backs
    if not fronts:
        return (), said
    backs = f", {written.backs} with a back" if written.backs else ""
    return (f"{drawings.drawings.folder}/ ({fronts} of {laid_out or 0} {noun.rpartition(' ')[2]}{backs})",), said
