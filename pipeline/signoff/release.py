"""Release: which cut files may leave the house, and copying exactly those.

A file is released when its fingerprint is signed for, nothing speaks against it, and the file is byte for byte the one
the order makes now. Everything else is held back with the reason; a file released earlier whose sign-off no longer
holds is taken back. The ledger remembers what was released and when.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path, PurePosixPath

from pipeline.core import catalogue
from pipeline.core.catalogue import sign
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.files import read_plain, write_whole
from pipeline.core.findings import Finding, Severity, find
from pipeline.core.model import Plaque
from pipeline.core.units import MM, Units
from pipeline.outputs.cut_list import CutRow, HeldRow, TakenRow, cut_list_csv, cut_list_xlsx
from pipeline.outputs.revision import Identity
from pipeline.signoff.fingerprint import is_fingerprint
from pipeline.signoff.ledger import BEGINNING, Entry, Ledger
from pipeline.signoff.standing import Stand, one_line

FOLDER = "released"
CUT_LIST = ("cut-list.xlsx", "cut-list.csv")

Made = Callable[[Plaque], Mapping[str, bytes]]
"""The files of a plaque as the order makes them now: path below the output folder -> bytes."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Going:
    """One design to be copied out."""

    plaques: tuple[Plaque, ...]
    pieces: int
    files: tuple[tuple[str, bytes], ...]  # name in the released folder -> bytes
    entry: Entry  # the sign-off

    @property
    def fingerprint(self) -> str:
        return self.plaques[0].fingerprint


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Held:
    """Pieces of one plaque that stay here."""

    plaque: Plaque
    pieces: int
    finding: Finding


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Released:
    """What a release did."""

    going: tuple[Going, ...]
    held: tuple[Held, ...]
    taken: tuple[TakenRow, ...]
    added: tuple[tuple[Going, int], ...]  # designs with pieces that were not released before, and how many
    folder: Path

    @property
    def pieces(self) -> int:
        return sum(g.pieces for g in self.going)


def plan(stands: Sequence[Stand], made: Made, target: Path) -> tuple[tuple[Going, ...], tuple[Held, ...]]:
    """What may go and what is held back. target: the output folder whose cut files are looked at."""
    going: dict[str, list[Stand]] = {}
    held: list[Held] = []
    files: dict[str, tuple[tuple[str, bytes], ...] | Finding] = {}
    for stand in stands:
        mark = stand.plaque.fingerprint
        if stand.held:
            held.append(Held(plaque=stand.plaque, pieces=stand.held, finding=_why(stand)))
        if not stand.signed:
            continue
        if mark not in files:
            files[mark] = _files(stand.plaque, made, target)
        found = files[mark]
        if isinstance(found, Finding):
            here = replace(found, row=stand.plaque.recipient.row, cell=stand.plaque.recipient.cell)
            held.append(Held(plaque=stand.plaque, pieces=stand.signed, finding=here))
        else:
            going.setdefault(mark, []).append(stand)
    out = []
    for mark, same in going.items():
        ready, entry = files[mark], same[0].entry
        assert not isinstance(ready, Finding) and entry is not None
        plaques = tuple(s.plaque for s in same)
        out.append(Going(plaques=plaques, pieces=sum(s.signed for s in same), files=ready, entry=entry))
    return tuple(out), tuple(held)


def _why(stand: Stand) -> Finding:
    if stand.finding is not None:
        return stand.finding
    return next(f for f in stand.plaque.findings if f.severity is Severity.STOP)


def _files(plaque: Plaque, made: Made, target: Path) -> tuple[tuple[str, bytes], ...] | Finding:
    """The plaque's files as they lie in the output folder, once each is what the order makes; else what is wrong."""
    out = []
    for name, data in sorted(made(plaque).items()):
        try:
            lies = read_plain(target / name)
        except OSError:
            return find(sign.FILE_MISSING, facts={"file": name})
        if lies != data:
            return find(sign.FILE_ALTERED, facts={"file": name})
        out.append((PurePosixPath(name).name, lies))
    return tuple(out)


def released_before(entries: Sequence[Entry]) -> dict[str, tuple[int, Entry]]:
    """Pieces of each fingerprint that are out by the ledger, and the entry that first let them out."""
    out: dict[str, tuple[int, Entry]] = {}
    for entry in entries:
        if entry.kind == "released":
            pieces, first = out.get(entry.fingerprint, (0, entry))
            out[entry.fingerprint] = (pieces + entry.pieces, first)
        elif entry.kind == "withdrawn":
            out.pop(entry.fingerprint, None)
    return out


def carry_out(
    going: Sequence[Going],
    held: Sequence[Held],
    ledger: Ledger,
    identity: Identity,
    *,
    target: Path,
    at: str,
    units: Units = MM,
) -> Released:
    """Copy what may go into target/released, take back what may no longer, and write the cut list. at: now, UTC.

    Files first, then the ledger, then the list: a kill in between is put right by the next release.
    """
    folder = target / FOLDER
    before = released_before(ledger.entries())
    for file in (file for g in going for file in g.files):
        if not _lies(folder / file[0], file[1]):
            write_whole(folder / file[0], file[1])
    marks = {g.fingerprint for g in going}
    _take_back(folder, {name for g in going for name, _ in g.files})
    rows, added = [], []
    for g in going:
        more = g.pieces - before.get(g.fingerprint, (0, g.entry))[0]
        if more > 0:
            added.append((g, more))
            rows.append(_entry(g, more, identity))
    taken = []
    why = {h.plaque.fingerprint: h.finding for h in held}
    for mark, (pieces, entry) in before.items():
        if mark not in marks:
            finding = why.get(mark)
            told = catalogue.message(finding, units) if finding else "the order no longer has this design"
            told += ". It was released before: make sure that it is not cut, or say if it was."
            taken.append(TakenRow(name=one_line(entry.text), fingerprint=mark, pieces=pieces, why=told))
            rows.append(replace(entry, kind="withdrawn", pieces=pieces, why=told))
    ledger.add(rows, at)
    entries = ledger.entries()
    first = {mark: entry for mark, (_, entry) in released_before(entries).items()}
    cut = [_cut_row(g, first[g.fingerprint]) for g in going]
    last = (len(entries), entries[-1].hash if entries else BEGINNING)
    held_rows = [_held_row(h, units) for h in held]
    write_whole(folder / CUT_LIST[0], cut_list_xlsx(identity, cut, held_rows, taken, ledger=last))
    write_whole(folder / CUT_LIST[1], cut_list_csv(cut))
    return Released(going=tuple(going), held=tuple(held), taken=tuple(taken), added=tuple(added), folder=folder)


def _lies(path: Path, data: bytes) -> bool:
    try:
        return read_plain(path) == data
    except OSError:
        return False


def _take_back(folder: Path, wanted: set[str]) -> None:
    """Remove files of ours (a fingerprint stands in their names) that are not to be there. Others are left alone."""
    if not folder.is_dir():
        return
    for path in sorted(folder.iterdir()):
        ours = any(is_fingerprint(part) for part in path.name.split(".")[0].split("-"))
        if ours and path.name not in wanted:
            try:
                path.unlink()
            except OSError as error:
                raise CannotRun(
                    Fault(
                        where=str(path),
                        found=f"its sign-off no longer holds, and it cannot be removed ({error.strerror or error})",
                        expected="a folder that may be written to",
                        remedy="close the file and release again; do not cut it",
                    )
                ) from error


def _entry(going: Going, pieces: int, identity: Identity) -> Entry:
    return Entry(
        kind="released",
        order_id=identity.order_id,
        order_sha256=identity.order_sha256,
        revision=going.entry.revision,
        fingerprint=going.fingerprint,
        text=going.entry.text,
        rows=tuple(p.recipient.row for p in going.plaques),
        cells=tuple(p.recipient.cell for p in going.plaques),
        pieces=pieces,
        by=going.entry.by,
        date=going.entry.date,
        source=going.files[0][0] if going.files else "",
        source_kind="cut-file",
    )


def name_of(plaque: Plaque) -> str:
    """What a person would call this plaque."""
    raw = dict(plaque.recipient.raw)
    known = (plaque.recipient.value("name"), raw.get("name", ""), *plaque.text, *raw.values())
    return next((text for text in known if text.strip()), "")


def _cut_row(going: Going, first: Entry) -> CutRow:
    plaque, entry = going.plaques[0], going.entry
    return CutRow(
        files=tuple(name for name, _ in going.files),
        pieces=going.pieces,
        name=name_of(plaque),
        text=one_line(plaque.text),
        fingerprint=going.fingerprint,
        signed_by=entry.by,
        signed_on=entry.date or entry.at[:10],
        recorded=entry.at,
        revision=entry.revision,
        paper=entry.source,
        rows=tuple(p.recipient.row for p in going.plaques),
        released=first.at,
    )


def _held_row(held: Held, units: Units) -> HeldRow:
    return HeldRow(
        row=held.plaque.recipient.row,
        cell=held.plaque.recipient.cell,
        name=name_of(held.plaque),
        pieces=held.pieces,
        why=catalogue.message(held.finding, units),
        remedy=catalogue.remedy(held.finding, units),
        code=held.finding.code,
    )
