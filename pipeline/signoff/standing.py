"""Where every plaque stands: what the ledger says of it now, how many pieces are signed for, what holds it back.

A sign-off belongs to a fingerprint and a number of pieces, not to a row: a moved row stays signed, a moved curve does
not. The last answer holds, except that two papers of one revision that say different things contradict each other
until a later revision, or a sign-off recorded by hand, settles it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import SequenceMatcher
from typing import Literal

from pipeline.core.catalogue import sign
from pipeline.core.findings import Fact, Finding, Kind, find
from pipeline.core.model import Plaque
from pipeline.core.units import MM, Units
from pipeline.signoff.designs import Design, designs_of, lettered
from pipeline.signoff.ledger import Entry

Decided = Literal["agreed", "change", "refused", "contradicted"]
StandState = Literal[
    "signed", "not-signed", "changed-since", "more-pieces", "change-wanted", "refused", "contradicted", "stopped"
]

DECISIONS: dict[str, Decided] = {"agreed": "agreed", "change": "change", "refused": "refused"}
"""Answers that decide something, as the ledger writes them."""
BY_HAND = "paper"
"""`source_kind` of a sign-off recorded by hand: a person has decided, so it settles contradictions."""
CLOSE = 0.6
"""Share of letters two texts have in common, in order, to be told as old and new of one plaque. Only for wording and
for showing them side by side; nothing is signed by likeness (chosen on names with one to three letters changed)."""
MOST_PAIRS = 40_000
"""Pairs of old and new that are compared letter by letter (about two seconds); a list that is new through and through
has no old and new to show."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """What the ledger says of one fingerprint. pieces and rows: what an agreement covers."""

    decision: Decided
    entry: Entry
    pieces: int = 0
    rows: tuple[int, ...] = ()
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stand:
    """Where one plaque of the list stands."""

    plaque: Plaque
    state: StandState
    signed: int = 0  # pieces that may be cut
    held: int = 0  # pieces that may not
    finding: Finding | None = None  # why any are held
    entry: Entry | None = None  # the sign-off, or the answer that holds it back


# --- revisions ---------------------------------------------------------------------------------------------------


def rank(revision: str) -> int:
    """For telling which revision is later: A 1, B 2 … Z 26, AA 27; with a number at its end that number ("3", "draft
    2"); any other name is a first one; none is 0.
    """
    if number := re.search(r"[0-9]+$", revision):
        return int(number.group())
    if not (revision.isascii() and revision.isalpha() and revision.isupper()):
        return 1 if revision else 0
    count = 0
    for letter in revision:
        count = count * 26 + ord(letter) - ord("A") + 1
    return count


def after(revision: str) -> str:
    """The revision that follows: A → B, Z → AA, 3 → 4, "draft" → "draft 2"."""
    if number := re.search(r"[0-9]+$", revision):
        return f"{revision[: number.start()]}{int(number.group()) + 1}"
    if revision and not (revision.isascii() and revision.isalpha() and revision.isupper()):
        return f"{revision} 2"
    count, letters = rank(revision) + 1, ""
    while count:
        count, rest = divmod(count - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


# --- what the ledger says ----------------------------------------------------------------------------------------


def standings(entries: Iterable[Entry]) -> dict[str, Standing]:
    """What holds for each fingerprint the ledger has an answer to."""
    held: dict[str, Standing] = {}
    for entry in entries:
        if entry.kind == "answer" and entry.decision not in ("", "unanswered"):
            now = _then(held.get(entry.fingerprint), entry)
            held[entry.fingerprint] = now
    return held


def _then(before: Standing | None, entry: Entry) -> Standing:
    if entry.decision == "unclear":
        return Standing(decision="contradicted", entry=entry, why=entry.why)
    decision = DECISIONS[entry.decision]
    now = Standing(decision=decision, entry=entry, pieces=entry.pieces, rows=entry.rows)
    if before is None:
        return now
    settles = entry.source_kind == BY_HAND or rank(entry.revision) > rank(before.entry.revision)
    if before.decision == decision == "agreed":
        return now if settles and entry.source_kind != BY_HAND else _both(before, now)
    if settles or (before.decision == decision and before.entry.change_to == entry.change_to):
        return now
    if before.decision == "contradicted":
        return before
    why = (
        f"{_said(before.entry)} on {before.entry.source or 'one paper'}, {_said(entry)} on {entry.source or 'another'}"
    )
    return Standing(decision="contradicted", entry=entry, why=why)


def _both(before: Standing, now: Standing) -> Standing:
    """Two agreements side by side: rows signed one after the other add up, the same rows count once."""
    old, new = set(before.rows), set(now.rows)
    if not old & new:
        pieces = before.pieces + now.pieces
    elif new >= old:
        pieces = now.pieces
    elif old >= new:
        pieces = before.pieces
    else:
        pieces = max(before.pieces, now.pieces)  # partly the same rows: never more than one paper shows
    return replace(now, pieces=pieces, rows=tuple(sorted(old | new)))


def _said(entry: Entry) -> str:
    if entry.decision == "change":
        return f"“change to {entry.change_to}”"
    return {"agreed": "“agreed”", "refused": "“do not cut”"}.get(entry.decision, entry.decision)


def shown_in(entries: Iterable[Entry], revision: str) -> dict[str, int]:
    """Fingerprints that papers of this revision showed, with their pieces."""
    shown: dict[str, int] = {}
    for e in entries:
        if e.kind == "answer" and e.revision == revision:
            shown[e.fingerprint] = max(shown.get(e.fingerprint, 0), e.pieces)
    return shown


def signature(entry: Entry) -> str:
    """Who signed and when, for a list."""
    return ", ".join(filter(None, (entry.by, entry.date or entry.at[:10])))


# --- old and new -------------------------------------------------------------------------------------------------


def predecessors(designs: Sequence[Design], entries: Iterable[Entry]) -> dict[str, Entry]:
    """For designs the ledger has never seen: the design of an earlier paper that each takes the place of.

    By equal text first, then by a row in common, then by likeness; none is used twice.
    """
    current = {d.fingerprint for d in designs}
    gone: dict[str, Entry] = {}
    known: set[str] = set()
    for entry in entries:
        if entry.kind == "answer":
            known.add(entry.fingerprint)
            if entry.fingerprint not in current:
                gone[entry.fingerprint] = entry
    fresh = [d for d in designs if d.fingerprint not in known]
    found: dict[str, Entry] = {}

    def pair(likes: Iterable[tuple[float, Design, Entry]]) -> None:
        for _, design, entry in sorted(likes, key=lambda t: (-t[0], t[1].rows, t[2].id)):
            if design.fingerprint not in found and entry.fingerprint in gone:
                found[design.fingerprint] = gone.pop(entry.fingerprint)

    def left() -> list[Design]:
        return [d for d in fresh if d.fingerprint not in found]

    by_text: dict[tuple[str, ...], list[Entry]] = {}
    by_row: dict[int, list[Entry]] = {}
    for entry in gone.values():
        by_text.setdefault(lettered(entry.text), []).append(entry)
        for row in entry.rows:
            by_row.setdefault(row, []).append(entry)
    pair((1.0, d, e) for d in left() for e in by_text.get(lettered(d.text), ()))
    pair((_likeness(d.text, e.text), d, e) for d in left() for r in d.rows for e in by_row.get(r, ()))
    if len(left()) * len(gone) <= MOST_PAIRS:
        pairs = [(d, e) for d in left() for e in gone.values()]
        pair((like, d, e) for d, e in pairs if (like := _likeness(d.text, e.text)) >= CLOSE)
    return found


def _likeness(a: Sequence[str], b: Sequence[str]) -> float:
    return SequenceMatcher(None, "\n".join(a), "\n".join(b), autojunk=False).ratio()


def change_between(entry: Entry, design: Design, units: Units = MM) -> str:
    """In words, what differs between an earlier design and this one, as far as the ledger knows."""
    if lettered(entry.text) != lettered(design.text):
        return f"it was “{one_line(entry.text)}”"
    sizes = [
        f"line {n}: {units.show(old)} became {units.show(new)}"
        for n, (old, new) in enumerate(zip(entry.cap_heights, design.cap_heights, strict=False), 1)
        if old and new and abs(old - new) > 1e-6
    ]
    return f"the size changed ({', '.join(sizes)})" if sizes else "the face, the place, the cutter or the blank changed"


def one_line(text: Sequence[str]) -> str:
    return " / ".join(" ".join(t.split()) for t in lettered(text))


# --- every plaque ------------------------------------------------------------------------------------------------


def stand(
    plaques: Sequence[Plaque], entries: Sequence[Entry], *, units: Units = MM, revision: str = "A"
) -> tuple[Stand, ...]:
    """Where each plaque stands, in the order given. revision: of the proof to be sent next, for the remedies."""
    held = standings(entries)
    designs = {d.fingerprint: d for d in designs_of(plaques)}
    earlier = predecessors(tuple(designs.values()), entries)
    allowed = _allotted(plaques, held)
    out = []
    for number, plaque in enumerate(plaques):
        if plaque.state == "stopped" or not plaque.fingerprint:
            out.append(Stand(plaque=plaque, state="stopped", held=plaque.recipient.copies))
            continue
        standing = held.get(plaque.fingerprint)
        if standing is not None and lettered(standing.entry.text) != lettered(plaque.text):
            standing = None  # one code for two texts: the text decides
        before = earlier.get(plaque.fingerprint)
        if before is not None and (old := held.get(before.fingerprint)) is not None and old.decision == "agreed":
            before = old.entry
        else:
            before = None
        design = designs[plaque.fingerprint]
        out.append(
            _stand(
                plaque,
                design,
                standing=standing,
                before=before,
                allowed=allowed.get(number, 0),
                units=units,
                revision=revision,
            )
        )
    return tuple(out)


def _allotted(plaques: Sequence[Plaque], held: Mapping[str, Standing]) -> dict[int, int]:
    """How many pieces of each plaque are signed for: rows the client signed first, then the others from the top."""
    left = {mark: s.pieces for mark, s in held.items() if s.decision == "agreed"}
    mine = [(n, p, left[p.fingerprint]) for n, p in enumerate(plaques) if p.fingerprint in left]
    mine.sort(key=lambda t: (t[1].recipient.row not in held[t[1].fingerprint].rows, t[0]))
    allowed = {}
    for number, plaque, _ in mine:
        allowed[number] = min(plaque.recipient.copies, left[plaque.fingerprint])
        left[plaque.fingerprint] -= allowed[number]
    return allowed


def _stand(
    plaque: Plaque,
    design: Design,
    *,
    standing: Standing | None,
    before: Entry | None,
    allowed: int,
    units: Units,
    revision: str,
) -> Stand:
    copies = plaque.recipient.copies
    facts: dict[str, Fact] = {"text": one_line(plaque.text)}

    def held_back(state: StandState, kind: Kind, entry: Entry | None, more: Mapping[str, Fact]) -> Stand:
        place = {"row": plaque.recipient.row, "cell": plaque.recipient.cell}
        finding = find(kind, facts={**facts, **more}, **place)
        return Stand(plaque=plaque, state=state, signed=allowed, held=copies - allowed, finding=finding, entry=entry)

    if standing is None:
        if before is not None:
            more = {"by": before.by, "revision": before.revision, "change": change_between(before, design, units)}
            return held_back("changed-since", sign.CHANGED_SINCE, before, more)
        return held_back("not-signed", sign.NOT_SIGNED, None, {"open": _open(plaque), "revision": revision})
    entry = standing.entry
    told: dict[str, Fact] = {"by": entry.by, "revision": entry.revision}
    if standing.decision == "change":
        cells = ", ".join(design.cells)
        return held_back(
            "change-wanted", sign.CHANGE_WANTED, entry, {**told, "change_to": entry.change_to, "cells": cells}
        )
    if standing.decision == "refused":
        return held_back("refused", sign.REFUSED, entry, told)
    if standing.decision == "contradicted":
        rows = ",".join(map(str, design.rows))
        return held_back("contradicted", sign.CONTRADICTED, entry, {"why": standing.why, "rows": rows})
    if allowed < copies:
        counts = {"wanted": design.pieces, "signed": standing.pieces}
        return held_back("more-pieces", sign.MORE_PIECES, entry, {**told, **counts})
    return Stand(plaque=plaque, state="signed", signed=allowed, entry=entry)


def _open(plaque: Plaque) -> str:
    return ", and a question about it is open" if plaque.state == "ask" else ""
