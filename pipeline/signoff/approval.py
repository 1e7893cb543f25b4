"""Approval of pieces: which may be cut, how many, and why not. Boards, release, status and papers all ask here."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from pipeline.core.catalogue import get_kind, sign_kinds
from pipeline.core.findings import Fact, Finding, Kind, Severity, build_finding
from pipeline.core.language.printed_command import format_argument
from pipeline.core.model import Plaque
from pipeline.core.units import MM, Units
from pipeline.signoff.design_answers import (
    DesignAnswer,
    describe_change,
    join_lines,
    match_predecessors,
    read_design_answers,
)
from pipeline.signoff.pieces.piece_tally import drop_hanging
from pipeline.signoff.pieces.plaque_pieces import NO_PIECES, PlaquePieces, assign_pieces, find_difference
from pipeline.signoff.records.designs import Design, list_designs, select_lettered
from pipeline.signoff.records.job_identity import JobIdentity
from pipeline.signoff.records.ledger_entry import LedgerEntry
from pipeline.signoff.sign_off import SignOff

ApprovalState = Literal[
    "signed",
    "not-signed",
    "changed-since",
    "more-pieces",
    "change-wanted",
    "refused",
    "contradicted",
    "other-order",
    "covers-more",
    "made-differently",
    "stopped",
    "finished",
]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Approval:
    """The approval of one plaque of the list. `signed` pieces may be cut, `held` may not, `finished` ones are cut
    already; their sum is what the row asks for. With `held` there is a finding that says why, except for a stopped
    plaque, which has its own; of a finished one it says that the list or the order has changed since."""

    plaque: Plaque
    state: ApprovalState
    signed: int = 0
    held: int = 0
    finished: int = 0
    pieces: PlaquePieces = NO_PIECES
    finding: Finding | None = None
    entry: LedgerEntry | None = (
        None  # the sign-off, or the answer that blocks it; never None for pieces that may be cut
    )

    @property
    def why(self) -> Finding | None:
        """Return why pieces are held back; None when none are."""
        if not self.held or self.finding is not None:
            return self.finding
        return next((f for f in self.plaque.findings if f.severity is Severity.STOP), None)


def approve_pieces(
    plaques: Sequence[Plaque],
    sign_off: SignOff,
    *,
    findings: Sequence[Finding] = (),
    units: Units = MM,
    revision: str = "A",
) -> tuple[Approval, ...]:
    """Decide which pieces of each plaque may be cut, in the order given. findings: of the whole order; one that stops
    the order holds back every piece. revision: of the proof to be sent next, for the remedies."""
    stop = next((f for f in findings if f.severity is Severity.STOP and get_kind(f.code).stops == "order"), None)
    if stop is not None:
        return tuple(Approval(plaque=p, state="stopped", held=p.recipient.copies, finding=stop) for p in plaques)
    designs = {d.fingerprint: d for d in list_designs(plaques)}
    pieces = assign_pieces(plaques, sign_off.entries)
    return _Deciding(sign_off, read_design_answers(sign_off.entries), designs, pieces, units, revision).approve_all(
        plaques
    )


@dataclass(frozen=True, slots=True)
class _Deciding:
    sign_off: SignOff
    held: Mapping[str, DesignAnswer]
    designs: Mapping[str, Design]
    pieces: Sequence[PlaquePieces]  # pieces of each plaque
    units: Units
    revision: str

    def approve_all(self, plaques: Sequence[Plaque]) -> tuple[Approval, ...]:
        left = drop_hanging(self.sign_off.entries, self.designs.keys())
        before = match_predecessors(tuple(self.designs.values()), left)
        agreed = {
            mark: self.held[old.fingerprint].entry
            for mark, old in before.items()
            if old.fingerprint in self.held and self.held[old.fingerprint].decision == "agreed"
        }
        elsewhere = {m: s.entry for m, s in read_design_answers(self.sign_off.others).items() if s.decision == "agreed"}
        making = find_last_making(self.sign_off.entries)
        allowed = self._allot(plaques)
        out = []
        for number, plaque in enumerate(plaques):
            mark, own = plaque.fingerprint, self.pieces[number]
            if own.done:
                out.append(self._approve_finished(plaque, own))
            elif plaque.state == "stopped" or not mark:
                held = plaque.recipient.copies - own.finished
                out.append(Approval(plaque=plaque, state="stopped", held=held, finished=own.finished, pieces=own))
            else:
                changed = _list_differences(making.get(mark, ()), self.sign_off.making)
                one = self._approve_one(
                    plaque, own, allowed.get(number, 0), agreed.get(mark), elsewhere.get(mark), changed
                )
                out.append(one)
        return tuple(out)

    def _approve_finished(self, plaque: Plaque, own: PlaquePieces) -> Approval:
        """Approve a plaque whose pieces are all cut or delivered: not asked about, taken back or cut again."""
        design = own.all[0]
        signed = self.held.get(design.fingerprint)
        entry = signed.entry if signed is not None and signed.decision == "agreed" else design.entry
        return Approval(
            plaque=plaque,
            state="finished",
            finished=plaque.recipient.copies,
            pieces=own,
            finding=find_difference(plaque, own),
            entry=entry,
        )

    def _get_standing(self, plaque: Plaque) -> DesignAnswer | None:
        """Return the ledger's answer for the plaque: if two texts share a code, the text decides."""
        standing = self.held.get(plaque.fingerprint)
        return standing if standing and select_lettered(standing.entry.text) == select_lettered(plaque.text) else None

    def _allot(self, plaques: Sequence[Plaque]) -> dict[int, int]:
        """Allot signed pieces to plaques: rows that the client signed come first, then the others from the top."""
        found = [(n, p, s) for n, p in enumerate(plaques) if p.state != "stopped" and (s := self._get_standing(p))]
        mine = [(n, p, s) for n, p, s in found if s.decision == "agreed"]
        mine.sort(key=lambda t: (t[1].recipient.row not in t[2].rows, t[0]))
        left = {p.fingerprint: s.pieces for _, p, s in mine}
        for number, plaque, _ in mine:  # pieces already cut used up part of what was signed for
            left[plaque.fingerprint] -= self.pieces[number].finished_own
        allowed = {}
        for number, plaque, _ in mine:
            wanted = plaque.recipient.copies - self.pieces[number].finished
            allowed[number] = max(0, min(wanted, left[plaque.fingerprint]))
            left[plaque.fingerprint] -= allowed[number]
        return allowed

    def _approve_one(
        self,
        plaque: Plaque,
        own: PlaquePieces,
        allowed: int,
        before: LedgerEntry | None,
        elsewhere: LedgerEntry | None,
        changed: str,
    ) -> Approval:
        wanted, design = plaque.recipient.copies - own.finished, self.designs[plaque.fingerprint]
        standing = self._get_standing(plaque)

        def hold_back(
            state: ApprovalState, kind: Kind, entry: LedgerEntry | None, *, may: int = 0, **more: Fact
        ) -> Approval:
            told: dict[str, Fact] = {"text": join_lines(plaque.text), **more}
            if entry is not None:
                told |= {"by": entry.by, "revision": entry.revision}
            finding = build_finding(kind, facts=told, row=plaque.recipient.row, cell=plaque.recipient.cell)
            return Approval(
                plaque=plaque,
                state=state,
                signed=may,
                held=wanted - may,
                finished=own.finished,
                pieces=own,
                finding=finding,
                entry=entry,
            )

        if standing is None:
            if elsewhere is not None and select_lettered(elsewhere.text) == design.text:
                was, now = str(JobIdentity.from_entry(elsewhere)), str(self.sign_off.job)
                return hold_back("other-order", sign_kinds.OTHER_ORDER, elsewhere, was=was, now=now)
            earlier = self.sign_off.earlier.get(plaque.fingerprint)
            if before is not None and earlier is not None and before.fingerprint == earlier:
                added = ", ".join(self.sign_off.added)
                return hold_back("covers-more", sign_kinds.COVERS_MORE, before, added=added, next=self.revision)
            if before is not None:
                change = describe_change(before, design, self.units)
                return hold_back("changed-since", sign_kinds.CHANGED_SINCE, before, change=change)
            open_ = ", and a question about it is open" if plaque.state == "ask" else ""
            return hold_back("not-signed", sign_kinds.NOT_SIGNED, None, open=open_, revision=self.revision)
        entry = standing.entry
        if standing.decision == "change":
            cells = ", ".join(design.cells)
            return hold_back("change-wanted", sign_kinds.CHANGE_WANTED, entry, change_to=entry.change_to, cells=cells)
        if standing.decision == "refused":
            return hold_back("refused", sign_kinds.REFUSED, entry)
        if standing.decision == "contradicted":
            rows = format_argument(",".join(map(str, design.rows)))
            return hold_back("contradicted", sign_kinds.CONTRADICTED, entry, why=standing.why, rows=rows)
        if changed:
            return hold_back("made-differently", sign_kinds.MADE_DIFFERENTLY, entry, change=changed)
        if allowed < wanted:
            return hold_back(
                "more-pieces", sign_kinds.MORE_PIECES, entry, may=allowed, wanted=design.pieces, signed=standing.pieces
            )
        return Approval(plaque=plaque, state="signed", signed=allowed, finished=own.finished, pieces=own, entry=entry)


def find_last_making(entries: Sequence[LedgerEntry]) -> dict[str, tuple[tuple[str, str], ...]]:
    """Find how each design was to be made when it was last signed, released or accepted, as far as the ledger records
    it.

    For a sign-off, its proof tells. Later rows win: what the maker accepted holds until something else is accepted."""
    by_proof: dict[tuple[str, str], tuple[tuple[str, str], ...]] = {}
    out: dict[str, tuple[tuple[str, str], ...]] = {}
    for entry in entries:
        if entry.kind == "proof" and entry.making:
            by_proof |= {(entry.revision, design.fingerprint): entry.making for design in entry.designs}
        elif entry.kind == "answer" and entry.decision in ("agreed", "depends"):
            if found := entry.making or by_proof.get((entry.revision, entry.fingerprint)):
                out[entry.fingerprint] = found
        elif entry.kind in ("released", "making") and entry.making:
            out[entry.fingerprint] = entry.making
    return out


def _list_differences(before: Sequence[tuple[str, str]], now: Sequence[tuple[str, str]]) -> str:
    """Describe the making values that have changed; empty when none has. Values not recorded then don't count."""
    was = dict(before)
    return ", ".join(f"{key} was {was[key]} and is {value}" for key, value in now if was.get(key, value) != value)
