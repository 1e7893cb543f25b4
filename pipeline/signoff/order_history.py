"""The history of an order, from the rows of its ledger: proofs, answers, releases, marks, who and when."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from pipeline.outputs.summary import format_count
from pipeline.signoff.design_answers import join_lines
from pipeline.signoff.pieces.mark_rows import WORDS
from pipeline.signoff.records.ledger_entry import LedgerEntry, select_counting_entries
from pipeline.signoff.returned.answer_formats import find_title

ANSWER_WORDS = {
    "agreed": "agreed",
    "depends": "agreed once questions in another volume are answered",
    "change": "change wanted",
    "refused": "not to be cut",
    "unanswered": "not answered",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class HistoryEvent:
    """One event, recorded in one or several rows of the ledger. what: a description; details: its changes, one line
    each; files: names and sha256. voided: a later row says that it no longer counts."""

    rows: tuple[int, ...]
    at: str  # RFC 3339, UTC, by the machine's clock
    kind: str
    what: str
    by: str = ""
    note: str = ""
    details: tuple[str, ...] = ()
    files: tuple[tuple[str, str], ...] = ()
    voided: bool = False
    clock_back: bool = False  # the clock was earlier than at the previous row


def build_history(entries: Sequence[LedgerEntry]) -> tuple[HistoryEvent, ...]:
    """Build the events in the order in which they were recorded. entries: all rows, voided ones included."""
    counting = {e.id for e in select_counting_entries(entries)} | {e.id for e in entries if e.kind == "void"}
    out, latest = [], ""
    for rows in _group_entries(entries):
        event = _build_event(rows, voided=not any(e.id in counting for e in rows), back=rows[0].at < latest)
        latest = max(latest, rows[-1].at)
        out.append(event)
    return tuple(out)


def _group_entries(entries: Sequence[LedgerEntry]) -> Iterator[tuple[LedgerEntry, ...]]:
    """Group rows that were written at once for one event."""
    group: list[LedgerEntry] = []
    for entry in entries:
        if group and not _belongs(group[-1], entry):
            yield tuple(group)
            group = []
        group.append(entry)
    if group:
        yield tuple(group)


def _belongs(last: LedgerEntry, entry: LedgerEntry) -> bool:
    if entry.at != last.at:
        return False
    if entry.kind in ("answer", "question", "reply", "reading"):
        return last.kind in ("paper", "answer", "question", "reply", "reading")
    if entry.kind in ("released", "withdrawn"):
        return last.kind in ("released", "withdrawn")
    if entry.kind == "mark":
        return last.kind == "mark" and (last.source, last.by, last.note) == (entry.source, entry.by, entry.note)
    if entry.kind == "proof":
        return last.kind == "proof" and last.revision == entry.revision
    return entry.kind == last.kind and entry.kind in ("making", "told")


def _build_event(rows: tuple[LedgerEntry, ...], *, voided: bool, back: bool) -> HistoryEvent:
    first = rows[0]
    what, details = _describe_event(rows)
    files = [file for e in rows for file in e.files]
    files += [(e.source, e.source_sha256) for e in rows if e.source_sha256 and e.kind in ("proof", "paper", "mark")]
    return HistoryEvent(
        rows=tuple(e.id for e in rows),
        at=first.at,
        kind=first.kind,
        what=what,
        by=first.by if first.kind not in ("released", "withdrawn") else "",
        note=first.note if first.kind in ("mark", "void", "making") else "",
        details=tuple(details),
        files=tuple(dict.fromkeys(files)),
        voided=voided,
        clock_back=back,
    )


def _describe_event(rows: Sequence[LedgerEntry]) -> tuple[str, list[str]]:
    first = rows[0]
    if first.kind == "order":
        return f"order begun: “{first.title}”" + (f" for {first.client}" if first.client else ""), []
    if first.kind == "same-order":
        return f"said to be the same job: now “{first.title}”" + (f" for {first.client}" if first.client else ""), []
    if first.kind == "numbers":
        return f"plain numbers given to {format_count(len(first.designs), 'design')}", []
    if first.kind == "proof":
        designs = [d for e in rows for d in e.designs]
        part = f", {first.note.removeprefix('part: ')} only" if first.note.startswith("part: ") else ""
        volumes = f" in {len(rows)} volumes" if len(rows) > 1 else ""
        shown = f"{format_count(len(designs), 'design')}, {format_count(sum(d.pieces for d in designs), 'piece')}"
        return f"proof {first.revision} made{volumes}: {shown}{part}", []
    if first.kind in ("paper", "answer", "question", "reply", "reading"):
        return _describe_answers(rows)
    if first.kind in ("released", "withdrawn"):
        return _describe_release(rows)
    if first.kind == "mark":
        moves = Counter((e.decision, e.state) for e in rows for _ in range(e.pieces))
        told = ", ".join(f"{n} {WORDS.get(a, a)} → {WORDS.get(b, b)}" for (a, b), n in moves.items())
        return f"pieces marked: {told}", [_describe_entry(e) for e in rows]
    if first.kind == "making":
        return f"files made in another way accepted for {format_count(len(rows), 'design')}", [
            _describe_entry(e) for e in rows
        ]
    if first.kind == "told":
        return f"reported: {format_count(len(rows), 'plaque')} cut earlier, no longer as in the list or the order", []
    return void_words(first.voids), []


def void_words(rows: Sequence[int]) -> str:
    """Describe the voiding of these rows: 'row 3 no longer counts'."""
    numbers = ", ".join(map(str, rows))
    return f"row {numbers} no longer counts" if len(rows) == 1 else f"rows {numbers} no longer count"


def _describe_answers(rows: Sequence[LedgerEntry]) -> tuple[str, list[str]]:
    first = rows[0]
    decided = [e.decision for e in rows if e.kind not in {"paper", "question", "reply"}]
    counts = Counter(ANSWER_WORDS.get(decision, "unclear") for decision in decided)
    replies = sum(e.kind == "reply" for e in rows)
    told = [f"{n} {word}" for word, n in counts.items()] + ([f"{replies} in words"] if replies else [])
    kind = find_title(first.source_kind) or "answer"
    what = f"{kind} {first.revision} came back: {', '.join(told) or 'nothing answered'}"
    changes = [f"{_describe_entry(e)}: {e.change_to}" for e in rows if e.decision == "change"]
    changes += [f"{_describe_entry(e)}: not to be cut" for e in rows if e.decision == "refused"]
    return what, changes


def _describe_release(rows: Sequence[LedgerEntry]) -> tuple[str, list[str]]:
    out = [e for e in rows if e.kind == "released"]
    back = [e for e in rows if e.kind == "withdrawn"]
    again = sum(e.pieces for e in out if e.why == "spoilt")
    parts = []
    if out:
        more = f", {again} of them again for spoilt ones" if again else ""
        parts.append(f"released: {format_count(sum(e.pieces for e in out), 'piece')}{more}")
    if back:
        parts.append(f"taken back: {format_count(sum(e.pieces for e in back), 'piece')}")
    return ", ".join(parts), [
        f"{_describe_entry(e)}{'' if e.kind == 'released' else f': taken back, {e.why}'}" for e in rows
    ]


def _describe_entry(entry: LedgerEntry) -> str:
    where = f"row {', '.join(map(str, entry.rows))} " if entry.rows else ""
    pieces = f" × {entry.pieces}" if entry.pieces > 1 else ""
    moved = f": {WORDS.get(entry.decision)} → {WORDS.get(entry.state)}" if entry.kind == "mark" else ""
    return f"{where}“{join_lines(entry.text)}”{pieces}{moved}"
