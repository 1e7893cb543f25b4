"""The figures of an order: clients' drawings, placed and checked, and which of them each recipient's plaque has.

One that is the same on every plaque is placed, checked and reported once, for the order.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import shapely
from pydantic import ValidationError

from pipeline.artwork.client_artwork import ClientArtwork, choose_badge_file
from pipeline.artwork.drawn_artwork import DrawnArtwork, Remark
from pipeline.artwork.dxf_curves import TANGLED, find_closed_loops, unite_loops
from pipeline.artwork.placing import PlacedFigure, Placement, place_artwork
from pipeline.checks.figure_check import check_figure
from pipeline.checks.glyph_metrics import GlyphMetrics
from pipeline.checks.land_check import CutSpread, measure_figure_lands
from pipeline.checks.stroke_check import compute_growth
from pipeline.checks.stroke_remedies import StrokeContext
from pipeline.core.catalogue import artwork_kinds as kinds
from pipeline.core.config.order import ArtworkConfig, Order, OrderFolder
from pipeline.core.config.order_edits import apply_edits
from pipeline.core.config.placeholders import list_placeholders
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.findings import Fact, Finding, Severity, Way, build_finding
from pipeline.core.model import Blank, LineMeasure, Recipient, SetFigure
from pipeline.core.storage.lru_cache import LruCache
from pipeline.cutting.cutters import CutLimits, Cutter, resolve_cutter
from pipeline.cutting.flat_floor import build_flat_floor
from pipeline.geometry.curves import Chain
from pipeline.geometry.regions import Region, build_chain_polygon
from pipeline.layout.typesetter import EDGE_TOLERANCE, Typesetter


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlaqueFigures:
    """The figures of one plaque. findings: of those that come by row."""

    figures: tuple[SetFigure, ...] = ()
    measures: tuple[LineMeasure, ...] = ()
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Checked:
    figure: SetFigure | None
    measure: LineMeasure
    findings: tuple[Finding, ...]


class OrderFigures:
    """Places and checks the figures of one order."""

    def __init__(
        self,
        folder: OrderFolder,
        blank: Blank,
        client: ClientArtwork,
        setter: Typesetter,
        cutter: Cutter,
        limits: CutLimits,
        measures: GlyphMetrics,
        *,
        advise: bool = True,
    ) -> None:
        """advise: suggest remedies for what fails. CannotRun when a line has no depth that it needs."""
        self.folder, self.order, self.blank, self.client = folder, folder.order, blank, client
        self.setter, self.cutter, self.limits, self.measures = setter, cutter, limits, measures
        self._advise = advise
        self._known: LruCache[_Checked] = LruCache(4096)
        self._plaques: LruCache[PlaqueFigures] = LruCache(4096)
        self._drawn = _get_drawn_with_blank(blank)
        placed = [self._place_figure(0, self._drawn, self.order.blank.layers.artwork or "")] if self._drawn else []
        for number, part in enumerate(self.order.artwork, 1):
            _require_depth(number, part, cutter, folder)
            read = None if list_placeholders(part.file) else client.find(number, part.file)
            if read is not None and read.drawn is not None:
                placed.append(self._place_figure(number, read.drawn, read.file))
        self._fixed = tuple(p.figure for p in placed if p.figure is not None)
        checked = [self._check(p, self._fixed) for p in placed]
        self.fixed = tuple(c.figure for c in checked if c.figure is not None)
        self._fixed_measures = tuple(c.measure for c in checked if c.figure is not None)
        said = [f for c in checked for f in c.findings]
        self.stops = tuple(f for f in said if f.severity is Severity.STOP)
        """Findings that stop every plaque: faults of a drawing that all of them have."""
        self.findings = tuple(f for f in said if f.severity is not Severity.STOP)
        """Other findings about such drawings, given once."""
        self._by_row = [(n, p) for n, p in enumerate(self.order.artwork, 1) if list_placeholders(p.file)]

    def get_for_plaque(self, recipient: Recipient) -> PlaqueFigures:
        """Return the figures of a recipient's plaque, in the order of the order file."""
        if not self._by_row:
            return self._plaques.get_or_compute((), lambda: self._set_figures(()))
        names = tuple((number, choose_badge_file(part, recipient)) for number, part in self._by_row)
        found = self._plaques.get_or_compute(names, lambda: self._set_figures(names))
        if not found.findings:
            return found
        cells = {number: _read_cell(part, recipient) for number, part in self._by_row}
        told = tuple(_add_source(f, cells) for f in found.findings)
        return replace(found, findings=told)

    def change_order(self, folder: OrderFolder, setter: Typesetter, cutter: Cutter, limits: CutLimits) -> OrderFigures:
        """Return the same for another order with the same blank and drawings, without advice."""
        return OrderFigures(folder, self.blank, self.client, setter, cutter, limits, self.measures, advise=False)

    # --- one plaque ---

    def _set_figures(self, names: tuple[tuple[int, str], ...]) -> PlaqueFigures:
        placed: list[PlacedFigure] = []
        findings: list[Finding] = []
        for number, name in names:
            if not name:
                continue
            read = self.client.find(number, name)
            if read is None or read.drawn is None:
                missing = read is None or read.missing
                facts: dict[str, Fact] = {"number": number, "file": name}
                if missing:
                    near = f" (is “{read.near}” meant?)" if read is not None and read.near else ""
                    what = f"cannot be used: {read.fault}" if read and read.fault else "is not in the order folder"
                    findings.append(
                        build_finding(kinds.MISSING, facts={**facts, "source": "", "what": what, "near": near})
                    )
                else:
                    what = f"it cannot be read: {read.fault}" if read is not None else ""
                    findings.append(build_finding(kinds.CANNOT_CUT, facts={**facts, "what": what, "place": ""}))
                continue
            placed.append(self._place_figure(number, read.drawn, name))
        others = (*self._fixed, *(p.figure for p in placed if p.figure is not None))
        checked = [self._check(p, others) for p in placed]
        figures = [*zip(self.fixed, self._fixed_measures, strict=True)]
        figures += [(c.figure, c.measure) for c in checked if c.figure is not None]
        figures.sort(key=lambda pair: pair[0].number)
        return PlaqueFigures(
            figures=tuple(f for f, _ in figures),
            measures=tuple(replace(m, line=n) for n, (_, m) in enumerate(figures, 1)),
            findings=(*findings, *(f for c in checked for f in c.findings)),
        )

    # --- placing and checking ---

    def _place_figure(self, number: int, drawn: DrawnArtwork, name: str) -> PlacedFigure:
        part = self.order.artwork[number - 1] if number else None
        return place_figure_in(self.order, self.blank, self.setter, number, part, drawn, name)

    def _check(self, placed: PlacedFigure, others: Sequence[SetFigure]) -> _Checked:
        figure = placed.figure
        if figure is None:
            return _Checked(figure=None, measure=LineMeasure(line=0), findings=placed.findings)
        key = (figure, *(o for o in others if o is not figure))
        return self._known.get_or_compute(key, lambda: self._check_figure(placed, figure, others))

    def _check_figure(self, placed: PlacedFigure, figure: SetFigure, others: Sequence[SetFigure]) -> _Checked:
        grown = self.setter.grow_outlines(figure.rows) if self._is_growing(figure) else ()
        if grown:
            figure = replace(figure, grown=grown)
        order, cutter = self.order, self.cutter
        floor = build_flat_floor(order, cutter)
        by = StrokeContext(cutter=cutter, limits=self.limits, order=order, thickness=self.blank.thickness, floor=floor)
        spread = CutSpread(compute_growth(order.finish, cutter), cutter.line_width, cutter.slope)
        lands = measure_figure_lands(
            figure, [o for o in others if o is not placed.figure], self.blank, spread, self.measures
        )
        key = _choose_size_key(order.artwork[figure.number - 1]) if figure.number else "width"
        found = check_figure(figure, lands, by, self.measures, key)
        findings = (*placed.findings, *found.findings)
        if self._advise:
            findings = tuple(self._advise_finding(f, figure) for f in findings)
        return _Checked(figure=figure, measure=found.measure, findings=findings)

    def _is_growing(self, figure: SetFigure) -> bool:
        return bool(self.setter.grow) and not self.order.files.grooves and figure.cut == "engrave"

    def _advise_finding(self, finding: Finding, figure: SetFigure) -> Finding:
        """Return the finding with only those ways that hold when tried."""
        kept = tuple(w for w in finding.ways if self._holds(w, finding, figure))
        return finding if len(kept) == len(finding.ways) else replace(finding, ways=kept)

    def _holds(self, way: Way, finding: Finding, figure: SetFigure) -> bool:
        if not way.edits:
            return True
        try:
            order = apply_edits(self.order, way.edits)
            cutter, limits = resolve_cutter(order, self.blank.thickness)
        except (ValueError, ValidationError, CannotRun):
            return False
        read = self.client.find(figure.number, figure.text)
        drawn = self._drawn if not figure.number else None if read is None else read.drawn
        if drawn is None:
            return False
        folder = self.folder.model_copy(update={"order": order})
        setter = self.setter.change_order(order, self.setter.faces, compute_growth(order.finish, cutter))
        other = self.change_order(folder, setter, cutter, limits)
        others = [o for o in other._fixed if o.number != figure.number]
        again = other._check(other._place_figure(figure.number, drawn, figure.text), others)
        stops = {f.code for f in again.findings if f.severity is Severity.STOP}
        return finding.code not in {f.code for f in again.findings} and not stops


def place_figure_in(
    order: Order,
    blank: Blank,
    setter: Typesetter,
    number: int,
    part: ArtworkConfig | None,
    drawn: DrawnArtwork,
    name: str,
) -> PlacedFigure:
    """Place a drawing on the blank. part: its [[artwork]]; None: it is part of the blank's drawing."""
    if part is None:
        where = Placement(number=0, name=name, as_drawn=True)
        return place_artwork(where, drawn, _build_seen_region(blank.edge, blank, "front"), None, order.unit)
    zone: Region | None = None
    room = _build_seen_region(blank.edge, blank, part.side)
    if part.zone is not None:
        area = setter.get_room_alone(part.zone, part.side)
        zone, room = area.zone, area.region
    where = Placement(
        number=number,
        name=name,
        side=part.side,
        cut=part.cut,
        depth=part.depth if part.cut == "line" else None,
        turn=part.turn,
        width=part.width,
        height=part.height,
        at=part.at,
        zone=part.zone or "",
    )
    return place_artwork(where, drawn, room, zone, order.unit)


def _build_seen_region(chain: Chain, blank: Blank, side: str) -> Region:
    region = build_chain_polygon(chain, EDGE_TOLERANCE)
    if side == "front":
        return region
    return shapely.transform(region, lambda p: p * (-1.0, 1.0) + (blank.width, 0.0))


def _choose_size_key(part: ArtworkConfig) -> str:
    return "height" if part.height is not None and part.width is None else "width"


def _require_depth(number: int, part: ArtworkConfig, cutter: Cutter, folder: OrderFolder) -> None:
    """Raise CannotRun when lines are to be followed and no depth is stated."""
    if part.cut == "line" and part.depth is None and cutter.cuts_grooves:
        raise CannotRun(
            Fault(
                where=f"{folder.file}: [[artwork]] no. {number}, depth",
                found=f"missing: {cutter.name} follows a line at any depth, and is as wide there as it is deep",
                expected='a depth for cut = "line"',
            )
        )


def _get_drawn_with_blank(blank: Blank) -> DrawnArtwork | None:
    """The artwork of the blank's drawing; None when it has none."""
    if not blank.artwork:
        return None
    found = find_closed_loops(blank.artwork)
    outline, deviation = unite_loops(found.loops)
    remarks = []
    for places, words in (
        (found.tangled_places, TANGLED),
        (found.open_places, f"{found.open_words()}: close them in the drawing"),
    ):
        if places:
            place = f"x {places[0][0]:.2f}, y {places[0][1]:.2f} mm from the lower left corner"
            remarks.append(Remark(reason="cannot", words=words, place=place))
    return DrawnArtwork(outline=outline, mm=1.0, remarks=tuple(remarks), deviation=deviation)


def _read_cell(part: ArtworkConfig, recipient: Recipient) -> str:
    """The cells a badge comes from, in words."""
    columns = list_placeholders(part.file)
    places = dict(recipient.cells)
    return " and ".join(f"cell {places[c]}" if c in places else f"column “{c}”" for c in columns)


def _add_source(finding: Finding, cells: dict[int, str]) -> Finding:
    """A missing badge with the cell that asks for it."""
    if finding.code != kinds.MISSING.code:
        return finding
    facts: dict[str, Any] = dict(finding.facts)
    facts["source"] = cells.get(int(facts["number"]), "the list")
    return replace(finding, facts=tuple(sorted(facts.items())))
