"""Reading a proof that came back: which order and revision it is of, what was ticked and written, what is unclear.

Nothing is guessed. A paper that is not a sound proof of this order and revision gives a fatal problem and no answers;
a plaque about which it contradicts itself is `unclear`.
"""

from __future__ import annotations

import contextlib
import hashlib
from collections import Counter
from pathlib import Path
from typing import Any

from pipeline.core.errors import CannotRun, Fault
from pipeline.outputs.paper.identity import FIELD, SUBJECT, Design, Identity
from pipeline.signoff.answers import Answer, Decision, PaperDecision, Problem, Reply, ReturnedPaper
from pipeline.signoff.returned_form import BY_HAND, Box, FormRead, attached, form_of, open_proof

PER_DESIGN = ("correct", "leave", "change")
LAST_PAGE = ("all_correct", "decision", "remarks", "name", "date")
DECIDING = ("all_correct", "decision")
"""Of these, what a proof leaves out that has nothing to agree to: every plaque of it is stopped."""
DECISIONS: dict[str, PaperDecision] = {
    "agreed-as-shown": "agreed-as-shown",
    "agreed-with-changes": "agreed-with-changes",
    "new-proof": "new-proof",
}


def read_returned_proof(path: Path, *, order_id: str, revision: str) -> ReturnedPaper:
    """A returned proof PDF as plain data. `order_id`: see core.codes; `revision`: the one last sent.

    A paper that cannot be used has a fatal problem and no answers. CannotRun when the file cannot be read at all.
    """
    try:
        data = path.read_bytes()
    except OSError as error:
        raise CannotRun(Fault(where=str(path), found=f"cannot be read ({error.strerror or error})")) from error
    return read_proof_bytes(data, path.name, order_id=order_id, revision=revision)


def read_proof_bytes(data: bytes, file: str, *, order_id: str, revision: str) -> ReturnedPaper:
    """As `read_returned_proof`, from memory."""
    sha256 = hashlib.sha256(data).hexdigest()

    def refused(problem: Problem, told: Identity | None = None) -> ReturnedPaper:
        if told is None:
            return ReturnedPaper(kind="proof", file=file, sha256=sha256, problems=(problem,))
        return ReturnedPaper(
            kind="proof",
            file=file,
            sha256=sha256,
            order_id=told.order_id,
            order_sha256=told.order_sha256,
            title=told.title,
            client=told.client,
            revision=told.revision,
            problems=(problem,),
        )

    opened = open_proof(data, file)
    if isinstance(opened, Problem):
        return refused(opened)
    with opened as pdf:
        form = form_of(pdf)
        told, subject = _identity(pdf, form), str(pdf.docinfo.get("/Subject", ""))
    if told is None:
        return refused(_unknown(file, subject))
    if told.order_id != order_id:
        whose = f"“{told.title}”" + (f" for {told.client}" if told.client else "")
        return refused(
            Problem(
                code="other-order",
                found=f"{file} is a proof of another order: {whose}, order {told.order_id}; this one is {order_id}",
                remedy="sign it with the order it belongs to",
                fatal=True,
            ),
            told,
        )
    if told.revision != revision:
        return refused(
            Problem(
                code="older-revision",
                found=f"{file} is proof {told.revision}; the one last sent is proof {revision}",
                remedy=f"ask for proof {revision}, or record by hand what still holds",
                fatal=True,
            ),
            told,
        )
    broken = _incomplete(file, told, form)
    if broken is not None:
        return refused(broken, told)
    return _understood(file, sha256, told, form)


def _identity(pdf: Any, form: FormRead) -> Identity | None:
    """From the attachment, or from the hidden field. Two that differ are taken for none."""
    found: list[Identity] = []
    with contextlib.suppress(ValueError):
        if carried := attached(pdf):
            found.append(Identity.from_json(carried))
    hidden = form.boxes.get(FIELD)
    if hidden is not None and isinstance(hidden.value, str):
        with contextlib.suppress(ValueError):
            found.append(Identity.from_json(hidden.value.encode()))
    return found[0] if found and all(f == found[0] for f in found) else None


# --- papers that cannot be used ------------------------------------------------------------------------------------


def _unknown(file: str, subject: str) -> Problem:
    if subject.startswith(SUBJECT):
        return Problem(
            code="flattened",
            found=f"{file} is a proof ({subject.removeprefix(SUBJECT).strip()}), but its fields are gone: "
            "it was flattened, or printed to a new file",
            remedy=f"ask for the file as it was filled in, or {BY_HAND}",
            fatal=True,
        )
    return Problem(
        code="not-a-proof",
        found=f"{file} holds nothing that says which proof it is: it is another paper, or a proof that was scanned, "
        "printed to a new file or flattened",
        remedy=f"ask for the file as it was filled in, or {BY_HAND}",
        fatal=True,
    )


def _incomplete(file: str, told: Identity, form: FormRead) -> Problem | None:
    """Fields that ought to be there and are not, or are there twice."""
    expected = {f"{kind}_{d.fingerprint}" for d in told.designs for kind in PER_DESIGN}
    missing = [n for n in LAST_PAGE if n not in form.boxes and (told.designs or n not in DECIDING)]
    if not (expected | set(LAST_PAGE)) & form.boxes.keys():
        return Problem(
            code="flattened",
            found=f"{file} is proof {told.revision} of this order, but its fields are gone: it was flattened",
            remedy=f"ask for the file as it was filled in, or {BY_HAND}",
            fatal=True,
        )
    if form.doubled or missing:
        what = f"fields are doubled ({form.doubled[0]}, …)" if form.doubled else "the page with the decision is missing"
        return Problem(
            code="altered",
            found=f"{file} is not as it was sent: {what}",
            remedy=f"ask for the whole file as it was filled in, or {BY_HAND}",
            fatal=True,
        )
    return None


# --- what it says --------------------------------------------------------------------------------------------------


def _understood(file: str, sha256: str, told: Identity, form: FormRead) -> ReturnedPaper:
    problems: list[Problem] = []
    boxes = form.boxes
    chosen, ticked = (boxes.get(name, Box(value="")) for name in ("decision", "all_correct"))
    decision: PaperDecision = DECISIONS.get(str(chosen.value), "")
    everything = ticked.value != ""
    if chosen.torn or ticked.torn:
        decision, everything = "unclear", False
        problems.append(_contradiction("on the last page, what is shown and what is stored differ"))
    elif everything and decision == "new-proof":
        decision = "unclear"
        problems.append(_contradiction("the last page says both “all correct” and “please send a new proof”"))
    blanket = everything or decision in ("agreed-as-shown", "agreed-with-changes")

    answers = []
    for design in told.designs:
        verdict, why = _verdict(design, form, decision, blanket)
        if why and verdict == "unclear":
            problems.append(_contradiction(why, design))
        answers.append(
            Answer(
                fingerprint=design.fingerprint,
                decision=verdict,
                change_to=_text(boxes, f"change_{design.fingerprint}"),
                reply=_text(boxes, f"answer_{design.fingerprint}"),
                rows=design.rows,
                cells=design.cells,
                pieces=design.pieces,
                text=design.text,
                why=why,
            )
        )
    replies = tuple(
        Reply(row=u.row, cell=u.cell, text=u.text, reply=said)
        for u in told.unset
        if (said := _text(boxes, f"choice_row{u.row}"))
    )
    for page, notes in sorted(form.notes.items()):
        shown = "; ".join(notes[:3]) + (f" (+{len(notes) - 3} more)" if len(notes) > 3 else "")
        problems.append(
            Problem(
                code="notes-added",
                found=f"page {page} carries notes or drawings besides the fields: {shown}",
                remedy="read them; plaques on that page count as agreed only when you record them by hand",
            )
        )
    remarks, by = _text(boxes, "remarks"), _text(boxes, "name")
    said_anything = any(a.decision != "unanswered" for a in answers) or replies or remarks or decision or form.notes
    if not said_anything:
        problems.insert(
            0,
            Problem(
                code="empty",
                found=f"{file} came back with nothing filled in",
                remedy="some viewers show what was typed without saving it: ask the client to save and send again",
                fatal=True,
            ),
        )
    elif not by:
        problems.append(Problem(code="no-name", found="no name is filled in", remedy="say who signed with --by"))
    if said_anything and not blanket and decision == "":
        open_ones = sum(a.decision == "unanswered" for a in answers)
        if open_ones:
            problems.append(
                Problem(
                    code="no-decision",
                    found=f"no decision is made on the last page, and {open_ones} plaques have no mark of their own",
                    remedy="those stay open; ask about them",
                )
            )
    fatal = any(p.fatal for p in problems)
    return ReturnedPaper(
        kind="proof",
        file=file,
        sha256=sha256,
        order_id=told.order_id,
        order_sha256=told.order_sha256,
        title=told.title,
        client=told.client,
        revision=told.revision,
        by=by,
        date=_text(boxes, "date"),
        decision=decision,
        remarks=remarks,
        answers=() if fatal else tuple(answers),
        replies=() if fatal else replies,
        problems=tuple(problems),
    )


def _text(boxes: dict[str, Box], name: str) -> str:
    box = boxes.get(name)
    return box.value if box is not None and isinstance(box.value, str) else ""


def _contradiction(found: str, design: Design | None = None) -> Problem:
    if design is None:
        return Problem(code="contradiction", found=found, remedy="ask the client which is meant")
    name = design.text[0] if design.text else design.fingerprint
    return Problem(
        code="contradiction",
        found=f"“{name}” ({design.fingerprint}): {found}",
        remedy="nothing is recorded for it; ask the client what is meant",
        fingerprint=design.fingerprint,
    )


def _verdict(design: Design, form: FormRead, decision: PaperDecision, blanket: bool) -> tuple[Decision, str]:
    """What the paper says about one design, and why when it is unclear. `blanket`: the last page agrees to the rest."""
    own = [form.boxes.get(f"{kind}_{design.fingerprint}") for kind in PER_DESIGN]
    if any(box is None for box in own):
        return "unclear", "its page or its fields are missing"
    tick, leave, change = (box for box in own if box is not None)
    if tick.torn or leave.torn:
        return "unclear", "what its boxes show and what they store differ"
    reply = _text(form.boxes, f"answer_{design.fingerprint}")
    wanted = str(change.value)
    marks = Counter(
        {"ticked as correct": bool(tick.value), "to be left out": bool(leave.value), "changed": bool(wanted)}
    )
    said = [what for what, is_said in marks.items() if is_said]
    if len(said) > 1:
        return "unclear", "it is " + " and ".join(said)
    if tick.page in form.notes and not (wanted or leave.value):
        return "unclear", f"a note or drawing was added on its page, page {tick.page}"
    if leave.value or wanted:
        if decision == "agreed-as-shown":
            return "unclear", f"it is {said[0]}, but the last page says “agreed as shown”"
        if leave.value:
            return "refused", ""
        if wanted in (*design.text, "\n".join(design.text)):
            return "unclear", "the change asked for is what it already says"
        return "change", ""
    if tick.value:
        return "agreed", ""
    if reply:
        return "unclear", "the question is answered, but it is neither ticked nor changed"
    if not blanket:
        return "unanswered", ""
    if decision == "unclear":
        return "unclear", "it has no mark of its own, and the last page contradicts itself"
    if design.asked:
        return "unclear", "the question beside it is not answered"
    return "agreed", ""
