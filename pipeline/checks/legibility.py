"""Checks whether lettering can be read from the distance the order states, by two published yardsticks. It never states
compliance: exceptions, contrast, finish and mounting are for the reader of the standard to judge.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace

import shapely

from pipeline.checks.glyph_metrics import GlyphMetrics
from pipeline.checks.stroke_remedies import StrokeContext, find_size_for, round_up_size, suggest_larger
from pipeline.core.catalogue import cut_kinds
from pipeline.core.findings import Finding, Way, build_finding
from pipeline.core.model import SetLine, Shape
from pipeline.core.units import MM_PER_INCH

FOOT = 12 * MM_PER_INCH
EIGHTH = MM_PER_INCH / 8

ADA_ROWS = (
    (70 * MM_PER_INCH, 5 / 8 * MM_PER_INCH, 72 * MM_PER_INCH),
    (120 * MM_PER_INCH, 2 * MM_PER_INCH, 180 * MM_PER_INCH),
    (float("inf"), 3 * MM_PER_INCH, 21 * FOOT),
)
"""2010 ADA Standards, table 703.5.5, inch column: baseline up to this high above the floor, least height of the letters
for a reader nearer than this; 1/8 in more for every foot beyond."""
ADA_STROKE = (0.10, 0.30)
"""703.5.7: stroke of the capital I, parts of its height."""
LETTER_PER_DISTANCE = 1.454e-3
"""20/20 acuity: a letter of 5 minutes of arc is 1.454 mm high per metre."""
STROKE_PER_DISTANCE = 0.291e-3
"""... and its stroke, 1 minute of arc, .291 mm wide per metre."""


def compute_ada_height(distance: float, baseline: float | None = None) -> float:
    """Least height of visual characters (mm) for a reader this far away and a baseline this high above the floor (mm).

    2010 ADA Standards, table 703.5.5, its inch column (its mm column is rounded and differs by up to 0.8 %). Without a
    baseline its lowest row, up to 70 in.
    """
    for top, least, near in ADA_ROWS:
        if baseline is None or baseline <= top:
            return least + max(0.0, distance - near) / FOOT * EIGHTH
    raise AssertionError("the last row has no end")


def check_reading(
    line: SetLine,
    stroke: float | None,
    by: StrokeContext,
    measures: GlyphMetrics,
    stems: Mapping[str, Shape],
    most: Callable[[], float] = lambda: math.inf,
) -> list[Finding]:
    """read.too-small and read.stroke-light; nothing without [reading] distance.

    stroke: the narrowest finished stroke, mm. stems: by face, the shape of its capital I, for 703.5.7. most: the
    largest cap height its strokes allow.
    """
    reading = by.order.reading
    if reading.distance is None:
        return []
    out = []
    needs = (
        (compute_ada_height(reading.distance, reading.height), "2010 ADA Standards, table 703.5.5"),
        (LETTER_PER_DISTANCE * reading.distance, "20/20 acuity"),
    )
    wanted, rule = max(needs)
    about: dict[str, str | float] = {"text": line.text, "distance": reading.distance}
    if line.cap_height < wanted * (1 - 1e-9):
        out.append(
            build_finding(
                cut_kinds.READ_TOO_SMALL,
                line=line.line,
                measured=line.cap_height,
                limit=wanted,
                unit="mm",
                facts={**about, "rule": rule},
                ways=_suggest_larger(line, round_up_size(by.order.unit, wanted), by, most()),
            )
        )
    least = STROKE_PER_DISTANCE * reading.distance
    if stroke is not None and stroke < least:
        facts = {**about, "rule": "20/20 acuity", "what": "a stroke", "wanted": "are wanted"}
        designed = stroke + by.loss - by.grown
        ways = _suggest_larger(line, find_size_for(line, designed, least, by), by, most()) if designed > 0 else ()
        light = build_finding(
            cut_kinds.READ_STROKE_LIGHT, line=line.line, measured=stroke, limit=least, unit="mm", facts=facts
        )
        out.append(replace(light, ways=ways))
    stem = stems.get(line.face)
    if stem is not None:
        out += _check_stem(line, stem, measures, about)
    return out


def _suggest_larger(line: SetLine, size: float, by: StrokeContext, most: float) -> tuple[Way, ...]:
    found = suggest_larger(line, size, by, most)
    return () if found is None else (found,)


def _check_stem(line: SetLine, stem: Shape, measures: GlyphMetrics, about: Mapping[str, str | float]) -> list[Finding]:
    region = measures.get_polygon(stem)
    if region.is_empty:
        return []
    x0, _, x1, _ = region.bounds
    level = shapely.LineString([(x0 - 1, stem.cap_units / 2), (x1 + 1, stem.cap_units / 2)])
    width = float(shapely.intersection(region, level).length) * line.cap_height / stem.cap_units
    low, high = (part * line.cap_height for part in ADA_STROKE)
    if low <= width <= high:
        return []
    limit, wanted = (low, "are the least") if width < low else (high, "are the most")
    facts = {**about, "rule": "2010 ADA Standards, 703.5.7", "what": "a stem of the capital I", "wanted": wanted}
    return [
        build_finding(
            cut_kinds.READ_STROKE_LIGHT, line=line.line, glyph="I", measured=width, limit=limit, unit="mm", facts=facts
        )
    ]
