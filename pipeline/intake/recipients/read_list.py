"""Reading the client's list: which rows are recipients, and their texts.

Every row of the sheet with content becomes exactly one of: a plaque, left out with a reason, stopped.
"""

from __future__ import annotations

import dataclasses
import itertools
import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from pipeline.core.catalogue import list_kinds, name_kinds, sheet_kinds
from pipeline.core.config.order import ListConfig, OrderFolder
from pipeline.core.config.placeholders import list_placeholders
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.findings import Fact, Finding, Severity, build_finding
from pipeline.core.list_row import get_row_number
from pipeline.core.model import ListSource, Recipient, RecipientList, RowOutcome
from pipeline.intake.header_ways import list_header_ways
from pipeline.intake.message.pasted_message import is_naming_somebody, list_taken_off
from pipeline.intake.names.name_words import is_placeholder
from pipeline.intake.names.wording import shorten
from pipeline.intake.recipients.date_texts import choose_date_wish
from pipeline.intake.recipients.header_guess import (
    find_second_heading,
    find_several_words,
    is_heading_word,
    is_name,
    is_row_of_names,
    read_top_headings,
)
from pipeline.intake.recipients.header_row import ColumnMap, describe_rows, find_columns, may_hold_names, read_headers
from pipeline.intake.recipients.headings import (
    COPIES,
    LANGUAGE,
    NO,
    UNSURE,
    WANTED,
    YES,
    find_meaning,
    fold_heading,
    guess_columns,
)
from pipeline.intake.recipients.joined_lists import ReadRows, join_lists, name_further_list
from pipeline.intake.recipients.other_columns import (
    find_columns_of_people,
    find_remark_columns,
    list_remarks_beside,
    report_columns_of_people,
    report_unused_columns,
)
from pipeline.intake.recipients.outside_rows import (
    check_surroundings,
    is_like_recipient,
    list_few,
    list_rows_outside,
    name_sheet,
    spread_merged,
)
from pipeline.intake.recipients.row_kinds import (
    FillPattern,
    classify_row,
    fill_pattern,
    find_stated_count,
    find_stated_total,
    is_instruction,
)
from pipeline.intake.recipients.row_values import DateWish, RowValue, read_copies, read_row_values
from pipeline.intake.spreadsheet.read_sheet import read_sheet
from pipeline.intake.spreadsheet.sheet import ReadOptions, Row, Sheet, describe_row, format_column
from pipeline.intake.spreadsheet.sheet_areas import clip_rows, parse_areas

SECOND = "a second header"
BESIDE_NAME = ("title", "middle", "suffix")
"""Meanings of headings whose column many people have nothing in."""
SHEETS_COMPARED = 20
"""Other sheets of a file that are looked at for names; any beyond may hold some."""


def read_list(folder: OrderFolder) -> RecipientList:
    """Read the order's lists. CannotRun when a file, the sheet, the header or a column is missing."""
    part = folder.order.list
    first = _read_file(folder, part)
    further = [
        name_further_list(_read_file(folder, part.get_further(name)), file)
        for name, file in zip(part.more, part.further, strict=True)
    ]
    return join_lists(first, further, part.settled)


def _read_file(folder: OrderFolder, part: ListConfig) -> ReadRows:
    """Read one of its lists, the first one or a further one."""
    how = ReadOptions(sheet=part.sheet, encoding=part.encoding, separator=part.separator, limits=part.limits)
    path = folder.resolve_path(part.file)
    sheet = read_sheet(path, how)
    lettered = list(dict.fromkeys(field for line in folder.order.line for field in line.columns))
    try:
        read = read_rows(sheet, part, lettered, _map_languages(folder), _list_drawing_keys(folder))
        if part.sheet is not None or not sheet.others:
            return read
        alike = [
            name_sheet(name, state)
            for number, (name, state) in enumerate(sheet.others)
            if number >= SHEETS_COMPARED
            or (_has_columns(path, name, how, part, lettered) if state else _may_hold_names(path, name, how))
        ]
        return dataclasses.replace(read, findings=(*read.findings, *_report_alike(sheet, alike)))
    except CannotRun as problem:
        is_first = part.file == folder.order.list.file
        fits = [] if part.sheet else [name for name, _ in sheet.others if _has_columns(path, name, how, part, lettered)]
        if not fits and is_first:
            raise
        if not fits:
            raise CannotRun([_advise_further(fault) for fault in problem.faults]) from None
        said = " or ".join(f"“{name}”" for name in fits)
        expected = (
            "`sheet` in [list], because the first visible sheet is not the one"
            if is_first
            else "them on the first visible sheet of a further list, or that sheet in a file of its own"
        )
        hint = Fault(where=str(path), found=f"the headings are on another sheet: {said}", expected=expected)
        raise CannotRun([*problem.faults, hint]) from None


def _report_alike(sheet: Sheet, alike: Sequence[str]) -> Iterator[Finding]:
    """Ask about other sheets that may hold names, where nobody has said which sheet is meant. alike: as named."""
    if alike:
        facts: dict[str, Fact] = {"sheet": sheet.name, "others": list_few(alike), "count": len(alike)}
        yield build_finding(sheet_kinds.SHEETS_ALIKE, facts=facts)


def _advise_further(fault: Fault) -> Fault:
    """A fault of a further list: [list] columns hold for the first one, and are not what is to be changed."""
    if fault.remedy.startswith("did you"):
        return fault
    seen = "" if "[list]" in fault.remedy or not fault.remedy else f"{fault.remedy}; "
    headings = "in a copy, write the headings of the first list above its columns; a column below one may be empty"
    return dataclasses.replace(fault, remedy=seen + headings)


def _list_drawing_keys(folder: OrderFolder) -> tuple[str, ...]:
    """Return the keys that name a client's drawings."""
    return tuple(dict.fromkeys(key for part in folder.order.artwork for key in list_placeholders(part.file)))


def _map_languages(folder: OrderFolder) -> dict[str, str]:
    """Map each key to the language of the first line that names it and has one."""
    found: dict[str, str] = {}
    for line in folder.order.line:
        for key in line.columns if line.language else ():
            found.setdefault(key, line.language or "")
    return found


def _has_columns(path: Path, name: str, how: ReadOptions, part: ListConfig, lettered: Sequence[str]) -> bool:
    """Return whether another sheet has the order's columns, in whatever row."""
    try:
        other = read_sheet(path, dataclasses.replace(how, sheet=name))
        find_columns(other, part.columns, 0 if part.header == 0 else None, lettered)
        return bool(part.columns)
    except CannotRun:
        return False


def _may_hold_names(path: Path, name: str, how: ReadOptions) -> bool:
    """Return whether another sheet may hold names; one that can't be read may."""
    try:
        return may_hold_names(read_sheet(path, dataclasses.replace(how, sheet=name)))
    except CannotRun:
        return True


def read_rows(
    sheet: Sheet,
    part: ListConfig,
    lettered: Sequence[str],
    languages: Mapping[str, str] | None = None,
    drawn: Sequence[str] = (),
) -> ReadRows:
    """Read the rows of one sheet. lettered: keys that the order's lines name; languages: language of their lines, by
    key; drawn: keys that its artwork names."""
    read = clip_rows(sheet, parse_areas(part.area))
    if part.area and not read.rows:
        raise CannotRun(
            Fault(where=f"{sheet.path}, sheet “{sheet.name}”", found=f"no cell of {part.area} holds anything",
                  expected="`area` in [list] round the list", remedy=describe_rows(sheet))
        )  # fmt: skip
    columns = find_columns(read, part.columns, part.header, list(dict.fromkeys([*lettered, *drawn])))
    if part.guessed:
        columns = dataclasses.replace(columns, guessed=True)
    return _ListReading(read, part, columns, tuple(lettered), languages or {}, tuple(drawn)).read(sheet)


@dataclass(slots=True)
class _RowDecisions:
    """The decisions so far."""

    recipients: list[Recipient]
    rows: list[RowOutcome]
    findings: list[Finding]


class _ListReading:
    """One list on its way from rows to recipients."""

    def __init__(
        self,
        sheet: Sheet,
        part: ListConfig,
        columns: ColumnMap,
        lettered: tuple[str, ...],
        languages: Mapping[str, str],
        drawn: tuple[str, ...] = (),
    ) -> None:
        self.sheet, self.part, self.columns, self.languages = sheet, part, columns, languages
        self.drawn = drawn
        self.dated: Counter[str] = Counter()  # by key: number of cells stored as dates
        self.typed: dict[str, list[str]] = {}  # by key: cells of the same column that hold digits as text
        self.at = columns.at
        texts = [key for key in self.at if key not in (COPIES, LANGUAGE)]
        self.name = self._name_key(texts)
        self.texts = texts
        self.used = tuple(key for key in texts if key in lettered or key == self.name)
        self.account = _RowDecisions([], [], [])
        self.beside: frozenset[int] = frozenset()  # columns of neighbouring lists
        header = sheet.find_row(columns.header)
        used = {c for where in self.at.values() for c in where}
        self.heads = {c: fold_heading(text) for c, text in read_headers(header).items() if c in used} if header else {}
        self.head_texts = {cell.shown.strip() for cell in header.cells} if header else set()
        named = [header.find_cell(c) for c in self.at.get(self.name, ())] if header else []
        self.name_heads = {cell.shown.strip() for cell in named if cell is not None}
        heads = read_headers(header) if header else {}
        self.wanted = {
            c: shorten(text, 40) for c, text in heads.items() if c not in used and fold_heading(text) in WANTED
        }
        self.agreeing: frozenset[int] = frozenset()  # of these, those that say yes to somebody
        self.name_parts: frozenset[int] = frozenset()  # columns that hold first or family name in most of the list
        self.remarks = find_remark_columns(heads, {*used, *self.wanted})
        self.all_heads = heads
        self.header_cells = header.cells if header else ()
        if header is None:
            self.top = read_top_headings(sheet, self.at.get(self.name, ()))
        else:
            self.top = {find_second_heading(sheet, columns.header): "a second row of headings"}

    def _name_key(self, texts: Sequence[str]) -> str:
        """Return the key of the recipients' column: `name`, or else the first that, or whose heading, means a name;
        failing that, the first."""
        if "name" in self.at or not texts:
            return "name" if texts else ""
        header = self.sheet.find_row(self.columns.header)
        heads = read_headers(header) if header else {}
        meant = (
            next((key for key in texts if any(find_meaning(heads.get(c, "")) == means for c in self.at[key])), "")
            or next((key for key in texts if find_meaning(key.replace("_", " ")) == means), "")
            for means in ("name", "last", "first")
        )
        return next(filter(None, meant), texts[0])

    def read(self, whole: Sheet) -> ReadRows:
        """Read every row. `whole` is the sheet including what is outside the order's area."""
        below = [row for row in self.sheet.rows if row.number > self.columns.header]
        spread = tuple(c for key, where in self.at.items() if key not in (self.name, COPIES) for c in where)
        below, merged = spread_merged(self.sheet, below, spread)
        around, self.beside = check_surroundings(self.sheet, self.columns, self.part)
        self.account.findings += [*around, *merged]
        known = {c for where in self.at.values() for c in where} | {*self.wanted, *self.remarks} | self.beside
        people = find_columns_of_people(below, self.all_heads, known, self.at.get(self.name, ()))
        if further := report_columns_of_people(below, people, self.all_heads):
            self.account.findings.append(further)
        known |= people
        if idle := report_unused_columns(self.sheet, self.columns.header, self.all_heads, known):
            self.account.findings.append(idle)
        self._read_above()
        self.name_parts = self._find_name_parts(below)
        self.agreeing = frozenset(
            cell.column
            for row in below
            for cell in row.cells
            if cell.column in self.wanted and fold_heading(cell.shown) in YES
        )
        habits = fill_pattern(below, self.at, self.name)
        for row, following in itertools.zip_longest(below, below[1:]):
            self._read_row(row, following, habits)
        self._note_blank_rows()
        self._report_mixed_dates()
        outside = list_rows_outside(whole, self.sheet, parse_areas(self.part.area))
        self.account.rows += outside.rows
        self.account.findings += outside.findings
        if not self.account.recipients:
            self.account.findings.append(build_finding(list_kinds.NO_RECIPIENTS, facts={"file": self.sheet.file}))
        return ReadRows(
            source=ListSource(
                file=self.sheet.file,
                sheet=self.sheet.name,
                sha256=self.sheet.sha256,
                header_row=self.columns.header,
                rows=len(whole.rows),
                columns=tuple((key, " ".join(map(format_column, where))) for key, where in self.columns.where),
            ),
            beside_name=tuple(key for key in self.used if key != self.name),
            recipients=tuple(self.account.recipients),
            account=tuple(sorted(self.account.rows, key=lambda a: a.row)),
            findings=tuple(self.account.findings),
            totals=tuple(self._check_totals(below)),
        )

    # --- rows ----------------------------------------------------------------------------------------------------

    def _leave_out(self, row: Row, reason: str, *, said: bool = True) -> None:
        self.account.rows.append(RowOutcome(row=row.number, fate="left-out", reason=reason))
        if said:
            text = shorten(" · ".join(cell.shown for cell in row.cells if cell.shown.strip()), 200)
            kind = list_kinds.SENDER if reason == "the sender's name" else list_kinds.LEFT_OUT
            if (
                self.sheet.message
                and kind is list_kinds.LEFT_OUT
                and "letter" not in reason
                and is_naming_somebody(text)
            ):
                kind = list_kinds.LEFT_OUT_NAMED
            if "note" in reason or "letter" in reason or "title" in reason:
                kind = list_kinds.REMARK_BESIDE if is_instruction(text) and kind is list_kinds.LEFT_OUT else kind
            self.account.findings.append(
                build_finding(kind, row=row.number, facts={"row": row.number, "reason": reason, "text": text})
            )

    def _find_name_parts(self, rows: Sequence[Row]) -> frozenset[int]:
        """Find the columns of first and family names that half of the names or more have."""
        where = {c for c in self.at.get(self.name, ()) if find_meaning(self.all_heads.get(c, "")) not in BESIDE_NAME}
        filled = [{cell.column for cell in row.cells if cell.shown.strip()} & where for row in rows]
        counts = Counter(column for columns in filled for column in columns)
        named = sum(map(bool, filled))
        return frozenset(column for column in counts if len(where) > 1 and 2 * counts[column] >= named)

    def _report_blank_parts(self, row: Row, name: str) -> Iterator[Finding]:
        """Ask about a name of which a part is blank that most of the list has."""
        there = {cell.column for cell in row.cells if cell.shown.strip()}
        if not name or is_placeholder(name):
            return
        for column in self.at[self.name]:
            if column in self.name_parts and column not in there:
                facts: dict[str, Fact] = {"text": shorten(name)}
                cell = f"{format_column(column)}{row.number}"
                yield build_finding(list_kinds.NAME_INCOMPLETE, row=row.number, cell=cell, facts=facts)

    def _report_blank_answers(self, row: Row, shown: str) -> Iterator[Finding]:
        """Ask about a name without an answer in a column that says yes to others."""
        there = {cell.column for cell in row.cells if cell.shown.strip()}
        for column in sorted(self.agreeing - there):
            facts: dict[str, Fact] = {"text": shown, "heading": self.wanted[column]}
            cell = f"{format_column(column)}{row.number}"
            yield build_finding(list_kinds.SAYS_NOTHING, row=row.number, cell=cell, facts=facts)

    def _read_above(self) -> None:
        """Handle the header and the rows above it."""
        header, name = self.columns.header, self.at.get(self.name, ())
        for row in self.sheet.rows:
            if row.number > header:
                break
            text = shorten(" · ".join(cell.shown for cell in row.cells if cell.shown.strip()))
            facts: dict[str, Fact] = {"row": row.number, "text": text}
            if row.number == header or 0 < self.columns.first <= row.number:
                self._leave_out(row, "the header", said=False)
                heads = [cell.shown for c in name if (cell := row.find_cell(c)) is not None]
                named = any(is_name(head) and not is_heading_word(head) for head in heads)
                named |= is_row_of_names(self.head_texts)
                known = bool(heads) and all(is_heading_word(head) == 1 for head in heads)
                unsure = self.columns.guessed and not known
                if row.number == header and (unsure or (named and self.part.header is None)):
                    why = "its words are those of a name" if named else "its words are not known here"
                    facts |= {"why": why}
                    out = list_header_ways(row, self.columns.where, named=bool(self.part.columns))
                    self.account.findings.append(
                        build_finding(list_kinds.HEADER_UNSURE, row=row.number, facts=facts, ways=out)
                    )
            elif describe_row(self.sheet, row).part:
                self._leave_out(row, describe_row(self.sheet, row).part)
            elif is_like_recipient(row, name, set(self.heads), self.columns.guessed):
                self._leave_out(row, "it stands above the header", said=False)
                self.account.findings.append(build_finding(list_kinds.ABOVE_HEADER, row=row.number, facts=facts))
            else:
                self._leave_out(row, "a title above the header")

    def _read_row(self, row: Row, following: Row | None, habits: FillPattern) -> None:
        told = describe_row(self.sheet, row)
        if told.part in ("a line of a letter", "the sender's name"):
            self._leave_out(row, told.part)
            return
        if self.beside and {cell.column for cell in row.cells if cell.shown.strip()} <= self.beside:
            self._leave_out(row, "a row of the list beside this one alone", said=False)
            return
        if again := self._take_header_again(row):
            self._leave_out(row, again, said=again != SECOND)
            return
        if len(read_headers(row)) == 1 and following is not None and self._is_header(following):
            self._leave_out(row, "a title above a header")
            return
        verdict = classify_row(row, self.at, self.name, habits)
        if verdict is not None and verdict.certain:
            self._leave_out(row, verdict.what)
            return
        cells = {key: self._read_value(row, key) for key in self.texts}
        by = "hidden by the sheet's filter" if row.filtered else "hidden in the sheet"
        for mark, wish, reason in (
            ("hidden", self.part.hidden, by),
            ("struck", self.part.struck, "struck through"),
        ):
            if wish == "leave-out" and (row.hidden if mark == "hidden" else cells[self.name].struck):
                self._leave_out(row, reason)
                return
        self._add_recipient(row, cells, told.part or self.top.get(row.number, "") or (verdict.what if verdict else ""))

    def _read_value(self, row: Row, key: str) -> RowValue:
        """Return a row's value for one key, with dates as the order wants them."""
        pattern = choose_date_wish(self.part.dates, key)
        wish = DateWish(pattern=pattern, language=self._read_language(row) or self.languages.get(key))
        read = read_row_values(row, self.at[key], lettered=key in self.used, named=key == self.name, dates=wish)
        if pattern and key in self.used:
            days = sum(f.code == list_kinds.DATE_SET.code for f in read.findings)
            self.dated[key] += days
            if not days and any(c.isdigit() for c in read.text):
                where = f"{format_column(self.at[key][0])}{row.number}"
                self.typed.setdefault(key, []).append(f"{where} “{shorten(read.text, 30)}”")
        return read

    def _read_language(self, row: Row) -> str | None:
        said = [cell.shown.strip() for c in self.at.get(LANGUAGE, ()) if (cell := row.find_cell(c)) is not None]
        return next(filter(None, said), self.part.language)

    def _report_mixed_dates(self) -> None:
        """Report columns in which some cells are dates, set as the order says, and some are text, as typed."""
        for key, cells in self.typed.items():
            if self.dated[key]:
                facts: dict[str, Fact] = {"key": key, "dates": self.dated[key], "count": len(cells)}
                facts["cells"] = ", ".join(cells[:5]) + (f" and {len(cells) - 5} more" if cells[5:] else "")
                self.account.findings.append(build_finding(list_kinds.DATE_AS_TYPED, facts=facts))

    def _add_recipient(self, row: Row, cells: dict[str, RowValue], doubt: str) -> None:
        name = cells[self.name]
        cell = f"{format_column(self.at[self.name][0])}{row.number}"
        shown = shorten(name.text or name.raw)
        findings = self._report_marks(row, cell, shown, name)
        if doubt:
            facts = {"text": shown, "what": doubt}
            findings.append(build_finding(list_kinds.PERHAPS_NOT_A_NAME, row=row.number, cell=cell, facts=facts))
        elif name.text:
            findings += self._report_blank_answers(row, shown)
        findings += self._report_blank_parts(row, name.text)
        for key in self.texts:
            findings += cells[key].findings
        findings += list_remarks_beside(row, self.remarks)
        if row.number in self.sheet.doubtful and not shown.isascii():
            findings.append(build_finding(name_kinds.ENCODING_UNSURE, row=row.number, cell=cell, facts={"text": shown}))
        if not name.text and not any(f.severity is Severity.STOP for f in name.findings):
            there = [cell.shown for cell in row.cells if cell.shown.strip()][:6]
            present = " · ".join(f"“{shorten(text, 40)}”" for text in there) or "a number of copies"
            findings.append(
                build_finding(list_kinds.NAME_MISSING, row=row.number, cell=cell, facts={"present": present})
            )
        told = describe_row(self.sheet, row)
        copies, raw_copies = told.copies, told.copies_said
        findings += list_taken_off(told, row.number, cell, shown)
        if self.at.get(COPIES):
            asked = read_copies(row, self.at[COPIES], shown)
            if asked.none_wanted:
                self._leave_out(row, "0 copies are asked for", said=False)
                self.account.findings.append(
                    build_finding(
                        list_kinds.NO_COPIES, row=row.number, cell=asked.cell, facts={"row": row.number, "text": shown}
                    )
                )
                return
            copies, raw_copies = asked.copies, asked.raw
            findings += asked.findings
        language = self.part.language
        values = [(key, cells[key].text) for key in self.texts]
        raw = [(key, cells[key].raw) for key in self.texts]
        if self.at.get(COPIES):
            values.append((COPIES, str(copies)))
            raw.append((COPIES, raw_copies))
        if self.at.get(LANGUAGE):
            said = read_row_values(row, self.at[LANGUAGE], lettered=False, named=False)
            language = said.text or language
            values.append((LANGUAGE, said.text))
            raw.append((LANGUAGE, said.raw))
        self.account.rows.append(RowOutcome(row=row.number, fate="plaque"))
        self.account.recipients.append(
            Recipient(
                row=row.number,
                cell=cell,
                values=tuple(values),
                raw=tuple(raw),
                copies=copies,
                language=language,
                findings=tuple(findings),
                typed_rows=tuple((key, cells[key].rows) for key in self.texts if cells[key].rows),
                named=self.name or "name",
                cells=tuple(
                    (key, f"{format_column(self.at[key][0])}{row.number}") for key in self.drawn if self.at.get(key)
                ),
            )
        )

    def _report_marks(self, row: Row, cell: str, shown: str, name: RowValue) -> list[Finding]:
        """Report the sheet's own marks on the row."""
        findings = []
        if row.hidden and self.part.hidden == "ask":
            kind = list_kinds.ROW_FILTERED if row.filtered else list_kinds.ROW_HIDDEN
            findings.append(build_finding(kind, row=row.number, cell=cell, facts={"text": shown}))
        if name.struck and self.part.struck == "ask":
            findings.append(build_finding(list_kinds.ROW_STRUCK, row=row.number, cell=cell, facts={"text": shown}))
        for column, heading in self.wanted.items():
            said = row.find_cell(column)
            if said is not None and (fold_heading(said.shown) in NO | UNSURE or "?" in said.shown):
                facts = {"text": shown, "said": shorten(said.shown), "heading": heading}
                findings.append(build_finding(list_kinds.SAYS_NO, row=row.number, cell=said.address, facts=facts))
        for read in row.cells:
            if read.comment:
                facts = {"text": shorten(read.shown), "comment": shorten(read.comment, 300)}
                findings.append(build_finding(list_kinds.COMMENT, row=row.number, cell=read.address, facts=facts))
        return findings

    def _is_header(self, row: Row) -> bool:
        """Return whether the header is repeated, or another begins: the heading of the name is there among others of
        the header, or every cell is a known heading, a name among them."""
        cells = [cell.shown.strip() for cell in row.cells]
        if len(cells) < 2:
            return False
        again = self.head_texts & set(cells)
        if len(again) > 1 and 2 * len(again) >= len(cells) and self.name_heads <= again:
            return True
        if len(self.heads) > 1 and not self.head_texts.isdisjoint(cells):
            return set(self.heads.values()) <= set(map(fold_heading, cells)) or self._are_known_words(cells)
        return self._are_known_words(cells)

    @staticmethod
    def _are_known_words(texts: Sequence[str]) -> bool:
        # from the right: the cells after the name repeat, so that their look-ups are cached
        if any(find_meaning(text) is None for text in reversed(texts) if text):
            return False
        return any(find_meaning(text) in ("name", "last") for text in texts)

    def _take_header_again(self, row: Row) -> str:
        """Handle a repeated header, as on each page of a printed list; its columns may be arranged differently from
        there on."""
        if not self._is_header(row):
            return ""
        there: dict[str, int] = {}
        for column, text in read_headers(row).items():
            there.setdefault(fold_heading(text), column)
        if not self.heads or not all(text in there for text in self.heads.values()):
            return self._take_second_header(row)
        same = set(there) == {fold_heading(cell.shown) for cell in self.header_cells if cell.shown.strip()}
        if not same and (second := self._take_second_header(row)):
            return second
        now = {key: tuple(there[self.heads[c]] for c in where) for key, where in self.columns.where
               if all(c in self.heads for c in where)}  # fmt: skip
        if all(self.at.get(key) == where for key, where in now.items()):
            return "the header again"
        self.at = {**self.at, **now}
        return "the header again, with its columns in other places from here on"

    def _take_second_header(self, row: Row) -> str:
        """Handle a second header with other headings."""
        if row.number == self.columns.header + 1:
            return ""  # a second header row
        texts = read_headers(row)
        keys = guess_columns(texts, self.texts, find_several_words(self.sheet, row.number))
        if "name" not in keys or not self.name:
            return ""
        keys[self.name] = keys["name"]
        self.at = {key: keys.get(key, ()) for key in self.at}
        places = {key: " + ".join(f"column {format_column(c)}" for c in where) for key, where in self.at.items()}
        said = ", ".join(f"{key} from {place or 'nowhere'}" for key, place in places.items())
        text = shorten(" · ".join(" ".join(text.split()) for text in texts.values()))
        facts: dict[str, Fact] = {"row": row.number, "text": text, "columns": said}
        self.account.findings.append(build_finding(list_kinds.SECOND_HEADER, row=row.number, facts=facts))
        return SECOND

    # --- the list as a whole -------------------------------------------------------------------------------------

    def _note_blank_rows(self) -> None:
        """Note gaps between recipients."""
        rows = [get_row_number(a.row) for a in self.account.rows if a.fate == "plaque"]
        gaps = []
        held = {row.number for row in self.sheet.rows}
        for before, after in itertools.pairwise(rows):
            if after - before > 1 and not any(n in held for n in range(before + 1, min(after, before + 1000))):
                gaps.append(str(before + 1) if after - before == 2 else f"{before + 1}–{after - 1}")
        if gaps:
            self.account.findings.append(build_finding(list_kinds.BLANK_ROWS, facts={"rows": list_few(gaps)}))

    def _check_totals(self, below: Sequence[Row]) -> Iterator[Finding]:
        """Compare a total that the sheet states, in a totals row or in words, with the rows."""
        left = {a.row: a.reason for a in self.account.rows if a.fate == "left-out"}
        copies = self.columns.at.get(COPIES, ())
        stated: list[tuple[str, float]] = [
            found
            for row in below
            if left.get(row.number) == "a totals row" and (found := find_stated_total(row, copies))
        ]
        words = (row for row in self.sheet.rows if left.get(row.number) in ("a note", "a title above the header"))
        said = [found for row in words if (found := find_stated_count(row)) is not None]
        people = self.account.recipients
        unclear = {r.row for r in people if any(f.code == list_kinds.COPIES_UNCLEAR.code for f in r.findings)}
        counted = sum(r.copies for r in people)
        clear = sum(r.copies for r in people if r.row not in unclear)
        differs = stated[:1] if len(stated) == 1 and stated[0][1] not in (counted, clear) else []
        differs += [(cell, number) for cell, number in said if number not in (counted, clear, len(people))]
        for cell, number in differs:
            facts: dict[str, Fact] = {"stated": f"{number:g}", "counted": counted}
            yield build_finding(list_kinds.TOTAL_DIFFERS, row=int(re.sub(r"\D", "", cell)), cell=cell, facts=facts)
