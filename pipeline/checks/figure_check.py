"""Checks a client's drawing as it will be cut: strokes, grooves, land and corners, as for letters.

Remedies are found here and tried by the caller, who can place the drawing anew.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from pipeline.checks.glyph_metrics import GlyphMetrics
from pipeline.checks.groove_check import MISSED, OFF, measure_groove_depth
from pipeline.checks.land_check import LandPlace
from pipeline.checks.line_context import KIND_WORDS, list_pieces, locate_on_blank
from pipeline.checks.reach_check import measure_corners
from pipeline.checks.stroke_check import VISIBLE, LineStrokes, find_thin_floor, measure_strokes
from pipeline.checks.stroke_remedies import StrokeContext, take
from pipeline.core.catalogue import artwork_kinds as kinds
from pipeline.core.catalogue import ways
from pipeline.core.findings import Edit, Fact, Finding, Kind, Way, WayKind, build_finding, build_way
from pipeline.core.measured_values import GROOVE_DEPTH, GROOVE_SHALLOWEST, STROKE_AFTER_SANDING, Measurement
from pipeline.core.model import LineMeasure, SetFigure
from pipeline.core.required import require_value
from pipeline.cutting.cutters import Limit, build_shelf, compute_limits
from pipeline.cutting.cutting_data import compute_lettering_thickness, get_least_floor
from pipeline.cutting.groove_sweep import build_order_sweeper

_SPARE = 0.005
"""Suggested sizes are better than needed by this fraction: a width is known to about half of it."""
MOST_GROWTH = 3.0
"""Artwork enlarged by more than this factor is another design, not a remedy."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CheckedFigure:
    """The measurements of a figure, and the findings about it."""

    measure: LineMeasure
    findings: tuple[Finding, ...]


def check_figure(
    figure: SetFigure, lands: Sequence[LandPlace], by: StrokeContext, measures: GlyphMetrics, key: str = "width"
) -> CheckedFigure:
    """Check the figure as it will be cut. lands: its narrowest places of land, least first, except those to lettering.
    key: the key of its [[artwork]] that decides its size."""
    looked = _FigureLook(figure, by, measures, key)
    strokes = measure_strokes(figure, by.cutter, by.order, measures)
    found = (
        [*looked.check_lines()]
        if figure.cut == "line"
        else [*looked.check_strokes(strokes), *looked.check_widest(strokes)]
    )
    if figure.cut != "line" and not any(f.severity == "stop" for f in found):
        found += looked.check_sweep()
        if by.order.files.grooves and by.cutter.cuts_grooves:
            sweeps = build_order_sweeper(by.order, by.cutter)
            strokes = replace(strokes, deepest=measure_groove_depth(figure, sweeps))
    found += looked.check_lands(lands)
    after = strokes.after_sanding if by.order.finish.sanded_off else None
    figures = (STROKE_AFTER_SANDING, after), (GROOVE_DEPTH, strokes.deepest), (GROOVE_SHALLOWEST, strokes.shallowest)
    measured = [] if strokes.narrowest is None else [strokes.narrowest.to_measurement()]
    measured += [place.to_measurement() for place in lands[:1]]
    if figure.cut == "line" and (depth := next(list_pieces(figure)).shape.depth):
        measured.append(Measurement(name=GROOVE_DEPTH.key, value=depth))
    measured += [Measurement(name=what.key, value=value) for what, value in figures if value is not None]
    measure = LineMeasure(line=0, measurements=tuple(measured))
    return CheckedFigure(measure=measure, findings=tuple(found))


@dataclass(frozen=True, slots=True, eq=False)
class _FigureLook:
    figure: SetFigure
    by: StrokeContext
    measures: GlyphMetrics
    key: str

    def check_strokes(self, found: LineStrokes) -> list[Finding]:
        narrow, by = found.narrowest, self.by
        if narrow is None:
            return []
        least, after = by.limits.stroke.value or 0.0, narrow.width - by.loss
        sanded = f" after {by.order.unit.show(by.finish.sanded_off)} comes off the face" if by.loss else ""
        own: dict[str, Fact] = {"shape": KIND_WORDS[narrow.kind], "sanded": sanded}
        if after < least:
            own |= {"heavier": least - after, "source": by.limits.stroke.source}
            helps = self._suggest_larger(narrow.width - by.grown, least + by.loss - by.grown, found)
            return [
                self._build_finding(
                    kinds.TOO_FINE,
                    narrow.at,
                    max(0.0, after),
                    by.limits.stroke,
                    own,
                    (*helps, *self._suggest_finer(found)),
                )
            ]
        shallow = by.limits.shallowest.value or 0.0
        if found.shallowest is not None and found.shallowest < shallow:
            wanted = by.cutter.compute_width(shallow + by.finish.sanded_off)
            own |= {"heavier": wanted - narrow.width, "source": by.limits.shallowest.source}
            helps = self._suggest_larger(narrow.width - by.grown, wanted - by.grown, found)
            return [
                self._build_finding(kinds.TOO_SHALLOW, narrow.at, found.shallowest, by.limits.shallowest, own, helps)
            ]
        return []

    def check_widest(self, found: LineStrokes) -> list[Finding]:
        wide, by, cutter = found.widest, self.by, self.by.cutter
        if wide is None:
            return []
        if not cutter.cuts_grooves:
            return [*self._check_floor(by.order.limits.deepest, wide.at), *self._check_corners()]
        if by.floor is not None:  # a flat cutter clears places too wide for a plain groove
            return self._check_floor(found.deepest, wide.at)
        out = []
        if cutter.widest is not None and wide.width > cutter.widest:
            limit = Limit(value=cutter.widest, source=f"{cutter.name}: its diameter and reach")
            kind = kinds.GROOVES_TOO_WIDE if by.order.files.grooves else kinds.TOO_WIDE
            helps = self._suggest_smaller(wide.width - by.grown, cutter.widest - by.grown, found)
            out.append(self._build_finding(kind, wide.at, wide.width, limit, {"source": limit.source}, helps))
        deepest = by.limits.deepest
        if found.deepest is not None and deepest.value is not None and found.deepest > deepest.value * (1 + 1e-9):
            most = cutter.compute_width(deepest.value)
            own: dict[str, Fact] = {"what": "the widest area", "width": wide.width, "source": deepest.source}
            helps = self._suggest_smaller(wide.width - by.grown, most - by.grown, found)
            out.append(self._build_finding(kinds.TOO_DEEP, wide.at, found.deepest, deepest, own, helps))
        elif by.thickness is not None and (least := get_least_floor(by.order)) is not None:
            most = cutter.compute_width(max(0.0, compute_lettering_thickness(by.order, by.thickness) - least.value))
            helps = self._suggest_smaller(wide.width - by.grown, most - by.grown, found)
            out += self._check_floor(found.deepest, wide.at, helps)
        return out

    def _check_floor(
        self, depth: float | None, at: tuple[float, float], helps: tuple[Way, ...] = (), what: str = ""
    ) -> list[Finding]:
        """Check the floor under its deepest cut."""
        fixed = not self.by.cutter.cuts_grooves or self.by.floor is not None
        what = what or ("its cut is" if fixed else "the widest area takes a groove")
        number, name = self.figure.number, self.figure.text
        return find_thin_floor(self.by, depth, f"artwork {number} “{name}”: {what}", at, lambda: helps)

    def check_lines(self) -> list[Finding]:
        """Lines that are followed: only their depth can be too much."""
        piece = next(list_pieces(self.figure))
        depth, deepest = piece.shape.depth, self.by.limits.deepest
        if depth is None or deepest.value is None or depth <= deepest.value * (1 + 1e-9):
            if depth is None and not self.by.cutter.cuts_grooves:
                depth = self.by.order.limits.deepest
            return self._check_floor(depth, (piece.x, piece.y), what="its lines are")
        own: dict[str, Fact] = {
            "what": "its line",
            "width": self.by.cutter.compute_width(depth),
            "source": deepest.source,
        }
        return [self._build_finding(kinds.TOO_DEEP, (piece.x, piece.y), depth, deepest, own)]

    def check_sweep(self) -> list[Finding]:
        """Check the simulated cut of its grooves, where they are written."""
        order, cutter = self.by.order, self.by.cutter
        if not order.files.grooves or not cutter.cuts_grooves:
            return []
        sweeps = build_order_sweeper(order, cutter)
        allowed = max(OFF, order.files.tolerance)
        for piece in list_pieces(self.figure):
            found = sweeps.sweep(piece.shape, piece.scale)
            cut, how, most = found.cut, "", f"{allowed:.3f} mm"
            at, off, limit = cut.overcut_at, cut.overcut, allowed
            if cut.overcut > allowed:
                how = f"cuts {cut.overcut:.3f} mm beyond it"
            elif cut.undercut > allowed:
                how, at, off = f"stays {cut.undercut:.3f} mm short of it", cut.undercut_at, cut.undercut
            elif found.missed_share > MISSED:
                how = f"leaves {found.missed:.2f} of the {found.reached:.2f} mm² it gets into"
                at, off, limit, most = cut.undercut_at, 100 * found.missed_share, 100 * MISSED, f"{100 * MISSED:g} %"
            if how:
                x, y = at or (0.0, 0.0)
                place = locate_on_blank(piece, x / piece.scale, y / piece.scale)
                own: dict[str, Fact] = {"how": how, "most": most}
                return [self._build_finding(kinds.GROOVES_OFF, place, off, Limit(value=limit, source=""), own)]
        return []

    def check_lands(self, lands: Sequence[LandPlace]) -> list[Finding]:
        limits, least = self.by.limits, self.by.limits.land.value or 0.0
        thin = [spot for spot in lands if spot.width < least]
        if not thin:
            return []
        worst, name = thin[0], self.figure.text
        between = {
            "gap": "between its parts",
            "neighbour": "between its parts",
            "aperture": "in an opening of it",
            "counter": "inside it",
            "artwork": f"between it and “{worst.b if worst.b != name else worst.a}”",
        }.get(worst.kind, f"between it and {_A[worst.kind]}" if worst.kind in _A else "beside it")
        helps: tuple[Way, ...] = ()
        cure = "move it away, or make it smaller"
        if worst.grows:
            helps = self._suggest_larger(worst.width + worst.taken, least + worst.taken, None)
            cure = "have that gap in the drawing widened, or the parts joined"
        own: dict[str, Fact] = {"between": between, "source": limits.land.source, "cure": cure}
        return [self._build_finding(kinds.LAND_TOO_THIN, worst.at, max(0.0, worst.width), limits.land, own, helps)]

    def _check_corners(self) -> list[Finding]:
        cutter, area, whole = self.by.cutter, 0.0, 0.0
        worst: tuple[float, tuple[float, float]] | None = None
        for piece in list_pieces(self.figure):
            left = measure_corners(self.measures, piece.shape, cutter.line_width / 2 / piece.scale)
            area += left.area * piece.scale**2
            whole += self.measures.get_polygon(piece.shape).area * piece.scale**2
            if left.at is not None and math.isfinite(left.reach):
                reach = left.reach * piece.scale
                if worst is None or reach > worst[0]:
                    worst = (reach, locate_on_blank(piece, *left.at))
        if worst is None or worst[0] < VISIBLE:
            return []
        limit = Limit(value=cutter.line_width, source=cutter.name)
        return [self._build_finding(kinds.CORNERS_LEFT, worst[1], worst[0], limit, {"area": area, "whole": whole})]

    # --- what helps ---

    def _suggest_larger(self, has: float, wants: float, found: LineStrokes | None) -> tuple[Way, ...]:
        """Suggest a size at which what is now `has` wide is as wide as needed."""
        if has <= 0 or wants <= has or wants > MOST_GROWTH * has:
            return ()
        times = wants / has * (1 + _SPARE)
        widest = self.by.cutter.widest
        if (
            found is not None
            and found.widest is not None
            and widest is not None
            and found.widest.width * times > widest
        ):
            return ()
        return self._suggest_size(times, up=True, kind=ways.ARTWORK_LARGER)

    def _suggest_smaller(self, has: float, wants: float, found: LineStrokes) -> tuple[Way, ...]:
        if wants <= 0 or wants >= has or has > MOST_GROWTH * wants:
            return ()
        times, least = wants / has * (1 - _SPARE), self.by.limits.stroke.value or 0.0
        narrow = require_value(found.narrowest, "the narrowest stroke beside a widest")
        if (narrow.width - self.by.grown) * times + self.by.grown - self.by.loss < least:
            return ()
        return self._suggest_size(times, up=False, kind=ways.ARTWORK_SMALLER)

    def _suggest_size(self, times: float, *, up: bool, kind: WayKind) -> tuple[Way, ...]:
        figure, units = self.figure, self.by.order.unit
        if not figure.number:
            return ()  # a figure of the blank's own drawing has the size it is drawn at
        own = figure.width if self.key == "width" else figure.cap_height
        value = units.round_value(own * times, up=up)
        edit = Edit(table="artwork", number=figure.number, key=self.key, value=value)
        facts: dict[str, Fact] = {
            "width": figure.width * value * units.mm / own,
            "key": self.key,
            "size": value * units.mm,
        }
        return (build_way(kind, edit, facts=facts),)

    def _suggest_finer(self, found: LineStrokes) -> tuple[Way, ...]:
        """Suggest the cutter of the shelf nearest to the order's for which its strokes are wide enough."""
        by = self.by
        narrow, wide = require_value(found.narrowest, "a stroke"), require_value(found.widest, "a widest place")
        able = []
        for cutter in build_shelf(by.order.shop).values():
            if cutter.kind != by.cutter.kind or not cutter.is_finer(by.cutter):
                continue
            limits = compute_limits(by.order, cutter, by.thickness)
            then = StrokeContext(cutter=cutter, limits=limits, order=by.order, thickness=by.thickness)
            designed = narrow.width - by.grown
            if designed + then.grown - then.loss < (limits.stroke.value or 0.0):
                continue
            if wide.width - by.grown + then.grown <= (cutter.widest or math.inf):
                able.append(cutter)
        best = max(able, key=lambda c: (c.slope, c.line_width), default=None)
        return (
            () if best is None else (build_way(ways.ARTWORK_CUTTER, *take(best, by.order), facts={"name": best.name}),)
        )

    def _build_finding(
        self,
        kind: Kind,
        at: tuple[float, float],
        measured: float,
        limit: Limit,
        facts: dict[str, Fact],
        helps: tuple[Way, ...] = (),
    ) -> Finding:
        at = (float(at[0]), float(at[1]))
        own: dict[str, Fact] = {"number": self.figure.number, "file": self.figure.text, "x": at[0], "y": at[1]}
        unit = "%" if "%" in str(facts.get("most", "")) else "mm"
        return build_finding(
            kind,
            at=at,
            measured=measured,
            limit=limit.value,
            unit=unit,
            facts={**own, "finer": 1, **facts},
            ways=helps,
        )


_A = {"keep-out": "a keep-out", "pocket": "the pocket", "hole": "a hole", "edge": "the edge"}
