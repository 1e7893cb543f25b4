"""Reading a cut list that came back from the workshop with its columns ticked.

A tick is for all pieces of its line, a number for so many. Numbers are counted from the moment the list was made: what
was marked since, by hand or by the same list read before, is not marked again.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from pipeline.core.errors import CannotRun, Fault
from pipeline.core.fingerprint import is_fingerprint
from pipeline.core.storage.door import Bounds, read_apart, read_foreign_bytes
from pipeline.outputs.workbooks import cut_list as heads
from pipeline.signoff.pieces.mark_rows import Wanted
from pipeline.signoff.pieces.piece_tally import PieceState
from pipeline.signoff.records.ledger_entry import MOST_PIECES, LedgerEntry, LedgerHead
from pipeline.signoff.returned.sheet_cells import Cells, Workbook, read_sheet_cells

MOST_MB = 64
TICKS = frozenset({"x", "✓", "✔", "yes", "y", "ok", "true", "done"})
"""Signs that people use for a tick (common practice, no source)."""
WHAT = "the cut list of a release, ticked"


@dataclass(frozen=True, slots=True, kw_only=True)
class TickedLine:
    """One line of the list. Of each state: how many pieces, None for a tick."""

    line: int
    fingerprint: str
    pieces: int
    ticks: tuple[tuple[PieceState, int | None], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TickedList:
    """A cut list as it came back. head: where the ledger ended when it was made."""

    file: str
    sha256: str
    order_id: str
    head: LedgerHead
    lines: tuple[TickedLine, ...]


def read_ticked_list(path: Path) -> TickedList:
    """The ticked lines of a cut list. CannotRun when it is none of ours, or a cell cannot be understood; all such cells
    are named."""
    data = read_foreign_bytes(path, WHAT, MOST_MB)
    try:
        bounds = Bounds(seconds=8 + len(data) // 50_000)
        book = read_apart(read_sheet_cells, data, path.name, where=path.name, bounds=bounds)
    except CannotRun as error:
        raise _report_foreign(path, error.faults[0].found) from error
    about = {row[1].text: row[2].text for row in book.sheets.get("About", {}).values() if 1 in row and 2 in row}
    rows, last = about.get(heads.ROWS_IN_LEDGER, ""), about.get(heads.LAST_HASH, "")
    code = about.get(heads.ORDER_CODE, "")
    if not (code and rows.isdecimal() and len(rows) < 16 and len(last) == 64):
        raise _report_foreign(path, "its sheet About does not say which release it belongs to")
    return TickedList(
        file=path.name,
        sha256=hashlib.sha256(data).hexdigest(),
        order_id=code,
        head=LedgerHead(rows=int(rows), hash=last),
        lines=tuple(_read_lines(book, path)),
    )


def _report_foreign(path: Path, found: str) -> CannotRun:
    remedy = (
        f"use cut-list.xlsx of the release, saved as .xlsx with its sheets “{heads.TO_CUT}” and “About” as they are"
    )
    return CannotRun(Fault(where=str(path), found=found, expected=WHAT, remedy=remedy))


def _read_lines(book: Workbook, path: Path) -> list[TickedLine]:
    cells = book.sheets.get(heads.TO_CUT)
    top, columns = _find_columns(cells or {})
    if cells is None or not columns:
        raise _report_foreign(path, f"there is no sheet “{heads.TO_CUT}” with the columns of a cut list")
    out, faults = list[TickedLine](), list[Fault]()
    for number in sorted(n for n in cells if n > top):
        row = cells[number]
        told = {head: row[column].text.strip() if column in row else "" for head, column in columns.items()}
        written = [(state, told[head]) for head, state in heads.TICKED if told.get(head)]
        if not written:
            continue
        mark, pieces = told[heads.FINGERPRINT], told[heads.PIECES]
        where = f"{path.name}, {heads.TO_CUT}, row {number}"
        if not is_fingerprint(mark) or not (pieces.isdecimal() and 0 < int(pieces[:9]) <= MOST_PIECES):
            found = "the fingerprint or the number of pieces was changed"
            faults.append(Fault(where=where, found=found, expected="both as the list was made"))
            continue
        ticks: list[tuple[PieceState, int | None]] = []
        for state, text in written:
            count = _parse_count(text)
            if count is not False and count == 0:
                continue
            if count is False or (count is not None and count > int(pieces)):
                found = f"“{text[:40]}” under “{state.capitalize()}”, of {pieces}"
                faults.append(Fault(where=where, found=found, expected="x, or a number of pieces"))
            else:
                ticks.append((state, count))
        out.append(TickedLine(line=number, fingerprint=mark, pieces=int(pieces), ticks=tuple(ticks)))
    if faults:
        raise CannotRun(faults)
    return out


def _find_columns(cells: Cells) -> tuple[int, dict[str, int]]:
    """The row of the headings, and the column of each."""
    wanted = {heads.FINGERPRINT, heads.PIECES, *(head for head, _ in heads.TICKED)}
    for number in sorted(cells)[:20]:
        found = {cell.text: column for column, cell in cells[number].items() if cell.text in wanted}
        if heads.FINGERPRINT in found and heads.PIECES in found and len(found) > 2:
            return number, found
    return 0, {}


def _parse_count(text: str) -> int | bool | None:
    """Parse a number; None for a tick; False for anything else."""
    if " ".join(text.casefold().split()) in TICKS:
        return None
    return int(text) if text.isdecimal() and len(text) < 8 else False


def list_wanted(ticked: TickedList, entries: Sequence[LedgerEntry]) -> list[Wanted]:
    """List what the list says and the ledger doesn't yet. entries: those that count; only marks made since the list was
    written are compared with it.

    Of one line, spoilt pieces come first: "cut x, spoilt 1" of three pieces are two that are cut and one that is
    spoilt."""
    since = [e for e in entries if e.kind == "mark" and e.id > ticked.head.rows]
    out = []
    for line in ticked.lines:
        own = [e for e in since if e.fingerprint == line.fingerprint]
        said = dict(line.ticks)
        spoilt = _count_all(said, "spoilt", line.pieces)
        where = f"{ticked.file}, row {line.line}"
        went = {"cut": _count_net(own, ("cut", "delivered"), ("to-cut",)), "spoilt": _count_net(own, ("spoilt",), None)}
        gone = min(line.pieces, max(spoilt, went["spoilt"]))  # their replacements are on a later list
        good = min(_count_all(said, "cut", line.pieces), line.pieces - gone)
        delivered = min(_count_all(said, "delivered", line.pieces), line.pieces - gone)
        went["delivered"] = _count_net(own, ("delivered",), None)
        states: tuple[tuple[PieceState, int], ...] = (("spoilt", spoilt), ("cut", good), ("delivered", delivered))
        for state, count in states:
            more = count - went[state]
            if more <= 0:
                continue
            before: PieceState | None = "to-cut" if state == "spoilt" and _is_first_time(own, line, more) else None
            out.append(Wanted(state=state, fingerprint=line.fingerprint, pieces=more, before=before, where=where))
    return out


def _count_all(said: dict[PieceState, int | None], state: PieceState, pieces: int) -> int:
    if state not in said:
        return 0
    count = said[state]
    return pieces if count is None else count


def _count_net(marks: Sequence[LedgerEntry], to: tuple[str, ...], before: tuple[str, ...] | None) -> int:
    """Pieces that went into these states less those that were taken back from them."""
    into = sum(e.pieces for e in marks if e.state in to and (before is None or e.decision in before))
    back = sum(
        e.pieces for e in marks if e.decision in to and e.state not in to and e.state not in ("spoilt", "delivered")
    )
    return max(0, into - back)


def _is_first_time(marks: Sequence[LedgerEntry], line: TickedLine, pieces: int) -> bool:
    """Return whether the list still has so many pieces without a mark."""
    gone = sum(e.pieces for e in marks if e.decision == "to-cut") - sum(e.pieces for e in marks if e.state == "to-cut")
    return line.pieces - gone >= pieces
