"""A message as an answer to a proof: which proof, the answer for every plaque, what is unclear and why."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime
from pathlib import Path

from pipeline.core.errors import CannotRun, Fault
from pipeline.core.printable import put_in_one_line
from pipeline.core.storage.door import read_apart, read_foreign_bytes
from pipeline.outputs.pdf.identity import ProofIdentity, ShownDesign, UncutName
from pipeline.signoff.messages.answered_mail import find_answered_day
from pipeline.signoff.messages.mail_file import MailText, read_mail
from pipeline.signoff.messages.message_grammar import MessageReading, read_message
from pipeline.signoff.messages.message_phrases import DOUBTFUL, PHRASES
from pipeline.signoff.records.designs import select_lettered
from pipeline.signoff.records.kept_lettering import read_identity
from pipeline.signoff.returned.answers import Answer, Decision, PaperProblem, Reply, ReturnedPaper
from pipeline.signoff.returned.sent_copy import SentCopy

MOST_MB = 32
WHAT = "a message: an e-mail (.eml) or text (.txt)"
NO_LETTERS = "run the order first; if a proof was sent, put back the latest signoff.sqlite instead"
PROVES = "A message proves no more than this file, its hash and the sender as written."
_REPLY = re.compile(r"(?:(?:re|aw|antw|sv|odp|r|rv|vá|atb|ateb|rép|res)(?:\[\d+\])?:\s*)+", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedProofs:
    """What a message can be about. open: letters that wait for an answer; named: the one the maker names; names: what
    the sender may be called; title: of the order; made: when each proof was made, by its letter; recorded: the
    letters that a message was recorded for, by its sha256; deciding: the maker decides what is unclear."""

    copies: Mapping[tuple[str, int], SentCopy]
    open: Sequence[str]
    named: str = ""
    names: Collection[str] = ()
    title: str = ""
    made: Mapping[str, str] = field(default_factory=dict)
    recorded: Mapping[str, Sequence[str]] = field(default_factory=dict)
    deciding: bool = False


def read_message_answer(path: Path, asked: AskedProofs) -> ReturnedPaper:
    """Read a message as plain data. An unusable one has a fatal problem; if it isn't fully understood, every plaque is
    unclear. CannotRun when the file can't be read at all."""
    data = read_foreign_bytes(path, WHAT, MOST_MB)
    sha256 = hashlib.sha256(data).hexdigest()

    def refuse(code: str, found: str, remedy: str, **more: str) -> ReturnedPaper:
        problem = PaperProblem(code=code, found=found, remedy=remedy, fatal=True)  # type: ignore[arg-type]
        return ReturnedPaper(kind="message", file=path.name, sha256=sha256, problems=(problem,), **more)  # type: ignore[arg-type]

    try:
        mail = read_apart(_read_apart, data, path.name, where=path.name)
    except CannotRun as error:
        said = error.faults[0]
        return refuse(
            "unreadable", f"{path.name}: {said.found}", said.remedy or "record the answer by hand with --rows"
        )
    about = {"by": mail.name, "date": mail.date, "sender": mail.sender, "remarks": ""}
    letters = list(dict.fromkeys(revision for revision, _ in asked.copies))
    first = read_message(
        mail.text, _group_by_number(_list_identities(asked.copies, letters)), [*asked.names, *_list_names(mail)]
    )
    letter, why = _choose_letter(first, mail, asked, letters, asked.recorded.get(sha256, ()))
    if not letter:
        how = f"say which with --proof, one of {', '.join(letters)}" if letters else NO_LETTERS
        return refuse("no-proof", f"{path.name}: {why}", how, **about)
    proofs = _list_identities(asked.copies, [letter])
    if not proofs:
        remedy = "put the copy back into the folder “sent” beside the ledger"
        return refuse("no-copy", f"{path.name}: proof {letter} as it was made is not in “sent”", remedy, **about)
    reading = read_message(mail.text, _group_by_number(proofs), [*asked.names, *_list_names(mail)])
    why = mail.doubt or _describe_attachments(mail) or reading.why or _strip_subject(mail.subject, asked)
    why = why or _find_other_proof(mail, asked, letter, letters)
    if not (asked.named or reading.proof or _find_letters(mail.subject, letters)):
        why = why or _find_older_mail(mail, asked, letter, letters)
    return _build_paper(path.name, sha256, mail, letter, proofs, reading, why)


def _read_apart(data: bytes, file: str) -> MailText:
    try:
        return read_mail(data)
    except ValueError as error:
        raise CannotRun(Fault(where=file, found=str(error), expected=WHAT)) from error


def _list_identities(copies: Mapping[tuple[str, int], SentCopy], letters: Collection[str]) -> list[ProofIdentity]:
    """List what the stored proofs of these revisions show. A file that is no longer the one stored leaves out its
    revision."""
    out = []
    for (revision, _), copy in copies.items():
        if revision in letters:
            try:
                data = copy.path.read_bytes()
            except OSError:
                data = b""
            told = read_identity(data) if hashlib.sha256(data).hexdigest() == copy.sha256 else None
            if told is None:
                return []
            out.append(told)
    return out


def _group_by_number(proofs: Sequence[ProofIdentity]) -> dict[int, tuple[str, ...]]:
    found = {u.no: u.text for p in proofs for u in p.unset if u.no}
    return found | {d.no: select_lettered(d.text) for p in proofs for d in p.designs if d.no}


def _list_names(mail: MailText) -> list[str]:
    """List what the sender may sign as: the name, and the words of the address before its @."""
    address = re.search(r"([^\s<>@]+)@", mail.sender)
    return [mail.name.split("@")[0], re.sub(r"[._+-]", " ", address[1]) if address else ""]


def _choose_letter(
    reading: MessageReading, mail: MailText, asked: AskedProofs, letters: Sequence[str], recorded: Sequence[str]
) -> tuple[str, str]:
    """Choose the letter of the proof it answers to, or return why that is unclear. recorded: those it was recorded
    for."""
    named = {name for name in (asked.named, reading.proof, *_find_letters(mail.subject, letters)) if name}
    if len({name.upper() for name in named}) > 1:
        return "", f"it is not clear which proof it answers to: {' or '.join(sorted(named))} is named"
    strange = sorted(_find_strange_letters(f"{mail.subject}\n{mail.text}", letters)) if letters else []
    if strange and not asked.named:
        return "", f"it names proof {' and '.join(strange)}, which this order does not have"
    if named:
        name = named.pop()
        letter = next((letter for letter in letters if letter.upper() == name.upper()), "")
        if not letter:
            return "", f"there is no proof {name} of this order"
    elif not letters:
        return "", "the sign-off ledger knows of no proof of this order"
    elif asked.deciding and recorded:
        letter = recorded[0] if len(recorded) == 1 else ""
    else:
        dated = (
            len(letters) == 1 or _parse_moment(mail.date) is not None
        )  # an undated old answer must not count for a later proof
        letter = letters[0] if len(letters) == 1 else asked.open[0] if len(asked.open) == 1 and dated else ""
    if recorded and not asked.named and letter not in recorded:
        return "", f"this very message is recorded as an answer to proof {' and '.join(recorded)}"
    if letter not in letters:
        open_ones = ", ".join(asked.open) or "none"
        return "", f"it is not clear which proof it answers (open: {open_ones})"
    return letter, ""


def _find_strange_letters(text: str, letters: Sequence[str]) -> set[str]:
    """Find the letters, as capitals, of proofs that a text names and this order does not have: it may be about another
    order. Letters that are words too, such as “i” and “y”, are passed over."""
    words = "|".join(re.escape(w) for p in PHRASES.values() for w in p.list_alternatives("proof"))
    found = re.findall(rf"\b(?i:{words})(?:\s|\s?[:_-]\s?)([A-HJ-Zb-df-hj-np-tvx])(?![^\W_]|['’])", text)
    return {letter.upper() for letter in found} - {x.upper() for x in letters}


def _find_letters(text: str, letters: Sequence[str]) -> set[str]:
    """Find the letters of proofs that a text names, as capitals."""
    words = "|".join(re.escape(w) for p in PHRASES.values() for w in p.list_alternatives("proof"))
    pattern = rf"\b(?:{words})(?:\s+|\s?[:_-]\s?)([a-z]{{1,2}}|\d{{1,3}})(?![^\W_])"
    return {found.upper() for found in re.findall(pattern, text.casefold())} & {x.upper() for x in letters}


def _find_other_proof(mail: MailText, asked: AskedProofs, letter: str, letters: Sequence[str]) -> str:
    """Return why it may answer an older proof: written before this one was made, or quoting another."""
    made = asked.made.get(letter, "")
    written = _parse_moment(mail.date)
    if made and written is not None and written < datetime.fromisoformat(made):
        return f"it is dated {put_in_one_line(mail.date[:60])}, before proof {letter} was made"
    others = sorted(_find_letters(mail.text, letters) - {letter.upper()})
    if others and not asked.named:
        return f"it names proof {' and '.join(others)} too; say which it answers to with --proof"
    return ""


def _find_older_mail(mail: MailText, asked: AskedProofs, letter: str, letters: Sequence[str]) -> str:
    """Return why it may answer an older proof, though it names none: the mail it quotes was written before this one
    was made."""
    made, day = asked.made.get(letter, ""), find_answered_day(mail.text)
    if len(letters) > 1 and made and day is not None:
        before = datetime.fromisoformat(made).date() - timedelta(days=1)  # wherever it was written
        if day < before:
            return f"it answers a mail written before proof {letter} was made; say which proof with --proof"
    return ""


def _parse_moment(date: str) -> datetime | None:
    """Parse when a mail was written (RFC 5322, section 3.3); None where it isn't stated."""
    try:
        found = parsedate_to_datetime(date)
    except (ValueError, TypeError, OverflowError):
        return None
    return found if found.tzinfo else found.replace(tzinfo=UTC)


def _describe_attachments(mail: MailText) -> str:
    if not mail.attached:
        return ""
    shown = ", ".join(f"“{put_in_one_line(name[:60])}”" for name in mail.attached[:5])
    return f"it came with {shown}; save that and give it to plaques sign itself, if it is an answer"


def _strip_subject(subject: str, asked: AskedProofs) -> str:
    """Return why the subject leaves doubt: it asks something, or has words of its own that may matter. A mere reply to
    the maker's subject (“Re: …”) leaves none."""
    words = set(re.findall(r"[^\W\d_]+(?:'[^\W\d_]+)?", subject.casefold().replace("’", "'")))
    never = {w for p in PHRASES.values() for w in p.list_alternatives("doubt")} | {
        w for p in PHRASES.values() for w in p.list_alternatives("wrong")
    }
    known = set(re.findall(r"[^\W\d_]+", asked.title.casefold()))
    echo = _REPLY.match(subject)
    own = (words - known) & (never if echo else DOUBTFUL)
    own -= {
        w
        for p in PHRASES.values()
        for key in ("proof", "agree", "good")
        for x in p.list_alternatives(key)
        for w in x.split()
    }
    if "?" in subject or own:
        return f"its subject is “{put_in_one_line(subject[:80])}”"
    return ""


def _build_paper(
    file: str,
    sha256: str,
    mail: MailText,
    letter: str,
    proofs: Sequence[ProofIdentity],
    reading: MessageReading,
    why: str,
) -> ReturnedPaper:
    head = proofs[-1]
    answers = tuple(_build_answer(d, proof, reading, why) for proof in proofs for d in proof.designs)
    replies = () if why else tuple(_build_reply(u, reading) for p in proofs for u in p.unset if u.no in reading.numbers)
    problems = []
    if why:
        remedy = "read it: none of it counts until you decide each one by its number, with --decide"
        problems.append(PaperProblem(code="not-understood", found=f"unclear: {why}", remedy=remedy))
    return ReturnedPaper(
        kind="message",
        file=file,
        sha256=sha256,
        order_id=head.order_id,
        order_sha256=head.order_sha256,
        title=head.title,
        client=head.client,
        revision=letter,
        head=(head.head_rows, head.head_hash),
        by=mail.name,
        date=mail.date,
        sender=mail.sender,
        note=PROVES,
        words=mail.text,
        answers=answers,
        replies=replies,
        problems=tuple(problems),
    )


def _build_answer(design: ShownDesign, proof: ProofIdentity, reading: MessageReading, why: str) -> Answer:
    said = reading.numbers.get(design.no) if design.no else None
    wanted = reading.wanted.get(design.no, "") if said == "change" else ""
    decision: Decision
    reason = ""
    if why:
        decision, reason, wanted = "unclear", why, ""
    elif said == "excepted":
        decision, reason = "unclear", "the message says that it is not correct, and not how it should read"
    elif said == "change" and wanted in (*design.text, "\n".join(design.text)):
        decision, reason, wanted = "unclear", "the change asked for is what it already says", ""
    elif said is not None:
        decision = said
    else:
        decision = "agreed" if reading.all else "unanswered"
    questions = [str(q.no) for q in proof.questions if design.fingerprint in q.fingerprints]
    if decision == "agreed" and (design.asked or questions):
        told = f"question {', '.join(questions)} is" if questions else "the question beside it is"
        decision, reason = "unclear", f"{told} not answered"
    return Answer(
        fingerprint=design.fingerprint,
        decision=decision,
        change_to=wanted,
        rows=design.rows,
        cells=design.cells,
        pieces=design.pieces,
        text=design.text,
        why=reason,
        no=design.no,
    )


def _build_reply(name: UncutName, reading: MessageReading) -> Reply:
    words = {"agreed": "agreed", "refused": "do not cut", "excepted": "not correct"}
    said = reading.wanted.get(name.no) or words.get(reading.numbers[name.no], "")
    return Reply(row=name.row, cell=name.cell, text=name.text, reply=said, no=name.no)
