"""`plaques status`: where every plaque stands, one line each."""

from __future__ import annotations

import unicodedata
from collections import Counter
from pathlib import Path
from typing import Any

from pipeline.core import catalogue
from pipeline.core.printable import json_text
from pipeline.core.units import Units
from pipeline.outputs.summary import plain
from pipeline.signoff.ledger import Ledger, sound
from pipeline.signoff.looked import Look, Say
from pipeline.signoff.release import name_of, released_before
from pipeline.signoff.rounds import revision_of
from pipeline.signoff.standing import Stand, signature, stand

WORDS = {
    "signed": "signed",
    "not-signed": "not signed",
    "changed-since": "changed since signed",
    "more-pieces": "more than signed",
    "change-wanted": "change wanted",
    "refused": "not to be cut",
    "contradicted": "contradictory",
    "stopped": "cannot be cut",
}
NAME_WIDTH = 34


def status(order: str | Path, *, out: Path | None = None, say: Say, look: Look, as_json: bool = False) -> int:
    """Say where every plaque stands. as_json: one JSON document instead of the table. Returns 0.

    CannotRun when the order cannot be read or the ledger does not hold.
    """
    looked = look(order, out)
    folder, outcome = looked.folder, looked.outcome
    entries = sound(Ledger.of(folder.folder))
    units = folder.order.unit
    revision = revision_of(outcome.plaques, entries, folder.order.proof.revision)
    stands = stand(outcome.plaques, entries, units=units, revision=revision.letter)
    out_now = {mark: pieces for mark, (pieces, _) in released_before(entries).items()}
    if as_json:
        plain_values = {
            "order": outcome.title,
            "revision": revision.letter,
            "plaques": [_plain(s, units, out_now) for s in stands],
        }
        say(json_text(plain_values, indent=1))
        return 0
    lines = [plain(f"{outcome.title} – {outcome.client}" if outcome.client else outcome.title)]
    lines += [_line(s, out_now) for s in stands]
    counted: Counter[str] = Counter(s.state for s in stands)
    lines.append(", ".join(f"{counted[state]} {word}" for state, word in WORDS.items() if counted[state]) + ".")
    lines.append(f"Revision {revision.letter} {_next(stands)}")
    say("\n".join(lines))
    return 0


def _next(stands: tuple[Stand, ...]) -> str:
    waiting = [s for s in stands if s.state not in ("signed", "refused", "stopped")]
    if not waiting:
        return "has nothing left to ask."
    return f"asks about {len(waiting)} plaque{'' if len(waiting) == 1 else 's'}."


def _released(stand: Stand, out_now: dict[str, int]) -> bool:
    return stand.state == "signed" and stand.plaque.fingerprint in out_now


def _line(stand: Stand, out_now: dict[str, int]) -> str:
    """Row, name, pieces, state, fingerprint, who and when: in columns, however wide the name's script is."""
    plaque = stand.plaque
    word = "released" if _released(stand, out_now) else WORDS[stand.state]
    who = signature(stand.entry) if stand.entry and stand.state != "stopped" else ""
    copies = f"× {plaque.recipient.copies}" if plaque.recipient.copies > 1 else ""
    cells = (
        f"{plaque.recipient.row:>5}",
        _padded(plain(name_of(plaque)), NAME_WIDTH),
        f"{copies:4}",
        f"{word:20}",
        f"{plaque.fingerprint:10}",
        plain(who),
    )
    return "  ".join(cells).rstrip()


def width_of(text: str) -> int:
    """Columns a text takes in a terminal: wide East Asian characters two, combining marks none (UAX #11)."""
    return sum(
        0 if unicodedata.combining(c) or unicodedata.category(c) in ("Mn", "Me", "Cf")
        else 2 if unicodedata.east_asian_width(c) in "WF"
        else 1
        for c in text
    )  # fmt: skip


def _padded(text: str, width: int) -> str:
    """The text in exactly `width` columns; what does not fit is cut with an ellipsis."""
    if width_of(text) > width:
        while width_of(text) > width - 1:
            text = text[:-1]
        text += "…"
    return text + " " * (width - width_of(text))


def _plain(stand: Stand, units: Units, out_now: dict[str, int]) -> dict[str, Any]:
    plaque = stand.plaque
    return {
        "row": plaque.recipient.row,
        "cell": plaque.recipient.cell,
        "name": name_of(plaque),
        "copies": plaque.recipient.copies,
        "state": "released" if _released(stand, out_now) else stand.state,
        "fingerprint": plaque.fingerprint or None,
        "signed_pieces": stand.signed,
        "held_pieces": stand.held,
        "by": stand.entry.by if stand.entry else None,
        "on": (stand.entry.date or stand.entry.at[:10]) if stand.entry else None,
        "revision": stand.entry.revision if stand.entry else None,
        "code": stand.finding.code if stand.finding else None,
        "message": catalogue.message(stand.finding, units) if stand.finding else None,
    }
