"""Findings about the fit of a plaque's lines, from how they were set."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from itertools import pairwise
from math import hypot, pi

from pipeline.core.catalogue import fit_kinds, ways
from pipeline.core.config.order import LineConfig
from pipeline.core.config.order_edits import build_face_edits
from pipeline.core.findings import Edit, Fact, Finding, Way, build_finding, build_way
from pipeline.layout.available_area import AvailableArea
from pipeline.layout.block import LineSetting, build_placed_outline
from pipeline.layout.line_breaks import HYPHENS, break_rule
from pipeline.layout.suggestions import MORE_ROWS, Try, find_ways_to_fit
from pipeline.layout.typesetter import LineResult, LineText, Typesetter
from pipeline.lettering.other_faces import find_narrower_faces

FACES_TRIED = 2
"""Number of typefaces in which a line fits that are tried on the whole plaque."""

LEAST_SHARE = 0.5
"""No smaller part of the smallest size allowed is advised: letters half as tall beside the others look like a mistake
(common practice, no source). A text that would have to be smaller needs another wording."""

MOST_TRIALS = 12
"""Most settings of the plaque by which such typefaces are looked for."""

SQUEEZED = 0.5
"""A typeface is not tried for a row that would have to be squeezed below this share of its advance (common practice, no
source: no tracking that can be read takes so much)."""

HALVINGS = 17
"""Of the smallest size allowed: the size that fits is known to 1/130,000 of it, and how much a line is too long to
0.001 mm in 130."""


def list_fit_findings(
    setter: Typesetter, texts: Sequence[LineText], tried: Sequence[LineResult], *, advise: bool = True
) -> tuple[Finding, ...]:
    """fit.* of one plaque. With `advise`, a few more settings are tried for a line that doesn't fit, to say what would;
    without it any such line is fit.too-long, and no size is named."""
    out: list[Finding] = []
    for t in tried:
        part = setter.order.line[t.text.line - 1]
        if t.setting is None:
            out.append(_report_misfit(setter, texts, t, part, advise))
            continue
        designed = part.cap_height
        if t.setting.cap_height < designed - 1e-9:
            at_designed = max(row.set_row.width for row in t.placed) * (designed / t.setting.cap_height - 1)
            facts: dict[str, str | int | float] = {
                "text": t.text.words,
                "cap_height": t.setting.cap_height,
                "designed": designed,
                "over": at_designed,
            }
            out.append(
                build_finding(
                    fit_kinds.SET_SMALLER,
                    line=t.text.line,
                    measured=t.setting.cap_height,
                    limit=designed,
                    unit="mm",
                    facts=facts,
                )
            )
        if t.setting.tracking > part.tracking:
            facts_looser: dict[str, str | int | float] = {
                "text": t.text.words,
                "tracking": t.setting.tracking - part.tracking,
            }
            out.append(
                build_finding(
                    fit_kinds.SET_LOOSER,
                    line=t.text.line,
                    measured=t.setting.tracking,
                    limit=part.loosest_tracking,
                    facts=facts_looser,
                )
            )
        if t.setting.tracking < part.tracking:
            out.append(
                build_finding(
                    fit_kinds.SET_TIGHTER,
                    line=t.text.line,
                    measured=t.setting.tracking,
                    limit=part.tightest,
                    facts={"text": t.text.words, "tracking": part.tracking - t.setting.tracking},
                )
            )
        if t.setting.width is not None:
            widths = setter.faces[t.text.line - 1][0].widths
            facts_width: dict[str, str | int | float] = {
                "text": t.text.words,
                "width": t.setting.width,
                "designed": widths[1] if widths else t.setting.width,
            }
            out.append(
                build_finding(
                    fit_kinds.SET_NARROWER,
                    line=t.text.line,
                    measured=t.setting.width,
                    limit=part.least_width,
                    facts=facts_width,
                )
            )
        if len(t.setting.rows) > 1:
            shown = " / ".join(t.setting.rows)
            facts_rows: dict[str, str | int | float] = {
                "text": t.text.words,
                "rows": len(t.setting.rows),
                "shown": shown,
            }
            kind = fit_kinds.BROKEN_AS_TYPED if t.setting.rows == t.text.typed else fit_kinds.BROKEN
            out.append(build_finding(kind, line=t.text.line, facts=facts_rows))
    return tuple(out)


def _report_misfit(
    setter: Typesetter, texts: Sequence[LineText], t: LineResult, part: LineConfig, advise: bool
) -> Finding:
    room = setter.get_room(part.zone, part.side)
    smallest = part.smallest or part.cap_height
    size, fitting = find_largest_fit(setter, texts, t, part) if advise else (0.0, None)
    facts: dict[str, str | int | float] = {"text": t.text.words}
    hit = _measure_keep_out_hit(setter, t, room)
    if hit is not None:
        kind, measured, limit = fit_kinds.HITS_KEEP_OUT, hit, room.margin
        facts["kept_free"] = _name_kept_free(setter, t, hit)
    elif size >= smallest - 1e-9:  # it would fit elsewhere: its place is wrong, not its length
        kind, measured, limit = fit_kinds.OUTSIDE_ZONE, max(-t.slack, 0.0), 0.0
    elif advise and _is_too_tall(setter, texts, t, part):
        kind, measured, limit = fit_kinds.TOO_TALL, size, smallest
    else:
        at_smallest = replace(fitting, cap_height=smallest) if fitting else None
        over = setter.measure_widest_row(t.text, at_smallest) * (1 - size / smallest) if at_smallest else 0.0
        facts |= {"over": over, "smallest": smallest, "fits_at": size, "slack": t.slack}
        kind, measured, limit = fit_kinds.TOO_LONG, size, smallest
    offers = _find_ways(setter, texts, t, part, size) if advise else ()
    return build_finding(kind, line=t.text.line, measured=measured, limit=limit, unit="mm", facts=facts, ways=offers)


def _is_too_tall(setter: Typesetter, texts: Sequence[LineText], t: LineResult, part: LineConfig) -> bool:
    """Return whether one of its letters alone would not fit either at the smallest size: then no shorter wording
    helps."""
    attempt = _build_attempt(setter, texts, t)
    smallest = part.smallest or part.cap_height
    low = part.model_copy(update={"cap_height": smallest})
    letters = dict.fromkeys(c for c in t.text.text if c.isalnum())
    return part.arc is None and any(attempt(low, letter) is None for letter in letters)


def _find_ways(
    setter: Typesetter, texts: Sequence[LineText], t: LineResult, part: LineConfig, size: float
) -> tuple[Way, ...]:
    """Return the ways with which the line fits. Whether it can then be cut is for the checks to say."""
    units, attempt = setter.order.unit, _build_attempt(setter, texts, t)
    step = units.mm * 10.0**-units.decimals
    smallest = part.smallest or part.cap_height
    fitting = size
    if size < LEAST_SHARE * smallest:
        fitting = 0.0
    elif size < smallest:  # the rounded size has to work: one step smaller where rounding was unlucky
        shown = (units.round_length(size, up=False) - k * step for k in range(3))
        fitting = next((s for s in shown if s > 0 and attempt(_set_smallest_size(part, s), t.text.text)), 0.0)
    widths = setter.faces[t.text.line - 1][0].widths
    offers = find_ways_to_fit(t.text.line, part, t.text.text, attempt, fitting, units, widths, t.text.language)
    offers[1:1] = _find_unmannerly_breaks(t, part, attempt)
    last = len(offers) - (1 if offers and offers[-1].code in (ways.SMALLEST.code, ways.START_SMALLER.code) else 0)
    offers[last:last] = _find_other_faces(setter, texts, t, part)
    return tuple(offers)


def _find_unmannerly_breaks(t: LineResult, part: LineConfig, attempt: Try) -> list[Way]:
    """Suggest a break that our rules forbid, when only the rule keeps the line from fitting; the rule is named."""
    if part.arc is not None or part.break_at == "anywhere" or t.text.typed:
        return []
    for rows in range(max(part.breaks, 2), MORE_ROWS + 1):
        keys: dict[str, str | int] = {"break_at": "anywhere"} | ({"breaks": rows} if rows > part.breaks else {})
        if attempt(part.model_copy(update={"breaks": rows}), t.text.text):
            return []  # a line break within the rules solves it
        found = attempt(part.model_copy(update=keys), t.text.text)
        if found and len(found.rows) > 1:
            rule = _name_broken_rule(found.rows, t.text.text)
            edits = [Edit(table="line", number=t.text.line, key=key, value=value) for key, value in keys.items()]
            facts: dict[str, str | int | float] = {
                "rule": rule,
                "shown": " / ".join(found.rows),
                "rows": len(found.rows),
            }
            return [build_way(ways.ANYWHERE, *edits, facts=facts)] if rule else []
    return []


def _name_broken_rule(rows: Sequence[str], text: str) -> str:
    """Our rule that forbids one of these breaks, in words."""
    for upper, lower in pairwise(rows):
        before, after = upper.split(" ")[-1], lower.split(" ")[0]
        if rule := break_rule(before, after, text == text.upper()):
            return rule
        if f"{before}{after}" in text and before[-1:] in HYPHENS:
            return f"inside a double name, after “{before}”"
    return ""


def _set_smallest_size(part: LineConfig, size: float) -> LineConfig:
    """Return the line with this as its smallest size."""
    return part.model_copy(update={"smallest": size, "cap_height": max(part.cap_height, size)})


def _find_other_faces(setter: Typesetter, texts: Sequence[LineText], t: LineResult, part: LineConfig) -> list[Way]:
    """Return the widest typefaces of the shelf in which the line fits at the designed size, for all names of the order.
    The later ones are for when the first can be set but not cut."""
    designed = part.model_copy(update={"smallest": part.cap_height, "features": {}, "axes": {}, "least_width": None})
    own = setter.faces[t.text.line - 1][0]
    longest = _measure_longest_text(setter, t, part)
    narrower = find_narrower_faces(t.text.text, own, setter.coverage, t.text.language)
    others = [other for other in narrower if other.caps * part.cap_height * SQUEEZED <= longest]
    trials = 0

    @cache
    def fits(number: int) -> bool:
        nonlocal trials
        trials += 1
        face = setter.coverage.get_face(others[number].name)
        again = setter.replace_line(t.text.line, designed, face).set_lines(texts)
        return next(x for x in again if x.text.line == t.text.line).setting is not None

    # each trial sets the plaque; a typeface as narrow as one that fits mostly fits too, so bisect
    first = bisect_left(range(len(others)), True, key=fits)
    out: list[Way] = []
    for number in range(first, len(others)):
        if trials >= MOST_TRIALS:
            break
        if fits(number):
            edits = build_face_edits(t.text.line, part, others[number].name)
            facts: dict[str, Fact] = {"face": others[number].name, "title": others[number].title}
            out.append(build_way(ways.NARROW_FACE, *edits, facts=facts))
            if len(out) == FACES_TRIED:
                break
    return out


def _measure_longest_text(setter: Typesetter, t: LineResult, part: LineConfig) -> float:
    """The length that no text exceeds for which there is room, mm: as many rows as allowed across the zone or, on an
    arc, once round it."""
    left, low, right, high = setter.get_room(part.zone, part.side).zone.bounds
    row = hypot(right - left, high - low)
    if part.arc is not None:
        row = max(row, 2 * pi * (part.arc.radius + part.cap_height))
    return row * max(part.breaks, len(t.text.typed or ()), 1)


def find_largest_fit(
    setter: Typesetter, texts: Sequence[LineText], t: LineResult, part: LineConfig
) -> tuple[float, LineSetting]:
    """The largest cap height (mm, never more than a hundred-thousandth of the smallest too small) at which the line
    would fit, as tight, as narrow and in as many rows as allowed, and that setting; 0 and one row when none does. Never
    more than the smallest allowed."""
    attempt = _build_attempt(setter, texts, t)

    def try_size(size: float) -> LineSetting | None:
        return attempt(part.model_copy(update={"cap_height": size, "smallest": size}), t.text.text)

    low, high = 0.0, part.smallest or part.cap_height
    best = try_size(high)
    if best:
        return high, best
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        found = try_size(middle)
        low, high = (middle, high) if found else (low, middle)
        best = found or best
    none = LineSetting(cap_height=high, tracking=part.tracking, rows=t.text.typed or (t.text.text,))
    return (low, best) if best else (0.0, none)


def _build_attempt(setter: Typesetter, texts: Sequence[LineText], t: LineResult) -> Try:
    """Sets the plaque again with one line changed, at the smallest size first: most of what does not help is known
    from that alone. Only the lines of its block are set, and those it is tied to: others stand where they
    stand."""
    mine = setter.list_needed_with(t.text.line)
    block = [x for x in texts if x.line in mine]

    def set_with(line: LineConfig, text: str) -> LineSetting | None:
        changed = [x.reword(text) if x.line == t.text.line else x for x in block]
        again = setter.replace_line(t.text.line, line).set_lines(changed)
        return next(x for x in again if x.text.line == t.text.line).setting

    def try_line(line: LineConfig, text: str) -> LineSetting | None:
        smallest = line.smallest or line.cap_height
        if smallest < line.cap_height and set_with(line.model_copy(update={"cap_height": smallest}), text) is None:
            return None
        return set_with(line, text)

    return try_line


def _name_kept_free(setter: Typesetter, t: LineResult, hit: float) -> str:
    """Name what a line comes this close to."""
    areas = [build_placed_outline(row, setter.hulls)(n) for row in t.placed for n in range(len(row.hulls))]
    for figure, parts in setter.list_figure_covers(setter.order.line[t.text.line - 1].side):
        if min(float(area.distance(part)) for area in areas for part in parts) <= hit + 1e-6:
            return f"the artwork “{figure.text}”"
    return "a keep-out"


def _measure_keep_out_hit(setter: Typesetter, t: LineResult, room: AvailableArea) -> float | None:
    """Clear distance to the nearest keep-out, when keep-outs are all that is in the line's way."""
    rows = [row for row in t.placed if row.hulls]
    if not len(room.boxes) or any(row.over for row in rows):
        return None
    if min(room.measure_zone_slack(row.hulls, build_placed_outline(row, setter.hulls)) for row in rows) < 0:
        return None
    areas = [setter.hulls.area(piece) for row in rows for piece in row.set_row.pieces]
    return min(float(area.distance(part)) for area in areas for part in room.forbidden)
