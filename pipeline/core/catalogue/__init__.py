"""Every kind of finding there is. Codes are permanent: a code is never reused for something else."""

from __future__ import annotations

from collections.abc import Iterable

from pipeline.core.catalogue import asks, cuts, drawing, faces, files, fit, lists, shop, sign, tool, words
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.findings import Finding, Kind, Scope, Severity, render
from pipeline.core.units import MM, Units

_MODULES = (lists, drawing, words, asks, faces, fit, cuts, shop, sign, files, tool)
KINDS: dict[str, Kind] = {kind.code: kind for module in _MODULES for kind in module.KINDS}


def kind_of(code: str) -> Kind:
    """The kind with this code; CannotRun names the nearest when there is none."""
    if code in KINDS:
        return KINDS[code]
    from difflib import get_close_matches

    near = get_close_matches(code, KINDS, 3, 0.4)
    hint = f"Nearest: {', '.join(near)}" if near else "`plaques explain` without a code lists them all"
    raise CannotRun(Fault(where=code, found="no finding has this code", remedy=hint))


def stopping(findings: Iterable[Finding], scope: Scope) -> tuple[Finding, ...]:
    """Those findings of severity stop whose kind stops this."""
    return tuple(f for f in findings if f.severity is Severity.STOP and kind_of(f.code).stops == scope)


def message(finding: Finding, units: Units = MM) -> str:
    """What is wrong here, for the maker."""
    return render(kind_of(finding.code).message, finding, units)


def remedy(finding: Finding, units: Units = MM) -> str:
    """What to do about it."""
    return render(kind_of(finding.code).remedy, finding, units)


def for_client(finding: Finding, units: Units = MM) -> str:
    """The same for the client's proof, in plain words; empty when it does not concern the client."""
    return render(kind_of(finding.code).client, finding, units)
