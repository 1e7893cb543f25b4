"""Detection of an older or exchanged ledger.

Cut lists, release manifests and proofs name the last row of the ledger when they were made. A ledger without that row
was exchanged, and may lack what was recorded since.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from pipeline.core import catalogue
from pipeline.core.catalogue import sign_kinds
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.findings import Finding, build_finding
from pipeline.core.units import MM
from pipeline.outputs.workbooks.cut_list import LAST_HASH, ROWS_IN_LEDGER
from pipeline.signoff.records.ledger_entry import LedgerEntry, LedgerHead

RELEASED = "released"
"""The folder of released files, in the output folder."""
MANIFEST = "manifest.json"
CUT_LIST = "cut-list.xlsx"
_MOST = 64 * 2**20
"""Most bytes read of a manifest or a part of a cut list; ours are far smaller."""
_HASH = re.compile(r"[0-9a-f]{64}")


def read_recorded_heads(folder: Path) -> tuple[tuple[str, LedgerHead], ...]:
    """Read where the ledger ended according to the papers in a folder of released files, each with the paper's name.
    Papers that can't be read or don't say are skipped: they prove nothing."""
    head, name = _read_manifest_head(folder / MANIFEST), MANIFEST
    if head is None:  # of an earlier version, or removed
        head, name = _read_cut_list_head(folder / CUT_LIST), CUT_LIST
    return () if head is None else ((f"{folder.name}/{name}", head),)


def check_older_ledger(entries: Sequence[LedgerEntry], told: Iterable[tuple[str, LedgerHead]]) -> tuple[Finding, ...]:
    """sign.ledger-older for each paper that was made with rows this ledger does not have. entries: all of them."""
    out = []
    for paper, head in told:
        how = ""
        if head.rows > len(entries):
            there = f"has {len(entries)}" if entries else "is missing, or empty"
            how = f"that one had {head.rows} rows, the one here {there}"
        elif head.rows and entries[head.rows - 1].hash != head.hash:
            how = f"row {head.rows} is another than that one's"
        if how:
            out.append(build_finding(sign_kinds.LEDGER_OLDER, facts={"paper": paper, "how": how}))
    return tuple(out)


def require_latest(entries: Sequence[LedgerEntry], told: Iterable[tuple[str, LedgerHead]], ledger: Path) -> None:
    """CannotRun when a paper was made with rows this ledger does not have."""
    if found := check_older_ledger(entries, told):
        raise CannotRun(
            Fault(
                where=f"{ledger}, {sign_kinds.LEDGER_OLDER.code}",
                found=catalogue.format_message(one, MM),
                expected="the ledger as it was when the paper was made, or a later one",
                remedy=catalogue.format_remedy(one, MM),
            )
            for one in found
        )


def _build_head(rows: Any, last: Any) -> LedgerHead | None:
    sound = type(rows) is int and 0 <= rows < 2**53 and isinstance(last, str) and _HASH.fullmatch(last)
    return LedgerHead(rows=rows, hash=last) if sound else None


def _read_manifest_head(file: Path) -> LedgerHead | None:
    try:
        if not file.is_file() or file.stat().st_size > _MOST:
            return None
        ledger = json.loads(file.read_bytes())["ledger"]
        return _build_head(ledger["rows"], ledger["hash"])
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return None


def _read_cut_list_head(file: Path) -> LedgerHead | None:
    """Read the two cells of the sheet About, found by their labels."""
    try:
        if not file.is_file() or file.stat().st_size > _MOST:
            return None
        import openpyxl  # only where there is a list to read

        book = openpyxl.load_workbook(file, read_only=True, data_only=True)
        try:
            rows = book["About"].iter_rows(max_row=60, max_col=2, values_only=True)
            told = {name: value for name, value in rows if name}
        finally:
            book.close()
    except Exception:  # on a damaged workbook the libraries may raise anything
        return None
    return _build_head(told.get(ROWS_IN_LEDGER), told.get(LAST_HASH))
