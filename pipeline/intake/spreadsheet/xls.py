"""Old workbooks (.xls), read with xlrd: values, how they are shown, errors, hidden rows, struck text, notes."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from pipeline.core.errors import CannotRun
from pipeline.intake.spreadsheet.container import report_damaged, report_locked
from pipeline.intake.spreadsheet.number_format import format_value
from pipeline.intake.spreadsheet.sheet import Cell, CellKind, ReadOptions, Row, Sheet, Value, classify_text, pick_page


def read_xls(path: Path, data: bytes, sha256: str, how: ReadOptions) -> Sheet:
    """Read one sheet of an .xls file. CannotRun when it is locked, damaged, or has no such sheet."""
    import xlrd
    from xlrd import biffh

    with Path(os.devnull).open("w", encoding="utf-8") as nowhere:  # the library prints warnings
        try:
            book = xlrd.open_workbook(file_contents=data, formatting_info=True, logfile=nowhere, on_demand=True)
            pages = [(name, _is_hidden(book, name)) for name in book.sheet_names()]
            title, hidden, others = pick_page(path, pages, how.sheet)
            page = book.sheet_by_name(title)
            rows = _read_rows(book, page, xlrd)
        except CannotRun:
            raise
        except biffh.XLRDError as error:
            if "encrypted" in str(error).lower():
                raise report_locked(path) from None
            raise report_damaged(path, error) from None
        except Exception as error:  # on damaged records the library may raise anything
            raise report_damaged(path, error) from None
    return Sheet(
        file=path.name,
        path=path,
        name=title,
        sha256=sha256,
        rows=rows,
        merged=tuple((a + 1, c + 1, b, d) for a, b, c, d in page.merged_cells),
        hidden_columns=frozenset(c + 1 for c, info in page.colinfo_map.items() if info.hidden),
        others=others,
        hidden=hidden,
        read_by="xlrd",
    )


def _is_hidden(book: Any, name: str) -> bool:
    """Return whether a sheet is hidden. The library knows once the sheet is loaded; its cells are then freed."""
    hidden = bool(book.sheet_by_name(name).visibility)
    book.unload_sheet(name)
    return hidden


def _read_rows(book: Any, page: Any, xlrd: Any) -> tuple[Row, ...]:
    notes = {place: " ".join(str(note.text).split()) for place, note in page.cell_note_map.items()}
    rows = []
    for r in range(page.nrows):
        cells = []
        for c in range(page.row_len(r)):
            made = _read_cell(book, page, xlrd, r, c, notes)
            if made is not None:
                cells.append(made)
        if cells:
            info = page.rowinfo_map.get(r)
            rows.append(Row(r + 1, tuple(cells), bool(info is not None and info.hidden)))
    return tuple(rows)


def _read_cell(book: Any, page: Any, xlrd: Any, r: int, c: int, notes: dict[tuple[int, int], str]) -> Cell | None:
    kind, value = page.cell_type(r, c), page.cell_value(r, c)
    if kind in (xlrd.XL_CELL_EMPTY, xlrd.XL_CELL_BLANK) or value == "":
        return None
    form = book.xf_list[page.cell_xf_index(r, c)]
    font = book.font_list[form.font_index]
    marks = {mark for mark, has in (("struck", font.struck_out), ("bold", font.weight >= 700)) if has}
    said: CellKind
    plain: Value
    if kind == xlrd.XL_CELL_TEXT:
        said, plain, text = classify_text(value), value, value
        marks |= _find_inner_marks(book, page.rich_text_runlist_map.get((r, c)), value)
        if "struck" in marks:
            marks.discard("part-struck")
    elif kind == xlrd.XL_CELL_ERROR:
        text = xlrd.error_text_from_code.get(value, "#ERROR")
        said, plain = "error", text
    elif kind == xlrd.XL_CELL_BOOLEAN:
        said, plain, text = "bool", bool(value), "TRUE" if value else "FALSE"
    else:
        code = book.format_map[form.format_key].format_str if form.format_key in book.format_map else None
        said, plain = "number", int(value) if float(value).is_integer() else value
        if kind == xlrd.XL_CELL_DATE:
            try:
                date = xlrd.xldate_as_datetime(value, book.datemode)
                said, plain = "date", date if value >= 1 else date.time()
            except (ValueError, OverflowError):
                pass
        text, sure = format_value(plain, code)
        if not sure:
            marks.add("unsure-shown")
    return Cell(r + 1, c + 1, said, plain, text, frozenset(marks), notes.get((r, c), ""))


def _find_inner_marks(book: Any, runs: list[tuple[int, int]] | None, text: str) -> set[str]:
    """Return whether part of a text, or all of it, is struck through; whether part of it is raised or lowered."""
    if not runs:
        return set()
    ends = [start for start, _ in runs[1:]] + [len(text)]
    fonts = [(text[start:end], book.font_list[font]) for (start, font), end in zip(runs, ends, strict=True)]
    marks = {"superscript"} if any(part.strip() and font.escapement for part, font in fonts) else set()
    gone = "".join(part for part, font in fonts if font.struck_out).strip()
    if gone:
        marks.add("struck" if gone == text.strip() else "part-struck")
    return marks
