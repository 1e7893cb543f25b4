"""Lists as text: columns separated by commas, semicolons, tabs or bars, or one name per line."""

from __future__ import annotations

import csv
import io
import itertools
import re
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

from pipeline.core.catalogue import sheet_kinds
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.findings import Finding, build_finding
from pipeline.intake.message.pasted_message import PastedMessage, drop_quotes, read_message
from pipeline.intake.spreadsheet.encodings import DecodedText, NotTextError, decode_text
from pipeline.intake.spreadsheet.list_limits import build_limit_error
from pipeline.intake.spreadsheet.sheet import Cell, ReadOptions, Row, Sheet, classify_text

SEPARATORS = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "bars"}
SAMPLE = 300
"""Lines that are examined to find the separator."""
MOST_ROWS = 1_048_576
"""Most lines of a file, blank ones included: the rows of a spreadsheet (published limit of the .xlsx format's
programs)."""


def read_delimited(path: Path, data: bytes, sha256: str, how: ReadOptions) -> Sheet:
    """Read a text file as a sheet. CannotRun when it isn't text, or not in the encoding that the order names."""
    try:
        decoded = decode_text(data, how.encoding)
    except NotTextError as error:
        raise CannotRun(
            Fault(
                where=str(path),
                found=str(error),
                expected="a text file",
                remedy='save it as “CSV UTF-8”, or name its encoding with encoding = "…" in [list]',
            )
        ) from None
    text = decoded.text.removeprefix("\ufeff")
    findings: list[Finding] = []
    skip = 0
    separator = how.separator
    told = re.match(r"sep=(.)\r?\n", text)
    if told:
        separator, skip = separator or told[1], 1
    if separator is None:
        separator = find_separator(text, path.suffix.lower())
    if (lines := text.count("\n")) > max(MOST_ROWS, how.limits.rows):
        raise build_limit_error(path, "rows", f"it has {lines} lines", how.limits)
    records, unbalanced = _split_records(text, separator)
    if unbalanced:
        findings.append(build_finding(sheet_kinds.QUOTES_UNBALANCED, facts={"line": unbalanced, "at": str(unbalanced)}))
    rows = []
    for number, fields in enumerate(records, 1):
        cells = tuple(
            Cell(number, column, classify_text(field), field, field) for column, field in enumerate(fields, 1) if field
        )
        records[number - 1] = []  # don't hold a large list in memory twice
        if cells and number > skip:
            rows.append(Row(number, cells))
    odd = [row for row in rows if any(_is_doubtful(cell.shown, decoded) for cell in row.cells)]
    foreign = [row.number for row in odd]
    findings.insert(0, _describe_reading(decoded, separator, rows, odd))
    message = PastedMessage((), {})
    if one_a_line := bool(rows) and all(len(row.cells) == 1 or _is_marked(row) for row in rows):
        rows, quoted = drop_quotes(rows)
        if all(len(row.cells) == 1 for row in rows) and (parted := _drop_numbers(rows)):
            rows = parted
        if any(len(row.cells) > 1 for row in rows):
            findings.append(build_finding(sheet_kinds.NUMBERS_APART))
        message = read_message(rows, quoted)
        rows = list(message.rows)
    return Sheet(
        file=path.name,
        path=path,
        name=path.stem,
        sha256=sha256,
        rows=tuple(rows),
        read_by="text",
        findings=tuple(findings),
        doubtful=frozenset(() if decoded.sure else foreign),
        message=one_a_line,
        told=message.told,
    )


def _is_doubtful(text: str, decoded: DecodedText) -> bool:
    """Return whether a text has letters that another encoding would read differently."""
    if text.isascii():
        return False
    return not decoded.doubtful or not decoded.doubtful.isdisjoint(text)


def _is_marked(row: Row) -> bool:
    """Return whether a row has two cells, the first a number or a bullet: numbered lists are pasted with a tab after
    it."""
    return len(row.cells) == 2 and bool(re.fullmatch(r"\s*(?:\(?\d{1,4}\s?[.):]?|[-*•·–—▪◦o])\s*", row.cells[0].shown))


_NUMBER = re.compile(r"\s*(\(?(\d{1,4})\s?[.):]|[-*•·–—▪◦►‣])\s*(?=[^\W\d_])")


def _drop_numbers(rows: Sequence[Row]) -> list[Row]:
    """Move the numbers or bullets of a numbered list into a separate column; nothing for another list.

    Numbers have to be consecutive, as in a numbered list, unlike personal numbers.
    """
    found = [(row, _NUMBER.match(row.cells[0].shown)) for row in rows]
    marked = [mark for _, mark in found if mark]
    numbers = [int(mark[2]) for mark in marked if mark[2]]
    runs = sum(after == before + 1 for before, after in itertools.pairwise(numbers)) >= 0.8 * (len(numbers) - 1)
    if len(marked) < 3 or len(marked) < 0.4 * len(rows) or not runs or 0 < len(numbers) < len(marked):
        return []
    out = []
    for row, mark in found:
        text = row.cells[0].shown
        number, name = (mark[1], text[mark.end() :]) if mark else ("", text)
        cells = [Cell(row.number, 1, "text", number, number)] if number else []
        out.append(Row(row.number, (*cells, Cell(row.number, 2, classify_text(name), name, name))))
    return out


def _describe_reading(decoded: DecodedText, separator: str, rows: Sequence[Row], odd: Sequence[Row]) -> Finding:
    columns = max((len(row.cells) for row in rows), default=0)
    parted = f"columns separated by {SEPARATORS.get(separator, repr(separator))}" if columns > 1 else "one column"
    if decoded.sure:
        return build_finding(sheet_kinds.TEXT_READ, facts={"encoding": decoded.encoding, "columns": parted})
    seen: list[str] = []
    for row in odd:
        for cell in row.cells:
            seen += [w.strip('",;') for w in cell.shown.split() if _is_doubtful(w, decoded)]
        if len(seen) >= 6:
            break
    return build_finding(
        sheet_kinds.ENCODING_UNSURE,
        facts={
            "encoding": decoded.encoding,
            "rivals": " or ".join(decoded.rivals[:3]) or "another one",
            "words": ", ".join(f"“{w}”" for w in dict.fromkeys(seen[:6])),
            "count": f"{len(odd)} row{'s' if len(odd) != 1 else ''}",
        },
    )


def find_separator(text: str, suffix: str) -> str:
    """Find the separator that splits most lines into the same number of fields.

    In a .txt file a comma may be part of a name (“Skua, Ada”), so commas separate columns there only if fields are
    quoted or the headings known.
    """
    lines = text[: 400 * SAMPLE].splitlines()[:SAMPLE]
    sample = "\n".join(lines)
    best, most = ("\t" if suffix in (".tsv", ".tab") else ","), 0.0
    order = "\t;|," if suffix in (".tsv", ".tab", ".txt") else ",;\t|"
    for separator in order:
        if suffix == ".txt" and separator == "," and not _has_comma_columns(lines):
            continue
        try:
            records = [r for r in csv.reader(io.StringIO(sample), delimiter=separator) if any(f.strip() for f in r)]
        except csv.Error:
            continue
        if not records:
            continue
        counts = Counter(len(record) for record in records)
        wide = {n: c for n, c in counts.items() if n > 1}
        if not wide:
            continue
        usual, times = max(wide.items(), key=lambda item: (item[1], item[0]))
        score = times / len(records) + 0.01 * min(usual, 10)
        if score > most + 1e-9:
            best, most = separator, score
    if suffix == ".txt" and most < 0.6:
        return "\t"
    return best


def _has_comma_columns(lines: Sequence[str]) -> bool:
    from pipeline.intake.recipients.headings import find_meaning

    first = next((line for line in lines if line.strip()), "")
    heads = [field for field in first.split(",") if field.strip()]
    return any('","' in line for line in lines) or (
        len(heads) > 1 and sum(find_meaning(h) is not None for h in heads) > 1
    )


def _split_records(text: str, separator: str) -> tuple[list[list[str]], int]:
    """Split the file into records; return them with the line of a quote that is never closed (0: none).

    Such a quote would swallow every following line, so quotes are then read as ordinary characters.
    """
    records: list[list[str]] = []
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=False)
    before = 0
    try:
        for record in reader:
            lines = reader.line_num - before
            if lines > 12 or (lines > 1 and _is_swallowing(record, separator)):
                return _split_plain(text, separator), before + 1
            before = reader.line_num
            records.append(record)
    except csv.Error:
        return _split_plain(text, separator), before + 1
    return records, 0


def _is_swallowing(record: Sequence[str], separator: str) -> bool:
    """Return whether a multi-line field swallows rows: its lines contain the separator as often as the row itself."""
    for field in record:
        parts = field.splitlines()[1:]
        if len(parts) > 0 and len(record) < 3 and sum(separator in part for part in parts) > 0.5 * len(parts):
            return True
    return False


def _split_plain(text: str, separator: str) -> list[list[str]]:
    """Read every line as a record; quotes round a whole field are removed, others stay."""
    out = []
    for line in text.splitlines():
        fields = line.split(separator) if line else []
        out.append([f[1:-1].replace('""', '"') if len(f) > 1 and f[0] == f[-1] == '"' else f for f in fields])
    return out
