"""`plaques sign`: record what the client returned in the ledger."""

from __future__ import annotations

import hashlib
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

from pipeline.commands.paper_dates import check_date
from pipeline.commands.sign_json import build_document
from pipeline.core.config.order import OrderFolder
from pipeline.core.environment.clock import Clock
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.printable import write_json_text
from pipeline.core.row_selection import parse_rows, require_known_lists
from pipeline.core.storage.door import read_apart
from pipeline.core.storage.files import write_whole
from pipeline.intake.order.order_file import read_order
from pipeline.outputs.revision import PaperIdentity
from pipeline.outputs.summary import strip_markup, wrap_text
from pipeline.outputs.workbooks.cut_list import ChangeRow, write_changes_xlsx
from pipeline.signoff.design_answers import join_lines
from pipeline.signoff.order_snapshot import Say
from pipeline.signoff.pictures.picture_answers import RECEIVED, list_handwriting, name_picture_folder
from pipeline.signoff.proof_rounds import list_wanted_changes
from pipeline.signoff.record_answers import (
    build_entries,
    build_hand_paper,
    find_objections,
    find_recorded_before,
    list_agreed_texts,
)
from pipeline.signoff.records.designs import LastRun, read_last_run
from pipeline.signoff.records.job_identity import JobIdentity, apply_stored_code, build_identity_row
from pipeline.signoff.records.kept_lettering import hash_packed, read_proof_lettering, unpack_lettering
from pipeline.signoff.records.ledger import FILE, Ledger, LedgerEntry, Moved, find_head, read_verified_entries
from pipeline.signoff.records.sent_proofs import read_kept_copies
from pipeline.signoff.returned.answer_formats import (
    find_title,
    group_returned,
    is_in_volumes,
    is_worded,
    read_returned,
)
from pipeline.signoff.returned.answers import Answer, Decision, PaperProblem, ReturnedPaper
from pipeline.signoff.returned.maker_readings import apply_decisions, build_reading_entries, read_decisions
from pipeline.signoff.returned.pdf_form import has_visible_text

CHANGES = "changes.xlsx"
STANDARD_INPUT = "-"
MOST_INPUT = 32 * 2**20
MOST_LINES = 20
"""Lines of a message that are shown."""
WORDS = {
    "agreed": "agreed",
    "depends": "agreed once the questions in another volume are answered",
    "change": "to be changed",
    "refused": "not to be cut",
    "unclear": "unclear",
    "unanswered": "not answered",
}
WIDTH = 100
MOST_ALIKE = 5
"""Most plaques unclear for one reason that are listed one by one."""


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
    decisions: Sequence[str] = (),
    decided_by: str | None = None,
    as_json: bool = False,
    yes: bool = False,
    confirm: Callable[[str], bool] | None = None,
    clock: Clock,
    say: Say,
) -> int:
    """Record returned proofs and check sheets, or (rows, by, on, paper) a sign-off given on paper or by letter.

    proof: the revision letter of the proof that `rows` were given on, or that a message answers to. by also names who
    signed a returned paper that has no name on it. older: record a paper of an older revision too. same_order: record
    that what was signed under another title, client or order file is this job.
    decisions: the maker's reading of unclear answers by number (“7=agreed,12=change”); decided_by: the maker's name.
    yes: record what was read from a message without asking. confirm: asks the maker, where there is somebody to ask.
    as_json: one document instead of words; for several files a list.
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
    if rows and not has_visible_text(by or ""):
        raise CannotRun(Fault(where="--by", found="missing", expected="who signed, when --rows records a sign-off"))
    how = _How(older=older, decisions=read_decisions(decisions), decided_by=(decided_by or "").strip(), clock=clock)
    how = replace(how, yes=yes, confirm=None if as_json else confirm, say=say)
    if how.decisions and not has_visible_text(how.decided_by):
        raise _refuse_several("no name of whoever decides")
    if how.decisions and len(group_returned([Path(each) for each in returned])) != 1:
        raise _refuse_several("not with one returned file")
    on = check_date(on or "", clock())
    folder = read_order(Path(order))
    folder = apply_stored_code(folder, Ledger.open(folder.folder).read_entries())
    target = out or folder.folder / "out"
    ledger = Ledger.open(folder.folder)
    if same_order:
        ledger.add([build_identity_row("same-order", folder, by or "")], clock())
        say("Recorded: what was signed under another title, client or order file is this job.")
    told: list[_PaperOutcome] = []
    if rows:
        run = read_last_run(target)
        filed = paper or "recorded by hand"
        chosen = parse_rows(rows)
        require_known_lists(chosen, folder.order.list.further)
        hand = build_hand_paper(
            run, chosen, read_verified_entries(ledger), proof=proof or "", by=by or "", on=on, paper=filed
        )
        shown = _find_lettering(None, hand, folder, target, ledger)
        told.append(_take_paper(hand, folder, run, ledger, shown, replace(how, older=True)))
    with tempfile.TemporaryDirectory() as inputs:
        given = [_from_standard_input(inputs) if str(each) == STANDARD_INPUT else Path(each) for each in returned]
        for files in group_returned(given):
            run_or_none = _read_run(target)
            entries = read_verified_entries(ledger)
            papers = read_returned(
                files,
                folder,
                run_or_none,
                entries,
                older=older,
                named=proof or "",
                by=by or "",
                deciding=bool(how.decisions),
            )
            if how.decisions and len(papers) != 1:
                raise _refuse_several("answers to several proofs")
            for read in papers:
                if not read.by and by:
                    read = replace(read, by=by, problems=tuple(p for p in read.problems if p.code != "no-name"))  # noqa: PLW2901
                if on and not read.date:
                    read = replace(read, date=on)  # noqa: PLW2901
                shown = _find_lettering(files[0], read, folder, target, ledger)
                told.append(_take_paper(read, folder, run_or_none, ledger, shown, replace(how, files=files)))
                if not as_json:
                    say(told[-1].words)
    if rows and not as_json:
        say(told[-1].words)
    _write_changes(target, folder, ledger, (lambda text: None) if as_json else say)
    if as_json:
        documents = [t.document for t in told]
        say(write_json_text(documents[0] if len(documents) == 1 else documents, indent=1))
    return 1 if any(t.wrong for t in told) else 0


def _refuse_several(found: str) -> CannotRun:
    expected = "one answer, and --decided-by with the name of whoever read it"
    return CannotRun(Fault(where="--decide", found=found, expected=expected))


@dataclass(frozen=True, slots=True, kw_only=True)
class _How:
    """Options for recording papers."""

    older: bool
    decisions: Mapping[int, Decision]
    decided_by: str
    clock: Clock
    yes: bool = False  # whether answers read from a message may be recorded
    confirm: Callable[[str], bool] | None = None
    say: Say = print
    files: Sequence[Path] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class _PaperOutcome:
    """The outcome for one paper."""

    words: str
    document: dict[str, Any]
    wrong: bool


def _read_run(target: Path) -> LastRun | None:
    return read_last_run(target) if (target / "report.json").exists() else None


def _find_lettering(
    file: Path | None, paper: ReturnedPaper, folder: OrderFolder, target: Path, ledger: Ledger
) -> bytes:
    """Return the lettering that the paper showed: from the stored proof, else from the returned one or that of the last
    run."""
    packed = partial(read_proof_lettering, order_id=paper.order_id, revision=paper.revision)
    for (revision, volume), copy in read_kept_copies(folder.folder, read_verified_entries(ledger)).items():
        if revision == paper.revision and volume in (paper.volume, 0 if is_in_volumes(paper.kind) else volume):
            return packed(copy.path)
    theirs = file if paper.kind == "proof" and paper.usable else None
    own = read_apart(packed, theirs, where=theirs) if theirs else b""
    return own or _read_last_lettering(paper, target, packed)


def _read_last_lettering(paper: ReturnedPaper, target: Path, packed: Callable[[Path], bytes]) -> bytes:
    """Return the lettering of the last run's proof; with several volumes, of the one that was answered."""
    asked, sent = {answer.fingerprint for answer in paper.answers}, sorted(target.glob("proof*.pdf"))
    for proof in sent:
        found = packed(proof)
        if found and (len(sent) == 1 or asked & unpack_lettering(found).keys()):
            return found
    return b""


def _take_paper(
    paper: ReturnedPaper, folder: OrderFolder, run: LastRun | None, ledger: Ledger, shown: bytes, how: _How
) -> _PaperOutcome:
    """Record one paper, and report how it was understood."""
    while True:
        entries = read_verified_entries(ledger)
        fatal, before, decided = _judge_paper(paper, folder, run, entries, how)
        lines, at = [_format_head(paper)], before.at if before else ""
        _keep_pictures(paper, folder)
        if fatal:
            if paper.pictures and all(p.code == "no-name" for p in fatal):
                lines += _summarise_answers(
                    replace(paper, problems=tuple(p for p in paper.problems if not p.fatal)), run
                )
            lines += [_describe_problem(p) for p in fatal]
            if any(p.code == "older-revision" for p in fatal):
                lines.append("  To record it all the same, for the plaques that have not changed since, add --older.")
            lines.append("  None of it was recorded.")
            break
        rows = build_entries(paper, run, hash_packed(shown), JobIdentity.from_order(folder))
        adding = [*(() if before else rows), *build_reading_entries(decided, rows[0])]
        if not adding:
            lines.append(f"  It was recorded already ({at}); nothing was added.")
            break
        if is_worded(paper.kind):
            lines += [wrap_text(f"Agreed {text}", "  ", "    ") for text in list_agreed_texts(decided)]
            lines += [*_summarise_answers(decided, run), *_list_handwriting(decided), *_advise_to_look(decided)]
            read_by_maker = bool(how.decisions) and (before is not None or _is_all_unclear(paper))
            refusal, asked = _ask_for_confirmation(decided, lines, replace(how, yes=how.yes or read_by_maker))
            if asked:
                lines = [_format_head(paper)]  # the rest has just been shown
            if refusal:
                lines += [*(() if asked else _quote_message(decided)), refusal]
                document = build_document(decided, [], recorded="")
                return _PaperOutcome(words="\n".join(lines), document=document, wrong=True)
            how = replace(how, yes=True)
            _keep_received(paper, folder, how.files)
        at = how.clock()
        try:
            with ledger.transaction(at, after=find_head(entries)) as writing:
                writing.add(adding, shown)
        except Moved:  # another answer, a run or a release was recorded in between: decide again
            continue
        if paper.kind == "paper":
            lines += [wrap_text(f"Agreed {text}", "  ", "    ") for text in list_agreed_texts(paper)]
        if not is_worded(paper.kind):
            lines += _summarise_answers(decided, run)
        lines.append(f"  Recorded in {FILE}.")
        break
    unclear = any(a.decision == "unclear" for a in decided.answers)
    told = {"no-decision", "no-name", "no-copy", "page-twice"} | (READ if how.decisions else set())
    wrong = bool(fatal) or unclear or (before is None and any(p.code not in told for p in paper.problems))
    document = build_document(decided, fatal, recorded=at if not fatal else "")
    return _PaperOutcome(words="\n".join(lines), document=document, wrong=wrong)


READ = {"not-understood", "differs", "remarks", "notes-added", "contradiction"}
"""Problems that only a person can settle; they are settled once every unclear answer is decided."""


def _judge_paper(
    paper: ReturnedPaper, folder: OrderFolder, run: LastRun | None, entries: Sequence[LedgerEntry], how: _How
) -> tuple[list[PaperProblem], LedgerEntry | None, ReturnedPaper]:
    """Return what prevents recording, the ledger row of this very file if there is one, and the paper with the maker's
    decisions."""
    against = find_objections(paper, run, entries, order_id=folder.order_id, older=how.older)
    fatal = [p for p in (*paper.problems, *against, *_check_ledger(paper, entries)) if p.fatal]
    decided = paper if fatal or not how.decisions else apply_decisions(paper, how.decisions, how.decided_by)
    return fatal, find_recorded_before(paper, entries), decided


def _ask_for_confirmation(paper: ReturnedPaper, lines: Sequence[str], how: _How) -> tuple[str, bool]:
    """Return why answers read from a message aren't recorded, empty if the maker confirmed them, and whether they were
    asked."""
    if _is_all_unclear(paper):
        return "  None of it was recorded.", False
    if how.yes:
        return "", False
    if how.confirm is None:
        return "  None of it was recorded yet: add --yes when this is what the client means.", False
    how.say("\n".join([*lines, *_quote_message(paper, always=True)]))
    return "" if how.confirm("Record this? [y/N] ") else "  None of it was recorded.", True


def _list_handwriting(paper: ReturnedPaper) -> list[str]:
    """Name the pictures of what was written by hand, which only the maker can read: on the signature line too."""
    names = [path.rpartition("/")[2] for path, _ in paper.pictures]
    if not names:
        return []
    where = paper.pictures[0][0].rpartition("/")[0]
    return [wrap_text(f"Written by hand, for you to read, in {where}: {', '.join(names)}", "  ", "    ")]


def _advise_to_look(paper: ReturnedPaper) -> list[str]:
    """Say what may be missed in a picture of a page."""
    if paper.kind != "picture" or not any(a.decision == "agreed" for a in paper.answers):
        return []
    advice = "A small correction on a letter (an accent, say) may be missed in a picture: look at the names."
    return [wrap_text(advice, "  ", "    ")]


def _is_all_unclear(paper: ReturnedPaper) -> bool:
    return not paper.replies and all(a.decision == "unclear" for a in paper.answers)


def _quote_message(paper: ReturnedPaper, *, always: bool = False) -> list[str]:
    """Quote the message for the maker: one that isn't understood, or one with words below the signature line, which
    aren't read as an answer."""
    signed = any(line.rstrip() == "--" for line in paper.words.splitlines())
    if not always and not signed and not any(p.code == "not-understood" for p in paper.problems):
        return []
    lines = [line for line in paper.words.splitlines() if line.strip()]
    more = [f"  | … ({len(lines) - MOST_LINES} more lines)"] if lines[MOST_LINES:] else []
    return [*(f"  | {strip_markup(line)[:WIDTH]}" for line in lines[:MOST_LINES]), *more]


def _keep_received(paper: ReturnedPaper, folder: OrderFolder, files: Sequence[Path]) -> None:
    """Stores a message or pictures unchanged beside the ledger, under their hashes."""
    known = {sha256 for _, sha256 in paper.files} or {paper.sha256}
    for file in files:
        try:
            data = file.read_bytes()
        except OSError:
            data = b""
        sha256 = hashlib.sha256(data).hexdigest()
        if sha256 not in known:
            raise CannotRun(Fault(where=file.name, found="it was changed while it was read", remedy="sign it again"))
        if paper.files:
            kept = f"{name_picture_folder(paper.sha256)}/{sha256[:16]}{file.suffix.lower()[:8]}"
        else:
            kept = f"{RECEIVED}/message-{sha256[:16]}{'.eml' if paper.sender else '.txt'}"
        write_whole(folder.folder / kept, data)


def _keep_pictures(paper: ReturnedPaper, folder: OrderFolder) -> None:
    """Store the pictures a person has to look at, beside what was received."""
    for path, data in paper.pictures:
        write_whole(folder.folder / path, data)


def _from_standard_input(folder: str) -> Path:
    data = sys.stdin.buffer.read(MOST_INPUT + 1)
    file = Path(folder) / "standard input"
    file.write_bytes(data)
    return file


def _check_ledger(paper: ReturnedPaper, entries: Sequence[LedgerEntry]) -> tuple[PaperProblem, ...]:
    """Return whether the ledger lacks rows it had when the paper was made: it is older, or another one."""
    rows, last = paper.head
    if not rows or (len(entries) >= rows and entries[rows - 1].hash == last):
        return ()
    found = f"the ledger is older than the paper, or another: it had {rows} rows when proof {paper.revision} was made"
    remedy = "put back the last good copy of the ledger"
    return (PaperProblem(code="ledger-older", found=found, remedy=remedy, fatal=True),)


def _format_head(paper: ReturnedPaper) -> str:
    told = f"{strip_markup(paper.file)}: {find_title(paper.kind)}"
    if paper.revision:
        told += f" of revision {strip_markup(paper.revision)}"
    if paper.by:
        told += f", {'from' if is_worded(paper.kind) else 'signed by'} {strip_markup(paper.by)}"
    if paper.date:
        told += f" on {strip_markup(paper.date)}"
    return told


def _describe_problem(problem: PaperProblem) -> str:
    return wrap_text(str(problem), "  ", "    ")


def _summarise_answers(paper: ReturnedPaper, run: LastRun | None) -> list[str]:
    """Summarise the answers of the paper, then everything a person has to act on."""
    counted: Counter[str] = Counter(a.decision for a in paper.answers)
    lines = ["  " + ", ".join(f"{counted[d]} {word}" for d, word in WORDS.items() if counted[d])]
    unclear: dict[str, list[Answer]] = {}
    depending: dict[str, list[Answer]] = {}
    alike = Counter(a.change_to for a in paper.answers if a.decision == "change")
    many = {wanted for wanted, count in alike.items() if count > MOST_ALIKE}
    lines += [
        wrap_text(f"Change {alike[wanted]} plaques: {wanted}", "  ", "    ") for wanted in alike if wanted in many
    ]
    for answer in paper.answers:
        text = join_lines(answer.text)
        if answer.decided_by:
            read = f"Read by {answer.decided_by} as {WORDS[answer.decision]}"
            lines.append(
                wrap_text(f"{read} {_locate_answer(answer, run)}: “{text}”, unclear because {answer.why}", "  ", "    ")
            )
        elif answer.decision == "change" and answer.change_to in many:
            pass  # all faults are reported together
        elif answer.decision == "change":
            lines.append(
                wrap_text(f"Change {_locate_answer(answer, run)}: “{text}” to “{answer.change_to}”", "  ", "    ")
            )
        elif answer.decision == "refused":
            lines.append(wrap_text(f"Do not cut {_locate_answer(answer, run)}: “{text}”", "  ", "    "))
        elif answer.decision in ("unclear", "depends"):
            (unclear if answer.decision == "unclear" else depending).setdefault(answer.why, []).append(answer)
        if answer.reply:
            lines.append(wrap_text(f"Reply {_locate_answer(answer, run)}: “{text}”: {answer.reply}", "  ", "    "))
    for word, why, same in (
        *(("Unclear", why, same) for why, same in unclear.items()),
        *(("Not agreed yet", why, same) for why, same in depending.items()),
    ):
        if len(same) > MOST_ALIKE or (len(same) > 1 and is_worded(paper.kind)):
            numbered = ", ".join(f"{a.no}" for a in same if a.no)
            named = f" (No. {numbered})" if numbered else ""
            lines.append(wrap_text(f"{word}, {len(same)} plaques{named}: {why}", "  ", "    "))
            continue
        for answer in same:
            lines.append(
                wrap_text(f"{word} {_locate_answer(answer, run)}: “{join_lines(answer.text)}”: {why}", "  ", "    ")
            )
    first = next((a.no for same in unclear.values() for a in same if a.no), 0)
    if first:
        how = f"--decide {first}=agreed,… --decided-by NAME"
        lines.append(wrap_text(f"To decide unclear ones, each by its number: {how}", "  ", "    "))
    for reply in paper.replies:
        whose = f"Choice {reply.cell}: " if reply.row else ""
        lines.append(wrap_text(f"{whose}“{join_lines(reply.text)}”: {reply.reply}", "  ", "    "))
    if paper.decision == "new-proof":
        lines.append("  The client asks for a new proof.")
    if paper.remarks:
        lines.append(wrap_text(f"Remarks: {paper.remarks}", "  ", "    "))
    lines += [_describe_problem(p) for p in paper.problems if p.code != "contradiction" or not p.fingerprint]
    if run is not None:
        current = {d.fingerprint for d in run.designs}
        gone = [a for a in paper.answers if a.decision == "agreed" and a.fingerprint not in current]
        if gone:
            names = ", ".join(join_lines(a.text) for a in gone[:3]) + (f", +{len(gone) - 3} more" if gone[3:] else "")
            lines.append(wrap_text(f"Agreed, but changed since by the last run: {names}", "  ", "    "))
    return lines


def _locate_answer(answer: Answer, run: LastRun | None) -> str:
    """Return its plain number, and its cells in the client's list."""
    sheet = f"{run.sheet}!" if run else ""
    cells = ", ".join(cell if "!" in cell else f"{sheet}{cell}" for cell in answer.cells)
    cells = cells or f"row {', '.join(map(str, answer.rows))}"
    return f"No. {answer.no}, {cells}" if answer.no else cells


def _write_changes(target: Path, folder: OrderFolder, ledger: Ledger, say: Say) -> None:
    """Write the list of changes wanted, when there are any."""
    entries: tuple[LedgerEntry, ...] = read_verified_entries(ledger)
    run = _read_run(target)
    if run is None:
        return
    found = list_wanted_changes(run.designs, run.stopped, entries)
    file = target / CHANGES
    if not found and not file.exists():
        return
    identity = PaperIdentity(
        order_id=folder.order_id,
        title=folder.order.title,
        client=folder.order.client,
        order_sha256=folder.sha256,
        revision=run.revision,
    )
    rows = [
        ChangeRow(
            cells=", ".join(cell if "!" in cell else f"{run.sheet}!{cell}" for cell in w.cells) or "the whole order",
            now=w.now,
            wanted=w.wanted,
            state=w.state,
            by=w.by,
            date=w.date,
            revision=w.revision,
            source=w.source,
            pictures=tuple(folder.folder / path for path in list_handwriting(w.wanted)),
        )
        for w in found
    ]
    write_whole(file, write_changes_xlsx(identity, rows))
    to_do = sum(w.state in ("to do", "to ask", "to read") for w in found)
    if to_do:
        say(f"{to_do} to attend to, each with its cell of the client's list: {file}")
