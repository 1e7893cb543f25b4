"""Faults of the design: what is wrong with a line as designed, whatever name it carries. The maker puts them right;
they are reported once per line, and the client is asked about single names only.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from pipeline.core.catalogue import fit_kinds, get_kind
from pipeline.core.config.order import Order
from pipeline.core.findings import Finding, Severity
from pipeline.core.list_row import ListRow
from pipeline.core.model import DesignFault, FaultCount, Plaque

FEW = 3
"""Up to this many plaques with a fault of the design don't hold back the proof, however short the list."""
SHARE = 0.05
"""Nor does this share of them. Common practice, no source."""


def is_many(count: int, of: int) -> bool:
    """Return whether this many plaques of the total point to the design rather than to single names."""
    return count > FEW and count > SHARE * of


def find_crowded_lines(plaques: Sequence[Plaque]) -> frozenset[int]:
    """Find lines that are too long on so many plaques that they must have been designed too large. About a single name
    that is too long, the client is asked."""
    rows: dict[int, set[ListRow]] = {}
    for plaque in plaques:
        for f in plaque.findings:
            if f.code == fit_kinds.TOO_LONG.code and f.line is not None:
                rows.setdefault(f.line, set()).add(plaque.recipient.row)
    return frozenset(line for line, found in rows.items() if is_many(len(found), len(plaques)))


def is_design_fault(finding: Finding, crowded: frozenset[int]) -> bool:
    """Return whether a finding of a plaque is about the design, lettering or artwork. crowded: see
    `find_crowded_lines`."""
    if not get_kind(finding.code).design:
        return False
    return finding.code != fit_kinds.TOO_LONG.code or finding.line in crowded


def is_waiting_for_maker(plaque: Plaque, crowded: frozenset[int]) -> bool:
    """Return whether only faults of the design stop the plaque, so that there is nothing to ask the client."""
    stops = [f for f in plaque.findings if f.severity is Severity.STOP]
    return bool(stops) and all(is_design_fault(f, crowded) for f in stops)


def find_design_faults(plaques: Sequence[Plaque], order: Order) -> tuple[DesignFault, ...]:
    """Find every line with a fault of the design, with the plaques it affects; without advice."""
    crowded = find_crowded_lines(plaques)
    found: dict[int, dict[str, list[tuple[Plaque, Finding]]]] = {}
    for plaque in plaques:
        for f in plaque.findings:
            if f.line is not None and is_design_fault(f, crowded):
                found.setdefault(f.line, {}).setdefault(f.code, []).append((plaque, f))
    out = []
    for line, codes in sorted(found.items()):
        part = order.line[line - 1]
        counts = [
            FaultCount(
                code=code,
                rows=tuple(dict.fromkeys(p.recipient.row for p, _ in pairs)),
                worst=min((f for _, f in pairs), key=_rate_badness),
            )
            for code, pairs in codes.items()
        ]
        counts.sort(key=lambda c: (c.worst.severity.rank, -len(c.rows)))
        touched = {p.recipient.row: p.name for pairs in codes.values() for p, _ in pairs}
        out.append(
            DesignFault(
                line=line,
                face=part.face,
                cap_height=part.cap_height,
                faults=tuple(counts),
                rows=tuple(sorted(touched)),
                names=tuple(touched[row] for row in sorted(touched)),
                of=len(plaques),
            )
        )
    return tuple(out)


def _rate_badness(finding: Finding) -> float:
    """Return how far a finding is from its limit; the least is the worst."""
    if finding.measured is None or not finding.limit:
        return 0.0
    ratio = finding.measured / finding.limit
    return ratio if ratio < 1 else 1 / ratio


def list_held_plaques(plaques: Iterable[Plaque], crowded: frozenset[int]) -> tuple[Plaque, ...]:
    """The plaques that a fault of the design stops."""
    return tuple(
        p for p in plaques if any(f.severity is Severity.STOP and is_design_fault(f, crowded) for f in p.findings)
    )


def holds_proof(plaques: Sequence[Plaque], order: Order) -> bool:
    """Return whether the proof is held back until the design is put right: `[proof] unfinished`."""
    held = list_held_plaques(plaques, find_crowded_lines(plaques))
    return order.proof.unfinished == "hold" and is_many(len(held), len(plaques))
