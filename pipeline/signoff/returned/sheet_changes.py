"""What was changed in a check sheet besides the columns that were to be filled in."""

from __future__ import annotations

import unicodedata
from collections import Counter
from dataclasses import dataclass, field

from pipeline.outputs.workbooks import check_sheet as heads
from pipeline.signoff.returned.sheet_cells import Cells, Held, Workbook

NEEDED = frozenset({heads.ROW, heads.TEXT, heads.PIECES, heads.ANSWER, heads.CHANGE_TO, heads.FINGERPRINT, heads.CELL})
ASKED = frozenset({heads.ANSWER, heads.CHANGE_TO})
FILLED_IN = frozenset({heads.BY, heads.ON, heads.REMARKS})


@dataclass(slots=True)
class SheetChanges:
    """rows: number of the row in the client's list -> what was changed in it; whole: what belongs to no such row;
    gone: fingerprints of rows that were taken out."""

    rows: dict[int, str] = field(default_factory=dict)
    whole: list[str] = field(default_factory=list)
    gone: list[str] = field(default_factory=list)

    @property
    def count(self) -> int:
        return len(self.rows) + len(self.whole) + len(self.gone)


def find_header(cells: Cells) -> tuple[int, dict[str, int]]:
    """The row with the headings, and heading -> column, the first of equal ones; (0, {}) when there is none."""
    for number in sorted(cells):
        names = {held.text: column for column, held in sorted(cells[number].items(), reverse=True)}
        if names.keys() >= NEEDED:
            return number, names
    return 0, {}


def find_changes(back: Workbook, made: Workbook | None) -> SheetChanges:
    """What differs between a sheet that came back and the one that was made. made None: the sheet is not at hand, and
    only what no check sheet has is told."""
    out = SheetChanges()
    out.whole += [f"{what} was added" for what in back.added]
    cells = back.sheets[heads.SHEET]
    at, column = find_header(cells)
    for sheet, row, told in back.notes:
        number = _number(cells, column, row) if sheet == heads.SHEET and row > at else 0
        if number:
            out.rows.setdefault(number, told)
        else:
            out.whole.append(told)
    if made is None:
        return out
    _of_rows(out, cells, made.sheets[heads.SHEET])
    for name, page in back.sheets.items():
        if name != heads.SHEET:
            _of_page(out, name, page, made.sheets.get(name, {}))
    return out


def _number(cells: Cells, column: dict[str, int], row: int) -> int:
    held = cells.get(row, {}).get(column.get(heads.ROW, 0))
    return int(held.text) if held is not None and held.text.isdecimal() and len(held.text) < 8 else 0


def _of_rows(out: SheetChanges, cells: Cells, sent: Cells) -> None:
    at, column = find_header(cells)
    sent_at, sent_column = find_header(sent)
    first = {_number(sent, sent_column, n): row for n, row in sent.items() if n > sent_at}
    own = {n: name for n, held in cells[at].items() if (name := held.text) not in sent_column or column[name] != n}
    columns = {n for row in cells.values() for n in row}
    used = dict.fromkeys(columns - set(column.values()) | own.keys(), 0)
    met: Counter[int] = Counter()
    for n in sorted(cells):
        if n == at:
            continue
        row, number = cells[n], _number(cells, column, n)
        if n < at or number not in first:
            said = "; ".join(held.text for held in row.values())
            out.whole.append(f"row {n} of it says “{said[:80]}”")
            continue
        met[number] += 1
        for place, held in sorted(row.items()):
            if place in used:
                used[place] += 1
                out.rows.setdefault(number, f"“{held.text[:80]}” is written beside it")
        told = _row_changes(row, column, first[number], sent_column)
        if told:
            out.rows.setdefault(number, told)
    out.whole += [f"a column “{own[n][:60]}” was added" for n, count in used.items() if not count and n in own]
    for number, row in first.items():
        if met[number] > 1:
            out.rows[number] = "its row stands more than once"
        elif not met[number] and number:
            mark = row.get(sent_column[heads.FINGERPRINT])
            if mark is not None:
                out.gone.append(mark.text)


def _row_changes(
    row: dict[int, Held], column: dict[str, int], sent: dict[int, Held], sent_column: dict[str, int]
) -> str:
    """What differs in the cells of one row that nobody was asked to fill in, in words."""
    nothing = Held("")
    for name, place in sent_column.items():
        if name not in column:
            continue
        now, before = row.get(column[name], nothing), sent.get(place, nothing)
        if now.struck and not before.struck:
            return f"“{now.text[:60]}” is struck through"
        if name in ASKED:
            continue
        if not same_text(now.text, before.text):
            if not before.text:
                return f"“{now.text[:80]}” is written under “{name}”"
            return f"“{name}” now reads “{now.text[:80]}” and was “{before.text[:80]}”"
        if now.text and now.fill != before.fill:
            return f"“{now.text[:60]}” is marked with a colour"
    return ""


def _of_page(out: SheetChanges, name: str, page: Cells, sent: Cells) -> None:
    """Another sheet of the workbook; where one signs, the three places to fill in are no change."""
    for n in sorted(page):
        row, before = page[n], sent.get(n, {})
        label = row[1].text if 1 in row else ""
        for place, held in row.items():
            if name == heads.SIGN_SHEET and label in FILLED_IN and place == 2 and not held.struck:
                continue
            was = before.get(place, Held(""))
            if not same_text(held.text, was.text) or (held.struck and not was.struck):
                out.whole.append(f"“{held.text[:80]}” is written on the sheet “{name[:40]}”")


def same_text(one: str, other: str) -> bool:
    """Whether two cells read the same: programs write numbers with more or fewer digits, and line ends their way."""
    if one == other:
        return True
    try:
        return abs(float(one) - float(other)) <= 1e-6 * max(1.0, abs(float(other)))
    except ValueError:
        return _evened(one) == _evened(other)


def _evened(text: str) -> str:
    return " ".join(unicodedata.normalize("NFC", text).replace("_x000D_", "").split())
