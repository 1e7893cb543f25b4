"""Contents of a cut file in their order: the same for every kind of file and for the judge of the read-back.

*Placed*: contours in their own unit with the place they go to. *Row order*: letters stay whole and in their row; of the
rows left, and their two ends, the nearest comes next, so that the way between cuts stays short.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np

from pipeline.core.model import Artwork, Blank, Piece, SetLine
from pipeline.cutting.contours import ContourFitter
from pipeline.geometry.curves import Array, Chain
from pipeline.geometry.flatten import flatten_chain
from pipeline.geometry.offset import OffsetOutline
from pipeline.geometry.splines import Spline

EDGE, ENGRAVE, FLOOR, GROOVE, POCKET, REST = "EDGE", "ENGRAVE", "FLOOR", "GROOVE", "POCKET", "REST"
ROUGH, LINE = "ROUGH", "LINE"
ZONE, KEEP_OUT, REGISTRATION = "ZONE", "KEEP_OUT", "REGISTRATION"

Contour = Chain | Spline


@dataclass(frozen=True, slots=True, eq=False)
class PlacedContours:
    """Contours and where they go: scaled (mm per unit of theirs), turned (radians), shifted (mm)."""

    contours: tuple[Contour, ...]
    scale: float = 1.0
    x: float = 0.0
    y: float = 0.0
    turn: float = 0.0
    key: tuple[str, int] | None = None  # equal keys mean equal contours, so that derived values can be cached
    deviation: float = 0.0  # mm, of the contours from the artwork
    piece: Piece | None = None  # of the artwork, for lettering
    opens: bool = False  # set on the first contour of a row, in cutting order

    def place(self, points: Array) -> Array:
        """Points (n, 2) of the contours in mm."""
        if self.turn:
            c, s = math.cos(self.turn) * self.scale, math.sin(self.turn) * self.scale
            points = points @ np.array([[c, s], [-s, c]])
        elif self.scale != 1.0:
            points = points * self.scale
        moved: Array = points + (self.x, self.y)
        return moved

    def get_ends(self) -> tuple[Array, Array]:
        """Return where cutting begins, and where it is done, mm."""
        first, last = _list_points(self.contours[0]), self.contours[-1]
        done = _list_points(last)
        return self.place(first[:1])[0], self.place(done[:1] if last.closed else done[-1:])[0]


def place_contours(pieces: Sequence[PlacedContours], points: Sequence[Array]) -> Array:
    """The points of each piece in mm, one after another: what `PlacedContours.place` gives, for all of them at once."""
    if any(piece.turn for piece in pieces):
        return np.concatenate([piece.place(own) for piece, own in zip(pieces, points, strict=True)])
    counts = [len(own) for own in points]
    places = np.repeat(np.array([(piece.scale, piece.x, piece.y) for piece in pieces]), counts, axis=0)
    there: Array = np.concatenate(points) * places[:, :1] + places[:, 1:]
    return there


@dataclass(frozen=True, slots=True, eq=False)
class ExtraContours:
    """Contours that further steps add to a file, mm on the blank: 3-D centre lines of grooves (n, 3), and the loops the
    fine cutter still has to clean in pockets."""

    grooves: tuple[Array, ...] = ()
    rest: tuple[Chain, ...] = ()
    roughing: tuple[Array, ...] = ()  # passes before the grooves
    floor: tuple[tuple[Piece, tuple[Chain, ...]], ...] = ()  # by letter: what the flat cutter clears, at the origin


@dataclass(frozen=True, slots=True, eq=False)
class FileContents:
    """One drawing: flat contours by layer in the order of cutting, then the 3-D lines."""

    layers: tuple[tuple[str, tuple[PlacedContours, ...]], ...]
    grooves: tuple[Array, ...] = field(default=())
    roughing: tuple[Array, ...] = field(default=())  # passes before the grooves, on their own layer

    @property
    def lines(self) -> tuple[tuple[str, tuple[Array, ...]], ...]:
        """The 3-D lines by layer in the order of cutting."""
        return tuple((layer, lines) for layer, lines in ((ROUGH, self.roughing), (GROOVE, self.grooves)) if lines)

    def get_layer(self, layer: str) -> tuple[PlacedContours, ...]:
        return dict(self.layers).get(layer, ())


def _list_points(contour: Contour) -> Array:
    return contour.vertices[:, :2] if isinstance(contour, Chain) else contour.control


def mirror_chain(chain: Chain, width: float) -> Chain:
    """The chain as seen from the back: turned over about the upright middle line of the blank."""
    vertices = chain.vertices.copy()
    vertices[:, 0] = width - vertices[:, 0]
    vertices[:, 2] = -vertices[:, 2]
    return Chain(vertices, chain.closed)


def plan_engraved_contours(artwork: Artwork, fits: ContourFitter, side: str) -> tuple[PlacedContours, ...]:
    """Lettering and artwork of one side in the order of cutting. Equal lines of two plaques give the same pieces."""
    lines: list[SetLine] = [line for line in artwork.lines if line.side == side]
    lines += [figure for figure in artwork.figures if figure.side == side and figure.cut == "engrave"]
    return _order_rows(lines, fits)


def plan_followed_contours(artwork: Artwork, fits: ContourFitter, side: str) -> tuple[PlacedContours, ...]:
    """The lines of a client's artwork that are followed once, likewise."""
    return _order_rows([f for f in artwork.figures if f.side == side and f.cut == "line"], fits)


def _order_rows(lines: Sequence[SetLine], fits: ContourFitter) -> tuple[PlacedContours, ...]:
    rows = (fits.recent.get_or_compute(("rows", line), lambda: _list_directions(line, fits)) for line in lines)  # noqa: B023
    return tuple(_choose_short_way([row for of_line in rows for row in of_line]))


def group_blocks(pieces: Sequence[PlacedContours]) -> list[tuple[PlacedContours, ...]]:
    """The pieces row by row; none where a side has no lettering."""
    if not pieces:
        return []
    ends = [*(k for k, piece in enumerate(pieces) if piece.opens or k == 0), len(pieces)]
    return [tuple(pieces[i:j]) for i, j in pairwise(ends)]


@dataclass(frozen=True, slots=True, eq=False)
class _RowDirection:
    """A row cut from its first letter on, and from its last; where cutting begins and ends the first way."""

    there: tuple[PlacedContours, ...]
    back: tuple[PlacedContours, ...]
    first: Array
    last: Array


def _list_directions(line: SetLine, fits: ContourFitter) -> tuple[_RowDirection, ...]:
    rows = [row for row in _list_rows(line, fits) if row]
    return tuple(
        _RowDirection(_order_pieces(row), _order_pieces(row[::-1]), row[0].get_ends()[0], row[-1].get_ends()[1])
        for row in rows
    )


def _order_pieces(row: list[PlacedContours]) -> tuple[PlacedContours, ...]:
    return (replace(row[0], opens=True), *row[1:])


def _list_rows(line: SetLine, fits: ContourFitter) -> list[list[PlacedContours]]:
    """The rows of a line, each piece with its contours."""
    grown = iter(line.grown)
    rows = [[place_fitted(piece, fits, next(grown, None)) for piece in row.pieces] for row in line.rows]
    return [[p for p in row if p.contours] for row in rows]


def _get_half_tolerance(fits: ContourFitter) -> float:
    return fits.tolerance_mm if fits.curves == "lines" else 0.0


def place_fitted(piece: Piece, fits: ContourFitter, grown: OffsetOutline | None = None) -> PlacedContours:
    """A piece with its fit. grown: what replaces its outline, if it has an area to grow."""
    if grown is not None and grown.chains:
        fit, key = fits.fit_grown(piece.shape, grown, piece.scale), (f"{piece.shape.key} grown {piece.scale!r}", 0)
    else:
        fit, key = fits.fit(piece.shape, piece.scale), (piece.shape.key, fits.find_step(piece.scale))
    deviation = fit.deviation * piece.scale
    return PlacedContours(fit.contours, piece.scale, piece.x, piece.y, piece.turn, key, deviation, piece)


def plan_floor_contours(
    floors: Sequence[tuple[Piece, tuple[Chain, ...]]], fits: ContourFitter
) -> tuple[PlacedContours, ...]:
    """Plan what a flat cutter clears, letter by letter in their places."""
    return tuple(
        PlacedContours(
            fit_curves(chains, fits),
            1.0,
            piece.x,
            piece.y,
            piece.turn,
            (f"{piece.shape.key} floor {piece.scale!r}", 0),
            deviation=fits.tolerance_mm / 2,
        )
        for piece, chains in floors
    )


def fit_curves(chains: Sequence[Chain], fits: ContourFitter) -> tuple[Chain, ...]:
    """Chains as the order wants its curves: with `lines` arcs become chords, otherwise arcs stay."""
    if fits.curves != "lines":
        return tuple(chains)
    out = []
    for chain in chains:
        flat = flatten_chain(chain, fits.tolerance_mm)
        out.append(Chain(np.column_stack((flat, np.zeros(len(flat)))), chain.closed))
    return tuple(out)


def _choose_short_way(rows: list[_RowDirection]) -> list[PlacedContours]:
    """The rows one after another, each from the end that is nearest to where the last one was done. The first row
    begins at its first letter."""
    if not rows:
        return []
    left = list(rows)
    here = left[0].last
    out = list(left.pop(0).there)
    while left:
        tries = [
            (_measure_way(here, end), n, k) for n, row in enumerate(left) for k, end in enumerate((row.first, row.last))
        ]
        _, n, turned = min(tries)
        row = left.pop(n)
        out += row.back if turned else row.there
        here = row.first if turned else row.last
    return out


def _measure_way(a: Array, b: Array) -> float:
    return round(math.hypot(float(a[0] - b[0]), float(a[1] - b[1])), 6)


def plan_blank_layers(
    blank: Blank, fits: ContourFitter, side: str
) -> tuple[tuple[str, tuple[PlacedContours, ...]], ...]:
    """The layers of the blank in the order of cutting, reference last; seen from the back for that side.

    Pockets and keep-outs are the front's: they do not show in the drawing of the back.
    """

    def put(chains: Sequence[Chain]) -> tuple[PlacedContours, ...]:
        seen = [mirror_chain(c, blank.width) for c in chains] if side == "back" else list(chains)
        wanted = fit_curves(seen, fits)
        return (PlacedContours(wanted, deviation=_get_half_tolerance(fits)),) if wanted else ()

    front = side == "front"
    layers = [
        (POCKET, put(blank.pockets if front else ())),
        (EDGE, put((*blank.holes, blank.edge))),
        (ZONE, put([zone for _, zone in blank.zones])),
        (KEEP_OUT, put(blank.keep_outs if front else ())),
    ]
    return tuple((name, placed) for name, placed in layers if placed)
