"""Strokes and grooves of a line: thinnest, after sanding, deepest, shallowest, wider than the bit."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import shapely

from pipeline.checks.lines import KIND_WORDS, also, least_size, letters, on_blank, pieces_of
from pipeline.checks.measure import Measures
from pipeline.core.catalogue import cuts
from pipeline.core.findings import Finding, Kind, find
from pipeline.core.model import Extreme, Piece, SetLine
from pipeline.core.order import Finish
from pipeline.core.units import Units
from pipeline.cutting.cutters import CutLimits, Cutter, Limit

VISIBLE = 0.1
"""mm. A corner that stays rounded by less is not mentioned (common practice, no source)."""
FINER = 1
"""Decimals beyond the usual in findings about strokes: a hairline is a matter of hundredths."""


@dataclass(frozen=True, slots=True)
class Spot:
    """A width in mm as it is cut, and where: kind, place on the blank, letter, piece."""

    width: float
    kind: str
    at: tuple[float, float]
    glyph: str
    piece: Piece

    def extreme(self) -> Extreme:
        return Extreme(value=self.width, kind=self.kind, at=self.at, glyph=self.glyph)


@dataclass(frozen=True, slots=True, kw_only=True)
class Strokes:
    """What was measured of a line, mm. Depths are None for a cutter that cuts no grooves."""

    narrowest: Spot | None
    widest: Spot | None
    after_sanding: float | None
    deepest: float | None
    shallowest: float | None  # when finished


def grown_by(finish: Finish, cutter: Cutter) -> float:
    """How far outlines are moved outwards before cutting: s tan(A/2) with `compensate`, else nothing."""
    return cutter.thinned(finish.sanded_off) / 2 if finish.compensate else 0.0


def measure_strokes(line: SetLine, cutter: Cutter, finish: Finish, measures: Measures) -> Strokes:
    """The strokes of a line as it will be cut. A grown outline is wider by the growth on both sides everywhere."""
    grown = 2 * grown_by(finish, cutter)
    narrow = min(_spots(line, measures, grown, "stroke"), key=lambda s: s.width, default=None)
    wide = max(_spots(line, measures, grown, "widest"), key=lambda s: s.width, default=None)
    if narrow is None or wide is None:
        return Strokes(narrowest=None, widest=None, after_sanding=None, deepest=None, shallowest=None)
    after = max(0.0, narrow.width - cutter.thinned(finish.sanded_off))
    deepest = shallowest = None
    if cutter.slope:
        reach = wide.width if cutter.widest is None else min(wide.width, cutter.widest)
        deepest = cutter.depth(reach)
        shallowest = max(0.0, cutter.depth(narrow.width) - finish.sanded_off)
    return Strokes(narrowest=narrow, widest=wide, after_sanding=after, deepest=deepest, shallowest=shallowest)


def _spots(line: SetLine, measures: Measures, grown: float, what: str) -> Iterator[Spot]:
    for piece in pieces_of(line):
        m = measures.of(piece.shape)
        place, who = (m.stroke, m.stroke_who) if what == "stroke" else (m.widest, m.widest_who)
        if place is not None:
            at = on_blank(piece, place.x, place.y)
            yield Spot(place.width * piece.scale + grown, place.kind, at, letters(piece.shape, who), piece)


def check_strokes(
    line: SetLine, found: Strokes, cutter: Cutter, limits: CutLimits, finish: Finish, measures: Measures, units: Units
) -> list[Finding]:
    """stroke.too-thin or stroke.thin-after-sanding, stroke.wider-than-cutter, groove.too-deep, groove.too-shallow."""
    narrow, wide = found.narrowest, found.widest
    if narrow is None or wide is None:
        return []
    out: list[Finding] = []
    loss = cutter.thinned(finish.sanded_off)
    grown = 2 * grown_by(finish, cutter)
    limit = limits.stroke
    least = limit.value or 0.0
    after = narrow.width - loss

    def fails(cut_width: float) -> str:
        """Other letters that would be narrower than this as cut."""
        spots = _spots(line, measures, grown, "stroke")
        return also([s.glyph for s in spots if s.width < cut_width and s.glyph != narrow.glyph])

    own: dict[str, str | float]
    facts: dict[str, str | float] = {"shape": KIND_WORDS[narrow.kind], "source": limit.source}
    if narrow.width < least:
        own = {**facts, "also": fails(least), "size": _size(line, narrow, least + loss - grown, grown, units)}
        out.append(_finding(cuts.STROKE_TOO_THIN, line, narrow, narrow.width, limit, own))
    elif after < least:
        own = {
            **facts,
            "also": fails(least + loss),
            "size": _size(line, narrow, least + loss - grown, grown, units),
            "sanded": finish.sanded_off,
            "cut": narrow.width,
            "loss": loss,
            "heavier": 100 * ((least + loss - grown) / (narrow.width - grown) - 1),
            "least": max(0.0, (narrow.width - least) / (2 * cutter.slope)) if cutter.slope else 0.0,
        }
        out.append(_finding(cuts.STROKE_THIN_AFTER_SANDING, line, narrow, max(0.0, after), limit, own))
    elif found.shallowest is not None and found.shallowest < (limits.shallowest.value or 0.0):
        wanted = cutter.width((limits.shallowest.value or 0.0) + finish.sanded_off)
        own = {
            "source": limits.shallowest.source,
            "also": fails(wanted),
            "size": _size(line, narrow, wanted - grown, grown, units),
        }
        out.append(_finding(cuts.GROOVE_TOO_SHALLOW, line, narrow, found.shallowest, limits.shallowest, own))
    out += _wide(line, found, cutter, limits, measures, grown)
    return out


def _size(line: SetLine, narrow: Spot, wanted: float, grown: float, units: Units) -> float:
    """Cap height at which the narrowest stroke, before any growing, is as wide as wanted."""
    return least_size(units, line.cap_height * wanted / (narrow.width - grown))


def _wide(
    line: SetLine, found: Strokes, cutter: Cutter, limits: CutLimits, measures: Measures, grown: float
) -> list[Finding]:
    wide = found.widest
    assert wide is not None
    if not cutter.slope:
        return _corners(line, cutter, measures)
    out = []
    own: dict[str, str | float]
    if cutter.widest is not None and wide.width > cutter.widest:
        area = sum(_area_beyond(p, cutter.widest - grown, measures) for p in pieces_of(line))
        limit = Limit(value=cutter.widest, source=f"{cutter.name}: its diameter and reach")
        own = {"area": area, "source": limit.source}
        out.append(_finding(cuts.STROKE_WIDER_THAN_CUTTER, line, wide, wide.width, limit, own))
    deepest = limits.deepest
    if found.deepest is not None and deepest.value is not None and found.deepest > deepest.value * (1 + 1e-9):
        own = {"width": wide.width, "source": deepest.source}
        out.append(_finding(cuts.GROOVE_TOO_DEEP, line, wide, found.deepest, deepest, own))
    return out


def _corners(line: SetLine, cutter: Cutter, measures: Measures) -> list[Finding]:
    """stroke.corner-left for an upright cutter, at the worst corner of the line."""
    area, worst = 0.0, None
    for piece in pieces_of(line):
        if piece.shape.single_line or not piece.shape.outline:
            continue
        left = measures.corners(piece.shape, cutter.line_width / 2 / piece.scale)
        area += left.area * piece.scale**2
        if left.at is not None and math.isfinite(left.reach):
            at = on_blank(piece, *left.at)
            who = letters(piece.shape, range(len(piece.shape.glyphs)))
            spot = Spot(left.reach * piece.scale, "corner", at, who, piece)
            worst = spot if worst is None or spot.width > worst.width else worst
    if worst is None or worst.width < VISIBLE:
        return []
    limit = Limit(value=cutter.line_width, source=cutter.name)
    return [_finding(cuts.STROKE_CORNER_LEFT, line, worst, worst.width, limit, {"area": area})]


def _area_beyond(piece: Piece, width: float, measures: Measures) -> float:
    """Area of a piece where a disc as wide as this fits (its opening), mm²."""
    m = measures.of(piece.shape)
    if m.widest is None or m.widest.width * piece.scale <= width:
        return 0.0
    r = max(width, 0.0) / piece.scale / 2
    opened = shapely.buffer(shapely.buffer(measures.polygon(piece.shape), -r, quad_segs=16), r, quad_segs=16)
    return float(opened.area) * piece.scale**2


def _finding(
    kind: Kind, line: SetLine, spot: Spot, measured: float, limit: Limit, facts: dict[str, str | float]
) -> Finding:
    x, y = spot.at
    return find(
        kind,
        line=line.line,
        glyph=spot.glyph,
        at=spot.at,
        measured=measured,
        limit=limit.value,
        unit="mm",
        facts={"text": line.text, "x": x, "y": y, "finer": FINER, **facts},
    )
