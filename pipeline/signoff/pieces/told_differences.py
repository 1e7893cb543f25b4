"""Differences reported once: a piece was cut differently from what list and order now say."""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.core.config.order import OrderFolder
from pipeline.core.findings import Finding
from pipeline.core.model import Plaque
from pipeline.signoff.pieces.plaque_pieces import assign_pieces, find_difference, list_words
from pipeline.signoff.records.job_identity import build_identity_row
from pipeline.signoff.records.ledger_entry import LedgerEntry

TOLD = "told"
"""Kind of the ledger row that records the report."""


def list_untold_differences(
    plaques: Sequence[Plaque], entries: Sequence[LedgerEntry], folder: OrderFolder
) -> tuple[tuple[Finding, LedgerEntry], ...]:
    """sign.cut-differs of every plaque for which no run has told it yet, each with the row that says that it was.
    entries: those that count."""
    known = {(e.fingerprint, e.content, e.text) for e in entries if e.kind == TOLD}
    out = []
    for plaque, pieces in zip(plaques, assign_pieces(plaques, entries), strict=True):
        finding = find_difference(plaque, pieces)
        if finding is None:
            continue
        row = _build_entry(plaque, pieces.earlier[0].fingerprint, finding.code, folder)
        if (row.fingerprint, row.content, row.text) not in known:
            out.append((finding, row))
    return tuple(out)


def _build_entry(plaque: Plaque, hangs: str, code: str, folder: OrderFolder) -> LedgerEntry:
    job = build_identity_row("order", folder)
    return LedgerEntry(
        kind="told",
        order_id=job.order_id,
        order_sha256=job.order_sha256,
        title=job.title,
        client=job.client,
        order_file=job.order_file,
        fingerprint=hangs,
        content=plaque.fingerprint,
        text=list_words(plaque),
        rows=(plaque.recipient.row,),
        note=code,
    )
