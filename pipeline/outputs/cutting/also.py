"""The files beside the DXF that an order asks for: written from the same plan, read back, judged. What reads and writes
them comes in only with an order that asks for some."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from pipeline.outputs.cutting.flat import Kind, PageTracks, Said, SvgPaths, drawn
from pipeline.outputs.cutting.plan import Plan

if TYPE_CHECKING:
    from pipeline.outputs.cutting.flat_judge import FlatJudge


class Also:
    """The SVG and PDF files of one order."""

    def __init__(self, kinds: Sequence[Kind], size: tuple[float, float], names: dict[str, str]) -> None:
        """size: of the blank, mm. names: our layer names -> the shop's."""
        self.kinds: tuple[Kind, ...] = tuple(sorted(set(kinds)))
        self._size, self._names = size, names
        self._judges: dict[Kind, FlatJudge] = {}
        self._paths, self._tracks = SvgPaths(size[1]), PageTracks()
        if self.kinds:
            from pipeline.outputs.cutting.flat_judge import FlatJudge

            self._judges = {kind: FlatJudge(kind, size, names) for kind in self.kinds}

    def drawing(self, kind: Kind, plan: Plan, said: Said) -> bytes:
        """The bytes of one file."""
        layers = drawn(plan)
        if kind == "svg":
            from pipeline.outputs.cutting.svg import svg

            return svg(self._size, [(layer, self._paths.of(pieces)) for layer, pieces in layers], self._names, said)
        from pipeline.outputs.cutting.page import page

        return page(self._size, [(layer, self._tracks.of(pieces)) for layer, pieces in layers], self._names, said)

    def prove(self, kind: Kind, data: bytes, plan: Plan, fingerprint: str) -> float:
        """The farthest a file lies from the DXF's curves, mm. Unreadable or Differs when it is not the same drawing."""
        from pipeline.outputs.cutting.flat_reader import read_pdf, read_svg

        read = read_svg(data) if kind == "svg" else read_pdf(data)
        return self._judges[kind].judge(read, plan, fingerprint)
