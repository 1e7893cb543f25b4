"""`plaques sign`: what came back from the client, into the ledger."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

from pipeline.core.clock import Clock
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.files import write_whole
from pipeline.core.order import OrderFolder
from pipeline.core.rows import read_rows
from pipeline.intake.order_file import read_order
from pipeline.outputs.cut_list import ChangeRow, changes_xlsx
from pipeline.outputs.revision import Identity
from pipeline.outputs.summary import plain
from pipeline.signoff.answers import Answer, Problem, ReturnedPaper
from pipeline.signoff.designs import LastRun, last_run
from pipeline.signoff.drawings import packed_in, sha256_of_packed
from pipeline.signoff.job_identity import JobIdentity, identity_row, with_stored_code
from pipeline.signoff.ledger import FILE, Entry, Ledger, Moved, head_of, sound
from pipeline.signoff.looked import Say
from pipeline.signoff.record import by_hand, entries_of, objections, recorded_before, texts_agreed
from pipeline.signoff.returned import read_returned_proof
from pipeline.signoff.returned_sheet import read_sheet
from pipeline.signoff.rounds import latest_revision, wanted
from pipeline.signoff.standing import one_line

CHANGES = "changes.xlsx"
WORDS = {
    "agreed": "agreed",
    "change": "to be changed",
    "refused": "not to be cut",
    "unclear": "unclear",
    "unanswered": "not answered",
}
WIDTH = 100


def sign(
    order: str | Path,
    returned: Sequence[str | Path] = (),
    *,
    out: Path | None = None,
    rows: str | None = None,
    proof: str | None = None,
    by: str | None = None,
    on: str | None = None,
    paper: str | None = None,
    older: bool = False,
    same_order: bool = False,
    clock: Clock,
    say: Say,
) -> int:
    """Record returned proofs and check sheets, or (rows, by, on, paper) a sign-off given on paper or by letter.

    proof: the revision letter of the proof that `rows` were given on. by also names who signed a returned paper that
    has no name on it. older: record a paper of an older revision too. same_order: record
    that what was signed under another title, client or order file is this job.
    Returns 0, or 1 when a paper was refused or something in it was not clear. CannotRun when nothing could be tried.
    """
    if bool(rows) == bool(returned) and not (same_order and not rows):
        raise CannotRun(
            Fault(
                where="plaques sign",
                found="both a returned file and --rows" if rows else "neither a returned file nor --rows",
                expected="the proof or check sheet that came back, or --rows with --by for a sign-off on paper",
            )
        )
    if rows and not (by or "").strip():
        raise CannotRun(Fault(where="--by", found="missing", expected="who signed, when --rows records a sign-off"))
    folder = read_order(Path(order))
    folder = with_stored_code(folder, Ledger.of(folder.folder).entries())
    target = out or folder.folder / "out"
    ledger = Ledger.of(folder.folder)
    if same_order:
        ledger.add([identity_row("same-order", folder, by or "")], clock())
        say("Recorded: what was signed under another title, client or order file is this job.")
    wrong = 0
    if rows:
        run = last_run(target)
        filed = paper or "recorded by hand"
        hand = by_hand(
            run, read_rows(rows), sound(ledger), proof=proof or "", by=by or "", on=on or "", paper=filed
        )
        shown = _drawings(None, hand, target)
        wrong += _one(hand, folder, run, ledger, shown, older=True, clock=clock, say=say)
    for file in returned:
        run_or_none = _run(target)
        read = _read(Path(file), folder, run_or_none, ledger, older)
        if not read.by and by:
            read = replace(read, by=by, problems=tuple(p for p in read.problems if p.code != "no-name"))
        if on and not read.date:
            read = replace(read, date=on)
        shown = _drawings(Path(file), read, target)
        wrong += _one(read, folder, run_or_none, ledger, shown, older=older, clock=clock, say=say)
    _changes(target, folder, ledger, say)
    return 1 if wrong else 0


def _run(target: Path) -> LastRun | None:
    return last_run(target) if (target / "report.json").exists() else None


def _read(path: Path, folder: OrderFolder, run: LastRun | None, ledger: Ledger, older: bool) -> ReturnedPaper:
    """The paper as far as it can be understood."""
    try:
        start = path.open("rb").read(8)
    except OSError as error:
        raise CannotRun(
            Fault(
                where=str(path),
                found=f"cannot be read ({error.strerror or error})",
                expected="the proof (.pdf) or the check sheet (.xlsx) that came back",
            )
        ) from error
    if start.startswith(b"PK"):
        return read_sheet(path, run.designs if run else ())
    sent = run.revision if run else latest_revision(sound(ledger)) or "A"
    identity = folder.order_id
    paper = read_returned_proof(path, order_id=identity, revision=sent)
    if older and any(p.code == "older-revision" for p in paper.problems):
        return read_returned_proof(path, order_id=identity, revision=paper.revision)
    return paper


def _drawings(file: Path | None, paper: ReturnedPaper, target: Path) -> bytes:
    """The lettering the paper showed: from the proof that came back, or else from the one the last run left."""
    sent = target / "proof.pdf"
    for proof in (file if paper.kind == "proof" else None, sent):
        if proof and (packed := packed_in(proof, order_id=paper.order_id, revision=paper.revision)):
            return packed
    return b""


def _one(
    paper: ReturnedPaper,
    folder: OrderFolder,
    run: LastRun | None,
    ledger: Ledger,
    shown: bytes,
    *,
    older: bool,
    clock: Clock,
    say: Say,
) -> int:
    """Record one paper and say what was understood. 1 when it was refused or not wholly clear.

    One write: decided on the ledger's rows as they are, made only while they still are the last ones.
    """
    while True:
        entries = sound(ledger)
        against = objections(paper, run, entries, order_id=folder.order_id, older=older)
        fatal = [p for p in (*paper.problems, *against) if p.fatal]
        lines = [_head(paper)]
        if fatal:
            lines += [_told(p) for p in fatal]
            if any(p.code == "older-revision" for p in fatal):
                lines.append("  To record it all the same, for the plaques that have not changed since, add --older.")
            lines.append("  Nothing of it was recorded.")
            say("\n".join(lines))
            return 1
        if (before := recorded_before(paper, entries)) is not None:
            say(f"{lines[0]}\n  It was recorded already ({before.at}); nothing was added.")
            return 0
        rows = entries_of(paper, run, sha256_of_packed(shown), JobIdentity.of(folder))
        with suppress(Moved), ledger.transaction(clock(), after=head_of(entries)) as writing:
            writing.add(rows, shown)
            break
    if paper.kind == "paper":
        lines += [_wrapped(f"Agreed {text}") for text in texts_agreed(paper)]
    lines += _understood(paper, run)
    lines.append(f"  Recorded in {FILE}.")
    say("\n".join(lines))
    unclear = any(a.decision == "unclear" for a in paper.answers)
    return 1 if unclear or any(p.code not in ("no-decision", "no-name") for p in paper.problems) else 0


def _head(paper: ReturnedPaper) -> str:
    kind = {"proof": "proof", "sheet": "check sheet", "paper": "sign-off on paper"}[paper.kind]
    told = f"{plain(paper.file)}: {kind}"
    if paper.revision:
        told += f" of revision {plain(paper.revision)}"
    if paper.by:
        told += f", signed by {plain(paper.by)}"
    if paper.date:
        told += f" on {plain(paper.date)}"
    return told


def _told(problem: Problem) -> str:
    return _wrapped(str(problem))


def _wrapped(text: str) -> str:
    return textwrap.fill(
        plain(text),
        WIDTH,
        initial_indent="  ",
        subsequent_indent="    ",
        break_long_words=False,
        break_on_hyphens=False,
    )


def _understood(paper: ReturnedPaper, run: LastRun | None) -> list[str]:
    """What the paper says, counted, then everything a person has to act on."""
    counted: Counter[str] = Counter(a.decision for a in paper.answers)
    lines = ["  " + ", ".join(f"{counted[d]} {word}" for d, word in WORDS.items() if counted[d])]
    for answer in paper.answers:
        if answer.decision == "change":
            lines.append(_wrapped(f"Change {_where(answer, run)}: “{one_line(answer.text)}” to “{answer.change_to}”"))
        elif answer.decision == "refused":
            lines.append(_wrapped(f"Do not cut {_where(answer, run)}: “{one_line(answer.text)}”"))
        elif answer.decision == "unclear":
            lines.append(_wrapped(f"Unclear {_where(answer, run)}: “{one_line(answer.text)}”: {answer.why}"))
        if answer.reply:
            lines.append(_wrapped(f"Reply {_where(answer, run)}: “{one_line(answer.text)}”: {answer.reply}"))
    for reply in paper.replies:
        lines.append(_wrapped(f"Choice {reply.cell}: “{one_line(reply.text)}”: {reply.reply}"))
    if paper.decision == "new-proof":
        lines.append("  The client asks for a new proof.")
    if paper.remarks:
        lines.append(_wrapped(f"Remarks: {paper.remarks}"))
    lines += [_told(p) for p in paper.problems if p.code != "contradiction" or not p.fingerprint]
    if run is not None:
        current = {d.fingerprint for d in run.designs}
        gone = [a for a in paper.answers if a.decision == "agreed" and a.fingerprint not in current]
        if gone:
            names = ", ".join(one_line(a.text) for a in gone[:3]) + (f", +{len(gone) - 3} more" if gone[3:] else "")
            lines.append(_wrapped(f"Agreed, but changed since by the last run: {names}"))
    return lines


def _where(answer: Answer, run: LastRun | None) -> str:
    """The cells of the client's list, as their spreadsheet names them."""
    sheet = f"{run.sheet}!" if run else ""
    return ", ".join(f"{sheet}{cell}" for cell in answer.cells) or f"row {', '.join(map(str, answer.rows))}"


def _changes(target: Path, folder: OrderFolder, ledger: Ledger, say: Say) -> None:
    """Write the list of changes wanted, when there are any."""
    entries: tuple[Entry, ...] = sound(ledger)
    run = _run(target)
    if run is None:
        return
    found = wanted(run.designs, run.stopped, entries)
    file = target / CHANGES
    if not found and not file.exists():
        return
    identity = Identity(
        order_id=folder.order_id,
        title=folder.order.title,
        client=folder.order.client,
        order_sha256=folder.sha256,
        revision=run.revision,
    )
    rows = [
        ChangeRow(
            cells=", ".join(f"{run.sheet}!{cell}" for cell in w.cells) or "the whole order",
            now=w.now,
            wanted=w.wanted,
            state=w.state,
            by=w.by,
            date=w.date,
            revision=w.revision,
            source=w.source,
        )
        for w in found
    ]
    write_whole(file, changes_xlsx(identity, rows))
    to_do = sum(w.state in ("to do", "to ask", "to read") for w in found)
    if to_do:
        say(f"{to_do} to attend to, each with its cell of the client's list: {file}")
