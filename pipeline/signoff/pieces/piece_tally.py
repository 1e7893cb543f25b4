"""Counts of released, cut, spoilt and delivered pieces of each design, from the rows of the ledger.

A release lets pieces out; they are then to cut. A mark moves pieces from one state to another, and says from which, so
that a row that is voided later takes nothing else with it. What was spoilt stays spoilt: a release lets as many out
again, so that pieces let out are at most those signed for and those spoilt.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Literal, get_args

from pipeline.core.list_row import ListRow
from pipeline.signoff.records.ledger_entry import LedgerEntry

PieceState = Literal["to-cut", "cut", "spoilt", "delivered"]
STATES: tuple[PieceState, ...] = get_args(PieceState)
FINISHED: tuple[PieceState, ...] = ("cut", "delivered")
AGAIN = "spoilt"
"""`why` of a released row whose pieces take the place of spoilt ones."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceTally:
    """Pieces of one design. let_out: released, those made again included, less those taken back. again: of those to
    cut, how many take the place of spoilt ones. remade: how many were ever let out for that. marked: pieces by row of
    the list and state, as the marks named them. first: the row of the ledger that first let pieces out. last_spoilt:
    the last mark of a spoilt piece."""

    first: LedgerEntry
    let_out: int = 0
    cut: int = 0
    spoilt: int = 0
    delivered: int = 0
    again: int = 0
    remade: int = 0
    marked: Mapping[tuple[ListRow, str], int] = field(default_factory=dict)
    last_spoilt: LedgerEntry | None = None

    @property
    def to_cut(self) -> int:
        """Return the pieces that are released and not yet cut."""
        return self.let_out - self.cut - self.spoilt - self.delivered

    @property
    def finished(self) -> int:
        return self.cut + self.delivered

    def count_in_state(self, state: str) -> int:
        """Count the pieces in a state."""
        return {"to-cut": self.to_cut, "cut": self.cut, "spoilt": self.spoilt, "delivered": self.delivered}[state]


@dataclass(slots=True)
class _Counting:
    first: LedgerEntry
    let_out: int = 0
    again: int = 0
    remade: int = 0
    held: Counter[str] = field(default_factory=Counter)  # pieces by state, except those still to cut
    marked: Counter[tuple[ListRow, str]] = field(default_factory=Counter)
    last_spoilt: LedgerEntry | None = None

    @property
    def to_cut(self) -> int:
        return self.let_out - self.held.total()

    def move(self, mark: LedgerEntry) -> None:
        before, after = mark.decision, mark.state
        there = self.to_cut if before == "to-cut" else self.held[before]
        pieces = min(mark.pieces, there)
        if pieces <= 0 or before == after or before not in STATES or after not in STATES:
            return
        row = mark.rows[0] if len(mark.rows) == 1 else 0
        for state, change in ((before, -pieces), (after, pieces)):
            if state != "to-cut":
                self.held[state] += change
                self.marked[row, state] = max(0, self.marked[row, state] + change)
        self.again = min(self.again, self.to_cut)  # assume that first-time pieces are cut before replacements
        self.last_spoilt = mark if after == "spoilt" else self.last_spoilt


def tally_pieces(entries: Iterable[LedgerEntry]) -> dict[str, PieceTally]:
    """Tally the pieces of every design that was ever released, by fingerprint. entries: those that count, oldest
    first."""
    out: dict[str, _Counting] = {}
    for entry in entries:
        own = out.get(entry.fingerprint)
        if entry.kind == "released":
            own = out.setdefault(entry.fingerprint, _Counting(entry))
            own.let_out += max(0, entry.pieces)
            if entry.why == AGAIN:
                own.again += entry.pieces
                own.remade += entry.pieces
        elif own is not None and entry.kind == "withdrawn":
            own.remade -= own.again
            own.let_out, own.again = own.held.total(), 0
            if not own.let_out:
                del out[entry.fingerprint]
        elif own is not None and entry.kind == "mark":
            own.move(entry)
    return {
        mark: PieceTally(
            first=c.first,
            let_out=c.let_out,
            cut=c.held["cut"],
            spoilt=c.held["spoilt"],
            delivered=c.held["delivered"],
            again=c.again,
            remade=c.remade,
            marked=dict(c.marked),
            last_spoilt=c.last_spoilt,
        )
        for mark, c in out.items()
    }


def drop_hanging(entries: Iterable[LedgerEntry], kept: Collection[str]) -> tuple[LedgerEntry, ...]:
    """The rows but those of designs all of whose pieces are cut or delivered: nothing takes the place of these. kept:
    fingerprints whose rows stay all the same."""
    rows = tuple(entries)
    done = {mark for mark, t in tally_pieces(rows).items() if t.finished and not t.to_cut} - set(kept)
    return tuple(e for e in rows if e.fingerprint not in done) if done else rows
