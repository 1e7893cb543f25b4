"""Checks the simulated cut of a line's grooves: what the bit cuts outside the letters, and what it leaves of them.

Only where grooves are written. Each letter, or cluster of letters that touch, is swept once for its size and bit.
"""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.checks.glyph_metrics import GlyphMetrics
from pipeline.checks.line_context import get_letters_at, list_pieces, locate_on_blank
from pipeline.checks.reach_check import find_glyph
from pipeline.core.catalogue import cut_kinds
from pipeline.core.findings import Fact, Finding, build_finding
from pipeline.core.model import Piece, SetLine
from pipeline.cutting.cutters import Cutter
from pipeline.cutting.groove_sweep import GrooveSweeper, SweptGroove

OFF = 0.01
"""mm. Cut beyond the letter, or short of where the tip fits, by no more than this (or than [files] tolerance, where
that is coarser)."""
MISSED = 0.01
"""Largest share of the area the tip fits in that may stay uncut."""
ENDS = 0.1
"""mm. Acute ends left uncut by less are not mentioned (common practice, no source)."""


def check_grooves(line: SetLine, sweeps: GrooveSweeper, tolerance: float, measures: GlyphMetrics) -> list[Finding]:
    """groove.off-letter where the cut differs from the letters by too much; groove.ends-left otherwise, where acute
    ends stay that the flat tip cannot enter. tolerance: of the files, mm."""
    found = [(piece, sweeps.sweep(piece.shape, piece.scale)) for piece in list_pieces(line) if _has_area(piece)]
    if not found:
        return []
    allowed = max(OFF, tolerance)
    over = max(found, key=lambda f: f[1].cut.overcut)
    under = max(found, key=lambda f: f[1].cut.undercut)
    missed = max(found, key=lambda f: f[1].missed_share)
    if over[1].cut.overcut > allowed:
        off = over[1].cut.overcut
        return [
            _build_off_letter(line, over[0], over[1].cut.overcut_at, off, allowed, "cuts {off} beyond it", measures)
        ]
    if under[1].cut.undercut > allowed:
        off = under[1].cut.undercut
        return [
            _build_off_letter(
                line, under[0], under[1].cut.undercut_at, off, allowed, "stays {off} short of it", measures
            )
        ]
    if missed[1].missed_share > MISSED:
        return [_build_missed(line, *missed, measures)]
    floors = [(piece, swept) for piece, swept in found if swept.floor is not None]
    if floors and (wrong := _check_floor(line, floors, allowed, measures)) is not None:
        return [wrong]
    return _check_ends(line, found, sweeps.grooves.cutter, measures)


def measure_groove_depth(line: SetLine, sweeps: GrooveSweeper) -> float | None:
    """Return the depth of a line's deepest groove as written, mm; None for a line without grooves."""
    lines = (groove for p in list_pieces(line) if _has_area(p) for groove in sweeps.get_grooves(p.shape, p.scale))
    return max((-float(groove[:, 2].min()) for groove in lines), default=None)


def _has_area(piece: Piece) -> bool:
    return bool(piece.shape.outline) and not piece.shape.single_line


def _locate_place(
    piece: Piece, at: tuple[float, float] | None, measures: GlyphMetrics
) -> tuple[tuple[float, float], str]:
    """Locate a point of a piece drawn to size at the origin: its place on the blank, and the letter it belongs to."""
    x, y = (0.0, 0.0) if at is None else (at[0] / piece.scale, at[1] / piece.scale)
    return locate_on_blank(piece, x, y), get_letters_at(piece.shape, find_glyph(measures, piece.shape, x, y))


def _build_off_letter(
    line: SetLine,
    piece: Piece,
    at: tuple[float, float] | None,
    off: float,
    allowed: float,
    how: str,
    measures: GlyphMetrics,
) -> Finding:
    (x, y), glyph = _locate_place(piece, at, measures)
    facts: dict[str, Fact] = {"text": line.text, "x": x, "y": y, "finer": 1, "how": how.format(off=f"{off:.3f} mm")}
    facts["most"] = f"{allowed:.3f} mm"
    return build_finding(
        cut_kinds.GROOVE_OFF_LETTER,
        line=line.line,
        glyph=glyph,
        at=(x, y),
        measured=off,
        limit=allowed,
        unit="mm",
        facts=facts,
    )


def _build_missed(line: SetLine, piece: Piece, swept: SweptGroove, measures: GlyphMetrics) -> Finding:
    how = f"leaves {swept.missed:.2f} of the {swept.reached:.2f} mm² it gets into"
    return _build_left_standing(line, _locate_place(piece, swept.cut.undercut_at, measures), swept.missed_share, how)


def _build_left_standing(line: SetLine, place: tuple[tuple[float, float], str], share: float, how: str) -> Finding:
    """Build a finding about area left standing: where, in which letter, and what share of the area the bit reaches."""
    (x, y), glyph = place
    facts: dict[str, Fact] = {"text": line.text, "x": x, "y": y, "how": how, "most": f"{100 * MISSED:g} %"}
    return build_finding(
        cut_kinds.GROOVE_OFF_LETTER,
        line=line.line,
        glyph=glyph,
        at=(x, y),
        measured=100 * share,
        limit=100 * MISSED,
        unit="%",
        facts=facts,
    )


def _check_floor(
    line: SetLine, found: Sequence[tuple[Piece, SweptGroove]], allowed: float, measures: GlyphMetrics
) -> Finding | None:
    """Check flat floors the same way, at their depth."""
    cuts = [(piece, swept.floor) for piece, swept in found if swept.floor is not None]
    piece, worst = max(cuts, key=lambda f: f[1].overcut)
    if worst.overcut > allowed:
        how = "cuts {off} into the walls of its floor"
        return _build_off_letter(line, piece, worst.overcut_at, worst.overcut, allowed, how, measures)
    piece, swept = max(found, key=lambda f: f[1].floor_missed_share)
    if swept.floor_missed_share <= MISSED:
        return None
    place = _locate_place(piece, swept.floor.undercut_at if swept.floor else None, measures)
    how = f"leaves {swept.floor_missed:.2f} of the {swept.floor_reached:.2f} mm² of its flat floor too high"
    return _build_left_standing(line, place, swept.floor_missed_share, how)


def _check_ends(
    line: SetLine, found: Sequence[tuple[Piece, SweptGroove]], cutter: Cutter, measures: GlyphMetrics
) -> list[Finding]:
    piece, worst = max(found, key=lambda f: f[1].ends)
    if worst.ends < ENDS:
        return []
    (x, y), glyph = _locate_place(piece, worst.ends_at, measures)
    facts: dict[str, Fact] = {"text": line.text, "x": x, "y": y, "tip": cutter.tip, "cutter": cutter.name}
    facts["area"] = sum(swept.ends_area for _, swept in found)
    return [
        build_finding(
            cut_kinds.GROOVE_ENDS_LEFT,
            line=line.line,
            glyph=glyph,
            at=(x, y),
            measured=worst.ends,
            limit=ENDS,
            unit="mm",
            facts=facts,
        )
    ]
