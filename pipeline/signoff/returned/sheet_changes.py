"""Changes in a check sheet outside the columns to fill in."""

from __future__ import annotations

import unicodedata
from collections import Counter
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field

from pipeline.core.list_row import ListRow, parse_row
from pipeline.core.required import require_value
from pipeline.outputs.workbooks import check_sheet as heads
from pipeline.signoff.returned.sheet_cells import Cells, Held, Workbook
from pipeline.signoff.returned.sheet_places import Places, find_places
from pipeline.signoff.returned.sheet_questions import FILLED_IN as QUESTION_CELLS
from pipeline.signoff.returned.sheet_questions import build_question_page

ASKED = frozenset({heads.ANSWER, heads.CHANGE_TO})
FILLED_IN = (heads.BY, heads.ON, heads.REMARKS)


@dataclass(slots=True)
class SheetChanges:
    """rows: number of the row in the client's list -> what was changed in it; whole: what belongs to no such row;
    gone: fingerprints of rows that were taken out."""

    rows: dict[ListRow, str] = field(default_factory=dict)
    whole: list[str] = field(default_factory=list)
    gone: list[str] = field(default_factory=list)

    @property
    def count(self) -> int:
        return len(self.rows) + len(self.whole) + len(self.gone)


def find_changes(back: Workbook, made: Workbook | None) -> SheetChanges:
    """Find what differs between a returned check sheet and the one that was made. made None: that sheet is not at hand,
    and only what no check sheet has is reported."""
    out = SheetChanges()
    ours = () if made is None else made.added  # the check sheet has charts itself
    out.whole += [f"{what} was added" for what in back.added if what not in ours]
    at = require_value(find_places(back), "a workbook that was understood")
    cells = back.sheets[at.sheet]
    for sheet, row, told in back.notes:
        number = _get_listed_row(cells, at.columns, row) if sheet == at.sheet and row > at.header else 0
        if number:
            out.rows.setdefault(number, told)
        else:
            out.whole.append(told)
    sent_at = find_places(made) if made is not None else None
    if made is None or sent_at is None:
        out.whole += [f"the heading “{at.find_heading(back, key)}” was not on the sheet as sent" for key in at.renamed]
        return out
    _compare_rows(out, cells, at, made.sheets[sent_at.sheet], sent_at)
    asked = build_question_page(back)
    for name, page in back.sheets.items():
        if name != at.sheet:
            was = sent_at.sign if name == at.sign else name
            filled_in = {at.labels.get(key, 0) for key in FILLED_IN} if name == at.sign else set()
            if name == asked:
                _compare_page(
                    out, name, page, made.sheets.get(build_question_page(made), {}), {*page} - {1}, QUESTION_CELLS
                )
            else:
                _compare_page(out, name, page, made.sheets.get(was, {}), filled_in)
    return out


def _get_listed_row(cells: Cells, column: Mapping[str, int], row: int) -> ListRow:
    """The row of the client's list that a row of the sheet is about; 0: it names none."""
    held = cells.get(row, {}).get(column.get(heads.ROW, 0))
    return (parse_row(held.text) if held is not None else None) or 0


def _compare_rows(out: SheetChanges, cells: Cells, at: Places, sent: Cells, sent_at: Places) -> None:
    column, sent_column = at.columns, sent_at.columns
    first = {_get_listed_row(sent, sent_column, n): row for n, row in sent.items() if n > sent_at.header}
    names = {place: name for name, place in column.items()}
    own = {n: held.text for n, held in cells[at.header].items() if names.get(n) not in sent_column}
    headings = {name: held.text for name, n in sent_column.items() if (held := sent[sent_at.header].get(n))}
    for name, heading in headings.items():
        now = cells[at.header].get(column.get(name, 0))
        if name in column and (now is None or not is_same_text(now.text, heading)):
            out.whole.append(f"the heading “{heading}” now reads “{now.text[:60] if now else ''}”")
    columns = {n for row in cells.values() for n in row}
    used = dict.fromkeys(columns - set(column.values()) | own.keys(), 0)
    met: Counter[ListRow] = Counter()
    for n in sorted(cells):
        if n == at.header:
            continue
        row, number = cells[n], _get_listed_row(cells, column, n)
        if n < at.header or number not in first:
            said = "; ".join(held.text for held in row.values())
            out.whole.append(f"row {n} of it says “{said[:80]}”")
            continue
        met[number] += 1
        for place, held in sorted(row.items()):
            if place in used:
                used[place] += 1
                out.rows.setdefault(number, f"“{held.text[:80]}” is written beside it")
        told = _describe_row_changes(row, column, first[number], sent_column, headings)
        if told:
            out.rows.setdefault(number, told)
    out.whole += [f"a column “{own[n][:60]}” was added" for n, count in used.items() if not count and n in own]
    for number, row in first.items():
        if met[number] > 1:
            out.rows[number] = "its row is there more than once"
        elif not met[number] and number:
            mark = row.get(sent_column[heads.FINGERPRINT])
            if mark is not None:
                out.gone.append(mark.text)


def _describe_row_changes(
    row: dict[int, Held],
    column: Mapping[str, int],
    sent: dict[int, Held],
    sent_column: Mapping[str, int],
    headings: Mapping[str, str],
) -> str:
    """Describe differences in those cells of one row that nobody was asked to fill in."""
    nothing = Held("")
    for name, place in sent_column.items():
        if name not in column:
            continue
        heading = headings.get(name, name)
        now, before = row.get(column[name], nothing), sent.get(place, nothing)
        if now.struck and not before.struck:
            return f"“{now.text[:60]}” is struck through"
        if name in ASKED:
            continue
        if not is_same_text(now.text, before.text):
            if not before.text:
                return f"“{now.text[:80]}” is written under “{heading}”"
            return f"“{heading}” now reads “{now.text[:80]}” and was “{before.text[:80]}”"
        if now.text and now.fill != before.fill:
            return f"“{now.text[:60]}” is marked with a colour"
    return ""


def _compare_page(
    out: SheetChanges,
    name: str,
    page: Cells,
    sent: Cells,
    filled_in: Collection[int],
    columns: Collection[int] = (2,),
) -> None:
    """Another sheet of the workbook. filled_in: rows in which these columns were to be filled in, that is column B."""
    for n in sorted(page):
        row, before = page[n], sent.get(n, {})
        for place, held in row.items():
            if n in filled_in and place in columns and not held.struck:
                continue
            was = before.get(place, Held(""))
            if not is_same_text(held.text, was.text) or (held.struck and not was.struck):
                out.whole.append(f"“{held.text[:80]}” is written on the sheet “{name[:40]}”")


def is_same_text(one: str, other: str) -> bool:
    """Return whether two cells have the same text: programs differ in the digits of numbers and in line ends."""
    if one == other:
        return True
    try:
        return abs(float(one) - float(other)) <= 1e-6 * max(1.0, abs(float(other)))
    except ValueError:
        return _normalise_text(one) == _normalise_text(other)


def _normalise_text(text: str) -> str:
    return " ".join(unicodedata.normalize("NFC", text).replace("_x000D_", "").split())
