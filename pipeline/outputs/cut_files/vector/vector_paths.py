"""A cut file's curves as the paths of an SVG or PDF file, for machines that take those.

What is for reference only (zones, keep-outs) is left out, since a flat drawing has no layer that is sure not to be
cut; so are the centre lines of grooves, whose depth it cannot carry, and registration marks, which lie off its page.
Numbers are mm in steps of 0.1 µm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.curves import Array
from pipeline.outputs.cut_files.dxf.template import join_in_one_line
from pipeline.outputs.cut_files.file_contents import Contour, FileContents, PlacedContours
from pipeline.outputs.cut_files.vector.segments import split_segments

Kind = Literal["svg", "pdf"]

DECIMALS = 4
"""Of mm."""

HAIRLINE = 0.08
"""mm, of the lines of an SVG, which has none without width: a printer's hairline, a quarter of a point, is 0.088 mm
(common practice, no source). Thinner ones do not show on a screen."""

PAPER_COLOURS = {
    "EDGE": "#000000",
    "ENGRAVE": "#0000FF",
    "LINE": "#BF00FF",
    "POCKET": "#FF7F00",
    "REST": "#FFBF00",
}
"""The colours of the same layers in the DXF files, on white: colour numbers 7, 5, 200, 30, 40."""


@dataclass(frozen=True, slots=True)
class FileProperties:
    """Properties that a file states about itself."""

    fingerprint: str
    order: str  # the order's code
    title: str
    client: str
    side: str
    tool: str
    text: tuple[str, ...]  # the lettering, by line

    def format_lines(self) -> list[str]:
        """Format them for people who open the file."""
        part_of = f"order {self.order}: {self.title}" + (f", {self.client}" if self.client else "")
        said = (*self.text, f"fingerprint {self.fingerprint}", part_of, self.side, self.tool)
        return [line for line in map(join_in_one_line, said) if line]


@dataclass(frozen=True, slots=True, eq=False)
class _PathTemplate:
    """Text with %s for numbers; which numbers: of the points' coordinates, then of the radii."""

    text: str
    points: Array  # (n, 2), the contours' own unit
    radii: Array  # (m,) in the same unit
    order: NDArray[np.intp]


def list_drawn_layers(plan: FileContents) -> list[tuple[str, tuple[PlacedContours, ...]]]:
    """List what of a cut file goes into a flat drawing, by layer in the order of cutting."""
    return [(layer, pieces) for layer, pieces in plan.layers if layer in PAPER_COLOURS]


@dataclass(slots=True)
class SvgPaths:
    """Writes contours as the paths of an SVG file. Keeps what it made of letters it has seen."""

    height: float  # of the blank, mm: SVG counts down from the top
    _kept: dict[tuple[str, int], _PathTemplate] = field(default_factory=dict)

    def format(self, pieces: Sequence[PlacedContours]) -> str:
        return "".join(map(self._write_path, pieces))

    def _write_path(self, piece: PlacedContours) -> str:
        template = self._get_template(piece)
        points = piece.place(template.points)
        points = np.column_stack((points[:, 0], self.height - points[:, 1]))
        numbers = np.concatenate((points.ravel(), template.radii * piece.scale))[template.order]
        return template.text % tuple((np.round(numbers, DECIMALS) + 0.0).tolist())

    def _get_template(self, piece: PlacedContours) -> _PathTemplate:
        if piece.key is None:
            return self._build_template(piece.contours)
        if piece.key not in self._kept:
            self._kept[piece.key] = self._build_template(piece.contours)
        return self._kept[piece.key]

    def _build_template(self, contours: Sequence[Contour]) -> _PathTemplate:
        text: list[str] = []
        points: list[Array] = []
        radii: list[float] = []
        order: list[tuple[int, int]] = []  # (0, a point) or (1, a radius)
        for contour in contours:
            start, steps = split_segments(contour, arcs=True)
            words = []
            for point, step in [(start, None), *((step.end, step) for step in steps)]:
                if step is None:
                    words.append(self._list_words("M"))
                elif step.radius:
                    # With y down, as in SVG, the sweep of increasing angles is clockwise (SVG 1.1, 8.3.8).
                    words.append(f"A%s %s 0 0 {int(step.radius < 0)} %s %s")
                    order += [(1, len(radii))] * 2
                    radii.append(abs(step.radius))
                elif step.inner is not None:
                    words.append(self._list_words("C"))
                    for inner in step.inner:
                        order.append((0, len(points)))
                        points.append(inner)
                else:
                    words.append(self._list_words("L"))
                order.append((0, len(points)))
                points.append(point)
            text.append(self._write_contour(words, contour.closed))
        return _PathTemplate(
            "".join(text),
            np.array(points).reshape(-1, 2),
            np.array(radii),
            np.array([n for kind, k in order for n in ((2 * k, 2 * k + 1) if kind == 0 else (2 * len(points) + k,))]),
        )

    def _list_words(self, letter: Literal["M", "L", "C"]) -> str:
        return letter + " ".join(["%s %s"] * (3 if letter == "C" else 1))

    def _write_contour(self, words: list[str], closed: bool) -> str:
        return f'<path d="{"".join(words)}{"Z" if closed else ""}"/>\n'


@dataclass(frozen=True, slots=True, eq=False)
class Track:
    """One contour on a page: its first point, then the end of each line, or both control points and the end of each
    cubic. mm."""

    closed: bool
    steps: tuple[tuple[float, ...], ...]


@dataclass(slots=True)
class PageTracks:
    """Contours as a page has them, which knows no arcs. Keeps what it made of letters it has seen."""

    _kept: dict[tuple[str, int], list[tuple[bool, list[int], Array]]] = field(default_factory=dict)

    def trace(self, pieces: Sequence[PlacedContours]) -> list[Track]:
        return [track for piece in pieces for track in self._list_tracks(piece)]

    def _list_tracks(self, piece: PlacedContours) -> list[Track]:
        known = None if piece.key is None else self._kept.get(piece.key)
        if known is None:
            known = [self._split_contour(contour) for contour in piece.contours]
            if piece.key is not None:
                self._kept[piece.key] = known
        out = []
        for closed, counts, points in known:
            flat = (np.round(piece.place(points), DECIMALS) + 0.0).ravel().tolist()
            steps, at = [], 0
            for count in counts:
                steps.append(tuple(flat[at : at + 2 * count]))
                at += 2 * count
            out.append(Track(closed, tuple(steps)))
        return out

    def _split_contour(self, contour: Contour) -> tuple[bool, list[int], Array]:
        start, steps = split_segments(contour, arcs=False)
        points, counts = [start], [1]
        for step in steps:
            points += [*(step.inner if step.inner is not None else ()), step.end]
            counts.append(1 if step.inner is None else 3)
        return contour.closed, counts, np.array(points)
