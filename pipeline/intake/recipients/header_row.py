"""Finding the header of a sheet, in one row or in two, and the columns of each key.

*Heading*: a column's name in the sheet. *Key*: its name in the order (`name`, `post`, `copies` …).
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from pipeline.core.errors import CannotRun, Fault
from pipeline.intake.order.error_messages import find_nearest_name
from pipeline.intake.recipients.header_guess import (
    HEADER,
    SURE,
    find_name_columns,
    find_several_words,
    guess_by_shape,
    is_heading_word,
    is_name,
    is_row_of_names,
    is_title,
)
from pipeline.intake.recipients.headings import find_meaning, fold_heading, guess_columns
from pipeline.intake.spreadsheet.sheet import Row, Sheet, describe_row, format_column, parse_column

SEARCHED = 200
"""Rows with content in which a header is sought. Common practice: lists have it among the first ten."""
MOST_BELOW = 1000
"""Rows that are examined to find the column of the names."""


@dataclass(frozen=True, slots=True)
class ColumnMap:
    """The position of the header, and the columns of each key."""

    header: int  # its last row; 0 for a sheet without one
    where: tuple[tuple[str, tuple[int, ...]], ...]  # our key -> columns, whose values are joined with a space
    guessed: bool = False
    first: int = 0  # its first row if it has two, else 0

    @property
    def at(self) -> dict[str, tuple[int, ...]]:
        return dict(self.where)


@dataclass(frozen=True, slots=True)
class Header:
    """A header: its rows, and the possible names of its columns."""

    first: int
    last: int
    heads: dict[int, str]  # column -> heading
    also: tuple[tuple[str, tuple[int, ...]], ...] = ()  # additional names: “Name First”, “Name” over First and Last

    def index_headings(self) -> dict[str, list[tuple[int, ...]]]:
        """Return folded heading → the columns it may mean."""
        out: dict[str, list[tuple[int, ...]]] = {}
        for text, columns in (*((text, (column,)) for column, text in self.heads.items()), *self.also):
            places = out.setdefault(fold_heading(text), [])
            if columns not in places:
                places.append(columns)
        return out

    def assign_meanings(self, wanted: Iterable[str] = (), several: Collection[int] = ()) -> dict[str, tuple[int, ...]]:
        """Return our keys by the meaning of the headings; nothing for a row too wide or too wordy to be a header."""
        if len(self.heads) > 60 or any(len(text) > 80 for text in self.heads.values()):
            return {}
        return guess_columns(self.heads, wanted, several)


def read_headers(row: Row) -> dict[int, str]:
    """Read column → heading from the row's cells that hold text (numbers count: a year can head a column)."""
    return {cell.column: cell.shown for cell in row.cells if cell.shown.strip()}


def list_headers(sheet: Sheet) -> Iterator[Header]:
    """List candidates for the header: each of the first rows, and each pair of them that belongs together."""
    rows = sheet.rows[:SEARCHED]
    for row in rows:
        yield Header(row.number, row.number, read_headers(row))
    for upper, lower in itertools.pairwise(rows):
        if lower.number == upper.number + 1 and (two := _join_two_rows(sheet, upper, lower)):
            yield two


def _join_two_rows(sheet: Sheet, upper: Row, lower: Row) -> Header | None:
    """Join a header in two rows: “Name” over “First” and “Last”, or one below the other in two languages.

    None when the rows don't belong together.
    """
    over, under = read_headers(upper), read_headers(lower)
    spans = [(a, b, c, d) for a, b, c, d in sheet.merged if a == upper.number and b in over]
    wide = {b: d for a, b, c, d in spans if d > b and c == a and sum(x in under for x in range(b, d + 1)) > 1}
    tall = {b for a, b, c, d in spans if c == lower.number}
    if not (wide or (tall and under)):  # no merged cells: the lower row must then consist of headings
        if spans or not under or not all(is_heading_word(text) for text in under.values()):
            return None
        if set(over) == set(under):
            return _join_two_languages(upper, lower)
        wide = {b: _find_last_below(b, over, under) for b in over if b in under}
        wide = {b: last for b, last in wide.items() if last > b}
        if not wide:
            return None
    elif (single := set(over) - set(wide) - tall) and single <= set(under):
        return None  # every heading has a value below it: the lower row is the first of the list
    heads = {**over, **under}
    also: list[tuple[str, tuple[int, ...]]] = []
    for column, last in wide.items():
        group = tuple(c for c in range(column, last + 1) if c in under)
        also.append((over[column], group))
        for c in group:
            heads[c] = f"{over[column]} / {under[c]}"
            also += [(f"{over[column]} {under[c]}", (c,)), (under[c], (c,))]
    for column in set(over) & set(under) - set(wide):
        heads[column] = f"{over[column]} / {under[column]}"
        also += [(text, (column,)) for text in (over[column], under[column], f"{over[column]} {under[column]}")]
    return Header(upper.number, lower.number, dict(sorted(heads.items())), tuple(also))


def _join_two_languages(upper: Row, lower: Row) -> Header | None:
    """Join a header and its translation: half of the columns or more mean the same in both rows."""
    over, under = read_headers(upper), read_headers(lower)
    same = [c for c in over if find_meaning(over[c]) is not None and find_meaning(over[c]) == find_meaning(under[c])]
    if not same or 2 * len(same) < len(over):
        return None
    also = [(text, (c,)) for c in over for text in (over[c], under[c])]
    return Header(upper.number, lower.number, {c: f"{over[c]} / {under[c]}" for c in over}, tuple(also))


def _find_last_below(column: int, over: Mapping[int, str], under: Mapping[int, str]) -> int:
    """Find the last column of the group below a heading without merged cells."""
    last = column
    while last + 1 in under and last + 1 not in over:
        last += 1
    return last


def find_columns(
    sheet: Sheet, given: Mapping[str, str | Sequence[str]], header: int | None, wanted: Iterable[str]
) -> ColumnMap:
    """Find the header row and the columns of each key.

    `given` is the order's `columns`, `header` its `header`, `wanted` the keys its lines name. CannotRun when the header
    or a column is missing, with what was found and what is nearest.
    """
    headings = {key: (word,) if isinstance(word, str) else tuple(word) for key, word in given.items()}
    if header == 0:
        return _map_without_header(sheet, headings)
    if header is None and not headings:
        return _guess_columns(sheet, tuple(wanted), None)
    every = list(list_headers(sheet))
    if header is not None:
        every = [head for head in every if head.last == header] or [
            Header(header, header, read_headers(row)) for row in sheet.rows if row.number == header
        ]
        if not every:
            raise CannotRun(
                Fault(
                    where=f"{sheet.path}, sheet “{sheet.name}”",
                    found=f"row {header} is blank, but [list] header names it",
                    expected="the row with the headings",
                    remedy=describe_rows(sheet),
                )
            )
    if not headings:
        return _guess_columns(sheet, tuple(wanted), every)
    words = [fold_heading(word) for words in headings.values() for word in words]
    best = _choose_better(every, [_count_hits(head, words) for head in every])
    if best is None or (header is None and _count_hits(best, words) == 0):
        raise CannotRun(
            Fault(
                where=f"{sheet.path}, sheet “{sheet.name}”",
                found="no row has any of the headings of [list] columns",
                expected=", ".join(f"“{word}”" for words in headings.values() for word in words),
                remedy=describe_rows(sheet),
            )
        )
    return _map_columns(sheet, best, headings)


def _choose_better(every: Sequence[Header], scores: Sequence[int]) -> Header | None:
    """Choose the header with most meanings, the first of equals; but two rows win over their upper row alone."""
    best: tuple[int, Header] | None = None
    for head, score in zip(every, scores, strict=True):
        whole = best is not None and score == best[0] and head.first == best[1].last and head.last > best[1].last
        if best is None or score > best[0] or whole:
            best = (score, head)
    return best[1] if best is not None else None


@dataclass(frozen=True, slots=True)
class HeaderGuess:
    """The most likely header, with the columns of our keys; no `head` for a list without one."""

    head: Header | None
    keys: dict[str, tuple[int, ...]]
    sure: bool
    why: str


def guess_header(sheet: Sheet, wanted: Sequence[str] = ()) -> HeaderGuess:
    """Guess the header whose headings mean most, a name among them; else the row that has the shape of one."""
    every = list(list_headers(sheet))
    several = find_several_words(sheet)
    found = [head.assign_meanings(wanted, several) for head in every]
    named = [(head, keys) for head, keys in zip(every, found, strict=True) if "name" in keys]
    scores = [len(keys) + sum(key in keys for key in wanted) for _, keys in named]
    best = _choose_better([head for head, _ in named], scores)
    by_shape = guess_by_shape(sheet)
    if sheet.message:
        return _guess_in_message(sheet, best)
    if best is not None:
        keys = next(keys for head, keys in named if head is best)
        # a single word may be a title (“Winners”) above the header, or a section heading further down
        points = next((s.points for s in by_shape if s.row.number == best.last), 0.0)
        if len(keys) > 1 or len(best.heads) > 1 or points >= HEADER or not by_shape:
            two = f"rows {best.first} and {best.last} have" if best.first != best.last else f"row {best.last} has"
            if is_row_of_names(best.heads.values()):
                return HeaderGuess(
                    best, keys, False, f"{two} headings, but names too: the list may lie across the sheet"
                )
            return HeaderGuess(best, keys, True, f"{two} the headings")
    top = max(by_shape, key=lambda s: (s.points, -s.row.number), default=None)
    if top is None or top.points < HEADER:
        name = find_name_columns(sheet.rows[:MOST_BELOW])
        return HeaderGuess(None, {"name": name} if name else {}, False, "no row looks like headings")
    head = Header(top.row.number, top.row.number, read_headers(top.row))
    keys = {key: where for key, where in head.assign_meanings(wanted, several).items() if key == "name" or
            not set(where) & set(top.name)}  # fmt: skip
    sure = top.points >= SURE and "name" in keys
    by_its_shape = "" if "name" in keys else ", by its shape: none of its words means a name"
    return HeaderGuess(head, {"name": top.name, **keys}, sure, f"row {head.last} looks like headings{by_its_shape}")


def may_hold_names(sheet: Sheet) -> bool:
    """Return whether a sheet may be a list of names: what looks like headings over a row, or two names without."""
    guess = guess_header(sheet)
    if guess.head is not None:
        return any(row.number > guess.head.last for row in sheet.rows)
    named = guess.keys.get("name", ())
    cells = (cell for row in sheet.rows[:MOST_BELOW] for cell in row.cells if cell.column in named)
    return sum(is_name(cell.shown) for cell in cells) > 1


def _guess_in_message(sheet: Sheet, best: Header | None) -> HeaderGuess:
    """Guess the header of a pasted list: only a line “Name” and nothing else; the shape of a line proves nothing."""
    rows = [row for row in sheet.rows if not describe_row(sheet, row).part]
    name = find_name_columns((rows or sheet.rows)[:MOST_BELOW])
    over = [row.cells[-1].shown for row in rows if best is not None and row.number < best.last]
    if (
        best is not None
        and all(map(is_title, over))
        and {find_meaning(text) for text in best.heads.values()} == {"name"}
    ):
        return HeaderGuess(best, {"name": (max(best.heads),)}, True, f"row {best.last} has the heading")
    return HeaderGuess(None, {"name": name} if name else {}, False, "it is a list of one name a line, without headings")


def _count_hits(head: Header, words: Sequence[str]) -> int:
    have = head.index_headings()
    return sum(word in have for word in words)


def describe_rows(sheet: Sheet, count: int = 4) -> str:
    """Describe the first rows, so that the maker sees what the tool saw."""
    if not sheet.rows:
        return "the sheet is empty"
    said = []
    for row in sheet.rows[:count]:
        cells = ", ".join(f"“{cell.shown[:30]}”" for cell in row.cells[:8])
        said.append(f"row {row.number} has {cells}")
    more = len(sheet.rows) - count
    return "; ".join(said) + (f"; +{more} more rows" if more > 0 else "")


def _map_columns(sheet: Sheet, head: Header, headings: Mapping[str, Sequence[str]]) -> ColumnMap:
    named = head.index_headings()
    where: list[tuple[str, tuple[int, ...]]] = []
    faults = []
    place = f"{sheet.path}, sheet “{sheet.name}” row {head.last}"
    for key, words in headings.items():
        columns: list[int] = []
        for word in words:
            there = named.get(fold_heading(word), [])
            if len(there) > 1:
                there = [group for group in there if not set(group) <= sheet.hidden_columns] or there
            if len(there) > 1:
                first = format_column(there[0][0])
                faults.append(
                    Fault(
                        where=place,
                        found=f"“{word}” heads {len(there)} columns: {', '.join(format_column(g[0]) for g in there)}",
                        expected=f"one column for {key}",
                        remedy=f'give the column by its letter, e.g. {key} = "column {first}"; of two lists side by '
                        f'side take one with area = "{first}{head.first}:…" in [list]',
                    )
                )
            elif there:
                columns += there[0]
            elif (lettered := _parse_letter(word)) is not None:
                columns.append(lettered)
            else:
                seen = [text.strip() for text in head.heads.values()]
                hint = find_nearest_name(word, seen)
                faults.append(
                    Fault(
                        where=place,
                        found=f"no column is headed “{word}”, which [list] columns wants for {key}",
                        expected=f"one of the headings there: {', '.join(f'“{text}”' for text in seen)}",
                        remedy=hint if hint.startswith("did you") else "correct [list] columns, or the header row",
                    )
                )
        where.append((key, tuple(columns)))
    if faults:
        raise CannotRun(faults)
    return ColumnMap(head.last, tuple(where), first=head.first if head.first != head.last else 0)


def _parse_letter(word: str) -> int | None:
    """Parse “column B”, which names a column by its letter."""
    found = re.fullmatch(r"\s*col(?:umn)?\.?\s+([A-Za-z]{1,3})\s*", word)
    return parse_column(found[1]) if found else None


def _map_without_header(sheet: Sheet, headings: Mapping[str, Sequence[str]]) -> ColumnMap:
    """Map columns for header = 0: they are named by their letters; by default the first is the name."""
    if not headings:
        first = min((cell.column for row in sheet.rows for cell in row.cells), default=1)
        return ColumnMap(0, (("name", (first,)),))
    where, faults = [], []
    for key, words in headings.items():
        columns = []
        for word in words:
            column = _parse_letter(word) or parse_column(word.strip())
            if column is None:
                faults.append(
                    Fault(
                        where=f"{sheet.path}, sheet “{sheet.name}”",
                        found=f"“{word}” isn't a column's letter, and header = 0 says the list has no headings",
                        expected='a letter for each key, e.g. columns = { name = "A" }',
                    )
                )
            else:
                columns.append(column)
        where.append((key, tuple(columns)))
    if faults:
        raise CannotRun(faults)
    return ColumnMap(0, tuple(where))


def _guess_columns(sheet: Sheet, wanted: tuple[str, ...], every: Sequence[Header] | None) -> ColumnMap:
    """Choose the header whose headings mean most, when the order names no columns. `every`: only these headers."""
    if every is None:
        guess = guess_header(sheet, wanted)
        head, keys, sure = guess.head, guess.keys, guess.sure
    else:
        several = find_several_words(sheet, every[0].last)
        head = _choose_better(every, [len(each.assign_meanings(wanted, several)) for each in every]) or every[0]
        keys, sure = head.assign_meanings(wanted, several), True
        if "name" not in keys and (
            name := find_name_columns([r for r in sheet.rows if r.number > head.last][:MOST_BELOW])
        ):
            keys, sure = {"name": name, **keys}, False
    missing = [key for key in wanted if key not in keys]
    if "name" not in keys or missing:
        seen = "" if head is None else ", ".join(f"“{text.strip()}”" for text in head.heads.values())
        raise CannotRun(
            Fault(
                where=f"{sheet.path}, sheet “{sheet.name}”",
                found=f"no heading tells which column holds {', '.join(missing or ['name'])}",
                expected='a header row, or [list] columns = { name = "its heading" }, or header = 0 for a list without',
                remedy=describe_rows(sheet) if head is None else f"row {head.last} has {seen}",
            )
        )
    if head is None:
        return ColumnMap(0, tuple(keys.items()), guessed=True)
    first = head.first if head.first != head.last else 0
    return ColumnMap(head.last, tuple(keys.items()), guessed=not sure, first=first)
