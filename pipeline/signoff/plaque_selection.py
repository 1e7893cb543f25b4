"""Selection of plaques by state: with a question, changed since they were signed, or not signed."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Literal, get_args

from pipeline.core.errors import CannotRun, Fault
from pipeline.core.row_selection import RowSelection, build_selection
from pipeline.signoff.approval import Approval, approve_pieces
from pipeline.signoff.order_snapshot import OrderSnapshot
from pipeline.signoff.records.ledger import Ledger, read_verified_entries

Part = Literal["question", "changed", "unsigned"]
PARTS: tuple[Part, ...] = get_args(Part)

_WAITING = ("not-signed", "changed-since", "more-pieces", "change-wanted", "contradicted", "covers-more", "other-order")
_IS: Mapping[Part, Callable[[Approval], bool]] = {
    "question": lambda a: a.plaque.state == "ask" and a.state in _WAITING,
    "changed": lambda a: a.state in ("changed-since", "more-pieces", "change-wanted", "covers-more"),
    "unsigned": lambda a: a.state in _WAITING,
}


def parse_parts(text: str) -> tuple[Part, ...]:
    """`question,unsigned` → the parts, in the order of `PARTS`. CannotRun for any other word."""
    words = [word.strip().casefold() for word in text.split(",")]
    if wrong := [word for word in words if word not in PARTS]:
        raise CannotRun(Fault(where="--only", found=f"“{wrong[0][:40]}”", expected=f"{', '.join(PARTS)}, or several"))
    return tuple(part for part in PARTS if part in words)


def select_rows(parts: Sequence[Part], looked: OrderSnapshot, chosen: RowSelection | None = None) -> RowSelection:
    """Select the rows whose plaque is in one of these states, among `chosen` or all; plaques that can't be cut never
    are. CannotRun when there is none."""
    ledger = Ledger.open(looked.folder.folder)
    sign_off = looked.build_sign_off(read_verified_entries(ledger))
    approvals = approve_pieces(looked.outcome.plaques, sign_off, findings=looked.outcome.findings)
    rows = [
        a.plaque.recipient.row
        for a in approvals
        if any(_IS[part](a) for part in parts) and (chosen is None or a.plaque.recipient.row in chosen)
    ]
    if not rows:
        raise CannotRun(
            Fault(
                where=f"--only {','.join(parts)}",
                found="no plaque matches" + (" among these rows" if chosen else ""),
                expected="a plaque with an open question, changed since it was signed, or not signed",
                remedy="`plaques status` shows where each stands",
            )
        )
    return build_selection(rows)
