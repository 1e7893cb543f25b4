"""The current answer on each design according to the ledger, and how many pieces an agreement covers.

A sign-off belongs to a fingerprint and a number of pieces, not to a row: a moved row stays signed, a moved curve does
not. The last answer holds: a later one to the same proof and design takes the place of the earlier and adds nothing,
since viewers save one form twice. Two that say different things contradict each other until a later revision, a
sign-off recorded by hand, or the maker's own reading settles it. Sign-offs recorded by hand for several rows add up,
those of one person and date replace each other; never more counts than the proof showed.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import SequenceMatcher
from typing import Literal

from pipeline.core.list_row import ListRow
from pipeline.core.units import MM, SAME, Units
from pipeline.signoff.records.designs import Design, select_lettered
from pipeline.signoff.records.ledger import LedgerEntry, ProofDesign

Decided = Literal["agreed", "change", "refused", "contradicted"]
DECISIONS: dict[str, Decided] = {"agreed": "agreed", "change": "change", "refused": "refused"}
"""Answers that decide something, as spelled in the ledger."""
BY_HAND = "paper"
"""`source_kind` of a sign-off recorded by hand: a person has decided, so it settles contradictions."""
ANSWERS = ("answer", "reading")
"""Kinds of row that are answers to a design."""
CLOSE = 0.6
"""Share of letters two texts have in common, in order, to be told as old and new of one plaque. Only for wording and
for showing them side by side; nothing is signed by likeness (chosen on names with one to three letters changed)."""
MOST_PAIRS = 40_000
"""Pairs of old and new that are compared letter by letter (about two seconds); an entirely new list has no old and new
to show."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignAnswer:
    """The ledger's answer to one fingerprint. pieces, rows: covered by an agreement. agreed: the ledger rows that it
    consists of."""

    decision: Decided
    entry: LedgerEntry
    pieces: int = 0
    rows: tuple[ListRow, ...] = ()
    why: str = ""
    agreed: tuple[LedgerEntry, ...] = ()


# --- revisions ---------------------------------------------------------------------------------------------------


def rank_revision(revision: str) -> int:
    """Rank a revision, to tell which is later: A 1, B 2 … Z 26, AA 27; with a number at its end that number ("3",
    "draft 2"); any other name is a first one; none is 0.
    """
    if number := re.search(r"[0-9]+$", revision):
        return int(number.group())
    if not (revision.isascii() and revision.isalpha() and revision.isupper()):
        return 1 if revision else 0
    count = 0
    for letter in revision:
        count = count * 26 + ord(letter) - ord("A") + 1
    return count


def get_next_revision(revision: str) -> str:
    """Return the next revision: A → B, Z → AA, 3 → 4, "draft" → "draft 2"."""
    if number := re.search(r"[0-9]+$", revision):
        return f"{revision[: number.start()]}{int(number.group()) + 1}"
    if revision and not (revision.isascii() and revision.isalpha() and revision.isupper()):
        return f"{revision} 2"
    count, letters = rank_revision(revision) + 1, ""
    while count:
        count, rest = divmod(count - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


# --- what the ledger says ----------------------------------------------------------------------------------------


def read_design_answers(entries: Iterable[LedgerEntry]) -> dict[str, DesignAnswer]:
    """Read the valid answer for each fingerprint in the ledger."""
    held: dict[str, DesignAnswer] = {}
    shown: dict[tuple[str, str], int] = {}
    for entry in _join_volumes(tuple(entries)):
        if entry.kind == "proof":
            for design in entry.designs:
                shown[entry.revision, design.fingerprint] = design.pieces
        elif entry.kind in ANSWERS and entry.decision not in ("", "unanswered"):
            held[entry.fingerprint] = _apply_answer(held.get(entry.fingerprint), entry, shown)
    return held


def _join_volumes(entries: Sequence[LedgerEntry]) -> Iterator[LedgerEntry]:
    """Yield the rows with what one volume says of a design joined with what the questions of another say of it: it is
    agreed when both are, in whatever order they came back. An answer that depends on questions nobody has answered
    says nothing yet."""
    said: dict[tuple[str, str], LedgerEntry] = {}
    shown: dict[tuple[str, str], ProofDesign] = {}
    for entry in entries:
        key = (entry.revision, entry.fingerprint)
        if entry.kind == "proof":
            shown |= {(entry.revision, d.fingerprint): d for d in entry.designs}
        elif entry.kind == "question" and entry.decision != "unanswered":
            before = said.get(key)
            differs = before is not None and (before.decision, before.change_to) != (entry.decision, entry.change_to)
            why = "its questions are answered in two ways"
            said[key] = replace(entry, decision="unclear", change_to="", why=why) if differs else entry
    if not said and not any(e.decision == "depends" for e in entries):
        yield from entries
        return
    joined = {
        (e.revision, e.fingerprint) for e in entries if e.kind == "answer" and e.decision in ("depends", "change")
    }
    waiting: dict[tuple[str, str], LedgerEntry] = {}  # the joined answers read so far
    for entry in entries:
        key = (entry.revision, entry.fingerprint)
        answer = said.get(key)
        if entry.kind == "question":
            if answer is None or answer.id != entry.id:
                continue
            if key in waiting:  # answered again: a decision of the maker in between didn't know of this
                yield _join_answers(waiting[key], answer)
            elif key not in joined and answer.decision != "as-shown":
                yield _describe_design(replace(answer, kind="answer"), shown.get(key))
        elif entry.kind == "answer" and entry.decision in ("depends", "change"):
            waiting[key] = entry
            yield _join_answers(entry, answer)
        else:
            yield entry


def _join_answers(own: LedgerEntry, far: LedgerEntry | None) -> LedgerEntry:
    """Join what a design's own volume says of it (`depends` or `change`) with what another one's questions do; None:
    nothing yet."""
    if own.decision == "change" and far is not None:
        if far.decision == "unclear":
            return replace(own, decision="unclear", why=far.why)
        if far.decision == "refused":
            why = f"{_describe_answer(own)} beside it, {_describe_answer(far)} to a question about it on {far.source}"
            return replace(own, decision="unclear", why=why)
        wanted = far.change_to if far.decision == "change" else ""
        return replace(own, change_to="; ".join(filter(None, (own.change_to, wanted))))
    if own.decision == "change":
        return own
    if far is None:
        return replace(own, decision="unanswered")
    if far.decision == "as-shown":
        return replace(own, decision="agreed", why="")
    return replace(own, decision=far.decision, change_to=far.change_to, why=far.why)


def _describe_design(answer: LedgerEntry, design: ProofDesign | None) -> LedgerEntry:
    """Add what the proof showed to the answer to a question."""
    if design is None:
        return answer
    return replace(answer, text=design.text, rows=design.rows, cells=design.cells, pieces=design.pieces)


def _apply_answer(
    before: DesignAnswer | None, entry: LedgerEntry, shown: Mapping[tuple[str, str], int]
) -> DesignAnswer:
    if entry.decision not in DECISIONS:
        return DesignAnswer(decision="contradicted", entry=entry, why=entry.why)
    decision, by_hand = DECISIONS[entry.decision], _is_by_hand(entry)
    if before is not None and rank_revision(entry.revision) <= rank_revision(before.entry.revision) and not by_hand:
        if before.decision == "contradicted":
            return before
        if before.decision != decision or before.entry.change_to != entry.change_to:
            why = (
                f"{_describe_answer(before.entry)} on {before.entry.source or 'one paper'}, "
                f"{_describe_answer(entry)} on {entry.source or 'another'}"
            )
            return DesignAnswer(decision="contradicted", entry=entry, why=why)
        if rank_revision(entry.revision) < rank_revision(before.entry.revision):
            return before  # an older paper with the same answer
    if decision != "agreed":
        return DesignAnswer(decision=decision, entry=entry, pieces=entry.pieces, rows=entry.rows)
    others = before.agreed if before is not None and before.decision == "agreed" else ()
    if by_hand:
        agreed = (*(e for e in others if _get_signer(e) != _get_signer(entry)), entry)
    else:
        agreed = (*(e for e in others if e.revision == entry.revision and _is_by_hand(e)), entry)
    pieces, rows = _count_covered(agreed)
    most = max((shown.get((e.revision, e.fingerprint), pieces) for e in agreed), default=pieces)
    return DesignAnswer(decision=decision, entry=entry, pieces=min(pieces, most), rows=rows, agreed=agreed)


def _is_by_hand(entry: LedgerEntry) -> bool:
    """Return whether a person decided this one, knowing the earlier answers."""
    return entry.source_kind == BY_HAND or entry.kind == "reading"


def _get_signer(entry: LedgerEntry) -> tuple[str, ...]:
    """Return the signer. By hand: who signed, on which proof, when. Any other answer: the proof alone, in whatever file
    it came."""
    if not _is_by_hand(entry):
        return (entry.revision,)
    return (entry.revision, fold_text(entry.by), fold_text(entry.date))


def fold_text(text: str) -> str:
    """Fold a text for comparison: case ignored, white space reduced to single spaces."""
    return " ".join(text.split()).casefold()


def _count_covered(agreed: Sequence[LedgerEntry]) -> tuple[int, tuple[ListRow, ...]]:
    """Count pieces and rows of several agreements: rows signed one after the other add up, the same rows count once."""
    pieces, rows = 0, set[ListRow]()
    for entry in agreed:
        new = set(entry.rows)
        if not rows & new:
            pieces += entry.pieces
        elif new >= rows:
            pieces = entry.pieces
        elif not rows >= new:
            pieces = max(pieces, entry.pieces)  # rows overlap: never more than one paper shows
        rows |= new
    return max(pieces, 0), tuple(sorted(rows))


def _describe_answer(entry: LedgerEntry) -> str:
    if entry.decision == "change":
        return f"“change to {entry.change_to}”"
    return {"agreed": "“agreed”", "refused": "“do not cut”"}.get(entry.decision, entry.decision)


def list_shown(entries: Iterable[LedgerEntry], revision: str) -> dict[str, int]:
    """Fingerprints that papers of this revision showed, with their pieces: those that came back, and those that are
    still with the client (of a proof in volumes, one may be back and another not)."""
    shown: dict[str, int] = {}
    for e in entries:
        if e.revision == revision and e.kind in ("answer", "proof"):
            own = ((e.fingerprint, e.pieces),) if e.kind == "answer" else ((d.fingerprint, d.pieces) for d in e.designs)
            for mark, pieces in own:
                shown[mark] = max(shown.get(mark, 0), pieces)
    return shown


def describe_signature(entry: LedgerEntry) -> str:
    """Describe who signed and when, for a list."""
    return ", ".join(filter(None, (entry.by, entry.date or entry.at[:10])))


# --- old and new -------------------------------------------------------------------------------------------------


def match_predecessors(designs: Sequence[Design], entries: Iterable[LedgerEntry]) -> dict[str, LedgerEntry]:
    """Match designs new to the ledger with the earlier designs that they replace: by equal text, then by a common row,
    then by likeness; none is used twice."""
    current = {d.fingerprint for d in designs}
    gone: dict[str, LedgerEntry] = {}
    known: set[str] = set()
    for entry in entries:
        if entry.kind == "answer":
            known.add(entry.fingerprint)
            if entry.fingerprint not in current:
                gone[entry.fingerprint] = entry
    fresh = [d for d in designs if d.fingerprint not in known]
    found: dict[str, LedgerEntry] = {}

    def pair_likes(likes: Iterable[tuple[float, Design, LedgerEntry]]) -> None:
        for _, design, entry in sorted(likes, key=lambda t: (-t[0], t[1].rows, t[2].id)):
            if design.fingerprint not in found and entry.fingerprint in gone:
                found[design.fingerprint] = gone.pop(entry.fingerprint)

    def list_left() -> list[Design]:
        return [d for d in fresh if d.fingerprint not in found]

    by_text: dict[tuple[str, ...], list[LedgerEntry]] = {}
    by_row: dict[ListRow, list[LedgerEntry]] = {}
    for entry in gone.values():
        by_text.setdefault(select_lettered(entry.text), []).append(entry)
        for row in entry.rows:
            by_row.setdefault(row, []).append(entry)
    pair_likes((1.0, d, e) for d in list_left() for e in by_text.get(select_lettered(d.text), ()))
    pair_likes((compute_likeness(d.text, e.text), d, e) for d in list_left() for r in d.rows for e in by_row.get(r, ()))
    if len(list_left()) * len(gone) <= MOST_PAIRS:
        pairs = [(d, e) for d in list_left() for e in gone.values()]
        pair_likes((like, d, e) for d, e in pairs if (like := compute_likeness(d.text, e.text)) >= CLOSE)
    return found


def compute_likeness(a: Sequence[str], b: Sequence[str]) -> float:
    """Share of letters two texts have in common, in order; see `CLOSE`."""
    return SequenceMatcher(None, "\n".join(a), "\n".join(b), autojunk=False).ratio()


def describe_change(entry: LedgerEntry, design: Design, units: Units = MM) -> str:
    """Describe the differences between an earlier design and this one, as far as the ledger records them."""
    if select_lettered(entry.text) != select_lettered(design.text):
        return f"it was “{join_lines(entry.text)}”"
    sizes = [
        f"line {n}: {units.show(old)} became {units.show(new)}"
        for n, (old, new) in enumerate(zip(entry.cap_heights, design.cap_heights, strict=False), 1)
        if old and new and abs(old - new) > SAME
    ]
    return f"the size changed ({', '.join(sizes)})" if sizes else "the face, the place, the cutter or the blank changed"


def join_lines(text: Sequence[str]) -> str:
    return " / ".join(" ".join(t.split()) for t in select_lettered(text))
