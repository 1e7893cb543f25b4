"""All checks of one plaque, in their order. Each is recorded as found, clear or not applicable."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal

from pipeline.checks.lands import Spot, Spread, check_lands, measure_lands
from pipeline.checks.measure import Measures
from pipeline.checks.reading import check_reading
from pipeline.checks.remedies import Setting
from pipeline.checks.strokes import Strokes, check_strokes, grown_by, measure_strokes
from pipeline.core.findings import Finding
from pipeline.core.model import Artwork, Blank, LineMeasure, SetLine, Shape
from pipeline.core.order import Finish, Order
from pipeline.cutting.cutters import CutLimits, Cutter

Result = Literal["found", "clear", "not applicable"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """What the checks of one plaque said. record: each check in its order, with its result."""

    measures: tuple[LineMeasure, ...]
    findings: tuple[Finding, ...]
    record: tuple[tuple[str, Result], ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Job:
    artwork: Artwork
    by: Setting
    measures: Measures
    order: Order
    strokes: Mapping[int, Strokes]
    lands: Mapping[int, list[Spot]]
    stems: Mapping[str, Shape]


def check_all(
    artwork: Artwork,
    blank: Blank,
    cutter: Cutter,
    limits: CutLimits,
    measures: Measures,
    order: Order,
    stems: Mapping[str, Shape] | None = None,
) -> Checked:
    """Measure and check the lines of one plaque. stems: by face, the shape of its capital I, for [reading]."""
    finish = order.finish
    spread = Spread(grown_by(finish, cutter), cutter.line_width)
    job = _Job(
        artwork=artwork,
        by=Setting(cutter=cutter, limits=limits, order=order, thickness=blank.thickness),
        measures=measures,
        order=order,
        strokes={line.line: _strokes_of(line, cutter, finish, measures) for line in artwork.lines},
        lands=measure_lands(artwork.lines, blank, spread, measures),
        stems=stems or {},
    )
    findings: list[Finding] = []
    record: list[tuple[str, Result]] = []
    for name, check in CHECKS:
        said = check(job)
        record.append((name, "not applicable" if said is None else "found" if said else "clear"))
        findings += said or []
    measured = tuple(_measured(line.line, job) for line in artwork.lines)
    return Checked(measures=measured, findings=tuple(findings), record=tuple(record))


def _strokes_of(line: SetLine, cutter: Cutter, finish: Finish, measures: Measures) -> Strokes:
    key = ("strokes", line, cutter, finish)
    return measures.recent.of(key, lambda: measure_strokes(line, cutter, finish, measures))  # type: ignore[no-any-return]


def _measured(number: int, job: _Job) -> LineMeasure:
    strokes, lands = job.strokes[number], job.lands[number]
    sanded = job.order.finish.sanded_off
    return LineMeasure(
        line=number,
        stroke=strokes.narrowest.extreme() if strokes.narrowest else None,
        stroke_after_sanding=strokes.after_sanding if sanded else None,
        land=lands[0].extreme() if lands else None,
        groove_depth=strokes.deepest,
        groove_shallowest=strokes.shallowest,
    )


def _strokes(job: _Job) -> list[Finding] | None:
    if all(s.narrowest is None for s in job.strokes.values()):
        return None
    out: list[Finding] = []
    for line in job.artwork.lines:
        found = job.strokes[line.line]
        land = min((s.width for s in job.lands[line.line]), default=None)
        by, order = job.by, job.order
        part = order.line[line.line - 1]
        asked = (order.limits, order.finish, order.unit, order.cutter, part.cap_height, part.smallest)
        key = (line, found, land, by.cutter, by.limits, by.thickness, asked)
        out += job.measures.recent.of(
            ("strokes checked", *key),
            lambda: check_strokes(line, found, by, job.measures, land),  # noqa: B023
        )
    return out


def _lands(job: _Job) -> list[Finding] | None:
    if not any(job.lands.values()):
        return None
    out: list[Finding] = []
    said: set[tuple[float, float]] = set()
    for line in job.artwork.lines:
        # A place between two lines is reported with the first of them.
        spots = [s for s in job.lands[line.line] if s.kind != "row" or s.at not in said]
        out += check_lands(line, spots, job.by)
        said |= {s.at for s in job.lands[line.line] if s.kind == "row"}
    return out


def _reading(job: _Job) -> list[Finding] | None:
    if job.order.reading.distance is None:
        return None
    out: list[Finding] = []
    for line in job.artwork.lines:
        found = job.strokes[line.line]
        out += check_reading(line, found.after_sanding, job.by, job.measures, job.stems)
    return out


CHECKS: tuple[tuple[str, Callable[[_Job], list[Finding] | None]], ...] = (
    ("strokes and grooves", _strokes),
    ("land", _lands),
    ("reading distance", _reading),
)
"""In this order, worst for the piece first. None: nothing the check applies to."""
