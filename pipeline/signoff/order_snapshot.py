"""The current state of an order for commands that need it: read, set and checked, with nothing written."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.core.config.order import OrderFolder
from pipeline.core.model import Outcome
from pipeline.signoff.records.ledger_entry import LedgerEntry
from pipeline.signoff.sign_off import SignOff, build_sign_off

if TYPE_CHECKING:
    from pipeline.outputs.cut_files.cut_files import CutFiles
    from pipeline.signoff.release_files import Made

Say = Callable[[str], None]
"""Prints a command's output, a text at a time, without a final newline."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OrderSnapshot:
    """The current order. target: its output folder; made: the files of a plaque as the order makes them now; resolved:
    cutter and limits, see `fingerprint.list_cutting_values`; files: the order's cut files, for sheets of several
    pieces."""

    folder: OrderFolder
    outcome: Outcome
    target: Path
    made: Made
    resolved: tuple[tuple[str, str | float], ...] = ()
    files: CutFiles | None = None

    def build_sign_off(self, entries: Sequence[LedgerEntry]) -> SignOff:
        """Return what the ledger says about this order."""
        return build_sign_off(entries, self.folder, self.outcome.plaques, self.outcome.blank, self.resolved)


Look = Callable[[str | Path, Path | None], OrderSnapshot]
"""(order, output folder or None) -> the order now. CannotRun when it cannot be read."""
