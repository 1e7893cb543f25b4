"""`plaques history`: what happened to an order, who said so and when."""

from __future__ import annotations

from pathlib import Path

from pipeline.core.errors import CannotRun, Fault
from pipeline.core.printable import write_json_text
from pipeline.outputs.summary import wrap_text
from pipeline.signoff.order_history import HistoryEvent, build_history
from pipeline.signoff.order_snapshot import Say
from pipeline.signoff.records.ledger import FILE, Ledger, read_verified_entries

INDENT = " " * 29
"""Indent below the date and the ledger's row numbers."""
MOST = 6
"""Most details of one event that are shown without --verbose."""


def show_history(order: str | Path, *, say: Say, verbose: bool = False, as_json: bool = False) -> int:
    """Print the ledger of an order as a history: when, in which rows, what and by whom. verbose: every design and every
    file with its sha256. Neither list nor order file is read. Returns 0. CannotRun when there is no ledger, or it does
    not hold."""
    path = Path(order)
    ledger = Ledger.open(path if path.is_dir() else path.parent)
    if not ledger.path.exists():
        raise CannotRun(
            Fault(
                where=str(ledger.path),
                found="there is no sign-off ledger",
                expected="the folder of an order that was run",
                remedy="run the order; the ledger begins with its first run",
            )
        )
    events = build_history(read_verified_entries(ledger))
    if as_json:
        say(write_json_text({"ledger": FILE, "events": [_build_document(e) for e in events]}, indent=1))
    else:
        say(f"{'when (UTC)':16}  {'rows':>9}  what")
        say("\n".join(line for event in events for line in _describe_event(event, verbose=verbose)))
    return 0


def _build_document(event: HistoryEvent) -> dict[str, object]:
    return {
        "rows": list(event.rows),
        "at": event.at,
        "kind": event.kind,
        "what": event.what,
        "by": event.by or None,
        "note": event.note or None,
        "details": list(event.details),
        "files": [{"name": name, "sha256": sha256} for name, sha256 in event.files],
        "voided": event.voided,
        "clock_back": event.clock_back,
    }


def _describe_event(event: HistoryEvent, *, verbose: bool) -> list[str]:
    when = event.at[:16].replace("T", " ")
    what = event.what + (f", by {event.by}" if event.by else "") + (f" ({event.note})" if event.note else "")
    numbers = f"{event.rows[0]}" if len(event.rows) == 1 else f"{event.rows[0]}–{event.rows[-1]}"
    what += " [no longer counts]" if event.voided else ""
    what += " [the clock was behind that of the previous row]" if event.clock_back else ""
    lines = [wrap_text(f"{when}  {numbers:>9}  {what}", "", INDENT + "  ")]
    shown = event.details if verbose else event.details[:MOST]
    lines += [wrap_text(detail, INDENT, INDENT + "  ") for detail in shown]
    if len(event.details) > len(shown):
        lines.append(f"{INDENT}+{len(event.details) - len(shown)} more")
    files = event.files if verbose else event.files[:1]
    lines += [
        wrap_text(f"{name}  sha256 {sha256 if verbose else sha256[:16] + '…'}", INDENT, INDENT + "  ")
        for name, sha256 in files
    ]
    if len(event.files) > len(files):
        lines.append(f"{INDENT}+{len(event.files) - len(files)} more files, see --verbose")
    return lines
