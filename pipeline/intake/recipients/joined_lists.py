"""Joining the lists of an order: recipients compared with each other, questions settled, every row accounted for."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from pipeline.core.catalogue import FIRST_LIST_ALONE
from pipeline.core.catalogue.question_kinds import PLACEHOLDER
from pipeline.core.findings import Edit, Fact, Finding, Severity
from pipeline.core.list_row import build_list_row, get_row_number, name_in_list
from pipeline.core.model import ListSource, Recipient, RecipientList, RowOutcome
from pipeline.intake.names.capitals import find_odd_capitals
from pipeline.intake.names.list_consistency import find_inconsistent
from pipeline.intake.names.similar_names import ListedName, find_repeats
from pipeline.intake.order.settled_questions import apply_settled


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadRows:
    """One list after its rows were read, each by itself. beside_name: keys of the lettering besides the name; totals:
    findings about totals that the list states."""

    source: ListSource
    beside_name: tuple[str, ...]
    recipients: tuple[Recipient, ...]
    account: tuple[RowOutcome, ...]
    findings: tuple[Finding, ...]
    totals: tuple[Finding, ...]


PLACE_FACTS = ("row", "rows", "cell", "cells", "area", "at")
"""Facts of findings that name places in a list."""
_PLACE = re.compile("\u201c[^\u201d]*\u201d|(?:^|(?<=, ))(?=[A-Z]{0,3}[0-9]+(?:$|[,\u2013]| \u201c| to | and ))")
"""Where each of several places begins: `3, 5–7 and 2 more`, `C4 “spring 1985”, C9 “3/4/85”`; and the quoted texts,
which hold none."""


def _is_of_first_list(edit: Edit) -> bool:
    return edit.table == "list" and edit.key in FIRST_LIST_ALONE


def name_further_list(read: ReadRows, file: str) -> ReadRows:
    """Return the rows of a further list, the file added to every place that its findings name, without edits that only
    apply to the first list."""

    def name_places(finding: Finding) -> Finding:
        facts: dict[str, Fact] = dict(finding.facts)
        facts |= {name: _name_places(file, str(facts[name])) for name in PLACE_FACTS if name in facts}
        row = None if finding.row is None else build_list_row(file, get_row_number(finding.row))
        cell = finding.cell and name_in_list(file, finding.cell)
        ways = tuple(way for way in finding.ways if not any(_is_of_first_list(edit) for edit in way.edits))
        return replace(finding, row=row, cell=cell, facts=tuple(sorted(facts.items())), ways=ways, file=file)

    return replace(
        read,
        source=replace(read.source, file=file),
        recipients=tuple(
            replace(
                r,
                row=build_list_row(file, get_row_number(r.row)),
                cell=name_in_list(file, r.cell),
                cells=tuple((key, name_in_list(file, cell)) for key, cell in r.cells),
                findings=tuple(map(name_places, r.findings)),
            )
            for r in read.recipients
        ),
        account=tuple(replace(a, row=build_list_row(file, get_row_number(a.row))) for a in read.account),
        findings=tuple(map(name_places, read.findings)),
        totals=tuple(map(name_places, read.totals)),
    )


def _name_places(file: str, places: str) -> str:
    """Name each of several places of a further list."""
    first = _PLACE.match(places)
    if first is None or first[0]:
        return name_in_list(file, places)
    return _PLACE.sub(lambda found: found[0] or name_in_list(file, ""), places)


def join_lists(first: ReadRows, further: Sequence[ReadRows], settled: Mapping[str, str]) -> RecipientList:
    """Join all lists of an order, in the order given. settled: questions that the order marks as settled."""
    lists = (first, *further)
    recipients, of_list = _compare_lists(lists)
    findings = [*(f for each in lists for f in each.findings), *of_list, *(f for each in lists for f in each.totals)]
    recipients, findings = _settle(recipients, findings, settled)
    stopped = {r.row for r in recipients if any(f.severity is Severity.STOP for f in r.findings)}
    return RecipientList(
        file=first.source.file,
        sheet=first.source.sheet,
        sha256=first.source.sha256,
        header_row=first.source.header_row,
        rows=first.source.rows,
        columns=first.source.columns,
        further=tuple(each.source for each in further),
        recipients=tuple(recipients),
        account=tuple(
            replace(a, fate="stopped") if a.row in stopped and a.fate == "plaque" else a
            for each in lists
            for a in each.account
        ),
        findings=tuple(findings),
    )


def _compare_lists(lists: Sequence[ReadRows]) -> tuple[list[Recipient], list[Finding]]:
    """Return the recipients with the questions from comparing them, and the questions about the lists as a whole."""
    people = [r for each in lists for r in each.recipients]
    entries = [
        ListedName(r.row, r.cell, r.get_value(r.named), tuple(r.get_value(key) for key in each.beside_name))
        for each in lists
        for r in each.recipients
        if r.get_value(r.named)
    ]
    alike = find_repeats(entries)
    names = {e.row: (e.cell, e.name) for e in entries}
    habits, of_list = find_inconsistent(names)
    waits = {r.row for r in people for f in r.findings if f.code == PLACEHOLDER.code}
    for row, finding in find_odd_capitals(names).items():
        if row not in waits:  # that row's text is going to be replaced anyway
            habits.setdefault(row, []).append(finding)
    asked = {row: (*habits.get(row, []), *alike.get(row, [])) for row in {*habits, *alike}}
    return [replace(r, findings=r.findings + asked[r.row]) if r.row in asked else r for r in people], of_list


def _settle(
    recipients: list[Recipient], findings: list[Finding], settled: Mapping[str, str]
) -> tuple[list[Recipient], list[Finding]]:
    """Remove the questions that the order marks as settled, and record that."""
    if not settled:
        return recipients, findings
    kept, notes = apply_settled(settled, [findings, *(list(r.findings) for r in recipients)])
    return [
        r if len(found) == len(r.findings) else replace(r, findings=tuple(found))
        for r, found in zip(recipients, kept[1:], strict=True)
    ], [*kept[0], *notes]
