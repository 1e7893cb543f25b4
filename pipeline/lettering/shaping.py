"""Setting one row: text becomes placed shapes in font units, kerned, joined, in visual order.

*Ink position* is pen position plus offset. *Tracking* is extra space after each character, in thousandths of an em.
*Cluster* here: glyphs whose ink touches or overlaps; they become one shape, united as curves.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, NamedTuple

import pathops
import shapely

from pipeline.core.language.bidi import Base
from pipeline.core.model import GlyphUse, PlacedShape, Shape, ShapedRow
from pipeline.geometry.flatten import Box
from pipeline.geometry.regions import build_polygon_from_outline
from pipeline.lettering import outlines
from pipeline.lettering.arc_union import TOUCH_OF_EM
from pipeline.lettering.mark_placement import find_misplaced_marks
from pipeline.lettering.outlines import GlyphOutline
from pipeline.lettering.text_runs import TextRun, find_joins, itemise, split_clusters
from pipeline.lettering.typeface import ShapedGlyph, Typeface, is_ignorable

TURKIC_I = frozenset(("tr", "az", "crh"))
"""Languages with a dotted and a dotless i: "fi" must not lose its dot in a ligature. Noto Sans, Roboto Slab and GFS
Didot keep the ligature although the language is set, so it is turned off here."""

_ROWS_REMEMBERED = 4096  # per typeface: a line tried at several sizes is shaped once

_UNSETTABLE = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff]")
"""Controls, line ends, lone surrogates: no typeface sets them, although some fonts and HarfBuzz show a substitute."""

_DOTTED_CIRCLE = "\u25cc"  # HarfBuzz inserts it under a combining mark without a base


class _Glyph(NamedTuple):
    """A glyph with ink, where it stands in the row (row units)."""

    face: Typeface
    glyph: int
    text: str
    x: float
    y: float
    scale: float  # font units of its typeface -> the row's
    at: int  # index of its first character


def shape_row(
    faces: Sequence[Typeface],
    text: str,
    *,
    tracking: int = 0,
    language: str | None = None,
    features: Mapping[str, bool] | None = None,
    base: Base | None = None,
) -> ShapedRow:
    """Set one row of text in `faces[0]`; characters it lacks are set in the first other typeface that has them, at the
    same cap height. Those that none has are named in `missing` and left out.

    tracking: thousandths of an em, ligatures off when not 0; not applied (and reported as 0) where letters join.
    language: BCP 47. base: the row's direction, "L" or "R"; by default that of its first letter.
    """
    first = faces[0]
    asked = (
        text,
        tracking,
        language,
        base,
        tuple(sorted((features or {}).items())),
        tuple(face.identity for face in faces),
    )
    if asked not in first.rows:
        if len(first.rows) >= _ROWS_REMEMBERED:
            first.rows.clear()
        first.rows[asked] = _set(faces, text, tracking=tracking, language=language, features=features or {}, base=base)
    return first.rows[asked]


def _set(
    faces: Sequence[Typeface],
    text: str,
    *,
    tracking: int,
    language: str | None,
    features: Mapping[str, bool],
    base: Base | None,
) -> ShapedRow:
    first = faces[0]
    runs = itemise(text, base)
    if tracking and (first.joins or any(f.joins for f in faces) or find_joins(runs)):
        tracking = 0
    wanted: dict[str, bool] = {**first.features, **features}
    if tracking:
        wanted = {"liga": False, "clig": False, **wanted}
    if language and language.replace("_", "-").split("-")[0].lower() in TURKIC_I:
        wanted = {"liga": False, **wanted}
    space = tracking * first.units_per_em / 1000

    pen = 0.0
    glyphs: list[_Glyph] = []
    missing: dict[str, None] = {}
    spaced = False  # whether tracking goes before the next character
    for run in runs:
        for face, part, steps in _split_by_face(faces, text, run, language=language, features=wanted, missing=missing):
            scale = 1.0 if face is first else first.cap_units / face.cap_units
            ends = _find_cluster_ends(steps, part.end)
            at = -1
            for step in steps:
                if step.cluster != at:
                    pen += space if spaced else 0.0
                    at, spaced = step.cluster, True
                if step.glyph and face.draw_glyph(step.glyph).outline:
                    glyphs.append(
                        _Glyph(face, step.glyph, text[at : ends[at]], pen + step.dx * scale, step.dy * scale, scale, at)
                    )
                pen += step.advance * scale
    boxes = [_get_box(g) for g in glyphs]
    shapes = tuple(_build_shape(group) for group in _group_touching(first, glyphs, boxes))
    return ShapedRow(
        text=text,
        face=first.identity,
        shapes=shapes,
        advance=pen,
        ink=_compute_ink_box(boxes),
        cap_units=first.cap_units,
        units_per_em=first.units_per_em,
        tracking=tracking,
        missing=tuple(missing),
    )


# --- choosing faces -----------------------------------------------------------------------------------------------


def _split_by_face(
    faces: Sequence[Typeface],
    text: str,
    run: TextRun,
    *,
    language: str | None,
    features: Mapping[str, bool],
    missing: dict[str, None],
) -> list[tuple[Typeface, TextRun, list[ShapedGlyph]]]:
    """Shape a run typeface by typeface, in visual order."""
    steps = faces[0].shape_run(text, run, language, features)
    if not _has_faults(faces[0], text, run, steps):
        return [(faces[0], run, steps)]
    stretches: list[tuple[Typeface | None, int, int]] = []
    for start, end in split_clusters(text, run.start, run.end):
        face = next(
            (f for f in faces if _can_set(f, text, replace(run, start=start, end=end), language, features)), None
        )
        if face is None:
            missing[_name_characters(text[start:end])] = None
        if stretches and stretches[-1][0] is face:
            stretches[-1] = (face, stretches[-1][1], end)
        else:
            stretches.append((face, start, end))
    if run.right_to_left:
        stretches.reverse()
    out = []
    for face, start, end in stretches:
        if face is not None:
            part = replace(run, start=start, end=end)
            own = features if face is faces[0] else {**features, **face.features}
            out.append((face, part, face.shape_run(text, part, language, own)))
    return out


def _can_set(face: Typeface, text: str, part: TextRun, language: str | None, features: Mapping[str, bool]) -> bool:
    return not _has_faults(face, text, part, face.shape_run(text, part, language, features))


def _has_faults(face: Typeface, text: str, run: TextRun, steps: Sequence[ShapedGlyph]) -> bool:
    """Return whether a glyph is missing, a mark is misplaced, or a mark was given a dotted circle as its base."""
    if any(step.glyph == 0 for step in steps) or _UNSETTABLE.search(text, run.start, run.end):
        return True
    if find_misplaced_marks(face, text, run, steps):
        return True
    circle = face.circle
    unasked = _DOTTED_CIRCLE not in text[run.start : run.end]
    return bool(circle) and unasked and any(step.glyph == circle for step in steps)


def _name_characters(characters: str) -> str:
    """Name missing characters, without the joiners and direction marks beside them."""
    return "".join(c for c in characters if not is_ignorable(c)) or characters


def _find_cluster_ends(steps: Sequence[ShapedGlyph], end: int) -> dict[int, int]:
    """Find where the characters of each cluster end."""
    starts = sorted({step.cluster for step in steps})
    return dict(zip(starts, [*starts[1:], end], strict=True))


# --- shapes -------------------------------------------------------------------------------------------------------


def _group_touching(first: Typeface, glyphs: Sequence[_Glyph], boxes: Sequence[Box]) -> list[list[_Glyph]]:
    """Group glyphs by touching ink, in the order of each group's first glyph."""
    count = len(glyphs)
    home = list(range(count))
    slack = first.units_per_em * TOUCH_OF_EM
    order = sorted(range(count), key=lambda i: boxes[i][0])
    live: list[int] = []
    for j in order:
        x0, y0, _, y1 = boxes[j]
        live = [i for i in live if boxes[i][2] + slack >= x0]
        for i in live:
            if boxes[i][3] + slack >= y0 and boxes[i][1] - slack <= y1:
                a, b = (i, j) if i < j else (j, i)
                if _find_root(home, a) != _find_root(home, b) and _are_touching(first, glyphs[a], glyphs[b], slack):
                    low, high = sorted((_find_root(home, a), _find_root(home, b)))
                    home[high] = low
        live.append(j)
    groups: dict[int, list[_Glyph]] = {}
    for i, glyph in enumerate(glyphs):
        groups.setdefault(_find_root(home, i), []).append(glyph)
    return list(groups.values())


def _find_root(home: list[int], i: int) -> int:
    while home[i] != i:
        i = home[i]
    return i


def _are_touching(first: Typeface, a: _Glyph, b: _Glyph, slack: float) -> bool:
    if a.face.single_line or b.face.single_line:
        return False  # single lines have no areas to unite
    dx, dy = round(b.x - a.x, 6), round(b.y - a.y, 6)
    key = ("touch", a.face.outlines_key, a.glyph, b.face.outlines_key, b.glyph, dx, dy, a.scale, b.scale)
    known = first.memo.get(key)
    if known is None:
        there = shapely.transform(_get_polygons(b), lambda p: p + (dx, dy))
        known = first.memo[key] = bool(shapely.distance(_get_polygons(a), there) <= slack)
    return bool(known)


def _get_polygons(g: _Glyph) -> Any:
    key = ("polygons", g.glyph, g.scale)
    if key not in g.face.memo:
        shape = build_polygon_from_outline(g.face.draw_glyph(g.glyph).outline, g.face.units_per_em * TOUCH_OF_EM / 2)
        g.face.memo[key] = shapely.transform(shape, lambda p: p * g.scale)
    return g.face.memo[key]


def _build_shape(group: Sequence[_Glyph]) -> PlacedShape:
    """Build one placed shape from the group, in the units of its first glyph's typeface."""
    lead = group[0]
    if len(group) == 1:
        return PlacedShape(shape=_build_single(lead), x=lead.x, y=lead.y, scale=lead.scale, at=(lead.at,))
    places = tuple(
        (round((g.x - lead.x) / lead.scale, 6), round((g.y - lead.y) / lead.scale, 6), round(g.scale / lead.scale, 9))
        for g in group
    )
    memo = tuple((g.face.outlines_key, g.glyph, g.text, *place) for g, place in zip(group, places, strict=True))
    shape = lead.face.memo.get(memo)
    if not isinstance(shape, Shape):
        shape = lead.face.memo[memo] = _build_cluster(group, places)
    return PlacedShape(shape=shape, x=lead.x, y=lead.y, scale=lead.scale, at=tuple(g.at for g in group))


def _build_single(g: _Glyph) -> Shape:
    """Build the shape of one glyph, once for each text that it represents."""
    memo = (g.glyph, g.text)
    shape = g.face.memo.get(memo)
    if not isinstance(shape, Shape):
        use = GlyphUse(glyph=g.glyph, name=g.face.get_glyph_name(g.glyph), text=g.text)
        ink = g.face.draw_glyph(g.glyph)
        shape = g.face.memo[memo] = Shape(
            key=outlines.build_key(f"{g.face.outlines_key}:{g.glyph}", ink.specks),
            outline=ink.outline,
            glyphs=(use,),
            units_per_em=g.face.units_per_em,
            cap_units=g.face.cap_units,
            single_line=g.face.single_line,
            joins=g.face.joins,
        )
    return shape


def _build_cluster(group: Sequence[_Glyph], places: Sequence[tuple[float, float, float]]) -> Shape:
    face = group[0].face
    key = (
        face.outlines_key
        + ":"
        + "+".join(_build_part_key(face, g, place) for g, place in zip(group, places, strict=True))
    )
    ink = face.unite_cluster(key, lambda: _unite(group, places))
    parts = tuple(_build_single(g) for g in group)
    uses = tuple(
        replace(part.glyphs[0], dx=dx, dy=dy, scale=scale) for part, (dx, dy, scale) in zip(parts, places, strict=True)
    )
    specks = ink.specks + sum(g.face.draw_glyph(g.glyph).specks for g in group)
    return Shape(
        key=outlines.build_key(key, specks),
        outline=ink.outline,
        glyphs=uses,
        units_per_em=face.units_per_em,
        cap_units=face.cap_units,
        parts=parts,
    )


def _build_part_key(face: Typeface, g: _Glyph, place: tuple[float, float, float]) -> str:
    dx, dy, scale = place
    other = "" if g.face is face else f"({g.face.outlines_key})"
    return f"{other}{g.glyph}@{dx:.12g},{dy:.12g}" + ("" if scale == 1 else f"*{scale:.12g}")


def _unite(group: Sequence[_Glyph], places: Sequence[tuple[float, float, float]]) -> GlyphOutline:
    path = pathops.Path()
    for g, (dx, dy, scale) in zip(group, places, strict=True):
        path.addPath(outlines.convert_to_pathops(g.face.draw_glyph(g.glyph).outline, dx, dy, scale))
    face = group[0].face
    whole = outlines.unite_contours(path, face.cap_units, face.units_per_em)
    worst = max(g.face.draw_glyph(g.glyph).deviation for g in group)
    return replace(whole, deviation=max(whole.deviation, worst))


def _get_box(g: _Glyph) -> Box:
    x0, y0, x1, y1 = g.face.draw_glyph(g.glyph).bounds or (0.0, 0.0, 0.0, 0.0)
    s = g.scale
    return g.x + x0 * s, g.y + y0 * s, g.x + x1 * s, g.y + y1 * s


def _compute_ink_box(boxes: Sequence[Box]) -> Box | None:
    if not boxes:
        return None
    x0, y0, x1, y1 = zip(*boxes, strict=True)
    return min(x0), min(y0), max(x1), max(y1)
