"""OpenDocument spreadsheets (.ods), read with odfdo. Their content holds the text each cell shows, which is read here.

Standard: OASIS OpenDocument 1.3, part 3, chapters 9 and 19.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

from pipeline.core.errors import CannotRun
from pipeline.intake.spreadsheet.container import report_damaged
from pipeline.intake.spreadsheet.list_limits import build_limit_error
from pipeline.intake.spreadsheet.sheet import Cell, CellKind, ReadOptions, Row, Sheet, classify_text, pick_page

_KINDS: dict[str, CellKind] = {
    "string": "text", "float": "number", "percentage": "number", "currency": "number", "date": "date", "time": "date",
    "boolean": "bool",
}  # fmt: skip

_SPANS = "descendant::text:span"


def read_ods(path: Path, data: bytes, sha256: str, how: ReadOptions) -> Sheet:
    """Read one sheet of an OpenDocument file. CannotRun when it is damaged or has no such sheet."""
    from odfdo import Document

    try:
        document = Document(io.BytesIO(data))
        tables: list[Any] = document.body.get_elements("table:table")  # not those inside cells and links
        pages = [(table.name or "", not document.get_table_displayed(table)) for table in tables]
        title, hidden, others = pick_page(path, pages, how.sheet)
        table = next(table for table in tables if (table.name or "") == title)
        styles = _Styles(document)
        rows, merged = _read_rows(
            table, styles, partial(build_limit_error, f"{path}, sheet “{title}”", limits=how.limits), how
        )
        hidden_columns = _list_hidden_columns(table)
    except CannotRun:
        raise
    except Exception as error:  # on a damaged part the library may raise anything
        raise report_damaged(path, error) from None
    return Sheet(
        file=path.name,
        path=path,
        name=title,
        sha256=sha256,
        rows=tuple(rows),
        merged=tuple(merged),
        hidden_columns=hidden_columns,
        others=others,
        hidden=hidden,
        read_by="odfdo",
    )


@dataclass(slots=True)
class _Styles:
    """The marks that the styles of a document set, each style looked up once."""

    document: Any
    known: dict[tuple[str, str], frozenset[str]] = field(default_factory=dict)

    def list_marks(self, family: str, name: str | None) -> frozenset[str]:
        """`struck`, `bold` and `superscript` (lowered too), for the style of this name."""
        if not name:
            return frozenset()
        if (family, name) not in self.known:
            style = self.document.get_style(family, name)
            text = (style.get_properties("text") if style is not None else None) or {}
            lines = (text.get(f"style:text-line-through-{key}") for key in ("style", "type"))
            has = {
                "struck": any(line not in (None, "none") for line in lines),
                "bold": text.get("fo:font-weight") == "bold",
                "superscript": not str(text.get("style:text-position", "0%")).startswith("0%"),
            }
            self.known[family, name] = frozenset(mark for mark, so in has.items() if so)
        return self.known[family, name]


def _read_rows(
    table: Any, styles: _Styles, refusal: Any, how: ReadOptions
) -> tuple[list[Row], list[tuple[int, int, int, int]]]:
    """The rows that hold something, and the merged cells. Rows and cells that are written once and repeated count
    each time."""
    rows: list[Row] = []
    merged: list[tuple[int, int, int, int]] = []
    number, cells = 1, 0
    for element in table.get_elements("descendant::table:table-row[not(ancestor::table:table-cell)]"):
        count = _read_count(element, "number-rows-repeated")
        made = _read_row(element, number, styles, merged)
        cells += count * len(made.cells)
        if cells > how.limits.cells:
            raise refusal("cells", f"it has {cells} cells or more")
        if made.cells:
            if len(rows) + count > how.limits.rows:
                raise refusal("rows", f"it has {len(rows) + count} rows")
            rows += [made, *(_repeat_row(made, number + n) for n in range(1, count))]
        number += count
    return rows, merged


def _repeat_row(row: Row, number: int) -> Row:
    cells = tuple(Cell(number, c.column, c.kind, c.value, c.shown, c.marks, c.comment) for c in row.cells)
    return Row(number, cells, row.hidden, row.filtered)


def _read_row(element: Any, number: int, styles: _Styles, merged: list[tuple[int, int, int, int]]) -> Row:
    cells: list[Cell] = []
    column = 1
    for child in element.get_elements("table:table-cell|table:covered-table-cell"):
        wide, high = (_read_count(child, f"number-{of}-spanned") for of in ("columns", "rows"))
        if wide > 1 or high > 1:
            merged.append((number, column, number + high - 1, column + wide - 1))
        count = _read_count(child, "number-columns-repeated")
        made = _read_cell(child, number, column, styles) if child.tag == "table:table-cell" else None
        if made is not None:
            cells.append(made)
            for n in range(1, min(count, 16384)):
                cells.append(Cell(number, column + n, made.kind, made.value, made.shown, made.marks))
        column += count
    visibility = element.get_attribute_string("table:visibility") or "visible"
    return Row(number, tuple(cells), visibility != "visible", visibility == "filter")


def _read_count(element: Any, name: str) -> int:
    value = element.get_attribute_string(f"table:{name}") or "1"
    return max(1, min(int(value), 2**24)) if value.isdecimal() and len(value) < 10 else 1


def _list_hidden_columns(table: Any) -> frozenset[int]:
    hidden: set[int] = set()
    column = 1
    for element in table.get_elements("descendant::table:table-column"):
        count = _read_count(element, "number-columns-repeated")
        if (element.get_attribute_string("table:visibility") or "visible") != "visible":
            hidden |= set(range(column, column + min(count, 1000)))
        column += count
    return frozenset(hidden)


def _read_cell(element: Any, row: int, column: int, styles: _Styles) -> Cell | None:
    paragraphs = element.get_elements("text:p")
    text = "\n".join(map(_read_text, paragraphs))
    comment = " ".join(" ".join(element.xpath("office:annotation/text:p/descendant::text()")).split())
    formula = element.get_attribute_string("table:formula")
    marks = set(styles.list_marks("table-cell", element.style)) | ({"from-formula"} if formula else set())
    marks |= _find_inner_marks(paragraphs, styles, text)
    if "struck" in marks:
        marks.discard("part-struck")
    failed = element.get_attribute_string("calcext:value-type") == "error" or text.startswith("Err:")
    if formula and failed:
        return Cell(row, column, "error", text, text, frozenset(marks), comment)
    kind = element.get_attribute_string("office:value-type")
    if formula and kind is None and not text:
        return Cell(row, column, "formula", formula, formula, frozenset(marks), comment)
    stored = {key: element.get_attribute_string(f"office:{key}") for key in _STORED}
    text = text or stored["string-value"] or stored["value"] or ""
    if not text:
        return None
    found = _KINDS.get(kind or "string", "text")
    if found == "text":
        return Cell(row, column, classify_text(text), text, text, frozenset(marks), comment)
    if found == "number":
        number = float(stored["value"] or "nan")
        plain = int(number) if number.is_integer() else number
        return Cell(row, column, "number", plain, text, frozenset(marks), comment)
    value = stored["date-value"] or stored["time-value"] or text
    return Cell(row, column, found, value, text, frozenset(marks), comment)


_STORED = ("value", "string-value", "date-value", "time-value")
_PIECES = ("text()", "text:s", "text:tab", "text:line-break")
_OUTSIDE_NOTES = "|".join(f"descendant::{piece}[not(ancestor::office:annotation)]" for piece in _PIECES)
_SIGNS = {"text:tab": "\t", "text:line-break": "\n"}
MOST_SPACES = 1000


def _read_text(element: Any) -> str:
    """The text of a paragraph or a part of one, with its spaces, tabs and breaks. The library's own words for it show
    where links lead, and what notes say."""
    if not element.children:
        return str(element.text or "")
    out = ""
    for piece in element.xpath(_OUTSIDE_NOTES):
        if isinstance(piece, str):
            out += piece
        elif piece.tag == "text:s":
            count = piece.get_attribute_string("text:c") or "1"
            out += " " * (min(int(count), MOST_SPACES) if count.isdecimal() and len(count) < 10 else 1)
        else:
            out += _SIGNS[piece.tag]
    return out


def _find_inner_marks(paragraphs: Sequence[Any], styles: _Styles, text: str) -> set[str]:
    """Return whether part of a text, or all of it, is struck through by a style of its own; whether part of it is
    raised."""
    spans = [(_read_text(s), styles.list_marks("text", s.style)) for p in paragraphs for s in p.get_elements(_SPANS)]
    marks = {"superscript"} if any("superscript" in has and part.strip() for part, has in spans) else set()
    gone = "".join(part for part, has in spans if "struck" in has).strip()
    if gone:
        marks.add("struck" if gone == text.strip() else "part-struck")
    return marks
