"""From a person's statement about pieces ("rows 5-12 are cut") to ledger rows: which pieces change their state, and
from which.

It is recorded completely or not at all; impossible marks are reported with every place.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from pipeline.core.errors import CannotRun, Fault
from pipeline.core.list_row import ListRow
from pipeline.core.model import Plaque
from pipeline.signoff.design_answers import join_lines
from pipeline.signoff.pieces.piece_tally import STATES, PieceState, PieceTally, tally_pieces
from pipeline.signoff.pieces.plaque_pieces import PlaquePieces, assign_pieces
from pipeline.signoff.records.ledger_entry import LedgerEntry

FROM: Mapping[PieceState, tuple[PieceState, ...]] = {
    "cut": ("to-cut",),
    "spoilt": ("cut", "to-cut", "delivered"),
    "delivered": ("cut", "to-cut"),
    "to-cut": ("cut", "delivered", "spoilt"),
}
"""From which states pieces come where none is named, the likeliest first. Marks are taken back to `to-cut` from the
state of the last mark before all others."""
_BEYOND: Mapping[PieceState, tuple[PieceState, ...]] = {
    "cut": ("cut", "delivered", "spoilt"),
    "delivered": ("delivered", "spoilt"),
    "spoilt": ("spoilt",),
    "to-cut": ("to-cut",),
}
"""Where a piece may be that was marked so and has gone on since."""
WORDS: Mapping[str, str] = {"to-cut": "to cut", "cut": "cut", "spoilt": "spoilt", "delivered": "delivered"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """Pieces that are now in a state. row: of the list, or 0 with a fingerprint. pieces: None for all there are in the
    likeliest state. before: the state they were in, where it is named. where: how it was said, for errors. place: the
    board or jig they are on and their row in its release, where that is how they were named."""

    state: PieceState
    row: ListRow = 0
    fingerprint: str = ""
    pieces: int | None = None
    before: PieceState | None = None
    where: str = ""
    place: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """Pieces of one design, and of one row where that is known, from one state to another."""

    entry: LedgerEntry  # row that first released the design
    row: ListRow
    pieces: int
    before: PieceState
    after: PieceState
    place: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkPlan:
    """The marks to record, and a description of those recorded before."""

    moves: tuple[Move, ...] = ()
    unchanged: tuple[str, ...] = ()


@dataclass(slots=True)
class _Place:
    """The pieces of a design that one row has, or that no row has, while marks are worked out."""

    entry: LedgerEntry
    row: ListRow
    held: Counter[str] = field(default_factory=Counter)
    last: str = ""  # state set by the last mark


def plan_marks(
    wanted: Sequence[Wanted], plaques: Sequence[Plaque], entries: Sequence[LedgerEntry], *, moving: str = "--rows"
) -> MarkPlan:
    """Plan which pieces change their state. entries: those that count. CannotRun names every row or design that can't
    be marked so; then nothing must be recorded. moving: the option that named the rows."""
    places = _list_places(plaques, assign_pieces(plaques, entries), entries)
    tallies = tally_pieces(entries)
    moves, unchanged, faults = list[Move](), list[str](), list[Fault]()
    for one in wanted:
        found, fault = _find_places(one, places, plaques, entries, tallies, moving)
        if fault is not None:
            faults.append(fault)
            continue
        left = _subtract_marked(one, entries, tallies) if one.place else one
        if one.place and not left.pieces:
            unchanged.append(f"{one.where}: {WORDS[one.state]} already")
            continue
        own, said, fault = _plan_moves(left, found)
        moves += own
        unchanged += [said] if said else []
        faults += [fault] if fault is not None else []
    if faults:
        raise CannotRun(faults)
    return MarkPlan(moves=tuple(moves), unchanged=tuple(unchanged))


def describe_place(sheet: str, number: int, release: int, row: ListRow) -> str:
    """Describe where a marked piece lay. row: as in the release, whatever row the piece has now."""
    return f"{sheet} {number} of release {release}, row {row}"


def _subtract_marked(one: Wanted, entries: Sequence[LedgerEntry], tallies: Mapping[str, PieceTally]) -> Wanted:
    """Subtract what was already marked so for the same place, unless other marks have taken it back. A piece that went
    on since (cut, then spoilt) counts as marked, unless it is to be fetched from there."""
    sheet, rows = one.place.partition(", row ")[0], (one.row,) if one.row else ()
    if one.state == "to-cut":  # marks made from other sheets don't concern this one; marks made by row do
        own = [e for e in entries if e.kind == "mark" and e.fingerprint == one.fingerprint]
        here = [e for e in own if e.place in ("", one.place) or (e.place == sheet and e.rows == rows)]
        out = sum(e.pieces for e in here if e.decision == "to-cut") - sum(e.pieces for e in here if e.state == "to-cut")
        return replace(one, pieces=min(one.pieces or 0, max(0, out)))
    done = [
        e
        for e in entries
        if e.kind == "mark"
        and e.fingerprint == one.fingerprint
        and (e.place == one.place or (e.place == sheet and e.rows == rows))  # formerly without its row
    ]
    beyond = _BEYOND[one.state]
    count = sum(e.pieces for e in done if e.state == one.state)
    count -= sum(e.pieces for e in done if e.decision == one.state and (one.before or e.state not in beyond))
    still = sum(tallies[one.fingerprint].count_in_state(state) for state in beyond) if one.fingerprint in tallies else 0
    return replace(one, pieces=max(0, (one.pieces or 0) - max(0, min(count, still))))


def _list_places(
    plaques: Sequence[Plaque], pieces: Sequence[PlaquePieces], entries: Sequence[LedgerEntry]
) -> dict[tuple[ListRow, str], _Place]:
    """List every row's pieces of every design; under row 0, pieces of a design that no row of the list has."""
    last: dict[tuple[ListRow, str], str] = {}
    for e in entries:
        if e.kind == "mark" and e.state != "to-cut":
            last[e.rows[0] if len(e.rows) == 1 else 0, e.fingerprint] = e.state
    out: dict[tuple[ListRow, str], _Place] = {}
    given: dict[str, Counter[str]] = {}
    for plaque, own in zip(plaques, pieces, strict=True):
        for design in own.all:
            row, mark = plaque.recipient.row, design.fingerprint
            held = Counter[str]({state: design.count_in_state(state) for state in STATES})
            out[row, mark] = _Place(design.entry, row, held, last.get((row, mark), ""))
            given.setdefault(mark, Counter()).update(held)
    for mark, tally in tally_pieces(entries).items():
        rest = Counter[str]({state: tally.count_in_state(state) for state in STATES}) - given.get(mark, Counter[str]())
        if rest.total():
            out[0, mark] = _Place(tally.first, 0, rest, last.get((0, mark), ""))
    return out


def _find_places(
    one: Wanted,
    places: Mapping[tuple[ListRow, str], _Place],
    plaques: Sequence[Plaque],
    entries: Sequence[LedgerEntry],
    tallies: Mapping[str, PieceTally],
    moving: str,
) -> tuple[list[_Place], Fault | None]:
    if one.fingerprint:
        alike = [p for (_, mark), p in places.items() if mark == one.fingerprint]
        own = [p for p in alike if one.row in (0, p.row)]
        if not own or (one.place and _has_moved_on(one.fingerprint, alike, entries)):
            own = alike
        own.sort(key=lambda p: (p.row != one.row, p.row == 0, p.row))
        if own:
            return own, None
        found = "no piece of this design was released"
        return [], Fault(where=one.where or one.fingerprint, found=found, expected="the fingerprint of a released one")
    where = f"{moving} {one.row}"
    own = [p for (row, _), p in places.items() if row == one.row]
    plaque = next((p for p in plaques if p.recipient.row == one.row), None)
    if plaque is None:
        return [], Fault(
            where=where, found="the list has no recipient there", expected="rows as `plaques status` shows"
        )
    latest = next((e for e in reversed(entries) if e.kind == "released" and one.row in e.rows), None)
    here = {p.entry.fingerprint for p in own}
    if latest is not None and latest.fingerprint in tallies and latest.fingerprint not in here:
        now = join_lines(plaque.text)
        found = f"it was “{join_lines(latest.text)}” when it was released, and the list has “{now}” there now"
        remedy = "name the piece by its fingerprint, which stands on its label and in its file's name: --fingerprint"
        return [], Fault(where=where, found=found, remedy=remedy)
    if not own:
        found = f"no piece of “{join_lines(plaque.text)}” was released"
        remedy = "leave the row out, or have it signed and released first; nothing was recorded"
        return [], Fault(where=where, found=found, expected="rows of the cut list", remedy=remedy)
    return own, None


def _has_moved_on(fingerprint: str, places: Sequence[_Place], entries: Sequence[LedgerEntry]) -> bool:
    """Return whether the pieces of a design are in other rows of the list than at their last release."""
    latest = next((e for e in reversed(entries) if e.kind == "released" and e.fingerprint == fingerprint), None)
    return latest is not None and not {p.row for p in places}.issuperset(latest.rows)


def _plan_moves(one: Wanted, places: Sequence[_Place]) -> tuple[list[Move], str, Fault | None]:
    order = (one.before,) if one.before else FROM[one.state]
    if one.state == "to-cut" and not one.before:
        last = next((p.last for p in places if p.last), "")
        order = tuple(sorted(order, key=lambda state: state != last))
    there = [(state, place) for state in order for place in places if place.held[state] > 0]
    text = f"“{join_lines(places[0].entry.text)}”"
    named = f"row {one.row} {text}" if one.row else text
    count = sum(place.held[state] for state, place in there)
    all_of_sheet = one.pieces is None or (one.place and one.state == "to-cut")
    if not count and all_of_sheet and any(p.held[one.state] for p in places):
        return [], f"{named}: {WORDS[one.state]} already", None
    where = one.where or (f"row {one.row}" if one.row else one.fingerprint)
    held = Counter[str]()
    for place in places:
        held.update(place.held)
    told = ", ".join(f"{held[state]} {WORDS[state]}" for state in STATES if held[state]) or "none is released"
    if one.pieces is None:
        if one.state == "spoilt" and count > 1:
            found = f"{text} has {count} pieces: {told}"
            return [], "", Fault(where=where, found=found, remedy="say with --pieces how many are spoilt")
        left = sum(place.held[state] for state, place in there if state == there[0][0]) if there else 0
    else:
        left = one.pieces
    if not left or left > count:
        wanted = f"{one.pieces} piece{'' if one.pieces == 1 else 's'}" if one.pieces else "a piece"
        from_ = " or ".join(WORDS[state] for state in order)
        expected = f"{wanted} of it that {'is' if wanted[:2] in ('1 ', 'a ') else 'are'} {from_}"
        remedy = "`plaques status` shows the state of each piece; nothing was recorded"
        return [], "", Fault(where=where, found=f"{text}: {told}", expected=expected, remedy=remedy)
    moves = []
    for state, place in there:
        pieces = min(left, place.held[state])
        if pieces:
            moves.append(
                Move(entry=place.entry, row=place.row, pieces=pieces, before=state, after=one.state, place=one.place)
            )
            place.held[state] -= pieces
            place.held[one.state] += pieces
            left -= pieces
    return moves, "", None


def list_wanted_of(
    fingerprints: Iterable[str], state: PieceState, pieces: int | None, before: PieceState | None
) -> list[Wanted]:
    """Return the same wish for each of these designs."""
    return [
        Wanted(state=state, fingerprint=mark, pieces=pieces, before=before, where=f"--fingerprint {mark}")
        for mark in fingerprints
    ]
