"""Files of a release that hold several pieces: boards, and whatever else is cut from one set-up.

They hold what is to be made now and nothing else. `RELEASE_SHEETS` is the one place where a further kind is added.
"""

from __future__ import annotations

import tempfile
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from pipeline.core.config.order import OrderFolder
from pipeline.core.list_row import ListRow
from pipeline.core.model import Outcome
from pipeline.outputs.cut_files.board_files import BoardFiles
from pipeline.outputs.cut_files.cut_files import CutFiles
from pipeline.outputs.cut_files.jig_files import JigFiles
from pipeline.shopfloor.board_layout import PieceToPlace
from pipeline.shopfloor.shop_plan import ShopPlan


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ToMake:
    """The pieces to make now. outcome: of the run, its plaques with as many copies as are to be made; plan: of the shop
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
    pieces: tuple[tuple[ListRow, str, int], ...]


def write_board_sheets(now: ToMake) -> Iterator[ReleaseSheet]:
    """A drawing of each board, and one of its back where that is lettered. CannotRun when one differs, read back."""
    layout = now.plan.boards
    if layout is None or now.folder.order.board is None:
        return
    data = _write_to_bytes(lambda target: BoardFiles(now.outcome, now.plan, target, now.files).write().names)
    for board in layout.boards:
        yield from _build_sheets("board", board.number, data, [p.piece for p in board.places])


def write_jig_sheets(now: ToMake) -> Iterator[ReleaseSheet]:
    """A drawing of each load of the jig, likewise."""
    layout = now.plan.jigs
    if layout is None or now.folder.order.jig is None:
        return
    data = _write_to_bytes(lambda target: JigFiles(now.outcome, now.plan, target, now.files).write().names)
    for load in layout.loads:
        yield from _build_sheets("jig", load.number, data, [p.piece for p in load.pieces])


def _write_to_bytes(write: Callable[[Path], tuple[str, ...]]) -> dict[str, bytes]:
    """Return what is written into a folder of its own, by name below it."""
    with tempfile.TemporaryDirectory() as aside:
        return {name: (Path(aside) / name).read_bytes() for name in write(Path(aside))}


def _build_sheets(
    kind: str, number: int, data: Mapping[str, bytes], pieces: Iterable[PieceToPlace]
) -> Iterator[ReleaseSheet]:
    own = {name: held for name, held in data.items() if _find_number(name) == number}
    on_it = Counter((p.row, p.fingerprint) for p in pieces if p.signed)
    if own:
        held = tuple((row, mark, n) for (row, mark), n in on_it.items())
        yield ReleaseSheet(kind=kind, number=number, files=tuple(own.items()), pieces=held)


def _find_number(name: str) -> int:
    """`boards/board-03-back.dxf` → 3."""
    return int(PurePosixPath(name).stem.split("-")[1])


RELEASE_SHEETS: tuple[Callable[[ToMake], Iterator[ReleaseSheet]], ...] = (write_board_sheets, write_jig_sheets)
"""Each gives the sheets of one kind. A further kind of cut file with several pieces on it is added here; `plaques mark`
knows it by its `kind`, and the accounts of the release hold it to the pieces it names."""


def build_release_sheets(now: ToMake) -> tuple[ReleaseSheet, ...]:
    """All sheets of a release. CannotRun when one cannot be made."""
    return tuple(sheet for kind in RELEASE_SHEETS for sheet in kind(now))
