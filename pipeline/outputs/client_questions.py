"""Questions for the client: one cause, one question, with the cells it concerns, choices to tick and a line to write.

Faults of the design are none of it: they are the maker's (`core.design_faults`).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from pipeline.core import catalogue
from pipeline.core.catalogue.choices import TOGETHER, Meaning, build_choice_id, build_together_id, list_choices
from pipeline.core.design_faults import find_crowded_lines, is_design_fault, is_waiting_for_maker
from pipeline.core.findings import Fact, Finding, Severity, render
from pipeline.core.language.texts import Texts
from pipeline.core.list_row import ListRow
from pipeline.core.model import Outcome, Plaque
from pipeline.core.units import Units
from pipeline.outputs.report import list_order_findings

EXAMPLES = 3
"""Names that a question about several shows."""
MOST_ROWS = 8
"""Rows that it names."""


@dataclass(frozen=True, slots=True, kw_only=True)
class QuestionChoice:
    """One answer to tick. code: permanent within its question."""

    code: str
    words: str
    means: Meaning


@dataclass(frozen=True, slots=True, kw_only=True)
class ClientQuestion:
    """One question. Without rows it is about the whole order; rows and cells of plaques that can be cut and of those
    that can't, fingerprints of the former."""

    no: int
    code: str
    words: str
    choices: tuple[QuestionChoice, ...]
    rows: tuple[ListRow, ...] = ()
    cells: tuple[str, ...] = ()
    names: tuple[str, ...] = ()  # the recipients' names, in the order of the rows
    fingerprints: tuple[str, ...] = ()
    stopped: tuple[ListRow, ...] = ()  # rows that can't be cut until it is answered


@dataclass(slots=True)
class _Group:
    """Findings with one cause."""

    findings: list[Finding]
    plaques: list[Plaque]


def build_client_questions(
    outcome: Outcome, units: Units, texts: Texts, *, plaques: Sequence[Plaque] | None = None, whole: bool = True
) -> tuple[ClientQuestion, ...]:
    """The questions of a run in the order of the list, those about the whole order first, numbered from 1.

    plaques: those of one volume of a proof, or of all. whole: with the questions about the whole order.
    """
    crowded = find_crowded_lines(outcome.plaques)
    groups: dict[tuple[object, ...], _Group] = {}
    of_order = [f for f in list_order_findings(outcome) if f.severity is not Severity.NOTE] if whole else []
    for finding in of_order:
        if words := catalogue.format_for_client(finding, units, texts):
            groups.setdefault(("order", finding.code, words), _Group([], [])).findings.append(finding)
    every = set(list_order_findings(outcome))
    for plaque in outcome.plaques if plaques is None else plaques:
        for asked in _list_asked(plaque, crowded):
            if asked in every:
                continue  # a stop of the whole order is not a question about this plaque
            finding = _requote_facts(asked, texts)
            if words := catalogue.format_for_client(finding, units, texts):
                group = groups.setdefault(_group_by_cause(finding, words), _Group([], []))
                group.findings.append(finding)
                group.plaques.append(plaque)
    return tuple(_build_question(no, group, units, texts) for no, group in enumerate(groups.values(), 1))


def _list_asked(plaque: Plaque, crowded: frozenset[int]) -> Iterable[Finding]:
    """The findings of a plaque that may be questions; the reasons why it can't be cut first."""
    if plaque.state == "ready" or is_waiting_for_maker(plaque, crowded):
        return ()
    found = [f for f in plaque.findings if f.severity is not Severity.NOTE and not is_design_fault(f, crowded)]
    return sorted(found, key=lambda f: f.severity.rank)


def _group_by_cause(finding: Finding, words: str) -> tuple[object, ...]:
    together = TOGETHER.get(finding.code)
    if together is None:
        return (finding.code, words)
    return (finding.code, *(str(finding.get_fact(name)).casefold() for name in together.cause))


def _build_question(no: int, group: _Group, units: Units, texts: Texts) -> ClientQuestion:
    first = group.findings[0]
    plaques = list({p.recipient.row: p for p in group.plaques}.values())
    with_cells = zip(group.findings, group.plaques or (None,) * len(group.findings), strict=True)
    there = (f.cell or (p.recipient.cell if p else "") for f, p in with_cells)
    cells = tuple(dict.fromkeys(filter(None, there)))
    return ClientQuestion(
        no=no,
        code=first.code,
        words=_word_question(group, units, texts),
        choices=_build_choices(first, units, texts),
        rows=tuple(p.recipient.row for p in plaques),
        cells=cells,
        names=tuple(p.name for p in plaques),
        fingerprints=tuple(dict.fromkeys(p.fingerprint for p in plaques if p.fingerprint and p.state != "stopped")),
        stopped=tuple(p.recipient.row for p in plaques if p.state == "stopped"),
    )


def _word_question(group: _Group, units: Units, texts: Texts) -> str:
    first = group.findings[0]
    together = TOGETHER.get(first.code)
    said = {catalogue.format_for_client(f, units, texts) for f in group.findings}
    if together is None or len(said) == 1 or not group.plaques:
        return catalogue.format_for_client(first, units, texts, choices=False)
    rows = list(dict.fromkeys(str(p.recipient.row) for p in group.plaques))
    names = list(
        dict.fromkeys(str(f.get_fact("text") or p.name) for f, p in zip(group.findings, group.plaques, strict=True))
    )
    more: dict[str, Fact] = {
        "count": len(group.findings),
        "rows": ", ".join(rows[:MOST_ROWS]) + (" …" if len(rows) > MOST_ROWS else ""),
        "examples": ", ".join(_quote(name, texts) for name in names[:EXAMPLES])
        + (" …" if len(names) > EXAMPLES else ""),
    }
    template = texts.find_template(build_together_id(first.code), together.words)
    return render(
        template, first, units, texts, **{name: str(value) for name, value in more.items()}, **dict(texts.always)
    )


def _quote(text: str, texts: Texts) -> str:
    return texts.render_text("proof.quoted", text=text)


def _requote_facts(finding: Finding, texts: Texts) -> Finding:
    """The finding with quoted facts in the marks of the client's language."""
    facts = tuple(
        (name, _quote(fact[1:-1], texts))
        if isinstance(fact, str) and fact[:1] == "“" and fact[-1:] == "”" and not {"“", "”"} & {*fact[1:-1]}
        else (name, fact)
        for name, fact in finding.facts
    )
    return finding if facts == finding.facts else replace(finding, facts=facts)


def _build_choices(finding: Finding, units: Units, texts: Texts) -> tuple[QuestionChoice, ...]:
    """The choices of its kind, after the first of them the ways out that a client can judge."""
    out = [
        QuestionChoice(
            code=choice.code,
            words=render(
                texts.find_template(build_choice_id(choice), choice.words), finding, units, texts, **dict(texts.always)
            ),
            means=choice.means,
        )
        for choice in list_choices(finding.code)
    ]
    offers = dict.fromkeys(
        (way.code, offer) for way in finding.ways if (offer := catalogue.offer_for_client(way, units, texts))
    )
    ways = [
        QuestionChoice(code=f"way-{n}-{code}", words=offer, means="change") for n, (code, offer) in enumerate(offers, 1)
    ]
    at = 1 if out[0].means == "as-shown" else 0
    return (*out[:at], *ways, *out[at:])
