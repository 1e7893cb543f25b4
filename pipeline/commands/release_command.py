"""`plaques release`: out with what is signed off and unchanged, and nothing else."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from pipeline.accounts import BROKEN
from pipeline.core import catalogue
from pipeline.core.clock import Clock
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.printable import json_text
from pipeline.core.units import Units
from pipeline.outputs.delivery_papers import Parcel, delivery_papers
from pipeline.outputs.revision import PaperIdentity, identity_of
from pipeline.outputs.summary import plain_text, sentence
from pipeline.signoff.approval import Approval, approve_pieces
from pipeline.signoff.designs import lettered
from pipeline.signoff.job_identity import identity_row
from pipeline.signoff.ledger import Ledger, LedgerEntry, Moved, head_of, verified_entries
from pipeline.signoff.ledger_head import MANIFEST, recorded_heads, require_latest
from pipeline.signoff.order_snapshot import Look, Say
from pipeline.signoff.proof_rounds import revision_of
from pipeline.signoff.release_files import (
    CUT_LIST,
    FOLDER,
    Released,
    Withheld,
    execute_release,
    plan_release,
    write_papers,
)
from pipeline.signoff.sign_off import SignOff

TRIES = 20
"""How often a release is decided again because something was recorded meanwhile."""
WIDTH = 100
MOST = 5
"""Plaques of one reason that are named before "+N more"."""


def release(
    order: str | Path,
    *,
    out: Path | None = None,
    same_order: bool = False,
    accept_files: bool = False,
    as_json: bool = False,
    clock: Clock,
    say: Say,
    look: Look,
) -> int:
    """Copy signed and unchanged cut files out. Returns 1 when anything is held back, else 0.

    same_order: record that what was signed under another title, client or order file is this job. accept_files: record
    that files made in another way than when they were signed may go. CannotRun when the order cannot be read, the
    ledger does not hold or is older than the papers of the last release, or nothing can be written.
    """
    looked = look(order, out)
    _accounts_hold(looked.target)
    folder, outcome = looked.folder, looked.outcome
    ledger = Ledger.of(folder.folder)
    require_latest(verified_entries(ledger), recorded_heads(looked.target / FOLDER), ledger.path)
    if same_order:
        ledger.add([identity_row("same-order", folder)], clock())
    units = folder.order.unit
    for _ in range(TRIES):
        entries = verified_entries(ledger)
        sign_off = looked.sign_off(entries)
        revision = revision_of(outcome.plaques, sign_off.entries, folder.order.proof.revision)
        identity = identity_of(outcome, revision)
        approvals = approve_pieces(
            outcome.plaques, sign_off, findings=outcome.findings, units=units, revision=revision.letter
        )
        try:
            if accept_files and (rows := _accepted(approvals, sign_off, identity)):
                with ledger.transaction(clock(), after=head_of(entries)) as writing:
                    writing.add(rows)
                continue
            going, held = plan_release(approvals, looked.made, looked.target)
            papers = delivery_papers(folder, [Parcel(plaques=g.plaques, pieces=g.pieces) for g in going])
            at = clock()
            done = execute_release(
                going, held, sign_off, ledger, identity,
                target=looked.target, at=at, after=head_of(entries), units=units,
            )  # fmt: skip
            write_papers(done, ledger, identity, papers, at=at, units=units)
        except Moved:
            continue  # something was recorded meanwhile: it is decided again
        if as_json:
            say(json_text(_plain(done, units), indent=1))
        else:
            say(_told(done, units) + f"\nFor the parcel: {' · '.join(str(done.folder / name) for name in papers)}")
        return 1 if done.held else 0
    raise CannotRun(
        Fault(
            where=str(ledger.path),
            found=f"others recorded something {TRIES} times while this release was being decided",
            expected="a moment without another sign-off or release",
            remedy="release again; nothing was copied",
        )
    )


def _accepted(approvals: Sequence[Approval], sign_off: SignOff, identity: PaperIdentity) -> list[LedgerEntry]:
    """Rows that say that designs may be made as they are made now, for those that are held back for it."""
    found = {a.plaque.fingerprint: a for a in approvals if a.state == "made-differently"}
    return [
        LedgerEntry(
            kind="making",
            order_id=identity.order_id,
            order_sha256=identity.order_sha256,
            fingerprint=mark,
            text=lettered(a.plaque.text),
            making=sign_off.making,
            title=identity.title,
            client=identity.client,
            order_file=sign_off.job.order_file if sign_off.job else "",
            note="accepted with --accept-files",
        )
        for mark, a in found.items()
    ]


def _plain(done: Released, units: Units) -> dict[str, Any]:
    """As the JSON document shows it."""
    new = {g.fingerprint: n for g, n in done.added}
    return {
        "released": [
            {
                "fingerprint": g.fingerprint,
                "name": g.plaques[0].name,
                "rows": [p.recipient.row for p in g.plaques],
                "pieces": g.pieces,
                "new": new.get(g.fingerprint, 0),
                "files": [name for name, _ in g.files],
                "by": g.entry.by,
                "on": g.entry.date or g.entry.at[:10],
            }
            for g in done.going
        ],
        "held": [
            {
                "row": h.plaque.recipient.row,
                "code": h.finding.code,
                "message": catalogue.message(h.finding, units),
                "remedy": catalogue.remedy(h.finding, units),
                "pieces": h.pieces,
            }
            for h in done.held
        ],
        "taken_back": [
            {"name": t.name, "fingerprint": t.fingerprint, "pieces": t.pieces, "why": t.why} for t in done.taken
        ],
        "foreign": [catalogue.message(f, units) for f in done.foreign],
        "manifest": str(done.folder / MANIFEST),
    }


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
        names = [plain_text(g.plaques[0].name) + (f" ({n})" if n > 1 else "") for g, n in done.added]
        more = f", +{len(names) - MOST} more" if len(names) > MOST else ""
        lines.append(_wrapped(f"New: {_count(new, 'piece')}: {', '.join(names[:MOST])}{more}", "  "))
    elif designs:
        lines.append("  Nothing new since the last release.")
    for taken in done.taken:
        lines.append(_wrapped(f"Taken back: {taken.name} ({taken.fingerprint}): {taken.why}", "  "))
    for foreign in done.foreign:
        told = f"{foreign.code}: {catalogue.message(foreign, units)}. {sentence(catalogue.remedy(foreign, units))}"
        lines.append(_wrapped(told, "  "))
    lines += _held(done, units)
    lines.append(f"Cut list: {' · '.join(str(done.folder / name) for name in CUT_LIST)}")
    return "\n".join(lines)


def _held(done: Released, units: Units) -> list[str]:
    if not done.held:
        return []
    groups: dict[str, list[Withheld]] = {}
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
        plain_text(text),
        WIDTH,
        initial_indent=indent,
        subsequent_indent=indent + "  ",
        break_long_words=False,
        break_on_hyphens=False,
    )
