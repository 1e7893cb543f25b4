"""report.md: every field of report.json."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from pipeline.core.measured_values import MEASURED_VALUES, MeasuredValue
from pipeline.outputs.report import SCHEMA
from pipeline.reference.markdown import format_table

HEAD = f"""# report.json

The whole run as one JSON document, for other programs; `--json` prints the same. `schema` is {SCHEMA}: it is raised
when a field changes its meaning or goes, while new fields may come at any time. Lengths are mm whatever the order's
unit; messages are worded in the order's unit. Equal input gives equal bytes, so there are no times in it. `[]` stands
for each element of a list, `*` for any name. A value that doesn't apply is `null`.
"""

_FINDING = {
    "code": "permanent code of the kind of finding; see findings.md",
    "severity": "`stop`, `ask` or `note`",
    "line": "line of the design, from 1",
    "glyph": "letter concerned",
    "at[]": "place on the blank: x, y from its lower left",
    "measured": "measured value, in `unit`",
    "limit": "limit it was compared with, in `unit`",
    "unit": "`mm`, `mm²`, `°` or empty",
    "message": "what is wrong",
    "remedy": "what to do about it",
    "addressed": "who has to act: `client`, `maker` or `nobody`; null if the edits say it all",
    "ways[].words": "one way to resolve it, in words",
    "ways[].edits[].table": "table of order.toml to edit; empty for a key above all tables",
    "ways[].edits[].number": "which one of several tables, from 1",
    "ways[].edits[].key": "key to edit",
    "ways[].edits[].value": "its new value, in the order's unit; null: take the key out",
    "ways[].text": "what the line would say instead, for the client to agree to",
    "ways[].addressed": "who has to act on this way",
    "row": "row of the list",
    "cell": "cell of the list, such as `B14`",
    "facts.*": "the values in the message, by name",
}
_PLACE = {
    "at[]": "place on the blank: x, y from its lower left",
    "glyph": "letter it is in",
    "kind": "shape of the place, such as `neck`, `branch`, `counter` or `gap`",
}


def _list_measured_fields(what: MeasuredValue) -> Iterator[tuple[str, str]]:
    yield what.key, f"{what.meaning}; compared with `{what.limit}` of [limits]" if what.limit else what.meaning
    if what.placed:
        yield from ((f"{what.key}_place.{key}", text) for key, text in _PLACE.items())


_LINE = {
    "line": "line of the design, from 1",
    "side": "`front` or `back`",
    "text": "text as set",
    "face": "identifies the typeface",
    "cap_height": "capital height as set",
    "tracking": "tracking as set, in thousandths of an em",
    "letter_width": "width of the letters, in % of normal; only for a typeface with a width axis",
    "rows[]": "the text as broken into lines",
    "width": "width of the ink",
    "slack": "room left in the zone; negative: too long",
    **{path: text for what in MEASURED_VALUES for path, text in _list_measured_fields(what)},
}

_FIGURE = {
    "number": "which [[artwork]], from 1; 0: of the blank's drawing",
    "file": "the client's drawing",
    "side": "`front` or `back`",
    "cut": "`engrave` or `line`",
    "width": "width of what is drawn, before it is turned",
    "height": "height likewise",
    "box[]": "the box round it on the blank: left, low, right, high",
    **{path: text for what in MEASURED_VALUES for path, text in _list_measured_fields(what)},
}

FIELDS: dict[str, str] = {
    "schema": "version of this document",
    "tool.name": "`plaques`",
    "tool.version": "version of the tool",
    "tool.libraries.*": "versions of the libraries that can change a result",
    "order.id": "six-letter code of the order, from title and client",
    "order.revision": "letter of the proof this run made",
    "order.title": "title of the job",
    "order.client": "who the job is for",
    "order.sha256": "hash of order.toml",
    "order.units": "unit of the order file: `mm` or `in`",
    "order.cutter.*": "the lettering cutter and the limits that follow from it, each with its source",
    "order.shop_file": "the shop file that was found, seen from the order folder, such as `../shop.toml`",
    "order.shop_sha256": "hash of the shop file",
    "order.from_shop_file.*": "a key whose value comes from the shop file, such as `rates.hour`: where from",
    "list.file": "the client's list, the first one where there are several",
    "list.sheet": "sheet that was read",
    "list.sha256": "hash of the list",
    "list.header_row": "row of the headings; 0: none",
    "list.columns.*": "column letters of each of the order's columns",
    "list.rows": "rows of the sheet that hold anything",
    "list.recipients": "rows that are recipients",
    "list.more[].file": "a further list, as its rows name it",
    "list.more[].sheet": "sheet that was read",
    "list.more[].sha256": "hash of that list",
    "list.more[].header_row": "row of its headings; 0: none",
    "list.more[].columns.*": "column letters of each of the order's columns",
    "list.more[].rows": "rows of its sheet that hold anything",
    "list.more[].recipients": "rows of it that are recipients",
    "list.account[].row": "a row of the lists: a number, or `FILE!12` of a further list, as everywhere",
    "list.account[].fate": "what became of it: `plaque`, `stopped` or `left-out`",
    "list.account[].reason": "why it was left out",
    "blank.source": "drawing of the blank, or its shape",
    "blank.sha256": "hash of the drawing",
    "blank.width": "width of the blank",
    "blank.height": "height of the blank",
    "blank.thickness": "thickness under the cutter",
    "part": "rows asked for with `--rows`",
    "counts.plaques": "plaques = ready + ask + stopped",
    "counts.copies": "pieces of plaques that are not stopped",
    "counts.ready": "plaques without a stop or a question",
    "counts.ask": "plaques with a question",
    "counts.stopped": "plaques that must not be cut",
    "counts.faults": "rows in which the tool itself failed",
    "accounts.rows": "rows of the list; the four below add up to it",
    "accounts.plaques": "rows that became a plaque which may be cut",
    "accounts.stopped": "rows that are stopped",
    "accounts.not_in_part": "rows not named by `--rows`",
    "accounts.left_out": "rows that are not recipients",
    "accounts.left_out_for.*": "reasons for leaving rows out, with their number",
    **{f"findings[].{key}": f"about the whole order: {text}" for key, text in _FINDING.items()},
    "design[].line": "a line of the design that is at fault, from 1",
    "design[].typeface": "its typeface",
    "design[].cap_height": "its capital height as designed",
    "design[].plaques": "plaques of the order",
    "design[].rows[]": "rows it touches",
    "design[].faults[].code": "permanent code of what is wrong",
    "design[].faults[].rows[]": "rows with it",
    "design[].faults[].worst": "the value farthest from its limit",
    "design[].faults[].limit": "the limit",
    "design[].message": "all of it in words",
    "design[].remedy": "what was tried on every plaque and puts the line right, the least change first: another "
    "size, spacing or break of the line, another cutter, another typeface, several together; else the nearest, "
    "with what it leaves wrong",
    "design[].ways[].words": "one of them in words",
    "design[].ways[].edits[].table": "table of `order.toml`; empty: above all tables",
    "design[].ways[].edits[].number": "which `[[line]]`, from 1",
    "design[].ways[].edits[].key": "key of the table",
    "design[].ways[].edits[].value": "value to write, in the order's unit; null: take the key out",
    "design[].ways[].text": "another wording; always null here",
    "design[].ways[].addressed": "who has to act where there is no edit",
    "proof_held": "whether no proof was made, because of faults of the design",
    "sizes[].line": "line of the design, from 1",
    "sizes[].same_size": "`same_size` of the line",
    "sizes[].designed": "capital height as designed",
    "sizes[].policies.*[].cap_height": "for each `same_size`: a size it would give",
    "sizes[].policies.*[].names": "names set in that size",
    "sizes[].not_set[]": "rows that fit at no size allowed",
    "sizes[].held_down[].cap_height": "a size that a few names force on the others",
    "sizes[].held_down[].rows[]": "the rows that force it",
    "sizes[].held_down[].others": "size the others could have without them",
    "plaques[].row": "row of the list",
    "plaques[].no": "plain number of its design, given once per order; null: none yet",
    "plaques[].cell": "cell of the name",
    "plaques[].text[]": "text of each line",
    "plaques[].raw.*": "cells of the row as the list has them",
    "plaques[].copies": "pieces wanted",
    "plaques[].state": "`ready`, `ask` or `stopped`",
    "plaques[].fingerprint": "short code of exactly what the client gets",
    "plaques[].cut_file": "its cut file, below the output folder",
    "plaques[].back_file": "cut file of a lettered back",
    "plaques[].also_files[]": "further formats of its cut file",
    **{f"plaques[].lines[].{key}": text for key, text in _LINE.items()},
    **{f"plaques[].artwork[].{key}": text for key, text in _FIGURE.items()},
    **{f"plaques[].findings[].{key}": text for key, text in _FINDING.items()},
    "plaques[].proved.*": "what reading the cut file back measured; with `--prove` also overcut and undercut",
    "faults[].row": "row in which the tool itself failed",
    "faults[].trace": "where it failed",
}
"""Field -> its content, in the order of the document."""


def build_page() -> str:
    """Return the page."""
    return f"{HEAD}\n{format_table(('field', 'holds'), [(f'`{path}`', text) for path, text in FIELDS.items()])}"


def find_unknown_fields(report: dict[str, Any]) -> set[str]:
    """Return the fields of a report that the page doesn't describe."""
    return {path for path in _walk_paths(report) if not _is_described(path)}


def find_missing_fields(reports: list[dict[str, Any]]) -> set[str]:
    """Return the fields the page describes that none of the reports holds."""
    patterns = {_find_pattern(path) for report in reports for path in _walk_paths(report)}
    return set(FIELDS) - {p for p in patterns if p is not None}


def _is_described(path: str) -> bool:
    return _find_pattern(path) is not None


def _find_pattern(path: str) -> str | None:
    """Return the described field that a path belongs to: `raw.name` belongs to `raw.*`."""
    if path in FIELDS or (path := path.removesuffix("[]")) in FIELDS:
        return path
    for field in FIELDS:
        before, star, after = field.partition("*")
        if star and path.startswith(before) and path.endswith(after) and len(path) > len(before) + len(after):
            return field
    return None


def _walk_paths(value: Any, above: str = "") -> Iterator[str]:
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from _walk_paths(inner, f"{above}.{key}" if above else key)
    elif isinstance(value, list):
        for inner in value:
            yield from _walk_paths(inner, f"{above}[]")
    elif value is not None or not above.endswith(("at", "stroke_place", "land_place")):
        yield above
