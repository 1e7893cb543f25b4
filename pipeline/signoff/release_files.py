"""Release: deciding which cut files may go to the machine, and copying exactly those that are to be made now.

A file is released when its pieces are approved (see `approval`) and it is byte for byte the one the order makes now.
Everything else is held back with the reason; a file released earlier whose sign-off no longer holds is taken back. The
ledger remembers what was released and when.

What was cut or delivered is finished: it is neither listed nor taken back. A spoilt piece of a signed design goes out
once more. The release before is put aside under its number.

A release is one write of the ledger: it is decided on the rows as they are, and made only while they still are the last
ones. Files are copied while nobody else can write, so that a refusal is recorded before the release or after it.
"""

from __future__ import annotations

import hashlib
import re
import stat
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path, PurePosixPath

from pipeline.core import catalogue
from pipeline.core.catalogue import sign_kinds
from pipeline.core.findings import Finding, build_finding
from pipeline.core.fingerprint import is_fingerprint
from pipeline.core.list_row import ListRow, pack_row, pack_rows
from pipeline.core.model import Plaque
from pipeline.core.printable import write_json_text
from pipeline.core.storage.files import read_plain, remove_unfinished, write_whole
from pipeline.core.units import MM, Units
from pipeline.outputs.delivery_papers import LABELS, PACKING
from pipeline.outputs.release_sheets import ReleaseSheet
from pipeline.outputs.revision import PaperIdentity
from pipeline.outputs.workbooks.cut_list import (
    CutRow,
    WithdrawnRow,
    WithheldRow,
    write_cut_list_csv,
    write_cut_list_xlsx,
)
from pipeline.signoff.approval import Approval
from pipeline.signoff.design_answers import join_lines
from pipeline.signoff.pieces.piece_tally import AGAIN, tally_pieces
from pipeline.signoff.pieces.release_archive import (
    ReleaseManifest,
    find_next_number,
    put_aside,
    read_manifest,
    remove_unfinished_folders,
    remove_withdrawn,
    take_back_everywhere,
    tell_superseded,
)
from pipeline.signoff.records.job_identity import JobIdentity
from pipeline.signoff.records.ledger import Ledger, LedgerEntry, LedgerHead, Transaction
from pipeline.signoff.records.ledger_head import MANIFEST, RELEASED
from pipeline.signoff.sign_off import SignOff

FOLDER = RELEASED
CUT_LIST = ("cut-list.xlsx", "cut-list.csv")
MANIFEST_SCHEMA = 1
FOR_MACHINES = frozenset(f".{kind}" for kind in "dxf dwg svg pdf eps ai plt nc tap gcode ngc gc".split())
"""Suffixes of files that somebody could take for a cut file."""
_PAPERS = frozenset({PACKING, LABELS, "shop.pdf"})
SHEET_FOLDERS = ("boards", "jigs")
"""Folders below the released one, of files with several pieces on them."""
_SHEET = re.compile(r"(?:board|load)-\d+(?:-[a-z]+)*\.[a-z]+")
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
    by_plaque: tuple[int, ...] = ()  # pieces to make, by plaque

    @property
    def fingerprint(self) -> str:
        return self.plaques[0].fingerprint


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeAgain:
    """Pieces of a design that take the place of spoilt ones. spoilt: the mark that said so last."""

    pieces: int
    spoilt: LedgerEntry | None = None

    def __str__(self) -> str:
        note = f": {self.spoilt.note}" if self.spoilt and self.spoilt.note else ""
        return f"{self.pieces} again, spoilt{note}"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Withheld:
    """Pieces of one plaque that are held back."""

    plaque: Plaque
    pieces: int
    finding: Finding


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Released:
    """The result of a release."""

    going: tuple[ReleaseItem, ...]
    held: tuple[Withheld, ...]
    taken: tuple[WithdrawnRow, ...]
    added: tuple[tuple[ReleaseItem, int], ...]  # designs with newly released pieces, number of these
    folder: Path
    first: Mapping[str, LedgerEntry]  # by fingerprint: the row that first released it
    head: LedgerHead  # the end of the ledger after this release
    again: Mapping[str, MadeAgain] = field(default_factory=dict)  # by fingerprint: pieces that replace spoilt ones
    foreign: tuple[Finding, ...] = ()  # foreign drawings in the folder
    number: int = 1  # the release's number
    sheets: tuple[ReleaseSheet, ...] = ()

    @property
    def pieces(self) -> int:
        return sum(g.pieces for g in self.going)


def plan_release(
    approvals: Sequence[Approval], made: Made, target: Path
) -> tuple[tuple[ReleaseItem, ...], tuple[Withheld, ...]]:
    """Plan what is released and what is held back. target: the output folder whose cut files are examined."""
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
            files[mark] = _collect_files(plaque, made, target)
        found = files[mark]
        if isinstance(found, Finding):
            here = replace(found, row=plaque.recipient.row, cell=plaque.recipient.cell)
            held.append(Withheld(plaque=plaque, pieces=approval.signed, finding=here))
        else:
            going.setdefault(mark, (found, approval.entry, []))[2].append(approval)
    return tuple(
        ReleaseItem(
            plaques=tuple(a.plaque for a in same),
            pieces=sum(a.signed for a in same),
            by_plaque=tuple(a.signed for a in same),
            files=ready,
            entry=entry,
        )
        for ready, entry, same in going.values()
    ), tuple(held)


def _collect_files(plaque: Plaque, made: Made, target: Path) -> tuple[tuple[str, bytes], ...] | Finding:
    """The plaque's files as they lie in the output folder, once each is what the order makes; else what is wrong."""
    out = []
    for name, data in sorted(made(plaque).items()):
        path = target / name
        try:
            if path.is_symlink() and not path.resolve().is_relative_to(target.resolve()):
                return build_finding(sign_kinds.FILE_ELSEWHERE, facts={"file": name, "place": str(path.resolve())})
            if not stat.S_ISREG(path.stat().st_mode):
                return build_finding(sign_kinds.FILE_ALTERED, facts={"file": name})
            lies = read_plain(path)
        except OSError:
            return build_finding(sign_kinds.FILE_MISSING, facts={"file": name})
        if lies != data:
            return build_finding(sign_kinds.FILE_ALTERED, facts={"file": name})
        out.append((PurePosixPath(name).name, lies))
    return tuple(out)


def find_released_before(entries: Sequence[LedgerEntry]) -> dict[str, tuple[int, LedgerEntry]]:
    """Pieces of each fingerprint that are out to be cut by the ledger, and the entry that first let them out."""
    return {mark: (t.to_cut, t.first) for mark, t in tally_pieces(entries).items() if t.to_cut > 0}


def find_made_again(going: Sequence[ReleaseItem], entries: Sequence[LedgerEntry]) -> dict[str, MadeAgain]:
    """Find which released pieces replace spoilt ones, by fingerprint."""
    out, tallies = {}, tally_pieces(entries)
    for g in going:
        tally = tallies.get(g.fingerprint)
        if tally is None or not tally.spoilt:
            continue
        due = min(max(0, tally.spoilt - tally.remade), max(0, g.pieces - tally.to_cut))
        if pieces := min(g.pieces, tally.again + due):
            out[g.fingerprint] = MadeAgain(pieces=pieces, spoilt=tally.last_spoilt)
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
    sheets: Sequence[ReleaseSheet] = (),
) -> Released:
    """Copy what may go into target/released, take back what may no longer, and record both. at: now, UTC. after: where
    the ledger ended when it was decided what may go. sheets: files with several pieces on them.

    `Moved` is raised, and nothing done, when it ends elsewhere by now. Files first, then the rows: a kill in between is
    put right by the next release. The papers follow, see `write_papers`.
    """
    folder = target / FOLDER
    tallies = tally_pieces(sign_off.entries)
    before = find_released_before(sign_off.entries)
    again = find_made_again(going, sign_off.entries)
    marks = {g.fingerprint for g in going}
    why = {h.plaque.fingerprint: h.finding for h in held}
    why |= {then: why[now] for now, then in sign_off.earlier.items() if now in why}
    rows, added, taken = [], [], []
    for g in going:
        out, let_out = before.get(g.fingerprint, (0, g.entry))
        if g.pieces < out:  # fewer are wanted or signed for than were released
            told = f"{g.pieces} of {out} pieces may still be cut"
            taken.append(_build_withdrawn(let_out, out - g.pieces, told))
            rows.append(_copy_entry(let_out, kind="withdrawn", pieces=out, why=told))
            rows.append(_build_entry(g, g.pieces, identity, sign_off))
        elif more := g.pieces - out:
            added.append((g, more))
            tally = tallies.get(g.fingerprint)
            due = 0 if tally is None else min(more, max(0, tally.spoilt - tally.remade))
            if more > due:
                rows.append(_build_entry(g, more - due, identity, sign_off))
            if due:
                note = _explain_again(again.get(g.fingerprint))
                rows.append(replace(_build_entry(g, due, identity, sign_off), why=AGAIN, note=note))
    for mark, (pieces, entry) in before.items():
        if mark not in marks:
            finding = why.get(mark)
            told = catalogue.format_message(finding, units) if finding else "the order no longer has this design"
            told += ". It was released before: make sure that it is not cut, or say if it was."
            taken.append(_build_withdrawn(entry, pieces, told))
            rows.append(_copy_entry(entry, kind="withdrawn", pieces=pieces, why=told))
    files = [file for g in going for file in g.files] + [file for sheet in sheets for file in sheet.files]
    with ledger.transaction(at, after=after) as writing:
        remove_unfinished(folder, _BEGUN)
        number = _begin_release(folder, going, sheets, writing, changes=bool(rows))
        for name, data in files:
            if not _holds_own_file(folder / name, data):
                write_whole(folder / name, data)
        foreign = _take_back(folder, {name for name, _ in files})
        take_back_everywhere(folder, (t.fingerprint for t in taken if t.fingerprint not in marks))
        written = writing.add(rows)
        head = writing.head
    first = {mark: entry for mark, (_, entry) in find_released_before((*sign_off.entries, *written)).items()}
    return Released(
        going=tuple(going),
        held=tuple(held),
        taken=tuple(taken),
        added=tuple(added),
        folder=folder,
        first=first,
        head=head,
        again=again,
        foreign=foreign,
        number=number,
        sheets=tuple(sheets),
    )


def _begin_release(
    folder: Path, going: Sequence[ReleaseItem], sheets: Sequence[ReleaseSheet], writing: Transaction, *, changes: bool
) -> int:
    """The number of this release: that of the one that lies there when the very same pieces are still to be made, on
    the same sheets, else the next one, and the one that lies there is put aside. changes: this release writes rows."""
    remove_unfinished_folders(folder)
    there = read_manifest(folder)
    if there is not None and there.number and not changes and _is_as_released(there, going, sheets, writing):
        return there.number
    number = find_next_number(folder)
    put_aside(folder)
    return max(number, find_next_number(folder))


def _is_as_released(
    there: ReleaseManifest, going: Sequence[ReleaseItem], sheets: Sequence[ReleaseSheet], writing: Transaction
) -> bool:
    """Return whether a release holds what is going out now. The same number of pieces may be different ones: their rows
    tell, also those of a release whose papers were never written."""
    if any(e.kind in ("released", "withdrawn") for e in writing.entries[there.ledger_rows :]):
        return False
    before = [(kind, number, _count_pieces(pieces)) for kind, number, pieces in there.sheets]
    now = [(s.kind, s.number, _count_pieces(s.pieces)) for s in sheets]
    return dict(there.pieces) == {g.fingerprint: g.pieces for g in going} and before == now


def _count_pieces(pieces: Sequence[tuple[ListRow, str, int]]) -> Counter[str]:
    """Count the pieces of each design on a sheet, whatever rows they have now."""
    out = Counter[str]()
    for _, mark, count in pieces:
        out[mark] += count
    return out


def _explain_again(again: MadeAgain | None) -> str:
    return again.spoilt.note if again is not None and again.spoilt is not None else ""


def _build_withdrawn(entry: LedgerEntry, pieces: int, why: str) -> WithdrawnRow:
    return WithdrawnRow(name=join_lines(entry.text), fingerprint=entry.fingerprint, pieces=pieces, why=why)


def write_papers(
    done: Released,
    ledger: Ledger,
    identity: PaperIdentity,
    papers: Mapping[str, bytes],
    *,
    at: str,
    units: Units = MM,
    needs: Sequence[tuple[str, str]] = (),
) -> bool:
    """Write cut list, manifest and further papers (name -> bytes) of a release into its folder. needs: see
    `write_cut_list_xlsx`. False, and nothing written, when another release, or what became of pieces, has been recorded
    since: these papers would not tell what is to be made now."""
    cut = [_build_cut_row(g, done.first[g.fingerprint], done.again.get(g.fingerprint)) for g in done.going]
    held = [_build_held_row(h, units) for h in done.held]
    last = (done.head.rows, done.head.hash)
    with ledger.transaction(at) as reading:
        if _was_released_since(reading, done.head):
            return False
        for name, data in papers.items():
            write_whole(done.folder / name, data)
        write_whole(
            done.folder / CUT_LIST[0], write_cut_list_xlsx(identity, cut, held, done.taken, ledger=last, needs=needs)
        )
        write_whole(done.folder / CUT_LIST[1], write_cut_list_csv(cut))
        write_whole(done.folder / MANIFEST, _write_manifest(done, identity, sorted((*papers, *CUT_LIST))))
        tell_superseded(done.folder, done.number)
    return True


def _was_released_since(reading: Transaction, head: LedgerHead) -> bool:
    return any(e.kind in ("released", "withdrawn", "mark", "void") for e in reading.entries[head.rows :])


def _write_manifest(done: Released, identity: PaperIdentity, papers: Sequence[str]) -> bytes:
    """Write what was released, file by file, and where the ledger then ended."""
    told = {
        "schema": MANIFEST_SCHEMA,
        "release": done.number,
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
                "rows": pack_rows(p.recipient.row for p in g.plaques),
                "files": [{"name": name, "sha256": hashlib.sha256(data).hexdigest()} for name, data in g.files],
            }
            for g in done.going
        ],
        "sheets": [
            {
                "kind": s.kind,
                "number": s.number,
                "files": [{"name": name, "sha256": hashlib.sha256(data).hexdigest()} for name, data in s.files],
                "pieces": [{"row": pack_row(row), "fingerprint": mark, "pieces": n} for row, mark, n in s.pieces],
            }
            for s in done.sheets
        ],
        "papers": [
            {"name": name, "sha256": hashlib.sha256((done.folder / name).read_bytes()).hexdigest()} for name in papers
        ],
    }
    return (write_json_text(told, indent=1) + "\n").encode("utf-8", "backslashreplace")


def _copy_entry(entry: LedgerEntry, **changed: object) -> LedgerEntry:
    """Copy an earlier row, to be written now."""
    return replace(entry, id=0, at="", previous="", hash="", form=2, **changed)  # type: ignore[arg-type]


def _holds_own_file(path: Path, data: bytes) -> bool:
    """Return whether a plain file of the folder holds these bytes. A link of any kind doesn't count: it would change
    with its target."""
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
    below = [path for kind in SHEET_FOLDERS for path in (folder / kind).glob("*") if path.is_file()]
    for path in sorted([*folder.iterdir(), *below]):
        name = path.relative_to(folder).as_posix()
        ours = any(is_fingerprint(part) for part in path.name.split(".")[0].split("-"))
        ours = ours or (path in below and _SHEET.fullmatch(path.name) is not None)
        if ours and name not in wanted:
            remove_withdrawn(path)
        elif name not in wanted and name not in _PAPERS and path.suffix.lower() in FOR_MACHINES:
            foreign.append(build_finding(sign_kinds.FILE_NOT_RELEASED, facts={"file": f"{folder.name}/{name}"}))
    return tuple(foreign)


def _build_entry(going: ReleaseItem, pieces: int, identity: PaperIdentity, sign_off: SignOff) -> LedgerEntry:
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


def _build_cut_row(going: ReleaseItem, first: LedgerEntry, again: MadeAgain | None) -> CutRow:
    plaque, entry = going.plaques[0], going.entry
    return CutRow(
        files=tuple(name for name, _ in going.files),
        pieces=going.pieces,
        name=plaque.name,
        text=join_lines(plaque.text),
        fingerprint=going.fingerprint,
        signed_by=entry.by,
        signed_on=entry.date or entry.at[:10],
        recorded=entry.at,
        revision=entry.revision,
        paper=entry.source,
        rows=tuple(p.recipient.row for p in going.plaques),
        released=first.at,
        again="" if again is None else str(again),
    )


def _build_held_row(held: Withheld, units: Units) -> WithheldRow:
    return WithheldRow(
        row=held.plaque.recipient.row,
        cell=held.plaque.recipient.cell,
        name=held.plaque.name,
        pieces=held.pieces,
        why=catalogue.format_message(held.finding, units),
        remedy=catalogue.format_remedy(held.finding, units),
        code=held.finding.code,
    )
