"""Workbooks: .xlsx and .xlsm, read with openpyxl. Macros, links and formulas are never followed."""

from __future__ import annotations

import contextlib
import dataclasses
import datetime as dt
import io
import itertools
import re
import warnings
import zipfile
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from pipeline.core.errors import CannotRun
from pipeline.intake.spreadsheet.container import report_damaged
from pipeline.intake.spreadsheet.number_format import format_value
from pipeline.intake.spreadsheet.sheet import Cell, CellKind, ReadOptions, Row, Sheet, Value, classify_text, pick_page
from pipeline.intake.spreadsheet.values_only import read_values
from pipeline.intake.spreadsheet.xml_scan import list_places, list_sheet_parts, scan_xlsx

_ESCAPED = re.compile(r"_x([0-9A-Fa-f]{4})_")
"""ECMA-376 part 1, 22.4.2.4: characters XML cannot hold are written _xHHHH_."""

MOST_CELLS = 200_000
"""Cells and rows of a sheet up to which it is read cell by cell, with struck, part-struck and raised text and comments.
Larger ones are read quickly, by values; hidden rows and errors are found in both. About 40 s and 300 MB against 1 s."""

MOST_PLACES = 1_000_000
"""Rows times columns of the rectangle round a sheet's cells up to which it is read whole: the library makes a cell
for every place of it. Where one cell stands far away, only the places that hold cells are read. As many places may be
merged: the library makes a cell for each of them too."""

MAX_ROW, MAX_COLUMN = 1_048_576, 16_384
"""Published limits of the format's programs."""


def read_workbook(path: Path, data: bytes, sha256: str, how: ReadOptions) -> Sheet:
    """Read one sheet of a workbook. CannotRun says what is wrong with the file or the sheet's name."""
    try:
        parts = list_sheet_parts(data)
    except Exception as error:  # a damaged archive may raise anything
        raise report_damaged(path, error) from None
    if parts:
        title, _, _ = pick_page(path, [(name, name in _list_hidden_sheets(data)) for name in parts], how.sheet)
        try:
            glances = {name: scan_xlsx(data, part) for name, part in parts.items()}
        except Exception as error:
            raise report_damaged(path, error) from None
        chosen = dataclasses.replace(how, sheet=title)
        glance = glances[title]
        merged = sum(each.merged for each in glances.values())  # all sheets are loaded
        if glance.cells + glance.rows > MOST_CELLS or merged > MOST_PLACES:
            return read_values(path, data, sha256, chosen, glance)
    try:
        book = _load(path, data, results=True)
    except _PartMissing:
        if not parts:
            raise
        return read_values(path, data, sha256, chosen, glance)  # a picture is lost, but not the sheet
    pages = {page.title: page for page in book.worksheets}
    title, hidden, others = pick_page(
        path, [(name, p.sheet_state != "visible") for name, p in pages.items()], how.sheet
    )
    page = pages[title]
    if page.max_row > MAX_ROW or page.max_column > MAX_COLUMN:
        raise report_damaged(path, f"a cell of the sheet “{title}” lies beyond the last possible row or column")
    places: Sequence[tuple[int, int]] | None = None
    if page.max_row * page.max_column > MOST_PLACES:
        if not parts:
            raise report_damaged(path, f"the cells of the sheet “{title}” are spread too wide")
        places = list_places(data, parts[title])
        if len(places) < glance.cells:  # some cells don't state their position
            return read_values(path, data, sha256, chosen, glance)
    formulas = _read_formulas(path, data, title, places) if not parts or glance.formulas else {}
    filters = _list_filters(page)
    strokes: dict[int, frozenset[str]] = {}
    held: dict[int, list[Cell]] = {}
    cells_at = {(cell.row, cell.column): cell for cell in _iterate_cells(page, places)}
    for place in sorted({*cells_at, *formulas}):
        made = _read_cell(cells_at.get(place), place, formulas, strokes)
        if made is not None:
            held.setdefault(place[0], []).append(made)
    return Sheet(
        file=path.name,
        path=path,
        name=title,
        sha256=sha256,
        rows=tuple(Row(n, tuple(cells), *_is_hidden_row(page, n, filters)) for n, cells in held.items()),
        merged=tuple(sorted((m.min_row, m.min_col, m.max_row, m.max_col) for m in page.merged_cells.ranges)),
        hidden_columns=_list_hidden_columns(page),
        others=others,
        hidden=hidden,
        filter_row=min((first for first, _, _ in filters), default=0),
        read_by="openpyxl",
    )


def _list_hidden_sheets(data: bytes) -> set[str]:
    from xml.etree import ElementTree

    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        name = next(n for n in packed.namelist() if n.lower().endswith("workbook.xml"))
        root = ElementTree.fromstring(packed.read(name))
    return {
        str(e.get("name")) for e in root.iter() if e.tag.endswith("}sheet") and e.get("state", "visible") != "visible"
    }


class _PartMissing(CannotRun):
    """A part that the archive names is not in it."""


def _load(path: Path, data: bytes, *, results: bool) -> Any:
    import openpyxl

    try:
        # it prints warnings about styles and extensions that it would drop on saving; nothing is saved
        with warnings.catch_warnings(), contextlib.redirect_stdout(io.StringIO()):
            warnings.simplefilter("ignore")
            return openpyxl.load_workbook(
                io.BytesIO(data), data_only=results, keep_links=False, keep_vba=False, rich_text=True
            )
    except CannotRun:
        raise
    except KeyError as error:
        said = report_damaged(path, error)
        raise (_PartMissing(said.faults) if "no item named" in str(error) else said) from None
    except Exception as error:  # the library passes on whatever its parsers raise
        raise report_damaged(path, error) from None


def _list_hidden_columns(page: Any) -> frozenset[int]:
    hidden = set()
    for dimension in page.column_dimensions.values():
        if dimension.hidden and dimension.min:
            hidden |= set(range(dimension.min, min(dimension.max or dimension.min, dimension.min + 1000) + 1))
    return frozenset(hidden)


_Filter = tuple[int, int, bool]  # first row (with the buttons), last row, whether it hides any


def _list_filters(page: Any) -> list[_Filter]:
    """The filters of a sheet and of the tables on it."""
    from openpyxl.utils import range_boundaries

    out = []
    for held in (page.auto_filter, *(table.autoFilter for table in page.tables.values())):
        if held is None or not held.ref:
            continue
        _, first, _, last = range_boundaries(held.ref)
        rules = ("filters", "customFilters", "dynamicFilter", "top10", "colorFilter", "iconFilter")
        active = any(getattr(column, rule) is not None for column in held.filterColumn or () for rule in rules)
        out.append((first or 1, last or 1, active))
    return out


def _is_hidden_row(page: Any, number: int, filters: list[_Filter]) -> tuple[bool, bool]:
    """Return whether a row is hidden, and whether a filter does it."""
    hidden = bool(page.row_dimensions[number].hidden)
    return hidden, hidden and any(active and first < number <= last for first, last, active in filters)


def _iterate_cells(page: Any, places: Sequence[tuple[int, int]] | None) -> Iterator[Any]:
    """Iterate over the library's cells: those at these places, or all in the sheet's used rectangle."""
    if places is None:
        yield from itertools.chain.from_iterable(page.iter_rows())
    else:
        yield from (page.cell(row, column) for row, column in places)


def _read_formulas(
    path: Path, data: bytes, title: str, places: Sequence[tuple[int, int]] | None
) -> dict[tuple[int, int], str]:
    """Read the sheet's formulas, by place."""
    found = {}
    for cell in _iterate_cells(_load(path, data, results=False)[title], places):
        if cell.data_type == "f":
            value = cell.value if isinstance(cell.value, str) else f"={getattr(cell.value, 'text', '') or ''}"
            found[cell.row, cell.column] = value
    return found


def _read_cell(
    cell: Any, place: tuple[int, int], formulas: dict[tuple[int, int], str], strokes: dict[int, frozenset[str]]
) -> Cell | None:
    """A cell of ours, or None for one that holds nothing."""
    row, column = place
    value = None if cell is None else cell.value
    formula = formulas.get(place)
    if value is None:
        return None if formula is None else Cell(row, column, "formula", formula, formula)
    marks: set[str] = {"from-formula"} if formula is not None else set()
    kind, plain, text = _read_value(cell, value, marks)
    if kind == "text" and not text:
        return None
    if cell.has_style:
        style = cell.style_id
        if style not in strokes:
            font = cell.font
            strokes[style] = frozenset(m for m, has in (("struck", font.strike), ("bold", font.b)) if has)
        marks |= strokes[style]
    comment = _read_comment(cell.comment) if cell.comment is not None else ""
    return Cell(row, column, kind, plain, text, frozenset(marks), comment)


def _read_value(cell: Any, value: Any, marks: set[str]) -> tuple[CellKind, Value, str]:
    if isinstance(value, str):  # rich text is a list, not a str
        if cell.data_type == "e":
            return "error", value, value
        text = unescape_characters(value)
        return classify_text(text), text, text
    if isinstance(value, list):  # rich text: parts with their own fonts
        marks |= _list_rich_marks(value)
        text = unescape_characters(str(value))
        return "text", text, text
    if isinstance(value, bool):
        return "bool", value, "TRUE" if value else "FALSE"
    text, sure = format_value(value, cell.number_format)
    if not sure:
        marks.add("unsure-shown")
    if isinstance(value, int | float):
        return "number", value, text
    if isinstance(value, dt.datetime | dt.date | dt.time | dt.timedelta):
        return "date", value, text
    return "text", str(value), str(value)


def _list_rich_marks(parts: list[Any]) -> set[str]:
    """Marks on parts of a text that would be lost."""
    marks = set()
    fonts = [part.font for part in parts if not isinstance(part, str) and part.font is not None]
    struck = sum(bool(font.strike) for font in fonts)
    if struck and struck == len([p for p in parts if str(p).strip()]):
        marks.add("struck")
    elif struck:
        marks.add("part-struck")
    if any(font.vertAlign in ("superscript", "subscript") for font in fonts):
        marks.add("superscript")
    return marks


def unescape_characters(text: str) -> str:
    """Replace characters written as _xHHHH_ by the characters themselves."""
    if "_x" not in text:
        return text
    return _ESCAPED.sub(lambda found: chr(int(found[1], 16)), text)


def _read_comment(comment: Any) -> str:
    """The words of a comment without its author's name in front."""
    text = " ".join(unescape_characters(str(comment.text or "")).split())
    author = " ".join((comment.author or "").split())
    return text.removeprefix(f"{author}:").strip() if author else text
