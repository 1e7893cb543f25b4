"""The job that a row of the ledger belongs to: title, client and order file as they were, and the order's code.

An order's code is stored when it is first run, so that a renamed or moved order stays one order and its papers are
known. That is no proof against a copy: an order folder that was copied and given another title carries the ledger with
it. So what was signed counts for the title, client and order file it was signed under, until the maker says that those
of today are the same job.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from pipeline.core.config.order import OrderFolder
from pipeline.core.short_codes import build_order_id
from pipeline.signoff.records.ledger import Ledger
from pipeline.signoff.records.ledger_entry import LedgerEntry

_SAYS_WHO = ("order", "same-order")


@dataclass(frozen=True, slots=True, kw_only=True)
class JobIdentity:
    """What identifies a job for a person. Runs of blanks count as one."""

    title: str
    client: str
    order_file: str  # name only, because the folder may be moved

    @classmethod
    def from_order(cls, folder: OrderFolder) -> JobIdentity:
        """Return the identity of an order as it is now."""
        return cls(
            title=_fold_text(folder.order.title),
            client=_fold_text(folder.order.client),
            order_file=_fold_text(folder.file.name),
        )

    @classmethod
    def from_entry(cls, entry: LedgerEntry) -> JobIdentity:
        """Return the identity in a row of the ledger."""
        return cls(
            title=_fold_text(entry.title), client=_fold_text(entry.client), order_file=_fold_text(entry.order_file)
        )

    def __str__(self) -> str:
        return f"“{self.title}”" + (f" for {self.client}" if self.client else "") + f" in {self.order_file}"


def _fold_text(text: str) -> str:
    return " ".join(text.split())


def apply_stored_code(folder: OrderFolder, entries: Sequence[LedgerEntry]) -> OrderFolder:
    """Return the order with the code that its ledger stores; unchanged when there is none."""
    job = JobIdentity.from_order(folder)
    for entry in reversed(entries):
        if entry.kind in _SAYS_WHO and entry.order_id:
            theirs = JobIdentity.from_entry(entry)
            same_names = (theirs.title, theirs.client) == (job.title, job.client)
            if theirs.order_file == job.order_file or same_names:
                return folder.model_copy(update={"code": entry.order_id})
    own = build_order_id(job.title, job.client)
    first = [e.order_id for e in entries if e.form < 2 and e.order_id]
    if first and own not in first:  # the title has changed since an earlier version recorded anything
        return folder.model_copy(update={"code": first[-1]})
    return folder


def begin_order(ledger: Ledger, folder: OrderFolder, entries: Sequence[LedgerEntry], at: str) -> None:
    """Stores the order's code when it is first run. CannotRun when the ledger cannot be written."""
    job = JobIdentity.from_order(folder)
    if _was_begun(entries, job):
        return
    with ledger.transaction(at) as writing:
        if not _was_begun(writing.entries, job):  # another run may just have begun it
            writing.add([build_identity_row("order", folder)])


def _was_begun(entries: Iterable[LedgerEntry], job: JobIdentity) -> bool:
    return any(e.kind in _SAYS_WHO and JobIdentity.from_entry(e).order_file == job.order_file for e in entries)


def build_identity_row(kind: str, folder: OrderFolder, by: str = "") -> LedgerEntry:
    """A row that says which job this is: kind "order", or "same-order"."""
    job = JobIdentity.from_order(folder)
    return LedgerEntry(
        kind="same-order" if kind == "same-order" else "order",
        order_id=folder.order_id,
        order_sha256=folder.sha256,
        title=job.title,
        client=job.client,
        order_file=job.order_file,
        by=by,
    )


def belongs_to_job(entry: LedgerEntry, job: JobIdentity, accepted_at: int = 0) -> bool:
    """Return whether a row was written for this job. accepted_at: id of the last row in which the maker said that an
    earlier job is the same; rows before it count."""
    if entry.id < accepted_at:
        return True
    if entry.title or entry.client or entry.order_file:
        return JobIdentity.from_entry(entry) == job
    return not entry.order_id or entry.order_id == build_order_id(job.title, job.client)  # a row of an earlier version


def find_accepted(entries: Iterable[LedgerEntry], job: JobIdentity) -> int:
    """Find the id of the last row in which the maker said that what was signed before is the same job; 0: none."""
    return max((e.id for e in entries if e.kind == "same-order" and JobIdentity.from_entry(e) == job), default=0)
