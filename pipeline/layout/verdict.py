"""What a plaque's setting has to be told about: fit findings from the way its lines were set."""

from __future__ import annotations

import math
from collections.abc import Sequence

from pipeline.core.catalogue import fit
from pipeline.core.findings import Finding, find
from pipeline.core.order import LinePart
from pipeline.layout.advice import Proposal, Try, proposals
from pipeline.layout.block import Setting, outline_of
from pipeline.layout.room import Room
from pipeline.layout.setter import LineText, Setter, Tried
from pipeline.lettering.remedies import narrower_faces


def findings_of(setter: Setter, texts: Sequence[LineText], tried: Sequence[Tried]) -> tuple[Finding, ...]:
    """fit.* of one plaque. A line that does not fit costs a few more settings, to say what would."""
    out: list[Finding] = []
    for t in tried:
        part = setter.order.line[t.text.line - 1]
        if t.setting is None:
            out.append(_does_not_fit(setter, texts, tried, t, part))
            continue
        designed = part.cap_height
        if t.setting.cap_height < designed - 1e-9:
            at_designed = sum(row.set_row.width for row in t.placed) * (designed / t.setting.cap_height - 1)
            facts: dict[str, str | int | float] = {
                "text": t.text.text,
                "cap_height": t.setting.cap_height,
                "designed": designed,
                "over": at_designed,
            }
            out.append(
                find(
                    fit.SET_SMALLER,
                    line=t.text.line,
                    measured=t.setting.cap_height,
                    limit=designed,
                    unit="mm",
                    facts=facts,
                )
            )
        if t.setting.tracking != part.tracking:
            out.append(
                find(
                    fit.SET_TIGHTER,
                    line=t.text.line,
                    measured=t.setting.tracking,
                    limit=part.tightest,
                    facts={"text": t.text.text, "tracking": part.tracking - t.setting.tracking},
                )
            )
        if t.setting.width is not None:
            widths = setter.faces[t.text.line - 1][0].widths
            facts_width: dict[str, str | int | float] = {
                "text": t.text.text,
                "width": t.setting.width,
                "designed": widths[1] if widths else t.setting.width,
            }
            out.append(
                find(
                    fit.SET_NARROWER,
                    line=t.text.line,
                    measured=t.setting.width,
                    limit=part.least_width,
                    facts=facts_width,
                )
            )
        if len(t.setting.rows) > 1:
            shown = " / ".join(t.setting.rows)
            facts_rows: dict[str, str | int | float] = {
                "text": t.text.text,
                "rows": len(t.setting.rows),
                "shown": shown,
            }
            out.append(find(fit.BROKEN, line=t.text.line, facts=facts_rows))
    return tuple(out)


def _does_not_fit(
    setter: Setter, texts: Sequence[LineText], tried: Sequence[Tried], t: Tried, part: LinePart
) -> Finding:
    room = setter.room(part.zone, part.side)
    smallest = part.smallest or part.cap_height
    size, fitting = largest_fit(setter, texts, t, part)
    hit = _hit(setter, t, room)
    if hit is not None:
        facts: dict[str, str | int | float] = {"text": t.text.text}
        kind, measured, limit = fit.HITS_KEEP_OUT, hit, room.margin
    elif size >= smallest - 1e-9:  # by itself it would fit: the place is wrong, not the length
        facts = {"text": t.text.text}
        kind, measured, limit = fit.OUTSIDE_ZONE, max(-t.slack, 0.0), 0.0
    else:
        kind, measured, limit = fit.TOO_LONG, size, smallest
        facts = _too_long(setter, texts, t, part, size, fitting)
    return find(kind, line=t.text.line, measured=measured, limit=limit, unit="mm", facts=facts)


def _too_long(
    setter: Setter,
    texts: Sequence[LineText],
    t: Tried,
    part: LinePart,
    size: float,
    fitting: Setting,
) -> dict[str, str | int | float]:
    smallest = part.smallest or part.cap_height
    over = _widest(setter, t, fitting, smallest) * (1 - size / smallest)
    widths = setter.faces[t.text.line - 1][0].widths
    offers = proposals(part, t.text.text, _attempt(setter, texts, t), size, setter.order.unit, widths, t.text.language)
    if face := _other_face(setter, texts, t, part):
        offers.insert(len(offers) - (1 if offers and offers[-1].kind == "size" else 0), face)
    advice = offers[0].maker if offers else "shorten the text, choose a narrower face, or give the line a larger zone"
    if offers and offers[-1].kind == "size" and len(offers) > 1:
        advice += f"; or {offers[-1].maker}"
    if offers:
        choices = "You can choose: " + " ".join(f"({n}) {offer.client}" for n, offer in enumerate(offers, 1))
    else:
        choices = "Please send a shorter wording."
    return {
        "text": t.text.text,
        "over": over,
        "smallest": smallest,
        "fits_at": size,
        "advice": advice,
        "choices": choices,
        "slack": t.slack,
    }


def _other_face(setter: Setter, texts: Sequence[LineText], t: Tried, part: LinePart) -> Proposal | None:
    """The widest face of the shelf in which the line fits at the designed size, for all names of the order."""
    designed = part.model_copy(update={"smallest": part.cap_height, "features": {}, "axes": {}, "least_width": None})
    own = setter.faces[t.text.line - 1][0]
    for other in narrower_faces(t.text.text, own, setter.coverage, t.text.language):
        again = setter.with_line(t.text.line, designed, setter.coverage.face(other.name)).set(texts)
        found = next(x for x in again if x.text.line == t.text.line).setting
        if found:
            maker = f"set the whole line of the order in {other.name}, where it fits at the designed size"
            client = f"Set all names in {other.title}, a narrower typeface."
            return Proposal(kind="face", maker=maker, client=client, size=found.cap_height, text=t.text.text)
    return None


def largest_fit(setter: Setter, texts: Sequence[LineText], t: Tried, part: LinePart) -> tuple[float, Setting]:
    """The largest cap height (mm, rounded down to a hundredth) at which the line would fit, as tight, as narrow and in
    as many rows as allowed, and that setting; 0 and one row when none does. Never more than the smallest allowed."""
    attempt = _attempt(setter, texts, t)

    def at(size: float) -> Setting | None:
        return attempt(part.model_copy(update={"cap_height": size, "smallest": size}), t.text.text)

    low, high = 0.0, part.smallest or part.cap_height
    best = at(high)
    if best:
        return high, best
    for _ in range(12):
        middle = (low + high) / 2
        found = at(middle)
        low, high = (middle, high) if found else (low, middle)
        best = found or best
    none = Setting(cap_height=high, tracking=part.tracking, rows=(t.text.text,))
    return math.floor(low * 100) / 100, best or none


def _widest(setter: Setter, t: Tried, fitting: Setting, size: float) -> float:
    """Ink width of the widest of these rows at a size, mm."""
    widths = []
    for text in fitting.rows:
        row = setter.shape(t.text.line, text, fitting.tracking, t.text.language, fitting.width)
        widths.append((row.ink[2] - row.ink[0]) * size / row.cap_units if row.ink else 0.0)
    return max(widths)


def _attempt(setter: Setter, texts: Sequence[LineText], t: Tried) -> Try:
    """Sets the plaque again with one line changed."""

    def attempt(line: LinePart, text: str) -> Setting | None:
        changed = [LineText(line=x.line, text=text, language=x.language) if x.line == t.text.line else x for x in texts]
        again = setter.with_line(t.text.line, line).set(changed)
        return next(x for x in again if x.text.line == t.text.line).setting

    return attempt


def _hit(setter: Setter, t: Tried, room: Room) -> float | None:
    """Clear distance to the nearest keep-out, when keep-outs are all that is in the line's way."""
    rows = [row for row in t.placed if row.hulls]
    if not len(room.boxes) or any(row.over for row in rows):
        return None
    if min(room.zone_slack(row.hulls, outline_of(row, setter.hulls)) for row in rows) < 0:
        return None
    areas = [setter.hulls.area(piece) for row in rows for piece in row.set_row.pieces]
    return min(float(area.distance(part)) for area in areas for part in room.forbidden)
