"""An order as it is now, for the commands that have to know it: read, set and checked, with nothing written."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.core.model import Outcome
from pipeline.core.order import OrderFolder

if TYPE_CHECKING:
    from pipeline.signoff.release import Made

Say = Callable[[str], None]
"""Where a command's words go, a text at a time, without a final newline."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Looked:
    """The order now. target: its output folder; made: the files of a plaque as the order makes them now."""

    folder: OrderFolder
    outcome: Outcome
    target: Path
    made: Made


Look = Callable[[str | Path, Path | None], Looked]
"""(order, output folder or None) -> the order now. CannotRun when it cannot be read."""
