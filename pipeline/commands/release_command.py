"""`plaques release`: copy out what is signed off and unchanged, and nothing else."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path, PurePath
from typing import Any

from pipeline.accounts import BROKEN
from pipeline.core import catalogue
from pipeline.core.catalogue import list_stopping
from pipeline.core.config.order import OrderFolder
from pipeline.core.environment.clock import Clock
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.findings import Scope
from pipeline.core.list_row import pack_row, pack_rows
from pipeline.core.model import Outcome, set_copies
from pipeline.core.printable import write_json_text
from pipeline.core.row_selection import build_selection
from pipeline.core.units import Units
from pipeline.outputs.delivery_papers import Parcel, write_delivery_papers
from pipeline.outputs.release_needs import needs_of
from pipeline.outputs.release_sheets import ReleaseSheet, ToMake, build_release_sheets
from pipeline.outputs.revision import PaperIdentity, build_identity
from pipeline.outputs.shop_sheet.shop_papers import SHEET
from pipeline.outputs.shop_sheet.shop_sheet import write_shop_sheet
from pipeline.outputs.summary import format_count, make_sentence, strip_markup, wrap_text
from pipeline.shopfloor.shop_plan import ShopPlan, plan_shop
from pipeline.signoff.approval import Approval, approve_pieces
from pipeline.signoff.order_snapshot import Look, OrderSnapshot, Say
from pipeline.signoff.proof_rounds import build_revision
from pipeline.signoff.records.designs import select_lettered
from pipeline.signoff.records.job_identity import build_identity_row
from pipeline.signoff.records.ledger import Ledger, LedgerEntry, Moved, find_head, read_verified_entries
from pipeline.signoff.records.ledger_head import MANIFEST, read_recorded_heads, require_latest
from pipeline.signoff.release_files import (
    CUT_LIST,
    FOLDER,
    MadeAgain,
    Released,
    ReleaseItem,
    Withheld,
    execute_release,
    find_made_again,
    plan_release,
    write_papers,
)
from pipeline.signoff.sign_off import SignOff

TRIES = 20
"""Most attempts at a release when other commands keep recording meanwhile."""
MOST = 5
"""Most plaques of one reason that are named before "+N more"."""


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
    """Copy out the cut files that are signed and unchanged. Returns 1 when anything is held back, else 0.

    same_order: record that what was signed under another title, client or order file is this job. accept_files: record
    that files made differently than when they were signed may be released. CannotRun when the order cannot be read, the
    ledger does not hold or is older than the papers of the last release, or nothing can be written.
    """
    looked = look(order, out)
    _require_sound_accounts(looked.target)
    folder, outcome = looked.folder, looked.outcome
    ledger = Ledger.open(folder.folder)
    require_latest(read_verified_entries(ledger), read_recorded_heads(looked.target / FOLDER), ledger.path)
    if same_order:
        ledger.add([build_identity_row("same-order", folder)], clock())
    units = folder.order.unit
    added: list[tuple[ReleaseItem, int]] = []
    for _ in range(TRIES):
        entries = read_verified_entries(ledger)
        sign_off = looked.build_sign_off(entries)
        revision = build_revision(outcome.plaques, sign_off.entries, folder.order.proof.revision)
        identity = build_identity(outcome, revision)
        approvals = approve_pieces(
            outcome.plaques, sign_off, findings=outcome.findings, units=units, revision=revision.letter
        )
        try:
            if accept_files and (rows := _accept_files(approvals, sign_off, identity)):
                with ledger.transaction(clock(), after=find_head(entries)) as writing:
                    writing.add(rows)
                continue
            going, held = plan_release(approvals, looked.made, looked.target)
            made = _make_now(looked, going, find_made_again(going, sign_off.entries))
            at = clock()
            done = execute_release(
                going, held, sign_off, ledger, identity,
                target=looked.target, at=at, after=find_head(entries), units=units, sheets=made.sheets,
            )  # fmt: skip
            added += done.added
            if not write_papers(done, ledger, identity, made.papers, at=at, units=units, needs=made.needs):
                continue
        except Moved:
            continue  # something was recorded meanwhile: decide again
        done = replace(done, added=tuple(added))
        if as_json:
            say(write_json_text(_build_document(done, units), indent=1))
        else:
            say(_describe_release(done, units, made))
        return 1 if done.held else 0
    raise CannotRun(
        Fault(
            where=str(ledger.path),
            found=f"others recorded something {TRIES} times while this release was being decided",
            expected="a moment without another sign-off or release",
            remedy="release again; nothing was copied",
        )
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeNow:
    """The contents of a release besides single cut files: sheets of several pieces, papers by name, stock needed, and
    remarks on papers that are missing."""

    sheets: tuple[ReleaseSheet, ...] = ()
    papers: Mapping[str, bytes] = field(default_factory=dict)
    needs: tuple[tuple[str, str], ...] = ()
    said: tuple[str, ...] = ()


def _make_now(looked: OrderSnapshot, going: Sequence[ReleaseItem], again: Mapping[str, MadeAgain]) -> MadeNow:
    """Make the sheets and papers for exactly the pieces that are to be cut now."""
    folder, outcome = looked.folder, looked.outcome
    now = [set_copies(p, n) for g in going for p, n in zip(g.plaques, g.by_plaque, strict=True) if n]
    now.sort(key=lambda p: outcome.listing.locate_row(p.recipient.row))
    parcels = [
        Parcel(
            plaques=tuple(set_copies(p, n) for p, n in zip(g.plaques, g.by_plaque, strict=True) if n), pieces=g.pieces
        )
        for g in going
    ]
    papers = dict(write_delivery_papers(folder, parcels))
    if looked.files is None:
        return MadeNow(papers=papers)
    signed = {p.recipient.row: p.recipient.copies for p in now}
    plan, findings = plan_shop(folder, outcome.blank, now, signed, looked.files.cache)
    replaced = []
    for g in going:
        left = again[g.fingerprint].pieces if g.fingerprint in again else 0
        for plaque, n in zip(g.plaques, g.by_plaque, strict=True):
            pieces = min(n, left)
            left -= pieces
            replaced += [set_copies(plaque, pieces)] if pieces else []
    only_again = plan_shop(folder, outcome.blank, replaced, cache=looked.files.cache)[0] if replaced else None
    rows = build_selection(p.recipient.row for p in now) if now else None
    part = replace(outcome, plaques=tuple(now), part=str(rows or ""), findings=(*outcome.findings, *findings))
    if not list_stopping(part.findings, "paper") and now:
        papers[SHEET] = _write_shop_sheet(part, folder, plan)
    sheets = build_release_sheets(ToMake(folder=folder, outcome=part, plan=plan, files=looked.files))
    said = []
    kinds: tuple[tuple[Scope, str], ...] = (("boards", "boards"), ("jigs", "jig loads"))
    for scope, words in kinds:
        if stops := list_stopping(findings, scope):
            said.append(
                f"No {words}: {', '.join(dict.fromkeys(f.code for f in stops))}. The single cut files are good."
            )
    return MadeNow(sheets=sheets, papers=papers, needs=needs_of(plan, folder.order, only_again), said=tuple(said))


def _write_shop_sheet(outcome: Outcome, folder: OrderFolder, plan: ShopPlan) -> bytes:
    with tempfile.TemporaryDirectory() as aside:
        write_shop_sheet(outcome, folder, plan, Path(aside) / SHEET)
        return (Path(aside) / SHEET).read_bytes()


def _accept_files(approvals: Sequence[Approval], sign_off: SignOff, identity: PaperIdentity) -> list[LedgerEntry]:
    """Return ledger rows that accept the current files of designs held back because their files changed."""
    found = {a.plaque.fingerprint: a for a in approvals if a.state == "made-differently"}
    return [
        LedgerEntry(
            kind="making",
            order_id=identity.order_id,
            order_sha256=identity.order_sha256,
            fingerprint=mark,
            text=select_lettered(a.plaque.text),
            making=sign_off.making,
            title=identity.title,
            client=identity.client,
            order_file=sign_off.job.order_file if sign_off.job else "",
            note="accepted with --accept-files",
        )
        for mark, a in found.items()
    ]


def _build_document(done: Released, units: Units) -> dict[str, Any]:
    """Return the release as plain values for the JSON document."""
    new = {g.fingerprint: n for g, n in done.added}
    return {
        "released": [
            {
                "fingerprint": g.fingerprint,
                "name": g.plaques[0].name,
                "rows": pack_rows(p.recipient.row for p in g.plaques),
                "pieces": g.pieces,
                "new": new.get(g.fingerprint, 0),
                "again": done.again[g.fingerprint].pieces if g.fingerprint in done.again else 0,
                "files": [name for name, _ in g.files],
                "by": g.entry.by,
                "on": g.entry.date or g.entry.at[:10],
            }
            for g in done.going
        ],
        "held": [
            {
                "row": pack_row(h.plaque.recipient.row),
                "code": h.finding.code,
                "message": catalogue.format_message(h.finding, units),
                "remedy": catalogue.format_remedy(h.finding, units),
                "pieces": h.pieces,
            }
            for h in done.held
        ],
        "taken_back": [
            {"name": t.name, "fingerprint": t.fingerprint, "pieces": t.pieces, "why": t.why} for t in done.taken
        ],
        "foreign": [catalogue.format_message(f, units) for f in done.foreign],
        "release": done.number,
        "sheets": [name for sheet in done.sheets for name, _ in sheet.files],
        "manifest": str(done.folder / MANIFEST),
    }


def _require_sound_accounts(target: Path) -> None:
    """Raise CannotRun when the last run found that its papers and files disagree."""
    if (target / BROKEN).exists():
        raise CannotRun(
            Fault(
                where=str(target / BROKEN),
                found="the accounts of the last run do not hold: files and papers do not agree",
                expected="a run whose accounts hold",
                remedy="run the order again, with --fresh; if it stays, report the fault: cut nothing until then",
            )
        )


def _describe_release(done: Released, units: Units, made: MadeNow) -> str:
    """Describe what is to be cut now, what is new, what was taken back, what is held back and why."""
    designs, pieces = len(done.going), done.pieces
    lines = [
        f"Release {done.number}: {format_count(pieces, 'piece')} of {format_count(designs, 'design')} to cut, in "
        f"{done.folder}"
    ]
    if done.added:
        new = sum(n for _, n in done.added)
        names = [strip_markup(g.plaques[0].name) + (f" ({n})" if n > 1 else "") for g, n in done.added]
        more = f", +{len(names) - MOST} more" if len(names) > MOST else ""
        lines.append(wrap_text(f"New: {format_count(new, 'piece')}: {', '.join(names[:MOST])}{more}", "  ", "    "))
    elif designs:
        lines.append("  Nothing new since the last release.")
    for g in done.going:
        if g.fingerprint in done.again:
            lines.append(wrap_text(f"Again: {g.plaques[0].name}: {done.again[g.fingerprint]}", "  ", "    "))
    for taken in done.taken:
        lines.append(wrap_text(f"Taken back: {taken.name} ({taken.fingerprint}): {taken.why}", "  ", "    "))
    for foreign in done.foreign:
        remedy = make_sentence(catalogue.format_remedy(foreign, units))
        lines.append(wrap_text(f"{foreign.code}: {catalogue.format_message(foreign, units)}. {remedy}", "  ", "    "))
    lines += _describe_held(done, units)
    lines += made.said
    lines.append(f"Cut list: {' · '.join(str(done.folder / name) for name in CUT_LIST)}")
    for kind in dict.fromkeys(sheet.kind for sheet in done.sheets):
        own = [sheet for sheet in done.sheets if sheet.kind == kind]
        words = format_count(len(own), "jig load" if kind == "jig" else kind)
        lines.append(f"{words}: in {done.folder / PurePath(own[0].files[0][0]).parent}")
    if SHEET in made.papers:
        lines.append(f"For the workshop: {done.folder / SHEET}")
    parcel = [str(done.folder / name) for name in made.papers if name != SHEET]
    lines.append(f"For the parcel: {' · '.join(parcel)}")
    if designs:
        lines.append("Next: cut them, then tick the cut list, or type `plaques mark ORDER cut --rows …`.")
    return "\n".join(lines)


def _describe_held(done: Released, units: Units) -> list[str]:
    if not done.held:
        return []
    groups: dict[str, list[Withheld]] = {}
    for held in done.held:
        groups.setdefault(held.finding.code, []).append(held)
    lines = [f"Held back: {format_count(sum(h.pieces for h in done.held), 'piece')}"]
    for code, same in sorted(groups.items(), key=lambda item: (-len(item[1]), item[0])):
        lines.append(f"  {code} ({len(same)})")
        for held in same[:MOST]:
            row = f"row {held.plaque.recipient.row}"
            lines.append(wrap_text(f"{row}: {catalogue.format_message(held.finding, units)}", "    ", "      "))
        if len(same) > MOST:
            lines.append(f"    +{len(same) - MOST} more, see {CUT_LIST[0]}")
        lines.append(wrap_text(f"→ {catalogue.format_remedy(same[0].finding, units)}", "    ", "      "))
    return lines
