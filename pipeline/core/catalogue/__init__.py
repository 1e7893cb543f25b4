"""Every kind of finding there is. Codes are permanent: a code is never reused for something else."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby

from pipeline.core.catalogue import (
    artwork_kinds,
    cut_kinds,
    drawing_kinds,
    face_kinds,
    file_kinds,
    fit_kinds,
    jig_kinds,
    list_kinds,
    name_kinds,
    proof_kinds,
    question_kinds,
    sheet_kinds,
    shop_kinds,
    sign_kinds,
    tool_kinds,
)
from pipeline.core.catalogue.ways import WAYS
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.findings import Finding, Kind, Scope, Severity, Way, WayKind, render, render_way
from pipeline.core.language.texts import ENGLISH, Texts, load_texts
from pipeline.core.units import MM, Units

_MODULES = (
    list_kinds,
    sheet_kinds,
    drawing_kinds,
    name_kinds,
    proof_kinds,
    question_kinds,
    face_kinds,
    fit_kinds,
    cut_kinds,
    artwork_kinds,
    shop_kinds,
    jig_kinds,
    sign_kinds,
    file_kinds,
    proof_kinds,
    tool_kinds,
)
KINDS: dict[str, Kind] = {kind.code: kind for module in _MODULES for kind in module.KINDS}

WAY_KINDS: dict[str, WayKind] = {kind.code: kind for kind in WAYS}


def get_kind(code: str) -> Kind:
    """The kind with this code; CannotRun names the nearest when there is none."""
    if code in KINDS:
        return KINDS[code]
    from difflib import get_close_matches

    near = get_close_matches(code, KINDS, 3, 0.4)
    hint = f"Nearest: {', '.join(near)}" if near else "`plaques explain` without a code lists them all"
    raise CannotRun(Fault(where=code, found="there is no finding with this code", remedy=hint))


def list_stopping(findings: Iterable[Finding], scope: Scope) -> tuple[Finding, ...]:
    """List the findings of severity stop whose kind stops this."""
    return tuple(f for f in findings if f.severity is Severity.STOP and get_kind(f.code).stops == scope)


def format_message(finding: Finding, units: Units = MM) -> str:
    """Format what is wrong, for the maker."""
    return _name_file(finding) + render(get_kind(finding.code).message, finding, units)


def _name_file(finding: Finding) -> str:
    """The further list that a finding is about, where neither row nor cell says it."""
    return f"{finding.file}: " if finding.file and finding.row is None and not finding.cell else ""


FIRST_LIST_ALONE = ("header", "sheet", "area", "encoding", "separator")
"""Keys of [list] that don't hold for further lists: no advice on one of these names them."""


def format_remedy(finding: Finding, units: Units = MM) -> str:
    """Format what to do about it: each way that was found, then what its kind says."""
    ways = [_describe_ways(same, units) for same in _group_by_code(finding.ways)]
    own = render(get_kind(finding.code).remedy, finding, units)
    if finding.file and (not (ways or own) or any(f"`{key}`" in own for key in FIRST_LIST_ALONE)):
        own = (
            f"put it right in {finding.file}, or name under `more` in [list] a file that holds nothing but the part "
            "that is wanted, saved as .xlsx"
        )
    return join_with_or([*ways, own] if own else ways)


def describe_way(way: Way, units: Units = MM) -> str:
    """Describe what to do in one way."""
    return _describe_ways([way], units)


def format_for_client(finding: Finding, units: Units = MM, texts: Texts | None = None, *, choices: bool = True) -> str:
    """Format a finding for the client's proof, in plain words; empty when it does not concern the client. texts: of the
    client's language; default: English. choices: with what can be chosen in the text, where it has a place for it."""
    english = get_kind(finding.code).client
    if not english:
        return ""
    texts = texts or load_texts(ENGLISH)
    template = texts.find_template(build_client_id(finding.code), english)
    listed = choices and "{choices}" in template
    offered = _describe_choices(finding.ways, units, texts) if listed else ""
    told = render(template, finding, units, texts, choices=offered, **dict(texts.always)).rstrip()
    return _name_file(finding) + told


def build_client_id(code: str) -> str:
    """Build the id under which catalogues of other languages have what the client reads of a kind of finding."""
    return f"finding.{code}"


def build_client_way_id(code: str) -> str:
    """Build that id for a way that resolves a finding."""
    return f"way.{code}"


def join_with_or(ways: Sequence[str]) -> str:
    """Join ways into a sentence: "a, b, or c"."""
    ways = [way for way in ways if way]
    return f"{', '.join(ways[:-1])}, or {ways[-1]}" if len(ways) > 1 else "".join(ways)


def _describe_choices(ways: Sequence[Way], units: Units, texts: Texts) -> str:
    """The ways that a client can judge, numbered."""
    offers = [offer for way in ways if (offer := offer_for_client(way, units, texts))]
    if not offers:
        return texts.render_text("choices.none")
    numbered = (texts.render_text("choices.one", number=n, offer=offer) for n, offer in enumerate(offers, 1))
    return texts.render_text("choices", offers=" ".join(numbered))


def offer_for_client(way: Way, units: Units, texts: Texts) -> str:
    """Format one way as the client reads it; empty when it isn't for the client."""
    english = WAY_KINDS[way.code].client
    return (
        render_way(texts.find_template(build_client_way_id(way.code), english), [way], units, texts) if english else ""
    )


def _group_by_code(ways: Sequence[Way]) -> list[list[Way]]:
    return [list(same) for _, same in groupby(ways, key=lambda way: way.code)]


def _describe_ways(ways: Sequence[Way], units: Units) -> str:
    return render_way(WAY_KINDS[ways[0].code].maker, ways, units)
