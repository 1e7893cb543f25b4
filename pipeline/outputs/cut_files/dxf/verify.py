"""Verification that a file, read back, is the artwork: counts, layers, unit, closedness, and distance.

The read coordinates are held against the artwork's own placing of each letter, worked out here a second time with
complex numbers. How far a fitted letter is from its outline was measured both ways when it was fitted; how far the file
is from the fitted letter is measured here; the sum is the farthest the file can lie from the artwork.
"""

from __future__ import annotations

import cmath
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pipeline.core.storage.lru_cache import LruCache
from pipeline.core.units import UnitName, Units
from pipeline.cutting.v_carving import measure_travel
from pipeline.geometry.curves import Array, Chain
from pipeline.outputs.cut_files.dxf.dxf_reader import ReadCurve, ReadDrawing
from pipeline.outputs.cut_files.dxf.entities import BULGE_DECIMALS, ROUNDING
from pipeline.outputs.cut_files.dxf.template import ACADVER
from pipeline.outputs.cut_files.file_contents import (
    ENGRAVE,
    GROOVE,
    ROUGH,
    Contour,
    FileContents,
    PlacedContours,
    group_blocks,
)

Complex = NDArray[np.complex128]

BULGE_ROUNDING = 10.0**-BULGE_DECIMALS


class ArtworkDiffers(Exception):
    """The file is not the artwork. The message says in what."""


@dataclass(frozen=True, slots=True)
class ReadBackFigures:
    """The measurements of one file. Lengths mm, areas mm²."""

    deviation: float  # greatest distance from file to artwork or artwork to file
    vertices: int  # of the lettering and figures
    contours: int  # of the lettering and figures
    area: float  # inside these contours; 0 with splines
    grooves: tuple[tuple[str, float], ...] = ()  # number and lengths of centre lines, if the file has any


@dataclass(frozen=True, slots=True, eq=False)
class ExpectedContents:
    """The expected contents of an order's file besides its lettering."""

    version: str
    unit: UnitName
    names: dict[str, str]  # our layer names -> the shop's
    tolerance: float  # mm


@dataclass(frozen=True, slots=True, eq=False)
class _ExpectedContours:
    """The contours of a piece in their own unit: vertices and bulges one after another."""

    points: Complex
    bulges: Array
    chains: bool  # without splines


class DrawingVerifier:
    """Judges the files of one order. Keeps what it worked out of letters it has seen, and knows rows again that were
    held against these very curves before."""

    def __init__(self, expected: ExpectedContents) -> None:
        self._expected = expected
        self._rows: LruCache[tuple[float, float | None]] = LruCache(256)
        self._letters: dict[tuple[str, int], _ExpectedContours] = {}

    def verify(self, read: ReadDrawing, plan: FileContents) -> ReadBackFigures:
        """The figures of a file that is the artwork. Differs otherwise."""
        expected = self._expected
        _verify_header(read, expected)
        groups = _group_by_layer(read)
        figures = ReadBackFigures(0.0, 0, 0, 0.0)
        for layer, pieces in plan.layers:
            found = groups.pop(expected.names[layer], [])
            seen = self._compare(found, pieces, layer)
            if layer == ENGRAVE:
                figures = seen
        lines = groups.pop(expected.names[GROOVE], []) if plan.grooves else []
        if plan.roughing:
            _compare_lines(groups.pop(expected.names[ROUGH], []), plan.roughing, expected)
        if groups:
            raise ArtworkDiffers(f"it holds {sum(map(len, groups.values()))} more on layer {', '.join(sorted(groups))}")
        return replace(figures, grooves=_compare_grooves(lines, plan.grooves, expected)) if plan.grooves else figures

    def _compare(self, found: Sequence[ReadCurve], pieces: Sequence[PlacedContours], layer: str) -> ReadBackFigures:
        count = sum(len(piece.contours) for piece in pieces)
        if len(found) != count:
            raise ArtworkDiffers(f"{len(found)} contours on {layer} instead of {count}")
        off, area, straight, at = 0.0, 0.0, False, 0
        for row in group_blocks(pieces):
            end = at + sum(len(piece.contours) for piece in row)
            curves = tuple(found[at:end])
            own_off, own_area = self._rows.get_or_compute(
                (row, curves),
                lambda: self._verify_row(curves, row, layer, at),  # noqa: B023
            )
            off, at = max(off, own_off), end
            straight |= own_area is None
            area += own_area or 0.0
        return ReadBackFigures(off, sum(len(read.points) for read in found), len(found), 0.0 if straight else abs(area))

    def _verify_row(
        self, found: Sequence[ReadCurve], pieces: Sequence[PlacedContours], layer: str, first: int
    ) -> tuple[float, float | None]:
        """Return how far the curves of a row lie from the artwork, mm, and the area inside them, mm²; None where
        splines are. first: how many curves of the layer stand before them."""
        contours = [contour for piece in pieces for contour in piece.contours]
        for number, (read, contour) in enumerate(zip(found, contours, strict=True), first + 1):
            _require_same_kind(read, contour, layer, number)
        if not contours:
            return 0.0, 0.0
        wanted = [self._build_expected(piece) for piece in pieces]
        points = np.concatenate([read.points for read in found]) * Units(self._expected.unit).mm
        there = points[:, 0] + 1j * points[:, 1]
        shift = float(np.abs(there - _place_expected(pieces, wanted)).max())
        if not shift <= ROUNDING:
            raise ArtworkDiffers(f"a vertex on {layer} is {shift:.4f} mm out of place")
        off = max(piece.deviation for piece in pieces) + shift
        if off > self._expected.tolerance + ROUNDING:
            raise ArtworkDiffers(
                f"{layer} lies {off:.4f} mm from the artwork; {self._expected.tolerance:g} mm are allowed"
            )
        if not all(w.chains for w in wanted):
            return off, None
        bulges = np.concatenate([read.bulges for read in found])
        bent = np.abs(bulges - np.concatenate([w.bulges for w in wanted]))
        if not bent.max() <= BULGE_ROUNDING:
            ends = np.cumsum([len(read.points) for read in found])
            number = int(np.searchsorted(ends, np.argmax(~(bent <= BULGE_ROUNDING)), side="right"))
            raise ArtworkDiffers(f"an arc of contour {first + number + 1} on {layer} bends otherwise")
        return off, _compute_area(there, bulges, found)

    def _build_expected(self, piece: PlacedContours) -> _ExpectedContours:
        if piece.key is None:
            return _build_expected(piece.contours)
        known = self._letters.get(piece.key)
        if known is None:
            known = self._letters[piece.key] = _build_expected(piece.contours)
        return known


def verify_drawing(read: ReadDrawing, plan: FileContents, expected: ExpectedContents) -> ReadBackFigures:
    """The figures of a single file that is the artwork. Differs otherwise."""
    return DrawingVerifier(expected).verify(read, plan)


def _verify_header(read: ReadDrawing, expected: ExpectedContents) -> None:
    if read.version != ACADVER[expected.version]:
        raise ArtworkDiffers(f"its version is {read.version}, not {ACADVER[expected.version]}")
    unit = None if expected.version == "R12" else expected.unit
    if read.unit != unit:
        raise ArtworkDiffers(f"its unit is {read.unit or 'not given'}, not {unit or 'left out'}")
    handles = [curve.handle for curve in read.curves]
    if len(set(handles)) != len(handles):
        raise ArtworkDiffers("two of its entities have one handle")


def _group_by_layer(read: ReadDrawing) -> dict[str, list[ReadCurve]]:
    groups: dict[str, list[ReadCurve]] = {}
    for curve in read.curves:
        if curve.layer not in read.layers:
            raise ArtworkDiffers(f"layer {curve.layer} is used but not in its table")
        groups.setdefault(curve.layer, []).append(curve)
    return groups


def _require_same_kind(read: ReadCurve, contour: Contour, layer: str, number: int) -> None:
    if read.closed != contour.closed:
        raise ArtworkDiffers(f"contour {number} on {layer} is {'closed' if read.closed else 'open'}")
    if isinstance(contour, Chain):
        if read.kind != "polyline" or len(read.points) != len(contour.vertices):
            count = f"{len(read.points)} vertices instead of {len(contour.vertices)}"
            raise ArtworkDiffers(f"contour {number} on {layer} has {count}")
    elif (
        read.kind != "spline"
        or read.degree != contour.degree
        or len(read.points) != len(contour.control)
        or list(read.knots) != contour.knots
    ):
        raise ArtworkDiffers(f"contour {number} on {layer} is not the spline it should be")


def _build_expected(contours: Sequence[Contour]) -> _ExpectedContours:
    points = np.concatenate([c.vertices[:, :2] if isinstance(c, Chain) else c.control for c in contours])
    bulges = [c.vertices[:, 2] if isinstance(c, Chain) else np.zeros(len(c.control)) for c in contours]
    chains = all(isinstance(c, Chain) for c in contours)
    return _ExpectedContours(points[:, 0] + 1j * points[:, 1], np.concatenate(bulges), chains)


def _place_expected(pieces: Sequence[PlacedContours], wanted: Sequence[_ExpectedContours]) -> Complex:
    """The vertices of the pieces in mm, as complex numbers."""
    counts = [len(w.points) for w in wanted]
    turned = np.repeat([piece.scale * cmath.exp(1j * piece.turn) for piece in pieces], counts)
    shift = np.repeat([complex(piece.x, piece.y) for piece in pieces], counts)
    placed: Complex = np.concatenate([w.points for w in wanted]) * turned + shift
    return placed


def _compute_area(there: Complex, bulges: Array, found: Sequence[ReadCurve]) -> float:
    """The area inside the closed contours, clockwise ones negative (holes): polygon plus what lies beyond chords,
    r² (θ - sin θ) / 2 for each arc (published DXF reference: bulge = tan θ/4)."""
    counts = np.array([len(read.points) for read in found])
    closed = np.repeat([read.closed for read in found], counts)
    ends = np.cumsum(counts)
    following = np.arange(1, len(there) + 1)
    following[ends - 1] = ends - counts
    chord = there[following] - there
    area = np.sum((np.conj(there - there[0]) * chord).imag[closed]) / 2
    bent = np.flatnonzero(closed & (bulges != 0))
    b = bulges[bent]
    radius = np.abs(chord[bent]) * (1 + b * b) / (4 * np.abs(b))
    angle = 4 * np.arctan(b)
    return float(area + np.sum(radius**2 * (angle - np.sin(angle))) / 2)


def _compare_grooves(
    found: Sequence[ReadCurve], grooves: Sequence[Array], expected: ExpectedContents
) -> tuple[tuple[str, float], ...]:
    """Compare how many lines there are, how far the bit cuts along them, how far it goes above the face between
    them."""
    lines = _compare_lines(found, grooves, expected)
    if not lines:
        return ()
    twice = _run_twice(lines)
    if twice is not None:
        raise ArtworkDiffers(f"a groove is run twice at x {twice[0]:.3f}, y {twice[1]:.3f} mm")
    way = measure_travel(lines)
    return (("groove_air", way.in_air), ("groove_length", way.cutting), ("grooves", float(len(lines))))


def _compare_lines(found: Sequence[ReadCurve], grooves: Sequence[Array], expected: ExpectedContents) -> list[Array]:
    """3-D lines of the bit as they were read, mm, which are those that were written."""
    if len(found) != len(grooves):
        raise ArtworkDiffers(f"{len(found)} centre lines of grooves instead of {len(grooves)}")
    lines = [read.points * Units(expected.unit).mm for read in found]
    for read, there, line in zip(found, lines, grooves, strict=True):
        if read.kind != "polyline-3d" or there.shape != line.shape or not np.abs(there - line).max() <= ROUNDING:
            raise ArtworkDiffers("a centre line of a groove is out of place")
    return lines


def _run_twice(lines: Sequence[Array]) -> tuple[float, float] | None:
    """The start of a stretch that is run twice, in whichever direction."""
    stretches = np.concatenate([np.hstack((line[:-1, :2], line[1:, :2])) for line in lines])
    whole = np.rint(stretches / ROUNDING).astype(np.int64)
    turned = (whole[:, 0] > whole[:, 2]) | ((whole[:, 0] == whole[:, 2]) & (whole[:, 1] > whole[:, 3]))
    whole[turned] = whole[turned][:, [2, 3, 0, 1]]
    _, first, count = np.unique(whole, axis=0, return_index=True, return_counts=True)
    twice = first[count > 1]
    return (float(stretches[twice[0], 0]), float(stretches[twice[0], 1])) if len(twice) else None
