"""Files of a release that hold several pieces: boards, and whatever else is cut from one set-up.

They hold what is to be made now and nothing else. `RELEASE_SHEETS` is the one place where a further kind is added.
"""

from __future__ import annotations

import tempfile
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from pipeline.core.model import Outcome, Plaque
from pipeline.core.order import OrderFolder
from pipeline.outputs.cut_files.board_files import FOLDER as BOARDS
from pipeline.outputs.cut_files.board_files import BoardFiles
from pipeline.outputs.cut_files.cut_files import CutFiles
from pipeline.shopfloor.shop_plan import ShopPlan


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ToMake:
    """What is to be made now. outcome: of the run, its plaques with as many copies as are to be made; plan: of the shop
    floor for them alone; files: the order's cut files."""

    folder: OrderFolder
    outcome: Outcome
    plan: ShopPlan
    files: CutFiles


@dataclass(frozen=True, slots=True, kw_only=True)
class ReleaseSheet:
    """One set-up: its files (name below the released folder, bytes) and whose pieces are on it (row, fingerprint,
    pieces). kind and number: how `plaques mark` is told of it, "board" 3."""

    kind: str
    number: int
    files: tuple[tuple[str, bytes], ...]
    pieces: tuple[tuple[int, str, int], ...]


def board_sheets(now: ToMake) -> Iterator[ReleaseSheet]:
    """A drawing of each board, and one of its back where that is lettered, read back as every cut file is. CannotRun
    when one differs."""
    layout = now.plan.boards
    if layout is None or now.folder.order.board is None:
        return
    with tempfile.TemporaryDirectory() as aside:
        target = Path(aside)
        written = BoardFiles(now.outcome, now.plan, target, now.files).write()
        data = {name: (target / name).read_bytes() for name in written.names}
    for board in layout.boards:
        own = {name: held for name, held in data.items() if _number_in(name) == board.number}
        pieces = Counter((p.piece.row, p.piece.fingerprint) for p in board.places if p.piece.signed)
        if own:
            yield ReleaseSheet(
                kind="board",
                number=board.number,
                files=tuple(own.items()),
                pieces=tuple((row, mark, n) for (row, mark), n in pieces.items()),
            )


def _number_in(name: str) -> int:
    """`boards/board-03-back.dxf` → 3."""
    return int(name.removeprefix(f"{BOARDS}/board-").split("-")[0].split(".")[0])


RELEASE_SHEETS: tuple[Callable[[ToMake], Iterator[ReleaseSheet]], ...] = (board_sheets,)
"""Each gives the sheets of one kind. A further kind of cut file with several pieces on it is added here; `plaques mark`
knows it by its `kind`, and the accounts of the release hold it to the pieces it names."""


def release_sheets(now: ToMake) -> tuple[ReleaseSheet, ...]:
    """All sheets of a release. CannotRun when one cannot be made."""
    return tuple(sheet for kind in RELEASE_SHEETS for sheet in kind(now))


def with_copies(plaque: Plaque, copies: int) -> Plaque:
    """The plaque with another number of pieces."""
    return replace(plaque, recipient=replace(plaque.recipient, copies=copies))
