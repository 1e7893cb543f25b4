"""Plain numbers: No. 1, 2, 3 … of an order's designs, given once, in the order of the list, and never to another.

A number is in the ledger before it is on any paper: a run that dies, or whose proof is never sent, leaves at most a
number that stands for a design no longer wanted. A design keeps its number as long as it is the same; a name that
cannot be cut as it is has no fingerprint: names that read the same share a number, and keep it while they do.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from pipeline.core.list_row import ListRow
from pipeline.core.model import Plaque
from pipeline.core.short_codes import hash_values
from pipeline.signoff.records.designs import list_designs
from pipeline.signoff.records.ledger import Ledger
from pipeline.signoff.records.ledger_entry import LedgerEntry, ProofDesign

LONGEST_KEPT = 1_000
"""Most characters of a cell that the ledger stores for a name without a fingerprint."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlainNumbers:
    """The assigned numbers. top: the greatest of them."""

    designs: Mapping[str, int] = field(default_factory=dict)  # by fingerprint
    uncut: Mapping[tuple[str, ...], int] = field(default_factory=dict)  # by cells, for names that can't be cut
    top: int = 0

    def get(self, plaque: Plaque) -> int:
        """Return a plaque's number; 0: it has none yet."""
        if plaque.state == "stopped":
            return self.uncut.get(build_uncut_key(plaque), 0)
        return self.designs.get(plaque.fingerprint, 0)

    def get_uncut(self, plaques: Iterable[Plaque]) -> dict[ListRow, int]:
        """The numbers of names that cannot be cut, by row of the list; none for those that have none yet."""
        stopped = ((p.recipient.row, build_uncut_key(p)) for p in plaques if p.state == "stopped")
        return {row: self.uncut[text] for row, text in stopped if text in self.uncut}


def read_numbers(entries: Iterable[LedgerEntry]) -> PlainNumbers:
    """Read the numbers assigned in the ledger's rows, voided ones included."""
    designs: dict[str, int] = {}
    uncut: dict[tuple[str, ...], int] = {}
    top = 0
    for entry in entries:
        for shown in entry.designs if entry.kind in ("numbers", "proof") else ():
            if not shown.no:
                continue
            top = max(top, shown.no)
            if shown.fingerprint:
                designs.setdefault(shown.fingerprint, shown.no)
            else:
                uncut.setdefault(shown.text, shown.no)
    return PlainNumbers(designs=designs, uncut=uncut, top=top)


def give_numbers(
    ledger: Ledger, plaques: Sequence[Plaque], entries: Sequence[LedgerEntry], at: str
) -> tuple[LedgerEntry, ...]:
    """Give the next numbers to designs without one, in list order, and record them; return the ledger's rows.

    entries: all of its rows. at: now, RFC 3339, UTC. CannotRun when the ledger cannot be written.
    """
    if not _list_unnumbered(plaques, entries):
        return tuple(entries)
    with ledger.transaction(at) as writing:
        new = _list_unnumbered(plaques, writing.entries)  # another run may just have assigned some
        top = read_numbers(writing.entries).top
        numbered = [
            ProofDesign(no=top + n, fingerprint=mark, text=text, rows=rows, cells=(), pieces=0)
            for n, (rows, mark, text) in enumerate(new, 1)
        ]
        if numbered:
            writing.add([LedgerEntry(kind="numbers", designs=tuple(numbered))])
        return writing.entries


def _list_unnumbered(
    plaques: Sequence[Plaque], entries: Sequence[LedgerEntry]
) -> list[tuple[tuple[ListRow, ...], str, tuple[str, ...]]]:
    """List what has no number yet, in the order of the list: rows, fingerprint (empty for what can't be cut) and
    text."""
    known = read_numbers(entries)
    found = [(d.rows, d.fingerprint, d.text) for d in list_designs(plaques) if d.fingerprint not in known.designs]
    stopped: dict[tuple[str, ...], tuple[ListRow, ...]] = {}
    for plaque in plaques:
        if plaque.state == "stopped" and (text := build_uncut_key(plaque)) not in known.uncut:
            stopped[text] = (*stopped.get(text, ()), plaque.recipient.row)
    found += [(rows, "", text) for text, rows in stopped.items()]
    at = {plaque.recipient.row: number for number, plaque in enumerate(plaques)}
    return sorted(found, key=lambda each: min(at[row] for row in each[0]))


def build_uncut_key(plaque: Plaque) -> tuple[str, ...]:
    """Build a key for a name that can't be cut: its cells as in the list, or a hash of very long ones."""
    cells = [text for _, text in plaque.recipient.raw if text.strip()] or [t for t in plaque.text if t.strip()]
    return tuple(text if len(text) <= LONGEST_KEPT else hash_values(text) for text in cells)
