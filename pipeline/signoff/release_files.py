"""Release: which cut files may leave the house, and copying exactly those.

A file is released when its pieces are approved (see `approval`) and it is byte for byte the one the order makes now.
Everything else is held back with the reason; a file released earlier whose sign-off no longer holds is taken back. The
ledger remembers what was released and when.

A release is one write of the ledger: it is decided on the rows as they are, and made only while they still are the last
ones. Files are copied while nobody else can write, so that a refusal is recorded before the release or after it.
"""

from __future__ import annotations

import hashlib
import re
import stat
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path, PurePosixPath

from pipeline.core import catalogue
from pipeline.core.catalogue import sign_kinds
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.files import read_plain, remove_unfinished, write_whole
from pipeline.core.findings import Finding, find
from pipeline.core.fingerprint import is_fingerprint
from pipeline.core.model import Plaque
from pipeline.core.printable import json_text
from pipeline.core.units import MM, Units
from pipeline.outputs.delivery_papers import LABELS, PACKING
from pipeline.outputs.revision import PaperIdentity
from pipeline.outputs.workbooks.cut_list import CutRow, WithdrawnRow, WithheldRow, cut_list_csv, cut_list_xlsx
from pipeline.signoff.approval import Approval
from pipeline.signoff.design_answers import one_line
from pipeline.signoff.job_identity import JobIdentity
from pipeline.signoff.ledger import Ledger, LedgerEntry, LedgerHead, Transaction
from pipeline.signoff.ledger_head import MANIFEST, RELEASED
from pipeline.signoff.sign_off import SignOff

FOLDER = RELEASED
CUT_LIST = ("cut-list.xlsx", "cut-list.csv")
MANIFEST_SCHEMA = 1
FOR_MACHINES = frozenset(f".{kind}" for kind in "dxf dwg svg pdf eps ai plt nc tap gcode ngc gc".split())
"""Endings of files that somebody could take for a cut file."""
_PAPERS = frozenset({PACKING, LABELS})
_BEGUN = re.compile(r"\..+\.(\d+)\.part")

Made = Callable[[Plaque], Mapping[str, bytes]]
"""The files of a plaque as the order makes them now: path below the output folder -> bytes."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ReleaseItem:
    """One design to be copied out."""

    plaques: tuple[Plaque, ...]
    pieces: int
    files: tuple[tuple[str, bytes], ...]  # name in the released folder -> bytes
    entry: LedgerEntry  # the sign-off

    @property
    def fingerprint(self) -> str:
        return self.plaques[0].fingerprint


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Withheld:
    """Pieces of one plaque that stay here."""

    plaque: Plaque
    pieces: int
    finding: Finding


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Released:
    """What a release did."""

    going: tuple[ReleaseItem, ...]
    held: tuple[Withheld, ...]
    taken: tuple[WithdrawnRow, ...]
    added: tuple[tuple[ReleaseItem, int], ...]  # designs with pieces that were not released before, and how many
    folder: Path
    first: Mapping[str, LedgerEntry]  # by fingerprint: the row that first let it out
    head: LedgerHead  # where the ledger ended with it
    foreign: tuple[Finding, ...] = ()  # drawings in the folder that are none of ours

    @property
    def pieces(self) -> int:
        return sum(g.pieces for g in self.going)


def plan_release(
    approvals: Sequence[Approval], made: Made, target: Path
) -> tuple[tuple[ReleaseItem, ...], tuple[Withheld, ...]]:
    """What may go and what is held back. target: the output folder whose cut files are looked at."""
    going: dict[str, tuple[tuple[tuple[str, bytes], ...], LedgerEntry, list[Approval]]] = {}
    held: list[Withheld] = []
    files: dict[str, tuple[tuple[str, bytes], ...] | Finding] = {}
    for approval in approvals:
        plaque, mark = approval.plaque, approval.plaque.fingerprint
        if approval.held and (why := approval.why) is not None:
            held.append(Withheld(plaque=plaque, pieces=approval.held, finding=why))
        if not approval.signed or approval.entry is None:
            continue
        if mark not in files:
            files[mark] = _files(plaque, made, target)
        found = files[mark]
        if isinstance(found, Finding):
            here = replace(found, row=plaque.recipient.row, cell=plaque.recipient.cell)
            held.append(Withheld(plaque=plaque, pieces=approval.signed, finding=here))
        else:
            going.setdefault(mark, (found, approval.entry, []))[2].append(approval)
    return tuple(
        ReleaseItem(plaques=tuple(a.plaque for a in same), pieces=sum(a.signed for a in same), files=ready, entry=entry)
        for ready, entry, same in going.values()
    ), tuple(held)


def _files(plaque: Plaque, made: Made, target: Path) -> tuple[tuple[str, bytes], ...] | Finding:
    """The plaque's files as they lie in the output folder, once each is what the order makes; else what is wrong."""
    out = []
    for name, data in sorted(made(plaque).items()):
        path = target / name
        try:
            if path.is_symlink() and not path.resolve().is_relative_to(target.resolve()):
                return find(sign_kinds.FILE_ELSEWHERE, facts={"file": name, "place": str(path.resolve())})
            if not stat.S_ISREG(path.stat().st_mode):
                return find(sign_kinds.FILE_ALTERED, facts={"file": name})
            lies = read_plain(path)
        except OSError:
            return find(sign_kinds.FILE_MISSING, facts={"file": name})
        if lies != data:
            return find(sign_kinds.FILE_ALTERED, facts={"file": name})
        out.append((PurePosixPath(name).name, lies))
    return tuple(out)


def released_before(entries: Sequence[LedgerEntry]) -> dict[str, tuple[int, LedgerEntry]]:
    """Pieces of each fingerprint that are out by the ledger, and the entry that first let them out."""
    out: dict[str, tuple[int, LedgerEntry]] = {}
    for entry in entries:
        if entry.kind == "released":
            pieces, first = out.get(entry.fingerprint, (0, entry))
            out[entry.fingerprint] = (pieces + max(0, entry.pieces), first)
        elif entry.kind == "withdrawn":
            out.pop(entry.fingerprint, None)
    return out


def execute_release(
    going: Sequence[ReleaseItem],
    held: Sequence[Withheld],
    sign_off: SignOff,
    ledger: Ledger,
    identity: PaperIdentity,
    *,
    target: Path,
    at: str,
    after: LedgerHead,
    units: Units = MM,
) -> Released:
    """Copy what may go into target/released, take back what may no longer, and record both. at: now, UTC. after: where
    the ledger ended when it was decided what may go.

    `Moved` is raised, and nothing done, when it ends elsewhere by now. Files first, then the rows: a kill in between is
    put right by the next release. The papers follow, see `write_papers`.
    """
    folder = target / FOLDER
    before = released_before(sign_off.entries)
    marks = {g.fingerprint for g in going}
    why = {h.plaque.fingerprint: h.finding for h in held}
    why |= {then: why[now] for now, then in sign_off.earlier.items() if now in why}
    rows, added, taken = [], [], []
    for g in going:
        more = g.pieces - before.get(g.fingerprint, (0, g.entry))[0]
        if more > 0:
            added.append((g, more))
            rows.append(_entry(g, more, identity, sign_off))
    for mark, (pieces, entry) in before.items():
        if mark not in marks:
            finding = why.get(mark)
            told = catalogue.message(finding, units) if finding else "the order no longer has this design"
            told += ". It was released before: make sure that it is not cut, or say if it was."
            taken.append(WithdrawnRow(name=one_line(entry.text), fingerprint=mark, pieces=pieces, why=told))
            rows.append(_again(entry, kind="withdrawn", pieces=pieces, why=told))
    with ledger.transaction(at, after=after) as writing:
        remove_unfinished(folder, _BEGUN)
        for name, data in (file for g in going for file in g.files):
            if not _lies(folder / name, data):
                write_whole(folder / name, data)
        foreign = _take_back(folder, {name for g in going for name, _ in g.files})
        written = writing.add(rows)
        head = writing.head
    first = {mark: entry for mark, (_, entry) in released_before((*sign_off.entries, *written)).items()}
    return Released(
        going=tuple(going),
        held=tuple(held),
        taken=tuple(taken),
        added=tuple(added),
        folder=folder,
        first=first,
        head=head,
        foreign=foreign,
    )


def write_papers(
    done: Released, ledger: Ledger, identity: PaperIdentity, papers: Mapping[str, bytes], *, at: str, units: Units = MM
) -> bool:
    """Write cut list, manifest and further papers (name -> bytes) of a release into its folder. False, and nothing
    written, when another release has been recorded since: its papers are the ones that hold."""
    cut = [_cut_row(g, done.first[g.fingerprint]) for g in done.going]
    held = [_held_row(h, units) for h in done.held]
    last = (done.head.rows, done.head.hash)
    with ledger.transaction(at) as reading:
        if _released_since(reading, done.head):
            return False
        for name, data in papers.items():
            write_whole(done.folder / name, data)
        write_whole(done.folder / CUT_LIST[0], cut_list_xlsx(identity, cut, held, done.taken, ledger=last))
        write_whole(done.folder / CUT_LIST[1], cut_list_csv(cut))
        write_whole(done.folder / MANIFEST, _manifest(done, identity, sorted((*papers, *CUT_LIST))))
    return True


def _released_since(reading: Transaction, head: LedgerHead) -> bool:
    return any(e.kind in ("released", "withdrawn") for e in reading.entries[head.rows :])


def _manifest(done: Released, identity: PaperIdentity, papers: Sequence[str]) -> bytes:
    """What was released, file by file, and where the ledger ended with it."""
    told = {
        "schema": MANIFEST_SCHEMA,
        "order": identity.order_id,
        "title": identity.title,
        "client": identity.client,
        "order_sha256": identity.order_sha256,
        "revision": identity.revision,
        "ledger": {"rows": done.head.rows, "hash": done.head.hash},
        "released": [
            {
                "fingerprint": g.fingerprint,
                "pieces": g.pieces,
                "rows": [p.recipient.row for p in g.plaques],
                "files": [{"name": name, "sha256": hashlib.sha256(data).hexdigest()} for name, data in g.files],
            }
            for g in done.going
        ],
        "papers": [
            {"name": name, "sha256": hashlib.sha256((done.folder / name).read_bytes()).hexdigest()} for name in papers
        ],
    }
    return (json_text(told, indent=1) + "\n").encode("utf-8", "backslashreplace")


def _again(entry: LedgerEntry, **changed: object) -> LedgerEntry:
    """A row like an earlier one, written now."""
    return replace(entry, id=0, at="", previous="", hash="", form=2, **changed)  # type: ignore[arg-type]


def _lies(path: Path, data: bytes) -> bool:
    """Whether a file of the folder's own holds these bytes: a link to another, of whatever kind, would change with
    it."""
    try:
        there = path.lstat()
        return stat.S_ISREG(there.st_mode) and there.st_nlink == 1 and path.read_bytes() == data
    except OSError:
        return False


def _take_back(folder: Path, wanted: set[str]) -> tuple[Finding, ...]:
    """Remove files of ours (a fingerprint stands in their names) that are not to be there. Others are left alone; those
    that a machine could take for cut files are told."""
    if not folder.is_dir():
        return ()
    foreign = []
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
        elif path.name not in wanted and path.name not in _PAPERS and path.suffix.lower() in FOR_MACHINES:
            foreign.append(find(sign_kinds.FILE_NOT_RELEASED, facts={"file": f"{folder.name}/{path.name}"}))
    return tuple(foreign)


def _entry(going: ReleaseItem, pieces: int, identity: PaperIdentity, sign_off: SignOff) -> LedgerEntry:
    job = sign_off.job or JobIdentity(title=identity.title, client=identity.client, order_file="")
    return LedgerEntry(
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
        title=job.title,
        client=job.client,
        order_file=job.order_file,
        files=tuple((name, hashlib.sha256(data).hexdigest()) for name, data in going.files),
        making=sign_off.making,
    )


def _cut_row(going: ReleaseItem, first: LedgerEntry) -> CutRow:
    plaque, entry = going.plaques[0], going.entry
    return CutRow(
        files=tuple(name for name, _ in going.files),
        pieces=going.pieces,
        name=plaque.name,
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


def _held_row(held: Withheld, units: Units) -> WithheldRow:
    return WithheldRow(
        row=held.plaque.recipient.row,
        cell=held.plaque.recipient.cell,
        name=held.plaque.name,
        pieces=held.pieces,
        why=catalogue.message(held.finding, units),
        remedy=catalogue.remedy(held.finding, units),
        code=held.finding.code,
    )
