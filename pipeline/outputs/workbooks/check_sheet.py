"""check.xlsx: the client's rows in their order, with what became of each, and columns to answer in.

The first sheet is for both: the maker reads state, findings and measures, the client fills in "Your answer" and
"Change to". The second says which order and revision it is and asks for name and date. These two are in the client's
language. Others, for the maker, hold what concerns the whole order, the sizes of its lines, and what became of every
row of the list. `pipeline.signoff.returned.check_sheet_answers` reads the answers back by the keys of columns and
labels.

Every text is written as text: a cell that starts with "=" stays what the client typed.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

from xlsxwriter.utility import xl_rowcol_to_cell

from pipeline.core import catalogue
from pipeline.core.config.order import OrderFolder
from pipeline.core.design_faults import find_crowded_lines, is_design_fault
from pipeline.core.findings import Finding, Severity
from pipeline.core.language.client_texts import load_client_texts
from pipeline.core.language.texts import Texts, list_languages, load_texts
from pipeline.core.list_row import ListRow, pack_row
from pipeline.core.measured_values import MEASURED_VALUES
from pipeline.core.model import Outcome, Plaque
from pipeline.core.storage.files import write_whole
from pipeline.core.units import Units
from pipeline.outputs.client_questions import ClientQuestion, build_client_questions
from pipeline.outputs.design_words import describe_design_fault, describe_design_remedy
from pipeline.outputs.report import count_plaques, list_order_findings
from pipeline.outputs.revision import FIRST, Revision, build_identity
from pipeline.outputs.row_totals import (
    ELSEWHERE,
    count_rows,
    describe_left_out,
    describe_part,
    describe_part_for_client,
)
from pipeline.outputs.workbooks.question_sheet import QUESTION_SHEET, group_asked_by_row, write_questions
from pipeline.outputs.workbooks.size_sheet import write_sizes
from pipeline.outputs.workbooks.workbook import (
    LINE_HEIGHT,
    SheetColumn,
    count_lines,
    write_cell,
    write_table,
    write_workbook,
)

SHEET, SIGN_SHEET = "sheet.check", "sheet.sign"
"""The two sheets that are read back. Sheets, columns, labels and answers go by their keys: the ids of their words. The
workbook holds each key as a defined name, with lower lines for stops, so that it is known again in any language."""

ROW, CELL, TEXT, PIECES = "sheet.check.row", "sheet.check.cell", "sheet.check.text", "sheet.check.pieces"
NO = "sheet.check.no"
STATE, FOUND, TO_DO = "sheet.check.state", "sheet.check.found", "sheet.check.to-do"
QUESTION, ANSWER, CHANGE_TO = "sheet.check.question", "sheet.check.answer", "sheet.check.change-to"
ASKED = "sheet.check.asked"
SIGNED, RAW, CODES = "sheet.check.signed", "sheet.check.raw", "sheet.check.codes"
FINGERPRINT, CUT_FILE = "sheet.check.fingerprint", "sheet.check.cut-file"
COLUMNS: tuple[str, ...] = (ROW, NO, TEXT, PIECES, STATE, FOUND, TO_DO, QUESTION, ANSWER, CHANGE_TO)
COLUMNS += (SIGNED, RAW, CELL, CODES, FINGERPRINT, CUT_FILE, ASKED)
NEEDED = frozenset({ROW, TEXT, PIECES, ANSWER, CHANGE_TO, FINGERPRINT, CELL})
"""Columns without which nothing can be read back."""

AGREED, CHANGE, REFUSED = "sheet.answer.agreed", "sheet.answer.change", "sheet.answer.refused"
ANSWERS = (AGREED, CHANGE, REFUSED)
"""The three answers offered; what else a client may type is the reader's business."""

TITLE, CLIENT, REVISION = "sheet.sign.title", "sheet.sign.client", "sheet.sign.revision"
ORDER_CODE, ORDER_HASH, PART = "sheet.sign.order-code", "sheet.sign.order-file", "sheet.sign.part"
BY, ON, REMARKS = "sheet.sign.by", "sheet.sign.on", "sheet.sign.remarks"
LABELS = (TITLE, CLIENT, REVISION, ORDER_CODE, ORDER_HASH, PART, BY, ON, REMARKS)

STATES = {
    "ready": "sheet.state.ready",
    "ask": "sheet.state.ask",
    "stopped": "sheet.state.stopped",
    "fault": "sheet.state.fault",
}
"""States as words; colour only repeats them."""

ORDER_SHEET, ROWS_SHEET, SETTINGS_SHEET = "Whole order", "Rows of the list", "Settings"
"""Sheets for the maker."""
ROW_HEAD, FOUND_HEAD, TO_DO_HEAD = "Row", "What was found", "What to do"


def write_check_sheet(target: Path, outcome: Outcome, folder: OrderFolder, revision: Revision = FIRST) -> None:
    """Write the check sheet to `target` (usually out/check.xlsx). CannotRun when it cannot be written, or when there is
    no catalogue of the order's language."""
    write_whole(target, check_sheet(outcome, folder, revision))


def check_sheet(outcome: Outcome, folder: OrderFolder, revision: Revision = FIRST, texts: Texts | None = None) -> bytes:
    """The workbook's bytes: the same for the same input. texts: other ones than those of the order's language."""
    texts = texts or load_client_texts(folder.order, str(folder.file))

    def fill(book: Any, styles: dict[str, Any]) -> None:
        units = texts.localise_units(folder.order.unit)
        going = [p for p in outcome.plaques if p.state == "stopped" or revision.asks_for(p.fingerprint)]
        questions = build_client_questions(outcome, units, texts, plaques=going)
        _check(book, styles, outcome, texts, units, revision, questions)
        _write_sign_off(book, styles, outcome, texts, revision)
        write_questions(book, styles, questions, texts)
        for key in ANSWERS:
            book.define_name(build_defined_name(key), f'="{texts.render_text(key)}"')
        _write_whole_order(book, styles, outcome, folder.order.unit)
        write_sizes(book, styles, outcome, folder.order.unit)
        _write_rows(book, styles, outcome)
        _write_settings(book, styles, outcome)
        if outcome.part:
            for sheet in book.worksheets():
                sheet.set_header(f"&R{describe_part_for_client(texts, outcome)}")  # on every printed page

    return write_workbook(texts.render_text("sheet.title", title=outcome.title), folder.order.unit, fill)


def build_defined_name(key: str) -> str:
    """The defined name under which a workbook holds a key."""
    return key.replace(".", "_").replace("-", "_")


def find_columns(headings: Sequence[str], language: str = "") -> tuple[Texts, dict[str, int]]:
    """The language that a row of headings is in, and key -> place of the columns it has, the first of equal ones. Of
    no language all that is needed may be there. language: the only one to look for, where it is known."""
    place = {heading: n for n, heading in reversed([*enumerate(headings)])}
    found = []
    for each in [language] if language else list_languages():
        texts = load_texts(each)
        found.append((texts, {key: place[head] for key in COLUMNS if (head := texts.render_text(key)) in place}))
    return max(found, key=lambda each: (each[1].keys() >= NEEDED, len(each[1])))


# --- the first sheet ---------------------------------------------------------------------------------------------


def _check(
    book: Any,
    styles: dict[str, Any],
    outcome: Outcome,
    texts: Texts,
    units: Units,
    revision: Revision,
    questions: Sequence[ClientQuestion],
) -> None:
    sheet = book.add_worksheet(texts.render_text(SHEET))
    lines = sorted({line.line for p in outcome.plaques if p.artwork for line in p.artwork.lines})
    signed = revision.list_answered_rows(texts)
    unit = units.name
    columns = [
        *(SheetColumn(texts.render_text(key), width, style) for key, width, style in _CLIENT_COLUMNS),
        *(SheetColumn(texts.render_text("sheet.check.cap-height", line=n, unit=unit), 12, "length") for n in lines),
        *_list_measured_columns(texts, unit),
        SheetColumn(texts.render_text("sheet.check.room", unit=unit), 12, "length"),
        *(SheetColumn(texts.render_text(key), width, style) for key, width, style in _TOOL_COLUMNS),
    ]
    asked, crowded = group_asked_by_row(questions), find_crowded_lines(outcome.plaques)
    faults, numbers = dict(outcome.faults), revision.number_rows(outcome.plaques)
    rows = [
        (
            p.recipient.row,
            _build_plaque_row(
                p,
                numbers[p.recipient.row],
                lines,
                texts,
                units,
                signed,
                _list_client_cells(p, asked.get(p.recipient.row, ()), crowded, texts, units),
            ),
        )
        for p in outcome.plaques
        if p.recipient.row not in faults
    ]
    rows += [(row, _build_fault_row(row, trace, len(columns), texts)) for row, trace in faults.items()]
    rows.sort(key=lambda pair: outcome.listing.locate_row(pair[0]))
    write_table(sheet, styles, columns, [cells for _, cells in rows])
    sheet.freeze_panes(1, 3)
    heads = [c.head for c in columns]
    for key in COLUMNS:
        _name_cell(book, key, sheet, 0, heads.index(texts.render_text(key)))
    answer, last = heads.index(texts.render_text(ANSWER)), heads.index(texts.render_text(CHANGE_TO))
    sheet.print_area(0, 0, max(len(rows), 1), last)  # printed: what the client reads and fills in
    if rows:
        sheet.data_validation(1, answer, len(rows), answer, _list_answers(texts))
    sheet.activate()


_CLIENT_COLUMNS = (
    (ROW, 6, "number"),
    (NO, 6, "number"),
    (TEXT, 34, "text"),
    (PIECES, 8, "number"),
    (STATE, 14, "text"),
    (FOUND, 46, "text"),
    (TO_DO, 40, "text"),
    (QUESTION, 40, "text"),
    (ANSWER, 14, "answer"),
    (CHANGE_TO, 34, "answer"),
    (SIGNED, 22, "text"),
    (RAW, 30, "text"),
    (CELL, 7, "text"),
)
_TOOL_COLUMNS = ((CODES, 22, "code"), (FINGERPRINT, 14, "code"), (CUT_FILE, 44, "code"), (ASKED, 10, "code"))
"""Keys, widths and styles of the columns before and after those of measures."""


def _name_cell(book: Any, key: str, sheet: Any, row: int, column: int) -> None:
    """Give a cell the name that stands for a key; spreadsheet programs let it go along when the cell is moved."""
    sheet_name = sheet.get_name().replace("'", "''")
    book.define_name(
        build_defined_name(key), f"='{sheet_name}'!{xl_rowcol_to_cell(row, column, row_abs=True, col_abs=True)}"
    )


def _list_answers(texts: Texts) -> dict[str, Any]:
    """A drop-down that offers the three answers and lets anything else be typed."""
    return {
        "validate": "list",
        "source": [texts.render_text(key) for key in ANSWERS],
        "show_error": False,
        "input_title": texts.render_text(ANSWER),
        "input_message": _get_instruction(texts, "sheet.answer.offer", SIGN_SHEET),
    }


def _get_instruction(texts: Texts, id: str, sheet: str) -> str:
    """A message that names the three answers and a sheet."""
    agreed, change, refused = (texts.render_text(key) for key in ANSWERS)
    return texts.render_text(id, agreed=agreed, change=change, refused=refused, sheet=texts.render_text(sheet))


def _sort_worst_first(findings: Iterable[Finding]) -> list[Finding]:
    return sorted(findings, key=lambda f: f.severity.rank)


def _join_list(texts: Iterable[str]) -> str:
    """Join several texts in one cell, each once, one to a line; a mark before each when there are several."""
    once = [t for t in dict.fromkeys(texts) if t]
    return once[0] if len(once) == 1 else "\n".join(f"– {t}" for t in once)


def _list_client_cells(
    plaque: Plaque, asked: Sequence[int], crowded: frozenset[int], texts: Texts, units: Units
) -> tuple[tuple[Any, str], ...]:
    """List what the client is told of a plaque, and the numbers of the questions about it."""
    told = [texts.render_text("sheet.questions.see", no=no, sheet=texts.render_text(QUESTION_SHEET)) for no in asked]
    notes = [f for f in plaque.findings if f.severity is Severity.NOTE and not is_design_fault(f, crowded)]
    told += [catalogue.format_for_client(f, units, texts) for f in notes]
    return (_join_list(told), "text"), (", ".join(map(str, asked)), "code")


def _build_plaque_row(
    plaque: Plaque,
    no: int,
    lines: list[int],
    texts: Texts,
    units: Units,
    signed: dict[str, str],
    client: Sequence[tuple[Any, str]],
) -> list[tuple[Any, str]]:
    findings = _sort_worst_first(plaque.findings)
    set_lines = {} if plaque.artwork is None else {line.line: line for line in plaque.artwork.lines}
    recipient = plaque.recipient

    def format_smallest(values: list[float]) -> tuple[Any, str]:
        return _build_length_cell(min((v for v in values if math.isfinite(v)), default=None), units)

    return [
        (pack_row(recipient.row), "number"),
        (no or None, "number"),
        (get_shown_text(plaque), "text"),
        (recipient.copies, "number"),
        (texts.render_text(STATES[plaque.state]), plaque.state),
        (_join_list(catalogue.format_message(f, units) for f in findings), "text"),
        (_join_list(catalogue.format_remedy(f, units) for f in findings), "text"),
        client[0],
        ("", "answer"),
        ("", "answer"),
        (signed.get(plaque.fingerprint, ""), "text"),
        (_get_raw_text(plaque), "text"),
        (recipient.cell, "text"),
        *(format_smallest([set_lines[n].cap_height] if n in set_lines else []) for n in lines),
        *_list_measured_cells(plaque, units),
        format_smallest([line.slack for line in set_lines.values()]),
        ("\n".join(dict.fromkeys(f.code for f in findings)), "code"),
        (plaque.fingerprint, "code"),
        ("\n".join(filter(None, (plaque.cut_file, plaque.back_file, *plaque.also_files))), "code"),
        client[1],
    ]


def _build_length_cell(value: float | None, units: Units) -> tuple[Any, str]:
    return (None if value is None else round(value / units.mm, 6)), "length"


def _list_measured_columns(texts: Texts, unit: str) -> Iterator[SheetColumn]:
    """The columns of measured values. unit: that of lengths."""
    for what in MEASURED_VALUES:
        style = "length" if what.is_length else "number"
        if what.heading:
            yield SheetColumn(what.format_heading(texts, unit), 12, style)
        if what.letter_column:
            yield SheetColumn(texts.render_text("sheet.check.letter"), 9)


def _list_measured_cells(plaque: Plaque, units: Units) -> Iterator[tuple[Any, str]]:
    """The cells of these columns: of each value the one over the plaque's lines to know."""
    real = [m for measure in plaque.measures for m in measure.measurements if math.isfinite(m.value)]
    # a crest's narrowest place is reported once and would hide the names'; the groove depth counts over everything
    every = [m for measure in plaque.all_measures for m in measure.measurements if math.isfinite(m.value)]
    for what in MEASURED_VALUES:
        found = what.find_worst(every if what.most else real)
        value = found.value if found else None
        if what.heading:
            yield _build_length_cell(value, units) if what.is_length else (value, "number")
        if what.letter_column:
            yield found.glyph if found else "", "text"


def _build_fault_row(row: ListRow, trace: str, width: int, texts: Texts) -> list[tuple[Any, str]]:
    last = trace.strip().splitlines()[-1] if trace.strip() else "no details"
    told = f"the tool itself failed on this row: {last}"
    cells: list[tuple[Any, str]] = [(pack_row(row), "number"), ("", "text"), ("", "text"), ("", "text")]
    cells += [(texts.render_text(STATES["fault"]), "fault"), (told, "text")]
    cells += [("send report.json to whoever looks after the tool; the other rows are done", "text")]
    return cells + [("", "text")] * (width - len(cells))


def get_shown_text(plaque: Plaque) -> str:
    """The lines as they will be cut, one under the other; as the list has them when nothing could be set."""
    return _get_raw_text(plaque) if plaque.artwork is None else "\n".join(t for t in plaque.text if t)


def _get_raw_text(plaque: Plaque) -> str:
    return "\n".join(text for _, text in plaque.recipient.raw if text)


# --- the other sheets --------------------------------------------------------------------------------------------


def _write_sign_off(book: Any, styles: dict[str, Any], outcome: Outcome, texts: Texts, revision: Revision) -> None:
    """Write which order and revision this is, and who answers. Labels in A, values in B."""
    sheet = book.add_worksheet(texts.render_text(SIGN_SHEET))
    identity = build_identity(outcome, revision)
    sheet.set_column(0, 0, 18)
    sheet.set_column(1, 1, 70)
    sheet.write_string(0, 0, texts.render_text(SIGN_SHEET), styles["title"])
    told = _get_instruction(texts, "sheet.sign.how", SHEET)
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
        *(((PART, describe_part_for_client(texts, outcome)),) if outcome.part else ()),
    ):
        sheet.write_string(line, 0, texts.render_text(label), styles["label"])
        _name_cell(book, label, sheet, line, 0)
        write_cell(sheet, line, 1, value, styles["text"])
        sheet.set_row(line, LINE_HEIGHT * count_lines(value, 70))
        line += 1
    line += 1
    for label in (BY, ON, REMARKS):
        sheet.write_string(line, 0, texts.render_text(label), styles["label"])
        _name_cell(book, label, sheet, line, 0)
        sheet.write_blank(line, 1, None, styles["answer"])
        line += 1
    sheet.set_paper(9)
    sheet.fit_to_pages(1, 0)


def _write_whole_order(book: Any, styles: dict[str, Any], outcome: Outcome, units: Units) -> None:
    sheet = book.add_worksheet(ORDER_SHEET)
    columns = [
        SheetColumn("Kind", 14),
        SheetColumn("Where", 22),
        SheetColumn(FOUND_HEAD, 70),
        SheetColumn(TO_DO_HEAD, 60),
    ]
    columns.append(SheetColumn("Code", 24))
    words = {"stop": "stopped", "ask": "ask", "note": "ready"}
    rows: list[list[tuple[Any, str]]] = []
    for fault in outcome.design:
        stops = any(count.worst.severity is Severity.STOP for count in fault.faults)
        rows.append(
            [
                ("design", "stopped" if stops else "ask"),
                (f"line {fault.line}", "text"),
                (f"{describe_design_fault(fault, units)}: {', '.join(fault.names)}", "text"),
                (describe_design_remedy(fault, units), "text"),
                ("\n".join(count.code for count in fault.faults), "code"),
            ]
        )
    for finding in _sort_worst_first(list_order_findings(outcome)):
        rows.append(
            [
                ({"stop": "stop", "ask": "question", "note": "note"}[finding.severity], words[finding.severity]),
                (finding.cell or ("" if finding.row is None else f"row {finding.row}"), "text"),
                (catalogue.format_message(finding, units), "text"),
                (catalogue.format_remedy(finding, units), "text"),
                (finding.code, "code"),
            ]
        )
    if not rows:
        rows.append([("note", "ready"), ("", "text"), ("nothing about the order as a whole", "text")])
    write_table(sheet, styles, columns, rows)
    sheet.freeze_panes(1, 0)


def _write_settings(book: Any, styles: dict[str, Any], outcome: Outcome) -> None:
    """Write how many of what, and with which cutter and limits it was checked."""
    sheet = book.add_worksheet(SETTINGS_SHEET)
    counts = count_plaques(outcome)
    totals = count_rows(outcome, {"on this sheet": [p.recipient.row for p in outcome.plaques]})
    told: list[tuple[str, str | float]] = [
        ("plaques", counts["plaques"]),
        ("ready", counts["ready"]),
        ("with a question", counts["ask"]),
        ("cannot be cut", counts["stopped"]),
        ("pieces of the plaques that can be cut", counts["copies"]),
        ("Rows of the list", totals.describe()),
        *((f"Rows of {file}", own.describe()) for file, own in totals.split_by_list(outcome.listing)),
        ("left out", describe_left_out(outcome) or "none"),
        *((("Part of the list", describe_part(outcome)),) if outcome.part else ()),
        *(("list", f"{each.file}, sheet {each.sheet}") for each in outcome.listing.lists),
        ("blank", outcome.blank.source),
        *outcome.cutter,
    ]
    rows = [[(name, "text"), (value, "text" if isinstance(value, str) else "number")] for name, value in told]
    write_table(sheet, styles, [SheetColumn("What", 40), SheetColumn("How much (lengths in mm)", 70)], rows)
    sheet.freeze_panes(1, 0)


def _write_rows(book: Any, styles: dict[str, Any], outcome: Outcome) -> None:
    sheet = book.add_worksheet(ROWS_SHEET)
    fates = {"plaque": ("a plaque", "ready"), "left-out": ("left out", "fault"), "stopped": ("stopped", "stopped")}
    made = {p.recipient.row: p for p in outcome.plaques}
    rows = []
    for account in outcome.listing.account:
        fate, reason, plaque = fates[account.fate], account.reason, made.get(account.row)
        if plaque is None and account.fate != "left-out":
            fate = (ELSEWHERE, "fault")
        elif plaque is not None and plaque.state == "stopped":
            codes = dict.fromkeys(f.code for f in plaque.findings if f.severity is Severity.STOP)
            fate, reason = fates["stopped"], reason or ", ".join(codes)
        rows.append([(pack_row(account.row), "number"), fate, (reason, "text")])
    write_table(
        sheet, styles, [SheetColumn(ROW_HEAD, 8, "number"), SheetColumn("Became", 16), SheetColumn("Why", 80)], rows
    )
    sheet.freeze_panes(1, 0)
