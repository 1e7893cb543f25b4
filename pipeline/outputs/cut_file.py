"""One drawing for each plaque, written from what is the same for the whole order and proved by reading it back."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path as FilePath

import numpy as np

from pipeline.core.catalogue import files as kinds
from pipeline.core.codes import order_id
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.files import write_whole
from pipeline.core.findings import find
from pipeline.core.model import Blank, Piece, Plaque, SetLine
from pipeline.core.order import OrderFolder
from pipeline.geometry.arcfit import fit_arcs, fit_lines
from pipeline.geometry.curves import Array, Chain, Path
from pipeline.geometry.flatten import chain_area, outline_length, path_area
from pipeline.outputs.dxf_entities import Entities, cubics_of, mirrored
from pipeline.outputs.dxf_template import MARK, Prepared, prepare
from pipeline.outputs.manifest import Manifest
from pipeline.outputs.naming import cut_name
from pipeline.outputs.read_back import ReadBack, Unreadable, read_back

FIT_STEP = 1.02
"""Curves are fitted once for sizes this close together, at the tolerance of the largest of them."""

WRITTEN_EXACTLY = 2e-6
"""Farthest a coordinate read back may lie from the one meant, in the file's unit: the rounding of its last place."""


@dataclass(frozen=True, slots=True, eq=False)
class FittedShape:
    """A shape's contours as they are written, in font units; how far they are off; what area they stand for."""

    contours: tuple[Array, ...]  # (n, 3) x, y, bulge, or for splines (n, 2)
    closed: tuple[bool, ...]
    off: float
    area: float  # of the closed contours, signed
    true_area: float
    slack: float  # by how much the areas may differ: a curve no farther off than the tolerance, all along its length


@dataclass(frozen=True, slots=True, eq=False)
class _Drawn:
    """One contour in the file's unit, and its tolerance there."""

    points: Array
    closed: bool


class CutFiles:
    """Writes the cut files of one order."""

    def __init__(self, folder: OrderFolder, blank: Blank, target: FilePath, version: str) -> None:
        """version: of the tool. CannotRun when the target holds another order's files, or the format cannot do it."""
        order = folder.order
        self.order, self.blank, self.target = order, blank, target
        self.part, self.mm = order.files, order.unit.mm
        self.code = order_id(order.title, order.client)
        if self.part.version == "R12" and self.part.curves == "splines":
            raise CannotRun(
                Fault(
                    where=f"{folder.file}: [files] curves",
                    found="“splines” with version R12, which has none",
                    expected="“arcs” or “lines”, or a later version",
                )
            )
        self.tool = f"plaques {version}"
        self.manifest = Manifest(target, self.code, order.title)
        self._prepared: dict[str, Prepared] = {}
        self._fitted: dict[tuple[str, int], FittedShape] = {}

    # --- what run calls ---

    def make(self, plaque: Plaque) -> Plaque:
        """Write the plaque's files, read them back, compare. A stopped plaque gets none."""
        if not plaque.fingerprint or plaque.state == "stopped":
            return plaque
        names: dict[str, str] = {}
        figures: dict[str, float] = {}
        for side, (name, data) in self._sides(plaque).items():
            write_whole(self.target / name, data)
            wrong = self._differs(plaque, side, self.target / name, figures)
            if wrong:
                (self.target / name).unlink(missing_ok=True)
                finding = find(kinds.READ_BACK_DIFFERS, facts={"how": wrong})
                return replace(plaque, findings=(finding, *plaque.findings), fingerprint="")
            self.manifest.wrote(name, data)
            names[side] = name
        proved = tuple(sorted(figures.items()))
        return replace(plaque, cut_file=names["front"], back_file=names.get("back", ""), proved=proved)

    def made(self, plaque: Plaque) -> Mapping[str, bytes]:
        """The files of a plaque as the order makes them now, without writing: path below the output folder -> bytes."""
        return dict(self._sides(plaque).values())

    def finish(self, whole: bool) -> tuple[str, ...]:
        """After the last plaque: record what was written, take stale files away (see Manifest.finish)."""
        return self.manifest.finish(whole)

    # --- writing ---

    def _sides(self, plaque: Plaque) -> dict[str, tuple[str, bytes]]:
        artwork = plaque.artwork
        sides = {line.side for line in artwork.lines} if artwork else set()
        unit = self.order.units if self.part.version == "R12" else ""
        out = {}
        for side in ("front", *(["back"] if "back" in sides else [])):
            text = plaque.text[0] if plaque.text else ""
            name = cut_name(text, plaque.fingerprint, side, "dxf", unit)
            out[side] = (name, self._bytes(plaque, side))
        return out

    def _bytes(self, plaque: Plaque, side: str) -> bytes:
        prepared = self._prepare(side)
        entities = Entities(self.part.version, prepared.owner)
        layer = self.part.layers.get("ENGRAVE", "ENGRAVE")
        for drawn in self._contours(plaque, side):
            if drawn.points.shape[1] == 2:
                entities.spline(drawn.points, layer, drawn.closed)
            else:
                entities.polyline(drawn.points, layer, drawn.closed)
        text = prepared.before.replace(MARK, plaque.fingerprint) + "".join(entities.text) + prepared.after
        return text.encode(prepared.encoding, "backslashreplace")

    def _prepare(self, side: str) -> Prepared:
        if side not in self._prepared:
            blank = self.blank
            if side == "back":
                blank = replace(
                    blank,
                    edge=mirrored([blank.edge], blank.width)[0],
                    holes=mirrored(blank.holes, blank.width),
                    zones=tuple((name, mirrored([zone], blank.width)[0]) for name, zone in blank.zones),
                )
            comments = [f"order {self.code}", self.tool, f"unit {self.order.units}"]
            if side == "back":
                comments.append("seen from the back: turn the blank over about its upright middle, left edge to right")
            self._prepared[side] = prepare(
                blank,
                version=self.part.version,
                unit=self.order.units,
                mm=self.mm,
                names=self.part.layers,
                comments=comments,
                tool=self.tool,
                back=side == "back",
            )
        return self._prepared[side]

    def lettering(self, plaque: Plaque, side: str = "front") -> Iterator[tuple[Array, bool]]:
        """The contours of a side as they are written, on the blank in the file's unit; and whether each is closed."""
        return ((drawn.points, drawn.closed) for drawn in self._contours(plaque, side))

    def _contours(self, plaque: Plaque, side: str) -> Iterator[_Drawn]:
        for line in plaque.artwork.lines if plaque.artwork else ():
            if line.side == side:
                yield from self._of_line(line)

    def _of_line(self, line: SetLine) -> Iterator[_Drawn]:
        pieces = [piece for row in line.rows for piece in row.pieces]
        if line.grown:
            for chains in line.grown:
                for chain in sorted(chains, key=lambda c: abs(chain_area(c))):  # inner before outer
                    yield _Drawn(np.column_stack([chain.vertices[:, :2] / self.mm, chain.vertices[:, 2]]), True)
            return
        for piece in pieces:
            fitted = self.fitted(piece)
            for contour, closed in zip(fitted.contours, fitted.closed, strict=True):
                yield _Drawn(self._placed(contour, piece), closed)

    def _placed(self, contour: Array, piece: Piece) -> Array:
        c, s = np.cos(piece.turn) * piece.scale, np.sin(piece.turn) * piece.scale
        places = (contour[:, :2] @ np.array([[c, s], [-s, c]]) + (piece.x, piece.y)) / self.mm
        return np.column_stack([places, contour[:, 2]]) if contour.shape[1] == 3 else np.asarray(places)

    def fitted(self, piece: Piece) -> FittedShape:
        """The piece's shape as written, fitted once for all sizes of one step."""
        step = int(np.ceil(np.log(piece.scale) / np.log(FIT_STEP)))
        key = (piece.shape.key, step)
        if key not in self._fitted:
            tolerance = self.part.tolerance / FIT_STEP**step
            self._fitted[key] = _fit(piece.shape.outline, self.part.curves, tolerance)
        return self._fitted[key]

    # --- proving ---

    def _differs(self, plaque: Plaque, side: str, path: FilePath, figures: dict[str, float]) -> str:
        """What is wrong with the file on disk; empty when it holds the artwork. Adds the figures measured."""
        try:
            found = read_back(path)
        except (OSError, Unreadable, ValueError, KeyError) as error:
            return str(error)
        return _compare(
            found,
            list(self._contours(plaque, side)),
            self.part.layers.get("ENGRAVE", "ENGRAVE"),
            {"mm": 4, "in": 1}[self.order.units] if self.part.version != "R12" else None,
        ) or self._measure(plaque, side, figures)

    def _measure(self, plaque: Plaque, side: str, figures: dict[str, float]) -> str:
        """Largest distance of what is written to the artwork, both ways, mm."""
        pieces: Iterable[Piece] = plaque.artwork.pieces(side) if plaque.artwork else ()
        worst = 0.0
        for piece in pieces:
            fitted = self.fitted(piece)
            worst = max(worst, fitted.off * piece.scale)
            if abs(fitted.area - fitted.true_area) > fitted.slack:
                return "a contour encloses another area than its letter"
        figures["deviation"] = max(figures.get("deviation", 0.0), worst)
        if worst > self.part.tolerance * (1 + 1e-9):
            return f"the curves lie {worst:.4f} mm from the artwork; {self.part.tolerance:g} mm are allowed"
        return ""


def _fit(outline: tuple[Path, ...], curves: str, tolerance: float) -> FittedShape:
    """Contours as lines and arcs, chords or exact splines. Inner contours come before the outer ones they lie in."""
    contours, off, area, true = [], 0.0, 0.0, 0.0
    ordered = sorted(outline, key=lambda p: abs(path_area(p)) if p.closed else 0.0)
    for path in ordered:
        if curves == "splines":
            contours.append(cubics_of(path))
        else:
            fitted = (fit_arcs if curves == "arcs" else fit_lines)(path, tolerance)
            contours.append(fitted.chain.vertices)
            off = max(off, fitted.deviation)
        if path.closed:
            true += path_area(path)
            area += path_area(path) if curves == "splines" else chain_area(Chain(contours[-1], True))
    closed = tuple(path.closed for path in ordered)
    slack = outline_length(outline, tolerance) * tolerance + 1e-9 * abs(true)
    return FittedShape(contours=tuple(contours), closed=closed, off=off, area=area, true_area=true, slack=slack)


def _compare(found: ReadBack, meant: list[_Drawn], layer: str, insunits: int | None) -> str:
    """Contour by contour: number, closedness, every coordinate."""
    if found.insunits != insunits:
        return f"its unit reads {found.insunits}, not {insunits}"
    engraved = [c for c in found.contours if c.layer == layer]
    if len(engraved) != len(meant):
        return f"{len(engraved)} contours are there, {len(meant)} were meant"
    for there, here in zip(engraved, meant, strict=True):
        if there.closed != here.closed:
            return (
                "a contour is open that should be closed" if here.closed else "a stroke is closed that should be open"
            )
        if there.points.shape != here.points.shape:
            return "a contour has another number of points"
        if np.abs(there.points - here.points).max() > WRITTEN_EXACTLY:
            return "a contour lies elsewhere"
    return ""
