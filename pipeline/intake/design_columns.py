"""The columns of a new list for a design that was made for another: by heading, by meaning, by likeness.

Only an unchanged heading, or the heading of names, copies or language, counts as certain.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from rapidfuzz import fuzz

from pipeline.intake.new_order import ListChoice, NewOrderPlan, is_numbering
from pipeline.intake.recipients.headings import COPIES, LANGUAGE, find_meaning, fold_heading, guess_columns
from pipeline.intake.spreadsheet.sheet import parse_column

ALIKE = 70.0
"""Percentage from which headings count as the same (RapidFuzz's token sort ratio). Our own choice: “Year” and “Years”
have 89, “Year of award” and “Award year” 87, “Born” and “Born in” 73, “Winner” and “Runner” 67, “Name” and “Games”
67."""

_CERTAIN = ("name", COPIES, LANGUAGE)
"""Meanings for which a heading in other words counts as the same."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MatchedColumns:
    """Keys of the design with their columns in the new list, and keys without a column."""

    columns: tuple[tuple[str, ListChoice], ...]
    missing: tuple[str, ...]
    used: frozenset[int]  # columns of the list


def match_columns(
    plan: NewOrderPlan, needed: Sequence[str], before: Mapping[str, Sequence[str]], drawings: str = ""
) -> MatchedColumns:
    """Find a column for every key.

    needed: keys that the design's texts and files name. before: keys -> headings in the list it was made for; keys that
    nothing needs are looked for too, but not reported as missing. drawings: the key of `needed` whose cells name
    drawings.
    """
    matcher = _Matcher(plan, before, drawings)
    keys = list(dict.fromkeys([*needed, *before, *(key for key in (COPIES, LANGUAGE) if key in plan.found.map.at)]))
    for step in (
        matcher.match_same_heading,
        matcher.match_drawing_names,
        matcher.match_same_meaning,
        matcher.match_most_alike,
    ):
        for key in keys:
            if key not in matcher.found:
                step(key)
    return MatchedColumns(
        columns=tuple((key, matcher.found[key]) for key in keys if key in matcher.found),
        missing=tuple(key for key in needed if key not in matcher.found),
        used=frozenset(matcher.taken),
    )


class _Matcher:
    """The matching steps; each column is assigned once."""

    def __init__(self, plan: NewOrderPlan, before: Mapping[str, Sequence[str]], drawings: str) -> None:
        self.plan, self.list, self.before, self.drawings = plan, plan.found, before, drawings
        self.found: dict[str, ListChoice] = {}
        self.taken: set[int] = set()
        self.by_heading: dict[str, list[int]] = {}
        for column, heading in self.list.heads.items():
            self.by_heading.setdefault(fold_heading(heading), []).append(column)

    def _take(self, key: str, where: Sequence[int], why: str = "", *, sure: bool) -> None:
        if where and not set(where) & self.taken:
            self.found[key] = self.list.build_choice(where, why, sure=sure)
            self.taken |= set(where)

    def _list_headings(self, key: str) -> list[str]:
        """List a key's earlier headings; its own name where none are known."""
        return [fold_heading(text) for text in self.before.get(key, ())] or [fold_heading(key)]

    def match_same_heading(self, key: str) -> None:
        """Match columns with the same heading, each once; in a list without headings, the same letters."""
        if not self.list.heads:
            letters = [parse_column(text.strip()) for text in self.before.get(key, ())]
            where = [column for column in letters if column in self.list.filled]
            if where and len(where) == len(letters) and key != "name":
                self._take(key, where, "the same letter as before", sure=False)
            return
        where = [places[0] for text in self._list_headings(key) if len(places := self.by_heading.get(text, [])) == 1]
        if len(where) == len(self._list_headings(key)):
            self._take(key, where, sure=True)

    def match_drawing_names(self, key: str) -> None:
        """Match the column whose cells name existing drawings."""
        badge = self.plan.badge
        if key == self.drawings and badge is not None:
            self._take(key, [badge.column], badge.choice.why.partition(": ")[2], sure=False)

    def match_same_meaning(self, key: str) -> None:
        """Match a column with another heading of the same meaning."""
        at = self.list.map.at
        for meaning in self._list_meanings(key):
            where = at.get(meaning, ())
            if not where or set(where) & self.taken:
                free = {column: head for column, head in self.list.heads.items() if column not in self.taken}
                where = guess_columns(free, [meaning]).get(meaning, ())
            if meaning == COPIES:
                where = tuple(c for c in where if not is_numbering(self.list.rows, c, self.list.heads.get(c, "")))
            if where and not set(where) & self.taken:
                sure = meaning in _CERTAIN and self.plan.header.sure
                said = " ".join(self.before.get(key, ()))
                self._take(key, where, "" if sure or not said else f"in place of “{said}”", sure=sure)
                return

    def _list_meanings(self, key: str) -> Iterator[str]:
        yield key
        for text in (*self.before.get(key, ()), key.replace("_", " ")):
            meaning = find_meaning(text)
            if meaning in ("first", "last", "middle"):
                meaning = "name"
            if meaning:
                yield meaning

    def match_most_alike(self, key: str) -> None:
        """Match the unassigned column whose heading is most like an earlier one."""
        free = [column for column in self.list.heads if column not in self.taken]
        words = self._list_headings(key)
        score = {c: max(fuzz.token_sort_ratio(w, fold_heading(self.list.heads[c])) for w in words) for c in free}
        best = max(free, key=lambda column: score[column], default=None)
        if best is not None and score[best] >= ALIKE:
            said = " ".join(self.before.get(key, (key,)))
            self._take(key, [best], f"its heading is most like “{said}”", sure=False)
