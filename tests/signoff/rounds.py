"""A small order that can be run, signed and released without setting any lettering: its plaques come from the
builders."""

from __future__ import annotations

import json
import shutil
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import openpyxl

from pipeline.commands.afterwards.mark_command import MarkRequest, mark
from pipeline.commands.release_command import release
from pipeline.commands.sign_command import sign
from pipeline.commands.status_command import print_status
from pipeline.core.model import Outcome, Plaque
from pipeline.core.storage.files import write_whole
from pipeline.intake.order.order_file import read_order
from pipeline.outputs.proof.proof import write_proofs
from pipeline.outputs.report import write_report
from pipeline.outputs.revision import Revision
from pipeline.outputs.workbooks.check_sheet import write_check_sheet
from pipeline.signoff.order_snapshot import OrderSnapshot
from pipeline.signoff.proof_rounds import build_revision, rename_revision
from pipeline.signoff.records.ledger import Ledger, read_verified_entries
from pipeline.signoff.records.plain_numbers import give_numbers
from pipeline.signoff.records.sent_proofs import keep_proof
from tests import builders
from tests import check_words as heads

ORDER = """
title = "Wardens of the Shore 2026"
client = "Tidewrack Seabird Trust"
[list]
file = "recipients.xlsx"
[blank]
shape = "rectangle"
width = 150.0
height = 180.0
[[line]]
text = "{name}"
face = "eb-garamond"
cap_height = 8.0
"""


@dataclass
class Round:
    """The order folder and the current content of its list."""

    folder: Path
    plaques: tuple[Plaque, ...]
    said: list[str] = field(default_factory=list)
    seconds: int = 0

    def __post_init__(self) -> None:
        self.folder.mkdir(parents=True, exist_ok=True)
        (self.folder / "order.toml").write_text(ORDER, encoding="utf-8")
        openpyxl.Workbook().save(self.folder / "recipients.xlsx")

    @property
    def out(self) -> Path:
        return self.folder / "out"

    @property
    def ledger(self) -> Ledger:
        return Ledger.open(self.folder)

    @property
    def outcome(self) -> Outcome:
        return builders.outcome(self.plaques)

    def made(self, plaque: Plaque) -> Mapping[str, bytes]:
        """Stand in for the cut file: its bytes depend on the fingerprint."""
        return {plaque.cut_file: f"curves of {plaque.fingerprint}\n".encode()}

    def look(self, order: str | Path, out: Path | None) -> OrderSnapshot:
        folder = read_order(Path(order))
        return OrderSnapshot(folder=folder, outcome=self.outcome, target=out or self.out, made=self.made)

    def run(self, proof: bool = False) -> Revision:
        """Leave what `plaques run` leaves; the proof only on request, because it takes longest."""
        folder = read_order(self.folder)
        entries = read_verified_entries(self.ledger)
        if proof:
            entries = give_numbers(self.ledger, self.plaques, entries, self.clock())
        revision = build_revision(self.plaques, entries, drawn=self.ledger.read_lettering)
        while True:
            write_check_sheet(self.out / "check.xlsx", self.outcome, folder, revision)
            write_report(self.out / "report.json", self.outcome, folder, revision)
            if not proof:
                break
            write_proofs(self.outcome, folder, self.out, revision)
            if keep_proof(self.out, self.folder, self.ledger, revision, entries, self.clock()) == "kept":
                break
            revision = rename_revision(revision, entries)
        for file in (self.out / "cut").glob("*.dxf"):
            file.unlink()
        for plaque in self.plaques:
            if plaque.cut_file:
                for name, data in self.made(plaque).items():
                    write_whole(self.out / name, data)
        return revision

    def copy(self, folder: Path) -> Round:
        """Copy the current state to another folder, to continue from there."""
        made = Round(folder, self.plaques, list(self.said), self.seconds)
        shutil.copytree(self.folder, folder, dirs_exist_ok=True)
        return made

    def clock(self) -> str:
        self.seconds += 1
        return f"2026-05-02T09:30:{self.seconds:02}Z"

    def sign(self, *returned: Path, **more: object) -> int:
        return sign(self.folder, returned, clock=self.clock, say=self.said.append, **more)  # type: ignore[arg-type]

    def release(self, **more: object) -> int:
        return release(self.folder, clock=self.clock, say=self.said.append, look=self.look, **more)  # type: ignore[arg-type]

    def status(self, **more: object) -> int:
        return print_status(self.folder, say=self.said.append, look=self.look, **more)  # type: ignore[arg-type]

    def mark(self, what: str, **more: object) -> int:
        request = MarkRequest(what=what, **more)  # type: ignore[arg-type]
        return mark(self.folder, request, clock=self.clock, say=self.said.append, look=self.look)

    def pieces(self) -> dict[int, dict[str, int]]:
        """Return what `status --json` reports about the pieces of each row."""
        self.status(as_json=True)
        return {p["row"]: p["pieces"] for p in json.loads(self.said[-1])["plaques"]}

    def change(self, row: int, name: str, **more: object) -> None:
        """Replace the name in a row of the client's list."""
        self.plaques = tuple(
            builders.plaque(row, name, **more) if p.recipient.row == row else p  # type: ignore[arg-type]
            for p in self.plaques
        )

    def of(self, row: int) -> Plaque:
        return next(p for p in self.plaques if p.recipient.row == row)

    @property
    def released(self) -> list[str]:
        return sorted(p.name for p in (self.out / "released").glob("*.dxf"))


def filled(
    sheet: Path,
    target: Path,
    answers: Mapping[int, str | tuple[str, str]],
    *,
    by: str = "Rowan Petrel",
    on: str = "2 May 2026",
    shuffle: bool = False,
    edits: Sequence[tuple[str, str, object]] = (),
) -> Path:
    """Return the check sheet as a client sends it back, filled in with openpyxl (which didn't write it)."""
    book = openpyxl.load_workbook(sheet)
    check = book[heads.SHEET]
    column = {cell.value: cell.column for cell in check[1]}
    for row in range(2, check.max_row + 1):
        said = answers.get(check.cell(row, column[heads.ROW]).value)
        if said is not None:
            answer, change = said if isinstance(said, tuple) else (said, "")
            check.cell(row, column[heads.ANSWER]).value = answer or None
            check.cell(row, column[heads.CHANGE_TO]).value = change or None
    for row in book[heads.SIGN_SHEET].iter_rows():
        if row[0].value == heads.BY:
            row[1].value = by or None
        if row[0].value == heads.ON:
            row[1].value = on
    for name, cell, value in edits:
        book[name][cell] = value
    if shuffle:
        check.move_range(f"A2:{openpyxl.utils.get_column_letter(check.max_column)}{check.max_row}", rows=1)
        check.insert_cols(3)
        check.cell(2, 3).value = "my notes"
    target.parent.mkdir(exist_ok=True)
    book.save(target)
    return target


def keep(plaque: Plaque, **more: object) -> Plaque:
    return replace(plaque, **more)  # type: ignore[arg-type]
