"""The files beside the DXF that an order asks for: written from the same plan, read back, judged. What reads and writes
them comes in only with an order that asks for some."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pipeline.outputs.cutting.flat import Kind, Paths, Said, drawn
from pipeline.outputs.cutting.plan import Plan

if TYPE_CHECKING:
    from pipeline.outputs.cutting.flat_judge import FlatJudge


@dataclass(slots=True)
class _One:
    paths: Paths
    judge: FlatJudge


class Also:
    """The SVG and PDF files of one order."""

    def __init__(self, kinds: Sequence[Kind], size: tuple[float, float], names: dict[str, str]) -> None:
        """size: of the blank, mm. names: our layer names -> the shop's."""
        self.kinds: tuple[Kind, ...] = tuple(sorted(set(kinds)))
        self._size, self._names = size, names
        self._of: dict[Kind, _One] = {}
        if self.kinds:
            from pipeline.outputs.cutting.flat_judge import FlatJudge

            self._of = {kind: _One(Paths(kind, size[1]), FlatJudge(kind, size, names)) for kind in self.kinds}

    def drawing(self, kind: Kind, plan: Plan, said: Said) -> bytes:
        """The bytes of one file."""
        from pipeline.outputs.cutting.page import page
        from pipeline.outputs.cutting.svg import svg

        groups = [(layer, self._of[kind].paths.of(pieces)) for layer, pieces in drawn(plan)]
        return (svg if kind == "svg" else page)(self._size, groups, self._names, said)

    def prove(self, kind: Kind, data: bytes, plan: Plan, fingerprint: str) -> float:
        """The farthest a file lies from the DXF's curves, mm. Unreadable or Differs when it is not the same drawing."""
        from pipeline.outputs.cutting.flat_reader import read_pdf, read_svg

        read = read_svg(data) if kind == "svg" else read_pdf(data)
        return self._of[kind].judge.judge(read, plan, fingerprint)
