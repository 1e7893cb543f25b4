"""Checks the strokes and grooves of a line: thinnest, after sanding, deepest, shallowest, wider than the bit."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from pipeline.checks.glyph_metrics import GlyphMetrics
from pipeline.checks.line_context import KIND_WORDS, get_letters_at, list_others, list_pieces, locate_on_blank
from pipeline.checks.reach_check import find_glyph, measure_corners, measure_opened_area, measure_widest_grown
from pipeline.checks.stroke_remedies import StrokeContext, StrokeRemedies
from pipeline.core.catalogue import cut_kinds, shop_kinds
from pipeline.core.catalogue.ways import CUT_SHALLOWER
from pipeline.core.config.order import FinishConfig, Order
from pipeline.core.findings import Edit, Fact, Finding, Kind, Way, build_finding, build_way
from pipeline.core.measured_values import STROKE, Measurement
from pipeline.core.model import Piece, SetLine
from pipeline.core.required import require_value
from pipeline.core.work_steps import compute_off_before_lettering
from pipeline.cutting.cutters import Cutter, Limit
from pipeline.cutting.cutting_data import compute_lettering_thickness, compute_taken_off_back, get_least_floor
from pipeline.cutting.flat_floor import FlatFloor, build_flat_floor
from pipeline.cutting.v_carving import build_order_planner

VISIBLE = 0.1
"""mm. A corner that stays rounded by less is not mentioned (common practice, no source)."""
FINER = 1
"""Decimals beyond the usual in findings about strokes: a hairline is a matter of hundredths."""


@dataclass(frozen=True, slots=True)
class StrokePlace:
    """A width in mm as it is cut, and where: kind, place on the blank, letter, piece."""

    width: float
    kind: str
    at: tuple[float, float]
    glyph: str
    piece: Piece

    def to_measurement(self) -> Measurement:
        return Measurement(name=STROKE.key, value=self.width, kind=self.kind, at=self.at, glyph=self.glyph)


@dataclass(frozen=True, slots=True, kw_only=True)
class LineStrokes:
    """The measurements of a line, mm. Depths are None for a cutter that cuts no grooves."""

    narrowest: StrokePlace | None
    widest: StrokePlace | None
    after_sanding: float | None
    deepest: float | None
    shallowest: float | None  # after finishing


def compute_growth(finish: FinishConfig, cutter: Cutter) -> float:
    """Return how far outlines are moved outwards before cutting: s tan(A/2) with `compensate`, else nothing."""
    return cutter.compute_thinning(finish.sanded_off) / 2 if finish.compensate else 0.0


def measure_strokes(line: SetLine, cutter: Cutter, order: Order, measures: GlyphMetrics) -> LineStrokes:
    """The strokes of a line as it will be cut.

    Grooves cut deeper are wider by the same amount everywhere. A grown outline is wider by that amount along straight
    strokes, and nowhere narrower; where it fills crotches, its widest place is measured anew.
    """
    finish = order.finish
    grown = 2 * compute_growth(finish, cutter)
    narrow = min(_find_places(line, measures, grown, "stroke"), key=lambda s: s.width, default=None)
    spots = _find_grown_places(line, measures, grown) if is_filling_crotches(order, grown) else None
    wide = max(spots or _find_places(line, measures, grown, "widest"), key=lambda s: s.width, default=None)
    if narrow is None or wide is None:
        return LineStrokes(narrowest=None, widest=None, after_sanding=None, deepest=None, shallowest=None)
    after = max(0.0, narrow.width - cutter.compute_thinning(finish.sanded_off))
    deepest = shallowest = None
    if cutter.cuts_grooves:
        reach = wide.width if cutter.widest is None else min(wide.width, cutter.widest)
        floor = build_flat_floor(order, cutter)
        deepest = min(cutter.compute_depth(reach), floor.depth if floor else math.inf)
        shallowest = max(0.0, cutter.compute_depth(narrow.width) - finish.sanded_off)
    return LineStrokes(narrowest=narrow, widest=wide, after_sanding=after, deepest=deepest, shallowest=shallowest)


def _find_places(line: SetLine, measures: GlyphMetrics, grown: float, what: str) -> Iterator[StrokePlace]:
    for piece in list_pieces(line):
        m = measures.measure(piece.shape)
        place, who = (m.stroke, m.stroke_who) if what == "stroke" else (m.widest, m.widest_who)
        if place is not None:
            at = locate_on_blank(piece, place.x, place.y)
            yield StrokePlace(
                place.width * piece.scale + grown, place.kind, at, get_letters_at(piece.shape, who), piece
            )


def is_filling_crotches(order: Order, grown: float) -> bool:
    """Return whether strokes are cut wider by growing outlines, not by cutting grooves deeper."""
    return grown > 0 and not order.files.grooves


def _find_grown_places(line: SetLine, measures: GlyphMetrics, grown: float) -> list[StrokePlace]:
    """The widest place of each piece grown by half of `grown` on all sides."""
    out = []
    for piece in list_pieces(line):
        if measures.measure(piece.shape).widest is not None:
            width, (x, y) = measure_widest_grown(measures, piece.shape, grown / 2 / piece.scale)
            who = get_letters_at(piece.shape, find_glyph(measures, piece.shape, x, y))
            out.append(StrokePlace(width * piece.scale, "piece", locate_on_blank(piece, x, y), who, piece))
    return out


def _measure_cut_widest(line: SetLine, order: Order, measures: GlyphMetrics, size: float, grown: float) -> float:
    """The widest stroke of the line at this cap height, cut wider by `grown` in all."""
    larger, widest = size / line.cap_height, 0.0
    for piece in list_pieces(line):
        place = measures.measure(piece.shape).widest
        if place is not None and is_filling_crotches(order, grown):
            scale = piece.scale * larger
            widest = max(widest, measure_widest_grown(measures, piece.shape, grown / 2 / scale)[0] * scale)
        elif place is not None:
            widest = max(widest, place.width * piece.scale * larger + grown)
    return widest


def check_strokes(
    line: SetLine,
    found: LineStrokes,
    by: StrokeContext,
    measures: GlyphMetrics,
    land: float | None = None,
    land_size: float = 0.0,
    *,
    corners: bool = True,
) -> list[Finding]:
    """stroke.too-thin or stroke.thin-after-sanding, stroke.wider-than-cutter or groove.wider-than-cutter,
    groove.too-deep, groove.too-shallow.

    land: the line's narrowest as cut, mm, which growing its strokes would narrow. land_size: the cap height from which
    there is land enough, 0 where there is or no size helps. corners: whether stroke.corner-left is looked for.
    """
    narrow, wide = found.narrowest, found.widest
    if narrow is None or wide is None:
        return []
    out: list[Finding] = []
    cutter, limits, sanded = by.cutter, by.limits, by.finish.sanded_off
    least = limits.stroke.value or 0.0
    after = narrow.width - by.loss
    helps = find_helps(line, narrow, by, measures, land, land_size)

    def name_failure(cut_width: float) -> str:
        """Name the other letters that would be narrower than this as cut."""
        spots = _find_places(line, measures, by.grown, "stroke")
        return list_others([s.glyph for s in spots if s.width < cut_width and s.glyph != narrow.glyph])

    def build_facts(wanted: float, limit: Limit, cut_width: float) -> dict[str, str | float]:
        none = helps.explain_no_size()
        told: dict[str, str | float] = {"source": limit.source, "also": name_failure(cut_width), "sizes": none}
        heavier, percent = helps.find_heavier(wanted)
        style = "another lettering style" if none else "a sturdier lettering style"
        return {**told, "size": helps.compute_size(wanted), "heavier": heavier, "percent": percent, "style": style}

    own: dict[str, str | float] = {"shape": KIND_WORDS[narrow.kind]}
    if narrow.width < least:
        own |= build_facts(least, limits.stroke, least)
        ways = helps.suggest_for_thin(least)
        out.append(_build_finding(cut_kinds.STROKE_TOO_THIN, line, narrow, narrow.width, limits.stroke, own, ways))
    elif after < least:
        own |= {
            "sanded": sanded,
            "cut": narrow.width,
            "loss": by.loss,
            **build_facts(least, limits.stroke, least + by.loss),
        }
        ways = helps.suggest_for_thin(least)
        out.append(
            _build_finding(cut_kinds.STROKE_THIN_AFTER_SANDING, line, narrow, max(0.0, after), limits.stroke, own, ways)
        )
    elif found.shallowest is not None and found.shallowest < (limits.shallowest.value or 0.0):
        shallow = limits.shallowest.value or 0.0
        own = build_facts(cutter.compute_width(shallow), limits.shallowest, cutter.compute_width(shallow + sanded))
        ways = helps.suggest_for_thin(cutter.compute_width(shallow))
        lower = helps.suggest_shallower(found.shallowest)
        ways = ways if lower is None else (*ways, lower)
        out.append(
            _build_finding(cut_kinds.GROOVE_TOO_SHALLOW, line, narrow, found.shallowest, limits.shallowest, own, ways)
        )
    out += _check_wide(line, found, by, helps, measures)
    if corners and not cutter.cuts_grooves:
        out += _check_corners(line, cutter, measures)
    return out


def find_helps(
    line: SetLine, narrow: StrokePlace, by: StrokeContext, measures: GlyphMetrics, land: float | None, land_size: float
) -> StrokeRemedies:
    """Return what helps this line. narrow: its narrowest stroke as cut."""
    return StrokeRemedies(
        line=line,
        designed=narrow.width - by.grown,
        cut_widest=lambda size, grown: _measure_cut_widest(line, by.order, measures, size, grown),
        land=land,
        land_size=land_size,
        by=by,
    )


def _check_wide(
    line: SetLine, found: LineStrokes, by: StrokeContext, helps: StrokeRemedies, measures: GlyphMetrics
) -> list[Finding]:
    wide, cutter = require_value(found.widest, "the widest place"), by.cutter
    if not cutter.cuts_grooves:
        return _check_floor(line, wide, by.order.limits.deepest, by, helps)
    out = []
    own: dict[str, str | float]
    if by.floor is not None:
        out += _check_flat_floor(line, wide, by, by.floor)
    elif cutter.widest is not None and wide.width > cutter.widest:
        areas = {p: _measure_area_beyond(p, cutter.widest, by.grown, measures) for p in list_pieces(line)}
        others = [get_letters_at(p.shape, range(len(p.shape.glyphs))) for p, area in areas.items() if area]
        limit = Limit(value=cutter.widest, source=f"{cutter.name}: its diameter and reach")
        own = {"area": sum(areas.values()), "source": limit.source, "sizes": helps.explain_no_size()}
        own["also"] = list_others([other for other in others if other != wide.glyph], "as wide")
        kind = cut_kinds.GROOVE_WIDER_THAN_CUTTER if by.order.files.grooves else cut_kinds.STROKE_WIDER_THAN_CUTTER
        out.append(_build_finding(kind, line, wide, wide.width, limit, own, helps.suggest_for_wide()))
    deepest = by.limits.deepest
    if found.deepest is not None and deepest.value is not None and found.deepest > deepest.value * (1 + 1e-9):
        own = {"width": wide.width, "source": deepest.source, "sizes": helps.explain_no_size()}
        out.append(
            _build_finding(cut_kinds.GROOVE_TOO_DEEP, line, wide, found.deepest, deepest, own, helps.suggest_for_deep())
        )
    else:
        out += _check_floor(line, wide, found.deepest, by, helps)
    return out


def _check_floor(
    line: SetLine, wide: StrokePlace, depth: float | None, by: StrokeContext, helps: StrokeRemedies
) -> list[Finding]:
    """Raise stock.floor-too-thin where too little stays under the deepest cut of a line."""
    fixed = not by.cutter.cuts_grooves or by.floor is not None
    which = f"line {line.line} “{line.text}”: {'its cut is' if fixed else 'the widest stroke takes a groove'}"
    found = find_thin_floor(by, depth, which, wide.at, helps.suggest_for_deep, helps.explain_no_size)
    return [replace(f, line=line.line, glyph=wide.glyph) for f in found]


def find_thin_floor(
    by: StrokeContext,
    depth: float | None,
    which: str,
    at: tuple[float, float],
    suggest: Callable[[], tuple[Way, ...]] = tuple,
    explain: Callable[[], str] = str,
) -> list[Finding]:
    """stock.floor-too-thin where less stays under a cut this deep than has to; of a cut that is deepest where it is
    widest, suggest and explain, asked only then, say what helps, of others a shallower one does. which: what it is cut
    for, in words."""
    least = get_least_floor(by.order)
    if depth is None or least is None or by.thickness is None or not by.cutter.has_depth:
        return []
    unit, has = by.order.unit, compute_lettering_thickness(by.order, by.thickness)
    left = has - depth
    if left >= least.value - 1e-9:
        return []
    fixed = not by.cutter.cuts_grooves or by.floor is not None
    most = unit.round_value(has - least.value, up=False)
    helps: tuple[Way, ...]
    if fixed:
        edit = Edit(table="limits", key="deepest", value=most)
        helps = (build_way(CUT_SHALLOWER, edit, facts={"deepest": most * unit.mm}),) if most > 0 else ()
    else:
        helps = suggest()
    taken = [
        ("off the face before it", compute_off_before_lettering(by.order)),
        ("off the back", compute_taken_off_back(by.order)),
    ]
    off = " and ".join(f"{unit.show(value)} {side}" for side, value in taken if value)
    facts: dict[str, Fact] = {
        "which": which,
        "depth": depth,
        "source": least.source,
        "chain": f"; of {unit.show(by.thickness)}, {off} are taken" if off else "",
        "sizes": "" if fixed else explain(),
        "finer": FINER,
        "x": float(at[0]),
        "y": float(at[1]),
    }
    return [
        build_finding(
            shop_kinds.FLOOR_TOO_THIN,
            at=(float(at[0]), float(at[1])),
            measured=max(0.0, left),
            limit=least.value,
            unit="mm",
            facts=facts,
            ways=helps,
        )
    ]


def _check_flat_floor(line: SetLine, wide: StrokePlace, by: StrokeContext, floor: FlatFloor) -> list[Finding]:
    """groove.flat-floor where a stroke is wider than a plain groove may be."""
    grooves = build_order_planner(by.order, by.cutter)
    widest = 2 * require_value(grooves.floor, "a flat floor").track + by.grown
    if wide.width <= widest:
        return []
    area = sum(float(grooves.compute_cleared(p.shape, p.scale).area) for p in list_pieces(line))
    own: dict[str, str | float] = {"depth": floor.depth, "cutter": by.cutter.name, "mill": floor.mill.name}
    limit = Limit(value=widest, source="the depth of the floor")
    return [_build_finding(cut_kinds.GROOVE_FLAT_FLOOR, line, wide, wide.width, limit, {**own, "area": area})]


def _check_corners(line: SetLine, cutter: Cutter, measures: GlyphMetrics) -> list[Finding]:
    """stroke.corner-left for an upright cutter, at the worst corner of the line."""
    area, whole, worst = 0.0, 0.0, None
    for piece in list_pieces(line):
        if piece.shape.single_line or not piece.shape.outline:
            continue
        left = measure_corners(measures, piece.shape, cutter.line_width / 2 / piece.scale)
        area += left.area * piece.scale**2
        whole += measures.get_polygon(piece.shape).area * piece.scale**2
        if left.at is not None and math.isfinite(left.reach):
            reach = left.reach * piece.scale
            if worst is None or reach > worst[0]:
                worst = reach, piece, left.at
    if worst is None or worst[0] < VISIBLE:
        return []
    reach, piece, at = worst
    who = get_letters_at(piece.shape, find_glyph(measures, piece.shape, *at))
    place = StrokePlace(reach, "corner", locate_on_blank(piece, *at), who, piece)
    limit = Limit(value=cutter.line_width, source=cutter.name)
    own: dict[str, str | float] = {"area": area, "whole": whole, "reached": whole - area}
    own["radius"] = cutter.line_width / 2
    return [_build_finding(cut_kinds.STROKE_CORNER_LEFT, line, place, place.width, limit, own)]


def _measure_area_beyond(piece: Piece, width: float, grown: float, measures: GlyphMetrics) -> float:
    """Area of a piece, as cut, where a disc as wide as this fits (its opening), mm²."""
    m = measures.measure(piece.shape)
    if m.widest is None or m.widest.width * piece.scale + grown <= width:
        return 0.0
    r, moved = width / piece.scale / 2, grown / piece.scale / 2
    return measure_opened_area(measures, piece.shape, r, moved) * piece.scale**2


def _build_finding(
    kind: Kind,
    line: SetLine,
    spot: StrokePlace,
    measured: float,
    limit: Limit,
    facts: dict[str, str | float],
    ways: tuple[Way, ...] = (),
) -> Finding:
    x, y = spot.at
    return build_finding(
        kind,
        line=line.line,
        glyph=spot.glyph,
        at=spot.at,
        measured=measured,
        limit=limit.value,
        unit="mm",
        facts={"text": line.text, "x": x, "y": y, "finer": FINER, **facts},
        ways=ways,
    )
