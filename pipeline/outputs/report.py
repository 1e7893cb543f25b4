"""report.json: the whole run as one JSON document, for other programs. Lengths are mm whatever the order's unit;
messages are worded in the order's unit. No times: equal input gives equal bytes.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterator
from functools import lru_cache, partial
from importlib import metadata
from pathlib import Path
from typing import Any

from pipeline import VERSION
from pipeline.core import catalogue
from pipeline.core.config.order import OrderFolder
from pipeline.core.findings import Finding, Way
from pipeline.core.list_row import get_row_file, pack_row, pack_rows
from pipeline.core.measured_values import MEASURED_VALUES
from pipeline.core.model import DesignFault, LineMeasure, ListSource, Outcome, Plaque, SetFigure, SetLine
from pipeline.core.printable import escape_json
from pipeline.core.storage.files import write_whole
from pipeline.core.storage.lru_cache import LruCache
from pipeline.core.units import Units
from pipeline.geometry.flatten import outline_box
from pipeline.outputs import design_words
from pipeline.outputs.revision import FIRST, Revision, build_identity
from pipeline.outputs.row_totals import ELSEWHERE, LEFT_OUT, PLAQUES, STOPPED, count_reasons, count_rows
from pipeline.outputs.workbooks import size_table_totals

SCHEMA = 1
"""Raised when a key changes its meaning or goes; new keys may come at any time."""

LIBRARIES = (
    "ezdxf",
    "fonttools",
    "numpy",
    "openpyxl",
    "pikepdf",
    "pyvoronoi",
    "reportlab",
    "shapely",
    "skia-pathops",
    "uharfbuzz",
    "xlsxwriter",
)
"""Libraries whose version can change a result or a byte of an output."""


@lru_cache
def list_library_versions() -> dict[str, str]:
    """Installed versions, by name."""
    out = {}
    for name in LIBRARIES:
        try:
            out[name] = metadata.version(name)
        except metadata.PackageNotFoundError:
            out[name] = "not installed"
    return out


def list_order_findings(outcome: Outcome) -> tuple[Finding, ...]:
    """Everything said about the order as a whole, each once: the list's own findings and the run's."""
    return tuple(dict.fromkeys((*outcome.listing.findings, *outcome.findings)))


def count_plaques(outcome: Outcome) -> dict[str, int]:
    """plaques = ready + ask + stopped; copies counts pieces of plaques that are not stopped."""
    states = [p.state for p in outcome.plaques]
    return {
        "plaques": len(states),
        "copies": sum(p.recipient.copies for p in outcome.plaques if p.state != "stopped"),
        "ready": states.count("ready"),
        "ask": states.count("ask"),
        "stopped": states.count("stopped"),
        "faults": len(outcome.faults),
    }


def _round_number(value: float | None) -> float | None:
    """Whole nanometres: far below anything measured, and free of the tail of binary fractions."""
    return None if value is None or not math.isfinite(value) else round(float(value), 6) + 0.0


def _round_place(at: tuple[float, float] | None) -> list[float | None] | None:
    return None if at is None else [_round_number(at[0]), _round_number(at[1])]


def _report_finding(finding: Finding, units: Units) -> dict[str, Any]:
    return {
        "code": finding.code,
        "severity": finding.severity.value,
        "line": finding.line,
        "glyph": finding.glyph,
        "at": _round_place(finding.at),
        "measured": _round_number(finding.measured),
        "limit": _round_number(finding.limit),
        "unit": finding.unit,
        "message": catalogue.format_message(finding, units),
        "remedy": catalogue.format_remedy(finding, units),
        "addressed": catalogue.get_kind(finding.code).addressed or None,
        "ways": [_report_way(way, units) for way in finding.ways],
        "row": None if finding.row is None else pack_row(finding.row),
        "cell": finding.cell,
        "facts": {name: _round_number(fact) if isinstance(fact, float) else fact for name, fact in finding.facts},
    }


def _report_design_fault(fault: DesignFault, units: Units) -> dict[str, Any]:
    return {
        "line": fault.line,
        "typeface": fault.face,
        "cap_height": _round_number(fault.cap_height),
        "plaques": fault.of,
        "rows": pack_rows(fault.rows),
        "faults": [
            {
                "code": c.code,
                "rows": pack_rows(c.rows),
                "worst": _round_number(c.worst.measured),
                "limit": _round_number(c.worst.limit),
            }
            for c in fault.faults
        ],
        "message": design_words.describe_design_fault(fault, units),
        "remedy": design_words.describe_design_remedy(fault, units),
        "ways": [_report_way(way, units) for way in fault.ways],
    }


def _report_way(way: Way, units: Units) -> dict[str, Any]:
    """One way out of a finding: in words, and as the edits of order.toml it means, lengths in the order's unit."""
    return {
        "words": catalogue.describe_way(way, units),
        "edits": [{"table": e.table, "number": e.number, "key": e.key, "value": e.value} for e in way.edits],
        "text": way.text or None,
        "addressed": catalogue.WAY_KINDS[way.code].addressed or None,
    }


def _report_measured(measure: LineMeasure) -> dict[str, Any]:
    """Each value under its name, and beside it where it is and in which letter. A value that doesn't apply is null."""
    out: dict[str, Any] = {}
    for what in MEASURED_VALUES:
        found = measure.get(what)
        out[what.key] = _round_number(found.value) if found else None
        if what.placed:
            place = found and {"at": _round_place(found.at), "glyph": found.glyph, "kind": found.kind}
            out[f"{what.key}_place"] = place
    return out


def _report_line(line: SetLine, measure: LineMeasure) -> dict[str, Any]:
    return {
        "line": line.line,
        "side": line.side,
        "text": line.text,
        "face": line.face,
        "cap_height": _round_number(line.cap_height),
        "tracking": line.tracking,
        "letter_width": _round_number(line.letter_width),
        "rows": [row.text for row in line.rows],
        "width": _round_number(line.width),
        "slack": _round_number(line.slack),
        **_report_measured(measure),
    }


def _report_figure(figure: SetFigure, measure: LineMeasure) -> dict[str, Any]:
    box = outline_box([path for row in figure.rows for piece in row.pieces for path in piece.build_outline()])
    return {
        "number": figure.number,
        "file": figure.text,
        "side": figure.side,
        "cut": figure.cut,
        "width": _round_number(figure.width),
        "height": _round_number(figure.cap_height),
        "box": [_round_number(v) for v in box] if box else [],
        **_report_measured(measure),
    }


def _report_figures(plaque: Plaque) -> list[dict[str, Any]]:
    """The client's drawings on a plaque with what was measured on each."""
    measures = {m.line: m for m in plaque.figure_measures}
    figures = () if plaque.artwork is None else plaque.artwork.figures
    return [_report_figure(f, measures.get(n) or LineMeasure(line=n)) for n, f in enumerate(figures, 1)]


def _list_lines(plaque: Plaque) -> list[tuple[SetLine, LineMeasure]]:
    """The lines of a plaque with what was measured on each."""
    measures = {m.line: m for m in plaque.measures}
    lines = () if plaque.artwork is None else plaque.artwork.lines
    return [(line, measures.get(line.line) or LineMeasure(line=line.line)) for line in lines]


def _report_before_lines(plaque: Plaque, no: int) -> dict[str, Any]:
    return {
        "row": pack_row(plaque.recipient.row),
        "no": no or None,
        "cell": plaque.recipient.cell,
        "text": list(plaque.text),
        "raw": dict(plaque.recipient.raw),
        "copies": plaque.recipient.copies,
        "state": plaque.state,
        "fingerprint": plaque.fingerprint or None,
        "cut_file": plaque.cut_file or None,
        "back_file": plaque.back_file or None,
        "also_files": list(plaque.also_files),
    }


def _report_after_lines(plaque: Plaque, units: Units) -> dict[str, Any]:
    return {
        "artwork": _report_figures(plaque),
        "findings": [_report_finding(f, units) for f in plaque.findings],
        "proved": {name: _round_number(value) for name, value in plaque.proved},
    }


def _report_plaque(plaque: Plaque, no: int, units: Units) -> dict[str, Any]:
    lines = [_report_line(*pair) for pair in _list_lines(plaque)]
    return {**_report_before_lines(plaque, no), "lines": lines, **_report_after_lines(plaque, units)}


class _PlaqueTexts:
    """Plaques as JSON text, each the encoding of its `_report_plaque`. A line that comes back is put into words
    once."""

    def __init__(self, units: Units) -> None:
        encode = json.JSONEncoder(ensure_ascii=False, allow_nan=False).encode
        self.encode: Callable[[Any], str] = lambda value: escape_json(encode(value))
        self._units = units
        self._known: LruCache[str] = LruCache()

    def format_plaque(self, plaque: Plaque, no: int) -> str:
        lines = [self._known.get_or_compute(pair, partial(self._report_line, pair)) for pair in _list_lines(plaque)]
        before, behind = (
            self.encode(_report_before_lines(plaque, no)),
            self.encode(_report_after_lines(plaque, self._units)),
        )
        return f'{before[:-1]}, "lines": [{", ".join(lines)}], {behind[1:]}'

    def _report_line(self, pair: tuple[SetLine, LineMeasure]) -> str:
        return self.encode(_report_line(*pair))


def build_report(outcome: Outcome, folder: OrderFolder, revision: Revision = FIRST) -> dict[str, Any]:
    """The report as plain values, ready for JSON. Plaques stand in the order of the client's rows."""
    parts = _build_parts(outcome, folder, revision)
    numbers = revision.number_rows(outcome.plaques)
    return {
        **parts,
        "plaques": [_report_plaque(p, numbers[p.recipient.row], folder.order.unit) for p in outcome.plaques],
    }


def _build_parts(outcome: Outcome, folder: OrderFolder, revision: Revision) -> dict[str, Any]:
    """The report with its plaques still to be put into plain values."""
    units, listing = folder.order.unit, outcome.listing
    return {
        "schema": SCHEMA,
        "tool": {"name": "plaques", "version": VERSION, "libraries": list_library_versions()},
        "order": {
            "id": build_identity(outcome, revision).order_id,
            "revision": revision.letter,
            "title": outcome.title,
            "client": outcome.client,
            "sha256": outcome.order_sha256,
            "units": folder.order.units,
            "cutter": dict(outcome.cutter),
            "shop_file": folder.shop_place or None,
            "shop_sha256": folder.shop_sha256 or None,
            "from_shop_file": folder.order.list_taken_values(),
        },
        "list": {
            "file": listing.file,
            "sheet": listing.sheet,
            "sha256": listing.sha256,
            "header_row": listing.header_row,
            "columns": dict(listing.columns),
            "rows": listing.rows,
            "recipients": sum(not get_row_file(r.row) for r in listing.recipients),
            "more": [_report_further_list(each, outcome) for each in listing.further],
            "account": [{"row": pack_row(a.row), "fate": a.fate, "reason": a.reason} for a in listing.account],
        },
        "blank": {
            "source": outcome.blank.source,
            "sha256": outcome.blank.sha256 or None,
            "width": _round_number(outcome.blank.width),
            "height": _round_number(outcome.blank.height),
            "thickness": _round_number(outcome.blank.thickness),
        },
        "part": outcome.part or None,
        "counts": count_plaques(outcome),
        "accounts": _report_accounts(outcome),
        "findings": [_report_finding(f, units) for f in list_order_findings(outcome)],
        "design": [_report_design_fault(fault, units) for fault in outcome.design],
        "proof_held": outcome.proof_held,
        "sizes": [size_table_totals.report_sizes(line) for line in outcome.sizes],
        "plaques": [],
        "faults": [{"row": pack_row(row), "trace": trace} for row, trace in outcome.faults],
    }


def _report_further_list(source: ListSource, outcome: Outcome) -> dict[str, Any]:
    return {
        "file": source.file,
        "sheet": source.sheet,
        "sha256": source.sha256,
        "header_row": source.header_row,
        "columns": dict(source.columns),
        "rows": source.rows,
        "recipients": sum(get_row_file(r.row) == source.file for r in outcome.listing.recipients),
    }


def _report_accounts(outcome: Outcome) -> dict[str, Any]:
    """Report how many rows the list has, and what became of them: the four others make `rows`."""
    counted = count_rows(outcome, {PLAQUES: [p.recipient.row for p in outcome.plaques if p.state != "stopped"]})
    kinds = {kind: len(rows) for kind, rows in counted.kinds}
    return {
        "rows": len(counted.rows),
        "plaques": kinds[PLAQUES],
        "stopped": kinds[STOPPED],
        "not_in_part": kinds[ELSEWHERE],
        "left_out": kinds[LEFT_OUT],
        "left_out_for": count_reasons(outcome),
    }


def write_report_lines(outcome: Outcome, folder: OrderFolder, revision: Revision = FIRST) -> Iterator[str]:
    """The report as one JSON document, line by line: one line a plaque, so that two reports can be held against each
    other and a long one never stands in memory whole."""
    texts, numbers = _PlaqueTexts(folder.order.unit), revision.number_rows(outcome.plaques)
    between = "{\n"
    for name, value in _build_parts(outcome, folder, revision).items():
        yield f"{between} {texts.encode(name)}: "
        between = ",\n"
        if name != "plaques":
            yield texts.encode(value)
            continue
        start = "[\n  "
        for plaque in outcome.plaques:
            yield start + texts.format_plaque(plaque, numbers[plaque.recipient.row])
            start = ",\n  "
        yield "\n ]" if start != "[\n  " else "[]"
    yield "\n}\n"


def write_report(target: Path, outcome: Outcome, folder: OrderFolder, revision: Revision = FIRST) -> None:
    """Write the report to `target` (usually out/report.json). CannotRun when it cannot be written."""
    # a lone surrogate from a damaged cell must not end the run: JSON escapes it
    lines = write_report_lines(outcome, folder, revision)
    write_whole(target, (line.encode("utf-8", "backslashreplace") for line in lines))
