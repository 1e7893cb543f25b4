"""`plaques release`: out with what is signed off and unchanged, and nothing else."""

from __future__ import annotations

import textwrap
from pathlib import Path

from pipeline.accounts import BROKEN
from pipeline.core import catalogue
from pipeline.core.clock import Clock
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.units import Units
from pipeline.outputs.delivery import Parcel, write_delivery
from pipeline.outputs.revision import identity_of
from pipeline.outputs.summary import plain
from pipeline.signoff.ledger import Ledger, sound
from pipeline.signoff.looked import Look, Say
from pipeline.signoff.release import CUT_LIST, Held, Released, carry_out, name_of, plan
from pipeline.signoff.rounds import revision_of
from pipeline.signoff.standing import stand

WIDTH = 100
MOST = 5
"""Plaques of one reason that are named before "+N more"."""


def release(order: str | Path, *, out: Path | None = None, clock: Clock, say: Say, look: Look) -> int:
    """Copy signed and unchanged cut files out. Returns 1 when anything is held back, else 0.

    CannotRun when the order cannot be read, the ledger does not hold, or nothing can be written.
    """
    looked = look(order, out)
    _accounts_hold(looked.target)
    folder, outcome = looked.folder, looked.outcome
    ledger = Ledger.of(folder.folder)
    entries = sound(ledger)
    revision = revision_of(outcome.plaques, entries, folder.order.proof.revision)
    units = folder.order.unit
    stands = stand(outcome.plaques, entries, units=units, revision=revision.letter)
    going, held = plan(stands, looked.made, looked.target)
    done = carry_out(going, held, ledger, identity_of(outcome, revision), target=looked.target, at=clock(), units=units)
    parcels = [Parcel(plaques=g.plaques, pieces=g.pieces) for g in done.going]
    papers = write_delivery(folder, parcels, done.folder)
    say(_told(done, units) + f"\nFor the parcel: {' · '.join(str(done.folder / name) for name in papers)}")
    return 1 if done.held else 0


def _accounts_hold(target: Path) -> None:
    """CannotRun when the last run there found that its papers and files do not agree."""
    if (target / BROKEN).exists():
        raise CannotRun(
            Fault(
                where=str(target / BROKEN),
                found="the accounts of the last run do not hold: files and papers do not agree",
                expected="a run whose accounts hold",
                remedy="run the order again, with --fresh; if it stays, report the fault: cut nothing until then",
            )
        )


def _told(done: Released, units: Units) -> str:
    """What went, what is new about it, what was taken back, what stays and why."""
    designs, pieces = len(done.going), done.pieces
    lines = [f"{_count(pieces, 'piece')} of {_count(designs, 'design')} released in {done.folder}"]
    if done.added:
        new = sum(n for _, n in done.added)
        names = [plain(name_of(g.plaques[0])) + (f" ({n})" if n > 1 else "") for g, n in done.added]
        more = f", +{len(names) - MOST} more" if len(names) > MOST else ""
        lines.append(_wrapped(f"New: {_count(new, 'piece')}: {', '.join(names[:MOST])}{more}", "  "))
    elif designs:
        lines.append("  Nothing new since the last release.")
    for taken in done.taken:
        lines.append(_wrapped(f"Taken back: {taken.name} ({taken.fingerprint}): {taken.why}", "  "))
    lines += _held(done, units)
    lines.append(f"Cut list: {' · '.join(str(done.folder / name) for name in CUT_LIST)}")
    return "\n".join(lines)


def _held(done: Released, units: Units) -> list[str]:
    if not done.held:
        return []
    groups: dict[str, list[Held]] = {}
    for held in done.held:
        groups.setdefault(held.finding.code, []).append(held)
    lines = [f"Held back: {_count(sum(h.pieces for h in done.held), 'piece')}"]
    for code, same in sorted(groups.items(), key=lambda item: (-len(item[1]), item[0])):
        lines.append(f"  {code} ({len(same)})")
        for held in same[:MOST]:
            row = f"row {held.plaque.recipient.row}"
            lines.append(_wrapped(f"{row}: {catalogue.message(held.finding, units)}", "    "))
        if len(same) > MOST:
            lines.append(f"    +{len(same) - MOST} more, see {CUT_LIST[0]}")
        lines.append(_wrapped(f"→ {catalogue.remedy(same[0].finding, units)}", "    "))
    return lines


def _count(number: int, one: str) -> str:
    return f"{number} {one}" if number == 1 else f"{number} {one}s"


def _wrapped(text: str, indent: str) -> str:
    return textwrap.fill(
        plain(text),
        WIDTH,
        initial_indent=indent,
        subsequent_indent=indent + "  ",
        break_long_words=False,
        break_on_hyphens=False,
    )
