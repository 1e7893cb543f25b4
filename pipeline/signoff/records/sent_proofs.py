"""Storage of proofs as they were made: each beside the ledger, under a unique revision letter.

A run that would make the same proof again keeps its letter and its bytes; one that would make a different proof takes
the next letter, whether or not the last one was sent.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Literal

from pipeline.core.errors import CannotRun, Fault
from pipeline.core.storage.files import write_whole
from pipeline.outputs.pdf.identity import ProofIdentity
from pipeline.outputs.revision import Revision
from pipeline.signoff.records.designs import Design
from pipeline.signoff.records.kept_lettering import read_identity
from pipeline.signoff.records.ledger import Ledger, LedgerEntry, Moved, ProofDesign, select_counting_entries
from pipeline.signoff.returned.sent_copy import SentCopy, reads_the_same

FOLDER = "sent"
PROOF, SHEET = "proof", "check"
PROOF_FILE, SHEET_FILE = "proof.pdf", "check.xlsx"
_IS_PROOF = re.compile(r"proof(?:-\d+)?\.pdf")


def list_proofs_made(entries: Iterable[LedgerEntry]) -> tuple[LedgerEntry, ...]:
    """List the proofs that were made, oldest first."""
    return tuple(e for e in entries if e.kind == "proof")


def find_last_made(entries: Iterable[LedgerEntry]) -> LedgerEntry | None:
    """Find the proof made last."""
    return next(reversed(list_proofs_made(entries)), None)


PART = "part: "
"""How the note of a proof's row begins that shows some rows of the list only."""


def list_part_revisions(entries: Iterable[LedgerEntry]) -> frozenset[str]:
    """The letters of proofs of some rows only: they take the place of no proof of the whole list."""
    return frozenset(e.revision for e in list_proofs_made(entries) if e.note.startswith(PART))


def find_proof_showing(entries: Iterable[LedgerEntry], designs: Iterable[Design]) -> LedgerEntry | None:
    """The proof made last (of one in volumes, the first of them) that shows these designs on these rows, no others."""
    letters: dict[str, list[LedgerEntry]] = {}
    for entry in list_proofs_made(entries):
        letters.setdefault(entry.revision, []).append(entry)
    wanted = sorted((d.fingerprint, d.text, d.rows, d.cells, d.pieces) for d in designs)
    for volumes in reversed(letters.values()):
        shown = (s for volume in volumes for s in volume.designs)
        if sorted((s.fingerprint, s.text, s.rows, s.cells, s.pieces) for s in shown) == wanted:
            return volumes[0]
    return None


def list_design_volumes(entries: Iterable[LedgerEntry]) -> dict[str, int]:
    """List the volume of a proof in which each design stood last, by fingerprint; designs without a volume are left
    out."""
    return {s.fingerprint: e.volume for e in list_proofs_made(entries) if e.volume for s in e.designs}


def read_kept_copies(folder: Path, entries: Iterable[LedgerEntry]) -> dict[tuple[str, int], SentCopy]:
    """The kept proofs by revision and volume. folder: of the order."""
    return {
        (e.revision, e.volume): SentCopy(path=folder / e.source, sha256=e.source_sha256)
        for e in list_proofs_made(entries)
    }


def list_kept_sheets(folder: Path, revision: str) -> tuple[Path, ...]:
    """The kept check sheets of a revision. folder: of the order."""
    kept = folder / FOLDER
    own = f"{SHEET}-{_fold_letter(revision)}"
    found = [kept / f"{own}.xlsx", *kept.glob(f"{own}.*.xlsx")]
    return tuple(sorted(f for f in found if f.is_file()))


Keeping = Literal["kept", "taken", "moved"]
"""kept: the proof is kept, or was · taken: its letter stands for another content · moved: another proof was made since
the run read the ledger."""


def keep_proof(
    target: Path,
    order_folder: Path,
    ledger: Ledger,
    revision: Revision,
    entries: Sequence[LedgerEntry],
    at: str,
    making: tuple[tuple[str, str], ...] = (),
) -> Keeping:
    """Keeps the proof and the check sheet that a run wrote into `target` as what the revision's letter stands for.

    entries: the ledger's rows when the run read them. at: now, RFC 3339, UTC. making: how the pieces are made now.
    Where the letter was given already and
    the proof reads the same as the one kept, that one is put back into `target`. CannotRun when nothing can be kept.
    """
    files = [(told, data) for told, data in _list_proofs(target) if told.revision == revision.letter]
    if not files:
        found = f"there is no proof that says it is proof {revision.letter}"
        raise CannotRun(Fault(where=str(target / PROOF_FILE), found=found))
    given = {e.volume: e for e in list_proofs_made(entries) if e.revision == revision.letter}
    if given:
        if given.keys() != {told.volume for told, _ in files}:
            return "taken"
        kept = [_build_kept_copy(given[told.volume], data, told, order_folder) for told, data in files]
        if not all(kept):
            return "taken"
        for (told, data), same in zip(files, kept, strict=True):
            if same and same != data:
                write_whole(target / _build_name(told.volume), same)
    else:
        try:
            with ledger.transaction(at) as writing:
                if _list_ids(writing.entries) != _list_ids(entries):
                    raise Moved
                for told, data in files:
                    name = f"{FOLDER}/{_build_name(told.volume, revision.letter)}"
                    writing.add([_build_entry(told, name, hashlib.sha256(data).hexdigest(), making)])
                    write_whole(order_folder / name, data)
        except Moved:
            return "moved"
    _keep_sheet(target, order_folder, revision.letter)
    return "kept"


def _list_ids(entries: Iterable[LedgerEntry]) -> list[int]:
    """List the ids of the proofs that count."""
    return [e.id for e in list_proofs_made(select_counting_entries(entries))]


def _list_proofs(target: Path) -> Iterator[tuple[ProofIdentity, bytes]]:
    """The proofs that lie in a folder, volume after volume, with what each says of itself."""
    for file in sorted(f for f in target.iterdir() if _IS_PROOF.fullmatch(f.name)):
        data = file.read_bytes()
        told = read_identity(data)
        if told is not None:
            yield told, data


def _build_name(volume: int, letter: str = "") -> str:
    """The name of a proof's file: proof.pdf, proof-2.pdf; as it is kept: proof-B.pdf, proof-B-2.pdf."""
    return "-".join([PROOF, *filter(None, (_fold_letter(letter), str(volume or "")))]) + ".pdf"


def find_earlier_letter(target: Path, entries: Iterable[LedgerEntry]) -> str:
    """The letter of a proof in `target` that an earlier version of the tool made, where this one has made none."""
    if list_proofs_made(entries) or not (target / PROOF_FILE).is_file():
        return ""
    try:
        told = read_identity((target / PROOF_FILE).read_bytes())
    except OSError:
        return ""
    return told.revision if told is not None and not told.head_hash else ""


def _build_entry(told: ProofIdentity, name: str, sha256: str, making: tuple[tuple[str, str], ...]) -> LedgerEntry:
    return LedgerEntry(
        kind="proof",
        order_id=told.order_id,
        order_sha256=told.order_sha256,
        revision=told.revision,
        title=told.title,
        client=told.client,
        source=name,
        source_kind="proof",
        source_sha256=sha256,
        volume=told.volume,
        content=told.hash_content(),
        designs=tuple(
            ProofDesign(no=d.no, fingerprint=d.fingerprint, text=d.text, rows=d.rows, cells=d.cells, pieces=d.pieces)
            for d in told.designs
        ),
        head_rows=told.head_rows,
        head_hash=told.head_hash,
        making=making,
        note=f"{PART}{told.part}" if told.part else "",
    )


def _build_kept_copy(entry: LedgerEntry, proof: bytes, told: ProofIdentity, order_folder: Path) -> bytes:
    """The kept proof that this one, under a letter that was given, reads the same as; empty when it does not."""
    file = order_folder / entry.source
    try:
        kept = file.read_bytes()
    except OSError:
        kept = b""
    if hashlib.sha256(proof).hexdigest() == entry.source_sha256:
        if kept != proof:
            write_whole(file, proof)
        return proof
    if hashlib.sha256(kept).hexdigest() != entry.source_sha256:
        return b""  # the letter's content is lost: the letter isn't reused for another
    return kept if told.hash_content() == entry.content and reads_the_same(kept, proof) else b""


def _keep_sheet(target: Path, order_folder: Path, letter: str) -> None:
    """The check sheet that goes with a proof; where what it says has changed (who has signed so far), beside it."""
    try:
        sheet = (target / SHEET_FILE).read_bytes()
    except OSError:
        return
    mark = hashlib.sha256(sheet).hexdigest()
    before = list_kept_sheets(order_folder, letter)
    if any(hashlib.sha256(f.read_bytes()).hexdigest() == mark for f in before):
        return
    own = f"{SHEET}-{_fold_letter(letter)}"
    write_whole(order_folder / FOLDER / (f"{own}.{mark[:8]}.xlsx" if before else f"{own}.xlsx"), sheet)


def _fold_letter(letter: str) -> str:
    """A revision's name as part of a file's."""
    kept = "".join(c if c.isalnum() or c in "-_" else "-" for c in letter)
    return kept if kept == letter else f"{kept}-{hashlib.sha256(letter.encode()).hexdigest()[:6]}"
