"""check.xlsx: the client's rows in their order, with what became of each, and columns to answer in.

The first sheet is for both: the maker reads state, findings and measures, the client fills in "Your answer" and
"Change to". The second says which order and revision it is and asks for name and date. Others hold what concerns the
whole order, the sizes of its lines, and what became of every row of the list.
`pipeline.signoff.returned.check_sheet_answers` reads the answers back by the headings and labels that stand here.

Every text is written as text: a cell that starts with "=" stays what the client typed.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from pipeline.core import catalogue
from pipeline.core.files import write_whole
from pipeline.core.findings import Finding, Severity
from pipeline.core.model import Outcome, Plaque
from pipeline.core.order import OrderFolder
from pipeline.core.units import Units
from pipeline.outputs.report import counts_of, order_findings
from pipeline.outputs.revision import FIRST, Revision, identity_of
from pipeline.outputs.row_totals import ELSEWHERE, left_out_words, part_words, row_totals
from pipeline.outputs.workbooks.size_sheet import write_sizes
from pipeline.outputs.workbooks.workbook import (
    LINE_HEIGHT,
    SheetColumn,
    lines_of,
    new_workbook,
    write_cell,
    write_table,
)

SHEET = "Check"
SIGN_SHEET = "Sign-off"
ORDER_SHEET = "Whole order"
ROWS_SHEET = "Rows of the list"
SETTINGS_SHEET = "Settings"

ROW, CELL, TEXT, PIECES, STATE = "Row", "Cell", "As it will be cut", "Pieces", "State"
FOUND, TO_DO, QUESTION = "What was found", "What to do", "For the client"
ANSWER, CHANGE_TO = "Your answer", "Change to"
RAW, SIGNED, FINGERPRINT, CUT_FILE, CODES = "As the list has it", "Signed so far", "Fingerprint", "Cut file", "Codes"

AGREED, CHANGE, REFUSED = "agreed", "change", "do not cut"
"""The three answers offered; what else a client may type is the reader's business."""

ORDER_CODE, TITLE, CLIENT, REVISION, ORDER_HASH = "Order code", "Order", "Client", "Revision", "Order file"
PART, ROWS = "Part of the list", "Rows of the list"
BY, ON, REMARKS = "Your name", "Date", "Remarks"

STATE_WORDS = {"ready": "ready", "ask": "question", "stopped": "cannot be cut", "fault": "fault of the tool"}
"""States as words; colour only repeats them."""


def write_check_sheet(target: Path, outcome: Outcome, folder: OrderFolder, revision: Revision = FIRST) -> None:
    """Write the check sheet to `target` (usually out/check.xlsx). CannotRun when it cannot be written."""
    write_whole(target, check_sheet(outcome, folder, revision))


def check_sheet(outcome: Outcome, folder: OrderFolder, revision: Revision = FIRST) -> bytes:
    """The workbook's bytes: the same for the same input."""

    def fill(book: Any, styles: dict[str, Any]) -> None:
        _check(book, styles, outcome, folder.order.unit, revision)
        _sign_off(book, styles, outcome, revision)
        _whole_order(book, styles, outcome, folder.order.unit)
        write_sizes(book, styles, outcome, folder.order.unit)
        _rows(book, styles, outcome)
        _settings(book, styles, outcome)
        if outcome.part:
            for sheet in book.worksheets():
                sheet.set_header(f"&R{part_words(outcome)}")  # on every page that is printed

    return new_workbook(f"Check sheet: {outcome.title}", folder.order.unit, fill)


# --- the first sheet ---------------------------------------------------------------------------------------------


def _check(book: Any, styles: dict[str, Any], outcome: Outcome, units: Units, revision: Revision) -> None:
    sheet = book.add_worksheet(SHEET)
    lines = sorted({line.line for p in outcome.plaques if p.artwork for line in p.artwork.lines})
    signed = revision.answered()
    columns = [
        SheetColumn(ROW, 6, "number"),
        SheetColumn(TEXT, 34),
        SheetColumn(PIECES, 8, "number"),
        SheetColumn(STATE, 14),
        SheetColumn(FOUND, 46),
        SheetColumn(TO_DO, 40),
        SheetColumn(QUESTION, 40),
        SheetColumn(ANSWER, 14, "answer"),
        SheetColumn(CHANGE_TO, 34, "answer"),
        SheetColumn(SIGNED, 22),
        SheetColumn(RAW, 30),
        SheetColumn(CELL, 7),
        *(SheetColumn(f"Cap height, line {n} ({units.name})", 12, "length") for n in lines),
        SheetColumn(f"Narrowest stroke ({units.name})", 12, "length"),
        SheetColumn("… in the letter", 9),
        SheetColumn(f"Stroke after sanding ({units.name})", 12, "length"),
        SheetColumn(f"Narrowest land ({units.name})", 12, "length"),
        SheetColumn(f"Deepest groove ({units.name})", 12, "length"),
        SheetColumn(f"Room left ({units.name})", 12, "length"),
        SheetColumn(CODES, 22, "code"),
        SheetColumn(FINGERPRINT, 14, "code"),
        SheetColumn(CUT_FILE, 44, "code"),
    ]
    faults = dict(outcome.faults)
    rows = [
        (p.recipient.row, _plaque_row(p, lines, units, signed))
        for p in outcome.plaques
        if p.recipient.row not in faults
    ]
    rows += [(row, _fault_row(row, trace, len(columns))) for row, trace in faults.items()]
    rows.sort(key=lambda pair: pair[0])
    write_table(sheet, styles, columns, [cells for _, cells in rows])
    sheet.freeze_panes(1, 2)
    heads = [c.head for c in columns]
    answer = heads.index(ANSWER)
    sheet.print_area(0, 0, max(len(rows), 1), heads.index(CHANGE_TO))  # on paper: what the client reads and fills in
    if rows:
        sheet.data_validation(1, answer, len(rows), answer, _answers())
    sheet.activate()


def _answers() -> dict[str, Any]:
    """A drop-down that offers the three answers and lets anything else be typed."""
    return {
        "validate": "list",
        "source": [AGREED, CHANGE, REFUSED],
        "show_error": False,
        "input_title": "Your answer",
        "input_message": f"“{AGREED}”, or “{CHANGE}” with the wording you want in the next column, or “{REFUSED}”. "
        f"Then your name and the date on the sheet “{SIGN_SHEET}”.",
    }


def _worst_first(findings: Iterable[Finding]) -> list[Finding]:
    return sorted(findings, key=lambda f: f.severity.rank)


def _listed(texts: Iterable[str]) -> str:
    """Several texts in one cell, each once, one to a line; a mark before each when there are several."""
    once = [t for t in dict.fromkeys(texts) if t]
    return once[0] if len(once) == 1 else "\n".join(f"– {t}" for t in once)


def _plaque_row(plaque: Plaque, lines: list[int], units: Units, signed: dict[str, str]) -> list[tuple[Any, str]]:
    findings = _worst_first(plaque.findings)
    set_lines = {} if plaque.artwork is None else {line.line: line for line in plaque.artwork.lines}
    measures, recipient = plaque.measures, plaque.recipient
    stroke = min((m.stroke for m in measures if m.stroke), key=lambda e: e.value, default=None)
    mm = units.mm

    def length(values: list[float | None], pick: Any = min) -> tuple[Any, str]:
        real = [v for v in values if v is not None and math.isfinite(v)]
        return (round(pick(real) / mm, 6) if real else None), "length"

    return [
        (recipient.row, "number"),
        (shown_text(plaque), "text"),
        (recipient.copies, "number"),
        (STATE_WORDS[plaque.state], plaque.state),
        (_listed(catalogue.message(f, units) for f in findings), "text"),
        (_listed(catalogue.remedy(f, units) for f in findings), "text"),
        (_listed(catalogue.for_client(f, units) for f in findings), "text"),
        ("", "answer"),
        ("", "answer"),
        (signed.get(plaque.fingerprint, ""), "text"),
        (_raw_text(plaque), "text"),
        (recipient.cell, "text"),
        *(length([set_lines[n].cap_height] if n in set_lines else []) for n in lines),
        length([stroke.value] if stroke else []),
        (stroke.glyph if stroke else "", "text"),
        length([m.stroke_after_sanding for m in measures]),
        length([m.land.value if m.land else None for m in measures]),
        length([m.groove_depth for m in measures], max),
        length([line.slack for line in set_lines.values()]),
        ("\n".join(dict.fromkeys(f.code for f in findings)), "code"),
        (plaque.fingerprint, "code"),
        ("\n".join(filter(None, (plaque.cut_file, plaque.back_file, *plaque.also_files))), "code"),
    ]


def _fault_row(row: int, trace: str, width: int) -> list[tuple[Any, str]]:
    last = trace.strip().splitlines()[-1] if trace.strip() else "no details"
    told = f"the tool itself failed on this row: {last}"
    cells: list[tuple[Any, str]] = [(row, "number"), ("", "text"), ("", "text"), (STATE_WORDS["fault"], "fault")]
    cells += [(told, "text"), ("send report.json to whoever looks after the tool; the other rows are done", "text")]
    return cells + [("", "text")] * (width - len(cells))


def shown_text(plaque: Plaque) -> str:
    """The lines as they will be cut, one under the other; as the list has them when nothing could be set."""
    return _raw_text(plaque) if plaque.artwork is None else "\n".join(t for t in plaque.text if t)


def _raw_text(plaque: Plaque) -> str:
    return "\n".join(text for _, text in plaque.recipient.raw if text)


# --- the other sheets --------------------------------------------------------------------------------------------


def _sign_off(book: Any, styles: dict[str, Any], outcome: Outcome, revision: Revision) -> None:
    """Which order and revision this is, and who answers. Labels in A, values in B."""
    sheet = book.add_worksheet(SIGN_SHEET)
    identity = identity_of(outcome, revision)
    sheet.set_column(0, 0, 18)
    sheet.set_column(1, 1, 70)
    sheet.write_string(0, 0, "Sign-off", styles["title"])
    told = (
        f"On the sheet “{SHEET}”, answer for every plaque: “{AGREED}”, or “{CHANGE}” with the wording you want, or "
        f"“{REFUSED}”. Names are cut exactly as shown: please check every letter and every accent. Then fill in your "
        "name and the date here and send the file back."
    )
    sheet.merge_range(1, 0, 1, 1, told, styles["text"])
    sheet.set_row(0, 26)
    sheet.set_row(1, 64)
    line = 3
    for label, value in (
        (TITLE, identity.title),
        (CLIENT, identity.client),
        (REVISION, identity.revision),
        (ORDER_CODE, identity.order_id),
        (ORDER_HASH, identity.order_sha256),
        *(((PART, part_words(outcome)),) if outcome.part else ()),
    ):
        sheet.write_string(line, 0, label, styles["label"])
        write_cell(sheet, line, 1, value, styles["text"])
        sheet.set_row(line, LINE_HEIGHT * lines_of(value, 70))
        line += 1
    line += 1
    for label in (BY, ON, REMARKS):
        sheet.write_string(line, 0, label, styles["label"])
        sheet.write_blank(line, 1, None, styles["answer"])
        line += 1
    sheet.set_paper(9)
    sheet.fit_to_pages(1, 0)


def _whole_order(book: Any, styles: dict[str, Any], outcome: Outcome, units: Units) -> None:
    sheet = book.add_worksheet(ORDER_SHEET)
    columns = [
        SheetColumn("Kind", 14),
        SheetColumn("Where", 22),
        SheetColumn(FOUND, 70),
        SheetColumn(TO_DO, 60),
        SheetColumn("Code", 24),
    ]
    words = {"stop": "stopped", "ask": "ask", "note": "ready"}
    rows: list[list[tuple[Any, str]]] = []
    for finding in _worst_first(order_findings(outcome)):
        rows.append(
            [
                ({"stop": "stop", "ask": "question", "note": "note"}[finding.severity], words[finding.severity]),
                (finding.cell or ("" if finding.row is None else f"row {finding.row}"), "text"),
                (catalogue.message(finding, units), "text"),
                (catalogue.remedy(finding, units), "text"),
                (finding.code, "code"),
            ]
        )
    if not rows:
        rows.append([("note", "ready"), ("", "text"), ("nothing that concerns the whole order", "text")])
    write_table(sheet, styles, columns, rows)
    sheet.freeze_panes(1, 0)


def _settings(book: Any, styles: dict[str, Any], outcome: Outcome) -> None:
    """How many of what, and with which cutter and limits it was checked."""
    sheet = book.add_worksheet(SETTINGS_SHEET)
    counts = counts_of(outcome)
    told: list[tuple[str, str | float]] = [
        ("plaques", counts["plaques"]),
        ("ready", counts["ready"]),
        ("with a question", counts["ask"]),
        ("cannot be cut", counts["stopped"]),
        ("pieces of the plaques that can be cut", counts["copies"]),
        (ROWS, row_totals(outcome, {"on this sheet": [p.recipient.row for p in outcome.plaques]}).words()),
        ("left out", left_out_words(outcome) or "none"),
        *(((PART, part_words(outcome)),) if outcome.part else ()),
        ("list", f"{outcome.listing.file}, sheet {outcome.listing.sheet}"),
        ("blank", outcome.blank.source),
        *outcome.cutter,
    ]
    rows = [[(name, "text"), (value, "text" if isinstance(value, str) else "number")] for name, value in told]
    write_table(sheet, styles, [SheetColumn("What", 40), SheetColumn("How much (lengths in mm)", 70)], rows)
    sheet.freeze_panes(1, 0)


def _rows(book: Any, styles: dict[str, Any], outcome: Outcome) -> None:
    sheet = book.add_worksheet(ROWS_SHEET)
    fates = {"plaque": ("a plaque", "ready"), "left-out": ("left out", "fault"), "stopped": ("stopped", "stopped")}
    made = {p.recipient.row: p for p in outcome.plaques}
    rows = []
    for account in sorted(outcome.listing.account, key=lambda a: a.row):
        fate, reason, plaque = fates[account.fate], account.reason, made.get(account.row)
        if plaque is None and account.fate != "left-out":
            fate = (ELSEWHERE, "fault")
        elif plaque is not None and plaque.state == "stopped":
            codes = dict.fromkeys(f.code for f in plaque.findings if f.severity is Severity.STOP)
            fate, reason = fates["stopped"], reason or ", ".join(codes)
        rows.append([(account.row, "number"), fate, (reason, "text")])
    write_table(sheet, styles, [SheetColumn(ROW, 8, "number"), SheetColumn("Became", 16), SheetColumn("Why", 80)], rows)
    sheet.freeze_panes(1, 0)
