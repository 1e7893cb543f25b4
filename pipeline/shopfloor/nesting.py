"""Blanks laid on one board so that a table saw can separate them by straight cuts that go right through.

Words: *strip*, a stretch of board sawn off its whole length or width, one blank thick · *lane*, what lies between two
blanks: the kerf with the trim of both · *along* the strip, *across* it. A board is sawn into strips, and each strip
into pieces, one after the other from its left end (two stages; a slanted lane is a mitre cut). Every blank of an order
is the same, so strips of one kind are all equally thick and one fence setting rips them all; where the grain does not
matter, a board may hold strips of both kinds, blanks along them and blanks across.

Two convex pieces at least a lane apart have room for a straight lane between them (separating line through the middle
of their nearest points), so pieces are kept apart by the distance of their convex hulls. Lengths mm; a board's left end
is x = 0 and its datum edge, against which the fence works, is y = 0.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache

import shapely
from shapely import affinity

from pipeline.geometry.regions import Region

Box = tuple[float, float, float, float]
EPS = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class SawLane:
    """The lane between two blanks."""

    kerf: float
    trim: float

    @property
    def lane(self) -> float:
        return self.kerf + 2 * self.trim


@dataclass(frozen=True, slots=True, kw_only=True)
class NestingBoard:
    """One board: its size, what its ends are clamped by, what has to be kept free (boxes)."""

    name: str
    length: float
    width: float
    clamp: float = 0.0
    kept_free: tuple[Box, ...] = ()

    @property
    def area(self) -> float:
        return self.length * self.width


@dataclass(frozen=True, slots=True, kw_only=True)
class BlankSlot:
    """A blank's place: turned by `turn` degrees about its origin, then its box's lower left corner put at x, y."""

    turn: int
    x: float
    y: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """One strip, from `start` to `start` + `thick` across the board, and its blanks from left to right."""

    start: float
    thick: float
    slots: tuple[BlankSlot, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StripLayout:
    """How one board is used. `ripped`: strips run along the board (first cut with the fence); else across it."""

    sheet: NestingBoard
    ripped: bool
    strips: tuple[Strip, ...]

    @property
    def slots(self) -> tuple[BlankSlot, ...]:
        return tuple(s for strip in self.strips for s in strip.slots)


@dataclass(frozen=True, slots=True, eq=False)
class Orientation:
    """A blank turned one way, in the frame of a strip: hull with its box's lower left corner at the origin."""

    turn: int
    hull: Region
    along: float
    across: float


def turn_blank(blank: Region, turn: int) -> Region:
    """The blank's hull turned about its origin, its box's lower left corner at the origin."""
    hull = affinity.rotate(shapely.convex_hull(blank), turn, origin=(0, 0))
    x0, y0, _, _ = hull.bounds
    return affinity.translate(hull, -x0, -y0)


def _build_orientation(blank: Region, turn: int, ripped: bool) -> Orientation:
    hull = turn_blank(blank, turn)
    if not ripped:  # along and across are swapped
        hull = shapely.transform(hull, lambda p: p[:, ::-1])
    _, _, along, across = hull.bounds
    return Orientation(turn=turn, hull=hull, along=along, across=across)


def compute_least_pitch(a: Orientation, b: Orientation, lane: float) -> float:
    """Compute how far along the strip b's box must start after a's to leave a lane between the two hulls.

    The distance of two convex shapes, one of them sliding, has one least place; at the same place they overlap, so
    beyond it the distance only grows, and halving finds where it reaches the lane.
    """
    low, high = 0.0, a.along + lane
    for _ in range(60):
        middle = (low + high) / 2
        if a.hull.distance(affinity.translate(b.hull, middle, 0)) < lane - 1e-9:
            low = middle
        else:
            high = middle
        if high - low < 1e-7:
            break
    return min(high, a.along + lane)


def _fill_length(
    ways: tuple[Orientation, ...],
    gaps: dict[tuple[int, int], float],
    start: float,
    end: float,
    blocked: list[tuple[float, float]],
) -> list[tuple[Orientation, float]]:
    """Fill a strip with blanks from left to right, each as far left as it goes, which is optimal for equal pieces. Each
    orientation is tried first."""
    best: list[tuple[Orientation, float]] = []
    for first in ways:
        row: list[tuple[Orientation, float]] = []
        way, s = first, start
        while True:
            s = _skip_blocked(s, way.along, blocked)
            if s + way.along > end + EPS:
                break
            row.append((way, s))
            after = ways[(ways.index(way) + 1) % len(ways)]
            s += gaps[way.turn, after.turn]
            way = after
        if len(row) > len(best):
            best = row
    return best


def _skip_blocked(s: float, length: float, blocked: list[tuple[float, float]]) -> float:
    """Return the first place from s on where a piece of this length meets no blocked interval. blocked: sorted."""
    for a, b in blocked:
        if s < b - EPS and s + length > a + EPS:
            s = b
    return s


def _lay_strips(
    sheet: NestingBoard, saw: SawLane, kinds: tuple[tuple[Orientation, ...], ...], ripped: bool
) -> StripLayout:
    """Lay the most blanks in strips on one board; of equal counts, take the one with fewer strips. kinds: ways to lay
    the blanks of one strip; each strip is of one kind."""
    length, width = (sheet.length, sheet.width) if ripped else (sheet.width, sheet.length)
    end_s = sheet.clamp if ripped else 0.0
    end_t = 0.0 if ripped else sheet.clamp
    free = [b if ripped else (b[1], b[0], b[3], b[2]) for b in sheet.kept_free]
    gaps = [{(a.turn, b.turn): compute_least_pitch(a, b, saw.lane) for a in ways for b in ways} for ways in kinds]
    across = [max(w.across for w in ways) for ways in kinds]
    s0 = max(end_s, saw.kerf) + saw.trim if end_s else saw.trim
    s1 = length - end_s - saw.trim
    t0 = max(end_t, saw.kerf) if end_t else 0.0
    t1 = width - end_t

    @cache
    def fill_strip(t: float, kind: int) -> tuple[tuple[Orientation, float], ...]:
        low, high = t + saw.trim, t + saw.trim + across[kind]
        blocked = sorted(
            (b[0] - saw.trim, b[2] + saw.trim)
            for b in free
            if b[1] - saw.trim < high - EPS and b[3] + saw.trim > low + EPS
        )
        return tuple(_fill_length(kinds[kind], gaps[kind], s0, s1, blocked))

    @cache
    def find_best(t: float, fresh: bool) -> tuple[int, int, tuple[tuple[float, int], ...]]:
        """(blanks, −strips, starts with kinds) from t on. A strip starts at once, or where something to be kept free
        ends."""
        found: tuple[int, int, tuple[tuple[float, int], ...]] = (0, 0, ())
        step = t if fresh else t + saw.kerf  # room for the cut that removes the waste before it
        for at in sorted({t, *(b[3] for b in free if b[3] >= step - EPS)}):
            for kind in range(len(kinds)):
                end = at + across[kind] + 2 * saw.trim
                if end > t1 + EPS:
                    continue
                n = len(fill_strip(at, kind))
                more = find_best(round(end + saw.kerf, 6), False)
                here = (n + more[0], more[1] - (1 if n else 0), ((at, kind), *more[2]))
                if n and here[:2] > found[:2]:
                    found = here
        return found

    strips = [
        Strip(
            start=t,
            thick=across[kind] + 2 * saw.trim,
            slots=tuple(
                BlankSlot(turn=w.turn, x=s, y=t + saw.trim) if ripped else BlankSlot(turn=w.turn, x=t + saw.trim, y=s)
                for w, s in fill_strip(t, kind)
            ),
        )
        for t, kind in find_best(t0, True)[2]
    ]
    return StripLayout(sheet=sheet, ripped=ripped, strips=tuple(strips))


def list_orientations(
    blank: Region, grain: str, turn: bool, ripped: bool, saw: SawLane
) -> list[tuple[Orientation, ...]]:
    """Sets of ways to lay the blank in one strip. The board's grain runs along its length (x).

    Turning end for end is used only where it saves wood.
    """
    bases = {"upright": [90], "across": [0], "none": [0, 90]}[grain]
    out: list[tuple[Orientation, ...]] = []
    for base in bases:
        one, other = _build_orientation(blank, base, ripped), _build_orientation(blank, base + 180, ripped)
        saves = (
            compute_least_pitch(one, other, saw.lane) + compute_least_pitch(other, one, saw.lane)
            < 2 * (one.along + saw.lane) - 0.01
        )
        out.append((one, other) if turn and saves else (one,))
    return out


def lay_out(sheet: NestingBoard, saw: SawLane, blank: Region, grain: str = "upright", turn: bool = True) -> StripLayout:
    """The best layout of one board: most blanks, then fewest strips of fewest kinds, then ripped first."""
    found = []
    for ripped in (True, False):
        kinds = list_orientations(blank, grain, turn, ripped, saw)
        found += [_lay_strips(sheet, saw, (ways,), ripped) for ways in kinds]
        if len(kinds) > 1:
            found.append(_lay_strips(sheet, saw, tuple(kinds), ripped))
    return min(found, key=lambda f: (-len(f.slots), len({s.thick for s in f.strips}), len(f.strips), not f.ripped))


def keep_pieces(layout: StripLayout, pieces: int) -> StripLayout:
    """The layout with only so many blanks: whole strips first, the fullest ones, so that few cuts are needed."""
    chosen: list[Strip] = []
    left = pieces
    for strip in sorted(layout.strips, key=lambda s: (-len(s.slots), s.start)):
        if left <= 0:
            break
        slots = strip.slots[:left]
        chosen.append(Strip(start=strip.start, thick=strip.thick, slots=slots))
        left -= len(slots)
    return StripLayout(sheet=layout.sheet, ripped=layout.ripped, strips=tuple(sorted(chosen, key=lambda s: s.start)))


def choose_boards(layouts: Iterable[tuple[StripLayout, int | None]], pieces: int) -> list[tuple[int, StripLayout]]:
    """Choose the fewest boards for so many equal pieces, then smaller boards where they do as well: for each board the
    index of its size, and its layout.

    layouts: the full layout of each size and how many such boards there are (None: any number). Taking the boards that
    hold most first gives the fewest, since all pieces are equal; then each board in turn is exchanged for the smallest
    that still leaves room enough. If the boards don't suffice, all are used and some pieces have no place.
    """
    sizes = [(k, lay_, math.inf if n is None else n) for k, (lay_, n) in enumerate(layouts)]
    left = {k: n for k, _, n in sizes}
    by_room = sorted(sizes, key=lambda s: (-len(s[1].slots), s[1].sheet.area, s[0]))
    picked: list[int] = []
    room = 0
    for k, layout, _ in by_room:
        while room < pieces and left[k] > 0 and layout.slots:
            picked.append(k)
            left[k] -= 1
            room += len(layout.slots)
    full = {k: layout for k, layout, _ in sizes}
    for i in reversed(range(len(picked))):
        own = full[picked[i]]
        fits = [
            k
            for k, layout, _ in sizes
            if left[k] > 0
            and layout.sheet.area < own.sheet.area - EPS
            and room - len(own.slots) + len(layout.slots) >= pieces
        ]
        if fits:
            new = min(fits, key=lambda k: (full[k].sheet.area, k))
            left[picked[i]] += 1
            left[new] -= 1
            room += len(full[new].slots) - len(own.slots)
            picked[i] = new
    used: list[tuple[int, StripLayout]] = []
    need = pieces
    for k in sorted(picked, key=lambda k: (-len(full[k].slots), k)):
        used.append((k, keep_pieces(full[k], min(need, len(full[k].slots)))))
        need -= len(used[-1][1].slots)
    return used
