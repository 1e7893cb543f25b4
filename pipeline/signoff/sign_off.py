"""The sign-off as it bears on an order now: which rows of the ledger count, and for which codes.

Rows that a later row voids do not count, nor do answers to, and releases of, another title, client or order file. A
sign-off of an earlier version is carried over where its code, computed as that version did, still matches and the order
has nothing that codes cover only since; otherwise what they cover now is told by name.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from pipeline.core.model import Blank, Plaque
from pipeline.core.order import OrderFolder
from pipeline.signoff.entry import FORM, Entry, counting
from pipeline.signoff.fingerprint import Fingerprints, cutting_words, earlier_words, making_values
from pipeline.signoff.job_identity import JobIdentity, accepted_at, belongs
from pipeline.signoff.standing import ANSWERS

_OF_A_DESIGN = (*ANSWERS, "released", "withdrawn", "mark", "making")
_LEGACY = frozenset({"files.curves", "files.tolerance"})
"""Words that earlier codes had and today's do not follow any more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SignOff:
    """What approvals of an order are decided on."""

    entries: tuple[Entry, ...]  # that count, oldest first; codes of earlier versions as they are computed today
    others: tuple[Entry, ...] = ()  # answers that were given for another title, client or order file
    job: JobIdentity | None = None  # today's
    earlier: Mapping[str, str] = field(default_factory=dict)  # code now -> as an earlier version computed it, where a
    # sign-off of that version cannot be carried over
    added: tuple[str, ...] = ()  # what codes cover only since, as far as this order has it: "stock.material walnut"
    making: tuple[tuple[str, str], ...] = ()  # how the pieces are made now


def sign_off_of(
    entries: Sequence[Entry],
    folder: OrderFolder,
    plaques: Sequence[Plaque],
    blank: Blank,
    resolved: Sequence[tuple[str, str | float]],
) -> SignOff:
    """What the ledger's rows say for these plaques of the order. resolved: see `fingerprint.cutting_words`."""
    counted = counting(entries)
    job = JobIdentity.of(folder)
    since = accepted_at(counted, job)
    away = {e.id for e in counted if e.kind in _OF_A_DESIGN and not belongs(e, job, since)}
    others = tuple(e for e in counted if e.id in away and e.kind in ANSWERS)
    counted = tuple(e for e in counted if e.id not in away)
    carried: dict[str, str] = {}
    kept: dict[str, str] = {}
    added: tuple[str, ...] = ()
    if any(e.form < FORM for e in (*counted, *others)):
        now, then = dict(cutting_words(folder.order, resolved)), dict(earlier_words(folder.order, resolved))
        more = {key: value for key, value in now.items() if key not in _LEGACY and then.get(key) != value}
        added = tuple(f"{key} {_told(value)}" for key, value in more.items())
        codes = _earlier_codes(plaques, Fingerprints(blank, tuple(then.items())))
        if added:
            kept = codes
        else:
            carried = {then_: now_ for now_, then_ in codes.items()}
    return SignOff(
        entries=tuple(_carried(counted, carried)),
        others=tuple(_carried(others, carried)),
        job=job,
        earlier=kept,
        added=added,
        making=making_values(folder.order),
    )


def _told(value: str | float | bool) -> str:
    return f"{value:.6g}" if isinstance(value, float) else str(value)


def _earlier_codes(plaques: Sequence[Plaque], codes: Fingerprints) -> dict[str, str]:
    """Code now -> code as an earlier version computed it, of every design where they differ."""
    out: dict[str, str] = {}
    for plaque in plaques:
        if plaque.fingerprint and plaque.artwork is not None and plaque.fingerprint not in out:
            out[plaque.fingerprint] = codes.of(plaque.text, plaque.artwork)
    return {now: then for now, then in out.items() if now != then}


def _carried(entries: Iterable[Entry], carried: Mapping[str, str]) -> Iterable[Entry]:
    for entry in entries:
        now = carried.get(entry.fingerprint) if entry.form < FORM and entry.kind in _OF_A_DESIGN else None
        yield replace(entry, fingerprint=now) if now else entry
