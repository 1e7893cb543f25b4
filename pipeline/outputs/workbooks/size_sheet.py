"""The sheet of the check workbook that shows the sizes of every line: how many names have which, as numbers and as a
chart, under each policy of `same_size`; and which names hold the others down.
"""

from __future__ import annotations

from typing import Any

from pipeline.core.model import LineSizes, Outcome
from pipeline.core.units import Units
from pipeline.outputs.workbooks.size_table_totals import POLICIES, count_sizes, list_not_set, list_size_holders
from pipeline.outputs.workbooks.workbook import LINE_HEIGHT, count_lines, write_cell

SHEET = "Sizes"

_CHART_ROWS = 15  # rows of the sheet beside the chart
_NAMES_SHOWN = 6
_COLOURS = {"all": "#B8BFC4", "most": "#1F5A7A", "each": "#D9A441"}
_WORDS = {
    "all": "one size for all",
    "most": "only long names smaller",
    "each": "size gives first",
}
_WIDTHS = (18, 16, 16, 16, 60)


def write_sizes(book: Any, styles: dict[str, Any], outcome: Outcome, units: Units) -> None:
    """Adds the sheet; nothing when no line was set."""
    lines = [line for line in outcome.sizes if line.names]
    if not lines:
        return
    sheet = book.add_worksheet(SHEET)
    for column, width in enumerate(_WIDTHS):
        sheet.set_column(column, column, width)
    at = 0
    for line in lines:
        at = _write_line(book, sheet, styles, line, units, at) + 2
    sheet.set_landscape()
    sheet.set_paper(9)
    sheet.fit_to_pages(1, 0)
    sheet.set_footer("&L&A&RPage &P of &N")


def _write_line(book: Any, sheet: Any, styles: dict[str, Any], line: LineSizes, units: Units, top: int) -> int:
    """One line's tables and chart from row `top` on; gives the first row below them."""
    title = f"Line {line.line}, designed at {units.show(line.designed)}"
    sheet.set_row(top, 26)
    sheet.write_string(top, 0, title, styles["title"])
    found = count_sizes(line)
    sizes = sorted({size for policy in POLICIES for size in found[policy]})
    if all(set(by_size) <= {line.designed} for by_size in found.values()) and not list_not_set(line):
        told = f"All {len(line.names)} names have the designed size, under every policy of same_size."
        sheet.write_string(top + 1, 0, told)
        return top + 2
    head = top + 1
    sheet.set_row(head, 3 * LINE_HEIGHT)
    sheet.write_string(head, 0, f"Cap height ({units.name})", styles["head"])
    for column, policy in enumerate(POLICIES, 1):
        mark = " (this order)" if policy == line.same_size else ""
        sheet.write_string(head, column, f"“{policy}”: {_WORDS[policy]}{mark}", styles["head"])
    for row, size in enumerate(sizes, head + 1):
        write_cell(sheet, row, 0, round(size / units.mm, 6), styles["length"])
        for column, policy in enumerate(POLICIES, 1):
            write_cell(sheet, row, column, found[policy].get(size, 0), styles["count"])
    last = head + len(sizes)
    if sizes:
        sheet.insert_chart(head, 4, _build_chart(book, line, units, head, last), {"x_offset": 12, "y_offset": 4})
    row = last + 1
    if lost := list_not_set(line):
        write_cell(sheet, row, 0, "cannot be set", styles["text"])
        write_cell(sheet, row, 1, len(lost), styles["number"])
        row += 1
    row = max(row + 1, head + _CHART_ROWS + 1)
    return _write_holding(sheet, styles, line, units, row)


def _write_holding(sheet: Any, styles: dict[str, Any], line: LineSizes, units: Units, top: int) -> int:
    held = list_size_holders(line)
    if not held:
        return top
    sheet.write_string(top, 0, "With one size for all, these names keep the others small:", styles["title-small"])
    top += 1
    heads = (
        f"Size they set ({units.name})",
        "by names",
        f"without them ({units.name})",
        "larger by (%)",
        "which names",
    )
    sheet.set_row(top, 2 * LINE_HEIGHT)
    for column, head in enumerate(heads):
        sheet.write_string(top, column, head, styles["head"])
    for row, step in enumerate(held, top + 1):
        more = len(step.by) - _NAMES_SHOWN
        names = "; ".join(f"row {name.row} {name.text}" for name in step.by[:_NAMES_SHOWN])
        names += f"; and {more} more" if more > 0 else ""
        others = None if step.others is None else round(step.others / units.mm, 6)
        gain = None if step.others is None else round((step.others / step.size - 1) * 100)
        write_cell(sheet, row, 0, round(step.size / units.mm, 6), styles["length"])
        write_cell(sheet, row, 1, len(step.by), styles["number"])
        write_cell(sheet, row, 2, others, styles["length"])
        write_cell(sheet, row, 3, gain, styles["number"])
        write_cell(sheet, row, 4, names, styles["text"])
        sheet.set_row(row, LINE_HEIGHT * count_lines(names, _WIDTHS[4]))
    return top + 1 + len(held)


def _build_chart(book: Any, line: LineSizes, units: Units, head: int, last: int) -> Any:
    """Columns: how many names have which size, the smallest on the left."""
    chart = book.add_chart({"type": "column"})
    for column, policy in enumerate(POLICIES, 1):
        chart.add_series(
            {
                "name": _WORDS[policy],
                "categories": [SHEET, head + 1, 0, last, 0],
                "values": [SHEET, head + 1, column, last, column],
                "fill": {"color": _COLOURS[policy]},
                "gap": 60,
            }
        )
    small = {"size": 9, "bold": False}
    title = {"name": f"Line {line.line}: names by size", "name_font": {"size": 11, "bold": False}, "overlay": False}
    chart.set_title(title)
    form = "0." + "0" * units.decimals
    axis = {"name_font": small, "num_font": small}
    chart.set_x_axis({**axis, "name": f"cap height ({units.name})", "num_format": form})
    chart.set_y_axis(
        {**axis, "name": "names", "min": 0, "major_gridlines": {"visible": True, "line": {"color": "#DDDDDD"}}}
    )
    chart.set_legend({"position": "bottom", "font": small})
    chart.set_size({"width": 520, "height": 20 * (_CHART_ROWS - 1)})
    return chart
