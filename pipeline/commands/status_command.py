"""`plaques status`: the state of every plaque, one line each."""

from __future__ import annotations

import unicodedata
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pipeline.core import catalogue
from pipeline.core.list_row import ListRow, pack_row
from pipeline.core.printable import write_json_text
from pipeline.core.units import Units
from pipeline.outputs.summary import make_sentence, strip_markup, wrap_text
from pipeline.signoff.approval import Approval, approve_pieces
from pipeline.signoff.design_answers import describe_signature
from pipeline.signoff.order_snapshot import Look, Say
from pipeline.signoff.pieces.mark_rows import WORDS as MARK_WORDS
from pipeline.signoff.pieces.piece_tally import STATES
from pipeline.signoff.proof_rounds import build_revision
from pipeline.signoff.records.ledger import Ledger, read_verified_entries
from pipeline.signoff.records.ledger_head import RELEASED, check_older_ledger, read_recorded_heads
from pipeline.signoff.records.plain_numbers import read_numbers

WORDS = {
    "signed": "signed",
    "not-signed": "not signed",
    "changed-since": "changed since signed",
    "more-pieces": "more than signed",
    "change-wanted": "change wanted",
    "refused": "not to be cut",
    "contradicted": "not clear",
    "other-order": "signed for another",
    "covers-more": "signed for less",
    "made-differently": "made differently",
    "stopped": "cannot be cut",
    "released": "to cut",
    "spoilt": "to be made again",
    "cut": "cut",
    "delivered": "delivered",
}
NAME_WIDTH = 34


def print_status(order: str | Path, *, out: Path | None = None, say: Say, look: Look, as_json: bool = False) -> int:
    """Print the state of every plaque. as_json: print one JSON document instead of the table. Returns 1 when a plaque
    is stopped or held back, or the ledger is older than the papers beside it, else 0.

    CannotRun when the order cannot be read or the ledger does not hold.
    """
    looked = look(order, out)
    folder, outcome = looked.folder, looked.outcome
    entries = read_verified_entries(Ledger.open(folder.folder))
    sign_off = looked.build_sign_off(entries)
    units = folder.order.unit
    revision = build_revision(outcome.plaques, sign_off.entries, folder.order.proof.revision)
    older = check_older_ledger(entries, read_recorded_heads(looked.target / RELEASED))
    approvals = approve_pieces(
        outcome.plaques, sign_off, findings=(*older, *outcome.findings), units=units, revision=revision.letter
    )
    given = read_numbers(entries)
    numbers = {p.recipient.row: no for p in outcome.plaques if (no := given.get(p))}
    row_width = max([5, *(len(str(p.recipient.row)) for p in outcome.plaques)])
    shown = _Shown(units=units, numbers=numbers, row_width=row_width)
    held = any(a.held for a in approvals)
    if as_json:
        plain_values = {
            "order": outcome.title,
            "revision": revision.letter,
            "findings": [catalogue.format_message(f, units) for f in older],
            "plaques": [shown.pack_approval(a) for a in approvals],
        }
        say(write_json_text(plain_values, indent=1))
        return 1 if held or older else 0
    lines = [strip_markup(f"{outcome.title} – {outcome.client}" if outcome.client else outcome.title)]
    for finding in older:
        told = f"{catalogue.format_message(finding, units)}. {make_sentence(catalogue.format_remedy(finding, units))}"
        lines.append(wrap_text(f"{finding.code}: {told}", "  ", "    "))
    lines += [shown.format_line(a) for a in approvals]
    counted: Counter[str] = Counter(shown.describe_state(a) for a in approvals)
    lines.append(", ".join(f"{counted[state]} {word}" for state, word in WORDS.items() if counted[state]) + ".")
    lines += _describe_pieces(approvals)
    lines += _explain_reasons(approvals, units)
    lines.append(f"Revision {revision.letter} {_suggest_next(approvals)}")
    say("\n".join(lines))
    return 1 if held or older else 0


def _describe_pieces(approvals: Sequence[Approval]) -> list[str]:
    """Return the states of the pieces, once any were released: of those that are wanted, whose sum is their number,
    and then those spoilt and those that the list no longer wants."""
    if not any(a.pieces.count(state) for a in approvals for state in STATES):
        return []
    counts, beyond = Counter[str](), 0
    for a in approvals:
        room = a.plaque.recipient.copies
        for state in ("delivered", "cut"):
            there = a.pieces.count(state)
            counts[state] += min(room, there)
            beyond += max(0, there - room)
            room -= min(room, there)
        to_cut = min(room, a.signed, a.pieces.count("to-cut"))
        counts["to-cut"] += to_cut
        counts["open"] += room - to_cut
    wanted, spoilt = counts.total(), sum(a.pieces.count("spoilt") for a in approvals)
    told = [f"{counts[state]} {MARK_WORDS[state]}" for state in STATES if state != "spoilt"]
    told += [f"{counts['open']} not released"] if counts["open"] else []
    besides = [f"{spoilt} spoilt"] if spoilt else []
    besides += [f"{beyond} finished that the list no longer wants"] if beyond else []
    ending = f" Besides: {', '.join(besides)}." if besides else ""
    return [f"Of {wanted} piece{'' if wanted == 1 else 's'}: {', '.join(told)}.{ending}"]


def _suggest_next(approvals: Sequence[Approval]) -> str:
    settled = ("finished", "signed", "refused", "stopped", "other-order", "made-differently")
    waiting = [a for a in approvals if a.state not in settled]
    if not waiting:
        return "has nothing left to ask."
    return f"asks about {len(waiting)} plaque{'' if len(waiting) == 1 else 's'}."


def _explain_reasons(approvals: Sequence[Approval], units: Units) -> list[str]:
    """Explain sign-offs that exist but don't count: once for each cause."""
    out = []
    for state in ("other-order", "covers-more", "made-differently", "finished"):
        same = [a.finding for a in approvals if a.state == state and a.finding is not None]
        if same:
            more = f" (and {len(same) - 1} more)" if len(same) > 1 else ""
            remedy = make_sentence(catalogue.format_remedy(same[0], units))
            out.append(
                wrap_text(f"{same[0].code}: {catalogue.format_message(same[0], units)}{more}. {remedy}", "  ", "    ")
            )
    return out


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shown:
    """Options for showing approvals. numbers: plain numbers by row; row_width: characters of the longest row number."""

    units: Units
    numbers: Mapping[ListRow, int]
    row_width: int = 5

    def describe_state(self, approval: Approval) -> str:
        """Return the state of the plaque as a whole: that of its pieces once they are released."""
        pieces = approval.pieces
        if approval.state == "finished":
            return "delivered" if not pieces.count("cut") else "cut"
        if approval.state != "signed":
            return approval.state
        if pieces.count("to-cut"):
            return "released"
        return "spoilt" if pieces.count("spoilt") else "signed"

    def format_line(self, approval: Approval) -> str:
        """Format row, plain number, name, pieces, state, fingerprint, who and when in columns, however wide a name's
        script is."""
        plaque = approval.plaque
        word = self.describe_state(approval)
        who = describe_signature(approval.entry) if approval.entry and approval.state != "stopped" else ""
        copies = f"× {plaque.recipient.copies}" if plaque.recipient.copies > 1 else ""
        said = WORDS.get(word, word)
        if plaque.recipient.copies > 1 and 0 < approval.finished < plaque.recipient.copies:
            said = f"{said}, {approval.finished} done"
        cells = (
            f"{plaque.recipient.row:>{self.row_width}}",
            f"No. {no:<4}" if (no := self.numbers.get(plaque.recipient.row)) else " " * 8,
            _pad(strip_markup(plaque.name), NAME_WIDTH),
            f"{copies:4}",
            f"{said:20}",
            f"{plaque.fingerprint:10}",
            strip_markup(who),
        )
        return "  ".join(cells).rstrip()

    def pack_approval(self, approval: Approval) -> dict[str, Any]:
        """Return it as plain values for the JSON document."""
        plaque, entry, why = approval.plaque, approval.entry, approval.why
        return {
            "row": pack_row(plaque.recipient.row),
            "no": self.numbers.get(plaque.recipient.row),
            "cell": plaque.recipient.cell,
            "name": plaque.name,
            "copies": plaque.recipient.copies,
            "state": self.describe_state(approval),
            "fingerprint": plaque.fingerprint or None,
            "pieces": {
                "wanted": plaque.recipient.copies,
                "signed": approval.signed + approval.finished,
                "to_cut": min(approval.signed, approval.pieces.count("to-cut")),
                "cut": approval.pieces.count("cut"),
                "spoilt": approval.pieces.count("spoilt"),
                "delivered": approval.pieces.count("delivered"),
            },
            "signed_pieces": approval.signed,
            "held_pieces": approval.held,
            "by": entry.by if entry else None,
            "on": (entry.date or entry.at[:10]) if entry else None,
            "revision": entry.revision if entry else None,
            "code": why.code if why else None,
            "reason": catalogue.format_message(why, self.units) if why else None,
            "message": catalogue.format_message(why, self.units) if why else None,
        }


def measure_columns(text: str) -> int:
    """Return the columns that a text takes in a terminal: two for wide East Asian characters, none for combining marks
    (UAX #11)."""
    return sum(
        0 if unicodedata.combining(c) or unicodedata.category(c) in ("Mn", "Me", "Cf")
        else 2 if unicodedata.east_asian_width(c) in "WF"
        else 1
        for c in text
    )  # fmt: skip


def _pad(text: str, width: int) -> str:
    """Pad the text to exactly `width` columns; a longer one ends with an ellipsis."""
    if measure_columns(text) > width:
        while measure_columns(text) > width - 1:
            text = text[:-1]
        text += "…"
    return text + " " * (width - measure_columns(text))
