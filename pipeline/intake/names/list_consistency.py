"""The habits of a list, and the names that differ: titles, suffixes, ampersands, apostrophes."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from pipeline.core.catalogue import list_kinds, question_kinds
from pipeline.core.findings import Fact, Finding, Kind, build_finding
from pipeline.core.list_row import ListRow
from pipeline.intake.names.wording import shorten

Names = Mapping[ListRow, tuple[str, str]]
"""Row → (cell, name as it will be cut)."""

LEAST = 4
"""Fewest names for a list to have habits."""
MOST_ASKED = 3
"""Most names that are asked about one by one; beyond, there is one question about the list."""


@dataclass(frozen=True, slots=True)
class OddNames:
    """Names that differ from the rest: a question for each by row, and one wording for the list."""

    kind: Kind
    rows: dict[ListRow, dict[str, Fact]]
    how: str  # completes “5 of 60 names …”
    total: int


def find_inconsistent(names: Names) -> tuple[dict[ListRow, list[Finding]], list[Finding]]:
    """Return questions by row about names that differ from most of the list, and questions about the whole list."""
    by_row: dict[ListRow, list[Finding]] = defaultdict(list)
    of_list: list[Finding] = []
    if len(names) < LEAST:
        return by_row, of_list
    for odd in (
        *_check_courtesy(names),
        *_check_title_spelling(names),
        *_check_ampersands(names),
        *_check_apostrophes(names),
    ):
        if len(odd.rows) > MOST_ASKED:
            rows = sorted(odd.rows)
            shown = ", ".join(map(str, rows[:12])) + (f" and {len(rows) - 12} more" if len(rows) > 12 else "")
            facts: dict[str, Fact] = {"count": len(rows), "total": odd.total, "how": odd.how, "rows": shown}
            of_list.append(build_finding(list_kinds.TWO_WAYS, facts=facts))
            continue
        for row, facts in odd.rows.items():
            cell, name = names[row]
            by_row[row].append(build_finding(odd.kind, row=row, cell=cell, facts={"text": shorten(name), **facts}))
    return by_row, of_list


_COURTESY = re.compile(
    r"m\.(?=\s)|(?:mr|mrs|ms|miss|mx|herr|frau|mme|mlle|monsieur|madame|sig|sra?|señora?|dhr|mevr)\b\.?(?=\s)", re.I
)
_ANY_TITLE = re.compile(
    r"(?:dr|prof|professor|doctor|sir|dame|lord|lady|rev|revd|reverend|the|capt|captain|maj|major|col|colonel|gen|"
    r"general|lt|lieutenant|sgt|cpl|adm|cdr|cllr|judge|fr|father|sister|brother|canon|bishop|dean|rabbi|imam|hon)\b\.?",
    re.I,
)


def _check_courtesy(names: Names) -> Iterator[OddNames]:
    """Check for Mr and Mrs with some names and not with others."""
    with_title = {row for row, (_, name) in names.items() if _COURTESY.match(name)}
    bare = {row for row, (_, name) in names.items() if row not in with_title and not _ANY_TITLE.match(name)}
    total = len(with_title) + len(bare)
    if not with_title or not bare or total < LEAST:
        return
    fewer, how, of_list = (
        (with_title, "has a courtesy title; most of the list doesn't", "have a courtesy title")
        if len(with_title) <= len(bare)
        else (bare, "has no courtesy title; most of the list does", "have no courtesy title")
    )
    yield OddNames(question_kinds.TITLE_ODD, {row: {"how": how} for row in sorted(fewer)}, of_list, total)


_FORMS = {
    "dr": r"Dr\.?|Doctor|DR\.?",
    "prof": r"Prof\.?|Professor|PROF\.?",
    "rev": r"(?:The )?(?:Revd\.?|Rev\.?|Reverend)",
    "capt": r"Capt\.?|Captain|Cpt\.?",
    "mr": r"Mr\.?",
    "mrs": r"Mrs\.?",
    "ms": r"Ms\.?",
    "jr": r",? J(?:n?r|unior)\.?",
    "sr": r",? S(?:n?r|enior)\.?",
    "phd": r",? P[hH]\.? ?D\.?",
    "obe": r",? O\.?B\.?E\.?",
    "mbe": r",? M\.?B\.?E\.?",
}
_AT_END = ("jr", "sr", "phd", "obe", "mbe")


def _check_title_spelling(names: Names) -> Iterator[OddNames]:
    """Check for one title written in two ways: Dr and Dr., Jr and Junior."""
    for key, pattern in _FORMS.items():
        compiled = re.compile(rf"({pattern})$" if key in _AT_END else rf"({pattern})(?=\s)")
        used: dict[str, list[ListRow]] = defaultdict(list)
        for row, (_, name) in names.items():
            match = compiled.search(name) if key in _AT_END else compiled.match(name)
            if match and (key not in _AT_END or match.start() > 0):
                used[match[1].strip()].append(row)
        if len(used) < 2:
            continue
        usual = max(used, key=lambda form: len(used[form]))  # of equal counts the first wins
        total = sum(map(len, used.values()))
        for form, rows in used.items():
            if form != usual:
                how = f"“{form}” where the list also has “{usual}”"
                yield OddNames(
                    question_kinds.TITLE_ODD,
                    {row: {"how": f"has {how}"} for row in rows},
                    f"with this title have {how}",
                    total,
                )


_AND = re.compile(r"(?<=[^\W\d_.] )(and|und|et|y|e|&|og|och|en)(?= [^\W\d_])")


_FIRM = re.compile(
    r"^the\b|\b(?:ltd|limited|plc|inc|llc|gmbh|kg|ag|bv|sarl|srl|s\.?a\.?|co|company|sons|daughters|brothers|bros|trust|"
    r"society|club|bank|school|college|team|crew|friends|families|members|volunteers|staff|partners|associates|"
    r"foundation|council|church|hall|house|works|group)\b",
    re.I,
)
"""Words of firms and societies, which write their own names as they like."""


def _check_ampersands(names: Names) -> Iterator[OddNames]:
    """Check for “&” in some names and “and” in others."""
    signs, words = {}, {}
    for row, (_, name) in names.items():
        joined = set(_AND.findall(name))
        if not joined or _FIRM.search(name):
            continue
        if "&" in joined:
            signs[row] = "&"
        elif word := joined & {"and", "und", "et", "og", "och"}:
            words[row] = min(word)
    if not signs or not words:
        return
    at = {row: number for number, row in enumerate(names)}
    fewer, more = sorted((signs, words), key=lambda rows: (len(rows), -max(at[row] for row in rows)))
    usual = Counter(more.values()).most_common(1)[0][0]
    rows: dict[ListRow, dict[str, Fact]] = {row: {"found": mark, "usual": usual} for row, mark in fewer.items()}
    marks = " or ".join(f"“{mark}”" for mark in sorted(set(fewer.values())))
    yield OddNames(
        question_kinds.AMPERSAND_ODD, rows, f"of couples have {marks}, the others “{usual}”", len(signs) + len(words)
    )


_INSIDE = re.compile(r"[^\W\d_](['’ʼ`´])[^\W\d_]")
_NAMED = {"'": "a straight apostrophe", "’": "a curled apostrophe", "ʼ": "a modifier apostrophe"}


def _check_apostrophes(names: Names) -> Iterator[OddNames]:
    """Check for straight apostrophes in some names and curled ones in others."""
    used: dict[str, list[ListRow]] = defaultdict(list)
    for row, (_, name) in names.items():
        for mark in dict.fromkeys(_INSIDE.findall(name)):
            used[mark].append(row)
    if len(used) < 2:
        return
    usual = max(used, key=lambda mark: (len(used[mark]), mark == "’"))
    total = sum(map(len, used.values()))
    for mark, rows in used.items():
        if mark != usual:
            found, other = _NAMED.get(mark, "an accent"), _NAMED.get(usual, "an accent")
            facts: dict[str, Fact] = {"found": found, "usual": other}
            yield OddNames(
                question_kinds.APOSTROPHE_ODD, dict.fromkeys(rows, facts), f"have {found}, the others {other}", total
            )
