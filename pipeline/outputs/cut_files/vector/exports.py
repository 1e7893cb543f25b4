"""The files beside the DXF that an order asks for: written from the same plan, read back, judged. What reads and writes
them comes in only with an order that asks for some."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from pipeline.outputs.cut_files.file_contents import FileContents
from pipeline.outputs.cut_files.vector.vector_paths import FileProperties, Kind, PageTracks, SvgPaths, list_drawn_layers

if TYPE_CHECKING:
    from pipeline.outputs.cut_files.vector.verify_vector import VectorVerifier


class VectorExports:
    """The SVG and PDF files of one order."""

    def __init__(self, kinds: Sequence[Kind], size: tuple[float, float], names: dict[str, str]) -> None:
        """size: of the blank, mm. names: our layer names -> the shop's."""
        self.kinds: tuple[Kind, ...] = tuple(sorted(set(kinds)))
        self._size, self._names = size, names
        self._judges: dict[Kind, VectorVerifier] = {}
        self._paths, self._tracks = SvgPaths(size[1]), PageTracks()
        if self.kinds:
            from pipeline.outputs.cut_files.vector.verify_vector import VectorVerifier

            self._judges = {kind: VectorVerifier(kind, size, names) for kind in self.kinds}

    def write_drawing(self, kind: Kind, plan: FileContents, said: FileProperties) -> bytes:
        """The bytes of one file."""
        layers = list_drawn_layers(plan)
        if kind == "svg":
            from pipeline.outputs.cut_files.vector.svg_cuts import write_svg_document

            return write_svg_document(
                self._size, [(layer, self._paths.format(pieces)) for layer, pieces in layers], self._names, said
            )
        from pipeline.outputs.cut_files.vector.pdf_cuts import write_pdf_page

        return write_pdf_page(
            self._size, [(layer, self._tracks.trace(pieces)) for layer, pieces in layers], self._names, said
        )

    def prove(self, kind: Kind, data: bytes, plan: FileContents, fingerprint: str) -> float:
        """The farthest a file lies from the DXF's curves, mm. Unreadable or Differs when it is not the same drawing."""
        from pipeline.outputs.cut_files.vector.vector_reader import read_pdf, read_svg

        read = read_svg(data) if kind == "svg" else read_pdf(data)
        return self._judges[kind].verify(read, plan, fingerprint)
