"""Totals of the rows of the list, as each paper states them: its own part, the rest by reason, and the sum."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from pipeline.core.language.texts import Texts
from pipeline.core.list_row import ListRow, get_row_file, parse_row
from pipeline.core.model import Outcome, RecipientList
from pipeline.core.row_selection import parse_rows

PLAQUES, LEFT_OUT, STOPPED, ELSEWHERE = "plaques", "left out", "cannot be cut", "not in this part"
FINISHED = "made already"
ONE = {PLAQUES: "plaque"}
LONGEST = 44
"""Characters of the rows that a part names."""
MOST = 4
"""Reasons for leaving out that are named."""
OPEN = "not accounted for"


@dataclass(frozen=True, slots=True)
class RowTotals:
    """The rows of the list by what became of them, in the order they are told. Each row stands in one of them, or the
    accounts are broken."""

    rows: frozenset[ListRow]  # rows of the list that aren't empty
    kinds: tuple[tuple[str, frozenset[ListRow]], ...]

    @property
    def open(self) -> tuple[ListRow, ...]:
        """Rows that stand nowhere, in two places, or not in the list."""
        seen: dict[ListRow, int] = dict.fromkeys(self.rows, 0)
        for _, rows in self.kinds:
            for row in rows:
                seen[row] = seen.get(row, 0) + 1 + (row not in self.rows)
        return tuple(sorted(row for row, times in seen.items() if times != 1))

    def describe(self) -> str:
        """`52 rows in the list: 44 on this proof, 3 cannot be cut, 5 left out.`"""
        told = [f"{len(rows)} {ONE.get(kind, kind) if len(rows) == 1 else kind}" for kind, rows in self.kinds if rows]
        told += [f"{len(self.open)} {OPEN}"] if self.open else []
        count = len(self.rows)
        rows = "row" if count == 1 else "rows"
        lists = "list" if len({get_row_file(row) for row in self.rows}) < 2 else "lists"
        return f"{count} {rows} in the {lists}: {', '.join(told) or 'none of them a plaque'}."

    def split_by_list(self, listing: RecipientList) -> tuple[tuple[str, RowTotals], ...]:
        """The file of each list, and the rows of that list alone; nothing where there is one list."""
        if not listing.further:
            return ()
        return tuple((each.file, self._count_list(each.file if n else "")) for n, each in enumerate(listing.lists))

    def _count_list(self, file: str) -> RowTotals:
        def keep_own(rows: frozenset[ListRow]) -> frozenset[ListRow]:
            return frozenset(row for row in rows if get_row_file(row) == file)

        return RowTotals(rows=keep_own(self.rows), kinds=tuple((kind, keep_own(rows)) for kind, rows in self.kinds))


def count_rows(outcome: Outcome, own: Mapping[str, Collection[ListRow]]) -> RowTotals:
    """The rows of the list for one paper. own: what the paper itself shows, by its word; the rest is told here."""
    listing = outcome.listing
    made = {p.recipient.row for p in outcome.plaques}
    stopped = frozenset(p.recipient.row for p in outcome.plaques if p.state == "stopped")
    left = frozenset(a.row for a in listing.account if a.fate == "left-out")
    done = outcome.finished_rows - list_own_rows(own)
    apart = frozenset(r.row for r in listing.recipients if r.row not in made)
    own_rows = list_own_rows(own)
    return RowTotals(
        rows=frozenset(a.row for a in listing.account),
        kinds=(
            *((word, frozenset(rows)) for word, rows in own.items()),
            (FINISHED, done),
            (STOPPED, stopped - own_rows - done),
            (ELSEWHERE, apart - own_rows - done),
            (LEFT_OUT, left),
        ),
    )


def list_own_rows(own: Mapping[str, Collection[ListRow]]) -> frozenset[ListRow]:
    """All rows that a paper shows itself."""
    return frozenset(row for rows in own.values() for row in rows)


def count_reasons(outcome: Outcome) -> dict[str, int]:
    """Why rows were left out -> how many, most first."""
    counts: dict[str, int] = {}
    for account in outcome.listing.account:
        if account.fate == "left-out":
            counts[account.reason] = counts.get(account.reason, 0) + 1
    return dict(sorted(counts.items(), key=lambda item: (-item[1], item[0])))


def describe_left_out(outcome: Outcome) -> str:
    """`Left out: the header, 2 × a totals row.` Empty when nothing was."""
    reasons = count_reasons(outcome)
    told = [reason if n == 1 else f"{n} × {reason}" for reason, n in list(reasons.items())[:MOST]]
    more = sum(list(reasons.values())[MOST:])
    told += [f"{more} for other reasons"] if more else []
    return f"Left out: {', '.join(told)}." if told else ""


def describe_part_rows(outcome: Outcome) -> str:
    """`4-20, 31`, shortened where they are many, of a run of some rows; empty for the whole list."""
    told = ", ".join(parse_rows(outcome.part).told) if outcome.part else ""
    return f"{told[:LONGEST].rpartition(',')[0]}, …" if len(told) > LONGEST else told


def _is_one_row(outcome: Outcome) -> bool:
    return parse_row(outcome.part) is not None


def describe_part(outcome: Outcome) -> str:
    """`only rows 4-20, 31`, of a run of some rows; empty for the whole list."""
    if not outcome.part:
        return ""
    return f"only row{'' if _is_one_row(outcome) else 's'} {describe_part_rows(outcome)}"


def describe_part_for_client(texts: Texts, outcome: Outcome, id: str = "proof.part") -> str:
    """The same for a client, in the words of a message."""
    return (
        texts.render_plural(id, 1 if _is_one_row(outcome) else 2, rows=describe_part_rows(outcome))
        if outcome.part
        else ""
    )
