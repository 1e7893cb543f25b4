"""The accounts at the end of a run: what was written is read back and compared with the list.

Every row of the list is a plaque, left out with a reason, or stopped. Every plaque that is not stopped has its files on
the disk with the hashes of the manifest, its card on the proof, its line in check sheet and report; a stopped one has
nothing in `cut/`, on a board or in a jig load. Nothing is taken from the writers' variables: files, cards and lines are
read from the disk.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections import Counter
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from pipeline.core.list_row import ListRow, get_row_file, parse_row, unpack_row
from pipeline.core.model import Outcome, Plaque
from pipeline.core.short_codes import ALPHABET
from pipeline.core.storage.files import write_whole
from pipeline.outputs.cut_files.manifest import read_noted_files
from pipeline.outputs.pdf.identity import FIELD, ProofIdentity
from pipeline.outputs.proof.volumes import is_proof
from pipeline.outputs.revision import Revision
from pipeline.outputs.workbooks import check_sheet

CHECK, REPORT, CUT, BOARDS, JIGS = "check.xlsx", "report.json", "cut", "boards", "jigs"
BROKEN = "accounts-broken.txt"
"""Lies in the output folder while the accounts of its last run don't balance; nothing of that run is released."""
MOST = 20
"""Most places named for one fault."""

_ROW = r"\d+|'(?:[^']|'')+'!\d+|[^,!']+!\d+"  # as `ListRow` writes it; a file name may look like the rest
_PIECE = re.compile(
    rf"^(?:place \d+ )?at \S+ \S+ turned \d+: row ({_ROW}) piece \d+ of \d+ ([{ALPHABET}]+)", re.MULTILINE
)
"""How the comments in the drawing of a board or jig load name its pieces."""
_CARD = re.compile(rf"correct_([{ALPHABET}]+)")
"""The field of a card on the proof."""


def tell_broken(target: Path, faults: Iterable[str]) -> None:
    """Leave a notice in the output folder while the accounts don't balance; remove it when they do."""
    lines = [*faults]
    if not lines:
        (target / BROKEN).unlink(missing_ok=True)
        return
    head = "The accounts of this run do not hold. This is a fault of the tool: cut nothing of it.\n"
    write_whole(target / BROKEN, (head + "".join(f"- {line}\n" for line in lines)).encode("utf-8", "backslashreplace"))


def check_list_rows(outcome: Outcome) -> list[str]:
    """Check the list itself: each row is accounted for once, by a plaque or a reason."""
    listing, out = outcome.listing, list[str]()
    counted = Counter(a.row for a in listing.account)
    out += _describe_rows(
        "stands more than once in the accounts of the list", (row for row, n in counted.items() if n > 1)
    )
    for number, each in enumerate(listing.lists):
        own = sum(get_row_file(row) == (each.file if number else "") for row in counted)
        if own != each.rows:
            which = f"{each.file} has" if number else "The list has"
            out.append(f"{which} {each.rows} rows, and {own} of them are accounted for.")
    silent = (a.row for a in listing.account if a.fate == "left-out" and not a.reason.strip())
    out += _describe_rows("is left out without a reason", silent)
    due = {a.row for a in listing.account if a.fate != "left-out"}
    if not outcome.part:
        made = Counter(p.recipient.row for p in outcome.plaques)
        out += _describe_rows("is neither a plaque, nor stopped, nor left out", due - set(made))
        out += _describe_rows("became more than one plaque", (row for row, n in made.items() if n > 1))
    out += _describe_rows("became a plaque and is left out too", {p.recipient.row for p in outcome.plaques} - due)
    bare = (p.recipient.row for p in outcome.plaques if p.state == "stopped" and (p.fingerprint or p.cut_file))
    return out + _describe_rows("is stopped and has a fingerprint or a file all the same", bare)


def check_cut_files(outcome: Outcome, revision: Revision, target: Path) -> list[str]:
    """Compare the files in the folder of cut files with its manifest, and both with the plaques."""
    going = _list_going(outcome)
    folder, out = target / CUT, list[str]()
    noted = read_noted_files(folder)
    wanted: dict[str, ListRow] = {}
    for plaque in going:
        names = [Path(name).name for name in (plaque.cut_file, plaque.back_file, *plaque.also_files) if name]
        if not plaque.cut_file or not plaque.fingerprint:
            out.append(f"Row {plaque.recipient.row} is not stopped and has no cut file.")
        wanted.update(dict.fromkeys(names, plaque.recipient.row))
    for name, row in wanted.items():
        lies = _hash_file(folder / name)
        if lies is None:
            out.append(f"Row {row}: {folder.name}/{name} is not there.")
        elif noted.get(name) != {lies}:
            out.append(f"Row {row}: {folder.name}/{name} is not the file that was noted in the folder's list.")
    extra = sorted(name for name in noted if name not in wanted and (folder / name).exists())
    return out + [f"{folder.name}/{name} belongs to no plaque that may be cut." for name in extra]


def check_board_pieces(outcome: Outcome, revision: Revision, target: Path) -> list[str]:
    """Check the pieces on the boards, as the drawings name them."""
    return _check_joint_pieces(outcome, target / BOARDS)


def check_jig_pieces(outcome: Outcome, revision: Revision, target: Path) -> list[str]:
    """Check the pieces in the jig loads in the same way."""
    return _check_joint_pieces(outcome, target / JIGS)


def _check_joint_pieces(outcome: Outcome, folder: Path) -> list[str]:
    out = list[str]()
    marks = {(p.recipient.row, p.fingerprint) for p in _list_going(outcome)}
    for name in sorted(read_noted_files(folder)):
        try:
            head = (folder / name).read_text(encoding="utf-8", errors="replace")
        except OSError:
            out.append(f"{folder.name}/{name} is in the folder's list and not there.")
            continue
        for row, mark in _PIECE.findall(head):
            if (parse_row(row), mark) not in marks:
                out.append(f"{folder.name}/{name} holds row {row} ({mark}), which may not be cut.")
    return out


def check_proof_cards(outcome: Outcome, revision: Revision, target: Path) -> list[str]:
    """Check the cards on the proof, in one file or in volumes, by the form fields on its pages and the rows that each
    file states."""
    out, cards, rows, unset = list[str](), Counter[str](), Counter[ListRow](), set[ListRow]()
    outcome = revision.drop_finished(outcome)
    files = sorted(file for file in target.glob("proof*.pdf") if is_proof(file.name))
    if outcome.proof_held:
        return [f"The proof is held back, and {file.name} is there." for file in files]
    if not files:
        return ["There is no proof."]
    for file in files:
        own, identity = _read_proof(file)
        if identity is None:
            out.append(f"{file.name} does not say what it shows.")
            continue
        shown = {d.fingerprint: d for d in identity.designs}
        out += [f"{file.name} has no card of {mark}, which it says it shows." for mark in shown if mark not in own]
        out += [f"{file.name} has a card of {mark}, and does not say so." for mark in own if mark not in shown]
        cards += own
        rows += Counter(row for d in shown.values() for row in d.rows)
        unset |= {u.row for u in identity.unset}
    out += [f"{mark} has {n} cards on the proof." for mark, n in cards.items() if n != 1]
    asked = {p.recipient.row for p in _list_going(outcome) if revision.asks_for(p.fingerprint)}
    out += _describe_rows("has no card on the proof", asked - set(rows))
    out += _describe_rows("has a card on the proof that it should not have", set(rows) - asked)
    out += _describe_rows("stands on several cards of the proof", (row for row, n in rows.items() if n > 1))
    stopped = {p.recipient.row for p in outcome.plaques if p.state == "stopped"}
    out += _describe_rows("is stopped, and the proof does not say so", stopped - unset)
    return out + _describe_rows("is not stopped, and the proof says so", unset - stopped)


def _read_proof(file: Path) -> tuple[Counter[str], ProofIdentity | None]:
    """Count the cards of each fingerprint on the pages, and read the proof's identity."""
    import pikepdf  # only a run that wrote a proof needs it

    cards, said = Counter[str](), ""
    try:
        with pikepdf.open(file) as pdf:
            for page in pdf.pages:
                for widget in page.obj.get("/Annots", ()):
                    name = str(widget.get("/T", ""))
                    if found := _CARD.fullmatch(name):
                        cards[found[1]] += 1
                    elif name == FIELD:
                        said = str(widget.get("/V", ""))
        return cards, ProofIdentity.from_json(said.encode())
    except (OSError, ValueError, pikepdf.PdfError):
        return cards, None


def check_sheet_lines(outcome: Outcome, revision: Revision, target: Path) -> list[str]:
    """Check the rows of the check sheet: row, state and fingerprint of each plaque."""
    from python_calamine import CalamineError, CalamineWorkbook

    file = target / CHECK
    try:
        with CalamineWorkbook.from_path(file) as book:
            heads, *lines = book.get_sheet_by_index(0).to_python()
    except (OSError, CalamineError, ValueError) as error:
        return [f"{file.name} cannot be read: {error}"]
    texts, column = check_sheet.find_columns([str(head) for head in heads], outcome.language)
    wanted = (check_sheet.ROW, check_sheet.STATE, check_sheet.FINGERPRINT)
    if lacking := [f"“{texts.render_text(key)}”" for key in wanted if key not in column]:
        return [f"{file.name} has no column {', '.join(lacking)}."]
    row, state, mark = (column[key] for key in wanted)
    read = [(parse_row(str(line[row]).removesuffix(".0")) or 0, str(line[state]), str(line[mark])) for line in lines]
    faulty = {row for row, _ in outcome.faults}
    due = [
        (
            p.recipient.row,
            texts.render_text(check_sheet.STATES["fault" if p.recipient.row in faulty else p.state]),
            p.fingerprint,
        )
        for p in outcome.plaques
    ]
    return _compare_rows(file, read, due)


def check_report_lines(outcome: Outcome, revision: Revision, target: Path) -> list[str]:
    """Check the plaques of the report in the same way."""
    file = target / REPORT
    try:
        plaques: list[Mapping[str, Any]] = json.loads(file.read_bytes())["plaques"]
        read = [(unpack_row(p["row"]), p["state"], p["fingerprint"] or "") for p in plaques]
    except (OSError, ValueError, KeyError, TypeError) as error:
        return [f"{file.name} cannot be read: {error}"]
    return _compare_rows(file, read, [(p.recipient.row, p.state, p.fingerprint) for p in outcome.plaques])


def _list_going(outcome: Outcome) -> list[Plaque]:
    """The plaques that may be cut."""
    return [p for p in outcome.plaques if p.state != "stopped"]


def _compare_rows(file: Path, read: list[tuple[ListRow, str, str]], due: list[tuple[ListRow, str, str]]) -> list[str]:
    lines, plaques = Counter(read), Counter(due)
    out = _describe_rows(f"has no line in {file.name}, or another one", {row for row, *_ in plaques - lines})
    return out + _describe_rows(f"has a line in {file.name} too much", {row for row, *_ in lines - plaques})


def _describe_rows(what: str, rows: Iterable[ListRow]) -> list[str]:
    """One sentence for all rows of one fault."""
    found = sorted(set(rows))
    if not found:
        return []
    named = ", ".join(map(str, found[:MOST])) + (f", +{len(found) - MOST} more" if len(found) > MOST else "")
    return [f"{'Row' if len(found) == 1 else 'Rows'} {named}: {what}."]


def _hash_file(file: Path) -> str | None:
    try:
        return hashlib.sha256(file.read_bytes()).hexdigest()
    except OSError:
        return None
