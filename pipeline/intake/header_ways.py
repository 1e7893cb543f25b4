"""The two answers to whether a row is the header of the list, as edits of [list]."""

from __future__ import annotations

from pipeline.core.catalogue import ways
from pipeline.core.findings import Edit, Way, build_way
from pipeline.intake.recipients.header_row import read_headers
from pipeline.intake.spreadsheet.sheet import Row, format_column

Words = str | tuple[str, ...]


def list_header_ways(row: Row, where: tuple[tuple[str, tuple[int, ...]], ...], *, named: bool) -> tuple[Way, ...]:
    """Return both answers: the row is the header, or there is none. where: our key -> columns. named: the order names
    its columns already.

    Columns are named where the order does not, by their letters where there are no headings."""
    heads = read_headers(row)
    out = []
    for kind, header in ((ways.HEADER_IS, row.number), (ways.HEADER_NONE, 0)):
        columns: dict[str, Words] = {}
        if not header or not named:
            for key, places in where:
                words = tuple(heads.get(c, format_column(c)) if header else format_column(c) for c in places)
                columns[key] = words[0] if len(words) == 1 else words
        edits = [Edit(table="list", key="header", value=header)]
        edits += [Edit(table="list", key=f"columns.{key}", value=words) for key, words in columns.items()]
        said = ", ".join(f"{key} = {_format_typed(words)}" for key, words in columns.items())
        facts: dict[str, str | int] = {"row": row.number, "columns": f", columns = {{ {said} }}" if said else ""}
        out.append(build_way(kind, *edits, facts=facts))
    return tuple(out)


def _format_typed(words: Words) -> str:
    """Format a column, or the columns that make one, as typed in the order."""
    return f'"{words}"' if isinstance(words, str) else "[" + ", ".join(f'"{word}"' for word in words) + "]"
