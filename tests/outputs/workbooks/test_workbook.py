"""Tables of all workbooks: what is written is read back."""

from __future__ import annotations

import io
import random
from typing import Any

import openpyxl
import pytest

from pipeline.core.units import MM
from pipeline.outputs.workbooks.workbook import (
    LONGEST_CELL,
    SheetColumn,
    escape_text,
    write_cell,
    write_table,
    write_workbook,
)

TEXTS = (
    "Ada Tern",
    "Søren\nWadeford",
    " <b>&amp;\"'",
    "x\ufffe\x00\x1b_x0041_",
    "Ad\ud83da",
    "漢🐦",
    "=1+1",
    "a\tb ",
    "é" * 40_000,
    "🐦" * 20_000,
)
NUMBERS = (0, 7, -3, 1_000_000, 0.1 + 0.2, 1 / 3, -2.5e-9, 1.5e300, 12345678.123456789, True)


def tables(book: Any, styles: dict[str, Any]) -> None:
    """Generate rows of every kind, some shorter than others; more than 26 columns, more than 16 rows."""
    chance = random.Random(5)
    names = sorted(styles)
    values = (*TEXTS[:8], *NUMBERS, None, "")
    for sheet, widest in (("a", 30), ("b", 3)):
        rows = [
            [(chance.choice(values), chance.choice(names)) for _ in range(chance.randint(1, widest))] for _ in range(50)
        ]
        rows.append([(text, "text") for text in TEXTS[-widest:]])
        write_table(book.add_worksheet(sheet), styles, [SheetColumn(f"column {k}", 12) for k in range(widest)], rows)


def test_rows_are_read_back_as_given() -> None:
    """By an independent library: texts as text, numbers as numbers, blanks empty, whatever they look like."""
    data = write_workbook("Tables", MM, tables)
    assert write_workbook("Tables", MM, tables) == data
    sheet = openpyxl.load_workbook(io.BytesIO(data))["a"]
    assert sheet.dimensions == "A1:AD52"
    found = {cell.value for row in sheet.iter_rows(min_row=2) for cell in row}
    assert {"Ada Tern", "=1+1", "漢🐦", 7, 1_000_000, None} <= found
    assert not [cell for row in sheet.iter_rows() for cell in row if cell.data_type == "f"]


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_nan_and_infinity_are_refused(value: float) -> None:
    def fill(book: Any, styles: dict[str, Any]) -> None:
        write_cell(book.add_worksheet("a"), 0, 0, value, styles["length"])

    with pytest.raises(ValueError, match="no number"):
        write_workbook("Tables", MM, fill)


@pytest.mark.parametrize("text", ["é" * 40_000, "🐦" * 20_000, "a" * 32_766 + "🐦🐦"])
def test_an_overlong_text_is_cut_with_a_note_within_the_cell_limit(text: str) -> None:
    """Excel's limit counts UTF-16 units: characters beyond the first 65,536 count twice."""
    shown = escape_text(text)
    assert shown.endswith(f"… [{len(text)} characters, cut here]")
    assert LONGEST_CELL - 2 <= len(shown.encode("utf-16-le")) // 2 <= LONGEST_CELL
    assert escape_text("é" * LONGEST_CELL) == "é" * LONGEST_CELL
