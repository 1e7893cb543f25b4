"""The forms of a client's answer.

A form is one entry of `ANSWER_FORMATS`: its name, how its files are recognised, and its reader.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from pipeline.core.config.order import OrderFolder
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.storage.files import require_plain_file
from pipeline.signoff.design_answers import BY_HAND
from pipeline.signoff.proof_rounds import find_latest_revision, open_revisions
from pipeline.signoff.records.designs import Design, LastRun
from pipeline.signoff.records.ledger import LedgerEntry, ProofDesign, select_counting_entries
from pipeline.signoff.records.plain_numbers import read_numbers
from pipeline.signoff.records.sent_proofs import find_last_made, list_kept_sheets, list_proofs_made, read_kept_copies
from pipeline.signoff.returned.answers import PaperKind, ReturnedPaper
from pipeline.signoff.returned.check_sheet_answers import SentSheet, read_answer_sheet
from pipeline.signoff.returned.returned_proof import read_returned_proof
from pipeline.signoff.returned.sent_copy import SentCopy

_START = 1024
"""Number of first bytes by which a file is recognised; a PDF may have as many before its header (ISO 32000-1, Annex
H.3)."""


@dataclass(frozen=True, kw_only=True)
class ReturnedFile:
    """A returned file, before it is examined."""

    path: Path
    start: bytes  # its first bytes

    @property
    def claims_text(self) -> bool:
        """Whether its name says that it is a message, and nothing in it says that it is anything else."""
        return self.path.suffix.lower() in (".txt", ".eml") and b"%PDF-" not in self.start and not self.shows_pages

    @cached_property
    def shows_pages(self) -> bool:
        """Whether it holds pictures: a scan, a photograph, or a PDF without the fields of a proof. A PDF is opened for
        it, in a process of its own."""
        from pipeline.signoff.pictures.picture_files import is_picture

        if b"%PDF-" not in self.start:
            return is_picture(self.start)
        from pipeline.signoff.pictures.picture_answers import is_printed_flat

        return is_printed_flat(self.path)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SentPapers:
    """What is known about the papers that a client may be answering."""

    order_id: str
    revision: str  # the last letter sent
    copies: Mapping[tuple[str, int], SentCopy]  # the proofs as made, by revision and volume
    sheet: Callable[[str], SentSheet]  # returns what is known of a revision's check sheet
    older: bool  # accept a paper of an older revision
    open: Sequence[str]  # letters of proofs awaiting an answer
    named: str  # letter named by the maker, for an answer that need not name one
    names: Sequence[str]  # names the sender may go by
    title: str  # the order's title
    made: Mapping[str, str]  # letter -> time its proof was made
    recorded: Mapping[str, Sequence[str]]  # sha256 of a message -> letters it was recorded for
    deciding: bool  # the maker decides unclear answers


@dataclass(frozen=True, slots=True, kw_only=True)
class AnswerFormat:
    """One form of an answer."""

    kind: PaperKind
    """Its name in ledger and JSON."""
    title: str
    """Its name for the maker."""
    ending: str
    """Of its files, as the maker is told; what a file holds decides."""
    recognise: Callable[[ReturnedFile], bool]
    read: Callable[[ReturnedFile, SentPapers], ReturnedPaper]
    """CannotRun when the file can't be read at all; a fatal problem when nothing of it can be used."""
    worded: bool = False
    """Read from words or ink: nothing of it is recorded before the maker has seen what was read."""
    read_together: Callable[[Sequence[ReturnedFile], SentPapers], tuple[ReturnedPaper, ...]] | None = None
    """Where several files may be one answer: reads all that were given."""


def _read_proof(file: ReturnedFile, sent: SentPapers) -> ReturnedPaper:
    paper = read_returned_proof(file.path, order_id=sent.order_id, revision=sent.revision, copies=sent.copies)
    if sent.older and any(p.code == "older-revision" for p in paper.problems):
        return read_returned_proof(file.path, order_id=sent.order_id, revision=paper.revision, copies=sent.copies)
    return paper


def _read_message(file: ReturnedFile, sent: SentPapers) -> ReturnedPaper:
    # Imported for messages only: filled-in forms need none of it.
    from pipeline.signoff.messages.message_answers import AskedProofs, read_message_answer

    asked = AskedProofs(
        copies=sent.copies,
        open=sent.open,
        named=sent.named,
        names=sent.names,
        title=sent.title,
        made=sent.made,
        recorded=sent.recorded,
        deciding=sent.deciding,
    )
    return read_message_answer(file.path, asked)


def _read_pictures(files: Sequence[ReturnedFile], sent: SentPapers) -> tuple[ReturnedPaper, ...]:
    # Imported for pictures only: filled-in forms need none of it.
    from pipeline.signoff.pictures.picture_answers import AskedPages, read_picture_answers

    return read_picture_answers([f.path for f in files], AskedPages(copies=sent.copies, order_id=sent.order_id))


def _is_text(start: bytes) -> bool:
    """Return whether a file with this beginning can be a message: text, without control characters other than a
    terminal's."""
    if start.startswith((b"\xff\xfe", b"\xfe\xff")):  # UTF-16
        return True
    return bool(start) and not re.search(rb"[\x00-\x08\x0e-\x1a\x1c-\x1f\x7f]", start) and b"%PDF-" not in start


def _read_sheet(file: ReturnedFile, sent: SentPapers) -> ReturnedPaper:
    return read_answer_sheet(file.path, sent.sheet)


ANSWER_FORMATS: tuple[AnswerFormat, ...] = (
    AnswerFormat(
        kind="proof",
        title="proof",
        ending=".pdf",
        recognise=lambda file: b"%PDF-" in file.start and not file.shows_pages,
        read=_read_proof,
    ),
    AnswerFormat(
        kind="sheet",
        title="check sheet",
        ending=".xlsx",
        recognise=lambda file: file.start.startswith((b"PK", b"\xd0\xcf\x11\xe0")),  # zip or OLE2 (old office files)
        read=_read_sheet,
    ),
    AnswerFormat(
        kind="message",
        title="message",
        ending=".eml, .txt",
        recognise=lambda file: _is_text(file.start) or file.claims_text,
        read=_read_message,
        worded=True,
    ),
    AnswerFormat(
        kind="picture",
        title="pages as pictures",
        ending=".jpg, .png, .tif, .pdf",
        recognise=lambda file: file.shows_pages,
        read=lambda file, sent: _read_pictures([file], sent)[0],
        worded=True,
        read_together=_read_pictures,
    ),
)
"""A file that none recognises is read as the first: that reader says what is wrong with it."""

RETURNED = f"{' or '.join(f'the {each.title} ({each.ending})' for each in ANSWER_FORMATS)} that came back"
"""What `plaques sign` expects, for messages."""


def find_title(kind: PaperKind) -> str:
    """Return what the maker reads for a kind of paper."""
    titles = {each.kind: each.title for each in ANSWER_FORMATS}
    return titles.get(kind, "sign-off on paper" if kind == BY_HAND else kind)


def is_worded(kind: PaperKind) -> bool:
    """Return whether an answer of this kind is read from free words."""
    return any(each.worded for each in ANSWER_FORMATS if each.kind == kind)


def is_in_volumes(kind: PaperKind) -> bool:
    """Return whether an answer of this kind says which volume of a proof it answers to."""
    return kind in ("proof", "picture")


def group_returned(paths: Sequence[Path]) -> list[tuple[Path, ...]]:
    """The files as answers: those that belong to one answer together, in the place of the first of them."""
    groups: dict[object, list[Path]] = {}
    for number, path in enumerate(paths):
        found = _find_format(_open_returned(path)) if len(paths) > 1 and path.is_file() else None
        key = found.kind if found is not None and found.read_together is not None else number
        groups.setdefault(key, []).append(path)
    return [tuple(group) for group in groups.values()]


def _open_returned(path: Path) -> ReturnedFile:
    require_plain_file(path, RETURNED)
    try:
        with path.open("rb") as opened:
            return ReturnedFile(path=path, start=opened.read(_START))
    except OSError as error:
        raise CannotRun(
            Fault(where=str(path), found=f"cannot be read ({error.strerror or error})", expected=RETURNED)
        ) from error


def _find_format(file: ReturnedFile) -> AnswerFormat:
    return next((each for each in ANSWER_FORMATS if each.recognise(file)), ANSWER_FORMATS[0])


def read_returned(
    paths: Sequence[Path],
    folder: OrderFolder,
    run: LastRun | None,
    entries: Sequence[LedgerEntry],
    *,
    older: bool = False,
    named: str = "",
    by: str = "",
    deciding: bool = False,
) -> tuple[ReturnedPaper, ...]:
    """Read an answer as far as it can be understood; one paper for each proof that it answers to. paths: of its file,
    or of several that belong together (`group_returned`). run: the last one, where there was any; entries: the
    ledger's. older: one to an older revision counts too. named, by: the proof that a message answers to and who wrote
    it, as the maker says. deciding: the maker decides what is unclear.

    CannotRun when a file can't be read; a paper that can't be used has a fatal problem and no answers.
    """
    files = [_open_returned(path) for path in paths]
    proof = find_last_made(entries)
    copies = read_kept_copies(folder.folder, entries)
    counting = select_counting_entries(entries)
    recorded: dict[str, list[str]] = {}
    for paper in counting:
        if paper.kind == "paper" and paper.source_kind == "message":
            recorded.setdefault(paper.source_sha256, []).append(paper.revision)
    sent = SentPapers(
        order_id=folder.order_id,
        revision=proof.revision if proof else run.revision if run else find_latest_revision(entries) or "A",
        copies=copies,
        sheet=lambda revision: _find_sent_sheet(revision, folder, run, entries),
        older=older,
        open=open_revisions(counting),
        named=named,
        names=(folder.order.client, by),
        title=folder.order.title,
        made={e.revision: e.at for e in list_proofs_made(entries)},
        recorded=recorded,
        deciding=deciding,
    )
    found = _find_format(files[0])
    if found.read_together is not None:
        return found.read_together(files, sent)
    return tuple(found.read(file, sent) for file in files)


def _find_sent_sheet(
    revision: str, folder: OrderFolder, run: LastRun | None, entries: Sequence[LedgerEntry]
) -> SentSheet:
    """Find what is known of a revision whose check sheet came back."""
    given = read_numbers(entries).designs
    proofs = [e for e in list_proofs_made(entries) if e.revision == revision]
    if proofs:
        signed = run.designs if run and run.revision == revision else ()  # a check sheet shows those signed earlier too
        designs: dict[str, Design | ProofDesign] = {d.fingerprint: d for d in signed}
        designs |= {d.fingerprint: d for proof in proofs for d in proof.designs}
        return SentSheet(
            designs=tuple(designs.values()), sheets=list_kept_sheets(folder.folder, revision), numbers=given
        )
    return SentSheet(designs=run.designs if run and run.revision == revision else (), numbers=given)
