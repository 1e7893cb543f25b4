"""Errors that end a run. What is wrong with one plaque is a finding, not an error."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from pipeline.core.printable import put_in_one_line


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One reason why a run can't go on: where it is, what was found, what was expected, what to do."""

    where: str
    found: str
    expected: str = ""
    remedy: str = ""

    def __str__(self) -> str:
        text = f"{self.where}: {self.found}"
        if self.expected:
            text += f"; expected {self.expected}"
        if self.remedy:
            text += f". {self.remedy[0].upper()}{self.remedy[1:]}"
        return put_in_one_line(text)


class CannotRun(Exception):
    """The order cannot be run (exit 2). Carries every fault found, not only the first."""

    def __init__(self, faults: Fault | Iterable[Fault]) -> None:
        self.faults: tuple[Fault, ...] = (faults,) if isinstance(faults, Fault) else tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))

    def __reduce__(self) -> tuple[type[CannotRun], tuple[tuple[Fault, ...]]]:
        """Support pickling, so that all faults survive the way out of another process."""
        return type(self), (self.faults,)


class WorkerDied(Exception):
    """A process of the run was ended from outside, or by a fault of a library: the run is not finished (exit 3)."""
