"""From one proof to the next: the revision, what it asks, moved sizes, and wanted changes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from pipeline.core.catalogue import fit_kinds
from pipeline.core.config.order import Order
from pipeline.core.findings import Fact, Finding, build_finding
from pipeline.core.list_row import ListRow, pack_row
from pipeline.core.model import Piece, Plaque
from pipeline.core.units import SAME
from pipeline.outputs.revision import EarlierPlaque, HangingPlaque, Revision
from pipeline.signoff.design_answers import (
    DesignAnswer,
    describe_signature,
    fold_text,
    get_next_revision,
    join_lines,
    list_shown,
    match_predecessors,
    rank_revision,
    read_design_answers,
)
from pipeline.signoff.pieces.piece_tally import drop_hanging
from pipeline.signoff.pieces.plaque_pieces import PlaquePieces, assign_pieces, find_left_out_of_proof
from pipeline.signoff.records.designs import Design, list_designs, select_lettered
from pipeline.signoff.records.ledger import LedgerEntry, LedgerHead, find_head
from pipeline.signoff.records.plain_numbers import read_numbers
from pipeline.signoff.records.sent_proofs import (
    find_proof_showing,
    list_design_volumes,
    list_part_revisions,
    list_proofs_made,
)

QUESTION = "question "
"""How the answer to a question begins, see `signoff.returned.question_answers`."""


def find_latest_revision(entries: Sequence[LedgerEntry]) -> str:
    """Find the latest revision that a paper came back for; empty when none has."""
    return max((e.revision for e in entries if e.kind == "paper"), key=rank_revision, default="")


def find_latest_whole_revision(entries: Sequence[LedgerEntry]) -> str:
    """Find the latest revision of proofs of the whole list; while there is none, of all proofs."""
    parts = list_part_revisions(entries)
    whole = [e for e in entries if e.revision not in parts]
    return find_latest_revision(whole if list_proofs_made(whole) else entries)


def open_revisions(entries: Sequence[LedgerEntry]) -> tuple[str, ...]:
    """The letters of proofs that no paper has come back for, nor for a later proof of the whole list."""
    parts = list_part_revisions(entries)
    answered = {e.revision for e in entries if e.kind == "paper"}
    last = max((rank_revision(letter) for letter in answered - parts), default=0)
    made = dict.fromkeys(e.revision for e in list_proofs_made(entries))
    return tuple(m for m in made if m not in answered and (m in parts or rank_revision(m) > last))


def get_no_drawing(entry: LedgerEntry) -> tuple[Piece, ...]:
    """Return no lettering: for revisions whose earlier lettering nobody will look at."""
    return ()


def build_revision(
    plaques: Sequence[Plaque],
    entries: Sequence[LedgerEntry],
    given: str | None = None,
    drawn: Callable[[LedgerEntry], tuple[Piece, ...]] = get_no_drawing,
    before: str = "",
    end: LedgerHead | None = None,
    rows: Collection[ListRow] | None = None,
) -> Revision:
    """The revision a run of these plaques makes.

    It asks for what the last returned revision did not show, or again for the same. A letter stands for one content: a
    proof that was made with these designs keeps its letter, anything else takes the next one. given: the order's own
    name for the first revision, or for a later one than the last. before: the last revision that an earlier version of
    the tool left, of which no proof was kept.
    drawn: the lettering of an answer's plaque as its paper showed it (`Ledger.read_lettering`). end: the ledger's,
    where not all of its rows count; default: that of the rows given. rows: of the list, that the plaques are; None for
    all.
    """
    latest = find_latest_whole_revision(entries)
    pieces = assign_pieces(plaques, entries)
    hidden = find_left_out_of_proof(plaques, pieces)
    designs = list_designs([p for number, p in enumerate(plaques) if number not in hidden])
    if hidden and not _is_asking_anew(designs, entries, latest):
        hidden = frozenset(number for number in hidden if pieces[number].earlier)  # nothing new: repeat the last proof
        designs = list_designs([p for number, p in enumerate(plaques) if number not in hidden])
    texts = {d.fingerprint: d.text for d in designs}
    held = _list_answers(designs, entries)
    signed = tuple((mark, describe_signature(s.entry)) for mark, s in held.items() if s.decision == "agreed")
    refused = tuple((mark, describe_signature(s.entry)) for mark, s in held.items() if s.decision == "refused")
    new, asks = _select_asked(designs, held, entries, latest) if latest else (True, None)
    if rows is not None and not new:
        asks = None  # rows that were named explicitly are shown whatever was answered
    found = match_predecessors(designs, _select_about(rows, drop_hanging(entries, texts), texts)) if latest else {}
    earlier = tuple(
        (mark, _build_earlier(entry, drawn(entry))) for mark, entry in found.items() if asks is None or mark in asks
    )
    numbers = read_numbers(entries)
    shown = tuple(d for d in designs if asks is None or d.fingerprint in asks)
    proof = find_proof_showing(entries, shown)
    head = (proof.head if proof else None) or end or find_head(entries)
    if proof is not None:  # its cover shows what was finished when it was made
        letter = proof.revision
        pieces = assign_pieces(plaques, [e for e in entries if e.id < proof.id])
        hidden = find_left_out_of_proof(plaques, pieces)
    elif new or list_proofs_made(entries) or before:
        letter = find_next_letter(entries, given, before)
    else:
        letter = latest  # a ledger from before proofs were recorded: its answers show that the same is asked again
    return Revision(
        letter=letter,
        asks=asks,
        signed=signed,
        refused=refused,
        earlier=earlier,
        numbers=tuple(numbers.designs.items()),
        uncut_numbers=tuple(numbers.get_uncut(plaques).items()),
        volumes=tuple(list_design_volumes(entries).items()),
        head=(head.rows, head.hash),
        finished=tuple(
            _build_finished(plaques[number], pieces[number], {d.fingerprint for d in designs})
            for number in sorted(hidden)
        ),
        settled=bool(latest) and not _list_open(designs, held),
    )


def _select_about(
    rows: Collection[ListRow] | None, entries: Sequence[LedgerEntry], designs: Collection[str]
) -> Sequence[LedgerEntry]:
    """The rows of the ledger that are about these rows of the list, or these designs."""
    return entries if rows is None else [e for e in entries if e.fingerprint in designs or set(e.rows) & set(rows)]


def _list_answers(designs: Sequence[Design], entries: Sequence[LedgerEntry]) -> dict[str, DesignAnswer]:
    """List the ledger's answer on each design; where one code stands for two texts, the text decides."""
    texts = {d.fingerprint: d.text for d in designs}
    said = {mark: (s, select_lettered(s.entry.text)) for mark, s in read_design_answers(entries).items()}
    return {mark: s for mark, (s, text) in said.items() if texts.get(mark, text) == text}


def _is_asking_anew(designs: Sequence[Design], entries: Sequence[LedgerEntry], latest: str) -> bool:
    """Return whether anything in these designs is to be asked that the last returned proof did not ask."""
    return not latest or _select_asked(designs, _list_answers(designs, entries), entries, latest)[0]


def _build_finished(plaque: Plaque, pieces: PlaquePieces, asked: Collection[str]) -> HangingPlaque:
    first = pieces.all[0].entry
    return HangingPlaque(
        row=plaque.recipient.row,
        fingerprint="" if plaque.fingerprint in asked else plaque.fingerprint,
        text=select_lettered(first.text),
        pieces=pieces.finished,
        released=first.at[:10],
    )


def rename_revision(
    revision: Revision,
    entries: Sequence[LedgerEntry],
    given: str | None = None,
    before: str = "",
    end: LedgerHead | None = None,
) -> Revision:
    """Give a revision the next letter, because its own already stands for another content. given, before, end: see
    `build_revision`."""
    head = end or find_head(entries)
    return replace(revision, letter=find_next_letter(entries, given, before), head=(head.rows, head.hash))


def find_next_letter(entries: Sequence[LedgerEntry], given: str | None = None, before: str = "") -> str:
    """The revision letter after all that were given. given, before: see `build_revision`."""
    last = max(
        (*(e.revision for e in list_proofs_made(entries)), find_latest_revision(entries), before), key=rank_revision
    )
    if not last:
        return given or "A"
    return given if given and rank_revision(given) > rank_revision(last) else get_next_revision(last)


def _select_asked(
    designs: Sequence[Design], held: Mapping[str, DesignAnswer], entries: Sequence[LedgerEntry], latest: str
) -> tuple[bool, frozenset[str] | None]:
    """Select what the next proof asks for when papers have come back; None for everything. held: the ledger's answer on
    each design. latest: the last revision that came back."""
    open_ = _list_open(designs, held)
    shown = list_shown(entries, latest)
    if any(d.pieces > shown.get(d.fingerprint, 0) for d in designs if d.fingerprint in open_):
        return True, frozenset(open_)
    first = min((e.revision for e in entries if e.kind == "paper"), key=rank_revision)
    return False, None if latest == first else frozenset(shown) & {d.fingerprint for d in designs}


def _list_open(designs: Sequence[Design], held: Mapping[str, DesignAnswer]) -> set[str]:
    """List the designs that still need an answer."""
    return {
        d.fingerprint
        for d in designs
        if (s := held.get(d.fingerprint)) is None
        or s.decision in ("change", "contradicted")
        or (s.decision == "agreed" and s.pieces < d.pieces)
    }


def _build_earlier(entry: LedgerEntry, drawing: tuple[Piece, ...]) -> EarlierPlaque:
    return EarlierPlaque(
        revision=entry.revision,
        fingerprint=entry.fingerprint,
        text=entry.text,
        rows=entry.rows,
        cap_heights=entry.cap_heights,
        drawing=drawing,
    )


def find_moved_sizes(plaques: Sequence[Plaque], entries: Sequence[LedgerEntry], order: Order) -> tuple[Finding, ...]:
    """fit.size-moved for each line with same_size = "all" whose size is another than the one signed for."""
    out = []
    agreed = [s.entry for s in read_design_answers(entries).values() if s.decision == "agreed"]
    for number, part in enumerate(order.line, 1):
        if part.same_size != "all":
            continue
        before = Counter(e.cap_heights[number - 1] for e in agreed if len(e.cap_heights) >= number)
        lines = [(p, line) for p in plaques if p.artwork for line in p.artwork.lines if line.line == number]
        now = Counter(line.cap_height for p, line in lines if p.state != "stopped")
        before.pop(0.0, None)
        if not before or not now:
            continue
        old, size = before.most_common(1)[0][0], now.most_common(1)[0][0]
        if abs(old - size) > SAME:
            by = min((pair for pair in lines if pair[0].state != "stopped"), key=lambda pair: pair[1].slack)[0]
            facts: dict[str, Fact] = {"by": pack_row(by.recipient.row), "before": old, "cap_height": size}
            out.append(
                build_finding(
                    fit_kinds.SIZE_MOVED, line=number, row=by.recipient.row, cell=by.recipient.cell, facts=facts
                )
            )
    return tuple(out)


# --- changes wanted ----------------------------------------------------------------------------------------------

WantedState = Literal["to do", "to ask", "to read", "made", "no longer shown"]
"""to do: edit the list · to ask: what the client says is not clear · to read: a reply in words · made: the list now has
the wording · no longer shown: the plaque it was about is gone, whatever took its place."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WantedChange:
    """One thing a client asked for: where in their list, what it reads now, what they want."""

    cells: tuple[str, ...]
    rows: tuple[ListRow, ...]
    now: str
    wanted: str
    state: WantedState
    by: str
    date: str
    revision: str
    source: str


def list_wanted_changes(
    designs: Sequence[Design], stopped: Collection[ListRow], entries: Sequence[LedgerEntry]
) -> tuple[WantedChange, ...]:
    """List every change, refusal and reply that still stands in the ledger, in the order of the list's rows.

    designs: of the order as it is now. stopped: rows that cannot be cut. Replies and remarks in words are listed for
    the latest revision only. Nothing is applied: a person edits the client's list.
    """
    current = {d.fingerprint: d for d in designs}
    latest = find_latest_revision(entries)
    texts = {fold_text(t) for d in designs for t in (*d.text, join_lines(d.text))}
    out = []
    for mark, standing in read_design_answers(entries).items():
        entry = standing.entry
        if standing.decision in ("change", "refused"):
            asked = entry.change_to if standing.decision == "change" else "do not cut"
            made = standing.decision == "change" and fold_text(asked) in texts
            done: WantedState = "made" if made else "no longer shown"
            out.append(_build_wanted(entry, asked, "to do" if mark in current else done, current.get(mark)))
        if standing.decision == "contradicted" and mark in current:
            out.append(_build_wanted(entry, standing.why, "to ask", current[mark]))
        if entry.reply and entry.revision == latest:
            out.append(_build_wanted(entry, entry.reply, "to read", current.get(mark)))
    for paper in entries:
        if paper.kind == "paper" and paper.reply and paper.revision == latest:
            out.append(_build_wanted(paper, paper.reply, "to read", None))
    replies = {(e.rows, () if e.rows else e.text): e for e in entries if e.kind == "reply"}  # the last reply counts
    for entry in replies.values():
        state: WantedState = "to do" if set(entry.rows) & set(stopped) else "no longer shown"
        if not entry.rows:  # about the whole order
            state = "to read" if entry.revision == latest else "no longer shown"
        out.append(_build_wanted(entry, entry.reply, state, None))
    return tuple(sorted(_merge_changes(out), key=lambda w: (w.rows, w.wanted)))


def _merge_changes(changes: Sequence[WantedChange]) -> list[WantedChange]:
    """Merge changes of several plaques that one answer asks for."""
    groups: dict[tuple[str, ...], list[WantedChange]] = {}
    for n, change in enumerate(changes):
        own = "" if change.wanted.startswith(QUESTION) else str(n)
        key = (own, change.wanted, change.state, change.by, change.date, change.revision, change.source)
        groups.setdefault(key, []).append(change)
    out = []
    for same in groups.values():
        now = " · ".join(c.now for c in same[:3]) + (f" (+{len(same) - 3} more)" if same[3:] else "")
        rows, cells = [row for c in same for row in c.rows], [cell for c in same for cell in c.cells]
        out.append(replace(same[0], rows=tuple(rows), cells=tuple(cells), now=now))
    return out


def _build_wanted(entry: LedgerEntry, asked: str, state: WantedState, design: Design | None) -> WantedChange:
    return WantedChange(
        cells=design.cells if design else entry.cells,  # where it is now, if it still exists
        rows=design.rows if design else entry.rows,
        now=join_lines(entry.text),
        wanted=asked,
        state=state,
        by=entry.by,
        date=entry.date or entry.at[:10],
        revision=entry.revision,
        source=entry.source,
    )
