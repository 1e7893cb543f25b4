"""The sign-off of the current order: the rows of the ledger that count, and for which codes.

Rows that a later row voids do not count, nor do answers to, and releases of, another title, client or order file. A
sign-off of an earlier version is carried over where its code, computed as that version did, still matches and the order
has nothing that codes cover only since; otherwise what they cover now is told by name.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from pipeline.core.config.order import OrderFolder
from pipeline.core.fingerprint import Fingerprints, list_cutting_values, list_earlier_values, list_making_values
from pipeline.core.model import Blank, Plaque
from pipeline.signoff.design_answers import ANSWERS
from pipeline.signoff.records.job_identity import JobIdentity, belongs_to_job, find_accepted
from pipeline.signoff.records.ledger import Ledger
from pipeline.signoff.records.ledger_entry import FORM, LedgerEntry, LedgerHead, select_counting_entries

_OF_A_DESIGN = (*ANSWERS, "question", "released", "withdrawn", "mark", "told", "making")
CARRIED = "carried over from"
"""How the note of a row begins that takes the place of an earlier version's."""
_LEGACY = frozenset({"files.curves", "files.tolerance"})
"""Words that earlier codes had and today's do not follow any more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SignOff:
    """The basis of an order's approvals."""

    entries: tuple[LedgerEntry, ...]  # those that count, oldest first; codes of earlier versions recomputed as today's
    others: tuple[LedgerEntry, ...] = ()  # answers given for another title, client or order file
    job: JobIdentity | None = None  # today's job
    earlier: Mapping[str, str] = field(default_factory=dict)  # today's code -> an earlier version's, where a
    # sign-off of that version can't be carried over
    added: tuple[str, ...] = ()  # what codes cover only since then, if the order uses it: "stock.material walnut"
    making: tuple[tuple[str, str], ...] = ()  # values that decide how the pieces are made now
    carried: tuple[LedgerEntry, ...] = ()  # unchanged rows of an earlier version whose codes are recomputed


def build_sign_off(
    entries: Sequence[LedgerEntry],
    folder: OrderFolder,
    plaques: Sequence[Plaque],
    blank: Blank,
    resolved: Sequence[tuple[str, str | float]],
) -> SignOff:
    """Build what the ledger's rows say about these plaques of the order. resolved: see
    `fingerprint.list_cutting_values`."""
    counted = select_counting_entries(entries)
    job = JobIdentity.from_order(folder)
    since = find_accepted(counted, job)
    away = {e.id for e in counted if e.kind in _OF_A_DESIGN and not belongs_to_job(e, job, since)}
    others = tuple(e for e in counted if e.id in away and e.kind in ANSWERS)
    counted = tuple(e for e in counted if e.id not in away)
    carried: dict[str, str] = {}
    kept: dict[str, str] = {}
    added: tuple[str, ...] = ()
    if any(e.form < FORM for e in (*counted, *others)):
        now, then = dict(list_cutting_values(folder.order, resolved)), dict(list_earlier_values(folder.order, resolved))
        more = {key: value for key, value in now.items() if key not in _LEGACY and then.get(key) != value}
        added = tuple(f"{key} {_format_value(value)}" for key, value in more.items())
        codes = _list_earlier_codes(plaques, Fingerprints(blank, tuple(then.items())))
        if added:
            kept = codes
        else:
            carried = {then_: now_ for now_, then_ in codes.items()}
    return SignOff(
        entries=tuple(_select_carried(counted, carried)),
        others=tuple(_select_carried(others, carried)),
        job=job,
        earlier=kept,
        added=added,
        making=list_making_values(folder.order),
        carried=tuple(e for e in counted if _is_carried(e, carried)),
    )


def keep_carried(ledger: Ledger, sign_off: SignOff, at: str, *, after: LedgerHead) -> None:
    """Records that sign-offs of an earlier version are carried over, so that they hold when the order is made in
    another way later: rows with today's codes, and one that says that these take the place of the old.

    Moved when the ledger ends elsewhere than `after` by now; CannotRun when it cannot be written."""
    later = {e.fingerprint for e in sign_off.entries if e.form >= FORM}  # answered since: the later row counts
    old = {e.id for e in sign_off.entries if e.fingerprint not in later} & {e.id for e in sign_off.carried}
    if not old:
        return
    new = [
        replace(e, id=0, at="", previous="", hash="", form=FORM, date=e.date or e.at[:10],
                making=sign_off.making, note=f"{CARRIED} row {e.id}", **_list_job_fields(sign_off))
        for e in sign_off.entries
        if e.id in old
    ]  # fmt: skip
    note = "their codes are computed anew: carried over"
    said = LedgerEntry(kind="void", voids=tuple(sorted(old)), note=note, **_list_job_fields(sign_off))
    with ledger.transaction(at, after=after) as writing:
        writing.add([said, *new])


def _list_job_fields(sign_off: SignOff) -> dict[str, Any]:
    job = sign_off.job
    return {"title": job.title, "client": job.client, "order_file": job.order_file} if job else {}


def _is_carried(entry: LedgerEntry, carried: Mapping[str, str]) -> bool:
    return entry.form < FORM and entry.kind in _OF_A_DESIGN and entry.fingerprint in carried


def _format_value(value: str | float | bool) -> str:
    return f"{value:.6g}" if isinstance(value, float) else str(value)


def _list_earlier_codes(plaques: Sequence[Plaque], codes: Fingerprints) -> dict[str, str]:
    """Code now -> code as an earlier version computed it, of every design where they differ."""
    out: dict[str, str] = {}
    for plaque in plaques:
        if plaque.fingerprint and plaque.artwork is not None and plaque.fingerprint not in out:
            out[plaque.fingerprint] = codes.compute(plaque.text, plaque.artwork)
    return {now: then for now, then in out.items() if now != then}


def _select_carried(entries: Iterable[LedgerEntry], carried: Mapping[str, str]) -> Iterable[LedgerEntry]:
    for entry in entries:
        yield replace(entry, fingerprint=carried[entry.fingerprint]) if _is_carried(entry, carried) else entry
