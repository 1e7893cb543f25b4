"""Sizes of pieces already cut, which new pieces of an order with one size for all have to match."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from pipeline.core.catalogue import fit_kinds
from pipeline.core.config.order import OrderFolder
from pipeline.core.findings import Fact, Finding, build_finding
from pipeline.core.list_row import ListRow
from pipeline.core.model import Plaque
from pipeline.core.units import SAME
from pipeline.signoff.pieces.piece_tally import tally_pieces
from pipeline.signoff.records.job_identity import JobIdentity, belongs_to_job, find_accepted
from pipeline.signoff.records.ledger_entry import LedgerEntry, select_counting_entries


def find_sizes_cut(entries: Sequence[LedgerEntry], folder: OrderFolder) -> dict[int, float]:
    """Cap height in mm of each line with same_size = "all", as most finished pieces of this job have it; of lines
    nothing is known of, none. entries: all rows of the ledger."""
    counted, job = select_counting_entries(entries), JobIdentity.from_order(folder)
    since = find_accepted(counted, job)
    own = [e for e in counted if belongs_to_job(e, job, since)]
    done = {mark for mark, tally in tally_pieces(own).items() if tally.finished}
    signed = {e.fingerprint: e.cap_heights for e in own if e.kind == "answer" and e.cap_heights}
    out: dict[int, float] = {}
    for number, line in enumerate(folder.order.line, 1):
        if line.same_size == "all":
            sizes = Counter(signed[m][number - 1] for m in done if len(signed.get(m, ())) >= number)
            sizes.pop(0.0, None)
            if sizes:
                out[number] = sizes.most_common(1)[0][0]
    return out


def check_sizes_unlike(
    plaques: Sequence[Plaque], held: Mapping[int, float], finished: frozenset[ListRow]
) -> list[Finding]:
    """fit.unlike-cut for each line of a plaque that is set at another size than the pieces cut already. finished: rows
    of these."""
    out = []
    for plaque in plaques:
        if plaque.artwork is None or plaque.state == "stopped" or plaque.recipient.row in finished:
            continue
        for line in plaque.artwork.lines:
            if line.line in held and abs(line.cap_height - held[line.line]) > SAME:
                facts: dict[str, Fact] = {"text": line.text, "cut": held[line.line], "cap_height": line.cap_height}
                at = plaque.recipient
                out.append(build_finding(fit_kinds.UNLIKE_CUT, line=line.line, row=at.row, cell=at.cell, facts=facts))
    return out
