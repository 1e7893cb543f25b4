"""Assignment of pieces to plaques of the list, and which plaques are finished.

Pieces are counted by design. Rows of one design share them: those that a mark named come first, then from the top. A
piece that was cut stays that row's piece when the design or the list has changed since: it hangs there. It is known
again by its lettering, or else by its row, where the lettering is nearly the same and the old one is on the list no
more.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from pipeline.core.catalogue import sign_kinds
from pipeline.core.findings import Fact, Finding, build_finding
from pipeline.core.language.printed_command import format_argument
from pipeline.core.list_row import ListRow
from pipeline.core.model import Plaque
from pipeline.signoff.design_answers import CLOSE, compute_likeness, join_lines
from pipeline.signoff.pieces.piece_tally import FINISHED, PieceTally, tally_pieces
from pipeline.signoff.records.designs import select_lettered
from pipeline.signoff.records.ledger_entry import LedgerEntry


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignPieces:
    """Pieces of one design that belong to one plaque. entry: the row of the ledger that let them out first."""

    entry: LedgerEntry
    to_cut: int = 0
    cut: int = 0
    spoilt: int = 0
    delivered: int = 0

    @property
    def fingerprint(self) -> str:
        return self.entry.fingerprint

    @property
    def finished(self) -> int:
        return self.cut + self.delivered

    def count_in_state(self, state: str) -> int:
        """Count the pieces in a state."""
        return {"to-cut": self.to_cut, "cut": self.cut, "spoilt": self.spoilt, "delivered": self.delivered}[state]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaquePieces:
    """All pieces of one plaque: of its design as it is now, and of designs that it had when pieces of it were cut."""

    copies: int = 0
    own: DesignPieces | None = None
    earlier: tuple[DesignPieces, ...] = ()

    @property
    def all(self) -> tuple[DesignPieces, ...]:
        return (*((self.own,) if self.own else ()), *self.earlier)

    @property
    def finished_own(self) -> int:
        """Finished pieces of the design as it is now, no more than are wanted."""
        return min(self.copies, self.own.finished if self.own else 0)

    @property
    def finished(self) -> int:
        """Finished pieces, no more than are wanted."""
        return min(self.copies, sum(d.finished for d in self.all))

    @property
    def done(self) -> bool:
        """Return whether every wanted piece is cut or delivered."""
        return 0 < self.copies <= self.finished

    def count(self, state: str) -> int:
        """Count the pieces in a state."""
        return sum(d.count_in_state(state) for d in self.all)


NO_PIECES = PlaquePieces()
"""The pieces of a plaque of which nothing was ever released."""


@dataclass(slots=True)
class _Share:
    """A plaque's share of a design's pieces while they are assigned."""

    row: ListRow
    room: int  # pieces it can still take
    got: Counter[str] = field(default_factory=Counter)


def assign_pieces(plaques: Sequence[Plaque], entries: Iterable[LedgerEntry]) -> tuple[PlaquePieces, ...]:
    """The pieces of each plaque, in the order given. entries: those of the ledger that count for this order."""
    tallies = tally_pieces(entries)
    copies = [p.recipient.copies for p in plaques]
    if not tallies:
        return tuple(PlaquePieces(copies=n) for n in copies)
    members: dict[str, list[int]] = {}
    for number, plaque in enumerate(plaques):
        tally = tallies.get(plaque.fingerprint)
        if tally is not None and select_lettered(tally.first.text) == select_lettered(plaque.text):
            members.setdefault(plaque.fingerprint, []).append(number)
    own: dict[int, DesignPieces] = {}
    for mark, numbers in members.items():
        shares = [_Share(plaques[n].recipient.row, copies[n]) for n in numbers]
        _give_out(tallies[mark], shares)
        own |= {n: _build_pieces(tallies[mark], share.got) for n, share in zip(numbers, shares, strict=True)}
    earlier = _find_earlier(plaques, {m: t for m, t in tallies.items() if m not in members and t.finished}, own)
    return tuple(
        PlaquePieces(copies=n, own=own.get(number), earlier=tuple(earlier.get(number, ())))
        for number, n in enumerate(copies)
    )


def count_finished_by_row(plaques: Sequence[Plaque], entries: Iterable[LedgerEntry]) -> tuple[tuple[ListRow, int], ...]:
    """Row -> pieces of it that are cut or delivered, of the rows that have any."""
    pieces = assign_pieces(plaques, entries)
    return tuple((p.recipient.row, n.finished) for p, n in zip(plaques, pieces, strict=True) if n.finished)


def _give_out(tally: PieceTally, shares: Sequence[_Share]) -> None:
    for state in ("delivered", "cut"):
        left = tally.count_in_state(state)
        for named in (True, False):
            for share in shares:
                most = min(share.room, left, tally.marked.get((share.row, state), 0) if named else left)
                share.got[state] += most
                share.room -= most
                left -= most
        shares[-1].got[state] += left  # more than the list wants now
    left = tally.spoilt
    for share in shares:
        named_spoilt = min(left, tally.marked.get((share.row, "spoilt"), 0))
        share.got["spoilt"] += named_spoilt
        left -= named_spoilt
    shares[0].got["spoilt"] += left
    left = tally.to_cut
    for share in shares:
        most = min(share.room, left)
        share.got["to-cut"] += most
        left -= most


def _build_pieces(tally: PieceTally, got: Counter[str]) -> DesignPieces:
    return DesignPieces(
        entry=tally.first,
        to_cut=got["to-cut"],
        cut=got["cut"],
        spoilt=got["spoilt"],
        delivered=got["delivered"],
    )


def _find_earlier(
    plaques: Sequence[Plaque], gone: dict[str, PieceTally], own: dict[int, DesignPieces]
) -> dict[int, list[DesignPieces]]:
    """Finished pieces of designs that the list has no more, given to the plaques they were cut for."""
    out: dict[int, list[DesignPieces]] = {}
    if not gone:
        return out
    room = {
        number: max(0, p.recipient.copies - (own[number].finished if number in own else 0))
        for number, p in enumerate(plaques)
    }
    left = {mark: Counter({s: t.count_in_state(s) for s in FINISHED}) for mark, t in gone.items()}
    now = {list_words(p) for p in plaques}

    def give(number: int, mark: str) -> None:
        got: Counter[str] = Counter()
        row = plaques[number].recipient.row
        for named in (True, False):
            for state in ("delivered", "cut"):
                most = min(room[number], left[mark][state])
                most = min(most, gone[mark].marked.get((row, state), 0)) if named else most
                got[state] += most
                left[mark][state] -= most
                room[number] -= most
        if got.total():
            out.setdefault(number, []).append(_build_pieces(gone[mark], got))

    for by_row in (True, False):  # plaques with the same lettering, those in the same row first
        for number, plaque in enumerate(plaques):
            for mark, tally in gone.items():
                same = select_lettered(tally.first.text) == list_words(plaque)
                if room[number] and same and left[mark].total() and (not by_row or _is_hanging(tally, plaque)):
                    give(number, mark)
    for number, plaque in enumerate(plaques):
        for mark, tally in gone.items():
            if not room[number] or not left[mark].total() or not _is_hanging(tally, plaque):
                continue
            text = select_lettered(tally.first.text)
            if text not in now and _put_right(text, list_words(plaque)):
                give(number, mark)
    return out


def _put_right(old: tuple[str, ...], new: tuple[str, ...]) -> bool:
    """Return whether a text is a corrected form of another: in the lines that differ, most letters are the same, and
    all figures, since another year is another piece."""
    was = [line for number, line in enumerate(old) if new[number : number + 1] != (line,)]
    now = [line for number, line in enumerate(new) if old[number : number + 1] != (line,)]
    figures = [[c for line in lines for c in line if c.isdecimal()] for lines in (was, now)]
    return figures[0] == figures[1] and compute_likeness(was, now) >= CLOSE


def _is_hanging(tally: PieceTally, plaque: Plaque) -> bool:
    """Return whether a piece of the design was cut for the row of this plaque."""
    row = plaque.recipient.row
    return row in tally.first.rows or any(at == row and n for (at, _), n in tally.marked.items())


def list_words(plaque: Plaque) -> tuple[str, ...]:
    """The lettering; of a plaque for which nothing could be set, what its row holds."""
    return select_lettered(plaque.text) or select_lettered([text for _, text in plaque.recipient.raw])


def find_left_out_of_proof(plaques: Sequence[Plaque], pieces: Sequence[PlaquePieces]) -> frozenset[int]:
    """Indices of the plaques that a proof need not show: finished ones. One that is finished in its own design stays
    as long as another row of that design is open, since a signature is for all pieces of a design."""
    open_ = {p.fingerprint for p, n in zip(plaques, pieces, strict=True) if p.fingerprint and not n.done}
    return frozenset(
        number
        for number, (plaque, n) in enumerate(zip(plaques, pieces, strict=True))
        if n.done and (n.earlier or plaque.fingerprint not in open_)
    )


def find_difference(plaque: Plaque, pieces: PlaquePieces) -> Finding | None:
    """sign.cut-differs of a plaque with pieces that were cut as something else than the list and the order say now."""
    if not pieces.earlier:
        return None
    old = pieces.earlier[0]
    was, now = select_lettered(old.entry.text), list_words(plaque)
    change = f"the list says “{join_lines(now)}” now" if was != now else "the order sets it in another way now"
    row, cell = plaque.recipient.row, plaque.recipient.cell
    cut = sum(d.finished for d in pieces.earlier)
    facts: dict[str, Fact] = {
        "text": join_lines(was),
        "pieces": cut,
        "change": change,
        "rows": format_argument(str(row)),
    }
    return build_finding(sign_kinds.CUT_DIFFERS, facts=facts, row=row, cell=cell)
