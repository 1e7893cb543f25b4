"""`plaques mark`: what became of pieces after their release: cut, spoilt, delivered."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from pipeline.core.environment.clock import Clock
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.fingerprint import is_fingerprint
from pipeline.core.list_row import pack_row
from pipeline.core.printable import write_json_text
from pipeline.core.row_selection import parse_rows, require_known_lists
from pipeline.outputs.summary import strip_markup
from pipeline.signoff.design_answers import join_lines
from pipeline.signoff.order_snapshot import Look, OrderSnapshot, Say
from pipeline.signoff.pieces.mark_rows import WORDS, MarkPlan, Move, Wanted, describe_place, list_wanted_of, plan_marks
from pipeline.signoff.pieces.piece_tally import STATES, PieceState, tally_pieces
from pipeline.signoff.pieces.release_archive import put_aside_numbers, read_manifest
from pipeline.signoff.pieces.ticked_list import TickedList, list_wanted, read_ticked_list
from pipeline.signoff.records.job_identity import JobIdentity
from pipeline.signoff.records.ledger import Ledger, LedgerEntry, Moved, find_head, read_verified_entries
from pipeline.signoff.records.ledger_head import RELEASED, check_older_ledger, read_recorded_heads, require_latest
from pipeline.signoff.sign_off import SignOff, keep_carried

TRIES = 20
"""Most attempts at a mark when other commands keep recording meanwhile."""
WIDTH = 100
MOST = 12
"""Most moves that are listed one by one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkRequest:
    """The arguments of `plaques mark`. what: a state, or the file of a ticked cut list. boards, jigs: their numbers, as
    `3` or `3,5-7`. release: the number of an earlier release that boards and jigs are of."""

    what: str
    rows: str | None = None
    fingerprints: str | None = None
    boards: str | None = None
    jigs: str | None = None
    release: int | None = None
    pieces: int | None = None
    before: PieceState | None = None
    by: str = ""
    note: str = ""


def mark(
    order: str | Path,
    request: MarkRequest,
    *,
    out: Path | None = None,
    as_json: bool = False,
    clock: Clock,
    say: Say,
    look: Look,
) -> int:
    """Record the new state of pieces, and report what changed. Returns 0. CannotRun, with nothing recorded, when any
    part of it is impossible, or the ledger is damaged."""
    ticked = None if request.what in STATES else read_ticked_list(Path(request.what))
    _require_sense(request, ticked)
    looked = look(order, out)
    ledger = Ledger.open(looked.folder.folder)
    for _ in range(TRIES):
        entries = read_verified_entries(ledger)
        require_latest(entries, read_recorded_heads(looked.target / RELEASED), ledger.path)
        sign_off = looked.build_sign_off(entries)
        if ticked is not None:
            _require_own(ticked, looked, entries)
            wanted = list_wanted(ticked, sign_off.entries)
        else:
            wanted = _list_wanted(request, looked)
        plan = plan_marks(wanted, looked.outcome.plaques, sign_off.entries)
        try:
            if plan.moves and sign_off.carried:  # migrate rows of an earlier version once, before adding new ones
                keep_carried(ledger, sign_off, clock(), after=find_head(entries))
                if find_head(read_verified_entries(ledger)) != find_head(entries):
                    continue  # compute the plan again from the migrated rows
            if plan.moves:
                with ledger.transaction(clock(), after=find_head(entries)) as writing:
                    writing.add([_build_entry(move, request, looked, sign_off, ticked) for move in plan.moves])
        except Moved:
            continue
        if as_json:
            say(write_json_text(_pack_plan(plan), indent=1))
        else:
            say(_describe_plan(plan, looked.build_sign_off(read_verified_entries(ledger))))
        return 0
    raise CannotRun(
        Fault(
            where=str(ledger.path),
            found=f"others recorded something {TRIES} times while this was being worked out",
            expected="a moment without another mark, sign-off or release",
            remedy="try again; nothing was recorded",
        )
    )


def _require_sense(request: MarkRequest, ticked: TickedList | None) -> None:
    """Raise CannotRun when the arguments don't say which pieces are meant."""
    chosen = [x for x in (request.rows, request.fingerprints, request.boards, request.jigs) if x is not None]
    if ticked is not None and (chosen or request.pieces or request.before):
        found = "rows or pieces beside a ticked cut list"
        raise CannotRun(Fault(where="mark", found=found, expected="the list says both: name it alone"))
    if ticked is None and not chosen:
        expected = "--rows, --fingerprint, --board or --jig, or a ticked cut list instead of the state"
        raise CannotRun(Fault(where=f"mark {request.what}", found="no pieces are named", expected=expected))
    on_sheets = request.boards is not None or request.jigs is not None
    if request.release is not None and not on_sheets:
        expected = "--board or --jig with it, whose pieces that release let out"
        found = f"{request.release}, and neither a board nor a jig"
        raise CannotRun(Fault(where="--release", found=found, expected=expected))
    if request.pieces is not None and on_sheets:
        found = "--pieces with a board or a jig"
        raise CannotRun(Fault(where="--pieces", found=found, expected="all of its pieces, or --rows with --pieces"))


def _list_wanted(request: MarkRequest, looked: OrderSnapshot) -> list[Wanted]:
    state: PieceState = next(s for s in STATES if s == request.what)
    out: list[Wanted] = []
    if request.rows is not None:
        chosen = parse_rows(request.rows)
        require_known_lists(chosen, looked.folder.order.list.further)
        there = {p.recipient.row for p in looked.outcome.plaques}
        empty = {low for low, high in chosen.ranges if not any(low <= row <= high for row in there)}
        rows = sorted({row for row in there if row in chosen} | empty)  # a range may span rows without a recipient
        out += [Wanted(state=state, row=row, pieces=request.pieces, before=request.before) for row in rows]
    if request.fingerprints is not None:
        marks = [mark.strip().upper() for mark in request.fingerprints.split(",")]
        if wrong := [mark for mark in marks if not is_fingerprint(mark)]:
            raise CannotRun(
                Fault(where="--fingerprint", found=f"“{wrong[0][:40]}”", expected="fingerprints, with commas between")
            )
        out += list_wanted_of(marks, state, request.pieces, request.before)
    for kind, numbers in (("board", request.boards), ("jig", request.jigs)):
        if numbers is not None:
            out += _list_on_sheets(kind, numbers, state, request, looked)
    return out


def _list_on_sheets(
    kind: str, numbers: str, state: PieceState, request: MarkRequest, looked: OrderSnapshot
) -> list[Wanted]:
    """Return the pieces on boards or jigs of the current release, or of an earlier one."""
    folder = looked.target / RELEASED
    manifest = read_manifest(folder if request.release is None else folder / str(request.release))
    if request.release is not None and manifest is None:
        there = read_manifest(folder)
        manifest = there if there is not None and there.number == request.release else None
    if manifest is None:
        known = ", ".join(map(str, put_aside_numbers(folder))) or "none but the last"
        raise CannotRun(Fault(where=f"--{kind}", found="there is no such release", expected=f"releases: {known}"))
    chosen = parse_rows(numbers, f"--{kind}", "numbers as the cut list shows them, e.g. 2,4-6", lists=False)
    sheets = [s for s in manifest.sheets if s[0] == kind]
    have = {number for _, number, _ in sheets}
    missing = [n for low, high in chosen.ranges for n in (low, high) if n not in have]
    if missing:
        expected = f"{kind}s {', '.join(map(str, sorted(have)))}" if have else f"a release with {kind}s"
        raise CannotRun(
            Fault(where=f"--{kind} {missing[0]}", found="the release has none of this number", expected=expected)
        )
    return [
        Wanted(
            state=state,
            row=row,
            fingerprint=mark_,
            pieces=pieces,
            before=request.before,
            where=f"{kind} {number}, row {row}",
            place=describe_place(kind, number, manifest.number, row),
        )
        for _, number, held in sheets
        if number in chosen
        for row, mark_, pieces in held
    ]


def _require_own(ticked: TickedList, looked: OrderSnapshot, entries: Sequence[LedgerEntry]) -> None:
    """Raise CannotRun when the list belongs to another order, or was made from rows that this ledger lacks."""
    if ticked.order_id != looked.folder.order_id:
        raise CannotRun(
            Fault(
                where=ticked.file,
                found=f"a cut list of another order (code {ticked.order_id})",
                expected=f"one of this order (code {looked.folder.order_id})",
                remedy="nothing was recorded; look which folder the list came from",
            )
        )
    if check_older_ledger(entries, [(ticked.file, ticked.head)]):
        require_latest(entries, [(ticked.file, ticked.head)], Ledger.open(looked.folder.folder).path)


def _build_entry(
    move: Move, request: MarkRequest, looked: OrderSnapshot, sign_off: SignOff, ticked: TickedList | None
) -> LedgerEntry:
    job = sign_off.job or JobIdentity.from_order(looked.folder)
    return LedgerEntry(
        kind="mark",
        order_id=looked.folder.order_id,
        order_sha256=looked.folder.sha256,
        fingerprint=move.entry.fingerprint,
        decision=move.before,
        state=move.after,
        text=move.entry.text,
        rows=(move.row,) if move.row else (),
        pieces=move.pieces,
        by=request.by.strip(),
        note=request.note,
        place=move.place,
        source=ticked.file if ticked else "",
        source_kind="cut-list" if ticked else "",
        source_sha256=ticked.sha256 if ticked else "",
        title=job.title,
        client=job.client,
        order_file=job.order_file,
    )


def _pack_plan(plan: MarkPlan) -> dict[str, object]:
    """Return it as plain values for the JSON document."""
    return {
        "marked": [
            {
                "row": pack_row(m.row) or None,
                "fingerprint": m.entry.fingerprint,
                "text": join_lines(m.entry.text),
                "pieces": m.pieces,
                "from": m.before,
                "to": m.after,
            }
            for m in plan.moves
        ],
        "unchanged": list(plan.unchanged),
    }


def _describe_plan(plan: MarkPlan, sign_off: SignOff) -> str:
    """Describe what changed, what was so already, and what to do next."""
    lines = []
    for move in plan.moves[:MOST]:
        where = f"row {move.row} " if move.row else ""
        count = f", {move.pieces} pieces" if move.pieces > 1 else ""
        lines.append(
            _wrap(f"{where}“{join_lines(move.entry.text)}”{count}: {WORDS[move.before]} → {WORDS[move.after]}", "  ")
        )
    if len(plan.moves) > MOST:
        more = plan.moves[MOST:]
        lines.append(f"  +{len(more)} more, {sum(m.pieces for m in more)} pieces")
    lines += [_wrap(told, "  ") for told in plan.unchanged[:MOST]]
    if len(plan.unchanged) > MOST:
        lines.append(f"  +{len(plan.unchanged) - MOST} more unchanged")
    moved = sum(m.pieces for m in plan.moves)
    head = f"Recorded: {moved} piece{'' if moved == 1 else 's'}" if moved else "Nothing new to record."
    tallies = tally_pieces(sign_off.entries).values()
    counts = ", ".join(f"{sum(t.count_in_state(state) for t in tallies)} {WORDS[state]}" for state in STATES)
    lines.append(f"Pieces now: {counts}.")
    if any(m.after == "spoilt" for m in plan.moves):
        lines.append("Next: `plaques release ORDER` puts spoilt pieces on the cut list again; the client isn't asked.")
    return "\n".join([head, *lines])


def _wrap(text: str, indent: str) -> str:
    return textwrap.fill(
        strip_markup(text), WIDTH, initial_indent=indent, subsequent_indent=indent + "  ", break_on_hyphens=False
    )
