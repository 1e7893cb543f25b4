"""All checks of one plaque, in order. Each is recorded as found, clear or not applicable."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import Literal

from pipeline.checks.glyph_metrics import GlyphMetrics
from pipeline.checks.groove_check import check_grooves, measure_groove_depth
from pipeline.checks.land_check import CutSpread, LandPlace, check_lands, find_sufficient_size, measure_lands
from pipeline.checks.legibility import check_reading
from pipeline.checks.stroke_check import LineStrokes, check_strokes, compute_growth, find_helps, measure_strokes
from pipeline.checks.stroke_remedies import StrokeContext
from pipeline.core.config.order import Order
from pipeline.core.findings import Finding
from pipeline.core.measured_values import GROOVE_DEPTH, GROOVE_SHALLOWEST, STROKE_AFTER_SANDING, Measurement
from pipeline.core.model import Artwork, Blank, LineMeasure, SetLine, Shape
from pipeline.cutting.cutters import CutLimits, Cutter
from pipeline.cutting.cutting_data import compute_depth_left
from pipeline.cutting.flat_floor import build_flat_floor
from pipeline.cutting.groove_sweep import build_order_sweeper

Result = Literal["found", "clear", "not applicable"]


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckResults:
    """The results of one plaque's checks. record: each check in order, with its result."""

    measures: tuple[LineMeasure, ...]
    findings: tuple[Finding, ...]
    record: tuple[tuple[str, Result], ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _CheckContext:
    artwork: Artwork
    by: StrokeContext
    measures: GlyphMetrics
    order: Order
    strokes: Mapping[int, LineStrokes]
    lands: Mapping[int, list[LandPlace]]
    stems: Mapping[str, Shape]
    corners: bool


def check_all(
    artwork: Artwork,
    blank: Blank,
    cutter: Cutter,
    limits: CutLimits,
    measures: GlyphMetrics,
    order: Order,
    stems: Mapping[str, Shape] | None = None,
    *,
    corners: bool = True,
) -> CheckResults:
    """Measure and check the lines of one plaque. stems: by face, the shape of its capital I, for [reading]. corners:
    note what a round cutter leaves in them, which stops nothing."""
    finish = order.finish
    spread = CutSpread(compute_growth(finish, cutter), cutter.line_width, cutter.slope)
    floor = build_flat_floor(order, cutter)
    under = compute_depth_left(order, blank.thickness)
    by = StrokeContext(cutter=cutter, limits=limits, order=order, thickness=blank.thickness, floor=floor, under=under)
    job = _CheckContext(
        artwork=artwork,
        by=by,
        measures=measures,
        order=order,
        strokes={line.line: _measure_line_strokes(line, by, measures) for line in artwork.lines},
        lands=measure_lands(artwork.lines, blank, spread, measures, artwork.figures),
        stems=stems or {},
        corners=corners,
    )
    findings: list[Finding] = []
    record: list[tuple[str, Result]] = []
    for check in CHECKS:
        said = check.find(job)
        record.append((check.name, "not applicable" if said is None else "found" if said else "clear"))
        findings += said or []
    measured = tuple(
        LineMeasure(line=line.line, measurements=tuple(m for check in CHECKS for m in check.measure(line.line, job)))
        for line in artwork.lines
    )
    return CheckResults(measures=measured, findings=tuple(findings), record=tuple(record))


def _measure_line_strokes(line: SetLine, by: StrokeContext, measures: GlyphMetrics) -> LineStrokes:
    """Measure a line's strokes; its depth is that of the grooves as written, where there are any."""
    cutter, order = by.cutter, by.order
    key = ("strokes", line, cutter, order.finish, order.files.grooves, by.floor)
    found: LineStrokes = measures.recent.get_or_compute(key, lambda: measure_strokes(line, cutter, order, measures))
    if not order.files.grooves or not cutter.cuts_grooves or _is_beyond_cutting(found, by):
        return found
    sweeps = build_order_sweeper(order, cutter)
    return replace(found, deepest=measure_groove_depth(line, sweeps))


def _measure_strokes(number: int, job: _CheckContext) -> Iterator[Measurement]:
    found = job.strokes[number]
    if found.narrowest:
        yield found.narrowest.to_measurement()
    after = found.after_sanding if job.order.finish.sanded_off else None
    depths = (STROKE_AFTER_SANDING, after), (GROOVE_DEPTH, found.deepest), (GROOVE_SHALLOWEST, found.shallowest)
    for what, value in depths:
        if value is not None:
            yield Measurement(name=what.key, value=value)


def _check_strokes(job: _CheckContext) -> list[Finding] | None:
    if all(s.narrowest is None for s in job.strokes.values()):
        return None
    out: list[Finding] = []
    for line in job.artwork.lines:
        land = min((s.width for s in job.lands[line.line]), default=None)
        found, size = job.strokes[line.line], _find_land_size(line, job)
        out += check_strokes(line, found, job.by, job.measures, land, size, corners=job.corners)
    return out


def _find_land_size(line: SetLine, job: _CheckContext) -> float:
    return find_sufficient_size(line, job.lands[line.line], job.by.limits, job.order.unit)


def _find_largest_size(line: SetLine, job: _CheckContext) -> float:
    """The largest cap height the strokes of a line allow."""
    narrow = job.strokes[line.line].narrowest
    return math.inf if narrow is None else find_helps(line, narrow, job.by, job.measures, None, 0.0).most


def _check_grooves(job: _CheckContext) -> list[Finding] | None:
    """Check the simulated grooves. Lines already stopped for strokes that the bit can't cut are not simulated."""
    order, cutter = job.order, job.by.cutter
    if not order.files.grooves or not cutter.cuts_grooves:
        return None
    sweeps = build_order_sweeper(order, cutter)
    out: list[Finding] = []
    for line in job.artwork.lines:
        if _is_beyond_cutting(job.strokes[line.line], job.by):
            continue
        key = ("swept", line, cutter, order.files.tolerance, sweeps.grooves.lowered, job.by.floor)
        out += job.measures.recent.get_or_compute(
            key,
            lambda: check_grooves(line, sweeps, order.files.tolerance, job.measures),  # noqa: B023
        )
    return out


def _is_beyond_cutting(found: LineStrokes, by: StrokeContext) -> bool:
    """Return whether a line has no strokes, or strokes that the bit can't cut."""
    narrow, wide = found.narrowest, found.widest
    if narrow is None or wide is None:
        return True
    least, after = by.limits.stroke.value or 0.0, found.after_sanding or 0.0
    too_wide = by.cutter.widest is not None and wide.width > by.cutter.widest and by.floor is None
    return too_wide or min(narrow.width, after) < least


def _measure_land(number: int, job: _CheckContext) -> Iterator[Measurement]:
    yield from (place.to_measurement() for place in job.lands[number][:1])


def _check_lands(job: _CheckContext) -> list[Finding] | None:
    if not any(job.lands.values()):
        return None
    out: list[Finding] = []
    said: set[tuple[float, float]] = set()
    for line in job.artwork.lines:
        # A place between two lines is reported once, with the first of them.
        spots = [s for s in job.lands[line.line] if s.kind != "row" or s.at not in said]
        thin = any(s.width < (job.by.limits.land.value or 0.0) for s in spots)
        most = _find_largest_size(line, job) if thin else math.inf
        out += check_lands(line, spots, job.by, most)
        said |= {s.at for s in job.lands[line.line] if s.kind == "row"}
    return out


def _check_reading(job: _CheckContext) -> list[Finding] | None:
    if job.order.reading.distance is None:
        return None
    out: list[Finding] = []
    for line in job.artwork.lines:
        found = job.strokes[line.line]
        most = partial(_find_largest_size, line, job)
        out += check_reading(line, found.after_sanding, job.by, job.measures, job.stems, most)
    return out


def _measure_nothing(number: int, job: _CheckContext) -> Iterator[Measurement]:
    return iter(())


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaqueCheck:
    """One check of a plaque."""

    name: str
    """As the record of checks has it."""
    find: Callable[[_CheckContext], list[Finding] | None]
    """Its findings; None where there is nothing it applies to."""
    measure: Callable[[int, _CheckContext], Iterator[Measurement]] = _measure_nothing
    """(line, …) → the values it measures on a line; see `pipeline.core.measured_values`."""


CHECKS: tuple[PlaqueCheck, ...] = (
    PlaqueCheck(name="strokes and grooves", find=_check_strokes, measure=_measure_strokes),
    PlaqueCheck(name="simulated cut of grooves", find=_check_grooves),
    PlaqueCheck(name="land", find=_check_lands, measure=_measure_land),
    PlaqueCheck(name="reading distance", find=_check_reading),
)
"""In this order, those worst for the piece first."""
